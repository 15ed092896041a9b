"""Moving the reference plane: cascades and de-embedding against scikit-rf, line loss with SWR against a handbook formula."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.plane import (
    INSTRUMENT_ERROR,
    LARGEST_UNCERTAINTY,
    at_antenna,
    by_estimate,
    through_line,
    through_measured,
)
from aerialwright.bench.records import Measured
from aerialwright.lines.line import Line, line_abcd, line_from_need
from aerialwright.lines.mismatch import reflection, swr_of
from aerialwright.need.model import FeedLine
from aerialwright.solution.records import ComplexArray, FloatArray

F = np.linspace(120e6, 180e6, 401)


def antenna(f: FloatArray, *, resonance: float = 150e6, quality: float = 9.0) -> ComplexArray:
    """A resonant antenna of 45 ohm against 50 ohm."""
    z = 45.0 * (1.0 + 1j * quality * (f / resonance - resonance / f))
    return reflection(z, reference=50.0)


def cascade(line: Line, load: ComplexArray, f: FloatArray, *, port: float = 50.0) -> ComplexArray:
    """``load`` (against 50 ohm) behind a line as scikit-rf sees it from a port of ``port`` ohm."""
    media = skrf.media.DefinedGammaZ0(
        skrf.Frequency.from_f(f, unit="hz"), gamma=line.propagation(f), z0=line.impedance, z0_port=50.0
    )
    ended = skrf.Network(frequency=media.frequency, s=load.reshape(-1, 1, 1), z0=50.0)
    seen = media.line(line.length, "m") ** ended
    seen.renormalize(port)
    return np.asarray(seen.s[:, 0, 0])


def taken(f: FloatArray, value: ComplexArray, *, known: bool = True, seed: int | None = None) -> Measured:
    if seed is not None:
        noise = np.random.default_rng(seed).normal(scale=INSTRUMENT_ERROR / 3, size=(2, len(f)))
        value = value + noise[0] + 1j * noise[1]
    return Measured(f, value if known else np.abs(value).astype(complex), 50.0, known, "test")


@pytest.mark.parametrize(("kind", "length"), [("RG-58", 1.0), ("RG-213", 2.0), ("RG-6", 1.5)])
def test_a_short_known_line_is_removed_as_scikit_rf_put_it_on(kind: str, length: float) -> None:
    """scikit-rf's cascade undone to rounding; 75 ohm line on a 50 ohm instrument too."""
    line = line_from_need(FeedLine(kind, length, impedance=75.0 if kind == "RG-6" else 50.0))
    moved = through_line(taken(F, cascade(line, antenna(F), F)), line)
    assert not moved.refused and moved.at_antenna.phase_known
    assert moved.at_antenna.reflection == pytest.approx(antenna(F), abs=1e-12)
    assert moved.loss == pytest.approx(line.loss_db(F), abs=1e-9)
    assert moved.at_instrument.reflection is not moved.at_antenna.reflection


def test_of_a_long_known_line_only_the_size_is_kept() -> None:
    line = line_from_need(FeedLine("RG-213", 18.0))
    moved = through_line(taken(F, cascade(line, antenna(F), F)), line)
    assert not moved.at_antenna.phase_known
    assert np.abs(moved.at_antenna.reflection) == pytest.approx(np.abs(antenna(F)), abs=1e-12)
    assert any("only SWR" in note for note in moved.notes)


def test_stated_uncertainty_covers_a_wrong_table_and_noise() -> None:
    """Cables whose loss is off by up to the tolerance, noise of the instrument: the truth stays inside the radius."""
    line = line_from_need(FeedLine("RG-58", 10.0))
    truth = np.abs(antenna(F))
    for seed, factor in enumerate((0.86, 0.95, 1.0, 1.1, 1.14)):
        real = Line("", 50.0, 10.0, 0.66, line.k1 * factor, line.k2 * factor)
        moved = through_line(taken(F, cascade(real, antenna(F), F), seed=seed), line)
        assert not moved.refused
        inside = np.abs(np.abs(moved.at_antenna.reflection) - truth) <= moved.uncertainty
        assert inside.mean() > 0.98, factor


@pytest.mark.parametrize(("length", "refused"), [(10.0, False), (20.0, False), (60.0, True), (200.0, True)])
def test_a_line_that_eats_everything_is_refused(length: float, refused: bool) -> None:
    line = line_from_need(FeedLine("RG-58", length))
    moved = through_line(taken(F, cascade(line, antenna(F), F), seed=1), line)
    assert bool(moved.refused) is refused
    if refused:
        assert moved.at_antenna is moved.at_instrument
        assert np.all(np.isinf(moved.uncertainty))
        assert "dB each way" in moved.refused
    else:
        assert np.median(moved.uncertainty) <= LARGEST_UNCERTAINTY


