"""Delays learned by route, against a sampler of others, closed forms and parcels of a known truth."""

from datetime import date, datetime, timedelta

import numpy as np
import pytest

from nestwright.data import read_values
from nestwright.parcel.calendar import days_late, due_day, hours_late
from nestwright.parcel.delay import Sent, learn_delays


def values():
    return {k: v.value for k, v in read_values("delay.toml").items()}


def some(route, on_time, late):
    return [Sent(route, 0)] * on_time + [Sent(route, k) for k in late]


SENT = [*some("coast", 30, [1, 1, 3]), *some("hills", 4, [2, 1]), *some("islands", 2, [])]


def test_the_posterior_is_that_of_an_independent_sampler():
    """emcee over m, s and the routes' own chances, from the model's sentences and scipy's densities."""
    import emcee
    from scipy.stats import beta, binom, norm

    v, counts = values(), [(33, 3), (6, 2), (2, 0)]

    def log(theta):  # all walkers at once
        inside = (theta[:, [0, 2, 3, 4]] > 0).all(axis=1) & (theta[:, [0, 2, 3, 4]] < 1).all(axis=1)
        ln_s, theta = theta[:, [1]], np.where(inside[:, None], theta, 0.5)
        m, q = theta[:, [0]], theta[:, 2:]
        s = np.exp(ln_s)
        total = beta.logpdf(m, v["late_prior_a"], v["late_prior_b"])[:, 0]
        total += norm.logpdf(ln_s, np.log(v["route_likeness"]), v["route_likeness_spread"])[:, 0]
        total += beta.logpdf(q, m * s, (1 - m) * s).sum(axis=1)
        sent, late = np.array(counts).T
        total += binom.logpmf(late, sent, q).sum(axis=1)
        return np.where(inside & np.isfinite(total), total, -np.inf)

    np.random.seed(1)  # emcee draws from numpy's old state
    start = np.array([0.12, np.log(12), 0.1, 0.2, 0.1]) * (1 + 0.1 * np.random.rand(24, 5))
    walk = emcee.EnsembleSampler(24, 5, log, vectorize=True)
    walk.run_mcmc(start, 800)
    chances = walk.get_chain(discard=200, flat=True)[:, 2:]
    told = learn_delays(SENT)
    for k, name in enumerate(("coast", "hills", "islands")):
        one = told.route(name)
        error = 5 * chances[:, k].std() / np.sqrt(len(chances) / 60)  # some 60 steps to forget
        assert one.chance_late == pytest.approx(chances[:, k].mean(), abs=error)
        assert one.low == pytest.approx(np.quantile(chances[:, k], 0.1), abs=0.012)
        assert one.high == pytest.approx(np.quantile(chances[:, k], 0.9), abs=0.02)


def test_without_parcels_it_is_the_prior():
    v, told = values(), learn_delays([])
    assert told.route("new").chance_late == pytest.approx(
        v["late_prior_a"] / (v["late_prior_a"] + v["late_prior_b"]), rel=0.01
    )
    chances = told.by_days("new")
    assert chances.sum() == pytest.approx(1)
    # E[r] of a Beta is the chance of a second day among the late
    a, b = v["further_prior_a"], v["further_prior_b"]
    assert chances[2:].sum() / chances[1:].sum() == pytest.approx(a / (a + b))


def test_a_route_with_few_parcels_leans_on_the_others_and_one_with_many_stands_alone():
    late = [*some("bad", 60, [1] * 40)]
    alone, among = learn_delays(some("x", 2, [])), learn_delays([*late, *some("x", 2, [])])
    assert among.route("x").chance_late > alone.route("x").chance_late
    assert among.route("bad").chance_late == pytest.approx(0.4, abs=0.03)
    few, many = learn_delays(some("x", 4, [1])), learn_delays(some("x", 40, [1] * 10))
    assert few.route("x").high - few.route("x").low > 1.7 * (many.route("x").high - many.route("x").low)


def test_draws_follow_the_chances():
    told, n = learn_delays(SENT), 200_000
    drawn = np.bincount(told.draw("hills", n, np.random.default_rng(1)), minlength=told.most + 1) / n
    wanted = told.by_days("hills")
    assert np.all(np.abs(drawn - wanted) < 5 * np.sqrt(wanted * (1 - wanted) / n) + 1e-9)


def test_intervals_hold_the_truth_as_often_as_they_say():
    """Truths drawn from the prior: its 80 % intervals hold the route's chance in 8 of 10 (SBC, Talts et al. 2018)."""
    v, rng, n = values(), np.random.default_rng(3), 120
    held = 0
    for _ in range(n):
        m = rng.beta(v["late_prior_a"], v["late_prior_b"])
        s = v["route_likeness"] * np.exp(v["route_likeness_spread"] * rng.standard_normal())
        truth = rng.beta(m * s, (1 - m) * s, size=5)
        sent = [Sent(str(k), int(rng.random() < q)) for k, q in enumerate(truth) for _ in range(4 + 6 * k)]
        one = learn_delays(sent).route("2")
        held += one.low <= truth[2] <= one.high
    assert abs(held / n - 0.8) < 3 * np.sqrt(0.8 * 0.2 / n)


def test_delays_count_days_of_delivery():
    """A calendar: 14 January 2027 is a Thursday (ISO 8601 weekday of the proleptic calendar)."""
    thursday = date(2027, 1, 14)
    assert thursday.isoweekday() == 4
    assert due_day(datetime(2027, 1, 14, 16), 24) == date(2027, 1, 15)
    assert due_day(datetime(2027, 1, 15, 16), 24) == date(2027, 1, 18), "promised for a Saturday: Monday"
    friday = date(2027, 1, 15)
    assert [days_late(friday, friday + timedelta(days=k)) for k in (-1, 0, 1, 2, 3, 4)] == [0, 0, 0, 0, 1, 2]
    assert [hours_late(friday, k) for k in (0, 1, 2)] == [0, 72, 96]
    assert [hours_late(thursday, k) for k in (0, 1, 2)] == [0, 24, 96]


def test_a_negative_delay_is_refused():
    with pytest.raises(ValueError, match="0 or more"):
        learn_delays([Sent("a", -1)])
