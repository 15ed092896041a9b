"""The order of work and everything that is said beside it: joints, strip-back, choke, weather, mounting."""

from __future__ import annotations

import itertools
import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from aerialwright.antennas.records import COAX_STEPS, Piece
from aerialwright.antennas.socket import FOOT
from aerialwright.antennas.workpiece import ConeSheet, WorkStep
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.printing import format_frequency, format_length
from aerialwright.design.common_mode import CHOKE_AT, RADIATES, choke_of, chokes, coax_diameter, coil_of
from aerialwright.design.model import span_of
from aerialwright.design.records import Evaluation
from aerialwright.need.model import Band, Need
from aerialwright.stock.cables import OTHER, cable
from aerialwright.stock.metals import corrosion_voltage, metal
from aerialwright.stock.tables import StockError

#: Less than this across [m] is the thickness of a rod, not the size of an antenna.
THIN = 50e-3


@cache
def notes() -> dict[str, Any]:
    """The workshop's notes, ``notes.toml``."""
    with Path(__file__).with_name("notes.toml").open("rb") as stream:
        return tomllib.load(stream)


def work_steps(evaluation: Evaluation, *, trimmed: bool, coax: bool) -> tuple[WorkStep, ...]:
    """From the shelf to the pole: common steps round those of the family.

    ``trimmed``: the test card has something to trim; ``coax``: the need says what coax there is, so its far end is predicted.
    """
    shapes = {piece.shape for piece in evaluation.pieces}
    design = evaluation.design
    socketed = design is not None and design.family.socketed
    pipe, roof, caps = "pipe" in shapes, on_roof(evaluation), has_caps(evaluation)
    holds = {
        "always": True,
        "patterns": (socketed and design is not None and not design.plan.socket.bare)
        or any(piece.form is not None or piece.bends for piece in evaluation.pieces),
        "rods": bool(shapes & {"rod", "tube", "wire"}),
        "pipe_over": pipe and socketed,
        "side_hole": pipe and not socketed,
        "choke": needs_choke(evaluation),
        "caps": caps and not pipe,
        "caps_over": caps and pipe and socketed,
        "caps_beside": caps and pipe and not socketed,
        "pipe": pipe,
        "edges": bool(shapes & {"sheet", "mesh"}) and not caps,
        "hung": not roof,
        "roof": roof,
        "trimmed": trimmed and not pipe,
        "trimmed_inside": trimmed and pipe,
        "coax": coax,
    }

    def common(part: str) -> list[WorkStep]:
        rows = (row for row in notes()[part] if holds[row["when"]])
        return [WorkStep(row["action"], row["check"], row.get("caution", "")) for row in rows]

    own = list(design.family.steps(design.plan, design.values)) if design is not None else []
    led_away = own.index(COAX_STEPS[-1]) if COAX_STEPS[-1] in own else len(own)
    return (*common("before"), *own[:led_away], *common("cover"), *own[led_away:], *common("after"))


def on_roof(evaluation: Evaluation) -> bool:
    """True for an antenna that stands on a sheet which is there already."""
    return evaluation.structure.ground == "perfect"


def has_caps(evaluation: Evaluation) -> bool:
    """True where rod or tube ends get caps."""
    return any(piece.name.endswith(" cap") for piece in evaluation.pieces)


def needs_choke(evaluation: Evaluation) -> bool:
    """True where the coax was found to carry current, or leaves from between two halves."""
    mode = evaluation.common_mode
    if mode is not None and mode.cases:
        return choke_of(mode) is not None
    return evaluation.design is None or not evaluation.design.family.socketed


def joint_notes(evaluation: Evaluation) -> tuple[str, ...]:
    """How the metals at hand are joined, and which pairs must not touch in weather."""
    table = notes()
    made, bought = _metals(evaluation.pieces)
    out = [table["joint"][metal(name).solder].format(metal=metal(name).title) for name in made]
    design = evaluation.design
    # Where the coax itself is joined to the halves its copper touches them.
    touching = list(dict.fromkeys([*made, *bought, *(() if design is None or design.family.socketed else ("copper",))]))
    limits = table["contact"]
    for one, other in itertools.combinations(touching, 2):
        volts = corrosion_voltage(one, other)
        if volts <= limits["by_sea"] or {one, other} <= {*bought, "copper"}:
            continue
        noble = max((one, other), key=lambda name: metal(name).potential)
        word = "fixing" if noble in bought else "never" if volts > limits["under_cover"] else "with_care"
        base = other if noble == one else one
        out.append(limits[word].format(noble=noble, base=base, volts=f"{volts:.2f}"))
    return tuple(out)


