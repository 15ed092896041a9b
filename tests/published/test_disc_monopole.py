"""A quarter-wave monopole over a circular disc.

M. M. Weiner et al., Monopole element at the center of a circular groundplane of arbitrary radius, MITRE MTR-9622 (1986), tabulates
this antenna after J. H. Richmond (1984). Only its opening pages could be read, so none of its digits are used from memory except the
directivity without a disc (1.88 dBi). Instead the two ends of the table are evaluated here, and three rows in between are of a
separate numerical solution (computed elsewhere, not published):

* no disc: a lone quarter-wave element with a sinusoidal current (derived: its far field is integrated below);
* large disc: J. E. Storer, The impedance of an antenna over a large circular screen, J. Appl. Phys. 22, 1058 (1951): the rim sends
  back ``Z - Z_infinite = j 60/(k d) exp(-j k d)`` ohm, ``d`` the diameter (formula from memory; leading term for a quarter wave).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from aerialwright.base.constants import c, eta0
from aerialwright.engine.far_field import powers, radiation
from aerialwright.engine.matrix import Solved, System
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

RADIUS = 1e-4  # of the element, in wavelengths (the wavelength is 1 m)


def element() -> Rod:
    return Rod("element", ((0, 0, 0), (0, 0, 0.25)), RADIUS)


def over_disc(disc: float, *, radius: float = RADIUS) -> Structure:
    """The element over a disc, with the few millimetres of coaxial shell that carry the aperture."""
    b = 2.3 * radius
    rod = Rod("element", ((0, 0, 0), (0, 0, 0.25)), radius)
    surfaces = (Surface("disc", ((b, 0), (disc, 0))), Surface("shell", ((b, 0), (b, -4 * b), (0, -4 * b))))
    return Structure("disc monopole", (rod,), surfaces, ApertureFeed((radius, 0), (b, 0)))


def solve(structure: Structure, settings: MeshSettings | None = None) -> tuple[System, Solved, complex]:
    system = prepare(structure, top_frequency=c, settings=settings or EngineSettings().fine)
    solved = system.solve(c)
    return system, solved, 1 / solved.admittance


def directivity(system: System, solved: Solved, theta: np.ndarray) -> np.ndarray:
    e_theta, e_phi = radiation(system, solved, theta=theta, phi=np.array([0.0]))
    _, radiated, _ = powers(system, solved)
    return 4 * math.pi * (np.abs(e_theta[:, 0]) ** 2 + np.abs(e_phi[:, 0]) ** 2) / (2 * eta0) / radiated


def lone_element() -> tuple[float, float]:
    """Resistance at the foot [ohm] and directivity of a sinusoidal quarter wave of current alone in space, by integration."""
    k, h = 2 * math.pi, 0.25
    theta = np.linspace(1e-6, math.pi - 1e-6, 4001)
    x, w = np.polynomial.legendre.leggauss(40)
    z, wz = h / 2 * (x + 1), h / 2 * w
    n = np.exp(1j * k * np.outer(np.cos(theta), z)) @ (wz * np.sin(k * (h - z))) * np.sin(theta)
    intensity = eta0 * k**2 / (32 * math.pi**2) * np.abs(n) ** 2
    power = 2 * math.pi * np.trapezoid(intensity * np.sin(theta), theta)
    return 2 * power, 4 * math.pi * intensity.max() / power


def test_a_vanishing_disc_leaves_the_element_alone() -> None:
    """Directivity 1.88 dBi (MTR-9622, from memory; 1.8824 by the integral), within 0.01 dB. The resistance of a table made with a
    sinusoidal current, 19.4 ohm, is passed while the disc is a twentieth to a tenth of a wavelength; a disc so small that it
    cannot take the foot's charge bends the current away from the sinusoid (10.7 ohm and -j1200 ohm at 0.005)."""
    r, d = lone_element()
    assert r == pytest.approx(19.43, abs=0.01)
    assert 10 * math.log10(d) == pytest.approx(1.88, abs=0.005)
    system, solved, small = solve(over_disc(0.02))
    horizon = directivity(system, solved, np.array([math.pi / 2]))[0]
    between = [solve(over_disc(radius))[2].real for radius in (0.04, 0.10)]
    print("lone", r, 10 * math.log10(d), "disc 0.02:", small, 10 * math.log10(horizon), "R at 0.04, 0.10:", between)
    assert 10 * math.log10(horizon) == pytest.approx(1.88, abs=0.01)
    assert between[0] < r < between[1]


def test_a_large_disc_reflects_as_storer_says() -> None:
    """Mean over one period of the ratio of the engine's Z - Z_infinite to the leading term. Measured 1.03 - j0.42 about 1.2
    wavelengths, 1.07 - j0.27 about 2.2, 1.08 - j0.22 about 3.2: the next order dies as one over the root of the size, and the real
    current of a wire 1e-4 thick is 4 % longer in effect than the sinusoid, squared."""
    infinite = solve(Structure("monopole", (element(),), (), ApertureFeed((RADIUS, 0), (2.3 * RADIUS, 0)), "perfect"))[
        2
    ]
    errors = []
    for start in (1.0, 3.0):
        ratio = []
        for disc in start + np.arange(4) / 8:
            kd = 4 * math.pi * disc
            ratio.append((solve(over_disc(disc), MeshSettings())[2] - infinite) / (60j / kd * np.exp(-1j * kd)))
        errors.append(abs(np.mean(ratio) - 1))
        print("about", start, "wavelengths: mean ratio", np.mean(ratio))
    assert errors[0] < 0.5
    assert errors[1] < 0.3
    assert errors[1] < 0.7 * errors[0]


#: Droop [degree]: impedance [ohm].
SKIRTS = {0: 25.4 + 19.4j, 15: 42.1 + 32.5j, 30: 62.8 + 44.1j, 45: 86.1 + 55.8j, 60: 110.1 + 72.1j, 75: 125.2 + 97.9j}


def over_skirt(droop: float) -> Structure:
    """The element, 0.001 thick, over a disc or cone of 0.25 slant."""
    radius, t = 0.001, math.radians(droop)
    b = 2.3 * radius
    skirt = Surface("skirt", ((b, 0), (b + 0.25 * math.cos(t), -0.25 * math.sin(t))))
    shell = Surface("shell", ((b, 0), (b, -4 * b), (0, -4 * b)))
    rod = Rod("element", ((0, 0, 0), (0, 0, 0.25)), radius)
    return Structure("skirt", (rod,), (skirt, shell), ApertureFeed((radius, 0), (b, 0)))


def test_quarter_wave_disc_and_drooping_skirts() -> None:
    """Solid disc and conical skirts of 0.25 wavelength slant under a 0.25 element of radius 0.001 (computed elsewhere, not published):
    R +-5 %, X +-6 ohm as stated there."""
    for droop, z in SKIRTS.items():
        found = solve(over_skirt(droop))[2]
        print(droop, found, z)
        assert found.real == pytest.approx(z.real, rel=0.05)
        assert found.imag == pytest.approx(z.imag, abs=6.0)
