"""The cut list as comma-separated values, for a spreadsheet."""

from __future__ import annotations

import csv
import io

from aerialwright.base.printing import format_length, marked_angle, marked_length
from aerialwright.sheet.content import blank, is_fine
from aerialwright.sheet.records import BuildSheet, CutLine

HEAD = (
    "number", "piece", "quantity", "shape", "material", "diameter_mm", "thickness_mm", "finished_mm", "datum", "allowances", "cut_mm",
    "cut_in", "width_mm", "bend_start_mm", "bend_deg", "inside_radius_mm", "tolerance_mm", "stock", "remark",
)  # fmt: skip


def cut_table(sheet: BuildSheet) -> str:
    """One row for each line of the cut list; several bends of a piece share a cell, parted by semicolons."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEAD)
    for line in sheet.cut_list:
        writer.writerow([_safe(cell) for cell in _row(line)])
    return stream.getvalue()


def _row(line: CutLine) -> tuple[str, ...]:
    tolerance = line.tolerance.plus_minus if line.tolerance is not None and line.tolerance.kind == "length" else None
    marks = line.mark_bends
    added = "; ".join(f"{a.reason} {_marked(line, a.length)}" for a in line.allowances)
    return (
        str(line.number), line.name, str(line.quantity), line.shape, line.material, _mm(line.diameter), _mm(line.thickness),
        _marked(line, line.finished), line.datum, added, _marked(line, line.cut),
        "" if line.cut is None else format_length(line.cut, system="in").removesuffix(" in"), _marked(line, line.width),
        "; ".join(_marked(line, start) for start, _, _ in marks), "; ".join(f"{marked_angle(bend.angle):g}" for *_, bend in marks),
        "; ".join(_mm(bend.inside_radius) for *_, bend in marks), _mm(tolerance), line.stock, line.remark,
    )  # fmt: skip


def _marked(line: CutLine, value: float | None) -> str:
    """What is marked out, as the printed cut list says it."""
    if value is None:
        return ""
    return _mm(blank(value) if line.form is not None else marked_length(value, fine=is_fine(line)))


def _mm(value: float | None) -> str:
    return "" if value is None else f"{value * 1e3:.2f}".rstrip("0").rstrip(".")


def _safe(cell: str) -> str:
    """A spreadsheet must not take words from a file for a formula; a number stays one."""
    number = cell.lstrip("+-").replace(".", "", 1).isdigit()
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") and not number else cell
