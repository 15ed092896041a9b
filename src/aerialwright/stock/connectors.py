"""Panel sockets of the shelf, as the foot of an antenna."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from aerialwright.stock.cables import Cable
from aerialwright.stock.tables import find_key, load_table

#: Key of the feed that is no connector.
COAX_END = "coax end"


@dataclass(frozen=True)
class Connector:
    """A row of the connector table; lengths [m], ``highest_frequency`` [Hz].

    ``impedance`` [ohm] is 0 where the type is not a matched one (UHF). ``hole_square`` is 0 without a four-hole
    flange. ``pin_diameter`` and ``aperture_diameter`` are the edges of the coaxial aperture at the flange face,
    ``shell_diameter`` and ``body_length`` the body below the flange. All to be measured on the part in hand.
    ``sections`` are pairs (impedance [ohm], electrical length [m]): what a mated pair puts between antenna and coax, the
    worst measured one first; empty where there is no connector.
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
    sections: tuple[tuple[float, float], ...] = ()

    @property
    def bare(self) -> bool:
        """True for the end of a coax without a connector."""
        return self.key == COAX_END


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
        sections=tuple((float(z0), length * 1e-3) for z0, length in row["sections"]),
    )


def connector(name: str, *, where: str = "") -> Connector:
    """The socket called ``name`` ('UHF', 'SO-239', 'N', ...).

    Raises :class:`~aerialwright.stock.tables.StockError` with the nearest name.
    """
    return _row(find_key("connectors", name, noun="connector", where=where))


def connectors() -> tuple[Connector, ...]:
    """All sockets in the order of the table."""
    return tuple(_row(key) for key in load_table("connectors"))


def coax_end(cable: Cable) -> Connector:
    """The bare end of a cable: its dielectric is the aperture, its centre conductor the pin, its jacket the body."""
    return replace(
        _row(COAX_END),
        title=f"bare end of {cable.title}, braid spread on the plate",
        impedance=cable.impedance,
        pin_diameter=cable.centre_diameter,
        wire_limit=cable.centre_diameter,
        aperture_diameter=cable.dielectric_diameter,
        shell_diameter=cable.outer_diameter,
        panel_hole=cable.outer_diameter + 0.2e-3,
        flange_side=max(16e-3, 2.0 * cable.outer_diameter),
        basis=f"diameters of the cable from memory ({cable.source})",
    )
