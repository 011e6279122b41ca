"""What `today` and `alarms` share: one look over the workshop with a bar, and lines that fit a narrow screen."""

from __future__ import annotations

import re
import shutil
import sys
import textwrap
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestwright.colony.model import Climate, Colony
    from nestwright.workshop.colonies import Kept
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.kept_forecasts import Prepare
    from nestwright.workshop.look import Look

_WITH_UNIT = re.compile(r"(\d) (%|mL|L|g|mm|h|min|degC|ppm|days?)(?![a-z])")

__all__ = ["look_at", "width", "wrapped"]


def look_at(workshop: Workshop, *, forecasts: bool = True, quiet: bool = False) -> Look:
    """One look at this moment, with a bar on the error output while forecasts are made."""
    from nestwright.cli.progress import progress_bar
    from nestwright.workshop.changes import now
    from nestwright.workshop.look import look

    with progress_bar(quiet) as bar:
        task: list[Any] = []

        def shown(name: str, share: float) -> None:
            if not task:  # no bar where every forecast is there already
                task.append(bar.add_task("forecasts", total=1.0))
            bar.update(task[0], completed=share, description=f"forecast of {name}")

        return look(
            workshop, now(), forecasts=forecasts, progress=shown, prepare=lambda link, kept: _climate(workshop, kept)
        )


def _climate(workshop: Workshop, kept: Kept) -> Prepare:
    """How the climate file of a colony comes to it."""
    folder = workshop.folder / "colonies"

    def prepare(colony: Colony, horizon: int) -> tuple[Colony, Climate | None, tuple[str, ...]]:
        if not colony.climate_file:
            return colony, None, ()
        from nestwright.cli.garden_climate import read_garden_climate
        from nestwright.errors import InputError

        path: Path = folder / colony.climate_file
        try:
            data = path.read_bytes()
        except OSError as error:
            raise InputError("cannot be read", file=str(path), field="climate", found=error.strerror or "") from None
        read = read_garden_climate(path, colony, horizon)
        import hashlib

        digest = hashlib.sha256(data).hexdigest()
        return replace(colony, climate=read.record, notes=(*colony.notes, *read.notes)), read.ahead, (digest,)

    return prepare


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
