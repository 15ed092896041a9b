"""The coaxial line from its dimensions: impedance, velocity, capacitance [@pozar]."""

from __future__ import annotations

import math

from aerialwright.base.constants import c, eta0


def coaxial_impedance(*, inner_diameter: float, outer_diameter: float, permittivity: float = 1.0) -> float:
    """TEM impedance [ohm] of round conductors: ``eta0 / (2 pi sqrt(er)) ln(D / d)``; lengths in any one unit.

    Raises ValueError unless ``0 < inner < outer`` and ``permittivity >= 1``.
    """
    if not 0.0 < inner_diameter < outer_diameter or not permittivity >= 1.0:
        raise ValueError("a coaxial line needs 0 < inner diameter < outer diameter and a permittivity from 1 up")
    return eta0 / (2.0 * math.pi * math.sqrt(permittivity)) * math.log(outer_diameter / inner_diameter)


def velocity_factor(*, permittivity: float) -> float:
    """Wave velocity over that of light, ``1 / sqrt(er)``."""
    return 1.0 / math.sqrt(permittivity)


def coaxial_capacitance(*, impedance: float, velocity_factor: float) -> float:
    """Capacitance per metre [F/m], ``1 / (Z0 v)``."""
    return 1.0 / (impedance * velocity_factor * c)
