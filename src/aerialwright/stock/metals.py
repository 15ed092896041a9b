"""Metals of the shelf: what they conduct, whether they solder, how they sit in the galvanic order."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from aerialwright.stock.tables import find_key, load_table


@dataclass(frozen=True)
class StockMetal:
    """A row of the metals table.

    ``conductivity`` [S/m] at 20 C; ``solder`` is ``"soft"``, ``"active flux"`` or ``"no"``; ``potential`` [V] in sea
    water; ``source`` is a key of the register of sources, ``basis`` says read or memory and what is uncertain.
    """

    key: str
    title: str
    conductivity: float
    relative_permeability: float
    solder: str
    potential: float
    source: str
    basis: str


@cache
def _row(key: str) -> StockMetal:
    row = load_table("metals")[key]
    return StockMetal(
        key=key,
        title=row["title"],
        conductivity=float(row["conductivity"]),
        relative_permeability=float(row.get("relative_permeability", 1.0)),
        solder=row["solder"],
        potential=float(row["potential"]),
        source=row["source"],
        basis=row["basis"],
    )


def metal(name: str, *, where: str = "") -> StockMetal:
    """The metal called ``name`` ('copper', 'aluminum', 'hardware cloth', ...).

    Raises :class:`~aerialwright.stock.tables.StockError` with the nearest name.
    """
    return _row(find_key("metals", name, noun="metal", where=where))


def metals() -> tuple[StockMetal, ...]:
    """All metals in the order of the table."""
    return tuple(_row(key) for key in load_table("metals"))


def corrosion_voltage(first: str, second: str) -> float:
    """Difference of the sea-water potentials of two metals [V], never negative."""
    return abs(metal(first).potential - metal(second).potential)
