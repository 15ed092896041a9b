"""Compiled kernels between one test point and many source points: orbit means G_V and G_S.

Every innermost loop runs over source points and has no branch, so that it becomes vector instructions: sine, cosine and the
arithmetic-geometric mean cost a few nanoseconds a point. Source points are a table (9, points), one row for each name below.
Results are added to ``row`` (4, points): G_V real and imaginary, G_S real and imaginary.
"""

from __future__ import annotations

import math
from typing import Any

from numba import njit

from aerialwright.engine.kernel import FAST, cosine_sine, remainder, softened

#: Place [m], unit tangent, radius of the rod [m] (0 for a ring), distance from the axis [m], radial part of the tangent.
X, Y, Z, TX, TY, TZ, A, RHO, TRHO = range(9)
ROWS = 9
_FOUR_PI = 4.0 * math.pi


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def source_point(
    source: Any, s: int, start: Any, end: Any, fraction: float, tangent: Any, radius: float, rings: bool
) -> None:
    """Write column ``s`` of a table of source points: the point at ``fraction`` of an element; for ``rings`` its last rows too."""
    x = start[0] + fraction * (end[0] - start[0])
    y = start[1] + fraction * (end[1] - start[1])
    source[X, s] = x
    source[Y, s] = y
    source[Z, s] = start[2] + fraction * (end[2] - start[2])
    source[TX, s] = tangent[0]
    source[TY, s] = tangent[1]
    source[TZ, s] = tangent[2]
    source[A, s] = radius
    if rings:
        rho = math.sqrt(x * x + y * y)
        source[RHO, s] = rho
        source[TRHO, s] = (tangent[0] * x + tangent[1] * y) / rho if rho > 0.0 else 0.0


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST, forceinline=True)
def _ring_means(big_a: float, big_b: float, d2: float) -> tuple[float, float]:
    """Means over a turn of 1/(4 pi R) and cos(phi)/(4 pi R), R^2 = big_a - big_b cos(phi), ``d2`` its least value.

    As :func:`ring_static`, but seven steps of the arithmetic-geometric mean always: 1e-8 at 1 - m = 1e-30, 1e-15 above 1e-16.
    """
    s2 = big_a + big_b
    m1 = max(d2 / s2, 1e-30)
    a = 1.0
    b = math.sqrt(m1)
    total = 0.5 * (1.0 - m1)
    power = 1.0
    for _ in range(7):
        c = 0.5 * (a - b)
        b = math.sqrt(a * b)
        a = a - c
        total += power * c * c
        power *= 2.0
    s = math.sqrt(s2)
    k = 1.0 / a
    x = big_b / big_a
    thin = x < 2e-3
    c0 = k / s
    c1 = (big_a * c0 - s * k * (1.0 - total)) / (big_b + 1e-300)
    c1 = c0 * 0.25 * x * (1.0 + 9.0 / 32.0 * x * x) if thin else c1
    return c0 / _FOUR_PI, c1 / _FOUR_PI


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def ring_row(
    k: float, most_k: float, part: int, kind: int, r: Any, t: Any, radius: float, source: Any, low: int, high: int, ground: bool,
    turn_cos: Any, turn_weight: Any, offset: Any, row: Any,
) -> None:  # fmt: skip
    """Add the means over a ring through the source points ``low:high``; the test point is of a ring (``kind`` 0) or of a rod.

    ``part`` 0 is 1/(4 pi R), 1 the remainder at wavenumber ``k`` [1/m], 2 their sum. The number of
    points round the ring follows ``most_k``, the highest wavenumber of the sweep, so that a sweep has no steps in it.
    """
    size = high - low
    zs = source[Z, low:high]
    rhos = source[RHO, low:high]
    trhos = source[TRHO, low:high]
    tzs = source[TZ, low:high]
    radii = source[A, low:high]
    vr = row[0, low:high]
    vi = row[1, low:high]
    sr = row[2, low:high]
    si = row[3, low:high]
    rho = r[0]
    trho = t[0]
    if kind != 0:
        rho = math.sqrt(r[0] * r[0] + r[1] * r[1])
        trho = (t[0] * r[0] + t[1] * r[1]) / rho if rho > 0.0 else 0.0
    z = r[2]
    tz = t[2]
    for image in range(2 if ground else 1):
        # The image of a current keeps its z part and turns the rest; its charge changes sign.
        sign = 1.0 if image == 0 else -1.0
        if part != 1:
            for s in range(size):
                dz = z - sign * zs[s]
                d = rho - rhos[s]
                big_b = 2.0 * rho * rhos[s]
                d2 = d * d + dz * dz + radius * radius + radii[s] * radii[s]
                c0, c1 = _ring_means(d2 + big_b, big_b, d2)
                sr[s] += sign * c0
                vr[s] += trho * sign * trhos[s] * c1 + tz * tzs[s] * c0
        if part != 0:
            largest = 0.0
            for s in range(size):
                largest = max(largest, rhos[s])
            # Whole vectors: 4, 8, 12 ... points; three and a wavelength's share of the smaller ring.
            smaller = min(rho, largest) * most_k
            count = min(40, 4 * (1 + int(0.75 * smaller + 0.6)))
            if smaller < 0.3:
                count = 4
            o = offset[count]
            for q in range(count):
                c = turn_cos[o + q]
                w = turn_weight[o + q]
                for s in range(size):
                    dz = z - sign * zs[s]
                    d = rho - rhos[s]
                    extra = radius * radius + radii[s] * radii[s]
                    square = d * d + dz * dz + extra + 2.0 * rho * rhos[s] * (1.0 - c)
                    g = remainder(k, math.sqrt(square)) * w
                    f = trho * sign * trhos[s] * c + tz * tzs[s]
                    sr[s] += sign * g.real
                    si[s] += sign * g.imag
                    vr[s] += f * g.real
                    vi[s] += f * g.imag


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def rod_row(
    k: float, part: int, r: Any, t: Any, radius: float, source: Any, low: int, high: int, plain: bool,
    mirrored: bool, mode: int, ground: bool, turns: Any, row: Any,
) -> None:  # fmt: skip
    """Add the means over all copies of rods' points ``low:high``, seen from a rod's point.

    ``plain``: neither copies nor images; the vector kernel is the scalar one times the cosine between the rods, and is left
    to the caller. ``mirrored``: all metal in the half plane y = 0, x >= 0, so that turns to both sides give the same.
    """
    size = high - low
    xs = source[X, low:high]
    ys = source[Y, low:high]
    zs = source[Z, low:high]
    txs = source[TX, low:high]
    tys = source[TY, low:high]
    tzs = source[TZ, low:high]
    radii = source[A, low:high]
    vr = row[0, low:high]
    vi = row[1, low:high]
    sr = row[2, low:high]
    si = row[3, low:high]
    order = turns.shape[0]
    half = mirrored and mode == 0
    for turn in range(order // 2 + 1 if half else order):
        cosine = turns[turn, 0]
        sine = turns[turn, 1]
        # The test point is turned back instead of the source forward.
        x = cosine * r[0] + sine * r[1]
        y = cosine * r[1] - sine * r[0]
        ux = cosine * t[0] + sine * t[1]
        uy = cosine * t[1] - sine * t[0]
        z = r[2]
        uz = t[2]
        weight = (2.0 if half and turn != 0 and 2 * turn != order else 1.0) / order
        wr = weight * turns[(mode * turn) % order, 0]
        wi = -weight * turns[(mode * turn) % order, 1]
        phase = wi if mode != 0 else 0.0
        for image in range(2 if ground else 1):
            sign = 1.0 if image == 0 else -1.0
            coaxial = 0
            for s in range(size):
                dx = x - xs[s]
                dy = y - ys[s]
                dz = z - sign * zs[s]
                d2 = dx * dx + dy * dy + dz * dz
                along_t = dx * ux + dy * uy + dz * uz
                along_s = sign * (dx * txs[s] + dy * tys[s]) + dz * tzs[s]
                both = radius + radii[s]
                thin = 1e-8 * both * both
                coaxial += (d2 - along_t * along_t < thin) & (d2 - along_s * along_s < thin) & (d2 < 4e3 * both * both)
                soft = math.sqrt(softened(d2, along_t, along_s, radius, radii[s]))
                if part == 1:
                    g = remainder(k, soft)
                    gr = g.real
                    gi = g.imag
                elif part == 0:
                    gr = 1.0 / (_FOUR_PI * soft)
                    gi = 0.0
                else:
                    c, ss = cosine_sine(k * soft)
                    f = 1.0 / (_FOUR_PI * soft)
                    gr = f * c
                    gi = -f * ss
                if mode != 0:
                    gr, gi = gr * wr - gi * wi, gr * wi + gi * wr
                else:
                    gr = gr * wr
                    gi = gi * wr
                sr[s] += sign * gr
                si[s] += sign * gi
                if not plain:
                    f = sign * (ux * txs[s] + uy * tys[s]) + uz * tzs[s]
                    vr[s] += f * gr
                    vi[s] += f * gi
            if part == 1 or coaxial == 0:
                continue
            # Points on one axis: the exact tube kernel takes the place of the softened one.
            for s in range(size):
                dx = x - xs[s]
                dy = y - ys[s]
                dz = z - sign * zs[s]
                d2 = dx * dx + dy * dy + dz * dz
                along_t = dx * ux + dy * uy + dz * uz
                along_s = sign * (dx * txs[s] + dy * tys[s]) + dz * tzs[s]
                both = radius + radii[s]
                thin = 1e-8 * both * both
                here = (d2 - along_t * along_t < thin) & (d2 - along_s * along_s < thin) & (d2 < 4e3 * both * both)
                big_b = 2.0 * radius * radii[s]
                nearest = d2 + (radius - radii[s]) ** 2
                tube, _ = _ring_means(nearest + big_b, big_b, nearest)
                g0 = tube - 1.0 / (_FOUR_PI * math.sqrt(nearest + big_b))
                g0 = sign * (g0 if here else 0.0)
                f = sign * (ux * txs[s] + uy * tys[s]) + uz * tzs[s]
                sr[s] += g0 * wr
                si[s] += g0 * phase
                vr[s] += f * g0 * wr
                vi[s] += f * g0 * phase
