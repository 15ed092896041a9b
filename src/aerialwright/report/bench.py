"""The bench report: a measured sweep on the prediction of its antenna, as text and as one HTML page without network or script."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from aerialwright import __version__
from aerialwright.base.printing import (
    UNKNOWN,
    format_decibel,
    format_frequency,
    format_frequency_range,
    format_probability,
    format_ratio,
)
from aerialwright.bench.counsel import Counsel
from aerialwright.bench.diagnose import Diagnosis, Finding
from aerialwright.bench.records import BandCheck, Comparison, Mark
from aerialwright.need.model import Need
from aerialwright.report import wording
from aerialwright.report.answer import one_line, paragraph, text_table
from aerialwright.report.html import template
from aerialwright.solution.figures.chances import chance_bars
from aerialwright.solution.figures.overlay import Trace, impedance_overlay, smith_overlay, swr_overlay
from aerialwright.solution.figures.palette import style_variables

#: Causes that are shown at most, and the least likely of those after the second.
MOST_CAUSES, LEAST_SHOWN = 4, 0.02


@dataclass(frozen=True)
class BenchPage:
    """What a bench report tells besides the comparison: of which antenna and sweep, when, at which plane, the person's note; what it
    looks like and what to cut, the ``work`` done so far, and what the build sheet calls the ``design``."""

    need: Need
    antenna: str
    sweep: str
    date: str
    plane: str
    note: str
    comparison: Comparison
    counsel: Counsel | None = None
    work: tuple[str, ...] = ()
    design: str = ""


@dataclass(frozen=True)
class MarkLine:
    """A mark as texts."""

    label: str
    measured: str
    predicted: str
    difference: str
    beyond: bool


def mark_lines(comparison: Comparison) -> list[MarkLine]:
    """The marks, each number with its error in the digits that the error leaves."""
    return [
        MarkLine(
            mark.label, _with_error(mark.measured, mark.measured_error, mark),
            _with_error(mark.predicted, mark.predicted_error, mark), _difference(mark), mark.differs,
        )
        for mark in comparison.marks
    ]  # fmt: skip


def _with_error(value: float | None, error: float, mark: Mark) -> str:
    if value is None:
        return "not in the sweep" if np.isfinite(error) else UNKNOWN
    if not mark.unit:
        return f"{format_ratio(value)} +/- {error:.2f}"
    digits = 3 if error < 5e4 else 2 if error < 5e5 else 1
    return f"{value / 1e6:.{digits}f} +/- {error / 1e6:.{digits}f} MHz"


def _difference(mark: Mark) -> str:
    if mark.difference is None or mark.predicted is None:
        return ""
    if not mark.unit:
        return f"{mark.difference:+.2f}"
    return f"{mark.difference / 1e6:+.2f} MHz ({100 * mark.difference / mark.predicted:+.1f} %)"


def _swr(value: float | None) -> str:
    return UNKNOWN if value is None else format_ratio(value)


def swr_with_error(check: BandCheck) -> str:
    """'1.85 (1.80 to 1.90)'."""
    if check.swr is None:
        return UNKNOWN
    return f"{_swr(check.swr)} ({_swr(check.swr_low)} to {_swr(check.swr_high)})"


def plane_lines(comparison: Comparison) -> list[str]:
    """What lies between instrument and antenna, and both planes in a sentence."""
    moved = comparison.moved
    lines = list(moved.notes)
    if moved.refused:
        return [*lines, moved.refused]
    if float(moved.loss.max()) > 0.0 or moved.delay:
        here, there = moved.at_instrument.swr, moved.at_antenna.swr
        k = int(np.argmin(there))
        at = format_frequency(float(moved.at_antenna.frequency[k]))
        lines.append(
            f"at {at}, where the antenna is best, the SWR is {format_ratio(float(there[k]))} at the antenna and "
            f"{format_ratio(float(here[k]))} at the instrument; the line loses {format_decibel(float(moved.loss[k]))} there"
        )
    return lines


def repair_lines(comparison: Comparison) -> list[str]:
    """What reading had to put right."""
    repairs = comparison.moved.at_instrument.repairs
    return [f"{repair.where}: {repair.what}" if repair.where else repair.what for repair in repairs]


def likely(found: Diagnosis) -> list[Finding]:
    """The causes worth showing: the first, the runner-up, and up to two more that are not far-fetched."""
    return [*found.findings[:2], *(one for one in found.findings[2:MOST_CAUSES] if one.probability >= LEAST_SHOWN)]


def looks_like(counsel: Counsel) -> list[str]:
    """Reading, and the test that tells the first two causes apart where the reading leaves it out."""
    found = counsel.diagnosis
    if found is None:
        return [f"No diagnosis: {counsel.missing}."]
    return [found.reading, *([] if found.next_test in found.reading else [f"To make sure: {found.next_test}."])]


def what_to_cut(counsel: Counsel) -> str:
    """The advice in words, or why there is none."""
    return counsel.text or f"No advice: {counsel.missing}."


def _counsel_text(page: BenchPage) -> list[str]:
    if page.counsel is None:
        return []
    found = page.counsel.diagnosis
    lines = ["WHAT IT LOOKS LIKE", *(paragraph(text) for text in looks_like(page.counsel))]
    if found is not None:
        lines += [paragraph(one.sentence, f"  {format_probability(one.probability):>6}  ") for one in likely(found)]
    lines += ["", "WHAT TO CUT", paragraph(what_to_cut(page.counsel))]
    if page.work:
        lines += ["", "TRIM LOG", *(paragraph(text, "- ") for text in page.work)]
    return [*lines, ""]


def render_bench_text(page: BenchPage) -> str:
    """The report for a terminal, at most 78 columns where words can be wrapped."""
    c = page.comparison
    lines = [
        paragraph(f"{page.antenna}, sweep {page.sweep} of {page.date}").upper()
        + (f"\ndesign {page.design}" if page.design else ""),
        "",
        paragraph(one_line(c.reason)),
        "",
        *_counsel_text(page),
    ]
    rows: list[tuple[str, ...]] = [("", "measured", "predicted", "difference")]
    rows += [(m.label, m.measured, m.predicted, m.difference + (" *" if m.beyond else "")) for m in mark_lines(c)]
    if len(rows) > 1:
        lines += ["AT THE ANTENNA (* more than both errors explain)", *text_table(rows), ""]
    bands: list[tuple[str, ...]] = [("band", "measured SWR (could be)", "predicted", "at receiver", "asked", "")]
    bands += [
        (
            f"{one_line(b.label)} {format_frequency_range(b.low, b.high)}", swr_with_error(b), _swr(b.predicted), _swr(b.swr_receiver),
            f"{b.limit:g}", _word(b.accepted),
        )
        for b in c.bands
    ]  # fmt: skip
    lines += ["WORST OVER EACH BAND", *text_table(bands), ""]
    for heading, texts in (
        ("PLANE", [f"measured {page.plane}", *plane_lines(c)]), ("HOW SURE", list(c.notes)), ("PUT RIGHT", repair_lines(c)),
        ("NOTE", [page.note] if page.note else []),
    ):  # fmt: skip
        if texts:
            lines += [heading, *(paragraph(text, "- ") for text in texts), ""]
    return "\n".join(lines) + "\n"


def _word(accepted: bool | None) -> str:
    return "undecided" if accepted is None else "kept" if accepted else "missed"


def traces(comparison: Comparison) -> list[Trace]:
    """Measured first, predicted second; the sweep at the instrument third where it differs."""
    c, moved = comparison, comparison.moved
    known = moved.at_antenna.phase_known
    out = (
        []
        if moved.refused
        else [Trace("measured, at the antenna", c.frequency, c.measured, c.measured_error, 0, known)]
    )
    out.append(Trace("predicted", c.frequency, c.predicted, c.predicted_error, 1))
    if moved.at_instrument is not moved.at_antenna or moved.refused:
        there = moved.at_instrument
        inside = (there.frequency >= c.frequency[0]) & (there.frequency <= c.frequency[-1])
        count = int(inside.sum())
        out.append(
            Trace(
                "measured, at the instrument",
                there.frequency[inside],
                there.reflection[inside],
                np.zeros(count),
                2,
                there.phase_known,
            )
        )
    return out


def _fit_pictures(page: BenchPage) -> dict[str, str]:
    """Chances of the causes, and the best one's curve over the measured one; none without a diagnosis."""
    found = None if page.counsel is None else page.counsel.diagnosis
    if found is None:
        return {}
    c, best = page.comparison, found.best
    measured = [trace for trace in traces(c) if trace.place == 0]
    fitted = Trace(f"fitted: {best.cause.title}", found.frequency, best.reflection, np.zeros(len(found.frequency)), 3)
    return {
        "chances": chance_bars([(one.sentence, one.probability) for one in likely(found)]),
        "fitted": swr_overlay([*measured, fitted], page.need.bands, c.limit),
    }


