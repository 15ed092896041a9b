"""The report: self-contained, safe with hostile text, complete, quick. All records are invented."""

from __future__ import annotations

import dataclasses
import re
import sys
import time
from html.parser import HTMLParser
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import report_fixtures as fixtures

from aerialwright.design.records import Comparison
from aerialwright.report import wording
from aerialwright.report.answer import render_answer_text
from aerialwright.report.html import render_report

VOID = {"meta", "link", "br", "img", "hr", "input"}
HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&{{ 7*7 }}\x1b[31m"


class Page(HTMLParser):
    """Checks nesting and collects tags, identities, targets and visible words."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open[-1] == tag, f"</{tag}> closes <{self.open[-1:]}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "title", "desc"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def read(html: str) -> Page:
    page = Page()
    page.feed(html)
    page.close()
    assert not page.open
    return page


def hostile_comparison() -> Comparison:
    base = fixtures.example_comparison()
    need = dataclasses.replace(
        base.need, title=HOSTILE, question=HOSTILE,
        bands=tuple(dataclasses.replace(band, label=HOSTILE) for band in base.need.bands),
    )  # fmt: skip
    proposals = []
    for proposal in base.proposals:
        members = tuple(
            dataclasses.replace(m, evaluation=dataclasses.replace(
                m.evaluation, title=HOSTILE, key=HOSTILE + m.evaluation.key,
                dimensions=tuple(dataclasses.replace(d, label=HOSTILE, datum=HOSTILE) for d in m.evaluation.dimensions),
                pieces=tuple(dataclasses.replace(p, name=HOSTILE, remark=HOSTILE) for p in m.evaluation.pieces)))
            for m in proposal.members
        )  # fmt: skip
        words = {"title": HOSTILE, "verdict": HOSTILE, "reasons": (HOSTILE,), "members": members}
        proposals.append(dataclasses.replace(proposal, **words))
    curves = tuple(dataclasses.replace(c, question=HOSTILE, reading=HOSTILE, x_label=HOSTILE) for c in base.curves)
    return dataclasses.replace(
        base, need=need, proposals=tuple(proposals), refused=((HOSTILE, HOSTILE),), curves=curves,
        assumptions=(HOSTILE,), version=HOSTILE,
    )  # fmt: skip


CASES = {
    "one antenna": fixtures.example_comparison(),
    "two antennas, transmitting": fixtures.example_comparison(pair_first=True, transmit_power=5.0),
    "hostile text": hostile_comparison(),
    "nothing found": dataclasses.replace(fixtures.example_comparison(), proposals=(), curves=()),
    "only the recommendation": dataclasses.replace(
        fixtures.example_comparison(), proposals=fixtures.example_comparison().proposals[:1], curves=(), refused=()
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_page_stands_alone(name: str) -> None:
    """No script, no request: nothing is fetched, and the page's own policy would forbid it."""
    html = render_report(CASES[name])
    page = read(html)
    for tag, attributes in page.tags:
        assert tag not in {"script", "link", "img", "iframe", "object", "embed", "base", "form"}
        assert not any(key.startswith("on") or key in ("src", "srcset", "xlink:href", "action") for key in attributes)
        assert (attributes.get("href") or "#").startswith("#")
    assert "default-src 'none'" in html
    style = "".join(re.findall(r"<style>(.*?)</style>", html, re.S))
    assert "url(" not in style and "@import" not in style
    outside = [u for u in re.findall(r"\bhttps?://[^\s\"'<]+", html) if u != "http://www.w3.org/2000/svg"]
    assert outside == []


@pytest.mark.parametrize("name", CASES)
def test_identities_and_targets_hold(name: str) -> None:
    page = read(render_report(CASES[name]))
    identities = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(identities) == len(set(identities))
    targets = [(attributes.get("href") or "")[1:] for tag, attributes in page.tags if tag == "a"]
    assert targets and set(targets) <= set(identities)
    assert sum(tag == "h1" for tag, _ in page.tags) == 1


def test_hostile_text_is_only_text() -> None:
    html = render_report(CASES["hostile text"])
    assert "<script" not in html and "<img" not in html and "&lt;script&gt;" in html
    assert "{{ 7*7 }}" in read(html).text and "&amp;{{ 7*7 }}" in html
    plain = render_answer_text(CASES["hostile text"])
    assert "\x1b" not in plain


def test_first_page_is_the_answer() -> None:
    page = read(render_report(CASES["one antenna"])).text
    first = page[: page.index("The need The choice")]
    order = [
        "Build this: Discone of 12 wires", "It covers both bands", "660 mm", "25 31/32 in", "What to expect",
        "Runner-up: Two ground planes", "What you give up", "26 pieces to make instead of 12.", "Power lines first",
        "Local code",
    ]  # fmt: skip
    assert [first.find(text) for text in order] == sorted(first.find(text) for text in order)
    assert all(text in first for text in order)
    assert "Exposure when transmitting" not in page
    assert "Exposure when transmitting" in read(render_report(CASES["two antennas, transmitting"])).text


def test_inches_are_those_of_the_millimetres() -> None:
    """1 in = 25.4 mm exactly (international yard and pound agreement, 1959); the fraction is to 1/32 in."""
    text = render_answer_text(CASES["one antenna"])
    pairs = re.findall(r"  ([\d.]+) mm +(?:(\d+) )?(?:(\d+)/(\d+) )?in ", text)
    assert len(pairs) >= 3
    for millimetres, whole, top, bottom in pairs:
        inches = float(whole or 0) + (int(top) / int(bottom) if top else 0.0)
        assert abs(float(millimetres) - 25.4 * inches) <= 25.4 / 64.0 + 0.05


def test_every_part_is_there() -> None:
    comparison = CASES["one antenna"]
    page = read(render_report(comparison)).text
    for proposal in comparison.proposals:
        assert proposal.title in page and proposal.verdict in page
    for name, why in comparison.refused:
        assert name in page and why in page
    for curve in comparison.curves:
        assert curve.reading in page
    evaluation = comparison.proposals[0].members[0].evaluation
    for piece in evaluation.pieces:
        assert piece.name in page and piece.material in page
    assert "668 mm 26 5/16 in" in page  # cut length of a cone wire: 660 + 8 mm = 26.299 in
    assert all(text in page for text in (*comparison.assumptions, *evaluation.assumptions))
    assert "power balance" in page and "0.031 %" in page and "not part of this report" in page
    assert "an invented rule of thumb" in page


def test_page_and_text_give_the_same_numbers() -> None:
    comparison = CASES["two antennas, transmitting"]
    page, plain = read(render_report(comparison)).text, render_answer_text(comparison)
    for row in wording.expectation(comparison.need, comparison.proposals[0]):
        for value in (row.swr_antenna, row.swr_error, row.swr_receiver, row.gain):
            assert value in page and value in plain
    for caution in wording.safety(comparison):
        assert caution.name in page and caution.name in plain
        assert " ".join(caution.text.split()) in " ".join(plain.split())


def test_nothing_serves_is_said_plainly() -> None:
    base = fixtures.example_comparison()
    failing = dataclasses.replace(base, proposals=(dataclasses.replace(base.proposals[-1], rank=1),), curves=())
    page = read(render_report(failing)).text
    assert "Nothing serves every band asked for" in page and "SWR 4.1 at 118 MHz" in page
    empty = read(render_report(CASES["nothing found"])).text
    assert "Nothing here can be built" in empty and "Folded dipole" in empty
    assert "Folded dipole" in render_answer_text(CASES["nothing found"])


def test_front_lines_keep_what_was_tuned() -> None:
    dimensions = fixtures.discone_evaluation().dimensions
    kept = wording.front_lines(dimensions, 4)
    assert [row.letter for row in kept] == ["A", "B", "C", "F"]
    assert len(wording.front_lines(dimensions, 9)) == len(dimensions)


def test_the_error_band_is_that_of_the_worst_place() -> None:
    comparison = CASES["one antenna"]
    row = wording.expectation(comparison.need, comparison.proposals[0])[0]
    low, high = (float(part) for part in row.swr_error.split(" to "))
    assert low < float(row.swr_antenna) < high


def test_rendering_is_quick() -> None:
    """Five proposals, template compiled anew: about a second, and ten times that on a busy machine."""
    from aerialwright.report import html

    html.template.cache_clear()
    start = time.perf_counter()
    render_report(CASES["two antennas, transmitting"])
    assert time.perf_counter() - start < 15.0
