"""The Galerkin system of one geometry: static parts once, the rest per frequency.

Z_ab = j w mu << f_a f_b G_V >> + 1/(j w eps) << f_a' f_b' G_S >> + loss
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array, diags_array

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eps0 as VACUUM_PERMITTIVITY
from aerialwright.base.constants import mu0 as VACUUM_PERMEABILITY
from aerialwright.base.errors import StructureError
from aerialwright.engine import feed as feeds
from aerialwright.engine.assembly import WIDTH, assemble, colours, complete, shapes, tables
from aerialwright.engine.coating import Plastic, plastic
from aerialwright.engine.earth_coupling import Earth, earth, places
from aerialwright.engine.factor import factor_and_solve, one_norm
from aerialwright.engine.geometry import RING, Geometry
from aerialwright.engine.kernel import pair_codes
from aerialwright.engine.loss import mesh_elastance, mesh_impedance, rod_impedance, sheet_impedance, tube_impedance
from aerialwright.engine.mesh import Mesh, MeshSettings, build_mesh
from aerialwright.engine.quadrature import gauss01, graded_to_both, turn_rules
from aerialwright.structure.model import JOIN_TOLERANCE, Load, Metal
from aerialwright.structure.model import Mesh as WireMesh

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass
class Solved:
    """One frequency: coefficients (unknowns,) for one volt, ``admittance`` [S] of the total feed current, and the
    condition number of the matrix."""

    frequency: float
    coefficients: ComplexArray
    admittance: complex
    condition: float


@dataclass(frozen=True)
class Equations:
    """The system at one ``frequency`` [Hz]: ``matrix`` (unknowns, unknowns) [ohm] and ``right`` (unknowns,) side."""

    frequency: float
    matrix: ComplexArray
    right: ComplexArray


#: Values of every unknown at points: full for small systems, sparse for large ones.
Table: TypeAlias = FloatArray | csr_array
#: Below this reciprocal condition number half of the digits are gone.
LOWEST_RCOND = 1e-11
#: A rod thicker than this part of a wavelength (radius) carries current round it that the model leaves out.
FATTEST_ROD = 0.06
#: Systems up to this many unknowns keep their static matrix for the next frequency; larger ones make it anew.
STORE_STATIC = 700


@dataclass(frozen=True)
class _Loss:
    """What metal elements share: a rod, a tube about the axis (both with ``radius`` [m]) or flat (0), metal, thickness [m], mesh."""

    rod: bool
    radius: float
    metal: Metal | None
    thickness: float
    mesh: WireMesh | None

    def impedance(self, frequency: float) -> complex:
        """Ohm per metre of a rod; of sheets and tubes ohm per square."""
        if self.mesh is not None:
            return mesh_impedance(self.metal, self.mesh, frequency=frequency)
        if self.metal is None:
            return 0.0j
        if self.rod:
            return rod_impedance(self.metal, radius=self.radius, frequency=frequency)
        if self.radius > 0.0:
            along = tube_impedance(self.metal, radius=self.radius, wall=self.thickness, frequency=frequency)
            return 2.0 * math.pi * self.radius * along
        return sheet_impedance(self.metal, thickness=self.thickness, frequency=frequency)


class System:
    """Everything of a geometry that does not change with frequency.

    Parameters
    ----------
    geometry : Geometry
    top_frequency : float
        Highest frequency [Hz] the mesh must serve.
    settings : MeshSettings
    like : Mesh, optional
        Mesh whose cuts are kept, for differences.
    """

    def __init__(
        self, geometry: Geometry, *, top_frequency: float, settings: MeshSettings, like: Mesh | None = None
    ) -> None:
        self.geometry = geometry
        self.mesh: Mesh = build_mesh(geometry, top_frequency=top_frequency, settings=settings, like=like)
        mesh = self.mesh
        wavelength = SPEED_OF_LIGHT / top_frequency
        for line in geometry.lines:
            if line.kind != RING and line.radius > FATTEST_ROD * wavelength:
                raise StructureError(
                    f"radius {line.radius * 1e3:.4g} mm is more than {FATTEST_ROD:g} of a wavelength at {top_frequency / 1e6:.4g} MHz",
                    where=line.name,
                    mend="use a thinner rod or a lower highest frequency",
                )
        if mesh.unknowns > 5000:
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
        self.value, self.value_slope = self._at(self.element, self.fraction)
        angles = 2 * np.pi * np.arange(geometry.order) / geometry.order
        self.turns = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        self.rules = turn_rules()
        self._static()
        self._excitation_points()
        self._losses()
        self._load_points()

    def _at(self, element: NDArray[np.int64], fraction: FloatArray) -> tuple[Table, Table]:
        """Current and its slope d/ds of every unknown (points, unknowns) at fractions 0..1 of elements; sparse if large."""
        mesh = self.mesh
        value, slope = shapes(fraction)
        slope = slope / mesh.length[element][:, None]
        small = mesh.unknowns <= STORE_STATIC
        shape = (len(element), mesh.unknowns)
        full = np.zeros((2, *shape)) if small else np.zeros((2, 0, 0))
        parts: list[tuple[NDArray[np.int64], NDArray[np.int64], FloatArray, FloatArray]] = []
        for local in range(WIDTH):
            index = element * WIDTH + local
            low, high = mesh.first[index], mesh.first[index + 1]
            for step in range(int((high - low).max(initial=0))):
                has = np.flatnonzero(low + step < high)
                at = low[has] + step
                column, sign = mesh.unknown[at], mesh.sign[at]
                if small:
                    # A full table costs less than the bookkeeping of a sparse one.
                    full[0, has, column] += value[has, local] * sign
                    full[1, has, column] += slope[has, local] * sign
                else:
                    parts.append((has, column, value[has, local] * sign, slope[has, local] * sign))
        if small:
            return full[0], full[1]
        rows, columns, values, slopes = (np.concatenate([part[i] for part in parts]) for i in range(4))
        return csr_array((values, (rows, columns)), shape=shape), csr_array((slopes, (rows, columns)), shape=shape)

    def _assemble(self, out_v: ComplexArray, out_s: ComplexArray, *, cv: float, cs: float, part: int, k: float) -> None:
        """Add one part of the Galerkin matrix over j; large systems use every core. Mode 0 leaves out the transpose."""
        mesh, geometry, t = self.mesh, self.geometry, self.tables
        arguments = (
            self.codes, mesh.kind, mesh.start, mesh.end, self.tangent, mesh.length, mesh.radius, mesh.order,
            mesh.first, mesh.unknown, mesh.sign, geometry.order, geometry.mode, geometry.ground, self.turns, *self.rules,
            t.gauss_x, t.gauss_w, t.count, t.polynomial, t.outer_x, t.outer_polynomial, t.inner_x, t.inner_w, t.shape,
            t.place, t.ranked, t.begin, t.source,
        )  # fmt: skip
        if not self.large:
            assemble(
                out_v,
                out_s,
                out_v is out_s,
                float(cv),
                float(cs),
                part,
                float(k),
                self.most_k,
                self.everything,
                *arguments,
            )
            return
        with ThreadPoolExecutor(self.cores) as pool:
            for group in self.colours:
                # Interleaved, because later rows are longer.
                jobs = [
                    pool.submit(
                        assemble,
                        out_v,
                        out_s,
                        out_v is out_s,
                        float(cv),
                        float(cs),
                        part,
                        float(k),
                        self.most_k,
                        group[start :: self.cores].copy(),
                        *arguments,
                    )
                    for start in range(self.cores)
                ]
                for job in jobs:
                    job.result()

    def _static(self) -> None:
        """What does not depend on frequency: the near pairs, and for small systems the whole static matrix."""
        mesh, geometry = self.mesh, self.geometry
        self.most_k = 2.0 * math.pi * mesh.top_frequency / SPEED_OF_LIGHT
        self.codes = pair_codes(
            mesh.kind, mesh.start, mesh.end, mesh.length, mesh.radius, geometry.order, geometry.mode, self.turns, geometry.ground,
            0.6, self.most_k,
        )  # fmt: skip
        self.tables = tables(mesh, self.tangent)
        self.everything = np.arange(len(mesh.kind), dtype=np.int64)
        self.large = mesh.unknowns > STORE_STATIC
        self.cores = max(1, len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)
        self.coatings: Plastic | None = plastic(mesh, geometry)
        self.earth: Earth | None = None
        if geometry.earth is not None:
            at = places(mesh)
            self.earth = earth(mesh, geometry, geometry.earth, self.turns, *at, *self._at(*at[:2]))
        if self.large:
            self.colours = [
                group[np.argsort(self.tables.place[group])]
                for group in colours(mesh.first, mesh.unknown, len(mesh.kind))
            ]
            return
        size = (mesh.unknowns, mesh.unknowns)
        static_v, static_s = np.zeros(size, dtype=np.complex128), np.zeros(size, dtype=np.complex128)
        self._assemble(static_v, static_s, cv=1.0, cs=1.0, part=0, k=0.0)
        self.static_v, self.static_s = static_v, static_s

    @staticmethod
    def _gram(value: Table, weight: ComplexArray | FloatArray) -> coo_array | None:
        """Sum over points of weight * f_a f_b, sparse (unknowns, unknowns); None if all weights are zero."""
        used = np.flatnonzero(weight)
        if not len(used):
            return None
        part = value[used]
        if isinstance(part, np.ndarray):
            found = coo_array((part.T * weight[used]) @ part)
        else:
            found = (part.T @ (diags_array(weight[used]) @ part)).tocoo()
        found.sum_duplicates()
        return found

    def _load_points(self) -> None:
        """Mean current over each lumped load, which spans a diameter of its rod, as a row (unknowns,).

        A load at a point would be a delta gap: its answer creeps as the mesh is refined.
        """
        self.load_rows: list[tuple[Load, float, FloatArray]] = []
        mesh = self.mesh
        for index, line in enumerate(self.geometry.lines):
            radius = line.radius if line.kind != RING else line.start[0]
            for distance, load in line.loads:
                low, high = max(0.0, distance - radius), min(line.length, distance + radius)
                row = np.zeros(mesh.unknowns)
                before = 0.0
                for e in np.flatnonzero(mesh.line == index):
                    after = before + float(mesh.length[e])
                    a, b = max(low, before), min(high, after)
                    if b > a:
                        x, w = gauss01(8)
                        fraction = (a + (b - a) * x - before) / mesh.length[e]
                        row += (w * (b - a) / (high - low)) @ self._at(np.full(8, e), fraction)[0]
                    before = after
                copies = 1.0 if line.kind == RING else float(self.geometry.order)
                self.load_rows.append((load, copies, row))

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
        tested, _ = self._at(element, fraction)
        if isinstance(tested, np.ndarray):
            self.excitation_tested: Table = tested.T * weight
        else:
            self.excitation_tested = (diags_array(weight) @ tested).T.tocsr()
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
            values = self._at(np.full(len(q), e), q)[0]
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
            if line.kind == RING:
                weight = self.weight[rows] / (2 * np.pi * np.maximum(self.point[rows, 0], 1e-9))
                upright = abs(line.start[0] - line.end[0]) < JOIN_TOLERANCE
                radius = line.start[0] if upright and line.thickness <= line.start[0] else 0.0
                key = _Loss(False, radius, line.metal, line.thickness, line.mesh)
            else:
                weight = self.weight[rows] / self.geometry.order
                key = _Loss(True, line.radius, line.metal, line.radius, None)
            groups.setdefault(key, np.zeros(len(self.element)))[rows] = weight
        parts = [(loss, self._gram(self.value, weight)) for loss, weight in groups.items()]
        self.loss_groups = [(loss, part) for loss, part in parts if part is not None]
        charged = [
            (mesh_elastance(loss.mesh), self._gram(self.value_slope, weight))
            for loss, weight in groups.items()
            if loss.mesh is not None
        ]
        self.charge_groups = [(elastance, part) for elastance, part in charged if part is not None]

    @cached_property
    def loss_patterns(self) -> list[coo_array]:
        """What each metal, mesh, charge of a mesh and load multiplies, sparse (unknowns, unknowns); no place twice within one part."""
        loads = []
        for _, copies, row in self.load_rows:
            at = np.flatnonzero(row)
            place = (np.repeat(at, len(at)), np.tile(at, len(at)))
            loads.append(coo_array((np.outer(row[at], row[at]).ravel() / copies, place), shape=(len(row),) * 2))
        return [part for _, part in self.loss_groups] + [part for _, part in self.charge_groups] + loads

    def loss_matrix(self, frequency: float) -> csr_array:
        """Metal, mesh and loads, sparse (unknowns, unknowns) [ohm]."""
        size = (self.mesh.unknowns, self.mesh.unknowns)
        total = csr_array(size, dtype=np.complex128)
        for value, part in zip(self.loss_values(frequency), self.loss_patterns, strict=True):
            total = total + value * part.tocsr()
        return total

    def loss_values(self, frequency: float) -> Iterator[complex]:
        """Impedance of each part of ``loss_patterns`` at a frequency [Hz]."""
        for loss, _ in self.loss_groups:
            if loss.mesh is not None:
                wavelength = SPEED_OF_LIGHT / frequency
                if loss.mesh.pitch > 0.1 * wavelength:
                    raise StructureError(
                        f"mesh pitch {loss.mesh.pitch * 1e3:.4g} mm is more than a tenth of a wavelength "
                        f"at {frequency / 1e6:.4g} MHz",
                        where="mesh pitch",
                        mend=f"use a pitch below {100 * wavelength:.3g} mm or write the mesh as rods",
                    )
            yield loss.impedance(frequency)
        for elastance, _ in self.charge_groups:
            yield elastance / (2j * math.pi * frequency)
        for load, _, _ in self.load_rows:
            yield complex(load.impedance(frequency))

    def matrix(self, frequency: float) -> ComplexArray:
        """Galerkin matrix (unknowns, unknowns) [ohm] with everything in it."""
        omega = 2 * math.pi * frequency
        k = omega / SPEED_OF_LIGHT
        # Over j.
        cv, cs = omega * VACUUM_PERMEABILITY, -1.0 / (omega * VACUUM_PERMITTIVITY)
        if self.large:
            out = np.zeros((self.mesh.unknowns, self.mesh.unknowns), dtype=np.complex128)
            self._assemble(out, out, cv=cv, cs=cs, part=2, k=k)
        else:
            out = cv * self.static_v + cs * self.static_s
            self._assemble(out, out, cv=cv, cs=cs, part=1, k=k)
        complete(out, self.geometry.mode == 0)
        if self.coatings is not None:
            out[self.coatings.row, self.coatings.col] += 1j * cs * self.coatings.at(k)
        if self.earth is not None:
            out += self.earth.matrix(frequency)
        for value, pattern in zip(self.loss_values(frequency), self.loss_patterns, strict=True):
            out[pattern.row, pattern.col] += value * pattern.data
        return out

    def excitation(self, frequency: float) -> ComplexArray:
        """Right-hand side (unknowns,) for one volt across the gap."""
        k = 2 * math.pi * frequency / SPEED_OF_LIGHT
        field = self.static_field + feeds.excitation(
            k, False, self.geometry.aperture, self.frames, self.excitation_count
        )
        tested = np.asarray(0.5 * self.gap + self.excitation_tested @ field)
        return tested if self.earth is None else tested + self.earth.excitation(frequency)

    def solve(self, frequency: float, *, keep: Callable[[Equations, ComplexArray], None] | None = None) -> Solved:
        """Currents and admittance at one frequency [Hz]; ``keep`` is handed the equations and their solution.

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
        matrix = self.matrix(frequency)
        norm = one_norm(matrix)
        if not math.isfinite(norm):
            raise StructureError(
                "two pieces of metal touch where they should not", where="structure", mend="check for pieces that cross"
            )
        rhs = self.excitation(frequency)
        kept = None if keep is None else Equations(frequency, matrix.copy(), rhs)
        coefficients, rcond = factor_and_solve(matrix, norm, rhs, symmetric=self.geometry.mode == 0)
        if not rcond > LOWEST_RCOND:
            raise StructureError(
                f"the equations are singular at {frequency / 1e6:.4g} MHz (reciprocal condition {rcond:.1g})",
                where="structure",
                mend="look for pieces that nearly coincide, or a cavity that resonates there",
            )
        if keep is not None and kept is not None:
            keep(kept, coefficients)
        admittance = self.admittance(frequency, coefficients, rhs)
        return Solved(frequency, coefficients, admittance, 1.0 / max(float(rcond), 1e-300))

    def admittance(self, frequency: float, coefficients: ComplexArray, rhs: ComplexArray) -> complex:
        """Total feed current [A] for one volt."""
        current = rhs if self.geometry.aperture.on_ground else self.gap
        return complex(current @ coefficients) + self.own_admittance(frequency)

    def own_admittance(self, frequency: float) -> complex:
        """What a coaxial mouth in a perfect ground plane adds to the admittance [S] by itself."""
        if not self.geometry.aperture.on_ground:
            return 0j
        omega = 2 * math.pi * frequency
        own = feeds.ground_gap_admittance_kernel(omega / SPEED_OF_LIGHT, self.geometry.aperture)
        return 1j * omega * VACUUM_PERMITTIVITY * own

    @property
    def port_factor(self) -> float:
        """Impedance seen at one port over that of the total current: N ports fed alike, or 2N for opposite arms in mode 1."""
        if self.geometry.aperture.section < 0:
            return 1.0
        factor = float(self.geometry.order)
        if self.geometry.mode == 1 and math.hypot(*self.geometry.aperture.origin[:2]) < 1e-6:
            factor *= 2.0
        return factor
