"""Units and spellings that :mod:`aerialwright.base.units` knows: plain tables."""

from __future__ import annotations

import math
from fractions import Fraction

INCH = Fraction(254, 10000)
FOOT = 12 * INCH


def _spelled(**sizes: Fraction | int | float) -> dict[str, Fraction]:
    """One size for every spelling, spellings parted by commas in ``_SPELLINGS``."""
    return {spelling: Fraction(size) for unit, size in sizes.items() for spelling in _SPELLINGS[unit].split(",")}


_SPELLINGS = {
    "um": "µm,um,micron",
    "mm": "mm,MM,millimetre,millimetres,millimeter,millimeters",
    "cm": "cm,CM",
    "m": "m,metre,metres,meter,meters",
    "km": "km,KM",
    "inch": "in,in.,In,IN,inch,inches,\",''",
    "foot": "ft,ft.,FT,foot,feet,'",
    "yard": "yd",
    "thou": "thou",
    "nmi": "nmi",
    "hz": "hz",
    "khz": "khz",
    "mhz": "mhz",
    "ghz": "ghz",
    "degree": "°,deg,deg.,degree,degrees",
    "radian": "rad",
    "uw": "µW,uW",
    "mw": "mW",
    "watt": "W,watt,watts",
    "kw": "kW",
    "ohm": "ohm,ohms,Ohm,Ohms,Ω",
    "kohm": "kohm,kΩ",
    "nh": "nH",
    "uh": "µH,uH",
    "mh": "mH",
    "pf": "pF",
    "nf": "nF",
    "uf": "µF,uF",
    "db": "db",
    "dbi": "dbi",
    "dbd": "dbd",
}
_MILLI = Fraction(1, 1000)
#: kind -> unit spelling -> size in SI. Spellings are exact except where CASE_FREE says that case cannot mislead.
UNITS: dict[str, dict[str, Fraction]] = {
    "length": _spelled(
        um=_MILLI**2,
        mm=_MILLI,
        cm=Fraction(1, 100),
        m=1,
        km=1000,
        inch=INCH,
        foot=FOOT,
        yard=3 * FOOT,
        thou=INCH / 1000,
        nmi=1852,
    ),
    "frequency": _spelled(hz=1, khz=10**3, mhz=10**6, ghz=10**9),
    "angle": _spelled(degree=1, radian=180.0 / math.pi),
    "power": _spelled(uw=_MILLI**2, mw=_MILLI, watt=1, kw=1000),
    "impedance": _spelled(ohm=1, kohm=1000),
    "inductance": _spelled(nh=_MILLI**3, uh=_MILLI**2, mh=_MILLI),
    "capacitance": _spelled(pf=_MILLI**4, nf=_MILLI**3, uf=_MILLI**2),
    "decibel": _spelled(db=1),
    "gain": _spelled(dbi=1, dbd=1),
    "ratio": {},
    "count": {},
}
CASE_FREE = {"frequency", "decibel", "gain"}
EXAMPLE = {
    "length": "'3.2 mm', '17 1/4 in', '6 ft 3 in' or '12 AWG'",
    "frequency": "'156.8 MHz'",
    "angle": "'42 deg'",
    "power": "'5 W'",
    "impedance": "'50 ohm'",
    "inductance": "'120 nH'",
    "capacitance": "'4.7 pF'",
    "decibel": "'2.5 dB'",
    "gain": "'2.15 dBi'",
    "ratio": "'2.5'",
    "count": "'4'",
}
NOUN = {
    "angle": "an angle",
    "impedance": "an impedance",
    "inductance": "an inductance",
    "decibel": "a level in dB",
}
#: Largest sensible magnitude in SI; beyond is a slip of the unit, not an antenna.
LARGEST = {
    "length": 1.0e8,
    "frequency": 1.0e12,
    "angle": 3600.0,
    "power": 1.0e7,
    "impedance": 1.0e6,
    "inductance": 1.0,
    "capacitance": 1.0e-3,
    "decibel": 400.0,
    "gain": 100.0,
    "ratio": 1.0e6,
    "count": 1.0e6,
}
#: Smallest magnitude above zero in SI: a picometre, a picowatt; a thousandth of a picofarad.
SMALLEST = 1.0e-12
SMALLEST_OF = {"capacitance": 1.0e-15}
#: Gain of a half-wave dipole over isotropic, 10 log10(1.6409) [@balanis-2016].
DIPOLE_GAIN = 2.15

VULGAR_FRACTIONS = {
    "½": "1/2",
    "⅓": "1/3",
    "⅔": "2/3",
    "¼": "1/4",
    "¾": "3/4",
    "⅕": "1/5",
    "⅖": "2/5",
    "⅗": "3/5",
    "⅘": "4/5",
    "⅙": "1/6",
    "⅚": "5/6",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
LOOK_ALIKES = str.maketrans(
    {
        "−": "-",
        "–": "-",
        "—": "-",
        "‑": "-",
        "’": "'",
        "‘": "'",
        "′": "'",
        "”": '"',
        "“": '"',
        "″": '"',
        "μ": "µ",
        "Ω": "Ω",
        "º": "°",
        "⁄": "/",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "\t": " ",
    }
)
