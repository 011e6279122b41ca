"""A logger's file of 1,000,000 rows read, and imported into the record; a month out of a record of 10,000,000.

python benchmarks/readings.py [rows] [rows of the large record]

Reading: beside pandas on the same file in the same run; both give UTC times and values, sorted, each instant once.
Importing: the whole command with its start, beside pandas' read_csv and to_sql into SQLite without the start of Python
and pandas. Pandas is told everything that Nestwright finds by itself; it neither merges nor sums hours, and a second
import of the same file, which leaves Nestwright's record as it is, would double its table.
"""

from __future__ import annotations

import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from nestwright.sensing.loggers import read_readings, recognise


@dataclass(frozen=True)
class Dialect:
    """How the file is written: time format, separator, decimal mark, zone, header."""

    name: str
    form: str
    separator: str
    decimal: str
    zone: str
    header: tuple[str, ...]


DIALECTS = (
    Dialect("ISO, comma, UTC", "%Y-%m-%d %H:%M:%S", ",", ".", "UTC", ("time", "temperature °C", "humidity %")),
    Dialect("d.m.y, semicolon, decimal comma, Berlin", "%d.%m.%Y %H:%M:%S", ";", ",", "Europe/Berlin",
            ("Datum Uhrzeit", "Temperatur [°C]", "rel. Feuchte [%]")),
    Dialect("m/d/y with am and pm, New York", "%m/%d/%Y %I:%M:%S %p", ",", ".", "America/New_York",
            ("Date Time", "Temp (°C)", "RH (%)")),
)  # fmt: skip


def write(path: Path, dialect: Dialect, rows: int) -> None:
    """A file of one reading a minute: time, temperature, humidity."""
    rng = np.random.default_rng(7)
    times = pd.date_range("2024-02-20", periods=rows, freq="min", tz="UTC").tz_convert(dialect.zone)
    frame = {
        dialect.header[0]: times.strftime(dialect.form),
        dialect.header[1]: (24 + rng.normal(size=rows)).round(2),
        dialect.header[2]: (88 + 4 * rng.random(rows)).round(1),
    }
    pd.DataFrame(frame).to_csv(path, sep=dialect.separator, decimal=dialect.decimal, index=False)


def by_pandas(path: Path, dialect: Dialect) -> pd.DataFrame:
    """The same with read_csv, the format of the dates given; the hour that comes twice by its order."""
    frame = pd.read_csv(path, sep=dialect.separator, decimal=dialect.decimal)
    times = pd.to_datetime(frame.pop(dialect.header[0]), format=dialect.form)
    frame.index = times.dt.tz_localize(dialect.zone, ambiguous="infer").dt.tz_convert("UTC")
    frame = frame.sort_index()
    return frame[~frame.index.duplicated(keep="last")]


def clock(task: Callable[[], Any], repeat: int = 3) -> tuple[float, Any]:
    """Least seconds of a task, and what it gave."""
    best, made = np.inf, None
    for _ in range(repeat):
        began = time.perf_counter()
        made = task()
        best = min(best, time.perf_counter() - began)
    return best, made


def into_sql(path: Path, dialect: Dialect, database: Path) -> int:
    """The file by pandas into a table of SQLite with an index on its times; rows."""
    frame = by_pandas(path, dialect)
    database.unlink(missing_ok=True)
    with sqlite3.connect(database) as link:
        frame.to_sql("reading", link, index_label="at")
    return len(frame)


