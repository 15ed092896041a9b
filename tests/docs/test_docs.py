"""The documentation against the program: what it shows is what happens."""

from __future__ import annotations

import importlib.util
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import click
import numpy as np
import pytest

from aerialwright.app.cli import main
from aerialwright.base.errors import ProjectError
from aerialwright.engine.geometry import build_geometry
from aerialwright.engine.overlap import check_overlap
from aerialwright.project.needs import parse_need
from aerialwright.project.structures import read_structure
from aerialwright.solution.solve import solve

ROOT = Path(__file__).resolve().parents[2]
STARTER = ROOT / "src" / "aerialwright" / "project" / "starter.toml"


def load(path: Path) -> ModuleType:
    """A script of the documentation as a module."""
    spec = importlib.util.spec_from_file_location(f"docs_{path.stem}", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


generate = load(ROOT / "docs" / "generate.py")
PAGES = [ROOT / name for name in (*generate.PAGES, "CHANGELOG.md", "CONTRIBUTING.md")]
PAGES += sorted((ROOT / "docs" / "decisions").glob("*.md"))
RUN = [
    name
    for name in generate.PAGES
    if name not in generate.MADE and re.search(r"(?m)^```(?:bash|python)\b", (ROOT / name).read_text("utf-8"))
]
DESIGNS = sorted(ROOT.glob("examples/*/designs/*.toml"))


def prose(text: str) -> str:
    """A page without its fenced and indented blocks and without code in the line."""
    text = generate.FENCE.sub("", text)
    text = re.sub(r"(?m)^    .*$", "", text)
    return re.sub(r"`[^`\n]*`", "`code`", text)


def anchors(path: Path) -> set[str]:
    """The headings of a page as they are addressed."""
    found = re.findall(r"(?m)^#+ +(.+?)\s*$", generate.FENCE.sub("", path.read_text("utf-8")))
    return {re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-") for heading in found}


# ---- blocks


@pytest.mark.parametrize("name", RUN)
def test_blocks_print_what_is_shown(name: str, tmp_path: Path) -> None:
    """Commands and Python of a page, run in order in a copy of the examples; output as shown, numbers within 5 %."""
    page = (ROOT / name).read_text("utf-8")
    wrong = []
    for block, text in generate.outputs(page, generate.workplace(tmp_path)):
        wrong += generate.differences(block.text, text, slack=10.0, relative=0.05)
    assert not wrong, f"run `python docs/generate.py {name}`:\n" + "\n".join(wrong)


def test_there_are_blocks_to_run() -> None:
    """The search itself."""
    assert {"README.md", "docs/structures.md", "docs/commands.md"} <= set(RUN)
    assert (
        sum(block.info[:1] == ("bash",) for name in RUN for block in generate.blocks((ROOT / name).read_text("utf-8")))
        >= 15
    )


def test_toml_blocks_are_toml() -> None:
    """Every TOML block parses."""
    for path in PAGES:
        for block in generate.blocks(path.read_text("utf-8")):
            if block.info[:1] == ("toml",):
                assert tomllib.loads(block.text), path


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_example_structures_solve(path: Path) -> None:
    """Each reads, does not overlap, keeps its power balance and states an error under 5 %."""
    structure = read_structure(path)
    check_overlap(build_geometry(structure))
    low = 144e6 if "quillfen" in path.parts else 156e6
    sweep = solve(structure, np.linspace(low, low + 4e6, 3)).sweep
    assert np.all(sweep.impedance.real > 10)
    assert sweep.check.power_balance < 0.002
    assert np.all(sweep.impedance_error < 0.05 * np.abs(sweep.impedance))


# ---- in step


@pytest.mark.parametrize("name", list(generate.MADE))
def test_made_pages_are_in_step(name: str) -> None:
    """What the program would write now, within the rounding of what is printed."""
    wrong = generate.differences((ROOT / name).read_text("utf-8"), generate.made(name))
    assert not wrong, "run `python docs/generate.py`:\n" + "\n".join(wrong)


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("R 22.2 ohm", "R 22.3 ohm", True),
        ("R 22.2 ohm", "R 22.5 ohm", False),
        ("1.05 f", "1.06 f", True),
        ("76.6 + j5.4 ohm", "76.6 + j5.5 ohm", True),
        ("76.6 + j5.4 ohm", "76.6 + j5.8 ohm", False),
        ("76.6 + j5.4 ohm", "76.6 - j5.4 ohm", False),
        ("1.05 f", "1.10 f", False),
        ("a b", "a c", False),
        ("5 of 5", "4 of 5", True),  # a whole number's last digit is one
        ("a\nb", "a", False),
        ("858 mm  33 25/32 in", "858 mm  33 3/4 in", True),
    ],
)
def test_the_comparison_itself(old: str, new: str, same: bool) -> None:
    """Rounding passes, more does not."""
    assert (not generate.differences(old, new)) is same


def test_stated_errors_hold_in_the_table() -> None:
    """The last column of the finite-element table: all of its frequencies, since whole numbers pass as rounding above."""
    rows = re.findall(r"(?m)\| (\d+) of (\d+) \|$", (ROOT / "docs" / "checks.md").read_text("utf-8"))
    assert len(rows) == 10
    assert all(held == of for held, of in rows)


def test_families_page_names_every_dimension() -> None:
    """Keys and datums of all families."""
    from aerialwright.antennas.catalogue import families

    page = (ROOT / "docs" / "families.md").read_text("utf-8")
    for family in families():
        assert f"\n## {family.key}\n" in page
        for parameter in family.parameters:
            assert f"| `{parameter.key}` | {parameter.label} | {parameter.datum} |" in page


