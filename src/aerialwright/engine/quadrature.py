"""Quadrature rules used by the engine, made once."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

#: Longest Gauss rule over half a turn.
MAX_TURN_RULE = 40


@lru_cache(maxsize=64)
def gauss01(count: int) -> tuple[FloatArray, FloatArray]:
    """Gauss-Legendre nodes and weights on [0, 1], (count,) each."""
    x, w = np.polynomial.legendre.leggauss(count)
    return 0.5 * (x + 1.0), 0.5 * w


@lru_cache(maxsize=8)
def graded_to_start(count: int, power: int) -> tuple[FloatArray, FloatArray]:
    """Rule on [0, 1] crowded toward 0 by t = u**power: integrates log t and near-singular kernels well."""
    u, w = gauss01(count)
    return u**power, w * power * u ** (power - 1)


@lru_cache(maxsize=8)
def graded_to_both(count: int, power: int) -> tuple[FloatArray, FloatArray]:
    """Rule on [0, 1] crowded toward both ends, 2 * count points."""
    t, w = graded_to_start(count, power)
    x = np.concatenate([0.5 * t, 1.0 - 0.5 * t[::-1]])
    return x, np.concatenate([0.5 * w, 0.5 * w[::-1]])


@lru_cache(maxsize=1)
def turn_rules() -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Gauss rules over half a turn, packed: cosines of the nodes, weights that sum to one, and offsets by count."""
    cosines: list[float] = []
    weights: list[float] = []
    offset = np.zeros(MAX_TURN_RULE + 2, dtype=np.int64)
    for count in range(1, MAX_TURN_RULE + 1):
        offset[count] = len(cosines)
        x, w = gauss01(count)
        cosines.extend(np.cos(np.pi * x))
        weights.extend(w)
    return np.array(cosines), np.array(weights), offset
