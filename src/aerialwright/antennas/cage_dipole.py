"""Cage dipole: each arm a cage of wires that acts as a fat tube."""

from __future__ import annotations

import math

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.dipole import RULE_468
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values
from aerialwright.antennas.records import COAX_STEPS, Piece, centre_insulator, lap_screws, plate_fixings, tip_caps
from aerialwright.antennas.workpiece import (
    SPRINGS,
    HoleCircle,
    Plate,
    WorkStep,
    bent,
    join_word,
    lap,
    lap_for_bend,
    lap_remark,
)
from aerialwright.base.errors import DesignError
from aerialwright.base.printing import format_length
from aerialwright.need.model import Need
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

#: Lap of a wire on a hub plate, and plastic beyond the wires of a spreader ring [m]. Common practice, no source.
HUB_LAP, RING_EDGE = 12e-3, 10e-3


class CageDipole(Family):
    """Two cages that taper to hub plates at the feed."""

    key = "cage-dipole"
    title = "cage dipole"
    place = 30
    main_length = "total_length"
    questions = (
        ("cage_diameter", "What does a fatter cage do?"),
        ("wire_count", "How many wires does it need?"),
    )
    parameters = (
        Parameter("total_length", "total length", "length", "tip to tip, gap included", 1e-3, True, 0.05, 16.0),
        Parameter("cage_diameter", "cage diameter", "length", "across wire centres", 1e-3, True, 0.01, 1.0),
        Parameter(
            "taper_length",
            "taper",
            "length",
            "hub plate to where the wires run parallel, along the axis",
            1e-3,
            True,
            2e-3,
            2.0,
        ),
        Parameter("wire_count", "wires in each cage", "count", "evenly round the axis", 1.0, False, 3, 16),
        Parameter(
            "hub_diameter", "hub plate diameter", "length", "across, where the wires leave", 1e-3, False, 6e-3, 0.2
        ),
        Parameter("gap", "feed gap", "length", "between the hub plates", 1e-3, False, 1e-3, 0.1),
        Parameter("wire_diameter", "wire diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.02),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Six wires of the shelf's rod."""
        wire = shelf.rod()
        fixed = {"wire_count": 6.0, "hub_diameter": 30e-3, "gap": 15e-3, "wire_diameter": wire.diameter}
        title = f"cage dipole of six {wire.diameter * 1e3:.3g} mm wires"
        return [Plan(self.key, title, fixed, {"wire": wire, "hub": shelf.plate()}, shelf.socket(span.high))]

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """7 % shorter than 468/f, a sixteenth of a wave across."""
        values = dict(plan.fixed)
        values |= {
            "total_length": 0.93 * RULE_468 / span.centre,
            "cage_diameter": span.wavelength() / 16,
            "taper_length": span.wavelength() / 24,
        }
        return values, "468/f feet less 7 % for a thick dipole (handbook table by length over diameter, from memory)"

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """Cage up to a sixth of a wave across."""
        wave = span.wavelength()
        hub = values.get("hub_diameter", 30e-3)
        return {
            "total_length": (0.32 * wave, 0.6 * wave),
            "cage_diameter": (min(hub * 1.15, wave / 20), wave / 6),
            "taper_length": (wave / 80, wave / 8),
        }

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Wires from each hub plate outward and then along the axis."""
        self.check(values)
        wire, hub_metal = plan.metals["wire"], plan.metals["hub"]
        half, gap = 0.5 * values["total_length"], 0.5 * values["gap"]
        hub, reach = 0.5 * values["hub_diameter"], 0.5 * values["cage_diameter"]
        count, taper = int(values["wire_count"]), values["taper_length"]
        if gap + taper > half - 10e-3:
            raise DesignError("the taper is as long as the arm", where="taper_length", mend="make it shorter")
        rods, surfaces = [], []
        for name, sign in (("upper", 1.0), ("lower", -1.0)):
            points = ((hub, 0.0, sign * gap), (reach, 0.0, sign * (gap + taper)), (reach, 0.0, sign * half))
            rods.append(Rod(f"{name} wire", points, wire.radius, count, wire.metal, wire.insulation))
            surfaces.append(
                Surface(
                    f"{name} hub plate", ((0.0, sign * gap), (hub, sign * gap)), hub_metal.metal, hub_metal.thickness
                )
            )
        return Structure(plan.title, tuple(rods), tuple(surfaces), ApertureFeed((hub, gap), (hub, -gap)))

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """All wires are alike: a bend at the hub's edge and one where the taper ends."""
        wire, hub_metal = plan.metals["wire"], plan.metals["hub"]
        out, count = 0.5 * (values["cage_diameter"] - values["hub_diameter"]), int(values["wire_count"])
        slope = math.hypot(values["taper_length"], out)
        straight = 0.5 * (values["total_length"] - values["gap"]) - values["taper_length"]
        lean = math.degrees(math.atan2(out, values["taper_length"]))
        bends, saved = bent((0.0, 90.0 - lean), (slope, abs(lean)), diameter=wire.diameter, material=wire.material)
        foot = lap_for_bend(HUB_LAP, angle=90.0 - lean, diameter=wire.diameter, material=wire.material)
        across = values["hub_diameter"]
        ring = Plate(values["cage_diameter"] + 4.0 * wire.diameter + RING_EDGE, holes=(
            HoleCircle(values["cage_diameter"], count, wire.diameter + 0.3e-3, "wires"),))  # fmt: skip
        return (
            Piece("cage wire", 2 * count, wire.kind, wire.material, wire.diameter, slope + straight,
                  (lap(foot, wire.material), *saved), "hub edge to tip along the wire",
                  bends=bends, stock=wire.stock, remark=f"{lap_remark(wire.material, 'hub plate')}; all equal to 1 mm"),
            sockets.round_plate(hub_metal, name="hub plate", across=across, quantity=2, holes=sockets.screw_holes(across), rays=count),
            Piece("spreader ring", 4, "part", "HDPE board", None, ring.across, (), "across", form=ring,
                  remark="5 to 10 mm thick; two in each cage, one where the taper ends and one 30 mm from the tips"),
            centre_insulator(values["gap"], "holds the gap"),
            *plate_fixings(),
            *lap_screws(wire.material, 2 * count),
            tip_caps(2 * count),
        )  # fmt: skip

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """Plates, wires through their rings, halves, coax."""
        join, count = join_word(plan.metals["wire"].material), values["wire_count"]
        return (
            WorkStep("Cut and drill hub plates and spreader rings by their templates", "wires slide through the rings with a little drag"),
            WorkStep("Bend every wire twice at its marks, both bends the same way", "all lie on each other within 1 mm",
                     SPRINGS),
            WorkStep(f"Thread {count:.0f} wires through two rings for each half; {join.lower()} their laps on the plate along its lines",
                     "under 0.5 ohm from each tip to its plate; wires parallel past the taper"),
            WorkStep(f"Screw both plates to the centre insulator, {format_length(values['gap'])} between them", "half to half open"),
            *COAX_STEPS,
        )  # fmt: skip

    def joints(self, plan: Plan, values: Values) -> int:
        """Every wire to its hub, centre and braid."""
        return 2 * int(values["wire_count"]) + 2


FAMILY = CageDipole()
