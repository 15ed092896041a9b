"""Does a need hold together? Every doubt is an error that names the place and the remedy; nothing is guessed."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable
from functools import partial

from aerialwright.base.errors import Caution, NeedError, printable
from aerialwright.base.units import format_frequency, format_length
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, OwnedAntenna, Satellite, Site, StockItem
from aerialwright.stock.cables import OTHER
from aerialwright.stock.connectors import connector
from aerialwright.stock.grounds import ground
from aerialwright.stock.metals import metal
from aerialwright.stock.modulations import modulation
from aerialwright.stock.pipes import sold_as
from aerialwright.stock.plastics import plastic
from aerialwright.stock.tables import StockError, find_key

LOWEST_FREQUENCY, HIGHEST_FREQUENCY = 1.0e6, 1.0e10
IMPORTANCES = ("must", "wish")
FAR_END_KINDS = ("all round", "sector", "sky")
POLARISATIONS = ("vertical", "horizontal", "circular", "right-hand circular", "left-hand circular", "any")
NOISE_CLASSES = ("city", "residential", "rural", "quiet rural")
SATELLITE_ANTENNAS = ("tumbling", "linear", "right-hand circular", "left-hand circular")
TOOLS = (
    "hacksaw",
    "drill",
    "soldering iron",
    "large soldering iron",
    "gas torch",
    "tap set",
    "pipe cutter",
    "file",
    "vice",
    "bending jig",
    "tin snips",
    "rivet gun",
    "lathe",
    "3D printer",
    "network analyser",
    "callipers",
)
#: kind of stock -> (fields it must have, fields it may have)
STOCK_FIELDS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "rod": (("diameter", "length"), ()),
    "tube": (("diameter", "length"), ("wall",)),
    "wire": (("diameter", "length"), ()),
    "sheet": (("width", "length", "thickness"), ("diameter",)),
    "mesh": (("width", "length", "pitch", "wire_diameter"), ()),
    "pipe": (("diameter", "length"), ("wall",)),
    "board": (("width", "length", "thickness"), ()),
}
_PLASTIC_KINDS = ("pipe", "board")
_MEASURES = ("diameter", "wall", "length", "width", "thickness", "pitch", "wire_diameter")
MOST_BANDS, MOST_ITEMS, MOST_PIECES = 40, 200, 10_000
MOST_SITES, MOST_CORNERS = 8, 360
SMALLEST_LENGTH, LARGEST_LENGTH = 1.0e-6, 1.0e5


def check_need(need: Need) -> None:
    """Raise :class:`NeedError` for the first thing in ``need`` that does not hold; return nothing if all does."""
    if not need.title.strip():
        raise NeedError("the need has no title", where="title", mend="name the project in a few words")
    _check_bands(need.bands)
    _check_far_end(need.far_end)
    one_of(need.polarisation, POLARISATIONS, "polarisation")
    if not need.feed_lines:
        raise NeedError("no feed line is given", where="feed_line", mend="add [[feed_line]] with type and length")
    _few(need.feed_lines, MOST_BANDS, "feed_line")
    for number, line in enumerate(need.feed_lines, 1):
        _check_line(line, f"feed_line {number}")
    _number(need.receiver_impedance, "receiver.impedance", low=1.0, high=1.0e4, unit="ohm")
    if need.receiver_noise_figure is not None:
        _number(need.receiver_noise_figure, "receiver.noise_figure", low=0.0, high=30.0, unit="dB")
    if need.preamplifier is not None:
        _number(need.preamplifier.noise_figure, "preamplifier.noise_figure", low=0.0, high=20.0, unit="dB")
        _number(need.preamplifier.gain, "preamplifier.gain", low=1.0, high=60.0, unit="dB")
    _few(need.connectors, MOST_BANDS, "connectors")
    for name in need.connectors:
        _known(partial(connector, name), "connectors")
    _few(need.stock, MOST_ITEMS, "stock")
    for number, item in enumerate(need.stock, 1):
        _check_item(item, f"stock {number}" + (f" ({item.label})" if item.label else ""))
    _check_cover(need)
    for number, site in enumerate(need.sites):
        _check_site(site, f"site_alternative {number}" if number else "site")
    _few(need.site_alternatives, MOST_SITES, "site_alternative")
    if need.satellite is not None:
        _check_satellite(need, need.satellite)
    _check_limits(need.limits)
    _check_transmit(need)
    _few(need.owned, MOST_BANDS, "owned")
    for number, antenna in enumerate(need.owned, 1):
        _check_owned(antenna, f"owned {number}")


def one_of(word: str, allowed: Iterable[str], where: str) -> None:
    """Raise :class:`NeedError` unless ``word`` is one of ``allowed``; lists them and suggests the nearest."""
    choices = tuple(allowed)
    if word in choices:
        return
    near = difflib.get_close_matches(str(word)[:60].lower(), [choice.lower() for choice in choices], n=1, cutoff=0.55)
    listed = ", ".join(f"'{choice}'" for choice in choices)
    mend = f"did you mean '{near[0]}'? allowed: {listed}" if near else f"allowed: {listed}"
    raise NeedError(f"'{_short(word)}' is not known here", where=where, mend=mend)


def _short(text: object) -> str:
    safe = printable(str(text))
    return safe if len(safe) <= 40 else f"{safe[:37]}..."


def _is_number(value: object) -> bool:
    """A finite number; records may come from code that no type checker saw."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _is_count(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= MOST_PIECES


