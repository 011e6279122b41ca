"""What `today` and `alarms` share: one look over the workshop with a bar, and lines that fit a narrow screen."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from contextlib import ExitStack
from dataclasses import fields
from datetime import datetime, time
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestwright.cli.garden_climate import GardenClimate
    from nestwright.colony.model import Climate, Colony
    from nestwright.workshop.colonies import Kept
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.kept_forecasts import Prepare
    from nestwright.workshop.look import Look

_WITH_UNIT = re.compile(r"(\d) (%|mL|L|g|mm|h|min|degC|ppm|days?)(?![a-z])")

__all__ = ["garden_climate_of", "look_at", "width", "wrapped"]


def look_at(workshop: Workshop, *, forecasts: bool = True, quiet: bool = False, unattended: bool = False) -> Look:
    """One look at this moment, with a bar on the error output while forecasts are made.

    `quiet` as in `progress_bar`; `unattended`: nothing at all where the error output is no terminal, because cron would
    send each line as a mail.
    """
    from nestwright.cli.progress import progress_bar
    from nestwright.workshop.changes import now
    from nestwright.workshop.look import look

    told = not (unattended and not sys.stderr.isatty())
    with ExitStack() as stack:
        bars: list[Any] = []

        def shown(name: str, share: float) -> None:
            if not bars:  # no bar where every forecast is there already
                bars.append(stack.enter_context(progress_bar(quiet)))
                bars.append(bars[0].add_task("forecasts", total=1.0))
            bars[0].update(bars[1], completed=share, description=f"forecast of {name}")

        return look(
            workshop,
            now(),
            forecasts=forecasts,
            progress=shown if told else None,
            prepare=lambda kept: garden_climate_of(workshop, kept),
        )


def garden_climate_of(workshop: Workshop, kept: Kept) -> Prepare:
    """How the climate of its garden comes to a colony: its file's, before that the readings of the loggers there.

    Readings count up to the last midnight, so that a logger that sends all day makes one new forecast a day.
    """

    def prepare(colony: Colony, horizon: int) -> tuple[Colony, Climate | None, tuple[str, ...]]:
        from nestwright.cli.fitting import with_climate
        from nestwright.cli.garden_climate import read_garden_climate

        read = []
        if colony.climate_file:
            read.append(read_garden_climate(workshop.folder / "colonies" / colony.climate_file, colony, horizon))
        measured = _measured(workshop, kept.id, colony, horizon)
        read += [] if measured is None else [measured]
        made, ahead = with_climate(colony, read)
        return made, ahead, tuple(_digest(one) for one in (made.climate, ahead) if one is not None)

    return prepare


_known: dict[tuple[str, int], tuple[object, GardenClimate | None]] = {}
"""By workshop and colony: what its climate was made of when it was last asked for, and the climate. A page that looks
every minute must not read a year of readings each time."""


def _measured(workshop: Workshop, colony_id: int, colony: Colony, horizon: int) -> GardenClimate | None:
    """The climate out of the loggers at a colony's garden, read anew only where something of it changed."""
    from nestwright.cli.garden_climate import recorded_climate
    from nestwright.workshop.database import reading
    from nestwright.workshop.garden_air import air_state, garden_air

    zone = workshop.zone
    begin, midnight = (datetime.combine(day, time(), zone) for day in (colony.start, datetime.now(zone).date()))
    low, high = (int(1000 * t.timestamp()) for t in (begin, midnight))
    if low >= high:
        return None
    with reading(workshop.engine) as connection:
        air_of = air_state(connection, workshop.folder, colony_id, zone, low, high)
        state = (air_of, colony.start, colony.days, colony.species, horizon, low, high)
        place = str(workshop.database), colony_id
        if place not in _known or _known[place][0] != state:
            air = garden_air(connection, workshop.folder, colony_id, colony.start, zone, low, high)
            _known[place] = state, None if air is None else recorded_climate(air, colony, horizon)
        return _known[place][1]


def _digest(climate: Climate) -> str:
    """A climate in a few letters: the same to a thousandth of its units makes the same."""
    import hashlib

    import numpy as np

    columns = [np.round(np.asarray(getattr(climate, f.name), dtype=float), 3) + 0.0 for f in fields(climate)]
    return hashlib.sha256(np.stack(columns).tobytes()).hexdigest()[:32]


def width() -> int:
    """Columns of the terminal, from 32; 80 where there is none."""
    if not sys.stdout.isatty():
        return 80
    return max(32, min(shutil.get_terminal_size((80, 24)).columns, 100))


def wrapped(lead: str, text: str, columns: int | None = None) -> str:
    """A text behind a lead, broken at words and set in under its beginning."""
    # a number stays with its unit
    kept = _WITH_UNIT.sub("\\1\0\\2", text)
    filled = textwrap.fill(
        kept, columns or width(), initial_indent=lead, subsequent_indent=" " * len(lead), break_on_hyphens=False
    )
    return filled.replace("\0", " ")
