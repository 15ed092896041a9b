"""Lines against a network library (scikit-rf), against closed forms, and against laws."""

from __future__ import annotations

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st
from skrf.media import DefinedGammaZ0

from aerialwright.base.errors import NeedError
from aerialwright.lines.coax import coaxial_impedance
from aerialwright.lines.line import (
    Line,
    delivered_power_ratio,
    line_abcd,
    line_from_need,
    propagation_constant,
    transform_impedance,
)
from aerialwright.lines.mismatch import (
    impedance_of,
    mismatch_loss_db,
    reflection,
    reflection_of_swr,
    return_loss_db,
    swr,
    swr_of,
)
from aerialwright.need.model import FeedLine
from aerialwright.stock.tables import StockError

FREQUENCY = np.array([118e6, 137e6, 156.8e6, 162.05e6, 250e6])
LOAD = np.array([23.3 + 4.8j, 36.5 + 21.3j, 50.0 + 0j, 83.3 + 56.1j, 12.0 - 422j])
RG58 = Line("RG-58", 50.0, 25.0, 0.66, 1.3751, 0.02127)
RG6 = Line("RG-6", 75.0, 25.0, 0.83, 0.6868, 0.0)

resistances = st.floats(1.0, 1000.0)
reactances = st.floats(-1000.0, 1000.0)


def skrf_line(line: Line) -> skrf.Network:
    """The same line as a two-port of the reference library, ports in its own characteristic impedance."""
    medium = DefinedGammaZ0(
        frequency=skrf.Frequency.from_f(FREQUENCY, unit="Hz"), gamma=line.propagation(FREQUENCY), z0=line.impedance
    )
    return medium.line(line.length, "m")


@pytest.mark.parametrize("line", [RG58, RG6], ids=lambda line: line.title)
def test_impedance_through_a_lossy_line(line: Line) -> None:
    z0 = line.impedance
    end = skrf.Network(frequency=skrf.Frequency.from_f(FREQUENCY, unit="Hz"), s=(LOAD - z0) / (LOAD + z0), z0=z0)
    expected = (skrf_line(line) ** end).z[:, 0, 0]
    ours = transform_impedance(load=LOAD, impedance=z0, gamma=line.propagation(FREQUENCY), length=line.length)
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


@pytest.mark.parametrize("line", [RG58, RG6], ids=lambda line: line.title)
def test_chain_parameters(line: Line) -> None:
    a, b, c, d = line_abcd(impedance=line.impedance, gamma=line.propagation(FREQUENCY), length=line.length)
    ours = np.moveaxis(np.array([[a, b], [c, d]]), -1, 0)
    np.testing.assert_allclose(ours, skrf_line(line).a, rtol=1e-9)
    np.testing.assert_allclose(a * d - b * c, 1.0, rtol=1e-9)


@pytest.mark.parametrize("line", [RG58, RG6], ids=lambda line: line.title)
@pytest.mark.parametrize("receiver", [50.0, 75.0, 30.0 + 20.0j])
def test_power_through_a_mismatched_line(line: Line, receiver: complex) -> None:
    """Transducer gain: the reference library renormalised to power waves of antenna and receiver gives |s21|^2."""
    network = skrf_line(line)
    ports = np.stack([LOAD, np.full(LOAD.shape, receiver, dtype=complex)], axis=1)
    network.renormalize(ports, s_def="power")
    expected = np.abs(network.s[:, 1, 0]) ** 2
    ours = delivered_power_ratio(antenna_impedance=LOAD, line=line, receiver_impedance=receiver, frequency=FREQUENCY)
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


def test_matched_ends_leave_only_the_cable_loss() -> None:
    ours = delivered_power_ratio(antenna_impedance=50.0, line=RG58, receiver_impedance=50.0, frequency=FREQUENCY)
    np.testing.assert_allclose(-10 * np.log10(ours), RG58.loss_db(FREQUENCY), rtol=1e-9)


@given(resistances, reactances, resistances, reactances, st.floats(0.0, 30.0))
def test_power_is_reciprocal_and_never_gained(ra: float, xa: float, rr: float, xr: float, length: float) -> None:
    line = Line("x", 50.0, length, 0.66, 1.375, 0.021)
    there, back = (
        delivered_power_ratio(antenna_impedance=a, line=line, receiver_impedance=b, frequency=150e6)
        for a, b in ((complex(ra, xa), complex(rr, xr)), (complex(rr, xr), complex(ra, xa)))
    )
    assert there == pytest.approx(float(back), rel=1e-9)
    assert 0.0 < there <= 1.0 + 1e-12