def _number(value: object, where: str, *, low: float, high: float, unit: str = "", inclusive: bool = True) -> float:
    """``value`` as float within limits, or :class:`NeedError`."""
    if not _is_number(value):
        raise NeedError(
            f"{_short(value)} is not a number", where=where, mend=f"give a number in {unit}" if unit else "give one"
        )
    assert isinstance(value, (int, float))
    if value < low or value > high or (not inclusive and value == low):
        raise NeedError(
            f"{value:g} {unit} is outside {low:g} to {high:g} {unit}".replace("  ", " "),
            where=where,
            mend="check the number and its unit",
        )
    return float(value)


def _few(things: tuple[object, ...], most: int, where: str) -> None:
    if len(things) > most:
        raise NeedError(
            f"{len(things)} entries are more than the {most} allowed", where=where, mend="keep those that matter"
        )


def _known(find: Callable[[], object], where: str) -> None:
    try:
        find()
    except StockError as error:
        raise NeedError(error.what, where=where, mend=error.mend) from None


def _check_bands(bands: tuple[Band, ...]) -> None:
    if not bands:
        raise NeedError(
            "no band is asked for", where="band", mend="add [[band]] with a label and a range like '156-162.05 MHz'"
        )
    _few(bands, MOST_BANDS, "band")
    seen: set[str] = set()
    for number, band in enumerate(bands, 1):
        where = f"band {number}" + (f" ({_short(band.label)})" if band.label.strip() else "")
        if not band.label.strip():
            raise NeedError("the band has no label", where=where, mend="say what is heard there, like 'marine VHF'")
        if band.label.strip().lower() in seen:
            raise NeedError(
                f"the label '{_short(band.label)}' is used twice", where=where, mend="give each band its own label"
            )
        seen.add(band.label.strip().lower())
        one_of(band.importance, IMPORTANCES, f"{where}.importance")
        for end, value in (("low", band.low), ("high", band.high)):
            if not _is_number(value) or value <= 0.0:
                raise NeedError(
                    f"{_short(value)} is not a frequency", where=f"{where}.{end}", mend="write it like '156.8 MHz'"
                )
            if not LOWEST_FREQUENCY <= value <= HIGHEST_FREQUENCY:
                meant = format_frequency(value * 1e3) if value < LOWEST_FREQUENCY else format_frequency(value / 1e3)
                raise NeedError(
                    f"{format_frequency(value)} is outside 1 MHz to 10 GHz",
                    where=f"{where}.{end}",
                    mend=f"do you mean {meant}?",
                )
        if not band.low < band.high:
            raise NeedError(
                f"the band runs from {format_frequency(band.low)} to {format_frequency(band.high)}",
                where=where,
                mend="write the lower frequency first and leave a width",
            )
    if not any(band.importance == "must" for band in bands):
        raise NeedError(
            "every band is only a wish", where="band", mend="mark the band that decides with importance = 'must'"
        )


