"""One antenna with its dimensions, and the frequencies and directions a need asks about."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from aerialwright.antennas.catalogue import family
from aerialwright.antennas.family import Family, Plan, Span, Values
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import FloatArray
from aerialwright.structure.model import Structure


@dataclass(frozen=True)
class Design:
    """A family, one way to build it, and its values."""

    family_key: str
    plan: Plan
    values: Values
    owned: bool = False

    @property
    def family(self) -> Family:
        """The family itself."""
        return family(self.family_key)

    def structure(self) -> Structure:
        """Its metal."""
        return self.family.structure(self.plan, self.values)

    def with_values(self, **changes: float) -> Design:
        """The same design with some values changed."""
        return replace(self, values={**self.values, **changes})


def span_of(bands: tuple[Band, ...]) -> Span:
    """From the lowest to the highest edge of the bands."""
    return Span(min(band.low for band in bands), max(band.high for band in bands))


def grid(need: Need, bands: tuple[Band, ...], *, points: int = 301) -> FloatArray:
    """Frequencies [Hz] to report on: a log grid past all asked bands, with band edges and centres exact."""
    every = need.bands if bands == need.must_bands else bands
    low = min(band.low for band in every)
    high = max(band.high for band in every)
    base = np.geomspace(0.86 * low, 1.1 * high, points)
    marks: list[float] = []
    for band in every:
        marks += list(np.linspace(band.low, band.high, 9))
    both = np.unique(np.concatenate([base, np.array(marks)]))
    # Two frequencies closer than a kilohertz are one; band edges win.
    keep = [0]
    exact = set(marks)
    for index in range(1, len(both)):
        if both[index] - both[keep[-1]] > 1e3:
            keep.append(index)
        elif both[index] in exact:
            keep[-1] = index
    return both[keep]


def tuning_frequencies(bands: tuple[Band, ...]) -> FloatArray:
    """Frequencies [Hz] the tuner looks at: three to six in each band by its width."""
    out: list[float] = []
    for band in bands:
        width = (band.high - band.low) / band.centre
        count = 2 if width < 0.005 else 3 if width < 0.08 else 4 if width < 0.2 else 6
        out += list(np.linspace(band.low, band.high, count))
    return np.unique(np.array(out))


@dataclass(frozen=True)
class Directions:
    """Wanted directions: ``theta`` (n,) from the zenith and ``phi`` (m,) [rad], ``weight`` (n,) that sums to one."""

    theta: FloatArray
    phi: FloatArray
    weight: FloatArray


def directions(need: Need, *, horizontal: bool) -> Directions:
    """Directions a need wants, as the antenna would be turned by its owner.

    A level antenna has its best side toward a sector; everything else is the same all round.
    """
    far = need.far_end
    low, high = math.radians(far.lowest_elevation), math.radians(far.highest_elevation)
    if far.kind == "sky":
        # Equal steps of solid angle.
        s = np.linspace(math.sin(low), math.sin(max(high, low + 1e-3)), 9)
        elevation = np.arcsin(np.clip(s, -1.0, 1.0))
    else:
        elevation = np.linspace(low, max(high, low + 1e-6), 5)
    theta = 0.5 * math.pi - elevation
    weight = np.full(len(theta), 1.0 / len(theta))
    if far.kind == "sector" and horizontal:
        half = math.radians(0.5 * min(far.width, 360.0))
        phi = 0.5 * math.pi + np.linspace(-half, half, 5)
    elif horizontal:
        phi = np.radians(np.arange(0.0, 360.0, 22.5))
    else:
        phi = np.radians(np.array([0.0, 20.0, 45.0, 70.0]))
    return Directions(theta, phi, weight)
