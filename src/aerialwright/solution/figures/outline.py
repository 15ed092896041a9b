"""True views of the metal: side and plan at scale, several antennas at one common scale beside a ruler and a person."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from aerialwright.base.units import format_length
from aerialwright.solution.figures.axes import CHART_WIDTH, NORMAL, SMALL, nice_step
from aerialwright.solution.figures.palette import colour
from aerialwright.solution.figures.views import AntennaView
from aerialwright.solution.svg import Drawing, FigureError, Point, number, wrap
from aerialwright.structure.model import Rod, RodFeed, Structure, Surface

Point3 = tuple[float, float, float]
#: Metal thinner than this on the picture is drawn this thick [px], so that it can be seen.
THINNEST = 1.6
PERSON_HEIGHT = 1.75
#: Length of a hand from wrist to fingertip, 0.19 m: common practice, no source; only a size to compare with.
HAND_LENGTH = 0.19
INCH = 0.0254


@dataclass(frozen=True)
class Box:
    """Extent of the metal [m]: ``left..right`` seen from the side, ``bottom..top``, ``reach`` from the axis."""

    left: float
    right: float
    bottom: float
    top: float
    reach: float

    @property
    def width(self) -> float:
        """Across, as seen [m]."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Up and down [m]."""
        return self.top - self.bottom


def rod_copies(rod: Rod) -> list[tuple[Point3, ...]]:
    """Centre lines of every copy of a rod, turned about z [m]."""
    copies = []
    for k in range(rod.copies):
        c, s = math.cos(2.0 * math.pi * k / rod.copies), math.sin(2.0 * math.pi * k / rod.copies)
        copies.append(tuple((c * x - s * y, s * x + c * y, z) for x, y, z in rod.points))
    return copies


def extent(structure: Structure) -> Box:
    """Extent of all metal, rod thickness included (square ends)."""
    across: list[float] = []
    up: list[float] = []
    reach = 0.0
    for rod in structure.rods:
        for points in rod_copies(rod):
            for k, (x, y, z) in enumerate(points):
                before, after = points[max(k - 1, 0)], points[min(k + 1, len(points) - 1)]
                run = math.dist(before, after) or 1.0
                lean = abs(after[2] - before[2]) / run
                flat = rod.radius * lean  # a standing rod is thick sideways, a lying one up and down
                thick = rod.radius * math.sqrt(max(0.0, 1.0 - lean * lean))
                across += [x - flat, x + flat]
                up += [z - thick, z + thick]
                reach = max(reach, math.hypot(x, y) + flat)
    for surface in structure.surfaces:
        for rho, z in surface.profile:
            across += [-rho, rho]
            up.append(z)
            reach = max(reach, rho)
    if not up:
        raise FigureError("a structure without metal cannot be drawn", where=structure.name)
    return Box(min(across), max(across), min(up), max(up), reach)


def feed_place(structure: Structure) -> Point:
    """Where the feed is, seen from the side (across, up) [m]."""
    feed = structure.feed
    if isinstance(feed, RodFeed):
        rod = next((rod for rod in structure.rods if rod.name == feed.rod), None)
        if rod is None:
            raise FigureError(f"the feed names a rod '{feed.rod}' that is not there", where=structure.name)
        x, _, z = along(rod.points, feed.distance)
        return x, z
    return 0.0, 0.5 * (feed.positive[1] + feed.negative[1])


def along(points: Sequence[Point3], distance: float) -> Point3:
    """The point at ``distance`` [m] from the first point of a polyline."""
    for start, end in pairwise(points):
        length = math.dist(start, end)
        if distance <= length and length > 0.0:
            t = distance / length
            x, y, z = (a + t * (b - a) for a, b in zip(start, end, strict=True))
            return x, y, z
        distance -= length
    return points[-1]


def path_length(points: Sequence[Sequence[float]]) -> float:
    """Length of a polyline [m]."""
    return sum(math.dist(a, b) for a, b in pairwise(points))


def draw_side(drawing: Drawing, structure: Structure, place: Callable[[float, float], Point], scale: float) -> None:
    """The structure seen along +y: ``place`` maps (across, up) [m] to the picture, ``scale`` is px per metre."""
    for surface in structure.surfaces:
        _draw_shell(drawing, surface, place, scale)
    strokes = [
        (sum(y for _, y, _ in points) / len(points), rod, points)
        for rod in structure.rods for points in rod_copies(rod)
    ]  # fmt: skip
    behind = 1e-3 * max(structure.largest_size(), 1e-9)
    with drawing.group(fill="none", stroke_linejoin="round"):
        for depth, rod, points in sorted(strokes, key=lambda item: -item[0]):
            drawing.polyline(
                [place(x, z) for x, _, z in points],
                stroke=colour("far" if depth > behind else "metal"),
                stroke_width=max(2.0 * rod.radius * scale, THINNEST),
                data_piece=rod.name, data_length_m=path_length(points),
            )  # fmt: skip
    if structure.ground != "none":
        reach = extent(structure).reach * 1.1
        (left, level), (right, _) = place(-reach, 0.0), place(reach, 0.0)
        drawing.rectangle(
            (left, level), right - left, 5.0, fill=drawing.hatch(colour=colour("quiet"), pitch=4.0, width=1.0)
        )
        drawing.line((left, level), (right, level), stroke=colour("ink"), stroke_width=1)


