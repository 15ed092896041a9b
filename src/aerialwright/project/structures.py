"""Free-form structures: a TOML file of rods, surfaces and one feed, read into a :class:`Structure`."""

from __future__ import annotations

import math
import os
import re
from typing import Annotated

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from aerialwright.base.errors import StructureError
from aerialwright.base.units import format_length
from aerialwright.lines.network import Element
from aerialwright.project.between import Between, elements
from aerialwright.project.schema import (
    MOST_ENTRIES,
    Capacitance,
    Coordinate,
    ImpedanceOrZero,
    Inductance,
    Length,
    LengthOrZero,
    Prose,
    Table,
    Word,
    validate,
)
from aerialwright.project.text import Location, TomlText, read_toml
from aerialwright.stock.metals import metal as stock_metal
from aerialwright.stock.tables import StockError
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import (
    JOIN_TOLERANCE,
    ApertureFeed,
    Load,
    Mesh,
    Metal,
    Rod,
    RodFeed,
    Structure,
    Surface,
)

LARGEST_COORDINATE = 1000.0
LARGEST_RADIUS = 5.0
MOST_COPIES = 360
PERFECT = "perfect"

_Point3 = Annotated[list[Coordinate], Field(min_length=3, max_length=3)]
_Point2 = Annotated[list[Coordinate], Field(min_length=2, max_length=2)]


def _conductivity(value: object) -> float:
    """A conductivity written with its unit [S/m]."""
    found = (
        re.fullmatch(r"\s*(\d{1,9}(?:\.\d{1,12})?(?:[eE][+-]?\d{1,2})?)\s*(m?)S/m\s*", value)
        if isinstance(value, str)
        else None
    )
    if found is None:
        what = f"{str(value)[:40]!r} is not a conductivity"
        raise PydanticCustomError("quantity", "{what}", {"what": what, "mend": "write it like '0.005 S/m' or '5 mS/m'"})
    return float(found[1]) * (1e-3 if found[2] else 1.0)


class _Rod(Table):
    name: Word
    points: Annotated[list[_Point3], Field(min_length=2, max_length=MOST_ENTRIES)]
    radius: Length | None = None
    diameter: Length | None = None
    copies: int = 1
    metal: Word = PERFECT


class _Mesh(Table):
    pitch: Length
    wire: Length


class _Surface(Table):
    name: Word
    profile: Annotated[list[_Point2], Field(min_length=2, max_length=MOST_ENTRIES)]
    metal: Word = PERFECT
    thickness: Length = 1.0e-3
    mesh: _Mesh | None = None


class _Feed(Table):
    kind: Word
    positive: _Point2 | None = None
    negative: _Point2 | None = None
    rod: Word | None = None
    distance: LengthOrZero | None = None
    width: Length | None = None


class _Load(Table):
    rod: Word
    distance: LengthOrZero
    resistance: ImpedanceOrZero = 0.0
    inductance: Inductance = 0.0
    capacitance: Capacitance = 0.0


class _Ground(Table):
    kind: Word | None = None
    permittivity: float | None = None
    conductivity: Annotated[float | None, BeforeValidator(_conductivity)] = None


class _StructureFile(Table):
    name: Word
    notes: list[Prose] = Field(default=[], max_length=100)
    ground: Annotated[_Ground, BeforeValidator(lambda value: {"kind": value} if isinstance(value, str) else value)] = (
        _Ground(kind="none")
    )
    mode: int = 0
    rod: list[_Rod] = Field(default=[], max_length=500)
    surface: list[_Surface] = Field(default=[], max_length=500)
    load: list[_Load] = Field(default=[], max_length=100)
    feed: _Feed
    between: list[Between] = Field(default=[], max_length=50)


def read_structure(path: str | os.PathLike[str]) -> Structure:
    """The structure of a free-form TOML file; see :func:`read_structure_file`."""
    return read_structure_file(path)[0]


