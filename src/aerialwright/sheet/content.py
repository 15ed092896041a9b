"""The build sheet in the words and numbers of the workshop: records to plain text for the document's template."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from typing import Any

from aerialwright.antennas.records import Dimension
from aerialwright.antennas.workpiece import ConeSheet
from aerialwright.base.errors import Caution
from aerialwright.base.printing import (
    format_angle,
    format_dimension,
    format_frequency,
    format_frequency_range,
    format_impedance,
    format_length,
    format_power,
    format_ratio,
    marked_angle,
    marked_length,
)
from aerialwright.design.records import Evaluation
from aerialwright.need.model import Band, FeedLine
from aerialwright.sheet.records import BuildSheet, CutLine, Expected, SheetUse, StockUse, TestCard, Tolerance, TrimRow
from aerialwright.solution.figures import letter

MINUS = "\u2212"
Words = dict[str, Any]


#: A dimension that is read with callipers, not marked out, says so as its datum.
MEASURED = "measured"


def millimetres(value: float, *, fine: bool = False) -> str:
    """A length [m] as it can be marked out: whole millimetres from 50 mm, half ones below and where it is ``fine``."""
    return format_length(marked_length(value, fine=fine)).replace("-", MINUS)


def inches(value: float) -> str:
    """A length [m] as a tape in inches shows it, to 1/32 in."""
    return format_length(value, system="in").replace("-", MINUS)


def measured(value: float) -> tuple[str, str]:
    """A diameter or thickness [m] as callipers show it: tenths of a millimetre and thousandths of an inch."""
    return format_length(value), format_length(value, system="in", style="decimal")


def both(value: float, *, fine: bool = False) -> str:
    """A length in both systems."""
    return f"{millimetres(value, fine=fine)} ({inches(value)})"


def megahertz(value: float, digits: int = 2) -> str:
    """A frequency or a difference of two [Hz] as a bare number of MHz."""
    return f"{value / 1e6:.{digits}f}".replace("-", MINUS)


def ohms(value: complex) -> str:
    """An impedance without its unit."""
    return format_impedance(complex(value), digits=0).removesuffix(" ohm").replace("-", MINUS)


def _minus(text: str) -> str:
    """Negative numbers in a sentence with a true minus sign."""
    return re.sub(r"(?<![\w.)-])-(?=\d)", MINUS, text)


def items(lines: Sequence[str]) -> list[Words]:
    """Lines of a list; one that brings its own number keeps it."""
    rows = []
    for line in map(_minus, lines):
        number, dot, rest = line.partition(". ")
        own = bool(dot) and number.isdigit()
        rows.append({"mark": f"{number}.", "text": rest} if own else {"mark": "•", "text": line})
    return rows


# -- page one -------------------------------------------------------------------------------------------------------


def size_rows(dimensions: Sequence[Dimension]) -> list[Words]:
    """The table of dimensions, lettered as on the drawing."""
    return [
        {
            "letter": letter(index),
            "label": d.label,
            "metric": metric,
            "inch": inch,
            "datum": d.datum,
        }
        for index, d in enumerate(dimensions)
        for metric, inch in (_size(d),)
    ]


def _size(d: Dimension) -> tuple[str, str]:
    if d.kind == "angle":
        return format_angle(marked_angle(d.value)), ""
    if d.kind != "length":
        return format_dimension(d.value, d.kind), ""
    return measured(d.value) if MEASURED in d.datum else (millimetres(d.value), inches(d.value))


def _band(band: Band) -> str:
    return f"{band.label}, {format_frequency_range(band.low, band.high).replace('-', '–')}"


def uses(sheet: BuildSheet) -> tuple[list[str], list[str]]:
    """What the antenna is for, and what it is not for."""
    need = sheet.need
    ours = [band for band in need.bands if band.label in sheet.band_labels]
    lines = [
        *map(_band, ours),
        f"{need.polarisation} polarisation" if need.polarisation != "any" else "any polarisation",
    ]
    others = [band for band in need.bands if band.label not in sheet.band_labels]
    against = [_band(band) for band in others]
    sending = not need.receive_only and (not need.transmit_band or need.transmit_band in sheet.band_labels)
    if sending:
        where = f" in {need.transmit_band}" if need.transmit_band else ""
        lines.append(f"receiving, and sending up to {format_power(need.transmit_power)}{where} under a licence")
        against.append(f"more than {format_power(need.transmit_power)}, or sending on any other band")
    else:
        lines.append("receiving only")
        against.append("transmitting: nothing here was chosen for power")
    against.append("standing under, over or beside power lines")
    return lines, against


def _caution(caution: Caution) -> Words:
    """The short name before the text, where the caution has one."""
    text = " ".join(part for part in (caution.text, caution.remedy) if part)
    name, colon, rest = text.partition(": ")
    return {"name": f"{name}.", "text": rest} if colon and len(name) < 40 else {"name": "", "text": text}


def _parts(sheet: BuildSheet) -> list[Words]:
    """Bought and made parts; a length that one must have stands with it."""
    lengths = {
        line.name: f"; {both(line.finished)} {line.datum}".rstrip()
        for line in sheet.cut_list
        if line.shape == "part" and line.finished is not None and line.form is None
    }
    return [
        {"count": f"{count} ×", "part": part, "remark": f"{remark}{lengths.get(part, '')}"}
        for part, count, remark in sheet.parts
    ]


def front(sheet: BuildSheet) -> Words:
    """Page one without its picture."""
    use, not_for = uses(sheet)
    return {
        "sizes": size_rows(sheet.evaluation.dimensions), "use": items(use), "not_for": items(not_for),
        "promise": items(sheet.promise), "safety": [_caution(caution) for caution in sheet.safety],
        "tools": ", ".join(sheet.tools), "parts": _parts(sheet),
    }  # fmt: skip


# -- metal ----------------------------------------------------------------------------------------------------------


def _material(line: CutLine) -> str:
    words = [line.material, line.shape if line.shape != "part" and line.shape not in line.material else ""]
    if line.diameter is not None:
        words.append("{} ({})".format(*measured(line.diameter)))
    if line.thickness is not None:
        words.append(f"{format_length(line.thickness)} thick")
    return " ".join(word for word in words if word)


def _bend(mark: float, arc: float, angle: float, radius: float) -> str:
    return (
        f"start at {both(mark)} from the cut end at the datum, bend {format_angle(marked_angle(angle))} away from straight over an inside "
        f"radius of {millimetres(radius)}; the arc takes {millimetres(arc)} of the centre line"
    )


def _tolerance(tolerance: Tolerance) -> str:
    angle = tolerance.kind == "angle"
    size = format_angle(tolerance.plus_minus) if angle else format_length(tolerance.plus_minus)
    return f"±{size}: {_minus(tolerance.reason)}"


def _notes(line: CutLine) -> list[list[Words]]:
    """Paragraphs of parts that belong together, each part with its name."""
    flat = line.form is not None
    first: list[tuple[str, str]] = [("datum:", line.datum)] if line.datum and not flat else []
    added = [a for a in line.allowances if marked_length(a.length) > 0.0]
    if added:
        ends = {"datum": " at the datum end", "tip": " at the tip"}
        first.append(("added:", ", ".join(f"{a.reason} {millimetres(a.length)}{ends.get(a.end, '')}" for a in added)))
    less = [a for a in line.allowances if marked_length(a.length) < 0.0]
    if less:
        first.append(("taken off:", ", ".join(f"{a.reason} {millimetres(-a.length)}" for a in less)))
    rows = [first, *([("bend:", _bend(mark, arc, b.angle, b.inside_radius))] for mark, arc, b in line.mark_bends)]
    if isinstance(line.form, ConeSheet):
        c = line.form
        parts = f", in {c.gores} equal parts" if c.gores > 1 else ""
        rows.append([("cone:", f"neck {both(2 * c.neck_radius)} and rim {both(2 * c.rim_radius)} across, {both(c.slant)} along "
                      f"the metal{parts}, seam lap {millimetres(c.seam_lap)}")])  # fmt: skip
    if line.tolerance is not None:
        rows.append([("exact to", _tolerance(line.tolerance))])
    if line.bend_tolerance is not None:
        rows.append([("bend exact to", _tolerance(line.bend_tolerance))])
    last = [("from:", line.stock)] if line.stock else []
    if not line.stock and line.shape != "part":
        last = [("from:", "not on the shelf: see the shopping list")]
    shape = [("shape:", "full-size pattern at the end of this sheet")] if flat else []
    rows.append([*shape, *last, *([("note:", line.remark)] if line.remark else [])])
    return [[{"name": name, "text": text} for name, text in row] for row in rows if row]


def is_fine(line: CutLine) -> bool:
    """True where half a millimetre is a large part of what the piece may be off."""
    return line.tolerance is not None and line.tolerance.kind == "length" and line.tolerance.plus_minus < 1e-3


def blank(side: float) -> float:
    """Side [m] of the sheet to take for a flat piece: whole millimetres, never less than the piece."""
    return 1e-3 * math.ceil(1e3 * side - 0.05)


def _cut_to(line: CutLine) -> tuple[str, str, str]:
    """What stands over the figure, the figure in mm and in inches."""
    if line.cut is None:
        return ("across", millimetres(line.width), inches(line.width)) if line.width is not None else ("", "", "")
    if line.width is None:
        return "CUT to" if line.form is None else "across", millimetres(line.cut, fine=is_fine(line)), inches(line.cut)
    sides = [blank(side) for side in (line.cut, line.width)]
    if sides[0] == sides[1]:
        return "from a blank", f"{millimetres(sides[0])} square", inches(sides[0])
    return "from a blank", " × ".join(map(millimetres, sides)), " × ".join(map(inches, sides))


def cut_rows(lines: Sequence[CutLine]) -> list[Words]:
    """The cut list, one block for each line that metal is cut for; parts stand on page one."""
    rows = []
    for line in lines:
        word, cut, inch = _cut_to(line)
        rows.append({
            "number": str(line.number), "name": line.name, "material": _material(line), "quantity": f"{line.quantity} off",
            "boxes": min(line.quantity, 24), "cut": cut, "cut_inch": inch, "cut_word": word, "notes": _notes(line),
            "finished": "" if line.finished is None or line.form is not None else both(line.finished, fine=is_fine(line)),
        })  # fmt: skip
    return rows


def alike(bars: Sequence[StockUse]) -> list[tuple[StockUse, list[int]]]:
    """Bars that are cut in the same way, with their numbers, in the order of the plan."""

    def way(bar: StockUse) -> tuple[object, ...]:
        return bar.label, bar.length, bar.cuts, bar.kerf

    found: dict[tuple[object, ...], tuple[StockUse, list[int]]] = {}
    for bar in bars:
        found.setdefault(way(bar), (bar, []))[1].append(bar.number)
    return list(found.values())


def numbers(values: Sequence[int]) -> str:
    """'1', '1–3' or '1, 2, 4'."""
    values = sorted(values)
    if len(values) > 2 and values[-1] - values[0] == len(values) - 1:
        return f"{values[0]}–{values[-1]}"
    return ", ".join(map(str, values))


def bar_words(bar: StockUse, same: Sequence[int]) -> tuple[str, str]:
    """Which bars, and what is cut from each."""
    count = f"nos. {numbers(same)}, each" if len(same) > 1 else f"no. {same[0]}"
    cuts = []
    for (name, length), run in groupby(bar.cuts):
        many = len(list(run))
        cuts.append(f"{many} × {name} {millimetres(length)}" if many > 1 else f"{name} {millimetres(length)}")
    return (
        f"{bar.label} {count} of {both(bar.length)}:",
        f"{', '.join(cuts)}; left {both(max(bar.left, 0.0))}",
    )


def sheet_words(use: SheetUse) -> tuple[str, str]:
    """Which sheet, and what is cut from it."""
    size = f"{millimetres(use.length)} across" if use.round else f"{millimetres(use.length)} × {millimetres(use.width)}"
    words = (f"{name} {millimetres(blank(w))} × {millimetres(blank(h))}" for name, _, _, w, h in use.cuts)
    cuts = Counter(words)
    text = ", ".join(f"{many} × {cut}" if many > 1 else cut for cut, many in cuts.items())
    return f"{use.label} no. {use.number}, {size}:", text


def plan_note(sheet: BuildSheet) -> str:
    """Kerf and method of the plan."""
    if not sheet.plan.bars:
        return f"Drawn to scale, hatched: left over. {sheet.plan.method[:1].upper()}{sheet.plan.method[1:]}."
    kerfs = sorted({bar.kerf for bar in sheet.plan.bars})
    saw = f" A saw cut of {millimetres(kerfs[-1])} is counted at each cut." if kerfs else ""
    proof = (
        "proved: no plan needs fewer bars"
        if sheet.plan.proven
        else "the best plan found; a better one is not ruled out"
    )
    method = f" ({sheet.plan.method})" if sheet.plan.method else ""
    return f"Drawn to scale, hatched: left over.{saw} {proof[0].upper()}{proof[1:]}{method}."


# -- test card -----------------------------------------------------------------------------------------------------


def far_end(line: FeedLine) -> str:
    """The far end of the coax in words."""
    if line.length <= 0.0:
        return "at the end of the coax"
    length = f"{line.length:g} m" if line.length >= 1.0 else millimetres(line.length)
    return f"behind {length} of {line.type}"


def _expected(row: Expected) -> Words:
    spread = f" ±{row.swr_error:.2f}" if row.swr_error >= 0.005 else ""
    return {
        "label": row.label, "frequency": megahertz(row.frequency, 3).rstrip("0").rstrip("."),
        "swr": f"{format_ratio(row.swr)}{spread}", "impedance": ohms(row.impedance), "limit": f"≤ {format_ratio(row.swr_limit)}",
        "far_swr": format_ratio(row.far_swr), "far_impedance": ohms(row.far_impedance),
        "far_limit": f"≤ {format_ratio(row.far_swr_limit)}",
    }  # fmt: skip


def _trim(row: TrimRow, dip: float) -> Words:
    off = abs(row.dip_offset)
    return {
        "offset": f"{megahertz(dip + row.dip_offset, 1)} ({megahertz(off, 1 if off >= 1e6 else 2)} too "
        f"{'low' if row.dip_offset < 0 else 'high'})",
        "change": f"{'cut' if row.change < 0 else 'add'} {millimetres(abs(row.change))}",
        # A longer tip is put on once; only cutting goes in steps.
        "first": millimetres(abs(row.first_cut)) if row.change < 0 else "all",
    }


def _dip(card: TestCard) -> str:
    trimmed = f"once trimmed within ±{megahertz(card.dip_allowed)} MHz, " if card.trim else ""
    return (
        f"at {format_frequency(card.dip_frequency, digits=2 if card.trim else 0)}, {trimmed}SWR there {format_ratio(card.dip_swr)}. "
        f"Sweep {megahertz(card.sweep_low, 0)} to {megahertz(card.sweep_high, 0)} MHz."
    )


def test_words(card: TestCard) -> Words:
    """The test card without its picture."""
    return {
        "plane": card.reference_plane, "hang": items(card.hang),
        "dip_head": "Expect the dip" if card.trim else "Expect the lowest SWR", "dip": _dip(card),
        "far": card.line.length > 0.0, "far_head": far_end(card.line), "rows": [_expected(row) for row in card.expected],
        "note": f"SWR refers to {card.line.impedance:g} ohm. ± is how sure the computation is; pass limits are for the antenna hung as "
        "above, with the coax choked.",
        "trim": [_trim(row, card.dip_frequency) for row in card.trim], "trim_of": f"({card.trim[0].piece})" if card.trim else "",
        "trim_note": _minus(card.trim_note), "command": card.command, "faults": [list(row) for row in card.faults],
    }  # fmt: skip


def swr_promise(evaluation: Evaluation) -> str:
    """The worst SWR over the asked bands, for the document's description."""
    return "; ".join(f"SWR {format_ratio(f.swr_worst)} or better over {_band(f.band)}" for f in evaluation.bands)
