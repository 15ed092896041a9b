"""Why a measured antenna differs from its design: every cause fitted by its own quantity, and how likely each is.

The posterior probability of a cause is its evidence times its prior over the sum of all (Bayes). Evidence is flattened by
:data:`FLATTENED` so that what is called nine in ten is right nine times in ten on simulated antennas
(tests/reference/make_diagnosis.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from aerialwright.base.errors import AerialwrightError
from aerialwright.base.printing import format_frequency_range, format_probability
from aerialwright.bench.causes import Cause
from aerialwright.bench.evidence import (
    HAND_HELD,
    Fit,
    Instrument,
    Likelihood,
    Observed,
    Passage,
    binned,
    fitted,
    starts,
)
from aerialwright.bench.faults import causes
from aerialwright.bench.plane import INSTRUMENT_ERROR
from aerialwright.bench.read_sweep import renormalised, turned_radius
from aerialwright.bench.records import Moved
from aerialwright.bench.responses import Responses, responses, view
from aerialwright.design.model import Design
from aerialwright.need.model import Band
from aerialwright.solution.records import ComplexArray, FloatArray

#: Points that a sweep is brought to.
MOST_POINTS = 40
#: Fewest readings inside the window, and the part of the bands' span they must cover.
FEWEST_POINTS = 7
#: Evidence counts to this power: models leave things out that the errors of the instrument do not hold.
FLATTENED = 0.6
#: Probability from which a cause is called, and below which the second one is too close to tell.
HIGH, FAIR = 0.9, 0.6
#: Mean square misfit, against what is expected, from which a cause does not fit: it may be the nearest, but is not called with high
#: confidence.
NO_FIT = 3.0


class DiagnosisError(AerialwrightError):
    """A sweep that says nothing about this design."""


@dataclass(frozen=True)
class Finding:
    """One cause after its fit.

    ``probability`` 0..1; ``value`` with ``spread`` (one standard deviation) of its own quantity in SI; ``sentence`` says it in
    people's units; ``reflection`` (n,) it would give at the diagnosis' frequencies; ``misfit`` is the mean square of what is left
    over what was expected (about 1 or less: it fits).
    """

    cause: Cause
    probability: float
    value: float
    spread: float
    sentence: str
    reflection: ComplexArray
    misfit: float


@dataclass(frozen=True)
class Diagnosis:
    """Causes, most likely first, at ``frequency`` (n,) [Hz] with what was ``measured`` and ``designed`` (n,) there.

    ``confidence``: ``"high"``, ``"fair"`` or ``"low"`` in the best cause; ``kin_probability`` that it or another cause with the same
    next action is right. ``next_test`` tells the two best apart.
    """

    frequency: FloatArray
    measured: ComplexArray
    designed: ComplexArray
    findings: tuple[Finding, ...]
    confidence: str
    kin_probability: float
    action: str
    next_test: str
    reading: str

    @property
    def best(self) -> Finding:
        """The most likely cause."""
        return self.findings[0]

    @property
    def runner_up(self) -> Finding:
        """The second most likely cause."""
        return self.findings[1]


def observed(moved: Moved, found: Responses) -> Observed:
    """The sweep at the antenna inside the window of a design, brought to few points against the design's reference.

    Raises
    ------
    DiagnosisError
        If the plane could not be moved, or too little of the sweep lies in the window.
    SweepError
        If it refers to another impedance and has no phase.
    """
    sweep = moved.at_antenna
    if moved.refused:
        raise DiagnosisError(moved.refused, where=sweep.origin, mend="sweep at the antenna, or through less cable")
    low, high = float(found.frequency[0]), float(found.frequency[-1])
    inside = (sweep.frequency >= low) & (sweep.frequency <= high) & np.isfinite(sweep.reflection)
    if int(inside.sum()) < FEWEST_POINTS:
        raise DiagnosisError(
            f"only {int(inside.sum())} readings lie in {format_frequency_range(low, high)}",
            where=sweep.origin,
            mend=f"sweep that range with at least {FEWEST_POINTS} points",
        )
    doubt = turned_radius(moved.uncertainty, sweep.reflection, old=sweep.reference, new=found.reference)[inside]
    turned = renormalised(sweep, reference=found.reference).reflection[inside]
    passage = _passage(moved, turned, doubt, inside)
    if passage is not None:
        doubt = np.zeros(len(doubt))
    seen = binned(sweep.frequency[inside], turned, doubt, phase_known=sweep.phase_known, most=MOST_POINTS)
    return replace(seen, passage=passage)


def _passage(moved: Moved, value: ComplexArray, doubt: FloatArray, inside: NDArray[np.bool_]) -> Passage | None:
    """What the line that was taken off did, None for none. ``doubt`` (n,) of ``value`` (n,) is the instrument's error, grown, and
    the line's own."""
    if not moved.delay > HAND_HELD.turn:
        return None
    gain = float(np.median(10.0 ** (moved.loss[inside] / 10.0)))
    own = np.maximum(doubt - INSTRUMENT_ERROR * gain, 0.0) / np.maximum(np.abs(value), INSTRUMENT_ERROR)
    return Passage(moved.delay, gain, float(np.median(own)))


