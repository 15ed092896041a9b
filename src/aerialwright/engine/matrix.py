"""The Galerkin system of one geometry: static parts once, the rest per frequency.

Z_ab = j w mu << f_a f_b G_V >> + 1/(j w eps) << f_a' f_b' G_S >> + loss
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve
from scipy.linalg.lapack import zgecon

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eps0 as VACUUM_PERMITTIVITY
from aerialwright.base.constants import mu0 as VACUUM_PERMEABILITY
from aerialwright.base.errors import StructureError
from aerialwright.engine import feed as feeds
from aerialwright.engine.geometry import RING, Geometry
from aerialwright.engine.kernel import fill, near_blocks, near_pairs
from aerialwright.engine.loss import mesh_impedance, rod_impedance, sheet_impedance
from aerialwright.engine.mesh import MAX_ORDER, Mesh, MeshSettings, build_mesh
from aerialwright.engine.quadrature import gauss01, graded_to_both, graded_to_start, turn_rules
from aerialwright.structure.model import Load, Metal
from aerialwright.structure.model import Mesh as WireMesh

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
WIDTH = MAX_ORDER + 1


@dataclass
class Solved:
    """One frequency: coefficients (unknowns,) for one volt, ``admittance`` [S] of the total feed current, its
    low-order estimate, and the reciprocal condition number of the matrix."""

    frequency: float
    coefficients: ComplexArray
    admittance: complex
    condition: float


def _sandwich(tested: FloatArray, kernel: ComplexArray) -> ComplexArray:
    """``tested.T @ kernel @ tested`` for real (n, u) and complex (n, n), as two products of reals: half the arithmetic."""
    rows = tested.shape[0]
    left = (tested.T @ kernel.view(np.float64).reshape(rows, -1)).view(np.complex128)
    turned = np.ascontiguousarray(left.T)
    return np.asarray((tested.T @ turned.view(np.float64).reshape(rows, -1)).view(np.complex128).T)


@dataclass(frozen=True)
class _Loss:
    """What metal elements share: round or flat, the metal, radius or thickness [m], mesh."""

    round: bool
    metal: Metal | None
    size: float
    mesh: WireMesh | None


class System:
    """Everything of a geometry that does not change with frequency.

    Parameters
    ----------
    geometry : Geometry
    top_frequency : float
        Highest frequency [Hz] the mesh must serve.
    settings : MeshSettings
    """

    def __init__(self, geometry: Geometry, *, top_frequency: float, settings: MeshSettings) -> None:
        self.geometry = geometry
        self.mesh: Mesh = build_mesh(geometry, top_frequency=top_frequency, settings=settings)
        mesh = self.mesh
        if mesh.unknowns > 6000:
            raise StructureError(
                f"{mesh.unknowns} unknowns are too many",
                where="mesh",
                mend="use fewer pieces or a lower highest frequency",
            )
        n = len(mesh.kind)
        self.tangent = (mesh.end - mesh.start) / mesh.length[:, None]
        points, elements, fractions, weights = [], [], [], []
        for e in range(n):
            x, w = gauss01(int(mesh.order[e]) + settings.points)
            points.append(mesh.start[e] + np.outer(x, mesh.end[e] - mesh.start[e]))
            elements.append(np.full(len(x), e))
            fractions.append(x)
            weights.append(w * mesh.length[e])
        self.point = np.concatenate(points)
        self.element = np.concatenate(elements)
        self.fraction = np.concatenate(fractions)
        self.weight = np.concatenate(weights)
        self.value = self._at(self.element, self.fraction, mesh.basis)
        self.value_slope = self._at(self.element, self.fraction, mesh.slope)
        self.tested = self.value * self.weight[:, None]
        self.tested_slope = self.value_slope * self.weight[:, None]
        angles = 2 * np.pi * np.arange(geometry.order) / geometry.order
        self.turns = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        self.rules = turn_rules()
        self._static()
        self._excitation_points()
        self._losses()
        self._load_points()

    @staticmethod
    def _at(element: NDArray[np.int64], fraction: FloatArray, coefficients: FloatArray) -> FloatArray:
        """Values (points, unknowns) of basis functions at fractions 0..1 of elements."""
        polynomials = legendre.legvander(2 * fraction - 1, MAX_ORDER)
        table = coefficients.reshape(-1, WIDTH, coefficients.shape[1])
        out = np.empty((len(element), coefficients.shape[1]))
        for e in np.unique(element):
            rows = element == e
            out[rows] = polynomials[rows] @ table[e]
        return out

    def _static(self) -> None:
        mesh, geometry = self.mesh, self.geometry
        near = near_pairs(
            mesh.kind, mesh.start, mesh.end, mesh.length, mesh.radius, geometry.order, self.turns, geometry.ground, 0.6
        )
        n = len(self.point)
        gv = np.zeros((n, n), dtype=np.complex128)
        gs = np.zeros((n, n), dtype=np.complex128)
        fill(
            0.0, True, mesh.kind, self.point, self.tangent, mesh.radius, mesh.section, self.element, near,
            geometry.order, geometry.mode, geometry.ground, self.turns, *self.rules, gv, gs,
        )  # fmt: skip
        rows, columns = np.nonzero(near)
        if geometry.mode == 0:
            keep = rows >= columns
            rows, columns = rows[keep], columns[keep]
        pairs = np.stack([rows, columns], axis=1)
        degree = int(mesh.order.max())
        block_v = np.zeros((len(pairs), degree + 1, degree + 1), dtype=np.complex128)
        block_s = np.zeros_like(block_v)
        outer, inner = mesh.settings.near_rule
        outer_x, outer_w = graded_to_both(outer, 3)
        inner_x, inner_w = graded_to_start(inner, 4)
        near_blocks(
            pairs, mesh.kind, mesh.start, mesh.end, self.tangent, mesh.length, mesh.radius, mesh.section,
            geometry.order, geometry.mode, geometry.ground, self.turns, *self.rules,
            outer_x, outer_w, inner_x, inner_w, degree, block_v, block_s,
        )  # fmt: skip
        elements = len(mesh.kind)
        d = degree + 1
        # Mode 0 has a real static kernel: half the work.
        kept = block_v.dtype if geometry.mode else np.dtype(np.float64)
        moment_v = np.zeros((elements, d, elements, d), dtype=kept)
        moment_s = np.zeros_like(moment_v)
        rows, columns = pairs[:, 0], pairs[:, 1]
        if geometry.mode == 0:
            moment_v[columns, :, rows, :] = block_v.real.transpose(0, 2, 1)
            moment_s[columns, :, rows, :] = block_s.real.transpose(0, 2, 1)
        moment_v[rows, :, columns, :] = block_v if geometry.mode else block_v.real
        moment_s[rows, :, columns, :] = block_s if geometry.mode else block_s.real
        basis = mesh.basis.reshape(elements, WIDTH, -1)[:, :d].reshape(elements * d, -1)
        slope = mesh.slope.reshape(elements, WIDTH, -1)[:, :d].reshape(elements * d, -1)
        size = elements * d
        near_v = basis.T @ moment_v.reshape(size, size) @ basis
        near_s = slope.T @ moment_s.reshape(size, size) @ slope
        self.static_v = _sandwich(self.tested, gv) + near_v
        self.static_s = _sandwich(self.tested_slope, gs) + near_s
        self.static_s = self.static_s + self._coatings()
        if geometry.mode == 0:
            self.static_v = 0.5 * (self.static_v + self.static_v.T)
            self.static_s = 0.5 * (self.static_s + self.static_s.T)

    def _coatings(self) -> ComplexArray:
        """Plastic round rods, as a change of the potential on the metal: part of the charge's field crosses plastic.

        ``-(1 - 1/eps) ln(b2/b1) / (2 pi) int f_a' f_b' ds``: quasi-static, for a layer thin against the wavelength
        [@richmond-newman-1976].
        """
        total = np.zeros((self.mesh.unknowns, self.mesh.unknowns), dtype=np.complex128)
        for e in range(len(self.mesh.kind)):
            line = self.geometry.lines[self.mesh.line[e]]
            if line.coating is None:
                continue
            shell = line.coating
            inverse = 1.0 / (shell.permittivity * complex(1.0, -shell.loss_tangent))
            copies = 1 if line.kind == RING else self.geometry.order
            factor = -(1.0 - inverse) * math.log(shell.outer_radius / shell.inner_radius) / (2 * math.pi * copies)
            rows = self.element == e
            slope = self.value_slope[rows]
            total += factor * ((slope * self.weight[rows][:, None]).T @ slope)
        return total

    def _load_points(self) -> None:
        """Current at each lumped load as a row (unknowns,), for each load of the structure."""
        self.load_rows: list[tuple[Load, float, FloatArray]] = []
        mesh = self.mesh
        for index, line in enumerate(self.geometry.lines):
            for distance, load in line.loads:
                before = 0.0
                for e in np.flatnonzero(mesh.line == index):
                    if distance <= before + mesh.length[e] * (1 + 1e-9):
                        fraction = np.array([min(1.0, (distance - before) / mesh.length[e])])
                        row = self._at(np.array([e]), fraction, mesh.basis)[0]
                        copies = 1.0 if line.kind == RING else float(self.geometry.order)
                        self.load_rows.append((load, copies, row))
                        break
                    before += float(mesh.length[e])

    def _excitation_points(self) -> None:
        mesh, aperture = self.mesh, self.geometry.aperture
        centre = np.asarray(aperture.origin, dtype=float)
        if aperture.annulus:
            reach = aperture.radius_outer
        else:
            centre = centre + np.asarray(aperture.axis) * 0.5 * (aperture.low + aperture.high)
            reach = aperture.radius_outer + 0.5 * (aperture.high - aperture.low)
        x, w = graded_to_both(7, 3)
        elements, fractions, weights = [], [], []
        for e in range(len(mesh.kind)):
            a, b = mesh.start[e], mesh.end[e]
            if aperture.section < 0 and mesh.kind[e] != RING:
                distance = min(math.hypot(math.hypot(p[0], p[1]), p[2] - centre[2]) for p in (a, b, 0.5 * (a + b)))
            else:
                distance = min(float(np.linalg.norm(p - centre)) for p in (a, b, 0.5 * (a + b)))
            near = distance < 2.0 * (reach + mesh.length[e])
            rule_x, rule_w = (x, w) if near else gauss01(int(mesh.order[e]) + 2)
            elements.append(np.full(len(rule_x), e))
            fractions.append(rule_x)
            weights.append(rule_w * mesh.length[e])
        element = np.concatenate(elements)
        fraction = np.concatenate(fractions)
        weight = np.concatenate(weights)
        point = mesh.start[element] + fraction[:, None] * (mesh.end - mesh.start)[element]
        tangent = self.tangent[element]
        ring = mesh.kind[element] == RING
        own = (mesh.section[element] == aperture.section) & ~ring
        self.frames = feeds.local_points(
            aperture, point, tangent, ring, own, self.geometry.order, self.geometry.mode, self.geometry.ground
        )
        self.excitation_tested = self._at(element, fraction, mesh.basis) * weight[:, None]
        self.excitation_count = len(element)
        self.static_field = feeds.excitation(0.0, True, aperture, self.frames, self.excitation_count)
        # Weights of the current across the gap: w_a = int f_a e ds, along the sense of the feed.
        self.gap = np.zeros(mesh.unknowns)
        for e in range(len(mesh.kind)):
            line = self.geometry.lines[mesh.line[e]]
            if not line.aperture:
                continue
            q, qw = gauss01(12)
            e_of_s = feeds.weight_of_gap(aperture, q, mesh.start[e][0], mesh.end[e][0], mesh.length[e])
            # Lines of the gap run from negative to positive by construction for rings; along the rod for rods.
            values = self._at(np.full(len(q), e), q, mesh.basis)
            self.gap += (qw * mesh.length[e] * e_of_s) @ values
        if not aperture.on_ground and not np.any(self.gap):
            raise StructureError(
                "no current can cross the feed gap", where="feed", mend="join metal to both sides of the gap"
            )

    def _losses(self) -> None:
        """Group elements by their metal: (metal key, matrix of int f f / (2 pi rho) or 1/N)."""
        groups: dict[_Loss, FloatArray] = {}
        mesh = self.mesh
        for e in range(len(mesh.kind)):
            line = self.geometry.lines[mesh.line[e]]
            if line.aperture or (line.metal is None and line.mesh is None):
                continue
            rows = self.element == e
            value = self.value[rows]
            if line.kind == RING:
                rho = np.maximum(self.point[rows, 0], 1e-9)
                weight = self.weight[rows] / (2 * np.pi * rho)
                key = _Loss(False, line.metal, line.thickness, line.mesh)
            else:
                weight = self.weight[rows] / self.geometry.order
                key = _Loss(True, line.metal, line.radius, None)
            part = (value * weight[:, None]).T @ value
            groups[key] = groups[key] + part if key in groups else part
        self.loss_groups: list[tuple[_Loss, FloatArray]] = list(groups.items())

    def loss_matrix(self, frequency: float) -> ComplexArray:
        """Loss term (unknowns, unknowns) [ohm]."""
        total = np.zeros((self.mesh.unknowns, self.mesh.unknowns), dtype=np.complex128)
        for loss, matrix in self.loss_groups:
            z = 0.0j
            if loss.mesh is not None:
                wavelength = SPEED_OF_LIGHT / frequency
                if loss.mesh.pitch > 0.1 * wavelength:
                    raise StructureError(
                        f"mesh pitch {loss.mesh.pitch * 1e3:.4g} mm is more than a tenth of a wavelength "
                        f"at {frequency / 1e6:.4g} MHz",
                        where="mesh pitch",
                        mend=f"use a pitch below {100 * wavelength:.3g} mm or write the mesh as rods",
                    )
                z = mesh_impedance(loss.metal, loss.mesh, frequency=frequency)
            elif loss.metal is not None and loss.round:
                z = rod_impedance(loss.metal, radius=loss.size, frequency=frequency)
            elif loss.metal is not None:
                z = sheet_impedance(loss.metal, thickness=loss.size, frequency=frequency)
            total += z * matrix
        for load, copies, row in self.load_rows:
            total += load.impedance(frequency) / copies * np.outer(row, row)
        return total

    def matrix(self, frequency: float) -> ComplexArray:
        """Galerkin matrix (unknowns, unknowns) [ohm] without losses."""
        mesh, geometry = self.mesh, self.geometry
        omega = 2 * math.pi * frequency
        k = omega / SPEED_OF_LIGHT
        n = len(self.point)
        gv = np.empty((n, n), dtype=np.complex128)
        gs = np.empty((n, n), dtype=np.complex128)
        none = np.zeros((1, 1), dtype=np.bool_)
        fill(
            k, False, mesh.kind, self.point, self.tangent, mesh.radius, mesh.section, self.element, none,
            geometry.order, geometry.mode, geometry.ground, self.turns, *self.rules, gv, gs,
        )  # fmt: skip
        v = self.static_v + _sandwich(self.tested, gv)
        s = self.static_s + _sandwich(self.tested_slope, gs)
        return np.asarray(1j * omega * VACUUM_PERMEABILITY * v + s / (1j * omega * VACUUM_PERMITTIVITY))

    def excitation(self, frequency: float) -> ComplexArray:
        """Right-hand side (unknowns,) for one volt across the gap."""
        k = 2 * math.pi * frequency / SPEED_OF_LIGHT
        field = self.static_field + feeds.excitation(
            k, False, self.geometry.aperture, self.frames, self.excitation_count
        )
        return np.asarray(0.5 * self.gap + self.excitation_tested.T @ field)

    def solve(self, frequency: float) -> Solved:
        """Currents and admittance at one frequency [Hz].

        Raises
        ------
        StructureError
            If the matrix is singular or the frequency is above the mesh's.
        """
        if frequency > 1.02 * self.mesh.top_frequency:
            raise StructureError(
                f"the mesh was cut for {self.mesh.top_frequency / 1e6:.4g} MHz and is too coarse for {frequency / 1e6:.4g} MHz",
                where="mesh",
                mend="raise the highest frequency of the sweep",
            )
        matrix = self.matrix(frequency) + self.loss_matrix(frequency)
        if not np.all(np.isfinite(matrix)):
            raise StructureError(
                "two pieces of metal touch where they should not", where="structure", mend="check for pieces that cross"
            )
        norm = float(np.abs(matrix).sum(axis=0).max())
        factor = lu_factor(matrix, check_finite=False)
        rcond, _ = zgecon(factor[0], norm)
        rhs = self.excitation(frequency)
        coefficients = lu_solve(factor, rhs, check_finite=False)
        admittance = self.admittance(frequency, coefficients, rhs)
        return Solved(frequency, coefficients, admittance, 1.0 / max(float(rcond), 1e-300))

    def admittance(self, frequency: float, coefficients: ComplexArray, rhs: ComplexArray) -> complex:
        """Total feed current [A] for one volt."""
        aperture = self.geometry.aperture
        if aperture.on_ground:
            omega = 2 * math.pi * frequency
            own = feeds.ground_gap_admittance_kernel(omega / SPEED_OF_LIGHT, aperture)
            return complex(rhs @ coefficients) + 1j * omega * VACUUM_PERMITTIVITY * own
        return complex(self.gap @ coefficients)

    @property
    def port_factor(self) -> float:
        """Impedance seen at one port over that of the total current: N ports fed alike, or 2N for opposite arms in mode 1."""
        if self.geometry.aperture.section < 0:
            return 1.0
        factor = float(self.geometry.order)
        if self.geometry.mode == 1 and math.hypot(*self.geometry.aperture.origin[:2]) < 1e-6:
            factor *= 2.0
        return factor
