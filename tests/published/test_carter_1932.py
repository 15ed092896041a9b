"""Thin dipoles against the induced-EMF closed forms of Carter [@carter-1932], in the notation of Balanis [@balanis-2016].

The closed forms hold for a sinusoidal current on a wire of no thickness; the engine solves for the current of a real radius.
They can only meet as the radius goes to zero, and they meet slowly: the difference falls like 1/(Omega - const) with
Omega = 2 ln(length/radius) (Hallén's expansion parameter). So the engine is run at several radii, ``Z = Z0 + c1/(Omega - c2)``
with complex constants is fitted (three unknowns, five or six radii), and Z0 is compared. Lengths are in wavelengths times
``WAVE`` metres: long, so that very thin wires stay above the modeller's joining tolerance of a micrometre.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import sici

from aerialwright.base.constants import c, eta0
from aerialwright.engine.far_field import powers, radiation
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Rod, RodFeed, Structure

WAVE = 100.0
FREQUENCY = c / WAVE
RADII = (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6)
FINE = EngineSettings().fine


#: Radius: resonant length and its resistance [ohm] by the closed form (an independent evaluation of it; 1e-4, 0.05 ohm).
RESONANT = {1e-5: (0.48832, 68.21), 1e-4: (0.48463, 66.74), 1e-3: (0.47751, 63.98), 5e-3: (0.46653, 59.94)}


def si(x: float) -> float:
    return float(sici(x)[0])


def ci(x: float) -> float:
    return float(sici(x)[1])


def self_impedance(length: float, radius: float) -> complex:
    """Balanis eq. 8-60a, 8-61a (4-70 for the resistance), referred to the input current; lengths in wavelengths."""
    kl = 2 * math.pi * length
    gamma = float(np.euler_gamma)
    r = gamma + math.log(kl) - ci(kl) + 0.5 * math.sin(kl) * (si(2 * kl) - 2 * si(kl))
    r += 0.5 * math.cos(kl) * (gamma + math.log(kl / 2) + ci(2 * kl) - 2 * ci(kl))
    x = 2 * si(kl) + math.cos(kl) * (2 * si(kl) - si(2 * kl))
    if abs(math.sin(kl)) > 1e-12:
        x -= math.sin(kl) * (2 * ci(kl) - ci(2 * kl) - ci(2 * (2 * math.pi * radius) ** 2 / kl))
    return complex(eta0 / (2 * math.pi) * r, eta0 / (4 * math.pi) * x) / math.sin(kl / 2) ** 2


def mutual_side_by_side(distance: float) -> complex:
    """Two half-wave dipoles side by side, Balanis eq. 8-71a to 8-71e."""
    k, length = 2 * math.pi, 0.5
    u0, root = k * distance, math.hypot(distance, length)
    u1, u2 = k * (root + length), k * (root - length)
    scale = eta0 / (4 * math.pi)
    return complex(scale * (2 * ci(u0) - ci(u1) - ci(u2)), -scale * (2 * si(u0) - si(u1) - si(u2)))


def mutual_collinear(end_gap: float) -> complex:
    """Two half-wave dipoles in line, ``end_gap`` between their near ends, Balanis eq. 8-72a to 8-72f."""
    k, length = 2 * math.pi, 0.5
    h = length + end_gap
    v0, v1, v2, v3 = k * h, 2 * k * (h + length), 2 * k * (h - length), (h**2 - length**2) / h**2
    s = 2 * si(2 * v0) - si(v2) - si(v1)
    t = 2 * ci(2 * v0) - ci(v2) - ci(v1)
    scale = eta0 / (8 * math.pi)
    return complex(
        scale * (-math.cos(v0) * (-t - math.log(v3)) + math.sin(v0) * s),
        scale * (-math.cos(v0) * s + math.sin(v0) * (t - math.log(v3))),
    )


def impedance(structure: Structure, settings: MeshSettings = FINE) -> complex:
    system = prepare(structure, top_frequency=FREQUENCY, settings=settings)
    return system.port_factor / system.solve(FREQUENCY).admittance


def over_radii(build: Callable[[float], Structure], radii: tuple[float, ...] = RADII) -> NDArray[np.complex128]:
    return np.array([impedance(build(a * WAVE)) for a in radii])


def limit(values: NDArray[np.complex128], radii: tuple[float, ...] = RADII) -> complex:
    """Z0 of the least-squares fit Z (Omega - c2) = Z0 (Omega - c2) + c1."""
    omega = 2 * np.log(0.5 / np.array(radii))
    left = np.column_stack([values, omega, np.ones_like(omega)])
    return complex(np.linalg.lstsq(left, values * omega, rcond=None)[0][1])


def upright(radius: float, *, x: float = 0.0, low: float = -0.25, copies: int = 1, name: str = "rod") -> Rod:
    return Rod(name, ((x * WAVE, 0, low * WAVE), (x * WAVE, 0, (low + 0.5) * WAVE)), radius, copies)


def fed(radius: float, *rods: Rod, ground: str = "none") -> Structure:
    return Structure("wires", rods, (), RodFeed("rod", WAVE / 4, 2 * radius), ground)


def single(radius: float) -> Structure:
    return fed(radius, upright(radius))


def monopole(radius: float) -> Structure:
    rod = Rod("rod", ((0, 0, 0), (0, 0, WAVE / 4)), radius)
    return Structure("monopole", (rod,), (), ApertureFeed((radius, 0), (2.3 * radius, 0)), "perfect")


def test_closed_forms_give_the_published_numbers() -> None:
    """The formulas above, before they judge anything: 73.1 + j42.5 is the printed value of every handbook."""
    assert self_impedance(0.5, 1e-9) == pytest.approx(73.079 + 42.515j, abs=0.005)
    # Balanis printed figure 8.21 only; numbers of an independent evaluation of the same closed forms (tolerance 0.01 ohm):
    for distance, z in {
        0.05: 71.608 + 24.252j,
        0.10: 67.287 + 7.533j,
        0.125: 64.138 - 0.073j,
        0.25: 40.758 - 28.329j,
    }.items():
        assert mutual_side_by_side(distance) == pytest.approx(z, abs=0.01)
    for gap, z in {0.1: 14.664 - 4.012j, 0.25: 2.044 - 7.965j, 0.5: -4.116 - 0.722j}.items():
        assert mutual_collinear(gap) == pytest.approx(z, abs=0.01)


def test_half_wave_dipole_as_the_radius_shrinks() -> None:
    """Limit 72.95 + j40.95 measured, 73.08 + j42.52 exact. X goes toward its limit with a log of its own and is still 1.9 ohm above
    it at a radius of 3e-6 wavelengths, so the extrapolation leaves up to 2 ohm; R meets within 0.5 ohm."""
    z = over_radii(single)
    exact = self_impedance(0.5, 1e-9)
    distance = np.abs(z - exact)
    print("dipole", np.round(z, 2), "limit", limit(z))
    assert np.all(np.diff(distance) < 0)
    assert distance[0] > 10 and distance[-1] < 5
    assert limit(z).real == pytest.approx(exact.real, abs=0.5)
    assert limit(z).imag == pytest.approx(exact.imag, abs=2.0)


def test_quarter_wave_monopole_as_the_radius_shrinks() -> None:
    """Half the dipole at every radius (image theory: 0.2 ohm, for the coaxial gap is not the dipole's), so half
    its limit: 36.54 + j21.26."""
    z, z_dipole = over_radii(monopole), over_radii(single)
    print("monopole", np.round(z, 2), "limit", limit(z))
    assert np.max(np.abs(2 * z - z_dipole)) < 0.2
    assert limit(z).real == pytest.approx(36.540, abs=0.3)
    assert limit(z).imag == pytest.approx(21.258, abs=1.2)


@pytest.mark.parametrize("distance", [0.05, 0.10, 0.125, 0.25])
def test_mutual_impedance_side_by_side(distance: float) -> None:
    """(even - odd)/2: two dipoles fed alike are one dipole of two copies; fed in opposition they are one horizontal dipole
    at half the distance over a perfect ground. Largest difference of the limits measured 0.4 ohm."""

    def even(radius: float) -> Structure:
        return fed(radius, upright(radius, x=distance / 2, copies=2))

    def odd(radius: float) -> Structure:
        h = distance / 2 * WAVE
        return fed(radius, Rod("rod", ((-WAVE / 4, 0, h), (WAVE / 4, 0, h)), radius), ground="perfect")

    z = (over_radii(even) - over_radii(odd)) / 2
    exact = mutual_side_by_side(distance)
    print(distance, np.round(z, 2), "limit", limit(z), "exact", exact)
    assert abs(z[-1] - exact) < abs(z[0] - exact)
    assert abs(limit(z) - exact) < 0.8


@pytest.mark.parametrize("distance", [0.05, 0.25])
def test_mutual_impedance_from_a_parasitic_dipole(distance: float) -> None:
    """The same by another road, rods of order 1: a shorted neighbour turns Z11 into Z11 - Z12^2/Z11. Z11 is that of a lone dipole
    here, without the halves of an open-circuited neighbour, and the root doubles small errors at very thin wires: so the
    radii stop at 3e-5 wavelengths and 2 ohm (4 %) is allowed at the limit."""
    radii = (3e-3, *RADII[:4])

    def pair(radius: float) -> Structure:
        return fed(radius, upright(radius), upright(radius, x=distance, name="neighbour"))

    z11 = over_radii(lambda a: fed(a, upright(a, x=0.1)), radii)
    exact = mutual_side_by_side(distance)
    z12 = np.sqrt((z11 - over_radii(pair, radii)) * z11)
    z12 = np.where((z12 / exact).real < 0, -z12, z12)
    print(distance, np.round(z12, 2), "limit", limit(z12, radii), "exact", exact)
    assert abs(limit(z12, radii) - exact) < 2.0


@pytest.mark.parametrize("gap", [0.1, 0.25, 0.5])
def test_mutual_impedance_in_line(gap: float) -> None:
    """An upright dipole over a perfect ground sees its image in line: Z11 + Z12. The open ends carry charge that a sinusoidal current
    has not, so the nearest pair differs most; the differences must shrink with the radius."""
    radii = RADII[:5]
    z11 = over_radii(lambda a: fed(a, upright(a, x=0.1)), radii)
    pair = over_radii(lambda a: fed(a, upright(a, x=1e-9, low=gap / 2), ground="perfect"), radii)
    z = pair - z11
    exact = mutual_collinear(gap)
    print(gap, np.round(z, 2), "limit", limit(z, radii), "exact", exact)
    assert abs(z[-1] - exact) < 0.6 * abs(z[0] - exact)
    assert abs(z[-1] - exact) < 2.0


def test_induced_emf_resistance_at_resonance_is_too_low() -> None:
    """A trap: at the resonant length the induced-EMF resistance lies 5 to 18 % below a full solution. A code that meets it at a finite
    radius has put the sinusoidal current in. Resonant lengths and resistances by the closed form are
    checked on the way."""
    for radius, (expected, resistance) in RESONANT.items():
        formula = brentq(lambda length, a=radius: self_impedance(length, a).imag, 0.4, 0.499)
        assert formula == pytest.approx(expected, abs=1e-4)
        assert self_impedance(formula, radius).real == pytest.approx(resistance, abs=0.05)

        def reactance(length: float, a: float = radius) -> float:
            rod = Rod("rod", ((0, 0, -length / 2 * WAVE), (0, 0, length / 2 * WAVE)), a * WAVE)
            return impedance(
                Structure("dipole", (rod,), (), RodFeed("rod", length / 2 * WAVE, 2 * a * WAVE)), MeshSettings()
            ).imag

        length = brentq(reactance, 0.43, 0.495, xtol=1e-5)
        rod = Rod("rod", ((0, 0, -length / 2 * WAVE), (0, 0, length / 2 * WAVE)), radius * WAVE)
        r = impedance(Structure("dipole", (rod,), (), RodFeed("rod", length / 2 * WAVE, 2 * radius * WAVE))).real
        low = self_impedance(formula, radius).real
        print(radius, "resonant length", length, "R", r, "induced EMF", formula, low)
        assert 0.05 < 1 - low / r < 0.18


def directivity(radius: float, *, x: float = 0.6) -> float:
    """Broadside directivity [dBi] of a half-wave dipole."""
    rod = Rod("rod", ((x * WAVE, 0, -WAVE / 4), (x * WAVE, 0, WAVE / 4)), radius * WAVE)
    structure = Structure("dipole", (rod,), (), RodFeed("rod", WAVE / 4, WAVE * 1e-3))
    system = prepare(structure, top_frequency=FREQUENCY, settings=FINE)
    solved = system.solve(FREQUENCY)
    e_theta, _ = radiation(system, solved, theta=np.array([math.pi / 2]), phi=np.array([0.0]))
    _, radiated, _ = powers(system, solved)
    return 10 * math.log10(4 * math.pi * abs(e_theta[0, 0]) ** 2 / (2 * eta0) / radiated)


#: 4 / Cin(2 pi) = 1.64092, in dBi [@balanis-2016].
SINUSOIDAL_DIRECTIVITY = 2.1509


@pytest.mark.parametrize("x", [0.0, 0.6])
def test_directivity_of_the_thin_half_wave_dipole(x: float) -> None:
    """D = 4/Cin(2 pi) for the sinusoidal current [@balanis-2016]; a wire of radius 1e-5 has 0.013 dB more (its current is a little fuller
    than the sinusoid); 0.02 dB allowed."""
    cin = float(np.euler_gamma) + math.log(2 * math.pi) - ci(2 * math.pi)
    assert 10 * math.log10(4 / cin) == pytest.approx(SINUSOIDAL_DIRECTIVITY, abs=5e-4)
    found = directivity(1e-5, x=x)
    print(x, found)
    assert found == pytest.approx(SINUSOIDAL_DIRECTIVITY, abs=0.02)
