"""From the fits of a dry run to its verdict: how the build behaves, which part makes the difference, what is told."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_fit import Fits
from nestwright.climate.dry_run_parts import Part
from nestwright.climate.dry_run_problem import Problem
from nestwright.climate.dry_run_results import Aspect, Cause, Explanation, PartResult, Sum, told
from nestwright.climate.dry_run_values import dry_run_values

Array = NDArray[np.float64]

__all__ = ["Draws", "aspects_of", "causes_of", "draw", "explanations_of", "parts_told", "sums_of", "verdict_of"]

ENDS = (0.1, 0.5, 0.9)
"""Ends of an 80 % interval and its middle."""
CO2 = 7
"""Column of an opening's conductance for CO2."""
OUTSIDE, INSIDE = 1.5, 2.0
"""A side is as designed within so many tolerances of its parts; a way between chambers matters less than the others."""
TOLD, MEMBER = 0.25, 0.1
AS_DESIGNED = "as designed"


class Draws:
    """Factors of every part drawn from all explanations by their chances: `factor` shape (draws, parts); leaks that an
    explanation leaves out are 0. `conductance` m3/s of CO2 through each part at factor 1 (0 for what is no opening)."""

    def __init__(self, problem: Problem, factor: Array) -> None:
        self.parts, self.factor = problem.parts, factor
        rows = {path.name: path.row for path in problem.assembly.paths}
        table = problem.assembly.network.net.opening_v
        self.conductance = np.array([table[rows[p.name], CO2] if p.name in rows else 0.0 for p in self.parts])

    def share(self, chosen: list[int]) -> Array:
        """What the chosen openings let through together over their design, shape (draws,).

        Where the design has no opening but only leaks may be: 1 + the leaks over `leak_area`.
        """
        g = self.conductance[chosen]
        leak = np.array([self.parts[k].leak for k in chosen])
        through = self.factor[:, chosen] @ g
        return np.asarray(through / g[~leak].sum() if (~leak).any() else 1 + through / g.sum())


def draw(problem: Problem, fits: Fits, count: int, rng: np.random.Generator) -> Draws:
    """Draw factors from the mixture of all explanations; shape of `factor` (count, parts)."""
    place = {p.name: k for k, p in enumerate(problem.parts)}
    out = np.array([0.0 if p.leak else 1.0 for p in problem.parts]) * np.ones((count, 1))
    which = rng.choice(len(fits.explained), count, p=fits.chances)
    for k in np.unique(which):
        fit, rows = fits.explained[k], np.flatnonzero(which == k)
        made = rng.multivariate_normal(fit.log_factor, fit.covariance, len(rows), method="eigh")
        columns = [place[name] for name in fit.names]
        out[rows[:, None], np.array(columns)] = np.exp(np.clip(made, -7.0, 7.0))
    return Draws(problem, out)


def _ways(parts: tuple[Part, ...]) -> dict[str, list[int]]:
    """Openings by what they join: a chamber and the room, or two chambers."""
    found: dict[str, list[int]] = {}
    for k, part in enumerate(parts):
        if not part.between[0]:
            continue
        inner = [e for e in part.between if e != "room"]
        name = f"{inner[0]} to the room" if len(inner) == 1 else f"{inner[0]} to {inner[1]}"
        found.setdefault(name, []).append(k)
    return found


def _off(draws: Draws) -> list[tuple[str, tuple[str, str], Array, float, list[int]]]:
    """Each side of the behaviour: name, words, factor (draws,), ln of what is as designed, parts."""
    band = math.log(dry_run_values()["as_designed_band"].value)
    out: list[tuple[str, tuple[str, str], Array, float, list[int]]] = []
    for name, chosen in _ways(draws.parts).items():
        real = [k for k in chosen if not draws.parts[k].leak]
        outside = name.endswith(" to the room")
        if not real and not outside:
            continue
        words = ("tighter", "leakier" if outside and real else "leaks" if outside else "more open")
        g = draws.conductance[real]
        spread = math.sqrt(sum((g[n] / g.sum() * draws.parts[k].tolerance) ** 2 for n, k in enumerate(real)))
        allowed = max(band, (OUTSIDE if outside else INSIDE) * spread)
        out.append((name, words, draws.share(chosen), allowed, chosen))
    kinds = {
        "block": ("weaker", "stronger"),
        "heater": ("weaker", "stronger"),
        "walls": ("insulate more", "insulate less"),
    }
    for k, part in enumerate(draws.parts):
        if part.kind in kinds:
            name = told(part.name)
            title = name if part.kind == "walls" or part.kind in name else f"{part.kind} {name}"
            out.append((title, kinds[part.kind], draws.factor[:, k], max(band, OUTSIDE * part.tolerance), [k]))
    return out


def aspects_of(draws: Draws) -> tuple[Aspect, ...]:
    """How the build behaves, side by side with the design."""
    made = []
    for name, words, factor, band, _ in _off(draws):
        ln = np.log(np.maximum(factor, 1e-9))
        low, middle, high = np.quantile(factor, ENDS).tolist()
        below, above = float((ln < -band).mean()), float((ln > band).mean())
        made.append(Aspect(name, words, low, middle, high, below, 1 - below - above, above))
    return tuple(made)


