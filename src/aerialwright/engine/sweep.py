"""Impedance over frequency from few solves: what lies between them is checked by one solve more.

Small systems are solved again between the solves on the currents found so far (``reduced.py``). Of large ones no second matrix is
kept: there admittance and currents are fitted together by the AAA algorithm [@nakatsukasa-2018] with common weights, and each
new solve is placed where two fits differ most. The sweep ends when a new solve no longer changes the answer anywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from aerialwright.engine.geometry import Geometry, build_geometry
from aerialwright.engine.matrix import Solved, System
from aerialwright.engine.mesh import Mesh, MeshSettings
from aerialwright.engine.overlap import check_overlap
from aerialwright.engine.reduced import ReducedModel, shares
from aerialwright.engine.threads import single_thread
from aerialwright.structure.model import Structure

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
#: Called with a fraction 0..1 done; may raise to cancel.
Progress = Callable[[float], None]


@dataclass(frozen=True)
class EngineSettings:
    """``mesh`` of the reported solution, ``fine`` of the one that checks it, ``tolerance`` of the sweep fit (relative)."""

    mesh: MeshSettings = MeshSettings()  # noqa: RUF009 (frozen)
    fine: MeshSettings = MeshSettings(longest=0.16, end_fraction=0.3, ratio=2.4, order=4, points=2, near_rule=(7, 14))  # noqa: RUF009 (frozen)
    tolerance: float = 1e-3
    most_solves: int = 40


@dataclass(frozen=True)
class RationalFit:
    """Admittance and currents as one rational function of frequency in barycentric form.

    ``support`` (n,) [Hz], ``weight`` (n,), and at the support points ``admittance`` (n,) [S], ``coefficients`` (n, unknowns).
    """

    support: FloatArray
    weight: ComplexArray
    admittance: ComplexArray
    coefficients: ComplexArray

    def __call__(self, at: FloatArray) -> ComplexArray:
        """Admittance (m,) [S] at ``at`` (m,) [Hz]."""
        return np.asarray(shares(at, self.support, self.weight) @ self.admittance)

    def currents(self, at: FloatArray) -> ComplexArray:
        """Coefficients (m, unknowns) of the currents for one volt at ``at`` (m,) [Hz]."""
        return np.asarray(shares(at, self.support, self.weight) @ self.coefficients)


@dataclass(frozen=True)
class RawSweep:
    """``admittance`` (n,) [S] of the total current at ``frequency`` (n,), the solves behind it, and the fit's error."""

    frequency: FloatArray
    admittance: ComplexArray
    solved: tuple[Solved, ...]
    fit_error: float
    system: System
    fit: RationalFit | ReducedModel | None = None

    def _among_solved(self, frequency: float) -> Solved | None:
        return next((one for one in self.solved if abs(one.frequency - frequency) < 1e-6 * frequency), None)

    def solved_at(self, frequency: float) -> Solved:
        """Currents at a frequency [Hz] as solved: one of the sweep's solves, or a new one."""
        found = self._among_solved(frequency)
        if found is not None:
            return found
        with single_thread():
            return self.system.solve(frequency)

    def at(self, frequency: float) -> Solved:
        """Currents at any frequency [Hz] of the sweep: those solved, what was fitted between them, else a new solve.

        Of a fit the condition number is not known (nan).
        """
        if self.fit is None or not self.frequency[0] <= frequency <= self.frequency[-1]:
            return self.solved_at(frequency)
        found = self._among_solved(frequency)
        if found is not None:
            return found
        where = np.array([frequency])
        return Solved(frequency, self.fit.currents(where)[0], complex(self.fit(where)[0]), float("nan"))


def prepare(structure: Structure, *, top_frequency: float, settings: MeshSettings, like: Mesh | None = None) -> System:
    """Check a structure, cut its mesh for ``top_frequency`` [Hz] and integrate what does not depend on frequency.

    Raises
    ------
    StructureError
        If the metal overlaps, is not fed, or does not suit the model.
    """
    geometry: Geometry = build_geometry(structure)
    check_overlap(geometry)
    with single_thread():
        return System(geometry, top_frequency=top_frequency, settings=settings, like=like)


def _fit(solved: list[Solved], *, spare: int, floor: float) -> RationalFit:
    """One rational function for the admittance and for every current on the metal, through solves in rising frequency.

    All have the same poles, so one set of barycentric weights serves them all. AAA chooses support points where the fit is
    worst, until the others are met to ``floor`` or only ``spare`` of them are left. The currents of one solve tell as much
    about the weights as several more admittances would, so that nearly every solve can be a support point.
    """
    frequency = np.array([one.frequency for one in solved])
    admittance = np.array([one.admittance for one in solved])
    currents = np.array([one.coefficients for one in solved])
    data = np.column_stack([currents / np.linalg.norm(currents, axis=1).max(), admittance / np.abs(admittance).max()])
    # The same least-squares problem in as few columns as there are solves.
    left, size, _ = np.linalg.svd(data, full_matrices=False)
    data = left * size
    x = frequency / frequency[-1]
    rest, support = np.arange(len(x)), np.arange(0)
    weight = np.ones(1, dtype=np.complex128)
    error = np.linalg.norm(data - data.mean(axis=0), axis=1)
    while len(rest) > spare and not (len(support) > 1 and error.max() < floor):
        worst = int(np.argmax(error))
        support, rest = np.append(support, rest[worst]), np.delete(rest, worst)
        cauchy = 1.0 / (x[rest, None] - x[support])
        loewner = cauchy[:, None, :] * (data[rest][:, :, None] - data[support].T)
        # Full: with fewer equations than weights the last row is a vector that meets them all.
        weight = np.linalg.svd(loewner.reshape(-1, len(support)))[2][-1].conj()
        fitted = (cauchy @ (weight[:, None] * data[support])) / (cauchy @ weight)[:, None]
        error = np.linalg.norm(data[rest] - fitted, axis=1)
    order = np.argsort(support)
    kept = support[order]
    return RationalFit(frequency[kept], weight[order], admittance[kept], currents[kept])


