"""What to cut, where and how much, from the fitted model; a log of it; and what it teaches for the next antenna.

The length that the antenna *appears* to have is fitted with everything else left open within what a careful hand, a pipe and a
hand-held instrument are off by. The target is the length whose worst reflection over all bands is least with those other things
as they were found. Metal comes off in at most three cuts and never down to where the fit, one standard deviation to the bad,
would be too short for the limit.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from aerialwright.antennas.records import TRIM, Piece
from aerialwright.base.printing import format_angle, format_ratio
from aerialwright.bench.causes import inches
from aerialwright.bench.diagnose import NO_FIT, DiagnosisError, observed
from aerialwright.bench.evidence import HAND_HELD, Instrument, Likelihood
from aerialwright.bench.records import Moved
from aerialwright.bench.responses import View, responses, view
from aerialwright.design.model import Design
from aerialwright.lines.mismatch import reflection_of_swr, swr_of
from aerialwright.need.model import Band
from aerialwright.solution.records import ComplexArray, FloatArray

#: Part of the way that each cut may go: the first by trade habit (50 to 70 %, common practice), the last nearly all of it.
FIRST_CUT, SECOND_CUT, LAST_CUT = 0.6, 0.85, 1.0
MOST_CUTS = 3
#: What a careful hand is off by is taken this many times for a build that is being trimmed.
WIDER = 2.0
#: Smooth departures from the model that belong to no dimension, one standard deviation of the first.
UNMODELLED = 0.04
#: A change below this is not made [m]: no saw cuts it.
SMALLEST_CUT = 0.5e-3
#: Bends looked at [degree], and the least that is worth saying.
BENDS, LEAST_BEND = 20.0, 4.0
#: Frequencies looked at in each band.
IN_BAND = 9
#: Words for the piece that the main length is made of, and where its metal comes off.
PIECES = {
    "rod": ("the rod", "at its tip"),
    "arm": ("both arms", "equally, each at its tip"),
    "cage wire": ("every cage wire", "equally, at its tip"),
    "cone wire": ("every cone wire", "equally, at its tip"),
    "cone sector": ("the cone", "evenly round its rim"),
    "cone gore": ("the cone", "evenly round its rim"),
}


@dataclass(frozen=True)
class TrimEntry:
    """One round: ``date``, name of the ``sweep``, the ``cut`` [m] made off each piece after it (negative: added), and what was fitted.

    ``apparent`` [m]: main length that the sweep looks like, less the design's; ``spread`` one standard deviation; ``worst_swr`` read.
    """

    date: str
    sweep: str
    cut: float
    apparent: float
    spread: float
    worst_swr: float


TrimLog = tuple[TrimEntry, ...]


@dataclass(frozen=True)
class TrimAdvice:
    """What to do now.

    ``verdict``: ``"done"``, ``"cut"``, ``"lengthen"``, ``"bend"`` or ``"stop"`` (the length is not what keeps it from the limit).
    ``amount`` [m] off (or onto) each of ``count`` pieces named ``piece``; ``whole`` [m] the full correction of each; ``bend``
    [degree] of the dimension ``bend_key``, signed as that dimension. ``apparent`` and ``spread`` [m] as in :class:`TrimEntry`.
    ``swr_now`` read over the bands, ``swr_expected`` after the full correction. ``number`` of this cut, from 1.
    """

    verdict: str
    piece: str
    count: int
    amount: float
    whole: float
    bend_key: str
    bend: float
    apparent: float
    spread: float
    swr_now: float
    swr_expected: float
    limit: float
    number: int
    text: str

    def entry(self, *, date: str, sweep: str, cut: float | None = None) -> TrimEntry:
        """The line of the log: the cut really made, by default the one advised."""
        advised = {"cut": self.amount, "lengthen": -self.amount}.get(self.verdict, 0.0)
        return TrimEntry(date, sweep, advised if cut is None else cut, self.apparent, self.spread, self.swr_now)


@dataclass(frozen=True)
class _Fitted:
    """The antenna as it was found: apparent departure [m] and spread of the main length, what else moved its reflection (n,), and how
    badly all of that fits."""

    apparent: float
    spread: float
    rest: ComplexArray
    misfit: float


@dataclass(frozen=True)
class _Aim:
    """Best departure [m] of the main length and of a bend, with the worst reflection there, and the shortest that meets the limit."""

    length: float
    bend: float
    worst: float
    shortest: float


def main_piece(design: Design) -> Piece:
    """The piece that the main length is made of and its metal comes off."""
    return next(piece for piece in design.family.pieces(design.plan, design.values) if piece.name in PIECES)


def per_piece(design: Design) -> float:
    """Part of the main length's change that is made on each piece: half for what has two arms end to end."""
    return 0.5 if design.family.main_length == "total_length" else 1.0