def test_a_line_said_to_lose_more_than_it_can_is_refused() -> None:
    short = line_from_need(FeedLine("RG-58", 1.0))
    moved = through_line(taken(F, cascade(short, antenna(F), F)), line_from_need(FeedLine("RG-58", 12.0)))
    assert "it loses at most" in moved.refused


ENDS = {"open": np.ones(len(F), complex), "short": -np.ones(len(F), complex), "load": np.zeros(len(F), complex)}


@pytest.mark.parametrize(
    "ends", [("open",), ("short",), ("open", "short"), ("open", "load"), ("open", "short", "load")]
)
def test_a_measured_line_is_removed(ends: tuple[str, ...]) -> None:
    """Long, lossy, length unknown: R and X come back exactly where its impedance is the instrument's."""
    line = line_from_need(FeedLine("RG-213", 18.0))
    seen = taken(F, cascade(line, antenna(F), F))
    moved = through_measured(seen, {end: taken(F, cascade(line, ENDS[end], F)) for end in ends})
    assert moved.at_antenna.phase_known
    assert moved.at_antenna.reflection == pytest.approx(antenna(F), abs=1e-9)
    assert moved.loss == pytest.approx(line.loss_db(F), abs=1e-9)
    assert moved.delay == pytest.approx(18.0 / (0.66 * 299792458.0), rel=1e-6)


def test_open_and_short_give_the_impedance_of_the_line() -> None:
    """75 ohm line on 50 ohm; the open alone would be wrong unless its impedance is told."""
    line = Line("", 75.0, 12.3, 0.8, 0.8, 0.01)
    seen = taken(F, cascade(line, antenna(F), F))
    ends = {end: taken(F, cascade(line, ENDS[end], F)) for end in ("open", "short")}
    moved = through_measured(seen, ends)
    assert moved.at_antenna.reflection == pytest.approx(antenna(F), abs=1e-9)
    assert any("75.0 ohm" in note for note in moved.notes)
    one = through_measured(seen, {"open": ends["open"]}, impedance=75.0)
    assert one.at_antenna.reflection == pytest.approx(antenna(F), abs=1e-9)


def test_three_ends_remove_an_unsymmetrical_way() -> None:
    """A step of impedance, an adapter and a line: de-embedded as scikit-rf's own three-standard calibration does it."""
    first, second = Line("", 50.0, 3.0, 0.66, 1.4, 0.02), Line("", 68.0, 0.4, 1.0, 0.5, 0.0)

    def way(load: ComplexArray) -> ComplexArray:
        return cascade(first, cascade(second, load, F), F)

    seen = taken(F, way(antenna(F)))
    moved = through_measured(seen, {end: taken(F, way(ENDS[end])) for end in ENDS})
    assert moved.at_antenna.reflection == pytest.approx(antenna(F), abs=1e-9)
    frequency = skrf.Frequency.from_f(F, unit="hz")
    networks = {end: skrf.Network(frequency=frequency, s=value.reshape(-1, 1, 1), z0=50) for end, value in ENDS.items()}
    raw = [skrf.Network(frequency=frequency, s=way(ENDS[end]).reshape(-1, 1, 1), z0=50) for end in ENDS]
    calibration = skrf.calibration.OnePort(measured=raw, ideals=list(networks.values()))
    calibration.run()
    theirs = calibration.apply_cal(skrf.Network(frequency=frequency, s=seen.reflection.reshape(-1, 1, 1), z0=50))
    assert moved.at_antenna.reflection == pytest.approx(theirs.s[:, 0, 0], abs=1e-9)


def test_noise_of_the_far_end_sweep_stays_inside_the_uncertainty() -> None:
    line = line_from_need(FeedLine("RG-213", 18.0))
    for seed in range(5):
        seen = taken(F, cascade(line, antenna(F), F), seed=seed)
        ends = {"open": taken(F, cascade(line, ENDS["open"], F), seed=100 + seed)}
        moved = through_measured(seen, ends)
        assert (np.abs(moved.at_antenna.reflection - antenna(F)) <= moved.uncertainty).mean() > 0.98


def test_far_end_sweeps_that_do_not_fit_are_refused() -> None:
    line = line_from_need(FeedLine("RG-213", 18.0))
    seen = taken(F, cascade(line, antenna(F), F))
    few = np.linspace(110e6, 190e6, 12)
    narrow = np.linspace(140e6, 160e6, 401)
    for ends, named in (
        ({"load": taken(F, ENDS["load"])}, "load alone"),
        ({}, "open or short"),
        ({"open": taken(few, cascade(line, np.ones(12, complex), few))}, "too far apart"),
        ({"open": taken(narrow, cascade(line, np.ones(401, complex), narrow))}, "does not reach"),
        ({"open": taken(F, ENDS["open"], known=False)}, "no phase"),
    ):
        with pytest.raises(AerialwrightError, match=named):
            through_measured(seen, ends)
    other = np.linspace(115e6, 185e6, 1601)
    moved = through_measured(seen, {"open": taken(other, cascade(line, np.ones(1601, complex), other))})
    assert moved.at_antenna.reflection == pytest.approx(antenna(F), abs=0.02)


