"""Sensors that move between calibrations."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from nestwright.errors import InputError
from nestwright.sensing.calibration import calibrate, correct
from nestwright.sensing.drift import correct_over, drift_rate, due
from nestwright.sensing.reference_points import ice_point, salt_point
from nestwright.sensing.sensor_values import sensor_value

FIRST = date(2024, 3, 1)
ROOM = 297.15
YEAR = 365.25


def noon(day):
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC).timestamp()


def over_salts(day, offset, names=("MgCl2", "NaCl", "K2SO4"), rng=None):
    points = []
    for name in names:
        point = salt_point(name, ROOM, 0.0, 0.001)
        slip = 0.0 if rng is None else rng.standard_normal() * np.hypot(point.reference_error, 0.001)
        points.append(replace(point, raw=point.reference + offset + slip))
    return calibrate(points, day)


def yearly(offsets, **kwargs):
    return [over_salts(FIRST + timedelta(days=round(YEAR * i)), x, **kwargs) for i, x in enumerate(offsets)]


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_one_calibration_on_its_day_is_the_plain_correction(count):
    one = over_salts(FIRST, 0.02, ("MgCl2", "Mg(NO3)2", "NaCl", "K2SO4")[:count])
    raw = np.array([0.5, 0.8, 0.97])
    over, plain = correct_over([one], np.full(3, noon(FIRST)), raw), correct(one, raw)
    assert over.value == pytest.approx(plain.value, abs=1e-4)
    assert over.error == pytest.approx(plain.error, rel=0.01)
    assert list(over.outside) == list(plain.outside)


def test_a_quadratic_on_its_day_is_the_plain_correction():
    names = ("LiCl", "MgCl2", "Mg(NO3)2", "NaCl", "K2SO4")
    points = [salt_point(name, ROOM, 0.0, 0.001) for name in names]
    bent = [replace(p, raw=p.reference + 0.15 * (p.reference - 0.3) * (p.reference - 0.97)) for p in points]
    one = calibrate(bent, FIRST)
    assert len(one.coefficients) == 3
    raw = np.array([0.2, 0.6, 0.97])
    over, plain = correct_over([one], np.full(3, noon(FIRST)), raw), correct(one, raw)
    assert over.value == pytest.approx(plain.value, abs=1e-4)
    assert over.error == pytest.approx(plain.error, rel=0.02)


def test_between_two_calibrations_by_both():
    pair = yearly([0.0, -0.02])
    days = np.array([0.0, 0.25, 0.5, 0.75, 1.0]) * YEAR
    found = correct_over(pair, noon(FIRST) + days * 86400, np.full(5, 0.8))
    assert found.value == pytest.approx(0.8 + 0.02 * days / YEAR, abs=0.0015)
    assert found.common[2] > found.common[0]
    assert found.common[2] > found.common[4]


def test_uncertainty_grows_after_the_last_and_before_the_first():
    pair = yearly([0.0, 0.0])
    days = np.array([-2.0, -1.0, 0.0, 1.0, 2.0, 3.0]) * YEAR
    error = correct_over(pair, noon(FIRST) + days * 86400, np.full(6, 0.8)).common
    assert error[0] > error[1] > error[2]
    assert error[3] < error[4] < error[5]


def test_planted_rate_comes_back():
    calibrations = yearly([0.0, -0.012, -0.024, -0.036])
    found = drift_rate(calibrations, 0.8)
    assert found.low < 0.012 < found.high
    assert found.per_year == pytest.approx(0.012, abs=0.003)
    after = correct_over(calibrations, [noon(FIRST) + 4 * YEAR * 86400], [0.8 - 0.048])
    assert abs(float(after.value[0]) - 0.8) < 2 * float(after.common[0])


def test_rate_interval_holds_rates_drawn_from_the_spread_as_often_as_it_says():
    rng = np.random.default_rng(9)
    drift, wander = (sensor_value("relative_humidity", name).value for name in ("drift", "wander"))
    hits, runs = 0, 150
    for _ in range(runs):
        rate = rng.standard_normal() * drift
        path = np.cumsum(np.append(0.0, rng.standard_normal(3) * wander)) + rate * np.arange(4)
        found = drift_rate(yearly(-path, rng=rng), 0.8)
        hits += found.low < rate < found.high
    assert 0.70 < hits / runs < 0.90


def test_as_a_normal_process_conditioned_by_another_library():
    """One quantity, one point each (temperature at the ice point): the offset alone, by scipy's normal distribution."""
    days = [0, 300, 700]
    raws = [273.35, 273.30, 273.22]
    calibrations = [
        calibrate([ice_point(raw, 0.01, error=0.02)], FIRST + timedelta(days=d), "temperature")
        for d, raw in zip(days, raws, strict=True)
    ]
    drift, wander = (sensor_value("temperature", name).value for name in ("drift", "wander"))
    t = np.array([*days, 1000]) / YEAR
    # the mean of an offset that nothing is known of, as a wide normal
    prior = 1.0**2 + drift**2 * np.outer(t, t) + wander**2 * np.minimum(t[:, None], t[None])
    prior[:3, :3] += np.eye(3) * (0.01**2 + 0.02**2)
    grid = np.linspace(-0.4, 0.2, 6001)
    seen = 273.15 - np.array(raws)
    density = multivariate_normal(np.zeros(4), prior).pdf(np.column_stack([np.tile(seen, (len(grid), 1)), grid]))
    mean = float(np.sum(grid * density) / np.sum(density))
    spread = float(np.sqrt(np.sum((grid - mean) ** 2 * density) / np.sum(density)))
    found = correct_over(calibrations, [noon(FIRST) + 1000 * 86400], [273.3])
    assert float(found.value[0]) - 273.3 == pytest.approx(mean, abs=0.002)
    shape = sensor_value("temperature", "nonlinearity").value
    assert float(found.common[0]) == pytest.approx(np.hypot(spread, shape), rel=0.05)


