"""The last reading beside the band of its day: what differs is said, with what the fit makes of it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from invented_colony import TODAY, fit, forecast

from nestwright.colony.results import Band, Point
from nestwright.wording.last_reading import apart, band_ends, readings_apart


def point(day, kind, how, value, low, high):
    return Point(day, kind, how, value, low, high, value, value, value, 0.0, 5)


def lines(*points, **changed):
    return apart(forecast(fit=fit(points=points), **changed))


def test_a_reading_inside_the_band_says_nothing():
    # the invented bands: garden 30 to 120 mL today, workers 60 to 240
    assert (
        lines(point(TODAY, "garden", "measured", 70.0, 60.0, 80.0), point(TODAY, "workers", "guess", 61, 50, 75)) == []
    )


def test_a_fill_below_the_band_is_told_as_it_was_read():
    """Seen by a newcomer: 45 % read and a higher fill printed for the same day, without a word."""
    # 28 mL of 400 mL is 7 %; the band is 30 to 120 mL, 7.5 to 30 %
    (line,) = lines(point(TODAY, "garden", "fill", 28.0, 26.0, 29.5))
    assert line.startswith("The last fill read, 7 % on 2031-04-10, lies below the band, 7.5 to 30 %, even with its own")
    assert "the record as a whole expects more" in line
    assert "a loss may be missing in the record" in line


def test_a_reading_that_agrees_within_its_error_is_said_to():
    (line,) = lines(point(TODAY, "garden", "fill", 28.0, 22.0, 36.0))
    assert "With its own error, 5.5 to 9.0 %, it still agrees" in line
    assert "missing" not in line


def test_only_the_last_of_a_kind_counts_and_against_its_own_day():
    # workers over the record: 50 to 200; the forecast's first day has 60 to 240
    early = point(5, "workers", "exact", 900.0, 890.0, 910.0)
    assert lines(early, point(20, "workers", "exact", 150.0, 145.0, 155.0)) == []
    (line,) = lines(early, point(20, "workers", "exact", 210.0, 205.0, 215.0))
    assert "The last count, 210 workers on 2031-03-21, lies above the band of that day, 50 to 200 workers" in line
    assert "something added may be missing" in line


def test_a_fill_counts_against_what_stood_before_that_days_change():
    housing = ((0.0, "first bell", 100.0), (float(TODAY), "second", 400.0))
    (line,) = lines(point(TODAY, "garden", "fill", 20.0, 19.0, 21.0), housing=housing)
    assert "The last fill read, 20 %" in line
    assert "the band, 30 to 120 %" in line


@pytest.mark.parametrize("points", [(), (Point(3.0, "eggs", "", 1.0, 1.0, 1.0, 0.5, 0.5, 0.5, None, 3),)])
def test_without_readings_there_is_nothing_to_say(points):
    assert lines(*points) == []


def test_a_guess_as_a_band_is_told_as_a_band():
    """Printed as "the last guess, 387 workers" where the file says "300 to 500"."""
    from nestwright.colony.model import Observation
    from nestwright.colony.texts import parse_count

    count = parse_count("300 to 500")
    # exact_error of data/colony.toml, 3 %, is added as squares, as the reader of the file does
    seen = Observation(20.0, "workers", count.value, math.hypot(count.spread, 0.03), how="band", line=5)
    made = forecast(fit=fit(points=(point(20, "workers", "band", count.value, 330.0, 450.0),)))
    (line,) = apart(made, (seen,))
    assert line.startswith("The last guess, 300 to 500 workers on 2031-03-21, lies above")
    assert band_ends(seen) == pytest.approx((300.0, 500.0))


def test_a_small_garden_of_a_large_record_is_told_in_millilitres():
    """Printed as "band of that day, 0 to 0 L" because the garden had been large at another time."""
    ends = np.zeros((3, TODAY + 1))
    ends[:, 0] = 90_000.0
    history = {"garden": Band("garden", "mL", np.arange(TODAY + 1.0), *ends), "workers": fit().history["workers"]}
    made = forecast(fit=fit(points=(point(20, "garden", "measured", 12.0, 11.0, 13.0),), history=history))
    (line,) = apart(made)
    assert "The last reading of the garden, 12 mL on 2031-03-21, lies above the band of that day, 0 mL," in line


def test_a_last_look_above_the_band_stands_beside_the_model():
    from invented_colony import START, told

    from nestwright.colony.model import Colony, Housing, Observation

    seen = Observation(float(TODAY), "garden", 344.0, 0.1, how="fill")
    record = Colony(
        "Attic",
        "Acromyrmex octospinosus",
        START,
        TODAY,
        observations=(seen,),
        housing=(Housing(0.0, "first", "bell", 400.0),),
    )
    points = (point(TODAY, "garden", "fill", 344.0, 310.0, 380.0),)
    made = told(forecast=forecast(fit=fit(points=points)), colony=record)
    (line,) = readings_apart(made)
    assert line.startswith(
        "Your last look, 2031-04-10, told a fill of 86 (76 to 98) %, above the band's 80 %; the model"
    )
    assert "the model says 15 (7.5 to 30) %, because it weighs that look with its error against all" in line
    # a bell that was set since is no longer the one that was full
    moved = replace(record, housing=(*record.housing, Housing(float(TODAY), "second", "bell", 900.0)))
    assert "Your last look" not in " ".join(readings_apart(replace(made, colony=moved)))
