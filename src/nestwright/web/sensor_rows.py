"""What pages say of loggers and their channels: last values, trust in them, where they stand."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.web.named import step
from nestwright.web.shown import Shown
from nestwright.web.spark import spark
from nestwright.web.words import words_of
from nestwright.workshop.corrected import corrected
from nestwright.workshop.course import bridge_of
from nestwright.workshop.folder import Workshop
from nestwright.workshop.last_readings import range_of
from nestwright.workshop.moments import DAY
from nestwright.workshop.placements import Placement, placements
from nestwright.workshop.readings import HOUR, Channel, channels_of, newest_of, read_raw
from nestwright.workshop.sensor_state import SensorState, sensor_state
from nestwright.workshop.sensors import scale_of
from nestwright.workshop.tables import logger
from nestwright.workshop.traces import trace

__all__ = ["channel_row", "full_name", "logger_rows", "name_of", "place_words", "unit_of"]

SPARK_POINTS = 96
FEW = 12
"""Points of the last day from which it tells what a gap is."""
UNITS = {"degC": "°C", "1": ""}


def full_name(channel: Channel) -> str:
    """A channel as it is told: LOGGER.CHANNEL."""
    return f"{channel.logger}.{channel.name}"


def name_of(channel: Channel) -> str:
    """A channel's quantity in words."""
    words = {"humidity": "relative humidity", "relative_humidity": "relative humidity", "co2": "CO2"}
    return words.get(channel.quantity, channel.name if channel.quantity == "other" else channel.quantity).replace(
        "_", " "
    )


def unit_of(channel: Channel, show: Shown) -> str:
    """A channel's unit as it is shown."""
    return show.temperature_unit if channel.unit == "degC" else UNITS.get(channel.unit, channel.unit)


def place_words(place: Placement | None) -> str:
    """Where a logger stands, in words; "" for nowhere."""
    if place is None:
        return ""
    chamber = place.chamber.replace("/bell", ", under its bell") if place.chamber else "room beside it"
    return ", ".join(x for x in (place.build or place.colony, chamber) if x)


def logger_rows(connection: Connection, workshop: Workshop, show: Shown, at: int) -> list[dict[str, Any]]:
    """Every logger with its channels, those that stand somewhere first.

    `silent`: it sends by itself and has been still for longer than a gap of its own.
    """
    stands = {p.logger_id: p for p in placements(connection) if p.since <= at and (p.until is None or at < p.until)}
    of: dict[str, list[Channel]] = {}
    for one in channels_of(connection):
        of.setdefault(one.logger, []).append(one)
    rows = []
    for row in connection.execute(select(logger).where(logger.c.id > 0).order_by(logger.c.name)).mappings():
        channels = [channel_row(connection, one, workshop, show, at) for one in of.get(str(row["name"]), ())]
        last = max((c["last"] for c in channels), default=0)
        by_file = bool(row["mapping"])
        rows.append(
            {
                "name": row["name"],
                "address": f"/sensors/{step(row['name'])}",
                "note": row["note"],
                "by_file": by_file,
                "place": stands.get(row["id"]),
                "where": place_words(stands.get(row["id"])),
                "channels": channels,
                "last": last,
                "silent": bool(last) and not by_file and at - last > max(c["bridge"] for c in channels),
            }
        )
    return sorted(rows, key=lambda one: (not one["where"], not one["last"], one["name"].casefold()))


def channel_row(connection: Connection, channel: Channel, workshop: Workshop, show: Shown, at: int) -> dict[str, Any]:
    """One channel: its last value with 8 in 10, its age, its last day as a line, and how far it is trusted."""
    # not how many: that would read every hour of every year
    last = newest_of(connection, channel.id)
    row: dict[str, Any] = {
        "channel": channel, "name": full_name(channel), "what": name_of(channel), "last": last,
        "value": "", "range": "", "line": "", "missing": 0.0, "bridge": 0.0, "trust": "", "due": False,
        "state": None, "fault": "", "unit": unit_of(channel, show),
    }  # fmt: skip
    if not last:
        return row
    try:
        found = trace(connection, channel, last - DAY, last + 1, SPARK_POINTS)
        newest = corrected(connection, channel, last, at_references=True)
        row["state"] = state = _state(connection, channel, workshop, at)
    except InputError as problem:
        row["fault"], row["bridge"] = str(problem), _bridge(connection, channel, last)
        return row
    # a day of few readings tells little of how often they come
    told = found.by != "hour" and len(found.at) >= FEW
    row["bridge"] = found.bridge if told else _bridge(connection, channel, last)
    value, error = float(newest.value[-1]), float(newest.error[-1])
    low, high = range_of(channel, value, error)
    decimals = 0 if high - low >= 2 else 1
    row["value"] = show.reading(value, channel.unit, decimals)
    if low < high:
        row["range"] = " – ".join(show.reading(x, channel.unit, decimals) for x in (low, high))
    row["line"], row["missing"] = spark(found), found.unknown / HOUR
    row["trust"], row["due"] = _trust(state, show)
    return row


def _bridge(connection: Connection, channel: Channel, last: int) -> float:
    return 1000 * bridge_of(read_raw(connection, channel.id, last - 2 * DAY).at)


def _state(connection: Connection, channel: Channel, workshop: Workshop, at: int) -> SensorState | None:
    scale = scale_of(channel)
    return None if scale is None else sensor_state(connection, channel, scale, at, workshop.zone)


def _trust(state: SensorState | None, show: Shown) -> tuple[str, bool]:
    """When a sensor was calibrated and is due, and whether that is now."""
    if state is None:
        return "", False
    day = state.calibrations[-1].calibration.when if state.calibrations else None
    _ = words_of(show.choice.language).gettext
    said = _("calibrated {}").format(show.day(day)) if day else _("never calibrated")
    late = bool(state.due) and state.due <= show.today.isoformat()
    if state.due:
        said += "; " + (_("due since {}") if late else _("due on {}")).format(show.day(state.due))
    return said, late
