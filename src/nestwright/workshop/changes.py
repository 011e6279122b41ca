"""Writing to the record with its history: what each act changed, and how to take it back."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, delete, func, insert, select, update

from nestwright.errors import InputError
from nestwright.letters import count_of
from nestwright.workshop.tables import RECORD, alarm, change, metadata

__all__ = ["Act", "Step", "act", "forget", "last_step", "now", "steps", "undo", "undone_by"]


def now() -> int:
    """This moment, UTC milliseconds."""
    return time.time_ns() // 1_000_000


@dataclass(frozen=True)
class Act:
    """One act of the user inside a transaction; its changes share a step and are taken back together."""

    connection: Connection
    step: int
    words: str
    undoes: int | None = None

    def add(self, table: Table, values: Mapping[str, Any]) -> int:
        """Insert a row; its id."""
        key = self.connection.execute(insert(table).values(**values)).inserted_primary_key
        row = int(key[0])  # type: ignore[index]
        self._keep(table, row, None, _row(self.connection, table, row))
        return row

    def change(self, table: Table, row: int, values: Mapping[str, Any]) -> None:
        """Change some columns of a row. Raises InputError when it is not there."""
        before = self._there(table, row)
        self.connection.execute(update(table).where(table.c.id == row).values(**values))
        after = _row(self.connection, table, row)
        if before != after:
            self._keep(table, row, before, after)

    def remove(self, table: Table, row: int) -> None:
        """Remove a row and those that belong to it, each kept in the history. Raises InputError for none."""
        self._there(table, row)
        for other in RECORD:
            for column in other.columns:
                for key in column.foreign_keys:
                    if key.column.table is table and key.ondelete in ("CASCADE", "SET NULL"):
                        for one in self.connection.execute(select(other.c.id).where(column == row)).scalars().all():
                            if key.ondelete == "CASCADE":
                                self.remove(other, int(one))
                            else:
                                self.change(other, int(one), {column.name: None})
        before = _row(self.connection, table, row)
        self.connection.execute(delete(table).where(table.c.id == row))
        self._keep(table, row, before, None)

    def _there(self, table: Table, row: int) -> dict[str, Any]:
        found = _row(self.connection, table, row)
        if found is None:
            raise InputError("is not in the record", field=f"{table.name} {row}")
        return found

    def _keep(self, table: Table, row: int, before: Any, after: Any) -> None:
        values = {
            "step": self.step,
            "at": now(),
            "act": self.words,
            "of_table": table.name,
            "row": row,
            "before": "" if before is None else json.dumps(before, ensure_ascii=False),
            "after": "" if after is None else json.dumps(after, ensure_ascii=False),
            "undoes": self.undoes,
        }
        self.connection.execute(insert(change).values(**values))


@dataclass(frozen=True)
class Step:
    """One act of the history: its number, when (UTC ms), in words, how many rows, and by which step it was undone."""

    step: int
    at: int
    act: str
    rows: int
    undone_by: int | None = None
    undoes: int | None = None

    def to_dict(self) -> dict[str, Any]:
        return dict(self.__dict__)


def act(connection: Connection, words: str, undoes: int | None = None) -> Act:
    """Begin an act in a transaction that writes."""
    last = connection.execute(select(func.max(change.c.step))).scalar() or 0
    return Act(connection, int(last) + 1, words, undoes)


def steps(connection: Connection, most: int = 50, *, only: int | None = None) -> list[Step]:
    """The last acts, the newest first; `only` that of one number."""
    columns = (change.c.step, func.max(change.c.at), func.max(change.c.act), func.count(), func.max(change.c.undoes))
    found = connection.execute(
        select(*columns)
        .where(*(() if only is None else (change.c.step == only,)))
        .group_by(change.c.step)
        .order_by(change.c.step.desc())
        .limit(most)
    ).all()
    undone = _undone(connection)
    return [Step(s, at, words, n, undone.get(s), undoes) for s, at, words, n, undoes in found]


def _undone(connection: Connection) -> dict[int, int]:
    """Each act that is taken back now, by which. Taking back a taking back puts the first act in force again."""
    pairs = connection.execute(
        select(change.c.step, change.c.undoes)
        .where(change.c.undoes.is_not(None))
        .distinct()
        .order_by(change.c.step.desc())
    )
    undone: dict[int, int] = {}
    for step, undoes in pairs:  # the newest first: it is in force unless a newer one took it back
        if step not in undone:
            undone[int(undoes)] = int(step)
    return undone


def last_step(connection: Connection) -> Step | None:
    """The newest act that was not taken back and takes none back."""
    return next((s for s in steps(connection, 1000) if s.undone_by is None and s.undoes is None), None)


def undone_by(connection: Connection, step: int) -> int | None:
    """By which act this one is taken back now; None where it is in force."""
    return _undone(connection).get(step)


def undo(connection: Connection, step: int) -> str:
    """Take back one act; what it was, in words. The taking back is itself in the history.

    Raises InputError when there is no such act, when it was taken back before, or when later acts changed or need
    its rows.
    """
    rows = connection.execute(select(change).where(change.c.step == step).order_by(change.c.id.desc())).mappings().all()
    if not rows:
        raise InputError("there is no such step in the history", field="step", found=str(step))
    by = undone_by(connection, step)
    if by is not None:
        raise InputError("was taken back already", field="step", found=str(step), allowed=f"{by}, which took it back")
    words = str(rows[0]["act"])
    kind, _, of = words.partition(": ")
    again = {"undo": f"redo: {of}", "redo": f"undo: {of}"}.get(kind, f"undo: {words}")
    back = act(connection, again, step)
    for row in rows:
        _take_back(back, row)
    return words


def forget(connection: Connection, words: str, table: Table, row: int, gone: Mapping[str, Any]) -> None:
    """Give columns of a row other values, in the row and wherever the history has it: the old ones are nowhere then.

    The act stands in the history as taking itself back, so that `undo` passes it by: there is nothing to go back to.
    """
    connection.execute(update(table).where(table.c.id == row).values(**gone))
    of_row = (change.c.of_table == table.name, change.c.row == row)
    for one in connection.execute(select(change.c.id, change.c.before, change.c.after).where(*of_row)).all():
        kept = {k: _with(text, gone) for k, text in (("before", one.before), ("after", one.after))}
        connection.execute(update(change).where(change.c.id == one.id).values(**kept))
    last = act(connection, words).step
    now_there = _row(connection, table, row)
    Act(connection, last, words, last)._keep(table, row, now_there, now_there)


def _with(text: str, values: Mapping[str, Any]) -> str:
    return json.dumps({**json.loads(text), **values}, ensure_ascii=False) if text else text


def _take_back(back: Act, row: Mapping[Any, Any]) -> None:
    table = metadata.tables.get(row["of_table"])
    if table is None:
        raise InputError("is of a table that is not there", field=f"history of step {row['step']}")
    try:
        before, after = (json.loads(row[k]) if row[k] else None for k in ("before", "after"))
    except ValueError:
        said = "is damaged: restore the record from a backup (nestwright backup --restore)"
        raise InputError(said, field=f"history of step {row['step']}") from None
    present = _row(back.connection, table, row["row"])
    if present != after:
        raise InputError("cannot be taken back: what it wrote was changed since", field=f"{table.name} {row['row']}")
    if before is None:
        needed = _needed_by(back.connection, table, row["row"])
        if needed and needed[0] == "reading":
            # readings are not in the history: there may be millions
            raise InputError(
                "readings cannot be taken back",
                field=f"step {row['step']}, {row['act']}",
                allowed="`nestwright readings remove`; or take back an earlier step by its number, as "
                "`nestwright workshop history` shows it",
            )
        if needed:
            raise InputError(
                "cannot be taken back: later entries belong to it",
                field=f"{table.name} {row['row']}",
                found=count_of(needed[1], *_ENTRIES.get(needed[0], (needed[0],))),
            )
        back.remove(table, row["row"])
    elif after is None:
        back.add(table, before)
    else:
        back.change(table, row["row"], {k: v for k, v in before.items() if k != "id"})


_ENTRIES = {
    "measured": ("measured value",),
    "quality": ("check",),
    "colony": ("colony", "colonies"),
    "stay": ("move into a build", "moves into a build"),
    "brood": ("look for brood", "looks for brood"),
    "parcel_scan": ("scan of a parcel", "scans of a parcel"),
    "feedback": ("word from a buyer", "words from a buyer"),
    "stock": ("entry of the stock", "entries of the stock"),
}
"""Names of tables that are no words of a person, one and many."""


def _needed_by(connection: Connection, table: Table, row: int) -> tuple[str, int] | None:
    """A table that still points to a row, and by how many of its own. Alarms are no entries of a person: they go with
    it."""
    for other in metadata.sorted_tables:
        if other is alarm:
            continue
        for column in other.columns:
            if any(key.column.table is table for key in column.foreign_keys):
                n = connection.execute(select(func.count()).select_from(other).where(column == row)).scalar() or 0
                if n:
                    return other.name, n
    return None


def _row(connection: Connection, table: Table, row: int) -> dict[str, Any] | None:
    found = connection.execute(select(table).where(table.c.id == row)).mappings().first()
    return None if found is None else dict(found)
