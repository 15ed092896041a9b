# ruff: noqa: E402  (the number of BLAS threads is set before numpy is loaded)
"""The measurements behind the decisions about the engine (docs/decisions/0008 to 0012), to be repeated.

    python docs/figures/measure.py basis | families | feed | ends | margin | threads

Each prints its numbers; nothing else in the tree reads them.
"""

from __future__ import annotations

import math
import os
import sys
import time
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from threading import Thread

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1" if sys.argv[1:] != ["threads"] else "2")
ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests" / "published"), str(ROOT / "tests" / "reference")]

import numpy as np
from make_error_band import draw, labels
from make_reference import case_named
from scipy.optimize import brentq
from test_finite_element_reference import CASES, GIVEN, stored
from test_king_hallen import inner_admittance, open_tube
from test_trade_rules import discone, ground_plane

from aerialwright.base.constants import c
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.project.structures import read_structure
from aerialwright.solution.solve import solve
from aerialwright.structure.model import ApertureFeed, Structure, Surface

NOW = MeshSettings()


def impedances(structure: Structure, frequency: np.ndarray, settings: MeshSettings) -> tuple[np.ndarray, int]:
    """Impedance (n,) [ohm] and the number of unknowns."""
    system = prepare(structure, top_frequency=float(frequency[-1]), settings=settings)
    z = np.array([system.port_factor / system.solve(float(f)).admittance for f in frequency])
    return z, system.mesh.unknowns


def graded(order: int, s: float) -> MeshSettings:
    """A graded mesh, finer with smaller ``s``."""
    return replace(NOW, order=order, longest=0.45 * s, end_fraction=1.2 * s, ratio=1 + 3 * s, near_rule=(9, 18))


@lru_cache
def bases() -> dict[str, tuple[MeshSettings, ...]]:
    """Rows of refinements: meshes from coarse to fine for each kind of basis."""
    cuts = (1.0, 0.7, 0.5, 0.35, 0.25, 0.18, 0.12, 0.08, 0.055)
    ladders = {order: tuple(graded(order, s) for s in cuts) for order in (1, 2, 3, 4)}
    # Elements of one size: the first element of a line is as long as all others. Longer than 0.15 wavelengths would be raised an order.
    even = tuple(
        replace(NOW, order=1, longest=0.15 * s, end_fraction=1e6, near_rule=(9, 18))
        for s in (1.0, 0.5, 0.25, 0.125, 0.06, 0.03, 0.015)
    )
    return {"order 1, equal elements": even} | {f"order {order}, graded mesh": rows for order, rows in ladders.items()}


def subjects() -> dict[str, tuple[Structure, np.ndarray, np.ndarray | None]]:
    """What the bases are compared on: structure, frequencies, and the finite-element values where there are any."""
    sheet = case_named("discone")
    band = np.linspace(0.9, 1.2, 4) * c
    return {
        "discone of sheet": (sheet.structure, np.array(sheet.frequency), stored("discone", GIVEN)),
        "discone of 8 wires": (discone(100e6, 8), np.linspace(100e6, 300e6, 5), None),
        "ground plane, 4 radials": (ground_plane(4, 45), band, None),
    }


def convergence(name: str) -> dict[str, list[tuple[int, float]]]:
    """(unknowns, worst relative error) for every basis and mesh of one subject."""
    structure, frequency, truth = subjects()[name]
    if truth is None:
        best = replace(NOW, order=5, longest=0.12, end_fraction=0.15, ratio=2.0, near_rule=(10, 20))
        truth, _ = impedances(structure, frequency, best)
    found: dict[str, list[tuple[int, float]]] = {}
    for basis, rows in bases().items():
        found[basis] = []
        for settings in rows:
            z, unknowns = impedances(structure, frequency, settings)
            found[basis].append((unknowns, float(np.max(abs(z - truth) / abs(truth)))))
            if unknowns > 900:
                break
    return found


