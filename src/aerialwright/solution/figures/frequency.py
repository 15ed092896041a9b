"""Charts over frequency: the band ruler, SWR with its error band, gain at the receiver of several antennas."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from aerialwright.need.model import Need
from aerialwright.solution.figures.axes import (
    CHART_WIDTH,
    NORMAL,
    SMALL,
    BandShading,
    LegendItem,
    Plot,
    Scale,
    crossings,
    frequency_scale,
    frequency_ticks,
    legend,
    megahertz,
    nice_ticks,
)
from aerialwright.solution.figures.palette import colour, series_style
from aerialwright.solution.figures.views import AntennaView
from aerialwright.solution.records import FloatArray
from aerialwright.solution.svg import Drawing, FigureError, Point, path_data, shorten

#: Upper end of the SWR axis; what is worse leaves the chart at the top.
SWR_TOP = 5.0
_SWR_TICKS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)


def reflection_magnitude(swr: float) -> float:
    """|Gamma| = (S - 1) / (S + 1): the share of the wave's voltage that is sent back, 0..1; nan stays nan."""
    return 1.0 if swr == math.inf else (swr - 1.0) / (swr + 1.0)


def mismatch_loss(swr: float) -> float:
    """Loss [dB] by mismatch alone: -10 log10(1 - |Gamma|^2)."""
    return -10.0 * math.log10(1.0 - reflection_magnitude(swr) ** 2)


def _names(evaluations: Sequence[AntennaView], labels: Sequence[str] | None) -> list[str]:
    if not evaluations:
        raise FigureError("a chart needs at least one antenna")
    if labels is not None and len(labels) != len(evaluations):
        raise FigureError("a chart needs as many labels as antennas")
    return list(labels) if labels is not None else [evaluation.title for evaluation in evaluations]


def _span(need: Need, evaluations: Sequence[AntennaView]) -> tuple[float, float]:
    """Frequencies to show [Hz]: the asked bands and a little around them, no further than what was solved."""
    low = min(band.low for band in need.bands)
    high = max(band.high for band in need.bands)
    solved_low = min(float(evaluation.frequency[0]) for evaluation in evaluations)
    solved_high = max(float(evaluation.frequency[-1]) for evaluation in evaluations)
    return min(max(solved_low, low / 1.3), low), max(min(solved_high, high * 1.3), high)


def _half_power_ends(scale: Scale, evaluation: AntennaView) -> tuple[float, float]:
    """Ends of the half-power band on the axis [px]; equal or nan if there is none to draw."""
    low, high = evaluation.half_power_band
    if not (math.isfinite(low) and math.isfinite(high)):
        return math.nan, math.nan
    return scale(scale.inside(low)), scale(scale.inside(high))


def _goes_on(evaluation: AntennaView) -> tuple[bool, bool]:
    """Whether the half-power band goes on below and above what was solved."""
    low, high = evaluation.half_power_band
    return low <= float(evaluation.frequency[0]) * (1 + 1e-9), high >= float(evaluation.frequency[-1]) * (1 - 1e-9)


def _half_power_words(evaluation: AntennaView) -> str:
    """'149.1 to 178.3 MHz', with 'beyond' at an end that the sweep cuts off."""
    before, after = _goes_on(evaluation)
    low, high = (megahertz(round(value, -5)) for value in evaluation.half_power_band)
    return f"{'below ' if before else ''}{low} to {'beyond ' if after else ''}{high} MHz"


def _frequency_axis(scale: Scale) -> list[tuple[float, str]]:
    return [(value, megahertz(value)) for value in frequency_ticks(scale)]


