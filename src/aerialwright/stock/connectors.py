"""Panel sockets of the shelf, as the foot of an antenna."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from aerialwright.stock.tables import find_key, load_table


@dataclass(frozen=True)
class Connector:
    """A row of the connector table; lengths [m], ``highest_frequency`` [Hz].

    ``impedance`` [ohm] is 0 where the type is not a matched one (UHF). ``hole_square`` is 0 without a four-hole
    flange. ``pin_diameter`` and ``aperture_diameter`` are the edges of the coaxial aperture at the flange face,
    ``shell_diameter`` and ``body_length`` the body below the flange. All to be measured on the part in hand.
    """

    key: str
    title: str
    impedance: float
    flange_side: float
    hole_square: float
    hole_diameter: float
    pin_diameter: float
    pin_length: float
    wire_limit: float
    shell_diameter: float
    body_length: float
    aperture_diameter: float
    panel_hole: float
    highest_frequency: float
    thread: str
    source: str
    basis: str


@cache
def _row(key: str) -> Connector:
    row = load_table("connectors")[key]
    return Connector(
        key=key,
        title=row["title"],
        impedance=float(row["impedance"]),
        flange_side=row["flange_side"] * 1e-3,
        hole_square=row["hole_square"] * 1e-3,
        hole_diameter=row["hole_diameter"] * 1e-3,
        pin_diameter=row["pin_diameter"] * 1e-3,
        pin_length=row["pin_length"] * 1e-3,
        wire_limit=row["wire_limit"] * 1e-3,
        shell_diameter=row["shell_diameter"] * 1e-3,
        body_length=row["body_length"] * 1e-3,
        aperture_diameter=row["aperture_diameter"] * 1e-3,
        panel_hole=row["panel_hole"] * 1e-3,
        highest_frequency=row["highest_mhz"] * 1e6,
        thread=row["thread"],
        source=row["source"],
        basis=row["basis"],
    )


def connector(name: str, *, where: str = "") -> Connector:
    """The socket called ``name`` ('UHF', 'SO-239', 'N', ...).

    Raises :class:`~aerialwright.stock.tables.StockError` with the nearest name.
    """
    return _row(find_key("connectors", name, noun="connector", where=where))


def connectors() -> tuple[Connector, ...]:
    """All sockets in the order of the table."""
    return tuple(_row(key) for key in load_table("connectors"))
