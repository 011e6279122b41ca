"""Where the last reading lies outside what the fit makes of its day, and why.

A reading counts with its error, and against all the others and the growth that is possible; the band of a day is what
all of them leave, so that the last reading can lie outside it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING

from nestwright.wording.ranges import LITRES_FROM, between, ranged, three

if TYPE_CHECKING:
    from nestwright.colony.model import Colony, Observation
    from nestwright.colony.results import Forecast, Point
    from nestwright.errands.forecast import Told

__all__ = ["apart", "as_told", "band_ends", "over_by_look", "readings_apart"]


def apart(
    result: Forecast, observations: Sequence[Observation] = (), kinds: Sequence[str] = ("garden", "workers")
) -> list[str]:
    """A line for garden and for workers where the last reading lies outside the band of 8 in 10 of its day.

    `observations` of the record, for how a reading was told.
    """
    lines = []
    for kind in kinds:
        seen = [p for p in result.fit.points if p.kind == kind and p.surprise is not None]
        for point in seen[-1:]:
            line = _line(result, point, observations)
            if line:
                lines.append(line)
    return lines


def readings_apart(told: Told, later: int = 0) -> list[str]:
    """What is to be said of the last readings beside the forecast so many days later; of the garden once."""
    over = over_by_look(told.forecast, told.colony, later)
    return [*over, *apart(told.forecast, told.observations, ("workers",) if over else ("garden", "workers"))]


def over_by_look(result: Forecast, colony: Colony | None, later: int = 0) -> list[str]:
    """A line where the last look told a fill above the card's band that the model does not see so many days later."""
    from nestwright.colony.last_fill import last_fill
    from nestwright.data import load_species

    fill, seen = result.bands.get("fill"), None if colony is None else last_fill(colony)
    if colony is None or seen is None or fill is None or not 0 <= later <= result.horizon:
        return []
    full = load_species(colony.species).growth["fill_high"].value
    low, middle, high = (100 * float(end[later]) for end in (fill.low, fill.middle, fill.high))
    if seen.middle < full or middle >= 100 * full:
        return []
    look = ranged(100 * seen.low, 100 * seen.middle, 100 * seen.high)
    return [
        f"Your last look, {seen.day}, told a fill of {look} %, above the band's {100 * full:.0f} %; the model says "
        f"{ranged(low, middle, high)} %{' for today' if later else ''}, because it weighs that look with its error "
        "against all the others; take the bell as full, or look again."
    ]


def _line(result: Forecast, point: Point, observations: Sequence[Observation]) -> str:
    today = int(point.day) >= result.fit.days
    # the band printed for the last day is the forecast's own first
    band, index = (result.bands[point.kind], 0) if today else (result.fit.history[point.kind], int(point.day))
    low, high = float(band.low[index]), float(band.high[index])
    if low <= point.value <= high:
        return ""
    below = point.value < low
    factor, unit, what = _measure(result, point, float(band.middle[index]))
    counted = point.kind == "workers"
    told = as_told(point, observations) if counted else three(factor * point.value)
    span, own = (
        f"{between(factor * a, factor * b, whole=counted, least=0.1)}{unit}"
        for a, b in ((low, high), (point.low, point.high))
    )
    day = result.fit.start + timedelta(days=int(point.day))
    where = f"{'below' if below else 'above'} the band{'' if today else ' of that day'}"
    start = f"The last {what}, {told}{unit} on {day}, lies {where}, {span}"
    more = "more" if below else "less"
    if point.low <= high and point.high >= low:
        return f"{start}: the record as a whole expects {more}. With its own error, {own}, it still agrees."
    happened = "a loss" if below else "something added"
    return (
        f"{start}, even with its own error: the record as a whole expects {more}. It is taken mostly for a look that "
        f"was off; if it was not, {happened} may be missing in the record, or something is wrong: look again, and "
        "see `nestwright diagnose`."
    )


def as_told(point: Point, observations: Sequence[Observation]) -> str:
    """A count or guess; a band by its two ends, as in "300 to 500"."""
    for seen in observations:
        if seen.how == "band" and (seen.day, seen.kind, seen.value) == (point.day, point.kind, point.value):
            low, high = band_ends(seen)
            return f"{low:.0f} to {high:.0f}"
    return f"{point.value:.0f}"


def band_ends(seen: Observation) -> tuple[float, float]:
    """The two ends of a count told as a band, from its middle and its error.

    The band is even on a log scale, whose standard deviation is its width over the root of 12; the error holds that
    and the error of an exact count, added as squares.
    """
    from nestwright.data import colony_values

    spread = math.sqrt(max(seen.error**2 - colony_values()["exact_error"].value ** 2, 0.0))
    half = math.exp(math.sqrt(12) / 2 * spread)
    return seen.value / half, seen.value * half


def _measure(result: Forecast, point: Point, middle: float) -> tuple[float, str, str]:
    """Factor, unit and name of a reading as the file told it: a fill in % of what stood before that day's change."""
    if point.kind == "workers":
        return 1.0, " workers", "count" if point.how == "exact" else "guess"
    before = [usable for day, _, usable in result.housing if day < point.day] or [u for _, _, u in result.housing[:1]]
    if point.how == "fill" and before:
        return 100.0 / before[-1], " %", "fill read"
    if max(point.value, middle) >= LITRES_FROM:
        return 0.001, " L", "reading of the garden"
    return 1.0, " mL", "reading of the garden"
