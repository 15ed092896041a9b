"""Passes against skyfield and against closed formulas; sites at the poles, nothing in sight, hills in the way."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_sky import LINES

from aerialwright.air.element_text import parse_elements
from aerialwright.air.elements import Elements, ElementsError
from aerialwright.air.passes import DAY, Passes, Sky, find_passes, julian, mask_elevation, sidereal_time, site_position
from aerialwright.base.errors import NeedError
from aerialwright.need.model import Site

START = datetime(2026, 11, 2, tzinfo=UTC)
FINCHLING = parse_elements(LINES)
SITE = Site("roof", 9.0, latitude=52.2, longitude=0.1)
PLACES = [(52.2, 0.1), (-33.9, 151.2), (0.0, -78.5), (89.99, 10.0), (-90.0, 0.0), (64.1, 338.1)]


@pytest.fixture(scope="module")
def ten_days() -> Passes:
    return find_passes(FINCHLING, SITE, start=START, days=10.0)


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_topocentric_against_skyfield(latitude: float, longitude: float) -> None:
    """Azimuth, elevation, distance and range rate at 400 times of two days; what is left is UT1 against UTC."""
    from skyfield.api import EarthSatellite, load, wgs84

    sky = Sky(FINCHLING, latitude=latitude, longitude=longitude, height=9.0, start=START)
    track = sky.track(np.linspace(0.0, 2 * DAY, 400))
    scale = load.timescale(builtin=True)
    satellite = EarthSatellite(*LINES.splitlines()[1:], "FINCHLING-1", scale)
    place = wgs84.latlon(latitude, longitude, elevation_m=9.0)
    at = scale.from_datetimes([START + timedelta(seconds=float(t)) for t in track.time])
    elevation, azimuth, distance, _, _, rate = (satellite - place).at(at).frame_latlon_and_rates(place)
    # 0.9 s of UT1 against UTC at most: 0.4 km of ground, 0.05 degree for a satellite 500 km away.
    around = np.abs(np.mod(azimuth.degrees - track.azimuth + 180.0, 360.0) - 180.0) * np.cos(
        np.radians(track.elevation)
    )
    assert np.abs(elevation.degrees - track.elevation).max() < 0.02
    assert around.max() < 0.02
    assert np.abs(distance.m - track.distance).max() < 200.0
    assert np.abs(rate.m_per_s - track.range_rate).max() < 0.5


def test_rises_against_skyfield(ten_days: Passes) -> None:
    """Every rise and set of ten days, against skyfield's own search."""
    from skyfield.api import EarthSatellite, load, wgs84

    scale = load.timescale(builtin=True)
    satellite = EarthSatellite(*LINES.splitlines()[1:], "FINCHLING-1", scale)
    place = wgs84.latlon(52.2, 0.1, elevation_m=9.0)
    times, events = satellite.find_events(
        place, scale.from_datetime(START), scale.from_datetime(START + timedelta(days=10)), altitude_degrees=0.0
    )
    seconds = np.array([(t.utc_datetime() - START).total_seconds() for t in times])
    assert [one.rise for one in ten_days.passes] == pytest.approx(list(seconds[events == 0]), abs=2.5)
    assert [one.set for one in ten_days.passes] == pytest.approx(list(seconds[events == 2]), abs=2.5)


def test_ten_days_are_quick(ten_days: Passes) -> None:
    best = math.inf
    for _ in range(3):
        begun = time.perf_counter()
        find_passes(FINCHLING, SITE, start=START, days=10.0)
        best = min(best, time.perf_counter() - begun)
    assert len(ten_days.passes) > 50
    assert best < 1.5, "0.2 s on a quiet machine"


