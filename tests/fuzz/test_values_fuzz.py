"""Random dimensions and random metal: whatever is asked, the answer is a finite one or an error a person can mend.

Each example must also end: five seconds are far beyond what any of these small systems needs.
"""

from __future__ import annotations

import math
import time
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from small_needs import CLOTH, RODS, SHEET, TUBE, design_for, need_for, plans_for

from aerialwright.antennas.catalogue import families
from aerialwright.base.errors import AerialwrightError
from aerialwright.design.model import Design
from aerialwright.design.quick import quick_impedance
from aerialwright.design.tune import tune
from aerialwright.need.model import Band, Limits, StockItem
from aerialwright.solution.solve import solve
from aerialwright.structure.model import ApertureFeed, Mesh, Rod, RodFeed, Structure, Surface

LONGEST = 60.0
SHELF = (RODS, TUBE, SHEET, CLOTH)
ROOF = "metal roof"
KEYS = [kind.key for kind in families()]
QUIET = settings(
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)


@pytest.fixture(scope="module", autouse=True)
def compiled() -> None:
    """Kernels compiled before any clock runs."""
    for key in KEYS:
        need = need_for((144, 146), stock=SHELF, site=ROOF)
        solve(design_for(key, need).structure(), np.array([144e6, 145e6]))
    solve(Structure("pair", (Rod("a", ((0, 0, -0.5), (0, 0, 0.5)), 1e-3), Rod("b", ((0.3, 0, -0.5), (0.3, 0.1, 0.5)), 1e-3)), (),
                    RodFeed("a", 0.5, 0.01)), np.array([144e6, 145e6]))  # fmt: skip


def outcome(work: Any) -> Any:
    """Result of ``work()``, or None for an error with a usable line; anything else escapes and fails."""
    begun = time.perf_counter()
    try:
        found = work()
    except AerialwrightError as fault:
        line = fault.one_line()
        assert line and "\n" not in line and "Traceback" not in line
        assert fault.where or fault.mend, line
        event(f"refused: {type(fault).__name__}")
        found = None
    assert time.perf_counter() - begun < LONGEST
    return found


def sound(impedance: np.ndarray) -> None:
    assert np.all(np.isfinite(impedance))
    # What radiates takes power (a centimetre of rod at 100 MHz takes next to none).
    assert np.all(impedance.real > 0)


@st.composite
def designs(draw: st.DrawFn) -> Design:
    """A family at its first guess with some dimensions replaced by something else, mostly inside the limits."""
    key = draw(st.sampled_from(KEYS))
    low = draw(st.sampled_from([30.0, 118.0, 144.0, 430.0, 1240.0]))
    need = need_for((low, low * draw(st.sampled_from([1.01, 1.3]))), stock=SHELF, site=ROOF)
    design = design_for(key, need, plan=draw(st.integers(0, len(plans_for(key, need)) - 1)))
    changes: dict[str, float] = {}
    for parameter in draw(st.lists(st.sampled_from(design.family.parameters), max_size=4, unique_by=lambda p: p.key)):
        if parameter.kind == "count":
            value = float(draw(st.integers(int(parameter.lowest) - 1, int(parameter.highest) + 1)))
        else:
            near = design.values[parameter.key]
            value = draw(
                st.one_of(
                    st.floats(0.3 * near, 3.0 * near),
                    st.floats(parameter.lowest, min(parameter.highest, 4.0 if parameter.kind == "length" else 150.0)),
                    st.sampled_from(
                        [parameter.lowest, parameter.highest, 0.0, -near, math.nan, math.inf, 1e300, 5e-324]
                    ),
                )
            )
        changes[parameter.key] = value
    return design.with_values(**changes)


@given(design=designs())
@QUIET
def test_random_dimensions(design: Design) -> None:
    reach = sum(abs(v) for v in design.values.values() if math.isfinite(v) and v < 10.0)
    frequency = 100e6 if reach > 4.0 else 300e6
    found = outcome(lambda: quick_impedance(design, np.array([frequency])))
    if found is not None:
        sound(found)
        structure = design.structure()
        width, height = design.family.size(structure)
        assert math.isfinite(width) and math.isfinite(height)
        for piece in outcome(lambda: design.family.pieces(design.plan, design.values)):
            assert piece.length is None or (math.isfinite(piece.length) and piece.length > 0), piece
            assert piece.quantity > 0
        assert design.family.joints(design.plan, design.values) > 0


wild = st.one_of(st.floats(-1.5, 1.5), st.sampled_from([0.0, 1e-6, 5e-4, 1.0, -1.0, math.nan, math.inf, 1e9]))
tame = st.one_of(st.floats(-1.0, 1.0).map(lambda v: round(v, 2)), st.sampled_from([0.0, 0.25]))
thickness = st.floats(2e-4, 5e-3)
odd_thickness = st.sampled_from([0.0, -1e-3, math.nan, 0.2, 1e-9])


@st.composite
def rods(draw: st.DrawFn, name: str, hostile: bool) -> Rod:
    at = st.one_of(tame, wild) if hostile else tame
    points = draw(st.lists(st.tuples(at, at, at), min_size=1 if hostile else 2, max_size=4, unique=not hostile))
    radius = draw(st.one_of(thickness, odd_thickness) if hostile else thickness)
    copies = draw(st.sampled_from([1, 1, 2, 3, 4, 6] + ([0, -1, 10**6] if hostile else [])))
    return Rod(name, tuple(points), radius, copies)


