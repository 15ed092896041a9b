"""Small pictures of the build sheet, in millimetres of paper: stock bars and sheets with their cuts."""

from __future__ import annotations

from collections.abc import Container, Mapping

from aerialwright.sheet.content import millimetres
from aerialwright.sheet.records import SheetUse, StockUse
from aerialwright.solution import svg
from aerialwright.solution.figures.palette import colour
from aerialwright.solution.svg import Drawing, text_width

#: Text in a sketch [mm], 9 pt.
TEXT = 3.2
THIN, THICK = 0.18, 0.45


def bar_picture(bar: StockUse, numbers: Mapping[str, int], *, width: float, longest: float) -> Drawing:
    """One bar with its cuts from the left and what is left hatched, ``width`` [mm] standing for ``longest`` [m].

    ``numbers`` gives each piece's number in the cut list; a cut too short for its number is told in the text above.
    """
    scale, height = (width - 1.0) / longest, 6.0
    drawing = Drawing(
        width=width, height=height + 1.0, unit="mm", identity=f"bar {bar.label} {bar.number}", title=f"{bar.label} {bar.number}",
        description=f"{', '.join(f'{name} {millimetres(length)}' for name, length in bar.cuts)}; left {millimetres(bar.left)}",
    )  # fmt: skip
    hatch = drawing.hatch(colour=colour("far"), pitch=1.4, width=0.25)
    drawing.rectangle((0.5, 0.5), bar.length * scale, height, fill=hatch, stroke=colour("ink"), stroke_width=THIN)
    x = 0.5
    for name, length in bar.cuts:
        drawing.rectangle(
            (x, 0.5), length * scale, height, fill=colour("sheet"), stroke=colour("ink"), stroke_width=THICK
        )
        words = f"{numbers[name]}: {millimetres(length)}" if name in numbers else millimetres(length)
        _fitting(drawing, (x + 0.5 * length * scale, 0.5 + 0.5 * height), words, length * scale)
        x += (length + bar.kerf) * scale
    return drawing


def sheet_picture(
    use: SheetUse, numbers: Mapping[str, int], *, rounds: Container[str], width: float, tallest: float
) -> Drawing:
    """One sheet with what is cut from it, at the scale that fits ``width`` and ``tallest`` [mm]: circles for the pieces that are
    ``rounds``, the rectangles that hold them for the others."""
    across, up = (use.length, use.length) if use.round else (use.length, use.width)
    scale = min((width - 1.0) / across, (tallest - 1.0) / up)
    drawing = Drawing(
        width=across * scale + 1.0, height=up * scale + 1.0, unit="mm", identity=f"sheet {use.label} {use.number}",
        title=f"{use.label} {use.number}", description=", ".join(name for name, *_ in use.cuts),
    )  # fmt: skip
    hatch = drawing.hatch(colour=colour("far"), pitch=1.6, width=0.25)
    outline: dict[str, svg.Attribute] = {"fill": hatch, "stroke": colour("ink"), "stroke_width": THIN}
    if use.round:
        drawing.circle((0.5 + 0.5 * across * scale, 0.5 + 0.5 * up * scale), 0.5 * across * scale, **outline)
    else:
        drawing.rectangle((0.5, 0.5), across * scale, up * scale, **outline)
    for name, x, y, wide, high in use.cuts:
        corner = (0.5 + x * scale, 0.5 + (up - y - high) * scale)
        look: dict[str, svg.Attribute] = {"fill": colour("sheet"), "stroke": colour("ink"), "stroke_width": THICK}
        if name in rounds:
            middle = (corner[0] + 0.5 * wide * scale, corner[1] + 0.5 * high * scale)
            drawing.circle(middle, 0.5 * wide * scale, **look)
        else:
            drawing.rectangle(corner, wide * scale, high * scale, **look)
        words = str(numbers.get(name, name))
        _fitting(drawing, (corner[0] + 0.5 * wide * scale, corner[1] + 0.5 * high * scale), words, wide * scale)
    return drawing


def _fitting(drawing: Drawing, middle: tuple[float, float], words: str, room: float) -> None:
    """``words``, or their first part (the number), or nothing, as the room allows."""
    for text in (words, words.partition(":")[0]):
        if text_width(text, TEXT) + 1.6 <= room:
            drawing.text(
                (middle[0], middle[1] + 0.36 * TEXT), text, font_size=TEXT, text_anchor="middle", fill=colour("ink")
            )
            return
