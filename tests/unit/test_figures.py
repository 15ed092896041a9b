"""Pictures: well formed, finite, labelled, to scale, readable without colour. All records are invented."""

from __future__ import annotations

import dataclasses
import math
import re
import sys
import xml.etree.ElementTree as ElementTree
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import report_fixtures as fixtures

from aerialwright.solution import figures
from aerialwright.solution.figures.axes import Scale, crossings, frequency_ticks, label_rows, nice_ticks
from aerialwright.solution.figures.chances import chance_bars
from aerialwright.solution.figures.elevation import elevation_cut
from aerialwright.solution.figures.frequency import mismatch_loss, reflection_magnitude
from aerialwright.solution.figures.impedance import reflection
from aerialwright.solution.figures.outline import extent
from aerialwright.solution.figures.palette import COLOURS, SERIES
from aerialwright.solution.svg import Drawing, FigureError, number, plain_colours, shorten, text_width
from aerialwright.structure.model import Rod, RodFeed, Structure

SVG = "{http://www.w3.org/2000/svg}"
COMPARISON = fixtures.example_comparison()
NEED = COMPARISON.need
ANTENNAS = [member.evaluation for proposal in COMPARISON.proposals for member in proposal.members]
CONE, GROUND_PLANE = ANTENNAS[0], ANTENNAS[1]

PICTURES = {
    "chances": lambda: chance_bars(
        [("the rod is 12 mm too long", 0.97), ("plastic <&> round it", 0.03), ("neither", 0.0)]
    ),
    "band ruler": lambda: figures.band_ruler(NEED, ANTENNAS),
    "SWR of one": lambda: figures.swr_chart(CONE, NEED),
    "SWR of two": lambda: figures.swr_chart(ANTENNAS[1:3], NEED),
    "gain": lambda: figures.realised_gain_chart(ANTENNAS, NEED),
    "impedance": lambda: figures.smith_chart(CONE, 75.0, need=NEED),
    "impedance, bare": lambda: figures.smith_chart(CONE, 50.0),
    "elevation": lambda: figures.elevation_pattern(CONE, need=NEED),
    "outline": lambda: figures.outline_drawing(CONE.structure),
    "row": lambda: figures.outline_row(ANTENNAS),
    "dimensions": lambda: figures.dimension_drawing(GROUND_PLANE),
    "why": lambda: figures.why_curve(COMPARISON.curves[0]),
    "sensitivity": lambda: figures.sensitivity_bars(CONE.sensitivities, title="Which matters", identity="a"),
}


