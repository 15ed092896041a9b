"""Laws that every correct solution of Maxwell's equations obeys, whatever the antenna: they catch slips that no single number does.

The wavelength is 1 m throughout, so lengths are in wavelengths. None of the expected values come from this program's own output.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.typing import NDArray
from rewritten import FINE, backwards, expanded, mean_current, moved, run, scaled, z_of

from aerialwright.base.constants import c, eta0
from aerialwright.engine.far_field import powers, radiation
from aerialwright.engine.geometry import RING
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare
from aerialwright.solution.solve import solve
from aerialwright.structure.model import ApertureFeed, Mesh, Metal, Rod, RodFeed, Structure, Surface

#: Far beyond what the program uses for itself.
FINEST = MeshSettings(longest=0.1, end_fraction=0.12, ratio=2.0, order=6)
COPPER = Metal("copper", 58e6)

# ---------------------------------------------------------------- a sample of all kinds


def axis_dipole(radius: float = 0.005) -> Structure:
    return Structure(
        "axis dipole", (Rod("rod", ((0, 0, -0.24), (0, 0, 0.24)), radius),), (), RodFeed("rod", 0.24, 0.012)
    )


def rod_dipole(radius: float = 0.003) -> Structure:
    return Structure(
        "rod dipole", (Rod("rod", ((1, 0, -0.24), (1, 0, 0.24)), radius),), (), RodFeed("rod", 0.24, 0.012)
    )


def three_rods() -> Structure:
    """A driven rod between a longer and a shorter one, askew in space."""
    rods = (
        Rod("driven", ((0.4, 0.1, -0.2), (0.4, 0.2, 0.25)), 0.002),
        Rod("long", ((0.2, 0.1, -0.25), (0.2, 0.1, 0.25)), 0.003),
        Rod("short", ((0.6, 0.0, -0.2), (0.65, 0.1, 0.2)), 0.002),
    )
    return Structure("three rods", rods, (), RodFeed("driven", 0.22, 0.01))


def ground_plane(count: int = 4, droop: float = 35.0) -> Structure:
    a, b, hub = 0.001, 0.0023, 0.012
    t = math.radians(droop)

    tip = (hub + 0.25 * math.cos(t), 0, -0.25 * math.sin(t))
    surfaces = (Surface("flange", ((b, 0), (hub, 0))), Surface("shell", ((b, 0), (b, -0.012), (0, -0.012))))
    rods = (Rod("whip", ((0, 0, 0), (0, 0, 0.24)), a), Rod("radial", ((hub, 0, 0), tip), a, count))
    return Structure("ground plane", rods, surfaces, ApertureFeed((a, 0), (b, 0)))


def discone(wires: int = 12, spokes: int = 8) -> Structure:
    surfaces = (
        Surface("shell", ((0.002, 0), (0.002, -0.01), (0, -0.01))),
        Surface("neck", ((0.002, 0), (0.012, 0))),
        Surface("hub", ((0, 0.008), (0.001, 0.008), (0.012, 0.008))),
    )
    rods = (
        Rod("pin", ((0, 0, 0), (0, 0, 0.008)), 0.001),
        Rod("cone wire", ((0.012, 0, 0), (0.15, 0, -0.239)), 0.001, wires),
        Rod("spoke", ((0.012, 0, 0.008), (0.1, 0, 0.008)), 0.001, spokes),
    )
    return Structure("discone", rods, surfaces, ApertureFeed((0.001, 0), (0.002, 0)))


def disc_monopole(metal: Metal | None = None, mesh: Mesh | None = None) -> Structure:
    surfaces = (
        Surface("disc", ((0.0023, 0), (0.3, 0)), metal, 1e-3, mesh),
        Surface("shell", ((0.0023, 0), (0.0023, -0.01), (0, -0.01))),
    )
    return Structure(
        "disc", (Rod("whip", ((0, 0, 0), (0, 0, 0.24)), 0.001),), surfaces, ApertureFeed((0.001, 0), (0.0023, 0))
    )


def bicone() -> Structure:
    upper = Surface("upper", ((0, 0.005), (0.008, 0.005), (0.2, 0.3)))
    lower = Surface("lower", ((0, -0.005), (0.008, -0.005), (0.2, -0.3)))
    return Structure("bicone", (), (upper, lower), ApertureFeed((0.008, 0.005), (0.008, -0.005)))


def turnstile(radius: float = 1e-4, *, gap: float | None = None, droop: float = 0.0, arms: int = 4) -> Structure:
    t = math.radians(droop)
    arm = Rod("arm", ((0, 0, 0), (0.25 * math.cos(t), 0, -0.25 * math.sin(t))), radius, arms)
    return Structure("turnstile", (arm,), (), RodFeed("arm", 0, gap or 30 * radius), mode=1)


def sloping_monopole() -> Structure:
    """Fed between its foot and the ground it leans over."""
    rod = Rod("whip", ((0.1, 0, 0), (0.25, 0, 0.19)), 0.002)
    return Structure("sloping", (rod,), (), RodFeed("whip", 0, 0.008), "perfect")


def ground_monopole() -> Structure:
    rod = Rod("whip", ((0, 0, 0), (0, 0, 0.24)), 0.002)
    return Structure("over ground", (rod,), (), ApertureFeed((0.002, 0), (0.0046, 0)), "perfect")


def low_dipole() -> Structure:
    rod = Rod("rod", ((-0.24, 0, 0.1), (0.24, 0, 0.1)), 0.002)
    return Structure("low dipole", (rod,), (), RodFeed("rod", 0.24, 0.008), "perfect")


def cage() -> Structure:
    rod = Rod("wire", ((0.02, 0, -0.23), (0.02, 0, 0.23)), 0.001, 6)
    return Structure("cage", (rod,), (), RodFeed("wire", 0.23, 0.006))


def lossy(structure: Structure, metal: Metal) -> Structure:
    rods = tuple(dataclasses.replace(rod, metal=metal) for rod in structure.rods)
    surfaces = tuple(dataclasses.replace(surface, metal=metal) for surface in structure.surfaces)
    return dataclasses.replace(structure, rods=rods, surfaces=surfaces)


KINDS: dict[str, Structure] = {
    "axis dipole": axis_dipole(),
    "thick axis dipole": axis_dipole(0.02),
    "rod dipole": rod_dipole(),
    "three rods": three_rods(),
    "flat ground plane": ground_plane(4, 0),
    "drooping ground plane": ground_plane(3, 45),
    "wire discone": discone(),
    "disc monopole": disc_monopole(),
    "bicone": bicone(),
    "turnstile": turnstile(),
    "drooping turnstile": turnstile(2e-3, gap=0.01, droop=40),
    "three drooping arms": turnstile(2e-3, gap=0.01, droop=25, arms=3),
    "over ground": ground_monopole(),
    "sloping over ground": sloping_monopole(),
    "low dipole": low_dipole(),
    "cage": cage(),
    "poor metal": lossy(ground_plane(4, 30), Metal("poor", 2e4)),
    "poor rods": lossy(three_rods(), Metal("poor", 2e5)),
    "poor sheet": lossy(bicone(), Metal("poor", 1e3)),
    "mesh disc": disc_monopole(COPPER, Mesh(0.0127, 0.001)),
}


@pytest.mark.parametrize("kind", KINDS)
def test_power_balance(kind: str) -> None:
    """Radiated + lost = accepted within 0.1 %. The accepted power comes from the gap current, the radiated one from a sphere: two
    different integrals of the current; they agree only if kernel, feed and far field are of one theory."""
    system, solved, z = run(KINDS[kind])
    accepted, radiated, lost = powers(system, solved)
    print(
        kind,
        z,
        "balance",
        (radiated + lost) / accepted - 1,
        "efficiency",
        radiated / (radiated + lost),
        "unknowns",
        system.mesh.unknowns,
    )
    assert z.real > 0
    assert abs(radiated + lost - accepted) < 0.001 * accepted
    assert (lost > 0.002 * accepted) == kind.startswith("poor")


@pytest.mark.parametrize("kind", KINDS)
def test_matrix_is_symmetric(kind: str) -> None:
    """Reciprocity of the medium: Z_ab = Z_ba. The program computes one half and mirrors it; here both halves are computed, each with
    its own outer and inner rule, by assembling as for mode 1, which mirrors nothing. Without copies the phase of mode 1 is one;
    with copies only the turnstile, which is mode 1 in truth, can be asked: its straight arms have a mirror plane."""
    system, _, _ = run(KINDS[kind])
    if system.geometry.mode == 0 and system.geometry.order > 1:
        pytest.skip("copies: one half is the other's mirror image by the orbit's own symmetry")
    k = 2 * math.pi
    static = np.zeros((system.mesh.unknowns,) * 2, dtype=np.complex128)
    rest = np.zeros_like(static)
    system.geometry.mode, kept = 1, system.geometry.mode
    try:
        for part, out in ((0, static), (1, rest)):
            system._assemble(out, out, cv=k, cs=-1 / k, part=part, k=k)
    finally:
        system.geometry.mode = kept
    matrix = static + rest
    scale = np.sqrt(np.abs(np.outer(np.diag(matrix), np.diag(matrix))))
    worst = float(np.max(np.abs(matrix - matrix.T) / scale))
    print(kind, "asymmetry", worst)
    assert 0 < worst < 2e-3


def test_reciprocity_between_two_rods() -> None:
    """A volt in a gap of rod A drives the current in rod B that a volt in B drives in A. The rods differ in length, radius and place,
    and so do the two meshes; 0.3 % of the transfer allowed for them."""
    gap = 0.01
    rods = (Rod("a", ((0.3, 0, -0.2), (0.3, 0, 0.26)), 0.003), Rod("b", ((0.5, 0.1, -0.3), (0.5, 0.1, 0.1)), 0.0015))
    forward = Structure("forward", rods, (), RodFeed("a", 0.2, gap))
    backward = Structure("backward", rods, (), RodFeed("b", 0.25, gap))
    system, solved, _ = run(forward, FINE)
    there = mean_current(system, solved, rods[1], 0.25 - gap / 2, 0.25 + gap / 2)
    system, solved, _ = run(backward, FINE)
    back = mean_current(system, solved, rods[0], 0.2 - gap / 2, 0.2 + gap / 2)
    print("transfer admittance", there, back, abs(there / back - 1))
    assert abs(there - back) < 0.003 * abs(there)


def test_reciprocity_between_axis_and_ring_of_rods() -> None:
    """The same across kinds: a tube on the axis and three rods around it. The rods' orbit current is the total of the three,
    and each of their three gaps holds one volt."""
    gap = 0.01
    rods = (
        Rod("centre", ((0, 0, -0.24), (0, 0, 0.2)), 0.003),
        Rod("round", ((0.15, 0, -0.2), (0.15, 0, 0.25)), 0.002, 3),
    )
    system, solved, _ = run(Structure("centre fed", rods, (), RodFeed("centre", 0.24, gap)), FINE)
    there = mean_current(system, solved, rods[1], 0.2 - gap / 2, 0.2 + gap / 2)
    system, solved, _ = run(Structure("round fed", rods, (), RodFeed("round", 0.2, gap)), FINE)
    back = mean_current(system, solved, rods[0], 0.24 - gap / 2, 0.24 + gap / 2)
    print("transfer admittance", there, back, abs(there / back - 1))
    assert abs(there - back) < 0.003 * abs(there)


# ---------------------------------------------------------------- the same antenna written otherwise


@pytest.mark.parametrize(
    "kind", ["thick axis dipole", "three rods", "drooping ground plane", "turnstile", "low dipole", "poor metal"]
)
@pytest.mark.parametrize("factor", [0.31, 7.3])
def test_scaling(kind: str, factor: float) -> None:
    """All lengths times s, frequency and conductivity over s: the same impedance, but for rounding (3e-7 for rods askew, else 1e-8)."""
    z = z_of(KINDS[kind])
    other = run(scaled(KINDS[kind], factor), None, c / factor)[2]
    print(kind, factor, abs(other / z - 1))
    assert abs(other - z) < 2e-6 * abs(z)


@pytest.mark.parametrize("count, droop", [(2, 0), (3, 45), (4, 0), (6, 30)])
def test_order_n_is_n_separate_rods(count: int, droop: float) -> None:
    one = z_of(ground_plane(count, droop))
    for start in (0.0, 0.3):
        other = z_of(expanded(ground_plane(count, droop), start))
        print(count, droop, start, one, abs(other / one - 1))
        assert abs(other - one) < 1e-6 * abs(one)


def test_a_common_divisor_is_enough() -> None:
    """12 wires and 8 spokes share a group of 4 and 3 + 2 generators; written as 4 + 4 + 4 and 4 + 4 turned copies it is the same."""
    whole = discone(12, 8)
    rods = [whole.rods[0]]
    for rod, sets in ((whole.rods[1], 3), (whole.rods[2], 2)):
        for i in range(sets):
            t = 2 * math.pi * i / rod.copies
            points = tuple((x * math.cos(t), x * math.sin(t), z) for x, _, z in rod.points)
            rods.append(Rod(f"{rod.name} {i}", points, rod.radius, 4))
    one, other = z_of(whole), z_of(dataclasses.replace(whole, rods=tuple(rods)))
    print(one, abs(other / one - 1))
    assert abs(other - one) < 1e-6 * abs(one)


@pytest.mark.parametrize("radius", [1e-4, 1e-3, 5e-3, 0.01])
def test_tube_on_the_axis_is_the_rod_beside_it(radius: float) -> None:
    """A surface of revolution with flat ends against a rod of order 1 elsewhere in space. They share no kernel code for the closed ends:
    the rod's flat end is an open tube lengthened by part of its radius. 0.5 % on the program's finer mesh (measured 0.1 to 0.25 %),
    1.5 % on its plain one, where the rod's free ends are cut more coarsely."""
    gap = 0.0201
    on = Structure("on", (Rod("rod", ((0, 0, -0.24), (0, 0, 0.24)), radius),), (), RodFeed("rod", 0.24, gap))
    off = Structure("off", (Rod("rod", ((0.7, 0.2, -0.24), (0.7, 0.2, 0.24)), radius),), (), RodFeed("rod", 0.24, gap))
    for settings, tolerance in ((FINE, 0.005), (MeshSettings(), 0.015)):
        ring, rod = run(on, settings), run(off, settings)
        assert set(ring[0].mesh.kind) == {RING} and RING not in set(rod[0].mesh.kind)
        print(radius, ring[2], rod[2], abs(rod[2] / ring[2] - 1))
        assert abs(rod[2] - ring[2]) < tolerance * abs(ring[2])


