"""What a fit takes from its record: the wander of every day, the last state, what was expected of each thing seen.

The wander is a random walk seen with error, so that all of it is one multivariate normal (Anderson 2003, An
Introduction to Multivariate Statistical Analysis, section 2.5: conditional mean and covariance); the filter must give
the same.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.colony import kernel as K  # noqa: N812
from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.likelihood import DAILY, KINDS, OFFSET, run_record, set_values, smooth, wander
from nestwright.colony.model import Observation
from nestwright.colony.problem import STEP, pose

sys.path.insert(0, str(Path(__file__).parent))

from colony_runs import climate, column, make_events, paths, run, vector
from lives import plain

DAYS = 12
SEEN = (
    (2, "garden", 44.0, 0.15, 0),
    (2, "eggs", 1.0, 0.0, 0),
    (3, "workers", 66.0, 0.2, 0),
    (5, "pupae", 0.0, 0.0, 0),
    (7, "waste", 0.3, 0.25, 2),
    (7, "garden", 50.0, 0.1, 0),
    (9, "leaves_taken", 0.9, 0.2, 2),
    (10, "workers", 60.0, 0.1, 0),
)
EVENTS = ((4.0, "room", 90.0), (6.0, "queen", 0.3), (8.0, "workers_added", 20.0))


@pytest.fixture(scope="session")
def ran():
    """A record run under one vector: vector, record, what the run filled in, and the plain run of the same days."""
    p = vector("Acromyrmex echinatior", workers=60, garden=40, brood=60, error_scale=1.2)
    kinds = np.array([KINDS[o[1]] for o in SEEN])
    value = np.array([o[2] for o in SEEN])
    yes_or_no = (kinds >= 2) & (kinds <= 4)
    y = np.where(yes_or_no, value, np.log(value + np.where(yes_or_no, 1.0, OFFSET[kinds])))
    day, error, since = (np.array([o[i] for o in SEEN], dtype=float) for i in (0, 3, 4))
    record = (day, kinds, y, error, since)
    # what is not filled in shall not stand there from an earlier run
    state, filtered = np.full(K.N_STATE + 2, np.nan), np.full(4, np.nan)
    daily, told = np.full((DAYS + 1, DAILY), np.nan), np.full((len(SEEN), 2), np.nan)
    events = make_events(*EVENTS)
    total = run_record(p, DAYS, climate(), 200.0, events, record, STEP, state, filtered, daily, told)
    return p, record, total, state, filtered, daily, told, run(p, DAYS, room=200.0, events=events)


def conditional(p, record, daily, channel):
    """Mean and covariance of the daily wander of garden (0) or workers (1), given all that was seen of it."""
    day, kind, y, error, since = record
    steps = np.concatenate(([0.0], daily[:-1, 2 + channel]))
    walk = np.minimum.outer(np.arange(DAYS + 1), np.arange(DAYS + 1))
    prior = np.cumsum(steps)[walk]
    own = np.flatnonzero(kind == 1) if channel else np.flatnonzero((kind == 0) | (kind > 4))
    at = day[own].astype(int)
    value = []
    for i in own:
        now, then = daily[int(day[i])], daily[int(since[i])]
        value.append({0: now[0], 1: now[1], 5: now[4] - then[4], 6: now[5] - then[5]}[int(kind[i])])
    off = y[own] - np.log(np.array(value) + OFFSET[kind[own]])
    seen = prior[np.ix_(at, at)] + np.diag((error[own] * p[P.ERROR_SCALE]) ** 2)
    gain = prior[:, at] @ np.linalg.inv(seen)
    return gain @ off, prior - gain @ prior[at]


@pytest.mark.parametrize("channel", [0, 1], ids=["garden", "workers"])
def test_a_draw_of_the_wander_has_the_mean_and_covariance_given_all_that_was_seen(ran, channel):
    p, record, _, _, filtered, daily, _, _ = ran
    mean, covariance = conditional(p, record, daily, channel)

    def drawn(normals):
        out = np.empty((DAYS + 1, 2))
        both = np.zeros((2, DAYS + 1))
        both[channel] = normals
        smooth(daily, p[P.ERROR_SCALE], record, both, out)
        return out[:, channel]

    middle = drawn(np.zeros(DAYS + 1))
    np.testing.assert_allclose(middle, mean, atol=1e-12)
    # a draw is its mean and a matrix times the normals
    root = np.array([drawn(one) - middle for one in np.eye(DAYS + 1)]).T
    np.testing.assert_allclose(root @ root.T, covariance, atol=1e-12)
    assert filtered[2 * channel] == pytest.approx(mean[-1], abs=1e-12)
    assert filtered[2 * channel + 1] == pytest.approx(covariance[-1, -1], rel=1e-9)


def test_the_likelihood_is_that_of_each_thing_seen_as_it_was_expected(ran):
    _, (_, kind, y, _, _), total, _, _, _, told, _ = ran
    expected, variance = told.T
    counts = (kind < 2) | (kind > 4)
    normal = -0.5 * (np.log(2 * np.pi * variance[counts]) + (y - expected)[counts] ** 2 / variance[counts])
    chance = np.where(y > 0.5, expected, 1 - expected)[~counts]
    assert total == pytest.approx(normal.sum() + np.log(chance).sum(), rel=1e-12)
    assert (variance[~counts] == 0).all()


@pytest.mark.parametrize(("kind", "value"), [("eggs", 1.0), ("garden", np.log(44.0))])
def test_of_the_only_thing_seen_it_is_told_what_was_expected(kind, value):
    p = vector("Acromyrmex echinatior", workers=60, garden=40, brood=60)
    record = (np.array([2.0]), np.array([KINDS[kind]]), np.array([value]), np.array([0.1]), np.zeros(1))
    filled = np.empty(K.N_STATE + 2), np.empty(4), np.empty((0, DAILY)), np.full((1, 2), np.nan)
    run_record(p, 4, climate(), 200.0, make_events(), record, STEP, *filled)
    assert np.isfinite(filled[-1]).all()


def test_values_that_lead_to_no_number_are_as_unlikely_as_can_be(ran):
    p, record, *_ = ran
    none = np.empty(K.N_STATE + 2), np.empty(4), np.empty((0, DAILY)), np.empty((0, 2))
    at_odds = p.copy()
    at_odds[P.ERROR_SCALE] = np.nan
    assert run_record(at_odds, DAYS, climate(), 200.0, make_events(*EVENTS), record, STEP, *none) == -1e300


def test_the_last_state_and_the_table_of_days_are_those_of_a_plain_run(ran):
    p, _, _, state, _, daily, _, plainly = ran
    np.testing.assert_allclose(state[: K.N_STATE], plainly.states[-1], rtol=1e-12)
    assert tuple(state[K.N_STATE :]) == (90.0, 0.3)
    # a run's row is the morning before the day's events, as the table's
    before = np.array([0, 1, 2, 3, 5, 7, 9, 10, 11])
    for place, name in ((0, "garden"), (1, "workers")):
        np.testing.assert_allclose(daily[before, place], getattr(plainly, name)[before], rtol=1e-12)
    np.testing.assert_allclose(daily[before, 4], plainly.total(K.WASTE)[before], rtol=1e-12)
    np.testing.assert_allclose(daily[before, 5], plainly.total(K.TAKEN_IN)[before], rtol=1e-12)
    for row in daily:
        assert tuple(row[2:4]) == wander(p, row[1])


def test_many_likelihoods_are_those_of_one_vector_each():
    seen = (Observation(4.0, "garden", 45.0, 0.1), Observation(8.0, "workers", 70.0, 0.2))
    problem = pose(plain(10, observations=seen, queen=None))
    zs = np.random.default_rng(3).standard_normal((4, len(problem.free)))
    rest = (problem.climate, problem.room, problem.events, problem.record, STEP)
    none = np.empty(K.N_STATE + 2), np.empty(4), np.empty((0, DAILY)), np.empty((0, 2))
    alone = [run_record(p, problem.days, *rest, *none) for p in problem.vectors(zs)]
    assert problem.log_likelihoods(zs).tolist() == alone


def test_free_values_are_those_that_each_says_of_itself():
    problem = pose(plain(10, queen=None))
    zs = np.random.default_rng(4).normal(0.0, 1.5, (20, len(problem.free)))
    for j, free in enumerate(problem.free):
        if free.name in ("development", "nurse_days", "brood_survival"):
            continue
        got = problem.vectors(zs)[:, free.target]
        np.testing.assert_allclose(got, free.value(zs[:, j]), rtol=1e-12, err_msg=free.name)
    p = np.empty(P.N_PARAMETERS)
    linked = (np.array([P.SIZE]), np.array([2]), np.array([2.0]), np.array([6.0]), np.array([0.0]))
    set_values(np.array([1.959963984540054]), problem.base, *linked, p)
    assert p[P.SIZE] == pytest.approx(2.0 + 4.0 * 0.975, rel=1e-12)  # the 97.5 % point of a normal


def test_a_certain_chance_takes_all_and_a_large_count_has_its_mean_and_spread():
    from nestwright.colony.noise import draw_binomial, draw_poisson

    assert draw_binomial(7.0, 1.0) == 7.0
    assert draw_binomial(7.0, 0.0) == draw_binomial(0.0, 0.5) == draw_poisson(0.0) == 0.0
    # mean and variance of the two distributions, on both sides of where a normal stands in for them; five of their
    # own standard errors: once in a million runs
    for n, chance in ((40.0, 0.3), (4000.0, 0.3), (3e6, 1e-5), (3e6, 3e-6)):
        many = np.array([draw_binomial(n, chance) for _ in range(4000)])
        spread = np.sqrt(n * chance * (1 - chance))
        assert many.mean() == pytest.approx(n * chance, abs=5 * spread / np.sqrt(4000))
        assert many.std() == pytest.approx(spread, rel=0.06)
    # few of many are drawn exactly: none at all as often as it should be
    none = np.mean([draw_binomial(100.0, 0.01) == 0.0 for _ in range(4000)])
    assert none == pytest.approx(0.99**100, abs=5 * 0.5 / np.sqrt(4000))
    for mean in (3.0, 5000.0):
        many = np.array([draw_poisson(mean) for _ in range(4000)])
        assert many.mean() == pytest.approx(mean, abs=5 * np.sqrt(mean / 4000))
        assert many.std() == pytest.approx(np.sqrt(mean), rel=0.06)


def test_rounding_keeps_the_total_within_one_and_each_stage_right_on_average():
    from nestwright.colony.noise import make_whole, round_chain

    stages, factor = np.array([0.2, 1.7, 0.0, 3.35, 0.6]), 1.3
    many = []
    for _ in range(2000):
        y = np.concatenate(([9.5], stages, [9.5]))
        round_chain(y, 1, len(stages), factor)
        assert y[[0, -1]].tolist() == [9.5, 9.5]
        many.append(y[1:-1])
    many = np.array(many)
    assert np.array_equal(many, np.round(many))
    assert np.abs(many.sum(axis=1) - factor * stages.sum()).max() < 1.0
    assert np.abs(many - factor * stages).max() < 1.0 + 1e-9
    # a whole number that is one of two has a spread of at most a half: five standard errors
    np.testing.assert_allclose(many.mean(axis=0), factor * stages, atol=5 * 0.5 / np.sqrt(2000))
    whole = np.arange(float(K.N_STATE))
    y = whole.copy()
    make_whole(y)
    assert np.array_equal(y, whole)


def test_the_columns_of_a_path_are_what_they_are_called():
    p = vector("Atta sexdens", workers=5000, garden=5000 * 2.0, brood=4000, noise=1e-9, development=1.3)
    # colder than where the card's values stand, so that every pace is another
    air = climate(21.0)
    table, plainly = paths(p, 20, 4, air=air, room=30_000.0), run(p, 20, air=air, room=30_000.0)
    totals = {"intake": K.TAKEN_IN, "waste": K.WASTE, "respired": K.RESPIRED, "eaten": K.EATEN, "wanted": K.WANTED}
    for name, place in totals.items():
        assert column(table, name)[:, -1].mean() == pytest.approx(plainly.total(place)[-1], rel=0.02), name
    for name in ("eggs", "larvae", "pupae"):
        assert column(table, name)[:, -1].mean() == pytest.approx(getattr(plainly, name)[-1], rel=0.1), name
    assert column(table, "emerged")[:, -1].mean() == pytest.approx(plainly.total(K.EMERGED)[-1], rel=0.1)
