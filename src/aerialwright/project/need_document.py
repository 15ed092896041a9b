"""A need as the plain tables of need.toml, quantities as text that reads back exactly."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from aerialwright.base.errors import ProjectError
from aerialwright.base.units import exact_text
from aerialwright.need.model import FeedLine, Need, OwnedAntenna, Satellite, Site, StockItem


def need_document(need: Need, *, dimension_kinds: Mapping[str, str] | None = None) -> dict[str, Any]:
    """``need`` as the plain tables of need.toml, quantities as text that reads back exactly.

    ``dimension_kinds`` gives ``"length"``, ``"angle"`` or ``"count"`` for the dimension names of owned antennas.
    """
    document: dict[str, Any] = {"title": need.title}
    if need.question:
        document["question"] = need.question
    document["polarisation"] = need.polarisation
    if need.connectors:
        document["connectors"] = list(need.connectors)
    document["band"] = [
        {
            "label": band.label,
            "low": exact_text(band.low, "frequency"),
            "high": exact_text(band.high, "frequency"),
            "importance": band.importance,
        }
        for band in need.bands
    ]
    far = need.far_end
    document["far_end"] = {
        "kind": far.kind,
        "lowest_elevation": exact_text(far.lowest_elevation, "angle"),
        "highest_elevation": exact_text(far.highest_elevation, "angle"),
    }
    if far.kind == "sector" or (far.azimuth, far.width) != (0.0, 360.0):
        document["far_end"] |= {"azimuth": exact_text(far.azimuth, "angle"), "width": exact_text(far.width, "angle")}
    document["feed_line"] = [_line_table(line) for line in need.feed_lines]
    document["receiver"] = {"impedance": exact_text(need.receiver_impedance, "impedance")}
    if need.receiver_noise_figure is not None:
        document["receiver"]["noise_figure"] = exact_text(need.receiver_noise_figure, "decibel")
    if need.preamplifier is not None:
        document["preamplifier"] = {
            "noise_figure": exact_text(need.preamplifier.noise_figure, "decibel"),
            "gain": exact_text(need.preamplifier.gain, "decibel"),
        }
    document["site"] = _site_table(need.site)
    if need.site_alternatives:
        document["site_alternative"] = [_site_table(site) for site in need.site_alternatives]
    if need.satellite is not None:
        document["satellite"] = _satellite_table(need.satellite)
    document["limits"] = {
        "largest_size": exact_text(need.limits.largest_size, "length"),
        "tools": list(need.limits.tools),
        "worst_swr": need.limits.worst_swr,
    }
    if need.limits.most_parts is not None:
        document["limits"]["most_parts"] = need.limits.most_parts
    if need.transmit_power > 0.0:
        document["transmit"] = {"power": exact_text(need.transmit_power, "power"), "band": need.transmit_band}
    if need.stock:
        document["stock"] = [_item_table(item) for item in need.stock]
    if need.cover is not None:
        document["cover"] = {"stock": need.cover.stock}
    if need.owned:
        document["owned"] = [_owned_table(item, dimension_kinds or {}) for item in need.owned]
    return document


def _site_table(site: Site) -> dict[str, Any]:
    table: dict[str, Any] = {"name": site.name} if site.name else {}
    table |= {
        "description": site.description,
        "height": exact_text(site.height, "length", unit="m"),
        "noise": site.noise,
        "nearby": list(site.nearby),
    }
    if site.metal_sheet:
        table["metal_sheet"] = exact_text(site.metal_sheet, "length", unit="m")
    if site.ground != Site.ground:
        table["ground"] = site.ground
    for key in ("latitude", "longitude"):
        value = getattr(site, key)
        if value is not None:
            table[key] = exact_text(value, "angle")
    if site.horizon:
        table["horizon"] = [[exact_text(value, "angle") for value in pair] for pair in site.horizon]
    return table


def _satellite_table(satellite: Satellite) -> dict[str, Any]:
    table: dict[str, Any] = {"name": satellite.name}
    if satellite.elements_file:
        table["elements_file"] = satellite.elements_file
    else:
        table["elements"] = satellite.elements
    table |= {
        "band": satellite.band,
        "power": exact_text(satellite.power, "power"),
        "antenna": satellite.antenna,
        "gain": exact_text(satellite.gain, "gain"),
        "modulation": satellite.modulation,
    }
    if satellite.first_day is not None:
        table["first_day"] = satellite.first_day
    return table


def _line_table(line: FeedLine) -> dict[str, Any]:
    table = {
        "type": line.type,
        "length": exact_text(line.length, "length", unit="m"),
        "impedance": exact_text(line.impedance, "impedance"),
    }
    if line.loss is not None and line.loss_frequency is not None:
        table |= {
            "loss": exact_text(line.loss, "decibel"),
            "loss_frequency": exact_text(line.loss_frequency, "frequency"),
        }
    return table


def _item_table(item: StockItem) -> dict[str, Any]:
    table: dict[str, Any] = {"kind": item.kind, "material": item.material}
    if item.label:
        table["label"] = item.label
    table["quantity"] = item.quantity
    for name in ("diameter", "wall", "length", "width", "thickness", "pitch", "wire_diameter", "insulation_diameter"):
        value = getattr(item, name)
        if value is not None:
            table[name] = exact_text(value, "length")
    if item.insulation:
        table["insulation"] = item.insulation
    return table


def _owned_table(item: OwnedAntenna, kinds: Mapping[str, str]) -> dict[str, Any]:
    dimensions: dict[str, Any] = {}
    for key, value in item.dimensions.items():
        kind = kinds.get(key)
        if kind is None:
            raise ProjectError(
                "its kind (length, angle, count) is not known, so it cannot be written",
                where=f"{item.name}.{key}",
                mend="give the kinds of the family's dimensions",
            )
        dimensions[key] = int(value) if kind == "count" else exact_text(value, kind)
    return {"name": item.name, "family": item.family, "dimensions": dimensions}
