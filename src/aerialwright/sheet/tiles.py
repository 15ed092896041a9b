"""Where full-size drawings come to lie on printer pages: tiles with overlap for the large ones, several small ones on a page.

All lengths [m]; page coordinates have their origin at the lower left corner of the paper, y upward.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from aerialwright.base.printing import format_length
from aerialwright.sheet.drawing import Box, Circle, Drawing, Pattern, PatternError, box_of, outline
from aerialwright.sheet.templates import titled

#: Border that common printers cannot reach; common practice, no source [@common-practice].
MARGIN = 8e-3
#: Strips of a page for its name and key, for the level check bar, and for the upright check bar.
HEADER, FOOTER, SIDE = 17e-3, 15e-3, 12e-3
OVERLAP = 12e-3
#: Least window: the foot holds the level bar and the words beside it, the side holds the upright bar.
LEAST_WIDTH, LEAST_HEIGHT = 0.165, 0.102
#: Room between patterns that share a page.
GAP = 7e-3


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, upright."""

    name: str
    width: float
    height: float


#: ISO 216 [@iso-216] and the North American office size, 8 1/2 by 11 in.
PAPERS = {"a4": Paper("A4", 0.210, 0.297), "letter": Paper("Letter", 0.2159, 0.2794)}


def paper(name: str) -> Paper:
    """The paper called ``name``; raises :class:`PatternError` with the known ones."""
    found = PAPERS.get(name.strip().lower())
    if found is None:
        known = " or ".join(one.name for one in PAPERS.values())
        raise PatternError(f"no paper is called '{name}'", where="paper", mend=f"use {known}")
    return found


@dataclass(frozen=True)
class Frame:
    """A page as it is held for reading: its size, and the window in it that drawings may fill."""

    width: float
    height: float

    @property
    def window(self) -> Box:
        """The part of the page for the drawing."""
        return Box(MARGIN + SIDE, MARGIN + FOOTER, self.width - MARGIN, self.height - MARGIN - HEADER)


def frames(sheet: Paper) -> tuple[Frame, ...]:
    """The page upright and across, as far as it holds the check bars that way.

    Raises :class:`PatternError` for a page that is too small for them both ways.
    """
    both = (Frame(sheet.width, sheet.height), Frame(sheet.height, sheet.width))
    usable = tuple(f for f in both if f.window.width > LEAST_WIDTH - 1e-6 and f.window.height > LEAST_HEIGHT - 1e-6)
    if not usable:
        width, height = LEAST_WIDTH + 2 * MARGIN + SIDE, LEAST_HEIGHT + 2 * MARGIN + HEADER + FOOTER
        raise PatternError(
            f"a page of {format_length(sheet.width)} by {format_length(sheet.height)} cannot hold the check bars",
            where=f"paper {sheet.name}",
            mend=f"print on A4 or Letter, or on any page of at least {format_length(width)} by {format_length(height)}",
        )
    return usable


@dataclass(frozen=True)
class Tile:
    """The part ``box`` of a drawing that one page shows; ``column`` from the left and ``row`` from the top, from zero."""

    column: int
    row: int
    box: Box

    @property
    def label(self) -> str:
        """``B1``: column B, row 1."""
        return f"{column_name(self.column)}{self.row + 1}"


