"""The choice: every family that could serve is sized, solved and compared; the answer is an order with its reasons."""

from __future__ import annotations

import datetime
import itertools
import time
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from dataclasses import dataclass, replace
from functools import partial

from aerialwright import __version__
from aerialwright.antennas.catalogue import families, family
from aerialwright.antennas.cover import with_cover
from aerialwright.antennas.family import Plan, Shelf, with_diameters
from aerialwright.base.errors import AerialwrightError, Cancelled, Caution, DesignError, NeedError
from aerialwright.base.printing import format_dimension, format_length
from aerialwright.design.common_mode import choke_piece, common_mode
from aerialwright.design.cover_effect import bare_design
from aerialwright.design.evaluate import evaluate
from aerialwright.design.exposure import exposure
from aerialwright.design.model import Design, span_of
from aerialwright.design.rank import Candidate, ranked
from aerialwright.design.records import CommonMode, Comparison, Evaluation, Member, Proposal, Score
from aerialwright.design.tune import tune
from aerialwright.need.model import Band, Given, Need, OwnedAntenna, StockItem

#: Called with a fraction 0..1 and a few words; may raise to cancel.
Report = Callable[[float, str], None]
#: Evaluations that sizing in a pipe may take, from sizes that fit without it.
COVERED_EVALUATIONS = 12
#: Proposals whose coax is looked at: the recommended one and the runner-up.
LOOKED_AT_WITH_COAX = 2


@dataclass(frozen=True)
class Task:
    """One design to size and solve for some bands. ``tuning`` False keeps the values (an antenna someone owns)."""

    design: Design
    need: Need
    bands: tuple[Band, ...]
    whole: bool
    tuning: bool = True
    shorten_only: bool = False


@dataclass(frozen=True)
class Outcome:
    """What became of a task: an evaluation and its design, or why there is none."""

    task: Task
    design: Design
    evaluation: Evaluation | None
    refusal: str = ""


def split_bands(bands: tuple[Band, ...]) -> tuple[tuple[Band, ...], ...]:
    """The bands in two groups at their widest gap in frequency ratio, or one group if there is no gap."""
    ordered = sorted(bands, key=lambda band: band.low)
    gaps = [(after.low / before.high, index) for index, (before, after) in enumerate(itertools.pairwise(ordered))]
    if not gaps or max(gaps)[0] < 1.03:
        return (tuple(ordered),)
    cut = max(gaps)[1] + 1
    return (tuple(ordered[:cut]), tuple(ordered[cut:]))


def tasks_for(need: Need) -> tuple[list[Task], list[tuple[str, str]]]:
    """Everything worth solving for a need, and what was left out with the reason."""
    bands = need.must_bands
    shelf = Shelf(need)
    span = span_of(bands)
    tasks: list[Task] = []
    refused: list[tuple[str, str]] = []
    wanted = need.polarisation
    for kind in families():
        if wanted in ("vertical", "horizontal") and wanted not in kind.polarisations:
            refused.append((kind.title, f"its polarisation is {' or '.join(kind.polarisations)}, asked is {wanted}"))
            continue
        for plan in kind.plans(need, shelf, span):
            values, _ = kind.first_guess(plan, span)
            tasks.append(Task(Design(kind.key, with_cover(kind, plan, need), values), need, bands, True))
    groups = split_bands(bands)
    if len(groups) > 1:
        for group in groups:
            part = span_of(group)
            for kind in (one for one in families() if one.narrow):
                if wanted in ("vertical", "horizontal") and wanted not in kind.polarisations:
                    continue
                for plan in kind.plans(need, shelf, part)[:1]:
                    values, _ = kind.first_guess(plan, part)
                    tasks.append(Task(Design(kind.key, with_cover(kind, plan, need), values), need, group, False))
    for owned in need.owned:
        if owned.dimensions:
            tasks += _owned_tasks(owned, need, bands, shelf)
    return tasks, refused


