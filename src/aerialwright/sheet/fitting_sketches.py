"""Sketches of what is fitted to the antenna: the stripped end of the coax, the choke, the weather seal and the mounting.

They show what goes where; only the figures written in them are sizes. Lettered at 3.5 mm like every drawing and printed smaller.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from aerialwright.sheet.dimensions import GAP, OVERSHOOT, TEXT, arrow, length_dimension
from aerialwright.sheet.drawing import Arc, Circle, Drawing, Entity, Line, Point, Polyline, Text, millimetres, polar
from aerialwright.sheet.piece_sketch import spread
from aerialwright.solution.figures.outline import extent, feed_place, rod_copies
from aerialwright.solution.svg import text_width, wrap
from aerialwright.structure.model import Structure


def _box(left: float, bottom: float, right: float, top: float, *, pen: str = "", fill: str = "") -> Polyline:
    layer = "notes" if fill else "cut"
    return Polyline(((left, bottom), (right, bottom), (right, top), (left, top)), True, layer, pen, fill)


def _words(place: Point, *lines: str, anchor: str = "start", bold: bool = False) -> list[Entity]:
    return [
        Text((place[0], place[1] - 1.4 * TEXT * k), line, height=TEXT, anchor=anchor, bold=bold)
        for k, line in enumerate(lines)
    ]


def _pointer(tip: Point, start: Point) -> list[Entity]:
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
        entities.append(_box(xs[k + 1] if k < len(steps) else left, -half, xs[k], half))
    entities.append(_box(left, -halves[-1], xs[-1], halves[-1], fill="tint"))
    base = -halves[-1] - 2.6 * TEXT
    entities += [Line((left + 8e-3, base), (0.0, base), layer="notes"), Circle((0.0, base), 0.9e-3, layer="notes")]
    entities.append(Line((0.0, -halves[0] - GAP), (0.0, base - OVERSHOOT), layer="notes"))
    for k, (x, (what, length)) in enumerate(zip(xs[1:], steps, strict=True)):
        entities += [
            Line((x, -halves[k + 1] - GAP), (x, base - OVERSHOOT), layer="notes"), arrow((x, base), 180.0),
            Text((x, base - OVERSHOOT - 1.2 * TEXT), millimetres(length), height=TEXT, bold=True),
        ]  # fmt: skip
        y = halves[-1] + 2.0e-3 + 1.6 * TEXT * (len(steps) - 1 - k)
        entities += [*_pointer((x, halves[k + 1]), (x, y + 0.4 * TEXT)), *_words((x + 1.2e-3, y), what)]
    entities += _words((0.0, base - OVERSHOOT - 1.2 * TEXT), "0", anchor="middle")
    return Drawing(tuple(entities))


def choke_sketch(*, turns: int, ring: str, coax: float = 5e-3) -> Drawing:
    """A coil of the coax below the feed from the front and from the side; ``ring`` is what the middle of the turns measures."""
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
    entities += length_dimension(polar(radius, 215.0), polar(radius, 35.0), 0.0, ring)
    entities += _words((-radius + 3.5e-3, radius + up - TEXT), "to the antenna")
    entities += _words((radius - 3.5e-3, -radius + down + 0.5 * TEXT), "to the radio", anchor="end")
    # From the side: the turns lie one against the other.
    left = radius + 16e-3
    for k in range(turns):
        entities.append(_box(left + 2.0 * wire * k, -radius - wire, left + 2.0 * wire * (k + 1), radius + wire))
    right = left + 2.0 * wire * turns
    for y in (-0.5 * radius, 0.5 * radius):
        entities.append(_box(left - 1.0e-3, y - 1.3e-3, right + 1.0e-3, y + 1.3e-3, fill="solid"))
    entities += _words(
        (0.5 * (left + right), radius + wire + 1.9 * TEXT), f"{turns} turns", "side by side", anchor="middle"
    )
    entities += _words((0.5 * (left + right), -radius - wire - 1.5 * TEXT), "tied", anchor="middle")
    return Drawing(tuple(entities))


def seal_sketch() -> Drawing:
    """Plug and socket with the tape wound from below upward, and the drip loop."""
    entities: list[Entity] = [
        _box(-11e-3, 26e-3, 11e-3, 29e-3), _box(-5e-3, 15e-3, 5e-3, 26e-3), _box(-6e-3, 2e-3, 6e-3, 15e-3),
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
        *_pointer((-10e-3, 24e-3), (-10e-3, 2e-3)),
        *_words((-13e-3, 14e-3), "wind", "upward,", "half over", "half", anchor="end"),
    ]
    entities += [*_words((23e-3, -20e-3), "drip loop,", "lowest point")]
    entities += [*_pointer((19e-3, -20.5e-3), (22.5e-3, -18.5e-3))]
    entities += [
        *_words((14e-3, 26.5e-3), "flange of the antenna"),
        *_words((14e-3, 18e-3), "socket"),
        *_words((14e-3, 8e-3), "plug"),
    ]
    entities += [*_pointer((5e-3, 19.5e-3), (13.3e-3, 19.5e-3)), *_pointer((6e-3, 9.5e-3), (13.3e-3, 9.5e-3))]
    return Drawing(tuple(entities))


def mounting_sketch(structure: Structure, *, clearance: str, lines_away: str) -> Drawing:
    """The antenna on its pole with clamps, coax, choke and drip loop; ``clearance`` to other metal, ``lines_away`` to power lines.

    An antenna that is fed in the middle of upright metal hangs beside the pole on an arm, any other stands on its top.
    """
    box = extent(structure)
    size = min(50e-3 / box.height, 46e-3 / box.width)
    feed_x, feed_z = feed_place(structure)
    beside = _hangs_beside(structure)
    entities: list[Entity] = [
        Polyline(tuple((x * size, (z - feed_z) * size) for x, z in points)) for points in _views(structure)
    ]
    low, right = (box.bottom - feed_z) * size, box.right * size
    pole = min(box.left * size, 0.0) - 24e-3 if beside else 0.0
    top = 12e-3 if beside else -6e-3
    foot = min(low, top) - 34e-3
    entities.append(_box(pole - _POLE, foot, pole + _POLE, top))
    side = pole + _POLE + 1.6e-3
    if beside:
        entities += [_box(pole, -3.6e-3, 0.0, -1.4e-3), *_clamp((pole, -2.5e-3))]
        coax = [(feed_x * size, 0.0), (0.5 * pole, 0.0), (side, -5e-3), (side, foot - 5e-3)]
        ring = (0.4 * pole, 2.6e-3)
    else:
        entities += [*_clamp((0.0, top - 4e-3)), *_clamp((0.0, top - 14e-3))]
        coax = [(feed_x * size, 0.0), (side, top - 1e-3), (side, foot - 5e-3)]
        ring = (side + 2.6e-3, top - 8.5e-3)
    loop = (side + 4e-3, foot - 5e-3)
    entities += [
        Polyline(tuple(coax), False, "cut", "engrave"), Circle(ring, 2.6e-3, "cut", "engrave"),
        Arc(loop, 4e-3, 180.0, 360.0, "cut", "engrave"), Line((side + 8e-3, foot - 5e-3), (side + 8e-3, foot - 1e-3), "cut", "engrave"),
        *_pointer((side + 8e-3, foot - 7e-3), (side + 15e-3, foot - 5e-3)), *_words((side + 16e-3, foot - 6e-3), "drip loop"),
    ]  # fmt: skip
    tie = foot + 10e-3
    entities += [
        Line((side - 4.5e-3, tie), (side + 1.5e-3, tie), "cut"),
        *_pointer((side + 1.5e-3, tie), (side + 13e-3, tie)),
    ]
    entities += _words((side + 14e-3, tie - 0.4 * TEXT), "tied: the pole", "carries the coax")
    name = (ring[0] - 7e-3, ring[1] + 9e-3) if beside else (ring[0] + 12e-3, min(ring[1], low - 7e-3))
    entities += [
        *_pointer(ring, (name[0] - (0.0 if beside else 1e-3), name[1])),
        *_words((name[0], name[1] + (1e-3 if beside else -1e-3)), "choke", anchor="end" if beside else "start"),
    ]
    # Anything that conducts: a hatched wall, as ground is drawn.
    wall = max(right, side + 8e-3) + max(text_width(clearance, TEXT / 0.72) + 8e-3, 22e-3)
    height = (_widest_at(structure, right / size) - feed_z) * size
    high = (box.top - feed_z) * size
    entities.append(Line((wall, low), (wall, high), "cut"))
    for k in range(int((high - low) / 4e-3)):
        entities.append(Line((wall, low + 4e-3 * k), (wall + 3e-3, low + 4e-3 * (k + 1)), "notes"))
    entities += length_dimension((right, height), (wall, height), 0.0, clearance)
    entities += _words((wall - 2e-3, high - TEXT), "other metal,", "walls, cables", anchor="end")
    middle = 0.5 * (min(box.left * size, pole) + wall)
    entities += _words((middle, foot - 11e-3 - 1.4 * TEXT), *wrap(lines_away, TEXT / 0.72, 100e-3), anchor="middle")
    return Drawing(tuple(entities))


#: Half the thickness of a drawn pole.
_POLE = 2.2e-3


def _clamp(middle: Point) -> list[Entity]:
    x, y = middle
    return [_box(x - _POLE - 1.6e-3, y - 1.4e-3, x + _POLE + 1.6e-3, y + 1.4e-3, fill="solid")]


def _widest_at(structure: Structure, reach: float) -> float:
    """Height [m] of the metal that reaches furthest to the right, where a distance to the side is measured from."""
    points = [point for line in _views(structure) for point in line]
    return max(points, key=lambda point: point[0] - abs(reach - point[0]))[1]


def _hangs_beside(structure: Structure) -> bool:
    """Whether the metal below the feed mirrors that above it, so that no pole can stand under the feed."""
    feed = feed_place(structure)[1]
    box = extent(structure)
    points = [(abs(x), z - feed) for line in _views(structure) for x, z in line]
    above, below = (max((x for x, z in points if sign * z > 0.0), default=0.0) for sign in (1.0, -1.0))
    up, down = box.top - feed, feed - box.bottom
    even = abs(up - down) < 0.1 * box.height and abs(above - below) < 0.1 * max(above, below)
    return even and box.height > 0.2 * box.width


def _views(structure: Structure) -> list[tuple[Point, ...]]:
    """The metal seen from the side [m]."""
    lines = [tuple((x, z) for x, _, z in points) for rod in structure.rods for points in rod_copies(rod)]
    for surface in structure.surfaces:
        right = tuple(surface.profile)
        left = tuple((-rho, z) for rho, z in reversed(right))
        lines.append((*right, *left, right[0]))
    return lines
