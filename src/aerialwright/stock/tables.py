"""Reading the shelf's tables: one TOML file each, a source on every row, names found as people write them."""

from __future__ import annotations

import difflib
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from aerialwright.base.errors import AerialwrightError, printable


class StockError(AerialwrightError):
    """Something that no table of the shelf knows."""


@cache
def load_table(name: str) -> dict[str, dict[str, Any]]:
    """Rows of ``stock/<name>.toml`` by key, in the order of the file."""
    with Path(__file__).with_name(f"{name}.toml").open("rb") as stream:
        return tomllib.load(stream)


def _folded(text: str) -> str:
    return re.sub(r"[\s_/-]+", "", text).casefold()


@cache
def _index(table: str) -> dict[str, str]:
    """Folded key or alias -> key."""
    index: dict[str, str] = {}
    for key, row in load_table(table).items():
        for spelling in (key, *row.get("aliases", ())):
            index[_folded(spelling)] = key
    return index


def find_key(table: str, name: str, *, noun: str, where: str = "") -> str:
    """Key of the row that ``name`` means; raises :class:`StockError` with the nearest names otherwise."""
    index = _index(table)
    folded = _folded(str(name)[:80])
    if folded in index:
        return index[folded]
    near = difflib.get_close_matches(folded, index, n=1, cutoff=0.7)
    mend = f"did you mean '{index[near[0]]}'?" if near else "known: " + ", ".join(load_table(table))
    raise StockError(f"'{printable(str(name)[:40])}' is not a known {noun}", where=where, mend=mend)
