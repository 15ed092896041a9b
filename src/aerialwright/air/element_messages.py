"""The Orbit Mean-Elements Message as JSON, XML and KVN [@ccsds-502], every fault named by line or keyword.

XML is read without document types, so that no entity is ever expanded.
"""

from __future__ import annotations

import json
import math
import re
from datetime import UTC, datetime, timedelta
from typing import Any
from xml.parsers import expat

from aerialwright.air.elements import Elements, ElementsError, checked, julian_day, short


def read_json(text: str, where: str) -> list[Elements]:
    """One message or a list of them; raises :class:`ElementsError`."""

    def refuse(word: str) -> float:
        raise ElementsError(f"{word} is no number", where=where, mend="take the file from its source again")

    try:
        data = json.loads(text.lstrip("\ufeff"), parse_constant=refuse)
    except json.JSONDecodeError as fault:
        raise ElementsError(
            f"not valid JSON: {fault.msg}", where=f"{where}, line {fault.lineno}, column {fault.colno}", mend="take the file again"
        ) from None  # fmt: skip
    except (RecursionError, ValueError):
        raise ElementsError("not valid JSON", where=where, mend="take the file again") from None
    sets = data if isinstance(data, list) else [data]
    out = []
    for number, one in enumerate(sets, 1):
        place = where if len(sets) == 1 else f"{where}, set {number}"
        if not isinstance(one, dict):
            raise ElementsError("is no table of keywords", where=place, mend="take an OMM in JSON")
        out.append(_from_keywords({str(key): value for key, value in one.items()}, place, {}))
    return out


def read_kvn(text: str, where: str) -> list[Elements]:
    """KEYWORD = value, a unit in brackets allowed; each version line begins a message."""
    messages: list[dict[str, Any]] = []
    lines: list[dict[str, int]] = []
    for number, line in enumerate(text.lstrip("\ufeff").splitlines(), 1):
        words = line.strip()
        if not words or words.startswith("COMMENT"):
            continue
        key, equals, value = words.partition("=")
        key = key.strip()
        if not equals or not re.fullmatch(r"[A-Z0-9_]{1,40}", key):
            raise ElementsError(
                f"'{short(words)}' is no 'KEYWORD = value'",
                where=f"{where}, line {number}, column 1",
                mend="take the file again",
            )
        if key == "CCSDS_OMM_VERS" or not messages:
            messages.append({})
            lines.append({})
        if key in messages[-1]:
            raise ElementsError(f"{key} stands twice", where=f"{where}, line {number}", mend="keep one of them")
        messages[-1][key] = re.sub(r"\s*\[[^\]]*\]\s*$", "", value.strip())
        lines[-1][key] = number
    return [_from_keywords(message, where, at) for message, at in zip(messages, lines, strict=True)]


