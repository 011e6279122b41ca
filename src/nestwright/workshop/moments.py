"""Between the workshop's clock on the wall and UTC: moments that a person types, and many moments at once."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nestwright.errors import InputError

__all__ = ["DAY", "local_ms", "moment_of"]

DAY = 86_400_000
"""Milliseconds in a day of 24 hours."""
_TYPED = re.compile(r"\s*(\d{4}-\d{2}-\d{2})(?:[ T]+(\d{1,2}:\d{2}(?::\d{2})?))?\s*", re.ASCII)
_BLOCK = 1_800_000
"""Half an hour, ms: offsets from UTC change at its multiples only."""


def moment_of(text: str, zone: ZoneInfo, field: str, *, end: bool = False) -> int:
    """A day or a moment as typed, on the clock of `zone`, as UTC ms.

    A day alone is its first moment, or with `end` the first of the next one, so that the day is inside. A time that
    comes twice in autumn is its first pass, with `end` its second; one that spring skips is moved forward by the skip.

    Raises InputError with `field` for a text that is neither.
    """
    found = _TYPED.fullmatch(text)
    try:
        if found is None:
            raise ValueError
        day, clock = found.groups()
        hour, _, rest = (clock or "00:00").partition(":")
        at = datetime.fromisoformat(f"{day} {hour:0>2}:{rest}")
        if not clock and end:
            at += timedelta(days=1)
        return round(at.replace(tzinfo=zone, fold=int(end)).astimezone(UTC).timestamp() * 1000)
    except (ValueError, OverflowError):
        raise InputError(
            "is no day or moment", field=field, found=repr(text[:60]), allowed="2026-01-31 or '2026-01-31 18:30'"
        ) from None


def local_ms(at: NDArray[np.int64], zone: ZoneInfo) -> NDArray[np.int64]:
    """UTC ms, shape (n,), as ms since 1970 on the clock of `zone`."""
    blocks, which = np.unique(np.asarray(at, dtype=np.int64) // _BLOCK, return_inverse=True)
    shift = [
        round((datetime.fromtimestamp(b * _BLOCK / 1000, zone).utcoffset() or timedelta()).total_seconds() * 1000)
        for b in blocks.tolist()
    ]
    return np.asarray(at, dtype=np.int64) + np.array(shift, dtype=np.int64)[which]
