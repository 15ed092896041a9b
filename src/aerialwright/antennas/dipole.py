"""Half-wave dipole of wire, rod or fat tube, upright or level."""

from __future__ import annotations

from aerialwright.antennas.family import Conductor, Family, Parameter, Plan, Shelf, Span, Values
from aerialwright.antennas.records import COAX_STEPS, TRIM, Piece, centre_insulator, feed_tags, part, tip_caps
from aerialwright.antennas.workpiece import Allowance, WorkStep
from aerialwright.base.errors import DesignError
from aerialwright.base.printing import format_length
from aerialwright.need.model import Need
from aerialwright.structure.model import ApertureFeed, Rod, RodFeed, Structure

#: Foot of the handbook rule 468/f: length [m] times frequency [Hz].
RULE_468 = 468.0 * 0.3048 * 1e6


class Dipole(Family):
    """Two equal arms fed in the middle."""

    key = "dipole"
    title = "half-wave dipole"
    polarisations = ("vertical", "horizontal")
    place = 20
    narrow = True
    main_length = "total_length"
    in_pipe = ("arm",)
    parameters = (
        Parameter("total_length", "total length", "length", "tip to tip, gap included", 1e-3, True, 0.02, 16.0),
        Parameter("gap", "feed gap", "length", "between the faces of the arms", 1e-3, False, 1e-3, 0.1),
        Parameter("arm_diameter", "arm diameter", "length", "outside, measured", 1e-4, False, 2e-4, 0.12),
    )

    def plans(self, need: Need, shelf: Shelf, span: Span) -> list[Plan]:
        """One of thin rod and one of the fattest tube on the shelf."""
        horizontal = need.polarisation == "horizontal"
        plans = []
        tubes = shelf.tubes()
        choices: list[tuple[str, Conductor]] = [("thin", shelf.rod())]
        if tubes:
            choices.append(("thick", tubes[0]))
        for word, arm in choices:
            gap = 10e-3 if word == "thin" else 15e-3
            plans.append(
                Plan(f"dipole-{word}", f"half-wave dipole of {arm.diameter * 1e3:.3g} mm {arm.kind}",
                     {"gap": gap, "arm_diameter": arm.diameter}, {"arm": arm}, shelf.socket(span.high), horizontal)
            )  # fmt: skip
        return plans

    def first_guess(self, plan: Plan, span: Span) -> tuple[Values, str]:
        """468/f feet."""
        values = dict(plan.fixed) | {"total_length": RULE_468 / span.centre}
        return values, "468/f feet, f in MHz (handbook rule for thin wire, from memory)"

    def bounds(self, plan: Plan, span: Span, values: Values) -> dict[str, tuple[float, float]]:
        """0.35 to 0.6 of a wavelength."""
        return {"total_length": (0.35 * span.wavelength(), 0.6 * span.wavelength())}

    def structure(self, plan: Plan, values: Values) -> Structure:
        """Two solid arms with a cylindrical gap between them."""
        self.check(values)
        arm = plan.metals["arm"]
        half, gap = 0.5 * values["total_length"], 0.5 * values["gap"]
        if half - gap < 2 * arm.diameter:
            raise DesignError(
                "the arms are no longer than they are thick", where="total_length", mend="make the dipole longer"
            )
        if plan.horizontal:
            rod = Rod("arms", ((-half, 0.0, 0.0), (half, 0.0, 0.0)), arm.radius, 1, arm.metal, plan.plastic("arm"))
            return Structure(plan.title, (rod,), (), RodFeed("arms", half, values["gap"]))
        upper = Rod("upper arm", ((0.0, 0.0, gap), (0.0, 0.0, half)), arm.radius, 1, arm.metal, plan.plastic("arm"))
        lower = Rod("lower arm", ((0.0, 0.0, -gap), (0.0, 0.0, -half)), arm.radius, 1, arm.metal, plan.plastic("arm"))
        return Structure(plan.title, (upper, lower), (), ApertureFeed((arm.radius, gap), (arm.radius, -gap)))

    def pieces(self, plan: Plan, values: Values) -> tuple[Piece, ...]:
        """Two arms from the gap's edge."""
        arm = plan.metals["arm"]
        length = 0.5 * (values["total_length"] - values["gap"])
        hollow = arm.kind == "tube"
        caps = (
            part("end cap", "plastic", quantity=2, remark="a metal cap would count in the length")
            if hollow
            else tip_caps(2)
        )
        return (
            Piece("arm", 2, arm.kind, arm.material, arm.diameter, length, (Allowance("trim", TRIM * length),),
                  "gap edge to tip; end cap counts", stock=arm.stock, remark="trim both arms equally after the first sweep"),
            centre_insulator(values["gap"], "dowel or block that holds both arms; not wood"),
            feed_tags(),
            part("M3 screw", "stainless steel", quantity=4, remark="two for each arm, one takes the tag; clamp a rod"),
            caps,
        )  # fmt: skip

    def steps(self, plan: Plan, values: Values) -> tuple[WorkStep, ...]:
        """Arms on the insulator, then the coax."""
        length = 0.5 * (values["total_length"] - values["gap"])
        return (
            WorkStep(f"Fix both arms on the centre insulator, {format_length(values['gap'])} between their faces",
                     f"arms in one line; each {length * 1e3:.0f} mm from the gap's edge, and the trim stock beyond"),
            WorkStep("Put a tag on each arm, bright metal under it, with star washer", "under 0.5 ohm from tag to tip; arm to arm open"),
            *COAX_STEPS,
        )  # fmt: skip

    def joints(self, plan: Plan, values: Values) -> int:
        """Centre and braid."""
        return 2


FAMILY = Dipole()
