"""A colony that lost its garden: what donor garden, how many workers and which chance it has.

Uncertain values of the card are drawn from their ranges; each draw goes on several times with births and deaths by
chance. Every amount is tried on the same draws with the same seeds, so that amounts differ by the garden alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.cores import ALL_CORES
from nestwright.colony.fit import Ends, Posterior, report
from nestwright.colony.kernel import BROOD, EGGS, GARDEN, LARVAE, LEAVES, NURSES, PUPAE
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.problem import Free, from_range
from nestwright.colony.rescue_start import (
    DRAWS,
    NOT_IN_FIT,
    PER_DRAW,
    all_free,
    arrivals,
    check_counts,
    check_run,
    checked_amounts,
    climate_at,
    usual_amounts,
    values_of,
)
from nestwright.colony.rescue_verdict import SAME, as_good_as_best, reaches, verdict_of
from nestwright.colony.results import BAND, Came, Rescue, RescueCase
from nestwright.data import SpeciesCard, load_species

Array = NDArray[np.float64]

__all__ = ["REMINDERS", "held_by", "paths_with", "pulled_through", "rescue", "rescue_colony"]

LEFT, FEWEST, SHARE = 1.0, 5, 0.5
"""What must be there at the end: garden mL; workers, and the share of those that came."""
TOLD = 0.1
"""Share of the outcomes from which it is said that they rest on a queen who begins anew."""
FOUNDING = ("laying_founding", "queen_tends", "queen_brings")
MOVES = 0.3
"""Rank correlation with the outcome from which a value is said to carry it: three standard errors of chance."""

REMINDERS = (
    "garden of another colony is accepted, its workers are not: pick every worker, and as far as it can be done all "
    "foreign brood, off donor garden (common practice, no source)",
    "donor garden can bring Escovopsis and mites: take it from a colony known to be sound, and keep receiver and tools "
    "apart from other colonies for some weeks (common practice, no source)",
    "leafcutters and their fungus are regulated as plant pests in many places: moving garden between keepers may need "
    "permission, and nothing may escape; local rules come first",
)


def rescue(
    species: str,
    workers: float,
    eggs: float = 0,
    larvae: float = 0,
    pupae: float = 0,
    *,
    queen: bool = True,
    amounts: Sequence[float] | None = None,
    days: int = 120,
    temperature: float | None = None,
    card: SpeciesCard | None = None,
    seed: int = 1,
) -> Rescue:
    """Chance that a colony without garden pulls through, for each amount of donor garden.

    Parameters
    ----------
    species : str
        Name of a card; `card` stands in for the shipped one.
    workers, eggs, larvae, pupae : float
        What came alive, counts (whole numbers).
    queen : bool
        False: none, or she is dead.
    amounts : sequence of float, optional
        Donor garden, mL, given at once on the first day; by default `usual_amounts`.
    days : int
        Length of the look ahead.
    temperature : float, optional
        Of the garden, degC; by default that at which the card's figures hold.

    Returns
    -------
    Rescue
        Cases in the order of the amounts; the criterion and the reminders stand in `notes`.

    Raises
    ------
    InputError
        For a species without a card and for a figure outside its range.
    """
    card = card or load_species(species)
    brood = (eggs, larvae, pupae)
    check_counts(workers, brood, queen)
    amounts = checked_amounts(amounts, usual_amounts(card, workers))
    check_run(days, temperature)
    ends = arrivals(card, workers, brood, queen, seed)
    return tried(card, ends, amounts, days, climate_at(card, temperature), seed, all_free(card), ())


def rescue_colony(
    posterior: Posterior,
    *,
    queen: bool | None = None,
    amounts: Sequence[float] | None = None,
    days: int = 120,
    temperature: float | None = None,
    seed: int = 1,
) -> Rescue:
    """As `rescue`, for a colony with a record: workers, brood, queen and what is left of the garden are those of the
    posterior's last day, and so are the values learnt. `queen` False: she is dead, whatever the record says.

    No donor garden at all is always among the amounts: it may be that none is needed.
    """
    problem = posterior.problem
    card = problem.card
    check_run(days, temperature)
    _, last = report(posterior)
    rng = np.random.default_rng(seed)
    chosen = np.linspace(0, len(last.vectors) - 1, min(DRAWS, len(last.vectors))).astype(int)
    vectors = last.vectors[chosen].copy()
    drawn = values_of([from_range(n, P.ORDER.index(n), card.growth[n]) for n in NOT_IN_FIT], len(vectors), rng)
    for name, values in drawn.items():
        vectors[:, P.ORDER.index(name)] = values
    vectors[:, P.FREE_LEAVES] = 1.0
    index = np.repeat(np.arange(len(vectors)), PER_DRAW)
    queens = last.queens[chosen] if queen is None else np.full(len(vectors), float(queen)) * last.queens[chosen]
    ends = Ends(
        np.ascontiguousarray(vectors[index]),
        np.ascontiguousarray(last.states[chosen][index]),
        np.zeros(len(index)),
        queens[index],
    )
    workers = float(np.median(ends.states[:, NURSES:GARDEN].sum(axis=1)))
    amounts = tuple(sorted({0.0, *checked_amounts(amounts, usual_amounts(card, workers))}))
    came = came_of(posterior, ends)
    told = [
        f"workers, brood, queen and garden as the record leaves them on day {problem.days}; garden that is left counts "
        "beside what is given"
    ]
    if 0.05 < float(queens.mean()) < 0.95:
        told += [f"whether the queen lays is not known: {100 * queens.mean():.0f} chances in 100 by the record"]
    if temperature is None:
        climate = problem.climate[-14:].mean(axis=0)[None].copy()
        told += ["climate: the mean of the record's last 14 days"]
    else:
        climate = climate_at(card, temperature)
    free = tuple(f for f in all_free(card) if f.target != P.DRY_DENSITY)
    return tried(card, ends, amounts, days, climate, seed, free, tuple(told), came)


def came_of(posterior: Posterior, ends: Ends) -> Came:
    """Workers, garden and brood on a record's last day over the paths, and when each stage was last seen."""
    colony = posterior.problem.colony
    y = ends.states
    seen: list[str | None] = []
    for kind in ("eggs", "larvae", "pupae"):
        days = [o.day for o in colony.observations if o.kind == kind and o.value > 0.5]
        seen.append((colony.start + timedelta(days=int(max(days)))).isoformat() if days else None)
    return Came(
        workers=band_of(y[:, NURSES:GARDEN].sum(axis=1)),
        garden=band_of(y[:, GARDEN:LEAVES].sum(axis=1) / ends.vectors[:, P.DRY_DENSITY]),
        brood=tuple(band_of(y[:, first : first + BROOD].sum(axis=1)) for first in (EGGS, LARVAE, PUPAE)),
        last_seen=(seen[0], seen[1], seen[2]),
    )


