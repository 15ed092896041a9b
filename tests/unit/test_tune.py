"""Tuning: what comes out keeps what was asked when the finer mesh of the report looks at it, and can be cut and measured."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from small_needs import CLOTH, RODS, TUBE, design_for, need_for

from aerialwright.antennas.family import Plan
from aerialwright.base.constants import c
from aerialwright.base.errors import Cancelled, DesignError, StructureError
from aerialwright.design.model import Design, span_of, tuning_frequencies
from aerialwright.design.tune import Tuned, tune
from aerialwright.lines.mismatch import swr
from aerialwright.need.model import Band, Limits, Need
from aerialwright.solution.records import FloatArray
from aerialwright.solution.solve import solve

ROOF = "metal roof"
#: (family, line impedance [ohm], SWR asked). A thin dipole in free space has 73 ohm (handbook), the tuner may shorten it;
#: a rod over a very large sheet has half of that, 36 ohm, and nothing but its length to tune: 75 / 36 is 2.1.
ASKED = [
    ("ground-plane", 50.0, 1.5),
    ("ground-plane", 75.0, 2.0),
    ("disc-ground-plane", 50.0, 2.5),
    ("sheet-monopole", 50.0, 2.0),
    ("sheet-monopole", 75.0, 2.6),
    ("dipole", 50.0, 2.0),
    ("dipole", 75.0, 1.6),
    ("cage-dipole", 50.0, 1.5),
    ("cage-dipole", 75.0, 1.5),
]
BANDS = [(69.9, 70.5), (144.0, 146.0), (156.0, 162.05), (430.0, 440.0)]


def asked_need(band: tuple[float, float], reference: float, worst: float) -> Need:
    return need_for(band, stock=(RODS, CLOTH), reference=reference, worst_swr=worst, site=ROOF)


def tuned_for(key: str, need: Need, **changes: float) -> Tuned:
    design = design_for(key, need, **changes)
    return tune(design, need.must_bands, reference=need.feed_lines[0].impedance, limits=need.limits)


def resolved_swr(design: Design, bands: tuple[Band, ...], reference: float) -> FloatArray:
    """SWR on the mesh of the report, at more frequencies than the tuner saw."""
    span = span_of(bands)
    at = np.linspace(span.low, span.high, 5) if len(bands) == 1 else tuning_frequencies(bands)
    return swr(solve(design.structure(), at, check=False).sweep.impedance, reference=reference)


@pytest.mark.parametrize("band", BANDS, ids=lambda band: f"{band[0]:.0f}MHz")
@pytest.mark.parametrize(("key", "reference", "worst"), ASKED)
def test_a_tuned_antenna_keeps_the_asked_swr(
    key: str, reference: float, worst: float, band: tuple[float, float]
) -> None:
    need = asked_need(band, reference, worst)
    found = tuned_for(key, need)
    family, values = found.design.family, found.design.values
    assert float(resolved_swr(found.design, need.must_bands, reference).max()) <= worst
    for name in family.tuned(found.design.plan):
        step = family.parameter(name).step
        assert values[name] / step == pytest.approx(round(values[name] / step), abs=1e-6), name
    for name, value in found.design.plan.fixed.items():
        assert name.startswith("_") or values[name] == value, "fixed things stay"
    assert 1 <= found.evaluations <= 80


def test_a_thin_dipole_comes_out_near_the_handbook_length() -> None:
    """0.47 to 0.485 wavelengths for thin wire at 75 ohm (handbook tables of length over diameter, from memory)."""
    need = asked_need((144.0, 146.0), 75.0, 2.0)
    length = tuned_for("dipole", need).design.values["total_length"]
    assert 0.465 < length * 145e6 / c < 0.49


def test_fat_arms_come_out_shorter_than_thin_ones() -> None:
    """The thicker, the shorter (every handbook)."""
    need = need_for((144, 146), stock=(RODS, TUBE), reference=75.0)
    lengths = [
        tune(design_for("dipole", need, plan=i), need.must_bands, reference=75.0, limits=need.limits).design.values[
            "total_length"
        ]
        for i in (0, 1)
    ]
    assert lengths[1] < lengths[0] - 10e-3


@pytest.mark.parametrize("start", [0.85, 1.0, 1.15])
def test_the_start_hardly_matters(start: float) -> None:
    """One minimum: from a rod cut too short or too long the tuner ends at the same dipole."""
    need = asked_need((144.0, 146.0), 75.0, 2.0)
    right = tuned_for("dipole", need).design.values["total_length"]
    found = tuned_for("dipole", need, total_length=start * right).design.values["total_length"]
    assert found == pytest.approx(right, abs=6e-3)


@pytest.mark.parametrize("key", ["ground-plane", "dipole", "discone"])
@pytest.mark.parametrize("odd", [0.0, 0.0003, 0.0007])
@pytest.mark.parametrize("long", [1.0, 1.2])
def test_shorten_only_never_lengthens(key: str, odd: float, long: float) -> None:
    need = need_for((144, 146))
    start = design_for(key, need)
    lengths = [p.key for p in start.family.parameters if p.kind == "length" and p.tuned]
    start = start.with_values(**{name: long * start.values[name] + odd for name in lengths})
    found = tune(start, need.must_bands, reference=50.0, limits=need.limits, shorten_only=True).design
    for name, value in found.values.items():
        parameter = start.family.parameter(name)
        if name in lengths and name != "gap":
            assert value <= start.values[name] + 1e-12, name
        else:
            assert value == start.values[name], f"{name}: {parameter.label} cannot be changed with a saw"


def test_an_antenna_that_is_too_long_is_cut_to_the_band() -> None:
    need = need_for((144, 146), reference=75.0)
    start = design_for("dipole", need, total_length=1.2)
    found = tune(start, need.must_bands, reference=75.0, limits=need.limits, shorten_only=True).design
    assert float(resolved_swr(found, need.must_bands, 75.0).max()) < 1.6
    assert float(resolved_swr(start, need.must_bands, 75.0).max()) > 4.0


@pytest.mark.parametrize(
    ("key", "largest"),
    [
        ("dipole", 0.90),
        ("ground-plane", 0.70),
        ("cage-dipole", 0.80),
        ("discone", 0.55),
        ("bicone", 0.60),
        ("ground-plane", 0.60),
        ("bicone", 0.52),
        ("dipole", 0.75),
        ("discone", 0.48),
    ],
)
def test_the_largest_size_is_kept(key: str, largest: float) -> None:
    """Each of these would be larger if it were free."""
    free = need_for((144, 146))
    # A match that cannot be had inside the size must not be bought with size.
    tight = dataclasses.replace(free, limits=Limits(largest_size=largest, worst_swr=1.2))
    start = design_for(key, free)
    for need in (free, tight):
        found = tune(start, need.must_bands, reference=50.0, limits=need.limits).design
        side = max(found.family.size(found.structure()))
        assert side <= need.limits.largest_size * 1.0005, key


def test_wishes_pull_only_a_little() -> None:
    need = need_for((144, 146), wish=(160, 164), reference=75.0)
    wish = (need.bands[1],)
    alone = tuned_for("dipole", need).design
    pulled = tune(design_for("dipole", need), need.must_bands, reference=75.0, limits=need.limits, wishes=wish).design
    assert pulled.values["total_length"] < alone.values["total_length"]
    assert resolved_swr(pulled, wish, 75.0).max() < resolved_swr(alone, wish, 75.0).max()
    assert resolved_swr(pulled, need.must_bands, 75.0).max() < 2.5


@pytest.mark.parametrize("call", [1, 3])
def test_cancelling_stops_at_the_next_evaluation(call: int) -> None:
    need = need_for((144, 146))
    calls = 0

    def stop() -> None:
        nonlocal calls
        calls += 1
        if calls == call:
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        tune(design_for("dipole", need), need.must_bands, reference=50.0, limits=need.limits, cancelled=stop)
    assert calls == call


def test_what_cannot_be_built_at_all_is_a_fault() -> None:
    """Radials that start inside the socket's body: no length of anything mends that."""
    need = need_for((144, 146))
    design = design_for("ground-plane", need)
    plan: Plan = dataclasses.replace(design.plan, fixed={**design.plan.fixed, "hub_radius": 4e-3})
    broken = Design("ground-plane", plan, {**design.values, "hub_radius": 4e-3})
    with pytest.raises((DesignError, StructureError)) as caught:
        tune(broken, need.must_bands, reference=50.0, limits=need.limits)
    assert "hub" in caught.value.one_line()
