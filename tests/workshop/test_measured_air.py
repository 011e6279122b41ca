"""What the loggers of a build measured: where and while they stood there, whole days, and the room as a room."""

import numpy as np
import pandas as pd
import pytest
from workshops import do

from nestwright.physics import air
from nestwright.workshop.builds import add_build, find_build
from nestwright.workshop.database import reading
from nestwright.workshop.measured_air import last_days, measured_hours, measured_room
from nestwright.workshop.placements import place_logger
from nestwright.workshop.readings import HOUR, find_logger, keep_channel, keep_logger, store_readings


def ms(text):
    return int(pd.Timestamp(text, tz="UTC").value // 10**6)


def kept(shop, logger, begin, hours, warm, damp):
    """Readings every twenty minutes: `warm` degC and `damp` % by the hour."""
    at = ms(begin) + np.arange(hours * 3) * HOUR // 3

    def write(done):
        row = keep_logger(done, logger)
        for name, unit, value in (("temperature", "degC", warm), ("humidity", "%", damp)):
            channel = keep_channel(done, row, name, name, unit)
            store_readings(done.connection, channel, at, np.broadcast_to(value, hours).repeat(3).astype(float))

    do(shop, "readings", write)


@pytest.fixture
def build(shop):
    kept(shop, "inside", "2026-01-01", 24 * 40, np.arange(24 * 40) * 0.01, 95.0)
    kept(shop, "shelf", "2026-01-20", 24 * 20, 21.0, 45.0)

    def write(done):
        row = add_build(done, {"serial": "P-1", "habitat": "habitats/pot.toml", "revision": "1", "made": "2026-01-01"})
        add_build(done, {"serial": "P-2", "habitat": "habitats/pot.toml", "revision": "1", "made": "2026-01-01"})
        place_logger(done, find_logger(done.connection, "inside"), row, None, "pot", ms("2026-01-05 10:30"))
        # it is taken away in the middle of an hour
        place_logger(done, find_logger(done.connection, "inside"), row + 1, None, "pot", ms("2026-02-03 12:20"))
        place_logger(done, find_logger(done.connection, "shelf"), row, None, "", ms("2026-01-20"))

    do(shop, "places", write)
    with reading(shop.engine) as connection:
        yield connection, shop, find_build(connection, "P-1")


def test_only_whole_hours_while_a_logger_stood_there_count(build):
    connection, shop, made = build
    low, high = last_days(connection, shop.zone, made)
    # the last day is not whole: thirty days end with the 2nd of February; Lisbon has UTC in winter
    assert (low, high) == (ms("2026-01-04"), ms("2026-02-03"))
    warm, damp = measured_hours(connection, shop.zone, made, low, high)
    assert [(one.chamber, one.quantity, one.logger, one.calibrated) for one in (warm, damp)] == [
        ("pot", "temperature", "inside", False), ("pot", "relative_humidity", "inside", False),
    ]  # fmt: skip
    assert (warm.at[0], warm.at[-1]) == (ms("2026-01-05 11:00"), ms("2026-02-02 23:00"))
    first = (4 * 24 + 11) * 0.01
    assert warm.value[:2] == pytest.approx(273.15 + np.array([first, first + 0.01]))
    assert damp.value == pytest.approx(np.full(len(damp.at), 0.95))
    cut = measured_hours(connection, shop.zone, made, low, ms("2026-02-05"))[0]
    assert cut.at[-1] == ms("2026-02-03 11:00")


def test_the_room_is_what_its_logger_read(build):
    connection, shop, made = build
    hours = measured_hours(connection, shop.zone, made, ms("2026-01-20"), ms("2026-02-03"), room=True)
    assert {one.chamber for one in hours} == {""}
    room = measured_room(hours)
    assert (room.start, len(room.time)) == ("2026-01-20T00:30:00", 14 * 24)
    assert room.temperature == pytest.approx(294.15)
    assert room.vapour_pressure == pytest.approx(0.45 * float(air.saturation_pressure(294.15)))
    assert measured_room([one for one in hours if one.quantity == "temperature"]) is None
    short = measured_hours(connection, shop.zone, made, ms("2026-01-20"), ms("2026-01-20 23:00"), room=True)
    assert measured_room(short) is None


def test_a_day_that_is_not_whole_is_taken_where_there_is_no_other(shop):
    kept(shop, "new", "2026-05-01 06:00", 5, 20.0, 90.0)

    def write(done):
        row = add_build(done, {"serial": "N", "habitat": "habitats/pot.toml", "revision": "1", "made": "2026-05-01"})
        place_logger(done, find_logger(done.connection, "new"), row, None, "pot", ms("2026-05-01"))
        add_build(done, {"serial": "empty", "habitat": "habitats/pot.toml", "revision": "1", "made": "2026-05-01"})

    do(shop, "places", write)
    with reading(shop.engine) as connection:
        # Lisbon is an hour before UTC in May
        low, high = last_days(connection, shop.zone, find_build(connection, "N"))
        assert (low, high) == (ms("2026-04-01 23:00"), ms("2026-05-01 23:00"))
        assert last_days(connection, shop.zone, find_build(connection, "empty")) is None
