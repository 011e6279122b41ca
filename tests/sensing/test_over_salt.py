"""From a logger in a box over salt to a point."""

import json

import numpy as np
import pytest

from nestwright.errors import InputError
from nestwright.sensing import salts
from nestwright.sensing.over_salt import over_salt

ROOM = 296.65
OFFSET = 0.021


def a_night(hours, warming=0.0, seed=1):
    rng = np.random.default_rng(seed)
    time = np.arange(0, hours * 3600, 60.0)
    temperature = ROOM + warming * time / 3600 + 0.02 * rng.standard_normal(len(time))
    true = float(salts.relative_humidity("NaCl", ROOM))
    raw = true + OFFSET + (0.5 - true) * np.exp(-time / 1500) + 0.0008 * rng.standard_normal(len(time))
    return time, raw, temperature


def test_a_night_gives_a_point():
    found = over_salt("table salt", *a_night(12))
    assert found.point is not None
    assert found.point.label == "NaCl"
    assert found.point.temperature == pytest.approx(ROOM, abs=0.01)
    assert found.point.raw - found.point.reference == pytest.approx(OFFSET, abs=3 * found.point.raw_error)
    assert json.loads(json.dumps(found.to_dict()))["humidity"]["value"] == found.point.raw


def test_too_early_gives_none_and_says_why():
    found = over_salt("NaCl", *a_night(1.5))
    assert found.point is None
    assert "not at rest" in found.reason


def test_a_box_that_warms_gives_none():
    found = over_salt("NaCl", *a_night(12, warming=0.5))
    assert found.point is None
    assert "temperature" in found.reason


def test_one_temperature_read_off():
    time, raw, _ = a_night(12)
    assert over_salt("NaCl", time, raw, ROOM).point.temperature == ROOM


def test_bad_input():
    time, raw, temperature = a_night(1)
    with pytest.raises(InputError, match="one for each"):
        over_salt("NaCl", time, raw, temperature[:-1])
    with pytest.raises(InputError, match="no fixed point"):
        over_salt("sugar", time, raw, temperature)
