"""A feed line: loss and phase over frequency, impedance through it, power through it.

The characteristic impedance is taken as real: at VHF the reactance of a coax is under one ohm, below its tolerance.
Frequencies are arrays [Hz], impedances complex arrays [ohm]; shapes broadcast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from aerialwright.base.constants import c
from aerialwright.base.errors import NeedError
from aerialwright.lines.mismatch import ComplexArray, FloatArray, impedance_of, reflection
from aerialwright.need.model import FeedLine
from aerialwright.stock.cables import OTHER, cable

#: Neper per decibel, ``ln(10) / 20``.
NEPER_PER_DECIBEL = float(np.log(10.0) / 20.0)
#: Velocity factor assumed for a cable of unknown type: solid polyethylene. Turns the impedance chart, not the loss.
ASSUMED_VELOCITY_FACTOR = 0.66


@dataclass(frozen=True)
class Line:
    """A length of coax.

    ``impedance`` [ohm] real; ``length`` [m]; ``velocity_factor``; loss is ``k1 sqrt(f) + k2 f`` in dB/100 m with ``f``
    in MHz (conductors grow as the root, dielectric in proportion).
    """

    title: str
    impedance: float
    length: float
    velocity_factor: float
    k1: float
    k2: float

    def loss_db(self, frequency: ArrayLike) -> FloatArray:
        """Matched loss of the whole length [dB]."""
        return cable_loss_db(k1=self.k1, k2=self.k2, length=self.length, frequency=frequency)

    def propagation(self, frequency: ArrayLike) -> ComplexArray:
        """Complex propagation constant [1/m]."""
        return propagation_constant(k1=self.k1, k2=self.k2, velocity_factor=self.velocity_factor, frequency=frequency)

    def through(self, load: ArrayLike, *, frequency: ArrayLike) -> ComplexArray:
        """Impedance [ohm] of ``load`` [ohm] at one end, seen from the other."""
        gamma = self.propagation(frequency)
        return transform_impedance(load=load, impedance=self.impedance, gamma=gamma, length=self.length)


def line_from_need(feed_line: FeedLine) -> Line:
    """The line that a need describes.

    A measured loss overrides the table: the table's curve is scaled to it; a cable of unknown type follows the root
    of frequency through it. Raises :class:`NeedError` for a loss on no length and
    :class:`~aerialwright.stock.tables.StockError` for an unknown type.
    """
    measured = feed_line.loss is not None and feed_line.loss_frequency is not None
    if measured and feed_line.length <= 0.0 and feed_line.loss:
        raise NeedError(
            "a line without length has no loss", where=feed_line.type, mend="give the length, or leave the loss out"
        )
    if feed_line.type == OTHER:
        k1, k2, title, velocity = 1.0, 0.0, "coax of unknown type", ASSUMED_VELOCITY_FACTOR
        if not measured and feed_line.length > 0.0:
            raise NeedError(
                "a cable of unknown type needs its measured loss", where="feed_line", mend="add loss and loss_frequency"
            )
    else:
        row = cable(feed_line.type)
        k1, k2, title, velocity = row.k1, row.k2, row.title, row.velocity_factor
    if feed_line.loss is not None and feed_line.loss_frequency is not None and feed_line.length > 0.0:
        table = float(cable_loss_db(k1=k1, k2=k2, length=feed_line.length, frequency=feed_line.loss_frequency))
        k1, k2 = k1 * feed_line.loss / table, k2 * feed_line.loss / table
        title = f"{title}, loss as measured"
    return Line(title, feed_line.impedance, feed_line.length, velocity, k1, k2)


def cable_loss_db(*, k1: float, k2: float, length: float, frequency: ArrayLike) -> FloatArray:
    """Matched loss [dB] of ``length`` [m]: ``(k1 sqrt(f) + k2 f) length / 100``, ``f`` in MHz."""
    megahertz = np.asarray(frequency, dtype=np.float64) * 1e-6
    return np.asarray((k1 * np.sqrt(megahertz) + k2 * megahertz) * (length / 100.0), dtype=np.float64)


def propagation_constant(*, k1: float, k2: float, velocity_factor: float, frequency: ArrayLike) -> ComplexArray:
    """``alpha + j beta`` [1/m]: loss in neper and ``2 pi f / (velocity_factor c)``."""
    hertz = np.asarray(frequency, dtype=np.float64)
    alpha = cable_loss_db(k1=k1, k2=k2, length=1.0, frequency=hertz) * NEPER_PER_DECIBEL
    return np.asarray(alpha + 2j * np.pi * hertz / (velocity_factor * c), dtype=np.complex128)


def transform_impedance(*, load: ArrayLike, impedance: ArrayLike, gamma: ArrayLike, length: ArrayLike) -> ComplexArray:
    """Impedance seen through ``length`` [m] of line of real ``impedance`` [ohm] and propagation ``gamma`` [1/m].

    By the reflection coefficient, ``r exp(-2 gamma l)``, which stays finite for shorts, opens and long lossy lines.
    A negative ``length`` moves the plane back towards the load (a measured sweep to the antenna).
    """
    turn = np.exp(-2.0 * np.asarray(gamma, dtype=np.complex128) * np.asarray(length, dtype=np.float64))
    return impedance_of(reflection(load, reference=impedance) * turn, reference=impedance)


def line_abcd(*, impedance: ArrayLike, gamma: ArrayLike, length: ArrayLike) -> tuple[ComplexArray, ...]:
    """Chain parameters (A, B, C, D) of a uniform line [@pozar]: cosh, Z0 sinh, sinh/Z0, cosh of ``gamma l``."""
    turn = np.asarray(gamma, dtype=np.complex128) * np.asarray(length, dtype=np.float64)
    z0 = np.asarray(impedance, dtype=np.float64)
    cosh, sinh = np.cosh(turn), np.sinh(turn)
    return cosh, np.asarray(z0 * sinh), np.asarray(sinh / z0), cosh


def delivered_power_ratio(
    *, antenna_impedance: ArrayLike, line: Line, receiver_impedance: ArrayLike, frequency: ArrayLike
) -> FloatArray:
    """Power into the receiver over the power available from the antenna: mismatch at both ends and loss together.

    With chain parameters of the line, antenna ``Za = Ra + jXa`` and receiver ``Zr``::

        G = 4 Ra Rr / |A Zr + B + C Za Zr + D Za|^2

    the transducer gain [@pozar]; by reciprocity the same from transmitter to antenna. Where ``Ra <= 0`` (no power is
    available) the result is NaN.
    """
    source = np.asarray(antenna_impedance, dtype=np.complex128)
    sink = np.asarray(receiver_impedance, dtype=np.complex128)
    a, b, chain_c, d = line_abcd(impedance=line.impedance, gamma=line.propagation(frequency), length=line.length)
    below = np.abs(a * sink + b + chain_c * source * sink + d * source) ** 2
    gain = 4.0 * source.real * sink.real / below
    return np.asarray(np.where(source.real > 0.0, gain, np.nan), dtype=np.float64)
