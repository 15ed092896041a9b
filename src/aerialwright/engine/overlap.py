"""Metal that would lie inside other metal, found before anything is solved."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from aerialwright.base.errors import StructureError
from aerialwright.engine.geometry import RING, ROD, Geometry, Line
from aerialwright.structure.model import JOIN_TOLERANCE

#: Smallest angle between two joined rods that the thin-wire joint stands for [degree].
SHARPEST_ANGLE = 15.0


@njit(cache=True, nogil=True)
def _segments(p: Any, q: Any, r: Any, s: Any) -> float:
    """Least distance between the straight pieces p-q and r-s, points (3,)."""
    ax, ay, az = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    bx, by, bz = s[0] - r[0], s[1] - r[1], s[2] - r[2]
    wx, wy, wz = p[0] - r[0], p[1] - r[1], p[2] - r[2]
    a = ax * ax + ay * ay + az * az
    e = bx * bx + by * by + bz * bz
    f = bx * wx + by * wy + bz * wz
    c = ax * wx + ay * wy + az * wz
    b = ax * bx + ay * by + az * bz
    denominator = a * e - b * b
    t = 0.0
    if denominator > 1e-12 * a * e:
        t = min(1.0, max(0.0, (b * f - c * e) / denominator))
    u = (b * t + f) / e
    if u < 0.0:
        u = 0.0
        t = min(1.0, max(0.0, -c / a))
    elif u > 1.0:
        u = 1.0
        t = min(1.0, max(0.0, (b - c) / a))
    g0 = wx + ax * t - bx * u
    g1 = wy + ay * t - by * u
    g2 = wz + az * t - bz * u
    return math.sqrt(g0 * g0 + g1 * g1 + g2 * g2)


@njit(cache=True, nogil=True)
def _clipped(
    kind: Any, start: Any, end: Any, radius: Any, nodes: Any, i: int, j: int, skip: float
) -> tuple[float, float]:
    """Part t0..t1 of line i that is looked at against line j: all of it, less what lies at a joint of the two.

    At a joint metal overlaps by design: ``skip`` radii are left out, between two rods a fifth of the shorter one.
    """
    li = math.sqrt((end[i, 0] - start[i, 0]) ** 2 + (end[i, 1] - start[i, 1]) ** 2 + (end[i, 2] - start[i, 2]) ** 2)
    lj = math.sqrt((end[j, 0] - start[j, 0]) ** 2 + (end[j, 1] - start[j, 1]) ** 2 + (end[j, 2] - start[j, 2]) ** 2)
    cut = skip * (radius[i] + radius[j]) + 1e-7
    if kind[i] == 1 and kind[j] == 1:
        cut = max(cut, 0.2 * min(li, lj))
    elif kind[i] == 0:
        cut = max(cut, 0.01 * min(li, lj))
    t0 = 0.0
    t1 = 1.0
    for side in range(2):
        if nodes[i, 0] == nodes[j, side]:
            t0 = max(t0, cut / li)
        if nodes[i, 1] == nodes[j, side]:
            t1 = min(t1, 1.0 - cut / li)
    return t0, t1


@njit(cache=True, nogil=True)
def _closest(
    kind: Any, start: Any, end: Any, radius: Any, nodes: Any, section: Any, order: int, skip: float
) -> tuple[int, int, int, float, float]:
    """First pair of lines nearer than their radii: (i, j, turn, distance, needed) or i = -1.

    Rods against rods are straight pieces in space, over all copies. Against a surface of revolution a rod is the
    curve (rho, z) it sweeps, followed in short straight steps; two surfaces are compared in the half-plane.
    """
    n = kind.shape[0]
    steps = 48
    p = np.zeros(3)
    q = np.zeros(3)
    r = np.zeros(3)
    v = np.zeros(3)
    first = np.zeros(3)
    last = np.zeros(3)
    for i in range(n):
        for j in range(n):
            if kind[i] == 0 and (kind[j] == 1 or j <= i):
                continue
            if kind[i] == 1 and kind[j] == 1 and j < i:
                continue
            t0, t1 = _clipped(kind, start, end, radius, nodes, i, j, skip)
            if t1 <= t0:
                continue
            both_rods = kind[i] == 1 and kind[j] == 1
            need = radius[i] + radius[j]
            for d in range(3):
                first[d] = start[i, d] + t0 * (end[i, d] - start[i, d])
                last[d] = start[i, d] + t1 * (end[i, d] - start[i, d])
            if both_rods:
                for turn in range(order):
                    if turn == 0 and section[i] == section[j]:
                        continue
                    angle = 2.0 * math.pi * turn / order
                    c, s = math.cos(angle), math.sin(angle)
                    r[0] = c * start[j, 0] - s * start[j, 1]
                    r[1] = s * start[j, 0] + c * start[j, 1]
                    r[2] = start[j, 2]
                    v[0] = c * end[j, 0] - s * end[j, 1]
                    v[1] = s * end[j, 0] + c * end[j, 1]
                    v[2] = end[j, 2]
                    gap = _segments(first, last, r, v)
                    if gap < need - 1e-9:
                        return i, j, turn, gap, need
                continue
            pieces = 1 if kind[i] == 0 else steps
            for k in range(pieces):
                for side in range(2):
                    t = (k + side) / pieces
                    x = first[0] + (last[0] - first[0]) * t
                    y = first[1] + (last[1] - first[1]) * t
                    target = p if side == 0 else q
                    # A ring's points are (rho, 0, z) already.
                    target[0] = math.sqrt(x * x + y * y)
                    target[1] = 0.0
                    target[2] = first[2] + (last[2] - first[2]) * t
                if (p[0] - q[0]) ** 2 + (p[2] - q[2]) ** 2 < 1e-24:
                    continue
                gap = _segments(p, q, start[j], end[j])
                if gap < need - 1e-9 or (need == 0.0 and gap < 1e-7):
                    return i, j, 0, gap, need
    return -1, -1, 0, 0.0, 0.0


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"


def check_overlap(geometry: Geometry) -> None:
    """Refuse rods and sheets that run into each other.

    Raises
    ------
    StructureError
        Names the pieces and the dimension to change.
    """
    lines = geometry.lines
    order = geometry.order
    _check_hubs(geometry)
    _check_angles(geometry)
    _check_lengths(geometry)
    kind = np.array([line.kind for line in lines])
    start = np.array([line.start for line in lines], dtype=float)
    end = np.array([line.end for line in lines], dtype=float)
    radius = np.array([line.radius for line in lines])
    nodes = np.array([[line.start_node, line.end_node] for line in lines])
    section = np.array([line.section for line in lines])
    i, j, turn, gap, need = _closest(kind, start, end, radius, nodes, section, order, 3.0)
    if i < 0:
        _check_near_misses(geometry)
        return
    first, second = lines[i], lines[j]
    if first.name == second.name and turn:
        raise StructureError(
            f"copies of '{first.name}' come within {_mm(gap)} of each other but are {_mm(need)} thick",
            where=first.name,
            mend="move them further from the axis, use fewer copies or a thinner rod",
        )
    if first.kind == RING and second.kind == RING:
        raise StructureError(
            f"'{first.name}' and '{second.name}' cross or touch without a common profile point",
            where=first.name,
            mend="move one of them or give both a profile point where they meet",
        )
    raise StructureError(
        f"'{first.name}' comes within {_mm(gap)} of '{second.name}' and needs {_mm(need)}",
        where=first.name,
        mend="move them apart, join them at a common point, or use thinner metal",
    )


def _check_lengths(geometry: Geometry) -> None:
    """A straight piece of rod must be longer than it is thick: on a shorter one the current has no direction to follow."""
    pieces: dict[int, float] = {}
    for line in geometry.lines:
        if line.kind == ROD:
            pieces[line.section] = pieces.get(line.section, 0.0) + line.length
    for line in geometry.lines:
        if line.kind == ROD and pieces[line.section] < 2.0 * line.radius:
            raise StructureError(
                f"a straight piece of '{line.name}' is {_mm(pieces[line.section])} long but {_mm(2.0 * line.radius)} thick",
                where=line.name,
                mend="leave a point of the bend out, make the piece longer or the rod thinner",
            )


#: A rod's end nearer to other metal than this many diameters, and a sheet's edge nearer than this [m], was meant to touch it.
MISS_DIAMETERS, MISS_EDGE = 2.0, 0.5e-3


def _check_near_misses(geometry: Geometry) -> None:
    """Open circuits: an end that points at other metal and stops just short of it. Rods side by side do not point."""
    for node in geometry.nodes:
        if len(node.ends) != 1 or node.on_axis:
            continue
        index, side = node.ends[0]
        line = geometry.lines[index]
        if line.aperture or (geometry.ground and abs(node.position[2]) < JOIN_TOLERANCE):
            continue
        end = np.array(_ends(line)[side][0], dtype=float)
        limit = MISS_EDGE if line.kind == RING else MISS_DIAMETERS * 2.0 * line.radius
        for other in geometry.lines:
            if other is line or other.aperture or (line.kind == ROD and other.generator == line.generator):
                continue
            reach = limit + other.radius + (line.radius if line.kind == ROD else 0.0)
            ways = [_way(end, line.kind, other, turn, geometry.order) for turn in _turns(line, other, geometry.order)]
            way = min(ways, key=lambda vector: float(np.linalg.norm(vector)))
            gap = float(np.linalg.norm(way))
            if gap < reach and float(way @ _outward(line, side, other)) > 0.5 * gap:
                away = max(0.0, gap - other.radius)
                raise StructureError(
                    f"'{line.name}' ends {_mm(away)} from '{other.name}' without touching it: an open circuit",
                    where=line.name,
                    mend=f"let it end on '{other.name}' (same point or same rho and z), or leave more than {_mm(limit)}",
                )


def _turns(line: Line, other: Line, order: int) -> range:
    return range(order) if line.kind == ROD and other.kind == ROD else range(1)


def _outward(line: Line, side: int, other: Line) -> NDArray[np.float64]:
    """Unit direction in which a line leaves through its end, in the half-plane where a ring is involved."""
    here, there = (np.array(p, dtype=float) for p in _ends(line)[side])
    if RING in (line.kind, other.kind):
        here = np.array([math.hypot(here[0], here[1]), 0.0, here[2]])
        there = np.array([math.hypot(there[0], there[1]), 0.0, there[2]])
    out = here - there
    size = float(np.linalg.norm(out))
    return np.asarray(out / size if size > 0 else out, dtype=np.float64)


def _way(end: NDArray[np.float64], kind: int, other: Line, turn: int, order: int) -> NDArray[np.float64]:
    """From an end to the axis of another line's copy, in the half-plane where a ring is involved."""
    start, stop = np.array(other.start, dtype=float), np.array(other.end, dtype=float)
    point = end.copy()
    if kind == RING or other.kind == RING:
        point = np.array([math.hypot(end[0], end[1]), 0.0, end[2]])
        start = np.array([math.hypot(start[0], start[1]), 0.0, start[2]])
        stop = np.array([math.hypot(stop[0], stop[1]), 0.0, stop[2]])
    elif turn:
        angle = 2 * math.pi * turn / order
        c, s = math.cos(angle), math.sin(angle)
        rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        start, stop = rotation @ start, rotation @ stop
    along = stop - start
    squared = float(along @ along)
    t = 0.0 if squared == 0.0 else min(1.0, max(0.0, float((point - start) @ along) / squared))
    return np.asarray(start + t * along - point, dtype=np.float64)


