"""A cone of sheet or mesh as a workpiece: its blank, its seam, its order of work."""

from __future__ import annotations

from aerialwright.antennas.family import Conductor
from aerialwright.antennas.records import Piece, part
from aerialwright.antennas.workpiece import ConeSheet, WorkStep

#: Overlap where sheet meets sheet [m]. Common practice, no source.
LAP = 10e-3
#: Rivets (or ties of wire in mesh) along one seam and round one neck. Common practice, no source.
IN_SEAM = 6


def cone_piece(metal: Conductor, cone: ConeSheet, *, quantity: int) -> Piece:
    """The sector (or gores) that ``quantity`` cones are rolled from, as the rectangle that holds one."""
    length, width = cone.blank
    one = cone.gores == 1
    remark = (
        f"{'' if one else 'together a '}sector of {cone.sector:.1f} degrees, outer radius {cone.outer_radius * 1e3:.0f} mm, "
        f"{'' if one else 'each '}plus {cone.seam_lap * 1e3:.0f} mm lap"
    )
    return Piece("cone sector" if one else "cone gore", quantity * cone.gores, metal.kind, metal.material, None, length, (),
                 "along the middle of the pattern", form=cone, width=width, thickness=None if metal.mesh else metal.thickness,
                 stock=metal.stock, remark=remark)  # fmt: skip


def rivets(seams: int) -> Piece:
    """What closes ``seams`` seams and the neck of each cone."""
    return part(
        "rivet or tie",
        "as the sheet, or copper wire for mesh",
        quantity=IN_SEAM * (seams + 1),
        remark="soldered over where it solders",
    )


def sheet_cone_steps(join: str) -> tuple[WorkStep, ...]:
    """Pattern, roll, seam, neck."""
    return (
        WorkStep("Lay the pattern on the sheet, scribe it, cut it with snips", "check bars of the print measure 100 mm both ways first",
                 "gloves: sheet and mesh edges cut"),
        WorkStep(f"Roll the cone over a pipe, clamp the lap and rivet or tie it in {IN_SEAM} places; {join.lower()} it bright to bright",
                 "under 0.1 ohm across the seam at both ends; rim round within 5 mm"),
        WorkStep(f"{join} the neck to its plate in {IN_SEAM} places round it", "under 0.5 ohm from the rim to the plate"),
    )  # fmt: skip
