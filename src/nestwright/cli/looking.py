"""What `today` and `alarms` share: one look over the workshop with a bar, and lines that fit a narrow screen."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

from nestwright.errands.garden_loggers import garden_climate_of

if TYPE_CHECKING:
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.look import Look

_WITH_UNIT = re.compile(r"(\d) (%|mL|L|g|mm|h|min|degC|ppm|days?)(?![a-z])")

__all__ = ["look_at", "width", "wrapped"]


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
