"""What can be wrong with the metal, the plastic and the surroundings: each as something the model can have, with its plausible size.

Every cause is one or more :class:`Branch`: a single quantity on a scale 0..1 along which it is equally likely, the reflection it
gives, and perhaps terms whose strength is left open (a reflection from a wall has any phase). Sizes that are given without a
source are common practice.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.printing import format_dimension, format_frequency, format_length
from aerialwright.bench.altered import ANY_PLASTIC, dimension_keys, hand_error
from aerialwright.bench.causes import (
    ACTIONS,
    WRONG_FROM,
    Along,
    Branch,
    Cause,
    inches,
    linear,
    logarithmic,
    metres,
    still,
)
from aerialwright.bench.feed_faults import feed_causes
from aerialwright.bench.responses import View
from aerialwright.solution.records import ComplexArray, FloatArray

#: Least plastic that counts as wrong.
PLASTIC_FROM = 0.06
#: Reflection from things around the antenna, one standard deviation of each of its two parts, and how far they stand [m].
AROUND, NEAREST, FARTHEST = 0.08, 0.5, 8.0
#: Sharpness (quality factor) of a piece of metal nearby that resonates.
SHARPNESS = (6.0, 15.0)


def causes(view: View, *, delay: float = 0.0) -> tuple[Cause, ...]:
    """Everything that is looked for in a sweep of this design. ``delay`` [s]: one way through the line that was taken off."""
    found = [_nothing(view)]
    for key in dimension_keys(view.responses.design):
        if key in view.responses.tables:
            found += _dimension(view, key)
    found += _radial(view) + _plastic(view) + _coax(view)
    found += [_near(view), *feed_causes(view, delay), _unlisted(view)]
    return tuple(found)


def _nothing(view: View) -> Cause:
    words = "it is as designed, within what a careful hand is off by"
    branch = Branch(linear(0.0, 1.0), lambda value: words, along=still(view), points=1)
    return Cause(
        "nothing", "nothing wrong", "nothing", ACTIONS["nothing"], "sweep it again on another day", (branch,), prior=2.0
    )


def _dimension(view: View, key: str) -> list[Cause]:
    """A dimension that is not as designed: of the main length, too long and too short are two causes."""
    design, table = view.responses.design, view.responses.tables[key]
    parameter = design.family.parameter(key)
    least = WRONG_FROM * hand_error(design, key)

    def along(values: FloatArray) -> ComplexArray:
        return view.along(key, values)

    def slips(values: FloatArray) -> ComplexArray:
        return view.slips(key, values)

    def say(value: float) -> str:
        if parameter.kind == "angle":
            return f"the {parameter.label} is {format_dimension(abs(value), 'angle')} {'more' if value > 0 else 'less'} than asked"
        word = ("longer", "shorter") if "length" in parameter.label or "slant" in parameter.label else ("more", "less")
        return f"the {parameter.label} is {inches(abs(value))} {word[value < 0]} than asked"

    ends = [end for end in (table.high, table.low) if abs(end) > 1.2 * least]
    branches = [
        Branch(linear(math.copysign(least, end), end), say, along=along, slips=slips, share=1.0 / len(ends))
        for end in ends
    ]
    test = f"measure the {parameter.label} ({parameter.datum})"
    if key != design.family.main_length:
        whole = Cause(key, f"{parameter.label} off", "metal", ACTIONS["metal"], test, tuple(branches))
        return [whole] if branches else []
    out = []
    for end, branch in zip(ends, branches, strict=True):
        kin, word = ("trim", "too long") if end > 0 else ("lengthen", "too short")
        one = replace(branch, share=1.0)
        out.append(Cause(f"{key} {word}", f"{parameter.label} {word}", kin, ACTIONS[kin], test, (one,)))
    return out


def _radial(view: View) -> list[Cause]:
    """One radial unlike the others, or missing."""
    table, missing = view.responses.tables.get("one radial"), view.missing
    if table is None:
        return []
    length = view.responses.design.values["radial_length"]

    def along(values: FloatArray) -> ComplexArray:
        return view.along("one radial", values)

    def say(part: float) -> str:
        return f"one radial is {inches(abs(part) * length)} {'longer' if part > 0 else 'shorter'} than the others"

    branches = [
        Branch(linear(-0.05, table.low), say, along=along, share=0.4),
        Branch(linear(0.05, table.high), say, along=along, share=0.3),
    ]
    if missing is not None:
        gone = missing
        branches.append(
            Branch(linear(0.0, 1.0), lambda value: "one radial is missing or makes no contact", points=1, share=0.3,
                   along=lambda values: np.broadcast_to(gone, (len(values), len(gone))))
        )  # fmt: skip
    test = "compare the radials with each other, and their contact to the hub with an ohmmeter"
    return [Cause("one radial", "one radial off", "metal", ACTIONS["metal"], test, tuple(branches))]


def _plastic(view: View) -> list[Cause]:
    """Insulation or a pipe that the design does not have, or less of it than it has."""
    table = view.responses.tables.get("plastic")
    if table is None:
        return []
    design = view.responses.design
    radius = max(rod.radius for rod in design.structure().rods)
    there = -table.low

    def along(values: FloatArray) -> ComplexArray:
        return view.along("plastic", values)

    def slips(values: FloatArray) -> ComplexArray:
        return view.slips("plastic", values)

    def say(amount: float) -> str:
        wall = radius * math.expm1(abs(amount) / (1.0 - 1.0 / ANY_PLASTIC))
        if amount < 0.0:
            return "there is less plastic round the metal than the design counts on"
        more = "more plastic round the metal than the design counts on" if there else "plastic round the metal"
        return f"there is {more}, as much as {format_length(wall, step=1e-4)} of PVC on it"

    least = max(PLASTIC_FROM, WRONG_FROM * hand_error(design, "plastic"))
    branches = [Branch(linear(least, table.high), say, along=along, slips=slips, share=0.5 if there > least else 1.0)]
    if there > least:
        branches.append(Branch(linear(-least, table.low), say, along=along, slips=slips, share=0.5))
    test = (
        "hold a spare piece of the pipe or insulation over the tip: a dip that moves as far again was moved by plastic"
    )
    kin = "trim"
    return [Cause("plastic", "pipe or insulation", kin, ACTIONS[kin], test, tuple(branches))]


def _coax(view: View) -> list[Cause]:
    """Current on the outside of a coax that hangs straight down."""
    table = view.responses.tables.get("coax outside")
    if table is None:
        return []

    def along(values: FloatArray) -> ComplexArray:
        return view.along("coax outside", values)

    def say(length: float) -> str:
        return f"current runs on the outside of the coax, as if {metres(length)} of it hung on the antenna"

    branch = Branch(linear(table.low, table.high), say, along=along, points=181)
    test = "hold the coax an arm's length below the feed while sweeping: a curve that moves is current on its outside"
    return [Cause("coax outside", "current on the coax", "surroundings", ACTIONS["surroundings"], test, (branch,))]


def _near(view: View) -> Cause:
    """Something that reflects or resonates near the antenna: a ripple over frequency, or one loop in the chart."""
    f, base = view.frequency, view.base

    def echo(distance: FloatArray) -> ComplexArray:
        turn = np.exp(-4j * math.pi * f * distance[:, None] / SPEED_OF_LIGHT) * AROUND * (1.0 - base**2)
        return np.stack([turn, 1j * turn], axis=1)

    def resonance(sharpness: float) -> Along:
        def terms(centre: FloatArray) -> ComplexArray:
            at = f / centre[:, None]
            loop = AROUND * (1.0 - base) ** 2 / (1.0 + 1j * sharpness * (at - 1.0 / at))
            tilted = 2.0 * (at - 1.0) * loop
            return np.stack([loop, 1j * loop, tilted, 1j * tilted], axis=1)

        return terms

    edges = linear(0.85 * float(f[0]), 1.15 * float(f[-1]))
    branches = [
        Branch(logarithmic(NEAREST, FARTHEST), lambda d: f"something about {metres(d)} away sends part of it back",
               along=still(view), terms=echo, share=0.5)
    ] + [
        Branch(edges, lambda centre: f"a piece of metal nearby resonates at about {format_frequency(centre, digits=0)}",
               along=still(view), terms=resonance(sharpness), share=0.25)
        for sharpness in SHARPNESS
    ]  # fmt: skip
    test = "turn the antenna or carry it two steps away and sweep again: a curve that changes was measured with its surroundings"
    title, kin = "measured indoors or near objects", "surroundings"
    return Cause("near objects", title, kin, ACTIONS[kin], test, tuple(branches))


def _unlisted(view: View) -> Cause:
    """Any smooth change of the reflection: what is left when none of the causes fits."""
    x = np.linspace(-1.0, 1.0, len(view.frequency))
    shapes = np.array([np.polynomial.chebyshev.chebval(x, np.eye(6)[k]) * 0.3 / (1.0 + k) for k in range(6)])
    both = np.concatenate([shapes, 1j * shapes])

    def terms(values: FloatArray) -> ComplexArray:
        return np.broadcast_to(both, (len(values), *both.shape))

    branch = Branch(linear(0.0, 1.0), lambda value: "it differs from the design in a way that none of the known causes gives",
                    along=still(view), terms=terms, points=1)  # fmt: skip
    test = "sweep again in the open after a fresh calibration"
    return Cause("unlisted", "none of the known causes", "unlisted", ACTIONS["unlisted"], test, (branch,), prior=0.3)
