"""Logger files into the record: merged with what is there, all or nothing, read as before."""

import signal
import time

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshops import do, dump, fresh, record

from forked import Forked
from nestwright.errors import InputError
from nestwright.sensing.loggers import confirm, recognise
from nestwright.workshop.database import reading
from nestwright.workshop.imports import accepted, how_to_read, import_file, kept_mapping
from nestwright.workshop.readings import (
    HOUR,
    channels_of,
    keep_channel,
    keep_logger,
    read_hours,
    read_raw,
    store_readings,
)
from nestwright.workshop.removal import remove_readings

HEAD = "time,temperature °C,humidity %\n"


def written(path, rows, head=HEAD):
    path.write_text(head + "".join(f"{t},{a},{b}\n" for t, a, b in rows))
    return path


def minutes(first, n, value=20.0):
    times = pd.date_range(first, periods=n, freq="min")
    return [(t.strftime("%Y-%m-%d %H:%M:%S"), round(value + k % 1000 / 100, 2), 90.0) for k, t in enumerate(times)]


def taken_in(shop, path, name="pot", zone="UTC"):
    mapping = accepted(recognise(path, zone))
    return do(shop, "readings", lambda done: import_file(done, path, name, mapping))


def test_a_file_comes_out_as_pandas_reads_it(shop, tmp_path):
    path = written(tmp_path / "a.csv", minutes("2026-03-01", 3000))
    found = taken_in(shop, path)
    assert (found.rows, found.rows_kept, found.total.added) == (3000, 3000, 6000)
    frame = pd.read_csv(path, parse_dates=["time"])
    with reading(shop.engine) as connection:
        humidity, temperature = channels_of(connection)
        series = read_raw(connection, temperature.id)
    assert (humidity.quantity, humidity.unit, temperature.unit) == ("humidity", "%", "degC")
    assert np.array_equal(series.at, frame["time"].astype("datetime64[ms]").astype("int64"))
    assert np.array_equal(series.value, frame["temperature °C"])


def test_overlapping_files_are_merged_and_the_record_stays(shop, tmp_path):
    taken_in(shop, written(tmp_path / "a.csv", minutes("2026-03-01", 100)))
    later = minutes("2026-03-01 00:50", 100, 20.5)  # the same values at the same moments
    later[10] = (later[10][0], 33.0, 90.0)
    found = taken_in(shop, written(tmp_path / "b.csv", later))
    assert (found.stored["temperature"].added, found.stored["temperature"].same) == (50, 49)
    assert found.stored["temperature"].differing == 1
    with reading(shop.engine) as connection:
        series = read_raw(connection, channels_of(connection)[1].id)
    assert len(series.at) == 150
    assert 33.0 not in series.value


def test_a_second_import_changes_nothing(shop, tmp_path):
    path = written(tmp_path / "a.csv", minutes("2026-03-01", 200))
    taken_in(shop, path)
    before = dump(shop)
    found = taken_in(shop, path)
    assert (found.total.added, found.total.same) == (0, 400)
    assert dump(shop) == before


def test_bad_rows_are_listed_by_line_and_good_cells_kept(shop, tmp_path):
    rows = minutes("2026-03-01", 50)
    rows[7] = ("not a time", 21, 90)
    rows[9] = (rows[9][0], "err7", 90)
    rows[11] = (rows[11][0], 20, 300)
    found = taken_in(shop, written(tmp_path / "a.csv", rows))
    assert [(f.line, f.channel) for f in found.faults] == [(9, ""), (11, "temperature"), (13, "humidity")]
    assert (found.rows, found.rows_kept, found.counts["faults"]) == (50, 49, 3)
    assert (found.stored["temperature"].added, found.stored["humidity"].added) == (48, 48)


