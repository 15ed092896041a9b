"""The engine against finite elements (scikit-fem), and the finite elements against exact fields.

The reference solves the differential equation in space, see ``tests/reference/axisymmetric_fem.py``. Its table comes
from ``tests/reference/make_reference.py`` and holds its own error; small cases are solved again here, so that neither
the solver nor the table can rot unseen. All metal is perfect on both sides.
"""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from scipy.constants import c as SPEED_OF_LIGHT
from scipy.constants import epsilon_0, mu_0

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))

from axisymmetric_fem import APERTURE, AXIS, METAL, Problem, Region, half_circle
from make_reference import CASES, STORED, Case, case_named, impedance

from aerialwright.engine.sweep import EngineSettings
from aerialwright.solution.records import Sweep
from aerialwright.solution.solve import solve

TABLE = json.loads(STORED.read_text("utf-8"))["cases"]
GIVEN, LINE = "aperture field given", "coaxial line"
ETA = math.sqrt(mu_0 / epsilon_0)
EVERY = [(case.name, index) for case in CASES for index in range(len(case.frequency))]


def stored(name: str, kind: str) -> np.ndarray:
    """Reference impedances (n,) [ohm]."""
    pairs = np.array(TABLE[name][kind]["impedance_ohm"])
    return pairs[:, 0] + 1j * pairs[:, 1]


@lru_cache
def engine(name: str) -> Sweep:
    """The program's answer at the frequencies of a case, with its stated error."""
    case = case_named(name)
    return solve(case.structure, np.array(case.frequency)).sweep


# ---- the finite elements against exact fields


@pytest.mark.parametrize("angle", [20.0, 46.98, 75.0])
def test_infinite_cone_over_a_plane(angle: float) -> None:
    """60 ln cot(angle / 2) ohm and u = exp(-jkr): the TEM wave of the infinite cone [@schelkunoff-1941, derived]."""
    k, a, outer = 2 * math.pi, 0.02, 1.0
    t = math.radians(angle)
    foot, far = (a, a / math.tan(t)), (outer * math.sin(t), outer * math.cos(t))
    segments = [((a, 0.0), foot, APERTURE), (foot, far, METAL), ((a, 0.0), (outer, 0.0), METAL)]
    segments += half_circle(outer, 0.0, start=t, stop=0.5 * math.pi, count=16)
    region = Region(segments, [], [(a, 0.0, a / 4), (*foot, a / 4)], 0.5, outer)
    built = Problem(region, order=4, largest=0.08, growth=0.4, depth=1.2)
    # Given: (1/rho) du/dn of the wave, the normal pointing to the axis.
    u = built.solve(k, built.load(APERTURE, lambda x: 1j * k / np.hypot(*x) * np.exp(-1j * k * np.hypot(*x))))
    x = built.basis.doflocs
    r = np.hypot(*x)
    near = (r < 0.5) & (np.abs(u) > 0)
    assert near.sum() > 300
    assert np.max(np.abs(u[near] * np.exp(1j * k * r[near]) - 1)) < 1e-5
    # One volt between plane and cone along the arc at the plane's edge of the mouth drives 2 pi u.
    voltage = ETA * math.log(1 / math.tan(0.5 * t)) * np.exp(-1j * k * a)
    at = np.argmin(np.hypot(x[0] - a, x[1]))
    # eta / (2 pi) is 60 ohm to 0.07 %.
    exact = ETA / (2 * math.pi) * math.log(1 / math.tan(0.5 * t))
    assert voltage / (2 * math.pi * u[at]) == pytest.approx(exact, rel=1e-5)


