"""A diagnosis in words: weights, dates and sizes of causes, and what to do next."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from nestwright.colony.results import Cause, Diagnosis

__all__ = [
    "FIRST",
    "RESCUE",
    "RESCUE_HERE",
    "SIZES",
    "TELLS",
    "WEEKLY",
    "doubt_text",
    "next_steps",
    "since_text",
    "size_text",
    "weight_text",
]

SIZES = {
    "share of her laying lost": ("% of her laying lost", 100.0),
    "share of the intake lost": ("% of the intake lost", 100.0),
    "share of the garden lost a day, for a week": ("% of the garden lost a day, for a week", 100.0),
    "relative humidity": ("% RH below the limit", 100.0),
    "K": ("K outside the band", 1.0),
    "g/day": ("g/day of drip", 1.0),
    "of the stated volume": ("% of the stated volume", 100.0),
}
"""Unit of a fault's size to its words and factor on screen."""
TELLS = 0.1
"""Bits below which a look tells hardly anything."""
RESCUE = (
    "`nestwright rescue FILE` says how much donor garden the colony needs. If it is not so, write into the file what "
    "garden there is, and run this again."
)
RESCUE_HERE = (
    "Queen and workers can take on garden of a sound colony. If it is not gone, record a visit with what garden there "
    "is: it is weighed anew then."
)
"""The same where no file is at hand and no command is typed."""


FIRST = (
    "Record first: the garden in mL or as fill, with the day; a count or guess of the workers; whether eggs, larvae "
    "and pupae were seen or looked for in vain. After two or three such visits, a week apart, run this again."
)


WEEKLY = (
    "Go on recording once a week: the garden in mL or as fill, a count or guess of the workers, and at each visit "
    "whether eggs, larvae and pupae were seen or looked for in vain; then run this again."
)


def next_steps(result: Diagnosis, today: date | None = None) -> list[str]:
    """What to do: the look that tells the two likeliest causes apart; where none does, what to go on recording.

    A look that was best on a day before `today` is for today.
    """
    if not result.next_look or result.tells is None or result.look_day is None:
        if result.causes[0].name == "nothing":
            return [f"Hardly a doubt is left that nothing is wrong. {WEEKLY}"]
        return [f"Among these causes hardly a doubt is left. Look for yourself before you act. {WEEKLY}"]
    pair = f"{result.causes[0].says!r} and {result.causes[1].says!r}"
    day = max(result.start + timedelta(days=int(result.look_day)), today or date.min)
    if result.tells >= TELLS:
        return [f"To tell {pair} apart: {result.next_look} on {day}{doubt_text(result)}"]
    return [
        f"No single look in the next two weeks tells {pair} apart. The one that tells most: "
        f"{result.next_look} on {day}.",
        f"{WEEKLY} Several looks together tell what one cannot.",
    ]


def doubt_text(result: Diagnosis) -> str:
    """What a look is worth, as the share of the doubt between the two likeliest causes that it takes away on average.

    The doubt is the entropy of the two weights (Shannon 1948), which `tells`, in bits, can at most be.
    """
    share = result.causes[0].weight / (result.causes[0].weight + result.causes[1].weight)
    doubt = -sum(p * math.log2(p) for p in (share, 1 - share) if p > 0)
    if doubt <= 0 or result.tells is None:
        return ""
    return f" (likely to take away about {10 * round(10 * min(result.tells / doubt, 1)):.0f} % of the doubt)"


def weight_text(weight: float) -> str:
    """A weight in whole percent that never rounds up to all nor down to none."""
    return "over 99 %" if weight > 0.99 else f"{100 * weight:.0f} %"


def since_text(cause: Cause, start: date) -> str:
    """Since when, as a date or a span of dates."""
    if cause.since is None:
        return ""
    first, middle, last = (start + timedelta(days=int(d)) for d in cause.since)
    return str(middle) if first == last else f"{middle} ({first} to {last})"


def size_text(cause: Cause) -> str:
    """How large the fault is, in the unit of its cause."""
    from nestwright.wording.figures import significant

    if cause.size is None:
        return ""
    unit, factor = SIZES.get(cause.size_unit, (cause.size_unit, 1.0))
    low, middle, high = (significant(factor * x, 2) for x in cause.size)
    return f"{middle} ({low} to {high}) {unit}"
