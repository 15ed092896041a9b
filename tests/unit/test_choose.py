"""The choice: the example projects get an answer that holds when its printed dimensions are solved again."""

from __future__ import annotations

import dataclasses
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from small_needs import RODS, SHEET, TUBE, need_for

from aerialwright.antennas.catalogue import family
from aerialwright.base.errors import Cancelled, DesignError, NeedError
from aerialwright.base.printing import format_length
from aerialwright.base.units import parse_length
from aerialwright.design.choose import Task, choose, run_task, safety, split_bands, tasks_for
from aerialwright.design.explain import questions_for
from aerialwright.design.model import Design, tuning_frequencies
from aerialwright.design.rank import Candidate
from aerialwright.design.records import Comparison, Evaluation
from aerialwright.jobs.workers import workers
from aerialwright.lines.mismatch import swr
from aerialwright.need.model import Band, FeedLine, Need, OwnedAntenna
from aerialwright.project.needs import read_need
from aerialwright.solution.solve import solve

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NAMES = ("tarn-edge", "marrow-head", "quillfen")


@pytest.fixture(scope="module")
def answers() -> dict[str, Comparison]:
    """The three examples without their curves, one antenna after the other."""
    return {name: choose(read_need(EXAMPLES / name), curves=False) for name in NAMES}


@pytest.fixture(scope="module")
def small() -> tuple[Need, Comparison]:
    """Upright or level is asked, so that half of the catalogue is refused: a quick answer for many questions."""
    need = need_for((144, 146), (156, 162), polarisation="horizontal", stock=(RODS, TUBE))
    return need, choose(need)


def design_again(need: Need, e: Evaluation) -> Design:
    """The same antenna from nothing but its printed dimensions: read back from text, as a builder would."""
    task = next(t for t in tasks_for(need)[0] if e.key.startswith(t.design.plan.key))
    values = dict(task.design.values)
    for d in e.dimensions:
        printed = format_length(d.value, step=d.step) if d.kind == "length" else f"{d.value:.0f}"
        values[d.key] = parse_length(printed) if d.kind == "length" else float(printed)
    if values.get("disc_spokes") == 0:
        values["disc_hub_diameter"] = values["disc_diameter"]
    return dataclasses.replace(task.design, values=values)


@pytest.mark.parametrize("name", NAMES)
def test_an_example_has_an_answer_that_serves(name: str, answers: dict[str, Comparison]) -> None:
    found = answers[name]
    best = found.proposals[0]
    assert best.serves and best.rank == 1
    assert [p.rank for p in found.proposals] == list(range(1, len(found.proposals) + 1))
    assert sum(len(p.members) == 1 for p in found.proposals) >= 5, "a choice between real types"
    assert all(p.reasons and p.verdict for p in found.proposals)
    limit = found.need.limits
    for p in found.proposals:
        fails = any(f.swr_worst > limit.worst_swr for f in p.bands if f.band.importance == "must")
        large = any(max(m.evaluation.width, m.evaluation.height) > 1.0005 * limit.largest_size for m in p.members)
        assert p.serves == (not (fails or large))
    serving = [p.serves for p in found.proposals]
    assert serving == sorted(serving, reverse=True)


@pytest.mark.parametrize("name", NAMES)
def test_the_recommendation_holds_as_printed(name: str, answers: dict[str, Comparison]) -> None:
    found = answers[name]
    need = found.need
    for member in found.proposals[0].members:
        again = design_again(need, member.evaluation)
        for band in need.must_bands:
            if band.label not in member.band_labels:
                continue
            at = np.linspace(band.low, band.high, 7)
            z = solve(again.structure(), at, check=False).sweep.impedance
            ratio = np.asarray(swr(z, reference=need.feed_lines[0].impedance))
            assert ratio.max() <= need.limits.worst_swr
            told = next(f for f in member.evaluation.bands if f.band.label == band.label)
            assert ratio.max() == pytest.approx(told.swr_worst, rel=0.02)