def owned_values(owned: OwnedAntenna) -> dict[str, float]:
    """The dimensions given for an antenna someone owns, checked against its family.

    Raises
    ------
    DesignError, NeedError
        Names the antenna, the dimension and what it should be.
    """
    where = f"owned antenna '{owned.name}'"
    kind = family(owned.family, where=where)
    out: dict[str, float] = {}
    for key, value in owned.dimensions.items():
        try:
            parameter = kind.parameter(key)
        except DesignError as fault:
            raise NeedError(fault.what, where=f"{where}, {key}", mend=fault.mend) from None
        written = value.kind if isinstance(value, Given) else parameter.kind
        if written != parameter.kind:
            example = {"length": "'570 mm'", "angle": "'60 deg'", "count": "8, without unit"}[parameter.kind]
            raise NeedError(
                f"is a {parameter.kind}, not a {written}", where=f"{where}, {key}", mend=f"write it like {example}"
            )
        out[key] = float(value)
    return out


def _owned_tasks(owned: OwnedAntenna, need: Need, bands: tuple[Band, ...], shelf: Shelf) -> list[Task]:
    kind = family(owned.family, where=f"owned antenna '{owned.name}'")
    span = span_of(bands)
    plans = kind.plans(need, shelf, span)
    if not plans:
        # What someone has needs nothing from the shelf: its sheet is there already.
        sheet = StockItem("sheet", "aluminium", owned.name, width=20.0, length=20.0, thickness=1e-3)
        there = replace(need, stock=(*need.stock, sheet))
        plans = kind.plans(there, Shelf(there), span)
    if not plans:
        raise DesignError(
            f"'{kind.key}' cannot be built here", where=f"owned antenna '{owned.name}'", mend="use another family"
        )
    base = plans[0]
    values, _ = kind.first_guess(base, span)
    values |= owned_values(owned)
    values = kind.settled(values)
    metals = {
        role: replace(metal, stock=owned.name, insulation=None)
        for role, metal in with_diameters(base, values).metals.items()
    }
    plan = Plan(f"owned-{owned.name}", f"{owned.name}, as it is", values, metals, base.socket, base.horizontal)
    cut = replace(plan, key=f"cut-{owned.name}", title=f"{owned.name}, cut down", fixed=_uncut(kind.key, values))
    return [
        Task(Design(kind.key, plan, values, True), need, bands, True, tuning=False),
        Task(Design(kind.key, cut, values, True), need, bands, True, shorten_only=True),
    ]


def _uncut(key: str, values: dict[str, float]) -> dict[str, float]:
    """Values of an owned antenna that a saw cannot change: all but the tuned lengths."""
    kind = family(key)
    free = {p.key for p in kind.parameters if p.tuned and p.kind == "length" and p.key != "gap"}
    return {k: v for k, v in values.items() if k not in free}


def run_task(task: Task) -> Outcome:
    """Size and solve one task; a fault of the design is an outcome, not an exception."""
    need = task.need
    reference = need.feed_lines[0].impedance
    try:
        design = task.design
        if task.tuning:
            wishes = tuple(band for band in need.bands if band.importance == "wish") if task.whole else ()
            sized = partial(
                tune,
                bands=task.bands,
                reference=reference,
                limits=need.limits,
                wishes=wishes,
                shorten_only=task.shorten_only,
            )
            if design.plan.cover is None:
                design = sized(design).design
            else:
                # Plastic costs several times the metal: sized without it first, it takes few steps with it.
                start = sized(bare_design(design)).design.values
                design = sized(replace(design, values=start), most_evaluations=COVERED_EVALUATIONS).design
        found = evaluate(design, need, task.bands)
        if design.owned:
            found = _work_on_owned(need, task.design, design, found)
        if not task.whole:
            # The same plan may be solved for several groups of bands: its key says for which.
            found = replace(found, key=f"{found.key} for {' and '.join(band.label for band in task.bands)}")
    except Cancelled:
        raise
    except AerialwrightError as fault:
        return Outcome(task, task.design, None, fault.one_line())
    return Outcome(task, design, found)


