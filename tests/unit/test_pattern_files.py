"""Files of full-size patterns, read back with other libraries and measured against the design to 0.05 mm."""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_samples import BEND, CONE, DISC, ROD, cone, disc, everything, gauge

from aerialwright.antennas.workpiece import ConeSheet
from aerialwright.sheet.cone_pattern import cone_pattern
from aerialwright.sheet.drawing import Drawing, Line, Pattern, Polyline, Text
from aerialwright.sheet.dxf_file import dxf_text
from aerialwright.sheet.svg_file import svg_text
from aerialwright.sheet.templates import file_drawing

MM = 0.05


def read_dxf(drawing: Drawing) -> ezdxf.document.Drawing:
    document = ezdxf.read(io.StringIO(dxf_text(drawing)))
    assert not document.audit().errors
    return document


def read_svg(drawing: Drawing) -> svgelements.SVG:
    """With 25.4 user units to the inch, one unit of the parsed picture is one millimetre of paper."""
    return svgelements.SVG.parse(io.StringIO(svg_text(drawing, title="a pattern")), ppi=25.4)


def shapes(picture: svgelements.SVG, layer: str) -> list[svgelements.Path]:
    """The outlines of one layer, in millimetres."""
    found = []
    for group in picture.select(lambda e: isinstance(e, svgelements.Group) and e.values.get("class") == layer):
        found += [svgelements.Path(e) for e in group.select(lambda e: isinstance(e, svgelements.Shape))]
    return found


# -- DXF --------------------------------------------------------------------------------------------------------------
def test_dxf_is_in_millimetres_with_a_layer_per_purpose() -> None:
    document = read_dxf(cone().drawing)
    assert document.dxfversion == "AC1024"  # R2010
    assert document.header["$INSUNITS"] == 4
    assert {"CUT", "BEND", "ENGRAVE", "NOTES"} <= {layer.dxf.name for layer in document.layers}


def test_dxf_cone_measures_as_designed() -> None:
    cut = read_dxf(cone().drawing).modelspace().query('*[layer=="CUT"]')
    arcs = sorted((e for e in cut if e.dxftype() == "ARC"), key=lambda e: e.dxf.radius)
    assert [e.dxf.radius for e in arcs] == pytest.approx([30.0, 630.0], abs=MM)
    # Full angle 60 degrees in two gores: a quarter circle each, the lap beyond it.
    for arc in arcs:
        lap = math.degrees(math.asin(1e3 * CONE.seam_lap / arc.dxf.radius))
        length = math.radians((arc.dxf.end_angle - arc.dxf.start_angle) % 360.0 - lap) * arc.dxf.radius
        assert length == pytest.approx(math.pi / 2.0 * arc.dxf.radius, abs=MM)
    lines = [e for e in cut if e.dxftype() == "LINE"]
    lengths = sorted((e.dxf.end - e.dxf.start).magnitude for e in lines)
    assert lengths[-1] == pytest.approx(600.0, abs=4.0)  # the lap's outer edge is longer where the neck falls away
    assert any(abs(length - 600.0) < MM for length in lengths)
    holes = [e for e in cut if e.dxftype() == "CIRCLE"]
    assert len(holes) == 26 and all(e.dxf.radius == pytest.approx(1.6) for e in holes)


def test_dxf_disc_has_true_circles() -> None:
    space = read_dxf(disc().drawing).modelspace()
    circles = space.query('CIRCLE[layer=="CUT"]')
    assert sorted(round(2 * c.dxf.radius, 3) for c in circles) == [3.3, 3.3, 3.3, 3.3, 16.0, 300.0]
    for screw in (c for c in circles if c.dxf.radius < 2.0):
        assert screw.dxf.center.magnitude == pytest.approx(0.5e3 * DISC.holes[1].circle_diameter, abs=MM)
        assert screw.dxf.center.angle_deg % 90.0 == pytest.approx(45.0, abs=1e-6)


def test_dxf_solids_of_four_corners_do_not_cross_themselves() -> None:
    """The blocks of the check bar are filled as a rectangle, read back in the order in which other programs outline a solid."""
    block = Polyline(((0.0, 0.0), (0.010, 0.0), (0.010, 0.002), (0.0, 0.002)), closed=True, layer="notes", fill="solid")
    (solid,) = read_dxf(Drawing((block,))).modelspace()
    corners = [(corner.x, corner.y) for corner in solid.vertices()]
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
    assert abs(twice) == pytest.approx(2 * 10.0 * 2.0)


@pytest.mark.parametrize("pattern", everything(), ids=lambda p: p.name)
def test_dxf_keeps_words_and_dimensions_off_the_layers_that_are_cut(pattern: Pattern) -> None:
    space = read_dxf(file_drawing(pattern)).modelspace()
    on_metal = {e.dxftype() for e in space if e.dxf.layer in ("CUT", "BEND", "ENGRAVE")}
    assert on_metal <= {"LINE", "ARC", "CIRCLE", "LWPOLYLINE"}
    words = " ".join(e.dxf.text for e in space.query('TEXT[layer=="NOTES"]'))
    for part in (pattern.name, f"{pattern.quantity} × {pattern.material}", "Print at 100 %", "100 mm", "4 in"):
        assert part in words
    assert {e.dxf.layer for e in space} <= {"CUT", "BEND", "ENGRAVE", "NOTES"}


