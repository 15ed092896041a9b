"""The report: one HTML file that needs no network and no script, good on a screen, on a phone and on paper."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aerialwright.base.units import format_length
from aerialwright.design.records import BandFigures, Comparison, Evaluation, Proposal, Sensitivity
from aerialwright.need.model import Band, Need
from aerialwright.report import wording
from aerialwright.solution import figures
from aerialwright.solution.figures.curves import quantity
from aerialwright.solution.figures.palette import style_variables
from aerialwright.solution.svg import FigureError

if TYPE_CHECKING:
    from jinja2 import Template

#: More antennas than this in one picture cannot be told apart.
_MOST_DRAWN = 6


@lru_cache(maxsize=1)
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template("template.html.j2")


def render_report(comparison: Comparison) -> str:
    """The whole report as one HTML page.

    Raises
    ------
    FigureError
        If a record holds numbers that cannot be drawn (no frequencies, no metal, no finite gain).
    """
    from markupsafe import Markup

    need = comparison.need
    best = comparison.proposals[0] if comparison.proposals else None
    if best is not None and not best.members:
        raise FigureError("a proposal without an antenna cannot be reported", where=best.key)
    checked = wording.evaluations_of(comparison)
    words: dict[str, Any] = {
        "comparison": comparison, "need": need, "best": best, "second": wording.runner_up(comparison),
        "headline": wording.headline(comparison), "reason": wording.reason(best) if best else "",
        "expectation": wording.expectation(need, best) if best else [], "safety": wording.safety(comparison),
        "missing": _missing(best), "cautions": _cautions(comparison), "checked": checked,
        "left_out": len(checked) > _MOST_DRAWN, "sources": wording.sources(comparison),
        "seconds": _duration(comparison.seconds),
        "light": Markup(style_variables(dark=False)), "dark": Markup(style_variables(dark=True)),
        "pictures": {}, "curves": [], "others": [], "coax": [], "behind": [], "hearing": None,
    }  # fmt: skip
    if best is not None:
        words |= _drawn(comparison, best, checked, Markup)
    return _template().render(**words, **_HELPERS)


def _drawn(
    comparison: Comparison, best: Proposal, checked: list[tuple[str, Evaluation]], markup: Callable[[str], Any]
) -> dict[str, Any]:
    """All pictures; they come out of the drawing module with every text escaped, so they may pass as markup."""
    need = comparison.need
    members = [member.evaluation for member in best.members]
    drawn = checked[:_MOST_DRAWN]
    signs = [sign for sign, _ in drawn]
    evaluations = [evaluation for _, evaluation in drawn]
    named = [f"{sign} {evaluation.title}" for sign, evaluation in drawn]
    z0 = need.feed_lines[0].impedance if need.feed_lines else need.receiver_impedance
    single = len(members) == 1
    pictures = {
        "front": [
            markup(figures.dimension_drawing(e, tallest=290.0 if single else 200.0, identity="front",
                                             width=440.0 if single else 330.0))
            for e in members
        ],
        "row": markup(figures.outline_row(evaluations, signs=signs)),
        "ruler": markup(figures.band_ruler(need, evaluations, labels=named)),
        "gain": markup(figures.realised_gain_chart(evaluations, need, labels=named)),
        "swr": markup(figures.swr_chart(members, need)),
        "smith": [markup(figures.smith_chart(e, z0, need=need)) for e in members],
        "pattern": [markup(figures.elevation_pattern(e, need=need)) for e in members if e.patterns],
        "views": [markup(figures.outline_drawing(e.structure, title=e.title)) for e in members],
        "sensitivity": [
            markup(figures.sensitivity_bars(e.sensitivities, title=f"Which dimension matters: {e.title}",
                                            identity=e.key))
            for e in members if e.sensitivities
        ],
    }  # fmt: skip
    coax = _coax(checked, need, markup)
    own = {evaluation.key for evaluation in members}
    return {
        "pictures": pictures,
        "coax": coax,
        "behind": wording.after_connector(need, best),
        "hearing": wording.hearing(need, best),
        "curves": [
            {"question": c.question, "reading": c.reading, "picture": markup(figures.why_curve(c))}
            for c in comparison.curves
        ],
        "others": [
            {"sign": sign, "evaluation": e, "swr": markup(figures.swr_chart(e, need))}
            for sign, e in checked if e.key not in own
        ],
    }  # fmt: skip


def _coax(checked: list[tuple[str, Evaluation]], need: Need, markup: Callable[[str], Any]) -> list[dict[str, Any]]:
    """What is told of the outside of the coax; antennas of which the same is said share a heading."""
    found: list[dict[str, Any]] = []
    for sign, e in checked:
        mode = e.common_mode
        if mode is None:
            continue
        same = next((item for item in found if not mode.cases and item["mode"].reading == mode.reading), None)
        if same is not None:
            same["names"].append((sign, e.title))
            continue
        picture = ""
        if mode.patterns:
            note = f"at {mode.frequency / 1e6:.5g} MHz, free space, coax straight down"
            title = f"Elevation pattern of {e.title} with and without coax"
            drawn = figures.elevation_comparison(
                mode.patterns, title=title, identity=f"coax {e.key}", note=note, need=need
            )
            picture = markup(drawn)
        found.append(
            {
                "names": [(sign, e.title)],
                "evaluation": e,
                "mode": mode,
                "lines": wording.coax_lines(e),
                "picture": picture,
            }
        )
    return found


def _missing(best: Proposal | None) -> list[str]:
    if best is None:
        return []
    return list(dict.fromkeys(text for member in best.members for text in member.evaluation.missing))


def _cautions(comparison: Comparison) -> list[str]:
    found = [caution for caution in comparison.cautions if caution.level != "safety"]
    if comparison.proposals:
        for member in comparison.proposals[0].members:
            found += [*member.evaluation.cautions, *member.evaluation.sweep.cautions]
    return list(dict.fromkeys(": ".join(part for part in (c.text, c.remedy) if part) for c in found))


def _duration(seconds: float) -> str:
    return (
        f"{seconds:.1f} s" if seconds < 10.0 else f"{seconds:.0f} s" if seconds < 120.0 else f"{seconds / 60.0:.0f} min"
    )


def _figures_for(proposal: Proposal, band: Band) -> BandFigures | None:
    return next((f for f in proposal.bands if f.band == band), None)


def _errors_of(evaluation: Evaluation, key: str) -> Sensitivity | None:
    return next((item for item in evaluation.sensitivities if item.dimension == key), None)


def _largest(proposal: Proposal) -> str:
    return format_length(max(max(m.evaluation.width, m.evaluation.height) for m in proposal.members), step=1e-3)


def _both(value: float) -> str:
    return f"{format_length(value, step=1e-3)} ({format_length(value, system='in')})"


_HELPERS: dict[str, Callable[..., Any]] = {
    "band_range": wording.band_range, "feed_line": wording.feed_line, "overall": wording.overall,
    "size_lines": wording.size_lines, "swr": wording.swr, "decibel": wording.decibel, "metric": wording.metric,
    "imperial": wording.imperial, "piece_diameter": wording.piece_diameter, "small_share": wording.small_share,
    "quantity": quantity, "figures_for": _figures_for, "errors_of": _errors_of, "largest": _largest,
    "shift": wording.frequency_shift, "front_lines": wording.front_lines, "in_the_pipe": wording.in_the_pipe, "both": _both,
}  # fmt: skip
