"""Compiled assembly of the Galerkin matrix, element pair by element pair.

Only half of a symmetric matrix is computed. A pair's kernel values at the Gauss points are tested and expanded in the local
shape functions at once and added into the matrix, so that nothing the size of the kernel is ever stored: memory is the
matrix. Elements of one colour share no unknown and may be assembled by several threads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.polynomial import legendre
from numpy.typing import NDArray

from aerialwright.engine.kernel import FAR_RADII, FAST, green, nearest, pair_kernel
from aerialwright.engine.mesh import MAX_ORDER, Mesh
from aerialwright.engine.quadrature import gauss01, graded_to_both, graded_to_start

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
WIDTH = MAX_ORDER + 1


@dataclass(frozen=True)
class Tables:
    """Rules of every element order, padded, and Legendre polynomials at their points.

    ``gauss_x``, ``gauss_w`` (MAX_ORDER + 1, points); ``count`` (MAX_ORDER + 1,); ``polynomial`` (MAX_ORDER + 1, points,
    WIDTH); the same for the graded ``outer`` rule (points, WIDTH).
    """

    gauss_x: FloatArray
    gauss_w: FloatArray
    count: IntArray
    polynomial: FloatArray
    outer_x: FloatArray
    outer_w: FloatArray
    outer_polynomial: FloatArray
    inner_x: FloatArray
    inner_w: FloatArray


def shapes(fraction: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shape functions and their d/dt (n, WIDTH) at fractions (n,): two linear end functions, then integrated-Legendre bubbles."""
    polynomials = legendre.legvander(2 * fraction - 1, MAX_ORDER)
    value = np.empty((len(fraction), WIDTH))
    slope = np.empty_like(value)
    value[:, 0], value[:, 1] = 1 - fraction, fraction
    slope[:, 0], slope[:, 1] = -1.0, 1.0
    for degree in range(2, WIDTH):
        value[:, degree] = polynomials[:, degree] - polynomials[:, degree - 2]
        # (P_k - P_{k-2})' = (2k - 1) P_{k-1} in x = 2t - 1.
        slope[:, degree] = 2.0 * (2 * degree - 1) * polynomials[:, degree - 1]
    return value, slope


