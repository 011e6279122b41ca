"""Pieces worked on by this computer: by threads, or by processes of their own."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing import get_context
from typing import Any

__all__ = ["Processes", "Threads", "cores"]


def cores() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Threads:
    """Threads of this process: for work that is nearly all compiled code, which does not hold the interpreter."""

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or cores()

    def __enter__(self) -> Threads:
        self._pool = ThreadPoolExecutor(self.workers)
        return self

    def __exit__(self, *error: object) -> None:
        self._pool.shutdown(cancel_futures=True)

    def submit(self, work: Callable[[Any], Any], piece: Any) -> Future[Any]:
        return self._pool.submit(work, piece)

    def look(self) -> None:
        pass

    def drop(self, futures: Sequence[Future[Any]]) -> None:
        for future in futures:
            future.cancel()


class Processes:
    """Processes of their own, started with the first piece; one that is killed is replaced.

    They are started afresh, not forked: a fork of a process whose compiled code runs threads may hang.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or cores()
        self._pool: ProcessPoolExecutor | None = None

    def __enter__(self) -> Processes:
        return self

    def __exit__(self, *error: object) -> None:
        self._end()

    def submit(self, work: Callable[[Any], Any], piece: Any) -> Future[Any]:
        if self._pool is None:
            self._pool = ProcessPoolExecutor(self.workers, get_context("spawn"), _begin)
        return self._pool.submit(work, piece)

    def look(self) -> None:
        pass

    def drop(self, futures: Sequence[Future[Any]]) -> None:
        # what runs cannot be called back, so its process goes
        self._end()

    def _end(self) -> None:
        if self._pool is None:
            return
        processes = list((self._pool._processes or {}).values())
        self._pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
        for process in processes:
            process.join()
        self._pool = None


def _begin() -> None:
    """A worker leaves Ctrl-C to the process that started it, and keeps to one core: there are others beside it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.environ["NUMBA_NUM_THREADS"] = "1"
