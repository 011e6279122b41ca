"""Workshops for tests: empty ones, quickly made, ones with anything in them, and all that a database holds."""

import functools
import re
import shutil
import sqlite3
import tempfile
from datetime import date
from pathlib import Path

import numpy as np
from hypothesis import strategies as st
from sqlalchemy import Boolean, CheckConstraint, Float, Integer, UniqueConstraint

from nestwright.workshop.changes import act
from nestwright.workshop.database import writing
from nestwright.workshop.folder import DATABASE, FOLDERS, Workshop, create_workshop
from nestwright.workshop.readings import store_readings
from nestwright.workshop.tables import RECORD, alarm, change, metadata

EXAMPLES = Path(__file__).parents[2] / "examples/workshop"


@functools.cache
def _template() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        made = create_workshop(Path(folder) / "shop", "Europe/Lisbon")
        made.engine.dispose()
        return made.database.read_bytes()


def fresh(folder: Path) -> Workshop:
    """An empty workshop in a new folder."""
    for name in FOLDERS:
        (folder / name).mkdir(parents=True)
    (folder / DATABASE).write_bytes(_template())
    return Workshop(folder)


def dump(workshop: Workshop, *without: str) -> dict[str, list[tuple]]:
    """Every row of every table, as the database has it."""
    link = sqlite3.connect(workshop.database)
    try:
        names = [t.name for t in metadata.sorted_tables if t.name not in without]
        return {n: sorted(link.execute(f'SELECT * FROM "{n}"').fetchall(), key=repr) for n in names}
    finally:
        link.close()


def held(workshop: Workshop) -> tuple[dict[str, list[tuple]], list[tuple]]:
    """Every row but the sums by the hour, and these with 12 digits, for the order of summing tells."""
    every = dump(workshop)
    hours = [(*r[:5], f"{r[5]:.12g}") for r in every.pop("rollup")]
    return every, hours


def record(workshop: Workshop) -> dict[str, list[tuple]]:
    """All but the history."""
    return dump(workshop, "change")


def do(workshop: Workshop, words, what):
    """One act: `what` is called with it."""
    with writing(workshop.engine) as connection:
        return what(act(connection, words))


def copied(workshop: Workshop, folder: Path) -> Workshop:
    """A copy on disk of a workshop that nobody writes to."""
    shutil.copytree(workshop.folder, folder)
    return Workshop(folder)


ODD = [
    "",
    "'",
    '"',
    '""',
    ",",
    "a\r\nb",
    "a\nb",
    "null",
    "NULL",
    " before",
    "after ",
    "‮",
    "é\u0301",
    "1e5",
    "0x1",
    ";--",
]
TEXTS = st.one_of(st.sampled_from(ODD), st.text(st.characters(exclude_categories=["Cs"]), max_size=12))
FLOATS = st.one_of(
    st.sampled_from([0.0, -0.0, 5e-324, 1.7976931348623157e308, 0.1, 1 / 3, 1e22, -1e-7]),
    st.floats(allow_nan=False, allow_infinity=False),
)
DAYS = st.dates(date(1900, 1, 1), date(2199, 12, 31)).map(date.isoformat)
MOMENTS = st.integers(-(2**40), 2**42)


def _value(draw, column, row, made):
    """A value that the column's own rules allow."""
    if column.foreign_keys:
        target = next(iter(column.foreign_keys)).column.table.name
        known = made.get(target, [])
        if column.nullable and (not known or draw(st.booleans())):
            return None
        return draw(st.sampled_from(known))
    rules = [str(c.sqltext) for c in column.constraints if isinstance(c, CheckConstraint)]
    if column.nullable and draw(st.integers(0, 3)) == 0:
        return None
    if any("GLOB" in rule for rule in rules):
        return draw(DAYS)
    if rules:
        return draw(st.sampled_from(re.findall(r"'([^']*)'", rules[0])))
    if isinstance(column.type, Boolean):
        return draw(st.booleans())
    if isinstance(column.type, Integer):
        return draw(MOMENTS)
    if isinstance(column.type, Float):
        return draw(FLOATS)
    text = draw(TEXTS)
    return f"{text}#{row}" if column.unique else text


@st.composite
def contents(draw):
    """Rows for every table of the record, by table, whose keys point to rows that are there; and readings."""
    made, rows = {}, {}
    for table in (*RECORD, alarm, change):
        if table.name == "workshop":
            rows["workshop"] = [{"key": f"k{draw(TEXTS)}", "value": draw(TEXTS)}]
            continue
        found, seen = [], set()
        singles = [[c.name for c in u.columns] for u in table.constraints if isinstance(u, UniqueConstraint)]
        groups = [g for g in singles if len(g) > 1]
        for i in range(draw(st.integers(0, 3))):
            needs = {
                next(iter(c.foreign_keys)).column.table.name for c in table.columns if c.foreign_keys and not c.nullable
            }
            if any(not made.get(n) for n in needs):
                break
            one = {c.name: i + 1 if c.primary_key else _value(draw, c, i, made) for c in table.columns}
            keys = {(tuple(g), tuple(one[k] for k in g)) for g in groups}
            if not keys & seen:
                seen |= keys
                found.append(one)
        rows[table.name] = found
        made[table.name] = [one["id"] for one in found]
    readings = {i: draw(st.dictionaries(MOMENTS, FLOATS, max_size=6)) for i in made["channel"]}
    return rows, readings


def fill(workshop: Workshop, made) -> None:
    """Put generated contents into an empty workshop."""
    rows, readings = made
    with writing(workshop.engine) as connection:
        for name, found in rows.items():
            if found:
                connection.execute(metadata.tables[name].insert(), found)
        for channel, values in readings.items():
            at = np.array(list(values), dtype=np.int64)
            store_readings(connection, channel, at, np.array(list(values.values()), dtype=float))
