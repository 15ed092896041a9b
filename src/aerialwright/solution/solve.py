"""From a structure to a sweep with its error band and to patterns: the engine's answers as records."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from aerialwright.base.constants import eta0
from aerialwright.base.errors import Caution, StructureError
from aerialwright.engine.far_field import powers, radiation, shares
from aerialwright.engine.sweep import EngineSettings, Progress, RawSweep, prepare, run_sweep
from aerialwright.engine.threads import single_thread
from aerialwright.solution.records import ComplexArray, FloatArray, Pattern, SelfCheck, Sweep
from aerialwright.structure.model import Structure

#: The estimate from the finer solve is multiplied by this before it is printed: the finer mesh keeps up to 0.6 of the error of
#: the reported one (measured against finite elements, tests/published/test_finite_element_reference.py).
ERROR_MARGIN = 2.5
#: Below this the program does not claim to know the impedance of a model (relative).
ERROR_FLOOR = 1e-3


@dataclass(frozen=True)
class Solution:
    """A sweep, and the solved frequencies behind it for patterns."""

    structure: Structure
    sweep: Sweep
    raw: RawSweep

    def current(self, piece: str, frequency: float) -> tuple[FloatArray, ComplexArray]:
        """Total current [A] for one volt along a piece: (distance from its first point [m], current), as sorted arrays."""
        return current_on(self.raw, piece, frequency)

    def common_mode(self, piece: str, frequency: float) -> float:
        """Largest current on a piece (the coax outside, a mast) against the feed current [dB]."""
        _, current = self.current(piece, frequency)
        feed = abs(self.raw.solved_at(frequency).admittance)
        return 20.0 * math.log10(max(float(np.abs(current).max()) / feed, 1e-9))

    def pattern(self, frequency: float, *, theta: FloatArray | None = None, phi: FloatArray | None = None) -> Pattern:
        """Far field at one frequency [Hz] of the sweep's range; directions default to a full 2-degree sphere."""
        return pattern_of(self.raw, frequency, theta=theta, phi=phi)


def check_frequencies(frequency: FloatArray) -> None:
    """Refuse frequencies no sweep can have.

    Raises
    ------
    StructureError
        For an empty, unsorted, non-finite or non-positive list, or one beyond 30 GHz.
    """
    if frequency.ndim != 1 or len(frequency) == 0:
        raise StructureError("no frequencies", where="sweep", mend="give at least one")
    if not np.all(np.isfinite(frequency)) or frequency.min() < 1e5 or frequency.max() > 3e10:
        raise StructureError(
            "frequencies must lie between 0.1 MHz and 30 GHz", where="sweep", mend="check the unit (MHz, GHz)"
        )
    if np.any(np.diff(frequency) <= 0):
        raise StructureError("frequencies must rise", where="sweep", mend="put the lower edge first")


def solve(
    structure: Structure,
    frequency: FloatArray,
    *,
    settings: EngineSettings | None = None,
    check: bool = True,
    progress: Progress | None = None,
) -> Solution:
    """Impedance over ``frequency`` (n,) [Hz] with its error band.

    ``check=False`` leaves out the finer solve (for tuning); the band is then infinite, never zero.

    Raises
    ------
    StructureError
        If the metal cannot exist or be solved.
    """
    frequency = np.asarray(frequency, dtype=np.float64)
    check_frequencies(frequency)
    settings = settings or EngineSettings()
    with single_thread():
        system = prepare(structure, top_frequency=float(frequency[-1]), settings=settings.mesh)
        raw = run_sweep(
            system, frequency, tolerance=settings.tolerance, most_solves=settings.most_solves, progress=progress
        )
        if raw.fit_error > max(0.02, 5 * settings.tolerance):
            raise StructureError(
                f"after {len(raw.solved)} solves the sweep still misses by {100 * raw.fit_error:.0f} %",
                where="sweep",
                mend="sweep a narrower range: this one holds too many resonances",
            )
        impedance = system.port_factor / raw.admittance
        cautions = list(system.geometry.cautions)
        error = np.full(len(frequency), np.inf)
        worst = math.inf
        balance = math.inf
        if check:
            relative = _discretisation(structure, raw, settings)
            worst = float(np.max(relative))
            balance = 0.0
            for solved in raw.solved:
                accepted, radiated, lost = powers(system, solved)
                balance = max(balance, abs(radiated + lost - accepted) / abs(accepted))
            # What the power balance lacks is an error too, and no finer mesh shows it.
            error = (relative + max(raw.fit_error, 0.0) + balance) * np.abs(impedance)
            if balance > 0.01:
                raise StructureError(
                    f"radiated and lost power differ from accepted power by {100 * balance:.1f} %",
                    where=structure.name,
                    mend="the model does not suit this shape: look for rods fatter than their distance or pieces nearly touching",
                )
        for solved in raw.solved:
            if solved.admittance.real <= 0:
                raise StructureError(
                    f"the answer at {solved.frequency / 1e6:.4g} MHz would make power", where=structure.name,
                    mend="the model does not suit this shape: check for pieces nearly touching",
                )  # fmt: skip
    if worst > 0.02 and check:
        cautions.append(
            Caution(
                "caution",
                "the answer still moves with the mesh",
                "treat dimensions as a first cut",
                worst * 100,
                2.0,
                "%",
            )
        )
    condition = max(solved.condition for solved in raw.solved)
    record = SelfCheck(balance, worst, raw.fit_error, system.mesh.unknowns, len(raw.solved), condition)
    return Solution(structure, Sweep(frequency, impedance, error, record, tuple(cautions)), raw)


