"""Records turned into the words and numbers people read: one place, so that page, mail and terminal say the same."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from aerialwright.air.hearing import Hearing, hear
from aerialwright.base.units import format_decibel, format_frequency_range, format_length, format_ratio
from aerialwright.design.records import (
    BandFigures,
    Comparison,
    CoverEffect,
    Dimension,
    Evaluation,
    Member,
    Piece,
    Proposal,
)
from aerialwright.design.safety import WHO_DECIDES, standing
from aerialwright.need.model import Band, FeedLine, Need
from aerialwright.solution.figures import letter
from aerialwright.solution.figures.curves import quantity

MINUS = "\u2212"


def swr(value: float) -> str:
    """An SWR with the digits that mean something: two decimals below 3, one below 10, then whole."""
    return format_ratio(value, digits=2 if value < 2.995 else 1 if value < 9.95 else 0)


def swr_span(low: float, high: float) -> str:
    """An error band of SWR."""
    return swr(low) if swr(low) == swr(high) else f"{swr(low)} to {swr(high)}"


def decibel(value: float, unit: str = "dBi") -> str:
    """A level to 0.1 dB with a true minus sign."""
    return format_decibel(value, digits=1, unit=unit).replace("-", MINUS)


def percent(share: float) -> str:
    """A share 0..1 in per cent with about two figures."""
    return f"{100.0 * share:.2g} %" if share < 0.1 else f"{100.0 * share:.0f} %"


def small_share(share: float) -> str:
    """A relative error as per cent; very small ones are only bounded."""
    return "under 0.01 %" if share < 1e-4 else percent(share)


def band_range(band: Band) -> str:
    """'118-136.975 MHz' with a proper dash."""
    return format_frequency_range(band.low, band.high).replace("-", "\u2013")


def metric(value: float, step: float) -> str:
    """A length [m] in mm to the step it can be marked out in."""
    return format_length(value, step=step if 0.0 < step <= 1e-3 else 1e-3)


def imperial(value: float) -> str:
    """A length [m] in inches to 1/32 in, small ones in thousandths."""
    return format_length(value, system="in", style="fraction" if value >= 0.012 else "decimal")


@dataclass(frozen=True)
class SizeLine:
    """One row of a table of dimensions."""

    letter: str
    label: str
    main: str
    inches: str
    datum: str
    tuned: bool
    key: str


def size_lines(dimensions: tuple[Dimension, ...]) -> list[SizeLine]:
    """Dimensions as table rows, lettered in their order."""
    rows = []
    for index, dimension in enumerate(dimensions):
        if dimension.kind == "length":
            main, inches = metric(dimension.value, dimension.step), imperial(dimension.value)
        else:
            main, inches = quantity(dimension.value, dimension.kind), ""
        rows.append(
            SizeLine(letter(index), dimension.label, main, inches, dimension.datum, dimension.tuned, dimension.key)
        )
    return rows


def front_lines(dimensions: tuple[Dimension, ...], most: int) -> list[SizeLine]:
    """At most ``most`` rows for the first page, in their order: what was tuned and lengths before the rest."""
    rows = size_lines(dimensions)
    if len(rows) <= most:
        return rows
    order = sorted(range(len(rows)), key=lambda k: (not dimensions[k].tuned, dimensions[k].kind != "length", k))
    return [rows[k] for k in sorted(order[:most])]


def frequency_shift(shift: float) -> str:
    """A change of frequency [Hz] in MHz, with its direction; under 5 kHz it is none that matters."""
    return "not at all" if abs(shift) < 5e3 else f"{abs(shift) / 1e6:.2f} MHz {'up' if shift > 0 else 'down'}"


def overall(evaluation: Evaluation) -> str:
    """Height and width of an antenna in both systems."""

    def both(value: float) -> str:
        return f"{format_length(value, step=1e-3)} ({format_length(value, system='in')})"

    return f"{both(evaluation.height)} high, {both(evaluation.width)} across"


def member_for(proposal: Proposal, band: Band) -> Member:
    """The member of a proposal that serves a band, the first one if none claims it."""
    return _claiming(proposal, band) or proposal.members[0]


def _claiming(proposal: Proposal, band: Band) -> Member | None:
    return next((m for m in proposal.members if band.label in m.band_labels), None)


@dataclass(frozen=True)
class ExpectationLine:
    """What to expect on one band, in words."""

    band: str
    span: str
    wish: bool
    antenna: str
    swr_antenna: str
    swr_error: str
    swr_receiver: str
    gain: str
    efficiency: str
    within: bool


def expectation(need: Need, proposal: Proposal) -> list[ExpectationLine]:
    """One line per asked band; the error band is the one of the worst SWR inside the band."""
    lines = []
    for figures in proposal.bands:
        band = figures.band
        evaluation = member_for(proposal, band).evaluation
        lines.append(
            ExpectationLine(
                band=band.label, span=band_range(band), wish=band.importance != "must",
                antenna=evaluation.title if _claiming(proposal, band) else "none is meant for it",

                swr_antenna=swr(figures.swr_worst), swr_error=_error_band(evaluation, figures),
                swr_receiver=swr(figures.swr_receiver_worst),
                gain=_realised_span(evaluation, figures),
                efficiency=percent(figures.efficiency_minimum), within=figures.swr_worst <= need.limits.worst_swr,
            )
        )  # fmt: skip
    return lines


def _inside(evaluation: Evaluation, band: Band) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    return (evaluation.frequency >= band.low) & (evaluation.frequency <= band.high)


def _error_band(evaluation: Evaluation, figures: BandFigures) -> str:
    inside = _inside(evaluation, figures.band)
    if not np.any(inside):
        return "not solved here"
    at = int(np.argmax(np.where(inside, evaluation.swr, -np.inf)))
    return swr_span(float(evaluation.swr_low[at]), float(evaluation.swr_high[at]))


def _realised_span(evaluation: Evaluation, figures: BandFigures) -> str:
    inside = _inside(evaluation, figures.band)
    best = float(np.max(evaluation.realised_gain[inside])) if np.any(inside) else figures.realised_mean
    low, high = decibel(figures.realised_minimum), decibel(max(best, figures.realised_minimum))
    return low if low == high else f"{low.removesuffix(' dBi')} to {high}"


def feed_line(line: FeedLine) -> str:
    """A feed line in words."""
    loss = f", {line.loss:g} dB measured" if line.loss is not None else ""
    return f"{format_length(line.length) if line.length < 1 else f'{line.length:g} m'} of {line.type}, " \
           f"{line.impedance:g} ohm{loss}"  # fmt: skip


def piece_diameter(piece: Piece) -> str:
    """Diameter or width of a piece in both systems."""
    if piece.diameter is not None:
        return f"{format_length(piece.diameter)} ({format_length(piece.diameter, system='in', style='decimal')})"
    if piece.width is not None:
        return f"{format_length(piece.width)} wide"
    return ""


def headline(comparison: Comparison) -> str:
    """The answer in one line."""
    if not comparison.proposals:
        return "Nothing here can be built within the limits given"
    best = comparison.proposals[0]
    if not best.serves:
        return f"Nothing serves every band asked for; nearest is: {best.title}"
    if all(member.evaluation.owned for member in best.members):
        return f"Keep what you have: {best.title}"
    return f"Build this: {best.title}"


def reason(proposal: Proposal) -> str:
    """The verdict and up to three reasons, or why it falls short, as one paragraph."""
    return " ".join((proposal.verdict, *(proposal.reasons if proposal.serves else proposal.why_not)[:3]))


def runner_up(comparison: Comparison) -> Proposal | None:
    """The second choice."""
    return comparison.proposals[1] if len(comparison.proposals) > 1 else None


def after_connector(need: Need, proposal: Proposal) -> list[str]:
    """One sentence for each antenna whose connector pair changes the SWR that its coax sees."""
    lines = []
    for member in proposal.members:
        pair = member.evaluation.connector
        if pair is None:
            continue
        worst = []
        for band in need.bands:
            inside = _inside(member.evaluation, band)
            if band.label in member.band_labels and np.any(inside):
                worst.append(f"{swr(float(pair.swr[inside].max()))} in {band.label}")
        if worst:
            lines.append(
                f"Behind the {pair.label} pair of {member.evaluation.title} (as a line of {pair.impedance:g} ohm, electrical length "
                f"{format_length(pair.length, step=1e-3)}) the coax sees an SWR of up to {', '.join(worst)}; gain and SWR at the receiver "
                "count it."
            )
    return lines


def in_the_pipe(effect: CoverEffect) -> str:
    """What the pipe over an antenna does to it."""
    return (
        f"the {effect.label} over it moves its resonance from {effect.bare / 1e6:.2f} to {effect.covered / 1e6:.2f} MHz "
        f"({percent(abs(effect.part))} {'down' if effect.shift < 0 else 'up'}). All sizes are for the antenna in the pipe: trim with it on."
    )


def coax_current(level: float) -> str:
    """A current on the coax against the feed current."""
    return f"{abs(level):.0f} dB {'below' if level <= 0 else 'above'}"


@dataclass(frozen=True)
class CoaxLine:
    """One row of the table about the outside of the coax."""

    choke: str
    basis: str
    impedance: str
    current: str
    length: str
    swr: str
    gain: str


def coax_lines(evaluation: Evaluation) -> list[CoaxLine]:
    """The chokes tried, in words; empty where the coax is outside the model."""
    mode = evaluation.common_mode
    if mode is None:
        return []
    lines = []
    for case in mode.cases:
        r, x = case.impedance.real, case.impedance.imag
        sign = "+" if x >= 0 else MINUS
        lines.append(
            CoaxLine(
                choke=case.title, basis=case.basis,
                impedance="" if case.key == "none" else f"{r:.0f}{f' {sign} j{abs(x):.0f}' if abs(x) >= 0.5 else ''} ohm",
                current=coax_current(case.worst_current), length=f"{case.worst_length:.2f} m",
                swr=f"{swr(mode.swr_without)} to {swr(case.worst_swr)}",
                gain=f"{decibel(-max(case.gain_lost, 0.0), 'dB')} to {decibel(max(case.gain_gained, 0.0), 'dB')}",
            )
        )  # fmt: skip
    return lines


@dataclass(frozen=True)
class Precaution:
    """A safety caution: a short name and the text. None of them replaces the local code."""

    name: str
    text: str


def safety(comparison: Comparison) -> list[Precaution]:
    """Standing cautions, those of this need, and who decides."""
    members = comparison.proposals[0].members if comparison.proposals else ()
    found = next((m.evaluation.exposure for m in members if m.evaluation.exposure is not None), None)
    lines = [Precaution(name, text) for name, text in standing(comparison.need, found)]
    for caution in comparison.cautions:
        if caution.level == "safety":
            lines.append(Precaution("Here", " ".join(part for part in (caution.text, caution.remedy) if part)))
    lines.append(Precaution(*WHO_DECIDES))
    return lines


@dataclass(frozen=True)
class HearingTable:
    """What would help to hear better: one reading and one column for each must-band, one row for each change."""

    readings: tuple[str, ...]
    bands: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    noise: tuple[tuple[str, str, str, str], ...]
    notes: tuple[str, ...]


def hearing(need: Need, best: Proposal) -> HearingTable | None:
    """Noise and line of the recommendation; None where no antenna of it is there for a must-band."""
    heard = hearings(need, best)
    if not heard:
        return None
    # Every band has the same changes, each in its own order: the first band's order stands.
    gains = [{one.key: one.gain for one in found.helps} for found in heard]
    rows = tuple(
        (one.title, tuple(format_decibel(each[one.key], digits=1, sign=True) for each in gains))
        for one in heard[0].helps
    )
    noise = tuple(
        (found.band, decibel(found.outside, "dB"), decibel(found.chain, "dB"), decibel(found.noise_rise, "dB"))
        for found in heard
    )
    notes = [text for found in heard for text in (*found.assumptions, *(c.text for c in found.cautions))]
    return HearingTable(
        tuple(found.reading for found in heard), tuple(found.band for found in heard), rows, noise, tuple(dict.fromkeys(notes))
    )  # fmt: skip


def hearings(need: Need, best: Proposal) -> list[Hearing]:
    """One for each must-band, with the antenna that is there for it."""
    return [
        hear(need, member.evaluation, band)
        for band in need.must_bands
        for member in best.members
        if band.label in member.band_labels
    ]


def evaluations_of(comparison: Comparison) -> list[tuple[str, Evaluation]]:
    """Every antenna once, with the sign it carries through the report: the rank, and a letter inside a pair."""
    found: dict[str, tuple[str, Evaluation]] = {}
    for proposal in comparison.proposals:
        for index, member in enumerate(proposal.members):
            sign = f"{proposal.rank}" + ("abcdefgh"[index] if len(proposal.members) > 1 else "")
            found.setdefault(member.evaluation.key, (sign, member.evaluation))
    return list(found.values())


def sources(comparison: Comparison) -> list[str]:
    """Where numbers that were not computed came from."""
    lines: list[str] = []
    for sign, evaluation in evaluations_of(comparison):
        if evaluation.first_guess_source:
            lines.append(f"First guess of {sign}, {evaluation.title}: {evaluation.first_guess_source}")
        structure = evaluation.structure
        metals = [rod.metal for rod in structure.rods] + [surface.metal for surface in structure.surfaces]
        lines += [f"Conductivity of {metal.name}: {metal.source}" for metal in metals if metal and metal.source]
    return list(dict.fromkeys(lines))
