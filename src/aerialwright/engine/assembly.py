"""Compiled assembly of the Galerkin matrix, element pair by element pair.

Only half of a symmetric matrix is computed. An element is tested against runs of others whose points lie side by side; the
kernel values are tested and expanded in the local shape functions at once and added into the matrix, so that nothing the
size of the kernel is ever stored: memory is the matrix. Elements of one colour share no unknown and may be assembled by several threads.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.polynomial import legendre
from numpy.typing import NDArray

from aerialwright.engine.kernel import FAST, FLAT, NEAR, RINGS
from aerialwright.engine.mesh import MAX_ORDER, Mesh
from aerialwright.engine.moments import add_moments, close_moments
from aerialwright.engine.quadrature import gauss01, graded_to_both, graded_to_start
from aerialwright.engine.rows import ROWS, ring_row, rod_row, source_point

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
WIDTH = MAX_ORDER + 1


#: Elements that are tested together at most: what belongs to them stays in the fast cache.
RUN = 32


@dataclass(frozen=True)
class Tables:
    """Rules of every element order, padded, and Legendre polynomials at their points.

    ``gauss_x``, ``gauss_w`` (MAX_ORDER + 1, points); ``count`` (MAX_ORDER + 1,); ``polynomial`` (MAX_ORDER + 1, points,
    WIDTH), times the weights; the same for the graded ``outer`` rule (points, WIDTH). ``shape`` (2, MAX_ORDER + 1, points,
    WIDTH): shape functions and their slopes d/dt, times the weights. ``place`` (n,) of each element among all,
    rings first, then by order; ``ranked`` (n,) the elements in that order, with points ``begin[p]:begin[p + 1]`` of ``source`` (9, points).
    """

    gauss_x: FloatArray
    gauss_w: FloatArray
    count: IntArray
    polynomial: FloatArray
    outer_x: FloatArray
    outer_polynomial: FloatArray
    inner_x: FloatArray
    inner_w: FloatArray
    shape: FloatArray
    place: IntArray
    ranked: IntArray
    begin: IntArray
    source: FloatArray


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


def tables(mesh: Mesh, tangent: FloatArray) -> Tables:
    """The tables a mesh's settings ask for; ``tangent`` (n, 3)."""
    extra = mesh.settings.points
    most = MAX_ORDER + extra
    gauss_x, gauss_w = np.zeros((WIDTH, most)), np.zeros((WIDTH, most))
    polynomial = np.zeros((WIDTH, most, WIDTH))
    shape = np.zeros((2, WIDTH, most, WIDTH))
    count = np.zeros(WIDTH, dtype=np.int64)
    for order in range(1, WIDTH):
        n = order + extra
        count[order] = n
        gauss_x[order, :n], gauss_w[order, :n] = gauss01(n)
        polynomial[order, :n] = legendre.legvander(2 * gauss_x[order, :n] - 1, MAX_ORDER) * gauss_w[order, :n, None]
        for which, found in enumerate(shapes(gauss_x[order, :n])):
            shape[which, order, :n] = found * gauss_w[order, :n, None]
    outer, inner = mesh.settings.near_rule
    outer_x, outer_w = graded_to_both(outer, 3)
    inner_x, inner_w = graded_to_start(inner, 4)
    outer_polynomial = np.ascontiguousarray(
        legendre.legvander(2 * outer_x - 1, MAX_ORDER) * outer_w[:, None], dtype=np.float64
    )
    ranked = np.lexsort((mesh.order, mesh.kind)).astype(np.int64)
    place = np.empty_like(ranked)
    place[ranked] = np.arange(len(ranked))
    begin = np.concatenate([[0], np.cumsum(count[mesh.order[ranked]])]).astype(np.int64)
    source = np.empty((ROWS, begin[-1]))
    _fill_source(source, ranked, begin, mesh.kind, mesh.start, mesh.end, tangent, mesh.radius, mesh.order, gauss_x)
    return Tables(
        gauss_x,
        gauss_w,
        count,
        polynomial,
        outer_x,
        outer_polynomial,
        inner_x,
        inner_w,
        shape,
        place,
        ranked,
        begin,
        source,
    )


