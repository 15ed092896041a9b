"""Gauges to lay a part on: a bend at full size, a hub with its spokes, and a strip to wrap round a pipe."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from aerialwright.antennas.workpiece import Bend
from aerialwright.base.printing import format_length, marked_length
from aerialwright.sheet.dimensions import (
    TEXT,
    angle_dimension,
    around,
    centre_mark,
    leader,
    length_dimension,
    radius_dimension,
)
from aerialwright.sheet.drawing import (
    Arc,
    Circle,
    Drawing,
    Entity,
    Line,
    Pattern,
    PatternError,
    Point,
    Polyline,
    Text,
    degrees,
    millimetres,
    outline,
    polar,
)

#: Longest straight leg [m] that a gauge shows; more does not make the angle easier to judge.
LEG = 80e-3
#: Office paper of 80 g/m² [m]; common practice, no source [@common-practice]. A strip wraps at the middle of the paper.
PAPER_THICKNESS = 0.1e-3
TAB = 10e-3


def bend_gauge(
    bend: Bend, *, thickness: float, legs: tuple[float, float], name: str, quantity: int, material: str
) -> Pattern:
    """The bent piece in full size: lay the metal on it, both legs between the lines.

    ``thickness`` [m] of rod, tube or sheet; ``legs`` [m]: what is straight before and after the bend, shown up to
    :data:`LEG`. Raises :class:`PatternError` for a bend that its legs or its angle do not allow.
    """
    _check_bend(bend, thickness, legs, name)
    first, second = (min(leg, LEG) for leg in legs)
    radius = bend.inside_radius + 0.5 * thickness
    centre: Point = (first, radius)
    last = bend.angle - 90.0
    outer, inner = (Arc(centre, r, -90.0, last) for r in (bend.inside_radius + thickness, bend.inside_radius))

    def along(depth: float, reach: float) -> Point:
        """On the second leg: ``depth`` from the bend's centre, ``reach`` past the end of the arc."""
        return polar(reach, bend.angle, polar(depth, last, centre))

    half = 0.5 * thickness
    sides = []
    for arc, low in ((outer, -half), (inner, half)):
        sides.append(((0.0, low), *outline(arc, step=1.0), along(arc.radius, second)))
    entities: list[Entity] = [Polyline((*sides[0], *reversed(sides[1])), closed=True, layer="notes", fill="tint")]
    for arc, low in ((outer, -half), (inner, half)):
        entities += [Line((0.0, low), (first, low)), Line(along(arc.radius, 0.0), along(arc.radius, second))]
        if arc.radius > 0.0:
            entities.append(arc)
    entities += [
        Line((0.0, -half), (0.0, half)),
        Line(along(inner.radius, second), along(outer.radius, second)),
        Line((-4e-3, 0.0), (first, 0.0), layer="notes", pen="centre"),
        Arc(centre, radius, -90.0, last, layer="notes", pen="centre"),
        Line(along(radius, 0.0), along(radius, second + 4e-3), layer="notes", pen="centre"),
        # Where the arc starts and ends: these are the marks on the straight piece.
        Line((first, -half - 4e-3), (first, half + 4e-3), layer="bend"),
        Line(along(inner.radius - 4e-3, 0.0), along(outer.radius + 4e-3, 0.0), layer="bend"),
        *centre_mark(centre, 1e-3),
        *_bend_dimensions(bend, centre, thickness, second),
    ]
    developed = radius * math.radians(bend.angle)
    notes = (
        f"Lay the bent piece on it: both legs must lie between the lines. Metal {millimetres(thickness)} mm, inside radius "
        f"{millimetres(bend.inside_radius)} mm; the arc takes {millimetres(marked_length(developed))} mm of the centre line "
        f"({format_length(developed, system='in')}).",
        "Metal springs back: bend a little past the angle, let go, compare, correct.",
    )
    return Pattern(name, quantity, material, Drawing(tuple(entities)), notes)


def _check_bend(bend: Bend, thickness: float, legs: tuple[float, float], name: str) -> None:
    if not 0.0 < bend.angle <= 180.0:
        raise PatternError(
            f"a bend of {degrees(bend.angle)} cannot be drawn",
            where=name,
            mend="give the angle away from straight, up to 180°",
        )
    if not (thickness > 0.0 and bend.inside_radius >= 0.0):
        raise PatternError("a bend needs metal of some thickness and a radius", where=name, mend="give both in mm")
    if min(legs) <= 0.0:
        raise PatternError(
            f"a bend of {degrees(bend.angle)} with inside radius {millimetres(bend.inside_radius)} mm leaves no straight leg",
            where=name,
            mend=f"take a smaller radius, or a leg {millimetres(-min(legs) + thickness)} mm longer",
        )


