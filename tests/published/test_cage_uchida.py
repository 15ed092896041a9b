"""Cage of N wires: equivalent radius after Uchida [@uchida-1967], ``(N a R^(N-1))^(1/N)``, second hand.

The formula is that of an endless cage. At its ends and at its gap a cage is no tube; what that costs goes with the cage's radius and
vanishes for slim cages. So the engine's cages must approach the tube of that radius as they get slim, and must do so at once when the wires
are so thick (``a = R/N``) that the formula gives the cage's own radius.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from aerialwright.base.constants import c
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Rod, RodFeed, Structure, Surface


def equivalent_radius(count: int, wire: float, cage: float) -> float:
    return float((count * wire * cage ** (count - 1)) ** (1 / count))


def cage(count: int, length: float, radius: float, wire: float, gap: float) -> Structure:
    """Parallel wires on a circle, each with the gap in its middle: all driven alike, so no spreaders are needed."""
    rod = Rod("wire", ((radius, 0, -length / 2), (radius, 0, length / 2)), wire, count)
    return Structure("cage", (rod,), (), RodFeed("wire", length / 2, gap))


def tube(length: float, radius: float, gap: float) -> Structure:
    """Open tube: like the cage it has no end faces."""
    upper = Surface("upper", ((radius, gap / 2), (radius, length / 2)))
    lower = Surface("lower", ((radius, -length / 2), (radius, -gap / 2)))
    return Structure("tube", (), (upper, lower), ApertureFeed((radius, gap / 2), (radius, -gap / 2)))


def admittance(structure: Structure, settings: MeshSettings | None = None) -> complex:
    """Total current over voltage at a wavelength of 1 m."""
    return prepare(structure, top_frequency=c, settings=settings or EngineSettings().fine).solve(c).admittance


def test_identities_of_the_formula() -> None:
    assert equivalent_radius(1, 0.002, 0.05) == pytest.approx(0.002)
    assert equivalent_radius(6, 0.05 / 6, 0.05) == pytest.approx(0.05)
    radii = [equivalent_radius(n, 0.001, 0.05) for n in range(1, 20)]
    assert np.all(np.diff(radii) > 0)


@pytest.mark.parametrize("radius, tolerance", [(0.003, 0.008), (0.01, 0.018)])
def test_thick_wires_make_the_tube(radius: float, tolerance: float) -> None:
    """``a = R/N`` for every N from 3 up: one admittance, that of the tube. Measured 0.6 % at a radius of 0.003 wavelengths,
    0.8 to 1.4 % at 0.01 (the wires' gaps hold less charge than the tube's one)."""
    whole = admittance(tube(0.46, radius, 2.1 * radius))
    for count in (3, 6, 12, 24):
        y = admittance(cage(count, 0.46, radius, radius / count, 2.1 * radius))
        print(radius, count, y * 1e3, whole * 1e3, abs(y / whole - 1))
        assert abs(y / whole - 1) < tolerance


@pytest.mark.parametrize("count, ratio", [(2, 1 / 8), (4, 1 / 20), (6, 1 / 20)])
def test_resonance_of_slim_cages(count: int, ratio: float) -> None:
    """Resonant length of the cage less that of the tube, over R. Measured 0.3 to 0.45: the end effect, which goes with R, so that
    a slim cage and its tube agree within a fifth of what separates the tube from a single wire."""
    shift = []
    for radius in (0.01, 0.0025):
        wire, gap = radius * ratio, 2.1 * radius * max(ratio, 0.2)
        equal = equivalent_radius(count, wire, radius)

        def resonance(build, *dimensions: float) -> float:
            return brentq(
                lambda length: admittance(build(length, *dimensions), MeshSettings()).imag, 0.42, 0.495, xtol=2e-5
            )

        one = resonance(lambda length, r, g, w=wire: cage(count, length, r, w, g), radius, gap)
        other = resonance(tube, equal, gap)
        lone = resonance(tube, wire, gap)
        shift.append((one - other) / radius)
        print(count, radius, "equivalent", equal, "cage", one, "tube", other, "single wire", lone, "shift/R", shift[-1])
        assert abs(one - other) < 0.55 * radius
    assert abs(one - other) < abs(lone - other) / 5
    assert abs(shift[1]) < abs(shift[0]) + 0.05