def column_name(index: int) -> str:
    """A, B ... Z, AA, AB ..."""
    return (column_name(index // 26 - 1) if index >= 26 else "") + chr(ord("A") + index % 26)


def cut_up(drawing: Drawing, frame: Frame, *, slack: tuple[float, float] = (0.5, 0.5)) -> tuple[Tile, ...]:
    """The tiles of a drawing on pages of one kind, neighbours sharing :data:`OVERLAP`; tiles without a line are left out.

    ``slack``: which part of the room to spare lies at the left and above.
    """
    box, window = drawing.box, frame.window
    columns, rows = (_count(extent, room) for extent, room in ((box.width, window.width), (box.height, window.height)))
    step_x, step_y = window.width - OVERLAP, window.height - OVERLAP
    left = box.left - slack[0] * (columns * step_x + OVERLAP - box.width)
    top = box.top + slack[1] * (rows * step_y + OVERLAP - box.height)
    shapes = [(box_of(entity), entity) for entity in drawing.entities]
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x, y = left + column * step_x, top - row * step_y
            tile = Tile(column, row, Box(x, y - window.height, x + window.width, y))
            # Half of every overlap belongs to each neighbour: what lies in it alone is not worth a page.
            own = tile.box.grown(-0.5 * OVERLAP) if columns * rows > 1 else tile.box.grown(1e-6)
            own = Box(
                own.left if column else tile.box.left,
                own.bottom if row < rows - 1 else tile.box.bottom,
                own.right if column < columns - 1 else tile.box.right,
                own.top if row else tile.box.top,
            )
            if any(own.meets(box) and own.touches(outline(entity)) for box, entity in shapes):
                tiles.append(tile)
    return tuple(tiles)


def _count(extent: float, room: float) -> int:
    return 1 if extent <= room else math.ceil((extent - OVERLAP) / (room - OVERLAP) - 1e-9)


#: Holes up to this radius [m] should not be cut by the edge of a page.
SMALL_HOLE = 30e-3


def best_tiles(drawing: Drawing, sheet: Paper) -> tuple[Frame, tuple[Tile, ...]]:
    """The way of holding the page and of placing the drawing that takes the fewest pages, then cuts the fewest holes in two
    and keeps as many holes as it can together on one page.

    Upright and in the middle where that changes nothing."""
    parts = (0.5, 0.0, 1.0)
    options = [(frame, cut_up(drawing, frame, slack=(x, y))) for frame in frames(sheet) for x in parts for y in parts]
    holes = [box_of(e) for e in drawing.on("cut") if isinstance(e, Circle) and e.radius <= SMALL_HOLE]

    def cost(option: tuple[Frame, tuple[Tile, ...]]) -> tuple[int, int, int]:
        whole = [[tile.box.contains(hole) for hole in holes] for tile in option[1]]
        return len(whole), sum(not any(pages) for pages in zip(*whole)), -max(map(sum, whole))

    return min(options, key=cost)


def fits(drawing: Drawing, frame: Frame) -> bool:
    """Whether a drawing goes on one page."""
    box = drawing.box
    return box.width <= frame.window.width and box.height <= frame.window.height


@dataclass(frozen=True)
class Placed:
    """A drawing on a page, moved by ``shift`` from its own coordinates to the page's."""

    drawing: Drawing
    shift: tuple[float, float]


def share_pages(drawings: Sequence[Drawing], sheet: Paper) -> list[tuple[Frame, tuple[Placed, ...]]]:
    """Several small drawings per page, on the fewest pages that the packing library finds; each must fit on one."""
    import rectpack

    options = []
    kinds = frames(sheet)
    for order in (kinds, kinds[::-1]):
        for sorting in (rectpack.SORT_LSIDE, rectpack.SORT_AREA, rectpack.SORT_PERI):
            pages: list[tuple[Frame, tuple[Placed, ...]]] = []
            rest = list(drawings)
            for frame in order:
                here = [drawing for drawing in rest if fits(drawing, frame)]
                rest = [drawing for drawing in rest if not fits(drawing, frame)]
                pages += [(frame, placed) for placed in _packed(here, frame, sorting)]
            options.append(pages)
    return min(options, key=len)


def _packed(drawings: Sequence[Drawing], frame: Frame, sorting: Callable[..., object]) -> list[tuple[Placed, ...]]:
    import rectpack

    if not drawings:
        return []
    window = frame.window
    tenth = 1e4  # the packer wants whole numbers: tenths of a millimetre, rounded to the safe side
    packer = rectpack.newPacker(rotation=False, sort_algo=sorting)
    for index, drawing in enumerate(drawings):
        size = (math.ceil((extent + GAP) * tenth - 1e-6) for extent in (drawing.box.width, drawing.box.height))
        packer.add_rect(*size, rid=index)
    packer.add_bin(
        math.ceil((window.width + GAP) * tenth) + 1, math.ceil((window.height + GAP) * tenth) + 1, count=len(drawings)
    )
    packer.pack()
    pages: dict[int, list[Placed]] = {}
    for page, x, y, _width, _height, index in packer.rect_list():
        box = drawings[index].box
        # From the top of the page down, as people read.
        top = window.top - y / tenth
        pages.setdefault(page, []).append(Placed(drawings[index], (window.left + x / tenth - box.left, top - box.top)))
    return [tuple(pages[page]) for page in sorted(pages)]


def is_small(pattern: Pattern, sheet: Paper) -> bool:
    """Whether a pattern and its title go on one page."""
    drawing = titled(pattern)
    return any(fits(drawing, frame) for frame in frames(sheet))
