"""Graded meshes and the polynomial basis on them.

Each generating line is cut into elements that grow geometrically from both ends, because charge crowds at
free edges, feeds and hubs. On each element the total current is a polynomial. Unknowns
are node functions (linear, so that ``d`` line ends meeting in a node share ``d - 1`` of them) and
integrated-Legendre bubbles inside elements (a hierarchical basis as in [@kolundzija-2002]).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.errors import StructureError
from aerialwright.engine.geometry import RING, Geometry, Line
from aerialwright.structure.model import JOIN_TOLERANCE

FloatArray = NDArray[np.float64]

#: Highest polynomial order of the current on an element.
MAX_ORDER = 6

#: Element at a crowded end, times ``end_fraction``. Sheet edge: part of the line. Free rod end, joint of rods (least, most):
#: in rod radii. Chosen for the least error at equal unknowns over random antennas (tests/reference/make_error_band.py).
SHEET_EDGE = 0.01
ROD_END = 0.15
ROD_JOINT, BEND = 0.8, 3.0


@dataclass(frozen=True)
class MeshSettings:
    """How finely the lines are cut.

    ``longest`` : longest element in wavelengths of the highest frequency.
    ``end_fraction`` : size of the element at a crowded end, in units of the local feature there.
    ``ratio`` : growth from one element to the next.
    ``order`` : polynomial order on the long elements; the crowded small ones have one less, ``extra`` is added to all.
    ``points`` : Gauss points of an element beyond its order. ``near_rule`` : points of the graded rules (outer half,
    inner side) for close pairs.
    """

    longest: float = 0.22
    end_fraction: float = 0.6
    ratio: float = 3.5
    order: int = 3
    extra: int = 0
    points: int = 1
    near_rule: tuple[int, int] = (6, 12)


@dataclass
class Mesh:
    """Elements as arrays, ``n`` of them.

    ``kind`` (n,), ``start`` and ``end`` (n, 3) [m], ``radius`` (n,) [m] (rods), ``section`` (n,), ``order`` (n,),
    ``line`` (n,) index of the generating line.
    ``cuts``: for each line the break points 0..1. ``first`` (n * (MAX_ORDER + 1) + 1,): local shape function ``a`` of
    element ``e`` belongs to the unknowns ``unknown[first[i]:first[i + 1]]`` with weights ``sign``,
    ``i = e * (MAX_ORDER + 1) + a``.
    """

    kind: NDArray[np.int64]
    start: FloatArray
    end: FloatArray
    radius: FloatArray
    section: NDArray[np.int64]
    order: NDArray[np.int64]
    line: NDArray[np.int64]
    length: FloatArray
    first: NDArray[np.int64]
    unknown: NDArray[np.int64]
    sign: FloatArray
    cuts: list[FloatArray]
    unknowns: int
    settings: MeshSettings
    top_frequency: float


def _direction(line: Line, from_start: bool) -> FloatArray:
    d = np.subtract(line.end, line.start) / line.length
    return d if from_start else -d


def _end_size(
    geometry: Geometry, index: int, node_index: int, at_start: bool, settings: MeshSettings, wavelength: float
) -> float:
    """Length of the element at one end of a line [m]; infinity where nothing crowds."""
    line = geometry.lines[index]
    node = geometry.nodes[node_index]
    others = [end for end in node.ends if end != (index, 0 if at_start else 1)]
    feature = line.radius if line.kind != RING else 0.0
    limit = 0.25 * wavelength
    aperture = geometry.aperture
    if aperture.on_ground and abs(node.position[2]) < JOIN_TOLERANCE:
        rho = math.hypot(node.position[0], node.position[1])
        if abs(rho - aperture.radius_inner) < JOIN_TOLERANCE or abs(rho - aperture.radius_outer) < JOIN_TOLERANCE:
            return settings.end_fraction * (aperture.radius_outer - aperture.radius_inner)
    if geometry.ground and not others and abs(node.position[2]) < JOIN_TOLERANCE:
        return math.inf
    if not others:
        if node.on_axis and line.kind == RING:
            return math.inf
        if line.kind == RING:
            # A sheet edge: the current goes as the root of the distance, at every scale.
            return settings.end_fraction * SHEET_EDGE * min(line.length, limit)
        return settings.end_fraction * max(ROD_END * feature, 0.002 * min(line.length, limit))
    if len(others) == 1 and not line.aperture:
        other = geometry.lines[others[0][0]]
        along = _direction(line, at_start)
        onward = _direction(other, others[0][1] == 0)
        straight = float(np.dot(along, onward)) < -0.995
        same = other.kind == line.kind and abs(other.radius - line.radius) < JOIN_TOLERANCE
        if straight and same and not other.aperture:
            return math.inf
    sizes = [min(line.length, limit)] + [min(geometry.lines[o].length, limit) for o, _ in others]
    sizes = [s for s in sizes if s > 0]
    smallest = min(sizes)
    size = settings.end_fraction * (smallest if smallest < 0.5 * min(line.length, limit) else 0.25 * smallest)
    rods = [geometry.lines[o].radius for o, _ in others if geometry.lines[o].kind != RING]
    thick = max([feature, *rods])
    if line.kind == RING and not rods:
        return size
    beside_gap = line.aperture or any(geometry.lines[o].aperture for o, _ in others)
    if not beside_gap:
        size = min(size, settings.end_fraction * BEND * thick)
    return max(size, settings.end_fraction * ROD_JOINT * thick)


def _end_sizes(geometry: Geometry, settings: MeshSettings, wavelength: float) -> list[list[float]]:
    """Length of the first and last element of every line [m]; infinity where nothing crowds, near or far.

    Where a line goes straight on into the next (sheet into mesh, a rod that others end on), elements keep growing from what
    crowds behind the joint.
    """
    sizes = [
        [
            _end_size(geometry, index, line.start_node, True, settings, wavelength),
            _end_size(geometry, index, line.end_node, False, settings, wavelength),
        ]
        for index, line in enumerate(geometry.lines)
    ]
    straight = [node.ends for node in geometry.nodes if all(math.isinf(sizes[i][side]) for i, side in node.ends)]
    changed = True
    while changed:
        changed = False
        for ends in straight:
            grown = min(sizes[i][1 - side] + (settings.ratio - 1.0) * geometry.lines[i].length for i, side in ends)
            for i, side in ends:
                if grown < sizes[i][side] * (1 - 1e-9):
                    sizes[i][side], changed = grown, True
    return sizes


def _cut(length: float, first: float, last: float, longest: float, ratio: float) -> FloatArray:
    """Break points 0..1 of a line, growing by ``ratio`` from both ends up to ``longest``."""
    left, right = [0.0], [length]
    # Walk from both ends and meet in the middle.
    while True:
        gap = right[-1] - left[-1]
        step_left = min(longest, first * ratio ** (len(left) - 1)) if math.isfinite(first) else longest
        step_right = min(longest, last * ratio ** (len(right) - 1)) if math.isfinite(last) else longest
        if step_left <= step_right:
            step, side = step_left, 0
        else:
            step, side = step_right, 1
        if gap <= 1.6 * step:
            break
        if gap < 2.0 * step:
            step = 0.5 * gap
        if side == 0:
            left.append(left[-1] + step)
        else:
            right.append(right[-1] - step)
        if len(left) + len(right) > 4000:
            break
    return np.array(left + right[::-1]) / length


def build_mesh(geometry: Geometry, *, top_frequency: float, settings: MeshSettings, like: Mesh | None = None) -> Mesh:
    """Cut the lines for the highest frequency [Hz] and number the unknowns.

    ``like`` is the mesh of the same structure with slightly other dimensions: its cuts (as fractions) and orders are kept, so
    that a difference of two answers holds no step of the mesh.

    Raises
    ------
    StructureError
        If the structure is too large for the frequency, or no current can flow.
    """
    wavelength = SPEED_OF_LIGHT / top_frequency
    total = sum(line.length for line in geometry.lines)
    if total > 400 * wavelength:
        raise StructureError(
            f"{total / wavelength:.0f} wavelengths of metal at {top_frequency / 1e6:.4g} MHz",
            where="mesh",
            mend="lower the highest frequency or shorten the longest dimension",
        )
    kinds: list[int] = []
    starts: list[FloatArray] = []
    ends: list[FloatArray] = []
    radii: list[float] = []
    sections: list[int] = []
    orders: list[int] = []
    owners: list[int] = []
    node_ends: dict[int, list[tuple[int, int]]] = {}
    inner_joints: list[tuple[int, int]] = []
    every_cut: list[FloatArray] = []
    if like is not None and len(like.cuts) != len(geometry.lines):
        raise StructureError(
            "the change alters which pieces touch", where="mesh", mend="compare two answers instead of a gradient"
        )
    sizes = _end_sizes(geometry, settings, wavelength)
    for index, line in enumerate(geometry.lines):
        first, last = sizes[index]
        cuts = _cut(line.length, first, last, settings.longest * wavelength, settings.ratio)
        if like is not None:
            cuts = like.cuts[index]
        every_cut.append(cuts)
        a, b = np.asarray(line.start), np.asarray(line.end)
        count = len(cuts) - 1
        base = len(kinds)
        for piece in range(count):
            kinds.append(line.kind)
            starts.append(a + (b - a) * cuts[piece])
            ends.append(a + (b - a) * cuts[piece + 1])
            radii.append(line.radius)
            sections.append(line.section)
            size = (cuts[piece + 1] - cuts[piece]) * line.length / wavelength
            order = settings.order if size > 0.02 else settings.order - 1
            if size > 0.15:
                order += 1
            orders.append(min(MAX_ORDER, max(1, order + settings.extra)))
            owners.append(index)
            if piece:
                inner_joints.append((base + piece - 1, base + piece))
        node_ends.setdefault(line.start_node, []).append((base, 0))
        node_ends.setdefault(line.end_node, []).append((base + count - 1, 1))
    n = len(kinds)
    start, end = np.array(starts), np.array(ends)
    length = np.linalg.norm(end - start, axis=1)
    order_array = np.array(orders) if like is None else like.order
    width = MAX_ORDER + 1
    # For each unknown the local shape functions it is made of: (element * width + local, weight).
    columns: list[list[tuple[int, float]]] = []

    def node_function(pairs: list[tuple[int, int, float]]) -> None:
        columns.append([(element * width + side, weight) for element, side, weight in pairs])

    for before, after in inner_joints:
        node_function([(before, 1, 1.0), (after, 0, 1.0)])
    for node_index, meeting in node_ends.items():
        node = geometry.nodes[node_index]
        grounded = geometry.ground and abs(node.position[2]) < JOIN_TOLERANCE
        open_axis = geometry.mode != 0 and node.on_axis
        if grounded or open_axis:
            for element, side in meeting:
                node_function([(element, side, 1.0)])
            continue
        # A disc or cone that closes on the axis carries no current there.
        live = [m for m in meeting if not (node.on_axis and kinds[m[0]] == RING)]
        if len(live) < 2:
            continue
        e0, s0 = live[0]
        out0 = 1.0 if s0 == 1 else -1.0
        for e1, s1 in live[1:]:
            into1 = 1.0 if s1 == 0 else -1.0
            # Current arrives through end 0 and leaves through the other.
            node_function([(e0, s0, out0), (e1, s1, into1)])
    for element in range(n):
        for degree in range(2, order_array[element] + 1):
            columns.append([(element * width + degree, 1.0)])
    if not columns:
        raise StructureError("no current can flow anywhere", where="structure", mend="join the pieces to each other")
    entries = sorted((local, column, weight) for column, parts in enumerate(columns) for local, weight in parts)
    local = np.array([entry[0] for entry in entries])
    return Mesh(
        kind=np.array(kinds, dtype=np.int64),
        start=start,
        end=end,
        radius=np.array(radii),
        section=np.array(sections, dtype=np.int64),
        order=order_array.astype(np.int64),
        line=np.array(owners, dtype=np.int64),
        length=length,
        first=np.searchsorted(local, np.arange(n * width + 1)).astype(np.int64),
        unknown=np.array([entry[1] for entry in entries], dtype=np.int64),
        sign=np.array([entry[2] for entry in entries]),
        cuts=every_cut,
        unknowns=len(columns),
        settings=settings,
        top_frequency=top_frequency,
    )
