"""Metal that cannot exist, cannot be fed or cannot be solved: one line that names the piece and the dimension to change.

No traceback, no silent answer. Every message is a StructureError of one line with place, fault and remedy.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from aerialwright.base.errors import StructureError
from aerialwright.engine.far_field import powers
from aerialwright.engine.matrix import System
from aerialwright.solution import solve as solving
from aerialwright.solution.solve import solve
from aerialwright.structure.model import ApertureFeed, Mesh, Metal, Rod, RodFeed, Structure, Surface

MHZ = 1e6
WHIP = Rod("whip", ((0, 0, 0), (0, 0, 0.5)), 0.003)
FLANGE = Surface("flange", ((0.007, 0), (0.02, 0)))
SHELL = Surface("shell", ((0.007, 0), (0.007, -0.03), (0, -0.03)))
AT_WHIP = ApertureFeed((0.003, 0), (0.007, 0))


def radials(copies: int = 4, *, start: float = 0.02, radius: float = 0.003) -> Rod:
    return Rod("radial", ((start, 0, 0), (0.5, 0, -0.2)), radius, copies)


def ground_plane(*rods: Rod) -> Structure:
    return Structure("ground plane", (WHIP, *rods), (FLANGE, SHELL), AT_WHIP)


def dipole(
    *, radius: float = 0.003, points=((1, 0, -0.5), (1, 0, 0.5)), feed: RodFeed | None = None, **others
) -> Structure:
    rod = Rod("rod", points, radius, **{k: v for k, v in others.items() if k == "copies"})
    rest = {k: v for k, v in others.items() if k != "copies"}
    return Structure("dipole", (rod,), (), feed or RodFeed("rod", 0.5, 0.01), **rest)


def test_the_examples_themselves_are_sound() -> None:
    """Each case below is one change away from these."""
    for structure in (dipole(), ground_plane(radials())):
        assert solve(structure, np.array([145 * MHZ]), check=False).sweep.impedance[0].real > 0


PARASITE = Rod("director", ((1.1, 0, -0.4), (1.1, 0, 0.4)), 0.003)

WRONG: dict[str, tuple[Structure, tuple[str, ...]]] = {
    # metal inside metal
    "12 fat radials at a small hub": (
        ground_plane(radials(12, start=0.02, radius=0.006)),
        ("radial", "hub radius", "23.18 mm"),
    ),
    "rods cross": (
        Structure(
            "x",
            (dipole().rods[0], Rod("bar", ((0.9, 0.002, 0.1), (1.1, 0.002, 0.15)), 0.003)),
            (),
            RodFeed("rod", 0.5, 0.01),
        ),
        ("rod", "bar", "mm", "apart"),
    ),
    "rods too close": (
        Structure(
            "x",
            (dipole().rods[0], Rod("near", ((1.004, 0, -0.4), (1.004, 0, 0.4)), 0.003)),
            (),
            RodFeed("rod", 0.5, 0.01),
        ),
        ("rod", "near", "4 mm", "6 mm"),
    ),
    "copies too close": (
        Structure("x", (Rod("wire", ((0.005, 0, 0), (0.005, 0, 1)), 0.004, 6),), (), RodFeed("wire", 0.5, 0.01)),
        ("wire", "mm"),
    ),
    "sheets cross": (
        Structure(
            "x",
            (WHIP,),
            (FLANGE, SHELL, Surface("one", ((0.1, -0.1), (0.3, 0.1))), Surface("two", ((0.1, 0.1), (0.3, -0.1)))),
            AT_WHIP,
        ),
        ("one", "two", "profile point"),
    ),
    "too sharp a bend": (dipole(points=((1, 0, -0.5), (1, 0, 0.5), (1.02, 0, -0.3))), ("rod", "degrees", "angle")),
    "two rods at too sharp an angle": (
        Structure(
            "x",
            (dipole().rods[0], Rod("strut", ((1, 0, 0.5), (1.1, 0, 0.05)), 0.003)),
            (),
            RodFeed("rod", 0.5, 0.01),
        ),
        ("rod", "strut", "12.5 degrees", "15 degrees or more"),
    ),
    "a piece shorter than it is thick": (
        dipole(points=((1, 0, -0.5), (1, 0, 0.3), (1.003, 0, 0.303), (1.3, 0, 0.4))),
        ("rod", "4.243 mm long but 6 mm thick", "leave a point"),
    ),
    "a rod shorter than it is thick": (
        Structure(
            "x",
            (dipole().rods[0], Rod("knob", ((1.2, 0, 0), (1.2, 0, 0.01)), 0.008)),
            (),
            RodFeed("rod", 0.5, 0.01),
        ),
        ("knob", "long but 16 mm thick"),
    ),
    "the same rod twice": (
        Structure("x", (PARASITE, dataclasses.replace(PARASITE, name="again")), (), RodFeed("director", 0.4, 0.01)),
        ("director",),
    ),
    "copies of an axis rod": (
        Structure("x", (dataclasses.replace(WHIP, copies=3),), (FLANGE, SHELL), AT_WHIP),
        ("whip", "copies = 1"),
    ),
    # fed on nothing
    "feed names no rod": (dipole(feed=RodFeed("mast", 0.5, 0.01)), ("mast", "feed")),
    "feed beyond the rod": (dipole(feed=RodFeed("rod", 1.5, 0.01)), ("feed distance",)),
    "feed gap over the end": (dipole(feed=RodFeed("rod", 0.004, 0.02)), ("feed distance",)),
    "feed at an end that meets nothing": (dipole(feed=RodFeed("rod", 0.0, 0.01)), ("feed", "meets nothing")),
    "feed gap of no width": (dipole(feed=RodFeed("rod", 0.5, 0.0)), ("feed width",)),
    "feed across a bend": (dipole(points=((1, 0, -0.5), (1, 0, 0), (1.3, 0, 0.3))), ("bend",)),
    "aperture without an inner conductor": (Structure("x", (), (FLANGE, SHELL), AT_WHIP), ("feed positive", "nothing")),
    "aperture without an outer conductor": (
        Structure("x", (WHIP, radials(start=0.03)), (), AT_WHIP),
        ("feed negative", "nothing"),
    ),
    "oblique aperture": (
        Structure("x", (WHIP,), (FLANGE, SHELL), ApertureFeed((0.003, 0.01), (0.007, 0))),
        ("feed", "flat", "cylindrical"),
    ),
    "aperture on the axis": (
        Structure("x", (WHIP,), (FLANGE, SHELL), ApertureFeed((0.0, 0), (0.007, 0))),
        ("feed", "radius"),
    ),
    # open circuit
    "nothing to carry the current away": (
        Structure("x", (), (Surface("disc", ((0, 0.01), (0.003, 0.01))), FLANGE), AT_WHIP),
        ("feed",),
    ),
    # out of the model
    "sheet in mode 1": (
        Structure(
            "x",
            (Rod("arm", ((0, 0, 0), (0.5, 0, 0)), 0.001, 4),),
            (Surface("reflector", ((0.1, -0.3), (0.4, -0.3))),),
            RodFeed("arm", 0, 0.06),
            mode=1,
        ),
        ("reflector", "mode 0", "rods"),
    ),
    "axis rod in mode 1": (
        Structure(
            "x",
            (Rod("arm", ((0, 0, 0), (0.5, 0, 0)), 0.001, 4), Rod("mast", ((0, 0, -1), (0, 0, -0.2)), 0.01)),
            (),
            RodFeed("arm", 0, 0.06),
            mode=1,
        ),
        ("mast", "mode"),
    ),
    "mode 1 without arms": (dipole(mode=1), ("mode", "3 equal arms")),
    "mode 2": (dipole(mode=2), ("mode 2",)),
    "unknown ground": (dipole(ground="wet"), ("ground", "wet", "perfect")),
    "below the ground": (dipole(ground="perfect"), ("rod", "below the ground", "z")),
    "in the ground": (dipole(points=((0.5, 0, 0), (1.5, 0, 0)), ground="perfect"), ("rod", "ground plane")),
    "sheet in the ground": (
        Structure("x", (WHIP,), (Surface("disc", ((0.1, 0), (0.3, 0))),), AT_WHIP, "perfect"),
        ("disc", "ground plane"),
    ),
    # bad numbers
    "no metal": (Structure("bare", (), (), AT_WHIP), ("bare", "no metal")),
    "radius nothing": (dipole(radius=0.0), ("rod", "radius")),
    "radius negative": (dipole(radius=-0.001), ("rod", "radius")),
    "radius not a number": (dipole(radius=math.nan), ("rod", "radius")),
    "radius without end": (dipole(radius=math.inf), ("rod", "radius")),
    "a point that is no place": (dipole(points=((1, 0, math.nan), (1, 0, 1))), ("rod", "coordinates")),
    "a rod to the moon": (dipole(points=((1, 0, -0.5), (1, 0, 4e8))), ("rod", "coordinates")),
    "one point": (dipole(points=((1, 0, 0),)), ("rod", "two points")),
    "points that coincide": (dipole(points=((1, 0, 0), (1, 0, 0), (1, 0, 1))), ("rod", "coincide")),
    "no copies": (dipole(copies=0), ("rod", "copies")),
    "a billion copies": (dipole(copies=10**9), ("rod", "copies")),
    "two of one name": (ground_plane(dataclasses.replace(radials(), name="whip")), ("whip", "name")),
    "negative radius of a profile": (
        Structure("x", (WHIP,), (Surface("flange", ((0.007, 0), (-0.02, 0))), SHELL), AT_WHIP),
        ("flange", "rho >= 0"),
    ),
    "a profile of one point": (
        Structure("x", (WHIP,), (Surface("flange", ((0.007, 0),)), SHELL), AT_WHIP),
        ("flange", "two points"),
    ),
    "a profile on the axis": (
        Structure("x", (WHIP,), (FLANGE, SHELL, Surface("line", ((0, -0.2), (0, -0.5)))), AT_WHIP),
        ("line", "axis"),
    ),
    "a sheet of no thickness": (
        Structure("x", (WHIP,), (dataclasses.replace(FLANGE, thickness=0.0), SHELL), AT_WHIP),
        ("flange", "thickness"),
    ),
    "mesh wire thicker than its pitch": (
        Structure("x", (WHIP,), (dataclasses.replace(FLANGE, mesh=Mesh(0.001, 0.002)), SHELL), AT_WHIP),
        ("flange", "pitch"),
    ),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong_structure(case: str) -> None:
    structure, words = WRONG[case]
    with pytest.raises(StructureError) as caught:
        solve(structure, np.array([145 * MHZ]), check=False)
    error = caught.value
    print(case, "->", error)
    assert error.where and error.what and error.mend
    assert "\n" not in str(error) and len(str(error)) < 250
    for word in words:
        assert word in str(error)


@pytest.mark.parametrize(
    "frequency, words",
    [
        ([], ("no frequencies",)),
        ([0.0], ("0.1 MHz", "unit")),
        ([-145 * MHZ], ("unit",)),
        ([math.nan], ("unit",)),
        ([145.0], ("unit",)),  # MHz given as Hz
        ([145 * MHZ, 144 * MHZ], ("lower edge first",)),
        ([145 * MHZ, 145 * MHZ], ("rise",)),
        ([1e12], ("30 GHz",)),
    ],
)
def test_wrong_frequencies(frequency: list[float], words: tuple[str, ...]) -> None:
    with pytest.raises(StructureError) as caught:
        solve(dipole(), np.array(frequency), check=False)
    assert all(word in str(caught.value) for word in words) and "\n" not in str(caught.value)


def test_frequency_above_the_mesh() -> None:
    """A mesh cut for one frequency is too coarse for a higher one: refused with both frequencies, not answered badly."""
    raw = solve(dipole(), np.array([145 * MHZ]), check=False).raw
    with pytest.raises(StructureError, match=r"145 MHz .* too coarse for 300 MHz; raise the highest frequency"):
        raw.system.solve(300 * MHZ)


def test_metal_of_too_many_wavelengths() -> None:
    long = Structure("x", (Rod("wire", ((1, 0, -500), (1, 0, 500)), 0.003),), (), RodFeed("wire", 500, 0.01))
    with pytest.raises(
        StructureError, match=r"wavelengths of metal at 1000 MHz; lower the highest frequency or shorten"
    ):
        solve(long, np.array([1000 * MHZ]), check=False)


def test_mesh_too_open_for_the_frequency() -> None:
    """Sheet of 25 mm netting at 2.4 GHz (a fifth of a wavelength): the sheet model does not hold."""
    flange = dataclasses.replace(FLANGE, profile=((0.007, 0), (0.05, 0)), mesh=Mesh(0.025, 0.001))
    structure = Structure("x", (Rod("whip", ((0, 0, 0), (0, 0, 0.03)), 0.003),), (flange, SHELL), AT_WHIP)
    with pytest.raises(StructureError, match=r"mesh pitch 25 mm .* tenth of a wavelength at 2400 MHz"):
        solve(structure, np.array([2400 * MHZ]), check=False)


def test_a_singular_system_is_refused_with_its_condition(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two unknowns made one: the reciprocal condition number says so, with the frequency, and nothing is answered."""
    sound = solve(dipole(), np.array([145 * MHZ]), check=False)
    assert 1.0 < sound.sweep.check.condition < 1e6
    honest = System.matrix

    def doubled(self: System, frequency: float) -> np.ndarray:
        matrix = honest(self, frequency)
        matrix[1], matrix[:, 1] = matrix[0], matrix[:, 0]
        return matrix

    monkeypatch.setattr(System, "matrix", doubled)
    with pytest.raises(StructureError, match=r"singular at 145 MHz \(reciprocal condition \S+\); look for pieces"):
        solve(dipole(), np.array([145 * MHZ]), check=False)


