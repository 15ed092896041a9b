"""From a structure to straight generating lines and the nodes where they meet.

The symmetry group of a structure is the set of turns about z that every set of rods shares: the
greatest common divisor of the copies. Each set of ``C`` copies becomes ``C / N`` generating rods of order
``N``. Surfaces of revolution share every turn. A rod on the axis is itself a surface of revolution and
becomes a tube with flat closed ends, unless the structure has no symmetry to keep.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from aerialwright.base.errors import Caution
from aerialwright.engine.gap import along, gap_marks, ring_aperture, rod_aperture
from aerialwright.engine.inspect import check_numbers
from aerialwright.engine.joints import check_joins, flat_ends, join
from aerialwright.engine.lines import RING, ROD, Aperture, Geometry, Line, Node, Point, fault, same_line
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import JOIN_TOLERANCE, ApertureFeed, Mesh, Metal, Rod, RodFeed, Structure

__all__ = ["RING", "ROD", "Aperture", "Geometry", "Line", "Node", "build_geometry"]


def _on_axis(rod: Rod) -> bool:
    return all(math.hypot(x, y) < JOIN_TOLERANCE for x, y, _ in rod.points)


def _turn(point: Point, angle: float) -> Point:
    x, y, z = point
    c, s = math.cos(angle), math.sin(angle)
    return (c * x - s * y, s * x + c * y, z)


def _tube_of(rod: Rod, structure: Structure) -> list[Point]:
    """Profile of a rod on the axis, from its first to its last point, closed flat where free."""
    z0, z1 = rod.points[0][2], rod.points[-1][2]
    heights = [p[2] for p in rod.points]
    if sorted(heights) not in (heights, heights[::-1]):
        raise fault("an axis rod folds back on itself", rod.name, "order its points along the axis")
    a = rod.radius
    profile = [(a, 0.0, z0), (a, 0.0, z1)]

    def shut(z: float) -> bool:
        if structure.ground == "perfect" and abs(z) < JOIN_TOLERANCE:
            return False
        for surface in structure.surfaces:
            for rho, zs in surface.profile:
                if abs(zs - z) < JOIN_TOLERANCE and rho <= a + JOIN_TOLERANCE:
                    return False
        for other in structure.rods:
            if other is rod or not _on_axis(other):
                continue
            for point in (other.points[0], other.points[-1]):
                if abs(point[2] - z) < JOIN_TOLERANCE:
                    if abs(other.radius - a) > JOIN_TOLERANCE:
                        # The step between two radii is closed by the thicker rod.
                        return a > other.radius
                    return False
        return True

    def inner(z: float) -> float:
        for other in structure.rods:
            if other is not rod and _on_axis(other) and other.radius < a - JOIN_TOLERANCE:
                for point in (other.points[0], other.points[-1]):
                    if abs(point[2] - z) < JOIN_TOLERANCE:
                        return other.radius
        return 0.0

    if shut(z0):
        profile.insert(0, (inner(z0), 0.0, z0))
    if shut(z1):
        profile.append((inner(z1), 0.0, z1))
    return profile


def _split_points(start: Point, end: Point, candidates: list[Point]) -> list[Point]:
    """Points of ``candidates`` that lie inside the straight line, in order, between its ends."""
    a, b = np.asarray(start), np.asarray(end)
    d = b - a
    length = float(np.linalg.norm(d))
    found: list[tuple[float, Point]] = []
    for point in candidates:
        t = float(np.dot(np.asarray(point) - a, d)) / length**2
        if t * length < JOIN_TOLERANCE or (1 - t) * length < JOIN_TOLERANCE:
            continue
        if float(np.linalg.norm(a + t * d - np.asarray(point))) < JOIN_TOLERANCE:
            found.append((t, point))
    found.sort(key=lambda item: item[0])
    points = [start]
    for _, point in found:
        if math.dist(points[-1], point) > JOIN_TOLERANCE:
            points.append(point)
    points.append(end)
    return points


def _ring_feed(
    structure: Structure, axis_rods: list[Rod], as_tubes: bool
) -> tuple[ApertureFeed | None, RodFeed | None]:
    """The feed as a gap about the axis, or as a gap in a rod; a gap in an axis rod becomes one in its tube."""
    feed = structure.feed
    if isinstance(feed, ApertureFeed):
        return feed, None
    rod = next((rod for rod in structure.rods if rod.name == feed.rod), None)
    if rod is None:
        raise fault(f"the feed names a rod '{feed.rod}' that is not there", "feed", "name one of the rods")
    if not (feed.width > 0 and math.isfinite(feed.width) and math.isfinite(feed.distance)):
        raise fault("the feed gap has no width", "feed width", "give the gap between the metal faces")
    if not as_tubes or rod not in axis_rods:
        return None, feed
    foot, tip = rod.points[0][2], rod.points[-1][2]
    if feed.distance < JOIN_TOLERANCE and not (structure.ground == "perfect" and abs(foot) < JOIN_TOLERANCE):
        raise fault(
            "the feed is at a rod end that meets nothing",
            "feed distance",
            "feed inside a rod that runs through the gap, or write the gap of two rods as kind 'aperture'",
        )
    low = feed.distance - (0.0 if feed.distance < JOIN_TOLERANCE else 0.5 * feed.width)
    high = feed.distance + 0.5 * feed.width
    if low < -JOIN_TOLERANCE or high > abs(tip - foot) - JOIN_TOLERANCE:
        raise fault("the feed gap reaches beyond the rod", "feed distance", "move it inside the rod")
    up = math.copysign(1.0, tip - foot)
    return ApertureFeed(positive=(rod.radius, foot + up * high), negative=(rod.radius, foot + up * low)), None


def _gap_line(feed: ApertureFeed) -> tuple[Point, Point]:
    """Negative and positive end of a gap about the axis."""
    p = (feed.positive[0], 0.0, feed.positive[1])
    n = (feed.negative[0], 0.0, feed.negative[1])
    if not all(math.isfinite(v) for v in (*p, *n)):
        raise fault("the feed gap has no place", "feed", "give finite coordinates")
    flat, band = abs(p[2] - n[2]) < JOIN_TOLERANCE, abs(p[0] - n[0]) < JOIN_TOLERANCE
    if flat == band:
        raise fault("the feed gap must be flat (equal z) or cylindrical (equal rho)", "feed", "move one end of the gap")
    if min(p[0], n[0]) < JOIN_TOLERANCE:
        raise fault("the feed gap reaches the axis", "feed", "give the inner conductor a radius")
    return n, p


def _start_at_tubes(generators: list[tuple[Rod, list[Point]]], tubes: list[Rod]) -> None:
    """Hub rule: a rod that runs into a tube on the axis starts at the tube's surface. Changes the points in place."""
    for rod, points in generators:
        for side, neighbour in ((0, 1), (-1, -2)):
            for tube in tubes:
                low, high = sorted((tube.points[0][2], tube.points[-1][2]))
                x, y, z = points[side]
                if not low - JOIN_TOLERANCE <= z <= high + JOIN_TOLERANCE:
                    continue
                if math.hypot(x, y) >= tube.radius - JOIN_TOLERANCE:
                    continue
                q = points[neighbour]
                rho = math.hypot(q[0], q[1])
                if rho <= tube.radius:
                    raise fault(
                        "a rod lies inside the tube on the axis", rod.name, "make it longer or the tube thinner"
                    )
                t = tube.radius / rho
                at = z if z in (low, high) else z + (q[2] - z) * t
                points[side] = (q[0] * t, q[1] * t, at)


