"""What a sweep of a project belongs to: its antenna, the plane it was taken at, and where it is worth computing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from aerialwright.base.printing import format_length
from aerialwright.bench.compare import FEWEST_POINTS
from aerialwright.bench.plane import at_antenna, by_estimate, through_line, through_measured
from aerialwright.bench.records import Measured, Moved, Plane
from aerialwright.bench.text import SweepError
from aerialwright.design.evaluate import connector_sections
from aerialwright.design.model import Design
from aerialwright.lines.line import line_from_need
from aerialwright.lines.section import Section
from aerialwright.need.model import Band, FeedLine, Need
from aerialwright.project.designs import read_design
from aerialwright.project.folder import DESIGNS, project_folder
from aerialwright.project.structures import read_structure
from aerialwright.project.sweeps import SweepNote, antenna_file, read_far_ends
from aerialwright.sheet.build import identity_of
from aerialwright.solution.records import FloatArray
from aerialwright.stock.cables import cable
from aerialwright.structure.model import Structure

#: Beyond this part of the asked bands nothing is computed: below the lowest, above the highest edge.
_BELOW, _ABOVE = 0.7, 1.4
_MOST_COMPUTED = 201


@dataclass(frozen=True)
class Subject:
    """The antenna a sweep belongs to: its metal, the bands it is for, its design (None: a free-form structure) and what its build
    sheet calls that."""

    title: str
    structure: Structure
    bands: tuple[Band, ...]
    design: Design | None
    sections: tuple[Section, ...]
    identity: str = ""


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
    design = stored.design
    return Subject(design.plan.title, design.structure(), bands, design, sections, identity_of(design))


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


def plane_text(plane: Plane) -> str:
    """Where the instrument was, in words that follow 'measured'."""
    if plane.kind == "line":
        return f"at the end of {format_length(plane.length)} of {plane.line_type}"
    if plane.kind == "measured":
        ends = " and ".join(f"{end} ({name})" for end, name in plane.far_ends)
        return f"at the end of a line that was swept with its far end {ends}"
    return "at the antenna" if plane.kind == "antenna" else "at the end of an unknown line"