def band_ruler(
    need: Need, evaluations: Sequence[AntennaView], *, labels: Sequence[str] | None = None, width: float = CHART_WIDTH
) -> str:
    """The asked bands on one logarithmic frequency ruler, and under it what each antenna covers.

    The filled bar is where the SWR is within the limit asked, the bracket where the gain at the receiver is within half power
    of its best. A bar with an open, dashed end reaches the edge of what was solved, as does a bracket without a hook.
    """
    names = _names(evaluations, labels)
    low = min([band.low for band in need.bands] + [float(e.frequency[0]) for e in evaluations])
    high = max([band.high for band in need.bands] + [float(e.frequency[-1]) for e in evaluations])
    left, right = 10.0, width - 10.0
    scale = Scale(low / 1.03, high * 1.03, left, right, logarithmic=True)
    limit = need.limits.worst_swr
    drawing = Drawing(
        width=width,
        title="Asked bands and what each antenna covers",
        description="; ".join(
            f"{name}: SWR {limit:g} or less over "
            + (", ".join(f"{megahertz(round(a, -5))} to {megahertz(round(b, -5))} MHz" for a, b in
                         crossings(e.frequency, e.swr, limit)) or "nothing")
            for name, e in zip(names, evaluations, strict=True)
        ),
        identity="band ruler " + " ".join(e.key for e in evaluations),
    )  # fmt: skip
    shading = BandShading(need.bands, scale)
    top = shading.height + 6.0
    row_height = 35.0
    bottom = top + 24.0 + row_height * len(evaluations) + 2.0
    shading.draw(drawing, top, bottom)
    _draw_ruler(drawing, scale, top)
    for k, (name, evaluation) in enumerate(zip(names, evaluations, strict=True)):
        y = top + 26.0 + row_height * k
        style = series_style(k)
        drawing.text((left + 2.0, y + 10.0), shorten(name, NORMAL, right - left), font_size=NORMAL, fill=colour("ink"))
        first, last = float(evaluation.frequency[0]), float(evaluation.frequency[-1])
        with drawing.group(stroke=colour("rule"), stroke_width=0.8):
            drawing.line((scale(first), y + 18.0), (scale(last), y + 18.0))
        for a, b in crossings(evaluation.frequency, evaluation.swr, limit):
            start, end = scale(a), scale(b)
            drawing.rectangle((start, y + 14.0), end - start, 8.0, fill=style.colour)
            for reached, place in ((a <= first, start), (b >= last, end)):
                if reached:
                    drawing.line(
                        (place, y + 12.0), (place, y + 24.0), stroke=colour("ink"), stroke_width=1.2,
                        stroke_dasharray="2 2",
                    )  # fmt: skip
        a, b = _half_power_ends(scale, evaluation)
        if a < b:
            # An end that the sweep cuts off has no hook.
            before, after = _goes_on(evaluation)
            corners = [(a, y + 24.5)] * (not before) + [(a, y + 29.0), (b, y + 29.0)] + [(b, y + 24.5)] * (not after)
            drawing.path(path_data(corners), stroke=style.colour, stroke_width=1.4, fill="none")
    ink, sample = colour("ink"), series_style(0).colour
    drawing.height = 4.0 + legend(
        drawing,
        [
            (f"SWR {limit:g} or less at the antenna",
             lambda x, y: drawing.rectangle((x - 11.0, y - 4.0), 22.0, 8.0, fill=sample)),
            ("gain at the receiver within half power; no hook: goes on",
             lambda x, y: drawing.path(path_data([(x - 11, y - 2), (x - 11, y + 3), (x + 11, y + 3), (x + 11, y - 2)]),
                                       fill="none", stroke=sample, stroke_width=1.4)),
            ("reaches the edge of what was solved",
             lambda x, y: drawing.line((x, y - 6), (x, y + 6), stroke=ink, stroke_width=1.2, stroke_dasharray="2 2")),
        ],
        left=left, right=right, top=bottom + 4.0,
    )  # fmt: skip
    return drawing.markup()


def _draw_ruler(drawing: Drawing, scale: Scale, top: float) -> None:
    """A rule with graduations hanging from its upper edge: long ones numbered, short ones in between."""
    numbered = frequency_ticks(scale, room=44.0)
    fine = [value for value in nice_ticks(scale.low, scale.high, 60) if scale.low <= value <= scale.high]
    with drawing.group(stroke=colour("ink"), stroke_width=0.8):
        drawing.line((scale.start, top), (scale.end, top))
        last = -math.inf
        for value in fine:
            if scale(value) - last >= 3.0:
                last = scale(value)
                drawing.line((last, top), (last, top + 4.0))
        for value in numbered:
            drawing.line((scale(value), top), (scale(value), top + 8.0))
    with drawing.group(font_size=SMALL, fill=colour("ink"), text_anchor="middle"):
        for value in numbered:
            suffix = " MHz" if value == numbered[-1] else ""
            drawing.text((min(scale(value), scale.end - 22.0 if suffix else scale.end), top + 19.0),
                         megahertz(value) + suffix)  # fmt: skip


