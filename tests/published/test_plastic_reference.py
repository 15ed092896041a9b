"""Plastic round rods: the engine against finite elements, and the finite elements with plastic against exact fields.

The table comes from ``tests/reference/make_plastic_reference.py``. Exact: a coaxial line with a plastic section (TEM), and
the TM surface wave of a rod in layers inside a metal cylinder (Bessel functions, derived here; with the cylinder far away
it is the wave of a coated wire, G. Goubau 1950, from memory).

Tolerances: the program promises the shift of a resonance by plastic to a tenth of itself and the impedance to 1.5 %
about it (docs/decisions/0020-plastic-round-rods.md). Measured at worst: 2.7 % of the shift and 1.34 %; the limits below
leave room for a new mesh, and the local term of a thin layer alone misses them by far (shift wrong by up to 98 %).
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.constants import c as SPEED_OF_LIGHT
from scipy.constants import epsilon_0, mu_0
from scipy.optimize import brentq
from scipy.sparse.linalg import eigsh
from scipy.special import iv, jv, kv, yv

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))

from axisymmetric_fem import AXIS, INTERFACE, METAL, PORT, Problem, Region
from make_plastic_reference import CASES, STORED, bare_impedance, case_named, plastic_impedance, resonance

from aerialwright.engine.sweep import EngineSettings
from aerialwright.solution.solve import solve
from aerialwright.structure.model import Coating, Rod, RodFeed, Structure

TABLE = json.loads(STORED.read_text("utf-8"))["cases"]
NAMES = [case.name for case in CASES]
#: Where the plastic reaches down to the mouth, its field crosses the plastic, which the engine leaves out: a capacitance of
#: up to 0.12 pF here, that shows in the impedance away from resonance.
BARE_FOOT = [case.name for case in CASES if case.start > 0]


def stored(name: str, kind: str) -> np.ndarray:
    """Reference impedances (n,) [ohm]."""
    pairs = np.array(TABLE[name][kind])
    return pairs[:, 0] + 1j * pairs[:, 1]


@lru_cache
def engine(name: str, fine: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """The program's impedance (n,) of a case, bare and with plastic."""
    case = case_named(name)
    settings = EngineSettings(mesh=EngineSettings().fine) if fine else EngineSettings()
    f = np.array(case.bare.frequency)
    bare, coated = (
        solve(s, f, settings=settings, check=False).sweep.impedance
        for s in (case.bare.structure, case.coated.structure)
    )
    return bare, coated


# ---- the finite elements against exact fields


@pytest.mark.parametrize("permittivity", [2.3, 3.0 - 0.3j, 9.0])
def test_line_with_a_plastic_section(permittivity: complex) -> None:
    """A short behind 60 mm of plastic in a coaxial line: j Z0 / sqrt(eps) tan(k sqrt(eps) l), at its face."""
    a, b, air, length, f = 0.002, 0.0046, 0.02, 0.06, 600e6
    segments = [
        ((a, 0.0), (b, 0.0), PORT),
        ((b, 0.0), (b, air), METAL),
        ((b, air), (b, air + length), METAL),
        ((b, air + length), (a, air + length), METAL),
        ((a, air + length), (a, air), METAL),
        ((a, air), (a, 0.0), METAL),
        ((a, air), (b, air), INTERFACE),
    ]
    region = Region(segments, [], [], 1.0, 2.0, dielectric=[(a, b, air, 1.0, permittivity)])
    built = Problem(region, order=3, largest=0.004, depth=1.0)
    z = built.port_impedance(f, inner=a, outer=b, distance=air)
    root = np.sqrt(complex(permittivity))
    k = 2 * math.pi * f / SPEED_OF_LIGHT
    z0 = math.sqrt(mu_0 / epsilon_0) / (2 * math.pi) * math.log(b / a)
    assert z == pytest.approx(1j * z0 / root * np.tan(k * root * length), rel=1e-6)
    # It would not pass with the permittivity forgotten.
    assert abs(z / (1j * z0 * np.tan(k * length)) - 1) > 0.2


