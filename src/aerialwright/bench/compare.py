"""A measured sweep against the prediction of its design: resonance, lowest SWR, edges of the band, and whether it is good enough.

Every number carries its error on both sides: of the measurement what the instrument and the moved plane leave unknown, of the
prediction what the engine states of itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from aerialwright.base.constants import c
from aerialwright.base.printing import format_frequency, format_frequency_range, format_ratio
from aerialwright.bench.read_sweep import renormalised, turned_radius
from aerialwright.bench.records import BandCheck, Comparison, Mark, Measured, Moved
from aerialwright.bench.text import SweepError
from aerialwright.lines.line import Line, line_from_need
from aerialwright.lines.mismatch import impedance_of, reflection, reflection_of_swr, swr_of
from aerialwright.lines.section import Section, behind
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import ComplexArray, FloatArray, Sweep

#: Fewest points inside the computed range that can be compared.
FEWEST_POINTS = 5
#: Half width of the window, as a part of the frequency, over which a curve counts as a parabola.
_WINDOW = 0.02

#: A curve with its doubt: reflection (n,) and its radius (n,).
_Curve = tuple[ComplexArray, FloatArray]


def compare(
    moved: Moved, predicted: Sweep, *, need: Need, bands: Sequence[Band] = (), sections: tuple[Section, ...] = ()
) -> Comparison:
    """Compare at the antenna, and judge against the SWR that ``need`` allows over ``bands`` (its must-bands without them).

    ``predicted`` at the aperture; ``sections`` is what the connector puts between that and the plane of the measurement.

    Raises
    ------
    SweepError
        If the sweep lies outside what was computed, or refers to another impedance than the feed line and has no phase.
    """
    line = line_from_need(need.feed_lines[0])
    reference = line.impedance
    at = renormalised(moved.at_antenna, reference=reference)
    doubt = turned_radius(moved.uncertainty, moved.at_antenna.reflection, old=moved.at_antenna.reference, new=reference)
    inside = (at.frequency >= predicted.frequency[0] * (1 - 1e-9)) & (
        at.frequency <= predicted.frequency[-1] * (1 + 1e-9)
    )
    if int(inside.sum()) < FEWEST_POINTS:
        raise SweepError(
            f"has {int(inside.sum())} points between {format_frequency(float(predicted.frequency[0]))} and "
            f"{format_frequency(float(predicted.frequency[-1]))}, where the antenna was computed",
            where=at.origin, mend="sweep the asked bands and a tenth around them with 101 points",
        )  # fmt: skip
    f = at.frequency[inside]
    computed = _predicted(predicted, f, reference, sections)
    seen: _Curve = (at.reflection[inside], doubt[inside])
    limit = need.limits.worst_swr
    marks = () if moved.refused else _marks(f, seen, computed, reference, limit, known=at.phase_known)
    asked = tuple(bands) or need.must_bands
    checks = tuple(
        _check(band, moved, (at, doubt), (f, computed), line=line, receiver=need.receiver_impedance, limit=limit)
        for band in asked
    )
    accepted = _all([check.accepted for check in checks])
    return Comparison(
        moved=moved, frequency=f, measured=seen[0], measured_error=seen[1], predicted=computed[0], predicted_error=computed[1],
        reference=reference, limit=limit, marks=marks, bands=checks, accepted=accepted, reason=_reason(moved, checks, accepted, limit),
        notes=() if moved.refused else _notes(moved, seen, computed, known=at.phase_known),
    )  # fmt: skip


def _all(verdicts: Sequence[bool | None]) -> bool | None:
    """False if one is; else None if one is."""
    return False if False in verdicts else None if None in verdicts else True


def _predicted(sweep: Sweep, f: FloatArray, reference: float, sections: tuple[Section, ...]) -> _Curve:
    """Prediction at the frequencies of the measurement, behind the connector."""
    z, error = sweep.impedance, sweep.impedance_error
    if len(f) != len(sweep.frequency) or not np.array_equal(f, sweep.frequency):
        from scipy.interpolate import CubicSpline

        z = CubicSpline(sweep.frequency, z)(f)
        error = np.interp(f, sweep.frequency, error)
    bare = reflection(z, reference=reference)
    # A disc of radius e round Z: first order, e |1 - r| / |Z + Z0|. A connector without loss turns it and hardly changes its size.
    radius = error * np.abs(1.0 - bare) / np.abs(z + reference)
    return reflection(behind(sections, load=z, frequency=f), reference=reference), radius


# ---- marks


def _marks(
    f: FloatArray, seen: _Curve, computed: _Curve, reference: float, limit: float, *, known: bool
) -> tuple[Mark, ...]:
    rows = []
    lowest = [_minimum(f, *curve) for curve in (seen, computed)]
    places = [place for place, _, _, _ in lowest]
    resonance = [
        _resonance(f, *curve, reference=reference, near=near) if ok else (None, np.inf)
        for curve, near, ok in zip((seen, computed), places, (known, True), strict=True)
    ]
    edges = [_edges(f, *curve, limit=limit, around=near) for curve, near in zip((seen, computed), places, strict=True)]
    rows.append(("resonance", "resonance (X = 0)", "Hz", resonance[0], resonance[1]))
    rows.append(("minimum", "lowest SWR at", "Hz", lowest[0][:2], lowest[1][:2]))
    rows.append(("minimum_swr", "lowest SWR", "", lowest[0][2:], lowest[1][2:]))
    for k, (key, word) in enumerate((("low_edge", "lower"), ("high_edge", "upper"))):
        rows.append((key, f"{word} edge of SWR {limit:g}", "Hz", edges[0][k], edges[1][k]))
    return tuple(Mark(key, label, unit, *ours, *theirs) for key, label, unit, ours, theirs in rows)


def _minimum(f: FloatArray, value: ComplexArray, error: FloatArray) -> tuple[float, float, float, float]:
    """Frequency of the lowest SWR, its error, that SWR, its error; the vertex of a parabola through ``|r|^2``."""
    power = np.abs(value) ** 2
    best = int(np.argmin(power))
    place, bend, low = float(f[best]), 0.0, float(power[best])
    if 0 < best < len(f) - 1:
        near = _near(f, place)
        x = (f[near] - place) / place
        bend, slope, rest = np.polyfit(x, power[near], 2)
        if bend > 0.0 and x[0] <= -0.5 * slope / bend <= x[-1]:
            place *= 1.0 - 0.5 * float(slope / bend)
            low = max(float(rest - 0.25 * slope**2 / bend), 0.0)
    doubt, step = float(error[best]), float(np.diff(f).min())
    # Round its lowest point the reflection runs straight through the plane: |r|^2 bends by the square of its speed.
    error_hz = max(doubt / np.sqrt(bend) * place if bend > 0.0 else 0.0, 0.5 * step)
    size = np.sqrt(low)
    spread = swr_of(np.array([max(size - doubt, 0.0), size, min(size + doubt, 0.999)]))
    return place, float(error_hz), float(spread[1]), float(0.5 * (spread[2] - spread[0]))


def _near(f: FloatArray, place: float) -> NDArray[np.intp]:
    """Indices of the points in the window round ``place``, at least five."""
    close = np.flatnonzero(np.abs(f - place) <= _WINDOW * place)
    if len(close) >= FEWEST_POINTS:
        return close
    return np.sort(np.argsort(np.abs(f - place))[:FEWEST_POINTS])


def _resonance(
    f: FloatArray, value: ComplexArray, error: FloatArray, *, reference: float, near: float
) -> tuple[float | None, float]:
    """Frequency where X passes zero, the crossing closest to the lowest SWR, and its error."""
    with np.errstate(invalid="ignore"):
        z = impedance_of(value, reference=reference)
    x = z.imag
    crossed = np.flatnonzero((np.signbit(x[:-1]) != np.signbit(x[1:])) & (np.abs(z[:-1]) < 1e3 * reference))
    if not len(crossed):
        return None, 0.0
    k = int(crossed[np.argmin(np.abs(f[crossed] - near))])
    start = float(f[k] + (f[k + 1] - f[k]) * x[k] / (x[k] - x[k + 1]))
    close = _near(f, start)
    slope, at = np.polyfit(f[close] - start, x[close], 1)
    place = start - at / slope if slope and abs(at / slope) <= _WINDOW * start else start
    doubt = float(error[k] * np.abs(z[k] + reference) ** 2 / (2.0 * reference))
    return float(place), max(abs(doubt / slope) if slope else 0.0, 0.5 * float(f[k + 1] - f[k]))


def _edges(
    f: FloatArray, value: ComplexArray, error: FloatArray, *, limit: float, around: float
) -> tuple[tuple[float | None, float], tuple[float | None, float]]:
    """Edges of the band within the limit round the lowest SWR, each with its error; None where the sweep ends first."""
    size = np.abs(value)
    excess = size - float(reflection_of_swr(limit))
    best = int(np.argmin(np.abs(f - around)))
    out: list[tuple[float | None, float]] = []
    for step in (-1, 1):
        k = best
        while 0 <= k + step < len(f) and excess[k] <= 0.0:
            k += step
        if excess[best] > 0.0 or excess[k] <= 0.0:
            out.append((None, 0.0))
            continue
        inner = k - step
        part = excess[inner] / (excess[inner] - excess[k])
        place = float(f[inner] + part * (f[k] - f[inner]))
        close = _near(f, place)
        slope = abs(float(np.polyfit(f[close] - place, size[close], 1)[0]))
        gap = 0.5 * abs(float(f[k] - f[inner]))
        out.append((place, max(float(error[inner]) / slope if slope > 0.0 else 0.0, gap)))
    return out[0], out[1]


# ---- good enough or not


def _check(
    band: Band,
    moved: Moved,
    seen: tuple[Measured, FloatArray],
    computed: tuple[FloatArray, _Curve],
    *,
    line: Line,
    receiver: float,
    limit: float,
) -> BandCheck:
    at, doubts = seen
    f = at.frequency
    step = float(np.diff(f).max()) if len(f) > 1 else 0.0
    covered = bool(f[0] <= band.low + 0.51 * step and f[-1] >= band.high - 0.51 * step)
    marks = np.unique(
        np.concatenate([f[(f >= band.low) & (f <= band.high)], np.clip([band.low, band.high], f[0], f[-1])])
    )
    touched = bool(f[0] <= band.high and f[-1] >= band.low)
    g, (theirs, _) = computed
    predicted = None
    if g[0] <= band.low + step and g[-1] >= band.high - step:
        predicted = float(swr_of(np.interp(marks, g, np.abs(theirs)).max()))
    end = _at_receiver(moved, at, line, receiver)
    swr_receiver = None if end is None or not touched else float(swr_of(np.interp(marks, f, np.abs(end)).max()))
    judged = partial(BandCheck, band.label, band.low, band.high, limit, covered)
    if moved.refused or not touched:
        verdict = "the SWR at the antenna cannot be told" if touched else "the sweep does not reach this band"
        return judged(
            swr=None, swr_low=None, swr_high=None, at=None, swr_receiver=swr_receiver, predicted=predicted,
            verdict=verdict, accepted=None,
        )  # fmt: skip
    size, doubt = np.interp(marks, f, np.abs(at.reflection)), np.interp(marks, f, doubts)
    worst = int(np.argmax(size))
    low, high = swr_of(max(float((size - doubt).max()), 0.0)), swr_of(min(float((size + doubt).max()), 0.999))
    found = float(swr_of(size[worst]))
    accepted: bool | None = None
    if float(low) > limit:
        accepted = False
    elif float(high) <= limit and covered:
        accepted = True
    span = f"{format_ratio(float(low))} to {format_ratio(float(high))}"
    verdict = (
        f"SWR {format_ratio(found)} at {format_frequency(float(marks[worst]))}, more than {limit:g} even if all errors help"
        if accepted is False
        else f"SWR {format_ratio(found)} at worst, within {limit:g} whatever the errors"
        if accepted
        else f"SWR {format_ratio(found)} at worst, but the sweep covers only part of the band"
        if not covered
        else f"SWR {format_ratio(found)} at worst; with its error it is {span}, on both sides of {limit:g}"
    )
    return judged(
        swr=found, swr_low=float(low), swr_high=float(high), at=float(marks[worst]), swr_receiver=swr_receiver,
        predicted=predicted, verdict=verdict, accepted=accepted,
    )  # fmt: skip


def _at_receiver(moved: Moved, at: Measured, line: Line, receiver: float) -> ComplexArray | None:
    """Reflection (n,) a receiver sees: as swept where the line removed was the feed line itself, else computed through it."""
    seen = moved.at_instrument
    whole = line.length / (line.velocity_factor * c)
    if moved.refused or abs(moved.delay - whole) < 0.05 * whole:
        if seen.reference == receiver:
            return seen.reflection
        return renormalised(seen, reference=receiver).reflection if seen.phase_known else None
    if receiver == line.impedance:
        return at.reflection * 10.0 ** (-line.loss_db(at.frequency) / 10.0)
    if not at.phase_known:
        return None
    load = impedance_of(at.reflection, reference=line.impedance)
    return reflection(line.through(load, frequency=at.frequency), reference=receiver)


def _reason(moved: Moved, checks: Sequence[BandCheck], accepted: bool | None, limit: float) -> str:
    """One sentence: accepted, not accepted or undecided, and why."""
    if moved.refused:
        seen = [check.swr_receiver for check in checks if check.swr_receiver is not None]
        shown = f"; at the receiver end the SWR is {format_ratio(max(seen))} at worst" if seen else ""
        return f"Undecided: {moved.refused}{shown}."
    if accepted:
        worst = max((check for check in checks if check.swr is not None), key=lambda check: check.swr or 0.0)
        return (
            f"Accepted: the SWR at the antenna is {format_ratio(worst.swr or 0.0)} at worst ({worst.label}), asked is "
            f"{limit:g} or less{_at_the_end(worst)}."
        )
    culprits = [check for check in checks if check.accepted is accepted]
    culprit = culprits[0] if accepted is None else max(culprits, key=lambda check: check.swr or 0.0)
    word = "Undecided" if accepted is None else "Not accepted"
    span = format_frequency_range(culprit.low, culprit.high)
    return f"{word}: in {culprit.label} ({span}) {culprit.verdict}{_at_the_end(culprit)}."


def _at_the_end(check: BandCheck) -> str:
    if check.swr_receiver is None:
        return ""
    text = f"; at the receiver end of the feed line it is {format_ratio(check.swr_receiver)}"
    if check.accepted is False and check.swr_receiver <= check.limit:
        text += ", because the loss of the line hides it"
    return text


def _notes(moved: Moved, seen: _Curve, computed: _Curve, *, known: bool) -> tuple[str, ...]:
    """How sure the comparison is, in reflection, and how much of the sweep it does not explain."""
    (ours, our_error), (theirs, their_error) = seen, computed
    apart = np.abs(ours - theirs) if known else np.abs(np.abs(ours) - np.abs(theirs))
    beyond = float(np.mean(apart > our_error + their_error))
    out = [
        f"errors of reflection: measured +/-{float(np.median(our_error)):.3f}, predicted +/-{float(np.median(their_error)):.3f}"
    ]
    if beyond < 0.05:
        out.append("measured and predicted agree within their errors")
    else:
        out.append(f"measured and predicted differ by more than their errors over {100 * beyond:.0f} % of the sweep")
    less = np.abs(ours) < np.abs(theirs) - our_error - their_error
    if float(moved.loss.max()) > 0.0 and float(np.mean(less)) > 0.5:
        out.append(
            "less comes back than was computed: if the line loses more than was removed, the SWR at the antenna is worse than shown"
        )
    return tuple(out)
