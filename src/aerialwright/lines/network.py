"""What stands between antenna and line: coils, capacitors, stubs, pieces of line, transformers, and the L-network that matches.

Every element is a two-port in chain parameters (A, B, C, D) with the antenna at its output [@pozar]: arrays over frequency [Hz], the
impedance seen through it is ``(A Z + B) / (C Z + D)``. A coil or capacitor of quality Q loses ``|X| / Q`` in series, the same
Q at every frequency.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from aerialwright.lines.line import line_abcd, propagation_constant
from aerialwright.lines.mismatch import ComplexArray, FloatArray

Chain = tuple[ComplexArray, ComplexArray, ComplexArray, ComplexArray]


class Element(Protocol):
    """A two-port of the chain from antenna to line."""

    def chain(self, frequency: FloatArray) -> Chain:
        """Chain parameters (A, B, C, D), each (n,), at ``frequency`` (n,) [Hz]."""


@dataclass(frozen=True)
class Part:
    """Resistance [ohm], inductance [H] and capacitance [F] in series (what is None is not there); ``quality`` of coil and capacitor."""

    resistance: float | None = None
    inductance: float | None = None
    capacitance: float | None = None
    quality: float = math.inf

    def impedance(self, frequency: ArrayLike) -> ComplexArray:
        """Impedance (n,) [ohm] at ``frequency`` (n,) [Hz]."""
        omega = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64)
        total = np.full(omega.shape, complex(self.resistance or 0.0))
        if self.inductance is not None:
            total = total + omega * self.inductance * complex(1.0 / self.quality, 1.0)
        if self.capacitance is not None:
            total = total + complex(1.0 / self.quality, -1.0) / (omega * self.capacitance)
        return np.asarray(total, dtype=np.complex128)


def _series(impedance: ComplexArray) -> Chain:
    one, none = np.ones_like(impedance), np.zeros_like(impedance)
    return one, impedance, none, one


def _shunt(admittance: ComplexArray) -> Chain:
    one, none = np.ones_like(admittance), np.zeros_like(admittance)
    return one, none, admittance, one


@dataclass(frozen=True)
class Series:
    """A part in the inner conductor."""

    part: Part

    def chain(self, frequency: FloatArray) -> Chain:
        """See :class:`Element`."""
        return _series(self.part.impedance(frequency))


@dataclass(frozen=True)
class Shunt:
    """A part from the inner to the outer conductor."""

    part: Part

    def chain(self, frequency: FloatArray) -> Chain:
        """See :class:`Element`."""
        return _shunt(1.0 / self.part.impedance(frequency))


@dataclass(frozen=True)
class LineSection:
    """A piece of line: ``impedance`` [ohm], ``length`` [m] as cut, loss as of :class:`~aerialwright.lines.line.Line`."""

    impedance: float
    length: float
    velocity_factor: float = 1.0
    k1: float = 0.0
    k2: float = 0.0

    def propagation(self, frequency: FloatArray) -> ComplexArray:
        """Complex propagation constant [1/m]."""
        return propagation_constant(k1=self.k1, k2=self.k2, velocity_factor=self.velocity_factor, frequency=frequency)

    def chain(self, frequency: FloatArray) -> Chain:
        """See :class:`Element`."""
        a, b, c, d = line_abcd(impedance=self.impedance, gamma=self.propagation(frequency), length=self.length)
        return a, b, c, d


@dataclass(frozen=True)
class Stub:
    """A piece of line across the feed, its far end ``shorted`` or open."""

    line: LineSection
    shorted: bool

    def chain(self, frequency: FloatArray) -> Chain:
        """See :class:`Element`; ``tanh`` of the turn over Z0 for an open end, its inverse for a shorted one."""
        slope = np.tanh(self.line.propagation(frequency) * self.line.length)
        admittance = (1.0 / slope if self.shorted else slope) / self.line.impedance
        return _shunt(np.asarray(admittance, dtype=np.complex128))


@dataclass(frozen=True)
class Transformer:
    """``turns``: those on the antenna's side over those on the line's. Impedance goes down by its square toward the line.

    ``leakage`` [H] in series and ``magnetising`` [H] across, both on the line's side (None: ideal), of ``quality``.
    """

    turns: float
    leakage: float | None = None
    magnetising: float | None = None
    quality: float = math.inf

    def chain(self, frequency: FloatArray) -> Chain:
        """See :class:`Element`."""
        shape, n = np.shape(frequency), self.turns
        none = np.zeros(shape, dtype=np.complex128)
        found: Chain = (none + 1.0 / n, none, none, none + n)
        if self.magnetising is not None:
            found = _product(Shunt(Part(inductance=self.magnetising, quality=self.quality)).chain(frequency), found)
        if self.leakage is not None:
            found = _product(Series(Part(inductance=self.leakage, quality=self.quality)).chain(frequency), found)
        return found


def _product(first: Chain, then: Chain) -> Chain:
    """Chain of two two-ports, ``first`` on the line's side."""
    (a, b, c, d), (e, f, g, h) = first, then
    return a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h


