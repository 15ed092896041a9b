"""Real ground: its permittivity and conductivity over frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from aerialwright.base.constants import eps0
from aerialwright.base.errors import StructureError
from aerialwright.stock.grounds import ground as ground_row

#: What a person may write down: beyond this it is no earth. Metal starts near 1e5 S/m.
MOST_PERMITTIVITY, MOST_CONDUCTIVITY = 100.0, 1e8


@dataclass(frozen=True)
class Ground:
    """Even ground of one kind that fills everything below z = 0.

    ``permittivity`` (relative) and ``conductivity`` [S/m] hold one value each, or one for each of ``frequency`` [Hz],
    rising; between those the conductivity is linear on logarithmic scales and the permittivity over the logarithm of frequency.

    Raises
    ------
    StructureError
        For constants no ground has: permittivity below 1 or above 100, negative or infinite conductivity.
    """

    name: str
    permittivity: tuple[float, ...]
    conductivity: tuple[float, ...]
    frequency: tuple[float, ...] = ()
    source: str = ""

    def __post_init__(self) -> None:
        count = max(len(self.frequency), 1)
        if len(self.permittivity) != count or len(self.conductivity) != count:
            raise StructureError("the ground's tables have different lengths", where=self.name, mend="pair them up")
        if not all(1.0 <= value <= MOST_PERMITTIVITY for value in self.permittivity):
            raise StructureError(
                "the ground's relative permittivity is not between 1 and 100",
                where=self.name,
                mend="dry sand is about 3, garden soil 15, water 80",
            )
        if not all(0.0 <= value <= MOST_CONDUCTIVITY for value in self.conductivity):
            raise StructureError(
                "the ground's conductivity is not between 0 and 1e8 S/m",
                where=self.name,
                mend="dry ground is about 0.0001 S/m, garden soil 0.005 S/m, sea water 5 S/m",
            )

    @classmethod
    def constant(cls, *, permittivity: float, conductivity: float) -> Ground:
        """Ground of one relative permittivity and one conductivity [S/m] at all frequencies."""
        name = f"ground of permittivity {permittivity:g} and {conductivity:g} S/m"
        return cls(name, (permittivity,), (conductivity,))

    @classmethod
    def named(cls, kind: str, *, where: str = "") -> Ground:
        """Ground of a kind of the shelf (``sea water``, ``wet ground``, ...); raises ``StockError`` with the nearest name."""
        row = ground_row(kind, where=where)
        return cls(row.key, row.permittivity, row.conductivity, row.frequency, row.source)

    def at(self, frequency: float) -> tuple[float, float]:
        """Relative permittivity and conductivity [S/m] at ``frequency`` [Hz].

        Raises
        ------
        StructureError
            Outside the frequencies the constants are known for.
        """
        if not self.frequency:
            return self.permittivity[0], self.conductivity[0]
        low, high = self.frequency[0], self.frequency[-1]
        if not low <= frequency <= high:
            raise StructureError(
                f"the constants of {self.name} are known from {low / 1e6:g} to {high / 1e6:g} MHz only",
                where=f"ground at {frequency / 1e6:.4g} MHz",
                mend="give permittivity and conductivity of the ground yourself",
            )
        x, at = math.log(frequency), np.log(self.frequency)
        # The table may hold no zero here: conductivities of the shelf do not vanish.
        conductivity = math.exp(float(np.interp(x, at, np.log(self.conductivity))))
        return float(np.interp(x, at, self.permittivity)), conductivity

    def relative(self, frequency: float) -> complex:
        """Complex relative permittivity, er - j sigma / (w eps0), at ``frequency`` [Hz]."""
        return _relative(self, frequency)


@lru_cache(maxsize=256)
def _relative(ground: Ground, frequency: float) -> complex:
    permittivity, conductivity = ground.at(frequency)
    return complex(permittivity, -conductivity / (2.0 * math.pi * frequency * eps0))
