"""Readings taken out of the record, as after an import with the wrong clock; the only way in which they go."""

from __future__ import annotations

from sqlalchemy import Connection, text

from nestwright.workshop.readings import HOUR

__all__ = ["count_readings", "remove_readings"]

_WHERE = "channel_id = :channel AND at >= :low AND at < :high"


def count_readings(connection: Connection, channel_id: int, low: int, high: int) -> int:
    """Readings of a channel from `low` on and before `high`, UTC ms."""
    found = connection.execute(text(f"SELECT count(*) FROM reading WHERE {_WHERE}"), _span(channel_id, low, high))
    return int(found.scalar() or 0)


def remove_readings(connection: Connection, channel_id: int, low: int, high: int) -> int:
    """Remove readings of a channel from `low` on and before `high`, UTC ms, and sum the hours at both ends anew.

    How many there were. Readings have no history: this cannot be taken back.
    """
    gone = connection.execute(text(f"DELETE FROM reading WHERE {_WHERE}"), _span(channel_id, low, high)).rowcount
    first, last = low // HOUR, (high - 1) // HOUR
    out = "DELETE FROM rollup WHERE channel_id = :channel AND hour BETWEEN :low AND :high"
    connection.execute(text(out), {"channel": channel_id, "low": first, "high": last})
    again = (
        "INSERT INTO rollup (channel_id, hour, n, low, high, total) "
        "SELECT channel_id, :hour, count(*), min(value), max(value), sum(value) "
        f"FROM reading WHERE {_WHERE} GROUP BY channel_id"
    )
    for hour in sorted({first, last}):
        span = _span(channel_id, hour * HOUR, (hour + 1) * HOUR)
        connection.execute(text(again), {"hour": hour, **span})
    return int(gone)


def _span(channel_id: int, low: int, high: int) -> dict[str, int]:
    return {"channel": channel_id, "low": low, "high": high}
