"""Plastic round rods: the field of a rod's own current in its plastic, and what it adds to the Galerkin matrix.

The plastic is replaced by its polarisation current in the field that the rod has without it, to first order:

``dZ_ab = -2 pi / (j w eps0) int int [(1 - 1/eps) E_a E_b + 2 (eps - 1)/(eps + 1) D_a D_b] rho drho ds``,

``E_a`` the radial and ``D_a`` the axial field of current ``f_a`` (times j w eps0). Both are near fields of rings of charge
and current on the rod: ``E_a = -d/drho P_a``, ``D_a = k^2 A_a + d/ds P_a``, ``P_a = int f_a' / (4 pi R)``,
``A_a = int f_a / (4 pi R)``; so there are three matrices, times 1, k^2 and k^4. Across the layer the displacement is
continuous, hence 1 - 1/eps. The axial field vanishes but near ends, where it changes along the layer as fast as across it:
the plastic there is polarised as a round bar across its axis, which takes 1/2 of its polarisation off the field.

Far from ends, for a layer thin against the wavelength, ``E_a = f_a' / (2 pi rho)`` and D is 0: the term is
``-(1 - 1/eps) ln(b2/b1) / (2 pi) int f_a' f_b' ds`` [@richmond-newman-1976]. Used everywhere, that takes more energy from
charge that crowds within a layer's radius than it has: the matrix is then no longer definite and the answer follows the
mesh (docs/decisions/0020-plastic-round-rods.md, with the limit of validity).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from aerialwright.engine.assembly import WIDTH, shapes
from aerialwright.engine.geometry import RING, Geometry
from aerialwright.engine.kernel import FAST, polynomials
from aerialwright.engine.mesh import Mesh
from aerialwright.engine.quadrature import gauss01, graded_to_both, graded_to_start
from aerialwright.structure.model import JOIN_TOLERANCE, Coating

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
IntArray = NDArray[np.int64]

#: A ring thinner than this part of the distance from the axis, or farther off than this many of them, is a point on it.
_THIN, _FAR = 0.2, 6.0


@dataclass(frozen=True)
class Plastic:
    """Plastic's part of the matrix over j w eps0: ``terms`` (3, n) of k^0, k^2 and k^4 at ``row``, ``col`` (n,)."""

    row: IntArray
    col: IntArray
    terms: ComplexArray

    def at(self, k: float) -> ComplexArray:
        """Entries (n,) at wave number ``k`` [1/m]."""
        return np.asarray(self.terms[0] + k**2 * self.terms[1] + k**4 * self.terms[2])


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _line(s: float, rho: float, a: float, b: float, ring: float, rules: Any, p: Any, out: Any) -> None:
    """Moments against Legendre polynomials of 4 pi times radial field, axial field and potential at (rho, s) of a tube a..b.

    Rings are sums over a turn of points at distance d from the line of sight; s' = s + d sinh t makes each smooth.
    """
    turn_x, turn_w, x, w = rules
    away = max(0.0, min(a, b) - s, s - max(a, b))
    thin = ring < _THIN * rho or away > _FAR * max(rho, ring)
    for turn in range(1 if thin else len(turn_x)):
        half = 0.0 if thin else math.sin(0.5 * math.pi * turn_x[turn]) ** 2
        weight = 1.0 if thin else turn_w[turn]
        d = rho if thin else math.sqrt((rho - ring) ** 2 + 4.0 * rho * ring * half)
        radial = rho if thin else rho - ring * (1.0 - 2.0 * half)
        low, high = math.asinh((min(a, b) - s) / d), math.asinh((max(a, b) - s) / d)
        marks = (low, max(low, min(high, -2.0)), max(low, min(high, 0.0)), max(low, min(high, 2.0)), high)
        for piece in range(4):
            t0, t1 = marks[piece], marks[piece + 1]
            if t1 - t0 < 1e-12:
                continue
            for q in range(len(x)):
                t = t0 + (t1 - t0) * x[q]
                c, h = math.cosh(t), math.sinh(t)
                dt = (t1 - t0) * w[q] * weight
                polynomials(2.0 * (s + d * h - a) / (b - a) - 1.0, p)
                for n in range(len(p)):
                    out[0, n] += dt * radial / (d * d * c * c) * p[n]
                    out[1, n] -= dt * h / (d * c * c) * p[n]
                    out[2, n] += dt * p[n]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _disc(s: float, rho: float, at: float, first: float, last: float, rules: Any, p: Any, out: Any) -> None:
    """The same of a flat ring first..last at one height, which carries no axial current."""
    turn_x, turn_w, x, w = rules
    for q in range(len(x)):
        ring = first + (last - first) * x[q]
        polynomials(2.0 * x[q] - 1.0, p)
        for turn in range(len(turn_x)):
            half = math.sin(0.5 * math.pi * turn_x[turn]) ** 2
            cube = ((rho - ring) ** 2 + 4.0 * rho * ring * half + (s - at) ** 2) ** 1.5
            weight = abs(last - first) * w[q] * turn_w[turn] / cube
            for n in range(len(p)):
                out[0, n] += weight * (rho - ring * (1.0 - 2.0 * half)) * p[n]
                out[1, n] += weight * (s - at) * p[n]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _fields(s: FloatArray, rho: FloatArray, source: FloatArray, rules: Any, out: Any) -> None:
    """Fields (3, points, sources, WIDTH) of ``source`` rows (a, b, first ring, last ring, sign) against Legendre polynomials."""
    p = np.empty(out.shape[3])
    for i in range(len(s)):
        for j in range(len(source)):
            a, b, first, last, _ = source[j]
            if a == b:
                _disc(s[i], rho[i], a, first, last, rules, p, out[:, i, j])
            else:
                _line(s[i], rho[i], a, b, first, rules, p, out[:, i, j])


