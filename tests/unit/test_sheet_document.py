"""The printed build sheet, read back with libraries that had no part in making it (pypdf, pdfplumber)."""

from __future__ import annotations

import datetime as dt
import io
import time
from dataclasses import replace

import pdfplumber
import pypdf
import pytest
from report_fixtures import AIR, cage_evaluation, discone_evaluation
from sheet_fixtures import ground_plane_sheet
from small_needs import CLOTH, RODS, SHEET, TUBE, design_for, need_for, plans_for

from aerialwright.antennas.catalogue import families
from aerialwright.design.evaluate import evaluate
from aerialwright.design.records import Evaluation
from aerialwright.sheet import content
from aerialwright.sheet.build import build_sheet
from aerialwright.sheet.content import blank, inches, millimetres
from aerialwright.sheet.document import patterns_of, render_document
from aerialwright.sheet.drawing import PatternError
from aerialwright.sheet.pattern_pages import pattern_pages
from aerialwright.sheet.piece_sketch import marks
from aerialwright.sheet.records import BuildSheet
from aerialwright.sheet.tiles import paper

#: Inches of a sheet of paper: ISO 216 for A4 (210 x 297 mm), ANSI/ASME Y14.1 size A for Letter (8.5 x 11 in).
POINTS = {"A4": (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0), "Letter": (8.5 * 72.0, 11.0 * 72.0)}
HOSTILE = [
    "#include \"secret.typ\"", "$x^2$ and #sys.version", "*bold* _it_ `raw` <label> @ref", "a \\ b // no comment /* no */",
    "</svg><script>alert(1)</script>", "] #set page(width: 1mm) [", "ends with a \\", "Ω ± ü µ – ’ “",
]  # fmt: skip


def text_of(pdf: bytes) -> str:
    """The pages before the patterns, in the order of writing, so that the words of a cell stay together."""
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages[:6])


def flat(text: str) -> str:
    return "".join(text.replace("\u200b", "").replace("\u2212", "-").split())


@pytest.fixture(scope="module")
def sheet() -> BuildSheet:
    return ground_plane_sheet()


@pytest.fixture(scope="module", params=list(POINTS))
def printed(request: pytest.FixtureRequest, sheet: BuildSheet) -> tuple[str, bytes]:
    return request.param, render_document(sheet, paper_name=request.param, date=dt.date(2026, 3, 7))


def check_pages(sheet: BuildSheet, pdf: bytes, name: str, *, most: int = 6) -> None:
    """Paper, number of pages before the patterns, and every letter on the paper and large enough to read on a bench."""
    tiles = pattern_pages(patterns_of(sheet), paper(name))
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        plain = len(opened.pages) - len(tiles)
        assert 2 <= plain <= most
        for page in opened.pages[:plain]:
            assert (float(page.width), float(page.height)) == pytest.approx(POINTS[name], abs=0.01)
            assert page.chars
            for char in page.chars:
                stands = abs(char["matrix"][1]) > abs(char["matrix"][0])  # then its height lies across the page
                size = char["width"] if stands else char["size"]
                assert size >= 8.5, (char["text"], size)
                assert char["x0"] >= 20.0 and char["x1"] <= page.width - 20.0, char["text"]
                assert char["top"] >= 20.0 and char["bottom"] <= page.height - 15.0, char["text"]
                assert "(cid:" not in char["text"]
        for page in opened.pages[plain:]:
            assert sorted((float(page.width), float(page.height))) == pytest.approx(POINTS[name], abs=0.01)


def check_cuts(sheet: BuildSheet, pdf: bytes) -> None:
    """Every piece with its cut length in both systems."""
    text = flat(text_of(pdf))
    for line in sheet.cut_list:
        assert flat(line.name) in text
        if line.cut is not None:
            size = line.cut if line.form is None or line.width is None else blank(line.cut)
            assert flat(millimetres(size)) in text and flat(inches(size)) in text, line.name


def test_paper_pages_and_letters(printed: tuple[str, bytes], sheet: BuildSheet) -> None:
    name, pdf = printed
    check_pages(sheet, pdf, name)


def test_every_font_is_embedded(printed: tuple[str, bytes]) -> None:
    fonts = {}
    for page in pypdf.PdfReader(io.BytesIO(printed[1])).pages:
        stack = [page["/Resources"]]
        while stack:
            resources = stack.pop().get_object()
            for font in resources.get("/Font", {}).values():
                fonts[font.get_object()["/BaseFont"]] = font.get_object()
            stack += [
                form.get_object()["/Resources"] for form in resources.get("/XObject", {}).values()
                if "/Resources" in form.get_object()
            ]  # fmt: skip
    assert len(fonts) >= 2
    for name, font in fonts.items():
        descriptor = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert "DejaVuSansCondensed" in name
        assert any(key in descriptor for key in ("/FontFile2", "/FontFile3"))


def test_metadata_and_bookmarks(printed: tuple[str, bytes], sheet: BuildSheet) -> None:
    reader = pypdf.PdfReader(io.BytesIO(printed[1]))
    assert reader.metadata is not None
    assert reader.metadata.title == sheet.title
    assert sheet.design_id in str(reader.metadata["/Keywords"])
    names = [str(item["/Title"]) for item in reader.outline if isinstance(item, dict)]
    assert names == ["What you build", "Cut list", "Order of work", "Test card", "Patterns at full size"]


