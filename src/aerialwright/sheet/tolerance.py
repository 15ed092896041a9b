"""How exact a dimension must be, by the engine's own gradients and the SWR that was promised."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aerialwright.antennas import cover
from aerialwright.antennas.records import Piece
from aerialwright.base.errors import AerialwrightError
from aerialwright.design.evaluate import curve_shift, worst_swr
from aerialwright.design.gradient import impedance_gradient
from aerialwright.design.model import Design
from aerialwright.design.quick import QUICK
from aerialwright.design.records import Evaluation
from aerialwright.need.model import Band
from aerialwright.sheet.records import Tolerance
from aerialwright.solution.records import ComplexArray, FloatArray

#: The worst SWR may rise by this for one dimension alone. A choice of this program: half of what a meter at home can tell.
RISE = 0.1
#: No tolerance is wider than this part of a length, this many metres, or this many degrees: looks and symmetry end there.
WIDEST_PART, WIDEST, WIDEST_ANGLE = 0.05, 20e-3, 10.0
#: Steps that people work to: millimetres or degrees.
STEPS = (0.1, 0.2, 0.3, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0)
#: A dimension that may be off by this many millimetres or degrees does not matter to a careful hand.
EASY = {"length": 3.0, "angle": 3.0}


@dataclass(frozen=True)
class Slope:
    """What a dimension does: ``impedance`` (n,) [ohm per m or degree], ``frequency`` [Hz per m or degree] of the whole curve."""

    key: str
    label: str
    kind: str
    impedance: ComplexArray
    frequency: float

    def scaled(self, factor: float) -> Slope:
        """The slope by another length of which this dimension is ``factor`` times."""
        return Slope(self.key, self.label, self.kind, self.impedance * factor, self.frequency * factor)


@dataclass(frozen=True)
class Slopes:
    """Impedance (n,) [ohm] at ``frequency`` (n,) [Hz] over the bands, the line it is to match, and the slopes by dimension."""

    frequency: FloatArray
    impedance: ComplexArray
    reference: float
    limit: float
    by_key: dict[str, Slope]

    def worst(self, slope: Slope, change: float) -> float:
        """Worst SWR with the dimension off by ``change`` either way, to first order."""
        return max(worst_swr(self.impedance + sign * change * slope.impedance, self.reference) for sign in (1.0, -1.0))

    def tolerance(self, slope: Slope, *, size: float) -> Tolerance:
        """The tolerance of a length [m] (or angle [degree]) of ``size``."""
        unit = 1e-3 if slope.kind == "length" else 1.0
        base = worst_swr(self.impedance, self.reference)
        rise = RISE if base >= self.limit else min(RISE, max(self.limit - base, 0.5 * RISE))
        widest = min(WIDEST, max(WIDEST_PART * size, unit)) if slope.kind == "length" else WIDEST_ANGLE
        steps = [step for step in STEPS if step * unit <= widest + 1e-12]
        good = [step for step in steps if self.worst(slope, step * unit) <= base + rise] or steps[:1]
        most = max(good)
        at_mean = slope.impedance[int(np.argmax(np.abs(slope.impedance)))] * unit
        word = "mm" if slope.kind == "length" else "degree"
        weight = "does not matter much" if most >= EASY[slope.kind] or most == steps[-1] else "matters"
        reason = (
            f"{weight}: 1 {word} moves the curve by {slope.frequency * unit / 1e6:+.2f} MHz and the impedance by up to "
            f"{abs(at_mean):.2g} ohm; off by {most:g} {word} it leaves the worst SWR at {self.worst(slope, most * unit):.2f} "
            f"instead of {base:.2f}"
        )
        return Tolerance(most * unit, slope.kind, slope.frequency * unit, complex(at_mean), reason)


def slopes_of(evaluation: Evaluation, bands: tuple[Band, ...], *, reference: float, limit: float) -> Slopes | None:
    """Gradients over ``bands`` of every length and angle that the builder makes; None where there is no design to change."""
    design = evaluation.design
    if design is None:
        return None
    # Two bands or more say enough by their edges; each frequency costs a solve for every dimension.
    inner = (0.5,) if len(bands) == 1 else ()
    at = np.unique([band.low + part * (band.high - band.low) for band in bands for part in (0.0, *inner, 1.0)])
    near = np.array([int(np.argmin(np.abs(evaluation.frequency - f))) for f in at])
    keys = tuple(
        p.key
        for p in design.family.parameters
        if p.kind != "count" and p.key in design.values and (p.tuned or p.key == "gap")
    )
    try:
        _, gradient = impedance_gradient(design, at, keys=keys, settings=QUICK)
    except AerialwrightError:
        # A dimension at the edge of what can be solved: no tolerance is better than a guessed one.
        return None
    along = np.gradient(evaluation.sweep.impedance, evaluation.frequency)[near]
    found = {}
    for key, by in gradient.items():
        parameter = design.family.parameter(key)
        found[key] = Slope(key, parameter.label, parameter.kind, by, curve_shift(along, by))
    return Slopes(at, evaluation.sweep.impedance[near], reference, limit, found)


@dataclass(frozen=True)
class Follows:
    """How a piece's finished ``length`` and its first ``bend`` follow the dimensions: [m per m] and [degree per degree] by key."""

    length: dict[str, float]
    bend: dict[str, float]

    def length_key(self, main: str) -> str | None:
        """The dimension that an error in the cut shows up as: the main one where it has a part in it, else the strongest."""
        if abs(self.length.get(main, 0.0)) >= 0.2:
            return main
        return max(self.length, key=lambda key: abs(self.length[key]), default=None)

    def bend_key(self) -> str | None:
        """The angle that the bend follows."""
        return max(self.bend, key=lambda key: abs(self.bend[key]), default=None)


