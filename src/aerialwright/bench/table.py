"""Sweeps as tables of numbers: comma, semicolon, tab or blanks between cells, decimal point or comma, headings in words.

Which column is what is found by its heading or told by the caller; a guess that could be wrong is refused with the list of
headings instead.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from aerialwright.bench.records import Repair
from aerialwright.bench.text import SweepError, at_line, is_number, numbers, quoted
from aerialwright.bench.touchstone import HERTZ, Points
from aerialwright.lines.mismatch import reflection, reflection_of_swr
from aerialwright.solution.records import ComplexArray, FloatArray

#: What a caller may name: a heading or a column number from 1.
ROLES = ("frequency", "resistance", "reactance", "real", "imaginary", "magnitude", "phase", "return_loss", "swr")
#: What else a caller may say: the unit of a column whose heading has none.
UNITS = {"frequency_unit": tuple(HERTZ), "magnitude_unit": ("db", "linear"), "phase_unit": ("deg", "rad")}
#: Sets of columns that make a sweep, best first.
_SETS = (
    ("resistance", "reactance"), ("real", "imaginary"), ("magnitude", "phase"), ("resistance", "reactance_size"), ("magnitude",),
    ("return_loss",), ("swr",),
)  # fmt: skip
#: More columns are no sweep.
MOST_COLUMNS = 500
_SAID = "give columns, such as frequency and swr, each with its heading or its number from 1"


@dataclass
class _Sheet:
    """Cells of a table: ``headings``, the rows of numbers as text by column, and the line of each row."""

    name: str
    headings: list[str]
    rows: list[list[str]]
    lines: list[int]
    comma_decimals: bool
    repairs: list[Repair]

    def column(self, index: int) -> FloatArray:
        """Column ``index`` as numbers."""
        try:
            tokens = [row[index].strip() for row in self.rows]
        except IndexError:
            short = next(k for k, row in enumerate(self.rows) if len(row) <= index)
            raise SweepError(
                f"the row ends before column {index + 1}", where=at_line(self.name, self.lines[short]),
                mend="the file is cut short or damaged there: export it again, or remove that line",
            ) from None  # fmt: skip
        if self.comma_decimals:
            tokens = [token.replace(",", ".") for token in tokens]
        return numbers(tokens, self.lines, name=self.name)

    def named(self) -> str:
        """The headings for a message."""
        shown = [f"{k + 1} {quoted(heading)}" for k, heading in enumerate(self.headings[:12])]
        return ", ".join(shown) or "none"


def read_table(
    text: str, *, name: str, port: int, columns: Mapping[str, str | int] | None, reference: float | None
) -> Points:
    """A sweep from a table; see :data:`ROLES` and :data:`UNITS` for ``columns``. Raises :class:`SweepError`."""
    sheet = _sheet(text, name)
    told = _told(columns or {}, sheet)
    places = _places(sheet, told, port)
    z0 = reference or 50.0
    frequency = sheet.column(places["frequency"]) * _frequency_unit(sheet, places["frequency"], told)
    chosen = next((s for s in _SETS if all(role in places for role in s)), None)
    if chosen is None:
        raise SweepError(f"no columns of R and X, of S11 or of SWR among: {sheet.named()}", where=name, mend=_SAID)
    found, known = _reflection(sheet, places, chosen, told, z0)
    if reference is None:
        sheet.repairs.append(Repair("states no reference impedance: 50 ohm taken"))
    return Points(frequency, found, z0, np.asarray(sheet.lines), known, tuple(sheet.repairs))


def _sheet(text: str, name: str) -> _Sheet:
    """Split into rows; the headings are the last words before the first row of numbers."""
    lines = [(k, line) for k, line in enumerate(text.split("\n"), 1) if line.strip()]
    split, comma_decimals = _splitter(lines)
    headings: list[str] = []
    rows: list[list[str]] = []
    numbers_at: list[int] = []
    repairs: list[Repair] = []
    for number, line in lines:
        cells = split(line)
        first = cells[0].strip() if cells else ""
        if _numeric(first, comma_decimals):
            rows.append(cells)
            numbers_at.append(number)
        elif not rows:
            bare = split(line.lstrip("#!%;* "))
            if len([cell for cell in bare if cell.strip()]) > 1 or not headings:
                headings = [cell.strip() for cell in bare]
        elif first[:1] in ("#", "!", "%") or first.lower() == "end":
            if not repairs:
                repairs.append(Repair("remarks below the first row were not read", at_line(name, number)))
        else:
            raise SweepError(
                f"{quoted(first)} is no frequency", where=at_line(name, number), mend="correct or remove that line"
            )
    if not rows:
        raise SweepError("holds no rows of numbers", where=name, mend="export the sweep as Touchstone (.s1p) or CSV")
    if len(rows[0]) > MOST_COLUMNS:
        raise SweepError(
            f"has {len(rows[0])} columns",
            where=at_line(name, numbers_at[0]),
            mend="export frequency and one trace only",
        )
    if len(headings) < len(rows[0]):
        headings += [""] * (len(rows[0]) - len(headings))
    return _Sheet(name, headings, rows, numbers_at, comma_decimals, repairs)


def _splitter(lines: list[tuple[int, str]]) -> tuple[Callable[[str], list[str]], bool]:
    """How to split a line into cells, and whether decimals are written with a comma."""
    sample = [line for _, line in lines if re.match(r'[\s"]*[+-]?[.,]?\d', line)][:50] or [
        line for _, line in lines[:50]
    ]

    def by(mark: str) -> Callable[[str], list[str]]:
        def split(line: str) -> list[str]:
            if '"' not in line:
                return line.split(mark)
            try:
                return next(csv.reader([line], delimiter=mark, skipinitialspace=True), [])
            except csv.Error:
                return line.split(mark)

        return split

    for mark in ("\t", ";"):
        if all(mark in line for line in sample):
            return by(mark), any("," in line for line in sample)
    if all("," in line for line in sample):
        # '144,5 50,1' is blanks between decimal commas; '144.5, 50.1' is commas between decimal points.
        if all(re.fullmatch(r"\s*[+-]?\d+,\d+(\s+[+-]?\d+,\d+(e[+-]?\d+)?)+\s*", line, re.I) for line in sample):
            return str.split, True
        return by(","), any(re.search(r'"[+-]?\d+,\d+"', line) for line in sample)
    return str.split, any("," in line for line in sample)


def _numeric(cell: str, comma_decimals: bool) -> bool:
    return is_number(cell.replace(",", ".") if comma_decimals else cell)


def _told(columns: Mapping[str, str | int], sheet: _Sheet) -> dict[str, str | int]:
    """What the caller says, checked: columns become indices from 0."""
    told: dict[str, str | int] = {}
    for key, value in columns.items():
        if key in UNITS:
            if str(value).lower() not in UNITS[key]:
                raise SweepError(
                    f"{quoted(str(value))} is no unit", where=key, mend=f"allowed: {', '.join(UNITS[key])}"
                )
            told[key] = str(value).lower()
            continue
        if key not in ROLES:
            raise SweepError(
                f"{quoted(key)} is nothing a sweep has", where="columns", mend=f"allowed: {', '.join((*ROLES, *UNITS))}"
            )
        wanted = str(value).strip().casefold()
        matches = [k for k, heading in enumerate(sheet.headings) if heading.casefold() == wanted]
        if not matches and wanted.isascii() and wanted.isdigit() and 1 <= int(wanted[:6]) <= len(sheet.rows[0]):
            matches = [int(wanted) - 1]
        if len(matches) != 1:
            raise SweepError(
                f"{quoted(str(value))} is {'no' if not matches else 'more than one'} column; headings: {sheet.named()}",
                where=f"{sheet.name}, {key}", mend="give the heading exactly, or the number of the column from 1",
            )  # fmt: skip
        told[key] = matches[0]
    return told


def _words(heading: str) -> set[str]:
    text = heading.lower().replace("°", " deg ").replace("ω", " ohm ").replace("γ", " gamma ")
    return set(re.findall(r"s\d\d|[a-zµ]+", text))


def _role(heading: str, port: int) -> str | None:
    """What a heading means; None where nothing or another port is meant."""
    words = _words(heading)
    other = {"s11", "s12", "s21", "s22"} - {f"s{port}{port}"}
    if words & other:
        return None
    if words & {"swr", "vswr", "ros", "tos"}:
        return "swr"
    if words & {"rl", "returnloss", "return"}:
        return "return_loss"
    impedance = words & {"z", "impedance", "ohm", "ohms"}
    if words & {"phase", "ang", "angle", "arg", "theta", "deg", "degree", "degrees", "rad", "radian", "radians"}:
        return None if impedance else "phase"
    if words & {
        "f",
        "freq",
        "frequency",
        "frequencies",
        "frequenz",
        "frequence",
        "hz",
        "khz",
        "mhz",
        "ghz",
        "stimulus",
    }:
        return "frequency"
    real, imaginary = words & {"re", "real"}, words & {"im", "imag", "imaginary"}
    if words & {"r", "rs", "resistance"} or (real and impedance):
        return "resistance"
    if words & {"x", "xs", "reactance"} or (imaginary and impedance):
        return "reactance_size" if re.search(r"\|\s*xs?\s*\||abs", heading.lower()) else "reactance"
    if real:
        return "real"
    if imaginary:
        return "imaginary"
    if impedance:
        return None
    if words & {"mag", "magnitude", "amplitude", "gamma", "rho", "reflection", "logmag", f"s{port}{port}", "db"}:
        return "magnitude"
    return None


def _places(sheet: _Sheet, told: Mapping[str, str | int], port: int) -> dict[str, int]:
    """Role -> column: what the caller says, then what headings say; a role that two headings claim is left out."""
    places = {role: int(told[role]) for role in ROLES if role in told}
    if set(places) - {"frequency"}:
        if "frequency" in places:
            return places
        found = {"frequency": _claims(sheet, port).get("frequency", [])}
    else:
        found = _claims(sheet, port)
    for role, columns in found.items():
        if role not in places and len(columns) == 1:
            places[role] = columns[0]
    if "frequency" not in places:
        raise SweepError(f"no column of frequency among: {sheet.named()}", where=sheet.name, mend=_SAID)
    return places


def _claims(sheet: _Sheet, port: int) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for index, heading in enumerate(sheet.headings[: len(sheet.rows[0])]):
        role = _role(heading, port)
        if role is not None:
            found.setdefault(role, []).append(index)
    return found


def _frequency_unit(sheet: _Sheet, column: int, told: Mapping[str, str | int]) -> float:
    if "frequency_unit" in told:
        return HERTZ[str(told["frequency_unit"])]
    words = _words(sheet.headings[column])
    found = [factor for unit, factor in HERTZ.items() if unit in words]
    if found:
        return found[0]
    # From ten million up it can only be hertz: in kHz it would be 10 GHz.
    if float(sheet.column(column).min()) >= 1e7:
        sheet.repairs.append(Repair("the heading gives no unit of frequency: hertz taken, for the size of the numbers"))
        return 1.0
    raise SweepError(
        f"the heading {quoted(sheet.headings[column])} gives no unit", where=sheet.name,
        mend="give columns with frequency_unit: Hz, kHz, MHz or GHz",
    )  # fmt: skip


def _reflection(
    sheet: _Sheet, places: Mapping[str, int], chosen: tuple[str, ...], told: Mapping[str, str | int], z0: float
) -> tuple[ComplexArray, bool]:
    """Reflection (n,) against ``z0`` [ohm], and whether its phase is known."""
    first = sheet.column(places[chosen[0]])
    if chosen[0] in ("resistance", "real") and len(chosen) == 2:
        second = sheet.column(places[chosen[1]])
        value = first + 1j * second
        if chosen[0] == "real":
            return value, True
        signed = chosen[1] == "reactance"
        if not signed:
            sheet.repairs.append(Repair("the reactance is given without sign: its phase is not used"))
        return reflection(value, reference=z0), signed
    if chosen[0] == "swr":
        low = np.flatnonzero(first < 1.0)
        if len(low):
            raise SweepError(
                f"an SWR of {first[low[0]]:g} is below 1", where=at_line(sheet.name, sheet.lines[int(low[0])]),
                mend="check which column is the SWR",
            )  # fmt: skip
        return reflection_of_swr(first).astype(np.complex128), False
    size = _size(sheet, places[chosen[0]], first, chosen[0], told)
    if len(chosen) == 1:
        return size.astype(np.complex128), False
    return size * np.exp(1j * _phase(sheet, places["phase"], told)), True


def _size(sheet: _Sheet, column: int, values: FloatArray, role: str, told: Mapping[str, str | int]) -> FloatArray:
    """Magnitude of the reflection from a linear or a decibel column of either sign."""
    words = _words(sheet.headings[column])
    unit = told.get("magnitude_unit") or ("db" if words & {"db", "logmag"} or role == "return_loss" else None)
    if unit is None:
        unit = "db" if float(values.min()) < 0.0 else "linear"
        sheet.repairs.append(
            Repair(f"the heading gives no unit of magnitude: {unit} taken, for the sign of the numbers")
        )
    if unit == "linear":
        return values
    if role == "magnitude" and float(np.median(values)) > 0.5:
        sheet.repairs.append(Repair("decibels above zero: read as return loss"))
        role = "return_loss"
    # Some instruments print return loss below zero; noise about zero keeps its sign either way.
    down = values if role == "magnitude" or float(np.median(values)) < 0.0 else -values
    return np.asarray(10.0 ** (np.clip(down, -400.0, 400.0) / 20.0))


def _phase(sheet: _Sheet, column: int, told: Mapping[str, str | int]) -> FloatArray:
    values = sheet.column(column)
    words = _words(sheet.headings[column])
    unit = told.get("phase_unit")
    if unit is None and words & {"rad", "radian", "radians"}:
        unit = "rad"
    if unit is None and not words & {"deg", "degree", "degrees"}:
        if float(np.abs(values).max()) < 6.5:
            raise SweepError(
                f"the heading {quoted(sheet.headings[column])} gives no unit", where=sheet.name,
                mend="give columns with phase_unit: deg or rad",
            )  # fmt: skip
        sheet.repairs.append(Repair("the heading gives no unit of phase: degrees taken, for the size of the numbers"))
    return values if unit == "rad" else np.radians(values)
