"""Touchstone reading against the examples of the specification [@touchstone] and the data files that scikit-rf carries.

Example numbers are those of version 2.1 of the document; its texts were read as other open readers quote them in their tests.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import skrf

from aerialwright.base.errors import AerialwrightError
from aerialwright.bench.read_sweep import read_sweep
from aerialwright.lines.mismatch import impedance_of

DATA = Path(skrf.__file__).parent / "data"
EXAMPLE_10 = """!1-port Z-parameter file, multiple frequency points
# MHz Z MA R 75
!freq magZ11 angZ11
100 0.99 -4
200 0.80 -22
300 0.707 -45
400 0.40 -62
500 0.01 -89
"""
EXAMPLE_11 = """!1-port Z-parameter file, multiple frequency points
[Version] 2.1
# MHz Z MA
[Number of Ports] 1
[Number of Frequencies] 5
[Reference] 20.0
[Network Data]
!freq magZ11 angZ11
100 74.25 -4
200 60 -22
300 53.025 -45
400 30 -62
500 0.75 -89
[End]
"""
TWO_PORT = """!2-port S-parameter file, three frequency points
# GHz S RI R 50.0
!freq ReS11 ImS11 ReS21 ImS21 ReS12 ImS12 ReS22 ImS22
1.0000 0.3926 -0.1211 -0.0003 -0.0021 -0.0003 -0.0021 0.3926 -0.1211
2.0000 0.3517 -0.3054 -0.0096 -0.0298 -0.0096 -0.0298 0.3517 -0.3054
10.000 0.3419 0.3336 -0.0134 0.0379 -0.0134 0.0379 0.3419 0.3336
"""
NOISE = """!2-port network, S-parameter and noise data
# GHz S MA R 50
2 .95 -26 3.57 157 .04 76 .66 -14
22 .60 -144 1.30 40 .14 40 .56 -85
! NOISE PARAMETERS
4 .7 .64 69 19
18 2.7 .46 -33 20
"""


def test_one_point_of_magnitude_and_angle() -> None:
    """Example 1 of version 1: S11 at 2 MHz is 0.894 at -12.136 degrees."""
    found = read_sweep(
        b"!1-port S-parameter file\n# MHz S MA R 50\n!freq magS11 angS11\n2.000 0.894 -12.136\n", name="a.s1p"
    )
    assert found.frequency.tolist() == [2e6]
    assert found.reflection[0] == pytest.approx(0.894 * np.exp(-1j * np.radians(12.136)), abs=1e-15)


def test_impedances_of_both_versions_are_one_network() -> None:
    """Examples 10 and 11: relative to 75 ohm in version 1, in ohms in version 2 whatever the reference."""
    one, two = (read_sweep(text.encode(), name="a.s1p") for text in (EXAMPLE_10, EXAMPLE_11))
    expected = np.array([74.25, 60.0, 53.025, 30.0, 0.75]) * np.exp(1j * np.radians([-4, -22, -45, -62, -89]))
    assert (one.reference, two.reference) == (75.0, 20.0)
    for found in (one, two):
        assert impedance_of(found.reflection, reference=found.reference) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("port", [1, 2])
def test_two_port_rows(port: int) -> None:
    """Example 13: both ports of a symmetrical network."""
    found = read_sweep(TWO_PORT.encode(), name="a.s2p", port=port)
    assert found.frequency.tolist() == [1e9, 2e9, 10e9]
    assert found.reflection.tolist() == [0.3926 - 0.1211j, 0.3517 - 0.3054j, 0.3419 + 0.3336j]
    assert found.port == port


def test_noise_rows_are_left_out() -> None:
    """Two network rows, two noise rows; the second port by its own column."""
    found = read_sweep(NOISE.encode(), name="a.s2p", port=2)
    assert found.frequency.tolist() == [2e9, 22e9]
    assert np.abs(found.reflection) == pytest.approx([0.66, 0.56])
    assert any("noise" in repair.what for repair in found.repairs)


@pytest.mark.parametrize(
    ("option", "unit", "value", "reference"),
    [
        ("#", 1e9, 0.5 * np.exp(0.25j * np.pi), 50.0),
        ("", 1e9, 0.5 * np.exp(0.25j * np.pi), 50.0),
        ("# R 75 RI kHz", 1e3, None, 75.0),
        ("#hz s db r 50", 1.0, 10 ** (0.5 / 20) * np.exp(0.25j * np.pi), 50.0),
        ("# MHz R 100 MA S ! anything", 1e6, 0.5 * np.exp(0.25j * np.pi), 100.0),
        ("\t#\tGHZ\tS\tMA\tR\t.5e2", 1e9, 0.5 * np.exp(0.25j * np.pi), 50.0),
    ],
)
def test_option_lines(option: str, unit: float, value: complex | None, reference: float) -> None:
    """Items may be left out and stand in any order and case; the default is GHz S MA R 50."""
    row = "2 0.5 0.45" if value is None else "2 0.5 45"
    found = read_sweep(f"{option}\n{row}\n".encode(), name="a.s1p")
    assert found.frequency[0] == 2.0 * unit
    assert found.reference == reference
    expected = 0.5 + 0.45j if value is None else value
    assert found.reflection[0] == pytest.approx(expected / max(abs(expected), 1.0), abs=1e-12)


def test_a_second_option_line_is_ignored() -> None:
    found = read_sweep(b"# MHz S RI R 50\n# GHz Z MA R 75\n100 0.5 0\n", name="a.s1p")
    assert (found.frequency[0], found.reference) == (100e6, 50.0)
    assert any("second option line" in repair.what for repair in found.repairs)


def test_a_reference_for_each_port() -> None:
    """Version 1.1: several resistances at the end of the option line; one too many for a one-port is refused."""
    two = TWO_PORT.replace("R 50.0", "R 50 75").encode()
    assert [read_sweep(two, name="a.s2p", port=port).reference for port in (1, 2)] == [50.0, 75.0]
    assert read_sweep(b"# GHz S RI R 75\n1 .5 0\n", name="a.s1p").reference == 75.0
    with pytest.raises(AerialwrightError, match="2 reference resistances for 1 port"):
        read_sweep(b"# S GHz RI R 0.1 75\n1 .5 0\n", name="a.s1p")


def test_version_two_keywords() -> None:
    """[Reference] over two lines, a lower triangle, an information block, noise, text after [End]."""
    text = """[Version] 2.0
