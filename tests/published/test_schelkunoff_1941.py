"""Wide cones: the biconical line of Schelkunoff [@schelkunoff-1941], and cones with and without a spherical cap.

A bicone is a transmission line of constant impedance ``Z = (eta/pi) ln cot(a/2)`` (120 ln cot(a/2) in the paper's eta = 120 pi),
``a`` the half angle of each cone. Seen at the apex, a long bicone repeats the reflection of its end on a circle about that value
while the frequency runs: the square root of the product of largest and smallest resistance is the line's impedance, whatever the end does.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from scipy.special import eval_legendre, spherical_jn, spherical_yn

from aerialwright.base.constants import c, eta0
from aerialwright.engine.far_field import powers, radiation
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Structure, Surface

FINE = EngineSettings().fine


def capped(slant: float, half_angle: float, *, pieces: int) -> list[tuple[float, float]]:
    """Profile (rho, z) of a spherical cap from the rim to the axis, by chords."""
    turns = np.linspace(1.0, 0.0, pieces + 1)[1:-1] * half_angle
    return [(slant * math.sin(t), slant * math.cos(t)) for t in turns] + [(0.0, slant)]


def bicone(half_angle: float, *, slant: float, tip: float) -> Structure:
    """Two cones with their tips cut off at radius ``tip`` [m], where the gap is; spherical caps, so that no cavity resonates."""
    start = tip / math.tan(half_angle)
    half = [(0.0, start), (tip, start), (slant * math.sin(half_angle), slant * math.cos(half_angle))]
    half += capped(slant, half_angle, pieces=7)
    other = tuple((rho, -z) for rho, z in half)
    return Structure(
        "bicone",
        (),
        (Surface("upper", tuple(half)), Surface("lower", other)),
        ApertureFeed((tip, start), (tip, -start)),
    )


@pytest.mark.parametrize("degrees, closed_form", [(10, 292.15), (20, 208.11), (30, 157.93), (46.98, 99.93)])
def test_line_impedance_of_a_long_bicone(degrees: float, closed_form: float) -> None:
    """3 m slant, 1 m wavelength. Measured: 292.10, 208.74, 157.48, 100.11 ohm, within 0.3 %; 1 % allowed: the reflection of
    the end falls a little over the band, and a finite number of frequencies misses the extremes."""
    half_angle = math.radians(degrees)
    line = eta0 / math.pi * math.log(1 / math.tan(half_angle / 2))
    assert line == pytest.approx(
        closed_form, abs=0.02
    )  # twice the cone-over-plane column 146.07, 104.05, 78.96, 49.96 ohm
    system = prepare(bicone(half_angle, slant=3.0, tip=0.002), top_frequency=c / 0.95, settings=MeshSettings())
    z = np.array([1 / system.solve(f).admittance for f in np.linspace(c / 1.2, c / 0.95, 15)])
    found = math.sqrt(z.real.max() * z.real.min())
    print(degrees, "line", line, "found", found, "largest reflection", np.abs((z - line) / (z + line)).max())
    assert found == pytest.approx(line, rel=0.01)
    assert np.abs((z - line) / (z + line)).max() < 0.06  # the circle lies close about the line's impedance


def cone_over_ground(degrees: float, *, tip: float, cap: bool) -> Structure:
    """Cone of 1 m slant whose apex, cut off at ``tip`` m of slant, is lowered to a perfect ground; coaxial gap about it."""
    half_angle = math.radians(degrees)
    foot, lowered = tip * math.sin(half_angle), tip * math.cos(half_angle)
    profile = [(foot, 0.0), (math.sin(half_angle), math.cos(half_angle) - lowered)]
    if cap:
        profile += [(rho, z - lowered) for rho, z in capped(1.0, half_angle, pieces=10)]
    return Structure(
        "cone", (), (Surface("cone", tuple(profile)),), ApertureFeed((foot, 0), (1.3 * foot, 0)), "perfect"
    )


def sharp_impedance(degrees: float, ka: float, *, cap: bool) -> complex:
    """Impedance for an apex shrunk to a point: the gap's own susceptance goes with its size, so Y is extrapolated over two sizes."""
    f = c * ka / (2 * math.pi)
    y = [
        prepare(cone_over_ground(degrees, tip=t, cap=cap), top_frequency=f, settings=FINE).solve(f).admittance
        for t in (0.004, 0.002)
    ]
    return complex(1 / (2 * y[1] - y[0]))


# A rigorous mode-matching solution made for these checks: computed elsewhere, not published.
MODE_MATCHING = {10: 200.2 + 102.2j, 20: 151.8 + 27.3j, 39.23: 77.33 + 5.80j, 60: 37.40 + 12.93j}


@pytest.mark.parametrize("degrees", MODE_MATCHING)
def test_capped_cone_over_ground(degrees: float) -> None:
    """ka = 2. 2 % of |Z| allowed (the mode-matching rows carry 1 to 1.5 %)."""
    z, expected = sharp_impedance(degrees, 2.0, cap=True), MODE_MATCHING[degrees]
    print(degrees, z, expected, "relative", abs(z - expected) / abs(expected))
    assert abs(z - expected) < 0.02 * abs(expected)


