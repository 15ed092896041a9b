"""The diagnosis of one ground plane: every cause injected once, the likelihood against a reference library, bad input."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
import skrf
from scipy.stats import multivariate_normal
from small_needs import RODS, SHEET, design_for, need_for

from aerialwright.bench.altered import one_radial_off, with_plastic
from aerialwright.bench.diagnose import Diagnosis, DiagnosisError, diagnose
from aerialwright.bench.evidence import HAND_HELD, Likelihood, Observed, binned
from aerialwright.bench.faults import causes
from aerialwright.bench.records import Measured, Moved
from aerialwright.bench.responses import responses, solver, view
from aerialwright.bench.text import SweepError
from aerialwright.design.common_mode import with_tube
from aerialwright.design.cover_effect import bare_design
from aerialwright.design.model import Design
from aerialwright.solution.records import ComplexArray

NEED = need_for((144.0, 146.0))
BANDS = NEED.must_bands
DESIGN = design_for("ground-plane", NEED, rod_length=0.49, radial_length=0.52, radial_droop=42.0)
F = np.linspace(118e6, 178e6, 1001)
LIGHT = 299792458.0


def moved(gamma: ComplexArray, *, f: ComplexArray = F, phase: bool = True, reference: float = 50.0) -> Moved:
    """A sweep calibrated at the antenna."""
    sweep = Measured(f, gamma, reference, phase, "test")
    return Moved(sweep, sweep, np.zeros(len(f)), np.zeros(len(f)), 0.0, ())


def read(gamma: ComplexArray, seed: int) -> ComplexArray:
    """With a directivity of -35 dB and the noise of a trace."""
    random = np.random.default_rng(seed)
    noise = random.normal(size=(2, len(gamma))) * 2e-3
    return gamma + 0.0178 * np.exp(2j * np.pi * random.random()) + noise[0] + 1j * noise[1]


def said(gamma: ComplexArray, *, seed: int = 0, phase: bool = True) -> Diagnosis:
    return diagnose(DESIGN, moved(read(gamma, seed), phase=phase), BANDS, reference=50.0)


@pytest.fixture(scope="module")
def swept() -> ComplexArray:
    """The design itself over the sweep."""
    return solver(F, DESIGN, 50.0)(DESIGN.structure())


def metal(**changes: float) -> ComplexArray:
    values = {key: DESIGN.values[key] + off for key, off in changes.items()}
    return solver(F, DESIGN, 50.0)(DESIGN.with_values(**values).structure())


def test_nothing_wrong_comes_first_where_nothing_is_wrong(swept: ComplexArray) -> None:
    found = said(swept)
    assert found.best.cause.key == "nothing"
    assert sum(finding.probability for finding in found.findings) == pytest.approx(1.0)


@pytest.mark.parametrize(("off", "key"), [(0.02, "rod_length too long"), (-0.025, "rod_length too short")])
def test_length_of_the_rod(off: float, key: str) -> None:
    best = said(metal(rod_length=off)).best
    assert best.cause.key == key
    assert best.value == pytest.approx(off, abs=2.5e-3)
    assert "mm (" in best.sentence and " in)" in best.sentence


def test_bend_of_the_radials() -> None:
    best = said(metal(radial_droop=14.0)).best
    assert best.cause.key == "radial_droop"
    assert best.value == pytest.approx(14.0, abs=2.0)


@pytest.mark.parametrize("part", [-1.0, -0.25])
def test_one_radial(part: float) -> None:
    found = said(solver(F, DESIGN, 50.0)(one_radial_off(DESIGN, part)))
    assert (found.best.cause.key, found.confidence) == ("one radial", "high")


def test_plastic_or_length_both_mean_trim() -> None:
    """Plastic looks much like a longer rod: the right cause is among the first two and the next action is the same."""
    found = said(solver(F, DESIGN, 50.0)(with_plastic(DESIGN.structure(), 0.25)))
    assert "plastic" in [finding.cause.key for finding in found.findings[:2]]
    assert found.best.cause.kin == "trim" and found.kin_probability > 0.7


def test_coax_outside() -> None:
    tube = with_tube(DESIGN.structure(), diameter=4e-3, length=1.33)
    best = said(solver(F, DESIGN, 50.0)(tube)).best
    assert best.cause.key == "coax outside"
    assert best.value == pytest.approx(1.33, abs=0.05)


def test_feed_side(swept: ComplexArray) -> None:
    """Plane, loss, open and short are made here by their text-book formulas."""
    turn = np.exp(-4j * np.pi * F * 0.030 / LIGHT)
    plane = said(swept * turn).best
    assert plane.cause.key == "plane" and plane.value == pytest.approx(0.030, abs=4e-3)
    loss = said(swept * 10.0 ** (-2 * 1.5 / 20)).best
    assert loss.cause.key == "loss" and loss.value == pytest.approx(1.5, abs=0.2)
    assert said(0.97 * turn).best.cause.key == "open"
    assert said(-0.97 * turn).best.cause.key == "short"


def test_wrong_cable_and_strays_by_another_library(swept: ComplexArray) -> None:
    """A 75 ohm cable and a capacitor at the feed as scikit-rf cascades them."""
    frequency = skrf.Frequency.from_f(F, unit="Hz")
    antenna = skrf.Network(frequency=frequency, s=swept[:, None, None], z0=50.0)
    fifty = skrf.media.DefinedGammaZ0(frequency, z0=50.0, gamma=2j * np.pi * F / LIGHT)
    cable = skrf.media.DefinedGammaZ0(frequency, z0=75.0, z0_port=50.0, gamma=2j * np.pi * F / LIGHT)
    section = said((cable.line(0.45, "m") ** antenna).s[:, 0, 0]).best
    assert section.cause.key == "section" and section.value == pytest.approx(0.45, abs=0.02)
    strays = said((fifty.shunt_capacitor(8e-12) ** antenna).s[:, 0, 0]).best
    assert strays.cause.key == "strays" and strays.value == pytest.approx(8e-12, rel=0.1)


def test_echo_from_a_wall(swept: ComplexArray) -> None:
    echo = 0.12j * np.exp(-4j * np.pi * F * 3.0 / LIGHT) * (1.0 - swept**2)
    found = said(swept + echo)
    best = found.best
    assert best.cause.key == "near objects"
    assert best.value == pytest.approx(3.0, abs=0.3)
    assert "m (10 ft)" in best.sentence
    # What is drawn as the fitted curve holds the echo.
    true = np.interp(found.frequency, F, (swept + echo).real)
    assert np.abs(best.reflection.real - true).max() < 0.04 < np.abs(found.designed.real - true).max()


def test_magnitude_alone_still_tells_length() -> None:
    assert said(metal(rod_length=0.03), phase=False).best.cause.kin == "trim"


def test_a_thousand_points_in_under_two_seconds(swept: ComplexArray) -> None:
    said(swept)
    started = time.process_time()
    said(swept, seed=1)
    assert time.process_time() - started < 2.0


def test_likelihood_is_the_normal_density_of_its_covariance() -> None:
    """Against scipy's multivariate normal with the same covariance written out."""
    random = np.random.default_rng(3)
    n, k = 9, 3
    seen = Observed(
        np.linspace(1e8, 1.2e8, n), random.normal(size=n) * (0.3 + 0.1j), True, np.full(n, 4.0), np.zeros(n)
    )
    model = (random.normal(size=(2, n)) + 1j * random.normal(size=(2, n))) * 0.05
    hand = (random.normal(size=(2, k, n)) + 1j * random.normal(size=(2, k, n))) * 0.05
    likelihood = Likelihood(seen)
    found, _ = likelihood(model, hand)
    for row in range(2):
        columns = np.concatenate([hand[row], likelihood._terms(model)[row]])
        both = np.concatenate([columns.real, columns.imag], axis=1)
        white = 0.5 * HAND_HELD.trace**2 / 4.0 + HAND_HELD.floor**2
        rest = seen.reflection - model[row]
        wanted = multivariate_normal.logpdf(
            np.concatenate([rest.real, rest.imag]), cov=both.T @ both + white * np.eye(2 * n)
        )
        assert found[row] + 0.5 * 2 * n * -np.log(2 * np.pi) == pytest.approx(wanted, rel=1e-9)


