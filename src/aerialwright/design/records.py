"""The records between an antenna family, its solution and what people read."""

from __future__ import annotations

from dataclasses import dataclass

from aerialwright.antennas.records import Dimension, Piece
from aerialwright.base.errors import Caution
from aerialwright.design.model import Design
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import FloatArray, Pattern, Sweep
from aerialwright.structure.model import Structure

__all__ = [
    "BandFigures",
    "ChokeCase",
    "CommonMode",
    "Comparison",
    "ConnectorEffect",
    "CoverEffect",
    "Curve",
    "Dimension",
    "Evaluation",
    "Exposure",
    "Member",
    "Piece",
    "Proposal",
    "Score",
    "Sensitivity",
]


@dataclass(frozen=True)
class Sensitivity:
    """What an error in one dimension does: shift of the impedance curve along frequency [Hz] (least squares), worst SWR over
    the must-bands with the error either way, and the worst change of impedance [ohm].
    ``error`` in SI (m or degree)."""

    dimension: str
    label: str
    error: float
    kind: str
    frequency_shift: float
    worst_swr: float
    impedance_change: float


@dataclass(frozen=True)
class BandFigures:
    """An antenna on one asked band. SWR refers to the feed line's impedance at the antenna, to the receiver's
    impedance at the receiver end. Gains in dBi: toward the wanted directions in the wanted
    polarisation, ``realised`` with mismatch, feed-line loss and metal loss."""

    band: Band
    swr_worst: float
    swr_typical: float
    swr_receiver_worst: float
    swr_receiver_typical: float
    gain_minimum: float
    gain_mean: float
    realised_minimum: float
    realised_mean: float
    efficiency_minimum: float


@dataclass(frozen=True)
class ConnectorEffect:
    """An unmatched connector pair: a line of ``impedance`` [ohm] and electrical ``length`` [m]; ``swr`` (n,) behind it."""

    label: str
    impedance: float
    length: float
    swr: FloatArray


@dataclass(frozen=True)
class CoverEffect:
    """Resonance [Hz] of the same metal ``bare`` and ``covered`` by the pipe ``label``."""

    label: str
    bare: float
    covered: float

    @property
    def shift(self) -> float:
        """Change of the resonance [Hz], negative: downward."""
        return self.covered - self.bare

    @property
    def part(self) -> float:
        """The shift as a part of the bare resonance."""
        return self.shift / self.bare


@dataclass(frozen=True)
class ChokeCase:
    """The outside of the coax with one choke, or none, over several ``length`` (n,) [m].

    ``current`` (n,): largest current on it against the feed current [dB]; ``worst_length`` where that is highest.
    ``impedance`` of the choke [ohm] and the ``basis`` of it. Worst over the lengths: SWR at the antenna, change of impedance
    [ohm] and of the mean gain toward the wanted directions [dB] either way, and the lowest gain there [dBi].
    """

    key: str
    title: str
    basis: str
    impedance: complex
    length: FloatArray
    current: FloatArray
    worst_length: float
    worst_swr: float
    impedance_change: float
    gain_lost: float
    gain_gained: float
    lowest_gain: float

    @property
    def worst_current(self) -> float:
        """Highest current over the lengths against the feed current [dB]."""
        return float(self.current.max())


@dataclass(frozen=True)
class CommonMode:
    """Does the coax radiate: a tube of ``diameter`` [m] below the hub, solved at ``frequency`` [Hz].

    ``cases``: without a choke first, then with each; empty where the coax is outside the model, as ``reading`` then says.
    ``patterns``: labelled far fields without the coax, with ``pattern_length`` [m] of it (where the gain moves most) and with
    that and the best choke. ``swr_without`` and ``gain_without`` [dBi] are those of the antenna alone.
    """

    frequency: float
    diameter: float
    swr_without: float
    gain_without: float
    cases: tuple[ChokeCase, ...]
    patterns: tuple[tuple[str, Pattern], ...]
    pattern_length: float
    reading: str


@dataclass(frozen=True)
class Exposure:
    """Distances [m] from the nearest metal, by rule title, for ``power`` [W] into the antenna and ``duty`` of the time at ``frequency``
    [Hz]; ``far_field`` are those of the plain far-field formula with the antenna's greatest gain."""

    frequency: float
    power: float
    duty: float
    distance: tuple[tuple[str, float], ...]
    far_field: tuple[tuple[str, float], ...]

    def of(self, title: str) -> float:
        """Distance [m] of one rule."""
        return dict(self.distance)[title]


