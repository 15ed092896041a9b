"""Full-size patterns as data: shapes by independent formulas, and what is refused with a mend."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_samples import BEND, ROD, cone, gauge, hub, strip

from aerialwright.antennas.workpiece import Bend, ConeSheet, HoleCircle, Plate
from aerialwright.sheet.bend_pattern import PAPER_THICKNESS, Helix, bend_gauge, wrap_strip
from aerialwright.sheet.cone_pattern import SEAM_PITCH, cone_pattern, develop
from aerialwright.sheet.dimensions import angle_dimension, length_dimension, readable
from aerialwright.sheet.drawing import (
    Arc,
    Box,
    Circle,
    Drawing,
    Line,
    PatternError,
    Polyline,
    Text,
    box_of,
    outline,
    polar,
)
from aerialwright.sheet.plate_pattern import plate_pattern
from aerialwright.sheet.records import CutLine
from aerialwright.sheet.templates import sheet_patterns

NAMED = {"name": "piece", "quantity": 1, "material": "metal"}


@st.composite
def cones(draw: st.DrawFn) -> ConeSheet:
    neck = draw(st.floats(0.0, 0.1))
    widening = draw(st.floats(0.03, 0.4))
    slant = widening / draw(st.floats(0.1, 0.95))
    return ConeSheet(
        neck, neck + widening, slant, draw(st.sampled_from([0.0, 0.008, 0.015, 0.025])), draw(st.integers(1, 4))
    )


@settings(max_examples=60, deadline=None)
@given(cones())
def test_a_gore_rolls_up_to_its_cone(sheet: ConeSheet) -> None:
    """Both arcs carry their share of the girths of neck and rim, the edges are the slant, and the lap is as wide as asked."""
    try:
        drawing = cone_pattern(sheet, **NAMED).drawing
    except PatternError as error:
        assert sheet.gores == 1 and "two gores" in error.mend
        return
    flat = develop(sheet)
    cut = list(drawing.on("cut"))
    rim = max((e for e in cut if isinstance(e, Arc)), key=lambda arc: arc.radius)
    lap = math.degrees(math.asin(sheet.seam_lap / rim.radius))
    share = math.radians(rim.end - rim.start - lap) * rim.radius
    assert share * sheet.gores == pytest.approx(2.0 * math.pi * sheet.rim_radius, rel=1e-9)
    if sheet.neck_radius > 1e-9:
        neck = min((e for e in cut if isinstance(e, Arc)), key=lambda arc: arc.radius)
        assert neck.radius * math.radians(flat.angle) * sheet.gores == pytest.approx(
            2 * math.pi * sheet.neck_radius, rel=1e-9
        )
    edge = next(e for e in cut if isinstance(e, Line))
    assert math.dist(edge.start, edge.end) == pytest.approx(sheet.slant, rel=1e-9)
    # The rolled cone: height and radii of a right triangle.
    assert math.hypot(flat.height, sheet.rim_radius - sheet.neck_radius) == pytest.approx(sheet.slant)


@settings(max_examples=60, deadline=None)
@given(cones())
def test_seam_holes_meet_and_stay_on_the_metal(sheet: ConeSheet) -> None:
    """Turning the gore by its own angle brings each hole of one edge onto a hole of the other edge's lap."""
    try:
        drawing = cone_pattern(sheet, **NAMED).drawing
    except PatternError:
        return
    flat = develop(sheet)
    centres = [e.centre for e in drawing.on("cut") if isinstance(e, Circle)]
    first = centres[::2]
    assert len(centres) % 2 == 0
    for near, far in zip(centres[::2], centres[1::2], strict=True):
        bearing = math.degrees(math.atan2(near[1], near[0])) + flat.angle
        assert polar(math.hypot(*near), bearing) == pytest.approx(far, abs=1e-9)
    for one, other in pairwise(first):
        assert math.dist(one, other) <= SEAM_PITCH + 1e-9
    for centre in centres:
        assert flat.inner + 1.6e-3 < math.hypot(*centre) < flat.outer - 1.6e-3


def test_the_sample_cone_by_hand() -> None:
    """Half angle 30 degrees: radii along the metal are twice those of the cone, a quarter circle per gore."""
    arcs = {round(e.radius, 9): e for e in cone().drawing.on("cut") if isinstance(e, Arc)}
    assert set(arcs) == {0.03, 0.63}
    assert cone().quantity == 2


