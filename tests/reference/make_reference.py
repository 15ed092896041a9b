"""Cases of the finite-element reference, and the script that writes ``reference.json`` next to it.

    python tests/reference/make_reference.py [name ...]

Every shape is written twice, as the program's record and as bare lines for the finite elements, so that a mistake in
reading the record cannot cancel. Each is solved on two meshes with two absorbing layers; the finer is stored, and their
difference stands beside it as its own error (the last elements at edges are ten times smaller in the finer, so the
stored value is better than that). Where the feed is coaxial the same shape is solved with a piece of the line, too: the
field in the mouth is then free, and the impedance is carried back from the port to the mouth along the line.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import math
import platform
import sys
import time
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import numpy as np
from axisymmetric_fem import (
    APERTURE,
    AXIS,
    METAL,
    OUTER,
    PORT,
    SLIT,
    Problem,
    Region,
    Segment,
    coaxial_field,
    even_field,
    half_circle,
)
from scipy.constants import c

from aerialwright.base.atomic import write_text_atomic
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

STORED = Path(__file__).with_name("reference.json")
ORDER = 4


@dataclass(frozen=True)
class Case:
    """One shape: the program's record, the same as lines about its feed, and the frequencies [Hz].

    ``metal`` are the lines without the feed, ``holes`` a point in each closed body, ``axis`` the ends of the metal
    there. ``coaxial`` are the radii and the depth of the line below the mouth at z = 0; ``solid_below`` is the lowest
    point of the body that holds the line (nan for the plane). ``band`` is (radius, low, high) of a cylindrical gap.
    """

    name: str
    structure: Structure
    metal: tuple[Segment, ...]
    holes: tuple[tuple[float, float], ...]
    axis: tuple[float, float]
    frequency: tuple[float, ...]
    coaxial: tuple[float, float, float] | None = None
    solid_below: float = math.nan
    band: tuple[float, float, float] | None = None

    @property
    def ground(self) -> bool:
        """True over the infinite plane."""
        return self.structure.ground == "perfect"

    def digest(self) -> str:
        """Changes with anything that the stored impedances depend on."""
        kept = (
            self.metal,
            self.holes,
            self.axis,
            self.frequency,
            self.coaxial,
            self.solid_below,
            self.band,
            self.ground,
            ORDER,
        )
        return hashlib.sha256(repr(kept).encode()).hexdigest()[:16]


def region(case: Case, *, line: bool, fine: bool) -> tuple[Region, float]:
    """Lines, layer and singular points for the finite elements, and the depth of the layer [m].

    ``line`` adds the coaxial line; ``fine`` takes the thicker layer.
    """
    longest = c / min(case.frequency)
    metal = list(case.metal)
    holes = list(case.holes)
    if case.coaxial is not None:
        a, b, depth = case.coaxial
        low = case.solid_below
        if line:
            metal += [((a, 0.0), (a, -depth), METAL), ((a, -depth), (b, -depth), PORT)]
            metal.append(((b, 0.0), (b, -depth), METAL if case.ground else SLIT))
            if not case.ground:
                # Below its port the line is metal again, and so is the core beside it.
                metal += [((b, -depth), (b, low), METAL), ((b, low), (0.0, low), METAL)]
        else:
            metal.append(((a, 0.0), (b, 0.0), APERTURE))
            if not case.ground:
                metal += [((b, 0.0), (b, low), METAL), ((b, low), (0.0, low), METAL)]
    else:
        assert case.band is not None
        radius, z0, z1 = case.band
        metal.append(((radius, z0), (radius, z1), APERTURE))
    ends = np.array([p for s in metal for p in s[:2]])
    centre = 0.0 if case.ground else 0.5 * (case.axis[0] + case.axis[1])
    reach = float(np.hypot(ends[:, 0], ends[:, 1] - centre).max())
    inner = 1.15 * reach
    outer = inner + longest * (0.32 if fine else 0.25)
    depth_of_layer = (9.0 if fine else 7.5) * longest / (2 * math.pi)
    low_axis, high_axis = case.axis
    edge = half_circle(outer, centre, stop=0.5 * math.pi if case.ground else math.pi)
    segments = metal + edge + [((0.0, high_axis), (0.0, centre + outer), AXIS)]
    if case.ground:
        assert case.coaxial is not None
        segments.append(((case.coaxial[1], 0.0), (outer, 0.0), METAL))
    else:
        segments.append(((0.0, low_axis), (0.0, centre - outer), AXIS))
    return Region(segments, holes, singular(segments), inner, outer, centre, slim(metal)), depth_of_layer


def singular(segments: list[Segment]) -> list[tuple[float, float, float]]:
    """All ends of metal off the axis and inside the space, with the element size there.

    1/50 of the shortest line at a corner; 1/10000 at the free edge of a thin sheet, where the current's slope is
    infinite and the impedance's error goes with the size of the last element.
    """
    lines: dict[tuple[float, float], list[tuple[float, str]]] = {}
    far = {p for s in segments if s[2] in (OUTER, AXIS) for p in s[:2]}
    for first, second, tag in segments:
        if tag not in (OUTER, AXIS):
            for p in {first, second} - far:
                lines.setdefault(p, []).append((math.dist(first, second), tag))
    return [(*p, min(at)[0] * (1e-4 if len(at) == 1 and at[0][1] == SLIT else 0.02)) for p, at in lines.items()]


def slim(metal: list[Segment]) -> list[tuple[float, float, float]]:
    """Upright lines long against their radius."""
    return [
        (p[0], min(p[1], q[1]), max(p[1], q[1]))
        for p, q, _ in metal
        if p[0] == q[0] and abs(p[1] - q[1]) > 4 * p[0] > 0
    ]


def problem(case: Case, *, line: bool = False, fine: bool = False, order: int = ORDER) -> Problem:
    """The discrete problem of a case."""
    space, depth = region(case, line=line, fine=fine)
    largest = c / max(case.frequency) / (8.0 if fine else 5.0)
    return Problem(
        space, order=order, largest=largest, growth=0.35 if fine else 0.5, shrink=0.1 if fine else 1.0, depth=depth
    )


def impedance(case: Case, *, line: bool = False, fine: bool = False, order: int = ORDER) -> tuple[np.ndarray, Problem]:
    """Impedance (n,) [ohm] at the aperture, and the problem that gave it."""
    built = problem(case, line=line, fine=fine, order=order)
    if line:
        assert case.coaxial is not None
        a, b, depth = case.coaxial
        z = [built.port_impedance(f, inner=a, outer=b, distance=depth) for f in case.frequency]
    else:
        if case.coaxial is not None:
            e = coaxial_field(case.coaxial[0], case.coaxial[1])
        else:
            assert case.band is not None
            e = even_field(case.band[2] - case.band[1])
        z = [built.aperture_impedance(f, e) for f in case.frequency]
    return np.array(z), built


def _mega(*values: float) -> tuple[float, ...]:
    return tuple(1e6 * value for value in values)


def monopole_on_plane(a: float, height: float = 0.25) -> Case:
    """Rod with a flat end on the infinite plane, fed through a coaxial mouth of 2.3 times its radius."""
    b = 2.3 * a
    return Case(
        f"monopole {1e3 * a:g} mm on the plane",
        Structure(
            "monopole", (Rod("whip", ((0, 0, 0), (0, 0, height)), a),), (), ApertureFeed((a, 0), (b, 0)), "perfect"
        ),
        (((0.0, height), (a, height), METAL), ((a, height), (a, 0.0), METAL)),
        ((0.5 * a, 0.5 * height),),
        (0.0, height),
        _mega(200, 250, 300, 350, 400),
        (a, b, 5 * (b - a)),
    )


def monopole_on_disc(a: float = 0.002, height: float = 0.25, disc: float = 0.25, tube: float = 0.2) -> Case:
    """The same over a thin disc, with the outside of the feed tube hanging below, closed at its end."""
    b = 2.3 * a
    return Case(
        "monopole on a disc with feed tube",
        Structure(
            "monopole on disc",
            (Rod("whip", ((0, 0, 0), (0, 0, height)), a),),
            (Surface("disc", ((b, 0), (disc, 0))), Surface("tube", ((b, 0), (b, -tube), (0, -tube)))),
            ApertureFeed((a, 0), (b, 0)),
        ),
        (((0.0, height), (a, height), METAL), ((a, height), (a, 0.0), METAL), ((b, 0.0), (disc, 0.0), SLIT)),
        ((0.5 * a, 0.5 * height), (0.5 * a, -0.95 * tube)),
        (-tube, height),
        _mega(200, 250, 300, 350, 400),
        (a, b, 5 * (b - a)),
        -tube,
    )


def discone(
    name: str, frequency: tuple[float, ...], *, slant: float = 0.6, half: float = 30.0, disc: float = 0.2
) -> Case:
    """Thin disc on the connector's pin over a thin cone with a flat neck plate and the connector's shell inside."""
    a, b, gap, neck, shell = 0.0016, 0.0037, 0.008, 0.012, 0.03
    rim, foot = neck + slant * math.sin(math.radians(half)), -slant * math.cos(math.radians(half))
    return Case(
        name,
        Structure(
            "discone",
            (Rod("pin", ((0, 0, 0), (0, 0, gap)), a),),
            (
                Surface("shell", ((b, 0), (b, -shell), (0, -shell))),
                Surface("cone", ((b, 0), (neck, 0), (rim, foot))),
                Surface("disc", ((0, gap), (a, gap), (disc, gap))),
            ),
            ApertureFeed((a, 0), (b, 0)),
        ),
        (
            ((0.0, gap), (a, gap), METAL),
            ((a, gap), (a, 0.0), METAL),
            ((a, gap), (disc, gap), SLIT),
            ((b, 0.0), (neck, 0.0), SLIT),
            ((neck, 0.0), (rim, foot), SLIT),
        ),
        ((0.5 * a, 0.5 * gap), (0.5 * a, -0.95 * shell)),
        (-shell, gap),
        frequency,
        (a, b, 5 * (b - a)),
        -shell,
    )


def bicone(half: float, slant: float, frequency: tuple[float, ...]) -> Case:
    """Two thin cones on solid faces, fed across the cylindrical gap between the faces."""
    a, gap = 0.008, 0.01
    rim = a + slant * math.sin(math.radians(half))
    top = 0.5 * gap + slant * math.cos(math.radians(half))
    z = 0.5 * gap
    return Case(
        f"bicone {half:g} degrees",
        Structure(
            "bicone",
            (),
            (
                Surface("upper face", ((0, z), (a, z))),
                Surface("lower face", ((0, -z), (a, -z))),
                Surface("upper cone", ((a, z), (rim, top))),
                Surface("lower cone", ((a, -z), (rim, -top))),
            ),
            ApertureFeed((a, z), (a, -z)),
        ),
        (
            ((0.0, z), (a, z), METAL),
            ((0.0, -z), (a, -z), METAL),
            ((a, z), (rim, top), SLIT),
            ((a, -z), (rim, -top), SLIT),
        ),
        ((0.5 * a, 0.0),),
        (-z, z),
        frequency,
        band=(a, -z, z),
    )


def dipole(name: str, length: float, a: float, frequency: tuple[float, ...], gap: float = 0.01) -> Case:
    """Two solid rods with flat ends, fed across the cylindrical gap between them."""
    z, top = 0.5 * gap, 0.5 * length
    return Case(
        name,
        Structure(
            "dipole",
            (Rod("upper", ((0, 0, z), (0, 0, top)), a), Rod("lower", ((0, 0, -z), (0, 0, -top)), a)),
            (),
            ApertureFeed((a, z), (a, -z)),
        ),
        (
            ((0.0, top), (a, top), METAL),
            ((a, top), (a, z), METAL),
            ((a, -z), (a, -top), METAL),
            ((a, -top), (0.0, -top), METAL),
        ),
        ((0.5 * a, 0.0),),
        (-top, top),
        frequency,
        band=(a, -z, z),
    )


CASES: tuple[Case, ...] = (
    monopole_on_plane(0.001),
    monopole_on_plane(0.003),
    monopole_on_plane(0.008),
    monopole_on_disc(),
    discone("discone", _mega(100, 140, 180, 220, 260)),
    discone("discone, upper octaves", _mega(300, 450, 600, 800, 1000)),
    bicone(30, 0.55, _mega(120, 180, 240, 320, 400)),
    bicone(60, 0.4, _mega(150, 220, 300, 400, 500)),
    dipole("fat dipole", 0.9, 0.011, _mega(120, 135, 150, 165, 180)),
    dipole("very fat dipole", 0.5, 0.025, _mega(180, 210, 240, 300, 400)),
)


def case_named(name: str) -> Case:
    """The case of that name."""
    return next(case for case in CASES if case.name == name)


def _pairs(z: np.ndarray) -> list[list[float]]:
    return [[round(float(value.real), 5), round(float(value.imag), 5)] for value in z]


def _record(case: Case, line: bool) -> dict[str, object]:
    plain, coarse = impedance(case, line=line)
    better, built = impedance(case, line=line, fine=True)
    return {
        "impedance_ohm": _pairs(better),
        "own_error": [float(f"{value:.2g}") for value in abs(plain - better) / abs(better)],
        "elements": [coarse.mesh.nelements, built.mesh.nelements],
        "unknowns": [coarse.unknowns, built.unknowns],
    }


def write_table(path: Path, what: str, cases: dict[str, object]) -> None:
    """A reference table with what made it and when."""
    table = {
        "what": what,
        "made with": {name: version(name) for name in ("scikit-fem", "scipy", "numpy")}
        | {"python": platform.python_version()},
        "made on": datetime.date.today().isoformat(),
        "order": ORDER,
        "cases": cases,
    }
    write_text_atomic(path, json.dumps(table, indent=1) + "\n")


def main(names: list[str]) -> None:
    """Solve the named cases (all, if none is named) and write them into the stored table."""
    stored = json.loads(STORED.read_text("utf-8")) if STORED.exists() else {"cases": {}}
    for case in [case for case in CASES if not names or case.name in names]:
        started = time.perf_counter()
        record: dict[str, object] = {"digest": case.digest(), "frequency_hz": list(case.frequency)}
        record["aperture field given"] = _record(case, line=False)
        if case.coaxial is not None:
            record["coaxial line"] = _record(case, line=True)
        stored["cases"][case.name] = record
        print(f"{case.name}: {time.perf_counter() - started:.1f} s", file=sys.stderr)
    kept = {case.name: stored["cases"][case.name] for case in CASES if case.name in stored["cases"]}
    write_table(
        STORED, "impedance [ohm] at the aperture; own_error: relative difference of the two meshes and layers", kept
    )


if __name__ == "__main__":
    main(sys.argv[1:])
