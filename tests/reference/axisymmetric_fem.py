"""Finite elements for the rotationally even TM field outside perfect conductors: a reference for the engine.

It shares nothing with the engine: a differential equation in space with scikit-fem's elements, not an integral equation
on the metal; no image, no Green's function, no common quadrature.

With ``u = rho H_phi`` (so that ``2 pi u`` is the current through the circle of radius ``rho``) and time as exp(+jwt),
Maxwell's equations become

    int (1/rho) (grad u . grad v - k^2 u v) drho dz = j w eps  int e v ds        for every v,

where ``e`` is the tangential electric field given on a boundary. A perfect conductor (e = 0) is the natural condition
and needs no term; on the axis u = 0. For one volt across an aperture (``int e ds = 1``) the admittance is
``2 pi int e u ds``. In a dielectric of relative permittivity ``eps_r`` the first product is divided by ``eps_r``, since
grad u is the displacement current: u is continuous across its surface and (1/eps_r) du/dn, the tangential electric
field, is the natural condition. Ports and apertures stay as above, with vacuum at a port.

The space ends in a layer with complex radius ``r~ = r - j S t^4`` (t from 0 to 1 through the layer). Its far edge needs
no condition: what comes back has fallen by exp(-2 k S).

Meshes come from :func:`triangulate`, Delaunay refinement after Ruppert (J. Algorithms 18, 1995, 548-585; algorithm from
memory) in whole batches of points with SciPy's Delaunay; thin sheets are slits, cut open afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from scipy.constants import c, epsilon_0, mu_0
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu
from scipy.spatial import Delaunay
from skfem import (
    Basis,
    BoundaryFacetBasis,
    ElementTriP1,
    ElementTriP2,
    ElementTriP3,
    ElementTriP4,
    MeshTri,
)

ELEMENTS = {1: ElementTriP1, 2: ElementTriP2, 3: ElementTriP3, 4: ElementTriP4}
#: Tags of boundary lines. "slit" is metal with field on both sides.
#: An "interface" is the surface of a dielectric: mesh lines follow it, and it needs no condition.
METAL, SLIT, APERTURE, PORT, AXIS, OUTER = "metal", "slit", "aperture", "port", "axis", "outer"
INTERFACE = "interface"
Segment = tuple[tuple[float, float], tuple[float, float], str]


@dataclass
class Region:
    """A half plane rho >= 0 with metal: straight ``segments`` (start, end, tag), one point inside each ``hole``.

    ``fine`` holds singular points ``(rho, z, size there)``: corners, sheet edges, ends of the aperture. ``slim`` holds
    ``(rho, z0, z1)``: surfaces near the axis along which elements must not be much larger than rho. The absorbing layer
    lies between ``inner`` and ``outer`` radius about ``(0, centre)``. ``dielectric`` holds rings of plastic
    ``(rho0, rho1, z0, z1, eps_r)`` whose edges are among the segments.
    """

    segments: list[Segment]
    holes: list[tuple[float, float]]
    fine: list[tuple[float, float, float]]
    inner: float
    outer: float
    centre: float = 0.0
    slim: list[tuple[float, float, float]] = field(default_factory=list)
    dielectric: list[tuple[float, float, float, float, complex]] = field(default_factory=list)


def half_circle(
    radius: float, centre: float, *, start: float = 0.0, stop: float = math.pi, count: int = 48
) -> list[Segment]:
    """The outer edge, from polar angle ``start`` to ``stop``; a polygon will do, as no field is left there."""
    angle = np.linspace(start, stop, count + 1)
    points = [(radius * math.sin(t), centre + radius * math.cos(t)) for t in angle]
    points = [(0.0 if abs(x) < 1e-12 * radius else x, 0.0 if abs(z) < 1e-12 * radius else z) for x, z in points]
    return [(p, q, OUTER) for p, q in pairwise(points)]


def size_function(
    region: Region, *, largest: float, growth: float, shrink: float
) -> Callable[[np.ndarray], np.ndarray]:
    """Wanted edge length at points (n, 2): ``shrink * size + growth * distance`` from each singular point."""

    def size(point: np.ndarray) -> np.ndarray:
        h = np.full(len(point), largest)
        for rho, z, smallest in region.fine:
            h = np.minimum(h, shrink * smallest + growth * np.hypot(point[:, 0] - rho, point[:, 1] - z))
        for rho, z0, z1 in region.slim:
            distance = np.hypot(point[:, 0] - rho, point[:, 1] - np.clip(point[:, 1], z0, z1))
            h = np.minimum(h, 2.0 * growth * (2.0 * rho + distance))
        return h

    return size


def _keys(first: np.ndarray, second: np.ndarray, count: int) -> np.ndarray:
    return np.minimum(first, second).astype(np.int64) * count + np.maximum(first, second)


def triangulate(
    region: Region, size: Callable[[np.ndarray], np.ndarray], *, most: int = 60000
) -> tuple[np.ndarray, np.ndarray, list[tuple[int, int, str]]]:
    """Points (n, 2), triangles (m, 3) and boundary pieces (first, second, tag) of a region.

    Raises
    ------
    RuntimeError
        If refinement does not end: two lines meet at too sharp an angle.
    """
    index: dict[tuple[float, float], int] = {}
    points: list[tuple[float, float]] = []

    def place(p: tuple[float, float]) -> int:
        key = (round(p[0], 12), round(p[1], 12))
        if key not in index:
            index[key] = len(points)
            points.append(p)
        return index[key]

    pieces = [(place(a), place(b), tag) for a, b, tag in region.segments]
    for _ in range(400):
        p = np.array(points)
        n = len(p)
        if n > most:
            break
        ends = np.array([(i, j) for i, j, _ in pieces])
        t = Delaunay(p).simplices
        sides = np.stack([t[:, [1, 2]], t[:, [2, 0]], t[:, [0, 1]]], axis=1)
        keys = _keys(sides[..., 0], sides[..., 1], n)
        piece_keys = _keys(ends[:, 0], ends[:, 1], n)
        long = np.hypot(*(p[ends[:, 0]] - p[ends[:, 1]]).T)
        middle = 0.5 * (p[ends[:, 0]] + p[ends[:, 1]])
        split = ~np.isin(piece_keys, keys) | (long > 1.4 * size(middle))
        inside = np.zeros(len(t), dtype=bool)
        if not split.any():
            inside = _inside(p, t, keys, piece_keys, region.holes)
            corner = p[t[inside]]
            opposite = np.einsum(
                "tij,tij->ti", corner[:, [1, 2, 0]] - corner, corner[:, [2, 0, 1]] - corner
            )  # negative: the side opposite to that corner sees it at more than a right angle
            crowded = keys[inside][opposite < -1e-12 * np.abs(opposite).max(axis=1, keepdims=True)]
            split = np.isin(piece_keys, crowded)
        if not split.any():
            a, b, d = (corner[:, i] for i in range(3))
            u, v = b - a, d - a
            cross = 2.0 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
            uu, vv = (u * u).sum(1), (v * v).sum(1)
            centre = a + np.stack([v[:, 1] * uu - u[:, 1] * vv, u[:, 0] * vv - v[:, 0] * uu], axis=1) / cross[:, None]
            radius = np.hypot(*(centre - a).T)
            shortest = np.sqrt(np.minimum(np.minimum(uu, vv), ((d - b) ** 2).sum(1)))
            poor = np.maximum(radius / shortest / 1.25, radius / (0.7 * size(corner.mean(axis=1))))
            bad = np.flatnonzero(poor > 1.0)
            if not len(bad):
                return p, t[inside], pieces
            bad = bad[np.argsort(-poor[bad])][:1500]
            chosen: list[int] = []
            for i in bad:
                if all(
                    math.hypot(centre[i, 0] - centre[k, 0], centre[i, 1] - centre[k, 1]) > max(radius[i], radius[k])
                    for k in chosen
                ):
                    chosen.append(int(i))
            half = 0.5 * long
            for i in chosen:
                hit = np.hypot(*(middle - centre[i]).T) < half * (1 - 1e-9)
                if hit.any():
                    split |= hit
                else:
                    place((float(centre[i, 0]), float(centre[i, 1])))
        fresh = []
        for (i, j, tag), cut in zip(pieces, split, strict=True):
            if cut:
                m = place((0.5 * (points[i][0] + points[j][0]), 0.5 * (points[i][1] + points[j][1])))
                fresh += [(i, m, tag), (m, j, tag)]
            else:
                fresh.append((i, j, tag))
        pieces = fresh
    raise RuntimeError(f"the mesh did not end at {len(points)} points: two lines meet at too sharp an angle")


def _inside(
    p: np.ndarray, t: np.ndarray, keys: np.ndarray, fences: np.ndarray, holes: list[tuple[float, float]]
) -> np.ndarray:
    """Triangles (m,) that belong to the region: neither in a hole nor reached from outside without crossing a fence."""
    m = len(t)
    owner = np.repeat(np.arange(m), 3)
    flat = keys.ravel()
    order = np.argsort(flat, kind="stable")
    flat, owner = flat[order], owner[order]
    pair = np.flatnonzero(flat[1:] == flat[:-1])
    single = np.ones(len(flat), dtype=bool)
    single[pair] = single[pair + 1] = False
    fenced = np.isin(flat, fences)
    open_pair = pair[~fenced[pair]]
    links = coo_matrix((np.ones(len(open_pair)), (owner[open_pair], owner[open_pair + 1])), shape=(m, m))
    _, part = connected_components(links, directed=False)
    outside = set(part[owner[single & ~fenced]].tolist())
    centre = p[t]
    for hole in holes:
        q = np.asarray(hole)
        area = [
            (centre[:, (i + 1) % 3, 0] - centre[:, i, 0]) * (q[1] - centre[:, i, 1])
            - (centre[:, (i + 1) % 3, 1] - centre[:, i, 1]) * (q[0] - centre[:, i, 0])
            for i in range(3)
        ]
        within = np.flatnonzero((np.min(area, axis=0) >= 0) | (np.max(area, axis=0) <= 0))
        outside |= set(part[within].tolist())
    return ~np.isin(part, list(outside))


def cut_open(p: np.ndarray, t: np.ndarray, pieces: list[tuple[int, int, str]]) -> tuple[MeshTri, np.ndarray]:
    """Part the mesh along its slits: triangles share a vertex only if a way round it leads through no slit.

    Returns the mesh and, for each of its vertices, the vertex it was.
    """
    n, m = len(p), len(t)
    slits = np.array([_keys(np.array(i), np.array(j), n) for i, j, tag in pieces if tag == SLIT], dtype=np.int64)
    local = np.array([[1, 2], [2, 0], [0, 1]])
    first, second = t[:, local[:, 0]].ravel(), t[:, local[:, 1]].ravel()
    corner = (3 * np.arange(m)[:, None, None] + local[None]).reshape(-1, 2)
    swap = first > second
    corner[swap] = corner[swap][:, ::-1]
    keys = _keys(first, second, n)
    order = np.argsort(keys, kind="stable")
    keys, corner = keys[order], corner[order]
    pair = np.flatnonzero((keys[1:] == keys[:-1]) & ~np.isin(keys[1:], slits))
    a, b = corner[pair].ravel(), corner[pair + 1].ravel()
    links = coo_matrix((np.ones(len(a)), (a, b)), shape=(3 * m, 3 * m))
    count, label = connected_components(links, directed=False)
    old = np.empty(count, dtype=int)
    old[label] = t.ravel()
    return MeshTri(np.ascontiguousarray(p[old].T), np.ascontiguousarray(label.reshape(m, 3).T.astype(np.int64))), old


class Problem:
    """One mesh and order: matrices once, then any number of frequencies.

    Parameters
    ----------
    region : Region
    order : int
        Polynomial order of the triangles, 1 to 4.
    largest : float
        Longest element edge [m].
    growth, shrink : float
        See :func:`size_function`.
    depth : float
        ``S`` [m] of the absorbing layer.
    """

    def __init__(
        self, region: Region, *, order: int, largest: float, growth: float = 0.5, shrink: float = 1.0, depth: float
    ) -> None:
        self.region, self.depth = region, depth
        p, t, pieces = triangulate(region, size_function(region, largest=largest, growth=growth, shrink=shrink))
        self.mesh, old = cut_open(p, t, pieces)
        tags: dict[int, str] = {}
        for i, j, tag in pieces:
            tags[int(_keys(np.array(i), np.array(j), len(p)))] = tag
        facet_keys = _keys(old[self.mesh.facets[0]], old[self.mesh.facets[1]], len(p))
        self.facet_tag = np.array([tags.get(int(key), "") for key in facet_keys])
        self.element = ELEMENTS[order]()
        self.basis = Basis(self.mesh, self.element, intorder=2 * order + 6)
        self.stiffness, self.mass = self._matrices()
        self.facets: dict[str, BoundaryFacetBasis] = {}

    @property
    def unknowns(self) -> int:
        """Number of unknowns."""
        return int(self.basis.N)

    def _shape(self, basis: Basis) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """x (2, n, q), weights (n, q), and of each shape function: value and slopes along rho and z (n, q, s)."""
        count = range(basis.Nbfun)
        value = np.stack([np.asarray(basis.basis[i][0]) for i in count], axis=-1)
        slope_r, slope_z = np.stack([np.asarray(basis.basis[i][0].grad) for i in count], axis=-1)
        return np.asarray(basis.global_coordinates()), basis.dx, value, slope_r, slope_z

    def stretch(self, r: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """``r~ / r`` and ``d r~ / d r`` of the absorbing layer."""
        thick = self.region.outer - self.region.inner
        t = np.maximum(r - self.region.inner, 0.0) / thick
        return 1 - 1j * self.depth * t**4 / np.maximum(r, 1e-30), 1 - 4j * self.depth * t**3 / thick

    def _matrices(self) -> tuple[csc_matrix, csc_matrix]:
        x, dx, value, slope_r, slope_z = self._shape(self.basis)
        rho, z = x[0], x[1] - self.region.centre
        r = np.hypot(rho, z)
        s, d = self.stretch(r)
        er, ez = rho / np.maximum(r, 1e-30), z / np.maximum(r, 1e-30)
        along = slope_r * er[..., None] + slope_z * ez[..., None]
        across = slope_r * ez[..., None] - slope_z * er[..., None]
        weight = dx / rho
        middle = self.mesh.p[:, self.mesh.t].mean(axis=1)
        inverse = np.ones((len(dx), 1), dtype=complex)
        for rho0, rho1, z0, z1, permittivity in self.region.dielectric:
            within = (middle[0] > rho0) & (middle[0] < rho1) & (middle[1] > z0) & (middle[1] < z1)
            inverse[within] = 1.0 / permittivity

        def gram(w: np.ndarray, f: np.ndarray) -> np.ndarray:
            return np.matmul(f.transpose(0, 2, 1), w[..., None] * f)

        stiff = gram(weight * inverse / d, along) + gram(weight * inverse * d / s**2, across)
        mass = gram(weight * d, value)
        dofs = self.basis.element_dofs.T
        rows = np.repeat(dofs, dofs.shape[1], axis=1).ravel()
        columns = np.tile(dofs, (1, dofs.shape[1])).ravel()
        shape = (self.basis.N, self.basis.N)
        return (
            coo_matrix((stiff.ravel(), (rows, columns)), shape=shape).tocsc(),
            coo_matrix((mass.ravel(), (rows, columns)), shape=shape).tocsc(),
        )

    def facet_basis(self, tag: str) -> BoundaryFacetBasis:
        """Quadrature on the boundary pieces of one tag."""
        if tag not in self.facets:
            which = np.flatnonzero(self.facet_tag == tag)
            self.facets[tag] = BoundaryFacetBasis(self.mesh, self.element, facets=which, intorder=16)
        return self.facets[tag]

    def load(self, tag: str, e: Callable[[np.ndarray], np.ndarray]) -> np.ndarray:
        """``int e v ds`` over a tag; ``e`` takes coordinates (2, ...)."""
        basis = self.facet_basis(tag)
        x, dx, value, *_ = self._shape(basis)
        parts = np.einsum("nq,nq,nqs->ns", e(x), dx, value)
        out = np.zeros(self.basis.N, dtype=complex)
        np.add.at(out, basis.element_dofs.T.ravel(), parts.ravel())
        return out

    def boundary_mass(self, tag: str) -> csc_matrix:
        """``int u v / rho ds`` over a tag."""
        basis = self.facet_basis(tag)
        x, dx, value, *_ = self._shape(basis)
        parts = np.matmul(value.transpose(0, 2, 1), (dx / x[0])[..., None] * value)
        dofs = basis.element_dofs.T
        rows = np.repeat(dofs, dofs.shape[1], axis=1).ravel()
        columns = np.tile(dofs, (1, dofs.shape[1])).ravel()
        return coo_matrix((parts.ravel(), (rows, columns)), shape=(self.basis.N, self.basis.N)).tocsc()

    def solve(self, k: float, right: np.ndarray, extra: csc_matrix | None = None) -> np.ndarray:
        """``u`` (unknowns,) at wave number ``k`` [1/m] with u = 0 on the axis; ``extra`` is added to the matrix."""
        matrix = self.stiffness - k * k * self.mass
        if extra is not None:
            matrix = matrix + extra
        fixed = np.zeros(self.unknowns, dtype=bool)
        if (axis := np.flatnonzero(self.facet_tag == AXIS)).size:
            fixed[self.basis.get_dofs(axis).all()] = True
        free = np.flatnonzero(~fixed)
        out = np.zeros(self.unknowns, dtype=complex)
        out[free] = splu(matrix.tocsc()[free][:, free].tocsc()).solve(right[free])
        return out

    def aperture_impedance(self, frequency: float, e: Callable[[np.ndarray], np.ndarray]) -> complex:
        """Impedance [ohm] of an aperture with the field ``e`` of one volt held in it."""
        k = 2 * math.pi * frequency / c
        right = self.load(APERTURE, e)
        u = self.solve(k, right)
        return 1.0 / complex(2j * math.pi * 2 * math.pi * frequency * epsilon_0 * (right @ u))

    def port_impedance(self, frequency: float, *, inner: float, outer: float, distance: float) -> complex:
        """Impedance [ohm] at the mouth of a coaxial line whose port lies ``distance`` [m] down the line.

        At the port only the TEM wave is left: d u/dn = 2 j k u_in - j k u.
        """
        k = 2 * math.pi * frequency / c
        port = self.boundary_mass(PORT)
        right = self.load(PORT, lambda x: 2j * k / x[0])
        u = self.solve(k, right, 1j * k * port)
        seen = complex(self.load(PORT, lambda x: 1.0 / x[0]) @ u) / math.log(outer / inner)
        reflection = -(seen - 1.0) * np.exp(2j * k * distance)
        line = math.sqrt(mu_0 / epsilon_0) / (2 * math.pi) * math.log(outer / inner)
        return complex(line * (1 + reflection) / (1 - reflection))


def coaxial_field(inner: float, outer: float) -> Callable[[np.ndarray], np.ndarray]:
    """The TEM field of one volt in a coaxial mouth [1/m]."""
    return lambda x: 1.0 / (x[0] * math.log(outer / inner))


def even_field(width: float) -> Callable[[np.ndarray], np.ndarray]:
    """The even field of one volt across a band of ``width`` [m]."""
    return lambda x: np.full_like(x[0], 1.0 / width)
