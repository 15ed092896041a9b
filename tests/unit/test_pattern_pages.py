"""Patterns on printer pages: nothing is lost between the tiles, marks meet, and the printed sizes are true to 0.05 mm."""

from __future__ import annotations

import io
import math
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import pdfplumber
import pypdf
import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st
from pattern_samples import CONE, cone, disc, everything, hub, sockets

from aerialwright.antennas.workpiece import ConeSheet, HoleCircle, Plate
from aerialwright.sheet.cone_pattern import cone_pattern
from aerialwright.sheet.drawing import Circle, Drawing, Line, PatternError, outline
from aerialwright.sheet.pattern_pages import PatternPage, pattern_pages, pattern_pdf
from aerialwright.sheet.plate_pattern import plate_pattern
from aerialwright.sheet.tiles import OVERLAP, PAPERS, Paper, best_tiles, column_name, cut_up, frames, paper, share_pages

MM = 0.05
POINT = 72.0 / 25.4
A4, LETTER = PAPERS["a4"], PAPERS["letter"]


# -- cutting up -------------------------------------------------------------------------------------------------------
@settings(max_examples=25, deadline=None)
@given(
    widening=st.floats(0.05, 0.6),
    sine=st.floats(0.2, 0.9),
    gores=st.integers(1, 3),
    sheet=st.sampled_from([A4, LETTER]),
)
def test_every_point_lies_on_a_page(widening: float, sine: float, gores: int, sheet: Paper) -> None:
    cone_sheet = ConeSheet(0.02, 0.02 + widening, widening / sine, 0.012, gores)
    drawing = cone_pattern(cone_sheet, name="cone", quantity=1, material="metal").drawing
    frame, tiles = best_tiles(drawing, sheet)
    for entity in drawing.on("cut", "engrave"):
        points = outline(entity, step=0.5)
        for a, b in pairwise(points):
            for part in (0.0, 0.31, 0.77):
                x, y = a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])
                # Half an overlap inside a page, unless the drawing itself ends there.
                assert any(
                    tile.box.left - 1e-9 <= x <= tile.box.right + 1e-9
                    and tile.box.bottom - 1e-9 <= y <= tile.box.top + 1e-9
                    for tile in tiles
                )
    for tile in tiles:
        assert tile.box.width == pytest.approx(frame.window.width)
        assert tile.box.height == pytest.approx(frame.window.height)


def test_neighbours_share_the_overlap() -> None:
    _, tiles = best_tiles(cone().drawing, A4)
    by_place = {(tile.column, tile.row): tile for tile in tiles}
    pairs = 0
    for (column, row), tile in by_place.items():
        if right := by_place.get((column + 1, row)):
            assert tile.box.right - right.box.left == pytest.approx(OVERLAP)
            pairs += 1
        if below := by_place.get((column, row + 1)):
            assert below.box.top - tile.box.bottom == pytest.approx(OVERLAP)
            pairs += 1
    assert pairs > len(tiles)


def test_pages_are_held_the_way_that_takes_fewer() -> None:
    across, along = Drawing((Line((0.0, 0.0), (0.25, 0.0)),)), Drawing((Line((0.0, 0.0), (0.0, 0.23)),))
    for drawing, wide in ((across, True), (along, False)):
        frame, tiles = best_tiles(drawing, A4)
        assert len(tiles) == 1 and (frame.width > frame.height) is wide
    for drawing in (cone().drawing, disc().drawing):
        fewest = min(len(cut_up(drawing, frame)) for frame in frames(A4))
        assert len(best_tiles(drawing, A4)[1]) <= fewest


def test_screw_holes_are_not_cut_by_the_edge_of_a_page() -> None:
    _, tiles = best_tiles(disc().drawing, A4)
    assert len(tiles) == 4
    assert any(
        tile.box.left < -0.02 and tile.box.right > 0.02 and tile.box.bottom < -0.02 and tile.box.top > 0.02
        for tile in tiles
    )


def test_tiles_without_a_line_are_no_pages() -> None:
    corner = Drawing((Line((0.0, 0.0), (0.9, 0.0)), Line((0.0, 0.0), (0.0, 0.9))))
    _, tiles = best_tiles(corner, A4)
    columns, rows = max(t.column for t in tiles) + 1, max(t.row for t in tiles) + 1
    assert len(tiles) == columns + rows - 1


