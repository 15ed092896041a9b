"""Families: every one can be built from its first guess, and the drawn metal is the metal of the cut list."""

from __future__ import annotations

import itertools
import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from small_needs import CLOTH, RODS, SHEET, TUBE, design_for, need_for, plans_for, with_metal

import aerialwright.antennas
from aerialwright.antennas.catalogue import families, family
from aerialwright.antennas.family import Family, Parameter, Values
from aerialwright.antennas.workpiece import ConeSheet
from aerialwright.base.errors import DesignError
from aerialwright.design.choose import tasks_for
from aerialwright.design.model import Design, span_of
from aerialwright.engine.geometry import build_geometry
from aerialwright.engine.overlap import check_overlap
from aerialwright.need.model import StockItem
from aerialwright.structure.model import Rod, Structure, Surface

SPANS = ((50, 54), (118, 136), (118, 162.05), (144, 146), (430, 440), (806, 960), (1240, 1300), (1400, 1500))
SHELVES: dict[str, tuple[StockItem, ...]] = {
    "nothing": (),
    "rods": (RODS,),
    "thin wire": (StockItem("wire", "copper", "wire", 1, diameter=1.0e-3, length=30.0),),
    "thick rods": (StockItem("rod", "aluminium", "welding rod", 20, diameter=6.0e-3, length=1.0),),
    "everything": (RODS, TUBE, SHEET, CLOTH),
}
KEYS = [kind.key for kind in families()]
ROOF = "metal roof of a barn"


def every_design(
    stock: tuple[StockItem, ...], low: float, high: float, *, polarisation: str = "vertical"
) -> list[Design]:
    need = need_for((low, high), stock=stock, site=ROOF, polarisation=polarisation)
    return [design_for(key, need, plan=i) for key in KEYS for i in range(len(plans_for(key, need)))]


def typical(polarisation: str = "vertical") -> list[Design]:
    """One design of every plan that a full shelf gives at 144 MHz."""
    return every_design(SHELVES["everything"], 144, 146, polarisation=polarisation)


def run(points: tuple[tuple[float, ...], ...]) -> float:
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def rods_of(structure: Structure, name: str) -> list[Rod]:
    found = [rod for rod in structure.rods if name in rod.name]
    assert found, f"no rod called {name}"
    return found


def metal_of(rods: list[Rod]) -> float:
    return sum(rod.copies * run(rod.points) for rod in rods)


def cone_of(structure: Structure) -> Surface:
    return next(surface for surface in structure.surfaces if surface.name.endswith("cone"))


@pytest.mark.parametrize("shelf", SHELVES)
@pytest.mark.parametrize(("low", "high"), SPANS)
def test_every_first_guess_can_be_built(shelf: str, low: float, high: float) -> None:
    designs = every_design(SHELVES[shelf], low, high)
    # Without a sheet there is no disc to stand on; all others are always possible.
    assert {design.family_key for design in designs} >= set(KEYS) - {"disc-ground-plane"}
    for design in designs:
        if shelf == "thick rods" and low > 800 and design.family_key == "cage-dipole":
            continue  # a cage a sixteenth of a wave across has no room for six 6 mm rods
        structure = design.structure()
        geometry = build_geometry(structure)
        check_overlap(geometry)
        width, height = design.family.size(structure)
        # The box that holds the metal is no larger than the three-quarter wave of any of these families.
        assert 0 < width < 0.75 * 299.792458 / low
        assert 0.1 * 299.792458 / high < height < 0.75 * 299.792458 / low


def test_a_disc_needs_sheet_or_mesh() -> None:
    for stock in ((SHEET,), (CLOTH,)):
        assert plans_for("disc-ground-plane", need_for((144, 146), stock=(RODS, *stock)))
    small = StockItem("sheet", "brass", "offcut", diameter=0.16, thickness=1e-3)
    assert not plans_for("disc-ground-plane", need_for((144, 146), stock=(RODS, small)))


def test_the_large_sheet_is_offered_where_there_is_one() -> None:
    assert plans_for("sheet-monopole", need_for((144, 146), site="garage with a steel roof"))
    assert not plans_for("sheet-monopole", need_for((144, 146), site="wooden mast"))


