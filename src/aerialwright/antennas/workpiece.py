"""What a piece of metal is in the workshop: its allowances, its bends, and the shape that a pattern is drawn from.

A family describes its pieces with these records; the sheet turns them into cut list, stock plan and full-size patterns without
knowing the family. Lengths [m], angles [degree].
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from aerialwright.stock.metals import metal


@dataclass(frozen=True)
class Allowance:
    """Metal added to the finished length, and why (``"trim"``, ``"solder lap"``, ``"hub depth"``, ``"eye"``, ``"tag"``)."""

    reason: str
    length: float
    #: ``"datum"``: at the end that the finished length is measured from; ``"tip"``: at the other; ``"bend"``: what arcs save.
    end: str = "tip"


@dataclass(frozen=True)
class Bend:
    """A bend of ``angle`` [degree] away from straight, whose arc starts ``start`` [m] from the datum along the finished centre line
    (negative: inside the allowance at the datum). ``inside_radius`` [m] of the metal's inner side."""

    start: float
    angle: float
    inside_radius: float


@dataclass(frozen=True)
class WorkStep:
    """One action, and how to see that it is done. ``caution`` where it can hurt."""

    action: str
    check: str
    caution: str = ""


@dataclass(frozen=True)
class HoleCircle:
    """``count`` holes of ``hole_diameter`` on a circle of ``circle_diameter`` (0: one hole in the middle), the first at ``first_angle``."""

    circle_diameter: float
    count: int
    hole_diameter: float
    purpose: str
    first_angle: float = 0.0


@dataclass(frozen=True)
class ConeSheet:
    """Frustum to be rolled from sheet or mesh: radii at neck and rim, ``slant`` between them along the metal, ``gores`` equal parts,
    each with ``seam_lap`` on one edge; holes along a lap are spaced by the sheet."""

    neck_radius: float
    rim_radius: float
    slant: float
    seam_lap: float
    gores: int = 1

    @property
    def outer_radius(self) -> float:
        """Radius [m] of the flat sector's rim: apex to rim along the metal."""
        return self.slant * self.rim_radius / (self.rim_radius - self.neck_radius)

    @property
    def sector(self) -> float:
        """Angle [degree] of the flat sector of the whole cone, without laps: 360 times the sine of the half angle (plane geometry)."""
        return 360.0 * (self.rim_radius - self.neck_radius) / self.slant

    @property
    def blank(self) -> tuple[float, float]:
        """(length, width) [m] of the rectangle that holds one gore with its lap, the gore's middle along the length."""
        outer = self.outer_radius
        half = math.radians(0.5 * self.sector / self.gores)
        lap_along, lap_across = self.seam_lap * abs(math.sin(half)), self.seam_lap * max(math.cos(half), 0.0)
        # Up to a half circle the neck's corners lie lowest, past it those of the rim.
        low = (outer - self.slant) * math.cos(half) if half <= 0.5 * math.pi else outer * math.cos(half)
        return outer - low + lap_along, 2.0 * outer * math.sin(min(half, 0.5 * math.pi)) + lap_across


@dataclass(frozen=True)
class Plate:
    """Flat plate, round (``width`` None: ``across`` is the diameter) or rectangular, with its holes.

    ``rays``: directions [degree] scribed from the middle, for spokes or radials that lie on it."""

    across: float
    width: float | None = None
    holes: tuple[HoleCircle, ...] = ()
    rays: tuple[float, ...] = ()
    thickness: float | None = None


Form = ConeSheet | Plate

#: Where the metal keeps its length, as a part of the thickness from the inner side. Round rod and tube: the centre line.
NEUTRAL = 0.5
#: A bend needs this much straight metal beside its arc to be held in a vice or bender [m]. Common practice, no source.
GRIP = 5e-3
#: A bend of less [degree] is none.
STRAIGHT = 0.5
#: What bending a rod can do.
SPRINGS = "eye protection: ends spring"


def arc_length(*, angle: float, inside_radius: float, thickness: float, neutral: float = NEUTRAL) -> float:
    """Developed length [m] of a bend of ``angle`` [degree]: ``angle (r + k t)``, ``k`` the neutral fibre's place [@machinery].

    ``thickness`` [m] of sheet, or the diameter of a rod. Sheet with a tight radius has ``k`` of 0.33 to 0.45; round stock 0.5.
    """
    return math.radians(angle) * (inside_radius + neutral * thickness)


def setback(*, angle: float, inside_radius: float, thickness: float) -> float:
    """Distance [m] along the centre line from the start of the arc to the corner where the two straight lines would meet."""
    return math.tan(math.radians(0.5 * angle)) * (inside_radius + 0.5 * thickness)


def inside_radius_for(material: str, *, diameter: float, hollow: bool = False) -> float:
    """Inside radius [m] that a rod or tube of ``material`` bends to cold, a half millimetre up; a tube three diameters, filled."""
    factor = max(metal(material).bend, 3.0 if hollow else 0.0)
    return math.ceil(factor * diameter / 0.5e-3 - 1e-9) * 0.5e-3


def bent(
    *corners: tuple[float, float], diameter: float, material: str, hollow: bool = False
) -> tuple[tuple[Bend, ...], tuple[Allowance, ...]]:
    """Bends of a rod from its sharp ``corners``, (distance [m] from the datum, angle [degree]), and what the arcs save.

    An arc is shorter than the corner it rounds by ``2 setback - arc``: that comes off the cut length as a negative allowance.
    """
    radius = inside_radius_for(material, diameter=diameter, hollow=hollow)
    bends, saved = [], 0.0
    for at, angle in corners:
        if angle < STRAIGHT:
            continue
        back = setback(angle=angle, inside_radius=radius, thickness=diameter)
        bends.append(Bend(at - back, angle, radius))
        saved += 2.0 * back - arc_length(angle=angle, inside_radius=radius, thickness=diameter)
    return tuple(bends), (Allowance("bend saves", -saved, "bend"),) if bends else ()


def lap_for_bend(least: float, *, angle: float, diameter: float, material: str) -> float:
    """Metal [m] beyond a datum that is itself a corner: ``least`` to join it by, at least as far as its arc reaches and a grip."""
    radius = inside_radius_for(material, diameter=diameter)
    back = setback(angle=angle, inside_radius=radius, thickness=diameter) if angle >= STRAIGHT else 0.0
    return max(least, math.ceil((back + GRIP) * 1e3) * 1e-3)


def solders(material: str) -> bool:
    """True where a metal takes soft solder, if only with active flux."""
    return metal(material).solder != "no"


def join_word(material: str) -> str:
    """How a metal is joined to a hub, as the beginning of a step: by what the table of metals says of solder."""
    return {"soft": "Solder", "active flux": "Solder with active flux"}.get(metal(material).solder, "Bolt")


def lap(length: float, material: str, *, bolted: bool = False) -> Allowance:
    """Metal at the datum [m] that lies on a hub: soldered, or flattened and bolted where it must or shall be ``bolted``."""
    return Allowance("solder lap" if solders(material) and not bolted else "flattened lap", length, "datum")


def lap_remark(material: str, plate: str) -> str:
    """How that lap is held on ``plate``."""
    return (
        f"lap soldered on the {plate}" if solders(material) else f"lap flattened, drilled with the {plate} and bolted"
    )
