"""Reading sweeps: tables by heading or by word, odd files repaired and said, nonsense refused with its line."""

from __future__ import annotations

import time
from collections.abc import Mapping

import numpy as np
import pytest

from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.read_sweep import MOST_POINTS, PASSIVE_LIMIT, read_sweep, renormalised
from aerialwright.bench.records import Measured
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.solution.export import sweep_csv, touchstone

F = np.array([144e6, 145e6, 146e6])
Z = np.array([40 - 10j, 45 + 0.5j, 50 + 12j])
G = reflection(Z, reference=50.0)


def csv(heading: str, *columns: np.ndarray, mark: str = ",", comma: bool = False) -> bytes:
    rows = [heading, *(mark.join(f"{value:.9g}" for value in row) for row in zip(*columns))]
    text = "\n".join(rows) + "\n"
    return (text if not comma else rows[0] + "\n" + "\n".join(rows[1:]).replace(".", ",") + "\n").encode()


def read(
    data: bytes, *, name: str = "a.csv", columns: Mapping[str, str | int] | None = None, reference: float | None = None
) -> Measured:
    return read_sweep(data, name=name, columns=columns, reference=reference)


DB, DEG = 20 * np.log10(np.abs(G)), np.degrees(np.angle(G))
SWR = (1 + np.abs(G)) / (1 - np.abs(G))
TABLES = {
    "R and X": csv("Frequency (MHz),R (ohm),X (ohm)", F / 1e6, Z.real, Z.imag),
    "quoted": csv('"Freq [Hz]","Rs","Xs"', F, Z.real, Z.imag),
    "semicolons, comma": csv("Frequenz/MHz;R;X", F / 1e6, Z.real, Z.imag, mark=";", comma=True),
    "tabs, comma": csv("f GHz\tR\tX", F / 1e9, Z.real, Z.imag, mark="\t", comma=True),
    "blanks": csv("kHz resistance reactance", F / 1e3, Z.real, Z.imag, mark="  "),
    "SWR beside": csv("freq_MHz,swr,resistance,reactance,|Z|", F / 1e6, SWR, Z.real, Z.imag, np.abs(Z)),
    "Re and Im of Z": csv("Freq(MHz),Re(Z),Im(Z)", F / 1e6, Z.real, Z.imag),
    "Re and Im": csv("freq hz,Re(S11),Im(S11)", F, G.real, G.imag),
    "several S": csv("FREQ(HZ);S11(REAL);S11(IMAG);S21(REAL);S21(IMAG)", F, G.real, G.imag, G.imag, G.real, mark=";"),
    "dB and degrees": csv("Freq Hz,S11 (dB),S11 (deg)", F, DB, DEG),
    "linear and radians": csv("Freq Hz,|S11|,angle rad", F, np.abs(G), np.angle(G)),
    "mag, phase": csv("Freq Hz,Mag,Phase", F, np.abs(G), DEG),
    "hertz by size": csv("frequency,R,X", F, Z.real, Z.imag),
    "heading in a comment": b"# made up\n" + csv("# f MHz,R,X", F / 1e6, Z.real, Z.imag),
    "words above": b"Analyser,X1\nDate,today\n" + csv("f MHz,R,X", F / 1e6, Z.real, Z.imag) + b"END\n",
}


@pytest.mark.parametrize("name", TABLES)
def test_tables_with_phase(name: str) -> None:
    found = read(TABLES[name])
    assert found.frequency == pytest.approx(F, rel=1e-9)
    assert found.phase_known
    assert found.reflection == pytest.approx(G, abs=1e-6)


@pytest.mark.parametrize(
    "data",
    [
        csv("MHz;VSWR", F / 1e6, SWR, mark=";"),
        csv("MHz,Return loss (dB)", F / 1e6, -DB),
        csv("MHz,RL", F / 1e6, DB),
        csv("MHz,S11 dB", F / 1e6, DB),
        csv("MHz,S11 dB", F / 1e6, -DB),
        csv("MHz,R,|X|", F / 1e6, Z.real, np.abs(Z.imag)),
    ],
    ids=["swr", "return loss", "return loss below zero", "S11", "S11 above zero", "X without sign"],
)
def test_tables_without_phase(data: bytes) -> None:
    found = read(data)
    assert not found.phase_known
    assert np.abs(found.reflection) == pytest.approx(np.abs(G), abs=1e-6)
    assert found.swr == pytest.approx(SWR, rel=1e-4)


def test_columns_by_word() -> None:
    """What headings do not tell, the caller does, by heading or number."""
    data = csv("a,b,c", F / 1e6, DB, DEG)
    with pytest.raises(AerialwrightError, match=r"no column of frequency among: 1 'a', 2 'b', 3 'c'"):
        read(data)
    told: dict[str, str | int] = {"frequency": "a", "magnitude": 2, "phase": "3"}
    with pytest.raises(AerialwrightError, match="frequency_unit"):
        read(data, columns=told)
    found = read(data, columns={**told, "frequency_unit": "MHz", "magnitude_unit": "dB", "phase_unit": "deg"})
    assert found.reflection == pytest.approx(G, abs=1e-6)
    for wrong, named in (
        ({"frequency": "z"}, "no column; headings"),
        ({"frequency": 9}, "no column"),
        ({"fish": 1}, "nothing a sweep has"),
        ({**told, "phase_unit": "gon"}, "no unit"),
    ):
        with pytest.raises(AerialwrightError, match=named):
            read(data, columns=wrong)
    bare = csv("", F / 1e6, SWR).lstrip(b"\n")
    assert read(bare, columns={"frequency": 1, "frequency_unit": "MHz", "swr": 2}).swr == pytest.approx(SWR, rel=1e-4)


