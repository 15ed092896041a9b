"""From a transmitter in the sky to signal over noise at the receiver, in decibels; arrays over the samples of a pass."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from aerialwright.air.passes import FloatArray
from aerialwright.base.constants import boltzmann, t0
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.solution.records import Pattern


def free_space_loss(*, distance: ArrayLike, frequency: float) -> FloatArray:
    """Basic transmission loss [dB], ``20 log10(4 pi d f / c)`` [@itu-p525]; ``distance`` [m], ``frequency`` [Hz]."""
    return np.asarray(
        20.0 * np.log10(4.0 * math.pi * np.asarray(distance, dtype=np.float64) * frequency / SPEED_OF_LIGHT),
        dtype=np.float64,
    )


def noise_power(*, bandwidth: float, figure: float) -> float:
    """Noise [dBW] in ``bandwidth`` [Hz] referred to the antenna, ``figure`` [dB] of all there is over ``k T0 B``."""
    return 10.0 * math.log10(boltzmann * t0 * bandwidth) + figure


def gain_toward(pattern: Pattern, *, azimuth: FloatArray, elevation: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Gain (n,), linear, and circular part (n,) of an antenna toward ``azimuth`` and ``elevation`` (n,) [degree].

    The structure's x axis points north. Between the directions computed both are linear in angle.
    """
    order = np.argsort(pattern.theta)
    theta = pattern.theta[order]
    turn = np.argsort(pattern.phi)
    phi = np.append(pattern.phi[turn], pattern.phi[turn[0]] + 2.0 * math.pi)
    at_theta = np.clip(np.radians(90.0 - elevation), theta[0], theta[-1])
    at_phi = phi[0] + np.mod(np.radians(-azimuth) - phi[0], 2.0 * math.pi)
    i = np.clip(np.searchsorted(theta, at_theta, side="right") - 1, 0, len(theta) - 2)
    k = np.clip(np.searchsorted(phi, at_phi, side="right") - 1, 0, len(phi) - 2)
    u = (at_theta - theta[i]) / (theta[i + 1] - theta[i])
    v = (at_phi - phi[k]) / (phi[k + 1] - phi[k])

    def between(table: FloatArray) -> FloatArray:
        closed = table[order][:, np.append(turn, turn[0])]
        low = closed[i, k] * (1.0 - v) + closed[i, k + 1] * v
        high = closed[i + 1, k] * (1.0 - v) + closed[i + 1, k + 1] * v
        return np.asarray(low * (1.0 - u) + high * u, dtype=np.float64)

    gain = np.maximum(between(pattern.gain), 1e-12)
    if pattern.gain_handed is None:
        return gain, np.zeros(len(gain))
    return gain, np.clip(between(pattern.gain_handed) / gain, -1.0, 1.0)
