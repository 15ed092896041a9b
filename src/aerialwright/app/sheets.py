"""The build sheet from a project: the antenna of an answer as PDF, patterns for machines, and its cut list as a table."""

from __future__ import annotations

import json
from collections.abc import Iterable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from aerialwright.air.reception import heavens
from aerialwright.app.workflow import Answered, compare, file_stem
from aerialwright.base.atomic import write_bytes_atomic, write_text_atomic
from aerialwright.base.errors import DesignError
from aerialwright.base.printing import format_length
from aerialwright.design.choose import Report
from aerialwright.design.records import Comparison, Evaluation, Proposal
from aerialwright.need.model import Need
from aerialwright.project.folder import OUTPUT, WORK, listed_names, made_folder, project_folder, project_lock
from aerialwright.project.needs import read_need
from aerialwright.sheet.build import build_sheet, check_name, choose_member, member_name, member_names, sheet_of_answer
from aerialwright.sheet.cut_table import cut_table
from aerialwright.sheet.document import patterns_of, render_document
from aerialwright.sheet.dxf_file import dxf_text
from aerialwright.sheet.records import BuildSheet
from aerialwright.sheet.svg_file import svg_text
from aerialwright.sheet.templates import file_drawing
from aerialwright.sheet.tiles import paper as paper_named

if TYPE_CHECKING:
    from aerialwright.bench.trim import Calibration

FOLDER = "sheet"
#: What the last sheet wrote among the patterns, so that the next one can take it away again.
LIST = "written.json"


@dataclass(frozen=True)
class MadeSheets:
    """The sheets of an answer and the files written for them, the PDFs first."""

    comparison: Comparison
    sheets: tuple[BuildSheet, ...]
    files: tuple[Path, ...]
    serves: bool


def make_sheets(
    project: Path,
    *,
    antenna: str | None = None,
    paper: str = "A4",
    out: Path | None = None,
    report: Report | None = None,
    count: int | None = None,
    executor: Executor | None = None,
) -> MadeSheets:
    """Answer the need of a project and write the build sheet of each antenna that it recommends.

    Parameters
    ----------
    project : Path
        The project folder.
    antenna : str, optional
        Key or rank of a proposal ("3" of a pair: both), or of one antenna ("3b" of a pair), instead of the recommended ones.
    paper : str
        ``"A4"`` or ``"Letter"``.
    out : Path, optional
        Folder to write to, ``PROJECT/out/sheet`` by default.
    report, count, executor
        As for :func:`aerialwright.app.workflow.answer_need`.

    Raises
    ------
    AerialwrightError
        With the place and the mend, for anything a person can put right.
    """
    paper_named(paper)
    check_name(antenna)
    need = read_need(project)
    home = project_folder(project)
    comparison = compare(need, heavens(need), report=report, count=count, executor=executor)
    proposal, names = chosen_of(comparison, antenna)
    if report is not None:
        report(1.0, "drawing the build sheet")
    sheets = tuple(_with_lesson_of(home, sheet_of_answer(comparison, name)) for name in names)
    with project_lock(home):
        files = write_sheets(sheets, out if out is not None else home / OUTPUT / FOLDER, paper=paper)
    return MadeSheets(comparison, sheets, files, proposal.serves)


def sheets_beside(project: Path, answered: Answered, *, paper: str = "A4") -> tuple[Path, ...]:
    """The build sheets of an answer's recommendation to ``project``, written beside its report; none where there is nothing to build.

    Raises
    ------
    AerialwrightError
        If a sheet cannot be made; the answer itself stays as it was written.
    """
    comparison = answered.comparison
    best = comparison.proposals[0] if comparison.proposals else None
    if best is None or not best.serves or all(member.evaluation.owned for member in best.members):
        return ()
    sheets = tuple(
        _with_lesson_of(project, sheet_of_answer(comparison, name)) for name in chosen_of(comparison, None)[1]
    )
    with project_lock(project):
        return write_sheets(sheets, answered.report.parent / FOLDER, paper=paper)


def _with_lesson_of(project: Path, sheet: BuildSheet) -> BuildSheet:
    """The sheet with what the project's finished antennas teach; the bench is loaded only where something was done at it."""
    if not (project_folder(project) / WORK).is_dir():
        return sheet
    from aerialwright.app.bench_log import calibration

    return with_lesson(sheet, calibration(project))


