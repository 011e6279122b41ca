"""A workshop in one file, verified, while it is in use; and back again into an empty folder.

A zip file (ISO/IEC 21320-1) with the database, copied page by page by SQLite's own online backup
(sqlite.org/backup.html), every other file of the workshop, and a list of their SHA-256 sums.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nestwright.errors import InputError
from nestwright.files import check_place, replacing
from nestwright.new_folder import check_new_folder, new_folder, scratch_folder
from nestwright.workshop.database import HEAD, link_to
from nestwright.workshop.folder import DATABASE, Workshop

__all__ = ["Copied", "back_up", "restore", "verify"]

LIST = ".contents.json"  # a name that no file of a workshop in the backup has
PIECE = 1 << 20
PAGES = 4096
"""Pages of the database that are copied between two signs of progress."""


@dataclass(frozen=True)
class Copied:
    """A backup: its file, how many files are in it, their bytes, and rows of the record by table."""

    file: str
    files: int
    size: int
    rows: dict[str, int]

    def to_dict(self) -> dict[str, Any]:
        return {"file": self.file, "files": self.files, "bytes": self.size, "rows": self.rows}


def back_up(workshop: Workshop, target: Path, progress: Callable[[float], None] | None = None) -> Copied:
    """Write a verified backup of a workshop; the workshop may be in use meanwhile.

    Raises InputError when the workshop's database is damaged, or the target cannot be written.
    """
    told = progress or (lambda share: None)
    rows: dict[str, int] = {}
    sums: dict[str, str] = {}
    check_place(target)
    try:
        with scratch_folder(target.parent, "backup") as place:
            copy, packed = place / DATABASE, place / "backup.zip"
            copy_database(workshop.database, copy, lambda share: told(0.4 * share))
            rows = _judged(copy, workshop.database)
            with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as made:
                sums[DATABASE] = _put(made, copy, DATABASE)
                told(0.7)
                inside = list(_files(workshop.folder, target))
                for i, file in enumerate(inside):
                    name = file.relative_to(workshop.folder).as_posix()
                    sums[name] = _put(made, file, name)
                    told(0.7 + 0.2 * (i + 1) / len(inside))
                contents = {"form": HEAD, "rows": rows, "sha256": sums}
                made.writestr(LIST, json.dumps(contents, indent=1, ensure_ascii=False))
            verify(packed, shown=str(target))
            with replacing(target) as scratch:
                packed.replace(scratch)
            told(1.0)
    except OSError as error:
        raise InputError("cannot write", file=str(target), found=error.strerror or str(error)) from None
    return Copied(str(target), len(sums), target.stat().st_size, rows)


def verify(file: Path, shown: str = "") -> dict[str, Any]:
    """The list of contents of a backup, after every file in it was held against its sum.

    Raises InputError for a file that is no backup or is damaged.
    """
    shown = shown or str(file)
    try:
        with zipfile.ZipFile(file) as made:
            contents: dict[str, Any] = json.loads(made.read(LIST))
            contents["form"], contents["sha256"][DATABASE]  # what any backup tells
            for name, expected in contents["sha256"].items():
                with made.open(name) as inside:
                    if _sum(inside) != expected:
                        raise InputError("is damaged: a file in it is not what it was", file=shown, found=name)
    except OSError as error:
        raise InputError("cannot be read", file=shown, found=error.strerror or str(error)) from None
    except (zipfile.BadZipFile, zipfile.LargeZipFile, KeyError, ValueError, TypeError, EOFError, NotImplementedError):
        raise InputError("is damaged, or no backup of a workshop", file=shown) from None
    except Exception as error:
        if isinstance(error, InputError):
            raise
        # zlib tells of damaged data by an error of its own
        raise InputError("is damaged", file=shown, found=str(error)) from None
    return contents


def restore(file: Path, folder: Path, progress: Callable[[float], None] | None = None) -> Copied:
    """Unpack a backup into a folder that is not there yet or is empty: all of it, or nothing.

    Raises InputError for a folder with something in it, and as `verify`.
    """
    check_new_folder(folder, "a backup")
    contents = verify(file)
    if str(contents["form"]) > HEAD:
        raise InputError(
            "was written by a newer version of this program", file=str(file), found=f"form {contents['form']}"
        )
    with new_folder(folder, "a backup", "restore") as fresh:
        rows = _unpack(file, fresh, list(contents["sha256"]), progress or (lambda share: None))
    return Copied(str(file), len(contents["sha256"]), file.stat().st_size, rows)


def _unpack(file: Path, fresh: Path, names: list[str], told: Callable[[float], None]) -> dict[str, int]:
    from nestwright.workshop.folder import FOLDERS

    with zipfile.ZipFile(file) as made:
        for i, name in enumerate(names):
            inside = (fresh / name).resolve()
            if not inside.is_relative_to(fresh.resolve()):
                raise InputError("holds a file that would lie outside the workshop", file=str(file), found=repr(name))
            made.extract(name, fresh)
            told((i + 1) / len(names))
    for name in FOLDERS:  # empty ones are not in a zip file
        (fresh / name).mkdir(exist_ok=True)
    return _judged(fresh / DATABASE, file)


def copy_database(source: Path, target: Path, progress: Callable[[float], None]) -> None:
    """Copy a database as it is at this moment, whoever writes to it meanwhile. Raises InputError."""

    def told(_: int, left: int, total: int) -> None:
        progress(1.0 - left / max(total, 1))

    try:
        old, new = link_to(source), sqlite3.connect(target)
        old.isolation_level = None
        try:
            # inside a transaction that reads, so that a writer does not make the copy begin anew, again and again
            old.execute("BEGIN")
            old.execute("SELECT count(*) FROM sqlite_master").fetchone()
            old.backup(new, pages=PAGES, progress=told, sleep=0)
            new.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
        finally:
            new.close()
            old.close()
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        where = target.parent.parent if "full" in str(error) or "disk" in str(error) else source
        raise InputError("the record cannot be copied", file=str(where), found=_said(error)) from None


def _judged(copy: Path, shown: Path) -> dict[str, int]:
    """Rows of every table of a copy. Raises InputError when it is damaged."""
    try:
        link = sqlite3.connect(copy)
        try:
            faults = [row[0] for row in link.execute("PRAGMA integrity_check(3)") if row[0] != "ok"]
            faults += [f"{row[0]} row {row[1]} points to nothing" for row in link.execute("PRAGMA foreign_key_check")]
            if faults:
                raise InputError("the record is damaged", file=str(shown), found=_said("; ".join(faults[:3])))
            names = [
                row[0] for row in link.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
            ]
            return {n: link.execute(f'SELECT count(*) FROM "{n}"').fetchone()[0] for n in names}
        finally:
            link.close()
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        raise InputError("the record is damaged", file=str(shown), found=_said(error)) from None


def _said(error: Any) -> str:
    """What the database says, in one line that is not too long."""
    return " ".join(str(error).split())[:200]


def _files(folder: Path, target: Path) -> Iterator[Path]:
    """Every file of a workshop but its database, the backup itself and what programs leave behind."""
    for file in sorted(folder.rglob("*")):
        name = file.name
        if not file.is_file() or file.is_symlink() or name.startswith((".", DATABASE)):
            continue
        if file.resolve() != target.resolve() and not any(p.startswith(".") for p in file.relative_to(folder).parts):
            yield file


def _put(made: zipfile.ZipFile, file: Path, name: str) -> str:
    """Put a file into the zip file; its sum."""
    total = hashlib.sha256()
    try:
        name.encode()
        source = file.open("rb")
    except (OSError, UnicodeEncodeError) as error:
        found = (error.strerror or "") if isinstance(error, OSError) else "a name that is no Unicode"
        raise InputError("cannot be read into the backup", file=ascii(str(file)), found=found) from None
    with source, made.open(name, "w", force_zip64=True) as target:
        while piece := source.read(PIECE):
            total.update(piece)
            target.write(piece)
    return total.hexdigest()


def _sum(source: Any) -> str:
    total = hashlib.sha256()
    while piece := source.read(PIECE):
        total.update(piece)
    return total.hexdigest()
