"""One BLAS thread for the engine's small matrices.

A system of a hundred unknowns is solved faster by one thread than by two that wait for each other, and several antennas are
solved at the same time by whoever calls the engine. The limit holds inside the ``with`` block only.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache

from threadpoolctl import ThreadpoolController


@lru_cache(maxsize=1)
def _controller() -> ThreadpoolController:
    import scipy.linalg  # noqa: F401  (its BLAS must be loaded before it is counted)

    return ThreadpoolController()


_depth = threading.local()


@contextmanager
def single_thread() -> Iterator[None]:
    """Limit BLAS to one thread; inside another such block it costs nothing."""
    if getattr(_depth, "count", 0) or os.environ.get("OPENBLAS_NUM_THREADS") == "1":
        # Switching the number of threads starts and parks them: done once, at the outermost block.
        yield
        return
    _depth.count = 1
    try:
        with _controller().limit(limits=1):
            yield
    finally:
        _depth.count = 0
