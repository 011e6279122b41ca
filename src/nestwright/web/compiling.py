"""The equations on a new machine: the compiler works on them once, for about a minute, while the page goes on.

It works in a process of its own and leaves what it made on disk: in the page's process it would hold up every page
while it runs, and keep some 400 MB to the end.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing import get_context

from nestwright.compiled import is_compiled
from nestwright.web.jobs import Job, Jobs

__all__ = ["compiled", "compiling"]

KEY = "equations"
USUAL = 60.0
"""Seconds that the compiler usually takes; the bar slows down as it nears its end."""
SOON = 0.7
"""Seconds that a page waits before it is shown without them."""
TICK = 0.2


def compiled() -> bool:
    """Whether this machine has the equations compiled already."""
    return is_compiled("steady.settle")


def compiling(jobs: Jobs, back: str, solve: Callable[[str], object], text: str) -> Job | None:
    """The job that has the equations compiled by a first `solve(text)`; None once they are.

    `back` is the page that asks. Where `solve` fails the job ends, and the next page begins it anew: what is wrong is
    told by who solves the same again.
    """
    if compiled() or jobs.done(KEY):
        return None
    job = jobs.start(KEY, "The equations are compiled", back, lambda job: _work(job, solve, text))
    end = time.monotonic() + SOON
    while job.going and time.monotonic() < end:
        time.sleep(0.02)
    return job if job.going else None


def _quietly(solve: Callable[[str], object], text: str) -> None:
    """In the other process: whoever waits for it solves the same again, and tells what is wrong."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(Exception):
        solve(text)


def _elsewhere(solve: Callable[[str], object], text: str) -> None:
    """Solve in a process that ends with this one at the latest."""
    process = get_context("spawn").Process(target=_quietly, args=(solve, text), daemon=True)
    process.start()
    process.join()


def _work(job: Job, solve: Callable[[str], object], text: str) -> bool:
    """Solve on a thread of its own: the compiler tells nothing of how far it is, the clock does."""
    fault: list[Exception] = []

    def once() -> None:
        try:
            _elsewhere(solve, text)
            solve(text)
        except Exception as error:
            fault.append(error)

    worker = threading.Thread(target=once, name="compile", daemon=True)
    began = time.monotonic()
    worker.start()
    while worker.is_alive():
        past = (time.monotonic() - began) / USUAL
        job.report(past / (past + 0.4))
        worker.join(TICK)
    if fault:
        raise fault[0]
    return True