@pytest.mark.parametrize("key", KEYS)
def test_every_parameter_can_be_measured(key: str) -> None:
    kind = family(key)
    assert len({p.key for p in kind.parameters}) == len(kind.parameters)
    for parameter in kind.parameters:
        assert parameter.label and parameter.datum, parameter.key
        assert parameter.kind in ("length", "angle", "count")
        assert parameter.step > 0
        assert parameter.lowest < parameter.highest
    for design in (d for d in typical() if d.family_key == key):
        dimensions = kind.dimensions(design.plan, design.values)
        assert all(dimension.datum and dimension.label for dimension in dimensions)
        assert set(design.values) == {p.key for p in kind.parameters}
        for name, (bottom, top) in kind.bounds(design.plan, span_of(need_for((144, 146)).bands), design.values).items():
            assert kind.parameter(name).tuned
            assert bottom < top


@pytest.mark.parametrize("polarisation", ["vertical", "horizontal"])
def test_the_drawing_has_the_metal_of_the_cut_list(polarisation: str) -> None:
    """Length of all drawn rods against the sum over the cut list, piece by piece."""
    for design in typical(polarisation):
        if polarisation not in design.family.polarisations:
            continue
        structure = design.structure()
        cut = {
            p.name: p for p in design.family.pieces(design.plan, design.values) if p.shape in ("rod", "tube", "wire")
        }
        listed = sum(piece.quantity * (piece.length or 0.0) for piece in cut.values())
        drawn = metal_of(list(structure.rods))
        if design.family_key == "discone":
            drawn -= design.values["gap"]  # the socket's own pin, bought and not cut
        if design.plan.horizontal:
            drawn -= design.values["gap"]  # one line through the gap
        assert drawn == pytest.approx(listed, abs=1e-9), design.plan.key
        for piece in cut.values():
            assert piece.cut_length is not None and piece.length is not None
            assert piece.cut_length == piece.length + piece.allowance
            assert piece.datum and piece.diameter
            thick = {round(2 * rod.radius, 7) for rod in structure.rods}
            assert round(piece.diameter, 7) in thick, (design.plan.key, piece.name)


def test_a_rim_ring_is_as_long_as_it_is_drawn() -> None:
    need = need_for((144, 146))
    design = design_for("discone", need, rim_ring=1.0)
    ring = next(p for p in design.family.pieces(design.plan, design.values) if p.name == "rim ring")
    assert ring.length == pytest.approx(metal_of(rods_of(design.structure(), "rim ring")))
    assert ring.length is not None
    # It closes: the end of one side is the start of the next.
    side = rods_of(design.structure(), "rim ring")[0]
    turn = math.atan2(side.points[1][1], side.points[1][0])
    assert turn * side.copies == pytest.approx(2 * math.pi)
    assert build_geometry(design.structure())


def test_datums_of_the_ground_plane() -> None:
    design = design_for("ground-plane", need_for((144, 146)), radial_droop=40.0)
    structure, values = design.structure(), design.values
    top = max(point[2] for rod in rods_of(structure, "rod") for point in rod.points)
    assert top == pytest.approx(values["rod_length"]), "from the flange face, z = 0, to the tip"
    radial = rods_of(structure, "radial")[0]
    start, tip = radial.points
    assert (math.hypot(*start[:2]), start[2]) == (values["hub_radius"], 0.0)
    assert math.degrees(math.atan2(-tip[2], tip[0] - start[0])) == pytest.approx(40.0)
    piece = next(p for p in design.family.pieces(design.plan, values) if p.name == "radial")
    bend = piece.bends[0]
    assert (bend.angle, piece.quantity) == (40.0, 4)
    back = math.tan(math.radians(20.0)) * (bend.inside_radius + 0.5 * values["radial_diameter"])
    assert bend.start == pytest.approx(-back), "the arc starts on the hub, its corner is the hub's edge"


def test_a_thick_rod_counts_its_pin() -> None:
    """A 15 mm tube cannot stand in the socket: its pin is drawn, and pin and tube together are the rod length."""
    need = need_for((144, 146), stock=(RODS, TUBE))
    index = [plan.key for plan in plans_for("ground-plane", need)].index("ground-plane-tube")
    design = design_for("ground-plane", need, plan=index)
    pin, rod = design.structure().rods[:2]
    assert (pin.name, rod.radius) == ("pin", 7.5e-3)
    assert run(pin.points) + run(rod.points) == pytest.approx(design.values["rod_length"])


