"""What real ground below the metal adds to the Galerkin matrix, and the power that goes down into it.

The matrix takes the tabulated Green functions of :mod:`aerialwright.engine.earth` at points of its own, because an
element may be long against its height. The power into the ground comes from the spectrum of the currents alone (plane
waves through the surface), without these tables, so that the power balance checks them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array
from scipy.special import jv

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eps0, mu0
from aerialwright.base.errors import StructureError
from aerialwright.engine.earth import Table, look_up, spectra, table
from aerialwright.engine.feed import gap_rings
from aerialwright.engine.geometry import RING, Geometry
from aerialwright.engine.kernel import FAST
from aerialwright.engine.mesh import Mesh
from aerialwright.engine.quadrature import gauss01
from aerialwright.structure.ground import Ground

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]
Shapes: TypeAlias = FloatArray | csr_array
_Sources: TypeAlias = tuple[NDArray[np.bool_], FloatArray, FloatArray]

#: Lowest height of metal over real ground, and its farthest spread, that the method was checked for [wavelengths].
LOWEST, WIDEST = 0.01, 5.0
#: An element is cut into pieces no longer than this many times their lowest height.
_LONGEST = 2.0
#: Rows of the coupling of points that are held at once.
_ROWS = 48


def _scaled(weight: FloatArray, shapes: Shapes) -> Shapes:
    """Every row of ``shapes`` (p, unknowns) times its weight (p,)."""
    return shapes * weight[:, None] if isinstance(shapes, np.ndarray) else csr_array(diags_array(weight) @ shapes)


def places(mesh: Mesh) -> tuple[IntArray, FloatArray, FloatArray]:
    """Elements (p,), fractions along them (p,) and weights [m] (p,) of the points that see the ground's reflection."""
    elements, fractions, weights = [], [], []
    for e in range(len(mesh.kind)):
        low, high = float(mesh.start[e, 2]), float(mesh.end[e, 2])
        length = float(mesh.length[e])
        x, w = gauss01(int(mesh.order[e]) + 1)
        pieces = [(0.0, 1.0)]
        while pieces:
            a, b = pieces.pop()
            height = min(low + a * (high - low), low + b * (high - low))
            if (b - a) * length > _LONGEST * height and b - a > 1e-3:
                pieces += [(a, 0.5 * (a + b)), (0.5 * (a + b), b)]
                continue
            elements.append(np.full(len(x), e))
            fractions.append(a + (b - a) * x)
            weights.append(w * (b - a) * length)
    return np.concatenate(elements), np.concatenate(fractions), np.concatenate(weights)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _couple(
    k: float, ring: Any, point: Any, tangent: Any, ring_s: Any, point_s: Any, tangent_s: Any, order: int, mode: int, turns: Any,
    values: Any, scale: Any, out_v: Any, out_s: Any,
) -> None:  # fmt: skip
    """Orbit means of the ground's part of G_V and G_S (n, m) from source points (m, 3) to test points (n, 3)."""
    wu, wv = np.empty(4), np.empty(4)
    f = np.empty(4, dtype=np.complex128)
    for i in range(point.shape[0]):
        for j in range(point_s.shape[0]):
            gv = 0.0j
            gs = 0.0j
            zeta = point[i, 2] + point_s[j, 2]
            tz = tangent[i, 2]
            sz = tangent_s[j, 2]
            if ring[i] or ring_s[j]:
                rho = math.hypot(point[i, 0], point[i, 1])
                rho_s = math.hypot(point_s[j, 0], point_s[j, 1])
                t = tangent[i, 0]
                s = tangent_s[j, 0]
                if not ring[i]:
                    t = (tangent[i, 0] * point[i, 0] + tangent[i, 1] * point[i, 1]) / max(rho, 1e-300)
                if not ring_s[j]:
                    s = (tangent_s[j, 0] * point_s[j, 0] + tangent_s[j, 1] * point_s[j, 1]) / max(rho_s, 1e-300)
                sharp = math.sqrt(rho * rho_s / ((rho - rho_s) ** 2 + zeta * zeta))
                count = min(200, 2 + int(0.5 + k * min(rho, rho_s) + 6.0 * sharp))
                for n in range(count):
                    c = math.cos(math.pi * (n + 0.5) / count)
                    away = math.sqrt(max(rho * rho + rho_s * rho_s - 2.0 * rho * rho_s * c, 1e-300))
                    look_up(values, scale, away, zeta, wu, wv, f)
                    gs += f[1] / count
                    cross = tz * s * (rho * c - rho_s) - sz * t * (rho - rho_s * c)
                    gv += (f[0] * (t * s * c) + f[2] * (tz * sz) + f[3] * (cross / away)) / count
            else:
                for turn in range(order):
                    c = turns[turn, 0]
                    h = turns[turn, 1]
                    dx = point[i, 0] - (c * point_s[j, 0] - h * point_s[j, 1])
                    dy = point[i, 1] - (h * point_s[j, 0] + c * point_s[j, 1])
                    sx = c * tangent_s[j, 0] - h * tangent_s[j, 1]
                    sy = h * tangent_s[j, 0] + c * tangent_s[j, 1]
                    away = math.sqrt(dx * dx + dy * dy)
                    look_up(values, scale, away, zeta, wu, wv, f)
                    cross = tz * (dx * sx + dy * sy) - sz * (dx * tangent[i, 0] + dy * tangent[i, 1])
                    level = tangent[i, 0] * sx + tangent[i, 1] * sy
                    phase = complex(turns[(mode * turn) % order, 0], -turns[(mode * turn) % order, 1]) / order
                    gs += f[1] * phase
                    gv += (f[0] * level + f[2] * (tz * sz) + f[3] * (cross / max(away, 1e-300))) * phase
            out_v[i, j] = gv
            out_s[i, j] = gs


