"""A need that does not hold together is refused with the place and the remedy."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import pytest

from aerialwright.base.errors import NeedError
from aerialwright.need.check import STOCK_FIELDS, check_need
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, OwnedAntenna, Site, StockItem

MARINE = Band("marine", 156e6, 162.05e6)
ROD = StockItem("rod", "brass", "rods", 6, diameter=0.0032, length=1.0)
SOUND = Need(
    title="a watch post",
    question="",
    bands=(MARINE,),
    far_end=FarEnd(),
    polarisation="vertical",
    feed_lines=(FeedLine("RG-58", 10.0),),
    site=Site(),
    limits=Limits(tools=("drill",)),
    connectors=("N", "so-239"),
    stock=(ROD, StockItem("sheet", "brass", diameter=0.16, thickness=0.001)),
    transmit_power=5.0,
    transmit_band="marine",
    owned=(OwnedAntenna("old one", "discone", {"disc": 0.3}),),
)


def with_(**changes: Any) -> Need:
    return dataclasses.replace(SOUND, **changes)


def far(**changes: Any) -> Need:
    return with_(far_end=FarEnd(**changes))


def bands(*given: Band) -> Need:
    return with_(bands=given, transmit_power=0.0, transmit_band="")


def line(**changes: Any) -> Need:
    return with_(feed_lines=(FeedLine(**{"type": "RG-58", "length": 10.0, **changes}),))


def stock(**changes: Any) -> Need:
    return with_(stock=(dataclasses.replace(ROD, **changes),))


def limits(**changes: Any) -> Need:
    return with_(limits=Limits(**changes))


def test_a_sound_need_passes() -> None:
    assert check_need(SOUND) is None


@pytest.mark.parametrize(
    ("need", "where", "message"),
    [
        (with_(title="  "), "title", "no title"),
        (bands(), "band", "no band"),
        (bands(*[dataclasses.replace(MARINE, label=str(i)) for i in range(99)]), "band", "more than"),
        (bands(Band("", 1e8, 2e8)), "band 1", "no label"),
        (bands(MARINE, Band("Marine ", 2e8, 3e8)), "band 2", "used twice"),
        (bands(Band("a", 2e8, 1e8)), "band 1", "lower frequency first"),
        (bands(Band("a", 2e8, 2e8)), "band 1", "lower frequency first"),
        (bands(Band("a", 0.0, 1e8)), "low", "not a frequency"),
        (bands(Band("a", math.nan, 1e8)), "low", "not a frequency"),
        (bands(Band("a", 1e8, math.inf)), "high", "not a frequency"),
        (bands(Band("a", -1e8, 1e8)), "low", "not a frequency"),
        (bands(Band("a", 156.8, 162.0)), "low", "do you mean 156.8 kHz"),
        (bands(Band("a", 156.8e3, 162.0e3)), "low", "do you mean 156.8 MHz"),
        (bands(Band("a", 156.8e9, 162.0e9)), "low", "do you mean 156.8 MHz"),
        (bands(Band("a", 1e8, 2e8, "shoud")), "importance", "allowed: 'must', 'wish'"),
        (bands(Band("a", 1e8, 2e8, "wish")), "band", "only a wish"),
        (far(kind="all around"), "far_end.kind", "did you mean 'all round'"),
        (far(lowest_elevation=95.0, highest_elevation=96.0), "lowest_elevation", "outside"),
        (far(lowest_elevation=20.0, highest_elevation=10.0), "far_end", "lower elevation first"),
        (far(lowest_elevation=math.nan), "lowest_elevation", "not a number"),
        (far(kind="sector", width=0.0), "width", "outside"),
        (far(kind="sector", azimuth=1e9), "azimuth", "outside"),
        (with_(polarisation="verticle"), "polarisation", "did you mean 'vertical'"),
        (with_(feed_lines=()), "feed_line", "no feed line"),
        (line(type="RG-58X"), "feed_line 1.type", "did you mean"),
        (line(length=-1.0), "feed_line 1.length", "outside"),
        (line(length=math.inf), "feed_line 1.length", "not a number"),
        (line(impedance=0.0), "impedance", "outside"),
        (line(loss=3.0), "loss", "needs its frequency"),
        (line(loss_frequency=1e8), "loss_frequency", "without a loss"),
        (line(loss=-3.0, loss_frequency=1e8), "loss", "outside"),
        (line(type="other"), "feed_line 1", "measured loss"),
        (with_(receiver_impedance=0.0), "receiver.impedance", "outside"),
        (with_(connectors=("PL-999",)), "connectors", "not a known connector"),
        (stock(kind="bar"), "kind", "allowed: 'rod'"),
        (stock(material="unobtainium"), "material", "not a known metal"),
        (stock(material=" "), "stock 1 (rods)", "material is missing"),
        (stock(kind="pipe", material="brass"), "material", "not a known plastic"),
        (stock(diameter=None), "stock 1 (rods)", "needs its diameter"),
        (stock(length=None), "stock 1 (rods)", "needs its length"),
        (stock(diameter=-0.003), "diameter", "outside"),
        (stock(diameter=0.0), "diameter", "outside"),
        (stock(diameter=math.nan), "diameter", "not a number"),
        (stock(pitch=0.01), "pitch", "has no pitch"),
        (stock(quantity=0), "quantity", "sensible quantity"),
        (stock(quantity=10**9), "quantity", "sensible quantity"),
        (stock(quantity=True), "quantity", "sensible quantity"),
        (stock(diameter=3.2), "diameter", "not a rod"),
        (stock(diameter=0.5, length=0.1), "length", "shorter than it is thick"),
        (stock(kind="tube", wall=0.01), "wall", "more than half"),
        (
            stock(kind="mesh", diameter=None, width=1.0, pitch=0.001, wire_diameter=0.002),
            "pitch",
            "thicker than its pitch",
        ),
        (with_(site=Site(noise="loud")), "site.noise", "allowed: 'city'"),
        (with_(site=Site(height=-1.0)), "site.height", "outside"),
        (with_(site=Site(height=1e6)), "site.height", "outside"),
        (limits(largest_size=0.0), "largest_size", "outside"),
        (limits(worst_swr=1.0), "worst_swr", "outside"),
        (limits(most_parts=0), "most_parts", "not a number of parts"),
        (limits(tools=("hand drill",)), "limits.tools", "did you mean 'drill'"),
        (with_(transmit_power=-1.0), "transmit.power", "outside"),
        (with_(transmit_band="airband"), "transmit.band", "allowed: 'marine'"),
        (with_(transmit_band=""), "transmit", "without a band"),
        (with_(transmit_power=0.0), "transmit", "without power"),
        (with_(owned=(OwnedAntenna("", "discone"),)), "owned 1", "no name"),
        (with_(owned=(OwnedAntenna("a", ""),)), "owned 1", "no family"),
        (with_(owned=(OwnedAntenna("a", "discone", {"disc": math.nan}),)), "owned 1.dimensions.disc", "not a number"),
    ],
)
def test_what_does_not_hold_is_named(need: Need, where: str, message: str) -> None:
    with pytest.raises(NeedError, match=message) as caught:
        check_need(need)
    assert where in caught.value.where
    assert caught.value.mend
    assert caught.value.one_line().isprintable()


@pytest.mark.parametrize("kind", STOCK_FIELDS)
def test_every_kind_of_stock_can_be_given_and_needs_each_of_its_measures(kind: str) -> None:
    required, optional = STOCK_FIELDS[kind]
    sizes = {
        "diameter": 0.02,
        "wall": 0.001,
        "length": 1.0,
        "width": 0.5,
        "thickness": 0.001,
        "pitch": 0.0127,
        "wire_diameter": 0.001,
    }
    full = StockItem(kind, "PVC" if kind in ("pipe", "board") else "brass", **{name: sizes[name] for name in required})
    check_need(with_(stock=(full,)))
    check_need(with_(stock=(dataclasses.replace(full, **{n: sizes[n] for n in optional if n != "diameter"}),)))
    for name in required:
        with pytest.raises(NeedError, match=f"needs its {name.replace('_', ' ')}"):
            check_need(with_(stock=(dataclasses.replace(full, **{name: None}),)))


def test_stock_accepts_any_known_line() -> None:
    check_need(line(type="other", impedance=60.0, loss=2.0, loss_frequency=150e6))
    check_need(line(type="RG-58", loss=2.0, loss_frequency=150e6))