def wave_number(beta: float, a: float, b1: float, b2: float, wall: float, permittivity: float) -> float:
    """Wave number in vacuum of the TM wave exp(-j beta z) of a rod ``a`` with plastic b1..b2 in a metal cylinder ``wall``.

    E_z = A I0(h r) + B K0(h r), h^2 = beta^2 - k^2 eps (J0, Y0 where negative); E_z and eps E_z' / h^2 are continuous.
    """

    def residual(k: float) -> float:
        field, flux = 0.0, 1.0
        for r0, r1, eps in ((a, b1, 1.0), (b1, b2, permittivity), (b2, wall, 1.0)):
            if r1 <= r0:
                continue
            square = beta * beta - k * k * eps
            h = math.sqrt(abs(square))

            def row(r: float, h: float = h, square: float = square) -> list[list[float]]:
                if square > 0:
                    return [[iv(0, h * r), kv(0, h * r)], [h * iv(1, h * r), -h * kv(1, h * r)]]
                return [[jv(0, h * r), yv(0, h * r)], [-h * jv(1, h * r), -h * yv(1, h * r)]]

            parts = np.linalg.solve(row(r0), [field, flux * square / (eps * r0)])
            field, slope = np.array(row(r1)) @ parts
            flux = slope * eps * r1 / square
        return float(field)

    # Between the speed in the plastic and that in vacuum: the only wave without a cutoff.
    low, high = beta / math.sqrt(permittivity) * (1 + 1e-9), beta * (1 - 1e-9)
    grid = np.linspace(low, high, 60)
    values = [residual(k) for k in grid]
    found = [brentq(residual, *grid[i : i + 2], xtol=1e-14) for i in range(59) if values[i] * values[i + 1] < 0]
    return max(found)


@pytest.mark.parametrize(
    ("b1", "b2", "wall", "permittivity"),
    [(0.005, 0.007, 0.02, 3.0), (0.0105, 0.0125, 0.03, 3.0), (0.005, 0.015, 0.15, 2.3)],
    ids=["touching", "pipe", "surface wave"],
)
def test_wave_of_a_rod_in_layers(b1: float, b2: float, wall: float, permittivity: float) -> None:
    """Between two metal plates half a wavelength of the wave apart it resonates where the dispersion equation says."""
    a, length = 0.005, 0.02
    beta = math.pi / length
    k = wave_number(beta, a, b1, b2, wall, permittivity)
    if wall > 0.1:
        # So tightly bound that the cylinder is not felt: the wave of a coated wire in free space.
        assert math.exp(-2 * math.sqrt(beta**2 - k**2) * (wall - b2)) < 1e-6
    assert k < 0.99 * beta
    radii = sorted({a, b1, b2, wall})
    segments = [((a, 0.0), (a, length), METAL), ((wall, 0.0), (wall, length), METAL)]
    for r0, r1 in pairwise(radii):
        segments += [((r0, 0.0), (r1, 0.0), METAL), ((r0, length), (r1, length), METAL)]
    segments += [((r, 0.0), (r, length), INTERFACE) for r in radii[1:-1]]
    region = Region(segments, [], [], 10.0, 20.0, dielectric=[(b1, b2, 0.0, length, permittivity)])
    built = Problem(region, order=4, largest=0.004, depth=1.0)
    assert not np.any(built.facet_tag == AXIS)
    found = eigsh(built.stiffness.real, M=built.mass.real, k=3, sigma=k * k, return_eigenvectors=False)
    nearest = math.sqrt(found[np.argmin(abs(found - k * k))])
    assert nearest == pytest.approx(k, rel=1e-7)


# ---- the stored table


def test_table_is_of_these_cases() -> None:
    """Every case is in the table with today's geometry; its own error is far below what it is used for."""
    assert list(TABLE) == NAMES
    for case in CASES:
        record = TABLE[case.name]
        assert record["digest"] == case.digest(), f"{case.name}: run tests/reference/make_plastic_reference.py"
        assert max(record["own_error"]) < 1e-3
        assert record["shift_own_error"] < 2e-5 < 0.002 * abs(record["shift"]) + 1e-5


