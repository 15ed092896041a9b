"""Records of generating lines, the nodes where they meet, and the feed gap."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from aerialwright.base.errors import Caution, StructureError
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import JOIN_TOLERANCE, Coating, Load, Mesh, Metal

RING, ROD = 0, 1

#: A place: (x, y, z), or (rho, 0, z) on a ring [m].
Point = tuple[float, float, float]


def fault(what: str, where: str, mend: str) -> StructureError:
    """A structure error by position: what is wrong, with which piece, what to change."""
    return StructureError(what, where=where, mend=mend)


@dataclass
class Line:
    """One straight generating line: a cone, tube or disc (ring) or a straight piece of rod.

    ``section`` numbers straight pieces of rods, ``generator`` whole rods; -1 on rings. ``loads`` are (distance from the start [m], load).
    """

    kind: int
    start: Point
    end: Point
    radius: float
    section: int
    name: str
    metal: Metal | None
    thickness: float = 0.0
    mesh: Mesh | None = None
    aperture: bool = False
    generator: int = -1
    coating: Coating | None = None
    loads: list[tuple[float, Load]] = field(default_factory=list)
    start_node: int = -1
    end_node: int = -1

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return math.dist(self.start, self.end)


@dataclass
class Node:
    """A point where line ends meet. ``position`` is (rho, z) for rings, and for rods the reduced point."""

    position: Point
    ring: bool
    ends: list[tuple[int, int]]

    @property
    def on_axis(self) -> bool:
        """True on the z axis."""
        return math.hypot(self.position[0], self.position[1]) < JOIN_TOLERANCE


@dataclass(frozen=True)
class Aperture:
    """The feed gap in its own frame: along ``axis`` from ``origin``; ``annulus`` from ``inner`` to ``outer``
    radius, or a band of ``radius`` from ``low`` to ``high`` along the axis. ``sense`` is the sign of the
    magnetic ring current M_phi = sense * e(s) about the axis for one volt."""

    annulus: bool
    origin: Point
    axis: Point
    radius_inner: float
    radius_outer: float
    low: float
    high: float
    sense: float
    on_ground: bool
    copies: bool
    section: int


@dataclass
class Geometry:
    """Everything the mesh needs. ``ground`` is a perfect plane at z = 0, ``earth`` real ground there."""

    lines: list[Line]
    nodes: list[Node]
    order: int
    mode: int
    ground: bool
    aperture: Aperture
    cautions: list[Caution]
    scale: float
    earth: Ground | None = None


def same_line(
    a: Point,
    b: Point,
    c: Point,
    d: Point,
) -> bool:
    """True if a-b and c-d are one straight line, either way round."""
    forward = math.dist(a, c) < JOIN_TOLERANCE and math.dist(b, d) < JOIN_TOLERANCE
    backward = math.dist(a, d) < JOIN_TOLERANCE and math.dist(b, c) < JOIN_TOLERANCE
    return forward or backward