@pytest.mark.parametrize("conductivity", [3e2, 2e4, 1e6])
def test_metal_costs_the_same_on_the_axis_and_beside_it(conductivity: float) -> None:
    """The tube's Bessel form with its wall to the axis is the rod's: part of the power lost equal to 0.5 %, from a skin of a tenth of the
    radius to one as deep as the rod."""
    lost = []
    for structure in (axis_dipole(0.002), rod_dipole(0.002)):
        system, solved, _ = run(lossy(structure, Metal("poor", conductivity)), FINE)
        accepted, _, heat = powers(system, solved)
        lost.append(heat / accepted)
    print(conductivity, lost)
    assert lost[0] > 1e-3
    assert lost[1] == pytest.approx(lost[0], rel=0.005)


@pytest.mark.parametrize("x", [0.0, 0.8])
def test_splitting_a_rod(x: float) -> None:
    """One rod, or the same metal as four rods end to end (a tube on the axis, a rod beside it): the joints add unknowns only. 0.3 %."""
    a, gap = 0.002, 0.008
    whole = Structure("whole", (Rod("fed", ((x, 0, -0.24), (x, 0, 0.24)), a),), (), RodFeed("fed", 0.24, gap))
    marks = (-0.24, -0.15, 0.06, 0.13, 0.24)
    names = ("low", "fed", "third", "top")
    rods = tuple(Rod(n, ((x, 0, p), (x, 0, q)), a) for n, p, q in zip(names, marks, marks[1:], strict=False))
    split = Structure("split", rods, (), RodFeed("fed", 0.15, gap))
    one, other = z_of(whole, FINE), z_of(split, FINE)
    print(x, one, other, abs(other / one - 1))
    assert abs(other - one) < 0.003 * abs(one)


