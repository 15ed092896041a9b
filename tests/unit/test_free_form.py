"""Free-form structures: what a file may say, and how nonsense is refused before any solver sees it."""

from __future__ import annotations

from pathlib import Path

import pytest

from aerialwright.base.errors import ProjectError
from aerialwright.project.structures import read_structure
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import ApertureFeed, Mesh, Metal, Rod, RodFeed, Structure, Surface

HEAD = 'name = "thing"\n'
ROD = '[[rod]]\nname = "whip"\npoints = [["0 mm", 0, "5 mm"], [0, 0, "500 mm"]]\ndiameter = "3.2 mm"\n'
PLATE = '[[surface]]\nname = "plate"\nprofile = [["5 mm", 0], ["200 mm", 0]]\n'
APERTURE = '[feed]\nkind = "aperture"\npositive = ["1.6 mm", 0]\nnegative = ["5 mm", 0]\n'
GAP = '[feed]\nkind = "rod"\nrod = "whip"\ndistance = "200 mm"\nwidth = "5 mm"\n'
SOUND = HEAD + ROD + PLATE + APERTURE


def read(tmp_path: Path, text: str) -> Structure:
    path = tmp_path / "thing.toml"
    path.write_text(text, encoding="utf-8")
    return read_structure(path)


def test_rods_surfaces_and_an_aperture(tmp_path: Path) -> None:
    text = (
        'ground = "perfect"\nnotes = ["a", "b"]\n'
        + HEAD
        + ROD
        + 'copies = 4\nmetal = "Aluminum"\n'
        + PLATE
        + 'metal = "hardware cloth"\nthickness = "1/16 in"\nmesh = { pitch = "1/2 in", wire = "W&M 19" }\n'
        + APERTURE
    )
    structure = read(tmp_path, text)
    rod, surface = structure.rods[0], structure.surfaces[0]
    assert rod == Rod("whip", ((0.0, 0.0, 0.005), (0.0, 0.0, 0.5)), 0.0016, 4, rod.metal)
    assert rod.metal == Metal("aluminium", 24.9e6, 1.0, "matmake-iacs")
    assert surface == Surface(
        "plate", ((0.005, 0.0), (0.2, 0.0)), surface.metal, 0.0254 / 16, Mesh(0.0127, 0.0410 * 0.0254)
    )
    assert surface.metal is not None
    assert surface.metal.name == "galvanised steel"
    assert structure.feed == ApertureFeed((0.0016, 0.0), (0.005, 0.0))
    assert (structure.name, structure.ground, structure.mode, structure.notes) == ("thing", "perfect", 0, ("a", "b"))


def test_a_gap_in_a_rod_and_perfect_metal_by_default(tmp_path: Path) -> None:
    structure = read(tmp_path, HEAD + ROD.replace("diameter", "radius") + GAP)
    assert structure.feed == RodFeed("whip", 0.2, 0.005)
    assert structure.rods[0].radius == 0.0032
    assert structure.rods[0].metal is None


def test_the_example_reads(repository_root: Path) -> None:
    structure = read_structure(repository_root / "examples" / "marrow-head" / "designs" / "pole-beside.toml")
    assert [rod.name for rod in structure.rods] == ["dipole", "pole"]
    assert structure.rods[1].radius == 0.024


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "none"),
        ("ground = 'none'\n", "none"),
        ("[ground]\nkind = 'perfect'\n", "perfect"),
        ("ground = 'Sea water'\n", Ground.named("sea water")),
        ("[ground]\nkind = 'average'\n", Ground.named("average ground")),
        (
            "[ground]\npermittivity = 13\nconductivity = '5 mS/m'\n",
            Ground.constant(permittivity=13, conductivity=0.005),
        ),
    ],
)
def test_grounds_that_can_be_written(tmp_path: Path, text: str, expected: str | Ground) -> None:
    assert read(tmp_path, HEAD + text + ROD + GAP).ground == expected


def rod(old: str, new: str) -> str:
    assert old in ROD
    return HEAD + ROD.replace(old, new) + GAP


def plate(old: str, new: str) -> str:
    assert old in PLATE
    return HEAD + ROD + PLATE.replace(old, new) + APERTURE


