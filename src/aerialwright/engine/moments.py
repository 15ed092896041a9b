"""Compiled moments of close pairs of elements against Legendre polynomials, and their turn into shape functions."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from aerialwright.engine.kernel import FAST, FLAT, RINGS, nearest, polynomials
from aerialwright.engine.rows import ring_row, rod_row, source_point


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _to_slopes(moment: Any, wi: int, wj: int, out: Any) -> None:
    """Moments against Legendre polynomials turned into moments against the slopes of both sides: -/+ P0, then 2 (2k - 1) P_{k-1}."""
    for a in range(wi):
        fa = -1.0 if a == 0 else (1.0 if a == 1 else 2.0 * (2 * a - 1))
        pa = 0 if a < 2 else a - 1
        for b in range(wj):
            fb = -1.0 if b == 0 else (1.0 if b == 1 else 2.0 * (2 * b - 1))
            pb = 0 if b < 2 else b - 1
            out[a, b] = fa * fb * moment[pa, pb]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _to_values(moment: Any, wi: int, wj: int, out: Any) -> None:
    """The same against the shape functions: (P0 -/+ P1)/2, then P_k - P_{k-2}. ``moment`` is spoilt."""
    for a in range(wi):
        for b in range(wj - 1, 1, -1):
            moment[a, b] -= moment[a, b - 2]
        low = 0.5 * (moment[a, 0] - moment[a, 1])
        moment[a, 1] = 0.5 * (moment[a, 0] + moment[a, 1])
        moment[a, 0] = low
    for b in range(wj):
        for a in range(wi - 1, 1, -1):
            out[a, b] = moment[a, b] - moment[a - 2, b]
        out[0, b] = 0.5 * (moment[0, b] - moment[1, b])
        out[1, b] = 0.5 * (moment[0, b] + moment[1, b])


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def close_moments(
    moment_v: Any, moment_s: Any, k: float, most_k: float, part: int, i: int, j: int, code: int, plain: bool,
    kind: Any, start: Any, end: Any, tangent: Any, length: Any, radius: Any, orders: Any, group: int, mode: int,
    ground: bool, turns: Any, turn_cos: Any, turn_weight: Any, offset: Any, outer_x: Any, outer_polynomial: Any,
    inner_x: Any, inner_w: Any, source: Any, row: Any,
) -> None:  # fmt: skip
    """Add the moments of a part of the kernel against Legendre polynomials of two close elements, as fractions of their lengths.

    The outer rule runs over the smaller element; the inner one is split at the point nearest to the outer point. Graded, they
    meet the logarithm of the static kernel. ``moment_*`` (7, 7) complex; ``plain``: G_V is G_S. ``source``
    (9, 2 x inner points) and ``row`` (4, same) are room to work in.
    """
    row_v = np.empty(7, dtype=np.complex128)
    row_s = np.empty(7, dtype=np.complex128)
    pa = np.empty(7)
    rt = np.empty(3)
    swap = mode == 0 and length[i] > length[j]
    e = j if swap else i
    g = i if swap else j
    we = orders[e] + 1
    wg = orders[g] + 1
    inner = inner_x.shape[0]
    # No literal, or the rows would be compiled once more for it.
    zero = mode * 0
    for p in range(outer_x.shape[0]):
        for d in range(3):
            rt[d] = start[e, d] + outer_x[p] * (end[e, d] - start[e, d])
        t0, _ = nearest(kind[e], rt, kind[g], start[g], end[g], group, turns)
        for q in range(inner):
            for side in range(2):
                t = t0 - t0 * inner_x[q] if side == 0 else t0 + (1.0 - t0) * inner_x[q]
                at = side * inner + q
                source_point(source, at, start[g], end[g], t, tangent[g], radius[g] * kind[g], code & RINGS != 0)
        row[:, : 2 * inner] = 0.0
        if code & RINGS:
            ring_row(
                k, most_k, part, kind[e], rt, tangent[e], radius[e] * kind[e], source, zero, 2 * inner, ground,
                turn_cos, turn_weight, offset, row,
            )  # fmt: skip
        else:
            rod_row(
                k, part, rt, tangent[e], radius[e], source, zero, 2 * inner, plain, code & FLAT != 0, mode, ground, turns, row,
            )  # fmt: skip
        row_v[:wg] = 0.0
        row_s[:wg] = 0.0
        for q in range(2 * inner):
            x = inner_x[q] if q < inner else inner_x[q - inner]
            w = t0 * inner_w[q] if q < inner else (1.0 - t0) * inner_w[q - inner]
            polynomials(2.0 * (t0 - t0 * x if q < inner else t0 + (1.0 - t0) * x) - 1.0, pa[:wg])
            gs = complex(row[2, q], row[3, q]) * w
            gv = gs if plain else complex(row[0, q], row[1, q]) * w
            for b in range(wg):
                row_v[b] += gv * pa[b]
                row_s[b] += gs * pa[b]
        for a in range(we):
            f = outer_polynomial[p, a]
            for b in range(wg):
                if swap:
                    moment_v[b, a] += f * row_v[b]
                    moment_s[b, a] += f * row_s[b]
                else:
                    moment_v[a, b] += f * row_v[b]
                    moment_s[a, b] += f * row_s[b]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def add_moments(moment_v: Any, moment_s: Any, wi: int, wj: int, block: Any, pairs: Any, e: int) -> None:
    """Add moments against Legendre polynomials to the integrals of pair ``e``; the moments are spoilt."""
    _to_slopes(moment_s, wi, wj, block)
    for a in range(wi):
        for b in range(wj):
            pairs[2, a, b, e] += block[a, b].real
            pairs[3, a, b, e] += block[a, b].imag
    _to_values(moment_v, wi, wj, block)
    for a in range(wi):
        for b in range(wj):
            pairs[0, a, b, e] += block[a, b].real
            pairs[1, a, b, e] += block[a, b].imag