def advise(
    design: Design,
    moved: Moved,
    bands: tuple[Band, ...],
    *,
    reference: float,
    limit: float,
    log: TrimLog = (),
    instrument: Instrument = HAND_HELD,
) -> TrimAdvice:
    """What to cut next for worst SWR ``limit`` over ``bands``. ``log``: the rounds before, with the cuts really made.

    Raises
    ------
    DiagnosisError
        If the sweep does not hold the bands, or says nothing about the design.
    StructureError, DesignError
        If the design cannot be solved.
    """
    found = responses(design, bands, reference=reference)
    seen = observed(moved, found)
    low, high = min(b.low for b in bands), max(b.high for b in bands)
    if seen.frequency[0] > low * 1.005 or seen.frequency[-1] < high * 0.995:
        raise DiagnosisError(
            "the sweep does not hold all bands", where=moved.at_antenna.origin, mend="sweep past both band edges"
        )
    near = view(found, seen.frequency)
    fit = _fit(near, Likelihood(seen, instrument))
    at = np.unique(np.concatenate([np.linspace(b.low, b.high, IN_BAND) for b in bands]))
    inside = view(found, at)
    rest = np.interp(at, seen.frequency, fit.rest.real) + 1j * np.interp(at, seen.frequency, fit.rest.imag)
    # Read from the sweep itself: the limit is met there or nowhere.
    now = float(np.max(np.interp(at, seen.frequency, np.abs(seen.reflection))))
    # What directivity adds to a good reading is kept free.
    allowed = float(reflection_of_swr(limit)) - math.sqrt(2.0) * instrument.directivity
    aim = _aim(inside, rest, allowed)
    return _advice(design, fit, aim, now=now, allowed=allowed, limit=limit, log=log)


def _fit(near: View, likelihood: Likelihood) -> _Fitted:
    """Apparent main length, everything else summed out."""
    main = near.responses.design.family.main_length
    others = [row for row, key in enumerate(near.responses.hands) if key != main]
    x = np.linspace(-1.0, 1.0, len(near.frequency))
    smooth = [np.polynomial.chebyshev.chebval(x, np.eye(4)[k]) * UNMODELLED / (1.0 + k) for k in range(4)]
    both = np.array([*smooth, *(1j * part for part in smooth)])

    def left_open(values: FloatArray) -> ComplexArray:
        slips = WIDER * near.slips(main, values)[:, others]
        return np.concatenate([slips, np.broadcast_to(both, (len(values), *both.shape))], axis=1)

    table = near.responses.tables[main]
    off = np.linspace(table.low, table.high, 241)
    models = near.along(main, off)
    log, misfit = likelihood(models, left_open(off))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = float(weight @ off)
    spread = max(math.sqrt(float(weight @ (off - mean) ** 2)), 0.3 * float(off[1] - off[0]))
    at = np.array([mean])
    model, hand = near.along(main, at), left_open(at)
    return _Fitted(mean, spread, likelihood.strengths(model, hand)[0] @ hand[0], float(misfit[int(np.argmax(log))]))


