"""A free-form structure solved, with what stands between it and its line, as text and as plain data."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from aerialwright.base.errors import QuantityError
from aerialwright.base.printing import counted, format_component, format_frequency, format_impedance
from aerialwright.lines.mismatch import FloatArray, finite_swr, reflection
from aerialwright.lines.network import Behind, Element, Part, Series, Shunt, match_l, through
from aerialwright.project.structures import read_structure_file
from aerialwright.solution.solve import Solution, solve

#: Rows of the printed table.
MOST_ROWS = 21


@dataclass(frozen=True)
class SolvedFile:
    """``solution`` at the feed, and ``behind`` the ``elements`` of the file (None: it has none); SWR refers to ``reference`` [ohm]."""

    name: str
    solution: Solution
    elements: tuple[Element, ...]
    behind: Behind | None
    reference: float

    @property
    def swr(self) -> FloatArray:
        """SWR (n,) at the feed."""
        return finite_swr(reflection(self.solution.sweep.impedance, reference=self.reference))


def solve_file(
    path: Path, frequency: FloatArray, *, reference: float = 50.0, progress: Callable[[float], None] | None = None
) -> SolvedFile:
    """Solve a free-form structure file over ``frequency`` [Hz]."""
    structure, elements = read_structure_file(path)
    solution = solve(structure, frequency, progress=progress)
    behind = through(elements, load=solution.sweep.impedance, frequency=solution.sweep.frequency) if elements else None
    return SolvedFile(path.name, solution, elements, behind, reference)


@dataclass(frozen=True)
class Matched:
    """``load`` [ohm] that the file shows at ``frequency`` [Hz], and every L-network that matches it, antenna's side first."""

    frequency: float
    load: complex
    networks: tuple[tuple[Series | Shunt, Series | Shunt], ...]


def matched(solved: SolvedFile, frequency: float) -> Matched:
    """L-networks from what stands behind the parts of the file to the reference impedance.

    Raises QuantityError outside of the sweep.
    """
    at = solved.solution.sweep.frequency
    if not at[0] <= frequency <= at[-1]:
        raise QuantityError(
            f"{format_frequency(frequency)} lies outside the sweep",
            where="--match",
            mend="put it between --from and --to",
        )
    raw = solved.solution.raw
    load = complex(raw.system.port_factor / raw.at(frequency).admittance)
    load = complex(through(solved.elements, load=np.array([load]), frequency=np.array([frequency])).impedance[0])
    return Matched(frequency, load, match_l(load, reference=solved.reference, frequency=frequency))


def matched_text(found: Matched, reference: float) -> str:
    """One line for each network, with the values of its parts."""
    lines = [f"from {format_impedance(found.load)} to {reference:g} ohm at {format_frequency(found.frequency)}:"]
    for number, (first, second) in enumerate(found.networks, 1):
        lines.append(f"  {number}. at the antenna {_said(first)}, then {_said(second)}")
    return "\n".join(lines)


def matched_data(found: Matched) -> dict[str, Any]:
    """The same as plain data in SI units."""
    return {
        "frequency_hz": found.frequency,
        "resistance_ohm": found.load.real,
        "reactance_ohm": found.load.imag,
        "networks": [
            [
                {
                    "kind": "series" if isinstance(element, Series) else "shunt",
                    "inductance_h": element.part.inductance,
                    "capacitance_f": element.part.capacitance,
                }
                for element in pair
            ]
            for pair in found.networks
        ],
    }


def _said(element: Series | Shunt) -> str:
    place = "in series" if isinstance(element, Series) else "across"
    part: Part = element.part
    if part.inductance is not None:
        return f"{format_component(part.inductance, 'inductance')} {place}"
    if part.capacitance is not None:
        return f"{format_component(part.capacitance, 'capacitance')} {place}"
    return f"nothing {place}"