def _work_on_owned(before_need: Need, before: Design, after: Design, found: Evaluation) -> Evaluation:
    """An antenna that exists takes only the cuts that change it, and nothing from the shelf."""
    family_ = after.family
    old = {p.name: p.length for p in family_.pieces(before.plan, before.values)}
    cuts = [p for p in family_.pieces(after.plan, after.values) if p.shape != "part" and p.length != old.get(p.name)]
    given = next(
        (
            one.dimensions
            for one in before_need.owned
            if f"owned-{one.name}" == before.plan.key or f"cut-{one.name}" == before.plan.key
        ),
        {},
    )
    assumed = [d for d in found.dimensions if d.key not in given]
    cautions = found.cautions
    if assumed:
        listed = ", ".join(f"{d.label} {format_dimension(d.value, d.kind)}" for d in assumed)
        cautions = (
            *cautions,
            Caution("caution", f"not given and assumed: {listed}", "measure them and add them to the need"),
        )
    return replace(
        found, parts=sum(p.quantity for p in cuts), joints=0, stock_suffices=True, missing=(), cautions=cautions
    )


def choose(
    need: Need,
    *,
    executor: Executor | None = None,
    report: Report | None = None,
    curves: bool = True,
    score: Callable[[Evaluation], Score] | None = None,
) -> Comparison:
    """Compare everything that could serve a need.

    ``executor`` spreads the antennas over its workers (any ``concurrent.futures`` executor). ``report`` hears of progress
    and may raise :class:`~aerialwright.base.errors.Cancelled`. ``score`` measures each antenna by what the far end asks, where that
    is more than signal; it then decides the order.

    Raises
    ------
    NeedError
        If the need does not hold together.
    DesignError
        If no family can be built for it.
    """
    from aerialwright.design.explain import curves_for
    from aerialwright.need.check import check_need, stock_notes

    check_need(need)
    started = time.perf_counter()
    tasks, refused = tasks_for(need)
    if not tasks:
        raise DesignError(
            "no antenna family suits this need", where="polarisation", mend="ask for another polarisation"
        )
    outcomes: list[Outcome] = []
    if executor is None:
        for index, task in enumerate(tasks):
            if report is not None:
                report(index / (len(tasks) + 1), task.design.plan.title)
            outcomes.append(run_task(task))
    else:
        # The largest systems first, so that no worker is left alone with one at the end.
        order = sorted(range(len(tasks)), key=lambda i: -_weight(tasks[i]))
        futures: dict[Future[Outcome], int] = {executor.submit(run_task, tasks[i]): i for i in order}
        done: dict[int, Outcome] = {}
        try:
            for future in as_completed(futures):
                outcome = future.result()
                done[futures[future]] = outcome
                if report is not None:
                    report(len(done) / (len(tasks) + 1), outcome.design.plan.title)
        except BrokenExecutor:
            raise DesignError(
                "a worker process ended before its work was done", where="workers", mend="try --workers 1"
            ) from None
        except BaseException:
            for future in futures:
                future.cancel()
            raise
        outcomes = [done[i] for i in range(len(tasks))]
    candidates: list[Candidate] = []
    for outcome in outcomes:
        if outcome.evaluation is None:
            refused.append((outcome.task.design.plan.title, outcome.refusal))
            continue
        found = outcome.evaluation
        measured = None if score is None else score(found)
        candidates.append(Candidate(outcome.design, found, outcome.task.bands, outcome.task.whole, measured))
    if not candidates:
        raise DesignError("no antenna could be solved for this need", where=need.title, mend=refused[-1][1])
    proposals = ranked(need, candidates)
    coax = start_common_mode(need, candidates, proposals, executor=executor)
    if report is not None:
        report(len(tasks) / (len(tasks) + 1), "curves that explain")
    drawn = curves_for(need, candidates, proposals, executor=executor) if curves else ()
    if report is not None:
        report((len(tasks) + 0.6) / (len(tasks) + 1), "does the coax radiate")
    proposals = with_exposure(need, coax())
    return Comparison(
        need=need,
        proposals=proposals,
        refused=tuple(refused),
        curves=drawn,
        assumptions=_assumptions(need),
        cautions=(*safety(need), *stock_notes(need)),
        seconds=time.perf_counter() - started,
        version=__version__,
        made=datetime.date.today().isoformat(),
    )


