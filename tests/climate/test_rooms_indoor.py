"""Indoor air from outdoor air: ISO 13788's excess, the slow building, set-point, set-back and cooling."""

import math
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.climate.humidity_class import moisture_excess
from nestwright.climate.indoor import (
    Indoor,
    indoor_temperature,
    indoor_vapour_pressure,
    running_mean,
    weather_room,
)
from nestwright.climate.rooms import read_room
from nestwright.climate.weather import read_weather
from nestwright.errors import InputError

sys.path.insert(0, str(Path(__file__).parent))
from rooms_common import ROOMS, check_contract

psychrolib.SetUnitSystem(psychrolib.SI)
HOUR, DAY = 3600.0, 86400.0
YEAR = np.arange(8761) * HOUR

# ISO 13788:2012, annex A: upper limits 270, 540, 810, 1080 Pa at 0 °C and below, zero at 20 °C, a straight line
# between (values from memory). Class 5 has no limit in the standard: it only has to lie above class 4.
EXCESS = [
    (-10, (270, 540, 810, 1080)),
    (0, (270, 540, 810, 1080)),
    (5, (202.5, 405, 607.5, 810)),
    (10, (135, 270, 405, 540)),
    (15, (67.5, 135, 202.5, 270)),
    (20, (0, 0, 0, 0)),
    (30, (0, 0, 0, 0)),
]


@pytest.mark.parametrize(("outdoor", "expected"), EXCESS)
def test_excess_of_iso_13788(outdoor, expected):
    assert [float(moisture_excess(outdoor + 273.15, k)) for k in (1, 2, 3, 4)] == pytest.approx(expected)
    if outdoor < 20:
        assert moisture_excess(outdoor + 273.15, 5) > expected[3]


def test_places_in_a_class():
    assert moisture_excess(273.15, 3, 0.0) == moisture_excess(273.15, 2, 1.0)
    assert moisture_excess(273.15, 1, 0.0) == 0
    assert moisture_excess(273.15, 2, 0.5) == pytest.approx((270 + 540) / 2)


@pytest.mark.parametrize("wrong", [0, 6, -1, 2.5, "3", True, None])
def test_no_such_class(wrong):
    with pytest.raises(InputError, match="ISO 13788"):
        moisture_excess(280.0, wrong)


def test_running_mean_of_a_step_is_the_exponential():
    time = np.array([0.0, 3 * HOUR, 10 * HOUR, 50 * HOUR])
    made = running_mean(time, np.ones(4), 20 * HOUR, cyclic=False) - 1
    assert made == pytest.approx(np.zeros(4), abs=1e-12)
    stepped = running_mean(np.concatenate([[-2 * DAY, -1e-6], time]), np.array([0, 0, 1, 1, 1, 1.0]), 20 * HOUR, False)
    assert stepped[2:] == pytest.approx(1 - np.exp(-time / (20 * HOUR)), abs=1e-6)


@pytest.mark.parametrize("period", [DAY, 30 * DAY])
@pytest.mark.parametrize("tau", [12 * HOUR, 48 * HOUR])
def test_running_mean_damps_and_delays_like_a_first_order_system(period, tau):
    # Gain 1/sqrt(1 + (omega tau)²), phase -atan(omega tau): any textbook of control.
    omega = 2 * math.pi / period
    made = running_mean(YEAR, np.sin(omega * YEAR), tau)
    expected = np.sin(omega * YEAR - math.atan(omega * tau)) / math.hypot(1, omega * tau)
    settled = YEAR > 30 * DAY
    assert np.abs(made - expected)[settled].max() < 0.01


@pytest.fixture(scope="module")
def greensboro():
    return read_weather(ROOMS / "weather/greensboro.csv.gz")


@pytest.mark.parametrize("set_back", [0.0, 3.0])
@pytest.mark.parametrize("limit", [None, 299.15])
def test_heating_and_cooling_hold(greensboro, set_back, limit):
    room = weather_room(greensboro, Indoor(293.15, 2, set_back=set_back, cooling_limit=limit))
    check_contract(room)
    t = room.temperature
    assert t.min() == pytest.approx(293.15 - set_back, abs=1e-9)
    assert (t.max() == limit) if limit else (t.max() > 299.15)
    assert t[0] == pytest.approx(t[-1], abs=0.01)  # a year that follows on itself
    assert room.start == "2001-01-01T00:00:00"
    assert room.time[-1] == 8760 * HOUR
    hour = (room.time / HOUR) % 24
    day = (hour >= 12) & (hour < 22)
    assert t[day].min() == pytest.approx(293.15, abs=1e-9)
    assert np.diff(t).max() <= 1.0001 + 1e-9 or not set_back


