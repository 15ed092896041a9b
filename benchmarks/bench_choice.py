"""Speed of the whole choice for the default demo, against solving its antennas one after another in one process."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

# As the command line does: one BLAS thread in each worker.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from aerialwright.design.choose import choose
from aerialwright.jobs.workers import workers
from aerialwright.project.needs import read_need

DEMO = Path(__file__).resolve().parents[1] / "examples" / "tarn-edge"


def cases() -> dict[str, tuple[Callable[[], object], Callable[[], object]]]:
    """The choice in worker processes, and alone."""
    need = read_need(DEMO)

    def spread() -> object:
        with workers() as pool:
            return choose(need, executor=pool)

    return {"choice for the default demo": (spread, lambda: choose(need))}
