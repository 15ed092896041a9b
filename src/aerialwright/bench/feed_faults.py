"""What can be wrong between the antenna's feed and the plane of calibration: lines, strays and contacts."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.printing import format_decibel
from aerialwright.bench.causes import (
    ACTIONS,
    PLANE_ERROR,
    WRONG_FROM,
    Branch,
    Cause,
    Through,
    inches,
    linear,
    logarithmic,
)
from aerialwright.bench.responses import View
from aerialwright.lines.line import transform_impedance
from aerialwright.lines.mismatch import impedance_of, reflection
from aerialwright.solution.records import ComplexArray, FloatArray

#: Farthest calibration plane [wavelengths] and longest wrong cable [wavelengths].
PLANE_FARTHEST, SECTION_LONGEST = 0.2, 1.0
#: Least and largest stray reactance or susceptance at the feed, against the reference.
STRAY_FROM, STRAY_LARGEST = 0.08, 1.5
#: Extra loss [dB, one way] of a wet or wrong coax.
LOSS_FROM, LOSS_MOST = 0.3, 6.0


def feed_causes(view: View, delay: float) -> tuple[Cause, ...]:
    """Everything that is looked for on the feed's side. ``delay`` [s]: one way through the line that was taken off."""
    return (_plane(view), _strays(view), _section(view, delay), _loss(view), *_contact(view))


def middle(frequency: FloatArray) -> float:
    """Geometric middle [Hz] of a sweep's frequencies (n,)."""
    return math.sqrt(float(frequency[0]) * float(frequency[-1]))


def turned(view: View) -> Through:
    """Reflections seen from a plane that lies ``offset`` [m, electrical] nearer to the instrument than stated."""

    def through(offset: FloatArray, gamma: ComplexArray) -> ComplexArray:
        turn = np.exp(-4j * math.pi * view.frequency * offset[:, None] / SPEED_OF_LIGHT)
        return np.asarray(gamma[None] * turn[:, None])

    return through


def _plane(view: View) -> Cause:
    """The calibration plane is not where it is said to be."""
    far = PLANE_FARTHEST * SPEED_OF_LIGHT / middle(view.frequency)
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
    centre = 2.0 * math.pi * middle(view.frequency)

    def shunt(farad: FloatArray, gamma: ComplexArray) -> ComplexArray:
        load = impedance_of(gamma, reference=z0)[None]
        return reflection(load / (1.0 + 1j * omega * farad[:, None, None] * load), reference=z0)

    def series(henry: FloatArray, gamma: ComplexArray) -> ComplexArray:
        return reflection(impedance_of(gamma, reference=z0)[None] + 1j * omega * henry[:, None, None], reference=z0)

    branches = (
        Branch(logarithmic(STRAY_FROM / (centre * z0), STRAY_LARGEST / (centre * z0)), through=shunt, share=0.5,
               say=lambda farad: f"about {farad * 1e12:.1f} pF lie across the feed (connector, cup, tape)"),
        Branch(logarithmic(STRAY_FROM * z0 / centre, STRAY_LARGEST * z0 / centre), through=series, share=0.5,
               say=lambda henry: f"about {henry * 1e9:.0f} nH lie in series with the feed (long tags)"),
    )  # fmt: skip
    test = "shorten the tags or change the connector for another one and sweep again"
    return Cause("strays", "capacitance or long tags at the feed", "feed", ACTIONS["feed"], test, branches)


def _section(view: View, delay: float) -> Cause:
    """Cable or plugs of another impedance in the way: not counted at all, or taken off as if they were right."""
    z0, f = view.responses.reference, view.frequency
    wave = SPEED_OF_LIGHT / middle(view.frequency)
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


def more_loss(decibel: FloatArray, frequency: FloatArray, middle: float) -> FloatArray:
    """Part (m, n) of a reflection that comes back through ``decibel`` (m,) more, one way at ``middle`` [Hz]."""
    return np.asarray(10.0 ** (-0.1 * decibel[:, None] * np.sqrt(frequency / middle)))


def _loss(view: View) -> Cause:
    """More loss in the line than was taken off, growing as the root of frequency."""

    def through(decibel: FloatArray, gamma: ComplexArray) -> ComplexArray:
        return np.asarray(gamma[None] * more_loss(decibel, view.frequency, middle(view.frequency))[:, None])

    def say(decibel: float) -> str:
        return f"the line loses {format_decibel(decibel, digits=1)} more, one way, than was taken off"

    branch = Branch(logarithmic(LOSS_FROM, LOSS_MOST), say, through=through)
    test = "sweep the coax alone, its far end open: the return loss is twice its loss; open the jacket's end and look for water"
    return Cause("loss", "lossy or wet coax", "line", ACTIONS["line"], test, (branch,))


def _contact(view: View) -> list[Cause]:
    """The feed open or shorted, a short piece of line before or behind the plane; a part of a decibel is lost on the way."""
    turn = turned(view)
    far = 0.06 * SPEED_OF_LIGHT / middle(view.frequency)
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