def verdict_of(draws: Draws) -> tuple[str, str, float, bool]:
    """Verdict, likeliest behaviour as a whole, the chance of the verdict (or of that), and whether it is a verdict.

    Told are the sides that are off with a chance of `sure_from` or more; "as designed" when all sides together are
    within with that chance; else "cannot tell".
    """
    count, least = len(draws.factor), dry_run_values()["sure_from"].value
    labels = [""] * count
    told_off, all_off, within = [], np.ones(count, bool), np.ones(count, bool)
    for name, words, factor, band, _ in _off(draws):
        ln = np.log(np.maximum(factor, 1e-9))
        within &= np.abs(ln) <= band
        for word, off in zip(words, (ln < -band, ln > band), strict=True):
            if off.mean() >= least:
                told_off.append(f"{name} {word}")
                all_off &= off
            for k in np.flatnonzero(off):
                labels[k] += (", " if labels[k] else "") + f"{name} {word}"
    names, counts = np.unique(labels, return_counts=True)
    leaning = str(names[int(counts.argmax())]) or AS_DESIGNED
    if told_off:
        return ", ".join(told_off), leaning, float(all_off.mean()), True
    if within.mean() >= least:
        return AS_DESIGNED, leaning, float(within.mean()), True
    return "cannot tell", leaning, float(counts.max() / count), False


def causes_of(draws: Draws) -> tuple[tuple[Cause, ...], str]:
    """Parts by the chance that they put a side of the behaviour off, and the cause in words.

    In each draw where a side is off, the part is to blame that changes it most, by what it lets through. The words name
    the part for each side that is rather off than not, or the parts among which it cannot be told; "" when none is.
    """
    least = dry_run_values()["sure_from"].value
    chance = np.zeros(len(draws.parts))
    words = []
    for _, _, factor, band, chosen in _off(draws):
        off = np.abs(np.log(np.maximum(factor, 1e-9))) > band
        change = np.abs(draws.factor[:, chosen] - np.array([0.0 if draws.parts[k].leak else 1.0 for k in chosen]))
        if len(chosen) > 1:
            change = change * draws.conductance[chosen]
        guilty = np.array(chosen)[change.argmax(axis=1)]
        here = np.array([float((off & (guilty == k)).mean()) for k in range(len(draws.parts))])
        chance = np.maximum(chance, here)
        if off.mean() < 0.5:
            continue
        order = np.argsort(-here, kind="stable")
        needed = int(np.searchsorted(np.cumsum(here[order]) / off.mean(), least)) + 1
        names = [told(draws.parts[k].name) for k in order[:needed]]
        words.append(names[0] if len(names) == 1 else "cannot tell: " + " or ".join(names))
    found = [Cause(part.name, float(c)) for part, c in zip(draws.parts, chance, strict=True) if c >= 0.01]
    return tuple(sorted(found, key=lambda c: -c.chance)), "; ".join(words)


def parts_told(draws: Draws, fits: Fits) -> tuple[PartResult, ...]:
    """Each part's factor with its interval, and how much of the prior the readings took away."""
    area = dry_run_values()["leak_area"].value
    made = []
    for k, part in enumerate(draws.parts):
        at = fits.every.names.index(part.name)
        left = float(fits.every.covariance[at, at]) / float(fits.every.prior[at]) ** 2
        scale = area if part.leak else 1.0
        low, middle, high = (float(x) * scale for x in np.quantile(draws.factor[:, k], ENDS))
        known = min(max(1 - left, 0.0), 1.0)
        made.append(PartResult(part.name, part.kind, part.between, low, middle, high, known))
    return tuple(made)


def sums_of(draws: Draws, fits: Fits) -> tuple[Sum, ...]:
    """Openings that the readings tell only together: members of one well known direction of the posterior, each of
    which is poorly known alone. Directions are eigenvectors of the covariance with every part free, in units of the
    prior."""
    every = fits.every
    scaled = every.covariance / np.outer(every.prior, every.prior)
    sizes, vectors = np.linalg.eigh(scaled)
    alone = np.diag(scaled)
    open_ = {p.name: k for k, p in enumerate(draws.parts) if draws.conductance[k] > 0}
    groups: list[set[str]] = []
    for n in np.flatnonzero(sizes < TOLD):
        members = {
            every.names[k]
            for k in np.flatnonzero(vectors[:, n] ** 2 > MEMBER)
            if every.names[k] in open_ and alone[k] > TOLD
        }
        if len(members) > 1:
            joined = [g for g in groups if g & members]
            groups = [g for g in groups if not g & members] + [set().union(members, *joined)]
    made = []
    for group in groups:
        ends = {draws.parts[open_[name]].between for name in group}
        # a leak that lies beside them is part of the same sum, whether it is known or not
        also = {p.name for p in draws.parts if p.leak and p.between in ends}
        chosen = sorted(open_[name] for name in group | also)
        if all(draws.parts[k].leak for k in chosen):
            continue
        low, middle, high = np.quantile(draws.share(chosen), ENDS).tolist()
        made.append(Sum(tuple(draws.parts[k].name for k in chosen), low, middle, high))
    return tuple(made)


def explanations_of(fits: Fits) -> tuple[Explanation, ...]:
    """Explanations with a chance of 1 % or more, likeliest first, and the design always."""
    level = fits.as_designed.squares
    return tuple(
        Explanation(f.wrong, float(c), level - f.squares)
        for f, c in zip(fits.explained, fits.chances, strict=True)
        if c >= 0.01 or not f.wrong
    )
