"""What a family says of itself: dimensions and pieces."""

from __future__ import annotations

from dataclasses import dataclass

from aerialwright.antennas.workpiece import Allowance, Bend, Form, WorkStep, solders

#: Left on for trimming, part of the length. Common practice, no source.
TRIM = 0.03


@dataclass(frozen=True)
class Dimension:
    """One thing a builder cuts, bends, drills or counts.

    ``kind``: ``"length"`` [m], ``"angle"`` [degree] or ``"count"``. ``datum`` says from where to where it is
    measured. ``step`` is what can be marked out (same unit as ``value``). ``tuned`` tells whether the engine
    was free to move it.
    """

    key: str
    label: str
    value: float
    kind: str
    datum: str
    step: float = 1.0e-3
    tuned: bool = False


@dataclass(frozen=True)
class Piece:
    """A line of the cut list.

    ``shape``: ``rod``, ``tube``, ``wire``, ``pipe``, ``sheet``, ``mesh`` or ``part`` (bought or made, no cutting length).
    ``length`` finished [m] from the datum; ``allowances`` are added to it (what bends save is a negative one). A flat piece has
    the ``length`` and ``width`` of the rectangle it is cut from, its ``thickness`` and, where a pattern is drawn, its ``form``.
    ``stock`` names the stock item that will be used, empty if it must be bought.
    """

    name: str
    quantity: int
    shape: str
    material: str
    diameter: float | None
    length: float | None
    allowances: tuple[Allowance, ...]
    datum: str
    bends: tuple[Bend, ...] = ()
    form: Form | None = None
    width: float | None = None
    thickness: float | None = None
    stock: str = ""
    remark: str = ""

    @property
    def allowance(self) -> float:
        """All allowances together [m]."""
        return sum(one.length for one in self.allowances)

    @property
    def cut_length(self) -> float | None:
        """Length to cut [m], along the centre line."""
        return None if self.length is None else self.length + self.allowance


def part(
    name: str, material: str, *, quantity: int = 1, length: float | None = None, datum: str = "", remark: str = ""
) -> Piece:
    """Something bought or made that no length is cut for; ``length`` [m] where one is to be kept all the same."""
    return Piece(name, quantity, "part", material, None, length, (), datum, remark=remark)


def tip_caps(count: int) -> Piece:
    """A cap for every rod end that can reach an eye."""
    return part(
        "tip cap", "plastic or a closed loop", quantity=count, remark="on every end; a loop counts in the length"
    )


def centre_insulator(gap: float, remark: str) -> Piece:
    """What holds two halves apart by the ``gap`` [m]."""
    return part("centre insulator", "HDPE or fibreglass", length=gap, datum="between the halves", remark=remark)


def feed_tags() -> Piece:
    """What the coax is soldered to on two halves."""
    return part("feed tag", "tinned copper", quantity=2, remark="ring tag, under 15 mm of lead; its length counts")


def plate_fixings() -> tuple[Piece, ...]:
    """What holds two plates on their insulator, and the tags for the coax. Common practice, no source."""
    remark = "two into the insulator from each plate, too short to meet; one takes the tag"
    return part("M3 screw", "stainless steel", quantity=4, remark=remark), feed_tags()


#: The coax onto two halves.
COAX_STEPS = (
    WorkStep("Join the coax: centre conductor to the upper half, braid to the lower, both leads as short as they go",
             "under 0.5 ohm from plug pin to upper tip and from plug shell to lower tip; pin to shell open", "hot metal; solder fumes"),
    WorkStep("Lead the coax away at a right angle for a quarter wave or more and tie it so that it cannot pull on the joint",
             "the coax bears no load at the joint and runs beside no half"),
)  # fmt: skip


def lap_screws(material: str, count: int) -> tuple[Piece, ...]:
    """Screws for laps of a metal that does not solder; none for one that does."""
    if solders(material):
        return ()
    return (
        part("lap screw", "stainless steel", quantity=count, remark="M3 with nut and star washer, one for each lap"),
    )
