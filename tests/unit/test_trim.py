"""Trim advice for one rod and one dipole: direction, size, the log, the limits of a cut, and what is carried over."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small_needs import design_for, need_for

from aerialwright.bench.altered import with_plastic
from aerialwright.bench.diagnose import DiagnosisError
from aerialwright.bench.records import Measured, Moved
from aerialwright.bench.responses import solver
from aerialwright.bench.trim import (
    FIRST_CUT,
    MOST_CUTS,
    Calibration,
    TrimAdvice,
    TrimEntry,
    TrimLog,
    advise,
    applied,
    learnt,
)
from aerialwright.design.model import Design
from aerialwright.lines.mismatch import swr_of
from aerialwright.need.model import Band
from aerialwright.structure.model import Structure

BANDS = (Band("band", 144e6, 146e6),)
NEED = need_for((144.0, 146.0))
ROD = design_for("ground-plane", NEED, rod_length=0.49, radial_length=0.52, radial_droop=42.0)
DIPOLE = design_for("dipole", NEED, total_length=0.952)
F = np.linspace(118e6, 178e6, 121)


def swept(design: Design, structure: Structure) -> Moved:
    gamma = solver(F, design, 50.0)(structure)
    sweep = Measured(F, gamma, 50.0, True, "test")
    return Moved(sweep, sweep, np.zeros(len(F)), np.zeros(len(F)), 0.0, ())


def worst(moved: Moved) -> float:
    inside = (F >= 144e6) & (F <= 146e6)
    return float(swr_of(moved.at_antenna.reflection[inside]).max())


def asked(design: Design, structure: Structure, *, limit: float = 1.5, log: TrimLog = ()) -> TrimAdvice:
    return advise(design, swept(design, structure), BANDS, reference=50.0, limit=limit, log=log)


def longer(design: Design, by: float) -> Structure:
    main = design.family.main_length
    return design.with_values(**{main: design.values[main] + by}).structure()


def test_a_good_antenna_is_left_alone() -> None:
    advice = asked(ROD, ROD.structure())
    assert advice.verdict == "done" and advice.amount == 0.0
    assert advice.text.startswith("Leave it")


def test_first_cut_goes_six_tenths_of_the_way() -> None:
    advice = asked(ROD, longer(ROD, 0.030), limit=1.3)
    assert (advice.verdict, advice.piece, advice.count, advice.number) == ("cut", "rod", 1, 1)
    assert advice.apparent == pytest.approx(0.030, abs=2e-3)
    assert 0.0 < advice.amount <= FIRST_CUT * advice.whole + 1e-9
    assert "at its tip" in advice.text and "mm (" in advice.text and " in)" in advice.text


def test_both_arms_of_a_dipole_equally() -> None:
    """Half of the change of the total length comes off each of the two arms."""
    advice = asked(DIPOLE, longer(DIPOLE, 0.060), limit=1.7)
    assert (advice.verdict, advice.piece, advice.count) == ("cut", "arm", 2)
    assert advice.amount == pytest.approx(0.5 * FIRST_CUT * (advice.whole / 0.5), rel=1e-6)
    assert "both arms" in advice.text and "equally" in advice.text


def test_too_short_says_how_to_lengthen() -> None:
    advice = asked(ROD, longer(ROD, -0.030))
    assert advice.verdict == "lengthen"
    assert "sleeve" in advice.text
    assert worst(swept(ROD, longer(ROD, -0.030))) > 1.5 >= worst(swept(ROD, longer(ROD, advice.whole - 0.030)))


@pytest.mark.parametrize("plastic", [0.0, 0.15])
def test_three_cuts_reach_the_limit_and_no_more_are_made(plastic: float) -> None:
    """Also in a pipe that the design knows nothing of."""
    off, log = 0.035, ()
    for _ in range(MOST_CUTS + 1):
        advice = asked(ROD, with_plastic(longer(ROD, off), plastic), limit=1.4, log=log)
        if advice.verdict != "cut":
            break
        log = (*log, advice.entry(date="today", sweep="s"))
        off -= advice.amount
    assert advice.verdict == "done"
    assert 1 <= len(log) <= MOST_CUTS
    assert worst(swept(ROD, with_plastic(longer(ROD, off), plastic))) <= 1.4


def test_after_three_cuts_the_saw_is_put_away() -> None:
    log = tuple(TrimEntry(f"day {n}", "s", 1e-3, 0.03, 1e-3, 2.0) for n in range(MOST_CUTS))
    advice = asked(ROD, longer(ROD, 0.030), limit=1.3, log=log)
    assert advice.verdict != "cut"


def test_a_bend_is_advised_where_length_is_not_enough() -> None:
    """Level radials leave the resistance low (about 20 ohm): no length of the rod mends that, a bend down does."""
    flat = ROD.with_values(radial_droop=20.0)
    advice = asked(ROD, flat.structure(), limit=1.3)
    assert advice.bend_key == "radial_droop" and advice.bend > 8.0
    assert "Bend every radial" in advice.text and "further down" in advice.text


def test_a_fault_that_no_length_mends_is_not_cut() -> None:
    """A feed line with 3 ohm in place of the antenna."""
    sweep = swept(ROD, ROD.structure())
    gamma = np.full(len(F), (3.0 - 50.0) / (3.0 + 50.0) + 0j)
    dead = replace(sweep, at_antenna=replace(sweep.at_antenna, reflection=gamma))
    advice = advise(ROD, dead, BANDS, reference=50.0, limit=2.0)
    assert advice.verdict == "stop" and "Do not cut" in advice.text


def test_a_sweep_must_hold_the_bands() -> None:
    part = swept(ROD, ROD.structure())
    few = F < 145e6
    short = replace(
        part,
        at_antenna=replace(part.at_antenna, frequency=F[few], reflection=part.at_antenna.reflection[few]),
        uncertainty=part.uncertainty[few],
    )
    with pytest.raises(DiagnosisError, match="does not hold all bands"):
        advise(ROD, short, BANDS, reference=50.0, limit=2.0)


def test_what_was_learnt_shortens_the_next_rod() -> None:
    """A pipe made 0.48 m of metal look like 0.50: the next 0.49 m rod is cut to 0.49 / (0.50 / 0.48)."""
    known = learnt(Calibration(), ROD, true_length=0.48, apparent=0.010, spread=1e-3)
    assert known.offsets[0].mean == pytest.approx(0.50 / 0.48 - 1.0)
    assert applied(known, ROD).values["rod_length"] == pytest.approx(round(0.49 * 0.48 / 0.50, 3))
    assert applied(known, DIPOLE) == DIPOLE


def test_two_antennas_are_weighed_and_surer_than_one() -> None:
    one = learnt(Calibration(), ROD, true_length=0.48, apparent=0.010, spread=1e-3)
    two = learnt(one, ROD, true_length=0.49, apparent=0.010, spread=1e-3)
    assert two.offsets[0].count == 2 and two.offsets[0].spread < one.offsets[0].spread
    low, high = sorted((0.50 / 0.48 - 1.0, 0.50 / 0.49 - 1.0))
    assert low < two.offsets[0].mean < high
