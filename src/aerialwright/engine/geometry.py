"""From a structure to straight generating lines and the nodes where they meet.

The symmetry group of a structure is the set of turns about z that every set of rods shares: the
greatest common divisor of the copies. Each set of ``C`` copies becomes ``C / N`` generating rods of order
``N``. Surfaces of revolution share every turn. A rod on the axis is itself a surface of revolution and
becomes a tube with flat closed ends, unless the structure has no symmetry to keep.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aerialwright.base.errors import Caution, StructureError
from aerialwright.structure.model import (
    JOIN_TOLERANCE,
    ApertureFeed,
    Mesh,
    Metal,
    Rod,
    RodFeed,
    Structure,
    Surface,
)

RING, ROD = 0, 1

#: A solid rod's flat end acts as this part of its radius more of open tube. Measured with this engine's own closed and
#: open tubes (docs/decisions/0010): 0.12 at radii from 1/1000 to 1/50 of a wavelength.
FLAT_END = 0.12


@dataclass
class Line:
    """One straight generating line: a cone, tube or disc (ring) or a straight piece of rod."""

    kind: int
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    radius: float
    section: int
    name: str
    metal: Metal | None
    thickness: float = 0.0
    mesh: Mesh | None = None
    aperture: bool = False
    start_node: int = -1
    end_node: int = -1

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return math.dist(self.start, self.end)


@dataclass
class Node:
    """A point where line ends meet. ``position`` is (rho, z) for rings, and for rods the reduced point."""

    position: tuple[float, float, float]
    ring: bool
    ends: list[tuple[int, int]]

    @property
    def on_axis(self) -> bool:
        """True on the z axis."""
        return math.hypot(self.position[0], self.position[1]) < JOIN_TOLERANCE


@dataclass(frozen=True)
class Aperture:
    """The feed gap in its own frame: along ``axis`` from ``origin``; ``annulus`` from ``inner`` to ``outer``
    radius, or a band of ``radius`` from ``low`` to ``high`` along the axis. ``sense`` is the sign of the
    magnetic ring current M_phi = sense * e(s) about the axis for one volt."""

    annulus: bool
    origin: tuple[float, float, float]
    axis: tuple[float, float, float]
    radius_inner: float
    radius_outer: float
    low: float
    high: float
    sense: float
    on_ground: bool
    copies: bool
    section: int


@dataclass
class Geometry:
    """Everything the mesh needs."""

    lines: list[Line]
    nodes: list[Node]
    order: int
    mode: int
    ground: bool
    aperture: Aperture
    cautions: list[Caution]
    scale: float


def _fail(what: str, where: str, mend: str) -> StructureError:
    return StructureError(what, where=where, mend=mend)


def _mm(value: float) -> str:
    return f"{value * 1e3:.4g} mm"


def _check_numbers(structure: Structure) -> None:
    if structure.mode not in (0, 1):
        raise _fail(f"azimuthal mode {structure.mode} is not modelled", "mode", "use 0 or 1")
    if structure.ground not in ("none", "perfect"):
        raise _fail(f"unknown ground '{structure.ground}'", "ground", "use 'none' or 'perfect'")
    if not structure.rods and not structure.surfaces:
        raise _fail("there is no metal", structure.name, "add a rod or a surface")
    names: set[str] = set()
    for piece in (*structure.rods, *structure.surfaces):
        if piece.name in names:
            raise _fail("two pieces share one name", piece.name, "give each rod and surface its own name")
        names.add(piece.name)
    for rod in structure.rods:
        if not (math.isfinite(rod.radius) and rod.radius > 0):
            raise _fail(f"radius {rod.radius!r} m is not positive", rod.name, "give a radius above zero")
        if rod.copies < 1 or rod.copies > 720:
            raise _fail(f"{rod.copies} copies", rod.name, "use 1 to 720 copies")
        if len(rod.points) < 2:
            raise _fail("a rod needs at least two points", rod.name, "add its other end")
        for point in rod.points:
            if len(point) != 3 or not all(math.isfinite(c) and abs(c) < 1e5 for c in point):
                raise _fail(f"point {point} is not a place", rod.name, "give three finite coordinates")
        for first, second in zip(rod.points, rod.points[1:], strict=False):
            if math.dist(first, second) < 10 * JOIN_TOLERANCE:
                raise _fail("two following points coincide", rod.name, "remove one of them")
            if structure.ground == "perfect" and min(first[2], second[2]) < -JOIN_TOLERANCE:
                raise _fail("metal lies below the ground plane", rod.name, "raise every z to 0 or more")
            if structure.ground == "perfect" and max(abs(first[2]), abs(second[2])) < JOIN_TOLERANCE:
                raise _fail("a rod lies in the ground plane", rod.name, "raise it or remove it")
    for surface in structure.surfaces:
        if structure.mode != 0:
            raise _fail(
                "a sheet of revolution carries only the azimuthally even current (mode 0)",
                surface.name,
                "use mode 0, or replace the sheet by rods",
            )
        if len(surface.profile) < 2:
            raise _fail("a profile needs at least two points", surface.name, "add its other end")
        if not (math.isfinite(surface.thickness) and surface.thickness > 0):
            raise _fail(f"thickness {surface.thickness!r} m is not positive", surface.name, "give a thickness")
        if surface.mesh is not None:
            mesh = surface.mesh
            if not (math.isfinite(mesh.pitch) and 0 < mesh.wire_diameter < mesh.pitch):
                raise _fail("mesh wire must be thinner than its pitch", surface.name, "correct pitch or wire diameter")
        for rho, z in surface.profile:
            if not (math.isfinite(rho) and math.isfinite(z) and 0 <= rho < 1e5 and abs(z) < 1e5):
                raise _fail(f"profile point ({rho}, {z}) is not a place", surface.name, "give rho >= 0 and finite z")
            if structure.ground == "perfect" and z < -JOIN_TOLERANCE:
                raise _fail("metal lies below the ground plane", surface.name, "raise every z to 0 or more")
        for (r0, z0), (r1, z1) in zip(surface.profile, surface.profile[1:], strict=False):
            if math.hypot(r1 - r0, z1 - z0) < 10 * JOIN_TOLERANCE:
                raise _fail("two following profile points coincide", surface.name, "remove one of them")
            if max(r0, r1) < JOIN_TOLERANCE:
                raise _fail("a profile runs along the axis", surface.name, "use a rod on the axis instead")
            if structure.ground == "perfect" and max(abs(z0), abs(z1)) < JOIN_TOLERANCE:
                raise _fail("a sheet lies in the ground plane", surface.name, "raise it or remove it")


def _on_axis(rod: Rod) -> bool:
    return all(math.hypot(x, y) < JOIN_TOLERANCE for x, y, _ in rod.points)


def _turn(point: tuple[float, float, float], angle: float) -> tuple[float, float, float]:
    x, y, z = point
    c, s = math.cos(angle), math.sin(angle)
    return (c * x - s * y, s * x + c * y, z)


def _tube_of(rod: Rod, structure: Structure) -> list[tuple[float, float, float]]:
    """Profile of a rod on the axis, from its first to its last point, closed flat where free."""
    z0, z1 = rod.points[0][2], rod.points[-1][2]
    heights = [p[2] for p in rod.points]
    if sorted(heights) not in (heights, heights[::-1]):
        raise _fail("an axis rod folds back on itself", rod.name, "order its points along the axis")
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


def _split_points(
    start: tuple[float, float, float], end: tuple[float, float, float], candidates: list[tuple[float, float, float]]
) -> list[tuple[float, float, float]]:
    """Points of ``candidates`` that lie inside the straight line, in order, between its ends."""
    a, b = np.asarray(start), np.asarray(end)
    d = b - a
    length = float(np.linalg.norm(d))
    found: list[tuple[float, tuple[float, float, float]]] = []
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


def build_geometry(structure: Structure) -> Geometry:
    """Check a structure and reduce it to generating lines and nodes.

    Raises
    ------
    StructureError
        For metal that cannot exist, cannot be fed or is outside the model; names the piece and the mend.
    """
    _check_numbers(structure)
    cautions: list[Caution] = []
    off_axis = [rod for rod in structure.rods if not _on_axis(rod)]
    axis_rods = [rod for rod in structure.rods if _on_axis(rod)]
    for rod in axis_rods:
        if rod.copies != 1:
            raise _fail("copies of a rod on the axis lie inside each other", rod.name, "set copies = 1")
        if structure.mode != 0:
            raise _fail("a rod on the axis carries no mode-1 current", rod.name, "use mode 0 or remove it")
    order = 0
    for rod in off_axis:
        order = math.gcd(order, rod.copies)
    if structure.mode == 1 and order < 3:
        raise _fail(f"mode 1 needs at least 3 equal arms, found order {order}", "mode", "use 4 copies for quadrature")
    as_tubes = bool(structure.surfaces) or order != 1
    if isinstance(structure.feed, RodFeed) and structure.feed.rod in {rod.name for rod in axis_rods}:
        # A gap in an axis rod is a gap in its tube when the rest has symmetry.
        pass
    order = max(order, 1)
    lines: list[Line] = []
    section = 0
    tubes: list[tuple[float, float, float, str]] = []
    ring_profiles: list[tuple[list[tuple[float, float, float]], str, Metal | None, float, Mesh | None]] = []
    for surface in structure.surfaces:
        points = [(rho, 0.0, z) for rho, z in surface.profile]
        ring_profiles.append((points, surface.name, surface.metal, surface.thickness, surface.mesh))
    rods_left = list(off_axis)
    if as_tubes:
        for rod in axis_rods:
            profile = _tube_of(rod, structure)
            ring_profiles.append((profile, rod.name, rod.metal, rod.radius, None))
            z0, z1 = rod.points[0][2], rod.points[-1][2]
            tubes.append((rod.radius, min(z0, z1), max(z0, z1), rod.name))
    else:
        rods_left = list(structure.rods)

    # Feed as a piece of generating line.
    feed = structure.feed
    aperture_line: tuple[tuple[float, float, float], tuple[float, float, float]] | None = None
    rod_feed = feed if isinstance(feed, RodFeed) else None
    if rod_feed is not None:
        if rod_feed.rod not in {rod.name for rod in structure.rods}:
            raise _fail(f"the feed names a rod '{rod_feed.rod}' that is not there", "feed", "name one of the rods")
        if not (rod_feed.width > 0 and math.isfinite(rod_feed.width) and math.isfinite(rod_feed.distance)):
            raise _fail("the feed gap has no width", "feed width", "give the gap between the metal faces")
        if as_tubes and rod_feed.rod in {rod.name for rod in axis_rods}:
            rod = next(rod for rod in axis_rods if rod.name == rod_feed.rod)
            up = 1.0 if rod.points[-1][2] > rod.points[0][2] else -1.0
            total = abs(rod.points[-1][2] - rod.points[0][2])
            at_foot = rod_feed.distance < JOIN_TOLERANCE
            low = rod_feed.distance - (0.0 if at_foot else 0.5 * rod_feed.width)
            high = rod_feed.distance + 0.5 * rod_feed.width
            if low < -JOIN_TOLERANCE or high > total - JOIN_TOLERANCE:
                raise _fail("the feed gap reaches beyond the rod", "feed distance", "move it inside the rod")
            z0 = rod.points[0][2]
            feed = ApertureFeed(positive=(rod.radius, z0 + up * high), negative=(rod.radius, z0 + up * low))
            rod_feed = None
    if isinstance(feed, ApertureFeed):
        p = (feed.positive[0], 0.0, feed.positive[1])
        n = (feed.negative[0], 0.0, feed.negative[1])
        flat, band = abs(p[2] - n[2]) < JOIN_TOLERANCE, abs(p[0] - n[0]) < JOIN_TOLERANCE
        if flat == band:
            raise _fail(
                "the feed gap must be flat (equal z) or cylindrical (equal rho)", "feed", "move one end of the gap"
            )
        if min(p[0], n[0]) < JOIN_TOLERANCE:
            raise _fail("the feed gap reaches the axis", "feed", "give the inner conductor a radius")
        aperture_line = (n, p)

    # Generating rods of the common order.
    generators: list[tuple[Rod, list[tuple[float, float, float]]]] = []
    for rod in rods_left:
        for index in range(rod.copies // order):
            angle = 2 * math.pi * index / rod.copies
            generators.append((rod, [_turn(point, angle) for point in rod.points]))
    # Hub rule: a rod that runs into a tube on the axis starts at the tube's surface.
    for _rod, points in generators:
        for end, neighbour in ((0, 1), (-1, -2)):
            for a, low, high, _name in tubes:
                x, y, z = points[end]
                if low - JOIN_TOLERANCE <= z <= high + JOIN_TOLERANCE and math.hypot(x, y) < a - JOIN_TOLERANCE:
                    q = points[neighbour]
                    rho_q = math.hypot(q[0], q[1])
                    if rho_q <= a:
                        raise _fail("a rod lies inside the tube on the axis", _rod.name, "make it longer or the tube thinner")
                    ux, uy = q[0] / rho_q, q[1] / rho_q
                    t = a / rho_q
                    points[end] = (a * ux, a * uy, z + (q[2] - z) * t if z not in (low, high) else z)

    ring_vertices = [point for profile, *_ in ring_profiles for point in profile]
    if aperture_line is not None:
        ring_vertices += list(aperture_line)
    rod_ends = [point for _, points in generators for point in (points[0], points[-1])]
    ring_touch = [(math.hypot(x, y), 0.0, z) for x, y, z in rod_ends]
    for profile, name, metal, thickness, mesh in ring_profiles:
        for first, second in zip(profile, profile[1:], strict=False):
            pieces = _split_points(first, second, ring_vertices + ring_touch)
            for start, end in zip(pieces, pieces[1:], strict=False):
                if aperture_line is not None and _same_line(start, end, *aperture_line):
                    continue
                lines.append(Line(RING, start, end, 0.0, -1, name, metal, thickness, mesh))
    if aperture_line is not None:
        on_ground = (
            structure.ground == "perfect"
            and abs(aperture_line[0][2]) < JOIN_TOLERANCE
            and abs(aperture_line[1][2]) < JOIN_TOLERANCE
        )
        if not on_ground:
            lines.append(Line(RING, *aperture_line, 0.0, -1, "feed gap", None, 0.0, None, True))
    for rod, points in generators:
        for first, second in zip(points, points[1:], strict=False):
            marks = list(rod_ends)
            if rod_feed is not None and rod.name == rod_feed.rod:
                marks += _gap_marks(rod_feed, points, rod)
            pieces = _split_points(first, second, marks)
            for start, end in zip(pieces, pieces[1:], strict=False):
                lines.append(Line(ROD, start, end, rod.radius, section, rod.name, rod.metal))
            section += 1

    nodes = _join(lines, order, structure.mode)
    for node in nodes:
        if len(node.ends) == 1 and lines[node.ends[0][0]].kind == ROD:
            if structure.ground == "perfect" and abs(node.position[2]) < JOIN_TOLERANCE:
                continue
            if structure.mode and node.on_axis:
                continue
            index, side = node.ends[0]
            line = lines[index]
            a, b = np.asarray(line.start), np.asarray(line.end)
            grow = (b - a) / line.length * FLAT_END * line.radius
            if side:
                line.end = tuple((b + grow).tolist())
            else:
                line.start = tuple((a - grow).tolist())
    _check_joins(lines, nodes, structure)
    if rod_feed is not None:
        aperture = _rod_aperture(rod_feed, structure, generators, lines)
    else:
        assert aperture_line is not None
        aperture = _ring_aperture(aperture_line, lines, nodes, structure)
    if order == 1 and as_tubes and off_axis:
        cautions.append(
            Caution(
                "caution",
                "a single rod stands beside a surface of revolution: the current round the surface is not modelled",
                "expect a weaker answer when the rod is closer than a quarter wave",
            )
        )
    scale = max(max(math.hypot(*p) for p in (line.start, line.end)) for line in lines)
    return Geometry(lines, nodes, order, structure.mode, structure.ground == "perfect", aperture, cautions, scale)


def _same_line(
    a: tuple[float, float, float],
    b: tuple[float, float, float],
    c: tuple[float, float, float],
    d: tuple[float, float, float],
) -> bool:
    forward = math.dist(a, c) < JOIN_TOLERANCE and math.dist(b, d) < JOIN_TOLERANCE
    backward = math.dist(a, d) < JOIN_TOLERANCE and math.dist(b, c) < JOIN_TOLERANCE
    return forward or backward


def _along(points: list[tuple[float, float, float]], distance: float) -> tuple[float, float, float]:
    left = distance
    for first, second in zip(points, points[1:], strict=False):
        length = math.dist(first, second)
        if left <= length + JOIN_TOLERANCE:
            t = left / length
            return tuple(a + (b - a) * t for a, b in zip(first, second, strict=True))  # type: ignore[return-value]
        left -= length
    raise _fail("the feed lies beyond the end of its rod", "feed distance", "give a distance inside the rod")


def _gap_span(feed: RodFeed) -> tuple[float, float]:
    if feed.distance < JOIN_TOLERANCE:
        return 0.0, 0.5 * feed.width
    return feed.distance - 0.5 * feed.width, feed.distance + 0.5 * feed.width


def _gap_marks(feed: RodFeed, points: list[tuple[float, float, float]], rod: Rod) -> list[tuple[float, float, float]]:
    low, high = _gap_span(feed)
    if low < -JOIN_TOLERANCE:
        raise _fail("the feed gap reaches beyond the rod", "feed distance", "move the feed inside the rod")
    marks = [_along(points, low), _along(points, high)]
    total = 0.0
    for first, second in zip(points, points[1:], strict=False):
        length = math.dist(first, second)
        if total - JOIN_TOLERANCE <= low and high <= total + length + JOIN_TOLERANCE:
            return marks
        total += length
    raise _fail("the feed gap lies across a bend", "feed distance", f"move the gap into a straight part of {rod.name}")


def _rod_aperture(
    feed: RodFeed,
    structure: Structure,
    generators: list[tuple[Rod, list[tuple[float, float, float]]]],
    lines: list[Line],
) -> Aperture:
    mine = [(rod, points) for rod, points in generators if rod.name == feed.rod]
    if len(mine) != 1:
        raise _fail("the fed rod has more copies than the symmetry of the rest", "feed", "give all rods equal copies")
    rod, points = mine[0]
    low, high = _gap_span(feed)
    a, b = _along(points, low), _along(points, high)
    at_foot = low < JOIN_TOLERANCE
    if at_foot:
        foot = points[0]
        grounded = structure.ground == "perfect" and abs(foot[2]) < JOIN_TOLERANCE
        if not grounded and not (structure.mode == 1 and math.hypot(foot[0], foot[1]) < JOIN_TOLERANCE):
            raise _fail("the feed is at a rod end that meets nothing", "feed distance", "feed inside the rod")
    found = False
    section = -1
    for line in lines:
        if line.kind == ROD and line.name == rod.name and _same_line(line.start, line.end, a, b):
            line.aperture = True
            section = line.section
            found = True
    if not found:
        raise _fail("the feed gap is cut by another joint", "feed", "move the feed away from the joint")
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


def _ring_aperture(
    ends: tuple[tuple[float, float, float], tuple[float, float, float]],
    lines: list[Line],
    nodes: list[Node],
    structure: Structure,
) -> Aperture:
    negative, positive = ends
    annulus = abs(positive[2] - negative[2]) < JOIN_TOLERANCE
    on_ground = structure.ground == "perfect" and abs(positive[2]) < JOIN_TOLERANCE and annulus

    def neighbours(point: tuple[float, float, float]) -> list[tuple[float, float, float]]:
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
    if not at_positive or (not at_negative and not on_ground):
        side = "positive" if not at_positive else "negative"
        raise _fail(f"the feed stands on nothing at its {side} side", f"feed {side}", "let it end on a metal edge")
    if annulus:
        inner_is_positive = positive[0] < negative[0]
        inner_point = positive if inner_is_positive else negative
        heights = [p[2] - inner_point[2] for p in neighbours(inner_point)]
        up = max(heights, key=abs, default=0.0)
        if abs(up) < JOIN_TOLERANCE:
            raise _fail(
                "the inner conductor of the feed lies flat in the gap", "feed", "let the inner conductor leave the gap along z"
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


def _join(lines: list[Line], order: int, mode: int) -> list[Node]:
    nodes: list[Node] = []
    step = 2 * math.pi / order

    def find(kind: int, point: tuple[float, float, float]) -> int:
        rho, z = math.hypot(point[0], point[1]), point[2]
        for index, node in enumerate(nodes):
            node_rho, node_z = math.hypot(node.position[0], node.position[1]), node.position[2]
            if abs(rho - node_rho) > JOIN_TOLERANCE or abs(z - node_z) > JOIN_TOLERANCE:
                continue
            if kind == RING or node.ring or rho < JOIN_TOLERANCE:
                if kind == RING and not node.ring:
                    node.ring = True
                    node.position = (rho, 0.0, z)
                return index
            turn = math.atan2(point[1], point[0]) - math.atan2(node.position[1], node.position[0])
            turns = turn / step
            if abs(turns - round(turns)) * step * rho < JOIN_TOLERANCE:
                if mode and round(turns) % order:
                    raise _fail(
                        "arms joined to their neighbours round the axis are not modelled in mode 1",
                        "mode",
                        "leave the arms open or join them on the axis",
                    )
                return index
        position = (rho, 0.0, z) if kind == RING else point
        nodes.append(Node(position, kind == RING, []))
        return len(nodes) - 1

    for kind in (RING, ROD):
        for index, line in enumerate(lines):
            if line.kind != kind:
                continue
            line.start_node = find(kind, line.start)
            line.end_node = find(kind, line.end)
            nodes[line.start_node].ends.append((index, 0))
            nodes[line.end_node].ends.append((index, 1))
    # Two rod nodes at equal (rho, z) that a ring joined later are one node already (the ring came first).
    return nodes


def _check_joins(lines: list[Line], nodes: list[Node], structure: Structure) -> None:
    """Every piece must be reachable from the feed's metal or stand alone on purpose (a parasitic rod)."""
    for line in lines:
        if line.kind == RING and line.start_node == line.end_node:
            raise _fail("a profile piece closes on itself", line.name, "remove the doubled point")
    seen: set[tuple[int, int]] = set()
    for line in lines:
        key = (min(line.start_node, line.end_node), max(line.start_node, line.end_node))
        if key in seen and _doubles(line, key, lines):
            raise _fail("two pieces of metal lie on the same line", line.name, "remove one of them")
        seen.add(key)


def _doubles(line: Line, key: tuple[int, int], lines: list[Line]) -> bool:
    for other in lines:
        if other is line or (min(other.start_node, other.end_node), max(other.start_node, other.end_node)) != key:
            continue
        if other.kind == line.kind and _same_line(other.start, other.end, line.start, line.end):
            return True
    return False


def surface_of(structure: Structure, name: str) -> Surface | None:
    """The surface with that name, if any."""
    return next((surface for surface in structure.surfaces if surface.name == name), None)
