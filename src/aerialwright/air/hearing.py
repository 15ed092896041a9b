"""What would help to hear better: the match, the coax or a preamplifier, each in decibels of signal to noise.

All is referred to the antenna: noise from outside and from warm metal, plus what the chain adds, divided by what the chain passes.
A chain without gain at T0 that passes the share ``g`` of the available power adds ``1/g`` times the receiver's noise factor
[@friis-1944], so that mismatch counts as loss; by how much a receiver's noise changes with what it looks into is not known here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from aerialwright.base.errors import Caution
from aerialwright.base.printing import format_decibel, format_frequency, format_length
from aerialwright.design.records import Evaluation
from aerialwright.lines.line import Line, line_from_need
from aerialwright.lines.mismatch import reflection
from aerialwright.lines.noise import external_noise_db, noise_cautions
from aerialwright.lines.section import Section, behind, delivered_through
from aerialwright.need.model import Band, Need, Preamplifier

#: Noise figure [dB] of a receiver that the need says nothing of: a usual VHF set. From memory, no source.
ASSUMED_RECEIVER = 6.0
#: A masthead preamplifier that the need says nothing of. From memory, no source.
ASSUMED_PREAMPLIFIER = Preamplifier(noise_figure=1.0, gain=20.0)
#: Less than this [dB] is not noticed. Common practice, no source.
NOTICED = 1.0


@dataclass(frozen=True)
class Help:
    """A change and what it brings [dB] of signal to noise (negative: it harms)."""

    key: str
    title: str
    gain: float


@dataclass(frozen=True)
class Hearing:
    """One antenna on one band at ``frequency`` [Hz]: noise figures [dB] referred to the antenna, of the outside, of the chain and of both;
    by how much ``noise_rise`` [dB] the receiver's noise goes up when the antenna is connected instead of a matched load; the
    changes, best first, and what they mean."""

    band: str
    frequency: float
    outside: float
    chain: float
    total: float
    noise_rise: float
    helps: tuple[Help, ...]
    reading: str
    assumptions: tuple[str, ...]
    cautions: tuple[Caution, ...]


def hear(need: Need, evaluation: Evaluation, band: Band) -> Hearing:
    """What limits the reception of ``band`` with this antenna, at the middle of the band."""
    frequency = band.centre
    lines = [line_from_need(feed) for feed in need.feed_lines]
    now = _Chain.of(need, evaluation, lines[0], frequency)
    outside = now.outside()
    before = outside - 1.0 + now.added()
    changes = [
        (
            "match",
            "a perfect match at the antenna",
            replace(now, antenna=complex(lines[0].impedance), sections=()).added(),
        ),
        ("no coax", "coax without any loss", replace(now, line=replace(lines[0], k1=0.0, k2=0.0)).added()),
        ("mast", "a preamplifier at the antenna", now.with_mast()),
        ("shack", "the same preamplifier at the receiver", now.with_shack()),
    ]
    changes += [
        (f"line {n}", f"{format_length(line.length)} of {line.title} instead", replace(now, line=line).added())
        for n, line in enumerate(lines[1:], 1)
    ]
    helps = tuple(
        sorted(
            (Help(key, title, 10.0 * math.log10(before / (outside - 1.0 + added))) for key, title, added in changes),
            key=lambda one: -one.gain,
        )
    )
    chain = now.added()
    return Hearing(
        band=band.label, frequency=frequency, outside=10.0 * math.log10(outside), chain=10.0 * math.log10(chain),
        total=10.0 * math.log10(before), noise_rise=10.0 * math.log10(before / chain), helps=helps,
        reading=_reading(need, band, outside, chain, helps), assumptions=_assumed(need),
        cautions=noise_cautions(lowest=frequency, highest=frequency),
    )  # fmt: skip


@dataclass(frozen=True)
class _Chain:
    """Antenna, connector, line and receiver at one frequency; ``amplifier`` is the one that might be put in."""

    antenna: complex
    sections: tuple[Section, ...]
    line: Line
    receiver_impedance: float
    receiver: float
    amplifier: Preamplifier
    frequency: float
    efficiency: float
    noise: str

    @classmethod
    def of(cls, need: Need, evaluation: Evaluation, line: Line, frequency: float) -> _Chain:
        z = evaluation.sweep.impedance
        antenna = complex(
            np.interp(frequency, evaluation.frequency, z.real), np.interp(frequency, evaluation.frequency, z.imag)
        )
        pair = evaluation.connector
        figure = float(ASSUMED_RECEIVER if need.receiver_noise_figure is None else need.receiver_noise_figure)
        return cls(
            antenna, () if pair is None else (Section(pair.impedance, pair.length),), line, need.receiver_impedance,
            10.0 ** (figure / 10.0), need.preamplifier or ASSUMED_PREAMPLIFIER, frequency,
            float(np.interp(frequency, evaluation.frequency, evaluation.efficiency)), need.site.noise,
        )  # fmt: skip

    def outside(self) -> float:
        """Noise factor of what the antenna hands over: the outside through its efficiency, the rest as warm metal at T0."""
        fa: float = 10.0 ** (float(external_noise_db(self.noise, frequency=self.frequency)) / 10.0)
        return self.efficiency * fa + (1.0 - self.efficiency)

    def passed(self) -> float:
        """Share of the available power that reaches the receiver."""
        return float(
            delivered_through(
                self.sections, antenna_impedance=self.antenna, line=self.line, receiver_impedance=self.receiver_impedance,
                frequency=self.frequency,
            )
        )  # fmt: skip

    def added(self) -> float:
        """Noise factor of the chain as it is."""
        return self.receiver / self.passed()

    def with_mast(self) -> float:
        """With the amplifier right behind the antenna's connector: it sees the mismatch, the line sees the amplifier."""
        seen = behind(self.sections, load=self.antenna, frequency=self.frequency)
        taken = 1.0 - float(np.abs(reflection(seen, reference=self.line.impedance))) ** 2
        after = replace(self, antenna=complex(self.line.impedance), sections=()).added()
        return self._amplified(after) / taken

    def with_shack(self) -> float:
        """With the amplifier before the receiver."""
        return self._amplified(self.receiver) / self.passed()

    def _amplified(self, after: float) -> float:
        figure = 10.0 ** (self.amplifier.noise_figure / 10.0)
        return float(figure + (after - 1.0) / 10.0 ** (self.amplifier.gain / 10.0))


