"""The growth model as arithmetic: against a second writing of it and LSODA, its balances, and what must be so.

No biology is judged here; that is in test_published.py and test_rescue.py.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.colony import kernel as K  # noqa: N812
from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.likelihood import KINDS, OFFSET, run_record
from nestwright.colony.noise import TABLE, run_noisy
from nestwright.colony.problem import STEP
from nestwright.data import load_species, species_names

sys.path.insert(0, str(Path(__file__).parent))

import plain_model
from colony_runs import climate, column, make_events, paths, run, spread, vector

SPECIES = species_names()
SMALL, LARGE = 10, 1_000_000


def kept(species, workers, **changes):
    """A colony with the garden and brood that its card gives to so many workers."""
    growth = load_species(species).growth
    garden = workers * growth["garden_per_worker"].value
    return vector(species, workers=workers, garden=garden, brood=workers * growth["brood_per_worker"].value, **changes)


def kernel_rates(y, p, day):
    """The compiled rates, and the plain ones' arguments put where those want them."""
    warmth, harm, slow, queen, room = day
    w, out = np.empty(K.N_AGE), np.zeros(K.N_STATE)
    K.weigh_food(p, w)
    K.rates(y, p, w, np.array([warmth, harm, slow, 1.0, 0.0, room, queen, 0, 0, 0]), out)
    return out


# ---- against a second writing and LSODA ----


