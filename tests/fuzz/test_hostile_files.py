"""Hostile files: whatever is in them, only the program's own one-line errors come out, within two
seconds of processor time (a busy neighbour is not the reader's fault)."""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from mutations import changes, mutate

from aerialwright.base.errors import AerialwrightError
from aerialwright.need.check import check_need
from aerialwright.need.model import Need
from aerialwright.project.needs import read_need
from aerialwright.project.structures import read_structure
from aerialwright.structure.model import Structure

HERE = Path(__file__).parent
CORPUS = sorted((HERE / "corpus").iterdir())
EXAMPLES = sorted((HERE.parents[1] / "examples").glob("*/need.toml"))
DESIGNS = sorted((HERE.parents[1] / "examples").glob("*/designs/*.toml"))
#: No hang: coverage and a busy machine slow the readers several times, so this is no measure of speed.
SECONDS = 20.0


def outcome_beside_elements(path: Path, reader: Callable[[Path], object]) -> None:
    """The same, with the example's elements in the folder that its need names."""
    elements = EXAMPLES[0].parents[1] / "quillfen" / "finchling-1.tle"
    (path.parent / elements.name).write_bytes(elements.read_bytes())
    outcome(path, reader)


def outcome(path: Path, reader: Callable[[Path], object]) -> AerialwrightError | Need | Structure:
    """What reading gives: a record or the program's own error, fast; anything else fails the test."""
    start = time.process_time()
    try:
        result = reader(path)
    except AerialwrightError as error:
        result = error
    assert time.process_time() - start < SECONDS
    if isinstance(result, AerialwrightError):
        shown = result.one_line()
        assert shown.isprintable()
        assert len(shown) < 1200
        assert result.what
        assert result.mend
    elif isinstance(result, Need):
        check_need(result)
    assert isinstance(result, (AerialwrightError, Need, Structure))
    return result


def test_the_corpus_is_what_its_script_makes() -> None:
    spec = importlib.util.spec_from_file_location("make_corpus", HERE / "make_corpus.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    assert {path.name: path.read_bytes() for path in CORPUS} == script.files()
    assert len(CORPUS) >= 60


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.stem)
def test_every_file_of_the_corpus_is_refused(path: Path) -> None:
    reader: Callable[[Path], object] = read_need if path.name.startswith("need-") else read_structure
    result = outcome(path, reader)
    assert isinstance(result, AerialwrightError), result
    assert path.name in result.where


# ---- large files, made here and not stored

LARGE = {
    "headers": "[[band]]\n" * 19_000,
    "keys": "".join(f"k{number} = 1\n" for number in range(19_000)),
    "deep headers": "".join(f"[{'.'.join(['a'] * 7)}.b{number}]\n" for number in range(15_000)),
    "deep keys": "".join(f"{'.'.join(['a'] * 7)}.b{number} = 1\n" for number in range(15_000)),
    "one array": "a = [" + "1," * 490_000 + "]\n",
    "arrays in arrays": "a = [" + "[1]," * 240_000 + "]\n",
    "inline tables": "a = [" + "{a=1}," * 160_000 + "]\n",
    "one string": 'title = "' + "x" * 990_000 + '"\n',
    "one comment": "#" + "a.b " * 240_000 + "\n",
    "quotes": '"' * 990_001,
    "single quotes": "'" * 990_001,
    "backslashes": 'a = "' + "\\" * 990_000,
    "dots": "." * 990_000,
    "spaces": " " * 990_000 + "x",
    "dotted with spaces": "a . " * 240_000,
    "one long key": "k" * 990_000 + " = 1\n",
    "escapes": 'a = "' + "\\u0041" * 160_000 + '"\n',
    "open brackets": "[" * 990_000,
    "open braces": "a = " + "{" * 990_000,
    "quoted parts": "'a'." * 240_000,
    "dashes": "-" * 990_000,
    "stock": "title = 't'\n" + "[[stock]]\nkind='rod'\n" * 9_000,
    "owned": "title = 't'\n[[owned]]\nname='x'\nfamily='y'\n[owned.dimensions]\n"
    + "".join(f"k{number} = '1 mm'\n" for number in range(19_000)),
    "points": "name = 's'\n[[rod]]\nname='a'\npoints = [" + "['1 mm',0,0]," * 70_000 + "]\n",
    "nearby": "title = 't'\n[site]\nnearby = [" + "'x'," * 240_000 + "]\n",
    "numbers": "a = [" + "1_0," * 240_000 + "]\n",
    "dates": "a = [" + "1979-05-27," * 88_000 + "]\n",
    "multi-line strings": 'a = """\n' * 19_000,
}


