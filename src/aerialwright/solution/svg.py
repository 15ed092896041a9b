"""A small drawing module: vector pictures as text, exact in millimetres or pixels, readable in any light.

Colours are written as ``var(--name, #fallback)`` in presentation attributes, so a page can restyle a picture it
holds inline (light, dark, print) without any style attribute, and a strict content security policy still holds.
:func:`plain_colours` replaces them by their fallback for viewers that know no style sheets.
Every picture carries a title and a description for people who listen to it.
"""

from __future__ import annotations

import math
import re
import zlib
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from xml.sax.saxutils import escape

from aerialwright.base.errors import AerialwrightError

Point = tuple[float, float]
Attribute = str | float | None

#: Fonts every system has; nothing is fetched.
FONT = "var(--aw-figure-font, system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, sans-serif)"

#: Characters XML 1.0 cannot carry even escaped (section 2.2 of the XML recommendation, "Char").
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_VARIABLE = re.compile(r"var\(--[\w-]+,\s*((?:[^()]|\([^()]*\))*)\)")


class FigureError(AerialwrightError):
    """A picture that cannot be drawn from the numbers given."""


def number(value: float) -> str:
    """A coordinate as text with at most three decimals; refuses what is not finite."""
    if not math.isfinite(value):
        raise FigureError("a picture was asked to draw a number that is not finite")
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def clean(text: str) -> str:
    """Text that is safe inside an element or a double-quoted attribute."""
    return escape(_FORBIDDEN.sub("\ufffd", text), {'"': "&quot;"})


def text_width(text: str, size: float) -> float:
    """Width [same unit as ``size``] a line of text will take, a slight over-estimate for usual sans-serif fonts."""
    narrow = sum(character in " .,:;'|()ilI1jtfr" for character in text)
    return size * (0.63 * (len(text) - narrow) + 0.36 * narrow)


def shorten(text: str, size: float, room: float) -> str:
    """``text`` cut with an ellipsis so that it takes at most ``room``."""
    if text_width(text, size) <= room:
        return text
    while text and text_width(text + "\u2026", size) > room:
        text = text[:-1]
    return text.rstrip() + "\u2026"


