"""The verbs every front shares: answer a need, solve a structure, evaluate a design."""

from __future__ import annotations

import json
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import ProjectError
from aerialwright.design.choose import Report, choose
from aerialwright.design.records import CommonMode, Comparison, Evaluation
from aerialwright.engine.warm import warm_up
from aerialwright.jobs.workers import workers
from aerialwright.project.folder import project_lock
from aerialwright.project.needs import read_need
from aerialwright.report.answer import render_answer_text
from aerialwright.report.html import render_report
from aerialwright.solution.export import sweep_csv, touchstone

#: What the last answer wrote among the sweeps, so that the next one can take it away again.
SWEEP_LIST = "sweeps/written.json"


@dataclass(frozen=True)
class Answered:
    """A comparison and the files written for it."""

    comparison: Comparison
    report: Path
    files: tuple[Path, ...]
    text: str


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
    if executor is not None:
        comparison = choose(need, executor=executor, report=report)
    else:
        if report is not None:
            report(0.0, "loading the solver; compiles once, about ten seconds")
        warm_up()
        with workers(count) as pool:
            comparison = choose(need, executor=pool, report=report)
    folder = out if out is not None else (project if project.is_dir() else project.parent) / "out"
    if before_writing is not None:
        before_writing()
    try:
        (folder / "sweeps").mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise ProjectError(
            f"the folder cannot be made ({fault.strerror})", where=str(folder), mend="choose another with --out"
        ) from None
    lock_at = project if project.is_dir() else project.parent
    files: list[Path] = []
    documents = _documents(comparison)
    with project_lock(lock_at):
        before = _listed_sweeps(folder)
        for name, text in documents.items():
            path = folder / name
            write_text_atomic(path, text)
            files.append(path)
        for name in before - set(documents):
            # Sweeps of the last answer that this one does not have; anything else in the folder is the person's own.
            (folder / name).unlink(missing_ok=True)
    return Answered(comparison, folder / "report.html", tuple(files), render_answer_text(comparison))