def made_of(design: Design) -> dict[str, Follows]:
    """For each piece by name, how it follows the dimensions: by asking the family for its pieces with each one a little larger."""
    family = design.family
    base = {piece.name: piece for piece in cover.pieces(family, design.plan, design.values)}
    out = {name: Follows({}, {}) for name in base}
    for parameter in family.parameters:
        if parameter.kind == "count" or parameter.key not in design.values:
            continue
        step = 1e-4 if parameter.kind == "length" else 1e-2
        changed = design.with_values(**{parameter.key: design.values[parameter.key] + step})
        for other in cover.pieces(family, design.plan, changed.values):
            piece = base.get(other.name)
            if piece is None:
                continue
            if parameter.kind == "length" and piece.length is not None and other.length is not None:
                _note(out[piece.name].length, parameter.key, (other.length - piece.length) / step)
            if parameter.kind == "angle" and piece.bends and other.bends:
                _note(out[piece.name].bend, parameter.key, (other.bends[0].angle - piece.bends[0].angle) / step)
    return out


def _note(found: dict[str, float], key: str, by: float) -> None:
    if abs(by) > 0.05:
        found[key] = by


def tolerances(
    piece: Piece, follows: Follows | None, slopes: Slopes | None, *, main: str
) -> tuple[Tolerance | None, Tolerance | None]:
    """(length, bend) tolerance of one piece; None where nothing solved depends on it."""
    if slopes is None or follows is None or piece.shape == "pipe":
        return None, None
    length_key, bend_key = follows.length_key(main), follows.bend_key()
    length = bend = None
    if length_key in slopes.by_key and piece.length is not None:
        length = slopes.tolerance(slopes.by_key[length_key].scaled(1.0 / follows.length[length_key]), size=piece.length)
    if bend_key in slopes.by_key and piece.bends:
        slope = slopes.by_key[bend_key].scaled(1.0 / follows.bend[bend_key])
        bend = slopes.tolerance(slope, size=piece.bends[0].angle)
    return length, bend
