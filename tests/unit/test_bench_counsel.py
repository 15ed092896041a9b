"""The bench joined: stated faults named, verdict and advice agreeing, cuts kept, what is learnt carried over."""

from __future__ import annotations

import json
import shutil
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from command_line import files_in, one_line, run
from invented_sweeps import EXAMPLES, maker
from markupsafe import escape

from aerialwright.app.bench import Benched, bench_sweep, take_in
from aerialwright.app.bench_data import benched_data
from aerialwright.app.bench_log import calibration, corrections
from aerialwright.app.sheets import with_lesson
from aerialwright.base.errors import ProjectError
from aerialwright.bench.counsel import counsel, next_step
from aerialwright.bench.plane import LOSS_TOLERANCE
from aerialwright.bench.records import Plane
from aerialwright.bench.trim import FIRST_CUT, Calibration, applied
from aerialwright.design.evaluate import evaluate
from aerialwright.lines.line import line_from_need
from aerialwright.project.designs import read_design
from aerialwright.project.folder import create_project
from aerialwright.project.needs import read_need
from aerialwright.project.sweeps import antenna_file
from aerialwright.project.work import Taught, add_work, works
from aerialwright.sheet.build import build_sheet, identity_of

MADE = [one for one in maker().MADE if one.attached == "antenna"]
NAMES = [one.name for one in MADE]
#: What a careful hand is off by, and a dimension of the table counts as a fault from [m or degree].
HAND = 2e-3