@pytest.mark.parametrize("name", LARGE)
def test_a_large_file_is_refused_in_time(tmp_path: Path, name: str) -> None:
    path = tmp_path / "need.toml"
    path.write_text(LARGE[name], encoding="utf-8")
    assert len(LARGE[name]) < 1_000_000
    for reader in (read_need, read_structure):
        assert isinstance(outcome(path, reader), AerialwrightError)


# ---- mutations of sound files


@lru_cache(maxsize=1)
def sound() -> tuple[tuple[bytes, Callable[[Path], object]], ...]:
    return tuple((path.read_bytes(), read_need) for path in EXAMPLES) + tuple(
        (path.read_bytes(), read_structure) for path in DESIGNS
    )


PIECES = st.one_of(
    st.binary(max_size=6),
    st.sampled_from(
        [
            b'"',
            b"'",
            b"[",
            b"]",
            b"[[",
            b"{",
            b"}",
            b"=",
            b"\n",
            b"#",
            b".",
            b",",
            b"\\",
            b'"""',
            b"nan",
            b"-",
            b"0",
            b"1e9",
            b" GHz",
            b"mm",
            b"\x00",
            b"\xff",
            b"\xef\xbb\xbf",
            b"\r",
            b"true",
            b"9" * 40,
        ]
    ),
)
CHANGES = changes(PIECES)


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(number=st.integers(0, 99), changes=CHANGES)
@example(number=0, changes=[("insert", 0.0, 1, b"\xef\xbb\xbf")])
@example(number=0, changes=[("delete", 0.0, 2, b""), ("insert", 0.0, 1, b"'")])
def test_mutated_files_raise_only_the_programs_own_errors(
    tmp_path: Path, number: int, changes: list[tuple[str, float, int, bytes]]
) -> None:
    content, reader = sound()[number % len(sound())]
    path = tmp_path / "mutated.toml"
    path.write_bytes(mutate(content, changes))
    outcome_beside_elements(path, reader)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(number=st.integers(0, 99), line=st.integers(0, 200), text=st.text(max_size=40))
def test_a_line_of_anything_raises_only_the_programs_own_errors(
    tmp_path: Path, number: int, line: int, text: str
) -> None:
    content, reader = sound()[number % len(sound())]
    rows = content.decode("utf-8").split("\n")
    rows[line % len(rows)] = text
    path = tmp_path / "mutated.toml"
    path.write_bytes("\n".join(rows).encode("utf-8", "surrogatepass"))
    outcome_beside_elements(path, reader)


QUOTED = st.text(max_size=20).map(lambda text: '"' + text.translate({ord(mark): None for mark in '\\"\n'}) + '"')
ODD = st.sampled_from(["true", "[]", "{}", "[[]]", "1979-05-27"])
VALUE = st.one_of(QUOTED, st.integers().map(str), st.floats().map(repr), ODD)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(number=st.integers(0, 99), place=st.integers(0, 200), value=VALUE)
def test_a_value_of_anything_raises_only_the_programs_own_errors(
    tmp_path: Path, number: int, place: int, value: str
) -> None:
    content, reader = sound()[number % len(sound())]
    rows = content.decode("utf-8").split("\n")
    keys = [index for index, row in enumerate(rows) if "=" in row and not row.startswith("#")]
    chosen = keys[place % len(keys)]
    rows[chosen] = rows[chosen].split("=")[0] + "= " + value
    path = tmp_path / "mutated.toml"
    path.write_text("\n".join(rows), encoding="utf-8", errors="surrogatepass")
    outcome(path, reader)
