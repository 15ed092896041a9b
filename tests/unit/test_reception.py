"""Decodable minutes: by hand for one moment, by laws for the rest. The satellite is invented."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from small_needs import design_for
from small_sky import FIELD, ROOF, sky_need

from aerialwright.air.elements import ElementsError
from aerialwright.air.reception import (
    Heavens,
    Reception,
    decoding,
    heavens,
    notes,
    pattern_at,
    readings,
    receive,
    receptions,
    score,
    scorer,
)
from aerialwright.base.errors import NeedError
from aerialwright.design.evaluate import evaluate
from aerialwright.design.rank import Candidate, ranked
from aerialwright.design.records import Evaluation, Score
from aerialwright.need.check import check_need
from aerialwright.need.model import Band, Need

NEED = sky_need()


@pytest.fixture(scope="module")
def antennas() -> dict[str, Evaluation]:
    return {
        key: evaluate(design_for(key, NEED), NEED, NEED.must_bands, sensitivities=False)
        for key in ("dipole", "ground-plane")
    }


@pytest.fixture(scope="module")
def seen() -> Heavens:
    found = heavens(NEED)
    assert found is not None
    return found


def at_field(need: Need, antennas: dict[str, Evaluation], key: str = "dipole") -> Reception:
    found = heavens(need)
    assert found is not None
    return receptions(need, antennas[key], found)[1]


def test_one_moment_by_hand(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    """EIRP - 20 log(4 pi d / lambda) + gain + polarisation - kT0BF, every term worked here again."""
    one = receptions(NEED, antennas["dipole"], seen)[1]
    index = one.best
    assert index is not None
    track = one.passes.passes[index].track
    k = one.passes.passes[index].highest
    pattern, beneath = pattern_at(antennas["dipole"].structure, 145.84e6, FIELD.ground, FIELD.height)
    gain = np.interp(math.radians(90.0 - track.elevation[k]), pattern.theta, pattern.gain.mean(axis=1))
    wavelength = 299792458.0 / 145.84e6
    signal = (
        10 * math.log10(0.3) - 20 * math.log10(4 * math.pi * track.distance[k] / wavelength) + 10 * math.log10(gain)
    )
    noise = 10 * math.log10(1.380649e-23 * 290 * 12500) + one.hearing.total
    assert one.full[index][k] == pytest.approx(signal - noise, abs=1e-6)
    assert one.level(index)[k] == pytest.approx(signal - noise - 3.0103, abs=1e-3)
    assert "over medium dry ground 4 m below" in beneath
    assert one.budget is not None
    values = {words: value for words, value, _ in one.budget.items}
    *items, total, needed = values.values()
    assert sum(items[:-1]) - items[-1] == pytest.approx(total, abs=1e-6), "the items add up"
    assert needed == 13.0


def test_more_signal_never_decodes_less(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    one = receptions(NEED, antennas["ground-plane"], seen)[0]
    minutes = [one.minutes(margin=margin) for margin in (-30.0, -3.0, 0.0, 3.0, 10.0, 30.0, 60.0)]
    assert minutes == sorted(minutes)
    assert minutes[0] == 0.0
    # A signal without end decodes all the time that it is seen, but for the tilts that cross.
    assert minutes[-1] == pytest.approx(one.overhead, rel=0.02)
    assert np.all(one.seconds(margin=10.0) <= [p.seconds + 1e-6 for p in one.passes.passes])


def test_power_is_margin(antennas: dict[str, Evaluation]) -> None:
    """Ten times the power is 10 dB, twice as much gain 3."""
    plain, strong = (at_field(sky_need(power=power), antennas) for power in (0.3, 3.0))
    assert strong.minutes() == pytest.approx(plain.minutes(margin=10.0), rel=1e-9)
    need = sky_need()
    assert need.satellite is not None
    louder = replace(need, satellite=replace(need.satellite, gain=3.0))
    assert at_field(louder, antennas).minutes() == pytest.approx(plain.minutes(margin=3.0), rel=1e-9)


def test_circular_waves_do_not_fade(antennas: dict[str, Evaluation]) -> None:
    """A linear antenna takes half of a circular wave whatever the tilt: decoded or not, nothing between; either hand alike."""
    right = at_field(sky_need(antenna="right-hand circular", power=3.0), antennas)
    left = at_field(sky_need(antenna="left-hand circular", power=3.0), antennas)
    for k in range(len(right.passes.passes)):
        assert set(np.unique(right.likelihood(k))) <= {0.0, 1.0}
        assert right.level(k, part=0.1) == pytest.approx(right.level(k, part=0.9), abs=1e-6)
    assert right.minutes() == pytest.approx(left.minutes())
    assert right.minutes() > 0.0


def test_the_site_matters_more_than_the_antenna(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    """What the noise of a place takes away no antenna of this kind brings back; it is said with numbers."""
    minutes = {key: [one.minutes() for one in receptions(NEED, e, seen)] for key, e in antennas.items()}
    for roof, field in minutes.values():
        assert field > 10.0 * roof
    at_best = [field for _, field in minutes.values()]
    assert max(at_best) - min(at_best) < 0.5 * max(at_best)
    proposals = ranked(NEED, candidates(antennas, seen))
    found = decoding(NEED, seen, proposals)
    assert found is not None
    assert any("the site matters more than the antenna" in text for text in readings(NEED, found))
    assert found.recommended.site == "the field"
    assert proposals[0].score is not None
    assert proposals[0].score.place == "the field"
    assert any("from memory" in text for text in notes(found)), "the assumed threshold is called one"
    assert any("radians" in text for text in notes(found))


def candidates(antennas: dict[str, Evaluation], seen: Heavens) -> list[Candidate]:
    return [
        Candidate(design_for(key, NEED), e, NEED.must_bands, True, score(NEED, seen, e)) for key, e in antennas.items()
    ]


def test_minutes_decide_the_order(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    """The candidate with minutes to spare comes first whatever its signal is; within what a decibel changes the simpler one does."""
    made = candidates(antennas, seen)
    far = [
        replace(made[0], score=Score(1.0, 0.3, "minutes a day", "x")),
        replace(made[1], score=Score(5.0, 0.3, "minutes a day", "x")),
    ]
    first, second = ranked(NEED, far)
    assert first.title == made[1].evaluation.title
    assert "decodes 4.0 minutes a day more" in " ".join(first.reasons)
    assert "1.0 minutes a day at x, 4.0 less than the best here" in second.verdict
    assert "4.0 minutes a day" in second.gives_up
    near = [replace(far[0], score=Score(4.9, 0.3, "minutes a day", "x")), far[1]]
    first, _ = ranked(NEED, near)
    assert first.title == made[0].evaluation.title, "the dipole takes fewer pieces"
    assert "less than one decibel changes" in " ".join(first.reasons)


def test_other_must_bands_keep_the_signal_in_charge(seen: Heavens) -> None:
    other = replace(NEED, bands=(*NEED.bands, Band("other", 156e6, 157e6)))
    assert scorer(NEED, seen) is not None
    assert scorer(other, seen) is None
    assert scorer(NEED, None) is None


def test_low_antennas_and_unknown_frequencies_say_so(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    """Nearer than half a wavelength to the ground its currents would change: free space, and it is said."""
    _, beneath = pattern_at(antennas["dipole"].structure, 145.84e6, "medium dry ground", 0.8)
    assert beneath.startswith("that of free space (its lowest metal")
    low = receive(NEED, antennas["dipole"], seen, site=replace(FIELD, height=0.5), passes=seen.sites[1][1])
    assert "free space" in low.beneath


def test_pattern_repeats_round_the_axis(antennas: dict[str, Evaluation]) -> None:
    """One sector computed and repeated is what the whole turn gives."""
    from aerialwright.solution.over_ground import pattern_over_ground
    from aerialwright.solution.solve import solve
    from aerialwright.structure.ground import Ground

    structure = antennas["ground-plane"].structure
    found, _ = pattern_at(structure, 145.84e6, "wet ground", 6.0)
    solution = solve(structure, np.array([145.84e6]), check=False)
    whole = pattern_over_ground(
        solution, 145.84e6, ground=Ground.named("wet ground"), height=6.0, theta=found.theta, phi=found.phi
    )  # fmt: skip
    assert found.gain == pytest.approx(whole.gain, rel=1e-6, abs=1e-9)


def test_gaps_and_passes(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    one = at_field(sky_need(power=30.0), antennas)
    assert 4.0 < one.passes_per_day < 7.0
    # A site at 52 degrees sees six or so passes in two groups a day: some hours lie between.
    assert 4.0 < one.longest_gap / 3600.0 < 14.0
    silent = at_field(sky_need(power=1e-6), antennas)
    assert silent.passes_per_day == 0.0
    assert silent.longest_gap == pytest.approx(240.0 * 3600.0)
    assert silent.minutes() == 0.0
    assert silent.best is not None, "there is a best pass even if it is too weak"


def test_what_helps_is_counted_in_minutes(antennas: dict[str, Evaluation], seen: Heavens) -> None:
    """A preamplifier's decibels [see the hearing] shift the whole pass."""
    one = receptions(NEED, antennas["dipole"], seen)[1]
    gains = {change.key: change.gain for change in one.hearing.helps}
    assert one.minutes(margin=gains["mast"]) > one.minutes()


