"""Calibrations in the record: from raw readings over salts to corrected ones, and the air of a colony's garden."""

import shutil
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import text
from workshops import EXAMPLES, do

from nestwright.errors import InputError
from nestwright.sensing import salts
from nestwright.sensing.calibration import calibrate
from nestwright.workshop.at_reference import read_at_reference, standing_of
from nestwright.workshop.band import band_of
from nestwright.workshop.builds import add_build
from nestwright.workshop.colonies import add_colony, move_in
from nestwright.workshop.corrected import corrected
from nestwright.workshop.database import reading
from nestwright.workshop.garden_air import garden_air
from nestwright.workshop.placements import check_chamber, place_logger, placements
from nestwright.workshop.readings import (
    channels_of,
    find_channel,
    find_logger,
    keep_channel,
    keep_logger,
    store_readings,
)
from nestwright.workshop.sensor_state import sensor_state, sensor_states
from nestwright.workshop.sensors import calibrations_of, keep_calibration, scale_of
from nestwright.workshop.tables import channel as channels

UTC = ZoneInfo("UTC")
LISBON = ZoneInfo("Europe/Lisbon")
GAIN, OFFSET = 0.95, 3.0
"""What the invented sensor does to the humidity, % RH."""


def ms(words):
    return int(pd.Timestamp(words, tz="UTC").value // 10**6)


def put(shop, name, quantity, unit, at, value, logger="pot"):
    def write(done):
        row = keep_channel(done, keep_logger(done, logger), name, quantity, unit)
        store_readings(done.connection, row, np.asarray(at, dtype=np.int64), np.asarray(value, dtype=float))

    do(shop, "readings", write)


def over_salts(shop, day, hours=15.0, tau=0.6, logger="pot", shift=0.0):
    """Readings every two minutes over three salts at 22 degC, an evening each, from `day` on; their texts."""
    rng = np.random.default_rng(4)
    told = []
    for k, salt in enumerate(("NaCl", "MgCl2", "K2SO4")):
        begin = pd.Timestamp(day) + pd.Timedelta(days=k, hours=18)
        at = ms(begin) + 120_000 * np.arange(int(hours * 30))
        true = 100 * float(salts.relative_humidity(salt, 295.15))
        settling = true + (50 - true) * np.exp(-np.arange(len(at)) / 30 / tau)
        put(
            shop,
            "humidity",
            "humidity",
            "%",
            at,
            GAIN * settling + OFFSET + shift + rng.normal(0, 0.05, len(at)),
            logger,
        )
        put(shop, "temperature", "temperature", "degC", at, 22 + rng.normal(0, 0.01, len(at)), logger)
        end = begin + pd.Timedelta(hours=hours)
        told.append(f"{salt} {begin:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M}")
    return told


def calibrated(shop, day, **more):
    told = over_salts(shop, day, **more)
    with reading(shop.engine) as connection:
        channel = find_channel(connection, f"{more.get('logger', 'pot')}.humidity")
        warm = find_channel(connection, f"{more.get('logger', 'pot')}.temperature")
        scale = scale_of(channel)
        stands = [standing_of(t, scale.quantity, UTC) for t in told]
        found = [read_at_reference(connection, channel, scale, s, warm) for s in stands]
    made = calibrate([f.point for f in found], date.fromisoformat(day))
    spans = tuple((s.begin, s.end) for s in stands)
    do(shop, "calibration", lambda done: keep_calibration(done, channel.id, made, spans))
    return channel, made, spans


def test_a_planted_line_is_taken_off_again_and_readings_stay_raw(shop):
    at = ms("2026-03-05") + 600_000 * np.arange(500)
    true = np.linspace(60, 97, len(at))
    put(shop, "humidity", "humidity", "%", at, GAIN * true + OFFSET)
    before = _raw(shop)
    channel, _, _ = calibrated(shop, "2026-03-01")
    assert _raw(shop)[: len(at)] == before[: len(at)]
    with reading(shop.engine) as connection:
        found = corrected(connection, channel, int(at[0]), int(at[-1]) + 1)
        raw = GAIN * true + OFFSET
    assert found.calibrations == 1
    assert np.abs(raw - true).max() > 1.5
    assert np.all(np.abs(found.value - true) < 2 * found.error)
    assert np.abs(found.value - true).max() < 0.4
    # 0.7 % RH is how far a sensor strays between its points (data/sensors.toml): less would be a lie
    assert 0.7 < found.error.min() < found.error.max() < 1.5
    assert np.all(found.own < found.common)


def _raw(shop):
    with reading(shop.engine) as connection:
        row = find_channel(connection, "pot.humidity").id
        query = text("SELECT at, value FROM reading WHERE channel_id = :c ORDER BY at DESC")
        return [tuple(r) for r in connection.execute(query, {"c": row})]


def test_a_calibration_comes_back_as_it_was_kept(shop):
    channel, made, spans = calibrated(shop, "2026-03-01")
    with reading(shop.engine) as connection:
        (kept,) = calibrations_of(connection, channel.id)
    assert kept.calibration == made
    assert kept.spans == spans
    assert kept.at == max(end for _, end in spans)


def test_the_same_hours_do_not_count_twice(shop):
    channel, made, spans = calibrated(shop, "2026-03-01")
    with pytest.raises(InputError, match="in a calibration already"):
        do(shop, "again", lambda done: keep_calibration(done, channel.id, made, spans[:1]))


def test_a_broken_document_is_told(shop):
    channel, _, _ = calibrated(shop, "2026-03-01")
    do(shop, "x", lambda done: done.connection.execute(text("UPDATE calibration SET document = '{}'")))
    with reading(shop.engine) as connection, pytest.raises(InputError, match="cannot be read"):
        calibrations_of(connection, channel.id)


def test_what_is_not_at_rest_is_no_point_and_the_wait_is_enough(shop):
    told = over_salts(shop, "2026-03-01")[0]
    with reading(shop.engine) as connection:
        channel, scale = find_channel(connection, "pot.humidity"), scale_of(find_channel(connection, "pot.humidity"))
        warm = find_channel(connection, "pot.temperature")

        def until(end):
            return read_at_reference(
                connection, channel, scale, standing_of(f"{told[:21]} to {end}", scale.quantity, UTC), warm
            )

        early = until("21:00")
        assert early.point is None
        assert "not at rest" in early.reason
        assert 0 < early.wait < 12
        late = until(f"{pd.Timestamp('2026-03-01 21:00') + pd.Timedelta(hours=early.wait):%Y-%m-%d %H:%M}")
    assert late.point is not None
    assert late.wait is None


def test_a_salt_by_its_common_name_and_a_bare_end_time():
    one = standing_of("table salt 2026-03-01 18:00 to 21:30", "relative_humidity", UTC)
    assert (one.reference, one.begin, one.end) == ("NaCl", ms("2026-03-01 18:00"), ms("2026-03-01 21:30"))
    assert standing_of("outdoor air 2026-03-01 12:00 to 13:00", "co2", UTC).reference == "outdoor air"


@pytest.mark.parametrize(
    ("words", "quantity", "says"),
    [
        ("NaCk 2026-03-01 18:00 to 21:00", "relative_humidity", "no fixed point"),
        ("NaCl 2026-03-01 18:00", "relative_humidity", "cannot be read"),
        ("NaCl 2026-03-01 18:00 to 17:00", "relative_humidity", "ends before it begins"),
        ("NaCl 2026-03-41 18:00 to 19:00", "relative_humidity", "no day or moment"),
        ("NaCl 2026-03-01 18:00 to 19:00", "temperature", "is no reference"),
    ],
)
def test_a_point_that_cannot_be_read(words, quantity, says):
    with pytest.raises(InputError, match=says) as told:
        standing_of(words, quantity, UTC)
    assert told.value.field == "--point"
    assert told.value.found
    assert told.value.allowed


def test_drift_and_due_day_follow_from_calibrations(shop):
    put(shop, "humidity", "humidity", "%", ms("2026-03-20") + 600_000 * np.arange(100), np.full(100, 90.0))
    channel, _, _ = calibrated(shop, "2025-03-01")
    now = ms("2026-03-21")
    with reading(shop.engine) as connection:
        once = sensor_state(connection, channel, scale_of(channel), now, UTC)
    calibrated(shop, "2026-03-01", shift=1.0)
    with reading(shop.engine) as connection:
        twice = sensor_state(connection, channel, scale_of(channel), now, UTC)
    # hours over salts are no use of the sensor
    assert once.level == twice.level == pytest.approx(90.0)
    assert twice.error < once.error
    middle, low, high = twice.drift
    assert low < -1.0 < high
    assert low < middle < high < once.drift[2]
    assert (once.due, twice.why) == ("", "say what is enough with `nestwright sensor want`")
    days = []
    for wanted in (1.5, 3.0):
        do(shop, "x", lambda done, w=wanted: done.change(channels, channel.id, {"wanted_error": w}))
        with reading(shop.engine) as connection:
            days.append(sensor_states(connection, now, UTC)[0].due)
    assert "2026-03-03" < days[0] < days[1]


def test_hours_over_salts_are_not_hours_of_the_garden(shop):
    put(shop, "humidity", "humidity", "%", ms("2026-03-01 02:00") + 600_000 * np.arange(72), np.full(72, 95.0))
    channel, _, spans = calibrated(shop, "2026-03-01")
    with reading(shop.engine) as connection:
        found = band_of(connection, channel, 90.0, None, ms("2026-03-01"), ms("2026-03-05"))
        left = corrected(connection, channel)
        every = corrected(connection, channel, at_references=True)
    assert found.hours.known == pytest.approx(71 / 6)
    assert "references" in found.trust
    assert len(left.at) == 72
    assert len(every.at) == 72 + sum((b - a) // 120_000 for a, b in spans)


def test_calibration_narrows_the_hours_in_the_band(shop):
    at = ms("2026-03-10") + 600_000 * np.arange(600)
    put(shop, "humidity", "humidity", "%", at, 93 + 3 * np.sin(np.arange(600) / 20))
    with reading(shop.engine) as connection:
        channel = find_channel(connection, "pot.humidity")
        raw = band_of(connection, channel, 92.0, None, int(at[0]), int(at[-1]) + 1, whole=(False, False))
    calibrated(shop, "2026-03-01")
    with reading(shop.engine) as connection:
        better = band_of(connection, channel, 92.0, None, int(at[0]), int(at[-1]) + 1, whole=(False, False))
    assert "as sold" in raw.trust
    widths = [b.hours.inside_range[2] - b.hours.inside_range[0] for b in (raw, better)]
    assert widths[1] < 0.6 * widths[0]


def test_units_of_channels_and_si():
    from nestwright.workshop.readings import Channel

    scale = scale_of(Channel(1, "a", "t", "temperature", "degC"))
    assert float(scale.si(24.0)) == pytest.approx(297.15)
    assert float(scale.shown(297.15)) == pytest.approx(24.0)
    assert float(scale.spread(0.5)) == 0.5
    assert float(scale_of(Channel(1, "a", "c", "co2", "ppm")).si(400)) == pytest.approx(4e-4)
    assert scale_of(Channel(1, "a", "l", "light", "lx")) is None


# ---- where loggers stand, and the air of a garden ----


@pytest.fixture
def garden(shop):
    """Marigold lives in build N1 (the design single-pot) from 2 March on."""
    shutil.copy(EXAMPLES / "habitats/single-pot.toml", shop.folder / "habitats")
    made = {}

    def write(done):
        made["colony"] = add_colony(done, {"name": "Marigold", "species": "Atta sexdens", "start": "2026-03-01"})
        made["build"] = add_build(done, {"serial": "N1", "habitat": "habitats/single-pot.toml"})
        move_in(done, made["colony"], made["build"], "2026-03-02")

    do(shop, "x", write)
    return shop, made["colony"], made["build"]


def stand(shop, logger, chamber, since, build=None, colony=None):
    def write(done):
        return place_logger(done, find_logger(done.connection, logger), build, colony, chamber, ms(since))

    return do(shop, "x", write)


def both(shop, logger, first, n, warm, damp, step=600_000):
    at = ms(first) + step * np.arange(n)
    put(shop, "temperature", "temperature", "degC", at, np.full(n, warm), logger)
    put(shop, "humidity", "humidity", "%", at, np.full(n, damp), logger)


def air(shop, colony, low="2026-03-01", high="2026-03-10", zone=UTC):
    with reading(shop.engine) as connection:
        return garden_air(connection, shop.folder, colony, date(2026, 3, 1), zone, ms(low), ms(high))


def test_air_is_that_of_the_build_while_the_colony_lives_there(garden):
    shop, colony, build = garden
    both(shop, "in", "2026-03-01", 144 * 4, 24.0, 95.0)
    assert air(shop, colony) is None
    stand(shop, "in", "pot", "2026-02-01", build=build)
    found = air(shop, colony)
    assert found.at[0] == ms("2026-03-02")
    assert len(found) == 3 * 144
    assert found.when[0] == pytest.approx(1.0)
    assert np.allclose(found.temperature, 297.15)
    assert np.allclose(found.humidity, 0.95)
    assert found.co2 is None
    assert found.loggers == ("in",)
    assert "never calibrated" in found.notes[0]
    assert found.weight.sum() == pytest.approx(3 * 86400)
    assert air(shop, colony, zone=ZoneInfo("Asia/Tokyo")).when[0] == pytest.approx(
        1.0
    )  # Tokyo's 2 March begins earlier


def test_the_room_and_other_chambers_are_not_the_garden(garden):
    shop, colony, build = garden
    both(shop, "in", "2026-03-01", 144 * 4, 20.0, 50.0)
    stand(shop, "in", "", "2026-02-01", build=build)
    assert air(shop, colony) is None


def test_under_the_bell_goes_before_beside_it_and_gaps_are_filled(garden):
    shop, colony, build = garden
    both(shop, "beside", "2026-03-02", 144 * 5, 24.0, 90.0)
    both(shop, "under", "2026-03-03", 144 * 1, 24.5, 98.0)
    stand(shop, "beside", "pot", "2026-02-01", build=build)
    stand(shop, "under", "pot/bell", "2026-02-01", build=build)
    found = air(shop, colony)
    assert set(found.loggers) == {"beside", "under"}
    inside = (found.at >= ms("2026-03-03")) & (found.at < ms("2026-03-03 23:51"))
    assert np.all(found.humidity[inside] == pytest.approx(0.98))
    assert np.all(np.diff(found.at) > 0)
    assert (found.humidity < 0.95).sum() > 144 * 3


def test_a_logger_at_the_colony_counts_wherever_it_lives(garden):
    shop, colony, _ = garden
    both(shop, "in", "2026-03-01", 144, 24.0, 95.0)
    stand(shop, "in", "pot", "2026-03-01 12:00", colony=colony)
    found = air(shop, colony)
    assert (found.at[0], len(found)) == (ms("2026-03-01 12:00"), 72)


def test_a_logger_without_humidity_is_named(garden):
    shop, colony, build = garden
    put(
        shop,
        "temperature",
        "temperature",
        "degC",
        ms("2026-03-03") + 600_000 * np.arange(100),
        np.full(100, 24.0),
        "in",
    )
    stand(shop, "in", "pot", "2026-02-01", build=build)
    assert air(shop, colony) is None


def test_humidity_and_co2_are_read_off_at_the_moments_of_the_temperature(garden):
    shop, colony, build = garden
    at = ms("2026-03-03") + 600_000 * np.arange(60)
    put(shop, "temperature", "temperature", "degC", at, np.full(60, 24.0), "in")
    put(shop, "humidity", "humidity", "%", at[:30] + 60_000, 90 + 0.1 * np.arange(30), "in")
    put(shop, "co2", "co2", "ppm", at[:10], np.full(10, 5000.0), "in")
    stand(shop, "in", "pot", "2026-02-01", build=build)
    found = air(shop, colony)
    assert len(found) == 29  # from the first humidity to the last
    assert found.humidity[0] == pytest.approx(0.9009)
    assert np.isfinite(found.co2).sum() == 9
    assert found.co2[0] == pytest.approx(5e-3)


def test_one_place_ends_where_the_next_begins(garden):
    shop, _, build = garden
    both(shop, "in", "2026-03-01", 10, 24.0, 95.0)
    stand(shop, "in", "pot", "2026-03-01", build=build)
    stand(shop, "in", "", "2026-03-05", build=build)
    between = stand(shop, "in", "pot", "2026-03-03", build=build)
    assert between.until == ms("2026-03-05")
    with reading(shop.engine) as connection:
        spans = [(p.since, p.until) for p in placements(connection)]
    days = [ms(f"2026-03-0{d}") for d in (1, 3, 5)]
    assert spans == [(days[0], days[1]), (days[1], days[2]), (days[2], None)]
    with pytest.raises(InputError, match="at this moment already"):
        stand(shop, "in", "pot", "2026-03-03", build=build)


def test_chambers_by_name():
    roles = {"pot": "garden", "foraging": "forage"}
    assert check_chamber("room", roles) == ""
    assert check_chamber("pot/bell", roles) == "pot/bell"
    assert check_chamber("anything", {}) == "anything"
    with pytest.raises(InputError, match="no such chamber") as told:
        check_chamber("pott", roles)
    assert told.value.nearest == "pot"


def test_channels_of_other_quantities_have_no_state(shop):
    put(shop, "light", "light", "lx", [ms("2026-03-01")], [5.0])
    with reading(shop.engine) as connection:
        assert not sensor_states(connection, ms("2026-03-02"), UTC)
        assert len(channels_of(connection)) == 1


@pytest.mark.parametrize("days", [0, 3, 10, 30])
def test_the_level_is_that_of_the_last_week_before_the_references(shop, monkeypatch, days):
    """However long a sensor has stood at its references since: the short look back must not change what is told."""
    at = ms("2026-01-01") + 3_600_000 * np.arange(60 * 24)
    value = 50.0 + np.arange(len(at)) * 0.01
    put(shop, "humidity", "humidity", "%", at, value)
    away = [(int(at[-1]) - days * 86_400_000, int(at[-1]) + 1)] if days else []
    monkeypatch.setattr("nestwright.workshop.sensor_state.spans_at_references", lambda *_: away)
    used = value[at < away[0][0]] if away else value
    with reading(shop.engine) as connection:
        told = sensor_states(connection, ms("2026-03-05"), UTC)[0].level
    assert told == pytest.approx(used[-168:].mean(), abs=0.02)
