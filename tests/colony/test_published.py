"""The growth model against what was published about colonies: tests/reference/colony.csv, one case a row.

Every case runs the model: either with the card's own values, or over the free values of a fit between the 5 and 95 %
points of their priors ("reached within the priors"). `circular` says that a value of the card was set from the very
figure: such a row guards a slip and proves nothing. Rows that the model misses stand in MISSED, with what it gives and
the reason.
What a colony bears without queen, ants or garden is in test_rescue.py.
"""

import csv
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from nestwright.colony import kernel as K  # noqa: N812
from nestwright.colony import parameters as P  # noqa: N812
from nestwright.data import species_names

sys.path.insert(0, str(Path(__file__).parent))

from colony_runs import (
    BEST,
    FOUNDING,
    MONTH,
    cohort,
    column,
    corner,
    free_values,
    paths,
    poor,
    pulse,
    run,
    spread,
    times,
    vector,
    well_kept,
)

YEAR = 365.25
FIRST_EGGS = 3  # days after founding: Wirth et al. 2003, Ecological Studies 164 (secondary)
LITRE = 1000.0
CASES = {}
SPREAD = "24 stages spread the brood time by a fifth of itself, published ranges are far narrower"
MISSED = {
    "brood spread brunneus": (0.38, SPREAD),
    "brood spread subterraneus": (0.26, SPREAD),
    "brood spread molestans": (0.14, SPREAD),
    "founding of A. sexdens by the card": (56.2, "hours too early: the spread of the brood time again"),
    "A. versicolor, a threshold at 89": (1.47, "growth steadies evenly, as 1 over the root of the workers"),
    "A. versicolor, small colonies at risk": (0.0, "none of 400 is lost: nothing kills a queen or a tended garden"),
    "times 3 in 18 days: heat that does little harm": (4.3, "eight values at their best ends and little harm"),
}
"""Rows that the model does not reproduce: what it gives instead, to two figures or so, and why."""


def case(*starts):
    """A case for the rows whose names start so."""

    def keep(function):
        for start in starts:
            CASES[start] = function
        return function

    return keep


