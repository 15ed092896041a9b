"""The feed gap on its generating line, in its own frame."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from aerialwright.engine.lines import RING, ROD, Aperture, Line, Node, Point, fault, same_line
from aerialwright.structure.model import JOIN_TOLERANCE, Rod, RodFeed, Structure


def along(points: list[Point], distance: float, where: str = "feed distance") -> Point:
    """The point ``distance`` [m] along a polyline from its first point."""
    if not 0 <= distance < math.inf:
        raise fault(f"{distance} m is no place on a rod", where, "give a distance inside the rod")
    left = distance
    for first, second in pairwise(points):
        length = math.dist(first, second)
        if left <= length + JOIN_TOLERANCE:
            t = left / length
            x, y, z = (a + (b - a) * t for a, b in zip(first, second, strict=True))
            return (x, y, z)
        left -= length
    raise fault("lies beyond the end of its rod", where, "give a distance inside the rod")


def _gap_span(feed: RodFeed) -> tuple[float, float]:
    if feed.distance < JOIN_TOLERANCE:
        return 0.0, 0.5 * feed.width
    return feed.distance - 0.5 * feed.width, feed.distance + 0.5 * feed.width


def gap_marks(feed: RodFeed, points: list[Point], rod: Rod) -> list[Point]:
    """Both ends of the gap on a rod's centre line; refuses a gap beyond the rod or across a bend."""
    low, high = _gap_span(feed)
    if low < -JOIN_TOLERANCE:
        raise fault("the feed gap reaches beyond the rod", "feed distance", "move the feed inside the rod")
    marks = [along(points, low), along(points, high)]
    total = 0.0
    for first, second in pairwise(points):
        length = math.dist(first, second)
        if total - JOIN_TOLERANCE <= low and high <= total + length + JOIN_TOLERANCE:
            return marks
        total += length
    raise fault("the feed gap lies across a bend", "feed distance", f"move the gap into a straight part of {rod.name}")


def rod_aperture(
    feed: RodFeed,
    structure: Structure,
    generators: list[tuple[Rod, list[Point]]],
    lines: list[Line],
) -> Aperture:
    """The gap in a rod, which may have copies; marks its line as the feed."""
    mine = [(rod, points) for rod, points in generators if rod.name == feed.rod]
    if len(mine) != 1:
        raise fault("the fed rod has more copies than the symmetry of the rest", "feed", "give all rods equal copies")
    rod, points = mine[0]
    low, high = _gap_span(feed)
    a, b = along(points, low), along(points, high)
    at_foot = low < JOIN_TOLERANCE
    if at_foot:
        foot = points[0]
        grounded = structure.ground == "perfect" and abs(foot[2]) < JOIN_TOLERANCE
        if not grounded and not (structure.mode == 1 and math.hypot(foot[0], foot[1]) < JOIN_TOLERANCE):
            raise fault("the feed is at a rod end that meets nothing", "feed distance", "feed inside the rod")
    found = False
    section = -1
    for line in lines:
        if line.kind == ROD and line.name == rod.name and same_line(line.start, line.end, a, b):
            line.aperture = True
            section = line.section
            found = True
    if not found:
        raise fault("the feed gap is cut by another joint", "feed", "move the feed away from the joint")
    axis = np.subtract(b, a) / math.dist(a, b)
    return Aperture(
        annulus=False,
        origin=a,
        axis=(float(axis[0]), float(axis[1]), float(axis[2])),
        radius_inner=rod.radius,
        radius_outer=rod.radius,
        low=0.0,
        high=math.dist(a, b),
        sense=-1.0,
        on_ground=False,
        copies=True,
        section=section,
    )


#: An open tube counts as closed where its end is this many radii away: the field inside falls as exp(-2.405 z/a) from the gap.
TUBE_DEPTH = 4.0


def _closes(point: Point, lines: list[Line], ground: bool) -> bool:
    """True if surfaces lead from ``point`` to the axis, to the ground, or to the far open end of a narrow tube."""
    reached = {point: 0.0}
    todo = [point]
    while todo:
        here = todo.pop()
        if here[0] < JOIN_TOLERANCE or (ground and abs(here[2]) < JOIN_TOLERANCE):
            return True
        onward = 0
        for line in lines:
            if line.kind != RING or line.aperture:
                continue
            for a, b in ((line.start, line.end), (line.end, line.start)):
                if math.dist(a, here) < JOIN_TOLERANCE:
                    onward += 1
                    if b not in reached:
                        reached[b] = reached[here] + line.length
                        todo.append(b)
        if onward == 1 and reached[here] > TUBE_DEPTH * here[0]:
            return True
    return False


def ring_aperture(
    ends: tuple[Point, Point],
    lines: list[Line],
    nodes: list[Node],
    structure: Structure,
) -> Aperture:
    """The gap about the z axis, flat or cylindrical, with the sense of its magnetic current."""
    negative, positive = ends
    annulus = abs(positive[2] - negative[2]) < JOIN_TOLERANCE
    on_ground = structure.ground == "perfect" and abs(positive[2]) < JOIN_TOLERANCE and annulus

    def neighbours(point: Point) -> list[Point]:
        out = []
        for line in lines:
            if line.kind == RING and not line.aperture:
                if math.dist(line.start, point) < JOIN_TOLERANCE:
                    out.append(line.end)
                elif math.dist(line.end, point) < JOIN_TOLERANCE:
                    out.append(line.start)
        return out

    at_positive = neighbours(positive)
    at_negative = neighbours(negative)
    stands = structure.ground == "perfect" and abs(negative[2]) < JOIN_TOLERANCE
    if not at_positive or (not at_negative and not stands):
        side = "positive" if not at_positive else "negative"
        raise fault(f"the feed stands on nothing at its {side} side", f"feed {side}", "let it end on a metal edge")
    grounded = structure.ground == "perfect"
    for side, end in (("positive", positive), ("negative", negative)):
        if not _closes(end, lines, grounded):
            raise fault(
                f"the metal behind the feed gap is open at its {side} side",
                f"feed {side}",
                "close it toward the axis: a flat end on the rod or tube, a bottom in the shell",
            )
    if annulus:
        inner_is_positive = positive[0] < negative[0]
        inner_point = positive if inner_is_positive else negative
        heights = [p[2] - inner_point[2] for p in neighbours(inner_point)]
        up = max(heights, key=abs, default=0.0)
        if abs(up) < JOIN_TOLERANCE:
            raise fault(
                "the inner conductor of the feed lies flat in the gap",
                "feed",
                "let the inner conductor leave the gap along z",
            )
        normal = 1.0 if up > 0 else -1.0
        # M = e n x t with t from negative to positive; z x rho = phi.
        radial = 1.0 if positive[0] > negative[0] else -1.0
        sense = normal * radial
        return Aperture(
            True,
            (0.0, 0.0, positive[2]),
            (0.0, 0.0, 1.0),
            min(positive[0], negative[0]),
            max(positive[0], negative[0]),
            0.0,
            0.0,
            sense,
            on_ground,
            False,
            -1,
        )
    upward = 1.0 if positive[2] > negative[2] else -1.0
    low, high = min(positive[2], negative[2]), max(positive[2], negative[2])
    # rho x z = -phi
    return Aperture(
        False, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0), positive[0], positive[0], low, high, -upward, False, False, -1
    )