def test_night_set_back_falls_slowly_and_comes_back():
    # Outdoors at 0 °C, no gains, tau 48 h: from 20 °C the room falls by 20 (1 - exp(-8/48)) = 3.07 K in eight hours.
    outdoor = np.full(72, 273.15)
    time = np.arange(72) * HOUR
    kept = Indoor(293.15, 2, set_back=6.0, night=(22.0, 6.0), gains=0.0, time_constant=48 * HOUR)
    t = indoor_temperature(time, outdoor, kept) - 273.15
    # Knot 45 (21:00) is the last on the set-point; the setting is lower from 46 to 53, which is eight steps.
    assert t[45] == pytest.approx(20)
    assert t[53] == pytest.approx(20 * math.exp(-8 / 48), rel=1e-9)
    assert t[54] - t[53] == pytest.approx(1, abs=0.001)
    assert t[60] == pytest.approx(20)


def test_left_to_itself_the_room_is_outdoors_plus_gains():
    kept = Indoor(250.0, 1, gains=2.5)
    t = indoor_temperature(YEAR, np.full(8761, 290.0), kept)
    assert t == pytest.approx(np.full(8761, 292.5))


def test_class_moves_the_room_as_the_standard_says(greensboro):
    rooms = [weather_room(greensboro, Indoor(293.15, k)) for k in (1, 2, 3, 4, 5)]
    for below, above in pairwise(rooms):
        assert (above.vapour_pressure >= below.vapour_pressure).all()
    first = weather_room(greensboro, Indoor(293.15, 1, class_share=0.0))
    # Lower limit of class 1: outdoor vapour, unless the cap holds it.
    outdoor = np.concatenate([greensboro.vapour_pressure[-1:], greensboro.vapour_pressure])
    free = first.vapour_pressure < 0.949 * np.array([psychrolib.GetSatVapPres(t - 273.15) for t in first.temperature])
    assert free.mean() > 0.98
    assert first.vapour_pressure[free] == pytest.approx(outdoor[free])


def test_steady_outdoors_give_the_standards_sum():
    # 5 °C and 80 % RH outdoors, class 3: 872.6 Pa saturation (ASHRAE Fundamentals), so 698 + 607.5 Pa.
    time, out = np.arange(48) * HOUR, np.full(48, 278.15)
    e = indoor_vapour_pressure(time, out, np.full(48, 0.8 * 872.5), np.full(48, 293.15), Indoor(293.15, 3))
    assert e == pytest.approx(np.full(48, 698.0 + 607.5), abs=0.5)


@given(
    st.floats(240, 310), st.floats(0.05, 1.0), st.floats(285, 300), st.integers(1, 5), st.floats(0, 1), st.floats(0, 8)
)
def test_the_room_is_always_air(outdoor, humidity, set_point, number, share, swing):
    time = np.arange(96) * HOUR
    t_out = outdoor + swing * np.sin(2 * math.pi * time / DAY)
    e_out = humidity * np.exp(np.log(610) + 0.06 * (t_out - 273.15))
    kept = Indoor(set_point, number, class_share=share)
    t = indoor_temperature(time, t_out, kept)
    e = indoor_vapour_pressure(time, t_out, e_out, t, kept)
    # WMO's Magnus form over water holds within 0.6 % of any saturation curve.
    magnus = 611.2 * np.exp(17.62 * (t - 273.15) / (243.12 + t - 273.15))
    assert (t >= set_point - 1e-9).all()
    assert (e > 0).all()
    assert (e <= 0.95 * magnus * 1.006).all()


def test_settings_of_the_command_stand_before_those_of_the_file():
    heated = str(ROOMS / "heated-room.toml")
    assert read_room(heated, set_point=296.15).temperature.min() == pytest.approx(294.15)
    # Class 4 lies 540 Pa over class 2 below 0 °C; the year's coldest running mean is near that.
    more = read_room(heated, humidity_class=4).vapour_pressure - read_room(heated).vapour_pressure
    assert (more >= -1e-9).all()
    assert 450 < more.max() <= 540 + 1e-9
    for name, given_ in (("set_point", {"set_point": 296.15}), ("humidity_class", {"humidity_class": 3})):
        for spec in ("21 degC, 45 %", str(ROOMS / "attic.toml"), str(ROOMS / "bench-logger.csv")):
            with pytest.raises(InputError, match="weather year only"):
                read_room(spec, **given_)
        assert name


def test_what_was_assumed_is_said():
    bare = read_room(str(ROOMS / "weather/greensboro.csv.gz"))
    assert "assumed (judgement): set-point, humidity class, gains" in bare.source
    told = read_room(str(ROOMS / "weather/greensboro.csv.gz"), set_point=293.15, humidity_class=3)
    assert "assumed (judgement): gains" in told.source
