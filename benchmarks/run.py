"""Run the benchmarks: warm times, ratios within the same run, peak memory.

    python benchmarks/run.py [--quick] [--json [FILE]] [--only TEXT] [--compare REV]

Seconds of one machine say little on another; so every case is printed as a ratio to a baseline that is timed beside
it, in the same process, in alternation. With --compare the last column is the time here over the time there. Each case
runs in a process of its own, so that its peak memory is its own. What a benchmark module looks like:
benchmarks/README.md. Only the standard library is imported here: a child's memory must not begin with its parent's.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib.util
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
Call = Callable[[], object]

#: The baseline of a case that names none: one complex dense solve of this size, the machine's own LAPACK.
YARDSTICK_SIZE = 300
MARK = "benchmark-result:"


class BenchmarkError(Exception):
    """A benchmark that cannot be run; one line for the person at the terminal."""


def yardstick() -> Call:
    """The default baseline: ``numpy.linalg.solve`` of a fixed complex system."""
    import numpy as np

    generator = np.random.default_rng(1)
    shape = (YARDSTICK_SIZE, YARDSTICK_SIZE)
    matrix = generator.standard_normal(shape) + 1j * generator.standard_normal(shape)
    right = generator.standard_normal((YARDSTICK_SIZE, 1)) + 0j
    return lambda: np.linalg.solve(matrix, right)


def load_cases(path: Path) -> dict[str, tuple[Call, Call | None]]:
    """The cases of a module: name to (callable, baseline or None)."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    if spec is None or spec.loader is None:
        raise BenchmarkError(f"{path}: cannot be loaded")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    shared = getattr(module, "baseline", None)
    return {
        name: value if isinstance(value, tuple) else (value, getattr(value, "baseline", shared))
        for name, value in module.cases().items()
    }


def peak_memory() -> float:
    """Largest resident size of this process so far [MiB]."""
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (2**20 if sys.platform == "darwin" else 2**10)  # kernel's unit: bytes there, KiB on Linux


def timed(call: Call, count: int) -> float:
    """Seconds per call over ``count`` calls."""
    start = time.perf_counter()
    for _ in range(count):
        call()
    return (time.perf_counter() - start) / count


def measure(path: Path, name: str, *, quick: bool) -> dict[str, Any]:
    """Time one case against its baseline, alternating; memory is read before the baseline has run."""
    call, own_baseline = load_cases(path)[name]
    before = peak_memory()
    first = timed(call, 1)
    timed(call, 1)
    after = peak_memory()
    baseline = own_baseline or yardstick()
    timed(baseline, 1)
    span, rounds = (0.05, 5) if quick else (0.2, 9)
    counts = [max(1, int(span / max(timed(each, 1), 1e-7))) for each in (call, baseline)]
    samples: tuple[list[float], list[float]] = ([], [])
    for _ in range(rounds):
        for kept, each, count in zip(samples, (call, baseline), counts, strict=True):
            kept.append(timed(each, count))
    case, base = (min(kept) for kept in samples)  # other work on the machine only ever adds time
    return {
        "seconds": case,
        "spread": statistics.median(samples[0]) / case - 1.0,
        "first_call_seconds": first,
        "baseline": "own" if own_baseline else "yardstick",
        "baseline_seconds": base,
        "ratio": case / base,
        "peak_memory_mib": after,
        "memory_above_import_mib": after - before,
    }


def describe() -> dict[str, Any]:
    """Machine and versions, as seen by the process that runs the benchmarks."""
    from importlib.metadata import PackageNotFoundError, version

    import aerialwright

    found: dict[str, Any] = {
        "cores": len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count(),
        "machine": platform.machine(),
        "system": platform.system(),
        "python": platform.python_version(),
        "aerialwright": aerialwright.__version__,
        "source": str(Path(str(aerialwright.__file__)).parents[1]),
    }
    for name in ("numpy", "scipy", "numba"):
        with contextlib.suppress(PackageNotFoundError):
            found[name] = version(name)
    return found


def ask_child(arguments: list[str], *, source: Path) -> Any:
    """Run this file in a fresh process on the package under ``source`` and return what it found."""
    environment = {**os.environ, "PYTHONPATH": str(source)}
    command = [sys.executable, str(Path(__file__).resolve()), "--child", *arguments]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    for line in done.stdout.splitlines():
        if line.startswith(MARK):
            return json.loads(line.removeprefix(MARK))
    last = (done.stderr.strip().splitlines() or ["no message"])[-1]
    raise BenchmarkError(f"{' '.join(arguments)}: {last}")


