"""The feed gap as a magnetic ring current on closed metal.

The gap is closed by metal and the field across it, one volt falling as ``e(s)``, becomes a magnetic current ``M = -n x E``.
Inside the closed body the fields vanish, so the answer does not hold the capacitance of an open tube's inside.
The field of a magnetic ring is that of an electric current loop by duality: closed form (K and E) for its static part.
The impedance is referred to the gap's surface.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from aerialwright.engine.geometry import Aperture
from aerialwright.engine.kernel import FAST, elliptic_k_e, ring_remainder, ring_static
from aerialwright.engine.quadrature import gauss01, graded_to_start, turn_rules

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _loop_static(rho: float, z: float, rho_s: float) -> tuple[float, float]:
    """E_rho and E_z of a unit magnetic ring current of radius ``rho_s`` at z = 0: minus the Biot-Savart field of a loop."""
    s2 = (rho + rho_s) ** 2 + z * z
    d2 = (rho - rho_s) ** 2 + z * z
    if d2 < 1e-30 * s2:
        return 0.0, 0.0
    k, e = elliptic_k_e(d2 / s2)
    s = math.sqrt(s2)
    ez = -(k + (rho_s * rho_s - rho * rho - z * z) / d2 * e) / (2.0 * math.pi * s)
    if rho < 1e-4 * rho_s:
        # On the axis the radial field vanishes linearly.
        er = -0.75 * rho_s * rho_s * rho * z / (rho_s * rho_s + z * z) ** 2.5
        return er, ez
    er = -z / (2.0 * math.pi * rho * s) * (-k + (rho_s * rho_s + rho * rho + z * z) / d2 * e)
    return er, ez


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _loop_remainder(
    k: float, rho: float, z: float, rho_s: float, cosines: Any, weights: Any, count: int
) -> tuple[complex, complex]:
    """Frequency-dependent rest of the same fields."""
    er = 0.0j
    ez = 0.0j
    for i in range(count):
        c = cosines[i]
        r2 = rho * rho + rho_s * rho_s - 2.0 * rho * rho_s * c + z * z
        r = math.sqrt(max(r2, 0.0))
        x = k * r
        if x < 2e-2:
            h = complex(-0.5 + 0.125 * x * x, x / 3.0 - x * x * x / 30.0) * k * k / max(r, 1e-30)
            # (1 - (1 + jx) exp(-jx)) / R^3 = k^2 (-1/2 + jx/3 + x^2/8 - j x^3/30 ...) / R
        else:
            ex = complex(math.cos(x), -math.sin(x))
            h = (1.0 - complex(1.0, x) * ex) / (r * r2)
        h = h * weights[i] * 2.0 * math.pi * rho_s / (4.0 * math.pi)
        er += h * c * z
        ez += h * (rho_s - rho * c)
    return er, ez


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def gap_field(
    k: float,
    static: bool,
    local: Any,
    annulus: bool,
    inner: float,
    outer: float,
    low: float,
    high: float,
    graded_x: Any,
    graded_w: Any,
    plain_x: Any,
    plain_w: Any,
    cosines: Any,
    weights: Any,
    offset: Any,
    out: Any,
) -> None:
    """Tangential field of the gap's magnetic current at points in its own frame.

    ``local`` (n, 4): rho, z, t_rho, t_z. ``out`` (n,) complex is added to.
    """
    length = outer - inner if annulus else high - low
    norm = 1.0 / math.log(outer / inner) if annulus else 1.0 / length
    for i in range(local.shape[0]):
        rho = local[i, 0]
        z = local[i, 1]
        tr = local[i, 2]
        tz = local[i, 3]
        acc = 0.0j
        t0 = (rho - inner) / length if annulus else (z - low) / length
        t0 = min(1.0, max(0.0, t0))
        for side in range(2):
            span = t0 if side == 0 else 1.0 - t0
            if span < 1e-12:
                continue
            count = graded_x.shape[0] if static else plain_x.shape[0]
            for q in range(count):
                u = graded_x[q] if static else plain_x[q]
                wu = graded_w[q] if static else plain_w[q]
                t = t0 - span * u if side == 0 else t0 + span * u
                w = wu * span * length * norm
                if annulus:
                    rs = inner + t * length
                    dz = z
                    w = w / rs
                else:
                    rs = inner
                    dz = z - (low + t * length)
                if static:
                    er, ez = _loop_static(rho, dz, rs)
                    acc += w * (tr * er + tz * ez)
                else:
                    nphi = 4 + int(2.5 * k * min(rho, rs))
                    if nphi > 40:
                        nphi = 40
                    o = offset[nphi]
                    cr, cz = _loop_remainder(k, rho, dz, rs, cosines[o:], weights[o:], nphi)
                    acc += w * (tr * cr + tz * cz)
        out[i] += acc


def weight_of_gap(
    aperture: Aperture, distance: FloatArray, start_rho: float, end_rho: float, length: float
) -> FloatArray:
    """``e(s)`` [1/m] at fractions ``distance`` (n,) along a gap element from ``start_rho`` to ``end_rho``."""
    if aperture.annulus:
        rho = start_rho + (end_rho - start_rho) * distance
        return 1.0 / (rho * math.log(aperture.radius_outer / aperture.radius_inner))
    total = aperture.high - aperture.low
    return np.full_like(distance, 1.0 / total)


def gap_rings(aperture: Aperture) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Magnetic rings that stand for a gap about the axis at one volt: radii (n,) and heights (n,) [m], amounts (n,) [V].

    None for a gap in a rod off the axis.
    """
    if aperture.section >= 0:
        return np.empty(0), np.empty(0), np.empty(0)
    x, w = gauss01(8)
    if not aperture.annulus:
        z = aperture.low + (aperture.high - aperture.low) * x
        return np.full_like(x, aperture.radius_inner), z, aperture.sense * w
    width = aperture.radius_outer - aperture.radius_inner
    across = weight_of_gap(aperture, x, aperture.radius_inner, aperture.radius_outer, 1.0)
    return aperture.radius_inner + width * x, np.full_like(x, aperture.origin[2]), aperture.sense * w * width * across