@pytest.fixture(scope="module")
def projects(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("joined")
    names = {one.example for one in MADE}
    return {name: create_project(folder / name, from_example=EXAMPLES / name) for name in names}


@pytest.fixture(scope="module")
def all_of_them(projects: dict[str, Path]) -> dict[str, Benched]:
    return {one.name: bench_sweep(projects[one.example], one.name) for one in MADE}


def built_in(one: Any) -> tuple[str, float]:
    """The cause that the maker's own table built into a sweep, with its size in SI; ("nothing", 0) within a hand's and a table's errors."""
    for key, off in one.changes.items():
        if abs(off) > HAND:
            return (f"{key} too {'long' if off > 0 else 'short'}" if key == "total_length" else key), off
    if one.loss > 1.0 + LOSS_TOLERANCE:
        line = line_from_need(read_need(EXAMPLES / one.example).feed_lines[0])
        return "loss", (one.loss - 1.0) * float(line.loss_db(np.sqrt(one.span[0] * one.span[1])))
    return "nothing", 0.0


@pytest.mark.parametrize("one", MADE, ids=NAMES)
def test_the_stated_fault_comes_first(one: Any, all_of_them: dict[str, Benched]) -> None:
    key, size = built_in(one)
    advised = all_of_them[one.name].counsel
    assert advised is not None and advised.diagnosis is not None
    best = advised.diagnosis.best
    assert best.cause.key == key
    assert best.misfit < 1.5
    if size:
        assert best.probability > 0.9
        assert best.value == pytest.approx(size, rel=0.08)
        assert abs(best.value - size) < 4.0 * best.spread
    assert one.fault.startswith("none") is (key in ("nothing", "loss")), "the words of the table say the same"


@pytest.mark.parametrize("one", MADE, ids=NAMES)
def test_verdict_and_advice_do_not_contradict(one: Any, all_of_them: dict[str, Benched]) -> None:
    found = all_of_them[one.name]
    advised = found.counsel
    assert advised is not None and advised.diagnosis is not None
    if found.comparison.accepted:
        assert advised.verdict == "done" and advised.text.startswith("Leave it")
    if found.comparison.accepted is False:
        assert advised.verdict != "done"
    if advised.verdict in ("cut", "lengthen"):
        assert advised.diagnosis.best.cause.kin in ("trim", "lengthen")


def test_a_lossy_line_is_said_on_top(all_of_them: dict[str, Benched]) -> None:
    """Within the limit at both ends, but the loss that does it is not the antenna's: undecided, in head, table and advice."""
    found = all_of_them["wet-coax"]
    c, advised = found.comparison, found.counsel
    assert c.accepted is None and all(band.accepted is None for band in c.bands)
    assert all(band.swr_receiver is not None and band.swr_receiver < band.limit for band in c.bands)
    top = " ".join(found.text.split("WHAT IT LOOKS LIKE")[0].split())
    assert top.count("the line loses 2.5 dB more, one way, than was taken off") == 1 and "Undecided" in top
    assert advised is not None and advised.verdict == "hold" and advised.text.startswith("Do not cut yet")
    assert found.report.read_text("utf-8").count("undecided</h1>") == 1
    # What is left with that loss taken off, too, is the antenna that was computed, to within the instrument's error.
    stated = float(top.split("the SWR at the antenna is about ")[1].split()[0])
    assert stated == pytest.approx(max(band.predicted or 0.0 for band in c.bands), abs=0.1)


def test_bent_radials_come_before_any_cut(all_of_them: dict[str, Benched]) -> None:
    advised = all_of_them["radials-flat"].counsel
    assert advised is not None and advised.verdict == "hold"
    assert "Do not cut yet: put right what is most likely wrong: the radial droop" in advised.text


@pytest.mark.parametrize(
    ("kin", "likely", "verdict", "kept", "step"),
    [
        ("trim", 0.9, "cut", False, "cut"),
        ("trim", 0.9, "cut", True, "done"),
        ("trim", 0.4, "cut", False, "hold"),
        ("nothing", 0.9, "cut", None, "cut"),
        ("unlisted", 0.9, "cut", False, "hold"),
        ("metal", 0.9, "lengthen", False, "hold"),
        ("metal", 0.9, "done", None, "done"),
        ("metal", 0.9, "stop", False, "stop"),
        *((kin, 0.9, "cut", False, "hold") for kin in ("surroundings", "feed", "line", "contact")),
        ("feed", 0.9, "done", None, "hold"),
        ("lengthen", 0.9, "done", False, "hold"),
    ],
)  # fmt: skip
def test_what_comes_before_a_cut(
    kin: str, likely: float, verdict: str, kept: bool | None, step: str, all_of_them: dict[str, Benched]
) -> None:
    """The order of docs/bench.md, case by case, on one diagnosis with its kin and probability changed."""
    told = all_of_them["dipole-long"].counsel
    assert told is not None and told.diagnosis is not None and told.advice is not None
    best = replace(told.diagnosis.best, probability=likely, cause=replace(told.diagnosis.best.cause, kin=kin))
    found = replace(told.diagnosis, findings=(best, *told.diagnosis.findings[1:]), kin_probability=likely)
    said, text = next_step(found, replace(told.advice, verdict=verdict), kept, kept)
    assert said == step
    if step == "cut" or (step == "hold" and kin in ("trim", "unlisted", "metal")):
        assert told.advice.text in text


def test_text_json_and_page_say_the_same(projects: dict[str, Path], all_of_them: dict[str, Benched]) -> None:
    found = all_of_them["dipole-long"]
    told = json.loads(run("bench", projects["marrow-head"], "dipole-long", "--json").stdout)
    assert told == json.loads(found.report.with_suffix(".json").read_text("utf-8"))
    cut, causes = told["trim"], told["diagnosis"]["causes"]
    assert (cut["verdict"], cut["piece"], cut["pieces"], cut["cut_number"]) == ("cut", "arm", 2, 1)
    assert 0.0 < cut["amount_m"] <= FIRST_CUT * cut["whole_m"] + 1e-6
    # 45 mm too long in all are 22.5 mm on each arm.
    assert cut["whole_m"] == pytest.approx(0.0225, abs=1.5e-3)
    assert sum(cause["probability"] for cause in causes) == pytest.approx(1.0, abs=1e-3)
    assert causes == sorted(causes, key=lambda cause: -cause["probability"])
    page, text = found.report.read_text("utf-8"), " ".join(found.text.split())
    for words in (told["diagnosis"]["reading"], cut["text"], told["diagnosis"]["next_test"], causes[1]["sentence"]):
        assert words in text and str(escape(words)) in page
    assert "mm (17/32 in) off both arms, equally, each at its tip" in cut["text"]
    assert f"design {told['design']}" in found.text and told["design"] in page
    assert page.index("What to cut") < page.index("Measured and predicted, at the antenna")


def test_a_refused_plane_has_no_diagnosis(all_of_them: dict[str, Benched]) -> None:
    found = all_of_them["dipole-long"]
    assert found.subject.design is not None
    lost = replace(found.comparison, moved=replace(found.comparison.moved, refused="the line eats 9 dB each way"))
    told, kept = counsel(found.subject.design, lost, found.subject.bands)
    assert told.diagnosis is None and told.advice is None and "eats 9 dB" in told.missing and kept is lost


def test_a_free_form_structure_has_neither(tmp_path: Path) -> None:
    folder = create_project(tmp_path / "mine", from_example=EXAMPLES / "quillfen")
    reading = EXAMPLES / "quillfen" / "sweeps" / "radials-flat.s1p"
    take_in(folder, reading, plane=Plane("antenna"), name="roof", antenna="rod-on-roof")
    found = bench_sweep(folder, "roof")
    assert found.counsel is None and "WHAT TO CUT" not in found.text
    assert benched_data(found)["diagnosis"] is None
    one_line(run("bench", folder, "roof", "--cut", "3 mm"), 3, "free-form")
    assert works(folder) == ()


# ---- the trim log


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    return create_project(tmp_path / "mine", from_example=EXAMPLES / "marrow-head")


def swept_again(folder: Path, name: str, too_long: float, seed: int) -> None:
    """The example's dipole with what is still on it, by the script that made the examples' sweeps."""
    script = maker()
    first = next(one for one in script.MADE if one.name == "dipole-long")
    (folder.parent / f"{name}.s1p").write_text(script.file_of(replace(first, changes={"total_length": too_long}), seed))
    take_in(folder, folder.parent / f"{name}.s1p", plane=Plane("antenna"), name=name, antenna="dipole-thick")


def test_cuts_follow_each_other(mine: Path) -> None:
    """Noted in one run, counted in the next: the second sweep is of cut 2, and the log says what the first did."""
    told = json.loads(run("bench", mine, "dipole-long", "--cut", "6 mm", "--json").stdout)
    assert told["trim"]["cut_number"] == 1, "the advice of a sweep does not count what was cut after it"
    assert [row["cut_m"] for row in told["work"]] == [0.006]
    swept_again(mine, "second", 0.033, 91)
    second = json.loads(run("bench", mine, "second", "--cut", "3/16 in", "--json").stdout)
    assert second["trim"]["cut_number"] == 2 and second["trim"]["apparent_m"] == pytest.approx(0.033, abs=2e-3)
    swept_again(mine, "third", 0.033 - 2 * 4.7625e-3, 92)
    assert json.loads(run("bench", mine, "third", "--json").stdout)["trim"]["cut_number"] == 3
    assert json.loads(run("bench", mine, "dipole-long", "--json").stdout)["trim"]["cut_number"] == 1
    listed = run("bench", mine).stdout
    assert "dipole-thick, after second: 4.8 mm (3/16 in) cut off each arm" in listed
    assert listed.index("after dipole-long") < listed.index("after second")
    assert [one.number for one in works(mine)] == [1, 2]


def test_the_log_is_exact_and_never_overwritten(mine: Path) -> None:
    kept = add_work(mine, "a", "dipole-thick", piece="arm", cut=1.0 / 300.0)
    add_work(mine, "b", "dipole-thick", piece="arm", cut=-0.0125)
    taught = Taught(0.8491, -0.0012, 0.0004)
    add_work(mine, "c", "dipole-thick", piece="arm", cut=0.0, taught=taught)
    again = works(mine, antenna="dipole-thick")
    assert again[0] == kept
    assert [(one.sweep, one.cut, one.taught) for one in again] == [
        ("a", 1.0 / 300.0, None), ("b", -0.0125, None), ("c", 0.0, taught),
    ]  # fmt: skip
    before = {name: (mine / name).read_bytes() for name in files_in(mine)}
    for name in ("a", "B", "c"):
        with pytest.raises(ProjectError, match="noted already"):
            add_work(mine, name, "dipole-thick", piece="arm", cut=0.001)
    assert {name: (mine / name).read_bytes() for name in files_in(mine)} == before
    copied = create_project(mine.parent / "copy", from_example=mine)
    assert works(copied) == again


def test_two_at_once_store_one(mine: Path) -> None:
    def add(number: int) -> bool:
        try:
            add_work(mine, "same", "dipole-thick", piece="arm", cut=0.001 * (1 + number))
        except ProjectError:
            return False
        return True

    with ThreadPoolExecutor(4) as pool:
        assert sum(pool.map(add, range(8))) == 1
    assert len(works(mine)) == 1


@pytest.mark.parametrize(
    ("words", "code", "named"),
    [
        (("dipole-long", "--cut", "3"), 3, "--cut"),
        (("dipole-long", "--cut", "-3 mm"), 3, "--cut"),
        (("dipole-long", "--cut", "0 mm"), 3, "--cut"),
        (("dipole-long", "--cut", "9 m"), 3, "too much"),
        (("dipole-long", "--added", "two"), 3, "--added"),
        (("dipole-long", "--ruler", "3 m"), 3, "cannot be its total length"),
        (("coax-open", "--cut", "3 mm"), 3, "far end open"),
    ],
)
def test_steps_that_are_none_are_refused_and_nothing_is_stored(
    mine: Path, words: tuple[str, ...], code: int, named: str
) -> None:
    before = files_in(mine)
    one_line(run("bench", mine, *words), code, named)
    assert [name for name in files_in(mine) if name != ".lock"] == [name for name in before if name != ".lock"]


def test_one_step_after_one_sweep(mine: Path) -> None:
    assert run("bench", mine, "dipole-long", "--cut", "3 mm", "--ruler", "895 mm").exit_code == 2
    assert run("bench", mine, "--cut", "3 mm").exit_code == 2
    assert works(mine) == ()


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ('antenna = "dipole-thick"\nnumber = 1\ndate = 2026-05-16\ncut = "3"\n', "unit"),
        ('antenna = "dipole-thick"\nnumber = 0\ndate = 2026-05-16\n', "number"),
        ('antenna = "dipole-thick"\nnumber = 1\ndate = 2026-05-16\ncut = "3 mm"\nadded = "3 mm"\n', "keep one of both"),
        ('antenna = "dipole-thick"\nnumber = 1\ndate = 2026-05-16\ncutt = "3 mm"\n', "did you mean 'cut'"),
        ("half a fi", "line 1"),
    ],
)
def test_a_damaged_log_is_named(mine: Path, text: str, named: str) -> None:
    (mine / "work").mkdir(exist_ok=True)
    (mine / "work" / "dipole-long.toml").write_text(text, encoding="utf-8")
    assert "dipole-long.toml" in one_line(run("bench", mine, "dipole-trimmed"), 3, named)


