"""Cases of rods in plastic for the finite-element reference, and the script that writes ``plastic_reference.json``.

    python tests/reference/make_plastic_reference.py [name ...]

Each is a monopole on the infinite plane, fed through a coaxial mouth of 2.3 times its radius with the TEM field held
there, bare and with one ring of plastic from the plane (or above it) to the rod's tip (or beyond it). As for
``reference.json`` each is solved on two meshes with two absorbing layers; the finer is stored, with the difference as its
own error. The bare rod is solved on the same lines, and the shift of the resonance stands beside both.
"""

from __future__ import annotations

import hashlib
import json
import sys
import time
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from axisymmetric_fem import INTERFACE, SLIT, Problem, Region, Segment, coaxial_field
from make_reference import ORDER, Case, monopole_on_plane, region, write_table
from scipy.constants import c
from scipy.interpolate import CubicSpline

from aerialwright.structure.model import Coating

STORED = Path(__file__).with_name("plastic_reference.json")
#: Frequencies of every case over that where the height is a quarter wave.
SPAN = (0.80, 0.86, 0.90, 0.94, 0.98, 1.04, 1.20)


@dataclass(frozen=True)
class PlasticCase:
    """A bare monopole and the ring round it: radii [m], real relative permittivity, loss tangent.

    ``start`` is the height [m] where the plastic begins, ``over`` what it stands out beyond the tip.
    """

    name: str
    bare: Case
    inner: float
    outer: float
    permittivity: float
    loss_tangent: float = 0.0
    start: float = 0.0
    over: float = 0.0

    @property
    def radius(self) -> float:
        """Radius of the rod [m]."""
        return self.bare.structure.rods[0].radius

    @property
    def height(self) -> float:
        """Height of the rod [m]."""
        return self.bare.axis[1]

    @property
    def coated(self) -> Case:
        """The program's record: plastic to the rod's tip, the foot below ``start`` bare."""
        assert self.over == 0.0
        rod = self.bare.structure.rods[0]
        shell = Coating(self.inner, self.outer, self.permittivity, self.loss_tangent)
        rods = (replace(rod, points=((0, 0, self.start), rod.points[1]), coating=shell),)
        if self.start:
            rods += (replace(rod, name="foot", points=(rod.points[0], (0, 0, self.start))),)
        return replace(self.bare, structure=replace(self.bare.structure, rods=rods))

    def digest(self) -> str:
        """Changes with anything that the stored impedances depend on."""
        kept = (self.bare.digest(), self.inner, self.outer, self.permittivity, self.loss_tangent, self.start, self.over)
        return hashlib.sha256(repr((*kept, SPAN)).encode()).hexdigest()[:16]


def split(segments: list[Segment], marks: list[tuple[float, float]]) -> list[Segment]:
    """Upright and level segments cut wherever a mark lies inside them."""
    out: list[Segment] = []
    for p, q, tag in segments:
        along = 1 if p[0] == q[0] else 0
        low, high = sorted((p[along], q[along]))
        inside = [m for m in marks if m[1 - along] == p[1 - along] == q[1 - along] and low < m[along] < high]
        points = [p, *sorted(set(inside), key=lambda m: abs(m[along] - p[along])), q]
        out += [(first, second, tag) for first, second in pairwise(points)]
    return out


def plastic_region(case: PlasticCase, *, fine: bool) -> tuple[Region, float]:
    """The bare region with the ring in it, and the depth of the absorbing layer [m]."""
    space, depth = region(replace(case.bare, axis=(0.0, case.height)), line=False, fine=fine)
    b1, b2, z0, z1 = case.inner, case.outer, case.start, case.height + case.over
    touching = abs(b1 - case.radius) < 1e-9
    corners = [(b1, z0), (b2, z0), (b2, z1), (b1, z1)]
    sides: list[Segment] = [((b2, z0), (b2, z1), INTERFACE), ((b2, z1), (b1, z1), INTERFACE)]
    if z0 > 0:
        sides.append(((b1, z0), (b2, z0), INTERFACE))
    if not touching:
        sides.append(((b1, z0), (b1, z1), INTERFACE))
    elif case.over:
        sides.append(((b1, case.height), (b1, z1), INTERFACE))
    space.segments = split(space.segments, corners) + sides
    known = {(r, z) for r, z, _ in space.fine}
    # The field is weakly singular at the plastic's corners; where it stands on the plane it is not.
    space.fine += [(*p, 0.1 * (b2 - b1)) for p in corners if p not in known and p[1] > 0]
    space.dielectric = [(b1, b2, z0, z1, case.permittivity * complex(1.0, -case.loss_tangent))]
    return space, depth


def plastic_impedance(case: PlasticCase, *, fine: bool = False) -> tuple[np.ndarray, Problem]:
    """Impedance (n,) [ohm] at the mouth with the plastic on, and the problem that gave it."""
    space, depth = plastic_region(case, fine=fine)
    return _solve(case.bare, space, depth, fine)


def bare_impedance(case: PlasticCase, *, fine: bool = False) -> tuple[np.ndarray, Problem]:
    """The same without the plastic, on the same lines, so that most of the mesh's error falls out of the shift."""
    space, depth = plastic_region(case, fine=fine)
    space.dielectric = []
    return _solve(case.bare, space, depth, fine)


