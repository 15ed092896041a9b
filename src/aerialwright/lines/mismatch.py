"""Reflection, SWR and what a mismatch costs. Pure functions of arrays.

Impedances are complex arrays (any shape) [ohm]; an open end is ``inf``. NaN in gives NaN out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]
#: What stands for total reflection where a file or a chart needs a number.
LARGEST_SWR = 1.0e6


def reflection(impedance: ArrayLike, *, reference: ArrayLike) -> ComplexArray:
    """Reflection coefficient on a real ``reference`` impedance [ohm]: ``(Z - Z0) / (Z + Z0)``, 1 for an open."""
    load = np.asarray(impedance, dtype=np.complex128)
    z0 = np.asarray(reference, dtype=np.float64)
    is_open = np.isinf(load)
    with np.errstate(divide="ignore", invalid="ignore"):
        value = (np.where(is_open, 1.0, load) - z0) / (np.where(is_open, 1.0, load) + z0)
    return np.asarray(np.where(is_open, 1.0 + 0.0j, value), dtype=np.complex128)


def impedance_of(coefficient: ArrayLike, *, reference: ArrayLike) -> ComplexArray:
    """Impedance [ohm] of a reflection coefficient; ``inf + 0j`` where it is exactly 1."""
    gamma = np.asarray(coefficient, dtype=np.complex128)
    z0 = np.asarray(reference, dtype=np.float64)
    is_open = gamma == 1.0
    value = z0 * (1.0 + gamma) / np.where(is_open, 1.0, 1.0 - gamma)
    return np.asarray(np.where(is_open, np.inf + 0.0j, value), dtype=np.complex128)


def swr_of(coefficient: ArrayLike) -> FloatArray:
    """SWR of a reflection coefficient, ``(1 + |r|) / (1 - |r|)``; infinite where ``|r| >= 1`` (nothing is taken)."""
    size = np.abs(np.asarray(coefficient, dtype=np.complex128))
    total = size >= 1.0
    return np.asarray(np.where(total, np.inf, (1.0 + size) / np.where(total, 1.0, 1.0 - size)), dtype=np.float64)


def swr(impedance: ArrayLike, *, reference: ArrayLike) -> FloatArray:
    """SWR of ``impedance`` on a line of real ``reference`` impedance [ohm]."""
    return swr_of(reflection(impedance, reference=reference))


def finite_swr(coefficient: ArrayLike) -> FloatArray:
    """SWR of a reflection coefficient, at most :data:`LARGEST_SWR`: for files, which know no infinity."""
    return np.minimum(swr_of(coefficient), LARGEST_SWR)


def return_loss_db(coefficient: ArrayLike) -> FloatArray:
    """Return loss [dB], ``-20 log10 |r|``: positive for a passive end, infinite for a perfect match."""
    with np.errstate(divide="ignore"):
        return np.asarray(
            -20.0 * np.log10(np.abs(np.asarray(coefficient, dtype=np.complex128))) + 0.0, dtype=np.float64
        )


def mismatch_loss_db(coefficient: ArrayLike) -> FloatArray:
    """What reflection keeps from a load on a matched source [dB]: ``-10 log10(1 - |r|^2)``, infinite from 1 up."""
    size = np.abs(np.asarray(coefficient, dtype=np.complex128))
    total = size >= 1.0
    with np.errstate(divide="ignore"):
        loss = -10.0 * np.log10(np.where(total, 1.0, 1.0 - size**2)) + 0.0
    return np.asarray(np.where(total, np.inf, loss), dtype=np.float64)


def reflection_of_swr(ratio: ArrayLike) -> FloatArray:
    """``|r|`` of an SWR (>= 1); 1 for an infinite one."""
    value = np.asarray(ratio, dtype=np.float64)
    endless = np.isinf(value)
    finite = np.where(endless, 1.0, value)
    return np.asarray(np.where(endless, 1.0, (finite - 1.0) / (finite + 1.0)), dtype=np.float64)
