"""Small needs for tests: one or two bands, few things on the shelf, so that an answer takes a second and not ten."""

from __future__ import annotations

from dataclasses import replace

from aerialwright.antennas.catalogue import family
from aerialwright.antennas.family import Conductor, Plan, Shelf
from aerialwright.antennas.records import Dimension
from aerialwright.design.model import Design, span_of
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, OwnedAntenna, Site, StockItem

MHZ = 1e6
RODS = StockItem("rod", "brass", "brass rods", 40, diameter=3.2e-3, length=1.0)
TUBE = StockItem("tube", "copper", "copper pipe", 2, diameter=15e-3, wall=0.7e-3, length=3.0)
SHEET = StockItem("sheet", "aluminium", "roofing sheet", 4, width=4.0, length=4.0, thickness=1e-3)
CLOTH = StockItem(
    "mesh", "galvanised steel", "hardware cloth", 4, width=4.0, length=4.0, pitch=12.7e-3, wire_diameter=1.04e-3
)


def need_for(
    *ranges: tuple[float, float],
    wish: tuple[float, float] | None = None,
    stock: tuple[StockItem, ...] = (RODS,),
    reference: float = 50.0,
    line_length: float = 10.0,
    worst_swr: float = 2.0,
    largest: float = 6.0,
    most_parts: int | None = None,
    polarisation: str = "vertical",
    site: str = "mast in a garden",
    far_end: FarEnd | None = None,
    owned: tuple[OwnedAntenna, ...] = (),
    connectors: tuple[str, ...] = ("N",),
) -> Need:
    """A need for must-bands ``ranges`` [MHz] on RG-58, or on RG-6 where ``reference`` is 75 ohm."""
    bands = [Band(f"band {number}", low * MHZ, high * MHZ) for number, (low, high) in enumerate(ranges, 1)]
    if wish is not None:
        bands.append(Band("wished band", wish[0] * MHZ, wish[1] * MHZ, "wish"))
    return Need(
        title="small need",
        question="",
        bands=tuple(bands),
        far_end=far_end or FarEnd(),
        polarisation=polarisation,
        feed_lines=(FeedLine("RG-6" if reference == 75.0 else "RG-58", line_length, reference),),
        site=Site(site, metal_sheet=1000.0 if "roof" in site else 0.0),
        limits=Limits(largest_size=largest, worst_swr=worst_swr, most_parts=most_parts),
        connectors=connectors,
        stock=stock,
        owned=owned,
    )


def plans_for(key: str, need: Need) -> list[Plan]:
    """Every plan of a family for a need's must-bands."""
    return family(key).plans(need, Shelf(need), span_of(need.must_bands))


def design_for(key: str, need: Need, *, plan: int = 0, **changes: float) -> Design:
    """A family at its first guess for a need, with some values changed."""
    chosen = plans_for(key, need)[plan]
    values, _ = family(key).first_guess(chosen, span_of(need.must_bands))
    return Design(key, chosen, {**values, **changes})


def with_metal(plan: Plan, role: str, conductor: Conductor) -> Plan:
    """The plan with other metal in one role."""
    return replace(plan, metals={**plan.metals, role: conductor})


def values_of(dimensions: tuple[Dimension, ...]) -> dict[str, float]:
    """Dimensions back as values."""
    return {dimension.key: dimension.value for dimension in dimensions}
