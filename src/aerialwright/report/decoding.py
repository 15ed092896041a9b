"""The section that answers whether a satellite will be decoded: words, table and pictures from what was computed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from aerialwright.air.link import gain_toward
from aerialwright.air.passes import mask_elevation
from aerialwright.air.reception import MARGIN, WORTH, Decoding, Reception, notes, pattern_at, readings
from aerialwright.design.records import Proposal
from aerialwright.need.model import Need, Site
from aerialwright.report.wording import decibel
from aerialwright.solution import figures

#: Passes drawn in the sky: more only blacken it.
_MOST_TRACKS = 40


@dataclass(frozen=True)
class DecodingLine:
    """One antenna at one site, in words."""

    antenna: str
    site: str
    minutes: str
    weaker: str
    stronger: str
    passes: str
    gap: str


def lines(found: Decoding) -> list[DecodingLine]:
    """Candidates times sites, in the order of the proposals."""
    return [_line(title, one) for title, row in found.rows for one in row]


def _line(title: str, one: Reception) -> DecodingLine:
    gap = one.longest_gap
    return DecodingLine(
        title, one.site, f"{one.minutes():.1f}", f"{one.minutes(margin=-MARGIN):.1f}", f"{one.minutes(margin=MARGIN):.1f}",
        f"{one.passes_per_day:.1f}", "no pass" if not one.worthwhile() else f"{gap / 3600.0:.0f} h",
    )  # fmt: skip


def helps(best: Reception) -> list[tuple[str, str, str]]:
    """Each change at the receiving end: what it is, its decibels, the minutes a day then."""
    return [(one.title, decibel(one.gain, "dB"), f"{best.minutes(margin=one.gain):.1f}") for one in best.hearing.helps]


def section(need: Need, found: Decoding, first: Proposal, markup: Callable[[str], Any]) -> dict[str, Any]:
    """All that the page shows."""
    best = found.recommended
    site = next(one for one, _ in found.heavens.sites if one.title == best.site)
    budget = [] if best.budget is None else [(words, decibel(value, unit)) for words, value, unit in best.budget.items]
    when = "" if best.budget is None else (
        f"{best.passes.moment(best.budget.when):%Y-%m-%d %H:%M:%S} UTC, {best.budget.elevation:.0f}\u00b0 high"
    )  # fmt: skip
    return {
        "satellite": found.heavens.satellite.name,
        "days": f"{best.passes.days:g}",
        "first_day": f"{best.passes.start:%Y-%m-%d}",
        "margin": f"{MARGIN:g}",
        "worth": f"{WORTH:.0f}",
        "readings": readings(need, found),
        "lines": lines(found),
        "helps": helps(best),
        "site": best.site,
        "antenna": best.title,
        "budget": budget,
        "when": when,
        "dome": markup(_dome(found, first, site)),
        "chart": "" if best.best is None else markup(_chart(best)),
        "notes": notes(found),
        "cautions": [": ".join(part for part in (c.text, c.remedy) if part) for c in found.heavens.cautions],
    }


def _dome(found: Decoding, first: Proposal, site: Site) -> str:
    best = found.recommended
    member = next(m for m in first.members if found.heavens.band.label in m.band_labels)
    pattern, beneath = pattern_at(member.evaluation.structure, best.frequency, site.ground, site.height)
    azimuth, elevation = np.arange(0.0, 360.0, 7.5), np.arange(1.5, 90.0, 3.0)
    round_, up = (each.ravel() for each in np.meshgrid(azimuth, elevation))
    gain, _ = gain_toward(pattern, azimuth=round_, elevation=up)
    tracks = [
        figures.TrackView(one.track.azimuth, one.track.elevation, best.likelihood(k))
        for k, one in enumerate(best.passes.passes[:_MOST_TRACKS])
    ]
    days = best.passes.days * min(1.0, _MOST_TRACKS / len(best.passes.passes))
    return figures.sky_dome(
        tracks, azimuth=azimuth, elevation=elevation, gain=10.0 * np.log10(gain.reshape(len(elevation), len(azimuth))),
        horizon=mask_elevation(site.horizon, azimuth), title=f"The sky of {site.title} with {found.heavens.satellite.name}",
        note=f"first {days:.0f} days; pattern of the {best.title}, {beneath}",
    )  # fmt: skip


def _chart(best: Reception) -> str:
    assert best.best is not None
    one = best.passes.passes[best.best]
    rise = best.passes.moment(one.rise)
    return figures.pass_chart(
        one.track.time, middle=best.level(best.best), low=best.level(best.best, part=0.1), high=best.level(best.best, part=0.9),
        visible=one.visible, elevation=one.track.elevation, needed=best.needed,
        title=f"Best pass at {best.site}, {rise:%Y-%m-%d %H:%M} UTC",
    )  # fmt: skip
