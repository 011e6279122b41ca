"""Residuals of one explanation of a dry run and their slopes, and the descent to its most probable factors.

Unknowns are standardised: parts (ln factor over its prior's standard deviation), tracer let in, lasting errors of the
sensors, and the model's own uncertain values, whose effect on the readings is taken as linear. A run of the air network
is what costs time, so slopes are found once and then kept true by Broyden's rank-one updates (Broyden 1965,
doi:10.1090/S0025-5718-1965-0198670-6) within damped Gauss-Newton steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_noise import Noise, even, least, nuisances, whitened
from nestwright.climate.dry_run_parts import own_rates
from nestwright.climate.dry_run_problem import Problem
from nestwright.climate.proof import NotSettled
from nestwright.habitat.assemble import uncertain_values

Array = NDArray[np.float64]


class Effect(NamedTuple):
    """What one standard deviation of an uncertain value of the model does: `shift` of each channel on the even scale,
    and `own`, the change of ln(rate) of blocks and walls, by part, which is told with the part's factor."""

    shift: tuple[Array, ...]
    own: dict[str, float]


Effects = tuple[Effect, ...]

__all__ = ["Effect", "Effects", "Squares", "descend", "effects_of"]

STEP = 0.05
"""Step of ln(factor) for the slopes: well above the solver's own error."""
DOSE_SPREAD = 0.5
"""Standard deviation of ln(tracer let in) about the first look."""
FAR = 1e3
CLOSE = 0.02
"""Fall of the squares that a further step must promise."""


class Squares:
    """`wrong` names the parts with the wide prior of a fault; a leak that is not among them is shut."""

    def __init__(
        self, problem: Problem, noise: tuple[Noise, ...], wrong: tuple[str, ...], effects: Effects = ()
    ) -> None:
        self.problem, self.noise, self.effects = problem, noise, effects
        self.parts = tuple(p for p in problem.parts if not p.leak or p.name in wrong)
        self.spread = np.array(
            [p.fault if p.name in wrong else p.tolerance for p in self.parts] + [DOSE_SPREAD] * len(problem.releases)
        )
        """Standard deviation of ln(factor) of each part and of ln(tracer) of each release."""
        self.names = tuple(p.name for p in self.parts) + tuple(f"release {k + 1}" for k in range(len(problem.releases)))
        self.first = np.array([r.moles for r in problem.releases])
        self.lasting_count = sum(2 if c.quantity == "co2" else 1 for c in problem.channels)
        self.size = len(self.spread) + self.lasting_count + len(effects)
        self.measured = [even(c.quantity, c.values) for c in problem.channels]
        self._seen: dict[bytes, list[Array]] = {}

    def logs(self, u: Array) -> Array:
        """ln of the factors, then of the tracer over its first look."""
        return np.asarray(u[: len(self.spread)] * self.spread)

    def told(self) -> Array:
        """From the unknowns to ln(factor) of each part as it is told: of blocks and walls with the film over them."""
        k = len(self.parts)
        out = np.zeros((k, self.size))
        out[:, :k] = np.diag(self.spread[:k])
        for n, effect in enumerate(self.effects):
            out[:, self.size - len(self.effects) + n] = [effect.own.get(p.name, 0.0) for p in self.parts]
        return out

    def read(self, logs: Array) -> list[Array]:
        """What the channels would read, SI. Raises NotSettled."""
        key = logs.tobytes()
        if key not in self._seen:
            count = len(self.parts)
            factors = {p.name: math.exp(x) for p, x in zip(self.parts, logs[:count].tolist(), strict=True)}
            states = self.problem.run(factors, self.first * np.exp(logs[count:]))
            self._seen = {key: self.problem.read(states)}
        return self._seen[key]

    def with_lasting(self, u: Array, read: list[Array]) -> list[Array]:
        """Predictions on the even scale with the sensors' lasting errors and the model's own in them."""
        at, out = len(self.spread), []
        for c, values in zip(self.problem.channels, read, strict=True):
            shapes = nuisances(c.quantity, values)
            out.append(even(c.quantity, values) + u[at : at + len(shapes)] @ shapes)
            at += len(shapes)
        for weight, effect in zip(u[at:].tolist(), self.effects, strict=True):
            out = [values + weight * shift for values, shift in zip(out, effect.shift, strict=True)]
        return out

    def white(self, columns: list[Array]) -> Array:
        time = self.problem.time
        made = [
            whitened(noise, time[c.rows], column)
            for c, noise, column in zip(self.problem.channels, self.noise, columns, strict=True)
        ]
        return np.concatenate(made, axis=-1)

    def residuals(self, u: Array) -> Array:
        """Whitened residuals of the readings, then the standardised unknowns themselves (their prior)."""
        try:
            read = self.read(self.logs(u))
        except NotSettled:
            return np.full(sum(len(c.rows) for c in self.problem.channels) + self.size, FAR)
        return np.concatenate([self.white(self.rest(u, read)), u])

    def rest(self, u: Array, read: list[Array]) -> list[Array]:
        return [a - b for a, b in zip(self.with_lasting(u, read), self.measured, strict=True)]

    def raw_slopes(
        self, u: Array, known: dict[str, list[Array]] | None = None, progress: Callable[[float], None] | None = None
    ) -> dict[str, list[Array]]:
        """Change of each channel on its even scale per ln(factor), by the name of the part or release."""
        logs = self.logs(u)
        base = [even(c.quantity, v) for c, v in zip(self.problem.channels, self.read(logs), strict=True)]
        found = {}
        for k, name in enumerate(self.names):
            if known is not None and name in known:
                found[name] = known[name]
                continue
            moved = logs.copy()
            moved[k] += STEP
            try:
                there = [even(c.quantity, v) for c, v in zip(self.problem.channels, self.read(moved), strict=True)]
            except NotSettled:
                there = base
            found[name] = [(a - b) / STEP for a, b in zip(there, base, strict=True)]
            if progress is not None:
                progress((k + 1) / len(self.names))
        return found

    def slopes(self, u: Array, raw: dict[str, list[Array]]) -> Array:
        """Slopes of `residuals`, shape (residuals, unknowns)."""
        columns = [
            self.white([s * spread for s in raw[name]]) for name, spread in zip(self.names, self.spread, strict=True)
        ]
        for n, (c, values) in enumerate(zip(self.problem.channels, self.read(self.logs(u)), strict=True)):
            for row in nuisances(c.quantity, values):
                zero = [np.zeros(len(o.rows)) for o in self.problem.channels]
                columns.append(self.white([row if k == n else z for k, z in enumerate(zero)]))
        columns += [self.white(list(effect.shift)) for effect in self.effects]
        return np.concatenate([np.array(columns).T, np.eye(self.size)])


