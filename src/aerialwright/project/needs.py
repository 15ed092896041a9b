"""need.toml: reading it into a :class:`Need`, and writing one back without losing a person's comments."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field
from pydantic_core import PydanticCustomError

from aerialwright.air.element_text import parse_elements
from aerialwright.air.elements import ElementsError
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import NeedError, ProjectError, QuantityError, printable
from aerialwright.base.units import parse_frequency_range, parse_quantity
from aerialwright.need.check import check_need
from aerialwright.need.model import (
    Band,
    Cover,
    FarEnd,
    FeedLine,
    Given,
    Limits,
    Need,
    OwnedAntenna,
    Preamplifier,
    Satellite,
    Site,
    StockItem,
)
from aerialwright.project.need_document import need_document
from aerialwright.project.schema import (
    Angle,
    Decibel,
    Frequency,
    Gain,
    Impedance,
    Length,
    LengthOrZero,
    Power,
    Prose,
    Ratio,
    Table,
    Word,
    validate,
)
from aerialwright.project.text import Location, TomlText, parse_toml, read_text, read_toml
from aerialwright.stock.cables import OTHER, cable
from aerialwright.stock.tables import StockError

NEED_FILE = "need.toml"


def _range(value: object) -> tuple[float, float]:
    try:
        return parse_frequency_range(value)
    except QuantityError as error:
        raise PydanticCustomError("quantity", "{what}", {"what": error.what, "mend": error.mend}) from None


def _dimension(value: object) -> float:
    """A family's dimension: a length or an angle with its unit, or a plain whole number."""
    if isinstance(value, int) and not isinstance(value, bool):
        if abs(value) > 100_000:
            raise PydanticCustomError(
                "quantity", "{what}", {"what": f"{str(value)[:20]} is no count", "mend": "check it"}
            )
        return Given(float(value), "count")
    try:
        kind = _dimension_kind(value)
        return Given(parse_quantity(value, kind), kind)
    except QuantityError as error:
        mend = f"{error.mend}; angles like '60 deg', counts without unit"
        raise PydanticCustomError("quantity", "{what}", {"what": error.what, "mend": mend}) from None


def _dimension_kind(value: object) -> str:
    if isinstance(value, int):
        return "count"
    return "angle" if isinstance(value, str) and re.search(r"(deg|degrees?|°|º|rad)\.?\s*$", value) else "length"


class _Band(Table):
    label: Word
    range: Annotated[tuple[float, float], BeforeValidator(_range)] | None = None
    low: Frequency | None = None
    high: Frequency | None = None
    importance: Word = "must"


class _FarEnd(Table):
    kind: Word = "all round"
    lowest_elevation: Angle = 0.0
    highest_elevation: Angle = 10.0
    azimuth: Angle = 0.0
    width: Angle = 360.0


class _FeedLine(Table):
    type: Word
    length: LengthOrZero
    impedance: Impedance | None = None
    loss: Decibel | None = None
    loss_frequency: Frequency | None = None


class _Receiver(Table):
    impedance: Impedance = 50.0
    noise_figure: Decibel | None = None


class _Site(Table):
    name: Word = ""
    description: Prose = ""
    height: LengthOrZero = 5.0
    noise: Word = "residential"
    metal_sheet: LengthOrZero = 0.0
    nearby: list[Prose] = Field(default=[], max_length=100)
    ground: Word = "medium dry ground"
    latitude: Angle | None = None
    longitude: Angle | None = None
    horizon: list[Annotated[list[Angle], Field(min_length=2, max_length=2)]] = Field(default=[], max_length=1000)

    def site(self) -> Site:
        """The same as the need holds it."""
        horizon = tuple((pair[0], pair[1]) for pair in self.horizon)
        return Site(**{**self.model_dump(), "nearby": tuple(self.nearby), "horizon": horizon})


class _Satellite(Table):
    name: Word
    elements: Annotated[str, Field(max_length=100_000)] = ""
    elements_file: Word = ""
    band: Word
    power: Power
    antenna: Word = "tumbling"
    gain: Gain = 0.0
    modulation: Word
    first_day: date | None = None


class _Preamplifier(Table):
    noise_figure: Decibel
    gain: Decibel


class _Limits(Table):
    largest_size: Length = 2.5
    tools: list[Word] = Field(default=[], max_length=100)
    worst_swr: Ratio = 2.5
    most_parts: int | None = None