@njit(cache=True, nogil=True)
def _fill_source(
    source: Any, ranked: Any, begin: Any, kind: Any, start: Any, end: Any, tangent: Any, radius: Any, orders: Any, gauss_x: Any
) -> None:  # fmt: skip
    """Gauss points of all elements in ranked order."""
    for p in range(ranked.shape[0]):
        e = ranked[p]
        for q in range(begin[p + 1] - begin[p]):
            x = gauss_x[orders[e], q]
            source_point(source, begin[p] + q, start[e], end[e], x, tangent[e], radius[e] * kind[e], True)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _test_run(
    k: float, most_k: float, part: int, i: int, code: int, low: int, high: int, points: int, plain: bool, kind: Any, start: Any, end: Any,
    tangent: Any, radius: Any, orders: Any, mode: int, ground: bool, turns: Any, turn_cos: Any, turn_weight: Any, offset: Any,
    gauss_x: Any, count: Any, shape: Any, source: Any, row: Any, turned: Any, tested: Any,
) -> None:  # fmt: skip
    """Kernels at the source points ``low:high``, ``points`` to an element, tested with the functions of element ``i``.

    ``tested`` (4, WIDTH, room): G_V with the functions and G_S with their slopes, real and imaginary each; the first points of all
    elements lie side by side, then the second ones, so that what follows runs over elements. ``plain``: G_V is G_S.
    """
    rt = np.empty(3)
    order = orders[i]
    size = high - low
    elements = size // points
    for p in range(count[order]):
        for d in range(3):
            rt[d] = start[i, d] + gauss_x[order, p] * (end[i, d] - start[i, d])
        row[:, low:high] = 0.0
        if code & RINGS:
            ring_row(
                k, most_k, part, kind[i], rt, tangent[i], radius[i] * kind[i], source, low, high, ground,
                turn_cos, turn_weight, offset, row,
            )  # fmt: skip
        else:
            rod_row(
                k, part, rt, tangent[i], radius[i], source, low, high, plain, code & FLAT != 0, mode, ground, turns, row
            )
        for piece in range(2 if plain else 0, 4):
            given = row[piece, low:high]
            taken = turned[piece, :size]
            for q in range(points):
                for e in range(elements):
                    taken[q * elements + e] = given[e * points + q]
        for piece in range(4):
            given = turned[piece + 2 if plain and piece < 2 else piece, :size]
            for a in range(order + 1):
                f = shape[piece // 2, order, p, a]
                taken = tested[piece, a, :size]
                if p == 0:
                    for s in range(size):
                        taken[s] = f * given[s]
                else:
                    for s in range(size):
                        taken[s] += f * given[s]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _expand_run(tested: Any, elements: int, points: int, wi: int, wj: int, shape: Any, pairs: Any) -> None:
    """Integrals ``pairs`` (4, WIDTH of the test, WIDTH of the source, elements) of a run from its tested kernels.

    ``shape`` (2, points, WIDTH) of the source elements.
    """
    for piece in range(4):
        for a in range(wi):
            for b in range(wj):
                taken = pairs[piece, a, b, :elements]
                f = shape[piece // 2, 0, b]
                given = tested[piece, a, :elements]
                for e in range(elements):
                    taken[e] = f * given[e]
                for q in range(1, points):
                    f = shape[piece // 2, q, b]
                    given = tested[piece, a, q * elements : (q + 1) * elements]
                    for e in range(elements):
                        taken[e] += f * given[e]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def assemble(
    out_v: Any, out_s: Any, joined: bool, cv: float, cs: float, part: int, k: float, most_k: float, chosen: Any, codes: Any,
    kind: Any, start: Any, end: Any, tangent: Any, length: Any, radius: Any, orders: Any,
    first: Any, unknown: Any, sign: Any, group: int, mode: int, ground: bool, turns: Any,
    turn_cos: Any, turn_weight: Any, offset: Any, gauss_x: Any, gauss_w: Any, count: Any, polynomial: Any,
    outer_x: Any, outer_polynomial: Any, inner_x: Any, inner_w: Any, shape: Any, place: Any, ranked: Any, begin: Any,
    source: Any,
) -> None:  # fmt: skip
    """Add ``cv * << f f G_V >>`` to ``out_v`` and ``cs * << f' f' G_S >>`` to ``out_s``, rows of ``chosen`` elements.

    With ``joined`` both go to ``out_v``. ``part`` 0: static kernel, 1: the remainder at wavenumber ``k`` (of a sweep up
    to ``most_k``), 2: both. Mode 0 adds the pairs up to an element's own place only, with half of itself:
    :func:`complete` does the rest. ``first`` (n * WIDTH + 1,), ``unknown``, ``sign``: the unknowns each local function
    belongs to.
    """
    block = np.empty((7, 7), dtype=np.complex128)
    moment_v = np.empty((7, 7), dtype=np.complex128)
    moment_s = np.empty((7, 7), dtype=np.complex128)
    room = 2 * max(inner_x.shape[0], gauss_x.shape[1])
    close_source = np.empty((source.shape[0], room))
    close_row = np.empty((4, room))
    row = np.empty((4, source.shape[1]))
    turned = np.empty((4, RUN * gauss_x.shape[1]))
    tested = np.empty((4, WIDTH, RUN * gauss_x.shape[1]))
    pairs = np.empty((4, WIDTH, WIDTH, RUN))
    # Which local function each entry of ``unknown`` is.
    local = np.empty(unknown.shape[0], dtype=np.int64)
    for index in range(first.shape[0] - 1):
        local[first[index] : first[index + 1]] = index % WIDTH
    # Zeros and ones that are no literals, or the kernels would be compiled once more for them.
    static = mode * 0
    smooth = static + 1
    for index in range(chosen.shape[0]):
        i = chosen[index]
        wi = orders[i] + 1
        stop = place[i] + 1 if mode == 0 else kind.shape[0]
        at = 0
        while at < stop:
            # A run of elements that are treated alike.
            code = codes[i, ranked[at]]
            order = orders[ranked[at]]
            own = ranked[at] == i
            till = at + 1
            while not own and till < min(stop, at + RUN):
                j = ranked[till]
                if j == i or codes[i, j] != code or orders[j] != order:
                    break
                till += 1
            wj = order + 1
            close = code & NEAR != 0
            plain = code & RINGS == 0 and group == 1 and not ground
            # Close pairs have their static part below, and an element with itself all of it.
            if own or (part == 0 and close):
                pairs[:, :wi, :wj, : till - at] = 0.0
            else:
                _test_run(
                    k, most_k, smooth if close else part, i, code, begin[at], begin[till], count[order], plain, kind, start, end, tangent,
                    radius, orders, mode, ground, turns, turn_cos, turn_weight, offset, gauss_x, count, shape, source, row,
                    turned, tested,
                )  # fmt: skip
                _expand_run(tested, till - at, count[order], wi, wj, shape[:, order], pairs)
            for p in range(at, till):
                j = ranked[p]
                e = p - at
                if own and part != 0:
                    # The remainder has a kink at R = 0: its inner rule is split there.
                    n = count[order]
                    moment_v[:wi, :wj] = 0.0
                    moment_s[:wi, :wj] = 0.0
                    close_moments(
                        moment_v, moment_s, k, most_k, smooth, i, j, code, plain, kind, start, end, tangent, length, radius, orders, group,
                        mode, ground, turns, turn_cos, turn_weight, offset, gauss_x[order, :n], polynomial[order, :n],
                        gauss_x[order, :n], gauss_w[order, :n], close_source, close_row,
                    )  # fmt: skip
                    add_moments(moment_v, moment_s, wi, wj, block, pairs, e)
                if close and part != 1:
                    moment_v[:wi, :wj] = 0.0
                    moment_s[:wi, :wj] = 0.0
                    close_moments(
                        moment_v, moment_s, k, most_k, static, i, j, code, plain, kind, start, end, tangent, length, radius, orders, group,
                        mode, ground, turns, turn_cos, turn_weight, offset, outer_x, outer_polynomial, inner_x, inner_w,
                        close_source, close_row,
                    )  # fmt: skip
                    add_moments(moment_v, moment_s, wi, wj, block, pairs, e)
                half = 0.5 if mode == 0 and i == j else 1.0
                # f ds carries the lengths, f' ds does not.
                fv = half * cv * length[i] * length[j]
                if plain:
                    fv *= tangent[i, 0] * tangent[j, 0] + tangent[i, 1] * tangent[j, 1] + tangent[i, 2] * tangent[j, 2]
                fs = half * cs
                for ga in range(first[i * WIDTH], first[(i + 1) * WIDTH]):
                    target = unknown[ga]
                    a = local[ga]
                    for gb in range(first[j * WIDTH], first[(j + 1) * WIDTH]):
                        u = unknown[gb]
                        b = local[gb]
                        weight = sign[ga] * sign[gb]
                        wv = weight * fv
                        ws = weight * fs
                        if joined:
                            out_v[target, u] += complex(
                                wv * pairs[0, a, b, e] + ws * pairs[2, a, b, e],
                                wv * pairs[1, a, b, e] + ws * pairs[3, a, b, e],
                            )
                        else:
                            out_v[target, u] += complex(wv * pairs[0, a, b, e], wv * pairs[1, a, b, e])
                            out_s[target, u] += complex(ws * pairs[2, a, b, e], ws * pairs[3, a, b, e])
            at = till


@njit(cache=True, nogil=True)
def complete(matrix: Any, halved: bool) -> None:
    """``matrix = j * matrix`` in place, with ``halved`` ``j * (matrix + matrix.T)``, tile by tile."""
    n = matrix.shape[0]
    if not halved:
        for i in range(n):
            for j in range(n):
                matrix[i, j] = complex(-matrix[i, j].imag, matrix[i, j].real)
        return
    tile = 64
    for i0 in range(0, n, tile):
        for j0 in range(0, i0 + 1, tile):
            for i in range(i0, min(n, i0 + tile)):
                for j in range(j0, min(i + 1, j0 + tile)):
                    total = matrix[i, j] + matrix[j, i]
                    total = complex(-total.imag, total.real)
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
