"""The command line: help that costs nothing, one line for every fault, exit codes a script can use, files that agree."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest
import skrf
from click.testing import CliRunner

import aerialwright
from aerialwright.app.cli import main
from aerialwright.app.exits import Exit
from aerialwright.app.workflow import Answered, answer_need, comparison_data, evaluation_data
from aerialwright.base.atomic import write_text_atomic
from aerialwright.base.errors import Cancelled, ProjectError
from aerialwright.report.answer import render_answer_text

ROOT = Path(__file__).resolve().parents[2]
SOURCE = str(Path(aerialwright.__file__).parents[1])
#: Level polarisation leaves only the dipoles: an answer in a second.
NEED = """
title = "small need"
question = "What shall I build?"
polarisation = "horizontal"
connectors = ["N"]
[[band]]
label = "{first}"
range = "144-146 MHz"
[[band]]
label = "{second}"
range = "156-162 MHz"
[far_end]
kind = "all round"
[[feed_line]]
type = "RG-58"
length = "10 m"
[limits]
largest_size = "2 m"
worst_swr = {worst}
[[stock]]
kind = "rod"
material = "brass"
diameter = "3.2 mm"
length = "1000 mm"
quantity = 6
"""
ROD = """
name = "dipole"
[[rod]]
name = "dipole"
points = [[0, 0, "-0.5 m"], [0, 0, "0.5 m"]]
diameter = "3 mm"
[feed]
kind = "rod"
rod = "dipole"
distance = "0.5 m"
width = "5 mm"
"""


def run(*words: str | Path) -> Any:
    """The program inside this process; ``stdout`` and ``stderr`` apart."""
    return CliRunner().invoke(main, [str(word) for word in words])


def program(*words: str | Path, **options: Any) -> subprocess.CompletedProcess[str]:
    """The program as a process of its own."""
    environment = {**os.environ, "PYTHONPATH": SOURCE, **options.pop("env", {})}
    command = [sys.executable, "-m", "aerialwright.app.cli", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120, **options)


def project(folder: Path, *, worst: float = 3.5, first: str = "low band", second: str = "high band") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "need.toml").write_text(NEED.format(worst=worst, first=first, second=second), "utf-8")
    return folder


def one_line(result: Any, code: int, *named: str) -> str:
    """Standard error holds exactly one line that names the fault, standard output nothing."""
    status = result.returncode if isinstance(result, subprocess.CompletedProcess) else result.exit_code
    assert status == code, result.stderr
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, result.stderr
    assert lines[0].startswith("aerialwright: ") and "Traceback" not in result.stderr
    for word in named:
        assert word in lines[0]
    assert result.stdout == ""
    return lines[0]


def files_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Answered, Any]:
    """A project answered through Python, and again through the command line with ``--json`` into another folder."""
    folder = project(tmp_path_factory.mktemp("project"))
    result = answer_need(folder, count=1)
    printed = run("answer", folder, "--json", "--workers", "1", "--out", folder / "again")
    return folder, result, printed


# --- help ---


def every_command() -> list[str]:
    return sorted(main.commands)


def test_help_loads_nothing_heavy() -> None:
    """What makes a help slow are the numerical libraries: none of them may be loaded for it."""
    for words in (["--help"], ["answer", "--help"], ["--version"], ["completion", "bash"]):
        code = (
            "import sys\nfrom aerialwright.app.cli import main\n"
            f"try:\n    main({words!r})\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
            "heavy = {'numpy', 'scipy', 'numba', 'skrf', 'jinja2', 'pydantic', 'rich', 'tomlkit'} & set(sys.modules)\n"
            "sys.exit(f'loaded: {heavy}' if heavy else 0)\n"
        )
        environment = {**os.environ, "PYTHONPATH": SOURCE}
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, timeout=60)
        assert done.returncode == 0, done.stderr
        assert done.stdout


def test_every_command_has_a_help_that_says_something() -> None:
    top = run("--help").stdout
    assert {"new", "check", "answer", "solve", "families", "size", "completion"} <= set(every_command())
    for name in every_command():
        assert name in top
        done = run(name, "-h")
        assert done.exit_code == 0
        command = main.commands[name]
        assert command.help and len(command.help.split()) >= 6
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{name} {parameter.name}"
                assert parameter.opts[0] in done.stdout


def test_version() -> None:
    assert run("--version").stdout.strip().endswith(aerialwright.__version__)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts_complete(shell: str) -> None:
    script = run("completion", shell)
    assert script.exit_code == 0
    assert "_AERIALWRIGHT_COMPLETE" in script.stdout and "aerialwright" in script.stdout
    code = "from aerialwright.app.cli import main; main(prog_name='aerialwright')"
    asked = {"_AERIALWRIGHT_COMPLETE": f"{shell}_complete", "COMP_WORDS": "aerialwright ans", "COMP_CWORD": "ans" if shell == "fish" else "1"}
    environment = {**os.environ, "PYTHONPATH": SOURCE, **asked}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, timeout=60)
    assert "answer" in done.stdout and "families" not in done.stdout, done.stderr


# --- exit codes and faults ---


def test_exit_codes_are_the_documented_ones() -> None:
    assert [int(code) for code in Exit] == [0, 1, 2, 3, 130]


@pytest.mark.parametrize(
    "words",
    [("no-such-command",), ("answer",), ("answer", "x", "--workers", "0"), ("solve", "x"), ("completion", "csh"), ("size", "dipole"),
     ("solve", "x", "--from", "1 MHz", "--to", "2 MHz", "--points", "1"), ("answer", "x", "--nonsense")],
)  # fmt: skip
def test_a_wrong_command_line_is_two(words: tuple[str, ...]) -> None:
    done = run(*words)
    assert done.exit_code == 2
    assert "Usage:" in done.stderr and "Error:" in done.stderr and "Traceback" not in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("answer", "nowhere"), "nowhere"),
        (("check", "nowhere"), "nowhere"),
        (("solve", "nowhere.toml", "--from", "100 MHz", "--to", "200 MHz"), "nowhere.toml"),
        (("families", "wonder-whip"), "wonder-whip"),
        (("size", "wonder-whip", "144-146 MHz"), "wonder-whip"),
        (("size", "dipole", "144-146 parsec"), "parsec"),
        (("size", "dipole", "146-144 MHz"), "BAND"),
        (("size", "dipole", "144-146 MHz", "--diameter", "-3 mm"), "--diameter"),
        (("size", "dipole", "144-146 MHz", "--diameter", "3 GHz"), "--diameter"),
        (("size", "dipole", "144-146 MHz", "--coax", "0 ohm"), "--coax|impedance"),
        (("size", "dipole", "144-146 MHz", "--metal", "unobtainium"), "unobtainium"),
        (("size", "dipole", "144-146 MHz", "--socket", "XYZ"), "XYZ"),
        (("size", "dipole", "144-146 MHz", "--keep", "wingspan=1 m"), "wingspan"),
        (("size", "dipole", "144-146 MHz", "--keep", "gap"), "--keep"),
        (("size", "dipole", "144-146 MHz", "--keep", "gap=7 MHz"), "gap"),
        (("size", "dipole", "144-146 MHz", "--keep", "gap=7 km"), "gap"),
        (("new", "{taken}"), "not empty"),
        (("new", "{free}", "--like", "nowhere"), "nowhere"),
    ],
)
def test_what_a_person_can_mend_is_three_and_one_line(
    words: tuple[str, ...], named: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    project(tmp_path / "taken")
    done = run(*(word.format(taken=tmp_path / "taken", free=tmp_path / "free") for word in words))
    line = one_line(done, 3)
    assert any(word in line for word in named.split("|")), line
    assert not (tmp_path / "free").exists()


def test_a_real_process_ends_the_same_way(tmp_path: Path) -> None:
    one_line(program("answer", tmp_path / "missing"), 3, "missing")
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "need.toml").write_text("title = [", "utf-8")
    one_line(program("answer", broken), 3, "need.toml")
    one_line(program("size", "dipole", "144-146 bananas"), 3, "bananas")


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ('range = "144-146 MHz"', 'range = "146-144 MHz"', "range"),
        ('length = "10 m"', 'length = "10 GHz"', "length"),
        ('diameter = "3.2 mm"', 'diameter = "-3.2 mm"', "diameter"),
        ("worst_swr = 3.5", "worst_swr = nan", "worst_swr"),
        ('polarisation = "horizontal"', 'polarisation = "sideways"', "sideways"),
        ('kind = "all round"', 'kind = "all round', "need.toml"),
        ('type = "RG-58"', 'type = "RG-99999"', "RG-99999"),
    ],
)
def test_a_broken_need_is_named_by_check_and_answer(old: str, new: str, named: str, tmp_path: Path) -> None:
    folder = project(tmp_path)
    text = (folder / "need.toml").read_text("utf-8")
    assert old in text
    (folder / "need.toml").write_text(text.replace(old, new, 1), "utf-8")
    for command in ("check", "answer"):
        one_line(run(command, folder), 3, named)
    assert not (folder / "out").exists()


def test_nothing_serves_is_one_and_still_an_answer(tmp_path: Path) -> None:
    """SWR 1.01 over 2 MHz from a bare dipole cannot be had; the answer says so and is written."""
    folder = project(tmp_path, worst=1.01)
    done = run("answer", folder, "--workers", "1")
    assert done.exit_code == 1
    assert "1.01" in done.stdout
    assert (folder / "out" / "report.html").stat().st_size > 10_000
    data = json.loads((folder / "out" / "comparison.json").read_text("utf-8"))
    assert not any(p["serves"] for p in data["proposals"])
    assert all(p["why_not"] for p in data["proposals"])


@pytest.mark.parametrize("workers", ["1", "2"])
def test_an_interrupt_is_130_and_leaves_nothing(workers: str, tmp_path: Path) -> None:
    folder = tmp_path / "tarn"
    assert run("new", folder, "--like", ROOT / "examples" / "tarn-edge").exit_code == 0
    before = files_in(folder)
    # The real program, with a word said when the first antenna is begun, so that the interrupt falls into the work.
    code = (
        "import sys\nfrom aerialwright.app.cli import main\nimport aerialwright.design.choose as choice\n"
        "real = choice.run_task\n"
        "def run_task(task):\n    print('begun', file=sys.stderr, flush=True)\n    return real(task)\n"
        "choice.run_task = run_task\n"
        f"main({['answer', str(folder), '--workers', workers]!r})\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": SOURCE},
    ) as process:  # fmt: skip
        assert process.stderr is not None
        assert process.stderr.readline() == "begun\n"
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=120)
    assert process.returncode == 130, err
    said = [line for line in err.splitlines() if line != "begun"]
    assert said == ["aerialwright: stopped; nothing was written"]
    assert out == ""
    assert files_in(folder) == before


def test_cancelling_from_python_leaves_nothing(tmp_path: Path) -> None:
    folder = project(tmp_path)
    before = files_in(folder)

    def stop(fraction: float, text: str) -> None:
        if fraction > 0.3:
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        answer_need(folder, report=stop, count=1)
    assert files_in(folder) == before and not (folder / "out").exists()


# --- the answer ---


def test_the_printed_json_is_the_files_and_the_python_numbers(answered: tuple[Path, Answered, Any]) -> None:
    folder, result, printed = answered
    assert printed.exit_code == 0 and printed.stderr == ""
    from_cli = json.loads(printed.stdout)
    from_file = json.loads((folder / "again" / "comparison.json").read_text("utf-8"))
    assert from_cli == from_file
    from_python = comparison_data(result.comparison)
    first_file = json.loads((folder / "out" / "comparison.json").read_text("utf-8"))
    assert json.loads(json.dumps(from_python)) == first_file
    for data in (from_cli, from_python):
        data.pop("seconds")
    assert json.loads(json.dumps(from_python)) == from_cli, "the same need gives the same numbers"


def test_json_quotes_the_records(answered: tuple[Path, Answered, Any]) -> None:
    _, result, printed = answered
    data = json.loads(printed.stdout)
    assert len(data["proposals"]) == len(result.comparison.proposals)
    for told, p in zip(data["proposals"], result.comparison.proposals):
        assert (told["rank"], told["key"], told["serves"], told["verdict"]) == (p.rank, p.key, p.serves, p.verdict)
        for band, f in zip(told["bands"], p.bands):
            assert band["swr_worst"] == pytest.approx(f.swr_worst, rel=1e-6)
            assert band["realised_mean_dbi"] == pytest.approx(f.realised_mean, rel=1e-6)
        for member, m in zip(told["members"], p.members):
            e, a = m.evaluation, member["antenna"]
            assert a["sweep"]["resistance_ohm"] == pytest.approx(e.sweep.impedance.real, rel=1e-6)
            assert a["sweep"]["swr"] == pytest.approx(e.swr, rel=1e-6)
            for d in e.dimensions:
                assert a["dimensions"][d.key]["value"] == pytest.approx(d.value, rel=1e-6)


def test_every_file_is_there_and_whole(answered: tuple[Path, Answered, Any]) -> None:
    folder, result, _ = answered
    out = folder / "out"
    assert {"report.html", "answer.txt", "comparison.json"} <= set(files_in(out))
    assert sorted(str(path.relative_to(out)) for path in result.files) == files_in(out), "no more, no less, no rests"
    assert result.report == out / "report.html"
    assert (out / "answer.txt").read_text("utf-8") == result.text == render_answer_text(result.comparison)
    assert (out / "report.html").read_text("utf-8").rstrip().endswith("</html>")


def test_the_sweeps_are_those_of_the_antennas(answered: tuple[Path, Answered, Any]) -> None:
    folder, result, _ = answered
    members = [m for p in result.comparison.proposals for m in p.members]
    touchstones = sorted((folder / "out" / "sweeps").glob("*.s1p"))
    tables = sorted((folder / "out" / "sweeps").glob("*.csv"))
    assert len(touchstones) == len(tables) == len(members)
    found = [skrf.Network(str(path)).z[:, 0, 0] for path in touchstones]
    for m in members:
        z = m.evaluation.sweep.impedance
        assert any(len(z) == len(other) and np.allclose(z, other, rtol=1e-6) for other in found), m.evaluation.title


def test_labels_that_no_file_name_can_hold_keep_their_own_sweeps(tmp_path: Path) -> None:
    """Two bands whose labels differ only in letters outside ASCII: two antennas, two files."""
    folder = project(tmp_path, first="низ", second="верх"[:3])
    result = answer_need(folder, count=1)
    members = [m for p in result.comparison.proposals for m in p.members]
    assert any(len(p.members) == 2 for p in result.comparison.proposals)
    assert len(list((folder / "out" / "sweeps").glob("*.s1p"))) == len(members)
    assert len(set(result.files)) == len(result.files)


def test_a_fault_while_writing_leaves_the_old_file_or_the_new(
    answered: tuple[Path, Answered, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = project(tmp_path)
    out = folder / "out"
    out.mkdir()
    (out / "report.html").write_text("old report", "utf-8")
    (out / "comparison.json").write_text("old numbers", "utf-8")
    real: Callable[..., None] = os.replace
    count = 0

    def full(source: Any, target: Any) -> None:
        nonlocal count
        count += 1
        if count == 3:
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(ProjectError, match="No space left"):
        answer_need(folder, count=1)
    monkeypatch.undo()
    assert not [name for name in files_in(folder) if name.endswith(".part")]
    assert (out / "report.html").read_text("utf-8").rstrip().endswith("</html>")
    assert (out / "comparison.json").read_text("utf-8") == "old numbers"


def test_an_output_that_cannot_be_a_folder_is_named(tmp_path: Path) -> None:
    folder = project(tmp_path / "p")
    (tmp_path / "file").write_text("x", "utf-8")
    one_line(run("answer", folder, "--out", tmp_path / "file", "--workers", "1"), 3, "file")
    (folder / "out").mkdir()
    (folder / "out" / "sweeps").write_text("in the way", "utf-8")
    one_line(run("answer", folder, "--workers", "1"), 3, "out")


# --- the smaller commands ---


def test_new_then_check(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    made = run("new", folder)
    assert made.exit_code == 0 and "answer" in made.stdout
    done = run("check", folder)
    assert done.exit_code == 0 and "need:" in done.stdout
    for example in sorted((ROOT / "examples").iterdir()):
        assert run("check", example).exit_code == 0, example.name


def test_check_reads_the_designs(tmp_path: Path) -> None:
    folder = project(tmp_path)
    (folder / "designs").mkdir()
    (folder / "designs" / "good.toml").write_text(ROD, "utf-8")
    done = run("check", folder)
    assert done.exit_code == 0 and "good.toml: 1 rods, 0 surfaces" in done.stdout
    (folder / "designs" / "bad.toml").write_text(ROD.replace("3 mm", "0 mm"), "utf-8")
    done = run("check", folder)
    assert done.exit_code == 3 and "bad.toml" in done.stderr and "Traceback" not in done.stderr


def test_solve_prints_writes_and_agrees(tmp_path: Path) -> None:
    path = tmp_path / "rod.toml"
    path.write_text(ROD, "utf-8")
    common = ("solve", path, "--from", "140 MHz", "--to", "150 MHz", "--points", "11")
    done = run(*common, "--json", "--csv", tmp_path / "a.csv", "--touchstone", tmp_path / "a.s1p", "--reference", "75 ohm")
    assert done.exit_code == 0
    data = json.loads(done.stdout)
    network = skrf.Network(str(tmp_path / "a.s1p"))
    z = np.array(data["resistance_ohm"]) + 1j * np.array(data["reactance_ohm"])
    assert network.z[:, 0, 0] == pytest.approx(z, rel=1e-6) and network.z0[0, 0].real == 75.0
    assert network.s_vswr[:, 0, 0] == pytest.approx(data["swr"], rel=1e-6)
    assert data["frequency_hz"] == pytest.approx(np.linspace(140e6, 150e6, 11))
    rows = (tmp_path / "a.csv").read_text("utf-8").strip().splitlines()
    assert len(rows) == 12 and float(rows[1].split(",")[1]) == pytest.approx(z[0].real, abs=1e-4)
    text = run(*common).stdout
    assert "SWR refers to 50 ohm" in text and "self-checks" in text
    # A metre of rod at 145 MHz is a little over half a wave: 2.1 dBi (half-wave dipole 2.15 dBi, every handbook).
    assert data["directivity_dbi"] == pytest.approx(2.15, abs=0.1)


def test_solve_refuses_a_range_upside_down(tmp_path: Path) -> None:
    path = tmp_path / "rod.toml"
    path.write_text(ROD, "utf-8")
    one_line(run("solve", path, "--from", "150 MHz", "--to", "140 MHz"), 3, "--to")
    one_line(run("solve", path, "--from", "150 mm", "--to", "140 MHz"), 3, "--from")
    done = run("solve", path, "--from", "140 MHz", "--to", "150 MHz", "--points", "3", "--csv", tmp_path / "no" / "a.csv")
    one_line(done, 3, "a.csv")


def test_families_as_text_and_json() -> None:
    listed = run("families").stdout
    data = json.loads(run("families", "--json").stdout)
    assert len(data) >= 7
    for kind in data:
        assert kind["key"] in listed
        assert all(d["datum"] and d["label"] for d in kind["dimensions"])
    one = run("families", "discone").stdout
    assert "slant" in one and "edge of the neck plate" in one


def test_size_prints_what_it_solved() -> None:
    """Two arms of a dipole for 145 MHz: near 0.95 of a quarter wave each (common practice, no source)."""
    words = ("size", "dipole", "144-146 MHz", "--diameter", "3.2 mm", "--coax", "75 ohm")
    data = json.loads(run(*words, "--json").stdout)
    length = data["dimensions"]["total_length"]["value"]
    assert length == pytest.approx(0.95 * 299.792458 / 145 / 2, rel=0.03)
    assert max(data["sweep"]["swr"][i] for i, f in enumerate(data["sweep"]["frequency_hz"]) if 144e6 <= f <= 146e6) < 1.6
    text = run(*words).stdout
    assert f"{length * 1e3:.0f} mm" in text


def test_size_holds_what_it_is_told_to_keep() -> None:
    """A kept thickness is solved, not only printed: the thicker rod ends shorter (every handbook)."""
    lengths = []
    for thick in ("2 mm", "30 mm"):
        done = run("size", "dipole", "144-146 MHz", "--keep", f"arm_diameter={thick}", "--json")
        assert done.exit_code == 0
        data = json.loads(done.stdout)
        assert data["dimensions"]["arm_diameter"]["value"] == pytest.approx(float(thick.split()[0]) * 1e-3)
        lengths.append(data["dimensions"]["total_length"]["value"])
    assert lengths[1] < lengths[0] - 10e-3
    held = json.loads(run("size", "ground-plane", "144-146 MHz", "--keep", "radial_droop=30 deg", "--json").stdout)
    assert held["dimensions"]["radial_droop"]["value"] == 30.0


def test_the_records_of_one_antenna_are_plain(answered: tuple[Path, Answered, Any]) -> None:
    e = answered[1].comparison.proposals[0].members[0].evaluation
    text = json.dumps(evaluation_data(e), allow_nan=False)
    assert json.loads(text)["parts"] == e.parts
    write_text_atomic(answered[0] / "one.json", text)