def solved_text(solved: SolvedFile) -> str:
    """A table over frequency, pattern and efficiency in the middle, the self-checks, the cautions."""
    sweep, behind = solved.solution.sweep, solved.behind
    count = len(sweep.frequency)
    out = [f"{solved.name}: SWR refers to {solved.reference:g} ohm"]
    head = "     MHz    R ohm    X ohm   +/-    SWR"
    after = np.ones(count) if behind is None else finite_swr(reflection(behind.impedance, reference=solved.reference))
    if behind is not None:
        out.append(f"at the feed, and behind {counted(len(solved.elements), 'part')} toward the line")
        head += "  |    R ohm    X ohm    SWR   loss dB"
    out.append(head)
    for k in np.unique(np.round(np.linspace(0, count - 1, min(count, MOST_ROWS))).astype(int)):
        z = sweep.impedance[k]
        row = f"{sweep.frequency[k] / 1e6:8.3f} {z.real:8.2f} {z.imag:+8.2f} {sweep.impedance_error[k]:5.2f} {_ratio(solved.swr[k])}"
        if behind is not None:
            z, loss = behind.impedance[k], -10.0 * np.log10(behind.efficiency[k])
            row += f"  | {z.real:8.2f} {z.imag:+8.2f} {_ratio(after[k])} {max(loss, 0.0):9.2f}"
        out.append(row)
    middle, check = solved.solution.pattern(float(sweep.frequency[count // 2])), sweep.check
    out.append(
        f"peak directivity {10 * np.log10(middle.directivity):.2f} dBi and efficiency {100 * middle.efficiency:.1f} % "
        f"at {middle.frequency / 1e6:.3f} MHz"
    )
    ground = solved.solution.structure.ground
    if not isinstance(ground, str):
        metal = max(0.0, 100 * (1 - middle.efficiency - middle.into_ground))
        out.append(
            f"of the power {100 * middle.efficiency:.1f} % goes into the air, {100 * middle.into_ground:.1f} % into the "
            f"{ground.name}, {metal:.1f} % into the metal"
        )
    out.append(
        f"self-checks: power balance {100 * check.power_balance:.3f} %, finer solve differs {100 * check.discretisation:.2f} %, "
        f"sweep fit {100 * check.sweep_fit:.3f} %, {check.solves} solves of {check.unknowns} unknowns"
    )
    out += [f"caution: {caution.text}; {caution.remedy}" for caution in sweep.cautions]
    return "\n".join(out)


def _ratio(swr: float) -> str:
    return f"{swr:6.2f}" if swr < 999.5 else "  >999"


def solved_data(solved: SolvedFile, found: Matched | None = None) -> dict[str, Any]:
    """The same as plain data in SI units."""
    sweep, behind = solved.solution.sweep, solved.behind
    middle = solved.solution.pattern(float(sweep.frequency[len(sweep.frequency) // 2]))
    return {
        "structure": solved.name,
        "reference_ohm": solved.reference,
        "frequency_hz": sweep.frequency.tolist(),
        "resistance_ohm": sweep.impedance.real.tolist(),
        "reactance_ohm": sweep.impedance.imag.tolist(),
        "error_ohm": sweep.impedance_error.tolist(),
        "swr": solved.swr.tolist(),
        "behind": None
        if behind is None
        else {
            "resistance_ohm": behind.impedance.real.tolist(),
            "reactance_ohm": behind.impedance.imag.tolist(),
            "swr": finite_swr(reflection(behind.impedance, reference=solved.reference)).tolist(),
            "efficiency": behind.efficiency.tolist(),
        },
        "match": None if found is None else matched_data(found),
        "directivity_dbi": 10 * float(np.log10(middle.directivity)),
        "efficiency": middle.efficiency,
        "into_ground": middle.into_ground,
        "power_balance": sweep.check.power_balance,
        "discretisation": sweep.check.discretisation,
        "unknowns": sweep.check.unknowns,
        "solves": sweep.check.solves,
        "cautions": [caution.text for caution in sweep.cautions],
    }
