"""How well one explanation fits a sweep: the marginal likelihood under the errors of a hand-held instrument.

What an instrument and a hand leave open is linear in small normal quantities: directivity, source match and tracking left after
calibration, the plane, every dimension. They are summed out exactly: the residual is normal with covariance ``s^2 + U U^T``, where the
columns of U are the changes that one standard deviation of each makes (low-rank update of determinant and inverse, text-book
identities). What remains of an explanation, one quantity, is integrated over by the trapezoidal rule on a grid that is refined
where it fits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.bench.altered import hand_error
from aerialwright.bench.causes import PLANE_ERROR, Branch
from aerialwright.bench.responses import View
from aerialwright.solution.records import ComplexArray, FloatArray


@dataclass(frozen=True)
class Instrument:
    """Errors of a calibrated hand-held one-port instrument, reflection, one standard deviation of each part of a complex number.

    ``directivity`` [-35 dB with both parts] turns over frequency like a line of up to ``turn`` [s] one way; ``source_match``
    multiplies the square of the reflection, ``tracking`` the reflection; ``trace`` is the noise of one point; ``floor`` what does not
    average out, nor follows any of these. Values: common practice, no source.
    """

    directivity: float = 10.0 ** (-35.0 / 20.0) / math.sqrt(2.0)
    source_match: float = 10.0 ** (-30.0 / 20.0) / math.sqrt(2.0)
    tracking: float = 0.006
    trace: float = 0.003
    floor: float = 0.002
    turn: float = 0.5e-9


HAND_HELD = Instrument()
#: Steps of the fit to a magnitude, and how far each goes.
MAGNITUDE_STEPS, MAGNITUDE_DAMPING = 5, 0.7


@dataclass(frozen=True)
class Passage:
    """What taking a line off made of the errors of the instrument at its other end.

    They grew ``gain`` times and turn over frequency by twice the line's ``delay`` [s], one way; ``slack`` is the part of the
    reflection that is not known because the line is not.
    """

    delay: float
    gain: float
    slack: float


@dataclass(frozen=True)
class Observed:
    """A sweep brought to few points: ``frequency`` (n,) [Hz]; ``reflection`` (n,), of which only the magnitude counts where the phase is
    not known; ``count`` (n,) readings in each; ``uncertainty`` (n,) radius of what is not known at this plane and follows no line;
    ``passage`` where a line was taken off."""

    frequency: FloatArray
    reflection: ComplexArray
    phase_known: bool
    count: FloatArray
    uncertainty: FloatArray
    passage: Passage | None = None


def binned(
    frequency: FloatArray,
    reflection: ComplexArray,
    uncertainty: FloatArray,
    *,
    phase_known: bool,
    most: int,
) -> Observed:
    """A sweep (m,) as the means of at most ``most`` equal stretches of frequency.

    Means are of a quadratic fit's middle where a stretch holds readings enough, so that a curved sweep is not pulled inwards.
    """
    if len(frequency) <= most:
        return Observed(frequency, reflection, phase_known, np.ones(len(frequency)), uncertainty)
    edges = np.linspace(frequency[0], frequency[-1], most + 1)
    place = np.clip(np.searchsorted(edges, frequency, side="right") - 1, 0, most - 1)
    values = reflection if phase_known else np.abs(reflection).astype(np.complex128)
    rows = []
    for part in range(most):
        inside = np.flatnonzero(place == part)
        if len(inside) == 0:
            continue
        middle = float(frequency[inside].mean())
        degree = 2 if len(inside) >= 6 else 0
        x = (frequency[inside] - middle) / (edges[1] - edges[0])
        basis = np.vander(x, degree + 1, increasing=True)
        value = np.linalg.lstsq(basis, values[inside], rcond=None)[0][0]
        # Variance of the constant of a quadratic fit to even points: 9/4 of that of the mean.
        count = len(inside) / (2.25 if degree else 1.0)
        rows.append((middle, value, count, float(uncertainty[inside].mean())))
    at, means, worth, radius = (np.array(column) for column in zip(*rows, strict=True))
    return Observed(at, means, phase_known, worth, radius)


@dataclass(frozen=True)
class Likelihood:
    """Log-likelihood of models (m, n) against one observed sweep."""

    observed: Observed
    instrument: Instrument = HAND_HELD

    def _terms(self, model: ComplexArray) -> ComplexArray:
        """What the instrument leaves open round each model (m, k, n)."""
        f, one = self.observed.frequency, self.instrument
        size = np.hypot(one.directivity, 0.5 * self.observed.uncertainty) / math.sqrt(3.0)
        turn = np.exp(4j * math.pi * (f - f.mean()) * one.turn * np.array([-1.0, 0.0, 1.0])[:, None]) * size
        rows = [turn, 1j * turn]
        match, track = one.source_match * model**2, one.tracking * model
        plane = -4j * math.pi * f / SPEED_OF_LIGHT * PLANE_ERROR * model
        moving = [match, 1j * match, track, plane]
        if (way := self.observed.passage) is not None:
            # What stands still at the instrument turns at the antenna, by both ways of the line; so does what spoiled the line's own
            # sweep. A line that is not as its table changes all of the reflection alike.
            back = np.exp(4j * math.pi * (f - f.mean()) * way.delay)
            rows += [turn * back * way.gain, 1j * turn * back * way.gain]
            doubt = 0.5 * way.slack * model
            moving += [doubt, 1j * doubt, doubt * back, 1j * doubt * back]
        fixed = np.concatenate(rows)
        return np.concatenate([np.broadcast_to(fixed, (len(model), *fixed.shape)), np.stack(moving, axis=1)], axis=1)

    def _solved(self, model: ComplexArray, hand: ComplexArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Mean strengths (m, k) of all terms, squared residuals (m,) and log-determinant (m,) for each model.

        A magnitude is no linear function of the terms: it is made linear about their best strengths (Gauss-Newton steps), and the
        evidence is that of the normal density there (Laplace).
        """
        seen, one = self.observed, self.instrument
        columns = np.concatenate([hand, self._terms(model)], axis=1)
        gain = 1.0 if seen.passage is None else seen.passage.gain
        white = 0.5 * (one.trace * gain) ** 2 / seen.count + one.floor**2
        if seen.phase_known:
            rest = seen.reflection - model
            r = np.concatenate([rest.real, rest.imag], axis=-1)
            u = np.concatenate([columns.real, columns.imag], axis=-1)
            scale = np.sqrt(np.concatenate([white, white]))
            strength, inner = _strengths(r / scale, u / scale)
            square = np.sum((r / scale) ** 2, axis=1) - np.einsum("mk,mkn,mn->m", strength, u / scale, r / scale)
        else:
            scale, strength = np.sqrt(white), np.zeros(columns.shape[:2])
            for _ in range(MAGNITUDE_STEPS):
                total = model + np.einsum("mk,mkn->mn", strength, columns)
                size = np.abs(total)
                u = (columns * (total.conj() / np.maximum(size, 1e-9))[:, None]).real / scale
                # Noise across a small reflection makes its magnitude larger.
                r = (np.abs(seen.reflection) - np.sqrt(size**2 + white)) / scale
                square = np.sum(r**2, axis=1) + np.sum(strength**2, axis=1)
                aimed, inner = _strengths(r + np.einsum("mk,mkn->mn", strength, u), u)
                strength = strength + MAGNITUDE_DAMPING * (aimed - strength)
        return strength, square, np.linalg.slogdet(inner)[1] + 2.0 * np.sum(np.log(scale))

    def __call__(self, model: ComplexArray, hand: ComplexArray) -> tuple[FloatArray, FloatArray]:
        """Log-likelihood (m,) and misfit (m,), the mean square of the residuals over what was expected of them.

        ``hand`` (m, k, n): changes by one standard deviation of everything else that is left open.
        """
        _, square, volume = self._solved(model, hand)
        return -0.5 * (square + volume), square / (len(model[0]) * (2 if self.observed.phase_known else 1))

    def strengths(self, model: ComplexArray, hand: ComplexArray) -> FloatArray:
        """Posterior means (m, k) of what ``hand`` leaves open, in its standard deviations."""
        return self._solved(model, hand)[0][:, : hand.shape[1]]