def words_in(markup: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(markup).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_well_formed_finite_and_named(name: str) -> None:
    markup = PICTURES[name]()
    root = ElementTree.fromstring(markup)
    assert root.tag == f"{SVG}svg" and root.get("role") == "img"
    assert not re.search(r"(?i)\bnan\b|\binf", re.sub(r"<(title|desc|text).*?</\1>", "", markup))
    identities = {element.get("id") for element in root.iter()}
    assert set((root.get("aria-labelledby") or "missing").split()) <= identities
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None and title.text and description is not None and description.text
    assert " style=" not in markup and "http" not in markup.replace("http://www.w3.org/2000/svg", "")
    references = set(re.findall(r"url\(#([^)]+)\)", markup))
    assert references <= identities
    width, height = float(root.get("width") or 0), float(root.get("height") or 0)
    for element in root.iter(f"{SVG}text"):
        x, y = float(element.get("x") or -1), float(element.get("y") or -1)
        assert 0 <= x <= width and 0 <= y <= height, element.text


@pytest.mark.parametrize("name", PICTURES)
def test_no_text_runs_out_of_the_picture(name: str) -> None:
    """Estimated widths; the anchor of a text is its own or that of a group around it."""
    root = ElementTree.fromstring(PICTURES[name]())
    width = float(root.get("width") or 0)

    def visit(element: ElementTree.Element, anchor: str, size: float) -> None:
        anchor, size = element.get("text-anchor", anchor), float(element.get("font-size", size))
        if element.tag == f"{SVG}text" and "transform" not in element.attrib:
            length = 0.9 * text_width(element.text or "", size)
            left = float(element.get("x") or 0) - {"start": 0.0, "middle": 0.5 * length, "end": length}[anchor]
            assert left >= -2.0 and left + length <= width + 4.0, (element.text, left, left + length)
        for child in element:
            visit(child, anchor, size)

    visit(root, "start", 12.0)


def test_labels_are_there() -> None:
    ruler = " ".join(words_in(PICTURES["band ruler"]()))
    assert "civil airband" in ruler and "more airband (wish)" in ruler and "Cage dipole of six wires" in ruler
    swr = words_in(PICTURES["SWR of one"]())
    assert {"1", "1.5", "2", "3", "5", "SWR", "frequency, MHz", "at the antenna", "error band"} <= set(swr)
    impedance = words_in(PICTURES["impedance"]())
    assert {"75", "150", "+150", "118", "136.975", "162.05"} <= set(impedance)
    elevation = " ".join(words_in(PICTURES["elevation"]()))
    assert all(word in elevation for word in ("zenith", "horizon", "118 MHz", "260 MHz", "free space", "dBi"))


def test_a_row_of_outlines_is_at_one_scale() -> None:
    """A rod of 1 m is as long on the picture as the ruler's metre, within 0.5 %; so is everything else."""
    metre = Structure("metre", (Rod("metre rod", ((0, 0, 0), (0, 0, 1.0)), 1e-3),), (), RodFeed("metre rod", 0.5, 2e-3))
    row = figures.outline_row([*ANTENNAS, dataclasses.replace(CONE, key="metre", structure=metre)])
    root = ElementTree.fromstring(row)
    (ruler,) = (e for e in root.iter(f"{SVG}line") if e.get("class") == "ruler")
    assert float(ruler.get("data-length-m") or 0) == 1.0
    per_metre = abs(float(ruler.get("y2") or 0) - float(ruler.get("y1") or 0))
    drawn = {}
    for path in root.iter(f"{SVG}path"):
        if path.get("data-length-m"):
            points = np.array([[float(v) for v in p.split()] for p in re.split("[ML]", path.get("d") or "")[1:]])
            length = float(np.sum(np.hypot(*np.diff(points, axis=0).T)))
            drawn.setdefault(path.get("data-piece"), []).append((length, float(path.get("data-length-m") or 0)))
    assert drawn["metre rod"][0][0] == pytest.approx(per_metre, rel=5e-3)
    for piece in ("rod", "radial", "cone wire"):  # the copy that lies across the view shows its true length
        length, true = max(drawn[piece])
        assert length == pytest.approx(true * per_metre, rel=5e-3)


def test_outline_uses_the_real_diameter() -> None:
    fat = Structure("fat", (Rod("tube", ((0, 0, 0), (0, 0, 0.5)), 25e-3),), (), RodFeed("tube", 0.25, 2e-3))
    root = ElementTree.fromstring(figures.outline_drawing(fat))
    (tube,) = (e for e in root.iter(f"{SVG}path") if e.get("data-piece") == "tube")
    bar = next(e for e in root.iter(f"{SVG}line") if e.get("data-length-m"))
    scale = (float(bar.get("x2") or 0) - float(bar.get("x1") or 0)) / float(bar.get("data-length-m") or 1)
    assert float(tube.get("stroke-width") or 0) == pytest.approx(50e-3 * scale, rel=5e-3)
    assert extent(fat).width == pytest.approx(50e-3) and extent(fat).height == pytest.approx(0.5)


def test_dimension_drawing_keys_its_letters() -> None:
    places = figures.call_outs(GROUND_PLANE.structure, GROUND_PLANE.dimensions)
    assert sorted(places) == [0, 1, 2, 3, 4]
    assert places[0][0] == 0.0 and places[0][1] > 0.0  # on the upright rod
    assert places[1][0] > 0.0 and places[1][1] < 0.0  # on a drooping radial
    words = words_in(PICTURES["dimensions"]())
    assert {"A", "B", "C", "D", "E"} <= set(words)
    assert any("985 mm (38 25/32 in)" in text for text in words)
    assert [figures.letter(k) for k in (0, 25, 26, 27, 52)] == ["A", "Z", "AA", "AB", "BA"]


def test_reflection_and_loss_agree_with_a_reference_library() -> None:
    """Against scikit-rf's own conversions, an independent library."""
    skrf_tlineFunctions = pytest.importorskip("skrf.tlineFunctions")
    impedance = np.array([18.0 + 5.0j, 50.0, 75.0 - 40.0j, 300.0 + 100.0j])
    expected = skrf_tlineFunctions.zl_2_Gamma0(75.0, impedance)
    assert np.allclose(reflection(impedance, 75.0), expected, atol=1e-12)
    for value in expected:
        swr = float(np.asarray(skrf_tlineFunctions.Gamma0_2_swr(value)))
        assert reflection_magnitude(swr) == pytest.approx(abs(value), abs=1e-12)
        assert mismatch_loss(swr) == pytest.approx(-10.0 * math.log10(1.0 - abs(value) ** 2), abs=1e-9)


def test_elevation_cut_uses_the_opposite_azimuth() -> None:
    pattern = fixtures.invented_pattern(140e6, centre=140e6)
    lopsided = dataclasses.replace(pattern, gain_theta=pattern.gain_theta * np.array([1.0, 0.5]))
    angle, gain = elevation_cut(lopsided, polarisation="vertical")
    right = gain[np.argmin(np.abs(angle - math.pi / 2))]
    left = gain[np.argmin(np.abs(angle + math.pi / 2))]
    assert right - left == pytest.approx(10.0 * math.log10(2.0))
    single = dataclasses.replace(
        pattern, phi=pattern.phi[:1], gain_theta=pattern.gain_theta[:, :1], gain_phi=pattern.gain_phi[:, :1]
    )
    angle, gain = elevation_cut(single)
    assert np.allclose(gain, gain[::-1]) and np.allclose(angle, -angle[::-1])


def test_crossings_are_interpolated() -> None:
    frequency = np.array([100.0, 110.0, 120.0, 130.0])
    assert crossings(frequency, np.array([4.0, 2.0, 2.0, 4.0]), 3.0) == [(105.0, 125.0)]
    assert crossings(frequency, np.array([1.0, 1.0, 5.0, np.inf]), 3.0) == [(100.0, 115.0)]
    assert crossings(frequency, np.array([0.0, 2.0, 2.0, 0.0]), 1.0, below=False) == [(105.0, 125.0)]
    assert crossings(frequency, np.full(4, np.nan), 3.0) == []


@given(st.floats(1e6, 1e9), st.floats(1.01, 30.0))
def test_ticks_lie_inside_and_apart(low: float, ratio: float) -> None:
    scale = Scale(low, low * ratio, 40.0, 400.0, logarithmic=ratio > 1.9)
    ticks = frequency_ticks(scale)
    places = [scale(value) for value in ticks]
    assert all(39.9 <= place <= 400.1 for place in places)
    assert all(b - a > 17.0 for a, b in pairwise(places))
    assert len(nice_ticks(low, low * ratio, 6)) >= 2


@given(st.lists(st.tuples(st.floats(0, 400), st.text("abc ", min_size=1, max_size=20)), max_size=8))
def test_labels_never_overlap(labels: list[tuple[float, str]]) -> None:
    placed = label_rows(labels, 10.5, 0.0, 400.0)
    boxes = [
        (row, middle - 0.5 * text_width(words, 10.5), middle + 0.5 * text_width(words, 10.5))
        for (middle, row), (_, words) in zip(placed, labels, strict=True)
    ]
    for k, (row, left, right) in enumerate(boxes):
        assert not any(row == other and left < b and right > a for other, a, b in boxes[:k])


@given(st.text())
def test_any_text_gives_well_formed_xml(text: str) -> None:
    drawing = Drawing(width=100, height=50, title=text, description=text, identity=text)
    drawing.text((10, 10), text, data_note=text)
    drawing.text((10, 20), shorten(text, 10.0, 60.0))
    root = ElementTree.fromstring(drawing.markup().encode("utf-8", "surrogatepass").decode("utf-8", "replace"))
    assert {element.tag for element in root.iter()} <= {f"{SVG}{tag}" for tag in ("svg", "title", "desc", "text")}


def test_numbers_that_are_not_finite() -> None:
    with pytest.raises(FigureError):
        number(math.nan)
    drawing = Drawing(width=10, height=10, title="t", identity="t")
    drawing.polyline([(0, 0), (1, 1), (math.nan, 2), (3, 3), (4, 4)])
    assert 'd="M0 0L1 1M3 3L4 4"' in drawing.markup()
    endless = np.where(CONE.frequency > 200e6, np.inf, CONE.swr)
    broken = dataclasses.replace(CONE, swr=endless, half_power_band=(math.nan, math.nan))
    for picture in (figures.swr_chart(broken, NEED), figures.band_ruler(NEED, [broken])):
        assert "nan" not in re.sub(r"<(title|desc|text).*?</\1>", "", picture)


def test_half_power_band_that_goes_on_beyond_the_sweep_is_said() -> None:
    inside = dataclasses.replace(CONE, half_power_band=(float(CONE.frequency[3]), float(CONE.frequency[-4])))
    cut = dataclasses.replace(CONE, half_power_band=(float(CONE.frequency[0]), float(CONE.frequency[-1])))
    whole, open_ended = (figures.realised_gain_chart([one], NEED) for one in (inside, cut))
    assert "below" not in whole and "beyond" not in whole
    assert re.search(r"within half power from below [\d.]+ to beyond [\d.]+ MHz", open_ended)


def test_refusals_say_what_is_wrong() -> None:
    with pytest.raises(FigureError, match="at least one antenna"):
        figures.band_ruler(NEED, [])
    with pytest.raises(FigureError, match="above 0 ohm"):
        figures.smith_chart(CONE, 0.0)
    with pytest.raises(FigureError, match="no far field"):
        figures.elevation_pattern(dataclasses.replace(CONE, patterns=()))
    with pytest.raises(FigureError, match="as many labels"):
        figures.swr_chart([CONE], NEED, labels=["a", "b"])


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: str, b: str) -> float:
    bright, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_contrast_of_text_and_lines(theme: int) -> None:
    """WCAG 2.2: 4.5:1 for text (1.4.3, level AA), 3:1 for what a picture needs to be understood (1.4.11)."""
    for ground in ("paper", "sheet", "band"):
        assert contrast(COLOURS["ink"][theme], COLOURS[ground][theme]) >= 4.5
        assert contrast(COLOURS["quiet"][theme], COLOURS[ground][theme]) >= 4.5
    for ground in ("paper", "sheet"):
        assert contrast(COLOURS["limit"][theme], COLOURS[ground][theme]) >= 4.5
        assert contrast(COLOURS["accent"][theme], COLOURS[ground][theme]) >= 4.5
        for k in range(1, 7):
            assert contrast(COLOURS[f"series-{k}"][theme], COLOURS[ground][theme]) >= 3.0
        assert contrast(COLOURS["metal"][theme], COLOURS[ground][theme]) >= 3.0


