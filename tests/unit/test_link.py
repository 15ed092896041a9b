"""Path, polarisation, noise and thresholds against published constants and closed formulas."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
import scipy.constants
from scipy.special import erfc

from aerialwright.air.link import free_space_loss, gain_toward, noise_power
from aerialwright.air.polarisation import (
    circular_part,
    faraday_turn,
    likelihood,
    linear_part,
    share_quantile,
    share_taken,
)
from aerialwright.project.structures import read_structure
from aerialwright.solution.over_ground import pattern_over_ground
from aerialwright.solution.records import Pattern
from aerialwright.solution.solve import solve
from aerialwright.stock.modulations import modulation, modulations
from aerialwright.stock.tables import StockError
from aerialwright.structure.ground import Ground

CROSSED = Path(__file__).resolve().parents[2] / "examples" / "quillfen" / "designs" / "crossed-dipoles.toml"


def db(ratio: float) -> float:
    return 10.0 * math.log10(ratio)


@pytest.mark.parametrize(
    ("megahertz", "kilometres", "loss"), [(145.8, 2000.0, 141.74), (435.0, 600.0, 140.78), (435.0, 2500.0, 153.18)]
)
def test_free_space_loss(megahertz: float, kilometres: float, loss: float) -> None:
    """Worked from 32.4478 + 20 log f + 20 log d [@itu-p525]."""
    found = float(free_space_loss(distance=kilometres * 1e3, frequency=megahertz * 1e6))
    assert found == pytest.approx(loss, abs=0.01)
    assert found == pytest.approx(32.4478 + 20 * math.log10(megahertz) + 20 * math.log10(kilometres), abs=1e-3)


@pytest.mark.parametrize(("kilometres", "loss"), [(2626.0, 144.1), (1743.0, 140.6), (943.0, 135.2), (520.0, 130.0)])
def test_loss_of_a_520_km_orbit(kilometres: float, loss: float) -> None:
    """At 0, 10, 30 and 90 degree of elevation, 145.84 MHz: worked by hand."""
    assert float(free_space_loss(distance=kilometres * 1e3, frequency=145.84e6)) == pytest.approx(loss, abs=0.06)


def test_noise_power() -> None:
    """kT0 is -173.975 dBm/Hz; -133.01 dBm in 12.5 kHz, -123.01 in 125 kHz (CODATA k [@codata-2022], evaluated)."""
    assert noise_power(bandwidth=1.0, figure=0.0) + 30.0 == pytest.approx(-173.975, abs=0.001)
    assert noise_power(bandwidth=12.5e3, figure=0.0) + 30.0 == pytest.approx(-133.01, abs=0.01)
    assert noise_power(bandwidth=125e3, figure=4.0) + 30.0 == pytest.approx(-119.01, abs=0.01)


def test_polarisation_shares() -> None:
    """Linear to circular 3.0103 dB; an axial ratio of 3 dB to linear 1.758 dB at best (linear of 60 dB) and 4.752 at worst; two of
    3 dB and one sense 0 to 0.508 dB; opposite circular nothing. Evaluated elsewhere from the formula with axial ratios."""
    three, sixty = (float(circular_part(10 ** (level / 20))) for level in (3.0, 60.0))
    assert db(float(share_taken(1.0, 0.0, tilt=0.3))) == pytest.approx(-3.0103, abs=1e-3)
    assert db(float(share_taken(three, sixty, tilt=0.0))) == pytest.approx(-1.758, abs=0.01)
    assert db(float(share_taken(three, sixty, tilt=0.5 * math.pi))) == pytest.approx(-4.752, abs=0.01)
    assert db(float(share_taken(three, three, tilt=0.5 * math.pi))) == pytest.approx(-0.508, abs=0.01)
    assert float(share_taken(three, three, tilt=0.0)) == pytest.approx(1.0)
    assert float(share_taken(1.0, -1.0, tilt=1.0)) == pytest.approx(0.0, abs=1e-12)
    assert float(share_taken(0.0, 0.0, tilt=0.5 * math.pi)) == pytest.approx(0.0, abs=1e-12)
    assert float(circular_part(1.0)) == 1.0
    assert float(linear_part(three)) == pytest.approx((2 - 1) / (2 + 1), abs=2e-3), "(r^2 - 1) / (r^2 + 1)"


@pytest.mark.parametrize(
    ("wave", "antenna"), [(0.0, 0.0), (0.0, 0.6), (1.0, 0.0), (0.9, 0.9), (-1.0, 1.0), (0.3, -0.7)]
)
def test_likelihood_is_what_random_tilts_give(wave: float, antenna: float) -> None:
    """Against a hundred thousand evenly spread tilts."""
    shares = share_taken(wave, antenna, tilt=np.linspace(0.0, math.pi, 100_001))
    for needed in (1e-3, 0.02, 0.25, 0.5 + 1e-6, 0.75, 0.99, 1.2):
        # A share that never changes is compared away from itself.
        if abs(needed - shares.mean()) < 1e-5:
            continue
        assert float(likelihood(wave, antenna, needed=needed)) == pytest.approx(
            float(np.mean(shares > needed)), abs=2e-4
        )
    for part in (0.1, 0.5, 0.9):
        assert float(share_quantile(wave, antenna, part=part)) == pytest.approx(
            float(np.quantile(shares, part)), abs=1e-3
        )


def test_a_tumbling_whip_fades() -> None:
    """Of cos^2 with every angle as likely a tenth lies below sin^2 9 degree, 16.1 dB down; half below one half."""
    assert db(float(share_quantile(0.0, 0.0, part=0.1))) == pytest.approx(
        db(math.sin(math.radians(9.0)) ** 2), abs=1e-6
    )
    assert db(float(share_quantile(0.0, 0.0, part=0.5))) == pytest.approx(-3.0103, abs=1e-3)


def test_faraday_turn() -> None:
    """The constant is 2.365e4 in SI units (usual in the literature, from memory): 1 TECU in 50 microtesla at 145.8 MHz turns by 0.56
    radian, and three times the frequency turns a ninth."""
    c = scipy.constants
    constant = c.e**3 / (8 * math.pi**2 * c.epsilon_0 * c.m_e**2 * c.c)
    assert constant == pytest.approx(2.365e4, rel=1e-3)
    turn = faraday_turn(frequency=145.8e6, column=1e16, field=5e-5)
    assert turn == pytest.approx(constant * 1e16 * 5e-5 / 145.8e6**2, rel=1e-6)
    assert turn == pytest.approx(0.556, abs=2e-3)
    assert faraday_turn(frequency=437.4e6, column=1e16, field=5e-5) == pytest.approx(turn / 9)


def sample_pattern() -> Pattern:
    """Gains that are linear in both angles, so that interpolation is exact."""
    theta, phi = np.radians(np.linspace(0.0, 90.0, 10)), np.radians(np.arange(0.0, 360.0, 15.0))
    gain = 1.0 + theta[:, None] + 0.0 * phi
    return Pattern(145e6, theta, phi, gain, 0.5 * np.ones_like(gain), 2.0, 1.0)


def test_gain_toward() -> None:
    azimuth, elevation = np.array([0.0, 123.4, 359.9, 10.0]), np.array([90.0, 33.3, 0.0, -5.0])
    gain, circular = gain_toward(sample_pattern(), azimuth=azimuth, elevation=elevation)
    assert gain == pytest.approx(1.5 + np.radians(90.0 - np.maximum(elevation, 0.0)))
    assert not circular.any()


def test_the_x_axis_points_north() -> None:
    """A lobe toward +x is heard in the north, one toward +y in the west (azimuth runs clockwise, phi the other way)."""
    one = sample_pattern()
    toward = dataclasses.replace(
        one, gain_theta=np.ones_like(one.gain_theta) * (1.0 + np.cos(one.phi) + 0.5 * np.sin(one.phi))
    )
    azimuth = np.array([0.0, 90.0, 180.0, 270.0])
    gain, _ = gain_toward(toward, azimuth=azimuth, elevation=np.full(4, 20.0))
    assert gain - 0.5 == pytest.approx([2.0, 0.5, 0.0, 1.5])


def test_crossed_dipoles_are_right_handed_upward() -> None:
    """Arms that each lag their neighbour counterclockwise turn the field counterclockwise seen from above: right-hand for a wave
    that goes up, left-hand for the one that goes down (definition of IEEE Std 145, from memory)."""
    structure = read_structure(CROSSED)
    pattern = solve(structure, np.array([145.84e6]), check=False).pattern(145.84e6)
    assert pattern.gain_handed is not None
    upward, downward = pattern.gain_handed[0] / pattern.gain[0], pattern.gain_handed[-1] / pattern.gain[-1]
    assert upward == pytest.approx(1.0, abs=1e-3)
    assert downward == pytest.approx(-1.0, abs=1e-3)
    assert np.abs(pattern.gain_handed / np.maximum(pattern.gain, 1e-12)).max() <= 1.0 + 1e-9


def test_a_mirror_changes_hands() -> None:
    """Over metal what goes down left-handed comes back right-handed: straight up it stays so, at any height."""
    structure = read_structure(CROSSED)
    solution = solve(structure, np.array([145.84e6]), check=False)
    metal = Ground.constant(permittivity=1.0, conductivity=1e7)
    for height in (2.0, 2.5, 3.3):
        pattern = pattern_over_ground(solution, 145.84e6, ground=metal, height=height)
        assert pattern.gain_handed is not None
        assert pattern.gain_handed[0] / pattern.gain[0] == pytest.approx(1.0, abs=1e-3)
        assert np.all(np.abs(pattern.gain_handed) <= pattern.gain * (1.0 + 1e-9))


# ---- thresholds


def test_psk_thresholds_give_the_error_rate() -> None:
    """9.588 dB for 1e-5 by erfc(sqrt(Eb/N0)) / 2 [@coherent-psk]."""
    for key, rate in (("BPSK 1200", 1200.0), ("BPSK 9600", 9600.0), ("QPSK", 72000.0)):
        row = modulation(key)
        density = 10 ** ((row.needed_density - 10 * math.log10(rate)) / 10)
        assert 0.5 * erfc(math.sqrt(density)) == pytest.approx(1e-5, rel=0.002)


def test_chirp_limits() -> None:
    """Table of the data sheet [@chirp-limits]: -5 to -20 dB in steps of 2.5."""
    assert [modulation(f"SF{n}").needed for n in range(6, 13)] == [-5, -7.5, -10, -12.5, -15, -17.5, -20]


def test_narrow_fm_is_a_quarter_microvolt() -> None:
    """0.25 uV in 50 ohm is -119.03 dBm; a receiver of 6 dB has 8.0 dB then in 12.5 kHz [@sinad-convention]."""
    level = db(0.25e-6**2 / 50 * 1e3)
    assert level == pytest.approx(-119.03, abs=0.01)
    row = modulation("FM")
    assert level - 30.0 - noise_power(bandwidth=row.bandwidth, figure=6.0) == pytest.approx(row.needed, abs=0.05)


def test_every_row_says_what_and_how_sure() -> None:
    rows = modulations()
    assert {"narrow FM", "AFSK 1200", "GMSK 9600", "CW", "SSB"} < {row.key for row in rows}
    for row in rows:
        assert row.what and row.basis and row.source
        assert 0.5 <= row.spread <= 3.0
        assert 100 <= row.bandwidth <= 5e5
        if row.source == "common-practice":
            assert "memory" in row.basis
    assert modulation("GMSK 9600").needed == pytest.approx(13.5 + db(9600 / 12500))


def test_unknown_modulation() -> None:
    with pytest.raises(StockError, match="did you mean 'AFSK 1200'"):
        modulation("AFSK 12000")
