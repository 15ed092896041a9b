"""Writes what the program itself says into the documentation.

    python docs/generate.py [FILE ...]          # write; without a name everything
    python docs/generate.py --check [FILE ...]  # say where they are out of step; ends with 1 if they are

docs/families.md and docs/checks.md are made whole: reference values come out of the tests' own data (module constants,
parameters of the test functions, the stored finite-element table), ours are computed while this runs. In the other pages
each ``text`` block that follows a ``bash`` or ``python`` block is what that block prints; a ``toml`` block with a file name
is written to that file first. Nothing is typed by hand.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
# This tree's own package, not one that is installed, and the module beside this file.
sys.path[:0] = [str(ROOT / "src"), str(DOCS)]

from check_tables import checks_text, table  # noqa: E402

#: A number by itself, or behind the j of an impedance.
NUMBER = re.compile(r"(?:(?<![\w.])[-+]?|(?<=\bj))\d+(?:\.\d+)?(?![\w.]*\w)")
INCHES = re.compile(r"(?:\d+ )?\d+(?:/\d+|\.\d+)? in\b")
BRACKET = re.compile(r"\([\d.]+(?: to [\d.]+)?\)")


# ---- families


def families_text() -> str:
    """docs/families.md."""
    from aerialwright.antennas.catalogue import families

    out = [
        "# Families of antennas",
        "",
        "Made by `python docs/generate.py` from the program's own records; a test keeps it in step. "
        "`aerialwright families FAMILY` prints the same.",
        "",
        "A family is one way of building an antenna. Its dimensions are what a builder cuts, bends, drills or counts; each has the "
        "datum that it is measured from, because a length without one is a guess. The keys are those of `[owned.dimensions]` in a "
        "[need](need.md). The program moves the dimensions marked *tuned* until the must-bands fit, and rounds them to the step that "
        "can be marked out; the others come from your stock and the family. A value outside the limits is refused.",
        "",
        table(
            ("family", "what it is", "polarisation"),
            [(f"[`{f.key}`](#{f.key})", f.title, ", ".join(f.polarisations)) for f in families()],
        ),
    ]  # fmt: skip
    unit = {"length": (1e3, "mm"), "angle": (1.0, "deg"), "count": (1.0, "")}
    for kind in families():
        rows = []
        for p in kind.parameters:
            factor, word = unit[p.kind]
            limits = f"{p.lowest * factor:g} to {p.highest * factor:g} {word}".strip()
            step = f"{p.step * factor:g} {word}".strip()
            rows.append((f"`{p.key}`", p.label, p.datum, "tuned" if p.tuned else "", step, limits))
        about = (type(kind).__doc__ or "").strip().splitlines()[0]
        out += [
            "",
            f"## {kind.key}",
            "",
            f"{kind.title[0].upper()}{kind.title[1:]}. {about}",
            "",
            f"* First guess: {first_line(kind.first_guess)}",
            f"* Offered: {first_line(kind.plans)}",
            f"* Modelled as: {first_line(kind.structure)}",
            f"* Limits while tuning: {first_line(kind.bounds)}",
            "",
            table(("key", "dimension", "datum", "", "step", "limits"), rows),
        ]
    return "\n".join(out) + "\n"


def first_line(method: Callable[..., Any]) -> str:
    """First line of a docstring."""
    return re.sub(r" ?\[@[\w-]+\]", "", (method.__doc__ or "").strip().splitlines()[0])


# ---- blocks that are run


@dataclass(frozen=True)
class Block:
    """A fenced block of a page: its info words, its text, and where its text stands in the page."""

    info: tuple[str, ...]
    text: str
    start: int
    end: int


FENCE = re.compile(r"^```([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def blocks(page: str) -> list[Block]:
    """All fenced blocks."""
    return [Block(tuple(m[1].split()), m[2], m.start(2), m.end(2)) for m in FENCE.finditer(page)]


def outputs(page: str, folder: Path) -> Iterator[tuple[Block, str]]:
    """Run the blocks of a page one after the other in ``folder``; each ``text`` block with what was printed before it.

    Raises RuntimeError with the block and what it printed when one fails.
    """
    environment = {**os.environ, "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}", "COLUMNS": "100",
                   "OPENBLAS_NUM_THREADS": "1", "NO_COLOR": "1", "PYTHONPATH": str(ROOT / "src")}  # fmt: skip
    printed: str | None = None
    for block in blocks(page):
        kind = block.info[0] if block.info else ""
        if kind == "toml" and len(block.info) > 1:
            (folder / block.info[1]).write_text(block.text, "utf-8")
        if kind in ("bash", "python"):
            command = ["bash", "-euc", block.text] if kind == "bash" else [sys.executable, "-c", block.text]
            done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
            expected = int(block.info[1].removeprefix("ends=")) if len(block.info) > 1 else 0
            if done.returncode != expected:
                raise RuntimeError(f"ended with {done.returncode}:\n{block.text}\n{done.stdout}\n{done.stderr}")
            printed = done.stdout + done.stderr
        elif kind == "text" and printed is not None:
            yield block, "\n".join(line.rstrip() for line in printed.splitlines()) + "\n"
            printed = None
        else:
            printed = None


def workplace(folder: Path) -> Path:
    """A copy of the examples as they are in the tree, without results."""
    shutil.copytree(ROOT / "examples", folder / "examples", ignore=shutil.ignore_patterns("out", ".lock"))
    return folder


def filled(name: str) -> str:
    """A page with the output of its blocks put in."""
    page = (ROOT / name).read_text("utf-8")
    if not any(block.info[:1] in (("bash",), ("python",)) for block in blocks(page)):
        return page
    with tempfile.TemporaryDirectory() as folder:
        found = list(outputs(page, workplace(Path(folder))))
    for block, text in reversed(found):
        page = page[: block.start] + text + page[block.end :]
    return page


# ---- keeping in step


def differences(old: str, new: str, *, slack: float = 1.5, relative: float = 0.0) -> list[str]:
    """Lines of ``old`` that are not those of ``new``; numbers may differ by ``slack`` units of their last printed digit
    or by the part ``relative``. Spaces, inch fractions and spans in brackets do not count."""
    before, after = old.splitlines(), new.splitlines()
    found = [] if len(before) == len(after) else [f"{len(before)} lines, now {len(after)}"]
    for number, (was, now) in enumerate(zip(before, after, strict=False), 1):
        a_text, b_text = (BRACKET.sub("(#)", INCHES.sub("# in", " ".join(line.split()))) for line in (was, now))
        if NUMBER.sub("#", a_text) != NUMBER.sub("#", b_text):
            found.append(f"{number}: {was!r}, now {now!r}")
            continue
        for a, b in zip(NUMBER.findall(a_text), NUMBER.findall(b_text), strict=True):
            digits = len(a.partition(".")[2])
            if abs(float(a) - float(b)) > max(slack * 10.0**-digits, relative * abs(float(b))):
                found.append(f"{number}: {a}, now {b}: {was!r}")
    return found


MADE: dict[str, Callable[[], str]] = {"docs/families.md": families_text, "docs/checks.md": checks_text}
PAGES = [
    "README.md",
    *sorted(f"docs/{path.relative_to(DOCS)}" for path in DOCS.rglob("*.md") if "decisions" not in path.parts),
]


def made(name: str) -> str:
    """What a page should be now."""
    return MADE[name]() if name in MADE else filled(name)


def main(arguments: list[str]) -> int:
    """Write, or compare."""
    names = [name for name in arguments if not name.startswith("-")] or [
        *MADE,
        *(page for page in PAGES if page not in MADE),
    ]
    status = 0
    for name in names:
        text = made(name)
        if "--check" in arguments:
            rough = {} if name in MADE else {"slack": 10.0, "relative": 0.05}
            wrong = differences((ROOT / name).read_text("utf-8"), text, **rough)
            status |= bool(wrong)
            print(*(f"{name}:{line}" for line in wrong), sep="\n", end="\n" if wrong else "")
        else:
            (ROOT / name).write_text(text, "utf-8")
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
