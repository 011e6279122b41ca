"""The whole record as open files and back without loss: CSV for tables, Parquet for readings, TOML about them."""

from __future__ import annotations

import hashlib
import sqlite3
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from sqlalchemy import Boolean, Connection, Float, Integer, MetaData, Table, create_engine, select
from sqlalchemy.exc import IntegrityError, StatementError
from sqlalchemy.types import TypeEngine

from nestwright.errors import InputError, nearest_name
from nestwright.new_folder import new_folder
from nestwright.workshop.arriving import settle
from nestwright.workshop.database import HEAD, open_database, reading, writing
from nestwright.workshop.folder import DATABASE, Workshop, create_workshop
from nestwright.workshop.migrations.upgrade import forms, upgrade
from nestwright.workshop.readings import read_raw, store_readings
from nestwright.workshop.tables import RECORD, alarm, change, channel
from nestwright.workshop.tables import SERIES as IN_BULK
from nestwright.workshop.tables import workshop as settings

__all__ = ["export_record", "import_record"]

ABOUT = "workshop.toml"
SERIES = "readings"
TABLES: tuple[Table, ...] = (*RECORD, alarm, change)
Progress = Callable[[float], None]


def export_record(workshop: Workshop, folder: Path, progress: Progress | None = None) -> dict[str, int]:
    """Write the record into a new folder; rows by table. One moment of the record, whole or not at all.

    Raises InputError for a folder that is there and not empty, or cannot be written, or while a large file is imported.
    """
    settle(workshop)  # what is on its way to its place would be told twice
    with new_folder(folder, "the record", "export") as fresh:
        (fresh / SERIES).mkdir()
        rows = _write(workshop, fresh, progress or (lambda share: None))
    return rows


def _write(workshop: Workshop, fresh: Path, told: Progress) -> dict[str, int]:
    import polars

    rows: dict[str, int] = {}
    with reading(workshop.engine) as connection:
        for table in TABLES:
            found = connection.execute(select(table).order_by(*table.primary_key.columns)).all()
            schema = {c.name: _polars_type(c.type) for c in table.columns}
            frame = polars.DataFrame([tuple(row) for row in found], schema=schema, orient="row")
            # text in quotes, nothing for null: so that an empty text and no text stay apart
            frame.write_csv(fresh / f"{table.name}.csv", quote_style="non_numeric", null_value="")
            rows[table.name] = len(frame)
        ids = connection.execute(select(channel.c.id).order_by(channel.c.id)).scalars().all()
        rows["reading"] = 0
        for i, one in enumerate(ids):
            series = read_raw(connection, int(one))
            frame = polars.DataFrame({"at": series.at, "value": series.value})
            frame.write_parquet(fresh / SERIES / f"channel-{one}.parquet")
            rows["reading"] += len(frame)
            told((i + 1) / len(ids))
        zone = connection.execute(select(settings.c.value).where(settings.c.key == "zone")).scalar()
    sums = {file.relative_to(fresh).as_posix(): _sum(file) for file in sorted(fresh.rglob("*")) if file.is_file()}
    lines = [
        "# The record of a workshop: a CSV for each table; readings as Parquet, `at` UTC ms, `value` raw.",
        "# A file that is not what its sum says is not taken back: change the record with its own commands.",
        f'form = "{HEAD}"',
        f'zone = "{zone}"',
        "[rows]",
        *(f"{name} = {n}" for name, n in rows.items()),
        "[sha256]",
        *(f'"{name}" = "{digest}"' for name, digest in sums.items()),
    ]
    (fresh / ABOUT).write_text("\n".join(lines) + "\n", "utf-8")
    return rows


def import_record(source: Path, folder: Path, progress: Progress | None = None) -> dict[str, int]:
    """Make a workshop in a new folder from files written by `export_record`; rows by table. Whole or not at all.

    Raises InputError, with file and line where there is one, for files that are missing, changed or do not fit.
    """
    about = _about(source)
    try:
        with new_folder(folder, "a record", "import") as fresh:
            made = create_workshop(fresh, str(about["zone"]))
            try:
                rows = _read(made, source, about, progress or (lambda share: None))
            except (IntegrityError, sqlite3.IntegrityError, StatementError) as error:
                found = " ".join(str(getattr(error, "orig", error)).split())[:200]
                raise InputError("does not fit the record's tables", file=str(source), found=found) from None
            made.engine.dispose()
    except InputError as error:
        if Path(error.file).name == DATABASE:  # of the folder that is gone again
            error.file = str(folder)
        raise
    return rows


