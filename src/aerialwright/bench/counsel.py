"""What the numbers of one sweep mean together: verdict, likely cause and next cut, so that none says what another denies."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from aerialwright.base.printing import format_probability, format_ratio
from aerialwright.bench.diagnose import FAIR, Diagnosis, DiagnosisError, diagnose
from aerialwright.bench.feed_faults import middle, more_loss
from aerialwright.bench.records import BandCheck, Comparison
from aerialwright.bench.trim import TrimAdvice, TrimLog, advise
from aerialwright.design.model import Design
from aerialwright.lines.mismatch import swr_of
from aerialwright.need.model import Band

#: Causes by whose next action the sweep is not that of the antenna alone: its metal is judged after another one.
NOT_THE_ANTENNA = ("surroundings", "feed", "line", "contact")


@dataclass(frozen=True)
class Counsel:
    """What a sweep looks like and what to do with the metal.

    ``verdict``: that of the ``advice``, or ``"hold"`` where something else comes first; ``text`` says it. ``missing`` tells why there
    is no diagnosis or no advice.
    """

    diagnosis: Diagnosis | None
    advice: TrimAdvice | None
    verdict: str
    text: str
    missing: str = ""


def counsel(
    design: Design, comparison: Comparison, bands: tuple[Band, ...], *, log: TrimLog = ()
) -> tuple[Counsel, Comparison]:
    """Diagnose a compared sweep and say what to cut; returns that and the comparison with the verdict that both leave standing.

    ``log``: the rounds of this antenna before, with the cuts really made.

    Raises
    ------
    StructureError, DesignError
        If the design cannot be solved.
    """
    moved, reference = comparison.moved, comparison.reference
    try:
        found = diagnose(design, moved, bands, reference=reference)
    except DiagnosisError as fault:
        return Counsel(None, None, "", "", _without_place(fault)), comparison
    judged = _judged(comparison, found)
    try:
        advice = advise(design, moved, bands, reference=reference, limit=comparison.limit, log=log)
    except DiagnosisError as fault:
        return Counsel(found, None, "", "", _without_place(fault)), judged
    verdict, text = next_step(found, advice, comparison.accepted, judged.accepted)
    return Counsel(found, advice, verdict, text), judged


def _without_place(fault: DiagnosisError) -> str:
    return f"{fault.what}; {fault.mend}"


def _judged(c: Comparison, found: Diagnosis) -> Comparison:
    """The verdict, with what the diagnosis makes of it."""
    best = found.best
    if found.kin_probability < FAIR or c.accepted is None:
        return c
    cause = f"most likely {best.sentence} ({format_probability(best.probability)})"
    if best.cause.kin == "line" and c.accepted:
        # What was taken off is not what lies there: the SWR at the antenna is of something else.
        with_it = _with_loss(c, found)
        alone = f"Undecided: by the sweep alone it would be {c.reason[:1].lower()}{c.reason[1:]}"
        reason = f"{alone} But {cause}, which hides what the antenna sends back. {with_it}"
        bands = tuple(_undecided(band) for band in c.bands)
        return replace(c, accepted=None, bands=bands, reason=f"{reason}To do: {best.cause.action}.")
    if best.cause.kin == "nothing":
        return (
            c if c.accepted else replace(c, reason=f"{c.reason} The antenna is as designed: the design asks too much.")
        )
    return replace(c, reason=f"{c.reason} {'Nevertheless' if c.accepted else 'The cause:'} {cause}.")


def _undecided(band: BandCheck) -> BandCheck:
    text = f"{band.verdict}, if the line loses no more than was taken off"
    return replace(band, accepted=None if band.accepted else band.accepted, verdict=text)


def _with_loss(c: Comparison, found: Diagnosis) -> str:
    """The worst SWR over the bands once the fitted loss is taken off too; empty for another cause."""
    if found.best.cause.key != "loss":
        return ""
    at = c.moved.at_antenna
    inside = np.zeros(len(at.frequency), dtype=bool)
    for band in c.bands:
        inside |= (at.frequency >= band.low) & (at.frequency <= band.high)
    if not inside.any():
        return ""
    back = more_loss(np.array([found.best.value]), at.frequency[inside], middle(found.frequency))[0]
    there = float(swr_of(np.minimum(np.abs(at.reflection[inside]) / back, 0.999)).max())
    return f"With that taken off, too, the SWR at the antenna is about {format_ratio(there)} at worst. "


def next_step(found: Diagnosis, advice: TrimAdvice, kept: bool | None, accepted: bool | None) -> tuple[str, str]:
    """Verdict and words: the advice, or what comes before it. ``kept`` by the comparison alone, ``accepted`` after the diagnosis."""
    best = found.best
    sure = found.kin_probability >= FAIR
    if kept and accepted:
        text = advice.text if advice.verdict == "done" else "Leave it: the limit is kept whatever the errors."
        return "done", text
    if sure and best.cause.kin in NOT_THE_ANTENNA:
        return "hold", (
            f"Do not cut yet: {best.sentence}, and what was swept is not the antenna alone. "
            f"{best.cause.action[:1].upper()}{best.cause.action[1:]}; then sweep again."
        )
    if advice.verdict == "done":
        if kept is False:
            return (
                "hold",
                "Nothing to cut: single points are beyond the limit, their mean is not. Sweep again with averaging.",
            )
        return "done", advice.text
    if advice.verdict == "stop":
        return "stop", advice.text
    if sure and best.cause.kin == "metal":
        return (
            "hold",
            f"Do not cut yet: put right what is most likely wrong: {best.sentence}. If that has to stay: {advice.text}",
        )
    if not sure or best.cause.kin == "unlisted":
        return "hold", f"First {found.next_test}. If that settles nothing: {advice.text}"
    if best.cause.kin == "nothing":
        return advice.verdict, f"It is as designed and still not safely inside the limit. {advice.text}"
    if (best.cause.kin, advice.verdict) in (("trim", "lengthen"), ("lengthen", "cut")):
        return (
            advice.verdict,
            f"{advice.text} (This aims at the least SWR over the bands, which is not at the design's length.)",
        )
    return advice.verdict, advice.text