def gap(old: str, new: str) -> str:
    assert old in GAP
    return HEAD + ROD + GAP.replace(old, new)


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        (ROD + GAP, None, "name: is missing"),
        (HEAD + ROD, None, "feed: is missing"),
        (HEAD + GAP, None, "there is no metal"),
        (rod('"3.2 mm"', '"-3.2 mm"'), 5, r"rod 1\.diameter: '-3\.2 mm' is negative"),
        (rod('"3.2 mm"', '"0 mm"'), 5, "is zero"),
        (rod('"3.2 mm"', '"3.2"'), 5, "has no unit"),
        (rod('"3.2 mm"', "3.2"), 5, "has no unit"),
        (rod('"3.2 mm"', '"3.2 GHz"'), 5, "is a frequency where a length is asked"),
        (rod('"3.2 mm"', '"3.2 km"'), 5, "not the thickness of a rod"),
        (rod('"3.2 mm"', "nan"), 5, "has no unit"),
        (rod('"3.2 mm"', "inf"), 5, "has no unit"),
        (rod('diameter = "3.2 mm"\n', ""), 2, "has no thickness"),
        (rod("diameter", 'radius = "1 mm"\ndiameter'), 2, "both radius and diameter"),
        (rod("diameter", "copies = 0\ndiameter"), 5, r"rod 1\.copies: 0 copies; give 1 to 360"),
        (rod("diameter", "copies = 1000000000\ndiameter"), 5, "1000000000 copies"),
        (rod("diameter", "copies = 2.0\ndiameter"), 5, "2.0 where a whole number"),
        (rod("diameter", "copies = true\ndiameter"), 5, "True where a whole number"),
        (rod("diameter", "metal = 'unobtainium'\ndiameter"), 5, "not a known metal"),
        (rod("diameter", "metal = 'cooper'\ndiameter"), 5, "did you mean 'copper'"),
        (rod("diameter", "diametre"), 5, "unknown key 'diametre'; did you mean 'diameter'"),
        (rod(', [0, 0, "500 mm"]', ""), 4, "too few|has too few"),
        (rod('[0, 0, "500 mm"]', '[0, "500 mm"]'), 4, r"rod 1\.points 2: has too few"),
        (rod('[0, 0, "500 mm"]', '[0, 0, 0, "500 mm"]'), 4, r"rod 1\.points 2"),
        (rod('[0, 0, "500 mm"]', '[0, 0, "500"]'), 4, r"rod 1\.points 2 3: '500' has no unit"),
        (rod('[0, 0, "500 mm"]', "[0, 0, 0.5]"), 4, "has no unit"),
        (rod('[0, 0, "500 mm"]', "[0, 0, nan]"), 4, "has no unit"),
        (rod('[0, 0, "500 mm"]', '[0, 0, "500 km"]'), 4, "more than 1000 m away|more than 1 km"),
        (rod('[0, 0, "500 mm"]', '[0, 0, "5 mm"]'), 4, "the same as the point before"),
        (
            rod('[0, 0, "500 mm"]', '["0 mm", 0, "0.2 in"], [0, 0, "500 MHz"]'),
            4,
            r"points 3 3: '500 MHz' is a frequency",
        ),
        (HEAD + ROD + ROD + GAP, 7, "'whip' is used twice"),
        (rod('"whip"', '" "'), 3, "the name is empty"),
        ("ground = 'salad'\n" + SOUND, 1, "'salad' is not a known kind of ground; .*sea water.* 'none', 'perfect'"),
        ("ground = 'perfect'\n" + rod('"500 mm"', '"-500 mm"'), 5, "below the ground"),
        ("ground = 'sea water'\n" + rod('"500 mm"', '"-500 mm"'), 5, "below the ground"),
        ("ground = 3\n" + SOUND, 1, "3 where a table"),
        (SOUND + "[ground]\n", 13, "lacks its kind or its constants; .*permittivity = 15"),
        (SOUND + "[ground]\npermittivity = 15\n", 13, "lacks its kind or its constants"),
        (SOUND + "[ground]\nkind = 'sea watter'\n", 13, "did you mean 'sea water'"),
        (SOUND + "[ground]\nkind = 'wet'\npermittivity = 15\n", 13, "both a kind and constants"),
        (
            SOUND + "[ground]\npermittivity = 15\nconductivity = 0.005\n",
            15,
            "'0.005' is not a conductivity; .*'5 mS/m'",
        ),
        (SOUND + "[ground]\npermittivity = 15\nconductivity = '5 ohm'\n", 15, "not a conductivity"),
        (SOUND + "[ground]\npermittivity = nan\nconductivity = '5 S/m'\n", 13, "not between 1 and 100"),
        (SOUND + "[ground]\npermittivity = 15\nconductivity = '1e99 S/m'\n", 13, "not between 0 and 1e8"),
        (SOUND + "[ground]\nsigma = 15\n", 14, "unknown key 'sigma'"),
        ("mode = 7\n" + SOUND, 1, "mode 7 is not modelled"),
        ("mode = '1'\n" + SOUND, 1, "'1' where a whole number"),
        (plate('"5 mm"', '"-5 mm"'), 8, r"surface 1\.profile 1: has a negative distance"),
        (plate('[["5 mm", 0], ["200 mm", 0]]', '[[0, 0], [0, "1 m"]]'), 8, "on the axis altogether"),
        (plate("profile", "thickness = '1 m'\nprofile"), 8, "no thickness of sheet"),
        (plate("profile", "thickness = '0 mm'\nprofile"), 8, "is zero"),
        (plate("profile", "mesh = { pitch = '1 mm', wire = '2 mm' }\nprofile"), 8, "thicker than the pitch"),
        (plate("profile", "mesh = { pitch = '1 mm' }\nprofile"), 8, "wire: is missing"),
        (plate("profile", "mesh = '1 mm'\nprofile"), 8, "where a table is expected"),
        (gap('"rod"\n', '"coax"\n'), 7, "allowed: 'aperture', 'rod'"),
        (gap('"whip"', '"whipp"'), 8, "there is no rod 'whipp'; rods: 'whip'"),
        (gap('"200 mm"', '"2 m"'), 9, "beyond the rod's 495 mm"),
        (gap('"200 mm"', '"-2 mm"'), 9, "negative"),
        (gap('"5 mm"', '"5 m"'), 10, "as wide as the rod"),
        (gap('"5 mm"', '"0 mm"'), 10, "is zero"),
        (gap('width = "5 mm"\n', ""), 6, "width is missing"),
        (gap("width", "positive = [0, 0]\nwidth"), 10, "does not belong to a feed of kind 'rod'"),
        (SOUND.replace('["1.6 mm", 0]', '["5 mm", 0]'), 9, "the same point"),
        (SOUND.replace('["1.6 mm", 0]', '["-1.6 mm", 0]'), 11, "negative distance"),
        (SOUND.replace('["1.6 mm", 0]', '["1.6 mm"]'), 11, "too few"),
        (SOUND + "[[feed]]\n", None, "not valid TOML"),
        (SOUND + "[loads]\n", 13, "unknown key 'loads'"),
    ],
)
def test_nonsense_is_refused_with_its_place(tmp_path: Path, text: str, line: int | None, message: str) -> None:
    with pytest.raises(ProjectError, match=message) as caught:
        read(tmp_path, text)
    shown = caught.value.one_line()
    assert shown.startswith(str(tmp_path / "thing.toml"))
    assert caught.value.mend
    if line is not None:
        assert f"line {line}," in shown


def test_a_long_structure_is_within_limits_and_a_longer_one_is_not(tmp_path: Path) -> None:
    points = ", ".join(f'["0 mm", 0, "{number} mm"]' for number in range(2000))
    text = HEAD + f'[[rod]]\nname = "whip"\npoints = [{points}]\ndiameter = "0.1 mm"\n' + GAP
    assert len(read(tmp_path, text).rods[0].points) == 2000
    with pytest.raises(ProjectError, match="too long"):
        read(
            tmp_path, text.replace("[[rod]]", "[[rod]]", 1).replace('["0 mm", 0, "0 mm"]', '["1 mm", 0, 0], [0, 0, 0]')
        )