def render_bench(page: BenchPage) -> str:
    """The report as one HTML page."""
    from markupsafe import Markup

    c = page.comparison
    shown, bands = traces(c), page.need.bands
    turning = [trace for trace in shown if trace.place < 2]
    pictures = {
        "swr": Markup(swr_overlay(shown, bands, c.limit)),
        "smith": Markup(smith_overlay(turning, bands, c.reference, c.limit)),
        "resistance": Markup(impedance_overlay(turning, bands, c.reference, reactance=False)),
        "reactance": Markup(impedance_overlay(turning, bands, c.reference, reactance=True)),
        **{key: Markup(picture) for key, picture in _fit_pictures(page).items()},
    }
    words: dict[str, Any] = {
        "page": page, "need": page.need, "comparison": c, "pictures": pictures, "marks": mark_lines(c), "repairs": repair_lines(c),
        "plane": plane_lines(c), "version": __version__, "feed_line": wording.feed_line, "band_range": wording.band_range,
        "span": format_frequency_range, "swr": _swr, "swr_with_error": swr_with_error, "word": _word,
        "looks_like": [] if page.counsel is None else looks_like(page.counsel),
        "what_to_cut": "" if page.counsel is None else what_to_cut(page.counsel),
        "light": Markup(style_variables(dark=False)), "dark": Markup(style_variables(dark=True)),
    }  # fmt: skip
    return template("bench.html.j2").render(**words)