@pytest.mark.parametrize(
    "kind", ["axis dipole", "rod dipole", "three rods", "drooping ground plane", "wire discone", "cage"]
)
def test_reversal_of_direction(kind: str) -> None:
    """Points of every rod and profile in reverse order: the fed rod's distance is measured from its other end, all else is the same."""
    one, other = z_of(KINDS[kind]), z_of(backwards(KINDS[kind]))
    print(kind, one, abs(other / one - 1))
    # Element lengths may differ in the middle of a line (cut from both ends by turns).
    assert abs(other - one) < 1e-3 * abs(one)


def test_rotation_and_translation() -> None:
    """Rods of order 1 know no axis: any rigid motion leaves impedance and peak directivity alone."""
    base = three_rods()
    one = z_of(base)
    rng = np.random.default_rng(5)
    for _ in range(3):
        q, _ = np.linalg.qr(rng.normal(size=(3, 3)))
        q *= np.sign(np.linalg.det(q))
        shift = rng.uniform(-2, 2, 3)
        other = z_of(moved(base, rotation=q, shift=shift))
        print(one, abs(other / one - 1))
        # Not to rounding: distances fall a little to this or that side of the limits between quadrature rules.
        assert abs(other - one) < 1e-5 * abs(one)


def test_translation_along_the_axis() -> None:
    base = discone()
    rods = tuple(dataclasses.replace(rod, points=tuple((x, y, z + 3.7) for x, y, z in rod.points)) for rod in base.rods)
    surfaces = tuple(dataclasses.replace(s, profile=tuple((x, z + 3.7) for x, z in s.profile)) for s in base.surfaces)
    moved = dataclasses.replace(base, rods=rods, surfaces=surfaces, feed=ApertureFeed((0.001, 3.7), (0.002, 3.7)))
    one, other = z_of(base), z_of(moved)
    assert abs(other - one) < 1e-7 * abs(one)


