"""Two values of the same thing on the same day: what is told twice counts once, what disagrees counts for less."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

from nestwright.colony.model import Observation
from nestwright.colony.texts import format_number

__all__ = ["settle"]

_AGREE = 2.0
"""Two values agree when their distance is within two standard errors of it (95 % of a normal error): convention."""

_WORDS = {
    "garden": ("the garden", "mL"),
    "workers": ("workers", ""),
    "eggs": ("eggs", ""),
    "larvae": ("larvae", ""),
    "pupae": ("pupae", ""),
    "waste": ("waste", "g dry"),
    "leaves_taken": ("leaves taken", "g dry"),
}
_FEW = 4  # values that a remark names one by one
_SEEN = ("eggs", "larvae", "pupae")


def settle(observations: list[Observation], start: date) -> tuple[list[Observation], list[str]]:
    """Observations sorted by day, with contradictions softened, and a note on each.

    Equal values of the same thing on the same day count once. Values further apart than their errors allow are all
    kept, each with its error widened to half the logarithm of their ratio; a kind of brood seen and not seen on one
    day is kept as it is, for its own chances of error speak of just that.
    """
    kept: list[Observation] = []
    notes: list[str] = []
    groups: dict[tuple[float, str], list[Observation]] = {}
    for seen in sorted(observations, key=lambda o: o.day):
        groups.setdefault((seen.day, seen.kind), []).append(seen)
    for (day, kind), group in groups.items():
        when = f"{start + timedelta(days=int(day))}"
        single = list({o.value: o for o in sorted(group, key=lambda o: -o.error)}.values())
        words, unit = _WORDS[kind]
        if len(single) < len(group):
            notes.append(f"{when}: {words} told more than once with the same value; counted once")
        if len(single) > 1 and kind in _SEEN:
            notes.append(f"{when}: {words} told as seen and as not seen; both are kept")
        elif len(single) > 1:
            wider = [_widened(o, single) for o in single]
            if any(a.error > b.error for a, b in zip(wider, single, strict=True)):
                numbers = [format_number(o.value) for o in sorted(single, key=lambda o: o.line)]
                ends = [format_number(end(o.value for o in single)) for end in (min, max)]
                few = len(numbers) <= _FEW
                values = " and ".join(numbers) if few else f"{len(numbers)} values from {ends[0]} to {ends[1]}"
                told = f"{values} {unit}".strip()
                notes.append(
                    f"{when}: {words} told as {told}, further apart than their errors allow; "
                    "all are kept, with wider errors"
                )
            single = wider
        kept += sorted(single, key=lambda o: o.line)
    return kept, notes


def _widened(one: Observation, group: list[Observation]) -> Observation:
    error = one.error
    for other in group:
        apart = _distance(one, other)
        if apart > _AGREE * math.hypot(one.error, other.error):
            error = max(error, apart / 2)
    return replace(one, error=error)


def _distance(a: Observation, b: Observation) -> float:
    """Distance on a log scale; nought counts as one of its unit there, for it has no logarithm."""
    if a.value == b.value:
        return 0.0
    shift = 1.0 if min(a.value, b.value) <= 0 else 0.0
    return abs(math.log((a.value + shift) / (b.value + shift)))
