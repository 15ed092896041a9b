"""The tree itself: nothing private or machine-bound, a docstring on all that is public, one list of requirements."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "aerialwright"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))

# Written in pieces, so that this file passes its own test.
PATTERNS = {
    "a path of one machine": r"(?<![\w.$~])/(?:work|root|home/[a-z]\w*|Users/\w+|opt|tmp/[a-z]\w*)/" + r"\w",
    "a Windows user's path": r"[A-Z]:\\Users\\" + r"\w",
    "the host of a package registry": r"(?:pypi|pythonhosted|npmjs|deb\.debian|crates|conda|anaconda|goproxy)"
    + r"\.(?:org|io|com)\b",
    "a mail address of a person": r"\b[\w.+-]+@(?!example\.)[\w-]+\." + r"(?:com|org|net|edu|io|de|uk|fr)\b",
    "a secret": r"(?:BEGIN [A-Z ]*PRIVATE" + r" KEY|\b(?:ghp|gho|glpat|sk)[-_][A-Za-z0-9]{16,})",
    "a leftover of a merge": r"(?m)^(?:<{7}|>{7}) " + r"\S",
}
#: Words that tell how a text came about instead of what it says; the test runner's own use of the first is no mark.
WORDS = re.compile(r"(?i)\b(?:sess" + r"ions?|sub-?" + r"agents?)\b|\bas an " + r"ai\b")
RUNNER = re.compile(r"scope=\"sess" + r"ion\"|pytest_sess" + r"ion\w+")
CALLSIGN = re.compile(r"\b(?:[A-Z]{1,2}|[2-9][A-Z])[0-9][A-Z]{2,3}\b")


def tracked() -> list[Path]:
    """The files of the tree that are, or would be, under version control."""
    if shutil.which("git") and (ROOT / ".git").exists():
        listing = ["git", "-C", str(ROOT), "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        done = subprocess.run(listing, capture_output=True, text=True, check=True)
        paths = [ROOT / name for name in done.stdout.split("\0") if name]
    else:
        skipped = {"__pycache__", "out", "build", "dist", "htmlcov"}
        paths = [
            path
            for path in ROOT.rglob("*")
            if not any(
                part in skipped or (part.startswith(".") and part != ".ci") for part in path.relative_to(ROOT).parts
            )
        ]
    return sorted(path for path in paths if path.is_file() and not path.is_symlink())


def readable() -> Iterator[tuple[Path, str]]:
    """Relative path and text of every tracked text file."""
    for path in tracked():
        try:
            yield path.relative_to(ROOT), path.read_text("utf-8")
        except UnicodeDecodeError:
            continue


def marks(text: str, *, example: bool) -> list[str]:
    """What in ``text`` does not belong in a tracked file, one line each."""
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        found += [f"{number}: {what}: {hit[0]!r}" for what, rule in PATTERNS.items() if (hit := re.search(rule, line))]
        if hit := WORDS.search(RUNNER.sub("", line)):
            found.append(f"{number}: a mark of how the text came about: {hit[0]!r}")
        if example and (hit := CALLSIGN.search(line)):
            found.append(f"{number}: looks like a callsign: {hit[0]!r}")
    return found


def test_nothing_private_or_machine_bound() -> None:
    """No machine paths, registry hosts, mail addresses, secrets or marks of the making, in text or in file names."""
    files = list(readable())
    assert len(files) > 10, "the list of files is broken"
    wrong = [f"{path}:{mark}" for path, text in files for mark in marks(text, example=path.parts[0] == "examples")]
    wrong += [f"{path.relative_to(ROOT)}: its name" for path in tracked() if WORDS.search(path.name.replace("_", " "))]
    assert not wrong, "\n" + "\n".join(wrong)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("see /" + "work/main/x", True),
        ("in /" + "home/someone/aerials", True),
        ("from " + "pypi" + ".org", True),
        ("write to someone" + "@" + "somewhere.com", True),
        ("found in the last " + "sess" + "ion", True),
        ("one listening " + "sess" + "ion", True),
        ('@pytest.fixture(scope="sess' + 'ion")', False),
        ("#!/usr/bin/env bash", False),
        ("name@example.org, examples/work/x, https://example.org/home/x", False),
    ],
)
def test_the_marks_themselves(text: str, wrong: bool) -> None:
    """The patterns catch what they must, and nothing else."""
    assert bool(marks(text, example=False)) is wrong


def test_callsigns_are_looked_for_in_examples() -> None:
    """Invented call letters with a digit are refused in examples; cable and connector types are not."""
    assert marks("station " + "G9" + "ZZZ", example=True)
    assert not marks("25 m of RG-58, RG-213/U or RG58CU, N and SO-239 sockets, 3D3", example=True)


def undocumented(tree: ast.AST, prefix: str = "") -> Iterator[str]:
    """Public classes and functions of a module, and public methods of public classes, that have no docstring.

    Members of a protocol are exempt: what they mean stands in the protocol's own docstring.
    """
    is_protocol = isinstance(tree, ast.ClassDef) and any(ast.unparse(b).startswith("Protocol") for b in tree.bases)
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.If | ast.Try):
            yield from undocumented(node, prefix)
        if not isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef) or node.name.startswith("_"):
            continue
        marked = {ast.unparse(decorator).split("(")[0].split(".")[-1] for decorator in node.decorator_list}
        if not (ast.get_docstring(node) or marked & {"overload", "override", "setter"} or is_protocol):
            yield f"{prefix}{node.name} (line {node.lineno})"
        if isinstance(node, ast.ClassDef):
            yield from undocumented(node, f"{prefix}{node.name}.")


def test_everything_public_has_a_docstring() -> None:
    """Every module, public class, function and method of the package says what it is."""
    wrong = []
    for path in sorted(SOURCE.rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        if tree.body and not ast.get_docstring(tree):
            wrong.append(f"{path.relative_to(ROOT)}: the module itself")
        wrong += [f"{path.relative_to(ROOT)}: {name}" for name in undocumented(tree)]
    assert not wrong, "\n" + "\n".join(wrong)


def lock_entries() -> dict[str, str]:
    """Name and version of each line of the lock; anything but ``name==version`` or a remark is refused."""
    entries = {}
    for line in (ROOT / "requirements.lock").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            match = re.fullmatch(r"([A-Za-z0-9._-]+)==([A-Za-z0-9.+!]+)", line)
            assert match, f"requirements.lock: not a plain name==version: {line!r}"
            entries[canonicalize_name(match[1])] = match[2]
    return entries


def requirements(*, dev: bool) -> list[Requirement]:
    """What pyproject.toml asks for at run time, with ``dev`` also for the tests and the build."""
    lines = list(PROJECT["project"]["dependencies"])
    if dev:
        lines += [*PROJECT["project"]["optional-dependencies"]["dev"], *PROJECT["build-system"]["requires"]]
    return [Requirement(line) for line in lines]


def test_the_lock_fits_the_requirements() -> None:
    """Each requirement is in the lock, in a version that its bound allows."""
    locked = lock_entries()
    wrong = [
        str(need)
        for need in requirements(dev=True)
        if not need.specifier.contains(locked.get(canonicalize_name(need.name), "0"), prereleases=True)
    ]
    assert not wrong, f"not met by requirements.lock: {wrong}; run `make lock`"


def test_every_import_is_declared() -> None:
    """The package imports only the standard library, itself, and what its requirements name."""
    declared = {canonicalize_name(need.name) for need in requirements(dev=False)}
    owners = packages_distributions()
    wrong = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and not node.level and node.module:
                names = [node.module]
            for top in {name.split(".")[0] for name in names} - {"aerialwright"} - set(sys.stdlib_module_names):
                if not declared & {canonicalize_name(owner) for owner in owners.get(top, [])}:
                    wrong.add(f"{path.relative_to(ROOT)}: {top}")
    assert not wrong, "\n" + "\n".join(sorted(wrong))


def test_one_licence() -> None:
    """The licence text is the one that the package's description names."""
    assert PROJECT["project"]["license"] == "BSD-3-Clause"
    assert (ROOT / "LICENSE").read_text("utf-8").startswith("BSD 3-Clause License")
