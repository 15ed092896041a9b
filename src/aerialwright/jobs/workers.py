"""Worker processes for long studies; any ``concurrent.futures`` executor may take their place."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager


def _prepare() -> None:
    """In each worker: one BLAS thread, and an interrupt ends the worker without a traceback."""
    import signal

    from threadpoolctl import threadpool_limits

    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    threadpool_limits(1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def workers(count: int | None = None) -> Iterator[Executor | None]:
    """A pool of ``count`` processes (default: one for each core, at most four), or None for one: then nothing is spread.

    On the way out after a fault or an interrupt the pending work is dropped.
    """
    number = count if count is not None else max(1, min(4, os.cpu_count() or 1))
    if number <= 1:
        yield None
        return
    # Forking before any thread runs shares what is imported already; elsewhere a fresh interpreter is safe everywhere.
    method = "fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn"
    pool = ProcessPoolExecutor(number, mp_context=multiprocessing.get_context(method), initializer=_prepare)
    try:
        yield pool
    except BaseException:
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown(wait=True)