@pytest.mark.parametrize(
    ("sheet", "mend"),
    [
        (ConeSheet(0.1, 0.1, 0.3, 0.01), "rim wider"),
        (ConeSheet(0.1, 0.3, 0.2, 0.01), "slant longer"),
        (ConeSheet(0.1, 0.3, 0.2005, 0.02), "two gores"),
        (ConeSheet(0.1, 0.3, 0.4, -0.01), "zero or more"),
        (ConeSheet(0.1, 0.3, math.nan, 0.01), "zero or more"),
        (ConeSheet(0.1, 0.3, 0.4, 0.01, gores=0), "1 or more"),
    ],
)
def test_impossible_cones_are_refused(sheet: ConeSheet, mend: str) -> None:
    with pytest.raises(PatternError) as caught:
        cone_pattern(sheet, **NAMED)
    assert mend in caught.value.mend


@settings(max_examples=80, deadline=None)
@given(
    across=st.floats(0.03, 0.4),
    width=st.none() | st.floats(0.03, 0.4),
    circle=st.floats(0.01, 0.4),
    hole=st.floats(0.002, 0.01),
    count=st.integers(1, 12),
)
def test_plates_hold_exactly_what_fits(
    across: float, width: float | None, circle: float, hole: float, count: int
) -> None:
    plate = Plate(across, width, (HoleCircle(circle, count, hole, "screws"),))
    ring = [
        (0.5 * circle * math.cos(2 * math.pi * k / count), 0.5 * circle * math.sin(2 * math.pi * k / count))
        for k in range(count)
    ]
    if width is None:
        inside = 0.5 * (circle + hole) < 0.5 * across
    else:
        inside = all(abs(x) + 0.5 * hole < 0.5 * width and abs(y) + 0.5 * hole < 0.5 * across for x, y in ring)
    apart = count == 1 or circle * math.sin(math.pi / count) >= hole
    try:
        drawing = plate_pattern(plate, **NAMED).drawing
    except PatternError as error:
        assert not (inside and apart) and error.mend
        return
    assert inside and apart
    drilled = [e for e in drawing.on("cut") if isinstance(e, Circle) and e.radius < 0.006]
    assert [c.centre for c in drilled] == [pytest.approx(p, abs=1e-12) for p in ring]


def test_a_hole_circle_larger_than_its_plate_tells_by_how_much() -> None:
    plate = Plate(0.1, None, (HoleCircle(0.1, 6, 0.004, "radials"),))
    with pytest.raises(PatternError, match="reach 2 mm past the edge") as caught:
        plate_pattern(plate, **NAMED)
    assert "4 mm larger" in caught.value.mend


def test_holes_that_run_into_each_other_are_refused() -> None:
    plate = Plate(0.1, None, (HoleCircle(0.0, 1, 0.016, "body"), HoleCircle(0.018, 4, 0.0033, "screws")))
    with pytest.raises(PatternError, match="run into each other"):
        plate_pattern(plate, **NAMED)


def test_rays_point_where_they_are_asked_to() -> None:
    plate = Plate(0.1, 0.2, (HoleCircle(0.0, 1, 0.01, "mast"),), rays=(0.0, 90.0, 200.0))
    rays = [e for e in plate_pattern(plate, **NAMED).drawing.on("engrave") if isinstance(e, Line) and not e.pen]
    bearings = [math.degrees(math.atan2(e.end[1] - e.start[1], e.end[0] - e.start[0])) % 360.0 for e in rays]
    assert bearings == pytest.approx([0.0, 90.0, 200.0])
    assert [math.hypot(*e.end) for e in rays] == pytest.approx([0.1, 0.05, 0.1 / math.cos(math.radians(20.0))])


