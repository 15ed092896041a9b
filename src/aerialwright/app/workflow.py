"""The verbs every front shares: answer a need, solve a structure, evaluate a design."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from aerialwright.air.reception import MARGIN, Decoding, Heavens, decoding, heavens, notes, readings, scorer
from aerialwright.base.atomic import write_text_atomic
from aerialwright.design.choose import Report, choose
from aerialwright.design.records import CommonMode, Comparison, Evaluation, Proposal
from aerialwright.engine.warm import warm_up
from aerialwright.jobs.workers import workers
from aerialwright.need.model import Need
from aerialwright.project.designs import design_text
from aerialwright.project.folder import OUTPUT, listed_names, made_folder, project_folder, project_lock
from aerialwright.project.needs import read_need
from aerialwright.report.answer import render_answer_text
from aerialwright.report.html import render_report
from aerialwright.report.wording import hearings
from aerialwright.solution.export import sweep_csv, touchstone

#: What the last answer wrote among the sweeps and designs, so that the next one can take it away again.
WRITTEN_LIST = "sweeps/written.json"
_LISTED = ("sweeps/", "designs/")


@dataclass(frozen=True)
class Answered:
    """A comparison and the files written for it."""

    comparison: Comparison
    report: Path
    files: tuple[Path, ...]
    text: str
    decoding: Decoding | None = None


def answer_need(
    project: Path,
    *,
    out: Path | None = None,
    report: Report | None = None,
    count: int | None = None,
    executor: Executor | None = None,
    before_writing: Callable[[], None] | None = None,
) -> Answered:
    """Answer the need of a project folder and write the report, the sweeps and the answer as text.

    ``count`` worker processes (default: one for each core, at most four); ``executor`` replaces them.

    Raises
    ------
    AerialwrightError
        With the place and the mend, for anything a person can put right.
    """
    need = read_need(project)
    home = project_folder(project)
    seen = heavens(need)
    comparison = compare(need, seen, report=report, count=count, executor=executor)
    found = None if seen is None else decoding(need, seen, comparison.proposals)
    folder = out if out is not None else home / OUTPUT
    if before_writing is not None:
        before_writing()
    for name in _LISTED:
        made_folder(folder / name)
    documents = _documents(comparison, found)
    with project_lock(home):
        before = _listed_files(folder)
        files = tuple(write_text_atomic(folder / name, text) for name, text in documents.items())
        for name in before - set(documents):
            # What the last answer has and this one does not; anything else in the folder is the person's own.
            (folder / name).unlink(missing_ok=True)
    return Answered(comparison, folder / "report.html", files, documents["answer.txt"], found)


def compare(
    need: Need,
    seen: Heavens | None,
    *,
    report: Report | None = None,
    count: int | None = None,
    executor: Executor | None = None,
) -> Comparison:
    """Size, solve and rank everything for a need in ``count`` worker processes, or in those of ``executor``; ``seen`` is what
    :func:`~aerialwright.air.reception.heavens` gives for it."""
    score = scorer(need, seen)
    if executor is not None:
        return choose(need, executor=executor, report=report, score=score)
    if report is not None:
        report(0.0, "loading the solver; compiles once, about fifteen seconds")
    with workers(count) as pool:
        warm_up(pool)
    with workers(count) as pool:
        return choose(need, executor=pool, report=report, score=score)


def _listed_files(folder: Path) -> set[str]:
    """Sweeps and designs that the last answer in this folder says it wrote."""
    return {
        name
        for name in listed_names(folder / WRITTEN_LIST)
        if name.startswith(_LISTED) and name.count("/") == 1 and "\\" not in name and ".." not in name
    }


def _documents(comparison: Comparison, found: Decoding | None) -> dict[str, str]:
    out = {"report.html": render_report(comparison, found), "answer.txt": render_answer_text(comparison, found)}
    for proposal, names in zip(comparison.proposals, _names(comparison), strict=True):
        for member, name in zip(proposal.members, names, strict=True):
            e = member.evaluation
            comment = f"{e.title} for {', '.join(member.band_labels)}; computed, referred to the feed aperture"
            out[f"sweeps/{name}.csv"] = sweep_csv(e.frequency, e.sweep.impedance, e.sweep.impedance_error)
            out[f"sweeps/{name}.s1p"] = touchstone(e.frequency, e.sweep.impedance, comment=comment)
            if e.design is not None:
                out[f"designs/{name}.toml"] = design_text(e.design, bands=member.band_labels)
    out["comparison.json"] = json.dumps(comparison_data(comparison, found), indent=1, allow_nan=False)
    out[WRITTEN_LIST] = json.dumps(sorted(name for name in out if name.startswith(_LISTED)), indent=1)
    return out


def _names(comparison: Comparison) -> list[list[str]]:
    """File names of the members of every proposal, without ending, all different."""
    taken: set[str] = set()
    out = []
    for proposal in comparison.proposals:
        names = []
        for member in proposal.members:
            name = stem = _file_name(member.evaluation, member.band_labels)
            again = 1
            while name in taken:
                # Labels that differ only in what a file name cannot hold.
                again += 1
                name = f"{stem}-{again}"
            taken.add(name)
            names.append(name)
        out.append(names)
    return out


def _file_name(e: Evaluation, labels: tuple[str, ...]) -> str:
    return file_stem(f"{e.key}-{'-'.join(labels)}")


def file_stem(text: str) -> str:
    """A name from a file or a key as part of a file name: small letters, digits and single dashes."""
    return re.sub("[^a-z0-9]+", "-", text.lower())[:80].strip("-")


def plain(value: Any) -> Any:
    """A number or array as JSON can hold it, seven figures; what is not finite becomes None."""
    if isinstance(value, (np.floating, float)):
        number = float(value)
        return None if not np.isfinite(number) else float(f"{number:.7g}")
    if isinstance(value, (np.integer, int)) and not isinstance(value, bool):
        return int(value)
    if isinstance(value, np.ndarray):
        return [plain(v) for v in value.tolist()]
    return value


def evaluation_data(e: Evaluation) -> dict[str, Any]:
    """An evaluation as plain data in SI units."""
    return {
        "key": e.key,
        "title": e.title,
        "family": e.family,
        "dimensions": {
            d.key: {"value": plain(d.value), "kind": d.kind, "label": d.label, "datum": d.datum} for d in e.dimensions
        },
        "width_m": plain(e.width),
        "height_m": plain(e.height),
        "parts": e.parts,
        "joints": e.joints,
        "stock_suffices": e.stock_suffices,
        "missing": list(e.missing),
        "half_power_band_hz": [plain(v) for v in e.half_power_band],
        # True: it goes on beyond the end of the sweep, which is then what stands above.
        "half_power_band_goes_on": [
            bool(abs(v - edge) < 1.0)
            for v, edge in zip(e.half_power_band, (e.frequency[0], e.frequency[-1]), strict=True)
        ],
        "sensitivities": [
            {
                "dimension": s.dimension,
                "error": plain(s.error),
                "kind": s.kind,
                "frequency_shift_hz": plain(s.frequency_shift),
                "worst_swr": plain(s.worst_swr),
                "impedance_change_ohm": plain(s.impedance_change),
            }
            for s in e.sensitivities
        ],
        "connector": None
        if e.connector is None
        else {
            "label": e.connector.label,
            "impedance_ohm": plain(e.connector.impedance),
            "length_m": plain(e.connector.length),
            "swr": plain(e.connector.swr),
        },
        "cover": None
        if e.cover is None
        else {
            "label": e.cover.label,
            "bare_hz": plain(e.cover.bare),
            "covered_hz": plain(e.cover.covered),
            "shift_hz": plain(e.cover.shift),
        },
        "common_mode": None if e.common_mode is None else _common_mode_data(e.common_mode),
        "exposure": None
        if e.exposure is None
        else {
            "frequency_hz": plain(e.exposure.frequency),
            "power_w": plain(e.exposure.power),
            "duty": plain(e.exposure.duty),
            "distance_m": {title: plain(value) for title, value in e.exposure.distance},
            "far_field_m": {title: plain(value) for title, value in e.exposure.far_field},
        },
        "self_check": {
            "power_balance": plain(e.sweep.check.power_balance),
            "discretisation": plain(e.sweep.check.discretisation),
            "sweep_fit": plain(e.sweep.check.sweep_fit),
            "unknowns": e.sweep.check.unknowns,
            "solves": e.sweep.check.solves,
        },
        "sweep": {
            "frequency_hz": plain(e.frequency),
            "resistance_ohm": plain(e.sweep.impedance.real),
            "reactance_ohm": plain(e.sweep.impedance.imag),
            "error_ohm": plain(e.sweep.impedance_error),
            "swr": plain(e.swr),
            "swr_receiver": plain(e.swr_receiver),
            "gain_wanted_dbi": plain(e.gain_wanted),
            "realised_gain_dbi": plain(e.realised_gain),
        },
    }


def _hearing_data(need: Need, proposal: Proposal) -> list[dict[str, Any]]:
    """Noise and what would help, band by band."""
    return [
        {
            "band": found.band,
            "frequency_hz": plain(found.frequency),
            "outside_noise_figure_db": plain(found.outside),
            "chain_noise_figure_db": plain(found.chain),
            "noise_rise_db": plain(found.noise_rise),
            "gain_db": {one.title: plain(one.gain) for one in found.helps},
            "reading": found.reading,
            "assumptions": list(found.assumptions),
        }
        for found in hearings(need, proposal)
    ]


def _common_mode_data(mode: CommonMode) -> dict[str, Any]:
    """The outside of the coax as plain data; currents in dB against the feed current."""
    return {
        "frequency_hz": plain(mode.frequency),
        "diameter_m": plain(mode.diameter),
        "swr_without": plain(mode.swr_without),
        "gain_without_dbi": plain(mode.gain_without),
        "reading": mode.reading,
        "cases": [
            {
                "key": case.key,
                "title": case.title,
                "basis": case.basis,
                "choke_resistance_ohm": plain(case.impedance.real),
                "choke_reactance_ohm": plain(case.impedance.imag),
                "length_m": plain(case.length),
                "current_db": plain(case.current),
                "worst_length_m": plain(case.worst_length),
                "worst_swr": plain(case.worst_swr),
                "impedance_change_ohm": plain(case.impedance_change),
                "gain_lost_db": plain(case.gain_lost),
                "gain_gained_db": plain(case.gain_gained),
                "lowest_gain_dbi": plain(case.lowest_gain),
            }
            for case in mode.cases
        ],
    }


def _decoding_data(need: Need, found: Decoding) -> dict[str, Any]:
    """Minutes of a satellite a day, antenna by antenna and site by site."""
    seen = found.heavens
    return {
        "satellite": seen.satellite.name,
        "epoch": seen.elements.epoch.isoformat(),
        "first_day": seen.sites[0][1].start.date().isoformat(),
        "days": plain(seen.sites[0][1].days),
        "modulation": seen.modulation.key,
        "needed_db": plain(seen.modulation.needed),
        "bandwidth_hz": plain(seen.modulation.bandwidth),
        "readings": list(readings(need, found)),
        "notes": list(notes(found)),
        "cautions": [c.text for c in seen.cautions],
        "receptions": [
            {
                "antenna": title,
                "site": one.site,
                "minutes_per_day": plain(one.minutes()),
                "minutes_per_day_3_db_less": plain(one.minutes(margin=-MARGIN)),
                "minutes_per_day_3_db_more": plain(one.minutes(margin=MARGIN)),
                "minutes_above_horizon_per_day": plain(one.overhead),
                "passes_per_day": plain(one.passes_per_day),
                "longest_gap_s": plain(one.longest_gap),
                "noise_figure_db": plain(one.hearing.total),
            }
            for title, row in found.rows
            for one in row
        ],
    }


def comparison_data(comparison: Comparison, found: Decoding | None = None) -> dict[str, Any]:
    """The whole answer as plain data in SI units, for scripts."""
    return {
        "version": comparison.version,
        "title": comparison.need.title,
        "seconds": plain(comparison.seconds),
        "proposals": [
            {
                "rank": p.rank,
                "key": p.key,
                "title": p.title,
                "serves": p.serves,
                "verdict": p.verdict,
                "reasons": list(p.reasons),
                "gives_up": list(p.gives_up),
                "why_not": list(p.why_not),
                "bands": [
                    {
                        "label": f.band.label,
                        "low_hz": f.band.low,
                        "high_hz": f.band.high,
                        "importance": f.band.importance,
                        "swr_worst": plain(f.swr_worst),
                        "swr_typical": plain(f.swr_typical),
                        "swr_receiver_worst": plain(f.swr_receiver_worst),
                        "gain_mean_dbi": plain(f.gain_mean),
                        "gain_minimum_dbi": plain(f.gain_minimum),
                        "realised_mean_dbi": plain(f.realised_mean),
                        "realised_minimum_dbi": plain(f.realised_minimum),
                        "efficiency_minimum": plain(f.efficiency_minimum),
                    }
                    for f in p.bands
                ],
                "hearing": _hearing_data(comparison.need, p),
                "members": [
                    {"name": name, "bands": list(m.band_labels), "antenna": evaluation_data(m.evaluation)}
                    for name, m in zip(names, p.members, strict=True)
                ],
            }
            for p, names in zip(comparison.proposals, _names(comparison), strict=True)
        ],
        "refused": [{"title": title, "reason": reason} for title, reason in comparison.refused],
        "curves": [
            {
                "key": c.key,
                "question": c.question,
                "x_label": c.x_label,
                "x_kind": c.x_kind,
                "x": plain(c.x),
                "series": {label: plain(values) for label, values in c.series},
                "reading": c.reading,
            }
            for c in comparison.curves
        ],
        "cautions": [{"level": c.level, "text": c.text, "remedy": c.remedy} for c in comparison.cautions],
        "assumptions": list(comparison.assumptions),
        "decoding": None if found is None else _decoding_data(comparison.need, found),
    }