def swr_chart(
    evaluations: AntennaView | Sequence[AntennaView],
    need: Need,
    *,
    labels: Sequence[str] | None = None,
    width: float = CHART_WIDTH,
    height: float = 250.0,
    receiver: bool = True,
) -> str:
    """SWR over frequency: at the antenna with its error band (solid), with ``receiver`` also at that end of the feed line (dashed).

    The axis is even in the reflection magnitude (S - 1)/(S + 1), not in S: equal steps are equal shares of the wave
    sent back, so the part near 1 is not crushed by values that are all simply bad. The right edge gives the loss.
    """
    chosen = list(evaluations) if isinstance(evaluations, Sequence) else [evaluations]
    names = _names(chosen, labels)
    limit = need.limits.worst_swr
    low, high = _span(need, chosen)
    left, right = 42.0, width - 44.0
    scale = frequency_scale(low, high, left, right)
    shading = BandShading(need.bands, scale)
    top = shading.height + 4.0
    bottom = top + height - 60.0
    worst = reflection_magnitude(SWR_TOP)

    def vertical(swr: float) -> float:
        return bottom - (bottom - top) * reflection_magnitude(swr) / worst

    worst_seen = [
        float(np.max(e.swr[(e.frequency >= band.low) & (e.frequency <= band.high)], initial=1.0))
        for e in chosen for band in need.must_bands
    ]  # fmt: skip
    drawing = Drawing(
        width=width,
        title=f"SWR of {', '.join(names)}",
        description=f"Standing wave ratio from {megahertz(round(low, -6))} to {megahertz(round(high, -6))} MHz; "
        f"worst over the must-bands {max(worst_seen, default=1.0):.1f}; asked {limit:g} or less.",
        identity="swr " + " ".join(e.key for e in chosen),
    )
    plot = Plot(drawing, left, top, right, bottom, scale, vertical)
    shading.draw(drawing, top, bottom)
    plot.x_axis(_frequency_axis(scale), "frequency, MHz")
    plot.y_axis([(swr, f"{swr:g}") for swr in _SWR_TICKS], "SWR")
    with drawing.group(font_size=SMALL, fill=colour("quiet")):
        for swr in (1.5, 2.0, 3.0, 4.0, 5.0):
            drawing.text((right + 5.0, vertical(swr) + 3.7), f"{mismatch_loss(swr):.1f}")
        drawing.text((width - 5.0, 0.5 * (top + bottom)), "loss by mismatch, dB", text_anchor="middle", rotate=-90.0)
    with drawing.group(clip_path=plot.clip(), fill="none", stroke_linejoin="round"):
        if limit < SWR_TOP:
            drawing.line(
                (left, vertical(limit)), (right, vertical(limit)), stroke=colour("limit"), stroke_width=1.3,
                stroke_dasharray="9 3 2 3",
            )  # fmt: skip
        for k, evaluation in enumerate(chosen):
            style = series_style(k)
            upper = plot.curve(evaluation.frequency, np.minimum(evaluation.swr_high, 1e3))
            lower = plot.curve(evaluation.frequency, np.maximum(evaluation.swr_low, 1.0))
            drawing.polygon(
                [point for point in (*upper, *reversed(lower)) if math.isfinite(point[1])],
                fill=style.colour, opacity=0.25,
            )  # fmt: skip
            drawing.polyline(plot.curve(evaluation.frequency, evaluation.swr), stroke=style.colour, stroke_width=2)
            if receiver:
                drawing.polyline(
                    plot.curve(evaluation.frequency, evaluation.swr_receiver),
                    stroke=style.colour, stroke_width=1.5, stroke_dasharray="5 3",
                )  # fmt: skip
            if len(chosen) > 1:
                for place in sign_places(plot, evaluation.frequency, evaluation.swr, k, len(chosen)):
                    drawing.symbol(style.symbol, place, 8.0, fill=style.colour, stroke=colour("sheet"))
    plot.frame()
    drawing.height = 4.0 + _swr_legend(
        drawing, names, limit, left=left, right=width - 8.0, top=bottom + 32.0, receiver=receiver
    )
    return drawing.markup()


def sign_places(plot: Plot, x: FloatArray, y: FloatArray, index: int, count: int) -> list[Point]:
    """Places along curve number ``index`` of ``count`` for its sign, shifted so that signs do not hide each other."""
    places = []
    curve = np.array(plot.curve(x, y))
    for step in range(5):
        across = plot.left + (plot.right - plot.left) * (step + (index + 0.5) / count) / 5.0
        if curve[0, 0] <= across <= curve[-1, 0]:
            down = float(np.interp(across, curve[:, 0], curve[:, 1]))
            if plot.top <= down <= plot.bottom:
                places.append((across, down))
    return places


def _swr_legend(
    drawing: Drawing, names: Sequence[str], limit: float, *, left: float, right: float, top: float, receiver: bool
) -> float:
    ink, first = colour("ink"), series_style(0).colour
    items: list[LegendItem] = []
    if len(names) > 1:
        for k, name in enumerate(names):
            items.append((name, series_sample(drawing, k, dashed=False)))
    items += [
        ("at the antenna",
         lambda x, y: drawing.line((x - 12, y), (x + 12, y), stroke=ink if len(names) > 1 else first, stroke_width=2)),
        ("error band", lambda x, y: drawing.rectangle((x - 12, y - 4), 24, 8, fill=first, opacity=0.25)),
        *([("at the receiver end of the feed line",
            lambda x, y: drawing.line((x - 12, y), (x + 12, y), stroke=ink if len(names) > 1 else first,
                                      stroke_width=1.5, stroke_dasharray="5 3"))] if receiver else []),
        (f"asked: {limit:g} or less",
         lambda x, y: drawing.line((x - 12, y), (x + 12, y), stroke=colour("limit"), stroke_width=1.3,
                                   stroke_dasharray="9 3 2 3")),
    ]  # fmt: skip
    return legend(drawing, items, left=left, right=right, top=top)