def _sources(mesh: Mesh, geometry: Geometry, e: int) -> tuple[IntArray, FloatArray]:
    """Elements on the straight line of element ``e``, their places along it from its start, and images in the ground."""
    ring = int(mesh.kind[e]) == RING
    origin, axis = mesh.start[e], (mesh.end[e] - mesh.start[e]) / mesh.length[e]
    first, last = mesh.start - origin, mesh.end - origin
    a, b = first @ axis, last @ axis
    if ring:
        flat = np.abs(mesh.end[:, 2] - mesh.start[:, 2]) < JOIN_TOLERANCE
        upright = np.abs(mesh.end[:, 0] - mesh.start[:, 0]) < JOIN_TOLERANCE
        inside = np.maximum(mesh.start[:, 0], mesh.end[:, 0]) < mesh.start[e, 0] + JOIN_TOLERANCE
        used = np.flatnonzero((mesh.kind == RING) & (upright | (flat & inside)))
        a, b = (mesh.start[:, 2] - origin[2]) * axis[2], (mesh.end[:, 2] - origin[2]) * axis[2]
        b = np.where(flat, a, b)
        radii = np.stack([mesh.start[:, 0], mesh.end[:, 0]], axis=1)
    else:
        off = np.maximum(
            np.linalg.norm(first - np.outer(a, axis), axis=1), np.linalg.norm(last - np.outer(b, axis), axis=1)
        )
        used = np.flatnonzero((mesh.kind != RING) & (off < JOIN_TOLERANCE))
        radii = np.stack([mesh.radius, mesh.radius], axis=1)
    rows = np.column_stack([a, b, radii, np.ones(len(a))])[used]
    if geometry.ground and abs(abs(axis[2]) - 1.0) < 1e-9:
        mirror = rows * np.array([-1.0, -1.0, 1.0, 1.0, -1.0])
        mirror[:, :2] -= 2.0 * origin[2] * axis[2]
        return np.concatenate([used, used]), np.concatenate([rows, mirror])
    return used, rows


def _expand(mesh: Mesh, used: IntArray, unknowns: IntArray, moment: FloatArray, signs: FloatArray) -> FloatArray:
    """Moments (points, sources, WIDTH) against the shape functions, gathered on ``unknowns`` (points, unknowns)."""
    index = (used[:, None] * WIDTH + np.arange(WIDTH)).ravel()
    counts = mesh.first[index + 1] - mesh.first[index]
    rows = np.repeat(np.arange(len(index)), counts)
    # Entry by entry: counted on from the first of each local function.
    at = np.arange(len(rows)) + np.repeat(mesh.first[index] - np.cumsum(counts) + counts, counts)
    gather = np.zeros((len(index), len(unknowns)))
    np.add.at(
        gather, (rows, np.searchsorted(unknowns, mesh.unknown[at])), np.repeat(signs, WIDTH)[rows] * mesh.sign[at]
    )
    return np.asarray(moment.reshape(len(moment), -1) @ gather)


