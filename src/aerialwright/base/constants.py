"""Physical constants as plain floats, so that nothing heavy is imported for a speed of light.

CODATA 2022 recommended values [@codata-2022], the set that ``scipy.constants`` carries (a test compares them).
``c`` and ``boltzmann`` are exact by definition of the SI; the others follow from the measured fine-structure constant.
"""

from __future__ import annotations

#: Speed of light in vacuum [m/s], exact.
c = 299792458.0
#: Magnetic constant, permeability of free space [H/m].
mu0 = 1.25663706127e-6
#: Electric constant, permittivity of free space [F/m].
eps0 = 8.8541878188e-12
#: Wave impedance of free space [ohm], ``mu0 * c``.
eta0 = mu0 * c
#: Boltzmann constant [J/K], exact.
boltzmann = 1.380649e-23
#: Reference temperature of noise figures [K], by definition of the noise factor.
t0 = 290.0