@pytest.mark.parametrize(
    ("height", "speed", "minutes", "shift"), [(400.0, 7.6726, 92.414, 3511.0), (550.0, 7.5890, 95.502, 3397.0)]
)
def test_doppler_of_a_circular_orbit(height: float, speed: float, minutes: float, shift: float) -> None:
    """Speed, period and zero-elevation Doppler at 145.8 MHz by f v (R/r) / c over an earth that does not turn; at the
    pole ours does not either (computed from mu and R = 6371 km; the pole lies 14 km lower, which is 0.2 %)."""
    radius = 6371.0 + height
    assert math.sqrt(398600.4418 / radius) == pytest.approx(speed, rel=1e-4)
    elements = replace(FINCHLING, inclination=90.0, eccentricity=1e-6, mean_motion=1440.0 / minutes)
    assert elements.period == pytest.approx(minutes)
    site = Site("pole", 0.0, latitude=90.0, longitude=0.0)
    found = find_passes(elements, site, start=START, days=10.0)
    high = max(found.passes, key=lambda one: one.track.elevation.max())
    doppler = high.track.doppler(frequency=145.8e6)
    assert high.track.elevation.max() > 85.0
    assert doppler[0] == pytest.approx(shift, rel=0.005)
    assert doppler[-1] == pytest.approx(-shift, rel=0.005)
    # Coming nearer is a higher frequency, and the closest point has none.
    assert abs(doppler[np.argmin(high.track.distance)]) < 60.0


@pytest.mark.parametrize(("elevation", "kilometres"), [(0.0, 2626.0), (10.0, 1743.0), (30.0, 943.0), (90.0, 520.0)])
def test_slant_range(elevation: float, kilometres: float, ten_days: Passes) -> None:
    """Distance of a 520 km orbit by elevation over a sphere of 6371 km, by hand: sqrt((R sin e)^2 + 2 R h + h^2) - R sin e. The
    real orbit is 509 to 531 km over the equator's radius and up to 545 km over this site, whose ground lies nearer the centre."""
    s = 6371.0 * math.sin(math.radians(elevation))
    assert math.sqrt(s * s + 2 * 6371.0 * 520.0 + 520.0**2) - s == pytest.approx(kilometres, abs=1.0)
    every = [(one.track.elevation, one.track.distance) for one in ten_days.passes]
    angle, distance = (np.concatenate(parts) for parts in zip(*every, strict=True))
    near = np.abs(angle - min(elevation, 85.0)) < 1.0
    assert np.all(np.abs(distance[near] / 1e3 / kilometres - 1.0) < 0.08)


def test_sidereal_time() -> None:
    """Example of [@vallado-2013], from memory: 1992 August 20, 12:14 UT1 is 152.578788 degree."""
    day, fraction = julian(datetime(1992, 8, 20, 12, 14, tzinfo=UTC))
    assert math.degrees(float(sidereal_time(day=day, fraction=fraction))) == pytest.approx(152.578788, abs=1e-5)


def test_site_on_the_ellipsoid() -> None:
    """Equator and pole of WGS 84: 6378137 m and 6356752.3142 m [@vallado-2013]."""
    assert site_position(latitude=0.0, longitude=90.0, height=0.0) == pytest.approx([0.0, 6378137.0, 0.0], abs=1e-6)
    assert site_position(latitude=90.0, longitude=0.0, height=100.0) == pytest.approx(
        [0.0, 0.0, 6356852.3142], abs=1e-3
    )


def test_horizon_mask_takes_time_and_never_adds(ten_days: Passes) -> None:
    trees = ((330.0, 12.0), (30.0, 12.0), (31.0, 0.0), (329.0, 0.0))
    hidden = find_passes(FINCHLING, replace(SITE, horizon=trees), start=START, days=10.0)
    assert 0.7 * ten_days.seconds < hidden.seconds < 0.99 * ten_days.seconds
    for one in hidden.passes:
        clear = one.track.elevation[one.visible] >= mask_elevation(trees, one.track.azimuth[one.visible])
        assert clear.all()
    assert (
        find_passes(FINCHLING, replace(SITE, horizon=((0.0, 10.0),)), start=START, days=10.0).seconds
        < 0.6 * ten_days.seconds
    )


def test_mask_goes_round_the_circle() -> None:
    found = mask_elevation(((350.0, 10.0), (10.0, 20.0), (180.0, 0.0)), np.array([350.0, 0.0, 360.0, 10.0, 180.0]))
    assert found == pytest.approx([10.0, 15.0, 15.0, 20.0, 0.0])
    assert mask_elevation(((90.0, 7.0),), np.array([0.0, 200.0])) == pytest.approx([7.0, 7.0])


def test_a_polar_site_sees_every_turn() -> None:
    """Over the pole an orbit of 97.5 degree inclination passes each time: 15.15 times a day."""
    found = find_passes(FINCHLING, replace(SITE, latitude=90.0), start=START, days=4.0)
    assert len(found.passes) == pytest.approx(15.15 * 4, abs=1.5)