class _Transmit(Table):
    power: Power = 0.0
    band: Word = ""


class _Stock(Table):
    kind: Word
    material: Word
    label: Word = ""
    quantity: int = 1
    diameter: Length | None = None
    wall: Length | None = None
    length: Length | None = None
    width: Length | None = None
    thickness: Length | None = None
    pitch: Length | None = None
    wire_diameter: Length | None = None
    insulation_diameter: Length | None = None
    insulation: Word = ""


class _Cover(Table):
    stock: Word


class _Owned(Table):
    name: Word
    family: Word
    dimensions: dict[Word, Annotated[float, BeforeValidator(_dimension)]] = Field(default={})


class _NeedFile(Table):
    title: Word
    question: Prose = ""
    polarisation: Word = "vertical"
    connectors: list[Word] = Field(default=[], max_length=100)
    band: list[_Band] = Field(default=[], max_length=200)
    far_end: _FarEnd = _FarEnd()
    feed_line: list[_FeedLine] = Field(default=[], max_length=200)
    receiver: _Receiver = _Receiver()
    site: _Site = _Site()
    limits: _Limits = _Limits()
    transmit: _Transmit = _Transmit()
    stock: list[_Stock] = Field(default=[], max_length=1000)
    owned: list[_Owned] = Field(default=[], max_length=200)
    cover: _Cover | None = None
    preamplifier: _Preamplifier | None = None
    satellite: _Satellite | None = None
    site_alternative: list[_Site] = Field(default=[], max_length=100)


def need_path(path: str | os.PathLike[str]) -> Path:
    """The need file meant by ``path``: itself, or ``need.toml`` inside a project folder."""
    given = Path(path)
    try:
        return given / NEED_FILE if given.is_dir() else given
    except (OSError, ValueError):
        return given


def read_need(path: str | os.PathLike[str]) -> Need:
    """The validated need of a project folder or a need file.

    Raises :class:`ProjectError` naming file, line, key, fault and remedy, for anything that is not a sound need.
    """
    return _need_of(read_toml(need_path(path)))


def parse_need(text: str, *, name: str = NEED_FILE) -> Need:
    """The need written in ``text`` (a page's editor); ``name`` is used in messages."""
    return _need_of(parse_toml(text, Path(name)))


def _need_of(source: TomlText) -> Need:
    document = validate(_NeedFile, source)
    need = Need(
        title=document.title,
        question=document.question,
        bands=tuple(_band(band, number, source) for number, band in enumerate(document.band)),
        far_end=FarEnd(**document.far_end.model_dump()),
        polarisation=document.polarisation,
        feed_lines=tuple(_feed_line(line, number, source) for number, line in enumerate(document.feed_line)),
        site=document.site.site(),
        limits=Limits(**{**document.limits.model_dump(), "tools": tuple(document.limits.tools)}),
        transmit_power=document.transmit.power,
        transmit_band=document.transmit.band,
        receiver_impedance=document.receiver.impedance,
        connectors=tuple(document.connectors),
        stock=tuple(StockItem(**item.model_dump()) for item in document.stock),
        owned=tuple(OwnedAntenna(item.name, item.family, dict(item.dimensions)) for item in document.owned),
        cover=None if document.cover is None else Cover(document.cover.stock),
        receiver_noise_figure=document.receiver.noise_figure,
        preamplifier=None if document.preamplifier is None else Preamplifier(**document.preamplifier.model_dump()),
        satellite=None if document.satellite is None else _satellite(document.satellite, source),
        site_alternatives=tuple(site.site() for site in document.site_alternative),
    )
    try:
        check_need(need)
    except NeedError as error:
        raise source.error(error.what, _written(_location(error.where), source), error.mend) from None
    return need


def _satellite(table: _Satellite, source: TomlText) -> Satellite:
    """With the text of its elements, from its file in the project or from the need itself; read once to see that it is sound."""
    words = table.model_dump()
    if bool(table.elements) == bool(table.elements_file):
        raise source.error(
            "has no elements" if not table.elements else "has both elements and elements_file", ("satellite",),
            'add elements_file = "..." with a file of this folder, or paste them as elements',
        )  # fmt: skip
    key = "elements"
    if table.elements_file:
        key = "elements_file"
        if not re.fullmatch(r"\w[\w .+-]*", table.elements_file):
            raise source.error(
                f"'{table.elements_file[:40]}' is no plain file name",
                ("satellite", key),
                "put the file beside need.toml",
            )
        words["elements"] = read_text(source.path.parent / table.elements_file)
        where = printable(str(source.path.parent / table.elements_file))
    else:
        where = printable(f"{source.path}, line {source.line_of(('satellite', key))}, satellite.elements")
    try:
        parse_elements(words["elements"], where=where, name=table.name)
    except ElementsError as error:
        raise ProjectError(printable(error.what), where=error.where, mend=printable(error.mend)) from None
    return Satellite(**words)