def local_points(
    aperture: Aperture,
    point: FloatArray,
    tangent: FloatArray,
    ring: NDArray[np.bool_],
    own: NDArray[np.bool_],
    order: int,
    mode: int,
    ground: bool,
) -> list[tuple[complex, FloatArray]]:
    """Points (n, 3) and unit tangents (n, 3) in the frame of every copy and image of the gap.

    Returns a list of (phase weight, local (n, 4)). Ring points are given as (rho, 0, z).
    """
    out: list[tuple[complex, FloatArray]] = []
    turns = order if aperture.copies else 1
    for turn in range(turns):
        angle = 2.0 * math.pi * turn / order
        c, s = math.cos(angle), math.sin(angle)
        rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        phase = complex(math.cos(mode * angle), -math.sin(mode * angle))
        for image in range(2 if ground else 1):
            origin = rotation @ np.asarray(aperture.origin)
            axis = rotation @ np.asarray(aperture.axis)
            sense = aperture.sense
            if image:
                origin = origin * np.array([1.0, 1.0, -1.0])
                axis = axis * np.array([1.0, 1.0, -1.0])
                sense = -sense
            d = point - origin
            z = d @ axis
            radial = d - np.outer(z, axis)
            rho = np.linalg.norm(radial, axis=1)
            direction = radial / np.where(rho > 1e-15, rho, 1.0)[:, None]
            t_rho = np.einsum("ij,ij->i", tangent, direction)
            t_z = tangent @ axis
            if aperture.section >= 0:
                # Rods are seen on a surface, at hypot(rho, a): the fed one on its own. Where arms meet at an angle the charges
                # at the two ends of gap that touch then cancel, as they do in a straight pair; seen from the axes they would not.
                # The direction follows the shifted path, so that the field stays the slope of one potential along it.
                apart = np.where(own, 0.0, rho) if turn == 0 and image == 0 else rho
                rho = np.hypot(apart, aperture.radius_inner)
                t_rho = t_rho * apart / rho
            local = np.stack([rho, z, t_rho, t_z], axis=1)
            if aperture.section >= 0:
                # The small ring's field on sheets of revolution is left out: it is that of a loop of gap size.
                local[ring, 2:] = 0.0
            out.append((phase * sense, local))
    return out


def excitation(
    k: float, static: bool, aperture: Aperture, frames: list[tuple[complex, FloatArray]], count: int
) -> ComplexArray:
    """Tangential field (count,) [V/m] of the gap for one volt, at the points behind ``frames``."""
    graded_x, graded_w = graded_to_start(14, 4)
    plain_x, plain_w = gauss01(3)
    cosines, weights, offset = turn_rules()
    total = np.zeros(count, dtype=np.complex128)
    for weight, local in frames:
        out = np.zeros(count, dtype=np.complex128)
        gap_field(
            k, static, local, aperture.annulus, aperture.radius_inner, aperture.radius_outer, aperture.low, aperture.high,
            graded_x, graded_w, plain_x, plain_w, cosines, weights, offset, out,
        )  # fmt: skip
        total += weight * out
    return total


def ground_gap_admittance_kernel(k: float, aperture: Aperture) -> complex:
    """``2 * int int e e' <cos phi g> (2 pi rho)(2 pi rho') ds ds'`` for a coaxial gap in a perfect ground plane.

    Times ``j omega epsilon`` this is the gap's own admittance (the factor 2 is the image).
    """
    a, b = aperture.radius_inner, aperture.radius_outer
    norm = 1.0 / math.log(b / a)
    outer_x, outer_w = gauss01(12)
    inner_x, inner_w = graded_to_start(12, 4)
    cosines, weights, offset = turn_rules()
    total = 0.0j
    for x, w in zip(outer_x, outer_w, strict=True):
        rho = a + (b - a) * x
        for side in (-1.0, 1.0):
            span = x if side < 0 else 1.0 - x
            for u, wu in zip(inner_x, inner_w, strict=True):
                rho_s = a + (b - a) * (x + side * span * u)
                _, c1 = ring_static(rho, rho_s, 0.0)
                o = int(offset[8])
                _, d1 = ring_remainder(k, rho, rho_s, 0.0, 0.0, cosines[o:], weights[o:], 8)
                total += w * wu * span * (b - a) ** 2 * (c1 + d1)
    return complex(total) * 2.0 * (2.0 * math.pi * norm) ** 2
