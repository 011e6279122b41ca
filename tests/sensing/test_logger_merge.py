"""Rows of one instant, two files that overlap, and the same file read by pandas."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.sensing.loggers import confirm, merge, read_readings, recognise


def write(path, rows, header="time,temperature °C,humidity %"):
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def read(path):
    return read_readings(path, recognise(path, "UTC"))


def test_duplicates_in_a_file(tmp_path):
    rows = [
        "2026-03-01 10:00,20.0,50",
        "2026-03-01 11:00,21.0,51",
        "2026-03-01 11:00,21.0,53",
        "2026-03-01 10:00,20.0,50",
    ]
    readings = read(write(tmp_path / "a.csv", rows))
    assert readings.channel("humidity").value.tolist() == [50, 53]
    assert readings.channel("temperature").value.tolist() == [20, 21]
    assert (readings.counts["merged"], readings.counts["conflicts"]) == (3, 1)
    (conflict,) = readings.conflicts
    assert (conflict.channel, conflict.kept, conflict.dropped) == ("humidity", 53, 51)
    assert conflict.time == datetime(2026, 3, 1, 11, tzinfo=UTC).timestamp() * 1000


def test_overlapping_files(tmp_path):
    rows = [f"2026-03-01 {h:02d}:00,{20 + h / 10:.1f},{50 + h}" for h in range(24)]
    a, b = read(write(tmp_path / "a.csv", rows[:16])), read(write(tmp_path / "b.csv", rows[10:]))
    both = merge(a, b)
    whole = read(write(tmp_path / "c.csv", rows))
    for one, other in zip(both.channels, whole.channels, strict=True):
        assert np.array_equal(one.time, other.time)
        assert np.array_equal(one.value, other.value)
    assert (both.counts["merged"], both.counts["conflicts"], both.rows) == (12, 0, 30)
    changed = read(write(tmp_path / "d.csv", [rows[3].replace(",53", ",60")]))
    assert merge(whole, changed).channel("humidity").value[3] == 60
    back = merge(changed, whole)
    assert back.channel("humidity").value[3] == 53
    assert [(c.kept, c.dropped) for c in back.conflicts] == [(53, 60)]


def test_channels_of_one_file_only(tmp_path):
    a = read(write(tmp_path / "a.csv", ["2026-03-01 10:00,20.0"], "time,temperature °C"))
    b = read(write(tmp_path / "b.csv", ["2026-03-01 10:00,55"], "time,humidity %"))
    assert [c.name for c in merge(a, b).channels] == ["temperature", "humidity"]


def test_channels_that_mean_different_things(tmp_path):
    a = read(write(tmp_path / "a.csv", ["2026-03-01 10:00,3.0"], "time,battery V"))
    path = write(tmp_path / "b.csv", ["2026-03-01 10:00,90"], "time,battery %")
    b = read_readings(path, confirm(recognise(path, "UTC"), units={"battery": "%"}))
    with pytest.raises(InputError):
        merge(a, b)


TIMES = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 3)), min_size=1, max_size=40)


@settings(max_examples=100, deadline=None)
@given(TIMES, TIMES)
def test_merge_keeps_the_later_of_each_instant(tmp_path_factory, one, other):
    folder = tmp_path_factory.getbasetemp()

    def file(name, pairs):
        return write(folder / name, [f"2026-03-01 10:{m:02d},{20 + v}.5" for m, v in pairs], "time,temperature °C")

    a, b = read(file("a.csv", one)), read(file("b.csv", other))
    merged = merge(a, b).channels[0]
    expected = {m: 20.5 + v for m, v in [*one, *other]}  # a dict keeps the last
    start = datetime(2026, 3, 1, 10, tzinfo=UTC).timestamp() * 1000
    assert merged.time.tolist() == [start + m * 60_000 for m in sorted(expected)]
    assert merged.value.tolist() == [expected[m] for m in sorted(expected)]
    counts = merge(a, b).counts
    assert counts["merged"] + counts["conflicts"] == len(one) + len(other) - len(expected)


def test_as_pandas_reads_it(tmp_path):
    rng = np.random.default_rng(4)
    n = 5000
    times = pd.Timestamp("2026-01-05") + pd.to_timedelta(rng.permutation(n) * 97, unit="s")
    frame = pd.DataFrame({
        "time": times.strftime("%d.%m.%Y %H:%M:%S"),
        "Temperatur [°C]": rng.normal(24, 2, n).round(3),
        "rel. Feuchte [%]": np.where(rng.random(n) < 0.05, np.nan, rng.uniform(40, 100, n).round(2)),
    })  # fmt: skip
    path = tmp_path / "frame.csv"
    frame.to_csv(path, sep=";", decimal=",", index=False)
    readings = read(path)
    expected = pd.read_csv(path, sep=";", decimal=",")
    expected.index = pd.to_datetime(expected.pop("time"), format="%d.%m.%Y %H:%M:%S")
    expected = expected.sort_index()
    for channel, (_, column) in zip(readings.channels, expected.items(), strict=True):
        given = column.dropna()
        assert channel.time.tolist() == (given.index.astype("datetime64[ns]").astype("int64") // 10**6).tolist()
        assert channel.value.tolist() == given.tolist()
