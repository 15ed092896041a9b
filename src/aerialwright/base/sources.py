"""The register of literature behind every formula, data row and published test.

A key is cited as ``[@key]`` in a docstring or comment, as ``source="key"`` in data, or through :func:`cite`. A test
walks the tree and fails on a key that the register lacks, and on an entry that nothing cites.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

BASES = ("read", "second hand", "memory", "derived", "practice")

_CITED = re.compile(
    r"\[@(?P<marker>[a-z0-9][a-z0-9.-]*)\]"
    r"|(?<!\w)source\s*[=:]\s*[\"'](?P<data>[a-z0-9][a-z0-9-]*)[\"']"
    r"|(?<!\w)cite\(\s*[\"'](?P<call>[^\"']*)[\"']"
)


class UnknownSourceError(KeyError):
    """A key that the register of sources does not have."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class Source:
    """A source: ``basis`` is one of :data:`BASES` and says how its content reached this program."""

    key: str
    author: str
    title: str
    year: int
    where: str
    basis: str

    def text(self) -> str:
        """One line for a footnote: author, title (year), where; and the basis unless it was read."""
        head = ", ".join(part for part in (self.author, self.title) if part)
        if self.year:
            head += f" ({self.year})"
        if self.where:
            head += f", {self.where}"
        remark = {"memory": "from memory", "second hand": "second hand", "derived": "derived again here"}.get(
            self.basis
        )
        return f"{head} [{remark}]" if remark else head


@lru_cache(maxsize=1)
def register() -> dict[str, Source]:
    """All sources by key, in the order of the file."""
    with Path(__file__).with_name("sources.toml").open("rb") as stream:
        return {key: Source(key=key, **row) for key, row in tomllib.load(stream).items()}


def cite(key: str) -> Source:
    """The source of ``key``; raises :class:`UnknownSourceError` (a KeyError) naming the nearest key."""
    found = register().get(key)
    if found is None:
        near = difflib.get_close_matches(key, register(), n=1)
        raise UnknownSourceError(
            f"no source '{key}' in the register" + (f"; did you mean '{near[0]}'?" if near else "")
        )
    return found


def cited_keys(text: str) -> Iterator[str]:
    """Every key that ``text`` (code, data or prose) cites by one of the three markers."""
    for match in _CITED.finditer(text):
        yield match["marker"] or match["data"] or match["call"]
