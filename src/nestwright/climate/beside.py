"""A measured climate beside the predicted one, over the same hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.results import CELSIUS, DAY, UNITS, YearProof
from nestwright.climate.room_values import room_values
from nestwright.intervals import EIGHT_IN_TEN

__all__ = ["Beside", "How", "beside", "moments_in_run"]

Array = NDArray[np.float64]
Moments = NDArray[np.int64]
How = Literal["dates", "season", "always", "over"]
WHOLE_YEAR = 360.0
"""Days from which a run is a year and is laid on the calendar whatever year it was."""
MIDDLE = 1800.0
"""From the begin of an hour to its middle, s."""
EPOCH = datetime(1970, 1, 1)
TENTHS = (0.1, 0.9)


@dataclass(frozen=True)
class Beside:
    """One quantity of one chamber, measured and predicted over the same hours; SI.

    `measured` and `predicted`: mean with its low and high end. Of the measured the range in which the mean lies in 8 of
    10 cases by the sensor's error; of the predicted what the uncertain inputs leave open, nan where that is not
    known. `measured_spread`, `predicted_spread`: 10 and 90 % of the hours' values.
    `day` days since 1970 on the workshop's clock (n,), with the mean of each: `day_measured` and `day_predicted` (n,)
    over the same hours where there is a prediction, else all that was measured, and nan.
    """

    chamber: str
    quantity: str
    logger: str
    calibrated: bool
    hours: int
    measured: tuple[float, float, float]
    measured_spread: tuple[float, float]
    predicted: tuple[float, float, float]
    predicted_spread: tuple[float, float]
    day: Moments
    day_measured: Array
    day_predicted: Array

    @property
    def known(self) -> bool:
        """Whether there is a prediction."""
        return bool(np.isfinite(self.predicted[0]))

    @property
    def bounded(self) -> bool:
        """Whether the prediction has an interval."""
        return bool(np.isfinite(self.predicted[1]))

    @property
    def agrees(self) -> bool | None:
        """Whether the two ranges meet; None where one of them is not known."""
        if not self.bounded or not np.isfinite(self.measured[1]):
            return None
        return self.measured[1] <= self.predicted[2] and self.measured[2] >= self.predicted[1]

    def to_dict(self) -> dict[str, Any]:
        zero, factor = (CELSIUS, 1.0) if self.quantity == "temperature" else (0.0, 100.0)

        def told(values: tuple[float, ...]) -> list[float | None]:
            return [(v - zero) * factor if np.isfinite(v) else None for v in values]

        return {
            "chamber": self.chamber,
            "quantity": self.quantity,
            "unit": UNITS[self.quantity],
            "logger": self.logger,
            "calibrated": self.calibrated,
            "hours": self.hours,
            "measured": told(self.measured),
            "measured_spread": told(self.measured_spread),
            "predicted": told(self.predicted),
            "predicted_spread": told(self.predicted_spread),
            "agrees": self.agrees,
            "days": [str(date(1970, 1, 1) + timedelta(days=int(d))) for d in self.day],
            "day_measured": told(tuple(self.day_measured)),
            "day_predicted": told(tuple(self.day_predicted)),
        }


def moments_in_run(result: YearProof, local: Moments) -> tuple[Array, How]:
    """Where moments on the workshop's clock lie in a run.

    Parameters
    ----------
    local : (n,)
        ms since 1970 on the clock of the workshop.

    Returns
    -------
    (n,)
        Seconds of the run, nan outside it.
    How
        "dates": the run is of these days. "season": it is of another year, and the same day and hour of that is taken.
        "always": the room never changes. "over": it is of a few other days, laid over and over, hour on hour.
    """
    length = float(result.time[-1])
    room = result.series["room"]
    if all(np.ptp(values) == 0 for values in room.values()):
        return np.full(len(local), length), "always"
    begin = datetime.fromisoformat(result.start).replace(tzinfo=None) if result.start else EPOCH
    since = local / 1000.0 - (begin - EPOCH).total_seconds()
    inside = (since >= 0) & (since <= length)
    if result.start and inside.any():
        return np.where(inside & ~_in_gap(result.time, since), since, np.nan), "dates"
    if result.start and length >= WHOLE_YEAR * DAY:
        days, which = np.unique(local // round(DAY * 1000), return_inverse=True)
        first = np.array([_same_day(date(1970, 1, 1) + timedelta(days=int(d)), begin) for d in days])
        found = first[which] + (local % round(DAY * 1000)) / 1000.0
        # what comes before the run's first hour of the day, or after its last day
        return np.where((found >= 0) & (found <= length), found, np.nan), "season"
    whole = DAY * max(1.0, np.floor(length / DAY))
    return np.minimum(since % whole, length), "over"


def _in_gap(time: Array, at: Array) -> NDArray[np.bool_]:
    """Which seconds lie where the room's record has a gap: what is drawn across it is no prediction."""
    place = np.clip(np.searchsorted(time, at), 1, len(time) - 1)
    return time[place] - time[place - 1] > room_values()["bridge"].value