def effects_of(problem: Problem, logs: dict[str, float]) -> Effects:
    """What each uncertain value of data/assembly.toml does to the readings, at given ln(factors).

    A range is taken as two standard deviations to both sides. Values that move no reading by a tenth of its least error
    are left out.
    """
    # a leak that the point does not name is shut
    leaks = tuple(p.name for p in problem.parts if p.leak and p.name in logs)
    squares = Squares(problem, (), leaks)
    point = np.array([logs.get(name, 0.0) for name in squares.names])
    base = [even(c.quantity, v) for c, v in zip(problem.channels, squares.read(point), strict=True)]
    made = []
    for name, value in uncertain_values(problem.assembly.habitat, problem.assembly.card).items():
        if not value.low < value.high:
            continue
        step = (value.high - value.low) / 4
        other = Squares(problem.with_value(name, value.value + step), (), leaks)
        try:
            there = [even(c.quantity, v) for c, v in zip(problem.channels, other.read(point), strict=True)]
        except NotSettled:
            continue
        shift = tuple(a - b for a, b in zip(there, base, strict=True))
        if any(float(np.abs(s).max()) > 0.1 * least(c.quantity) for c, s in zip(problem.channels, shift, strict=True)):
            there_own = own_rates(other.problem.assembly)
            made.append(Effect(shift, {k: math.log(there_own[k] / v) for k, v in own_rates(problem.assembly).items()}))
    return tuple(made)


def descend(squares: Squares, u: Array, slope: Array, most: int = 25) -> tuple[Array, Array]:
    """The unknowns at which the squares are least, near `u`, and the slopes as updated on the way."""
    r = squares.residuals(u)
    damping, data = 1e-3, len(r) - squares.size
    slope = slope.copy()
    for _ in range(most):
        curvature, down = slope.T @ slope, slope.T @ r
        step = -np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), down)
        size = float(np.abs(step[: len(squares.spread)] * squares.spread).max())
        if size > 1.0:
            step /= size
        promised = float(r @ r) - float(np.square(r + slope @ step).sum())
        if promised < CLOSE:
            break
        there = squares.residuals(u + step)
        change = there[:data] - r[:data] - slope[:data] @ step
        if np.isfinite(change).all() and float(there @ there) < 1e2 * float(r @ r) + 1e4:
            slope[:data] += np.outer(change, step) / float(step @ step)
        if float(there @ there) < float(r @ r):
            u, r, damping = u + step, there, max(damping / 5, 1e-6)
        else:
            damping = max(damping * 10, 1e-2)
            if damping > 1e3:
                break
    return u, slope
