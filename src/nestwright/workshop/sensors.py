"""Calibrations in the record: a channel's readings in SI, its calibrations, and what was wanted of it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sqlalchemy import Connection

from nestwright.errors import InputError
from nestwright.sensing.calibration import Calibration
from nestwright.sensing.reference_points import Point
from nestwright.workshop.changes import Act
from nestwright.workshop.readings import Channel
from nestwright.workshop.tables import calibration

__all__ = [
    "KeptCalibration",
    "Scale",
    "at_reference",
    "calibrations_of",
    "keep_calibration",
    "scale_of",
    "spans_at_references",
]

Array = NDArray[np.float64]

_QUANTITIES = {
    "humidity": "relative_humidity",
    "relative_humidity": "relative_humidity",
    "temperature": "temperature",
    "co2": "co2",
}
_UNITS = {
    ("relative_humidity", "%"): (0.01, 0.0),
    ("temperature", "degC"): (1.0, 273.15),
    ("temperature", "K"): (1.0, 0.0),
    ("co2", "ppm"): (1e-6, 0.0),
    ("co2", "%"): (0.01, 0.0),
    ("relative_humidity", "1"): (1.0, 0.0),
}


@dataclass(frozen=True)
class Scale:
    """A channel's quantity as `nestwright.sensing` calls it, and the way from its unit to SI."""

    quantity: str
    factor: float
    zero: float

    def si(self, value: ArrayLike) -> Array:
        return np.asarray(value, dtype=float) * self.factor + self.zero

    def shown(self, value: ArrayLike) -> Array:
        """A value, SI, in the channel's unit."""
        return (np.asarray(value, dtype=float) - self.zero) / self.factor

    def spread(self, error: ArrayLike) -> Array:
        """A difference or an error, SI, in the channel's unit."""
        return np.asarray(error, dtype=float) / self.factor


def scale_of(channel: Channel) -> Scale | None:
    """How a channel's values become SI; None for a quantity that is not calibrated, as light or battery."""
    quantity = _QUANTITIES.get(channel.quantity, "")
    found = _UNITS.get((quantity, channel.unit))
    return None if found is None else Scale(quantity, *found)


@dataclass(frozen=True)
class KeptCalibration:
    """A calibration of the record: its row, when it ended (UTC ms), the curve, and from when to when (UTC ms) the
    sensor stood at each point."""

    id: int
    at: int
    calibration: Calibration
    spans: tuple[tuple[int, int], ...]
    note: str = ""


def calibrations_of(connection: Connection, channel_id: int) -> list[KeptCalibration]:
    """Calibrations of a channel, the oldest first. Raises InputError for one that cannot be read."""
    return _calibrations(connection, f"WHERE channel_id = {int(channel_id)} ORDER BY at")


def spans_at_references(connection: Connection, logger_name: str) -> list[tuple[int, int]]:
    """From when to when (UTC ms) a logger stood at references: what any of its channels read then is not the air of
    the place where it lives."""
    where = (
        "WHERE channel_id IN (SELECT channel.id FROM channel JOIN logger ON logger.id = channel.logger_id "
        "WHERE logger.name = ?)"
    )
    return sorted({span for kept in _calibrations(connection, where, logger_name) for span in kept.spans})


def _calibrations(connection: Connection, where: str, *values: str) -> list[KeptCalibration]:
    """Through the driver: a page of forty loggers asks this four hundred times, and mostly there are none."""
    raw: Any = connection.connection.driver_connection
    rows = raw.execute(f"SELECT id, at, document, note FROM calibration {where}", values)
    return [_kept(*row) for row in rows]


def at_reference(spans: list[tuple[int, int]], at: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which moments, UTC ms, lie in any of the spans, shape of `at`."""
    inside = np.zeros(len(at), dtype=bool)
    for begin, end in spans:
        inside |= (at >= begin) & (at < end)
    return inside


@lru_cache(maxsize=1024)
def _kept(row: int, at: int, document: str, note: str) -> KeptCalibration:
    try:
        told = json.loads(document)
        made = Calibration(
            quantity=told["quantity"],
            when=date.fromisoformat(told["when"]),
            points=tuple(Point(**p) for p in told["points"]),
            centre=float(told["centre"]),
            coefficients=tuple(map(float, told["coefficients"])),
            covariance=tuple(tuple(map(float, line)) for line in told["covariance"]),
            low=float(told["range"][0]),
            high=float(told["range"][1]),
            residuals=tuple(map(float, told["residuals"])),
            chi2=float(told["chi2"]),
            freedom=int(told["freedom"]),
            chance=told["chance"],
            notes=tuple(told["notes"]),
        )
        spans = tuple((int(a), int(b)) for a, b in told.get("spans", []))
    except (ValueError, KeyError, TypeError, IndexError) as error:
        raise InputError(
            "cannot be read", field=f"calibration {row} of the record", found=f"{type(error).__name__}: {error}"
        ) from None
    return KeptCalibration(row, at, made, spans, note)


def keep_calibration(
    done: Act, channel_id: int, made: Calibration, spans: tuple[tuple[int, int], ...], note: str = ""
) -> int:
    """Write a calibration; readings are not touched. Its row.

    Raises InputError when readings of these times are in a calibration already: counted twice, they would make the
    sensor look surer than it is.
    """
    for kept in calibrations_of(done.connection, channel_id):
        if any(a < end and start < b for start, end in kept.spans for a, b in spans):
            raise InputError(
                "readings of these times are in a calibration already",
                field="--point",
                found=f"the one of {kept.calibration.when}",
                allowed="other times, or take that one back first: `nestwright workshop history`, then "
                "`nestwright workshop undo STEP`",
            )
    document = made.to_dict() | {"spans": [list(s) for s in spans]}
    values = {
        "channel_id": channel_id,
        "at": max(end for _, end in spans),
        "document": json.dumps(document, ensure_ascii=False),
        "note": note,
    }
    return done.add(calibration, values)
