"""Long work that a page waits for: begun once, watched, stopped."""

from __future__ import annotations

import queue
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from nestwright.errors import InputError
from nestwright.extras import missing

__all__ = ["Job", "Jobs", "Stopped"]

AT_ONCE = 2
MOST = 40
"""Finished jobs that are kept."""


class Stopped(Exception):  # noqa: N818 - no fault: the user stopped it
    """Raised within a job, by its own report of progress, when the user stopped it."""


@dataclass
class Job:
    """One piece of long work.

    `share` done, 0 to 1; `state` is waiting, running, done, failed or stopped; `result` what the work gave back;
    `error` the InputError that ended it.
    """

    id: str
    key: str
    title: str
    back: str
    """Address of the page that shows the result."""
    share: float = 0.0
    state: str = "waiting"
    result: Any = None
    error: InputError | None = None
    _stop: threading.Event = field(default_factory=threading.Event)

    @property
    def going(self) -> bool:
        return self.state in ("waiting", "running")

    def report(self, share: float) -> None:
        """Tell how much is done. Raises Stopped when the user stopped the work."""
        self.share = max(self.share, min(1.0, float(share)))
        if self._stop.is_set():
            raise Stopped

    def stop(self) -> None:
        self._stop.set()

    @property
    def told_to_stop(self) -> bool:
        """Whether somebody wanted it stopped, be it too late."""
        return self._stop.is_set()

    def to_dict(self) -> dict[str, Any]:
        error = None if self.error is None else str(self.error)
        return {"id": self.id, "title": self.title, "share": self.share, "state": self.state, "error": error}


class Jobs:
    """The jobs of one application: two at a time, but for those that are brief; the same work never twice at once."""

    def __init__(self) -> None:
        self._waiting: queue.SimpleQueue[tuple[Job, Callable[[Job], Any]]] = queue.SimpleQueue()
        self._workers: list[threading.Thread] = []
        self._lock = threading.Lock()
        self._all: dict[str, Job] = {}

    def start(
        self,
        key: str,
        title: str,
        back: str,
        work: Callable[[Job], Any],
        *,
        fresh: bool = False,
        brief: bool = False,
    ) -> Job:
        """The job of this key: the one that is going or done, or else a new one that does `work(job)`.

        `key` names all that the result depends on. `fresh`: begin anew although one is done. `brief`: work of a second
        or two, which does not stand in line behind fits and years.
        """
        with self._lock:
            there = self.last(key)
            if there is not None and (there.going or (there.state == "done" and not fresh)):
                return there
            job = Job(secrets.token_hex(8), key, title, back)
            self._all[job.id] = job
            if brief:
                threading.Thread(target=self._run, args=(job, work), name="brief job", daemon=True).start()
            elif len(self._workers) < AT_ONCE:
                # daemons: work that is long in coming to its next report does not keep the program from ending
                worker = threading.Thread(target=self._work, name=f"job-{len(self._workers)}", daemon=True)
                self._workers.append(worker)
                worker.start()
            for old in [j for j in self._all.values() if not j.going][: max(0, len(self._all) - MOST)]:
                del self._all[old.id]
        if not brief:
            self._waiting.put((job, work))
        return job

    def find(self, id_: str) -> Job | None:
        return self._all.get(id_)

    def last(self, key: str) -> Job | None:
        """The newest job of a key, whatever became of it; None where there is none."""
        return next((j for j in reversed(list(self._all.values())) if j.key == key), None)

    def going(self, key: str) -> Job | None:
        """The work of this key that is not ended yet; None where there is none."""
        return next((j for j in list(self._all.values()) if j.key == key and j.going), None)

    def done(self, key: str) -> Any:
        """The result of finished work; None where there is none."""
        there = [j for j in self._all.values() if j.key == key and j.state == "done"]
        return there[-1].result if there else None

    def close(self) -> None:
        """Stop all that is going."""
        for job in list(self._all.values()):
            job.stop()

    def _work(self) -> None:
        while True:
            self._run(*self._waiting.get())

    @staticmethod
    def _run(job: Job, work: Callable[[Job], Any]) -> None:
        try:
            job.report(0.0)
            job.state = "running"
            job.result = work(job)
            job.share, job.state = 1.0, "done"
        except Stopped:
            job.state = "stopped"
        except InputError as error:
            job.error, job.state = error, "failed"
        except Exception as error:
            absent = missing(error.name or "") if isinstance(error, ModuleNotFoundError) else None
            said = f"a fault in the program: {type(error).__name__}"
            job.error, job.state = absent or InputError(said), "failed"
