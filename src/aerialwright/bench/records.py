"""What was measured, where, and what the program made of it. SI units."""

from __future__ import annotations

from dataclasses import dataclass

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
        from aerialwright.lines.mismatch import swr_of

        return swr_of(self.reflection)


@dataclass(frozen=True)
class Plane:
    """Where the instrument was calibrated, and what lies between that and the antenna.

    ``kind``: ``"antenna"`` (at the feed: nothing between), ``"line"`` (a cable of ``line_type`` and ``length`` [m]),
    ``"measured"`` (a sweep of an open, short or load at the cable's far end) or ``"estimate"`` (from the sweep's ripple).
    """

    kind: str = "antenna"
    line_type: str = ""
    length: float = 0.0
    far_end_sweep: str = ""
    far_end: str = ""


@dataclass(frozen=True)
class Moved:
    """A sweep at both planes. ``uncertainty`` (n,): radius [reflection] of what is not known at the antenna; ``loss`` (n,) [dB] one way."""

    at_instrument: Measured
    at_antenna: Measured
    uncertainty: FloatArray
    loss: FloatArray
    delay: float
    notes: tuple[str, ...]
    refused: str = ""
