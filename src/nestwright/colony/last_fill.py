"""How full the garden's housing was at the last look, as that look alone told it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from nestwright.colony.model import Colony
from nestwright.intervals import EIGHT_IN_TEN

__all__ = ["LastFill", "last_fill"]


@dataclass(frozen=True)
class LastFill:
    """A fill as it was read, or reckoned from a volume that was: share 0 to 1 with the 10 and 90 % of its error."""

    day: date
    low: float
    middle: float
    high: float


def last_fill(colony: Colony) -> LastFill | None:
    """The last look at the garden as a fill of what it stands in; None where it has been changed since.

    A look tells what was there before its day's changes: a bell set, or garden added or taken, on its day or later
    leaves nothing to compare.
    """
    looks = [one for one in colony.observations if one.kind == "garden"]
    if not looks or not colony.housing:
        return None
    seen, stands = max(looks, key=lambda one: one.day), colony.housing[-1]
    changed = len(colony.housing) > 1 and stands.day >= seen.day
    changed |= any(one.kind.startswith("garden") and one.day >= seen.day for one in colony.events)
    if changed or stands.day > seen.day or stands.usable <= 0:
        return None
    off = math.exp(EIGHT_IN_TEN * seen.error)
    share = seen.value / stands.usable
    return LastFill(colony.date(seen.day), share / off, share, share * off)
