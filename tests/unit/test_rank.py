"""Order and sentences, on synthetic figures: one real antenna whose numbers are replaced one at a time."""

from __future__ import annotations

import dataclasses
import itertools
import re
from typing import Any

import pytest
from small_needs import design_for, need_for

from aerialwright.design.evaluate import evaluate
from aerialwright.design.model import Design
from aerialwright.design.rank import ALIKE, Candidate, largest, ranked, signal, worst
from aerialwright.design.records import BandFigures, Evaluation, Proposal
from aerialwright.need.model import Band, Limits, Need

NEED = need_for((118, 136), (156, 162), wish=(225, 260), worst_swr=2.5, largest=1.5)
AIR, RESCUE, WISH = NEED.bands


@pytest.fixture(scope="module")
def real() -> tuple[Design, Evaluation]:
    design = design_for("dipole", NEED)
    return design, evaluate(design, NEED, NEED.must_bands, sensitivities=False)


def figures(band: Band, swr: float, realised: float) -> BandFigures:
    return BandFigures(
        band=band, swr_worst=swr, swr_typical=1 + 0.5 * (swr - 1), swr_receiver_worst=swr, swr_receiver_typical=swr,
        gain_minimum=realised + 1, gain_mean=realised + 2, realised_minimum=realised - 0.5, realised_mean=realised,
        efficiency_minimum=0.97,
    )  # fmt: skip


Maker = Any


@pytest.fixture
def make(real: tuple[Design, Evaluation]) -> Maker:
    design, base = real

    def maker(
        title: str, *, air: float = 1.5, rescue: float = 1.6, wish: float = 4.0, gain: float = 0.0, wish_gain: float = -20.0,
        parts: int = 5, joints: int = 5, stock: bool = True, missing: tuple[str, ...] = (), width: float = 0.4,
        height: float = 1.0, owned: bool = False, family: str = "dipole", bands: tuple[Band, ...] = (AIR, RESCUE),
        rescue_gain: float | None = None,
    ) -> Candidate:  # fmt: skip
        whole = bands == (AIR, RESCUE)
        each = {
            AIR.label: figures(AIR, air, gain),
            RESCUE.label: figures(RESCUE, rescue, gain if rescue_gain is None else rescue_gain),
            WISH.label: figures(WISH, wish, wish_gain),
        }
        shown = [each[band.label] for band in (NEED.bands if whole else bands)]
        e = dataclasses.replace(
            base, key=title.replace(" ", "-"), title=title, family=family, bands=tuple(shown), parts=parts, joints=joints,
            stock_suffices=stock, missing=missing, width=width, height=height, owned=owned,
        )  # fmt: skip
        return Candidate(design, e, bands, whole)

    return maker


def sentences(p: Proposal) -> list[str]:
    return [p.verdict, *p.reasons, *p.gives_up, *p.why_not]


def check_words(proposals: tuple[Proposal, ...]) -> None:
    for number, p in enumerate(proposals, 1):
        assert p.rank == number
        assert p.reasons and all(p.reasons) and p.verdict
        assert p.serves == (not p.why_not)
        for text in sentences(p):
            assert not re.search(r"\b(nan|inf|none|unknown)\b", text, re.I), text
            assert "  " not in text and text == text.strip()


def titles(proposals: tuple[Proposal, ...]) -> list[str]:
    check_words(proposals)
    return [p.title for p in proposals]


def test_the_better_heard_comes_first_when_it_is_noticed(make: Maker) -> None:
    found = ranked(NEED, [make("weak", gain=-3.0, parts=1, joints=1), make("strong", gain=0.0, parts=9, joints=9)])
    assert titles(found) == ["strong", "weak"]
    decided = found[0].reasons[1]
    assert "3.0 dB better than the weak" in decided or "3 dB better than the weak" in decided
    assert any(text.startswith("3") and "dB in band 1" in text for text in found[1].gives_up)
    assert "3" in found[1].verdict and "behind" in found[1].verdict