def _about(source: Path) -> dict[str, Any]:
    file = source / ABOUT
    try:
        about = tomllib.loads(file.read_text("utf-8"))
    except OSError:
        raise InputError(f"is no exported record: {ABOUT} is not there or cannot be read", file=str(source)) from None
    except ValueError as error:
        raise InputError("is no TOML", file=str(file), found=str(error)) from None
    if str(about.get("form")) > HEAD:
        found = f"form {about.get('form')}"[:60]
        raise InputError("was written by a newer version of this program", file=str(file), found=found)
    if about.get("form") not in forms():
        found = f"form {about.get('form')}"[:60]
        raise InputError("is of a form that the record never had", file=str(file), found=found, allowed=f"form {HEAD}")
    if not all(isinstance(about.get(k), dict) for k in ("rows", "sha256")) or not isinstance(about.get("zone"), str):
        raise InputError("does not tell zone, rows and sums", file=str(file))
    for name in [f"{table.name}.csv" for table in tables_of(about["form"])]:
        if name not in about["sha256"]:
            raise InputError("does not name a table", file=str(file), found=f"no {name}")
    for name, expected in about["sha256"].items():
        try:
            found = _sum(source / name)
        except OSError as error:
            raise InputError("cannot be read", file=str(source / name), found=error.strerror or "") from None
        if found != expected:
            raise InputError("is not what was exported: its sum differs", file=str(source / name))
    return about


def tables_of(form: str) -> tuple[Table, ...]:
    """The tables of an export as the record had them in a form."""
    if form == HEAD:
        return TABLES
    engine, found = create_engine("sqlite://"), MetaData()
    upgrade(engine, form)
    found.reflect(engine)
    left_out = {one.name for one in IN_BULK} | {"alembic_version"}
    return tuple(table for table in found.sorted_tables if table.name not in left_out)


def _sum(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def _read(made: Workshop, source: Path, about: dict[str, Any], told: Progress) -> dict[str, int]:
    form = about["form"]
    if form == HEAD:
        with writing(made.engine) as connection:
            rows = _read_tables(connection, source, about)
            rows["reading"] = _read_series(connection, source, told)
            _check(connection, source, about, rows["reading"])
        return rows
    # filled as it was, then brought to the newest form by the same steps as a record in use
    for end in ("", "-wal", "-shm"):
        Path(f"{made.database}{end}").unlink(missing_ok=True)
    engine = open_database(made.database, create=True, form=form)
    with writing(engine) as connection:
        rows = _read_tables(connection, source, about)
    engine.dispose()
    newest = Workshop(made.folder)
    with writing(newest.engine) as connection:
        rows["reading"] = _read_series(connection, source, told)
        _check(connection, source, about, rows["reading"])
    newest.engine.dispose()
    return rows


def _read_tables(connection: Connection, source: Path, about: dict[str, Any]) -> dict[str, int]:
    rows: dict[str, int] = {}
    connection.exec_driver_sql("DELETE FROM workshop")
    connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
    for table in tables_of(about["form"]):
        found = _table(source / f"{table.name}.csv", table)
        if found:
            connection.execute(table.insert(), found)
        rows[table.name] = len(found)
        _agree(source / f"{table.name}.csv", about, table.name, len(found))
    return rows


def _read_series(connection: Connection, source: Path, told: Progress) -> int:
    import polars

    ids = connection.execute(select(channel.c.id)).scalars().all()
    rows = 0
    for i, one in enumerate(ids):
        file = source / SERIES / f"channel-{one}.parquet"
        try:
            frame = polars.read_parquet(file, columns=["at", "value"])
            at, value = frame["at"].cast(polars.Int64).to_numpy(), frame["value"].cast(polars.Float64).to_numpy()
        except (OSError, polars.exceptions.PolarsError) as error:
            said = " ".join(str(error).split())[:160]
            raise InputError("cannot be read", file=str(file), found=said) from None
        rows += store_readings(connection, int(one), at, value).added
        told((i + 1) / len(ids))
    return rows


def _check(connection: Connection, source: Path, about: dict[str, Any], readings: int) -> None:
    _agree(source / SERIES, about, "reading", readings)
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
    if broken is not None:
        raise InputError("a row points to nothing", file=str(source / f"{broken[0]}.csv"), found=f"row {broken[1]}")


def _agree(file: Path, about: dict[str, Any], name: str, n: int) -> None:
    told = about["rows"].get(name)
    if told != n:
        raise InputError("does not hold as many rows as it did", file=str(file), found=f"{n}", allowed=f"{told}")


def _table(file: Path, table: Table) -> list[dict[str, Any]]:
    import polars

    names = [c.name for c in table.columns]
    try:
        head = polars.read_csv(file, n_rows=0).columns
        if head != names:
            other = next((n for n in head if n not in names), next((n for n in names if n not in head), head[0]))
            raise InputError(
                "has other columns",
                file=str(file),
                line=1,
                found=", ".join(head)[:200],
                allowed=", ".join(names),
                nearest=nearest_name(other, names),
            )
        schema = {c.name: _polars_type(c.type) for c in table.columns}
        frame = polars.read_csv(file, schema=schema)
    except (OSError, polars.exceptions.PolarsError) as error:
        raise InputError("cannot be read", file=str(file), found=" ".join(str(error).split())[:160]) from None
    return frame.to_dicts()


def _polars_type(kind: TypeEngine[Any]) -> Any:
    import polars

    if isinstance(kind, Boolean):
        return polars.Boolean
    if isinstance(kind, Integer):  # big ones are of this sort too
        return polars.Int64
    return polars.Float64 if isinstance(kind, Float) else polars.String
