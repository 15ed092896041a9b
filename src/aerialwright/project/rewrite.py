"""Changing a parsed TOML document only where the meaning changed, so that comments and spellings survive."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import Any

import tomlkit
from tomlkit.items import AoT


def merge(document: MutableMapping[str, Any], old: dict[str, Any], new: dict[str, Any]) -> None:
    """Bring ``document`` from the meaning ``old`` to ``new`` (both plain tables in the same canonical form)."""
    if "low" in new and "range" in document and (old.get("low"), old.get("high")) != (new["low"], new["high"]):
        low, high = str(new["low"]).rsplit(" ", 1), str(new["high"]).rsplit(" ", 1)
        document["range"] = f"{low[0]}-{high[0]} {high[1]}"
    for key, value in new.items():
        if key in old and old[key] == value:
            continue
        if key in ("low", "high") and "range" in document:
            continue
        current = document.get(key)
        if isinstance(value, dict) and isinstance(current, MutableMapping):
            merge(current, old.get(key, {}), value)
        elif _is_tables(value) and isinstance(current, AoT):
            _merge_tables(current, old.get(key, []), value)
        elif _is_tables(value):
            array = tomlkit.aot()
            for table in value:
                array.append(tomlkit.item(table))
            document[key] = array
        else:
            document[key] = value
    for key in old:
        if key not in new and key in document:
            del document[key]


def _is_tables(value: object) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(entry, dict) for entry in value)


def _name(table: dict[str, Any]) -> object:
    return table.get("label") or table.get("name") or None


def _merge_tables(array: AoT, old: list[dict[str, Any]], new: list[dict[str, Any]]) -> None:
    """Entries removed from the middle are matched by name first, so that the rest keep their comments."""
    names = [_name(table) for table in new]
    if len(new) < len(old) and all(names) and len(set(map(str, names))) == len(names):
        for number in range(len(old) - 1, -1, -1):
            if _name(old[number]) not in names and len(array) > len(new):
                del array[number]
                old = old[:number] + old[number + 1 :]
    while len(array) > len(new):
        del array[len(array) - 1]
    for number, table in enumerate(new):
        if number < len(array):
            merge(array[number], old[number] if number < len(old) else {}, table)
        else:
            array.append(tomlkit.item(table))