def test_two_bands_are_weighed_as_one_antenna_and_as_two(answers: dict[str, Comparison]) -> None:
    pairs = [p for p in answers["tarn-edge"].proposals if len(p.members) == 2]
    assert pairs
    for p in pairs:
        labels = [label for m in p.members for label in m.band_labels]
        assert sorted(set(labels)) == sorted(
            band.label for band in answers["tarn-edge"].need.bands if band.label in labels
        )
        assert {"civil airband", "lake rescue"} <= set(labels)
    assert not any(len(p.members) == 2 for p in answers["quillfen"].proposals), "one band needs no two antennas"


def test_an_owned_antenna_is_weighed_as_it_is_and_cut_down(answers: dict[str, Comparison]) -> None:
    found = answers["tarn-edge"]
    owned = found.need.owned[0]
    mine = [p for p in found.proposals if p.members[0].evaluation.owned]
    assert sorted(p.title for p in mine) == [f"{owned.name}, as it is", f"{owned.name}, cut down"]
    as_is, cut = sorted(mine, key=lambda p: p.title)
    given = {d.key: d.value for d in as_is.members[0].evaluation.dimensions}
    for key, value in owned.dimensions.items():
        assert given[key] == pytest.approx(value), key
    assert as_is.parts == 0 and as_is.joints == 0
    after = {d.key: d.value for d in cut.members[0].evaluation.dimensions}
    lengths = {p.key for p in family("discone").parameters if p.tuned and p.kind == "length" and p.key != "gap"}
    assert all(after[key] <= given[key] for key in lengths)
    assert {key: after[key] for key in after if key not in lengths} == {k: given[k] for k in given if k not in lengths}
    assert any(after[key] < given[key] for key in lengths)


def test_what_is_not_cut_takes_no_work() -> None:
    """A dipole that is already right: cut or not, it is the same antenna and nothing is to be bought."""
    need = need_for(
        (144, 146), stock=(), owned=(OwnedAntenna("old", "dipole", {"total_length": 0.972, "arm_diameter": 6e-3}),)
    )
    tasks = [t for t in tasks_for(need)[0] if t.design.owned]
    as_is = run_task(tasks[0]).evaluation
    assert as_is is not None
    assert (as_is.parts, as_is.joints, as_is.stock_suffices, as_is.missing) == (0, 0, True, ())
    assert {rod.radius for rod in as_is.structure.rods} == {3e-3}


@pytest.mark.parametrize(
    ("kind", "dimensions", "diameter"),
    [
        ("bicone", {"slant": 0.5, "wire_diameter": 5e-3}, 5e-3),
        ("discone", {"slant": 0.6, "wire_diameter": 4e-3}, 4e-3),
        ("cage-dipole", {"total_length": 0.9, "wire_diameter": 2e-3}, 2e-3),
        ("disc-ground-plane", {"rod_length": 0.5, "rod_diameter": 2.5e-3}, 2.5e-3),
    ],
)
def test_the_thickness_of_an_owned_antenna_is_what_is_solved(
    kind: str, dimensions: dict[str, float], diameter: float
) -> None:
    need = need_for((144, 146), owned=(OwnedAntenna("mine", kind, dimensions),))
    task = next(t for t in tasks_for(need)[0] if t.design.owned)
    thick = {round(2 * rod.radius, 6) for rod in task.design.structure().rods if rod.name != "pin"}
    assert thick == {diameter}


def test_an_owned_antenna_that_names_nothing_known_is_refused() -> None:
    for owned, named in (
        (OwnedAntenna("x", "wonder-whip", {"a": 1.0}), "wonder-whip"),
        (OwnedAntenna("x", "dipole", {"wingspan": 1.0}), "wingspan"),
    ):
        with pytest.raises((DesignError, NeedError), match=named):
            tasks_for(need_for((144, 146), owned=(owned,)))
    assert not [t for t in tasks_for(need_for((144, 146), owned=(OwnedAntenna("x", "dipole"),)))[0] if t.design.owned]