@dataclass(frozen=True)
class Earth:
    """Points of the metal over real ground, with every unknown's current and slope there times the point's weight.

    ``gap``: radii, heights [m] and amounts [V] of the feed's magnetic rings. ``reach``: farthest horizontal distance of two
    points, lowest and highest sum of two heights [m].
    """

    ground: Ground
    ring: NDArray[np.bool_]
    point: FloatArray
    tangent: FloatArray
    current: Shapes
    slope: Shapes
    order: int
    mode: int
    turns: FloatArray
    gap: tuple[FloatArray, FloatArray, FloatArray]
    reach: tuple[float, float, float]

    def matrix(self, frequency: float) -> ComplexArray:
        """The ground's part of the Galerkin matrix (unknowns, unknowns) [ohm].

        Raises
        ------
        StructureError
            Where the metal is lower or wider than the method was checked for.
        """
        wave = SPEED_OF_LIGHT / frequency
        rho, low, _ = self.reach
        if 0.5 * low < (1.0 - 1e-9) * LOWEST * wave:
            raise StructureError(
                f"metal {500 * low:.3g} mm over real ground is lower than {LOWEST:g} wavelengths at {frequency / 1e6:.4g} MHz, "
                "the lowest height that was checked",
                where="ground",
                mend=f"raise the antenna so that nothing is below {1e3 * LOWEST * wave:.3g} mm, or take ground = 'perfect'",
            )
        if rho > WIDEST * wave:
            raise StructureError(
                f"the metal spreads over {rho / wave:.0f} wavelengths at {frequency / 1e6:.4g} MHz; over real ground "
                f"{WIDEST:g} were checked",
                where="ground",
                mend="lower the highest frequency, or solve it without ground",
            )
        found = self._found(frequency)
        if self.mode != 0:
            return self._tested(frequency, found, slice(None), self.sources, self.current, self.slope)
        # Reciprocal: pairs of points are taken once, those of one group of rows by half and half.
        out = np.zeros((self.current.shape[1], self.current.shape[1]), dtype=np.complex128)
        for first in range(0, len(self.ring), _ROWS):
            rows, rest = slice(first, min(len(self.ring), first + _ROWS)), slice(first, None)
            half = np.ones(len(self.ring) - first)
            half[: rows.stop - first] = 0.5
            sources = (self.ring[rest], self.point[rest], self.tangent[rest])
            out += self._tested(
                frequency, found, rows, sources, _scaled(half, self.current[rest]), _scaled(half, self.slope[rest])
            )
        return out + out.T

    @property
    def sources(self) -> _Sources:
        """Whether on a ring, places and directions of all points."""
        return self.ring, self.point, self.tangent

    def _found(self, frequency: float) -> Table:
        return table(self.ground.relative(frequency), 2.0 * math.pi * frequency / SPEED_OF_LIGHT, *self.reach)

    def _tested(
        self, frequency: float, found: Table, rows: slice, sources: _Sources, current: Any, slope: Any
    ) -> ComplexArray:
        """Minus the ground's part of the field (unknowns, columns) at the points of ``rows``, tested with every unknown, from
        currents and slopes times weight (m, columns) at ``sources``."""
        omega = 2.0 * math.pi * frequency
        gv = np.empty((len(self.ring[rows]), len(sources[0])), dtype=np.complex128)
        gs = np.empty_like(gv)
        _couple(
            omega / SPEED_OF_LIGHT, self.ring[rows], self.point[rows], self.tangent[rows], *sources, self.order, self.mode,
            self.turns, found.values, found.scale, gv, gs,
        )  # fmt: skip
        from_current = self.current[rows].T @ ((1j * omega * mu0) * (gv @ current))
        return np.asarray(from_current + self.slope[rows].T @ ((gs @ slope) / (1j * omega * eps0)))

    def excitation(self, frequency: float) -> ComplexArray:
        """The feed gap's own reflection on the metal, tested (unknowns,), for one volt.

        Seen from the ground a magnetic ring of radius rho is an upright electric dipole, I l = -j w eps pi rho^2 V.
        """
        rho, z, amount = self.gap
        if not len(rho):
            return np.zeros(self.current.shape[1], dtype=np.complex128)
        moment = -1j * 2.0 * math.pi * frequency * eps0 * math.pi * float(np.sum(rho**2 * amount))
        height = float(z.mean())
        length = 0.05 * height
        x, w = gauss01(3)
        # A short wire of even current: points along it for the current, its ends for the charge.
        point = np.zeros((5, 3))
        point[:, 2] = height + length * (np.array([*x, 0.0, 1.0]) - 0.5)
        current, slope = np.zeros((5, 1), dtype=np.complex128), np.zeros((5, 1), dtype=np.complex128)
        current[:3, 0], slope[3:, 0] = moment * w, np.array([moment, -moment]) / length
        sources = (np.zeros(5, dtype=np.bool_), point, np.tile(np.array([0.0, 0.0, 1.0]), (5, 1)))
        return -self._tested(frequency, self._found(frequency), slice(None), sources, current, slope)[:, 0]


