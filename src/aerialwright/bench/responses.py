"""What the sweep of one design would look like with each of its dimensions off: few engine solves, rational functions between.

A dimension moves poles of the reflection past each frequency, so that it is joined over the dimension by the AAA algorithm
[@nakatsukasa-2018] at each frequency; polynomials and splines miss the narrow resonances of one odd radial or of a long coax by up
to 0.8, these by 0.01. One design takes two to eight seconds; it is kept for the next sweep.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.interpolate import AAA, CubicSpline

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.errors import AerialwrightError
from aerialwright.design.common_mode import BEHIND_SHEET, USUAL_COAX, with_tube
from aerialwright.design.evaluate import connector_sections
from aerialwright.design.model import Design, span_of
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare, run_sweep
from aerialwright.lines.line import Line
from aerialwright.lines.mismatch import reflection
from aerialwright.lines.section import behind
from aerialwright.need.model import Band
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.structure.model import Coating, Rod, Structure

#: The window looked at: parts of the lowest and of the highest frequency of the bands.
BELOW, ABOVE = 0.78, 1.25
#: Frequencies stored in the window, and relative error allowed to their rational fit.
STORED, TOLERANCE = 81, 1e-3
#: Relative error allowed to the rational functions over a dimension, and solves for each.
FIT, NODES = 1e-4, 7
#: How far a length (part of it) and an angle [degree] are followed either way.
LENGTH_REACH, ANGLE_REACH = 0.12, 25.0
#: How much plastic is looked for, as ``(1 - 1/permittivity) ln(outer / inner radius)``; how far one radial is followed, part of it.
PLASTIC_REACH, RADIAL_REACH = 0.9, (-0.75, 0.30)
#: Lengths of coax outside, in wavelengths: from where it reaches out of the antenna to this, in steps of.
COAX_LONGEST, COAX_STEP = 1.6, 0.055
#: Permittivity of the plastic that stands for any: only the amount above counts for a thin layer [@richmond-newman-1976].
ANY_PLASTIC = 3.0

Solver = Callable[[Structure], ComplexArray]


@dataclass(frozen=True)
class Table:
    """Reflection over one quantity from ``low`` to ``high``, departures from the design: one rational function per frequency."""

    low: float
    high: float
    fits: tuple[AAA, ...]

    def __call__(self, values: FloatArray) -> ComplexArray:
        """Reflection (m, n) at ``values`` (m,) inside the range."""
        return np.stack([np.asarray(fit(values)) for fit in self.fits], axis=-1)


@dataclass(frozen=True)
class Responses:
    """One design over a window of ``frequency`` (n,) [Hz], against ``reference`` [ohm], behind its own connector.

    ``base`` (n,) as designed; ``tables`` by dimension key, and ``"plastic"``, ``"one radial"``, ``"coax outside"`` where the design
    has them; ``missing`` (n,) without one radial, None where it has none to miss.
    """

    design: Design
    reference: float
    frequency: FloatArray
    base: ComplexArray
    tables: dict[str, Table]
    missing: ComplexArray | None


@dataclass(frozen=True)
class View:
    """Responses read at the frequencies (n,) [Hz] of a sweep."""

    responses: Responses
    frequency: FloatArray
    #: Cubic spline over frequency as a matrix (stored, n).
    join: FloatArray

    @property
    def base(self) -> ComplexArray:
        """Reflection (n,) as designed."""
        return self.responses.base @ self.join

    @property
    def missing(self) -> ComplexArray | None:
        """Reflection (n,) without one radial."""
        return None if self.responses.missing is None else self.responses.missing @ self.join

    def along(self, key: str, values: FloatArray) -> ComplexArray:
        """Reflection (m, n) with the quantity of a table off by ``values`` (m,)."""
        return self.responses.tables[key](values) @ self.join

    def step(self, key: str, size: float) -> ComplexArray:
        """Change (n,) of the reflection by a small departure, by a central difference where both sides are in range."""
        table = self.responses.tables[key]
        pair = np.array([max(-size, table.low), min(size, table.high)])
        near = self.along(key, pair)
        return np.asarray((near[1] - near[0]) / (pair[1] - pair[0]) * size)


def view(found: Responses, frequency: FloatArray) -> View:
    """Responses at ``frequency`` (n,) [Hz], inside their window."""
    join = CubicSpline(found.frequency, np.eye(len(found.frequency)))(frequency).T
    return View(found, frequency, np.asarray(join))


def window(bands: tuple[Band, ...]) -> tuple[float, float]:
    """Lowest and highest frequency [Hz] that a sweep is looked at for these bands."""
    span = span_of(bands)
    return BELOW * span.low, ABOVE * span.high


def chebyshev(low: float, high: float, count: int) -> FloatArray:
    """Chebyshev nodes of the second kind (count,), ends included, ascending."""
    return np.asarray(0.5 * (low + high) - 0.5 * (high - low) * np.cos(np.pi * np.arange(count) / (count - 1)))


def solver(frequency: FloatArray, design: Design, reference: float, *, settings: MeshSettings | None = None) -> Solver:
    """A function that gives the reflection (n,) of a structure behind the design's own connector pair."""
    sections = connector_sections(design, Line("", reference, 0.0, 1.0, 0.0, 0.0))

    def solved(structure: Structure) -> ComplexArray:
        system = prepare(structure, top_frequency=float(frequency[-1]), settings=settings or MeshSettings())
        raw = run_sweep(system, frequency, tolerance=TOLERANCE)
        return reflection(
            behind(sections, load=system.port_factor / raw.admittance, frequency=frequency), reference=reference
        )

    return solved


