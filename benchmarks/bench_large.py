"""Structures without symmetry: one frequency of many parasitic rods, against LAPACK's factoring of the same matrix."""

from __future__ import annotations

import os
from collections.abc import Callable

import numpy as np
from scipy.linalg import lu_factor
from threadpoolctl import threadpool_limits

from aerialwright.engine.matrix import System
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare
from aerialwright.structure.model import Rod, RodFeed, Structure

FREQUENCY = 3e8


def field_of_rods(count: int) -> Structure:
    """A fed half-wave rod and ``count`` parasitic ones on a grid 0.3 m apart."""
    rods = [Rod("fed", ((0.0, 0.0, -0.24), (0.0, 0.0, 0.24)), 1e-3)]
    for i in range(count):
        x, y = 0.3 * (1 + i % 20), 0.3 * (1 + i // 20)
        rods.append(Rod(f"rod {i}", ((x, y, -0.22), (x, y, 0.24)), 1e-3))
    return Structure("field of rods", tuple(rods), (), RodFeed("fed", 0.24, 4e-3))


def _system(count: int, cores: int) -> System:
    system = prepare(field_of_rods(count), top_frequency=FREQUENCY, settings=MeshSettings())
    system.cores = cores
    return system


def _pair(count: int, cores: int) -> tuple[Callable[[], object], Callable[[], object]]:
    system = _system(count, cores)
    matrix = np.array(system.matrix(FREQUENCY), order="F")

    def ours() -> object:
        with threadpool_limits(cores):
            return system.solve(FREQUENCY)

    def lapack() -> object:
        with threadpool_limits(cores):
            return lu_factor(matrix.copy(order="F"), overwrite_a=True, check_finite=False)

    return ours, lapack


def cases() -> dict[str, tuple[Callable[[], object], Callable[[], object]]]:
    """Fill and solve at about 500, 1000 and 2000 unknowns on one core, and at 1000 on all."""
    named = {f"{count} rods, one core": _pair(count, 1) for count in (15, 31, 62)}
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if cores > 1:
        named[f"31 rods, {cores} cores"] = _pair(31, cores)
    return named
