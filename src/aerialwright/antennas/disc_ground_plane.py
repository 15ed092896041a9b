"""Quarter-wave rod on a disc of sheet or mesh."""

from __future__ import annotations

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values, flange_radius
from aerialwright.antennas.records import Piece, tip_caps
from aerialwright.antennas.workpiece import WorkStep
from aerialwright.base.errors import DesignError
from aerialwright.need.model import Need
from aerialwright.structure.model import Structure, Surface


class DiscGroundPlane(Family):
    """Rod over a round disc of sheet or mesh."""

    key = "disc-ground-plane"
    title = "quarter-wave rod on a disc"
    place = 12
    main_length = "rod_length"
    questions = (("disc_diameter", "What does a larger disc do?"),)
    socketed = True
    in_pipe = ("rod",)
    parameters = (
        Parameter(
            "rod_length", "rod length", "length", "disc face to tip, pin and cup included", 1e-3, True, 0.01, 8.0
        ),
        Parameter("disc_diameter", "disc diameter", "length", "across", 5e-3, True, 0.04, 8.0),
        Parameter("rod_diameter", "rod diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.08),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """One plan for the largest sheet or mesh on the shelf."""
        best: list[tuple[float, Plan]] = []
        rod = shelf.rod()
        for sheet, item in shelf.sheets():
            side = min(item.width or item.diameter or 0.0, item.length or item.diameter or item.width or 0.0)
            if side < 0.3 * span.wavelength(span.high):
                continue
            word = "mesh" if sheet.mesh else "sheet"
            plan = Plan(
                f"disc-ground-plane-{word}", f"quarter-wave rod on a disc of {word}",
                {"rod_diameter": rod.diameter, "_largest_disc": side}, {"rod": rod, "disc": sheet}, shelf.socket(span.high),
            )  # fmt: skip
            best.append((side, plan))
        return [max(best, key=lambda pair: pair[0])[1]] if best else []

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """0.95 of a quarter wave on a disc a half wave across."""
        quarter = 0.25 * span.wavelength()
        largest = plan.fixed.get("_largest_disc", 2 * quarter)
        values = {k: v for k, v in plan.fixed.items() if not k.startswith("_")}
        values |= {"rod_length": 0.95 * quarter, "disc_diameter": min(2 * quarter, largest)}
        return values, "rod 0.95 of a quarter wave over a disc a half wave across (common practice, no source)"

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """Disc between a quarter wave and the sheet there is."""
        quarter = 0.25 * span.wavelength()
        largest = plan.fixed.get("_largest_disc", 4 * quarter)
        return {
            "rod_length": (0.6 * quarter, 1.2 * quarter),
            "disc_diameter": (min(quarter, 0.8 * largest), min(largest, 4.5 * quarter)),
        }

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Rod, solid flange, disc beyond it."""
        self.check(values)
        rod, disc = plan.metals["rod"], plan.metals["disc"]
        rods = sockets.upright(plan.socket, rod, length=values["rod_length"], name="rod", coating=plan.plastic("rod"))
        flange = flange_radius(plan.socket)
        surfaces = sockets.body(plan.socket, rod.metal, plate_radius=flange)
        edge = 0.5 * values["disc_diameter"]
        if edge <= flange + 2e-3:
            raise DesignError("the disc is no larger than the flange", where="disc_diameter", mend="make it larger")
        sheet = Surface("disc", ((flange, 0.0), (edge, 0.0)), disc.metal, disc.thickness, disc.mesh)
        return Structure(plan.title, rods, (*surfaces, sheet), sockets.feed(plan.socket, radius=rod.radius))

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """Rod and disc."""
        rod, disc = plan.metals["rod"], plan.metals["disc"]
        return (
            *sockets.rod_pieces(plan.socket, rod, length=values["rod_length"], datum="disc face to tip"),
            sockets.plate(plan.socket, disc, name="disc", across=values["disc_diameter"],
                          remark="socket in the middle; turn over or cover the edge"),
            *sockets.parts(plan.socket),
            tip_caps(1),
        )  # fmt: skip

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """Disc first, then the rod."""
        disc = plan.metals["disc"]
        clean = "bright to the metal under the flange" + (
            ", every wire of the mesh under a large washer" if disc.mesh else ""
        )
        return (
            WorkStep("Scribe the circle, cut it with snips and drill the middle by the template, on wood",
                     "round within 5 mm; socket and screws pass", "gloves: sheet and mesh edges cut"),
            WorkStep(f"Screw the socket to the disc, {clean}", "under 0.5 ohm from the socket's shell to the disc's edge, at four places"),
            *sockets.rod_steps(plan.socket, plan.metals["rod"], length=values["rod_length"]),
        )  # fmt: skip

    def joints(self, plan: Plan, values: Values) -> int:
        """Rod to pin, flange to disc by four screws counted as one joint each."""
        return 5


FAMILY = DiscGroundPlane()
