"""The equations on a new machine: the compiler works on them once, for about a minute, while the page goes on."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

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


def compiling(jobs: Jobs, back: str, solve: Callable[[], object]) -> Job | None:
    """The job that has the equations compiled by a first `solve()`; None once they are.

    `back` is the page that asks. Where `solve` fails the job ends, and the next page begins it anew: what is wrong is
    told by who solves the same again.
    """
    if compiled() or jobs.done(KEY):
        return None
    job = jobs.start(KEY, "The equations are compiled", back, lambda job: _work(job, solve))
    end = time.monotonic() + SOON
    while job.going and time.monotonic() < end:
        time.sleep(0.02)
    return job if job.going else None


def _work(job: Job, solve: Callable[[], object]) -> bool:
    """Solve on a thread of its own: the compiler tells nothing of how far it is, the clock does."""
    fault: list[Exception] = []

    def once() -> None:
        try:
            solve()
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
