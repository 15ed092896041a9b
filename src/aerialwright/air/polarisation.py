"""How much of a wave an antenna takes when the two are polarised differently, and how the ionosphere turns a linear one.

A state of polarisation is its circular part ``s``, from -1 (left-hand) over 0 (linear) to 1 (right-hand); its linear part is
``sqrt(1 - s^2)``. With the tilts differing by ``psi`` the share taken is ``(1 + s1 s2 + l1 l2 cos 2 psi) / 2`` [@balanis-2016]. Arrays
broadcast.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eps0

FloatArray = NDArray[np.float64]

#: Charge [C] and mass [kg] of the electron [@codata-2022].
_CHARGE, _MASS = 1.602176634e-19, 9.1093837139e-31
#: Electrons in a column of the ionosphere [1/m2] from a quiet night to a busy noon, and the earth's field along the path [T]. Usual
#: values from memory, no source.
COLUMNS, FIELD = (5e16, 5e17), 4e-5


def circular_part(axial_ratio: ArrayLike) -> FloatArray:
    """``2 r / (r^2 + 1)`` of an axial ratio ``r >= 1``, as amplitude; infinite for linear."""
    ratio = np.asarray(axial_ratio, dtype=np.float64)
    return np.asarray(2.0 / (ratio + 1.0 / ratio), dtype=np.float64)


def linear_part(circular: ArrayLike) -> FloatArray:
    """``sqrt(1 - s^2)``."""
    return np.asarray(np.sqrt(np.maximum(1.0 - np.asarray(circular) ** 2, 0.0)), dtype=np.float64)


def share_taken(wave: ArrayLike, antenna: ArrayLike, *, tilt: ArrayLike) -> FloatArray:
    """Share of the power taken; circular parts of ``wave`` and ``antenna``, ``tilt`` [rad] between their long axes."""
    both = 1.0 + np.asarray(wave) * np.asarray(antenna)
    return np.asarray(
        0.5 * (both + linear_part(wave) * linear_part(antenna) * np.cos(2.0 * np.asarray(tilt))), dtype=np.float64
    )


def share_quantile(wave: ArrayLike, antenna: ArrayLike, *, part: float) -> FloatArray:
    """Share that is undercut during ``part`` of the time (or by that part of all passes) when every tilt is as likely."""
    return share_taken(wave, antenna, tilt=0.5 * math.pi * (1.0 - part))


def likelihood(wave: ArrayLike, antenna: ArrayLike, *, needed: ArrayLike) -> FloatArray:
    """Probability that the share exceeds ``needed`` when every tilt is as likely: ``arccos`` of the cosine it takes, over pi."""
    middle = 0.5 * (1.0 + np.asarray(wave) * np.asarray(antenna))
    swing = 0.5 * linear_part(wave) * linear_part(antenna)
    over = np.asarray(needed) - middle
    with np.errstate(divide="ignore", invalid="ignore"):
        cosine = np.where(swing > 1e-9, over / swing, np.where(over < 0.0, -1.0, 1.0))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)) / math.pi, dtype=np.float64)


def faraday_turn(*, frequency: float, column: float, field: float) -> float:
    """Turn of a linear wave [rad] on its way through a plasma: ``e^3 B N / (8 pi^2 eps0 m^2 c f^2)`` (Appleton's formula far above
    the plasma and gyro frequencies) [@budden-1985]. ``column`` electrons [1/m2], ``field`` along the path [T]."""
    return _CHARGE**3 * field * column / (8.0 * math.pi**2 * eps0 * _MASS**2 * SPEED_OF_LIGHT * frequency**2)
