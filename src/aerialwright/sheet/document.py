"""The printed build sheet: records to PDF.

The template (``document.typ``) holds the layout only. All words go to it as data, never as source, so that a title such as
``#include`` prints as it is written. Fonts come from the package and are embedded; nothing is fetched.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

from aerialwright.antennas.workpiece import Plate
from aerialwright.sheet import content
from aerialwright.sheet.drawing import Drawing, Pattern
from aerialwright.sheet.fitting_sketches import choke_sketch, mounting_sketch, seal_sketch, strip_back_sketch
from aerialwright.sheet.pattern_pages import pattern_pages
from aerialwright.sheet.piece_sketch import REDUCTION, piece_sketch
from aerialwright.sheet.records import BuildSheet
from aerialwright.sheet.sketches import bar_picture, sheet_picture
from aerialwright.sheet.svg_file import PRINT_FONT, svg_text
from aerialwright.sheet.templates import sheet_patterns
from aerialwright.sheet.tiles import Paper, paper
from aerialwright.solution import figures, svg
from aerialwright.solution.figures.palette import colour

FONTS = Path(__file__).parent / "fonts"
_TEMPLATE = Path(__file__).parent / "document.typ"
#: Charts are drawn in px with text of 10.5 px and more; this many mm for each px makes that 9.1 pt.
_PX = 0.306
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
        figures.dimension_drawing(evaluation, width=340.0, tallest=250.0, identity="sheet"),
        alt=f"side view of {evaluation.title} with overall sizes",
    )
    test = content.test_words(sheet.test)
    test["picture"] = _chart(
        figures.swr_chart(evaluation, sheet.need, width=330.0, height=230.0), alt="expected SWR with its error band"
    )
    bands = ", ".join(sheet.band_labels)
    pages = pattern_pages(patterns_of(sheet), size, heading=f"{sheet.title} | design {sheet.design_id}")
    bookmarks = [page.title if k == 0 or page.title != pages[k - 1].title else "" for k, page in enumerate(pages)]
    keywords = ["antenna", "build sheet", evaluation.family_title, *sheet.band_labels, f"design {sheet.design_id}"]
    return _breakable({
        "title": sheet.title, "running": svg.shorten(sheet.title, 9.0, 330.0), "id": sheet.design_id, "width": 1e3 * size.width, "height": 1e3 * size.height,
        "subtitle": f"{sheet.need.title} · for {bands} · design {sheet.design_id} · {date:%d %B %Y}".replace(" 0", " "),
        "footer": f"aerialwright {sheet.version} · print at 100 % · local code comes first",
        "front": front, "cut": _cut(sheet, size), "plan": _plan(sheet, size),
        "steps": [
            {"number": str(k), "action": step.action, "check": step.check, "caution": step.caution}
            for k, step in enumerate(sheet.steps, 1)
        ],
        "cards": _cards(sheet), "test": test,
        "closing": f"Compare what you measure with the stored design {sheet.design_id}.",
        "patterns": [
            {"svg": _printed(page.svg), "width": 1e3 * page.width, "height": 1e3 * page.height, "bookmark": bookmark,
             "alt": f"{page.title}, {page.label}"}
            for page, bookmark in zip(pages, bookmarks, strict=True)
        ],
    }) | {"metadata": {"title": sheet.title, "keywords": keywords, "subject": f"Build sheet. {content.swr_promise(evaluation)}"}}  # fmt: skip


def _text_width(size: Paper) -> float:
    """Width between the margins of the template [mm]."""
    return 1e3 * size.width - 30.0


def _breakable(value: Any) -> Any:
    """Words too long for a column get places to break, so that nothing leaves the paper; pictures stay as they are."""
    if isinstance(value, str):
        return _LONG.sub(lambda match: "\u200b".join(re.findall(".{1,12}", match.group())), value)
    if isinstance(value, dict):
        return {key: inner if key == "svg" else _breakable(inner) for key, inner in value.items()}
    return [_breakable(inner) for inner in value] if isinstance(value, list) else value


def _cut(sheet: BuildSheet, size: Paper) -> list[dict[str, Any]]:
    rows = content.cut_rows(sheet.cut_list)
    for row, line in zip(rows, sheet.cut_list, strict=True):
        drawing = piece_sketch(line, width=1e-3 * REDUCTION * (_text_width(size) - 12.0))
        row["picture"] = None if drawing is None else _drawn(drawing, f"{line.name}: marks on the straight piece")
    return rows


def _plan(sheet: BuildSheet, size: Paper) -> dict[str, Any]:
    numbers = {line.name: line.number for line in sheet.cut_list}
    longest = max((bar.length for bar in sheet.plan.bars), default=1.0)
    bars = []
    for bar, same in content.alike(sheet.plan.bars):
        label, text = content.bar_words(bar, same)
        picture = bar_picture(bar, numbers, width=_text_width(size), longest=longest)
        bars.append({"label": label, "text": text, "picture": _sketch(picture)})
    sheets = []
    for use in sheet.plan.sheets:
        label, text = content.sheet_words(use)
        picture = sheet_picture(use, numbers, width=(_text_width(size) - 10.0) / 3.0, tallest=42.0)
        sheets.append({"label": label, "text": text, "picture": _sketch(picture)})
    return {"bars": bars, "sheets": sheets, "shopping": list(sheet.plan.shopping), "note": content.plan_note(sheet)}


def _cards(sheet: BuildSheet) -> list[dict[str, Any]]:
    """The blocks after the order of work, each with its sketch where there is one."""
    strip = [f"{label}: {content.both(length)}" for label, length in sheet.strip_back]
    drawn = strip_back_sketch(sheet.strip_back) if strip else None
    height = sheet.need.site.height
    blocks = (
        ("Joints", list(sheet.joints), None),
        ("Coax end", strip, drawn),
        ("Choke", list(sheet.choke), choke_sketch(turns=3, ring="Ø49")),
        ("Weather seal", list(sheet.weather), seal_sketch()),
        ("Mounting", list(sheet.mounting), mounting_sketch(
            sheet.evaluation.structure, clearance="at least 600 mm",
            lines_away=f"No power line nearer than {2.0 * height:.0f} m, wherever it falls")),
    )  # fmt: skip
    return [
        {"title": title, "lines": lines, "picture": None if picture is None else _drawn(picture, title)}
        for title, lines, picture in blocks if lines
    ]  # fmt: skip


def _drawn(drawing: Drawing, title: str) -> dict[str, Any]:
    """A sketch lettered at 3.5 mm, printed at 2.5 mm."""
    border = 0.5e-3
    width = 1e3 * (drawing.box.width + 2.0 * border) / REDUCTION
    return {"svg": _printed(svg_text(drawing, title=title, border=border)), "width": width, "alt": title}


def _sketch(drawing: svg.Drawing) -> dict[str, Any]:
    return {"svg": _printed(drawing.markup()), "width": drawing.width, "alt": drawing.description or drawing.title}


def _chart(markup: str, *, alt: str) -> dict[str, Any]:
    width = float(markup.partition('width="')[2].partition('"')[0])
    return {"svg": _printed(markup), "width": width * _PX, "alt": alt}


def _printed(markup: str) -> str:
    """A picture in light colours, on white and in the document's own font."""
    for font in map(svg.clean, (svg.FONT, svg.plain_colours(svg.FONT), PRINT_FONT)):
        markup = markup.replace(f'font-family="{font}"', 'font-family="DejaVu Sans" font-stretch="condensed"')
    return svg.plain_colours(markup.replace(colour("sheet"), "#ffffff"))


def _compile(data: dict[str, Any]) -> bytes:
    import typst

    pdf = typst.compile(
        _TEMPLATE, root=_TEMPLATE.parent, font_paths=[FONTS], ignore_system_fonts=True, format="pdf",
        sys_inputs={"data": json.dumps(data)},
    )  # fmt: skip
    assert isinstance(pdf, bytes)
    return pdf
