"""The rival causes of a diagnosis, each as the fit's problem with one pathway let in.

"nothing" is the growth model in a good climate with room and leaves enough. Every other cause adds to it one thing
only: what the record itself says of that thing (a logger's readings, the leaves given, the bell), or a hidden fault
that began on some day, where the record is silent. What a logger shows acts beside each hidden fault.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.likelihood import LINK_LOGIT, LINK_RANGE
from nestwright.colony.problem import NINETY, Free, Problem, from_range
from nestwright.data import Value, diagnosis_values

Array = NDArray[np.float64]

__all__ = ["CLIMATE", "SAYS", "Rival", "logger_chances", "rivals", "stated_room"]

SAYS = {
    "nothing": "nothing wrong",
    "queen": "queen lost or not laying",
    "leaves": "too few leaves",
    "dry": "too dry",
    "wet": "too wet",
    "cold": "too cold",
    "hot": "too hot",
    "room": "no room left",
    "harmful_leaf": "a harmful leaf",
}
"""Cause to its words, as in the guide."""

CLIMATE = ("dry", "wet", "cold", "hot")
_SWITCH = {"hot": P.USE_HOT, "cold": P.USE_COLD, "dry": P.USE_DRY, "wet": P.USE_WET}
_HARM = {"hot": P.HEAT_HARM, "cold": P.COLD_HARM, "dry": P.DRY_HARM, "wet": P.WET_HARM}
LOGGED = ("dry", "cold", "hot")
"""What a logger beside the garden can show."""
_COLUMN = {"hot": 1, "cold": 2, "dry": 3, "wet": 4}
_UNIT = {"dry": "relative humidity", "wet": "g/day", "cold": "K", "hot": "K"}


@dataclass(frozen=True)
class Rival:
    """One cause: its problem; the day from which the record itself shows it (None: hidden, to be found)."""

    name: str
    problem: Problem
    shown_from: float | None = None
    size_unit: str = ""
    note: str = ""


def logger_chances(problem: Problem, names: list[str], days: Array) -> Array:
    """Chance of what the logger had shown by each day, if each cause were the one, shape (causes, days); 1 where no
    logger stands."""
    out = np.ones((len(names), len(days)))
    if problem.colony.climate is None:
        return out
    known = diagnosis_values()
    right, wrong = known["logger_shows"].value, known["logger_cries"].value
    for k, day in enumerate(days):
        if not _watched(problem, int(day)):
            continue
        for quantity in LOGGED:
            shows = shown(problem, quantity, int(day))
            for i, name in enumerate(names):
                chance = right if name == quantity else wrong
                out[i, k] *= chance if shows else 1.0 - chance
    return out


def _watched(problem: Problem, day: int) -> bool:
    """Whether a logger stood there on at least half of the days that are looked at."""
    assert problem.colony.climate is not None
    known = problem.colony.climate.temperature[int(_window(problem)[0]) : day + 1]
    return bool(len(known) and np.isfinite(known).mean() >= 0.5)


def shown(problem: Problem, name: str, day: int) -> bool:
    """Whether the climate record up to a day shows a thing: deep and long enough to cost garden, by the card."""
    start = int(_window(problem)[0])
    depth = problem.climate[start : day + 1, _COLUMN[name]]
    loss = float(depth.sum()) * float(problem.base[_HARM[name]])
    return loss >= diagnosis_values()["shown_loss"].value


def rivals(problem: Problem) -> Iterator[Rival]:
    """All causes that can be meant for a colony, "nothing" first."""
    plain = _without(problem)
    yield Rival("nothing", plain)
    acting = _with_shown(problem, plain)
    known = diagnosis_values()
    window = _window(problem)
    if problem.base[P.QUEEN] > 0:
        size = _share(known["queen"])
        yield _hidden("queen", acting, size, window, "share of her laying lost")
    leaves = known["leaves"]
    if problem.base[P.FREE_LEAVES] < 0.5:
        base = plain.base.copy()
        base[P.FREE_LEAVES] = 0.0
        yield Rival("leaves", replace(plain, base=base), 0.0, note="the leaves given, as recorded")
    else:
        size = Free("size", P.SIZE, LINK_RANGE, leaves.low, leaves.high, "share")
        yield _hidden("leaves", acting, size, window, "share of the intake lost")
    for name in CLIMATE:
        yield _climate(name, problem, plain, acting, window)
    if stated_room(problem):
        yield _room(plain)
    size = _scale(known["harmful_leaf"])
    yield _hidden("harmful_leaf", acting, size, window, "share of the garden lost a day, for a week")


def _without(problem: Problem) -> Problem:
    """The problem with every pathway of harm shut that a cause can open; CO2 is none of them and stays."""
    base = problem.base.copy()
    base[[*_SWITCH.values(), P.USE_ROOM]] = 0.0
    base[P.FREE_LEAVES] = 1.0
    return replace(problem, base=base, free=tuple(f for f in problem.free if f.name != "harm_scale"))


def _with_shown(problem: Problem, plain: Problem) -> Problem:
    """The problem with the harm that the climate record shows: a fact beside which a hidden fault may have begun, so
    that an old dry spell does not hide a new harm."""
    names = [name for name in CLIMATE if problem.colony.climate is not None and shown(problem, name, problem.days)]
    if not names:
        return plain
    base = plain.base.copy()
    base[[_SWITCH[name] for name in names]] = 1.0
    scale = next(f for f in problem.free if f.name == "harm_scale")
    return replace(plain, base=base, free=(*plain.free, scale))


def _window(problem: Problem) -> tuple[float, float]:
    days = float(problem.days)
    return max(0.0, days - diagnosis_values()["window"].value), max(days, 1.0)


def _hidden(name: str, plain: Problem, size: Free, window: tuple[float, float], unit: str, note: str = "") -> Rival:
    base = plain.base.copy()
    base[P.CAUSE] = P.CAUSES.index(name)
    onset = Free("onset", P.ONSET, LINK_RANGE, *window, "d")
    return Rival(name, replace(plain, base=base, free=(*plain.free, onset, size)), None, unit, note)


def _share(value: Value) -> Free:
    """A share between 0 and 1 about its middle, on the logistic scale."""
    low, middle, high = (math.log(x / (1.0 - x)) for x in (value.low, value.value, value.high))
    return Free("size", P.SIZE, LINK_LOGIT, middle, (high - low) / NINETY, "share")


def _scale(value: Value) -> Free:
    return from_range("size", P.SIZE, value)


def _climate(name: str, problem: Problem, plain: Problem, acting: Problem, window: tuple[float, float]) -> Rival:
    known = diagnosis_values()
    logged = problem.colony.climate is not None
    depth = problem.climate[:, _COLUMN[name]]
    start = int(window[0])
    if logged and shown(problem, name, problem.days):
        base = plain.base.copy()
        base[_SWITCH[name]] = 1.0
        scale = next(f for f in problem.free if f.name == "harm_scale")
        first = float(start + np.flatnonzero(depth[start : problem.days + 1] > 0)[0])
        note = "the climate record shows it"
        return Rival(name, replace(plain, base=base, free=(*plain.free, scale)), first, "", note)
    seen = logged and name != "wet"
    value = known[("beside_logger_dry" if name == "dry" else "beside_logger_temperature") if seen else name]
    note = "the climate record shows little or none, so only what a logger can miss" if seen else ""
    return _hidden(name, acting, _scale(value), window, _UNIT[name], note)


def stated_room(problem: Problem) -> bool:
    """Whether the record says how much room the garden has; without that, a full bell cannot be told."""
    return problem.room > 0 or any(e.kind == "room" for e in problem.colony.events)


def _room(plain: Problem) -> Rival:
    """The bell full, its usable volume known only as well as a volume under a bell is."""
    value = diagnosis_values()["room"]
    base = plain.base.copy()
    base[P.USE_ROOM] = 1.0
    base[P.CAUSE] = P.CAUSES.index("room")
    return Rival("room", replace(plain, base=base, free=(*plain.free, _scale(value))), 0.0, "of the stated volume")
