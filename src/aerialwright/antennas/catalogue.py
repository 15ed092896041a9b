"""All families: every module of this package that has a ``FAMILY``."""

from __future__ import annotations

import difflib
import importlib
import pkgutil
from functools import lru_cache

import aerialwright.antennas
from aerialwright.antennas.family import Family
from aerialwright.base.errors import DesignError, printable


@lru_cache(maxsize=1)
def families() -> tuple[Family, ...]:
    """Every family, in its place."""
    found: list[Family] = []
    for info in pkgutil.iter_modules(aerialwright.antennas.__path__):
        module = importlib.import_module(f"aerialwright.antennas.{info.name}")
        family = getattr(module, "FAMILY", None)
        if isinstance(family, Family):
            found.append(family)
    return tuple(sorted(found, key=lambda family: (family.place, family.key)))


def family(key: str, *, where: str = "family") -> Family:
    """The family with that key.

    Raises
    ------
    DesignError
        Names the nearest key, or lists them.
    """
    for candidate in families():
        if candidate.key == key:
            return candidate
    known = [candidate.key for candidate in families()]
    near = difflib.get_close_matches(key.strip().casefold().replace("_", "-").replace(" ", "-")[:60], known, n=1)
    mend = f"did you mean '{near[0]}'?" if near else f"use one of {', '.join(known)}"
    raise DesignError(f"there is no antenna family '{printable(key[:40])}'", where=where, mend=mend)
