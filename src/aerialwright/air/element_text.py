"""Orbital elements from the text forms in which they are handed on; the form is seen from how the text begins."""

from __future__ import annotations

import re

from aerialwright.air.element_lines import read_lines
from aerialwright.air.element_messages import read_json, read_kvn, read_xml
from aerialwright.air.elements import Elements, ElementsError, short

MOST_TEXT, MOST_SETS = 1_000_000, 2_000


def parse_elements(text: str, *, where: str = "elements", name: str = "") -> Elements:
    """The one set in ``text``, or the one called ``name`` (or with that catalogue number) among several.

    ``where`` is the place named in errors.

    Raises
    ------
    ElementsError
        For anything that is not a sound set, or when it is not clear which one is meant.
    """
    every = parse_all_elements(text, where=where)
    if len(every) == 1:
        return every[0]
    wanted = name.strip().casefold()
    found = [one for one in every if wanted and wanted in (one.name.casefold(), str(one.number))]
    if not found:
        listed = ", ".join(one.name or str(one.number) for one in every[:5])
        raise ElementsError(
            f"holds {len(every)} sets, none called '{short(name)}'", where=where, mend=f"it has {listed}{'...' if len(every) > 5 else ''}"
        )  # fmt: skip
    # Several sets of one satellite: the newest.
    return max(found, key=lambda one: (one.epoch_day, one.epoch_fraction))


def parse_all_elements(text: str, *, where: str = "elements") -> tuple[Elements, ...]:
    """Every set in ``text``, in order; the form is seen from how it begins. Raises :class:`ElementsError`."""
    if len(text) > MOST_TEXT:
        raise ElementsError("is larger than 1 MB", where=where, mend="keep the satellites that matter")
    body = text.lstrip("\ufeff \t\r\n")
    if not body:
        raise ElementsError("holds nothing", where=where, mend="paste two-line elements or an OMM")
    if body[0] in "[{":
        found = read_json(text, where)
    elif body[0] == "<":
        found = read_xml(text, where)
    elif re.search(r"(?m)^\s*(CCSDS_OMM_VERS|MEAN_MOTION|EPOCH)\s*=", body):
        found = read_kvn(text, where)
    else:
        found = read_lines(text, where)
    if not found:
        raise ElementsError("holds no elements", where=where, mend="paste two-line elements or an OMM")
    if len(found) > MOST_SETS:
        raise ElementsError(f"holds more than {MOST_SETS} sets", where=where, mend="keep the satellites that matter")
    return tuple(found)