def _element(
    mesh: Mesh, geometry: Geometry, e: int, shell: Coating, copies: int
) -> tuple[IntArray, ComplexArray] | None:
    """Unknowns (u,) and terms (3, u, u) of the plastic over one element."""
    used, source = _sources(mesh, geometry, e)
    x, w = graded_to_both(7, 3)
    g, gw = gauss01(3)
    ratio = math.log(shell.outer_radius / shell.inner_radius)
    radius = shell.inner_radius * np.exp(ratio * g)
    s, rho = np.repeat(x * mesh.length[e], len(g)), np.tile(radius, len(x))
    weight = 2.0 * math.pi / copies * np.outer(w * mesh.length[e], gw * ratio * radius**2).ravel()
    rules = (*graded_to_start(12, 3), *gauss01(10))
    out = np.zeros((3, len(s), len(used), WIDTH))
    _fields(s, rho, source, rules, out)
    # From Legendre polynomials to shape functions (value) and their slopes d/ds.
    q, qw = gauss01(WIDTH + 1)
    value, slope = shapes(q)
    legendre = np.polynomial.legendre.legvander(2.0 * q - 1.0, WIDTH - 1)
    project = (legendre * qw[:, None]).T * (2.0 * np.arange(WIDTH) + 1.0)[:, None]
    to_value, to_slope = project @ value, project @ slope
    charge = out[:2] @ to_slope / (4.0 * math.pi * mesh.length[used][:, None])
    current = out[2] @ to_value / (4.0 * math.pi)
    spans = [
        mesh.unknown[mesh.first[j * WIDTH + m] : mesh.first[j * WIDTH + m + 1]]
        for j in np.unique(used)
        for m in range(WIDTH)
    ]
    unknowns = np.unique(np.concatenate(spans))
    if not len(unknowns):
        return None
    sign = source[:, 4]
    radial = _expand(mesh, used, unknowns, charge[0], sign)
    # The field of a charge points away from it: minus the slope of the potential.
    slope_field = -_expand(mesh, used, unknowns, charge[1], sign)
    vector = _expand(mesh, used, unknowns, current, sign * np.sign(source[:, 1] - source[:, 0]))
    eps = shell.permittivity * complex(1.0, -shell.loss_tangent)
    across, along = -(1.0 - 1.0 / eps), -2.0 * (eps - 1.0) / (eps + 1.0)
    tested_slope, tested_vector = slope_field * weight[:, None], vector * weight[:, None]
    cross = tested_slope.T @ vector
    return unknowns, np.stack(
        [
            across * ((radial * weight[:, None]).T @ radial) + along * (tested_slope.T @ slope_field),
            along * (cross + cross.T),
            along * (tested_vector.T @ vector),
        ]
    )


def plastic(mesh: Mesh, geometry: Geometry) -> Plastic | None:
    """The terms of all plastic of a geometry; None without any.

    Left out: the field of other metal, and of the feed, in the plastic.
    """
    total: dict[bytes, tuple[IntArray, ComplexArray]] = {}
    for e in range(len(mesh.kind)):
        line = geometry.lines[mesh.line[e]]
        if line.coating is None:
            continue
        found = _element(mesh, geometry, e, line.coating, 1 if line.kind == RING else geometry.order)
        if found is None:
            continue
        key = found[0].tobytes()
        total[key] = (found[0], total[key][1] + found[1]) if key in total else found
    if not total:
        return None
    size = mesh.unknowns
    place = np.concatenate([(u[:, None] * size + u[None, :]).ravel() for u, _ in total.values()])
    terms = np.concatenate([t.reshape(3, -1) for _, t in total.values()], axis=1)
    kept, inverse = np.unique(place, return_inverse=True)
    summed = np.zeros((3, len(kept)), dtype=np.complex128)
    for power in range(3):
        np.add.at(summed[power], inverse, terms[power])
    return Plastic(kept // size, kept % size, summed)
