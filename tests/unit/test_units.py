"""Quantities as people write them: what is read, what is refused and why, and printing that reads back."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
import scipy.constants
from hypothesis import example, given
from hypothesis import strategies as st

from aerialwright.base import constants, units
from aerialwright.base.errors import QuantityError
from aerialwright.base.printing import UNKNOWN, format_component

IN = 0.0254


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("3.2 mm", 0.0032),
        ("3,2 mm", 0.0032),
        ("3.2mm", 0.0032),
        ("0,5 mm", 0.0005),
        ("0,500 mm", 0.0005),
        (".5 in", 0.5 * IN),
        ("17 1/4 in", 17.25 * IN),
        ('17-1/4"', 17.25 * IN),
        ("17¼ in", 17.25 * IN),
        ("17½″", 17.5 * IN),
        ("½ inch", 0.5 * IN),
        ("1/32 in", IN / 32),
        ("6 1/2 in", 6.5 * IN),
        ("6 ft 3 in", 75 * IN),
        ("6' 3\"", 75 * IN),
        ("6'3\"", 75 * IN),
        ("6’ 3”", 75 * IN),
        ("6'-3 1/2\"", 75.5 * IN),
        ("6 ft", 72 * IN),
        ("5'", 60 * IN),
        ("10 m", 10.0),
        ("25 cm", 0.25),
        ("8 km", 8000.0),
        ("12 µm", 12e-6),
        ("12 μm", 12e-6),
        ("1e3 mm", 1.0),
        ("12 thou", 0.012 * IN),
        ("  42\u00a0mm ", 0.042),
        ("1 nmi", 1852.0),
        ("1234.5 mm", 1.2345),
        ("1.000 mm", 0.001),
        ("12,0000 mm", 0.012),
        ("-0 mm", 0.0),
        ("2 yd", 72 * IN),
    ],
)
def test_lengths_that_people_write(text: str, metres: float) -> None:
    assert units.parse_length(text) == pytest.approx(metres, rel=1e-15, abs=1e-18)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1,000 mm", "thousands"),
        ("156,800 mm", "thousands"),
        ("12,345,678 mm", "not one number"),
        ("1 000 mm", "gap inside"),
        ("1.2.3 mm", "not one number"),
        ("5. mm", "not one number"),
        ("17", "has no unit"),
        ("", "is missing"),
        ("   ", "is missing"),
        ("mm", "does not start"),
        ("nan mm", "does not start"),
        ("inf mm", "does not start"),
        ("1e99 mm", "outside sense"),
        ("1e999 mm", "not a unit"),
        ("1e-99 mm", "outside sense"),
        ("-3 mm", "negative"),
        ("2 GHz", "is a frequency"),
        ("5 W", "is a power"),
        ("42 deg", "is an angle"),
        ("50 ohm", "is an impedance"),
        ("3 dB", "is a level"),
        ("5-10 mm", "range"),
        ("15/22 mm", "fraction"),
        ("5/4 in", "fraction"),
        ("1/0 in", "fraction"),
        ("1/7 in", "fraction"),
        ("6'3", "inch mark"),
        ("6 ft 14 in", "twelve"),
        ("6 ft 12 in", "twelve"),
        ("2.5 mm2", "area"),
        ("2.5 mm²", "area"),
        ("12 mil", "0.001 in"),
        ("3 NM", "two ways"),
        ("3 Mm", "two ways"),
        ("3 M", "two ways"),
        ("5²mm", "not a unit"),
        ("3 mm dia", "not a unit"),
        ("٣ mm", "does not start"),
        ("３ mm", "does not start"),
        ("~3 mm", "does not start"),
        ("3±1 mm", "not a unit"),
        ("19 ga", "which gauge"),
        ("12 gauge", "which gauge"),
        ("99 SWG", "not in the gauge"),
        ("60 AWG", "not a wire gauge"),
        ("99 ga", "which gauge"),
        ("3 Cm", "spelled 'cm'"),
        ("x" * 500, "too long"),
        ("3\x1b[31mmm", "not a unit"),
        ("1'000 mm", "not"),
        ("3 mm\n4 mm", "not a unit"),
    ],
)
def test_lengths_that_are_refused(text: str, reason: str) -> None:
    with pytest.raises(QuantityError, match=reason) as caught:
        units.parse_length(text, where="rod.length")
    assert caught.value.mend
    assert caught.value.where == "rod.length"
    assert caught.value.one_line().isprintable()


@pytest.mark.parametrize("value", [3, 3.2, True, None, [], {}, b"3 mm", float("nan"), 10**400])
def test_only_text_is_a_quantity(value: object) -> None:
    with pytest.raises(QuantityError):
        units.parse_length(value)


def test_a_bare_number_is_told_its_possible_units() -> None:
    with pytest.raises(QuantityError, match="'17 mm' or '17 m' or '17 in'"):
        units.parse_length("17")
    with pytest.raises(QuantityError, match=r"'156\.8 MHz' or '156\.8 kHz'"):
        units.parse_frequency("156.8")


def test_signs_and_zero_where_they_make_sense() -> None:
    assert units.parse_length("-3 mm", signed=True) == -0.003
    assert units.parse_length("−3 mm", signed=True) == -0.003
    assert units.parse_length("-6 ft 3 in", signed=True) == pytest.approx(-75 * IN)
    assert units.parse_length("0 mm") == 0.0
    assert math.copysign(1.0, units.parse_length("-0 mm", signed=True)) == 1.0
    for kind in units.KINDS:
        example_text = {
            "length": "0 mm",
            "frequency": "0 Hz",
            "angle": "0 deg",
            "power": "0 W",
            "impedance": "0 ohm",
            "inductance": "0 nH",
            "capacitance": "0 pF",
            "decibel": "0 dB",
            "gain": "0 dBi",
            "ratio": "0",
            "count": "0",
        }[kind]
        with pytest.raises(QuantityError, match="zero"):
            units.parse_quantity(example_text, kind, positive=True)
    with pytest.raises(QuantityError, match="limit of 1000 mm"):
        units.parse_quantity("2 m", "length", highest=1.0)


@pytest.mark.parametrize(
    ("text", "hertz"),
    [
        ("156.8 MHz", 156.8e6),
        ("156,8 MHz", 156.8e6),
        ("156.8mhz", 156.8e6),
        ("1.09 GHz", 1.09e9),
        ("25 kHz", 25e3),
        ("7 Hz", 7.0),
    ],
)
def test_frequencies(text: str, hertz: float) -> None:
    assert units.parse_frequency(text) == hertz


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("0 MHz", "zero"),
        ("-1 MHz", "negative"),
        ("145 mHz", "millihertz"),
        ("145.8M", "not a unit"),
        ("144/146 MHz", "two values"),
        ("2 m", "is a length"),
        ("156,800 MHz", "thousands"),
        ("NaN", "does not start"),
        ("1e30 Hz", "outside sense"),
    ],
)
def test_frequencies_refused(text: str, reason: str) -> None:
    with pytest.raises(QuantityError, match=reason):
        units.parse_frequency(text)


def test_other_kinds() -> None:
    assert units.parse_angle("42°") == units.parse_angle("42 deg") == units.parse_angle("42degrees") == 42.0
    assert units.parse_angle("0.5 rad") == pytest.approx(math.degrees(0.5), rel=1e-15)
    assert units.parse_power("5 W") == 5.0
    assert units.parse_power("37 dBm") == pytest.approx(10**0.7)
    assert units.parse_power("-30 dBm") == pytest.approx(1e-6)
    assert units.parse_power("-3 dBW") == pytest.approx(10**-0.3)
    assert units.parse_decibel("-3,5 dB") == -3.5
    assert units.parse_gain("0 dBd") == pytest.approx(2.15)
    assert units.parse_impedance("75 Ω") == units.parse_impedance("75ohm") == 75.0
    assert units.parse_ratio("2.5:1") == units.parse_ratio("2,5") == units.parse_ratio(2.5) == 2.5
    assert units.parse_count("4") == units.parse_count(4) == 4


@pytest.mark.parametrize(
    ("kind", "value", "reason"),
    [
        ("power", "100mw", "spelled 'mW'"),
        ("inductance", "100 nh", "spelled 'nH'"),
        ("inductance", "100", "no unit"),
        ("capacitance", "10 nH", "is an inductance where a capacitance"),
        ("capacitance", "1 aF", "not a unit"),
        ("power", "-1 W", "negative"),
        ("power", "900 dBm", "sense"),
        ("count", "4.5", "whole"),
        ("count", 10**9, "sense"),
        ("count", True, "text"),
        ("count", "4 mm", "not a count"),
        ("ratio", float("nan"), "start"),
        ("ratio", float("inf"), "start"),
        ("ratio", 0, "zero"),
        ("decibel", "3 dBi", "is a gain"),
        ("gain", "3 dB", "is a level"),
        ("impedance", "0 ohm", "zero"),
        ("angle", "42", "no unit"),
        ("angle", "1e9 deg", "sense"),
    ],
)
def test_other_kinds_refused(kind: str, value: object, reason: str) -> None:
    reader = {"impedance": units.parse_impedance}.get(kind, lambda given: units.parse_quantity(given, kind))
    with pytest.raises(QuantityError, match=reason):
        reader(value)


def test_an_unknown_kind_is_the_programmers_error() -> None:
    with pytest.raises(ValueError, match="unknown kind"):
        units.parse_quantity("3 mm", "colour")


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("118.000-136.975 MHz", 118e6, 136.975e6),
        ("225–260MHz", 225e6, 260e6),
        ("118 to 137 MHz", 118e6, 137e6),
        ("999 kHz - 1.5 MHz", 999e3, 1.5e6),
        ("156,0 - 162,05 MHz", 156e6, 162.05e6),
        ("1.2 .. 1.3 GHz", 1.2e9, 1.3e9),
    ],
)
def test_frequency_ranges(text: str, low: float, high: float) -> None:
    assert units.parse_frequency_range(text) == (low, high)


@pytest.mark.parametrize(
    "text", ["", "118 MHz", "137-118 MHz", "118-118 MHz", "118-137", "a-b MHz", "1-2-3 MHz", "0-1 MHz", 5, None]
)
def test_frequency_ranges_refused(text: object) -> None:
    with pytest.raises(QuantityError) as caught:
        units.parse_frequency_range(text, where="band 1")
    assert caught.value.where == "band 1"


# ---- printing, and back


@given(st.floats(-1e7, 1e7))
def test_length_in_millimetres_reads_back(value: float) -> None:
    text = units.format_length(value)
    size = abs(value)
    resolution = (
        10.0
        if size >= 1e4
        else 0.01
        if size >= 10
        else 1e-4
        if size >= 0.01
        else 1e-5
        if size >= 1e-3
        else max(1e-12, size * 0.01)
    )
    if size >= 1e-9 or value == 0.0:
        assert units.parse_length(text, signed=True) == pytest.approx(value, abs=0.5001 * resolution)


@given(st.floats(1e-4, 100.0), st.sampled_from([8, 16, 32, 64]))
@example(0.43815, 32)
def test_length_in_fractions_of_an_inch_reads_back(value: float, fraction: int) -> None:
    text = units.format_length(value, system="in", fraction=fraction)
    assert units.parse_length(text) == pytest.approx(value, abs=0.5001 * IN / fraction)


@given(st.floats(1e-5, 100.0))
def test_length_in_decimal_inches_reads_back(value: float) -> None:
    text = units.format_length(value, system="in", style="decimal")
    assert units.parse_length(text) == pytest.approx(value, abs=0.5001e-3 * IN, rel=0.01)


@given(st.floats(1.0, 1e11))
def test_frequency_reads_back(value: float) -> None:
    resolution = 1e-3 * (1e9 if value >= 1e10 else 1e6 if value >= 1e6 else 1e3 if value >= 1e3 else 1.0)
    assert units.parse_frequency(units.format_frequency(value)) == pytest.approx(value, abs=0.5001 * resolution)


@given(st.floats(-360, 360), st.floats(-200, 200), st.floats(1e-9, 1e4), st.floats(1, 1e4))
def test_the_rest_reads_back(angle: float, level: float, power: float, resistance: float) -> None:
    assert units.parse_angle(units.format_angle(angle)) == pytest.approx(angle, abs=0.0501)
    assert units.parse_decibel(units.format_decibel(level)) == pytest.approx(level, abs=0.00501)
    assert units.parse_power(units.format_power(power)) == pytest.approx(power, rel=0.00501)
    assert units.parse_impedance(units.format_impedance(resistance)) == pytest.approx(resistance, abs=0.0501)


@given(st.sampled_from(["length", "frequency", "angle", "power", "impedance", "decibel"]), st.floats(1e-6, 400.0))
def test_exact_text_reads_back_exactly(kind: str, value: float) -> None:
    assert units.parse_quantity(units.exact_text(value, kind), kind) == value


@given(st.sampled_from(["inductance", "capacitance"]), st.floats(1e-12, 1e-4))
def test_parts_read_back(kind: str, value: float) -> None:
    assert units.parse_quantity(units.exact_text(value, kind), kind) == pytest.approx(value, rel=1e-15)
    assert units.parse_quantity(format_component(value, kind), kind) == pytest.approx(value, rel=0.00501)


@given(st.floats(118e6, 200e6), st.floats(201e6, 300e6))
def test_frequency_range_reads_back(low: float, high: float) -> None:
    assert units.parse_frequency_range(units.format_frequency_range(low, high)) == pytest.approx((low, high), abs=51.0)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (units.format_length(0.4382), "438.2 mm"),
        (units.format_length(0.0032), "3.2 mm"),
        (units.format_length(25.0), "25 m"),
        (units.format_length(0.4382, step=1e-3), "438 mm"),
        (units.format_length(0.4382, step=5e-4), "438.2 mm"),
        (units.format_length(-1e-9, step=1e-3), "0 mm"),
        (units.format_length(0.0), "0 mm"),
        (units.format_length(1e-9, step=1e-4), "0.0 mm"),
        (units.format_length(-1e-9, step=1e-4), "0.0 mm"),
        (units.format_length(0.43815, system="in"), "17 1/4 in"),
        (units.format_length(0.0254, system="in"), "1 in"),
        (units.format_length(IN / 32, system="in"), "1/32 in"),
        (units.format_length(-IN / 2, system="in"), "-1/2 in"),
        (units.format_length(1e-5, system="in"), "0.000394 in"),
        (units.format_length(0.0, system="in"), "0 in"),
        (units.format_length(0.43815, system="in", style="decimal"), "17.25 in"),
        (units.format_length(math.nan), UNKNOWN),
        (units.format_frequency(156.8e6), "156.8 MHz"),
        (units.format_frequency(118e6, digits=3), "118.000 MHz"),
        (units.format_frequency(24e9), "24 GHz"),
        (units.format_frequency(math.inf), UNKNOWN),
        (units.format_angle(42.5), "42.5°"),
        (units.format_angle(-0.01), "0°"),
        (units.format_decibel(-3.0103), "-3.01 dB"),
        (units.format_decibel(2.15, unit="dBi", sign=True), "+2.15 dBi"),
        (units.format_decibel(-0.001), "0.00 dB"),
        (units.format_decibel(-math.inf), "-infinite dB"),
        (units.format_impedance(36.54 + 21.26j), "36.5 + j21.3 ohm"),
        (units.format_impedance(36.54 - 21.26j), "36.5 - j21.3 ohm"),
        (units.format_ratio(2.5), "2.50"),
        (units.format_ratio(math.inf), "infinite"),
        (units.format_ratio(math.nan), UNKNOWN),
        (units.format_power(0.3), "300 mW"),
        (units.exact_text(156.8e6, "frequency"), "156.8 MHz"),
        (units.exact_text(25.0, "length", unit="m"), "25 m"),
    ],
)
def test_printed_forms(text: str, expected: str) -> None:
    assert text == expected


def test_printing_what_is_not_a_number_or_not_a_system() -> None:
    assert units.format_frequency_range(math.nan, 1e8) == UNKNOWN
    assert units.format_decibel(math.nan) == units.format_power(math.inf) == units.format_impedance(math.nan) == UNKNOWN
    assert units.format_power(0.0) == "0 W"
    assert units.format_power(1500.0) == "1.5 kW"
    assert units.format_frequency(0.0) == "0 Hz"
    with pytest.raises(ValueError, match="system"):
        units.format_length(1.0, system="furlong")
    with pytest.raises(ValueError, match="finite"):
        units.exact_text(math.inf, "length")


# ---- junk


@given(st.text(max_size=120), st.sampled_from(units.KINDS))
@example("\ud800 mm", "length")
@example("1" * 80, "length")
def test_junk_raises_only_quantity_errors(text: str, kind: str) -> None:
    try:
        value = units.parse_quantity(text, kind)
    except QuantityError as error:
        assert error.one_line().isprintable()
    else:
        assert math.isfinite(value)


@given(st.text(alphabet="0123456789.,/'\" -+eEmMkGHzAWSgainftuµ°½#&:", max_size=24), st.sampled_from(units.KINDS))
def test_near_quantities_raise_only_quantity_errors(text: str, kind: str) -> None:
    try:
        assert math.isfinite(units.parse_quantity(text, kind, signed=True))
    except QuantityError as error:
        assert error.mend


# ---- constants


def test_constants_are_those_of_codata() -> None:
    """Against scipy.constants (CODATA 2022) [@codata-2022]; eta0 = 376.730 313 412 ohm."""
    assert constants.c == scipy.constants.c
    assert constants.mu0 == pytest.approx(scipy.constants.mu_0, rel=1e-9)
    assert constants.eps0 == pytest.approx(scipy.constants.epsilon_0, rel=1e-9)
    assert constants.boltzmann == scipy.constants.k
    assert constants.eta0 == pytest.approx(376.730313412, rel=1e-10)
    assert constants.mu0 * constants.eps0 * constants.c**2 == pytest.approx(1.0, rel=1e-9)


def test_units_import_nothing_heavy() -> None:
    code = "import sys, aerialwright.base.units; print([m for m in ('scipy', 'numpy', 'pydantic') if m in sys.modules])"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env={"PYTHONPATH": "src"}
    )
    assert run.stdout.strip() == "[]"