def test_two_columns_of_one_meaning_are_asked_for() -> None:
    """The program's own CSV with R and X left out has SWR against 50 and against 75 ohm."""
    own = sweep_csv(F, Z, np.full(3, 0.1))
    assert read(own.encode()).reflection == pytest.approx(G, abs=1e-5)
    two = csv("frequency_MHz,swr_50,swr_75", F / 1e6, SWR, SWR)
    with pytest.raises(AerialwrightError, match="swr_75"):
        read(two)
    assert read(two, columns={"swr": "swr_50"}).swr == pytest.approx(SWR, rel=1e-4)


def test_references() -> None:
    """Stated by the file: turned. Not stated: taken as told. Without phase: refused."""
    turned = read(touchstone(F, Z).encode(), name="a.s1p", reference=75.0)
    assert turned.reflection == pytest.approx(reflection(Z, reference=75.0), abs=1e-9)
    assert any("turned from 50 ohm to 75 ohm" in repair.what for repair in turned.repairs)
    table = read(csv("MHz,SWR", F / 1e6, SWR), reference=75.0)
    assert table.reference == 75.0 and not any("turned" in repair.what for repair in table.repairs)
    assert any("50 ohm taken" in repair.what for repair in read(csv("MHz,SWR", F / 1e6, SWR)).repairs)
    with pytest.raises(AerialwrightError, match="phase is not known"):
        renormalised(table, reference=50.0)
    for wrong in (0.0, -50.0, float("nan")):
        with pytest.raises(AerialwrightError, match="is no reference"):
            read(csv("MHz,SWR", F / 1e6, SWR), reference=wrong)


SOUND = touchstone(F, Z)


@pytest.mark.parametrize(
    "data",
    [
        SOUND.replace("\n", "\r\n").encode(),
        SOUND.replace("\n", "\r").encode(),
        SOUND.encode("utf-8-sig"),
        SOUND.encode("utf-16"),
        SOUND.encode("utf-16-le"),
        SOUND.encode("utf-16-be"),
        f"! Größe 5 Ω\n{SOUND}".encode(),
        f"! Gr\xf6\xdfe\n{SOUND}".encode("latin-1"),
        SOUND.replace(" ", "\t").encode(),
        ("\n\n" + SOUND.replace("\n", " ! remark\n\n")).encode(),
        (SOUND + "\x1a").encode(),
    ],
)
def test_encodings_and_line_ends(data: bytes) -> None:
    found = read(data, name="a.s1p")
    assert impedance_of(found.reflection, reference=50.0) == pytest.approx(Z, abs=1e-6)


def test_a_wrong_ending_is_seen_through() -> None:
    assert read(SOUND.encode(), name="a.csv").reflection == pytest.approx(G, abs=1e-9)
    assert read(SOUND.encode(), name="a.txt").reflection == pytest.approx(G, abs=1e-9)
    two = b"# MHz S RI R 50\n100 .5 0 .1 0 .1 0 .4 0\n"
    found = read_sweep(two, name="a.s1p", port=2)
    assert found.reflection[0] == 0.4
    assert any("named .s1p" in repair.what for repair in found.repairs)


def test_order_and_doubles_are_repaired_and_said() -> None:
    found = read(b"# MHz S RI R 50\n150 .3 0\n140 .1 0\n150 .5 0\n145 .2 0\n", name="a.s1p")
    assert found.frequency.tolist() == [140e6, 145e6, 150e6]
    assert found.reflection.tolist() == [0.1, 0.2, 0.4]
    told = [repair.what for repair in found.repairs]
    assert "frequencies were not in order: sorted" in told
    assert any(text.startswith("1 points at a frequency") and "0.1" in text for text in told)


def test_a_little_over_one_is_repaired_and_more_is_refused() -> None:
    """The limit is half a decibel."""
    at = f"{PASSIVE_LIMIT - 1e-6:.7f}"
    found = read(f"# MHz S RI R 50\n140 {at} 0\n141 .5 0\n".encode(), name="a.s1p")
    assert found.reflection.tolist() == [1.0, 0.5]
    assert any("1 points reflect more than arrives, by up to 0.50 dB" in repair.what for repair in found.repairs)
    over = f"# MHz S RI R 50\n140 .5 0\n141 {PASSIVE_LIMIT + 1e-6:.7f} 0\n142 2 0\n".encode()
    with pytest.raises(AerialwrightError, match=r"a.s1p, line 3: .*2 of 3 points, first at 141 MHz"):
        read(over, name="a.s1p")


