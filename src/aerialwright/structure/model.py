"""Metal in space: rods, surfaces of revolution, the feed, copies about the axis.

Everything is immutable and in SI units. The z axis is the axis of symmetry and points up.
Points of rods are ``(x, y, z)`` in metres; points of surfaces are ``(rho, z)`` in metres.
Two pieces are joined where they share a point (within :data:`JOIN_TOLERANCE`): rod end on
rod end, or a rod end on a profile vertex at the same ``(rho, z)``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from aerialwright.structure.ground import Ground

#: Two points closer than this (m) are one point. 1 micrometre: far below a workshop's mark.
JOIN_TOLERANCE = 1e-6


@dataclass(frozen=True)
class Metal:
    """A conductor: ``conductivity`` [S/m], relative permeability, and the source key of the numbers."""

    name: str
    conductivity: float
    relative_permeability: float = 1.0
    source: str = ""


@dataclass(frozen=True)
class Mesh:
    """A bonded square mesh: centre-to-centre ``pitch`` [m] and ``wire_diameter`` [m]."""

    pitch: float
    wire_diameter: float


@dataclass(frozen=True)
class Coating:
    """Plastic round a rod: insulation on it, or a pipe over it with air between.

    ``inner_radius`` [m] is the rod's own radius where the plastic touches, the pipe's bore otherwise;
    ``outer_radius`` [m]; relative permittivity and loss tangent of the plastic.
    """

    inner_radius: float
    outer_radius: float
    permittivity: float
    loss_tangent: float = 0.0


@dataclass(frozen=True)
class Load:
    """A lumped impedance in series with a rod, ``distance`` [m] along it from its first point: a choke, a coil, a resistor.

    Resistance [ohm] and inductance [H] in series, with the capacitance [F] across both (0: none). Of a rod with copies
    each copy has one.
    """

    rod: str
    distance: float
    resistance: float = 0.0
    inductance: float = 0.0
    capacitance: float = 0.0

    def impedance(self, frequency: float) -> complex:
        """Impedance [ohm] at ``frequency`` [Hz]."""
        omega = 2.0 * math.pi * frequency
        series = complex(self.resistance, omega * self.inductance)
        if self.capacitance == 0.0:
            return series
        return series / (1.0 + 1j * omega * self.capacitance * series)


@dataclass(frozen=True)
class Rod:
    """Round rod, wire or tube along a polyline, and its copies turned about the z axis.

    Parameters
    ----------
    name : str
        What a person calls it ("radial", "spoke").
    points : tuple of (x, y, z)
        Centre line of the first copy [m], at least two points.
    radius : float
        Outer radius [m].
    copies : int
        Number of equal rods, copy ``k`` turned by ``2 pi k / copies`` about z.
    metal : Metal or None
        None means a perfect conductor.
    coating : Coating or None
        Plastic over its whole length.
    """

    name: str
    points: tuple[tuple[float, float, float], ...]
    radius: float
    copies: int = 1
    metal: Metal | None = None
    coating: Coating | None = None


@dataclass(frozen=True)
class Surface:
    """Thin sheet of revolution about z, given by its profile ``((rho, z), ...)`` [m].

    A profile point on the axis has ``rho = 0``. ``mesh`` replaces solid sheet by wire mesh.
    """

    name: str
    profile: tuple[tuple[float, float], ...]
    metal: Metal | None = None
    thickness: float = 1.0e-3
    mesh: Mesh | None = None


@dataclass(frozen=True)
class ApertureFeed:
    """Feed across a straight gap of revolution between two profile points ``(rho, z)`` [m].

    ``positive`` is the profile point on the inner conductor (rod foot, upper arm), ``negative``
    the one on the outer conductor (flange, lower arm). Equal ``z`` is a coaxial aperture (field
    falling as 1/rho); equal ``rho`` is a cylindrical gap (even field). The metal on both sides must
    close toward the axis (solid rods, shells with a bottom, tubes longer than four radii): the program refuses an
    open one.
    The impedance is referred to the aperture itself.
    """

    positive: tuple[float, float]
    negative: tuple[float, float]


@dataclass(frozen=True)
class RodFeed:
    """Feed in a cylindrical gap of ``width`` [m] in a rod, centred ``distance`` [m] from its first point.

    With ``distance = 0`` on a rod that starts on the axis (mode 1) or on the ground, the gap is at
    that end. The rod's first-to-last direction is the positive current direction.
    """

    rod: str
    distance: float
    width: float


@dataclass(frozen=True)
class Structure:
    """All metal of an antenna with its one feed.

    ``ground`` is ``"none"``, ``"perfect"`` (infinite conducting plane at z = 0) or a :class:`Ground` that fills z < 0.
    ``mode`` is the azimuthal mode: 0, or 1 for arms fed in phase quadrature. ``loads`` are lumped impedances in rods.
    """

    name: str
    rods: tuple[Rod, ...]
    surfaces: tuple[Surface, ...]
    feed: ApertureFeed | RodFeed
    ground: str | Ground = "none"
    mode: int = 0
    loads: tuple[Load, ...] = ()
    notes: tuple[str, ...] = ()

    def largest_size(self) -> float:
        """Diagonal of the box that holds the structure [m]."""
        reach = 0.0
        low, high = float("inf"), float("-inf")
        for rod in self.rods:
            for x, y, z in rod.points:
                reach = max(reach, math.hypot(x, y))
                low, high = min(low, z), max(high, z)
        for surface in self.surfaces:
            for rho, z in surface.profile:
                reach = max(reach, rho)
                low, high = min(low, z), max(high, z)
        return math.hypot(2.0 * reach, high - low)
