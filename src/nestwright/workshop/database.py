"""The record's database: opened, brought to the newest form, written in whole transactions.

SQLite in WAL mode: a writer does not stop readers, and what was committed survives the end of the process and of the
machine (sqlite.org/wal.html; synchronous = FULL, sqlite.org/pragma.html).
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import NullPool

from nestwright.errors import InputError

__all__ = ["HEAD", "NewerFormError", "link_to", "open_database", "reading", "refusal_of", "writing"]

HEAD = "0003"
"""Newest form of the database that this program knows; a test holds it equal to the migrations."""
WAIT = 20.0
"""Seconds to wait for another process that is writing."""


class NewerFormError(InputError):
    """A record that a newer version of the program brought to its own form, be it while this one had it open."""

    def __init__(self, path: Path, found: str, message: str) -> None:
        super().__init__(message, file=str(path), found=f"form {found[:20]}", allowed=f"form {HEAD} or older")


def open_database(path: Path, *, create: bool = False, form: str = HEAD) -> Engine:
    """The engine of a workshop's database, in its newest form; a new one may be made in an older `form`.

    Raises
    ------
    InputError
        When there is none and `create` is not set, when it is no database, is broken, cannot be written to, or
        (NewerFormError) comes from a newer version of the program.
    """
    if not create and not path.is_file():
        raise InputError("there is no record here", file=str(path), allowed="a workshop, made by `nestwright workshop`")
    engine = create_engine(
        f"sqlite:///{path}",
        poolclass=NullPool,
        creator=lambda: link_to(path, create=create),
    )
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    with refused(path):
        version = None if create and not path.exists() else _version(path)
        if version is not None and version > HEAD:
            raise NewerFormError(
                path, version, "was written by a newer version of this program, which must be installed to open it"
            )
        if version != form:
            from nestwright.workshop.migrations.upgrade import upgrade

            upgrade(engine, form)
    return engine


def link_to(path: Path, *, create: bool = False) -> sqlite3.Connection:
    """The bare driver's connection to a database, which never makes an empty one where one is gone.

    In a folder that can only be read there is no place for the log that readers share: the file is then read as it
    lies, unless a log is there already (sqlite.org/wal.html, read-only databases).
    """
    mode = "rwc" if create else "rw"
    if not create and not os.access(path.parent, os.W_OK) and not path.with_name(f"{path.name}-wal").exists():
        mode = "ro&immutable=1"
    place = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(place, uri=True, timeout=WAIT, check_same_thread=False)


def _version(path: Path) -> str:
    """The form of a database that is there, looked up before anything is set in it.

    Raises InputError when it is empty or not of a workshop, and what the driver raises.
    """
    if not path.stat().st_size:
        raise InputError("is empty: restore it from a backup (nestwright backup --restore)", file=str(path))
    # not read-only in the driver's sense: a log left beside it by a process that was killed has to be read back in
    link = link_to(path)
    try:
        there = {row[0] for row in link.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        if not {"alembic_version", "workshop", "colony", "change"} <= there:
            raise InputError("is a database, but not of a workshop", file=str(path))
        found = link.execute("SELECT version_num FROM alembic_version").fetchone()
    finally:
        link.close()
    if found is None:
        raise InputError("does not tell its form: restore it from a backup", file=str(path))
    return str(found[0])


def _prepare(connection: Any, _: Any) -> None:
    # the driver's own transactions begin late and deferred: ours begin where we say
    connection.isolation_level = None
    cursor = connection.cursor()
    for setting in (
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        f"busy_timeout = {1000 * WAIT:.0f}",
    ):
        try:
            cursor.execute(f"PRAGMA {setting}")
        except Exception as error:
            # a folder that can only be read still opens; what is written there is refused then
            if "readonly" not in str(error):
                raise
    cursor.close()


def _begin(connection: Connection) -> None:
    # a writer takes its turn at once and so never fails half-way for another one
    connection.exec_driver_sql("BEGIN IMMEDIATE" if connection.get_execution_options().get("writes") else "BEGIN")


_turns: dict[str, threading.Lock] = {}


@contextmanager
def _turn(path: str) -> Iterator[None]:
    """Writers of one process take turns as they came. SQLite's own waiting asks anew after ever longer pauses, and of
    many who wait so one can wait for seconds while others pass; now at most one of a process does."""
    lock = _turns.setdefault(path, threading.Lock())
    if not lock.acquire(timeout=WAIT):
        raise InputError(BUSY, file=path)
    try:
        yield
    finally:
        lock.release()


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """One transaction that writes: all of it, or nothing. Raises InputError for a full disk, a place that can only be
    read, or a database that another process holds for too long."""
    path = engine.url.database or ""
    with refused(Path(path)), _turn(path), engine.connect() as opened:
        connection = opened.execution_options(writes=True)
        with connection.begin():
            _still_known(connection, Path(path))
            yield connection


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """One transaction that reads: everything as it was at one moment."""
    path = Path(engine.url.database or "")
    with refused(path), engine.connect() as connection, connection.begin():
        _still_known(connection, path)
        yield connection


def _still_known(connection: Connection, path: Path) -> None:
    """That nobody brought the record to a newer form since it was opened: what this program knows of its tables would
    be wrong. Raises NewerFormError."""
    found = str(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() or "")
    if found > HEAD:
        raise NewerFormError(path, found, CHANGED)


CHANGED = "this workshop has been brought to a newer form: end what runs on it, start it anew, with the newer version"


@contextmanager
def refused(path: Path) -> Iterator[None]:
    """Faults of the database as InputErrors of its file, those of the bare driver too.

    A damaged file may also give rows that cannot be: what fails on them is told as damage when the file shows some.
    """
    try:
        yield
    except (DatabaseError, sqlite3.DatabaseError) as error:
        raise refusal_of(error, path) from error
    except InputError:
        raise
    except UnicodeDecodeError as error:
        raise InputError(DAMAGED, file=str(path)) from error
    except (ValueError, TypeError, LookupError, ArithmeticError) as error:
        if _is_damaged(path):
            raise InputError(DAMAGED, file=str(path)) from error
        raise


def _is_damaged(path: Path) -> bool:
    """Whether the database's own check finds a fault, in its pages or in the rules of its tables."""
    try:
        link = sqlite3.connect(path, timeout=WAIT)
        try:
            return bool(link.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok")
        finally:
            link.close()
    except sqlite3.DatabaseError:
        return True


BUSY = "is held by another process; nothing was written, try again"
DAMAGED = "is damaged: restore it from a backup (nestwright backup --restore)"
FAULTS = {
    "database or disk is full": "the disk is full; nothing was written",
    "disk i/o error": "the disk cannot be read or written; nothing was written",
    "attempt to write a readonly database": "can only be read, not written",
    "unable to open database file": "cannot be opened: the folder is missing or may not be written to",
    "database is locked": BUSY,
    "malformed": DAMAGED,
    "file is not a database": "is no database of this program",
    "not a database": "is no database of this program",
}


def refusal_of(error: DatabaseError | sqlite3.DatabaseError, path: Path) -> Exception:
    """The InputError for a fault of the database that lies with its file or disk; the fault itself otherwise."""
    inner = error.orig if isinstance(error, DatabaseError) else error
    said = " ".join(str(inner).split())[:200]
    if "unable to open" in said.lower() and path.parent.is_dir() and not path.exists():
        return InputError("is missing: restore it from a backup (nestwright backup --restore)", file=str(path))
    for part, message in FAULTS.items():
        if part in said.lower():
            return InputError(message, file=str(path))
    if isinstance(inner, sqlite3.OperationalError) or type(inner) is sqlite3.DatabaseError:
        return InputError("cannot be used", file=str(path), found=said)
    return error
