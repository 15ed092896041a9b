"""Plastic over metal: insulation on a wire, a pipe that stands over a rod, and both at once."""

from __future__ import annotations

import math
from dataclasses import dataclass

from aerialwright.base.errors import DesignError
from aerialwright.need.model import Need, StockItem
from aerialwright.stock.plastics import plastic
from aerialwright.structure.model import Coating


@dataclass(frozen=True)
class Pipe:
    """A plastic pipe of the shelf that stands over the antenna; ``diameter`` outside and ``bore`` [m]."""

    label: str
    material: str
    title: str
    diameter: float
    bore: float
    permittivity: float
    loss_tangent: float

    def fits(self, radius: float) -> bool:
        """True when a rod of ``radius`` [m] goes in."""
        return 2.0 * radius <= self.bore


def pipe_of(need: Need) -> Pipe | None:
    """The pipe that a need names as its cover, or None.

    Raises
    ------
    DesignError
        If it is not a pipe of the stock with a wall.
    """
    if need.cover is None:
        return None
    item = need.cover_item()
    if item is None or item.diameter is None or item.wall is None:
        raise DesignError(
            f"'{need.cover.stock[:40]}' is no pipe of the stock with a wall",
            where="cover",
            mend="name a [[stock]] item of kind 'pipe' and give its wall",
        )
    row = plastic(item.material)
    return Pipe(
        need.cover.stock, item.material, row.title, item.diameter, item.diameter - 2.0 * item.wall,
        row.permittivity, row.loss_tangent,
    )  # fmt: skip


def leaning_factor(pipe: Pipe, *, radius: float, offset: float | None = None) -> float:
    """How many times as much as in its middle a pipe lowers the resonance of a rod of ``radius`` [m] that stands ``offset`` [m] out
    of it all along; without an offset the rod lies against the wall.

    A static estimate: the potential that the pipe takes off a line charge, by images, over that of the centred one. For a rod
    of real thickness that is low by up to 13 % of what it adds (tests/unit/test_cover.py); 15 % is put on. Ends, feed and
    the change of the current along the rod are left out.
    """
    inner, outer = 0.5 * pipe.bore, 0.5 * pipe.diameter
    away = max(0.0, inner - radius) if offset is None else offset
    mirror, ratio = (pipe.permittivity - 1.0) / (pipe.permittivity + 1.0), (inner / outer) ** 2
    added, term = 0.0, 1.0
    for n in range(1, 2000):
        term *= (away / inner) ** 2
        added += mirror * (1.0 - ratio**n) / (1.0 - mirror**2 * ratio**n) * term / n
        if term < 1e-9:
            break
    return 1.0 + 1.15 * added / ((1.0 - 1.0 / pipe.permittivity) * math.log(outer / inner))


def insulation_of(item: StockItem) -> Coating | None:
    """The insulation of a shelf item, touching its metal."""
    if item.insulation_diameter is None or item.diameter is None:
        return None
    row = plastic(item.insulation)
    return Coating(0.5 * item.diameter, 0.5 * item.insulation_diameter, row.permittivity, row.loss_tangent)


def resized(coating: Coating | None, radius: float, new_radius: float) -> Coating | None:
    """The same thickness of insulation on a wire of another radius [m]."""
    if coating is None:
        return None
    grown = new_radius - radius
    return Coating(
        coating.inner_radius + grown, coating.outer_radius + grown, coating.permittivity, coating.loss_tangent
    )


def layers(insulation: Coating | None, pipe: Pipe | None) -> Coating | None:
    """What plastic a rod wears in a pipe: one of the two, or one layer that stands for both.

    Each layer changes the potential by ``(1 - 1/eps) ln(b2/b1)``; two of them add, and one even layer from the metal to the
    outside of the pipe with ``1 - 1/eps = sum / ln(b2/b1)`` is the same to the engine's model of thin layers
    [@richmond-newman-1976].
    """
    if pipe is None:
        return insulation
    over = Coating(0.5 * pipe.bore, 0.5 * pipe.diameter, pipe.permittivity, pipe.loss_tangent)
    if insulation is None:
        return over
    if insulation.outer_radius > over.inner_radius:
        return insulation
    total = 0.0j
    for layer in (insulation, over):
        inverse = 1.0 / (layer.permittivity * complex(1.0, -layer.loss_tangent))
        total += (1.0 - inverse) * math.log(layer.outer_radius / layer.inner_radius)
    mean = 1.0 / (1.0 - total / math.log(over.outer_radius / insulation.inner_radius))
    return Coating(insulation.inner_radius, over.outer_radius, mean.real, -mean.imag / mean.real)
