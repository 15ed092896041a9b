"""Quantities printed the way the trade writes them; each prints what :mod:`aerialwright.base.units` reads back."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

_INCH = 0.0254
#: kind -> (unit, power of ten of the unit) used for exact text in files.
_EXACT = {
    "length": ("mm", -3),
    "frequency": ("MHz", 6),
    "angle": ("deg", 0),
    "power": ("W", 0),
    "impedance": ("ohm", 0),
    "inductance": ("nH", -9),
    "capacitance": ("pF", -12),
    "decibel": ("dB", 0),
    "gain": ("dBi", 0),
    "ratio": ("", 0),
    "count": ("", 0),
}
UNKNOWN = "unknown"


def exact_text(value: float, kind: str, *, unit: str | None = None) -> str:
    """Text of ``value`` (SI) that parses back to exactly the same number: for files.

    ``unit`` may be ``"m"`` for a length meant in metres. The decimal point is shifted, nothing is rounded.
    """
    if not math.isfinite(value):
        raise ValueError("only a finite number has an exact text")
    name, power = _EXACT[kind] if unit is None else {"m": ("m", 0)}[unit]
    shifted = Decimal(repr(float(value))).scaleb(-power)
    text = format(shifted, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text in ("-0", ""):
        text = "0"
    return f"{text} {name}".strip()


def _trim(value: float, digits: int) -> str:
    """Fixed digits, trailing zeros and a negative zero removed."""
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def format_length(
    value: float, *, system: str = "mm", step: float | None = None, style: str = "fraction", fraction: int = 32
) -> str:
    """Length ``value`` [m] for people.

    ``system`` ``"mm"``: millimetres with the digits that ``step`` [m] asks for; without ``step`` three figures or
    0.1 mm, metres from 10 m and kilometres from 10 km. ``system`` ``"in"``: inches as a mixed fraction to
    ``1/fraction`` ('17 1/4 in') or, with ``style="decimal"``, to 0.001 in. Lengths that a fraction would print as
    zero are printed as decimals. NaN and infinity print as 'unknown'.
    """
    if not math.isfinite(value):
        return UNKNOWN
    if system == "mm":
        return _metric(value, step)
    if system != "in":
        raise ValueError("system is 'mm' or 'in'")
    inches = value / _INCH
    if style == "fraction" and (inches == 0.0 or abs(inches) * fraction >= 0.5) and abs(inches) < 1e5:
        return _fraction_of_inch(inches, fraction)
    digits = 3 if abs(inches) >= 0.01 or inches == 0.0 else min(9, 2 - math.floor(math.log10(abs(inches))))
    return f"{_trim(inches, digits)} in"


def marked_length(value: float, *, fine: bool = False) -> float:
    """Length ``value`` [m] as a rule and a scriber mark it: whole millimetres from 50 mm, half ones below and where it is ``fine``.

    Common practice, no source.
    """
    step = 1e-3 if abs(value) >= 0.05 and not fine else 0.5e-3
    return round(value / step) * step


def marked_angle(value: float) -> float:
    """Angle ``value`` [degree] as a protractor shows it: half degrees. Common practice, no source."""
    return round(2.0 * value) / 2.0


def _metric(value: float, step: float | None) -> str:
    size = abs(value)
    if step is not None and step > 0.0:
        digits = max(0, min(6, math.ceil(-math.log10(step * 1e3) - 1e-9)))
        text = f"{value * 1e3:.{digits}f}"
        return f"{text.lstrip('-') if float(text) == 0.0 else text} mm"
    if size >= 1e4:
        return f"{_trim(value / 1e3, 2)} km"
    if size >= 10.0:
        return f"{_trim(value, 2)} m"
    if size == 0.0:
        return "0 mm"
    digits = 1 if size >= 0.01 else 2 if size >= 1e-3 else min(9, 2 - math.floor(math.log10(size * 1e3)))
    return f"{_trim(value * 1e3, digits)} mm"


def _fraction_of_inch(inches: float, fraction: int) -> str:
    exact = Fraction(round(abs(inches) * fraction), fraction)
    whole, part = divmod(exact, 1)
    sign = "-" if inches < 0.0 and exact else ""
    if not part:
        return f"{sign}{whole} in"
    return f"{sign}{f'{whole} ' if whole else ''}{part.numerator}/{part.denominator} in"


def format_frequency(value: float, *, digits: int | None = None) -> str:
    """Frequency ``value`` [Hz] in MHz (trade habit) from 1 MHz to 10 GHz, else GHz, kHz or Hz.

    ``digits`` fixed decimals; without it up to three (1 kHz at VHF), trailing zeros removed.
    """
    if not math.isfinite(value):
        return UNKNOWN
    size = abs(value)
    for floor, unit, scale in ((1e10, "GHz", 1e9), (1e6, "MHz", 1e6), (1e3, "kHz", 1e3), (0.0, "Hz", 1.0)):
        if size >= floor:
            number = value / scale
            return f"{_trim(number, 3) if digits is None else f'{number:.{digits}f}'} {unit}"
    raise AssertionError("unreachable: the last floor is zero")


def format_frequency_range(low: float, high: float) -> str:
    """'118-136.975 MHz'."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return UNKNOWN
    return f"{_trim(low / 1e6, 4)}-{_trim(high / 1e6, 4)} MHz"


