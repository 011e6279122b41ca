"""Sequential Monte Carlo from prior to posterior, for standard normal priors and a compiled likelihood.

Tempered likelihood with steps chosen by effective sample size (Del Moral, Doucet & Jasra 2006, J R Stat Soc B 68:411;
Jasra et al. 2011, Scand J Stat 38:1), systematic resampling, moves by preconditioned Crank-Nicolson steps about the
particles' own mean and covariance (Cotter et al. 2013, Stat Sci 28:424) in turn with random walks (Roberts & Rosenthal
2001, Stat Sci 16:351). All randomness is drawn from one seeded generator, so a run can be repeated bit for bit.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Likelihood = Callable[[Array], Array]
Progress = Callable[[float], None]

__all__ = ["Sample", "extend", "sample"]

CONTRACTION = 0.5
"""Effective sample size that a tempering step leaves, as a share of the particles."""
COPIES = 0.025
"""Share of the particles that may be copies left where they were when an observation was added. Judgement: a fit
from the prior leaves up to 0.044."""


@dataclass(frozen=True)
class Sample:
    """Equally weighted draws (n, d), their log-likelihoods (n,), the log evidence and its standard error."""

    draws: Array
    log_likelihood: Array
    log_evidence: float
    error: float


def sample(
    likelihood: Likelihood,
    dimensions: int,
    *,
    particles: int = 1000,
    moves: int = 6,
    seed: int = 1,
    progress: Progress | None = None,
) -> Sample:
    """Draw from prior times likelihood.

    `likelihood` maps (n, d) to (n,). `progress` is told the share of the work that is done, 0 to 1, after every move.
    Raises nothing of its own; -1e300 stands for impossible.
    """
    rng = np.random.default_rng(seed)
    draws = rng.standard_normal((particles, dimensions))
    ll = likelihood(draws)
    exponent, evidence, variance = 0.0, 0.0, 0.0
    while exponent < 1.0:
        ahead = _next_exponent(ll, exponent)
        weight = np.exp((ahead - exponent) * (ll - ll.max()))
        mean = weight.mean()
        evidence += math.log(mean) + (ahead - exponent) * ll.max()
        variance += float(np.var(weight / mean)) / particles
        # steps grow as they come: in the square root of the exponent they are about equal
        told = _between(progress, math.sqrt(exponent), math.sqrt(ahead))
        exponent = ahead
        draws, ll = _resample_and_move(likelihood, draws, ll, weight, exponent, moves, rng, told)
    return Sample(draws, ll, float(evidence), math.sqrt(variance))


def extend(new: Likelihood, old: Likelihood, before: Sample, *, moves: int = 6, seed: int = 1) -> Sample:
    """The sample of a record that grew, from that of the shorter one (Chopin 2002, Biometrika 89:539).

    `new` is the likelihood of the whole new record, `old` that of the record before. Draws are weighed by what the new
    part adds, in steps where it adds much, and moved after each, no more often than the copies need it.
    """
    rng = np.random.default_rng(seed)
    draws, ll_old, ll_new = before.draws, before.log_likelihood, new(before.draws)
    exponent, evidence, variance = 0.0, before.log_evidence, before.error**2
    while exponent < 1.0:
        added = ll_new - ll_old
        ahead = _next_exponent(added, exponent)
        weight = np.exp((ahead - exponent) * (added - added.max()))
        mean = weight.mean()
        evidence += math.log(mean) + (ahead - exponent) * added.max()
        variance += float(np.var(weight / mean)) / len(draws)
        exponent = ahead
        if exponent >= 1.0:
            draws, ll_new = _resample_and_move(new, draws, ll_new, weight, 1.0, moves, rng, copies=COPIES)
            break
        share = exponent

        def part(z: Array, share: float = share) -> Array:
            return (1.0 - share) * old(z) + share * new(z)

        draws, _ = _resample_and_move(part, draws, ll_old + share * added, weight, 1.0, moves, rng)
        ll_old, ll_new = old(draws), new(draws)
    return Sample(draws, ll_new, float(evidence), math.sqrt(variance))


def _between(progress: Progress | None, first: float, last: float) -> Progress:
    """Progress of a part of the work that goes from one share to another."""

    def told(share: float) -> None:
        if progress:
            progress(first + share * (last - first))

    return told


def _effective(log_weight: Array) -> float:
    weight = np.exp(log_weight - log_weight.max())
    return float(weight.sum() ** 2 / (weight**2).sum())


def _next_exponent(ll: Array, exponent: float) -> float:
    """Largest exponent that keeps the effective sample size, by bisection."""
    wanted = CONTRACTION * len(ll)
    if _effective((1.0 - exponent) * ll) >= wanted:
        return 1.0
    low, high = 0.0, 1.0 - exponent
    for _ in range(60):
        middle = 0.5 * (low + high)
        if _effective(middle * ll) < wanted:
            high = middle
        else:
            low = middle
    return exponent + max(low, 1e-12)


def _systematic(weight: Array, rng: np.random.Generator) -> NDArray[np.intp]:
    points = (rng.random() + np.arange(len(weight))) / len(weight)
    index = np.searchsorted(np.cumsum(weight / weight.sum()), points)
    return np.minimum(index, len(weight) - 1)


def _resample_and_move(
    likelihood: Likelihood,
    draws: Array,
    ll: Array,
    weight: Array,
    exponent: float,
    moves: int,
    rng: np.random.Generator,
    told: Progress = lambda share: None,
    copies: float = 0.0,
) -> tuple[Array, Array]:
    """Draws that count alike, from weighed ones, each moved in turn by both kinds of step: `moves` times, or until less
    than a share `copies` of them is a copy that never moved."""
    share = weight / weight.sum()
    centre = share @ draws
    apart = draws - centre
    covariance = (apart * share[:, None]).T @ apart + 1e-9 * np.eye(draws.shape[1])
    root = np.linalg.cholesky(covariance)
    index = _systematic(weight, rng)
    draws, ll = draws[index].copy(), ll[index].copy()
    alone = np.append(True, index[1:] != index[:-1])
    wide, stride = 0.7, 2.38 / math.sqrt(draws.shape[1])
    for turn in range(moves):
        noise = rng.standard_normal(draws.shape) @ root.T
        if turn % 2:
            proposed = draws + stride * noise
            correction = np.zeros(len(draws))
        else:
            proposed = centre + math.sqrt(1.0 - wide * wide) * (draws - centre) + wide * noise
            correction = _log_normal(draws, centre, root) - _log_normal(proposed, centre, root)
        found = likelihood(proposed)
        gain = exponent * (found - ll) - 0.5 * ((proposed**2).sum(1) - (draws**2).sum(1)) + correction
        taken = np.log(rng.random(len(draws))) < gain
        draws[taken], ll[taken] = proposed[taken], found[taken]
        alone |= taken
        rate = float(taken.mean())
        if turn % 2:
            stride *= math.exp(rate - 0.25)
        else:
            wide = min(0.98, wide * math.exp(rate - 0.4))
        told((turn + 1) / moves)
        if turn % 2 and 1.0 - alone.mean() < copies:
            break
    return draws, ll


def _log_normal(x: Array, centre: Array, root: Array) -> Array:
    """Log density of a normal, up to a constant."""
    scaled = np.linalg.solve(root, (x - centre).T)
    return np.asarray(-0.5 * (scaled**2).sum(0))