def test_offset_checks_do_not_add_up_to_a_slope():
    """Ten checks at one salt know the offset well and the slope not at all."""
    checks = [over_salts(FIRST + timedelta(days=i), 0.0, ("NaCl",)) for i in range(10)]
    far = correct_over(checks, [noon(FIRST)], [0.35]).common[0]
    gain = sensor_value("relative_humidity", "gain").value
    assert far > 0.9 * gain * 0.4


def test_due_is_the_day_on_which_the_error_reaches_what_is_wanted():
    one = [over_salts(FIRST, 0.0)]
    found = due(one, 0.015, 0.9)
    errors = correct_over(one, [noon(found.day - timedelta(days=1)), noon(found.day)], [0.9, 0.9]).error
    assert errors[0] <= 0.015 < errors[1]
    assert due(one, 0.02, 0.9).day > found.day
    assert "drift" in found.reason


def test_due_says_why_it_cannot_be_had():
    one = [over_salts(FIRST, 0.0)]
    kind = due(one, 0.001, 0.9)
    assert kind.day == FIRST
    assert "kind" in kind.reason
    coarse = calibrate([salt_point("NaCl", ROOM, 0.75, 0.02)], FIRST)
    assert "references" in due([coarse], 0.015, 0.75).reason
    assert due(one, 0.5, 0.9).day is None


def test_a_known_steady_drift_is_due_later():
    assert due(yearly([0.0, 0.0, 0.0]), 0.015, 0.9).day - FIRST - timedelta(days=731) > (
        due([over_salts(FIRST, 0.0)], 0.015, 0.9).day - FIRST
    )


def test_a_clock_that_jumped_costs_nothing():
    """One reading of the year 9999 among others."""
    time = np.array([noon(FIRST), noon(FIRST) + 60, 2.5e11])
    found = correct_over([over_salts(FIRST, 0.02)], time, np.full(3, 0.8))
    assert found.value[:2] == pytest.approx(0.78, abs=1e-4)
    assert found.error[2] > 10 * found.error[1]
    with pytest.raises(InputError, match="not a number"):
        correct_over([over_salts(FIRST, 0.02)], [np.nan], [0.8])


def test_order_does_not_matter():
    three = yearly([0.0, 0.01, 0.015])
    assert drift_rate(three, 0.7) == drift_rate(three[::-1], 0.7)


def test_bad_input():
    with pytest.raises(InputError, match="no calibration"):
        drift_rate([], 0.5)
    with pytest.raises(InputError, match="different quantities"):
        drift_rate([over_salts(FIRST, 0.0), calibrate([ice_point(273.0, 0.1)], FIRST, "temperature")], 0.5)
    with pytest.raises(InputError, match="differ in number"):
        correct_over([over_salts(FIRST, 0.0)], [0.0, 1.0], [0.5])
    with pytest.raises(InputError, match="above 0"):
        due([over_salts(FIRST, 0.0)], 0.0, 0.9)
    assert correct_over([over_salts(FIRST, 0.0)], [], []).value.size == 0