def _draw_shell(drawing: Drawing, surface: Surface, place: Callable[[float, float], Point], scale: float) -> None:
    profile = surface.profile
    right = [place(rho, z) for rho, z in profile]
    left = [place(-rho, z) for rho, z in profile]
    loop = math.dist(profile[0], profile[-1]) < 1e-9
    fill = colour("body")
    thin = 2.0 * max(rho for rho, _ in profile) * scale < 6.0
    if surface.mesh is not None:
        pitch = max(surface.mesh.pitch * scale, 3.0)
        fill = drawing.hatch(colour=colour("far"), pitch=pitch, width=0.7, crossed=True)
    elif thin:
        fill = colour("metal")
    shapes = [right, left] if loop else [[*right, *reversed(left)]]
    for shape in shapes:
        drawing.polygon(shape, fill=fill, stroke="none", data_piece=surface.name)
    if not loop:
        with drawing.group(stroke=colour("metal"), stroke_width=0.8):
            for rho, z in (profile[0], profile[-1]):
                if rho > 0.0:
                    drawing.line(place(-rho, z), place(rho, z))
    with drawing.group(stroke=colour("metal"), stroke_width=max(surface.thickness * scale, 0.8 if thin else THINNEST)):
        drawing.polyline(right, stroke_linejoin="round")
        drawing.polyline(left, stroke_linejoin="round")


def draw_plan(drawing: Drawing, structure: Structure, centre: Point, scale: float) -> None:
    """The structure from above."""
    for surface in sorted(structure.surfaces, key=lambda s: -max(rho for rho, _ in s.profile)):
        drawing.circle(
            centre, scale * max(rho for rho, _ in surface.profile), fill=colour("body"), stroke=colour("metal"),
            stroke_width=1,
        )  # fmt: skip
    with drawing.group(fill="none", stroke=colour("metal"), stroke_linejoin="round"):
        for rod in structure.rods:
            width = max(2.0 * rod.radius * scale, THINNEST)
            for points in rod_copies(rod):
                flat = [(centre[0] + scale * x, centre[1] - scale * y) for x, y, _ in points]
                if path_length(flat) < 0.5 * width:  # a rod that stands up is a dot from above
                    drawing.circle(flat[0], max(0.5 * width, 2.0), fill=colour("metal"), stroke="none")
                else:
                    drawing.polyline(flat, stroke_width=width)


def draw_feed(drawing: Drawing, place: Point, *, words: str = "") -> None:
    """The sign for the feed point: a ring round a dot."""
    drawing.circle(place, 4.6, fill=colour("sheet"), stroke=colour("limit"), stroke_width=1.6)
    drawing.circle(place, 1.7, fill=colour("limit"))
    if words:
        drawing.text((place[0] + 8.0, place[1] + 3.8), words, font_size=SMALL, fill=colour("limit"))


def both_units(value: float) -> str:
    """An overall size [m] in millimetres and in inches, to 1 mm from 100 mm up."""
    if value < 0.1:
        return f"{format_length(value)} ({format_length(value, system='in')})"
    return f"{format_length(value, step=1e-3)} ({format_length(value, system='in')})"


def scale_bar(drawing: Drawing, place: Point, scale: float, room: float) -> None:
    """A round length in mm with its inches, not longer than ``room`` [px]."""
    length = nice_step(0.6 * room / scale, 1)
    if length * scale > room:
        length = nice_step(0.3 * room / scale, 1)
    x, y = place
    end = x + length * scale
    drawing.line((x, y), (end, y), stroke=colour("ink"), stroke_width=1.2, data_length_m=length)
    for tick in (x, end):
        drawing.line((tick, y - 4.0), (tick, y + 4.0), stroke=colour("ink"), stroke_width=1.2)
    drawing.text((end + 6.0, y + 3.8), both_units(length), font_size=SMALL, fill=colour("quiet"))


