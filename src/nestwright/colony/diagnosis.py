"""Is something wrong, since when, and what is the likeliest cause? Rival causes weighed by their evidence.

Each cause is fitted to the whole record; its weight is prior times marginal likelihood (Kass & Raftery 1995, J Am Stat
Assoc 90:773). A cause that cannot act yet explains no more than "nothing" does, and keeps no more than its prior.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.causes import CLIMATE, SAYS, Rival, logger_chances, rivals, stated_room
from nestwright.colony.fit import Posterior, judgements, particles_for
from nestwright.colony.losses import known_losses
from nestwright.colony.model import Colony
from nestwright.colony.next_look import next_look
from nestwright.colony.problem import Problem, pose
from nestwright.colony.results import BAND, Cause, Diagnosis
from nestwright.colony.sampler import Sample, extend, sample
from nestwright.data import SpeciesCard, diagnosis_values

Array = NDArray[np.float64]

__all__ = ["diagnose", "nothing_to_weigh", "weights"]

PARTICLES = 1000
MOVES = 5
RUNS = 2
"""Independent runs for each cause: what they differ by is the error of its evidence."""


def diagnose(
    colony: Colony,
    card: SpeciesCard | None = None,
    *,
    history: int = 0,
    particles: int | None = None,
    moves: int = MOVES,
    seed: int = 1,
    look: bool = True,
    progress: Callable[[float], None] | None = None,
) -> Diagnosis:
    """Weigh the causes for a colony's record.

    Parameters
    ----------
    history : int
        On how many days of the record, beside the last, the weights are told as they stood then (with more of them it
        takes longer).
    look : bool
        Look for the observation that would tell the two likeliest apart.

    Raises
    ------
    InputError
        For a species without a card.
    """
    problem = pose(colony, card)
    particles = particles or particles_for(problem.days, PARTICLES)
    days = checkpoints(problem, history)
    found = list(rivals(problem))
    posteriors: list[Posterior] = []
    evidence = np.empty((len(found), len(days)))
    errors = np.empty(len(found))
    for i, rival in enumerate(found):
        runs: list[Posterior | None] = [None] * RUNS
        for k, day in enumerate(days):
            made = []
            for j, before in enumerate(runs):
                made.append(grown(rival.problem, before, day, particles // RUNS, moves, seed + j))
                if progress:
                    progress((i + (k + (j + 1) / RUNS) / len(days)) / len(found))
            evidence[i, k], errors[i] = joined([r.sample for r in made])
            runs = [*made]
        posteriors.append(Posterior(made[0].problem, together([r.sample for r in made])))
    weight = weights([r.name for r in found], evidence, logger_chances(problem, [r.name for r in found], days))
    last = weight[:, -1]
    order = np.argsort(-last)
    causes = tuple(cause(found[i], posteriors[i], float(last[i])) for i in order)
    what, look_day, tells = ("", None, None)
    if look and causes[0].weight < 0.99:
        pair = [(found[i], posteriors[i], float(last[i])) for i in order[:2]]
        what, look_day, tells = next_look(*pair)
    return Diagnosis(
        colony=colony.name,
        species=colony.species,
        start=colony.start,
        days=problem.days,
        causes=causes,
        verdict=verdict_of(causes),
        next_look=what,
        look_day=look_day,
        tells=tells,
        evidence_days=days,
        evidence={r.name: weight[i] for i, r in enumerate(found)},
        judgements=judgements(posteriors[order[0]].problem, posteriors[order[0]].sample.draws),
        notes=(
            *known_losses(colony),
            *notes_of(problem),
            error_text(colony, float(np.hypot(*errors[order[:2]]))),
        ),
    )


def joined(runs: list[Sample]) -> tuple[float, float]:
    """Log evidence of independent runs together, and its standard error: the runs' own or what they differ by,
    whichever is larger."""
    each = np.array([r.log_evidence for r in runs])
    own = float(np.sqrt(np.mean([r.error**2 for r in runs]) / len(runs)))
    apart = float(each.std(ddof=1) / np.sqrt(len(runs)))
    return float(np.logaddexp.reduce(each) - np.log(len(runs))), max(own, apart)


def together(runs: list[Sample]) -> Sample:
    """The draws of independent runs as one sample."""
    draws, likelihoods = (np.concatenate([getattr(r, k) for r in runs]) for k in ("draws", "log_likelihood"))
    return Sample(draws, likelihoods, *joined(runs))


def verdict_of(causes: tuple[Cause, ...]) -> str:
    """The verdict in words: a cause that is likely enough; else what can be said of several together."""
    sure = diagnosis_values()["sure"].value
    weight = {c.name: c.weight for c in causes}
    if causes[0].weight >= sure:
        return causes[0].says
    if sum(weight[n] for n in CLIMATE) >= sure:
        return "the garden's climate, cannot tell yet in what way"
    if 1.0 - weight["nothing"] >= sure:
        return "something is wrong, cannot tell yet what"
    return "cannot tell yet"


def notes_of(problem: Problem) -> tuple[str, ...]:
    """What the diagnosis could not take into account."""
    notes = [n for n in problem.notes if not n.startswith("no climate record")]
    if problem.colony.climate is None:
        notes.append("no climate record: dry, cold and hot are hidden faults of unknown depth")
    if not stated_room(problem):
        notes.append("no usable volume is stated, so 'no room left' was not weighed")
    return tuple(notes)


def nothing_to_weigh(colony: Colony) -> bool:
    """Whether the record holds neither an observation nor a climate, so that every weight is as before it."""
    return not colony.observations and colony.climate is None


def error_text(colony: Colony, error: float) -> str:
    """What chance in the fits does to the weights: `error` is that of the logarithm of the ratio of two of them."""
    if nothing_to_weigh(colony):
        return "no observation to weigh: every weight is the chance beforehand"
    low, high = (100 / (1 + np.exp(s * error)) for s in (1, -1))
    if high - low < 2:
        return "chance in the fits moves a weight by less than 1 %"
    return f"chance in the fits: a weight of 50 % might as well be {low:.0f} to {high:.0f} %"


def weights(names: list[str], log_evidence: Array, logged: Array) -> Array:
    """Weights (causes, days) from log evidence and the chances of what a logger shows, both of that shape: "nothing"
    has its prior, the rest share evenly."""
    nothing = diagnosis_values()["nothing"].value
    prior = np.array([nothing if n == "nothing" else (1 - nothing) / (len(names) - 1) for n in names])
    scaled = prior[:, None] * logged * np.exp(log_evidence - log_evidence.max(axis=0))
    return np.asarray(scaled / scaled.sum(axis=0))


def checkpoints(problem: Problem, history: int) -> Array:
    """Days of the record on which weights are told, the last included."""
    seen = np.unique(problem.record[0])
    seen = seen[seen < problem.days]
    if not history or not len(seen):
        return np.array([float(problem.days)])
    chosen = seen[np.unique(np.linspace(0, len(seen) - 1, min(history, len(seen))).astype(int))]
    return np.append(chosen, float(problem.days))


def grown(problem: Problem, before: Posterior | None, day: float, particles: int, moves: int, seed: int) -> Posterior:
    """The posterior on a day of the record, from that of an earlier day where there is one."""
    now = until(problem, day)
    if before is None:
        drawn = sample(now.log_likelihoods, len(now.free), particles=particles, moves=moves, seed=seed)
    else:
        drawn = extend(now.log_likelihoods, before.problem.log_likelihoods, before.sample, moves=moves, seed=seed)
    return Posterior(now, drawn)


def until(problem: Problem, day: float) -> Problem:
    """The problem with the record up to a day."""
    if day >= problem.days:
        return problem
    seen = problem.record[0] <= day
    happened = problem.events[0] < day
    return replace(
        problem,
        days=int(day),
        record=tuple(column[seen] for column in problem.record),  # type: ignore[arg-type]
        events=tuple(column[happened] for column in problem.events),  # type: ignore[arg-type]
    )


def cause(rival: Rival, posterior: Posterior, weight: float) -> Cause:
    """What is said of one cause."""
    free = {f.name: (j, f) for j, f in enumerate(rival.problem.free)}

    def spread(name: str) -> tuple[float, float, float] | None:
        if name not in free:
            return None
        j, f = free[name]
        low, middle, high = np.quantile(f.value(posterior.sample.draws[:, j]), BAND)
        return float(low), float(middle), float(high)

    since = spread("onset")
    if since is None and rival.shown_from is not None and rival.shown_from > 0:
        since = (rival.shown_from,) * 3
    note = rival.note
    if rival.name == "harmful_leaf" and since is not None:
        given = [e.plant for e in rival.problem.colony.events if e.plant and since[0] - 7 <= e.day <= since[2]]
        if given:
            note = "given in the days before: " + ", ".join(sorted(set(given)))
    evidence = posterior.sample.log_evidence
    return Cause(rival.name, SAYS[rival.name], weight, evidence, since, spread("size"), rival.size_unit, note)
