"""The panel socket as metal: aperture, flange and the body below it.

The flange is the disc of equal area, the body a closed tube under it: that closes the metal behind the feed. The pin counts
only where the rod is too thick to stand in the socket's aperture itself.
"""

from __future__ import annotations

from aerialwright.antennas.family import Conductor, aperture_radius, flange_radius
from aerialwright.base.errors import DesignError
from aerialwright.stock.connectors import Connector
from aerialwright.structure.model import ApertureFeed, Metal, Rod, Surface


def rod_radius_in_aperture(socket: Connector, radius: float) -> float:
    """Inner radius [m] of the aperture: the rod itself where it fits with air around it, else the pin."""
    return radius if radius < 0.7 * aperture_radius(socket) else 0.5 * socket.pin_diameter


def upright(socket: Connector, rod: Conductor, *, length: float, name: str) -> tuple[Rod, ...]:
    """A rod of ``length`` [m] from the flange face up, on the socket's pin where the rod is too thick."""
    if rod_radius_in_aperture(socket, rod.radius) == rod.radius:
        return (Rod(name, ((0.0, 0.0, 0.0), (0.0, 0.0, length)), rod.radius, 1, rod.metal),)
    if length <= socket.pin_length + 1e-3:
        raise DesignError("the rod ends inside the socket's cup", where=name, mend="make it longer")
    return (
        Rod("pin", ((0.0, 0.0, 0.0), (0.0, 0.0, socket.pin_length)), 0.5 * socket.pin_diameter, 1, rod.metal),
        Rod(name, ((0.0, 0.0, socket.pin_length), (0.0, 0.0, length)), rod.radius, 1, rod.metal),
    )


def body(socket: Connector, metal: Metal, *, plate_radius: float) -> tuple[Surface, ...]:
    """Flange (or plate) out to ``plate_radius`` [m] and the socket's body below it."""
    b = aperture_radius(socket)
    shell = max(0.5 * socket.shell_diameter, b)
    if plate_radius <= shell + 0.5e-3:
        raise DesignError(
            f"a hub of radius {plate_radius * 1e3:.1f} mm does not cover the {socket.key} socket's body ({shell * 1e3:.1f} mm)",
            where="hub",
            mend="use a larger hub plate or a smaller socket",
        )
    return (
        Surface("flange", ((b, 0.0), (plate_radius, 0.0)), metal, 2.0e-3),
        Surface("socket body", ((shell, 0.0), (shell, -socket.body_length), (0.0, -socket.body_length)), metal, 2.0e-3),
    )


def feed(socket: Connector, *, radius: float) -> ApertureFeed:
    """Feed across the aperture for an inner conductor of ``radius`` [m]."""
    inner = rod_radius_in_aperture(socket, radius)
    return ApertureFeed(positive=(inner, 0.0), negative=(aperture_radius(socket), 0.0))


def hub_plate_radius(socket: Connector, *, count: int, rod: Conductor) -> float:
    """Radius [m] of the plate that ``count`` rods start from: the flange itself where its four holes serve, else a plate."""
    if socket.hole_square > 0 and count in (2, 4):
        return flange_radius(socket)
    spread = rod.radius / _sine(count)
    return max(0.030, flange_radius(socket) + 6e-3, spread * 1.3 + 4e-3)


def _sine(count: int) -> float:
    import math

    return math.sin(math.pi / count) if count > 1 else 1.0
