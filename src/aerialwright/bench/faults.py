"""What can be wrong with an antenna, its feed and its measurement: each as something the model can have, with its plausible size.

Every cause is one or more :class:`Branch`: a single quantity on a scale 0..1 along which it is equally likely, the reflection it
gives, and perhaps terms whose strength is left open (a reflection from a wall has any phase). Sizes that are given without a
source are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.printing import format_decibel, format_dimension, format_frequency, format_length
from aerialwright.bench.responses import ANY_PLASTIC, View, dimension_keys
from aerialwright.design.evaluate import CUT_ERROR
from aerialwright.lines.line import transform_impedance
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.solution.records import ComplexArray, FloatArray

#: What a careful hand is off by, one standard deviation: a length by 1 mm and a thousandth, a bend by 2.5 degrees, plastic by a
#: tenth of its amount, the calibration plane by 2 mm. Common practice, no source. What is called wrong begins at three times this.
CUT_PART, BEND_ERROR, PLASTIC_PART, PLANE_ERROR = 1e-3, 2.5, 0.1, 2e-3
WRONG_FROM = 3.0
#: Farthest calibration plane [wavelengths], largest stray at the feed against the reference, longest wrong cable [wavelengths].
PLANE_FARTHEST, STRAY_LARGEST, SECTION_LONGEST = 0.2, 1.5, 1.0
#: Least plastic that counts as wrong; least stray reactance or susceptance, against the reference.
PLASTIC_FROM, STRAY_FROM = 0.06, 0.08
#: Reflection from things around the antenna, one standard deviation of each of its two parts, and how far they stand [m].
AROUND, NEAREST, FARTHEST = 0.08, 0.5, 8.0
#: Extra loss [dB, one way] of a wet or wrong coax.
LOSS_FROM, LOSS_MOST = 0.3, 6.0
#: Sharpness (quality factor) of a piece of metal nearby that resonates.
SHARPNESS = (6.0, 15.0)

Along = Callable[[FloatArray], ComplexArray]
#: (values (m,), reflections (k, n)) -> (m, k, n)
Through = Callable[[FloatArray, ComplexArray], ComplexArray]


@dataclass(frozen=True)
class Branch:
    """One quantity that explains a sweep: ``value`` turns a scale 0..1 (m,) into it; ``say`` puts one value into words.

    Either ``along`` gives the reflection (m, n) for values (m,), or ``through`` what the feed side makes of the antenna's.
    ``terms`` (m, k, n): reflections whose strength is unknown, one standard deviation each. ``share`` of the cause's prior.
    """

    value: Callable[[FloatArray], FloatArray]
    say: Callable[[float], str]
    along: Along | None = None
    through: Through | None = None
    terms: Along | None = None
    share: float = 1.0
    points: int = 61


@dataclass(frozen=True)
class Cause:
    """Something that can be wrong. ``kin``: causes that call for the same next action; ``test`` shows or rules it out."""

    key: str
    title: str
    kin: str
    action: str
    test: str
    branches: tuple[Branch, ...]
    prior: float = 1.0


#: Next action by kin.
ACTIONS = {
    "nothing": "leave it as it is",
    "trim": "follow the trim advice, with everything that stays on the antenna in place",
    "lengthen": "compare with the cut list, then follow the trim advice: it says how to lengthen",
    "metal": "measure every one of these pieces with ruler and bend gauge against the sheet and put right what differs",
    "surroundings": "put the choke at the feed, hang the antenna in the open away from metal, and sweep again",
    "feed": "calibrate again at the very plug that goes into the antenna, shorten the tags, look into the connector",
    "line": "find out what cable and plugs are between calibration plane and antenna, and change what is wrong",
    "contact": "look for a broken or touching contact with an ohmmeter, plug by plug from the antenna down",
    "unlisted": "sweep again in the open after a fresh calibration; if it stays, compare the metal with the sheet piece by piece",
}


def hand_error(view: View, key: str) -> float:
    """One standard deviation of what a careful hand is off by in the quantity of a table [m, degree or amount of plastic]."""
    design = view.responses.design
    if key == "plastic":
        return PLASTIC_PART * -view.responses.tables[key].low
    parameter = design.family.parameter(key)
    if parameter.kind == "angle":
        return BEND_ERROR * parameter.slip
    return CUT_ERROR * parameter.slip + CUT_PART * design.values[key]


def hand_errors(view: View) -> ComplexArray:
    """Changes (k, n) of the reflection by one standard deviation of every dimension and of the plastic that is there."""
    keys = [key for key in (*dimension_keys(view.responses.design), "plastic") if key in view.responses.tables]
    steps = [view.step(key, hand_error(view, key)) for key in keys if hand_error(view, key) > 0.0]
    return np.array(steps).reshape(-1, len(view.frequency))


def inches(value: float) -> str:
    """A length [m] both ways: '12.5 mm (1/2 in)'."""
    return f"{format_length(value, step=1e-4)} ({format_length(value, system='in')})"


def linear(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    """Equally likely between two values."""
    return lambda t: low + (high - low) * t


def logarithmic(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    """Equally likely per octave between two values of one sign."""
    return lambda t: low * (high / low) ** t


def causes(view: View, *, delay: float = 0.0) -> tuple[Cause, ...]:
    """Everything that is looked for in a sweep of this design. ``delay`` [s]: one way through the line that was taken off."""
    found = [_nothing(view)]
    for key in dimension_keys(view.responses.design):
        if key in view.responses.tables:
            found += _dimension(view, key)
    found += _radial(view) + _plastic(view) + _coax(view)
    found += [_near(view), _plane(view), _strays(view), _section(view, delay), _loss(view), *_contact(view), _unlisted(view)]  # fmt: skip
    return tuple(found)


def _middle(view: View) -> float:
    """Geometric middle of the sweep [Hz]."""
    return math.sqrt(float(view.frequency[0]) * float(view.frequency[-1]))


def _still(view: View) -> Along:
    return lambda values: np.broadcast_to(view.base, (len(values), len(view.base)))


def _nothing(view: View) -> Cause:
    words = "it is as designed, within what a careful hand is off by"
    branch = Branch(linear(0.0, 1.0), lambda value: words, along=_still(view), points=1)
    return Cause(
        "nothing", "nothing wrong", "nothing", ACTIONS["nothing"], "sweep it again on another day", (branch,), prior=2.0
    )


def _dimension(view: View, key: str) -> list[Cause]:
    """A dimension that is not as designed: of the main length, too long and too short are two causes."""
    design, table = view.responses.design, view.responses.tables[key]
    parameter = design.family.parameter(key)
    least = WRONG_FROM * hand_error(view, key)

    def along(values: FloatArray) -> ComplexArray:
        return view.along(key, values)

    def say(value: float) -> str:
        if parameter.kind == "angle":
            return f"the {parameter.label} is {format_dimension(abs(value), 'angle')} {'more' if value > 0 else 'less'} than asked"
        word = ("longer", "shorter") if "length" in parameter.label or "slant" in parameter.label else ("more", "less")
        return f"the {parameter.label} is {inches(abs(value))} {word[value < 0]} than asked"

    ends = [end for end in (table.high, table.low) if abs(end) > 1.2 * least]
    branches = [Branch(linear(math.copysign(least, end), end), say, along=along, share=1.0 / len(ends)) for end in ends]
    test = f"measure the {parameter.label} ({parameter.datum})"
    if key != design.family.main_length:
        whole = Cause(key, f"{parameter.label} off", "metal", ACTIONS["metal"], test, tuple(branches))
        return [whole] if branches else []
    out = []
    for end, branch in zip(ends, branches, strict=True):
        kin, word = ("trim", "too long") if end > 0 else ("lengthen", "too short")
        one = Branch(branch.value, say, along=along)
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
    radius = max(rod.radius for rod in view.responses.design.structure().rods)
    there = -table.low

    def along(values: FloatArray) -> ComplexArray:
        return view.along("plastic", values)

    def say(amount: float) -> str:
        wall = radius * math.expm1(abs(amount) / (1.0 - 1.0 / ANY_PLASTIC))
        if amount < 0.0:
            return "there is less plastic round the metal than the design counts on"
        more = "more plastic round the metal than the design counts on" if there else "plastic round the metal"
        return f"there is {more}, as much as {format_length(wall)} of PVC on it"

    least = max(PLASTIC_FROM, WRONG_FROM * hand_error(view, "plastic"))
    branches = [Branch(linear(least, table.high), say, along=along, share=0.5 if there > least else 1.0)]
    if there > least:
        branches.append(Branch(linear(-least, table.low), say, along=along, share=0.5))
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
        return f"current runs on the outside of the coax, as if {format_length(length)} of it hung on the antenna"

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
            return np.stack([loop, 1j * loop], axis=1)

        return terms

    edges = linear(0.9 * float(f[0]), 1.1 * float(f[-1]))
    branches = [
        Branch(logarithmic(NEAREST, FARTHEST), lambda d: f"something about {format_length(round(d, 1))} away sends part of it back",
               along=_still(view), terms=echo, share=0.5)
    ] + [
        Branch(edges, lambda centre: f"a piece of metal nearby resonates at about {format_frequency(centre, digits=0)}",
               along=_still(view), terms=resonance(sharpness), share=0.25)
        for sharpness in SHARPNESS
    ]  # fmt: skip
    test = "turn the antenna or carry it two steps away and sweep again: a curve that changes was measured with its surroundings"
    title, kin = "measured indoors or near objects", "surroundings"
    return Cause("near objects", title, kin, ACTIONS[kin], test, tuple(branches))


def turned(view: View) -> Through:
    """Reflections seen from a plane that lies ``offset`` [m, electrical] nearer to the instrument than stated."""

    def through(offset: FloatArray, gamma: ComplexArray) -> ComplexArray:
        turn = np.exp(-4j * math.pi * view.frequency * offset[:, None] / SPEED_OF_LIGHT)
        return np.asarray(gamma[None] * turn[:, None])

    return through


def _plane(view: View) -> Cause:
    """The calibration plane is not where it is said to be."""
    far = PLANE_FARTHEST * SPEED_OF_LIGHT / _middle(view)
    near = min(WRONG_FROM * PLANE_ERROR, 0.5 * far)

    def say(offset: float) -> str:
        side = "before" if offset > 0 else "beyond"
        return f"the calibration plane lies {inches(abs(offset))} of air line {side} where it is said to be"

    branches = tuple(
        Branch(logarithmic(sign * near, sign * far), say, through=turned(view), share=0.5) for sign in (1.0, -1.0)
    )
    test = (
        "take the antenna off and sweep the open plug: its reflection must stand at the open point at every frequency"
    )
    return Cause("plane", "calibration plane off", "feed", ACTIONS["feed"], test, branches)


def _strays(view: View) -> Cause:
    """A capacitance across the feed or an inductance in it: a bulky connector, long tags."""
    z0, omega = view.responses.reference, 2.0 * math.pi * view.frequency
    middle = 2.0 * math.pi * _middle(view)

    def shunt(farad: FloatArray, gamma: ComplexArray) -> ComplexArray:
        load = impedance_of(gamma, reference=z0)[None]
        return reflection(load / (1.0 + 1j * omega * farad[:, None, None] * load), reference=z0)

    def series(henry: FloatArray, gamma: ComplexArray) -> ComplexArray:
        return reflection(impedance_of(gamma, reference=z0)[None] + 1j * omega * henry[:, None, None], reference=z0)

    pico, nano = (STRAY_FROM, STRAY_LARGEST), (STRAY_FROM, STRAY_LARGEST)
    branches = (
        Branch(logarithmic(pico[0] / (middle * z0), pico[1] / (middle * z0)), through=shunt, share=0.5,
               say=lambda farad: f"about {farad * 1e12:.1f} pF lie across the feed (connector, cup, tape)"),
        Branch(logarithmic(nano[0] * z0 / middle, nano[1] * z0 / middle), through=series, share=0.5,
               say=lambda henry: f"about {henry * 1e9:.0f} nH lie in series with the feed (long tags)"),
    )  # fmt: skip
    test = "shorten the tags or change the connector for another one and sweep again"
    return Cause("strays", "capacitance or long tags at the feed", "feed", ACTIONS["feed"], test, branches)


def _section(view: View, delay: float) -> Cause:
    """Cable or plugs of another impedance in the way: not counted at all, or taken off as if they were right."""
    z0, f = view.responses.reference, view.frequency
    wave = SPEED_OF_LIGHT / _middle(view)
    others = [z for z in (50.0, 75.0, 35.0) if abs(z - z0) > 1.0]

    def through(other: float, removed: bool) -> Through:
        def act(length: FloatArray, gamma: ComplexArray) -> ComplexArray:
            constant, long = 2j * math.pi * f / SPEED_OF_LIGHT, length[:, None, None]
            load = impedance_of(gamma, reference=z0)[None]
            seen = transform_impedance(load=load, impedance=other, gamma=constant, length=long)
            if removed:
                seen = transform_impedance(load=seen, impedance=z0, gamma=constant, length=-long)
            return reflection(seen, reference=z0)

        return act

    def say(other: float, removed: bool) -> Callable[[float], str]:
        if removed:
            return lambda length: (
                f"{inches(length)} (as air line) of the feed line are {other:.0f} ohm, taken off as {z0:.0f} ohm"
            )
        return lambda length: f"{inches(length)} (as air line) of {other:.0f} ohm cable or plugs stand in the way"

    lengths, points = linear(0.03 * wave, SECTION_LONGEST * wave), 101
    cases = [(other, removed, lengths) for other in others for removed in (False, True)]
    if delay > 0.0:
        # The whole line may be the wrong one, of about the length that was taken off.
        whole = SPEED_OF_LIGHT * delay
        cases += [(other, True, linear(0.95 * whole, 1.05 * whole)) for other in others]
    branches = tuple(
        Branch(span, say(other, removed), through=through(other, removed), share=1.0 / len(cases), points=points)
        for other, removed, span in cases
    )
    test = "read the print on every cable and plug between the calibration plane and the antenna"
    return Cause("section", "cable or connector of the wrong impedance", "line", ACTIONS["line"], test, branches)


def _loss(view: View) -> Cause:
    """More loss in the line than was taken off, growing as the root of frequency."""
    root = np.sqrt(view.frequency / _middle(view))

    def through(decibel: FloatArray, gamma: ComplexArray) -> ComplexArray:
        return np.asarray(gamma[None] * 10.0 ** (-0.1 * decibel[:, None, None] * root))

    def say(decibel: float) -> str:
        return f"the line loses {format_decibel(decibel, digits=1)} more, one way, than was taken off"

    branch = Branch(logarithmic(LOSS_FROM, LOSS_MOST), say, through=through)
    test = "sweep the coax alone, its far end open: the return loss is twice its loss; open the jacket's end and look for water"
    return Cause("loss", "lossy or wet coax", "line", ACTIONS["line"], test, (branch,))


def _contact(view: View) -> list[Cause]:
    """The feed open or shorted, a short piece of line before or behind the plane; a part of a decibel is lost on the way."""
    turn = turned(view)
    far = 0.06 * SPEED_OF_LIGHT / _middle(view)
    found = []
    for key, sign, test in (
        ("open", 1.0, "measure from the centre contact to the rod with an ohmmeter: it must be under 1 ohm"),
        ("short", -1.0, "measure from the centre contact to the shell with an ohmmeter, antenna and coax apart"),
    ):
        end = np.full((1, len(view.frequency)), complex(sign))

        def along(offset: FloatArray, end: ComplexArray = end) -> ComplexArray:
            return turn(offset, end)[:, 0]

        def terms(offset: FloatArray, end: ComplexArray = end) -> ComplexArray:
            return 0.05 * turn(offset, end)

        words = f"the feed is {'open' if key == 'open' else 'shorted'}: nothing goes into the antenna"
        branch = Branch(linear(-far, 2.0 * far), lambda offset, words=words: words, along=along, terms=terms)  # type: ignore[misc]
        found.append(Cause(key, f"{key} at the feed", "contact", ACTIONS["contact"], test, (branch,)))
    return found


def _unlisted(view: View) -> Cause:
    """Any smooth change of the reflection: what is left when none of the causes fits."""
    x = np.linspace(-1.0, 1.0, len(view.frequency))
    shapes = np.array([np.polynomial.chebyshev.chebval(x, np.eye(6)[k]) * 0.3 / (1.0 + k) for k in range(6)])
    both = np.concatenate([shapes, 1j * shapes])

    def terms(values: FloatArray) -> ComplexArray:
        return np.broadcast_to(both, (len(values), *both.shape))

    branch = Branch(linear(0.0, 1.0), lambda value: "it differs from the design in a way that none of the known causes gives",
                    along=_still(view), terms=terms, points=1)  # fmt: skip
    test = "sweep again in the open after a fresh calibration"
    return Cause("unlisted", "none of the known causes", "unlisted", ACTIONS["unlisted"], test, (branch,), prior=0.3)
