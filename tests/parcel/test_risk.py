"""Risk over many parcels, against closed forms of an invented way to be lost."""

from datetime import date, timedelta

import numpy as np
import pytest
from scipy.stats import norm

from nestwright.parcel.delay import Sent, learn_delays
from nestwright.parcel.draws import Spread, draw_parcels
from nestwright.parcel.risk import Carried, Option, chance_among, chance_of, risk_of, weigh

MONDAY, FRIDAY = date(2027, 1, 11), date(2027, 1, 15)
DELAYS = learn_delays([Sent("north", k) for k in [0] * 400 + [1] * 100])
EACH = Spread("outside.offset", "shift", 0.0, 3.0, "each")
ALL = Spread("pack.power_factor", "factor", 1.0, 0.2, "all")


def lost_below(limit):
    """A way to be lost that has a closed form: the garden when the offset is below a limit, later parcels all."""

    def carry(values, late):
        garden = ((values["outside.offset"] < limit) | (late > 0)).astype(float)
        first = np.where(late > 0, 1, 0)
        return Carried(garden, 0.5 * (late > 48), first, ("cold", "late"), first, ("cold", "late"))

    return carry


def test_the_chance_is_that_of_the_closed_form():
    draws = draw_parcels([EACH], DELAYS, "north", outer=100, inner=200)
    told = risk_of(lost_below(-3.0), draws, MONDAY, MONDAY + timedelta(days=1))
    late = 1 - DELAYS.by_days("north")[0]
    wanted = 1 - (1 - late) * (1 - norm.cdf(-1.0))
    assert told.garden.mean == pytest.approx(wanted, abs=5 * np.sqrt(wanted / 20_000))
    assert told.parcels == 20_000
    assert told.by_late[0].garden.mean == pytest.approx(norm.cdf(-1.0), abs=0.015)
    assert told.by_late[1].garden.mean == 1
    assert sum(one.share.mean for one in told.by_late) == pytest.approx(1)
    assert sum(share for _, share in told.causes) == pytest.approx(1)


def test_the_interval_is_of_what_is_not_known_and_not_of_chance():
    """With a chance that every parcel has for itself the interval closes; with one that all share it stays as wide as
    the quantiles of that value say."""
    draws = draw_parcels([EACH, ALL], DELAYS, "north", outer=400, inner=100)
    alone = chance_of((draws.values["outside.offset"] < 0).astype(float), 400)
    assert alone.high - alone.low < 0.03
    shared = np.clip(draws.values["pack.power_factor"] - 0.5, 0, 1)
    lost = (np.random.default_rng(1).random(shared.size) < shared).astype(float)
    told = chance_of(lost, 400)
    ends = np.exp(0.2 * norm.ppf([0.1, 0.9])) - 0.5
    assert told.low == pytest.approx(ends[0], abs=0.03)
    assert told.high == pytest.approx(ends[1], abs=0.03)
    assert told.error > alone.error


def test_among_all_draws_the_chance_is_that_of_all_and_among_some_its_interval_follows_what_they_share():
    draws = draw_parcels([EACH, ALL], DELAYS, "north", outer=400, inner=100)
    shared = np.clip(draws.values["pack.power_factor"] - 0.5, 0, 1)
    lost = (np.random.default_rng(1).random(shared.size) < shared).astype(float)
    every, all_of = chance_among(lost, np.ones(lost.size, bool), 400), chance_of(lost, 400)
    for name in ("mean", "low", "high", "error"):
        assert getattr(every, name) == pytest.approx(getattr(all_of, name), rel=0.02)
    few = np.random.default_rng(2).random(lost.size) < 0.05
    told = chance_among(lost, few, 400)
    ends = np.exp(0.2 * norm.ppf([0.1, 0.9])) - 0.5
    assert told.mean == pytest.approx(lost[few].mean())
    assert (told.low, told.high) == pytest.approx(ends, abs=0.1)
    assert told.error > all_of.error
    one = chance_among(np.zeros(lost.size), np.arange(lost.size) == 7, 400)
    assert (one.mean, one.low, one.high) == (0, 0, 1), "one parcel that came well tells nothing"


def test_no_loss_in_any_draw_is_no_chance_of_nought():
    told = chance_of(np.zeros(10_000), 50)
    assert (told.mean, told.low) == (0, 0)
    assert told.high == told.error == 1e-4


def test_a_friday_promise_makes_a_late_parcel_three_days_late():
    draws = draw_parcels([EACH], DELAYS, "north", outer=20, inner=100)
    late = draws.days_late > 0
    assert np.all(draws.hours_late(FRIDAY)[late] >= 72)
    assert np.all(draws.hours_late(date(2027, 1, 13))[draws.days_late == 1] == 24)
    weekend = risk_of(lost_below(-99), draws, FRIDAY - timedelta(days=1), FRIDAY)
    week = risk_of(lost_below(-99), draws, MONDAY, MONDAY + timedelta(days=1))
    assert weekend.colony.mean > week.colony.mean


def test_the_best_way_is_the_cheapest_that_is_as_good():
    draws = draw_parcels([EACH], DELAYS, "north", outer=50, inner=200)
    due = MONDAY + timedelta(days=1)
    ways = [
        Option(key, cost, lost_below(limit), MONDAY, due)
        for key, cost, limit in (("as it is", 0, 0.0), ("pack", 5, -4.0), ("dear pack", 50, -4.01), ("nothing", 1, 0.0))
    ]
    told = weigh(ways, draws, garden_worth=100, colony_worth=0)
    assert told.best == "pack"
    assert told.choices[0].key == "pack"
    rows = {one.key: one for one in told.choices}
    assert rows["nothing"].saved == rows["as it is"].saved == 0
    assert rows["pack"].saved == pytest.approx((norm.cdf(0) - norm.cdf(-4 / 3)) * DELAYS.by_days("north")[0], abs=0.02)
    assert rows["pack"].expected == pytest.approx(5 + 100 * rows["pack"].risk.garden.mean)
    assert weigh(ways, draws, garden_worth=100, colony_worth=0, budget=2).best == "as it is"
    assert weigh(ways, draws, garden_worth=0.01, colony_worth=0).best == "as it is"
    with pytest.raises(ValueError, match="budget"):
        weigh([], draws, garden_worth=1, colony_worth=1)


def test_the_same_seed_gives_the_same_parcels():
    one, two = (draw_parcels([EACH, ALL], DELAYS, "north", outer=5, inner=7, seed=3) for _ in range(2))
    assert all(np.array_equal(one.values[k], two.values[k]) for k in one.values)
    assert np.array_equal(one.days_late, two.days_late)
    assert len(set(one.values["pack.power_factor"])) == 5
