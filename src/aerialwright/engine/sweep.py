"""Impedance over frequency from few solves: a rational fit that is checked where it is least sure.

The admittance is fitted by the AAA algorithm [@nakatsukasa-2018] (SciPy). Each new solve is placed where two following fits
differ most; the sweep ends when a solve agrees with what the fit had foretold.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import AAA

from aerialwright.engine.geometry import Geometry, build_geometry
from aerialwright.engine.matrix import Solved, System
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.overlap import check_overlap
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
class RawSweep:
    """``admittance`` (n,) [S] of the total current at ``frequency`` (n,), the solves behind it, and the fit's error."""

    frequency: FloatArray
    admittance: ComplexArray
    solved: tuple[Solved, ...]
    fit_error: float
    system: System


def prepare(structure: Structure, *, top_frequency: float, settings: MeshSettings) -> System:
    """Check a structure, cut its mesh for ``top_frequency`` [Hz] and integrate what does not depend on frequency.

    Raises
    ------
    StructureError
        If the metal overlaps, is not fed, or does not suit the model.
    """
    geometry: Geometry = build_geometry(structure)
    check_overlap(geometry)
    with single_thread():
        return System(geometry, top_frequency=top_frequency, settings=settings)


def _fit(frequency: FloatArray, admittance: ComplexArray, at: FloatArray) -> ComplexArray:
    """Rational fit through the solves (n,), evaluated at ``at`` (m,)."""
    scale = frequency.max()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = AAA(
            frequency / scale, admittance, rtol=1e-9, max_terms=max(2, (len(frequency) + 1) // 2), clean_up=False
        )
        return np.asarray(model(at / scale), dtype=np.complex128)


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
    count = len(frequency)
    ratio = high / low
    first = 5 if ratio < 1.6 else 7 if ratio < 3 else 9
    solved: dict[float, Solved] = {}

    def solve(f: float) -> complex:
        if f not in solved:
            solved[f] = system.solve(f)
            if progress is not None:
                progress(min(0.95, len(solved) / (first + 6.0)))
        return solved[f].admittance

    if count <= first:
        values = np.array([solve(float(f)) for f in frequency])
        return RawSweep(frequency, values, tuple(solved[float(f)] for f in frequency), 0.0, system)
    nodes = 0.5 - 0.5 * np.cos(np.pi * np.arange(first) / (first - 1))
    for f in low * ratio**nodes:
        solve(float(min(high, max(low, f))))
    previous: ComplexArray | None = None
    error = np.inf
    agreed = 0
    while True:
        at = np.array(sorted(solved))
        fit = _fit(at, np.array([solved[f].admittance for f in at]), frequency)
        if previous is None:
            keep = np.arange(len(at)) % 2 == 0
            previous = _fit(at[keep], np.array([solved[f].admittance for f in at[keep]]), frequency)
        difference = np.abs(fit - previous) / np.abs(fit)
        if agreed and float(np.max(difference)) < 5 * tolerance:
            break
        # The next solve goes where two fits differ most, never close beside an old one.
        distance = np.min(np.abs(np.log(frequency[:, None] / at[None, :])), axis=1)
        room = distance > 0.2 * np.log(ratio) / len(at)
        score = np.where(room, difference + 1e-3 * distance, -1.0)
        pick = float(frequency[int(np.argmax(score))])
        foretold = fit[int(np.argmax(score))]
        true = solve(pick)
        error = abs(foretold - true) / abs(true)
        agreed = agreed + 1 if error < tolerance else 0
        previous = fit
        if len(solved) >= most_solves:
            break
    at = np.array(sorted(solved))
    values = np.array([solved[f].admittance for f in at])
    fit = _fit(at, values, frequency)
    return RawSweep(frequency, fit, tuple(solved[float(f)] for f in at), float(error), system)
