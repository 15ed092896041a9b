"""A workshop drawing as data: plain entities in metres on the layers cut, bend, engrave and notes.

x to the right, y upward, angles in degrees counter-clockwise from x. Text sizes are metres as well: a drawing is meant
for full size. Files are written from it by :mod:`.svg_file`, :mod:`.dxf_file` and :mod:`.tiles`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from aerialwright.base.errors import AerialwrightError
from aerialwright.base.printing import format_angle, marked_angle
from aerialwright.solution import svg
from aerialwright.solution.figures.palette import COLOURS

Point = tuple[float, float]
#: What a layer is for: through the metal, bending line, scribed on the metal, for the reader only.
LAYERS = ("cut", "bend", "engrave", "notes")


class PatternError(AerialwrightError):
    """A pattern that cannot be drawn, or that no page can hold."""


@dataclass(frozen=True)
class Pen:
    """How a line is printed: ``width`` and ``dash`` lengths [m]; ``colour`` for those who print in colour."""

    width: float
    colour: str
    dash: tuple[float, ...] = ()


#: Widths and dashes after ISO 128-2 [@iso-128]: wide outline, dashed double-dotted bend, narrow rest, dashed dotted centre
#: line; the kinds stay apart in grey by width and dash alone.
PENS = {
    "cut": Pen(0.5e-3, COLOURS["ink"][0]),
    "bend": Pen(0.35e-3, COLOURS["accent"][0], (6e-3, 1.2e-3, 0.6e-3, 1.2e-3, 0.6e-3, 1.2e-3)),
    "engrave": Pen(0.25e-3, COLOURS["limit"][0]),
    "notes": Pen(0.18e-3, COLOURS["quiet"][0]),
    "centre": Pen(0.18e-3, COLOURS["quiet"][0], (6e-3, 1e-3, 0.8e-3, 1e-3)),
    "hidden": Pen(0.25e-3, COLOURS["quiet"][0], (2e-3, 1e-3)),
}


@dataclass(frozen=True)
class Line:
    """A straight line. ``pen``: a key of :data:`PENS` where it is not the layer's own."""

    start: Point
    end: Point
    layer: str = "cut"
    pen: str = ""


@dataclass(frozen=True)
class Circle:
    """A full circle."""

    centre: Point
    radius: float
    layer: str = "cut"
    pen: str = ""


@dataclass(frozen=True)
class Arc:
    """A circular arc from angle ``start`` counter-clockwise to ``end`` [degree], ``end`` the larger number."""

    centre: Point
    radius: float
    start: float
    end: float
    layer: str = "cut"
    pen: str = ""

    def at(self, angle: float) -> Point:
        """The point of its circle at ``angle`` [degree]."""
        return polar(self.radius, angle, self.centre)

    @property
    def length(self) -> float:
        """Developed length [m]."""
        return self.radius * math.radians(self.end - self.start)


@dataclass(frozen=True)
class Polyline:
    """Straight pieces through ``points``. ``fill`` ``"solid"`` (an arrow head) or ``"tint"`` (a pale area without outline,
    for paper only: no cutter's file carries it)."""

    points: tuple[Point, ...]
    closed: bool = False
    layer: str = "cut"
    pen: str = ""
    fill: str = ""


@dataclass(frozen=True)
class Text:
    """One line of text, ``place`` on its base line. ``anchor`` start, middle or end; ``angle`` [degree] of the base line."""

    place: Point
    words: str
    height: float = 3.5e-3
    angle: float = 0.0
    anchor: str = "middle"
    layer: str = "notes"
    bold: bool = False


Entity = Line | Circle | Arc | Polyline | Text


def polar(radius: float, angle: float, centre: Point = (0.0, 0.0)) -> Point:
    """The point at ``radius`` [m] and ``angle`` [degree] from ``centre``."""
    turn = math.radians(angle)
    return (centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn))


def outline(entity: Entity, *, step: float = 2.0) -> tuple[Point, ...]:
    """Points along the entity, arcs in pieces of at most ``step`` degrees; the four corners of a text."""
    match entity:
        case Line(start, end):
            return (start, end)
        case Polyline(points):
            return (*points, points[0]) if entity.closed else points
        case Circle(centre, radius):
            count = math.ceil(360.0 / step)
            return tuple(polar(radius, 360.0 * k / count, centre) for k in range(count + 1))
        case Arc():
            count = max(1, math.ceil((entity.end - entity.start) / step))
            return tuple(entity.at(entity.start + (entity.end - entity.start) * k / count) for k in range(count + 1))
        case Text():
            return _text_corners(entity)


