"""Electric and magnetic field near an antenna, at points outside its metal: the sum of short current elements [@balanis-2016].

    E = -j k eta / (4 pi R) exp(-jkR) [ t (1 + 1/jkR - 1/(kR)^2) - R^ (R^.t) (1 + 3/jkR - 3/(kR)^2) ] I dl
    H =  j k / (4 pi R) (1 + 1/jkR) exp(-jkR) (t x R^) I dl

The elements lie on the centre lines of rods and on circles of rings, so that a point must keep some radii away; the feed gap, a
few millimetres of magnetic current, is left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numba import njit
from numpy.typing import NDArray

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eta0
from aerialwright.engine.geometry import RING
from aerialwright.engine.matrix import Solved, System

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


def near_field(system: System, solved: Solved, points: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """Peak phasors ``E`` [V/m] and ``H`` [A/m], both (n, 3), at ``points`` (n, 3) [m] for one volt amplitude at the feed.

    Over a perfect ground the image is part of it, over real ground nothing of what that sends back; points below have no meaning.
    """
    k = 2 * math.pi * solved.frequency / SPEED_OF_LIGHT
    parts = list(_elements(system, solved))
    position, along, moment = (np.ascontiguousarray(np.concatenate([p[k] for p in parts])) for k in range(3))
    electric, magnetic = _sum(np.ascontiguousarray(points, dtype=np.float64), position, along, moment, k)
    return electric, magnetic


@njit(cache=True, nogil=True, fastmath=True)
def _sum(
    points: FloatArray, position: FloatArray, along: FloatArray, moment: ComplexArray, k: float
) -> tuple[ComplexArray, ComplexArray]:
    """Fields (n, 3) of elements at ``position`` (m, 3), directions ``along`` (m, 3) of length one, moments (m,) [A m]."""
    electric = np.zeros(points.shape, dtype=np.complex128)
    magnetic = np.zeros(points.shape, dtype=np.complex128)
    for n in range(points.shape[0]):
        for m in range(position.shape[0]):
            x, y, z = (points[n, 0] - position[m, 0], points[n, 1] - position[m, 1], points[n, 2] - position[m, 2])
            distance = math.sqrt(x * x + y * y + z * z)
            x, y, z = x / distance, y / distance, z / distance
            tx, ty, tz = along[m, 0], along[m, 1], along[m, 2]
            kr = k * distance
            inverse = 1.0 / kr
            wave = complex(math.cos(kr), -math.sin(kr)) * moment[m] * (k / (4.0 * math.pi * distance))
            near = complex(1.0, -inverse)
            across = -1j * eta0 * wave * complex(1.0 - inverse * inverse, -inverse)
            pull = (
                1j * eta0 * wave * complex(1.0 - 3.0 * inverse * inverse, -3.0 * inverse) * (x * tx + y * ty + z * tz)
            )
            electric[n, 0] += across * tx + pull * x
            electric[n, 1] += across * ty + pull * y
            electric[n, 2] += across * tz + pull * z
            turned = 1j * wave * near
            magnetic[n, 0] += turned * (ty * z - tz * y)
            magnetic[n, 1] += turned * (tz * x - tx * z)
            magnetic[n, 2] += turned * (tx * y - ty * x)
    return electric, magnetic


def _elements(system: System, solved: Solved) -> Iterator[tuple[FloatArray, FloatArray, ComplexArray]]:
    """Current elements: positions (m, 3), directions (m, 3) and moments (m,) [A m], a copy at a time."""
    geometry = system.geometry
    current = (system.value @ solved.coefficients) * system.weight
    ring = system.mesh.kind[system.element] == RING
    tangent = system.tangent[system.element]
    reach = float(np.max(np.abs(system.point))) if len(system.point) else 0.0
    k = 2 * math.pi * solved.frequency / SPEED_OF_LIGHT
    round_ring = 16 + 2 * math.ceil(k * reach)
    images = (1.0, -1.0) if geometry.ground else (1.0,)
    for rows, turns, mode in ((~ring, geometry.order, geometry.mode), (ring, round_ring, 0)):
        if not np.any(rows):
            continue
        for turn in range(turns):
            angle = 2 * math.pi * turn / turns
            c, s = math.cos(angle), math.sin(angle)
            rotation = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
            share = complex(math.cos(mode * angle), -math.sin(mode * angle)) / turns
            for sign in images:
                place = (system.point[rows] * np.array([1.0, 1.0, sign])) @ rotation.T
                along = (tangent[rows] * np.array([sign, sign, 1.0])) @ rotation.T
                yield place, along, current[rows] * share