def tables(mesh: Mesh) -> Tables:
    """The tables a mesh's settings ask for."""
    extra = mesh.settings.points
    most = MAX_ORDER + extra
    gauss_x, gauss_w = np.zeros((WIDTH, most)), np.zeros((WIDTH, most))
    polynomial = np.zeros((WIDTH, most, WIDTH))
    count = np.zeros(WIDTH, dtype=np.int64)
    for order in range(1, WIDTH):
        n = order + extra
        count[order] = n
        gauss_x[order, :n], gauss_w[order, :n] = gauss01(n)
        polynomial[order, :n] = legendre.legvander(2 * gauss_x[order, :n] - 1, MAX_ORDER)
    outer, inner = mesh.settings.near_rule
    outer_x, outer_w = graded_to_both(outer, 3)
    inner_x, inner_w = graded_to_start(inner, 4)
    outer_polynomial = np.asarray(legendre.legvander(2 * outer_x - 1, MAX_ORDER), dtype=np.float64)
    return Tables(gauss_x, gauss_w, count, polynomial, outer_x, outer_w, outer_polynomial, inner_x, inner_w)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _polynomials(t: float, order: int, out: Any) -> None:
    """Legendre polynomials up to ``order`` at the fraction ``t``."""
    x = 2.0 * t - 1.0
    out[0] = 1.0
    out[1] = x
    for k in range(2, order + 1):
        out[k] = ((2 * k - 1) * x * out[k - 1] - (k - 1) * out[k - 2]) / k


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
    moment_v: Any, moment_s: Any, i: int, j: int, kind: Any, start: Any, end: Any, tangent: Any, length: Any, radius: Any,
    section: Any, orders: Any, group: int, mode: int, ground: bool, turns: Any, turn_cos: Any, turn_weight: Any, offset: Any,
    outer_x: Any, outer_w: Any, outer_polynomial: Any, inner_x: Any, inner_w: Any,
) -> None:  # fmt: skip
    """Add the moments of the static kernel against Legendre polynomials of two close elements, as fractions of their lengths.

    The outer rule is graded to both ends of the smaller element; the inner one is split at the point nearest to the outer point
    and graded to it, which meets the logarithm of the kernel. ``moment_*`` (7, 7) complex.
    """
    row_v = np.empty(7, dtype=np.complex128)
    row_s = np.empty(7, dtype=np.complex128)
    pa = np.empty(7)
    rt = np.empty(3)
    rs = np.empty(3)
    # A zero that is no literal, or the kernel would be compiled once more for it.
    static = mode * 0
    swap = mode == 0 and length[i] > length[j]
    e = j if swap else i
    g = i if swap else j
    we = orders[e] + 1
    wg = orders[g] + 1
    same = kind[e] == 1 and kind[g] == 1 and section[e] == section[g]
    for p in range(outer_x.shape[0]):
        for d in range(3):
            rt[d] = start[e, d] + outer_x[p] * (end[e, d] - start[e, d])
        t0, _ = nearest(kind[e], rt, kind[g], start[g], end[g], group, turns)
        row_v[:wg] = 0.0
        row_s[:wg] = 0.0
        for side in range(2):
            span = t0 if side == 0 else 1.0 - t0
            if span < 1e-12:
                continue
            for q in range(inner_x.shape[0]):
                t = t0 - span * inner_x[q] if side == 0 else t0 + span * inner_x[q]
                for d in range(3):
                    rs[d] = start[g, d] + t * (end[g, d] - start[g, d])
                gv, gs = pair_kernel(
                    0.0, static, kind[e], rt, tangent[e], radius[e], kind[g], rs, tangent[g], radius[g],
                    same, group, mode, ground, turns, turn_cos, turn_weight, offset,
                )  # fmt: skip
                _polynomials(t, orders[g], pa)
                w = inner_w[q] * span
                gv = gv * w
                gs = gs * w
                for b in range(wg):
                    row_v[b] += gv * pa[b]
                    row_s[b] += gs * pa[b]
        w = outer_w[p]
        for a in range(we):
            f = w * outer_polynomial[p, a]
            for b in range(wg):
                if swap:
                    moment_v[b, a] += f * row_v[b]
                    moment_s[b, a] += f * row_s[b]
                else:
                    moment_v[a, b] += f * row_v[b]
                    moment_s[a, b] += f * row_s[b]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def assemble(
    out_v: Any, out_s: Any, joined: bool, cv: complex, cs: complex, part: int, k: float, chosen: Any, near: Any,
    kind: Any, start: Any, end: Any, tangent: Any, length: Any, radius: Any, section: Any, orders: Any,
    first: Any, unknown: Any, sign: Any, group: int, mode: int, ground: bool, turns: Any,
    turn_cos: Any, turn_weight: Any, offset: Any, gauss_x: Any, gauss_w: Any, count: Any, polynomial: Any,
    outer_x: Any, outer_w: Any, outer_polynomial: Any, inner_x: Any, inner_w: Any,
) -> None:  # fmt: skip
    """Add ``cv * << f f G_V >>`` to ``out_v`` and ``cs * << f' f' G_S >>`` to ``out_s``, rows of ``chosen`` elements.

    With ``joined`` both go to ``out_v``. ``part`` 0: static kernel, 1: the remainder at wavenumber ``k``, 2: both. Mode
    0 adds the pairs j <= i only, with half of i = j: the caller adds the transpose. ``first`` (n * WIDTH + 1,),
    ``unknown``, ``sign``: the unknowns each local function belongs to.
    """
    block_v = np.empty((7, 7), dtype=np.complex128)
    block_s = np.empty((7, 7), dtype=np.complex128)
    row_v = np.empty(7, dtype=np.complex128)
    row_s = np.empty(7, dtype=np.complex128)
    moment_v = np.empty((7, 7), dtype=np.complex128)
    moment_s = np.empty((7, 7), dtype=np.complex128)
    pa = np.empty(7)
    gv = 0.0j
    gs = 0.0j
    rt = np.empty(3)
    rs = np.empty(3)
    n = kind.shape[0]
    for index in range(chosen.shape[0]):
        i = chosen[index]
        wi = orders[i] + 1
        stop = i + 1 if mode == 0 else n
        for j in range(stop):
            wj = orders[j] + 1
            moment_v[:wi, :wj] = 0.0
            moment_s[:wi, :wj] = 0.0
            # Straight rods: the vector kernel is the scalar one times the cosine between them.
            straight = kind[i] == 1 and kind[j] == 1 and group == 1 and not ground
            along = tangent[i, 0] * tangent[j, 0] + tangent[i, 1] * tangent[j, 1] + tangent[i, 2] * tangent[j, 2]
            close = near[i, j]
            same = kind[i] == 1 and kind[j] == 1 and section[i] == section[j]
            if part != 0 or not close:
                far2 = FAR_RADII * FAR_RADII * (radius[i] + radius[j]) ** 2
                d2 = 0.0
                # Close pairs have their static part below.
                what = 1 if close else part
                oi = orders[i]
                oj = orders[j]
                if straight and not close:
                    # Elements many lengths apart see each other through fewer points.
                    for d in range(3):
                        rt[d] = 0.5 * (start[i, d] + end[i, d] - start[j, d] - end[j, d])
                    reach = 4.0 * max(length[i], length[j])
                    if rt[0] * rt[0] + rt[1] * rt[1] + rt[2] * rt[2] > reach * reach:
                        oi = max(1, oi - 1)
                        oj = max(1, oj - 1)
                for p in range(count[oi]):
                    for d in range(3):
                        rt[d] = start[i, d] + gauss_x[oi, p] * (end[i, d] - start[i, d])
                    row_v[:wj] = 0.0
                    row_s[:wj] = 0.0
                    # On the element itself the remainder has a kink at R = 0: its inner rule is split there.
                    pieces = 2 if i == j else 1
                    for piece in range(pieces):
                        low = 0.0
                        span = 1.0
                        if pieces == 2:
                            low = 0.0 if piece == 0 else gauss_x[oi, p]
                            span = gauss_x[oi, p] if piece == 0 else 1.0 - gauss_x[oi, p]
                        for q in range(count[oj]):
                            x = low + span * gauss_x[oj, q]
                            rs[0] = start[j, 0] + x * (end[j, 0] - start[j, 0])
                            rs[1] = start[j, 1] + x * (end[j, 1] - start[j, 1])
                            rs[2] = start[j, 2] + x * (end[j, 2] - start[j, 2])
                            plain = False
                            if straight:
                                d2 = (rt[0] - rs[0]) ** 2 + (rt[1] - rs[1]) ** 2 + (rt[2] - rs[2]) ** 2
                                plain = d2 > far2
                            if plain:
                                # Without copies or image, far apart: nothing but exp(-jkR)/R.
                                gs = green(k, math.sqrt(d2), what)
                            else:
                                gv, gs = pair_kernel(
                                    k, what, kind[i], rt, tangent[i], radius[i], kind[j], rs, tangent[j], radius[j],
                                    same, group, mode, ground, turns, turn_cos, turn_weight, offset,
                                )  # fmt: skip
                            w = gauss_w[oj, q] * span
                            gs = gs * w
                            if pieces == 2:
                                _polynomials(x, orders[j], pa)
                                for b in range(wj):
                                    row_s[b] += gs * pa[b]
                                    row_v[b] += gv * (w * pa[b])
                            else:
                                for b in range(wj):
                                    row_s[b] += gs * polynomial[oj, q, b]
                                if not straight:
                                    gv = gv * w
                                    for b in range(wj):
                                        row_v[b] += gv * polynomial[oj, q, b]
                    w = gauss_w[oi, p]
                    for a in range(wi):
                        f = w * polynomial[oi, p, a]
                        for b in range(wj):
                            moment_s[a, b] += f * row_s[b]
                        if not straight:
                            for b in range(wj):
                                moment_v[a, b] += f * row_v[b]
            if close and part != 1:
                close_moments(
                    moment_v, moment_s, i, j, kind, start, end, tangent, length, radius, section, orders, group, mode,
                    ground, turns, turn_cos, turn_weight, offset, outer_x, outer_w, outer_polynomial, inner_x, inner_w,
                )  # fmt: skip
            if straight:
                for a in range(wi):
                    for b in range(wj):
                        moment_v[a, b] = along * moment_s[a, b]
            _to_slopes(moment_s, wi, wj, block_s)
            _to_values(moment_v, wi, wj, block_v)
            # f ds carries the lengths, f' ds does not.
            area = length[i] * length[j]
            half = 0.5 if mode == 0 and i == j else 1.0
            for a in range(wi):
                for ga in range(first[i * 7 + a], first[i * 7 + a + 1]):
                    row = unknown[ga]
                    weight = half * sign[ga]
                    for b in range(wj):
                        zv = cv * block_v[a, b] * (weight * area)
                        zs = cs * block_s[a, b] * weight
                        if joined:
                            zv += zs
                        for gb in range(first[j * 7 + b], first[j * 7 + b + 1]):
                            out_v[row, unknown[gb]] += zv * sign[gb]
                            if not joined:
                                out_s[row, unknown[gb]] += zs * sign[gb]


