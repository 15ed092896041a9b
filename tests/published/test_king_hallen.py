"""The cylindrical dipole of finite radius against Hallén's integral equation, evaluated here without the engine.

Printed tables could not be opened, so no remembered digits stand here: the published theories are evaluated by this file.

* The second-order theory: R. W. P. King and D. Middleton, The cylindrical antenna: current and impedance, Quart. Appl.
  Math. 3, 302 (1946), after E. Hallén, Nova Acta Uppsala 11 (1938). Iteration of Hallén's equation with the thin-wire
  kernel, expansion parameter Psi. Basis: derived (formula from memory, evaluated here).
* Hallén's equation itself for an open tube with the exact ring kernel and a gap of finite width, solved by collocation with
  Chebyshev sines, less the evanescent field inside the tube (J0 modes), which closed metal at the gap does not have.
  Basis: derived. It shares no line with the engine: other equation (potential, not Galerkin), other basis, SciPy's K(m).
* Rows D10 to D14 of a separate numerical solution made for these checks: computed elsewhere, not published. A second opinion.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.special import ellipkm1, j0, j1, jn_zeros

from aerialwright.base.constants import c, eps0, eta0
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import EngineSettings, prepare
from aerialwright.structure.model import ApertureFeed, Rod, RodFeed, Structure, Surface

FINE: MeshSettings = EngineSettings().fine
K = 2 * math.pi  # wavenumber for a wavelength of one metre: lengths below are in wavelengths
FREQUENCY = c


def dipole(length: float, radius: float, *, gap: float) -> Structure:
    """A solid rod with flat ends, fed in a gap at its middle."""
    return Structure(
        "dipole", (Rod("rod", ((0, 0, -length / 2), (0, 0, length / 2)), radius),), (), RodFeed("rod", length / 2, gap)
    )


def open_tube(length: float, radius: float, *, gap: float) -> Structure:
    """The same as a thin tube open at its ends, as Hallén's equation has it; the gap is still closed by metal."""
    upper = Surface("upper", ((radius, gap / 2), (radius, length / 2)))
    lower = Surface("lower", ((radius, -length / 2), (radius, -gap / 2)))
    return Structure("tube", (), (upper, lower), ApertureFeed((radius, gap / 2), (radius, -gap / 2)))


def impedance(structure: Structure, *, settings: MeshSettings = FINE) -> complex:
    system = prepare(structure, top_frequency=FREQUENCY, settings=settings)
    return system.port_factor / system.solve(FREQUENCY).admittance


# ---------------------------------------------------------------- Hallén by collocation


def ring_kernel(distance: np.ndarray, radius: float) -> np.ndarray:
    """Mean over a turn of exp(-jkR)/R on a tube, R^2 = z^2 + 4 a^2 sin^2(phi/2)."""
    s2 = distance**2 + 4 * radius**2
    static = 2 / math.pi * ellipkm1(np.maximum(distance**2 / s2, 1e-300)) / np.sqrt(s2)
    x, w = np.polynomial.legendre.leggauss(20)
    half = math.pi / 4 * (x + 1)  # phi/2 over 0..pi/2
    r = np.sqrt(distance[..., None] ** 2 + (2 * radius * np.sin(half)) ** 2)
    rest = np.where(r > 1e-9, (np.exp(-1j * K * r) - 1) / np.maximum(r, 1e-9), -1j * K)
    return static + rest @ (w / 2)


def drive(z: np.ndarray, gap: float) -> np.ndarray:
    """int e(z') sin(k|z - z'|) dz' for one volt spread evenly over the gap."""
    x, w = np.polynomial.legendre.leggauss(24)
    low, high = -gap / 2, gap / 2
    middle = np.clip(z, low, high)[:, None]
    total = np.zeros(len(z))
    for a, b in ((low, middle), (middle, high)):
        at = 0.5 * (a + b) + 0.5 * (b - a) * x
        total += np.sum(0.5 * (b - a) * w * np.sin(K * np.abs(z[:, None] - at)), axis=1) / gap
    return total