# ---------------------------------------------------------------- crossed dipoles in quadrature


@pytest.mark.parametrize("radius", [1e-5, 1e-4, 3e-4])
def test_crossed_dipoles_are_the_lone_dipole(radius: float) -> None:
    """Crossed dipoles do not couple: each has the impedance of one alone, but for the metal both share at the crossing (1 %)."""
    lone = Structure(
        "lone", (Rod("arm", ((-0.25, 0, 0), (0.25, 0, 0)), radius),), (), RodFeed("arm", 0.25, 30 * radius)
    )
    crossed, alone = z_of(turnstile(radius), FINE), z_of(lone, FINE)
    print(radius, crossed, alone, abs(crossed / alone - 1))
    assert abs(crossed - alone) < 0.01 * abs(alone)


@pytest.mark.parametrize("droop", [20, 45])
def test_drooping_crossed_dipoles_are_the_lone_bent_dipole(droop: float) -> None:
    """Two planes of symmetry keep crossed V dipoles apart. The lone one is written otherwise: one bent rod, order 1, its gap in a level
    piece between the bends, and that piece extrapolated away from two lengths; 1 % for the metal shared at the crossing."""
    radius, gap, t = 1e-4, 6e-4, math.radians(droop)

    def lone(level: float) -> complex:
        x, z = 0.5 * level + (0.25 - 0.5 * level) * math.cos(t), -(0.25 - 0.5 * level) * math.sin(t)
        bent = Rod("bent", ((-x, 0, z), (-0.5 * level, 0, 0), (0.5 * level, 0, 0), (x, 0, z)), radius)
        return z_of(Structure("lone", (bent,), (), RodFeed("bent", 0.25, gap)), FINE)

    crossed, alone = z_of(turnstile(radius, gap=gap, droop=droop), FINE), 2 * lone(2.4 * gap) - lone(4.8 * gap)
    print(droop, crossed, alone, abs(crossed / alone - 1))
    assert abs(crossed - alone) < 0.01 * abs(alone)


