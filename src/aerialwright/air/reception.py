"""Will it decode? Every pass of ten days with one antenna at one site: signal over noise, and the minutes that can be decoded.

A linear wave reaches the ground with a tilt that nobody knows: the body tumbles, and at VHF the ionosphere turns the wave by several
radians. So each sample of a pass counts with the probability that its signal suffices, every tilt being as likely.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from functools import lru_cache, partial

import numpy as np

from aerialwright.air.element_text import parse_elements
from aerialwright.air.elements import Elements, check_age
from aerialwright.air.hearing import Hearing, hear
from aerialwright.air.link import free_space_loss, gain_toward, noise_power
from aerialwright.air.passes import FloatArray, Pass, Passes, find_passes
from aerialwright.air.polarisation import COLUMNS, FIELD, faraday_turn, likelihood, share_quantile
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.errors import Caution, NeedError, StructureError
from aerialwright.base.printing import format_frequency
from aerialwright.design.records import Evaluation, Proposal, Score
from aerialwright.need.model import Band, Need, Satellite, Site
from aerialwright.solution.over_ground import pattern_over_ground
from aerialwright.solution.records import Pattern
from aerialwright.solution.solve import solve
from aerialwright.stock.modulations import Modulation, modulation
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import Structure

DAYS = 10.0
#: A pass counts as one when at least so much of it [s] can be decoded: some packets, a call sign. Common practice, no source.
WORTH = 10.0
#: What minutes are also told for [dB] either way.
MARGIN = 3.0
#: Circular part of each antenna of a satellite.
_WAVES = {"tumbling": 0.0, "linear": 0.0, "right-hand circular": 1.0, "left-hand circular": -1.0}


@dataclass(frozen=True)
class Heavens:
    """The satellite as it is seen from every site of a need, with what there is to watch for."""

    satellite: Satellite
    elements: Elements
    modulation: Modulation
    band: Band
    sites: tuple[tuple[Site, Passes], ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class Budget:
    """The line items of one moment, each with what stands beside it [dB, dBW or dBi]; ``when`` [s] from the start."""

    when: float
    elevation: float
    items: tuple[tuple[str, float, str], ...]


@dataclass(frozen=True)
class Reception:
    """One antenna at one site. ``full`` holds for each pass the signal over noise (n,) [dB] without any loss by polarisation and
    ``circular`` (n,) the antenna's circular part there; ``needed`` [dB] in ``bandwidth`` [Hz]; ``wave`` the satellite's circular
    part; ``beneath`` says what the pattern is that of."""

    title: str
    site: str
    frequency: float
    passes: Passes
    full: tuple[FloatArray, ...]
    circular: tuple[FloatArray, ...]
    wave: float
    needed: float
    bandwidth: float
    budget: Budget | None
    hearing: Hearing
    beneath: str

    def likelihood(self, index: int, *, margin: float = 0.0) -> FloatArray:
        """Probability (n,) that pass ``index`` decodes, with ``margin`` [dB] more signal; none behind the horizon mask."""
        short = 10.0 ** ((self.needed - margin - self.full[index]) / 10.0)
        return likelihood(self.wave, self.circular[index], needed=short) * self.passes.passes[index].visible

    def level(self, index: int, *, part: float = 0.5) -> FloatArray:
        """Signal over noise (n,) [dB] that pass ``index`` undercuts for ``part`` of all tilts."""
        share = share_quantile(self.wave, self.circular[index], part=part)
        return self.full[index] + 10.0 * np.log10(np.maximum(share, 1e-9))

    def seconds(self, *, margin: float = 0.0) -> FloatArray:
        """Decodable seconds (m,) of each pass, as to be expected."""
        return np.array(
            [self.likelihood(k, margin=margin).sum() * one.step for k, one in enumerate(self.passes.passes)],
            dtype=np.float64,
        )

    def minutes(self, *, margin: float = 0.0) -> float:
        """Decodable minutes a day."""
        return float(self.seconds(margin=margin).sum()) / 60.0 / self.passes.days

    @property
    def overhead(self) -> float:
        """Minutes a day above the horizon mask: more cannot be decoded by anything."""
        return self.passes.seconds / 60.0 / self.passes.days

    def worthwhile(self) -> list[int]:
        """Passes of which at least :data:`WORTH` can be decoded."""
        return [int(k) for k in np.flatnonzero(self.seconds() >= WORTH)]

    @property
    def passes_per_day(self) -> float:
        """Worthwhile passes a day."""
        return len(self.worthwhile()) / self.passes.days

    @property
    def longest_gap(self) -> float:
        """Longest time [s] without a worthwhile pass, the ends of the days looked at counted as well."""
        edges = [0.0, self.passes.days * 86400.0]
        for k in self.worthwhile():
            edges[1:1] = [self.passes.passes[k].rise, self.passes.passes[k].set]
        ordered = np.sort(np.array(edges))
        return float(np.max(ordered[1::2] - ordered[0::2]))

    @property
    def best(self) -> int | None:
        """Index of the pass with most decodable seconds; None without any pass."""
        seconds = self.seconds()
        return int(np.argmax(seconds)) if len(seconds) else None


def heavens(need: Need, *, today: date | None = None, days: float = DAYS) -> Heavens | None:
    """The passes over every site from the need's first day on, else from ``today``; None without a satellite.

    Raises
    ------
    ElementsError, NeedError
        For elements that are broken, decayed or of other years.
    """
    satellite = need.satellite
    if satellite is None:
        return None
    elements = parse_elements(
        satellite.elements, where=satellite.elements_file or "satellite.elements", name=satellite.name
    )
    day = satellite.first_day or today or datetime.now(UTC).date()
    start = datetime.combine(day, time(), tzinfo=UTC)
    band = next((one for one in need.bands if one.label == satellite.band), None)
    if band is None:
        raise NeedError("names no band of the need", where="satellite.band", mend="write the label of a band")
    sites = tuple((site, find_passes(elements, site, start=start, days=days)) for site in need.sites)
    if not any(found.passes for _, found in sites):
        low, high = elements.heights
        raise NeedError(
            f"{satellite.name} never rises over the horizon there within {days:g} days: its orbit is inclined by "
            f"{elements.inclination:.0f} degrees and {low:.0f} to {high:.0f} km high",
            where="satellite", mend="check latitude, horizon and elements",
        )  # fmt: skip
    last = start.replace() if not days else datetime.fromtimestamp(start.timestamp() + days * 86400.0, UTC)
    return Heavens(
        satellite, elements, modulation(satellite.modulation), band, sites, check_age(elements, first=start, last=last)
    )  # fmt: skip


@lru_cache(maxsize=128)
def pattern_at(structure: Structure, frequency: float, ground: str, height: float) -> tuple[Pattern, str]:
    """The far field at ``frequency`` [Hz] as it is ``height`` [m] above a kind of ground, and what it is that of.

    An antenna that was solved over a sheet keeps it; where the ground's constants are unknown, or it stands so low that they would
    change its currents, it is that of free space.
    """
    solution = solve(structure, np.array([frequency]), check=False)
    if structure.ground != "none":
        return solution.pattern(frequency), "over the sheet it stands on, without end"
    # A lobe is half a wavelength over the height in the sine of the elevation: eight steps to each, every degree at least.
    steps = min(1801, 91 + int(8.0 * math.pi * height * frequency / SPEED_OF_LIGHT))
    theta = np.radians(np.linspace(0.0, 90.0, steps))
    # Copies round the axis make the pattern repeat: one sector of it is enough.
    order = solution.raw.system.geometry.order
    count = max(3, math.ceil(18 / order))
    phi = 2.0 * math.pi / order * np.arange(count) / count
    try:
        found = pattern_over_ground(
            solution, frequency, ground=Ground.named(ground), height=height, theta=theta, phi=phi
        )
    except StructureError as fault:
        return solution.pattern(frequency), f"that of free space ({fault.what})"
    return _all_round(found, order), f"over {ground} {height:g} m below"


def _all_round(sector: Pattern, order: int) -> Pattern:
    """A full turn from one of ``order`` equal sectors."""
    phi = np.concatenate([sector.phi + 2.0 * math.pi * turn / order for turn in range(order)])
    handed = None if sector.gain_handed is None else np.tile(sector.gain_handed, (1, order))
    return replace(
        sector, phi=phi, gain_theta=np.tile(sector.gain_theta, (1, order)), gain_phi=np.tile(sector.gain_phi, (1, order)),
        gain_handed=handed,
    )  # fmt: skip


def receive(need: Need, evaluation: Evaluation, seen: Heavens, *, site: Site, passes: Passes) -> Reception:
    """One antenna at one site over all its passes."""
    satellite, frequency = seen.satellite, seen.band.centre
    hearing = hear(replace(need, site=site), evaluation, seen.band)
    pattern, beneath = pattern_at(evaluation.structure, frequency, site.ground, site.height)
    power = 10.0 * math.log10(satellite.power) + satellite.gain
    noise = noise_power(bandwidth=seen.modulation.bandwidth, figure=hearing.total)
    full, circular = [], []
    for one in passes.passes:
        gain, handed = gain_toward(pattern, azimuth=one.track.azimuth, elevation=one.track.elevation)
        loss = free_space_loss(distance=one.track.distance, frequency=frequency)
        full.append(power - loss + 10.0 * np.log10(gain) - noise)
        circular.append(handed)
    found = Reception(
        title=evaluation.title, site=site.title, frequency=frequency, passes=passes, full=tuple(full), circular=tuple(circular),
        wave=_WAVES[satellite.antenna], needed=seen.modulation.needed, bandwidth=seen.modulation.bandwidth, budget=None,
        hearing=hearing, beneath=beneath,
    )  # fmt: skip
    return replace(found, budget=_budget(found, seen, pattern))


def _budget(found: Reception, seen: Heavens, pattern: Pattern) -> Budget | None:
    """Every decibel at the best moment of the best pass."""
    if found.best is None:
        return None
    one: Pass = found.passes.passes[found.best]
    at = int(np.argmax(np.where(one.visible, found.level(found.best), -np.inf)))
    spot = one.track.part(slice(at, at + 1))
    gain, _ = gain_toward(pattern, azimuth=spot.azimuth, elevation=spot.elevation)
    loss = float(free_space_loss(distance=spot.distance, frequency=found.frequency)[0])
    middle = float(found.level(found.best)[at])
    noise = noise_power(bandwidth=found.bandwidth, figure=found.hearing.total)
    return Budget(
        float(spot.time[0]), float(spot.elevation[0]),
        (
            ("the satellite's power", 10.0 * math.log10(seen.satellite.power), "dBW"),
            ("gain of its antenna", seen.satellite.gain, "dBi"),
            (f"free space, {spot.distance[0] / 1e3:.0f} km", -loss, "dB"),
            ("gain of this antenna toward it", 10.0 * math.log10(float(gain[0])), "dBi"),
            ("polarisation, as half of all tilts do better", middle - float(found.full[found.best][at]), "dB"),
            (f"noise of the place, coax and receiver in {found.bandwidth / 1e3:g} kHz", noise, "dBW"),
            ("signal over noise", middle, "dB"),
            (f"needed for {seen.modulation.title}", found.needed, "dB"),
        ),
    )  # fmt: skip


def receptions(need: Need, evaluation: Evaluation, seen: Heavens) -> tuple[Reception, ...]:
    """One antenna at every site, in the order of the need."""
    return tuple(receive(need, evaluation, seen, site=site, passes=passes) for site, passes in seen.sites)


def best_reception(found: tuple[Reception, ...]) -> Reception:
    """The one with most minutes; the need's own site where they are alike."""
    return max(found, key=lambda one: round(one.minutes(), 2))


