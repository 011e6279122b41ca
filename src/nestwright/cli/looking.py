"""What `today` and `alarms` share: one look over the workshop with a bar, and lines that fit a narrow screen."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from contextlib import ExitStack
from dataclasses import fields
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection

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
            prepare=lambda link, kept: garden_climate_of(link, workshop, kept),
        )


def garden_climate_of(link: Connection, workshop: Workshop, kept: Kept) -> Prepare:
    """How the climate of its garden comes to a colony: its file's, before that the readings of the loggers there.

    Readings count up to the last midnight, so that a logger that sends all day makes one new forecast a day.
    """
    from nestwright.workshop.garden_air import garden_air

    zone = workshop.zone
    try:
        start = date.fromisoformat(str(kept.values["start"]))
    except ValueError:  # a record that nothing is forecast from
        return lambda colony, _: (colony, None, ())
    begin, midnight = (datetime.combine(day, time(), zone) for day in (start, datetime.now(zone).date()))
    low, high = (int(1000 * t.timestamp()) for t in (begin, midnight))
    air, fault = None, None
    try:
        air = garden_air(link, workshop.folder, kept.id, start, zone, low, high) if low < high else None
    except InputError as problem:  # of this colony alone
        fault = problem

    def prepare(colony: Colony, horizon: int) -> tuple[Colony, Climate | None, tuple[str, ...]]:
        from nestwright.cli.fitting import with_climate
        from nestwright.cli.garden_climate import read_garden_climate, recorded_climate

        if fault is not None:
            raise fault
        read = []
        if colony.climate_file:
            read.append(read_garden_climate(workshop.folder / "colonies" / colony.climate_file, colony, horizon))
        measured = None if air is None else recorded_climate(air, colony, horizon)
        read += [] if measured is None else [measured]
        made, ahead = with_climate(colony, read)
        return made, ahead, tuple(_digest(one) for one in (made.climate, ahead) if one is not None)

    return prepare


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
