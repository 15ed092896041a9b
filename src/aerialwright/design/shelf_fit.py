"""What of the shelf becomes what piece: bars shared out exactly, flat stock nested, the rest to be bought.

The choice asks whether the shelf suffices, the build sheet which piece comes from which bar: both get the same answer from here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from aerialwright.antennas.family import SAW_KERF
from aerialwright.antennas.records import Piece
from aerialwright.base.printing import format_length
from aerialwright.design.cutting_stock import Bars, left_of, share_bars
from aerialwright.design.nesting import Blank, nest
from aerialwright.need.model import StockItem

LONG = ("rod", "tube", "wire", "pipe")
FLAT = ("sheet", "mesh")
#: More of one item than this is as good as endless.
MOST_OF_ONE = 1000


@dataclass(frozen=True)
class BarUse:
    """A begun bar: index of its stock item, its length, (index of the piece, cut length) in order, and what is left [m]."""

    item: int
    length: float
    cuts: tuple[tuple[int, float], ...]
    left: float


@dataclass(frozen=True)
class SheetCut:
    """A begun sheet: index of its stock item, its blank, (index of the piece, x, y, width, height) [m]."""

    item: int
    blank: Blank
    cuts: tuple[tuple[int, float, float, float, float], ...]


@dataclass(frozen=True)
class ToBuy:
    """Pieces that no stock is left for: index of the piece, how many, and the line that says so."""

    piece: int
    count: int
    line: str


@dataclass(frozen=True)
class StockFit:
    """Pieces with the stock they come from, what is to be bought (the largest first), and the plan behind both.

    ``proven``: no plan begins fewer bars or buys less; ``method`` says how the bars were shared.
    """

    pieces: tuple[Piece, ...]
    short: tuple[ToBuy, ...]
    bars: tuple[BarUse, ...]
    sheets: tuple[SheetCut, ...]
    proven: bool
    method: str

    @property
    def missing(self) -> tuple[str, ...]:
        """One line for each thing to buy."""
        return tuple(buy.line for buy in self.short)


def matches(piece: Piece, item: StockItem) -> bool:
    """True where a piece can be cut from an item, its size aside: same metal, same kind, round stock within 0.05 mm."""
    if item.material != piece.material:
        return False
    if piece.shape in LONG:
        return (
            (item.kind == "pipe" if piece.shape == "pipe" else item.kind in ("rod", "tube", "wire"))
            and item.diameter is not None
            and piece.diameter is not None
            and abs(item.diameter - piece.diameter) < 0.05e-3
        )
    return item.kind == piece.shape


def fit_stock(pieces: tuple[Piece, ...], stock: tuple[StockItem, ...]) -> StockFit:
    """Share the shelf out among the pieces."""
    bars, proven, method = _share_bars(pieces, stock)
    sheets = _share_sheets(pieces, stock)
    given: dict[int, list[int]] = {}
    uses: tuple[BarUse | SheetCut, ...] = (*bars, *sheets)
    for use in uses:
        for piece_index, *_ in use.cuts:
            given.setdefault(piece_index, []).append(use.item)
    lacking = [
        (index, piece.quantity - len(given.get(index, ())))
        for index, piece in enumerate(pieces)
        if piece.shape != "part" and len(given.get(index, ())) < piece.quantity
    ]
    short = tuple(
        ToBuy(k, n, _line(pieces[k], n)) for k, n in sorted(lacking, key=lambda pair: -_size(pieces[pair[0]]))
    )
    named = tuple(
        replace(piece, stock=" and ".join(dict.fromkeys(stock[item].title for item in given.get(index, ()))))
        for index, piece in enumerate(pieces)
    )
    return StockFit(named, short, bars, sheets, proven, method)


def _size(piece: Piece) -> float:
    return piece.cut_length or 0.0


def _line(piece: Piece, count: int) -> str:
    size = "" if piece.diameter is None else f" {format_length(piece.diameter)}"
    # Bought to the next whole millimetre: never too short.
    length = "" if piece.cut_length is None else f", {math.ceil(1e3 * piece.cut_length - 0.05):.0f} mm each"
    return f"{count} x {piece.name}: {piece.material}{size} {piece.shape}{length}"


def _groups(pieces: tuple[Piece, ...], stock: tuple[StockItem, ...]) -> Iterable[tuple[list[int], list[int]]]:
    """Pieces and stock items (indices) that can have to do with each other; each item in one group."""
    groups: list[tuple[list[int], set[int]]] = []
    for index, piece in enumerate(pieces):
        if piece.shape not in LONG or piece.length is None:
            continue
        mine = {k for k, item in enumerate(stock) if item.length and item.kind in LONG and matches(piece, item)}
        joined = [group for group in groups if group[1] & mine]
        groups = [group for group in groups if not group[1] & mine]
        groups.append((sorted(k for g in joined for k in g[0]) + [index], mine.union(*(g[1] for g in joined))))
    return [(members, sorted(items)) for members, items in groups]


def _share_bars(pieces: tuple[Piece, ...], stock: tuple[StockItem, ...]) -> tuple[tuple[BarUse, ...], bool, str]:
    out: list[BarUse] = []
    proven, methods = True, []
    for members, items in _groups(pieces, stock):
        lengths = tuple(_size(pieces[k]) for k in members)
        wanted = tuple(pieces[k].quantity for k in members)
        kinds = tuple(
            Bars(
                stock[item].length or 0.0,
                min(stock[item].quantity, MOST_OF_ONE),
                tuple(n for n, k in enumerate(members) if matches(pieces[k], stock[item])),
            )
            for item in items
        )
        shared = share_bars(lengths, wanted, kinds, kerf=SAW_KERF)
        if kinds:
            proven = proven and shared.proven
            methods.append(shared.method)
        for cutting in shared.cuttings:
            cuts = tuple((members[n], lengths[n]) for n in cutting.cuts)
            long = kinds[cutting.bars].length
            left = left_of(long, tuple(length for _, length in cuts), SAW_KERF)
            out.append(BarUse(items[cutting.bars], long, cuts, left))
    return tuple(sorted(out, key=lambda use: (use.item, use.left))), proven, "; ".join(dict.fromkeys(methods))


def blanks_of(item: StockItem, *, most: int) -> list[Blank]:
    """The sheets of an item of sheet or mesh, at most ``most``."""
    wide = item.width or item.diameter or 0.0
    long = item.length or item.width or item.diameter or 0.0
    whole = item.width is None and item.diameter is not None
    return [Blank(long, wide, whole)] * min(item.quantity, most)


def _share_sheets(pieces: tuple[Piece, ...], stock: tuple[StockItem, ...]) -> tuple[SheetCut, ...]:
    out: list[SheetCut] = []
    flat = [index for index, piece in enumerate(pieces) if piece.shape in FLAT and piece.length]
    for kind in dict.fromkeys((pieces[k].shape, pieces[k].material) for k in flat):
        members = [k for k in flat if (pieces[k].shape, pieces[k].material) == kind for _ in range(pieces[k].quantity)]
        sizes = tuple((_size(pieces[k]), pieces[k].width or _size(pieces[k])) for k in members)
        found = [
            (item, blank)
            for item, row in enumerate(stock)
            if matches(pieces[members[0]], row)
            for blank in blanks_of(row, most=len(members))
        ]
        placed = nest(sizes, tuple(blank for _, blank in found))
        for at in sorted({p.blank for p in placed}):
            cuts = tuple((members[p.piece], p.x, p.y, p.width, p.height) for p in placed if p.blank == at)
            out.append(SheetCut(found[at][0], found[at][1], cuts))
    return tuple(out)
