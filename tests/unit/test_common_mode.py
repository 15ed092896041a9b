"""The outside of the coax: tube, chokes, what is reported of them and where."""

from __future__ import annotations

import dataclasses
import itertools
import json
import math

import numpy as np
import pytest
from small_needs import RODS, SHEET, design_for, need_for

from aerialwright.app.workflow import evaluation_data
from aerialwright.base.errors import DesignError
from aerialwright.design import common_mode as module
from aerialwright.design.choose import LOOKED_AT_WITH_COAX, choose
from aerialwright.design.common_mode import (
    CHOKE_AT,
    LENGTHS,
    TUBE,
    chokes,
    coax_diameter,
    common_mode,
    with_one_rod,
    with_side_coax,
    with_tube,
)
from aerialwright.design.model import Design
from aerialwright.design.quick import QUICK
from aerialwright.design.records import CommonMode, Comparison
from aerialwright.engine.sweep import EngineSettings
from aerialwright.need.model import FeedLine, Need, Site
from aerialwright.report.answer import render_answer_text
from aerialwright.report.html import render_report
from aerialwright.solution.solve import Solution, solve
from aerialwright.structure.model import Load, Structure

NEED = need_for((144, 146), stock=(RODS, SHEET))
FREQUENCY = math.sqrt(144e6 * 146e6)
WAVE = 299792458.0 / FREQUENCY


def solved(structure: Structure) -> Solution:
    return solve(structure, np.array([FREQUENCY]), settings=EngineSettings(mesh=QUICK), check=False)


@pytest.fixture(scope="module")
def design() -> Design:
    return design_for("ground-plane", NEED)


@pytest.fixture(scope="module")
def mode(design: Design) -> CommonMode:
    found = common_mode(design, NEED, NEED.must_bands)
    assert found is not None
    return found


def test_the_tube_hangs_on_the_socket(design: Design) -> None:
    """Where the body ends, as long and thick as asked; the feed and all other metal untouched."""
    structure = design.structure()
    tube = with_tube(structure, diameter=5e-3, length=0.7)
    rod = tube.rods[-1]
    body = next(s for s in tube.surfaces if s.name == "socket body")
    assert rod.name == TUBE and rod.radius == 2.5e-3
    assert body.profile[-1] == (rod.radius, rod.points[0][2])
    assert rod.points[0][2] - rod.points[1][2] == pytest.approx(0.7)
    assert tube.rods[:-1] == structure.rods and tube.feed == structure.feed
    for thick in (2 * body.profile[0][0], 30e-3):  # as thick as the body, and a mast thicker than it
        assert solved(with_tube(structure, diameter=thick, length=0.6)).sweep.impedance[0].real > 5.0
    with pytest.raises(DesignError, match="no socket on the axis"):
        with_tube(design_for("dipole", NEED).structure(), diameter=5e-3, length=0.7)


def test_the_tube_is_the_coax_in_use() -> None:
    assert coax_diameter(NEED) == 5.0e-3
    assert coax_diameter(dataclasses.replace(NEED, feed_lines=(FeedLine("RG-213", 5.0),))) == 10.3e-3
    assert coax_diameter(dataclasses.replace(NEED, feed_lines=(FeedLine("other", 0.0),))) == module.USUAL_COAX


@pytest.mark.parametrize("case", range(5))
def test_the_figures_are_those_of_the_structure_solved_anew(design: Design, mode: CommonMode, case: int) -> None:
    """Chokes are exchanged inside one system; a structure with the same loads of its own gives the same current and impedance."""
    parts = (1, 3)  # half a wave and one wave
    found = mode.cases[case]
    kinds = (None, *chokes(FREQUENCY))
    choke = kinds[case]
    swr = []
    for index in range(len(LENGTHS)):
        length = LENGTHS[index]
        loads: tuple[Load, ...] = ()
        if choke is not None:
            places = (CHOKE_AT, min(CHOKE_AT + 0.25, length - CHOKE_AT)) if choke.second else (CHOKE_AT,)
            loads = tuple(dataclasses.replace(choke.load, rod=TUBE, distance=at * WAVE) for at in places)
        tube = with_tube(design.structure(), diameter=5e-3, length=length * WAVE, loads=loads)
        again = solved(tube)
        z = again.sweep.impedance[0]
        swr.append((1 + abs((z - 50) / (z + 50))) / (1 - abs((z - 50) / (z + 50))))
        if index in parts:
            assert found.current[index] == pytest.approx(again.common_mode(TUBE, FREQUENCY), abs=0.02)
    assert found.worst_swr == pytest.approx(max(swr), rel=1e-4)
    assert found.length == pytest.approx(np.array(LENGTHS) * WAVE)


