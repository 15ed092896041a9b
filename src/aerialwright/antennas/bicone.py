"""Biconical dipole of wires or sheet."""

from __future__ import annotations

import math

from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values
from aerialwright.antennas.records import Dimension, Piece
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
        cone, neck_metal = plan.metals["cone"], plan.metals["neck"]
        half = math.radians(0.5 * values["cone_angle"])
        if values["wire_count"] > 0:
            main = Piece("cone wire", 2 * int(values["wire_count"]), cone.kind, cone.material, cone.diameter, values["slant"], 12e-3,
                         "neck edge to tip", bend=90.0 - 0.5 * values["cone_angle"], bend_start=0.0, stock=cone.stock,
                         remark="lap soldered on the neck plate; all equal to 1 mm; cap or loop the tips")  # fmt: skip
        else:
            outer = values["slant"] + 0.5 * values["neck_diameter"] / math.sin(half)
            main = Piece("cone sector", 2, cone.kind, cone.material, None, 2 * outer, 0.0, "diameter of the circle it is cut from",
                         width=2 * outer, stock=cone.stock,
                         remark=f"sector of {360 * math.sin(half):.1f} degrees, outer radius {outer * 1e3:.0f} mm, "
                                "plus 10 mm lap")  # fmt: skip
        return (
            main,
            Piece("neck plate", 2, "sheet", neck_metal.material, None, values["neck_diameter"], 0.0, "across",
                  width=values["neck_diameter"], stock=neck_metal.stock),
            Piece("centre insulator", 1, "part", "HDPE or fibreglass", None, None, 0.0, "", remark="holds the gap"),
        )  # fmt: skip

    def joints(self, plan: Plan, values: Values) -> int:
        """Wires (or seams) to necks, centre and braid."""
        # A sheet cone: seam in six places and neck in six, each side (common practice, no source).
        return 2 * int(values["wire_count"]) + 2 if values["wire_count"] else 26

    def dimensions(self, plan: Plan, values: Values) -> tuple[Dimension, ...]:
        """Without wires where there are none."""
        hide = set() if values["wire_count"] else {"wire_count", "wire_diameter"}
        return tuple(d for d in super().dimensions(plan, values) if d.key not in hide)


FAMILY = Bicone()
