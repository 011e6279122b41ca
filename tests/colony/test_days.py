"""What climate, housing and a planted cause make of a day, how finely it is cut, and what each event moves."""

import math
import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.colony import kernel as K  # noqa: N812
from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.noise import TABLE, run_noisy, wander_day

sys.path.insert(0, str(Path(__file__).parent))

import plain_model
from colony_runs import climate, make_events, vector

AIR = (22.5, 0.4, 0.3, 0.02, 0.5, 0.01)
ROOM, QUEEN, ONSET, SIZE = 80.0, 0.8, 10.0, 0.25
DEPTHS = ("hot", "cold", "dry", "wet", "co2")


def day_of(t, air=(AIR,), **changes):
    """The ten places of a day; those that `rates` fills are left nought."""
    p = vector("Acromyrmex echinatior", **changes)
    day = np.zeros(10)
    K.set_day(float(t), p, np.array(air), ROOM, QUEEN, day)
    return p, day


def plainly(p, air):
    return np.array(plain_model.day_of(p, air, QUEEN, ROOM)[:3])


def planted(cause):
    return {"cause": float(P.CAUSES.index(cause)), "onset": ONSET, "size": SIZE}


@pytest.mark.parametrize("cause", P.CAUSES)
def test_a_cause_does_its_own_harm_from_its_onset_on(cause):
    moved = {"hot": (0, 1), "cold": (0, 2), "dry": (3,), "wet": (4,)}.get(cause, ())
    for t in (9.0, 10.0, 11.0):
        p, day = day_of(t, **planted(cause))
        on = t >= ONSET
        air = list(AIR)
        for i in moved:
            air[i] += on * (-SIZE if (cause, i) == ("cold", 0) else SIZE)
        np.testing.assert_allclose(day[:3], plainly(p, air), rtol=1e-12)
        others = [1.0, 0.0, ROOM, QUEEN]
        if cause == "room":  # a bell that is smaller than was told was so from the first day
            others[2] = ROOM * SIZE
        elif on and cause in ("leaves", "harmful_leaf", "queen"):
            place = {"leaves": 0, "harmful_leaf": 1, "queen": 3}[cause]
            others[place] = {"leaves": 1 - SIZE, "harmful_leaf": SIZE, "queen": QUEEN * (1 - SIZE)}[cause]
        assert day[3:7].tolist() == pytest.approx(others, rel=1e-12)


def test_a_harmful_leaf_harms_for_its_days():
    p = vector("Acromyrmex echinatior")
    lasting = p[P.LEAF_HARM_DAYS]
    harm = [day_of(t, **planted("harmful_leaf"))[1][4] for t in (ONSET + lasting - 0.01, ONSET + lasting)]
    assert harm == [SIZE, 0.0]


@pytest.mark.parametrize("depth", DEPTHS)
def test_a_depth_that_is_not_used_is_none(depth):
    p, day = day_of(0, **{f"use_{depth}": 0.0, "harm_scale": 1.7})
    air = list(AIR)
    air[1 + DEPTHS.index(depth)] = 0.0
    np.testing.assert_allclose(day[:3], plainly(p, air), rtol=1e-12)


def test_a_room_that_is_not_used_is_no_limit_and_the_last_day_holds_on():
    assert day_of(0, use_room=0.0)[1][5] == 0.0
    warm = (27.0, *AIR[1:])
    for t, air in ((-1, AIR), (0.9, AIR), (1, warm), (50, warm)):
        p, day = day_of(t, air=(AIR, warm))
        np.testing.assert_allclose(day[:3], plainly(p, air), rtol=1e-12)


