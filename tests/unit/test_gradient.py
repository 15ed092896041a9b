"""Gradients of the impedance by build dimensions, against answers of antennas really changed."""

from __future__ import annotations

import numpy as np
import pytest
from small_needs import design_for, need_for

from aerialwright.base.errors import DesignError
from aerialwright.design.gradient import impedance_gradient
from aerialwright.design.model import Design
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare

FREQUENCY = np.array([140e6, 146e6, 152e6])


def first(key: str) -> Design:
    return design_for(key, need_for((140, 152)))


def fine(design: Design) -> np.ndarray:
    system = prepare(
        design.structure(), top_frequency=FREQUENCY.max(), settings=MeshSettings(end_fraction=0.3, order=4)
    )
    return np.array([system.port_factor / system.solve(float(f)).admittance for f in FREQUENCY])


@pytest.mark.parametrize("key", ["ground-plane", "dipole", "cage-dipole", "bicone", "discone"])
def test_gradient_is_the_change_of_a_changed_antenna(key: str) -> None:
    """2 mm or 2 degrees either way on a finer mesh of its own: the same change within 4 % and what that mesh's steps leave."""
    design = first(key)
    _, gradient = impedance_gradient(design, FREQUENCY)
    tuned = design.family.tuned(design.plan)
    assert set(tuned) <= set(gradient)
    for name in tuned:
        step = 2.0 if design.family.parameter(name).kind == "angle" else 2e-3
        value = design.values[name]
        high, low = (fine(design.with_values(**{name: value + sign * step})) for sign in (1, -1))
        true = (high - low) / (2 * step)
        print(key, name, np.abs(gradient[name] - true) / np.abs(true))
        assert np.all(np.abs(gradient[name] - true) < 0.04 * np.abs(true) + 0.05 / step)


def test_a_count_has_no_gradient() -> None:
    with pytest.raises(DesignError, match="count"):
        impedance_gradient(first("ground-plane"), FREQUENCY, keys=("radial_count",))
