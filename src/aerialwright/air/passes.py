"""When a satellite stands over a place, and where: azimuth, elevation, distance and Doppler over ten days in one go.

SGP4 gives positions in the true equator, mean equinox frame; the earth turns below it by Greenwich mean sidereal time
[@vallado-2013]. UT1 is taken as UTC (at most 0.9 s, 0.4 km on the ground) and the pole does not move; the path is straight, without
refraction. Times are seconds from a start in UTC.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from aerialwright.air.elements import Elements, decay_error
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.errors import NeedError
from aerialwright.need.model import Site

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Equatorial radius [m] and flattening of WGS 84, turn of the earth [rad/s] [@vallado-2013].
RADIUS, FLATTENING, EARTH_TURN = 6378137.0, 1.0 / 298.257223563, 7.29211514670698e-5
DAY = 86400.0
_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


@dataclass(frozen=True)
class Track:
    """Where a satellite is seen: ``time`` (n,) [s] from the start, ``azimuth`` and ``elevation`` (n,) [degree], ``distance`` (n,) [m],
    ``range_rate`` (n,) [m/s], positive when it goes away."""

    time: FloatArray
    azimuth: FloatArray
    elevation: FloatArray
    distance: FloatArray
    range_rate: FloatArray

    def part(self, where: BoolArray | slice) -> Track:
        """The samples chosen by a mask or a slice."""
        return Track(
            self.time[where], self.azimuth[where], self.elevation[where], self.distance[where], self.range_rate[where]
        )

    def doppler(self, *, frequency: float) -> FloatArray:
        """Shift (n,) [Hz] of a downlink at ``frequency`` [Hz]: positive while it comes nearer."""
        return -frequency * self.range_rate / SPEED_OF_LIGHT


@dataclass(frozen=True)
class Pass:
    """One pass above the horizon mask. ``rise`` and ``set`` [s] from the start, and the ``track`` between them in even steps of
    ``step`` [s], each standing for the time around it. ``visible`` (n,): above the mask (a hill may hide the middle).
    ``whole``: it neither began before the time looked at nor goes on after it."""

    rise: float
    set: float
    track: Track
    visible: BoolArray
    step: float
    whole: bool

    @property
    def highest(self) -> int:
        """Index of the highest visible sample."""
        return int(np.argmax(np.where(self.visible, self.track.elevation, -np.inf)))

    @property
    def seconds(self) -> float:
        """Time above the mask [s]."""
        return float(np.count_nonzero(self.visible)) * self.step


@dataclass(frozen=True)
class Passes:
    """All passes over a site within ``days`` from ``start``."""

    start: datetime
    days: float
    passes: tuple[Pass, ...]

    def moment(self, seconds: float) -> datetime:
        """UTC of a time of a track."""
        return self.start + timedelta(seconds=float(seconds))

    @property
    def seconds(self) -> float:
        """Time above the mask in all [s]."""
        return sum(one.seconds for one in self.passes)


def sidereal_time(*, day: FloatArray | float, fraction: FloatArray | float) -> FloatArray:
    """Greenwich mean sidereal time [rad] of Julian date (UT1) ``day`` + ``fraction``, IAU 1982 [@vallado-2013]."""
    since = (np.asarray(day) - 2451545.0) + np.asarray(fraction)
    century = since / 36525.0
    # The whole turns of each day are left out, so that no digits are lost.
    turns = np.mod(np.asarray(day) - 2451545.0, 1.0) + np.mod(fraction, 1.0)
    seconds = 67310.54841 + 8640184.812866 * century + 0.093104 * century**2 - 6.2e-6 * century**3 + DAY * turns
    return np.asarray(np.mod(seconds, DAY) * (2.0 * math.pi / DAY), dtype=np.float64)


def site_position(*, latitude: float, longitude: float, height: float) -> FloatArray:
    """Place (3,) [m] fixed to the earth, of geodetic ``latitude`` and ``longitude`` [degree] and ``height`` [m] [@vallado-2013]."""
    lat, lon = math.radians(latitude), math.radians(longitude)
    square = FLATTENING * (2.0 - FLATTENING)
    normal = RADIUS / math.sqrt(1.0 - square * math.sin(lat) ** 2)
    across = (normal + height) * math.cos(lat)
    return np.array(
        [across * math.cos(lon), across * math.sin(lon), (normal * (1.0 - square) + height) * math.sin(lat)]
    )


def julian(moment: datetime) -> tuple[float, float]:
    """Julian day (ends in .5) and fraction of a UTC moment."""
    since = moment.astimezone(UTC) - _J2000
    days, rest = divmod(since.total_seconds() + 0.5 * DAY, DAY)
    return 2451544.5 + days, rest / DAY


class Sky:
    """The sky of one place for one satellite, from ``start`` (UTC) on."""

    def __init__(
        self, elements: Elements, *, latitude: float, longitude: float, height: float, start: datetime
    ) -> None:
        self.elements, self.start = elements, start
        self._record = elements.satrec()
        self._day, self._fraction = julian(start)
        self._site = site_position(latitude=latitude, longitude=longitude, height=height)
        lat, lon = math.radians(latitude), math.radians(longitude)
        east = [-math.sin(lon), math.cos(lon), 0.0]
        north = [-math.sin(lat) * math.cos(lon), -math.sin(lat) * math.sin(lon), math.cos(lat)]
        up = [math.cos(lat) * math.cos(lon), math.cos(lat) * math.sin(lon), math.sin(lat)]
        self._axes = np.array([east, north, up])

    def track(self, time: FloatArray) -> Track:
        """Where it is seen at ``time`` (n,) [s] from the start.

        Raises
        ------
        ElementsError
            If the orbit ends before the last of them.
        """
        fraction = self._fraction + time / DAY
        fault, position, velocity = self._record.sgp4_array(np.full(len(time), self._day), fraction)
        if np.any(fault):
            first = int(np.flatnonzero(fault)[0])
            raise decay_error(self.elements, int(fault[first]), when=self.start + timedelta(seconds=float(time[first])))
        angle = sidereal_time(day=self._day, fraction=fraction)
        cosine, sine = np.cos(angle), np.sin(angle)
        x, y = position[:, 0], position[:, 1]
        u, v = velocity[:, 0], velocity[:, 1]
        fixed = 1e3 * np.stack([cosine * x + sine * y, cosine * y - sine * x, position[:, 2]])
        moving = 1e3 * np.stack([cosine * u + sine * v, cosine * v - sine * u, velocity[:, 2]])
        moving[0] += EARTH_TURN * fixed[1]
        moving[1] -= EARTH_TURN * fixed[0]
        away = fixed - self._site[:, None]
        distance = np.sqrt(np.sum(away**2, axis=0))
        east, north, up = self._axes @ away
        return Track(
            time, np.mod(np.degrees(np.arctan2(east, north)), 360.0), np.degrees(np.arcsin(up / distance)), distance,
            np.sum(away * moving, axis=0) / distance,
        )  # fmt: skip


def mask_elevation(mask: tuple[tuple[float, float], ...], azimuth: FloatArray) -> FloatArray:
    """Elevation (n,) [degree] of a horizon given as (azimuth, elevation) pairs [degree], straight between them, round the circle."""
    if not mask:
        return np.zeros(len(azimuth))
    pairs = np.array(sorted(mask))
    return np.asarray(np.interp(azimuth, pairs[:, 0], pairs[:, 1], period=360.0), dtype=np.float64)


def find_passes(elements: Elements, site: Site, *, start: datetime, days: float = 10.0) -> Passes:
    """Every pass above the site's horizon mask within ``days`` from ``start`` (UTC).

    Raises
    ------
    ElementsError
        If the orbit ends within these days.
    NeedError
        If nobody said where the site is.
    """
    if site.latitude is None or site.longitude is None:
        raise NeedError("passes need to know where it is", where="site", mend="add latitude and longitude")
    sky = Sky(elements, latitude=site.latitude, longitude=site.longitude, height=site.height, start=start)
    end = days * DAY
    count = 1 + math.ceil(end / _coarse_step(elements))
    coarse = sky.track(np.asarray(np.linspace(0.0, end, count), dtype=np.float64))
    floor = min((elevation for _, elevation in site.horizon), default=0.0)
    fine = min(60.0, max(1.0, elements.period * 60.0 / 2700.0))
    out = []
    for first, last in _spans(sky, coarse, floor):
        count = max(1, round((last - first) / fine))
        step = (last - first) / count
        track = sky.track(first + step * (np.arange(count, dtype=np.float64) + 0.5))
        visible = track.elevation >= mask_elevation(site.horizon, track.azimuth)
        if not visible.any():
            continue
        seen = np.flatnonzero(visible)
        low, high = int(seen[0]), int(seen[-1]) + 1
        begin, stop = first + step * low, first + step * high
        whole = begin > 0.5 * step and stop < end - 0.5 * step
        out.append(Pass(begin, stop, track.part(slice(low, high)), visible[low:high], step, whole))
    return Passes(start, days, tuple(out))


def _coarse_step(elements: Elements) -> float:
    """A 180th of a turn at the quickest [s]: passes that rise by some degrees last several of them."""
    # Angular speed at perigee against the mean one, of the two-body orbit.
    quicker = (1.0 + elements.eccentricity) ** 2 / (1.0 - elements.eccentricity**2) ** 1.5
    return max(10.0, float(elements.period * 60.0 / 180.0 / quicker))


def _spans(sky: Sky, coarse: Track, floor: float) -> list[tuple[float, float]]:
    """Times between which the elevation is above ``floor`` [degree]."""
    over = coarse.elevation - floor
    time = coarse.time
    # Culminations between samples: a parabola through three of them can lift one over the floor.
    inner = (
        np.flatnonzero((over[1:-1] >= over[:-2]) & (over[1:-1] > over[2:]) & (over[1:-1] <= 0.0) & (over[1:-1] > -5.0))
        + 1
    )
    tops = _refined(sky, time[inner - 1], time[inner + 1])
    lifted = tops.elevation > floor
    time = np.concatenate([time, tops.time[lifted]])
    over = np.concatenate([over, tops.elevation[lifted] - floor])
    order = np.argsort(time)
    time, over = time[order], over[order]
    up = np.flatnonzero((over[:-1] <= 0.0) & (over[1:] > 0.0))
    down = np.flatnonzero((over[:-1] > 0.0) & (over[1:] <= 0.0))
    rises = list(_crossings(sky, time[up], time[up + 1], floor, rising=True))
    sets = list(_crossings(sky, time[down], time[down + 1], floor, rising=False))
    if over[0] > 0.0:
        rises.insert(0, 0.0)
    if over[-1] > 0.0:
        sets.append(float(time[-1]))
    return [(float(first), float(last)) for first, last in zip(rises, sets, strict=True)]


def _refined(sky: Sky, low: FloatArray, high: FloatArray) -> Track:
    """Culminations between ``low`` and ``high`` (m,) [s], all at once, by halving the slope's bracket."""
    for _ in range(12):
        middle = 0.5 * (low + high)
        rising = sky.track(middle + 0.05).elevation > sky.track(middle - 0.05).elevation
        low, high = np.where(rising, middle, low), np.where(rising, high, middle)
    return sky.track(0.5 * (low + high))


def _crossings(sky: Sky, low: FloatArray, high: FloatArray, floor: float, *, rising: bool) -> FloatArray:
    """Times (m,) [s] where the elevation passes ``floor``, to a few milliseconds, by halving all brackets at once."""
    for _ in range(14):
        middle = 0.5 * (low + high)
        after = (sky.track(middle).elevation > floor) == rising
        low, high = np.where(after, low, middle), np.where(after, middle, high)
    return 0.5 * (low + high)