@njit(cache=True, nogil=True)
def add_transpose(matrix: Any) -> None:
    """``matrix += matrix.T`` in place, tile by tile."""
    n = matrix.shape[0]
    tile = 64
    for i0 in range(0, n, tile):
        for j0 in range(0, i0 + 1, tile):
            for i in range(i0, min(n, i0 + tile)):
                for j in range(j0, min(i + 1, j0 + tile)):
                    total = matrix[i, j] + matrix[j, i]
                    matrix[i, j] = total
                    matrix[j, i] = total


def colours(first: IntArray, unknown: IntArray, elements: int) -> list[IntArray]:
    """Elements in groups that share no unknown, by greedy colouring."""
    owners: dict[int, list[int]] = {}
    for e in range(elements):
        for u in unknown[first[e * WIDTH] : first[(e + 1) * WIDTH]]:
            owners.setdefault(int(u), []).append(e)
    colour = np.full(elements, -1)
    for e in range(elements):
        taken = {
            int(colour[other])
            for u in unknown[first[e * WIDTH] : first[(e + 1) * WIDTH]]
            for other in owners[int(u)]
            if other != e
        }
        shade = 0
        while shade in taken:
            shade += 1
        colour[e] = shade
    return [np.flatnonzero(colour == shade).astype(np.int64) for shade in range(int(colour.max()) + 1)]