def test_binning_keeps_a_curve() -> None:
    """A resonance brought to forty points is where it was, its noise a fifth."""
    f = np.linspace(100.0, 200.0, 2000)
    curve = 1.0 / (1.0 + 8j * (f / 150.0 - 150.0 / f))
    few = binned(f, curve, np.zeros(2000), phase_known=True, most=40)
    wanted = 1.0 / (1.0 + 8j * (few.frequency / 150.0 - 150.0 / few.frequency))
    assert len(few.frequency) == 40
    assert np.abs(few.reflection - wanted).max() < 2e-4


def test_uncertain_plane_makes_less_sure(swept: ComplexArray) -> None:
    near = metal(rod_length=0.012)
    sure = diagnose(DESIGN, moved(near), BANDS, reference=50.0)
    doubtful = replace(moved(near), uncertainty=np.full(len(F), 0.2))
    unsure = diagnose(DESIGN, doubtful, BANDS, reference=50.0)
    assert sure.best.probability > unsure.best.probability


def test_every_cause_says_something() -> None:
    """Each branch puts its middle into words, and every cause has an action and a test."""
    for design in (DESIGN, bare_design(DESIGN)):
        found = view(responses(design, BANDS, reference=50.0), np.linspace(120e6, 170e6, 21))
        for cause in causes(found, delay=40e-9):
            assert cause.action and cause.test and cause.title
            assert sum(branch.share for branch in cause.branches) == pytest.approx(1.0)
            for branch in cause.branches:
                assert branch.say(float(branch.value(np.array([0.5]))[0]))


