"""Bars and sheets shared out: against search over everything on small cases, and what a workshop can check with a tape."""

from __future__ import annotations

import itertools
import math
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aerialwright.design.cutting_stock import Bars, Shared, left_of, share_bars
from aerialwright.design.nesting import Blank, nest

KERF = 1.5e-3


def fewest_by_search(lengths: tuple[float, ...], bars: tuple[float, ...], kerf: float) -> tuple[float, int]:
    """(length to buy, bars begun) at their best, by trying every piece in every bar: exponential, for a handful of pieces."""
    grain = 1e-7

    @cache
    def best(piece: int, rooms: tuple[int, ...]) -> tuple[float, int]:
        if piece == len(lengths):
            return 0.0, sum(room != whole for room, whole in zip(rooms, full, strict=True))
        need = round((lengths[piece] + kerf) / grain)
        bought, begun = best(piece + 1, rooms)
        found = [(round(bought + lengths[piece], 9), begun)]
        for k, room in enumerate(rooms):
            if need <= room and (k == 0 or (room, full[k]) != (rooms[k - 1], full[k - 1])):
                found.append(best(piece + 1, (*rooms[:k], room - need, *rooms[k + 1 :])))
        return min(found)

    full = tuple(round((bar + kerf) / grain) for bar in bars)
    return best(0, full)


def check(shared: Shared, lengths: tuple[float, ...], wanted: tuple[int, ...], bars: tuple[Bars, ...]) -> None:
    """A plan that can be sawn: no bar overdrawn or used twice, every piece cut or bought."""
    cut = [0] * len(lengths)
    for cutting in shared.cuttings:
        bar = bars[cutting.bars]
        assert sum(lengths[k] for k in cutting.cuts) + KERF * (len(cutting.cuts) - 1) <= bar.length + 1e-9
        for k in cutting.cuts:
            assert k in bar.takes
            cut[k] += 1
    for kind, bar in enumerate(bars):
        assert sum(cutting.bars == kind for cutting in shared.cuttings) <= bar.count
    assert [c + s for c, s in zip(cut, shared.short, strict=True)] == list(wanted)


sizes = st.integers(80, 950).map(lambda mm: mm * 1e-3)


@given(
    pieces=st.lists(st.tuples(sizes, st.integers(1, 3)), min_size=1, max_size=3),
    stock=st.lists(st.tuples(st.sampled_from([0.5, 0.8, 1.0, 1.2]), st.integers(1, 2)), min_size=1, max_size=2, unique_by=lambda p: p[0]),
)  # fmt: skip
@settings(max_examples=60)
def test_no_search_finds_a_better_plan(pieces: list[tuple[float, int]], stock: list[tuple[float, int]]) -> None:
    lengths, wanted = tuple(p[0] for p in pieces), tuple(p[1] for p in pieces)
    bars = tuple(Bars(length, count, tuple(range(len(lengths)))) for length, count in stock)
    shared = share_bars(lengths, wanted, bars, kerf=KERF)
    check(shared, lengths, wanted, bars)
    assert shared.proven
    bought = sum(n * length for n, length in zip(shared.short, lengths, strict=True))
    every = tuple(sorted((length for length, n in zip(lengths, wanted, strict=True) for _ in range(n)), reverse=True))
    single = tuple(itertools.chain.from_iterable([length] * count for length, count in stock))
    best_bought, best_begun = fewest_by_search(every, single, KERF)
    assert bought == pytest.approx(best_bought, abs=1e-6)
    assert len(shared.cuttings) <= best_begun or bought < best_bought - 1e-6


def test_a_plan_that_longest_first_misses() -> None:
    """Longest first puts the two long ones together and needs a third bar; one of each fills two bars (by hand)."""
    lengths, bars = (0.447, 0.347, 0.2), (Bars(1.0, 2, (0, 1, 2)),)
    shared = share_bars(lengths, (2, 2, 2), bars, kerf=KERF)
    check(shared, lengths, (2, 2, 2), bars)
    assert shared.short == (0, 0, 0) and shared.proven
    assert [cutting.cuts for cutting in shared.cuttings] == [(0, 1, 2), (0, 1, 2)]


def test_one_long_offcut_is_kept_rather_than_two_short_ones() -> None:
    """Two long pieces take a bar each; both short ones go beside one of them, so that the other offcut stays whole."""
    bars = (Bars(1.0, 3, (0, 1)),)
    shared = share_bars((0.7, 0.12), (2, 2), bars, kerf=KERF)
    left = sorted(left_of(1.0, tuple((0.7, 0.12)[k] for k in c.cuts), KERF) for c in shared.cuttings)
    assert left == pytest.approx([1.0 - 0.7 - 0.24 - 3 * KERF, 0.3 - KERF])


def test_a_short_bar_is_used_up_before_a_long_one_is_begun() -> None:
    bars = (Bars(3.0, 2, (0,)), Bars(1.0, 2, (0,)))
    shared = share_bars((0.9,), (2,), bars, kerf=KERF)
    # One bar of 3 m serves both: fewest begun comes first.
    assert [c.bars for c in shared.cuttings] == [0]
    assert [c.bars for c in share_bars((0.9,), (1,), bars, kerf=KERF).cuttings] == [1]


def test_too_many_patterns_fall_back_and_say_so() -> None:
    lengths = tuple(0.05 + 0.003 * k for k in range(12))
    bars = (Bars(6.0, 4, tuple(range(12))),)
    shared = share_bars(lengths, (8,) * 12, bars, kerf=KERF)
    check(shared, lengths, (8,) * 12, bars)
    assert not shared.proven and "first fit" in shared.method


def test_published_cutting_stock_problem() -> None:
    """Rolls of 5600 mm into 13 widths, 219 pieces: 407 160 mm in all, so at least 72.7 and at best 73 rolls [@cutting-stock-example]."""
    widths = (1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200)
    wanted = (22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20)
    assert sum(w * n for w, n in zip(widths, wanted, strict=True)) == 407160
    lengths = tuple(w * 1e-3 for w in widths)
    shared = share_bars(lengths, wanted, (Bars(5.6, 100, tuple(range(13))),), kerf=0.0)
    assert not any(shared.short)
    assert len(shared.cuttings) == math.ceil(407160 / 5600) == 73
    assert shared.proven


def test_sheets_hold_what_is_placed_without_overlap() -> None:
    sizes = ((0.3, 0.2), (0.3, 0.2), (0.2, 0.2), (0.4, 0.1), (0.15, 0.15), (0.9, 0.5))
    blanks = (Blank(1.0, 0.6), Blank(0.5, 0.5), Blank(0.3, 0.3, round=True))
    placed = nest(sizes, blanks)
    for p in placed:
        assert sorted((p.width, p.height)) == pytest.approx(sorted(sizes[p.piece]))
        blank = blanks[p.blank]
        corners = [(p.x + i * p.width, p.y + j * p.height) for i in (0, 1) for j in (0, 1)]
        if blank.round:
            assert all(math.hypot(x - 0.15, y - 0.15) <= 0.15 + 2e-5 for x, y in corners)
        else:
            assert all(-1e-9 <= x <= blank.long + 2e-5 and -1e-9 <= y <= blank.wide + 2e-5 for x, y in corners)
    for a, b in itertools.combinations(placed, 2):
        apart = a.x + a.width <= b.x + 2e-5 or b.x + b.width <= a.x + 2e-5
        apart |= a.y + a.height <= b.y + 2e-5 or b.y + b.height <= a.y + 2e-5
        assert a.blank != b.blank or apart
    assert {p.piece for p in placed} == set(range(6)), "by hand they all have room"
