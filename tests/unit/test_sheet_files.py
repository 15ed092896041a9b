"""The build sheet from a project and from the command line: which files, for which antenna, and faults in one line."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from command_line import one_line, project, run
from report_fixtures import example_comparison
from sheet_fixtures import ground_plane_sheet

from aerialwright.app.sheets import chosen_of, make_sheets, write_sheets
from aerialwright.base.errors import DesignError, ProjectError
from aerialwright.sheet.build import check_name, choose_member
from aerialwright.sheet.cut_table import HEAD, cut_table


def names_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def test_sheet_writes_pdf_table_and_nothing_else(tmp_path: Path) -> None:
    folder = project(tmp_path / "small")
    done = run("sheet", folder, "--workers", "1", "--paper", "letter", "--json")
    assert done.exit_code == 0, done.stderr
    data = json.loads(done.stdout)
    assert names_in(folder / "out") == ["sheet/dipole-thin-cut-list.csv", "sheet/dipole-thin.pdf"]
    assert [Path(name).name for name in data["files"]] == ["dipole-thin.pdf", "dipole-thin-cut-list.csv"]
    page = pypdf.PdfReader(folder / "out" / "sheet" / "dipole-thin.pdf").pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == (612.0, 792.0)
    arm = next(line for line in data["sheets"][0]["cut_list"] if line["piece"] == "arm")
    rows = list(csv.DictReader((folder / "out" / "sheet" / "dipole-thin-cut-list.csv").open(encoding="utf-8")))
    assert tuple(rows[0]) == HEAD
    # Whole millimetres: nobody marks out less on a rod of half a metre.
    assert (
        float(rows[0]["cut_mm"]) == pytest.approx(1e3 * arm["cut_m"], abs=0.5) and float(rows[0]["cut_mm"]).is_integer()
    )
    # Half a wave at 153 MHz is 0.98 m [299.79 / 2 / 153]; an arm is half of that, a little less by its thickness.
    assert 0.40 < arm["finished_m"] < 0.49


def test_answer_brings_the_sheet_of_what_it_recommends(tmp_path: Path) -> None:
    folder = project(tmp_path / "small")
    done = run("answer", folder, "--workers", "1")
    assert done.exit_code == 0, done.stderr
    printed = folder / "out" / "sheet" / "dipole-thin.pdf"
    assert f"Build sheet: {printed}" in done.stdout and printed.read_bytes().startswith(b"%PDF")
    other = run("sheet", folder, "--workers", "1", "--antenna", "dipole-fat", "--out", tmp_path / "elsewhere")
    line = one_line(other, 3, "dipole-fat", "1 (dipole-thin)")
    assert "--antenna" in line or "proposal" in line
    assert not (tmp_path / "elsewhere").exists()


def test_nothing_serves_leaves_no_sheet_beside_the_answer(tmp_path: Path) -> None:
    folder = project(tmp_path / "small", worst=1.01)
    assert run("answer", folder, "--workers", "1").exit_code == 1
    assert not (folder / "out" / "sheet").exists()
    asked = run("sheet", folder, "--workers", "1", "--quiet")
    assert asked.exit_code == 1 and (folder / "out" / "sheet").is_dir()


def test_faults_before_the_work_are_one_line(tmp_path: Path) -> None:
    folder = project(tmp_path / "small")
    one_line(run("sheet", folder, "--paper", "A0"), 3, "A0", "A4 or Letter")
    one_line(run("sheet", tmp_path / "missing"), 3, "missing")


def test_size_prints_its_sheet(tmp_path: Path) -> None:
    target = tmp_path / "dipole.pdf"
    done = run("size", "dipole", "144-146MHz", "--sheet", target, "--paper", "Letter")
    assert done.exit_code == 0 and "cut list" in done.stdout
    text = "".join(page.extract_text() for page in pypdf.PdfReader(target).pages)
    assert "Test card" in text and "144" in text
    one_line(run("size", "dipole", "144-146MHz", "--sheet", tmp_path / "no" / "dipole.pdf"), 3, "cannot be written")


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    with pytest.raises(ProjectError, match="file"):
        write_sheets([ground_plane_sheet()], tmp_path / "file" / "sheet")


def test_patterns_of_an_earlier_design_go_and_a_persons_files_stay(tmp_path: Path) -> None:
    first = ground_plane_sheet()
    written = write_sheets([first], tmp_path)
    shapes = tmp_path / "patterns" / "ground-plane-air"
    drawn = [path for path in written if path.suffix in (".svg", ".dxf")]
    assert drawn and {path.suffix for path in drawn} == {".svg", ".dxf"}
    (shapes / "mine.svg").write_text("<svg/>", "utf-8")
    straight = tuple(replace(line, mark_bends=()) for line in first.cut_list)
    write_sheets([replace(first, cut_list=straight)], tmp_path)
    assert [path.name for path in shapes.iterdir() if path.suffix in (".svg", ".dxf")] == ["mine.svg"]


def test_a_list_of_written_files_removes_nothing_elsewhere(tmp_path: Path) -> None:
    shapes = tmp_path / "patterns" / "ground-plane-air"
    shapes.mkdir(parents=True)
    (tmp_path / "need.svg").write_text("mine", "utf-8")
    (shapes / "written.json").write_text('["../../need.svg", "../need.svg", 3]', "utf-8")
    write_sheets([ground_plane_sheet()], tmp_path)
    assert (tmp_path / "need.svg").read_text("utf-8") == "mine"


def test_each_antenna_of_a_pair_gets_its_sheet() -> None:
    comparison = example_comparison(pair_first=True)
    best, names = chosen_of(comparison, None)
    assert best.key == "pair" and names == ("1a", "1b")
    keys = [choose_member(comparison, name)[1].evaluation.key for name in names]
    assert keys == ["ground-plane-air", "ground-plane-rescue"]
    # Named by its rank or key a pair is both of its antennas, with a letter one of them.
    assert chosen_of(comparison, "1")[1] == chosen_of(comparison, "PAIR")[1] == names
    assert chosen_of(comparison, "1b")[1] == chosen_of(comparison, "ground-plane-rescue")[1] == ("1b",)
    cage = chosen_of(example_comparison(), "cage-dipole")[0]
    assert [member.evaluation.key for member in cage.members] == ["cage-dipole"]
    with pytest.raises(DesignError, match=r"1 \(discone-12\).*2a \(ground-plane-air\)"):
        chosen_of(example_comparison(), "yagi")


def test_what_the_person_has_needs_no_sheet() -> None:
    comparison = example_comparison()
    best = comparison.proposals[0]
    owned = tuple(replace(m, evaluation=replace(m.evaluation, owned=True)) for m in best.members)
    kept = replace(comparison, proposals=(replace(best, members=owned), *comparison.proposals[1:]))
    with pytest.raises(DesignError, match="nothing to build"):
        chosen_of(kept, None)


def test_a_spreadsheet_takes_no_words_for_a_formula() -> None:
    sheet = ground_plane_sheet()
    evil = replace(sheet.cut_list[0], stock='=HYPERLINK("x")', remark="@sum", datum="-1+1", material='plain, "quoted"')
    rows = list(csv.DictReader(cut_table(replace(sheet, cut_list=(evil,))).splitlines()))
    assert rows[0]["stock"].startswith("'=") and rows[0]["remark"] == "'@sum" and rows[0]["datum"] == "'-1+1"
    assert rows[0]["material"] == 'plain, "quoted"'


@pytest.mark.parametrize("name", ["", "  ", "0", "-1", "9z", "1234"])
def test_a_name_that_names_nothing_is_refused_before_anything_is_computed(name: str) -> None:
    with pytest.raises(DesignError, match="can name no antenna"):
        make_sheets(Path("examples/quillfen"), antenna=name, out=Path("nowhere"))


@pytest.mark.parametrize("name", [None, "1", "3b", " 12 ", "dipole-thin", "pair-a+b", "cut-old one"])
def test_a_name_that_could_be_one_is_not(name: str | None) -> None:
    check_name(name)
