"""A build sheet by hand for tests of the document: INVENTED numbers and words of the usual length, nothing was solved."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from report_fixtures import AIR, example_need, ground_plane_evaluation

from aerialwright.base.errors import Caution
from aerialwright.design.records import Evaluation
from aerialwright.sheet.cut_list import cut_list
from aerialwright.sheet.records import (
    BuildSheet,
    CutLine,
    Expected,
    SheetUse,
    StockPlan,
    StockUse,
    TestCard,
    Tolerance,
    TrimRow,
    WorkStep,
)

KERF = 1e-3


def cut_lines(evaluation: Evaluation) -> tuple[CutLine, ...]:
    """The real cut list of invented pieces, with an invented tolerance on rods."""
    words = "1 mm moves the dip by 0.24 MHz, a tenth of the band"
    close = Tolerance(1e-3, "length", -2.35e5, 0.12 - 0.9j, words)
    return tuple(replace(line, tolerance=close) if line.shape == "rod" else line for line in cut_list(evaluation, None))


def stock_plan(lines: tuple[CutLine, ...]) -> StockPlan:
    """One bar of a metre for each two cuts, and one sheet."""
    cuts = [(line.name, line.cut) for line in lines if line.shape == "rod" and line.cut for _ in range(line.quantity)]
    bars = []
    for number, start in enumerate(range(0, len(cuts), 1), 1):
        used = cuts[start : start + 1]
        left = 1.0 - sum(length + KERF for _, length in used)
        bars.append(StockUse("2.4 mm rods", number, 1.0, tuple(used), KERF, left))
    return StockPlan(
        tuple(bars), (SheetUse("brass plate", 1, 0.3, 0.2, (("flange", 0.01, 0.01, 0.08, 0.08),)),),
        ("1 N socket with four-hole flange", "8 screws M3 x 10 mm with nuts and star washers, brass"), True,
        "integer programme; fewest bars, then longest leftover",
    )  # fmt: skip


def test_card(evaluation: Evaluation) -> TestCard:
    rows = tuple(
        Expected(label, f, 1.4, 0.05, 48.0 + 6.5j, 1.8, 1.25, 56.0 - 3.0j, 1.5)
        for label, f in (("low edge", AIR.low), ("middle", AIR.centre), ("dip", 127.4e6), ("high edge", AIR.high))
    )
    return TestCard(
        "the face of the N socket, with the analyser calibrated at the end of the same short lead",
        (
            "Hang it from a wooden pole so that every tip is at least 2 m and half a wavelength from ground and metal.",
            "Stand 2 m away; the coax leaves straight down for half a wavelength.",
        ),
        127.4e6, 1.1, 2.5e6, 90e6, 165e6, example_need().feed_lines[1], rows,
        tuple(TrimRow(k * 1e6, "rod", -k * 2.3e-3, -k * 1.4e-3) for k in (0.5, 1.0, 2.0, 4.0)),
        "If the dip lies ABOVE the wanted frequency the rod is too short: make it longer, do not cut.",
        (
            ("No dip anywhere", "Open or short at the socket: measure centre to flange, open without the radials' bleed."),
            ("SWR low and flat over the whole sweep", "The coax is lossy or wet: measure with the far end open."),
            ("SWR moves when a hand slides along the coax", "The choke is missing or too far from the feed."),
        ),
    )  # fmt: skip


def ground_plane_sheet(**changes: Any) -> BuildSheet:
    """A whole sheet for an invented ground plane; ``changes`` replace fields of the record."""
    evaluation = ground_plane_evaluation("ground-plane-air", "Ground plane for the airband", 127.0e6)
    need = replace(example_need(), feed_lines=example_need().feed_lines[1:])
    lines = cut_lines(evaluation)
    steps = tuple(
        WorkStep(
            f"{verb} the {what}.", f"Check: {check}.", "Wear eye protection: the tip springs." if k % 4 == 2 else ""
        )
        for k, (verb, what, check) in enumerate(
            (
                ("Read", "whole sheet and lay out every part of the list", "nothing is missing"),
                ("Cut", "rod and four radials to the CUT lengths of the list", "each within 1 mm, ends square"),
                ("Deburr", "ends with a fine file", "no edge catches a fingernail"),
                ("Bend", "radials at the marks to 42° over the full-size gauge", "all four lie on the gauge together"),
                ("Tin", "rod's lower 8 mm and the pin's cup", "bright all round"),
                ("Solder", "rod into the pin, with a mated plug in the socket to hold the pin", "rod stands upright"),
                ("Screw", "radials to the flange", "each below 0.5 ohm to the flange"),
                ("Measure", "insulation from pin to flange", "open, above 1 megohm"),
            )
        )
    )
    sheet = BuildSheet(
        title=evaluation.title, need=need, evaluation=evaluation, band_labels=(AIR.label,),
        promise=(
            "SWR 1.4 to 1.9 over 118–136.975 MHz at the antenna; below 1.6 at the receiver behind 25 m of RG-58.",
            "Realised gain -1.1 to 0.3 dBi toward 0 to 20 degrees.",
            "Free space: no earth, no mast. The coax carries no current outside.",
        ),
        tools=("hacksaw with a fine blade", "flat file", "vice with soft jaws", "soldering iron, 80 W or more", "drill"),
        parts=(
            ("rod, silicon bronze 2.4 mm", 1, "any copper alloy from 2 to 4 mm: the dip moves by less than 0.5 MHz"),
            ("radial, silicon bronze 2.4 mm", 4, ""),
            ("N socket with four-hole flange", 1, "measure the hole square before drilling"),
        ),
        cut_list=lines, plan=stock_plan(lines), steps=steps,
        joints=("Bronze to brass: clean bright, rosin flux, electronics solder. No plumbing flux.",),
        strip_back=(("outer jacket off", 0.022), ("braid left", 0.012), ("centre bared", 0.006)),
        choke=("5 turns of the feed coax, 55 mm across, side by side, straight below the flange.",
               "Ties every quarter turn; the ends leave on opposite sides."),
        weather=("Self-fusing tape from below upward over plug and socket.", "UV tape over it.", "Leave a 3 mm drain hole."),
        mounting=("At least 0.6 m from the mast to any radial.", "Drip loop below the first clamp."),
        test=test_card(evaluation),
        safety=(
            Caution("safety", "Power lines first", "Keep twice the height of mast and antenna from any line."),
            Caution("safety", "Lightning and bonding", "Have it done or checked by a licensed electrician."),
        ),
        version="0.1.0", design_id="7F3A-19C2",
    )  # fmt: skip
    return replace(sheet, **changes)
