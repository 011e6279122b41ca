"""The page's server, forked from a process that has read the program already: that takes a test a second and more."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from urllib.request import urlopen

KNOWN = ["nestwright.cli.serve", "nestwright.web.app", "nestwright.web.serving"]


def answers(address: str) -> bool:
    """Whether a page is served there."""
    try:
        urlopen(f"{address}/history", timeout=5).close()
    except OSError:
        return False
    return True


def _run(arguments: list[str], told: Path) -> None:
    from nestwright.cli import main

    with told.open("w", buffering=1) as out, redirect_stdout(out):
        main.run(arguments)


@contextmanager
def forked(folder: Path) -> Iterator[str]:
    """Address of the page of a workshop in a process of its own, once it answers."""
    start = multiprocessing.get_context("forkserver")
    start.set_forkserver_preload(KNOWN)
    told = folder.with_name(f"{folder.name}.told")
    told.unlink(missing_ok=True)
    process = start.Process(target=_run, args=(["serve", "--port", "0", "--workshop", str(folder)], told))
    process.start()
    try:
        yield _answering(process, told)
    finally:
        process.terminate()
        process.join(10)


def _answering(process: multiprocessing.process.BaseProcess, told: Path) -> str:
    for _ in range(1200):
        if told.exists() and "\n" in (said := told.read_text("utf-8")):
            address = said.partition("\n")[0].split()[-1]
            if answers(address):
                return address
        assert process.exitcode is None, "the server has ended"
        time.sleep(0.02)
    raise AssertionError("the server does not answer")
