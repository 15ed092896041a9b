"""The program as tests run it, inside this process or as its own, and a small project for it to answer."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from click.testing import CliRunner

import aerialwright
from aerialwright.app.cli import main

ROOT = Path(__file__).resolve().parents[1]
SOURCE = str(Path(aerialwright.__file__).parents[1])
#: Level polarisation leaves only the dipoles: an answer in a second.
NEED = """
title = "small need"
question = "What shall I build?"
polarisation = "horizontal"
connectors = ["N"]
[[band]]
label = "{first}"
range = "144-146 MHz"
[[band]]
label = "{second}"
range = "156-162 MHz"
[far_end]
kind = "all round"
[[feed_line]]
type = "RG-58"
length = "10 m"
[limits]
largest_size = "2 m"
worst_swr = {worst}
[[stock]]
kind = "rod"
material = "brass"
diameter = "3.2 mm"
length = "1000 mm"
quantity = 6
"""
ROD = """
name = "dipole"
[[rod]]
name = "dipole"
points = [[0, 0, "-0.5 m"], [0, 0, "0.5 m"]]
diameter = "3 mm"
[feed]
kind = "rod"
rod = "dipole"
distance = "0.5 m"
width = "5 mm"
"""


def run(*words: str | Path) -> Any:
    """The program inside this process; ``stdout`` and ``stderr`` apart."""
    return CliRunner().invoke(main, [str(word) for word in words])


def program(*words: str | Path, **options: Any) -> subprocess.CompletedProcess[str]:
    """The program as a process of its own."""
    environment = {**os.environ, "PYTHONPATH": SOURCE, **options.pop("env", {})}
    command = [sys.executable, "-m", "aerialwright.app.cli", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120, **options)


def project(folder: Path, *, worst: float = 3.5, first: str = "low band", second: str = "high band") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "need.toml").write_text(NEED.format(worst=worst, first=first, second=second), "utf-8")
    return folder


def one_line(result: Any, code: int, *named: str) -> str:
    """Standard error holds exactly one line that names the fault, standard output nothing."""
    status = result.returncode if isinstance(result, subprocess.CompletedProcess) else result.exit_code
    assert status == code, result.stderr
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, result.stderr
    assert lines[0].startswith("aerialwright: ") and "Traceback" not in result.stderr
    for word in named:
        assert word in lines[0]
    assert result.stdout == ""
    return lines[0]


def files_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
