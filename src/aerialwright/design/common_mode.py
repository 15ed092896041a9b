"""Does the coax radiate? The outside of the coax (or the mast) below a hub as part of the antenna, with and without a choke.

Where the feed is a socket on the axis the tube hangs straight down from its body. Where it lies between two halves the coax is
joined to the lower one (to one of two level arms) and leaves at a right angle, for a quarter wave and then down. It is solved over
several lengths because nobody knows where the currents on a real run end: ground, a gutter, the radio. What is reported is the
worst of them, in the worst direction round the antenna.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from aerialwright.antennas.records import Piece, part
from aerialwright.base.constants import c as SPEED_OF_LIGHT
from aerialwright.base.constants import mu0
from aerialwright.base.errors import AerialwrightError, DesignError
from aerialwright.base.printing import format_frequency, format_length
from aerialwright.design.evaluate import wanted_gain
from aerialwright.design.model import Design, Directions, directions, span_of
from aerialwright.design.quick import QUICK
from aerialwright.design.records import ChokeCase, CommonMode
from aerialwright.engine.matrix import System
from aerialwright.engine.sweep import RawSweep, prepare
from aerialwright.engine.threads import single_thread
from aerialwright.lines.mismatch import swr as swr_of
from aerialwright.need.model import Band, Need
from aerialwright.solution.records import Pattern
from aerialwright.solution.solve import current_on, pattern_of
from aerialwright.stock.cables import OTHER, cable
from aerialwright.structure.model import ApertureFeed, Load, Rod, RodFeed, Structure

#: Lengths of the tube in wavelengths: every quarter from a quarter to two. Those that would end inside a cone are left out.
LENGTHS = tuple(0.25 * n for n in range(1, 9))
#: Outside of a coax of unknown type [m].
USUAL_COAX = 5.0e-3
#: The choke stands this far below the socket's body, in wavelengths: as close as a hand gets it.
CHOKE_AT = 0.03
#: A current below this [dB] against the feed current hardly changes anything. Common practice, no source.
RADIATES = -20.0
#: Behind a sheet wider than this [wavelengths] the coax is not solved: it carries 25 dB less than the feed and moves SWR by half a
#: per cent already behind one of three wavelengths (solved here for 144-146 MHz).
BEHIND_SHEET = 3.0
#: A coax from the middle of an antenna is led away at a right angle for this part of a wavelength before it may hang.
LED_AWAY = 0.25
#: Azimuths [rad] looked at where the coax takes the symmetry away.
ROUND = np.radians(np.arange(0.0, 360.0, 45.0))
#: Name of the tube in the structure.
TUBE = "coax outside"


@dataclass(frozen=True)
class Coil:
    """A choke wound of the coax itself: ``turns`` of mean ``radius`` [m], ``inductance`` [H]."""

    turns: int
    radius: float
    inductance: float

    @property
    def wound(self) -> float:
        """Length of coax in it [m]."""
        return 2.0 * math.pi * self.radius * self.turns


def coil_of(frequency: float) -> Coil:
    """Three tight turns, 0.9 of a quarter wave of coax in all (read on two builders' pages), for ``frequency`` [Hz].

    Inductance of a bundle of N turns ``N^2 mu0 R (ln(8 R / a) - 2)`` with ring radius R and the bundle's radius a (text-book formula
    of a ring, from memory).
    """
    turns = 3
    ring = 0.9 * 0.25 * SPEED_OF_LIGHT / frequency / (2.0 * math.pi * turns)
    return Coil(turns, ring, turns**2 * mu0 * ring * max(math.log(8.0 * ring / USUAL_COAX) - 2.0, 0.5))


@dataclass(frozen=True)
class Choke:
    """Impedances in the outside of the coax, one at the feed and perhaps one a quarter wave further on, and what they rest on."""

    key: str
    title: str
    basis: str
    load: Load
    second: bool = False


def chokes(frequency: float) -> tuple[Choke, ...]:
    """Chokes as a builder makes them for ``frequency`` [Hz], none of them at its best: values and their basis.

    Coil: that of :func:`coil_of`, its own resonance missed by a tenth, Q 50 (memory). Beads: five clamp-on ferrites of 150 ohm
    each, 100 to 250 ohm by makers' curves at VHF (memory). Sleeve: a quarter wave of tube 5.6 times as thick as the coax, shorted
    at its lower end, open end at the top, cut 5 % off and of Q 50: ``j Z0 tan`` of the line, as the circuit that has the same
    resonance.
    """
    omega = 2.0 * math.pi * frequency
    coil = coil_of(frequency).inductance
    z0 = 60.0 * math.log(5.6)
    # Near a quarter wave j Z0 tan(b l) is a parallel circuit with L = 4 Z0 / (pi w) and C = pi / (4 Z0 w).
    sleeve = 4.0 * z0 / (math.pi * omega)
    beads = Load(TUBE, 0.0, resistance=750.0)
    bead_basis = "150 ohm each, of 100 to 250 from memory of makers' curves; above 200 MHz take the kind made for it"
    return (
        Choke("coil", "a coil of 3 tight turns of the coax", "0.9 of a quarter wave of coax in it, read on two builders' pages; "
              "resonance taken 10 % off, Q 50 from memory", _tank(coil, omega, 1.10, 50.0)),
        Choke("sleeve", "a quarter-wave sleeve over the coax", "line formula, tube 5.6 times as thick as the coax, shorted below, cut "
              "5 % off, Q 50 from memory", _tank(sleeve, omega, 1.05, 50.0)),
        Choke("beads", "five clamp-on ferrites", bead_basis, beads),
        Choke("two", "five clamp-on ferrites at the feed and five a quarter wave further on",
              f"{bead_basis}; that a second set is wanted was read on a builder's page", beads, second=True),
    )  # fmt: skip


def _tank(inductance: float, omega: float, resonance: float, quality: float) -> Load:
    """A parallel circuit that resonates at ``resonance`` times the working frequency."""
    at = resonance * omega
    return Load(TUBE, 0.0, at * inductance / quality, inductance, 1.0 / (at**2 * inductance))


def coax_diameter(need: Need) -> float:
    """Outside of the feed line in use [m]."""
    kind = need.feed_lines[0].type
    return USUAL_COAX if kind == OTHER else cable(kind).outer_diameter


def with_tube(structure: Structure, *, diameter: float, length: float, loads: tuple[Load, ...] = ()) -> Structure:
    """The structure with a tube of ``length`` [m] hung under its socket's body, ``loads`` in it, measured from its top.

    Raises
    ------
    DesignError
        If there is no socket body to hang it on.
    """
    body = next((s for s in structure.surfaces if s.name == "socket body"), None)
    if body is None:
        raise DesignError(
            "has no socket on the axis", where=structure.name, mend="only antennas fed from below have one"
        )
    radius, foot = 0.5 * diameter, body.profile[-1][1]
    shell = body.profile[0][0]
    profile = (*body.profile[:-1], (radius, foot)) if abs(radius - shell) > 1e-5 else body.profile[:-1]
    surfaces = tuple(replace(s, profile=profile) if s is body else s for s in structure.surfaces)
    tube = Rod(TUBE, ((0.0, 0.0, foot), (0.0, 0.0, foot - length)), radius, 1, body.metal)
    return replace(structure, rods=(*structure.rods, tube), surfaces=surfaces, loads=(*structure.loads, *loads))


def with_side_coax(
    structure: Structure, *, diameter: float, away: float, length: float, loads: tuple[Load, ...] = ()
) -> Structure:
    """The structure with the outside of a coax that is joined beside the feed: ``away`` [m] at a right angle, the rest of ``length``
    [m] down; ``loads`` in it, measured from the feed. From level arms it hangs straight down.

    Raises
    ------
    DesignError
        If the feed lies where no coax can be joined.
    """
    feed = structure.feed
    if isinstance(feed, ApertureFeed):
        joint = (feed.negative[0], 0.0, feed.negative[1])
        return replace(
            structure, rods=(*structure.rods, _led_away(joint, diameter=diameter, away=away, length=length)),
            loads=(*structure.loads, *loads),
        )  # fmt: skip
    arms = next(rod for rod in structure.rods if rod.name == feed.rod)
    if len(arms.points) != 2:
        raise DesignError("has bent arms", where=structure.name, mend="only a straight dipole is fed so here")
    foot, tip = np.array(arms.points[0]), np.array(arms.points[1])
    along = (tip - foot) / np.linalg.norm(tip - foot)
    # The joint lies beside the gap, at least as far as metal is thick, so that the coax hangs on one arm alone.
    beside = max(diameter, 2.2 * arms.radius)
    x, y, z = (float(v) for v in foot + along * (feed.distance - 0.5 * feed.width - beside))
    near = replace(arms, name=f"{arms.name}, coax side", points=(arms.points[0], (x, y, z)))
    far = replace(arms, points=((x, y, z), arms.points[1]))
    tube = _led_away((x, y, z), diameter=diameter, away=away if abs(along[2]) > 0.5 else 0.0, length=length)
    others = tuple(rod for rod in structure.rods if rod is not arms)
    return replace(
        structure, rods=(*others, near, far, tube), loads=(*structure.loads, *loads),
        feed=replace(feed, distance=0.5 * feed.width + beside),
    )  # fmt: skip


def _led_away(joint: tuple[float, float, float], *, diameter: float, away: float, length: float) -> Rod:
    """Coax from ``joint``: ``away`` [m] outward, the rest of ``length`` [m] down."""
    x, y, z = joint
    out = min(away, length)
    points = [joint, (x + out, y, z), (x + out, y, z - (length - out))]
    return Rod(TUBE, tuple(p for k, p in enumerate(points) if k == 0 or p != points[k - 1]), 0.5 * diameter)


def with_one_rod(structure: Structure) -> Structure:
    """Two upright arms with a gap of revolution between them as one rod with a gap in it: a coax beside it takes the symmetry away."""
    feed = structure.feed
    if not isinstance(feed, ApertureFeed) or structure.surfaces or len(structure.rods) != 2:
        return structure
    upper, lower = structure.rods
    (top, bottom) = (rod.points[-1] for rod in (upper, lower))
    gap = feed.positive[1] - feed.negative[1]
    arms = replace(upper, name="arms", points=(bottom, top))
    distance = feed.negative[1] - bottom[2] + 0.5 * gap
    return replace(structure, rods=(arms,), feed=RodFeed("arms", distance, gap))


@dataclass(frozen=True)
class _Variable(Load):
    """A load whose impedance is set between solves, so that one system serves every choke."""

    held: list[Load] = field(default_factory=list)

    def impedance(self, frequency: float) -> complex:
        """Impedance [ohm] of what it holds now."""
        return self.held[0].impedance(frequency) if self.held else 0j


@dataclass(frozen=True)
class _Found:
    impedance: complex
    mean: float
    least: float
    current: float
    raw: RawSweep


def _solved(system: System, frequency: float, wanted: Directions, polarisation: str) -> _Found:
    at = np.array([frequency])
    with single_thread():
        solved = system.solve(frequency)
        raw = RawSweep(at, np.array([solved.admittance]), (solved,), 0.0, system)
        mean, least, _ = wanted_gain(raw, wanted, polarisation, at, balanced=True)
        current = -math.inf
        if any(line.name == TUBE for line in system.geometry.lines):
            along = current_on(raw, TUBE, frequency)[1]
            current = 20.0 * math.log10(max(float(np.abs(along).max() / abs(solved.admittance)), 1e-9))
    return _Found(complex(system.port_factor / solved.admittance), float(mean[0]), float(least[0]), current, raw)


def _reaching_out(structure: Structure, wave: float) -> list[float]:
    """The lengths that reach below all of the antenna's metal, measured from the socket's body."""
    foot = min((z for s in structure.surfaces if s.name == "socket body" for _, z in s.profile), default=None)
    if foot is None:
        return list(LENGTHS)
    lowest = min(
        [z for rod in structure.rods for _, _, z in rod.points] + [z for s in structure.surfaces for _, z in s.profile]
    )
    return [part for part in LENGTHS if part * wave > foot - lowest]


def _fit(places: tuple[_Variable, ...], choke: Choke | None) -> None:
    """Put a choke at the feed, and its second one where it has one, or take both away."""
    for place, there in zip(places, (choke is not None, choke is not None and choke.second), strict=True):
        place.held[:] = [choke.load] if choke is not None and there else []


def _pattern(found: _Found, frequency: float) -> Pattern:
    return pattern_of(found.raw, frequency, phi=np.radians(np.arange(0.0, 360.0, 45.0)))


def common_mode(design: Design, need: Need, bands: tuple[Band, ...]) -> CommonMode | None:
    """Current on the outside of the coax of one design over :data:`LENGTHS`, at the middle of ``bands``, on the quick mesh.

    A plain statement without cases where a wide sheet keeps the coax out of the field; None where no length could be solved.
    """
    frequency, diameter = span_of(bands).centre, coax_diameter(need)
    structure, wave = design.structure(), SPEED_OF_LIGHT / frequency
    edge = max((rho for surface in structure.surfaces for rho, _ in surface.profile), default=0.0)
    if structure.ground == "perfect" or 2.0 * edge > BEHIND_SHEET * wave:
        return _outside(frequency, diameter, _BEHIND)
    wanted = directions(need, horizontal=design.plan.horizontal)
    sideways = not design.family.socketed
    if sideways:
        wanted = replace(wanted, phi=ROUND)
        structure = with_one_rod(structure)
    tried: tuple[Choke | None, ...] = (None, *chokes(frequency))
    try:
        bare = _solved(
            prepare(structure, top_frequency=frequency, settings=QUICK), frequency, wanted, need.polarisation
        )
    except AerialwrightError:
        return None
    found: list[dict[float, _Found]] = [{} for _ in tried]
    held: dict[float, tuple[_Variable, ...]] = {}
    for share in _reaching_out(structure, wave):
        if sideways and share <= LED_AWAY:
            continue
        places = tuple(_Variable(TUBE, at * wave) for at in (CHOKE_AT, min(CHOKE_AT + 0.25, share - CHOKE_AT)))
        try:
            if sideways:
                tube = with_side_coax(
                    structure, diameter=diameter, away=LED_AWAY * wave, length=share * wave, loads=places
                )
            else:
                tube = with_tube(structure, diameter=diameter, length=share * wave, loads=places)
            system = prepare(tube, top_frequency=frequency, settings=QUICK)
        except AerialwrightError:
            continue
        held[share] = places
        for case, choke in zip(found, tried, strict=True):
            _fit(places, choke)
            case[share] = _solved(system, frequency, wanted, need.polarisation)
    if not found[0]:
        return None
    reference = need.feed_lines[0].impedance
    cases = [
        _case(choke, results, bare, wave, frequency, reference) for choke, results in zip(tried, found, strict=True)
    ]
    best = min(range(1, len(cases)), key=lambda k: cases[k].worst_current)
    moved = max(found[0], key=lambda share: abs(found[0][share].mean - bare.mean))
    drawn = []
    for k in (0, best):
        # What a choke takes is part of the far field's efficiency: it must stand in the system again.
        _fit(held[moved], tried[k])
        drawn.append(_pattern(found[k][moved], frequency))
    patterns = (
        ("antenna alone", _pattern(bare, frequency)),
        (f"with {moved:.2g} wavelengths of coax", drawn[0]),
        ("the same coax with chokes", drawn[1]),
    )
    return CommonMode(
        frequency=frequency, diameter=diameter, swr_without=_swr(bare.impedance, reference), gain_without=bare.mean,
        cases=tuple(cases), patterns=patterns, pattern_length=moved * wave,
        reading=_reading(cases[0], cases[best], wave, frequency, _swr(bare.impedance, reference)) + _led(design, sideways=sideways),
    )  # fmt: skip


def _case(
    choke: Choke | None, found: dict[float, _Found], bare: _Found, wave: float, frequency: float, reference: float
) -> ChokeCase:
    """The worst over the lengths."""
    return ChokeCase(
        key="none" if choke is None else choke.key,
        title="no choke" if choke is None else choke.title,
        basis="" if choke is None else choke.basis,
        impedance=0j if choke is None else choke.load.impedance(frequency),
        length=np.array(list(found)) * wave,
        current=np.array([f.current for f in found.values()]),
        worst_length=max(found, key=lambda part: found[part].current) * wave,
        worst_swr=max(_swr(f.impedance, reference) for f in found.values()),
        impedance_change=max(abs(f.impedance - bare.impedance) for f in found.values()),
        gain_lost=max(bare.mean - f.mean for f in found.values()),
        gain_gained=max(f.mean - bare.mean for f in found.values()),
        lowest_gain=min(f.least for f in found.values()),
    )


#: What is said where a wide sheet stands between.
_BEHIND = "The coax runs behind the sheet, which keeps the antenna's field from it."


def choke_of(mode: CommonMode) -> ChokeCase | None:
    """The choke that keeps the coax quietest; None where the coax hardly carries current or was not solved."""
    if not mode.cases or mode.cases[0].worst_current <= RADIATES:
        return None
    return min(mode.cases[1:], key=lambda case: case.worst_current)


def choke_piece(mode: CommonMode) -> Piece | None:
    """That choke as a part of the cut list."""
    case = choke_of(mode)
    if case is None:
        return None
    remark = f"within {format_length(CHOKE_AT * SPEED_OF_LIGHT / mode.frequency, step=1e-3)} of the feed; {abs(case.impedance):.0f} ohm"
    return part("choke", case.title, remark=remark)


def _outside(frequency: float, diameter: float, reading: str) -> CommonMode:
    return CommonMode(frequency, diameter, math.nan, math.nan, (), (), 0.0, reading)


def _led(design: Design, *, sideways: bool) -> str:
    """How the coax of an antenna fed in its middle was taken to run."""
    if not sideways:
        return ""
    way = "straight down" if design.plan.horizontal else "away at a right angle for a quarter wave, then down"
    return f" The coax is taken to lead {way}, joined to one side of the feed."


def _swr(impedance: complex, reference: float) -> float:
    return float(np.asarray(swr_of(np.array([impedance]), reference=reference))[0])


def _level(current: float) -> str:
    return f"{abs(current):.0f} dB {'below' if current <= 0 else 'above'} the feed current"


def _reading(plain: ChokeCase, best: ChokeCase, wave: float, frequency: float, alone: float) -> str:
    """Two sentences from the numbers."""
    word = "Yes" if plain.worst_current > RADIATES else "Hardly"
    return (
        f"{word}: at {format_frequency(frequency)} and without a choke the current on the outside of the coax reaches "
        f"{_level(plain.worst_current)}, at its worst with {plain.worst_length / wave:.2f} wavelengths of coax; SWR there goes from "
        f"{alone:.2f} up to {plain.worst_swr:.2f} and up to {max(plain.gain_lost, 0.0):.1f} dB are lost toward the wanted directions. "
        f"With {best.title} it stays {_level(best.worst_current)}, SWR up to {best.worst_swr:.2f}, up to "
        f"{max(best.gain_lost, 0.0):.1f} dB lost."
    )
