"""The build sheet of every family and of the three examples: does the metal add up, and are its numbers those of the engine?"""

from __future__ import annotations

import dataclasses
import math
import time
from collections import Counter
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from small_needs import CLOTH, RODS, SHEET, TUBE, design_for, need_for, plans_for, with_metal

from aerialwright.antennas.catalogue import families
from aerialwright.antennas.family import Family, conductor_of
from aerialwright.antennas.records import Piece, part
from aerialwright.antennas.workpiece import HoleCircle, Plate, arc_length
from aerialwright.app.sizing import sized
from aerialwright.base.errors import DesignError
from aerialwright.design.choose import run_task, tasks_for
from aerialwright.design.evaluate import evaluate
from aerialwright.design.model import Design, span_of
from aerialwright.design.quick import quick_impedance
from aerialwright.design.records import Evaluation
from aerialwright.lines.line import line_from_need
from aerialwright.lines.mismatch import reflection, swr
from aerialwright.need.model import FeedLine, Need, StockItem
from aerialwright.project.needs import read_need
from aerialwright.sheet import content, order
from aerialwright.sheet.build import build_sheet, design_id, identity_of
from aerialwright.sheet.cut_list import check_plate, cut_list
from aerialwright.sheet.records import BuildSheet
from aerialwright.sheet.stock_plan import stock_plan
from aerialwright.sheet.tolerance import made_of, slopes_of
from aerialwright.structure.model import Structure

STOCK = (RODS, TUBE, SHEET, CLOTH)
NEED = need_for((144, 146), stock=STOCK, site="metal roof")
KEYS = [kind.key for kind in families()]
EVERY = [(key, number) for key in KEYS for number in range(len(plans_for(key, NEED)))]
ROOT = Path(__file__).resolve().parents[2]


@cache
def evaluated(key: str, plan: int = 0) -> Evaluation:
    return evaluate(design_for(key, NEED, plan=plan), NEED, NEED.bands, sensitivities=False)


@cache
def sheet(key: str, plan: int = 0) -> BuildSheet:
    return build_sheet(NEED, evaluated(key, plan), bands=NEED.bands)


def adds_up(made: BuildSheet, need: Need) -> None:
    """Bars: cuts, kerfs and the rest are the bar. Pieces: all of them are cut or bought. Numbers are finite."""
    cut: Counter[str] = Counter()
    for bar in made.plan.bars:
        length = sum(size for _, size in bar.cuts) + bar.kerf * len(bar.cuts) + bar.left
        # The last piece may end the bar: its cut then takes less than a whole kerf.
        assert length == pytest.approx(bar.length, abs=1e-9) or (
            bar.left == 0.0 and length - bar.kerf <= bar.length + 1e-9
        )
        cut.update(name for name, _ in bar.cuts)
    for flat in made.plan.sheets:
        cut.update(name for name, *_ in flat.cuts)
        for _, x, y, w, h in flat.cuts:
            assert x >= -1e-9 and y >= -1e-9 and x + w <= flat.length + 2e-5 and y + h <= flat.width + 2e-5
    lines = {line.name: line for line in made.cut_list}
    for line in made.cut_list:
        bought = sum(
            int(text.split(" x ")[0]) for text in made.plan.shopping if text.split(" x ")[1].startswith(f"{line.name}:")
        )
        if line.shape != "part":
            assert cut[line.name] + bought == line.quantity, line.name
            assert line.cut is not None and line.finished is not None
            assert line.cut == pytest.approx(line.finished + sum(a.length for a in line.allowances))
        for tolerance in (line.tolerance, line.bend_tolerance):
            if tolerance is not None:
                assert 0 < tolerance.plus_minus < (0.0201 if tolerance.kind == "length" else 10.1)
                assert tolerance.frequency_per_unit is not None and math.isfinite(tolerance.frequency_per_unit)
                assert tolerance.impedance_per_unit is not None and np.isfinite(tolerance.impedance_per_unit)
        end = 0.0
        for start, arc, bend in line.mark_bends:
            assert line.diameter is not None and line.cut is not None
            assert arc == pytest.approx(
                arc_length(angle=bend.angle, inside_radius=bend.inside_radius, thickness=line.diameter)
            )
            assert end < start and start + arc < line.cut
            end = start + arc
    for bar in made.plan.bars:
        for name, size in bar.cuts:
            assert name not in lines or size == lines[name].cut
    sizes = [line.cut or 0.0 for line in made.cut_list if line.shape != "part"]
    assert sizes == sorted(sizes, reverse=True)
    assert [line.number for line in made.cut_list] == list(range(1, len(made.cut_list) + 1))
    assert need.limits.worst_swr > 0 and len(made.design_id) == 8


