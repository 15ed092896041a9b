"""How far people keep from a transmitting antenna: the field near it against published reference levels.

The engine's own near field, with the reflection of a ground added as [@oet-65] does (field times 1.6, power times 2.56). Electric
and magnetic field must each stay under the plane-wave equivalent of the reference power density. Local rules decide; this only
tells about how far.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.spatial import KDTree

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import eta0
from aerialwright.base.errors import DesignError
from aerialwright.design.quick import QUICK
from aerialwright.design.records import Exposure
from aerialwright.engine.geometry import RING
from aerialwright.engine.matrix import Solved, System
from aerialwright.engine.near_field import near_field
from aerialwright.engine.sweep import prepare
from aerialwright.engine.threads import single_thread
from aerialwright.solution.records import FloatArray
from aerialwright.stock.tables import load_table
from aerialwright.structure.model import Structure

#: Field of the wave with its reflection against the field alone [@oet-65].
REFLECTION = 1.6
#: The distances are not told below this [m]: so near the metal its thickness and the body itself change the field.
NEAREST = 0.10
#: Marks on the metal that distances are taken from, and how many of them stand round a ring.
MARKS, ROUND = 120, 12
#: Frequencies the tables are used for [Hz].
LOWEST, HIGHEST = 30e6, 2e9


@dataclass(frozen=True)
class Rule:
    """A table of reference power densities; ``spans``: (low, high [MHz], constant, power of f/MHz) [W/m2]."""

    key: str
    title: str
    source: str
    spans: tuple[tuple[float, float, float, float], ...]

    def power_density(self, frequency: float) -> float:
        """Reference level [W/m2] at ``frequency`` [Hz].

        Raises
        ------
        DesignError
            Outside the table.
        """
        mhz = frequency * 1e-6
        for low, high, constant, power in self.spans:
            if low <= mhz <= high:
                return float(constant * mhz**power)
        raise DesignError(f"has no level at {mhz:.4g} MHz", where=self.title, mend="ask your licensing authority")


@cache
def rules() -> tuple[Rule, ...]:
    """The tables, in order."""
    return tuple(
        Rule(
            key,
            row["title"],
            row["source"],
            tuple((s[0], s[1], s[2], s[3]) for s in row["spans"]),
        )
        for key, row in load_table("exposure").items()
    )


def far_field_distance(*, power: float, gain: float, limit: float, reflection: float = REFLECTION) -> float:
    """Distance [m] where ``reflection^2 P G / (4 pi R^2)`` falls to ``limit`` [W/m2] [@oet-65]; ``gain`` linear."""
    return reflection * math.sqrt(power * gain / (4.0 * math.pi * limit))


def exposure(structure: Structure, *, frequency: float, power: float, duty: float = 1.0) -> Exposure:
    """Distances of a structure for every rule.

    Raises
    ------
    DesignError
        For a frequency without a table, or a power or duty that is none.
    StructureError
        If the structure cannot be solved.
    """
    if not (power > 0.0 and math.isfinite(power)) or not 0.0 < duty <= 1.0:
        raise DesignError("power must be positive and duty within 0 to 1", where="transmit", mend="write the real ones")
    if not LOWEST <= frequency <= HIGHEST:
        raise DesignError(
            "exposure tables here cover 30 to 2000 MHz", where="transmit", mend="ask your licensing authority"
        )
    with single_thread():
        system = prepare(structure, top_frequency=frequency, settings=QUICK)
        solved = system.solve(frequency)
        # Fields per volt; the power that one volt puts in.
        scale = power * duty / (0.5 * solved.admittance.real) * REFLECTION**2
        field = _Around(system, solved)
        level = {rule.title: rule.power_density(frequency) for rule in rules()}
        found = field.distances(scale, sorted(set(level.values())))
        gain = field.greatest_gain()
    return Exposure(
        frequency=frequency, power=power, duty=duty,
        distance=tuple((title, found[limit]) for title, limit in level.items()),
        far_field=tuple(
            (title, far_field_distance(power=power * duty, gain=gain, limit=limit)) for title, limit in level.items()
        ),
    )  # fmt: skip


class _Around:
    """Equivalent power density at points a given distance from the nearest metal."""

    def __init__(self, system: System, solved: Solved) -> None:
        self.system, self.solved = system, solved
        ring = system.mesh.kind[system.element] == RING
        around = []
        for rows, turns in ((~ring, system.geometry.order), (ring, ROUND)):
            points = system.point[rows]
            points = points[:: max(1, math.ceil(len(points) * turns / MARKS))]
            for angle in 2 * np.pi * np.arange(turns) / turns:
                c, s = math.cos(angle), math.sin(angle)
                around.append(points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]))
        self.metal = np.concatenate(around)
        self.nearest = KDTree(self.metal)
        z, phi = np.meshgrid(np.linspace(-0.95, 0.95, 9), np.radians(np.arange(0.0, 360.0, 45.0)))
        rho = np.sqrt(1.0 - z**2)
        self.ways = np.stack([rho * np.cos(phi), rho * np.sin(phi), z], axis=-1).reshape(-1, 3)

    def shell(self, distance: float) -> FloatArray:
        """Points (n, 3) about ``distance`` [m] from the nearest metal."""
        every = (self.metal[:, None, :] + distance * self.ways[None, :, :]).reshape(-1, 3)
        if self.system.geometry.ground:
            every = every[every[:, 2] > 0.0]
        away = self.nearest.query(every)[0]
        kept = every[away > 0.97 * distance]
        return np.asarray(kept[:: max(1, len(kept) // 300)])

    def density(self, distance: float) -> float:
        """Largest equivalent power density [W/m2] there for one volt: of the electric or the magnetic field, whichever is more."""
        electric, magnetic = near_field(self.system, self.solved, self.shell(distance))
        e2 = np.sum(np.abs(electric) ** 2, axis=1) / (2 * eta0)
        h2 = np.sum(np.abs(magnetic) ** 2, axis=1) * eta0 / 2
        return float(max(e2.max(), h2.max()))

    def greatest_gain(self) -> float:
        """Greatest gain, linear, from the field far away."""
        reach = 200.0 * (self.system.geometry.scale + SPEED_OF_LIGHT / self.solved.frequency)
        return self.density(reach) * 4.0 * math.pi * reach**2 / (0.5 * self.solved.admittance.real)

    def distances(self, scale: float, limits: list[float]) -> dict[float, float]:
        """Distance [m] beyond which each of ``limits`` [W/m2] is kept, read from a ladder of steps of a sixth; :data:`NEAREST` where
        it is kept even there."""
        steps, levels = [NEAREST], [scale * self.density(NEAREST)]
        while levels[-1] > limits[0]:
            steps.append(steps[-1] * 1.2)
            levels.append(scale * self.density(steps[-1]))
        # Beyond a dent in the field it may rise again: what counts is the largest level from there on outward.
        onward = np.maximum.accumulate(np.array(levels)[::-1])[::-1]
        out = {}
        for limit in limits:
            above = np.flatnonzero(onward > limit)
            if not len(above):
                out[limit] = NEAREST
                continue
            i = int(above[-1])
            part = math.log(onward[i] / limit) / math.log(onward[i] / onward[i + 1])
            out[limit] = steps[i] * 1.2**part
        return out