# -- SVG --------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("pattern", everything(), ids=lambda p: p.name)
def test_svg_is_as_large_as_its_drawing(pattern: Pattern) -> None:
    drawing = file_drawing(pattern)
    text = svg_text(drawing, title=pattern.name, border=5e-3)
    width, height = 1e3 * drawing.box.width + 10.0, 1e3 * drawing.box.height + 10.0
    picture = svgelements.SVG.parse(io.StringIO(text), ppi=25.4)
    assert (picture.width, picture.height) == (pytest.approx(width, abs=MM), pytest.approx(height, abs=MM))
    assert picture.viewbox.width == pytest.approx(width, abs=MM)
    assert "var(" not in text  # a cutter's program knows no style variables


def test_svg_cone_measures_as_designed() -> None:
    cut = shapes(read_svg(cone().drawing), "cut")
    lengths = [path.length(error=1e-6) for path in cut]
    # Girth of neck and rim over two gores, plus the arc over the lap.
    for radius in (30.0, 630.0):
        lap = math.asin(15.0 / radius) * radius
        assert any(length == pytest.approx(math.pi / 2.0 * radius + lap, abs=MM) for length in lengths)
    assert any(length == pytest.approx(600.0, abs=MM) for length in lengths)


def test_svg_gauge_measures_as_designed() -> None:
    cut = [path.length(error=1e-7) for path in shapes(read_svg(gauge().drawing), "cut")]
    for radius in (BEND.inside_radius, BEND.inside_radius + ROD):
        assert any(length == pytest.approx(1e3 * radius * math.pi / 4.0, abs=MM) for length in cut)
    assert shapes(read_svg(gauge().drawing), "bend")


@pytest.mark.parametrize("pattern", everything(), ids=lambda p: p.name)
def test_check_bars_of_a_file_measure_100_mm_and_4_in(pattern: Pattern) -> None:
    """Both ways: a base line of 4 in, and ticks whose outermost are 100 mm apart."""
    boxes = [path.bbox() for path in shapes(read_svg(file_drawing(pattern)), "notes")]
    boxes = [box for box in boxes if box]
    for across, along in ((0, 1), (1, 0)):
        base = [b for b in boxes if abs(b[2 + along] - b[along] - 101.6) < MM and b[2 + across] - b[across] < MM]
        assert base, "a base line of 101.6 mm"
        zero = base[0][along], base[0][2 + along]
        ticks = [b[along] for b in boxes if b[2 + along] - b[along] < MM and abs(b[2 + across] - b[across] - 3.0) < MM]
        assert any(abs(abs(t - end) - 100.0) < MM for t in ticks for end in zero)


# -- any cone ---------------------------------------------------------------------------------------------------------
@settings(max_examples=12, deadline=None)
@given(st.floats(0.005, 0.08), st.floats(0.05, 0.4), st.floats(0.15, 0.9), st.integers(1, 4))
def test_every_cone_keeps_its_lengths_in_both_files(neck: float, widening: float, sine: float, gores: int) -> None:
    sheet = ConeSheet(neck, neck + widening, widening / sine, 0.0, gores)
    drawing = cone_pattern(sheet, name="cone", quantity=1, material="metal").drawing
    girths = [2e3 * math.pi * radius / gores for radius in (sheet.neck_radius, sheet.rim_radius)]
    arcs = read_dxf(drawing).modelspace().query('ARC[layer=="CUT"]')
    measured = [math.radians((a.dxf.end_angle - a.dxf.start_angle) % 360.0) * a.dxf.radius for a in arcs]
    assert sorted(measured) == pytest.approx(girths, abs=MM)
    lengths = [path.length(error=1e-6) for path in shapes(read_svg(drawing), "cut")]
    for wanted in (*girths, 1e3 * sheet.slant):
        assert any(length == pytest.approx(wanted, abs=MM) for length in lengths)


def test_text_that_markup_would_trip_over_survives() -> None:
    drawing = Drawing((Text((0.0, 0.0), '<cut & "bend">'), Line((0.0, 0.0), (0.1, 0.0))))
    words = [e.text for e in read_svg(drawing).select(lambda e: isinstance(e, svgelements.Text))]
    assert words == ['<cut & "bend">']
    assert read_dxf(drawing).modelspace().query("TEXT").first.dxf.text == '<cut & "bend">'


def test_a_tint_is_for_paper_only() -> None:
    area = Polyline(((0.0, 0.0), (0.1, 0.0), (0.1, 0.1)), closed=True, layer="notes", fill="tint")
    assert not len(read_dxf(Drawing((area,))).modelspace())