@dataclass(frozen=True)
class Behind:
    """``impedance`` (n,) [ohm] on the line's side, and the part (n,) of the power taken there that reaches the antenna."""

    impedance: ComplexArray
    efficiency: FloatArray


def through(elements: tuple[Element, ...], *, load: ArrayLike, frequency: ArrayLike) -> Behind:
    """What ``load`` (n,) [ohm] looks like through ``elements``, the first one next to it, and what they lose.

    With output current 1 the input current is ``C Z + D``; the power of each side is its resistance times the current squared.
    """
    at, z = np.asarray(frequency, dtype=np.float64), np.asarray(load, dtype=np.complex128)
    one, none = np.ones(at.shape, dtype=np.complex128), np.zeros(at.shape, dtype=np.complex128)
    total: Chain = (one, none, none, one)
    for element in elements:
        total = _product(element.chain(at), total)
    a, b, c, d = total
    current = c * z + d
    seen = (a * z + b) / current
    with np.errstate(divide="ignore", invalid="ignore"):
        efficiency = z.real / (seen.real * np.abs(current) ** 2)
    return Behind(np.asarray(seen), np.asarray(efficiency, dtype=np.float64))


def match_l(load: complex, *, reference: float, frequency: float) -> tuple[tuple[Series | Shunt, Series | Shunt], ...]:
    """Every network of two reactances that turns ``load`` into ``reference`` [ohm] at ``frequency`` [Hz], antenna's side first.

    Shunt next to the antenna where its parallel resistance is the higher one, series next to it where its series resistance is the
    lower one [@pozar]: two networks, four where both hold, none for a load that takes no power.
    """
    r, x = load.real, load.imag
    if not (r > 0.0 and math.isfinite(r) and math.isfinite(x)):
        return ()
    found: list[tuple[Series | Shunt, Series | Shunt]] = []
    size = r * r + x * x
    if size >= r * reference:
        root = math.sqrt(max(0.0, r / reference * (size - reference * r)))
        for sign in (1.0, -1.0):
            susceptance = (x + sign * root) / size
            after = 1.0 / (1.0 / load + 1j * susceptance)
            found.append((_shunt_of(susceptance, frequency), _series_of(-after.imag, frequency)))
    if r <= reference:
        for sign in (1.0, -1.0):
            reactance = sign * math.sqrt(r * (reference - r)) - x
            after_y = 1.0 / (load + 1j * reactance)
            found.append((_series_of(reactance, frequency), _shunt_of(-after_y.imag, frequency)))
    return tuple(found)


def _series_of(reactance: float, frequency: float) -> Series:
    """A coil, a capacitor, or nothing at all, in series."""
    omega = 2.0 * math.pi * frequency
    if abs(reactance) < 1e-9:
        return Series(Part(resistance=0.0))
    return Series(Part(inductance=reactance / omega) if reactance > 0 else Part(capacitance=-1.0 / (omega * reactance)))


def _shunt_of(susceptance: float, frequency: float) -> Shunt:
    """A capacitor, a coil, or an open end, across."""
    omega = 2.0 * math.pi * frequency
    if abs(susceptance) < 1e-12:
        return Shunt(Part(resistance=math.inf))
    return Shunt(
        Part(capacitance=susceptance / omega) if susceptance > 0 else Part(inductance=-1.0 / (omega * susceptance))
    )