def _same_day(day: date, begin: datetime) -> float:
    """Seconds from the begin of a run to the midnight of the same day of its year."""
    for year in (begin.year, begin.year + 1):
        same = datetime(year, day.month, min(day.day, 28) if day.month == 2 else day.day)
        if same.date() >= begin.date():
            return (same - begin).total_seconds()
    raise AssertionError("a year has every day")


def beside(
    result: YearProof | None,
    chamber: str,
    quantity: str,
    logger: str,
    local: Moments,
    value: Array,
    common: Array,
    own: Array,
    *,
    calibrated: bool,
    interval: tuple[float, float] = (np.nan, np.nan),
) -> Beside:
    """Measured hours of one quantity of a chamber beside a run of the habitat; without a run the measured alone.

    Parameters
    ----------
    local : (n,)
        Begin of each measured hour, ms since 1970 on the workshop's clock, n >= 1.
    value, common, own : (n,)
        Mean of each hour, SI, and its standard uncertainties: shared by all hours, and of each for itself.
    interval : (2,)
        How far down and up the uncertain inputs move the prediction (`climate.intervals`), nan where not known.
    """
    guess = np.full(len(local), np.nan)
    if result is not None and quantity in result.series.get(chamber, {}):
        at, _ = moments_in_run(result, local + round(MIDDLE * 1000))
        known = np.isfinite(at)
        guess[known] = np.interp(at[known], result.time, result.series[chamber][quantity])
    both = np.isfinite(value) & (np.isfinite(guess) if np.isfinite(guess).any() else True)
    mean = float(value[both].mean()) if both.any() else np.nan
    error = EIGHT_IN_TEN * float(np.hypot(np.mean(common[both]), np.sqrt(np.sum(own[both] ** 2)) / max(1, both.sum())))
    middle = float(guess[both].mean()) if both.any() else np.nan
    days, which = np.unique(local // round(DAY * 1000), return_inverse=True)
    with np.errstate(invalid="ignore", divide="ignore"):
        by_day = [
            np.bincount(which[kept], v[kept], minlength=len(days)) / np.bincount(which[kept], minlength=len(days))
            for v, kept in ((value, both), (guess, both), (value, np.isfinite(value)))
        ]
    # a day without a prediction is told whole
    seen = np.where(np.isfinite(by_day[0]), by_day[0], by_day[2])
    return Beside(
        chamber, quantity, logger, calibrated, int(both.sum()),
        (mean, mean - error, mean + error), _tenths(value[both]),
        (middle, middle + interval[0], middle + interval[1]), _tenths(guess[both]),
        days, seen, by_day[1],
    )  # fmt: skip


def _tenths(values: Array) -> tuple[float, float]:
    if not len(values) or not np.isfinite(values).all():
        return np.nan, np.nan
    low, high = np.quantile(values, TENTHS)
    return float(low), float(high)
