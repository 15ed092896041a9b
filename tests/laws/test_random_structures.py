"""The laws on random antennas: rods anywhere in space, antennas of copies about an axis with sheets, arms in quadrature, over ground.

The wavelength is 1 m. Structures are small, so that one takes some ten milliseconds; every run looks at new ones. Their pieces
keep clear of each other by construction: a strategy that throws half of its draws away would test the refusals instead.
"""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given, note, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from rewritten import FINE, backwards, expanded, fed_rod, mean_current, moved, rod_length, run, scaled, split, z_of

from aerialwright.base.constants import c
from aerialwright.engine.far_field import powers
from aerialwright.structure.model import ApertureFeed, Metal, Rod, RodFeed, Structure, Surface

METALS = st.sampled_from([None, Metal("copper", 58e6), Metal("stainless steel", 1.4e6), Metal("poor", 1e5)])
FEW, SOME = settings(max_examples=12), settings(max_examples=20)


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, width=64)


def direction(tilt: float, azimuth: float) -> NDArray[np.float64]:
    return np.array([math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)])


def place(vector: NDArray[np.float64]) -> tuple[float, float, float]:
    return (float(vector[0]), float(vector[1]), float(vector[2]))


@st.composite
def rods_in_space(draw: st.DrawFn, *, most: int = 3, straight: bool = False, height: float = 0.0) -> Structure:
    """One to ``most`` rods of order 1, askew and not on the z axis, each in a column of its own 0.3 wide; one of them is fed."""
    rods = []
    for number in range(draw(st.integers(1, most))):
        middle = np.array([0.3 + 0.3 * number, draw(between(-0.05, 0.05)), height + draw(between(-0.1, 0.1))])
        way = direction(draw(between(0.0, 0.4)), draw(between(-math.pi, math.pi)))
        low, high = draw(between(0.12, 0.26)), draw(between(0.12, 0.26))
        points = [middle - low * way, middle + high * way]
        if not straight and draw(st.booleans()):
            # A bend of at most 50 degrees at the middle.
            points = [points[0], middle, middle + high * direction(draw(between(0.0, 0.4)), draw(between(-3.0, 3.0)))]
        radius = draw(between(5e-4, 4e-3))
        rods.append(Rod(f"rod {number}", tuple(place(p) for p in points), radius, metal=draw(METALS)))
    fed = draw(st.sampled_from(rods))
    width = draw(between(2.5, 6.0)) * fed.radius
    distance = draw(between(0.4, 0.6)) * math.dist(*fed.points[:2])
    return Structure("rods", tuple(rods), (), RodFeed(fed.name, distance, width))


@st.composite
def about_an_axis(draw: st.DrawFn) -> Structure:
    """A rod on a socket with radials, a flat or conical sheet, a disc on top, in any mixture that carries current."""
    a = draw(between(5e-4, 2.5e-3))
    b = a * draw(between(1.8, 3.0))
    hub = b + draw(between(0.005, 0.03))
    metal = draw(METALS)
    whip = draw(between(0.12, 0.3))
    rods = [Rod("whip", ((0, 0, 0), (0, 0, whip)), a, metal=metal)]
    shell = Surface("shell", ((b, 0), (b, -draw(between(4.5, 8.0)) * b), (0, -9.0 * b)), metal)
    surfaces = [Surface("flange", ((b, 0), (hub, 0)), metal), shell]
    skirt = draw(st.sampled_from(["rods", "sheet", "both"]))
    down = draw(between(0.5 if skirt == "both" else 0.0, 1.0))
    if skirt != "sheet":
        reach = draw(between(0.12, 0.28)) * math.cos(down)
        tip = (hub + reach, 0, -reach * math.tan(down))
        rods.append(Rod("radial", ((hub, 0, 0), tip), draw(between(5e-4, 1.0e-3)), draw(st.integers(2, 6)), metal))
    if skirt != "rods":
        # Beside rods it rises, so that the two part at once.
        reach, rise = draw(between(0.05, 0.12)), 0.2 if skirt == "both" else -math.tan(down)
        surfaces.append(Surface("sheet", ((hub, 0), (hub + reach, rise * reach)), metal, 5e-4))
    return Structure("about an axis", tuple(rods), tuple(surfaces), ApertureFeed((a, 0), (b, 0)))


@st.composite
def ring_of_rods(draw: st.DrawFn) -> Structure:
    """Two to six copies of one or two rods round nothing, each copy of one set fed alike."""
    copies = draw(st.integers(2, 6))
    rods = []
    for number in range(draw(st.integers(1, 2))):
        rho, lean = 0.06 + 0.12 * number, draw(between(-0.02, 0.02))
        low, high = draw(between(0.1, 0.26)), draw(between(0.1, 0.26))
        points = ((rho - lean, 0, -low), (rho + lean, draw(between(-0.02, 0.02)), high))
        rods.append(Rod(f"ring {number}", points, draw(between(5e-4, 3e-3)), copies, draw(METALS)))
    fed = draw(st.sampled_from(rods))
    return Structure("ring", tuple(rods), (), RodFeed(fed.name, 0.4 * rod_length(fed), 4 * fed.radius))


