"""Quarter-wave rod on drooping radials."""

from __future__ import annotations

import math

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values, flange_radius
from aerialwright.antennas.records import Piece, lap_screws, tip_caps
from aerialwright.antennas.workpiece import (
    SPRINGS,
    STRAIGHT,
    WorkStep,
    bent,
    join_word,
    lap,
    lap_for_bend,
    lap_remark,
)
from aerialwright.base.printing import marked_angle
from aerialwright.need.model import Need
from aerialwright.structure.model import Rod, Structure

#: Solder or bolt lap at the foot of a radial [m]. Common practice, no source.
RADIAL_LAP = 10e-3


class GroundPlane(Family):
    """Rod over 2 to 8 radials on a hub."""

    key = "ground-plane"
    title = "quarter-wave rod on radials"
    place = 10
    narrow = True
    main_length = "rod_length"
    questions = (
        ("radial_droop", "Why do the radials droop?"),
        ("radial_count", "How many radials does it need?"),
    )
    socketed = True
    in_pipe = ("rod",)
    parameters = (
        Parameter(
            "rod_length", "rod length", "length", "flange face to tip, pin and cup included", 1e-3, True, 0.01, 8.0
        ),
        Parameter(
            "radial_length", "radial length", "length", "edge of the hub to tip, along the rod", 1e-3, True, 0.01, 8.0
        ),
        Parameter("radial_droop", "radial droop", "angle", "below the horizontal, at the hub", 1.0, True, 0.0, 90.0),
        Parameter("radial_count", "number of radials", "count", "evenly round the hub", 1.0, False, 2, 8),
        Parameter("rod_diameter", "rod diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.08),
        Parameter("radial_diameter", "radial diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.02),
        Parameter(
            "hub_radius", "hub radius", "length", "centre of the rod to where the radials leave", 5e-4, False, 2e-3, 0.2
        ),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Four radials of the shelf's rod; a thick rod above them where there is tube."""
        rod = shelf.rod()
        socket = shelf.socket(span.high)
        hub = sockets.hub_plate_radius(socket, count=4, rod=rod)
        fixed = {"radial_count": 4.0, "rod_diameter": rod.diameter, "radial_diameter": rod.diameter, "hub_radius": hub}
        plans = [
            Plan(
                "ground-plane",
                "quarter-wave rod on four drooping radials",
                fixed,
                {"rod": rod, "radial": rod, "hub": shelf.plate()},
                socket,
            )
        ]
        tubes = [tube for tube in shelf.tubes() if tube.diameter <= 0.03]
        if tubes:
            thick = dict(fixed, rod_diameter=tubes[0].diameter)
            metals = {"rod": tubes[0], "radial": rod, "hub": shelf.plate()}
            plans.append(Plan("ground-plane-tube", "quarter-wave tube on four drooping radials", thick, metals, socket))
        return plans

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """0.95 of a quarter wave, radials 5 % longer than the rod, droop 45 degrees."""
        quarter = 0.25 * span.wavelength()
        values = dict(plan.fixed)
        values |= {"rod_length": 0.95 * quarter, "radial_length": 0.95 * 1.05 * quarter, "radial_droop": 45.0}
        return (
            values,
            "rod 0.95 of a quarter wave, radials 5 % longer, 45 degrees of droop (common practice, no source)",
        )

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """A third either side of the quarter wave; droop 0 to 75 degrees."""
        quarter = 0.25 * span.wavelength()
        return {
            "rod_length": (0.6 * quarter, 1.2 * quarter),
            "radial_length": (0.6 * quarter, 1.4 * quarter),
            "radial_droop": (0.0, 75.0),
        }

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Rod, flange, socket body and radials."""
        self.check(values)
        rod, radial = plan.metals["rod"], plan.metals["radial"]
        count = int(values["radial_count"])
        droop = math.radians(values["radial_droop"])
        hub = values["hub_radius"]
        reach = values["radial_length"]
        tip = (hub + reach * math.cos(droop), 0.0, -reach * math.sin(droop))
        rods = sockets.upright(plan.socket, rod, length=values["rod_length"], name="rod", coating=plan.plastic("rod"))
        radials = Rod("radial", ((hub, 0.0, 0.0), tip), radial.radius, count, radial.metal, radial.insulation)
        surfaces = sockets.body(plan.socket, radial.metal, plate_radius=hub)
        return Structure(plan.title, (*rods, radials), surfaces, sockets.feed(plan.socket, radius=rod.radius))

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """Rod and radials; the bend of a radial starts at the hub's edge. A hub plate where the flange's holes do not serve."""
        rod, radial, droop = plan.metals["rod"], plan.metals["radial"], values["radial_droop"]
        count, socket = int(values["radial_count"]), plan.socket
        on_flange, metal = self._on_flange(plan, values), radial.material
        bends, saved = bent((0.0, droop), diameter=radial.diameter, material=metal)
        foot = lap_for_bend(RADIAL_LAP, angle=droop, diameter=radial.diameter, material=metal)
        held = lap_remark(metal, "hub plate")
        if on_flange:
            inside = values["hub_radius"] - 0.5 * math.sqrt(2.0) * socket.hole_square
            held = f"lap flattened and bolted under the flange's screw, whose hole is {inside * 1e3:.1f} mm inside the datum"
        out = [
            *sockets.rod_pieces(socket, rod, length=values["rod_length"], datum="flange face to tip"),
            Piece("radial", count, radial.kind, metal, radial.diameter, values["radial_length"],
                  (lap(foot, metal, bolted=on_flange), *saved),
                  "hub edge to tip", bends=bends, stock=radial.stock, remark=f"{held}; cap or loop the tips"),
        ]  # fmt: skip
        if not on_flange:
            across = 2.0 * values["hub_radius"]
            out.append(sockets.plate(socket, plan.metals["hub"], name="hub plate", across=across, rays=count))
            out += lap_screws(metal, count)
        return (*out, *sockets.parts(socket), tip_caps(1 + count))

    def _on_flange(self, plan: Plan, values: Values) -> bool:
        """True where the radials are held by the screws of the flange itself."""
        return plan.socket.hole_square > 0.0 and values["hub_radius"] <= 1.001 * flange_radius(plan.socket)

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """Radials square first, then the rod."""
        radial, count = plan.metals["radial"], values["radial_count"]
        out = []
        if self._on_flange(plan, values):
            # A solder tag under the screw would lie where the lap does.
            hold = "Flatten each radial's lap, drill it for the flange's screw and bolt it on, bright, with paste and star washers"
        else:
            out.append(
                WorkStep("Cut and drill the hub plate by its template, on wood", "socket and screws pass; edges broken")
            )
            hold = f"{join_word(radial.material)} each radial's lap on the hub plate along its scribed line, the arc just past the edge"
        if values["radial_droop"] >= STRAIGHT:
            out.append(WorkStep(f"Bend all {count:.0f} radials by {marked_angle(values['radial_droop']):g} degrees at their marks",
                                "all lie on the bend gauge; within 2 degrees of each other", SPRINGS))  # fmt: skip
        out.append(
            WorkStep(
                hold, "under 0.5 ohm from each radial's tip to the socket's shell; tips stand in a square or a ring"
            )
        )
        return (*out, *sockets.rod_steps(plan.socket, plan.metals["rod"], length=values["rod_length"]))

    def joints(self, plan: Plan, values: Values) -> int:
        """Rod to pin and each radial to the hub."""
        return 1 + int(values["radial_count"])


FAMILY = GroundPlane()
