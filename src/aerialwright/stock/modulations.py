"""What a receiver needs to decode each kind of signal, with source and basis beside each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from aerialwright.stock.tables import find_key, load_table


@dataclass(frozen=True)
class Modulation:
    """A row of the table. ``bandwidth`` [Hz] noise is counted in; ``needed`` is the carrier to noise in it [dB] above which ``what``
    holds, uncertain by ``spread`` [dB] either way."""

    key: str
    title: str
    bandwidth: float
    needed: float
    what: str
    spread: float
    source: str
    basis: str

    @property
    def needed_density(self) -> float:
        """Carrier to noise density needed [dBHz]."""
        return self.needed + 10.0 * math.log10(self.bandwidth)


@cache
def _row(key: str) -> Modulation:
    row = load_table("modulations")[key]
    bandwidth = float(row["bandwidth"])
    if "carrier_to_noise" in row:
        needed = float(row["carrier_to_noise"])
    else:
        # C/N0 = Eb/N0 + 10 log10(bit rate), by definition of both.
        needed = float(row["energy_to_noise"]) + 10.0 * math.log10(float(row["bit_rate"]) / bandwidth)
    return Modulation(
        key, row["title"], bandwidth, needed, row["what"], float(row["spread"]), row["source"], row["basis"]
    )


def modulation(name: str) -> Modulation:
    """The row that ``name`` means; raises :class:`~aerialwright.stock.tables.StockError` with the nearest name otherwise."""
    return _row(find_key("modulations", name, noun="modulation"))


def modulations() -> tuple[Modulation, ...]:
    """All rows, in the order of the table."""
    return tuple(_row(key) for key in load_table("modulations"))