class _XmlReader:
    """Texts of leaf elements, message by message; a document type is refused before anything in it is read."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.messages: list[dict[str, Any]] = []
        self.lines: list[dict[str, int]] = []
        self.words: list[str] = []
        self.depth = 0
        self.parser = expat.ParserCreate()
        self.parser.StartDoctypeDeclHandler = self._refuse
        self.parser.EntityDeclHandler = self._refuse
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self.words.append

    def _refuse(self, *_: object) -> None:
        raise ElementsError(
            "has a document type, which no OMM needs",
            where=f"{self.where}, line {self.parser.CurrentLineNumber}",
            mend="delete it",
        )

    def _start(self, tag: str, _: dict[str, str]) -> None:
        self.words.clear()
        self.depth += 1
        if self.depth > 30:
            raise ElementsError(
                "is nested too deeply", where=f"{self.where}, line {self.parser.CurrentLineNumber}", mend="take an OMM"
            )
        if tag.rpartition(":")[2] == "omm":
            self.messages.append({})
            self.lines.append({})

    def _end(self, tag: str) -> None:
        self.depth -= 1
        key, value = tag.rpartition(":")[2], "".join(self.words).strip()
        self.words.clear()
        if self.messages and key.isupper() and value:
            self.messages[-1][key] = value
            self.lines[-1][key] = self.parser.CurrentLineNumber


def read_xml(text: str, where: str) -> list[Elements]:
    """Every ``omm`` element, whatever stands around it; raises :class:`ElementsError`."""
    reader = _XmlReader(where)
    try:
        # The text is Unicode already: what its first line says about an encoding no longer holds.
        reader.parser.Parse(
            re.sub(r"^\s*<\?xml[^>]{0,200}\?>", "", text.lstrip("\ufeff"), count=1).encode("utf-8", "replace"), True
        )
    except expat.ExpatError as fault:
        raise ElementsError(
            f"not valid XML: {expat.ErrorString(fault.code)}", where=f"{where}, line {fault.lineno}, column {fault.offset + 1}",
            mend="take the file again",
        ) from None  # fmt: skip
    return [_from_keywords(message, where, at) for message, at in zip(reader.messages, reader.lines, strict=True)]


def _from_keywords(words: dict[str, Any], where: str, lines: dict[str, int]) -> Elements:
    """One message as keywords; ``lines`` tells where they stand in the text."""

    def place(key: str) -> str:
        return f"{where}, line {lines[key]}, {key}" if key in lines else f"{where}, {key}"

    for key, allowed in (("CENTER_NAME", ("EARTH",)), ("REF_FRAME", ("TEME",)), ("TIME_SYSTEM", ("UTC",)),
                         ("MEAN_ELEMENT_THEORY", ("SGP4", "SGP", "SGP/SGP4"))):  # fmt: skip
        if key in words and str(words[key]).upper() not in allowed:
            raise ElementsError(
                f"'{short(words[key])}' is not what SGP4 works with",
                where=place(key),
                mend=f"take elements with {allowed[0]}",
            )

    def number(key: str, default: float | None = None) -> float:
        value = words.get(key, default)
        if value is None:
            raise ElementsError("is missing", where=place(key), mend=f"take an OMM with {key}")
        try:
            if isinstance(value, bool) or not isinstance(value, (int, float, str)):
                raise ValueError
            found = float(value)
        except (ValueError, OverflowError):
            found = math.nan
        if not math.isfinite(found):
            raise ElementsError(f"'{short(value)}' is no number", where=place(key), mend="take the file again")
        return found

    catalogue = number("NORAD_CAT_ID", 0.0)
    if not 0 <= catalogue <= 999_999_999 or catalogue != int(catalogue):
        raise ElementsError(
            f"{catalogue:g} is no catalogue number", where=place("NORAD_CAT_ID"), mend="take the file again"
        )
    day, fraction = _epoch(words.get("EPOCH"), place("EPOCH"))
    name = " ".join("".join(ch for ch in str(words.get("OBJECT_NAME", "")) if ch.isprintable()).split())[:80]
    return checked(
        Elements(
            name=name or str(int(catalogue)), number=int(catalogue), epoch_day=day, epoch_fraction=fraction,
            inclination=number("INCLINATION"), node=number("RA_OF_ASC_NODE"), eccentricity=number("ECCENTRICITY"),
            perigee=number("ARG_OF_PERICENTER"), mean_anomaly=number("MEAN_ANOMALY"), mean_motion=number("MEAN_MOTION"),
            drag=number("BSTAR"), mean_motion_dot=number("MEAN_MOTION_DOT", 0.0),
        ), where,
    )  # fmt: skip


def _epoch(value: object, where: str) -> tuple[float, float]:
    """Calendar or ordinal date with a time, as Julian midnight and fraction of the day [@ccsds-502]."""
    if value is None:
        raise ElementsError("is missing", where=where, mend="take an OMM with EPOCH")
    match = re.fullmatch(r"(\d{4})-(\d{2}-\d{2}|\d{3})T(\d{2}):(\d{2}):(\d{2}(?:\.\d{1,12})?)Z?", str(value), re.ASCII)
    try:
        if match is None:
            raise ValueError
        year, date, hour, minute, second = match.groups()
        start = datetime(int(year), 1, 1, tzinfo=UTC)
        if len(date) == 3:
            midnight = start + timedelta(days=int(date) - 1)
        else:
            midnight = start.replace(month=int(date[:2]), day=int(date[3:]))
        seconds = 3600 * int(hour) + 60 * int(minute) + float(second)
        if (
            midnight.year != int(year)
            or int(hour) > 23
            or int(minute) > 59
            or float(second) >= 61.0
            or not 1957 <= int(year) <= 2200
        ):
            raise ValueError
    except ValueError:
        raise ElementsError(
            f"'{short(value)}' is no time", where=where, mend="written like 2026-11-01T06:00:00.000"
        ) from None
    return julian_day(midnight), seconds / 86400.0
