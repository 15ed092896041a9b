"""Writing a project: a need over a person's file, folders made whole, locks, files never half written."""

from __future__ import annotations

import dataclasses
import os
import re
import threading
from pathlib import Path

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from aerialwright.base.atomic import write_bytes_atomic, write_text_atomic
from aerialwright.base.errors import NeedError, ProjectError
from aerialwright.need.model import Band, FeedLine, Need, OwnedAntenna, StockItem
from aerialwright.project.folder import create_project, output_folder, project_folder, project_lock
from aerialwright.project.need_document import need_document
from aerialwright.project.needs import parse_need, read_need, write_need

EXAMPLES = ("tarn-edge", "marrow-head", "quillfen")
SMALL = """title = "t"
[[band]]
label = "a"
range = "118-137 MHz"

[[feed_line]]
type = "RG-58"
length = "10 m"

"""


@pytest.mark.parametrize("name", EXAMPLES)
def test_rewriting_an_unchanged_need_changes_no_byte(tmp_path: Path, repository_root: Path, name: str) -> None:
    source = repository_root / "examples" / name / "need.toml"
    path = create_project(tmp_path / "copy", from_example=source.parent) / "need.toml"
    write_need(path, read_need(path))
    assert path.read_bytes() == source.read_bytes()


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_fresh_file_reads_back_the_same(tmp_path: Path, repository_root: Path, name: str) -> None:
    need = dataclasses.replace(read_need(repository_root / "examples" / name), owned=())
    assert read_need(write_need(tmp_path / "new.toml", need)) == need


def edits(need: Need) -> list[Need]:
    first = need.bands[0]
    return [
        dataclasses.replace(need, title="another"),
        dataclasses.replace(need, bands=(dataclasses.replace(first, high=137.0e6), *need.bands[1:])),
        dataclasses.replace(need, bands=(need.bands[0], *need.bands[2:])),
        dataclasses.replace(need, bands=(*need.bands, Band("more", 430e6, 440e6, "wish"))),
        dataclasses.replace(need, stock=need.stock[1:]),
        dataclasses.replace(need, stock=()),
        dataclasses.replace(need, stock=(*need.stock, StockItem("wire", "copper", diameter=0.002053, length=100.0))),
        dataclasses.replace(need, stock=tuple(reversed(need.stock))),
        dataclasses.replace(need, feed_lines=(FeedLine("other", 12.3, 60.0, 2.5, 145e6),)),
        dataclasses.replace(
            need, feed_lines=(dataclasses.replace(need.feed_lines[0], loss=2.5, loss_frequency=145e6),)
        ),
        dataclasses.replace(need, limits=dataclasses.replace(need.limits, most_parts=12, tools=())),
        dataclasses.replace(need, site=dataclasses.replace(need.site, height=12.345678901234567)),
        dataclasses.replace(need, far_end=dataclasses.replace(need.far_end, kind="sector", azimuth=90.0, width=120.0)),
        dataclasses.replace(need, transmit_power=1.0, transmit_band=first.label),
        dataclasses.replace(need, connectors=("BNC",), polarisation="any", question="why?"),
    ]


@pytest.mark.parametrize("number", range(15))
def test_a_change_is_written_and_a_persons_comments_stay(tmp_path: Path, repository_root: Path, number: int) -> None:
    source = (repository_root / "examples" / "tarn-edge" / "need.toml").read_text(encoding="utf-8")
    path = tmp_path / "need.toml"
    path.write_text(source, encoding="utf-8")
    changed = edits(read_need(path))[number]
    kinds = {key: "length" for antenna in changed.owned for key in antenna.dimensions}
    write_need(path, changed, dimension_kinds=kinds)
    assert read_need(path) == changed
    text = path.read_text(encoding="utf-8")
    assert "# Airfield and lake-rescue listening post." in text
    comments = re.findall(r"# .*", source)
    kept = sum(comment in text for comment in comments)
    assert kept >= len(comments) - 4, f"{kept} of {len(comments)} comments survive"


LABELS = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12)
FREQUENCIES = st.floats(1e6, 1e10)
LENGTHS = st.floats(1e-3, 0.9)


def upto(high: float, low: float = 0.0) -> st.SearchStrategy[float]:
    """Numbers with nine decimals: nothing smaller is a height, a loss or an angle."""
    return st.floats(low, high).map(lambda value: round(value, 9) + 0.0)


@st.composite
def needs(draw: st.DrawFn) -> Need:
    names = draw(st.lists(LABELS, min_size=1, max_size=4, unique_by=str.lower))
    ends = [sorted(draw(st.lists(FREQUENCIES, min_size=2, max_size=2, unique=True))) for _ in names]
    bands = tuple(Band(name, low, high, "must") for name, (low, high) in zip(names, ends))
    stock = tuple(
        StockItem("rod", "brass", label, draw(st.integers(1, 99)), diameter=draw(LENGTHS), length=draw(st.floats(1, 9)))
        for label in draw(st.lists(LABELS, max_size=4))
    )
    lines = tuple(
        FeedLine(kind, draw(upto(100.0)), draw(st.floats(10, 1000)), draw(upto(9.0)), draw(FREQUENCIES))
        for kind in draw(st.lists(st.sampled_from(["RG-58", "RG-6", "other"]), min_size=1, max_size=3))
    )
    base = parse_need(SMALL)
    return dataclasses.replace(
        base,
        title=draw(LABELS),
        question=draw(st.sampled_from(["", "why?", 'a "quoted" \\ word', "two\nlines"])),
        bands=bands,
        stock=stock,
        feed_lines=lines,
        transmit_power=draw(st.sampled_from([0.0, 0.3])),
        far_end=dataclasses.replace(base.far_end, lowest_elevation=draw(upto(5.0, -10.0))),
        site=dataclasses.replace(base.site, height=draw(upto(9000.0)), description=draw(LABELS)),
        polarisation=draw(st.sampled_from(["vertical", "any"])),
    )


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(needs(), needs())
def test_any_need_over_any_other_reads_back_exactly(tmp_path: Path, first: Need, second: Need) -> None:
    first, second = (
        dataclasses.replace(need, transmit_band=need.bands[0].label if need.transmit_power else "")
        for need in (first, second)
    )
    path = tmp_path / "need.toml"
    path.unlink(missing_ok=True)
    for need in (first, second, first):
        write_need(path, need)
        assert read_need(path) == need