def _text_corners(text: Text) -> tuple[Point, ...]:
    width = svg.text_width(text.words, text.height / CAPITAL)
    left = -width * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    low, high = -0.35 * text.height, 1.1 * text.height
    cosine, sine = math.cos(math.radians(text.angle)), math.sin(math.radians(text.angle))
    corners = ((left, low), (left + width, low), (left + width, high), (left, high), (left, low))
    return tuple((text.place[0] + cosine * x - sine * y, text.place[1] + sine * x + cosine * y) for x, y in corners)


#: Height of a capital letter of usual sans-serif fonts in their nominal size; a text's height is that of its capitals.
CAPITAL = 0.72


@dataclass(frozen=True)
class Box:
    """An upright rectangle."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        """Along x."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Along y."""
        return self.top - self.bottom

    def grown(self, by: float) -> Box:
        """The rectangle with ``by`` more on every side."""
        return Box(self.left - by, self.bottom - by, self.right + by, self.top + by)

    def meets(self, other: Box) -> bool:
        """Whether the two rectangles share a point."""
        return (
            self.left <= other.right
            and other.left <= self.right
            and self.bottom <= other.top
            and other.bottom <= self.top
        )

    def contains(self, other: Box) -> bool:
        """Whether ``other`` lies wholly inside."""
        return (
            self.left <= other.left
            and self.bottom <= other.bottom
            and other.right <= self.right
            and other.top <= self.top
        )

    def touches(self, points: tuple[Point, ...]) -> bool:
        """Whether any straight piece between successive ``points`` passes through the rectangle."""
        return any(self._crossed(a, b) for a, b in pairwise(points))

    def _crossed(self, a: Point, b: Point) -> bool:
        # Liang-Barsky: the stretch of the segment that lies inside both slabs.
        enter, leave = 0.0, 1.0
        for start, end, low, high in ((a[0], b[0], self.left, self.right), (a[1], b[1], self.bottom, self.top)):
            if start == end:
                if not low <= start <= high:
                    return False
                continue
            first, second = sorted(((low - start) / (end - start), (high - start) / (end - start)))
            enter, leave = max(enter, first), min(leave, second)
        return enter <= leave


def box_of(entity: Entity) -> Box:
    """The exact bounding box of an entity (of a text: estimated)."""
    if isinstance(entity, Circle):
        (x, y), r = entity.centre, entity.radius
        return Box(x - r, y - r, x + r, y + r)
    points = outline(entity, step=360.0)
    if isinstance(entity, Arc):
        quadrants = range(math.ceil(entity.start / 90.0), math.floor(entity.end / 90.0) + 1)
        points += tuple(entity.at(90.0 * k) for k in quadrants)
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return Box(min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True)
class Drawing:
    """Entities that belong together, at full size."""

    entities: tuple[Entity, ...]

    def on(self, *layers: str) -> Iterator[Entity]:
        """The entities of these layers."""
        return (entity for entity in self.entities if entity.layer in layers)

    @property
    def box(self) -> Box:
        """Bounding box of everything, texts estimated. Raises :class:`PatternError` for a drawing of nothing."""
        boxes = [box_of(entity) for entity in self.entities]
        if not boxes:
            raise PatternError("a drawing without a line has no size", mend="draw at least one piece")
        return Box(
            min(box.left for box in boxes),
            min(box.bottom for box in boxes),
            max(box.right for box in boxes),
            max(box.top for box in boxes),
        )


@dataclass(frozen=True)
class Pattern:
    """A full-size pattern: its bare ``drawing``, and what must stand beside it on paper and in files.

    ``material`` is the line that says what it is cut from; ``notes`` are whole sentences, the caution first.
    """

    name: str
    quantity: int
    material: str
    drawing: Drawing
    notes: tuple[str, ...] = ()
    compass: tuple[str, ...] = ()
    middle: Drawing | None = None


def millimetres(value: float) -> str:
    """A length [m] as drawings carry it: bare millimetres, two decimals below 100 mm, one above, none that are zero."""
    text = f"{value * 1e3:.{2 if abs(value) < 0.1 else 1}f}"
    text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def degrees(value: float) -> str:
    """An angle [degree] in words: half degrees, which is what a protractor shows; the geometry beside it stays exact."""
    return format_angle(marked_angle(value))