def test_current_vanishes_at_the_end_and_a_choke_stops_it(design: Design) -> None:
    """Open end: no current. A megohm at the hub: the current there falls under a hundredth (points beside it)."""
    structure = design.structure()
    plain = solved(with_tube(structure, diameter=5e-3, length=0.75 * WAVE))
    place, current = plain.current(TUBE, FREQUENCY)
    assert abs(current[-1]) < 0.03 * np.max(np.abs(current))
    blocked = solved(with_tube(structure, diameter=5e-3, length=0.75 * WAVE, loads=(Load(TUBE, 0.02, 1e6),)))
    there, through = blocked.current(TUBE, FREQUENCY)
    at = float(np.interp(0.02, there, np.abs(through)))
    assert at < 1e-2 * float(np.interp(0.02, place, np.abs(current)))


def test_a_quarter_wave_of_coax_is_a_fifth_radial(mode: CommonMode) -> None:
    """It resonates like the radials and carries more than any of the longer odd ones; every half wave carries least.

    Textbook reasoning on a line open at its end: low impedance at the hub for odd quarters, high for even ones."""
    plain = mode.cases[0]
    assert plain.key == "none" and plain.worst_length == pytest.approx(0.25 * WAVE)
    assert plain.current[0] == plain.current.max() == plain.worst_current
    odd, even = plain.current[0::2], plain.current[1::2]
    assert odd.min() > even.max()
    assert list(odd) == sorted(odd, reverse=True), "radiation takes its share along a longer one"


def test_the_worst_of_the_lengths_is_told(mode: CommonMode) -> None:
    plain, best = mode.cases[0], min(mode.cases[1:], key=lambda case: case.worst_current)
    assert [case.key for case in mode.cases] == ["none", "coil", "sleeve", "beads", "two"]
    assert best.key == "two", "one choke leaves the coax below it free to resonate"
    assert best.worst_current < plain.worst_current - 10.0
    assert best.worst_swr < plain.worst_swr
    assert (
        f"{abs(plain.worst_current):.0f} dB above" in mode.reading
        or f"{abs(plain.worst_current):.0f} dB below" in mode.reading
    )
    assert (
        f"up to {plain.worst_swr:.2f}" in mode.reading
        and f"from {mode.swr_without:.2f}" in mode.reading
        and best.title in mode.reading
    )
    for case in mode.cases:
        assert case.worst_swr >= 1.0 and case.gain_gained >= -case.gain_lost
        assert case.lowest_gain <= mode.gain_without + case.gain_gained
    assert mode.patterns[0][0] == "antenna alone" and len(mode.patterns) == 3
    alone, coax, choked = (10 * np.log10(pattern.gain.max()) for _, pattern in mode.patterns)
    assert abs(choked - alone) < abs(coax - alone) + 0.5
    assert mode.patterns[2][1].efficiency < mode.patterns[1][1].efficiency, "ferrite warms"


def test_a_larger_disc_keeps_more_current_off() -> None:
    """Edge diffraction only: a disc two waves across against one of half a wave, without choke."""
    found = []
    for part in (0.5, 2.0):
        design = design_for("disc-ground-plane", NEED, disc_diameter=round(part * WAVE, 3))
        mode = common_mode(design, NEED, NEED.must_bands)
        assert mode is not None
        found.append(mode.cases[0].worst_current)
    assert found[1] < found[0] - 3.0


def test_chokes_are_what_they_say() -> None:
    """Sleeve: R and X near those of the lossy shorted line it stands for, 5 % off resonance. Beads: five of 150 ohm.

    Coil: inductive below its resonance, some kilohm."""
    by_key = {choke.key: choke for choke in chokes(150e6)}
    z0, quality = 60 * math.log(5.6), 50.0
    length = 0.25 / 1.05  # in wavelengths: resonant 5 % higher
    line = z0 * np.tanh((math.pi / quality + 2j * math.pi) * length)
    assert abs(by_key["sleeve"].load.impedance(150e6)) == pytest.approx(abs(line), rel=0.1)
    assert by_key["sleeve"].load.impedance(150e6).imag == pytest.approx(line.imag, rel=0.1)
    assert by_key["beads"].load.impedance(150e6) == 750.0
    assert by_key["coil"].load.impedance(150e6).imag > 1000.0
    assert by_key["coil"].load.impedance(150e6 * 1.2).imag < 0.0
    assert all(choke.basis for choke in by_key.values())


