"""Sensors held against references: what comes back of a planted error, and how often the interval holds it."""

import doctest
import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from nestwright.errors import InputError
from nestwright.physics.air import saturation_pressure
from nestwright.sensing import salts
from nestwright.sensing.calibration import calibrate, correct, curve_and_error
from nestwright.sensing.reference_points import Point, ice_point, outdoor_air, salt_point
from nestwright.sensing.sensor_values import QUANTITIES, sensor_value

DAY = date(2026, 3, 1)
SALTS = ("MgCl2", "NaCl", "KCl", "K2SO4")
ROOM = 297.15


def points_of(read, names=SALTS, rng=None, reading_error=0.002):
    """Points of a sensor that reads `read(true)`, with the errors that the points state when drawn from `rng`."""
    found = []
    for name in names:
        point = salt_point(name, ROOM, 0.0, reading_error)
        slip = 0.0 if rng is None else rng.standard_normal()
        noise = 0.0 if rng is None else rng.standard_normal() * reading_error
        raw = read(point.reference + slip * point.reference_error) + noise
        found.append(replace(point, raw=float(raw)))
    return found


def test_planted_line_comes_back():
    c = calibrate(points_of(lambda x: 0.03 + 0.93 * x), DAY)
    true = np.array([0.4, 0.6, 0.9])
    assert correct(c, 0.03 + 0.93 * true).value == pytest.approx(true, abs=1e-9)
    assert c.chi2 == pytest.approx(0.0, abs=1e-12)
    assert len(c.coefficients) == 2


@pytest.mark.parametrize("names", [("NaCl",), ("MgCl2", "NaCl"), SALTS])
def test_the_interval_holds_the_truth_as_often_as_it_says(names):
    """80 % interval of the fit at its own points' range; seeded. One point: its own level."""
    rng = np.random.default_rng(20260301)
    level = {1: salts.relative_humidity("NaCl", ROOM), 2: 0.6, 4: 0.93}[len(names)]
    hits, runs = 0, 400
    for _ in range(runs):
        gain = 1.0 if len(names) == 1 else 0.94
        c = calibrate(points_of(lambda x, gain=gain: 0.02 + gain * x, names, rng), DAY)
        value, error = curve_and_error(c, 0.02 + gain * level)
        hits += abs(float(value) - float(level)) < 1.2816 * float(error)
    assert 0.74 < hits / runs < 0.87


def test_chance_of_a_true_line_is_evenly_spread():
    rng = np.random.default_rng(7)
    chance = [calibrate(points_of(lambda x: 0.02 + 0.97 * x, SALTS, rng), DAY).chance for _ in range(300)]
    assert np.mean(np.array(chance) < 0.5) == pytest.approx(0.5, abs=0.1)


def test_one_point_is_an_offset_and_says_so():
    c = calibrate(points_of(lambda x: x - 0.04, ("NaCl",)), DAY)
    assert c.coefficients[1] == 1.0
    assert correct(c, 0.9).value == pytest.approx(0.94)
    assert "offset only" in c.notes[0]
    assert correct(c, 0.98).common > 2 * correct(c, c.centre).common


def test_two_points_meet_the_line_and_say_so():
    points = points_of(lambda x: 0.05 + 0.9 * x, ("NaCl", "K2SO4"))
    c = calibrate(points, DAY)
    assert correct(c, [p.raw for p in points]).value == pytest.approx([p.reference for p in points])
    assert c.chance is None
    assert "two points" in c.notes[0]


def test_a_bent_sensor_gets_a_quadratic_with_four_points_only():
    def bent(x):
        return x + 0.12 * (x - 0.33) * (x - 0.97)

    names = ("LiCl", "MgCl2", "Mg(NO3)2", "NaCl", "K2SO4")
    four = calibrate(points_of(bent, names), DAY)
    assert len(four.coefficients) == 3
    assert float(correct(four, bent(0.6)).value) == pytest.approx(0.6, abs=0.004)
    three = calibrate(points_of(bent, ("MgCl2", "Mg(NO3)2", "K2SO4")), DAY)
    assert len(three.coefficients) == 2
    straight = calibrate(points_of(lambda x: 0.01 + x, names), DAY)
    assert len(straight.coefficients) == 2


def test_points_that_contradict_the_line_widen_the_interval():
    points = points_of(lambda x: x, ("MgCl2", "NaCl", "K2SO4"))
    off = [points[0], replace(points[1], raw=points[1].raw + 0.05), points[2]]
    c = calibrate(off, DAY)
    assert c.chance < 0.01
    assert any("widened" in note for note in c.notes)
    assert float(correct(c, 0.75).common) > 3 * float(correct(calibrate(points, DAY), 0.75).common)