def _bend_dimensions(bend: Bend, centre: Point, thickness: float, second: float) -> Iterator[Entity]:
    radius = centre[1]
    if bend.inside_radius > 12e-3:
        yield from radius_dimension(centre, bend.inside_radius, 0.5 * bend.angle - 90.0)
    else:
        words = f"R{millimetres(bend.inside_radius)} inside"
        yield Text((centre[0] - 4e-3, centre[1] + 1.2e-3), words, height=2.5e-3, anchor="end")
    yield Text((0.5 * min(centre[0], 30e-3), -0.5 * thickness - 6e-3), "datum end", height=2.5e-3)
    if bend.angle > 150.0:
        return  # the legs meet far off or never; the outline says it all
    corner = (centre[0] + radius * math.tan(math.radians(0.5 * bend.angle)), 0.0)
    span = max(16e-3, 0.5 * second)
    tangent = corner[0] - centre[0]
    if bend.angle <= 90.0:
        yield Line(corner, (corner[0] + tangent + span + 4e-3, 0.0), layer="notes")
        yield from angle_dimension(corner, tangent + span, 0.0, bend.angle)
    yield from angle_dimension(corner, tangent + 0.7 * span, bend.angle, 180.0)


def spoke_hub(
    *,
    count: int,
    hub_diameter: float,
    spoke_diameter: float,
    depth: float,
    bore_diameter: float = 0.0,
    droop: float = 0.0,
    first_angle: float = 0.0,
    name: str,
    quantity: int,
    material: str,
) -> Pattern:
    """A round hub seen from above with ``count`` spokes ``depth`` [m] deep in its rim, every angle written at its spoke.

    ``droop`` [degree] below level is told in the notes. Raises :class:`PatternError` where the spokes' holes meet inside.
    """
    outer, inner, half = 0.5 * hub_diameter, 0.5 * hub_diameter - depth, 0.5 * spoke_diameter
    if count < 1 or not all(size > 0.0 for size in (hub_diameter, spoke_diameter, depth)) or not bore_diameter >= 0.0:
        raise PatternError("a hub needs spokes, a diameter and a depth", where=name, mend="give numbers above zero")
    if inner <= 0.5 * bore_diameter:
        raise PatternError(
            f"spokes {millimetres(depth)} mm deep reach the bore or the middle of a hub of Ø{millimetres(hub_diameter)} mm",
            where=name,
            mend=f"drill less than {millimetres(outer - 0.5 * bore_diameter)} mm deep or take a larger hub",
        )
    if count > 1 and inner * math.sin(math.pi / count) <= half:
        least = 2.0 * (half / math.sin(math.pi / count) + depth)
        raise PatternError(
            f"the holes of {count} spokes of Ø{millimetres(spoke_diameter)} mm run into each other inside the hub",
            where=name,
            mend=f"take a hub wider than Ø{millimetres(least)} mm or shallower holes",
        )
    angles = [first_angle + 360.0 * k / count for k in range(count)]
    # A diameter by leader, from the gap between two spokes that lies lower right.
    between = first_angle + 360.0 / count * (round((315.0 - first_angle) * count / 360.0 - 0.5) + 0.5)
    entities: list[Entity] = [
        Circle((0.0, 0.0), outer),
        *leader(
            polar(outer, between), (outer + 32e-3, -outer - 22e-3), (f"Ø{millimetres(hub_diameter)}",), height=TEXT
        ),
        *centre_mark((0.0, 0.0), 0.5 * bore_diameter + 2e-3),
    ]
    if bore_diameter:
        entities.append(Circle((0.0, 0.0), 0.5 * bore_diameter))
    for angle in angles:
        entities += _spoke(angle, inner, outer, half)
    if count > 1:
        entities += angle_dimension((0.0, 0.0), outer + 13e-3, angles[0], angles[1])
    chord = (
        f" Rim marks are {millimetres(hub_diameter * math.sin(math.pi / count))} mm apart in a straight line."
        if count > 1
        else ""
    )
    bore = f", bore Ø{millimetres(bore_diameter)} mm" if bore_diameter else ""
    slope = (
        f" Drill {degrees(droop)} below level."
        if droop > 0.0
        else f" Drill {degrees(-droop)} above level."
        if droop
        else ""
    )
    notes = (
        f"{count} spokes Ø{millimetres(spoke_diameter)} mm, {millimetres(depth)} mm deep in a hub of Ø{millimetres(hub_diameter)} mm"
        f" ({format_length(hub_diameter, system='in')}){bore}.{slope}{chord}",
        "Centre the hub on the cross, carry the lines up its side with a square, punch and drill.",
    )
    return Pattern(name, quantity, material, Drawing(tuple(entities)), notes)


