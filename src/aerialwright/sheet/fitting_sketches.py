"""Sketches of what is fitted to the antenna: the stripped end of the coax, the choke and the weather seal.

They show what goes where; only the figures written in them are sizes. Lettered at 3.5 mm like every drawing and printed smaller.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from aerialwright.sheet.dimensions import GAP, OVERSHOOT, TEXT, arrow, length_dimension
from aerialwright.sheet.drawing import Arc, Circle, Drawing, Entity, Line, Point, Polyline, Text, millimetres, polar
from aerialwright.sheet.piece_sketch import spread
from aerialwright.solution.svg import text_width


def box(left: float, bottom: float, right: float, top: float, *, pen: str = "", fill: str = "") -> Polyline:
    """An upright rectangle: outlined as cut metal, or filled."""
    layer = "notes" if fill else "cut"
    return Polyline(((left, bottom), (right, bottom), (right, top), (left, top)), True, layer, pen, fill)


def words_at(place: Point, *lines: str, anchor: str = "start", bold: bool = False) -> list[Entity]:
    """Lines of text, the first on ``place``."""
    return [
        Text((place[0], place[1] - 1.4 * TEXT * k), line, height=TEXT, anchor=anchor, bold=bold)
        for k, line in enumerate(lines)
    ]


def pointer(tip: Point, start: Point) -> list[Entity]:
    """A leader line with its arrow head."""
    way = math.degrees(math.atan2(tip[1] - start[1], tip[0] - start[0]))
    return [Line(start, tip, layer="notes"), arrow(tip, way)]


def strip_back_sketch(strip_back: Sequence[tuple[str, float]]) -> Drawing:
    """The end of the coax with each part taken off, as running dimensions from the end of the centre conductor.

    ``strip_back``: (what, length [m] from the end), the longest first: jacket, braid, dielectric.
    """
    steps = sorted(strip_back, key=lambda step: step[1])
    widest = max(text_width(millimetres(length), TEXT / 0.72) for _, length in steps)
    xs = [-x for x in spread([0.0, *(length for _, length in steps)], 78e-3, widest + 4e-3)]
    left = xs[-1] - 22e-3
    halves = [1.2e-3, *(1.2e-3 + 2.2e-3 * (k + 1) for k in range(len(steps)))]
    entities: list[Entity] = []
    # From the centre conductor outward: each layer begins where it is no longer stripped.
    for k, half in enumerate(halves):
        entities.append(box(xs[k + 1] if k < len(steps) else left, -half, xs[k], half))
    entities.append(box(left, -halves[-1], xs[-1], halves[-1], fill="tint"))
    base = -halves[-1] - 2.6 * TEXT
    entities += [Line((left + 8e-3, base), (0.0, base), layer="notes"), Circle((0.0, base), 0.9e-3, layer="notes")]
    entities.append(Line((0.0, -halves[0] - GAP), (0.0, base - OVERSHOOT), layer="notes"))
    for k, (x, (what, length)) in enumerate(zip(xs[1:], steps, strict=True)):
        entities += [
            Line((x, -halves[k + 1] - GAP), (x, base - OVERSHOOT), layer="notes"), arrow((x, base), 180.0),
            Text((x, base - OVERSHOOT - 1.2 * TEXT), millimetres(length), height=TEXT, bold=True),
        ]  # fmt: skip
        y = halves[-1] + 2.0e-3 + 1.6 * TEXT * k
        entities += [
            *pointer((x, halves[k + 1]), (x, y + 0.4 * TEXT)),
            *words_at((x + 1.2e-3, y), _short(what)),
        ]
    entities += words_at((0.0, base - OVERSHOOT - 1.2 * TEXT), "0", anchor="middle")
    return Drawing(tuple(entities))


def _short(what: str) -> str:
    """'dielectric off the centre conductor (measure yours)' as 'dielectric off'."""
    return what.partition(" (")[0].partition(",")[0].partition(" the ")[0]


def choke_sketch(*, turns: int, former: str) -> Drawing:
    """A coil of the coax below the feed from the front and from the side; ``former`` is what it is wound on."""
    radius, wire = 17e-3, 1.7e-3
    entities: list[Entity] = [Circle((0.0, 0.0), radius + wire), Circle((0.0, 0.0), radius - wire)]
    for angle in (0.0, 90.0, 180.0, 270.0):
        a = math.radians(angle)
        tie = [(radius + sign * 2.6e-3, side * 1.3e-3) for sign, side in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        turned = tuple((x * math.cos(a) - y * math.sin(a), x * math.sin(a) + y * math.cos(a)) for x, y in tie)
        entities.append(Polyline(turned, True, "notes", "cut", "solid"))
    up, down = 13e-3, -13e-3
    for x in (-radius - wire, -radius + wire):
        entities.append(Line((x, 0.0), (x, radius + up)))
    for x in (radius - wire, radius + wire):
        entities.append(Line((x, 0.0), (x, -radius + down)))
    entities += length_dimension(polar(radius - wire, 215.0), polar(radius - wire, 35.0), 0.0, former)
    entities += words_at((-radius + 3.5e-3, radius + up - TEXT), "to the antenna")
    entities += words_at((radius - 3.5e-3, -radius + down + 0.5 * TEXT), "to the radio", anchor="end")
    # From the side: the turns lie one against the other.
    left = radius + 16e-3
    for k in range(turns):
        entities.append(box(left + 2.0 * wire * k, -radius - wire, left + 2.0 * wire * (k + 1), radius + wire))
    right = left + 2.0 * wire * turns
    for y in (-0.5 * radius, 0.5 * radius):
        entities.append(box(left - 1.0e-3, y - 1.3e-3, right + 1.0e-3, y + 1.3e-3, fill="solid"))
    entities += words_at(
        (0.5 * (left + right), radius + wire + 1.9 * TEXT), f"{turns} turns", "side by side", anchor="middle"
    )
    entities += words_at((0.5 * (left + right), -radius - wire - 1.5 * TEXT), "tied", anchor="middle")
    return Drawing(tuple(entities))


def seal_sketch() -> Drawing:
    """Plug and socket with the tape wound from below upward, and the drip loop."""
    entities: list[Entity] = [
        box(-11e-3, 26e-3, 11e-3, 29e-3), box(-5e-3, 15e-3, 5e-3, 26e-3), box(-6e-3, 2e-3, 6e-3, 15e-3),
        Line((-1.8e-3, 2e-3), (-1.8e-3, -14e-3)), Line((1.8e-3, 2e-3), (1.8e-3, -14e-3)),
    ]  # fmt: skip
    hull = ((-3e-3, -10e-3), (-3e-3, -4e-3), (-7.5e-3, 1e-3), (-7.5e-3, 25.5e-3))
    for sign in (-1.0, 1.0):
        entities.append(Polyline(tuple((sign * x, y) for x, y in hull), False, "bend", "hidden"))
    for k in range(9):
        y = -8e-3 + 3.6e-3 * k
        half = 3e-3 if y < -4e-3 else min(7.5e-3, 3e-3 + (y + 4e-3) * 0.9)
        if y + 2.4e-3 < 25e-3:
            entities.append(Line((-half, y), (half, y + 2.4e-3), layer="notes"))
    # The drip loop: down, round and up again, lower than where the coax enters anything.
    centre = (9e-3, -14e-3)
    entities += [Arc(centre, 10.8e-3, 180.0, 360.0), Arc(centre, 7.2e-3, 180.0, 360.0)]
    entities += [Line((x, -14e-3), (x, -4e-3)) for x in (16.2e-3, 19.8e-3)]
    entities += [
        *pointer((-10e-3, 24e-3), (-10e-3, 2e-3)),
        *words_at((-13e-3, 14e-3), "wind", "upward,", "half over", "half", anchor="end"),
    ]
    entities += [*words_at((23e-3, -20e-3), "drip loop,", "lowest point")]
    entities += [*pointer((19e-3, -20.5e-3), (22.5e-3, -18.5e-3))]
    entities += [
        *words_at((14e-3, 26.5e-3), "flange of the antenna"),
        *words_at((14e-3, 18e-3), "socket"),
        *words_at((14e-3, 8e-3), "plug"),
    ]
    entities += [*pointer((5e-3, 19.5e-3), (13.3e-3, 19.5e-3)), *pointer((6e-3, 9.5e-3), (13.3e-3, 9.5e-3))]
    return Drawing(tuple(entities))


def sealed_end_sketch() -> Drawing:
    """The end of the coax on two halves: leads as short as they go, braid and dielectric sealed, then the drip loop."""
    entities: list[Entity] = [
        box(-2.5e-3, 5e-3, 2.5e-3, 30e-3), box(-2.5e-3, -30e-3, 2.5e-3, -5e-3),
        Line((2.5e-3, 7e-3), (9e-3, 1.5e-3)), Line((2.5e-3, -7e-3), (9e-3, -1.5e-3)),
        box(9e-3, -2.4e-3, 34e-3, 2.4e-3),
        Polyline(((-5e-3, 12e-3), (5e-3, 12e-3), (17e-3, 5e-3), (17e-3, -5e-3), (5e-3, -12e-3), (-5e-3, -12e-3)), True, "bend", "hidden"),
    ]  # fmt: skip
    for radius in (5.6e-3, 10.4e-3):
        entities.append(Arc((34e-3, -8e-3), radius, 0.0, 90.0))
    for x in (39.6e-3, 44.4e-3):
        entities.append(Line((x, -8e-3), (x, -14e-3)))
    entities += [Arc((49.4e-3, -14e-3), 9.8e-3, 180.0, 360.0), Arc((49.4e-3, -14e-3), 5e-3, 180.0, 360.0)]
    entities += [Line((x, -14e-3), (x, -4e-3)) for x in (54.4e-3, 59.2e-3)]
    entities += [
        *pointer((14e-3, 6.6e-3), (20e-3, 14e-3)),
        *words_at((21e-3, 14e-3), "sealed: tags, gap", "and the end of the coax"),
    ]
    entities += [*pointer((46e-3, -22.8e-3), (40e-3, -27e-3)), *words_at((39e-3, -28e-3), "drip loop", anchor="end")]
    entities += [*words_at((6e-3, 25e-3), "upper half: centre"), *words_at((6e-3, -22e-3), "lower half: braid")]
    return Drawing(tuple(entities))
