"""The sky over an antenna: tracks of satellites over its pattern, and the signal of one pass over time."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from aerialwright.solution.figures.axes import (
    CHART_WIDTH,
    SMALL,
    LegendItem,
    Plot,
    Scale,
    legend,
    nice_step,
    nice_ticks,
)
from aerialwright.solution.figures.curves import plain_number
from aerialwright.solution.figures.palette import colour
from aerialwright.solution.records import FloatArray
from aerialwright.solution.svg import Drawing, FigureError, Point, wrap

#: Opacity of the shade for gain within 3, 6 and 9 dB of the best.
_SHADES = ((3.0, 0.62), (6.0, 0.38), (9.0, 0.18))
#: Weight of a track [px] from this likelihood of decoding on.
_WEIGHTS = ((0.0, 0.7), (0.1, 1.8), (0.5, 3.6))


@dataclass(frozen=True)
class TrackView:
    """A pass in the sky: ``azimuth`` and ``elevation`` (n,) [degree], ``likelihood`` (n,) of decoding, 0..1."""

    azimuth: FloatArray
    elevation: FloatArray
    likelihood: FloatArray


def sky_dome(
    tracks: Sequence[TrackView], *, azimuth: FloatArray, elevation: FloatArray, gain: FloatArray, horizon: FloatArray, title: str,
    note: str, width: float = CHART_WIDTH,
) -> str:  # fmt: skip
    """The sky from above, zenith in the middle and north up: the antenna's gain as shade, tracks as lines that are thick where they
    decode.

    ``gain`` (n, m) [dBi] toward ``elevation`` (n,) and ``azimuth`` (m,) [degree], both rising in even steps; ``horizon`` (m,) is the
    mask's elevation at ``azimuth``.
    """
    if not tracks:
        raise FigureError("no pass to draw", where=title)
    radius = 0.5 * width - 46.0
    centre = (0.5 * width, radius + 30.0)

    def place(around: float, up: float) -> Point:
        reach = radius * (90.0 - up) / 90.0
        angle = math.radians(around)
        return centre[0] + reach * math.sin(angle), centre[1] - reach * math.cos(angle)

    best = float(gain.max())
    at = np.unravel_index(int(np.argmax(gain)), gain.shape)
    drawing = Drawing(
        width=width, title=title, identity=f"sky {title}",
        description=f"{len(tracks)} passes; the antenna's best gain is {best:.1f} dBi at {elevation[at[0]]:.0f} degrees of elevation.",
    )  # fmt: skip
    drawing.circle(centre, radius, fill=colour("sheet"), stroke="none")
    _shade(drawing, place, azimuth, elevation, gain, best)
    ring = [place(float(a), float(h)) for a, h in zip(azimuth, horizon, strict=True)]
    rim = [place(float(a), 0.0) for a in azimuth]
    hatch = drawing.hatch(colour=colour("rule"), pitch=4.0, width=1.0)
    for k in range(len(azimuth)):
        after = (k + 1) % len(azimuth)
        if max(horizon[k], horizon[after]) > 0.0:
            drawing.polygon((rim[k], rim[after], ring[after], ring[k]), fill=hatch)
    _rings(drawing, centre, radius)
    for track in tracks:
        _draw_track(drawing, place, track)
    items: list[LegendItem] = [
        (f"gain within {depth:g} dB of {best:.1f} dBi", _swatch(drawing, opacity)) for depth, opacity in _SHADES
    ]
    words = {0.0: "pass", 0.1: "decodes now and then (one in ten or more)", 0.5: "decodes more often than not"}
    items += [(words[level], _stroke(drawing, weight)) for level, weight in _WEIGHTS]
    if horizon.max() > 0.0:
        items.append(("behind the horizon", lambda x, y: drawing.rectangle((x - 11, y - 5), 22, 10, fill=hatch)))
    bottom = legend(drawing, items, left=16.0, right=width - 8.0, top=centre[1] + radius + 22.0)
    for line in wrap(note, SMALL, width - 24.0):
        bottom += 13.0
        drawing.text((16.0, bottom), line, font_size=SMALL, fill=colour("quiet"))
    drawing.height = bottom + 8.0
    return drawing.markup()


def _shade(
    drawing: Drawing, place: Callable[[float, float], Point], azimuth: FloatArray, elevation: FloatArray, gain: FloatArray, best: float
) -> None:  # fmt: skip
    around = float(azimuth[1] - azimuth[0]) * 0.5
    up = float(elevation[1] - elevation[0]) * 0.5
    for depth, opacity in _SHADES:
        nearer = max((d for d, _ in _SHADES if d < depth), default=0.0)
        cells = []
        for row, high in enumerate(elevation):
            # Neighbours of one shade share an outline, so that no seams show.
            inside = (best - gain[row] <= depth) & ((best - gain[row] > nearer) | (nearer == 0.0))
            for first, last in _runs(inside):
                low, top = max(0.0, float(high) - up), min(90.0, float(high) + up)
                steps = [azimuth[0] - around + 2.0 * around * k for k in range(first, last + 1)]
                edge = [place(float(a), low) for a in steps] + [place(float(a), top) for a in reversed(steps)]
                cells.append(edge)
        with drawing.group(fill=colour("series-1"), fill_opacity=opacity, stroke="none"):
            for edge in cells:
                drawing.polygon(edge)


def _runs(inside: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """(first, past the last) of every run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _draw_track(drawing: Drawing, place: Callable[[float, float], Point], track: TrackView) -> None:
    keep = np.unique(np.round(np.linspace(0, len(track.azimuth) - 1, min(len(track.azimuth), 60))).astype(int))
    points = [place(float(track.azimuth[k]), float(track.elevation[k])) for k in keep]
    likely = track.likelihood[keep]
    for level, weight in _WEIGHTS:
        strong = likely >= level
        line = [point if good else (math.nan, math.nan) for point, good in zip(points, strong, strict=True)]
        drawing.polyline(
            line, stroke=colour("quiet" if level == 0.0 else "series-2"), stroke_width=weight, stroke_linecap="round"
        )