def _metals(pieces: tuple[Piece, ...]) -> tuple[list[str], list[str]]:
    """Metals of the pieces that are cut, and of the bought parts, that the table knows; each once."""
    found: tuple[list[str], list[str]] = ([], [])
    for piece in pieces:
        try:
            found[piece.shape == "part"].append(metal(piece.material).key)
        except StockError:
            # Plastic, a socket's title: nothing that corrodes here.
            continue
    made = list(dict.fromkeys(found[0]))
    return made, [name for name in dict.fromkeys(found[1]) if name not in made]


def strip_back(evaluation: Evaluation) -> tuple[tuple[str, float], ...]:
    """(what, length [m] from the cut end of the cable); from memory, as each line says."""
    design = evaluation.design
    socket = design.plan.socket if design is not None and design.family.socketed else None
    if socket is not None and socket.bare:
        bare = socket.pin_length + FOOT
        rows = [("jacket off, braid combed out flat", bare + 0.02), ("dielectric off the centre conductor", bare)]
    else:
        key = socket.key if socket is not None else "halves"
        rows = [(what, mm * 1e-3) for what, mm in notes()["strip"][key]["steps"]]
    return tuple((f"{what} (from memory: measure yours)", length) for what, length in rows)


def choke_card(evaluation: Evaluation, need: Need, bands: tuple[Band, ...]) -> tuple[str, ...]:
    """What choke, how it is wound, and what it was computed to do."""
    frequency = span_of(bands).centre
    mode = evaluation.common_mode
    out: list[str] = []
    if mode is not None:
        # The report asks whether the coax radiates; here its answer stands alone.
        reading = mode.reading.removeprefix("Yes: ").removeprefix("No: ")
        out.append(f"{reading[:1].upper()}{reading[1:]}")
    best = choke_of(mode) if mode is not None else None
    if mode is not None and mode.cases and best is None:
        return (
            *out,
            f"No choke is needed for these bands: the coax carries less than {RADIATES:.0f} dB of the feed current.",
        )
    if best is not None:
        out.append(
            f"Take {best.title}: {round(abs(best.impedance), -1):.0f} ohm at {format_frequency(frequency, digits=0)} ({best.basis})."
        )
    others = [line for key, line in _choke_lines(need, frequency) if best is None or key != best.key]
    instead = best is not None and former(need, frequency) is not None
    out += [f"Instead of it: {line[:1].lower()}{line[1:]}" for line in others] if instead else others
    place = CHOKE_AT * SPEED_OF_LIGHT / frequency
    turns = " Turns side by side, tied; entry and exit apart." if former(need, frequency) is not None else ""
    out.append(f"Place: no further than {format_length(place, step=1e-3)} from the feed along the coax.{turns}")
    return tuple(out)


def former(need: Need, frequency: float) -> float | None:
    """Diameter [m] that the coil of the coax is wound on; None where this coax cannot be wound so small."""
    radius = coil_of(frequency).radius
    return 2.0 * radius - coax_diameter(need) if radius >= 0.95 * _tightest(need) else None


def _tightest(need: Need) -> float:
    """The smallest radius [m] that the coax in use bears."""
    kind = need.feed_lines[0].type
    return 5.0 * coax_diameter(need) if kind == OTHER else cable(kind).bend_radius


def _choke_lines(need: Need, frequency: float) -> list[tuple[str, str]]:
    """(key, line) of the coil of this coax for this frequency, or why it cannot be wound so small; and of ferrites."""
    coil, wound_on = coil_of(frequency), former(need, frequency)
    by_key = {choke.key: choke for choke in chokes(frequency)}
    ohms = {key: abs(choke.load.impedance(frequency)) for key, choke in by_key.items()}
    if wound_on is None:
        card = (
            f"No coil of this coax: for this band it would bend it to {format_length(coil.radius, step=1e-3)}, and it bears "
            f"{format_length(_tightest(need), step=1e-3)}. A short tail of thinner coax can be wound."
        )
    else:
        across, wound = (format_length(size, step=1e-3) for size in (wound_on, coil.wound))
        card = (
            f"Coil: {coil.turns} tight turns of the coax on a former of {across} ({wound} of coax in it): about "
            f"{coil.inductance * 1e6:.2g} µH, {round(ohms['coil'], -2):.0f} ohm with its own resonance 10 % off. More turns are worse "
            "here: their own capacitance takes over."
        )
    ferrites = f"Ferrites: {by_key['beads'].title}, {ohms['beads']:.0f} ohm ({by_key['beads'].basis})."
    # Where the coil is the best of them its winding card is still wanted.
    return [("winding", card), ("beads", ferrites)]


