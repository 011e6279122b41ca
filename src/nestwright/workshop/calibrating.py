"""A calibration as it is made: points that are at rest or still wait, and the curve through those that are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from sqlalchemy import Connection

from nestwright.errors import InputError
from nestwright.sensing.calibration import Calibration, calibrate, correct
from nestwright.units import UnitProblem, parse_quantity
from nestwright.workshop.at_reference import AtReference, Standing, read_at_reference, temperature_beside
from nestwright.workshop.readings import Channel, find_channel
from nestwright.workshop.sensor_state import sensor_state
from nestwright.workshop.sensors import Scale, scale_of

__all__ = ["Level", "Tried", "apart", "beside_of", "levels", "scale_wanted", "try_points"]

LEVELS = 5


@dataclass(frozen=True)
class Tried:
    """Points as they stand: each with what was found, or the fault that kept it from being read; the curve through
    those that are at rest, None for none. `level`: what the sensor reads in use, in its unit, or None."""

    points: tuple[tuple[Standing, AtReference | None, InputError | None], ...]
    made: Calibration | None
    level: float | None

    @property
    def spans(self) -> tuple[tuple[int, int], ...]:
        return tuple((standing.begin, standing.end) for standing, _, _ in self.points)

    @property
    def whole(self) -> bool:
        """Whether there is a point and all of them are at rest."""
        return bool(self.points) and all(found is not None and found.point for _, found, _ in self.points)


@dataclass(frozen=True)
class Level:
    """At a reading, in the channel's unit: what is added, the true value, its standard uncertainty, and whether it lies
    beyond the points."""

    read: float
    add: float
    true: float
    error: float
    beyond: bool


def scale_wanted(channel: Channel) -> Scale:
    """The scale of a channel that can be calibrated. Raises InputError for another."""
    scale = scale_of(channel)
    if scale is None:
        raise InputError(
            "is not calibrated here", field="channel", found=f"{channel.logger}.{channel.name}, {channel.quantity}",
            allowed="humidity, temperature, CO2",
        )  # fmt: skip
    return scale


def apart(stands: Sequence[Standing], field: str) -> None:
    """Raises InputError for two points that overlap in time."""
    for one, other in pairwise(sorted(stands, key=lambda s: s.begin)):
        if other.begin < one.end:
            raise InputError(
                "two points at one time", field=field, found=f"{one.reference} and {other.reference}",
                allowed="times that do not overlap",
            )  # fmt: skip


def beside_of(connection: Connection, told: str, channel: Channel, field: str) -> Channel | float:
    """The temperature of a salt's box: a channel, or K out of "22.5 degC"; the logger's own where nothing is told.

    Raises InputError for what is neither.
    """
    if not told.strip():
        try:
            return temperature_beside(connection, channel)
        except InputError as error:
            raise InputError(error.message, field=field, found=error.found, allowed=error.allowed) from None
    try:
        return parse_quantity(told, "temperature")
    except UnitProblem:
        pass
    try:
        return find_channel(connection, told.strip())
    except InputError as error:
        raise InputError(
            "is neither a channel nor a temperature", field=field, found=error.found,
            allowed=f"'22.5 degC', or a channel: {error.allowed}", nearest=error.nearest,
        ) from None  # fmt: skip


def try_points(
    connection: Connection,
    channel: Channel,
    scale: Scale,
    stands: Sequence[Standing],
    beside: Channel | float | None,
    now: int,
    zone: ZoneInfo,
) -> Tried:
    """What the points give at the moment `now` (UTC ms); nothing is kept. Raises InputError as `calibrate`."""
    points: list[tuple[Standing, AtReference | None, InputError | None]] = []
    for standing in stands:
        try:
            points.append((standing, read_at_reference(connection, channel, scale, standing, beside), None))
        except InputError as error:
            points.append((standing, None, error))
    rest = [found.point for _, found, _ in points if found is not None and found.point is not None]
    made = calibrate(rest, _day(max(s.end for s in stands), zone), scale.quantity) if rest else None
    return Tried(tuple(points), made, sensor_state(connection, channel, scale, now, zone).level)


def _day(at: int, zone: ZoneInfo) -> date:
    # the last moment of a point that ends at midnight belongs to the day before
    return datetime.fromtimestamp((at - 1) / 1000, zone).date()


def levels(made: Calibration, scale: Scale, level: float | None) -> list[Level]:
    """The curve at readings through its points, what the sensor reads in use, and for humidity up to saturation."""
    used = made.high if level is None else float(scale.si(level))
    low, high = min(made.low, used), max(made.high, used)
    top = 1.0 if scale.quantity == "relative_humidity" else high
    raw = np.linspace(low, top, LEVELS) if top > low else np.array([low])
    found = correct(made, raw)
    shown, true, error = scale.shown(raw), scale.shown(found.value), scale.spread(found.error)
    return [
        Level(float(r), float(t - r), float(t), float(e), bool(b))
        for r, t, e, b in zip(shown, true, error, found.outside, strict=True)
    ]
