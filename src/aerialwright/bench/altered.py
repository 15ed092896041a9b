"""A design with something else than asked: which of its dimensions, how far, and the metal and plastic that makes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from aerialwright.design.common_mode import BEHIND_SHEET
from aerialwright.design.evaluate import CUT_ERROR
from aerialwright.design.model import Design
from aerialwright.structure.model import Coating, Rod, Structure

#: How far a length (part of it) and an angle [degree] are followed either way; of the gap of a feed this part.
LENGTH_REACH, ANGLE_REACH, GAP_REACH = 0.12, 25.0, 0.4
#: How much plastic is looked for, as ``(1 - 1/permittivity) ln(outer / inner radius)``; how far one radial is followed, part of it.
PLASTIC_REACH, RADIAL_REACH = 0.9, (-0.75, 0.30)
#: Lengths of coax outside, in wavelengths: the shortest, how far it must reach out of the antenna, and the longest.
COAX_SHORTEST, COAX_OUT, COAX_LONGEST = 0.15, 0.03, 1.6
#: Permittivity of the plastic that stands for any: only the amount above counts for a thin layer [@richmond-newman-1976].
ANY_PLASTIC = 3.0
#: What a careful hand is off by, one standard deviation: a length by 1 mm and a thousandth, a bend by 2.5 degrees, plastic by a
#: tenth of its amount. Common practice, no source.
CUT_PART, BEND_ERROR, PLASTIC_PART = 1e-3, 2.5, 0.1


def dimension_keys(design: Design) -> tuple[str, ...]:
    """Dimensions a builder can get wrong: those that are tuned, the main length first."""
    family = design.family
    keys = [p.key for p in family.parameters if p.tuned and p.key in design.values]
    return tuple(sorted(keys, key=lambda key: key != family.main_length))


def dimension_limits(design: Design, key: str) -> tuple[float, float]:
    """How far a dimension is followed, as departures [m or degree] either way."""
    parameter, value = design.family.parameter(key), design.values[key]
    reach = LENGTH_REACH * value if parameter.kind == "length" else ANGLE_REACH * parameter.slip
    if key == "gap":
        reach = GAP_REACH * value
    return max(-reach, parameter.lowest - value), min(reach, parameter.highest - value)


def hand_error(design: Design, key: str) -> float:
    """One standard deviation of what a careful hand is off by in a dimension [m or degree] or in the amount of ``"plastic"``."""
    if key == "plastic":
        return PLASTIC_PART * -plastic_limits(design)[0]
    parameter = design.family.parameter(key)
    if parameter.kind == "angle":
        return BEND_ERROR * parameter.slip
    return CUT_ERROR * parameter.slip + CUT_PART * design.values[key]


def with_departure(design: Design, key: str, off: float) -> Structure:
    """The metal with one dimension, or the amount of ``"plastic"``, off by that much."""
    if key == "plastic":
        return with_plastic(design.structure(), off)
    return design.with_values(**{key: design.values[key] + off}).structure()


def wears_plastic(rod: Rod) -> bool:
    """True for the rods that insulation or a pipe would go over: the radiating ones."""
    return not any(word in rod.name for word in ("radial", "spoke", "pin", "coax"))


def _amount(coating: Coating | None) -> float:
    """``(1 - 1/permittivity) ln(outer / inner)`` of a coating: all that a thin layer is to the engine."""
    if coating is None:
        return 0.0
    return (1.0 - 1.0 / coating.permittivity) * math.log(coating.outer_radius / coating.inner_radius)


def plastic_limits(design: Design) -> tuple[float, float]:
    """Least and most amount of plastic against the design: from none at all to :data:`PLASTIC_REACH` more."""
    there = max((_amount(rod.coating) for rod in design.structure().rods if wears_plastic(rod)), default=0.0)
    return -there, PLASTIC_REACH


def with_plastic(structure: Structure, amount: float) -> Structure:
    """The structure with more plastic (or less, where some is there) round its radiating rods."""

    def covered(rod: Rod) -> Rod:
        if not wears_plastic(rod):
            return rod
        total = _amount(rod.coating) + amount
        if total <= 1e-9:
            return replace(rod, coating=None)
        loss = rod.coating.loss_tangent if rod.coating is not None else 0.0
        ratio = math.exp(total / (1.0 - 1.0 / ANY_PLASTIC))
        return replace(rod, coating=Coating(rod.radius, rod.radius * ratio, ANY_PLASTIC, loss))

    return replace(structure, rods=tuple(covered(rod) for rod in structure.rods))


def has_radials(design: Design) -> bool:
    """True where one of several radials can be another than the rest."""
    return "radial_count" in design.values and "radial_length" in design.values


def one_radial_off(design: Design, part: float) -> Structure:
    """The design with its first radial longer by ``part`` of its length (negative: shorter; -1: missing)."""
    structure, count = design.structure(), int(design.values["radial_count"])
    radial = next(rod for rod in structure.rods if rod.name == "radial")
    rods = [rod for rod in structure.rods if rod is not radial]
    foot, tip = (np.array(point) for point in radial.points)
    for number in range(count):
        if number == 0 and part <= -1.0:
            continue
        end = foot + (tip - foot) * (1.0 + part if number == 0 else 1.0)
        angle = 2.0 * math.pi * number / count
        turn = np.array([[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1]])
        points = tuple((float(x), float(y), float(z)) for x, y, z in (turn @ foot, turn @ end))
        rods.append(replace(radial, name=f"radial {number + 1}", points=points, copies=1))
    return replace(structure, rods=tuple(rods))


def coax_lengths(design: Design, wave: float) -> tuple[float, float] | None:
    """Shortest and longest coax [m] whose outside could carry current straight down; None where it cannot or is not modelled."""
    structure = design.structure()
    edge = max((rho for surface in structure.surfaces for rho, _ in surface.profile), default=0.0)
    if not design.family.socketed or structure.ground == "perfect" or 2.0 * edge > BEHIND_SHEET * wave:
        return None
    foot = min(z for s in structure.surfaces if s.name == "socket body" for _, z in s.profile)
    lowest = min(
        [z for rod in structure.rods for _, _, z in rod.points] + [z for s in structure.surfaces for _, z in s.profile]
    )
    return max(COAX_SHORTEST * wave, foot - lowest + COAX_OUT * wave), COAX_LONGEST * wave