def format_angle(value: float, *, digits: int = 1) -> str:
    """Angle ``value`` [degree]: '42.5°'."""
    return f"{_trim(value, digits)}°" if math.isfinite(value) else UNKNOWN


def format_dimension(value: float, kind: str, *, angle_digits: int = 1) -> str:
    """A build dimension by its kind: ``length`` [m], ``angle`` [degree] or ``count``."""
    if kind == "length":
        return format_length(value)
    return format_angle(value, digits=angle_digits) if kind == "angle" else f"{value:.0f}"


def format_decibel(value: float, *, digits: int = 2, unit: str = "dB", sign: bool = False) -> str:
    """Level ``value`` in ``unit`` (dB, dBi, dBm): '-3.01 dB'; ``sign`` prints the plus as well."""
    if math.isnan(value):
        return UNKNOWN
    if math.isinf(value):
        return f"{'-' if value < 0 else ''}infinite {unit}"
    text = f"{value:{'+' if sign else ''}.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("+-")
    return f"{text} {unit}"


def format_power(value: float) -> str:
    """Power ``value`` [W] in W, mW, µW or kW with three figures."""
    if not math.isfinite(value):
        return UNKNOWN
    if value == 0.0:
        return "0 W"
    for floor, unit, scale in ((1e3, "kW", 1e3), (1.0, "W", 1.0), (1e-3, "mW", 1e-3), (0.0, "µW", 1e-6)):
        if abs(value) >= floor:
            number = value / scale
            return f"{_trim(number, max(0, 2 - math.floor(math.log10(abs(number)))))} {unit}"
    raise AssertionError("unreachable: the last floor is zero")


def format_component(value: float, kind: str) -> str:
    """An inductance [H] or capacitance [F] to three figures: '45.2 nH', '12.3 pF'."""
    units = {
        "inductance": (("mH", 1e-3), ("µH", 1e-6), ("nH", 1e-9)),
        "capacitance": (("µF", 1e-6), ("nF", 1e-9), ("pF", 1e-12)),
    }[kind]
    if not math.isfinite(value) or value <= 0.0:
        return UNKNOWN
    unit, scale = next(((u, s) for u, s in units if value >= 0.9995 * s), units[-1])
    number = value / scale
    return f"{_trim(number, max(0, 2 - math.floor(math.log10(number))))} {unit}"


def format_impedance(value: complex | float, *, digits: int = 1) -> str:
    """Impedance [ohm]: '50 ohm' for a resistance, '36.5 + j21.3 ohm' for a complex number."""
    number = complex(value)
    if not (math.isfinite(number.real) and math.isfinite(number.imag)):
        return UNKNOWN
    if not isinstance(value, complex):
        return f"{_trim(number.real, digits)} ohm"
    return f"{number.real:.{digits}f} {'-' if number.imag < 0 else '+'} j{abs(number.imag):.{digits}f} ohm"


def format_probability(value: float) -> str:
    """A probability 0..1 as a percentage: nothing is ever quite certain or quite out of the question."""
    return "> 99 %" if value > 0.995 else "< 1 %" if value < 0.005 else f"{100 * value:.0f} %"


def counted(number: int, noun: str) -> str:
    """'1 band', '2 bands'."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def format_ratio(value: float, *, digits: int = 2) -> str:
    """A ratio such as an SWR: '2.50'; infinity prints as 'infinite'."""
    if math.isnan(value):
        return UNKNOWN
    return "infinite" if math.isinf(value) else f"{value:.{digits}f}"