def test_datums_of_the_dipoles() -> None:
    for key in ("dipole", "cage-dipole"):
        design = design_for(key, need_for((144, 146)))
        heights = [point[2] for rod in design.structure().rods for point in rod.points]
        assert max(heights) - min(heights) == pytest.approx(design.values["total_length"])
        assert 2 * min(abs(z) for z in heights) == pytest.approx(design.values["gap"])
    wire = rods_of(design.structure(), "upper")[0]
    a, b, c = wire.points
    assert b[0] == pytest.approx(0.5 * design.values["cage_diameter"])
    piece = design.family.pieces(design.plan, design.values)[0]
    lean = math.degrees(math.atan2(b[0] - a[0], b[2] - a[2]))
    foot, shoulder = piece.bends
    assert (foot.angle, shoulder.angle) == (pytest.approx(90.0 - lean), pytest.approx(lean)), (
        "off the plate, then along the axis"
    )
    middle = shoulder.inside_radius + 0.5 * design.values["wire_diameter"]
    assert shoulder.start == pytest.approx(math.dist(a, b) - middle * math.tan(math.radians(0.5 * lean)))
    assert b[0] == c[0], "parallel to the axis after the bend"


@pytest.mark.parametrize(
    ("key", "plan"), [("discone", "discone-mesh"), ("discone", "discone-sheet"), ("bicone", "bicone-sheet")]
)
@pytest.mark.parametrize("angle", [50.0, 60.0, 90.0])
def test_the_sector_of_the_cut_list_rolls_up_to_the_cone(key: str, plan: str, angle: float) -> None:
    """A cone of full angle A unrolls to a sector of 360 sin(A/2) degrees (plane geometry): 180 degrees for 60."""
    stock = (RODS, CLOTH) if plan.endswith("mesh") else (RODS, SHEET)
    need = need_for((144, 146), stock=stock)
    index = [found.key for found in plans_for(key, need)].index(plan)
    design = design_for(key, need, plan=index, cone_angle=angle)
    piece = next(p for p in design.family.pieces(design.plan, design.values) if p.name.startswith("cone"))
    found = re.search(r"sector of ([\d.]+) degrees, outer radius (\d+) mm", piece.remark)
    assert found
    sector, outer = float(found[1]), float(found[2]) * 1e-3
    assert sector == pytest.approx(360 * math.sin(math.radians(angle / 2)), abs=0.05)
    if angle == 60.0:
        assert sector == 180.0
    (r1, z1), (r2, z2) = cone_of(design.structure()).profile
    slant = math.hypot(r2 - r1, z2 - z1)
    assert slant == pytest.approx(design.values["slant"])
    inner = outer - slant
    flat = math.radians(sector) / 2 * (outer**2 - inner**2)
    assert flat == pytest.approx(math.pi * (r1 + r2) * slant, rel=0.01), "same area flat and rolled"
    assert math.radians(sector) * outer == pytest.approx(2 * math.pi * r2, rel=0.01), "rim"


def test_a_cone_too_large_for_the_roll_is_cut_in_gores_that_fit() -> None:
    strip = StockItem("mesh", "galvanised steel", "roll", width=0.61, length=3.0, pitch=12.7e-3, wire_diameter=1.04e-3)
    need = need_for((118, 137), stock=(RODS, strip))
    index = [plan.key for plan in plans_for("discone", need)].index("discone-mesh")
    design = design_for("discone", need, plan=index)
    piece = next(p for p in design.family.pieces(design.plan, design.values) if p.name == "cone gore")
    assert piece.quantity > 1
    assert piece.width is not None and piece.width <= 0.61
    (_, _), (rim, _) = cone_of(design.structure()).profile
    assert isinstance(piece.form, ConeSheet)
    assert piece.form.gores == piece.quantity
    part = math.radians(piece.form.sector / piece.quantity)
    assert piece.quantity * part * piece.form.outer_radius == pytest.approx(2 * math.pi * rim, rel=1e-9)
    assert 2 * piece.form.outer_radius * math.sin(part / 2) < piece.width, "chord and lap"


@pytest.mark.parametrize("key", KEYS)
def test_a_value_outside_its_limits_is_refused_with_its_name(key: str) -> None:
    design = next(d for d in typical() if d.family_key == key)
    kind = design.family
    for parameter in kind.parameters:
        for bad in (parameter.lowest - 1.0, 2 * parameter.highest + 1.0, math.nan, math.inf, -math.inf):
            with pytest.raises(DesignError) as caught:
                design.with_values(**{parameter.key: bad}).structure()
            line = caught.value.one_line()
            assert "\n" not in line
            assert parameter.key in line and parameter.label in line
        if parameter.kind == "count":
            with pytest.raises(DesignError, match="whole"):
                design.with_values(**{parameter.key: parameter.lowest + 0.5}).structure()
        values = {name: value for name, value in design.values.items() if name != parameter.key}
        with pytest.raises(DesignError, match=parameter.key):
            kind.structure(design.plan, values)
    with pytest.raises(DesignError, match="no dimension 'wingspan'"):
        kind.parameter("wingspan")