def _check_far_end(far_end: FarEnd) -> None:
    one_of(far_end.kind, FAR_END_KINDS, "far_end.kind")
    low = _number(far_end.lowest_elevation, "far_end.lowest_elevation", low=-10.0, high=90.0, unit="degree")
    high = _number(far_end.highest_elevation, "far_end.highest_elevation", low=-10.0, high=90.0, unit="degree")
    if low > high:
        raise NeedError(
            f"the elevations run from {low:g} down to {high:g} degree",
            where="far_end",
            mend="write the lower elevation first",
        )
    _number(far_end.azimuth, "far_end.azimuth", low=-360.0, high=360.0, unit="degree")
    _number(far_end.width, "far_end.width", low=0.0, high=360.0, unit="degree", inclusive=False)


def _check_line(line: FeedLine, where: str) -> None:
    if line.type != OTHER:
        _known(lambda: find_key("cables", line.type, noun="cable type (or 'other')"), f"{where}.type")
    _number(line.length, f"{where}.length", low=0.0, high=1000.0, unit="m")
    _number(line.impedance, f"{where}.impedance", low=10.0, high=1000.0, unit="ohm")
    if line.loss is not None:
        _number(line.loss, f"{where}.loss", low=0.0, high=100.0, unit="dB")
        if line.loss_frequency is None:
            raise NeedError(
                "a measured loss needs its frequency", where=f"{where}.loss", mend="add loss_frequency = '150 MHz'"
            )
    if line.loss_frequency is not None:
        if line.loss is None:
            raise NeedError(
                "loss_frequency stands without a loss", where=f"{where}.loss_frequency", mend="add loss = '2.1 dB'"
            )
        _number(line.loss_frequency, f"{where}.loss_frequency", low=LOWEST_FREQUENCY, high=HIGHEST_FREQUENCY, unit="Hz")
    if line.type == OTHER and line.loss is None and line.length > 0.0:
        raise NeedError(
            "a cable of unknown type needs its measured loss",
            where=where,
            mend="add loss and loss_frequency, or a known type",
        )


def _check_item(item: StockItem, where: str) -> None:
    one_of(item.kind, STOCK_FIELDS, f"{where}.kind")
    if not item.material.strip():
        raise NeedError("the material is missing", where=where, mend="add material, like 'brass' or 'PVC'")
    find = plastic if item.kind in _PLASTIC_KINDS else metal
    _known(lambda: find(item.material), f"{where}.material")
    if not _is_count(item.quantity):
        raise NeedError(
            f"{_short(item.quantity)} pieces is not a sensible quantity",
            where=f"{where}.quantity",
            mend=f"give 1 to {MOST_PIECES}",
        )
    required, optional = STOCK_FIELDS[item.kind]
    round_sheet = item.kind == "sheet" and item.diameter is not None
    for name in _MEASURES:
        value = getattr(item, name)
        place = f"{where}.{name}"
        if value is None:
            if name in required and not (round_sheet and name in ("width", "length")):
                raise NeedError(
                    f"a {item.kind} needs its {name.replace('_', ' ')}", where=where, mend=f"add {name} = '...'"
                )
            continue
        if name not in required and name not in optional:
            raise NeedError(f"a {item.kind} has no {name.replace('_', ' ')}", where=place, mend="leave it out")
        _number(value, place, low=SMALLEST_LENGTH, high=LARGEST_LENGTH, unit="m")
    _check_proportions(item, where)
    _check_insulation(item, where)