def read_structure_file(path: str | os.PathLike[str]) -> tuple[Structure, tuple[Element, ...]]:
    """The structure of a free-form TOML file, checked for nonsense that needs no solver to see, and what stands between it and its line.

    Raises :class:`ProjectError` naming file, line, key, fault and remedy. Whether the metal can be solved (overlaps,
    common symmetry) is the engine's to say.
    """
    source = read_toml(path)
    document = validate(_StructureFile, source)
    ground = _ground(document.ground, source)
    if document.mode not in (0, 1):
        raise source.error(
            f"mode {str(document.mode)[:20]} is not modelled", ("mode",), "allowed: 0, or 1 for arms in quadrature"
        )
    if not document.rod and not document.surface:
        raise source.error("there is no metal", (), "add [[rod]] or [[surface]]")
    seen: set[str] = set()
    rods = tuple(_rod(rod, number, ground, seen, source) for number, rod in enumerate(document.rod))
    surfaces = tuple(_surface(surface, number, ground, seen, source) for number, surface in enumerate(document.surface))
    structure = Structure(
        name=document.name,
        rods=rods,
        surfaces=surfaces,
        feed=_feed(document.feed, rods, source),
        ground=ground,
        mode=document.mode,
        loads=tuple(_load(load, number, rods, source) for number, load in enumerate(document.load)),
        notes=tuple(document.notes),
    )
    return structure, elements(document.between, source)


def _ground(ground: _Ground, source: TomlText) -> str | Ground:
    pair = (ground.permittivity, ground.conductivity)
    if ground.kind is None:
        if pair[0] is None or pair[1] is None:
            mend = "give kind = 'average ground', or permittivity = 15 and conductivity = '0.005 S/m'"
            raise source.error("lacks its kind or its constants", ("ground",), mend)
        try:
            return Ground.constant(permittivity=pair[0], conductivity=pair[1])
        except StructureError as error:
            raise source.error(error.what, ("ground",), error.mend) from None
    if pair != (None, None):
        raise source.error("has both a kind and constants", ("ground",), "leave out one of them")
    if ground.kind in ("none", "perfect"):
        return ground.kind
    try:
        return Ground.named(ground.kind)
    except StockError as error:
        raise source.error(error.what, ("ground",), f"{error.mend}; or 'none', 'perfect'") from None


def _own_name(name: str, seen: set[str], location: Location, source: TomlText) -> None:
    if not name.strip():
        raise source.error("the name is empty", (*location, "name"), "call it something, like 'radial'")
    if name in seen:
        raise source.error(f"the name '{name[:40]}' is used twice", (*location, "name"), "give each piece its own name")
    seen.add(name)


def _metal(name: str, location: Location, source: TomlText) -> Metal | None:
    if name == PERFECT:
        return None
    try:
        row = stock_metal(name)
    except StockError as error:
        raise source.error(error.what, (*location, "metal"), f"{error.mend}; or 'perfect'") from None
    return Metal(row.key, row.conductivity, row.relative_permeability, row.source)


def _check_points(points: list[tuple[float, ...]], location: Location, ground: str | Ground, source: TomlText) -> None:
    for number, point in enumerate(points):
        place = (*location, number)
        if any(abs(value) > LARGEST_COORDINATE for value in point):
            raise source.error(f"lies more than {format_length(LARGEST_COORDINATE)} away", place, "check the unit")
        if ground != "none" and point[-1] < -JOIN_TOLERANCE:
            raise source.error("lies below the ground at z = 0", place, "raise it or take ground = 'none'")
        if number and math.dist(point, points[number - 1]) <= JOIN_TOLERANCE:
            raise source.error("is the same as the point before it", place, "leave it out")


def _rod(rod: _Rod, number: int, ground: str | Ground, seen: set[str], source: TomlText) -> Rod:
    location: Location = ("rod", number)
    _own_name(rod.name, seen, location, source)
    if (rod.radius is None) == (rod.diameter is None):
        what = "has no thickness" if rod.radius is None else "has both radius and diameter"
        raise source.error(what, location, "give diameter = '3.2 mm' (or radius)")
    radius = rod.radius if rod.radius is not None else 0.5 * (rod.diameter or 0.0)
    if not 1e-6 <= radius <= LARGEST_RADIUS:
        key = "radius" if rod.radius is not None else "diameter"
        raise source.error("is not the thickness of a rod", (*location, key), "check the unit")
    if not 1 <= rod.copies <= MOST_COPIES:
        raise source.error(f"{str(rod.copies)[:20]} copies", (*location, "copies"), f"give 1 to {MOST_COPIES}")
    points = [tuple(point) for point in rod.points]
    _check_points(list(points), (*location, "points"), ground, source)
    return Rod(
        name=rod.name,
        points=tuple((x, y, z) for x, y, z in points),
        radius=radius,
        copies=rod.copies,
        metal=_metal(rod.metal, location, source),
    )