def _listed_sweeps(folder: Path) -> set[str]:
    """Sweep files that the last answer in this folder says it wrote."""
    try:
        listed = json.loads((folder / SWEEP_LIST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return set()
    inside = (name for name in listed if isinstance(name, str)) if isinstance(listed, list) else ()
    return {
        name
        for name in inside
        if name.startswith("sweeps/") and "/" not in name[7:] and "\\" not in name and ".." not in name
    }


def _documents(comparison: Comparison) -> dict[str, str]:
    out = {"report.html": render_report(comparison), "answer.txt": render_answer_text(comparison)}
    for proposal in comparison.proposals:
        for member in proposal.members:
            e = member.evaluation
            name = stem = _file_name(e, member.band_labels)
            again = 1
            while f"sweeps/{name}.csv" in out:
                # Labels that differ only in what a file name cannot hold.
                again += 1
                name = f"{stem}-{again}"
            comment = f"{e.title} for {', '.join(member.band_labels)}; computed, referred to the feed aperture"
            out[f"sweeps/{name}.csv"] = sweep_csv(e.frequency, e.sweep.impedance, e.sweep.impedance_error)
            out[f"sweeps/{name}.s1p"] = touchstone(e.frequency, e.sweep.impedance, comment=comment)
    out["comparison.json"] = json.dumps(comparison_data(comparison), indent=1, allow_nan=False)
    out[SWEEP_LIST] = json.dumps(sorted(name for name in out if name.startswith("sweeps/")), indent=1)
    return out


def _file_name(e: Evaluation, labels: tuple[str, ...]) -> str:
    text = f"{e.key}-{'-'.join(labels)}".lower()
    return "".join(ch if ch.isascii() and ch.isalnum() else "-" for ch in text)[:80].strip("-")


def _plain(value: Any) -> Any:
    if isinstance(value, (np.floating, float)):
        number = float(value)
        return None if not np.isfinite(number) else float(f"{number:.7g}")
    if isinstance(value, (np.integer, int)) and not isinstance(value, bool):
        return int(value)
    if isinstance(value, np.ndarray):
        return [_plain(v) for v in value.tolist()]
    return value


def evaluation_data(e: Evaluation) -> dict[str, Any]:
    """An evaluation as plain data in SI units."""
    return {
        "key": e.key,
        "title": e.title,
        "family": e.family,
        "dimensions": {
            d.key: {"value": _plain(d.value), "kind": d.kind, "label": d.label, "datum": d.datum} for d in e.dimensions
        },
        "width_m": _plain(e.width),
        "height_m": _plain(e.height),
        "parts": e.parts,
        "joints": e.joints,
        "stock_suffices": e.stock_suffices,
        "missing": list(e.missing),
        "half_power_band_hz": [_plain(v) for v in e.half_power_band],
        # True: it goes on beyond the end of the sweep, which is then what stands above.
        "half_power_band_goes_on": [
            bool(abs(v - edge) < 1.0)
            for v, edge in zip(e.half_power_band, (e.frequency[0], e.frequency[-1]), strict=True)
        ],
        "sensitivities": [
            {
                "dimension": s.dimension,
                "error": _plain(s.error),
                "kind": s.kind,
                "frequency_shift_hz": _plain(s.frequency_shift),
                "worst_swr": _plain(s.worst_swr),
                "impedance_change_ohm": _plain(s.impedance_change),
            }
            for s in e.sensitivities
        ],
        "connector": None
        if e.connector is None
        else {
            "label": e.connector.label,
            "impedance_ohm": _plain(e.connector.impedance),
            "length_m": _plain(e.connector.length),
            "swr": _plain(e.connector.swr),
        },
        "cover": None
        if e.cover is None
        else {
            "label": e.cover.label,
            "bare_hz": _plain(e.cover.bare),
            "covered_hz": _plain(e.cover.covered),
            "shift_hz": _plain(e.cover.shift),
        },
        "common_mode": None if e.common_mode is None else _common_mode_data(e.common_mode),
        "self_check": {
            "power_balance": _plain(e.sweep.check.power_balance),
            "discretisation": _plain(e.sweep.check.discretisation),
            "sweep_fit": _plain(e.sweep.check.sweep_fit),
            "unknowns": e.sweep.check.unknowns,
            "solves": e.sweep.check.solves,
        },
        "sweep": {
            "frequency_hz": _plain(e.frequency),
            "resistance_ohm": _plain(e.sweep.impedance.real),
            "reactance_ohm": _plain(e.sweep.impedance.imag),
            "error_ohm": _plain(e.sweep.impedance_error),
            "swr": _plain(e.swr),
            "swr_receiver": _plain(e.swr_receiver),
            "gain_wanted_dbi": _plain(e.gain_wanted),
            "realised_gain_dbi": _plain(e.realised_gain),
        },
    }


def _common_mode_data(mode: CommonMode) -> dict[str, Any]:
    """The outside of the coax as plain data; currents in dB against the feed current."""
    return {
        "frequency_hz": _plain(mode.frequency),
        "diameter_m": _plain(mode.diameter),
        "swr_without": _plain(mode.swr_without),
        "gain_without_dbi": _plain(mode.gain_without),
        "reading": mode.reading,
        "cases": [
            {
                "key": case.key,
                "title": case.title,
                "basis": case.basis,
                "choke_resistance_ohm": _plain(case.impedance.real),
                "choke_reactance_ohm": _plain(case.impedance.imag),
                "length_m": _plain(case.length),
                "current_db": _plain(case.current),
                "worst_length_m": _plain(case.worst_length),
                "worst_swr": _plain(case.worst_swr),
                "impedance_change_ohm": _plain(case.impedance_change),
                "gain_lost_db": _plain(case.gain_lost),
                "gain_gained_db": _plain(case.gain_gained),
                "lowest_gain_dbi": _plain(case.lowest_gain),
            }
            for case in mode.cases
        ],
    }


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """The whole answer as plain data in SI units, for scripts."""
    return {
        "version": comparison.version,
        "title": comparison.need.title,
        "seconds": _plain(comparison.seconds),
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
                        "swr_worst": _plain(f.swr_worst),
                        "swr_typical": _plain(f.swr_typical),
                        "swr_receiver_worst": _plain(f.swr_receiver_worst),
                        "gain_mean_dbi": _plain(f.gain_mean),
                        "gain_minimum_dbi": _plain(f.gain_minimum),
                        "realised_mean_dbi": _plain(f.realised_mean),
                        "realised_minimum_dbi": _plain(f.realised_minimum),
                        "efficiency_minimum": _plain(f.efficiency_minimum),
                    }
                    for f in p.bands
                ],
                "members": [
                    {"bands": list(m.band_labels), "antenna": evaluation_data(m.evaluation)} for m in p.members
                ],
            }
            for p in comparison.proposals
        ],
        "refused": [{"title": title, "reason": reason} for title, reason in comparison.refused],
        "curves": [
            {
                "key": c.key,
                "question": c.question,
                "x_label": c.x_label,
                "x_kind": c.x_kind,
                "x": _plain(c.x),
                "series": {label: _plain(values) for label, values in c.series},
                "reading": c.reading,
            }
            for c in comparison.curves
        ],
        "cautions": [{"level": c.level, "text": c.text, "remedy": c.remedy} for c in comparison.cautions],
        "assumptions": list(comparison.assumptions),
    }
