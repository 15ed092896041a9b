"""Numbers that no structure can have, refused before any geometry is made."""

from __future__ import annotations

import math

from aerialwright.engine.lines import fault
from aerialwright.structure.ground import Ground
from aerialwright.structure.model import JOIN_TOLERANCE, Structure


def check_numbers(structure: Structure) -> None:
    """Refuse numbers, names and places that no metal can have."""
    if structure.mode not in (0, 1):
        raise fault(f"azimuthal mode {structure.mode} is not modelled", "mode", "use 0 or 1")
    if not isinstance(structure.ground, Ground) and structure.ground not in ("none", "perfect"):
        raise fault(f"unknown ground '{structure.ground}'", "ground", "use 'none', 'perfect' or a Ground")
    if not structure.rods and not structure.surfaces:
        raise fault("there is no metal", structure.name, "add a rod or a surface")
    names: set[str] = set()
    for name in [rod.name for rod in structure.rods] + [surface.name for surface in structure.surfaces]:
        if name in names:
            raise fault("two pieces share one name", name, "give each rod and surface its own name")
        names.add(name)
    pieces = [(rod.name, rod.metal) for rod in structure.rods] + [
        (sheet.name, sheet.metal) for sheet in structure.surfaces
    ]
    for name, metal in pieces:
        if metal is not None and not (0 < metal.conductivity < math.inf and 0 < metal.relative_permeability < math.inf):
            raise fault(
                f"metal '{metal.name}' has no sensible constants",
                name,
                "give conductivity and permeability above zero",
            )
    for rod in structure.rods:
        shell = rod.coating
        if shell is not None:
            if not rod.radius - JOIN_TOLERANCE <= shell.inner_radius < shell.outer_radius < math.inf:
                raise fault(
                    "the plastic does not fit round its rod", rod.name, "give inner and outer radius outside the metal"
                )
            if not (1.0 <= shell.permittivity < 100.0 and 0.0 <= shell.loss_tangent < 1.0):
                raise fault(
                    "the plastic has no sensible constants", rod.name, "permittivity 1 to 100, loss tangent 0 to 1"
                )
    for load in structure.loads:
        values = (load.resistance, load.inductance, load.capacitance)
        if not all(math.isfinite(v) and v >= 0 for v in values):
            raise fault("a load has a negative or infinite part", f"load on {load.rod}", "give values of 0 or more")
    for rod in structure.rods:
        if 0 < rod.radius < 5 * JOIN_TOLERANCE:
            raise fault(f"radius {rod.radius * 1e6:.3g} um is thinner than 5 um", rod.name, "use a thicker wire")
        if not 0 < rod.radius < math.inf:
            raise fault(f"radius {rod.radius!r} m is not positive", rod.name, "give a radius above zero")
        if rod.copies < 1 or rod.copies > 720:
            raise fault(f"{rod.copies} copies", rod.name, "use 1 to 720 copies")
        if len(rod.points) < 2:
            raise fault("a rod needs at least two points", rod.name, "add its other end")
        for point in rod.points:
            if not all(math.isfinite(c) and abs(c) < 1e5 for c in point):
                raise fault(f"point {point} is not a place", rod.name, "give three finite coordinates")
        for first, second in zip(rod.points, rod.points[1:], strict=False):
            if math.dist(first, second) < 10 * JOIN_TOLERANCE:
                raise fault("two following points coincide", rod.name, "remove one of them")
            if structure.ground == "perfect" and min(first[2], second[2]) < -JOIN_TOLERANCE:
                raise fault("metal lies below the ground plane", rod.name, "raise every z to 0 or more")
            if structure.ground == "perfect" and max(abs(first[2]), abs(second[2])) < JOIN_TOLERANCE:
                raise fault("a rod lies in the ground plane", rod.name, "raise it or remove it")
            if structure.ground == "perfect":
                for z, other in ((first[2], second[2]), (second[2], first[2])):
                    if JOIN_TOLERANCE < z < rod.radius or (z <= JOIN_TOLERANCE and other < rod.radius):
                        raise fault(
                            f"its metal reaches {(rod.radius - z) * 1e3:.3g} mm into the ground plane",
                            rod.name,
                            "raise it by that much or stand it on the plane upright",
                        )
    for surface in structure.surfaces:
        if structure.mode != 0:
            raise fault(
                "a sheet of revolution carries only the azimuthally even current (mode 0)",
                surface.name,
                "use mode 0, or replace the sheet by rods",
            )
        if len(surface.profile) < 2:
            raise fault("a profile needs at least two points", surface.name, "add its other end")
        if not (math.isfinite(surface.thickness) and surface.thickness > 0):
            raise fault(f"thickness {surface.thickness!r} m is not positive", surface.name, "give a thickness")
        if surface.mesh is not None:
            mesh = surface.mesh
            if not (math.isfinite(mesh.pitch) and 0 < mesh.wire_diameter < mesh.pitch):
                raise fault("mesh wire must be thinner than its pitch", surface.name, "correct pitch or wire diameter")
        for rho, z in surface.profile:
            if not (math.isfinite(rho) and math.isfinite(z) and 0 <= rho < 1e5 and abs(z) < 1e5):
                raise fault(f"profile point ({rho}, {z}) is not a place", surface.name, "give rho >= 0 and finite z")
            if structure.ground == "perfect" and z < -JOIN_TOLERANCE:
                raise fault("metal lies below the ground plane", surface.name, "raise every z to 0 or more")
        for (r0, z0), (r1, z1) in zip(surface.profile, surface.profile[1:], strict=False):
            if math.hypot(r1 - r0, z1 - z0) < 10 * JOIN_TOLERANCE:
                raise fault("two following profile points coincide", surface.name, "remove one of them")
            if max(r0, r1) < JOIN_TOLERANCE:
                raise fault("a profile runs along the axis", surface.name, "use a rod on the axis instead")
            if structure.ground == "perfect" and max(abs(z0), abs(z1)) < JOIN_TOLERANCE:
                raise fault("a sheet lies in the ground plane", surface.name, "raise it or remove it")
    if isinstance(structure.ground, Ground):
        _check_clear_of_ground(structure)


def _check_clear_of_ground(structure: Structure) -> None:
    """Real ground: no metal in it or on it, and rods far enough above it to be thin against their height."""
    for rod in structure.rods:
        lowest = min(z for _, _, z in rod.points)
        if lowest < 4.0 * rod.radius:
            raise fault(
                f"its lowest point, {lowest * 1e3:.4g} mm above real ground, is nearer than two diameters",
                rod.name,
                "raise it; rods in the ground are not modelled, ground = 'perfect' takes rods that stand on it",
            )
    for surface in structure.surfaces:
        lowest = min(z for _, z in surface.profile)
        if lowest < JOIN_TOLERANCE:
            raise fault(
                "it touches real ground",
                surface.name,
                "raise it; sheet on or in the ground is modelled for 'perfect' only",
            )