@st.composite
def in_quadrature(draw: st.DrawFn) -> Structure:
    """Three to six arms that meet on the axis, level or drooping, each fed behind its neighbour."""
    droop, length, radius = draw(between(-0.9, 0.9)), draw(between(0.15, 0.3)), draw(between(2e-4, 2e-3))
    arm = Rod(
        "arm",
        ((0, 0, 0), (length * math.cos(droop), 0, -length * math.sin(droop))),
        radius,
        draw(st.integers(3, 6)),
        draw(METALS),
    )
    return Structure("in quadrature", (arm,), (), RodFeed("arm", 0, draw(between(8.0, 20.0)) * radius), mode=1)


@st.composite
def over_ground(draw: st.DrawFn) -> Structure:
    """Rods hanging over a perfect plane, or one standing on it, upright or leaning, fed at its foot."""
    if draw(st.booleans()):
        hanging = draw(rods_in_space(most=2, height=0.45))
        return Structure("hanging", hanging.rods, (), hanging.feed, "perfect")
    radius, top = draw(between(5e-4, 3e-3)), 0.25 * direction(draw(between(0.0, 0.8)), draw(between(-3.0, 3.0)))
    rod = Rod("standing", ((0.2, 0, 0), place(top + [0.2, 0, 0])), radius, metal=draw(METALS))
    return Structure("standing", (rod,), (), RodFeed("standing", 0, 4 * radius), "perfect")


ALL = st.one_of(rods_in_space(), about_an_axis(), ring_of_rods(), in_quadrature(), over_ground())


def rotation(x: float, y: float, z: float) -> NDArray[np.float64]:
    """Turn by three angles [rad]."""
    (cx, sx), (cy, sy), (cz, sz) = ((math.cos(v), math.sin(v)) for v in (x, y, z))
    about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
    about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    about_z = np.array([[cz, -sz, 0], [sz, cz, 0], [0, 0, 1]])
    return np.asarray(about_x @ about_y @ about_z)


@settings(max_examples=60)
@given(ALL)
def test_energy_is_conserved(structure: Structure) -> None:
    """Radiated, from the far field over a sphere, and lost in the metal: together what the feed gave, to 0.1 %."""
    system, solved, z = run(structure)
    accepted, radiated, lost = powers(system, solved)
    note(f"{z} balance {(radiated + lost) / accepted - 1}")
    assert z.real > 0 and radiated > 0 and lost >= 0
    assert abs(radiated + lost - accepted) < 0.001 * accepted


@SOME
@given(ALL, between(0.05, 20.0))
def test_scaling(structure: Structure, factor: float) -> None:
    """All lengths times s, frequency and conductivity over s. Held down to radii of the model's least thickness."""
    one, other = z_of(structure), run(scaled(structure, factor), None, c / factor)[2]
    note(f"{one} {other}")
    assert abs(other - one) < 1e-5 * abs(one)


@SOME
@given(rods_in_space(), between(-3.0, 3.0), between(-3.0, 3.0), between(-3.0, 3.0), between(-2.0, 2.0))
def test_rotation_and_translation(structure: Structure, x: float, y: float, z: float, shift: float) -> None:
    """Rods of order 1 know no axis."""
    other = moved(structure, rotation=rotation(x, y, z), shift=np.array([shift, 0.3, -1.7 * shift]))
    one, other_z = z_of(structure), z_of(other)
    note(f"{one} {other_z}")
    assert abs(other_z - one) < 1e-4 * abs(one)


@FEW
@given(st.one_of(about_an_axis(), ring_of_rods()), between(0.0, 6.0))
def test_order_n_is_its_copies_written_out(structure: Structure, start: float) -> None:
    """The orbit's one unknown against a rod of its own for each copy. Fed copies are left alone: one gap more is another antenna."""
    if isinstance(structure.feed, RodFeed):
        fed = fed_rod(structure)
        centre = Rod("centre", ((0, 0, -0.2), (0, 0, 0.22)), 0.002, metal=fed.metal)
        structure = Structure("ring", (centre, *structure.rods), (), RodFeed("centre", 0.2, 0.008))
    one, other = z_of(structure), z_of(expanded(structure, start))
    note(f"{one} {other}")
    # Separate rods alone in space are rods, also the one on the axis; with copies that one is a tube with closed ends.
    assert abs(other - one) < (1e-5 if structure.surfaces else 0.015) * abs(one)