@pytest.mark.parametrize("droop", [0, 20, 45])
def test_crossed_dipoles_with_a_narrow_gap(droop: float) -> None:
    """A gap of four radii, as a builder has it, instead of thirty."""
    narrow, wide = turnstile(1e-3, gap=4e-3, droop=droop), turnstile(1e-3, gap=0.03, droop=droop)
    assert abs(z_of(narrow) / z_of(wide) - 1) < 0.025


def test_crossed_dipoles_radiate_circular_polarisation_upward() -> None:
    """Axial ratio 1 at the zenith and nadir, of opposite senses; on the horizon the field is linear and
    horizontal, nearly even all round (turnstile)."""
    system, solved, _ = run(turnstile())
    phi = np.linspace(0, 2 * math.pi, 8, endpoint=False)
    e_theta, e_phi = radiation(system, solved, theta=np.array([1e-6, math.pi / 2, math.pi - 1e-6]), phi=phi)
    ratio = e_phi / e_theta
    sense = ratio[0, 0] / 1j
    print("E_phi/E_theta at the zenith", ratio[0, 0], "nadir", ratio[2, 0])
    assert np.allclose(ratio[0], sense * 1j, atol=1e-6) and abs(abs(sense) - 1) < 1e-6
    # Turned about, theta points the other way: the same sense of rotation in space is the other handedness to the observer.
    assert np.allclose(ratio[2], -ratio[0], atol=1e-6)
    assert np.max(np.abs(e_theta[1])) < 1e-9 * np.max(np.abs(e_phi[0]))
    level = np.abs(e_phi[1])
    # Half-wave arms in quadrature: 1 along an arm (the other dipole broadside),
    # sqrt 2 cos(pi/2 cos 45)/sin 45 between: 1.03 dB [@balanis-2016].
    ripple = -20 * math.log10(math.sqrt(2) * math.cos(math.pi / 2 * math.sqrt(0.5)) / math.sqrt(0.5))
    assert 20 * math.log10(level.max() / level.min()) == pytest.approx(ripple, abs=0.1)


