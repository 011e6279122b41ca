"""When in a run each limit was furthest out, or nearest to it."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from nestwright.climate.results import LimitResult, YearProof

__all__ = ["clock_of", "hours_outside", "worst_hours"]


def worst_hours(result: YearProof) -> dict[str, float]:
    """Seconds of the run at which each limit has the value that the proof tells of it, by the limit's name.

    A limit whose quantity is not among the run's series (drip, a garden's water) is left out.
    """
    found = {}
    for limit in result.mean.limits:
        values = result.series.get(limit.zone, {}).get(limit.quantity)
        if values is not None:
            found[limit.name] = float(result.time[int(np.abs(values - limit.value).argmin())])
    return found


def hours_outside(result: YearProof, limit: LimitResult) -> float | None:
    """Hours of the run in which a limit was not held; None where that was not counted."""
    if limit.hours_held_share is None:
        return None
    return (1.0 - limit.hours_held_share) * float(result.time[-1] - result.time[0]) / 3600


def clock_of(result: YearProof, second: float) -> datetime | None:
    """The date and time of a second of the run, None for a room without dates."""
    if not result.start:
        return None
    return datetime.fromisoformat(result.start).replace(tzinfo=None) + timedelta(seconds=second)