@pytest.mark.parametrize("order", [0, 1])
def test_within_a_decibel_the_simpler_comes_first(make: Maker, order: int) -> None:
    pair = [make("simple", gain=-0.7, parts=3, joints=2), make("laborious", gain=0.0, parts=14, joints=14)]
    found = ranked(NEED, pair[::-1] if order else pair)
    assert titles(found) == ["simple", "laborious"]
    decided = found[0].reasons[1]
    assert "0.7 dB" in decided and "3 cut pieces and 2 joints instead of 14 and 14" in decided
    assert "0.7 dB in band 1" in found[0].gives_up
    assert "11 more cut pieces" in found[1].gives_up and "12 more joints" in found[1].gives_up
    assert "0.7 dB behind" in found[0].verdict


def test_the_weakest_must_band_is_what_counts(make: Maker) -> None:
    lopsided = make("lopsided", gain=4.0, rescue_gain=-6.0)
    even = make("even", gain=-1.0)
    found = ranked(NEED, [lopsided, even])
    assert titles(found) == ["even", "lopsided"]
    assert signal(found[1]) == -6.0 and signal(found[0]) == -1.0


def test_the_tightest_limit_is_quoted(make: Maker) -> None:
    found = ranked(NEED, [make("one", air=2.21, rescue=1.34), make("two", air=1.34, rescue=2.47, gain=-3)])
    assert worst(found[0]).band is AIR
    assert "SWR in band 1: 2.21 against 2.50" in found[0].reasons[0]
    assert "SWR in band 2: 2.47 against 2.50" in found[1].reasons[0]
    assert "at or below 2.21" in found[0].verdict
    gives = " ".join(found[0].gives_up)
    assert "SWR up to 2.21 instead of 1.34 in band 1" in gives


def test_the_loss_of_the_line_and_of_the_mismatch_are_quoted(make: Maker) -> None:
    """SWR 2 reflects a third of the wave, 0.51 dB (1 - 1/9); RG-58 has 20 dB per 100 m at 150 MHz (the table's source)."""
    found = ranked(NEED, [make("one", air=2.0, rescue=1.2)])
    text = next(t for t in found[0].reasons if "worst mismatch" in t)
    loss, mismatch = (float(x) for x in re.findall(r"loses ([\d.]+) dB", text))
    assert loss == pytest.approx(2.1, abs=0.15)
    assert mismatch == pytest.approx(0.51, abs=0.05)


@pytest.mark.parametrize(
    ("changes", "limits", "expected"),
    [
        ({"air": 3.0}, {}, ["SWR reaches 3.00 in band 1, 2.50 is allowed (2.00 is typical there)"]),
        ({"height": 1.62}, {}, ["it is 1620 mm large, 1500 mm is allowed"]),
        ({"width": 1.62}, {}, ["it is 1620 mm large, 1500 mm is allowed"]),
        ({"parts": 12}, {"most_parts": 10}, ["it needs 12 cut pieces, 10 is the limit"]),
        ({"air": 2.6, "rescue": 4.0}, {}, ["SWR reaches 2.60 in band 1", "SWR reaches 4.00 in band 2"]),
    ],
)
def test_a_failing_limit_is_named_with_its_numbers(
    make: Maker, changes: dict[str, Any], limits: dict[str, Any], expected: list[str]
) -> None:
    need = dataclasses.replace(NEED, limits=Limits(**{"largest_size": 1.5, "worst_swr": 2.5, **limits}))
    found = ranked(need, [make("bad", gain=5.0, **changes), make("good", gain=-9.0)])
    assert titles(found) == ["good", "bad"], "what fails never beats what serves"
    assert not found[1].serves and found[0].serves
    assert len(found[1].why_not) == len(expected)
    for said, meant in zip(found[1].why_not, expected):
        assert said.startswith(meant)
    assert found[1].verdict == f"Does not serve: {found[1].why_not[0]}."
    assert "bad" in found[0].reasons[1] and found[1].why_not[0] in found[0].reasons[1]


def test_exactly_at_the_limit_serves(make: Maker) -> None:
    assert ranked(NEED, [make("edge", air=2.5, height=1.5)])[0].serves


def test_when_nothing_serves_the_nearest_miss_is_first(make: Maker) -> None:
    found = ranked(NEED, [make("far", air=9.0), make("near", air=2.6), make("two faults", air=2.55, height=1.9)])
    assert titles(found) == ["near", "far", "two faults"]
    assert not any(p.serves for p in found)
    assert all("Does not serve" in p.verdict for p in found)


