"""Coaxial cables of the shelf: impedance, velocity factor and loss over frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from aerialwright.stock.tables import find_key, load_table

#: Feed line of unknown make: the builder gives impedance and a measured loss.
OTHER = "other"


@dataclass(frozen=True)
class Cable:
    """A row of the cable table.

    ``impedance`` [ohm], ``velocity_factor`` of light; ``k1``, ``k2``: loss in dB/100 m is ``k1 sqrt(f) + k2 f`` with
    ``f`` in MHz (conductor and dielectric part); ``outer_diameter`` and ``bend_radius`` (fixed) [m];
    ``centre_diameter`` and
    ``dielectric_diameter`` [m], what a bare end shows to an antenna; ``loss_points`` the (MHz, dB/100 m) pairs that were fitted.
    """

    key: str
    title: str
    impedance: float
    velocity_factor: float
    k1: float
    k2: float
    outer_diameter: float
    bend_radius: float
    dielectric: str
    loss_points: tuple[tuple[float, float], ...]
    source: str
    basis: str
    centre_diameter: float = 0.0
    dielectric_diameter: float = 0.0

    def loss_per_metre(self, frequency: float) -> float:
        """Matched loss [dB/m] at ``frequency`` [Hz]."""
        megahertz = frequency * 1e-6
        return (self.k1 * math.sqrt(megahertz) + self.k2 * megahertz) / 100.0


@cache
def _row(key: str) -> Cable:
    row = load_table("cables")[key]
    return Cable(
        key=key,
        title=row["title"],
        impedance=float(row["impedance"]),
        velocity_factor=float(row["velocity_factor"]),
        k1=float(row["k1"]),
        k2=float(row["k2"]),
        outer_diameter=row["outer_diameter_mm"] * 1e-3,
        bend_radius=row["bend_radius_mm"] * 1e-3,
        dielectric=row["dielectric"],
        loss_points=tuple((float(a), float(b)) for a, b in row["loss_points"]),
        source=row["source"],
        basis=row["basis"],
        centre_diameter=row["centre_mm"] * 1e-3,
        dielectric_diameter=row["dielectric_mm"] * 1e-3,
    )


def cable(name: str, *, where: str = "") -> Cable:
    """The cable called ``name`` ('RG-58', 'rg213', ...).

    Raises :class:`~aerialwright.stock.tables.StockError` with the nearest name.
    """
    return _row(find_key("cables", name, noun="cable type", where=where))


def cables() -> tuple[Cable, ...]:
    """All cables in the order of the table."""
    return tuple(_row(key) for key in load_table("cables"))