def test_coax_behind_a_wide_sheet_is_said_to_be_outside_the_model() -> None:
    need = dataclasses.replace(need_for((144, 146)), site=Site("metal roof", metal_sheet=1000.0))
    found = common_mode(design_for("sheet-monopole", need), need, need.must_bands)
    assert found is not None and "behind the sheet" in found.reading
    assert found.cases == () and found.patterns == ()


def impedance(structure: Structure) -> complex:
    return complex(solved(structure).sweep.impedance[0])


@pytest.mark.parametrize("key", ["dipole", "cage-dipole", "bicone"])
def test_a_stopped_coax_acts_as_one_that_is_cut_off(key: str) -> None:
    """Joined, it moves the impedance by ohms; stopped it is what a cut coax is: a short stub, and a rod that touches nothing."""
    alone = with_one_rod(design_for(key, NEED).structure())
    assert impedance(alone) == pytest.approx(impedance(design_for(key, NEED).structure()), rel=0.01)
    stop = Load(TUBE, 0.012, resistance=1e7)
    free = with_side_coax(alone, diameter=5e-3, away=0.5, length=1.5)
    stopped = with_side_coax(alone, diameter=5e-3, away=0.5, length=1.5, loads=(stop,))
    tube = free.rods[-1]
    x, y, z = tube.points[0]
    loose = dataclasses.replace(tube, points=((x + 0.030, y, z), *tube.points[1:]))
    cut = dataclasses.replace(free, rods=(*free.rods[:-1], loose))
    assert abs(impedance(free) - impedance(cut)) > 3.0
    assert abs(impedance(stopped) - impedance(cut)) < 0.03 * abs(impedance(cut))


def test_coax_away_from_a_level_dipole_of_equal_arms_hangs_straight_down() -> None:
    design = design_for("dipole", NEED)
    level = dataclasses.replace(design, plan=dataclasses.replace(design.plan, horizontal=True)).structure()
    hung = with_side_coax(level, diameter=5e-3, away=0.5, length=1.0)
    tube = next(rod for rod in hung.rods if rod.name == TUBE)
    (x0, y0, z0), (x1, y1, z1) = tube.points
    assert (x0, y0) == (x1, y1) and z0 - z1 == pytest.approx(1.0)
    total = sum(math.dist(a, b) for rod in hung.rods if rod.name != TUBE for a, b in itertools.pairwise(rod.points))
    assert total == pytest.approx(math.dist(*level.rods[0].points))


@pytest.mark.parametrize("key", ["dipole", "cage-dipole"])
def test_coax_from_the_middle_is_judged_like_any_other(key: str) -> None:
    found = common_mode(design_for(key, NEED), NEED, NEED.must_bands)
    assert found is not None and "right angle" in found.reading
    plain, *choked = found.cases
    assert plain.worst_current > -15.0, "a bare coax at a dipole carries current (common practice, no source)"
    assert min(case.worst_current for case in choked) < plain.worst_current - 5.0


def test_coax_that_ends_inside_a_cone_is_left_out() -> None:
    need = need_for((118, 137))
    design = design_for("discone", need)
    found = common_mode(design, need, need.must_bands)
    assert found is not None
    lowest = -min(z for rod in design.structure().rods for _, _, z in rod.points)
    assert found.cases[0].length.min() + design.plan.socket.body_length > lowest
    assert len(found.cases[0].length) < len(LENGTHS)


@pytest.fixture(scope="module")
def answered() -> Comparison:
    need: Need = need_for((144, 146), largest=1.1)
    return choose(need, curves=False)


def test_the_first_proposals_have_it_and_the_report_tells_it(answered: Comparison) -> None:
    """Recommendation and runner-up, no other; section, table and picture in the page; text; JSON without NaN."""
    for rank, proposal in enumerate(answered.proposals):
        for member in proposal.members:
            assert (member.evaluation.common_mode is not None) == (rank < LOOKED_AT_WITH_COAX)
    shown = [m.evaluation for p in answered.proposals[:LOOKED_AT_WITH_COAX] for m in p.members]
    assert any(e.common_mode is not None and e.common_mode.cases for e in shown)
    page = render_report(answered)
    assert page.count('id="coax"') == 1 and "Does the coax radiate?" in page
    assert "with and without coax" in page and "five clamp-on ferrites" in page
    top = answered.proposals[0].members[0].evaluation.common_mode
    assert top is not None
    assert top.reading in " ".join(render_answer_text(answered).split())
    for evaluation in shown:
        data = json.loads(json.dumps(evaluation_data(evaluation), allow_nan=False))
        assert data["common_mode"]["reading"]
        mode = evaluation.common_mode
        assert mode is not None
        assert len(data["common_mode"]["cases"]) == len(mode.cases)
