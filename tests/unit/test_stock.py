"""The shelf's tables: complete rows, known sources, names as people write them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import nnls

from aerialwright.base.errors import AerialwrightError
from aerialwright.base.sources import register
from aerialwright.stock.cables import Cable, cable, cables
from aerialwright.stock.connectors import connector, connectors
from aerialwright.stock.metals import corrosion_voltage, metal, metals
from aerialwright.stock.plastics import plastic, plastics
from aerialwright.stock.tables import StockError


def test_every_row_has_a_registered_source_and_says_how_it_was_known() -> None:
    for row in (*metals(), *cables(), *connectors(), *plastics()):
        assert row.source in register(), row
        assert row.basis.startswith(("read", "memory", "holes read", "thread and")), row
        assert row.title


@pytest.mark.parametrize(
    ("spelling", "key"),
    [
        ("copper", "copper"),
        ("Aluminum", "aluminium"),
        ("hardware cloth", "galvanised steel"),
        ("STAINLESS", "stainless steel"),
        ("phosphor-bronze", "phosphor bronze"),
        ("6063-T6", "aluminium 6063"),
    ],
)
def test_metals_by_the_names_people_use(spelling: str, key: str) -> None:
    assert metal(spelling).key == key


def test_names_of_the_other_tables() -> None:
    assert cable("rg58") is cable("RG-58")
    assert cable("RG 213").impedance == 50.0
    assert connector("so-239").key == "UHF"
    assert plastic("pp").key == "polypropylene"


@pytest.mark.parametrize(
    ("find", "name", "near"),
    [
        (metal, "coper", "copper"),
        (cable, "RG-85", "RG-58|RG-8X"),
        (connector, "bnc2", "BNC"),
        (plastic, "polypropilene", "polypropylene"),
    ],
)
def test_unknown_names_get_the_nearest(find: object, name: str, near: str) -> None:
    with pytest.raises(StockError, match=f"did you mean '({near})'"):
        find(name)  # type: ignore[operator]


@pytest.mark.parametrize("name", ["", "unobtainium", "x" * 10_000, "\x1b[31m", "ǌ"])
def test_nonsense_names_are_one_line_errors(name: str) -> None:
    for find in (metal, cable, connector, plastic):
        with pytest.raises(AerialwrightError) as caught:
            find(name)
        assert len(caught.value.one_line()) < 400
        assert caught.value.one_line().isprintable()


@pytest.mark.parametrize("row", cables(), ids=lambda row: row.key)
def test_cable_fit_is_the_least_squares_fit_of_its_points(row: Cable) -> None:
    """The two coefficients follow from the points by relative least squares with no negative term."""
    points = np.array(row.loss_points)
    design = np.c_[np.sqrt(points[:, 0]), points[:, 0]] / points[:, 1:]
    fitted, _ = nnls(design, np.ones(len(points)))
    assert (row.k1, row.k2) == pytest.approx(tuple(fitted), abs=6e-5)
    for megahertz, loss in row.loss_points:
        assert row.loss_per_metre(megahertz * 1e6) * 100.0 == pytest.approx(loss, rel=0.07)


def test_cables_are_physical() -> None:
    for row in cables():
        assert 0.6 < row.velocity_factor < 1.0
        assert row.bend_radius == pytest.approx(5.0 * row.outer_diameter, abs=1e-6)
    thin_to_thick = [
        cable(key).loss_per_metre(450e6)
        for key in ("RG-174", "RG-58", "RG-8X", "RG-213", "400-class", "half-inch corrugated")
    ]
    assert thin_to_thick == sorted(thin_to_thick, reverse=True)


def test_connectors_fit_together() -> None:
    for row in connectors():
        assert 0.0 < row.wire_limit < row.pin_diameter * 1.2
        assert row.pin_diameter < row.aperture_diameter < row.shell_diameter < row.flange_side
        assert row.hole_square == 0.0 or row.hole_square + row.hole_diameter < row.flange_side


@pytest.mark.parametrize("key", ["N", "BNC", "SMA"])
def test_matched_sockets_have_a_50_ohm_aperture_in_ptfe(key: str) -> None:
    """Round the cup in PTFE (er 2.07 [@pozar]) the listed aperture is 50 ohm within what a calliper shows."""
    from aerialwright.lines.coax import coaxial_impedance

    row = connector(key)
    z0 = coaxial_impedance(inner_diameter=row.pin_diameter, outer_diameter=row.aperture_diameter, permittivity=2.07)
    assert z0 == pytest.approx(50.0, abs=1.5)


def test_corrosion_order() -> None:
    """Copper on zinc and on aluminium are the pairs to keep apart [@trade-metals]."""
    assert corrosion_voltage("copper", "zinc") > corrosion_voltage("copper", "aluminium") > 0.3
    assert corrosion_voltage("copper", "brass") < 0.1
    assert corrosion_voltage("copper", "copper") == 0.0
