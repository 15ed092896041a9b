"""What the sweep of one design would look like with each of its dimensions off: few engine solves, rational functions between.

A dimension moves poles of the reflection past each frequency, so that it is joined over the dimension by the AAA algorithm
[@nakatsukasa-2018] at each frequency; polynomials and splines miss the narrow resonances of one odd radial or of a long coax by up
to 0.8, these by 0.01. One design takes one to five seconds; it is kept for the next sweep.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import AAA, CubicSpline

from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.altered import (
    RADIAL_REACH,
    coax_lengths,
    dimension_keys,
    dimension_limits,
    hand_error,
    has_radials,
    one_radial_off,
    plastic_limits,
    wears_plastic,
    with_departure,
    with_plastic,
)
from aerialwright.design.common_mode import USUAL_COAX, with_tube
from aerialwright.design.evaluate import connector_sections
from aerialwright.design.model import Design, span_of
from aerialwright.design.quick import QUICK
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare, run_sweep
from aerialwright.lines.line import Line
from aerialwright.lines.mismatch import reflection
from aerialwright.lines.section import behind
from aerialwright.need.model import Band
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.structure.model import Structure

#: The window looked at: parts of the lowest and of the highest frequency of the bands.
BELOW, ABOVE = 0.78, 1.25
#: Frequencies stored in the window, and relative error allowed to their rational fit.
STORED, TOLERANCE = 81, 1e-3
#: Relative error allowed to the rational functions over a dimension, and solves for each.
FIT, NODES = 1e-4, 7
#: Step between the lengths of coax that are solved, in wavelengths.
COAX_STEP = 0.055
#: Where on its range a dimension is solved again with every other one off: the errors of a hand change with it.
CROSSED = (-0.5, 0.5)

Solver = Callable[[Structure], ComplexArray]


@dataclass(frozen=True)
class Table:
    """Reflection over one quantity from ``low`` to ``high``, departures from the design: one rational function per frequency.

    In barycentric form, all (n, s): ``support`` points, ``weight`` (zero where a frequency needs fewer) and ``value`` there.
    """

    low: float
    high: float
    support: FloatArray
    weight: ComplexArray
    value: ComplexArray

    def __call__(self, values: FloatArray) -> ComplexArray:
        """Reflection (m, n) at ``values`` (m,) inside the range."""
        apart = values[:, None, None] - self.support
        hit = (np.abs(apart) < 1e-12 * (self.high - self.low)) & (self.weight != 0.0)
        share = self.weight / np.where(apart == 0.0, 1.0, apart)
        share = np.where(hit.any(axis=2)[..., None], hit, share)
        return np.asarray(np.sum(share * self.value, axis=2) / share.sum(axis=2))


@dataclass(frozen=True)
class Crossed:
    """Changes ``slips`` (p, k, n) of the reflection by the errors of a hand, at departures ``there`` (p,) of one quantity."""

    there: FloatArray
    slips: ComplexArray

    def __call__(self, values: FloatArray) -> ComplexArray:
        """The same (m, k, n) at ``values`` (m,), by Lagrange's polynomial, held at half a step beyond the ends."""
        x = self.there
        edge = 0.5 * np.diff(x).min() if len(x) > 1 else 0.0
        at = np.clip(values, x[0] - edge, x[-1] + edge)
        share = np.ones((len(values), len(x)))
        for i in range(len(x)):
            for j in range(len(x)):
                if i != j:
                    share[:, i] *= (at - x[j]) / (x[i] - x[j])
        return np.asarray(np.einsum("mp,pkn->mkn", share, self.slips))


