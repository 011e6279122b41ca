"""What is shown of a channel: raw or by the hour, days on the workshop's clock, gaps; and its picture."""

import re
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from workshops import do

from nestwright.charts.readings import Drawn, readings_chart
from nestwright.charts.render import to_svg
from nestwright.errors import InputError
from nestwright.workshop.band import band_of
from nestwright.workshop.course import by_day, course
from nestwright.workshop.database import reading
from nestwright.workshop.moments import local_ms, moment_of
from nestwright.workshop.readings import find_channel, keep_channel, keep_logger, store_readings

LISBON = ZoneInfo("Europe/Lisbon")
KATHMANDU = ZoneInfo("Asia/Kathmandu")


def ms(text):
    return int(pd.Timestamp(text, tz="UTC").value // 10**6)


def kept(shop, at, value, name="t", quantity="temperature", unit="degC"):
    def write(done):
        row = keep_channel(done, keep_logger(done, "pot"), name, quantity, unit)
        store_readings(done.connection, row, np.asarray(at), np.asarray(value, dtype=float))

    do(shop, "x", write)
    with reading(shop.engine) as connection:
        return find_channel(connection, f"pot.{name}")


@pytest.mark.parametrize(
    ("text", "zone", "end", "utc"),
    [
        ("2026-01-31", LISBON, False, "2026-01-31 00:00"),
        ("2026-01-31", LISBON, True, "2026-02-01 00:00"),
        ("2026-07-01 12:30", LISBON, False, "2026-07-01 11:30"),
        ("2026-07-01T12:30:15", LISBON, False, "2026-07-01 11:30:15"),
        ("2026-07-01 9:05", LISBON, False, "2026-07-01 08:05"),
        # clocks go back at 02:00 on 25 October 2026 (IANA): the hour from 01:00 comes twice
        ("2026-10-25 01:30", LISBON, False, "2026-10-25 00:30"),
        ("2026-10-25 01:30", LISBON, True, "2026-10-25 01:30"),
        # and forward at 01:00 on 29 March
        ("2026-03-29 01:30", LISBON, False, "2026-03-29 01:30"),
        ("2026-01-01", KATHMANDU, False, "2025-12-31 18:15"),
    ],
)
def test_a_moment_as_typed(text, zone, end, utc):
    assert moment_of(text, zone, "--from", end=end) == ms(utc)


@pytest.mark.parametrize(
    "text", ["", "yesterday", "2026-02-30", "2026-01-01 25:00", "01.02.2026", "2026-1-1", "2026-01-01 12"]
)
def test_no_moment(text):
    with pytest.raises(InputError) as told:
        moment_of(text, LISBON, "--from")
    assert told.value.field == "--from"
    assert told.value.found == repr(text)


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "Asia/Kathmandu", "Australia/Lord_Howe", "America/New_York"])
def test_many_moments_on_a_clock_as_pandas_has_them(zone):
    at = pd.date_range("2026-01-01", "2027-01-01", freq="17min", tz="UTC")
    theirs = at.tz_convert(zone).tz_localize(None).astype("datetime64[ms]").astype("int64")
    assert np.array_equal(local_ms(at.astype("datetime64[ms, UTC]").astype("int64").to_numpy(), ZoneInfo(zone)), theirs)


def test_hours_and_readings_tell_the_same_days(shop):
    at = ms("2026-10-23") + 300_000 * np.arange(12 * 24 * 5)
    value = 20 + np.sin(np.arange(len(at)) / 40)
    channel = kept(shop, at, value)
    with reading(shop.engine) as connection:
        raw, hours = (course(connection, channel, int(at[0]), int(at[-1]) + 1, by=by) for by in ("reading", "hour"))
    assert (raw.by, hours.by, len(raw.at), len(hours.at)) == ("reading", "hour", len(at), 120)
    days, same = by_day(raw, LISBON), by_day(hours, LISBON)
    assert [d.day for d in days] == [date(2026, 10, 23 + k) for k in range(5)] + (
        [date(2026, 10, 28)] if len(days) > 5 else []
    )
    assert [d.n for d in days] == [d.n for d in same]
    # the 25th has 25 hours
    assert next(d.hours for d in days if d.day == date(2026, 10, 25)) == 25
    for a, b in zip(days, same, strict=True):
        assert (a.low, a.mean, a.high) == pytest.approx((b.low, b.mean, b.high), abs=1e-9)
    assert not raw.gaps
    assert not hours.gaps