@pytest.mark.parametrize(
    "name", ["10 mm rod, pipe of 2 mm wall touching, eps 3", "19 mm rod in 43 mm pipe, wall 2.5, eps 3, 0.455 m"]
)
def test_table_is_what_the_solver_gives(name: str) -> None:
    """Solved again on the coarser of the two meshes, at two frequencies; one of them without the plastic, too."""
    case = case_named(name)
    case = replace(case, bare=replace(case.bare, frequency=case.bare.frequency[2:7:4]))
    np.testing.assert_allclose(plastic_impedance(case)[0], stored(name, "plastic_ohm")[2:7:4], rtol=1e-3)
    if case.radius == case.inner:
        np.testing.assert_allclose(bare_impedance(case)[0], stored(name, "bare_ohm")[2:7:4], rtol=1e-3)


# ---- the engine


@pytest.mark.whole_tables
@pytest.mark.parametrize("name", [case.name for case in CASES])
def test_whole_table_solved_again(name: str) -> None:
    z, _ = plastic_impedance(case_named(name), fine=True)
    pairs = np.array(TABLE[name]["plastic_ohm"])
    np.testing.assert_allclose(z, pairs[:, 0] + 1j * pairs[:, 1], rtol=1e-5)


@pytest.mark.parametrize("name", NAMES)
def test_shift_of_the_resonance(name: str) -> None:
    """To 5 % of itself, on the mesh people get and on the one of the self-check."""
    f = np.array(case_named(name).bare.frequency)
    for fine in (False, True):
        bare, coated = engine(name, fine)
        shift = resonance(f, coated) / resonance(f, bare) - 1
        print(f"{name}: {100 * shift:.3f} %, finite elements {100 * TABLE[name]['shift']:.3f} %")
        assert shift == pytest.approx(TABLE[name]["shift"], rel=0.05)


@pytest.mark.parametrize("name", NAMES)
def test_impedance_about_resonance(name: str) -> None:
    """Within 1.5 % from 0.86 to 0.98 of the quarter-wave frequency, 1.25 % over the whole span where the foot is bare."""
    want = stored(name, "plastic_ohm")
    difference = abs(engine(name)[1] - want) / abs(want)
    print(f"{name}: {np.round(100 * difference, 2)} %")
    assert np.max(difference[1:5]) < 0.015
    if name in BARE_FOOT:
        assert np.max(difference) < 0.0125


@pytest.mark.parametrize("name", NAMES)
def test_mesh_does_not_matter(name: str) -> None:
    """The finer mesh moves the impedance by no more than it does without plastic: the term is definite."""
    (bare, coated), (bare_fine, coated_fine) = engine(name), engine(name, True)
    moved = np.max(abs(coated - coated_fine) / abs(coated_fine))
    assert moved < 2 * np.max(abs(bare - bare_fine) / abs(bare_fine)) + 3e-4


def test_loss_in_the_plastic() -> None:
    """The resistance that a lossy plastic adds, from the two cases that differ in nothing else."""
    lossy, clear = "6 mm rod, 1 mm touching, eps 3.2, lossy", "6 mm rod, 1 mm touching, eps 3.2"
    want = (stored(lossy, "plastic_ohm") - stored(clear, "plastic_ohm")).real
    found = (engine(lossy)[1] - engine(clear)[1]).real
    print(want, found)
    assert want.min() > 0.1
    np.testing.assert_allclose(found[:5], want[:5], rtol=0.06)


@pytest.mark.parametrize(
    "name", ["2 mm rod, 0.4 mm touching, eps 3.2", "10 mm rod in 25 mm pipe, wall 2, eps 3, 0.18 m"]
)
@pytest.mark.parametrize("axis", [(0.0, 0.0, 1.0), (0.6, 0.0, 0.8)])
def test_dipole_of_rods_shifts_like_its_half(name: str, axis: tuple[float, float, float]) -> None:
    """A dipole written as a rod, upright or slanting, moves as the monopole does over the plane."""
    case = case_named(name)
    f, h, a = np.array(case.bare.frequency), case.height, case.radius
    ends = tuple(tuple(sign * h * v for v in axis) for sign in (-1, 1))
    found = []
    for shell in (None, Coating(case.inner, case.outer, case.permittivity)):
        structure = Structure("dipole", (Rod("rod", ends, a, coating=shell),), (), RodFeed("rod", h, 2 * a))
        found.append(resonance(f, solve(structure, f, check=False).sweep.impedance))
    assert found[1] / found[0] - 1 == pytest.approx(TABLE[name]["shift"], rel=0.05)
