"""Quantities as people write them, read strictly: '156.8 MHz', '17-1/4"', '0,5 mm', '6 ft 3 in', '12 AWG'.

Each ``parse_*`` takes text and returns SI (angles: degree) or raises :class:`QuantityError` that names the text and
a remedy; nothing is guessed. A number without a unit, a comma that could be a thousands mark, a bare 'ga' and a
unit of another kind are refused. Arithmetic is exact (rational) until the one rounding to a float.
Printing lives in :mod:`aerialwright.base.printing` and is re-exported here.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction

from aerialwright.base.errors import QuantityError, printable
from aerialwright.base.gauges import gauge_diameter, gauge_meanings
from aerialwright.base.printing import (
    exact_text,
    format_angle,
    format_decibel,
    format_frequency,
    format_frequency_range,
    format_impedance,
    format_length,
    format_power,
    format_ratio,
)
from aerialwright.base.unit_table import (
    CASE_FREE,
    DIPOLE_GAIN,
    EXAMPLE,
    FOOT,
    INCH,
    LARGEST,
    LOOK_ALIKES,
    NOUN,
    SMALLEST,
    SMALLEST_OF,
    UNITS,
    VULGAR_FRACTIONS,
)

__all__ = [
    "KINDS",
    "exact_text",
    "format_angle",
    "format_decibel",
    "format_frequency",
    "format_frequency_range",
    "format_impedance",
    "format_length",
    "format_power",
    "format_ratio",
    "parse_angle",
    "parse_count",
    "parse_decibel",
    "parse_frequency",
    "parse_frequency_range",
    "parse_gain",
    "parse_impedance",
    "parse_length",
    "parse_power",
    "parse_quantity",
    "parse_ratio",
]

LONGEST_TEXT = 80

KINDS = tuple(UNITS)

_DECIMAL = r"(?:[0-9]{1,18}(?:[.,][0-9]{1,30})?|[.][0-9]{1,30})(?:[eE][+-]?[0-9]{1,2}(?![0-9]))?"
_MIXED = r"(?:[0-9]{1,6}(?:[ ]+|[ ]?[-+][ ]?))?[0-9]{1,3}/[0-9]{1,3}"
_NUMBER = rf"(?:{_MIXED}|{_DECIMAL})"
_PLAIN = re.compile(rf"(?P<sign>[-+]?) ?(?P<number>{_NUMBER}) ?(?P<unit>.*)", re.DOTALL)
_FEET = re.compile(
    rf"(?P<sign>[-+]?) ?(?P<feet>[0-9]{{1,6}}) ?(?:ft\.?|FT|feet|foot|') ?-? ?"
    rf"(?P<inches>{_NUMBER}) ?(?:in\.?|IN|inch|inches|\"|'')"
)
_GAUGE_NAME = r"(?P<{0}>AWG|SWG|B&S|W&M|W & M|steel wire gauge|ga\.?|gauge|gage)"
_GAUGE_NUMBER = r"#? ?(?P<{0}>[0-9]{{1,2}}|[1-7]/0|0{{2,7}})"
_GAUGE = re.compile(
    rf"{_GAUGE_NUMBER.format('n1')} ?{_GAUGE_NAME.format('s1')}"
    rf"|{_GAUGE_NAME.format('s2')} ?{_GAUGE_NUMBER.format('n2')}",
    re.IGNORECASE,
)
_GAUGE_SYSTEM = {
    "awg": "awg",
    "b&s": "awg",
    "swg": "swg",
    "w&m": "steel",
    "w & m": "steel",
    "steel wire gauge": "steel",
}
_RANGE = re.compile(
    rf"(?P<low>{_DECIMAL}) ?(?P<unit1>[A-Za-z]*) ?(?:-|to|\.\.\.?) ?(?P<high>{_DECIMAL}) ?(?P<unit2>[A-Za-z]*)"
)
_DENOMINATORS = {2, 3, 4, 5, 6, 8, 16, 32, 64, 128}


def parse_quantity(
    text: object,
    kind: str,
    *,
    where: str = "",
    signed: bool = False,
    positive: bool = False,
    highest: float | None = None,
) -> float:
    """Read one quantity of ``kind`` (one of :data:`KINDS`) and return it in SI (angle in degree, gain in dBi).

    ``signed`` allows negative values; ``positive`` refuses zero as well; ``highest`` is an inclusive upper limit in
    SI. Angles, decibels and gains may be negative in any case, frequencies and SWR ratios are never zero.
    Raises :class:`QuantityError` for everything else.
    """
    if kind not in UNITS:
        raise ValueError(f"unknown kind of quantity {kind!r}")
    try:
        plain = _clean(text, kind)
        value = _read(plain, kind)
        return _sensible(value, plain, kind, signed=signed, positive=positive, highest=highest)
    except QuantityError as error:
        if where and not error.where:
            raise QuantityError(error.what, where=where, mend=error.mend) from None
        raise


def _shown(text: str) -> str:
    """The offending text, short and safe to print on a terminal."""
    safe = printable(text)
    return f"'{safe[:40]}...'" if len(safe) > 43 else f"'{safe}'"


def _noun(kind: str) -> str:
    return NOUN.get(kind, f"a {kind}")


def _clean(text: object, kind: str) -> str:
    if isinstance(text, int) and abs(text) > 10**40:  # Python itself refuses to print thousands of digits
        raise QuantityError(f"a number of that size is not {_noun(kind)}", mend=f"write {EXAMPLE[kind]}")
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        if kind in ("count", "ratio"):
            return repr(text) if isinstance(text, float) else str(text)[:LONGEST_TEXT]
        raise _no_unit(str(text)[:LONGEST_TEXT], kind)
    if not isinstance(text, str):
        raise QuantityError(
            f"{_noun(kind)} is written as text, not as {type(text).__name__}", mend=f"write {EXAMPLE[kind]}"
        )
    if len(text) > LONGEST_TEXT:
        raise QuantityError(f"{_shown(text)} is too long for {_noun(kind)}", mend=f"write {EXAMPLE[kind]}")
    plain = text.translate(LOOK_ALIKES)
    for character, fraction in VULGAR_FRACTIONS.items():
        plain = plain.replace(character, f" {fraction}")
    plain = " ".join(plain.split(" ")).strip()
    plain = re.sub(" +", " ", plain)
    if not plain:
        raise QuantityError(f"{_noun(kind)} is missing", mend=f"write {EXAMPLE[kind]}")
    return plain


def _no_unit(number: str, kind: str) -> QuantityError:
    options = {
        "length": ("mm", "m", "in"),
        "frequency": ("MHz", "kHz", "GHz"),
        "angle": ("deg",),
        "power": ("W", "mW"),
        "impedance": ("ohm",),
        "inductance": ("nH", "uH"),
        "capacitance": ("pF", "nF"),
        "decibel": ("dB",),
        "gain": ("dBi", "dBd"),
    }[kind]
    return QuantityError(
        f"{_shown(number)} has no unit", mend="write " + " or ".join(f"'{number} {unit}'" for unit in options)
    )


def _read(plain: str, kind: str) -> Fraction | float:
    """Text -> SI value before the sanity checks."""
    if kind == "length":
        special: Fraction | float | None = _read_gauge(plain)
        if special is None:
            special = _read_feet(plain)
        if special is not None:
            return special
    match = _PLAIN.fullmatch(plain)
    if match is None:
        raise QuantityError(f"{_shown(plain)} does not start with a number", mend=f"write {EXAMPLE[kind]}")
    unit = match["unit"]
    if unit and unit[0] in "0123456789.,/-+'" and not (kind == "length" and unit in ("'", "''")):
        raise _malformed(plain, unit, kind)
    number = _number(match["number"], plain, fractions=kind == "length")
    if match["sign"] == "-":
        number = -number
    if kind in ("ratio", "count"):
        if unit and not (kind == "ratio" and unit.replace(" ", "") == ":1"):
            raise QuantityError(
                f"{_shown(plain)} is not {_noun(kind)}", mend=f"write a plain number such as {EXAMPLE[kind]}"
            )
        return number
    if not unit:
        raise _no_unit(plain, kind)
    return _with_unit(number, unit, plain, kind)


def _with_unit(number: Fraction, unit: str, plain: str, kind: str) -> Fraction | float:
    if kind == "power" and unit.lower() in ("dbm", "dbw"):
        if abs(number) > 200:
            raise QuantityError(f"{_shown(plain)} is far outside sense", mend="check the number")
        return float(10.0 ** (float(number) / 10.0) * (1e-3 if unit.lower() == "dbm" else 1.0))
    if kind == "frequency" and unit == "mHz":
        raise QuantityError(f"{_shown(plain)} says millihertz", mend=f"write '{plain[:-3]}MHz'")
    table = UNITS[kind]
    spelling = unit.lower() if kind in CASE_FREE else unit
    if spelling not in table:
        raise _unknown_unit(number, unit, plain, kind)
    if kind == "gain" and spelling == "dbd":
        return float(number) + DIPOLE_GAIN
    return number * table[spelling]


def _unknown_unit(number: Fraction, unit: str, plain: str, kind: str) -> QuantityError:
    """Say what the unit is, or what it could have been."""
    if kind == "length":
        if unit in ("mm2", "mm²", "sq mm", "sqmm"):
            diameter = 2000.0 * math.sqrt(abs(float(number)) * 1e-6 / math.pi)
            return QuantityError(
                f"{_shown(plain)} is an area", mend=f"a solid wire of it is '{diameter:.2f} mm' across"
            )
        if unit in ("mil", "mils"):
            inches = float(number) / 1000.0
            return QuantityError(
                f"{_shown(plain)}: '{unit}' is read as 0.001 in by some and as mm by others",
                mend=f"write '{inches:g} in' or '{float(number):g} mm'",
            )
        if unit in ("nm", "NM", "M", "Mm"):
            return QuantityError(f"{_shown(plain)}: '{unit}' can be read in two ways", mend="write 'nmi', 'm' or 'mm'")
    for other, table in UNITS.items():
        spelling = unit.lower() if other in CASE_FREE else unit
        if other != kind and spelling in table:
            return QuantityError(
                f"{_shown(plain)} is {_noun(other)} where {_noun(kind)} is asked", mend=f"write {EXAMPLE[kind]}"
            )
    if any(unit.lower() == known.lower() for known in UNITS[kind]):
        right = next(known for known in UNITS[kind] if unit.lower() == known.lower())
        return QuantityError(
            f"{_shown(plain)}: the unit is spelled '{right}'", mend=f"write '{plain[: -len(unit)].strip()} {right}'"
        )
    return QuantityError(
        f"{_shown(plain)}: '{_shown(unit)[1:-1]}' is not a unit of {kind}", mend=f"write {EXAMPLE[kind]}"
    )


def _malformed(plain: str, rest: str, kind: str) -> QuantityError:
    if rest[0] == "-":
        return QuantityError(
            f"{_shown(plain)} is a range or a sum where one value is asked", mend=f"write {EXAMPLE[kind]}"
        )
    if kind == "length" and rest[0] == "'":
        return QuantityError(
            f"{_shown(plain)} does not say what follows the feet", mend="end it with the inch mark: 6' 3\""
        )
    if rest[0].isdigit() and re.match(r"[0-9]{3}\b", rest):
        joined = re.sub(r"(?<=[0-9]) (?=[0-9])", "", plain)
        return QuantityError(f"{_shown(plain)} has a gap inside the number", mend=f"write {_shown(joined)}")
    return QuantityError(f"{_shown(plain)} is not one number and a unit", mend=f"write {EXAMPLE[kind]}")


def _number(text: str, plain: str, *, fractions: bool) -> Fraction:
    """'17 1/4', '17-1/4', '0,5', '.5', '1.5e3' -> exact number; ambiguous commas and odd fractions refused."""
    if "/" in text:
        if not fractions:
            raise QuantityError(
                f"{_shown(plain)} is a fraction or two values", mend="write one decimal number and its unit"
            )
        head, _, bottom = text.rpartition("/")
        parts = re.split(r"[ +-]+", head)
        top, whole = int(parts[-1]), int(parts[0]) if len(parts) > 1 else 0
        if int(bottom) not in _DENOMINATORS or not 0 < top < int(bottom):
            raise QuantityError(
                f"{_shown(plain)} has a fraction that no rule is divided in",
                mend="write it like '17 1/4 in' or as a decimal",
            )
        return Fraction(whole) + Fraction(top, int(bottom))
    mantissa = re.split("[eE]", text)[0]
    whole_text, comma, decimals = mantissa.partition(",")
    if comma and len(decimals) == 3 and whole_text != "0" and len(whole_text) <= 3:
        raise QuantityError(
            f"{_shown(plain)}: the comma may mark thousands or decimals",
            mend=f"write '{whole_text}.{decimals}' or '{whole_text}{decimals}'",
        )
    return Fraction(text.replace(",", "."))


def _read_gauge(plain: str) -> float | None:
    match = _GAUGE.fullmatch(plain)
    if match is None:
        return None
    number, name = (match["n1"] or match["n2"]), (match["s1"] or match["s2"]).lower()
    if name not in _GAUGE_SYSTEM:
        meanings = gauge_meanings(number)
        raise QuantityError(
            f"{_shown(plain)} does not say which gauge",
            mend=f"write {meanings}" if meanings else "give the diameter in mm",
        )
    return gauge_diameter(_GAUGE_SYSTEM[name], number)


def _read_feet(plain: str) -> Fraction | None:
    match = _FEET.fullmatch(plain)
    if match is None:
        return None
    inches = _number(match["inches"], plain, fractions=True)
    if inches >= 12:
        raise QuantityError(f"{_shown(plain)} has twelve inches or more beside the feet", mend="carry them to the feet")
    value = int(match["feet"]) * FOOT + inches * INCH
    return -value if match["sign"] == "-" else value


def _sensible(
    value: Fraction | float, plain: str, kind: str, *, signed: bool, positive: bool, highest: float | None
) -> float:
    size = abs(float(value))
    least = SMALLEST_OF.get(kind, SMALLEST)
    if size > LARGEST[kind] or (kind not in ("angle", "decibel", "gain") and 0.0 < size < least):
        raise QuantityError(
            f"{_shown(plain)} is far outside sense for {_noun(kind)}", mend="check the number and its unit"
        )
    number = float(value)
    if kind not in ("angle", "decibel", "gain"):
        if number < 0.0 and not signed:
            raise QuantityError(f"{_shown(plain)} is negative", mend="leave the minus sign out")
        if value == 0 and (positive or kind in ("frequency", "ratio")):
            raise QuantityError(f"{_shown(plain)} is zero", mend=f"give a value above zero, such as {EXAMPLE[kind]}")
    elif positive and number <= 0.0:
        raise QuantityError(f"{_shown(plain)} is not above zero", mend=f"write {EXAMPLE[kind]}")
    if kind == "count" and Fraction(value).denominator != 1:
        raise QuantityError(f"{_shown(plain)} is not a whole number", mend="write a whole number such as '4'")
    if highest is not None and number > highest:
        raise QuantityError(f"{_shown(plain)} is above the limit of {exact_text(highest, kind)}", mend="give less")
    return number + 0.0  # -0.0 becomes 0.0


def parse_length(text: object, *, where: str = "", signed: bool = False, positive: bool = False) -> float:
    """Length [m] from '3.2 mm', '17 1/4 in', '6 ft 3 in', '12 AWG', '14 SWG'."""
    return parse_quantity(text, "length", where=where, signed=signed, positive=positive)


def parse_frequency(text: object, *, where: str = "") -> float:
    """Frequency [Hz], above zero."""
    return parse_quantity(text, "frequency", where=where)


def parse_angle(text: object, *, where: str = "") -> float:
    """Angle [degree], either sign."""
    return parse_quantity(text, "angle", where=where)


def parse_power(text: object, *, where: str = "", positive: bool = False) -> float:
    """Power [W] from '5 W', '100 mW', '37 dBm'."""
    return parse_quantity(text, "power", where=where, positive=positive)


def parse_decibel(text: object, *, where: str = "") -> float:
    """Level or loss [dB], either sign."""
    return parse_quantity(text, "decibel", where=where)


def parse_gain(text: object, *, where: str = "") -> float:
    """Gain [dBi] from '2.15 dBi' or '0 dBd' (2.15 dB more)."""
    return parse_quantity(text, "gain", where=where)


def parse_impedance(text: object, *, where: str = "") -> float:
    """Resistance or characteristic impedance [ohm], above zero."""
    return parse_quantity(text, "impedance", where=where, positive=True)


def parse_ratio(text: object, *, where: str = "") -> float:
    """A ratio such as an SWR, from '2.5', '2.5:1' or a number."""
    return parse_quantity(text, "ratio", where=where)


def parse_count(text: object, *, where: str = "") -> int:
    """A whole number of things, from '4' or 4."""
    return int(parse_quantity(text, "count", where=where))


def parse_frequency_range(text: object, *, where: str = "") -> tuple[float, float]:
    """(low, high) [Hz] from '118.000-136.975 MHz', '225 to 260 MHz' or '999 kHz - 1.5 MHz'; low must be below high."""
    if not isinstance(text, str):
        raise QuantityError("a frequency range is written as text", where=where, mend="write '118-137 MHz'")
    try:
        plain = _clean(text, "frequency")
    except QuantityError as error:
        raise QuantityError(error.what, where=where, mend="write '118-137 MHz'") from None
    match = _RANGE.fullmatch(plain)
    if match is None:
        raise QuantityError(f"{_shown(plain)} is not a frequency range", where=where, mend="write '118-137 MHz'")
    unit = match["unit2"]
    if not unit:
        raise QuantityError(f"{_shown(plain)} has no unit", where=where, mend=f"write {_shown(plain + ' MHz')}")
    low = parse_frequency(f"{match['low']} {match['unit1'] or unit}".strip(), where=where)
    high = parse_frequency(f"{match['high']} {unit}".strip(), where=where)
    if not low < high:
        raise QuantityError(
            f"{_shown(plain)} runs downward or has no width", where=where, mend="write the lower frequency first"
        )
    return low, high