def test_the_clock_of_the_zone_is_taken(shop, tmp_path):
    """Lisbon is an hour ahead of UTC in summer (IANA, Europe/Lisbon)."""
    taken_in(shop, written(tmp_path / "a.csv", minutes("2026-07-01 12:00", 10)), zone="Europe/Lisbon")
    with reading(shop.engine) as connection:
        first = int(read_raw(connection, channels_of(connection)[0].id).at[0])
    assert first == pd.Timestamp("2026-07-01 11:00", tz="UTC").value // 10**6


def test_a_file_without_readings_leaves_nothing(shop, tmp_path):
    good = written(tmp_path / "a.csv", minutes("2026-03-01", 20))
    mapping = accepted(recognise(good, "UTC"))
    empty = written(tmp_path / "b.csv", [("when", "x", "y")] * 5)
    before = dump(shop)
    with pytest.raises(InputError, match="no reading that can be used"):
        do(shop, "readings", lambda done: import_file(done, empty, "pot", mapping))
    assert dump(shop) == before


def test_a_channel_that_was_another_quantity_is_refused(shop, tmp_path):
    do(shop, "x", lambda done: keep_channel(done, keep_logger(done, "pot"), "humidity", "weight", "g"))
    before = dump(shop)
    with pytest.raises(InputError, match="another quantity before") as told:
        taken_in(shop, written(tmp_path / "a.csv", minutes("2026-03-01", 20)))
    assert (told.value.found, told.value.allowed[:8]) == ("humidity %", "weight g")
    assert dump(shop) == before


def test_the_mapping_is_kept_and_used_while_it_fits(shop, tmp_path):
    path = written(tmp_path / "a.csv", minutes("2026-03-01", 20), "time,temperature,humidity %\n")
    mapping = accepted(confirm(recognise(path, "Asia/Tokyo"), units={"temperature": "degF"}))
    do(shop, "x", lambda done: import_file(done, path, "pot", mapping))
    with reading(shop.engine) as connection:
        kept = kept_mapping(connection, "pot")
        assert kept_mapping(connection, "other") is None
    assert kept == mapping
    again, as_before = how_to_read(
        written(tmp_path / "b.csv", minutes("2026-04-01", 20), "time,temperature,humidity %\n"), kept
    )
    assert as_before
    assert again == mapping
    other = written(tmp_path / "c.csv", minutes("2026-04-01", 20), "time,CO2 ppm,pressure hPa\n")
    found, as_before = how_to_read(other, kept)
    assert not as_before
    assert [c.quantity for c in found.columns] == ["co2", "pressure"]
    assert found.zone == "Asia/Tokyo"  # the clock is the logger's