def test_an_impossible_owned_antenna_does_not_stop_the_answer() -> None:
    owned = OwnedAntenna("crushed", "dipole", {"total_length": 0.03, "arm_diameter": 20e-3})
    need = need_for((144, 146), polarisation="horizontal", owned=(owned,))
    found = choose(need, curves=False)
    assert any("crushed, as it is" in title and "total_length" in reason for title, reason in found.refused)
    assert found.proposals[0].serves


def test_refusals_say_why(small: tuple[Need, Comparison]) -> None:
    _, found = small
    refused = dict(found.refused)
    for key in ("ground-plane", "cage-dipole", "discone"):
        assert refused[family(key).title] == "its polarisation is vertical, asked is horizontal"
    assert {p.members[0].evaluation.family for p in found.proposals} == {"dipole"}


def test_every_curve_answers_its_question(small: tuple[Need, Comparison]) -> None:
    need, found = small
    assert found.curves
    for curve in found.curves:
        assert curve.question.endswith("?") and curve.reading.endswith(".")
        assert len(curve.x) >= 3 and np.all(np.diff(curve.x) > 0)
        for _, values in curve.series:
            assert values.shape == curve.x.shape and np.all(np.isfinite(values))
        for label, at in curve.marks:
            assert label and np.isfinite(at)
    rule = next(c for c in found.curves if c.key == "rule")
    built = dict(rule.marks)["built"]
    top = found.proposals[0].members[0]
    assert built == next(d.value for d in top.evaluation.dimensions if d.key == "total_length")
    bands = tuple(b for b in need.must_bands if b.label in top.band_labels)
    at_built = float(np.interp(built, rule.x, rule.series[0][1]))
    z = solve(top.evaluation.structure, tuning_frequencies(bands), check=False).sweep.impedance
    assert at_built == pytest.approx(float(np.max(swr(z, reference=50.0))), rel=0.08), "quick mesh, between points"


def words(found: Comparison) -> list[object]:
    out: list[object] = [found.refused]
    for p in found.proposals:
        out += [p.key, p.verdict, p.reasons, p.gives_up, p.why_not, [m.evaluation.dimensions for m in p.members]]
    return out + [c.reading for c in found.curves]


def numbers(found: Comparison) -> list[np.ndarray]:
    out: list[np.ndarray] = []
    for p in found.proposals:
        out += [np.array([f.swr_worst, f.gain_mean, f.realised_mean, f.efficiency_minimum]) for f in p.bands]
        for m in p.members:
            e = m.evaluation
            out += [e.sweep.impedance, e.realised_gain, np.array([s.frequency_shift for s in e.sensitivities])]
    return out + [v for c in found.curves for _, v in c.series]


def test_processes_give_the_same_numbers(small: tuple[Need, Comparison]) -> None:
    need, serial = small
    heard: list[float] = []
    with workers(2) as pool:
        assert isinstance(pool, ProcessPoolExecutor)
        spread = choose(need, executor=pool, report=lambda fraction, text: heard.append(fraction))
    assert words(spread) == words(serial)
    # Not to the last bit: the linear algebra may round differently with where a matrix lies in memory.
    for ours, theirs in zip(numbers(spread), numbers(serial), strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=1e-9)
    assert heard == sorted(heard) and heard[0] > 0 and heard[-1] < 1
    with workers(1) as none:
        assert none is None


def test_progress_rises_and_names_the_antenna() -> None:
    need = need_for((144, 146), polarisation="horizontal")
    heard: list[tuple[float, str]] = []
    choose(need, report=lambda fraction, text: heard.append((fraction, text)), curves=False)
    fractions = [fraction for fraction, _ in heard]
    assert fractions == sorted(fractions) and fractions[0] >= 0 and fractions[-1] < 1
    assert heard[0][1].startswith("half-wave dipole") and all(text for _, text in heard)


