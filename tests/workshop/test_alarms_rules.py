"""The rules of the alarms: each from plain numbers, worked out by hand."""

import math
import shlex
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.workshop import alarm_rules as rules
from nestwright.workshop.alarm_rules import Due, Spell
from nestwright.workshop.alarm_values import alarm_value, alarm_values, hours_text, ranged, rounded
from nestwright.workshop.look_sensors import spell_of

TODAY = date(2031, 3, 1)
HOUR = 3_600_000


def ago(days):
    return TODAY - timedelta(days=days)


@pytest.mark.parametrize("name", alarm_values())
def test_a_threshold_is_complete(name):
    value = alarm_values()[name]
    assert value.low <= value.value <= value.high
    assert value.low < value.high
    assert value.unit
    assert len(value.source) > 10
    assert value.mark in ("published", "secondary", "derived", "judgement")


@pytest.mark.parametrize(
    ("low", "middle", "high", "unit", "text"),
    [
        (70.2, 78.4, 85.9, "%", "78 % (70 to 86 %)"),
        (30.05, 30.42, 30.78, "degC", "30.4 degC (30.1 to 30.8 degC)"),
        (412.0, 508.0, 903.0, "ppm", "510 ppm (410 to 900 ppm)"),
        (0.0086, 0.025, 0.06, "g", "0.025 g (0.0086 to 0.060 g)"),
        (3.0, 3.0, 3.0, "g", "3 g"),
        # a wide range makes no coarser figure than the same has on the list of colonies
        (52.0, 66.3, 84.0, "%", "66 % (52 to 84 %)"),
        (29.9, 30.0, 30.0, "g", "29.90 to 30.00 g"),
    ],
)
def test_a_figure_has_no_more_digits_than_its_range_bears_out(low, middle, high, unit, text):
    assert ranged(low, middle, high, unit) == text


@given(st.floats(0.01, 1e5), st.floats(0, 2), st.floats(0, 2))
def test_figures_of_a_range_are_in_order_and_near(middle, down, up):
    low, high = middle / (1 + down), middle * (1 + up)
    told = [float(x) for x in ranged(low, middle, high).replace("(", "").replace(")", "").replace("to", "").split()]
    assert told == sorted(told) if len(told) < 3 else told[1] <= told[0] <= told[2]
    # rounding moves a figure by no more than a third of the range, or three digits where there is none
    assert (
        min(abs(one - middle) for one in told[: 2 if len(told) == 2 else 1])
        <= max((high - low) / 3, 0.005 * middle) + 1e-9
    )


def test_numbers_and_hours_in_words():
    assert [rounded(x) for x in (92.0, 0.03, 30000.0, 0)] == ["92", "0.03", "30000", "0"]
    assert [hours_text(x) for x in (0.5, 2.25, 47, 72)] == ["30 min", "2.2 h", "47 h", "3 days"]


# limits


def series(values, step_minutes=30):
    at = 1_900_000_000_000 + step_minutes * 60_000 * np.arange(len(values))
    return at, np.asarray(values, dtype=float)


def test_a_spell_is_the_one_that_lasts_at_the_end():
    at, value = series([28, 26, 28, 28, 28])
    found = spell_of(at, value, 0.2, 27.0, "above", 1.0)
    assert (found.hours, found.back) == (1.0, 0.0)
    assert (found.low, found.high) == (pytest.approx(28 - 0.2563, abs=1e-3), pytest.approx(28 + 0.2563, abs=1e-3))


def test_a_spell_inside_is_counted_as_time_back():
    at, value = series([28, 26, 26, 26])
    found = spell_of(at, value, 0.2, 27.0, "above", 1.0)
    assert (found.hours, found.back) == (0.0, 1.0)


def test_a_gap_breaks_a_spell():
    at, value = series([28, 28, 28])
    at = at + np.array([0, 0, 5 * HOUR])
    assert spell_of(at, value, 0.2, 27.0, "above", 1.0).hours == 0.0