# ---------------------------------------------------------------- refinement


@pytest.mark.parametrize("kind", ["axis dipole", "three rods", "flat ground plane", "disc monopole", "turnstile"])
def test_error_falls_under_refinement(kind: str) -> None:
    """A ladder of meshes against one far finer: the two steps together must gain a factor of four, down to 0.05 %."""
    reference = z_of(KINDS[kind], FINEST)
    ladder = (
        MeshSettings(longest=0.3, end_fraction=1.2, ratio=4.0, order=2),
        MeshSettings(),
        FINE,
    )
    error = [abs(z_of(KINDS[kind], settings) / reference - 1) for settings in ladder]
    print(kind, reference, "errors", error)
    assert error[2] < max(error[0] / 4, 5e-4)
    assert error[1] < 0.025  # three rods: 1.8 %, rods of order 1 are the slowest
    assert error[2] < 0.006


def test_higher_order_gains_exponentially() -> None:
    """Raising the polynomial order on one mesh: the error of a smooth part of the current falls by a factor each time, until the graded
    ends, which do not change, are left."""
    base = MeshSettings(longest=0.5, end_fraction=0.4, ratio=3.0, order=1)
    reference = z_of(axis_dipole(), dataclasses.replace(base, order=6))
    error = [abs(z_of(axis_dipole(), dataclasses.replace(base, order=p)) / reference - 1) for p in (1, 2, 3, 4)]
    print("orders 1 to 4:", error)
    assert np.all(np.diff(error) < 0)
    assert error[2] < error[0] / 20


@pytest.mark.parametrize(
    "kind",
    [
        "thick axis dipole",
        "rod dipole",
        "three rods",
        "flat ground plane",
        "drooping ground plane",
        "disc monopole",
        "bicone",
    ],
)
def test_error_band_holds_the_finer_answer(kind: str) -> None:
    """What the program promises beside every curve, against a solve much finer than the one it made to find the band."""
    frequency = np.array([0.93, 1.0, 1.06]) * c
    solution = solve(KINDS[kind], frequency)
    system = prepare(KINDS[kind], top_frequency=frequency[-1], settings=FINEST)
    z = np.array([system.port_factor / system.solve(f).admittance for f in frequency])
    distance = np.abs(solution.sweep.impedance - z)
    print(kind, "distance", distance, "band", solution.sweep.impedance_error)
    assert np.all(distance <= solution.sweep.impedance_error)
    assert np.all(solution.sweep.impedance_error < 0.05 * np.abs(z))  # a band that holds everything would be no band


def test_sweep_fit_meets_direct_solves() -> None:
    """The rational fit over a resonance against a solve at every one of the frequencies between its own."""
    frequency = np.linspace(0.7, 1.3, 61) * c
    solution = solve(ground_plane(4, 35), frequency, check=False)
    direct: NDArray[np.complex128] = np.array([1 / solution.raw.system.solve(f).admittance for f in frequency[::6]])
    worst = np.max(np.abs(solution.sweep.impedance[::6] / direct - 1))
    print("solves", solution.sweep.check.solves, "worst", worst)
    assert solution.sweep.check.solves < 20
    assert worst < 2e-3
    assert np.all(np.isinf(solution.sweep.impedance_error))  # unchecked is said, not hidden


def test_directivity_integrates_to_one() -> None:
    """The mean of directivity over the sphere is 1 on an independent grid: patterns and radiated power are of one scale."""
    system, solved, _ = run(three_rods())
    x, w = np.polynomial.legendre.leggauss(30)
    phi = np.linspace(0, 2 * math.pi, 60, endpoint=False)
    e_theta, e_phi = radiation(system, solved, theta=np.arccos(x), phi=phi)
    _, radiated, _ = powers(system, solved)
    density = (np.abs(e_theta) ** 2 + np.abs(e_phi) ** 2) / (2 * eta0)
    mean = float(np.sum(density.mean(axis=1) * w)) * 2 * math.pi / radiated
    assert mean == pytest.approx(1.0, abs=1e-5)
