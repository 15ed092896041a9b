"""Curves that answer a 'why', and bars that tell which dimension matters."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from aerialwright.base.units import format_angle, format_frequency, format_length
from aerialwright.solution.figures.axes import (
    CHART_WIDTH,
    SMALL,
    LegendItem,
    Plot,
    Scale,
    label_rows,
    legend,
    nice_step,
    nice_ticks,
)
from aerialwright.solution.figures.frequency import series_sample, sign_places
from aerialwright.solution.figures.palette import colour, series_style
from aerialwright.solution.figures.views import CurveView, SensitivityView
from aerialwright.solution.svg import Drawing, FigureError, shorten

#: kind of x -> (divisor from SI, unit on the axis)
_UNITS = {"length": (1e-3, "mm"), "frequency": (1e6, "MHz"), "angle": (1.0, "degree"), "count": (1.0, "")}


def quantity(value: float, kind: str) -> str:
    """A value of a dimension as people write it; ``kind`` length [m], angle [degree], frequency [Hz] or count."""
    if kind == "length":
        return format_length(value)
    if kind == "angle":
        return format_angle(value)
    if kind == "frequency":
        return format_frequency(value)
    return f"{value:g}"


def plain_number(value: float) -> str:
    """A number on an axis, with a true minus sign."""
    return f"{value:.6g}".replace("-", "\u2212")


def why_curve(curve: CurveView, *, width: float = CHART_WIDTH, height: float = 230.0) -> str:
    """The series of a curve with its marked places (the value built, the rule of thumb)."""
    if not curve.series or len(curve.x) < 2:
        raise FigureError("a curve needs at least two points and one series", where=curve.key)
    factor, unit = _UNITS.get(curve.x_kind, (1.0, ""))
    x_values = np.asarray(curve.x, dtype=float) / factor
    values = np.concatenate([np.asarray(series, dtype=float) for _, series in curve.series])
    values = values[np.isfinite(values)]
    if not values.size:
        raise FigureError("a curve holds no finite value", where=curve.key)
    marks = [(words, place / factor) for words, place in curve.marks]
    inside = [place for _, place in marks if math.isfinite(place)]
    left, right = 48.0, width - 14.0
    x = Scale(float(min(x_values.min(), *inside, x_values[0])), float(max(x_values.max(), *inside, x_values[0])),
              left, right)  # fmt: skip
    if not x.high > x.low:
        raise FigureError("a curve needs two different x values", where=curve.key)
    names = [shorten(f"{words}: {quantity(place * factor, curve.x_kind)}", SMALL, 200.0) for words, place in marks]
    centres = [(x(place), name) for (_, place), name in zip(marks, names, strict=True)]
    rows = label_rows(centres, SMALL, 8.0, width - 6.0)
    top = 10.0 + 13.0 * (1 + max((row for _, row in rows), default=-1))
    bottom = top + height - 60.0
    low, high = float(values.min()), float(values.max())
    pad = 0.06 * (high - low) or max(abs(high) * 0.05, 0.05)
    step = nice_step(high - low + 2.0 * pad, 5)
    y = Scale(math.floor((low - pad) / step) * step, math.ceil((high + pad) / step) * step, bottom, top)
    drawing = Drawing(width=width, title=curve.question, description=curve.reading, identity=f"why {curve.key}")
    plot = Plot(drawing, left, top, right, bottom, x, y)
    x_name = f"{curve.x_label}, {unit}" if unit else curve.x_label
    whole = 1.0 if curve.x_kind == "count" else 0.0
    ticks = [value for value in nice_ticks(x.low, x.high, 7) if not whole or abs(value - round(value)) < 1e-9]
    plot.x_axis([(value, plain_number(value)) for value in ticks], x_name)
    y_name = f"{curve.y_label}, {curve.y_unit}" if curve.y_unit and curve.y_unit != curve.y_label else curve.y_label
    y_ticks = [(value, plain_number(value)) for value in nice_ticks(y.low, y.high, 5)]
    plot.y_axis(y_ticks, shorten(y_name, SMALL, height - 60.0))
    for (_, place), name, (middle, row) in zip(marks, names, rows, strict=True):
        baseline = top - 5.0 - 13.0 * row
        drawing.line((x(place), bottom), (x(place), baseline + 2.0), stroke=colour("limit"), stroke_width=1.2,
                     stroke_dasharray="4 3")  # fmt: skip
        drawing.text((middle, baseline), name, font_size=SMALL, text_anchor="middle", fill=colour("limit"))
    for k, (_, series) in enumerate(curve.series):
        style = series_style(k)
        series_values = np.asarray(series, dtype=float)
        drawing.polyline(
            plot.curve(x_values, series_values), stroke=style.colour, stroke_width=2, stroke_linejoin="round",
            stroke_dasharray=style.dash_or_none,
        )  # fmt: skip
        if len(x_values) <= 12:
            points = [(a, b) for a, b in plot.curve(x_values, series_values) if math.isfinite(b)]
        else:
            points = sign_places(plot, x_values, series_values, k, len(curve.series))
        for point in points:
            drawing.symbol(style.symbol, point, 7.5, fill=style.colour, stroke=colour("sheet"))
    plot.frame()
    drawing.height = bottom + 36.0
    if len(curve.series) > 1 or curve.series[0][0] != curve.y_label:
        items: list[LegendItem] = [(words, series_sample(drawing, k)) for k, (words, _) in enumerate(curve.series)]
        drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
    return drawing.markup()


def sensitivity_bars(
    sensitivities: Sequence[SensitivityView], *, title: str, identity: str, width: float = CHART_WIDTH
) -> str:
    """How far a small error in each dimension moves the frequency of lowest SWR: the longest bar matters most."""
    if not sensitivities:
        raise FigureError("bars of sensitivity need at least one dimension")
    ordered = sorted(sensitivities, key=lambda item: -abs(item.frequency_shift))
    reach = max(abs(item.frequency_shift) for item in ordered) or 1.0
    left, right, pitch, top = 210.0, width - 84.0, 19.0, 18.0
    worst = ordered[0]
    drawing = Drawing(
        width=width, height=top + pitch * len(ordered) + 6.0, title=title,
        description=f"Most sensitive: {worst.label}, {format_frequency(abs(worst.frequency_shift))} for "
        f"{quantity(worst.error, worst.kind)}.",
        identity=f"sensitivity {identity}",
    )  # fmt: skip
    with drawing.group(font_size=SMALL, fill=colour("quiet")):
        drawing.text((left - 6.0, 11.0), "dimension, error made", text_anchor="end")
        drawing.text((left, 11.0), "moves the impedance curve by")
    for k, item in enumerate(ordered):
        y = top + pitch * k
        size = (right - left) * abs(item.frequency_shift) / reach
        drawing.rectangle((left, y + 3.0), max(size, 0.8), 11.0, fill=colour("accent"))
        words = f"{item.label}, +{quantity(item.error, item.kind)}"
        drawing.text((left - 6.0, y + 12.5), shorten(words, SMALL, left - 10.0), font_size=SMALL, text_anchor="end",
                     fill=colour("ink"))  # fmt: skip
        sign = "+" if item.frequency_shift > 0 else "\u2212" if item.frequency_shift < 0 else ""
        drawing.text((left + size + 5.0, y + 12.5), f"{sign}{abs(item.frequency_shift) / 1e6:.2f} MHz",
                     font_size=SMALL, fill=colour("ink"))  # fmt: skip
    return drawing.markup()
