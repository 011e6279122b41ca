"""The digits of a limit's value."""

import importlib.util
from pathlib import Path
from types import SimpleNamespace

import pytest

from nestwright.charts.states import value_text

spec = importlib.util.spec_from_file_location("charts_made", Path(__file__).with_name("conftest.py"))
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)


@pytest.mark.parametrize(
    ("quantity", "value", "half", "high", "text"),
    [
        ("co2", 0.00042, 0.0, 0.03, "0.04 % (at most 3)"),
        ("co2", 0.0123, 0.004, 0.03, "1.2 % (at most 3)"),
        ("co2", 0.0123, 0.15, 0.03, "1 % (at most 3)"),
        ("temperature", 297.28, 0.0, 301.15, "24.1 °C (at most 28)"),
        ("temperature", 297.28, 0.004, 301.15, "24.1 °C (at most 28)"),
        ("temperature", 297.28, 12.0, 301.15, "24 °C (at most 28)"),
        ("relative_humidity", 0.4567, 0.0, 0.7, "45.7 % (at most 70)"),
        ("drip", 0.3e-3 / 86400, 0.0, 0.5e-3 / 86400, "0.30 g/day (at most 0.5)"),
        ("garden_water", 0.8, 0.3, 1.0, "0.80 × leaf water (at most 1)"),
    ],
)
def test_digits(quantity, value, half, high, text):
    given = made.limit("pot: x", quantity, high=high, value=value, low_value=value - half, high_value=value + half)
    assert value_text(given) == text


@pytest.mark.parametrize("half", [0.0, 1e-9, 0.0012, 0.0034, 0.0036, 0.02, 0.3, 5.0])
@pytest.mark.parametrize(("quantity", "value"), [("co2", 0.01234), ("temperature", 295.6), ("garden_water", 0.4321)])
def test_the_picture_and_the_printed_table_agree(quantity, value, half):
    from nestwright.wording.proof import limit_rows

    given = made.limit("pot: x", quantity, high=400.0, value=value, low_value=value - half, high_value=value + half)
    _, ((_, _, printed, *_),) = limit_rows(SimpleNamespace(limits=(given,)), year=False)
    assert value_text(given).split()[0] == printed