def _spoke(angle: float, inner: float, outer: float, half: float) -> Iterator[Entity]:
    """A spoke in its hole, its centre line to punch on and its angle outside."""
    reach = outer + 22e-3
    for side in (half, -half):
        start, rim = (polar(side, angle + 90.0, polar(r, angle)) for r in (inner, math.sqrt(outer**2 - half**2)))
        yield Line(start, rim, layer="notes", pen="hidden")
        yield Line(rim, polar(side, angle + 90.0, polar(reach, angle)), layer="notes")
    ends = (polar(half, angle + 90.0, polar(inner, angle)), polar(-half, angle + 90.0, polar(inner, angle)))
    yield Line(*ends, layer="notes", pen="hidden")
    yield Line(polar(max(0.0, inner - 3e-3), angle), polar(reach + 2e-3, angle), layer="engrave")
    yield around((0.0, 0.0), reach + 3e-3, angle, degrees(angle % 360.0), height=3e-3)


@dataclass(frozen=True)
class Helix:
    """A line that climbs ``pitch`` [m] per turn from ``start_angle`` [degree] at the lower edge; ``hand`` right or left."""

    pitch: float
    start_angle: float = 0.0
    hand: str = "right"


def wrap_strip(
    *,
    pipe_diameter: float,
    height: float,
    angles: Iterable[tuple[float, str]] = (),
    rings: Iterable[tuple[float, str]] = (),
    helix: Helix | None = None,
    name: str,
    quantity: int,
    material: str,
) -> Pattern:
    """A strip that closes round a pipe: upright lines at ``angles`` [degree], level lines at ``rings`` [m from the lower edge],
    each with its label, and a ``helix``. Angles count counter-clockwise seen from above, the print outside.
    """
    if not (pipe_diameter > 0.0 and height > 0.0):
        raise PatternError("a strip needs a pipe and a height", where=name, mend="give both in mm")
    if helix and (helix.pitch <= 0.0 or helix.hand not in ("right", "left")):
        raise PatternError("a helix needs a pitch above zero and a hand", where=name, mend="write right or left")
    girth = math.pi * (pipe_diameter + PAPER_THICKNESS)
    entities: list[Entity] = [
        Polyline(
            ((girth, 0.0), (girth + TAB, 0.0), (girth + TAB, height), (girth, height)),
            closed=True,
            layer="notes",
            fill="tint",
        ),
        Polyline(((0.0, 0.0), (girth + TAB, 0.0), (girth + TAB, height), (0.0, height)), closed=True),
        Line((girth, 0.0), (girth, height), layer="engrave"),
        Text((girth + 0.5 * TAB + 1.2e-3, 0.5 * height), "glue under", height=2.5e-3, angle=90.0),
        *length_dimension((0.0, 0.0), (girth, 0.0), -9e-3),
        *length_dimension((0.0, 0.0), (0.0, height), 9e-3),
    ]
    for angle, words in angles:
        x = girth * (angle % 360.0) / 360.0
        entities += [
            Line((x, 0.0), (x, height), layer="engrave"),
            Text((x + 1.2e-3, height - 1.5e-3), words, height=2.5e-3, angle=-90.0, anchor="start"),
        ]
    for level, words in rings:
        if not 0.0 <= level <= height:
            raise PatternError(
                f"a ring at {millimetres(level)} mm lies off a strip of {millimetres(height)} mm",
                where=name,
                mend="make the strip higher",
            )
        entities += [
            Line((0.0, level), (girth, level), layer="engrave"),
            Text((0.5 * girth, level + 1e-3), words, height=2.5e-3),
        ]
    if helix:
        entities += _helix_lines(helix, girth, height)
    turn = f" Helix: {helix.hand}-handed, {millimetres(helix.pitch)} mm per turn." if helix else ""
    notes = (
        f"Cut out, wrap round the pipe of Ø{millimetres(pipe_diameter)} mm ({format_length(pipe_diameter, system='in')}), print outside,"
        f" this side up; the left edge must come exactly to the line at the tab. Paper of {millimetres(PAPER_THICKNESS)} mm is allowed for."
        + turn,
    )
    return Pattern(name, quantity, material, Drawing(tuple(entities)), notes)


def _helix_lines(helix: Helix, girth: float, height: float) -> Iterator[Entity]:
    """The helix unrolled: a straight line that starts again at the other edge after every turn.

    With the print outside, a right-handed line climbs to the right."""
    sign = 1.0 if helix.hand == "right" else -1.0
    slope = helix.pitch / girth
    x, y = girth * (helix.start_angle % 360.0) / 360.0, 0.0
    if sign < 0.0 and x == 0.0:
        x = girth
    while y < height - 1e-9:
        run = min((girth - x) if sign > 0.0 else x, (height - y) / slope)
        end = (x + sign * run, y + slope * run)
        yield Line((x, y), end, layer="engrave")
        x, y = (0.0 if sign > 0.0 else girth), end[1]