def basis() -> None:
    """Unknowns to 0.5 % of impedance."""
    for name in subjects():
        print(name)
        for kind, rows in convergence(name).items():
            # The size from which the error stays below 0.5 %.
            good = [index for index in range(len(rows)) if all(error < 0.005 for _, error in rows[index:])]
            reached = f"0.5 % from {rows[good[0]][0]} unknowns" if good else "0.5 % not reached"
            print(f"  {kind:24} {reached:28}", ", ".join(f"{n}: {100 * e:.2f} %" for n, e in rows))


def families() -> None:
    """Unknowns and time of one solve from which impedance stays within 0.5 %, graded meshes of orders 1 to 4, every kind of antenna.

    One random design of each kind of the error study, at the lowest, middle and highest frequency it was drawn for.
    """
    best = replace(NOW, order=5, longest=0.12, end_fraction=0.15, ratio=2.0, near_rule=(9, 18))
    for label in labels():
        one, _ = draw(label, 500)
        truth, _ = impedances(one.structure, one.frequency, best)
        said = []
        for order in (1, 2, 3, 4):
            reached = None
            for s in (4.0, 2.8, 2.0, 1.4, 1.0, 0.7, 0.5, 0.35, 0.25, 0.18, 0.12, 0.08):
                settings = graded(order, s)
                z, unknowns = impedances(one.structure, one.frequency, settings)
                if np.max(abs(z - truth) / abs(truth)) < 0.005:
                    reached = (unknowns, settings)
                    break
                if unknowns > 700:
                    break
            if reached is None:
                said.append(f"order {order}: not with {unknowns}")
                continue
            system = prepare(one.structure, top_frequency=float(one.frequency[-1]), settings=reached[1])
            system.solve(float(one.frequency[1]))
            start = time.perf_counter()
            for _ in range(5):
                system.solve(float(one.frequency[1]))
            said.append(f"order {order}: {reached[0]}, {200 * (time.perf_counter() - start):.1f} ms")
        print(f"{label:44}", "; ".join(said), flush=True)


def feed() -> None:
    """The closed feed against finite elements, and what the inside of an open tube would add to its admittance."""
    for name in ("fat dipole", "very fat dipole"):
        case = case_named(name)
        assert isinstance(case.structure.feed, ApertureFeed)
        radius, gap = case.structure.feed.positive[0], 2 * case.structure.feed.positive[1]
        frequency = np.array(case.frequency)
        truth = stored(name, GIVEN)
        z = solve(case.structure, frequency, check=False).sweep.impedance
        print(
            f"{name}: radius {radius} m, gap {gap} m; closed feed differs from finite elements by "
            f"{100 * np.max(abs(z / truth - 1)):.2f} %"
        )
        for width in (1.0, 0.5, 0.1, 0.01):
            # The tests' formula is for a wavelength of one metre; lengths are scaled to it.
            inside = np.array([inner_admittance(radius * f / c, width * gap * f / c) for f in frequency])
            differs = abs(1 / (1 / z + inside) / truth - 1)
            print(f"  inside of a tube added, gap {1e3 * width * gap:g} mm: {100 * differs.min():.1f} to {100 * differs.max():.1f} %, "
                  f"{1e15 * np.mean(inside.imag / (2 * math.pi * frequency)):.0f} fF")  # fmt: skip


def ends() -> None:
    """Part of the radius that a flat closed end adds to an open tube: lengths of equal admittance's zero phase, closed against open."""
    fine = replace(EngineSettings().fine, end_fraction=0.1, ratio=2.0, near_rule=(10, 20))

    def reactance(structure: Structure) -> float:
        return float(prepare(structure, top_frequency=c, settings=fine).solve(c).admittance.imag)

    def shut(length: float, radius: float, gap: float) -> Structure:
        upper = Surface("upper", ((radius, gap / 2), (radius, length / 2), (0.0, length / 2)))
        lower = Surface("lower", ((0.0, -length / 2), (radius, -length / 2), (radius, -gap / 2)))
        return Structure("closed", (), (upper, lower), ApertureFeed((radius, gap / 2), (radius, -gap / 2)))

    for radius in (0.001, 0.002, 0.005, 0.01, 0.02):
        gap = 2 * radius
        closed = brentq(lambda length, a=radius, g=gap: reactance(shut(length, a, g)), 0.40, 0.495, xtol=1e-8)
        opened = brentq(lambda length, a=radius, g=gap: reactance(open_tube(length, a, gap=g)), 0.40, 0.495, xtol=1e-8)
        print(
            f"radius {radius:g} wavelengths: resonant length closed {closed:.5f}, open {opened:.5f}, "
            f"each end {(opened - closed) / 2 / radius:.3f} radius"
        )