def child(arguments: list[str]) -> None:
    """The far side of :func:`ask_child`."""
    match arguments:
        case ["describe"]:
            answer: Any = describe()
        case ["list", path]:
            answer = list(load_cases(Path(path)))
        case ["measure", path, name, speed]:
            answer = measure(Path(path), name, quick=speed == "quick")
        case _:
            raise SystemExit(f"unknown: {arguments}")
    print(MARK + json.dumps(answer))


@contextlib.contextmanager
def revision(name: str) -> Iterator[Path]:
    """The source folder of another revision, in a temporary working tree that is removed afterwards."""

    def git(*words: str) -> str:
        done = subprocess.run(["git", "-C", str(ROOT), *words], capture_output=True, text=True, check=False)
        if done.returncode:
            raise BenchmarkError(f"revision {name}: {(done.stderr.strip().splitlines() or ['failed'])[-1]}")
        return done.stdout.strip()

    commit = git("rev-parse", "--verify", "--end-of-options", f"{name}^{{commit}}")
    with tempfile.TemporaryDirectory(prefix="aerialwright-bench-") as folder:
        tree = Path(folder) / "tree"
        git("worktree", "add", "--detach", str(tree), commit)
        try:
            yield tree / "src"
        finally:
            git("worktree", "remove", "--force", str(tree))


def run(*, only: str, quick: bool, other: Path | None) -> dict[str, Any]:
    """Run every case whose name holds ``only``; with ``other`` also on that source, in alternation."""
    sources = {"here": ROOT / "src"} | ({"there": other} if other else {})
    result: dict[str, Any] = {"cases": {}}
    for key, source in sources.items():
        result[key] = ask_child(["describe"], source=source)
        if Path(result[key].pop("source")).resolve() != source.resolve():
            raise BenchmarkError(f"the package was not taken from {source}")
    for path in sorted(HERE.glob("bench_*.py")):
        for name in ask_child(["list", str(path)], source=sources["here"]):
            title = f"{path.stem.removeprefix('bench_')}: {name}"
            if only not in title:
                continue
            row: dict[str, Any] = {}
            for _ in range(2 if other and not quick else 1):
                for key, source in sources.items():
                    try:
                        new = ask_child(["measure", str(path), name, "quick" if quick else "full"], source=source)
                    except BenchmarkError as error:
                        if key == "here":
                            raise
                        new = {"failed": str(error)}  # the other revision may lack what the case calls
                    if key not in row or new.get("seconds", 0.0) < row[key].get("seconds", 0.0):
                        row[key] = new
            result["cases"][title] = row
            print(line_of(title, row), file=sys.stderr, flush=True)
    return result


def line_of(title: str, row: dict[str, Any]) -> str:
    """One case as a line of the table."""
    here = row["here"]
    text = (
        f"{title:<44.44} {here['seconds'] * 1e3:11.4g} {here['ratio']:9.3g} {here['baseline']:>9} "
        f"{here['spread'] * 100:6.0f}% {here['first_call_seconds']:8.2f} {here['memory_above_import_mib']:9.1f}"
    )
    if "there" in row:
        there = row["there"]
        text += "      cannot" if "failed" in there else f" {here['seconds'] / there['seconds']:11.3g}"
    return text


def main() -> int:
    """Entry point; the exit status is 1 if a benchmark could not be run."""
    parser = argparse.ArgumentParser(description="Warm benchmarks, as ratios to a baseline timed in the same run.")
    parser.add_argument("--quick", action="store_true", help="fewer and shorter samples")
    parser.add_argument("--only", default="", metavar="TEXT", help="only the cases whose name holds TEXT")
    parser.add_argument(
        "--json", nargs="?", const="-", metavar="FILE", help="write JSON to FILE, or instead of the table"
    )
    parser.add_argument("--compare", metavar="REV", help="run the same benchmarks on another git revision as well")
    options = parser.parse_args()
    head = f"{'case':<44} {'ms (warm)':>11} {'ratio':>9} {'baseline':>9} {'spread':>7} {'first s':>8} {'MiB added':>9}"
    print(head + (f" {'here/' + options.compare:>11}" if options.compare else ""), file=sys.stderr)
    try:
        with revision(options.compare) if options.compare else contextlib.nullcontext() as other:
            result = run(only=options.only, quick=options.quick, other=other)
    except BenchmarkError as error:
        print(f"benchmarks: {error}", file=sys.stderr)
        return 1
    here = result["here"]
    print(", ".join(f"{key} {value}" for key, value in here.items()), file=sys.stderr)
    if not result["cases"]:
        print("benchmarks: no case matches", file=sys.stderr)
        return 1
    if options.json == "-":
        print(json.dumps(result, indent=2))
    elif options.json:
        Path(options.json).write_text(json.dumps(result, indent=2) + "\n", "utf-8")
    return 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        child(sys.argv[2:])
    else:
        sys.exit(main())
