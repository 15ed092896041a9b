"""The same antenna written otherwise, and what of its answer must not change: used by the laws of the engine.

The wavelength is 1 m throughout unless a frequency is given, so lengths are in wavelengths.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from aerialwright.base.constants import c
from aerialwright.engine.geometry import RING
from aerialwright.engine.matrix import Solved, System
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Metal, Rod, RodFeed, Structure

FINE = EngineSettings().fine


def run(
    structure: Structure, settings: MeshSettings | None = None, frequency: float = c
) -> tuple[System, Solved, complex]:
    """System, currents and impedance [ohm] at one frequency [Hz]."""
    system = prepare(structure, top_frequency=frequency, settings=settings or MeshSettings())
    solved = system.solve(frequency)
    return system, solved, system.port_factor / solved.admittance


def z_of(structure: Structure, settings: MeshSettings | None = None) -> complex:
    """Impedance [ohm] at a wavelength of 1 m."""
    return run(structure, settings)[2]


def rod_length(rod: Rod) -> float:
    """Length [m] along the points."""
    return sum(math.dist(p, q) for p, q in zip(rod.points, rod.points[1:], strict=False))


def fed_rod(structure: Structure) -> Rod:
    """The rod with the feed gap."""
    assert isinstance(structure.feed, RodFeed)
    name = structure.feed.rod
    return next(rod for rod in structure.rods if rod.name == name)


def scaled(structure: Structure, s: float) -> Structure:
    """All lengths times ``s``, conductivity over ``s``."""

    def metal(m: Metal | None) -> Metal | None:
        return None if m is None else dataclasses.replace(m, conductivity=m.conductivity / s)

    rods = tuple(
        dataclasses.replace(
            r, points=tuple((x * s, y * s, z * s) for x, y, z in r.points), radius=r.radius * s, metal=metal(r.metal)
        )
        for r in structure.rods
    )
    surfaces = tuple(
        dataclasses.replace(
            f, profile=tuple((x * s, z * s) for x, z in f.profile), thickness=f.thickness * s, metal=metal(f.metal)
        )
        for f in structure.surfaces
    )
    feed = structure.feed
    if isinstance(feed, ApertureFeed):
        moved: ApertureFeed | RodFeed = ApertureFeed(
            (feed.positive[0] * s, feed.positive[1] * s), (feed.negative[0] * s, feed.negative[1] * s)
        )
    else:
        moved = RodFeed(feed.rod, feed.distance * s, feed.width * s)
    return dataclasses.replace(structure, rods=rods, surfaces=surfaces, feed=moved)


def backwards(structure: Structure) -> Structure:
    """Points of every rod and profile in reverse order; a fed rod's distance is measured from its other end."""
    feed = structure.feed
    if isinstance(feed, RodFeed):
        feed = RodFeed(feed.rod, rod_length(fed_rod(structure)) - feed.distance, feed.width)
    rods = tuple(dataclasses.replace(rod, points=rod.points[::-1]) for rod in structure.rods)
    surfaces = tuple(dataclasses.replace(surface, profile=surface.profile[::-1]) for surface in structure.surfaces)
    return dataclasses.replace(structure, rods=rods, surfaces=surfaces, feed=feed)


def moved(structure: Structure, *, rotation: NDArray[np.float64], shift: NDArray[np.float64]) -> Structure:
    """Rods turned by ``rotation`` (3, 3), then shifted [m] (3,)."""
    rods = tuple(
        dataclasses.replace(
            rod, points=tuple(tuple(float(v) for v in rotation @ np.array(p) + shift) for p in rod.points)
        )
        for rod in structure.rods
    )
    return dataclasses.replace(structure, rods=rods)


def expanded(structure: Structure, start: float = 0.0) -> Structure:
    """Every copy written as a rod of its own, all turned by ``start`` [rad]."""

    def turned(point: tuple[float, float, float], angle: float) -> tuple[float, float, float]:
        x, y, z = point
        cos, sin = math.cos(angle), math.sin(angle)
        return (cos * x - sin * y, sin * x + cos * y, z)

    rods = tuple(
        dataclasses.replace(
            rod,
            name=f"{rod.name} {i}" if rod.copies > 1 else rod.name,
            points=tuple(turned(point, start + 2 * math.pi * i / rod.copies) for point in rod.points),
            copies=1,
        )
        for rod in structure.rods
        for i in range(rod.copies)
    )
    return dataclasses.replace(structure, rods=rods)


def split(structure: Structure, name: str, fraction: float) -> Structure:
    """A straight rod cut in two at a fraction of its length; the feed stays where it is."""
    rod = next(rod for rod in structure.rods if rod.name == name)
    (first, *_, last), length = rod.points, rod_length(rod)
    x, y, z = (a + fraction * (b - a) for a, b in zip(first, last, strict=True))
    halves = (
        dataclasses.replace(rod, name=f"{name} one", points=(first, (x, y, z))),
        dataclasses.replace(rod, name=f"{name} two", points=((x, y, z), last)),
    )
    feed = structure.feed
    if isinstance(feed, RodFeed) and feed.rod == name:
        behind = feed.distance > fraction * length
        feed = RodFeed(halves[behind].name, feed.distance - behind * fraction * length, feed.width)
    others = tuple(other for other in structure.rods if other is not rod)
    return dataclasses.replace(structure, rods=(*halves, *others), feed=feed)


def mean_current(system: System, solved: Solved, rod: Rod, low: float, high: float) -> complex:
    """Mean of the current over distances ``low`` to ``high`` [m] from the first point of a straight rod."""
    x, w = np.polynomial.legendre.leggauss(12)
    first, last = np.array(rod.points[0]), np.array(rod.points[-1])
    way = (last - first) / np.linalg.norm(last - first)
    total = 0j
    for e in range(len(system.mesh.kind)):
        if system.geometry.lines[system.mesh.line[e]].name != rod.name:
            continue
        # A rod on the axis is a tube: its points lie beside it.
        mask = np.array([0.0, 0.0, 1.0]) if system.mesh.kind[e] == RING else np.ones(3)
        s0, s1 = (float((p * mask - first) @ way) for p in (system.mesh.start[e], system.mesh.end[e]))
        a, b = max(low, min(s0, s1)), min(high, max(s0, s1))
        if b <= a:
            continue
        at = 0.5 * (a + b) + 0.5 * (b - a) * x
        value = system._at(np.full(len(at), e), (at - s0) / (s1 - s0))[0] @ solved.coefficients
        total += np.sum(0.5 * (b - a) * w * value) * math.copysign(1.0, s1 - s0)
    return complex(total) / (high - low)
