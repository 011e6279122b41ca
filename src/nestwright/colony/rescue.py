"""A colony that lost its garden: what donor garden, how many workers and which chance it has.

Uncertain values of the card are drawn from their ranges; each draw goes on several times with births and deaths by
chance. Every amount is tried on the same draws with the same seeds, so that amounts differ by the garden alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.fit import Ends, Posterior, report
from nestwright.colony.kernel import (
    BROOD,
    EGGS,
    FORAGERS,
    GARDEN,
    LARVAE,
    LEAVES,
    N_FORAGER,
    N_NURSE,
    N_STATE,
    NURSES,
    PUPAE,
    inside_share,
)
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.problem import FITTED, Free, development, from_range
from nestwright.colony.results import BAND, Rescue, RescueCase
from nestwright.data import SpeciesCard, colony_values, load_species
from nestwright.errors import InputError

Array = NDArray[np.float64]

__all__ = ["REMINDERS", "held_by", "rescue", "rescue_colony", "usual_amounts"]

DRAWS, PER_DRAW = 128, 4
"""Draws of the card, and paths of each."""
AMOUNTS = 7
LEFT, FEWEST, SHARE = 1.0, 5, 0.5
"""What must be there at the end: garden mL; workers, and the share of those that came."""
ENOUGH = 0.9
MOST_DAYS, MOST_WORKERS, MOST_GARDEN = 730, 1e6, 1e6
WARMTH = (5.0, 40.0)
"""Temperatures, degC, that are no slip of the pen."""
MOVES = 0.3
"""Rank correlation with the outcome from which a value is said to carry it: three standard errors of chance."""

UNCERTAIN = (*FITTED, "queen_tends", "hunger_death", "untended_loss", "larva_food", "worker_food", "orphan_death")
"""Values of the card drawn beside the length of the brood and, without a record, the dry mass of a mL of garden."""
NOT_IN_FIT = tuple(name for name in UNCERTAIN if name not in FITTED)

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
    posterior's last day, and so are the values learnt. `queen` False: she is dead, whatever the record says."""
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
    amounts = checked_amounts(amounts, usual_amounts(card, workers))
    left = float(np.median(ends.states[:, GARDEN:LEAVES].sum(axis=1) / ends.vectors[:, P.DRY_DENSITY]))
    told = [f"workers, brood and queen as the record leaves them on day {problem.days}"]
    told += [f"about {left:.1g} mL of garden is left by the record and is counted besides what is given"]
    if 0.05 < float(queens.mean()) < 0.95:
        told += [f"whether the queen lays is not known: {100 * queens.mean():.0f} chances in 100 by the record"]
    if temperature is None:
        climate = problem.climate[-14:].mean(axis=0)[None].copy()
        told += ["climate: the mean of the record's last 14 days"]
    else:
        climate = climate_at(card, temperature)
    free = tuple(f for f in all_free(card) if f.target != P.DRY_DENSITY)
    return tried(card, ends, amounts, days, climate, seed, free, tuple(told))


def usual_amounts(card: SpeciesCard, workers: float) -> tuple[float, ...]:
    """Amounts to try, mL: 1, 2, 5 and tens of these, about the usual garden of so many workers, from 1 mL up."""
    usual = max(1.0, workers) * card.growth["garden_per_worker"].value
    series = [step * 10.0**power for power in range(8) for step in (1, 2, 5)]
    first = next(i for i, x in enumerate(series) if x >= min(0.1 * usual, 1e6))
    return tuple(series[first : first + AMOUNTS])


def checked_amounts(amounts: Sequence[float] | None, usual: tuple[float, ...]) -> tuple[float, ...]:
    """Amounts in rising order, each once. Raises InputError."""
    if amounts is None:
        return usual
    made = sorted({float(a) for a in amounts})
    if not made or len(made) > 40 or not all(0 <= a <= MOST_GARDEN for a in made):
        found = ", ".join(f"{a:g} mL" for a in made[:5])
        raise InputError(
            "are no amounts of donor garden", field="garden", found=found, allowed="1 to 40 amounts of 0 to 1000000 mL"
        )
    return tuple(made)


