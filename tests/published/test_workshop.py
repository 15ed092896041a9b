"""Bends and cones against handbook rules and plane geometry."""

from __future__ import annotations

import math

import pytest

from aerialwright.antennas.workpiece import ConeSheet, arc_length, bent, inside_radius_for, setback
from aerialwright.stock.metals import metal

INCH = 25.4e-3


@pytest.mark.parametrize("angle", [30.0, 45.0, 90.0, 135.0])
@pytest.mark.parametrize(("radius", "thickness"), [(0.125, 0.040), (0.16, 0.040), (0.1875, 0.064)])
def test_bend_allowance_of_aircraft_sheet(angle: float, radius: float, thickness: float) -> None:
    """(0.0173 R + 0.0078 T) N inches for N degrees [@navy-sheet-metal]: the neutral fibre at 0.45 of the thickness."""
    empirical = (0.0173 * radius + 0.0078 * thickness) * angle
    found = arc_length(angle=angle, inside_radius=radius, thickness=thickness, neutral=0.0078 / 0.01745)
    assert found == pytest.approx(empirical, rel=0.01)


@pytest.mark.parametrize(("factor", "lowest", "highest"), [(0.55, 0.33, 0.38), (0.64, 0.38, 0.41), (0.71, 0.42, 0.48)])
def test_straight_length_of_a_right_angle(factor: float, lowest: float, highest: float) -> None:
    """1.57 R + 0.55 / 0.64 / 0.71 T [@machinery] are neutral fibres of 0.35, 0.41 and 0.45: inside the table's ranges [@k-factor-table]."""
    neutral = factor / (0.5 * math.pi)
    assert lowest <= neutral <= highest
    straight = 1.57 * 2.0 + factor * 1.0
    assert arc_length(angle=90.0, inside_radius=2.0, thickness=1.0, neutral=neutral) == pytest.approx(
        straight, rel=1e-3
    )


def test_rod_of_3_2_mm_round_6_mm() -> None:
    """3.2 mm rod, 6 mm inside: 45 degrees 6.0 mm of arc against 6.3 by the sharp corner, 90 degrees 11.9 against 15.2 (plane geometry)."""
    for angle, arc, sharp in ((45.0, 6.0, 6.3), (90.0, 11.9, 15.2)):
        found = arc_length(angle=angle, inside_radius=6e-3, thickness=3.2e-3)
        assert found * 1e3 == pytest.approx(arc, abs=0.05)
        assert 2e3 * setback(angle=angle, inside_radius=6e-3, thickness=3.2e-3) == pytest.approx(sharp, abs=0.05)


def test_a_bent_rod_ends_where_the_sharp_one_would() -> None:
    """Walk the centre line of a rod with two arcs: its end lies on the end of the sharp polyline."""
    length, corners = 0.5, ((0.1, 60.0), (0.25, 30.0))
    bends, saved = bent(*corners, diameter=3.2e-3, material="brass")
    developed = length + sum(a.length for a in saved)
    x = y = heading = at = done = 0.0
    for bend in bends:
        arc = arc_length(angle=bend.angle, inside_radius=bend.inside_radius, thickness=3.2e-3)
        back = setback(angle=bend.angle, inside_radius=bend.inside_radius, thickness=3.2e-3)
        run = bend.start - at
        x, y, done = x + run * math.cos(heading), y + run * math.sin(heading), done + run + arc
        middle = bend.inside_radius + 1.6e-3
        turn = math.radians(bend.angle)
        x += middle * (math.sin(heading + turn) - math.sin(heading))
        y -= middle * (math.cos(heading + turn) - math.cos(heading))
        heading += turn
        at = bend.start + 2.0 * back
    rest = developed - done
    assert rest == pytest.approx(length - at)
    x, y = x + rest * math.cos(heading), y + rest * math.sin(heading)
    a, b = math.radians(60.0), math.radians(90.0)
    assert x == pytest.approx(0.1 + 0.15 * math.cos(a) + 0.25 * math.cos(b), abs=1e-12)
    assert y == pytest.approx(0.15 * math.sin(a) + 0.25 * math.sin(b), abs=1e-12)


@pytest.mark.parametrize(("angle", "sector"), [(50.0, 152.0), (60.0, 180.0), (70.0, 206.5), (90.0, 254.6)])
def test_sector_of_a_cone(angle: float, sector: float) -> None:
    """360 sin(A/2): 152, 180, 206.5 and 254.6 degrees for full angles of 50, 60, 70 and 90 (sheet-metal rule, plane geometry)."""
    half = math.radians(angle / 2)
    cone = ConeSheet(0.02, 0.02 + 0.6 * math.sin(half), 0.6, 0.01)
    assert cone.sector == pytest.approx(sector, abs=0.2)
    assert cone.outer_radius == pytest.approx(0.6 + 0.02 / math.sin(half))


@pytest.mark.parametrize("gores", [1, 2, 3, 5])
@pytest.mark.parametrize("angle", [40.0, 60.0, 80.0, 110.0])
def test_the_blank_holds_the_pattern(angle: float, gores: int) -> None:
    """Every point of a gore with its lap lies in the rectangle, and two opposite sides are touched."""
    half = math.radians(angle / 2)
    cone = ConeSheet(0.02, 0.02 + 0.6 * math.sin(half), 0.6, 0.012, gores)
    long, wide = cone.blank
    part = math.radians(cone.sector / gores)
    inner = cone.outer_radius - cone.slant
    points = []
    for k in range(401):
        turn = -part / 2 + part * k / 400
        points += [(r * math.cos(turn), r * math.sin(turn)) for r in (inner, cone.outer_radius)]
    # The lap: a strip along one edge, square to it.
    edge, side = part / 2, (-math.sin(part / 2), math.cos(part / 2))
    points += [
        (r * math.cos(edge) + 0.012 * side[0], r * math.sin(edge) + 0.012 * side[1]) for r in (inner, cone.outer_radius)
    ]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    assert max(xs) - min(xs) <= long + 1e-9
    assert max(ys) - min(ys) <= wide + 1e-9
    assert max(xs) - min(xs) >= long - 0.013 and max(ys) - min(ys) >= wide - 0.013


def test_softer_metal_bends_tighter() -> None:
    """Annealed copper about one thickness, hard brass and bronze two, 6061-T6 three (workshop tables, from memory)."""
    order = ["copper", "brass", "aluminium"]
    radii = [inside_radius_for(name, diameter=3.2e-3) for name in order]
    assert radii == sorted(radii) and len(set(radii)) == 3
    assert inside_radius_for("copper", diameter=15e-3, hollow=True) == pytest.approx(45e-3)


def test_galvanic_order() -> None:
    """Noble to active: silver, copper, brass, solder, steel, aluminium, zinc [@trade-metals], passive metals left out."""
    order = ["silver", "copper", "brass", "solder", "steel", "aluminium", "zinc"]
    volts = [metal(name).potential for name in order]
    assert volts == sorted(volts, reverse=True)