def test_two_antennas_must_be_heard_better_than_one(make: Maker) -> None:
    """Two are more work and two lines: they win only by more than the decibel that is noticed."""
    for gain, first in ((0.9, "one"), (1.6, "two antennas: pair, one for each band")):
        found = ranked(
            NEED,
            [
                make("one", gain=0.0, parts=20, joints=20),
                make("pair", gain=gain, bands=(AIR,), parts=2, joints=2),
                make("pair", gain=gain, bands=(RESCUE,), parts=3, joints=2),
            ],
        )
        assert titles(found)[0] == first
        pair = next(p for p in found if len(p.members) == 2)
        assert (pair.parts, pair.joints) == (5, 4)
        assert [m.band_labels for m in pair.members] == [("band 1",), ("band 2",)]
        assert [f.band.label for f in pair.bands] == ["band 1", "band 2"]
        if first == "one":
            assert "one antenna with one feed line instead of 2" in found[0].reasons[1]
            assert "a second antenna and a second feed line" in pair.gives_up
        else:
            assert "1.6 dB better than the one" in found[0].reasons[1]


def test_a_pair_serves_where_one_cannot(make: Maker) -> None:
    found = ranked(
        NEED,
        [make("one", air=3.2), make("pair", bands=(AIR,), air=1.9), make("pair", bands=(RESCUE,), rescue=1.4)],
    )
    assert [len(p.members) for p in found] == [2, 1]
    assert found[0].serves and found[1].why_not[0].startswith("SWR reaches 3.20 in band 1")
    check_words(found)


def test_only_like_is_paired_with_like_and_the_best_pair_is_kept(make: Maker) -> None:
    parts = [
        make(f"{family} {i}", family=family, bands=(band,), gain=gain)
        for family, gain in (("dipole", -1.0), ("ground-plane", 0.0))
        for band in (AIR, RESCUE)
        for i in (1, 2)
    ]
    found = ranked(NEED, [make("one", gain=0.0), *parts])
    pairs = [p for p in found if len(p.members) == 2]
    assert len(pairs) == 2
    for p in pairs:
        assert len({m.evaluation.family for m in p.members}) == 1


def test_a_wish_served_breaks_the_tie_and_is_named(make: Maker) -> None:
    found = ranked(NEED, [make("plain"), make("wishful", wish=2.2, wish_gain=-1.0, parts=9, joints=9)])
    assert titles(found) == ["wishful", "plain"]
    assert "covers a wish" in found[0].reasons[1]
    assert any(
        "also serves the wish wished band: SWR up to 2.20, −1.0 dBi" in t.replace("-", "−")
        or "also serves the wish wished band: SWR up to 2.20" in t
        for t in found[0].reasons
    )
    assert any("does not really serve the wish wished band: SWR up to 4.00" in t for t in found[1].reasons)
    assert any("in the wish wished band" in t for t in found[1].gives_up)


@pytest.mark.parametrize(("wish", "gain"), [(2.2, -7.0), (2.6, 0.0)])
def test_a_wish_needs_both_match_and_signal(make: Maker, wish: float, gain: float) -> None:
    found = ranked(NEED, [make("one", wish=wish, wish_gain=gain)])
    assert any("does not really serve the wish" in t for t in found[0].reasons)


def test_a_wish_never_outweighs_a_must(make: Maker) -> None:
    found = ranked(NEED, [make("wishful", wish=1.2, wish_gain=5.0, rescue=2.9), make("dutiful")])
    assert titles(found)[0] == "dutiful"


def test_the_shelf_breaks_the_tie_and_what_to_buy_is_named(make: Maker) -> None:
    buy = make("to buy", stock=False, missing=("4 x radial: brass 3.2 mm rod, 500 mm each",), parts=2, joints=2)
    found = ranked(NEED, [buy, make("on the shelf", parts=9, joints=9)])
    assert titles(found) == ["on the shelf", "to buy"]
    assert "its metal is on the shelf and the other's is not" in found[0].reasons[1]
    assert "To buy: 4 x radial: brass 3.2 mm rod, 500 mm each." in found[1].reasons
    assert "The shelf holds all of its metal." in found[0].reasons


