"""Two-line elements [@spacetrack-3], every fault named by line and column."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime

from aerialwright.air.elements import Elements, ElementsError, checked, julian_day, short

_DECIMAL, _WHOLE = r"[ ]*[+-]?[ ]*\d*\.\d*[ ]*", r"[ ]*\d+[ ]*"
#: line -> (name, first and last column, pattern). Columns count from one [@spacetrack-3].
_COLUMNS: dict[int, tuple[tuple[str, int, int, str], ...]] = {
    1: (
        ("catalogue number", 3, 7, r"[A-HJ-NP-Z0-9 ][\d ]{3}\d"), ("year of the epoch", 19, 20, r"[ \d]\d"),
        ("day of the epoch", 21, 32, r"[ ]*\d{1,3}\.\d*[ ]*"), ("change of mean motion", 34, 43, _DECIMAL),
        ("second change of mean motion", 45, 52, r"[ +-]?[ ]*\d{0,5}[+-]\d"), ("drag term", 54, 61, r"[ +-]?[ ]*\d{0,5}[+-]\d"),
    ),
    2: (
        ("catalogue number", 3, 7, r"[A-HJ-NP-Z0-9 ][\d ]{3}\d"), ("inclination", 9, 16, _DECIMAL), ("ascending node", 18, 25, _DECIMAL),
        ("eccentricity", 27, 33, r"[ ]*\d+"), ("argument of perigee", 35, 42, _DECIMAL), ("mean anomaly", 44, 51, _DECIMAL),
        ("mean motion", 53, 63, _DECIMAL),
    ),
}  # fmt: skip


def checksum(line: str) -> int:
    """Sum of the digits in columns 1 to 68, a minus counting one, modulo ten [@spacetrack-3]."""
    return sum(int(ch) if ch.isdigit() and ch.isascii() else ch == "-" for ch in line[:68]) % 10


def read_lines(text: str, where: str) -> list[Elements]:
    """Two-line elements; a line before the first is the name, lines that begin with # are remarks."""
    lines = [
        (number, line.rstrip())
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    out, name, at = [], "", 0
    while at < len(lines):
        number, line = lines[at]
        if not line.startswith("1 ") or len(line) < 60:
            if line.startswith("2 ") and len(line) >= 60:
                raise ElementsError(
                    "a second line without its first", where=f"{where}, line {number}", mend="paste both lines"
                )
            if name:
                raise ElementsError(
                    f"'{short(line)}' is no line of elements", where=f"{where}, line {number}", mend="paste a name, line 1 and line 2"
                )  # fmt: skip
            name, at = re.sub(r"^0 ", "", line).strip(), at + 1
            continue
        if at + 1 >= len(lines) or not lines[at + 1][1].startswith("2 "):
            raise ElementsError(
                "line 1 stands without its line 2", where=f"{where}, line {number}", mend="paste both lines"
            )
        out.append(_two_lines(name, lines[at], lines[at + 1], where))
        name, at = "", at + 2
    if name:
        raise ElementsError(
            f"'{short(name)}' is no line of elements",
            where=where,
            mend="line 1 begins with '1 ' and has 69 characters",
        )
    return out


def _two_lines(name: str, first: tuple[int, str], second: tuple[int, str], where: str) -> Elements:
    one, two = (_fields(kind, line, where) for kind, line in ((1, first), (2, second)))
    place = f"{where}, line {second[0]}"
    if one["catalogue number"] != two["catalogue number"]:
        raise ElementsError(
            f"is of satellite {two['catalogue number'].strip()}, line 1 of {one['catalogue number'].strip()}",
            where=f"{place}, column 3", mend="paste two lines that belong together",
        )  # fmt: skip
    year = int(one["year of the epoch"])
    year += 1900 if year >= 57 else 2000
    day = float(one["day of the epoch"])
    if not 1.0 <= day < 367.0:
        raise ElementsError(
            f"day {day:g} is in no year", where=f"{where}, line {first[0]}, column 21", mend="paste the line again"
        )
    number = one["catalogue number"].strip()
    midnight = julian_day(datetime(year, 1, 1, tzinfo=UTC)) + math.floor(day) - 1
    return checked(
        Elements(
            name=name or number, number=_catalogue_number(number), epoch_day=midnight, epoch_fraction=day - math.floor(day),
            inclination=_decimal(two["inclination"]), node=_decimal(two["ascending node"]),
            eccentricity=float("0." + two["eccentricity"].strip()), perigee=_decimal(two["argument of perigee"]),
            mean_anomaly=_decimal(two["mean anomaly"]), mean_motion=_decimal(two["mean motion"]),
            drag=_implied(one["drag term"]), mean_motion_dot=_decimal(one["change of mean motion"]),
        ), place,
    )  # fmt: skip


def _fields(kind: int, numbered: tuple[int, str], where: str) -> dict[str, str]:
    number, line = numbered
    place = f"{where}, line {number}"
    if len(line) < 69:
        short_of = f"line {kind} has {len(line)} characters, 69 belong to it"
        raise ElementsError(short_of, where=f"{place}, column {len(line) + 1}", mend="paste the whole line")
    if not line[:69].isascii():
        column = next(k for k, ch in enumerate(line, 1) if not ch.isascii())
        raise ElementsError(
            "holds a character that no element line has", where=f"{place}, column {column}", mend="paste the line again"
        )
    found = {}
    for name, start, end, pattern in _COLUMNS[kind]:
        text = line[start - 1 : end]
        if not re.fullmatch(pattern, text) or not re.search(r"\d", text):
            raise ElementsError(
                f"'{short(text.strip())}' is no {name}", where=f"{place}, columns {start}-{end}",
                mend="paste the line again, with its blanks",
            )  # fmt: skip
        found[name] = text
    if line[68] != str(checksum(line)):
        raise ElementsError(
            f"the checksum is {short(line[68])} and should be {checksum(line)}: a digit is wrong or lost", where=f"{place}, column 69",
            mend="paste the line again; do not mend the checksum by hand",
        )  # fmt: skip
    return found


def _catalogue_number(text: str) -> int:
    """Five digits, or a letter for the first two (without I and O) [@sgp4-library]."""
    from sgp4.alpha5 import from_alpha5

    return int(from_alpha5(text.replace(" ", "0")))


def _decimal(text: str) -> float:
    return float(text.replace(" ", "") or 0.0)


def _implied(text: str) -> float:
    """' 28098-4' is 0.28098e-4."""
    mantissa, exponent = text[:-2].strip(), text[-2:]
    sign = -1.0 if mantissa.startswith("-") else 1.0
    return sign * float("0." + (mantissa.strip("+- ") or "0")) * 10.0 ** int(exponent)
