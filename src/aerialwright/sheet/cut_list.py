"""The cut list: every piece with its allowances, its marks and how exact it must be, the largest first."""

from __future__ import annotations

import math

from aerialwright.antennas.records import Piece
from aerialwright.antennas.workpiece import GRIP, Bend, Plate, arc_length, setback
from aerialwright.base.errors import DesignError
from aerialwright.base.printing import format_length
from aerialwright.design.records import Evaluation
from aerialwright.sheet.records import CutLine
from aerialwright.sheet.tolerance import Slopes, made_of, tolerances


def cut_list(evaluation: Evaluation, slopes: Slopes | None) -> tuple[CutLine, ...]:
    """Lines in order of size, bought parts last.

    Raises
    ------
    DesignError
        If a bend does not fit its leg or a hole its plate.
    """
    design = evaluation.design
    made = made_of(design) if design is not None else {}
    main = design.family.main_length if design is not None else ""
    ordered = sorted(evaluation.pieces, key=lambda piece: (piece.shape == "part", -(piece.cut_length or 0.0)))
    out = []
    for number, piece in enumerate(ordered, 1):
        if isinstance(piece.form, Plate):
            check_plate(piece.form, where=piece.name)
        length, bend = tolerances(piece, made.get(piece.name), slopes, main=main)
        out.append(
            CutLine(
                number, piece.name, piece.quantity, piece.shape, piece.material, piece.diameter, piece.thickness, piece.length,
                piece.datum, piece.allowances, piece.cut_length, piece.width, marks(piece), length, piece.stock, piece.remark,
                piece.form, bend,
            )
        )  # fmt: skip
    return tuple(out)


def marks(piece: Piece) -> tuple[tuple[float, float, Bend], ...]:
    """Where each arc starts from the cut end at the datum, its developed length, and the bend.

    Raises
    ------
    DesignError
        If a leg is shorter than its arcs and what the vice must hold.
    """
    if not piece.bends or piece.diameter is None or piece.cut_length is None:
        return ()
    before = sum(one.length for one in piece.allowances if one.end == "datum")
    out: list[tuple[float, float, Bend]] = []
    saved, free = 0.0, 0.0
    for bend in piece.bends:
        arc = arc_length(angle=bend.angle, inside_radius=bend.inside_radius, thickness=piece.diameter)
        start = before + bend.start - saved
        if start < free + GRIP - 1e-9 or start + arc > piece.cut_length - GRIP:
            raise DesignError(
                f"a bend of {bend.angle:.0f} degrees with {format_length(bend.inside_radius)} inside radius does not fit its leg",
                where=piece.name,
                mend="make the leg longer, take thinner or softer metal, or join two pieces at the corner",
            )
        out.append((start, arc, bend))
        free = start + arc
        saved += 2.0 * setback(angle=bend.angle, inside_radius=bend.inside_radius, thickness=piece.diameter) - arc
    return tuple(out)


def check_plate(plate: Plate, *, where: str) -> None:
    """Refuse holes that do not lie on their plate, or run into each other.

    Raises
    ------
    DesignError
        Names the holes.
    """
    reach = 0.5 * min(plate.across, plate.width or plate.across)
    for circle in plate.holes:
        out = 0.5 * (circle.circle_diameter + circle.hole_diameter)
        if out > reach:
            raise DesignError(
                f"the holes for the {circle.purpose} reach {format_length(out)} from the middle of a plate that ends at "
                f"{format_length(reach)}",
                where=where,
                mend="use a larger plate or a smaller socket",
            )
    rings = [(c, 0.5 * c.circle_diameter) for c in plate.holes]
    for circle, radius in rings:
        apart = 2.0 * radius * math.sin(math.pi / circle.count) if circle.count > 1 else math.inf
        inner = [r + 0.5 * c.hole_diameter for c, r in rings if r < radius]
        if apart < circle.hole_diameter or any(edge > radius - 0.5 * circle.hole_diameter for edge in inner):
            raise DesignError(
                f"the holes for the {circle.purpose} run into others", where=where, mend="use fewer or smaller holes"
            )
