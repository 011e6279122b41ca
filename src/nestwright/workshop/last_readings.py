"""The last reading of everything that stands somewhere: its value with its range, its age, and the band that holds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from sqlalchemy import Connection

from nestwright.errors import InputError
from nestwright.intervals import EIGHT_IN_TEN
from nestwright.workshop.corrected import corrected
from nestwright.workshop.look_sensors import WORDS, bands_at
from nestwright.workshop.placements import placements
from nestwright.workshop.readings import Channel, channels_of, span_of
from nestwright.workshop.sensors import scale_of

__all__ = ["LastReading", "last_readings", "range_of"]

Stands = Literal["inside", "below", "above", "between", ""]


@dataclass(frozen=True)
class LastReading:
    """The last reading of a channel, in its own unit, corrected: `value` with its 10 and 90 % (equal where nothing is
    known of its error).

    `build`, `colony`, `chamber`: where its logger stands, each "" for none. `what`: the quantity in words. `at` UTC ms.
    `band`: ends of the band that holds there, None for an open one. `stands`: inside; below or above where all of the
    range lies there; between where the band's end lies within the range; "" where no band holds.
    """

    build: str
    colony: str
    chamber: str
    logger: str
    channel: str
    what: str
    unit: str
    value: float
    low: float
    high: float
    at: int
    band: tuple[float | None, float | None]
    calibrated: bool

    @property
    def stands(self) -> Stands:
        low, high = self.band
        if low is None and high is None:
            return ""
        if low is not None and self.high < low:
            return "below"
        if high is not None and self.low > high:
            return "above"
        inside = (low is None or self.low >= low) and (high is None or self.high <= high)
        return "inside" if inside else "between"


def last_readings(connection: Connection, folder: Path, at: int, *, serial: str | None = None) -> list[LastReading]:
    """Last readings of the loggers that stand somewhere at the moment `at` (UTC ms), by build, chamber and quantity;
    only of those in one build, with `serial`.

    A channel that is no climate (battery, light) is left out; so is one whose calibration cannot be read.
    """
    made: list[LastReading] = []
    for place in placements(connection):
        if not (place.since <= at and (place.until is None or at < place.until)):
            continue
        if serial is not None and place.build != serial:
            continue
        for channel in channels_of(connection, place.logger):
            scale = scale_of(channel)
            _, last, count = span_of(connection, channel.id)
            if scale is None or not count:
                continue
            try:
                read = corrected(connection, channel, last)
            except InputError:
                continue
            if not len(read.at):
                continue
            ends = bands_at(connection, folder, place, scale.quantity) if place.chamber else (None, None)
            band = tuple(None if end is None else float(scale.shown(end)) for end in ends)
            value = float(read.value[-1])
            low, high = range_of(channel, value, float(np.hypot(read.common[-1], read.own[-1])))
            made.append(
                LastReading(
                    place.build, place.colony, place.chamber, channel.logger, channel.name,
                    WORDS.get(scale.quantity, scale.quantity), channel.unit, value, low, high,
                    int(read.at[-1]), band, read.calibrations > 0,  # type: ignore[arg-type]
                )
            )  # fmt: skip
    return sorted(made, key=lambda one: (one.build, one.colony, one.chamber, one.what, one.logger))


def range_of(channel: Channel, value: float, error: float) -> tuple[float, float]:
    """Where a reading truly is in 8 of 10, by its standard error; twice the value where that is not known. Air holds no
    more than 100 % of what saturates it: a range ends there, unless the reading itself lies beyond."""
    reach = EIGHT_IN_TEN * error if np.isfinite(error) else 0.0
    most = max(value, 100.0) if channel.unit == "%" and channel.quantity == "humidity" else np.inf
    return value - reach, float(min(value + reach, most))