@pytest.mark.parametrize("species", SPECIES)
def test_rates_are_those_of_the_plain_writing(species):
    rng = np.random.default_rng(7)
    for i, p in enumerate(spread(vector(species), species, 12, seed=1)):
        p[P.FREE_LEAVES], p[P.DUMP_EXPOSURE] = i % 2, 0.3
        y = np.exp(rng.normal(1.0, 2.0, K.N_STATE))
        air = (rng.uniform(18, 30), *rng.exponential(0.2, 5))
        day = plain_model.day_of(
            p, air, rng.random(), [0.0, 2.0, 2.0 * y[K.GARDEN : K.LEAVES].sum() / p[P.DRY_DENSITY]][i % 3]
        )
        np.testing.assert_allclose(kernel_rates(y, p, day), plain_model.change(y, p, day), rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("species", SPECIES)
def test_the_step_of_a_fit_errs_by_less_than_a_thousandth(species):
    """Garden and workers of 120 days against LSODA (Petzold 1983, SIAM J Sci Stat Comput 4:136) at 1e-10."""
    p = kept(species, 60)
    day = plain_model.day_of(p, climate()[0], 1.0, 400.0)
    got = run(p, 120, room=400.0)
    exact = plain_model.solve(plain_model.at_start(p), p, day, 120)
    garden, workers = exact[K.GARDEN : K.LEAVES].sum(), exact[K.NURSES : K.GARDEN].sum()
    assert got.mass[-1] == pytest.approx(garden, rel=1e-3)
    assert got.workers[-1] == pytest.approx(workers, rel=1e-3)


@pytest.mark.parametrize("species", SPECIES)
def test_the_step_of_a_fit_errs_by_less_than_a_thousandth_where_leaves_are_counted(species):
    """A heap of leaves is gone in a day: the fastest thing there is. Against a step of a sixteenth."""
    p = kept(species, 60, free_leaves=0.0)
    events = make_events(*((float(d), "leaves", 0.25) for d in range(0, 120, 3)))
    got, fine = run(p, 120, events=events), run(p, 120, events=events, step=STEP / 16)
    for name in ("garden", "workers"):
        np.testing.assert_allclose(getattr(got, name), getattr(fine, name), rtol=1e-3, err_msg=name)
    np.testing.assert_allclose(got.total(K.TAKEN_IN)[1:], fine.total(K.TAKEN_IN)[1:], rtol=1e-3)


def test_halving_the_step_divides_the_error_by_about_sixteen():
    """Fourth order of the classical Runge-Kutta method (Hairer, Norsett & Wanner 1993, II.1)."""
    p = kept("Atta sexdens", 200)
    fine = run(p, 30, step=STEP / 32).garden[-1]
    coarse, half = (abs(run(p, 30, step=s).garden[-1] - fine) for s in (STEP, STEP / 2))
    assert 8 < coarse / half < 40


RECORD = (
    (2, "eggs", 1.0, 0.0, 0),
    (3, "garden", 58.0, 0.15, 0),
    (3, "workers", 65.0, 0.2, 0),
    (9, "larvae", 1.0, 0.0, 0),
    (9, "garden", 70.0, 0.2, 0),
    (12, "waste", 0.35, 0.25, 2),
    (12, "leaves_taken", 0.9, 0.2, 2),
    (17, "pupae", 0.0, 0.0, 0),
    (17, "workers", 80.0, 0.05, 0),
    (24, "garden", 95.0, 0.1, 0),
    (30, "workers", 90.0, 0.35, 0),
    (30, "garden", 110.0, 0.15, 0),
)
HAPPENED = (
    *((float(d), "leaves", 0.25) for d in range(0, 30, 2)),
    (8.0, "workers_added", 12.0),
    (10.0, "queen", 0.4),
    (15.0, "room", 160.0),
    (20.0, "garden_added", 15.0),
)


@pytest.mark.parametrize("leaves", ["free", "recorded"])
def test_likelihood_is_that_of_a_plain_solver_and_a_multivariate_normal(leaves):
    p = kept("Acromyrmex octospinosus", 60, error_scale=1.3, free_leaves=float(leaves == "free"))
    air = np.array([[22 + 4 * np.sin(t / 5), max(0, t - 25) * 0.2, 0.0, 0.01 * (t % 4), 0.0, 0.0] for t in range(30)])
    kinds = np.array([KINDS[o[1]] for o in RECORD])
    value = np.array([o[2] for o in RECORD])
    seen_only = (kinds >= 2) & (kinds <= 4)
    y = np.where(seen_only, value, np.log(value + np.where(seen_only, 1.0, OFFSET[kinds])))
    day, error, since = (np.array([o[i] for o in RECORD], dtype=float) for i in (0, 3, 4))
    record = (day, kinds, y, error, since)
    state, filtered = np.empty(K.N_STATE + 2), np.empty(4)
    none = np.empty((0, 6)), np.empty((0, 2))
    exact = plain_model.log_likelihood(p, 30, air, 120.0, HAPPENED, RECORD)
    events = make_events(*HAPPENED)
    fit, fine = (run_record(p, 30, air, 120.0, events, record, s, state, filtered, *none) for s in (STEP, STEP / 8))
    assert fine == pytest.approx(exact, abs=1e-5)
    # the step of a fit: of the order of its error of 0.0001 in the garden over the 0.1 of an observation, a dozen times
    assert fit == pytest.approx(exact, abs=5e-3)


# ---- balances ----


def course(workers):
    """A year's events that a colony of any size bears."""
    return (
        (20.0, "garden_added", 2.0 * workers**0.9),
        (40.0, "workers_added", 0.3 * workers),
        (60.0, "garden_share_lost", 0.4),
        (90.0, "queen", 0.0),
        (120.0, "queen", 1.0),
        (150.0, "brood_share_lost", 0.5),
        (200.0, "workers_taken", 0.2 * workers),
        (250.0, "garden_taken", 0.1 * workers),
    )


@pytest.mark.parametrize("workers", [SMALL, LARGE])
@pytest.mark.parametrize("species", ["Acromyrmex octospinosus", "Atta colombica"])
def test_dry_matter_balances_over_a_year(species, workers):
    p = kept(species, workers)
    got = run(p, 365, events=make_events(*course(workers)), room=4.0 * workers)
    out = got.mass + sum(got.total(i) for i in (K.WASTE, K.RESPIRED, K.EATEN))
    assert out[-1] == pytest.approx(got.mass[0] + got.added + got.total(K.TAKEN_IN)[-1], rel=1e-6)
    assert got.total(K.TAKEN_IN)[-1] > got.mass[0], "a balance of something that moves"


@pytest.mark.parametrize("workers", [SMALL, LARGE])
def test_dry_matter_balances_on_paths_with_noise(workers):
    p = kept("Acromyrmex octospinosus", workers)
    events = course(workers)
    table = paths(p, 365, 4, events=make_events(*events), room=4.0 * workers)
    mass = column(table, "garden") * p[P.DRY_DENSITY]
    added = np.zeros(4)
    for day, kind, value in events:
        before = mass[:, int(day)]
        if kind == "garden_added":
            added += value * p[P.DRY_DENSITY]
        elif kind == "garden_taken":
            added -= np.minimum(before, value * p[P.DRY_DENSITY])
        elif kind == "garden_share_lost":
            added -= value * before
    came = mass[:, 0] + added + column(table, "intake")[:, -1] + column(table, "wander")[:, -1]
    went = mass[:, -1] + sum(column(table, k)[:, -1] for k in ("waste", "respired", "eaten"))
    np.testing.assert_allclose(went, came, rtol=1e-6)


def test_leaves_given_are_taken_in_or_wilt_or_lie_there():
    p = kept("Atta sexdens", 300, free_leaves=0.0, queen_brings=0.0)
    given_out = [(float(d), "leaves", 1.5) for d in range(0, 100, 3)]
    got = run(p, 120, events=make_events(*given_out))
    there = got.total(K.LEAVES)[-1] + got.total(K.TAKEN_IN)[-1] + got.total(K.WILTED)[-1]
    assert there == pytest.approx(sum(value for *_, value in given_out), rel=1e-9)


def test_ants_balance_where_none_is_moved():
    p = kept("Atta cephalotes", 400)
    got = run(p, 200)
    came = got.total(K.EMERGED)[-1] - got.total(K.DIED)[-1]
    assert got.workers[-1] - got.workers[0] == pytest.approx(came, rel=1e-6)


# ---- paths with noise ----


def test_ants_balance_on_a_path_where_none_is_moved():
    p, y = kept("Atta cephalotes", 400, noise=0.0), np.zeros(K.N_STATE)
    K.start_state(p, y)
    path = np.empty((201, len(TABLE)))
    run_noisy(p, y, 0, 200, climate(), 4000.0, 1.0, make_events(), 7, path)
    workers = path[:, TABLE.index("workers")]
    assert y[K.DIED] > 50
    assert workers[-1] - workers[0] == y[K.EMERGED] - y[K.DIED]


@pytest.mark.parametrize("workers", [3000, LARGE])
def test_large_colonies_go_in_the_mean_as_the_skeleton_goes(workers):
    """A linear noise has the mean of the rates; what is not linear is left a hundredth."""
    p = kept("Atta colombica", workers, noise=0.002)
    table, plain = paths(p, 90, 60), run(p, 90)
    for name in ("garden", "workers", "larvae"):
        many = column(table, name)[:, -1]
        margin = 4 * many.std(ddof=1) / np.sqrt(len(many)) + 0.015 * many.mean()
        assert many.mean() == pytest.approx(getattr(plain, name)[-1], abs=margin), name


def test_counts_of_a_path_are_whole_and_a_seed_gives_the_same_path():
    p = kept("Trachymyrmex septentrionalis", 14)
    one, again, other = (paths(p, 60, 3, seed=s) for s in (5, 5, 6))
    np.testing.assert_array_equal(one, again)
    assert not np.array_equal(one, other)
    for name in ("workers", "eggs", "larvae", "pupae", "emerged"):
        counts = column(one, name)
        np.testing.assert_array_equal(counts, np.round(counts))


# ---- what must be so for any colony ----

species_of = st.sampled_from(SPECIES)
sizes = st.floats(0, 5).map(lambda x: 10**x)
weather = st.builds(
    climate,
    temperature=st.floats(12, 34),
    hot=st.floats(0, 8),
    cold=st.floats(0, 8),
    dry=st.floats(0, 0.6),
    wet=st.floats(0, 10),
    co2=st.floats(0, 0.2),
)
shares = st.floats(0, 1)
counts = st.floats(0, 2000)
happenings = st.lists(
    st.tuples(
        st.integers(0, 39).map(float),
        st.one_of(
            st.tuples(st.sampled_from(["garden_share_lost", "brood_share_lost", "queen"]), shares),
            st.tuples(st.sampled_from(["garden_added", "garden_taken", "workers_added", "workers_taken"]), counts),
            st.tuples(st.sampled_from(["eggs_added", "larvae_added", "pupae_added"]), st.floats(-500, 500)),
            st.tuples(st.sampled_from(["room", "leaves"]), st.floats(1, 5000)),
        ),
    ).map(lambda e: (e[0], *e[1])),
    max_size=12,
)
few = settings(max_examples=60, deadline=None)


@few
@given(species_of, sizes, weather, happenings, st.booleans())
def test_nothing_is_ever_negative(species, workers, air, events, free):
    p = kept(species, workers, free_leaves=float(free))
    arrays = make_events(*events)
    states = run(p, 40, air=air, events=arrays, room=workers).states
    assert np.isfinite(states).all()
    assert states.min() >= -1e-9 * states.max()
    table = paths(p, 40, 1, air=air, events=arrays, room=workers)
    assert np.isfinite(table).all()
    assert np.delete(table, TABLE.index("wander"), axis=2).min() >= 0


@few
@given(species_of, sizes, st.floats(0.0001, 0.02), st.floats(1.01, 5))
def test_more_leaves_never_leave_less_garden(species, workers, daily, times):
    p = kept(species, workers, free_leaves=0.0)
    fewer, more = (
        run(p, 90, events=make_events(*((float(d), "leaves", daily * workers * k) for d in range(90)))).garden[-1]
        for k in (1.0, times)
    )
    assert more >= fewer * (1 - 1e-6)


@few
@given(species_of, sizes, st.integers(0, 30), st.integers(0, 40), st.integers(1, 40))
def test_a_longer_absence_of_the_queen_never_gives_more_eggs(species, workers, since, short, longer):
    p = kept(species, workers)
    laid = [
        run(p, 120, events=make_events((float(since), "queen", 0.0), (float(since + n), "queen", 1.0))).total(K.LAID)[
            -1
        ]
        for n in (short, short + longer)
    ]
    assert laid[1] <= laid[0] * (1 + 1e-9)


TOGETHER = (
    (9.0, "workers_added", 15.0),
    (9.0, "eggs_added", 20.0),
    (9.0, "pupae_added", -3.0),
    (9.0, "garden_added", 12.0),
    (9.0, "room", 300.0),
    (9.0, "leaves", 2.0),
    (9.0, "queen", 0.7),
)


@few
@given(st.permutations(TOGETHER))
def test_the_order_of_independent_events_of_one_day_is_nothing(events):
    p = kept("Acromyrmex echinatior", 50, free_leaves=0.0)
    plain, mixed = (run(p, 60, events=make_events(*e)).states[-1] for e in (TOGETHER, events))
    np.testing.assert_allclose(mixed, plain, rtol=1e-9, atol=1e-12)


def test_a_run_goes_on_from_where_it_was_stopped():
    p = kept("Atta sexdens", 100)
    whole = run(p, 80)
    np.testing.assert_allclose(run(p, 50, start=whole.states[30]).states[-1], whole.states[-1], rtol=1e-12)


def test_the_table_of_a_path_starts_as_the_skeleton_does():
    p = kept("Atta sexdens", 100)
    first = dict(zip(TABLE, paths(p, 1, 1, room=700.0)[0, 0], strict=True))
    assert first["room"] == 700.0
    assert first["garden"] == pytest.approx(p[P.START_GARDEN])
    assert first["workers"] == pytest.approx(p[P.START_WORKERS], abs=1)
