"""How often the forecast's 80 % bands hold what follows.

python studies/forecast_coverage.py [--n 200] [--particles 1000] [--moves 6]

Colonies are drawn from the prior and live by the stochastic model (noise.run_paths): whole ants, births and deaths one
by one. A keeper's record of 60 to 90 days is made of the first part (gaps of up to 30 days, workers guessed to 35 %,
garden to 15 %, bells changed), fitted and forecast with 400 paths; the rest of the same life is what follows. Each
colony's result is kept in out/studies: a stopped run goes on. Writes docs/how-it-computes/coverage.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from made_records import colony, paragraph, run_all, versions
from scipy.stats import beta, kstest

from nestwright.colony.fit import fit, report
from nestwright.colony.forecast import Scenario, paths_of, read_paths
from nestwright.colony.kernel import N_STATE, start_state
from nestwright.colony.likelihood import seen_chance
from nestwright.colony.model import Colony, Observation
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.parameters import ERROR_SCALE, QUEEN
from nestwright.colony.problem import climate_array, event_arrays, first_room, pose

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "how-it-computes" / "coverage.md"
LEADS = (1, 7, 14, 30, 45, 60)
KINDS = ("garden", "workers", "leaf demand")
AHEAD = max(LEADS) + 1


def life(told: Colony, rng: np.random.Generator, seed: int) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """A vector drawn from the prior of the colony as told, and the life it leads, columns of TABLE by name "
    f"(days,)."""
    problem = pose(replace(told, observations=()))
    p = problem.vectors(rng.standard_normal((1, len(problem.free))))[0]
    y = np.zeros(N_STATE)
    start_state(p, y)
    out = np.empty((1, told.days + AHEAD + 1, len(TABLE)))
    climate, _ = climate_array(told, problem.card)
    if len(climate) > 1:
        climate = np.vstack([climate, np.repeat(climate[-14:].mean(axis=0)[None], AHEAD, axis=0)])
    args = (0, told.days + AHEAD, climate, np.array([first_room(told)]), np.array([p[QUEEN]]), event_arrays(told))
    run_paths(p[None], y[None], *args, 7919 * (seed + 1), out)
    return p, {name: out[0, :, i] for i, name in enumerate(TABLE)}


def observe(o: Observation, p: np.ndarray, path: dict[str, np.ndarray], rng: np.random.Generator) -> Observation:
    """What the keeper says on that day."""
    t = int(o.day)
    if o.kind in ("eggs", "larvae", "pupae"):
        return replace(o, value=float(rng.random() < seen_chance(p, path[o.kind][t])))
    column = {"leaves_taken": "intake"}.get(o.kind, o.kind)
    value = path[column][t] - (path[column][int(o.since)] if o.kind in ("waste", "leaves_taken") else 0.0)
    value *= float(np.exp(o.error * p[ERROR_SCALE] * rng.standard_normal()))
    return replace(o, value=float(round(value)) if o.kind == "workers" else value)


def place(paths: np.ndarray, truth: float, rng: np.random.Generator) -> float:
    """Where the truth lies in the distribution of the paths, 0 to 1, uniform if the forecast is right (ties "
    f"drawn)."""
    return float((paths < truth).mean() + rng.random() * (paths == truth).mean())


def one(seed: int, particles: int, moves: int) -> dict[str, Any]:
    rng = np.random.default_rng([41, seed])
    told = colony(rng, guesses_only=True, least=60, most=90)
    p, path = life(told, rng, seed)
    seen = tuple(observe(o, p, path, rng) for o in told.observations)
    if seed % 4 == 3:  # of one in four nothing is told of the first day
        told = replace(told, at_start=replace(told.at_start, garden=None, workers=None, brood=None))
    record = replace(told, observations=seen)
    posterior = fit(record, particles=particles, moves=moves, seed=seed)
    made, ends = report(posterior)
    table = paths_of(posterior.problem, ends, AHEAD, Scenario(), seed=seed + 1)
    ahead = read_paths(posterior.problem, made, table, AHEAD, Scenario())
    now = told.days
    result: dict[str, Any] = {"species": told.species, "told": seed % 4 != 3, "observations": len(seen), "lead": {}}
    for lead in LEADS:
        row = {}
        for kind, column, name in (
            ("garden", "garden", "garden"),
            ("workers", "workers", "workers"),
            ("leaf demand", "intake", "leaf_dry"),
        ):
            paths, truth = table[column][:, lead], path[column][now + lead]
            if column == "intake":
                paths, truth = table[column][:, lead + 1] - paths, path[column][now + lead + 1] - truth
            band = ahead.bands[name]
            row[kind] = {
                "inside": bool(band.low[lead] <= truth <= band.high[lead]),
                "place": place(paths, float(truth), rng),
                "width": float(np.log((band.high[lead] + 0.5) / (band.low[lead] + 0.5))),
                "truth": float(truth),
            }
        result["lead"][str(lead)] = row
    full = next((d for d in ahead.dates if d.name == "bell_full"), None)
    if full is not None:
        limit = posterior.problem.card.growth["fill_high"].value
        fill = table["garden"] / table["room"]
        days = np.where((fill >= limit).any(axis=1), (fill >= limit).argmax(axis=1), np.inf)
        own = path["garden"][now : now + AHEAD + 1] / path["room"][now : now + AHEAD + 1] >= limit
        when = float(own.argmax()) if own.any() else np.inf
        early, late = (np.inf if d is None else d - now for d in (full.early, full.late))
        result["bell_full"] = {
            "inside": bool(early <= when <= late),
            "place": place(days, when, rng),
            "probability": full.probability,
            "happened": bool(np.isfinite(when)),
            "already": when == 0.0,
        }
    return result


