"""Factoring and solving one complex system with LAPACK."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import lu_factor, lu_solve
from scipy.linalg.lapack import zgecon, zsycon, zsytrf, zsytrf_lwork, zsytrs

ComplexArray = NDArray[np.complex128]


def one_norm(matrix: ComplexArray) -> float:
    """Largest column sum of absolute values, by rows of the (nearly symmetric) matrix and without a copy of it."""
    return max(float(np.abs(matrix[start : start + 256]).sum(axis=1).max()) for start in range(0, len(matrix), 256))


def factor_and_solve(
    matrix: ComplexArray, norm: float, rhs: ComplexArray, *, symmetric: bool
) -> tuple[ComplexArray, float]:
    """Solution (n,) and reciprocal condition number of a system with the one-norm ``norm``; the matrix is spoilt.

    A symmetric matrix is factored as L D L^T with Bunch-Kaufman pivots, in half the operations of L U; its transpose is the
    matrix itself in Fortran order, so that LAPACK works in place (docs/decisions/0021-rows-and-symmetric-factors.md).
    """
    if not symmetric:
        factor = lu_factor(matrix, check_finite=False)
        return lu_solve(factor, rhs, check_finite=False), float(zgecon(factor[0], norm)[0])
    work = int(zsytrf_lwork(len(matrix))[0].real)
    triangle, pivots, _ = zsytrf(matrix.T, lwork=work, overwrite_a=True)
    solution, _ = zsytrs(triangle, pivots, rhs)
    return np.asarray(solution), float(zsycon(triangle, pivots, norm)[0])
