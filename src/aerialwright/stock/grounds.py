"""Kinds of ground of the shelf: permittivity and conductivity over frequency."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from aerialwright.stock.tables import find_key, load_table


@dataclass(frozen=True)
class GroundRow:
    """A row of the table of grounds; ``frequency`` (n,) [Hz], none for one pair of constants; ``permittivity`` relative (n,)
    and ``conductivity`` (n,) [S/m]."""

    key: str
    title: str
    frequency: tuple[float, ...]
    permittivity: tuple[float, ...]
    conductivity: tuple[float, ...]
    source: str
    basis: str


@cache
def _row(key: str) -> GroundRow:
    row = load_table("grounds")[key]
    return GroundRow(
        key, row["title"], tuple(1e6 * value for value in row.get("frequency", ())),
        tuple(map(float, row["permittivity"])), tuple(map(float, row["conductivity"])), row["source"], row["basis"],
    )  # fmt: skip


def ground(name: str, *, where: str = "") -> GroundRow:
    """The kind of ground called ``name``; raises :class:`~aerialwright.stock.tables.StockError` with the nearest name."""
    return _row(find_key("grounds", name, noun="kind of ground", where=where))


def grounds() -> tuple[GroundRow, ...]:
    """All kinds of ground in the order of the table."""
    return tuple(_row(key) for key in load_table("grounds"))
