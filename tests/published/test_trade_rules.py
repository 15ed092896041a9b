"""Rules of the trade for VHF verticals [@common-practice]: common practice, no source. They are wide, and so are the tolerances.

All models hold the hub that a builder has: a flange with the radials' feet, the connector's shell below it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from aerialwright.base.constants import c, eta0
from aerialwright.engine.far_field import powers, radiation
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

FINE = EngineSettings().fine


def ground_plane(
    radials: int, droop: float, *, whip: float = 0.25, hub: float = 0.012, shell: float = 0.012
) -> Structure:
    """Quarter-wave ground plane for a wavelength of 1 m: 2 mm rods, radials of 0.25 from the hub's rim."""
    a, b = 0.001, 0.0023
    t = math.radians(droop)
    radial = Rod("radial", ((hub, 0, 0), (hub + 0.25 * math.cos(t), 0, -0.25 * math.sin(t))), a, radials)
    flange, body = Surface("flange", ((b, 0), (hub, 0))), Surface("shell", ((b, 0), (b, -shell), (0, -shell)))
    rod = Rod("whip", ((0, 0, 0), (0, 0, whip)), a)
    return Structure("ground plane", (rod, radial), (flange, body), ApertureFeed((a, 0), (b, 0)))


def impedance(structure: Structure, settings: MeshSettings = FINE) -> complex:
    return 1 / prepare(structure, top_frequency=c, settings=settings).solve(c).admittance


def trimmed(droop: float) -> tuple[float, complex]:
    """Whip cut to resonance over four radials, and the impedance left."""
    whip = brentq(lambda h: impedance(ground_plane(4, droop, whip=h), MeshSettings()).imag, 0.21, 0.255, xtol=1e-5)
    return whip, impedance(ground_plane(4, droop, whip=whip))


def test_four_flat_radials_give_18_to_24_ohm() -> None:
    """Common practice, no source: 18 to 24 ohm at resonance (some say 20 to 28). Measured 22.2 ohm with the whip 2.4 % short."""
    whip, z = trimmed(0)
    print("flat: whip", whip, z)
    assert 18 < z.real < 24
    assert abs(z.imag) < 0.5
    assert 0.94 < whip / 0.25 < 1.0  # "cut it a few percent short"


def test_drooping_radials_bring_50_ohm() -> None:
    """Common practice, no source: near 50 ohm between 35 and 50 degrees. Measured 47.5, 51.7, 55.9, 60.2 ohm at 35, 40, 45, 50."""
    resistance = {droop: trimmed(droop)[1].real for droop in (0, 35, 40, 45, 50)}
    print(resistance)
    assert np.all(np.diff(list(resistance.values())) > 0)
    assert resistance[35] < 50 < resistance[50]
    assert all(45 < resistance[droop] < 62 for droop in (35, 40, 45, 50))


#: Flat quarter-wave radials: impedance [ohm].
MORE_RADIALS = {3: 23.3 + 3.0j, 4: 23.3 + 4.8j, 8: 23.7 + 9.4j, 16: 23.8 + 12.0j, 32: 24.2 + 14.3j}


def flat_radials(count: int) -> complex:
    """Over the smallest hub that holds them."""
    return impedance(ground_plane(count, 0, hub=0.0105 if count > 16 else 0.0055, shell=0.004))


def test_more_radials_raise_reactance_not_resistance() -> None:
    """Common practice: the number of radials hardly matters to R. Second opinion on bare radials without a hub (computed elsewhere, not
    published); the hub adds metal, hence 6 ohm allowed on X here."""
    found = {n: flat_radials(n) for n in MORE_RADIALS}
    print(found)
    for n, expected in MORE_RADIALS.items():
        assert found[n].real == pytest.approx(expected.real, abs=2.0)
        assert found[n].imag == pytest.approx(expected.imag, abs=6.0)
    reactance = [z.imag for z in found.values()]
    assert np.all(np.diff(reactance) > 0) and reactance[-1] < 20.6  # below the solid disc's