# MHz S RI
[Number of Ports] 2
[Two-Port Data Order] 21_12
[Number of Frequencies] 2
[Reference] 50
 75
[Matrix Format] Lower
[Begin Information]
anything 1 2 3
[End Information]
[Network Data]
1 0.1 0 0.2 0 0.3 0
2 0.4 0 0.5 0 0.6 0
[Noise Data]
1 2 3 4 5
[End]
later
"""
    found = read_sweep(text.encode(), name="a.ts", port=2)
    assert (found.reflection.tolist(), found.reference) == ([0.3, 0.6], 75.0)
    assert any("after [End]" in repair.what for repair in found.repairs)
    for old, new, named in (
        ("[Number of Frequencies] 2", "[Number of Frequencies] 3", "2 frequencies where 3"),
        ("[End]\nlater\n", "", "is missing"),
        ("[Number of Ports] 2", "[Number of Ports] 4", "4 ports"),
        ("[Version] 2.0", "[Version] 3.0", "version"),
        ("[Matrix Format] Lower", "[Matrix Format] Odd", "matrix format"),
        ("[Matrix Format] Lower", "[Mixed-Mode Order] D1,2 C1,2", "mixed-mode"),
    ):
        with pytest.raises(AerialwrightError, match=named):
            read_sweep(text.replace(old, new).encode(), name="a.ts", port=2)


@pytest.mark.parametrize("path", sorted(DATA.glob("*.s[12]p")), ids=lambda path: path.name)
def test_data_files_read_as_scikit_rf_reads_them(path: Path) -> None:
    """Every one-port and two-port of scikit-rf, every port; points over one by rounding are set to one here."""
    network = skrf.Network(str(path))
    for port in range(1, network.nports + 1):
        found = read_sweep(path.read_bytes(), name=path.name, port=port)
        assert np.array_equal(found.frequency, network.f)
        assert found.reflection == pytest.approx(network.s[:, port - 1, port - 1], abs=1e-12)


@pytest.mark.parametrize("parameter", ["Z", "Y"])
@pytest.mark.parametrize("port", [1, 2])
def test_two_port_impedances_against_scikit_rf(parameter: str, port: int) -> None:
    """The reflection of a two-port given by Z or Y, with its other port ended."""
    rng = np.random.default_rng(2)
    numbers = rng.uniform(0.3, 1.0, (4, 8)) + np.array([1.0, 0, 0, 0, 0, 0, 1.0, 0])  # passive: real part above zero
    rows = "".join(f"{100 + k} {' '.join(f'{x:.12f}' for x in row)}\n" for k, row in enumerate(numbers))
    values = (numbers[:, 0::2] + 1j * numbers[:, 1::2])[:, [0, 2, 1, 3]].reshape(-1, 2, 2)
    s = skrf.network.z2s(values * 75.0, 75.0) if parameter == "Z" else skrf.network.y2s(values / 75.0, 75.0)
    found = read_sweep(f"# MHz {parameter} RI R 75\n{rows}".encode(), name="a.s2p", port=port)
    assert found.reflection == pytest.approx(s[:, port - 1, port - 1], abs=1e-9)
