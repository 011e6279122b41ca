"""Readings of one or more files: sorted, each instant once, with what was left out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from nestwright.errors import InputError

__all__ = ["LISTED", "Channel", "Conflict", "Fault", "Jump", "Readings", "merge", "settled"]

LISTED = 1000
"""Faults, conflicts, jumps that are listed one by one; all are counted."""


@dataclass(frozen=True)
class Fault:
    """Something in a line that was not taken: line from 1, channel or "" for the whole row, reason, text found."""

    line: int
    channel: str
    reason: str
    text: str


@dataclass(frozen=True)
class Conflict:
    """Two different values of one instant (ms UTC): the one of the later line is kept."""

    channel: str
    time: int
    kept: float
    dropped: float


@dataclass(frozen=True)
class Jump:
    """A place where the clock runs against the rest of the file: line from 1, by how many seconds."""

    line: int
    seconds: float


@dataclass(frozen=True)
class Channel:
    """`time` int64 ms UTC since 1970, strictly rising; `value` in `unit`, no nan; both of shape (n,)."""

    name: str
    quantity: str
    unit: str
    time: NDArray[np.int64]
    value: NDArray[np.float64]


@dataclass(frozen=True)
class Readings:
    """Channels and how they came about.

    `rows` are lines with anything on them below the header, `rows_kept` those that gave a value; `faults`,
    `conflicts`, `jumps` and `shifted` (lines in an hour that spring skips) list the first 1000, `counts` tells how
    many there are of each: "faults", "conflicts", "jumps", "shifted", "twice" (rows in the hour that autumn repeats),
    "missing" (marks for no value), "merged" (equal values of one instant), "ignored" (remarks, rules and repeated
    headers), "broken" (1 or more when a packed file breaks off). `remarks` are sentences for people.
    """

    channels: tuple[Channel, ...]
    rows: int
    rows_kept: int
    faults: tuple[Fault, ...]
    conflicts: tuple[Conflict, ...]
    jumps: tuple[Jump, ...]
    shifted: tuple[int, ...]
    counts: dict[str, int]
    remarks: tuple[str, ...] = ()

    def channel(self, name: str) -> Channel:
        """The channel of a name. Raises KeyError when there is none."""
        for channel in self.channels:
            if channel.name == name:
                return channel
        raise KeyError(name)

    @property
    def start(self) -> datetime:
        """First instant, UTC."""
        return datetime.fromtimestamp(min(int(c.time[0]) for c in self.channels if len(c.time)) / 1000, UTC)

    @property
    def end(self) -> datetime:
        """Last instant, UTC."""
        return datetime.fromtimestamp(max(int(c.time[-1]) for c in self.channels if len(c.time)) / 1000, UTC)


def settled(
    name: str, time: NDArray[np.int64], value: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64], int, int, list[Conflict]]:
    """One value an instant, sorted; of several the last given.

    Parameters
    ----------
    name : str
        Name of the channel, for the list of conflicts.
    time, value : arrays of shape (n,)
        In the order of the lines; nan is no value.

    Returns
    -------
    time, value, merged, conflicts, first conflicts
        `merged` counts further values equal to the one kept, `conflicts` those that differ.
    """
    given = ~np.isnan(value)
    if not given.all():
        time, value = time[given], value[given]
    step = np.diff(time)
    if (step > 0).all():
        return time, value, 0, 0, []
    if (step < 0).any():
        order = np.argsort(time, kind="stable")
        time, value = time[order], value[order]
    last = np.append(np.diff(time) > 0, True)
    group = np.cumsum(np.concatenate(([0], last[:-1].astype(np.int64))))
    kept_time, kept = time[last], value[last]
    dropped = np.flatnonzero(~last)
    differ = dropped[value[dropped] != kept[group[dropped]]]
    listed = [
        Conflict(name, int(time[k]), float(kept[group[k]]), float(value[k])) for k in differ[:LISTED].tolist()
    ]  # fmt: skip
    return kept_time, kept, len(dropped) - len(differ), len(differ), listed


def merge(a: Readings, b: Readings) -> Readings:
    """Both together: equal instants once; where values differ that of `b` is kept and the conflict listed.

    Raises
    ------
    InputError
        When a channel of one name has another quantity or unit in the two.
    """
    ours, theirs = {c.name: c for c in a.channels}, {c.name: c for c in b.channels}
    channels: list[Channel] = []
    conflicts = [*a.conflicts, *b.conflicts]
    counts = {key: a.counts.get(key, 0) + b.counts.get(key, 0) for key in {**a.counts, **b.counts}}
    for name in dict.fromkeys([*ours, *theirs]):
        one, other = ours.get(name), theirs.get(name)
        if one is None or other is None:
            channels.append(one or other)  # type: ignore[arg-type]
            continue
        if (one.quantity, one.unit) != (other.quantity, other.unit):
            raise InputError(
                "the two files mean different things by this channel", field=name,
                found=f"{one.quantity} in {one.unit}, {other.quantity} in {other.unit}",
            )  # fmt: skip
        time, value, merged, differ, listed = settled(
            name, np.concatenate((one.time, other.time)), np.concatenate((one.value, other.value))
        )
        channels.append(Channel(name, one.quantity, one.unit, time, value))
        conflicts += listed
        counts["merged"] = counts.get("merged", 0) + merged
        counts["conflicts"] = counts.get("conflicts", 0) + differ
    return Readings(
        tuple(channels),
        a.rows + b.rows,
        a.rows_kept + b.rows_kept,
        (*a.faults, *b.faults)[:LISTED],
        tuple(conflicts[:LISTED]),
        (*a.jumps, *b.jumps)[:LISTED],
        (*a.shifted, *b.shifted)[:LISTED],
        counts,
        tuple(dict.fromkeys((*a.remarks, *b.remarks))),
    )
