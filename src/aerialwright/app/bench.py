"""The bench verb: take a sweep into the project, move it to the antenna, compare it with its design, say why it differs and what to cut."""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from aerialwright.app.bench_data import benched_data
from aerialwright.app.bench_log import Step, noted, trim_log, work_lines
from aerialwright.app.bench_subject import Subject, computed_at, moved_sweep, plane_text, subject_of
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import ProjectError
from aerialwright.base.units import parse_length
from aerialwright.bench.compare import compare
from aerialwright.bench.counsel import Counsel, counsel
from aerialwright.bench.records import Comparison, Measured, Plane
from aerialwright.need.model import Need
from aerialwright.project.folder import made_folder, output_folder, project_lock
from aerialwright.project.needs import read_need
from aerialwright.project.sweeps import SweepNote, add_sweep, antenna_file, check_name, read_bytes, read_stored
from aerialwright.project.work import Work, works
from aerialwright.report.bench import BenchPage, render_bench, render_bench_text
from aerialwright.solution.records import Sweep
from aerialwright.solution.solve import solve
from aerialwright.stock.cables import cable


@dataclass(frozen=True)
class Benched:
    """A sweep compared: its note, the antenna, the prediction, the comparison with the verdict that stands, what it looks like and what
    to cut (None for a free-form structure), the rounds of work so far, the report as text and as a file."""

    note: SweepNote
    subject: Subject
    predicted: Sweep
    comparison: Comparison
    counsel: Counsel | None
    work: tuple[Work, ...]
    text: str
    report: Path


def parse_plane(text: str, need: Need) -> Plane:
    """A plane as people write it.

    ``"antenna"``; ``"line"`` (the need's feed line) or ``"line RG-58 10 m"``; ``"estimate"``; ``"open=SWEEP short=SWEEP load=SWEEP"``
    (any of these), sweeps of this project with the far end so. Raises :class:`ProjectError` or :class:`QuantityError`.
    """
    words = text.split()
    if words in (["antenna"], ["estimate"]):
        return Plane(words[0])
    if words and words[0] == "line":
        line = need.feed_lines[0]
        if len(words) == 1:
            return Plane("line", line.type, line.length)
        length = parse_length(" ".join(words[2:]), where="--plane", positive=True)
        return Plane("line", cable(words[1], where="--plane").key, length)
    ends = [word.partition("=") for word in words]
    if ends and all(sign and name for _, sign, name in ends):
        return Plane("measured", far_ends=tuple((end, name) for end, _, name in ends))
    raise ProjectError(
        f"'{text[:60]}' is no plane", where="--plane",
        mend="write antenna, line, 'line RG-58 10 m', estimate, or open=SWEEP and short=SWEEP of the line",
    )  # fmt: skip


def take_in(
    project: Path,
    file: Path,
    *,
    plane: Plane,
    name: str = "",
    antenna: str = "",
    attached: str = "antenna",
    note: str = "",
    date: datetime.date | None = None,
    port: int = 1,
    columns: Mapping[str, str | int] | None = None,
    reference: float | None = None,
) -> tuple[SweepNote, Measured]:
    """Store ``file`` among the project's sweeps, called ``name`` or after the file; see :func:`..project.sweeps.add_sweep`."""
    stem = name or "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in file.stem).strip("-_")
    data = read_bytes(file)
    told = SweepNote(
        check_name(stem),
        file.name,
        date or datetime.date.today(),
        "",
        plane,
        attached,
        note,
        port,
        dict(columns or {}),
        reference,
    )
    if attached == "antenna":
        told = replace(told, antenna=antenna_file(project, antenna).stem)
    return told, add_sweep(project, data, told)


def bench_sweep(project: Path, name: str, *, out: Path | None = None, step: Step | None = None) -> Benched:
    """Compare a stored sweep with its antenna and write ``bench/<name>.html`` and ``.json`` among the project's results.

    ``step``: what was done to the metal after this sweep, to be noted.

    Raises
    ------
    AerialwrightError
        With the place and the mend, for anything a person can put right.
    """
    need = read_need(project)
    note, measured = read_stored(project, name)
    if note.attached != "antenna":
        raise ProjectError(
            f"is a sweep of the line with its far end {note.attached}, not of an antenna", where=name,
            mend=f"name it in the plane of an antenna's sweep: {note.attached}={name}",
        )  # fmt: skip
    subject = subject_of(project, note.antenna, need)
    moved = moved_sweep(project, note, measured, need)
    predicted = solve(subject.structure, computed_at(measured, subject.bands)).sweep
    found = compare(moved, predicted, need=need, bands=subject.bands, sections=subject.sections)
    advised: Counsel | None = None
    if subject.design is not None:
        log = trim_log(project, note, subject.design, subject.bands, need)
        advised, found = counsel(subject.design, found, subject.bands, log=log)
    if step is not None:
        noted(project, note, subject, advised, step)
    done = works(project, antenna=note.antenna)
    page = BenchPage(
        need, subject.title, note.name, note.date.isoformat(), plane_text(note.plane), note.note, found, advised, work_lines(done),
        subject.identity,
    )  # fmt: skip
    folder = (out if out is not None else output_folder(project)) / "bench"
    result = Benched(
        note, subject, predicted, found, advised, done, render_bench_text(page), folder / f"{note.name}.html"
    )
    with project_lock(project):
        made_folder(folder)
        write_text_atomic(result.report, render_bench(page))
        write_text_atomic(result.report.with_suffix(".json"), json.dumps(benched_data(result), allow_nan=False) + "\n")
    return result