@pytest.mark.parametrize(("key", "plan"), EVERY)
def test_the_sheet_of_every_plan_adds_up(key: str, plan: int) -> None:
    made = sheet(key, plan)
    adds_up(made, NEED)
    # Every length that the engine may move and that is cut from round stock says how exact it must be.
    rods = [line for line in made.cut_list if line.shape in ("rod", "tube", "wire")]
    assert all(line.tolerance is not None for line in rods)
    steps = " ".join(f"{step.action} {step.check}" for step in made.steps)
    assert "ohm" in steps and len(made.steps) > 8
    assert all(step.action and step.check for step in made.steps)
    assert {line.shape for line in made.cut_list} >= {"part"}
    names = " ".join(name for name, _, _ in made.parts)
    assert ("socket" in names) == families()[KEYS.index(key)].socketed
    assert len(made.safety) >= 6 and all(caution.level == "safety" for caution in made.safety)


@pytest.mark.parametrize(("key", "plan"), EVERY)
def test_finished_lengths_are_the_drawn_metal(key: str, plan: int) -> None:
    """The sum of the finished round pieces is the metal that was solved, as the families' own tests ask of their pieces."""
    made = sheet(key, plan)
    structure: Structure = made.evaluation.structure
    listed = sum(
        line.quantity * (line.finished or 0.0) for line in made.cut_list if line.shape in ("rod", "tube", "wire")
    )
    drawn = sum(
        rod.copies * sum(math.dist(a, b) for a, b in zip(rod.points, rod.points[1:], strict=False))
        for rod in structure.rods
    )
    drawn -= made.evaluation.design.values["gap"] if key == "discone" and made.evaluation.design else 0.0
    assert listed == pytest.approx(drawn, abs=1e-9)


@pytest.mark.parametrize("name", ["tarn-edge", "marrow-head", "quillfen"])
def test_the_sheets_of_an_example(name: str) -> None:
    """One narrow and one wide plan of each example, untuned: its own shelf, cover and bands."""
    need = read_need(ROOT / "examples" / name)
    tasks, _ = tasks_for(need)
    for key in ("ground-plane", "dipole", "discone"):
        task = next(t for t in tasks if t.design.family_key == key and t.whole and not t.design.owned)
        outcome = run_task(dataclasses.replace(task, tuning=False))
        assert outcome.evaluation is not None
        started = time.process_time()
        made = build_sheet(need, outcome.evaluation, bands=need.must_bands)
        assert time.process_time() - started < 1.5
        adds_up(made, need)


@pytest.mark.parametrize("key", KEYS)
def test_a_family_that_says_nothing_still_has_steps(key: str) -> None:
    """The hook's own answer, from the pieces alone: bends, holes, joints, each with its check."""
    design = design_for(key, NEED)
    steps = Family.steps(design.family, design.plan, design.values)
    assert all(step.action and step.check for step in steps)
    text = " ".join(step.action for step in steps)
    for piece in design.family.pieces(design.plan, design.values):
        assert (f"Bend each {piece.name}" in text) == bool(piece.bends)
        assert piece.shape == "part" or piece.name in text