def outline_drawing(
    structure: Structure, *, title: str = "", width: float = CHART_WIDTH, tallest: float = 300.0
) -> str:
    """Side view and plan view at one scale with a scale bar; rods as thick as they are (thin ones made visible).

    ``width`` is the picture's, ``tallest`` the most the views may take up and down [px].
    """
    box = extent(structure)
    margin, gap, caption = 16.0, 28.0, 18.0
    plan = max(2.0 * box.reach, 1e-6)
    side = max(box.width, 1e-6)
    scale = min(
        (width - 2.0 * margin - gap) / (side + plan), tallest / max(box.height, plan, 1e-6),
    )  # fmt: skip
    views = max(box.height, plan) * scale
    name = title or structure.name
    drawing = Drawing(
        width=width, height=caption + views + 40.0,
        title=f"Outline of {name}",
        description=f"Side view {both_units(box.height)} high and {both_units(box.width)} across; plan view beside it.",
        identity=f"outline {structure.name} {name}",
    )  # fmt: skip
    spare = width - 2.0 * margin - gap - (side + plan) * scale
    axis = margin + 0.25 * spare - box.left * scale
    level = caption + 8.0 + 0.5 * (views + box.height * scale) + box.bottom * scale

    def place(across: float, up: float) -> Point:
        return axis + across * scale, level - up * scale

    draw_side(drawing, structure, place, scale)
    draw_feed(drawing, place(*feed_place(structure)), words="feed")
    centre = (width - margin - 0.25 * spare - 0.5 * plan * scale, caption + 8.0 + 0.5 * views)
    draw_plan(drawing, structure, centre, scale)
    with drawing.group(font_size=SMALL, fill=colour("quiet"), text_anchor="middle"):
        drawing.text((axis, 11.0), "from the side")
        drawing.text((centre[0], 11.0), "from above")
    scale_bar(drawing, (margin, drawing.height - 10.0), scale, 140.0)
    return drawing.markup()


#: A standing person, height 1, feet at 0: (across, up) with the curve commands of a path. Our own shape.
_PERSON = (
    "M -.028 .865 C -.03 .84 -.115 .835 -.128 .795 L -.158 .45 C -.16 .425 -.128 .42 -.125 .445 L -.098 .70 "
    "L -.09 .02 C -.09 -.003 -.022 -.003 -.022 .02 L -.006 .45 L .006 .45 L .022 .02 C .022 -.003 .09 -.003 .09 .02 "
    "L .098 .70 L .125 .445 C .128 .42 .16 .425 .158 .45 L .128 .795 C .115 .835 .03 .84 .028 .865 "
    "C .075 .89 .07 1 0 1 C -.07 1 -.075 .89 -.028 .865 Z"
)
#: An open hand, length 1, wrist at 0. Our own shape.
_HAND = (
    "M -.16 0 L -.17 .22 C -.19 .30 -.33 .36 -.40 .47 C -.42 .55 -.33 .58 -.28 .53 L -.19 .45 L -.205 .84 "
    "C -.205 .90 -.125 .90 -.12 .84 L -.105 .56 L -.095 .94 C -.09 1 -.005 1 -.005 .94 L -.005 .56 L .02 .92 "
    "C .025 .98 .105 .97 .10 .91 L .09 .55 L .14 .80 C .155 .86 .225 .84 .215 .78 L .19 .42 C .185 .30 .17 .15 .165 0 Z"
)


def _silhouette(drawing: Drawing, shape: str, foot: Point, size: float) -> None:
    words: list[str] = []
    across = True
    for token in shape.split():
        if token.isalpha():
            words.append(token)
        else:
            value = float(token) * size
            words.append(number(foot[0] + value if across else foot[1] - value))
            across = not across
    drawing.path(" ".join(words), fill=colour("body"), stroke=colour("far"), stroke_width=1, stroke_linejoin="round")


