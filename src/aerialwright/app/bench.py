"""The bench verb: take a sweep into the project, move it to the antenna, compare it with the design it belongs to."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from aerialwright.app.workflow import plain
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import ProjectError
from aerialwright.base.printing import format_length
from aerialwright.base.units import parse_length
from aerialwright.bench.compare import FEWEST_POINTS, compare
from aerialwright.bench.plane import at_antenna, by_estimate, through_line, through_measured
from aerialwright.bench.records import Comparison, Measured, Moved, Plane
from aerialwright.bench.text import SweepError
from aerialwright.design.evaluate import connector_sections
from aerialwright.design.model import Design
from aerialwright.lines.line import line_from_need
from aerialwright.lines.section import Section
from aerialwright.need.model import Band, FeedLine, Need
from aerialwright.project.designs import read_design
from aerialwright.project.folder import DESIGNS, made_folder, output_folder, project_folder, project_lock
from aerialwright.project.needs import read_need
from aerialwright.project.structures import read_structure
from aerialwright.project.sweeps import (
    SweepNote,
    add_sweep,
    antenna_file,
    check_name,
    read_bytes,
    read_far_ends,
    read_stored,
)
from aerialwright.report.bench import BenchPage, render_bench, render_bench_text
from aerialwright.solution.records import FloatArray, Sweep
from aerialwright.solution.solve import solve
from aerialwright.stock.cables import cable
from aerialwright.structure.model import Structure

#: Beyond this part of the asked bands nothing is computed: below the lowest, above the highest edge.
_BELOW, _ABOVE = 0.7, 1.4
_MOST_COMPUTED = 201


@dataclass(frozen=True)
class Subject:
    """The antenna a sweep belongs to: its metal, the bands it is for, and its design (None: a free-form structure)."""

    title: str
    structure: Structure
    bands: tuple[Band, ...]
    design: Design | None
    sections: tuple[Section, ...]


@dataclass(frozen=True)
class Benched:
    """A sweep compared: its note, the antenna, the prediction, the comparison, the report as text and as a file."""

    note: SweepNote
    subject: Subject
    predicted: Sweep
    comparison: Comparison
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


def moved_sweep(project: Path, note: SweepNote, measured: Measured, need: Need) -> Moved:
    """The sweep at the antenna, by the plane its note tells."""
    plane, feed = note.plane, need.feed_lines[0]
    if plane.kind == "antenna":
        return at_antenna(measured)
    if plane.kind == "estimate":
        return by_estimate(measured)
    if plane.kind == "measured":
        return through_measured(measured, read_far_ends(project, plane), impedance=feed.impedance)
    if plane.line_type == feed.type:
        # A loss that the need gives as measured holds for this piece of it, too.
        scale = plane.length / feed.length if feed.length > 0.0 else 1.0
        loss = None if feed.loss is None else feed.loss * scale
        return through_line(measured, line_from_need(replace(feed, length=plane.length, loss=loss)))
    impedance = cable(plane.line_type).impedance
    return through_line(measured, line_from_need(FeedLine(plane.line_type, plane.length, impedance)))


def subject_of(project: Path, antenna: str, need: Need) -> Subject:
    """The antenna that a sweep names."""
    path = antenna_file(project, antenna)
    if path.parent == project_folder(project) / DESIGNS:
        structure = read_structure(path)
        return Subject(structure.name, structure, need.must_bands, None, ())
    stored = read_design(path)
    labels = set(stored.bands)
    bands = tuple(band for band in need.must_bands if band.label in labels) or need.must_bands
    sections = connector_sections(stored.design, line_from_need(need.feed_lines[0]))
    return Subject(stored.design.plan.title, stored.design.structure(), bands, stored.design, sections)


def computed_at(measured: Measured, bands: tuple[Band, ...]) -> FloatArray:
    """Frequencies [Hz] of the measurement that are worth computing."""
    low, high = _BELOW * min(band.low for band in bands), _ABOVE * max(band.high for band in bands)
    f = measured.frequency[(measured.frequency >= low) & (measured.frequency <= high)]
    if len(f) < FEWEST_POINTS:
        raise SweepError(
            f"has {len(f)} points near the bands of its antenna", where=measured.origin,
            mend="sweep the asked bands and a tenth around them with 101 points",
        )  # fmt: skip
    kept = np.unique(np.round(np.linspace(0, len(f) - 1, min(len(f), _MOST_COMPUTED))).astype(int))
    return np.asarray(f[kept])


def bench_sweep(project: Path, name: str, *, out: Path | None = None) -> Benched:
    """Compare a stored sweep with its antenna and write ``bench/<name>.html`` among the project's results.

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
    page = BenchPage(need, subject.title, note.name, note.date.isoformat(), plane_text(note.plane), note.note, found)
    folder = (out if out is not None else output_folder(project)) / "bench"
    with project_lock(project):
        made_folder(folder)
        report = write_text_atomic(folder / f"{note.name}.html", render_bench(page))
    return Benched(note, subject, predicted, found, render_bench_text(page), report)


def plane_text(plane: Plane) -> str:
    """Where the instrument was, in words that follow 'measured'."""
    if plane.kind == "line":
        return f"at the end of {format_length(plane.length)} of {plane.line_type}"
    if plane.kind == "measured":
        ends = " and ".join(f"{end} ({name})" for end, name in plane.far_ends)
        return f"at the end of a line that was swept with its far end {ends}"
    return "at the antenna" if plane.kind == "antenna" else "at the end of an unknown line"


def benched_data(found: Benched) -> dict[str, Any]:
    """A comparison as plain data in SI units."""
    c, moved, note = found.comparison, found.comparison.moved, found.note
    return {
        "sweep": note.name,
        "file": note.file,
        "date": note.date.isoformat(),
        "antenna": note.antenna,
        "title": found.subject.title,
        "note": note.note,
        "plane": {
            "kind": note.plane.kind,
            "line_type": note.plane.line_type,
            "length_m": plain(note.plane.length),
            "far_ends": dict(note.plane.far_ends),
            "loss_db": plain(moved.loss),
            "delay_s": plain(moved.delay),
            "notes": list(moved.notes),
            "refused": moved.refused,
        },
        "repairs": [{"what": repair.what, "where": repair.where} for repair in moved.at_instrument.repairs],
        "accepted": c.accepted,
        "reason": c.reason,
        "limit": plain(c.limit),
        "reference_ohm": plain(c.reference),
        "marks": {
            mark.key: {
                "unit": mark.unit,
                "measured": plain(mark.measured),
                "measured_error": plain(mark.measured_error),
                "predicted": plain(mark.predicted),
                "predicted_error": plain(mark.predicted_error),
                "difference": plain(mark.difference),
                "uncertainty": plain(mark.uncertainty),
                "differs": mark.differs,
            }
            for mark in c.marks
        },
        "bands": [{key: plain(value) for key, value in vars(check).items()} for check in c.bands],
        "notes": list(c.notes),
        "frequency_hz": plain(c.frequency),
        "measured": _curve(c.measured, c.measured_error, angle=moved.at_antenna.phase_known and not moved.refused),
        "predicted": _curve(c.predicted, c.predicted_error, angle=True),
        "report": str(found.report),
    }


def _curve(value: np.ndarray[Any, np.dtype[np.complex128]], error: FloatArray, *, angle: bool) -> dict[str, Any]:
    """A reflection as data; only its size where the angle is not known."""
    size = {"reflection_size": plain(np.abs(value)), "error": plain(error)}
    return size | ({"reflection_real": plain(value.real), "reflection_imaginary": plain(value.imag)} if angle else {})
