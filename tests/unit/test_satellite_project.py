"""A satellite in a project: need file, copied examples, the list of passes, the answer. All of it is invented."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from command_line import ROOT
from small_sky import KVN, LINES, XML, sky_need

from aerialwright.air.reception import decoding, heavens, scorer
from aerialwright.app.cli import main
from aerialwright.app.workflow import comparison_data
from aerialwright.base.errors import ProjectError
from aerialwright.design.choose import choose
from aerialwright.project.folder import create_project
from aerialwright.project.needs import parse_need, read_need, write_need
from aerialwright.report.answer import render_answer_text
from aerialwright.report.html import render_report

QUILLFEN = ROOT / "examples" / "quillfen"
NEED = (QUILLFEN / "need.toml").read_text("utf-8")
FILE = 'elements_file = "finchling-1.tle"'


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return create_project(tmp_path / "club", from_example=QUILLFEN)


def test_a_copied_example_is_whole(project: Path) -> None:
    need = read_need(project)
    assert need == read_need(QUILLFEN)
    assert need.satellite is not None
    assert [site.title for site in need.sites] == ["the roof", "the playing field"]
    assert need.site.horizon[0] == (0.0, 12.0)


@pytest.mark.parametrize("pasted", [False, True])
def test_written_and_read_again(project: Path, tmp_path: Path, pasted: bool) -> None:
    if pasted:
        text = NEED.replace(FILE, f'elements = """\n{LINES}"""')
        (project / "need.toml").write_text(text, encoding="utf-8")
    need = read_need(project)
    write_need(project, need)
    assert read_need(project) == need
    fresh = tmp_path / "fresh"
    fresh.mkdir()
    (fresh / "finchling-1.tle").write_text((QUILLFEN / "finchling-1.tle").read_text("utf-8"), encoding="utf-8")
    write_need(fresh, need)
    assert read_need(fresh) == need


@pytest.mark.parametrize(
    ("old", "new", "where", "message"),
    [
        (FILE, 'elements_file = "gone.tle"', "gone.tle", "does not exist"),
        (FILE, 'elements_file = "../need.toml"', "satellite.elements_file", "is no plain file name"),
        (FILE, 'elements_file = "need.toml"', "need.toml", "is no line of elements"),
        (FILE, "", "satellite", "has no elements"),
        (FILE, f'{FILE}\nelements = "x"', "satellite", "has both"),
        (
            FILE,
            'elements = """\n' + LINES.replace("9995\n", "9994\n") + '"""',
            "satellite.elements, line 2, column 69",
            "checksum",
        ),
        ("first_day = 2026-11-02", 'first_day = "tomorrow"', "satellite.first_day", "where a day is expected"),
        ('modulation = "AFSK 1200"', 'modulation = "AFSK 12"', "satellite.modulation", "not a known modulation"),
        ('["0 deg", "12 deg"]', '["0 deg"]', "site.horizon 1", "too few entries"),
        ('latitude = "52.2 deg"', "latitude = 52.2", "site.latitude", "has no unit"),
        ('name = "the playing field"', 'name = "the roof"', "site", "two sites are called"),
    ],
)
def test_mistakes(project: Path, old: str, new: str, where: str, message: str) -> None:
    assert old in NEED
    (project / "need.toml").write_text(NEED.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ProjectError) as caught:
        read_need(project)
    assert where in caught.value.where
    assert message in caught.value.what


def test_pasted_elements_may_be_an_omm() -> None:
    for text in (KVN, XML):
        need = parse_need(NEED.replace(FILE, f"elements = '''\n{text}'''"))
        assert need.satellite is not None


def test_passes_are_listed(project: Path) -> None:
    """The same passes in words and as data, those of a hill at one site shorter."""
    run = CliRunner()
    text = run.invoke(main, ["passes", str(project), "--days", "2"])
    assert text.exit_code == 0, text.output
    assert "the roof: 12 passes" in text.output
    assert "elements of" in " ".join(text.output.split())
    data = json.loads(run.invoke(main, ["passes", str(project), "--days", "2", "--json"]).output)
    roof, field = data["sites"]
    assert len(roof["passes"]) == 12
    assert sum(one["visible_s"] for one in roof["passes"]) < sum(one["visible_s"] for one in field["passes"])
    for one in field["passes"]:
        assert one["rise"] < one["culmination"] < one["set"]
        assert one["doppler_hz"][0] > 0.0 > one["doppler_hz"][1]
        assert abs(one["doppler_hz"][0]) < 3700.0, "7.6 km/s at 145.84 MHz"


def test_a_need_without_satellite_has_no_passes(tmp_path: Path) -> None:
    create_project(tmp_path / "plain")
    found = CliRunner().invoke(main, ["passes", str(tmp_path / "plain")])
    assert found.exit_code == 3
    assert "has no satellite" in found.stderr


def test_the_answer_tells_the_minutes() -> None:
    """Text, page and data say the same: antennas times sites, the site in the headline, no number missing."""
    need = sky_need()
    seen = heavens(need, days=3.0)
    assert seen is not None
    comparison = choose(need, curves=False, score=scorer(need, seen))
    found = decoding(need, seen, comparison.proposals)
    assert found is not None
    text = " ".join(render_answer_text(comparison, found).split())
    assert "and put it at the field" in text
    assert "WILL IT DECODE?" in text
    page = render_report(comparison, found)
    assert 'id="decode"' in page
    assert page.count("<svg") > render_report(comparison).count("<svg")
    data = comparison_data(comparison, found)["decoding"]
    assert len(data["receptions"]) == 2 * len(comparison.proposals)
    for row in data["receptions"]:
        assert f"{row['minutes_per_day']:.1f}" in text
        assert row["minutes_per_day_3_db_less"] <= row["minutes_per_day"] <= row["minutes_per_day_3_db_more"]
    assert comparison_data(comparison)["decoding"] is None
    assert "Will it decode?" not in render_report(comparison)
