"""Metals of the shelf: what they conduct, whether they solder, how they sit in the galvanic order."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from functools import cache

from aerialwright.base.constants import mu0
from aerialwright.stock.tables import find_key, load_table


@dataclass(frozen=True)
class StockMetal:
    """A row of the metals table.

    ``conductivity`` [S/m] at 20 C; ``solder`` is ``"soft"``, ``"active flux"`` or ``"no"``; ``potential`` [V] in sea
    water; ``source`` is a key of the register of sources, ``basis`` says read or memory and what is uncertain.
    A plated metal has the conductivity of its plating, which is ``plating`` [m] thick over the metal ``base``. ``bend``: smallest
    inside radius of a cold bend over the diameter of a rod or the thickness of a sheet (memory).
    """

    key: str
    title: str
    conductivity: float
    relative_permeability: float
    solder: str
    potential: float
    bend: float
    source: str
    basis: str
    plating: float = 0.0
    base: str = ""

    def skin_depth(self, frequency: float) -> float:
        """Skin depth [m] at ``frequency`` [Hz]: ``1 / sqrt(pi f mu sigma)`` [@pozar]."""
        return 1.0 / math.sqrt(math.pi * frequency * mu0 * self.relative_permeability * self.conductivity)


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
        bend=float(row["bend"]),
        source=row["source"],
        basis=row["basis"],
        plating=row.get("plating_um", 0.0) * 1e-6,
        base=row.get("base", ""),
    )


def metal(name: str, *, where: str = "") -> StockMetal:
    """The metal called ``name`` ('copper', 'aluminum', 'hardware cloth', ...).

    Raises :class:`~aerialwright.stock.tables.StockError` with the nearest name.
    """
    return _row(find_key("metals", name, noun="metal", where=where))


def metals() -> tuple[StockMetal, ...]:
    """All metals in the order of the table."""
    return tuple(_row(key) for key in load_table("metals"))


def surface_conductivity(row: StockMetal, *, frequency: float) -> float:
    """Conductivity [S/m] of the even, non-magnetic metal with the same surface resistance at ``frequency`` [Hz].

    For a plating of thickness d over a base, a wave line of the plating's impedance ended in the base's::

        Z = Z1 (Z2 + Z1 tanh(g1 d)) / (Z1 + Z2 tanh(g1 d)),   Z = g / sigma,   g = sqrt(j w mu sigma)

    and ``sigma = w mu0 / (2 Re(Z)^2)``: that of the plating where it is thicker than its skin, that of the base where it is
    much thinner [@pozar].
    """
    omega = 2.0 * math.pi * frequency

    def wave(of: StockMetal) -> tuple[complex, complex]:
        gamma = cmath.sqrt(1j * omega * mu0 * of.relative_permeability * of.conductivity)
        return gamma, gamma / of.conductivity

    gamma, z = wave(row)
    if row.plating > 0.0:
        _, below = wave(metal(row.base))
        t = cmath.tanh(gamma * row.plating)
        z = z * (below + z * t) / (z + below * t)
    return omega * mu0 / (2.0 * z.real**2)


def corrosion_voltage(first: str, second: str) -> float:
    """Difference of the sea-water potentials of two metals [V], never negative."""
    return abs(metal(first).potential - metal(second).potential)