def test_speed(antennas: dict[str, Evaluation]) -> None:
    """Ten days, one satellite, two sites and these two antennas, passes and patterns anew: half of the four antennas of the budget
    of 3 s."""
    best = math.inf
    for _ in range(2):
        pattern_at.cache_clear()
        begun = time.process_time()
        found = heavens(NEED)
        assert found is not None
        for e in antennas.values():
            for one in receptions(NEED, e, found):
                one.minutes()
        best = min(best, time.process_time() - begun)
    assert best < 3.0


# ---- needs


def test_days_and_faults() -> None:
    need = sky_need()
    assert need.satellite is not None
    undated = replace(need, satellite=replace(need.satellite, first_day=None))
    found = heavens(undated, today=date(2026, 11, 20), days=1.0)
    assert found is not None
    assert found.sites[0][1].start.date() == date(2026, 11, 20)
    assert [caution.level for caution in found.cautions] == ["caution"]
    with pytest.raises(ElementsError, match="years before 2031"):
        heavens(undated, today=date(2031, 1, 1))
    north = replace(need, site=replace(ROOF, latitude=89.0), site_alternatives=())
    level = need.satellite.elements.replace(" 97.5000", "  1.0000").replace("    15\n", "    19\n")
    with pytest.raises((NeedError, ElementsError)) as caught:
        heavens(replace(north, satellite=replace(need.satellite, elements=fixed(level))))
    assert "never rises" in caught.value.what
    assert heavens(replace(need, satellite=None)) is None


