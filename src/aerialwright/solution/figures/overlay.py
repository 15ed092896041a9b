"""Measured on predicted: SWR, resistance and reactance over frequency, and the impedance chart, each with its errors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from aerialwright.need.model import Band
from aerialwright.solution.figures.axes import (
    CHART_WIDTH,
    SMALL,
    BandShading,
    LegendItem,
    Plot,
    Scale,
    frequency_scale,
    frequency_ticks,
    legend,
    megahertz,
    nice_ticks,
)
from aerialwright.solution.figures.frequency import reflection_magnitude, series_sample, sign_places
from aerialwright.solution.figures.impedance import frequency_marks, impedance_grid
from aerialwright.solution.figures.palette import colour, series_style
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.solution.svg import Drawing, FigureError, Point

#: Upper end of the SWR axis.
_SWR_TOP = 10.0
_SWR_TICKS = (1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0)
#: Resistance and reactance are drawn to this many times the reference.
_OHM_TOP = 4.0


@dataclass(frozen=True)
class Trace:
    """One curve: reflection (n,) over ``frequency`` (n,) [Hz] and the radius (n,) of what it could be.

    ``place`` picks its style, the same in every chart; ``angle`` False: only the size of the reflection is known.
    """

    label: str
    frequency: FloatArray
    reflection: ComplexArray
    error: FloatArray
    place: int = 0
    angle: bool = True


def _frame(traces: Sequence[Trace], bands: Sequence[Band], title: str, description: str, *, width: float, height: float) -> tuple[
    Drawing, Scale, BandShading, float, float
]:  # fmt: skip
    if not traces or min(len(trace.frequency) for trace in traces) < 2:
        raise FigureError("a chart of sweeps needs at least two points of each")
    low = min(float(trace.frequency[0]) for trace in traces)
    high = max(float(trace.frequency[-1]) for trace in traces)
    scale = frequency_scale(low, high, 46.0, width - 12.0)
    shading = BandShading(bands, scale)
    top = shading.height + 4.0
    names = " and ".join(trace.label for trace in traces)
    drawing = Drawing(
        width=width, title=f"{title}: {names}", description=description, identity=f"{title} {names} {low:g} {high:g}"
    )
    return drawing, scale, shading, top, top + height - 60.0


def _samples(drawing: Drawing, traces: Sequence[Trace]) -> list[LegendItem]:
    items: list[LegendItem] = [(trace.label, series_sample(drawing, trace.place)) for trace in traces]
    fill = series_style(traces[0].place).colour
    items.append(
        ("what each could be", lambda x, y: drawing.rectangle((x - 12, y - 4), 24, 8, fill=fill, opacity=0.25))
    )
    return items


def _curve(plot: Plot, trace: Trace, k: int, count: int, values: tuple[FloatArray, FloatArray, FloatArray]) -> None:
    """A curve with the area between its lowest and highest value, its dash and its signs."""
    style = series_style(trace.place)
    middle, low, high = values
    edge = [*plot.curve(trace.frequency, high), *reversed(plot.curve(trace.frequency, low))]
    plot.drawing.polygon([p for p in edge if np.isfinite(p[1])], fill=style.colour, opacity=0.22)
    plot.drawing.polyline(
        plot.curve(trace.frequency, middle), stroke=style.colour, stroke_width=1.9, stroke_dasharray=style.dash_or_none
    )
    for place in sign_places(plot, trace.frequency, middle, k, count):
        plot.drawing.symbol(style.symbol, place, 7.5, fill=style.colour, stroke=colour("sheet"))


def swr_overlay(
    traces: Sequence[Trace], bands: Sequence[Band], limit: float, *, width: float = CHART_WIDTH, height: float = 260.0
) -> str:
    """SWR of several sweeps, the asked limit as a line; the axis is even in the size of the reflection."""
    lowest = min(float(np.abs(trace.reflection).min()) for trace in traces) if traces else 0.0
    drawing, scale, shading, top, bottom = _frame(
        traces, bands, "SWR", f"Lowest SWR {(1 + lowest) / (1 - min(lowest, 0.999)):.2f}; asked {limit:g} or less.",
        width=width, height=height,
    )  # fmt: skip
    worst = reflection_magnitude(_SWR_TOP)

    def vertical(size: float) -> float:
        return bottom - (bottom - top) * size / worst

    plot = Plot(drawing, scale.start, top, scale.end, bottom, scale, vertical)
    shading.draw(drawing, top, bottom)
    plot.x_axis([(f, megahertz(f)) for f in frequency_ticks(scale)], "frequency, MHz")
    plot.y_axis([(reflection_magnitude(swr), f"{swr:g}") for swr in _SWR_TICKS], "SWR")
    with drawing.group(clip_path=plot.clip(), fill="none", stroke_linejoin="round"):
        if 1.0 < limit < _SWR_TOP:
            level = vertical(reflection_magnitude(limit))
            drawing.line((scale.start, level), (scale.end, level), stroke=colour("limit"), stroke_width=1.3,
                         stroke_dasharray="9 3 2 3")  # fmt: skip
        for k, trace in enumerate(traces):
            size, doubt = np.abs(trace.reflection), np.minimum(trace.error, 1.0)
            _curve(plot, trace, k, len(traces), (size, np.maximum(size - doubt, 0.0), np.minimum(size + doubt, 1.0)))
    plot.frame()
    items = [*_samples(drawing, traces), (f"asked: {limit:g} or less", _limit_sample(drawing))]
    drawing.height = 4.0 + legend(drawing, items, left=scale.start, right=width - 8.0, top=bottom + 32.0)
    return drawing.markup()


def _limit_sample(drawing: Drawing) -> Callable[[float, float], None]:
    return lambda x, y: drawing.line(
        (x - 12, y), (x + 12, y), stroke=colour("limit"), stroke_width=1.3, stroke_dasharray="9 3 2 3"
    )


def impedance_overlay(
    traces: Sequence[Trace], bands: Sequence[Band], reference: float, *, reactance: bool, width: float = CHART_WIDTH,
    height: float = 240.0,
) -> str:  # fmt: skip
    """Resistance or reactance [ohm] of the sweeps whose angle is known."""
    shown = [trace for trace in traces if trace.angle]
    name = "reactance" if reactance else "resistance"
    drawing, scale, shading, top, bottom = _frame(
        shown, bands, name, f"{name.capitalize()} in ohm over frequency.", width=width, height=height
    )
    curves = []
    for trace in shown:
        away = np.where(np.abs(1.0 - trace.reflection) < 1e-6, 1e-6, 1.0 - trace.reflection)
        z = reference * (1.0 + trace.reflection) / away
        # dZ = 2 Z0 dr / (1 - r)^2
        doubt = 2.0 * reference * np.minimum(trace.error, 1.0) / np.abs(away) ** 2
        value = z.imag if reactance else z.real
        curves.append((value, value - doubt, value + doubt))
    top_ohm = _OHM_TOP * reference
    seen = np.clip(np.concatenate([value for value, _, _ in curves]), -top_ohm if reactance else 0.0, top_ohm)
    margin = 0.08 * max(float(np.ptp(seen)), 0.2 * reference)
    vertical = Scale(float(seen.min()) - margin, float(seen.max()) + margin, bottom, top)
    plot = Plot(drawing, scale.start, top, scale.end, bottom, scale, vertical)
    shading.draw(drawing, top, bottom)
    plot.x_axis([(f, megahertz(f)) for f in frequency_ticks(scale)], "frequency, MHz")
    plot.y_axis([(v, f"{v:g}") for v in nice_ticks(vertical.low, vertical.high, 6)], f"{name}, ohm")
    with drawing.group(clip_path=plot.clip(), fill="none", stroke_linejoin="round"):
        level = 0.0 if reactance else reference
        if vertical.low < level < vertical.high:
            drawing.line(
                (scale.start, vertical(level)), (scale.end, vertical(level)), stroke=colour("rule"), stroke_width=1.2
            )
        for k, (trace, values) in enumerate(zip(shown, curves, strict=True)):
            far = 2.0 * (vertical.high - vertical.low)
            bounded = [np.clip(value, vertical.low - far, vertical.high + far) for value in values]
            _curve(plot, trace, k, len(shown), (bounded[0], bounded[1], bounded[2]))
    plot.frame()
    drawing.height = 4.0 + legend(
        drawing, _samples(drawing, shown), left=scale.start, right=width - 8.0, top=bottom + 32.0
    )
    return drawing.markup()


def smith_overlay(
    traces: Sequence[Trace], bands: Sequence[Band], reference: float, limit: float, *, width: float = CHART_WIDTH
) -> str:
    """The impedance chart of the sweeps whose angle is known; discs along each show what it could be."""
    shown = [trace for trace in traces if trace.angle]
    if not shown:
        raise FigureError("an impedance chart needs a sweep with its angle")
    radius = 0.5 * (width - 60.0)
    centre = (0.5 * width, radius + 22.0)
    names = " and ".join(trace.label for trace in shown)
    drawing = Drawing(
        width=width, title=f"Impedance chart: {names}", description=f"Reflection referred to {reference:g} ohm.",
        identity=f"impedance overlay {names} {float(shown[0].frequency[0]):g}",
    )  # fmt: skip

    def place(value: complex) -> Point:
        return centre[0] + radius * value.real, centre[1] - radius * value.imag

    impedance_grid(drawing, centre, radius, reference)
    if limit < 1e3:
        drawing.circle(
            centre, radius * reflection_magnitude(limit), fill="none", stroke=colour("limit"), stroke_width=1.4,
            stroke_dasharray="9 3 2 3",
        )  # fmt: skip
    with drawing.group(clip_path=drawing.clip_circle(centre, radius + 1.0), stroke_linejoin="round"):
        for trace in shown:
            style = series_style(trace.place)
            for at in np.unique(np.round(np.linspace(0, len(trace.frequency) - 1, 15)).astype(int)):
                doubt = radius * min(float(trace.error[at]), 1.0)
                if doubt > 1.5:
                    drawing.circle(place(complex(trace.reflection[at])), doubt, fill=style.colour, opacity=0.22)
            drawing.polyline(
                [place(complex(value)) for value in trace.reflection], stroke=style.colour, stroke_width=2.0,
                stroke_dasharray=style.dash_or_none,
            )  # fmt: skip
    first = shown[0]
    edges = sorted(
        {f for band in bands for f in (band.low, band.high) if first.frequency[0] <= f <= first.frequency[-1]}
    )
    marked = edges[:6] or [float(f) for f in np.linspace(first.frequency[0], first.frequency[-1], 4)]
    frequency_marks(drawing, [(f, place(complex(np.interp(f, first.frequency, first.reflection)))) for f in marked])
    with drawing.group(font_size=SMALL, fill=colour("quiet"), text_anchor="middle"):
        drawing.text((centre[0], 12.0), "inductive (reactance above zero)")
        drawing.text((centre[0], centre[1] + radius + 16.0), "capacitive (reactance below zero)")
    items = [*_samples(drawing, shown), (f"SWR {limit:g}", _limit_sample(drawing))]
    drawing.height = 4.0 + legend(drawing, items, left=12.0, right=width - 8.0, top=centre[1] + radius + 24.0)
    return drawing.markup()