@pytest.mark.parametrize(
    ("data", "name", "named"),
    [
        (b"", "a.s1p", "a.s1p: is empty"),
        (b" \n\t\n", "a.csv", "is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "a.s1p", "holds bytes that are no text"),
        (b"# MHz S RI R 50\n", "a.s1p", "holds no data"),
        (b"# MHz S RI R 50\n144 .5 0\n145 .5\n", "a.s1p", "line 3: 2 numbers in a row where the rows above have 3"),
        (b"# MHz S RI R 50\n144 .5 0\n145 .5 0.1 2\n", "a.s1p", "line 3: 4 numbers"),
        (b"# MHz S RI R 50\n144 .5 0\n-145 .5 0\n", "a.s1p", "line 3: a frequency of -1.45e\\+08 Hz"),
        (b"# MHz S RI R 50\n0 .5 0\n", "a.s1p", "line 2: a frequency of 0 Hz"),
        (b"# MHz S RI R 50\n144 .5 0\nnan .5 0\n", "a.s1p", "line 3: 'nan' is no number"),
        (b"# MHz S RI R 50\n144 nan 0\n", "a.s1p", "line 2: 'nan' is no number"),
        (b"# MHz S RI R 50\n144 .5 0\nhello world\n", "a.s1p", "line 3: 'hello' is no number"),
        (b"# MHz S RI R 50\n144 0,5 0\n", "a.s1p", "write decimals with a point"),
        (b"# MHz S RI R 50\n1_44 .5 0\n", "a.s1p", "'1_44' is no number"),
        (b"# MHz S RI R 50\n1e400 .5 0\n", "a.s1p", "'1e400' is no number"),
        (b"# MHz H RI R 50\n144 .5 0 .5 0 .5 0 .5 0\n", "a.s2p", "H parameters"),
        (b"# MHz S XY R 50\n144 .5 0\n", "a.s1p", "'xy' does not belong on an option line"),
        (b"# MHz S RI R -50\n144 .5 0\n", "a.s1p", "no reference resistance"),
        (b"144 .5 0\n# MHz S RI R 50\n", "a.s1p", "option line stands after data"),
        (b"# MHz S RI R 50\n144 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18\n", "a.s3p", "19 numbers in a row"),
        (b"# MHz Z RI R 50\n144 -1 0\n", "a.s1p", "no reflection at all|a reflection of inf"),
        (b"MHz,SWR\n144,0.5\n", "a.csv", "an SWR of 0.5 is below 1"),
        (b"MHz,SWR\n144,1.5\n145,\n", "a.csv", "line 3: '' is no number"),
        (b"MHz,R,X\n144,50,1\n145,50\n", "a.csv", "line 3: the row ends before column 3"),
        (b"MHz,R,X\n144,50,1\nabc,50,1\n", "a.csv", "line 3: 'abc' is no frequency"),
        (b"MHz,R,X\n144,-50,1\n", "a.csv", "where nothing passive"),
        (b"MHz,fish\n144,1\n", "a.csv", "no columns of R and X, of S11 or of SWR among: 1 'MHz', 2 'fish'"),
        (b"f,R,X\n144,50,1\n", "a.csv", "gives no unit"),
        (b"words only\nand more\n", "a.csv", "holds no rows of numbers"),
        (b"\xff\xfe#", "a.s1p", "breaks off"),
    ],
)
def test_nonsense_is_refused_with_its_place(data: bytes, name: str, named: str) -> None:
    with pytest.raises(AerialwrightError, match=named) as caught:
        read(data, name=name)
    assert caught.value.mend
    assert caught.value.where.startswith(name)
    assert caught.value.one_line().isprintable()


def test_a_port_that_is_not_there() -> None:
    with pytest.raises(AerialwrightError, match="has one port, port 2 was asked"):
        read_sweep(SOUND.encode(), name="a.s1p", port=2)
    with pytest.raises(AerialwrightError, match="port 3 was asked"):
        read_sweep(SOUND.encode(), name="a.s1p", port=3)


def test_units_that_look_wrong_are_said() -> None:
    """MHz in a file without option line reads as GHz."""
    found = read(b"144 .5 0\n146 .5 0\n", name="a.s1p")
    assert any("check the unit of frequency" in repair.what for repair in found.repairs)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["s1p", "csv"])
def test_a_million_points(kind: str) -> None:
    """Read, thinned with a word, in seconds of processor time."""
    f = 1e8 + 100.0 * np.arange(1_000_000)
    rows = "\n".join(f"{x:.0f} 0.123456 -0.2345" for x in f)
    text = f"# Hz S RI R 50\n{rows}\n" if kind == "s1p" else f"Hz,Re,Im\n{rows.replace(' ', ',')}\n"
    start = time.process_time()
    found = read(text.encode(), name=f"a.{kind}")
    assert time.process_time() - start < 30.0
    assert len(found.frequency) == MOST_POINTS
    assert (found.frequency[0], found.frequency[-1]) == (f[0], f[-1])
    assert any("1000000 points" in repair.what for repair in found.repairs)