def fixed(lines: str) -> str:
    """With the checksums made right."""
    from aerialwright.air.element_lines import checksum

    name, *rest = lines.splitlines()
    return "\n".join([name, *(f"{line[:68]}{checksum(line)}" for line in rest)]) + "\n"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"band": "nowhere"}, "satellite.band: 'nowhere' is not known here"),
        ({"antenna": "dish"}, "satellite.antenna: 'dish'"),
        ({"power": 0.0}, "satellite.power"),
        ({"gain": 90.0}, "satellite.gain"),
        ({"modulation": "AFSK 12"}, "did you mean 'AFSK 1200'"),
        ({"name": " "}, "has no name"),
    ],
)
def test_checks_of_the_satellite(change: dict[str, object], message: str) -> None:
    need = sky_need()
    assert need.satellite is not None
    check_need(need)
    with pytest.raises(NeedError) as caught:
        check_need(replace(need, satellite=replace(need.satellite, **change)))  # type: ignore[arg-type]
    assert message in caught.value.one_line()


@pytest.mark.parametrize(
    ("site", "message"),
    [
        (replace(FIELD, latitude=None), "site_alternative 1: one of latitude and longitude"),
        (replace(FIELD, latitude=None, longitude=None), "site_alternative 1: a satellite's passes need to know"),
        (replace(FIELD, latitude=91.0), "site_alternative 1.latitude: 91 degree is outside"),
        (replace(FIELD, horizon=((0.0, 5.0), (360.0, 6.0))), "two elevations for one azimuth"),
        (replace(FIELD, horizon=((10.0, 95.0),)), "site_alternative 1.horizon: 95"),
        (replace(FIELD, name="the roof"), "two sites are called 'the roof'"),
        (
            replace(FIELD, ground="swamp thing"),
            "site_alternative 1.ground: 'swamp thing' is not a known kind of ground",
        ),
    ],
)
def test_checks_of_the_sites(site: object, message: str) -> None:
    with pytest.raises(NeedError) as caught:
        check_need(replace(NEED, site_alternatives=(site,)))  # type: ignore[arg-type]
    assert message in caught.value.one_line()
