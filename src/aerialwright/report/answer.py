"""The answer as plain text, for a terminal or a mail: the same words and numbers as the report's first page."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from aerialwright.air.reception import Decoding, readings
from aerialwright.base.printing import format_angle, format_frequency_range, format_length
from aerialwright.design.records import Comparison, Evaluation
from aerialwright.report import wording
from aerialwright.report.decoding import lines as decoding_lines
from aerialwright.solution.svg import FigureError

WIDTH = 78


def paragraph(text: str, indent: str = "") -> str:
    """Text wrapped for a terminal, its first line after ``indent``."""
    return textwrap.fill(one_line(text), WIDTH, initial_indent=indent, subsequent_indent=" " * len(indent))


def one_line(text: str) -> str:
    """Text from a file made safe for a terminal: no control characters, no line breaks."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def text_table(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows as lines with their columns aligned."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return ["  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths)).rstrip() for row in rows]


def render_answer_text(comparison: Comparison, decoding: Decoding | None = None) -> str:
    """The first page of the report as plain text, at most 78 columns where words can be wrapped."""
    lines = [paragraph(comparison.need.title).upper(), "", paragraph(wording.headline(comparison)), ""]
    if not comparison.proposals:
        lines += [paragraph(f"{one_line(name)}: {why}", "- ") for name, why in comparison.refused]
        return "\n".join(lines) + "\n"
    best = comparison.proposals[0]
    if not best.members:
        raise FigureError("a proposal without an antenna cannot be reported", where=best.key)
    lines += [paragraph(wording.reason(best)), ""]
    for member in best.members:
        evaluation = member.evaluation
        lines.append(paragraph(f"SIZES: {evaluation.title}, {wording.overall(evaluation)}"))
        rows = [
            (row.letter, one_line(row.label), row.main, row.inches, one_line(row.datum))
            for row in wording.size_lines(evaluation.dimensions)
        ]
        lines += [*text_table(rows), ""] if rows else [""]
    lines.append("WHAT TO EXPECT (worst over each band; in brackets how sure the computation is)")
    head = ("band", "SWR at antenna", "SWR at receiver", "gain there")
    lines += text_table([head] + [
        (f"{one_line(row.band)} {row.span}" + (" (wish)" if row.wish else ""), f"{row.swr_antenna} ({row.swr_error})",
         row.swr_receiver, row.gain)
        for row in wording.expectation(comparison.need, best)
    ])  # fmt: skip
    lines += [paragraph(text) for text in wording.after_connector(comparison.need, best)]
    lines.append("")
    if decoding is not None:
        lines += _decoding_text(comparison, decoding)
    for member in best.members:
        evaluation = member.evaluation
        if evaluation.cover is not None:
            lines += [paragraph(f"IN THE PIPE: {wording.in_the_pipe(evaluation.cover)}"), ""]
        if evaluation.common_mode is not None:
            lines += [paragraph(f"DOES THE COAX RADIATE? {evaluation.common_mode.reading}"), ""]
    lines += [paragraph(f"WHAT WOULD HELP? {found.reading}") for found in wording.hearings(comparison.need, best)] + [
        ""
    ]
    second = wording.runner_up(comparison)
    if second is not None:
        lines += [paragraph(f"RUNNER-UP: {second.title}. {second.verdict}")]
    if best.gives_up:
        lines += ["With the recommendation you give up:", *(paragraph(text, "- ") for text in best.gives_up)]
    missing = [text for member in best.members for text in member.evaluation.missing]
    if missing:
        lines += ["", "TO BUY (metal that the shelf does not hold)", *(paragraph(text, "- ") for text in missing)]
    lines += ["", "SAFETY"]
    lines += [paragraph(f"{caution.name}: {caution.text}", "- ") for caution in wording.safety(comparison)]
    lines += ["", one_line(f"aerialwright {comparison.version}, {comparison.made}")]
    return "\n".join(lines) + "\n"


def _decoding_text(comparison: Comparison, found: Decoding) -> list[str]:
    """Minutes of a satellite a day, candidates times sites."""
    out = ["WILL IT DECODE?", *(paragraph(text) for text in readings(comparison.need, found))]
    head = ("antenna", "site", "min/day", "-3 dB", "+3 dB", "passes/day")
    rows = [(r.antenna, one_line(r.site), r.minutes, r.weaker, r.stronger, r.passes) for r in decoding_lines(found)]
    out += text_table([head, *rows])
    out += [paragraph(f"{c.text}; {c.remedy}" if c.remedy else c.text, "! ") for c in found.heavens.cautions]
    return [*out, ""]


def render_sizes_text(evaluation: Evaluation) -> str:
    """One sized antenna: dimensions with their datums, cut list, what to expect and how far to trust it."""
    check = evaluation.sweep.check
    lines = [one_line(evaluation.title).upper(), ""]
    rows = [("dimension", "mm", "inch", "datum")]
    for d in evaluation.dimensions:
        first, second = _both(d.value, d.kind, d.step)
        rows.append((d.label, first, second, d.datum))
    lines += text_table(rows)
    lines += ["", "cut list"]
    cuts: list[tuple[str, ...]] = [("piece", "number", "cut to", "inch", "of")]
    for piece in evaluation.pieces:
        cut = piece.cut_length
        first, second = ("", "") if cut is None else _both(cut, "length", 1e-3)
        of = piece.material if piece.diameter is None else f"{piece.material} {format_length(piece.diameter)}"
        cuts.append((piece.name, str(piece.quantity), first, second, of))
    lines += text_table(cuts)
    lines += ["", "what to expect at the antenna"]
    for f in evaluation.bands:
        lines.append(
            f"  {format_frequency_range(f.band.low, f.band.high)}: SWR {f.swr_typical:.2f} typical, {f.swr_worst:.2f} worst; "
            f"{f.gain_mean:+.1f} dBi toward 0-10 degrees"
        )
    lines += ["", paragraph(
        f"Self-checks: power balance {100 * check.power_balance:.2f} %, finer solve differs {100 * check.discretisation:.2f} %, "
        f"{check.solves} solves of {check.unknowns} unknowns."
    )]  # fmt: skip
    lines += [paragraph(text, "- ") for text in evaluation.assumptions]
    lines += [paragraph(f"{c.text}; {c.remedy}" if c.remedy else c.text, "! ") for c in evaluation.cautions]
    return "\n".join(lines) + "\n"


def _both(value: float, kind: str, step: float) -> tuple[str, str]:
    if kind == "length":
        return format_length(value, step=step), format_length(value, system="in")
    return (format_angle(value), "") if kind == "angle" else (f"{value:.0f}", "")
