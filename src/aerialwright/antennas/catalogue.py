"""All families: every module of this package that has a ``FAMILY``."""

from __future__ import annotations

import importlib
import pkgutil
from functools import lru_cache

import aerialwright.antennas
from aerialwright.antennas.family import Family
from aerialwright.base.errors import DesignError


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
        Lists the known keys.
    """
    for candidate in families():
        if candidate.key == key:
            return candidate
    known = ", ".join(candidate.key for candidate in families())
    raise DesignError(f"there is no antenna family '{key}'", where=where, mend=f"use one of {known}")
