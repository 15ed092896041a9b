"""Project folders: reading a need, writing it back, making and locking; every fault is one line with its place."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from aerialwright.base.errors import AerialwrightError, ProjectError
from aerialwright.need.check import check_need
from aerialwright.need.model import Band, FeedLine
from aerialwright.project.needs import parse_need, read_need
from aerialwright.project.text import find_lines, parse_toml, spelled

EXAMPLES = ("tarn-edge", "marrow-head", "quillfen")
HEAD = 'title = "t"\n\n'
BAND = '[[band]]\nlabel = "a"\nrange = "118-137 MHz"\n\n'
LINE = '[[feed_line]]\ntype = "RG-58"\nlength = "10 m"\n\n'
SMALL = HEAD + BAND + LINE


def test_examples_read_as_the_scenarios_say(repository_root: Path) -> None:
    tarn, marrow, quillfen = (read_need(repository_root / "examples" / name) for name in EXAMPLES)
    assert [(b.low, b.high, b.importance) for b in tarn.bands] == [
        (118.0e6, 136.975e6, "must"),
        (156.0e6, 162.05e6, "must"),
        (225.0e6, 260.0e6, "wish"),
    ]
    assert [(line.type, line.length, line.impedance) for line in tarn.feed_lines] == [
        ("RG-6", 25, 75),
        ("RG-58", 25, 50),
    ]
    assert tarn.receive_only
    assert tarn.site.noise == "residential"
    assert tarn.owned[0].family == "discone"
    rods = tarn.stock[0]
    assert (rods.quantity, rods.diameter, rods.length) == (16, 0.0024, 1.0)
    cloth = next(item for item in tarn.stock if item.kind == "mesh")
    assert (cloth.pitch, cloth.wire_diameter) == (pytest.approx(0.0127), 0.00104)
    assert marrow.transmit_power == 5.0
    assert marrow.transmit_band == marrow.bands[0].label
    assert marrow.bands[0].low <= 156.8e6 <= marrow.bands[0].high
    assert all(marrow.bands[1].low <= f <= marrow.bands[1].high for f in (161.975e6, 162.025e6))
    assert marrow.site.height == 44.0
    assert marrow.far_end.kind == "sector"
    assert quillfen.bands[0].low < 145.840e6 < quillfen.bands[0].high
    assert quillfen.far_end.kind == "sky"
    for need in (tarn, marrow, quillfen):
        check_need(need)


def test_folder_and_file_are_the_same_need(repository_root: Path) -> None:
    folder = repository_root / "examples" / "quillfen"
    assert read_need(folder) == read_need(str(folder / "need.toml"))


def test_smallest_need_takes_the_documented_defaults() -> None:
    need = parse_need(SMALL)
    assert need.bands == (Band("a", 118e6, 137e6),)
    assert need.feed_lines == (FeedLine("RG-58", 10.0, 50.0),)
    assert (need.polarisation, need.receiver_impedance, need.limits.worst_swr) == ("vertical", 50.0, 2.5)


def test_cable_brings_its_impedance_and_a_given_one_wins() -> None:
    assert parse_need(HEAD + BAND + '[[feed_line]]\ntype = "rg6"\nlength = "10 m"\n').feed_lines[0] == FeedLine(
        "RG-6", 10.0, 75.0
    )
    text = HEAD + BAND + '[[feed_line]]\ntype = "RG-6"\nlength = "10 m"\nimpedance = "72 ohm"\n'
    assert parse_need(text).feed_lines[0].impedance == 72.0


def test_owned_dimensions_keep_their_kinds() -> None:
    sizes = 'slant = "24 in"\nangle = "60 deg"\nspokes = 8\n'
    text = SMALL + f'[[owned]]\nname = "x"\nfamily = "discone"\n[owned.dimensions]\n{sizes}'
    assert parse_need(text).owned[0].dimensions == {"slant": pytest.approx(0.6096), "angle": 60.0, "spokes": 8.0}


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        ('title = "a\n', 1, "not valid TOML"),
        ("= 3\n", 1, "not valid TOML"),
        (HEAD + "[limits]\nworst_swr = 2,5\n", 4, "a comma stands outside quotes; write worst_swr = 2.5, or"),
        (SMALL + "title = 'b'\ntitle = 'c'\n", None, "not valid TOML"),
        (HEAD + "polarizaton = 'vertical'\n", 3, "unknown key 'polarizaton'; did you mean 'polarisation'"),
        (SMALL.replace("label", "lable"), 4, "unknown key 'lable'; did you mean 'label'"),
        (SMALL + "[sight]\nheight = '3 m'\n", 11, "unknown key 'sight'; did you mean 'site'"),
        (BAND + LINE, None, "title: is missing"),
        (SMALL.replace('label = "a"\n', ""), 3, "band 1.label: is missing"),
        (SMALL.replace('"118-137 MHz"', "118"), 5, "band 1.range: a frequency range is written as text"),
        (SMALL.replace("118-137 MHz", "137-118 MHz"), 5, "lower frequency first"),
        (SMALL.replace("118-137 MHz", "118-137"), 5, "has no unit"),
        (SMALL.replace("118-137 MHz", "0-137 MHz"), 5, "is zero"),
        (SMALL.replace("118-137 MHz", "118-137 GHz"), 5, "band 1.range: .*do you mean 118 MHz"),
        (SMALL.replace("118-137 MHz", "118-137 kHz"), 5, "band 1.range: .*do you mean 118 MHz"),
        (SMALL.replace('range = "118-137 MHz"', 'low = "118 MHz"'), 3, "has no range"),
        (SMALL.replace("range", 'low = "1 MHz"\nrange'), 3, "both range and low/high"),
        (
            SMALL.replace("RG-58", "RG-85"),
            8,
            "feed_line 1.type: 'RG-85' is not a known cable type; did you mean 'RG-8X'",
        ),
        (SMALL.replace('"10 m"', "10"), 9, "'10' has no unit; write '10 mm' or '10 m'"),
        (SMALL.replace('"10 m"', "nan"), 9, "'nan' has no unit"),
        (SMALL.replace("10 m", "10 GHz"), 9, "is a frequency where a length is asked"),
        (SMALL.replace("10 m", "-10 m"), 9, "negative"),
        (SMALL.replace("10 m", "10 km"), 9, "outside"),
        (SMALL + "[receiver]\nimpedance = '0 ohm'\n", 12, "zero"),
        (SMALL + "[site]\nnoise = 'rurel'\n", 12, "did you mean 'rural'"),
        (SMALL + "[site]\nnearby = 'mast'\n", 12, "'mast' where a list is expected"),
        (SMALL + "[site]\nnearby = [\n 'mast',\n 7,\n]\n", 14, "site.nearby 2: 7 where text is expected"),
        (SMALL + "[limits]\nworst_swr = 0.5\n", 12, "outside 1 to 100"),
        (SMALL + "[limits]\nmost_parts = 1000000000\n", 12, "not a number of parts"),
        (SMALL + "[limits]\nmost_parts = 2.5\n", 12, "2.5 where a whole number is expected"),
        (SMALL + "[transmit]\npower = '5 W'\nband = 'b'\n", 13, "allowed: 'a'"),
        (SMALL + "[transmit]\npower = '-5 W'\n", 12, "negative"),
        (SMALL + "[[stock]]\nkind = 'rod'\nmaterial = 'brass'\nlength = '1 m'\n", 11, "a rod needs its diameter"),
        (SMALL + "[[stock]]\nkind = 'rod'\nmaterial = 'brass'\ndiameter = '0 mm'\n", 14, "zero"),
        (SMALL + "[[stock]]\nkind = 'rod'\nquantity = true\nmaterial = 'brass'\n", 13, "True where a whole number"),
        (SMALL + "site = 3\n", None, "unknown key 'site'"),
        (SMALL + "[[site]]\nheight = '3 m'\n", 11, "where a table is expected"),
        (SMALL + "[stock]\nkind = 'rod'\n", 11, "where a list is expected"),
        (SMALL + "[[owned]]\nname='x'\nfamily='y'\ndimensions = { a = '3 GHz' }\n", 14, "is a frequency"),
        (SMALL + "[[owned]]\nname='x'\nfamily='y'\n[owned.dimensions]\na = 2.5\n", 15, "'2.5' has no unit"),
        (HEAD + LINE, None, "no band is asked"),
        (HEAD + BAND, None, "no feed line"),
        (HEAD + "a" + ".a" * 5000 + " = 1\n", 3, "more than 8 parts"),
        (HEAD + "a = " + "[" * 20000, None, "nested too deeply|not valid TOML"),
        (HEAD + "n = " + "9" * 5000 + "\n", None, "not valid TOML"),
    ],
)
def test_faults_name_file_line_key_and_remedy(tmp_path: Path, text: str, line: int | None, message: str) -> None:
    path = tmp_path / "need.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProjectError, match=message) as caught:
        read_need(tmp_path)
    shown = caught.value.one_line()
    assert shown.startswith(str(path))
    assert shown.isprintable()
    assert caught.value.mend
    if line is not None:
        assert f"line {line}" in shown


def test_several_faults_are_counted_and_the_first_in_the_file_is_shown(tmp_path: Path) -> None:
    path = tmp_path / "need.toml"
    path.write_text(SMALL.replace('"10 m"', "10").replace("118-137 MHz", "118-137"), encoding="utf-8")
    with pytest.raises(ProjectError, match=r"line 5, band 1\.range.*\(and 1 more\)"):
        read_need(path)


# ---- bytes and disks


def test_byte_order_mark_and_windows_line_ends_are_read(tmp_path: Path) -> None:
    path = tmp_path / "need.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_need(path) == parse_need(SMALL)
    path.write_bytes(SMALL.replace("10 m", "10").replace("\n", "\r\n").encode())
    with pytest.raises(ProjectError, match="line 9"):
        read_need(path)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "title: is missing"),
        (b"\xff\xfet\x00i\x00", "line 1: is not UTF-8"),
        (b"title = 'a'\n\xe9", "line 2: is not UTF-8"),
        (b"\x00" * 100, "not valid TOML"),
        (b"title = 'a'\rb = 1", "not valid TOML"),
        (b"#" * 1_000_001, "larger than 1000 kB"),
        (b"\n" * 30_000, "more than 20000 lines"),
    ],
)
def test_bytes_that_are_no_need(tmp_path: Path, content: bytes, message: str) -> None:
    path = tmp_path / "need.toml"
    path.write_bytes(content)
    with pytest.raises(ProjectError, match=message):
        read_need(path)


def test_paths_that_are_no_file(tmp_path: Path) -> None:
    with pytest.raises(ProjectError, match="does not exist"):
        read_need(tmp_path)
    with pytest.raises(ProjectError, match="does not exist"):
        read_need(tmp_path / "none" / "need.toml")
    (tmp_path / "need.toml").mkdir()
    with pytest.raises(ProjectError, match="is a folder"):
        read_need(tmp_path)
    loop = tmp_path / "loop.toml"
    loop.symlink_to(loop)
    with pytest.raises(ProjectError, match="cannot be read"):
        read_need(loop)
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(ProjectError, match="not an ordinary file"):
        read_need(tmp_path / "pipe.toml")
    for name in ("a\x00b", "x" * 5000):
        with pytest.raises(ProjectError, match="cannot be read") as caught:
            read_need(name)
        assert caught.value.one_line().isprintable()


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads everything")
def test_a_file_without_permission(tmp_path: Path) -> None:
    path = tmp_path / "need.toml"
    path.write_text(SMALL)
    path.chmod(0)
    with pytest.raises(ProjectError, match="Permission denied"):
        read_need(path)


# ---- tracing lines

TRACED = '''title = "a # no comment" # comment
"quoted key" = 'x'
[site]
nearby = [
  "one",   # with ] in a comment
  """two
  lines""", "three"
]
a.b = { c = 1, d = [1, 2] }
[[rod]]
points = [[0, 0,
  1], [2,
  3, 4]]
[[rod]]
[rod.inner]
x = 1
'''


def test_lines_are_traced_through_every_kind_of_value() -> None:
    lines = find_lines(TRACED)
    tomllib.loads(TRACED)
    assert lines[("title",)] == 1
    assert lines[("quoted key",)] == 2
    assert lines[("site",)] == 3
    assert lines[("site", "nearby")] == 4
    assert [lines[("site", "nearby", i)] for i in range(3)] == [5, 6, 7]
    assert lines[("site", "a", "b")] == 9
    assert lines[("rod", 0)] == 10
    assert lines[("rod", 0, "points", 1)] == 12
    assert lines[("rod", 0, "points", 1, 1)] == 13
    assert lines[("rod", 1)] == 14
    assert lines[("rod", 1, "inner", "x")] == 16
    assert parse_toml(TRACED, Path("x")).line_of(("rod", 1, "inner", "nothing", 3)) == 15
    assert parse_toml(TRACED, Path("x")).line_of(("none",)) is None
    assert spelled(("rod", 0, "points", 1)) == "rod 1.points 2"


def test_every_project_error_is_the_programs_own() -> None:
    assert issubclass(ProjectError, AerialwrightError)
