"""Imports point downward only, and every module can be imported alone.

The order is read from the lines of the source (every import statement, also those inside functions), so that a late
import cannot hide an upward arrow. The rules are this project's own: docs/decisions/0002-source-layout-and-layers.md.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = "aerialwright"
SOURCE = Path(__file__).resolve().parents[2] / "src"

#: The rooms (folders of the package), bottom first.
LAYERS = (
    "base",
    "stock",
    "need",
    "structure",
    "engine",
    "lines",
    "solution",
    "antennas",
    "design",
    "sheet",
    "bench",
    "air",
    "report",
    "project",
    "jobs",
    "app",
)

#: Neighbours that must not know each other although the order would allow it.
STRANGERS = {("project", "report")}

#: Rooms of pure arrays and records: no files, no terminal, no templates, no logging.
PURE_ROOMS = ("need", "structure", "engine")
IMPURE = {"click", "rich", "jinja2", "tomlkit", "tomllib", "pydantic", "filelock", "pathlib", "io", "logging"}

#: What a person waits for when asking only for help must not be loaded by the command line's module.
HEAVY = {"numba", "scipy", "skrf", "pandas", "jinja2", "pydantic"}


def module_name(path: Path) -> str:
    """Dotted name of a source file below ``src``."""
    parts = path.relative_to(SOURCE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


FILES = {module_name(path): path for path in sorted((SOURCE / PACKAGE).rglob("*.py"))}


def imports_in(text: str, *, name: str, is_package: bool) -> Iterator[tuple[int, str]]:
    """Line and dotted target of every import in ``text``; ``from a import b`` yields ``a.b``."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            anchor = name.split(".") if is_package else name.split(".")[:-1]
            anchor = anchor[: len(anchor) - node.level + 1] if node.level else []
            target = ".".join([*anchor, *([node.module] if node.module else [])])
            for alias in node.names:
                yield node.lineno, f"{target}.{alias.name}"


def room(target: str) -> str:
    """The room that a dotted name of the package lies in."""
    return target.split(".")[1]


def layer(target: str) -> int:
    """Height of a dotted name of the package."""
    if room(target) not in LAYERS:
        raise KeyError(f"{target}: its room is missing from LAYERS")
    return LAYERS.index(room(target))


def faults(text: str, *, name: str, is_package: bool) -> list[str]:
    """Every import of ``text`` that breaks a rule, as one line each."""
    found = []
    for line, target in imports_in(text, name=name, is_package=is_package):
        top = target.split(".")[0]
        if top != PACKAGE:
            if name.count(".") and room(name) in PURE_ROOMS and top in IMPURE:
                found.append(f"{name}:{line} is in a pure room and imports {top}")
        elif target.count(".") == 0 or target == f"{PACKAGE}.__version__":
            if target == PACKAGE:
                found.append(f"{name}:{line} imports the package root; only its __version__ may be taken from there")
        elif name in (PACKAGE, f"{PACKAGE}.__main__"):
            if name == PACKAGE:
                found.append(f"{name}:{line} the package root imports nothing of the package")
        elif layer(target) > layer(name):
            found.append(f"{name}:{line} imports upward: {target}")
        elif (room(name), room(target)) in STRANGERS:
            found.append(f"{name}:{line} {room(name)} may not know {room(target)}")
    return found


def test_imports_point_downward() -> None:
    """No module of the package breaks a rule of order, purity or acquaintance."""
    assert FILES, f"no source under {SOURCE}"
    wrong = [
        fault
        for name, path in FILES.items()
        for fault in faults(path.read_text("utf-8"), name=name, is_package=path.name == "__init__.py")
    ]
    assert not wrong, "\n" + "\n".join(wrong)


@pytest.mark.parametrize(
    ("name", "line", "expected"),
    [
        ("aerialwright.engine.solve", "from aerialwright.antennas import catalogue", "upward"),
        ("aerialwright.engine.solve", "from ..app import cli", "upward"),
        ("aerialwright.engine.solve", "def f():\n    import aerialwright.report.page", "upward"),
        ("aerialwright.antennas.discone", "from aerialwright.design.tune import tune", "upward"),
        ("aerialwright.base.units", "import aerialwright", "package root"),
        ("aerialwright.base.units", "from aerialwright import app", "upward"),
        ("aerialwright.project.folder", "from aerialwright.report.page import render", "may not know"),
        ("aerialwright.engine.solve", "from pathlib import Path", "pure room"),
        ("aerialwright", "from aerialwright.base import units", "imports nothing"),
        ("aerialwright.antennas.discone", "from aerialwright.design.records import Design", "upward"),
        ("aerialwright.design.records", "from aerialwright.antennas.records import Piece", None),
        ("aerialwright.report.page", "from aerialwright import __version__", None),
        ("aerialwright.app.cli", "from ..report.page import render", None),
    ],
)
def test_the_rules_themselves(name: str, line: str, expected: str | None) -> None:
    """The rules catch what they must, and nothing else."""
    found = faults(line, name=name, is_package=name == PACKAGE)
    assert (expected is None and not found) or (expected is not None and any(expected in fault for fault in found))


def run_python(code: str) -> subprocess.CompletedProcess[str]:
    """Run ``code`` in a fresh interpreter that sees this source tree first."""
    environment = {**os.environ, "PYTHONPATH": str(SOURCE)}
    return subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False)


ALONE = """
import importlib, sys, traceback
failed = False
for name in {names!r}:
    for loaded in [n for n in sys.modules if n.split(".")[0] == {package!r}]:
        del sys.modules[loaded]
    try:
        importlib.import_module(name)
    except BaseException:
        failed = True
        print(name, "cannot be imported alone:", traceback.format_exc(limit=-2))
sys.exit(failed)
"""


def test_every_module_can_be_imported_alone() -> None:
    """One fresh interpreter, the package forgotten before each import: no module leans on another's having been
    loaded first. (The libraries stay loaded, or this would take a second per module.)"""
    names = [name for name in FILES if not name.endswith("__main__")]
    done = run_python(ALONE.format(names=names, package=PACKAGE))
    assert done.returncode == 0, "\n" + done.stdout + done.stderr


def test_help_does_not_load_the_numerics() -> None:
    """The command line's own module leaves the heavy libraries for the commands that need them."""
    done = run_python(f"import sys, {PACKAGE}.app.cli\nprint(*sorted({HEAVY!r} & set(sys.modules)))")
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []
