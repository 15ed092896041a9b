"""Far field of generating lines: rings by Bessel functions, rods by the finite sum over copies.

``E_theta = -jk/(4 pi) (eta N_theta + L_phi)``, ``E_phi = -jk eta/(4 pi) N_phi``, with exp(-jkr)/r left out
(radiation vectors as in [@balanis-2016]). Over ground the image is added, over real ground times the
Fresnel coefficients of each direction, and only the upper half space radiates.
"""

from __future__ import annotations

import math
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.special import jv

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eta0
from aerialwright.engine import feed as feeds
from aerialwright.engine.earth import fresnel
from aerialwright.engine.earth_coupling import power_into_ground
from aerialwright.engine.geometry import RING
from aerialwright.engine.matrix import Solved, System
from aerialwright.engine.quadrature import gauss01

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def radiation(
    system: System, solved: Solved, *, theta: FloatArray, phi: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """``E_theta`` and ``E_phi`` (n_theta, n_phi) [V] (times metres) for one volt at the feed.

    ``theta`` (n_theta,) from the zenith and ``phi`` (n_phi,) [rad].
    """
    geometry = system.geometry
    k = 2 * math.pi * solved.frequency / SPEED_OF_LIGHT
    current = (system.value @ solved.coefficients) * system.weight
    kind = system.mesh.kind[system.element]
    tangent = system.tangent[system.element]
    st, ct = np.sin(theta), np.cos(theta)
    n_theta = np.zeros((len(theta), len(phi)), dtype=np.complex128)
    n_phi = np.zeros_like(n_theta)
    rings = kind == RING
    images = _images(system, solved.frequency, ct)
    if np.any(rings):
        rho, z = system.point[rings, 0], system.point[rings, 2]
        t_rho, t_z = tangent[rings, 0], tangent[rings, 2]
        psi = k * np.outer(st, rho)
        j0, j1 = jv(0, psi), jv(1, psi)
        ring_sum = np.zeros(len(theta), dtype=np.complex128)
        for sign, upright, _ in images:
            shift = np.exp(1j * k * sign * np.outer(ct, z))
            part = (sign * t_rho * ct[:, None]) * 1j * j1 - (t_z * st[:, None]) * j0
            ring_sum += upright * ((part * shift) @ current[rings])
        n_theta += ring_sum[:, None]
    rods = ~rings
    if np.any(rods):
        position = system.point[rods]
        along = tangent[rods]
        amount = current[rods]
        radius = system.mesh.radius[system.element[rods]]
        if geometry.aperture.section >= 0:
            place, axis, moment = _gap_moment(system, k)
            position, along = np.vstack([position, place]), np.vstack([along, axis])
            amount, radius = np.append(amount, moment), np.append(radius, 0.0)
        cp, sp = np.cos(phi), np.sin(phi)
        for turn in range(geometry.order):
            angle = 2 * math.pi * turn / geometry.order
            c, s = math.cos(angle), math.sin(angle)
            rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
            phase = complex(math.cos(geometry.mode * angle), -math.sin(geometry.mode * angle)) / geometry.order
            for sign, upright, level in images:
                flip = np.array([1.0, 1.0, sign])
                p = (position * flip) @ rotation.T
                t = (along * np.array([sign, sign, 1.0])) @ rotation.T
                weighted = amount * phase
                # Sum over points for each direction, one phi at a time to bound memory.
                for index in range(len(phi)):
                    direction = np.stack([st * cp[index], st * sp[index], ct], axis=1)
                    # The current flows on the surface: its mean phase over the circumference is J0(k a sin gamma).
                    across = np.sqrt(np.maximum(1.0 - (direction @ t.T) ** 2, 0.0))
                    shift = np.exp(1j * k * direction @ p.T) * _j0(k * across * radius)
                    vector = shift @ (t * weighted[:, None])
                    slanted = (vector[:, 0] * cp[index] + vector[:, 1] * sp[index]) * ct - vector[:, 2] * st
                    n_theta[:, index] += upright * slanted
                    n_phi[:, index] += level * (vector[:, 1] * cp[index] - vector[:, 0] * sp[index])
    factor = -1j * k / (4 * math.pi)
    return factor * (eta0 * n_theta + _gap_vector(system, k, theta, images)[:, None]), factor * eta0 * n_phi


#: Of the antenna itself or of its image: sign of z, and amounts (n_theta,) of its E_theta and E_phi.
_Image: TypeAlias = tuple[float, FloatArray | ComplexArray, FloatArray | ComplexArray]


def _images(system: System, frequency: float, cosine: FloatArray) -> list[_Image]:
    """The antenna and what it sees of itself in the ground, in directions of ``cosine`` (n_theta,) from the zenith.

    Real ground weighs the image of perfect ground by its Fresnel coefficients; nothing is radiated below it.
    """
    geometry, one = system.geometry, np.ones(len(cosine))
    if geometry.earth is not None:
        above = np.where(cosine > -1e-9, 1.0, 0.0)
        tm, te = fresnel(geometry.earth.relative(frequency), np.maximum(cosine, 0.0))
        return [(1.0, above, above), (-1.0, above * tm, -above * te)]
    return [(sign, one, one) for sign in ((1.0, -1.0) if geometry.ground else (1.0,))]


def _j0(x: FloatArray) -> FloatArray:
    """Bessel function J0; for the small arguments of thin rods its series, 3e-7 at 0.3."""
    if x.size == 0 or float(x.max()) > 0.3:
        return np.asarray(jv(0, x))
    square = x * x
    return np.asarray(1.0 - 0.25 * square * (1.0 - 0.0625 * square))


def _gap_vector(system: System, k: float, theta: FloatArray, images: list[_Image]) -> ComplexArray:
    """``L_phi`` (n_theta,) of a feed gap about the axis."""
    total = np.zeros(len(theta), dtype=np.complex128)
    rho, z, amount = feeds.gap_rings(system.geometry.aperture)
    for sign, upright, _ in images:
        j1 = jv(1, k * np.outer(np.sin(theta), rho))
        shift = np.exp(1j * k * sign * np.outer(np.cos(theta), z))
        total += upright * ((1j * j1 * shift) @ (2 * math.pi * rho * amount))
    return total


def _gap_moment(system: System, k: float) -> tuple[FloatArray, FloatArray, complex]:
    """Middle (3,) and axis (3,) of the gap in a rod, and what its magnetic ring radiates as: a current times a length [A m].

    A small magnetic loop of one volt is an electric dipole of ``-j omega eps pi a^2`` (the dual of the magnetic moment of a
    current loop [@balanis-2016]). Of copies, all of them together, as the currents are.
    """
    aperture, geometry = system.geometry.aperture, system.geometry
    axis = np.asarray(aperture.axis)
    middle = np.asarray(aperture.origin) + 0.5 * (aperture.low + aperture.high) * axis
    moment = -1j * k / eta0 * aperture.sense * math.pi * aperture.radius_inner**2
    return middle, axis, moment * geometry.order


def sphere_rule(system: System, frequency: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Directions for the radiated power: theta (n,), phi (m,), and weights (n, m) that sum to the solid angle."""
    geometry = system.geometry
    k = 2 * math.pi * frequency / SPEED_OF_LIGHT
    size = k * geometry.scale
    count = 16 + int(1.6 * size)
    x, w = gauss01(count)
    if geometry.earth is not None:
        # Close to the horizon the reflection changes within the reciprocal of the ground's index.
        part = min(0.5, 4.0 / math.sqrt(abs(geometry.earth.relative(frequency))))
        cosine, weight = np.concatenate([part * x, part + (1 - part) * x]), np.concatenate([part * w, (1 - part) * w])
    elif geometry.ground:
        cosine, weight = x, w
    else:
        cosine, weight = 2 * x - 1, 2 * w
    rods = bool(np.any(system.mesh.kind != RING))
    turns = 1
    if rods:
        # Azimuthal harmonics are multiples of the order; sample one sector.
        turns = 2 + int(2 * (size + 6) / geometry.order)
    phi = 2 * np.pi * (np.arange(turns) + 0.5) / turns / geometry.order
    return np.arccos(cosine), phi, np.outer(weight, np.full(turns, 2 * np.pi / turns))


class Powers(NamedTuple):
    """Powers [W] for one volt amplitude at the feed: accepted, radiated into the air, lost in metal and in real ground."""

    accepted: float
    radiated: float
    metal: float
    ground: float


def powers(system: System, solved: Solved) -> tuple[float, float, float]:
    """(accepted, radiated, lost) power [W] for one volt amplitude at the feed; lost in metal and ground."""
    all_ = shares(system, solved)
    return all_.accepted, all_.radiated, all_.metal + all_.ground


def lost_in_metal(system: System, solved: Solved) -> float:
    """Power [W] that metal, plastic and loads turn into heat for one volt amplitude at the feed."""
    x = solved.coefficients
    return 0.5 * float((x.conj() @ (system.loss_matrix(solved.frequency) @ x)).real)


def shares(system: System, solved: Solved) -> Powers:
    """Where the power goes, each part worked out on its own: their sum checks the currents."""
    accepted = 0.5 * solved.admittance.real
    theta, phi, weight = sphere_rule(system, solved.frequency)
    e_theta, e_phi = radiation(system, solved, theta=theta, phi=phi)
    radiated = float(np.sum(weight * (abs(e_theta) ** 2 + abs(e_phi) ** 2))) / (2 * eta0)
    ground = 0.0 if system.earth is None else power_into_ground(system.earth, solved.frequency, solved.coefficients)
    return Powers(accepted, radiated, lost_in_metal(system, solved), ground)
