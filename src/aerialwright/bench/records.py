"""What was measured, where, and what the program made of it. SI units."""

from __future__ import annotations

from dataclasses import dataclass

from aerialwright.lines.mismatch import swr_of
from aerialwright.solution.records import ComplexArray, FloatArray


@dataclass(frozen=True)
class Repair:
    """Something that was put right while reading: ``what`` was found and done, ``where`` (line or point)."""

    what: str
    where: str = ""


@dataclass(frozen=True)
class Measured:
    """A measured one-port sweep, frequencies ascending and unique.

    ``frequency`` (n,) [Hz]; ``reflection`` (n,) against ``reference`` [ohm], complex; where only magnitude or SWR was given its phase is
    meaningless and ``phase_known`` is False. ``port`` counts from 1 in a two-port file.
    """

    frequency: FloatArray
    reflection: ComplexArray
    reference: float
    phase_known: bool
    origin: str
    port: int = 1
    repairs: tuple[Repair, ...] = ()

    @property
    def swr(self) -> FloatArray:
        """Standing-wave ratio (n,) against ``reference``."""
        return swr_of(self.reflection)


@dataclass(frozen=True)
class Plane:
    """Where the instrument was calibrated, and what lies between that and the antenna.

    ``kind``: ``"antenna"`` (at the feed: nothing between), ``"line"`` (a cable of ``line_type`` and ``length`` [m]),
    ``"measured"`` (sweeps of the cable with its far end open, short or on a load) or ``"estimate"`` (from the sweep itself).
    ``far_ends``: pairs (``"open"``, ``"short"`` or ``"load"``; name of that sweep).
    """

    kind: str = "antenna"
    line_type: str = ""
    length: float = 0.0
    far_ends: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Moved:
    """A sweep at both planes.

    ``uncertainty`` (n,): radius [reflection] of what is not known at the antenna, of the size alone where ``at_antenna`` has no
    known phase; ``loss`` (n,) [dB] and ``delay`` [s] of the line, both one way. ``refused`` says why there is no sweep at the
    antenna: ``at_antenna`` is then the sweep as measured, and ``uncertainty`` infinite.
    """

    at_instrument: Measured
    at_antenna: Measured
    uncertainty: FloatArray
    loss: FloatArray
    delay: float
    notes: tuple[str, ...]
    refused: str = ""


@dataclass(frozen=True)
class Mark:
    """One number of the comparison, measured and predicted, at the antenna.

    ``key``: ``"resonance"`` (X = 0), ``"minimum"`` (frequency of the lowest SWR), ``"minimum_swr"``, ``"low_edge"`` or
    ``"high_edge"`` (of the band under the SWR limit round that minimum). Values in ``unit`` (``"Hz"`` or empty); None where the
    sweep does not show it. ``measured_error`` and ``predicted_error``: half width of what each could be, infinite where it cannot
    be known.
    """

    key: str
    label: str
    unit: str
    measured: float | None
    measured_error: float
    predicted: float | None
    predicted_error: float

    @property
    def difference(self) -> float | None:
        """Measured less predicted."""
        return None if self.measured is None or self.predicted is None else self.measured - self.predicted

    @property
    def uncertainty(self) -> float:
        """Of the difference: both errors, independent of each other."""
        return float((self.measured_error**2 + self.predicted_error**2) ** 0.5)

    @property
    def differs(self) -> bool:
        """True where the difference is more than what both errors explain."""
        return self.difference is not None and abs(self.difference) > self.uncertainty


@dataclass(frozen=True)
class BandCheck:
    """A must-band as measured: worst SWR at the antenna and at the receiver end of the feed line, and whether that is enough.

    ``swr`` may lie between ``swr_low`` and ``swr_high``. ``covered`` is False where the sweep does not reach over the band; None
    for what cannot be known.
    """

    label: str
    low: float
    high: float
    limit: float
    covered: bool
    swr: float | None
    swr_low: float | None
    swr_high: float | None
    at: float | None
    swr_receiver: float | None
    predicted: float | None
    verdict: str
    accepted: bool | None


@dataclass(frozen=True)
class Comparison:
    """A moved sweep against the prediction of its design.

    ``frequency`` (n,) [Hz]: measured points within the computed sweep. ``measured`` and ``predicted`` (n,): reflection at the
    antenna against ``reference`` [ohm]; ``measured_error`` and ``predicted_error`` (n,): radii of what each could be.
    ``accepted``: True, False, or None where the measurement does not decide; ``reason`` says why in a sentence.
    """

    moved: Moved
    frequency: FloatArray
    measured: ComplexArray
    measured_error: FloatArray
    predicted: ComplexArray
    predicted_error: FloatArray
    reference: float
    limit: float
    marks: tuple[Mark, ...]
    bands: tuple[BandCheck, ...]
    accepted: bool | None
    reason: str
    notes: tuple[str, ...] = ()

    def mark(self, key: str) -> Mark:
        """The mark called ``key``."""
        return next(mark for mark in self.marks if mark.key == key)
