"""The register of literature: every citation in the tree is known, every entry is cited."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest

from aerialwright.base.sources import BASES, UnknownSourceError, cite, cited_keys, register

SUFFIXES = {".py", ".toml", ".md", ".j2"}
FOLDERS = ("src", "tests", "docs", "examples", "benchmarks")
THIS = Path(__file__).resolve()


def citations(root: Path) -> dict[str, list[str]]:
    """key -> files that cite it."""
    found: dict[str, list[str]] = defaultdict(list)
    for folder in FOLDERS:
        for path in sorted((root / folder).rglob("*")):
            skip = path.resolve() == THIS or path.name in ("sources.py", "sources.toml")
            if path.suffix in SUFFIXES and path.is_file() and not skip and "corpus" not in path.parts:
                for key in cited_keys(path.read_text(encoding="utf-8")):
                    found[key].append(str(path.relative_to(root)))
    return found


def test_every_cited_key_is_registered(repository_root: Path) -> None:
    unknown = {key: files for key, files in citations(repository_root).items() if key not in register()}
    assert not unknown


def test_every_registered_key_is_cited(repository_root: Path) -> None:
    assert not sorted(set(register()) - set(citations(repository_root)))


@pytest.mark.parametrize(
    "text",
    [
        '"""By the formula [@no-such-key]."""',
        'Metal("x", source="no-such-key")',
        "source = 'no-such-key'",
        'source: "no-such-key"',
        'cite("no-such-key")',
    ],
)
def test_a_citation_is_seen_in_each_spelling(text: str) -> None:
    assert list(cited_keys(text)) == ["no-such-key"]


def test_other_words_are_not_citations() -> None:
    assert not list(cited_keys('first_guess_source="a rule" resource="x" source=source'))


def test_unknown_key_is_a_key_error_with_a_suggestion() -> None:
    with pytest.raises(KeyError, match=r"did you mean 'carter-1932'\?"):
        cite("carter-1923")
    with pytest.raises(UnknownSourceError):
        cite("")


def test_rows_are_complete() -> None:
    for source in register().values():
        assert source.basis in BASES
        assert source.title
        assert source.key in ("common-practice",) or source.author or source.where
        assert source.text().startswith(source.author or source.title)
    assert cite("carter-1932").year == 1932
