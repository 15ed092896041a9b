"""Metal that would lie inside other metal, found before anything is solved."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from aerialwright.base.errors import StructureError
from aerialwright.engine.geometry import RING, ROD, Geometry, Line
from aerialwright.structure.model import JOIN_TOLERANCE

#: Smallest angle between two joined rods that the thin-wire joint stands for [degree].
SHARPEST_ANGLE = 15.0
_SAMPLES = 13


@njit(cache=True, nogil=True)
def _point_segment(
    px: float, py: float, pz: float, ax: float, ay: float, az: float, bx: float, by: float, bz: float
) -> float:
    dx, dy, dz = bx - ax, by - ay, bz - az
    l2 = dx * dx + dy * dy + dz * dz
    t = ((px - ax) * dx + (py - ay) * dy + (pz - az) * dz) / l2
    t = min(1.0, max(0.0, t))
    return math.sqrt((px - ax - t * dx) ** 2 + (py - ay - t * dy) ** 2 + (pz - az - t * dz) ** 2)


@njit(cache=True, nogil=True)
def _closest(
    kind: Any, start: Any, end: Any, radius: Any, nodes: Any, order: int, skip: Any
) -> tuple[int, int, int, float, float]:
    """First pair of lines nearer than their radii: (i, j, turn, distance, needed) or i = -1.

    Points within ``skip`` radii of a joint the two lines share are not looked at.
    """
    n = kind.shape[0]
    for i in range(n):
        li = math.sqrt((end[i, 0] - start[i, 0]) ** 2 + (end[i, 1] - start[i, 1]) ** 2 + (end[i, 2] - start[i, 2]) ** 2)
        for j in range(n):
            if kind[i] == 0 and (kind[j] == 1 or j <= i):
                continue
            both_rods = kind[i] == 1 and kind[j] == 1
            turns = order if both_rods else 1
            for turn in range(turns):
                if i == j and turn == 0:
                    continue
                angle = 2.0 * math.pi * turn / order
                c, s = math.cos(angle), math.sin(angle)
                if kind[j] == 1:
                    ax, ay = c * start[j, 0] - s * start[j, 1], s * start[j, 0] + c * start[j, 1]
                    bx, by = c * end[j, 0] - s * end[j, 1], s * end[j, 0] + c * end[j, 1]
                else:
                    ax, ay, bx, by = start[j, 0], 0.0, end[j, 0], 0.0
                need = radius[i] + radius[j]
                lj = math.sqrt((bx - ax) ** 2 + (by - ay) ** 2 + (end[j, 2] - start[j, 2]) ** 2)
                for q in range(_SAMPLES):
                    t = q / (_SAMPLES - 1.0)
                    px = start[i, 0] + t * (end[i, 0] - start[i, 0])
                    py = start[i, 1] + t * (end[i, 1] - start[i, 1])
                    pz = start[i, 2] + t * (end[i, 2] - start[i, 2])
                    if kind[j] == 0:
                        px, py = math.sqrt(px * px + py * py), 0.0
                    shared = False
                    for side_i in range(2):
                        for side_j in range(2):
                            if nodes[i, side_i] == nodes[j, side_j]:
                                d = t * li if side_i == 0 else (1.0 - t) * li
                                if d < skip * (radius[i] + radius[j]) + 1e-9 or d > li + 1.0:
                                    shared = True
                                if both_rods and nodes[i, side_i] == nodes[j, side_j] and d < 0.2 * min(li, lj):
                                    shared = True
                    if shared:
                        continue
                    gap = _point_segment(px, py, pz, ax, ay, start[j, 2], bx, by, end[j, 2])
                    if gap < need - 1e-9 or (need == 0.0 and gap < 1e-7):
                        return i, j, turn, gap, need
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
    kind = np.array([line.kind for line in lines])
    start = np.array([line.start for line in lines], dtype=float)
    end = np.array([line.end for line in lines], dtype=float)
    radius = np.array([line.radius for line in lines])
    nodes = np.array([[line.start_node, line.end_node] for line in lines])
    i, j, turn, gap, need = _closest(kind, start, end, radius, nodes, order, 3.0)
    if i < 0:
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
                    other.section
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
