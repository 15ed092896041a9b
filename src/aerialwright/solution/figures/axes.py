"""Scales, ticks, frames, legends and band shading shared by the charts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from aerialwright.need.model import Band
from aerialwright.solution.figures.palette import colour
from aerialwright.solution.records import FloatArray
from aerialwright.solution.svg import Drawing, Point, shorten, text_width

#: Text sizes in a chart [px]: charts are drawn 440 px wide, so that they stay readable on a 390 px phone.
SMALL, NORMAL, LARGE = 10.5, 11.5, 13.0
CHART_WIDTH = 440.0
MEGAHERTZ = 1.0e6

#: Words and the drawing of a sample centred on a point.
LegendItem = tuple[str, Callable[[float, float], None]]


@dataclass(frozen=True)
class Scale:
    """Maps ``low..high`` to ``start..end`` [px], linearly or by the logarithm."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def __call__(self, value: float) -> float:
        """Place of ``value`` [px]; nan stays nan."""
        if self.logarithmic:
            part = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            part = (value - self.low) / (self.high - self.low)
        return self.start + part * (self.end - self.start)

    def inside(self, value: float) -> float:
        """``value`` brought into the range of the scale."""
        return min(max(value, self.low), self.high)


def frequency_scale(low: float, high: float, start: float, end: float) -> Scale:
    """A frequency axis [Hz]: logarithmic as soon as the range is wider than 1:1.9."""
    if not high > low:
        low, high = 0.95 * low, 1.05 * low
    return Scale(low, high, start, end, logarithmic=high / low > 1.9)


