"""What came out of the engine, frozen, with the checks it made on itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from aerialwright.base.errors import Caution

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class SelfCheck:
    """What the program found when it checked its own answer.

    power_balance : |radiated + lost - accepted| / accepted, worst over the solved frequencies.
    discretisation : relative error of impedance estimated from a finer solve, worst over the sweep.
    sweep_fit : relative change of the fitted sweep by its last solve, worst, never below 0.3 of the tolerance; 0 without a fit.
    unknowns, solves : size of the system and number of frequencies really solved.
    condition : condition number of the matrix, worst.
    """

    power_balance: float
    discretisation: float
    sweep_fit: float
    unknowns: int
    solves: int
    condition: float


@dataclass(frozen=True)
class Pattern:
    """Far field at one frequency.

    ``theta`` (n_theta,) from the zenith [rad], ``phi`` (n_phi,) [rad]; ``gain_theta`` and
    ``gain_phi`` (n_theta, n_phi): partial gain of each polarisation, linear, losses of the metal
    included, mismatch not. ``directivity`` is the peak directivity, linear; ``efficiency`` 0..1: what goes into the air;
    ``into_ground`` 0..1: what real ground takes.
    ``gain_handed`` (n_theta, n_phi): partial gain of right-hand less that of left-hand circular polarisation, None: linear.
    """

    frequency: float
    theta: FloatArray
    phi: FloatArray
    gain_theta: FloatArray
    gain_phi: FloatArray
    directivity: float
    efficiency: float
    into_ground: float = 0.0
    gain_handed: FloatArray | None = None

    @property
    def gain(self) -> FloatArray:
        """Total gain (n_theta, n_phi), linear."""
        return self.gain_theta + self.gain_phi


@dataclass(frozen=True)
class Sweep:
    """Impedance over frequency at the feed aperture.

    ``frequency`` (n,) [Hz], ``impedance`` (n,) [ohm], ``impedance_error`` (n,) [ohm]: radius of
    the disc in the complex plane that the program expects to hold the exact solution of this model.
    """

    frequency: FloatArray
    impedance: ComplexArray
    impedance_error: FloatArray
    check: SelfCheck
    cautions: tuple[Caution, ...] = ()
