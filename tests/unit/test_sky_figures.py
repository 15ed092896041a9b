"""Pictures of the sky: the geometry of tracks and signals read back from the drawing."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from aerialwright.solution.figures.sky import TrackView, pass_chart, sky_dome
from aerialwright.solution.svg import FigureError

SVG = "{http://www.w3.org/2000/svg}"
AZIMUTH, ELEVATION = np.arange(0.0, 360.0, 15.0), np.arange(1.5, 90.0, 3.0)
GAIN = np.tile(-0.099 * ELEVATION[:, None], (1, len(AZIMUTH)))
HORIZON = np.where(AZIMUTH < 40.0, 12.0, 0.0)


def dome(track: TrackView, *, gain: np.ndarray = GAIN, horizon: np.ndarray = HORIZON) -> ET.Element:
    text = sky_dome(
        [track], azimuth=AZIMUTH, elevation=ELEVATION, gain=gain, horizon=horizon, title="a <sky>", note="a note " * 40
    )
    return ET.fromstring(text)


def paths(picture: ET.Element, width: str) -> list[list[tuple[float, float]]]:
    """Points of all lines of one weight."""
    found = [
        node.get("d", "")
        for node in picture.iter(f"{SVG}path")
        if node.get("stroke-width") == width and node.get("fill") == "none"
    ]
    return [[(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", data)] for data in found]


def test_a_track_runs_where_the_satellite_does() -> None:
    """North is up, east right, the zenith in the middle, the horizon at the rim: equal steps of elevation are equal steps of radius."""
    track = TrackView(
        np.array([0.0, 90.0, 180.0, 270.0]), np.array([0.0, 45.0, 60.0, 30.0]), np.array([0.0, 0.2, 0.6, 0.6])
    )
    picture = dome(track)
    (line,) = paths(picture, "0.7")
    radius = 0.5 * 440.0 - 46.0
    x0, y0 = 220.0, radius + 30.0
    expected = [(x0, y0 - radius), (x0 + 0.5 * radius, y0), (x0, y0 + radius / 3), (x0 - radius * 2 / 3, y0)]
    assert line == [pytest.approx(point, abs=1e-3) for point in expected]
    # Thicker where it decodes now and then, thickest where mostly.
    assert len(paths(picture, "1.8")[0]) == 3
    assert len(paths(picture, "3.6")[0]) == 2


def test_the_description_tells_the_best_gain() -> None:
    picture = dome(TrackView(np.array([0.0, 9.0]), np.array([5.0, 9.0]), np.zeros(2)))
    assert "-0.1 dBi at 2 degrees" in (picture.findtext(f"{SVG}desc") or "")
    assert "a <sky>" in (picture.findtext(f"{SVG}title") or "")


def test_the_shade_covers_what_it_says() -> None:
    """Gain falls by 0.099 dB per degree: within 3, 6 and 9 dB of the best are rings of 30 degrees each."""
    picture = dome(TrackView(np.array([0.0, 9.0]), np.array([5.0, 9.0]), np.zeros(2)), horizon=np.zeros(len(AZIMUTH)))
    areas = {}
    for group in picture.iter(f"{SVG}g"):
        if group.get("fill-opacity"):
            total = 0.0
            for node in group:
                points = [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", node.get("d", ""))]
                total += (
                    abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, [*points[1:], points[0]], strict=True)))
                    / 2
                )
            areas[group.get("fill-opacity")] = total
    radius = 174.0
    flat = math.sin(math.radians(15.0)) / math.radians(15.0)  # cells have straight edges
    # Best is at 1.5 degree; cells of 3 degrees: up to 33, 63 and 90 degree of elevation.
    edges = [1.0, 57 / 90, 27 / 90, 0.0]
    for opacity, outer, inner in zip(("0.62", "0.38", "0.18"), edges, edges[1:], strict=False):
        assert areas[opacity] == pytest.approx(math.pi * radius**2 * (outer**2 - inner**2) * flat, rel=0.005)


def test_signal_over_a_pass() -> None:
    time = np.linspace(100.0, 700.0, 61)
    middle = 10.0 - 20.0 * np.linspace(-1.0, 1.0, 61) ** 2
    visible = np.ones(61, dtype=bool)
    visible[:10] = False
    text = pass_chart(
        time, middle=middle, low=middle - 13.0, high=middle + 3.0, visible=visible, elevation=40.0 - np.abs(np.arange(61) - 30.0),
        needed=8.0, title="a pass",
    )  # fmt: skip
    picture = ET.fromstring(text)
    assert "Best 10.0 dB at 40 degrees of elevation; 8.0 dB are needed." in (picture.findtext(f"{SVG}desc") or "")
    (line,) = paths(picture, "2.2")
    assert len(line) == 51, "what a hill hides is only dotted"
    xs = [x for x, _ in line]
    assert xs == sorted(xs)
    (needed,) = [
        n for n in picture.iter(f"{SVG}line") if n.get("stroke-dasharray") == "6 3" and float(n.get("x1", "0")) == 48.0
    ]
    top = min(y for _, y in line)
    assert top < float(needed.get("y1", "0")), "the best moment lies above what is needed"


def test_nothing_to_draw() -> None:
    with pytest.raises(FigureError):
        sky_dome([], azimuth=AZIMUTH, elevation=ELEVATION, gain=GAIN, horizon=HORIZON, title="t", note="n")
    one = np.zeros(1)
    with pytest.raises(FigureError):
        pass_chart(one, middle=one, low=one, high=one, visible=one > 0, elevation=one, needed=1.0, title="t")
