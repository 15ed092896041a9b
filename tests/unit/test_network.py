"""Parts between antenna and line against a network library (scikit-rf), against closed forms, and against laws."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import skrf
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from skrf.media import DefinedGammaZ0

from aerialwright.app.cli import main
from aerialwright.base.errors import ProjectError
from aerialwright.lines.network import (
    Behind,
    Element,
    LineSection,
    Part,
    Series,
    Shunt,
    Stub,
    Transformer,
    match_l,
    through,
)
from aerialwright.project.structures import read_structure_file
from aerialwright.stock.cables import cable

AT = np.array([118e6, 137e6, 145e6, 162e6, 250e6])
LOAD = np.array([23.3 + 4.8j, 36.5 + 21.3j, 50.0 + 0j, 83.3 + 56.1j, 12.0 - 422j])
MEDIA = DefinedGammaZ0(skrf.Frequency.from_f(AT, unit="hz"), z0=50.0)
COAX = cable("RG-58")
SECTION = LineSection(75.0, 0.31, 0.66)
LOSSY = LineSection(COAX.impedance, 2.2, COAX.velocity_factor, COAX.k1, COAX.k2)


def line_of(section: LineSection) -> skrf.Network:
    medium = DefinedGammaZ0(MEDIA.frequency, gamma=section.propagation(AT), z0=section.impedance)
    network = medium.line(section.length, "m")
    network.renormalize(50.0)
    return network


def stub_of(section: LineSection, shorted: bool) -> skrf.Network:
    medium = DefinedGammaZ0(MEDIA.frequency, gamma=section.propagation(AT), z0=section.impedance)
    end = medium.delay_short(section.length, "m") if shorted else medium.delay_open(section.length, "m")
    end.renormalize(50.0)
    return MEDIA.shunt(end)


#: ours, theirs
PAIRS: dict[str, tuple[Element, skrf.Network]] = {
    "coil in series": (Series(Part(inductance=68e-9)), MEDIA.inductor(68e-9)),
    "capacitor in series": (Series(Part(capacitance=12e-12)), MEDIA.capacitor(12e-12)),
    "resistor in series": (Series(Part(resistance=18.0)), MEDIA.resistor(18.0)),
    "coil across": (Shunt(Part(inductance=68e-9)), MEDIA.shunt_inductor(68e-9)),
    "capacitor across": (Shunt(Part(capacitance=12e-12)), MEDIA.shunt_capacitor(12e-12)),
    "coil of quality 80": (
        Series(Part(inductance=68e-9, quality=80.0)),
        MEDIA.inductor(68e-9) ** MEDIA.resistor(2 * np.pi * AT * 68e-9 / 80.0),
    ),
    "capacitor of quality 300": (
        Series(Part(capacitance=12e-12, quality=300.0)),
        MEDIA.capacitor(12e-12) ** MEDIA.resistor(1 / (2 * np.pi * AT * 12e-12) / 300.0),
    ),
    "line": (SECTION, line_of(SECTION)),
    "lossy line": (LOSSY, line_of(LOSSY)),
    "open stub": (Stub(SECTION, False), stub_of(SECTION, False)),
    "shorted stub": (Stub(SECTION, True), stub_of(SECTION, True)),
    "lossy shorted stub": (Stub(LOSSY, True), stub_of(LOSSY, True)),
}


def seen_by_library(network: skrf.Network) -> tuple[np.ndarray, np.ndarray]:
    """Impedance of port 0 with the load on port 1, and the part of the power taken that reaches the load."""
    end = skrf.Network(frequency=network.frequency, s=((LOAD - 50) / (LOAD + 50)).reshape(-1, 1, 1), z0=50.0)
    s, r = network.s, end.s[:, 0, 0]
    taken = (network**end).s[:, 0, 0]
    # Power gain of a two-port into its load: |s21|^2 (1 - |r|^2) / ((1 - |taken|^2) |1 - s22 r|^2) [@pozar].
    gain = np.abs(s[:, 1, 0]) ** 2 * (1 - np.abs(r) ** 2) / ((1 - np.abs(taken) ** 2) * np.abs(1 - s[:, 1, 1] * r) ** 2)
    return 50 * (1 + taken) / (1 - taken), gain


def agree(found: Behind, network: skrf.Network) -> None:
    impedance, gain = seen_by_library(network)
    np.testing.assert_allclose(found.impedance, impedance, rtol=1e-8)
    np.testing.assert_allclose(found.efficiency, gain, rtol=1e-8)


@pytest.mark.parametrize("name", PAIRS)
def test_each_part_is_the_librarys(name: str) -> None:
    ours, theirs = PAIRS[name]
    agree(through((ours,), load=LOAD, frequency=AT), theirs)


def test_a_chain_in_its_order() -> None:
    """Antenna first; the library's cascade is written from the line's side."""
    names = list(PAIRS)
    theirs = PAIRS[names[-1]][1]
    for name in names[-2::-1]:
        theirs = theirs ** PAIRS[name][1]
    agree(through(tuple(PAIRS[name][0] for name in names), load=LOAD, frequency=AT), theirs)


def test_transformer_against_coupled_coils() -> None:
    """Leakage and magnetising inductance against the T of two coupled coils: with the antenna's winding of L2, the line's of L1 and
    coupling k, leakage L1 (1 - k^2), magnetising k^2 L1, turns sqrt(L2/L1)/k is the same two-port; worked out from V = jwL I."""
    l1, l2, k = 0.4e-6, 1.6e-6, 0.97
    m = k * math.sqrt(l1 * l2)
    omega = 2 * np.pi * AT
    expected = 1j * omega * l1 + (omega * m) ** 2 / (1j * omega * l2 + LOAD)
    ours = Transformer(math.sqrt(l2 / l1) / k, leakage=l1 * (1 - k * k), magnetising=k * k * l1)
    found = through((ours,), load=LOAD, frequency=AT)
    np.testing.assert_allclose(found.impedance, expected, rtol=1e-9)
    np.testing.assert_allclose(found.efficiency, 1.0, rtol=1e-9)


def test_transformer_has_its_limits() -> None:
    """Four times the impedance on the antenna's side of 2:1 turns; a perfect one is what no leakage and endless inductance make."""
    ideal = through((Transformer(2.0),), load=LOAD, frequency=AT)
    np.testing.assert_allclose(ideal.impedance, LOAD / 4)
    real = through((Transformer(2.0, leakage=1e-15, magnetising=10.0),), load=LOAD, frequency=AT)
    np.testing.assert_allclose(real.impedance, ideal.impedance, rtol=1e-6)