@SOME
@given(st.one_of(rods_in_space(), about_an_axis(), ring_of_rods()))
def test_reversal(structure: Structure) -> None:
    """All rods and profiles from their other end. Elements in the middle of a line may differ: 0.1 %."""
    one, other = z_of(structure, FINE), z_of(backwards(structure), FINE)
    note(f"{one} {other}")
    assert abs(other - one) < 1e-3 * abs(one)


@SOME
@given(rods_in_space(straight=True), st.data())
def test_splitting_a_rod(structure: Structure, data: st.DataObject) -> None:
    """Any rod as two end to end, cut clear of the gap: 0.3 %, since the elements are others."""
    name = data.draw(st.sampled_from([rod.name for rod in structure.rods]))
    one, other = z_of(structure, FINE), z_of(split(structure, name, data.draw(between(0.75, 0.85))), FINE)
    note(f"{one} {other}")
    assert abs(other - one) < 3e-3 * abs(one)


@SOME
@given(rods_in_space(most=2, straight=True), st.data())
def test_reciprocity(structure: Structure, data: st.DataObject) -> None:
    """What a volt in one antenna drives through the gap of another, the other drives through the first one's: 0.3 % of the transfer.

    A gap is open metal to the current of the other antenna, so both feeds short each other's gap as they should.
    """
    if len(structure.rods) < 2:
        other = data.draw(rods_in_space(most=1, straight=True))
        spare = Rod("spare", tuple((x + 0.3, y, z) for x, y, z in other.rods[0].points), other.rods[0].radius)
        structure = Structure("pair", (*structure.rods, spare), (), structure.feed)
    a, b = structure.rods
    gaps = {rod.name: (0.4 * rod_length(rod), 4 * rod.radius) for rod in (a, b)}

    def driven(fed: Rod, heard: Rod) -> complex:
        system, solved, _ = run(Structure("pair", (a, b), (), RodFeed(fed.name, *gaps[fed.name])), FINE)
        distance, width = gaps[heard.name]
        return mean_current(system, solved, heard, distance - 0.5 * width, distance + 0.5 * width)

    there, back = driven(a, b), driven(b, a)
    note(f"{there} {back}")
    assert abs(there - back) < 3e-3 * abs(there)


@FEW
@given(about_an_axis(), between(0.1, 0.24), between(0.1, 0.24), between(5e-4, 3e-3))
def test_reciprocity_with_an_antenna_about_an_axis(
    structure: Structure, low: float, high: float, radius: float
) -> None:
    """A socketed antenna with its copies and sheets, and a ring of rods about it: the volt in the coaxial mouth against the volt in each
    of the ring's gaps. The ring's unknown is the current of all its copies together, the mouth's that of the whole rod."""
    copies = max(rod.copies for rod in structure.rods)
    copies = copies if copies > 1 else 3
    ring = Rod("ring", ((0.6, 0, 0.3 - low), (0.6, 0, 0.3 + high)), radius, copies)
    rods, width = (*structure.rods, ring), 4 * radius
    system, solved, _ = run(Structure("fed", rods, structure.surfaces, structure.feed), FINE)
    there = mean_current(system, solved, ring, low - 0.5 * width, low + 0.5 * width)
    system, solved, _ = run(
        Structure("heard", rods, (*structure.surfaces, mouth(structure)), RodFeed("ring", low, width)), FINE
    )
    # Metal across the mouth, as the engine closes a gap: the current of the gap's own weight.
    feed = structure.feed
    assert isinstance(feed, ApertureFeed)
    back = mouth_current(system, solved, feed)
    note(f"{there} {back}")
    assert abs(there - back) < 3e-3 * abs(there)


def mouth(structure: Structure) -> Surface:
    """The coaxial mouth shut by metal."""
    feed = structure.feed
    assert isinstance(feed, ApertureFeed)
    return Surface("mouth", (feed.negative, feed.positive))


def mouth_current(system, solved, feed: ApertureFeed) -> complex:
    """Current inward across the mouth, weighted as the field in it: 1 / rho."""
    x, w = np.polynomial.legendre.leggauss(12)
    total, weight = 0j, 0.0
    for e in range(len(system.mesh.kind)):
        if system.geometry.lines[system.mesh.line[e]].name != "mouth":
            continue
        t = 0.5 + 0.5 * x
        rho = system.mesh.start[e, 0] + t * (system.mesh.end[e, 0] - system.mesh.start[e, 0])
        value = system._at(np.full(len(t), e), t)[0] @ solved.coefficients
        sense = math.copysign(1.0, system.mesh.start[e, 0] - system.mesh.end[e, 0])
        share = 0.5 * w * system.mesh.length[e] / rho
        total += sense * np.sum(share * value)
        weight += float(np.sum(share))
    return complex(total) / weight
