"""How far a sensor can be trusted today: its last calibration, its drift, its uncertainty, and when it is due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from sqlalchemy import Connection

from nestwright.sensing.drift import DriftRate, drift_rate, due
from nestwright.workshop.corrected import correction
from nestwright.workshop.readings import HOUR, Channel, channels_of, mean_of_hours, newest_of, read_hours
from nestwright.workshop.sensors import (
    KeptCalibration,
    Scale,
    at_reference,
    calibrations_of,
    scale_of,
    spans_at_references,
)

__all__ = ["SensorState", "sensor_state", "sensor_states"]

RECENT_HOURS = 7 * 24
NEVER = "never calibrated"


@dataclass(frozen=True)
class SensorState:
    """A channel's sensor, values in the channel's unit.

    `level`: mean of its last seven days of readings in use, to which the other figures belong; None before any reading.
    `correction`: what is added to a reading there now; `error`: its standard uncertainty now. `drift`: change of the
    correction per year with its 10 and 90 %, None before a calibration. `due`: day (ISO) from which the wanted
    uncertainty is not held, "" where none is wanted or it is held for ten years; `why` in words.
    """

    channel: Channel
    level: float | None
    calibrations: tuple[KeptCalibration, ...]
    correction: float | None
    error: float | None
    drift: tuple[float, float, float] | None
    due: str
    why: str

    def to_dict(self) -> dict[str, Any]:
        return {
            "channel": self.channel.to_dict(),
            "level": self.level,
            "calibrations": len(self.calibrations),
            "last_calibration": self.calibrations[-1].calibration.when.isoformat() if self.calibrations else None,
            "correction": self.correction,
            "error": self.error,
            "drift_per_year": None if self.drift is None else list(self.drift),
            "wanted_error": self.channel.wanted_error,
            "due": self.due or None,
            "why": self.why,
        }


def sensor_states(connection: Connection, now: int, zone: ZoneInfo) -> list[SensorState]:
    """Every channel that can be calibrated. Raises InputError for a calibration that cannot be read."""
    return [
        sensor_state(connection, c, s, now, zone) for c in channels_of(connection) if (s := scale_of(c)) is not None
    ]


def sensor_state(connection: Connection, channel: Channel, scale: Scale, now: int, zone: ZoneInfo) -> SensorState:
    """The sensor of one channel at the moment `now`, UTC ms; due days on the clock of `zone`."""
    kept = tuple(calibrations_of(connection, channel.id))
    level = _level(connection, channel, kept, scale)
    if level is None:
        return SensorState(channel, None, kept, None, None, None, "", "no readings yet")
    made = [k.calibration for k in kept]
    found = correction(made, scale, np.array([now]), np.array([level]))
    shift = float(scale.shown(found.value)[0]) - level
    error = float(scale.spread(found.error)[0])
    raw = float(scale.si(level))
    wanted = channel.wanted_error
    today = datetime.fromtimestamp(now / 1000, zone).date()
    drift = None
    if made:
        rate: DriftRate = drift_rate(made, raw)
        drift = tuple(float(scale.spread(x)) for x in (rate.per_year, rate.low, rate.high))
    if wanted is None:
        day, why = "", "say what is enough with `nestwright sensor want`" if made else NEVER
    elif not made:
        late = error > wanted
        day, why = (today.isoformat(), f"{NEVER}, and a sensor as sold is less certain") if late else ("", NEVER)
    else:
        term = due(made, wanted * scale.factor, raw)
        day, why = term.day.isoformat() if term.day else "", term.reason
    return SensorState(channel, level, kept, shift, error, drift, day, why)  # type: ignore[arg-type]


def _level(connection: Connection, channel: Channel, kept: tuple[KeptCalibration, ...], scale: Scale) -> float | None:
    """Raw level that matters: the mean of the last seven days of readings; else the highest calibrated."""
    away = spans_at_references(connection, channel.logger)
    newest = newest_of(connection, channel.id) // HOUR
    if newest and not away:
        return mean_of_hours(connection, channel.id, newest - RECENT_HOURS)
    # the last hours are enough, but for a sensor that has stood at its references since
    for begin in (newest - 2 * RECENT_HOURS, None):
        hours = read_hours(connection, channel.id, None if begin is None else begin * HOUR)
        used = np.flatnonzero(~at_reference(away, hours.hour * HOUR))
        if len(used) and (begin is None or hours.hour[used[-1]] - RECENT_HOURS >= begin):
            recent = used[hours.hour[used] > hours.hour[used[-1]] - RECENT_HOURS]
            return float(np.average(hours.mean[recent], weights=hours.n[recent]))
    return float(scale.shown(kept[-1].calibration.high)) if kept else None
