"""Discone of wires, sheet or mesh: a disc over a cone."""

from __future__ import annotations

import math

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values, aperture_radius, flange_radius
from aerialwright.antennas.records import Dimension, Piece, lap_screws, part, tip_caps
from aerialwright.antennas.sheet_cone import LAP, cone_piece, rivets, sheet_cone_steps
from aerialwright.antennas.workpiece import (
    SPRINGS,
    Allowance,
    ConeSheet,
    HoleCircle,
    WorkStep,
    bent,
    join_word,
    lap,
    lap_for_bend,
    lap_remark,
    solders,
)
from aerialwright.base.errors import DesignError
from aerialwright.base.printing import format_length, marked_angle
from aerialwright.need.model import Need
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface


class Discone(Family):
    """Disc above, cone below, fed between them through the cone's neck."""

    key = "discone"
    title = "discone"
    place = 50
    main_length = "slant"
    questions = (
        ("disc_diameter", "What does a larger disc do?"),
        ("slant", "What does a longer cone do?"),
        ("cone_wires", "How many wires does it need?"),
    )
    socketed = True
    parameters = (
        Parameter(
            "slant", "cone slant", "length", "edge of the neck plate to the tip, along the cone", 1e-3, True, 0.02, 8.0
        ),
        Parameter("cone_angle", "full cone angle", "angle", "tip to tip through the apex", 1.0, True, 20.0, 130.0, 2.0),
        Parameter(
            "disc_diameter", "disc diameter", "length", "across, spoke tip to spoke tip", 1e-3, True, 0.02, 8.0, 2.0
        ),
        Parameter("gap", "disc height", "length", "neck plate's face to the disc's under side", 5e-4, True, 1e-3, 0.1),
        Parameter(
            "neck_diameter", "neck plate diameter", "length", "across, where the cone starts", 1e-3, False, 1e-2, 0.3
        ),
        Parameter("cone_wires", "cone wires", "count", "evenly round; 0 is sheet or mesh", 1.0, False, 0, 36),
        Parameter("disc_spokes", "disc spokes", "count", "evenly round; 0 is a full disc", 1.0, False, 0, 36),
        Parameter(
            "disc_hub_diameter",
            "disc hub diameter",
            "length",
            "across the plate the spokes start from",
            1e-3,
            False,
            5e-3,
            2.0,
        ),
        Parameter("wire_diameter", "wire diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.02),
        Parameter("rim_ring", "ring round the cone's rim", "count", "1 with ring, 0 without", 1.0, False, 0, 1),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Wires as many as the shelf allows; mesh or sheet where it is large enough."""
        wire = shelf.rod()
        socket = shelf.socket(span.high)
        neck = 2 * (flange_radius(socket) + 4e-3)
        rods_there = sum(item.quantity for item in need.stock if item.kind == "rod")
        count = 12.0 if rods_there >= 15 else 8.0
        discs = [
            (metal, item) for metal, item in shelf.sheets(("sheet",))
            if (item.diameter or item.width or 0.0) >= 40e-3
        ]  # fmt: skip
        hub, hub_metal = 40e-3, shelf.plate()
        if discs:
            hub_metal, item = max(discs, key=lambda pair: pair[1].diameter or pair[1].width or 0.0)
            hub = min(item.diameter or item.width or 0.0, 0.16)
        # No larger than leaves the spokes something to do, no smaller than the spokes need side by side.
        crowd = 2.4 * wire.radius / math.sin(math.pi / count)
        hub = round(max(min(hub, 0.35 * 0.25 * span.wavelength(span.low)), crowd), 3)
        fixed = {
            "neck_diameter": neck, "cone_wires": count, "disc_spokes": count, "disc_hub_diameter": hub,
            "wire_diameter": wire.diameter, "rim_ring": 0.0,
        }  # fmt: skip
        metals = {"wire": wire, "disc": hub_metal, "cone": wire, "neck": shelf.plate()}
        plans = [Plan("discone-wires", f"discone of {count:.0f} wires and {count:.0f} spokes", fixed, metals, socket)]
        quarter = 0.25 * span.wavelength(span.low)
        for sheet, item in shelf.sheets():
            across = min(item.width or 0.0, item.length or item.width or 0.0)
            along = max(item.width or 0.0, item.length or item.width or 0.0)
            if along >= 1.2 * quarter and across * along >= 1.5 * quarter**2:
                word = "mesh" if sheet.mesh else "sheet"
                solid = dict(
                    fixed, cone_wires=0.0, disc_spokes=0.0, _strip=across, _area=across * along * item.quantity
                )
                plans.append(
                    Plan(
                        f"discone-{word}", f"discone of {word}", solid, {**metals, "cone": sheet, "disc": sheet}, socket
                    )
                )
                break
        return plans

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """Nail's proportions [@nail-1953] with the slant a quarter wave at 0.9 of the lowest frequency."""
        slant = 0.25 * span.wavelength(0.9 * span.low)
        neck = plan.fixed["neck_diameter"]
        base = neck + slant
        values = {k: v for k, v in plan.fixed.items() if not k.startswith("_")}
        slant = min(slant, self.bounds(plan, span, values)["slant"][1])
        values |= {"slant": slant, "cone_angle": 60.0, "disc_diameter": 0.7 * base, "gap": min(0.3 * neck, 20e-3)}
        if values["disc_spokes"] == 0:
            values["disc_hub_diameter"] = values["disc_diameter"]
        return (
            values,
            "disc 0.7 of the cone's base, gap 0.3 of its neck, 60 degrees (J. J. Nail, Electronics, August 1953, from memory)",
        )

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """Slant 0.2 to 0.36 of the longest wave."""
        wave = span.wavelength(span.low)
        hub = plan.fixed["disc_hub_diameter"] if plan.fixed["disc_spokes"] else 0.02
        widest = min(0.34 * wave, plan.fixed.get("_strip", 0.34 * wave))
        longest = 0.36 * wave
        if "_area" in plan.fixed:
            # A cone of 60 degrees and the disc come out of one roll with a quarter of waste.
            longest = min(longest, math.sqrt(0.75 * plan.fixed["_area"] / math.pi / 0.75))
        return {
            "slant": (0.2 * wave, longest),
            "cone_angle": (35.0, 100.0),
            "disc_diameter": (min(max(0.1 * wave, hub + 0.01), 0.9 * widest), widest),
            "gap": (3e-3, 25e-3),
        }

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Neck plate with the socket under it, pin up to the disc, cone from the plate's edge."""
        self.check(values)
        wire, disc, cone = plan.metals["wire"], plan.metals["disc"], plan.metals["cone"]
        half = math.radians(0.5 * values["cone_angle"])
        neck, gap = 0.5 * values["neck_diameter"], values["gap"]
        rim, drop = neck + values["slant"] * math.sin(half), -values["slant"] * math.cos(half)
        pin = 0.5 * plan.socket.pin_diameter
        rods = [Rod("pin", ((0.0, 0.0, 0.0), (0.0, 0.0, gap)), pin, 1, wire.metal)]
        surfaces = list(sockets.body(plan.socket, plan.metals["neck"].metal, plate_radius=neck))
        cones = int(values["cone_wires"])
        if cones:
            rods.append(
                Rod("cone wire", ((neck, 0.0, 0.0), (rim, 0.0, drop)), wire.radius, cones, wire.metal, wire.insulation)
            )
            if values["rim_ring"]:
                turn = 2 * math.pi / cones
                ends = ((rim, 0.0, drop), (rim * math.cos(turn), rim * math.sin(turn), drop))
                rods.append(Rod("rim ring", ends, wire.radius, cones, wire.metal, wire.insulation))
        else:
            surfaces.append(Surface("cone", ((neck, 0.0), (rim, drop)), cone.metal, cone.thickness, cone.mesh))
        edge, spokes = 0.5 * values["disc_diameter"], int(values["disc_spokes"])
        hub = 0.5 * values["disc_hub_diameter"] if spokes else edge
        if spokes and edge < hub + 3e-3:
            raise DesignError(
                "the spokes end inside the disc's hub",
                where="disc_diameter",
                mend="make the disc larger or its hub smaller",
            )
        if hub <= pin + 1e-3:
            raise DesignError("the disc is no larger than the pin", where="disc_hub_diameter", mend="make it larger")
        solid = min(hub, max(flange_radius(plan.socket), pin + 5e-3)) if disc.mesh else hub
        surfaces.append(Surface("disc", ((0.0, gap), (pin, gap), (solid, gap)), disc.metal, disc.thickness))
        if hub > solid:
            surfaces.append(Surface("disc mesh", ((solid, gap), (hub, gap)), disc.metal, disc.thickness, disc.mesh))
        if spokes:
            rods.append(
                Rod("disc spoke", ((hub, 0.0, gap), (edge, 0.0, gap)), wire.radius, spokes, wire.metal, wire.insulation)
            )
        feed = ApertureFeed((pin, 0.0), (aperture_radius(plan.socket), 0.0))
        return Structure(plan.title, tuple(rods), tuple(surfaces), feed)

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """Cone, disc, neck plate, collar, socket and what joins them."""
        wire, disc, pin = plan.metals["wire"], plan.metals["disc"], plan.socket.pin_diameter
        half = math.radians(0.5 * values["cone_angle"])
        neck, cones, spokes = 0.5 * values["neck_diameter"], int(values["cone_wires"]), int(values["disc_spokes"])
        rim = neck + values["slant"] * math.sin(half)
        out: list[Piece] = []
        if cones:
            bend = 90.0 - 0.5 * values["cone_angle"]
            bends, saved = bent((0.0, bend), diameter=wire.diameter, material=wire.material)
            foot = lap_for_bend(LAP, angle=bend, diameter=wire.diameter, material=wire.material)
            out.append(
                Piece("cone wire", cones, wire.kind, wire.material, wire.diameter, values["slant"],
                      (lap(foot, wire.material), *saved), "edge of the neck plate to tip", bends=bends,
                      stock=wire.stock, remark=f"{lap_remark(wire.material, 'neck plate')}; all equal to 1 mm; cap or loop the tips")
            )  # fmt: skip
        else:
            out.append(cone_piece(plan.metals["cone"], self._cone(plan, values), quantity=1))
        hole = (HoleCircle(0.0, 1, pin, "socket pin"),)
        if spokes:
            hub = values["disc_hub_diameter"]
            out.append(
                Piece("disc spoke", spokes, wire.kind, wire.material, wire.diameter, 0.5 * (values["disc_diameter"] - hub),
                      (lap(LAP, wire.material),), "edge of the disc's hub to tip", stock=wire.stock,
                      remark=f"{lap_remark(wire.material, 'hub')}; cap or loop the tips")
            )  # fmt: skip
            out.append(sockets.round_plate(disc, name="disc hub", across=hub, holes=hole, rays=spokes))
        else:
            out.append(sockets.round_plate(disc, name="disc", across=values["disc_diameter"], holes=hole))
        if values["rim_ring"] and cones:
            around = 2 * cones * rim * math.sin(math.pi / cones)
            out.append(Piece("rim ring", 1, "wire", wire.material, wire.diameter, around, (Allowance("solder lap", 20e-3),),
                             "round the cone's tips", stock=wire.stock))  # fmt: skip
        out.append(
            sockets.plate(
                plan.socket, plan.metals["neck"], name="neck plate", across=values["neck_diameter"], rays=cones
            )
        )
        collar = part(
            "insulating collar",
            "HDPE board",
            length=values["gap"],
            datum="neck plate to disc",
            remark="carries the disc",
        )
        ends = (
            (*lap_screws(wire.material, cones + spokes), tip_caps(cones + spokes))
            if cones or spokes
            else (rivets(self._cone(plan, values).gores),)
        )
        return (*out, collar, *sockets.parts(plan.socket), *ends)

    def _cone(self, plan: Plan, values: Values) -> ConeSheet:
        """The cone of sheet, in as many gores as the strip of the shelf asks for."""
        neck, half = 0.5 * values["neck_diameter"], math.radians(0.5 * values["cone_angle"])
        rim = neck + values["slant"] * math.sin(half)
        outer = values["slant"] + neck / math.sin(half)
        strip = plan.fixed.get("_strip", 2.0 * outer)
        gores = 1 if strip >= 2.0 * outer else max(2, math.ceil(2.0 * math.pi * rim / (strip - LAP)))
        return ConeSheet(neck, rim, values["slant"], LAP, gores)

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """Plates, cone, disc, then the pin between them."""
        join, bend = join_word(plan.metals["wire"].material), 90.0 - 0.5 * values["cone_angle"]
        out = [
            WorkStep(
                "Cut and drill neck plate and disc hub by their templates, on wood",
                "socket, screws and pin pass; edges broken",
            )
        ]
        if values["cone_wires"]:
            out += [
                WorkStep(f"Bend all cone wires by {marked_angle(bend):g} degrees at their marks", "all lie on the bend gauge", SPRINGS),
                WorkStep(f"{join} them on the neck plate along the scribed lines",
                         "under 0.5 ohm from each tip to the plate; tips in a ring within 5 mm"),
            ]  # fmt: skip
        else:
            out += sheet_cone_steps(join_word(plan.metals["cone"].material))
        if values["disc_spokes"]:
            out.append(
                WorkStep(
                    f"{join} the spokes flat on the disc's hub along the scribed lines",
                    "under 0.5 ohm from each tip to the hub",
                )
            )
        middle = "in its middle" if solders(plan.metals["disc"].material) else "to a tinned tag bolted in its middle"
        return (
            *out,
            WorkStep("Screw the socket under the neck plate, the pin up through its hole", "under 0.5 ohm from its shell to a cone tip"),
            WorkStep(f"Set the disc on its collar, {format_length(values['gap'])} above the plate's face, and solder the pin {middle}, "
                     "a mated plug on the socket to hold the pin", "disc to cone open (over 1 megohm); plug pin to disc under 0.5 ohm",
                     "hot metal; solder fumes"),
        )  # fmt: skip

    def settled(self, values: Values) -> Values:
        """A full disc is its own hub; a hub of spokes stays inside the disc."""
        if "disc_diameter" not in values:
            return values
        out = dict(values)
        if not out.get("disc_spokes", 1):
            out["disc_hub_diameter"] = out["disc_diameter"]
        elif "disc_hub_diameter" in out:
            out["disc_hub_diameter"] = min(out["disc_hub_diameter"], out["disc_diameter"] - 8e-3)
        return out

    def joints(self, plan: Plan, values: Values) -> int:
        """Wires and spokes to their plates, pin to disc, socket to plate."""
        ring = int(values["cone_wires"]) if values["rim_ring"] else 0
        count = int(values["cone_wires"]) + int(values["disc_spokes"]) + ring + 3
        if not values["cone_wires"]:
            # Each seam in six places, the neck in six, the disc in four (common practice, no source).
            count += 6 * self._cone(plan, values).gores + 10
        return count

    def dimensions(self, plan: Plan, values: Values) -> tuple[Dimension, ...]:
        """Without the rows that say nothing: wires of a cone that has none, a ring that is not there."""
        hide = set()
        if not values["cone_wires"]:
            hide |= {"cone_wires", "rim_ring"}
        if not values["disc_spokes"]:
            hide |= {"disc_spokes", "disc_hub_diameter"}
        if not values["rim_ring"]:
            hide.add("rim_ring")
        if {"cone_wires", "disc_spokes"} <= hide:
            hide.add("wire_diameter")
        return tuple(d for d in super().dimensions(plan, values) if d.key not in hide)


FAMILY = Discone()