@pytest.mark.parametrize("count", [1, 2])
def test_cancelling_ends_the_choice(count: int) -> None:
    need = need_for((144, 146), polarisation="horizontal", stock=(RODS, TUBE))

    def stop(fraction: float, text: str) -> None:
        raise Cancelled("stopped by the person")

    with pytest.raises(Cancelled), workers(count) as pool:
        choose(need, executor=pool, report=stop)


def test_a_need_that_does_not_hold_is_refused() -> None:
    need = need_for((144, 146))
    with pytest.raises(NeedError):
        choose(dataclasses.replace(need, feed_lines=()))
    with pytest.raises(NeedError):
        choose(dataclasses.replace(need, bands=(Band("wish only", 1e8, 2e8, "wish"),)))


def test_nothing_buildable_is_a_fault_with_its_reason() -> None:
    """Ten gigahertz on a UHF socket's plate with an 8 mm tube: no family of this catalogue is that small."""
    need = need_for((9800, 9900), stock=(TUBE,), polarisation="horizontal", connectors=("UHF",))
    with pytest.raises(DesignError) as caught:
        choose(need)
    assert "\n" not in caught.value.one_line() and caught.value.mend


@pytest.mark.parametrize(
    ("ranges", "groups"),
    [
        (((118, 136), (156, 162)), [1, 1]),
        (((156, 157), (160, 162)), [2]),
        (((118, 136),), [1]),
        (((118, 136), (130, 162)), [2]),
        (((430, 440), (118, 136), (144, 146)), [2, 1]),
    ],
)
def test_bands_split_at_their_widest_gap(ranges: tuple[tuple[float, float], ...], groups: list[int]) -> None:
    found = split_bands(need_for(*ranges).must_bands)
    assert [len(group) for group in found] == groups
    lows = [band.low for group in found for band in group]
    assert lows == sorted(lows)


def test_a_transmitter_is_told_to_keep_its_distance() -> None:
    need = need_for((144, 146))
    assert "listened" in safety(need)[0].text
    sending = safety(dataclasses.replace(need, transmit_power=5.0, transmit_band="band 1"))[0]
    assert sending.level == "safety" and "5 W" in sending.text and "licence" in sending.text


def test_a_fault_of_one_design_is_an_outcome() -> None:
    need = need_for((144, 146), stock=(RODS, SHEET))
    good = tasks_for(need)[0][0]
    bad = dataclasses.replace(good, design=good.design.with_values(rod_length=-1.0), tuning=False)
    outcome = run_task(bad)
    assert outcome.evaluation is None and "rod_length" in outcome.refusal
    assert isinstance(bad, Task)


def test_a_feed_line_that_cannot_be_is_refused_before_any_solve() -> None:
    need = dataclasses.replace(need_for((144, 146)), feed_lines=(FeedLine("other", 10.0, 50.0),))
    with pytest.raises(NeedError, match="loss"):
        choose(need)


def test_questions_ask_about_the_antennas_compared(answers: dict[str, Comparison]) -> None:
    """Why radials droop, what a larger disc does, why the rule misses: each at this very antenna."""
    found = answers["tarn-edge"]
    tasks, _ = tasks_for(found.need)
    candidates = []
    for p in found.proposals:
        for m in p.members:
            task = next(t for t in tasks if m.evaluation.key.startswith(t.design.plan.key))
            candidates.append(Candidate(design_again(found.need, m.evaluation), m.evaluation, task.bands, task.whole))
    asked = {q.key: q for q in questions_for(found.need, candidates, found.proposals)}
    assert {"rule", "ground-plane-radial_droop", "ground-plane-radial_count", "discone-disc_diameter"} <= set(asked)
    for question in asked.values():
        assert question.dimension in question.design.values
        low, high = min(question.values), max(question.values)
        assert low <= dict(question.marks)["built"] <= high, question.key
