"""The script that makes the examples' sweeps, as a module: its table tells what was built into each."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"


def maker() -> ModuleType:
    """The script that made the sweeps."""
    spec = importlib.util.spec_from_file_location("make_sweeps", EXAMPLES / "make_sweeps.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module