def limit(hours, back, value=28.5, side="above"):
    spell = Spell(value, value - 0.3, value + 0.3, 27.0, side, hours, back, 1.0, True)
    return rules.limit("limit/1/above", "Marigold", "temperature", "degC", spell)


def test_a_vent_that_cannot_be_opened_is_not_told_to_be():
    damp = Spell(99.0, 98.0, 99.5, 95.0, "above", 3.0, 0, 1.0, True)
    told = [
        rules.limit("limit/1/above", "Marigold", what, "%", damp, fixed=fixed).do
        for what in ("relative humidity", "CO2")
        for fixed in (False, True)
    ]
    assert ["open a vent" in one for one in told] == [True, False, True, False]
    assert ["cannot be opened" in one for one in told] == [False, True, False, True]


def test_a_limit_is_an_alarm_after_its_time_and_ends_after_a_time_back():
    assert limit(alarm_value("limit_time"), 0).state == "on"
    assert limit(alarm_value("limit_time") - 0.1, 0).state == "between"
    assert limit(0, alarm_value("limit_back") - 0.1).state == "between"
    assert limit(0, alarm_value("limit_back")).state == "off"


def test_a_limit_says_value_range_side_and_time():
    found = limit(2.5, 0)
    assert found.says == "temperature 28.5 degC (28.2 to 28.8 degC), above the limit 27 degC for 2.5 h"
    assert found.severity == pytest.approx(1.5)  # 1.5 K over, in steps of 1 K
    assert limit(2.5, 0, 25.5, "below").severity == pytest.approx(1.5)


# loggers


def test_a_logger_is_silent_after_five_of_its_intervals():
    factor = alarm_value("silent_factor")
    assert rules.silent("silent/1", "logger pot", 0.99 * factor, 1.0, False).state == "off"
    assert rules.silent("silent/1", "logger pot", factor, 1.0, False).state == "on"
    # one that reads every minute is given half an hour
    assert rules.silent("silent/1", "logger pot", 0.4, 1 / 60, False).state == "off"
    assert rules.silent("silent/1", "logger pot", 0.6, 1 / 60, False).state == "on"
    assert rules.silent("silent/1", "logger pot", 9.0, None, False) is None


def test_a_silence_is_told_again_when_it_is_four_times_as_long():
    first = rules.silent("silent/1", "logger pot", 5.0, 1.0, False)
    later = rules.silent("silent/1", "logger pot", 19.9, 1.0, False)
    longer = rules.silent("silent/1", "logger pot", 20.1, 1.0, False)
    assert later.severity < first.severity + first.step <= longer.severity


def test_a_logger_whose_files_are_imported_is_asked_for_after_two_weeks():
    assert rules.silent("silent/1", "logger pot", 24.0 * 13, 1.0, True).state == "off"
    found = rules.silent("silent/1", "logger pot", 24.0 * 14, 1.0, True)
    assert (found.state, found.kind) == ("on", "bring_in")


def test_a_calibration_is_due_by_its_drift_or_after_a_year():
    of = {"channel": "pot.humidity"}
    assert rules.calibration_due("c", "sensor", None, None, "", TODAY, **of).state == "on"
    assert rules.calibration_due("c", "sensor", ago(364), None, "", TODAY, **of).state == "off"
    assert rules.calibration_due("c", "sensor", ago(365), None, "", TODAY, **of).state == "on"
    assert rules.calibration_due("c", "sensor", ago(30), ago(0), "drift reaches it", TODAY, **of).state == "on"
    assert rules.calibration_due("c", "sensor", ago(900), None, "drift stays below", TODAY, **of) is None


# what a forecast tells


def test_dying_and_its_hysteresis():
    states = [rules.dying("dying/1", "Ivy", s, 60).state for s in (0.95, 0.85, 0.8, 0.5)]
    assert states == ["off", "between", "on", "on"]
    assert "chance 50 % to lose" in rules.dying("dying/1", "Ivy", 0.5, 60).says


