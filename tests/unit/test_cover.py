"""Plastic over metal: a pipe of the shelf over the antenna, insulation on wire, and how both are told."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from small_needs import RODS, TUBE, design_for, need_for

from aerialwright.antennas.catalogue import families, family
from aerialwright.antennas.cover import PIPE_SPARE, pieces, unfit, with_cover
from aerialwright.antennas.family import Shelf
from aerialwright.antennas.plastic import Pipe, layers, leaning_factor, pipe_of
from aerialwright.base.errors import DesignError, NeedError, ProjectError
from aerialwright.design.choose import tasks_for
from aerialwright.design.cover_effect import LOOK, bare_design, cover_effect, resonance
from aerialwright.design.evaluate import evaluate
from aerialwright.design.model import Design, span_of
from aerialwright.design.quick import quick_impedance
from aerialwright.need.check import check_need
from aerialwright.need.model import Cover, Need, OwnedAntenna, Site, StockItem
from aerialwright.project.needs import parse_need, read_need, write_need
from aerialwright.stock.plastics import plastic
from aerialwright.structure.model import Coating

PIPE = StockItem("pipe", "PVC", "waste pipe", 1, diameter=43e-3, wall=1.9e-3, length=3.0)
WIRE = StockItem(
    "wire",
    "copper",
    "house wire",
    1,
    diameter=1.63e-3,
    length=50.0,
    insulation_diameter=2.82e-3,
    insulation="PVC insulation",
)


def covered(
    *ranges: tuple[float, float], stock: tuple[StockItem, ...] = (RODS, PIPE), pipe: str = "waste pipe"
) -> Need:
    roof = Site("metal roof", metal_sheet=1000.0)
    return dataclasses.replace(need_for(*ranges, stock=stock), site=roof, cover=Cover(pipe))


def standing(key: str, need: Need, *, plan: int = 0) -> Design:
    design = design_for(key, need, plan=plan)
    return dataclasses.replace(design, plan=with_cover(family(key), design.plan, need))


# ---- the need


def test_a_need_file_names_its_cover_and_its_insulation(tmp_path: Path) -> None:
    text = """