def test_owned_antennas_are_written_with_their_kinds(tmp_path: Path) -> None:
    need = dataclasses.replace(
        parse_need(SMALL), owned=(OwnedAntenna("x", "discone", {"slant": 0.6096, "angle": 60.0, "spokes": 8.0}),)
    )
    kinds = {"slant": "length", "angle": "angle", "spokes": "count"}
    path = write_need(tmp_path / "need.toml", need, dimension_kinds=kinds)
    assert read_need(path) == need
    assert "spokes = 8\n" in path.read_text()
    with pytest.raises(ProjectError, match=r"x\.slant: its kind"):
        write_need(tmp_path / "other.toml", need)
    moved = dataclasses.replace(
        need, owned=(OwnedAntenna("x", "discone", {"slant": 0.6, "angle": 60.0, "spokes": 8.0}),)
    )
    write_need(path, moved)  # the kinds are known from the file
    assert read_need(path) == moved


def test_an_unsound_need_is_never_written(tmp_path: Path) -> None:
    need = dataclasses.replace(parse_need(SMALL), polarisation="sideways")
    with pytest.raises(NeedError):
        write_need(tmp_path / "need.toml", need)
    assert not list(tmp_path.iterdir())


def test_a_broken_file_is_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "need.toml"
    for text in ("half a ", SMALL + "owned = [1]\n", SMALL + "[[owned]]\ndimensions = 3\n"):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(ProjectError):
            write_need(path, parse_need(SMALL))
        assert path.read_text(encoding="utf-8") == text


def test_the_document_is_plain_toml_data() -> None:
    assert parse_need(tomlkit.dumps(need_document(parse_need(SMALL)))) == parse_need(SMALL)


def test_a_new_project_is_complete_and_reads(tmp_path: Path) -> None:
    folder = create_project(tmp_path / "deep" / "mine")
    assert sorted(entry.name for entry in folder.iterdir()) == ["designs", "need.toml", "out", "sweeps"]
    assert read_need(folder).bands
    assert project_folder(folder / "need.toml") == project_folder(folder) == folder
    assert output_folder(folder).is_dir()
    with pytest.raises(ProjectError, match="not empty"):
        create_project(folder)


def test_a_project_from_an_example(tmp_path: Path, repository_root: Path) -> None:
    example = repository_root / "examples" / "marrow-head"
    (tmp_path / "copy").mkdir()
    folder = create_project(tmp_path / "copy", from_example=example)
    assert read_need(folder) == read_need(example)
    assert (folder / "designs" / "pole-beside.toml").is_file()
    with pytest.raises(ProjectError, match="does not exist"):
        create_project(tmp_path / "other", from_example=tmp_path / "none")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["copy"]


def test_what_is_no_project_is_told(tmp_path: Path) -> None:
    with pytest.raises(ProjectError, match=r"no need\.toml"):
        project_folder(tmp_path)
    with pytest.raises(ProjectError, match="not a project folder"):
        project_folder(tmp_path / "none")
    with pytest.raises(ProjectError):
        project_folder("a\x00b")
    (tmp_path / "file").write_text("")
    for bad in (tmp_path / "file", tmp_path / "file" / "below", tmp_path / "a\x00b"):
        with pytest.raises(ProjectError):
            create_project(bad)


def test_only_one_holds_the_project(tmp_path: Path) -> None:
    folder = create_project(tmp_path / "mine")
    outcome: list[str] = []

    def second() -> None:
        try:
            with project_lock(folder, timeout=0.1):
                outcome.append("got in")
        except ProjectError as error:
            outcome.append(error.what)

    with project_lock(folder) as held:
        assert held == folder
        thread = threading.Thread(target=second)
        thread.start()
        thread.join()
    second()
    assert outcome == ["another program is writing to this project", "got in"]


def test_atomic_write_leaves_old_or_new_and_no_rubbish(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.txt"
    write_text_atomic(path, "old")
    path.chmod(0o640)

    def failing(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "replace", failing)
        with pytest.raises(ProjectError, match="No space left on device"):
            write_text_atomic(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
    write_bytes_atomic(path, b"new\r\n")
    assert path.read_bytes() == b"new\r\n"
    assert path.stat().st_mode & 0o777 == 0o640


def test_atomic_write_follows_links_and_refuses_what_it_cannot(tmp_path: Path) -> None:
    real, link = tmp_path / "real.txt", tmp_path / "link.txt"
    real.write_text("old")
    link.symlink_to(real)
    write_text_atomic(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    for bad in (tmp_path, tmp_path / "none" / "a.txt", tmp_path / "a\x00b", tmp_path / ("x" * 300)):
        with pytest.raises(ProjectError) as caught:
            write_text_atomic(bad, "x")
        assert caught.value.mend
    with pytest.raises(ProjectError, match="character pair"):
        write_text_atomic(real, "\ud800")
