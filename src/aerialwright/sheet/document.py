"""The printed build sheet: records to PDF.

The template (``document.typ``) holds the layout only. All words go to it as data, never as source, so that a title such as
``#include`` prints as it is written. Fonts come from the package and are embedded; nothing is fetched.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from pathlib import Path
from typing import Any

from aerialwright.antennas.workpiece import Plate
from aerialwright.sheet import content
from aerialwright.sheet.cards import cards, reduced
from aerialwright.sheet.drawing import Pattern
from aerialwright.sheet.pattern_pages import pattern_pages
from aerialwright.sheet.piece_sketch import REDUCTION, piece_sketch
from aerialwright.sheet.records import BuildSheet
from aerialwright.sheet.sketches import bar_picture, sheet_picture
from aerialwright.sheet.svg_file import PRINT_FONT
from aerialwright.sheet.templates import sheet_patterns
from aerialwright.sheet.tiles import Paper, paper
from aerialwright.solution import figures, svg
from aerialwright.solution.figures.palette import colour

FONTS = Path(__file__).parent / "fonts"
_TEMPLATE = Path(__file__).parent / "document.typ"
#: Charts are drawn in px with text of 10.5 px and more; this many mm for each px makes that 9.1 pt.
_PX = 0.306
#: What a builder fills in for whoever measures or mends it later.
RECORD = ("built by", "date", "coax", "SWR at far end", "stations heard", "look again on")
#: A last page of which less than this is used is to be avoided.
STUB = 0.4
_SETTINGS: dict[str, Any] = {"root": _TEMPLATE.parent, "font_paths": [FONTS], "ignore_system_fonts": True}
_LONG = re.compile(r"[^\s\u200b]{28,}")


def render_document(sheet: BuildSheet, *, paper_name: str = "A4", date: dt.date | None = None) -> bytes:
    """The build sheet with its full-size patterns as PDF.

    Parameters
    ----------
    sheet : BuildSheet
        What to print.
    paper_name : str
        ``"A4"`` or ``"Letter"``.
    date : datetime.date, optional
        Date printed on page one, today by default.

    Raises
    ------
    PatternError
        For an unknown paper, or a pattern that cannot be drawn.
    FigureError
        If a record holds numbers that cannot be drawn.
    """
    return _compile(document_data(sheet, size=paper(paper_name), date=date or dt.date.today()))


def patterns_of(sheet: BuildSheet) -> tuple[Pattern, ...]:
    """Every full-size pattern of a sheet; the socket's own template where no plate of the antenna carries its holes."""
    design = sheet.evaluation.design
    plates = any(isinstance(line.form, Plate) and line.form.holes for line in sheet.cut_list)
    sockets = (design.plan.socket,) if design is not None and design.family.socketed and not plates else ()
    return sheet_patterns(sheet.cut_list, sockets)


def document_data(sheet: BuildSheet, *, size: Paper, date: dt.date) -> dict[str, Any]:
    """Everything the template prints, as plain data."""
    evaluation = sheet.evaluation
    front = content.front(sheet)
    front["picture"] = _chart(
        figures.dimension_drawing(evaluation, width=340.0, tallest=_tallest(sheet, size), identity="sheet"),
        alt=f"side view of {evaluation.title} with overall sizes",
    )
    test = content.test_words(sheet.test)
    test["picture"] = _chart(
        figures.swr_chart(evaluation, sheet.need, width=310.0, height=185.0, receiver=False),
        alt="expected SWR with its error band",
    )
    bands = ", ".join(sheet.band_labels)
    pages = pattern_pages(patterns_of(sheet), size, heading=f"{sheet.title} | design {sheet.design_id}")
    bookmarks = [page.title if k == 0 or page.title != pages[k - 1].title else "" for k, page in enumerate(pages)]
    keywords = ["antenna", "build sheet", evaluation.family_title, *sheet.band_labels, f"design {sheet.design_id}"]
    printed: dict[str, Any] = _for_paper({
        "title": sheet.title, "heading": f"{sheet.title[:1].upper()}{sheet.title[1:]}",
        "running": svg.shorten(sheet.title, 9.0, 330.0), "id": sheet.design_id, "width": 1e3 * size.width, "height": 1e3 * size.height,
        "subtitle": f"{sheet.need.title} · for {bands} · design {sheet.design_id} · {date.day} {date:%B %Y}",
        "footer": f"aerialwright {sheet.version} · print at 100 % · local code comes first",
        "front": front, "cut": _cut(sheet, size), "plan": _plan(sheet, size),
        "steps": [
            {"number": str(k), "action": step.action, "check": step.check, "caution": step.caution}
            for k, step in enumerate(sheet.steps, 1)
        ],
        "cards": cards(sheet), "test": test, "record": RECORD,
        "patterns": [
            {"svg": page.svg, "width": 1e3 * page.width, "height": 1e3 * page.height, "bookmark": bookmark,
             "alt": f"{page.title}, {page.label}"}
            for page, bookmark in zip(pages, bookmarks, strict=True)
        ],
    })  # fmt: skip
    # What readers of files see must be the words themselves, without places to break.
    subject = f"Build sheet. {content.swr_promise(evaluation)}"
    return printed | {"metadata": {"title": sheet.title, "keywords": keywords, "subject": subject}}


