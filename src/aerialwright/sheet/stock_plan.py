"""How the shelf is shared out: which piece from which bar or sheet, what is left, what is to be bought."""

from __future__ import annotations

from collections import Counter

from aerialwright.antennas.family import SAW_KERF
from aerialwright.antennas.records import Piece
from aerialwright.base.printing import format_length
from aerialwright.design.records import Evaluation
from aerialwright.design.shelf_fit import FLAT, LONG, StockFit, fit_stock, matches
from aerialwright.need.model import Need, StockItem
from aerialwright.sheet.records import SheetUse, StockPlan, StockUse


def stock_plan(evaluation: Evaluation, need: Need, *, beside: tuple[Evaluation, ...] = ()) -> StockPlan:
    """The plan for the pieces of an antenna from the need's shelf; what it cannot give becomes shopping lines with the reason.

    ``beside``: antennas that are built from the same shelf. The whole shelf is shared out once, in an order that does not hang on
    which of them is asked for, so that their sheets agree; shown are the bars that this one has a part in.
    """
    every: list[Piece] = []
    names: list[str] = []
    own: set[int] = set()
    for one in sorted((evaluation, *beside), key=lambda one: one.key):
        if one is evaluation:
            own = set(range(len(every), len(every) + len(one.pieces)))
        every += one.pieces
        names += [piece.name if one is evaluation else f"{piece.name} ({one.key})" for piece in one.pieces]
    fit = fit_stock(tuple(every), need.stock)
    labels = [item.title for item in need.stock]
    seen: Counter[int] = Counter()
    bars = []
    for use in fit.bars:
        seen[use.item] += 1
        if any(k in own for k, _ in use.cuts):
            cuts = tuple((names[k], length) for k, length in use.cuts)
            bars.append(StockUse(labels[use.item], seen[use.item], use.length, cuts, SAW_KERF, use.left))
    sheets = []
    for sheet in fit.sheets:
        seen[sheet.item] += 1
        if any(cut[0] in own for cut in sheet.cuts):
            flat = tuple((names[k], x, y, w, h) for k, x, y, w, h in sheet.cuts)
            blank = sheet.blank
            sheets.append(SheetUse(labels[sheet.item], seen[sheet.item], blank.long, blank.wide, flat, blank.round))
    shopping = tuple(
        f"{buy.line} ({_why(every[buy.piece], need.stock)}{'' if buy.piece in own else '; for the other antenna'})"
        for buy in fit.short
    )
    return StockPlan(tuple(bars), tuple(sheets), shopping, fit.proven, _method(fit))


def _method(fit: StockFit) -> str:
    words = [fit.method] if fit.bars else []
    if fit.sheets:
        words.append("sheets: best of three packings with cuts from edge to edge, not proven")
    return "; ".join(words)


def _why(piece: Piece, stock: tuple[StockItem, ...]) -> str:
    """Why the shelf does not give a piece."""
    alike = [item for item in stock if matches(piece, item)]
    if not alike:
        return "nothing like it on the shelf"
    if piece.shape in LONG:
        longest = max(item.length or 0.0 for item in alike)
        if (piece.cut_length or 0.0) > longest:
            return f"longer than the longest you have, {format_length(longest)}: buy a longer one, or join two with a sleeve inside or over"
    elif piece.shape in FLAT:
        side = max(max(item.length or 0.0, item.width or 0.0, item.diameter or 0.0) for item in alike)
        if max(piece.cut_length or 0.0, piece.width or 0.0) > side:
            return f"larger than the largest you have, {format_length(side)}: buy a larger one, or make it in gores with a lap each"
    return "the shelf has it, but not enough left after the other pieces"
