"""Values with their ranges: digits that the range bears out, counts whole, volumes in the unit of their size."""

import pytest

from nestwright.wording.ranges import between, coming_days, ranged, span_of_days, volume_text


@pytest.mark.parametrize(
    ("three", "whole", "says"),
    [
        ((21.3, 45.1, 80.2), False, "45 (21 to 80)"),
        ((7.5, 15.0, 30.0), False, "15 (7.5 to 30)"),
        # two digits said "2000 (2000 to 2100)", a range that begins at its middle
        ((1984.0, 2012.0, 2061.0), True, "2010 (1980 to 2060)"),
        ((560.0, 560.4, 561.2), False, "560.4 (560.0 to 561.2)"),
        ((0.0, 0.0, 0.10), True, "0"),
        ((0.2, 0.9, 3.4), True, "1 (0 to 3)"),
        ((3.0, 8.2, 16.4), True, "8 (3 to 16)"),
        ((880_000.0, 1_040_000.0, 1_300_000.0), True, "1000000 (880000 to 1300000)"),
        ((0.0, 0.0004, 0.0021), False, "under 0.001 (0 to 0.0021)"),
        # printed as "95 (95 to 100)", "0 (0 to 1)" and "under 0.001 (under 0.001 to 0.5)"
        ((94.9, 95.2, 99.8), False, "95 to 100"),
        ((0.1, 0.3, 1.2), True, "0 to 1"),
        ((1e-6, 1e-5, 0.5), False, "under 0.001 to 0.5"),
        # a range of five powers of ten has no second digit
        ((0.2, 4.1, 653_000.0), True, "4 (0 to 700000)"),
        ((5.0, 5.0, 5.0), False, "5.0"),
        ((float("nan"),) * 3, False, "none"),
    ],
)
def test_a_value_has_the_digits_of_its_range(three, whole, says):
    assert ranged(*three, whole=whole) == says


def test_the_ends_alone():
    assert between(478.0, 592.0, whole=True) == "480 to 590"
    # printed as "0 to 0 L"
    assert between(0.0, 0.0) == "0"
    assert between(0.2, 30.0, least=0.5) == "under 0.5 to 30"


@pytest.mark.parametrize(
    ("volume", "says"),
    [
        (90.0, "90 mL"),
        (90.5, "90.5 mL"),
        (2400.0, "2400 mL"),
        (9_999.0, "10000 mL"),
        (10_000.0, "10 L"),
        (25_400.0, "25.4 L"),
        (1e6, "1000 L"),
    ],
)
def test_volumes(volume, says):
    assert volume_text(volume) == says


def test_one_day():
    assert [span_of_days(n) for n in (0, 1, 2, 1000)] == ["0 days", "1 day", "2 days", "1000 days"]


def test_the_next_day_is_no_number():
    assert [coming_days(n) for n in (1, 14)] == ["the next day", "the next 14 days"]
