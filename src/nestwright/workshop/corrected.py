"""Readings of the record, corrected by the calibrations of their sensor; what is stored stays raw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sqlalchemy import Connection

from nestwright.sensing.calibration import Calibration, Corrected
from nestwright.sensing.drift import correct_over
from nestwright.sensing.sensor_values import sensor_value
from nestwright.workshop.readings import Channel, Series, read_raw
from nestwright.workshop.sensors import Scale, at_reference, calibrations_of, scale_of, spans_at_references

__all__ = ["CorrectedReadings", "corrected", "correction", "usual_step"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CorrectedReadings:
    """Readings of a channel in its own unit: `at` UTC ms (n,), rising; `value` (n,).

    `common` and `own`: standard uncertainties (n,) that all readings share, and that each has for itself.
    `calibrations`: how many the correction rests on. Without one the values are raw, and `common` is that of a sensor
    as sold (judgement). A quantity that is not calibrated (light, battery) has nan for both.
    """

    at: NDArray[np.int64]
    value: Array
    common: Array
    own: Array
    calibrations: int

    @property
    def error(self) -> Array:
        """Standard uncertainty of each reading, (n,)."""
        return np.hypot(self.common, self.own)


def corrected(
    connection: Connection,
    channel: Channel,
    low: int | None = None,
    high: int | None = None,
    *,
    at_references: bool = False,
) -> CorrectedReadings:
    """Readings of a channel from `low` on and before `high` (UTC ms), corrected.

    Those of the hours in which the logger stood at the references of a calibration (over a salt, in ice) are left out
    unless `at_references`. Raises InputError for a calibration that cannot be read.
    """
    series = read_raw(connection, channel.id, low, high)
    spans = [] if at_references else spans_at_references(connection, channel.logger)
    if spans:
        kept = ~at_reference(spans, series.at)
        series = Series(series.at[kept], series.value[kept])
    scale = scale_of(channel)
    if scale is None:
        none = np.full(len(series.at), np.nan)
        return CorrectedReadings(series.at, series.value, none, none.copy(), 0)
    made = [k.calibration for k in calibrations_of(connection, channel.id)]
    found = correction(made, scale, series.at, series.value)
    return CorrectedReadings(
        series.at, scale.shown(found.value), scale.spread(found.common), scale.spread(found.own), len(made)
    )


def correction(made: list[Calibration], scale: Scale, at: NDArray[np.int64], raw: ArrayLike) -> Corrected:
    """Raw values in a channel's unit at UTC ms, shape (n,), as corrected values in SI."""
    value = scale.si(raw)
    if made:
        return correct_over(made, at / 1000.0, value)
    common = np.full(value.shape, sensor_value(scale.quantity, "as_sold").value)
    own = np.full(value.shape, sensor_value(scale.quantity, "repeatability").value)
    return Corrected(value, np.hypot(common, own), common, own, np.zeros(value.shape, bool))


def usual_step(at: NDArray[np.int64]) -> float:
    """Usual time between readings, s: the median; 0 for fewer than two."""
    return float(np.median(np.diff(at))) / 1000 if len(at) > 1 else 0.0
