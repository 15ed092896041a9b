"""The outline of one antenna with its overall sizes and a lettered call-out for each dimension that can be placed.

Dimension lines follow the general rules of technical drawing (ISO 129-1): thin continuous lines, extension lines that
pass a little beyond, filled arrow terminators, the value above the line and readable from below or from the right.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from aerialwright.solution.figures.axes import CHART_WIDTH, NORMAL, SMALL
from aerialwright.solution.figures.outline import (
    Point3,
    along,
    both_units,
    draw_feed,
    draw_side,
    extent,
    feed_place,
    path_length,
    rod_copies,
)
from aerialwright.solution.figures.palette import colour
from aerialwright.solution.figures.views import AntennaView, DimensionView
from aerialwright.solution.svg import Drawing, Point, text_width, wrap
from aerialwright.structure.model import Rod, Structure, Surface

#: Words that say what kind of dimension it is, not of which piece.
_GENERIC = frozenset(
    {
        "length",
        "diameter",
        "radiu",
        "angle",
        "number",
        "count",
        "gap",
        "thicknes",
        "width",
        "height",
        "size",
        "each",
        "the",
        "and",
        "from",
        "with",
        "full",
        "half",
    }
)


def letter(index: int) -> str:
    """A, B, ... Z, AA, AB, ... for the place of a dimension in the list."""
    text = ""
    index += 1
    while index > 0:
        index, rest = divmod(index - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


@dataclass(frozen=True)
class _Claim:
    """A place on the metal that a dimension may belong to."""

    score: int
    place: Point


def _words(text: str) -> set[str]:
    return {word.rstrip("s") for word in re.findall(r"[a-z]{3,}", text.lower())} - _GENERIC


def _fits(value: float, measured: float) -> bool:
    return abs(value - measured) <= max(0.6e-3, 4e-3 * abs(measured))


def _rod_sizes(points: Sequence[Point3], radius: float) -> list[tuple[float, float]]:
    """Every length [m] that can be measured on a rod, with the part of its run (0..1) where it is shown best."""
    length = path_length(points)
    sizes = [(2.0 * radius, 0.5), (length, 0.68), (2.0 * length, 0.68)]
    for (x, y, _), part in ((points[0], 0.0), (points[-1], 1.0)):
        sizes += [(math.hypot(x, y), part), (2.0 * math.hypot(x, y), part)]
    run = 0.0
    for start, end in pairwise(points):
        size = math.dist(start, end)
        middle = (run + 0.5 * size) / length
        sizes += [(size, middle), (abs(end[2] - start[2]), middle)]
        run += size
    return [(size, part) for size, part in sizes if size > 0.0]


def _rod_claim(rod: Rod, dimension: DimensionView, shared: int) -> _Claim:
    # The copy that reaches furthest to the right is the one nearest the letters.
    points = max(rod_copies(rod), key=lambda line: max(x for x, _, _ in line))
    length = path_length(points)
    fits, part = False, 0.68
    if dimension.kind == "count":
        fits, part = round(dimension.value) == rod.copies and rod.copies > 1, 0.88
    elif dimension.kind == "angle":
        (x1, y1, z1), (x2, y2, z2) = points[0], points[1]
        lean = math.degrees(math.atan2(math.hypot(x2 - x1, y2 - y1), abs(z2 - z1)))  # from the vertical
        fits, part = any(abs(dimension.value - angle) < 0.6 for angle in (lean, 2.0 * lean, 90.0 - lean)), 0.3
    else:
        near = min(_rod_sizes(points, rod.radius), key=lambda item: abs(item[0] - dimension.value))
        if _fits(dimension.value, near[0]):
            fits, part = True, near[1]
    x, _, z = along(points, part * length)
    return _Claim(2 * shared + 3 * fits, (x, z))


def _surface_claim(surface: Surface, dimension: DimensionView, shared: int) -> _Claim:
    rim = max(surface.profile, key=lambda point: point[0])
    heights = [z for _, z in surface.profile]
    sizes = (2.0 * rim[0], rim[0], max(heights) - min(heights), path_length(surface.profile))
    fits = dimension.kind == "length" and any(_fits(dimension.value, size) for size in sizes if size > 0.0)
    middle = surface.profile[len(surface.profile) // 2]
    place = rim if fits and _fits(dimension.value, 2.0 * rim[0]) else (
        0.5 * (middle[0] + surface.profile[-1][0]), 0.5 * (middle[1] + surface.profile[-1][1])
    )  # fmt: skip
    return _Claim(2 * shared + 3 * fits, place)


def call_outs(structure: Structure, dimensions: Sequence[DimensionView]) -> dict[int, Point]:
    """Where each dimension that can be placed belongs on the side view (across, up) [m], by its place in the list.

    A gap belongs to the feed, anything else to the piece whose name it carries and that has this size; of mirrored
    pieces the first is taken. Overall sizes have their own dimension lines; a count of nothing has no place.
    """
    placed: dict[int, Point] = {}
    for index, dimension in enumerate(dimensions):
        if re.search(r"\bgap\b", f"{dimension.key.replace('_', ' ')} {dimension.label}"):
            placed[index] = feed_place(structure)
            continue
        if _is_overall(dimension) or (dimension.kind == "count" and dimension.value < 0.5):
            continue
        own = _words(f"{dimension.key.replace('_', ' ')} {dimension.label}")
        claims = [
            _rod_claim(rod, dimension, len(own & _words(rod.name.replace("_", " ")))) for rod in structure.rods
        ] + [
            _surface_claim(surface, dimension, len(own & _words(surface.name.replace("_", " "))))
            for surface in structure.surfaces
        ]
        best = max(claims, key=lambda claim: claim.score, default=None)
        if best is not None and best.score > 0:
            placed[index] = best.place
    return placed


def _overall_letters(dimensions: Sequence[DimensionView], size: float) -> str:
    """'A: ' when dimension A is the overall size itself, so that the letter can stand on its dimension line."""
    for index, dimension in enumerate(dimensions):
        if dimension.kind == "length" and _is_overall(dimension) and abs(dimension.value - size) <= 0.5e-3:
            return f"{letter(index)}: "
    return ""


def _is_overall(dimension: DimensionView) -> bool:
    return re.search(r"\b(overall|total)\b", f"{dimension.key.replace('_', ' ')} {dimension.label}") is not None


def dimension_drawing(
    evaluation: AntennaView, *, width: float = CHART_WIDTH, tallest: float = 300.0, identity: str = ""
) -> str:
    """Side view with overall height and width and lettered call-outs (A is the first of the evaluation's dimensions).

    ``tallest`` [px] limits the view; ``identity`` tells pictures of the same antenna on one page apart.
    """
    structure = evaluation.structure
    box = extent(structure)
    left, right, top, foot = 62.0, 62.0, 12.0, 46.0
    size = max(box.width, 1e-9), max(box.height, 1e-9)
    scale = min((width - left - right) / size[0], tallest / size[1])
    axis = left + 0.5 * (width - left - right) - 0.5 * (box.left + box.right) * scale
    base = top + size[1] * scale + box.bottom * scale

    def place(across: float, up: float) -> Point:
        return axis + across * scale, base - up * scale

    drawing = Drawing(
        width=width,
        title=f"Dimensions of {evaluation.title}",
        description=f"Side view at scale: {both_units(evaluation.height)} high, {both_units(evaluation.width)} across. "
        "Letters as in the table of dimensions.",
        identity=f"dimensions {evaluation.key} {identity}",
    )
    draw_side(drawing, structure, place, scale)
    draw_feed(drawing, place(*feed_place(structure)))
    # The lines are as long as the numbers say, also where the view itself is narrower (three radials, say).
    across = (box.left, box.right) if _close(box.width, evaluation.width) else _about(evaluation.width)
    up = (box.bottom, box.top) if _close(box.height, evaluation.height) else (box.top - evaluation.height, box.top)
    on_width = _overall_letters(evaluation.dimensions, evaluation.width)
    on_height = _overall_letters(evaluation.dimensions, evaluation.height)
    ends = [place(across[0], box.bottom), place(across[1], box.bottom)]
    _horizontal(drawing, ends[0][0], ends[1][0], ends[0][1], ends[0][1] + 26.0, on_width + both_units(evaluation.width))
    x_left = place(box.left, 0.0)[0]
    _vertical(
        drawing, place(0.0, up[0])[1], place(0.0, up[1])[1], place(0.0, 0.0)[0], x_left - 24.0,
        on_height + both_units(evaluation.height), reach=(place(box.left, 0.0)[0]),
    )  # fmt: skip
    placed = call_outs(structure, evaluation.dimensions)
    balloon_bottom = _balloons(drawing, placed, place, place(box.right, 0.0)[0] + 30.0, top + 10.0)
    bottom = max(top + size[1] * scale + foot, balloon_bottom + 14.0)
    shown = {letter(k) for k in placed} | {on_width[:-2], on_height[:-2]}
    missing = [letter(k) for k in range(len(evaluation.dimensions)) if letter(k) not in shown]
    note = "letters as in the table of dimensions; feed ringed"
    if missing:
        note += f"; only in the table: {', '.join(missing)}"
    for line in wrap(note, SMALL, width - 16.0):
        drawing.text((0.5 * width, bottom), line, font_size=SMALL, fill=colour("quiet"), text_anchor="middle")
        bottom += 13.0
    drawing.height = bottom - 6.0
    return drawing.markup()


def _close(a: float, b: float) -> bool:
    return abs(a - b) <= 0.01 * max(abs(a), abs(b))


def _about(width: float) -> tuple[float, float]:
    return -0.5 * width, 0.5 * width


def _arrows(drawing: Drawing, start: Point, end: Point) -> None:
    """A dimension line with its terminators: inside, or from outside where the room is too small."""
    run = math.dist(start, end)
    head = 8.0
    direction = ((end[0] - start[0]) / run, (end[1] - start[1]) / run) if run > 0 else (1.0, 0.0)
    ink = colour("ink")
    if run >= 2.5 * head:
        drawing.line(start, end, stroke=ink, stroke_width=0.9)
        drawing.arrow_head(end, direction, head, fill=ink)
        drawing.arrow_head(start, (-direction[0], -direction[1]), head, fill=ink)
        return
    for tip, sign in ((start, -1.0), (end, 1.0)):
        away = (tip[0] + sign * 2.0 * head * direction[0], tip[1] + sign * 2.0 * head * direction[1])
        drawing.line(tip, away, stroke=ink, stroke_width=0.9)
        drawing.arrow_head(tip, (-sign * direction[0], -sign * direction[1]), head, fill=ink)


def _horizontal(drawing: Drawing, x1: float, x2: float, from_y: float, at_y: float, words: str) -> None:
    with drawing.group(stroke=colour("ink"), stroke_width=0.7):
        for x in (x1, x2):
            drawing.line((x, from_y + 3.0), (x, at_y + 5.0))
    _arrows(drawing, (x1, at_y), (x2, at_y))
    narrow = x2 - x1 < text_width(words, NORMAL)  # then the value stands beside the line, where nothing crosses it
    spot, anchor = ((x2 + 22.0, at_y + 4.0), "start") if narrow else ((0.5 * (x1 + x2), at_y - 4.0), "middle")
    drawing.text(spot, words, font_size=NORMAL, text_anchor=anchor, fill=colour("ink"))


def _vertical(drawing: Drawing, y1: float, y2: float, from_x: float, at_x: float, words: str, *, reach: float) -> None:
    with drawing.group(stroke=colour("ink"), stroke_width=0.7):
        # The extension line at the top starts near the axis: the tip it refers to is there; below it is at the edge.
        drawing.line((from_x - 5.0, y2), (at_x - 5.0, y2))
        drawing.line((reach - 3.0, y1), (at_x - 5.0, y1))
    _arrows(drawing, (at_x, y1), (at_x, y2))
    drawing.text(
        (at_x - 4.0, 0.5 * (y1 + y2)), words, font_size=NORMAL, text_anchor="middle", fill=colour("ink"), rotate=-90.0
    )


def _balloons(
    drawing: Drawing, placed: dict[int, Point], place: Callable[[float, float], Point], column: float, top: float
) -> float:
    """Ringed letters in a column, each with a leader to its place; returns the lowest edge [px]."""
    pitch = 21.0
    targets = sorted(
        ((place(*spot), index) for index, spot in placed.items()), key=lambda item: (item[0][1], -item[0][0])
    )
    wanted = [target[1] for target, _ in targets]
    # A crowd of k letters around one height starts half its own length above it, so that it spreads both ways.
    crowded = [y - 0.5 * pitch * (sum(abs(y - other) < 0.5 * pitch for other in wanted) - 1) for y in wanted]
    heights: list[float] = []
    for y in crowded:
        heights.append(max(y, top if not heights else heights[-1] + pitch))
    for (target, index), y in zip(targets, heights, strict=True):
        drawing.line((column - 9.0, y), target, stroke=colour("accent"), stroke_width=0.8)
        drawing.circle(target, 1.9, fill=colour("accent"))
        drawing.circle((column, y), 9.0, fill=colour("sheet"), stroke=colour("accent"), stroke_width=1.2)
        drawing.text(
            (column, y + 4.0), letter(index), font_size=NORMAL, text_anchor="middle", font_weight="600",
            fill=colour("ink"),
        )  # fmt: skip
    return max(heights, default=0.0) + 10.0
