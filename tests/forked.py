"""Commands in processes of their own, forked from one that has read the program: reading it takes a test a second and
more. Each has its own memory, its own words and its own end: a signal to it is as one to a command."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from multiprocessing import forkserver
from multiprocessing.connection import Connection, wait
from pathlib import Path
from threading import Thread
from typing import Any

KNOWN = [
    "nestwright.cli.main",
    "nestwright.cli.listen",
    "nestwright.cli.serve",
    "nestwright.web.app",
    "nestwright.web.serving",
    "nestwright.workshop.live",
    "nestwright.workshop.live_door",
    "warm",
]


def _ready() -> Any:
    """The process that commands are forked from, which finds what lies here too."""
    start: Any = multiprocessing.get_context("forkserver")
    start.set_forkserver_preload(KNOWN)
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join([str(Path(__file__).parent), *([before] if before else [])])
    try:
        forkserver.ensure_running()
    finally:
        del os.environ["PYTHONPATH"]
        os.environ.update({} if before is None else {"PYTHONPATH": before})
    return start


def _end_with_the_tests() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    wait([parent.sentinel])
    os.kill(os.getpid(), signal.SIGKILL)


def _run(
    arguments: Sequence[str],
    folder: str,
    given: Mapping[str, str],
    out: Connection,
    err: Connection,
    first: Callable[[], None] | None,
) -> None:
    assert "warm" in sys.modules, "what a fork builds on was not read"
    Thread(target=_end_with_the_tests, daemon=True).start()
    for pipe, number, name in ((out, 1, "stdout"), (err, 2, "stderr")):
        os.dup2(pipe.fileno(), number)
        setattr(sys, name, os.fdopen(number, "w", encoding="utf-8", closefd=False))
    out.close()
    err.close()
    os.chdir(folder)
    os.environ.clear()
    os.environ.update(given)

    from nestwright.cli import main

    if first is not None:
        first()
    sys.argv = ["nestwright", *arguments]
    main.run(list(arguments))


class Forked:
    """A command that goes on, with what the tests ask of a `subprocess.Popen`; its faults are told among its words
    unless they are kept `apart`. `first` is called in its process before it begins."""

    def __init__(
        self,
        *arguments: str,
        cwd: Path | None = None,
        env: Mapping[str, str] | None = None,
        apart: bool = False,
        first: Callable[[], None] | None = None,
    ):
        start = _ready()
        said, out = start.Pipe(duplex=False)
        faults, err = start.Pipe(duplex=False)
        given = dict(os.environ if env is None else env)
        self._process = start.Process(
            target=_run, args=(arguments, str(cwd or Path.cwd()), given, out, err if apart else out, first)
        )
        self._process.start()
        out.close()
        err.close()
        self.stdout, self.stderr = (os.fdopen(os.dup(one.fileno()), encoding="utf-8") for one in (said, faults))
        said.close()
        faults.close()
        self.pid: int = self._process.pid

    @property
    def returncode(self) -> int | None:
        return self._process.exitcode

    def poll(self) -> int | None:
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        self._process.join(timeout)
        if self.returncode is None:
            raise subprocess.TimeoutExpired("nestwright", timeout or 0.0)
        return self.returncode

    def send_signal(self, number: int) -> None:
        if self.returncode is None:
            os.kill(self.pid, number)

    def terminate(self) -> None:
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def communicate(self, timeout: float | None = None) -> tuple[str, str]:
        """All that it says to its end, and of its faults."""
        told = {}

        def read(name: str) -> None:
            told[name] = getattr(self, name).read()

        readers = [Thread(target=read, args=(name,), daemon=True) for name in ("stdout", "stderr")]
        for one in readers:
            one.start()
        self.wait(timeout)
        for one in readers:
            one.join(timeout)
        return told["stdout"], told["stderr"]


def done(
    *arguments: str, cwd: Path | None = None, timeout: float = 120, check: bool = False
) -> subprocess.CompletedProcess[str]:
    """A command that has ended, as `subprocess.run` tells it."""
    one = Forked(*arguments, cwd=cwd, apart=True)
    try:
        out, err = one.communicate(timeout)
    finally:
        one.kill()
    assert one.returncode is not None
    made = subprocess.CompletedProcess(arguments, one.returncode, out, err)
    if check:
        made.check_returncode()
    return made
