"""Every full-size pattern that a cut list asks for, and the title that each carries on paper and in files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from aerialwright.antennas.workpiece import ConeSheet, Plate
from aerialwright.base.printing import format_length, marked_angle
from aerialwright.sheet.bend_pattern import bend_gauge
from aerialwright.sheet.cone_pattern import cone_pattern
from aerialwright.sheet.dimensions import label
from aerialwright.sheet.drawing import Drawing, Entity, Line, Pattern, Polyline, Text, degrees, millimetres
from aerialwright.sheet.plate_pattern import plate_pattern, socket_template
from aerialwright.sheet.records import CutLine
from aerialwright.solution.svg import wrap
from aerialwright.stock.connectors import Connector

TITLE = 4e-3
SMALL = 2.5e-3
#: Narrowest column [m] that a title is broken to.
TITLE_WIDTH = 85e-3
FULL_SIZE = "Sizes in mm. Print at 100 %, without fitting to the page."


def sheet_patterns(lines: Iterable[CutLine], sockets: Iterable[Connector] = ()) -> tuple[Pattern, ...]:
    """The patterns of a cut list, and a drilling template for each of its ``sockets``; pieces that need none are passed over.

    Equal bends of several pieces share one gauge. Raises :class:`~aerialwright.sheet.drawing.PatternError`.
    """
    patterns: list[Pattern] = []
    gauges: dict[tuple[float, float, float], int] = {}
    for line in lines:
        if line.form is not None:
            # The cut list counts gores, a pattern counts cones.
            gores = line.form.gores if isinstance(line.form, ConeSheet) else 1
            patterns.append(
                form_pattern(line.form, name=line.name, quantity=line.quantity // gores, material=material_line(line))
            )
        for key, gauge in _gauges(line):
            if key in gauges:
                patterns[gauges[key]] = _shared(patterns[gauges[key]], gauge)
            else:
                gauges[key] = len(patterns)
                patterns.append(gauge)
    return (*patterns, *(socket_template(socket) for socket in sockets if not socket.bare))


def form_pattern(form: ConeSheet | Plate, *, name: str, quantity: int, material: str) -> Pattern:
    """The pattern of a flat or rolled piece."""
    if isinstance(form, ConeSheet):
        return cone_pattern(form, name=name, quantity=quantity, material=material)
    return plate_pattern(form, name=name, quantity=quantity, material=material)


def material_line(line: CutLine) -> str:
    """What a piece is cut from, in words."""
    size = f", Ø{millimetres(line.diameter)} mm" if line.diameter else ""
    size += f", {millimetres(line.thickness)} mm thick" if line.thickness else ""
    return f"{line.material}{size}"


def _gauges(line: CutLine) -> Iterator[tuple[tuple[float, float, float], Pattern]]:
    """A gauge per different bend of a piece, its legs as long as the neighbouring bends leave them."""
    thickness = line.diameter or line.thickness
    if not line.mark_bends or thickness is None or line.cut is None:
        return
    before = 0.0
    for index, (start, arc, bend) in enumerate(line.mark_bends):
        following = line.mark_bends[index + 1][0] if index + 1 < len(line.mark_bends) else line.cut
        gauge = bend_gauge(
            bend,
            thickness=thickness,
            legs=(start - before, following - start - arc),
            name=f"Bend gauge {degrees(bend.angle)}: {line.name}",
            quantity=1,
            material=f"gauge for {material_line(line)}",
        )
        before = start + arc
        yield (round(thickness, 6), marked_angle(bend.angle), round(bend.inside_radius, 6)), gauge


def _shared(first: Pattern, other: Pattern) -> Pattern:
    piece = other.name.partition(": ")[2]
    return first if first.name.endswith(piece) else replace(first, name=f"{first.name}, {piece}")


def title_lines(pattern: Pattern, width: float) -> list[tuple[str, float, bool]]:
    """The words that stand with a pattern, broken to ``width`` [m]: (line, height [m], bold)."""
    sizes = ((pattern.name, TITLE, True), (f"{pattern.quantity} × {pattern.material}", 3e-3, False))
    notes = tuple((note, SMALL, False) for note in pattern.notes)
    return [
        (part, height, bold) for words, height, bold in (*sizes, *notes) for part in wrap(words, height / 0.72, width)
    ]


def titled(pattern: Pattern) -> Drawing:
    """The pattern's drawing with its title above it, left-aligned."""
    box = pattern.drawing.box
    rows = title_lines(pattern, max(TITLE_WIDTH, box.width))
    y = box.top + 5e-3 + sum(1.6 * height for _, height, _ in rows)
    texts: list[Entity] = []
    for words, height, bold in rows:
        y -= 1.6 * height
        texts.append(Text((box.left, y), words, height=height, anchor="start", bold=bold))
    return Drawing((*pattern.drawing.entities, *texts))


def check_bars(corner: tuple[float, float], *, upright: bool) -> tuple[Entity, ...]:
    """A ruler of 100 mm (ticks on one side) and 4 in (on the other) from one zero, along x or upright, on the layer of notes."""

    def at(along: float, across: float) -> tuple[float, float]:
        return (corner[0] - across, corner[1] + along) if upright else (corner[0] + along, corner[1] + across)

    turn = 90.0 if upright else 0.0
    inch = 25.4e-3
    bars: list[Entity] = [Line(at(0.0, 0.0), at(4 * inch, 0.0), layer="notes")]
    for k in range(21):
        bars.append(Line(at(5e-3 * k, 0.0), at(5e-3 * k, 3e-3 if k % 2 == 0 else 1.8e-3), layer="notes"))
    for k in range(33):
        reach = 3e-3 if k % 8 == 0 else 2.2e-3 if k % 4 == 0 else 1.2e-3
        bars.append(Line(at(inch * k / 8, 0.0), at(inch * k / 8, -reach), layer="notes"))
    for k in range(0, 10, 2):
        block = (at(1e-2 * k, 0.0), at(1e-2 * (k + 1), 0.0), at(1e-2 * (k + 1), 0.9e-3), at(1e-2 * k, 0.9e-3))
        bars.append(Polyline(block, closed=True, layer="notes", fill="solid"))
    bars += [
        label(at(5e-2, 2.4e-3), turn, "100 mm", height=SMALL),
        label(at(2 * inch, -2.4e-3), turn, "4 in", height=SMALL, side=-1.0),
    ]
    return tuple(bars)


def file_drawing(pattern: Pattern) -> Drawing:
    """A pattern for a file of its own: title above, check bars in both directions below and at the left, on the layer of notes."""
    drawing = titled(pattern)
    box = drawing.box
    corner = (box.left - 12e-3, box.bottom - 14e-3)
    words = f"{FULL_SIZE} Check both bars: 100 mm and {format_length(0.1016, system='in')}."
    note = Text((corner[0] + 8e-3, corner[1] - 12e-3), words, height=SMALL, anchor="start")
    bars = (
        *check_bars((corner[0] + 8e-3, corner[1]), upright=False),
        *check_bars((corner[0], corner[1] + 8e-3), upright=True),
    )
    return Drawing((*drawing.entities, *bars, note))