def earth(
    mesh: Mesh, geometry: Geometry, ground: Ground, turns: FloatArray, element: IntArray, fraction: FloatArray,
    weight: FloatArray, value: Shapes, slope: Shapes,
) -> Earth:  # fmt: skip
    """Everything that does not change with frequency; ``element``, ``fraction``, ``weight`` from :func:`places`, ``value`` and
    ``slope`` of every unknown at those places (p, unknowns)."""
    point = mesh.start[element] + fraction[:, None] * (mesh.end - mesh.start)[element]
    tangent = ((mesh.end - mesh.start) / mesh.length[:, None])[element]
    ends = np.array([end for line in geometry.lines for end in (line.start, line.end)])
    # The same limits for every mesh of a structure, so that they share their tables.
    if geometry.order == 1 and not any(line.kind == RING for line in geometry.lines):
        rho = float(np.max(np.hypot(*(ends[:, None, :2] - ends[None, :, :2]).transpose(2, 0, 1))))
    else:
        rho = 2.0 * float(np.max(np.hypot(ends[:, 0], ends[:, 1])))
    reach = (rho, 2.0 * float(ends[:, 2].min()), 2.0 * float(ends[:, 2].max()))
    ring = np.asarray(mesh.kind[element] == RING)
    gap = gap_rings(geometry.aperture)
    current, charge = _scaled(weight, value), _scaled(weight, slope)
    return Earth(ground, ring, point, tangent, current, charge, geometry.order, geometry.mode, turns, gap, reach)


def _nodes(breaks: list[float], span: float) -> tuple[FloatArray, FloatArray]:
    """Rule between following ``breaks`` for what turns ``span`` radians per unit and goes as a root at each of them."""
    nodes, weights = [], []
    for a, b in pairwise(breaks):
        u, w = gauss01(20 + int(0.8 * span * (b - a)))
        nodes.append(a + (b - a) * u * u * (3.0 - 2.0 * u))
        weights.append((b - a) * w * 6.0 * u * (1.0 - u))
    return np.concatenate(nodes), np.concatenate(weights)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _add_rods(
    point: Any,
    tangent: Any,
    current: Any,
    lateral: Any,
    fall: Any,
    cosine: float,
    sine: float,
    phase: complex,
    out: Any,
) -> None:
    """Add the spectrum (3, m) of rods' currents (p,), along, across and up, for a lateral wave at an angle from x."""
    for m in range(lateral.shape[0]):
        ahead = 0.0j
        aside = 0.0j
        upward = 0.0j
        for p in range(point.shape[0]):
            x = lateral[m] * (point[p, 0] * cosine + point[p, 1] * sine)
            amount = complex(math.cos(x), math.sin(x)) * (fall[m, p] * current[p])
            ahead += amount * (tangent[p, 0] * cosine + tangent[p, 1] * sine)
            aside += amount * (tangent[p, 1] * cosine - tangent[p, 0] * sine)
            upward += amount * tangent[p, 2]
        out[0, m] += phase * ahead
        out[1, m] += phase * aside
        out[2, m] += phase * upward


