"""What a cause is: a quantity of the model with its plausible range, words for it, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from aerialwright.base.printing import format_length
from aerialwright.bench.responses import View
from aerialwright.solution.records import ComplexArray, FloatArray

#: What a careful hand is off by in the calibration plane [m], one standard deviation. Common practice, no source.
PLANE_ERROR = 2e-3
#: What is called wrong begins at this many standard deviations of a careful hand.
WRONG_FROM = 3.0
FOOT = 0.3048

Along = Callable[[FloatArray], ComplexArray]
#: (values (m,), reflections (k, n)) -> (m, k, n)
Through = Callable[[FloatArray, ComplexArray], ComplexArray]


@dataclass(frozen=True)
class Branch:
    """One quantity that explains a sweep: ``value`` turns a scale 0..1 (m,) into it; ``say`` puts one value into words.

    Either ``along`` gives the reflection (m, n) for values (m,), or ``through`` what the feed side makes of the antenna's.
    ``terms`` (m, k, n): reflections whose strength is unknown, one standard deviation each; ``slips`` (m, k, n): what the errors of a
    hand do there, where that is not what they do as designed. ``share`` of the cause's prior.
    """

    value: Callable[[FloatArray], FloatArray]
    say: Callable[[float], str]
    along: Along | None = None
    through: Through | None = None
    terms: Along | None = None
    slips: Along | None = None
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
    "nothing": "leave it as it is if it keeps the limit",
    "trim": "follow the trim advice, with everything that stays on the antenna in place",
    "lengthen": "compare with the cut list, then follow the trim advice: it says how to lengthen",
    "metal": "measure every one of these pieces with ruler and bend gauge against the sheet and put right what differs",
    "surroundings": "put the choke at the feed, hang the antenna in the open away from metal, and sweep again",
    "feed": "calibrate again at the very plug that goes into the antenna, shorten the tags, look into the connector",
    "line": "find out what cable and plugs are between calibration plane and antenna, and change what is wrong",
    "contact": "look for a broken or touching contact with an ohmmeter, plug by plug from the antenna down",
    "unlisted": "sweep again in the open after a fresh calibration; if it stays, compare the metal with the sheet piece by piece",
}


def inches(value: float) -> str:
    """A length [m] both ways: '12.5 mm (1/2 in)'."""
    return f"{format_length(value, step=1e-4)} ({format_length(value, system='in')})"


def metres(value: float) -> str:
    """A rough distance [m] both ways: '3.0 m (10 ft)'."""
    return f"{value:.1f} m ({value / FOOT:.0f} ft)"


def linear(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    """Equally likely between two values."""
    return lambda t: low + (high - low) * t


def logarithmic(low: float, high: float) -> Callable[[FloatArray], FloatArray]:
    """Equally likely per octave between two values of one sign."""
    return lambda t: low * (high / low) ** t


def still(view: View) -> Along:
    """The design as it is, whatever the value."""
    return lambda values: np.broadcast_to(view.base, (len(values), len(view.base)))