def nice_step(span: float, count: int) -> float:
    """The step 1, 2, 2.5 or 5 times a power of ten that divides ``span`` into about ``count`` parts."""
    raw = span / max(count, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(step * power for step in (1.0, 2.0, 2.5, 5.0, 10.0) if step * power >= raw * 0.999)


def nice_ticks(low: float, high: float, count: int) -> list[float]:
    """Round values inside ``low..high``, about ``count`` of them."""
    step = nice_step(high - low, count)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


def frequency_ticks(scale: Scale, room: float = 40.0) -> list[float]:
    """Round frequencies on a frequency axis, at least ``room`` [px] apart."""
    length = abs(scale.end - scale.start)
    if not scale.logarithmic:
        return nice_ticks(scale.low, scale.high, int(length / room))
    kept: list[float] = []
    decades = range(math.floor(math.log10(scale.low)), math.ceil(math.log10(scale.high)) + 1)
    # Round mantissas first, so that 100 and 200 win over 120 when there is no room for both.
    for mantissa in (1.0, 2.0, 5.0, 3.0, 1.5, 4.0, 7.0, 2.5, 1.2, 6.0, 8.0, 1.75):
        for decade in decades:
            value = mantissa * 10.0**decade
            if scale.low <= value <= scale.high and all(abs(scale(value) - scale(k)) >= room for k in kept):
                kept.append(value)
    return sorted(kept)


def megahertz(frequency: float) -> str:
    """A frequency [Hz] as a bare number of MHz for an axis."""
    return f"{frequency / MEGAHERTZ:.6g}"


def crossings(
    frequency: FloatArray, values: FloatArray, limit: float, *, below: bool = True
) -> list[tuple[float, float]]:
    """Spans of ``frequency`` (n,) where ``values`` (n,) stay at or under ``limit`` (or over it).

    Edges are interpolated linearly. A span that touches the first or last frequency ends there.
    """
    sign = 1.0 if below else -1.0
    excess = sign * (np.asarray(values, dtype=float) - limit)
    excess = np.where(np.isfinite(excess), excess, 1e30)
    spans: list[tuple[float, float]] = []
    start: float | None = None
    for k in range(len(frequency)):
        good = excess[k] <= 0.0
        edge = float(frequency[k])
        if k > 0 and good != (excess[k - 1] <= 0.0):
            part = excess[k - 1] / (excess[k - 1] - excess[k])
            edge = float(frequency[k - 1] + part * (frequency[k] - frequency[k - 1]))
        if good and start is None:
            start = edge
        elif not good and start is not None:
            spans.append((start, edge))
            start = None
    if start is not None:
        spans.append((start, float(frequency[-1])))
    return spans


@dataclass
class Plot:
    """A chart's box [px] with its two scales."""

    drawing: Drawing
    left: float
    top: float
    right: float
    bottom: float
    x: Scale
    y: Callable[[float], float]

    def frame(self) -> None:
        """The box."""
        self.drawing.rectangle(
            (self.left, self.top), self.right - self.left, self.bottom - self.top,
            fill="none", stroke=colour("rule"), stroke_width=1,
        )  # fmt: skip

    def x_axis(self, ticks: Sequence[tuple[float, str]], label: str) -> None:
        """Ticks with grid lines, numbers and the name of the axis under the box."""
        with self.drawing.group(stroke=colour("grid"), stroke_width=0.8):
            for value, _ in ticks:
                self.drawing.line((self.x(value), self.top), (self.x(value), self.bottom))
        with self.drawing.group(fill=colour("quiet"), font_size=SMALL, text_anchor="middle"):
            for value, words in ticks:
                self.drawing.text((self.x(value), self.bottom + 13.0), words)
            self.drawing.text((0.5 * (self.left + self.right), self.bottom + 27.0), label)

    def y_axis(self, ticks: Sequence[tuple[float, str]], label: str) -> None:
        """Ticks with grid lines and numbers left of the box; the name of the axis above its left edge."""
        with self.drawing.group(stroke=colour("grid"), stroke_width=0.8):
            for value, _ in ticks:
                self.drawing.line((self.left, self.y(value)), (self.right, self.y(value)))
        with self.drawing.group(fill=colour("quiet"), font_size=SMALL, text_anchor="end"):
            for value, words in ticks:
                self.drawing.text((self.left - 5.0, self.y(value) + 3.7), words)
        middle = 0.5 * (self.top + self.bottom)
        self.drawing.text(
            (12.0, middle), label, fill=colour("quiet"), font_size=SMALL, text_anchor="middle", rotate=-90.0
        )

    def clip(self) -> str:
        """A cutting box for curves."""
        return self.drawing.clip((self.left, self.top), self.right - self.left, self.bottom - self.top)

    def curve(self, x: FloatArray, y: FloatArray) -> list[Point]:
        """Points of a curve [px]; values without a place become nan and break the line."""
        return [(self.x(float(a)), self.y(float(b))) for a, b in zip(x, y, strict=True)]


def label_rows(places: Sequence[tuple[float, str]], size: float, left: float, right: float) -> list[tuple[float, int]]:
    """Centre [px] and row for each label so that none overlap; row 0 is nearest the thing labelled."""
    taken: list[list[tuple[float, float]]] = []
    result: list[tuple[float, int]] = []
    for centre, words in places:
        half = 0.5 * text_width(words, size) + 3.0
        middle = min(max(centre, left + half), right - half)
        row = 0
        while row < len(taken) and any(middle - half < b and middle + half > a for a, b in taken[row]):
            row += 1
        if row == len(taken):
            taken.append([])
        taken[row].append((middle - half, middle + half))
        result.append((middle, row))
    return result


class BandShading:
    """The asked bands behind a chart: must-bands filled, wish-bands hatched, labels in rows above the box."""

    row_height = 13.0

    def __init__(self, bands: Sequence[Band], x: Scale) -> None:
        self.bands = [band for band in bands if band.high >= x.low and band.low <= x.high]
        self.x = x
        self.words = [shorten(_band_words(band), SMALL, 190.0) for band in self.bands]
        centres = [0.5 * (x(x.inside(band.low)) + x(x.inside(band.high))) for band in self.bands]
        low, high = min(x.start, x.end), max(x.start, x.end)
        self.places = label_rows(list(zip(centres, self.words, strict=True)), SMALL, low - 30.0, high + 8.0)
        self.centres = centres

    @property
    def height(self) -> float:
        """Room the labels need above the box [px]."""
        return self.row_height * (1 + max((row for _, row in self.places), default=-1)) + 3.0

    def draw(self, drawing: Drawing, top: float, bottom: float) -> None:
        """Shade between ``top`` and ``bottom`` and write the labels above ``top``."""
        hatch = drawing.hatch(colour=colour("wish"), pitch=5.0, width=1.0)
        for band, words, centre, (middle, row) in zip(self.bands, self.words, self.centres, self.places, strict=True):
            left = self.x(self.x.inside(band.low))
            width = max(self.x(self.x.inside(band.high)) - left, 1.5)
            must = band.importance == "must"
            drawing.rectangle(
                (left, top), width, bottom - top,
                fill=colour("band") if must else hatch, opacity=None if must else 0.55,
            )  # fmt: skip
            with drawing.group(stroke=colour("rule"), stroke_width=0.7, stroke_dasharray=None if must else "3 2"):
                drawing.line((left, top), (left, bottom))
                drawing.line((left + width, top), (left + width, bottom))
            baseline = top - 4.0 - row * self.row_height
            if row > 0:
                drawing.line((centre, top), (centre, baseline + 2.0), stroke=colour("rule"), stroke_width=0.6)
            drawing.text(
                (middle, baseline), words, font_size=SMALL, text_anchor="middle",
                fill=colour("ink" if must else "quiet"), font_style=None if must else "italic",
            )  # fmt: skip


def _band_words(band: Band) -> str:
    return band.label if band.importance == "must" else f"{band.label} (wish)"


def legend(
    drawing: Drawing,
    items: Sequence[LegendItem],
    *,
    left: float,
    right: float,
    top: float,
) -> float:
    """Entries flowing in rows, each with a sample 24 px wide. Returns the lower edge [px]."""
    sample, gap, row_height = 26.0, 14.0, 16.0
    x, y = left, top + 0.5 * row_height
    for words, draw in items:
        shown = shorten(words, SMALL, right - left - sample - 4.0)
        width = sample + 4.0 + text_width(shown, SMALL)
        if x > left and x + width > right:
            x, y = left, y + row_height
        draw(x + 0.5 * sample, y)
        drawing.text((x + sample + 4.0, y + 3.7), shown, font_size=SMALL, fill=colour("ink"))
        x += width + gap
    return y + 0.5 * row_height if items else top