def _written(location: Location, source: TomlText) -> Location:
    """The key a person wrote: a band's low and high may both stand in its range."""
    match location:
        case ("band", int(number), "low" | "high") if "range" in source.data["band"][number]:
            return ("band", number, "range")
    return location


def _location(where: str) -> Location:
    """'stock 2 (rods).diameter' -> ('stock', 1, 'diameter')."""
    match = re.fullmatch(r"(\w+)(?: (\d+))?(?: \(.*\))?(?:\.(.+))?", where, re.DOTALL)
    if match is None:
        return ()
    location: Location = (match[1],)
    if match[2]:
        location += (int(match[2]) - 1,)
    if match[3]:
        location += tuple(match[3].split(".", 1)) if match[3].startswith("dimensions.") else (match[3],)
    return location


def _band(band: _Band, number: int, source: TomlText) -> Band:
    if band.range is not None:
        if band.low is not None or band.high is not None:
            raise source.error("has both range and low/high", ("band", number), "keep one of them")
        low, high = band.range
    elif band.low is None or band.high is None:
        raise source.error("has no range", ("band", number), "add range = '118-137 MHz'")
    else:
        low, high = band.low, band.high
    return Band(label=band.label, low=low, high=high, importance=band.importance)


def _feed_line(line: _FeedLine, number: int, source: TomlText) -> FeedLine:
    key, impedance = line.type, line.impedance
    if key != OTHER:
        try:
            row = cable(key)
        except StockError as error:
            mend = f"{error.mend} Or take 'other' with impedance, loss and loss_frequency"
            raise source.error(error.what, ("feed_line", number, "type"), mend) from None
        key = row.key
        impedance = row.impedance if impedance is None else impedance
    elif impedance is None:
        raise source.error(
            "a cable of unknown type needs its impedance", ("feed_line", number), "add impedance = '50 ohm'"
        )
    return FeedLine(key, line.length, impedance, line.loss, line.loss_frequency)


def write_need(path: str | os.PathLike[str], need: Need, *, dimension_kinds: Mapping[str, str] | None = None) -> Path:
    """Write ``need`` to a project folder or file, atomically.

    Where the file exists and reads, what did not change keeps the person's own spelling, order and comments. A satellite's file of
    elements is written beside it where there is none yet.
    Raises :class:`NeedError` for an unsound need, :class:`ProjectError` if the file cannot be written.
    """
    import tomlkit

    from aerialwright.project.rewrite import merge

    check_need(need)
    target = need_path(path)
    satellite = need.satellite
    if satellite is not None and satellite.elements_file and not (target.parent / satellite.elements_file).exists():
        write_text_atomic(target.parent / satellite.elements_file, satellite.elements)
    kinds = dict(dimension_kinds or {})
    old_text = read_text(target) if target.exists() else ""
    if not old_text:
        text = tomlkit.dumps(need_document(need, dimension_kinds=kinds))
        if not _reads_as(text, target, need):
            raise ProjectError("this need does not survive being written", where=str(target), mend="check its values")
        return write_text_atomic(target, text)
    source = parse_toml(old_text, target)
    old_need = _need_of(source)  # a file that does not read is the person's to mend, not ours to overwrite
    for table in source.data.get("owned", ()):
        for key, value in table.get("dimensions", {}).items():
            kinds.setdefault(key, _dimension_kind(value))
    old = need_document(old_need, dimension_kinds=kinds)
    new = need_document(need, dimension_kinds=kinds)
    document = tomlkit.parse(old_text)
    merge(document, old, new)
    for text in (tomlkit.dumps(document), tomlkit.dumps(new)):
        if _reads_as(text, target, need):  # never store what does not read back as the same need
            return write_text_atomic(target, text)
    raise ProjectError("this need does not survive being written", where=str(target), mend="check its values")


def _reads_as(text: str, path: Path, need: Need) -> bool:
    try:
        return _need_of(parse_toml(text, path)) == need
    except ProjectError:
        return False
