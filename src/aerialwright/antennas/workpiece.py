"""What a piece of metal is in the workshop: its allowances, its bends, and the shape that a pattern is drawn from.

A family describes its pieces with these records; the sheet turns them into cut list, stock plan and full-size patterns without
knowing the family. Lengths [m], angles [degree].
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Allowance:
    """Metal added to the finished length, and why (``"trim"``, ``"solder lap"``, ``"hub depth"``, ``"eye"``, ``"tag"``)."""

    reason: str
    length: float
    #: ``"datum"``: at the end that the finished length is measured from; ``"tip"``: at the other.
    end: str = "tip"


@dataclass(frozen=True)
class Bend:
    """A bend of ``angle`` [degree] away from straight, whose arc starts ``start`` [m] from the datum along the finished centre line
    (negative: inside the allowance at the datum). ``inside_radius`` [m] of the metal's inner side."""

    start: float
    angle: float
    inside_radius: float


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