def paths_with(ends: Ends, garden: float, days: int, climate: Array, seed: int) -> dict[str, Array]:
    """Columns of `noise.TABLE` by name, each (paths, days + 1), after `garden` mL more on the first morning."""
    states = ends.states.copy()
    states[:, GARDEN:LEAVES] += (garden * ends.vectors[:, P.DRY_DENSITY] / (LEAVES - GARDEN))[:, None]
    out = np.empty((len(states), days + 1, len(TABLE)))
    none = (np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0))
    with ALL_CORES:
        run_paths(ends.vectors, states, 0, days, climate, ends.rooms, ends.queens, none, seed, out)
    return {name: out[:, :, i] for i, name in enumerate(TABLE)}


def pulled_through(table: dict[str, Array], queens: Array, share: float = SHARE) -> NDArray[np.bool_]:
    """Which paths (n,) came through: garden left, workers enough (at least `share` of those that came), and with a
    queen brood there or workers more."""
    workers, came = table["workers"][:, -1], table["workers"][:, 0]
    brood = table["eggs"][:, -1] + table["larvae"][:, -1] + table["pupae"][:, -1]
    goes_on = (brood > 0) | (workers > came)
    enough = workers >= np.maximum(FEWEST, share * came)
    return np.asarray((table["garden"][:, -1] > LEFT) & enough & np.where(queens > 0.5, goes_on, True))


def held_by(ends: Ends, garden: float) -> tuple[float, float, float]:
    """Workers at which each has as much as it can tend of `garden` mL and what is left, beside the queen: 10, 50,
    90 %."""
    left = ends.states[:, GARDEN:LEAVES].sum(axis=1) / ends.vectors[:, P.DRY_DENSITY]
    rest = np.maximum(0.0, garden + left - ends.vectors[:, P.QUEEN_TENDS] * ends.queens)
    low, middle, high = np.quantile(rest / ends.vectors[:, P.TENDED_PER_WORKER], BAND)
    return float(low), float(middle), float(high)


