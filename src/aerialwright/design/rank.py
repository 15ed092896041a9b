"""Order and reasons: plain sentences computed from the numbers, never a bare score."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from aerialwright.base.printing import format_decibel, format_frequency, format_length, format_ratio
from aerialwright.design.model import Design
from aerialwright.design.records import BandFigures, Evaluation, Member, Proposal, Score
from aerialwright.lines.line import line_from_need
from aerialwright.lines.mismatch import mismatch_loss_db, reflection_of_swr
from aerialwright.need.model import Band, Need

#: Two candidates whose signal differs by less than this [dB] are heard alike; simplicity decides. Common practice, no source.
ALIKE = 1.0


@dataclass(frozen=True)
class Candidate:
    """A solved design, the bands it was made for, and whether those are all must-bands; ``score`` decides before the signal."""

    design: Design
    evaluation: Evaluation
    bands: tuple[Band, ...]
    whole: bool
    score: Score | None = None


def _must(figures: tuple[BandFigures, ...]) -> list[BandFigures]:
    return [f for f in figures if f.band.importance == "must"]


def _wishes(proposal: Proposal) -> list[BandFigures]:
    return [f for f in proposal.bands if f.band.importance != "must"]


#: Part of the SWR limit that a wish must keep clear of to count in the order: nearer, the saw decides. Common practice, no source.
WISH_MARGIN = 0.05


def _serves_wish(proposal: Proposal, figures: BandFigures, limit: float) -> bool:
    """A wish is served when its SWR keeps the limit and it is heard within 6 dB of the weakest must-band."""
    return figures.swr_worst <= limit and figures.realised_mean > signal(proposal) - 6.0


def _wishes_served(proposal: Proposal, limit: float) -> int:
    """Wishes served with something in hand."""
    return sum(1 for f in _wishes(proposal) if _serves_wish(proposal, f, (1.0 - WISH_MARGIN) * limit))


def signal(proposal: Proposal) -> float:
    """What reaches the receiver: mean realised gain in the weakest must-band [dBi]."""
    return min(f.realised_mean for f in _must(proposal.bands))


def merit(proposal: Proposal) -> float:
    """What puts a proposal first: its score where the far end has a measure of its own, else its signal [dBi]."""
    return signal(proposal) if proposal.score is None else proposal.score.value


def _noticed(proposal: Proposal) -> float:
    return ALIKE if proposal.score is None else proposal.score.alike


def _apart(proposal: Proposal, gap: float) -> str:
    """A difference of merit in words."""
    return format_decibel(gap, digits=1) if proposal.score is None else f"{gap:.1f} {proposal.score.unit}"


def worst(proposal: Proposal) -> BandFigures:
    """The must-band with the highest SWR."""
    return max(_must(proposal.bands), key=lambda f: f.swr_worst)


def largest(proposal: Proposal) -> float:
    """Largest side of the largest member [m]."""
    return max(max(m.evaluation.width, m.evaluation.height) for m in proposal.members)


def _shortfalls(need: Need, proposal: Proposal) -> tuple[str, ...]:
    out = []
    limit = need.limits.worst_swr
    for f in _must(proposal.bands):
        if f.swr_worst > limit:
            out.append(
                f"SWR reaches {format_ratio(f.swr_worst)} in {f.band.label}, {format_ratio(limit)} is allowed "
                f"({format_ratio(f.swr_typical)} is typical there)"
            )
    size = largest(proposal)
    if size > need.limits.largest_size * 1.0005:
        out.append(f"it is {format_length(size)} large, {format_length(need.limits.largest_size)} is allowed")
    if need.limits.most_parts is not None and proposal.parts > need.limits.most_parts:
        out.append(f"it needs {proposal.parts} cut pieces, {need.limits.most_parts} is the limit")
    return tuple(out)


def _single(candidate: Candidate) -> Proposal:
    e = candidate.evaluation
    labels = tuple(band.label for band in candidate.bands)
    return Proposal(
        key=e.key, title=e.title, members=(Member(e, labels),), bands=e.bands, rank=0, serves=True, verdict="", reasons=(),
        gives_up=(), why_not=(), parts=e.parts, joints=e.joints, stock_suffices=e.stock_suffices, score=candidate.score,
    )  # fmt: skip


def _pair(need: Need, low: Candidate, high: Candidate) -> Proposal:
    """Two antennas, each for its group; a wish-band goes to whichever hears it better."""
    first, second = low.evaluation, high.evaluation
    figures: list[BandFigures] = []
    shared: dict[str, list[str]] = {"low": [], "high": []}
    wish_figures = {f.band.label: f for f in _wish_figures(need, low)}
    wish_other = {f.band.label: f for f in _wish_figures(need, high)}
    for band in need.bands:
        own_low = next((f for f in first.bands if f.band.label == band.label), None)
        own_high = next((f for f in second.bands if f.band.label == band.label), None)
        if own_low is None:
            own_low = wish_figures.get(band.label)
        if own_high is None:
            own_high = wish_other.get(band.label)
        if band.importance == "must":
            in_low = any(b.label == band.label for b in low.bands)
            chosen, side = (own_low, "low") if in_low else (own_high, "high")
        else:
            options = [(f, s) for f, s in ((own_low, "low"), (own_high, "high")) if f is not None]
            if not options:
                continue
            chosen, side = max(options, key=lambda pair: pair[0].realised_mean)
        if chosen is not None:
            figures.append(chosen)
            shared[side].append(band.label)
    same = first.title == second.title
    title = f"two antennas: {first.title}" + (", one for each band" if same else f", and {second.title}")
    return Proposal(
        key=f"pair-{first.key}+{second.key}", title=title,
        members=(Member(first, tuple(shared["low"])), Member(second, tuple(shared["high"]))),
        bands=tuple(figures), rank=0, serves=True, verdict="", reasons=(), gives_up=(), why_not=(),
        parts=first.parts + second.parts, joints=first.joints + second.joints,
        stock_suffices=first.stock_suffices and second.stock_suffices,
    )  # fmt: skip


def _wish_figures(need: Need, candidate: Candidate) -> tuple[BandFigures, ...]:
    return tuple(f for f in candidate.evaluation.bands if f.band.importance != "must")


def _on_hand(proposal: Proposal) -> bool:
    """Nothing has to be bought: the shelf holds the metal, or the antenna exists."""
    return proposal.stock_suffices or all(m.evaluation.owned for m in proposal.members)


def _order(need: Need, proposals: list[Proposal]) -> list[Proposal]:
    limit = need.limits.worst_swr

    def simplicity(p: Proposal) -> tuple[float, ...]:
        wishes = _wishes_served(p, limit)
        return (
            len(p.members),
            0.0 if _on_hand(p) else 1.0,
            -float(wishes),
            p.parts + p.joints,
            round(worst(p).swr_worst, 1),
            largest(p),
        )

    serving = [p for p in proposals if not p.why_not]
    failing = [p for p in proposals if p.why_not]
    out: list[Proposal] = []
    pool = list(serving)
    while pool:
        best = max(pool, key=merit)
        alike = [p for p in pool if merit(p) >= merit(best) - _noticed(best)]
        pick = min(alike, key=simplicity)
        out.append(pick)
        pool.remove(pick)
    failing.sort(key=lambda p: (len(p.why_not), worst(p).swr_worst))
    return out + failing


def ranked(need: Need, candidates: list[Candidate]) -> tuple[Proposal, ...]:
    """All proposals in order with their sentences."""
    proposals = [_single(c) for c in candidates if c.whole]
    parts = [c for c in candidates if not c.whole]
    groups: dict[tuple[str, ...], list[Candidate]] = {}
    for candidate in parts:
        groups.setdefault(tuple(b.label for b in candidate.bands), []).append(candidate)
    if len(groups) == 2:
        low, high = groups.values()
        best: dict[str, Proposal] = {}
        for first, second in itertools.product(low, high):
            pair = _pair(need, first, second)
            # Two of one kind are weighed kind by kind; of all unlike pairs the one that hears best.
            alike = first.evaluation.family == second.evaluation.family
            key = first.evaluation.family if alike else "unlike"
            if key not in best or signal(pair) > signal(best[key]):
                best[key] = pair
        unlike = best.pop("unlike", None)
        if unlike is not None and all(signal(unlike) > signal(pair) + ALIKE for pair in best.values()):
            # Learning two ways of building is worth it only for what can be noticed.
            best["unlike"] = unlike
        proposals += list(best.values())
    proposals = [replace(p, why_not=_shortfalls(need, p)) for p in proposals]
    ordered = _order(need, proposals)
    best_merit = max((merit(p) for p in ordered if not p.why_not), default=max(merit(p) for p in ordered))
    out = []
    for index, proposal in enumerate(ordered):
        other = ordered[1] if index == 0 and len(ordered) > 1 else ordered[0]
        out.append(
            replace(
                proposal,
                rank=index + 1,
                serves=not proposal.why_not,
                verdict=_verdict(need, proposal, index, best_merit),
                reasons=_reasons(need, proposal, other, index) + (_near_misses(need, ordered) if index == 0 else ()),
                gives_up=_gives_up(proposal, other) if proposal is not other else (),
            )
        )
    return tuple(out)


def _verdict(need: Need, p: Proposal, index: int, best_merit: float) -> str:
    w = worst(p)
    if p.why_not:
        return f"Does not serve: {p.why_not[0]}."
    behind = best_merit - merit(p)
    if p.score is None:
        hears = "nothing here hears better" if behind < 0.05 else f"{_apart(p, behind)} behind the best heard here"
    else:
        hears = f"it decodes {p.score.value:.1f} {p.score.unit}" + (f" at {p.score.place}" if p.score.place else "")
        hears += ", and nothing here decodes more" if behind < 0.05 else f", {behind:.1f} less than the best here"
    start = "" if index == 0 else "Would serve: "
    bands = " and ".join(f.band.label for f in _must(p.bands))
    return f"{start}SWR stays at or below {format_ratio(w.swr_worst)} over {bands}; {hears}."


def _reasons(need: Need, p: Proposal, other: Proposal, index: int) -> tuple[str, ...]:
    out: list[str] = []
    limit = need.limits.worst_swr
    w = worst(p)
    if not p.why_not:
        out.append(
            f"The tightest limit is the SWR in {w.band.label}: {format_ratio(w.swr_worst)} against {format_ratio(limit)} allowed."
        )
    if index == 0 and other is not p and not p.why_not:
        out.append(_decided(p, other, limit))
    line = line_from_need(need.feed_lines[0])
    if index == 0:
        f = max(_must(p.bands), key=lambda x: x.band.high).band.high
        loss = float(line.loss_db(f))
        mismatch = float(mismatch_loss_db(reflection_of_swr(w.swr_worst)))
        out.append(
            f"The {format_length(line.length)} of {line.title} loses {format_decibel(loss, digits=1)} at {format_frequency(f)}; "
            f"the worst mismatch loses {format_decibel(mismatch, digits=1)}, so a better match could gain no more than that."
        )
    for wish in _wishes(p):
        word = "does not really serve"
        if _serves_wish(p, wish, limit):
            word = "also serves" if _serves_wish(p, wish, (1.0 - WISH_MARGIN) * limit) else "just serves"
        out.append(
            f"It {word} the wish {wish.band.label}: SWR up to {format_ratio(wish.swr_worst)}, "
            f"{format_decibel(wish.realised_mean, digits=1, unit='dBi')} at the receiver."
        )
    if p.stock_suffices:
        out.append("The shelf holds all of its metal.")
    else:
        missing = [line for m in p.members for line in m.evaluation.missing]
        out.append("To buy: " + "; ".join(missing) + ".")
    if index == 0 and need.connectors:
        bare = [m.evaluation for m in p.members if not any("socket" in piece.name for piece in m.evaluation.pieces)]
        if bare and not bare[0].owned:
            out.append(
                f"The coax joins the two halves of the {bare[0].title} directly: the {need.connectors[0]} socket asked for is not "
                "part of it. Count a choke at the feed with it."
            )
    return tuple(out)


#: SWR this many times the limit still counts as a near miss.
NEAR_MISS = 1.3


def _near_misses(need: Need, ordered: list[Proposal]) -> tuple[str, ...]:
    """Simpler candidates on the shelf that miss the SWR limit by little: what the limit costs."""
    first = ordered[0]
    out = []
    for p in ordered[1:]:
        over = worst(p).swr_worst
        simple = len(p.members) == 1 and p.stock_suffices and p.parts + p.joints < first.parts + first.joints
        if (
            len(p.why_not) == 0
            or not simple
            or over > NEAR_MISS * need.limits.worst_swr
            or largest(p) > need.limits.largest_size
        ):
            continue
        gap = merit(first) - merit(p)
        verb = "is heard" if p.score is None else "decodes"
        heard = f"{verb} {_apart(p, gap)} less" if gap > 0.05 else f"{verb} as {'well' if p.score is None else 'much'}"
        out.append(
            f"The {p.title} misses the limit by little, SWR {format_ratio(over)} against {format_ratio(need.limits.worst_swr)}: "
            f"it {heard}, takes {p.parts} cut pieces and {p.joints} joints, and its metal is on the shelf. "
            "If that will do, raise worst_swr."
        )
    return tuple(out[:1])


def _decided(p: Proposal, other: Proposal, limit: float) -> str:
    """The one thing that put ``p`` before ``other``."""
    if other.why_not:
        return f"Next comes the {other.title}, but it fails a limit: {other.why_not[0]}."
    gap = merit(p) - merit(other)
    if p.score is not None and gap > _noticed(p):
        return f"It decodes {_apart(p, gap)} more than the {other.title}; one decibel of signal would change that by {p.score.alike:.1f}."
    if p.score is None and gap > ALIKE:
        return f"It is heard {format_decibel(gap, digits=1)} better than the {other.title}, more than the 1 dB that can be noticed."
    heard = "are heard" if p.score is None else "decode"
    alike = (
        f"It and the {other.title} {heard} within {_apart(p, abs(gap))} of each other, "
        f"{'which nobody notices' if p.score is None else 'less than one decibel changes'}; it comes first because "
    )
    if len(p.members) != len(other.members):
        return (
            alike
            + f"it is {_count(len(p.members), 'antenna')} with {_count(len(p.members), 'feed line')} instead of {len(other.members)}."
        )
    if _on_hand(p) != _on_hand(other):
        return alike + "its metal is on the shelf and the other's is not."
    if _wishes_served(p, limit) > _wishes_served(other, limit):
        return alike + "it also covers a wish that the other does not."
    if p.parts + p.joints != other.parts + other.joints:
        return (
            alike + f"it takes {p.parts} cut pieces and {p.joints} joints instead of {other.parts} and {other.joints}."
        )
    mine, theirs = worst(p).swr_worst, worst(other).swr_worst
    if f"{mine:.1f}" != f"{theirs:.1f}":
        return alike + f"its worst SWR is {format_ratio(mine)} instead of {format_ratio(theirs)} for the same work."
    mine_side, other_side = format_length(largest(p)), format_length(largest(other))
    if mine_side != other_side:
        return alike + f"its largest side is {mine_side} instead of {other_side}."
    return f"It and the {other.title} are alike in all that is compared here: take either."


def _count(number: int, noun: str) -> str:
    words = {1: "one", 2: "two"}
    return f"{words.get(number, str(number))} {noun}{'' if number == 1 else 's'}"


def _gives_up(p: Proposal, other: Proposal) -> tuple[str, ...]:
    """What ``p`` lacks against ``other``, line by line."""
    out: list[str] = []
    if p.score is not None and merit(other) - merit(p) >= 0.05:
        out.append(_apart(p, merit(other) - merit(p)))
    for mine in _must(p.bands):
        theirs = next((f for f in other.bands if f.band.label == mine.band.label), None)
        if theirs is None:
            continue
        gap = theirs.realised_mean - mine.realised_mean
        if gap > 0.1:
            out.append(f"{format_decibel(gap, digits=1)} in {mine.band.label}")
        if mine.swr_worst > theirs.swr_worst + 0.15:
            out.append(
                f"SWR up to {format_ratio(mine.swr_worst)} instead of {format_ratio(theirs.swr_worst)} in {mine.band.label}"
            )
    for mine in _wishes(p):
        theirs = next((f for f in other.bands if f.band.label == mine.band.label), None)
        if theirs is not None and theirs.realised_mean - mine.realised_mean > 1.0:
            gap = theirs.realised_mean - mine.realised_mean
            out.append(f"{format_decibel(gap, digits=1)} in the wish {mine.band.label}")
    if p.parts > other.parts:
        out.append(f"{_count(p.parts - other.parts, 'more cut piece')}")
    if p.joints > other.joints:
        out.append(f"{_count(p.joints - other.joints, 'more joint')}")
    if len(p.members) > len(other.members):
        out.append("a second antenna and a second feed line")
    bigger = largest(p) - largest(other)
    if bigger > 0.02:
        out.append(f"{format_length(round(bigger, 2))} more in its largest side")
    return tuple(out)
