"""A drawing as DXF R2010 in millimetres: one layer per purpose, real lines, arcs and circles for the machine to follow."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from aerialwright.sheet.drawing import LAYERS, PENS, Arc, Circle, Drawing, Line, Point, Polyline, Text

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_LINE_TYPES = {"bend": "PHANTOM", "centre": "CENTER", "hidden": "DASHED"}
_ANCHORS = {"start": "LEFT", "middle": "CENTER", "end": "RIGHT"}


def dxf_text(drawing: Drawing) -> str:
    """The drawing as a DXF file with ``$INSUNITS`` 4 (millimetres) and the layers CUT, BEND, ENGRAVE and NOTES.

    Dimensions and words are plain geometry on NOTES, which a cutter switches off; tinted areas are for paper and left out.
    """
    from ezdxf import units
    from ezdxf.filemanagement import new

    document = new("R2010", setup=["linetypes"], units=units.MM)
    document.header["$MEASUREMENT"] = 1
    document.header["$LTSCALE"] = 6.0
    for name in LAYERS:
        pen = PENS[name]
        layer = document.layers.add(name.upper(), linetype=_LINE_TYPES.get(name, "CONTINUOUS"))
        layer.dxf.lineweight = round(1e5 * pen.width)
        layer.dxf.true_color = int(pen.colour[1:], 16)
        layer.dxf.plot = 1
    for entity in drawing.entities:
        _add(document.modelspace(), entity)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _mm(point: Point) -> Point:
    return (1e3 * point[0], 1e3 * point[1])


def _add(space: Modelspace, entity: Line | Circle | Arc | Polyline | Text) -> None:
    from ezdxf.enums import TextEntityAlignment

    look = {"layer": entity.layer.upper()}
    if not isinstance(entity, Text) and entity.pen in _LINE_TYPES:
        look["linetype"] = _LINE_TYPES[entity.pen]
    match entity:
        case Line(start, end):
            space.add_line(_mm(start), _mm(end), dxfattribs=look)
        case Circle(centre, radius):
            space.add_circle(_mm(centre), 1e3 * radius, dxfattribs=look)
        case Arc(centre, radius, start, end):
            space.add_arc(_mm(centre), 1e3 * radius, start, end, dxfattribs=look)
        case Polyline(points, fill="solid"):
            # A DXF solid of four corners takes the last two the other way round.
            order = (0, 1, 3, 2) if len(points) == 4 else range(len(points))
            space.add_solid([_mm(points[k]) for k in order], dxfattribs=look)
        case Polyline(points, fill=""):
            space.add_lwpolyline([_mm(point) for point in points], close=entity.closed, dxfattribs=look)
        case Text():
            words = space.add_text(entity.words, height=1e3 * entity.height, rotation=entity.angle, dxfattribs=look)
            words.set_placement(_mm(entity.place), align=TextEntityAlignment[_ANCHORS[entity.anchor]])
