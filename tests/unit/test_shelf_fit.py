"""The check of the shelf never promises a plan that does not exist."""

from __future__ import annotations

import pytest

from aerialwright.antennas.records import Piece
from aerialwright.design.shelf_fit import fit_stock
from aerialwright.need.model import StockItem


def disc(size: float, count: int = 1) -> Piece:
    return Piece("disc", count, "sheet", "brass", None, size, (), "across", width=size)


def sheet(**sizes: float) -> StockItem:
    return StockItem("sheet", "brass", "sheet", 1, thickness=1e-3, **sizes)


def rod(length: float, count: int) -> Piece:
    return Piece("rod", count, "rod", "brass", 3e-3, length, (), "end to end")


@pytest.mark.parametrize(
    ("piece", "item", "there"),
    [
        (disc(0.7, 2), sheet(width=1.0, length=1.0), False),  # half of the area each, but not side by side
        (disc(0.5, 4), sheet(width=1.0, length=1.0), True),
        (disc(0.5, 5), sheet(width=1.0, length=1.0), False),
        (disc(0.3), sheet(diameter=0.3), True),
        (disc(0.03, 2), sheet(diameter=0.16), True),  # out of the square inside the round
        (disc(0.12, 2), sheet(diameter=0.16), False),
        (Piece("plate", 1, "sheet", "brass", None, 0.3, (), "", width=0.2), sheet(diameter=0.3), False),
        (Piece("plate", 1, "sheet", "brass", None, 0.24, (), "", width=0.18), sheet(diameter=0.3), True),
    ],
)
def test_flat_stock(piece: Piece, item: StockItem, there: bool) -> None:
    assert (not fit_stock((piece,), (item,)).missing) is there


def test_rods_share_a_length_and_the_saw_takes_its_part() -> None:
    stock = (StockItem("rod", "brass", "rods", 2, diameter=3e-3, length=1.0),)
    assert not fit_stock((rod(0.499, 4),), stock).missing
    assert fit_stock((rod(0.4999, 4),), stock).missing
    assert "1 x rod" in fit_stock((rod(0.499, 5),), stock).missing[0]