#: Machado, Oliveira and Fernandes 2009, severity 1.0: linear RGB as seen without red or green cones. From memory.
CONES = {
    "all cones": np.eye(3),
    "no red": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]]
    ),
}


def lab(colour: str, cones: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (1976) for the D65 white of sRGB."""
    channels = np.array([int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)])
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = to_xyz @ np.clip(cones @ linear, 0.0, 1.0) / np.array([0.9505, 1.0, 1.089])
    root = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16.0 / 116.0)
    return np.array([116.0 * root[1] - 16.0, 500.0 * (root[0] - root[1]), 200.0 * (root[1] - root[2])])


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("sight", CONES)
def test_series_stay_apart_for_every_eye(sight: str, theme: int) -> None:
    """Nine units apart: four times what is just seen side by side (2.3: common practice, no source)."""
    seen = [lab(COLOURS[f"series-{k}"][theme], CONES[sight]) for k in range(1, 7)]
    assert min(float(np.linalg.norm(a - b)) for k, a in enumerate(seen) for b in seen[:k]) >= 9.0


def test_nothing_is_told_by_colour_alone() -> None:
    assert len({style.dash for style in SERIES}) == len({style.symbol for style in SERIES}) == len(SERIES)


def test_plain_colours_leaves_no_variable() -> None:
    plain = plain_colours(PICTURES["gain"]())
    assert "var(" not in plain and COLOURS["series-1"][0] in plain and "Arial" in plain
    ElementTree.fromstring(plain)


def test_millimetres_are_exact() -> None:
    drawing = Drawing(width=100, height=20, title="check ruler", identity="check", unit="mm")
    drawing.line((0, 10), (100, 10))
    root = ElementTree.fromstring(drawing.markup())
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("100mm", "20mm", "0 0 100 20")


def test_call_outs_find_angles_mirrored_pieces_and_overall_sizes() -> None:
    """A cage dipole: no piece carries the name of its cage diameter or of its total length."""
    cage = fixtures.cage_evaluation()
    places = figures.call_outs(cage.structure, cage.dimensions)
    assert sorted(places) == [1, 2, 3]  # the overall length has its own dimension line
    assert places[1][0] == pytest.approx(0.05)  # on a wire of the cage
    assert places[3] == pytest.approx((0.0, 0.0))  # the gap is at the feed
    exact = dataclasses.replace(cage, height=0.96)
    assert any(text.startswith("A: 960 mm") for text in words_in(figures.dimension_drawing(exact)))
    cone = figures.call_outs(CONE.structure, CONE.dimensions)
    assert cone[2][0] > 0.0 and cone[2][1] < 0.0  # the cone angle on a cone wire


def test_bars_of_chances_are_as_long_as_their_numbers() -> None:
    drawn = ElementTree.fromstring(chance_bars([("one", 0.75), ("two", 0.25)]))
    widths = [float(bar.get("width", "0")) for bar in drawn.iter(f"{SVG}rect")]
    room = max(widths)
    assert {round(width / room, 3) for width in widths} == {1.0, 0.75, 0.25}
    for wrong in ([], [("more than certain", 1.2)], [("nothing known", float("nan"))]):
        with pytest.raises(FigureError):
            chance_bars(wrong)
