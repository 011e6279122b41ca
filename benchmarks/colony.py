"""The growth model: likelihood against LSODA, fit, added observation, forecast, stochastic paths.

python benchmarks/colony.py

The baseline writes the same rates in NumPy (numpy_colony.py) and runs them through scipy's solve_ivp with LSODA, at the
loosest of its tolerances that comes as near as the kernel to a run at 1e-11. Events start it anew.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numba as nb
import numpy as np
from scipy.integrate import solve_ivp

from nestwright.colony.file import read_colony
from nestwright.colony.fit import Posterior, fit, fit_more, report
from nestwright.colony.forecast import forecast
from nestwright.colony.kernel import N_STATE, happen, run_days, start_state
from nestwright.colony.likelihood import log_likelihood
from nestwright.colony.model import Observation
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.problem import STEP, Problem, pose
from numpy_colony import day_of, numpy_rates

Array = np.ndarray
RECORD = Path(__file__).parent / "record-120.toml"


def clock(task: Callable[[], Any], repeat: int = 5) -> float:
    """Least seconds of a task that has been run once before: others share the machine."""
    task()
    times = []
    for _ in range(repeat):
        began = time.perf_counter()
        task()
        times.append(time.perf_counter() - began)
    return min(times)


def with_kernel(problem: Problem, p: Array) -> Array:
    out, y = np.empty((problem.days + 1, N_STATE)), np.empty(N_STATE)
    start_state(p, y)
    run_days(p, y, 0, problem.days, problem.climate, problem.room, *problem.events, STEP, out)
    return out


def with_lsoda(problem: Problem, p: Array, rtol: float) -> Array:
    """The states of each morning; LSODA starts anew at each event only, since this record's climate is constant."""
    y = np.empty(N_STATE)
    start_state(p, y)
    hold = np.array([problem.room, 1.0])
    out = np.empty((problem.days + 1, N_STATE))
    days, kinds, values = problem.events
    edges = [0, *sorted({int(d) for d in days if 0 < d < problem.days}), problem.days]
    for a, b in pairwise(edges):
        for d, kind, value in zip(days, kinds, values, strict=True):
            if int(d) == a:
                happen(y, p, kind, value, hold)
        rates = numpy_rates(p, day_of(p, problem.climate[0], hold[0], hold[1]))
        found = solve_ivp(rates, (a, b), y, "LSODA", t_eval=np.arange(a, b + 1.0), rtol=rtol, atol=rtol * 1e-3)
        if not found.success:
            raise RuntimeError(found.message)
        out[a if a == 0 else a + 1 : b + 1] = found.y.T[0 if a == 0 else 1 :]
        y = found.y[:, -1].copy()
    return out


def seen(states: Array) -> Array:
    """Garden and workers of each morning."""
    return np.column_stack([states[:, 31:38].sum(axis=1), states[:, 24:31].sum(axis=1)])


def likelihood(problem: Problem) -> None:
    mapping, rest = problem.mapping, (problem.days, problem.climate, problem.room, problem.events, problem.record, STEP)

    def compiled(zs: Array) -> None:
        for z in zs:
            log_likelihood(z, problem.base, *mapping, *rest)

    middle, draws = (
        np.zeros((100, len(problem.free))),
        np.random.default_rng(1).standard_normal((1000, len(problem.free))),
    )
    one, each = clock(lambda: compiled(middle)) / len(middle), clock(lambda: compiled(draws)) / len(draws)
    p = problem.vectors(middle[:1])[0]
    truth = seen(with_lsoda(problem, p, 1e-11))

    def off(states: Array) -> float:
        return float(np.abs(seen(states) / truth - 1).max())

    mine = off(with_kernel(problem, p))
    for rtol in (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 3e-7):
        found = off(with_lsoda(problem, p, rtol))
        if found <= 1.2 * mine:
            break
    base = clock(lambda: with_lsoda(problem, p, rtol), 3)
    print(
        f"likelihood of {problem.days} days, {len(problem.record[0])} observations, one core: {1e3 * one:.3f} ms "
        f"in the "
        f"middle of the prior, {1e3 * each:.3f} ms over its draws; error {mine:.1e}"
    )
    print(
        f"LSODA on NumPy rates, rtol {rtol:g}, its run alone: {1e3 * base:.1f} ms, error {found:.1e}; "
        f"{base / one:.0f} x"
    )


def calls(task: Callable[[], Any]) -> int:
    """How many likelihoods a task computes."""
    total = 0
    real = Problem.log_likelihoods

    def counted(self: Problem, zs: Array) -> Array:
        nonlocal total
        total += len(zs)
        return real(self, zs)

    Problem.log_likelihoods = counted  # type: ignore[method-assign]
    try:
        task()
    finally:
        Problem.log_likelihoods = real  # type: ignore[method-assign]
    return total


def both(task: Callable[[], Any]) -> tuple[float, float]:
    """Seconds by the clock and by the processor, all threads together: on a busy machine only the latter holds."""
    began, spent = time.perf_counter(), time.process_time()
    task()
    return time.perf_counter() - began, time.process_time() - spent


def fits(problem: Problem) -> Posterior:
    colony = problem.colony
    posterior = fit(colony, particles=50)
    forecast(posterior, 2)
    fit_more(posterior, colony)
    posterior = fit(colony)
    more = Observation(colony.days + 7.0, "garden", 255.0, 0.15)
    longer = replace(colony, observations=(*colony.observations, more), days=colony.days + 7)
    for name, task in (
        ("fit", lambda: fit(colony)),
        ("forecast of 90 days", lambda: forecast(posterior, 90)),
        ("added observation", lambda: fit_more(posterior, longer)),
    ):
        clock_s, processor_s = both(task)
        print(
            f"{name}: {clock_s:.2f} s on {nb.get_num_threads()} threads, {processor_s:.2f} s of processor, "
            f"{calls(task)} likelihoods"
        )
    return posterior


def paths(posterior: Posterior) -> None:
    _, ends = report(posterior)
    n = len(ends.vectors)
    out = np.empty((n, 366, len(TABLE)))
    none = (np.zeros(0), np.zeros(0, np.int64), np.zeros(0))
    first = posterior.problem.days
    args = (first, first + 365, posterior.problem.climate, np.zeros(n), ends.queens, none, 1, out)
    seconds = clock(lambda: run_paths(ends.vectors, ends.states.copy(), *args), 3)
    print(f"stochastic paths of a year: {n / seconds:.0f} per second")


if __name__ == "__main__":
    made = pose(read_colony(RECORD))
    likelihood(made)
    paths(fits(made))
