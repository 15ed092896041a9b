"""Quarter-wave rod on a very large sheet: a metal roof, a vehicle roof."""

from __future__ import annotations

from aerialwright.antennas import socket as sockets
from aerialwright.antennas.family import Family, Parameter, Plan, Shelf, Span, Values
from aerialwright.antennas.ground_plane import TRIM
from aerialwright.antennas.records import Piece
from aerialwright.need.model import Need
from aerialwright.structure.model import Structure

#: Words of a site that mean a large metal sheet to stand on.
SHEET_WORDS = ("metal roof", "sheet roof", "steel roof", "vehicle roof", "sheet metal roof")


class SheetMonopole(Family):
    """Rod over an infinite conducting plane."""

    key = "sheet-monopole"
    title = "quarter-wave rod on a very large sheet"
    place = 14
    socketed = True
    in_pipe = ("rod",)
    parameters = (
        Parameter(
            "rod_length", "rod length", "length", "sheet face to tip, pin and cup included", 1e-3, True, 0.01, 8.0
        ),
        Parameter("rod_diameter", "rod diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.08),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """Only where the site has such a sheet."""
        words = " ".join((need.site.description, *need.site.nearby)).lower()
        if not any(word in words for word in SHEET_WORDS):
            return []
        rod = shelf.rod()
        return [Plan(self.key, self.title, {"rod_diameter": rod.diameter}, {"rod": rod}, shelf.socket(span.high))]

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """0.95 of a quarter wave."""
        values = dict(plan.fixed) | {"rod_length": 0.95 * 0.25 * span.wavelength()}
        return values, "rod 0.95 of a quarter wave (common practice, no source)"

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """A third either side."""
        quarter = 0.25 * span.wavelength()
        return {"rod_length": (0.6 * quarter, 1.2 * quarter)}

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Rod above the plane, fed through the socket's aperture."""
        self.check(values)
        rod = plan.metals["rod"]
        rods = sockets.upright(plan.socket, rod, length=values["rod_length"], name="rod", coating=plan.plastic("rod"))
        return Structure(plan.title, rods, (), sockets.feed(plan.socket, radius=rod.radius), ground="perfect")

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """The rod."""
        rod = plan.metals["rod"]
        length = values["rod_length"]
        return (
            Piece("rod", 1, rod.kind, rod.material, rod.diameter, length, TRIM * length, "sheet face to tip", stock=rod.stock,
                  remark=f"trim from the tip after the first sweep; cap or loop the tip; {sockets.rod_remark(plan.socket, rod)}"),
            sockets.piece(plan.socket),
        )  # fmt: skip

    def joints(self, plan: Plan, values: Values) -> int:
        """Rod to pin and flange to sheet."""
        return 2


FAMILY = SheetMonopole()
