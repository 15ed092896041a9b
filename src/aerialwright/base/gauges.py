"""Numbered wire gauges: American (by formula), imperial standard, and steel wire; and the trap of a bare 'ga'."""

from __future__ import annotations

import tomllib
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from aerialwright.base.errors import QuantityError

_INCH = Fraction(254, 10000)


@lru_cache(maxsize=1)
def _tables() -> dict[str, dict[str, Fraction]]:
    with Path(__file__).with_name("gauges.toml").open("rb") as stream:
        document = tomllib.load(stream)
    return {
        key: {number: Fraction(text) * _INCH for number, text in table["diameter_inch"].items()}
        for key, table in document.items()
    }


def gauge_number(text: str) -> str:
    """Canonical gauge number: '07' -> '7', '0000' -> '4/0', '1/0' -> '0'."""
    if set(text) == {"0"} and len(text) > 1:
        text = f"{len(text)}/0"
    if text in ("1/0", "0"):
        return "0"
    return text if "/" in text else str(int(text))


def awg_diameter(number: int) -> float:
    """Diameter of American wire gauge ``number`` [m]; 0, -1, -2, -3 are 1/0 to 4/0.

    ``0.127 mm * 92**((36 - n) / 39)`` [@astm-b258]. Raises :class:`QuantityError` outside 4/0 to 50.
    """
    if not -3 <= number <= 50:
        raise QuantityError(
            f"AWG {number} is not a wire gauge", mend="AWG runs from 4/0 to 50; give the diameter in mm"
        )
    return float(0.127e-3 * 92.0 ** ((36 - number) / 39.0))


def gauge_diameter(system: str, number: str) -> float:
    """Diameter [m] of gauge ``number`` ('12', '4/0', '0000') of ``system``: ``awg``, ``swg`` or ``steel``.

    SWG from [@bs-3737], steel wire from [@washburn-moen-gauge]. Raises :class:`QuantityError` for a number not in
    the gauge.
    """
    canonical = gauge_number(number)
    if system == "awg":
        return awg_diameter(1 - int(canonical[0]) if "/" in canonical else int(canonical))
    table = _tables()[system]
    if canonical not in table:
        name = "SWG" if system == "swg" else "steel wire gauge"
        raise QuantityError(f"{name} {number} is not in the gauge table", mend="give the diameter in mm or inches")
    return float(table[canonical])


def gauge_meanings(number: str) -> str:
    """What a bare gauge number could mean, for the error that refuses it: 'AWG 19 (0.91 mm), ...'."""
    found = []
    for system, name in (("awg", "AWG {}"), ("swg", "SWG {}"), ("steel", "steel wire gauge {}")):
        try:
            found.append(f"{name.format(number)} ({gauge_diameter(system, number) * 1e3:.2f} mm)")
        except QuantityError:
            continue
    return " or ".join(found)
