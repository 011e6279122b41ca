"""When a sensor over a salt is at rest: never claimed too early, and right within its error."""

import math

import numpy as np
import pytest
from emcee.autocorr import integrated_time

from nestwright.errors import InputError
from nestwright.sensing.correlated import correlation_time
from nestwright.sensing.equilibrium import settled
from nestwright.sensing.sensor_values import sensor_value

WITHIN = sensor_value("relative_humidity", "settle_within").value
END = 0.7529


def resembling(rng, n, likeness):
    """Noise of unit spread in which neighbours resemble each other (first-order autoregression)."""
    found = rng.standard_normal(n)
    for i in range(1, n):
        found[i] = likeness * found[i - 1] + math.sqrt(1 - likeness**2) * found[i]
    return found


def approach(hours, tau, rng, likeness=0.0, noise=0.0008, step=0.0, begin=0.45):
    time = np.arange(int(hours * 60)) * 60.0
    value = END + (begin - END) * np.exp(-time / tau) + noise * resembling(rng, len(time), likeness)
    return time, np.round(value / step) * step if step else value


@pytest.mark.parametrize("likeness", [0.0, 0.8, 0.95])
def test_correlation_time(likeness):
    """(1 + r) / (1 - r) for a first-order autoregression; emcee's estimator (Sokal's window) beside it."""
    x = resembling(np.random.default_rng(3), 20_000, likeness)
    assert correlation_time(x) == pytest.approx((1 + likeness) / (1 - likeness), rel=0.25)
    assert correlation_time(x) == pytest.approx(float(integrated_time(x)[0]), rel=0.25)


@pytest.mark.parametrize("likeness", [0.0, 0.9])
@pytest.mark.parametrize("step", [0.0, 0.001])
@pytest.mark.parametrize("tau", [600.0, 2400.0])
def test_a_night_over_salt_is_enough(tau, step, likeness):
    time, value = approach(16, tau, np.random.default_rng(1), likeness, step=step)
    found = settled(time, value, WITHIN)
    assert found.start_index is not None
    assert time[found.start_index] > 2 * tau
    assert abs(found.value - END) < 3 * found.error < 0.006


@pytest.mark.parametrize("tau", [600.0, 2400.0, 7200.0])
def test_rest_is_never_claimed_while_more_is_left(tau):
    """Many series cut off at all stages; where rest is claimed the value is within what is allowed."""
    rng = np.random.default_rng(11)
    claims = wrong = 0
    for hours in np.linspace(0.5, 12, 24):
        for likeness in (0.0, 0.9):
            for step in (0.0, 0.001):
                for begin in (0.45, 0.74, 0.98):
                    found = settled(*approach(hours, tau, rng, likeness, step=step, begin=begin), WITHIN)
                    claims += found.start_index is not None
                    wrong += found.start_index is not None and abs(found.value - END) > WITHIN
    assert claims > 20
    assert wrong <= 0.02 * claims


def test_error_of_the_mean_holds_the_end():
    rng = np.random.default_rng(5)
    hits = claims = 0
    for _ in range(100):
        found = settled(*approach(10, 1800.0, rng, 0.9), WITHIN)
        if found.start_index is not None:
            claims += 1
            hits += abs(found.value - END) < 2 * found.error
    assert claims > 80
    assert hits >= 0.93 * claims


def test_steady_drift_is_no_rest():
    time = np.arange(0, 12 * 3600, 60.0)
    value = END + 0.002 * time / 3600 + 0.0008 * np.random.default_rng(2).standard_normal(len(time))
    found = settled(time, value, WITHIN)
    assert found.start_index is None
    assert found.value is None
    assert found.error is None
    assert "not at rest" in found.reason


def test_a_lid_opened_shortly_before_the_end_is_no_rest():
    rng = np.random.default_rng(4)
    time, value = approach(12, 900.0, rng)
    late = time > time[-1] - 1800
    value[late] += -0.2 * np.exp(-(time[late] - time[late][0]) / 900.0)
    assert settled(time, value, WITHIN).start_index is None


def test_after_a_lid_was_opened_the_rest_begins_anew():
    rng = np.random.default_rng(4)
    time, value = approach(20, 900.0, rng)
    opened = 6 * 3600.0
    after = time >= opened
    value[after] -= 0.2 * np.exp(-(time[after] - opened) / 900.0)
    found = settled(time, value, WITHIN)
    assert time[found.start_index] > opened + 2 * 900
    assert abs(found.value - END) < 3 * found.error


def test_only_what_follows_a_gap_counts():
    rng = np.random.default_rng(6)
    time, value = approach(14, 900.0, rng)
    kept = (time < 10 * 3600) | (time > 11 * 3600)
    found = settled(time[kept], value[kept], WITHIN)
    assert found.start_index is None or time[kept][found.start_index] > 11 * 3600
    short = kept & ((time < 10 * 3600) | (time > time[-1] - 300))
    assert "after the last gap" in settled(time[short], value[short], WITHIN).reason
    value[~kept] = np.nan
    assert settled(time, value, WITHIN).value == found.value


def test_readings_that_never_change_need_time():
    """A logger that shows whole steps says nothing of a drift below one."""
    time = np.arange(0, 8 * 3600, 60.0)
    assert settled(time[:60], np.full(60, 0.75), WITHIN).start_index is None
    whole = settled(time, np.full(len(time), 0.75), WITHIN)
    assert whole.value == pytest.approx(0.75)
    assert whole.error > 0.0005


def test_scale_does_not_matter():
    time, value = approach(12, 1200.0, np.random.default_rng(8))
    plain, ppm = settled(time, value, WITHIN), settled(time, value * 1e-3, WITHIN * 1e-3)
    assert plain.start_index == ppm.start_index
    assert ppm.error == pytest.approx(plain.error * 1e-3)


def test_few_readings():
    found = settled([0.0, 60.0], [0.7, 0.7], WITHIN)
    assert found.start_index is None
    assert "only 2 readings" in found.reason
    assert found.to_dict()["readings"] == 2


@pytest.mark.parametrize(
    ("time", "value", "within"), [([0.0, 1.0], [1.0], 0.1), ([1.0, 0.0], [1.0, 1.0], 0.1), ([0.0, 1.0], [1.0, 1.0], 0)]
)
def test_bad_input(time, value, within):
    with pytest.raises(InputError):
        settled(time, value, within)