def into_record(path: Path, dialect: Dialect, folder: Path) -> None:
    """The file by the command into the record of a new workshop."""
    from nestwright.workshop.folder import create_workshop

    create_workshop(folder, "UTC").engine.dispose()
    command = [sys.executable, "-m", "nestwright", "readings", "import", str(path), "--logger", "pot"]
    command += ["--zone", dialect.zone, "--yes", "--json", "--workshop", str(folder)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def _busy() -> float:
    """Seconds of the processor that finished children have used."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def large_record(folder: Path, rows: int, channels: int = 2) -> Any:
    """A workshop with readings of one a minute; the record and a channel of it."""
    from nestwright.workshop.changes import act
    from nestwright.workshop.database import writing
    from nestwright.workshop.folder import create_workshop
    from nestwright.workshop.readings import channels_of, keep_channel, keep_logger, store_readings

    workshop = create_workshop(folder, "Europe/Lisbon")
    rng = np.random.default_rng(3)
    each, piece = rows // channels, 500_000
    for k in range(channels):
        for first in range(0, each, piece):
            n = min(piece, each - first)
            at = 1_400_000_000_000 + 60_000 * np.arange(first, first + n)
            with writing(workshop.engine) as connection:
                done = act(connection, "readings")
                row = keep_channel(done, keep_logger(done, "pot"), f"temperature {k + 1}", "temperature", "degC")
                store_readings(connection, row, at, (24 + rng.normal(size=n)).round(2))
    with writing(workshop.engine) as connection:
        return workshop, channels_of(connection)[0]


def month(rows: int) -> None:
    """A month's chart data out of a large record, by the hour and reading by reading."""
    from nestwright.workshop.course import course
    from nestwright.workshop.database import reading

    with tempfile.TemporaryDirectory() as place:
        began = time.perf_counter()
        workshop, channel = large_record(Path(place) / "workshop", rows)
        size = workshop.database.stat().st_size / 1e6
        print(f"{rows} readings stored in {time.perf_counter() - began:.0f} s, {size:.0f} MB")
        low = 1_400_000_000_000 + 60_000 * (rows // 4)
        for by in ("hour", "reading"):

            def data(by: str = by) -> Any:
                with reading(workshop.engine) as connection:
                    return course(connection, channel, low, low + 30 * 86_400_000, by=by)

            took, found = clock(data, 5)
            print(f"a month by the {by}: {len(found.at)} points in {took:.3f} s, opened, corrected and gaps found")


def main(rows: int = 1_000_000, large: int = 10_000_000) -> None:
    """Print seconds and ratio for each dialect, for the import, and seconds for a month of a large record."""
    print(f"{rows} rows of time, temperature and humidity")
    with tempfile.TemporaryDirectory() as folder:
        for dialect in DIALECTS:
            path = Path(folder) / "log.csv"
            write(path, dialect, rows)
            found, mapping = clock(lambda path=path, d=dialect: recognise(path, d.zone))
            ours, readings = clock(lambda path=path, m=mapping: read_readings(path, m))
            theirs, frame = clock(lambda path=path, d=dialect: by_pandas(path, d))
            same = all(
                np.array_equal(c.value, frame.iloc[:, k].to_numpy())
                and np.array_equal(c.time, frame.index.tz_localize(None).astype("datetime64[ms]").astype("int64"))
                for k, c in enumerate(readings.channels)
            )
            print(
                f"{dialect.name}: recognised in {found:.2f} s, read in {ours:.2f} s; pandas {theirs:.2f} s "
                f"(x{theirs / ours:.1f}); {'equal' if same else 'NOT EQUAL'}"
            )
        path, dialect = Path(folder) / "log.csv", DIALECTS[0]
        write(path, dialect, rows)
        took, busy = [], []
        for k in range(3):
            began, before = time.perf_counter(), _busy()
            into_record(path, dialect, Path(folder) / f"workshop {k}")
            took.append(time.perf_counter() - began)
            busy.append(_busy() - before)
        before = time.process_time()
        best, _ = clock(lambda: into_sql(path, dialect, Path(folder) / "pandas.db"))
        theirs = (time.process_time() - before) / 3
        print(f"imported into the record in {min(took):.2f} s; pandas to_sql {best:.2f} s (x{best / min(took):.1f})")
        print(f"time of the processor: {min(busy):.2f} s; pandas {theirs:.2f} s (x{theirs / min(busy):.1f})")
    month(large)


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:3]))