def tried(
    card: SpeciesCard,
    ends: Ends,
    amounts: Sequence[float],
    days: int,
    climate: Array,
    seed: int,
    free: Sequence[Free],
    told: tuple[str, ...],
    came: Came | None = None,
) -> Rescue:
    """Every amount on the same paths."""
    cases, ending, outcomes = [], [], []
    queen = bool(ends.queens.mean() > 0.5)
    for garden in amounts:
        table = paths_with(ends, garden, days, climate, seed)
        through = pulled_through(table, ends.queens)
        living = pulled_through(table, ends.queens, share=0.0)
        late = np.log1p(table["workers"][:, days // 2 :]).mean(axis=1)
        ending.append(by_draw(late))
        born = first_day(table["emerged"] - table["emerged"][:, :1] >= 1)
        lived = first_day(table["workers"] < 1)
        # without a queen none goes on: the amount is chosen for how long the workers live
        outcomes.append(by_draw(through.astype(float) if queen else np.minimum(lived, days + 1.0)))
        anew = table["workers"][through].min(axis=1) < FEWEST
        cases.append(
            RescueCase(
                garden=garden,
                pulls_through=float(through.mean()),
                interval=interval_of(through.reshape(-1, PER_DRAW).sum(axis=1)),
                held_by=held_by(ends, garden),
                first_workers=span(born),
                workers_at_end=band_of(table["workers"][:, -1]),
                garden_at_end=band_of(table["garden"][:, -1]),
                workers_last=span(lived),
                garden_lasts=span(first_day(table["garden"] < LEFT)),
                founded_anew=float(anew.mean()) if queen and len(anew) else 0.0,
                lives_on=float(living.mean()),
            )
        )
    as_good = as_good_as_best(np.array(outcomes))
    cases = [replace(case, as_good=bool(good)) for case, good in zip(cases, as_good, strict=True)]
    left = came.garden[1] if came is not None and came.garden[1] > LEFT else 0.0
    verdict = verdict_of(queen, as_good, amounts[0] == 0, left)
    enough = next((case for case in cases if reaches(case.pulls_through)), None)
    chosen = next(case for case in cases if case.as_good)
    if verdict == "least" and enough is not None:
        chosen = enough
    first = paths_start(ends)
    return Rescue(
        species=card.name,
        queen=queen,
        workers=first[0],
        brood=first[1:],
        days=days,
        cases=tuple(cases),
        enough=None if enough is None else enough.garden,
        judgements=carried_by(ends, free, np.mean(ending, axis=0)),
        notes=(*told, *founding(card, first[0], chosen, queen), *notes_of(card, ends, days, climate, free)),
        verdict=verdict,
        recommended=chosen.garden,
        came=came,
    )


def by_draw(outcome: Array) -> Array:
    """Mean over the paths of each draw, (draws,) from (paths,)."""
    return np.asarray(outcome.reshape(-1, PER_DRAW).mean(axis=1))


def founding(card: SpeciesCard, workers: float, case: RescueCase, queen: bool) -> tuple[str, ...]:
    """What is to be said where the outcome rests on a queen who begins anew without workers."""
    if not queen or case.pulls_through == 0 or case.founded_anew < TOLD:
        return ()
    if workers < 1:
        told = "no worker came"
    elif workers < FEWEST:
        told = f"fewer than {FEWEST} workers came"
    else:
        told = (
            f"in {in_hundred(case.founded_anew)} of 100 outcomes that pull through there are once fewer than {FEWEST}"
        )
    judged = sum(card.growth[name].mark == "judgement" for name in FOUNDING)
    return (
        f"founding anew: {told}; then the chance rests on the laying queen raising workers alone, as a founding queen "
        f"does. That she still can is judgement, and so are {judged} of the {len(FOUNDING)} values it is worked out "
        "from (her eggs, the garden she tends, what she feeds it)",
    )


def in_hundred(share: float) -> str:
    """A share as so many of 100, never none and never all unless it is."""
    return f"{min(max(round(100 * share), 1), 99) if 0 < share < 1 else 100 * share:.0f}"


def paths_start(ends: Ends) -> tuple[float, float, float, float]:
    """Workers, eggs, larvae, pupae at first: medians over the paths."""
    y = ends.states
    workers = y[:, NURSES:GARDEN].sum(axis=1)
    brood = [y[:, first : first + BROOD].sum(axis=1) for first in (EGGS, LARVAE, PUPAE)]
    w, e, lv, pu = (float(np.median(x)) for x in (workers, *brood))
    return w, e, lv, pu


def first_day(happened: NDArray[np.bool_]) -> Array:
    """First day on which something has happened, (paths,) from (paths, days); infinite where it never has."""
    return np.where(happened.any(axis=1), happened.argmax(axis=1), np.inf)


def span(day: Array) -> tuple[float | None, float | None, float | None]:
    """Days by which it has happened in 10, 50 and 90 % of the paths; None where it has not by the end."""
    low, middle, high = (float(x) if np.isfinite(x) else None for x in np.quantile(day, BAND, method="higher"))
    return low, middle, high


def band_of(values: Array) -> tuple[float, float, float]:
    low, middle, high = np.quantile(values, BAND)
    return float(low), float(middle), float(high)


def interval_of(counts: Array, n: int = PER_DRAW) -> tuple[float, float]:
    """10 and 90 % points of the chance over the draws, from how many of n paths of each draw came through.

    The chance of a draw is taken as beta-distributed over the draws; mean and spread are those of largest
    beta-binomial likelihood on a grid, with half a path of either outcome added: none of some hundred is
    not never.
    Where fewer than a tenth of the draws lie on one side both points lie beyond the mean: they are widened to it.
    """
    from scipy.special import betainccinv, betaincinv, betaln

    total = n * len(counts)
    mean = (counts.sum() + 0.5) / (total + 1.0)
    size = np.geomspace(0.05, 500.0, 60)
    a, b = mean * size, (1.0 - mean) * size
    k, times = np.unique(counts, return_counts=True)
    like = betaln(k[:, None] + a, n - k[:, None] + b) - betaln(a, b)
    best = int((times @ like).argmax())
    low, high = betaincinv(a[best], b[best], BAND[0]), betainccinv(a[best], b[best], 1.0 - BAND[2])
    seen = counts.sum() / total
    return float(min(low, seen)), float(max(high, seen))


def carried_by(ends: Ends, free: Sequence[Free], outcome: Array) -> tuple[str, ...]:
    """Values without a published figure whose draws go with how many workers there are late on, the strongest
    first."""
    if outcome.std() < 1e-9:
        return ()
    vectors = ends.vectors[::PER_DRAW]

    def ranks(x: Array) -> Array:
        return np.asarray(np.unique(x, return_inverse=True)[1], dtype=float)

    strength = {
        f.name: abs(float(np.corrcoef(ranks(vectors[:, f.target]), ranks(outcome))[0, 1]))
        for f in free
        if f.mark == "judgement" and vectors[:, f.target].std() > 0
    }
    return tuple(sorted((k for k, r in strength.items() if r >= MOVES), key=lambda k: -strength[k]))


def notes_of(card: SpeciesCard, ends: Ends, days: int, climate: Array, free: Sequence[Free]) -> tuple[str, ...]:
    """What is meant by pulling through, what was assumed, and what is always to be minded."""
    queen = bool(ends.queens.mean() > 0.5)
    range_of = "interval: 80 % over" if queen else "ranges: 8 in 10, over chance and"
    meant = f"garden over {LEFT:.0f} mL and at least half of the workers that came, never fewer than {FEWEST}"
    meant += ", with brood there or more workers than came" if queen else ""
    judged = sum(f.mark == "judgement" for f in free)
    criterion = [
        f"pulls through: after {days} {'day' if days == 1 else 'days'} {meant}",
        "as good as the best: an amount whose mean outcome on the same draws is behind the best by no more than "
        f"{SAME:.0f} standard errors of the difference",
    ]
    made = [
        *criterion,
        f"{range_of} what is not known of the species; {judged} of {len(free)} values drawn are judgement",
        "donor garden is given at once, sound and of all ages; leaves as many as are taken; room without end; "
        f"{climate[0, 0]:.0f} degC and otherwise inside the limits"
        + (" (the garden's band is missed)" if climate[0, 1:3].any() else ""),
        "not counted: donor garden that is refused, mould and mites that come with it, harm by journey and handling; "
        "each lowers the chance",
    ]
    if queen:
        usual = sum(card.growth[k].value for k in ("egg_days", "larva_days", "pupa_days"))
        warmth = (climate[0, 0] - card.growth["reference_temperature"].value) / 10
        low, middle, high = np.quantile(
            usual * ends.vectors[:, P.DEVELOPMENT] / ends.vectors[:, P.DEVELOPMENT_Q10] ** warmth, BAND
        )
        made.append(f"an egg laid on the first day is a worker after {middle:.0f} days ({low:.0f} to {high:.0f})")
    else:
        made.append("without a queen no new eggs come: what counts is how long workers and garden last")
    return (*made, *REMINDERS)
