"""Values of box and pack learned from invented logs of known truth."""

import numpy as np
import pytest

from nestwright.data import read_values
from nestwright.parcel.learning import Belief, Logged, learn_values

BELIEFS = (
    Belief("pack.power_factor", "factor", 1.0, 0.3),
    Belief("box.u_factor", "factor", 1.0, 0.3),
    Belief("outside.offset", "shift", 0.0, 2.0),
)
HOURS = np.arange(0, 48, 0.5)
OUTSIDE = 278.0 + 6 * np.sin(2 * np.pi * HOURS / 24) - 4 * (HOURS > 20)


def course(values, hours):
    """One lump of 2 W/K and 30 kJ/K with a pack of 20 W that fades: exact for pieces of half an hour."""
    loss, store = 2.0 * values["box.u_factor"], 30_000.0
    heat = 20.0 * values["pack.power_factor"] * np.exp(-((HOURS / 30) ** 4))
    goal = OUTSIDE + values["outside.offset"] + heat / loss
    kept = np.exp(-1800 * loss / store)
    warm = [294.0]
    for one in goal[:-1]:
        warm.append(one + (warm[-1] - one) * kept)
    return np.interp(hours, HOURS, warm)


def noisy(truth, rng):
    """A log with the errors that the fit takes for granted: one that keeps its sign for hours, and the logger's."""
    v = {k: one.value for k, one in read_values("parcel_learning.toml").items()}
    apart = np.abs(HOURS[:, None] - HOURS[None, :])
    slow = np.linalg.cholesky(v["model_error"] ** 2 * np.exp(-apart / v["model_time"]) + 1e-9 * np.eye(len(HOURS)))
    off = slow @ rng.standard_normal(len(HOURS)) + v["logger_error"] * rng.standard_normal(len(HOURS))
    return Logged(HOURS, course(truth, HOURS) + off)


def test_intervals_hold_the_truth_as_often_as_they_say():
    rng, held, n = np.random.default_rng(5), np.zeros(3), 60
    for _ in range(n):
        truth = {b.name: b.at(rng.standard_normal()) for b in BELIEFS}
        told = learn_values([(course, noisy(truth, rng))], BELIEFS)
        held += [one.low <= truth[one.name] <= one.high for one in told.values]
    assert np.all(np.abs(held / n - 0.8) < 3 * np.sqrt(0.8 * 0.2 / n)), held / n


def test_the_posterior_is_that_of_an_independent_sampler():
    """emcee on the model's sentences: normal errors with scipy's density, priors as told."""
    import emcee
    from scipy.stats import multivariate_normal

    truth = {"pack.power_factor": 0.7, "box.u_factor": 1.2, "outside.offset": 1.0}
    log = noisy(truth, np.random.default_rng(2))
    v = {k: one.value for k, one in read_values("parcel_learning.toml").items()}
    apart = np.abs(HOURS[:, None] - HOURS[None, :])
    covariance = v["model_error"] ** 2 * np.exp(-apart / v["model_time"]) + v["logger_error"] ** 2 * np.eye(len(HOURS))
    errors = multivariate_normal(np.zeros(len(HOURS)), covariance)

    def density(z):
        values = {b.name: b.at(x) for b, x in zip(BELIEFS, z, strict=True)}
        return errors.logpdf(log.temperature - course(values, HOURS)) - 0.5 * float(z @ z)

    np.random.seed(1)  # emcee draws from numpy's old state
    walk = emcee.EnsembleSampler(12, 3, density)
    walk.run_mcmc(0.1 * np.random.randn(12, 3), 500)
    drawn = walk.get_chain(discard=150, flat=True)
    told = learn_values([(course, log)], BELIEFS)
    for k, one in enumerate(told.values):
        spread = drawn[:, k].std()
        ends = [BELIEFS[k].at(drawn[:, k].mean() + s * 1.2816 * spread) for s in (-1, 1)]
        wide = ends[1] - ends[0]
        assert one.low == pytest.approx(ends[0], abs=0.2 * told.stretch * wide)
        assert one.high == pytest.approx(ends[1], abs=0.2 * told.stretch * wide)


def test_a_weak_pack_is_found_and_more_logs_tell_more():
    truth = {"pack.power_factor": 0.5, "box.u_factor": 1.0, "outside.offset": 0.0}
    rng = np.random.default_rng(1)
    logs = [noisy(truth, rng) for _ in range(6)]
    one, six = learn_values([(course, logs[0])], BELIEFS), learn_values([(course, log) for log in logs], BELIEFS)
    assert six.values[0].high < 0.8
    assert six.values[0].width < one.values[0].width < 1
    assert six.off_after < six.off_before
    assert (six.parcels, one.parcels) == (6, 1)


def test_a_log_that_the_model_cannot_follow_widens_the_intervals():
    truth = {"pack.power_factor": 1.0, "box.u_factor": 1.0, "outside.offset": 0.0}
    log = noisy(truth, np.random.default_rng(4))
    sunny = Logged(log.hours, log.temperature + 9 * ((log.hours > 30) & (log.hours < 34)))
    assert learn_values([(course, log)], BELIEFS).stretch < 1.3
    assert learn_values([(course, sunny)], BELIEFS).stretch > 1.5


def test_too_little_is_refused():
    with pytest.raises(ValueError, match="three readings"):
        learn_values([(course, Logged(HOURS[:2], np.array([290.0, 291.0])))], BELIEFS)
    with pytest.raises(ValueError, match="three readings"):
        learn_values([], BELIEFS)
