"""Fits of a dry run: for each explanation the best factors, how sure they are, and how well the readings bear it out.

An explanation says which parts are wrong; those have the wide prior of a fault, all others that of their tolerance.
Each is fitted by least squares on whitened residuals with its prior (the most probable factors), and weighed by
Laplace's approximation of its evidence: Kass & Raftery 1995, doi:10.1080/01621459.1995.10476572.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_noise import Noise, first_noise, noise_of
from nestwright.climate.dry_run_parts import Part
from nestwright.climate.dry_run_problem import Problem
from nestwright.climate.dry_run_squares import Effects, Squares, descend, effects_of
from nestwright.climate.dry_run_values import dry_run_values

Array = NDArray[np.float64]

__all__ = ["Fit", "Fits", "fit_all", "fit_one"]

WORTH_A_FIT = 2e-3
"""Explanations by two parts are fitted when their chance, as the fit by one part foretells it, is above this."""
STUCK, STUCK_LEAK = 0.5, 8.0
"""A fit whose squares are so far above those of one it contains has stuck; a leak that is not there costs its prior."""
UNLIKELY = 3e-3
"""Explanations below this share of the best are not fitted to the end."""


@dataclass(frozen=True)
class Fit:
    """One explanation fitted.

    `wrong` are the parts that it frees. `names` are the parts with a factor, `log_factor` their ln(factor) as told (of
    blocks and walls with the film over them), shape (parts,), with `covariance` (parts, parts) and `prior` standard
    deviations; `moles` the tracer let in; `misfit` the whitened squares of the readings, `squares` with those of the
    priors; `evidence` ln of the evidence but for a constant that all explanations share; `rest` the residuals of each
    channel on the even scale; `lasting` the predictions there, sensors' errors included.
    """

    wrong: tuple[str, ...]
    names: tuple[str, ...]
    log_factor: Array
    covariance: Array
    prior: Array
    moles: Array
    misfit: float
    squares: float
    evidence: float
    rest: tuple[Array, ...]
    lasting: tuple[Array, ...]
    spread: Array = field(repr=False, default_factory=lambda: np.zeros(0))
    """Prior standard deviations of the parts' own ln(factor), without the films over them."""
    alone: Array = field(repr=False, default_factory=lambda: np.zeros(0))
    """Variances of the parts' own ln(factor)."""
    raw: dict[str, list[Array]] = field(repr=False, default_factory=dict)
    logs: dict[str, float] = field(repr=False, default_factory=dict)
    settled: Array = field(repr=False, default_factory=lambda: np.zeros(0))

    def factors(self) -> dict[str, float]:
        return dict(zip(self.names, np.exp(self.log_factor).tolist(), strict=True))


@dataclass(frozen=True)
class Fits:
    """All explanations, likeliest first, with their `chances`; the fit with `every` part free; the channels' errors."""

    explained: tuple[Fit, ...]
    chances: Array
    every: Fit
    noise: tuple[Noise, ...]

    @property
    def as_designed(self) -> Fit:
        return next(f for f in self.explained if not f.wrong)


def fit_one(
    problem: Problem,
    noise: tuple[Noise, ...],
    wrong: tuple[str, ...],
    begin: Fit | None = None,
    *,
    known: dict[str, list[Array]] | None = None,
    effects: Effects = (),
    to_the_end: bool = True,
    progress: Callable[[float], None] | None = None,
) -> Fit:
    """Fit one explanation, from the design (with slopes there if they are `known`) or from another fit.

    Without `to_the_end` the slopes stay as updated on the way. `progress` is told the share of the first slopes.
    """
    squares = Squares(problem, noise, wrong, effects)
    u = np.zeros(squares.size)
    if begin is not None:
        for k, name in enumerate(squares.names):
            u[k] = begin.logs.get(name, 0.0) / squares.spread[k]
        # the model's own effects may be new since then
        u[len(squares.spread) :][: len(begin.settled)] = begin.settled
        known = begin.raw
    raw = squares.raw_slopes(u, known, progress)
    u, slope = descend(squares, u, squares.slopes(u, raw))
    if to_the_end:
        for _ in range(3):
            raw = squares.raw_slopes(u)
            slope = squares.slopes(u, raw)
            moved, _ = descend(squares, u, slope)
            if np.abs(moved - u).max() < 0.3:
                break
            u = moved
    curvature = slope.T @ slope
    covariance: Array = np.linalg.inv(curvature).astype(np.float64)
    logs = squares.logs(u)
    read = squares.read(logs)
    residual = squares.residuals(u)
    count, k = len(residual) - squares.size, len(squares.parts)
    spread, told = squares.spread[:k], squares.told()
    return Fit(
        wrong=wrong,
        names=squares.names[:k],
        log_factor=told @ u,
        covariance=told @ covariance @ told.T,
        prior=np.sqrt(np.square(told).sum(axis=1)),
        spread=spread,
        alone=np.diag(covariance)[:k] * spread**2,
        moles=squares.first * np.exp(logs[k:]),
        misfit=float(residual[:count] @ residual[:count]),
        squares=float(residual @ residual),
        evidence=-0.5 * float(residual @ residual) - 0.5 * float(np.linalg.slogdet(curvature)[1]),
        rest=tuple(squares.rest(u, read)),
        lasting=tuple(squares.with_lasting(u, read)),
        raw=raw,
        logs=dict(zip(squares.names, logs.tolist(), strict=True)),
        settled=u[len(squares.spread) :],
    )


