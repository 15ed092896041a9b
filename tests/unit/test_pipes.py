"""Pipe that is called by a size it does not have, against lists of the sizes.

US plastic pipe: outside diameters of ASTM D1785 as listed at ix23.com (0.840, 1.050, 1.315, 1.660, 1.900, 2.375 in). US copper water
tube: ASTM B88, nominal plus 1/8 in, as told at sizes.com (1/2 in is 15.88 mm). European conduit (EN 61386) is called by its outside
diameter, from memory.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from click.testing import CliRunner
from small_needs import need_for

from aerialwright.app.cli import main
from aerialwright.need.check import stock_notes
from aerialwright.need.model import StockItem
from aerialwright.stock.pipes import sold_as

INCH = 25.4e-3


@pytest.mark.parametrize(
    ("nominal", "outside_mm"), [(0.5, 21.34), (0.75, 26.67), (1.0, 33.40), (1.25, 42.16), (1.5, 48.26), (2.0, 60.33)]
)
def test_plastic_pipe_by_its_name(nominal: float, outside_mm: float) -> None:
    found = sold_as(kind="pipe", material="PVC", diameter=nominal * INCH)
    assert found is not None and found.outside * 1e3 == pytest.approx(outside_mm, abs=0.01)
    assert sold_as(kind="pipe", material="PVC", diameter=found.outside) is None, "what was measured is not doubted"


@pytest.mark.parametrize("nominal", [0.375, 0.5, 0.75, 1.0])
def test_copper_water_tube_is_an_eighth_thicker_than_its_name(nominal: float) -> None:
    found = sold_as(kind="tube", material="copper", diameter=nominal * INCH)
    assert found is not None and found.outside == pytest.approx((nominal + 0.125) * INCH)


@pytest.mark.parametrize(
    ("kind", "material", "millimetres"),
    [
        ("pipe", "PVC", 25.0),
        ("pipe", "PVC", 20.0),
        ("pipe", "PVC", 43.0),
        ("tube", "aluminium", 12.7),
        ("rod", "copper", 12.7),
    ],
)
def test_what_is_called_by_its_diameter_is_not_doubted(kind: str, material: str, millimetres: float) -> None:
    assert sold_as(kind=kind, material=material, diameter=millimetres * 1e-3) is None


def test_the_need_is_told(tmp_path: Path) -> None:
    pipe = StockItem("pipe", "PVC", "grey pipe", diameter=0.75 * INCH, wall=2e-3, length=2.0)
    (caution,) = stock_notes(dataclasses.replace(need_for((144, 146)), stock=(pipe,)))
    assert "grey pipe" in caution.text and "26.7 mm" in caution.text and "callipers" in caution.remedy
    folder = tmp_path / "mine"
    assert CliRunner().invoke(main, ["new", str(folder)]).exit_code == 0
    text = (folder / "need.toml").read_text("utf-8")
    extra = '\n[[stock]]\nkind = "tube"\nmaterial = "copper"\ndiameter = "1/2 in"\nlength = "1 m"\n'
    (folder / "need.toml").write_text(text + extra, "utf-8")
    done = CliRunner().invoke(main, ["check", str(folder)])
    assert done.exit_code == 0 and "15.9 mm" in done.output
