"""Which machine does what when: the longest job first, on the machine that is done with it soonest.

That is no optimum. On equal machines that never stop it takes at most 4/3 - 1/(3 m) of the shortest time (R. L. Graham,
Bounds on multiprocessing timing anomalies, SIAM J. Appl. Math. 17 (1969) 416-429, doi:10.1137/0117039); with nights
between, no such bound is claimed, and a lower bound is told beside the plan instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nestwright.errors import InputError
from nestwright.parts.machine import Machine

__all__ = ["Job", "Run", "fewest_days", "list_schedule"]

_CLOSE = 1e-9
"""Hours: sums of hours that differ by less are the same."""


@dataclass(frozen=True)
class Job:
    """`hours` of work of one `way`. `can_stop`: it can be left and taken up next day. `size` m of what must fit the
    bed; `rank` jobs of a lower rank go first; it starts on `day` (0 is the first) at `hour` of it, or later: all
    machines begin their day together."""

    name: str
    way: str
    hours: float
    can_stop: bool = False
    size: tuple[float, float, float] = (0.0, 0.0, 0.0)
    rank: int = 0
    day: int = 0
    hour: float = 0.0


@dataclass(frozen=True)
class Run:
    """A job on its machine: from `start` hours of the machine's day `day` to `end` of `end_day` (first day 0).

    `overnight`: it lasts longer than the machine's hours and runs through.
    """

    job: Job
    machine: str
    day: int
    start: float
    end_day: int
    end: float
    overnight: bool = False


def list_schedule(jobs: Iterable[Job], machines: Sequence[Machine]) -> tuple[Run, ...]:
    """Place every job.

    Raises
    ------
    InputError
        When no machine does a job's way or takes its size.
    """
    free = {one.name: (0, 0.0) for one in machines}
    runs: list[Run] = []
    for job in sorted(jobs, key=lambda j: (j.rank, -j.hours, j.name)):
        able = [one for one in machines if one.way == job.way and _takes(one, job.size)]
        if not able:
            has = ", ".join(f"{m.name}: {m.way}" for m in machines) or "no machine"
            raise InputError("no machine does this", field=job.name, found=f"way {job.way!r}", allowed=has)
        tried = [_placed(job, one, max(free[one.name], (job.day, job.hour))) for one in able]
        run = min(tried, key=lambda r: (r.end_day, r.end))
        free[run.machine] = (run.end_day, run.end)
        runs.append(run)
    return tuple(sorted(runs, key=lambda r: (r.day, r.machine, r.start)))


def _placed(job: Job, machine: Machine, at: tuple[int, float]) -> Run:
    day, hour = at
    left = machine.hours - hour
    if left <= _CLOSE:
        day, hour, left = day + 1, 0.0, machine.hours
    never_stops = machine.hours >= 24
    overnight = not job.can_stop and not never_stops and job.hours > machine.hours + _CLOSE
    if not job.can_stop and not never_stops and job.hours > left + _CLOSE and hour:
        day, hour = day + 1, 0.0
    if overnight:  # through the hours in which it else stands still; the rest of its last day is not used
        days = math.ceil(job.hours / 24 - _CLOSE)
        return Run(job, machine.name, day, hour, day + days - 1, machine.hours, True)
    whole = hour + job.hours
    over = max(0, math.ceil(whole / machine.hours - _CLOSE) - 1)
    return Run(job, machine.name, day, hour, day + over, whole - over * machine.hours)


def _takes(machine: Machine, size: tuple[float, float, float]) -> bool:
    if machine.bed is None:
        return True
    width, depth, height = size
    bed = sorted((machine.bed.width, machine.bed.depth))
    flat = all(side <= room + 1e-9 for side, room in zip(sorted((width, depth)), bed, strict=True))
    return flat and (not machine.height or height <= machine.height + 1e-9)


def fewest_days(jobs: Sequence[Job], machines: Sequence[Machine]) -> int:
    """A lower bound of the days: of every way, all its hours on all its machines, and its longest job on its own."""
    days = 0
    for way in {job.way for job in jobs}:
        mine = [j for j in jobs if j.way == way]
        able = [one for one in machines if one.way == way]
        # a job that cannot stop and is longer than a day's hours may run through the night
        through = any(not j.can_stop and j.hours > min(one.hours for one in able) for j in mine)
        room = [24.0 if through else one.hours for one in able]
        least = max(sum(j.hours for j in mine) / sum(room), max(j.hours for j in mine) / max(room))
        days = max(days, math.ceil(least - _CLOSE))
    return days
