"""The sampler on problems whose evidence and moments are known in closed form."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from nestwright.colony.sampler import extend, sample


def gaussian(mean, sd):
    """Log-likelihood of a normal about a mean, each dimension on its own; and its closed forms under N(0, 1) priors."""
    mean, sd = np.asarray(mean), np.asarray(sd)

    def likelihood(z):
        return norm.logpdf(z, mean, sd).sum(axis=1)

    evidence = norm.logpdf(mean, 0.0, np.sqrt(1 + sd**2)).sum()
    return likelihood, evidence, mean / (1 + sd**2), np.sqrt(sd**2 / (1 + sd**2))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_gaussian_evidence_and_moments(seed):
    # conjugate normal: closed forms
    likelihood, evidence, mean, sd = gaussian([1.0, -0.5, 0.0, 2.0, 0.3], [0.3, 1.0, 0.1, 0.5, 3.0])
    got = sample(likelihood, 5, particles=2000, seed=seed)
    assert abs(got.log_evidence - evidence) < 4 * got.error
    assert got.error < 0.1
    assert np.all(np.abs(got.draws.mean(0) - mean) < 0.1 * sd)
    assert np.all(np.abs(got.draws.std(0) / sd - 1) < 0.1)


def test_gaussian_in_sixteen_dimensions_tightly_correlated():
    # one sum known to 0.02, the rest as the prior: posterior of a linear observation, closed form
    d, error, seen = 16, 0.02, 1.5
    row = np.linspace(0.2, 1.0, d)
    got = sample(lambda z: norm.logpdf(z @ row, seen, error), d, particles=2000, seed=4)
    total = row @ row
    gain = row / (total + error**2)
    covariance = np.eye(d) - np.outer(gain, row)
    evidence = norm.logpdf(seen, 0.0, math.sqrt(total + error**2))
    assert abs(got.log_evidence - evidence) < 4 * got.error
    assert np.all(np.abs(got.draws.mean(0) - gain * seen) < 0.1 * np.sqrt(np.diag(covariance)))
    assert np.all(np.abs(got.draws.std(0) / np.sqrt(np.diag(covariance)) - 1) < 0.1)


def test_banana():
    # x2 lies on a parabola of x1: evidence and moments of x1 by quadrature
    def likelihood(z):
        return norm.logpdf(z[:, 1], z[:, 0] ** 2 - 1.0, 0.1) + norm.logpdf(z[:, 0], 0.5, 0.8)

    def density(x):
        return norm.pdf(x) * norm.pdf(x, 0.5, 0.8) * norm.pdf(x * x - 1.0, 0.0, math.sqrt(1.01))

    evidence, first, second = (quad(lambda x, k=k: x**k * density(x), -6, 6)[0] for k in range(3))
    mean, sd = first / evidence, math.sqrt(second / evidence - (first / evidence) ** 2)
    got = sample(likelihood, 2, particles=4000, moves=10, seed=5)
    assert abs(got.log_evidence - math.log(evidence)) < max(4 * got.error, 0.05)
    assert abs(got.draws[:, 0].mean() - mean) < 0.1 * sd
    assert abs(got.draws[:, 0].std() / sd - 1) < 0.1


def test_two_modes_keep_their_weights():
    # mixture 0.7 and 0.3 of normals at -2 and +2: weights of the posterior in closed form
    def likelihood(z):
        return np.logaddexp(math.log(0.7) + norm.logpdf(z[:, 0], -2, 0.2), math.log(0.3) + norm.logpdf(z[:, 0], 2, 0.2))

    got = sample(likelihood, 1, particles=4000, seed=6)
    evidence = norm.logpdf(2.0, 0.0, math.sqrt(1.04))
    assert abs(got.log_evidence - evidence) < 4 * got.error
    assert (got.draws[:, 0] < 0).mean() == pytest.approx(0.7, abs=0.06)


def test_extended_agrees_with_fitted_anew():
    first, _, _, _ = gaussian([0.5, 0.2, -1.0], [0.6, 1.0, 0.5])
    more, _, _, _ = gaussian([0.9, 0.4, -0.7], [0.8, 0.5, 0.7])

    def whole(z):
        return first(z) + more(z)

    grown = extend(whole, first, sample(first, 3, particles=2000, seed=7), seed=8)
    anew = sample(whole, 3, particles=2000, seed=9)
    assert abs(grown.log_evidence - anew.log_evidence) < 4 * math.hypot(grown.error, anew.error)
    assert np.all(np.abs(grown.draws.mean(0) - anew.draws.mean(0)) < 0.1 * anew.draws.std(0))
    assert np.all(np.abs(grown.draws.std(0) / anew.draws.std(0) - 1) < 0.1)


def test_extended_by_a_surprise_goes_in_steps():
    # what is new lies four of the old deviations away: closed form of both together
    first, _, _, _ = gaussian([0.0], [0.3])
    more, _, _, _ = gaussian([1.2], [0.1])
    grown = extend(lambda z: first(z) + more(z), first, sample(first, 1, particles=2000, seed=10), moves=8, seed=11)
    precision = 1 + 1 / 0.09 + 1 / 0.01
    assert grown.draws.mean() == pytest.approx(1.2 / 0.01 / precision, abs=0.1 / math.sqrt(precision))
    assert grown.draws.std() == pytest.approx(1 / math.sqrt(precision), rel=0.1)


def test_little_that_is_new_takes_few_moves_and_much_takes_them_all():
    first, _, _, _ = gaussian([0.5, 0.2, -1.0], [0.6, 1.0, 0.5])
    before = sample(first, 3, particles=2000, seed=15)

    def asked(error):
        more, _, _, _ = gaussian([0.4, 0.1, -0.7], [error] * 3)
        sizes = []

        def whole(z):
            sizes.append(len(z))
            return first(z) + more(z)

        extend(whole, first, before, seed=16)
        return sum(sizes) / 2000

    # once for what is new; then at least one move of each kind, six at most after the last step
    assert asked(5.0) == 3
    assert asked(0.4) >= 7


def test_same_seed_same_draws_other_seed_others():
    likelihood, _, _, _ = gaussian([1.0, 0.0], [0.3, 0.5])
    one, two, three = (sample(likelihood, 2, particles=200, seed=s) for s in (12, 12, 13))
    assert np.array_equal(one.draws, two.draws)
    assert one.log_evidence == two.log_evidence
    assert not np.array_equal(one.draws, three.draws)


def test_no_record_gives_the_prior():
    got = sample(lambda z: np.zeros(len(z)), 2, particles=2000, seed=14)
    assert got.log_evidence == 0.0
    assert got.error == 0.0
    assert np.all(np.abs(got.draws.mean(0)) < 0.1)
    assert np.all(np.abs(got.draws.std(0) - 1) < 0.06)


def test_progress_rises_to_one():
    likelihood, _, _, _ = gaussian([1.0, 0.0], [0.1, 0.1])
    seen = []
    sample(likelihood, 2, particles=200, seed=15, progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) > 1


def test_a_long_record_is_fitted_with_fewer_draws():
    """The work grows with length times draws: it stands still from `LONG` days until the draws are the fewest."""
    from nestwright.colony.fit import FEWEST, LONG, PARTICLES, particles_for

    assert particles_for(0) == particles_for(LONG) == PARTICLES
    assert particles_for(2 * LONG) == PARTICLES // 2
    assert particles_for(11000) == FEWEST
