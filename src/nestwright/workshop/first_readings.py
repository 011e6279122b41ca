"""The first readings of a logger's file, as they would be kept: for a person to look at before anything is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from sqlalchemy import Connection, select

from nestwright.sensing.loggers import Mapping, read_in_pieces
from nestwright.workshop.tables import channel, logger, reading

__all__ = ["first_readings", "same_elsewhere"]

PIECE = 1 << 16
"""Bytes that are read at once."""


def first_readings(path: Path, mapping: Mapping, many: int = 5) -> tuple[list[int], list[list[float | None]]]:
    """First moments (UTC ms), and the values of each column at them in the unit in which they are kept, None for none.

    Raises InputError as `read_in_pieces`.
    """
    for part in read_in_pieces(path, mapping, size=PIECE):
        if len(part.time):
            values = [[float(v) if np.isfinite(v) else None for v in one[:many]] for one in part.value]
            return [int(t) for t in part.time[:many]], values
    return [], [[] for _ in mapping.columns]


def same_elsewhere(
    connection: Connection, name: str, times: Sequence[int], values: Sequence[Sequence[float | None]]
) -> str:
    """Another logger than `name` in whose record these first readings stand already: as if its file came once more
    under another name. "" for none, and for fewer than three readings of a column, which may be alike by chance."""
    query = select(logger.c.name, reading.c.channel_id, reading.c.at, reading.c.value).where(
        reading.c.channel_id == channel.c.id, channel.c.logger_id == logger.c.id, logger.c.name != name,
        reading.c.channel_id.in_(select(channel.c.id)), reading.c.at.in_(list(times)),
    )  # fmt: skip
    there: dict[tuple[str, int], dict[int, float]] = {}
    for other, row, at, value in connection.execute(query):
        there.setdefault((str(other), int(row)), {})[int(at)] = float(value)
    for column in values:
        told = {at: value for at, value in zip(times, column, strict=False) if value is not None}
        for (other, _), kept in there.items():
            if len(told) >= 3 and all(math.isclose(kept.get(at, math.nan), v, rel_tol=1e-6) for at, v in told.items()):
                return other
    return ""
