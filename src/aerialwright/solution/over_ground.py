"""Far field of an antenna high above real ground, from the currents it has in free space.

Antennas are solved in free space; a few wavelengths up the ground hardly changes their currents, but it decides what
comes in at low angles: the wave that comes straight and the one by way of the ground add up or cancel.
"""

from __future__ import annotations

import math

import numpy as np

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eta0
from aerialwright.base.errors import StructureError
from aerialwright.engine.earth import fresnel
from aerialwright.engine.far_field import radiation, shares
from aerialwright.engine.quadrature import gauss01
from aerialwright.engine.threads import single_thread
from aerialwright.solution.records import ComplexArray, FloatArray, Pattern
from aerialwright.solution.solve import Solution
from aerialwright.structure.ground import Ground

#: Lowest metal for which free-space currents are taken [wavelengths]: below it the ground changes them.
LEAST_HEIGHT = 0.5


def pattern_over_ground(
    solution: Solution,
    frequency: float,
    *,
    ground: Ground,
    height: float,
    theta: FloatArray | None = None,
    phi: FloatArray | None = None,
) -> Pattern:
    """Far field in the upper half-space at one frequency [Hz], z = 0 of the structure being ``height`` [m] above ``ground``.

    ``theta`` (n,) from the zenith and ``phi`` (m,) [rad], by default every degree of height and 15 degrees round. Gain
    refers to the power accepted in free space. Even ground without end, no surface wave.

    Raises
    ------
    StructureError
        If the structure was solved over ground already, or its lowest metal would be lower than half a wavelength.
    """
    structure = solution.structure
    if structure.ground != "none":
        raise StructureError(
            "the antenna was solved over ground already", where=structure.name, mend="ask for its pattern as it is"
        )
    wave = SPEED_OF_LIGHT / frequency
    lines = solution.raw.system.geometry.lines
    lowest = height + min(end[2] for line in lines for end in (line.start, line.end))
    if not lowest >= LEAST_HEIGHT * wave:
        raise StructureError(
            f"its lowest metal would be {lowest:.3g} m up: within half a wavelength ({LEAST_HEIGHT * wave:.3g} m) the ground "
            "changes the currents",
            where=structure.name,
            mend="solve it with this ground in its file, or raise it",
        )
    theta = np.radians(np.linspace(0.0, 90.0, 91)) if theta is None else theta
    phi = np.radians(np.arange(0.0, 360.0, 15.0)) if phi is None else phi
    relative, k = ground.relative(frequency), 2.0 * math.pi / wave
    solved = solution.raw.solved_at(frequency)

    def field(at: FloatArray, round_: FloatArray) -> tuple[ComplexArray, ComplexArray]:
        cosine = np.cos(at)[:, None]
        above = cosine > -1e-9
        tm, te = fresnel(relative, np.maximum(cosine, 0.0))
        down_theta, down_phi = radiation(solution.raw.system, solved, theta=math.pi - at, phi=round_)
        up_theta, up_phi = radiation(solution.raw.system, solved, theta=at, phi=round_)
        # From z = 0 of the structure up the straight wave is ahead, the other one behind, by k h cos(theta).
        ahead = np.exp(1j * k * height * cosine)
        # A mirror turns the sense of theta: on metal (tm = 1) the image of an upright dipole adds.
        return above * (up_theta * ahead + tm * down_theta / ahead), above * (up_phi * ahead + te * down_phi / ahead)

    with single_thread():
        free = shares(solution.raw.system, solved)
        accepted = free.radiated + free.metal
        e_theta, e_phi = field(theta, phi)
        x, w = gauss01(24 + int(1.6 * k * (abs(height) + solution.raw.system.geometry.scale)))
        around = 2.0 * math.pi * np.arange(24) / 24
        all_theta, all_phi = field(np.arccos(x), around)
    radiated = float(w @ np.sum(np.abs(all_theta) ** 2 + np.abs(all_phi) ** 2, axis=1)) * math.pi / 12 / (2 * eta0)
    to_gain = 4.0 * math.pi / (2.0 * eta0) / accepted
    gain_theta, gain_phi = np.abs(e_theta) ** 2 * to_gain, np.abs(e_phi) ** 2 * to_gain
    handed = 2.0 * np.imag(e_theta * np.conj(e_phi)) * to_gain
    efficiency = min(1.0, radiated / accepted)
    into_ground = max(0.0, 1.0 - efficiency - free.metal / accepted)
    peak = float((gain_theta + gain_phi).max()) * accepted / radiated
    return Pattern(frequency, theta, phi, gain_theta, gain_phi, peak, efficiency, into_ground, handed)