def start_common_mode(
    need: Need, candidates: list[Candidate], proposals: tuple[Proposal, ...], *, executor: Executor | None = None
) -> Callable[[], tuple[Proposal, ...]]:
    """Begin to look at the coax of the first proposals; what is returned waits for it and gives the proposals with it."""
    wanted = {id(m.evaluation) for p in proposals[:LOOKED_AT_WITH_COAX] for m in p.members}
    mine = [c for c in candidates if id(c.evaluation) in wanted]
    arguments = ([c.design for c in mine], [need] * len(mine), [c.bands for c in mine])
    # An executor begins at once, so that the curves share its workers.
    found = executor.map(common_mode, *arguments) if executor is not None else map(common_mode, *arguments)

    def finish() -> tuple[Proposal, ...]:
        now = {id(c.evaluation): _with_coax(c.evaluation, mode) for c, mode in zip(mine, found, strict=True)}
        return tuple(
            replace(p, members=tuple(replace(m, evaluation=now.get(id(m.evaluation), m.evaluation)) for m in p.members))
            for p in proposals
        )

    return finish


def _with_coax(evaluation: Evaluation, mode: CommonMode | None) -> Evaluation:
    """The evaluation with what runs on its coax, and the choke that it takes as one more part."""
    choke = choke_piece(mode) if mode is not None else None
    pieces = evaluation.pieces if choke is None else (*evaluation.pieces, choke)
    return replace(evaluation, common_mode=mode, pieces=pieces)


def with_exposure(need: Need, proposals: tuple[Proposal, ...]) -> tuple[Proposal, ...]:
    """The recommendation with the distances that people keep while it transmits; antennas for other bands than that one without."""
    if need.receive_only:
        return proposals
    frequency = next(band.centre for band in need.bands if band.label == need.transmit_band)

    def seen(member: Member) -> Member:
        if need.transmit_band not in member.band_labels:
            return member
        try:
            found = exposure(member.evaluation.structure, frequency=frequency, power=need.transmit_power)
        except AerialwrightError:
            return member
        return replace(member, evaluation=replace(member.evaluation, exposure=found))

    first = replace(proposals[0], members=tuple(seen(member) for member in proposals[0].members))
    return (first, *proposals[1:])


def _weight(task: Task) -> float:
    """Guess of the work: copies and free dimensions."""
    kind, values = task.design.family, task.design.values
    copies = sum(values.get(p.key, 0.0) for p in kind.parameters if p.kind == "count")
    return copies + 3.0 * len(kind.tuned(task.design.plan))


def _assumptions(need: Need) -> tuple[str, ...]:
    line = need.feed_lines[0]
    return (
        "gains are those of free space; height, ground and surroundings are not in them yet",
        f"gain at the receiver counts mismatch, metal loss and the {format_length(line.length)} of {line.type} up to a "
        f"{need.receiver_impedance:.0f} ohm receiver",
        "two antennas need two feed lines, or a splitter whose loss is not counted here",
    )


def safety(need: Need) -> tuple[Caution, ...]:
    """Cautions of this need alone; the standing ones (power lines, lightning, height, tips, fumes) are part of every report."""
    out: list[Caution] = []
    if need.transmit_power > 0:
        out.append(
            Caution(
                "safety",
                f"Transmitting {need.transmit_power:g} W needs a licence and an approved radio.",
                "Ask your licensing authority.",
            )
        )
    else:
        out.append(Caution("safety", "Some countries restrict what may be listened to.", "Check before you listen."))
    return tuple(out)
