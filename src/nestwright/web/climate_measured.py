"""What the loggers of a build measured, set beside what was predicted, for one page."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection

from nestwright.climate.beside import Beside, How, beside, moments_in_run
from nestwright.climate.room_air import Room
from nestwright.errors import InputError
from nestwright.workshop.builds import Made, kept_builds
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop
from nestwright.workshop.measured_air import LEAD, SOURCE, MeasuredHours, last_days, measured_hours, measured_room
from nestwright.workshop.moments import DAY

if TYPE_CHECKING:
    from nestwright.climate.intervals import Intervals
    from nestwright.climate.results import YearProof

__all__ = ["Compared", "Measured", "builds_of", "compared", "measured_in", "measured_of"]


@dataclass(frozen=True)
class Measured:
    """The last days that loggers in a build's chambers measured: `start` and `end` UTC ms, their hours, and the air of
    the build's room as its loggers read it, None for none. `fault` says why nothing can be read."""

    made: Made
    start: int
    end: int
    hours: tuple[MeasuredHours, ...]
    room: Room | None
    fault: str = ""

    @property
    def room_logger(self) -> str:
        """The logger that read the room's air."""
        return self.room.source.removeprefix(SOURCE) if self.room else ""


@dataclass(frozen=True)
class Compared:
    """Measured beside predicted, a chamber and quantity each; `how` the hours of the prediction belong to the measured
    ones, None without a prediction; `first` day since 1970 on which the span begins; `key` of all of it."""

    rows: tuple[Beside, ...]
    how: How | None
    first: int
    key: str


def builds_of(workshop: Workshop, stem: str) -> list[Made]:
    """The builds of a habitat that stand, by serial."""
    with reading(workshop.engine) as connection:
        return [
            one
            for one in kept_builds(connection)
            if Path(str(one.values["habitat"])) == Path("habitats") / f"{stem}.toml" and not one.values["ended"]
        ]


def measured_in(workshop: Workshop, made: Made) -> Measured | None:
    """What was measured in a build; None where no logger in one of its chambers has readings."""
    return next(iter(measured_of(workshop, [made])), None)


def measured_of(workshop: Workshop, builds: list[Made]) -> list[Measured]:
    """What was measured in each of some builds, without those in which nothing was."""
    with reading(workshop.engine) as connection:
        found = [_measured(connection, workshop, made) for made in builds]
    return [one for one in found if one is not None]


def _measured(connection: Connection, workshop: Workshop, made: Made) -> Measured | None:
    span = last_days(connection, workshop.zone, made)
    if span is None:
        return None
    try:
        hours = measured_hours(connection, workshop.zone, made, *span)
        room = measured_room(measured_hours(connection, workshop.zone, made, span[0] - LEAD * DAY, span[1], room=True))
    except InputError as error:
        return Measured(made, *span, (), None, str(error))
    return Measured(made, *span, tuple(hours), room) if hours else None


def compared(measured: Measured, run: YearProof | None, intervals: Intervals) -> Compared:
    """Everything that was measured, beside a run of the habitat with its intervals, or alone."""
    rows = tuple(
        beside(
            run, one.chamber, one.quantity, one.logger, one.local, one.value, one.common, one.own,
            calibrated=one.calibrated, interval=intervals.get((one.chamber, one.quantity), (nan, nan)),
        )
        for one in measured.hours
    )  # fmt: skip
    how = None
    if run is not None and measured.hours:
        how = moments_in_run(run, measured.hours[0].local)[1]
    told = hashlib.sha256(repr([one.to_dict() for one in rows]).encode()).hexdigest()[:40]
    # the span is of whole days on the workshop's clock
    first = min(int(one.local[0]) for one in measured.hours) // DAY
    return Compared(rows, how, first, told)