def fit_all(problem: Problem, *, progress: Callable[[float], None] | None = None) -> Fits:
    """Fit every explanation with no, one and (beside the likeliest) two wrong parts, and weigh them.

    The errors of the channels are those that stay with every part free; from then on they are the same for all.
    """
    tell = progress or (lambda share: None)
    names = tuple(p.name for p in problem.parts)
    noise = tuple(first_noise(c.quantity) for c in problem.channels)
    every = fit_one(problem, noise, names, progress=lambda share: tell(0.08 * share))
    tell(0.1)
    effects = effects_of(problem, fit_one(problem, noise, ()).logs)
    for last in (False, True):
        lost = (len(every.logs) + len(every.settled) + len(effects) / 2) / 2 / len(problem.channels)
        noise = tuple(
            noise_of(c.quantity, problem.time[c.rows], rest, lost)
            for c, rest in zip(problem.channels, every.rest, strict=True)
        )
        every = fit_one(problem, noise, names, every, effects=effects, to_the_end=last)
        tell(0.2 if last else 0.15)
    # every explanation starts from the design: from another one's best point it would have to creep along a valley
    base = Squares(problem, noise, (), effects)
    slopes = base.raw_slopes(np.zeros(base.size), progress=lambda share: tell(0.2 + 0.05 * share))
    found = [fit_one(problem, noise, (), known=slopes, effects=effects)]
    for k, name in enumerate(names):
        found.append(_sound(problem, noise, (name,), slopes, effects, found[0]))
        tell(0.25 + 0.15 * (k + 1) / len(names))
    best = max(found[1:], key=lambda f: f.evidence)
    level = float(np.logaddexp.reduce([_prior(f, problem.parts) + f.evidence for f in found]))
    for k, part in enumerate(problem.parts):
        name = part.name
        pair = _prior_of(2, len(names)) + best.evidence + widened(best, part)
        if name != best.wrong[0] and pair - level > math.log(WORTH_A_FIT):
            found.append(_sound(problem, noise, (*best.wrong, name), slopes, effects, best))
        tell(0.4 + 0.2 * (k + 1) / len(names))
    weight = _weights(found, problem.parts)
    worth = [k for k, fit in enumerate(found) if fit.wrong and weight[k] > UNLIKELY]
    for done, k in enumerate(worth, 1):
        found[k] = fit_one(problem, noise, found[k].wrong, found[k], effects=effects)
        tell(0.6 + 0.4 * done / len(worth))
    weight = _weights(found, problem.parts)
    chance = weight / weight.sum()
    place = np.argsort(-chance, kind="stable")
    return Fits(tuple(found[k] for k in place), chance[place], every, noise)


def _weights(found: list[Fit], parts: tuple[Part, ...]) -> Array:
    weight = np.array([_prior(f, parts) + f.evidence for f in found])
    return np.asarray(np.exp(weight - weight.max()))


def _sound(
    problem: Problem,
    noise: tuple[Noise, ...],
    wrong: tuple[str, ...],
    known: dict[str, list[Array]],
    effects: Effects,
    inner: Fit,
) -> Fit:
    """A fit that is no worse than that of an explanation it contains: one that is has stuck, and begins anew there."""
    fit = fit_one(problem, noise, wrong, known=known, effects=effects, to_the_end=False)
    slack = STUCK if set(wrong) <= set(inner.names) else STUCK_LEAK
    if fit.squares > inner.squares + slack:
        other = fit_one(problem, noise, wrong, inner, effects=effects)
        fit = min(fit, other, key=lambda f: f.squares)
    return fit


def widened(fit: Fit, part: Part) -> float:
    """Change of ln(evidence) when one more part gets the prior of a fault, as if the fit were linear; 0 for a leak."""
    if part.name not in fit.names:
        return 0.0
    k = fit.names.index(part.name)
    old, new = float(fit.spread[k]), part.fault
    freed = new**-2 - old**-2
    left = max(1 + freed * float(fit.alone[k]), 1e-6)
    return math.log(old / new) - 0.5 * math.log(left) - 0.5 * freed * fit.logs[part.name] ** 2 / left


def _prior(fit: Fit, parts: tuple[Part, ...]) -> float:
    """ln of the chance of an explanation before the test: parts are alike in it."""
    return _prior_of(len(fit.wrong), len(parts))


def _prior_of(wrong: int, parts: int) -> float:
    v = dry_run_values()
    none, two = v["chance_as_designed"].value, v["chance_two_faults"].value
    if wrong == 0:
        return math.log(none)
    if wrong == 1:
        return math.log((1 - none - two) / parts)
    return math.log(two / (parts * (parts - 1) / 2))
