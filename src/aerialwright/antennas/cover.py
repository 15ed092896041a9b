"""A plastic pipe over the antenna: which plans can stand in it, and its part of the cut list."""

from __future__ import annotations

from dataclasses import replace

from aerialwright.antennas.family import Family, Plan, Values
from aerialwright.antennas.plastic import pipe_of
from aerialwright.antennas.records import Piece
from aerialwright.antennas.workpiece import Allowance
from aerialwright.base.printing import format_length
from aerialwright.need.model import Need

#: Pipe beyond the metal, both ends together [m]: a cap above, a hand's width to hold it below. Common practice, no source.
PIPE_SPARE = 0.12


def with_cover(kind: Family, plan: Plan, need: Need) -> Plan:
    """The plan inside the pipe that the need names, where its rods go in; otherwise as it is."""
    pipe = pipe_of(need)
    if pipe is None or unfit(kind, plan, need):
        return plan
    return replace(plan, cover=pipe)


def unfit(kind: Family, plan: Plan, need: Need) -> str:
    """Why a plan cannot stand in the pipe that the need names; empty where it can or where there is none."""
    pipe = pipe_of(need)
    if pipe is None:
        return ""
    if not kind.in_pipe:
        return f"a {kind.title} does not fit into the {pipe.label}: solved without it"
    for role in kind.in_pipe:
        conductor = plan.metals[role]
        radius = conductor.radius if conductor.insulation is None else conductor.insulation.outer_radius
        if not pipe.fits(radius):
            return (
                f"{format_length(2.0 * radius)} of {conductor.material} {conductor.kind} does not fit the {pipe.label} with its "
                f"bore of {format_length(pipe.bore)}: solved without it"
            )
    return ""


def pieces(kind: Family, plan: Plan, values: Values) -> tuple[Piece, ...]:
    """The cut list of a plan, with the pipe and the remark that trimming is done with it on."""
    found = kind.pieces(plan, values)
    if plan.cover is None:
        return found
    inside = {plan.metals[role].diameter for role in kind.in_pipe}
    out = [
        replace(piece, remark=f"{piece.remark}; trim with the pipe on".strip("; "))
        if piece.diameter in inside and piece.name in (*kind.in_pipe, "arms")
        else piece
        for piece in found
    ]
    long = max(
        (values[key] for key in ("total_length", "rod_length") if key in values),
        default=max((piece.length or 0.0) for piece in found),
    )
    pipe = plan.cover
    spare = (Allowance("cap and grip", PIPE_SPARE),)
    out.append(
        Piece("cover pipe", 1, "pipe", pipe.material, pipe.diameter, long, spare, "over the metal, tip to foot", stock=pipe.label,
              remark="cap above; drain hole of 3 mm below; not black or grey unless tried")
    )  # fmt: skip
    return tuple(out)
