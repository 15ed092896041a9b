"""Waves over real ground: Fresnel coefficients and the Green functions of a half-space by numerical Sommerfeld integrals.

Source and observer are in air at heights z' and z, rho apart, zeta = z + z'. What the ground adds to the potentials
follows from the two reflection coefficients of plane waves (formulation C of the mixed potentials [@michalski-mosig-1997],
derived again from the fields of the vertical and the horizontal dipole [@sommerfeld-1909]):

    horizontal current to horizontal    P = [R_TE]
    vertical to vertical                V = [R_TM - kz0^2 S]
    horizontal to vertical, and back    d/drho W and -d/drho W along the line from source to observer, W = [j kz0 S]
    charge                              C = [R_TE + kz0^2 S]

with S = (R_TE + R_TM) / k_rho^2 and [f] = 1/(4 pi) int f exp(-j kz0 zeta) J0(k_rho rho) k_rho / (j kz0) dk_rho; without
ground's coefficients, f = 1, this is exp(-j k R)/(4 pi R) of the image. Perfect ground has -1, 1, 0, -1.
The integrals run above the branch points and the pole of R_TM, then along the real axis till exp(-k_rho zeta) has died.
All pairs (rho, zeta) of a table share one set of nodes, so that a table is a few products of matrices.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.special import j0, j1, jv

from aerialwright.engine.kernel import FAST
from aerialwright.engine.quadrature import gauss01

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: What the spectrum has decayed to where it is cut, as an exponent: exp(-20) = 2e-9.
_TAIL = 20.0
#: Nodes on the real axis that are held at once.
_CHUNK = 2048
#: Steps of the table: across the angle near the ground (per unit of log distance) and per wavelength farther off.
_PER_LOG, _PER_WAVE = 9.0, 7.0


def fresnel(relative: complex, cosine: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Reflection coefficients (R_TM, R_TE) of ground of complex relative permittivity, for waves at ``cosine`` of the angle
    from the vertical. R_TM is that of the vertical electric field (1 on metal), R_TE that of the level one (-1 on metal).
    """
    down = _root(relative - 1.0 + cosine**2)
    tm = (relative * cosine - down) / (relative * cosine + down)
    te = (cosine - down) / (cosine + down)
    return tm, te


def _root(square: Any) -> ComplexArray:
    """The root of a squared wave number that dies downward: imaginary part of 0 or less."""
    root = np.sqrt(np.asarray(square, dtype=np.complex128))
    return np.asarray(np.where(root.imag > 0.0, -root, root))