def margin() -> None:
    """Error of the reported mesh over its difference from the finer one: finite elements for bodies of revolution, for rods
    off the axis, which those cannot do, a mesh several times finer."""
    settings = EngineSettings()
    best = replace(NOW, order=5, longest=0.1, end_fraction=0.12, ratio=1.8, points=4, near_rule=(12, 24))
    cases = [(case.name, case.structure, np.array(case.frequency), stored(case.name, GIVEN)) for case in CASES]
    for path in sorted(ROOT.glob("examples/*/designs/*.toml")):
        structure, low = read_structure(path), 143e6 if "quillfen" in path.parts else 150e6
        if path.stem != "sheet-discone":
            frequency = np.linspace(low, 1.15 * low, 5)
            cases.append((path.stem, structure, frequency, impedances(structure, frequency, best)[0]))
    for wires in (8, 16):
        frequency = np.linspace(100e6, 300e6, 5)
        cases.append(
            (
                f"discone of {wires} wires",
                discone(100e6, wires),
                frequency,
                impedances(discone(100e6, wires), frequency, best)[0],
            )
        )
    ratios: list[float] = []
    outside = 0
    for name, structure, frequency, truth in cases:
        z, unknowns = impedances(structure, frequency, settings.mesh)
        better, _ = impedances(structure, frequency, settings.fine)
        error, difference = abs(z / truth - 1), abs(z / better - 1)
        counted = error > 1e-3  # below the floor that is stated in any case
        ratios += list(error[counted] / difference[counted])
        outside += int(np.sum(error > np.maximum(2.5 * difference, 1e-3)))
        text = f"ratio up to {(error / difference)[counted].max():.2f}" if counted.any() else "below the floor"
        print(
            f"{name:36} {unknowns:4} unknowns, error {100 * error.max():.3f} %, finer mesh differs {100 * difference.max():.3f} %, {text}"
        )
    print(f"{len(ratios)} of {5 * len(cases)} points have more than 0.1 % of error; error over difference: "
          f"median {np.median(ratios):.2f}, largest {max(ratios):.2f}; {outside} outside 2.5 times and the floor")  # fmt: skip


def threads() -> None:
    """Time of one solve, and of two at once, with one and with two BLAS threads."""
    from threadpoolctl import threadpool_limits

    structure = discone(100e6, 8)
    system = prepare(structure, top_frequency=300e6, settings=NOW)
    system.solve(2e8)

    def best(call: object, repeat: int = 15) -> float:
        times = []
        for _ in range(repeat):
            start = time.perf_counter()
            call()  # type: ignore[operator]
            times.append(time.perf_counter() - start)
        return min(times)

    def twice() -> None:
        pair = [Thread(target=system.solve, args=(2e8,)) for _ in range(2)]
        for thread in pair:
            thread.start()
        for thread in pair:
            thread.join()

    for count in (1, 2):
        with threadpool_limits(count):
            print(f"{system.mesh.unknowns} unknowns, {len(system.point)} points, {count} BLAS thread(s): "
                  f"one solve {1e3 * best(lambda: system.solve(2e8)):.1f} ms, two at once {1e3 * best(twice):.1f} ms")  # fmt: skip


if __name__ == "__main__":
    chosen = {call.__name__: call for call in (basis, families, feed, ends, margin, threads)}
    if len(sys.argv) != 2 or sys.argv[1] not in chosen:
        sys.exit(__doc__)
    chosen[sys.argv[1]]()
