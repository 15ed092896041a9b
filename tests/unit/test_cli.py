"""The command line: help that costs nothing, one line for every fault, exit codes a script can use."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import click
import numpy as np
import pytest
import skrf
from command_line import ROD, ROOT, SOURCE, files_in, one_line, program, project, run

import aerialwright
from aerialwright.app.cli import main
from aerialwright.app.exits import Exit

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
    asked = {
        "_AERIALWRIGHT_COMPLETE": f"{shell}_complete",
        "COMP_WORDS": "aerialwright ans",
        "COMP_CWORD": "ans" if shell == "fish" else "1",
    }
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
        "import os\nfrom aerialwright.app.cli import main\nimport aerialwright.design.choose as choice\n"
        "real = choice.run_task\n"
        "def run_task(task):\n    os.write(2, b'begun\\n')\n    return real(task)\n"
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
    assert said == ["aerialwright: stopped"]
    assert out == ""
    assert files_in(folder) == before


# --- the smaller commands ---


def test_new_then_check(tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    made = run("new", folder)
    assert made.exit_code == 0 and "answer" in made.stdout
    done = run("check", folder)
    assert done.exit_code == 0 and "1 band, 1 kind of stock" in done.stdout
    for example in sorted(path.parent for path in (ROOT / "examples").glob("*/need.toml")):
        assert run("check", example).exit_code == 0, example.name


def test_check_reads_the_designs(tmp_path: Path) -> None:
    folder = project(tmp_path)
    (folder / "designs").mkdir()
    (folder / "designs" / "good.toml").write_text(ROD, "utf-8")
    done = run("check", folder)
    assert done.exit_code == 0 and "good.toml: 1 rod, 0 surfaces" in done.stdout
    (folder / "designs" / "bad.toml").write_text(ROD.replace("3 mm", "0 mm"), "utf-8")
    done = run("check", folder)
    assert done.exit_code == 3 and "bad.toml" in done.stderr and "Traceback" not in done.stderr


def test_solve_prints_writes_and_agrees(tmp_path: Path) -> None:
    path = tmp_path / "rod.toml"
    path.write_text(ROD, "utf-8")
    common = ("solve", path, "--from", "140 MHz", "--to", "150 MHz", "--points", "11")
    done = run(
        *common, "--json", "--csv", tmp_path / "a.csv", "--touchstone", tmp_path / "a.s1p", "--reference", "75 ohm"
    )
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


def test_solve_over_real_ground_says_where_the_power_goes(tmp_path: Path) -> None:
    path = tmp_path / "rod.toml"
    wire = "points = [['-0.47 m', 0, '0.5 m'], ['0.47 m', 0, '0.5 m']]\ndiameter = '3 mm'\nmetal = 'steel'\n"
    feed = "[feed]\nkind = 'rod'\nrod = 'r'\ndistance = '0.47 m'\nwidth = '6 mm'\n"
    path.write_text(f"name = 'level'\nground = 'wet ground'\n[[rod]]\nname = 'r'\n{wire}{feed}", "utf-8")
    common = ("solve", path, "--from", "145 MHz", "--to", "146 MHz", "--points", "2")
    data = json.loads(run(*common, "--json").stdout)
    assert (
        data["power_balance"] < 1e-3 and data["into_ground"] > 0.1 and data["efficiency"] < 0.95 - data["into_ground"]
    )
    shown = re.search(
        r"power ([\d.]+) % goes into the air, ([\d.]+) % into the wet ground, ([\d.]+) % into", run(*common).stdout
    )
    assert shown is not None and sum(map(float, shown.groups())) == pytest.approx(100.0, abs=0.16)
    assert float(shown[2]) == pytest.approx(100 * data["into_ground"], abs=0.06)
    path.write_text(path.read_text("utf-8").replace("0.5 m", "15 mm"), "utf-8")
    one_line(run(*common), 3, "lower than 0.01 wavelengths")


def test_solve_refuses_a_range_upside_down(tmp_path: Path) -> None:
    path = tmp_path / "rod.toml"
    path.write_text(ROD, "utf-8")
    one_line(run("solve", path, "--from", "150 MHz", "--to", "140 MHz"), 3, "--to")
    one_line(run("solve", path, "--from", "150 mm", "--to", "140 MHz"), 3, "--from")
    done = run(
        "solve", path, "--from", "140 MHz", "--to", "150 MHz", "--points", "3", "--csv", tmp_path / "no" / "a.csv"
    )
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
    assert (
        max(data["sweep"]["swr"][i] for i, f in enumerate(data["sweep"]["frequency_hz"]) if 144e6 <= f <= 146e6) < 1.6
    )
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
