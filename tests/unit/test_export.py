"""Sweeps written for other programs come back the same: CSV by the standard reader, Touchstone by scikit-rf."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st
from small_needs import design_for, need_for

from aerialwright.lines.mismatch import LARGEST_SWR, swr
from aerialwright.solution.export import sweep_csv, touchstone
from aerialwright.solution.records import ComplexArray, FloatArray
from aerialwright.solution.solve import solve


@pytest.fixture(scope="module")
def sweep() -> tuple[FloatArray, ComplexArray, FloatArray]:
    found = solve(design_for("ground-plane", need_for((144, 146))).structure(), np.linspace(130e6, 160e6, 61)).sweep
    return found.frequency, found.impedance, found.impedance_error


def read_back(text: str, folder: Path) -> skrf.Network:
    path = folder / "sweep.s1p"
    path.write_text(text, "utf-8")
    return skrf.Network(str(path))


@pytest.mark.parametrize("reference", [50.0, 75.0])
def test_touchstone_comes_back(
    sweep: tuple[FloatArray, ComplexArray, FloatArray], reference: float, tmp_path: Path
) -> None:
    frequency, impedance, _ = sweep
    text = touchstone(frequency, impedance, reference=reference, comment="a ground plane\nat the aperture")
    network = read_back(text, tmp_path)
    assert network.f == pytest.approx(frequency, rel=1e-9)
    assert np.all(network.z0.real == reference)
    assert network.z[:, 0, 0] == pytest.approx(impedance, rel=1e-6)
    assert text.startswith("! a ground plane\n! at the aperture\n")
    assert "Created" not in text, "the same sweep is the same file"


def test_csv_comes_back(sweep: tuple[FloatArray, ComplexArray, FloatArray]) -> None:
    frequency, impedance, error = sweep
    rows = list(csv.DictReader(io.StringIO(sweep_csv(frequency, impedance, error))))
    assert len(rows) == len(frequency)
    column = {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}
    assert column["frequency_MHz"] * 1e6 == pytest.approx(frequency, abs=1.0)
    assert column["resistance_ohm"] + 1j * column["reactance_ohm"] == pytest.approx(impedance, abs=2e-5)
    assert column["error_ohm"] == pytest.approx(error, rel=1e-3)
    for reference in (50.0, 75.0):
        assert column[f"swr_{reference:.0f}"] == pytest.approx(
            np.asarray(swr(impedance, reference=reference)), rel=1e-3
        )


def test_csv_and_touchstone_agree(sweep: tuple[FloatArray, ComplexArray, FloatArray], tmp_path: Path) -> None:
    frequency, impedance, error = sweep
    rows = list(csv.DictReader(io.StringIO(sweep_csv(frequency, impedance, error))))
    network = read_back(touchstone(frequency, impedance), tmp_path)
    assert network.s_vswr[:, 0, 0] == pytest.approx([float(row["swr_50"]) for row in rows], abs=6e-5, rel=1e-4)


def test_an_unknown_error_is_an_empty_cell() -> None:
    text = sweep_csv(np.array([1e8]), np.array([50 + 0j]), np.array([np.inf]))
    assert next(csv.DictReader(io.StringIO(text)))["error_ohm"] == ""
    assert "inf" not in text and "nan" not in text


@given(
    z=st.lists(
        st.builds(complex, st.floats(0.01, 1e5), st.floats(-1e5, 1e5)), min_size=2, max_size=20
    ),
    start=st.floats(1e6, 1e9),
    step=st.floats(1e3, 1e7),
)  # fmt: skip
@settings(max_examples=40)
def test_any_passive_sweep_survives(
    z: list[complex], start: float, step: float, tmp_path_factory: pytest.TempPathFactory
) -> None:
    frequency = start + step * np.arange(len(z))
    impedance = np.array(z)
    network = read_back(touchstone(frequency, impedance), tmp_path_factory.mktemp("s1p"))
    reflection = (impedance - 50.0) / (impedance + 50.0)
    assert network.s[:, 0, 0] == pytest.approx(reflection, abs=1e-9)
    rows = list(csv.DictReader(io.StringIO(sweep_csv(frequency, impedance, np.ones(len(z))))))
    assert [float(row["resistance_ohm"]) for row in rows] == pytest.approx(impedance.real, abs=1e-5)
    assert all(float(row["swr_50"]) >= 1.0 for row in rows)


def test_total_reflection_is_a_number_in_a_file() -> None:
    """An end that takes nothing, or gives by a rounding, has an SWR without bound: files hold a large finite one."""
    text = sweep_csv(np.array([1e8, 2e8]), np.array([0.0 + 20.0j, -1e-9 + 5.0j]), np.array([0.1, np.inf]))
    rows = [line.split(",") for line in text.strip().splitlines()[1:]]
    assert [float(row[4]) for row in rows] == [LARGEST_SWR, LARGEST_SWR]
    assert rows[1][3] == ""