@pytest.mark.parametrize("droop, expected", [(30, 50.5 + 28.8j), (45, 66.6 + 41.3j), (60, 83.3 + 56.1j)])
def test_drooping_radials_of_full_quarter_waves(droop: float, expected: complex) -> None:
    """A separate thin-wire solution without a hub (computed elsewhere, not published): R +-5 %, X +-5 ohm there; the hub and shell of the
    model add up to 4 ohm more at steep droop, where the shell lies along the radials' feet."""
    z = impedance(ground_plane(4, droop, hub=0.005, shell=0.004))
    print(droop, z, expected)
    assert z.real == pytest.approx(expected.real, rel=0.05)
    assert z.imag == pytest.approx(expected.imag, abs=9.0)


def beam_at_45_degrees() -> tuple[float, float, float]:
    """Four drooping radials: peak [dBi], its angle from the zenith [degree], and toward the horizon [dBi]."""
    system = prepare(ground_plane(4, 45), top_frequency=c, settings=FINE)
    solved = system.solve(c)
    theta = np.radians(np.arange(1, 180.0))
    e_theta, e_phi = radiation(system, solved, theta=theta, phi=np.array([0.0]))
    _, radiated, _ = powers(system, solved)
    gain = 10 * np.log10(4 * math.pi * (np.abs(e_theta[:, 0]) ** 2 + np.abs(e_phi[:, 0]) ** 2) / (2 * eta0) / radiated)
    return float(gain.max()), float(np.degrees(theta[gain.argmax()])), float(gain[89])


def test_pattern_of_four_radials_at_45_degrees() -> None:
    """1.90 dBi near the horizon (93 degrees from the zenith), 1.89 dBi on it: thin-wire solution, computed elsewhere, not published."""
    peak, angle, horizon = beam_at_45_degrees()
    print("peak", peak, angle, "horizon", horizon)
    assert peak == pytest.approx(1.90, abs=0.15)
    assert horizon == pytest.approx(1.89, abs=0.15)
    assert angle == pytest.approx(92, abs=6)


def discone(frequency: float, wires: int | None) -> Structure:
    """Slant 270/f(MHz) feet, full cone angle 60 degrees, disc two thirds of the cone's base, on a coaxial connector."""
    slant = 270 / (frequency / 1e6) * 0.3048
    neck, pin, bore, gap = 0.012, 0.0016, 0.0037, 0.008
    base = slant * math.sin(math.radians(30))
    depth = -(base - neck) / math.tan(math.radians(30))
    surfaces = [Surface("shell", ((bore, 0), (bore, -0.03), (0, -0.03)))]
    surfaces.append(Surface("disc", ((0, gap), (pin, gap), (2 / 3 * base, gap))))
    rods = [Rod("pin", ((0, 0, 0), (0, 0, gap)), pin)]
    if wires is None:
        surfaces.append(Surface("cone", ((bore, 0), (neck, 0), (base, depth))))
    else:
        surfaces.append(Surface("neck", ((bore, 0), (neck, 0))))
        rods.append(Rod("cone wire", ((neck, 0, 0), (base, 0, depth)), 0.0012, wires))
    return Structure("discone", tuple(rods), tuple(surfaces), ApertureFeed((pin, 0), (bore, 0)))


@pytest.mark.parametrize("frequency", [100e6, 150e6])
@pytest.mark.parametrize("wires", [None, 16, 8])
def test_discone_reaches_swr_2_near_its_design_frequency(frequency: float, wires: int | None) -> None:
    """Handbook rule [@arrl-handbook], from memory: SWR 2 near f, low for octaves above. Measured crossings: sheet 1.05 and 1.07 f,
    16 wires 1.10 and 1.11 f, 8 wires 1.11 and 1.13 f; "near" is taken as 15 %."""
    at = frequency * np.linspace(0.7, 2.0, 40)
    system = prepare(discone(frequency, wires), top_frequency=at[-1], settings=MeshSettings())
    z = np.array([1 / system.solve(f).admittance for f in at])
    reflection = np.abs((z - 50) / (z + 50))
    swr = (1 + reflection) / (1 - reflection)
    first = int(np.argmax(swr < 2))
    crossing = np.interp(-2.0, -swr[: first + 1], at[: first + 1]) / frequency
    print(frequency, wires, "SWR 2 at", crossing, "f; worst above 1.2 f", swr[at > 1.2 * frequency].max())
    assert 0.9 < crossing < 1.15
    assert swr[0] > 5  # useless a third below
    assert swr[at > 1.2 * frequency].max() < (2.0 if wires is None else 2.6)