def test_columns_are_named_as_in_a_ledger() -> None:
    assert [column_name(k) for k in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.floats(0.01, 0.18), st.floats(0.01, 0.17)), min_size=1, max_size=14))
def test_packed_drawings_stay_apart_and_inside(sizes: list[tuple[float, float]]) -> None:
    drawings = [Drawing((Line((0.1, -0.2), (0.1 + w, -0.2 + h)),)) for w, h in sizes]
    placed = []
    for frame, ones in share_pages(drawings, A4):
        boxes = []
        for one in ones:
            (x, y), box = one.shift, one.drawing.box
            boxes.append((box.left + x, box.bottom + y, box.right + x, box.top + y))
            placed.append(one.drawing)
        window = frame.window
        for left, bottom, right, top in boxes:
            assert window.left - 1e-9 <= left and right <= window.right + 3e-4
            assert window.bottom - 3e-4 <= bottom and top <= window.top + 1e-9
        for index, a in enumerate(boxes):
            for b in boxes[:index]:
                assert a[2] <= b[0] + 1e-9 or b[2] <= a[0] + 1e-9 or a[3] <= b[1] + 1e-9 or b[3] <= a[1] + 1e-9
    assert Counter(map(id, placed)) == Counter(map(id, drawings))


@pytest.mark.parametrize("size", [(0.105, 0.148), (0.05, 0.4), (0.15, 0.15)])
def test_paper_too_small_for_the_check_bars_is_refused(size: tuple[float, float]) -> None:
    with pytest.raises(PatternError, match="cannot hold the check bars") as caught:
        pattern_pages([disc()], Paper("card", *size))
    assert "A4 or Letter" in caught.value.mend


def test_the_least_page_that_is_named_will_do() -> None:
    """What the message names is enough, across only; a millimetre less is not."""
    with pytest.raises(PatternError) as caught:
        frames(Paper("A5", 0.148, 0.21))
    assert "at least 193 mm by 150 mm" in caught.value.mend
    assert [frame.width for frame in frames(Paper("odd", 0.150, 0.193))] == [0.193]
    with pytest.raises(PatternError):
        frames(Paper("odd", 0.149, 0.193))


def test_unknown_paper_is_refused() -> None:
    assert paper(" a4 ") is A4
    with pytest.raises(PatternError, match="no paper is called 'A0x'"):
        paper("A0x")


# -- the pages --------------------------------------------------------------------------------------------------------
@pytest.fixture(scope="module", params=[A4, LETTER], ids=lambda p: p.name)
def pages(request: pytest.FixtureRequest) -> tuple[PatternPage, ...]:
    return pattern_pages(everything(), request.param, heading="a sample")


@pytest.fixture(scope="module")
def printed(pages: tuple[PatternPage, ...]) -> bytes:
    return pattern_pdf(pages, title="Patterns of a sample")


def rings(page: PatternPage) -> list[tuple[float, float]]:
    """Centres [mm] of the ring marks of a page, in the coordinates of the drawing it shows."""
    picture = svgelements.SVG.parse(io.StringIO(page.svg), ppi=25.4)
    circles = picture.select(lambda e: isinstance(e, svgelements.Circle) and abs(e.rx - 2.0) < 1e-4)
    (dx, dy) = page.placed[0].shift
    return [(float(c.cx) - 1e3 * dx, 1e3 * page.height - float(c.cy) - 1e3 * dy) for c in circles]


def test_ring_marks_of_neighbours_fall_on_each_other(pages: tuple[PatternPage, ...]) -> None:
    for name in ("Cone gore", "Disc"):
        marks = [mark for page in pages if page.title == name and page.tile for mark in rings(page)]
        assert marks
        for mark in marks:
            assert sum(math.dist(mark, other) < MM for other in marks) == 2


def test_labels_count_the_pages_and_tell_the_place(pages: tuple[PatternPage, ...]) -> None:
    labels = [page.label for page in pages if page.title == "Disc"]
    assert labels[1] == "page 2 of 4: column B row 1"


