"""Dimensions by the conventions of ISO 129-1 [@iso-129]: extension lines past the dimension line, narrow filled arrow heads,
the number above its line and readable from the bottom or the right, signs Ø and R, millimetres without a unit.

Every function returns plain entities on the layer of notes, so that no cutter ever follows a dimension line.
"""

from __future__ import annotations

import math

from aerialwright.sheet.drawing import Arc, Entity, Line, Point, Polyline, Text, degrees, millimetres, polar
from aerialwright.solution.svg import text_width

TEXT = 3.5e-3
ARROW = 3e-3
OVERSHOOT = 1.5e-3
GAP = 1e-3
ABOVE = 0.9e-3
#: Half the opening of an arrow head [degree].
_HALF_OPENING = 8.0


def arrow(tip: Point, direction: float) -> Polyline:
    """A narrow filled arrow head with its ``tip`` there, pointing along ``direction`` [degree]."""
    back = ARROW / math.cos(math.radians(_HALF_OPENING))
    sides = (polar(back, direction + 180.0 + side, tip) for side in (_HALF_OPENING, -_HALF_OPENING))
    return Polyline((tip, *sides), closed=True, layer="notes", fill="solid")


def readable(angle: float) -> float:
    """The angle [degree] of a base line along ``angle`` that is read from the bottom or from the right."""
    turned = (angle + 90.0) % 180.0 - 90.0
    # The vertical is read from the right; a rounding error must not turn it over.
    return 90.0 if turned < -89.999 else turned


def label(middle: Point, angle: float, words: str, *, height: float = TEXT, side: float = 1.0) -> Text:
    """Text along a line of direction ``angle`` through ``middle``, above it (``side`` -1: below it)."""
    turn = readable(angle)
    lift = ABOVE if side > 0 else -(ABOVE + height)
    return Text(polar(lift, turn + 90.0, middle), words, height=height, angle=turn)


def length_dimension(start: Point, end: Point, offset: float, words: str = "") -> tuple[Entity, ...]:
    """Distance between two points, its line ``offset`` [m] to the left of the way from ``start`` to ``end``."""
    length = math.dist(start, end)
    along = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    across = along + 90.0
    words = words or millimetres(length)
    a, b = polar(offset, across, start), polar(offset, across, end)
    sign = math.copysign(1.0, offset)
    extension = tuple(
        Line(polar(sign * GAP, across, foot), polar(sign * OVERSHOOT, across, head), layer="notes")
        for foot, head in ((start, a), (end, b))
        if abs(offset) > GAP
    )
    width = text_width(words, TEXT / 0.72)
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    if length >= max(2.6 * ARROW, width):
        return (
            *extension,
            Line(a, b, layer="notes"),
            arrow(a, along + 180.0),
            arrow(b, along),
            label(middle, along, words),
        )
    # Too short: arrows from outside; the number stays between them if it fits there, else over the longer tail.
    tail = 2.0 * ARROW
    if width <= length:
        return (
            *extension,
            Line(polar(-tail, along, a), polar(tail, along, b), layer="notes"),
            arrow(a, along), arrow(b, along + 180.0), label(middle, along, words),
        )  # fmt: skip
    far = polar(tail + width, along, b)
    place = polar(ARROW + 0.5 * width + 1e-3, along, b)
    return (
        *extension,
        Line(polar(-tail, along, a), far, layer="notes"),
        arrow(a, along), arrow(b, along + 180.0), label(place, along, words),
    )  # fmt: skip


def radius_dimension(centre: Point, radius: float, angle: float, *, reach: float | None = None) -> tuple[Entity, ...]:
    """``R`` with the arrow on the arc from inside at ``angle``; its line is ``reach`` [m] long, as far as the centre if it can."""
    words = f"R{millimetres(radius)}"
    need = text_width(words, TEXT / 0.72) + 2.0 * ARROW
    inner = max(0.0, radius - max(reach or 0.0, need))
    tip, back = polar(radius, angle, centre), polar(inner, angle, centre)
    if radius < need:  # a small arc: arrow from outside
        back = polar(radius + need, angle, centre)
        middle = polar(radius + 0.5 * need + 0.5 * ARROW, angle, centre)
        return (Line(tip, back, layer="notes"), arrow(tip, angle + 180.0), label(middle, angle, words))
    middle = polar(0.5 * (inner + radius - ARROW), angle, centre)
    return (Line(back, tip, layer="notes"), arrow(tip, angle), label(middle, angle, words))


def angle_dimension(centre: Point, radius: float, start: float, end: float, words: str = "") -> tuple[Entity, ...]:
    """Angle between two directions: an arc with arrows, counter-clockwise from ``start`` to ``end``, the text outside it."""
    opening = end - start
    middle = start + 0.5 * opening
    half = math.degrees(ARROW / radius) / 2.0  # an arrow head lies along the chord of its arc
    arc = Arc(centre, radius, start, end, layer="notes")
    heads: tuple[Entity, ...] = (arrow(arc.at(start), start - 90.0 + half), arrow(arc.at(end), end + 90.0 - half))
    if arc.length < 2.6 * ARROW:  # arrows from outside
        turn = math.degrees(2.0 * ARROW / radius)
        arc = Arc(centre, radius, start - turn, end + turn, layer="notes")
        heads = (arrow(arc.at(start), start + 90.0 - half), arrow(arc.at(end), end - 90.0 + half))
    return (arc, *heads, around(centre, radius, middle, words or degrees(opening)))


def around(centre: Point, radius: float, angle: float, words: str, *, height: float = TEXT) -> Text:
    """Text just outside a circle at ``angle``, along its tangent and never upside down."""
    turn = readable(angle - 90.0)
    upper = math.cos(math.radians(turn - angle + 90.0)) > 0.0
    return Text(polar(radius + (ABOVE if upper else ABOVE + height), angle, centre), words, height=height, angle=turn)


def leader(tip: Point, elbow: Point, lines: tuple[str, ...], *, height: float = 2.5e-3) -> tuple[Entity, ...]:
    """A leader line from ``tip`` over ``elbow`` to a level line that carries the first of ``lines``; the others stand below it."""
    right = elbow[0] >= tip[0]
    width = max(text_width(line, height / 0.72) for line in lines)
    direction = math.degrees(math.atan2(tip[1] - elbow[1], tip[0] - elbow[0]))
    end = (elbow[0] + (width if right else -width), elbow[1])
    start = min(elbow[0], end[0])
    texts = (
        Text(
            (start, elbow[1] + ABOVE - index * (1.5 * height) - (ABOVE if index else 0.0)),
            line,
            height=height,
            anchor="start",
        )
        for index, line in enumerate(lines)
    )
    return (Line(tip, elbow, layer="notes"), Line(elbow, end, layer="notes"), arrow(tip, direction), *texts)


def centre_mark(centre: Point, radius: float, *, angle: float = 0.0) -> tuple[Entity, ...]:
    """The crossed centre lines of a circle, a little longer than it is; solid where a dash would hide the crossing.

    They are scribed, because the crossing is what the centre punch is set on."""
    reach = radius + 2e-3
    return tuple(
        Line(polar(reach, turn + 180.0, centre), polar(reach, turn, centre), layer="engrave", pen="notes")
        for turn in (angle, angle + 90.0)
    )