def test_other_reference_is_brought_over(swept: ComplexArray) -> None:
    z = 50.0 * (1 + swept) / (1 - swept)
    found = diagnose(DESIGN, moved((z - 75.0) / (z + 75.0), reference=75.0), BANDS, reference=50.0)
    assert found.best.cause.key == "nothing"


@pytest.mark.parametrize(
    ("sweep", "word"),
    [
        (replace(moved(np.zeros(1001, complex)), refused="6 dB of cable hide the antenna"), "hide the antenna"),
        (moved(np.zeros(101, complex), f=np.linspace(400e6, 500e6, 101)), "0 readings lie in"),
        (moved(np.full(1001, np.nan + 0j)), "0 readings lie in"),
        (moved(np.zeros(1001, complex), phase=False, reference=75.0), "cannot be turned to 50 ohm"),
    ],
)
def test_sweeps_that_say_nothing(sweep: Moved, word: str) -> None:
    with pytest.raises((DiagnosisError, SweepError), match=word) as caught:
        diagnose(DESIGN, sweep, BANDS, reference=50.0)
    assert caught.value.mend


def test_a_design_without_rods_has_no_plastic() -> None:
    sheet = need_for((140.0, 180.0), stock=(RODS, SHEET))
    design: Design = design_for("bicone", sheet, plan=1)
    assert "plastic" not in responses(design, sheet.must_bands, reference=50.0).tables


def through_a_line(gamma: ComplexArray, delay: float, decibel: float, seed: int) -> Moved:
    """Swept through a line and moved back: the instrument's own error stands still at the far end and turns at the antenna."""
    both_ways = np.exp(-4j * np.pi * F * delay) * 10.0 ** (-decibel / 10.0)
    there = read(gamma * both_ways, seed)
    sweep = Measured(F, there / both_ways, 50.0, True, "test")
    at_instrument = Measured(F, there, 50.0, True, "test")
    loss = np.full(len(F), decibel)
    return Moved(at_instrument, sweep, np.full(len(F), 0.01) * 10.0 ** (decibel / 10.0), loss, delay, ())


def test_errors_that_turn_by_the_length_of_the_line_are_no_fault(swept: ComplexArray) -> None:
    """With 2 dB and 90 ns the ripple is three times the instrument's directivity; taken as slow it fits nothing."""
    good = through_a_line(swept, 90e-9, 2.0, 3)
    found = diagnose(DESIGN, good, BANDS, reference=50.0)
    assert found.best.cause.key == "nothing" and found.best.misfit < 1.5
    assert diagnose(DESIGN, replace(good, delay=0.0), BANDS, reference=50.0).best.misfit > 2.0 * found.best.misfit
    long = diagnose(DESIGN, through_a_line(metal(rod_length=0.02), 90e-9, 2.0, 4), BANDS, reference=50.0)
    assert long.best.cause.key == "rod_length too long" and long.best.value == pytest.approx(0.02, abs=4e-3)


def test_without_phase_the_plane_is_not_a_cause(swept: ComplexArray) -> None:
    assert "plane" not in [finding.cause.key for finding in said(swept, phase=False).findings]