def _swatch(drawing: Drawing, opacity: float) -> Callable[[float, float], None]:
    return lambda x, y: drawing.rectangle((x - 11, y - 5), 22, 10, fill=colour("series-1"), fill_opacity=opacity)


def _stroke(drawing: Drawing, weight: float) -> Callable[[float, float], None]:
    shade = colour("quiet" if weight == _WEIGHTS[0][1] else "series-2")
    return lambda x, y: drawing.line(
        (x - 12, y), (x + 12, y), stroke=shade, stroke_width=weight, stroke_linecap="round"
    )


def _rings(drawing: Drawing, centre: Point, radius: float) -> None:
    with drawing.group(fill="none", stroke=colour("grid"), stroke_width=1):
        for up in (30, 60):
            drawing.circle(centre, radius * (90 - up) / 90.0)
        for across, along in ((1.0, 0.0), (0.0, 1.0)):
            drawing.line(
                (centre[0] - radius * across, centre[1] - radius * along),
                (centre[0] + radius * across, centre[1] + radius * along),
            )
    drawing.circle(centre, radius, fill="none", stroke=colour("rule"), stroke_width=1.2)
    with drawing.group(fill=colour("quiet"), font_size=SMALL, text_anchor="middle"):
        for words, x, y in (("north", 0, -1), ("south", 0, 1)):
            drawing.text((centre[0] + x * radius, centre[1] + y * (radius + 9.0) + 3.5), words)
        drawing.text((centre[0] + radius + 22.0, centre[1] + 3.5), "east")
        drawing.text((centre[0] - radius - 22.0, centre[1] + 3.5), "west")
        for up in (30, 60):
            drawing.text((centre[0] + 10.0, centre[1] - radius * (90 - up) / 90.0 - 3.0), f"{up}\u00b0")


def pass_chart(
    time: FloatArray, *, middle: FloatArray, low: FloatArray, high: FloatArray, visible: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    elevation: FloatArray, needed: float, title: str, width: float = CHART_WIDTH, height: float = 230.0,
) -> str:  # fmt: skip
    """Signal over noise (n,) [dB] over ``time`` (n,) [s] of one pass: the middle one of all tilts, the band that holds four of five, and
    what is needed; elevations [degree] along the top."""
    if len(time) < 2:
        raise FigureError("a pass needs two moments to be drawn", where=title)
    minutes = (time - time[0]) / 60.0
    left, right, top = 48.0, width - 14.0, 30.0
    bottom = top + height - 60.0
    lowest = max(float(low.min()), float(middle.max()) - 30.0, needed - 30.0)
    span = (min(lowest, needed) - 2.0, max(float(high.max()), needed) + 2.0)
    step = nice_step(span[1] - span[0], 6)
    x = Scale(0.0, float(minutes[-1]), left, right)
    y = Scale(math.floor(span[0] / step) * step, math.ceil(span[1] / step) * step, bottom, top)
    best = int(np.argmax(np.where(visible, middle, -np.inf)))
    drawing = Drawing(
        width=width, title=title, identity=f"pass {title}",
        description=f"Best {middle[best]:.1f} dB at {elevation[best]:.0f} degrees of elevation; {needed:.1f} dB are needed.",
    )  # fmt: skip
    plot = Plot(drawing, left, top, right, bottom, x, y)
    plot.x_axis([(value, plain_number(value)) for value in nice_ticks(0.0, x.high, 7)], "minutes from the rise")
    plot.y_axis([(value, plain_number(value)) for value in nice_ticks(y.low, y.high, 6)], "signal over noise, dB")
    inside = plot.clip()
    edge = [*plot.curve(minutes, high), *reversed(plot.curve(minutes, low))]
    drawing.polygon(edge, fill=colour("band"), clip_path=inside)
    with drawing.group(clip_path=inside):
        shown = np.where(visible, middle, np.nan)
        drawing.polyline(
            plot.curve(minutes, middle), stroke=colour("series-1"), stroke_width=1.0, stroke_dasharray="2 3"
        )
        drawing.polyline(plot.curve(minutes, shown), stroke=colour("series-1"), stroke_width=2.2)
    drawing.line(
        (left, y(needed)), (right, y(needed)), stroke=colour("limit"), stroke_width=1.4, stroke_dasharray="6 3"
    )
    with drawing.group(fill=colour("quiet"), font_size=SMALL, text_anchor="middle"):
        for part in (0.0, 0.25, 0.5, 0.75, 1.0):
            k = round(part * (len(time) - 1))
            middle_x = min(max(x(float(minutes[k])), left + 10.0), right - 10.0)
            drawing.text((middle_x, top - 6.0), f"{elevation[k]:.0f}\u00b0")
        drawing.text((0.5 * (left + right), top - 19.0), "elevation")
    plot.frame()
    items: list[LegendItem] = [
        ("half of all tilts do better", lambda a, b: drawing.line((a - 12, b), (a + 12, b), stroke=colour("series-1"), stroke_width=2.2)),
        ("four of five tilts", lambda a, b: drawing.rectangle((a - 11, b - 5), 22, 10, fill=colour("band"))),
        ("needed", lambda a, b: drawing.line((a - 12, b), (a + 12, b), stroke=colour("limit"), stroke_width=1.4, stroke_dasharray="6 3")),
    ]  # fmt: skip
    drawing.height = 4.0 + legend(drawing, items, left=left, right=width - 8.0, top=bottom + 32.0)
    return drawing.markup()
