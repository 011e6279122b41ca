"""What to do first with a parcel that came: rules, each for what it went through and what was found."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.data import load_species, species_names
from nestwright.parcel.receiving import Found, Journey, garden_band, journey_of, receive
from nestwright.wording.receiving import STEPS, step_text

CARD = load_species("Atta cephalotes")
LOW, HIGH = garden_band(CARD)


def keys(result):
    return [one.key for one in result.steps]


def test_without_a_living_worker_nothing_is_given_and_it_is_looked_at_once_more():
    near = journey_of([0, 20], [LOW - 9, LOW - 9], None, CARD, "logger")
    told = keys(receive(CARD, near, Found(garden=0.0, workers=0)))
    assert told[-1] == "no_worker"
    assert "warm" in told
    assert not {"leaves", "garden_lost", "donor_ready"} & set(told)


def test_a_course_is_told_in_hours():
    hours = np.arange(0, 11.0)
    warm = np.where(hours < 4, LOW - 5, (LOW + HIGH) / 2)
    told = journey_of(hours, warm, np.where(hours >= 8, 0.5, 0.97), CARD, "logger")
    assert (told.hours, told.hours_cold, told.hours_hot, told.hours_dry) == (10, 4, 0, 2)
    assert (told.lowest, told.now) == (pytest.approx(LOW - 5), pytest.approx((LOW + HIGH) / 2))
    assert journey_of([], [], None, CARD, "logger") == Journey()
    assert journey_of(hours, warm, None, CARD, "logger").hours_dry is None


def test_three_cold_days_lose_the_garden_and_spare_the_ants():
    """Fisher et al. 1994, Mycol Res 98:884: Tobago to Exeter, 3 days, gardens lost in 5 of 5, ants alive, 5 of 5
    recovered with new garden: the answer is to expect a loss and to have new garden ready, not to give up."""
    told = receive(CARD, journey_of([0, 72], [LOW - 8, LOW - 8], None, CARD, "computed"), Found(workers=40))
    assert (told.expected, told.garden) == ("lost", "unknown")
    assert "donor_ready" in keys(told)
    came = receive(CARD, told.journey, Found(garden=0.0, workers=40))
    assert came.garden == "lost"
    assert "garden_lost" in keys(came)


@pytest.mark.parametrize(
    ("found", "garden"),
    [
        (Found(), "unknown"),
        (Found(garden=30, health=("white",), workers=40), "sound"),
        (Found(garden=30, health=("grey",), workers=40), "watch"),
        (Found(garden=30, health=("brown",), workers=40), "damaged"),
        (Found(garden=30, health=("falling",), workers=40), "lost"),
        (Found(garden=0.5, health=("white",), workers=40), "lost"),
        (Found(garden=2, health=("white",), workers=400), "damaged"),
    ],
)
def test_what_was_found_decides(found, garden):
    near = journey_of([0, 20], [LOW + 1, LOW + 1], [0.97, 0.97], CARD, "logger")
    told = receive(CARD, near, found)
    assert told.garden == garden
    assert f"garden_{garden}" in keys(told)
    assert told.expected == "sound"
    assert told.warming == ()


def test_water_dry_and_wet():
    dry = journey_of([0, 20], [LOW + 1] * 2, [0.4, 0.4], CARD, "logger")
    assert "damp_cover" in keys(receive(CARD, dry, Found()))
    assert "drops_off" in keys(receive(CARD, dry, Found(health=("wet",))))
    assert "water" in keys(receive(CARD, Journey(), Found()))
    assert "feel_box" in keys(receive(CARD, Journey(), Found()))


@given(st.floats(-10, 50), st.sampled_from(species_names()))
def test_warming_goes_one_way_in_small_steps_and_ends_in_the_band(now, name):
    card = load_species(name)
    told = receive(card, Journey("logger", 20.0, now, now, now, 0, 0, None), Found())
    low, high = told.band
    held = [now, *(t for _, t in told.warming)]
    if told.warming:
        assert low - 1e-9 <= held[-1] <= high + 1e-9
        way = np.diff(held)
        assert np.all(way > 0) or np.all(way < 0)
        assert np.all(np.abs(way) <= 3 + 1e-9)
    else:
        assert low - 2 <= now <= high + 2
    assert keys(told)[:3] == ["closed_room", "packs_out", "dark"], "air and escape come before all else"
    for step in told.steps:
        assert "{" not in step_text(step)


def test_every_sentence_is_of_a_step():
    made = set(keys(receive(CARD, Journey(), Found(workers=0))))
    for journey in (
        Journey(),
        *(
            journey_of([0, h], [t, t], [r, r], CARD, "logger")
            for h in (10, 90)
            for t in (5, 25, 40)
            for r in (0.3, 0.98)
        ),
    ):
        for words in ((), ("white",), ("grey",), ("brown",), ("wet",), ("falling",)):
            made |= set(
                keys(
                    receive(
                        CARD, journey, Found(garden=30 if words else None, health=words, workers=40 if words else None)
                    )
                )
            )
    assert made == set(STEPS)