def share(inside: list[bool]) -> str:
    """A share with its 95 % interval (Clopper & Pearson 1934, Biometrika 26:404)."""
    k, n = sum(inside), len(inside)
    if n == 0:
        return "none"
    low = beta.ppf(0.025, k, n - k + 1) if k else 0.0
    high = beta.ppf(0.975, k + 1, n - k) if k < n else 1.0
    return f"{100 * k / n:.0f} % ({100 * low:.0f} to {100 * high:.0f})"


def tails(places: list[float]) -> str:
    at = np.array(places)
    return f"{100 * (at < 0.1).mean():.0f} %, {100 * (at > 0.9).mean():.0f} %"


def write(made: list[dict[str, Any]], particles: int, moves: int) -> None:
    seen = [r["observations"] for r in made]
    lines = [
        "# Coverage of the forecast",
        "",
        paragraph(
            "Made by `studies/forecast_coverage.py`:",
            f"{len(made)} invented colonies of {len({r['species'] for r in made})}",
            "species,",
            "drawn from the prior and living by the stochastic model; a record of 60 to 90 days with gaps of up",
            "to 30, workers",
            f"guessed to 35 %, the garden told to 15 %, bells changed, {min(seen)} to {max(seen)} observations",
            "(median",
            f"{np.median(seen):.0f}); of one colony in four nothing is told of the first day. Fit with",
            f"{particles} particles and",
            f"{moves} moves. Share of truths inside the 80 % band with its 95 % interval; the goal is 75 to 85.",
            "`below, above`: share of truths under the lower and over the upper end (10 each if right). `p`:",
            "Kolmogorov-Smirnov test of the truth's place in the distribution of the paths. Width is that of the",
            "band, high",
            "over low, in the median.",
            versions(made),
        ),
        "",
        "| lead, days | what | inside | below, above | p | width |",
        "|---|---|---|---|---|---|",
    ]
    for lead in LEADS:
        for kind in KINDS:
            cells = [r["lead"][str(lead)][kind] for r in made]
            places = [c["place"] for c in cells]
            lines.append(
                f"| {lead} | {kind} | {share([c['inside'] for c in cells])} | {tails(places)} | "
                f"{kstest(places, 'uniform').pvalue:.2f} | {np.exp(np.median([c['width'] for c in cells])):.2f} |"
            )
    lines += ["", "By what was told of the first day, 30 and 60 days ahead together:", ""]
    lines += ["| first day | garden | workers | leaf demand |", "|---|---|---|---|"]
    for known in (True, False):
        rows = [r["lead"][str(lead)] for r in made if r["told"] == known for lead in (30, 60)]
        cells = " | ".join(share([row[kind]["inside"] for row in rows]) for kind in KINDS)
        lines.append(f"| {'told' if known else 'not told'} | {cells} |")
    dated = [r["bell_full"] for r in made if "bell_full" in r and not r["bell_full"]["already"]]
    places = [d["place"] for d in dated]
    sure = [d for d in dated if d["probability"] >= 0.9]
    lines += [
        "",
        paragraph(
            f"Day on which the bell is full, {len(dated)} colonies whose bell was not full when the forecast",
            "began, never",
            "counted as a day beyond all others: truth inside the 80 % span",
            f"{share([d['inside'] for d in dated])}; below and",
            f"above {tails(places)}; p {kstest(places, 'uniform').pvalue:.2f}. Of the {len(sure)} where it was",
            "held for nine",
            f"tenths sure or more: {share([d['inside'] for d in sure])}. It came in",
            f"{sum(d['happened'] for d in dated)} of all,",
            f"where the forecasts' chances add up to {sum(d['probability'] for d in dated):.0f}.",
        ),
    ]
    PAGE.write_text("\n".join(lines) + "\n", "utf-8")
    print("\n".join(lines))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=200)
    parser.add_argument("--particles", type=int, default=1000)
    parser.add_argument("--moves", type=int, default=6)
    parser.add_argument("--cluster", help="a dask cluster to work on, tcp://HOST:PORT")
    given = parser.parse_args()
    path = ROOT / "out" / "studies" / f"coverage-{given.particles}-{given.moves}.jsonl"
    made = run_all(path, given.n, lambda seed: one(seed, given.particles, given.moves), given.cluster)
    write(made, given.particles, given.moves)


if __name__ == "__main__":
    main()
