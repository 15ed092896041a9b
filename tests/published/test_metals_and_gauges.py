"""Conductivities, wire gauges and mesh against published tables."""

from __future__ import annotations

import math

import numpy as np
import pytest

from aerialwright.base.constants import mu0
from aerialwright.base.errors import QuantityError
from aerialwright.base.units import parse_length
from aerialwright.engine.loss import rod_impedance
from aerialwright.need.check import NOISE_CLASSES
from aerialwright.stock.metals import metal
from aerialwright.structure.model import Metal

IACS = 58.0e6


def test_annealed_copper() -> None:
    """1.7241e-8 ohm m = 100 % IACS, within 0.01e-8 [@iec-28]."""
    assert 1.0 / metal("copper").conductivity == pytest.approx(1.7241e-8, abs=0.01e-8)


@pytest.mark.parametrize(
    ("name", "percent", "within"), [("aluminium 1350", 61.8, 1.0), ("6061", 43.0, 1.0), ("6063", 53.0, 1.0)]
)
def test_aluminium_alloys(name: str, percent: float, within: float) -> None:
    """% IACS: 1350-O read in [@matmake-iacs]; the two tube alloys are from memory."""
    assert metal(name).conductivity / IACS * 100.0 == pytest.approx(percent, abs=within)


def test_brass_stainless_and_steel() -> None:
    """Brass 70/30 28 % IACS, 304 0.72 micro-ohm m, plain steel 0.10 to 0.18: [@kaye-laby], memory, 10 %."""
    assert metal("brass").conductivity == pytest.approx(0.28 * IACS, rel=0.10)
    assert 1.0 / metal("stainless").conductivity == pytest.approx(0.72e-6, rel=0.10)
    assert 0.10e-6 <= 1.0 / metal("steel").conductivity <= 0.18e-6
    assert metal("steel").relative_permeability > 10.0


@pytest.mark.parametrize(
    ("name", "conductivity"),
    [("silver", 62.9e6), ("zinc", 17e6), ("tin", 9.2e6), ("solder", 6.9e6), ("nickel", 15.6e6)],
)
def test_trade_list(name: str, conductivity: float) -> None:
    """The list read in [@trade-metals]; 10 %, lists differ by that."""
    assert metal(name).conductivity == pytest.approx(conductivity, rel=0.10)


@pytest.mark.parametrize(("megahertz", "micrometres"), [(1, 66.09), (10, 20.90), (145, 5.488), (435, 3.169)])
def test_skin_depth_of_copper(megahertz: float, micrometres: float) -> None:
    """sqrt(rho / (pi f mu0)) with the resistivity of [@iec-28]; 0.1 %. Galvanising is thicker, tinplate is not."""
    depth = math.sqrt(1.0 / (metal("copper").conductivity * math.pi * megahertz * 1e6 * mu0))
    assert depth * 1e6 == pytest.approx(micrometres, rel=1e-3)


def test_round_wire_at_100_kilohertz() -> None:
    """AWG 10 copper: R_ac/R_dc = 3.36 by the theory in Terman's handbook, 3.35 in his table, both second hand (a forum quoting them)."""
    copper = Metal("copper", metal("copper").conductivity)
    radius = 0.5 * parse_length("10 AWG")
    direct = 1 / (copper.conductivity * math.pi * radius**2)
    assert rod_impedance(copper, radius=radius, frequency=1e5).real / direct == pytest.approx(3.36, abs=0.02)


@pytest.mark.parametrize(("millimetres", "ohm"), [(2.0, 0.50137), (2.053, 0.48839), (3.2, 0.31303)])
def test_resistance_of_copper_wire_at_145_megahertz(millimetres: float, ohm: float) -> None:
    """Ohm per metre, evaluated apart from this program with the Bessel form; 0.2 %."""
    copper = Metal("copper", metal("copper").conductivity)
    found = rod_impedance(copper, radius=0.5e-3 * millimetres, frequency=145e6).real
    assert found == pytest.approx(ohm, rel=2e-3)


