"""Touchstone files of one and two ports, versions 1.0 to 2.1 [@touchstone].

The grammar is read here and not by scikit-rf because that refuses option lines whose items are left out or stand in another
order, which the specification allows, and lets pass what a bench must refuse; docs/decisions/0033-own-touchstone-reader.md.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from aerialwright.bench.records import Repair
from aerialwright.bench.text import SweepError, at_line, is_number, numbers, quoted
from aerialwright.lines.mismatch import reflection
from aerialwright.solution.records import ComplexArray, FloatArray

HERTZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
#: What a reference resistance can be [ohm].
LOWEST_REFERENCE, HIGHEST_REFERENCE = 1e-3, 1e6
_FORMATS = ("ri", "ma", "db")
_PARAMETERS = ("s", "y", "z", "g", "h")
_KEYWORD = re.compile(r"\[\s*([^\]]+?)\s*\]\s*(.*)")
#: Numbers of one record -> ports, for the full and the triangular matrix.
_PORTS = {3: 1, 9: 2}
_IGNORED = {
    "two-port data order",
    "two-port order",
    "number of noise frequencies",
    "begin information",
    "end information",
}


@dataclass
class _Option:
    """The option line: unit [Hz], parameter, format, reference resistances [ohm]."""

    unit: float = 1e9
    parameter: str = "s"
    form: str = "ma"
    resistance: tuple[float, ...] = (50.0,)


@dataclass
class _File:
    """What was found so far."""

    name: str
    option: _Option | None = None
    version: str = "1.0"
    ports: int | None = None
    expected: int | None = None
    reference: tuple[float, ...] = ()
    matrix: str = "full"
    tokens: list[str] = field(default_factory=list)
    #: Line of every token; where each record starts among the tokens.
    lines: list[int] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)

    def note(self, what: str, line: int) -> None:
        """A repair, told once."""
        if not any(repair.what == what for repair in self.repairs) and len(self.repairs) < 100:
            self.repairs.append(Repair(what, at_line(self.name, line)))

    def fault(self, what: str, line: int, mend: str) -> SweepError:
        """An error at ``line``."""
        return SweepError(what, where=at_line(self.name, line), mend=mend)


@dataclass(frozen=True)
class Points:
    """Raw points in the order of the file: ``reflection`` (n,) against ``reference`` [ohm]; ``lines`` (n,) of the file."""

    frequency: FloatArray
    reflection: ComplexArray
    reference: float
    lines: FloatArray
    phase_known: bool
    repairs: tuple[Repair, ...]


def looks_like_touchstone(text: str) -> bool:
    """True when the first line that is no comment is an option line or a keyword."""
    for line in text[:100_000].split("\n"):
        body = line.partition("!")[0].strip()
        if body:
            words = body[1:].lower().split()
            known = {*HERTZ, *_FORMATS, *_PARAMETERS, "r"}
            return (body[0] == "#" and all(w in known or is_number(w) for w in words)) or body.lower().startswith(
                "[version]"
            )
    return False


def read_touchstone(text: str, *, name: str, port: int) -> Points:
    """The reflection at ``port`` with the other port, if any, ended in its reference. Raises :class:`SweepError`."""
    file = _File(name)
    _collect(file, text)
    option = file.option or _Option()
    if file.option is None:
        file.repairs.append(Repair("no option line: GHz, S, magnitude and angle, 50 ohm, as the specification says"))
    if option.parameter in "gh":
        raise SweepError(f"holds {option.parameter.upper()} parameters", where=name, mend="export S, Y or Z parameters")
    table, first_lines, ports = _records(file)
    _check_port(file, ports, port)
    if file.expected is not None and file.expected != len(table):
        raise file.fault(
            f"{len(table)} frequencies where {file.expected} are announced", file.lines[-1],
            "the file is cut short or was edited: export it again",
        )  # fmt: skip
    resistances = _references(file, option, ports)
    found = _port_reflection(_complex(table[:, 1:], option.form), file, option, ports, resistances, port)
    with np.errstate(over="ignore"):
        frequency = table[:, 0] * option.unit
    return Points(frequency, found, resistances[port - 1], first_lines, True, tuple(file.repairs))


def _bodies(text: str) -> Iterator[tuple[int, str]]:
    """Number and text of every line with its comment removed, blank ones left out."""
    for number, line in enumerate(text.split("\n"), 1):
        if "!" in line:
            line = line.partition("!")[0]
        body = line.strip()
        if body:
            yield number, body


def _collect(file: _File, text: str) -> None:
    """Sort every line into option, keywords and numbers."""
    skipping, pending, ended, noise, number, whole_rows = "", False, False, False, 1, False
    for number, body in _bodies(text):
        if ended:
            file.note("text after [End] was not read", number)
            break
        if body[0] == "#":
            _take_option(file, body, number)
            continue
        if body[0] == "[":
            key, rest = _keyword(file, body, number)
            pending = key == "reference"
            skipping = "information" if key == "begin information" else "" if key == "end information" else skipping
            noise = noise or key == "noise data"
            ended = key == "end"
            if pending:
                body = rest
            else:
                continue
        if skipping or noise:
            continue
        words = body.split()
        if pending:
            file.reference += tuple(_positive(file, word, number) for word in words)
            continue
        if not file.starts:
            whole_rows = len(words) == 3 and file.ports != 2
        # An even count is pairs without a frequency: a row of the matrix that goes on.
        if len(words) % 2 or not file.starts or whole_rows:
            file.starts.append(len(file.tokens))
        file.tokens += words
        file.lines += [number] * len(words)
    if not file.tokens:
        raise file.fault("holds no data", number, "export the sweep again")
    if file.version >= "2" and not ended:
        raise file.fault(
            "[End] is missing: the file is cut short", number, "export it again, or add [End] if it is complete"
        )


def _take_option(file: _File, body: str, number: int) -> None:
    if file.option is not None:
        file.note("a second option line was not read", number)
        return
    if file.tokens:
        raise file.fault("the option line stands after data", number, "move the line that starts with # to the top")
    option, words = _Option(), body[1:].lower().split()
    while words:
        word = words.pop(0)
        if word in HERTZ:
            option.unit = HERTZ[word]
        elif word in _FORMATS:
            option.form = word
        elif word in _PARAMETERS:
            option.parameter = word
        elif word == "r" and words:
            found = [_positive(file, words.pop(0), number)]
            # Version 1.1: one resistance for each port, the last thing on the line.
            while words and is_number(words[0]):
                found.append(_positive(file, words.pop(0), number))
            option.resistance = tuple(found)
        else:
            raise file.fault(
                f"{quoted(word)} does not belong on an option line", number, "write it like '# MHz S RI R 50'"
            )
    file.option = option


def _positive(file: _File, word: str, number: int) -> float:
    if not is_number(word) or not LOWEST_REFERENCE <= float(word) <= HIGHEST_REFERENCE:
        raise file.fault(
            f"{quoted(word)} is no reference resistance",
            number,
            f"give a real number of {LOWEST_REFERENCE:g} to {HIGHEST_REFERENCE:g} ohm",
        )
    return float(word)


def _keyword(file: _File, body: str, number: int) -> tuple[str, str]:
    match = _KEYWORD.fullmatch(body)
    if match is None:
        raise file.fault(f"{quoted(body)} is no keyword", number, "close the bracket")
    key, rest = " ".join(match[1].lower().split()), match[2]
    if key == "version":
        if rest not in ("1.0", "1.1", "2.0", "2.1"):
            raise file.fault(f"version {quoted(rest)} is not known", number, "export version 1 or 2")
        file.version = rest
    elif key in ("number of ports", "number of frequencies"):
        if not (rest.isascii() and rest.isdigit() and int(rest[:9]) > 0):
            raise file.fault(f"{quoted(rest)} is no count", number, "write a whole number from 1 up")
        if key == "number of ports":
            file.ports = int(rest[:9])
        else:
            file.expected = int(rest[:9])
    elif key == "matrix format":
        if rest.lower() not in ("full", "lower", "upper"):
            raise file.fault(f"{quoted(rest)} is no matrix format", number, "write Full, Lower or Upper")
        file.matrix = rest.lower()
    elif key in ("mixed-mode order", "mixed mode order"):
        raise file.fault("holds mixed-mode parameters", number, "export single-ended S parameters")
    elif key not in _IGNORED and key not in ("reference", "network data", "noise data", "end"):
        file.note(f"keyword {quoted(key)} is not known and was not read", number)
    return key, rest


def _records(file: _File) -> tuple[FloatArray, FloatArray, int]:
    """Table (n, 1 + numbers), line of each record (n,), ports; noise rows of a two-port left out."""
    bounds = np.array([*file.starts, len(file.tokens)])
    sizes = np.diff(bounds)
    full = int(sizes[0])
    known = {**_PORTS, 7: 2} if file.matrix != "full" else _PORTS
    if file.ports is not None and file.ports > 2:
        raise SweepError(f"has {file.ports} ports", where=file.name, mend="export a one-port or a two-port")
    if full not in known:
        raise file.fault(
            f"{full} numbers in a row: a one-port has 3 (frequency and one pair), a two-port 9", file.lines[0],
            "the file is cut short, or has more than two ports",
        )  # fmt: skip
    ports, used = known[full], len(sizes)
    if file.ports is not None and file.ports != ports:
        raise file.fault(f"rows of {ports} ports where {file.ports} are announced", file.lines[0], "export it again")
    odd = np.flatnonzero(sizes != full)
    if len(odd):
        first = int(odd[0])
        line = file.lines[int(bounds[first])]
        if not (ports == 2 and full == 9 and np.all(sizes[first:] == 5)):
            row = slice(int(bounds[first]), int(bounds[first + 1]))
            numbers(file.tokens[row], file.lines[row], name=file.name)  # a word among them is the better explanation
            raise file.fault(
                f"{sizes[first]} numbers in a row where the rows above have {full}", line,
                "the file is cut short or damaged there: export it again, or remove that line",
            )  # fmt: skip
        used = first
        file.repairs.append(Repair("noise data was not read", at_line(file.name, line)))
    end = int(bounds[used])
    values = numbers(file.tokens[:end], file.lines[:end], name=file.name).reshape(used, full)
    return values, np.asarray(file.lines)[bounds[:used]], ports


def _check_port(file: _File, ports: int, port: int) -> None:
    if not 1 <= port <= ports:
        raise SweepError(
            f"has {'one port' if ports == 1 else 'two ports'}, port {port} was asked",
            where=file.name,
            mend="ask for port 1",
        )
    extension = file.name.lower().rpartition(".")[2]
    if re.fullmatch(r"s\dp", extension) and int(extension[1]) != ports:
        file.repairs.append(
            Repair(f"is named .{extension} but its rows are those of {ports} port{'s' * (ports > 1)}; read so")
        )
    if ports == 2:
        file.repairs.append(Repair(f"two-port: S{port}{port} taken, with the other port ended in its reference"))


def _references(file: _File, option: _Option, ports: int) -> tuple[float, ...]:
    given = file.reference or option.resistance
    if len(given) not in (1, ports):
        raise SweepError(
            f"gives {len(given)} reference resistances for {ports} port{'s' * (ports > 1)}", where=file.name,
            mend="give one, or one for each port",
        )  # fmt: skip
    return given if len(given) == ports else given * ports


def _complex(pairs: FloatArray, form: str) -> ComplexArray:
    """Pairs of columns as complex numbers (n, m)."""
    first, second = pairs[:, 0::2], pairs[:, 1::2]
    if form == "ri":
        return np.asarray(first + 1j * second)
    with np.errstate(over="ignore", invalid="ignore"):
        size = 10.0 ** (first / 20.0) if form == "db" else first
        return np.asarray(size * np.exp(1j * np.radians(second)))


def _port_reflection(
    values: ComplexArray, file: _File, option: _Option, ports: int, resistances: tuple[float, ...], port: int
) -> ComplexArray:
    """Reflection (n,) at ``port``; Z and Y of version 1 are relative to the option line's resistance."""
    if option.parameter == "s":
        return values[:, 0] if port == 1 else values[:, -1]
    if file.version < "2" and len(set(option.resistance)) > 1:
        raise SweepError(
            f"gives {option.parameter.upper()} relative to several resistances",
            where=file.name,
            mend="export S parameters",
        )
    scale = 1.0 if file.version >= "2" else option.resistance[0]
    if option.parameter == "y":
        scale = 1.0 / scale
    if ports == 1:
        z = values[:, 0] * scale
        if option.parameter == "z":
            return reflection(z, reference=resistances[0])
        return -reflection(z, reference=1.0 / resistances[0])
    full = values if values.shape[1] == 4 else values[:, [0, 1, 1, 2]]
    root = np.sqrt(np.asarray(resistances))
    weight = np.outer(root, root) if option.parameter == "y" else 1.0 / np.outer(root, root)
    matrix = full.reshape(-1, 2, 2) * scale * weight
    unit = np.eye(2)
    try:
        found = np.linalg.solve(matrix + unit, matrix - unit)
    except np.linalg.LinAlgError:
        raise SweepError(
            "its parameters belong to no passive two-port", where=file.name, mend="export S parameters"
        ) from None
    # (m + 1)^-1 (m - 1) = (m - 1)(m + 1)^-1: both are functions of one matrix.
    found = found if option.parameter == "z" else -found
    return np.asarray(found[:, port - 1, port - 1])