def _aim(inside: View, rest: ComplexArray, allowed: float) -> _Aim:
    """The length, and where that is not enough the length and bend, with the least worst reflection over the bands."""
    design, tables = inside.responses.design, inside.responses.tables
    main = design.family.main_length
    off = np.linspace(tables[main].low, tables[main].high, 241)
    along = inside.along(main, off) + rest
    worst = np.abs(along).max(axis=1)
    best = int(np.argmin(worst))
    aim = _Aim(float(off[best]), 0.0, float(worst[best]), _shortest(off, worst, allowed))
    bend = bend_key(design)
    if aim.worst <= allowed or bend not in tables:
        return aim
    bends = np.linspace(max(-BENDS, tables[bend].low), min(BENDS, tables[bend].high), 41)
    change = inside.along(bend, bends) - inside.base
    both = np.abs(along[None] + change[:, None]).max(axis=2)
    row, column = np.unravel_index(int(np.argmin(both)), both.shape)
    if both[row, column] > 0.97 * aim.worst or abs(bends[row]) < LEAST_BEND:
        return aim
    shortest = _shortest(off, both[row], allowed)
    return _Aim(float(off[column]), float(bends[row]), float(both[row, column]), shortest)


def _shortest(off: FloatArray, worst: FloatArray, allowed: float) -> float:
    """Shortest departure [m] that is still inside the limit, or the best where none is."""
    good = np.flatnonzero(worst <= allowed)
    return float(off[good[0]] if len(good) else off[int(np.argmin(worst))])


def bend_key(design: Design) -> str:
    """The bend of this family that can be changed by hand after it is built, empty where there is none."""
    return "radial_droop" if "radial_droop" in design.values else ""


def _gain(log: TrimLog, share: float) -> float:
    """How far the apparent length moves for a length cut, from the log: one within a tenth, and what was seen."""
    top, below = 1.0 / 0.1**2, 1.0 / 0.1**2
    for before, after in itertools.pairwise(log):
        cut = before.cut / share
        if cut > 0.0:
            weight = cut**2 / (before.spread**2 + after.spread**2)
            top, below = top + weight * (before.apparent - after.apparent) / cut, below + weight
    return min(max(top / below, 0.7), 1.4)


def _turns(log: TrimLog, way: float) -> int:
    """How often the work turns from cutting to lengthening or back, with a next step that way: off and on again gets nowhere."""
    signs = [math.copysign(1.0, entry.cut) for entry in log if entry.cut] + [way]
    return sum(a != b for a, b in itertools.pairwise(signs))


def _advice(
    design: Design, fit: _Fitted, aim: _Aim, *, now: float, allowed: float, limit: float, log: TrimLog
) -> TrimAdvice:
    share = per_piece(design)
    made = sum(1 for entry in log if entry.cut > 0.0)
    rounds = (*log, TrimEntry("", "", 0.0, fit.apparent, fit.spread, 0.0))
    gain = _gain(rounds, share)
    excess = (fit.apparent - aim.length) / gain
    name = main_piece(design)
    whole = abs(excess) * share
    amount, bend, verdict = 0.0, 0.0, "stop"
    if now <= allowed:
        verdict = "done"
    else:
        part = (FIRST_CUT, SECOND_CUT, LAST_CUT)[min(made, MOST_CUTS - 1)]
        safe = (fit.apparent - fit.spread - aim.shortest) / gain
        cut = min(part * excess, safe) * share
        better = aim.worst < now - 0.01 and fit.misfit < NO_FIT
        bend = aim.bend if better else 0.0
        if cut >= SMALLEST_CUT and made < MOST_CUTS and better and _turns(log, 1.0) < 2:
            verdict, amount = "cut", cut
        elif excess < 0.0 and -excess > fit.spread and better and _turns(log, -1.0) < 2:
            verdict, amount = "lengthen", whole
        elif bend:
            verdict = "bend"
        elif now <= float(reflection_of_swr(limit)):
            verdict = "done"
    swr_now, expected = float(swr_of(now)), float(swr_of(aim.worst))
    words = _words(verdict, name.name, amount, whole, bend, swr_now, limit, made + 1, fit.misfit < NO_FIT)
    return TrimAdvice(
        verdict, name.name, name.quantity, amount, whole, bend_key(design) if bend else "", bend, fit.apparent, fit.spread,
        swr_now, expected, limit, made + 1, words,
    )  # fmt: skip