def test_pieces_follow_their_dimensions() -> None:
    dipole = made_of(design_for("dipole", NEED))["arm"]
    assert dipole.length == pytest.approx({"total_length": 0.5, "gap": -0.5}, abs=1e-9)
    cone = made_of(design_for("discone", NEED))["cone wire"]
    assert cone.length_key("slant") == "slant" and cone.bend == pytest.approx({"cone_angle": -0.5}, abs=1e-6)
    assert made_of(design_for("ground-plane", NEED))["radial"].bend == pytest.approx({"radial_droop": 1.0}, abs=1e-6)


@pytest.mark.parametrize(
    ("key", "name", "dimension", "by"),
    [("dipole", "arm", "total_length", 2.0), ("ground-plane", "rod", "rod_length", 1.0)],
)
def test_a_tolerance_is_what_a_changed_antenna_shows(key: str, name: str, dimension: str, by: float) -> None:
    """The antenna built wrong by the tolerance, solved anew, and the curve moved by what one millimetre is said to do."""
    evaluation = evaluated(key)
    design = evaluation.design
    assert design is not None
    line = next(line for line in sheet(key).cut_list if line.name == name)
    assert line.tolerance is not None and line.tolerance.frequency_per_unit is not None
    at = np.linspace(138e6, 150e6, 25)
    band = (at >= 144e6) & (at <= 146e6)
    off = line.tolerance.plus_minus
    z = {
        sign: quick_impedance(design.with_values(**{dimension: design.values[dimension] + sign * by * off}), at)
        for sign in (-1, 0, 1)
    }
    worst = {sign: float(swr(z[sign][band], reference=50.0).max()) for sign in z}
    assert max(worst.values()) - worst[0] < 0.13
    # The whole curve, by least squares over the band on what the solved antennas show: Z(f) longer is Z(f - shift).
    slope = np.gradient(z[0], at)[band]
    moved = (z[1] - z[-1])[band]
    shift = float(-np.real(np.sum(np.conj(slope) * moved)) / np.sum(np.abs(slope) ** 2)) / (2e3 * off)
    assert shift == pytest.approx(line.tolerance.frequency_per_unit, rel=0.05)
    # Where the reactance passes zero moves alike.
    low, high = (float(np.interp(0.0, z[sign].imag, at)) for sign in (1, -1))
    assert at[0] < low < high < at[-1]
    assert (low - high) / (2e3 * off) == pytest.approx(line.tolerance.frequency_per_unit, rel=0.15)


def test_a_hundredth_longer_is_a_hundredth_lower() -> None:
    """A dipole scales: dip times length is nearly constant (thin wire), so 1 mm of each arm of 487 moves 145 MHz by about 0.29."""
    made = sheet("dipole")
    arm = next(line for line in made.cut_list if line.name == "arm")
    assert arm.tolerance is not None and arm.finished is not None and arm.tolerance.frequency_per_unit is not None
    assert arm.tolerance.frequency_per_unit == pytest.approx(-made.test.dip_frequency * 1e-3 / arm.finished, rel=0.1)


def test_the_trim_table_brings_the_dip_home() -> None:
    """Build it with a dip too low, cut what the table says, and solve again: the dip is where it was wanted."""
    evaluation = evaluated("dipole")
    design = evaluation.design
    assert design is not None
    made = sheet("dipole").test
    long = design.with_values(total_length=design.values["total_length"] + 0.02)

    def dip(one: Design) -> float:
        at = np.linspace(135e6, 152e6, 120)
        return float(at[int(np.argmin(swr(quick_impedance(one, at), reference=50.0)))])

    offset = dip(long) - dip(design)
    per_hertz = made.trim[0].change / made.trim[0].dip_offset
    trimmed = long.with_values(total_length=long.values["total_length"] + 2.0 * offset * per_hertz)
    assert dip(trimmed) == pytest.approx(dip(design), abs=0.4e6)
    assert all(row.first_cut == pytest.approx(0.6 * row.change) for row in made.trim)
    assert all((row.change < 0) == (row.dip_offset < 0) for row in made.trim), "too low: cut"


