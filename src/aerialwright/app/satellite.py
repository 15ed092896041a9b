"""The passes of a need's satellite over its sites, without solving any antenna."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from aerialwright.air.passes import Pass, Passes
from aerialwright.air.reception import Heavens, heavens
from aerialwright.app.workflow import plain
from aerialwright.base.errors import NeedError
from aerialwright.project.needs import read_need
from aerialwright.report.answer import one_line, paragraph, text_table


def passes_of(project: Path, *, days: float) -> Heavens:
    """Every pass within ``days`` from the need's first day on, or from today.

    Raises
    ------
    AerialwrightError
        When the need has no satellite, or its elements are of no use.
    """
    found = heavens(read_need(project), days=days)
    if found is None:
        raise NeedError("the need has no satellite", where=str(project), mend="add [satellite] to need.toml")
    return found


def passes_text(found: Heavens) -> str:
    """A table for each site, times in UTC."""
    start = found.sites[0][1]
    span = "1 day" if start.days == 1 else f"{start.days:g} days"
    lines = [
        paragraph(
            f"{found.satellite.name}, {found.band.centre / 1e6:.4f} MHz: {span} from {start.start:%Y-%m-%d}, times in UTC, elements of "
            f"{found.elements.epoch:%Y-%m-%d %H:%M}"
        )
    ]
    for site, passes in found.sites:
        lines += [
            "",
            one_line(
                f"{site.title}: {len(passes.passes)} passes, {passes.seconds / 60.0 / passes.days:.0f} minutes a day"
            ),
        ]
        head = ("rises", "azimuth", "highest", "elevation", "azimuth", "sets", "azimuth", "minutes", "Doppler")
        lines += text_table([head, *_rows(found, passes)]) if passes.passes else []
    lines += ["", *(paragraph(f"{c.text}; {c.remedy}" if c.remedy else c.text, "! ") for c in found.cautions)]
    return "\n".join(lines).rstrip() + "\n"


def _rows(found: Heavens, passes: Passes) -> Iterator[tuple[str, ...]]:
    for one in passes.passes:
        track, top = one.track, one.highest
        doppler = track.doppler(frequency=found.band.centre)
        yield (
            f"{passes.moment(one.rise):%m-%d %H:%M:%S}", f"{track.azimuth[0]:.0f}",
            f"{passes.moment(track.time[top]):%H:%M:%S}", f"{track.elevation[top]:.0f}", f"{track.azimuth[top]:.0f}",
            f"{passes.moment(one.set):%H:%M:%S}", f"{track.azimuth[-1]:.0f}",
            f"{one.seconds / 60.0:.1f}" + ("" if one.whole else " (part)"), f"{doppler[0] / 1e3:+.2f} to {doppler[-1] / 1e3:+.2f} kHz",
        )  # fmt: skip


def passes_data(found: Heavens) -> dict[str, Any]:
    """The same as plain data in SI units and degrees."""
    return {
        "satellite": found.satellite.name,
        "epoch": found.elements.epoch.isoformat(),
        "frequency_hz": plain(found.band.centre),
        "cautions": [caution.text for caution in found.cautions],
        "sites": [
            {"site": site.title, "passes": [_pass_data(found, passes, one) for one in passes.passes]}
            for site, passes in found.sites
        ],
    }


def _pass_data(found: Heavens, passes: Passes, one: Pass) -> dict[str, Any]:
    track, top = one.track, one.highest
    doppler = track.doppler(frequency=found.band.centre)
    return {
        "rise": passes.moment(one.rise).isoformat(timespec="milliseconds"),
        "culmination": passes.moment(track.time[top]).isoformat(timespec="milliseconds"),
        "set": passes.moment(one.set).isoformat(timespec="milliseconds"),
        "visible_s": plain(one.seconds),
        "whole": one.whole,
        "highest_elevation_deg": plain(track.elevation[top]),
        "azimuth_deg": [plain(track.azimuth[k]) for k in (0, top, -1)],
        "shortest_range_m": plain(track.distance.min()),
        "doppler_hz": [plain(doppler[0]), plain(doppler[-1])],
    }