def _solve(case: Case, space: Region, depth: float, fine: bool) -> tuple[np.ndarray, Problem]:
    assert case.coaxial is not None
    # The shell of the line is no free edge here: nothing hangs below the plane.
    assert all(tag != SLIT for *_, tag in space.segments)
    built = Problem(
        space,
        order=ORDER,
        largest=c / max(case.frequency) / (8.0 if fine else 5.0),
        growth=0.35 if fine else 0.5,
        shrink=0.1 if fine else 1.0,
        depth=depth,
    )
    e = coaxial_field(case.coaxial[0], case.coaxial[1])
    return np.array([built.aperture_impedance(f, e) for f in case.frequency]), built


def resonance(frequency: np.ndarray, z: np.ndarray) -> float:
    """Where the reactance crosses zero going up [Hz], by a cubic spline."""
    x = CubicSpline(frequency, z.imag)
    return float(next(f for f in x.roots(extrapolate=False) if x(f, 1) > 0))


def monopole(a: float, height: float) -> Case:
    """Bare monopole of radius and height [m], at :data:`SPAN` times its quarter-wave frequency."""
    quarter = c / (4 * height)
    return replace(monopole_on_plane(a, height), frequency=tuple(round(quarter * s, -3) for s in SPAN))


def _insulated(diameter: float, wall: float, permittivity: float, height: float = 0.25) -> PlasticCase:
    a = 0.5e-3 * diameter
    name = f"{diameter:g} mm rod, {wall:g} mm touching, eps {permittivity:g}"
    return PlasticCase(name, monopole(a, height), a, a + 1e-3 * wall, permittivity)


def _piped(rod: float, pipe: float, wall: float, permittivity: float, height: float) -> PlasticCase:
    name = f"{rod:g} mm rod in {pipe:g} mm pipe, wall {wall:g}, eps {permittivity:g}, {height:g} m"
    return PlasticCase(
        name, monopole(0.5e-3 * rod, height), round(0.5e-3 * pipe - 1e-3 * wall, 9), 0.5e-3 * pipe, permittivity
    )


#: 400 MHz and 160 MHz as quarter waves of 0.1874 m and 0.4684 m.
UHF, VHF = 0.18, 0.455
CASES: tuple[PlasticCase, ...] = (
    _insulated(2, 0.4, 3.2),
    _insulated(2, 1.0, 2.3),
    _insulated(6, 0.4, 2.3),
    _insulated(6, 1.0, 3.2),
    replace(_insulated(10, 2.0, 3.0, UHF), name="10 mm rod, pipe of 2 mm wall touching, eps 3"),
    _piped(2.4, 20, 1.5, 3.0, UHF),
    _piped(2.4, 25, 2.0, 3.0, UHF),
    _piped(10, 20, 1.5, 3.0, UHF),
    _piped(10, 25, 2.0, 3.0, UHF),
    _piped(2.4, 25, 2.0, 3.0, VHF),
    _piped(10, 20, 1.5, 3.0, VHF),
    _piped(19, 43, 2.5, 2.3, VHF),
    _piped(19, 43, 2.5, 3.0, VHF),
    # The foot bare, so that the mouth's own field meets no plastic.
    replace(_insulated(6, 1.0, 3.2), name="6 mm rod, 1 mm touching, eps 3.2, from 20 mm up", start=0.02),
    replace(_insulated(10, 2.0, 3.0, UHF), name="10 mm rod, 2 mm touching, eps 3, from 20 mm up", start=0.02),
    replace(_piped(10, 25, 2.0, 3.0, UHF), name="10 mm rod in 25 mm pipe, eps 3, from 20 mm up", start=0.02),
    # With a loss tangent ten times that of a good plastic, so that it shows.
    replace(_insulated(6, 1.0, 3.2), name="6 mm rod, 1 mm touching, eps 3.2, lossy", loss_tangent=0.1),
)


def case_named(name: str) -> PlasticCase:
    """The case of that name."""
    return next(case for case in CASES if case.name == name)


def _pairs(z: np.ndarray) -> list[list[float]]:
    return [[round(float(value.real), 5), round(float(value.imag), 5)] for value in z]


def record(case: PlasticCase) -> dict[str, object]:
    """One case as it stands in the table."""
    f = np.array(case.bare.frequency)
    bare, bare_fine = bare_impedance(case)[0], bare_impedance(case, fine=True)[0]
    (coated, coarse), (coated_fine, built) = plastic_impedance(case), plastic_impedance(case, fine=True)
    shift = [resonance(f, z) / resonance(f, z0) - 1 for z, z0 in ((coated, bare), (coated_fine, bare_fine))]
    return {
        "digest": case.digest(),
        "frequency_hz": f.tolist(),
        "bare_ohm": _pairs(bare_fine),
        "plastic_ohm": _pairs(coated_fine),
        "own_error": [float(f"{value:.2g}") for value in abs(coated - coated_fine) / abs(coated_fine)],
        "shift": float(f"{shift[1]:.6f}"),
        "shift_own_error": float(f"{abs(shift[1] - shift[0]):.2g}"),
        "unknowns": [coarse.unknowns, built.unknowns],
    }


def main(names: list[str]) -> None:
    """Solve the named cases (all, if none is named) and write them into the stored table."""
    stored = json.loads(STORED.read_text("utf-8")) if STORED.exists() else {"cases": {}}
    for case in [case for case in CASES if not names or case.name in names]:
        started = time.perf_counter()
        stored["cases"][case.name] = found = record(case)
        print(f"{case.name}: {found['shift']}, {time.perf_counter() - started:.1f} s", file=sys.stderr)
        kept = {case.name: stored["cases"][case.name] for case in CASES if case.name in stored["cases"]}
        write_table(
            STORED,
            "impedance [ohm] at the mouth, bare and with the plastic; shift of the resonance, relative; "
            "own_error: relative difference of the two meshes and layers, shift_own_error: the same, absolute",
            kept,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
