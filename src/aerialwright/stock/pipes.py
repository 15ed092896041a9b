"""Pipe that is called by a size it does not have: a stock diameter that is a nominal one."""

from __future__ import annotations

from dataclasses import dataclass

from aerialwright.stock.tables import load_table

INCH = 25.4e-3
#: Diameters this close [m] are the same.
SAME = 0.06e-3


@dataclass(frozen=True)
class NominalSize:
    """A name in inches and the outside diameter [m] of what is sold under it."""

    title: str
    name: str
    outside: float
    source: str


def sold_as(*, kind: str, material: str, diameter: float) -> NominalSize | None:
    """The size whose name, taken as a diameter, is ``diameter`` [m]; None where no such thing is sold by that name."""
    for row in load_table("pipes").values():
        if kind not in row["kinds"] or material.casefold() not in (name.casefold() for name in row["materials"]):
            continue
        for name, nominal, outside in row["sizes"]:
            if abs(nominal * INCH - diameter) <= SAME:
                return NominalSize(row["title"], name, outside * INCH, row["source"])
    return None
