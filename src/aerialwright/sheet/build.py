"""From an evaluated antenna to its build sheet."""

from __future__ import annotations

import hashlib
import re

from aerialwright import __version__
from aerialwright.antennas import cover
from aerialwright.antennas.records import Dimension, Piece
from aerialwright.base.errors import Caution, DesignError
from aerialwright.base.printing import format_decibel, format_frequency_range, format_ratio
from aerialwright.design.model import Design
from aerialwright.design.records import Comparison, Evaluation, Member, Proposal
from aerialwright.design.safety import WHO_DECIDES, standing
from aerialwright.need.model import Band, Need
from aerialwright.sheet import order
from aerialwright.sheet.cut_list import cut_list
from aerialwright.sheet.records import BuildSheet, CutLine
from aerialwright.sheet.stock_plan import stock_plan
from aerialwright.sheet.test_card import test_card
from aerialwright.sheet.tolerance import slopes_of


def build_sheet(
    need: Need, evaluation: Evaluation, *, bands: tuple[Band, ...], beside: tuple[Evaluation, ...] = ()
) -> BuildSheet:
    """The sheet of one antenna for the ``bands`` it is there for; ``beside``: others that are cut from the same shelf.

    Raises
    ------
    DesignError
        If there is nothing to build, or a bend, a hole or a piece cannot be made.
    """
    if evaluation.owned:
        raise DesignError(
            "is an antenna you have: there is nothing to build", where=evaluation.title, mend="name another proposal"
        )
    if not bands:
        raise DesignError("no band is named", where=evaluation.title, mend="say which bands it is built for")
    reference, limit = need.feed_lines[0].impedance, need.limits.worst_swr
    slopes = slopes_of(evaluation, bands, reference=reference, limit=limit)
    lines = cut_list(evaluation, slopes)
    card = test_card(evaluation, need, bands, slopes=slopes, identity=design_id(evaluation))
    return BuildSheet(
        title=evaluation.title,
        need=need,
        evaluation=evaluation,
        band_labels=tuple(band.label for band in bands),
        promise=_promise(need, evaluation, bands),
        tools=order.tools_for(evaluation),
        parts=_parts(lines),
        cut_list=lines,
        plan=stock_plan(evaluation, need, beside=beside),
        steps=order.work_steps(evaluation, trimmed=bool(card.trim), coax=need.feed_lines[0].length > 0.0),
        joints=order.joint_notes(evaluation),
        strip_back=order.strip_back(evaluation),
        choke=order.choke_card(evaluation, need, bands),
        weather=order.weather_notes(evaluation),
        mounting=order.mounting_notes(evaluation, need, bands),
        test=card,
        safety=safety(need, evaluation),
        version=__version__,
        design_id=design_id(evaluation),
    )


_RANK = re.compile(r"[1-9]\d{0,2}[a-h]?")


def check_name(name: str | None) -> None:
    """Refuse what can name no antenna of any answer, before an answer is computed.

    Raises
    ------
    DesignError
        For an empty name, or a number that is no rank.
    """
    asked = "1" if name is None else name.strip().casefold()
    if not asked or (asked.lstrip("+-")[:1].isdigit() and not _RANK.fullmatch(asked)):
        raise DesignError(
            f"'{asked[:40]}' can name no antenna of an answer",
            where="--antenna", mend="give a key such as dipole-thin, or a rank: 2, or 3b for one of a pair",
        )  # fmt: skip


def member_name(proposal: Proposal, member: Member) -> str:
    """Rank and letter of one antenna of a proposal, as :func:`choose_member` knows it."""
    return proposal.sign(next(index for index, one in enumerate(proposal.members) if one is member))


def member_names(proposal: Proposal) -> tuple[str, ...]:
    """Names of the antennas of a proposal that are to be built."""
    return tuple(member_name(proposal, member) for member in proposal.members if not member.evaluation.owned)


