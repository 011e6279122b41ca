"""The first readings of a logger's file, as they would be kept: for a person to look at before anything is."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from nestwright.sensing.loggers import Mapping, read_in_pieces

__all__ = ["first_readings"]

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