def test_a_file_without_header_must_come_out_alike(tmp_path):
    rows = minutes("2026-03-01", 30)
    kept = accepted(recognise(written(tmp_path / "a.csv", rows, ""), "UTC"))
    _, as_before = how_to_read(written(tmp_path / "b.csv", rows, ""), kept)
    assert as_before
    turned = [(t, b, a) for t, a, b in rows]
    _, as_before = how_to_read(written(tmp_path / "c.csv", turned, ""), kept)
    assert not as_before


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 12 * 60), st.floats(-50, 50)), min_size=1, max_size=150),
        min_size=1,
        max_size=5,
    )
)
def test_any_batches_leave_the_first_value_of_each_moment_and_true_sums(tmp_path_factory, batches):
    shop = fresh(tmp_path_factory.mktemp("any") / "shop")
    row = do(shop, "x", lambda done: keep_channel(done, keep_logger(done, "pot"), "t", "temperature", "degC"))
    held: dict[int, float] = {}
    for batch in batches:
        at = 1_700_000_000_000 + 60_000 * np.array([m for m, _ in batch])
        value = np.array([v for _, v in batch])
        told = do(shop, "x", lambda done, at=at, value=value: store_readings(done.connection, row, at, value))
        new: dict[int, float] = {}
        for t, v in zip(at.tolist(), value.tolist(), strict=True):
            new.setdefault(t, v)
        assert told.added == len(new.keys() - held.keys())
        assert told.added + told.same + told.differing == len(new)
        held = new | held
    with reading(shop.engine) as connection:
        series, hours = read_raw(connection, row), read_hours(connection, row)
    assert dict(zip(series.at.tolist(), series.value.tolist(), strict=True)) == held
    frame = pd.DataFrame({"hour": series.at // HOUR, "value": series.value}).groupby("hour")["value"]
    assert hours.hour.tolist() == list(frame.groups)
    assert hours.n.tolist() == frame.count().tolist()
    assert np.array_equal(hours.low, frame.min())
    assert np.array_equal(hours.high, frame.max())
    assert np.allclose(hours.mean, frame.mean(), rtol=0, atol=1e-9)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sets(st.integers(0, 400), min_size=1), st.integers(-10, 420), st.integers(1, 300))
def test_what_is_removed_is_gone_and_the_sums_are_those_of_the_rest(tmp_path_factory, there, low, span):
    shop = fresh(tmp_path_factory.mktemp("any") / "shop")
    row = do(shop, "x", lambda done: keep_channel(done, keep_logger(done, "pot"), "t", "temperature", "degC"))
    at = 1_700_000_000_000 + 60_000 * np.array(sorted(there))
    value = np.sin(at / 1e6)
    do(shop, "x", lambda done: store_readings(done.connection, row, at, value))
    begin = 1_700_000_000_000 + 60_000 * low
    end = begin + 60_000 * span
    inside = (at >= begin) & (at < end)
    gone = do(shop, "x", lambda done: remove_readings(done.connection, row, begin, end))
    assert gone == inside.sum()
    after = dump(shop)
    other = fresh(tmp_path_factory.mktemp("any") / "shop")
    row = do(other, "x", lambda done: keep_channel(done, keep_logger(done, "pot"), "t", "temperature", "degC"))
    do(other, "x", lambda done: store_readings(done.connection, row, at[~inside], value[~inside]))
    fewer = dump(other)
    assert after["reading"] == fewer["reading"]
    assert [r[:5] for r in after["rollup"]] == [r[:5] for r in fewer["rollup"]]
    assert np.allclose([r[5] for r in after["rollup"]], [r[5] for r in fewer["rollup"]], rtol=0, atol=1e-9)


@pytest.mark.parametrize("delay", [0.1, 0.2, 0.3, 0.4, 0.6])
def test_a_killed_import_leaves_all_or_nothing(shop, tmp_path, delay):
    path = written(tmp_path / "a.csv", minutes("2026-03-01", 60_000))
    before = record(shop)
    shop.engine.dispose()
    command = ("readings", "import", str(path), "--logger", "pot", "--zone", "UTC", "--workshop", str(shop.folder))
    one = Forked(*command)
    time.sleep(delay)
    one.send_signal(signal.SIGKILL)
    one.wait()
    after = record(shop)
    counted = len(after["reading"])
    assert counted in (0, 120_000)
    assert counted or after == before
    assert sum(r[2] for r in after["rollup"]) == counted
    assert taken_in(shop, path).total.added == 120_000 - counted


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 12), st.binary(max_size=20)), min_size=1, max_size=6))
def test_a_spoilt_file_is_read_or_refused_and_a_refusal_leaves_nothing(tmp_path_factory, slips):
    """Bytes put into a good file, and others cut out of it."""
    folder = tmp_path_factory.mktemp("spoilt")
    shop = fresh(folder / "shop")
    path = written(folder / "a.csv", minutes("2026-03-01", 60))
    content = path.read_bytes()
    for at, cut, put in slips:
        content = content[:at] + put + content[at + cut :]
    path.write_bytes(content)
    before, refused = dump(shop), None
    try:
        mapping = accepted(recognise(path, "UTC"))
        found = do(shop, "x", lambda done: import_file(done, path, "pot", mapping))
    except InputError as error:
        refused = error
    if refused is not None:
        assert str(path) in str(refused)
        assert dump(shop) == before
    else:
        assert 0 < found.rows_kept <= found.rows
        assert len(dump(shop)["reading"]) == found.total.added > 0
