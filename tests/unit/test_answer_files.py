"""What an answer leaves behind: files that agree with the printed JSON and with Python, whole or not at all."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skrf
from command_line import files_in, one_line, project, run

from aerialwright.app.workflow import Answered, answer_need, comparison_data, evaluation_data
from aerialwright.base.errors import Cancelled, ProjectError
from aerialwright.report.answer import render_answer_text


@pytest.fixture(scope="module")
def answered(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Answered, Any]:
    """A project answered through Python, and again through the command line with ``--json`` into another folder."""
    folder = project(tmp_path_factory.mktemp("project"))
    result = answer_need(folder, count=1)
    printed = run("answer", folder, "--json", "--workers", "1", "--out", folder / "again")
    return folder, result, printed


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


def test_cancelling_from_python_leaves_nothing(tmp_path: Path) -> None:
    folder = project(tmp_path)
    before = files_in(folder)

    def stop(fraction: float, text: str) -> None:
        if fraction > 0.3:
            raise Cancelled("stopped")

    with pytest.raises(Cancelled):
        answer_need(folder, report=stop, count=1)
    assert files_in(folder) == before and not (folder / "out").exists()


def test_the_records_of_one_antenna_are_plain(answered: tuple[Path, Answered, Any]) -> None:
    e = answered[1].comparison.proposals[0].members[0].evaluation
    text = json.dumps(evaluation_data(e), allow_nan=False)
    assert json.loads(text)["parts"] == e.parts