def with_lesson(sheet: BuildSheet, known: Calibration) -> BuildSheet:
    """The sheet with what this builder's finished antennas of the same kind teach of its main length, if they do."""
    from aerialwright.bench.trim import applied, main_piece, per_piece

    design = sheet.evaluation.design
    corrected = None if design is None else applied(known, design)
    if design is None or corrected is None or corrected.values == design.values:
        return sheet
    main = design.family.main_length
    change = (corrected.values[main] - design.values[main]) * per_piece(design)
    word = "shorter" if change < 0.0 else "longer"
    lesson = (
        f"your finished antennas of this kind teach: make it {format_length(abs(change), step=5e-4)} {word} than listed"
    )
    piece = main_piece(design).name
    cut_list = tuple(
        replace(line, remark=f"{line.remark}; {lesson}" if line.remark else lesson) if line.name == piece else line
        for line in sheet.cut_list
    )
    label = design.family.parameter(main).label
    told = (
        f"Your finished antennas of this kind teach: with a {label} of {format_length(corrected.values[main])} instead of "
        f"{format_length(design.values[main])} it will appear as computed. The sizes here are those computed."
    )
    return replace(sheet, cut_list=cut_list, promise=(*sheet.promise, told))


def chosen_of(comparison: Comparison, antenna: str | None) -> tuple[Proposal, tuple[str, ...]]:
    """The proposal that is to be built and the names of its antennas: the recommended one, or what ``antenna`` names."""
    if antenna is not None:
        proposal, member = choose_member(comparison, antenna)
        whole = len(proposal.members) > 1 and antenna.strip().casefold() in (
            str(proposal.rank),
            proposal.key.casefold(),
        )
        names = member_names(proposal)
        return proposal, names if whole and names else (member_name(proposal, member),)
    if not comparison.proposals:
        reasons = "; ".join(f"{title}: {why}" for title, why in comparison.refused)
        raise DesignError("nothing can be built within the limits of the need", mend=reasons or "widen them")
    best = comparison.proposals[0]
    names = member_names(best)
    if not names:
        raise DesignError(
            f"the answer is to keep what you have ({best.title}): there is nothing to build",
            where="the recommendation", mend="name another antenna of the answer with --antenna",
        )  # fmt: skip
    return best, names


def write_one(need: Need, evaluation: Evaluation, path: Path, *, paper: str = "A4") -> None:
    """The build sheet of one sized antenna for every band of its need, as one PDF file."""
    sheet = build_sheet(need, evaluation, bands=need.bands)
    # It stands in no project: there is nothing to compare a sweep with.
    alone = replace(sheet, test=replace(sheet.test, command=""))
    write_bytes_atomic(path, render_document(alone, paper_name=paper))


def sheet_data(made: MadeSheets) -> dict[str, Any]:
    """What was made, as plain data; lengths in metres."""
    return {
        "files": [str(path) for path in made.files],
        "serves": made.serves,
        "sheets": [
            {
                "title": sheet.title, "antenna": sheet.evaluation.key, "design": sheet.design_id, "bands": list(sheet.band_labels),
                "cut_list": [
                    {"number": line.number, "piece": line.name, "quantity": line.quantity, "material": line.material,
                     "diameter_m": line.diameter, "finished_m": line.finished, "cut_m": line.cut, "stock": line.stock}
                    for line in sheet.cut_list
                ],
                "shopping": list(sheet.plan.shopping),
            }
            for sheet in made.sheets
        ],
    }  # fmt: skip


def write_sheets(sheets: Iterable[BuildSheet], folder: Path, *, paper: str = "A4") -> tuple[Path, ...]:
    """Write PDF, cut table, and the patterns as SVG and DXF of each sheet; everything is made before anything is written."""
    contents: dict[Path, bytes | str] = {}
    drawn: set[Path] = set()
    for sheet in sheets:
        stem = file_stem(sheet.evaluation.key)
        contents[folder / f"{stem}.pdf"] = render_document(sheet, paper_name=paper)
        contents[folder / f"{stem}-cut-list.csv"] = cut_table(sheet)
        shapes = folder / "patterns" / stem
        names = []
        for pattern in patterns_of(sheet):
            name = file_stem(pattern.name)
            drawing = file_drawing(pattern)
            contents[shapes / f"{name}.svg"] = svg_text(drawing, title=pattern.name)
            contents[shapes / f"{name}.dxf"] = dxf_text(drawing)
            names += [f"{name}.svg", f"{name}.dxf"]
        if names:
            contents[shapes / LIST] = json.dumps(sorted(names), indent=1)
        drawn |= _stale(shapes, set(names))
    for path in contents:
        made_folder(path.parent)
    for path, content in contents.items():
        if isinstance(content, bytes):
            write_bytes_atomic(path, content)
        else:
            write_text_atomic(path, content)
    for path in drawn:
        # A pattern of an earlier sheet that this design no longer has must not be cut by mistake.
        path.unlink(missing_ok=True)
    made = (path for path in contents if path.name != LIST)
    return tuple(sorted(made, key=lambda path: (path.suffix != ".pdf", str(path))))


def _stale(folder: Path, new: set[str]) -> set[Path]:
    """Patterns that the last sheet in this folder wrote and the new one does not."""
    gone = listed_names(folder / LIST) - new
    return {folder / name for name in gone if Path(name).name == name and name.endswith((".svg", ".dxf"))}
