"""Patterns of flat pieces: discs and plates with holes and scribed rays, and the drilling template of a panel socket."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from aerialwright.antennas.workpiece import HoleCircle, Plate
from aerialwright.base.printing import format_length, marked_length
from aerialwright.sheet.dimensions import angle_dimension, centre_mark, leader, length_dimension
from aerialwright.sheet.drawing import (
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
    polar,
)
from aerialwright.stock.connectors import Connector

#: Room [m] that a callout takes to the right of its elbow, and from one to the next below.
CALLOUT_WIDTH = 50e-3
CALLOUT_PITCH = 19e-3
#: Holes on circles up to this diameter [m] are drilled by a template of the plate's middle.
MIDDLE = 0.1
#: How far a callout's lines hang below its elbow.
CALLOUT_FOOT = 10e-3


def hole_centres(holes: HoleCircle) -> tuple[Point, ...]:
    """Centres [m] of the holes, counter-clockwise from the first."""
    if holes.circle_diameter == 0.0:
        return ((0.0, 0.0),)
    return tuple(
        polar(0.5 * holes.circle_diameter, holes.first_angle + 360.0 * k / holes.count) for k in range(holes.count)
    )


def plate_pattern(plate: Plate, *, name: str, quantity: int, material: str) -> Pattern:
    """The pattern of a plate. Raises :class:`PatternError` where a hole does not fit on it or holes run into each other."""
    _check(plate, name)
    half_x, half_y = 0.5 * (plate.across if plate.width is None else plate.width), 0.5 * plate.across
    entities: list[Entity] = [*_edge(plate, half_x, half_y)]
    if not plate.rays:
        entities += _centre_lines(half_x, half_y)
    for holes in plate.holes:
        entities += _drilled(holes)
    entities += _rays(plate, half_x, half_y)
    entities += _callouts(plate, half_x)
    thickness = f", {millimetres(plate.thickness)} mm thick" if plate.thickness else ""
    size = format_length(plate.across, system="in")
    across = f"{millimetres(marked_length(plate.across))} mm"
    shape = f"Ø{across} ({size})" if plate.width is None else (
        f"{millimetres(marked_length(plate.width))} × {across} ({format_length(plate.width, system='in')} × {size})"
    )  # fmt: skip
    notes = [f"Plate {shape}{thickness}. Punch the crossings, drill small first, deburr both sides."]
    if plate.rays:
        notes.append(f"{len(plate.rays)} scribed lines from the middle show where the spokes lie.")
    return Pattern(name, quantity, material, Drawing(tuple(entities)), tuple(notes), _compass(plate), _middle(plate))


def _compass(plate: Plate) -> tuple[str, ...]:
    """How a round plate is marked out without a pattern of its whole size; nothing for one with straight sides."""
    if plate.width is not None:
        return ()
    half = 0.5 * plate.across
    lines = [f"Rim: radius {millimetres(marked_length(half))} mm ({format_length(half, system='in')})."]
    for holes in plate.holes:
        if holes.circle_diameter > MIDDLE:
            lines.append(f"{holes.count} holes Ø{millimetres(holes.hole_diameter)} mm, {holes.purpose}: "
                         f"{_stepped(holes.count, 0.5 * holes.circle_diameter)}.")  # fmt: skip
    if len(plate.rays) > 1:
        lines.append(f"{len(plate.rays)} scribed lines: {_stepped(len(plate.rays), half)}.")
    return tuple(lines)


def _stepped(count: int, radius: float) -> str:
    chord = millimetres(marked_length(2.0 * radius * math.sin(math.pi / count)))
    return f"radius {millimetres(marked_length(radius))} mm, stepped off {chord} mm apart in a straight line"


def _middle(plate: Plate) -> Drawing | None:
    """The holes round the middle of a plate, None where there are none."""
    inner = tuple(holes for holes in plate.holes if holes.circle_diameter <= MIDDLE)
    if not inner:
        return None
    reach = max(0.5 * (holes.circle_diameter + holes.hole_diameter) for holes in inner) + 6e-3
    small = Plate(2.0 * reach, holes=inner)
    drilled = (entity for holes in inner for entity in _drilled(holes))
    return Drawing((*_centre_lines(reach, reach), *drilled, *_callouts(small, reach)))


def _check(plate: Plate, name: str) -> None:
    sides = (plate.across,) if plate.width is None else (plate.across, plate.width)
    if not all(math.isfinite(side) and side > 0.0 for side in sides):
        raise PatternError("a plate without size", where=name, mend="give its diameter or both sides")
    for holes in plate.holes:
        if holes.count < 1 or not holes.hole_diameter > 0.0 or not holes.circle_diameter >= 0.0:
            raise PatternError(
                "a hole circle without holes", where=f"{name}, {holes.purpose}", mend="give count and diameters"
            )
        spare = min(_room(plate, centre) for centre in hole_centres(holes)) - 0.5 * holes.hole_diameter
        if spare <= 0.0:
            raise PatternError(
                f"holes of Ø{millimetres(holes.hole_diameter)} mm on a circle of Ø{millimetres(holes.circle_diameter)} mm "
                f"reach {millimetres(-spare)} mm past the edge of the plate",
                where=f"{name}, {holes.purpose}",
                mend=f"make the plate more than {millimetres(-2.0 * spare)} mm larger or the hole circle smaller",
            )
    drilled = [(c, h.hole_diameter, h.purpose) for h in plate.holes for c in hole_centres(h)]
    for index, (centre, diameter, purpose) in enumerate(drilled):
        for other, other_diameter, other_purpose in drilled[:index]:
            if math.dist(centre, other) < 0.5 * (diameter + other_diameter):
                raise PatternError(
                    f"holes of {other_purpose} and {purpose} run into each other",
                    where=name,
                    mend="take fewer or smaller holes, a wider circle or another first angle",
                )


def _room(plate: Plate, centre: Point) -> float:
    """Distance from a point to the nearest edge of the plate, negative outside."""
    if plate.width is None:
        return 0.5 * plate.across - math.hypot(*centre)
    return min(0.5 * plate.width - abs(centre[0]), 0.5 * plate.across - abs(centre[1]))


def _edge(plate: Plate, half_x: float, half_y: float) -> tuple[Entity, ...]:
    away = 16e-3 if plate.rays else 9e-3  # clear of the angles written round the edge
    if plate.width is None:
        bottom = -half_y - away
        size = length_dimension(
            (-half_x, bottom), (half_x, bottom), 0.0, f"Ø{millimetres(marked_length(2.0 * half_x))}"
        )
        extension = (Line((x, 0.0), (x, bottom - 1.5e-3), layer="notes") for x in (-half_x, half_x))
        return (Circle((0.0, 0.0), half_x), *extension, *size)
    corners = ((-half_x, -half_y), (half_x, -half_y), (half_x, half_y), (-half_x, half_y))
    return (
        Polyline(corners, closed=True),
        *length_dimension(corners[0], corners[1], -away),
        *length_dimension(corners[0], corners[3], away),
    )


def _centre_lines(half_x: float, half_y: float) -> tuple[Entity, ...]:
    return (
        Line((-half_x - 4e-3, 0.0), (half_x + 4e-3, 0.0), layer="notes", pen="centre"),
        Line((0.0, -half_y - 4e-3), (0.0, half_y + 4e-3), layer="notes", pen="centre"),
    )


def _drilled(holes: HoleCircle) -> Iterable[Entity]:
    if holes.circle_diameter and holes.count > 1:
        yield Circle((0.0, 0.0), 0.5 * holes.circle_diameter, layer="notes", pen="centre")
    for centre in hole_centres(holes):
        yield Circle(centre, 0.5 * holes.hole_diameter)
        angle = math.degrees(math.atan2(centre[1], centre[0])) if holes.circle_diameter else 0.0
        yield from centre_mark(centre, 0.5 * holes.hole_diameter, angle=angle)


def _rays(plate: Plate, half_x: float, half_y: float) -> Iterable[Entity]:
    inner = max((0.5 * h.hole_diameter for h in plate.holes if not h.circle_diameter), default=0.0)
    for angle in plate.rays:
        turn = math.radians(angle)
        edge = half_x
        if plate.width is not None:
            edge = min(half_x / max(abs(math.cos(turn)), 1e-12), half_y / max(abs(math.sin(turn)), 1e-12))
        yield Line(polar(inner, angle), polar(edge, angle), layer="engrave")
        yield Text(
            polar(edge + 4e-3, angle, (0.0, -1.25e-3)), degrees(angle % 360.0), height=2.5e-3, anchor=_side(angle)
        )
    if len(plate.rays) > 1:
        first, second = sorted(angle % 360.0 for angle in plate.rays)[:2]
        yield from angle_dimension((0.0, 0.0), inner + 0.55 * (min(half_x, half_y) - inner), first, second)


def _side(angle: float) -> str:
    """Anchor of a text that stands outside a circle at ``angle``."""
    across = math.cos(math.radians(angle))
    return "middle" if abs(across) < 0.3 else ("start" if across > 0.0 else "end")


def _callouts(plate: Plate, half_x: float) -> Iterable[Entity]:
    """One callout per hole circle, stacked at the right of the plate, the widest circle on top."""
    ordered = sorted(plate.holes, key=lambda holes: -holes.circle_diameter)
    reach = max((0.5 * (holes.circle_diameter + holes.hole_diameter) for holes in ordered), default=0.0)
    inside = not plate.rays and half_x - reach > CALLOUT_WIDTH
    column = reach + 8e-3 if inside else half_x + (14e-3 if plate.rays else 8e-3)
    lowest = -0.5 * plate.across + CALLOUT_FOOT + CALLOUT_PITCH * (len(ordered) - 1)
    top = max((reach if inside else 0.5 * plate.across) + 4e-3, lowest)
    for index, holes in enumerate(ordered):
        yield from hole_callout(holes, (column, top - CALLOUT_PITCH * index))


def hole_callout(holes: HoleCircle, elbow: Point) -> tuple[Entity, ...]:
    """What to drill, by a leader from the nearest hole of the circle to ``elbow``: count, diameter in mm and inch, spacing, purpose."""
    nearest = min(hole_centres(holes), key=lambda centre: math.dist(centre, elbow))
    toward = math.degrees(math.atan2(elbow[1] - nearest[1], elbow[0] - nearest[0]))
    count = len(hole_centres(holes))
    size = f"Ø{millimetres(holes.hole_diameter)} ({format_length(holes.hole_diameter, system='in', style='decimal')})"
    first = size if count == 1 else f"{count} × {size}"
    lines = [first]
    if count > 1:
        chord = holes.circle_diameter * math.sin(math.pi / count)
        lines += [f"on Ø{millimetres(holes.circle_diameter)}", f"hole to hole {millimetres(chord)}"]
    return leader(polar(0.5 * holes.hole_diameter, toward, nearest), elbow, (*lines, holes.purpose))


def socket_holes(socket: Connector) -> tuple[HoleCircle, ...]:
    """The holes that a socket needs in its panel: body hole, and the four screws of a square flange."""
    holes = [HoleCircle(0.0, 1, socket.panel_hole, "body of the socket")]
    if socket.hole_square:
        holes.append(HoleCircle(math.sqrt(2.0) * socket.hole_square, 4, socket.hole_diameter, "flange screws", 45.0))
    return tuple(holes)


def socket_template(
    socket: Connector, *, quantity: int = 1, material: str = "panel or bracket under the flange"
) -> Pattern:
    """Drilling template of a panel socket, its flange (or nut) drawn as it will lie; says where the sizes come from."""
    half, square = 0.5 * socket.flange_side, 0.5 * socket.hole_square
    holes = socket_holes(socket)
    entities: list[Entity] = []
    if socket.hole_square:
        corners = ((-half, -half), (half, -half), (half, half), (-half, half))
        entities += [
            Polyline(corners, closed=True, layer="engrave", pen="hidden"),
            *length_dimension((-square, -square), (square, -square), square - half - 8e-3),
            *length_dimension((-square, -square), (-square, square), half - square + 8e-3),
        ]
        lies = f"Dashed: the flange, {millimetres(socket.flange_side)} mm square."
    else:
        corner = half / math.cos(math.radians(30.0))
        nut = tuple(polar(corner, 60.0 * k) for k in range(6))
        entities.append(Polyline(nut, closed=True, layer="engrave", pen="hidden"))
        lies = f"Dashed: the nut, {millimetres(socket.flange_side)} mm across flats."
    for group in holes:
        entities += _drilled(group)
    entities += [*_centre_lines(half, half)]
    for index, group in enumerate(reversed(holes)):
        entities += hole_callout(group, (half + 8e-3, CALLOUT_FOOT - half + CALLOUT_PITCH * (len(holes) - 1 - index)))
    # What the row says of the coaxial aperture and of the plug below is no business of the drill.
    clauses = re.sub(r"\s*\[@[^]]*]", "", socket.basis).replace("_", " ").split("; ")
    basis = "; ".join(clause for clause in clauses if not clause.startswith("aperture") and "free depth" not in clause)
    caution = "From memory, measure yours before drilling" if "memory" in basis else "Measure yours before drilling"
    thread = f" Coupling: {socket.thread}." if socket.thread else ""
    source = "" if basis == "memory" else f" Where the sizes come from: {basis}."
    notes = (f"{caution}.{source}", f"{lies}{thread}")
    return Pattern(f"Drilling template: {socket.title}", quantity, material, Drawing(tuple(entities)), notes)
