"""Compile, or load from the cache, the kernels of an answer before the work is spread: workers that are forked later have them.

Those of plastic, of real ground and of the near field are compiled where they are first asked for.
"""

from __future__ import annotations

from concurrent.futures import Executor

import numpy as np

from aerialwright.engine import feed
from aerialwright.engine.geometry import build_geometry
from aerialwright.engine.matrix import System
from aerialwright.engine.mesh import MeshSettings
from aerialwright.engine.overlap import check_overlap
from aerialwright.structure.model import ApertureFeed, Rod, Structure, Surface

#: Frequency of the trial [Hz].
TRIAL = 150e6


def _trial() -> Structure:
    """A tiny antenna of rods and surfaces."""
    rods = (
        Rod("rod", ((0.0, 0.0, 0.0), (0.0, 0.0, 0.4)), 2e-3),
        Rod("radial", ((0.02, 0.0, 0.0), (0.4, 0.0, -0.1)), 2e-3, 3),
    )
    surfaces = (
        Surface("flange", ((4e-3, 0.0), (0.02, 0.0))),
        Surface("body", ((4e-3, 0.0), (4e-3, -0.01), (0.0, -0.01))),
    )
    return Structure("trial", rods, surfaces, ApertureFeed((2e-3, 0.0), (4e-3, 0.0)))


def _warm_checks() -> None:
    """The overlap test and the field of the gap."""
    geometry = build_geometry(_trial())
    check_overlap(geometry)
    frames = [(1.0 + 0.0j, np.array([[0.01, 0.01, 0.0, 1.0]]))]
    for static in (True, False):
        feed.excitation(1.0, static, geometry.aperture, frames, 1)


def _warm_solver() -> None:
    """Fill and solve."""
    System(build_geometry(_trial()), top_frequency=TRIAL, settings=MeshSettings(order=2)).solve(TRIAL)


def warm_up(beside: Executor | None = None) -> None:
    """Solve the tiny antenna: about 16 s of processor time where nothing is compiled yet, 0.3 s after that.

    ``beside`` runs a third of the compiling in another process; what it compiled is loaded from the cache here afterwards.
    """
    if beside is None:
        _warm_solver()
        _warm_checks()
        return
    other = beside.submit(_warm_checks)
    _warm_solver()
    other.result()
    _warm_checks()