@given(resistances, reactances, st.floats(0.0, 30.0))
def test_moving_the_plane_there_and_back_changes_nothing(r: float, x: float, length: float) -> None:
    gamma = RG58.propagation(150e6)
    seen = transform_impedance(load=complex(r, x), impedance=50.0, gamma=gamma, length=length)
    back = transform_impedance(load=seen, impedance=50.0, gamma=gamma, length=-length)
    assert back == pytest.approx(complex(r, x), rel=1e-6)


@given(st.complex_numbers(max_magnitude=0.999))
def test_reflection_and_impedance_are_inverse(gamma: complex) -> None:
    assert reflection(impedance_of(gamma, reference=50.0), reference=50.0) == pytest.approx(gamma, abs=1e-9)


@given(st.floats(1.0, 1e6))
def test_swr_of_a_resistance_is_its_ratio(ratio: float) -> None:
    assert swr(50.0 * ratio, reference=50.0) == pytest.approx(ratio, rel=1e-9)
    assert swr(50.0 / ratio, reference=50.0) == pytest.approx(ratio, rel=1e-9)
    assert swr_of(reflection_of_swr(ratio)) == pytest.approx(ratio, rel=1e-6)


def test_ends_that_take_nothing() -> None:
    ends = np.array([np.inf, 0.0, 1e-300, 25j])
    np.testing.assert_allclose(np.abs(reflection(ends, reference=50.0)), 1.0)
    assert np.all(np.isinf(swr(ends, reference=50.0)))
    assert np.all(np.isinf(mismatch_loss_db(reflection(ends, reference=50.0))))
    assert np.isinf(return_loss_db(0.0))
    assert reflection_of_swr(np.inf) == 1.0
    assert np.isinf(swr(-20.0, reference=50.0))
    assert np.isnan(swr(complex("nan"), reference=50.0))
    assert np.isnan(delivered_power_ratio(antenna_impedance=-5.0, line=RG58, receiver_impedance=50.0, frequency=1e8))


def test_quarter_wave_turns_an_open_into_a_short_and_75_into_33() -> None:
    """Z0^2 / Z on a lossless quarter wave [@pozar]."""
    gamma = propagation_constant(k1=0.0, k2=0.0, velocity_factor=0.66, frequency=100e6)
    quarter = 0.25 * 299792458.0 * 0.66 / 100e6
    seen = transform_impedance(load=np.array([np.inf, 75.0]), impedance=50.0, gamma=gamma, length=quarter)
    assert abs(seen[0]) < 1e-9
    assert seen[1] == pytest.approx(2500.0 / 75.0, rel=1e-9)


def test_line_of_a_need_follows_the_table() -> None:
    line = line_from_need(FeedLine("RG-213", 18.0))
    assert line.loss_db(150e6) == pytest.approx(0.18 * 8.87, rel=0.01)
    assert line.velocity_factor == 0.66


def test_a_measured_loss_overrides_the_table() -> None:
    table = line_from_need(FeedLine("RG-58", 25.0))
    measured = line_from_need(FeedLine("RG-58", 25.0, loss=7.5, loss_frequency=150e6))
    assert measured.loss_db(150e6) == pytest.approx(7.5)
    assert measured.loss_db(450e6) / 7.5 == pytest.approx(float(table.loss_db(450e6) / table.loss_db(150e6)))
    other = line_from_need(FeedLine("other", 10.0, 60.0, 2.0, 100e6))
    assert other.loss_db(400e6) == pytest.approx(4.0)
    assert line_from_need(FeedLine("RG-58", 10.0, loss=0.0, loss_frequency=1e8)).loss_db(1e8) == 0.0
    assert line_from_need(FeedLine("RG-58", 0.0)).loss_db(150e6) == 0.0


def test_lines_that_cannot_be() -> None:
    with pytest.raises(NeedError, match="no loss"):
        line_from_need(FeedLine("RG-58", 0.0, loss=1.0, loss_frequency=1e8))
    with pytest.raises(NeedError, match="measured loss"):
        line_from_need(FeedLine("other", 10.0))
    with pytest.raises(StockError):
        line_from_need(FeedLine("RG-0", 10.0))
    with pytest.raises(ValueError, match="inner diameter"):
        coaxial_impedance(inner_diameter=3.0, outer_diameter=1.0)
