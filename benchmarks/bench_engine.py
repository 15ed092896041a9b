"""Speed of the engine: sweeps of named antennas, each against LAPACK factoring a matrix of the same size as often."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.linalg import lu_factor

from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare, run_sweep
from aerialwright.engine.threads import single_thread
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface


def ground_plane(count: int, *, droop: float = 45.0) -> Structure:
    """Quarter-wave rod on ``count`` radials near 155 MHz."""
    hub, reach, b = 0.0127 if count < 20 else 0.09, 0.5, 0.0037
    c, s = math.cos(math.radians(droop)), math.sin(math.radians(droop))
    rods = (
        Rod("rod", ((0.0, 0.0, 0.0), (0.0, 0.0, 0.47)), 0.0016),
        Rod("radial", ((hub, 0.0, 0.0), (hub + reach * c, 0.0, -reach * s)), 0.0016, count),
    )
    surfaces = (
        Surface("flange", ((b, 0.0), (hub, 0.0))),
        Surface("body", ((b, 0.0), (b, -0.012), (0.0, -0.012))),
    )
    return Structure("ground plane", rods, surfaces, ApertureFeed((0.0016, 0.0), (b, 0.0)))


def sheet_discone() -> Structure:
    """Discone of sheet for 120 MHz and up."""
    a, b, neck, gap, slant = 0.0016, 0.0037, 0.012, 0.008, 0.6
    surfaces = (
        Surface("body", ((b, 0.0), (b, -0.03), (0.0, -0.03))),
        Surface("cone", ((b, 0.0), (neck, 0.0), (neck + 0.5 * slant, -slant * math.cos(math.radians(30))))),
        Surface("disc", ((0.0, gap), (a, gap), (0.2, gap))),
    )
    return Structure(
        "discone", (Rod("pin", ((0.0, 0.0, 0.0), (0.0, 0.0, gap)), a),), surfaces, ApertureFeed((a, 0.0), (b, 0.0))
    )


def _sweep(structure: Structure, low: float, high: float, points: int, tolerance: float) -> Callable[[], object]:
    frequency = np.linspace(low, high, points)

    def work() -> object:
        system = prepare(structure, top_frequency=high, settings=MeshSettings())
        return run_sweep(system, frequency, tolerance=tolerance)

    return work


def _lapack(structure: Structure, low: float, high: float, points: int, tolerance: float) -> Callable[[], object]:
    """As many factorisations of a random complex matrix as the sweep made solves, of the same size, one thread."""
    raw = _sweep(structure, low, high, points, tolerance)()
    size, solves = raw.system.mesh.unknowns, len(raw.solved)  # type: ignore[attr-defined]
    matrix = np.random.default_rng(0).normal(size=(size, size)) + 1j

    def work() -> object:
        with single_thread():
            return [lu_factor(matrix) for _ in range(solves)]

    return work


def cases() -> dict[str, tuple[Callable[[], object], Callable[[], object]]]:
    """Named work and its baseline."""
    named = {
        "sweep of 101 points, four radials": (ground_plane(4), 140e6, 170e6, 101, 1e-3),
        "sweep of 101 points, 120 radials": (ground_plane(120), 140e6, 170e6, 101, 1e-3),
        "sweep of 201 points, sheet discone 10:1": (sheet_discone(), 100e6, 1000e6, 201, 1e-3),
    }
    return {name: (_sweep(*job), _lapack(*job)) for name, job in named.items()}
