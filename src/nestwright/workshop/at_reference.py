"""A sensor at a reference, out of the record: over a salt, in ice, in outdoor air, from when to when."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from nestwright.errors import InputError, nearest_name
from nestwright.sensing import salts
from nestwright.sensing.equilibrium import FEWEST, Settled, settled
from nestwright.sensing.over_salt import over_salt
from nestwright.sensing.reference_points import Point, ice_point, outdoor_air
from nestwright.sensing.sensor_values import sensor_value
from nestwright.workshop.corrected import correction
from nestwright.workshop.moments import moment_of
from nestwright.workshop.readings import Channel, channels_of, read_raw
from nestwright.workshop.sensors import Scale, calibrations_of, scale_of

__all__ = ["AtReference", "Standing", "read_at_reference", "standing_of", "temperature_beside"]

_MOMENT = r"\d{4}-\d{2}-\d{2}(?:[ T]+\d{1,2}:\d{2}(?::\d{2})?)?"
_STANDING = re.compile(rf"\s*(\S.*?)\s+({_MOMENT})\s+to\s+({_MOMENT}|\d{{1,2}}:\d{{2}}(?::\d{{2}})?)\s*", re.ASCII)
_ALLOWED = {
    "relative_humidity": "'NaCl 2026-01-03 18:00 to 2026-01-04 09:00', a salt by formula or name",
    "temperature": "'ice 2026-01-03 18:00 to 2026-01-03 19:00'",
    "co2": "'outdoor air 2026-01-03 12:00 to 2026-01-03 13:00'",
}
_OTHER = {"temperature": "ice", "co2": "outdoor air"}
_FEW_HOURS = 12
"""A wait longer than so many hours is no wait but another try."""


@dataclass(frozen=True)
class Standing:
    """A sensor stood at a reference (formula of a salt, "ice", "outdoor air") from `begin` on, before `end`, UTC ms."""

    reference: str
    begin: int
    end: int
    text: str


@dataclass(frozen=True)
class AtReference:
    """`point`: None while it was not at rest. `rest`: what was found of the quantity itself, SI, and `begin_of_rest`
    UTC ms. `reason` in words; `wait`: hours more after which it is at rest at the latest, None where waiting will not
    help. `few`: there are too few readings to tell whether it was."""

    standing: Standing
    point: Point | None
    rest: Settled
    begin_of_rest: int | None
    reason: str
    wait: float | None
    few: bool = False

    def to_dict(self) -> dict[str, Any]:
        return {
            "reference": self.standing.reference,
            "from_ms": self.standing.begin,
            "to_ms": self.standing.end,
            "point": self.point.to_dict() if self.point else None,
            "rest": self.rest.to_dict(),
            "reason": self.reason,
            "wait_hours": self.wait,
        }


def standing_of(text: str, quantity: str, zone: ZoneInfo, field: str = "--point") -> Standing:
    """A point of a calibration as typed: reference, from, to, on the clock of `zone`. Raises InputError."""
    found = _STANDING.fullmatch(text)
    if found is None:
        raise InputError("cannot be read", field=field, found=repr(text[:80]), allowed=_ALLOWED[quantity])
    name, first, last = found.groups()
    begin = moment_of(first, zone, field)
    end = moment_of(f"{first[:10]} {last}" if len(last) < 10 else last, zone, field, end=True)
    if quantity == "relative_humidity":
        try:
            reference = salts.formula(name)
        except InputError as error:
            raise InputError(
                error.message, field=field, found=error.found, allowed=error.allowed, nearest=error.nearest
            ) from None
    else:
        reference = _OTHER[quantity]
        if name.casefold() != reference:
            raise InputError(
                f"is no reference of {quantity}",
                field=field,
                found=repr(name),
                allowed=_ALLOWED[quantity],
                nearest=nearest_name(name, [reference]),
            )
    if begin >= end:
        raise InputError("ends before it begins", field=field, found=repr(text[:80]), allowed=_ALLOWED[quantity])
    return Standing(reference, begin, end, text)


def temperature_beside(connection: Connection, channel: Channel) -> Channel:
    """The temperature of the same logger. Raises InputError when it has none, or several."""
    found = [c for c in channels_of(connection, channel.logger) if c.quantity == "temperature" and scale_of(c)]
    if len(found) == 1:
        return found[0]
    raise InputError(
        "the logger has several temperatures" if found else "the logger has no temperature",
        field="--temperature",
        found=", ".join(f"{c.logger}.{c.name}" for c in found) or "none",
        allowed="a channel as LOGGER.CHANNEL, or the temperature of the box, as '22.5 degC'",
    )


def read_at_reference(
    connection: Connection, channel: Channel, scale: Scale, standing: Standing, beside: Channel | float | None = None
) -> AtReference:
    """The point that raw readings at a reference give, once they are at rest.

    Parameters
    ----------
    beside : temperature of a salt's box: a channel (corrected by its own calibrations), or K. Not used otherwise.

    Raises InputError when there are no readings in that time, or the salt has no value at that temperature.
    """
    series = read_raw(connection, channel.id, standing.begin, standing.end)
    if not len(series.at):
        raise InputError(
            "the channel has no readings then", field="--point", found=repr(standing.text),
            allowed="a time with readings (`nestwright readings show`)",
        )  # fmt: skip
    time, raw = series.at / 1000.0, scale.si(series.value)
    if scale.quantity != "relative_humidity":
        within = sensor_value(scale.quantity, "settle_within").value
        rest = settled(time, raw, within)
        point = None
        if rest.value is not None and rest.error is not None:
            point = (ice_point if scale.quantity == "temperature" else outdoor_air)(rest.value, rest.error)
        return _found(standing, series.at, point, rest, rest, rest.reason, within)
    warm = _beside(connection, beside, standing, series.at)
    try:
        over = over_salt(standing.reference, time, raw, warm)
    except InputError as error:
        raise InputError(error.message, field="--point", found=error.found, allowed=error.allowed) from None
    slow = over.humidity if over.humidity.value is None else over.temperature
    within = sensor_value("relative_humidity" if slow is over.humidity else "temperature", "settle_within").value
    return _found(standing, series.at, over.point, over.humidity, slow, over.reason, within)


def _found(
    standing: Standing, at: NDArray[np.int64], point: Point | None,
    rest: Settled, slow: Settled, reason: str, within: float,
) -> AtReference:  # fmt: skip
    begin = None if rest.start_index is None else int(at[rest.start_index])
    few = point is None and slow.value is None and slow.readings < FEWEST
    return AtReference(standing, point, rest, begin, reason, None if point else _wait(slow, within), few)


def _wait(rest: Settled, within: float) -> float | None:
    """Hours until what is left has fallen below what is allowed, for the slowest approach thought of."""
    if rest.remaining is None or not math.isfinite(rest.remaining):
        return None
    hours = sensor_value("settling", "slowest").value * math.log(max(rest.remaining / within, 1.0)) / 3600
    return hours if hours < _FEW_HOURS else None


def _beside(
    connection: Connection, beside: Channel | float | None, standing: Standing, at: NDArray[np.int64]
) -> NDArray[np.float64] | float:
    """Temperature, K, at the moments of the humidity; nan further than a bridge from a reading."""
    if isinstance(beside, float):
        return beside
    if beside is None:
        raise InputError("a salt's humidity needs the temperature of its box", field="--temperature")
    scale = scale_of(beside)
    series = read_raw(connection, beside.id, standing.begin, standing.end)
    if scale is None or scale.quantity != "temperature" or not len(series.at):
        raise InputError(
            "is no temperature" if len(series.at) else "has no readings then",
            field="--temperature",
            found=f"{beside.logger}.{beside.name}",
            allowed="a temperature with readings at that time, or the box's own as '22.5 degC'",
        )
    made = [k.calibration for k in calibrations_of(connection, beside.id)]
    value = correction(made, scale, series.at, series.value).value
    bridge = sensor_value("settling", "bridge").value * 1000
    place = np.searchsorted(series.at, at)
    left, right = np.maximum(place - 1, 0), np.minimum(place, len(series.at) - 1)
    near = np.minimum(np.abs(at - series.at[left]), np.abs(series.at[right] - at)) <= bridge
    return np.where(near, np.interp(at, series.at, value), np.nan)
