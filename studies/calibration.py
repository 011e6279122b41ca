"""Simulation-based calibration of the fit (Talts et al. 2018, arXiv:1804.06788).

python studies/calibration.py [--n 200] [--particles 500] [--moves 6] [--finer 100]

Free values are drawn from the prior, a record is made from the very model of the likelihood (skeleton, daily wander of
garden and workers, log-normal errors, seen or not), and fitted. If the fit is right the rank of each true value among
the draws is uniform. Beside the free values: the log-likelihood (a quantity that sees the data: Modrak et al. 2023,
doi:10.1214/23-BA1404), and garden and workers half way and at the end, which test the smoothed history. Each colony's
ranks are kept in out/studies: a stopped run goes on. Writes docs/how-it-computes/calibration.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from made_records import colony, paragraph, run_all, versions
from scipy.stats import binom, chi2

from nestwright.colony.fit import MOVES, PARTICLES, Posterior, runs
from nestwright.colony.kernel import EGGS, LARVAE, N_STATE, PUPAE, brood_of, run_days, start_state
from nestwright.colony.likelihood import DAILY, KINDS, OFFSET, run_record, seen_chance
from nestwright.colony.parameters import ERROR_SCALE
from nestwright.colony.problem import STEP, Problem, pose
from nestwright.colony.sampler import sample

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "how-it-computes" / "calibration.md"
DRAWS = 99
"""Draws that a rank is taken among, of all particles: few, so that they are near independent."""
BINS = 10


def with_record(problem: Problem, z: np.ndarray, rng: np.random.Generator) -> tuple[Problem, dict[str, float]]:
    """The problem with a record made at free values z, and what was true beside z."""
    p, days = problem.vectors(z[None])[0], problem.days
    daily = np.empty((days + 1, DAILY))
    state, filtered = np.empty(N_STATE + 2), np.empty(4)
    run_record(
        p, days, problem.climate, problem.room, problem.events, empty(), STEP, state, filtered, daily, np.empty((0, 2))
    )
    mornings, y = np.empty((days + 1, N_STATE)), np.empty(N_STATE)
    start_state(p, y)
    run_days(p, y, 0, days, problem.climate, problem.room, *problem.events, STEP, mornings)
    wander = np.zeros((days + 1, 2))
    wander[1:] = np.cumsum(np.sqrt(daily[:-1, 2:4]) * rng.standard_normal((days, 2)), axis=0)
    seen = problem.colony.observations
    kinds = np.array([KINDS[o.kind] for o in seen], dtype=np.int64)
    made = np.empty(len(seen))
    for i, (o, kind) in enumerate(zip(seen, kinds, strict=True)):
        t = int(o.day)
        if 2 <= kind <= 4:
            count = brood_of(mornings[t], (EGGS, LARVAE, PUPAE)[kind - 2])
            made[i] = float(rng.random() < seen_chance(p, count))
            continue
        if kind < 2:
            value = daily[t, kind]
        else:
            value = daily[t, kind - 1] - daily[int(o.since), kind - 1]
        error = o.error * p[ERROR_SCALE] * rng.standard_normal()
        made[i] = np.log(max(value, 0.0) + OFFSET[kind]) + wander[t, int(kind == 1)] + error
    columns = (
        np.array([o.day for o in seen]),
        kinds,
        made,
        np.array([o.error for o in seen]),
        np.array([o.since for o in seen]),
    )
    truth = {
        f"{name} {when}": float(daily[t, c] * np.exp(wander[t, c]))
        for when, t in (("half way", days // 2), ("at the end", days))
        for c, name in enumerate(("garden", "workers"))
    }
    return replace(problem, record=columns), truth


def empty() -> tuple[np.ndarray, ...]:
    return (np.zeros(0), np.zeros(0, np.int64), np.zeros(0), np.zeros(0), np.zeros(0))


def one(seed: int, particles: int, moves: int) -> dict[str, Any]:
    """Ranks of one colony's true values, by name, among DRAWS draws."""
    rng = np.random.default_rng([40, seed])
    posed = pose(colony(rng))
    z = rng.standard_normal(len(posed.free))
    problem, truth = with_record(posed, z, rng)
    drawn = sample(problem.log_likelihoods, len(z), particles=particles, moves=moves, seed=seed)
    some = rng.permutation(particles)[:DRAWS]
    thin = replace(drawn, draws=drawn.draws[some], log_likelihood=drawn.log_likelihood[some])
    ranks = {f.name: int((thin.draws[:, j] < z[j]).sum()) for j, f in enumerate(problem.free)}
    ranks["log-likelihood"] = int((thin.log_likelihood < problem.log_likelihoods(z[None])[0]).sum())
    _, history, _, _ = runs(Posterior(problem, thin), seed=seed)
    for when, t in (("half way", problem.days // 2), ("at the end", problem.days)):
        for c, name in enumerate(("garden", "workers")):
            ranks[f"{name} {when}"] = int((history[:, t, c] < truth[f"{name} {when}"]).sum())
    apart = len(np.unique(drawn.draws[:, 0])) / particles
    return {"ranks": ranks, "observations": len(problem.record[0]), "days": problem.days, "distinct": apart}


def envelope(n: int, share: float = 0.95, trials: int = 4000) -> tuple[np.ndarray, np.ndarray]:
    """Lower and upper counts of ranks <= k, k = 0 to DRAWS, between which n uniform ranks stay everywhere with this
    chance (Saeilynoja, Buerkner & Vehtari 2022, doi:10.1007/s11222-022-10090-6, by simulation)."""
    rng = np.random.default_rng(3)
    chance = (np.arange(DRAWS + 1) + 1) / (DRAWS + 1)
    ranks = rng.integers(0, DRAWS + 1, (trials, n))
    counts = np.stack([(ranks <= k).sum(axis=1) for k in range(DRAWS + 1)], axis=1)
    tail = np.minimum(binom.cdf(counts, n, chance), binom.sf(counts - 1, n, chance))[:, :-1].min(axis=1)
    level = np.quantile(tail, 1 - share)
    return binom.ppf(level, n, chance), binom.isf(level, n, chance)


PAIRED = ("log-likelihood", "error_scale", "brood_survival")
"""Values whose ranks lean in the study; the same colonies fitted with more particles tell chance from the sampler."""


def finer_text(made: list[dict[str, Any]], finer: list[dict[str, Any]], particles: int, moves: int) -> str:
    """Mean ranks of the same colonies under both settings, with the standard error of the difference."""
    parts = []
    for name in PAIRED:
        a, b = (np.array([r["ranks"][name] for r in rs]) / DRAWS for rs in (made[: len(finer)], finer))
        error = (b - a).std(ddof=1) / np.sqrt(len(a))
        parts.append(f"{name} {a.mean():.2f} and {b.mean():.2f} (difference {(b - a).mean():+.3f} +- {error:.3f})")
    return paragraph(
        f"The first {len(finer)} colonies fitted again with {particles} particles and {moves} moves, as the",
        "program does;",
        f"mean ranks before and then: {', '.join(parts)}.",
    )


def write(made: list[dict[str, Any]], finer: list[dict[str, Any]], given: argparse.Namespace) -> None:
    particles, moves = given.particles, given.moves
    names = sorted({k for r in made for k in r["ranks"]}, key=lambda k: (-sum(k in r["ranks"] for r in made), k))
    seen = [r["observations"] for r in made]
    lines = [
        "# Calibration of the fit",
        "",
        paragraph(
            f"Made by `studies/calibration.py`: {len(made)} invented colonies of all species,",
            f"{min(r['days'] for r in made)} to {max(r['days'] for r in made)} days, {min(seen)} to {max(seen)}",
            "observations",
            f"(median {np.median(seen):.0f}), about weekly with gaps of up to 30 days, bells changed, gardens",
            "lost in part;",
            "three in ten with a climate record, one in five with a queen of whom nothing is known. True values",
            "are drawn",
            "from the prior, the record from the model of the likelihood. Fit with",
            f"{particles} particles and {moves} moves; rank of the truth among {DRAWS} of its draws in {BINS}",
            "bins of equal",
            "chance. `p` is that of the chi-square test of equal bins; `inside` says whether the whole empirical",
            "distribution",
            "stays in its 95 % envelope.",
            versions(made),
        ),
        "",
        "| value | n | ranks in ten bins | mean rank (0.5) | p | inside |",
        "|---|---|---|---|---|---|",
    ]
    ps, out = [], 0
    bands: dict[int, Any] = {}
    for name in names:
        ranks = np.array([r["ranks"][name] for r in made if name in r["ranks"]])
        n = len(ranks)
        count = np.bincount(ranks * BINS // (DRAWS + 1), minlength=BINS)
        p = float(chi2.sf(((count - n / BINS) ** 2 / (n / BINS)).sum(), BINS - 1))
        if n not in bands:
            bands[n] = envelope(n)
        low, high = bands[n]
        total = np.array([(ranks <= k).sum() for k in range(DRAWS + 1)])
        inside = bool(((total >= low) & (total <= high)).all())
        ps.append(p)
        out += not inside
        mean = float(ranks.mean() / DRAWS)
        lines.append(
            f"| {name} | {n} | {' '.join(str(c) for c in count)} | {mean:.2f} | {p:.2f} | {'yes' if inside else 'no'} |"
        )
    lines += [
        "",
        paragraph(
            f"{out} of {len(names)} leave their envelope, where one in twenty would by chance; the smallest p is",
            f"{min(ps):.3f}, {1 - (1 - min(ps)) ** len(ps):.2f} once the {len(ps)} tests are counted.",
        ),
    ]
    if finer:
        lines += ["", finer_text(made, finer, PARTICLES, MOVES)]
    PAGE.write_text("\n".join(lines) + "\n", "utf-8")
    print("\n".join(lines))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=200)
    parser.add_argument("--particles", type=int, default=500)
    parser.add_argument("--moves", type=int, default=6)
    parser.add_argument("--finer", type=int, default=100, help="colonies to fit again as the program does")
    parser.add_argument("--cluster", help="a dask cluster to work on, tcp://HOST:PORT")
    given = parser.parse_args()

    def results(n: int, particles: int, moves: int) -> list[dict[str, Any]]:
        path = ROOT / "out" / "studies" / f"calibration-{particles}-{moves}.jsonl"
        return run_all(path, n, lambda seed: one(seed, particles, moves), given.cluster)

    write(results(given.n, given.particles, given.moves), results(given.finer, PARTICLES, MOVES), given)


if __name__ == "__main__":
    main()
