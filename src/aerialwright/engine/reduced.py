"""Impedance between solved frequencies: the equations themselves on the currents that were solved.

``n`` solves give ``n`` currents on the metal. Their span ``Q`` (unknowns, n) holds the currents at frequencies between to far
better than the solves are apart, and with a symmetric matrix the admittance is stationary: its error goes as the square of that of
the current (Galerkin projection, as in model order reduction). What is solved at a frequency is ``(Q^T Z(f) Q) x = Q^T b(f)``,
``n`` equations. ``f Q^T (Z - loss) Q`` and ``Q^T b`` have no poles, since exp(-jkR) has none, and are interpolated by polynomials
through the solved frequencies; loss and loads are put in as they are (docs/decisions/0022-sweep-on-solved-currents.md).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from aerialwright.engine.matrix import Equations, System

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: A current whose part outside the span of the others is smaller than this adds nothing to it.
SPANNED = 1e-10


def shares(at: FloatArray, support: FloatArray, weight: NDArray[Any]) -> NDArray[Any]:
    """What each of ``support`` (n,) [Hz] counts (m, n) at ``at`` (m,) [Hz] by barycentric ``weight`` (n,); rows sum to one."""
    apart = (at[:, None] - support) / support.max()
    hit = np.abs(apart) < 1e-13
    share = np.where(hit.any(axis=1)[:, None], hit, weight / np.where(hit, 1.0, apart))
    return np.asarray(share / share.sum(axis=1)[:, None])


class ReducedModel:
    """Currents and admittance over frequency from the solves added to it."""

    def __init__(self, system: System) -> None:
        self.system = system
        size = system.mesh.unknowns
        self.basis: ComplexArray = np.zeros((size, 0), dtype=np.complex128)
        self._equations: list[Equations] = []
        self._loss: list[ComplexArray] = []
        self._frequency = self._weight = np.zeros(0)
        self._matrix = self._right = self._own = np.zeros(0, dtype=np.complex128)

    def add(self, equations: Equations, current: ComplexArray) -> None:
        """One more solve: its equations before they were factored, and its current (unknowns,)."""
        self._equations.append(equations)
        new = current / np.linalg.norm(current)
        for _ in range(2):
            new = new - self.basis @ (self.basis.conj().T @ new)
        size = float(np.linalg.norm(new))
        if size > SPANNED:
            self.basis = np.column_stack([self.basis, new / size])

    def close(self) -> None:
        """Project all equations on the span of all currents: before anything is asked, and after solves were added."""
        q, every = self.basis, self._equations
        self._frequency = f = np.array([one.frequency for one in every])
        self._loss = [q.T @ (pattern @ q) for pattern in self.system.loss_patterns]
        self._matrix = np.array(
            [(q.T @ (one.matrix @ q) - self._losses(one.frequency)) * one.frequency for one in every]
        )
        self._right = np.array([one.right @ q for one in every])
        self._own = np.array([self.system.own_admittance(one.frequency) for one in every])
        apart = (f[:, None] - f) / (f.max() - f.min()) * 4.0
        np.fill_diagonal(apart, 1.0)
        self._weight = 1.0 / np.prod(apart, axis=1)

    def _losses(self, frequency: float) -> ComplexArray:
        total = np.zeros((self.basis.shape[1],) * 2, dtype=np.complex128)
        for value, part in zip(self.system.loss_values(frequency), self._loss, strict=True):
            total += value * part
        return total

    def _solve(self, at: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        """Weights of the basis (m, n) and admittance (m,) [S] at ``at`` (m,) [Hz]."""
        share = shares(at, self._frequency, self._weight)
        matrix = np.tensordot(share, self._matrix, 1) / at[:, None, None]
        if self._loss:
            matrix += np.array([self._losses(float(f)) for f in at])
        right = share @ self._right
        x = np.asarray(np.linalg.solve(matrix, right[:, :, None])[:, :, 0], dtype=np.complex128)
        gap = right if self.system.geometry.aperture.on_ground else self.system.gap @ self.basis
        return x, np.asarray(np.sum(gap * x, axis=1) + share @ self._own, dtype=np.complex128)

    def __call__(self, at: FloatArray) -> ComplexArray:
        """Admittance (m,) [S] at ``at`` (m,) [Hz]."""
        return self._solve(at)[1]

    def currents(self, at: FloatArray) -> ComplexArray:
        """Coefficients (m, unknowns) of the currents for one volt at ``at`` (m,) [Hz]."""
        return np.asarray(self._solve(at)[0] @ self.basis.T)
