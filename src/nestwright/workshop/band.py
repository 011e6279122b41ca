"""How long a channel of the record was inside a band, with what its calibration and its gaps leave open."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from sqlalchemy import Connection

from nestwright.errors import InputError
from nestwright.sensing.in_band import Range, TimeInBand, time_in_band, wet_hours
from nestwright.sensing.sensor_values import sensor_value
from nestwright.workshop.corrected import correction
from nestwright.workshop.course import bridge_of
from nestwright.workshop.readings import Channel, Series, read_raw
from nestwright.workshop.sensors import at_reference, calibrations_of, scale_of, spans_at_references

__all__ = ["BandOfChannel", "band_of"]


@dataclass(frozen=True)
class BandOfChannel:
    """`hours` in the channel's unit; `wet`: hours at `wet_at` % RH or more with their range, None for a channel that is
    no humidity; `bridge` s; `trust`: what the uncertainty rests on, in words."""

    hours: TimeInBand
    wet: tuple[float, Range] | None
    wet_at: float
    bridge: float
    calibrations: int
    trust: str


def band_of(
    connection: Connection,
    channel: Channel,
    low: float | None,
    high: float | None,
    begin: int,
    end: int,
    *,
    whole: tuple[bool, bool] = (True, True),
    bridge: float | None = None,
    raw: bool = False,
    worst: int = 5,
) -> BandOfChannel:
    """Time in the band from `low` to `high` (in the channel's unit) from `begin` on and before `end`, UTC ms.

    Parameters
    ----------
    whole : whether the span begins, ends as told even where there is no reading: that time is not known. Else it
        begins, ends with the readings.
    bridge : longest time between readings that is no gap, s; None: as `course.bridge_of`.
    raw : not corrected.

    Raises InputError when there is no reading to begin or end with.
    """
    series = read_raw(connection, channel.id, begin, end)
    gap = bridge_of(series.at) if bridge is None else bridge
    away = at_reference(spans_at_references(connection, channel.logger), series.at)
    series = Series(series.at[~away], series.value[~away])
    scale = scale_of(channel)
    if not len(series.at) and not all(whole):
        raise InputError(
            "stood at references all the time" if away.any() else "has no readings in this span",
            field="channel", found=f"{channel.logger}.{channel.name}",
            allowed="a span with readings (`nestwright readings list`), or both --from and --to",
        )  # fmt: skip
    value, common, own, many = series.value, np.zeros(len(series.at)), np.zeros(len(series.at)), 0
    trust = "As read: nothing is known of this sensor's error, so the hours carry none."
    if scale is not None:
        made = [] if raw else [k.calibration for k in calibrations_of(connection, channel.id)]
        found, many = correction(made, scale, series.at, series.value), len(made)
        value, common, own = scale.shown(found.value), scale.spread(found.common), scale.spread(found.own)
        trust = (
            f"Corrected by {many} calibration{'s' if many > 1 else ''}; ranges from its uncertainty."
            if many
            else f"{'Raw' if raw else 'Never calibrated'}: ranges from the error of a sensor as sold (judgement)."
        )
    if away.any():
        trust += " Hours at the references of a calibration count as not known."
    time = series.at / 1000
    spread = {"common": common, "own": own}
    ends = {"start": begin / 1000 if whole[0] else None, "end": end / 1000 if whole[1] else None}
    hours = time_in_band(time, value, low, high, gap, **spread, **ends, worst=worst)  # type: ignore[arg-type]
    wet, wet_at = None, sensor_value("relative_humidity", "wet").value
    if scale is not None and scale.quantity == "relative_humidity" and len(time):
        wet = wet_hours(time, value, float(scale.shown(wet_at)), gap, **spread)
    return BandOfChannel(hours, wet, 100 * wet_at, gap, many, trust)
