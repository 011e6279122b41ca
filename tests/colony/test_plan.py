"""The plan of the next bells: never beaten by what it was compared with, and within what can be made and go in."""

import functools
import itertools
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.colony.alternatives import earlier_text, shifted
from nestwright.colony.bells import Room, allowed, bell, chamber, needs_lid
from nestwright.colony.fit import fit, report
from nestwright.colony.forecast import Scenario, paths_of
from nestwright.colony.model import Colony, Housing, Observation, Start
from nestwright.colony.outlook import Outlook, Weights, best_steps, day_cost
from nestwright.colony.plan import plan
from nestwright.colony.trials import Trials, sketch_of, thinned
from nestwright.data import plan_values
from nestwright.errors import InputError

FAST = {"paths": 40, "horizon": 90}


def colony(**changed):
    made = Colony(
        name="Attic",
        species="Acromyrmex echinatior",
        start=date(2031, 3, 1),
        days=30,
        observations=(
            *(Observation(float(d), "garden", 30 * math.exp(0.015 * d), 0.1) for d in (10, 20, 30)),
            Observation(30.0, "workers", 120.0, 0.1),
        ),
        housing=(Housing(0.0, "first", "bell", 80.0, 0.06, 0.05),),
        at_start=Start(garden=(30.0, 0.1), workers=(70.0, 0.2)),
        chamber=1500.0,
        opening=0.090,
        lid=0.130,
        headroom=0.110,
        making_time=8.0,
        chamber_time=30.0,
    )
    return replace(made, **changed)


def fitted(**changed):
    return fit(colony(**changed), particles=200, moves=2, seed=4)


@pytest.fixture(scope="session")
def posterior():
    return fitted()


@pytest.fixture(scope="session")
def made(posterior):
    return plan(posterior, **FAST)


# what a bell holds: half an ellipsoid is 2/3 pi r^2 h, a cylinder pi r^2 h (geometry)
SHARES = {"dome": 2 / 3, "cylinder": 1.0}


@given(st.floats(5, 3000), st.floats(0.03, 0.3), st.floats(0.03, 0.3), st.floats(0.03, 0.3))
def test_a_bell_holds_its_volume_and_goes_in(usable, opening, lid, headroom):
    made = bell(colony(opening=opening, lid=max(opening, lid), headroom=headroom), usable)
    if made is None:
        return
    wall, play = plan_values()["bell_wall"].value, plan_values()["play"].value
    inner = SHARES[made.shape] * math.pi * (made.diameter / 2 - wall) ** 2 * (made.height - wall)
    assert inner * plan_values()["bell_usable"].value == pytest.approx(usable * 1e-6)
    assert made.height <= headroom - play + 1e-9
    assert made.diameter <= (max(opening, lid) if made.lid else opening) - play + 1e-9


def test_the_lid_comes_off_only_for_what_does_not_pass():
    assert not bell(colony(), 100.0).lid
    assert bell(colony(), 700.0).lid
    assert bell(colony(), 5000.0) is None
    assert bell(colony(opening=None, lid=None, headroom=None), 5000.0) is not None


def test_the_present_bell_must_come_out_too():
    stuck = Room("bell", 80.0, "bell", 0.1, 0.05, lid=True)
    assert needs_lid(stuck, bell(colony(), 100.0))


def test_chambers_are_added_one_at_a_time():
    one, two, small = chamber(colony(), 1), chamber(colony(), 2), bell(colony(), 100.0)
    assert allowed(small, one)
    assert allowed(one, two)
    assert allowed(one, small)
    assert not allowed(small, two)
    assert not allowed(two, small)
    assert two.usable == 2 * colony().chamber
    assert two.making == 30.0


def test_a_day_costs_nothing_inside_and_more_the_further_outside():
    cost = day_cost(np.array([0.0, 0.1, 0.25, 0.5, 0.8, 0.81, 0.9, 1.0, 1.4]), 0.25, 0.8)
    assert (cost[2:5] == 0).all()
    assert cost[0] > cost[1] > 1
    assert cost[7] > cost[6] > cost[5] > 1
    assert cost[0] == plan_values()["empty_weight"].value
    assert cost[7] == cost[8] == plan_values()["full_weight"].value


