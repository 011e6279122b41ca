"""The sampler's posterior of a record of 120 days against two independent samplers run for long.

python studies/reference_sampler.py [--steps 20000] [--walkers 96] [--live 1000] [--n 5] [--particles 2000]

emcee (Foreman-Mackey et al. 2013, PASP 125:306, doi:10.1086/670067) gives the means and spreads; dynesty (Speagle 2020,
MNRAS 493:3132, doi:10.1093/mnras/staa278) the evidence and means and spreads of its own. Each part leaves its result in
out/studies, so that a stopped run goes on where it was. Writes docs/how-it-computes/sampler.md.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

import numpy as np
from made_records import model_digest, paragraph

from nestwright.colony.file import read_colony
from nestwright.colony.fit import fit
from nestwright.colony.problem import Problem, pose

ROOT = Path(__file__).parents[1]
RECORD = ROOT / "benchmarks" / "record-120.toml"
KEPT = ROOT / "out" / "studies"
PAGE = ROOT / "docs" / "how-it-computes" / "sampler.md"
LEAST_LL = -1e290


def kept(name: str, make: Any) -> dict[str, Any]:
    """A part's result from the disk, if the model is still the same, or made now and kept."""
    path = KEPT / f"sampler-{name}-{model_digest()}.json"
    if not path.exists():
        made = make()
        KEPT.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(made), "utf-8")
    return json.loads(path.read_text("utf-8"))