def test_what_a_builder_needs_is_in_it(printed: tuple[str, bytes], sheet: BuildSheet) -> None:
    check_cuts(sheet, printed[1])
    text = flat(text_of(printed[1]))
    for words in (*sheet.promise, *sheet.plan.shopping, *sheet.joints, *sheet.choke, *sheet.mounting, *sheet.weather):
        assert flat(words) in text
    for step in sheet.steps:
        assert flat(step.action) in text and flat(step.check) in text
    assert "7March2026" in text and sheet.design_id in text


def test_cautions_stand_on_page_one(printed: tuple[str, bytes]) -> None:
    with pdfplumber.open(io.BytesIO(printed[1])) as opened:
        first = flat(opened.pages[0].extract_text())
    assert "Powerlinesfirst" in first and "licensedelectrician" in first


def test_the_bars_are_drawn_to_scale(printed: tuple[str, bytes], sheet: BuildSheet) -> None:
    """The width of each cut over that of its bar, out of the PDF's own lines, against the plan."""
    bar = sheet.plan.bars[0]
    expected = bar.cuts[0][1] / bar.length
    with pdfplumber.open(io.BytesIO(printed[1])) as opened:
        shapes = [shape for page in opened.pages for shape in (*page.rects, *page.curves)]
    whole = max(shape["width"] for shape in shapes if 15.0 < shape["height"] < 20.0)
    cuts = [shape["width"] / whole for shape in shapes if 15.0 < shape["height"] < 20.0]
    assert any(part == pytest.approx(expected, abs=2e-3) for part in cuts)


@pytest.mark.parametrize("title", HOSTILE)
def test_hostile_words_print_as_they_are(title: str) -> None:
    sheet = ground_plane_sheet(title=title, promise=(title,), tools=(title,), joints=(title,))
    sheet = replace(sheet, cut_list=tuple(replace(line, name=title, remark=title) for line in sheet.cut_list))
    pdf = render_document(sheet)
    assert flat(text_of(pdf)).count(flat(title)) >= 5
    metadata = pypdf.PdfReader(io.BytesIO(pdf)).metadata
    assert metadata is not None and metadata.title == title
    check_pages(sheet, pdf, "A4")


def test_long_and_empty_words_stay_on_the_paper() -> None:
    """A word without a place to break, a very long title, and a sheet of which most is empty."""
    long = ground_plane_sheet(title="very long title " * 30, promise=("x" * 400,), joints=("word " * 300,))
    check_pages(long, render_document(long), "A4")
    empty = ground_plane_sheet(
        title="", promise=(), tools=(), parts=(), joints=(), choke=(), weather=(), mounting=(), strip_back=(), steps=()
    )
    empty = replace(empty, plan=replace(empty.plan, bars=(), sheets=(), shopping=()))
    check_pages(empty, render_document(empty, paper_name="Letter"), "Letter")


def test_an_unknown_paper_is_one_line(sheet: BuildSheet) -> None:
    with pytest.raises(PatternError, match="A4 or Letter"):
        render_document(sheet, paper_name="A0")


@pytest.mark.parametrize(
    "evaluation",
    [discone_evaluation(), discone_evaluation(mesh=True), cage_evaluation()],
    ids=lambda evaluation: evaluation.key,
)
def test_invented_metal(evaluation: Evaluation) -> None:
    made = ground_plane_sheet(evaluation=evaluation, band_labels=(AIR.label,))
    check_pages(made, render_document(made), "A4")


@pytest.fixture(scope="module", params=[family.key for family in families()])
def solved(request: pytest.FixtureRequest) -> BuildSheet:
    """A real sheet of each family: solved at its first guess, not tuned."""
    site = "flat metal roof" if request.param == "sheet-monopole" else "mast in a garden"
    need = need_for((144, 148), (156, 162), stock=(RODS, TUBE, SHEET, CLOTH), line_length=25.0, site=site)
    plan = len(plans_for(request.param, need)) - 1
    return build_sheet(
        need, evaluate(design_for(request.param, need, plan=plan), need, need.must_bands), bands=need.bands
    )


@pytest.mark.parametrize("name", list(POINTS))
def test_every_family_prints(solved: BuildSheet, name: str) -> None:
    pdf = render_document(solved, paper_name=name)
    check_pages(solved, pdf, name)
    check_cuts(solved, pdf)


def test_marks_end_at_the_cut_and_keep_the_datum(solved: BuildSheet) -> None:
    """What is scribed on a straight piece: in order, from the cut end, the datum where the added metal ends."""
    for line in solved.cut_list:
        places = marks(line)
        if not places:
            continue
        assert [mark.at for mark in places] == sorted(mark.at for mark in places)
        assert places[0].at == 0.0 and places[-1].at == line.cut
        before = max(sum(a.length for a in line.allowances if a.end == "datum"), 0.0)
        assert any("datum" in mark.words and mark.at == pytest.approx(before, abs=1e-6) for mark in places)


def test_a_dip_that_reads_too_low_is_cut(solved: BuildSheet) -> None:
    """A longer antenna is lower in frequency: only a dip that is too low may be answered by cutting."""
    rows = content.test_words(solved.test)["trim"]
    assert all(("low" in row["offset"]) == row["change"].startswith("cut") for row in rows)


def test_it_is_made_in_time(sheet: BuildSheet) -> None:
    """Asked: under 5 s for the whole document, the library's first start included."""
    start = time.perf_counter()
    render_document(sheet)
    assert time.perf_counter() - start < 5.0
