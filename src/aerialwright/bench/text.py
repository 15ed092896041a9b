"""From the bytes of a person's file to lines of text, and from cells to numbers, with the line of every fault."""

from __future__ import annotations

import codecs
from collections.abc import Sequence

import numpy as np

from aerialwright.base.errors import AerialwrightError, printable
from aerialwright.bench.records import Repair
from aerialwright.solution.records import FloatArray

#: Larger files are no sweep [byte]: a million two-port points with all their digits take less.
LARGEST_FILE = 250_000_000
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
#: No number of a sweep is larger, whatever its unit.
LARGEST_NUMBER = 1e15
#: What a decimal number is written with; ``float`` alone would also take 'nan', '1_000' and the digits of other scripts.
_NUMERIC = frozenset("0123456789+-.eE")
_PLAIN = bytes(ord(character) for character in _NUMERIC) + b" "
_ALLOWED_CONTROL = frozenset("\t\n\r\x0c\x1a")


#: The way out wherever a sweep without phase is of no use.
WITH_PHASE = "measure R and X, or S11 with its phase"


class SweepError(AerialwrightError):
    """A sweep that cannot be read, moved or compared; names file and line."""


def at_line(name: str, line: int) -> str:
    """'sweep.s1p, line 12'."""
    return f"{name}, line {line}"


def quoted(text: str) -> str:
    """A piece of the file for a message: short, printable, in quotes."""
    shown = printable(text[:40])
    return f"'{shown}'" if len(text) <= 40 else f"'{shown}...'"


def decode(data: bytes, *, name: str) -> tuple[str, list[Repair]]:
    """Text of a file with line ends made one kind, and what was unusual about its encoding.

    UTF-8, UTF-16 and Latin-1, with or without a byte-order mark. Raises :class:`SweepError` for what is no text.
    """
    if len(data) > LARGEST_FILE:
        raise SweepError(
            f"is larger than {LARGEST_FILE // 1_000_000} MB", where=name, mend="export fewer points, or one trace only"
        )
    encoding, notes = _encoding(data)
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        raise SweepError(
            f"starts as {encoding} text and breaks off", where=name, mend="export the sweep again as plain text"
        ) from None
    text = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\x1a")
    for number, line in enumerate(text[:200_000].split("\n"), 1):
        if not line.isprintable() and any(c < " " and c not in _ALLOWED_CONTROL for c in line):
            raise SweepError(
                "holds bytes that are no text", where=at_line(name, number),
                mend="export the sweep as Touchstone (.s1p) or CSV, not in the instrument's own format",
            )  # fmt: skip
    if not text.strip():
        raise SweepError("is empty", where=name, mend="export the sweep again")
    return text, notes


def _encoding(data: bytes) -> tuple[str, list[Repair]]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return encoding, []
    head = data[:4000]
    if len(head) >= 8 and len(data) % 2 == 0:
        for encoding, start in (("utf-16-le", 1), ("utf-16-be", 0)):
            # Text of an instrument is mostly ASCII: every other byte is zero.
            if head[start::2].count(0) > 0.8 * len(head[start::2]) and head[1 - start :: 2].count(0) == 0:
                return encoding, [Repair("UTF-16 text without its byte-order mark")]
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1", [Repair("is not UTF-8; read as Latin-1, which can only change comments and headings")]
    return "utf-8", []


def is_number(text: str) -> bool:
    """True for a decimal number written with ASCII digits, no larger than :data:`LARGEST_NUMBER`."""
    if not text or not _NUMERIC.issuperset(text):
        return False
    try:
        return abs(float(text)) <= LARGEST_NUMBER
    except ValueError:
        return False


def numbers(tokens: Sequence[str], lines: Sequence[int], *, name: str) -> FloatArray:
    """``tokens`` as an array; ``lines`` tells where each stands. Raises :class:`SweepError` with the line of the first bad one."""
    joined = " ".join(tokens)
    if joined.isascii() and not joined.encode("ascii").translate(None, _PLAIN):
        try:
            found = np.array(list(map(float, tokens)), dtype=np.float64)
        except ValueError:
            pass
        else:
            if np.all(np.abs(found) <= LARGEST_NUMBER):
                return found
    bad = next(index for index, token in enumerate(tokens) if not is_number(token))
    comma = "," in tokens[bad]
    raise SweepError(
        f"{quoted(tokens[bad])} is no number", where=at_line(name, lines[bad]),
        mend="write decimals with a point" if comma else "correct or remove that line",
    )  # fmt: skip