@pytest.mark.parametrize(
    "ka, expected", [(1, 19.7 + 10.5j), (1.5, 65.8 + 46.8j), (2, 111.9 + 17.4j), (3, 78.9 - 20.2j)]
)
def test_open_cone_over_ground(ka: float, expected: complex) -> None:
    """30 degrees without the cap: a separate axisymmetric solution with a 1 % apex gap (computed elsewhere, not published),
    5 % + 3 ohm as stated there."""
    z = sharp_impedance(30, ka, cap=False)
    print(ka, z, expected)
    assert abs(z - expected) < 0.05 * abs(expected) + 3.0


def papas_king(degrees: float, ka: float) -> complex:
    """The approximation of Papas and King [@papas-king-1949] for a cone with a spherical cap over a plane (formula from memory): the
    TEM line of the cone ended in odd Legendre modes that only the cap's own opening field drives."""
    angle = math.radians(degrees)
    line = eta0 / (2 * math.pi) * math.log(1 / math.tan(angle / 2))

    def hankel(n: int) -> complex:
        return complex(spherical_jn(n, ka), -spherical_yn(n, ka))

    total = 0j
    for n in range(1, 60, 2):
        wave = hankel(n) / (hankel(n - 1) - n / ka * hankel(n))
        total += (2 * n + 1) / (n * (n + 1)) * eval_legendre(n, math.cos(angle)) ** 2 * wave
    end = 1j * eta0 / (2 * math.pi) / line * total
    back = cmath.exp(-2j * ka) * (1 + end) / (end - 1)
    return line * (1 - back) / (1 + back)


#: ka: the formula at 30 degrees, evaluated elsewhere (0.05 ohm).
PAPAS_KING = {1.0: 34.60 + 24.19j, 1.5: 84.87 + 30.46j, 2.0: 95.23 + 6.42j, 3.0: 79.50 - 10.25j}


@pytest.mark.parametrize("ka", PAPAS_KING)
def test_papas_king_formula(ka: float) -> None:
    """Two evaluations of the formula agree, before it judges anything."""
    assert papas_king(30, ka) == pytest.approx(PAPAS_KING[ka], abs=0.05)


def test_papas_king_is_no_truth_at_one_radian() -> None:
    """The approximation is 37 % high in R at ka = 1 and 9 % at 1.5 against an exact field solution (computed elsewhere, not
    published); an engine that meets it there is wrong. At ka = 3 it is good."""
    assert papas_king(30, 1.0).real / sharp_impedance(30, 1.0, cap=True).real == pytest.approx(1.37, abs=0.05)
    assert papas_king(30, 1.5).real / sharp_impedance(30, 1.5, cap=True).real == pytest.approx(1.09, abs=0.03)
    assert abs(sharp_impedance(30, 3.0, cap=True) - papas_king(30, 3.0)) < 0.06 * 80.2


# ---------------------------------------------------------------- the beam of a discone


def discone(slant: float, *, ratio: float = 22.0) -> Structure:
    """Full cone angle 60 degrees, base as wide as the slant, top 1/``ratio`` of that; disc 0.7 of the base, spaced 0.3 of the top
    (the proportions of Nail [@nail-1953]); fed round the gap between disc and cone."""
    top = slant / ratio / 2
    space, depth = 0.6 * top, (slant / 2 - top) / math.tan(math.radians(30))
    cone = Surface("cone", ((0, 0), (top, 0), (slant / 2, -depth)))
    disc = Surface("disc", ((0, space), (top, space), (0.35 * slant, space)))
    return Structure("discone", (), (cone, disc), ApertureFeed((top, space), (top, 0)))


#: Slant in wavelengths: peak [dBi], its angle from the zenith [degree], and toward the horizon [dBi]. A separate axisymmetric solution
#: made for these checks, computed elsewhere, not published.
DISCONE_BEAM = {0.25: (1.72, 92, 1.71), 0.5: (1.93, 113, 1.35), 0.75: (3.33, 135, 0.39), 1.0: (4.47, 148, 0.86)}


def discone_beam(slant: float) -> tuple[float, float, float]:
    """The same from the engine."""
    system = prepare(discone(slant), top_frequency=c, settings=FINE)
    solved = system.solve(c)
    theta = np.radians(np.arange(1, 180.0))
    e_theta, _ = radiation(system, solved, theta=theta, phi=np.array([0.0]))
    _, radiated, _ = powers(system, solved)
    gain = 10 * np.log10(4 * math.pi * np.abs(e_theta[:, 0]) ** 2 / (2 * eta0) / radiated)
    return float(gain.max()), float(np.degrees(theta[gain.argmax()])), float(gain[89])


@pytest.mark.parametrize("slant", DISCONE_BEAM)
def test_beam_of_a_discone_tilts_to_its_cone(slant: float) -> None:
    """0.3 dB and 5 degrees, as stated there. The impedance in that solution hangs on a gap that is not described, so it is not compared."""
    found, (peak, angle, horizon) = discone_beam(slant), DISCONE_BEAM[slant]
    print(slant, found, DISCONE_BEAM[slant])
    assert found[0] == pytest.approx(peak, abs=0.3)
    assert found[1] == pytest.approx(angle, abs=5)
    assert found[2] == pytest.approx(horizon, abs=0.3)
