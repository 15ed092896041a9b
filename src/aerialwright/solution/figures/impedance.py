"""The impedance chart: the plane of the reflection factor with circles of resistance and arcs of reactance."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

import numpy as np

from aerialwright.need.model import Band, Need
from aerialwright.solution.figures.axes import CHART_WIDTH, SMALL, LegendItem, legend, megahertz
from aerialwright.solution.figures.frequency import reflection_magnitude
from aerialwright.solution.figures.palette import colour, series_style
from aerialwright.solution.figures.views import AntennaView
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.solution.svg import Drawing, FigureError, Point, text_width

_LEVELS = (0.2, 0.5, 1.0, 2.0, 5.0)


def reflection(impedance: ComplexArray, z0: float) -> ComplexArray:
    """Reflection factor (Z - Z0) / (Z + Z0) for impedances (n,) [ohm] and a real reference ``z0`` [ohm]."""
    return np.asarray((impedance - z0) / (impedance + z0), dtype=np.complex128)


def smith_chart(evaluation: AntennaView, z0: float, *, need: Need | None = None, width: float = CHART_WIDTH) -> str:
    """Impedance at the feed over frequency on the reflection plane referred to ``z0`` [ohm].

    Circles and arcs carry their value in ohm for this ``z0``. With a ``need`` the SWR limit is drawn as a circle
    and the asked bands as thick parts of the trace with their edges marked in MHz.
    """
    if not z0 > 0.0:
        raise FigureError(f"the impedance chart needs a reference above 0 ohm, not {z0:g}")
    size = width - 60.0
    radius = 0.5 * size
    centre = (0.5 * width, radius + 22.0)
    frequency = evaluation.sweep.frequency
    gamma = reflection(evaluation.sweep.impedance, z0)
    at = int(np.argmin(np.abs(gamma)))
    best = evaluation.sweep.impedance[at]
    drawing = Drawing(
        width=width,
        title=f"Impedance chart of {evaluation.title}",
        description=f"Reflection referred to {z0:g} ohm. Nearest to it at {megahertz(round(float(frequency[at]), -5))}"
        f" MHz with {best.real:.0f} ohm resistance and {best.imag:.0f} ohm reactance.",
        identity=f"impedance chart {evaluation.key}",
    )

    def place(value: complex) -> Point:
        return centre[0] + radius * value.real, centre[1] - radius * value.imag

    impedance_grid(drawing, centre, radius, z0)
    bands = need.bands if need is not None else ()
    if need is not None and math.isfinite(need.limits.worst_swr):
        drawing.circle(
            centre, radius * reflection_magnitude(need.limits.worst_swr), fill="none", stroke=colour("limit"),
            stroke_width=1.4, stroke_dasharray="9 3 2 3",
        )  # fmt: skip
    style = series_style(0)
    with drawing.group(clip_path=drawing.clip_circle(centre, radius + 1.0), stroke_linejoin="round"):
        drawing.polyline([place(complex(value)) for value in gamma], stroke=style.colour, stroke_width=1.3)
        for band in bands:
            must = band.importance == "must"
            drawing.polyline(
                [place(value) for value in _portion(frequency, gamma, band)],
                stroke=style.colour, stroke_width=4.5 if must else 3.0, stroke_linecap="round",
                stroke_dasharray=None if must else "1 5",
            )  # fmt: skip
    marks = sorted({float(f) for band in bands for f in (band.low, band.high) if frequency[0] <= f <= frequency[-1]})
    if not marks:
        marks = [float(f) for f in np.linspace(frequency[0], frequency[-1], 5)]
    frequency_marks(drawing, [(f, place(complex(np.interp(f, frequency, gamma)))) for f in marks])
    with drawing.group(font_size=SMALL, fill=colour("quiet"), text_anchor="middle"):
        drawing.text((centre[0], 12.0), "inductive (reactance above zero)")
        drawing.text((centre[0], centre[1] + radius + 16.0), "capacitive (reactance below zero)")
    items: list[LegendItem] = [
        ("solved range", lambda x, y: drawing.line((x - 12, y), (x + 12, y), stroke=style.colour, stroke_width=1.3))
    ]
    if bands:
        items.append(("inside an asked band", lambda x, y: drawing.line(
            (x - 10, y), (x + 10, y), stroke=style.colour, stroke_width=4.5, stroke_linecap="round")))  # fmt: skip
    if any(band.importance != "must" for band in bands):
        items.append(("inside a wish-band", lambda x, y: drawing.line(
            (x - 10, y), (x + 10, y), stroke=style.colour, stroke_width=3, stroke_linecap="round",
            stroke_dasharray="1 5")))  # fmt: skip
    if need is not None:
        items.append((f"SWR {need.limits.worst_swr:g}", lambda x, y: drawing.line(
            (x - 12, y), (x + 12, y), stroke=colour("limit"), stroke_width=1.4,
            stroke_dasharray="9 3 2 3")))  # fmt: skip
    items.append((f"grid in ohm, centre {z0:g} ohm", lambda x, y: drawing.circle(
        (x, y), 5.0, fill="none", stroke=colour("rule"))))  # fmt: skip
    drawing.height = 4.0 + legend(drawing, items, left=12.0, right=width - 8.0, top=centre[1] + radius + 24.0)
    return drawing.markup()


def impedance_grid(drawing: Drawing, centre: Point, radius: float, z0: float) -> None:
    """Circle of resistance r: centre r/(1+r), radius 1/(1+r). Arc of reactance x: centre 1 + j/x, radius 1/|x|."""
    drawing.circle(centre, radius, fill=colour("sheet"), stroke=colour("rule"), stroke_width=1.2)
    with drawing.group(
        fill="none", stroke=colour("grid"), stroke_width=1, clip_path=drawing.clip_circle(centre, radius)
    ):
        for level in _LEVELS:
            drawing.circle((centre[0] + radius * level / (1.0 + level), centre[1]), radius / (1.0 + level))
            for sign in (1.0, -1.0):
                drawing.circle((centre[0] + radius, centre[1] - sign * radius / level), radius / level)
        drawing.line((centre[0] - radius, centre[1]), (centre[0] + radius, centre[1]), stroke=colour("rule"))
    with drawing.group(fill=colour("quiet"), font_size=SMALL - 1.0, text_anchor="middle"):
        for level in _LEVELS:
            on_axis = (level - 1.0) / (level + 1.0)
            drawing.text((centre[0] + radius * on_axis - 2.0, centre[1] + 11.0), f"{level * z0:g}", text_anchor="end")
            for sign in (1.0, -1.0):
                rim = (1j * sign * level - 1.0) / (1j * sign * level + 1.0)
                outside = rim * (1.0 + 15.0 / radius)
                words = ("+" if sign > 0 else "\u2212") + f"{level * z0:g}"
                if abs(rim.real) > 0.05:  # the top and bottom belong to the words above and below
                    drawing.text((centre[0] + radius * outside.real, centre[1] - radius * outside.imag + 3.5), words)
        drawing.text((centre[0] - radius - 8.0, centre[1] + 3.5), "0")
        drawing.text((centre[0] + radius + 11.0, centre[1] + 3.5), "open")


def _portion(frequency: FloatArray, gamma: ComplexArray, band: Band) -> list[complex]:
    """The part of the trace inside a band, its ends interpolated."""
    low, high = max(band.low, float(frequency[0])), min(band.high, float(frequency[-1]))
    if low > high:
        return []
    inner = gamma[(frequency > low) & (frequency < high)]
    return [
        complex(np.interp(low, frequency, gamma)), *(complex(v) for v in inner),
        complex(np.interp(high, frequency, gamma)),
    ]  # fmt: skip


def frequency_marks(drawing: Drawing, marks: Sequence[tuple[float, Point]]) -> None:
    """Dots with frequencies; each label takes the first of eight places round its dot that is still free."""
    taken: list[tuple[float, float, float, float]] = [(x - 5, y - 5, x + 5, y + 5) for _, (x, y) in marks]
    for frequency, (x, y) in marks:
        words = megahertz(frequency)
        length = text_width(words, SMALL) + 2.0
        drawing.circle((x, y), 3.6, fill=colour("sheet"), stroke=colour("ink"), stroke_width=1.6)
        for ring in (13.0, 24.0, 36.0):
            options = [cmath.rect(1.0, math.radians(angle)) for angle in (45, 0, 90, 135, 180, 270, 225, 315)]
            boxes = [
                (x + ring * a.real * 1.3 - 0.5 * length + 0.4 * length * a.real, y - ring * a.imag - 6.0)
                for a in options
            ]
            free = next(
                ((bx, by) for bx, by in boxes if not any(
                    bx < d and bx + length > a and by < c and by + 12.0 > b for a, b, d, c in taken)),
                None,
            )  # fmt: skip
            if free is not None:
                break
        if free is None:
            continue
        bx, by = free
        taken.append((bx, by, bx + length, by + 12.0))
        drawing.line((x, y), (bx + 0.5 * length, by + 6.0), stroke=colour("rule"), stroke_width=0.7)
        drawing.circle((x, y), 3.6, fill=colour("sheet"), stroke=colour("ink"), stroke_width=1.6)
        drawing.rectangle((bx, by), length, 12.0, fill=colour("sheet"), opacity=0.85)
        drawing.text(
            (bx + 0.5 * length, by + 9.7), words, font_size=SMALL, text_anchor="middle", fill=colour("ink"),
            font_weight="600",
        )  # fmt: skip
