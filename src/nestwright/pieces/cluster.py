"""Pieces worked on by a cluster of dask.distributed that is there already.

A cluster without TLS runs whatever anybody who reaches its port sends to it: only within a network of your own.
"""

from __future__ import annotations

import hashlib
import importlib.metadata
import logging
import re
import time
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Future
from pathlib import Path
from typing import Any

from nestwright import __version__
from nestwright.errors import InputError

__all__ = ["Cluster", "same_program"]

ADDRESS = re.compile(r"(?:tcp|tls)://(?:\[[0-9A-Fa-f:.]+\]|[^\s:/\[\]@]+):(\d{1,5})")
FORM = "tcp://HOST:PORT or tls://HOST:PORT of a running dask scheduler"
SECONDS_TO_ANSWER = 10
SECONDS_COUNTED = 2.0
"""How long the count of workers is believed: to ask for it is a way there and back."""
SECONDS_ALONE = 60.0
"""How long to wait for a worker to come back when none is left."""


class Cluster:
    """The workers of a scheduler, each with this very program: their sources and libraries are compared first."""

    def __init__(self, address: str) -> None:
        found = ADDRESS.fullmatch(address)
        if found is None or not 0 < int(found.group(1)) < 65536:
            raise InputError("is no address of a cluster", field="--cluster", found=repr(address[:80]), allowed=FORM)
        self.address = address
        self._alone_since: float | None = None
        self._count, self._count_again = 1, 0.0

    def __enter__(self) -> Cluster:
        from distributed import Client

        # its log would tell the same fault once more, over many lines
        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        try:
            self._client = Client(self.address, timeout=SECONDS_TO_ANSWER, set_as_default=False)
        except (OSError, ValueError, RuntimeError) as error:
            why = f"no answer within {SECONDS_TO_ANSWER} s" if isinstance(error, OSError) else type(error).__name__
            raise InputError(
                "no cluster answers there", field="--cluster", found=f"{self.address}: {why}", allowed=FORM
            ) from None
        try:
            self._compare()
        except BaseException:
            self._client.close()
            raise
        return self

    def __exit__(self, *error: object) -> None:
        self._client.close()

    @property
    def workers(self) -> int:
        """Pieces that the cluster works on at once; counted anew now and then, since workers come and go."""
        now = time.monotonic()
        if now > self._count_again:
            self._count, self._count_again = max(1, sum(self._client.nthreads().values())), now + SECONDS_COUNTED
        return self._count

    def submit(self, work: Callable[[Any], Any], piece: Any) -> Future[Any]:
        told: Future[Any] = Future()
        task = self._client.submit(work, piece, pure=False, retries=0)
        told.task = task  # type: ignore[attr-defined]
        task.add_done_callback(lambda one: _pass_on(one, told))
        return told

    def look(self) -> None:
        if self._client.nthreads():
            self._alone_since = None
            return
        now = time.monotonic()
        self._alone_since = self._alone_since or now
        if now - self._alone_since > SECONDS_ALONE or self._client.status != "running":
            raise InputError(
                "nobody is left to do the work", field="--cluster", found=f"{self.address} without workers",
                allowed="a cluster with a worker; what was done is lost",
            )  # fmt: skip

    def drop(self, futures: Sequence[Future[Any]]) -> None:
        self._client.cancel([one.task for one in futures], force=True)  # type: ignore[attr-defined]

    def _compare(self) -> None:
        try:
            self._client.wait_for_workers(1, timeout=SECONDS_TO_ANSWER)
        except TimeoutError:
            raise InputError(
                "the cluster has no workers", field="--cluster", found=self.address, allowed="at least one worker"
            ) from None
        here, there = same_program(), self._client.run(same_program, on_error="return")
        other = sorted(name for name, mark in there.items() if mark != here)
        if other:
            told = there[other[0]]
            found = f"{told:.60}" if isinstance(told, str) else f"{type(told).__name__}: {str(told)[:80]}"
            raise InputError(
                f"{len(other)} of {len(there)} workers have another program, so results would differ",
                field="--cluster", found=found, allowed=here,
            )  # fmt: skip


def same_program() -> str:
    """What results rest on: version and sources of this program, versions of the libraries that compute."""
    package = Path(__file__).parents[1]
    mark = hashlib.sha256()
    for path in sorted([*package.rglob("*.py"), *package.glob("data/*.toml")]):
        mark.update(path.relative_to(package).as_posix().encode() + b"\0" + path.read_bytes())
    names = ("numpy", "scipy", "numba")
    libraries = (f"{n} {importlib.metadata.version(n)}" for n in names)
    return " ".join([f"nestwright {__version__}", *libraries, mark.hexdigest()[:12]])


def _pass_on(task: Any, told: Future[Any]) -> None:
    """Result or error of a task of the cluster, to the future that waits for it."""
    if told.done():
        return
    if task.status == "finished":
        told.set_result(task.result())
        return
    if task.status == "cancelled":
        told.set_exception(BrokenExecutor("the cluster dropped a piece"))
        return
    error = task.exception()
    # that its workers died, and how often, is told by a class of the library
    told.set_exception(BrokenExecutor(str(error)) if type(error).__name__ == "KilledWorker" else error)
