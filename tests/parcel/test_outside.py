"""Outside air of a leg from weather years, forecasts and profiles."""

from datetime import datetime

import numpy as np
import pytest

from nestwright.climate.weather import read_weather
from nestwright.errors import InputError
from nestwright.parcel.outside import read_outside
from nestwright.workshop.example import example_workshop

DISPATCH = datetime(2027, 1, 13, 16)
WEATHER = "rooms/weather/greensboro.csv.gz"


def test_a_weather_year_begins_at_the_day_and_hour_of_dispatch():
    room, by_day = read_outside(WEATHER, example_workshop(), DISPATCH, 0.0)
    year = read_weather(example_workshop() / WEATHER)
    hour = 3600.0 * (12 * 24 + 16)
    assert not by_day
    assert np.interp(0, room.time, room.temperature) == pytest.approx(np.interp(hour, year.time, year.temperature))
    # the outdoor air, not that of a heated room
    assert room.temperature[:72].min() < 285


def test_a_year_goes_on_over_its_end():
    room, _ = read_outside(WEATHER, example_workshop(), datetime(2026, 12, 31, 12), 0.0)
    year = read_weather(example_workshop() / WEATHER)
    assert np.interp(36 * 3600.0, room.time, room.temperature) == pytest.approx(
        np.interp(24 * 3600.0, year.time, year.temperature)
    )


def test_a_forecast_is_laid_on_the_hour_of_dispatch(tmp_path):
    rows = [f"2027-01-13T{hour:02d}:00,{hour - 10},80" for hour in range(24)]
    (tmp_path / "forecast.csv").write_text("time,temperature_degC,relative_humidity_pct\n" + "\n".join(rows) + "\n")
    room, by_day = read_outside("forecast.csv", tmp_path, DISPATCH, 0.0)
    assert not by_day
    assert np.interp([0, 3600], room.time, room.temperature) == pytest.approx([279.15, 280.15])
    with pytest.raises(InputError, match="does not hold the hour of dispatch"):
        read_outside("forecast.csv", tmp_path, datetime(2027, 1, 20), 0.0)


def test_a_profile_repeats_by_the_hour_of_the_day():
    room, by_day = read_outside("winter van", example_workshop(), DISPATCH, 0.0)
    assert by_day
    assert room.temperature[0] == room.temperature[-1]
    with pytest.raises(InputError, match="did you mean 'winter depot'"):
        read_outside("winter depots", example_workshop(), DISPATCH, 0.0)