def _tallest(sheet: BuildSheet, size: Paper) -> float:
    """Height [px] of the drawing on page one: what the table of sizes, the cautions and the promise leave of it."""
    words = [*sheet.promise, *(f"{caution.text} {caution.remedy}" for caution in sheet.safety)]
    lines = sum(math.ceil(len(text) / 105.0) for text in words)
    free = (1e3 * size.height - 150.0) / _PX - 17.0 * len(sheet.evaluation.dimensions) - 15.0 * lines
    return min(max(free + 120.0, 170.0), 330.0)


def _text_width(size: Paper) -> float:
    """Width between the margins of the template [mm]."""
    return 1e3 * size.width - 30.0


def _for_paper(value: Any) -> Any:
    """Words too long for a column get places to break, so that nothing leaves the paper; pictures are made to print."""
    if isinstance(value, str):
        return _LONG.sub(lambda match: "\u200b".join(re.findall(".{1,12}", match.group())), value)
    if isinstance(value, dict):
        return {key: _printed(inner) if key == "svg" else _for_paper(inner) for key, inner in value.items()}
    return [_for_paper(inner) for inner in value] if isinstance(value, list) else value


def _cut(sheet: BuildSheet, size: Paper) -> list[dict[str, Any]]:
    lines = [line for line in sheet.cut_list if line.shape != "part" or line.form is not None]
    rows = content.cut_rows(lines)
    for row, line in zip(rows, lines, strict=True):
        drawing = piece_sketch(line, width=1e-3 * REDUCTION * (_text_width(size) - 12.0))
        row["picture"] = None if drawing is None else reduced(drawing, f"{line.name}: marks on the straight piece")
    return rows


def _plan(sheet: BuildSheet, size: Paper) -> dict[str, Any]:
    numbers = {line.name: line.number for line in sheet.cut_list}
    rounds = {line.name for line in sheet.cut_list if isinstance(line.form, Plate) and line.form.width is None}
    longest = max((bar.length for bar in sheet.plan.bars), default=1.0)
    bars = []
    for bar, same in content.alike(sheet.plan.bars):
        label, text = content.bar_words(bar, same)
        picture = bar_picture(bar, numbers, width=_text_width(size), longest=longest)
        bars.append({"label": label, "text": text, "picture": _sketch(picture)})
    sheets = []
    for use in sheet.plan.sheets:
        label, text = content.sheet_words(use)
        picture = sheet_picture(use, numbers, rounds=rounds, width=(_text_width(size) - 10.0) / 3.0, tallest=42.0)
        sheets.append({"label": label, "text": text, "picture": _sketch(picture)})
    return {"bars": bars, "sheets": sheets, "shopping": list(sheet.plan.shopping), "note": content.plan_note(sheet)}


def _sketch(drawing: svg.Drawing) -> dict[str, Any]:
    return {"svg": drawing.markup(), "width": drawing.width, "alt": drawing.description or drawing.title}


def _chart(markup: str, *, alt: str) -> dict[str, Any]:
    width = float(markup.partition('width="')[2].partition('"')[0])
    return {"svg": markup, "width": width * _PX, "alt": alt}


def _printed(markup: str) -> str:
    """A picture in light colours, on white and in the document's own font."""
    for font in map(svg.clean, (svg.FONT, svg.plain_colours(svg.FONT), PRINT_FONT)):
        markup = markup.replace(f'font-family="{font}"', 'font-family="DejaVu Sans" font-stretch="condensed"')
    return svg.plain_colours(markup.replace(colour("sheet"), "#ffffff"))


def _compile(data: dict[str, Any]) -> bytes:
    import typst

    tight = _tightness(data)
    pdf = typst.compile(_TEMPLATE, format="pdf", sys_inputs=_inputs(data, tight), **_SETTINGS)
    assert isinstance(pdf, bytes)
    return pdf


def _inputs(data: dict[str, Any], tight: int) -> dict[str, str]:
    return {"data": json.dumps(data), "tight": str(tight)}


def _tightness(data: dict[str, Any]) -> int:
    """The loosest setting whose last page before the patterns is worth a page; 0 where none is."""
    import typst

    plain = data | {"patterns": []}
    for tight in range(3):
        (end,) = json.loads(
            typst.query(_TEMPLATE, "<end>", field="value", sys_inputs=_inputs(plain, tight), **_SETTINGS)
        )
        if end["used"] > STUB:
            return tight
    return 0