def test_the_programme_finds_what_trying_everything_finds():
    # every plan of at most two changes on a grid, gardens bent by their room, weighed one by one in plain Python
    rng = np.random.default_rng(5)
    days, every, paths = 40, 8, 6
    growth = 0.04 + 0.01 * rng.standard_normal((paths, 1)) + np.zeros((1, days))
    look = Outlook(np.full(paths, 20.0), growth, growth + 0.02, np.ones((paths, days + 1), dtype=bool), power=6.0)
    now, rooms = Room("bell", 30.0), [Room("bell", v, making=5.0) for v in (50.0, 90.0)]
    weights = Weights(0.25, 0.8, 2.0, 7.0)

    def cost(steps):
        total, then = 0.0, dict(steps)
        for g0, growths, intakes in zip(look.garden, look.growth, look.intake, strict=True):
            g, room = g0, now
            for day in range(days):
                room = then.get(day, room)
                g *= math.exp(growths[day] - intakes[day] * min((g / room.usable) ** 6, 1.0))
                total += float(day_cost(np.array([g / room.usable]), 0.25, 0.8)[0])
        return total / paths + 2.0 * len(steps)

    grid = sorted({5, *range(every, days, every)})
    options = list(itertools.product(grid, rooms))
    pairs = [p for p in itertools.product(options, options) if p[0][0] < p[1][0] and p[0][1] != p[1][1]]
    everything = {(): cost(())} | {(o,): cost((o,)) for o in options} | {p: cost(p) for p in pairs}
    best = min(everything, key=everything.get)
    found = best_steps(look, now, rooms, weights, every=every)
    assert len(best) > 0
    assert found[0][1] == best
    assert found[0][0] == pytest.approx(everything[best])


def test_no_alternative_is_better(made):
    assert len(made.beaten) >= 5
    for one in made.beaten:
        assert one["cost_days"] >= made.cost
        assert one["worse_by_days"] == pytest.approx(one["cost_days"] - made.cost)
    assert {"leave it as it is", "one change more", "all a week later"} <= {b["what"] for b in made.beaten}


def test_one_change_fewer_is_itself_well_chosen(posterior, made):
    # at least as good as the plan without its last change
    growth = posterior.problem.card.growth
    weights = Weights(growth["fill_low"].value, growth["fill_high"].value, made.handling_days, 7.0)
    run = functools.partial(paths_of, paths=FAST["paths"], seed=1)
    ends = thinned(report(posterior)[1], FAST["paths"])
    trials = Trials(posterior.problem, ends, FAST["horizon"], Room("bell", 80.0), weights, run=run)
    first = made.forecast.fit.days
    cut = tuple((int(s.day) - first, bell(colony(), s.usable)) for s in made.steps[:-1])
    fewer = next(b for b in made.beaten if b["what"] == "one change fewer")
    assert len(made.steps) > 1
    assert fewer["handlings"] == len(cut)
    assert fewer["cost_days"] <= trials(cut).cost + 1e-9


def test_it_is_as_good_as_all_plans_of_a_small_grid(posterior):
    sizes, horizon, paths = (120.0, 250.0), 60, 24
    made = plan(posterior, horizon, sizes=sizes, paths=paths, seed=1)
    _, ends = report(posterior)
    growth = posterior.problem.card.growth
    weights = Weights(growth["fill_low"].value, growth["fill_high"].value, made.handling_days, 7.0)
    now = Room("bell", 80.0, "bell", 0.06, 0.05)
    run = functools.partial(paths_of, paths=paths, seed=1)
    trials = Trials(posterior.problem, thinned(ends, paths), horizon, now, weights, run=run)
    rooms = [bell(colony(), v) for v in sizes]
    options = list(itertools.product(range(8, horizon, 8), rooms))
    pairs = [p for p in itertools.product(options, options) if p[0][0] < p[1][0] and p[0][1] != p[1][1]]
    costs = [trials(steps).cost for steps in [(), *((o,) for o in options), *pairs]]
    assert len(costs) > 50
    assert made.cost <= min(costs) + 1e-9


def test_each_bell_can_be_made_and_goes_in(made):
    first = made.forecast.fit.days
    assert made.steps
    day = first
    for step in made.steps:
        assert step.day > day
        day = step.day
        if step.kind == "bell":
            assert step.start_by == step.day - 8 >= first
            assert step.height < 0.110
            assert step.diameter < (0.130 if step.lid_off else 0.090)
        assert step.due.early is None or step.due.early >= first
        assert step.fill_after[1] < step.fill_before[1]


def test_the_same_seed_gives_the_same_plan(posterior, made):
    again = plan(posterior, **FAST)
    assert again.steps == made.steps
    assert again.cost == made.cost


def test_dearer_handling_never_means_more_of_it(posterior, made):
    assert plan(posterior, handling_days=60.0, **FAST).handlings <= made.handlings