def test_bend_gauge_shows_radius_thickness_and_angle() -> None:
    arcs = sorted((e for e in gauge().drawing.on("cut") if isinstance(e, Arc)), key=lambda arc: arc.radius)
    assert [arc.radius for arc in arcs] == pytest.approx([BEND.inside_radius, BEND.inside_radius + ROD])
    assert [arc.end - arc.start for arc in arcs] == pytest.approx([45.0, 45.0])
    legs = [e for e in gauge().drawing.on("cut") if isinstance(e, Line) and math.dist(e.start, e.end) > 0.01]
    slopes = {round(math.degrees(math.atan2(e.end[1] - e.start[1], e.end[0] - e.start[0])), 6) for e in legs}
    assert slopes == {0.0, 45.0}
    # The legs run on from the arcs without a kink: each end of an arc is the end of a leg.
    ends = [p for e in legs for p in (e.start, e.end)]
    for arc in arcs:
        for angle in (arc.start, arc.end):
            assert min(math.dist(arc.at(angle), p) for p in ends) < 1e-12
    # Neutral line in the middle: (6.4 + 1.6) mm times pi/4 is 6.28 mm, to half a millimetre.
    assert "6.5 mm of the centre line" in gauge().notes[0]


@pytest.mark.parametrize(
    ("bend", "legs", "mend"),
    [
        (Bend(0.0, 0.0, 0.01), (0.1, 0.1), "away from straight"),
        (Bend(0.0, 181.0, 0.01), (0.1, 0.1), "away from straight"),
        (Bend(0.0, 90.0, -0.01), (0.1, 0.1), "in mm"),
        (Bend(0.0, 90.0, 0.05), (0.1, -0.02), "smaller radius, or a leg 23.2 mm longer"),
    ],
)
def test_impossible_bends_are_refused(bend: Bend, legs: tuple[float, float], mend: str) -> None:
    with pytest.raises(PatternError) as caught:
        bend_gauge(bend, thickness=ROD, legs=legs, **NAMED)
    assert mend in caught.value.mend


def test_hub_divides_the_circle() -> None:
    lines = [e for e in hub().drawing.on("engrave") if isinstance(e, Line) and not e.pen]
    bearings = sorted(round(math.degrees(math.atan2(e.end[1], e.end[0])) % 360.0, 6) for e in lines)
    assert bearings == [30.0 * k for k in range(12)]
    # Chord between neighbours on the rim: 60 mm times sin 15 degrees.
    assert "15.53 mm apart" in hub().notes[0]


@pytest.mark.parametrize(
    ("changes", "mend"),
    [({"count": 40}, "wider than"), ({"depth": 0.025}, "22 mm deep"), ({"count": 0}, "above zero")],
)
def test_impossible_hubs_are_refused(changes: dict[str, float], mend: str) -> None:
    with pytest.raises(PatternError) as caught:
        hub(**changes)
    assert mend in caught.value.mend


def test_strip_closes_round_the_pipe_and_divides_it() -> None:
    girth = math.pi * (0.04 + PAPER_THICKNESS)
    upright = sorted(
        e.start[0] for e in strip().drawing.on("engrave") if isinstance(e, Line) and e.start[0] == e.end[0]
    )
    assert upright == pytest.approx([girth * k / 12 for k in range(13)])


@pytest.mark.parametrize(("hand", "sign"), [("right", 1.0), ("left", -1.0)])
def test_helix_climbs_its_pitch_in_one_turn(hand: str, sign: float) -> None:
    drawing = wrap_strip(pipe_diameter=0.04, height=0.06, helix=Helix(0.025, 0.0, hand), **NAMED).drawing
    lines = [e for e in drawing.on("engrave") if isinstance(e, Line) and e.start[0] != e.end[0]]
    girth = math.pi * (0.04 + PAPER_THICKNESS)
    # 2.4 turns: two whole ones and a rest, each starting as high as the one before ended.
    assert len(lines) == 3
    for line in lines:
        run = line.end[0] - line.start[0]
        assert (line.end[1] - line.start[1]) / run == pytest.approx(sign * 0.025 / girth)
    assert [line.start[1] for line in lines] == pytest.approx([0.0, 0.025, 0.05])
    assert lines[-1].end[1] == pytest.approx(0.06)


def test_a_ring_off_the_strip_is_refused() -> None:
    with pytest.raises(PatternError, match="lies off a strip"):
        wrap_strip(pipe_diameter=0.04, height=0.06, rings=[(0.07, "")], **NAMED)


def line(**changes: object) -> CutLine:
    base: dict[str, object] = {
        "number": 1, "name": "radial", "quantity": 4, "shape": "rod", "material": "brass", "diameter": ROD, "thickness": None,
        "finished": 0.5, "datum": "hub", "allowances": (), "cut": 0.52, "width": None, "mark_bends": (), "tolerance": None,
        "stock": "", "remark": "",
    }  # fmt: skip
    return CutLine(**(base | changes))  # type: ignore[arg-type]