# ---- whole


def commands() -> Iterator[tuple[str, click.Command]]:
    """Every command of the program."""
    assert isinstance(main, click.Group)
    yield from main.commands.items()


@pytest.mark.parametrize(
    ("name", "command"), list(commands()), ids=lambda value: value if isinstance(value, str) else ""
)
def test_every_command_and_option_is_documented(name: str, command: click.Command) -> None:
    """A section of docs/commands.md with the call and every option."""
    page = (ROOT / "docs" / "commands.md").read_text("utf-8")
    match = re.search(rf"(?ms)^## {name}$(.*?)(?=^## |\Z)", page)
    assert match is not None, f"docs/commands.md has no section '{name}'"
    assert f"`aerialwright {name}" in match[1]
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert any(spelling in match[1] for spelling in parameter.opts), (
                f"{name}: {parameter.opts} is not documented"
            )
        elif isinstance(parameter.type, click.Choice):
            assert all(choice in match[1] for choice in parameter.type.choices)


def test_exit_codes_are_documented() -> None:
    """All of them, and no other."""
    from aerialwright.app.exits import Exit

    page = (ROOT / "docs" / "commands.md").read_text("utf-8")
    assert {int(code) for code in re.findall(r"(?m)^\| (\d+) \| ", page)} == {int(code) for code in Exit}


def test_every_key_of_the_need_is_documented() -> None:
    """Keys of all tables as the reader knows them, words of all choices."""
    from aerialwright.need import check
    from aerialwright.project import needs
    from aerialwright.stock.tables import load_table

    page = (ROOT / "docs" / "need.md").read_text("utf-8")
    tables = {
        "": needs._NeedFile, "band": needs._Band, "far_end": needs._FarEnd, "feed_line": needs._FeedLine, "receiver": needs._Receiver,
        "site": needs._Site, "limits": needs._Limits, "transmit": needs._Transmit, "stock": needs._Stock, "owned": needs._Owned,
        "cover": needs._Cover, "satellite": needs._Satellite,
    }  # fmt: skip
    for table, model in tables.items():
        for key in model.model_fields:
            spelled = (f"`{key}`", f"`{table}.{key}`", f"[{table}] {key}`", f"[{key}]", f"[owned.{key}]")
            assert any(word in page for word in spelled), f"{table}.{key} is not in docs/need.md"
    choices = (
        *check.IMPORTANCES,
        *check.FAR_END_KINDS,
        *check.POLARISATIONS,
        *check.NOISE_CLASSES,
        *check.SATELLITE_ANTENNAS,
        *load_table("grounds"),
        *load_table("cables"),
        *load_table("connectors"),
    )
    assert not [word for word in choices if f'"{word}"' not in page]
    assert not [tool for tool in check.TOOLS if tool not in " ".join(page.split())]
    assert not [kind for kind in check.STOCK_FIELDS if f"`{kind}`" not in page]


def refusals() -> list[tuple[str, str, str]]:
    """Rows of the table of mistakes in docs/need.md."""
    page = (ROOT / "docs" / "need.md").read_text("utf-8")
    return re.findall(r"(?m)^\| `(.+?)` \| `(.+?)` \| `(.+?)` \|$", page[page.index("## What is refused") :])


@pytest.mark.parametrize(("old", "new", "message"), refusals(), ids=lambda text: text[:30])
def test_mistakes_are_answered_as_documented(old: str, new: str, message: str) -> None:
    """Each mistake made in the starter need."""
    text = STARTER.read_text("utf-8")
    assert old in text
    with pytest.raises(ProjectError) as caught:
        parse_need(text.replace(old, new, 1))
    assert message in caught.value.one_line()


def test_the_table_of_mistakes_was_found() -> None:
    """The search itself."""
    assert len(refusals()) >= 10


def test_links_lead_somewhere() -> None:
    """Files, pictures and headings that pages point to."""
    count, wrong = 0, []
    for path in PAGES:
        for target in re.findall(r"\]\(([^)\s]+)\)", prose(path.read_text("utf-8"))):
            if re.match(r"https?:", target):
                continue
            count += 1
            name, _, anchor = target.partition("#")
            file = (path.parent / name).resolve() if name else path
            if not file.exists():
                wrong.append(f"{path.relative_to(ROOT)}: {target}")
            elif anchor and anchor not in anchors(file):
                wrong.append(f"{path.relative_to(ROOT)}: {target}: no such heading")
    assert count > 40
    assert not wrong, "\n".join(wrong)


def test_decisions_are_listed_and_complete() -> None:
    """Every record stands in the list and has its four parts."""
    folder = ROOT / "docs" / "decisions"
    page = (folder / "README.md").read_text("utf-8")
    for path in folder.glob("0*.md"):
        text = path.read_text("utf-8")
        assert f"[{path.name[:4]}]({path.name})" in page
        assert text.startswith(f"# {path.name[:4]}: ")
        for part in ("Context", "Choice", "Measured reason", "What would change it"):
            assert f"**{part}.**" in text, f"{path.name}: no '{part}'"


def test_figures_are_whole() -> None:
    """Every picture is used, is well-formed, has a title and needs nothing from outside."""
    import xml.etree.ElementTree as tree

    used = "\n".join(path.read_text("utf-8") for path in PAGES)
    for path in (ROOT / "docs" / "figures").glob("*.svg"):
        assert f"figures/{path.name})" in used, f"{path.name} is shown nowhere"
        root = tree.parse(path).getroot()
        assert root.find(".//{http://www.w3.org/2000/svg}title") is not None
        assert not re.search(r"href=|url\((?!#)|var\(", path.read_text("utf-8"))