def _ends(line: Line) -> tuple[tuple[tuple[float, float, float], tuple[float, float, float]], ...]:
    return ((line.start, line.end), (line.end, line.start))


def _check_hubs(geometry: Geometry) -> None:
    """Rods of one set that start round a hub must not overlap there."""
    order = geometry.order
    for line in geometry.lines:
        if line.kind != ROD:
            continue
        for near, far in _ends(line):
            rho = math.hypot(near[0], near[1])
            if rho > math.hypot(far[0], far[1]):
                continue
            count = order * len(
                {
                    other.generator
                    for other in geometry.lines
                    if other.kind == ROD
                    and any(
                        abs(math.hypot(p[0], p[1]) - rho) < JOIN_TOLERANCE and abs(p[2] - near[2]) < JOIN_TOLERANCE
                        for p, _ in _ends(other)
                    )
                    and other.radius == line.radius
                    and other.name == line.name
                }
            )
            if count < 3 and not (count == 2 and rho > JOIN_TOLERANCE):
                continue
            needed = line.radius / math.sin(math.pi / count)
            if geometry.mode and rho < JOIN_TOLERANCE:
                if needed > 0.1 * sum(other.length for other in geometry.lines if other.section == line.section):
                    raise StructureError(
                        f"{count} arms {_mm(2 * line.radius)} thick overlap over {_mm(needed)} where they cross",
                        where=line.name,
                        mend="use thinner rod for arms this short",
                    )
                continue
            if rho < needed - 1e-9:
                raise StructureError(
                    f"{count} rods {_mm(2 * line.radius)} thick cannot meet at a hub of radius {_mm(rho)}",
                    where=line.name,
                    mend=f"start them at {_mm(needed)} from the axis or further (hub radius), and join them there by a disc",
                )


