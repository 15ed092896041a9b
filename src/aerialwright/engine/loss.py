"""Surface impedance of real metal and mesh.

Round rods by the Bessel form of the internal impedance, sheets by the plane skin effect with finite thickness, bonded square mesh
by its sheet inductance [@casey-1988].
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ive

from aerialwright.base.constants import mu0 as VACUUM_PERMEABILITY
from aerialwright.structure.model import Mesh, Metal


def rod_impedance(metal: Metal, *, radius: float, frequency: float) -> complex:
    """Internal impedance of a solid round rod [ohm/m] at ``frequency`` [Hz]: (gamma/(2 pi a sigma)) I0(gamma a)/I1(gamma a)."""
    omega = 2 * math.pi * frequency
    gamma = np.sqrt(1j * omega * VACUUM_PERMEABILITY * metal.relative_permeability * metal.conductivity)
    x = gamma * radius
    # Scaled Bessel functions: the common exponential cancels in the ratio.
    return complex(gamma / (2 * math.pi * radius * metal.conductivity) * ive(0, x) / ive(1, x))


def sheet_impedance(metal: Metal, *, thickness: float, frequency: float) -> complex:
    """Surface impedance of a sheet [ohm] carrying current on one side: (gamma/sigma) coth(gamma t)."""
    omega = 2 * math.pi * frequency
    gamma = np.sqrt(1j * omega * VACUUM_PERMEABILITY * metal.relative_permeability * metal.conductivity)
    return complex(gamma / metal.conductivity / np.tanh(gamma * thickness))


def mesh_impedance(metal: Metal | None, mesh: Mesh, *, frequency: float) -> complex:
    """Sheet impedance [ohm] of a bonded square mesh: pitch * z_wire + j omega L, L = (mu0 p / 2 pi) ln(1/(1 - exp(-2 pi r/p))).

    Good while the pitch is a small part of a wavelength (the model refuses more than a tenth) [@casey-1988].
    """
    omega = 2 * math.pi * frequency
    radius = 0.5 * mesh.wire_diameter
    inductance = (
        VACUUM_PERMEABILITY * mesh.pitch / (2 * math.pi) * -math.log1p(-math.exp(-2 * math.pi * radius / mesh.pitch))
    )
    wire = 0.0j if metal is None else rod_impedance(metal, radius=radius, frequency=frequency)
    return mesh.pitch * wire + 1j * omega * inductance