# ---- what carries over


def test_what_a_finished_antenna_teaches_corrects_the_next(mine: Path) -> None:
    """Cut to 842 mm by ruler it reads as the design of 850 mm: the next of its kind is made shorter by the same part."""
    designs = mine / "out" / "designs"
    designs.mkdir(parents=True)
    shutil.copyfile(mine / "built" / "dipole-thick.toml", designs / "the-next.toml")
    shutil.copyfile(EXAMPLES / "quillfen" / "built" / "ground-plane.toml", designs / "another-kind.toml")
    assert calibration(mine).offsets == ()
    done = run("bench", mine, "dipole-trimmed", "--ruler", "842 mm")
    assert done.exit_code == 0 and "finished, 842.0 mm" in done.stdout
    (offset,) = calibration(mine).offsets
    assert offset.mean == pytest.approx(850.0 / 842.0 - 1.0, abs=2e-3) and offset.count == 1
    (one,) = corrections(mine, calibration(mine))
    assert one.name == "the-next" and one.corrected == pytest.approx(0.842, abs=2e-3)
    listed = run("bench", mine).stdout
    assert "the-next: make the total length 84" in listed and "longer than by ruler" in listed


def test_the_build_sheet_tells_what_was_learnt(mine: Path) -> None:
    """On the first page and at the piece: half of the change for each arm; another kind of antenna is left alone."""
    need = read_need(mine)
    design = read_design(mine / "built" / "dipole-thick.toml").design
    run("bench", mine, "dipole-trimmed", "--ruler", "842 mm")
    sheet = build_sheet(need, evaluate(design, need, need.must_bands), bands=need.must_bands)
    told = with_lesson(sheet, calibration(mine))
    assert "instead of 850 mm" in told.promise[-1] and told.promise[:-1] == sheet.promise
    (arm,) = [line for line in told.cut_list if "teach" in line.remark]
    corrected = applied(calibration(mine), design).values["total_length"]
    assert 0.839 < corrected < 0.844, "850 mm by 842/850"
    assert arm.name == "arm" and f"{500 * (0.850 - corrected):g} mm shorter" in arm.remark
    assert with_lesson(sheet, Calibration()) == sheet