def run_sweep(
    system: System, frequency: FloatArray, *, tolerance: float, most_solves: int = 40, progress: Progress | None = None
) -> RawSweep:
    """Admittance at ``frequency`` (n,) [Hz], ascending, by as few solves as the tolerance allows."""
    with single_thread():
        return _run_sweep(system, frequency, tolerance=tolerance, most_solves=most_solves, progress=progress)


def _run_sweep(
    system: System, frequency: FloatArray, *, tolerance: float, most_solves: int, progress: Progress | None
) -> RawSweep:
    low, high = float(frequency[0]), float(frequency[-1])
    ratio = high / low
    first = 4 if ratio < 1.25 else 5 if ratio < 2.6 else 7
    solved: dict[int, Solved] = {}
    model = None if system.large else ReducedModel(system)

    def solve(index: int) -> Solved:
        if index not in solved:
            solved[index] = system.solve(float(frequency[index]), keep=None if model is None else model.add)
            if progress is not None:
                progress(min(0.95, len(solved) / (first + 3.0)))
        return solved[index]

    if len(frequency) <= first:
        every = tuple(solve(index) for index in range(len(frequency)))
        return RawSweep(frequency, np.array([one.admittance for one in every]), every, 0.0, system)
    if model is not None:
        return _reduced_sweep(
            system, frequency, model, solve, solved, first, tolerance=tolerance, most_solves=most_solves
        )
    # Crowded toward the edges, on the points that are asked for.
    nodes = low * ratio ** (0.5 - 0.5 * np.cos(np.pi * np.arange(first) / (first - 1)))
    for node in nodes:
        solve(int(np.argmin(np.abs(frequency - node))))

    def fit(spare: int) -> RationalFit:
        return _fit([solved[index] for index in sorted(solved)], spare=spare, floor=1e-2 * tolerance)

    now, other = fit(2)(frequency), fit(1)(frequency)
    while True:
        # The next solve goes where two fits differ most, never close beside an old one.
        at = frequency[sorted(solved)]
        distance = np.min(np.abs(np.log(frequency[:, None] / at[None, :])), axis=1)
        difference = np.abs(now - other) / np.abs(now)
        score = np.where(distance > 0.2 * np.log(ratio) / len(at), difference + 1e-3 * tolerance * distance, -1.0)
        solve(int(np.argmax(score)))
        kept = fit(2)
        before, now, other = now, kept(frequency), fit(1)(frequency)
        # What one more solve changed, anywhere: the fit that is kept is better than that.
        error = float(np.max(np.abs(now - before) / np.abs(now)))
        if error < tolerance or len(solved) >= min(most_solves, len(frequency)):
            break
    for index, one in solved.items():
        now[index] = one.admittance
    # The integration rules change with frequency: nothing is claimed below a third of what was asked for.
    error = max(error, 0.3 * tolerance)
    return RawSweep(frequency, now, tuple(solved[index] for index in sorted(solved)), error, system, kept)


def _reduced_sweep(
    system: System,
    frequency: FloatArray,
    model: ReducedModel,
    solve: Callable[[int], Solved],
    solved: dict[int, Solved],
    first: int,
    *,
    tolerance: float,
    most_solves: int,
) -> RawSweep:
    """The sweep of a small system: solves on Leja points, where a polynomial through them is surest."""
    # log of the product of distances to the solves so far; the next solve goes where it is largest.
    room = np.zeros(len(frequency))
    span = frequency[-1] - frequency[0]
    index, before, error = 0, np.zeros(0, dtype=np.complex128), np.inf
    while True:
        solve(index)
        with np.errstate(divide="ignore"):
            room += np.log(np.abs(frequency - frequency[index]) / span)
        index = int(np.argmax(room))
        if len(solved) < first:
            continue
        model.close()
        now = model(frequency)
        if len(before):
            # What one more solve changed, anywhere: the answer that is kept is better than that.
            error = float(np.max(np.abs(now - before) / np.abs(now)))
        if error < tolerance or len(solved) >= min(most_solves, len(frequency)):
            break
        before = now
    for place, one in solved.items():
        now[place] = one.admittance
    return RawSweep(
        frequency, now, tuple(solved[i] for i in sorted(solved)), max(error, 0.3 * tolerance), system, model
    )
