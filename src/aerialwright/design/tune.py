"""Dimensions moved by the engine until the antenna fits the asked bands: bounded least squares over all of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from aerialwright.antennas.family import Values
from aerialwright.base.errors import AerialwrightError
from aerialwright.design.model import Design, span_of, tuning_frequencies
from aerialwright.design.quick import quick_impedance
from aerialwright.need.model import Band, Limits
from aerialwright.solution.records import FloatArray

#: Weight of wish-bands against must-bands.
WISH_WEIGHT = 0.2
#: Weight of the size against the worst reflections: decides only where the electrical answer hardly changes.
SIZE_WEIGHT = 0.4
#: Weight of each part of the largest size that is passed, and where that begins, inside it [m].
WALL_WEIGHT, SIZE_MARGIN = 30.0, 2.0e-3
#: Penalty at the wall: more than this is beyond it.
WALL_STARTS = SIZE_WEIGHT * (1.0 + 1e-9)


@dataclass(frozen=True)
class Tuned:
    """A design after tuning and rounding, and the number of evaluations it took."""

    design: Design
    evaluations: int
    worst_reflection: float


def tune(
    design: Design,
    bands: tuple[Band, ...],
    *,
    reference: float,
    limits: Limits,
    wishes: tuple[Band, ...] = (),
    shorten_only: bool = False,
    most_evaluations: int = 42,
    cancelled: Callable[[], None] | None = None,
) -> Tuned:
    """Move the tuned dimensions so that the reflection over the bands is low, worst frequencies first, then round.

    Residuals are (|G| / G_limit)^2 at frequencies across each band, so that the largest reflections count most.
    ``shorten_only`` keeps every length at or below its present value (an antenna that exists can only be cut).
    ``cancelled`` is called before each evaluation and may raise.

    Raises
    ------
    DesignError
        If no start value gives a structure that can be built.
    """
    family, plan = design.family, design.plan
    span = span_of(bands)
    keys = [key for key in family.tuned(plan)]
    limit = family.bounds(plan, span, design.values)
    low, high = [], []
    for key in list(keys):
        bottom, top = limit[key]
        parameter = family.parameter(key)
        bottom, top = max(bottom, parameter.lowest), min(top, parameter.highest)
        if parameter.kind == "length":
            top = min(top, limits.largest_size)
        if shorten_only:
            if parameter.kind != "length" or key == "gap":
                keys.remove(key)
                continue
            top = min(top, design.values[key])
            bottom = min(bottom, 0.5 * top)
        if bottom >= top - parameter.step:
            bottom = top - 2 * parameter.step
        low.append(bottom)
        high.append(top)
    frequency = tuning_frequencies(bands)
    weight = np.ones(len(frequency))
    if wishes:
        # A wish weighs little: its edges are enough.
        extra = np.unique(np.array([edge for band in wishes for edge in (band.low, band.high)]))
        frequency = np.concatenate([frequency, extra])
        weight = np.concatenate([weight, np.full(len(extra), WISH_WEIGHT)])
    allowed = (limits.worst_swr - 1.0) / (limits.worst_swr + 1.0)
    lowest = np.array(low)
    width = np.array(high) - lowest
    start = np.clip(np.array([design.values[key] for key in keys]), lowest + 0.02 * width, lowest + 0.98 * width)
    start = _inside(design, keys, start, lowest, limits)
    count = 0
    best: tuple[float, FloatArray] = (np.inf, start)

    def residual(unit: FloatArray) -> FloatArray:
        nonlocal count, best
        if cancelled is not None:
            cancelled()
        count += 1
        x = lowest + unit * width
        candidate = design.with_values(**dict(zip(keys, x.tolist(), strict=True)))
        side = _size_penalty(candidate, limits, allowed)
        try:
            z = quick_impedance(candidate, frequency)
        except AerialwrightError:
            # Metal that cannot exist reflects everything: the optimiser turns back.
            return np.append(np.full(len(frequency), (1.0 / allowed) ** 2), 1.0)
        reflection = np.abs((z - reference) / (z + reference))
        values = weight * (reflection / allowed) ** 2
        # The wall bends the optimiser's way; what is kept must stand on this side of it wherever anything does.
        cost = float(np.sum(values**2)) + side**2 * (1e6 if side > WALL_STARTS else 1.0)
        if cost < best[0]:
            best = (cost, x.copy())
        return np.append(values, side)

    unit = (start - lowest) / width
    least_squares(
        residual,
        unit,
        bounds=(0.0, 1.0),
        diff_step=2e-3,
        xtol=1e-3,
        ftol=2e-3,
        gtol=1e-6,
        max_nfev=max(4, most_evaluations // (len(keys) + 1)),
    )
    chosen = design.with_values(**dict(zip(keys, best[1].tolist(), strict=True)))
    rounded = _marked(design, chosen, keys, limits, shorten_only)
    rounded = family.settled(rounded)
    final = Design(design.family_key, plan, rounded, design.owned)
    try:
        z = quick_impedance(final, frequency)
    except AerialwrightError:
        final = chosen
        z = quick_impedance(final, frequency)
    worst = float(np.max(np.abs((z - reference) / (z + reference))))
    return Tuned(final, count, worst)


def _inside(design: Design, keys: list[str], start: FloatArray, lowest: FloatArray, limits: Limits) -> FloatArray:
    """A start with its lengths scaled down until the largest size is kept, or as far as they go."""
    lengths = np.array([design.family.parameter(key).kind == "length" and key != "gap" for key in keys])
    for _ in range(8):
        side = _largest(design.with_values(**dict(zip(keys, start.tolist(), strict=True))))
        if side <= _wall(limits):
            break
        scale = 0.995 * _wall(limits) / side
        start = np.where(lengths, np.maximum(start * max(scale, 0.1), lowest), start)
    return start


def _marked(design: Design, chosen: Design, keys: list[str], limits: Limits, shorten_only: bool) -> Values:
    """The chosen values on what can be marked out, never across a limit that rounding alone would break."""
    family = design.family
    out = family.rounded(design.plan, chosen.values)
    if shorten_only:
        out |= {key: value for key, value in design.values.items() if key not in keys}
        for key in keys:
            step = family.parameter(key).step
            if out[key] > design.values[key]:
                out[key] = math.floor(design.values[key] / step + 1e-9) * step
    lengths = [key for key in keys if family.parameter(key).kind == "length" and key != "gap"]
    if _largest(chosen) <= limits.largest_size:
        for _ in range(20):
            if _largest(design.with_values(**out)) <= limits.largest_size:
                break
            out |= {key: out[key] - family.parameter(key).step for key in lengths}
    return out


def _largest(design: Design) -> float:
    """Largest side [m]; zero for what cannot be drawn."""
    try:
        return max(design.family.size(design.structure()))
    except AerialwrightError:
        return 0.0


def _wall(limits: Limits) -> float:
    """Largest side to aim at [m]: the limit less what rounding may add."""
    return limits.largest_size - SIZE_MARGIN * min(1.0, limits.largest_size)


def _size_penalty(design: Design, limits: Limits, allowed: float) -> float:
    """A mild wish for a smaller antenna, and a wall a little inside the largest size allowed."""
    side = _largest(design)
    if side == 0.0:
        return 0.0
    # Steep beside the largest residual, 1 / allowed^2, so that the limit of size is not traded for a better match.
    over = side / _wall(limits) - 1.0
    return SIZE_WEIGHT * (1.0 + over) + max(0.0, over) * WALL_WEIGHT / allowed**2
