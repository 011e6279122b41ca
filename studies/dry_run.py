"""Dry runs of invented builds with planted faults: are the truths inside the intervals, and the verdicts right?

Writes docs/how-it-computes/dry-run-study.md.

python studies/dry_run.py [RUNS]    (a few minutes for 40)
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from made_dry_run import made_run, other_values, parts_of_build

from nestwright.climate.dry_run import dry_run
from nestwright.climate.dry_run_parts import assemble_build, empty_build, own_rates
from nestwright.climate.dry_run_problem import set_problem
from nestwright.climate.dry_run_verdict import Draws, aspects_of, causes_of, verdict_of
from nestwright.habitat.file import read_habitat

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "how-it-computes" / "dry-run-study.md"
BUILDS = {"single-pot": ("pot", "sump"), "three-pot": ("garden pot", "forage", "dump")}


def planted(parts, rng):
    """Factors of every part within its tolerance, and a fault in three runs of four."""
    factors = {p.name: 1e-4 if p.leak else float(np.exp(rng.normal(0, p.tolerance))) for p in parts}
    wrong = ""
    if rng.random() < 0.75:
        part = parts[rng.integers(len(parts))]
        wrong = part.name
        size = rng.normal(0, part.fault)
        factors[wrong] = float(np.exp(size))
    return factors, wrong


def one(name, seed, other):
    """Of one run: for each side of the behaviour and each part (kind, truth, low, high, known); verdict and cause."""
    rng = np.random.default_rng(seed)
    habitat = read_habitat(ROOT / f"examples/workshop/habitats/{name}.toml")
    parts = parts_of_build(habitat)
    factors, wrong = planted(parts, rng)
    override = other_values(rng) if other else None
    record, room = made_run(habitat, factors, BUILDS[name], seed=seed + 10**6, override=override)
    result = dry_run(habitat, record, room, start="filled")
    problem = set_problem(habitat, record, room, start="filled")
    if override:
        # what is told of blocks and walls is their factor with the films over them
        bare = empty_build(habitat)
        made = assemble_build(
            bare, problem.assembly.card, pressure=problem.assembly.network.net.pressure, room_co2=4.5e-4,
            override=override,
        )  # fmt: skip
        there, here = own_rates(made), own_rates(problem.assembly)
        factors |= {k: factors[k] * there[k] / here[k] for k in here}
    truth = np.array([[0.0 if p.leak and factors[p.name] < 1e-3 else factors[p.name] for p in parts]])
    draws = Draws(problem, truth)
    true_verdict = verdict_of(draws)[1]
    true_cause = causes_of(draws)[1]
    sides = [
        (
            "block" if a.name.startswith("block") else "walls" if a.name == "walls" else "way",
            b.middle,
            a.low,
            a.high,
            a.name,
        )
        for a, b in zip(result.aspects, aspects_of(draws), strict=True)
    ]
    found = [(p.kind, factors[p.name], p.low, p.high, p.known) for p in result.parts if p.kind != "leak"]
    return result, sides, found, true_verdict, true_cause, wrong


def share(inside):
    n, k = len(inside), sum(inside)
    if not n:
        return "none"
    p = k / n
    z = 1.96
    middle = (p + z * z / 2 / n) / (1 + z * z / n)
    half = z / (1 + z * z / n) * np.sqrt(p * (1 - p) / n + z * z / 4 / n / n)
    return f"{p * 100:.0f} % ({max(middle - half, 0) * 100:.0f} to {(middle + half) * 100:.0f})"


def study(runs, other, seed):
    rows, verdicts, chances, blamed = {}, [], [], []
    for k in range(runs):
        name = list(BUILDS)[k % len(BUILDS)]
        result, sides, found, truth, cause, wrong = one(name, seed + k, other)
        for kind, value, low, high, _ in sides:
            rows.setdefault(f"{kind} as a whole", []).append((low <= value <= high, high / max(low, 1e-9)))
        for kind, value, low, high, _ in found:
            rows.setdefault(kind, []).append((low <= value <= high, high / max(low, 1e-9)))
        words = set(truth.split(", "))
        hit = set(result.verdict.split(", ")) <= words if result.sure else result.leaning == truth
        verdicts.append((result.sure, hit))
        chances.append((result.chance, hit))
        for side in filter(None, cause.split("; ")):
            named = {n for one in result.cause.split("; ") for n in one.removeprefix("cannot tell: ").split(" or ")}
            blamed.append((side in named, True))
        print(
            k,
            name,
            "planted",
            wrong,
            "|",
            truth,
            "|",
            result.leaning,
            round(result.chance, 2),
            "|",
            cause,
            "|",
            result.cause,
            flush=True,
        )
    return rows, verdicts, chances, blamed


def table(rows, verdicts, chances, blamed):
    lines = ["| what | inside the 80 % interval | width, high over low, median |", "|---|---|---|"]
    for kind, values in rows.items():
        width = np.median([w for _, w in values])
        lines.append(f"| {kind} | {share([i for i, _ in values])} | {width:.2f} |")
    sure = [hit for s, hit in verdicts if s]
    unsure = [hit for s, hit in verdicts if not s]
    lines += [
        "",
        f"Verdict told in {len(sure)} of {len(verdicts)} runs, right in {share(sure)}; 'cannot tell' in the others,",
        f"whose likeliest was right in {share(unsure)}. Over all runs the chances told add up to",
        f"{sum(c for c, _ in chances):.1f}, right were {sum(h for _, h in chances)}.",
        "",
        f"Of the {len(blamed)} sides that were not as designed, the part that made most of it stood among those named",
        f"as the cause in {share([b for b, _ in blamed])}.",
    ]
    return lines


def main(runs):
    text = [
        "# Coverage of the dry run",
        "",
        f"Made by `studies/dry_run.py`: {runs} invented empty builds, in turn of the single pot (loggers in pot and",
        "sump) and the three pots (garden pot, forage, dump), 26 hours, one release of 2 % CO2. Every part lies within",
        "its tolerance, in three of four runs one is wrong by a fault's size, leaks included; loggers have biases and",
        "fading errors as stated in `data/dry_run.toml`. Behind each share its 95 % interval (Wilson). A verdict is",
        "right when each side that it names is off in that direction.",
        "",
        "## Where the model is right but for the parts",
        "",
        *table(*study(runs, False, 1000)),
        "",
        "## Where the values of the model are off as well",
        "",
        "Films, discharge, onset and the other values of `data/assembly.toml` are drawn from their ranges for the",
        "truth, in half as many runs. What is told of a block or of the walls is the factor with the films over them.",
        "",
        *table(*study(max(runs // 2, 4), True, 5000)),
    ]
    PAGE.write_text("\n".join(text) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
