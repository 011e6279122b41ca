"""A habitat while its garden grows: the day of the break is the one that proofs of every day find."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from nestwright.climate.growing import Growth, prove_growing
from nestwright.climate.proof import prove
from nestwright.climate.rooms import read_room
from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.habitat.model import OwnLimit

EXAMPLES = Path(__file__).parents[2] / "examples/workshop/habitats"
ROOM = "21 degC, 45 %"
START = date(2026, 1, 1)


def grown(days=60, first=20e-6, rate=0.03):
    day = np.arange(10.0, 10.0 + days)
    volume = first * np.exp(rate * (day - day[0]))
    return Growth(day, volume, volume * 2e6)


@pytest.fixture(scope="session")
def pot():
    return read_habitat(Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml")


@pytest.fixture(scope="session")
def strict(pot):
    """The pot with a limit of 0.8 % CO2, which 20 mL of garden holds and a larger one does not."""
    return replace(pot, limits=(OwnLimit("co2", "garden", None, 0.008),))


def test_the_day_is_that_of_proofs_of_every_day(strict):
    growth, room = grown(), read_room(ROOM)
    case = prove_growing(strict, room, {"middle": growth}, start=START, looks=5).cases[0]
    first = None
    for i in range(len(growth.day)):
        garden = replace(strict.gardens[0], volume=growth.volume[i], workers=round(growth.workers[i]))
        proof = prove(replace(strict, gardens=(garden,)), room, uncertainty=False)
        if not next(one for one in proof.limits if one.name == "pot/bell: CO2").held:
            first = growth.day[i]
            break
    assert first is not None
    assert case.broken.limit == "pot/bell: CO2"
    assert case.broken.day == first
    assert case.broken.last_held == first - 1
    assert case.broken.volume == pytest.approx(20e-6 * np.exp(0.03 * (first - 10)))
    told = case.to_dict(START)
    assert told["breaks"]["date"] == date.fromordinal(START.toordinal() + int(first)).isoformat()
    # the day of the break is among the days shown, and fails there
    at = next(p for p in case.points if p.day == first)
    assert "pot/bell: CO2" in at.failed
    assert all("pot/bell: CO2" not in p.failed for p in case.points if p.day < first)


def test_more_garden_breathes_out_more(pot):
    case = prove_growing(pot, read_room(ROOM), {"middle": grown()}, looks=6).cases[0]
    co2 = [p.co2 for p in case.points]
    assert len(co2) == 6
    assert np.all(np.diff(co2) > 0)


def test_a_steady_garden_breaks_nothing_and_needs_the_same_water(pot):
    day = np.arange(0.0, 50.0)
    course = Growth(day, np.full(50, 60e-6), np.full(50, 120.0))
    made = prove_growing(pot, read_room(ROOM), {"middle": course}, looks=4)
    proof = prove(pot, read_room(ROOM), uncertainty=False)  # the file has 60 mL and 120 workers
    assert made.cases[0].broken is None
    assert made.holds == proof.holds
    for point in made.cases[0].points:
        assert point.water_rate == pytest.approx(proof.water_rate, rel=1e-6)
        assert point.margin == pytest.approx(proof.first_limit.scaled_margin, rel=1e-6)


def test_a_limit_that_fails_at_first_is_not_blamed_on_growth(pot):
    cold = replace(pot, limits=(OwnLimit("temperature", "garden", 300.0, 303.0),))
    case = prove_growing(cold, read_room(ROOM), {"middle": grown(20)}).cases[0]
    assert case.fails_at_first == ("pot/bell: temperature",)
    assert case.broken is None


def test_nothing_is_proved_of_a_garden_that_does_not_fit(pot):
    space = pot.bells[0].shape.volume
    growth = grown(days=120, rate=0.05)
    case = prove_growing(pot, read_room(ROOM), {"high": growth}).cases[0]
    assert case.outgrown == growth.day[np.argmax(growth.volume > space)]
    assert all(p.volume <= space for p in case.points)
    whole = Growth(np.array([0.0, 1.0]), np.full(2, 2 * space), np.full(2, 10.0))
    none = prove_growing(pot, read_room(ROOM), {"high": whole})
    assert none.cases[0].points == ()
    assert none.cases[0].outgrown == 0.0
    assert not none.holds


def test_two_gardens_are_refused(pot):
    bench = read_habitat(EXAMPLES / "heated-bench.toml")
    with pytest.raises(InputError, match="2 gardens"):
        prove_growing(bench, read_room(ROOM), {"middle": grown()})


def test_a_course_that_is_not_finite_is_refused(pot):
    course = Growth(np.array([0.0, 1.0]), np.array([1e-5, np.nan]), np.array([1.0, 1.0]))
    with pytest.raises(InputError, match="not finite"):
        prove_growing(pot, read_room(ROOM), {"middle": course})


def test_every_course_is_looked_at_on_the_same_days(pot):
    low, high = grown(rate=0.01), grown(rate=0.03)
    made = prove_growing(pot, read_room(ROOM), {"low": low, "high": high}, looks=5)
    assert made.looked == (10.0, 25.0, 40.0, 54.0, 69.0)
    for day in made.looked:
        fewer, more = (one.on(day) for one in made.cases)
        assert fewer.volume <= more.volume
        assert fewer.co2 <= more.co2
    with pytest.raises(InputError, match="different days"):
        prove_growing(pot, read_room(ROOM), {"low": grown(days=5), "high": grown(days=6)})


def test_stages_begin_on_the_day_on_which_the_verdict_turns(strict):
    """Against proofs of every day; "holds, not sure" was seen on the days looked at alone."""
    growth, room = grown(days=40), read_room(ROOM)
    case = prove_growing(strict, room, {"middle": growth}, looks=4).cases[0]
    verdicts = []
    for i in range(len(growth.day)):
        garden = replace(strict.gardens[0], volume=growth.volume[i], workers=round(growth.workers[i]))
        limits = prove(replace(strict, gardens=(garden,)), room).limits
        failed = [one for one in limits if not one.held]
        if failed:
            verdicts.append("fails" if any(one.sure for one in failed) else "may fail")
        else:
            verdicts.append("holds" if all(one.sure for one in limits) else "may hold")
    turns = [growth.day[0], *(growth.day[i] for i in range(1, len(verdicts)) if verdicts[i] != verdicts[i - 1])]
    assert len(turns) > 1
    assert [stage.first.day for stage in case.stages] == turns
    assert [("holds", "may hold", "may fail", "fails")[stage.first.grade] for stage in case.stages] == [
        verdicts[int(day - growth.day[0])] for day in turns
    ]


def test_the_margin_has_the_range_of_the_value_that_it_is_of(strict):
    """The band ends at 0.8 % alone, so the margin's ends are the value's, over a tolerance that the two share."""
    growth, room = grown(days=2, first=40e-6), read_room(ROOM)
    point = prove_growing(strict, room, {"middle": growth}, looks=2).cases[0].points[0]
    garden = replace(strict.gardens[0], volume=growth.volume[0], workers=round(growth.workers[0]))
    gas = next(one for one in prove(replace(strict, gardens=(garden,)), room).limits if one.quantity == "co2")
    assert point.decides.limit == gas.name
    tolerance = gas.margin / gas.scaled_margin
    assert point.decides.margin_low == pytest.approx((0.008 - gas.high_value) / tolerance)
    assert point.decides.margin_high == pytest.approx((0.008 - gas.low_value) / tolerance)
    assert point.decides.margin_low < point.decides.margin < point.decides.margin_high
    assert (point.co2_low, point.co2_high) == pytest.approx((gas.low_value, gas.high_value))


def test_nothing_is_proved_once_the_garden_is_gone(pot):
    """A course that falls to no garden at all divided by zero."""
    volume = np.array([1e-5, 5e-6, 0.0, 0.0])
    made = prove_growing(pot, read_room(ROOM), {"low": Growth(np.arange(4.0), volume, volume * 1e6)})
    assert made.cases[0].gone == 2.0
    assert made.cases[0].outgrown is None
    assert [p.day for p in made.cases[0].points] == [0.0, 1.0]
    assert not made.holds


def test_progress_rises_to_the_whole(pot):
    shares = []
    courses = {"low": grown(days=3), "high": grown(days=3)}
    prove_growing(pot, read_room(ROOM), courses, looks=2, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