def score(need: Need, seen: Heavens, evaluation: Evaluation) -> Score:
    """Decodable minutes a day at the best site; less than one decibel changes is not noticed."""
    best = best_reception(receptions(need, evaluation, seen))
    minutes = best.minutes()
    return Score(
        value=minutes, alike=max(best.minutes(margin=1.0) - minutes, minutes - best.minutes(margin=-1.0), 0.05),
        unit="minutes a day", place=best.site,
    )  # fmt: skip


@dataclass(frozen=True)
class Decoding:
    """The answer about a satellite: for each proposal its antenna's reception at every site, in the order of the proposals."""

    heavens: Heavens
    rows: tuple[tuple[str, tuple[Reception, ...]], ...]

    @property
    def recommended(self) -> Reception:
        """The first proposal where it does best."""
        return best_reception(self.rows[0][1])


def decoding(need: Need, seen: Heavens, proposals: tuple[Proposal, ...]) -> Decoding | None:
    """Every proposal that has an antenna for the satellite's band; None where the first has none."""
    rows = []
    for proposal in proposals:
        member = next((m for m in proposal.members if seen.band.label in m.band_labels), None)
        if member is not None:
            rows.append((proposal.title, receptions(need, member.evaluation, seen)))
        elif not rows:
            return None
    return Decoding(seen, tuple(rows)) if rows else None