def _assumed(need: Need) -> tuple[str, ...]:
    out = []
    if need.receiver_noise_figure is None:
        out.append(f"the receiver's noise figure is taken as {ASSUMED_RECEIVER:g} dB")
    if need.preamplifier is None:
        one = ASSUMED_PREAMPLIFIER
        out.append(f"the preamplifier as one of {one.gain:g} dB with a noise figure of {one.noise_figure:g} dB")
    return tuple(out)


def _reading(need: Need, band: Band, outside: float, chain: float, helps: tuple[Help, ...]) -> str:
    """Two sentences from the numbers."""
    apart = 10.0 * math.log10(outside / chain)
    place = f"{need.site.noise} noise at {format_frequency(band.centre)}"
    if apart >= 0.0:
        first = f"In {band.label} the {place} stands {format_decibel(apart, digits=1)} above all that antenna match, coax and receiver add"
    else:
        first = f"In {band.label} the {place} lies {format_decibel(-apart, digits=1)} below what coax and receiver add"
    best = helps[0]
    gains = {one.key: one.gain for one in helps}
    if best.gain < NOTICED:
        second = (
            f"nothing at the receiving end would be noticed: {best.title} brings {format_decibel(best.gain, digits=1)}, "
            f"a perfect match {format_decibel(max(gains['match'], 0.0), digits=1)}"
        )
        return f"{first}, so {second}. What helps is a quieter place, more height or more gain toward the other end."
    return (
        f"{first}: {best.title} would bring {format_decibel(best.gain, digits=1)}, "
        f"a perfect match {format_decibel(max(gains['match'], 0.0), digits=1)}."
    )