def _words(
    verdict: str, piece: str, amount: float, whole: float, bend: float, now: float, limit: float, number: int,
    fits: bool,
) -> str:  # fmt: skip
    which, where = PIECES[piece]
    bending = ""
    if bend:
        way = "down" if bend > 0 else "up"
        bending = f"Bend every radial {format_angle(abs(bend), digits=0)} further {way}"
    reads = f"it reads SWR {format_ratio(now)} at worst over the bands, asked are {format_ratio(limit)}"
    if verdict == "done":
        return f"Leave it: {reads}."
    if verdict == "cut":
        order = f"Cut {inches(amount)} off {which}, {where} (cut {number} of at most {MOST_CUTS}, of {inches(whole)} in all)"
        return f"{order}{'. ' + bending if bending else ''}; then sweep again: {reads}."
    if verdict == "lengthen":
        return (
            f"Too short by {inches(whole)}: {reads}. Lengthen {which}, {where}: a sleeve or a screw cap over the tip, or new metal "
            f"cut {100 * TRIM:.0f} % long{'. ' + bending if bending else ''}; then sweep again."
        )
    if verdict == "bend":
        return f"{bending} and sweep again: {reads}; the length is right."
    why = (
        "that is not for its length"
        if fits
        else "the sweep is not that of this antenna with any length near the design's"
    )
    return f"Do not cut: {reads}, and {why}. Look at the diagnosis for another cause."


@dataclass(frozen=True)
class Offset:
    """What a builder's work adds to a quantity: its ``mean`` and ``spread`` from ``count`` antennas. Lengths as part of the length."""

    key: str
    mean: float
    spread: float
    count: int = 1


@dataclass(frozen=True)
class Calibration:
    """What this builder's pipe, connector and hands do, by the kind of metal and plastic it was found on."""

    offsets: tuple[Offset, ...] = ()

    def offset(self, key: str) -> Offset | None:
        """The offset found for a kind of build."""
        return next((one for one in self.offsets if one.key == key), None)


#: Scatter of an offset from one antenna to the next of the same kind, part of the length. Common practice, no source.
SCATTER = 4e-3


def build_kind(design: Design) -> str:
    """What an offset holds for: family, socket, and the pipe over it."""
    cover = design.plan.cover.label if design.plan.cover is not None else "bare"
    return f"{design.family_key}, {design.plan.socket.key}, {cover}"


def learnt(known: Calibration, design: Design, *, true_length: float, apparent: float, spread: float) -> Calibration:
    """A calibration with one more antenna: ``true_length`` [m] of its main dimension by ruler, and what the sweep made of it.

    ``apparent`` [m] less the design's, with its ``spread``, as in the last :class:`TrimAdvice`. Antennas of one kind are weighed by
    their certainty, each with :data:`SCATTER` of its own.
    """
    design_length = design.values[design.family.main_length]
    part = (design_length + apparent) / true_length - 1.0
    width = math.hypot(spread / true_length, SCATTER)
    key, before = build_kind(design), known.offset(build_kind(design))
    if before is None:
        new = Offset(key, part, width)
    else:
        weights = before.spread**-2, width**-2
        mean = (before.mean * weights[0] + part * weights[1]) / sum(weights)
        new = Offset(key, mean, sum(weights) ** -0.5, before.count + 1)
    return Calibration((*(one for one in known.offsets if one.key != key), new))


def applied(known: Calibration, design: Design) -> Design:
    """A design whose metal, cut by this builder, will appear as long as the design asks: unchanged where nothing is known of its kind."""
    offset = known.offset(build_kind(design))
    if offset is None:
        return design
    main, family = design.family.main_length, design.family
    step = family.parameter(main).step
    length = round(design.values[main] / (1.0 + offset.mean) / step) * step
    return design.with_values(**{main: length})