def test_the_far_end_is_the_antenna_through_the_coax() -> None:
    """Reflection at the far end is that at the antenna less twice the loss, turned by twice the electrical length (line theory)."""
    need = dataclasses.replace(NEED, feed_lines=(FeedLine("RG-213", 12.0),))
    made = build_sheet(need, evaluated("ground-plane"), bands=need.bands)
    line = line_from_need(need.feed_lines[0])
    for expected in made.test.expected:
        near = complex(reflection(expected.impedance, reference=50.0))
        far = complex(reflection(expected.far_impedance, reference=50.0))
        loss = float(line.loss_db(expected.frequency))
        assert abs(far) == pytest.approx(abs(near) * 10 ** (-loss / 10))
        turn = -4 * math.pi * expected.frequency * 12.0 / (line.velocity_factor * 299792458.0)
        assert np.angle(far / near * np.exp(-1j * turn)) == pytest.approx(0.0, abs=1e-9)
        limit = (expected.swr_limit - 1) / (expected.swr_limit + 1) * 10 ** (-loss / 10)
        assert expected.far_swr_limit == pytest.approx((1 + limit) / (1 - limit), rel=1e-6)
        assert expected.swr <= expected.swr_limit and expected.far_swr <= expected.far_swr_limit
    labels = [e.label for e in made.test.expected]
    assert labels == ["band 1, low edge", "band 1, middle", "band 1, high edge"]
    # A short or an open through this coax: 2.303 dB there and back at 145 MHz means SWR (1 + r) / (1 - r).
    loss = float(line.loss_db(made.test.dip_frequency))
    r = 10 ** (-loss / 10)
    assert any(f"SWR {(1 + r) / (1 - r):.1f} there" in text for _, text in made.test.faults)


def test_the_dip_is_the_lowest_swr_nearby() -> None:
    made, e = sheet("dipole").test, evaluated("dipole")
    near = (e.frequency > 0.95 * made.dip_frequency) & (e.frequency < 1.05 * made.dip_frequency)
    assert made.dip_swr == e.swr[near].min()


def test_a_choke_is_a_coil_that_its_coax_bears() -> None:
    def card(low: float, high: float, coax: str) -> str:
        need = dataclasses.replace(need_for((low, high)), feed_lines=(FeedLine(coax, 10.0),))
        return " ".join(line for _, line in order._choke_lines(need, span_of(need.bands).centre))

    text = card(144, 146, "RG-58")
    # 0.9 of a quarter wave at 145 MHz is 465 mm; three turns of it stand on 44 mm of former with 5 mm coax (by hand).
    assert "3 tight turns" in text and "former of 44 mm" in text and "465 mm" in text
    assert "No coil" in card(430, 440, "RG-58") and "No coil" in card(144, 146, "RG-213")
    assert "former" in card(50, 52, "RG-213")


@pytest.mark.parametrize(
    ("stock", "said"),
    [
        ((), "nothing like it on the shelf"),
        ((StockItem("rod", "brass", "short rods", 20, diameter=3.2e-3, length=0.4),), "longer than the longest you have, 400 mm"),
        ((StockItem("rod", "brass", "one rod", 1, diameter=3.2e-3, length=0.6),), "not enough left"),
    ],
)  # fmt: skip
def test_what_the_shelf_cannot_give_is_a_shopping_line(stock: tuple[StockItem, ...], said: str) -> None:
    need = dataclasses.replace(NEED, stock=stock)
    made = build_sheet(need, evaluated("ground-plane"), bands=need.bands)
    assert made.plan.shopping and all(said in line for line in made.plan.shopping)


