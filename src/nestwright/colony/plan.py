"""The next bells and chambers: sizes and days, so that the garden's fill stays in its band with few changes.

Expected cost = days outside the card's band, weighed by how far, plus what each change counts. Every plan meets the
same draws of the posterior and the same chances, so that two plans differ by what they do and not by luck.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.alternatives import alternatives, lawful, rounded
from nestwright.colony.bells import Room, bell, chamber, needs_lid, present
from nestwright.colony.fit import Posterior, band, report
from nestwright.colony.forecast import Scenario, paths_of, read_paths, span
from nestwright.colony.model import Colony
from nestwright.colony.outlook import MOST, Outlook, Steps, Weights, best_steps
from nestwright.colony.problem import Problem
from nestwright.colony.results import BAND, Fit, Plan, PlanStep
from nestwright.colony.trials import Trial, Trials, alive, outlook_of, thinned, with_steps
from nestwright.data import plan_values
from nestwright.errors import InputError

Array = NDArray[np.float64]

__all__ = ["check_room", "plan", "rooms_to_choose"]

HORIZON = 120
PATHS = 100
SKETCH = 32
"""Paths of the search; the plan and what it beat run over all of `paths`."""
SIZES = 14
FIRST, EACH, MOVES, LAST, POLISH = 12, 3, 32, 3, 12
"""Plans of the programme tried first and for each number of changes, moves of a refinement, plans run in full, and
moves of the refinement of the best of these."""
FEWEST, LONGEST = 7, 730
LIVING = 0.5
"""Share of living paths below which nothing is planned."""


def plan(
    posterior: Posterior,
    horizon: int = HORIZON,
    *,
    handling_days: float | None = None,
    sizes: Sequence[float] | None = None,
    scenario: Scenario | None = None,
    paths: int = PATHS,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
    gone_by: int = 0,
) -> Plan:
    """The best up to four changes of housing over `horizon` days, with the alternatives they beat.

    `gone_by`: days from the record's last day to today; no change is put into them, unless nearly all of the horizon
    has gone by.
    `handling_days`: days outside the band that one change is worth avoiding, None: the judgement of the data.
    `sizes`: usable mL of the bells to choose from, None: any size.

    Raises
    ------
    InputError
        Where the room that the garden has now is not known, or for a horizon or sizes that cannot be.
    """
    if 0 < gone_by <= horizon - FEWEST:
        colony = replace(posterior.problem.colony, gone_by=float(gone_by))
        posterior = replace(posterior, problem=replace(posterior.problem, colony=colony))
    colony, values = posterior.problem.colony, plan_values()
    growth = posterior.problem.card.growth
    handling = values["handling_days"].value if handling_days is None else handling_days
    check(colony, horizon, handling, sizes)
    made, ends = report(posterior)
    room = float(np.median(ends.rooms))
    if room <= 0:
        raise InputError(
            "the plan needs to know the room that the garden has now",
            file=colony.path,
            field="housing.chamber",
            allowed="a [[bell]] with its usable volume, or the chamber's volume",
        )
    scenario = scenario or Scenario()
    now = present(colony, room)
    weights = Weights(growth["fill_low"].value, growth["fill_high"].value, handling, values["lid_days"].value)
    few = Trials(posterior.problem, thinned(ends, SKETCH), horizon, now, weights, scenario)
    run = functools.partial(paths_of, paths=paths, seed=seed)
    many = Trials(posterior.problem, thinned(ends, paths), horizon, now, weights, scenario, run)
    said = progress or (lambda _: None)
    said(0.05)
    notes = list(limits_told(colony, now))
    idle = many(())
    survival = float(alive(idle.table)[:, -1].mean())
    best = idle
    rivals: list[tuple[str, Trial]] = []
    if survival < LIVING:
        notes.insert(
            0,
            f"workers and garden live to the end in {10 * survival:.0f} of 10 outcomes: "
            "find what is wrong first; nothing is planned",
        )
    else:
        outlook = outlook_of(few)
        rooms = rooms_to_choose(colony, outlook, now, weights, sizes)
        if not any(r.kind == "bell" for r in rooms):
            notes.append(
                "no bell to choose from is of use: each is too wide or too high, or far from the garden's size"
            )
        found, by_count = searched(few, outlook, rooms, sizes, said)
        best, rivals = settled(many, found, by_count, rooms, sizes, said)
        if not best.steps:
            notes.insert(0, "nothing to do: no change of housing is worth its handling within the horizon")
    said(1.0)
    result = told(posterior, made, many, best, rivals, notes)
    # today's fill over as many draws as a forecast has, so that both tell the same
    first = paths_of(posterior.problem, ends, 1, Scenario())
    start = band("fill", "1", result.fill.day[:1], (first["garden"] / first["room"])[:, :1])
    low, middle, high = (
        np.append(getattr(start, end), getattr(result.fill, end)[1:]) for end in ("low", "middle", "high")
    )
    return replace(result, fill=replace(result.fill, low=low, middle=middle, high=high))


def check(colony: Colony, horizon: int, handling: float, sizes: Sequence[float] | None) -> None:
    """Refuse what cannot be planned with."""
    if not FEWEST <= horizon <= LONGEST:
        raise InputError(
            "the plan looks ahead over whole days", found=str(horizon), allowed=f"{FEWEST} to {LONGEST} days"
        )
    if not 0 <= handling <= 365:
        raise InputError("a handling counts as so many days", found=f"{handling:g}", allowed="0 to 365 days")
    for size in sizes or ():
        if not 0 < size < 1e6:
            raise InputError("a bell's usable volume", found=f"{size:g} mL", allowed="more than 0 mL, at most 1000 L")
        if bell(colony, size) is None:
            raise InputError(
                "such a bell neither goes in nor stands under the ceiling",
                file=colony.path,
                found=f"{size:g} mL",
                allowed="what passes housing.opening, or housing.lid, and is lower than housing.headroom",
            )


def rooms_to_choose(
    colony: Colony, outlook: Outlook, now: Room, weights: Weights, sizes: Sequence[float] | None
) -> list[Room]:
    """Bells that could be of use, from that for the smallest garden to come to that for the largest, and chambers."""
    path = outlook.garden[:, None] * np.exp(np.cumsum(outlook.growth, axis=1))
    path = np.concatenate([outlook.garden[:, None], path], axis=1)
    least, most = np.quantile(path.min(axis=1), 0.1), np.quantile(path.max(axis=1), 0.9)
    whole = chamber(colony, 1)
    top = most / weights.high * 1.3
    if whole is not None:
        top = min(top, 0.9 * whole.usable)
    if sizes is None:
        wanted = np.geomspace(max(least / weights.high, 1.0), max(top, 1.5), SIZES) if top > 1 else np.array([])
        volumes = sorted({rounded(v) for v in wanted})
    else:
        volumes = sorted({float(v) for v in sizes if whole is None or v <= whole.usable})
    bells = [made for v in volumes if (made := bell(colony, v)) is not None]
    most_chambers = now.chambers + MOST
    chambers = [made for n in range(1, most_chambers + 1) if (made := chamber(colony, n)) is not None]
    return [*bells, *chambers]


def searched(
    trials: Trials, outlook: Outlook, rooms: list[Room], sizes: Sequence[float] | None, said: Callable[[float], None]
) -> tuple[list[Steps], dict[int, Steps]]:
    """Plans worth simulating over all paths, the likeliest to be best first; and the best with each number of changes.

    The programme ranks on bent paths; its best, and the best with each number of changes, are run through the
    skeleton; the best of these with each number of changes are refined.
    """
    every = max(3, trials.horizon // 40)
    ranked = best_steps(outlook, trials.now, rooms, trials.weights, every=every)
    said(0.12)
    tries = [steps for _, steps in ranked[:FIRST]]
    for count in range(MOST + 1):
        tries += [steps for _, steps in ranked if len(steps) == count][:EACH]
    for i, steps in enumerate(dict.fromkeys(tries)):
        trials(steps)
        said(0.12 + 0.2 * i / len(tries))
    leader = min(trials.done.values(), key=lambda t: t.cost)
    for count in range(1, MOST + 1):
        same = sorted((t for t in trials.done.values() if len(t.steps) == count), key=lambda t: t.cost)
        close = abs(count - len(leader.steps)) <= 1
        for trial in same[: 2 if count == len(leader.steps) else 1]:
            refined(trials, trial, rooms, sizes, MOVES if close else MOVES // 2)
        said(0.32 + 0.08 * count)
    ordered = sorted(trials.done.values(), key=lambda t: t.cost)
    different = ordered[:1]
    for trial in ordered:
        # plans a day or a notch apart need not all be run
        if all(apart(trial.steps, other.steps) for other in different) and len(different) < LAST:
            different.append(trial)
    by_count = {count: next((t.steps for t in ordered if len(t.steps) == count), None) for count in range(MOST + 1)}
    return [t.steps for t in different], {count: steps for count, steps in by_count.items() if steps is not None}


def apart(one: Steps, other: Steps) -> bool:
    """Whether two plans differ by more than two days or a few per cent of a size somewhere."""
    if len(one) != len(other):
        return True
    pairs = list(zip(one, other, strict=True))
    return any(abs(a - b) > 2 or abs(np.log(r.usable / q.usable)) > 0.08 for (a, r), (b, q) in pairs)


def refined(trials: Trials, trial: Trial, rooms: list[Room], sizes: Sequence[float] | None, moves: int) -> Trial:
    """Move one day or one size at a time as long as that helps, by ever smaller strides."""
    bells = [r for r in rooms if r.kind == "bell"]
    colony = trials.problem.colony
    stop = len(trials.done) + moves
    for stride, factor in ((4, 1.2), (2, 1.1), (1, 1.05)):
        while len(trials.done) < stop:
            before = trial.cost
            for i in range(len(trial.steps)):
                for moved in neighbours(trial.steps, i, stride, trials.horizon):
                    if lawful(trials.now, moved):
                        trial = min(trial, trials(moved), key=lambda t: t.cost)
                for room in sizes_about(colony, trial.steps[i][1], bells, factor, sizes):
                    moved = (*trial.steps[:i], (trial.steps[i][0], room), *trial.steps[i + 1 :])
                    if lawful(trials.now, moved):
                        trial = min(trial, trials(moved), key=lambda t: t.cost)
            if trial.cost >= before:
                break
    return trial


def neighbours(steps: Steps, i: int, stride: int, horizon: int) -> list[Steps]:
    """The plan with its change i some days earlier or later."""
    day, room = steps[i]
    return [(*steps[:i], (day + by, room), *steps[i + 1 :]) for by in (-stride, stride) if 1 <= day + by < horizon]


def sizes_about(
    colony: Colony, room: Room, bells: list[Room], factor: float, sizes: Sequence[float] | None
) -> list[Room]:
    """The next smaller and larger bell: of those to choose from, or by a factor."""
    if room.kind != "bell":
        return []
    if sizes is not None:
        at = bells.index(room)
        return [bells[j] for j in (at - 1, at + 1) if 0 <= j < len(bells)]
    most = colony.chamber or np.inf
    volumes = {rounded(room.usable / factor), rounded(room.usable * factor)} - {room.usable}
    return [made for v in sorted(volumes) if v < most and (made := bell(colony, v)) is not None]


def settled(
    many: Trials,
    found: list[Steps],
    by_count: dict[int, Steps],
    rooms: list[Room],
    sizes: Sequence[float] | None,
    said: Callable[[float], None],
) -> tuple[Trial, list[tuple[str, Trial]]]:
    """The best of all plans simulated, and the alternatives to it; an alternative that is better takes its place."""
    for steps in found:
        many(steps)
    said(0.7)
    refined(many, min(many.done.values(), key=lambda t: t.cost), rooms, sizes, POLISH)
    said(0.8)
    while True:
        best = min(many.done.values(), key=lambda t: (t.cost, len(t.steps)))
        said(min(0.95, 0.8 + 0.005 * len(many.done)))
        rivals = alternatives(many, best, by_count, rooms, sizes)
        if min(many.done.values(), key=lambda t: (t.cost, len(t.steps))) is best:
            return best, rivals


def limits_told(colony: Colony, now: Room) -> list[str]:
    """What is not stated and therefore sets no limit."""
    out = []
    if colony.opening is None:
        wide = "the lid" if colony.lid is not None else "no width"
        out.append(f"the opening is not stated: {wide} limits the bells")
    if colony.lid is None and colony.opening is not None:
        out.append("the lid's width is not stated: with the lid off a bell of any width is taken to go in")
    if colony.headroom is None:
        out.append("the headroom is not stated: no height limits the bells")
    if colony.making_time is None:
        out.append("the making time of a bell is not stated: a bell is taken to be there tomorrow")
    if not colony.chamber:
        out.append("the whole chamber's volume is not stated: neither the whole chamber nor a further one is planned")
    elif colony.chamber_time is None:
        out.append("the making time of a chamber is not stated: a further chamber is taken to be there tomorrow")
    if now.kind == "bell" and not now.diameter and colony.opening is not None:
        out.append("the width of the present bell is not stated: it is taken to pass the opening")
    return out


def told(
    posterior: Posterior, made: Fit, many: Trials, best: Trial, rivals: list[tuple[str, Trial]], notes: list[str]
) -> Plan:
    """The plan as a result."""
    problem = posterior.problem
    first = problem.days
    scenario = with_steps(many.scenario, best.steps, first)
    forecast = read_paths(problem, made, best.table, many.horizon, scenario)
    day = first + np.arange(many.horizon + 1.0)
    beaten = []
    for what, trial in rivals:
        more = trial.costs - best.costs
        beaten.append(
            {
                "what": what,
                "steps": [
                    {"date": problem.colony.date(first + d).isoformat(), "name": r.name, "usable_mL": r.usable}
                    for d, r in trial.steps
                ],
                "inside_pct": [100 * x for x in quantiles(trial.inside)],
                "handlings": len(trial.steps),
                "cost_days": trial.cost,
                "worse_by_days": float(more.mean()),
                "worse_by_error_days": float(more.std(ddof=1) / np.sqrt(len(more))),
            }
        )
    beaten.sort(key=lambda b: float(b["cost_days"]))  # type: ignore[arg-type]
    return Plan(
        forecast=forecast,
        steps=tuple(steps_told(many, best)),
        inside=quantiles(best.inside),
        handlings=len(best.steps),
        cost=best.cost,
        fill=band("fill", "1", day, best.table["garden"] / best.table["room"]),
        beaten=tuple(beaten),
        notes=tuple(dict.fromkeys([*notes, *forecast.notes])),
        handling_days=many.weights.handling,
        band=(many.weights.low, many.weights.high),
        cost_error=float(best.costs.std(ddof=1) / np.sqrt(len(best.costs))),
        judgements=rests_on(problem),
    )


def quantiles(values: Array) -> tuple[float, float, float]:
    low, middle, high = (float(x) for x in np.quantile(values, BAND))
    return low, middle, high


def rests_on(problem: Problem) -> tuple[str, ...]:
    """What the weighing takes from judgement."""
    growth = {k: problem.card.growth[k] for k in ("fill_low", "fill_high")}
    return tuple(k for k, v in {**growth, **plan_values()}.items() if v.mark == "judgement")


def steps_told(many: Trials, best: Trial) -> list[PlanStep]:
    """Each change: when it is due, what stands before and after."""
    out = []
    first, colony = many.problem.days, many.problem.colony
    before = many.now
    for i, (day, room) in enumerate(best.steps):
        without = many(best.steps[:i]).table
        fill = without["garden"] / without["room"]
        larger = room.usable > before.usable
        edge = many.weights.high if larger else many.weights.low
        left = (fill >= edge) if larger else (fill <= edge)
        left &= np.arange(fill.shape[1]) > (best.steps[i - 1][0] if i else -1)
        wording = f"fill would {'reach' if larger else 'fall to'} {100 * edge:.0f} % without this change"
        garden = best.table["garden"][:, day]
        stated = {"bell": colony.making_time, "chamber": colony.chamber_time}[room.kind]
        made = None if stated is None or room.chambers == 1 else float(first + day - np.ceil(stated))
        out.append(
            PlanStep(
                day=float(first + day),
                kind=room.kind,
                name=room.name,
                usable=room.usable,
                diameter=room.diameter,
                height=room.height,
                lid_off=needs_lid(before, room),
                start_by=made,
                fill_before=quantiles(garden / before.usable),
                fill_after=quantiles(garden / room.usable),
                due=span("due", wording, left, float(first)),
                shape=room.shape,
            )
        )
        before = room
    return out


def check_room(colony: Colony) -> None:
    """Refuse a colony whose room is told nowhere, before it is fitted."""
    if not colony.housing and not colony.chamber:
        raise InputError(
            "the plan needs to know the room that the garden has now",
            file=colony.path,
            field="housing.chamber",
            allowed="a [[bell]] with its usable volume, or the chamber's volume",
        )
