"""Measured beside predicted: which hours of a run belong to which day, ranges of means, what the inputs leave open."""

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from nestwright.climate.beside import beside, moments_in_run
from nestwright.climate.intervals import zone_intervals
from nestwright.climate.proof import prove, prove_year
from nestwright.climate.results import YearProof
from nestwright.climate.room_air import Room
from nestwright.climate.rooms import read_room
from nestwright.climate.worst_hours import clock_of, hours_outside, worst_hours
from nestwright.habitat.file import read_habitat

HABITATS = Path(__file__).parents[2] / "examples" / "workshop" / "habitats"
DAY, HOUR = 86_400_000, 3_600_000


def local(*texts: str) -> np.ndarray:
    """Moments on the workshop's clock; pandas is the witness of the calendar."""
    return np.array([pd.Timestamp(text).value // 10**6 for text in texts], dtype=np.int64)


def run(start: str, hours: int, still: bool = False) -> YearProof:
    """A run whose chamber has the hour of the run for its temperature."""
    time = np.arange(hours + 1) * 3600.0
    warm = np.full(len(time), 290.0) if still else 290.0 + np.sin(time)
    series = {"room": {"temperature": warm}, "pot": {"temperature": time / 3600}}
    return YearProof(None, time, start, series, (), 0, 0.0, 0, 0.0)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("start", "hours", "asked", "how", "hour"),
    [
        ("2026-01-01T00:00:00", 8760, "2026-03-01 06:00", "dates", 59 * 24 + 6),
        # a typical year, 2001: the same day and hour; the 29th of February is taken for the 28th
        ("2001-01-01T00:00:00", 8760, "2026-03-01 06:00", "season", 59 * 24 + 6),
        ("2001-01-01T00:00:00", 8760, "2024-02-29 06:00", "season", 58 * 24 + 6),
        ("2001-01-01T00:00:00", 8760, "2026-12-31 23:30", "season", 8759.5),
        # a year that begins in July: March is in its second half
        ("2020-07-01T00:00:00", 8760, "2026-03-01 06:00", "season", 243 * 24 + 6),
        # a week from 8 in the evening on is laid over and over, noon on noon
        ("2026-03-02T20:00:00", 168, "2026-11-05 20:00", "over", 3 * 24),
        ("2026-03-02T20:00:00", 168, "2026-11-05 12:00", "over", 2 * 24 + 16),
        ("2026-03-02T20:00:00", 168, "2026-03-04 20:00", "dates", 48),
        ("", 8760, "1970-01-02 05:00", "over", 29),
    ],
)
def test_an_hour_of_the_run_for_every_measured_hour(start, hours, asked, how, hour):
    at, said = moments_in_run(run(start, hours), local(asked))
    assert (said, at[0] / 3600) == (how, pytest.approx(hour))


def test_nothing_is_predicted_outside_a_dated_room_nor_in_its_gaps():
    made = run("2026-01-01T00:00:00", 48)
    kept = np.r_[0:10, 20:49]  # ten hours are missing, more than the bridge of data/room.toml
    made = replace(
        made, time=made.time[kept], series={z: {q: v[kept] for q, v in s.items()} for z, s in made.series.items()}
    )
    at, how = moments_in_run(
        made, local("2025-12-31 23:00", "2026-01-01 05:00", "2026-01-01 15:00", "2026-01-02 05:00", "2026-01-04")
    )
    assert how == "dates"
    assert np.isfinite(at).tolist() == [False, True, False, True, False]
    still, how = moments_in_run(run("", 24, still=True), local("2026-01-01 05:00"))
    assert how == "always"
    assert np.isfinite(still).all()


def test_the_means_are_of_the_same_hours_with_the_uncertainty_of_a_mean():
    # JCGM 100:2008 (GUM), 5.1.2 and 4.2.3: a shared error stays as it is, independent ones go down with the root of n
    made = run("2026-01-01T00:00:00", 72)
    at = local("2026-01-01") + np.arange(0, 48 * HOUR, HOUR)
    at = np.append(at, local("2026-01-10"))  # measured, but not predicted: left out of both
    value = np.append(np.arange(48) + 0.5 + 2.0, 999.0)  # in the middle of each hour the run has its number and a half
    one = beside(made, "pot", "temperature", "a", at, value, np.full(49, 0.3), np.full(49, 0.4 * np.sqrt(48)),
                 calibrated=True, interval=(-1.0, 1.2))  # fmt: skip
    assert one.hours == 48
    assert one.measured[0] - one.predicted[0] == pytest.approx(2.0)
    assert one.predicted == pytest.approx((24.0, 23.0, 25.2))
    reach = 1.2815515655446004 * 0.5  # scipy.stats.norm.ppf(0.9), of sqrt(0.3² + 0.4²)
    assert one.measured == pytest.approx((26.0, 26.0 - reach, 26.0 + reach))
    assert one.agrees is False  # 25.36 to 26.64 beside 23.0 to 25.2
    assert one.measured_spread == pytest.approx(tuple(np.quantile(value[:48], [0.1, 0.9])))
    assert one.day_measured[:2] == pytest.approx([14.0, 38.0])
    assert one.day_predicted[:2] == pytest.approx([12.0, 36.0])
    assert [str(date(1970, 1, 1).fromordinal(719163 + int(d))) for d in one.day[:2]] == ["2026-01-01", "2026-01-02"]
    near = beside(made, "pot", "temperature", "a", at, value, np.full(49, 0.3), np.full(49, 0.4 * np.sqrt(48)),
                  calibrated=True, interval=(-1.0, 1.4))  # fmt: skip
    assert near.agrees is True
    alone = beside(None, "pot", "temperature", "a", at, value, np.zeros(49), np.zeros(49), calibrated=True)
    assert (alone.known, alone.agrees, alone.hours) == (False, None, 49)


@pytest.mark.parametrize("name", ["single-pot", "three-pot"])
def test_intervals_of_zones_are_those_of_the_limits_where_there_are_limits(name):
    habitat, room = read_habitat(HABITATS / f"{name}.toml"), read_room("23 degC, 50 %")
    made, told = prove(habitat, room), zone_intervals(habitat, room)
    seen = 0
    for limit in made.limits:
        if (limit.zone, limit.quantity) in told:
            assert told[(limit.zone, limit.quantity)] == pytest.approx(limit.moved, rel=1e-6, abs=1e-9)
            seen += 1
    assert seen >= 3
    assert {zone for zone, _ in told} == {zone.name for zone in made.zones}


def test_the_worst_hour_has_the_value_that_the_proof_tells():
    time = np.arange(0, 10 * 24 + 1) * 3600.0
    warm = 296.15 + 7 * np.sin(2 * np.pi * time / 86400) * (time < 5 * 86400)
    room = Room("swing", time, warm, np.full(len(time), 1300.0), start="2026-01-06T00:00:00")
    made = prove_year(read_habitat(HABITATS / "single-pot.toml"), room, uncertainty=False)
    when = worst_hours(made)
    limit = next(one for one in made.mean.limits if one.name == "pot/bell: temperature")
    series = made.series["pot/bell"]["temperature"]
    at = int(np.searchsorted(made.time, when[limit.name]))
    assert series[at] == limit.value
    margin = np.minimum(series - limit.low, limit.high - series)
    assert margin[at] == margin.min()
    assert hours_outside(made, limit) == pytest.approx(float((margin[1:] < 0).sum()))
    assert clock_of(made, when[limit.name]) == datetime(2026, 1, 6) + pd.Timedelta(hours=at).to_pytimedelta()
    assert not any("drip" in name for name in when)
