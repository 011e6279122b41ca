"""Searches for the largest worst margin over one to four shares between 0 and 1, the same for the same seed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.size_free import Free

Array = NDArray[np.float64]


class Score(Protocol):
    """Worst scaled margin of a choice, given as SI values; `ahead` is told which choices will be asked for next."""

    def __call__(self, values: Sequence[float]) -> float: ...

    def ahead(self, choices: Sequence[Sequence[float]]) -> None: ...


SCAN = 25
FEW = 60
"""Whole numbers up to which all of them are tried."""


def search(free: Sequence[Free], score: Score, seed: int, start: Sequence[float] | None) -> None:
    """Drive `score` towards its largest value; it remembers by itself what it saw.

    One value: a scan, then Brent's bounded search (scipy) round the best, or ever finer scans for whole numbers. More:
    differential evolution (Storn & Price 1997, doi:10.1023/A:1008202821328), a Nelder-Mead polish with the whole
    numbers held, and their neighbours.
    """
    if len(free) == 1:
        (_whole if free[0].whole else _line)(free[0], score, start)
    else:
        _several(free, score, seed, start)


def _whole(one: Free, score: Score, start: Sequence[float] | None) -> None:
    low, high = round(one.low), round(one.high)
    tried: dict[int, float] = {}
    while True:
        if high - low < FEW:
            numbers = list(range(low, high + 1))
        else:
            ends = (one.share(low), one.share(high))
            numbers = sorted({round(one.at(s)) for s in np.linspace(*ends, SCAN)} | {low, high})
        score.ahead([[float(n)] for n in numbers if n not in tried])
        for n in numbers:
            if n not in tried:
                tried[n] = score([float(n)])
        if high - low < FEW:
            return
        best = max(numbers, key=lambda n: tried[n])
        k = numbers.index(best)
        low, high = numbers[max(0, k - 1)], numbers[min(len(numbers) - 1, k + 1)]


def _line(one: Free, score: Score, start: Sequence[float] | None) -> None:
    from scipy.optimize import minimize_scalar

    shares = np.linspace(0, 1, SCAN)
    if start is not None:
        shares = np.unique(np.append(shares, one.share(start[0])))
    score.ahead([[one.at(float(s))] for s in shares])
    found = [score([one.at(float(s))]) for s in shares]
    k = int(np.argmax(found))
    ends = (float(shares[max(0, k - 1)]), float(shares[min(len(shares) - 1, k + 1)]))
    minimize_scalar(
        lambda s: -score([one.at(float(s))]), bounds=ends, method="bounded", options={"xatol": 1e-4, "maxiter": 40}
    )


def _several(free: Sequence[Free], score: Score, seed: int, start: Sequence[float] | None) -> None:
    from scipy.optimize import differential_evolution

    best: list[tuple[float, Array]] = []

    def values(shares: Array) -> list[float]:
        return [f.at(float(s)) for f, s in zip(free, shares, strict=True)]

    def generation(task: Callable[[Array], float], choices: Iterable[Array]) -> list[float]:
        every = [np.array(one) for one in choices]
        score.ahead([values(one) for one in every])
        return [task(one) for one in every]

    def cost(shares: Array) -> float:
        got = score(values(shares))
        if not best or got > best[0][0]:
            best[:] = [(got, np.array(shares))]
        return -got

    n = len(free)
    first = None if start is None else np.clip([f.share(v) for f, v in zip(free, start, strict=True)], 0, 1)
    differential_evolution(
        cost,
        [(0.0, 1.0)] * n,
        popsize=9 if n > 2 else 16,
        maxiter=10 + 3 * n,
        tol=1e-3,
        rng=np.random.default_rng(seed),
        polish=False,
        init="latinhypercube",
        x0=first,
        # a generation is a set of pieces that know nothing of each other
        updating="deferred",
        workers=generation,
    )
    for _ in range(3):
        before = best[0][0]
        polish(free, cost, best[0][1], 40 * n)
        _neighbours(free, cost, best)
        if best[0][0] - before < 1e-3:
            break


def polish(free: Sequence[Free], cost: Callable[[Array], float], at: Array, most: int) -> None:
    """Nelder-Mead over the values that are not whole numbers, from a point of shares."""
    from scipy.optimize import minimize

    smooth = [k for k, f in enumerate(free) if not f.whole]
    if not smooth:
        return
    base = np.array(at)

    def part(x: Array) -> float:
        moved = base.copy()
        moved[smooth] = np.clip(x, 0, 1)
        return cost(moved)

    corner = base[smooth]
    step = np.where(corner > 0.9, -0.05, 0.05)
    simplex = np.vstack([corner, *(corner + step * row for row in np.eye(len(smooth)))])
    minimize(
        part, corner, method="Nelder-Mead", bounds=[(0, 1)] * len(smooth),
        options={"initial_simplex": simplex, "maxfev": most, "xatol": 1e-4, "fatol": 1e-4},
    )  # fmt: skip


def _neighbours(free: Sequence[Free], cost: Callable[[Array], float], best: list[tuple[float, Array]]) -> None:
    """Step each whole number up and down as long as that helps."""
    for _ in range(20):
        before, here = best[0][0], best[0][1]
        for k, f in enumerate(free):
            if not f.whole:
                continue
            number = f.at(float(here[k]))
            for other in (number - 1, number + 1):
                if f.low <= other <= f.high:
                    moved = here.copy()
                    moved[k] = f.share(other)
                    cost(moved)
        if best[0][0] <= before:
            return