@dataclass(frozen=True)
class _Profile:
    points: list[Point]
    name: str
    metal: Metal | None
    thickness: float
    mesh: Mesh | None


def build_geometry(structure: Structure) -> Geometry:
    """Check a structure and reduce it to generating lines and nodes.

    Raises
    ------
    StructureError
        For metal that cannot exist, cannot be fed or is outside the model; names the piece and the mend.
    """
    check_numbers(structure)
    off_axis = [rod for rod in structure.rods if not _on_axis(rod)]
    axis_rods = [rod for rod in structure.rods if _on_axis(rod)]
    for rod in axis_rods:
        if rod.copies != 1:
            raise fault("copies of a rod on the axis lie inside each other", rod.name, "set copies = 1")
        if structure.mode != 0:
            raise fault("a rod on the axis carries no mode-1 current", rod.name, "use mode 0 or remove it")
    order = math.gcd(*(rod.copies for rod in off_axis)) if off_axis else 0
    if structure.mode == 1 and order < 3:
        raise fault(f"mode 1 needs at least 3 equal arms, found order {order}", "mode", "use 4 copies for quadrature")
    as_tubes = bool(structure.surfaces) or order != 1
    order = max(order, 1)
    ring_feed, rod_feed = _ring_feed(structure, axis_rods, as_tubes)
    gap_line = _gap_line(ring_feed) if ring_feed is not None else None

    profiles = [
        _Profile(
            [(rho, 0.0, z) for rho, z in surface.profile], surface.name, surface.metal, surface.thickness, surface.mesh
        )
        for surface in structure.surfaces
    ]
    if as_tubes:
        profiles += [_Profile(_tube_of(rod, structure), rod.name, rod.metal, rod.radius, None) for rod in axis_rods]
    generators: list[tuple[Rod, list[Point]]] = []
    for rod in off_axis if as_tubes else structure.rods:
        for index in range(rod.copies // order):
            angle = 2 * math.pi * index / rod.copies
            generators.append((rod, [_turn(point, angle) for point in rod.points]))
    if as_tubes:
        _start_at_tubes(generators, axis_rods)

    lines = _ring_lines(profiles, generators, gap_line, structure.ground == "perfect")
    lines += _rod_lines(generators, rod_feed)
    _coat(lines, structure)
    nodes = join(lines, order, structure.mode)
    flat_ends(lines, nodes, structure)
    check_joins(lines, nodes, structure)
    if rod_feed is not None:
        aperture = rod_aperture(rod_feed, structure, generators, lines)
    else:
        assert gap_line is not None
        aperture = ring_aperture(gap_line, lines, nodes, structure)
    cautions = []
    if order == 1 and as_tubes and off_axis:
        cautions.append(
            Caution(
                "caution",
                "a single rod stands beside a surface of revolution: the current round the surface is not modelled",
                "expect a weaker answer when the rod is closer than a quarter wave",
            )
        )
    _place_loads(lines, structure, generators, axis_rods if as_tubes else [])
    scale = max(max(math.hypot(*p) for p in (line.start, line.end)) for line in lines)
    earth = structure.ground if isinstance(structure.ground, Ground) else None
    return Geometry(
        lines, nodes, order, structure.mode, structure.ground == "perfect", aperture, cautions, scale, earth
    )


def _coat(lines: list[Line], structure: Structure) -> None:
    """Give the plastic of each rod to its lines; the flat ends of an axis rod stay bare."""
    for rod in structure.rods:
        if rod.coating is None:
            continue
        for line in lines:
            if line.name != rod.name:
                continue
            if line.kind == ROD or abs(line.start[0] - line.end[0]) < JOIN_TOLERANCE:
                line.coating = rod.coating


def _place_loads(
    lines: list[Line], structure: Structure, generators: list[tuple[Rod, list[Point]]], tubes: list[Rod]
) -> None:
    """Put each load on the line it lies on."""
    for load in structure.loads:
        places: list[Point] = []
        for tube in tubes:
            if tube.name == load.rod:
                x, _, z = along(list(tube.points), load.distance, "load distance")
                places.append((tube.radius + x, 0.0, z))
        for rod, points in generators:
            if rod.name == load.rod:
                places.append(along(points, load.distance, "load distance"))
        if not places:
            raise fault(f"a load names a rod '{load.rod}' that is not there", "load", "name one of the rods")
        for place in places:
            for line in lines:
                before = math.dist(line.start, place)
                on_it = before + math.dist(place, line.end) < line.length + JOIN_TOLERANCE
                if line.name == load.rod and on_it and not line.aperture:
                    line.loads.append((before, load))
                    break
            else:
                raise fault("a load lies in the feed gap or off its rod", "load distance", "move it along the rod")


def _ring_lines(
    profiles: list[_Profile],
    generators: list[tuple[Rod, list[Point]]],
    gap_line: tuple[Point, Point] | None,
    ground: bool,
) -> list[Line]:
    """Cones, tubes and discs, cut wherever other metal or the gap touches them; the gap itself."""
    lines: list[Line] = []
    marks = [point for profile in profiles for point in profile.points]
    if gap_line is not None:
        marks += list(gap_line)
    for _, points in generators:
        marks += [(math.hypot(x, y), 0.0, z) for x, y, z in (points[0], points[-1])]
    for profile in profiles:
        for first, second in pairwise(profile.points):
            for start, end in pairwise(_split_points(first, second, marks)):
                if gap_line is not None and same_line(start, end, *gap_line):
                    continue
                lines.append(
                    Line(RING, start, end, 0.0, -1, profile.name, profile.metal, profile.thickness, profile.mesh)
                )
    if gap_line is not None and not (ground and max(abs(gap_line[0][2]), abs(gap_line[1][2])) < JOIN_TOLERANCE):
        lines.append(Line(RING, *gap_line, 0.0, -1, "feed gap", None, 0.0, None, True))
    return lines


def _rod_lines(generators: list[tuple[Rod, list[Point]]], feed: RodFeed | None) -> list[Line]:
    """Straight pieces of rods, cut where other rods end on them and at the gap; one section number for each straight piece."""
    lines: list[Line] = []
    ends = [point for _, points in generators for point in (points[0], points[-1])]
    section = 0
    for number, (rod, points) in enumerate(generators):
        marks = list(ends)
        if feed is not None and rod.name == feed.rod:
            marks += gap_marks(feed, points, rod)
        for first, second in pairwise(points):
            for start, end in pairwise(_split_points(first, second, marks)):
                lines.append(Line(ROD, start, end, rod.radius, section, rod.name, rod.metal, generator=number))
            section += 1
    return lines