def test_what_is_missing_is_a_gap_at_the_ends_too(shop):
    at = ms("2026-05-01") + 60_000 * np.concatenate([np.arange(600), np.arange(1200, 1800)])
    channel = kept(shop, at, np.ones(len(at)))
    low, high = ms("2026-04-30 22:00"), ms("2026-05-02 12:00")
    wanted = [
        ("2026-04-30 22:00", "2026-05-01 00:00"),
        ("2026-05-01 09:59", "2026-05-01 20:00"),
        ("2026-05-02 05:59", "2026-05-02 12:00"),
    ]
    with reading(shop.engine) as connection:
        raw, hours = (course(connection, channel, low, high, by=by) for by in ("reading", "hour"))
        nothing = course(connection, channel, ms("2027-01-01"), ms("2027-01-02"))
    assert list(raw.gaps) == [(ms(a), ms(b)) for a, b in wanted]
    # by the hour a gap is told to the hour
    assert [(b - a) // 3_600_000 for a, b in hours.gaps] == [2, 10, 6]
    assert nothing.gaps == ((ms("2027-01-01"), ms("2027-01-02")),)
    assert not len(nothing.at)


def test_a_slow_logger_has_no_gaps_between_its_readings(shop):
    channel = kept(shop, ms("2026-05-01") + 7_200_000 * np.arange(100), np.ones(100))
    with reading(shop.engine) as connection:
        for by in ("reading", "hour"):
            assert not course(connection, channel, ms("2026-05-01"), ms("2026-05-01") + 7_200_000 * 99 + 1, by=by).gaps


def test_a_long_span_comes_by_the_hour_and_its_band_holds_every_reading(shop):
    rng = np.random.default_rng(5)
    value = rng.normal(size=40_000)
    channel = kept(shop, ms("2026-01-01") + 60_000 * np.arange(len(value)), value)
    with reading(shop.engine) as connection:
        found = course(connection, channel, ms("2026-01-01"), ms("2026-02-01"))
    assert found.by == "hour"
    assert found.low.min() == pytest.approx(value.min())
    assert found.high.max() == pytest.approx(value.max())
    assert np.average(found.mean, weights=found.n) == pytest.approx(value.mean())


def test_hours_without_readings_are_not_good_hours(shop):
    at = ms("2026-05-01") + 60_000 * np.concatenate([np.arange(600), np.arange(1200, 1440)])
    channel = kept(shop, at, np.full(len(at), 24.0))
    light = kept(shop, at, at * 0 + 5.0, "light", "light", "lx")
    with reading(shop.engine) as connection:
        found = band_of(connection, channel, 20.0, 27.0, ms("2026-05-01"), ms("2026-05-02"))
        unlit = band_of(connection, light, 1.0, None, ms("2026-05-01"), ms("2026-05-02"))
    assert found.hours.hours == pytest.approx(24)
    assert found.hours.inside == pytest.approx((599 + 239) / 60)
    assert found.hours.unknown == pytest.approx(24 - (599 + 239) / 60)
    assert found.wet is None
    assert unlit.hours.inside == pytest.approx(found.hours.inside)
    assert "nothing is known" in unlit.trust


def test_no_readings_and_no_span_is_refused(shop):
    channel = kept(shop, [ms("2026-05-01")], [1.0])
    with reading(shop.engine) as connection, pytest.raises(InputError, match="no readings in this span"):
        band_of(connection, channel, 0.0, 1.0, ms("2027-01-01"), ms("2027-01-02"), whole=(True, False))


def drawn(n=5000, **more):
    day = np.linspace(0, 10, n)
    value = 24 + np.sin(day)
    return Drawn("pot: t", "°C", date(2026, 1, 1), 0.0, 10.0, day, value, value, value, np.full(n, 0.3), **more)


def test_the_picture_breaks_at_gaps_and_keeps_the_extremes():
    one = drawn(gaps=((4.0, 6.0),), limits=(23.5, None))
    keep = (one.day <= 4) | (one.day >= 6)
    whole = Drawn(**{**one.__dict__, **{k: getattr(one, k)[keep] for k in ("day", "low", "mean", "high", "error")}})
    value = whole.mean.copy()
    value[777] = 31.0
    whole = Drawn(**{**whole.__dict__, "low": value, "mean": value, "high": value})
    chart = readings_chart(whole).to_dict(validate=True)
    rows = max((d for d in _data(chart) if d and "high" in d[0]), key=len)
    values = [r["mid"] for r in rows]
    assert values.count(None) == 1
    assert max(v for v in values if v is not None) == 31.0
    assert len(rows) < 3000
    text = to_svg(readings_chart(whole))
    assert "Shaded: no readings." in text
    assert re.search("Standard uncertainty: 0.30", text)


def _data(tree):
    if isinstance(tree, dict):
        if isinstance(tree.get("values"), list | tuple) and tree["values"] and isinstance(tree["values"][0], dict):
            yield list(tree["values"])
        for value in tree.values():
            yield from _data(value)
    elif isinstance(tree, list | tuple):
        for value in tree:
            yield from _data(value)


def test_a_picture_of_nothing_says_so():
    none = np.empty(0)
    empty = Drawn("pot", "%", date(2026, 1, 1), 0.0, 1.0, none, none, none, none, none, gaps=((0.0, 1.0),))
    assert "no readings" in to_svg(readings_chart(empty))