def scorer(need: Need, seen: Heavens | None) -> partial[Score] | None:
    """What the choice calls for each candidate; None without a satellite, and where other must-bands count as well."""
    if seen is None or need.must_bands != (seen.band,):
        return None
    return partial(score, need, seen)


def readings(need: Need, found: Decoding) -> tuple[str, ...]:
    """What the numbers say: how much is decoded, what the site and what the antenna changes, how sure it is."""
    best, seen = found.recommended, found.heavens
    satellite = seen.satellite.name
    minutes, low, high = best.minutes(), best.minutes(margin=-MARGIN), best.minutes(margin=MARGIN)
    gap = best.longest_gap / 3600.0
    out = [
        f"The {best.title} at {best.site} decodes {satellite} for {minutes:.1f} of the {best.overhead:.0f} minutes a day that it stands "
        f"above the horizon. {best.passes_per_day:.1f} passes a day give {WORTH:.0f} seconds or more, with up to {gap:.0f} hours from "
        f"one to the next. With {MARGIN:g} dB less signal it is {low:.1f} minutes, with {MARGIN:g} dB more {high:.1f}."
    ]
    here = found.rows[0][1]
    if len(here) > 1:
        by_site = [one.minutes() for one in here]
        by_antenna = [max(one.minutes() for one in row) for _, row in found.rows]
        site_part, antenna_part = max(by_site) - min(by_site), max(by_antenna) - min(by_antenna)
        listed = " and ".join(f"{one.minutes():.1f} minutes a day at {one.site}" for one in here)
        if len(found.rows) > 1 and max(site_part, antenna_part) > 0.05:
            more = (
                "the site matters more than the antenna"
                if site_part > antenna_part
                else "the antenna matters more than the site"
            )
            out.append(
                f"Here {more}: the same antenna decodes {listed}, {site_part:.1f} apart, while all antennas compared lie "
                f"within {antenna_part:.1f} minutes of each other at their best site."
            )
        else:
            out.append(f"The same antenna decodes {listed}.")
    helps = [(one.title, best.minutes(margin=one.gain) - minutes) for one in best.hearing.helps]
    title, more_minutes = max(helps, key=lambda pair: pair[1])
    if more_minutes > 0.05:
        out.append(f"What would help most at {best.site} is {title}: {minutes + more_minutes:.1f} minutes a day.")
    return tuple(out)


