"""What was done at the bench so far: the trim log of an antenna, what finished antennas teach, and the list of sweeps."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from aerialwright.app.bench_data import work_data
from aerialwright.app.bench_subject import Subject, moved_sweep, plane_text
from aerialwright.base.errors import AerialwrightError, ProjectError
from aerialwright.base.printing import counted, format_length
from aerialwright.bench.causes import inches
from aerialwright.bench.counsel import Counsel
from aerialwright.bench.diagnose import DiagnosisError
from aerialwright.bench.trim import Calibration, TrimEntry, TrimLog, advise, applied, learnt, main_piece
from aerialwright.design.model import Design
from aerialwright.lines.line import line_from_need
from aerialwright.need.model import Band, Need
from aerialwright.project.designs import read_design
from aerialwright.project.folder import BUILT, DESIGNS, OUTPUT, project_folder
from aerialwright.project.sweeps import SweepNote, read_stored, sweeps
from aerialwright.project.work import Taught, Work, add_work, works

#: A ruler that reads less than this part of the design's length, or more than its inverse, was laid on something else.
_SHORTEST = 0.7


@dataclass(frozen=True)
class Step:
    """What a person did after a sweep: ``cut`` [m] off each piece of the main length (negative: put on), or the finished length by
    ``ruler`` [m]. Zero for what was not done."""

    cut: float = 0.0
    ruler: float = 0.0


def trim_log(project: Path, note: SweepNote, design: Design, bands: tuple[Band, ...], need: Need) -> TrimLog:
    """The rounds before the sweep ``note``: every cut noted after an earlier sweep of its antenna, with what that sweep said."""
    dates = {one.name: one.date for one in sweeps(project)}
    rounds = works(project, antenna=note.antenna)
    own = next((one.number for one in rounds if one.sweep == note.name), None)
    log: list[TrimEntry] = []
    for one in rounds:
        if (
            not one.cut
            or one.sweep not in dates
            or dates[one.sweep] > note.date
            or (own is not None and one.number >= own)
        ):
            continue
        stored, measured = read_stored(project, one.sweep)
        day = stored.date.isoformat()
        try:
            advice = advise(
                design, moved_sweep(project, stored, measured, need), bands,
                reference=line_from_need(need.feed_lines[0]).impedance, limit=need.limits.worst_swr, log=tuple(log),
            )  # fmt: skip
        except DiagnosisError:
            # The cut counts all the same; what it moved is not known.
            log.append(TrimEntry(day, one.sweep, one.cut, 0.0, float("inf"), float("inf")))
        else:
            log.append(advice.entry(date=day, sweep=one.sweep, cut=one.cut))
    return tuple(log)


def noted(project: Path, note: SweepNote, subject: Subject, advised: Counsel | None, step: Step) -> Work:
    """Write down what was done after a sweep. Raises :class:`ProjectError`, with nothing stored."""
    design = subject.design
    if design is None:
        raise ProjectError(
            "is a free-form structure: its cuts are not counted",
            where=note.antenna,
            mend="write them into the sweep's note",
        )
    main = design.family.main_length
    label, length = design.family.parameter(main).label, design.values[main]
    taught = None
    if step.ruler:
        if not _SHORTEST * length < step.ruler < length / _SHORTEST:
            raise ProjectError(
                f"{format_length(step.ruler)} cannot be its {label}", where="--ruler",
                mend=f"measure {design.family.parameter(main).datum}; designed are {format_length(length)}",
            )  # fmt: skip
        if advised is None or advised.advice is None or advised.verdict in ("hold", "stop"):
            why = advised.text or advised.missing if advised is not None else ""
            raise ProjectError(f"this sweep teaches nothing of the length: {why}", where=note.name, mend="sweep again")
        advice = advised.advice
        taught = Taught(step.ruler, round(advice.apparent, 6), max(round(advice.spread, 6), 1e-6))
    elif abs(step.cut) >= (1.0 - _SHORTEST) * length:
        raise ProjectError(
            f"{format_length(abs(step.cut))} is too much for a {label} of {format_length(length)}", where="--cut",
            mend="give what came off each piece, as '3 mm' or '1/8 in'",
        )  # fmt: skip
    return add_work(project, note.name, note.antenna, piece=main_piece(design).name, cut=step.cut, taught=taught)


def work_lines(done: tuple[Work, ...]) -> tuple[str, ...]:
    """The log in words."""
    return tuple(f"after {one.sweep}: {_did(one)}" for one in done)


def _did(one: Work) -> str:
    if one.taught is not None:
        return f"finished, {inches(one.taught.ruler)} by ruler"
    if not one.cut:
        return "nothing"
    return f"{inches(abs(one.cut))} {'cut off' if one.cut > 0.0 else 'put on'} each {one.piece}"


def calibration(project: Path) -> Calibration:
    """What the finished antennas of a project teach: the last ruler of each."""
    last = {one.antenna: one for one in works(project) if one.taught is not None}
    known = Calibration()
    for antenna, one in last.items():
        path = project_folder(project) / BUILT / f"{antenna}.toml"
        if one.taught is not None and path.is_file():
            taught = one.taught
            known = learnt(
                known,
                read_design(path).design,
                true_length=taught.ruler,
                apparent=taught.apparent,
                spread=taught.spread,
            )
    return known


@dataclass(frozen=True)
class Corrected:
    """A design of the last answer with its main dimension [m] as designed, and as this builder has to make it."""

    name: str
    label: str
    designed: float
    corrected: float


def corrections(project: Path, known: Calibration) -> tuple[Corrected, ...]:
    """The designs of the last answer whose kind of build was measured before."""
    out = []
    for path in sorted((project_folder(project) / OUTPUT / DESIGNS).glob("*.toml")) if known.offsets else ():
        try:
            design = read_design(path).design
        except AerialwrightError:
            # Of an older answer: it says so itself when it is used.
            continue
        main = design.family.main_length
        length = applied(known, design).values[main]
        if length != design.values[main]:
            out.append(Corrected(path.stem, design.family.parameter(main).label, design.values[main], length))
    return tuple(out)


# ---- the list


def _state(project: Path, name: str) -> str:
    """What the last comparison of a sweep found."""
    try:
        found = json.loads((project_folder(project) / OUTPUT / "bench" / f"{name}.json").read_text(encoding="utf-8"))
        return {True: "accepted", False: "not accepted", None: "undecided"}[found["accepted"]]
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return "not compared yet"


def list_data(project: Path) -> dict[str, Any]:
    """Sweeps with their state, the trim log, and what carries over, as plain data."""
    known = calibration(project)
    return {
        "sweeps": [
            {
                "sweep": n.name, "date": n.date.isoformat(), "antenna": n.antenna, "attached": n.attached, "plane": n.plane.kind,
                "note": n.note, "state": _state(project, n.name) if n.attached == "antenna" else "line",
            }
            for n in sweeps(project)
        ],
        "work": [work_data(one) for one in works(project)],
        "learnt": [
            {"kind": one.key, "longer_part": round(one.mean, 7), "spread_part": round(one.spread, 7), "antennas": one.count}
            for one in known.offsets
        ],
        "corrected": [
            {"design": one.name, "dimension": one.label, "designed_m": one.designed, "corrected_m": one.corrected}
            for one in corrections(project, known)
        ],
    }  # fmt: skip


def list_text(project: Path) -> str:
    """The same for a terminal."""
    rows, done, known = sweeps(project), works(project), calibration(project)
    lines = []
    for n in rows:
        what = n.antenna if n.attached == "antenna" else f"the line, far end: {n.attached}"
        state = f"; {_state(project, n.name)}" if n.attached == "antenna" else ""
        lines.append(
            f"{n.date}  {n.name:20} {what}{state}; measured {plane_text(n.plane)}{f'; {n.note}' if n.note else ''}"
        )
    lines = lines or ["no sweeps yet"]
    if done:
        lines += [
            "",
            "TRIM LOG",
            *(f"- {one.antenna}, {line}" for one, line in zip(done, work_lines(done), strict=True)),
        ]
    if known.offsets:
        lines += ["", "WHAT YOUR FINISHED ANTENNAS TEACH"]
        lines += [
            f"- {one.key}: by its sweep {100 * abs(one.mean):.1f} % {'longer' if one.mean > 0 else 'shorter'} than by ruler "
            f"(+/- {100 * one.spread:.1f} %, {counted(one.count, 'antenna')})"
            for one in known.offsets
        ]
    for one in corrections(project, known):
        lines.append(f"- {one.name}: make the {one.label} {inches(one.corrected)} instead of {inches(one.designed)}")
    return "\n".join(lines)
