"""INVENTED records for tests of pictures and reports: nothing was solved, the shapes are real, the numbers are not.

The metal has true coordinates, but impedances, gains and costs come from made-up smooth formulas whose only purpose
is to look like a result. No test may compare them with anything in the world.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from aerialwright.antennas.workpiece import Allowance, Bend
from aerialwright.base.errors import Caution
from aerialwright.design.records import (
    BandFigures,
    Comparison,
    Curve,
    Dimension,
    Evaluation,
    Member,
    Piece,
    Proposal,
    Sensitivity,
)
from aerialwright.need.model import Band, FarEnd, FeedLine, Limits, Need, Site, StockItem
from aerialwright.solution.records import Pattern, SelfCheck, Sweep
from aerialwright.structure.model import ApertureFeed, Mesh, Metal, Rod, RodFeed, Structure, Surface

BRONZE = Metal("silicon bronze", 4.0e6, 1.0, "invented")
BRASS = Metal("brass", 15.6e6, 1.0, "invented")

AIR = Band("civil airband", 118.0e6, 136.975e6)
RESCUE = Band("lake rescue boats", 156.0e6, 162.05e6)
WIDE = Band("more airband", 225.0e6, 260.0e6, "wish")


def example_need(*, transmit_power: float = 0.0, title: str = "Listening post at the lake airfield") -> Need:
    return Need(
        title=title,
        question="One antenna on the club-house roof to hear the airfield and the rescue boats, or two?",
        bands=(AIR, RESCUE, WIDE),
        far_end=FarEnd(kind="all round", lowest_elevation=0.0, highest_elevation=20.0),
        polarisation="vertical",
        feed_lines=(FeedLine("RG-6", 25.0, 75.0), FeedLine("RG-58", 25.0, 50.0)),
        site=Site("club-house roof at a grass airfield", 8.0, "residential", ("FM broadcast mast 6 km away",)),
        limits=Limits(largest_size=1.8, tools=("hacksaw", "drill", "soldering iron"), worst_swr=2.5, most_parts=30),
        transmit_power=transmit_power,
        transmit_band="lake rescue boats" if transmit_power else "",
        receiver_impedance=50.0,
        connectors=("N socket", "F plug"),
        stock=(
            StockItem("rod", "silicon bronze", "2.4 mm rods", 16, diameter=2.4e-3, length=1.0),
            StockItem("sheet", "brass", "brass disc", 1, width=0.16, thickness=1e-3),
            StockItem("board", "HDPE", "HDPE board", 1, thickness=15e-3),
        ),
    )


def ground_plane(
    *, rod: float = 0.535, radial: float = 0.56, droop: float = 42.0, name: str = "ground plane"
) -> Structure:
    c, s = math.cos(math.radians(droop)), math.sin(math.radians(droop))
    flange = 0.0127
    tip = (flange + radial * c, 0.0, -radial * s)
    return Structure(
        name=name,
        rods=(
            Rod("rod", ((0.0, 0.0, 0.004), (0.0, 0.0, 0.004 + rod)), 1.2e-3, 1, BRONZE),
            Rod("radial", ((flange, 0.0, 0.0), tip), 1.2e-3, 4, BRONZE),
        ),
        surfaces=(Surface("flange", ((0.0, 0.0), (flange, 0.0)), BRASS, 2e-3),),
        feed=RodFeed("rod", 0.0, 0.004),
    )


def discone(*, wires: int = 12, mesh: bool = False) -> Structure:
    half, slant, disc = math.radians(30.0), 0.66, 0.455
    neck, gap = 0.012, 0.008
    foot = (neck + slant * math.sin(half), -slant * math.cos(half))
    surfaces = [Surface("hub disc", ((0.0, gap), (0.08, gap)), BRASS, 1e-3)]
    rods = [Rod("spoke", ((0.08, 0.0, gap), (0.5 * disc, 0.0, gap)), 1.2e-3, wires, BRONZE)]
    if mesh:
        surfaces.append(Surface("skirt", ((neck, 0.0), foot), BRASS, 1e-3, Mesh(12.7e-3, 1.04e-3)))
    else:
        rods.append(Rod("cone wire", ((neck, 0.0, 0.0), (foot[0], 0.0, foot[1])), 1.2e-3, wires, BRONZE))
    return Structure(
        "discone",
        tuple(rods),
        tuple(surfaces),
        ApertureFeed((0.006, 0.008), (0.012, 0.0)),
        notes=("invented",),
    )


def cage_dipole(*, wires: int = 6) -> Structure:
    radius, half, taper = 0.05, 0.48, 0.08
    rods = []
    for sign, name in ((1.0, "upper cage wire"), (-1.0, "lower cage wire")):
        line = ((0.004, 0.0, sign * 0.01), (radius, 0.0, sign * taper), (radius, 0.0, sign * half))
        rods.append(Rod(name, line, 1.2e-3, wires, BRONZE))
    return Structure(
        "cage dipole",
        tuple(rods),
        tuple(
            Surface(f"end disc {end}", ((0.0, z), (radius, z)), BRASS, 1e-3)
            for end, z in (("top", half), ("foot", -half))
        ),
        ApertureFeed((0.004, 0.01), (0.004, -0.01)),
    )


def invented_impedance(kind: str, frequency: np.ndarray, centre: float) -> np.ndarray:
    x = frequency / centre
    if kind == "resonant":
        return 48.0 * x**2.6 + 1j * 210.0 * (x - 1.0 / x)
    if kind == "wide":
        return 70.0 * x**1.4 + 1j * 95.0 * (x - 1.0 / x)
    ripple = np.cos(2.2 * math.pi * x) * np.exp(-0.4 * x)
    return 55.0 + 18.0 * ripple + 1j * (22.0 * np.sin(2.2 * math.pi * x) / x - 60.0 * np.exp(-6.0 * (x - 0.7)))


def ratio(gamma: np.ndarray) -> np.ndarray:
    magnitude = np.minimum(np.abs(gamma), 0.98)
    return (1.0 + magnitude) / (1.0 - magnitude)


def invented_pattern(frequency: float, *, centre: float) -> Pattern:
    theta = np.linspace(0.0, math.pi, 73)
    phi = np.array([0.0, math.pi])
    t = np.clip(theta, 1e-4, math.pi - 1e-4)
    shape = (np.cos(0.5 * math.pi * np.cos(t)) / np.sin(t)) ** 2 * (1.0 + (frequency / centre - 0.9) * np.cos(t)) ** 2
    gain = 1.6 * shape / shape.max() * (0.8 + 0.3 * min(frequency / centre, 1.4))
    return Pattern(frequency, theta, phi, np.stack([gain, gain], axis=1), np.full((73, 2), 1e-4), 1.7, 0.97)


def band_figures(e: Evaluation, band: Band) -> BandFigures:
    inside = (e.frequency >= band.low) & (e.frequency <= band.high)
    return BandFigures(
        band,
        float(e.swr[inside].max()),
        float(np.median(e.swr[inside])),
        float(e.swr_receiver[inside].max()),
        float(np.median(e.swr_receiver[inside])),
        float(e.gain_wanted[inside].min()),
        float(e.gain_wanted[inside].mean()),
        float(e.realised_gain[inside].min()),
        float(e.realised_gain[inside].mean()),
        float(e.efficiency[inside].min()),
    )


def make_evaluation(
    key: str,
    title: str,
    structure: Structure,
    dimensions: tuple[Dimension, ...],
    *,
    kind: str,
    centre: float,
    family_title: str,
    parts: int = 9,
    pieces: tuple[Piece, ...] = (),
) -> Evaluation:
    frequency = np.linspace(105.0e6, 290.0e6, 149)
    impedance = invented_impedance(kind, frequency, centre)
    gamma = (impedance - 75.0) / (impedance + 75.0)
    swr = ratio(gamma)
    loss = 2.1 * np.sqrt(frequency / 150.0e6)
    wanted = 1.9 - 3.0 * (np.log(frequency / centre)) ** 2
    realised = wanted + 10.0 * np.log10(np.maximum(1.0 - np.abs(gamma) ** 2, 1e-3)) - loss
    inside = frequency[realised >= realised.max() - 3.0]
    reach = max(math.hypot(x, y) + r.radius for r in structure.rods for x, y, _ in r.points)
    heights = [z for r in structure.rods for _, _, z in r.points] + [
        z for s in structure.surfaces for _, z in s.profile
    ]
    sensitivities = tuple(
        Sensitivity(
            d.key,
            d.label,
            d.step,
            d.kind,
            -1e6 * (0.3 + 0.6 * math.sin(1.7 * k)) if d.kind == "length" else 0.1e6,
            1.9 + 0.07 * k,
            1.5 + k,
        )
        for k, d in enumerate(dimensions)
        if d.kind != "count"
    )
    blank = Evaluation(
        key=key,
        title=title,
        family=key.split("-")[0],
        family_title=family_title,
        dimensions=dimensions,
        pieces=pieces,
        structure=structure,
        sweep=Sweep(
            frequency, impedance, np.full(frequency.shape, 0.6), SelfCheck(3.1e-4, 4.0e-3, 1.0e-4, 148, 21, 4e4)
        ),
        frequency=frequency,
        swr=swr,
        swr_low=np.maximum(1.0, swr * 0.95),
        swr_high=swr * 1.05,
        swr_receiver=ratio(gamma * 10 ** (-loss / 10.0)),
        gain_wanted=wanted,
        realised_gain=realised,
        efficiency=np.full(frequency.shape, 0.97),
        half_power_band=(float(inside[0]), float(inside[-1])),
        patterns=tuple(invented_pattern(f, centre=centre) for f in (118e6, 140e6, 162.05e6, 260e6)),
        bands=(),
        sensitivities=sensitivities,
        width=2.0 * reach,
        height=max(heights) - min(heights) + 1e-3,
        parts=parts,
        joints=parts + 2,
        stock_suffices=key != "cage-dipole",
        missing=() if key != "cage-dipole" else ("two brass discs 100 x 1 mm",),
        first_guess=dimensions,
        first_guess_source="an invented rule of thumb",
        assumptions=("Free space: no earth, no mast.", "The coax carries no current outside."),
        cautions=(Caution("caution", "The hub plastic is left out of the model", "trim with the hub fitted"),),
    )
    return dataclasses.replace(blank, bands=tuple(band_figures(blank, b) for b in (AIR, RESCUE, WIDE)))


def _ground_plane_dimensions(rod: float, radial: float, droop: float) -> tuple[Dimension, ...]:
    return (
        Dimension("rod_length", "rod length", rod, "length", "flange face to tip", 1e-3, True),
        Dimension("radial_length", "radial length", radial, "length", "centre of flange hole to tip", 1e-3, True),
        Dimension("radial_droop", "radial droop below level", droop, "angle", "level to radial", 1.0, True),
        Dimension("radial_count", "number of radials", 4.0, "count", "evenly round", 1.0),
        Dimension("rod_diameter", "rod diameter", 2.4e-3, "length", "across", 1e-4),
    )


def ground_plane_evaluation(key: str, title: str, centre: float) -> Evaluation:
    rod, radial = 0.2445 * 299.792e6 / centre, 0.255 * 299.792e6 / centre
    dimensions = _ground_plane_dimensions(round(rod, 3), round(radial, 3), 42.0)
    pieces = (
        Piece(
            "rod",
            1,
            "rod",
            "silicon bronze",
            2.4e-3,
            round(rod, 3),
            (Allowance("trim", 0.016),),
            "flange face",
            stock="2.4 mm rods",
        ),
        Piece(
            "radial",
            4,
            "rod",
            "silicon bronze",
            2.4e-3,
            round(radial, 3),
            (Allowance("solder lap", 0.010, "datum"),),
            "centre of flange hole",
            (Bend(0.005, 42.0, 6e-3),),
            stock="2.4 mm rods",
            remark="bend, then solder",
        ),
        Piece("socket", 1, "part", "N socket, four holes", None, None, (), "", stock="N socket"),
    )
    return make_evaluation(
        key,
        title,
        ground_plane(rod=round(rod, 3), radial=round(radial, 3), name=key),
        dimensions,
        kind="resonant",
        centre=centre,
        family_title="quarter-wave ground plane",
        parts=6,
        pieces=pieces,
    )


def discone_evaluation(*, mesh: bool = False) -> Evaluation:
    dimensions = (
        Dimension("disc_diameter", "disc diameter over spokes", 0.455, "length", "tip to tip", 1e-3, True),
        Dimension("cone_wire_length", "cone wire length", 0.660, "length", "edge of neck to tip", 1e-3, True),
        Dimension("cone_angle", "full cone angle", 60.0, "angle", "wire to opposite wire", 1.0, True),
        Dimension("wire_count", "number of cone wires and spokes", 12.0, "count", "evenly round", 1.0),
        Dimension("hub_disc_diameter", "hub disc diameter", 0.160, "length", "across", 1e-3),
        Dimension("gap", "gap between disc and neck", 0.008, "length", "face to face", 5e-4, True),
        Dimension("wire_diameter", "wire diameter", 2.4e-3, "length", "across", 1e-4),
    )
    pieces = (
        Piece(
            "cone wire",
            12,
            "rod",
            "silicon bronze",
            2.4e-3,
            0.660,
            (Allowance("thread", 0.008, "datum"),),
            "edge of neck",
            stock="2.4 mm rods",
            remark="equal within 1 mm",
        ),
        Piece(
            "spoke",
            12,
            "rod",
            "silicon bronze",
            2.4e-3,
            0.1475,
            (Allowance("lap", 0.020, "datum"),),
            "rim of hub disc",
            stock="2.4 mm rods",
        ),
        Piece("hub disc", 1, "sheet", "brass", None, None, (), "", width=0.16, stock="brass disc"),
        Piece("hub", 1, "part", "HDPE 15 mm, drilled", None, None, (), "", stock="HDPE board"),
    )
    return make_evaluation(
        "discone-mesh" if mesh else "discone-12",
        "Discone with mesh skirt" if mesh else "Discone of 12 wires",
        discone(mesh=mesh),
        dimensions,
        kind="discone",
        centre=150e6,
        family_title="discone",
        parts=26,
        pieces=pieces,
    )


def cage_evaluation() -> Evaluation:
    dimensions = (
        Dimension("overall_length", "overall length", 0.96, "length", "tip to tip", 1e-3, True),
        Dimension("cage_diameter", "cage diameter", 0.10, "length", "centre to centre of wires", 1e-3),
        Dimension("wire_count", "wires in the cage", 6.0, "count", "evenly round", 1.0),
        Dimension("gap", "feed gap", 0.02, "length", "face to face", 1e-3),
    )
    return make_evaluation(
        "cage-dipole",
        "Cage dipole of six wires",
        cage_dipole(),
        dimensions,
        kind="wide",
        centre=138e6,
        family_title="cage dipole",
        parts=18,
    )


def _proposal(rank: int, key: str, title: str, members: tuple[Member, ...], verdict: str, **more: object) -> Proposal:
    bands = []
    for k, band in enumerate((AIR, RESCUE, WIDE)):
        serving = next((m for m in members if band.label in m.band_labels), members[0])
        bands.append(serving.evaluation.bands[k])
    parts = sum(m.evaluation.parts for m in members)
    base = Proposal(
        key,
        title,
        members,
        tuple(bands),
        rank,
        True,
        verdict,
        (),
        (),
        (),
        parts,
        parts + 2,
        all(m.evaluation.stock_suffices for m in members),
    )
    return dataclasses.replace(base, **more)  # type: ignore[arg-type]


def example_comparison(*, pair_first: bool = False, transmit_power: float = 0.0) -> Comparison:
    labels = (AIR.label, RESCUE.label, WIDE.label)
    cone, mesh, cage = discone_evaluation(), discone_evaluation(mesh=True), cage_evaluation()
    air = ground_plane_evaluation("ground-plane-air", "Ground plane for the airband", 127.0e6)
    boats = ground_plane_evaluation("ground-plane-rescue", "Ground plane for the rescue boats", 159.0e6)
    both = ground_plane_evaluation("ground-plane-both", "One drooped ground plane for both", 139.0e6)
    pair = _proposal(
        1 if pair_first else 2,
        "pair",
        "Two ground planes, one for each band",
        (Member(air, (AIR.label,)), Member(boats, (RESCUE.label,))),
        "Each band gets its own simple antenna, but you need a splitter or a second feed line.",
        reasons=("SWR stays under 2.0 on both bands.", "Only 12 cut pieces, all from the rods on the shelf."),
        gives_up=("Nothing useful from 225 to 260 MHz.", "About 3.5 dB lost in a splitter, if one feed line must do."),
    )
    wide = _proposal(
        2 if pair_first else 1,
        "discone-12",
        "Discone of 12 wires",
        (Member(cone, labels),),
        "It covers both bands and the wish through the one feed line you have, with the rods on the shelf.",
        reasons=(
            "SWR is 2.5 or less over 118-136.975 MHz and 156-162.05 MHz.",
            "Realised gain is within 0.6 dB of the best single-band antenna on the airband.",
            "The wish 225-260 MHz comes for nothing.",
        ),
        gives_up=("About 0.5 dB on the rescue band against two ground planes.", "26 pieces to make instead of 12."),
    )
    proposals = sorted((wide, pair), key=lambda p: p.rank)
    third = _proposal(
        3,
        "discone-mesh",
        "Discone with mesh skirt",
        (Member(mesh, labels),),
        "As good, but the skirt catches the wind.",
        reasons=("The same bandwidth as 12 wires.",),
        gives_up=("Weight and wind area.",),
    )
    fourth = _proposal(
        4,
        "cage-dipole",
        "Cage dipole of six wires",
        (Member(cage, labels),),
        "Wide enough for both bands, but the discs must be bought.",
        reasons=("SWR is 2.2 or less on both bands.",),
        gives_up=("The wish-band.",),
    )
    fifth = _proposal(
        5,
        "ground-plane-both",
        "One drooped ground plane for both",
        (Member(both, labels),),
        "Too narrow for the two bands together.",
        serves=False,
        why_not=("civil airband: SWR 4.1 at 118 MHz, asked 2.5 or less.",),
    )
    need = example_need(transmit_power=transmit_power)
    x = np.array([3.0, 4, 6, 8, 12, 16, 24])
    droop = np.linspace(0.0, 60.0, 31)
    curves = (
        Curve(
            "wires",
            "How many wires does the discone need?",
            "number of wires",
            "count",
            x,
            "worst SWR over the must-bands",
            "",
            (("discone", 1.7 + 4.0 / x), ("mesh skirt", np.full(7, 1.75))),
            (("built", 12.0), ("often quoted", 8.0)),
            "From 8 wires to 12 the worst SWR falls by 0.17; beyond 16 by less than 0.1.",
        ),
        Curve(
            "droop",
            "What does the droop of the radials do?",
            "droop below level",
            "angle",
            droop,
            "resistance",
            "ohm",
            (("resistance", 20.0 + 33.0 * np.sin(np.radians(droop))),),
            (("built", 42.0), ("rule of thumb", 45.0)),
            "Five degrees either way change the resistance by 2 ohm: not critical.",
        ),
    )
    return Comparison(
        need,
        (*proposals, third, fourth, fifth),
        (
            (
                "Folded dipole",
                "horizontal slot for a mast clamp is missing; largest side would be 2.02 m, limit 1.80 m",
            ),
            ("Collinear of two", "a band 31 % wide is beyond what it can do"),
        ),
        curves,
        ("All antennas stand in free space.", "Feed line loss is taken from the cable table and may be 20 % off."),
        (
            Caution(
                "caution", "A strong broadcast transmitter is near", "put a band-stop filter before any preamplifier"
            ),
            Caution("safety", "The roof edge is 8 m up", "work with a second person and a harness"),
        ),
        41.7,
        "0.1.0",
    )
