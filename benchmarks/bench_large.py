"""Structures without symmetry: one frequency of many parasitic rods, against LAPACK's L U of the same matrix."""

from __future__ import annotations

import os
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.linalg import lu_factor
from threadpoolctl import threadpool_limits

from aerialwright.engine.matrix import System
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare
from aerialwright.structure.model import Rod, RodFeed, Structure

FREQUENCY = 3e8
#: Rods beside the fed one, for about 100, 250, 500, 1000, 2000 and 4000 unknowns.
GROWTH = (3, 8, 16, 33, 68, 137)


def field_of_rods(count: int) -> Structure:
    """A fed half-wave rod and ``count`` parasitic ones on a grid 0.3 m apart."""
    rods = [Rod("fed", ((0.0, 0.0, -0.24), (0.0, 0.0, 0.24)), 1e-3)]
    for i in range(count):
        x, y = 0.3 * (1 + i % 20), 0.3 * (1 + i // 20)
        rods.append(Rod(f"rod {i}", ((x, y, -0.22), (x, y, 0.24)), 1e-3))
    return Structure("field of rods", tuple(rods), (), RodFeed("fed", 0.24, 4e-3))


def system_of(count: int, cores: int) -> System:
    """The field of rods, ready to be solved on so many cores."""
    system = prepare(field_of_rods(count), top_frequency=FREQUENCY, settings=MeshSettings())
    system.cores = cores
    return system


def pair(count: int, cores: int) -> tuple[Callable[[], object], Callable[[], object]]:
    """Fill and solve, and LAPACK's zgetrf of the same matrix with as many threads."""
    system = system_of(count, cores)
    matrix = np.array(system.matrix(FREQUENCY), order="F")

    def ours() -> object:
        with threadpool_limits(cores):
            return system.solve(FREQUENCY)

    def lapack() -> object:
        with threadpool_limits(cores):
            return lu_factor(matrix.copy(order="F"), overwrite_a=True, check_finite=False)

    return ours, lapack


def best(calls: dict[str, Callable[[], object]], *, rounds: int, cores: int = 1) -> dict[str, float]:
    """Least seconds of each call, taken in turns: of processor time on one core, of the clock on more."""
    clock = time.process_time if cores == 1 else time.perf_counter
    found = dict.fromkeys(calls, float("inf"))
    for _ in range(rounds):
        for name, call in calls.items():
            start = clock()
            call()
            found[name] = min(found[name], clock() - start)
    return found


def growth() -> list[dict[str, float]]:
    """Unknowns and seconds on one core of preparing, filling, solving and of LAPACK's L U of the same matrix."""
    rows = []
    for count in GROWTH:
        system = system_of(count, 1)
        ours, lapack = pair(count, 1)
        calls = {
            "prepare": lambda count=count: system_of(count, 1),
            "fill": lambda system=system: system.matrix(FREQUENCY),
            "fill and solve": ours,
            "LAPACK": lapack,
        }
        rounds = 15 if count < 20 else 7 if count < 60 else 2
        rows.append({"unknowns": float(system.mesh.unknowns), **best(calls, rounds=rounds)})
    return rows


def peak_memory() -> int:
    """Largest resident size of this process so far [bytes]."""
    try:
        # Where a process starts its count anew; that of getrusage begins with its parent's.
        return 1024 * int(Path("/proc/self/status").read_text("ascii").split("VmHWM:")[1].split()[0])
    except (OSError, IndexError):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def memory(count: int) -> tuple[int, float, int]:
    """Unknowns, peak memory of one frequency over that of the matrix, and peak memory of the process [bytes]."""
    # Everything that comes with the first solve of a large system, whatever its size, and one small matrix.
    small = system_of(24, 1)
    small.solve(FREQUENCY)
    before = peak_memory() - 16 * small.mesh.unknowns**2
    del small
    system = system_of(count, 1)
    system.solve(FREQUENCY)
    return system.mesh.unknowns, (peak_memory() - before) / (16 * system.mesh.unknowns**2), peak_memory()


def cases() -> dict[str, tuple[Callable[[], object], Callable[[], object]]]:
    """Fill and solve at about 500, 1000 and 2000 unknowns on one core, and at 1000 on all."""
    named = {f"{count} rods, one core": pair(count, 1) for count in (16, 33, 68)}
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if cores > 1:
        named[f"33 rods, {cores} cores"] = pair(33, cores)
    return named
