"""What every test may rely on: the tree, a quiet terminal, repeatable property tests."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

# No deadline: the first call of a compiled kernel may spend seconds in the compiler. Derandomised in continuous
# integration, so that a red run can be repeated; elsewhere every run looks at new examples.
settings.register_profile("local", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")


@pytest.fixture
def repository_root() -> Path:
    """The top folder of the source tree."""
    return Path(__file__).resolve().parents[1]


@pytest.fixture(autouse=True)
def _plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same text on every machine: no colour, 120 columns."""
    for name in ("FORCE_COLOR", "CLICOLOR_FORCE", "PY_COLORS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "120")
