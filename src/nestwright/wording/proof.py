"""A proof in words: verdicts, a row a limit, and the decimals that a quantity is told with."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from nestwright.climate.digits import decimals_within
from nestwright.wording.figures import figure, share_text

if TYPE_CHECKING:
    from nestwright.climate.results import LimitResult, Proof

__all__ = [
    "QUANTITY_DECIMALS", "REFILL_YEARS", "UNIT_TEXT", "dew_text", "limit_rows", "margin_text", "refill_days", "verdict",
]  # fmt: skip

REFILL_YEARS = 5
"""A body of water that lasts longer is told as just that: nobody plans by the day after so many years."""

# The solver is held to 0.05 K, 0.2 % RH and 0.02 % gas: no decimal beyond those is printed.
QUANTITY_DECIMALS = {"temperature": 1, "relative_humidity": 1, "co2": 2, "o2": 2, "drip": 2, "garden_water": 2}


def verdict(limit: LimitResult) -> str:
    """One of four words for a limit: the verdict, and whether the uncertain inputs could turn it round."""
    word = "holds" if limit.held else "fails"
    return word if limit.sure else f"{word}, not sure"


UNIT_TEXT = {"degC": "°C", "g/day": "g/day", "%": "%", "ratio": ""}


def limit_rows(proof: Proof, *, year: bool) -> tuple[list[str], list[list[str]]]:
    """Column names, and one row a limit, the least margin first."""
    rows = []
    for limit in sorted(proof.limits, key=lambda one: one.scaled_margin):
        shown = limit.to_dict()
        low, high = shown["value_low"], shown["value_high"]
        decimals = decimals_within(low, high, QUANTITY_DECIMALS.get(limit.quantity, 2))
        interval = f"{figure(low, decimals)} to {figure(high, decimals)}"
        value = figure(shown["value"], decimals)
        row = [limit.name, _band(shown), value, interval, margin_text(limit), verdict(limit)]
        if year:
            row.append(share_text(shown["hours_held_pct"]))
        rows.append(row)
    head = ["limit", "band", "value", "interval", "margin", "verdict"] + (["hours held"] if year else [])
    return head, rows


def _band(shown: dict[str, Any]) -> str:
    unit = UNIT_TEXT.get(shown["unit"], shown["unit"])
    low, high = shown["low"], shown["high"]
    if low is not None and high is not None:
        return f"{low:.3g} to {high:.3g} {unit}".rstrip()
    if low is not None:
        return f"at least {low:.3g} {unit}".rstrip()
    return f"at most {high:.3g} {unit}".rstrip() if high is not None else "none"


def dew_text(kelvin: float) -> str:
    """How far a wall is from its air's dew point, K, never written as 0 where it is wet.

    Examples
    --------
    >>> dew_text(-0.31), dew_text(-0.04), dew_text(1e-6), dew_text(0.0)
    ('-0.3', 'just below 0', 'just above 0', '0.0')
    """
    text = figure(kelvin, 1, sign=True)
    if float(text) == 0 and kelvin:
        return "just below 0" if kelvin < 0 else "just above 0"
    return text


def refill_days(seconds: float | None) -> float | None:
    """Days until the first body of water is dry; inf beyond `REFILL_YEARS`, None for never."""
    days = None if seconds is None else seconds / 86400
    return math.inf if days is not None and days > 365.25 * REFILL_YEARS else days


def margin_text(limit: LimitResult) -> str:
    shown = limit.to_dict()
    unit = "K" if shown["unit"] == "degC" else UNIT_TEXT.get(shown["unit"], shown["unit"])
    decimals = decimals_within(shown["value_low"], shown["value_high"], QUANTITY_DECIMALS.get(limit.quantity, 2))
    text = figure(shown["margin"], decimals, sign=True)
    if float(text) == 0:
        return "at its edge" if limit.held else "just outside"
    return f"{text} {unit}".rstrip()
