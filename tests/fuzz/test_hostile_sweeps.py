"""Hostile sweeps: whatever is in the bytes, reading gives a sound sweep or the program's own one-line error, and the file stays.

Mutations of sound files of every kind, lines of anything, and large nonsense; and whatever was read can be moved and compared.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from mutations import changes, mutate

from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.plane import at_antenna, by_estimate, through_line, through_measured
from aerialwright.bench.read_sweep import read_sweep
from aerialwright.bench.records import Measured
from aerialwright.lines.line import Line

HERE = Path(__file__).parent
EXAMPLE = (HERE.parents[1] / "examples" / "marrow-head" / "sweeps" / "coax-open.s1p").read_bytes()
SOUND: tuple[tuple[str, bytes], ...] = (
    ("a.s1p", EXAMPLE),
    ("a.s1p", b"# MHz Z MA R 75\n100 0.99 -4\n200 0.80 -22 ! x\n300 0.707 -45\n"),
    ("a.s2p", b"# GHz S DB R 50\n1 -3 10 -20 4 -20 4 -6 30\n2 -4 20 -20 4 -20 4 -7 40\n1 2 .5 30 .2\n"),
    (
        "a.ts",
        b"[Version] 2.1\n# MHz Y RI\n[Number of Ports] 1\n[Number of Frequencies] 2\n[Reference] 50\n"
        b"[Network Data]\n1 .02 0\n2 .03 0\n[End]\n",
    ),
    ("a.csv", b"Frequency (MHz),R,X\n144,50,1\n145,51,2\n146,52,3\n"),
    ("a.csv", b"MHz;SWR\n144,5;1,5\n145,0;1,4\n"),
    ("a.csv", b"Hz\tS11 dB\tS11 deg\n144e6\t-10\t30\n145e6\t-11\t20\n"),
    ("a.csv", '"f MHz","Return loss"\n"144","12,5"\n"145","13,5"\n'.encode("utf-16")),
)
PIECES = st.one_of(
    st.binary(max_size=6),
    st.sampled_from([
        b"#", b"!", b"[", b"]", b"[End]", b"\n", b"\r", b",", b";", b"\t", b'"', b"nan", b"inf", b"-", b"0", b"1e400", b"1e308", b"-1e308",
        b"9" * 60, b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b" R ", b"R 0", b"GHz", b"[Reference]", b"[Number of Ports] 2", b"1_0",
        "Ω²٣".encode(),
    ]),
)  # fmt: skip
CHANGES = changes(PIECES)
LINE = Line("line", 50.0, 5.0, 0.66, 1.4, 0.02)


def judged(data: bytes, name: str, *, port: int = 1, reference: float | None = None) -> Measured | AerialwrightError:
    """What reading gives, checked: a sound record or a sound error, in time."""
    start = time.process_time()
    try:
        found = read_sweep(data, name=name, port=port, reference=reference)
    except AerialwrightError as error:
        shown = error.one_line()
        assert shown.isprintable() and len(shown) < 1200 and error.what and error.mend and name in shown
        return error
    assert time.process_time() - start < 20.0
    f, r = found.frequency, found.reflection
    assert len(f) == len(r) > 0
    assert np.all(np.isfinite(f)) and np.all(f > 0.0) and np.all(np.diff(f) > 0.0)
    assert np.all(np.abs(r) <= 1.0 + 1e-9)
    assert found.reference > 0.0
    assert all(repair.what and repair.what.isprintable() for repair in found.repairs)
    for move in (
        lambda: at_antenna(found), lambda: through_line(found, LINE), lambda: by_estimate(found),
        lambda: through_measured(found, {"open": found}),
    ):  # fmt: skip
        try:
            moved = move()
        except AerialwrightError:
            continue
        assert np.all(moved.uncertainty > 0.0) and len(moved.loss) == len(f)
        assert np.all(np.abs(moved.at_antenna.reflection) <= 1.0 + 1e-6)
    return found


def test_the_sound_files_are_sound() -> None:
    for name, data in SOUND:
        assert isinstance(judged(data, name), Measured), (name, data[:40])


@settings(max_examples=400)
@given(number=st.integers(0, 99), changes=CHANGES, port=st.integers(1, 2))
@example(number=0, changes=[("insert", 0.0, 1, b"\xff\xfe")], port=1)
def test_mutations(number: int, changes: list[tuple[str, float, int, bytes]], port: int) -> None:
    name, data = SOUND[number % len(SOUND)]
    judged(mutate(data, changes), name, port=port)


@settings(max_examples=200)
@given(
    number=st.integers(0, 99),
    line=st.integers(0, 200),
    text=st.text(max_size=40),
    reference=st.sampled_from([None, 50.0, 75.0]),
)
def test_a_line_of_anything(number: int, line: int, text: str, reference: float | None) -> None:
    name, data = SOUND[number % 7]
    rows = data.decode("utf-8").split("\n")
    rows[line % len(rows)] = text
    judged("\n".join(rows).encode("utf-8", "surrogatepass"), name, reference=reference)


@settings(max_examples=200)
@given(data=st.binary(max_size=200), name=st.sampled_from(["a.s1p", "a.csv", "a", "a.s2p"]))
def test_any_bytes(data: bytes, name: str) -> None:
    judged(data, name)


@settings(max_examples=200)
@given(
    rows=st.lists(st.tuples(*[st.floats(allow_nan=True, allow_infinity=True)] * 3), min_size=1, max_size=8),
    option=st.sampled_from(
        ["# Hz S RI R 50", "# Hz S MA R 50", "# Hz S DB R 50", "# GHz Z RI R 1e300", "# Hz Y DB R 1e-300"]
    ),
)
def test_any_numbers(rows: list[tuple[float, ...]], option: str) -> None:
    text = "\n".join([option, *(" ".join(map(repr, row)) for row in rows)])
    judged(text.encode(), "a.s1p")


LARGE = {
    "one line": b"1 " * 2_000_000,
    "commas": b"," * 3_000_000,
    "quotes": b'"' * 3_000_000,
    "quoted rows": b'"' + b'a,"\n' * 500_000,
    "hashes": b"#\n" * 1_000_000,
    "keywords": b"[Version] 2.0\n" * 200_000,
    "unknown keywords": b"# MHz S RI R 50\n" + b"[fish]\n" * 100_000 + b"1 0 0\n",
    "open brackets": b"[" * 3_000_000,
    "comments": b"!" * 3_000_000,
    "blank": b" " * 3_000_000,
    "tabs": b"\t1\t2\n" * 300_000,
    "long number": b"# MHz S RI R 50\n" + b"1" * 3_000_000 + b" 0 0\n",
    "headings": b"MHz," + b"R," * 500_000 + b"\n144,1\n",
    "same frequency": b"# MHz S RI R 50\n" + b"144 .5 0\n" * 300_000,
    "falling": b"# Hz S RI R 50\n" + b"".join(b"%d .5 0\n" % k for k in range(300_000, 0, -1)),
    "zeros": bytes(3_000_000),
}


@pytest.mark.parametrize("name", LARGE)
def test_large_nonsense_is_answered_in_time(name: str) -> None:
    start = time.process_time()
    for ending in ("s1p", "csv"):
        found = judged(LARGE[name], f"a.{ending}")
        if isinstance(found, Measured):
            assert len(found.repairs) < 50
    assert time.process_time() - start < 40.0
