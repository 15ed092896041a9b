"""The build sheet as data: what the document, the files and the command line are made from. SI units; angles in degrees.

The records know no family: a family speaks through its pieces (:mod:`aerialwright.antennas.workpiece`) and its steps.
"""

from __future__ import annotations

from dataclasses import dataclass

from aerialwright.antennas.workpiece import Allowance, Bend, Form, WorkStep
from aerialwright.base.errors import Caution
from aerialwright.design.records import Evaluation
from aerialwright.need.model import FeedLine, Need

__all__ = [
    "BuildSheet", "CutLine", "Expected", "SheetUse", "StockPlan", "StockUse", "TestCard", "Tolerance", "TrimRow", "WorkStep",
]  # fmt: skip


@dataclass(frozen=True)
class Tolerance:
    """How exact a dimension must be: ``plus_minus`` (m or degree), what one millimetre (or degree) does, and why that much is allowed.

    ``frequency_per_unit`` [Hz per mm or degree], ``impedance_per_unit`` [ohm per mm or degree], both signed; None where not solved.
    """

    plus_minus: float
    kind: str
    frequency_per_unit: float | None
    impedance_per_unit: complex | None
    reason: str


@dataclass(frozen=True)
class CutLine:
    """One line of the cut list. ``finished`` [m] from ``datum``; ``cut`` = finished + allowances (developed along the centre line).

    ``mark_bends``: (distance [m] from the cut end at the datum to where each arc starts, its developed length [m], the bend).
    ``form`` for flat and rolled pieces. ``stock`` is the label of the shelf item, empty: to buy. ``bend_tolerance`` [degree] where
    the angle is a dimension of the design.
    """

    number: int
    name: str
    quantity: int
    shape: str
    material: str
    diameter: float | None
    thickness: float | None
    finished: float | None
    datum: str
    allowances: tuple[Allowance, ...]
    cut: float | None
    width: float | None
    mark_bends: tuple[tuple[float, float, Bend], ...]
    tolerance: Tolerance | None
    stock: str
    remark: str
    form: Form | None = None
    bend_tolerance: Tolerance | None = None


@dataclass(frozen=True)
class StockUse:
    """One bar, tube or wire of the shelf and what is cut from it, in order: (piece name, cut length [m]). ``left`` [m] after kerfs."""

    label: str
    number: int
    length: float
    cuts: tuple[tuple[str, float], ...]
    kerf: float
    left: float


@dataclass(frozen=True)
class SheetUse:
    """One sheet of the shelf and the rectangles cut from it: (piece name, x, y, width, height) [m], origin at a corner."""

    label: str
    number: int
    length: float
    width: float
    cuts: tuple[tuple[str, float, float, float, float], ...]
    round: bool = False


@dataclass(frozen=True)
class StockPlan:
    """How the shelf is shared out, and the shopping list. ``proven`` tells whether the optimiser proved that fewer bars cannot do."""

    bars: tuple[StockUse, ...]
    sheets: tuple[SheetUse, ...]
    shopping: tuple[str, ...]
    proven: bool
    method: str


@dataclass(frozen=True)
class Expected:
    """What the test shows at one frequency: values at the ``antenna`` and at the ``far`` end of the coax, with the accept limits."""

    label: str
    frequency: float
    swr: float
    swr_error: float
    impedance: complex
    swr_limit: float
    far_swr: float
    far_impedance: complex
    far_swr_limit: float


@dataclass(frozen=True)
class TrimRow:
    """Reading to cut: a dip ``dip_offset`` [Hz] off the wanted frequency (negative: too low) means ``change`` [m] of ``piece``
    (negative: cut off)."""

    dip_offset: float
    piece: str
    change: float
    first_cut: float


@dataclass(frozen=True)
class TestCard:
    """What to expect when it is measured, where, and what to do about a difference."""

    reference_plane: str
    hang: tuple[str, ...]
    dip_frequency: float
    dip_swr: float
    dip_allowed: float
    sweep_low: float
    sweep_high: float
    line: FeedLine
    expected: tuple[Expected, ...]
    trim: tuple[TrimRow, ...]
    trim_note: str
    faults: tuple[tuple[str, str], ...]
    command: str = ""


@dataclass(frozen=True)
class BuildSheet:
    """Everything a builder carries to the workshop, for one antenna of an answer."""

    title: str
    need: Need
    evaluation: Evaluation
    band_labels: tuple[str, ...]
    promise: tuple[str, ...]
    tools: tuple[str, ...]
    parts: tuple[tuple[str, int, str], ...]
    cut_list: tuple[CutLine, ...]
    plan: StockPlan
    steps: tuple[WorkStep, ...]
    joints: tuple[str, ...]
    strip_back: tuple[tuple[str, float], ...]
    choke: tuple[str, ...]
    weather: tuple[str, ...]
    mounting: tuple[str, ...]
    test: TestCard
    safety: tuple[Caution, ...]
    version: str
    design_id: str
