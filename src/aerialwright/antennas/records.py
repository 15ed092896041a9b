"""What a family says of itself: dimensions and pieces."""

from __future__ import annotations

from dataclasses import dataclass


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

    ``shape``: ``rod``, ``tube``, ``sheet``, ``mesh`` or ``part`` (bought or made, no cutting length). ``length``
    finished [m] from the datum, ``allowance`` [m] added for lap, thread or trim; ``cut_length`` = sum.
    ``bend`` [degree] at ``bend_start`` [m] from the datum where there is one. ``stock`` names the stock item
    that will be used, empty if it must be bought.
    """

    name: str
    quantity: int
    shape: str
    material: str
    diameter: float | None
    length: float | None
    allowance: float
    datum: str
    bend: float | None = None
    bend_start: float | None = None
    width: float | None = None
    stock: str = ""
    remark: str = ""

    @property
    def cut_length(self) -> float | None:
        """Length to cut [m]."""
        return None if self.length is None else self.length + self.allowance
