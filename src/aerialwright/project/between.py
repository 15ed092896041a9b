"""``[[between]]``: the chain of parts from the antenna to its line, as a person writes it."""

from __future__ import annotations

import math

from aerialwright.lines.network import Element, LineSection, Part, Series, Shunt, Stub, Transformer
from aerialwright.project.schema import Capacitance, Impedance, ImpedanceOrZero, Inductance, Length, Ratio, Table, Word
from aerialwright.project.text import Location, TomlText
from aerialwright.stock.cables import cable
from aerialwright.stock.tables import StockError

_PART, _LINE = (
    ("resistance", "inductance", "capacitance", "quality"),
    ("cable", "impedance", "velocity_factor", "length"),
)
#: Keys that belong to each kind, beside ``kind``.
KEYS = {
    "series": _PART,
    "shunt": _PART,
    "line": _LINE,
    "stub": (*_LINE, "end"),
    "transformer": ("turns", "leakage", "magnetising", "quality"),
}


class Between(Table):
    """One element; which keys it may have hangs on ``kind``."""

    kind: Word
    resistance: ImpedanceOrZero | None = None
    inductance: Inductance | None = None
    capacitance: Capacitance | None = None
    quality: Ratio | None = None
    cable: Word | None = None
    impedance: Impedance | None = None
    velocity_factor: Ratio | None = None
    length: Length | None = None
    end: Word | None = None
    turns: Ratio | None = None
    leakage: Inductance | None = None
    magnetising: Inductance | None = None


def elements(tables: list[Between], source: TomlText) -> tuple[Element, ...]:
    """The elements of a file, antenna first.

    Raises :class:`~aerialwright.base.errors.ProjectError` naming line, key, fault and remedy.
    """
    return tuple(_element(table, ("between", number), source) for number, table in enumerate(tables))


def _element(table: Between, location: Location, source: TomlText) -> Element:
    if table.kind not in KEYS:
        raise source.error(
            f"'{table.kind[:40]}' is no kind of part", (*location, "kind"), f"allowed: {', '.join(KEYS)}"
        )
    for key in Between.model_fields:
        if key != "kind" and key not in KEYS[table.kind] and getattr(table, key) is not None:
            raise source.error(f"does not belong to a {table.kind}", (*location, key), "leave it out")
    quality = math.inf if table.quality is None else table.quality
    if quality < 1.0:
        raise source.error("is no quality of a part", (*location, "quality"), "give Q, 20 to 500 for most coils")
    if table.kind in ("line", "stub"):
        return _line(table, location, source)
    if table.kind == "transformer":
        if table.turns is None:
            raise source.error(
                "turns is missing", location, "give turns on the antenna's side over those on the line's"
            )
        return Transformer(table.turns, table.leakage, table.magnetising, quality)
    part = Part(table.resistance, table.inductance, table.capacitance, quality)
    if not table.resistance and table.inductance is None and table.capacitance is None:
        raise source.error("has no part", location, "give resistance, inductance or capacitance")
    return Series(part) if table.kind == "series" else Shunt(part)


def _line(table: Between, location: Location, source: TomlText) -> Element:
    if table.length is None:
        raise source.error("length is missing", location, "give the length as it is cut")
    if (table.cable is None) == (table.impedance is None):
        raise source.error(
            "is of one cable or of one impedance", location, "give cable = 'RG-58' or impedance = '75 ohm'"
        )
    if table.cable is not None:
        if table.velocity_factor is not None:
            raise source.error("is the cable's own", (*location, "velocity_factor"), "leave it out, or give impedance")
        try:
            row = cable(table.cable)
        except StockError as error:
            raise source.error(error.what, (*location, "cable"), error.mend) from None
        line = LineSection(row.impedance, table.length, row.velocity_factor, row.k1, row.k2)
    else:
        velocity = 1.0 if table.velocity_factor is None else table.velocity_factor
        if not 0.05 <= velocity <= 1.0:
            raise source.error("is no part of the velocity of light", (*location, "velocity_factor"), "give 0.66 or so")
        assert table.impedance is not None  # one of the two, as checked above
        line = LineSection(table.impedance, table.length, velocity)
    if table.kind == "line":
        return line
    if table.end not in ("open", "short"):
        raise source.error("does not say how the stub ends", (*location, "end"), "give end = 'open' or 'short'")
    return Stub(line, table.end == "short")
