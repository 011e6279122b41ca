"""Fit the growth model to one colony's record, and say what was learnt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.kernel import GARDEN, LEAVES, N_STATE, NURSES
from nestwright.colony.likelihood import DAILY, OFFSET, run_record, smooth
from nestwright.colony.model import Colony
from nestwright.colony.parameters import ERROR_SCALE
from nestwright.colony.problem import STEP, Problem, pose
from nestwright.colony.results import BAND, Band, Estimate, Fit, Point
from nestwright.colony.sampler import Sample, extend, sample
from nestwright.data import SpeciesCard
from nestwright.intervals import EIGHT_IN_TEN

Array = NDArray[np.float64]

__all__ = ["STRANGE", "Ends", "Posterior", "fit", "fit_more", "report"]

PARTICLES, FEWEST = 2000, 500
LONG = 240
"""Days from which a record is fitted with fewer draws, so that its time grows no more until they are the fewest: a
likelihood costs as much as the record is long. 500 draws place the ends of a band of 80 % within 2 % of probability."""
MOVES = 6
SHOWN = 400
"""Draws that histories and forecasts are made from."""


@dataclass(frozen=True)
class Posterior:
    """A problem and the sample of its posterior."""

    problem: Problem
    sample: Sample


@dataclass(frozen=True)
class Ends:
    """Draws of the last morning of a record: parameter vectors (n, N_PARAMETERS), states (n, N_STATE) with the
    wander of garden and workers put in, usable room mL (n,), queen (n,)."""

    vectors: Array
    states: Array
    rooms: Array
    queens: Array


def fit(
    colony: Colony,
    card: SpeciesCard | None = None,
    *,
    particles: int | None = None,
    moves: int = MOVES,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> Posterior:
    """Posterior of a colony's record; the prior itself when the record is empty.

    `particles`: draws, by default `particles_for` the length of the record. Raises InputError for a species without a
    card.
    """
    problem = pose(colony, card)
    particles = particles or particles_for(problem.days)
    drawn = sample(
        problem.log_likelihoods, len(problem.free), particles=particles, moves=moves, seed=seed, progress=progress
    )
    return Posterior(problem, drawn)


def particles_for(days: int, most: int = PARTICLES) -> int:
    """Draws for a record of so many days: the most, fewer for a long one."""
    return max(FEWEST, min(most, most * LONG // max(days, 1)))


def fit_more(before: Posterior, colony: Colony, *, seed: int = 1) -> Posterior:
    """The posterior of the same colony with more in its record, from the one before.

    What was there at the start must be the same. Where the free values differ (say a climate record came to it), the
    whole record is fitted anew.
    """
    problem = pose(colony, before.problem.card)
    if problem.free != before.problem.free:
        return fit(colony, before.problem.card, particles=len(before.sample.draws), seed=seed)
    drawn = extend(problem.log_likelihoods, before.problem.log_likelihoods, before.sample, seed=seed)
    return Posterior(problem, drawn)


def some(posterior: Posterior, n: int = SHOWN) -> Array:
    """Up to n draws, evenly from the sample."""
    draws = posterior.sample.draws
    return draws[np.linspace(0, len(draws) - 1, min(n, len(draws))).astype(int)]


def runs(posterior: Posterior, seed: int = 2) -> tuple[Ends, Array, Array, Array]:
    """Run the record at some draws: the ends, history (n, days + 1, 2) of garden mL and workers with their wander,
    what was expected of each observation (n, observations) on the scale of the likelihood, and its variance."""
    problem = posterior.problem
    vectors = problem.vectors(some(posterior))
    n, days, seen = len(vectors), problem.days, len(problem.record[0])
    rng = np.random.default_rng(seed)
    states, rooms, queens = np.empty((n, N_STATE)), np.empty(n), np.empty(n)
    history, expected, spread = np.empty((n, days + 1, 2)), np.empty((n, seen)), np.empty((n, seen))
    state, filtered, daily = np.empty(N_STATE + 2), np.empty(4), np.empty((days + 1, DAILY))
    told, wanders = np.empty((seen, 2)), np.empty((days + 1, 2))
    for i, p in enumerate(vectors):
        rest = (problem.climate, problem.room, problem.events, problem.record, STEP)
        run_record(p, days, *rest, state, filtered, daily, told)
        smooth(daily, p[ERROR_SCALE], problem.record, rng.standard_normal((2, days + 1)), wanders)
        history[i] = daily[:, :2] * np.exp(wanders)
        expected[i], spread[i] = told[:, 0], told[:, 1]
        states[i], rooms[i], queens[i] = shifted(state[:N_STATE], wanders[-1]), state[N_STATE], state[N_STATE + 1]
        # eggs come one by one and each lives or dies by itself, so that a stage holds a Poisson number
        states[i, :NURSES] = rng.poisson(np.maximum(states[i, :NURSES], 0.0))
    return Ends(vectors, states, rooms, queens), history, expected, spread


def shifted(state: Array, wander: Array) -> Array:
    """A state with the wander of its garden and of its workers put into it."""
    out = state.copy()
    out[GARDEN:LEAVES] *= np.exp(wander[0])
    out[NURSES:GARDEN] *= np.exp(wander[1])
    return out


def report(posterior: Posterior) -> tuple[Fit, Ends]:
    """What a posterior says, and the draws of the last morning that a forecast starts from."""
    problem, drawn = posterior.problem, posterior.sample
    ends, history, expected, spread = runs(posterior)
    points = points_of(problem, expected, spread)
    learnt = tuple(estimates(problem, drawn.draws))
    inside = [p.expected_low <= p.value <= p.expected_high for p in points if p.surprise is not None]
    colony = problem.colony
    made = Fit(
        colony=colony.name,
        species=colony.species,
        start=colony.start,
        days=problem.days,
        names=tuple(f.name for f in problem.free),
        draws=drawn.draws,
        log_evidence=drawn.log_evidence,
        log_evidence_error=drawn.error,
        estimates=learnt,
        points=points,
        history={
            "garden": band("garden", "mL", np.arange(problem.days + 1.0), history[:, :, 0]),
            "workers": band("workers", "1", np.arange(problem.days + 1.0), history[:, :, 1]),
        },
        inside=float(np.mean(inside)) if inside else None,
        judgements=judgements(problem, drawn.draws),
        notes=(*beyond_chance(learnt), *problem.notes),
    )
    return made, ends


STRANGE = {
    "noise": "the garden rose or fell by more than chance explains",
    "error_scale": "the readings disagree by more than their errors",
}


def beyond_chance(learnt: tuple[Estimate, ...]) -> tuple[str, ...]:
    """A note for each measure of chance that the record drives past all that was held possible before."""
    found = [STRANGE[e.name] for e in learnt if e.name in STRANGE and e.low > e.prior[2]]
    why = "something happened that is not in the record, or a value is wrong"
    return tuple(
        f"{words}: {why}; do not trust the bands ahead until it is found (`nestwright diagnose`)" for words in found
    )


def band(name: str, unit: str, day: Array, paths: Array) -> Band:
    """The quantiles of paths (n, days)."""
    low, middle, high = np.quantile(paths, BAND, axis=0)
    return Band(name, unit, day, low, middle, high)


def estimates(problem: Problem, draws: Array) -> list[Estimate]:
    """Prior and posterior of each free value."""
    out = []
    ends = np.array([-EIGHT_IN_TEN, 0.0, EIGHT_IN_TEN])
    for j, f in enumerate(problem.free):
        low, middle, high = np.quantile(f.value(draws[:, j]), BAND)
        prior = tuple(float(x) for x in f.value(ends))
        learnt = max(0.0, 1.0 - float(draws[:, j].std()))
        out.append(Estimate(f.name, f.unit, prior, low, middle, high, f.mark, f.source, learnt))  # type: ignore[arg-type]
    return out


LEARNT = 0.25
"""A value whose spread the record narrowed by less than this rests on its prior."""


def judgements(problem: Problem, draws: Array) -> tuple[str, ...]:
    """Free values of the card that are judgement and of which the record told little."""
    return tuple(
        f.name for j, f in enumerate(problem.free) if f.mark == "judgement" and 1.0 - float(draws[:, j].std()) < LEARNT
    )


def points_of(problem: Problem, expected: Array, spread: Array) -> tuple[Point, ...]:
    """Each observation beside the mixture of what the draws expected of it."""
    seen = sorted((o for o in problem.colony.observations if 0 <= o.day <= problem.days), key=lambda o: o.day)
    rng = np.random.default_rng(3)
    out = []
    for i, o in enumerate(seen):
        kind, error = problem.record[1][i], problem.record[3][i]
        if 2 <= kind <= 4:
            chance = float(expected[:, i].mean())
            out.append(Point(o.day, o.kind, o.how, o.value, o.value, o.value, chance, chance, chance, None, o.line))
            continue
        offset = OFFSET[kind]
        made = expected[:, i] + np.sqrt(spread[:, i]) * rng.standard_normal(len(expected))
        low, middle, high = np.maximum(np.exp(np.quantile(made, BAND)) - offset, 0.0)
        off = float((problem.record[2][i] - made.mean()) / made.std())
        reach = EIGHT_IN_TEN * error
        least, most = (max(0.0, (o.value + offset) * float(np.exp(s * reach)) - offset) for s in (-1, 1))
        out.append(Point(o.day, o.kind, o.how, o.value, least, most, low, middle, high, off, o.line))
    return tuple(out)