def _surface(surface: _Surface, number: int, ground: str | Ground, seen: set[str], source: TomlText) -> Surface:
    location: Location = ("surface", number)
    _own_name(surface.name, seen, location, source)
    profile = [tuple(point) for point in surface.profile]
    for index, point in enumerate(profile):
        if point[0] < 0.0:
            raise source.error(
                "has a negative distance from the axis", (*location, "profile", index), "write [rho, z], rho from 0 up"
            )
    _check_points(list(profile), (*location, "profile"), ground, source)
    if all(point[0] == 0.0 for point in profile):
        raise source.error("lies on the axis altogether", (*location, "profile"), "use a [[rod]] there")
    if surface.thickness > 0.1:
        raise source.error("is no thickness of sheet", (*location, "thickness"), "check the unit")
    mesh = None
    if surface.mesh is not None:
        if surface.mesh.wire >= surface.mesh.pitch:
            raise source.error(
                "the wire is thicker than the pitch", (*location, "mesh"), "pitch is centre to centre; check both"
            )
        mesh = Mesh(surface.mesh.pitch, surface.mesh.wire)
    return Surface(
        name=surface.name,
        profile=tuple((rho, z) for rho, z in profile),
        metal=_metal(surface.metal, location, source),
        thickness=surface.thickness,
        mesh=mesh,
    )


def _feed(feed: _Feed, rods: tuple[Rod, ...], source: TomlText) -> ApertureFeed | RodFeed:
    belongs = {"aperture": ("positive", "negative"), "rod": ("rod", "distance", "width")}
    if feed.kind not in belongs:
        raise source.error(f"'{feed.kind[:40]}' is no kind of feed", ("feed", "kind"), "allowed: 'aperture', 'rod'")
    for kind, keys in belongs.items():
        for key in keys:
            given = getattr(feed, key) is not None
            if given and kind != feed.kind:
                raise source.error(f"does not belong to a feed of kind '{feed.kind}'", ("feed", key), "leave it out")
            if not given and kind == feed.kind:
                raise source.error(f"{key} is missing", ("feed",), f"add {key} = ...")
    if feed.positive is not None and feed.negative is not None:
        return _aperture(feed.positive, feed.negative, source)
    assert feed.rod is not None and feed.distance is not None and feed.width is not None  # checked key by key above
    length = _rod_length(feed.rod, feed.distance, ("feed",), rods, source)
    if feed.width >= length:
        raise source.error(f"is as wide as the rod's {format_length(length)}", ("feed", "width"), "give the real gap")
    return RodFeed(feed.rod, feed.distance, feed.width)


def _rod_length(name: str, distance: float, location: Location, rods: tuple[Rod, ...], source: TomlText) -> float:
    """Length of the rod a feed or load names [m]; refuses a rod that is not there and a distance beyond it."""
    named = next((rod for rod in rods if rod.name == name), None)
    if named is None:
        known = ", ".join(f"'{rod.name}'" for rod in rods[:10]) or "none"
        raise source.error(f"there is no rod '{name[:40]}'", (*location, "rod"), f"rods: {known}")
    length = sum(math.dist(a, b) for a, b in zip(named.points, named.points[1:], strict=False))
    if distance > length + JOIN_TOLERANCE:
        raise source.error(
            f"is beyond the rod's {format_length(length)}", (*location, "distance"), "measure from its first point"
        )
    return length


def _load(load: _Load, number: int, rods: tuple[Rod, ...], source: TomlText) -> Load:
    location: Location = ("load", number)
    _rod_length(load.rod, load.distance, location, rods, source)
    if not load.resistance and not load.inductance:
        # A capacitor lies across resistance and coil; across nothing it would be shorted.
        raise source.error("has neither resistance nor inductance", location, "give one; capacitance lies across them")
    return Load(load.rod, load.distance, load.resistance, load.inductance, load.capacitance)


def _aperture(positive: list[float], negative: list[float], source: TomlText) -> ApertureFeed:
    for key, point in (("positive", positive), ("negative", negative)):
        if point[0] < 0.0:
            raise source.error("has a negative distance from the axis", ("feed", key), "write [rho, z], rho from 0 up")
        if any(abs(value) > LARGEST_COORDINATE for value in point):
            raise source.error("lies too far away", ("feed", key), "check the unit")
    if math.dist(positive, negative) <= JOIN_TOLERANCE:
        raise source.error("positive and negative are the same point", ("feed",), "leave the real gap between them")
    return ApertureFeed((positive[0], positive[1]), (negative[0], negative[1]))