@pytest.mark.parametrize(
    ("key", "values", "named"),
    [
        ("dipole", {"total_length": 0.02, "arm_diameter": 5e-3}, "total_length"),
        ("cage-dipole", {"total_length": 0.3, "taper_length": 0.2}, "taper_length"),
        ("discone", {"disc_diameter": 0.05, "disc_hub_diameter": 0.1}, "disc_diameter"),
        ("disc-ground-plane", {"disc_diameter": 0.04, "rod_length": 0.5}, "disc_diameter|flange"),
        ("ground-plane", {"hub_radius": 2e-3}, "hub"),
    ],
)
def test_values_that_contradict_each_other_are_refused(key: str, values: Values, named: str) -> None:
    stock = (RODS, SHEET)
    design = design_for(key, need_for((144, 146), stock=stock), **values)
    if key == "disc-ground-plane":
        # 40 mm across is more than the 25.4 mm flange's equal disc (28.7 mm): still sound.
        assert design.structure()
        return
    with pytest.raises(DesignError, match=named):
        design.structure()


def test_unknown_family_lists_the_known() -> None:
    with pytest.raises(DesignError) as caught:
        family("wonder-whip", where="FAMILY")
    assert "wonder-whip" in caught.value.one_line()
    assert all(key in caught.value.mend for key in KEYS)


def test_other_metal_in_one_role() -> None:
    design = design_for("dipole", need_for((144, 146), stock=(RODS, TUBE)), plan=0)
    tube = plans_for("dipole", need_for((144, 146), stock=(TUBE,)))[1].metals["arm"]
    changed = with_metal(design.plan, "arm", tube)
    assert changed.metals["arm"].diameter == 15e-3
    assert design.plan.metals["arm"].diameter == 3.2e-3


def test_rounding_is_to_what_can_be_marked() -> None:
    for design in typical():
        rounded = design.family.rounded(design.plan, {k: v + 0.00037 for k, v in design.values.items()})
        for key in design.family.tuned(design.plan):
            step = design.family.parameter(key).step
            assert rounded[key] / step == pytest.approx(round(rounded[key] / step), abs=1e-6)


ONE_FILE = '''
"""A family in one file."""
from aerialwright.antennas.sheet_monopole import SheetMonopole


class StubMast(SheetMonopole):
    """The same rod under another name."""

    key = "stub-mast"
    title = "stub mast"
    place = 15


FAMILY = StubMast()
'''


@pytest.fixture
def one_more_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    (tmp_path / "stub_mast.py").write_text(ONE_FILE, "utf-8")
    (tmp_path / "not_a_family.py").write_text("FAMILY = 'a word'\n", "utf-8")
    monkeypatch.setattr(aerialwright.antennas, "__path__", [*aerialwright.antennas.__path__, str(tmp_path)])
    families.cache_clear()
    yield
    for name in ("stub_mast", "not_a_family"):
        sys.modules.pop(f"aerialwright.antennas.{name}", None)
        if hasattr(aerialwright.antennas, name):
            delattr(aerialwright.antennas, name)
    families.cache_clear()


def test_a_new_family_is_one_file(one_more_file: None) -> None:
    assert family("stub-mast").title == "stub mast"
    keys = [kind.key for kind in families()]
    assert keys.index("sheet-monopole") < keys.index("stub-mast") < keys.index("dipole"), "in its place"
    tasks, _ = tasks_for(need_for((144, 146), site=ROOF))
    mine = [task for task in tasks if task.design.family_key == "stub-mast"]
    assert mine, "the choice weighs it without being told"
    assert mine[0].design.structure()


def test_without_the_file_it_is_gone() -> None:
    assert [kind.key for kind in families()] == KEYS
    assert all(isinstance(kind, Family) and isinstance(kind.parameters[0], Parameter) for kind in families())


@pytest.mark.parametrize(
    ("typed", "meant"), [("discon", "discone"), ("Ground_plane", "ground-plane"), ("bicon", "bicone")]
)
def test_a_slip_in_a_family_name_is_recognised(typed: str, meant: str) -> None:
    with pytest.raises(DesignError, match=f"did you mean '{meant}'"):
        family(typed)