def _strengths(r: FloatArray, u: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Posterior means (m, k) of terms ``u`` (m, k, n) in residuals ``r`` (m, n) of unit noise, and ``1 + U U^T``."""
    inner = np.eye(u.shape[1]) + u @ u.swapaxes(1, 2)
    return np.linalg.solve(inner, np.einsum("mkn,mn->mk", u, r)[..., None])[..., 0], inner


@dataclass(frozen=True)
class Fit:
    """A branch over its scale: log-evidence, the best value with its spread (one standard deviation), its reflection (n,) with
    what it leaves open as it fits best, and misfit."""

    branch: Branch
    evidence: float
    value: float
    spread: float
    reflection: ComplexArray
    misfit: float


#: Points of each refinement, and how many there are.
REFINED, ROUNDS = 25, 2


@dataclass(frozen=True)
class Start:
    """The antenna as a careful hand may have built it: its reflection (n,), changes (k, n) by what else is left open, log-probability."""

    base: ComplexArray
    hand: ComplexArray
    weight: float


#: A slip of the main length that changes the reflection by more than this (root mean square) is no small one.
LARGE_SLIP = 0.04
#: Normal density as three narrower ones: their middles and width in standard deviations, and their weights.
PARTS, PART_WIDTH, PART_WEIGHTS = (-1.2, 0.0, 1.2), 0.6, (0.22, 0.56, 0.22)


def starts(near: View) -> tuple[Start, ...]:
    """One start as designed; three where a slip of the main length is too large for a straight line (small antennas)."""
    hand, main = near.hand, near.responses.design.family.main_length
    if near.responses.hands[:1] != (main,) or float(np.sqrt(np.mean(np.abs(hand[0]) ** 2))) < LARGE_SLIP:
        return (Start(near.base, hand, 0.0),)
    size = hand_error(near.responses.design, main)
    out = []
    for place, weight in zip(PARTS, PART_WEIGHTS, strict=True):
        at = np.array([place * size])
        slips = near.slips(main, at)[0].copy()
        slips[0] = (near.along(main, at + 0.5 * size) - near.along(main, at - 0.5 * size))[0] * PART_WIDTH
        out.append(Start(near.along(main, at)[0], slips, math.log(weight)))
    return tuple(out)


def fitted(branch: Branch, likelihood: Likelihood, begun: tuple[Start, ...], base: ComplexArray) -> Fit:
    """Integrate a branch over its scale. ``base`` (n,) as designed; ``begun``: what a careful hand may have made of it."""

    def models(t: FloatArray, start: Start) -> tuple[ComplexArray, ComplexArray]:
        values = branch.value(t)
        if branch.through is not None:
            model = branch.through(values, start.base[None])[:, 0]
            slips = branch.through(values, start.base + start.hand) - model[:, None]
        else:
            assert branch.along is not None
            model = branch.along(values)
            if branch.slips is not None:
                slips = branch.slips(values)
            else:
                model = model + (start.base - base)
                slips = np.broadcast_to(start.hand, (len(t), *start.hand.shape))
        if branch.terms is not None:
            slips = np.concatenate([slips, branch.terms(values)], axis=1)
        return model, slips

    # A branch with slips of its own knows them over its whole range.
    used = begun if branch.slips is None else (replace(begun[0], weight=0.0),)

    def weigh(t: FloatArray) -> tuple[FloatArray, FloatArray]:
        found = [likelihood(*models(t, start)) for start in used]
        log = np.array([each + start.weight for (each, _), start in zip(found, used, strict=True)])
        misfit = np.min(np.array([each for _, each in found]), axis=0)
        return np.asarray(np.logaddexp.reduce(log, axis=0)), misfit

    t = np.linspace(0.0, 1.0, branch.points) if branch.points > 1 else np.array([0.5])
    log, misfit = weigh(t)
    for _ in range(ROUNDS if branch.points > 1 else 0):
        best = int(np.argmax(log))
        low, high = t[max(best - 1, 0)], t[min(best + 1, len(t) - 1)]
        new = np.linspace(low, high, REFINED)[1:-1]
        more, there = weigh(new)
        order = np.argsort(np.concatenate([t, new]), kind="stable")
        t, log, misfit = (np.concatenate(pair)[order] for pair in ((t, new), (log, more), (misfit, there)))
    best = int(np.argmax(log))
    peak = float(log[best])
    height = np.exp(log - peak)
    values = branch.value(t)
    if len(t) == 1:
        evidence, spread = peak, 0.0
    else:
        area = float(np.trapezoid(height, t))
        evidence = peak + math.log(max(area, 1e-12))
        mean = float(np.trapezoid(height * values, t)) / area
        spread = math.sqrt(max(float(np.trapezoid(height * (values - mean) ** 2, t)) / area, 0.0))
    model, slips = models(t[best : best + 1], used[len(used) // 2])
    explained = model[0] + likelihood.strengths(model, slips)[0] @ slips[0]
    return Fit(branch, evidence, float(values[best]), spread, explained, float(misfit[best]))
