"""Whether the shelf holds the pieces: stock lengths shared out first-fit, longest piece first.

First-fit decreasing never claims a plan that does not exist, but may miss a tight one; the optimal plan belongs to the build sheet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from aerialwright.antennas.family import SAW_KERF
from aerialwright.antennas.records import Piece
from aerialwright.base.printing import format_length
from aerialwright.need.model import StockItem


@dataclass(frozen=True)
class StockFit:
    """Pieces with the stock they come from, and one line for each thing to buy."""

    pieces: tuple[Piece, ...]
    missing: tuple[str, ...]


def _matches(piece: Piece, item: StockItem) -> bool:
    if item.material != piece.material:
        return False
    if piece.shape in ("rod", "tube", "wire", "pipe"):
        return (
            (item.kind == "pipe" if piece.shape == "pipe" else item.kind in ("rod", "tube", "wire"))
            and item.diameter is not None
            and piece.diameter is not None
            and abs(item.diameter - piece.diameter) < 0.05e-3
        )
    return item.kind == piece.shape


@dataclass
class Blank:
    """A rectangle left of a sheet, or a whole round sheet (``round``): sides or diameter [m]."""

    long: float
    wide: float
    round: bool = False


def _sheets(item: StockItem) -> list[Blank]:
    """The blanks of an item of sheet or mesh."""
    wide = item.width or item.diameter or 0.0
    long = item.length or item.width or item.diameter or 0.0
    whole = item.width is None and item.diameter is not None
    return [Blank(long, wide, whole) for _ in range(min(item.quantity, 1000))]


def _cut_from(blanks: list[Blank], long: float, wide: float) -> bool:
    """Take a ``long`` by ``wide`` piece from the first blank that holds it; what is left stays as two rectangles.

    A disc (equal sides) may use all of a round sheet; smaller pieces come out of the square inside it. Cuts go from edge to edge.
    """
    slack = 1e-9
    for number, blank in enumerate(blanks):
        if blank.round:
            square = blank.long / 2**0.5
            if max(long, wide) <= square + slack:
                # Small pieces come out of the square inside the round.
                blanks[number] = blank = Blank(square, square)
            elif (
                abs(long - wide) < slack and long <= blank.long + slack
            ) or long**2 + wide**2 <= blank.long**2 + slack:
                del blanks[number]
                return True
            else:
                continue
        for a, b in ((long, wide), (wide, long)):
            if a <= blank.long + slack and b <= blank.wide + slack:
                del blanks[number]
                rest = (Blank(blank.long - a, blank.wide), Blank(a, blank.wide - b))
                blanks += [part for part in rest if part.long > SAW_KERF and part.wide > SAW_KERF]
                return True
    return False


def fit_stock(pieces: tuple[Piece, ...], stock: tuple[StockItem, ...]) -> StockFit:
    """Share the shelf out among the pieces."""
    missing: list[str] = []
    left: dict[int, list[float]] = {
        index: [item.length] * min(item.quantity, 1000)
        for index, item in enumerate(stock)
        if item.kind in ("rod", "tube", "wire", "pipe") and item.length
    }
    flat = {index: _sheets(item) for index, item in enumerate(stock) if item.kind in ("sheet", "mesh")}
    named: dict[str, str] = {}
    order = sorted(pieces, key=lambda piece: -(piece.cut_length or 0.0))
    for piece in order:
        if piece.shape == "part":
            continue
        short = 0
        for _ in range(piece.quantity):
            if not _take(piece, stock, left, flat, named):
                short += 1
        if short:
            size = "" if piece.diameter is None else f" {format_length(piece.diameter)}"
            length = "" if piece.cut_length is None else f", {format_length(piece.cut_length)} each"
            missing.append(f"{short} x {piece.name}: {piece.material}{size} {piece.shape}{length}")
    out = tuple(replace(piece, stock=named.get(piece.name, "")) for piece in pieces)
    return StockFit(out, tuple(missing))


def _take(
    piece: Piece,
    stock: tuple[StockItem, ...],
    left: dict[int, list[float]],
    flat: dict[int, list[Blank]],
    named: dict[str, str],
) -> bool:
    need = (piece.cut_length or 0.0) + SAW_KERF
    for index, item in enumerate(stock):
        if not _matches(piece, item):
            continue
        label = item.label or f"{item.material} {item.kind}"
        if index in left:
            for place, length in enumerate(left[index]):
                if length + SAW_KERF >= need:
                    left[index][place] = length - need
                    named[piece.name] = label
                    return True
        elif index in flat:
            long, wide = piece.cut_length or 0.0, piece.width or piece.cut_length or 0.0
            if _cut_from(flat[index], long, wide):
                named[piece.name] = label
                return True
    return False
