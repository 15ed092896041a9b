"""The flat pattern of a cone: a ring sector per gore, with its seam lap and the holes of the seam."""

from __future__ import annotations

import math
from dataclasses import dataclass

from aerialwright.antennas.workpiece import ConeSheet
from aerialwright.base.printing import format_length, marked_length
from aerialwright.sheet.dimensions import angle_dimension, centre_mark, length_dimension, radius_dimension, readable
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

#: Common practice, no source [@common-practice]: a blind rivet or a screw every 50 mm at most, no nearer to an edge than
#: one and a half diameters; narrower laps are soldered.
SEAM_HOLE = 3.2e-3
SEAM_PITCH = 50e-3
EDGE_DISTANCE = 1.5


@dataclass(frozen=True)
class Development:
    """The ring sector of one gore: ``inner`` and ``outer`` radius [m], ``angle`` [degree] without the lap, ``height`` [m] of the
    rolled cone and its ``half_angle`` [degree]."""

    inner: float
    outer: float
    angle: float
    height: float
    half_angle: float


def develop(cone: ConeSheet) -> Development:
    """Unroll a frustum: radii along the metal, sector of 360 degrees times the sine of the half angle [@cone-layout].

    Raises :class:`PatternError` for radii and a slant that make no cone.
    """
    widening = cone.rim_radius - cone.neck_radius
    lengths = (cone.neck_radius, cone.rim_radius, cone.slant, cone.seam_lap)
    if not all(math.isfinite(length) and length >= 0.0 for length in lengths):
        raise PatternError(
            "a length of the cone is negative or unknown", where="cone", mend="give lengths of zero or more"
        )
    if widening <= 0.0:
        raise PatternError(
            f"a rim of radius {format_length(cone.rim_radius)} is no wider than the neck of {format_length(cone.neck_radius)}",
            where="cone",
            mend="make the rim wider, or cut a straight strip for a tube",
        )
    if cone.slant <= widening * (1.0 + 1e-9):
        raise PatternError(
            f"a slant of {format_length(cone.slant)} cannot reach from the neck out to the rim, {format_length(widening)} away",
            where="cone",
            mend=f"make the slant longer than {format_length(widening)}, or cut a flat disc",
        )
    if cone.gores < 1:
        raise PatternError("a cone has at least one gore", where="cone", mend="set the number of gores to 1 or more")
    return Development(
        inner=cone.slant * cone.neck_radius / widening,
        outer=cone.outer_radius,
        angle=cone.sector / cone.gores,
        height=math.sqrt(cone.slant**2 - widening**2),
        half_angle=math.degrees(math.asin(widening / cone.slant)),
    )


def seam_holes(cone: ConeSheet, flat: Development) -> tuple[float, ...]:
    """Distances [m] of the seam's holes from the apex, measured along the edge; none where the lap is too narrow for them."""
    if cone.seam_lap < 2.0 * EDGE_DISTANCE * SEAM_HOLE:
        return ()
    first = flat.inner + max(0.5 * cone.seam_lap, 2.0 * SEAM_HOLE)
    last = flat.outer - max(0.5 * cone.seam_lap, 2.0 * SEAM_HOLE)
    # Near a sharp apex the two edges run into each other: a hole keeps its distance from the other edge.
    if flat.angle < 90.0:
        first = max(first, (0.5 * cone.seam_lap + EDGE_DISTANCE * SEAM_HOLE) / math.tan(math.radians(flat.angle)))
    if last < first:
        return ()
    count = math.ceil((last - first) / SEAM_PITCH)
    return tuple(first + (last - first) * k / max(count, 1) for k in range(count + 1))


def cone_pattern(cone: ConeSheet, *, name: str, quantity: int, material: str) -> Pattern:
    """The pattern of one gore, cut ``quantity`` times ``cone.gores``; the lap is on its right edge, seen on the outside."""
    flat = develop(cone)
    first, last = -90.0 - 0.5 * flat.angle, -90.0 + 0.5 * flat.angle
    lap = _Lap(cone.seam_lap, flat, last)
    if flat.angle + lap.widest > 360.0:
        raise PatternError(
            f"the sector of {degrees(flat.angle)} and its lap do not fit side by side on a flat sheet",
            where=name,
            mend="cut the cone in two gores or more",
        )
    entities: list[Entity] = [*lap.area()]
    if flat.inner > 0.0:
        entities.append(Arc((0.0, 0.0), flat.inner, first, last + lap.angle_at(flat.inner)))
    entities += [
        Arc((0.0, 0.0), flat.outer, first, last + lap.angle_at(flat.outer)),
        Line(polar(flat.inner, first), polar(flat.outer, first)),
        *lap.edges(),
    ]
    holes = seam_holes(cone, flat)
    for along in holes:
        for edge in (first, last):
            # Both rows lie half a lap to the same side of their edge, so they meet when the lap slides under the other edge.
            centre = _beside(along, edge, 0.5 * cone.seam_lap)
            entities += [Circle(centre, 0.5 * SEAM_HOLE), *centre_mark(centre, 0.5 * SEAM_HOLE, angle=edge)]
    entities += _dimensions(cone, flat, first, last, holes)
    return Pattern(name, quantity * cone.gores, material, Drawing(tuple(entities)), _notes(cone, flat, holes))


def _beside(along: float, edge: float, aside: float) -> Point:
    """The point ``along`` the edge from the apex and ``aside`` of it, counter-clockwise."""
    return polar(aside, edge + 90.0, polar(along, edge))