def test_a_cone_that_fits_no_sheet_is_a_shopping_line() -> None:
    small = dataclasses.replace(CLOTH, width=0.3, length=0.3)
    plan = [p.key for p in plans_for("discone", NEED)].index("discone-sheet")
    evaluation = evaluated("discone", plan)
    need = dataclasses.replace(NEED, stock=(RODS, small, dataclasses.replace(SHEET, width=0.3, length=0.3)))
    lines = stock_plan(evaluation, need).shopping
    assert any("cone sector" in line and "larger than the largest you have, 300 mm" in line for line in lines)


def test_holes_must_lie_on_their_plate() -> None:
    with pytest.raises(DesignError, match=r"flange screws reach 14.6 mm .* ends at 12 mm; use a larger plate"):
        check_plate(Plate(24e-3, holes=(HoleCircle(25.82e-3, 4, 3.3e-3, "flange screws"),)), where="neck plate")
    with pytest.raises(DesignError, match="run into others"):
        check_plate(Plate(60e-3, holes=(HoleCircle(20e-3, 24, 3.3e-3, "wires"),)), where="hub plate")
    with pytest.raises(DesignError, match="run into others"):
        body = HoleCircle(0.0, 1, 24e-3, "socket body")
        check_plate(Plate(40e-3, holes=(body, HoleCircle(25.82e-3, 4, 3.3e-3, "flange screws"))), where="neck plate")


def test_a_bend_must_fit_its_leg() -> None:
    evaluation = evaluated("ground-plane")
    short = tuple(
        dataclasses.replace(piece, length=8e-3) if piece.name == "radial" else piece for piece in evaluation.pieces
    )
    with pytest.raises(DesignError, match="inside radius does not fit its leg; make the leg longer") as caught:
        cut_list(dataclasses.replace(evaluation, pieces=short), None)
    assert caught.value.where == "radial" and "\n" not in caught.value.one_line()


def test_an_antenna_that_exists_needs_no_sheet() -> None:
    owned = dataclasses.replace(evaluated("dipole"), owned=True)
    with pytest.raises(DesignError, match="nothing to build"):
        build_sheet(NEED, owned, bands=NEED.bands)
    with pytest.raises(DesignError, match="no band"):
        build_sheet(NEED, evaluated("dipole"), bands=())


def test_an_evaluation_without_its_design_still_gives_a_sheet() -> None:
    bare = dataclasses.replace(evaluated("ground-plane"), design=None)
    made = build_sheet(NEED, bare, bands=NEED.bands)
    assert all(line.tolerance is None for line in made.cut_list)
    assert slopes_of(bare, NEED.bands, reference=50.0, limit=2.0) is None
    adds_up(made, NEED)


def test_two_antennas_do_not_take_the_same_bar() -> None:
    """Four arms of 0.5 m from two rods of 1.01 m; with one rod two arms are to be bought. Both sheets tell the same plan."""
    first = evaluated("dipole")
    second = dataclasses.replace(first, key=f"{first.key} again")
    for count, short in ((2, 0), (1, 2)):
        need = dataclasses.replace(NEED, stock=(dataclasses.replace(RODS, quantity=count, length=1.01),))
        assert not stock_plan(first, need).shopping
        plans = [stock_plan(first, need, beside=(second,)), stock_plan(second, need, beside=(first,))]
        for plan in plans:
            assert sum(int(line.split(" x ")[0]) for line in plan.shopping) == short
        mine = [Counter(name for bar in plan.bars for name, _ in bar.cuts)["arm"] for plan in plans]
        assert sum(mine) == 4 - short


def test_the_design_keeps_its_number() -> None:
    """The same with a choke found or not; another length, another number."""
    e = evaluated("dipole")
    assert e.design is not None
    choke = dataclasses.replace(e, pieces=(*e.pieces, part("choke", "five clamp-on ferrites")))
    assert build_sheet(NEED, choke, bands=NEED.bands).design_id == sheet("dipole").design_id
    longer = e.design.with_values(total_length=e.design.values["total_length"] + 1e-3)
    other = dataclasses.replace(e, dimensions=longer.family.dimensions(longer.plan, longer.values))
    assert design_id(other) != design_id(e)