def series_sample(drawing: Drawing, index: int, *, dashed: bool = True) -> Callable[[float, float], None]:
    """A legend sample of one series: its line and its sign."""
    style = series_style(index)

    def draw(x: float, y: float) -> None:
        drawing.line(
            (x - 12, y), (x + 12, y), stroke=style.colour, stroke_width=1.9,
            stroke_dasharray=style.dash_or_none if dashed else None,
        )  # fmt: skip
        drawing.symbol(style.symbol, (x, y), 7.5, fill=style.colour, stroke=colour("sheet"))

    return draw


def realised_gain_chart(
    evaluations: Sequence[AntennaView],
    need: Need,
    *,
    labels: Sequence[str] | None = None,
    width: float = CHART_WIDTH,
    height: float = 260.0,
) -> str:
    """Gain at the receiver [dBi] (mismatch, metal and feed line counted) toward the wanted directions over frequency for several antennas.

    Brackets under the curves mark where each stays within half power (3 dB) of its best.
    """
    names = _names(evaluations, labels)
    low, high = _span(need, evaluations)
    left, right = 42.0, width - 12.0
    scale = frequency_scale(low, high, left, right)
    shading = BandShading(need.bands, scale)
    top = shading.height + 4.0
    strip = 7.0 * len(evaluations) + 6.0
    bottom = top + height - 60.0 + strip

    seen = np.concatenate([e.realised_gain[(e.frequency >= low) & (e.frequency <= high)] for e in evaluations])
    seen = seen[np.isfinite(seen)]
    if not seen.size:
        raise FigureError("a gain chart needs gains inside the asked bands")
    ceiling = 2.0 * math.ceil((float(np.max(seen)) + 0.5) / 2.0)
    # More than 20 dB below the best is deaf for this purpose: showing it would flatten what matters.
    floor = max(2.0 * math.floor((float(np.min(seen)) - 0.5) / 2.0), ceiling - 20.0)
    y = Scale(floor, ceiling, bottom - strip, top)
    drawing = Drawing(
        width=width,
        title="Gain at the receiver over frequency",
        description="Gain toward the wanted directions with mismatch, feed line and metal loss. "
        + "; ".join(
            f"{name}: best {float(np.nanmax(e.realised_gain)):.1f} dBi, within half power from {_half_power_words(e)}"
            for name, e in zip(names, evaluations, strict=True)
        ),
        identity="gain " + " ".join(e.key for e in evaluations),
    )
    plot = Plot(drawing, left, top, right, bottom, scale, y)
    shading.draw(drawing, top, bottom)
    plot.x_axis(_frequency_axis(scale), "frequency, MHz")
    step = 2.0 if ceiling - floor <= 14.0 else 5.0
    ticks = [k * step for k in range(math.ceil(floor / step), math.floor(ceiling / step) + 1)]
    plot.y_axis([(value, f"{value:g}".replace("-", "\u2212")) for value in ticks], "gain at the receiver, dBi")
    with drawing.group(clip_path=plot.clip(), fill="none", stroke_linejoin="round"):
        for k, evaluation in enumerate(evaluations):
            style = series_style(k)
            drawing.polyline(
                plot.curve(evaluation.frequency, np.maximum(evaluation.realised_gain, floor - 5.0)),
                stroke=style.colour, stroke_width=1.9, stroke_dasharray=style.dash_or_none,
            )  # fmt: skip
            for place in sign_places(plot, evaluation.frequency, evaluation.realised_gain, k, len(evaluations)):
                drawing.symbol(style.symbol, place, 8.0, fill=style.colour, stroke=colour("sheet"))
            a, b = _half_power_ends(scale, evaluation)
            if not a < b:
                continue
            row = bottom - strip + 6.0 + 7.0 * k
            with drawing.group(stroke=style.colour, stroke_width=1.6):
                drawing.line((a, row), (b, row), stroke_dasharray=style.dash_or_none)
                for end, cut in zip((a, b), _goes_on(evaluation), strict=True):
                    if not cut:
                        drawing.line((end, row - 3), (end, row + 3))
    plot.frame()
    items: list[LegendItem] = [(name, series_sample(drawing, k)) for k, name in enumerate(names)]
    items.append((
        "within half power of its best; no end: it goes on",
        lambda x, y: drawing.path(f"M{x - 11:g} {y - 3:g}v6m0 -3h22m0 -3v6", fill="none", stroke=colour("ink")),
    ))  # fmt: skip
    drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
    return drawing.markup()
