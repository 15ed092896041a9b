"""Orbital elements of a satellite as one record, for SGP4 [@spacetrack-3], and how far they can be trusted after some days."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from aerialwright.base.errors import AerialwrightError, Caution

if TYPE_CHECKING:
    from sgp4.api import Satrec

#: Period [minute] from which SGP4 counts an orbit as deep space [@spacetrack-3].
DEEP_SPACE = 225.0
#: Days from the epoch after which elements are called old, and beyond which they are refused. Common practice, no source.
OLD, TOO_OLD = 3.0, 365.0
#: Error at the epoch [km] (from memory, no source) and its growth [km/day], low and high [@sgp4-library].
ERROR_AT_EPOCH, ERROR_GROWTH = 1.0, (1.0, 3.0)
_MU = 398600.8  # km3/s2, of the WGS-72 set that the elements are made with [@spacetrack-3]
_JULIAN_1950 = 2433281.5
_J2000 = datetime(2000, 1, 1, tzinfo=UTC)


class ElementsError(AerialwrightError):
    """Elements that cannot be read, or are of no use for the time asked."""


@dataclass(frozen=True)
class Elements:
    """Mean elements in TEME. ``epoch_day`` (Julian day at midnight, ends in .5) and ``epoch_fraction`` of a day, UTC; ``mean_motion``
    [revolution/day]; angles [degree]; ``drag`` is B* [1/earth radius]; ``mean_motion_dot`` is half the first derivative
    [revolution/day2], which SGP4 itself does not use."""

    name: str
    number: int
    epoch_day: float
    epoch_fraction: float
    inclination: float
    node: float
    eccentricity: float
    perigee: float
    mean_anomaly: float
    mean_motion: float
    drag: float
    mean_motion_dot: float = 0.0

    @property
    def epoch(self) -> datetime:
        """The epoch as UTC, to a microsecond."""
        return _J2000 + timedelta(days=self.epoch_day - 2451544.5) + timedelta(days=self.epoch_fraction)

    @property
    def period(self) -> float:
        """Time of one revolution [minute]."""
        return 1440.0 / self.mean_motion

    @property
    def deep_space(self) -> bool:
        """Above the limit beyond which SGP4 counts sun, moon and resonances."""
        return self.period >= DEEP_SPACE

    @property
    def heights(self) -> tuple[float, float]:
        """Lowest and highest height over the equator's radius [km], from Kepler's third law."""
        axis = (_MU * (self.period * 60.0 / (2.0 * math.pi)) ** 2) ** (1.0 / 3.0)
        return axis * (1.0 - self.eccentricity) - 6378.135, axis * (1.0 + self.eccentricity) - 6378.135

    def satrec(self) -> Satrec:
        """The same as a record of the SGP4 library, WGS-72, improved mode.

        Raises
        ------
        ElementsError
            If SGP4 finds no orbit in them.
        """
        from sgp4.api import WGS72, Satrec

        record, turn = Satrec(), math.radians(1.0)
        radians_per_minute = self.mean_motion * 2.0 * math.pi / 1440.0
        record.sgp4init(
            WGS72, "i", self.number, self.epoch_day - _JULIAN_1950 + self.epoch_fraction, self.drag,
            self.mean_motion_dot * 2.0 * math.pi / 1440.0**2, 0.0, self.eccentricity, self.perigee * turn,
            self.inclination * turn, self.mean_anomaly * turn, radians_per_minute, self.node * turn,
        )  # fmt: skip
        if record.error:
            raise decay_error(self, record.error)
        return record


def decay_error(elements: Elements, code: int, *, when: datetime | None = None) -> ElementsError:
    """What a fault of SGP4 means; ``code`` is its own."""
    low, _ = elements.heights
    at = "" if when is None else f" by {when:%Y-%m-%d %H:%M} UTC"
    what = f"has decayed{at}: it meets the atmosphere" if code == 6 else f"is no orbit{at} any more (SGP4 fault {code})"
    return ElementsError(
        f"{what}; by the elements it comes down to {low:.0f} km", where=elements.name or "elements",
        mend="take newer elements, or another satellite",
    )  # fmt: skip


def check_age(elements: Elements, *, first: datetime, last: datetime) -> tuple[Caution, ...]:
    """What to watch for when elements serve from ``first`` to ``last`` (UTC).

    Raises
    ------
    ElementsError
        When the nearest of these days is more than a year from the epoch.
    """
    out = []
    ages = [(moment - elements.epoch).total_seconds() / 86400.0 for moment in (first, last)]
    nearest = 0.0 if ages[0] <= 0.0 <= ages[1] else min(ages, key=abs)
    if abs(nearest) > TOO_OLD:
        raise ElementsError(
            f"the elements are of {elements.epoch:%Y-%m-%d}, {abs(nearest) / 365.25:.1f} years {'before' if nearest > 0 else 'after'} "
            f"{(first if nearest > 0 else last):%Y-%m-%d}",
            where=elements.name or "elements", mend="take elements of these days",
        )  # fmt: skip
    oldest = max(ages, key=abs)
    if abs(oldest) > OLD:
        days = abs(oldest)
        low, high = (ERROR_AT_EPOCH + rate * days for rate in ERROR_GROWTH)
        speed = (2.0 * math.pi * _MU / (60.0 * elements.period)) ** (1.0 / 3.0)
        out.append(
            Caution(
                "caution" if abs(nearest) > OLD else "note",
                f"the elements of {elements.name or 'the satellite'} are of {elements.epoch:%Y-%m-%d}, up to {days:.0f} days away: it may "
                f"be {low:.0f} to {high:.0f} km off along its path, so passes may come {low / speed:.0f} to {high / speed:.0f} s early "
                "or late (1 to 3 km a day; a low orbit or a restless sun makes it more)",
                "take newer elements before you wait for a pass; minutes per day hardly change",
                measured=days, limit=OLD, unit="days",
            )
        )  # fmt: skip
    if elements.deep_space:
        out.append(
            Caution(
                "note",
                f"one turn takes {elements.period:.0f} minutes: SGP4 counts it as deep space, with sun, moon and resonances",
            )
        )
    return tuple(out)


def julian_day(midnight: datetime) -> float:
    """Julian date of a midnight in UTC."""
    return 2451544.5 + (midnight - _J2000).days


_RANGES: tuple[tuple[str, float, float, str], ...] = (
    ("inclination", 0.0, 180.0, "degree"), ("node", -360.0, 360.0, "degree"), ("eccentricity", 0.0, 0.9999999, ""),
    ("perigee", -360.0, 360.0, "degree"), ("mean_anomaly", -360.0, 360.0, "degree"), ("mean_motion", 0.03, 18.0, "turns a day"),
    ("drag", -10.0, 10.0, "1/earth radius"), ("mean_motion_dot", -10.0, 10.0, "turns a day, a day"),
)  # fmt: skip


def checked(elements: Elements, where: str) -> Elements:
    """``elements`` if every number is one that an orbit can have; raises :class:`ElementsError`."""
    for name, low, high, unit in _RANGES:
        value = getattr(elements, name)
        if not low <= value <= high:
            raise ElementsError(
                f"{name.replace('_', ' ')} {value:g} is outside {low:g} to {high:g} {unit}".rstrip(), where=where,
                mend="take the elements again",
            )  # fmt: skip
    return elements


def short(value: object) -> str:
    """What someone wrote, cut and safe on a terminal."""
    shown = "".join(ch if ch.isprintable() else "?" for ch in str(value)[:60])
    return shown if len(shown) <= 30 else f"{shown[:27]}..."
