"""Surface impedance of real metal and mesh.

Round rods and tubes by the Bessel form of the internal impedance, sheets by the plane skin effect with finite thickness, bonded
square mesh by its sheet inductance and elastance [@casey-1988]. The current is taken to flow on one side of the metal: a thick
open sheet that carries equal currents on both sides loses half of what is counted.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ive, kve

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import mu0 as VACUUM_PERMEABILITY
from aerialwright.structure.model import Mesh, Metal


def rod_impedance(metal: Metal, *, radius: float, frequency: float) -> complex:
    """Internal impedance of a solid round rod [ohm/m] at ``frequency`` [Hz]: (gamma/(2 pi a sigma)) I0(gamma a)/I1(gamma a)."""
    omega = 2 * math.pi * frequency
    gamma = np.sqrt(1j * omega * VACUUM_PERMEABILITY * metal.relative_permeability * metal.conductivity)
    x = gamma * radius
    # Scaled Bessel functions: the common exponential cancels in the ratio.
    return complex(gamma / (2 * math.pi * radius * metal.conductivity) * ive(0, x) / ive(1, x))


def tube_impedance(metal: Metal, *, radius: float, wall: float, frequency: float) -> complex:
    """Internal impedance of a round tube [ohm/m] with its current outside; a rod where ``wall`` reaches the axis.

    (gamma/(2 pi a sigma)) (I0(ga) K1(gb) + K0(ga) I1(gb)) / (I1(ga) K1(gb) - K1(ga) I1(gb)) with b the inner radius, where the
    magnetic field is nothing [@pozar].
    """
    inner = radius - wall
    if inner < 1e-6 * radius:
        return rod_impedance(metal, radius=radius, frequency=frequency)
    omega = 2 * math.pi * frequency
    gamma = np.sqrt(1j * omega * VACUUM_PERMEABILITY * metal.relative_permeability * metal.conductivity)
    a, b = gamma * radius, gamma * inner
    # Scaled functions; what reaches the inner face and comes back is this much smaller.
    back = np.exp(-(a - b) - (a - b).real)
    above = ive(0, a) * kve(1, b) + kve(0, a) * ive(1, b) * back
    below = ive(1, a) * kve(1, b) - kve(1, a) * ive(1, b) * back
    return complex(gamma / (2 * math.pi * radius * metal.conductivity) * above / below)


def sheet_impedance(metal: Metal, *, thickness: float, frequency: float) -> complex:
    """Surface impedance of a sheet [ohm] carrying current on one side: (gamma/sigma) coth(gamma t)."""
    omega = 2 * math.pi * frequency
    gamma = np.sqrt(1j * omega * VACUUM_PERMEABILITY * metal.relative_permeability * metal.conductivity)
    return complex(gamma / metal.conductivity / np.tanh(gamma * thickness))


def mesh_inductance(mesh: Mesh) -> float:
    """Sheet inductance [H] of a square mesh: (mu0 p / 2 pi) ln(1/(1 - exp(-2 pi r/p))) [@casey-1988]; to a thin wire ln(p/(2 pi r))."""
    radius = 0.5 * mesh.wire_diameter
    return VACUUM_PERMEABILITY * mesh.pitch / (2 * math.pi) * -math.log1p(-math.exp(-2 * math.pi * radius / mesh.pitch))


def mesh_elastance(mesh: Mesh) -> float:
    """Potential of a bonded square mesh above that of a smooth sheet, per charge of its area [V m2/C]: ``c^2 L / 2``.

    Charge sits on the wires, as current does, but on those of both directions: half on each. It is the term with the square of
    the sine of incidence in [@casey-1988].
    """
    return 0.5 * SPEED_OF_LIGHT**2 * mesh_inductance(mesh)


def mesh_impedance(metal: Metal | None, mesh: Mesh, *, frequency: float) -> complex:
    """Sheet impedance [ohm] of a bonded square mesh to current: pitch * z_wire + j omega L.

    Good while the pitch is a small part of a wavelength (the model refuses more than a tenth) [@casey-1988].
    """
    omega = 2 * math.pi * frequency
    wire = 0.0j if metal is None else rod_impedance(metal, radius=0.5 * mesh.wire_diameter, frequency=frequency)
    return mesh.pitch * wire + 1j * omega * mesh_inductance(mesh)
