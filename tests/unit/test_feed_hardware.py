"""Feed hardware: what the socket's parts do to an antenna, connector pairs as short lines, plated metal."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import skrf
from scipy.integrate import solve_ivp
from small_needs import CLOTH, MHZ, RODS, design_for, need_for

from aerialwright.antennas.family import Conductor, as_metal, flange_radius
from aerialwright.antennas.socket import body, feed, parts, rod_radius_in_aperture, upright
from aerialwright.base.constants import mu0
from aerialwright.base.errors import DesignError
from aerialwright.design.evaluate import evaluate
from aerialwright.lines.coax import coaxial_impedance
from aerialwright.lines.line import line_from_need
from aerialwright.lines.section import Section, added_swr, behind, delivered_through
from aerialwright.need.model import FeedLine, StockItem
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.solution.solve import solve
from aerialwright.stock.cables import Cable, cables
from aerialwright.stock.connectors import Connector, coax_end, connector, connectors
from aerialwright.stock.metals import StockMetal, metal, metals, surface_conductivity
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

# ---- the socket as metal


def plane(
    socket: Connector, centre: float, *, pin: bool = True, edge: float = 0.0, radius: float = 1.6e-3
) -> ComplexArray:
    """Impedance (5,) over 6 % about ``centre`` of a rod on four radials; ``edge`` is the thickness drawn of the flange."""
    quarter = 0.25 * 299792458.0 / centre
    rod = Conductor("rod", "brass", as_metal("brass"), 2 * radius)
    out, down = math.cos(math.radians(45.0)), math.sin(math.radians(45.0))
    hub = flange_radius(socket)
    radials = Rod("radial", ((hub, 0.0, 0.0), (hub + quarter * out, 0.0, -quarter * down)), radius, 4, rod.metal)
    if pin:
        rods, source = upright(socket, rod, length=0.95 * quarter, name="rod"), feed(socket, radius=radius)
    else:
        rods = (Rod("rod", ((0.0, 0.0, 0.0), (0.0, 0.0, 0.95 * quarter)), radius, 1, rod.metal),)
        source = ApertureFeed((radius, 0.0), (0.5 * socket.aperture_diameter, 0.0))
    surfaces = body(socket, rod.metal, plate_radius=hub)
    if edge:
        b, shell, low = 0.5 * socket.aperture_diameter, 0.5 * socket.shell_diameter, -edge - socket.body_length
        surfaces = (
            Surface("flange", ((b, 0.0), (hub, 0.0), (hub, -edge), (shell, -edge)), rod.metal, 2e-3),
            Surface("socket body", ((shell, -edge), (shell, low), (0.0, low)), rod.metal, 2e-3),
        )
    structure = Structure("plane", (*rods, radials), surfaces, source)
    return solve(structure, np.linspace(0.97 * centre, 1.03 * centre, 5), check=False).sweep.impedance


def change(now: ComplexArray, before: ComplexArray) -> float:
    return float(np.max(np.abs(now - before) / np.abs(before)))


@pytest.mark.parametrize(("megahertz", "pin", "edge"), [(150.0, 0.008, 0.0005), (450.0, 0.025, 0.0014)])
def test_the_pin_counts_and_the_edge_of_the_flange_does_not(megahertz: float, pin: float, edge: float) -> None:
    """The numbers by which the docstring of antennas/socket.py keeps one and leaves the other out (limit 0.2 %)."""
    socket = connector("UHF")
    plain = plane(socket, megahertz * MHZ, pin=False)
    with_pin = change(plane(socket, megahertz * MHZ), plain)
    with_edge = change(plane(socket, megahertz * MHZ, pin=False, edge=3e-3), plain)
    assert with_pin == pytest.approx(pin, rel=0.15) and with_pin > 0.002
    assert with_edge == pytest.approx(edge, abs=0.0003) and with_edge < 0.002


@pytest.mark.parametrize("row", connectors(), ids=lambda row: row.key)
def test_every_socket_carries_a_ground_plane(row: Connector) -> None:
    """Pin as thick and as long as the row says, rod from there to its length, closed metal, power balance 0.5 %."""
    need = need_for(
        (144, 146), connectors=(row.key,), stock=(StockItem("rod", "brass", "rods", 9, diameter=1.6e-3, length=1.0),)
    )
    design = design_for("ground-plane", need)
    structure = design.structure()
    up = [rod for rod in structure.rods if rod.name in ("pin", "rod")]
    assert up[-1].points[-1][2] == design.values["rod_length"]
    assert isinstance(structure.feed, ApertureFeed)
    assert structure.feed.positive[0] == up[0].radius == rod_radius_in_aperture(design.plan.socket, 0.8e-3)
    if len(up) == 2:
        assert up[0].points[1] == up[1].points[0] == (0.0, 0.0, row.pin_length)
        assert 2 * up[0].radius == pytest.approx(design.plan.socket.pin_diameter)
    sweep = solve(structure, np.array([145e6])).sweep
    assert sweep.check.power_balance < 5e-3
    assert 30.0 < sweep.impedance[0].real < 90.0
    assert parts(row)[0].name in [p.name for p in design.family.pieces(design.plan, design.values)]


def test_a_rod_shorter_than_its_pin_is_refused() -> None:
    rod = Conductor("rod", "brass", as_metal("brass"), 3.2e-3)
    with pytest.raises(DesignError, match="cup"):
        upright(connector("UHF"), rod, length=9.5e-3, name="rod")


@pytest.mark.parametrize("row", cables(), ids=lambda row: row.key)
def test_a_bare_end_has_the_impedance_of_its_cable(row: Cable) -> None:
    """Diameters from memory against impedance and velocity from the makers: 60 v ln(D / d) within 10 % (strands count less)."""
    end = coax_end(row)
    z0 = coaxial_impedance(
        inner_diameter=end.pin_diameter,
        outer_diameter=end.aperture_diameter,
        permittivity=1 / row.velocity_factor**2,
    )
    assert z0 == pytest.approx(row.impedance, rel=0.10)
    assert end.bare and not end.sections
    assert end.pin_diameter < end.aperture_diameter < end.shell_diameter < end.flange_side


def test_the_bare_end_is_that_of_the_line_in_use() -> None:
    need = dataclasses.replace(need_for((144, 146), connectors=("coax end",)), feed_lines=(FeedLine("RG-213", 10.0),))
    design = design_for("ground-plane", need)
    assert design.plan.socket.aperture_diameter == pytest.approx(7.25e-3)
    source = design.structure().feed
    assert isinstance(source, ApertureFeed)
    assert (source.positive[0], source.negative[0]) == pytest.approx((1.125e-3, 3.625e-3))


# ---- connector pairs as lines


def two_port(section: Section, frequency: FloatArray, reference: float) -> skrf.Network:
    """The section as a two-port of scikit-rf, ports on ``reference``."""
    media = skrf.media.DefinedGammaZ0(
        skrf.Frequency.from_f(frequency, unit="hz"),
        gamma=2j * np.pi * frequency / 299792458.0,
        z0=section.impedance,
        z0_port=reference,
    )
    return media.line(section.length, "m")


@pytest.mark.parametrize(
    ("megahertz", "low", "high", "last"),
    [(50, 1.03, 1.04, 0.01), (146, 1.08, 1.13, 0.01), (162, 1.09, 1.15, 0.01), (300, 1.17, 1.29, 0.01), (460, 1.26, 1.46, 0.01),
     (868, 1.5, 1.9, 0.1), (1090, 1.6, 2.1, 0.1)],
)  # fmt: skip
def test_swr_added_by_a_uhf_pair(megahertz: float, low: float, high: float, last: float) -> None:
    """The two pairs of [@uhf-pair] on 50 ohm: the better and the worse, against scikit-rf and a hand-worked table."""
    at = np.array([megahertz * MHZ])
    sections = [Section(*pair) for pair in connector("UHF").sections]
    assert [(s.impedance, round(s.length, 6)) for s in sections] == [(33.2, 0.049), (36.2, 0.038)]
    found = [float(added_swr(s, reference=50.0, frequency=at)[0]) for s in sections]
    assert found == pytest.approx([float(two_port(s, at, 50.0).s_vswr[0, 0, 0]) for s in sections], rel=1e-9)
    assert min(found) == pytest.approx(low, abs=last) and max(found) == pytest.approx(high, abs=last)


def test_sections_and_line_are_a_cascade() -> None:
    """Impedance and transducer gain through two sections and a lossy coax, against scikit-rf."""
    at = np.linspace(100e6, 1000e6, 7)
    z = np.array([72 + 40j, 36 - 20j, 50, 20 + 5j, 200 - 150j, 50 + 100j, 61 + 1j])
    sections = (Section(33.2, 0.049), Section(75.0, 0.026))
    line = line_from_need(FeedLine("RG-58", 12.0))
    chain = two_port(sections[0], at, 50.0) ** two_port(sections[1], at, 50.0)
    load = skrf.Network(frequency=chain.frequency, s=((z - 50) / (z + 50)).reshape(-1, 1, 1), z0=50.0)
    seen = behind(sections, load=z, frequency=at)
    assert (seen - 50) / (seen + 50) == pytest.approx((chain.flipped() ** load).s[:, 0, 0], abs=1e-9)
    coax = skrf.media.DefinedGammaZ0(chain.frequency, gamma=np.asarray(line.propagation(at)), z0=50.0).line(12.0, "m")
    whole = chain**coax
    whole.renormalize(np.stack([z, np.full(7, 75.0 + 0j)], axis=1), s_def="power")
    gain = delivered_through(sections, antenna_impedance=z, line=line, receiver_impedance=75.0, frequency=at)
    assert gain == pytest.approx(np.abs(whole.s[:, 1, 0]) ** 2, rel=1e-7)


def test_an_evaluation_counts_its_pair_behind_the_aperture() -> None:
    """UHF at 435 MHz: SWR at the antenna is that of the aperture, the plane behind differs, gain and receiver end have it."""
    need = need_for((430, 440), connectors=("UHF",))
    design = design_for("ground-plane", need)
    with_pair = evaluate(design, need, need.must_bands, sensitivities=False)
    socket = dataclasses.replace(design.plan.socket, sections=())
    ideal = dataclasses.replace(design, plan=dataclasses.replace(design.plan, socket=socket))
    without = evaluate(ideal, need, need.must_bands, sensitivities=False)
    assert with_pair.swr == pytest.approx(without.swr, rel=1e-9)
    assert without.connector is None and with_pair.connector is not None
    z = with_pair.sweep.impedance
    chain = two_port(Section(33.2, 0.049), with_pair.frequency, 50.0)
    load = skrf.Network(frequency=chain.frequency, s=((z - 50) / (z + 50)).reshape(-1, 1, 1), z0=50.0)
    assert with_pair.connector.swr == pytest.approx((chain**load).s_vswr[:, 0, 0], rel=1e-6)
    assert np.max(np.abs(with_pair.connector.swr - with_pair.swr)) > 0.1
    assert np.max(np.abs(with_pair.swr_receiver - without.swr_receiver)) > 0.02
    assert np.max(np.abs(with_pair.realised_gain - without.realised_gain)) > 0.02
    assert any("UHF pair counts as a line of 33.2 ohm" in text for text in with_pair.assumptions)


def test_no_pair_where_there_is_none_or_where_it_fits() -> None:
    """A dipole has no socket, an N pair on 50 ohm is no step; on 75 ohm it is."""
    for key, reference, expected in (("dipole", 50.0, None), ("ground-plane", 50.0, None), ("ground-plane", 75.0, "N")):
        need = need_for((144, 146), reference=reference)
        found = evaluate(design_for(key, need), need, need.must_bands, sensitivities=False).connector
        assert (found.label if found else None) == expected


# ---- metal


def test_the_metals_of_the_trade_are_there() -> None:
    names = ("copper", "aluminium", "brass", "bronze", "phosphor bronze", "steel", "stainless steel", "tinned copper", "tinplate",
             "galvanised steel", "zinc plated steel", "silver", "nickel", "solder")  # fmt: skip
    assert {metal(name).key for name in names} == set(names) & {row.key for row in metals()}


@pytest.mark.parametrize("name", ["galvanised steel", "zinc plated steel", "tinned copper", "tinplate"])
@pytest.mark.parametrize("megahertz", [30.0, 145.0, 435.0])
def test_plated_metal_against_the_field_equation(name: str, megahertz: float) -> None:
    """The wave impedance marched up through the layers, dZ/dx = Z^2 sigma - j w mu, from 12 skin depths inside the base."""
    row, omega = metal(name), 2 * math.pi * megahertz * MHZ
    base = metal(row.base)

    def march(z: complex, of: StockMetal, depth: float) -> complex:
        sigma, mu = of.conductivity, mu0 * of.relative_permeability
        found = solve_ivp(lambda _, y: -(y**2) * sigma + 1j * omega * mu, (0.0, depth), [z], rtol=1e-9, atol=1e-14)
        return complex(found.y[0, -1])

    z = march(0.0j, base, 12.0 * base.skin_depth(megahertz * MHZ))
    z = march(z, row, row.plating)
    assert surface_conductivity(row, frequency=megahertz * MHZ) == pytest.approx(
        omega * mu0 / (2 * z.real**2), rel=1e-4
    )


def test_plating_counts_where_it_is_thicker_than_the_skin() -> None:
    """Hot-dip zinc carries the current at VHF; bright zinc only above some 230 MHz; tin on copper leaves the copper."""
    zinc = metal("zinc").conductivity
    assert surface_conductivity(metal("galvanised steel"), frequency=50e6) == pytest.approx(zinc, rel=0.02)
    bright = metal("zinc plated steel")
    assert bright.skin_depth(230e6) == pytest.approx(bright.plating, rel=0.02)
    assert (
        surface_conductivity(bright, frequency=50e6)
        < 0.3 * zinc
        < 0.9 * zinc
        < surface_conductivity(bright, frequency=300e6)
    )
    assert surface_conductivity(metal("tinned copper"), frequency=145e6) > 0.9 * metal("copper").conductivity
    assert surface_conductivity(metal("tinplate"), frequency=145e6) < 3.0 * surface_conductivity(
        metal("steel"), frequency=145e6
    )
    assert surface_conductivity(metal("copper"), frequency=145e6) == pytest.approx(metal("copper").conductivity)


def test_the_shelf_takes_plating_at_its_lowest_frequency() -> None:
    bright = StockItem("rod", "zinc plated steel", "threaded rod", 9, diameter=4e-3, length=1.0)
    design = design_for("ground-plane", need_for((50, 51), (430, 440), stock=(bright, CLOTH, RODS)))
    used = design.plan.metals["rod"]
    assert used.material == "zinc plated steel"
    assert used.metal.conductivity == pytest.approx(surface_conductivity(metal("zinc plated steel"), frequency=50e6))
