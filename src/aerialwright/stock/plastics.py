"""Plastics of the shelf: permittivity and loss tangent at VHF."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from aerialwright.stock.tables import find_key, load_table


@dataclass(frozen=True)
class Plastic:
    """A row of the plastics table; ``permittivity`` relative, ``loss_tangent`` dimensionless."""

    key: str
    title: str
    permittivity: float
    loss_tangent: float
    source: str
    basis: str


@cache
def _row(key: str) -> Plastic:
    row = load_table("plastics")[key]
    return Plastic(
        key, row["title"], float(row["permittivity"]), float(row["loss_tangent"]), row["source"], row["basis"]
    )


def plastic(name: str, *, where: str = "") -> Plastic:
    """The plastic called ``name``; raises :class:`~aerialwright.stock.tables.StockError` with the nearest name."""
    return _row(find_key("plastics", name, noun="plastic", where=where))


def plastics() -> tuple[Plastic, ...]:
    """All plastics in the order of the table."""
    return tuple(_row(key) for key in load_table("plastics"))