def test_beyond_the_points_is_marked_and_less_certain():
    c = calibrate(points_of(lambda x: x, ("MgCl2", "NaCl")), DAY)
    found = correct(c, [0.2, 0.5, 0.75, 0.98])
    assert list(found.outside) == [True, False, False, True]
    assert found.error[3] > found.error[2]


def test_error_grows_with_the_days_since_on_both_sides():
    c = calibrate(points_of(lambda x: x), DAY)
    errors = [float(correct(c, 0.9, date(y, 3, 1)).error) for y in (2026, 2027, 2028, 2025)]
    assert errors[0] < errors[1] < errors[2]
    assert errors[3] == pytest.approx(errors[1])


def test_the_gap_of_temperature_is_in_the_reference():
    """1 K between salt and sensor is 6 % of the humidity: saturation pressures of 23 and 24 degC."""
    wide = salt_point("NaCl", ROOM, 0.75, 0.001, temperature_gap=1.0)
    by_hand = wide.reference * (1 - float(saturation_pressure(ROOM - 0.5) / saturation_pressure(ROOM + 0.5)))
    assert wide.reference_error == pytest.approx(by_hand, rel=0.05)
    none = salt_point("NaCl", ROOM, 0.75, 0.001, temperature_gap=0.0, temperature_error=0.0)
    assert none.reference_error == pytest.approx(float(salts.uncertainty("NaCl", ROOM)))


def test_the_error_of_the_temperature_counts_as_the_salt_moves_with_it():
    """Magnesium nitrate moves by 0.298 % RH a kelvin (its table)."""
    moved = salt_point("Mg(NO3)2", ROOM, 0.5, 0.001, temperature_gap=0.0, temperature_error=2.0).reference_error
    assert moved == pytest.approx(math.hypot(2 * 0.00298, float(salts.uncertainty("Mg(NO3)2", ROOM))), rel=0.01)


def test_temperature_and_carbon_dioxide_go_the_same_way():
    ice = calibrate([ice_point(273.65, 0.02)], DAY, "temperature")
    assert float(correct(ice, 297.65).value) == pytest.approx(297.15)
    assert float(correct(ice, 297.65).error) > float(correct(ice, 273.65).error) > 0.05
    air = calibrate([outdoor_air(500e-6, 5e-6)], DAY, "co2")
    assert float(correct(air, 500e-6).value) == pytest.approx(sensor_value("reference", "outdoor_air").value)


def test_results_are_written_out_whole():
    import json

    c = calibrate(points_of(lambda x: x), DAY)
    found = json.loads(json.dumps(c.to_dict()))
    assert found["when"] == "2026-03-01"
    assert [p["label"] for p in found["points"]] == list(SALTS)
    assert found["freedom"] == 2


@pytest.mark.parametrize(
    ("points", "quantity", "message"),
    [
        ([], "relative_humidity", "at least one point"),
        ([Point(0.7, 0.01, 0.7, 0.0)], "humidity", "no such quantity"),
        ([Point(0.7, 0.01, 0.7, 0.0), Point(0.3, 0.01, 0.7, 0.0)], "relative_humidity", "tell no line"),
        ([Point(0.7, 0.01, 0.3, 0.0), Point(0.3, 0.01, 0.7, 0.0)], "relative_humidity", "mixed up"),
    ],
)
def test_what_cannot_be_calibrated(points, quantity, message):
    with pytest.raises(InputError, match=message):
        calibrate(points, DAY, quantity)


@pytest.mark.parametrize(
    "numbers", [(math.nan, 0.1, 0.5, 0.1), (0.5, -0.1, 0.5, 0.1), (0.5, 0.0, 0.5, 0.0), (0.5, 0.1, math.inf, 0.1)]
)
def test_what_is_no_point(numbers):
    with pytest.raises(InputError):
        Point(*numbers)


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_has_every_value_with_its_source(quantity):
    names = ("repeatability", "nonlinearity", "beyond", "gain", "drift", "wander", "gain_drift", "settle_within")
    for name in names:
        value = sensor_value(quantity, name)
        assert 0 < value.low <= value.value <= value.high
        assert value.source
        assert value.mark in {"published", "secondary", "derived", "judgement"}


def test_an_unknown_value_names_the_nearest():
    with pytest.raises(InputError) as caught:
        sensor_value("temperature", "drfit")
    assert caught.value.nearest == "drift"


def test_the_example_of_the_page_runs():
    page = Path(__file__).parents[2] / "docs" / "how-it-computes" / "sensors.md"
    done = doctest.testfile(str(page), module_relative=False)
    assert done.attempted >= 5
    assert done.failed == 0