@lru_cache
def hallen_admittance(length: float, radius: float, gap: float, terms: int) -> complex:
    """Mean total current over the gap for one volt, without the field inside the tube [S]."""
    h = length / 2
    theta = (np.arange(2 * terms) + 0.5) * math.pi / 2 / (2 * terms)
    z = h * np.cos(theta)
    odd = 2 * np.arange(terms) + 1
    x, w = np.polynomial.legendre.leggauss(14)
    u, wu = (0.5 * (x + 1)) ** 4, 0.5 * w * 4 * (0.5 * (x + 1)) ** 3
    # Integrals of sin((2m+1) t') K(z - z') h sin t' dt' over 0..pi, in panels graded to the singular point.
    matrix = np.zeros((len(z), terms), dtype=complex)
    panels = max(10, terms // 2)
    for row, t0 in enumerate(theta):
        nodes, weights = [], []
        for a, b in ((t0, 0.0), (t0, math.pi)):
            edges = np.concatenate([[0.0], np.geomspace(1e-4, 1.0, 6)]) * min(
                abs(b - a), 3 * radius / h / max(math.sin(t0), 0.05)
            )
            edges = (
                np.concatenate([edges, np.linspace(edges[-1], abs(b - a), panels + 1)[1:]])
                if edges[-1] < abs(b - a)
                else edges
            )
            for e0, e1 in pairwise(edges):
                graded = e0 == 0.0
                at, wt = (u, wu) if graded else (0.5 * (x + 1), 0.5 * w)
                nodes.append(t0 + math.copysign(1.0, b - a) * (e0 + (e1 - e0) * at))
                weights.append((e1 - e0) * wt)
        t, wt = np.concatenate(nodes), np.concatenate(weights)
        # z - z' without cancellation.
        distance = np.abs(2 * h * np.sin((t0 + t) / 2) * np.sin((t - t0) / 2))
        kernel = ring_kernel(distance, radius) * h * np.sin(t) * wt
        matrix[row] = kernel @ np.sin(np.outer(t, odd))
    # At the gap's edges the current has a kink like x log x, twice that of the inside current alone (both faces see the
    # same field): known, so taken out of the Chebyshev sines and put into a column of its own.
    extra = np.array([_kink_potential(at, h, radius, gap, u, wu) for at in z])
    # int I K dz' = C cos kz - (j 2 pi / eta) int e sin k|z-z'| dz'
    system = np.column_stack([matrix, -np.cos(K * z)])
    right = -2j * math.pi / eta0 * drive(z, gap) - 2 * extra
    solution = np.linalg.lstsq(system, right, rcond=None)[0][:terms]
    at = gap / 2 * x
    current = np.sin(np.outer(np.arccos(at / h), odd)) @ solution + 2 * inside_current(at, radius, gap)
    total = complex(np.sum(0.5 * w * current))
    return total - inner_admittance(radius, gap)


@lru_cache
def _mode_sum(radius: float) -> tuple[float, PchipInterpolator]:
    """S(x) = sum over J0 modes of exp(-gamma x)/gamma^2: S(0) in closed form, and S against log x."""
    j0n = jn_zeros(0, 400)
    j0n = np.concatenate([j0n, (np.arange(401, 30001) - 0.25) * math.pi])  # McMahon: exact to 1e-6 there
    gamma = np.sqrt((j0n / radius) ** 2 - K**2)
    x = np.geomspace(1e-5, 12, 240) * radius
    table = np.array([np.sum(np.exp(-gamma * at) / gamma**2) for at in x])
    return radius * j1(K * radius) / (2 * K * j0(K * radius)), PchipInterpolator(np.log(x / radius), table)


def _sum_at(x: np.ndarray, radius: float) -> np.ndarray:
    zero, table = _mode_sum(radius)
    t = np.clip(x / radius, 1e-5, 12)
    return np.where(x < 1e-5 * radius, zero, np.where(x > 12 * radius, 0.0, table(np.log(t))))


def inside_current(z: np.ndarray, radius: float, gap: float) -> np.ndarray:
    """Current (n,) [A] on the inner face of an open tube at heights z, for one volt spread evenly over the gap.

    j 2 pi omega eps sum (1/gamma) int e exp(-gamma |z - z'|) dz' over the zeros of J0: the cut-off modes of a round guide.
    """
    zero, _ = _mode_sum(radius)
    near, far = _sum_at(np.abs(np.abs(z) - gap / 2), radius), _sum_at(np.abs(z) + gap / 2, radius)
    total = np.where(np.abs(z) < gap / 2, 2 * zero - near - far, near - far)
    return 2j * math.pi * (K * c) * eps0 * total / gap


def _kink_potential(z: float, h: float, radius: float, gap: float, u: np.ndarray, wu: np.ndarray) -> complex:
    """int I_inside(z') K(z - z') dz' with panels graded to the gap's edges and to z."""
    marks = sorted(
        {-h, h, -gap / 2, gap / 2, z, *(s * min(h, gap / 2 + f * radius) for s in (-1, 1) for f in (0.5, 2, 5))}
    )
    total = 0j
    for low, high in pairwise(marks):
        half = 0.5 * (high - low)
        if half < 1e-12:
            continue
        for at in (low + half * u, high - half * u):
            total += np.sum(half * wu * inside_current(at, radius, gap) * ring_kernel(np.abs(z - at), radius))
    return complex(total)


def inner_admittance(radius: float, gap: float) -> complex:
    """Mean of the inside current over the gap for one volt [S]."""
    x, w = np.polynomial.legendre.leggauss(40)
    return complex(np.sum(0.5 * w * inside_current(gap / 2 * x, radius, gap)))


# ---------------------------------------------------------------- King and Middleton, by iteration


def second_order(length: float, radius: float, *, order: int = 2) -> complex:
    """Impedance of the delta-fed dipole after ``order`` iterations of Hallén's equation (thin-wire kernel) [ohm].

    With T f = Psi f - int f K and f_(n+1)(z) = T f_n(z) - T f_n(h), F_0 = cos kz - cos kh, G_0 = sin k|z| - sin kh:
    I = -(j 2 pi / eta Psi) V [sum G_n/Psi^n + 2 C sum F_n/Psi^n], where C makes the potential right at z = h.
    """
    h = length / 2
    x, w = np.polynomial.legendre.leggauss(8)
    edges = h * np.concatenate([np.linspace(0, 0.9, 46), 1 - 0.1 * np.linspace(1, 0, 21)[1:] ** 2])
    z = np.concatenate([[0.0], *(a + (b - a) * 0.5 * (x + 1) for a, b in pairwise(edges)), [h]])
    wz = np.concatenate([[0.0], *((b - a) * 0.5 * w for a, b in pairwise(edges)), [0.0]])

    def kernel(d: np.ndarray) -> np.ndarray:
        r = np.sqrt(d**2 + radius**2)
        return np.exp(-1j * K * r) / r

    both = kernel(z[:, None] - z) + kernel(z[:, None] + z)
    # int K dz' with its static part in closed form; f(z') - f(z) is smooth enough for the plain rule.
    static = np.arcsinh((h - z) / radius) + np.arcsinh((h + z) / radius)
    rest = 0.0
    for d in (z[:, None] - z, z[:, None] + z):
        r = np.sqrt(d**2 + radius**2)
        rest = rest + ((np.exp(-1j * K * r) - 1) / r) @ wz
    whole = static + rest

    def potential(f: np.ndarray) -> np.ndarray:
        return ((f[None, :] - f[:, None]) * both) @ wz + f * whole

    shape = np.sin(K * (h - z))
    psi = abs(potential(shape)[0] / shape[0])  # King's choice for kh up to pi/2
    f, g = np.cos(K * z) - np.cos(K * h) + 0j, np.sin(K * z) - np.sin(K * h) + 0j
    cosine, sine = np.cos(K * h) + 0j, np.sin(K * h) + 0j
    top_f, top_g = f[0], g[0]
    for n in range(1, order + 1):
        pf, pg = potential(f), potential(g)
        cosine -= pf[-1] / psi**n
        sine -= pg[-1] / psi**n
        f, g = psi * f - pf, psi * g - pg
        f, g = f - f[-1], g - g[-1]
        top_f, top_g = top_f + f[0] / psi**n, top_g + g[0] / psi**n
    current = -2j * math.pi / (eta0 * psi) * (top_g - sine / cosine * top_f)
    return complex(1 / current)


# ---------------------------------------------------------------- the engine against them


@pytest.mark.parametrize("length", [0.40, 0.47, 0.50])
def test_second_order_theory(length: float) -> None:
    """The engine lies where the iteration is heading: each order is nearer, and what the second leaves falls like Omega^-3.

    Measured |Z2 - Z| at 0.5 wavelengths: 12.8, 7.6, 4.5, 1.9 ohm for Omega = 2 ln(length/radius) = 10, 12.5, 15, 20; the printed
    second-order tables are known to lie that far from measurements at Omega = 10. King's Psi serves up to a half wave.
    """
    left = []
    for omega in (10.0, 12.5, 15.0, 20.0):
        radius = length / math.exp(omega / 2)
        z = impedance(dipole(length, radius, gap=2 * radius))
        orders = [second_order(length, radius, order=n) for n in (1, 2, 4)]
        print(length, omega, "engine", np.round(z, 2), "orders 1, 2, 4:", np.round(orders, 2))
        distance = np.abs(np.array(orders) - z)
        assert np.all(np.diff(distance) < 0)
        left.append(distance[1])
        assert distance[1] < 18000 / omega**3
        assert distance[2] < 8000 / omega**3
    assert np.all(np.diff(left) < 0)


@pytest.mark.parametrize(
    "length, radius, gap",
    [
        (0.5, 0.5 / math.exp(5), 0.01348),
        (0.47, 0.005, 0.01),
        (0.25, 0.001, 0.002),
        (0.736, 0.736 / math.exp(5), 0.00496),
    ],
)
def test_hallen_equation_with_the_exact_kernel(length: float, radius: float, gap: float) -> None:
    """Open tube against open tube, equal gaps. Measured 0.16, 0.20, 0.08 and 0.93 % of |Y|; the collocation itself still moves by
    up to 0.8 % from 80 to 120 terms at 0.736 wavelengths (0.2 % with 120 there): 1.2 % allowed. A solid rod with flat ends is a
    little longer electrically than the tube: below 5 %."""
    y = hallen_admittance(length, radius, gap, 120 if length == 0.25 else 80)
    tube = 1 / impedance(open_tube(length, radius, gap=gap))
    rod = 1 / impedance(dipole(length, radius, gap=gap))
    print(length, radius, "Hallén", 1 / y, "tube", 1 / tube, "rod", 1 / rod, "relative", abs(tube / y - 1))
    assert abs(tube - y) < 0.012 * abs(y)
    assert abs(rod - y) < 0.05 * abs(y)


def test_capacitance_inside_an_open_tube() -> None:
    """Why a delta gap on an open tube is no reference: its inside alone adds this much, and without bound as the gap closes."""
    radius = 0.005
    inside = [inner_admittance(radius, g * radius).imag for g in (2.0, 1.0, 0.5, 0.01)]
    print("inside of the tube [mS]", [round(1e3 * b, 3) for b in inside])
    assert np.all(np.diff(inside) > 0)
    # Independent of the mode sum: -2 pi a H_phi of a uniform field over a long gap is that of a filled capacitor, j omega eps pi a^2/g.
    long = inner_admittance(radius, 200 * radius)
    assert long.imag == pytest.approx(K * c * eps0 * math.pi * radius**2 / (200 * radius), rel=0.01)


SECOND_OPINION = [
    # length, radius, Z, tolerance of R (relative), tolerance of X [ohm]; computed elsewhere, not published: delta gap on an open tube
    (0.5, 0.5 / math.exp(5), 95.5 + 44.0j, 0.04, 4.0),
    (0.5, 0.5 / math.exp(6.25), 86.0 + 46.2j, 0.04, 4.0),
    (0.5, 0.5 / math.exp(7.5), 82.1 + 45.6j, 0.04, 4.0),
    (0.47, 0.005, 76.5 + 4.7j, 0.04, 4.0),
    (0.25, 0.001, 11.9 - 422.0j, 0.08, 17.0),
]


@pytest.mark.parametrize("length, radius, expected, rel_r, abs_x", SECOND_OPINION)
def test_second_opinion(length: float, radius: float, expected: complex, rel_r: float, abs_x: float) -> None:
    """The rows were made with a delta gap on an open tube: as open a tube, as short a gap (half a radius), and the inside put back in."""
    gap = 0.5 * radius
    y = 1 / impedance(open_tube(length, radius, gap=gap)) + inner_admittance(radius, gap)
    print(length, radius, "engine", 1 / y, "expected", expected)
    assert (1 / y).real == pytest.approx(expected.real, rel=rel_r)
    assert (1 / y).imag == pytest.approx(expected.imag, abs=abs_x)


def antiresonance(omega: float, near: float) -> tuple[float, float]:
    """Length [wavelengths] of the first antiresonance about ``near``, and the resistance there [ohm]."""
    lengths = np.linspace(near - 0.05, near + 0.05, 11)
    z = []
    for at in lengths:
        radius = at / math.exp(omega / 2)
        y = 1 / impedance(open_tube(at, radius, gap=radius), settings=MeshSettings()) + inner_admittance(radius, radius)
        z.append(1 / y)
    crossing = float(np.interp(0.0, -np.array(z).imag, lengths))
    return crossing, float(np.interp(crossing, lengths, np.array(z).real))


@pytest.mark.parametrize("omega, length, peak", [(10.0, 0.736, 720.0), (12.5, 0.841, 1470.0), (15.0, 0.893, 2420.0)])
def test_first_antiresonance(omega: float, length: float, peak: float) -> None:
    """Computed elsewhere, not published; strongly gap dependent: length +-0.03 wavelengths, R +-12 % as stated there."""
    crossing, r = antiresonance(omega, length)
    print(omega, "antiresonance at", crossing, "R", r)
    assert crossing == pytest.approx(length, abs=0.03)
    assert r == pytest.approx(peak, rel=0.12)


#: L/2a: resonant length in wavelengths, Stutzman and Thiele's table [@stutzman-thiele], from memory. The row for 10 (0.455) is left out:
#: so fat a tube has no X = 0 there.
SHORTENED = {5000: 0.49, 50: 0.475}


def resonant_length(ratio: float) -> float:
    """Where the reactance of an open tube of length over diameter ``ratio``, its inside put back in, crosses zero, in wavelengths."""

    def reactance(length: float) -> float:
        radius = length / (2 * ratio)
        y = 1 / impedance(open_tube(length, radius, gap=0.5 * radius), settings=MeshSettings())
        return (1 / (y + inner_admittance(radius, 0.5 * radius))).imag

    return brentq(reactance, 0.44, 0.495, xtol=1e-5)


@pytest.mark.parametrize("ratio", SHORTENED)
def test_thick_dipoles_are_cut_short(ratio: float) -> None:
    """2 and 5 % shortening, +-0.010 of a wavelength and half a per cent of rounding. Found 0.4849 and 0.4649; the table is from memory, of
    thin-wire tubes in a gap of no width. A solid rod with closed ends and a gap of a diameter, as it is built, comes out 0.003
    shorter still at the ratio of 50."""
    found = resonant_length(ratio)
    print(ratio, found, SHORTENED[ratio])
    assert found == pytest.approx(SHORTENED[ratio], abs=0.0125)