title = "covered"
[[band]]
label = "two metres"
range = "144-146 MHz"
[[feed_line]]
type = "RG-58"
length = "5 m"
[[stock]]
label = "43 mm waste pipe"
kind = "pipe"
material = "PVC"
diameter = "43 mm"
wall = "1.9 mm"
length = "3 m"
[[stock]]
kind = "wire"
material = "copper"
diameter = "1.63 mm"
length = "50 m"
insulation_diameter = "2.82 mm"
insulation = "PVC insulation"
[cover]
stock = "43 mm Waste Pipe"
"""
    need = parse_need(text)
    assert need.cover == Cover("43 mm Waste Pipe") and need.cover_item() == need.stock[0]
    assert (need.stock[1].insulation_diameter, need.stock[1].insulation) == (2.82e-3, "PVC insulation")
    path = write_need(tmp_path / "need.toml", need)
    assert read_need(path) == need
    for old, new, word in (
        ('stock = "43 mm Waste Pipe"', 'stock = "drain"', "name one of '43 mm waste pipe'"),
        ('wall = "1.9 mm"\n', "", "needs its wall"),
        ('insulation = "PVC insulation"\n', "", "plastic is missing"),
        ('insulation_diameter = "2.82 mm"', 'insulation_diameter = "1.6 mm"', "not more than the metal"),
        ('insulation = "PVC insulation"', 'insulation = "brass"', "brass"),
        ('kind = "wire"', 'kind = "rod"', "a rod has no insulation"),
        ("[cover]", "[covers]", "did you mean 'cover'"),
    ):
        assert old in text
        with pytest.raises(ProjectError) as caught:
            parse_need(text.replace(old, new))
        assert word in caught.value.one_line()


def test_covers_that_cannot_be_are_refused() -> None:
    with pytest.raises(NeedError, match="no bore"):
        check_need(covered((144, 146), stock=(RODS, dataclasses.replace(PIPE, wall=21.5e-3))))
    with pytest.raises(NeedError, match="no pipe of the stock"):
        check_need(covered((144, 146), stock=(RODS,)))
    with pytest.raises(DesignError):
        pipe_of(covered((144, 146), stock=(RODS,)))
    assert pipe_of(need_for((144, 146))) is None


# ---- which metal wears what


@pytest.mark.parametrize(
    ("key", "names"),
    [
        ("dipole", {"upper arm", "lower arm"}),
        ("ground-plane", {"rod"}),
        ("sheet-monopole", {"rod"}),
        ("disc-ground-plane", {"rod"}),
    ],
)
def test_the_radiating_rods_stand_in_the_pipe(key: str, names: set[str]) -> None:
    sheet = StockItem("sheet", "brass", "sheet", 2, width=1.2, length=1.2, thickness=1e-3)
    design = standing(key, covered((144, 146), stock=(RODS, PIPE, sheet)))
    wearing = {rod.name: rod.coating for rod in design.structure().rods if rod.coating is not None}
    assert set(wearing) - {"pin"} == names
    row = plastic("PVC")
    for coating in wearing.values():
        assert coating is not None
        assert coating == Coating(pytest.approx(19.6e-3), pytest.approx(21.5e-3), row.permittivity, row.loss_tangent)


def test_what_does_not_fit_says_so() -> None:
    """Wide families, and a rod thicker than the bore."""
    need = covered((144, 146), stock=(RODS, TUBE, dataclasses.replace(PIPE, diameter=16e-3, wall=1e-3)))
    for kind in families():
        plans = kind.plans(need, Shelf(need), span_of(need.must_bands))
        for plan in plans:
            why = unfit(kind, plan, need)
            if not kind.in_pipe:
                assert f"a {kind.title} does not fit into the waste pipe" in why
            elif plan.metals[kind.in_pipe[0]].diameter > 14e-3:
                assert "15 mm of copper tube does not fit the waste pipe with its bore of 14 mm" in why
            else:
                assert why == ""
            assert (with_cover(kind, plan, need).cover is None) == bool(why)
    design = standing("cage-dipole", need)
    found = evaluate(design, need, need.must_bands, sensitivities=False)
    assert any("does not fit into the waste pipe" in caution.text for caution in found.cautions)
    assert found.cover is None


def test_an_owned_antenna_stays_as_it_is() -> None:
    owned = OwnedAntenna("old whip", "ground-plane", {"rod_length": 0.48})
    need = dataclasses.replace(covered((144, 146), stock=(WIRE, PIPE)), owned=(owned,))
    tasks, _ = tasks_for(need)
    for task in tasks:
        plan = task.design.plan
        assert (plan.cover is not None) == (bool(task.design.family.in_pipe) and not task.design.owned)
        if task.design.owned:
            assert all(conductor.insulation is None for conductor in plan.metals.values())


def test_insulated_wire_wears_its_insulation_everywhere() -> None:
    need = need_for((144, 146), stock=(WIRE,))
    for key in ("dipole", "ground-plane", "cage-dipole", "bicone", "discone"):
        rods = [rod for rod in design_for(key, need).structure().rods if rod.name != "pin"]
        assert rods and all(rod.coating is not None and rod.coating.outer_radius == 1.41e-3 for rod in rods), key


def test_two_layers_are_one_that_adds_them() -> None:
    """Potential across both layers: sum of (1 - 1/eps) ln(b2/b1), worked here by hand."""
    pipe = Pipe("p", "PVC", "PVC", 43e-3, 39.2e-3, 3.0, 0.02)
    wire = Coating(0.8e-3, 1.4e-3, 3.5, 0.05)
    both = layers(wire, pipe)
    assert both is not None
    assert layers(None, None) is None and layers(wire, None) == wire

    def part(of: Coating) -> complex:
        return (1 - 1 / (of.permittivity * (1 - 1j * of.loss_tangent))) * math.log(of.outer_radius / of.inner_radius)

    alone = layers(None, pipe)
    assert alone is not None
    assert part(both) == pytest.approx(part(wire) + part(alone), rel=1e-9)
    assert (both.inner_radius, both.outer_radius) == (0.8e-3, 21.5e-3)


# ---- what it does


def test_insulation_slows_a_wire_as_read() -> None:
    """14 AWG with 2.82 mm over its insulation: a quasi-static formula for wire over ground, posted by a list member, gives 0.972
    to 0.980 (it depends on height by 1 %); a dipole in free space must come within 1 %."""
    need = need_for((28.0, 28.3), stock=(WIRE,))
    design = design_for("dipole", need)
    bare = {role: dataclasses.replace(metal, insulation=None) for role, metal in design.plan.metals.items()}
    at = LOOK * 28.15e6
    found = [
        resonance(at, quick_impedance(each, at), near=28.15e6)
        for each in (design, dataclasses.replace(design, plan=dataclasses.replace(design.plan, metals=bare)))
    ]
    assert found[0] is not None and found[1] is not None
    assert 0.962 < found[0] / found[1] < 0.990


def test_a_pipe_lowers_the_resonance_as_it_is_thick_near_and_dense() -> None:
    """At 400 MHz: 4.5 % was measured once in 25 mm conduit, thickness and fit unknown: thin conduit with air does less, plastic
    that touches does more. Nothing at permittivity 1."""

    def part(diameter: float, wall: float, material: str = "PVC") -> float:
        pipe = dataclasses.replace(PIPE, diameter=diameter, wall=wall, material=material)
        rod = dataclasses.replace(RODS, diameter=2e-3)
        need = covered((400, 410), stock=(rod, pipe))
        effect = cover_effect(standing("dipole", need), need.must_bands)
        assert effect is not None and effect.shift < 0
        assert effect.part == pytest.approx(effect.shift / effect.bare)
        return effect.part

    thin, thick, touching = part(25e-3, 1.5e-3), part(21e-3, 2.8e-3), part(4e-3, 1e-3)
    assert touching < -0.045 < thick < thin < -0.005
    assert part(25e-3, 1.5e-3, "polypropylene") > thin
    need = covered((400, 410))
    design = standing("dipole", need)
    assert design.plan.cover is not None
    air = dataclasses.replace(design.plan.cover, permittivity=1.0, loss_tangent=0.0)
    same = cover_effect(dataclasses.replace(design, plan=dataclasses.replace(design.plan, cover=air)), need.must_bands)
    assert same is not None and abs(same.part) < 1e-9
    assert cover_effect(bare_design(design), need.must_bands) is None


def test_the_evaluation_tells_it() -> None:
    """Shift, assumption, note, remark on the pieces and the pipe itself in the cut list, from the shelf."""
    need = covered((156, 162), stock=(TUBE, PIPE, RODS))
    design = standing("dipole", need, plan=1)
    found = evaluate(design, need, need.must_bands, sensitivities=False)
    assert found.cover is not None and found.cover.label == "waste pipe"
    assert -0.02 < found.cover.part < -0.003
    assert any("waste pipe" in text and "trimming with the pipe on" in text for text in found.assumptions)
    note = next(c for c in found.cautions if "lowers the resonance" in c.text)
    assert f"{-found.cover.shift / 1e6:.2f} MHz" in note.text and f"{-100 * found.cover.part:.1f} %" in note.text
    arm = next(p for p in found.pieces if p.name == "arm")
    assert arm.remark.endswith("trim with the pipe on")
    pipe = next(p for p in found.pieces if p.shape == "pipe")
    assert (pipe.diameter, pipe.stock) == (43e-3, "waste pipe")
    assert pipe.length == design.values["total_length"] and pipe.allowance == PIPE_SPARE
    assert found.stock_suffices
    short = dataclasses.replace(need, stock=(TUBE, dataclasses.replace(PIPE, length=0.5), RODS))
    lacking = evaluate(design, short, short.must_bands, sensitivities=False)
    assert any("cover pipe: PVC 43 mm pipe" in text for text in lacking.missing)
    assert pieces(design.family, bare_design(design).plan, design.values) == design.family.pieces(
        design.plan, design.values
    )


# ---------------------------------------------------------------- a rod out of the middle of its pipe


def potential(radius: float, offset: float, inner: float, outer: float, permittivity: float, terms: int = 40) -> float:
    """Potential (times 2 pi eps0 over the charge per length) of a round rod at ``offset`` from the middle of a pipe, by cylindrical
    multipoles about rod and pipe, matched on all three circles by least squares: no images, and the rod has its thickness."""
    n = np.arange(1, terms + 1)
    turn = np.exp(1j * (np.arange(160) + 0.5) * np.pi / 160)
    cosine, one, none = (turn[:, None] ** n).real, np.ones((160, 1)), np.zeros((160, terms))

    def bore(z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        return -np.log(abs(z - offset)), (((z - offset) / radius)[:, None] ** -n).real, ((z / inner)[:, None] ** n).real

    # Columns: rod's potential, rod's multipoles, bore's constant and regular terms, plastic's constant, r^n, r^-n, outside's r^-n.
    line, poles, regular = bore(offset + radius * turn)
    rod = np.hstack([-one, poles, one, regular, 0 * one, none, none, none])
    z = inner * turn
    line_in, poles_in, regular_in = bore(z)
    low = cosine * (inner / outer) ** n
    face = np.hstack([0 * one, poles_in, one, regular_in, -one, -low, -cosine, none])
    slope_line = -(turn * inner / (z - offset)).real
    slope_poles = (-n * inner / radius * ((z - offset) / radius)[:, None] ** (-n - 1) * turn[:, None]).real
    flux = np.hstack(
        [
            0 * one,
            slope_poles,
            0 * one,
            n * regular_in,
            0 * one,
            -permittivity * n * low,
            permittivity * n * cosine,
            none,
        ]
    )
    high = cosine * (outer / inner) ** -n.astype(float)
    skin = np.hstack([0 * one, none, 0 * one, none, one, cosine, high, -cosine])
    leaving = np.hstack(
        [0 * one, none, 0 * one, none, 0 * one, permittivity * n * cosine, -permittivity * n * high, n * cosine]
    )
    right = [-line, -np.log(inner) / permittivity - line_in, -1 - slope_line]
    right += [np.full(160, np.log(outer) * (1 / permittivity - 1)), np.zeros(160)]
    found = np.linalg.lstsq(np.vstack([rod, face, flux, skin, leaving]), np.concatenate(right), rcond=1e-13)[0]
    return float(found[0])


@pytest.mark.parametrize(
    "rod, bore, outside", [(10.0, 17.0, 20.0), (10.0, 21.0, 25.0), (6.0, 21.0, 25.0), (2.4, 17.0, 20.0)]
)
@pytest.mark.parametrize("part", [0.0, 0.5, 0.8, 0.95])
def test_a_leaning_rod_is_no_worse_than_said(rod: float, bore: float, outside: float, part: float) -> None:
    """The factor against the solved cross-section: never below it, and above by no more than what is put on."""
    pipe = Pipe("conduit", "pvc", "PVC", outside * 1e-3, bore * 1e-3, 3.0, 0.01)
    offset = part * 0.5 * (bore - rod)

    def taken(at: float) -> float:
        bare, covered = (potential(0.5 * rod, at, 0.5 * bore, 0.5 * outside, eps) for eps in (1.0 + 1e-12, 3.0))
        return bare - covered

    assert taken(0.0) == pytest.approx((1 - 1 / 3.0) * math.log(outside / bore), rel=1e-6)
    exact = taken(offset) / taken(0.0)
    found = leaning_factor(pipe, radius=0.5e-3 * rod, offset=offset * 1e-3)
    print(rod, bore, part, exact, found)
    assert exact * (1 - 1e-6) <= found <= 1 + 1.15 * (exact - 1) + 1e-6


def test_lying_against_the_wall_is_the_worst_place() -> None:
    pipe = Pipe("conduit", "pvc", "PVC", 25e-3, 21e-3, 3.0, 0.01)
    assert leaning_factor(pipe, radius=1.2e-3) > leaning_factor(pipe, radius=1.2e-3, offset=8e-3) > 2.0
    assert leaning_factor(pipe, radius=10.5e-3) == 1.0
