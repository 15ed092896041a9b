"""Stored designs: what is read back is the very design, and computes to the very sweep."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from aerialwright.base.errors import AerialwrightError
from aerialwright.design.choose import tasks_for
from aerialwright.design.model import Design
from aerialwright.design.quick import quick_impedance
from aerialwright.project.designs import design_text, read_design
from aerialwright.project.needs import read_need

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/need.toml"))


def every_design() -> list[Design]:
    """First guesses of everything the example needs could be answered with: mesh, insulation, pipes, coax ends, owned ones."""
    return [task.design for path in EXAMPLES for task in tasks_for(read_need(path))[0]]


def test_every_design_of_the_examples_survives(tmp_path: Path) -> None:
    designs = every_design()
    assert len(designs) > 20
    for design in designs:
        path = tmp_path / "one.toml"
        path.write_text(design_text(design, bands=("a", "b")), encoding="utf-8")
        stored = read_design(path)
        assert stored.design == design
        assert stored.bands == ("a", "b")
        assert stored.design.structure() == design.structure()
    assert any(design.plan.cover for design in designs) and any(design.owned for design in designs)
    assert any(conductor.mesh for design in designs for conductor in design.plan.metals.values())


def test_it_computes_to_the_same_number(tmp_path: Path) -> None:
    design = next(d for d in every_design() if d.family_key == "ground-plane")
    design = design.with_values(**{design.family.main_length: 0.4713000000000001})
    path = tmp_path / "one.toml"
    path.write_text(design_text(design, bands=()), encoding="utf-8")
    at = np.array([150e6, 160e6])
    assert np.array_equal(quick_impedance(read_design(path).design, at), quick_impedance(design, at))


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("ground-plane", "ground-plan", "ground-plan"),
        ('socket = "', 'socket = "Z', "connector"),
        (" mm", " mmm", "mmm"),
        ("horizontal = false", "horizontal = 3", "horizontal"),
        ("[held]", "[held]\nradials = 'x'\n", "radials"),
        ("permeability", "permeabilit", "relative_permeability"),
        ("[metal.radial]", "[metal.spoke]", "lacks the metal 'radial'"),
    ],
)
def test_a_damaged_file_is_refused(tmp_path: Path, old: str, new: str, named: str) -> None:
    design = next(d for d in every_design() if d.family_key == "ground-plane")
    text = design_text(design, bands=("a",))
    assert old in text
    path = tmp_path / "one.toml"
    path.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(AerialwrightError) as caught:
        read_design(path)
    assert named in caught.value.one_line()
