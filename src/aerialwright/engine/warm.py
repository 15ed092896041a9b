"""Compile, or load from the cache, every kernel before the work is spread: workers that are forked later have them."""

from __future__ import annotations

from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.sweep import prepare
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

#: Frequency of the trial [Hz].
TRIAL = 150e6


def warm_up() -> None:
    """Solve one tiny antenna of rods and surfaces: about 16 s of processor time where nothing is compiled yet, 0.3 s after that."""
    rods = (
        Rod("rod", ((0.0, 0.0, 0.0), (0.0, 0.0, 0.4)), 2e-3),
        Rod("radial", ((0.02, 0.0, 0.0), (0.4, 0.0, -0.1)), 2e-3, 3),
    )
    surfaces = (
        Surface("flange", ((4e-3, 0.0), (0.02, 0.0))),
        Surface("body", ((4e-3, 0.0), (4e-3, -0.01), (0.0, -0.01))),
    )
    structure = Structure("trial", rods, surfaces, ApertureFeed((2e-3, 0.0), (4e-3, 0.0)))
    prepare(structure, top_frequency=TRIAL, settings=MeshSettings(order=2)).solve(TRIAL)
