"""Pieces out of bars: the cutting-stock problem in one dimension, solved exactly at the size of a workshop.

Every way to cut one bar (a pattern: how many of each piece) is listed, and whole numbers of bars are given to patterns
[@gilmore-gomory-1961]; the whole-number programme goes to HiGHS through :func:`scipy.optimize.milp`. First the fewest pieces to buy
(by length), then the fewest bars begun, then the longest offcuts, since one long offcut is worth more than two short ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

#: More patterns than this are not listed; first fit then answers, longest piece first.
MOST_PATTERNS = 6000
#: Seconds that each whole-number programme may take.
TIME_LIMIT = 0.5
#: Lengths [m] closer than this are equal.
SLACK = 1e-9


@dataclass(frozen=True)
class Bars:
    """``count`` bars of ``length`` [m] that the piece types ``takes`` (indices) may be cut from."""

    length: float
    count: int
    takes: tuple[int, ...]


@dataclass(frozen=True)
class Cutting:
    """One begun bar: the index of its kind, and the piece types cut from it, longest first."""

    bars: int
    cuts: tuple[int, ...]


@dataclass(frozen=True)
class Shared:
    """Begun bars, pieces of each type that no bar was left for, and whether nothing better exists."""

    cuttings: tuple[Cutting, ...]
    short: tuple[int, ...]
    proven: bool
    method: str


def share_bars(lengths: tuple[float, ...], wanted: tuple[int, ...], bars: tuple[Bars, ...], *, kerf: float) -> Shared:
    """Cut ``wanted`` pieces of each of ``lengths`` [m] from ``bars``; ``kerf`` [m] for each cut, none where a piece ends the bar."""
    first = _first_fit(lengths, wanted, bars, kerf)
    if not bars or not any(wanted):
        return first
    patterns = _patterns(lengths, wanted, bars, kerf)
    if patterns is None:
        return first
    return _solve(lengths, wanted, bars, patterns, kerf) or first


def left_of(length: float, cuts: tuple[float, ...], kerf: float) -> float:
    """What remains of a bar [m] after ``cuts`` and the saw."""
    return max(length - sum(cuts) - kerf * len(cuts), 0.0)


def _first_fit(lengths: tuple[float, ...], wanted: tuple[int, ...], bars: tuple[Bars, ...], kerf: float) -> Shared:
    """Longest piece first, into the first begun bar that holds it, else the shortest new one that does."""
    begun: list[tuple[int, list[int], float]] = []
    fresh = [bar.count for bar in bars]
    short = list(wanted)
    for piece in sorted(range(len(lengths)), key=lambda k: -lengths[k]):
        for _ in range(wanted[piece]):
            need = lengths[piece] + kerf
            for at, (kind, cuts, room) in enumerate(begun):
                if piece in bars[kind].takes and need <= room + SLACK:
                    begun[at] = (kind, [*cuts, piece], room - need)
                    break
            else:
                fits = [
                    k
                    for k, bar in enumerate(bars)
                    if fresh[k] and piece in bar.takes and need <= bar.length + kerf + SLACK
                ]
                if not fits:
                    break
                kind = min(fits, key=lambda k: bars[k].length)
                fresh[kind] -= 1
                begun.append((kind, [piece], bars[kind].length + kerf - need))
            short[piece] -= 1
    method = "first fit, longest piece first: a plan that works, not proven to be the best"
    return Shared(tuple(Cutting(kind, tuple(cuts)) for kind, cuts, _ in begun), tuple(short), not any(wanted), method)


def _patterns(
    lengths: tuple[float, ...], wanted: tuple[int, ...], bars: tuple[Bars, ...], kerf: float
) -> list[tuple[int, tuple[int, ...]]] | None:
    """Every (kind of bar, number of each piece); None where there are too many to list."""
    out: list[tuple[int, tuple[int, ...]]] = []
    for kind, bar in enumerate(bars):
        order = sorted((k for k in bar.takes if wanted[k]), key=lambda k: -lengths[k])
        stack: list[tuple[int, tuple[int, ...], float]] = [(0, (), bar.length + kerf)]
        while stack:
            place, counts, room = stack.pop()
            if place == len(order):
                if any(counts):
                    whole = [0] * len(lengths)
                    for k, n in zip(order, counts, strict=True):
                        whole[k] = n
                    out.append((kind, tuple(whole)))
                    if len(out) > MOST_PATTERNS:
                        return None
                continue
            piece = order[place]
            most = min(wanted[piece], math.floor((room + SLACK) / (lengths[piece] + kerf)))
            stack += [(place + 1, (*counts, n), room - n * (lengths[piece] + kerf)) for n in range(most + 1)]
    return out


def _solve(
    lengths: tuple[float, ...],
    wanted: tuple[int, ...],
    bars: tuple[Bars, ...],
    patterns: list[tuple[int, tuple[int, ...]]],
    kerf: float,
) -> Shared | None:
    """Two whole-number programmes: what to buy and how many bars to begin; then, with those held, the longest offcuts."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    pieces, count = len(lengths), len(patterns)
    cut = np.zeros((pieces, count + pieces))
    used = np.zeros((len(bars), count + pieces))
    for column, (kind, counts) in enumerate(patterns):
        cut[:, column] = counts
        used[kind, column] = 1.0
    cut[:, count:] = np.eye(pieces)
    limits = [
        LinearConstraint(cut, wanted, wanted),
        LinearConstraint(used, -np.inf, [bar.count for bar in bars]),
    ]
    bounds = Bounds(0.0, [min(bars[kind].count, sum(wanted)) for kind, _ in patterns] + list(wanted))
    # One bar begun weighs less than any piece that must be bought.
    worth = 1.0 + sum(min(bar.count, sum(wanted)) for bar in bars)
    first = np.concatenate([np.ones(count), worth * np.maximum(np.array(lengths) / max(lengths), 1e-3) * 1e3])
    options = {"time_limit": TIME_LIMIT, "mip_rel_gap": 0.0}
    fewest = milp(first, constraints=limits, integrality=np.ones(count + pieces), bounds=bounds, options=options)
    if fewest.x is None:
        return None
    best = np.round(fewest.x)
    longest = max(bar.length for bar in bars)
    keep = [
        LinearConstraint(np.ones(count + pieces) * (np.arange(count + pieces) < count), -np.inf, best[:count].sum()),
        LinearConstraint(np.eye(count + pieces)[count:], best[count:], best[count:]),
    ]
    # Convex in what is left: two half offcuts count less than one whole. Metal taken into use counts against it.
    spare = [left_of(bars[kind].length, _cut_lengths(counts, lengths), kerf) / longest for kind, counts in patterns]
    begun = [bars[kind].length / longest for kind, _ in patterns]
    second = np.concatenate([[b * b - s * s for b, s in zip(begun, spare, strict=True)], np.zeros(pieces)])
    nicest = milp(
        second, constraints=limits + keep, integrality=np.ones(count + pieces), bounds=bounds, options=options
    )
    if nicest.x is not None:
        best = np.round(nicest.x)
    cuttings = [
        Cutting(kind, tuple(k for k in sorted(range(pieces), key=lambda k: -lengths[k]) for _ in range(counts[k])))
        for (kind, counts), times in zip(patterns, best[:count], strict=True)
        for _ in range(int(times))
    ]
    proven = fewest.status == 0
    method = "all cutting patterns, whole-number programme" + ("" if proven else "; stopped at its time limit")
    return Shared(tuple(cuttings), tuple(int(n) for n in best[count:]), proven, method)


def _cut_lengths(counts: tuple[int, ...], lengths: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(length for n, length in zip(counts, lengths, strict=True) for _ in range(n))
