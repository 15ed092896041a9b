"""Moving a sweep from the instrument to the antenna: by a known line, by the line measured with its far end known, or by estimate.

Through a line of its own impedance ``Z0`` the reflection turns and shrinks, ``r = r_antenna exp(-2 gamma l)`` [@pozar]; undoing
that enlarges every error of the instrument by the loss of both ways. What is left uncertain travels with the result, and where
it passes :data:`LARGEST_UNCERTAINTY` nothing is inverted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from aerialwright.base.constants import c
from aerialwright.base.printing import format_decibel, format_frequency, format_length
from aerialwright.bench.read_sweep import renormalised, turned_radius
from aerialwright.bench.records import Measured, Moved
from aerialwright.bench.text import WITH_PHASE, SweepError
from aerialwright.lines.line import NEPER_PER_DECIBEL, Line
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.solution.records import ComplexArray, FloatArray

#: What a calibrated hand-held instrument leaves unknown of any reflection (40 dB directivity). Common practice, no source.
INSTRUMENT_ERROR = 0.01
#: A cable's loss against its table, its velocity factor, and a length taken by tape: what sheets of one type name differ by.
LOSS_TOLERANCE, VELOCITY_TOLERANCE, LENGTH_TOLERANCE = 0.15, 0.01, 0.005
#: Reflections less certain than this decide nothing: an SWR of 2 could be 1.3 or 3.3.
LARGEST_UNCERTAINTY = 0.2
#: Beyond this uncertainty of angle [rad] R and X mean nothing, and only the size of the reflection is kept.
LARGEST_ANGLE = 0.5
#: A line that passes less than this passes nothing.
_NOTHING = 1e-12
#: What an antenna reflects at least at its worst within a sweep this many times as wide as its lowest frequency.
_REFLECTS, _WIDE = 0.8, 1.25


@dataclass(frozen=True)
class _Path:
    """The way through the line: ``factor`` (n,) with ``r = factor r_antenna`` against ``impedance``; what is not known of it:
    ``size`` (n,) relative, ``angle`` (n,) [rad]."""

    factor: ComplexArray
    impedance: float
    size: FloatArray
    angle: FloatArray
    delay: float
    notes: tuple[str, ...]


def at_antenna(measured: Measured) -> Moved:
    """A sweep that was taken at the antenna itself."""
    count = len(measured.frequency)
    return Moved(measured, measured, np.full(count, INSTRUMENT_ERROR), np.zeros(count), 0.0, ())


def through_line(measured: Measured, line: Line) -> Moved:
    """Remove a known line. R and X are kept only where the line is short enough for its angle to be known."""
    f = measured.frequency
    gamma = line.propagation(f)
    loss = line.loss_db(f)
    tolerance = np.hypot(VELOCITY_TOLERANCE / line.velocity_factor, LENGTH_TOLERANCE)
    path = _Path(
        np.exp(-2.0 * gamma * line.length),
        line.impedance,
        np.expm1(2.0 * LOSS_TOLERANCE * loss * NEPER_PER_DECIBEL),
        2.0 * gamma.imag * line.length * tolerance,
        line.length / (line.velocity_factor * c),
        (f"{format_length(line.length)} of {line.title} removed: {_range(loss)} one way, +/-{100 * LOSS_TOLERANCE:.0f} %",),
    )  # fmt: skip
    return _moved(measured, path)


def through_measured(measured: Measured, far_ends: Mapping[str, Measured], *, impedance: float | None = None) -> Moved:
    """Remove a line by sweeps of it with its far end ``"open"``, ``"short"`` or on a ``"load"`` of the sweep's reference.

    All three: nothing is assumed of what lies between. Open and short: a line alike from both ends; its impedance and
    propagation follow. One of them: its ``impedance`` [ohm] is taken as given, the sweep's reference without it.

    Raises
    ------
    SweepError
        If the sweeps do not fit each other or are too few.
    """
    if set(far_ends) - {"open", "short", "load"} or not set(far_ends) & {"open", "short"}:
        raise SweepError(
            "the far end must have been open or short in one of them: a load alone tells nothing of length and loss",
            where=", ".join(sweep.origin for sweep in far_ends.values()) or measured.origin,
            mend="measure the line with its far end open, or shorted",
        )  # fmt: skip
    found = {end: _on(sweep, measured) for end, sweep in far_ends.items()}
    if len(found) == 3:
        return _by_three(measured, found)
    z0 = impedance or measured.reference
    notes = [f"line removed by its sweep with the far end {' and '.join(found)}"]
    if len(found) == 2 and "load" not in found:
        z0 = _line_impedance(found, measured.reference)
        notes.append(f"impedance of the line by open and short: {z0:.1f} ohm")
    turned = {end: _against(value, measured.reference, z0) for end, value in found.items()}
    ways = [turned["open"]] if "open" in turned else []
    ways += [-turned["short"]] if "short" in turned else []
    factor = np.mean(ways, axis=0)
    error = INSTRUMENT_ERROR / np.sqrt(len(ways)) / np.maximum(np.abs(factor), _NOTHING)
    delay = _delay(measured.frequency, factor)
    return _moved(measured, _Path(factor, z0, error, error, delay, tuple(notes)))


def by_estimate(measured: Measured, *, velocity_factor: float = 0.66) -> Moved:
    """Remove a line of which nothing is known but the sweep: its loss from the largest reflection, its delay from the turning.

    An antenna reflects nearly all well outside its band, so what comes back there is what the line leaves. The delay contains
    the antenna's own, so R and X are not kept.
    """
    f = measured.frequency
    if not measured.phase_known:
        raise SweepError(
            "the line cannot be estimated without phase",
            where=measured.origin,
            mend=WITH_PHASE,
        )
    if len(f) < 21:
        raise SweepError(
            f"{len(f)} points are too few to estimate a line", where=measured.origin, mend="sweep 101 or more"
        )
    size = np.abs(measured.reflection)
    strongest = float(np.quantile(size, 0.98))
    at = float(f[int(np.argmin(np.abs(size - strongest)))])
    wide = f[-1] > _WIDE * f[0]
    least = min(max(_REFLECTS, strongest), 1.0) if wide else strongest
    middle, spread = 0.5 * (1.0 + least), (1.0 - least) / (1.0 + least)
    # A conductor's loss grows with the root of the frequency.
    attenuation = -np.log(min(strongest / middle, 1.0)) * np.sqrt(f / at)
    delay, doubt = _delay_by_transform(f, measured.reflection)
    loss = attenuation / NEPER_PER_DECIBEL / 2.0
    most = -10.0 * np.log10(strongest)
    notes = (
        f"line estimated from the sweep: {_range(loss)} one way, at most {format_decibel(most)} at {format_frequency(at)}",
        f"delay {delay * 1e9:.1f} +/- {doubt * 1e9:.1f} ns one way, {format_length(delay * c * velocity_factor)} "
        f"+/- {format_length(doubt * c * velocity_factor)} of cable with velocity factor {velocity_factor:g}, the antenna's own included",
        *(() if wide else ("the sweep is narrow: sweep from half to twice the frequency to see more of the line",)),
    )  # fmt: skip
    path = _Path(
        np.exp(-attenuation - 4j * np.pi * f * delay), measured.reference, np.full(len(f), spread), 4.0 * np.pi * f * doubt, delay,
        notes,
    )  # fmt: skip
    return _moved(measured, path)


def _range(loss: FloatArray) -> str:
    low, high = float(loss[0]), float(loss[-1])
    return format_decibel(high) if abs(high - low) < 0.05 else f"{format_decibel(low)} to {format_decibel(high)}"


def _against(value: ComplexArray, old: float, new: float) -> ComplexArray:
    return value if old == new else reflection(impedance_of(value, reference=old), reference=new)


def _moved(measured: Measured, path: _Path) -> Moved:
    """Undo a path and judge what is left; see :class:`Moved`."""
    old, z0 = measured.reference, path.impedance
    if old != z0 and not measured.phase_known:
        raise SweepError(
            f"a line of {z0:g} ohm cannot be removed from a sweep against {old:g} ohm without phase", where=measured.origin,
            mend=WITH_PHASE,
        )  # fmt: skip
    passed = np.maximum(np.abs(path.factor), _NOTHING)
    loss = -10.0 * np.log10(passed)
    here = _against(measured.reflection, old, z0)
    there = here / np.where(np.abs(path.factor) > _NOTHING, path.factor, _NOTHING)
    size = np.abs(there)
    instrument = turned_radius(np.full(len(loss), INSTRUMENT_ERROR), measured.reflection, old=old, new=z0)
    noise, slack = instrument / passed, size * path.size
    known = measured.phase_known and float(np.median(path.angle)) <= LARGEST_ANGLE
    uncertainty = noise + slack + (size * path.angle if known else 0.0)
    refused = _refusal(measured, loss, size, noise, slack)
    if refused:
        nothing = np.full(len(loss), np.inf)
        return Moved(measured, measured, nothing, loss, path.delay, path.notes, refused)
    notes = list(path.notes)
    if not known:
        notes.append("the line's angle is not known well enough for R and X at the antenna: only SWR is shown there")
    over = size > 1.0
    if over.any():
        notes.append(
            f"{int(over.sum())} points would reflect more than arrives at the antenna: set to total reflection"
        )
        there = there / np.maximum(size, 1.0)
    if known:
        found = replace(measured, reflection=_against(there, z0, old))
        uncertainty = turned_radius(uncertainty, there, old=z0, new=old)
    else:
        # A size without its angle can refer to the line only.
        found = replace(measured, reflection=np.abs(there).astype(np.complex128), reference=z0, phase_known=False)
    return Moved(measured, found, uncertainty, loss, path.delay, tuple(notes))


def _refusal(measured: Measured, loss: FloatArray, size: FloatArray, noise: FloatArray, slack: FloatArray) -> str:
    """Why the inversion is worth nothing; empty where it is. ``noise`` of the instrument and ``slack`` of the line add."""
    uncertainty = noise + slack
    doubt = float(np.median(uncertainty))
    if doubt > LARGEST_UNCERTAINTY:
        eaten = format_decibel(float(np.median(loss)), digits=1)
        left = f"+/-{doubt:.2f} of reflection, at most {LARGEST_UNCERTAINTY:g} is used"
        if float(np.median(noise)) < 0.3 * doubt:
            return f"the line's loss, about {eaten} each way, is not known well enough ({left})"
        return f"the line eats {eaten} each way: what is left is noise ({left})"
    beyond = size - uncertainty > 1.0
    if np.mean(beyond) > 0.05:
        at = int(np.argmax(np.where(beyond, size, 0.0)))
        most = -10.0 * np.log10(float(np.abs(measured.reflection[at])))
        return (
            f"more comes back at {format_frequency(float(measured.frequency[at]))} than such a line passes: it loses at most "
            f"{format_decibel(most, digits=1)} one way, not {format_decibel(float(loss[at]), digits=1)}"
        )
    return ""


def _on(sweep: Measured, measured: Measured) -> ComplexArray:
    """Reflection (n,) of a sweep of the same line at the frequencies and reference of ``measured``."""
    if not (sweep.phase_known and measured.phase_known):
        raise SweepError(
            "has no phase: the line cannot be removed by it",
            where=sweep.origin,
            mend=WITH_PHASE,
        )
    sweep = renormalised(sweep, reference=measured.reference)
    f, g = measured.frequency, sweep.frequency
    if len(f) == len(g) and np.allclose(f, g, rtol=1e-9, atol=0.0):
        return sweep.reflection
    if g[0] > f[0] * (1 + 1e-9) or g[-1] < f[-1] * (1 - 1e-9):
        raise SweepError(
            f"does not reach over {format_frequency(float(f[0]))} to {format_frequency(float(f[-1]))}", where=sweep.origin,
            mend="sweep the line over the same frequencies as the antenna",
        )  # fmt: skip
    turn = np.unwrap(np.angle(sweep.reflection))
    if float(np.abs(np.diff(turn)).max(initial=0.0)) > 2.0:
        raise SweepError(
            "its points are too far apart for this length of line",
            where=sweep.origin,
            mend="sweep with the same points as the antenna",
        )
    return np.asarray(np.interp(f, g, np.abs(sweep.reflection)) * np.exp(1j * np.interp(f, g, turn)))


def _line_impedance(found: Mapping[str, ComplexArray], reference: float) -> float:
    """``sqrt(Z_open Z_short)``, median over the frequencies where neither is extreme."""
    open_, short = (impedance_of(found[end], reference=reference) for end in ("open", "short"))
    usable = (np.abs(open_) < 20.0 * reference) & (np.abs(short) < 20.0 * reference)
    if not usable.any():
        return reference
    return float(np.median(np.abs(np.sqrt(open_[usable] * short[usable]))))


def _by_three(measured: Measured, found: Mapping[str, ComplexArray]) -> Moved:
    """Open, short and load: ``r = e00 + e01 a / (1 - e11 a)`` solved for the antenna's ``a`` (the three-term error model)."""
    e00 = found["load"]
    over_open, over_short = found["open"] - e00, found["short"] - e00
    # open: e01 / (1 - e11); short: -e01 / (1 + e11)
    with np.errstate(divide="ignore", invalid="ignore"):
        e11 = (over_open + over_short) / (over_open - over_short)
        e01 = over_open * (1.0 - e11)
        rest = measured.reflection - e00
        there = rest / (e01 + e11 * rest)
    there = np.where(np.isfinite(there), there, 1.0)
    passed = np.maximum(np.abs(e01), _NOTHING)
    size = np.abs(there)
    loss = -10.0 * np.log10(np.minimum(passed, 1.0))
    uncertainty = INSTRUMENT_ERROR / passed * (1.0 + size)
    notes = ("line removed by its sweeps with the far end open, short and on a load: nothing is assumed of it",)
    delay = _delay(measured.frequency, e01)
    refused = _refusal(measured, loss, size, uncertainty, np.zeros(len(loss)))
    if refused:
        return Moved(measured, measured, np.full(len(loss), np.inf), loss, delay, notes, refused)
    there = there / np.maximum(size, 1.0)
    return Moved(measured, replace(measured, reflection=there), uncertainty, loss, delay, notes)


def _delay(frequency: FloatArray, factor: ComplexArray) -> float:
    """One-way delay [s] of a factor of both ways, from the slope of its angle; NaN where one point cannot tell."""
    if len(frequency) < 2:
        return float("nan")
    slope = np.polyfit(frequency, np.unwrap(np.angle(factor)), 1)[0]
    return float(-slope / (4.0 * np.pi))


def _delay_by_transform(frequency: FloatArray, value: ComplexArray) -> tuple[float, float]:
    """One-way delay [s] where the windowed sweep, seen in time, is strongest, and half a resolution as its doubt."""
    count = min(len(frequency), 1001)
    even = np.linspace(frequency[0], frequency[-1], count)
    samples = np.interp(even, frequency, value.real) + 1j * np.interp(even, frequency, value.imag)
    padded = 8 * count
    seen = np.abs(np.fft.ifft(samples * np.hanning(count), padded))
    step = float(even[1] - even[0])
    # Times beyond half of the unambiguous range would be negative ones.
    best = int(np.argmax(seen[: padded // 2]))
    return 0.5 * best / (padded * step), 0.5 / float(frequency[-1] - frequency[0])