def _check_proportions(item: StockItem, where: str) -> None:
    """Thicknesses that cannot be: a wall over half the diameter, wire above its pitch, a rod thicker than long."""
    if item.wall is not None and item.diameter is not None and item.wall > 0.5 * item.diameter:
        raise NeedError(
            f"the wall of {format_length(item.wall)} is more than half of {format_length(item.diameter)}",
            where=f"{where}.wall",
            mend="check both",
        )
    if item.pitch is not None and item.wire_diameter is not None and item.wire_diameter >= item.pitch:
        raise NeedError(
            "the mesh wire is thicker than its pitch",
            where=f"{where}.pitch",
            mend="pitch is centre to centre; check both",
        )
    if item.kind in ("rod", "tube", "wire", "pipe") and item.diameter is not None:
        if item.diameter > 1.0:
            raise NeedError(
                f"a diameter of {format_length(item.diameter)} is not a {item.kind}",
                where=f"{where}.diameter",
                mend="check the unit",
            )
        if item.length is not None and item.length < item.diameter:
            raise NeedError(
                f"the {item.kind} is shorter than it is thick", where=f"{where}.length", mend="check the units"
            )


def _check_insulation(item: StockItem, where: str) -> None:
    """Insulation has a plastic and a diameter over the metal's."""
    if item.insulation_diameter is None:
        if item.insulation:
            raise NeedError(
                "insulation without its diameter", where=f"{where}.insulation", mend="add insulation_diameter = '3 mm'"
            )
        return
    if item.kind != "wire":
        raise NeedError(
            f"a {item.kind} has no insulation",
            where=f"{where}.insulation_diameter",
            mend="leave it out, or call it a wire",
        )
    _number(
        item.insulation_diameter, f"{where}.insulation_diameter", low=SMALLEST_LENGTH, high=LARGEST_LENGTH, unit="m"
    )
    if not item.insulation.strip():
        raise NeedError("the insulation's plastic is missing", where=where, mend="add insulation = 'PVC insulation'")
    _known(lambda: plastic(item.insulation), f"{where}.insulation")
    if item.diameter is not None and item.insulation_diameter <= item.diameter:
        raise NeedError(
            f"{format_length(item.insulation_diameter)} over the insulation is not more than the metal's {format_length(item.diameter)}",
            where=f"{where}.insulation_diameter",
            mend="measure both",
        )


def _check_cover(need: Need) -> None:
    """The cover is a pipe of the stock with a wall and a bore."""
    if need.cover is None:
        return
    item = need.cover_item()
    if item is None:
        pipes = ", ".join(f"'{_short(i.label)}'" for i in need.stock if i.kind == "pipe" and i.label.strip())
        raise NeedError(
            f"'{_short(need.cover.stock)}' is no pipe of the stock",
            where="cover.stock",
            mend=f"name one of {pipes}" if pipes else "add a [[stock]] item of kind 'pipe' with a label",
        )
    if item.wall is None:
        raise NeedError(
            "a pipe used as a cover needs its wall", where="cover.stock", mend="add wall = '1.9 mm' to the stock item"
        )
    if item.diameter is not None and 2.0 * item.wall >= item.diameter:
        raise NeedError("the cover has no bore", where="cover.stock", mend="check its wall and its diameter")


def _check_site(site: Site, where: str) -> None:
    one_of(site.noise, NOISE_CLASSES, f"{where}.noise")
    _number(site.height, f"{where}.height", low=0.0, high=9000.0, unit="m")
    _few(site.nearby, MOST_BANDS, f"{where}.nearby")
    _known(partial(ground, site.ground), f"{where}.ground")
    if (site.latitude is None) != (site.longitude is None):
        raise NeedError("one of latitude and longitude is missing", where=where, mend="give both, or neither")
    if site.latitude is not None:
        _number(site.latitude, f"{where}.latitude", low=-90.0, high=90.0, unit="degree")
        _number(site.longitude, f"{where}.longitude", low=-180.0, high=360.0, unit="degree")
    _few(site.horizon, MOST_CORNERS, f"{where}.horizon")
    for azimuth, elevation in site.horizon:
        _number(azimuth, f"{where}.horizon", low=0.0, high=360.0, unit="degree of azimuth")
        _number(elevation, f"{where}.horizon", low=0.0, high=89.0, unit="degree of elevation")
    seen = {azimuth % 360.0 for azimuth, _ in site.horizon}
    if len(seen) < len(site.horizon):
        raise NeedError(
            "the horizon has two elevations for one azimuth", where=f"{where}.horizon", mend="keep one of them; 0 and 360 are the same"
        )  # fmt: skip