def test_a_sweep_that_says_something_else_teaches_nothing(tmp_path: Path) -> None:
    folder = create_project(tmp_path / "mine", from_example=EXAMPLES / "tarn-edge")
    length = read_length(folder, "cage-dipole")
    one_line(run("bench", folder, "wet-coax", "--ruler", f"{length} m"), 3, "teaches nothing")
    assert works(folder) == ()


def read_length(folder: Path, name: str) -> float:
    design = read_design(antenna_file(folder, name)).design
    return design.values[design.family.main_length]


# ---- the name on the build sheet


def test_a_design_is_found_by_what_its_sheet_calls_it(projects: dict[str, Path]) -> None:
    for folder in projects.values():
        for path in (folder / "built").glob("*.toml"):
            assert antenna_file(folder, identity_of(read_design(path).design)) == path
    with pytest.raises(ProjectError, match="there is no design '00000000'"):
        antenna_file(next(iter(projects.values())), "00000000")


# ---- time


def test_a_thousand_points_take_less_than_two_seconds(mine: Path) -> None:
    """Compared, diagnosed, advised and written, once the design was solved; processor time."""
    f = np.linspace(146e6, 172e6, 1001)
    gamma = 0.3 * np.exp(2j * np.pi * (f - f[0]) / 60e6)
    rows = "".join(f"{at:.0f} {value.real:.6f} {value.imag:.6f}\n" for at, value in zip(f, gamma, strict=True))
    (mine.parent / "fine.s1p").write_text(f"# Hz S RI R 50\n{rows}")
    take_in(mine, mine.parent / "fine.s1p", plane=Plane("antenna"), antenna="dipole-thick")
    bench_sweep(mine, "fine")
    started = time.process_time()
    found = bench_sweep(mine, "fine")
    assert time.process_time() - started < 2.0
    assert len(found.comparison.moved.at_antenna.frequency) == 1001 and found.counsel is not None