def test_a_shrinking_garden():
    def found(then):
        return rules.shrinking("shrinking/1", "Ivy", (8, 10, 12), (then - 1, then, then + 1), 14)

    assert [found(x).state for x in (9.5, 8.5, 8.0)] == ["off", "between", "on"]
    assert rules.shrinking("shrinking/1", "Ivy", (0, 0, 0), (0, 0, 0), 14) is None


def test_a_full_bell():
    def found(fill):
        return rules.fill_over("full/1", "Ivy", (fill - 0.1, fill, fill + 0.1), 0.8)

    assert [found(x).state for x in (0.7, 0.76, 0.8)] == ["off", "between", "on"]
    assert found(0.85).says.startswith("fill 85 % (75 to 95 %), above the band's 80 %")


def test_a_look_above_the_band_counts_before_a_model_below_it():
    def found(fill, look):
        seen = (date(2031, 2, 1), (look - 0.1, look, look + 0.1))
        return rules.fill_over("full/1", "Ivy", (fill - 0.1, fill, fill + 0.1), 0.8, seen)

    # both figures stand there, with the reason that they differ
    one = found(0.66, 0.86)
    assert one.state == "on"
    assert one.says == (
        "your last look, 2031-02-01, told a fill of 86 % (76 to 96 %), above the band's 80 %; the model says "
        "66 % (56 to 76 %) for today, because it weighs that look with its error against all the others; "
        "the sooner of the two counts"
    )
    assert (one.low, one.value, one.high) == pytest.approx((76, 86, 96))
    assert found(0.66, 0.79).state == "off"
    assert found(0.85, 0.86).says.startswith("fill 85 % (75 to 95 %), above the band's 80 %")


def part(early, making, middle=None, late=None):
    day = TODAY + timedelta(days=early)
    full = Due(day, middle or day + timedelta(days=6), late, 0.9)
    return rules.part_due("part/1/bell", "Marigold", "bell", (0.70, 0.78, 0.86), full, making, TODAY)


def test_a_part_is_begun_its_making_time_before_the_early_day():
    assert [part(early, 9.0).state for early in (9, 10, 12, 13)] == ["on", "between", "between", "off"]
    # the latest day to begin lies three days back
    assert part(6, 9.0).severity == 3


def test_a_part_says_fill_making_time_and_days():
    found = part(-2, 9.0, date(2031, 3, 4), date(2031, 3, 12))
    assert found.says == (
        "fill 78 % (70 to 86 %); the next bell takes 9 days and this one is full on 2031-03-04 (02-27, past, to 03-12)"
    )


def test_a_day_of_being_full_that_is_past_says_so():
    early = part(-2, 9.0, TODAY + timedelta(days=4), TODAY + timedelta(days=12)).says
    assert f"({TODAY - timedelta(days=2):%m-%d}, past, to " in early
    assert f"full on {TODAY + timedelta(days=4)} (" in early
    both = part(-20, 9.0, TODAY - timedelta(days=4), TODAY + timedelta(days=12)).says
    assert f"full on {TODAY - timedelta(days=4)}, past (" in both


def test_a_part_without_a_making_time_is_asked_for_two_weeks_ahead():
    # its middle day is six days after the early one
    assert [part(early, None).state for early in (8, 9, 12)] == ["on", "between", "off"]
    assert rules.part_due("p", "I", "bell", None, Due(TODAY, None, None, 0.3), None, TODAY) is None
    assert "is not told" in part(8, None).says
    assert part(8, None).rests_on == ("full_within",)
    assert rules.part_due("p", "I", "bell", None, Due(None, None, None, 0.02), 9.0, TODAY) is None


