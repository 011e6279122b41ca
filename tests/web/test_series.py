"""Series: lines of few points that lose no extreme and join no gap; moved, zoomed, told in words in a real browser."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.web.spark import curve, spark
from nestwright.workshop.changes import act
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop, create_workshop, find_workshop
from nestwright.workshop.readings import HOUR, Channel, channels_of, keep_channel, keep_logger, store_readings
from nestwright.workshop.traces import MOST_RAW, Trace, trace

from .conftest import run

MINUTE = 60_000
BEGIN = 1_760_000_400_000 // HOUR * HOUR
SPIKE = 55.0


@pytest.fixture(scope="module")
def quarter(tmp_path_factory: pytest.TempPathFactory) -> tuple[Workshop, pd.Series]:
    """A workshop with 90 days of minutes: a day missing, one reading far from all others."""
    workshop = create_workshop(tmp_path_factory.mktemp("series") / "w", "Europe/Lisbon")
    at = BEGIN + np.arange(90 * 1440) * MINUTE
    value = np.round(24 + np.sin(np.arange(len(at)) / 500) + np.random.default_rng(4).normal(0, 0.1, len(at)), 2)
    value[70_000] = SPIKE
    day = (at - BEGIN) // (24 * HOUR)
    at, value = at[day != 30], value[day != 30]
    with writing(workshop.engine) as connection:
        done = act(connection, "readings")
        row = keep_channel(done, keep_logger(done, "bench"), "temperature", "temperature", "degC")
        store_readings(connection, row, at, value)
    return workshop, pd.Series(value, index=at)


def line(workshop: Workshop, low: int, high: int, width: int) -> Trace:
    with writing(workshop.engine) as connection:
        (channel,) = channels_of(connection)
        return trace(connection, channel, low, high, width)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 80 * 1440), st.integers(30, 90 * 1440), st.integers(50, 3000))
def test_a_line_of_few_points_loses_no_extreme_and_joins_no_gap(
    quarter: tuple[Workshop, pd.Series], first: int, minutes: int, width: int
) -> None:
    workshop, every = quarter
    low, high = BEGIN + first * MINUTE, BEGIN + (first + minutes) * MINUTE
    found = line(workshop, low, high, width)
    there = every[(every.index >= low) & (every.index < high)]
    assert len(found.at) <= width + 1
    assert (np.diff(found.at) > 0).all()
    assert (found.low <= found.mean + 1e-9).all()
    assert (found.mean <= found.high + 1e-9).all()
    if found.by == "hour":
        # an hour belongs to the span when it begins in it or the span begins within it
        there = every[(every.index >= low // HOUR * HOUR) & (every.index < -(-high // HOUR) * HOUR)]
    if not len(there):
        assert not len(found.at)
        return
    assert found.low.min() == pytest.approx(there.min(), abs=1e-9)
    assert found.high.max() == pytest.approx(there.max(), abs=1e-9)
    # the day that is missing parts the line exactly where both its sides are in the picture; where a point stands for
    # more than half of it, it may lie within two of them, and is told among the hours not known alone
    gone = BEGIN + 30 * 24 * HOUR
    both = there.index[0] < gone and there.index[-1] > gone
    if (high - low) / width <= 12 * HOUR:
        assert len(found.breaks) == int(both)
    assert len(found.breaks) <= int(both)
    if len(found.breaks):
        assert found.at[found.breaks[0] - 1] < gone
        assert found.at[found.breaks[0]] >= gone + 24 * HOUR
        told = found.to_dict()
        assert told["mean"][found.breaks[0]] is None
        assert len(told["at"]) == len(found.at) + 1


def test_steps_hold_what_pandas_finds_in_them(quarter: tuple[Workshop, pd.Series]) -> None:
    # pandas' own grouping as the reference
    workshop, every = quarter
    low = BEGIN // (24 * HOUR) * 24 * HOUR
    high = low + 10 * 24 * HOUR
    minutes = line(workshop, low, high, 960)  # a quarter of an hour each
    there = every[(every.index >= low) & (every.index < high)]
    groups = there.groupby(there.index // (15 * MINUTE))
    assert minutes.by == "minutes"
    np.testing.assert_allclose(minutes.low, groups.min(), rtol=1e-12)
    np.testing.assert_allclose(minutes.high, groups.max(), rtol=1e-12)
    np.testing.assert_allclose(minutes.mean, groups.mean(), rtol=1e-12)
    high = low + 90 * 24 * HOUR
    hours = line(workshop, low, high, 720)  # three hours each
    there = every[(every.index >= low) & (every.index < high)]
    groups = there.groupby(there.index // (3 * HOUR))
    assert hours.by == "hour"
    assert len(there) > MOST_RAW
    np.testing.assert_allclose(hours.high, groups.max(), rtol=1e-12)
    np.testing.assert_allclose(hours.mean, groups.mean(), rtol=1e-12)


def test_a_small_line_stays_in_its_frame_and_shows_a_lone_reading() -> None:
    none = np.array([], dtype=np.int64)
    assert curve(none, np.array([]), 0, 10) == ""
    path = curve(np.array([0, 5, 10]), np.array([1.0, 9.0, 1.0]), 0, 10, np.array([2]))
    assert path == "M0.0 33.0L80.0 3.0M160.0 33.0M160.0 33.0h0"
    # two readings that differ by less than their error lie near the middle
    one = Channel(1, "a", "t", "temperature", "degC")
    value, error = np.array([20.0, 20.1]), np.array([0.3, 0.3])
    found = Trace(one, "reading", 0, 10, np.array([0, 10]), value, value, value, error, none, 0, 1.0, (), 0)
    heights = [float(part.split()[1]) for part in spark(found).replace("M", "L").split("L")[1:]]
    assert max(heights) - min(heights) == pytest.approx(0.1 / 1.2 * 30, abs=0.11)


def asked(address: str) -> Any:
    with urlopen(address, timeout=20) as answer:
        return json.load(answer)


def test_points_are_data_and_what_cannot_be_asked_is_refused(pages: str) -> None:
    told = asked(f"{pages}/api/series/pot.temperature?from=1762000000000&to=1775000000000&width=300")
    assert told["channel"]["unit"] == "degC"
    assert len(told["at"]) <= 301
    assert told["calibrations"] == 0
    rows = [row for row in zip(told["low"], told["mean"], told["high"], strict=True) if None not in row]
    assert len(rows) > 100  # days: half a day and more is rounded up to one
    assert all(a <= b + 1e-9 <= c + 2e-9 for a, b, c in rows)
    for bad, says in (
        ("pot.temperatur?from=0&to=9", "pot.temperature"),
        ("pot.temperature?from=9&to=9", "ends before it begins"),
        ("pot.temperature?from=x&to=9", "from"),
    ):
        with pytest.raises(HTTPError) as refused:
            asked(f"{pages}/api/series/{bad}")
        assert refused.value.code == 422
        assert says in json.load(refused.value)["faults"][0]["text"]


@pytest.fixture
def placed(workshop: Path) -> Path:
    """The logger stands in a build in which a colony lives, so that a band holds."""
    run("readings", "place", "pot", "--chamber", "pot", "--colony", "Marigold", "--from", "2025-11-01", "--workshop",
        str(workshop))  # fmt: skip
    return workshop


def spans(page: Any) -> tuple[int, int]:
    """From when to when the picture shows."""
    box = page.locator("#series")
    return int(box.get_attribute("data-from")), int(box.get_attribute("data-to"))


def test_a_picture_is_dragged_zoomed_and_told_in_words(
    bench: Any, placed: Path, served: str, until: Callable[[Callable[[], bool]], None]
) -> None:
    asks: list[str] = []
    bench.on("request", lambda one: asks.append(one.url) if "/api/series/" in one.url else None)
    bench.goto(served + "/series?channel=pot.humidity&channel=pot.temperature&from=2026-01-10&to=2026-01-16")
    bench.wait_for_selector("#series[data-ready]")
    before = spans(bench)
    assert len(bench.query_selector_all("canvas[width]")) >= 2
    assert len(asks) == 2
    week = 7 * 24 * HOUR
    # hours inside, above, below and not known make up the whole week
    cells = bench.query_selector_all("#words .told:has-text('temperature') table >> nth=0 >> tbody tr td:first-of-type")
    assert sum(float(one.inner_text()) for one in cells) == pytest.approx(week / HOUR, abs=0.3)
    over = bench.locator(".u-over").first
    frame = over.bounding_box()
    middle = frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2
    bench.mouse.move(*middle)
    assert "±" in bench.inner_text(".key")
    assert "°C" in bench.inner_text(".key")
    bench.mouse.down()
    bench.mouse.move(middle[0] + frame["width"] / 4, middle[1], steps=5)
    bench.mouse.up()
    until(lambda: spans(bench) != before)
    low, high = spans(bench)
    assert high - low == pytest.approx(week, abs=5)
    begin = int(pd.Timestamp("2026-01-10", tz="Europe/Lisbon").timestamp() * 1000)
    assert low == pytest.approx(begin - week / 4, abs=week / 100)
    # the wheel zooms about what lies under the pointer
    bench.mouse.move(*middle)
    bench.mouse.wheel(0, -400)
    until(lambda: spans(bench)[1] - spans(bench)[0] < high - low - 1000)
    near = spans(bench)
    assert sum(near) / 2 == pytest.approx((low + high) / 2, abs=week / 100)
    # keys, in the picture and by the buttons
    bench.focus(".plots")
    bench.keyboard.press("ArrowRight")
    until(lambda: spans(bench)[0] > near[0])
    bench.click("[data-days='0']")
    until(lambda: spans(bench)[1] - spans(bench)[0] > 100 * 24 * HOUR)
    until(lambda: "2025-11-02" in bench.inner_text(".state") or "2025-10-3" in bench.inner_text(".state"))
    assert len({url.partition("?")[0] for url in asks}) == 2
    # the words, and the address, follow the picture
    until(lambda: "2026-03-02" in bench.text_content("#words"))
    assert f"from={spans(bench)[0]}" in bench.url


def test_days_of_a_german_picture_are_german_and_its_fields_stay_those_of_the_browser(
    bench: Any, pages: str, until: Callable[[Callable[[], bool]], None]
) -> None:
    bench.context.add_cookies([{"name": "nw-shown", "value": "de.degC.metric.auto", "url": pages}])
    # its points are asked for again where the first answer is lost on the way
    bench.route("**/api/series/**", lambda route: route.abort(), times=1)
    bench.goto(pages + "/series?channel=pot.temperature&from=2026-01-10&to=2026-01-16")
    bench.wait_for_selector("#series .state >> text=antwortet nicht")
    bench.wait_for_selector("#series[data-ready]")
    assert re.match(r"10\.01\.2026, 00:00 – 1[67]\.01\.2026, ", bench.inner_text("#series .state"))
    assert "10. Januar 2026" in bench.text_content("#words")
    bench.focus(".plots")
    bench.keyboard.press("ArrowRight")
    until(lambda: re.match(r"1[1-9]\.01\.2026", bench.inner_text("#series .state")) is not None)
    # the fields follow once the picture rests
    day = datetime.strptime(bench.inner_text("#series .state")[:10], "%d.%m.%Y").date().isoformat()
    until(lambda: bench.input_value(".span [name=from]") == day)


def test_two_fingers_zoom_on_a_phone(phone: Any, pages: str, until: Callable[[Callable[[], bool]], None]) -> None:
    phone.goto(pages + "/series?channel=pot.temperature&from=2026-01-10&to=2026-01-16")
    phone.wait_for_selector("#series[data-ready]")
    frame = phone.locator(".u-over").first.bounding_box()
    y = frame["y"] + frame["height"] / 2
    hand = phone.context.new_cdp_session(phone)

    def touch(kind: str, *xs: float) -> None:
        points = [{"x": frame["x"] + x * frame["width"], "y": y, "id": k} for k, x in enumerate(xs)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    before = spans(phone)
    touch("touchStart", 0.4, 0.6)
    for k in range(1, 6):
        touch("touchMove", 0.4 - 0.04 * k, 0.6 + 0.04 * k)
    touch("touchEnd")
    until(lambda: spans(phone) != before)
    low, high = spans(phone)
    # fingers three times as far apart show a third of the span, about the same middle
    assert high - low == pytest.approx(7 * 24 * HOUR / 3, rel=0.1)


def test_hours_of_a_long_span_are_counted_as_long_work(bench: Any, placed: Path, served: str) -> None:
    workshop = find_workshop(placed)
    at = BEGIN + np.arange(25_000) * MINUTE
    with writing(workshop.engine) as connection:
        done = act(connection, "readings")
        row = keep_channel(done, keep_logger(done, "pot"), "probe", "temperature", "degC")
        store_readings(connection, row, at, np.full(len(at), 30.0))
    bench.goto(f"{served}/series?channel=pot.probe&from={BEGIN}&to={BEGIN + 25_000 * MINUTE}")
    bench.click("text=Count the hours of this span")
    bench.locator("#words tr", has_text="above").wait_for()  # the page goes on by itself
    # 24,999 steps of a minute at 30 degC, all above the band
    cells = bench.inner_text("#words tr:has-text('above')").split()
    assert float(cells[1]) == pytest.approx(24_999 / 60, abs=0.1)
