"""Full-size patterns as printer pages: every page with its name, its check bars, its marks and a key; as SVG and as one PDF."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from aerialwright.sheet.drawing import (
    LAYERS,
    Arc,
    Box,
    Circle,
    Drawing,
    Entity,
    Line,
    Pattern,
    PatternError,
    Point,
    Polyline,
    Text,
    outline,
)
from aerialwright.sheet.svg_file import PRINT_FONT, Place, draw
from aerialwright.sheet.templates import FULL_SIZE, SMALL, TITLE, check_bars, titled
from aerialwright.sheet.tiles import (
    MARGIN,
    OVERLAP,
    Frame,
    Paper,
    Placed,
    Tile,
    best_tiles,
    column_name,
    is_small,
    share_pages,
)
from aerialwright.solution import svg

#: Least height [m] of capitals on a page: 8.7 pt letters.
SMALL_WORDS = 2.2e-3
KEY = (34e-3, 15e-3)
#: Largest sketch of a joined pattern.
SKETCH = 75e-3
#: A round plate that takes more pages than this is marked out with a compass instead: nobody tapes a circle from paper.
MOST_PAGES = 2
#: Smallest hole [m] of a sketch that can still be seen.
SEEN = 0.7e-3
JOINING = (
    "Check both bars on every page before anything is cut.",
    "Trim each page along its dashed left and upper edge, lay it on the strip of its neighbour so that the ring marks "
    "meet, and tape. Then measure one long dimension across the joined pages.",
)


@dataclass(frozen=True)
class PatternPage:
    """One page to print: ``svg`` of exactly ``width`` by ``height`` [m]. ``placed`` tells where each drawing came to lie; ``tile`` is
    the part shown, None where the page holds whole patterns."""

    title: str
    label: str
    width: float
    height: float
    placed: tuple[Placed, ...]
    tile: Tile | None
    svg: str


def pattern_pages(patterns: Sequence[Pattern], sheet: Paper, *, heading: str = "") -> tuple[PatternPage, ...]:
    """All pages for ``patterns``: small ones share pages, each large one follows on tiles and has its joining sketch among the small;
    a round plate of more than :data:`MOST_PAGES` is told to the compass, with its middle in full size.

    ``heading`` is a line that every page carries (project, antenna, version).
    Raises :class:`~aerialwright.sheet.drawing.PatternError` for paper that is too small.
    """
    tiled = {index: best_tiles(p.drawing, sheet) for index, p in enumerate(patterns) if not is_small(p, sheet)}
    marked_out = {k for k, (_, tiles) in tiled.items() if len(tiles) > MOST_PAGES and patterns[k].compass}
    tiled = {index: found for index, found in tiled.items() if index not in marked_out}
    blocks = []
    for index, pattern in enumerate(patterns):
        if index in marked_out:
            blocks += compass_sketches(pattern)
        else:
            blocks.append(joining_sketch(pattern, tiled[index][1]) if index in tiled else titled(pattern))
    shared = share_pages(blocks, sheet)
    pages = []
    for number, (frame, placed) in enumerate(shared, 1):
        label = f"page {number} of {len(shared)}"
        pages.append(_page("Patterns at full size", label, heading, frame, placed))
    for index, (frame, tiles) in tiled.items():
        pattern = patterns[index]
        for number, tile in enumerate(tiles, 1):
            label = f"page {number} of {len(tiles)}: column {column_name(tile.column)} row {tile.row + 1}"
            shift = (frame.window.left - tile.box.left, frame.window.bottom - tile.box.bottom)
            words = " | ".join(part for part in (f"{pattern.quantity} × {pattern.material}", heading) if part)
            placed = (Placed(pattern.drawing, shift),)
            pages.append(_page(pattern.name, label, words, frame, placed, tile, tiles))
    return tuple(pages)


def _page(
    title: str,
    label: str,
    words: str,
    frame: Frame,
    placed: tuple[Placed, ...],
    tile: Tile | None = None,
    tiles: tuple[Tile, ...] = (),
) -> PatternPage:
    picture = svg.Drawing(
        width=1e3 * frame.width,
        height=1e3 * frame.height,
        title=f"{title}, {label}",
        identity=f"{title} {label}",
        unit="mm",
    )
    window = frame.window
    with picture.group(font_family=PRINT_FONT):
        clip = picture.clip(_flip((window.left, window.top), frame), 1e3 * window.width, 1e3 * window.height)
        with picture.group(clip_path=clip):
            for one in placed:
                _draw_placed(picture, one, frame)
        place: Place = lambda p: _flip(p, frame)  # noqa: E731
        draw(picture, _furniture(title, label, words, frame, room=KEY[0] if len(tiles) > 1 else 0.0), place)
        if tile is not None and len(tiles) > 1:
            draw(picture, _marks(tile, tiles, placed[0].shift), place)
            draw(picture, _key(placed[0].drawing, tile, tiles, frame), place)
    return PatternPage(title, label, frame.width, frame.height, placed, tile, svg.plain_colours(picture.markup()))


def _flip(point: Point, frame: Frame) -> Point:
    return (1e3 * point[0], 1e3 * (frame.height - point[1]))


def _draw_placed(picture: svg.Drawing, one: Placed, frame: Frame) -> None:
    """What the window shows of a drawing, the cut lines on top; what lies outside is not written at all."""
    dx, dy = one.shift
    window = frame.window
    seen = Box(window.left - dx, window.bottom - dy, window.right - dx, window.top - dy).grown(1e-3)
    for layer in reversed(LAYERS):
        visible = (_fine(e) for e in one.drawing.on(layer) if getattr(e, "fill", "") or seen.touches(outline(e)))
        draw(picture, visible, lambda p: _flip((p[0] + dx, p[1] + dy), frame))


def _fine(entity: Entity) -> Entity:
    """A circle as an arc of one turn, which is written in short pieces: a PDF has only cubics, and of a whole circle four."""
    if isinstance(entity, Circle):
        return Arc(entity.centre, entity.radius, 0.0, 360.0, entity.layer, entity.pen)
    return entity


def _furniture(title: str, label: str, words: str, frame: Frame, *, room: float) -> Iterator[Entity]:
    """What every page carries: name, label, check bars both ways, how to print, and what each kind of line means."""
    window = frame.window
    left, right = MARGIN + 2e-3, frame.width - MARGIN
    top = frame.height - MARGIN
    width = right - left - room - 3e-3
    yield Text((left, top - TITLE), svg.shorten(title, TITLE / 0.72, width), height=TITLE, anchor="start", bold=True)
    yield Text((left, top - 9.2e-3), label, height=3e-3, anchor="start", bold=True)
    yield Text((left, top - 13.6e-3), svg.shorten(words, SMALL / 0.72, width), height=SMALL, anchor="start")
    base = MARGIN + 7e-3
    yield from check_bars((window.left, base), upright=False)
    yield from check_bars((MARGIN + 6e-3, window.bottom), upright=True)
    start = window.left + 0.1016 + 5e-3
    room = right - start
    for index, line in enumerate(svg.wrap(f"{FULL_SIZE} Measure both bars first.", SMALL_WORDS / 0.72, room)):
        yield Text((start, MARGIN + 9.4e-3 - 3.6e-3 * index), line, height=SMALL_WORDS, anchor="start")
    for index, (name, pen) in enumerate((("cut", "cut"), ("bend", "bend"), ("scribe", "engrave"))):
        x = start + index * 0.33 * room
        yield Line((x, MARGIN + 1.1e-3), (x + 11e-3, MARGIN + 1.1e-3), layer=pen)
        yield Text((x + 12e-3, MARGIN), name, height=SMALL_WORDS, anchor="start")


def _marks(tile: Tile, tiles: Sequence[Tile], shift: Point) -> Iterator[Entity]:
    """Ring marks in the middle of every shared strip, the dashed edges to trim, and the lines that neighbours come up to."""
    box = tile.box
    moved = Box(box.left + shift[0], box.bottom + shift[1], box.right + shift[0], box.top + shift[1])
    others = {(other.column, other.row): other for other in tiles}
    for step, upright in (((1, 0), True), ((-1, 0), True), ((0, 1), False), ((0, -1), False)):
        other = others.get((tile.column + step[0], tile.row + step[1]))
        if other is None:
            continue
        later = sum(step) > 0  # the neighbour on the right or below is laid on this page
        if upright:
            edge = moved.right if later else moved.left
            strip = edge - OVERLAP if later else edge
            ends = ((strip, moved.bottom), (strip, moved.top))
            centres = [
                (edge + (-0.5 if later else 0.5) * OVERLAP, moved.bottom + part * moved.height) for part in (0.2, 0.8)
            ]
            place, turn = (strip + 3.5e-3, moved.bottom + 0.5 * moved.height), 90.0
        else:
            edge = moved.bottom if later else moved.top
            strip = edge + OVERLAP if later else edge
            ends = ((moved.left, strip), (moved.right, strip))
            centres = [
                (moved.left + part * moved.width, edge + (0.5 if later else -0.5) * OVERLAP) for part in (0.2, 0.8)
            ]
            place, turn = (moved.left + 0.5 * moved.width, strip - 3.5e-3), 0.0
        yield Line(*ends, layer="notes", pen="hidden")
        for centre in centres:
            yield from _ring(centre)
        if later:
            yield Text(place, f"page {other.label} comes up to this line", height=SMALL_WORDS, angle=turn)
        else:
            yield Text(place, f"trim here, lay on page {other.label}", height=SMALL_WORDS, angle=turn)


def _ring(centre: Point) -> Iterator[Entity]:
    x, y = centre
    yield Circle(centre, 2e-3, layer="notes", pen="engrave")
    yield Line((x - 3.5e-3, y), (x + 3.5e-3, y), layer="notes")
    yield Line((x, y - 3.5e-3), (x, y + 3.5e-3), layer="notes")


def _scaled(drawing: Drawing, factor: float, origin: Point, to: Point, pen: str) -> Iterator[Entity]:
    """The cut lines of a drawing, smaller: its ``origin`` comes to lie on ``to``; holes too small to see are left out."""

    def at(point: Point) -> Point:
        return (to[0] + factor * (point[0] - origin[0]), to[1] + factor * (point[1] - origin[1]))

    for entity in drawing.on("cut"):
        match entity:
            case Line(start, end):
                yield Line(at(start), at(end), layer="notes", pen=pen)
            case Circle(centre, radius) | Arc(centre, radius) if factor * radius > 1e-3:
                yield replace(entity, centre=at(centre), radius=factor * radius, layer="notes", pen=pen)
            case Polyline(points):
                yield replace(entity, points=tuple(map(at, points)), layer="notes", pen=pen)


def _sketch(
    drawing: Drawing, tiles: Sequence[Tile], corner: Point, factor: float, *, here: Tile | None, height: float
) -> Iterator[Entity]:
    """The joined pages, smaller: outline, the grid of pages and their labels; ``here`` is filled."""
    left, bottom = min(tile.box.left for tile in tiles), min(tile.box.bottom for tile in tiles)

    def at(x: float, y: float) -> Point:
        return (corner[0] + factor * (x - left), corner[1] + factor * (y - bottom))

    for tile in tiles:
        box = tile.box
        frame = (at(box.left, box.bottom), at(box.right, box.bottom), at(box.right, box.top), at(box.left, box.top))
        if tile is here:
            yield Polyline(frame, closed=True, layer="notes", fill="tint")
        yield Polyline(frame, closed=True, layer="notes")
    yield from _scaled(drawing, factor, (left, bottom), corner, "engrave" if here else "cut")
    # The key has room for the label of its own page only.
    for tile in tiles if here is None else (here,):
        middle = at(0.5 * (tile.box.left + tile.box.right), 0.5 * (tile.box.bottom + tile.box.top))
        yield Text((middle[0], middle[1] - 0.5 * height), tile.label, height=height, bold=tile is here)


def _extent(tiles: Sequence[Tile]) -> tuple[float, float]:
    lefts, rights = [tile.box.left for tile in tiles], [tile.box.right for tile in tiles]
    bottoms, tops = [tile.box.bottom for tile in tiles], [tile.box.top for tile in tiles]
    return (max(rights) - min(lefts), max(tops) - min(bottoms))


def _key(drawing: Drawing, tile: Tile, tiles: Sequence[Tile], frame: Frame) -> Iterator[Entity]:
    """The small sketch in the upper right corner: where this page belongs."""
    wide, high = _extent(tiles)
    factor = min(KEY[0] / wide, KEY[1] / high)
    corner = (frame.width - MARGIN - factor * wide, frame.height - MARGIN - factor * high)
    return _sketch(drawing, tiles, corner, factor, here=tile, height=SMALL_WORDS)


def joining_sketch(pattern: Pattern, tiles: Sequence[Tile]) -> Drawing:
    """Name, notes and a reduced sketch of a pattern on several pages, as a small drawing to stand among the other patterns."""
    wide, high = _extent(tiles)
    factor = SKETCH / max(wide, high)
    sketch = tuple(_sketch(pattern.drawing, tiles, (0.0, 0.0), factor, here=None, height=3e-3))
    notes = (*pattern.notes, *(JOINING if len(tiles) > 1 else ()))
    count = "1 page of its own" if len(tiles) == 1 else f"{len(tiles)} pages to join, this sketch is not to scale"
    return titled(replace(pattern, name=f"{pattern.name}: {count}", notes=notes, drawing=Drawing(sketch)))


def compass_sketches(pattern: Pattern) -> list[Drawing]:
    """How a large round plate is marked out, beside a sketch of it; and the holes of its middle in full size."""
    circles = [entity for entity in pattern.drawing.on("cut") if isinstance(entity, Circle)]
    factor = 0.5 * SKETCH / max(circle.radius for circle in circles)
    sketch = tuple(
        Circle((factor * c.centre[0], factor * c.centre[1]), max(factor * c.radius, SEEN), pen="engrave")
        for c in circles
    )
    name = f"{pattern.name}: mark it out with a compass, this sketch is not to scale"
    notes = (*pattern.notes, *pattern.compass)
    blocks = [titled(replace(pattern, name=name, notes=notes, drawing=Drawing(sketch)))]
    if pattern.middle is not None:
        blocks.append(titled(replace(pattern, name=f"{pattern.name}: its middle", notes=(), drawing=pattern.middle)))
    return blocks


def pattern_pdf(pages: Sequence[PatternPage], *, title: str) -> bytes:
    """One PDF of pages of exact size, fonts embedded, a bookmark per pattern.

    Raises :class:`~aerialwright.sheet.drawing.PatternError` if there is no page.
    """
    if not pages:
        raise PatternError("there is no pattern to print", mend="choose a design with a flat, rolled or bent piece")
    import typst

    inputs = {"title": title}
    source = ["#set document(title: sys.inputs.title, date: none)"]
    before = ""
    for index, page in enumerate(pages):
        inputs |= {f"svg{index}": page.svg, f"name{index}": page.title, f"label{index}": page.label}
        size = f"width: {1e3 * page.width:.4f}mm, height: {1e3 * page.height:.4f}mm"
        mark = f"#place(hide(heading(bookmarked: true, sys.inputs.name{index})))" if page.title != before else ""
        before = page.title
        source.append(
            f'#page({size}, margin: 0mm)[{mark}#place(top + left, image(bytes(sys.inputs.svg{index}), format: "svg", {size},'
            f' alt: sys.inputs.name{index} + ", " + sys.inputs.label{index}))]'
        )
    return typst.compile("\n".join(source).encode(), sys_inputs=inputs, format="pdf")
