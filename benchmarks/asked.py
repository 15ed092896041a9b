# ruff: noqa: E402  (the number of BLAS threads is set before numpy is loaded)
"""What is asked of the engine's speed and memory, measured in one run.

    python benchmarks/asked.py [--json FILE]

Times on one core are processor time, the least of many, so that other work on the machine counts little; two cores go by the clock and
want a quiet machine. Memory and start-up are taken in processes of their own. About two minutes.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault(
    "OPENBLAS_NUM_THREADS", str(len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2)
)
HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "tests" / "reference")]

import bench_engine
import bench_large
import numpy as np

from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare, run_sweep
from aerialwright.engine.threads import single_thread
from aerialwright.structure.model import Structure

#: Label, measured, asked (at most), unit.
Row = tuple[str, float, float, str]
FINEST = MeshSettings(longest=0.1, end_fraction=0.15, ratio=2.0, order=5, points=3, near_rule=(10, 20))


def in_a_process(code: str) -> str:
    """Last line printed by Python code in a fresh process that finds this folder and the package."""
    path = os.pathsep.join(p for p in sys.path if p)
    done = subprocess.run(
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.strip().splitlines()[-1]


def sweep(structure: Structure, frequency: np.ndarray) -> tuple[Callable[[], object], int, float]:
    """A sweep to be timed, its solves, and its largest difference in percent from a far finer mesh at five frequencies."""
    top = float(frequency[-1])

    def work() -> object:
        return run_sweep(prepare(structure, top_frequency=top, settings=MeshSettings()), frequency, tolerance=1e-3)

    raw = run_sweep(prepare(structure, top_frequency=top, settings=MeshSettings()), frequency, tolerance=1e-3)
    fine = prepare(structure, top_frequency=top, settings=FINEST)
    at = np.linspace(0, len(frequency) - 1, 5).astype(int)
    with single_thread():
        better = np.array([fine.solve(float(frequency[i])).admittance for i in at])
    return work, len(raw.solved), 100 * float(np.max(np.abs(raw.admittance[at] / better - 1)))


def sweeps() -> list[Row]:
    """The named sweeps, warm, one core."""
    narrow, wide = np.linspace(140e6, 170e6, 101), np.linspace(100e6, 1000e6, 201)
    four, _, four_error = sweep(bench_engine.ground_plane(4), narrow)
    many, _, _ = sweep(bench_engine.ground_plane(120), narrow)
    discone, solves, discone_error = sweep(bench_engine.sheet_discone(), wide)
    spent = bench_large.best({"four": four, "many": many, "discone": discone}, rounds=25)
    return [
        ("101 points, four radials", 1e3 * spent["four"], 25.0, "ms"),
        ("  its error", four_error, 0.5, "%"),
        ("120 radials over four", spent["many"] / spent["four"], 2.0, "x"),
        ("201 points, sheet discone 10:1", 1e3 * spent["discone"], 60.0, "ms"),
        ("  its error", discone_error, 1.0, "%"),
        ("  its solves at 0.1 %", solves, 12, ""),
    ]


def most_solves() -> list[Row]:
    """One random antenna of every class over an octave (discone and bicone two), 201 points at 0.1 %."""
    import make_error_band as band

    found = {}
    for label in band.labels():
        one, _ = band.draw(label, 10_050)
        wide = label.split(": ")[0] in band.WIDE
        low = one.span.low * (0.9 if wide else 0.75)
        frequency = np.geomspace(low, low * (4.0 if wide else 2.0), 201)
        system = prepare(one.structure, top_frequency=float(frequency[-1]), settings=EngineSettings().mesh)
        found[label] = len(run_sweep(system, frequency, tolerance=1e-3).solved)
    label = max(found, key=lambda name: found[name])
    return [(f"most solves of {len(found)} classes ({label.split(': ')[-1]})", found[label], 12, "")]


def over_lapack(cores: int) -> list[Row]:
    """Order 1: fill and solve over LAPACK's L U of the same matrix."""
    ours, lapack = bench_large.pair(33, cores)
    spent = bench_large.best({"ours": ours, "LAPACK": lapack}, rounds=15, cores=cores)
    return [(f"1004 unknowns, {cores} core(s), over zgetrf", spent["ours"] / spent["LAPACK"], 2.0, "x")]


def memory() -> list[Row]:
    """Peak memory of one frequency over the matrix, each size in a process of its own."""
    rows: list[Row] = []
    for count in (33, 68, 137):
        text = in_a_process(f"import bench_large; print(*bench_large.memory({count}))")
        unknowns, over, peak = (float(part) for part in text.split())
        rows.append((f"{unknowns:.0f} unknowns: peak memory over the matrix", over, 1.3, "x"))
    rows.append(("  the whole process", peak / 2**30, 3.0, "GiB"))
    return rows


def start() -> list[Row]:
    """Importing the engine and loading its compiled kernels, in a process of its own; the first one may compile."""
    code = (
        "import time; a = time.process_time(); from aerialwright.engine.warm import warm_up; b = time.process_time(); "
        "warm_up(); print(b - a, time.process_time() - b)"
    )
    in_a_process(code)
    runs = [[float(part) for part in in_a_process(code).split()] for _ in range(3)]
    return [
        ("compiled kernels loaded and one tiny antenna solved", min(run[1] for run in runs), 1.0, "s"),
        ("  the same with the import of the engine", min(sum(run) for run in runs), 1.0, "s"),
    ]


def main() -> None:
    """Print the table."""
    began, rows = time.perf_counter(), []
    print(f"{'what':<58}{'measured':>10}{'asked':>8}")
    for part in (sweeps, most_solves, lambda: over_lapack(1), memory, start, lambda: over_lapack(2)):
        for label, measured, asked, unit in part():
            mark = "" if measured <= asked else "  not reached"
            print(f"{label:<58}{measured:>10.3g}{asked:>8g} {unit}{mark}", flush=True)
            rows.append((label, measured, asked, unit))
    print(f"{time.perf_counter() - began:.0f} s")
    if "--json" in sys.argv[1:]:
        Path(sys.argv[sys.argv.index("--json") + 1]).write_text(json.dumps(rows, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
