"""Making a folder whole or not at all, and the scratch folders in which that is done."""

from __future__ import annotations

import re
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from nestwright.errors import InputError

try:
    import fcntl
except ImportError:  # a system without these locks
    fcntl = None  # type: ignore[assignment]

__all__ = ["LEFT_AFTER", "check_new_folder", "new_folder", "scratch_folder"]

LEFT_AFTER = 86400.0
"""Seconds after which a scratch folder that nothing touched, and whose owner cannot be asked for, was left behind by a
process that was killed."""
HELD = "held"
"""A file in a scratch folder that its process holds locked: the system lets go of it however the process ends."""


def check_new_folder(folder: Path, what: str) -> None:
    """Raise InputError where a folder cannot be made new: it is not empty, is a file, or what it is to lie in is not
    there or takes none. Asked before long work.

    `what` is put into it, for the message: "a backup".
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError(f"is not empty: {what} is put into a new folder", file=str(folder))
    if not folder.parent.is_dir():
        raise InputError("the folder to write into is not there", file=str(folder), found=str(folder.parent))
    try:
        tempfile.TemporaryDirectory(dir=folder.parent, prefix=_prefix("try")).cleanup()
    except OSError as error:
        raise InputError("cannot write", file=str(folder), found=error.strerror or str(error)) from None


@contextmanager
def new_folder(folder: Path, what: str, task: str) -> Iterator[Path]:
    """Give an empty folder beside `folder`; on leaving without error it becomes `folder` in one step.

    After an error or an interrupt it is gone and `folder` is as it was. `task` names the scratch folder.

    Raises
    ------
    InputError
        As `check_new_folder`, and when something cannot be written.
    """
    check_new_folder(folder, what)
    try:
        with scratch_folder(folder.parent, task) as place:
            fresh = place / "new"
            fresh.mkdir()
            yield fresh
            if folder.exists():
                folder.rmdir()
            fresh.rename(folder)
    except OSError as error:
        raise InputError("cannot write", file=str(folder), found=error.strerror or str(error)) from None


@contextmanager
def scratch_folder(parent: Path, task: str) -> Iterator[Path]:
    """A hidden folder in `parent` that is gone on leaving. Those of the same task that were left there go first.

    Raises OSError where it cannot be made.
    """
    _sweep(parent, task)
    with tempfile.TemporaryDirectory(dir=parent, prefix=_prefix(task)) as place, _holding(Path(place)):
        yield Path(place)


@contextmanager
def _holding(place: Path) -> Iterator[None]:
    """Hold the lock of a scratch folder. Where the system has no such locks there is none, and a day is waited."""
    if fcntl is None:
        yield
        return
    fresh = place / f".{HELD}"
    with fresh.open("wb") as file:
        with suppress(OSError):
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            fresh.rename(place / HELD)  # nobody finds it before it is locked
        yield


def _let_go(place: Path) -> bool:
    """Whether the process that made a scratch folder has ended: its lock is free."""
    if fcntl is None:
        return False
    try:
        with (place / HELD).open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _prefix(task: str) -> str:
    return f".nestwright-{task}-"


def _sweep(parent: Path, task: str) -> None:
    """Remove scratch folders of a task that a killed process left: by our own form of name, its lock free, or without a
    lock and untouched for a day."""
    ours = re.compile(re.escape(_prefix(task)) + r"[a-z0-9_]{8}")
    for place in parent.glob(f"{_prefix(task)}*"):
        if not ours.fullmatch(place.name) or place.is_symlink() or not place.is_dir():
            continue
        if _let_go(place):
            shutil.rmtree(place, ignore_errors=True)
            continue
        if (place / HELD).exists():
            continue
        try:
            last = max(one.lstat().st_mtime for one in (place, *place.rglob("*")))
        except OSError:  # another process is just taking it away
            continue
        if time.time() - last > LEFT_AFTER:
            shutil.rmtree(place, ignore_errors=True)
