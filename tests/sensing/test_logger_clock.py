"""Local clocks through summer time, against zoneinfo; clocks that jump."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.sensing.loggers import read_in_pieces, read_readings, recognise
from nestwright.sensing.loggers.zones import Clock

# Days on which the clocks change (zoneinfo's own data, 2024 to 2027), noon UTC of the day before.
CHANGES = {
    "Europe/Berlin": [(2025, 3, 29), (2025, 10, 25), (2026, 3, 28), (2026, 10, 24)],
    "America/New_York": [(2025, 3, 8), (2025, 11, 1), (2026, 3, 7), (2026, 10, 31)],
    "Australia/Lord_Howe": [(2026, 4, 4), (2026, 10, 3)],
}
CASES = [(zone, day) for zone, days in CHANGES.items() for day in days]


def written(utc, zone):
    return [u.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M:%S") for u in utc]


def read(tmp_path, times, zone, size=1 << 24):
    path = tmp_path / "clock.csv"
    path.write_text("time,temperature °C\n" + "".join(f"{t},{k % 7}\n" for k, t in enumerate(times)), encoding="utf-8")
    mapping = recognise(path, zone)
    parts = list(read_in_pieces(path, mapping, size=size))
    return np.concatenate([p.time for p in parts]).tolist(), read_readings(path, mapping)


@pytest.mark.parametrize("minutes", [1, 10, 15, 60])
@pytest.mark.parametrize(("zone", "day"), CASES)
@pytest.mark.parametrize("newest_first", [False, True])
def test_through_the_change(tmp_path, zone, day, minutes, newest_first):
    start = datetime(*day, 9, tzinfo=UTC)
    utc = [start + timedelta(minutes=minutes * k) for k in range(36 * 60 // minutes)]
    utc = utc[::-1] if newest_first else utc
    made, readings = read(tmp_path, written(utc, zone), zone)
    assert made == [round(u.timestamp() * 1000) for u in utc]
    assert readings.counts["shifted"] == readings.counts["jumps"] == readings.counts["merged"] == 0
    # readings in the hour that comes twice, by zoneinfo
    twice = [u.astimezone(ZoneInfo(zone)) for u in utc]
    twice = [t for t in twice if t.replace(fold=0).utcoffset() > t.replace(fold=1).utcoffset()]
    assert readings.counts["twice"] == len(twice)


@pytest.mark.parametrize("size", [200, 999, 5000])
def test_pieces_do_not_matter(tmp_path, size):
    start = datetime(2026, 10, 24, 20, tzinfo=UTC)
    utc = [start + timedelta(minutes=k) for k in range(600)]
    made, _ = read(tmp_path, written(utc, "Europe/Berlin"), "Europe/Berlin", size)
    assert made == [round(u.timestamp() * 1000) for u in utc]


def test_times_that_spring_skips_are_shifted_and_listed(tmp_path):
    # A clock left on standard time: 02:15 and 02:45 do not exist on that day.
    times = [f"2026-03-29 {t}:00" for t in ("01:15", "01:45", "02:15", "02:45")]
    made, readings = read(tmp_path, times, "Europe/Berlin")
    expected = [datetime.fromisoformat(t).replace(tzinfo=ZoneInfo("Europe/Berlin")).timestamp() * 1000 for t in times]
    assert made == expected  # zoneinfo too takes the offset of before (PEP 495, fold 0)
    assert readings.shifted == (4, 5)
    assert any("UTC+01:00" in r for r in readings.remarks)
    made, readings = read(tmp_path, times, "UTC+01:00")
    assert np.diff(made).tolist() == [1800_000] * 3
    assert not readings.shifted


def test_clock_that_jumps_back(tmp_path):
    times = ["2026-03-01 10:00", "2026-03-01 11:00", "2026-03-01 10:30", "2026-03-01 11:30"]
    _, readings = read(tmp_path, times, "UTC")
    assert [(j.line, j.seconds) for j in readings.jumps] == [(4, -1800.0)]
    assert np.diff(readings.channels[0].time).tolist() == [1800_000] * 3
    # a clock that was never set is no reading of any year
    _, readings = read(tmp_path, ["1970-01-01 00:05", *times], "UTC")
    assert [f.line for f in readings.faults] == [2]


def test_offsets_in_the_values(tmp_path):
    times = ["2026-10-25T02:30:00+02:00", "2026-10-25T02:30:00+01:00", "2026-10-25T02:30:00Z", "2026-10-25 05:00:00"]
    made, readings = read(tmp_path, [*times[:3] * 5, times[3]], "Europe/Berlin")
    expected = [datetime.fromisoformat(t).timestamp() * 1000 for t in times[:3]]
    assert made == expected * 5
    assert [(f.line, "offset" in f.reason) for f in readings.faults] == [(17, True)]


ZONES = st.sampled_from(
    ["Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Caracas", "Africa/Casablanca"]
)


@settings(max_examples=200, deadline=None)
@given(ZONES, st.lists(st.datetimes(datetime(1995, 1, 1), datetime(2037, 1, 1)), min_size=1, max_size=20))
def test_any_local_time_against_zoneinfo(zone, times):
    times = [t.replace(microsecond=0) for t in times]
    local = np.array([(t - datetime(1970, 1, 1)) // timedelta(milliseconds=1) for t in times])
    for k, t in enumerate(times):
        utc, shifted, twice = Clock(zone).to_utc(local[k : k + 1])
        early, late = (t.replace(tzinfo=ZoneInfo(zone), fold=f) for f in (0, 1))
        assert utc[0] == round(early.timestamp() * 1000)
        assert shifted[0] == (early.utcoffset() < late.utcoffset())
        assert twice[0] == (early.utcoffset() > late.utcoffset())