@pytest.mark.parametrize("power", [None, 5.5], ids=["the usual power", "a power that is not whole"])
@pytest.mark.parametrize("room", [0.3, 0.38, 0.8])
def test_the_smallest_room_is_a_limit_too(room, power):
    """A founding chamber of less than a mL, 0.4 mL of garden in it."""
    changes = {} if power is None else {"space_power": power}
    p = vector("Atta sexdens", workers=5.0, garden=0.4, **changes)
    y, dy, w = np.zeros(K.N_STATE), np.zeros(K.N_STATE), np.empty(K.N_AGE)
    K.start_state(p, y)
    K.weigh_food(p, w)
    day = np.zeros(10)
    K.set_day(0.0, p, np.array([AIR]), room, 1.0, day)
    K.rates(y, p, w, day, dy)
    expected = plain_model.change(y, p, plain_model.day_of(p, AIR, 1.0, room))
    np.testing.assert_allclose(dy, expected, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("free", [0.0, 1.0], ids=["recorded leaves", "free leaves"])
def test_in_a_step_the_fastest_chain_moves_at_most_its_share(free):
    for changes in ({}, {"egg_days": 2.0}, {"larva_days": 2.0}, {"pupa_days": 2.0}, {"nurse_days": 0.3}):
        p, day = day_of(0, development=1.2, free_leaves=free, **changes)
        day[4] = 0.3
        paces = [8 * day[0] / 1.2 / p[one] for one in (P.EGG_DAYS, P.LARVA_DAYS, P.PUPA_DAYS)]
        fastest = max(*paces, 3 * day[0] / p[P.NURSE_DAYS]) + day[1] + day[4] + p[P.UNTENDED_LOSS]
        if not free:
            fastest = max(fastest, p[P.LEAF_TAKE] + p[P.LEAF_WILT])
        for step in (0.05, 0.3, 1e3):
            assert K.steps_a_day(p, day, step) == max(1, math.ceil(fastest / step))


SPANS = {
    "eggs": slice(K.EGGS, K.LARVAE),
    "larvae": slice(K.LARVAE, K.PUPAE),
    "pupae": slice(K.PUPAE, K.NURSES),
    "workers": slice(K.NURSES, K.GARDEN),
    "garden": slice(K.GARDEN, K.LEAVES),
    "leaves": slice(K.LEAVES, K.LEAVES + 1),
}


@pytest.mark.parametrize(
    ("kind", "value", "becomes"),
    [
        # mL of garden and g of its dry matter at 0.05 g/mL; counts; shares
        ("garden_added", 40.0, {"garden": 14 + 2}),
        ("garden_taken", 40.0, {"garden": 14 - 2}),
        ("garden_taken", 1e4, {"garden": 0}),
        ("garden_share_lost", 0.25, {"garden": 10.5}),
        ("workers_added", 9.0, {"workers": 37}),
        ("workers_taken", 7.0, {"workers": 21}),
        ("workers_taken", 99.0, {"workers": 0}),
        ("eggs_added", 16.0, {"eggs": 52}),
        ("eggs_added", 0.5, {"eggs": 36.5}),
        ("larvae_added", -9.0, {"larvae": 27}),
        ("pupae_added", -99.0, {"pupae": 0}),
        ("brood_share_lost", 0.5, {"eggs": 18, "larvae": 18, "pupae": 18}),
        ("leaves", 3.0, {"leaves": 4}),
    ],
)
def test_an_event_moves_its_own_and_nothing_else(kind, value, becomes):
    p = vector("Atta sexdens", free_leaves=0.0, dry_density=0.05)
    y = np.zeros(K.N_STATE)
    for name in ("eggs", "larvae", "pupae", "workers"):
        stages = y[SPANS[name]]
        stages[:] = np.arange(1.0, len(stages) + 1)
    y[SPANS["garden"]], y[SPANS["leaves"]] = 2.0, 1.0
    before, hold = y.copy(), np.array([200.0, 1.0])
    added = K.happen(y, p, K.EVENT_CODES[kind], value, hold)
    for name, span in SPANS.items():
        assert y[span].sum() == pytest.approx(becomes.get(name, before[span].sum()), rel=1e-9, abs=1e-9), name
        if (name in becomes and value < 0) or kind.endswith(("taken", "lost")):
            # what is taken is taken of every stage alike
            was = before[span].sum()
            np.testing.assert_allclose(y[span], before[span] * (y[span].sum() / was), rtol=1e-9, atol=1e-9)
        elif name in becomes and name in ("eggs", "larvae", "pupae"):
            # what comes is spread evenly
            np.testing.assert_allclose(y[span] - before[span], value / K.BROOD, rtol=1e-9)
    assert added == pytest.approx(y[SPANS["garden"]].sum() - 14, abs=1e-9)
    assert hold.tolist() == [200.0, 1.0]


def test_less_than_one_of_a_brood_is_taken_of_every_stage_alike_too():
    y = np.zeros(K.N_STATE)
    y[SPANS["eggs"]] = was = np.arange(K.BROOD) * 0.8 / 28
    K.add_brood(y, K.EGGS, -0.4)
    np.testing.assert_allclose(y[SPANS["eggs"]], was / 2, rtol=1e-12)


def test_a_day_of_wander_moves_all_garden_and_all_workers_and_no_brood():
    p, y = vector("Atta sexdens", noise=0.2), np.full(K.N_STATE, 1e6)
    wander_day(y, p)
    for name in ("garden", "workers"):
        moved = y[SPANS[name]] / 1e6
        assert abs(moved[0] - 1) > 1e-9
        np.testing.assert_allclose(moved, moved[0], atol=2e-6, err_msg=name)
    for name in ("eggs", "larvae", "pupae", "leaves"):
        assert (y[SPANS[name]] == 1e6).all(), name
    assert y[K.WANDER] - 1e6 == pytest.approx((y[SPANS["garden"]] - 1e6).sum(), rel=1e-6)


def test_room_and_queen_are_held_and_free_leaves_do_not_lie_there():
    p, y, hold = vector("Atta sexdens"), np.zeros(K.N_STATE), np.array([200.0, 1.0])
    K.happen(y, p, K.EVENT_CODES["room"], 350.0, hold)
    K.happen(y, p, K.EVENT_CODES["queen"], 0.4, hold)
    K.happen(y, p, K.EVENT_CODES["leaves"], 3.0, hold)
    assert hold.tolist() == [350.0, 0.4]
    assert not y.any()


def test_workers_that_come_are_young_and_old_as_those_of_a_start_are():
    p = vector("Atta sexdens", workers=10.0)
    start, y = np.zeros(K.N_STATE), np.zeros(K.N_STATE)
    K.start_state(p, start)
    K.happen(y, p, K.EVENT_CODES["workers_added"], 10.0, np.zeros(2))
    np.testing.assert_allclose(y[SPANS["workers"]], start[SPANS["workers"]], rtol=1e-12)


def test_what_was_done_before_the_first_day_of_a_run_is_not_done_again():
    p = vector("Atta sexdens", workers=50.0, garden=60.0, brood=40.0)
    start = np.zeros(K.N_STATE)
    K.start_state(p, start)
    earlier = (4.5, "garden_added", 30.0)
    before, on_it = make_events(earlier), make_events(earlier, (5.0, "garden_added", 30.0))
    ends, drawn = [], []
    for events in (make_events(), before, on_it):
        y, out, path = start.copy(), np.empty((3, K.N_STATE)), np.empty((3, len(TABLE)))
        *_, added = K.run_days(p, y, 5, 7, climate(), 0.0, *events, 0.5, out)
        ends.append((out[-1].tolist(), added))
        run_noisy(p, start.copy(), 5, 7, climate(), 0.0, 1.0, events, 3, path)
        drawn.append(path.tolist())
    assert ends[0] == ends[1]
    assert drawn[0] == drawn[1]
    assert ends[2][1] == pytest.approx(30.0 * p[P.DRY_DENSITY])
    assert drawn[2][1][TABLE.index("garden")] > drawn[0][1][TABLE.index("garden")] + 20.0
