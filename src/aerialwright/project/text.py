"""Opening a person's TOML file: every fault of disk, bytes or grammar as one line that names the place."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from aerialwright.base.errors import ProjectError, printable

LARGEST_FILE = 1_000_000
MOST_LINES = 20_000
MOST_COMMAS = 60_000
#: A name of more parts than this is no person's; parsers take quadratic time over it.
_LONG_NAME = re.compile(
    r"""(?<![\w"'-])(?:"[^"\n]*+"|'[^'\n]*+'|[\w-]++)(?:[ \t]*+\.[ \t]*+(?:"[^"\n]*+"|'[^'\n]*+'|[\w-]++)){8}"""
)
_PART = r"""(?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')"""
_KEY = re.compile(rf"[ \t]*({_PART}(?:[ \t]*\.[ \t]*{_PART})*)[ \t]*=")
_HEADER = re.compile(r"[ \t]*(\[\[?)[ \t]*([^\]\n]+?)[ \t]*\]")
#: A number with a comma that is in no quotes and no list: "width = 3,2".
_BARE_COMMA = re.compile(rf"[ \t]*({_PART}(?:[ \t]*\.[ \t]*{_PART})*)[ \t]*=[ \t]*([+-]?\d+,\d+)")
_PLACE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")

Location = tuple[str | int, ...]


@dataclass(frozen=True)
class TomlText:
    """A parsed file with its text, so that a fault can be traced to its line."""

    path: Path
    text: str
    data: dict[str, Any]

    @cached_property
    def _lines(self) -> dict[Location, int]:
        return find_lines(self.text)

    def line_of(self, location: Location) -> int | None:
        """Line of the deepest part of ``location`` (keys and 0-based indices) that the file spells out."""
        for length in range(len(location), 0, -1):
            line = self._lines.get(location[:length])
            if line is not None:
                return line
        return None

    def error(self, what: str, location: Location, mend: str) -> ProjectError:
        """The error for ``location`` of this file."""
        line = self.line_of(location)
        parts = [str(self.path)]
        if line is not None:
            parts.append(f"line {line}")
        if location:
            parts.append(spelled(location))
        return ProjectError(printable(what), where=printable(", ".join(parts)), mend=printable(mend))


def spelled(location: Location) -> str:
    """('rod', 0, 'points', 1) -> 'rod 1.points 2', counting from one as people do."""
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f" {part + 1}"
        else:
            shown = part if len(part) <= 40 else f"{part[:37]}..."
            text += f".{shown}" if text else shown
    return text


def read_text(path: str | os.PathLike[str]) -> str:
    """Text of a regular UTF-8 file of at most 1 MB; a byte-order mark is dropped. Raises :class:`ProjectError`."""
    where = printable(str(path))[:300]
    try:
        status = os.stat(path)
        if stat.S_ISDIR(status.st_mode):
            raise ProjectError("is a folder, not a file", where=where, mend="name the file inside it")
        if not stat.S_ISREG(status.st_mode):
            raise ProjectError("is not an ordinary file", where=where, mend="name a text file")
        if status.st_size > LARGEST_FILE:
            raise ProjectError(f"is larger than {LARGEST_FILE // 1000} kB", where=where, mend="shorten it")
        with open(path, "rb") as stream:
            raw = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError as error:
        raise ProjectError("does not exist", where=where, mend="check the name and the folder") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise ProjectError(
            f"cannot be read: {reason}", where=where, mend="check the name and its permissions"
        ) from error
    if len(raw) > LARGEST_FILE:
        raise ProjectError(f"is larger than {LARGEST_FILE // 1000} kB", where=where, mend="shorten it")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise ProjectError("is not UTF-8 text", where=f"{where}, line {line}", mend="save it as UTF-8") from error
    return text


def read_toml(path: str | os.PathLike[str]) -> TomlText:
    """Read and parse; raises :class:`ProjectError` with the line of a fault in the grammar."""
    text = read_text(path)
    return parse_toml(text, Path(path))


def parse_toml(text: str, path: Path) -> TomlText:
    """Parse ``text`` as TOML; ``path`` is only for messages."""
    where = printable(str(path))[:300]
    if len(text) > LARGEST_FILE:
        raise ProjectError(f"is larger than {LARGEST_FILE // 1000} kB", where=where, mend="shorten it")
    if text.count("\n") > MOST_LINES:
        raise ProjectError(f"has more than {MOST_LINES} lines", where=where, mend="shorten it")
    if text.count(",") > MOST_COMMAS:
        raise ProjectError(f"has more than {MOST_COMMAS} list entries", where=where, mend="shorten it")
    long_name = _LONG_NAME.search(text)
    if long_name is not None:
        line = text.count("\n", 0, long_name.start()) + 1
        raise ProjectError(
            "a name of more than 8 parts", where=f"{where}, line {line}", mend="use plain keys and [tables]"
        )
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise ProjectError("brackets are nested too deeply", where=where, mend="close the brackets") from None
    except ValueError as error:  # TOMLDecodeError, and numbers too long to convert
        message = str(error)
        place = _PLACE.search(message)
        if place is not None:
            line_text = place[1] or str(text.count("\n") + 1)
            where = f"{where}, line {line_text}"
            rows = text.split("\n")
            comma = _BARE_COMMA.match(rows[min(int(line_text), len(rows)) - 1])
            if comma is not None:
                key, number = spelled((comma[1],)), comma[2][:40]
                raise ProjectError(
                    f"{key} = {number}: a comma stands outside quotes",
                    where=where,
                    mend=f'write {key} = {number.replace(",", ".")}, or with a unit in quotes, like "{number} mm"',
                ) from None
            message = message.replace(place[0], "").strip()
        raise ProjectError(
            f"not valid TOML: {printable(message)[:160]}", where=where, mend='write key = "value", one per line'
        ) from None
    return TomlText(path=path, text=text, data=data)


def _keys(text: str) -> tuple[str, ...]:
    """'a."b c".d' -> ('a', 'b c', 'd'); escapes inside quotes are left as they stand."""
    return tuple(part.strip("\"'") for part in re.findall(_PART, text))


def find_lines(text: str) -> dict[Location, int]:
    """Location of every table, key and array element -> line number, for text that is valid TOML."""
    lines: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    prefix: Location = ()
    position, length = 0, len(text)
    line = 1
    while position < length:
        end = text.find("\n", position)
        end = length if end < 0 else end
        header = _HEADER.match(text, position, end)
        key = _KEY.match(text, position, end)
        if key is not None:
            location = prefix + _keys(key[1])
            for size in range(len(prefix) + 1, len(location) + 1):
                lines.setdefault(location[:size], line)
            position, line = _scan_value(text, key.end(), line, location, lines)
            continue
        if header is not None:
            prefix = _resolve(_keys(header[2]), counts, new_element=header[1] == "[[")
            lines.setdefault(prefix, line)
            if header[1] == "[[":
                lines.setdefault(prefix[:-1], line)
        position, line = end + 1, line + 1
    return lines


def _resolve(keys: tuple[str, ...], counts: dict[Location, int], *, new_element: bool) -> Location:
    """Header keys with the index of the array element they belong to put in."""
    location: Location = ()
    for number, key in enumerate(keys):
        location += (key,)
        last = number == len(keys) - 1
        if last and new_element:
            counts[location] = counts.get(location, -1) + 1
            location += (counts[location],)
        elif location in counts:
            location += (counts[location],)
    return location


def _scan_value(text: str, position: int, line: int, location: Location, lines: dict[Location, int]) -> tuple[int, int]:
    """Step over one value; note the line where each array element starts. Returns (position, line) after it."""
    stack: list[int] = []
    fresh = False
    length = len(text)
    while position < length:
        character = text[position]
        if character == "\n":
            position, line = position + 1, line + 1
            if not stack:
                return position, line
            continue
        if character == "#":
            end = text.find("\n", position)
            position = length if end < 0 else end
            continue
        if fresh and stack and stack[-1] >= 0 and not character.isspace() and character != "]":
            lines.setdefault((*location, *(index for index in stack if index >= 0)), line)
            fresh = False
        if character in "\"'":
            position, line = _skip_string(text, position, line)
            continue
        if character == "[":
            stack.append(0)
            fresh = True
        elif character == "{":
            stack.append(-1)
        elif character in "]}" and stack:
            stack.pop()
        elif character == "," and stack and stack[-1] >= 0:
            stack[-1] += 1
            fresh = True
        position += 1
    return position, line


def _skip_string(text: str, position: int, line: int) -> tuple[int, int]:
    quote = text[position]
    mark = quote * 3 if text.startswith(quote * 3, position) else quote
    end = position + len(mark)
    while end < len(text) and not text.startswith(mark, end):
        if text[end] == "\\" and quote == '"':
            end += 1
        end += 1
    end = min(len(text), end + len(mark))
    while len(mark) == 3 and text.startswith(quote, end):  # a quote may stand just before the closing mark
        end += 1
    return end, line + text.count("\n", position, end)