@pytest.mark.parametrize(
    ("number", "millimetres"),
    [
        (4, 5.1894),
        (8, 3.2636),
        (10, 2.5882),
        (12, 2.0525),
        (14, 1.6277),
        (16, 1.2908),
        (18, 1.0237),
        (20, 0.8118),
        (24, 0.5106),
    ],
)
def test_american_wire_gauge(number: int, millimetres: float) -> None:
    """[@astm-b258], 0.5 micrometre."""
    for text in (f"{number} AWG", f"AWG {number}", f"#{number} AWG", f"{number}awg"):
        assert parse_length(text) * 1e3 == pytest.approx(millimetres, abs=5e-4)


def test_ends_of_the_american_gauge() -> None:
    """The gauge is defined by 4/0 = 0.4600 in and 36 = 0.0050 in, in geometric steps [@astm-b258]."""
    assert parse_length("4/0 AWG") == parse_length("0000 AWG") == pytest.approx(0.4600 * 0.0254, rel=1e-9)
    assert parse_length("36 AWG") == pytest.approx(0.0050 * 0.0254, rel=1e-9)
    assert parse_length("1/0 AWG") == parse_length("0 AWG") == pytest.approx(0.3249 * 0.0254, abs=2e-6)
    steps = np.diff(np.log([parse_length(f"{n} AWG") for n in range(41)]))
    np.testing.assert_allclose(steps, steps[0], rtol=1e-9)


@pytest.mark.parametrize(
    ("number", "millimetres"), [(10, 3.251), (12, 2.642), (14, 2.032), (16, 1.626), (18, 1.219), (20, 0.914)]
)
def test_imperial_standard_wire_gauge(number: int, millimetres: float) -> None:
    """[@bs-3737], 1 micrometre."""
    assert parse_length(f"{number} SWG") * 1e3 == pytest.approx(millimetres, abs=1e-3)


@pytest.mark.parametrize(
    ("number", "inches"), [(12, 0.1055), (14, 0.0800), (16, 0.0625), (19, 0.0410), (20, 0.0348), (27, 0.0173)]
)
def test_steel_wire_gauge(number: int, inches: float) -> None:
    """[@washburn-moen-gauge], 0.0005 in."""
    assert parse_length(f"W&M {number}") / 0.0254 == pytest.approx(inches, abs=5e-4)


def test_two_charts_of_steel_wire_disagree_on_23() -> None:
    """A mesh seller's chart prints 0.0250 in for number 23, the gauge itself (memory) has 0.0258: 0.02 mm apart."""
    assert 0.0250 <= parse_length("23 W&M") / 0.0254 <= 0.0258 + 1e-9


def test_a_bare_gauge_is_refused_with_its_three_meanings() -> None:
    """19 ga is 0.912 mm of copper wire but 1.041 mm of hardware cloth [@washburn-moen-gauge]: a trap."""
    assert parse_length("19 AWG") * 1e3 == pytest.approx(0.912, abs=1e-3)
    assert parse_length("steel wire gauge 19") * 1e3 == pytest.approx(1.041, abs=1e-3)
    with pytest.raises(
        QuantityError, match=r"AWG 19 \(0\.91 mm\) or SWG 19 \(1\.02 mm\) or steel wire gauge 19 \(1\.04"
    ):
        parse_length("19 ga")


def test_hardware_cloth_pitch_is_centre_to_centre() -> None:
    """[@astm-a740] clause 3.1.2: half-inch cloth of 1.04 mm wire leaves an opening of 11.66 mm; that opening is a tenth
    of a wavelength at 2.57 GHz, and its pitch at 2.36 GHz (handbook rule, memory)."""
    pitch, wire = parse_length("1/2 in"), parse_length("W&M 19")
    assert (pitch - wire) * 1e3 == pytest.approx(11.66, abs=0.01)
    assert 299792458.0 / (10.0 * pitch) == pytest.approx(2.36e9, rel=0.001)


def test_noise_classes_are_those_of_the_recommendation() -> None:
    """City, residential, rural and quiet rural, the man-made classes of [@itu-p372]."""
    assert NOISE_CLASSES == ("city", "residential", "rural", "quiet rural")