def spectra(relative: complex, k: float, lateral: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
    """Vertical wave number kz0 (m,) [1/m] and the spectra (4, m) of P, C, V and W at lateral wave numbers (m,) [1/m]."""
    air = _root(k * k - lateral**2)
    earth = _root(relative * k * k - lateral**2)
    te = k * k * (1.0 - relative) / (air + earth) ** 2
    tm = (relative * air - earth) / (relative * air + earth)
    s = -2.0 * (relative - 1.0) / ((air + earth) * (relative * air + earth))
    return air, np.stack([te, te + air**2 * s, tm - air**2 * s, 1j * air * s])


def _path(relative: complex, k: float, rho: float, low: float, high: float) -> tuple[ComplexArray, ComplexArray]:
    """Nodes and weights of the path for distances up to ``rho`` and heights zeta of ``low`` to ``high`` [m]."""
    index = complex(_root(np.asarray(relative)))
    # A ground wave that dies within a wavelength leaves no singularity near the axis.
    top = k * (max(1.0, index.real) + 0.5) if -index.imag < 1.0 else 1.5 * k
    # J0 grows by exp(rise * rho): digits are lost beyond a few.
    rise = min(0.4 * k, 5.0 / max(rho, 1e-9))
    width = min(rise, 3.0 / max(rho, 2.0 * high), 0.3 * k)
    count = math.ceil(top / width)
    x, w = gauss01(8)
    t = ((np.arange(count)[:, None] + x) / count).ravel()
    bend = np.pi * t
    first = top * t + 1j * rise * np.sin(bend)
    first_w = (top + 1j * rise * np.pi * np.cos(bend)) * np.tile(w, count) / count
    # Along the axis panels grow with the distance from the bend, up to what the oscillation allows.
    cuts = [top]
    last = top + _TAIL / low
    while cuts[-1] < last:
        step = min(max(rise, 0.5 * (cuts[-1] - top)), 5.0 / max(rho, 1e-9), 2.0 / low)
        cuts.append(min(last, cuts[-1] + step))
    begin, size = np.array(cuts[:-1]), np.diff(cuts)
    second = (begin[:, None] + size[:, None] * x).ravel()
    return np.concatenate([first, second]), np.concatenate([first_w, np.outer(size, w).ravel()])


def integrals(relative: complex, k: float, rho: FloatArray, zeta: FloatArray) -> ComplexArray:
    """P, C, V and dW/drho (4, n, m) [1/m] at distances ``rho`` (n,) and heights ``zeta`` (m,) above zero [m]."""
    lateral, weight = _path(relative, k, float(rho.max()), float(zeta.min()), float(zeta.max()))
    air, spectrum = spectra(relative, k, lateral)
    spectrum = spectrum * (weight * lateral / (4.0 * math.pi * 1j * air))
    # d/drho J0(k rho) = -k J1(k rho)
    spectrum[3] *= -lateral
    out = np.zeros((4, len(rho), len(zeta)), dtype=np.complex128)
    bent = int(np.count_nonzero(lateral.imag))
    for first in [0, *range(bent, len(lateral), _CHUNK)]:
        part = slice(first, bent if first < bent else first + _CHUNK)
        decay = np.exp(-1j * np.outer(air[part], zeta))
        argument = np.outer(rho, lateral[part] if first < bent else lateral[part].real)
        even = jv(0, argument) if first < bent else j0(argument)
        odd = jv(1, argument) if first < bent else j1(argument)
        for which in range(4):
            right = spectrum[which, part, None] * decay
            left = odd if which == 3 else even
            if first < bent:
                out[which] += left @ right
            else:
                # Real by complex as one real product.
                out[which] += (left @ right.view(np.float64)).view(np.complex128)
    return out


@dataclass(frozen=True)
class Table:
    """P, C, V and dW/drho over exp(-jkR)/(4 pi R) on a grid that is even in u(rho) and v(zeta), ``values`` (n_u, n_v, 4).

    ``scale``: k [1/m], lowest zeta [m], steps per unit of asinh(rho/lowest) and per metre, the same for log(zeta/lowest).
    """

    values: ComplexArray
    scale: FloatArray


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def _weights(x: float, count: int, out: Any) -> int:
    """Cubic Lagrange weights at grid coordinate ``x``; returns the first of the four points."""
    first = min(max(int(x) - 1, 0), count - 4)
    t = x - first
    out[0] = -(t - 1.0) * (t - 2.0) * (t - 3.0) / 6.0
    out[1] = t * (t - 2.0) * (t - 3.0) / 2.0
    out[2] = -t * (t - 1.0) * (t - 3.0) / 2.0
    out[3] = t * (t - 1.0) * (t - 2.0) / 6.0
    return first


@njit(cache=True, nogil=True, error_model="numpy", fastmath=FAST)
def look_up(values: Any, scale: Any, rho: float, zeta: float, wu: Any, wv: Any, out: Any) -> None:
    """P, C, V and dW/drho [1/m] into ``out`` (4,); ``wu`` and ``wv`` (4,) are scratch."""
    iu = _weights(scale[2] * math.asinh(rho / scale[1]) + scale[3] * rho, values.shape[0], wu)
    iv = _weights(scale[4] * math.log(zeta / scale[1]) + scale[5] * (zeta - scale[1]), values.shape[1], wv)
    a0 = a1 = a2 = a3 = 0.0j
    for i in range(4):
        for j in range(4):
            w = wu[i] * wv[j]
            a0 += w * values[iu + i, iv + j, 0]
            a1 += w * values[iu + i, iv + j, 1]
            a2 += w * values[iu + i, iv + j, 2]
            a3 += w * values[iu + i, iv + j, 3]
    r = math.sqrt(rho * rho + zeta * zeta)
    g = complex(math.cos(scale[0] * r), -math.sin(scale[0] * r)) / (4.0 * math.pi * r)
    out[0], out[1], out[2], out[3] = a0 * g, a1 * g, a2 * g, a3 * g


def _even(forward: Any, count: int, reach: float) -> FloatArray:
    """Places in 0..reach (and a little beyond) whose coordinate ``forward`` is 0, 1, ... ``count`` - 1."""
    wanted = np.arange(count, dtype=np.float64)
    low, high = np.zeros(count), np.full(count, 4.0 * reach)
    for _ in range(60):
        middle = 0.5 * (low + high)
        above = forward(middle) > wanted
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.asarray(0.5 * (low + high))


@lru_cache(maxsize=24)
def table(relative: complex, k: float, rho: float, low: float, high: float) -> Table:
    """Table of the half-space for ``rho`` up to and ``zeta`` between limits [m]; ``k`` [1/m] of air.

    Its cost grows with rho / low; see docs/decisions/0023-real-ground.md.
    """
    wave = 2.0 * math.pi / k
    # The wave along the ground's own side beats with that in air near the ground.
    index = complex(_root(np.asarray(relative)))
    beat = 2.5 * (index.real - 1.0) * math.exp(-k * (index.real - index.imag) * low)
    scale = np.array([k, low, _PER_LOG, _PER_WAVE * (1.0 + beat) / wave, _PER_LOG, _PER_WAVE / wave])

    def u(x: FloatArray) -> FloatArray:
        return np.asarray(scale[2] * np.arcsinh(x / low) + scale[3] * x)

    def v(x: FloatArray) -> FloatArray:
        return np.asarray(scale[4] * np.log1p(x / low) + scale[5] * x)

    def count(last: float) -> int:
        return max(4, int(last) + 3)

    rhos = _even(u, count(float(u(np.array(rho)))), max(rho, low))
    zetas = low + _even(v, count(float(v(np.array(high - low)))), max(high - low, low))
    found = integrals(relative, k, rhos, zetas)
    r = np.hypot(rhos[:, None], zetas)
    values = found * (4.0 * math.pi * r * np.exp(1j * k * r))
    return Table(np.ascontiguousarray(np.moveaxis(values, 0, 2)), scale)