@pytest.mark.parametrize("k", [1.5, 4.0, 12.0])
def test_field_of_short_dipoles(k: float) -> None:
    """A thin rod whose surface carries the exact field of three short dipoles inside it, off centre: axis and layer."""
    a, half = 0.02, 0.3
    sources = ((-0.2, 1.0), (0.05, -0.6j), (0.22, 0.4))

    def exact(x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """u = rho H_phi of the dipoles (field of a current element) and its slopes along rho and z."""
        u, slope_r, slope_z = (np.zeros(x[0].shape, dtype=complex) for _ in range(3))
        for height, moment in sources:
            z = x[1] - height
            r = np.hypot(x[0], z)
            wave = moment * np.exp(-1j * k * r)
            f = wave * (1 + 1j * k * r) / r**3
            df = wave * (k * k * r * r - 3 - 3j * k * r) / r**4
            u += x[0] ** 2 * f
            slope_r += 2 * x[0] * f + x[0] ** 3 / r * df
            slope_z += x[0] ** 2 * df * z / r
        return u, slope_r, slope_z

    def given(x: np.ndarray) -> np.ndarray:
        _, slope_r, slope_z = exact(x)
        side = np.abs(x[1]) < half * (1 - 1e-9)
        return np.where(side, -slope_r, -np.sign(x[1]) * slope_z) / x[0]

    outer = 0.4 + 0.25 * 2 * math.pi / k
    segments = [
        ((0.0, half), (a, half), APERTURE),
        ((a, half), (a, -half), APERTURE),
        ((a, -half), (0.0, -half), APERTURE),
        ((0.0, half), (0.0, outer), AXIS),
        ((0.0, -half), (0.0, -outer), AXIS),
        *half_circle(outer, 0.0),
    ]
    fine = [(a, half, a / 4), (a, -half, a / 4), (0.0, half, a / 4), (0.0, -half, a / 4)]
    fine += [(a, height, a / 8) for height, _ in sources]
    region = Region(segments, [(0.5 * a, 0.0)], fine, 0.4, outer, slim=[(a, -half, half)])
    built = Problem(region, order=4, largest=0.4 / k, growth=0.35, depth=7.5 / k)
    u = built.solve(k, built.load(APERTURE, given))
    x = built.basis.doflocs
    r = np.hypot(*x)
    want = np.zeros_like(u)
    want[r < 0.4] = exact(x[:, r < 0.4])[0]
    # On the metal and near it u is large; away from it only what radiates is left.
    for part in (r < 0.4, (r > 0.35) & (r < 0.4) & (x[0] > 0.1)):
        error = np.max(np.abs(u[part] - want[part])) / np.max(np.abs(want[part]))
        print(f"k = {k}: {error:.1e}")
        assert error < 2e-4


# ---- the stored table


def test_table_is_of_these_cases() -> None:
    """Every case is in the table with today's geometry, and its own error is far below the tolerance."""
    assert list(TABLE) == [case.name for case in CASES]
    for case in CASES:
        assert TABLE[case.name]["digest"] == case.digest(), f"{case.name}: run tests/reference/make_reference.py"
        for kind in (GIVEN, LINE) if case.coaxial else (GIVEN,):
            assert max(TABLE[case.name][kind]["own_error"]) < 5e-4


@pytest.mark.parametrize(
    ("name", "line"),
    [("monopole 3 mm on the plane", False), ("monopole 3 mm on the plane", True), ("bicone 60 degrees", False)],
)
def test_table_is_what_the_solver_gives(name: str, line: bool) -> None:
    """Solved again on the coarser of the two meshes."""
    z, _ = impedance(case_named(name), line=line)
    np.testing.assert_allclose(z, stored(name, LINE if line else GIVEN), rtol=2e-4)


@pytest.mark.whole_tables
@pytest.mark.parametrize(
    ("name", "kind"), [(name, kind) for name, kinds in TABLE.items() for kind in (GIVEN, LINE) if kind in kinds]
)
def test_whole_table_solved_again(name: str, kind: str) -> None:
    z, _ = impedance(case_named(name), line=kind == LINE, fine=True)
    np.testing.assert_allclose(z, stored(name, kind), rtol=1e-5)


def test_depth_of_the_line_does_not_matter() -> None:
    """The port is carried back to the mouth: with the line half as long again the impedance is the same."""
    case = case_named("monopole 3 mm on the plane")
    assert case.coaxial is not None
    a, b, depth = case.coaxial
    z, _ = impedance(replace(case, coaxial=(a, b, 1.5 * depth)), line=True)
    np.testing.assert_allclose(z, stored(case.name, LINE), rtol=2e-4)
    # It would not pass if the length were forgotten: that alone turns the reflection by more than 0.1 rad.
    assert 2 * 2 * math.pi * case.frequency[0] / SPEED_OF_LIGHT * depth > 0.1


# ---- the engine

#: Measured faults of the engine, one line each; a mark that no longer fits fails.


@pytest.mark.parametrize(("name", "index"), EVERY)
def test_engine_against_finite_elements(name: str, index: int) -> None:
    """Same model on both sides (aperture field held): within 1 % at every frequency."""
    want = stored(name, GIVEN)[index]
    difference = abs(engine(name).impedance[index] - want) / abs(want)
    print(f"{name}, {case_named(name).frequency[index] / 1e6:g} MHz: {100 * difference:.3f} %")
    assert difference < 0.01


@pytest.mark.parametrize(("name", "index"), EVERY)
def test_stated_error_holds_the_reference(name: str, index: int) -> None:
    """The disc that the program prints with each impedance holds the reference."""
    sweep = engine(name)
    distance = abs(sweep.impedance[index] - stored(name, GIVEN)[index])
    print(f"{name}: {distance:.3g} ohm of {sweep.impedance_error[index]:.3g} ohm stated")
    assert distance < sweep.impedance_error[index]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_finer_engine_mesh_comes_closer(case: Case) -> None:
    """The engine converges to the finite elements, not to something near: 0.4 % with the mesh of its self-check."""
    want = stored(case.name, GIVEN)
    settings = EngineSettings(mesh=EngineSettings().fine)
    z = solve(case.structure, np.array(case.frequency), settings=settings, check=False).sweep.impedance
    worst = float(np.max(abs(z - want) / abs(want)))
    print(f"{case.name}: {100 * worst:.3f} %")
    assert worst < 0.004


@pytest.mark.parametrize("name", [case.name for case in CASES if case.coaxial is not None])
def test_free_field_in_the_coaxial_mouth(name: str) -> None:
    """With a real line below the mouth the difference stays below 1.5 %: what holding the TEM field there costs.

    It is a capacitance across the mouth, about -2 fF per millimetre of inner radius at line ratio 2.3, so it grows with
    radius, frequency and the impedance itself.
    """
    case = case_named(name)
    want = stored(name, LINE)
    difference = abs(engine(name).impedance - want) / abs(want)
    omega = 2 * math.pi * np.array(case.frequency)
    capacitance = (1 / want - 1 / stored(name, GIVEN)).imag / omega
    print(f"{name}: {np.round(100 * difference, 3)} %, {np.round(1e15 * capacitance, 2)} fF")
    assert np.max(difference) < 0.015
    # One capacitance at all frequencies: nothing else changes with the mouth's field.
    assert np.ptp(capacitance) < 0.05 * abs(capacitance.mean())
