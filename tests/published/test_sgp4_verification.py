"""Orbits against the verification set of SGP4 [@spacetrack-3]: our reading of its lines, positions and velocities of the library."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from aerialwright.air.element_text import parse_elements
from aerialwright.air.elements import Elements

DATA = Path(__file__).with_name("data") / "sgp4_verification.txt"
#: [km], what the list of check values allows; velocities a hundredth of it. All but one set keep 2e-6.
LIMIT = 1e-5


def cases() -> Iterator[tuple[Elements, np.ndarray]]:
    """Elements and rows (n, 7) of minutes, position, velocity."""
    lines: list[str] = []
    rows: list[list[float]] = []
    for line in [*DATA.read_text("utf-8").splitlines(), "1 end"]:
        if line.startswith("="):
            rows.append([float(word) for word in line[1:].split()])
        elif line.startswith("1 ") and rows:
            yield parse_elements("\n".join(lines)), np.array(rows)
            lines, rows = [line], []
        elif not line.startswith("#"):
            lines.append(line)


@pytest.mark.parametrize(("elements", "rows"), list(cases()), ids=lambda value: getattr(value, "name", ""))
def test_verification_set(elements: Elements, rows: np.ndarray) -> None:
    """Positions [km] and velocities [km/s] at minutes from the epoch."""
    record = elements.satrec()
    for minutes, *expected in rows:
        fault, position, velocity = record.sgp4_tsince(minutes)
        if fault:
            assert minutes == rows[-1, 0], "only the last line of a set may lie beyond the orbit's end"
            continue
        assert np.abs(np.array(position) - expected[:3]).max() < LIMIT
        assert np.abs(np.array(velocity) - expected[3:]).max() < LIMIT * 1e-2


def test_it_is_the_whole_set() -> None:
    """All sets but those with mistakes made on purpose; near the earth and deep space."""
    found = [elements for elements, _ in cases()]
    assert len(found) == 29
    assert sum(one.deep_space for one in found) > 10