def test_quarter_wave_line_and_stubs() -> None:
    """A quarter wave turns Z into Z0^2/Z; a shorted quarter wave across does nothing, an open one shorts."""
    f = np.array([150e6])
    quarter = 299792458.0 / 150e6 / 4
    line = LineSection(70.71, quarter)
    assert through((line,), load=[100.0], frequency=f).impedance[0] == pytest.approx(50.0, rel=1e-4)
    assert through((Stub(line, True),), load=[36 + 21j], frequency=f).impedance[0] == pytest.approx(36 + 21j)
    assert abs(through((Stub(line, False),), load=[36 + 21j], frequency=f).impedance[0]) < 1e-9


@given(st.floats(0.5, 5000.0), st.floats(-3000.0, 3000.0), st.sampled_from([25.0, 50.0, 75.0]))
def test_every_l_network_matches(r: float, x: float, reference: float) -> None:
    """Each solution turns the load into the reference without loss; two where one order will do, four where both."""
    networks = match_l(complex(r, x), reference=reference, frequency=145e6)
    assert len(networks) == 2 * (r <= reference) + 2 * (r * r + x * x >= r * reference)
    for pair in networks:
        found = through(pair, load=[complex(r, x)], frequency=[145e6])
        assert found.impedance[0] == pytest.approx(reference, rel=1e-6)
        assert found.efficiency[0] == pytest.approx(1.0, rel=1e-6)


def test_l_network_of_a_textbook() -> None:
    """200 - j100 ohm to 100 ohm at 500 MHz: a shunt 0.92 pF then a series 38.8 nH, or a shunt 46.1 nH then a series 2.61 pF
    (Pozar, example 5.1 [@pozar], from memory)."""
    first, second = match_l(200 - 100j, reference=100.0, frequency=500e6)
    assert first[0].part.capacitance == pytest.approx(0.92e-12, rel=0.01)
    assert first[1].part.inductance == pytest.approx(38.8e-9, rel=0.01)
    assert second[0].part.inductance == pytest.approx(46.1e-9, rel=0.01)
    assert second[1].part.capacitance == pytest.approx(2.61e-12, rel=0.01)


def test_a_load_that_takes_nothing_has_no_match() -> None:
    assert match_l(-3 + 2j, reference=50.0, frequency=1e8) == match_l(0 + 20j, reference=50.0, frequency=1e8) == ()


# ---------------------------------------------------------------- as written in a file