def _discretisation(structure: Structure, raw: RawSweep, settings: EngineSettings) -> FloatArray:
    """Relative error (n,) of the admittance, from finer solves at a few of the solved frequencies, between them linear."""
    at = np.array([solved.frequency for solved in raw.solved])
    count = 3 if at[-1] / at[0] < 1.6 else 5
    picks = np.unique(np.round(np.linspace(0, len(at) - 1, min(count, len(at)))).astype(int))
    fine = prepare(structure, top_frequency=float(raw.frequency[-1]), settings=settings.fine)
    errors = []
    for index in picks:
        better = fine.solve(float(at[index])).admittance
        errors.append(abs(raw.solved[index].admittance - better) / abs(better))
    relative = np.maximum(ERROR_MARGIN * np.array(errors), ERROR_FLOOR)
    return np.interp(raw.frequency, at[picks], relative)


def current_on(raw: RawSweep, piece: str, frequency: float) -> tuple[FloatArray, ComplexArray]:
    """Total current along a named piece at one frequency [Hz]; of copies, their sum.

    Raises
    ------
    StructureError
        If no piece has that name.
    """
    system = raw.system
    mine = [index for index, line in enumerate(system.geometry.lines) if line.name == piece]
    if not mine:
        raise StructureError(
            f"there is no piece '{piece}'", where="current", mend="name a rod or a surface of the structure"
        )
    solved = raw.solved_at(frequency)
    current = system.value @ solved.coefficients
    distances, values = [], []
    before = 0.0
    for index in mine:
        line = system.geometry.lines[index]
        rows = np.isin(system.element, np.flatnonzero(system.mesh.line == index))
        distances.append(before + np.linalg.norm(system.point[rows] - np.asarray(line.start), axis=1))
        values.append(current[rows])
        before += line.length
    distance = np.concatenate(distances)
    order = np.argsort(distance)
    return distance[order], np.concatenate(values)[order]


def pattern_of(
    raw: RawSweep, frequency: float, *, theta: FloatArray | None = None, phi: FloatArray | None = None
) -> Pattern:
    """Far field of a swept structure at one frequency [Hz]."""
    if theta is None:
        theta = np.radians(np.linspace(0.0, 180.0, 91))
    if phi is None:
        phi = np.radians(np.arange(0.0, 360.0, 15.0))
    system = raw.system
    with single_thread():
        solved = raw.solved_at(frequency)
        e_theta, e_phi = radiation(system, solved, theta=theta, phi=phi)
        if system.geometry.ground:
            below = theta > 0.5 * math.pi + 1e-9
            e_theta[below] = 0.0
            e_phi[below] = 0.0
        share = shares(system, solved)
        radiated = share.radiated
        # Efficiency from the outgoing powers, so that it cannot exceed one by a rounding of the feed current.
        total = radiated + share.metal + share.ground
        efficiency = radiated / total
        to_directivity = 4 * math.pi / (2 * eta0) / radiated
        gain_theta = np.abs(e_theta) ** 2 * to_directivity * efficiency
        gain_phi = np.abs(e_phi) ** 2 * to_directivity * efficiency
        # The part along (theta - j phi) / sqrt 2, right-hand with exp(+j w t), less the one along its conjugate.
        handed = 2.0 * np.imag(e_theta * np.conj(e_phi)) * to_directivity * efficiency
    peak = float((gain_theta + gain_phi).max() / efficiency)
    return Pattern(frequency, theta, phi, gain_theta, gain_phi, peak, efficiency, share.ground / total, handed)