def _even_moments(
    earth_: Earth, omega: float, lateral: FloatArray, fall: ComplexArray, air: ComplexArray, current: ComplexArray
) -> ComplexArray:
    """Spectrum at the surface (3, m) [A m] of what is the same all round: sheets of revolution and the feed's gap."""
    ring = earth_.ring
    out = np.zeros((3, len(lateral)), dtype=np.complex128)
    x = np.outer(lateral, earth_.point[ring, 0])
    part = fall[:, ring] * current[ring]
    out[0] = (1j * jv(1, x) * part) @ earth_.tangent[ring, 0]
    out[2] = (jv(0, x) * part) @ earth_.tangent[ring, 2]
    rho, z, amount = earth_.gap
    if len(rho):
        rings = jv(1, np.outer(lateral, rho)) / lateral[:, None] * np.exp(-1j * np.outer(air, z))
        out[2] -= (2j * math.pi * eps0 * omega) * (rings @ (rho * amount))
    return out


def power_into_ground(earth_: Earth, frequency: float, coefficients: ComplexArray) -> float:
    """Power [W] through the surface of the ground, for the currents of one volt amplitude at the feed.

    Each plane wave of the spectrum, those that decay upward included, carries |E_t|^2 times the ground's admittance.
    """
    omega = 2.0 * math.pi * frequency
    k = omega / SPEED_OF_LIGHT
    relative = earth_.ground.relative(frequency)
    _, low, high = earth_.reach
    reach = float(np.max(np.hypot(earth_.point[:, 0], earth_.point[:, 1])))
    last = k + 14.0 / low
    index = k * abs(np.sqrt(relative).real)
    # The pole of the ground wave lies by 1/(2 n^2) from the air's wave number, the ground's own may lie near the axis.
    near = k * min(0.1, 8.0 / abs(relative))
    breaks = sorted({0.0, k - near, k, min(k + near, last), min(1.1 * k, last), min(max(index, 1.2 * k), last), last})
    lateral, weight = _nodes(breaks, 2.0 * reach + 0.5 * high)
    air, reflected = spectra(relative, k, lateral.astype(np.complex128))
    te = reflected[0]
    earthward = -1j * np.sqrt(lateral**2 - relative * k * k + 0j)
    tm_through = 2.0 * earthward / (relative * air + earthward)
    current = np.asarray(earth_.current @ coefficients)
    fall = np.exp(-1j * np.outer(air, earth_.point[:, 2]))
    even = _even_moments(earth_, omega, lateral, fall, air, current)
    rods = ~earth_.ring
    own = earth_.point[rods], earth_.tangent[rods], current[rods], lateral, np.ascontiguousarray(fall[:, rods])
    order, total = earth_.order, 0.0
    turns = 2 + int(2 * (min(last, 3.0 * k + 6.0 / low) * reach + 6) / order) if rods.any() else 1
    for angle in 2.0 * math.pi * (np.arange(turns) + 0.5) / turns / order:
        moment = even.copy()
        for turn in range(order if rods.any() else 0):
            # A copy that is turned forward is the first one seen from farther back.
            back = angle - 2.0 * math.pi * turn / order
            step = (earth_.mode * turn) % order
            phase = complex(earth_.turns[step, 0], -earth_.turns[step, 1]) / order
            _add_rods(*own, math.cos(back), math.sin(back), phase, moment)
        along, across, upright = moment
        level = -(omega * mu0) / (2.0 * air) * across * (1.0 + te)
        slanted = -(air * along + lateral * upright) / (2.0 * omega * eps0) * tm_through
        flux = np.abs(level) ** 2 * earthward.real / (omega * mu0)
        flux = flux + np.abs(slanted) ** 2 * (omega * eps0 * relative / earthward).real
        total += 0.5 * float(np.sum(weight * lateral * flux)) * 2.0 * math.pi / turns / (4.0 * math.pi**2)
    return total
