"""How often a diagnosis finds a planted cause, how soon, and how often it cries wolf, beside a CUSUM chart.

python studies/diagnosis.py [--n 200] [--particles 300] [--moves 3]

Colonies are drawn from the prior and live by the stochastic model with one cause planted (or none) on a day that is
drawn; its size is drawn from data/diagnosis.toml. About weekly visits tell garden, workers and brood; six in ten have
a logger. The diagnosis is made on six days of each record. The chart is a tabular CUSUM on the garden's daily growth
(Montgomery, Introduction to Statistical Quality Control, 9.1: k = 1/2, h = 4), its target the growth of the record's
first 35 days. Each colony's result is kept in out/studies: a stopped run goes on. Writes
docs/how-it-computes/diagnosis-study.md.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from made_records import model_digest, paragraph, run_all, visit_days

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.causes import CLIMATE, SAYS
from nestwright.colony.diagnosis import diagnose
from nestwright.colony.kernel import N_STATE, start_state
from nestwright.colony.likelihood import seen_chance
from nestwright.colony.model import Climate, Colony, Event, Housing, Observation, Start
from nestwright.colony.noise import TABLE, run_noisy
from nestwright.colony.problem import NINETY, pose
from nestwright.data import diagnosis_values, load_species, species_names

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "how-it-computes" / "diagnosis-study.md"
RESULTS = ROOT / "out" / "studies" / "diagnosis.jsonl"
BASELINE = 35
ALARM = 0.2
"""The diagnosis cries alarm when "nothing wrong" has less weight than this."""
K, H = 0.5, 4.0


def drawn_size(name: str, rng: np.random.Generator) -> float:
    """Size of a fault from its range: log-normal, or anywhere between its ends for a share."""
    v = diagnosis_values()[name]
    if name == "leaves":
        return float(rng.uniform(v.low, v.high))
    if name == "queen":
        return float(rng.choice([1.0, 1.0, 1.0, 0.8]))
    return float(v.value * np.exp(rng.standard_normal() * np.log(v.high / v.low) / NINETY))


def life(told: Colony, p: np.ndarray, climate: np.ndarray, room: float, seed: int) -> dict[str, np.ndarray]:
    """The path of one colony, columns of TABLE by name."""
    y = np.zeros(N_STATE)
    start_state(p, y)
    path = np.empty((told.days + 1, len(TABLE)))
    none = (np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0))
    run_noisy(p, y, 0, told.days, climate, room, 1.0, none, 104729 + seed, path)
    return {name: path[:, i] for i, name in enumerate(TABLE)}


def logged(days: int, name: str, onset: float, size: float, usual: float, rng: np.random.Generator) -> Climate:
    """What a logger in the garden shows, by day."""
    none = np.zeros(days + 1)
    temperature = usual + 0.4 * rng.standard_normal(days + 1)
    depth = {k: none.copy() for k in ("hot", "cold", "dry")}
    if name in depth:
        on = np.arange(days + 1) >= onset
        depth[name][on] = np.maximum(0.0, size * (1 + 0.2 * rng.standard_normal(int(on.sum()))))
        if name in ("hot", "cold"):
            temperature[on] += size if name == "hot" else -size
    return Climate(temperature, depth["hot"], depth["cold"], depth["dry"], none, none)


def planted(seed: int) -> tuple[Colony, str, float, bool]:
    """A record, its cause, the day of its onset and whether a logger stood there."""
    rng = np.random.default_rng([43, seed])
    name = P.CAUSES[seed % len(P.CAUSES)]
    species = str(rng.choice(species_names()))
    card = load_species(species)
    days = int(rng.integers(90, 121))
    onset = float(rng.integers(45, days - 20))
    garden = float(np.exp(rng.uniform(np.log(20), np.log(200))))
    workers = garden / card.growth["garden_per_worker"].value
    told = Colony("invented", species, date(2025, 1, 1), days, at_start=Start((garden, 0.15), (workers, 0.3)))
    problem = pose(told)
    p = problem.vectors(rng.standard_normal((1, len(problem.free))))[0]
    usual = card.growth["reference_temperature"].value
    climate = np.zeros((1, 6))
    climate[0, 0] = usual
    size = 0.0 if name in ("nothing", "room") else drawn_size(name, rng)
    if name not in ("nothing", "room"):
        p[P.CAUSE], p[P.ONSET], p[P.SIZE] = P.CAUSES.index(name), onset, size
    path = life(told, p, climate, 0.0, seed)
    room = 4.0 * float(path["garden"].max())
    if name == "room":
        room = float(path["garden"][int(onset)]) / 0.85
        path = life(told, p, climate, room, seed)
    with_logger = bool(rng.random() < 0.6)
    observations = []
    for d in visit_days(rng, days + 1):
        made: list[tuple[str, float, float]] = [("garden", path["garden"][d], 0.15)]
        if rng.random() < 0.7:
            made.append(("workers", path["workers"][d], 0.3))
        for kind, value, error in made:
            seen = value * float(np.exp(error * p[P.ERROR_SCALE] * rng.standard_normal()))
            observations.append(Observation(float(d), kind, seen, error))  # type: ignore[arg-type]
        for kind in ("eggs", "larvae", "pupae"):
            if rng.random() < 0.6:
                seen = float(rng.random() < seen_chance(p, path[kind][d]))
                observations.append(Observation(float(d), kind, seen))  # type: ignore[arg-type]
    record = replace(
        told,
        observations=tuple(observations),
        housing=(Housing(0, "bell", "bell", room),),
        events=(Event(0.0, "room", room),),
        climate=logged(days, name, onset, size, usual, rng) if with_logger else None,
    )
    return record, name, onset, with_logger


def cusum_alarm(record: Colony) -> float | None:
    """First day on which the chart signals slower growth, or None."""
    seen = [(o.day, o.value) for o in record.observations if o.kind == "garden"]
    day = np.array([d for d, _ in seen])
    log = np.log(np.array([v for _, v in seen]) + 0.5)
    apart = np.diff(day)
    growth = np.diff(log) / apart
    before = day[1:] <= BASELINE
    if before.sum() < 2:
        return None
    target = (log[1:][before][-1] - log[0]) / (day[1:][before][-1] - day[0])
    spread = np.sqrt(2 * 0.15**2 + 0.012**2 * apart) / apart
    low = 0.0
    for d, z in zip(day[1:][~before], ((growth - target) / spread)[~before], strict=True):
        low = max(0.0, low - z - K)
        if low > H:
            return float(d)
    return None


def one(seed: int, particles: int, moves: int) -> dict[str, Any]:
    record, name, onset, with_logger = planted(seed)
    result = diagnose(record, history=5, particles=particles, moves=moves, seed=seed + 1, look=False)
    nothing = result.evidence["nothing"]
    alarms = [float(d) for d, w in zip(result.evidence_days, nothing, strict=True) if w < ALARM]
    return {
        "cause": name,
        "onset": onset,
        "logger": with_logger,
        "days": record.days,
        "verdict": result.verdict,
        "weights": {c.name: c.weight for c in result.causes},
        "checked": result.evidence_days.tolist(),
        "alarms": alarms,
        "cusum": cusum_alarm(record),
    }


def percent(k: int, n: int) -> str:
    return "none" if n == 0 else f"{100 * k / n:.0f} % ({k} of {n})"


def first(r: dict[str, Any]) -> str:
    return str(max(r["weights"], key=r["weights"].get))


def as_planted(r: dict[str, Any]) -> dict[str, Any]:
    """The same with the chances beforehand of the study: each of nine alike."""
    nothing = diagnosis_values()["nothing"].value
    scale = {k: 1 / nothing if k == "nothing" else (len(r["weights"]) - 1) / (1 - nothing) for k in r["weights"]}
    raw = {k: w * scale[k] for k, w in r["weights"].items()}
    return r | {"weights": {k: w / sum(raw.values()) for k, w in raw.items()}}


def group(name: str) -> str:
    return "climate" if name in CLIMATE else name


def alarm_line(name: str, rows: list[dict[str, Any]], of: Any) -> str:
    """False alarms (in sound colonies, or before the onset), detections and delay of one way of alarming."""
    sound = [r for r in rows if r["cause"] == "nothing"]
    faulty = [r for r in rows if r["cause"] != "nothing"]
    false = sum(of(r) is not None for r in sound)
    early = sum(of(r) is not None and of(r) < r["onset"] for r in faulty)
    delays = [of(r) - r["onset"] for r in faulty if of(r) is not None and of(r) >= r["onset"]]
    delay = f"{np.median(delays):.0f} d ({np.quantile(delays, 0.1):.0f} to {np.quantile(delays, 0.9):.0f})"
    parts = (percent(false, len(sound)), percent(early, len(faulty)), percent(len(delays), len(faulty)), delay)
    return f"| {name} | {' | '.join(parts)} |"


def write(rows: list[dict[str, Any]], particles: int, moves: int) -> None:
    old = sum(r["model"] != model_digest() for r in rows)
    lines = ["# The diagnosis on planted causes", ""]
    lines.append(
        paragraph(
            f"Made by `studies/diagnosis.py`: {len(rows)} invented colonies drawn from the prior, living by the",
            "stochastic model with one cause planted, its size drawn from `data/diagnosis.toml`, so some faults are",
            "too small or too late to be seen. Records of 90 to 120 days, about weekly, gaps of up to 30 days; onset",
            f"between day 45 and 20 days before the end; six in ten with a logger. {particles} particles,",
            f"{moves} moves.",
            f"{old} results come from an earlier state of the model." if old else "",
        )
    )
    columns = list(P.CAUSES)
    lines += ["", "## Planted against found first", "", "| planted | n | " + " | ".join(columns) + " |"]
    lines.append("|" + "---|" * (len(columns) + 2))
    for name in P.CAUSES:
        mine = [r for r in rows if r["cause"] == name]
        counts = [sum(first(r) == c for r in mine) for c in columns]
        cells = " | ".join(f"**{k}**" if c == name else str(k) for c, k in zip(columns, counts, strict=True))
        lines.append(f"| {SAYS[name]} | {len(mine)} | {cells} |")
    lines += [
        "",
        "| records | right cause first | right group first | said for sure | of those right |",
        "|---|---|---|---|---|",
    ]
    sure_at = diagnosis_values()["sure"].value
    for title, chosen in (
        ("all", rows),
        ("with a logger", [r for r in rows if r["logger"]]),
        ("without", [r for r in rows if not r["logger"]]),
        ("all, told that one in nine is sound", [as_planted(r) for r in rows]),
    ):
        right = sum(first(r) == r["cause"] for r in chosen)
        grouped = sum(group(first(r)) == group(r["cause"]) for r in chosen)
        sure = [r for r in chosen if max(r["weights"].values()) >= sure_at]
        held = sum(first(r) == r["cause"] for r in sure)
        parts = (percent(right, len(chosen)), percent(grouped, len(chosen)), percent(len(sure), len(chosen)))
        lines.append(f"| {title} | {' | '.join(parts)} | {percent(held, len(sure))} |")
    lines += [
        "",
        paragraph("Group: dry, wet, cold and hot count as one. Said for sure: a weight of", f"{sure_at:.0%} or more."),
    ]
    lines += [
        "",
        "## Do the weights mean what they say?",
        "",
        "| weight of the first | n | mean weight | right |",
        "|---|---|---|---|",
    ]
    top = np.array([max(r["weights"].values()) for r in rows])
    ok = np.array([first(r) == r["cause"] for r in rows])
    for low, high in ((0.0, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.95), (0.95, 1.01)):
        inside = (top >= low) & (top < high)
        if inside.any():
            share = percent(int(ok[inside].sum()), int(inside.sum()))
            lines.append(f"| {low:.2f} to {min(high, 1.0):.2f} | {inside.sum()} | {top[inside].mean():.2f} | {share} |")
    lines += [
        "",
        paragraph(
            "In the study one colony in nine is sound, where the diagnosis takes one in two as sound beforehand: it",
            "must say 'nothing wrong' too often here. The last line of the table above has the chances of the study.",
        ),
        "",
        "## Alarm, beside a CUSUM chart of the garden's growth",
        "",
        "| way | false alarm, sound colonies | alarm before the onset | found | delay, median (10 to 90 %) |",
        "|---|---|---|---|---|",
        alarm_line("diagnosis, 'nothing wrong' under 20 %", rows, lambda r: r["alarms"][0] if r["alarms"] else None),
        alarm_line("CUSUM, k 1/2, h 4", rows, lambda r: r["cusum"]),
        "",
        paragraph(
            "The diagnosis was asked on six days of each record, the chart at every visit, so its delay is a week",
            "or so longer than it need be. The chart does not see a lost queen before the garden suffers, names no",
            "cause, and takes a full bell and the slowing of a grown colony for a fault.",
        ),
    ]
    PAGE.write_text("\n".join(lines) + "\n", "utf-8")
    print("\n".join(lines))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--n", type=int, default=198)
    parser.add_argument("--particles", type=int, default=300)
    parser.add_argument("--moves", type=int, default=3)
    parser.add_argument("--cluster", help="a dask cluster to work on, tcp://HOST:PORT")
    options = parser.parse_args()
    rows = run_all(RESULTS, options.n, lambda seed: one(seed, options.particles, options.moves), options.cluster)
    write(rows, options.particles, options.moves)


if __name__ == "__main__":
    main()