def with_emcee(problem: Problem, walkers: int, steps: int) -> dict[str, Any]:
    import emcee

    d = len(problem.free)

    def log_posterior(z: np.ndarray) -> np.ndarray:
        found = problem.log_likelihoods(z) - 0.5 * (z**2).sum(axis=1)
        return np.where(found > LEAST_LL, found, -np.inf)

    moves = [(emcee.moves.DEMove(), 0.7), (emcee.moves.DESnookerMove(), 0.1), (emcee.moves.StretchMove(), 0.2)]
    sampler = emcee.EnsembleSampler(walkers, d, log_posterior, vectorize=True, moves=moves)
    rng = np.random.default_rng(20)
    sampler.random_state = np.random.RandomState(20).get_state()
    where: Any = rng.standard_normal((walkers, d))
    began = time.time()
    for part in range(20):
        where = sampler.run_mcmc(where, steps // 20)
        tau = sampler.get_autocorr_time(tol=0)
        print(
            f"emcee: {part + 1} of 20 parts, {time.time() - began:.0f} s, correlation {tau.max():.0f} steps", flush=True
        )
    chain = sampler.get_chain(discard=steps // 5, flat=True)
    return {
        "mean": chain.mean(axis=0).tolist(),
        "sd": chain.std(axis=0).tolist(),
        "tau": tau.tolist(),
        "independent": (len(chain) / tau).tolist(),
        "seconds": time.time() - began,
    }


NESTED_SEEDS = (21, 22, 23, 24, 25)
"""Several runs: one run's evidence is off by about as much as it says, in a direction that its first points decide."""


def with_dynesty(problem: Problem, live: int, seed: int) -> dict[str, Any]:
    import dynesty
    from dynesty.utils import resample_equal
    from scipy.special import ndtri

    began = time.time()
    sampler = dynesty.NestedSampler(
        lambda z: float(problem.log_likelihoods(z[None])[0]),
        lambda u: ndtri(np.clip(u, 1e-12, 1 - 1e-12)),
        len(problem.free),
        nlive=live,
        sample="rwalk",
        walks=100,
        rstate=np.random.default_rng(seed),
    )
    sampler.run_nested(dlogz=0.01, print_progress=False)
    got = sampler.results
    weight = np.exp(got.logwt - got.logz[-1])
    draws = resample_equal(got.samples, weight / weight.sum(), rstate=np.random.default_rng(22))
    found = f"evidence {got.logz[-1]:.2f} +- {got.logzerr[-1]:.2f}"
    print(f"dynesty, seed {seed}: {time.time() - began:.0f} s, {found}", flush=True)
    return {
        "mean": draws.mean(axis=0).tolist(),
        "sd": draws.std(axis=0).tolist(),
        "evidence": float(got.logz[-1]),
        "error": float(got.logzerr[-1]),
        "calls": int(got.ncall.sum()),
        "seconds": time.time() - began,
    }


def own(problem: Problem, particles: int, moves: int, seed: int) -> dict[str, Any]:
    began = time.time()
    got = fit(problem.colony, problem.card, particles=particles, moves=moves, seed=seed).sample
    print(
        f"own {particles} x {moves}, seed {seed}: {time.time() - began:.0f} s, evidence {got.log_evidence:.2f}",
        flush=True,
    )
    return {
        "mean": got.draws.mean(axis=0).tolist(),
        "sd": got.draws.std(axis=0).tolist(),
        "evidence": got.log_evidence,
        "error": got.error,
        "seconds": time.time() - began,
    }


def write(problem: Problem, given: argparse.Namespace, runs: list, emcee: dict, nested: list) -> None:
    mean, sd = np.array([r["mean"] for r in runs]), np.array([r["sd"] for r in runs])
    far, wide = (mean - emcee["mean"]) / emcee["sd"], sd / emcee["sd"] - 1
    nested_far = (np.mean([r["mean"] for r in nested], axis=0) - emcee["mean"]) / emcee["sd"]
    nested_wide = np.sqrt(np.mean(np.square([r["sd"] for r in nested]), axis=0)) / emcee["sd"] - 1
    z, other = [r["evidence"] for r in runs], [r["evidence"] for r in nested]
    apart = float(np.hypot(np.std(z, ddof=1) / np.sqrt(len(z)), np.std(other, ddof=1) / np.sqrt(len(other))))
    lines = [
        "# The sampler against two others",
        "",
        paragraph(
            "Made by `studies/reference_sampler.py`: the posterior of `benchmarks/record-120.toml`",
            f"({len(problem.free)} free values, {len(problem.record[0])} observations) by the program's own sampler",
            f"({given.particles} particles, {given.moves} moves, {len(runs)} seeds), by emcee ({given.walkers}",
            f"walkers, {given.steps} steps, the first fifth left out; at least {min(emcee['independent']):.0f}",
            f"independent draws of each value) and by dynesty ({given.live} live points, {len(nested)} seeds, about",
            f"{np.mean([r['calls'] for r in nested]):.0f} likelihoods each). Values stand on the scale on which the",
            "prior is standard normal. Distances are from emcee's means in emcee's standard deviations; the goal is",
            "0.1 for a mean, 10 % for a standard deviation.",
        ),
        "",
        "| value | mean | sd | own mean off: median, worst seed | own sd off | dynesty mean off | dynesty sd off |",
        "|---|---|---|---|---|---|---|",
    ]
    for j, f in enumerate(problem.free):
        lines.append(
            f"| {f.name} | {emcee['mean'][j]:+.2f} | {emcee['sd'][j]:.2f} | "
            f"{np.median(np.abs(far[:, j])):.2f}, {np.abs(far[:, j]).max():.2f} | "
            f"{100 * np.median(np.abs(wide[:, j])):.0f} %, {100 * np.abs(wide[:, j]).max():.0f} % | "
            f"{nested_far[j]:+.2f} | {100 * nested_wide[j]:+.0f} % |"
        )
    share = [100 * float((np.abs(x) <= limit).mean()) for x, limit in ((far, 0.1), (wide, 0.1))]
    lines += [
        "",
        f"Of all values and seeds, {share[0]:.0f} % of the means are within 0.1 and {share[1]:.0f} % of the standard "
        "deviations within 10 %.",
        "",
        "| log evidence | value | its own standard error |",
        "|---|---|---|",
        *(f"| own, seed {n + 1} | {r['evidence']:.2f} | {r['error']:.2f} |" for n, r in enumerate(runs)),
        f"| own, mean and spread of the seeds | {np.mean(z):.2f} | {np.std(z, ddof=1):.2f} |",
        *(f"| dynesty, run {n + 1} | {r['evidence']:.2f} | {r['error']:.2f} |" for n, r in enumerate(nested)),
        f"| dynesty, mean and spread of the runs | {np.mean(other):.2f} | {np.std(other, ddof=1):.2f} |",
        "",
        paragraph(
            f"The means differ by {np.mean(z) - np.mean(other):+.2f} +- {apart:.2f}. The own standard error counts",
            "the weights of each step alone, as if the draws of one step knew nothing of those of the step before;",
            "the spread of the seeds is what to reckon with.",
        ),
    ]
    PAGE.write_text("\n".join(lines) + "\n", "utf-8")
    print("\n".join(lines))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=10000)
    parser.add_argument("--walkers", type=int, default=80)
    parser.add_argument("--live", type=int, default=800)
    parser.add_argument("--n", type=int, default=5, help="seeds of the own sampler")
    parser.add_argument("--particles", type=int, default=2000)
    parser.add_argument("--moves", type=int, default=6)
    given = parser.parse_args()
    problem = pose(read_colony(RECORD))
    runs = [
        kept(f"own-{given.particles}-{given.moves}-{s}", lambda s=s: own(problem, given.particles, given.moves, s))
        for s in range(1, given.n + 1)
    ]
    nested = [
        kept(f"dynesty-{given.live}-100-{seed}", lambda seed=seed: with_dynesty(problem, given.live, seed))
        for seed in NESTED_SEEDS
    ]
    emcee = kept(f"emcee-{given.walkers}-{given.steps}", lambda: with_emcee(problem, given.walkers, given.steps))
    write(problem, given, runs, emcee, nested)


if __name__ == "__main__":
    main()
