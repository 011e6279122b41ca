"""Series with what was predicted beside it: the run on the workshop's clock, and nothing where it tells nothing.

The run is made up, so that every number can be worked out by hand; runs of habitats are tested with the climate.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from nestwright.web.app import create_app
from nestwright.web.climate_year import RESULTS
from nestwright.web.series_predicted import predicted
from nestwright.workshop.builds import add_build
from nestwright.workshop.changes import act
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop, create_workshop
from nestwright.workshop.placements import place_logger
from nestwright.workshop.readings import HOUR, find_channel, keep_channel, keep_logger, store_readings

from .conftest import EXAMPLES

KELVIN = 273.15
BEGIN = 1_767_225_600_000  # 2026-01-01 00:00 UTC, an hour later in Berlin
KEYS = ("run-of-a-test", "intervals-of-a-test")


@pytest.fixture
def shop(tmp_path: Path) -> Workshop:
    """A build with a logger in its pot, in a zone an hour ahead of UTC."""
    made = create_workshop(tmp_path / "w", "Europe/Berlin")
    text = (EXAMPLES / "habitats" / "single-pot.toml").read_text("utf-8")
    (made.folder / "habitats" / "single-pot.toml").write_text(text, "utf-8")
    with writing(made.engine) as connection:
        done = act(connection, "all")
        row = keep_logger(done, "pot")
        channel = keep_channel(done, row, "temperature", "temperature", "degC")
        keep_channel(done, row, "light", "light", "lx")
        at = BEGIN + np.arange(10 * 24) * HOUR
        store_readings(connection, channel, at, np.full(len(at), 24.0))
        build = add_build(done, {"serial": "P-1", "habitat": "habitats/single-pot.toml", "revision": "a"})
        place_logger(done, row, build, None, "pot", BEGIN)
    return made


@pytest.fixture
def run() -> Any:
    """Ten days in which the pot grows warmer by 1 K an hour, from 0 degC at midnight on the workshop's clock."""
    hours = np.arange(10 * 24 + 1)
    warm = KELVIN + hours.astype(float)
    made = SimpleNamespace(
        time=hours * 3600.0,
        start="2026-01-01T00:00",
        series={"pot": {"temperature": warm}, "room": {"temperature": warm}},
    )
    RESULTS.put(KEYS[0], made)
    RESULTS.put(KEYS[1], {("pot", "temperature"): (-2.0, 3.0)})
    return made


def line(shop: Workshop, low: int, high: int, width: int, chamber: str = "pot", name: str = "pot.temperature") -> Any:
    with reading(shop.engine) as connection:
        channel = find_channel(connection, name)
    return predicted(shop, channel, chamber, KEYS, low, high, width)


def test_a_run_is_laid_on_the_workshops_clock(shop: Workshop, run: Any) -> None:
    # from 10:00 to 14:00 UTC, 11:00 to 15:00 in Berlin, in steps of half an hour
    found = line(shop, BEGIN + 10 * HOUR, BEGIN + 14 * HOUR, 8)
    assert (found.at[:8] - BEGIN == 10 * HOUR + (np.arange(8) + 0.5) * HOUR / 2).all()
    np.testing.assert_allclose(found.mean[:8], 11.25 + np.arange(8) / 2, atol=1e-9)
    np.testing.assert_allclose(found.low, found.mean - 2)
    np.testing.assert_allclose(found.high, found.mean + 3)


def test_a_long_step_is_the_mean_of_its_hours_and_what_is_outside_is_nothing(shop: Workshop, run: Any) -> None:
    day = 24 * HOUR
    found = line(shop, BEGIN - 5 * day, BEGIN + 15 * day, 20)
    told = found.to_dict()
    # days from 01:00 to 01:00 in Berlin: 1.5, 2.5, … 24.5 degC, and 24 more each day
    assert told["mean"][5] == pytest.approx(13.0)
    assert told["mean"][6] == pytest.approx(37.0)
    assert told["mean"][:4] == [None] * 4
    assert told["mean"][16:20] == [None] * 4
    assert told["low"][3] is None
    assert len(told["at"]) == len(told["mean"]) == len(told["high"])


def test_a_place_or_a_quantity_of_which_the_run_tells_nothing_has_no_line(shop: Workshop, run: Any) -> None:
    assert line(shop, BEGIN, BEGIN + HOUR, 10, chamber="attic") is None
    assert line(shop, BEGIN, BEGIN + HOUR, 10, name="pot.light") is None


def test_the_page_offers_it_where_a_build_is_measured_and_says_what_is_missing(shop: Workshop, run: Any) -> None:
    bench = TestClient(create_app(shop), base_url="http://127.0.0.1", client=("127.0.0.1", 1))
    assert 'name="predict"' in bench.get("/series?channel=pot.temperature").text
    assert 'name="predict"' not in bench.get("/series?channel=pot.light").text
    said = bench.get("/series?channel=pot.temperature&predict=measured").text
    assert "No logger stands in the room itself" in said
    assert "There is no prediction." in bench.get("/series?channel=pot.temperature&predict=nowhere.toml").text
    span = f"from={BEGIN}&to={BEGIN + HOUR}&run={KEYS[0]}&intervals={KEYS[1]}&chamber=pot"
    assert bench.get(f"/api/series/pot.temperature/predicted?{span}").json()["mean"][0] is not None
    gone = span.replace(KEYS[0], "another")
    assert bench.get(f"/api/series/pot.temperature/predicted?{gone}").status_code == 404