@st.composite
def surfaces(draw: st.DrawFn, name: str, hostile: bool) -> Surface:
    at = st.one_of(tame, wild) if hostile else tame
    profile = draw(st.lists(st.tuples(at.map(abs), at), min_size=1 if hostile else 2, max_size=5, unique=not hostile))
    meshes: list[Mesh | None] = [None, None, Mesh(12.7e-3, 1e-3)]
    if hostile:
        meshes += [Mesh(0.0, 1e-3), Mesh(1e-3, 5e-3)]
    return Surface(
        name,
        tuple(profile),
        None,
        draw(st.sampled_from([1e-3, 0.0, -1.0] if hostile else [1e-3])),
        draw(st.sampled_from(meshes)),
    )


@st.composite
def structures(draw: st.DrawFn) -> Structure:
    """One rod that can be fed and random metal round it; in the hostile half everything may be nonsense."""
    hostile = draw(st.booleans())
    some = [draw(rods(f"rod {i}", hostile)) for i in range(draw(st.integers(0, 2)))]
    sheets = [draw(surfaces(f"sheet {i}", hostile)) for i in range(draw(st.integers(0, 2)))]
    half = draw(st.sampled_from([0.1, 0.4, 0.7]))
    lift = draw(st.sampled_from([0.0, half, 1.0]))
    some.insert(0, Rod("fed", ((0.0, 0.0, lift - half), (0.0, 0.0, lift + half)), 1.5e-3))
    feed: ApertureFeed | RodFeed = RodFeed("fed", half, 0.01)
    if hostile and draw(st.booleans()):
        rod = draw(st.sampled_from([rod.name for rod in some] + ["nowhere"]))
        feed = RodFeed(
            rod, draw(st.sampled_from([0.0, 0.1, 0.9, -1.0, math.nan])), draw(st.sampled_from([0.005, 0.02, 0.0, 9.0]))
        )
    elif hostile and draw(st.booleans()):
        ends = [point for sheet in sheets for point in sheet.profile] + [(1e-3, 0.0), (5e-3, 0.0), (5e-3, 0.01)]
        feed = ApertureFeed(draw(st.sampled_from(ends)), draw(st.sampled_from(ends)))
    ground = draw(st.sampled_from(["none", "none", "perfect"] + (["sea"] if hostile else [])))
    mode = draw(st.sampled_from([0, 0, 1, 2] if hostile else [0]))
    return Structure("random", tuple(some), tuple(sheets), feed, ground, mode)


@given(structure=structures())
@settings(parent=QUIET, max_examples=250)
def test_random_metal(structure: Structure) -> None:
    found = outcome(lambda: solve(structure, np.array([90e6, 100e6]), check=False).sweep.impedance)
    if found is not None:
        sound(found)
        event("solved")


@st.composite
def dipoles_and_a_neighbour(draw: st.DrawFn) -> Structure:
    """Sound metal with one rod more, anywhere: touching, crossing, inside, or far away."""
    half = draw(st.floats(0.2, 0.6))
    point = st.tuples(*(st.floats(-0.7, 0.7) for _ in range(3)))
    start = draw(
        st.one_of(point, st.just((0.0, 0.0, half)), st.just((0.0, 0.0, 0.3 * half)), st.just((2e-3, 0.0, 0.0)))
    )
    other = Rod("other", (start, draw(point)), draw(st.floats(2e-4, 8e-3)), draw(st.sampled_from([1, 1, 2, 4])))
    fed = Rod("fed", ((0.0, 0.0, -half), (0.0, 0.0, half)), draw(st.floats(5e-4, 8e-3)))
    return Structure("pair", (fed, other), (), RodFeed("fed", half, 0.01))


@given(structure=dipoles_and_a_neighbour())
@settings(parent=QUIET, max_examples=80)
def test_a_rod_anywhere_beside_a_dipole(structure: Structure) -> None:
    found = outcome(lambda: solve(structure, np.array([140e6, 150e6]), check=False).sweep.impedance)
    if found is not None:
        sound(found)


@given(
    frequency=st.lists(
        st.one_of(st.floats(1e5, 3e9), st.sampled_from([0.0, -1e6, math.nan, math.inf, 1e12, 145e6])), max_size=4
    )
)
@settings(parent=QUIET, max_examples=60)
def test_random_frequencies(frequency: list[float]) -> None:
    structure = design_for("dipole", need_for((144, 146))).structure()
    found = outcome(lambda: solve(structure, np.array(frequency), check=False).sweep.impedance)
    if found is not None:
        assert np.all(np.isfinite(found))
        assert len(found) == len(frequency)


@given(
    key=st.sampled_from(KEYS),
    low=st.floats(20.0, 3000.0),
    width=st.floats(0.0, 1.0),
    largest=st.one_of(st.floats(0.05, 5.0), st.just(1e-4)),
    worst=st.floats(1.01, 5.0),
    diameter=st.floats(2e-4, 30e-3),
    shorten=st.booleans(),
)
@settings(parent=QUIET, max_examples=25)
def test_tuning_ends_for_any_need(
    key: str, low: float, width: float, largest: float, worst: float, diameter: float, shorten: bool
) -> None:
    stock = (StockItem("rod", "brass", "", 9, diameter=diameter, length=2.0), SHEET)
    need = need_for((low, low * (1.001 + width)), stock=stock, site=ROOF)
    plans = plans_for(key, need)
    if not plans:
        return
    found = outcome(
        lambda: tune(
            design_for(key, need), (Band("asked", low * 1e6, low * 1.001e6 + low * width * 1e6),), reference=50.0,
            limits=Limits(largest_size=largest, worst_swr=worst), shorten_only=shorten, most_evaluations=12,
        )
    )  # fmt: skip
    if found is not None:
        assert 0.0 <= found.worst_reflection < 1.0
        for name, value in found.design.values.items():
            parameter = found.design.family.parameter(name)
            assert parameter.lowest - 1e-9 <= value <= parameter.highest + 1e-9, name