def weather_notes(evaluation: Evaluation) -> tuple[str, ...]:
    """Layers of the seal, drain and inspection."""
    table = notes()["weather"]
    socketed = evaluation.design is not None and evaluation.design.family.socketed
    drain = table["drain"].format(hole=format_length(table["hole"] * 1e-3))
    return (*table["socket" if socketed else "halves"], drain, table["inspect"])


def mounting_notes(evaluation: Evaluation, need: Need, bands: tuple[Band, ...]) -> tuple[str, ...]:
    """Clearances computed from the wave and the height, and how coax and mast are held."""
    span = span_of(bands)
    wave = span.wavelength(span.low)
    half, quarter = (clear(part * wave) for part in (0.5, 0.25))
    top = need.site.height + evaluation.height
    roof, design = on_roof(evaluation), evaluation.design
    # Two halves that stand have their feed in the middle: the mast goes beside them, not below.
    beside = design is not None and not design.family.socketed and not design.plan.horizontal
    out = [
        f"Metal that runs the same way as the antenna (mast, gutter, another antenna): {half} away or more, half a wave at "
        f"{format_frequency(span.low)}. At a quarter wave, {quarter}, it is part of the antenna.",
        f"In the middle of the sheet, {quarter} (a quarter wave) or more from its edges."
        if roof
        else f"On an arm of wood or plastic {half} or more from the mast; an arm of metal only at a right angle to the antenna."
        if beside
        else "Best on top of the mast, above everything else on it.",
        f"Fall circle: nothing electric within twice the height. With its foot {need.site.height:g} m up and its top {top:.1f} m, that is "
        f"{2.0 * top:.0f} m all round; count from the ground that the mast stands on.",
        f"Size: {extent(evaluation)}. Keep every part of it out of reach of people and branches.",
        f"Strain relief: tie the coax {'below the sheet' if roof else 'to the mast'} within 300 mm of the antenna and every metre below; a "
        "drip loop before the house.",
    ]
    if not roof:
        out.append(
            f"Clamps: two {'on the arm' if beside else 'for a mast end'}, a hand's length apart or more; stainless, tightened again "
            "after a week."
        )
    if (
        evaluation.design is not None
        and evaluation.design.family.socketed
        and not roof
        and not evaluation.design.plan.socket.bare
    ):
        out.append(
            "Bracket: an angle or plate under the socket's flange, on the same screws, drilled by the flange template; leave room for "
            "the plug. It joins the mast to the coax screen: bond both."
        )
    if evaluation.design is not None and not evaluation.design.family.socketed:
        out.insert(
            2,
            f"The coax leaves at a right angle for {quarter} (a quarter wave) before it turns down.",
        )
    out += [f"Near it: {text}. Not in the numbers." for text in need.site.nearby]
    return tuple(out)


def extent(evaluation: Evaluation) -> str:
    """How large it is; a single rod has no width worth telling."""
    wide, high = (format_length(size, step=1e-3) for size in (evaluation.width, evaluation.height))
    sizes = [f"{wide} across"] * (evaluation.width >= THIN) + [f"{high} high"] * (evaluation.height >= THIN)
    return ", ".join(sizes)


def clear(distance: float) -> str:
    """A distance [m] to keep at least: paced out, not marked, so rounded up."""
    return (
        f"{math.ceil(10.0 * distance) / 10.0:.1f} m"
        if distance >= 1.0
        else format_length(math.ceil(100.0 * distance) / 100.0)
    )


def tools_for(evaluation: Evaluation) -> tuple[str, ...]:
    """What to have at hand."""
    table, pieces = notes()["tools"], evaluation.pieces
    out = list(table["always"])
    if any(piece.shape in ("rod", "tube", "wire", "pipe") for piece in pieces):
        out += table["long"]
    if any(piece.bends for piece in pieces):
        out += table["bends"]
    if any(piece.shape in ("sheet", "mesh") for piece in pieces) or any(isinstance(p.form, ConeSheet) for p in pieces):
        out += [*table["flat"], *table["drill"]]
    elif on_roof(evaluation) or any(piece.shape == "pipe" for piece in pieces):
        out += table["drill"]
    if any(metal(name).solder != "no" for name in _metals(pieces)[0]):
        out += table["soft"]
    if any("screw" in piece.name for piece in pieces):
        out += table["screws"]
    return tuple(out)
