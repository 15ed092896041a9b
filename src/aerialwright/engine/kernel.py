"""Compiled kernels: orbit means of the free-space Green function between points of generating lines.

``g(R) = exp(-jkR) / (4 pi R)`` is split into its static part ``1/(4 pi R)``, closed form over a ring (complete
elliptic integrals by the arithmetic-geometric mean), and the smooth remainder ``(exp(-jkR) - 1)/(4 pi R)``, a short
Gauss rule over half a turn. Elliptic integrals take ``1 - m = d^2/s^2`` directly so that no digits are lost near the
metal. The ring formulation is that of bodies of revolution [@harrington-mautz-1969], orbit means for rods beside them
as in [@shaeffer-1981].
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

_FOUR_PI = 4.0 * math.pi
#: Beyond this many radii a rod's thickness changes 1/R by less than 2e-5.
FAR_RADII = 200.0
#: Sums may be regrouped and products fused; infinities and NaN keep their meaning (the overlap tests rely on them).
FAST = {"reassoc", "contract", "arcp", "nsz"}


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def elliptic_k_e(m1: float) -> tuple[float, float]:
    """Complete elliptic integrals K and E of parameter m = 1 - m1, for 0 < m1 <= 1."""
    if m1 > 0.97:
        # The power series [Abramowitz and Stegun 17.3.11, 17.3.12] to m^6: 1e-12 at m = 0.03.
        m = 1.0 - m1
        k = 1.0 + m * (
            0.25
            + m * (0.140625 + m * (0.09765625 + m * (0.07476806640625 + m * (0.06056213378906 + m * 0.05088901519775))))
        )
        e = 1.0 - m * (
            0.25
            + m * (0.046875 + m * (0.01953125 + m * (0.01068115234375 + m * (0.00672912597656 + m * 0.00462627410889))))
        )
        return 0.5 * math.pi * k, 0.5 * math.pi * e
    a = 1.0
    b = math.sqrt(m1)
    total = 0.5 * (1.0 - m1)
    power = 0.5
    for _ in range(40):
        c = 0.5 * (a - b)
        if abs(c) < 1e-9 * a:
            # Convergence is quadratic: the next c is below 1e-18.
            a = 0.5 * (a + b)
            break
        an = 0.5 * (a + b)
        b = math.sqrt(a * b)
        a = an
        power *= 2.0
        total += power * c * c
    k = math.pi / (2.0 * a)
    return k, k * (1.0 - total)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def ring_static(rho: float, rho_s: float, dz: float) -> tuple[float, float]:
    """Means over a turn of 1/(4 pi R) and cos(phi)/(4 pi R)."""
    s2 = (rho + rho_s) ** 2 + dz * dz
    d2 = (rho - rho_s) ** 2 + dz * dz
    big_a = rho * rho + rho_s * rho_s + dz * dz
    big_b = 2.0 * rho * rho_s
    x = big_b / big_a
    if x < 2e-3:
        root = 1.0 / math.sqrt(big_a)
        c0 = root * (1.0 + 3.0 / 16.0 * x * x)
        c1 = root * 0.25 * x * (1.0 + 15.0 / 32.0 * x * x)
        return c0 / _FOUR_PI, c1 / _FOUR_PI
    m1 = d2 / s2
    if m1 < 1e-30:
        m1 = 1e-30
    k, e = elliptic_k_e(m1)
    s = math.sqrt(s2)
    c0 = k / s
    c1 = (big_a * c0 - s * e) / big_b
    f = 2.0 / math.pi / _FOUR_PI
    return c0 * f, c1 * f


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def remainder(k: float, r: float) -> complex:
    """(exp(-jkR) - 1)/(4 pi R), finite at R = 0."""
    x = k * r
    if x < 1e-3:
        return complex(-0.5 * k * x, -k * (1.0 - x * x / 6.0)) / _FOUR_PI
    return complex((math.cos(x) - 1.0) / r, -math.sin(x) / r) / _FOUR_PI


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def green(k: float, r: float, part: int) -> complex:
    """The static part (0), the remainder (1) or all (2) of exp(-jkR)/(4 pi R) at a distance ``r`` above zero."""
    if part == 0:
        return complex(1.0 / (_FOUR_PI * r), 0.0)
    if part == 1:
        return remainder(k, r)
    x = k * r
    f = 1.0 / (_FOUR_PI * r)
    return complex(f * math.cos(x), -f * math.sin(x))


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def ring_remainder(
    k: float, rho: float, rho_s: float, dz: float, extra: float, nodes: Any, weights: Any, count: int
) -> tuple[complex, complex]:
    """Means over a turn of the remainder and of cos(phi) times it; ``extra`` [m^2] is added to R^2."""
    big_a = rho * rho + rho_s * rho_s + dz * dz + extra
    big_b = 2.0 * rho * rho_s
    c0 = 0.0j
    c1 = 0.0j
    for i in range(count):
        c = nodes[i]
        g = remainder(k, math.sqrt(max(big_a - big_b * c, 0.0))) * weights[i]
        c0 += g
        c1 += g * c
    return c0, c1


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def softened(d2: float, axial_t: float, axial_s: float, a_t: float, a_s: float) -> float:
    """Mean squared distance to use between two thin rods whose axes are ``sqrt(d2)`` apart.

    ``axial_t``, ``axial_s`` are the components of the separation along each rod. Far away the mean of 1/R over both
    circumferences is that of R^2 + a^2 (3 cos^2 - 1)/2 (second order in a/R, exact for parallel rods); where rods touch
    the mean of R^2 itself, d^2 + a^2, keeps the kernel finite. The two are blended.
    """
    near = 2.0 * (a_t + a_s)
    if d2 <= 0.0:
        return a_t * a_t + a_s * a_s
    q = d2 / (near * near)
    w = 1.0 / (1.0 + q * q * q)
    ct = axial_t * axial_t / d2
    cs = axial_s * axial_s / d2
    far = 0.5 * (a_t * a_t * (3.0 * ct - 1.0) + a_s * a_s * (3.0 * cs - 1.0))
    return d2 + w * (a_t * a_t + a_s * a_s) + (1.0 - w) * far


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def pair_kernel(
    k: float,
    part: int,
    kind_t: int,
    rt: Any,
    tt: Any,
    a_t: float,
    kind_s: int,
    rs: Any,
    ts: Any,
    a_s: float,
    same: bool,
    order: int,
    mode: int,
    ground: bool,
    cosines: Any,
    gauss_cos: Any,
    gauss_weight: Any,
    offset: Any,
) -> tuple[complex, complex]:
    """Orbit means G_V and G_S between a test point and a source point.

    ``part`` 0 is 1/(4 pi R), 1 the remainder at wavenumber ``k``, 2 their sum. ``same``: both points on one straight rod, so the
    exact tube kernel holds. ``cosines`` (order, 2) are cos and sin of the turns. ``gauss_*`` hold Gauss rules of every
    count up to their last, packed with ``offset``.
    """
    gv = 0.0j
    gs = 0.0j
    far2 = FAR_RADII * FAR_RADII * (a_t + a_s) * (a_t + a_s)
    images = 2 if ground else 1
    for image in range(images):
        sign = 1.0 if image == 0 else -1.0
        zs = rs[2] * sign
        # The image of a current keeps its z part and turns the rest; its charge changes sign.
        tsx = ts[0] * sign
        tsy = ts[1] * sign
        tsz = ts[2]
        if kind_t == 0 or kind_s == 0:
            if kind_t == 0:
                rho = rt[0]
                trho = tt[0]
            else:
                rho = math.sqrt(rt[0] * rt[0] + rt[1] * rt[1])
                trho = (tt[0] * rt[0] + tt[1] * rt[1]) / rho if rho > 0.0 else 0.0
            if kind_s == 0:
                rho_s = rs[0]
                tsrho = tsx
            else:
                rho_s = math.sqrt(rs[0] * rs[0] + rs[1] * rs[1])
                tsrho = (tsx * rs[0] + tsy * rs[1]) / rho_s if rho_s > 0.0 else 0.0
            dz = rt[2] - zs
            extra = 0.0
            if kind_t == 1:
                extra += a_t * a_t
            if kind_s == 1:
                extra += a_s * a_s
            c0 = 0.0j
            c1 = 0.0j
            if part != 1:
                f0, f1 = ring_static(rho, rho_s, math.sqrt(dz * dz + extra))
                c0 += f0
                c1 += f1
            if part != 0:
                small = min(rho, rho_s) * k
                count = 4 + int(3.0 * small)
                if small < 0.05:
                    count = 2
                if count > 40:
                    count = 40
                o = offset[count]
                r0, r1 = ring_remainder(k, rho, rho_s, dz, extra, gauss_cos[o:], gauss_weight[o:], count)
                c0 += r0
                c1 += r1
            gs += sign * c0
            gv += trho * tsrho * c1 + tt[2] * tsz * c0
        else:
            for turn in range(order):
                cth = cosines[turn, 0]
                sth = cosines[turn, 1]
                sx = cth * rs[0] - sth * rs[1]
                sy = sth * rs[0] + cth * rs[1]
                ux = cth * tsx - sth * tsy
                uy = sth * tsx + cth * tsy
                dx = rt[0] - sx
                dy = rt[1] - sy
                dz = rt[2] - zs
                d2 = dx * dx + dy * dy + dz * dz
                if d2 > far2:
                    g = green(k, math.sqrt(d2), part)
                else:
                    along_t = dx * tt[0] + dy * tt[1] + dz * tt[2]
                    along_s = dx * ux + dy * uy + dz * tsz
                    thin = 1e-8 * (a_t + a_s) * (a_t + a_s)
                    own = same and turn == 0 and image == 0
                    if own or (d2 - along_t * along_t < thin and d2 - along_s * along_s < thin):
                        # Both points on one axis: the exact tube kernel.
                        g = 0.0j
                        if part != 1:
                            f0, _ = ring_static(a_t, a_s, math.sqrt(d2))
                            g += f0
                        if part != 0:
                            g += remainder(k, math.sqrt(d2 + a_t * a_t + a_s * a_s))
                    else:
                        g = green(k, math.sqrt(softened(d2, along_t, along_s, a_t, a_s)), part)
                if mode != 0:
                    g = g * complex(cosines[(mode * turn) % order, 0], -cosines[(mode * turn) % order, 1])
                gs += sign * g / order
                gv += (tt[0] * ux + tt[1] * uy + tt[2] * tsz) * g / order
    return gv, gs


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def nearest(kind_t: int, rt: Any, kind_s: int, start: Any, end: Any, order: int, cosines: Any) -> tuple[float, float]:
    """Parameter 0..1 on the source element nearest to a test point, over all copies."""
    best = 1e300
    best_t = 0.5
    turns = order if (kind_t == 1 and kind_s == 1) else 1
    for turn in range(turns):
        if kind_t == 1 and kind_s == 1:
            cth = cosines[turn, 0]
            sth = cosines[turn, 1]
            # Turn the test point back instead of the source forward.
            px = cth * rt[0] + sth * rt[1]
            py = -sth * rt[0] + cth * rt[1]
            ax = start[0]
            ay = start[1]
            bx = end[0]
            by = end[1]
        else:
            px = rt[0] if kind_t == 0 else math.sqrt(rt[0] * rt[0] + rt[1] * rt[1])
            py = 0.0
            ax = start[0] if kind_s == 0 else math.sqrt(start[0] * start[0] + start[1] * start[1])
            bx = end[0] if kind_s == 0 else math.sqrt(end[0] * end[0] + end[1] * end[1])
            ay = 0.0
            by = 0.0
        dx = bx - ax
        dy = by - ay
        dz = end[2] - start[2]
        l2 = dx * dx + dy * dy + dz * dz
        t = 0.0
        if l2 > 0.0:
            t = ((px - ax) * dx + (py - ay) * dy + (rt[2] - start[2]) * dz) / l2
        t = min(1.0, max(0.0, t))
        ex = px - ax - t * dx
        ey = py - ay - t * dy
        ez = rt[2] - start[2] - t * dz
        d2 = ex * ex + ey * ey + ez * ez
        if d2 < best:
            best = d2
            best_t = t
    return best_t, math.sqrt(best)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def near_pairs(
    kind: Any, start: Any, end: Any, length: Any, radius: Any, order: int, cosines: Any, ground: bool, factor: float
) -> Any:
    """Element pairs too close for plain Gauss rules, (n, n) bool, symmetric."""
    n = kind.shape[0]
    out = np.zeros((n, n), dtype=np.bool_)
    for i in range(n):
        for j in range(i + 1):
            limit = factor * max(length[i], length[j])
            near = i == j
            for swap in range(2):
                a = i if swap == 0 else j
                b = j if swap == 0 else i
                for step in range(3):
                    f = 0.5 * step
                    p = start[a] + (end[a] - start[a]) * f
                    _, d = nearest(kind[a], p, kind[b], start[b], end[b], order, cosines)
                    if d < limit:
                        near = True
                    if ground:
                        p[2] = -p[2]
                        _, d = nearest(kind[a], p, kind[b], start[b], end[b], order, cosines)
                        if d < limit:
                            near = True
            out[i, j] = near
            out[j, i] = near
    return out