def test_nothing_in_sight() -> None:
    """An orbit over the equator is never seen from the far north."""
    level = replace(FINCHLING, inclination=0.5)
    assert find_passes(level, replace(SITE, latitude=75.0), start=START, days=3.0).passes == ()


def test_always_in_sight() -> None:
    """A satellite that turns with the earth, a little over the site's horizon: one pass that begins and ends with the days."""
    still = Elements("still", 99903, 2461345.5, 0.5, 0.05, 0.0, 1e-4, 0.0, 0.0, 1.00273791, 0.0)
    sky = Sky(still, latitude=0.0, longitude=0.0, height=0.0, start=START)
    # Put the site below it.
    track = sky.track(np.array([0.0]))
    site = next(
        Site("below", 0.0, latitude=0.0, longitude=lon)
        for lon in np.arange(0.0, 360.0, 30.0).tolist()
        if Sky(still, latitude=0.0, longitude=lon, height=0.0, start=START).track(np.array([0.0])).elevation[0] > 40.0
    )
    assert track.distance[0] > 3.4e7
    (one,) = find_passes(still, site, start=START, days=2.0).passes
    assert not one.whole
    assert one.seconds == pytest.approx(2 * DAY)


def test_low_passes_are_not_missed() -> None:
    """Every culmination above the floor in a brute search at 5 s is a pass, even where it lasts seconds."""
    sky = Sky(FINCHLING, latitude=52.2, longitude=0.1, height=9.0, start=START)
    track = sky.track(np.arange(0.0, 3 * DAY, 5.0))
    for floor in (0.0, 20.0, 60.0):
        over = track.elevation > floor
        count = int(np.count_nonzero(~over[:-1] & over[1:]))
        found = find_passes(FINCHLING, replace(SITE, horizon=((0.0, floor),)), start=START, days=3.0)
        assert len(found.passes) in (count, count + 1)


def test_a_decayed_orbit_is_an_error_with_a_date() -> None:
    low = replace(FINCHLING, mean_motion=16.4, drag=0.05)
    with pytest.raises(ElementsError, match=r"decayed by 2026-11-\d\d|no orbit by 2026"):
        find_passes(low, SITE, start=START, days=10.0)


def test_a_site_without_coordinates() -> None:
    with pytest.raises(NeedError, match="latitude"):
        find_passes(FINCHLING, Site("somewhere"), start=START)


@settings(max_examples=40, deadline=None)
@given(
    inclination=st.floats(0.0, 180.0), share=st.floats(0.0, 1.1), motion=st.floats(0.5, 16.2), perigee=st.floats(0.0, 360.0),
    latitude=st.floats(-90.0, 90.0), longitude=st.floats(-180.0, 360.0),
    horizon=st.lists(st.tuples(st.floats(0.0, 359.0), st.floats(0.0, 60.0)), max_size=4, unique_by=lambda pair: pair[0]),
)  # fmt: skip
def test_any_orbit_over_any_site(
    inclination: float, share: float, motion: float, perigee: float, latitude: float, longitude: float,
    horizon: list[tuple[float, float]],
) -> None:  # fmt: skip
    """Passes follow each other within the days, above the mask, and what is not an orbit is the program's own error."""
    axis = (398600.4 / (motion * 2 * math.pi / DAY) ** 2) ** (1 / 3)
    # Up to the orbit whose lowest point is 220 km high, and a little beyond.
    eccentricity = min(max(share * (1.0 - 6600.0 / axis), 0.0), 0.9)
    elements = replace(
        FINCHLING, inclination=inclination, eccentricity=eccentricity, mean_motion=motion, perigee=perigee
    )
    site = Site("any", 5.0, latitude=latitude, longitude=longitude, horizon=tuple(horizon))
    try:
        found = find_passes(elements, site, start=START, days=2.0)
    except ElementsError as error:
        assert error.mend
        return
    before = 0.0
    for one in found.passes:
        assert before - 1e-6 <= one.rise < one.set <= 2.0 * DAY + 1e-6
        before = one.set
        assert np.all(np.diff(one.track.time) > 0.0)
        assert one.track.elevation[one.visible].min() >= 0.0
        assert one.seconds <= one.set - one.rise + 1e-6