def diagnose(
    design: Design, moved: Moved, bands: tuple[Band, ...], *, reference: float, instrument: Instrument = HAND_HELD
) -> Diagnosis:
    """Rank the causes of what was measured. The first call for a design solves it (seconds); later ones take a fraction of one.

    ``bands`` set the window that is looked at, ``reference`` [ohm] is the line's impedance.

    Raises
    ------
    DiagnosisError
        If the sweep says nothing about this design.
    StructureError, DesignError
        If the design cannot be solved.
    """
    found = responses(design, bands, reference=reference)
    seen = observed(moved, found)
    near = view(found, seen.frequency)
    likelihood, begun, base = Likelihood(seen, instrument), starts(near), near.base
    # A plane that is off turns a reflection and leaves its size: without phase it cannot be seen.
    every = tuple(
        cause for cause in causes(near, delay=max(moved.delay, 0.0)) if seen.phase_known or cause.key != "plane"
    )
    fits = [[fitted(branch, likelihood, begun, base) for branch in cause.branches] for cause in every]
    return ranked(seen, base, every, fits)


def ranked(seen: Observed, base: ComplexArray, every: tuple[Cause, ...], fits: list[list[Fit]]) -> Diagnosis:
    """Probabilities from evidence, and what to say and do."""
    log = np.array([_evidence(cause, parts) for cause, parts in zip(every, fits, strict=True)])
    # Where nothing fits to what is expected of the errors, they were larger than expected: evidence counts less by as much.
    missed = max(1.0, min(fit.misfit for parts in fits for fit in parts))
    share = np.exp(FLATTENED / missed * (log - log.max()))
    share /= share.sum()
    findings = []
    for cause, parts, probability in zip(every, fits, share, strict=True):
        top = max(parts, key=lambda fit: fit.evidence + math.log(fit.branch.share))
        sentence = top.branch.say(top.value)
        findings.append(Finding(cause, float(probability), top.value, top.spread, sentence, top.reflection, top.misfit))
    findings.sort(key=lambda finding: -finding.probability)
    best, second = findings[0], findings[1]
    kin = sum(finding.probability for finding in findings if finding.cause.kin == best.cause.kin)
    confidence = _confidence(best)
    next_test = second.cause.test if best.cause.key in ("nothing", "unlisted") else best.cause.test
    return Diagnosis(
        seen.frequency, seen.reflection, base, tuple(findings), confidence, float(kin), best.cause.action, next_test,
        _reading(best, second, confidence, kin, next_test),
    )  # fmt: skip


def _confidence(best: Finding) -> str:
    """A cause that does not fit is at most fairly sure, and none of the known causes is no answer."""
    if best.cause.key == "unlisted" or best.probability < FAIR:
        return "low"
    return "high" if best.probability >= HIGH and best.misfit < NO_FIT else "fair"


def _evidence(cause: Cause, parts: list[Fit]) -> float:
    terms = [fit.evidence + math.log(fit.branch.share) for fit in parts]
    return float(np.logaddexp.reduce(terms)) + math.log(cause.prior)


def _reading(best: Finding, second: Finding, confidence: str, kin: float, next_test: str) -> str:
    """Two or three sentences from the numbers."""
    percent, other = format_probability(best.probability), format_probability(second.probability)
    if best.cause.key == "unlisted":
        return f"{best.sentence[0].upper()}{best.sentence[1:]} ({percent}); nearest: {second.sentence}. {best.cause.action.capitalize()}."
    if confidence == "high":
        return f"{best.sentence[0].upper()}{best.sentence[1:]} ({percent}). To do: {best.cause.action}."
    if confidence == "fair":
        return (
            f"Most likely {best.sentence} ({percent}); else {second.sentence} ({other}). "
            f"To make sure: {next_test}. Then: {best.cause.action}."
        )
    text = f"Cannot tell apart: {best.sentence} ({percent}), or {second.sentence} ({other}). Do this next: {next_test}."
    if best.cause.kin == second.cause.kin and kin >= HIGH:
        text += f" Both call for the same: {best.cause.action}."
    return text
