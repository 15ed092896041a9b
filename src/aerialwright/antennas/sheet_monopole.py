"""Quarter-wave rod on a very large sheet: a metal roof, a vehicle roof."""

from __future__ import annotations

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values, flange_radius
from aerialwright.antennas.records import Piece, tip_caps
from aerialwright.antennas.workpiece import WorkStep
from aerialwright.need.model import Need
from aerialwright.structure.model import Structure, Surface

#: A sheet this large [m] is solved as endless.
ENDLESS = 100.0


class SheetMonopole(Family):
    """Rod over the disc that fits on the sheet, or over an endless plane."""

    key = "sheet-monopole"
    title = "quarter-wave rod on a very large sheet"
    place = 14
    narrow = True
    main_length = "rod_length"
    socketed = True
    in_pipe = ("rod",)
    parameters = (
        Parameter(
            "rod_length", "rod length", "length", "sheet face to tip, pin and cup included", 1e-3, True, 0.01, 8.0
        ),
        Parameter("rod_diameter", "rod diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.08),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Only where the site has a flat metal sheet of at least a wavelength."""
        sheet = need.site.metal_sheet
        if sheet < span.wavelength(span.low):
            return []
        rod = shelf.rod()
        fixed = {"rod_diameter": rod.diameter, "_sheet": sheet}
        title = self.title if sheet >= ENDLESS else "quarter-wave rod on the metal roof"
        return [Plan(self.key, title, fixed, {"rod": rod}, shelf.socket(span.high))]

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """0.95 of a quarter wave."""
        values = {k: v for k, v in plan.fixed.items() if not k.startswith("_")} | {
            "rod_length": 0.95 * 0.25 * span.wavelength()
        }
        return values, "rod 0.95 of a quarter wave (common practice, no source)"

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """A third either side."""
        quarter = 0.25 * span.wavelength()
        return {"rod_length": (0.6 * quarter, 1.2 * quarter)}

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Rod above the sheet, fed through the socket's aperture."""
        self.check(values)
        rod = plan.metals["rod"]
        rods = sockets.upright(plan.socket, rod, length=values["rod_length"], name="rod", coating=plan.plastic("rod"))
        feed = sockets.feed(plan.socket, radius=rod.radius)
        sheet = plan.fixed.get("_sheet", ENDLESS)
        if sheet >= ENDLESS:
            return Structure(plan.title, rods, (), feed, ground="perfect")
        flange = flange_radius(plan.socket)
        roof = Surface("roof", ((flange, 0.0), (0.5 * sheet, 0.0)))
        return Structure(plan.title, rods, (*sockets.body(plan.socket, rod.metal, plate_radius=flange), roof), feed)

    def size(self, structure: Structure) -> tuple[float, float]:
        """The rod alone: the sheet is there already."""
        rod = max(structure.rods, key=lambda one: one.points[-1][2])
        return 2.0 * rod.radius, rod.points[-1][2]

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """The rod."""
        rod = plan.metals["rod"]
        return (
            *sockets.rod_pieces(plan.socket, rod, length=values["rod_length"], datum="sheet face to tip"),
            *sockets.parts(plan.socket),
            tip_caps(1),
        )  # fmt: skip

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """The rod on its socket, then through the sheet."""
        return (
            *sockets.rod_steps(plan.socket, plan.metals["rod"], length=values["rod_length"]),
            WorkStep("Drill the sheet by the flange template, scrape it bright under the flange, bed the socket on sealant round the edge",
                     "under 0.5 ohm from the socket's shell to the sheet; no water comes through", "roof work: two people, dry, no wind"),
        )  # fmt: skip

    def joints(self, plan: Plan, values: Values) -> int:
        """Rod to pin and flange to sheet."""
        return 2


FAMILY = SheetMonopole()