@dataclass(frozen=True)
class Evaluation:
    """One antenna with its dimensions, solved over everything asked.

    Arrays share ``frequency`` (n,) [Hz]: ``swr`` with ``swr_low``/``swr_high`` (the error band carried
    through), ``swr_receiver``, ``gain_wanted`` and ``realised_gain`` [dBi], ``efficiency``.
    ``half_power_band``: (low, high) [Hz] around the must-bands where realised gain stays within 3 dB of its best,
    cut at the ends of ``frequency``.
    ``width`` across and ``height`` [m]. ``connector`` and ``cover`` where there is one that changes the answer. ``design`` is
    what was solved; None where the record was made without one.
    """

    key: str
    title: str
    family: str
    family_title: str
    dimensions: tuple[Dimension, ...]
    pieces: tuple[Piece, ...]
    structure: Structure
    sweep: Sweep
    frequency: FloatArray
    swr: FloatArray
    swr_low: FloatArray
    swr_high: FloatArray
    swr_receiver: FloatArray
    gain_wanted: FloatArray
    realised_gain: FloatArray
    efficiency: FloatArray
    half_power_band: tuple[float, float]
    patterns: tuple[Pattern, ...]
    bands: tuple[BandFigures, ...]
    sensitivities: tuple[Sensitivity, ...]
    width: float
    height: float
    parts: int
    joints: int
    stock_suffices: bool
    missing: tuple[str, ...]
    first_guess: tuple[Dimension, ...]
    first_guess_source: str
    assumptions: tuple[str, ...]
    cautions: tuple[Caution, ...]
    owned: bool = False
    design: Design | None = None
    connector: ConnectorEffect | None = None
    cover: CoverEffect | None = None
    common_mode: CommonMode | None = None
    exposure: Exposure | None = None


@dataclass(frozen=True)
class Member:
    """One antenna of a proposal and the labels of the bands it is there for."""

    evaluation: Evaluation
    band_labels: tuple[str, ...]


@dataclass(frozen=True)
class Score:
    """How an antenna does by the far end's own measure: ``value`` in ``unit``, larger is better, at ``place``. Two that differ by less
    than ``alike`` do as well as each other."""

    value: float
    alike: float
    unit: str
    place: str = ""


@dataclass(frozen=True)
class Proposal:
    """What could be built: one antenna, or two with their bands shared out.

    ``rank`` counts from 1. ``verdict`` is one plain sentence; ``reasons`` say which limit decided and by how much;
    ``gives_up`` what the person loses against the recommendation (or, for the recommendation, against the runner-up).
    ``serves`` is False when a must-band is missed; ``why_not`` then says which and by how much. ``score`` where the far end has a
    measure of its own.
    """

    key: str
    title: str
    members: tuple[Member, ...]
    bands: tuple[BandFigures, ...]
    rank: int
    serves: bool
    verdict: str
    reasons: tuple[str, ...]
    gives_up: tuple[str, ...]
    why_not: tuple[str, ...]
    parts: int
    joints: int
    stock_suffices: bool
    score: Score | None = None

    def sign(self, index: int) -> str:
        """What a member is called in lists and pictures: the rank, and inside a pair a letter."""
        return f"{self.rank}{'abcdefgh'[index] if len(self.members) > 1 else ''}"


@dataclass(frozen=True)
class Curve:
    """A computed curve that answers a 'why' question about exactly this antenna.

    ``x`` in SI or degree as ``x_kind`` says (``length``, ``angle``, ``count``, ``frequency``); each series is
    ``(label, values (n,))`` in ``y_unit``. ``marks`` are labelled x positions (the built value, the rule of thumb).
    ``reading`` says in one or two sentences, computed from the numbers, what the curve shows.
    """

    key: str
    question: str
    x_label: str
    x_kind: str
    x: FloatArray
    y_label: str
    y_unit: str
    series: tuple[tuple[str, FloatArray], ...]
    marks: tuple[tuple[str, float], ...]
    reading: str


@dataclass(frozen=True)
class Comparison:
    """The answer: proposals in order, the computed explanations, and what it all rests on."""

    need: Need
    proposals: tuple[Proposal, ...]
    refused: tuple[tuple[str, str], ...]
    curves: tuple[Curve, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[Caution, ...]
    seconds: float
    version: str
    #: The day, as year-month-day.
    made: str = ""
