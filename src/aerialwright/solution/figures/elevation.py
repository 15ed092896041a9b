"""Elevation cuts of the far field on a polar plot: zenith up, horizon left and right."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from aerialwright.need.model import Need
from aerialwright.solution.figures.axes import CHART_WIDTH, SMALL, LegendItem, legend, megahertz
from aerialwright.solution.figures.palette import SeriesStyle, colour, series_style
from aerialwright.solution.figures.views import AntennaView
from aerialwright.solution.records import FloatArray, Pattern
from aerialwright.solution.svg import Drawing, FigureError, Point
from aerialwright.structure.ground import Ground

#: dB from the rim to the middle of the plot.
_DEPTH = 25.0
_RING = 5.0


def elevation_cut(pattern: Pattern, *, polarisation: str = "total") -> tuple[FloatArray, FloatArray]:
    """One full turn of the pattern in a vertical plane: angle (n,) [rad] clockwise from the zenith, gain (n,) [dBi].

    The plane is that of the first azimuth and of the azimuth opposite to it; where the opposite one was not
    computed the first is mirrored. ``polarisation``: ``"vertical"``, ``"horizontal"`` or ``"total"``.
    """
    table = {"vertical": pattern.gain_theta, "horizontal": pattern.gain_phi}.get(polarisation, pattern.gain)
    order = np.argsort(pattern.theta)
    theta = pattern.theta[order]
    opposite = np.mod(pattern.phi - pattern.phi[0] - math.pi + 0.5 * math.pi, 2.0 * math.pi) - 0.5 * math.pi
    k = int(np.argmin(np.abs(opposite)))
    if abs(opposite[k]) > 1e-6:
        k = 0
    right, left = table[order, 0], table[order, k]
    angle = np.concatenate([-theta[::-1], theta])
    gain = np.concatenate([left[::-1], right])
    with np.errstate(divide="ignore"):
        return angle, 10.0 * np.log10(np.maximum(gain, 1e-30))


def chosen_patterns(patterns: Sequence[Pattern]) -> list[Pattern]:
    """The lowest, the middle and the highest of the frequencies solved."""
    ordered = sorted(patterns, key=lambda pattern: pattern.frequency)
    if len(ordered) <= 3:
        return ordered
    return [ordered[0], ordered[len(ordered) // 2], ordered[-1]]


def _ground_name(ground: str | Ground) -> str:
    return "a perfectly conducting plane" if isinstance(ground, str) else ground.name


def elevation_pattern(evaluation: AntennaView, *, need: Need | None = None, width: float = CHART_WIDTH) -> str:
    """Elevation cuts at a low, a middle and a high frequency, told apart by dash and sign; rings in dBi.

    With a ``need`` the gain is that of the wanted polarisation and the wanted elevations are shaded.
    """
    patterns = chosen_patterns(evaluation.patterns)
    if not patterns:
        raise FigureError(f"no far field was computed for {evaluation.title}")
    full_turn = evaluation.structure.ground == "none"
    return elevation_comparison(
        [(f"{megahertz(pattern.frequency)} MHz", pattern) for pattern in patterns],
        title=f"Elevation pattern of {evaluation.title}",
        identity=f"elevation {evaluation.key}",
        note="free space: no earth, mast or coax" if full_turn else f"over {_ground_name(evaluation.structure.ground)}",
        need=need, full_turn=full_turn, width=width,
    )  # fmt: skip


def elevation_comparison(
    labelled: Sequence[tuple[str, Pattern]], *, title: str, identity: str, note: str, need: Need | None = None,
    full_turn: bool = True, width: float = CHART_WIDTH,
) -> str:  # fmt: skip
    """Elevation cuts of labelled patterns in one picture; ``note`` says under it what surrounds the antenna."""
    if not labelled:
        raise FigureError(f"no far field to draw: {title}")
    words = [label for label, _ in labelled]
    patterns = [pattern for _, pattern in labelled]
    asked = need.polarisation if need is not None else ""
    polarisation = asked if asked in ("vertical", "horizontal") else "total"
    cuts = [elevation_cut(pattern, polarisation=polarisation) for pattern in patterns]
    peak = max(float(np.max(gain)) for _, gain in cuts)
    rim = _RING * math.ceil((peak + 0.01) / _RING)
    radius = 0.5 * width - 62.0
    centre = (0.5 * width, radius + 36.0)
    drawing = Drawing(
        width=width,
        title=title,
        description="; ".join(
            f"{name}: strongest {float(np.max(gain)):.1f} dBi at {_elevation_of_peak(angle, gain):.0f} degree elevation"
            for name, (angle, gain) in zip(words, cuts, strict=True)
        ),
        identity=identity,
    )

    def place(angle: float, gain: float) -> Point:
        reach = radius * max(0.0, (gain - rim + _DEPTH) / _DEPTH)
        return centre[0] + reach * math.sin(angle), centre[1] - reach * math.cos(angle)

    drawing.circle(centre, radius, fill=colour("sheet"), stroke="none")
    if need is not None:
        for low, high in _wanted_spans(need):
            edge = [place(math.radians(90.0 - low + (low - high) * k / 16.0), rim) for k in range(17)]
            for side in (1.0, -1.0):
                drawing.polygon(
                    [centre, *((centre[0] + side * (x - centre[0]), y) for x, y in edge)], fill=colour("band")
                )
    _rings(drawing, centre, radius, rim, full_turn=full_turn)
    for k, (angle, gain) in enumerate(cuts):
        style = series_style(k)
        drawing.polyline(
            [place(float(a), float(g)) for a, g in zip(angle, gain, strict=True)],
            stroke=style.colour, stroke_width=2, stroke_dasharray=style.dash_or_none, stroke_linejoin="round",
        )  # fmt: skip
        for part in (0.62, 0.80):
            at = int(part * (len(angle) - 1)) - 2 * k
            drawing.symbol(style.symbol, place(float(angle[at]), float(gain[at])), 8.0, fill=style.colour,
                           stroke=colour("sheet"))  # fmt: skip
    items: list[LegendItem] = [(name, _sample(drawing, series_style(k))) for k, name in enumerate(words)]
    if need is not None:
        items.append(("elevations asked for", lambda x, y: drawing.rectangle((x - 11, y - 5), 22, 10,
                                                                             fill=colour("band"))))  # fmt: skip
    bottom = legend(drawing, items, left=16.0, right=width - 8.0, top=centre[1] + radius + 26.0)
    kind = "gain" if polarisation == "total" else f"gain in {polarisation} polarisation"
    drawing.text((16.0, bottom + 11.0), f"{kind}, dBi; {note}", font_size=SMALL, fill=colour("quiet"))
    drawing.height = bottom + 18.0
    return drawing.markup()


def _wanted_spans(need: Need) -> list[tuple[float, float]]:
    low, high = sorted((need.far_end.lowest_elevation, need.far_end.highest_elevation))
    return [(low, max(high, low + 0.5))]


def _elevation_of_peak(angle: FloatArray, gain: FloatArray) -> float:
    return 90.0 - math.degrees(abs(float(angle[int(np.argmax(gain))])))


def _sample(drawing: Drawing, style: SeriesStyle) -> Callable[[float, float], None]:
    def draw(x: float, y: float) -> None:
        drawing.line((x - 12, y), (x + 12, y), stroke=style.colour, stroke_width=2,
                     stroke_dasharray=style.dash_or_none)  # fmt: skip
        drawing.symbol(style.symbol, (x, y), 7.5, fill=style.colour, stroke=colour("sheet"))

    return draw


def _rings(drawing: Drawing, centre: Point, radius: float, rim: float, *, full_turn: bool) -> None:
    with drawing.group(fill="none", stroke=colour("grid"), stroke_width=1):
        for k in range(1, int(_DEPTH / _RING)):
            drawing.circle(centre, radius * k * _RING / _DEPTH)
        for degree in range(0, 180, 30):
            a = math.radians(degree)
            across, up = radius * math.cos(a), radius * math.sin(a)
            drawing.line((centre[0] - across, centre[1] + up), (centre[0] + across, centre[1] - up))
    drawing.circle(centre, radius, fill="none", stroke=colour("rule"), stroke_width=1.2)
    drawing.line(
        (centre[0] - radius, centre[1]), (centre[0] + radius, centre[1]), stroke=colour("rule"), stroke_width=1.4
    )
    with drawing.group(fill=colour("quiet"), font_size=SMALL):
        for k in range(1, int(_DEPTH / _RING) + 1):
            level = rim - _DEPTH + k * _RING
            reach = radius * k * _RING / _DEPTH
            words = f"{level:g}".replace("-", "\u2212") + (" dBi" if k == int(_DEPTH / _RING) else "")
            drawing.text((centre[0] + 3.0, centre[1] + reach - 3.0), words)
        for elevation in (30, 60, 0, -30, -60):
            if elevation < 0 and not full_turn:
                continue
            a = math.radians(elevation)
            x, y = (radius + 7.0) * math.cos(a), (radius + 7.0) * math.sin(a)
            words = "horizon" if elevation == 0 else f"{elevation}\u00b0".replace("-", "\u2212")
            drawing.text((centre[0] + x, centre[1] - y + 3.5), words)
            drawing.text((centre[0] - x, centre[1] - y + 3.5), words, text_anchor="end")
        drawing.text((centre[0], centre[1] - radius - 8.0), "zenith", text_anchor="middle")
        if full_turn:
            drawing.text((centre[0], centre[1] + radius + 15.0), "straight down", text_anchor="middle")