def test_leaves_are_short_when_more_is_needed_than_was_given():
    def found(given):
        return rules.leaves_short("leaves/1", "Ivy", (0.8, 1.0, 1.3), given)

    assert [found(x).state for x in (2.0, 1.05, 1.0, 0.0)] == ["off", "between", "on", "on"]
    assert math.isfinite(found(0.0).severity)
    # from 0.8 on it may be enough
    assert [found(x).do for x in (0.79, 0.8)] == ["give more leaves", "give more leaves while none are left lying"]


# visits


def test_a_visit_is_due_after_one_and_a_half_usual_intervals():
    def found(days, usual=4.0, soon=False):
        return rules.visit_due("visit/1", "Ivy", ago(days), ago(90), usual, soon, TODAY).state

    assert (found(5), found(6)) == ("off", "on")
    assert (found(6, None), found(7, None)) == ("off", "on")
    # donor garden went in: two days
    assert (found(1, soon=True), found(2, soon=True)) == ("off", "on")


def test_a_colony_never_visited_counts_from_its_start():
    found = rules.visit_due("visit/1", "Ivy", None, ago(7), None, False, TODAY)
    assert found.state == "on"
    assert found.says.startswith("no visit since it came, 7 days ago")


def test_the_usual_interval_is_the_median_of_the_last_gaps():
    assert rules.usual_interval([ago(9), ago(9), ago(6), ago(2)]) == 3.5  # gaps 3 and 4; the same day counts once
    assert rules.usual_interval([ago(9), ago(2)]) is None


def test_no_brood_needs_two_looks_and_three_weeks():
    def state(*looks):
        return rules.brood_missing("brood/1", "Ivy", [(ago(d), seen) for d, seen in looks], TODAY).state

    assert state((30, True), (14, False), (2, False)) == "on"
    assert state((30, True), (2, False)) == "between"
    assert state((20, True), (14, False), (2, False)) == "between"
    assert state((30, False), (14, False), (2, True)) == "off"
    assert rules.brood_missing("brood/1", "Ivy", [], TODAY) is None


def test_waste_is_due_when_it_waited_longer_than_usual():
    weekly = [ago(25), ago(18), ago(11)]
    assert rules.waste_due("waste/1", "Ivy", weekly, (0.1, 0.15, 0.2), TODAY).state == "on"
    assert "about 1.6 g (1.1 to 2.2 g) by now" in rules.waste_due("w", "Ivy", weekly, (0.1, 0.15, 0.2), TODAY).says
    assert rules.waste_due("waste/1", "Ivy", [ago(24), ago(17), ago(10)], None, TODAY).state == "off"
    assert rules.waste_due("waste/1", "Ivy", [ago(10)], None, TODAY) is None


def test_water_is_due_by_the_short_end():
    def found(days):
        return rules.refill_due("refill/1", "build 7", ago(days), (8.0, 11.0), TODAY, serial="7")

    assert (found(7).state, found(8).state) == ("off", "on")
    assert rules.refill_due("refill/1", "build 7", None, (8.0, 11.0), TODAY, serial="7").state == "on"


def test_a_failed_check_counts_where_something_lives():
    assert rules.failed_check("failed/1", "build 7", ["lid gap"], "", serial="7").state == "off"
    assert rules.failed_check("failed/1", "build 7", ["lid gap"], "Ivy", serial="7").state == "on"
    assert rules.failed_check("failed/1", "build 7", [], "Ivy", serial="7").state == "off"


def test_a_parcel_is_waited_for_and_then_asked_after():
    assert rules.parcel_under_way("parcel/1", "parcel 1", ago(1), "", "", TODAY).do == "be there to receive it"
    assert "ask the carrier" in rules.parcel_under_way("parcel/1", "parcel 1", ago(4), "", "", TODAY).do
    assert rules.parcel_under_way("parcel/1", "parcel 1", ago(-1), "", "", TODAY) is None


def test_commands_quote_a_name_for_the_shell():
    found = rules.ill("ill/1", "Marigold's $(rm) two", ["brown"], ago(1), TODAY)
    assert shlex.split(found.command) == ["nestwright", "diagnose", "Marigold's $(rm) two"]