def test_ties_are_decided_by_something_true(make: Maker) -> None:
    """Whatever puts one before the other, the sentence that says so must name a difference that exists."""
    variants: dict[str, dict[str, Any]] = {
        "match": {"air": 1.2, "rescue": 1.2},
        "size": {"height": 0.7},
        "work": {"parts": 4},
        "nothing": {},
    }
    for name, changes in variants.items():
        found = ranked(NEED, [make("other"), make("this", **changes)])
        check_words(found)
        if name != "nothing":
            assert found[0].title == "this", name
        text = found[0].reasons[1]
        for before, after in re.findall(r"([\d.]+(?: mm)?) instead of ([\d.]+(?: mm)?)", text):
            assert before != after, text
        pieces = re.search(r"(\d+) cut pieces and (\d+) joints instead of (\d+) and (\d+)", text)
        if pieces:
            assert pieces.group(1, 2) != pieces.group(3, 4), text


def test_an_owned_antenna_needs_no_shelf(make: Maker) -> None:
    owned = make("owned", owned=True, stock=False, missing=("12 x cone wire: bronze",), parts=0, joints=0)
    found = ranked(NEED, [owned, make("built")])
    assert titles(found) == ["owned", "built"]
    assert "its metal is on the shelf and the other's is not" not in found[0].reasons[1], "the shelf did not decide"


def test_every_order_of_the_candidates_gives_the_same_answer(make: Maker) -> None:
    things = [make("a", gain=0.2, parts=9), make("b", gain=-0.6), make("c", gain=-1.4, parts=2), make("d", air=2.8)]
    answers = {tuple(titles(ranked(NEED, list(order)))) for order in itertools.permutations(things)}
    assert len(answers) == 1


def test_the_order_never_puts_a_noticeably_weaker_one_first(make: Maker) -> None:
    gains = [0.0, -0.4, -0.9, -1.3, -2.2, -5.0]
    things = [make(f"g{i}", gain=g, parts=20 - 3 * i) for i, g in enumerate(gains)]
    found = ranked(NEED, things)
    check_words(found)
    for i, p in enumerate(found):
        assert signal(p) >= max(signal(q) for q in found[i:]) - ALIKE


def test_hopeless_numbers_still_give_sentences(make: Maker) -> None:
    """A short circuit of an antenna: SWR a million, -90 dBi."""
    found = ranked(NEED, [make("dead", air=1e6, rescue=2e6, gain=-90.0), make("worse", air=float("inf"), gain=-90.0)])
    check_words(found)
    assert largest(found[0]) == 1.0


def test_a_need_with_one_candidate(make: Maker) -> None:
    found = ranked(NEED, [make("only")])
    assert titles(found) == ["only"]
    assert found[0].gives_up == ()
    need: Need = NEED
    assert need.limits.worst_swr == 2.5


def test_a_wish_on_the_edge_of_the_limit_does_not_decide(make: Maker) -> None:
    found = ranked(NEED, [make("plain"), make("edge", wish=0.99 * 2.5, wish_gain=-1.0, parts=9, joints=9)])
    assert titles(found) == ["plain", "edge"]
    assert any("just serves the wish" in t for t in found[1].reasons)


@pytest.mark.parametrize(("gain", "shown"), [(0.5, False), (2.5, True)])
def test_unlike_pairs_are_shown_only_where_they_are_heard_better(make: Maker, gain: float, shown: bool) -> None:
    # The dipole is the better one below, the ground plane the better one above.
    parts = [
        make("dipole low", air=1.2, gain=gain, family="dipole", bands=(AIR,)),
        make("dipole high", rescue=1.2, gain=0.0, family="dipole", bands=(RESCUE,)),
        make("plane low", air=1.2, gain=0.0, family="ground-plane", bands=(AIR,)),
        make("plane high", rescue=1.2, gain=gain, family="ground-plane", bands=(RESCUE,)),
    ]
    found = ranked(NEED, [make("one"), *parts])
    unlike = [p for p in found if len({m.evaluation.family for m in p.members}) == 2]
    assert [p.title for p in unlike] == (["two antennas: dipole low, and plane high"] if shown else [])
