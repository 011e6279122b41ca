"""Reading a logger's file of 1,000,000 rows: recognised and read, beside pandas on the same file in the same run.

python benchmarks/readings.py [rows]

Both give UTC times and values, sorted, each instant once. Pandas is told everything that Nestwright finds by itself.
"""

from __future__ import annotations

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


def main(rows: int = 1_000_000) -> None:
    """Print seconds and ratio for each dialect."""
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


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:2]))
