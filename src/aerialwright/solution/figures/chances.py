"""How likely each of several things is: one bar for each, with its percentage and its words."""

from __future__ import annotations

from collections.abc import Sequence

from aerialwright.base.printing import format_probability
from aerialwright.solution.figures.axes import CHART_WIDTH, NORMAL, SMALL
from aerialwright.solution.figures.palette import colour
from aerialwright.solution.svg import Drawing, FigureError, wrap

_BAR, _LEFT, _NUMBER = 9.0, 2.0, 44.0


def chance_bars(rows: Sequence[tuple[str, float]], *, width: float = CHART_WIDTH) -> str:
    """Bars for ``(words, probability 0..1)`` in their order, the first one filled and the others open."""
    if not rows or any(not 0.0 <= chance <= 1.0 for _, chance in rows):
        raise FigureError("a bar of chances needs probabilities from 0 to 1")
    said = ", ".join(f"{words} {format_probability(chance)}" for words, chance in rows)
    drawing = Drawing(width=width, title="How likely each cause is", description=f"{said}.", identity=f"chances {said}")
    room = width - 2.0 * _LEFT - _NUMBER
    y = 4.0
    for place, (words, chance) in enumerate(rows):
        for line in wrap(words, NORMAL, width - 2.0 * _LEFT):
            y += 14.0
            drawing.text((_LEFT, y), line, font_size=NORMAL, fill=colour("ink"))
        y += 5.0
        drawing.rectangle((_LEFT, y), room, _BAR, fill="none", stroke=colour("grid"), stroke_width=1.0)
        fill = colour("series-1") if place == 0 else colour("sheet")
        drawing.rectangle(
            (_LEFT, y),
            room * chance,
            _BAR,
            fill=fill,
            stroke=colour("series-1" if chance > 0.0 else "grid"),
            stroke_width=1.2,
        )
        drawing.text(
            (width - _LEFT, y + 0.9 * _BAR),
            format_probability(chance),
            font_size=SMALL,
            fill=colour("ink"),
            text_anchor="end",
        )
        y += _BAR + 5.0
    drawing.height = y + 2.0
    return drawing.markup()