def responses(design: Design, bands: tuple[Band, ...], *, reference: float) -> Responses:
    """Solve a design with everything that can be off, once; the last few are remembered.

    Raises
    ------
    StructureError, DesignError
        If the design itself cannot be solved.
    """
    # A design holds dictionaries: its text is its identity.
    return _kept(_Question(repr((design, bands, reference)), design, bands, reference))


@dataclass(frozen=True)
class _Question:
    """What is asked, told apart by its text alone."""

    text: str
    design: Design
    bands: tuple[Band, ...]
    reference: float

    def __hash__(self) -> int:
        """By the text."""
        return hash(self.text)

    def __eq__(self, other: object) -> bool:
        """By the text."""
        return isinstance(other, _Question) and other.text == self.text


@lru_cache(maxsize=16)
def _kept(question: _Question) -> Responses:
    design, reference = question.design, question.reference
    low, high = window(question.bands)
    frequency = np.geomspace(low, high, STORED)
    solve = solver(frequency, design, reference)
    base = solve(design.structure())
    tables = {}
    for key in dimension_keys(design):
        table = _dimension_table(design, key, solve)
        if table is not None:
            tables[key] = table
    if any(_wears_plastic(rod) for rod in design.structure().rods):
        plastic = _table(
            chebyshev(*plastic_limits(design), NODES - 1), lambda q: with_plastic(design.structure(), q), solve
        )
        if plastic is not None:
            tables["plastic"] = plastic
    missing = None
    if has_radials(design):
        nodes = chebyshev(*RADIAL_REACH, NODES + 2)
        one = _table(nodes, lambda part: one_radial_off(design, part), solve)
        if one is not None:
            tables["one radial"] = one
        missing = solve(one_radial_off(design, -1.0)) if design.values["radial_count"] > 2 else None
    outside = _coax_table(design, span_of(question.bands).centre, solve)
    if outside is not None:
        tables["coax outside"] = outside
    return Responses(design, reference, frequency, base, tables, missing)


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
        reach = 0.4 * value
    return max(-reach, parameter.lowest - value), min(reach, parameter.highest - value)


def _dimension_table(design: Design, key: str, solve: Solver) -> Table | None:
    """Reflection over one dimension; the range is drawn in where metal would overlap."""
    low, high = dimension_limits(design, key)
    for _ in range(4):
        table = _table(
            chebyshev(low, high, NODES),
            lambda off: design.with_values(**{key: design.values[key] + off}).structure(),
            solve,
        )
        if table is not None:
            return table
        low, high = 0.6 * low, 0.6 * high
    return None


def _table(nodes: FloatArray, build: Callable[[float], Structure], solve: Solver) -> Table | None:
    """Reflection between ``nodes`` from a solve at each; None where one of them cannot be built."""
    try:
        found = np.array([solve(build(float(node))) for node in nodes])
    except AerialwrightError:
        return None
    fits = tuple(AAA(nodes, column, rtol=FIT, clean_up=False) for column in found.T)
    return Table(float(nodes[0]), float(nodes[-1]), fits)


def _wears_plastic(rod: Rod) -> bool:
    """True for the rods that insulation or a pipe would go over: the radiating ones."""
    return not any(word in rod.name for word in ("radial", "spoke", "pin", "coax"))


def _amount(coating: Coating | None) -> float:
    """``(1 - 1/permittivity) ln(outer / inner)`` of a coating: all that a thin layer is to the engine."""
    if coating is None:
        return 0.0
    return (1.0 - 1.0 / coating.permittivity) * math.log(coating.outer_radius / coating.inner_radius)


def plastic_limits(design: Design) -> tuple[float, float]:
    """Least and most amount of plastic against the design: from none at all to :data:`PLASTIC_REACH` more."""
    there = max((_amount(rod.coating) for rod in design.structure().rods if _wears_plastic(rod)), default=0.0)
    return -there, PLASTIC_REACH


def with_plastic(structure: Structure, amount: float) -> Structure:
    """The structure with more plastic (or less, where some is there) round its radiating rods."""

    def covered(rod: Rod) -> Rod:
        if not _wears_plastic(rod):
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


def _coax_table(design: Design, frequency: float, solve: Solver) -> Table | None:
    """Reflection over the length [m] of coax whose outside hangs on the antenna; None where it cannot carry current or is not modelled."""
    structure, wave = design.structure(), SPEED_OF_LIGHT / frequency
    edge = max((rho for surface in structure.surfaces for rho, _ in surface.profile), default=0.0)
    if not design.family.socketed or structure.ground == "perfect" or 2.0 * edge > BEHIND_SHEET * wave:
        return None
    foot = min(z for s in structure.surfaces if s.name == "socket body" for _, z in s.profile)
    lowest = min(
        [z for rod in structure.rods for _, _, z in rod.points] + [z for s in structure.surfaces for _, z in s.profile]
    )
    shortest = max(0.15 * wave, foot - lowest + 0.03 * wave)
    nodes = np.arange(shortest, COAX_LONGEST * wave, COAX_STEP * wave)
    return _table(nodes, lambda length: with_tube(structure, diameter=USUAL_COAX, length=length), solve)