@pytest.mark.parametrize("name", ["dipole", "ground-plane"])
def test_the_test_card_names_the_design_that_a_sweep_is_compared_with(name: str) -> None:
    """The words are those the program takes; the name on paper is the one that the stored design answers to."""
    made = sheet(name)
    assert made.test.command.split()[:2] == ["aerialwright", "bench"]
    assert made.test.command.endswith(f"--antenna {made.design_id}")
    assert made.evaluation.design is not None and identity_of(made.evaluation.design) == made.design_id


def test_exposure_is_named_where_someone_transmits() -> None:
    power = dataclasses.replace(NEED, transmit_power=5.0)
    assert any("Exposure" in c.text for c in build_sheet(power, evaluated("dipole"), bands=NEED.bands).safety)
    assert not any("Exposure" in c.text for c in sheet("dipole").safety)


def test_copper_on_aluminium_is_warned_of() -> None:
    plan = [p.key for p in plans_for("dipole", need_for((144, 146), stock=(RODS, ALU)))].index("dipole-thick")
    need = need_for((144, 146), stock=(RODS, ALU))
    evaluation = evaluate(design_for("dipole", need, plan=plan), need, need.bands, sensitivities=False)
    joints = order.joint_notes(evaluation)
    assert any("does not soft-solder" in text for text in joints)
    assert any(text.startswith("copper on aluminium: 0.48 V") and "Never bare" in text for text in joints)


def test_a_rod_is_cut_for_the_pin_that_it_stands_in() -> None:
    """The pin is the first 6 mm of the length from the face; 6 mm of the rod go into it; then 3 % of trim stock."""
    rod = next(line for line in sheet("ground-plane").cut_list if line.name == "rod")
    design = evaluated("ground-plane").design
    assert design is not None and rod.cut is not None
    length, pin = design.values["rod_length"], design.plan.socket.pin_length
    assert pin == 6e-3
    assert rod.cut == pytest.approx(length - pin + 6e-3 + 0.03 * length)


@pytest.mark.parametrize(
    ("stock", "socket", "part", "step", "before"),
    [
        (RODS, "N", None, "Turn or file 6 mm of the rod's foot down to 2.0 mm", 0.0),
        (StockItem("rod", "brass", "thin", 20, diameter=1.6e-3, length=1.0), "N", None, "stand the rod in the cup", 0.0),
        (StockItem("rod", "aluminium", "welding rod", 20, diameter=4e-3, length=1.0), "UHF", "foot sleeve", "grub screws", -9e-3),
        (TUBE, "UHF", "foot plug", "Fix the plug in the tube's foot", -9e-3),
        (RODS, "coax end", None, "Drill the foot 1.1 mm", -4e-3),
    ],
)  # fmt: skip
def test_how_a_rod_meets_its_pin(stock: StockItem, socket: str, part: str | None, step: str, before: float) -> None:
    need = need_for((144, 146), stock=(RODS, stock), connectors=(socket,))
    design = design_for("ground-plane", need, plan=len(plans_for("ground-plane", need)) - 1)
    conductor = conductor_of(stock)
    design = dataclasses.replace(design, plan=with_metal(design.plan, "rod", conductor))
    pieces = design.family.pieces(design.plan, {**design.values, "rod_diameter": conductor.diameter})
    rod = next(piece for piece in pieces if piece.name == "rod")
    assert sum(a.length for a in rod.allowances if a.end == "datum") == pytest.approx(before)
    assert [piece.name for piece in pieces if piece.name.startswith("foot")] == ([part] if part else [])
    assert any(step in one.action for one in design.family.steps(design.plan, design.values))


