"""Rectangles out of sheets: cuts from edge to edge, as snips and shears make them, by the guillotine packers of rectpack."""

from __future__ import annotations

import math
from dataclasses import dataclass

#: Sizes are packed as whole numbers of this [m]: pieces rounded up, sheets down.
GRAIN = 1e-5
#: Slack [grains] for sizes that are equal in decimals.
SLACK = 1e-3


@dataclass(frozen=True)
class Blank:
    """A sheet of ``long`` by ``wide`` [m], or a round one (``long`` its diameter)."""

    long: float
    wide: float
    round: bool = False

    @property
    def square(self) -> float:
        """Side [m] of the square inside a round sheet."""
        return self.long / math.sqrt(2.0)


@dataclass(frozen=True)
class Placed:
    """A rectangle on a blank: indices of both, its corner and sides as placed [m]."""

    piece: int
    blank: int
    x: float
    y: float
    width: float
    height: float


def nest(sizes: tuple[tuple[float, float], ...], blanks: tuple[Blank, ...]) -> tuple[Placed, ...]:
    """Place rectangles (length, width) [m] on blanks, turned where that helps; those without room are left out.

    A disc (equal sides) may take all of a round sheet, a rectangle too where its diagonal fits; smaller ones come out of the square
    inside the round. Heuristic: what is placed can be cut, what is left out might still fit.
    """
    taken: set[int] = set()
    out: list[Placed] = []
    for piece in sorted(range(len(sizes)), key=lambda k: -max(sizes[k])):
        a, b = sizes[piece]
        if any(_holds(blank, a, b) for at, blank in enumerate(blanks) if at not in taken):
            continue
        whole = next(
            (at for at, blank in enumerate(blanks) if at not in taken and blank.round and _in_round(blank, a, b)), None
        )
        if whole is not None:
            taken.add(whole)
            middle = 0.5 * blanks[whole].long
            out.append(Placed(piece, whole, middle - 0.5 * b, middle - 0.5 * a, b, a))
    done = {placed.piece for placed in out}
    rest = [k for k in range(len(sizes)) if k not in done]
    return (*out, *_packed(sizes, rest, blanks, [at for at in range(len(blanks)) if at not in taken]))


def _sides(blank: Blank) -> tuple[int, int]:
    long, wide = (blank.square, blank.square) if blank.round else (blank.long, blank.wide)
    return math.floor(long / GRAIN + SLACK), math.floor(wide / GRAIN + SLACK)


def _grains(size: float) -> int:
    return max(1, math.ceil(size / GRAIN - SLACK))


def _holds(blank: Blank, a: float, b: float) -> bool:
    long, wide = _sides(blank)
    one, other = _grains(a), _grains(b)
    return (one <= long and other <= wide) or (one <= wide and other <= long)


def _in_round(blank: Blank, a: float, b: float) -> bool:
    across = a if abs(a - b) < GRAIN else math.hypot(a, b)
    return across <= blank.long + GRAIN * SLACK


def _packed(
    sizes: tuple[tuple[float, float], ...], pieces: list[int], blanks: tuple[Blank, ...], free: list[int]
) -> list[Placed]:
    """The best of several guillotine packings: most pieces placed, then fewest sheets begun."""
    if not pieces or not free:
        return []
    import rectpack
    from rectpack import guillotine

    best: list[Placed] = []
    for algorithm in (guillotine.GuillotineBssfSas, guillotine.GuillotineBafLas, guillotine.GuillotineBlsfMaxas):
        packer = rectpack.newPacker(
            mode=rectpack.PackingMode.Offline, bin_algo=rectpack.PackingBin.BFF, pack_algo=algorithm, rotation=True
        )
        for k in pieces:
            packer.add_rect(_grains(sizes[k][1]), _grains(sizes[k][0]), rid=k)
        # The smallest sheet first: what is left whole stays as large as can be.
        for at in sorted(free, key=lambda at: _sides(blanks[at])[0] * _sides(blanks[at])[1]):
            long, wide = _sides(blanks[at])
            packer.add_bin(long, wide, bid=at)
        packer.pack()
        found = []
        for sheet in packer:
            shift = 0.5 * (blanks[sheet.bid].long - blanks[sheet.bid].square) if blanks[sheet.bid].round else 0.0
            for r in sheet:
                exact = sorted(sizes[r.rid], reverse=r.width >= r.height)
                found.append(Placed(r.rid, sheet.bid, r.x * GRAIN + shift, r.y * GRAIN + shift, exact[0], exact[1]))
        if (len(found), -len({p.blank for p in found})) > (len(best), -len({p.blank for p in best})):
            best = found
    return best