def test_a_late_change_costs_growth(posterior):
    _, ends = report(posterior)
    trials = Trials(posterior.problem, thinned(ends, 20), 90, Room("bell", 80.0), Weights(0.25, 0.8, 5.0, 7.0))
    large = bell(colony(), 300.0)
    early, late = (trials(((day, large),)).table for day in (10, 60))
    assert np.median(late["garden"][:, 60]) < 0.95 * np.median(early["garden"][:, 60])
    assert (late["room"][:, :61] == 80.0).all()
    assert (late["room"][:, 61:] == 300.0).all()


def test_the_sketch_is_near_the_mean_of_the_paths(posterior):
    _, ends = report(posterior)
    some = thinned(ends, 60)
    sketch = sketch_of(posterior.problem, some, 60, Scenario())["garden"].mean(axis=0)
    full = paths_of(posterior.problem, some, 60, Scenario(), paths=60)["garden"].mean(axis=0)
    assert sketch == pytest.approx(full, rel=0.1)


def test_room_enough_is_left_alone():
    roomy = fitted(housing=(Housing(0.0, "first", "bell", 130.0),), observations=(), queen=0.0)
    made = plan(roomy, 14, paths=40)
    assert made.steps == ()
    assert made.handlings == 0
    assert any("nothing to do" in n for n in made.notes)


def test_a_bell_already_full_is_changed_as_soon_as_the_next_is_made():
    crowded = fitted(housing=(Housing(0.0, "first", "bell", 50.0),))
    full = plan(crowded, **FAST)
    assert full.steps[0].day == 30 + 8
    assert full.steps[0].fill_before[1] > 0.8
    # nothing is begun in days that have gone by
    late = plan(crowded, **FAST, gone_by=12)
    assert late.steps[0].day == 30 + 12 + 8
    assert late.steps[0].start_by == 30 + 12
    assert all(date.fromisoformat(s["date"]) > date(2031, 4, 12) for b in late.beaten for s in b["steps"])


@pytest.mark.parametrize(
    ("day", "says"),
    [
        (20, "all a week earlier"),
        (12, "all a week earlier, or as soon as a part can be there: the first by 4 days"),
        (8, "all a week earlier, or as soon as a part can be there: the first not at all"),
    ],
)
def test_a_week_earlier_says_where_it_is_less(day, says):
    """Seen by a newcomer: "all a week earlier" stood beside a day four days before that of the plan."""
    steps = ((day, bell(colony(), 100.0)), (60, bell(colony(), 200.0)))
    assert earlier_text(steps, shifted(steps, -7)) == says


def test_a_colony_that_dies_gets_no_plan():
    dying = fitted(
        observations=(Observation(30.0, "workers", 2.0, 0.1), Observation(30.0, "garden", 0.8, 0.1)), queen=0.0
    )
    made = plan(dying, 120, paths=40)
    assert made.steps == ()
    assert made.beaten == ()
    assert "nothing is planned" in made.notes[0]


def test_a_full_chamber_asks_for_a_further_one():
    made = plan(fitted(housing=(), chamber=55.0, chamber_time=10.0), **FAST)
    assert made.steps[0].kind == "chamber"
    assert made.steps[0].name == "2 chambers"
    assert made.steps[0].usable == 110.0
    assert made.steps[0].day >= 40


def test_without_any_room_known_it_says_what_is_missing():
    with pytest.raises(InputError, match="room that the garden has now"):
        plan(fitted(housing=(), chamber=None), **FAST)


def test_what_is_not_stated_sets_no_limit_and_is_told():
    bare = dict.fromkeys(("chamber", "opening", "lid", "headroom", "making_time", "chamber_time"))
    made = plan(fitted(**bare), **FAST)
    for key in ("opening", "headroom", "making time of a bell", "whole chamber's volume"):
        assert any(n.startswith(f"the {key} is not stated") for n in made.notes)
    assert made.steps
    assert all(s.kind == "bell" and not s.lid_off and s.start_by is None for s in made.steps)


@pytest.mark.parametrize(
    "wrong", [{"horizon": 2}, {"handling_days": -1.0}, {"handling_days": math.nan}, {"sizes": (9000.0,)}]
)
def test_what_cannot_be_planned_with_is_refused(posterior, wrong):
    with pytest.raises(InputError) as told:
        plan(posterior, **wrong)
    assert told.value.allowed


def test_only_sizes_named_are_chosen(posterior):
    made = plan(posterior, sizes=(150.0, 260.0), **FAST)
    assert made.steps
    assert {s.usable for s in made.steps if s.kind == "bell"} <= {150.0, 260.0}