def test_metal_that_does_not_solder_is_never_soldered() -> None:
    rods = StockItem("rod", "aluminium", "rods", 60, diameter=3.2e-3, length=1.5)
    flat = StockItem("sheet", "aluminium", "sheet", 4, width=2.0, length=2.0, thickness=1e-3)
    need = need_for((144, 146), stock=(rods, flat))
    for key in KEYS:
        for number in range(len(plans_for(key, need))):
            design = design_for(key, need, plan=number)
            pieces = design.family.pieces(design.plan, design.values)
            metal = [piece for piece in pieces if piece.material == "aluminium"]
            assert metal and not any("soldered" in piece.remark for piece in metal)
            assert not any("solder" in a.reason for piece in metal for a in piece.allowances)
            words = [step.action for step in design.family.steps(design.plan, design.values)]
            assert not any(word.startswith("Solder ") and "sleeve" not in word for word in words), (key, words)


def test_a_single_sized_antenna_has_a_sheet() -> None:
    need, evaluation = sized(
        "dipole",
        band="144-146 MHz",
        metal="brass",
        diameter="3.2 mm",
        coax="50 ohm",
        socket="N",
        keep=("total_length=960 mm",),
    )
    made = build_sheet(need, evaluation, bands=need.bands)
    adds_up(made, need)
    assert made.test.expected[0].far_impedance == pytest.approx(made.test.expected[0].impedance), (
        "no coax: both ends are one"
    )


ALU = StockItem("tube", "aluminium", "tube", 2, diameter=19e-3, wall=1.5e-3, length=2.0)


def actions(made: BuildSheet) -> str:
    return "\n".join(step.action for step in made.steps)


def test_only_what_can_be_trimmed_is_trimmed() -> None:
    rod, wide = sheet("ground-plane"), sheet("cage-dipole")
    assert rod.test.trim and "Trim in steps" in actions(rod)
    assert not wide.test.trim and "Trim" not in actions(wide)
    assert not any("trim table" in text for row in wide.test.faults for text in row)


def test_an_antenna_on_a_roof_is_measured_where_it_stands() -> None:
    made = sheet("sheet-monopole")
    assert "pole" not in " ".join(made.test.hang) and "On its sheet" in made.test.hang[0]
    assert "Hang" not in actions(made) and actions(made).index("Drill the sheet") < actions(made).index("Read the freq")
    assert any("drill" in tool for tool in made.tools)


def test_the_coax_goes_through_the_pipe_before_it_is_joined() -> None:
    plain = evaluated("dipole")
    pipe = Piece("cover pipe", 1, "pipe", "PVC", 43e-3, 0.9, (), "over the metal, tip to foot")
    steps = [
        s.action
        for s in order.work_steps(dataclasses.replace(plain, pieces=(*plain.pieces, pipe)), trimmed=True, coax=True)
    ]
    wanted = (
        "Drill a hole for the coax", "Join the coax", "Push the caps on, before", "Draw the antenna into", "Lead the coax away",
        "Hang the antenna", "Trim in steps", "Fix the antenna in its pipe",
    )  # fmt: skip
    places = [next(k for k, action in enumerate(steps) if action.startswith(words)) for words in wanted]
    assert places == sorted(places)
    assert not any("pipe" in step.action for step in order.work_steps(plain, trimmed=True, coax=True))


def test_caps_are_on_when_it_is_measured() -> None:
    text = actions(sheet("dipole"))
    assert (
        text.index("Push the caps on")
        < text.index("Hang the antenna")
        < text.index("Trim")
        < text.index("Fix every cap")
    )


@pytest.mark.parametrize(
    ("metres", "fine", "shown"),
    [(0.49543, False, "495 mm"), (0.04974, False, "49.5 mm"), (0.00712, False, "7 mm"), (0.16528, True, "165.5 mm")],
)
def test_lengths_are_printed_as_they_can_be_marked(metres: float, fine: bool, shown: str) -> None:
    """Whole millimetres from 50 mm, half ones below; common practice, no source."""
    assert content.millimetres(metres, fine=fine) == shown