def rows():
    with (Path(__file__).parents[1] / "reference/colony.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def case_of(row):
    return CASES[max((start for start in CASES if row["name"].startswith(start)), key=len)]


@pytest.mark.parametrize("row", [pytest.param(row, id=row["name"]) for row in rows() if row["name"] not in MISSED])
def test_row(row):
    got = case_of(row)(row)
    low, high = float(row["low"]), float(row["high"])
    if "reached within the priors" in row["quantity"]:
        assert np.any((got >= low) & (got <= high)), f"from {np.min(got):.4g} to {np.max(got):.4g}"
    else:
        assert low <= got <= high


@pytest.mark.parametrize("row", [pytest.param(row, id=row["name"]) for row in rows() if row["name"] in MISSED])
def test_a_row_that_is_missed_is_missed_by_as_much_as_is_told(row):
    """Neither better nor worse than MISSED says; a row that is met leaves the list."""
    told, why = MISSED[row["name"]]
    got = float(case_of(row)(row))
    assert not float(row["low"]) <= got <= float(row["high"]), f"met: no longer so that {why}"
    assert got == pytest.approx(told, rel=0.03, abs=0.005), why


def test_rows_are_whole():
    for row in rows():
        assert row["species"] in species_names()
        assert row["mark"] in ("published", "secondary", "derived", "common practice, no source")
        assert row["circular"] in ("yes", "no")
        assert float(row["low"]) < float(row["high"])
        assert row["source"]
        if row["expected"]:
            assert float(row["low"]) <= float(row["expected"]) <= float(row["high"]), row["name"]
    names = [row["name"] for row in rows()]
    assert len(set(names)) == len(names)
    assert set(MISSED) <= set(names)


def given(row):
    """The numbers among a row's inputs."""
    return {k.strip(): float(v) for k, v in (part.split("=") for part in row["inputs"].split(";") if "=" in part)}


# ---- brood ----


def emergence(got):
    """Days and share of the cohort that emerged by each."""
    emerged = got.total(K.EMERGED)
    return np.arange(len(emerged)), emerged / emerged[-1]


def paces(species):
    """The factor on all stages at 13 points between the ends of its prior."""
    development = next(f for f in free_values(species) if f.name == "development")
    return development.value(np.linspace(-1.645, 1.645, 13))


@case("brood time")
def brood_time(row):
    out = []
    for pace in paces(row["species"]):
        days, by = emergence(cohort(row["species"], development=pace))
        out.append(np.trapezoid(1 - by, days))
    return np.array(out)


@case("brood stages")
def brood_stages(row):
    names = ("egg", "larva", "pupa")
    wanted = np.array([given(row)[k] for k in names])
    worst = []
    for pace in paces(row["species"]):
        got = cohort(row["species"], development=pace)
        totals = (got.eggs, got.eggs + got.larvae, got.eggs + got.larvae + got.pupae)
        lengths = np.diff([np.trapezoid(t / t[0]) for t in totals], prepend=0.0)
        worst.append(np.abs(lengths / wanted - 1).max())
    return min(worst)


@case("brood spread")
def brood_spread(row):
    v = given(row)
    days, by = emergence(cohort(row["species"], egg_days=v["egg"], larva_days=v["larva"], pupa_days=v["pupa"]))
    return np.interp(v["most"], days, by) - np.interp(v["least"], days, by)


# ---- founding ----


def first_days(p, days=90):
    """Day on which the first whole one of each kind is expected, from founding; infinite where none comes."""
    got = run(p, days)
    out = []
    for name in ("eggs", "larvae", "pupae", "workers"):
        count = getattr(got, name)
        out.append(FIRST_EGGS + np.interp(1.0, count[: count.argmax() + 1], np.arange(count.argmax() + 1)))
        if count.max() < 1:
            out[-1] = np.inf
    return np.array(out)


def founding_draws(species, n=300):
    return np.array([first_days(p) for p in spread(vector(species, garden=FOUNDING), species, n)])


@case("founding of A. sexdens")
def founding_together(row):
    ends = {
        r["name"].split(": ")[1]: (float(r["low"]), float(r["high"]))
        for r in rows()
        if r["name"].startswith("founding of A. sexdens:")
    }
    low, high = np.array([ends[k] for k in ("eggs", "larvae", "pupae", "workers")]).T
    got = founding_draws(row["species"])
    return np.mean(((got >= low) & (got <= high)).all(axis=1))


@case("founding of A. sexdens: ")
def founding_stage(row):
    kind = row["name"].split(": ")[1]
    return founding_draws(row["species"])[:, ("eggs", "larvae", "pupae", "workers").index(kind)]


@case("founding of A. sexdens by the card")
def founding_by_the_card(row):
    return first_days(vector(row["species"], garden=FOUNDING))[-1]


@case("founding of A. octospinosus")
def founding_octospinosus(row):
    return run(vector(row["species"], garden=FOUNDING), 82).workers[82]


# ---- laying and life ----


@case("laying, fewest")
def laying_fewest(row):
    laid = np.diff(run(vector(row["species"], garden=FOUNDING), 1500).total(K.LAID))
    return int(np.argmax(laid >= given(row)["eggs"]))


@case("laying, most")
def laying_most(row):
    draws = spread(vector(row["species"], garden=FOUNDING), row["species"], 100)
    return np.array([np.diff(run(p, 1500).total(K.LAID))[-1] for p in draws])


@case("worker life")
def worker_life(row):
    p = vector(row["species"], garden=2000, laying_founding=0, laying_per_worker=0)
    y = np.zeros(K.N_STATE)
    K.start_state(p, y)
    y[K.NURSES] = 100
    return np.trapezoid(run(p, 1000, start=y).workers / 100) / MONTH


# ---- growth ----


def age_at(got, workers):
    """Years at which so many workers are passed; infinite where they never are."""
    return np.argmax(got.workers >= workers) / YEAR if got.workers.max() >= workers else np.inf


@case("A. cephalotes, most")
def cephalotes_most(row):
    return run(vector(row["species"], garden=FOUNDING), 1461, room=20 * LITRE).workers[-1]


@case("A. cephalotes, largest")
def cephalotes_largest(row):
    draws = spread(vector(row["species"], garden=FOUNDING), row["species"], 60)
    return np.array([run(p, 1461, room=20 * LITRE).workers[-1] for p in draws])


@case("A. cephalotes, others")
def cephalotes_others(row):
    draws = spread(vector(row["species"], garden=FOUNDING), row["species"], 150)
    return np.array([age_at(run(p, 1900, room=20 * LITRE), 1e4) for p in draws])


@case("A. cephalotes, 10,000")
def cephalotes_by_the_card(row):
    return age_at(run(vector(row["species"], garden=FOUNDING), 1900, room=20 * LITRE), 1e4)


@case("A. versicolor, exponential")
def exponential(row):
    got = run(vector(row["species"], garden=FOUNDING), 183)
    day, y = np.arange(60, 184), np.log(getattr(got, row["name"].split()[-1])[60:])
    return np.corrcoef(day, y)[0, 1] ** 2


@case("A. versicolor, 89")
def versicolor_size(row):
    draws = spread(vector(row["species"], garden=FOUNDING), row["species"], 100)
    return np.array([run(p, 183).workers[-1] for p in draws])


def variation(species, workers):
    """Coefficient of variation over many paths of the growth of 30 d from so many workers."""
    p = vector(species, workers=workers, garden=workers, brood=1.2 * workers)
    many = column(paths(p, 30, 600, seed=workers), "workers")
    growth = np.log((many[:, -1] + 0.5) / (workers + 0.5))
    return growth.std(ddof=1) / growth.mean()


@case("A. versicolor, steadier")
def versicolor_steadier(row):
    return variation(row["species"], 22) / variation(row["species"], 356)


@case("A. versicolor, a threshold")
def versicolor_threshold(row):
    return variation(row["species"], 60) / variation(row["species"], 132)


@case("A. versicolor, small")
def versicolor_small(row):
    many = column(paths(vector(row["species"], workers=8, garden=8), 120, 400), "workers")
    return np.mean(many[:, -1] == 0)


@case("garden against workers")
def garden_slope(row):
    got = run(vector(row["species"], garden=FOUNDING), 1461)
    ages = np.geomspace(120, 1461, 20).astype(int)
    return np.polyfit(np.log(got.workers[ages]), np.log(got.mass[ages]), 1)[0]


def garden_of_five_years(p):
    """Months and garden, L, of a nest with room for all that it grows to."""
    got = run(p, int(60 * MONTH), room=3000 * LITRE)
    return np.arange(len(got.garden)) / MONTH, got.garden / LITRE


def half_size(p):
    months, garden = garden_of_five_years(p)
    passed = int(np.argmax(garden >= garden[-1] / 2))
    return np.interp(garden[-1] / 2, garden[: passed + 1], months[: passed + 1])


@case("half size of A. sexdens")
def half_size_by_the_card(row):
    return half_size(vector(row["species"], garden=FOUNDING))


@case("half size of A. laevigata")
def half_size_within(row):
    return np.array([half_size(p) for p in spread(vector(row["species"], garden=FOUNDING), row["species"], 60)])


@case("early growth of A. sexdens")
def early_growth(row):
    months, garden = garden_of_five_years(vector(row["species"], garden=FOUNDING))
    guess = (garden[-1], 20.0, 0.5)
    (_, _, rate), _ = curve_fit(lambda t, k, half, r: k / (1 + np.exp(-r * (t - half))), months, garden, p0=guess)
    return rate


# ---- garden ----


@case("substrate life")
def substrate_life(row):
    return np.trapezoid(pulse(row["species"]).mass)


@case("best yield")
def best_yield(row):
    got = pulse(row["species"])
    w = np.empty(K.N_AGE)
    K.weigh_food(got.p, w)
    return int(np.argmax(got.states[:, K.GARDEN : K.LEAVES] @ w))


@case("refuse to intake")
def refuse(row):
    got = run(vector(row["species"], garden=FOUNDING), 8 * 365)
    waste, intake = (got.total(i)[-1] - got.total(i)[-101] for i in (K.WASTE, K.TAKEN_IN))
    return waste / intake


@case("exposure to the dump")
def dump(row):
    grown = run(vector(row["species"], garden=FOUNDING), 8 * 365).states[-1]
    exposed, spared = (
        run(vector(row["species"], dump_exposure=x), 1, start=grown).total(K.DIED)[-1] - grown[K.DIED] for x in (1, 0)
    )
    return exposed / spared


# ---- best growth ----


@case("times 3 in 18 days: ")
def times_within(row):
    return np.array([times(p) for p in spread(well_kept(row["species"]), row["species"], 300)])


@case("not times 3 by the card")
def not_times_by_the_card(row):
    return max(times(well_kept(row["species"]), air) for air in poor(row["species"]))


@case("not times 3 in a poor climate")
def not_times_at_best(row):
    p = corner(well_kept(row["species"]), row["species"], high=BEST)
    return max(times(p, air) for air in poor(row["species"]))


@case("times 3 in 18 days: heat")
def times_with_little_harm(row):
    p = corner(well_kept(row["species"]), row["species"], high=BEST)
    p[P.HARM_SCALE] = np.exp(-0.6 * 1.645)  # the 5 % point of a fit with a climate record
    return times(p, poor(row["species"])[0])
