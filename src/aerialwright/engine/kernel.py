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
#: Bits of a pair's code.
NEAR, RINGS, FLAT = 1, 2, 4
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
def polynomials(x: float, out: Any) -> None:
    """Legendre polynomials at ``x`` in -1..1, as many as ``out`` has room for."""
    out[0] = 1.0
    out[1] = x
    for n in range(2, out.shape[0]):
        out[n] = ((2 * n - 1) * x * out[n - 1] - (n - 1) * out[n - 2]) / n


#: Added and taken away again, rounds to the nearest integer (up to 2^51).
_ROUND = 1.5 * 2.0**52


@njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"}, forceinline=True)
def cosine_sine(x: float) -> tuple[float, float]:
    """cos x and sin x, absolute error below 3e-14 + 1e-16 x for x >= 0.

    Taylor polynomials on -pi/4..pi/4 and no branch, so that loops over many points become vector instructions.
    """
    # No regrouping here, or the rounding would be taken out.
    turns = (x * (2.0 / math.pi) + _ROUND) - _ROUND
    r = x - turns * (0.5 * math.pi)
    quarter = turns - 4.0 * (((0.25 * turns - 0.375) + _ROUND) - _ROUND)
    q = r * r
    s = r + r * q * (
        -1 / 6 + q * (1 / 120 + q * (-1 / 5040 + q * (1 / 362880 + q * (-1 / 39916800 + q * (1 / 6227020800)))))
    )
    c = 1.0 + q * (
        -0.5
        + q
        * (1 / 24 + q * (-1 / 720 + q * (1 / 40320 + q * (-1 / 3628800 + q * (1 / 479001600 - q * (1 / 87178291200))))))
    )
    odd = quarter == 1.0 or quarter == 3.0
    cosine = s if odd else c
    sine = c if odd else s
    return (-cosine if quarter == 1.0 or quarter == 2.0 else cosine), (-sine if quarter >= 2.0 else sine)


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST, forceinline=True)
def remainder(k: float, r: float) -> complex:
    """(exp(-jkR) - 1)/(4 pi R), finite at R = 0."""
    x = k * r
    # sin(x)/x and (1 - cos x)/x = sin(x/2)^2 / (x/2) lose no digits; both go to their limits at zero.
    c, s = cosine_sine(0.5 * x)
    inverse = 1.0 / (x + 1e-150)
    near = x < 1e-100
    return complex(-2.0 * s * s * inverse, -1.0 if near else -2.0 * s * c * inverse) * (k / _FOUR_PI)


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


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST, forceinline=True)
def softened(d2: float, axial_t: float, axial_s: float, a_t: float, a_s: float) -> float:
    """Mean squared distance to use between two thin rods whose axes are ``sqrt(d2)`` apart.

    ``axial_t``, ``axial_s`` are the components of the separation along each rod. Far away the mean of 1/R over both
    circumferences is that of R^2 + a^2 (3 cos^2 - 1)/2 (second order in a/R, exact for parallel rods); where rods touch
    the mean of R^2 itself, d^2 + a^2, keeps the kernel finite. The two are blended.
    """
    # w = 1 / (1 + (d2 / near^2)^3) and 1 / d2 with one division; a distance of 1e-15 m is none.
    near = 4.0 * (a_t + a_s) * (a_t + a_s)
    near = near * near * near
    d2 = d2 + 1e-30
    sixth = near + d2 * d2 * d2
    both = 1.0 / (d2 * sixth)
    w = near * d2 * both
    inverse = sixth * both
    ct = axial_t * axial_t * inverse
    cs = axial_s * axial_s * inverse
    far = 0.5 * (a_t * a_t * (3.0 * ct - 1.0) + a_s * a_s * (3.0 * cs - 1.0))
    return d2 + w * (a_t * a_t + a_s * a_s) + (1.0 - w) * far


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def nearest(kind_t: int, rt: Any, kind_s: int, start: Any, end: Any, order: int, cosines: Any) -> tuple[float, float]:
    """Parameter 0..1 on the source element nearest to a test point, over all copies."""
    best = 1e300
    best_t = 0.5
    turns = order if (kind_t == 1 and kind_s == 1) else 1
    if rt[1] == 0.0 and start[1] == 0.0 and end[1] == 0.0 and min(rt[0], start[0], end[0]) >= 0.0:
        # In one half plane through the axis: a copy is never nearer.
        turns = 1
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
def pair_codes(
    kind: Any, start: Any, end: Any, length: Any, radius: Any, order: int, mode: int, cosines: Any, ground: bool,
    factor: float, k: float,
) -> Any:  # fmt: skip
    """How each pair of elements is integrated, (n, n) uint8, symmetric: the sum of NEAR, RINGS and FLAT where they hold.

    NEAR: too close for plain Gauss rules, within ``factor`` of the longer one. RINGS: a ring takes part, or so many copies
    stand so far away that their mean is that of a ring. FLAT: both lie in the half plane y = 0, x >= 0.
    ``k`` [1/m] is the highest wavenumber.

    The mean of N copies differs from the ring's by exp(-N eta), cosh(eta) = big_a / big_b, as a trapezoidal rule, once N is
    well above k times the change of distance round the ring: 2e-5 for N eta = 11.
    """
    n = kind.shape[0]
    out = np.zeros((n, n), dtype=np.uint8)
    eta = 11.0 / order
    apart = 2.0 * (0.5 * eta**2 + eta**4 / 20.0)
    for i in range(n):
        for j in range(i + 1):
            limit = factor * max(length[i], length[j])
            if order == 1 and not ground and kind[i] != 0 and kind[j] != 0:
                d2 = 0.0
                for axis in range(3):
                    d2 += (0.5 * (start[i, axis] + end[i, axis] - start[j, axis] - end[j, axis])) ** 2
                if d2 > (0.5 * (length[i] + length[j]) + limit) ** 2:
                    # Far apart whichever way they lie.
                    continue
            flat = True
            for side in range(2):
                e = i if side == 0 else j
                flat = flat and start[e, 1] == 0.0 and end[e, 1] == 0.0 and min(start[e, 0], end[e, 0]) >= 0.0
            least = 0.0 if i == j else 1e300
            for swap in range(2):
                a = i if swap == 0 else j
                b = j if swap == 0 else i
                for step in range(3):
                    p = start[a] + (end[a] - start[a]) * (0.5 * step)
                    for _ in range(2 if ground else 1):
                        _, d = nearest(kind[a], p, kind[b], start[b], end[b], order, cosines)
                        least = min(least, d)
                        p[2] = -p[2]
            code = NEAR if i == j or least < limit else 0
            if kind[i] == 0 or kind[j] == 0:
                code += RINGS
            elif flat:
                code += FLAT
                rho_i = max(start[i, 0], end[i, 0])
                rho_j = max(start[j, 0], end[j, 0])
                # Seen from three points only: a little nearer may be.
                d2 = 0.6 * least * least
                bends = k * rho_i * rho_j / math.sqrt(d2 + 2.0 * rho_i * rho_j + 1e-300)
                if (
                    mode == 0
                    and order >= 12
                    and code & NEAR == 0
                    and d2 > apart * rho_i * rho_j
                    and d2 > 64.0 * (radius[i] + radius[j]) ** 2
                    and bends < 0.25 * order
                ):
                    code += RINGS
            out[i, j] = code
            out[j, i] = code
    return out