@dataclass(frozen=True)
class _Lap:
    """The strip of even width beyond the edge at angle ``edge``, its ends on the arcs of neck and rim."""

    width: float
    flat: Development
    edge: float

    def angle_at(self, radius: float) -> float:
        """How far [degree] the arc of ``radius`` runs on over the lap."""
        return math.degrees(math.asin(self.width / radius)) if self.width < radius else 0.0

    @property
    def widest(self) -> float:
        """The largest angle that the lap takes up beyond the edge."""
        return max(
            self.angle_at(self.flat.outer), math.degrees(math.atan2(self.width, self._start)) if self.width else 0.0
        )

    @property
    def _start(self) -> float:
        """Where the strip's outer line starts, along the edge: on the arc of the neck, mitred where the neck is narrower."""
        inner = self.flat.inner
        return math.sqrt(inner**2 - self.width**2) if inner > self.width else inner + self.width

    @property
    def _end(self) -> float:
        return math.sqrt(self.flat.outer**2 - self.width**2)

    def edges(self) -> tuple[Entity, ...]:
        """The cut outline beyond the seam line and the scribed line that the next gore comes up to."""
        near, far = polar(self.flat.inner, self.edge), polar(self.flat.outer, self.edge)
        if not self.width:
            return (Line(near, far),)
        start, end = _beside(self._start, self.edge, self.width), _beside(self._end, self.edge, self.width)
        mitre = (Line(near, start),) if self.flat.inner <= self.width else ()
        return (Line(start, end), Line(near, far, layer="engrave"), *mitre)

    def area(self) -> tuple[Entity, ...]:
        """The strip as a pale area."""
        if not self.width:
            return ()
        points = [polar(self.flat.inner, self.edge), polar(self.flat.outer, self.edge)]
        rim = Arc((0.0, 0.0), self.flat.outer, self.edge, self.edge + self.angle_at(self.flat.outer))
        neck_turn = self.angle_at(self.flat.inner) if self.flat.inner else 0.0
        neck = outline(Arc((0.0, 0.0), self.flat.inner, self.edge, self.edge + neck_turn), step=1.0)
        points += [*outline(rim, step=1.0), _beside(self._start, self.edge, self.width), *reversed(neck)]
        return (Polyline(tuple(points), closed=True, layer="notes", fill="tint"),)


def _dimensions(
    cone: ConeSheet, flat: Development, first: float, last: float, holes: tuple[float, ...]
) -> list[Entity]:
    origin = (0.0, 0.0)
    middle = 0.5 * (first + last)
    slant = flat.outer - flat.inner
    marks: list[Entity] = [
        *length_dimension(polar(flat.inner, first), polar(flat.outer, first), -9e-3),
        *radius_dimension(origin, flat.outer, first + 0.3 * flat.angle, reach=40e-3),
        *angle_dimension(origin, flat.inner + 0.3 * slant, first, last),
    ]
    if flat.angle <= 150.0:  # wider, the chord runs into the edges
        marks += length_dimension(polar(flat.outer, first), polar(flat.outer, last), 0.0)
    if flat.inner > 0.0:
        marks += radius_dimension(origin, flat.inner, first + 0.3 * flat.angle)
    if flat.inner < 0.5 * slant:  # the compass point, unless it lies far off the sheet
        marks += centre_mark(origin, 2e-3)
    tick = min(8e-3, 0.1 * slant)
    for radius, inward in ((flat.inner, tick), (flat.outer, -tick)):
        marks.append(Line(polar(radius, middle), polar(radius + inward, middle), layer="engrave"))
    if cone.seam_lap:
        third = len(holes) // 3
        at = 0.5 * sum(holes[third : third + 2]) if len(holes) > 1 else flat.inner + 0.4 * slant
        marks += length_dimension(polar(at, last), _beside(at, last, cone.seam_lap), 0.0)
        place = _beside(flat.inner + 0.72 * slant, last, -4.5e-3)
        marks.append(Text(place, "the next edge comes up to this line", height=2.5e-3, angle=readable(last)))
    return marks


def _notes(cone: ConeSheet, flat: Development, holes: tuple[float, ...]) -> tuple[str, ...]:
    gores = "one piece" if cone.gores == 1 else f"{cone.gores} equal gores, this is one of them"
    notes = [
        f"The cone is {gores}. Rolled: neck Ø{millimetres(marked_length(2 * cone.neck_radius))} mm, "
        f"rim Ø{millimetres(marked_length(2 * cone.rim_radius))} mm "
        f"({format_length(2 * cone.rim_radius, system='in')}), height {millimetres(marked_length(flat.height))} mm, "
        f"side {degrees(flat.half_angle)} from the axis. Radii hold in the middle of the metal.",
    ]
    if holes:
        pitch = f", {millimetres(marked_length(holes[1] - holes[0]))} mm apart" if len(holes) > 1 else ""
        notes.append(
            f"Seam: {len(holes)} holes Ø{millimetres(SEAM_HOLE)} mm ({format_length(SEAM_HOLE, system='in', style='decimal')})"
            f"{pitch}, in both edges. Drill the lap, roll, clamp, then drill the other edge through it."
        )
    elif cone.seam_lap:
        notes.append("Seam: solder the lap over its whole length.")
    else:
        notes.append("Seam: no lap; the edges meet.")
    return tuple(notes)