@pytest.mark.parametrize("part, refused", [(0.985, True), (1.015, True), (0.993, False), (1.007, False)])
def test_power_that_does_not_balance_is_refused(part: float, refused: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """More than 1 % between what the feed gives and what leaves: no answer; less is counted into the printed error."""
    whole = solve(dipole(), np.array([145 * MHZ]))
    monkeypatch.setattr(solving, "powers", lambda *of: (lambda a, r, lost: (a, part * r, lost))(*powers(*of)))
    if refused:
        with pytest.raises(StructureError, match=r"differ from accepted power by 1\.5 %; the model does not suit"):
            solve(dipole(), np.array([145 * MHZ]))
        return
    sweep = solve(dipole(), np.array([145 * MHZ])).sweep
    assert sweep.check.power_balance == pytest.approx(0.007, abs=2e-4)
    added = sweep.impedance_error[0] - whole.sweep.impedance_error[0]
    assert added == pytest.approx(0.007 * abs(sweep.impedance[0]), rel=0.05)


def test_a_shape_beyond_the_model_is_refused_by_its_power() -> None:
    """A rod hardly longer than it is thick, fed in its middle: nothing overlaps, but the power does not balance."""
    fat = Structure(
        "fat", (Rod("rod", ((0.3, 0, -0.0101), (0.3, 0, 0.0101)), 0.01),), (), RodFeed("rod", 0.0101, 0.003)
    )
    with pytest.raises(StructureError, match="differ from accepted power"):
        solve(fat, np.array([300 * MHZ]))


def test_a_rod_beside_a_surface_is_cautioned() -> None:
    """What the model leaves out is said with the answer: the current round a disc that a lone mast excites."""
    structure = Structure("x", (WHIP, Rod("mast", ((0.4, 0, -1), (0.4, 0, 0)), 0.02)), (FLANGE, SHELL), AT_WHIP)
    cautions = solve(structure, np.array([145 * MHZ]), check=False).sweep.cautions
    assert any("round the surface" in caution.text for caution in cautions)


@pytest.mark.parametrize(
    "conductivity, permeability", [(0.0, 1.0), (-1e6, 1.0), (math.nan, 1.0), (1e6, 0.0), (1e6, -3.0)]
)
def test_metal_that_is_none(conductivity: float, permeability: float) -> None:
    rod = dataclasses.replace(dipole().rods[0], metal=Metal("wood", conductivity, permeability))
    with pytest.raises(StructureError, match=r"conductivity|permeability"):
        solve(dataclasses.replace(dipole(), rods=(rod,)), np.array([145 * MHZ]), check=False)


CROSSING = {
    "two thin rods": Structure(
        "x",
        (Rod("rod", ((1, 0, -0.5), (1, 0, 0.5)), 0.001), Rod("bar", ((0.5, 0, 0.125), (1.6, 0, 0.125)), 0.001)),
        (),
        RodFeed("rod", 0.5, 0.01),
    ),
    "rods through a disc": Structure(
        "x",
        (WHIP, Rod("spike", ((0.2, 0, 0.1), (0.2, 0, -0.1)), 0.003, 4)),
        (FLANGE, SHELL, Surface("disc", ((0.1, 0.03), (0.3, 0.03)))),
        AT_WHIP,
    ),
    "mast through a disc": Structure(
        "x",
        (WHIP, Rod("mast", ((0, 0, -0.2), (0, 0, -1)), 0.003)),
        (FLANGE, SHELL, Surface("disc", ((0, -0.5), (0.2, -0.5)))),
        AT_WHIP,
    ),
}


@pytest.mark.parametrize("case", CROSSING)
def test_metal_that_crosses_between_samples(case: str) -> None:
    with pytest.raises(StructureError):
        solve(CROSSING[case], np.array([145 * MHZ]), check=False)


def test_aperture_in_an_open_shell() -> None:
    # Shorter than four radii: the field inside would reach the open end.
    (b, _), (_, z), *_ = SHELL.profile
    shell = dataclasses.replace(SHELL, profile=((b, 0.0), (b, max(z, -2.0 * b))))
    with pytest.raises(StructureError, match=r"open|closed"):
        solve(Structure("x", (WHIP, radials()), (FLANGE, shell), AT_WHIP), np.array([145 * MHZ]), check=False)


def test_feed_at_the_foot_of_a_rod_on_the_ground() -> None:
    """The record promises it: "with distance 0 on a rod that starts on the ground, the gap is at that end". Half a
    dipole, on and off the axis."""
    z = []
    for x in (1.0, 0.0):
        rod = Rod("whip", ((x, 0, 0), (x, 0, 0.5)), 0.003)
        structure = Structure("x", (rod,), (), RodFeed("whip", 0.0, 0.01), "perfect")
        z.append(solve(structure, np.array([145 * MHZ]), check=False).sweep.impedance[0])
    assert z[0] == pytest.approx(z[1], rel=0.02)


def test_a_gap_shorter_than_the_rod_is_thick() -> None:
    """A dipole of 20 mm tube with a 10 mm gap is an everyday one; beside the axis it must be taken as on it."""
    on = dipole(radius=0.01, points=((0, 0, -0.5), (0, 0, 0.5)))
    off = dipole(radius=0.01)
    z = [solve(s, np.array([145 * MHZ]), check=False).sweep.impedance[0] for s in (on, off)]
    assert z[0] == pytest.approx(z[1], rel=0.02)


@pytest.mark.parametrize("gap", [0.4e-3, 1e-3, 3.5e-3])
def test_a_radial_that_stops_short_of_its_hub_is_an_open_circuit(gap: float) -> None:
    """A radial meant for the hub's edge that starts beyond it by less than two of its diameters."""
    edge = FLANGE.profile[-1][0]
    radial = radials()
    first, *rest = radial.points
    short = dataclasses.replace(radial, points=((first[0] + gap, *first[1:]), *rest))
    assert first[0] == pytest.approx(edge)
    with pytest.raises(StructureError, match=r"open circuit|join them"):
        solve(Structure("x", (WHIP, short), (FLANGE, SHELL), AT_WHIP), np.array([145 * MHZ]), check=False)


def test_rods_side_by_side_do_not_point_at_each_other() -> None:
    """A sleeve two diameters beside a fed rod is no open circuit."""
    rods = (
        Rod("fed", ((1.0, 0.0, -0.5), (1.0, 0.0, 0.5)), 0.003),
        Rod("sleeve", ((1.012, 0.0, -0.25), (1.012, 0.0, 0.25)), 0.003),
    )
    solve(Structure("x", rods, (), RodFeed("fed", 0.5, 0.01)), np.array([145 * MHZ]), check=False)


def test_a_feed_at_the_end_of_one_of_two_rods_is_refused() -> None:
    """Two rods with air between and a feed at the foot of one: how people write a dipole, and nothing for current to cross."""
    rods = (Rod("up", ((0, 0, 0.005), (0, 0, 0.5)), 0.0015), Rod("down", ((0, 0, -0.005), (0, 0, -0.5)), 0.0015))
    with pytest.raises(StructureError, match="meets nothing"):
        solve(Structure("x", rods, (), RodFeed("up", 0.0, 0.01)), np.array([145 * MHZ]), check=False)