@pytest.mark.parametrize(("kind", "length"), [("RG-58", 6.0), ("RG-213", 18.0), ("240-class", 30.0)])
def test_an_estimate_holds_the_truth(kind: str, length: float) -> None:
    """A wide sweep through an unknown line: loss, delay and SWR at the antenna lie within what is stated."""
    wide = np.linspace(100e6, 220e6, 801)
    line = line_from_need(FeedLine(kind, length))
    seen = taken(wide, cascade(line, antenna(wide), wide), seed=3)
    moved = by_estimate(seen)
    assert not moved.refused and not moved.at_antenna.phase_known
    true = length / (line.velocity_factor * 299792458.0)
    assert abs(moved.delay - true) < 0.5 / 120e6
    inside = np.abs(np.abs(moved.at_antenna.reflection) - np.abs(antenna(wide))) <= moved.uncertainty
    assert inside.mean() > 0.98
    assert np.abs(moved.loss - line.loss_db(wide)).max() < 0.6


def test_a_narrow_sweep_tells_no_loss() -> None:
    """Only the well matched middle was swept: the loss could be anything, and that is said."""
    narrow = np.linspace(149e6, 151e6, 101)
    line = line_from_need(FeedLine("RG-58", 20.0))
    moved = by_estimate(taken(narrow, cascade(line, antenna(narrow), narrow)))
    truth = np.abs(antenna(narrow))
    assert moved.refused or np.all(np.abs(np.abs(moved.at_antenna.reflection) - truth) <= moved.uncertainty)
    assert any("narrow" in note for note in moved.notes)


def test_at_the_antenna_nothing_is_moved() -> None:
    seen = taken(F, antenna(F))
    assert at_antenna(seen).at_antenna is seen


def test_swr_only_goes_through_a_line_of_its_own_impedance() -> None:
    line = line_from_need(FeedLine("RG-58", 10.0))
    seen = taken(F, cascade(line, antenna(F), F), known=False)
    assert swr_of(through_line(seen, line).at_antenna.reflection) == pytest.approx(swr_of(antenna(F)), rel=1e-9)
    with pytest.raises(AerialwrightError, match="without phase"):
        through_line(seen, line_from_need(FeedLine("RG-6", 10.0, impedance=75.0)))
    with pytest.raises(AerialwrightError, match="without phase"):
        by_estimate(seen)


def test_swr_through_a_lossy_line_by_the_handbook() -> None:
    """A mismatched load behind a lossy line looks better: SWR 3 behind 1, 3 and 6 dB is 2.32, 1.67 and 1.29 at the transmitter.

    Handbook chart of SWR at load against SWR at input, formula ``|r_in| = |r_load| 10^(-loss/10)``; values worked from it by
    hand, the chart from memory [@arrl-handbook]: 0.5 x 0.7943 = 0.3972, 0.5 x 0.5012 = 0.2506, 0.5 x 0.2512 = 0.1256.
    """
    for loss, expected in ((1.0, 2.317), (3.0, 1.669), (6.0, 1.287)):
        f = np.array([150e6])
        line = Line("", 50.0, 100.0, 0.66, loss / np.sqrt(150.0), 0.0)
        seen = cascade(line, reflection(np.array([150.0]), reference=50.0), f)
        assert swr_of(seen)[0] == pytest.approx(expected, abs=0.001)
        moved = through_line(taken(f, seen), line)
        assert moved.refused or swr_of(moved.at_antenna.reflection)[0] == pytest.approx(3.0, abs=1e-9)


@pytest.mark.parametrize(
    ("matched", "ratio", "total"), [(1.0, 3.0, 1.504), (3.0, 3.0, 3.968), (2.0, 2.0, 2.315), (0.5, 5.0, 1.162)]
)
def test_loss_with_swr_by_the_handbook(matched: float, ratio: float, total: float) -> None:
    """Power lost in a mismatched line, ``10 log10((a^2 - r^2) / (a (1 - r^2)))`` with ``a = 10^(loss/10)``.

    Handbook formula and its chart of additional loss, from memory [@arrl-handbook]; values worked from the formula. Here from
     the chain matrix: power into the load over power into the line.
    """
    f = np.array([150e6])
    line = Line("", 50.0, 60.0, 0.66, matched / 60.0 * 100.0 / np.sqrt(150.0), 0.0)
    a, b, chain_c, d = line_abcd(impedance=50.0, gamma=line.propagation(f), length=line.length)
    load = 50.0 * ratio
    voltage, current = a * load + b, chain_c * load + d
    lost = 10.0 * np.log10((voltage * np.conj(current)).real / load)
    assert lost[0] == pytest.approx(total, abs=0.001)
