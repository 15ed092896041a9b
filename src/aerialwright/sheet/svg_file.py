"""A drawing as SVG in millimetres, at true scale: one unit of the picture is one millimetre on paper."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from aerialwright.sheet.drawing import CAPITAL, LAYERS, PENS, Arc, Circle, Drawing, Entity, Line, Point, Polyline, Text
from aerialwright.solution import svg

#: Programs that know only cubics keep a piece this short [degree] to a millionth of its radius, a quarter circle to 0.03 %.
_PIECE = 30.0
_TINT = "#e9ece6"
#: Sans-serif faces of usual systems, and the one that the PDF writer always has.
PRINT_FONT = "'Liberation Sans', Arial, Helvetica, 'DejaVu Sans', 'DejaVu Sans Mono', sans-serif"

Place = Callable[[Point], Point]


def svg_text(drawing: Drawing, *, title: str, border: float = 5e-3) -> str:
    """The drawing as an SVG file: a group per layer (class ``cut``, ``bend``, ``engrave``, ``notes``), ``border`` [m] around it."""
    box = drawing.box.grown(border)
    picture = svg.Drawing(width=1e3 * box.width, height=1e3 * box.height, title=title, identity=title, unit="mm")
    place: Place = lambda p: (1e3 * (p[0] - box.left), 1e3 * (box.top - p[1]))  # noqa: E731
    for layer in reversed(LAYERS):  # the cut on top
        with picture.group(id=f"{picture.identity}-{layer}", class_=layer, font_family=PRINT_FONT):
            draw(picture, drawing.on(layer), place)
    return svg.plain_colours(picture.markup())


def draw(picture: svg.Drawing, entities: Iterable[Entity], place: Place) -> None:
    """Draw ``entities`` where ``place`` (metres to millimetres of the picture, at true scale) puts them."""
    for entity in entities:
        if isinstance(entity, Text):
            _text(picture, entity, place)
            continue
        look = _look(entity)
        match entity:
            case Line(start, end):
                picture.line(place(start), place(end), **look)
            case Circle(centre, radius):
                picture.circle(place(centre), 1e3 * radius, **look)
            case Arc():
                picture.path(arc_data(entity, place), **look)
            case Polyline(points):
                picture.path(svg.path_data(map(place, points), closed=entity.closed), **look)


def arc_data(arc: Arc, place: Place) -> str:
    """Path commands of an arc, in pieces short enough for every reader."""
    count = max(1, math.ceil((arc.end - arc.start) / _PIECE))
    stops = [place(arc.at(arc.start + (arc.end - arc.start) * k / count)) for k in range(count + 1)]
    radius = svg.number(1e3 * arc.radius)
    turns = "".join(f"A{radius} {radius} 0 0 0 {svg.number(x)} {svg.number(y)}" for x, y in stops[1:])
    return f"M{svg.number(stops[0][0])} {svg.number(stops[0][1])}{turns}"


def _look(entity: Line | Circle | Arc | Polyline) -> dict[str, svg.Attribute]:
    ink = PENS[entity.pen or entity.layer]
    fill = getattr(entity, "fill", "")
    if fill:
        return {"fill": ink.colour if fill == "solid" else _TINT}
    dash = " ".join(svg.number(1e3 * part) for part in ink.dash) or None
    return {
        "fill": "none",
        "stroke": ink.colour,
        "stroke_width": 1e3 * ink.width,
        "stroke_dasharray": dash,
        "stroke_linejoin": "miter" if entity.layer == "cut" else "round",
    }


def _text(picture: svg.Drawing, text: Text, place: Place) -> None:
    picture.text(
        place(text.place),
        text.words,
        font_size=1e3 * text.height / CAPITAL,
        font_weight="bold" if text.bold else None,
        text_anchor=None if text.anchor == "start" else text.anchor,
        fill=PENS["cut" if text.layer == "notes" else text.layer].colour,
        rotate=-text.angle if text.angle else None,
    )
