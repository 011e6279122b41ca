"""What climate, housing and a planted cause make of one day, against its plain writing, and how finely it is cut."""

import math
import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.colony import kernel as K  # noqa: N812
from nestwright.colony import parameters as P  # noqa: N812

sys.path.insert(0, str(Path(__file__).parent))

import plain_model
from colony_runs import vector

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
    p, day = day_of(0, **{f"use_{depth}": 0.0})
    air = list(AIR)
    air[1 + DEPTHS.index(depth)] = 0.0
    np.testing.assert_allclose(day[:3], plainly(p, air), rtol=1e-12)


def test_a_room_that_is_not_used_is_no_limit_and_the_last_day_holds_on():
    assert day_of(0, use_room=0.0)[1][5] == 0.0
    warm = (27.0, *AIR[1:])
    for t, air in ((-1, AIR), (0.9, AIR), (1, warm), (50, warm)):
        p, day = day_of(t, air=(AIR, warm))
        np.testing.assert_allclose(day[:3], plainly(p, air), rtol=1e-12)


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