def test_a_cut_list_asks_for_its_patterns_once() -> None:
    arc = 8e-3 * math.pi / 4
    bent = line(mark_bends=((0.02, arc, BEND),))
    other = line(number=2, name="skirt rod", mark_bends=((0.1, arc, BEND),))
    disc = line(number=3, name="disc", form=Plate(0.3), diameter=None, thickness=0.001)
    patterns = sheet_patterns([line(), bent, other, disc])
    assert [p.name for p in patterns] == ["Bend gauge 45°: radial, skirt rod", "disc"]
    assert patterns[1].material == "brass, 1 mm thick" and patterns[1].quantity == 4


def test_bends_too_close_on_a_piece_are_refused() -> None:
    arc = 8e-3 * math.pi / 4
    with pytest.raises(PatternError, match="no straight leg"):
        sheet_patterns([line(mark_bends=((0.02, arc, BEND), (0.024, arc, BEND)))])


# -- the drawing model ------------------------------------------------------------------------------------------------
@settings(max_examples=50, deadline=None)
@given(st.floats(0.001, 1.0), st.floats(-360.0, 360.0), st.floats(1.0, 359.0))
def test_box_of_an_arc_is_that_of_its_points(radius: float, start: float, opening: float) -> None:
    arc = Arc((0.1, -0.2), radius, start, start + opening)
    points = outline(arc, step=0.05)
    box = box_of(arc)
    close = radius * 1e-6
    assert box.left == pytest.approx(min(p[0] for p in points), abs=close)
    assert box.right == pytest.approx(max(p[0] for p in points), abs=close)
    assert box.bottom == pytest.approx(min(p[1] for p in points), abs=close)
    assert box.top == pytest.approx(max(p[1] for p in points), abs=close)


@settings(max_examples=80, deadline=None)
@given(*(st.floats(-2.0, 3.0) for _ in range(4)))
def test_a_segment_touches_a_box_exactly_where_its_points_do(x0: float, y0: float, x1: float, y1: float) -> None:
    box = Box(0.0, 0.0, 1.0, 1.0)
    inside = any(
        -1e-9 <= x0 + (x1 - x0) * t / 4000 <= 1 + 1e-9 and -1e-9 <= y0 + (y1 - y0) * t / 4000 <= 1 + 1e-9
        for t in range(4001)
    )
    if inside:
        assert box.grown(2e-9).touches(((x0, y0), (x1, y1)))
    else:
        assert not box.grown(-2e-3).touches(((x0, y0), (x1, y1)))


@pytest.mark.parametrize("angle", range(-360, 361, 15))
def test_text_is_read_from_the_bottom_or_the_right(angle: int) -> None:
    turn = readable(float(angle))
    assert -90.0 < turn <= 90.0
    assert math.sin(math.radians(turn - angle)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("length", [0.002, 0.008, 0.05])
@pytest.mark.parametrize("bearing", [0.0, 37.0, 90.0, 180.0, 215.0, 270.0])
def test_dimension_arrows_touch_what_they_measure(length: float, bearing: float) -> None:
    """ISO 129-1 [@iso-129]: two arrow heads whose tips end on the extension lines, number above the line."""
    parts = length_dimension((0.0, 0.0), polar(length, bearing), 0.01)
    tips = [e.points[0] for e in parts if isinstance(e, Polyline) and e.fill == "solid"]
    assert math.dist(*tips) == pytest.approx(length)
    assert all(e.layer == "notes" for e in parts)
    (words,) = [e for e in parts if isinstance(e, Text)]
    assert words.words == f"{length * 1e3:g}"
    foot = polar(0.01, bearing + 90.0)
    above = (words.place[0] - foot[0]) * -math.sin(math.radians(words.angle)) + (words.place[1] - foot[1]) * math.cos(
        math.radians(words.angle)
    )
    assert above > 0.0


def test_angle_dimension_spans_its_angle() -> None:
    arc = next(e for e in angle_dimension((0.0, 0.0), 0.05, 10.0, 55.5) if isinstance(e, Arc))
    assert (arc.start, arc.end) == (10.0, 55.5)


def test_a_drawing_of_nothing_is_refused() -> None:
    with pytest.raises(PatternError):
        _ = Drawing(()).box
