"""The range of a last reading: as wide as its error, and no wider than air can be damp."""

from __future__ import annotations

import math

import pytest

from nestwright.intervals import EIGHT_IN_TEN
from nestwright.workshop.last_readings import range_of
from nestwright.workshop.readings import Channel


@pytest.mark.parametrize(
    ("quantity", "unit", "value", "error", "low", "high"),
    [
        ("temperature", "degC", 21.0, 0.5, 21.0 - 0.5 * EIGHT_IN_TEN, 21.0 + 0.5 * EIGHT_IN_TEN),
        ("humidity", "%", 98.0, 3.0, 98.0 - 3.0 * EIGHT_IN_TEN, 100.0),
        ("humidity", "%", 102.0, 3.0, 102.0 - 3.0 * EIGHT_IN_TEN, 102.0),
        ("humidity", "%", 50.0, math.nan, 50.0, 50.0),
    ],
)
def test_a_range_is_the_errors_and_ends_where_air_is_full(
    quantity: str, unit: str, value: float, error: float, low: float, high: float
) -> None:
    channel = Channel(1, "pot", "x", quantity, unit)
    assert range_of(channel, value, error) == pytest.approx((low, high))
