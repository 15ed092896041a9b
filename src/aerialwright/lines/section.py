"""Short lines of wrong impedance between antenna and coax: a connector pair that is not matched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from aerialwright.base.constants import c
from aerialwright.lines.line import Line, delivered_power_ratio, transform_impedance
from aerialwright.lines.mismatch import ComplexArray, FloatArray, swr_of


@dataclass(frozen=True)
class Section:
    """A line without loss: ``impedance`` [ohm] and ``length`` [m], electrical (as in air)."""

    impedance: float
    length: float


def behind(sections: tuple[Section, ...], *, load: ArrayLike, frequency: ArrayLike) -> ComplexArray:
    """Impedance [ohm] of ``load`` seen through ``sections``, the first one next to it."""
    gamma = 2j * np.pi * np.asarray(frequency, dtype=np.float64) / c
    found = np.asarray(load, dtype=np.complex128)
    for section in sections:
        found = transform_impedance(load=found, impedance=section.impedance, gamma=gamma, length=section.length)
    return found


def added_swr(section: Section, *, reference: float, frequency: ArrayLike) -> FloatArray:
    """SWR that a section shows in a matched system of ``reference`` [ohm]: the most it can multiply an SWR by."""
    matched = np.full(np.shape(frequency), reference, dtype=np.complex128)
    z = behind((section,), load=matched, frequency=frequency)
    return swr_of((z - reference) / (z + reference))


def delivered_through(
    sections: tuple[Section, ...],
    *,
    antenna_impedance: ArrayLike,
    line: Line,
    receiver_impedance: ArrayLike,
    frequency: ArrayLike,
) -> FloatArray:
    """Power into the receiver over the power available from the antenna, through ``sections`` and then ``line``.

    A two-port without loss passes on the available power and only moves the source impedance, which for a uniform line is
    the impedance seen through it [@pozar].
    """
    source = behind(sections, load=antenna_impedance, frequency=frequency)
    return delivered_power_ratio(
        antenna_impedance=source, line=line, receiver_impedance=receiver_impedance, frequency=frequency
    )