def wrap(text: str, size: float, room: float) -> list[str]:
    """``text`` broken at spaces into lines of at most ``room`` (a single longer word stays whole)."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size) <= room:
            lines[-1] = f"{lines[-1]} {word}"
        else:
            lines.append(word)
    return lines


def path_data(points: Iterable[Point], *, closed: bool = False) -> str:
    """Path commands through ``points``; a point that is not finite lifts the pen."""
    commands: list[str] = []
    pen_down = False
    for x, y in points:
        if math.isfinite(x) and math.isfinite(y):
            commands.append(f"{'L' if pen_down else 'M'}{number(x)} {number(y)}")
            pen_down = True
        else:
            pen_down = False
    return "".join(commands) + ("Z" if closed and commands else "")


def plain_colours(markup: str) -> str:
    """The picture with every style variable replaced by its fallback value."""
    return _VARIABLE.sub(lambda match: match.group(1), markup)


class Drawing:
    """A picture under construction; y grows downward.

    Parameters
    ----------
    width, height : float
        Size in ``unit``, which is also the user unit inside: one unit in is one millimetre or pixel out.
        ``height`` may be set later, before :meth:`markup`.
    title, description : str
        What the picture is, and what it says to someone who cannot see it.
    identity : str
        Anything that differs between the pictures of one page; names inside are derived from it.
    unit : str
        ``"px"`` or ``"mm"``.
    """

    def __init__(
        self, *, width: float, height: float = 0.0, title: str, description: str = "", identity: str, unit: str = "px"
    ) -> None:
        if unit not in ("px", "mm"):
            raise FigureError(f"a picture is measured in px or mm, not in '{unit}'")
        self.width, self.height, self.unit = width, height, unit
        self.title, self.description = title, description
        slug = re.sub(r"[^a-z0-9]+", "-", identity.lower()).strip("-")[:40]
        self.identity = f"aw-{slug}-{zlib.crc32(identity.encode('utf-8', 'replace')):08x}"
        self._body: list[str] = []
        self._definitions: list[str] = []
        self._names = 0

    # -- elements ---------------------------------------------------------------------------------------------
    def element(self, tag: str, **attributes: Attribute) -> None:
        """Any element; ``stroke_width`` becomes ``stroke-width``, numbers are formatted, None is left out."""
        self._body.append(_tag(tag, None, attributes))

    def line(self, start: Point, end: Point, **attributes: Attribute) -> None:
        """A straight line."""
        self.element("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **attributes)

    def rectangle(self, corner: Point, width: float, height: float, **attributes: Attribute) -> None:
        """A rectangle from its upper left corner; a negative size counts as nothing."""
        self.element("rect", x=corner[0], y=corner[1], width=max(width, 0.0), height=max(height, 0.0), **attributes)

    def circle(self, centre: Point, radius: float, **attributes: Attribute) -> None:
        """A circle."""
        self.element("circle", cx=centre[0], cy=centre[1], r=radius, **attributes)

    def path(self, data: str, **attributes: Attribute) -> None:
        """A path from its commands; nothing is written for an empty one."""
        if data:
            self.element("path", d=data, **attributes)

    def polyline(self, points: Iterable[Point], **attributes: Attribute) -> None:
        """An open line through points, broken where a point is not finite."""
        self.path(path_data(points), fill="none", **attributes)

    def polygon(self, points: Iterable[Point], **attributes: Attribute) -> None:
        """A closed shape."""
        self.path(path_data(points, closed=True), **attributes)

    def text(self, place: Point, words: str, **attributes: Attribute) -> None:
        """One line of text; ``text_anchor`` start, middle or end. ``rotate`` [degree] turns it about ``place``."""
        turn = attributes.pop("rotate", None)
        if isinstance(turn, float | int):
            attributes["transform"] = f"rotate({number(float(turn))} {number(place[0])} {number(place[1])})"
        self._body.append(_tag("text", clean(words), {"x": place[0], "y": place[1], **attributes}))

    def symbol(self, shape: str, place: Point, size: float, **attributes: Attribute) -> None:
        """A small sign of about ``size`` across: circle, square, triangle, diamond, wedge, cross or ring."""
        x, y = place
        half = 0.5 * size
        outlines: dict[str, Sequence[Point]] = {
            "square": ((-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)),
            "triangle": ((0, -1.1), (1.05, 0.8), (-1.05, 0.8)),
            "wedge": ((0, 1.1), (1.05, -0.8), (-1.05, -0.8)),
            "diamond": ((0, -1.2), (1.2, 0), (0, 1.2), (-1.2, 0)),
            "cross": (
                (-1, -0.4), (-0.4, -0.4), (-0.4, -1), (0.4, -1), (0.4, -0.4), (1, -0.4),
                (1, 0.4), (0.4, 0.4), (0.4, 1), (-0.4, 1), (-0.4, 0.4), (-1, 0.4),
            ),
        }  # fmt: skip
        if shape in outlines:
            self.polygon([(x + half * a, y + half * b) for a, b in outlines[shape]], **attributes)
        else:
            self.circle(place, half, **attributes)

    def arrow_head(self, tip: Point, direction: Point, length: float, **attributes: Attribute) -> None:
        """A filled arrow head of 20 degrees pointing along ``direction``, its tip at ``tip``."""
        size = math.hypot(*direction)
        along = (direction[0] / size, direction[1] / size)
        half = length * math.tan(math.radians(10.0))
        back = (tip[0] - length * along[0], tip[1] - length * along[1])
        left = (back[0] - half * along[1], back[1] + half * along[0])
        right = (back[0] + half * along[1], back[1] - half * along[0])
        self.polygon((tip, left, right), **attributes)

    @contextmanager
    def group(self, **attributes: Attribute) -> Iterator[None]:
        """Elements drawn inside share these attributes."""
        self._body.append(_tag("g", None, attributes).replace("/>", ">"))
        yield
        self._body.append("</g>")

    # -- things referred to by name ------------------------------------------------------------------------------
    def _new_name(self) -> str:
        self._names += 1
        return f"{self.identity}-{self._names}"

    def clip(self, corner: Point, width: float, height: float) -> str:
        """A rectangle to cut at; the value for ``clip_path``."""
        name = self._new_name()
        shape = _tag("rect", None, {"x": corner[0], "y": corner[1], "width": width, "height": height})
        self._definitions.append(f'<clipPath id="{name}">{shape}</clipPath>')
        return f"url(#{name})"

    def clip_circle(self, centre: Point, radius: float) -> str:
        """A circle to cut at; the value for ``clip_path``."""
        name = self._new_name()
        shape = _tag("circle", None, {"cx": centre[0], "cy": centre[1], "r": radius})
        self._definitions.append(f'<clipPath id="{name}">{shape}</clipPath>')
        return f"url(#{name})"

    def hatch(self, *, colour: str, pitch: float, width: float, angle: float = 45.0, crossed: bool = False) -> str:
        """Parallel (or crossed) lines to fill with; the value for ``fill``. ``angle`` in degree."""
        name = self._new_name()
        strokes = [f"M0 {number(0.5 * pitch)}H{number(pitch)}"]
        if crossed:
            strokes.append(f"M{number(0.5 * pitch)} 0V{number(pitch)}")
        lines = _tag("path", None, {"d": "".join(strokes), "stroke": colour, "stroke_width": width, "fill": "none"})
        self._definitions.append(
            f'<pattern id="{name}" width="{number(pitch)}" height="{number(pitch)}" '
            f'patternUnits="userSpaceOnUse" patternTransform="rotate({number(-angle)})">{lines}</pattern>'
        )
        return f"url(#{name})"

    def markup(self) -> str:
        """The finished picture as an ``<svg>`` element."""
        width, height = number(self.width), number(self.height)
        unit = "" if self.unit == "px" else self.unit
        names = f"{self.identity}-title"
        description = ""
        if self.description:
            names += f" {self.identity}-desc"
            description = f'<desc id="{self.identity}-desc">{clean(self.description)}</desc>'
        definitions = f"<defs>{''.join(self._definitions)}</defs>" if self._definitions else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{names}" '
            f'width="{width}{unit}" height="{height}{unit}" viewBox="0 0 {width} {height}" '
            f'font-family="{clean(FONT)}"><title id="{self.identity}-title">{clean(self.title)}</title>'
            f"{description}{definitions}{''.join(self._body)}</svg>"
        )


def _tag(tag: str, content: str | None, attributes: dict[str, Attribute]) -> str:
    parts = [tag]
    for key, value in attributes.items():
        if value is None:
            continue
        words = clean(value) if isinstance(value, str) else number(float(value))
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{words}"')
    head = " ".join(parts)
    return f"<{head}/>" if content is None else f"<{head}>{content}</{tag}>"