@dataclass(frozen=True)
class Responses:
    """One design over a window of ``frequency`` (n,) [Hz], against ``reference`` [ohm], behind its own connector.

    ``base`` (n,) as designed; ``tables`` by dimension key, and ``"plastic"``, ``"one radial"``, ``"coax outside"`` where the design
    has them; ``missing`` (n,) without one radial, None where it has none to miss. ``hands``: what a careful hand is off in, and
    ``crossed`` what that does with each quantity off.
    """

    design: Design
    reference: float
    frequency: FloatArray
    base: ComplexArray
    tables: dict[str, Table]
    missing: ComplexArray | None
    hands: tuple[str, ...]
    crossed: dict[str, Crossed]


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

    def slips(self, key: str, values: FloatArray) -> ComplexArray:
        """Changes (m, k, n) by one standard deviation of everything that a careful hand is off in, with one quantity off by ``values``."""
        return self.responses.crossed[key](values) @ self.join

    @property
    def hand(self) -> ComplexArray:
        """The same (k, n) as designed."""
        return np.asarray(self.slips(next(iter(self.responses.crossed)), np.zeros(1))[0])


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
    quick = solver(frequency, design, reference, settings=QUICK)
    missed = base - quick(design.structure())

    def about(structure: Structure) -> ComplexArray:
        """On the quick mesh, with what that misses of the design: for what is slow to solve and known only roughly."""
        return quick(structure) + missed

    solvers = {"plastic": about}
    tables = {}
    for key in (*dimension_keys(design), "plastic"):
        table = _dimension_table(design, key, solvers.get(key, solve))
        if table is not None:
            tables[key] = table
    hands = tuple(key for key in tables if hand_error(design, key) > 0.0)
    crossed = {key: _crossed(design, key, tables, hands, solvers.get(key, solve)) for key in tables}
    missing = None
    if has_radials(design):
        nodes = chebyshev(*RADIAL_REACH, NODES + 2)
        one = _table(nodes, lambda part: one_radial_off(design, part), about)
        if one is not None:
            tables["one radial"] = one
        missing = about(one_radial_off(design, -1.0)) if design.values["radial_count"] > 2 else None
    wave = SPEED_OF_LIGHT / span_of(question.bands).centre
    lengths = coax_lengths(design, wave)
    if lengths is not None:
        structure = design.structure()
        outside = _table(
            np.arange(*lengths, COAX_STEP * wave),
            lambda length: with_tube(structure, diameter=USUAL_COAX, length=length),
            about,
        )
        if outside is not None:
            tables["coax outside"] = outside
    return Responses(design, reference, frequency, base, tables, missing, hands, crossed)


def _dimension_table(design: Design, key: str, solve: Solver) -> Table | None:
    """Reflection over one dimension or the plastic; the range is drawn in where metal would overlap."""
    if key == "plastic":
        if not any(wears_plastic(rod) for rod in design.structure().rods):
            return None
        return _table(chebyshev(*plastic_limits(design), NODES - 1), lambda q: with_departure(design, key, q), solve)
    low, high = dimension_limits(design, key)
    for _ in range(4):
        table = _table(chebyshev(low, high, NODES), lambda off: with_departure(design, key, off), solve)
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
    fits = [AAA(nodes, column, rtol=FIT, clean_up=False) for column in found.T]
    longest = max(len(fit.weights) for fit in fits)

    def padded(rows: list[ComplexArray]) -> ComplexArray:
        return np.array([np.pad(row, (0, longest - len(row))) for row in rows])

    return Table(
        float(nodes[0]), float(nodes[-1]), padded([fit.support_points for fit in fits]).real,
        padded([fit.weights for fit in fits]), padded([fit.support_values for fit in fits]),
    )  # fmt: skip


def _crossed(design: Design, key: str, tables: dict[str, Table], hands: tuple[str, ...], solve: Solver) -> Crossed:
    """Errors of a hand (1 to 3, k, n) with one quantity where it is designed and half-way to its ends."""
    table = tables[key]
    there, found = [0.0], [_slips(tables, hands, design)]
    for part in CROSSED:
        off = part * (table.high if part > 0 else -table.low)
        if abs(off) < 1e-12 or (key == "plastic" and part < 0):
            continue
        try:
            moved = design if key == "plastic" else design.with_values(**{key: design.values[key] + off})
            extra = off if key == "plastic" else 0.0
            start = table(np.array([off]))[0]
            rows = [solve(_both(moved, extra, other, hand_error(design, other))) - start for other in hands]
        except AerialwrightError:
            continue
        there.append(off)
        found.append(np.array(rows).reshape(-1, len(start)))
    order = np.argsort(there)
    return Crossed(np.array(there)[order], np.array(found)[order])


def _both(design: Design, plastic: float, key: str, off: float) -> Structure:
    """The metal with one more quantity off, and with more plastic."""
    made = with_departure(design, key, off)
    return with_plastic(made, plastic) if plastic else made


def _slips(tables: dict[str, Table], hands: tuple[str, ...], design: Design) -> ComplexArray:
    """Changes (k, n) of the reflection by one standard deviation of every quantity, at the design."""
    rows = []
    for key in hands:
        size, table = hand_error(design, key), tables[key]
        pair = np.array([max(-size, table.low), min(size, table.high)])
        near = table(pair)
        rows.append((near[1] - near[0]) / (pair[1] - pair[0]) * size)
    count = len(next(iter(tables.values())).value)
    return np.array(rows, dtype=np.complex128).reshape(-1, count)