def choose_member(comparison: Comparison, name: str = "") -> tuple[Proposal, Member]:
    """What ``name`` means in an answer: a proposal or antenna by key, or its rank with a letter for one of a pair ("1", "2b");
    empty: the recommended one. A pair without letter means its first antenna.

    Raises
    ------
    DesignError
        Lists what there is to build.
    """
    wanted = name.strip().casefold()
    known: dict[str, tuple[Proposal, Member]] = {}
    for proposal in comparison.proposals:
        for index, member in enumerate(proposal.members):
            for key in (proposal.sign(index), str(proposal.rank), proposal.key, member.evaluation.key):
                known.setdefault(key.casefold(), (proposal, member))
    if not known:
        raise DesignError("the answer has no proposal", where="proposal", mend="answer the need again")
    if not wanted:
        return next(iter(known.values()))
    if wanted not in known:
        listed = ", ".join(
            f"{key} ({known[key][1].evaluation.key})" for key in known if key[0].isdigit() and len(key) <= 3
        )
        raise DesignError(
            f"there is no proposal '{name[:40]}'", where="proposal", mend=f"use one of {listed}, by number or key"
        )
    return known[wanted]


def sheet_of_answer(comparison: Comparison, name: str = "") -> BuildSheet:
    """The sheet of a proposal of an answer, the recommended one without ``name``; the other antenna of a pair shares its shelf."""
    proposal, member = choose_member(comparison, name)
    need = comparison.need
    bands = tuple(band for band in need.bands if band.label in member.band_labels) or need.must_bands
    beside = tuple(other.evaluation for other in proposal.members if other is not member)
    return build_sheet(need, member.evaluation, bands=bands, beside=beside)


def safety(need: Need, evaluation: Evaluation) -> tuple[Caution, ...]:
    """The cautions of page one."""
    lines = (*standing(need, evaluation.exposure), WHO_DECIDES)
    return tuple(Caution("safety", f"{name}: {text}") for name, text in lines)


def design_id(evaluation: Evaluation) -> str:
    """Eight letters and figures that stand for this family, metal and these dimensions, so that a sweep finds its design."""
    return _identity(evaluation.family, evaluation.key, evaluation.dimensions, evaluation.pieces)


def identity_of(design: Design) -> str:
    """The same from the design alone."""
    kind, plan = design.family, design.plan
    return _identity(kind.key, plan.key, kind.dimensions(plan, design.values), cover.pieces(kind, plan, design.values))


def _identity(family: str, key: str, dimensions: tuple[Dimension, ...], pieces: tuple[Piece, ...]) -> str:
    text = [family, key]
    text += [f"{d.key}={d.value:.7g}" for d in dimensions]
    text += [f"{p.name}:{p.material}:{p.diameter or 0.0:.5g}" for p in pieces if p.shape != "part"]
    return hashlib.sha256("|".join(text).encode()).hexdigest()[:8]


def _promise(need: Need, evaluation: Evaluation, bands: tuple[Band, ...]) -> tuple[str, ...]:
    labels = {band.label for band in bands}
    out = [
        f"{f.band.label}, {format_frequency_range(f.band.low, f.band.high)}: SWR up to {format_ratio(f.swr_worst)} at the antenna, "
        f"{format_decibel(f.gain_mean, digits=1, unit='dBi', sign=True)} toward the wanted directions"
        for f in evaluation.bands
        if f.band.label in labels
    ]
    use = "receiving only" if need.receive_only else f"receiving, and transmitting up to {need.transmit_power:g} W"
    out.append(f"For {use}, {need.polarisation} polarisation; {order.extent(evaluation)}.")
    return (*out, *evaluation.assumptions)


def _parts(lines: tuple[CutLine, ...]) -> tuple[tuple[str, int, str], ...]:
    """Bought or made parts: name, number, and what they are with their remark."""
    return tuple(
        (line.name, line.quantity, "; ".join(text for text in (line.material, line.remark) if text))
        for line in lines
        if line.shape == "part"
    )