def check_counts(workers: float, brood: Sequence[float], queen: bool) -> None:
    """Raises InputError for a count that is none, and where nothing came alive."""
    for name, count in zip(("workers", "eggs", "larvae", "pupae"), (workers, *brood), strict=True):
        if not 0 <= count <= MOST_WORKERS or count != int(count):
            raise InputError(
                "is no count", field=name, found=f"{count:g}", allowed=f"a whole number, 0 to {MOST_WORKERS:.0f}"
            )
    if workers == 0 and not queen:
        raise InputError("nothing is left to rescue", field="workers", found="0 without a queen", allowed="1 or more")


def check_run(days: int, temperature: float | None) -> None:
    """Raises InputError for a look ahead or a temperature out of range."""
    if not 1 <= days <= MOST_DAYS:
        raise InputError("is no look ahead", field="days", found=str(days), allowed=f"1 to {MOST_DAYS} days")
    if temperature is not None and not WARMTH[0] <= temperature <= WARMTH[1]:
        allowed = f"{WARMTH[0]:.0f} to {WARMTH[1]:.0f} degC"
        raise InputError("is no garden's temperature", field="temperature", found=f"{temperature:g}", allowed=allowed)


def all_free(card: SpeciesCard) -> tuple[Free, ...]:
    """The values drawn, log-normal within their ranges as a fit's prior is."""
    names = (*UNCERTAIN, "dry_density")
    free = [development(card), *(from_range(n, P.ORDER.index(n), card.growth[n]) for n in names)]
    return (*free, from_range("noise", P.NOISE, colony_values()["noise"]))


def values_of(free: Sequence[Free], n: int, rng: np.random.Generator) -> dict[str, Array]:
    """n draws of each value, one in each nth of its distribution (Latin hypercube)."""
    from scipy.special import ndtri

    return {f.name: f.value(ndtri((rng.permutation(n) + rng.random(n)) / n)) for f in free}


def arrivals(card: SpeciesCard, workers: float, brood: Sequence[float], queen: bool, seed: int) -> Ends:
    """What each path begins with: DRAWS vectors, each PER_DRAW times; each ant's age within its stage is drawn."""
    rng = np.random.default_rng(seed)
    free = all_free(card)
    vectors = np.repeat(P.card_vector(card)[None], DRAWS, axis=0)
    for f, values in zip(free, values_of(free, DRAWS, rng).values(), strict=True):
        vectors[:, f.target] = values
    # as in a fit: nearly all brood may live, and no worker is a nurse all its life
    vectors[:, P.BROOD_SURVIVAL] = np.minimum(vectors[:, P.BROOD_SURVIVAL], survival_most())
    vectors[:, P.NURSE_DAYS] = np.minimum(vectors[:, P.NURSE_DAYS], 0.8 * vectors[:, P.WORKER_DAYS])
    vectors[:, P.QUEEN] = float(queen)
    vectors = np.repeat(vectors, PER_DRAW, axis=0)
    states = np.zeros((len(vectors), N_STATE))
    for y, p in zip(states, vectors, strict=True):
        young = inside_share(p)
        ages = [young / N_NURSE] * N_NURSE + [(1 - young) / N_FORAGER] * N_FORAGER
        y[NURSES : FORAGERS + N_FORAGER] = rng.multinomial(int(workers), ages)
        for first, count in zip((EGGS, LARVAE, PUPAE), brood, strict=True):
            y[first : first + BROOD] = rng.multinomial(int(count), [1 / BROOD] * BROOD)
    return Ends(vectors, states, np.zeros(len(vectors)), np.full(len(vectors), float(queen)))


def survival_most() -> float:
    """The most brood that a fit lets live."""
    from nestwright.colony.likelihood import SURVIVAL_MOST

    return float(SURVIVAL_MOST)


