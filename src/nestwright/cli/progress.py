"""How long work tells how far it is: a bar where the error output is a terminal, else a plain line now and then."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["FIRST_LINE", "LINE_EVERY", "PlainProgress", "Shown", "progress_bar"]

FIRST_LINE = 5.0
"""Seconds that work has lasted before a line is written: short work says nothing."""

LINE_EVERY = 10.0
"""Least seconds between two lines."""


class Shown(Protocol):
    """What work needs of a bar: a task with its whole (None: unknown), and how far it has come."""

    def add_task(self, description: str, *, total: float | None) -> Any: ...

    def update(self, task_id: Any, *, completed: float | None = None, description: str | None = None) -> None: ...


class PlainProgress:
    """A line such as "fitting the record: 25 %" on the error output, for work that lasts; no bar, no blank line."""

    def __init__(self, write: Callable[[str], object], clock: Callable[[], float] = time.monotonic) -> None:
        self._write, self._clock = write, clock
        self._due = clock() + FIRST_LINE
        self._tasks: list[tuple[str, float | None]] = []

    def __enter__(self) -> PlainProgress:
        return self

    def __exit__(self, *_: object) -> None:
        return None

    def add_task(self, description: str, *, total: float | None) -> int:
        self._tasks.append((description, total))
        return len(self._tasks) - 1

    def update(self, task_id: int, *, completed: float | None = None, description: str | None = None) -> None:
        name, total = self._tasks[task_id]
        if description is not None:
            name = description
            self._tasks[task_id] = (name, total)
        now = self._clock()
        if now < self._due or (total and completed is not None and completed >= total):
            return
        self._due = now + LINE_EVERY
        share = f": {100 * completed / total:.0f} %" if total and completed is not None else ""
        self._write(f"{name}{share}\n")


def progress_bar(quiet: bool = False, *, counted: bool = True) -> AbstractContextManager[Shown]:
    """A bar on the error output where that is a terminal, else plain lines there for work that lasts.

    Parameters
    ----------
    quiet : bool
        No bar on a terminal, for a command that prints JSON. The lines go to a file or a pipe, and are written still.
    counted : bool
        False where the end of the work is unknown: a turning mark stands in place of the bar.
    """
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal or console.is_dumb_terminal:
        return PlainProgress(_to_error_output)
    return _bar(console, quiet, counted)


def _bar(console: Console, quiet: bool, counted: bool) -> Any:
    from rich.progress import BarColumn, Progress, ProgressColumn, SpinnerColumn, TextColumn, TimeRemainingColumn

    text = TextColumn("{task.description}")
    columns: tuple[ProgressColumn, ...] = (text, BarColumn(), TimeRemainingColumn())
    if not counted:
        columns = (SpinnerColumn("line"), text)
    return Progress(*columns, console=console, transient=True, disable=quiet)


def _to_error_output(line: str) -> None:
    sys.stderr.write(line)
    sys.stderr.flush()
