"""Real ground against published formulas and tables: Norton's surface wave, reflection coefficients, ground constants."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.special import wofz

from aerialwright.base.constants import c
from aerialwright.engine.earth import fresnel, integrals
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare
from aerialwright.stock.grounds import grounds
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import Rod, RodFeed, Structure

K = 2 * math.pi


def surface_field(relative: complex, distance: float) -> complex:
    """E_z of an upright elementary dipole on the ground at a point on the ground, over that on perfect ground's far field."""
    height, step = 1e-3, 1e-3
    zeta = 2 * height + step * np.array([-1.0, 0.0, 1.0])
    found = integrals(relative, K, np.array([distance]), zeta)[:, 0]

    def direct(z: float) -> complex:
        r = math.hypot(distance, z)
        return complex(np.exp(-1j * K * r) / (4 * math.pi * r))

    own = (direct(step) - 2 * direct(0.0) + direct(-step)) / step**2
    charge = (found[1, 0] - 2 * found[1, 1] + found[1, 2]) / step**2
    return complex((direct(0.0) + found[2, 1] + (own - charge) / K**2) / (2 * direct(0.0)))


def attenuation(relative: complex, distance: float) -> complex:
    """F = 1 - j sqrt(pi p) exp(-p) erfc(j sqrt(p)), p = -j k r (n^2 - 1) / (2 n^4) [@norton-1937]."""
    p = -0.5j * K * distance * (relative - 1) / relative**2
    root = np.sqrt(p)
    root = root if root.real > 0 else -root
    return complex(1 - 1j * math.sqrt(math.pi) * root * wofz(-root))


@pytest.mark.parametrize("relative", [15 - 0.6j, 30 - 3j, 10 - 20j, 15 - 60j, 70 - 600j])
def test_norton_surface_wave(relative: complex) -> None:
    """Norton's F is the first order in 1 / (k r), from |p| = 0.02 to 3: what differs halves with twice the distance.

    Measured: 0.012 to 0.033 of F at 16 wavelengths; extrapolated in 1 / r below 0.015.
    """
    ratio = [surface_field(relative, r) / attenuation(relative, r) for r in (4.0, 8.0, 16.0)]
    assert abs(ratio[2] - 1) < 4 / (K * 16)
    assert abs(2 * ratio[2] - ratio[1] - 1) < 0.02


def reflected(height: float, ground: Ground) -> tuple[complex, complex]:
    """Change of impedance [ohm] of a level dipole: the image's times minus R_TE straight down, and the engine's."""
    wave = c / 150e6

    def impedance(over: str | Ground) -> complex:
        rod = Rod("rod", ((-0.235 * wave, 0, height * wave), (0.235 * wave, 0, height * wave)), 0.001 * wave)
        system = prepare(
            Structure("dipole", (rod,), (), RodFeed("rod", 0.235 * wave, 0.002 * wave), over),
            top_frequency=150e6,
            settings=MeshSettings(),
        )
        return complex(1 / system.solve(150e6).admittance)

    free = impedance("none")
    image, real = impedance("perfect") - free, impedance(ground) - free
    te = complex(fresnel(ground.relative(150e6), np.array([1.0]))[1][0])
    return -te * image, real


@pytest.mark.parametrize(("height", "tolerance"), [(0.5, 0.02), (1.5, 0.001)])
@pytest.mark.parametrize("ground", [Ground.named("average ground"), Ground.named("sea water")])
def test_reflection_coefficient_method(height: float, tolerance: float, ground: Ground) -> None:
    """A level dipole high enough sees its image times the coefficient straight down (derived: one plane wave)."""
    expected, found = reflected(height, ground)
    assert abs(found - expected) < tolerance * abs(expected)


def test_pseudo_brewster_angle() -> None:
    """Least |R_TM| lies where tan(theta) is about |n|: exact for lossless ground, within half a degree for soil (derived)."""
    for relative in (9 + 0j, Ground.named("average ground").relative(150e6), Ground.named("sea water").relative(150e6)):
        least = minimize_scalar(
            lambda grazing, n2=relative: abs(fresnel(n2, np.array([math.sin(grazing)]))[0][0]),
            bounds=(1e-3, 1.2),
            method="bounded",
        )
        assert math.degrees(least.x) == pytest.approx(math.degrees(math.atan(1 / math.sqrt(abs(relative)))), abs=0.5)


#: a, b, c, d of eps = a f^b and sigma = c f^d [S/m], f in GHz, 1 to 10 GHz [@itu-p2040].
ABOVE_ONE_GIGAHERTZ = (
    ("very dry ground", 3.0, 0.0, 0.00015, 2.52),
    ("medium dry ground", 15.0, -0.1, 0.035, 1.63),
    ("wet ground", 30.0, -0.4, 0.15, 1.30),
)


@pytest.mark.parametrize(("kind", "a", "b", "conductivity", "power"), ABOVE_ONE_GIGAHERTZ)
@pytest.mark.parametrize("gigahertz", [1.0, 1.3, 2.0, 3.0])
def test_constants_meet_the_table_above_one_gigahertz(
    kind: str, a: float, b: float, conductivity: float, power: float, gigahertz: float
) -> None:
    """The curves of P.527 join the table at its lower end."""
    permittivity, sigma = Ground.named(kind).at(gigahertz * 1e9)
    assert permittivity == pytest.approx(a * gigahertz**b, rel=0.35)
    assert sigma == pytest.approx(conductivity * gigahertz**power, rel=0.2)
    if gigahertz == 1.0:
        assert permittivity == pytest.approx(a)
        assert sigma == pytest.approx(conductivity, rel=0.04)


def test_table_of_grounds() -> None:
    for row in grounds():
        ground = Ground.named(row.key)
        assert list(row.frequency) == sorted(row.frequency)
        assert all(low <= high for low, high in zip(row.conductivity, row.conductivity[1:], strict=False))
        assert ground.at(145e6)[0] == row.permittivity[0]
    assert Ground.named("average").at(50e6) == (15.0, 0.005)
    # Between two rows on logarithmic scales: the geometric mean at the geometric mean.
    middle = Ground.named("wet").at(math.sqrt(100e6 * 200e6))[1]
    assert middle == pytest.approx(math.sqrt(0.015 * 0.0256), rel=1e-9)
