"""Biconical dipole of wires or sheet."""

from __future__ import annotations

import math

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.cage_dipole import HUB_LAP
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values
from aerialwright.antennas.records import (
    COAX_STEPS,
    Dimension,
    Piece,
    centre_insulator,
    lap_screws,
    plate_fixings,
    tip_caps,
)
from aerialwright.antennas.sheet_cone import LAP, cone_piece, rivets, sheet_cone_steps
from aerialwright.antennas.workpiece import SPRINGS, ConeSheet, WorkStep, bent, join_word, lap, lap_for_bend, lap_remark
from aerialwright.base.printing import format_length, marked_angle
from aerialwright.need.model import Need
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface


class Bicone(Family):
    """Two cones, tip to tip."""

    key = "bicone"
    title = "bicone"
    place = 40
    main_length = "slant"
    questions = (
        ("cone_angle", "What does a wider cone do?"),
        ("wire_count", "How many wires does it need?"),
    )
    parameters = (
        Parameter(
            "slant", "slant length", "length", "edge of the neck to the rim, along the cone", 1e-3, True, 0.02, 8.0
        ),
        Parameter("cone_angle", "full cone angle", "angle", "rim to rim through the tip", 1.0, True, 10.0, 150.0, 2.0),
        Parameter("neck_diameter", "neck diameter", "length", "across the small end", 1e-3, False, 6e-3, 0.2),
        Parameter("gap", "feed gap", "length", "between the necks", 1e-3, False, 1e-3, 0.1),
        Parameter("wire_count", "wires in each cone", "count", "evenly round the axis; 0 is sheet", 1.0, False, 0, 36),
        Parameter("wire_diameter", "wire diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.02),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Eight wires; or sheet or mesh where the shelf has enough."""
        wire = shelf.rod()
        socket = shelf.socket(span.high)
        plans = [
            Plan("bicone-wires", "bicone of eight wires each side",
                 {"neck_diameter": 30e-3, "gap": 12e-3, "wire_count": 8.0, "wire_diameter": wire.diameter},
                 {"cone": wire, "neck": shelf.plate()}, socket)
        ]  # fmt: skip
        quarter = 0.25 * span.wavelength(span.low)
        for sheet, item in shelf.sheets():
            side = min(item.width or 0.0, item.length or item.width or 0.0)
            if side >= 2 * quarter:
                word = "mesh" if sheet.mesh else "sheet"
                plans.append(
                    Plan(f"bicone-{word}", f"bicone of {word}",
                         {"neck_diameter": 30e-3, "gap": 12e-3, "wire_count": 0.0, "wire_diameter": 1e-3},
                         {"cone": sheet, "neck": shelf.plate()}, socket)
                )  # fmt: skip
                break
        return plans

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """A quarter wave of slant at the lowest frequency, 60 degrees."""
        values = dict(plan.fixed) | {"slant": 0.25 * span.wavelength(span.low), "cone_angle": 60.0}
        return values, "slant a quarter wave at the lowest frequency, 60 degrees (common practice, no source)"

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """Slant 0.15 to 0.4 of the longest wave."""
        wave = span.wavelength(span.low)
        return {"slant": (0.15 * wave, 0.4 * wave), "cone_angle": (20.0, 120.0)}

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Cones from closed necks; a cylindrical gap between them."""
        self.check(values)
        cone, neck_metal = plan.metals["cone"], plan.metals["neck"]
        half = math.radians(0.5 * values["cone_angle"])
        neck, gap = 0.5 * values["neck_diameter"], 0.5 * values["gap"]
        rim, rise = neck + values["slant"] * math.sin(half), gap + values["slant"] * math.cos(half)
        rods, surfaces = [], []
        for name, sign in (("upper", 1.0), ("lower", -1.0)):
            surfaces.append(
                Surface(f"{name} neck", ((0.0, sign * gap), (neck, sign * gap)), neck_metal.metal, neck_metal.thickness)
            )
            if values["wire_count"] > 0:
                points = ((neck, 0.0, sign * gap), (rim, 0.0, sign * rise))
                rods.append(
                    Rod(f"{name} wire", points, cone.radius, int(values["wire_count"]), cone.metal, cone.insulation)
                )
            else:
                surfaces.append(
                    Surface(
                        f"{name} cone", ((neck, sign * gap), (rim, sign * rise)), cone.metal, cone.thickness, cone.mesh
                    )
                )
        return Structure(plan.title, tuple(rods), tuple(surfaces), ApertureFeed((neck, gap), (neck, -gap)))

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """Wires, or the sector each cone is rolled from."""
        cone, count = plan.metals["cone"], int(values["wire_count"])
        half, across = 0.5 * values["cone_angle"], values["neck_diameter"]
        if count > 0:
            bends, saved = bent((0.0, 90.0 - half), diameter=cone.diameter, material=cone.material)
            foot = lap_for_bend(HUB_LAP, angle=90.0 - half, diameter=cone.diameter, material=cone.material)
            main = Piece("cone wire", 2 * count, cone.kind, cone.material, cone.diameter, values["slant"],
                         (lap(foot, cone.material), *saved), "neck edge to tip", bends=bends, stock=cone.stock,
                         remark=f"{lap_remark(cone.material, 'neck plate')}; all equal to 1 mm; cap or loop the tips")  # fmt: skip
        else:
            rim = 0.5 * across + values["slant"] * math.sin(math.radians(half))
            main = cone_piece(cone, ConeSheet(0.5 * across, rim, values["slant"], LAP), quantity=2)
        return (
            main,
            sockets.round_plate(plan.metals["neck"], name="neck plate", across=across, quantity=2, holes=sockets.screw_holes(across),
                                rays=count),
            centre_insulator(values["gap"], "holds the gap"),
            *plate_fixings(),
            *((*lap_screws(cone.material, 2 * count), tip_caps(2 * count)) if count else (rivets(2),)),
        )  # fmt: skip

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """Two cones on their plates, back to back, then the coax."""
        count, join = values["wire_count"], join_word(plan.metals["cone"].material)
        bend = 90.0 - 0.5 * values["cone_angle"]
        cones = (
            (
                WorkStep(f"Bend all wires by {marked_angle(bend):g} degrees at their marks", "all lie on the bend gauge", SPRINGS),
                WorkStep(f"{join} {count:.0f} wires on each neck plate along the scribed lines",
                         "under 0.5 ohm from each tip to its plate; tips in a ring within 5 mm"),
            )
            if count
            else sheet_cone_steps(join)
        )  # fmt: skip
        return (
            WorkStep("Cut and drill both neck plates by their template", "screws pass; edges broken"),
            *cones,
            WorkStep(
                f"Screw both plates to the centre insulator, {format_length(values['gap'])} between them",
                "cone to cone open",
            ),
            *COAX_STEPS,
        )

    def joints(self, plan: Plan, values: Values) -> int:
        """Wires (or seams) to necks, centre and braid."""
        # A sheet cone: seam in six places and neck in six, each side (common practice, no source).
        return 2 * int(values["wire_count"]) + 2 if values["wire_count"] else 26

    def dimensions(self, plan: Plan, values: Values) -> tuple[Dimension, ...]:
        """Without wires where there are none."""
        hide = set() if values["wire_count"] else {"wire_count", "wire_diameter"}
        return tuple(d for d in super().dimensions(plan, values) if d.key not in hide)


FAMILY = Bicone()