def _check_angles(geometry: Geometry) -> None:
    for node in geometry.nodes:
        rods = [(index, side) for index, side in node.ends if geometry.lines[index].kind == ROD]
        for a in range(len(rods)):
            for b in range(a + 1, len(rods)):
                first, second = geometry.lines[rods[a][0]], geometry.lines[rods[b][0]]
                u = np.subtract(*(_ends(first)[rods[a][1]][::-1])) / first.length
                v = np.subtract(*(_ends(second)[rods[b][1]][::-1])) / second.length
                turn_free = math.hypot(node.position[0], node.position[1])
                apart = math.dist(_ends(first)[rods[a][1]][0], _ends(second)[rods[b][1]][0])
                if geometry.order > 1 and turn_free > JOIN_TOLERANCE and apart > JOIN_TOLERANCE:
                    # The ends meet only after a turn about the axis: their directions do not compare here.
                    continue
                angle = math.degrees(math.acos(max(-1.0, min(1.0, float(np.dot(u, v))))))
                if angle < SHARPEST_ANGLE:
                    raise StructureError(
                        f"'{first.name}' and '{second.name}' meet at {angle:.1f} degrees, too sharp for the rod model",
                        where=first.name,
                        mend=f"open the angle to {SHARPEST_ANGLE:.0f} degrees or more",
                    )