HEAD = """name = "short rod over ground"
ground = "perfect"

[[rod]]
name = "whip"
points = [["1 m", 0, 0], ["1 m", 0, "400 mm"]]
diameter = "4 mm"

[feed]
kind = "rod"
rod = "whip"
distance = "0 mm"
width = "5 mm"
"""
CHAIN = """
[[between]]
kind = "series"
inductance = "60 nH"
quality = "150"

[[between]]
kind = "stub"
cable = "RG-58"
length = "200 mm"
end = "open"

[[between]]
kind = "transformer"
turns = "0.7"
leakage = "3 nH"
magnetising = "0.5 uH"

[[between]]
kind = "line"
impedance = "75 ohm"
velocity_factor = "0.8"
length = "300 mm"
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "antenna.toml"
    path.write_text(text, "utf-8")
    return path


def test_a_file_with_parts(tmp_path: Path) -> None:
    _, elements = read_structure_file(written(tmp_path, HEAD + CHAIN))
    assert elements == (
        Series(Part(inductance=60e-9, quality=150.0)),
        Stub(LineSection(COAX.impedance, 0.2, COAX.velocity_factor, COAX.k1, COAX.k2), False),
        Transformer(0.7, 3e-9, 0.5e-6),
        LineSection(75.0, 0.3, 0.8),
    )


def test_solve_says_what_is_behind_the_parts(tmp_path: Path) -> None:
    common = ["solve", str(written(tmp_path, HEAD + CHAIN)), "--from", "140MHz", "--to", "150MHz", "--points", "3"]
    done = CliRunner().invoke(main, [*common, "--json", "--match", "145 MHz"])
    data = json.loads(done.stdout)
    _, elements = read_structure_file(tmp_path / "antenna.toml")
    feed = np.array(data["resistance_ohm"]) + 1j * np.array(data["reactance_ohm"])
    expected = through(elements, load=feed, frequency=np.array(data["frequency_hz"]))
    assert data["behind"]["resistance_ohm"] == pytest.approx(expected.impedance.real)
    assert data["behind"]["reactance_ohm"] == pytest.approx(expected.impedance.imag)
    assert 0.5 < min(data["behind"]["efficiency"]) < 1.0
    assert data["match"]["resistance_ohm"] == pytest.approx(expected.impedance[1].real)
    assert len(data["match"]["networks"]) >= 2
    text = CliRunner().invoke(main, [*common, "--match", "145 MHz"]).stdout
    assert "behind 4 parts" in text and "loss dB" in text and "at the antenna" in text
    assert CliRunner().invoke(main, [*common, "--match", "99 MHz"]).exit_code == 3


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('kind = "series"', 'kind = "parallel"', "no kind of part"),
        ('quality = "150"', 'quality = "0.1"', "quality"),
        ('inductance = "60 nH"', "", "has no part"),
        ('inductance = "60 nH"', 'length = "1 m"', "does not belong to a series"),
        ('inductance = "60 nH"', 'inductance = "60 mm"', "a length where an inductance"),
        ('inductance = "60 nH"', 'inductance = "60 nh"', "spelled 'nH'"),
        ('inductance = "60 nH"', "inductance = 60", "no unit"),
        ('cable = "RG-58"', 'cable = "RG-58"\nimpedance = "50 ohm"', "one cable or of one impedance"),
        ('cable = "RG-58"', 'cable = "RG-5"', "cable type"),
        ('end = "open"', 'end = "cut"', "how the stub ends"),
        ('length = "200 mm"', "", "length is missing"),
        ('turns = "0.7"', "", "turns is missing"),
        ('velocity_factor = "0.8"', 'velocity_factor = "1.8"', "velocity of light"),
    ],
)
def test_wrong_parts(tmp_path: Path, old: str, new: str, words: str) -> None:
    assert old in CHAIN
    with pytest.raises(ProjectError) as caught:
        read_structure_file(written(tmp_path, HEAD + CHAIN.replace(old, new, 1)))
    assert words in str(caught.value) and "line" in str(caught.value) and "\n" not in str(caught.value)


LOAD_TABLE = (
    '[[load]]\nrod = "whip"\ndistance = "200 mm"\nresistance = "3 ohm"\ninductance = "40 nH"\ncapacitance = "1 pF"\n'
)


def test_a_load_in_a_rod(tmp_path: Path) -> None:
    """A coil and its capacitance in the rod: read, solved, and its resistance costs efficiency."""
    structure, _ = read_structure_file(written(tmp_path, HEAD + LOAD_TABLE))
    (load,) = structure.loads
    assert (load.rod, load.distance, load.resistance) == ("whip", 0.2, 3.0)
    assert (load.inductance, load.capacitance) == pytest.approx((40e-9, 1e-12))
    common = ["--from", "140MHz", "--to", "150MHz", "--points", "3", "--json"]
    with_load = json.loads(CliRunner().invoke(main, ["solve", str(tmp_path / "antenna.toml"), *common]).stdout)
    bare = json.loads(CliRunner().invoke(main, ["solve", str(written(tmp_path, HEAD)), *common]).stdout)
    assert bare["efficiency"] == pytest.approx(1.0) and 0.8 < with_load["efficiency"] < 0.99
    # 40 nH is 36 ohm at 145 MHz; in the upper half of the rod the current is some 0.8 of that in the foot.
    assert 15 < np.mean(with_load["reactance_ohm"]) - np.mean(bare["reactance_ohm"]) < 36


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('rod = "whip"', 'rod = "wip"', "there is no rod 'wip'"),
        ('distance = "200 mm"', 'distance = "600 mm"', "beyond the rod"),
        ('resistance = "3 ohm"\ninductance = "40 nH"', "", "neither resistance nor inductance"),
    ],
)
def test_wrong_loads(tmp_path: Path, old: str, new: str, words: str) -> None:
    assert old in LOAD_TABLE
    with pytest.raises(ProjectError, match=words):
        read_structure_file(written(tmp_path, HEAD + LOAD_TABLE.replace(old, new, 1)))
