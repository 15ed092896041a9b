"""How the antenna is mounted: pole, clamps, coax with its tie, choke and drip loop, and what must stay how far away. Not to scale,
but the outline of the antenna is true."""

from __future__ import annotations

from dataclasses import dataclass

from aerialwright.sheet.dimensions import TEXT, length_dimension
from aerialwright.sheet.drawing import Arc, Circle, Drawing, Entity, Line, Point, Polyline
from aerialwright.sheet.fitting_sketches import box, pointer, words_at
from aerialwright.solution.figures.outline import Box, extent, feed_place, rod_copies
from aerialwright.solution.svg import text_width, wrap
from aerialwright.structure.model import Structure

#: Half the thickness of a drawn pole, and the most that an antenna takes up and across [m of drawing].
_POLE, _TALLEST, _WIDEST = 2.2e-3, 50e-3, 46e-3


@dataclass(frozen=True)
class _View:
    """The antenna on the paper: ``lines`` with the feed at the origin, their ends, and where the pole stands."""

    lines: tuple[tuple[Point, ...], ...]
    left: float
    right: float
    low: float
    high: float
    beside: bool
    roof: bool = False

    @property
    def pole(self) -> float:
        """Axis of the pole."""
        return min(self.left, 0.0) - 24e-3 if self.beside else 0.0

    @property
    def top(self) -> float:
        """Upper end of the pole."""
        return 12e-3 if self.beside else -6e-3

    @property
    def foot(self) -> float:
        """Where the drawn pole is broken off."""
        return min(self.low, self.top) - 24e-3

    @property
    def side(self) -> float:
        """Line of the coax along the pole."""
        return self.pole + _POLE + 1.6e-3

    @property
    def widest(self) -> Point:
        """The tip that reaches furthest to the right."""
        return max((point for line in self.lines for point in line), key=lambda point: (round(point[0], 6), -point[1]))


def mounting_sketch(structure: Structure, *, clearance: str, lines_away: str, choked: bool) -> Drawing:
    """The antenna on its pole; ``clearance`` to other metal and ``lines_away`` to power lines in words.

    An antenna that is fed in the middle of upright metal hangs beside the pole on an arm; one that was solved over an endless sheet
    stands on that; any other stands on the pole's top.
    """
    view = _view(structure)
    wall = max(view.right, view.side + 8e-3) + max(text_width(clearance, TEXT / 0.72) + 8e-3, 22e-3)
    middle = 0.5 * (min(view.left, view.pole) + wall)
    return Drawing((
        *(Polyline(line) for line in view.lines),
        *_pole(view),
        *_coax(view),
        *(_choke(view) if choked else ()),
        *_other_metal(view, wall, clearance),
        *words_at((middle, view.foot - 11e-3 - 1.4 * TEXT), *wrap(lines_away, TEXT / 0.72, 100e-3), anchor="middle"),
    ))  # fmt: skip


def _view(structure: Structure) -> _View:
    whole = extent(structure)
    size = min(_TALLEST / max(whole.height, 1e-9), _WIDEST / max(whole.width, 1e-9))
    _, feed = feed_place(structure)
    lines = [tuple((x, z) for x, _, z in points) for rod in structure.rods for points in rod_copies(rod)]
    for surface in structure.surfaces:
        right = tuple(surface.profile)
        lines.append((*right, *((-rho, z) for rho, z in reversed(right)), right[0]))
    placed = tuple(tuple((x * size, (z - feed) * size) for x, z in line) for line in lines)
    ends = (whole.left * size, whole.right * size, (whole.bottom - feed) * size, (whole.top - feed) * size)
    return _View(placed, *ends, beside=_hangs_beside(placed, whole), roof=structure.ground == "perfect")


def _hangs_beside(lines: tuple[tuple[Point, ...], ...], whole: Box) -> bool:
    """Whether the metal below the feed mirrors that above it, so that no pole can stand under the feed."""
    points = [(abs(x), z) for line in lines for x, z in line]
    up, down = max(z for _, z in points), -min(z for _, z in points)
    above, below = (max((x for x, z in points if sign * z > 0.0), default=0.0) for sign in (1.0, -1.0))
    even = abs(up - down) < 0.1 * (up + down) and abs(above - below) <= 0.1 * max(above, below)
    return even and whole.height > 0.2 * whole.width


def _pole(view: _View) -> list[Entity]:
    pole, top = view.pole, view.top
    if view.roof:
        sheet = [Line((-18e-3, view.low), (18e-3, view.low))]
        return [
            *sheet,
            *(Line((x, view.low), (x - 3e-3, view.low - 3e-3), "notes") for x in (4e-3 * k for k in range(-3, 5))),
        ]
    out: list[Entity] = [box(pole - _POLE, view.foot, pole + _POLE, top)]
    if view.beside:
        out.append(box(pole, -3.6e-3, 0.0, -1.4e-3))
    for y in (-2.5e-3,) if view.beside else (top - 4e-3, top - 14e-3):
        out.append(box(pole - _POLE - 1.6e-3, y - 1.4e-3, pole + _POLE + 1.6e-3, y + 1.4e-3, fill="solid"))
    return out


def _coax(view: _View) -> list[Entity]:
    side, foot = view.side, view.foot - 5e-3
    start: tuple[Point, ...] = ((0.5 * view.pole, 0.0), (side, -5e-3)) if view.beside else ((side, view.top - 1e-3),)
    tie = view.foot + 8e-3
    carried = ("tied below", "the sheet") if view.roof else ("tied: the pole", "carries the coax")
    return [
        Polyline(((0.0, 0.0), *start, (side, foot)), False, "cut", "engrave"),
        Arc((side + 4e-3, foot), 4e-3, 180.0, 360.0, "cut", "engrave"),
        Line((side + 8e-3, foot), (side + 8e-3, foot + 4e-3), "cut", "engrave"),
        *pointer((side + 8e-3, foot - 2e-3), (side + 15e-3, foot)),
        *words_at((side + 16e-3, foot - 1e-3), "drip loop"),
        Line((side - 4.5e-3, tie), (side + 1.5e-3, tie), "cut"),
        *pointer((side + 1.5e-3, tie), (side + 13e-3, tie)),
        *words_at((side + 14e-3, tie - 0.4 * TEXT), *carried),
    ]


def _choke(view: _View) -> list[Entity]:
    if view.beside:
        ring, name = (0.4 * view.pole, 2.6e-3), (0.4 * view.pole - 7e-3, 12e-3)
        words = words_at((name[0], name[1] + 1e-3), "choke", anchor="end")
    else:
        ring = (view.side + 2.6e-3, view.top - 8.5e-3)
        name = (ring[0] + 12e-3, min(ring[1], view.low - 7e-3))
        words = words_at((name[0] + 1e-3, name[1] - 1e-3), "choke")
    return [Circle(ring, 2.6e-3, "cut", "engrave"), *pointer(ring, name), *words]


def _other_metal(view: _View, wall: float, clearance: str) -> list[Entity]:
    """Anything that conducts, as a hatched wall, and how far off it stays."""
    low, high = min(view.low, -12e-3), max(view.high, 12e-3)
    x, y = view.widest
    return [
        Line((wall, low), (wall, high)),
        *(
            Line((wall, low + 4e-3 * k), (wall + 3e-3, low + 4e-3 * (k + 1)), "notes")
            for k in range(int((high - low) / 4e-3))
        ),
        *length_dimension((x, y), (wall, y), 0.0, clearance),
        *words_at((wall - 2e-3, high - TEXT), "other metal,", "walls, cables", anchor="end"),
    ]