def test_page_sizes_fonts_and_bookmarks(pages: tuple[PatternPage, ...], printed: bytes) -> None:
    reader = pypdf.PdfReader(io.BytesIO(printed))
    assert len(reader.pages) == len(pages)
    for page, wanted in zip(reader.pages, pages, strict=True):
        assert float(page.mediabox.width) / POINT == pytest.approx(1e3 * wanted.width, abs=MM)
        assert float(page.mediabox.height) / POINT == pytest.approx(1e3 * wanted.height, abs=MM)
        assert not page.images, "drawings are lines, not pictures of lines"
        assert embedded_fonts(page) and all(embedded_fonts(page))
    assert reader.metadata is not None and reader.metadata.title == "Patterns of a sample"
    assert [entry.title for entry in reader.outline if not isinstance(entry, list)] == [
        "Patterns at full size",
        "Cone gore",
        "Disc",
    ]


def embedded_fonts(page: pypdf.PageObject) -> list[bool]:
    """For every font reachable from a page's resources: whether its program is in the file."""
    found, waiting, seen = [], [page["/Resources"].get_object()], set()
    while waiting:
        resources = waiting.pop()
        for font in resources.get("/Font", {}).values():
            (descendant,) = font.get_object().get("/DescendantFonts", [font])
            descriptor = descendant.get_object()["/FontDescriptor"].get_object()
            found.append(any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")))
        for form in resources.get("/XObject", {}).values():
            if form.idnum not in seen and "/Resources" in form.get_object():
                seen.add(form.idnum)
                waiting.append(form.get_object()["/Resources"].get_object())
    return found


def segments(page: pdfplumber.page.Page) -> list[tuple[float, float, float, float]]:
    """Straight strokes of a page [mm]: x0, y0, x1, y1 from the upper left corner."""
    found = []
    for line in page.lines:
        (x0, y0), (x1, y1) = line["pts"][0], line["pts"][-1]
        found.append((x0 / POINT, y0 / POINT, x1 / POINT, y1 / POINT))
    return found


def test_every_printed_page_has_both_check_bars(printed: bytes) -> None:
    with pdfplumber.open(io.BytesIO(printed)) as document:
        for page in document.pages:
            lines = segments(page)
            for a, b in ((0, 1), (1, 0)):
                base = [s for s in lines if abs(abs(s[a + 2] - s[a]) - 101.6) < MM and abs(s[b + 2] - s[b]) < MM]
                assert base, page.page_number
                ends = (base[0][a], base[0][a + 2])
                ticks = [s[a] for s in lines if abs(s[a + 2] - s[a]) < MM and abs(abs(s[b + 2] - s[b]) - 3.0) < MM]
                assert any(abs(abs(t - end) - 100.0) < MM for t in ticks for end in ends)
            text = "".join(char["text"] for char in page.chars)
            assert (
                "Print at 100 %" in text and "page " in text and text.count("100 mm") >= 2 and text.count("4 in") >= 2
            )


def cubic(points: list[tuple[float, float]], t: float) -> tuple[float, float]:
    """A point of a cubic curve."""
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
    return tuple(sum(w * p[k] for w, p in zip(weights, points, strict=True)) for k in (0, 1))  # type: ignore[return-value]


def printed_points(
    page: pdfplumber.page.Page, shift: tuple[float, float], height: float
) -> list[tuple[float, float, float]]:
    """Points along every curve of a page, in the drawing's own millimetres, with the stroke's width in mm."""
    found = []
    for curve in page.curves:
        here = (0.0, 0.0)
        for command, *ends in curve["path"]:
            if command == "c":
                stops = [cubic([here, *ends], t) for t in (0.0, 0.25, 0.5, 0.75, 1.0)]
                found += [
                    (x / POINT - 1e3 * shift[0], 1e3 * (height - shift[1]) - y / POINT, curve["linewidth"] / POINT)
                    for x, y in stops
                ]
            if ends:
                here = ends[-1]
    return found


def test_printed_arcs_lie_where_the_joined_pages_need_them(pages: tuple[PatternPage, ...], printed: bytes) -> None:
    """Every wide curve of the cone's pages lies on the circle of its rim or its neck, or on one of the holes, within 0.05 mm."""
    neck, rim = 1e3 * CONE.neck_radius / 0.5, 1e3 * CONE.rim_radius / 0.5
    holes = [
        (1e3 * e.centre[0], 1e3 * e.centre[1])
        for e in cone().drawing.on("cut")
        if hasattr(e, "centre") and not hasattr(e, "start")
    ]
    on_rim = []
    with pdfplumber.open(io.BytesIO(printed)) as document:
        for sheet, page in zip(document.pages, pages, strict=True):
            if page.title != "Cone gore":
                continue
            for x, y, width in printed_points(sheet, page.placed[0].shift, page.height):
                dx, dy = (1e3 * part for part in page.placed[0].shift)
                if width < 0.45 or not (
                    20.0 < x + dx < 1e3 * page.width - 8.0 and 23.0 < y + dy < 1e3 * page.height - 25.0
                ):
                    continue  # narrow lines, the key in the corner, and what the window hides
                gap = min(abs(math.hypot(x, y) - r) for r in (neck, rim))
                assert min([gap, *(abs(math.dist((x, y), hole) - 1.6) for hole in holes)]) < MM
                if abs(math.hypot(x, y) - rim) < 1.0:
                    on_rim.append(math.degrees(math.atan2(y, x)))
    assert min(on_rim) == pytest.approx(-135.0, abs=0.01)
    assert max(on_rim) == pytest.approx(-45.0 + math.degrees(math.asin(15.0 / rim)), abs=0.01)


def test_a_large_disc_is_printed_round() -> None:
    """Four cubics of a circle, as PDF writers make them, would be 0.08 mm off at this size."""
    plate = replace(plate_pattern(Plate(0.63), name="Plate", quantity=1, material="sheet"), compass=())
    found = [page for page in pattern_pages([plate], A4) if page.tile]
    radii = []
    with pdfplumber.open(io.BytesIO(pattern_pdf(found, title="x"))) as document:
        for sheet, page in zip(document.pages, found, strict=True):
            points = printed_points(sheet, page.placed[0].shift, page.height)
            radii += [math.hypot(x, y) for x, y, width in points if width > 0.45]
    assert len(radii) > 100 and min(radii) > 315.0 - 0.01 and max(radii) < 315.0 + 0.01


def test_a_disc_of_many_pages_is_left_to_the_compass() -> None:
    """Radius and chord in words (the side of a hexagon is its radius), the holes of the middle in full size."""
    holes = (HoleCircle(0.026, 4, 3.3e-3, "screws", 45.0), HoleCircle(0.9, 6, 4e-3, "wires"))
    plate = plate_pattern(Plate(1.0, holes=holes), name="Plate", quantity=1, material="sheet")
    (page,) = pattern_pages([plate], A4)
    assert page.tile is None and "compass" in page.svg
    assert "Rim: radius 500 mm (19 11/16 in)." in plate.compass
    assert "6 holes Ø4 mm, wires: radius 450 mm, stepped off 450 mm apart in a straight line." in plate.compass
    middle = page.placed[-1].drawing
    assert sorted({round(1e3 * c.radius, 6) for c in middle.on("cut") if isinstance(c, Circle)}) == [1.65]
    shift = page.placed[-1].shift
    with pdfplumber.open(io.BytesIO(pattern_pdf([page], title="x"))) as document:
        points = [(x, y) for x, y, width in printed_points(document.pages[0], shift, page.height) if width > 0.45]
    # On the printed page the rims of the four holes lie 13 mm give or take their radius from the middle.
    near = [abs(math.hypot(x, y) - 13.0) for x, y in points if math.hypot(x, y) < 20.0]
    assert near and max(near) == pytest.approx(1.65, abs=MM)


def test_a_pattern_too_tall_for_its_title_still_has_its_notes() -> None:
    tall = plate_pattern(Plate(0.225, 0.12), name="Plate", quantity=1, material="sheet")
    found = pattern_pages([tall], A4)
    assert [page.tile is None for page in found] == [True, False]
    assert "Punch the crossings" in found[0].svg and found[1].label == "page 1 of 1: column A row 1"


def test_small_patterns_share_pages() -> None:
    assert len(pattern_pages([*sockets(), hub()], A4)) < 6


def test_no_pattern_no_print() -> None:
    with pytest.raises(PatternError, match="no pattern"):
        pattern_pdf(pattern_pages([], A4), title="")


def test_the_same_patterns_make_the_same_file() -> None:
    first, second = (pattern_pdf(pattern_pages([cone(), *sockets()], A4), title="x") for _ in range(2))
    assert first == second
