"""The record's database: opened, brought to the newest form, written in whole transactions.

SQLite in WAL mode: a writer does not stop readers, and what was committed survives the end of the process and of the
machine (sqlite.org/wal.html; synchronous = FULL, sqlite.org/pragma.html).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import NullPool

from nestwright.errors import InputError

__all__ = ["HEAD", "open_database", "reading", "refusal_of", "writing"]

HEAD = "0001"
"""Newest form of the database that this program knows; a test holds it equal to the migrations."""
WAIT = 20.0
"""Seconds to wait for another process that is writing."""


def open_database(path: Path, *, create: bool = False) -> Engine:
    """The engine of a workshop's database, in its newest form.

    Raises
    ------
    InputError
        When there is none and `create` is not set, when it is no database, is broken, cannot be written to, or comes
        from a newer version of the program.
    """
    if not create and not path.is_file():
        raise InputError("there is no record here", file=str(path), allowed="a workshop, made by `nestwright workshop`")
    engine = create_engine(f"sqlite:///{path}", poolclass=NullPool, connect_args={"timeout": WAIT})
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    with refused(path):
        version = _version(engine)
        if version is None:
            if not create and path.stat().st_size > 0 and _has_tables(engine):
                raise InputError("is a database, but not of a workshop", file=str(path))
        elif version != HEAD and version > HEAD:
            raise InputError(
                "was written by a newer version of this program, which must be installed to open it",
                file=str(path),
                found=f"form {version}",
                allowed=f"form {HEAD} or older",
            )
        if version != HEAD:
            from nestwright.workshop.migrations.upgrade import upgrade

            upgrade(engine)
    return engine


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


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """One transaction that writes: all of it, or nothing. Raises InputError for a full disk, a place that can only be
    read, or a database that another process holds for too long."""
    with refused(Path(engine.url.database or "")), engine.connect() as opened:
        connection = opened.execution_options(writes=True)
        with connection.begin():
            yield connection


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """One transaction that reads: everything as it was at one moment."""
    with refused(Path(engine.url.database or "")), engine.connect() as connection, connection.begin():
        yield connection


@contextmanager
def refused(path: Path) -> Iterator[None]:
    """Faults of the database as InputErrors of its file."""
    try:
        yield
    except DatabaseError as error:
        raise refusal_of(error, path) from error


FAULTS = {
    "database or disk is full": "the disk is full; nothing was written",
    "disk i/o error": "the disk cannot be read or written; nothing was written",
    "attempt to write a readonly database": "can only be read, not written",
    "unable to open database file": "cannot be opened: the folder is missing or may not be written to",
    "database is locked": "is held by another process; nothing was written, try again",
    "malformed": "is damaged: restore it from a backup (nestwright backup --restore)",
    "file is not a database": "is no database of this program",
    "not a database": "is no database of this program",
}


def refusal_of(error: DatabaseError, path: Path) -> Exception:
    """The InputError for a fault of the database that lies with its file or disk; the fault itself otherwise."""
    said = str(error.orig).lower()
    for part, message in FAULTS.items():
        if part in said:
            return InputError(message, file=str(path))
    return error if not isinstance(error, OperationalError) else InputError(said, file=str(path))


def _version(engine: Engine) -> str | None:
    with engine.connect() as connection:
        there = connection.execute(text("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'")).first()
        if there is None:
            return None
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        return None if found is None else str(found)


def _has_tables(engine: Engine) -> bool:
    with engine.connect() as connection:
        return connection.execute(text("SELECT 1 FROM sqlite_master WHERE type = 'table' LIMIT 1")).first() is not None