def notes(found: Decoding) -> tuple[str, ...]:
    """What the minutes rest on."""
    seen = found.heavens
    kind = seen.modulation
    low, high = (faraday_turn(frequency=seen.band.centre, column=column, field=FIELD) for column in COLUMNS)
    out = [
        f"{kind.title} needs {kind.needed:.1f} dB in {kind.bandwidth / 1e3:g} kHz, give or take {kind.spread:g} dB, for this: {kind.what} "
        f"({kind.basis})",
        "the far field is "
        + "; ".join(dict.fromkeys(f"at {one.site} {one.beneath}" for one in found.rows[0][1]))
        + ": even ground without end, no roof edges, walls or trees but those of the horizon mask",
        "noise is the median of the class of place by ITU-R P.372, the same from all directions; places differ by 10 dB either way",
    ]
    hearing = found.recommended.hearing
    out += [*hearing.assumptions, *(caution.text for caution in hearing.cautions)]
    if found.recommended.wave == 0.0:
        out.append(
            f"the tilt of the satellite's wave is unknown, and at {format_frequency(seen.band.centre)} the ionosphere turns it by about "
            f"{low:.1f} to {high:.0f} radians: every tilt counts as likely, which costs a linear antenna 3 dB half of the time, 16 dB or "
            "more a tenth of it"
        )
    return tuple(out)