def climate_at(card: SpeciesCard, temperature: float | None) -> Array:
    """One day's climate for ever, shape (1, 6): inside the limits but for the temperature stated, degC."""
    row = np.zeros((1, 6))
    row[0, 0] = card.growth["reference_temperature"].value if temperature is None else temperature
    if temperature is not None:
        for limit in card.limits:
            if limit.role == "garden" and limit.quantity == "temperature":
                row[0, 1] = max(0.0, temperature + 273.15 - limit.high) if limit.high is not None else 0.0
                row[0, 2] = max(0.0, limit.low - temperature - 273.15) if limit.low is not None else 0.0
    return row


def paths_with(ends: Ends, garden: float, days: int, climate: Array, seed: int) -> dict[str, Array]:
    """Columns of `noise.TABLE` by name, each (paths, days + 1), after `garden` mL more on the first morning."""
    states = ends.states.copy()
    states[:, GARDEN:LEAVES] += (garden * ends.vectors[:, P.DRY_DENSITY] / (LEAVES - GARDEN))[:, None]
    out = np.empty((len(states), days + 1, len(TABLE)))
    none = (np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0))
    run_paths(ends.vectors, states, 0, days, climate, ends.rooms, ends.queens, none, seed, out)
    return {name: out[:, :, i] for i, name in enumerate(TABLE)}


def pulled_through(table: dict[str, Array], queens: Array) -> NDArray[np.bool_]:
    """Which paths (n,) came through: garden left, workers enough, and with a queen brood there or workers more."""
    workers, came = table["workers"][:, -1], table["workers"][:, 0]
    brood = table["eggs"][:, -1] + table["larvae"][:, -1] + table["pupae"][:, -1]
    goes_on = (brood > 0) | (workers > came)
    enough = workers >= np.maximum(FEWEST, SHARE * came)
    return np.asarray((table["garden"][:, -1] > LEFT) & enough & np.where(queens > 0.5, goes_on, True))


def held_by(ends: Ends, garden: float) -> tuple[float, float, float]:
    """Workers at which each has as much of `garden` mL as it can tend, beside the queen: 10, 50, 90 %."""
    rest = np.maximum(0.0, garden - ends.vectors[:, P.QUEEN_TENDS] * ends.queens)
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
) -> Rescue:
    """Every amount on the same paths."""
    cases, ending = [], []
    for garden in amounts:
        table = paths_with(ends, garden, days, climate, seed)
        through = pulled_through(table, ends.queens)
        shares = through.reshape(-1, PER_DRAW)
        late = np.log1p(table["workers"][:, days // 2 :]).mean(axis=1)
        ending.append(late.reshape(-1, PER_DRAW).mean(axis=1))
        born = first_day(table["emerged"] - table["emerged"][:, :1] >= 1)
        cases.append(
            RescueCase(
                garden=garden,
                pulls_through=float(through.mean()),
                interval=interval_of(shares.sum(axis=1)),
                held_by=held_by(ends, garden),
                first_workers=span(born),
                workers_at_end=band_of(table["workers"][:, -1]),
                garden_at_end=band_of(table["garden"][:, -1]),
                workers_last=span(first_day(table["workers"] < 1)),
                garden_lasts=span(first_day(table["garden"] < LEFT)),
            )
        )
    first = paths_start(ends)
    queen = bool(ends.queens.mean() > 0.5)
    return Rescue(
        species=card.name,
        queen=queen,
        workers=first[0],
        brood=first[1:],
        days=days,
        cases=tuple(cases),
        enough=next((c.garden for c in cases if c.pulls_through >= ENOUGH), None),
        judgements=carried_by(ends, free, np.mean(ending, axis=0)),
        notes=(*told, *notes_of(card, ends, days, climate, free)),
    )


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
    beta-binomial likelihood on a grid, with half a path of either outcome added, so that none of 500 is not never.
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
    meant = f"garden over {LEFT:.0f} mL and at least half of the workers that came, never fewer than {FEWEST}"
    meant += ", with brood there or more workers than came" if queen else ""
    judged = sum(f.mark == "judgement" for f in free)
    made = [
        f"pulls through: after {days} days {meant}",
        f"interval: 80 % over what is not known of the species; {judged} of {len(free)} values drawn are judgement",
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