def _check_satellite(need: Need, satellite: Satellite) -> None:
    """Everything but the elements themselves, which their own reader checks."""
    if not satellite.name.strip():
        raise NeedError("the satellite has no name", where="satellite.name", mend="say what you call it")
    one_of(satellite.band, [band.label for band in need.bands], "satellite.band")
    one_of(satellite.antenna, SATELLITE_ANTENNAS, "satellite.antenna")
    _number(satellite.power, "satellite.power", low=0.0, high=1.0e5, unit="W", inclusive=False)
    _number(satellite.gain, "satellite.gain", low=-30.0, high=60.0, unit="dBi")
    _known(partial(modulation, satellite.modulation), "satellite.modulation")
    titles = [site.title for site in need.sites]
    for number, site in enumerate(need.sites):
        where = f"site_alternative {number}" if number else "site"
        if site.latitude is None:
            raise NeedError(
                "a satellite's passes need to know where it is", where=where, mend="add latitude and longitude, like '52.1 deg'"
            )  # fmt: skip
        if titles.count(site.title) > 1:
            raise NeedError(f"two sites are called '{_short(site.title)}'", where=where, mend="give each its own name")
    if need.far_end.kind != "sky":
        raise NeedError("a satellite is in the sky", where="far_end.kind", mend='write kind = "sky"')


def _check_limits(limits: Limits) -> None:
    _number(limits.largest_size, "limits.largest_size", low=0.0, high=500.0, unit="m", inclusive=False)
    _number(limits.worst_swr, "limits.worst_swr", low=1.0, high=100.0, inclusive=False)
    if limits.most_parts is not None and not _is_count(limits.most_parts):
        raise NeedError(
            f"{_short(limits.most_parts)} is not a number of parts",
            where="limits.most_parts",
            mend=f"give 1 to {MOST_PIECES}",
        )
    _few(limits.tools, MOST_BANDS, "limits.tools")
    for tool in limits.tools:
        one_of(tool, TOOLS, "limits.tools")


def stock_notes(need: Need) -> tuple[Caution, ...]:
    """Diameters that look like a name instead of a measure: pipe that is sold by a nominal size."""
    out = []
    for item in need.stock:
        found = (
            None if item.diameter is None else sold_as(kind=item.kind, material=item.material, diameter=item.diameter)
        )
        if found is not None and item.diameter is not None:
            out.append(
                Caution(
                    "caution",
                    f"{item.title}: {format_length(item.diameter)} is the name of a {found.name} in {found.title}, which measures "
                    f"{format_length(found.outside, step=1e-4)} outside",
                    "measure it with callipers and put that diameter into the need",
                    item.diameter, found.outside, "m",
                )
            )  # fmt: skip
    return tuple(out)


def _check_transmit(need: Need) -> None:
    _number(need.transmit_power, "transmit.power", low=0.0, high=1.0e5, unit="W")
    labels = [band.label for band in need.bands]
    if need.transmit_power > 0.0 and not need.transmit_band:
        raise NeedError(
            "transmit power without a band",
            where="transmit",
            mend="add band = the label of the band you are licensed for",
        )
    if need.transmit_band:
        if need.transmit_power <= 0.0:
            raise NeedError(
                "a transmit band without power", where="transmit", mend="add power = '5 W' or leave [transmit] out"
            )
        one_of(need.transmit_band, labels, "transmit.band")


def _check_owned(antenna: OwnedAntenna, where: str) -> None:
    if not antenna.name.strip():
        raise NeedError("the antenna has no name", where=where, mend="say what you call it")
    if not antenna.family.strip():
        raise NeedError("the antenna names no family", where=where, mend="add family, like 'discone'")
    _few(tuple(antenna.dimensions), MOST_ITEMS, where)
    for key, value in antenna.dimensions.items():
        _number(value, f"{where}.dimensions.{_short(key)}", low=-LARGEST_LENGTH, high=LARGEST_LENGTH)