def outline_row(
    evaluations: Sequence[AntennaView],
    *,
    labels: Sequence[str] | None = None,
    signs: Sequence[str] | None = None,
    width: float = 720.0,
    tallest: float = 260.0,
) -> str:
    """Several antennas side by side at one scale, beside a ruler in mm and inches and a person (or a hand).

    ``labels`` replace the titles under the pictures, ``signs`` the numbers 1, 2, 3.
    """
    if not evaluations:
        raise FigureError("a row of outlines needs at least one antenna")
    boxes = [extent(evaluation.structure) for evaluation in evaluations]
    largest = max(max(box.height, box.width) for box in boxes)
    hand = largest < 0.3
    reference = HAND_LENGTH if hand else PERSON_HEIGHT
    reference_width = (0.66 if hand else 0.36) * reference
    highest = max(reference, *(box.height for box in boxes))
    ruler, gap = 78.0, 20.0
    count = len(evaluations) + 1
    widths = [reference_width, *(box.width for box in boxes)]
    least = min(78.0, (width - ruler - 8.0) / count - gap)  # room for a label under a narrow antenna
    scale = tallest / highest

    def columns(trial: float) -> list[float]:
        return [max(part * trial, least) for part in widths]

    while sum(columns(scale)) + gap * count + ruler > width - 8.0 and scale * largest > least:
        scale *= 0.97
    columns_px = columns(scale)
    spare = max(0.0, width - 8.0 - ruler - sum(columns_px) - gap * count) / count
    top = 14.0
    base = top + highest * scale
    names = list(labels) if labels is not None else [evaluation.title for evaluation in evaluations]
    numbers = list(signs) if signs is not None else [str(k + 1) for k in range(len(evaluations))]
    drawing = Drawing(
        width=width,
        title="The antennas side by side at one scale",
        description="; ".join(
            f"{sign}: {name}, {both_units(box.height)} high, {both_units(box.width)} across"
            for sign, name, box in zip(numbers, names, boxes, strict=True)
        ),
        identity="row " + " ".join(evaluation.key for evaluation in evaluations),
    )
    drawing.line((6.0, base), (width - 6.0, base), stroke=colour("rule"), stroke_width=1)
    _draw_upright_ruler(drawing, (39.0, base), scale, highest)
    x = ruler
    lowest = base
    for k, column in enumerate(columns_px):
        middle = x + 0.5 * (column + gap + spare)
        x += column + gap + spare
        if k == 0:
            _silhouette(drawing, _HAND if hand else _PERSON, (middle, base), reference * scale)
            feet, inches = divmod(round(reference / INCH), 12)
            lines = ["a hand", both_units(reference)] if hand else [
                "a person", f"{reference:g} m", f"({feet} ft {inches} in)"
            ]  # fmt: skip
            sign = ""
        else:
            box, structure = boxes[k - 1], evaluations[k - 1].structure
            axis = middle - 0.5 * (box.left + box.right) * scale

            def place(across: float, up: float, axis: float = axis, bottom: float = box.bottom) -> Point:
                return axis + across * scale, base - (up - bottom) * scale

            draw_side(drawing, structure, place, scale)
            sign = numbers[k - 1]
            lines = wrap(names[k - 1], SMALL, column + gap + spare - 10.0)[:4]
        y = base + 16.0
        if sign:
            drawing.circle((middle, y + 3.0), 9.5, fill="none", stroke=colour("ink"), stroke_width=1.2)
            drawing.text((middle, y + 7.0), sign, font_size=NORMAL, text_anchor="middle", font_weight="600",
                         fill=colour("ink"))  # fmt: skip
        y += 26.0 if sign else 6.0
        for words in lines:
            drawing.text((middle, y), words, font_size=SMALL, text_anchor="middle",
                         fill=colour("ink" if sign else "quiet"))  # fmt: skip
            y += 13.0
        lowest = max(lowest, y)
    drawing.height = lowest + 2.0
    return drawing.markup()


def _draw_upright_ruler(drawing: Drawing, foot: Point, scale: float, highest: float) -> None:
    """A rule standing on the base line: millimetres on its left edge, inches on its right."""
    x, base = foot
    length = highest
    half = 4.5
    drawing.rectangle((x - half, base - length * scale), 2.0 * half, length * scale, fill=colour("body"),
                      stroke=colour("rule"), stroke_width=0.8)  # fmt: skip
    metre = 1.0 if length >= 1.0 else length
    drawing.line((x - half, base), (x - half, base - metre * scale), stroke=colour("ink"), stroke_width=1,
                 class_="ruler", data_length_m=metre)  # fmt: skip
    for unit, side, name in ((1e-3, -1.0, "mm"), (INCH, 1.0, "in")):
        step = nice_step(length / unit, max(3, int(length * scale / 28.0)))
        anchor = "end" if side < 0 else "start"
        with drawing.group(stroke=colour("ink"), stroke_width=0.8):
            for k in range(math.floor(length / (unit * step) * 5.0 + 1e-9) + 1):
                y = base - 0.2 * k * step * unit * scale
                reach = 6.0 if k % 5 == 0 else 2.5
                drawing.line((x + side * half, y), (x + side * (half + reach) - side * 2.0, y))
        with drawing.group(font_size=SMALL - 1.0, fill=colour("quiet"), text_anchor=anchor):
            for k in range(1, math.floor(length / (unit * step) + 1e-9) + 1):
                drawing.text((x + side * (half + 6.0), base - k * step * unit * scale + 3.3), f"{k * step:g}")
            drawing.text((x + side * (half + 6.0), base + 11.0), name)
