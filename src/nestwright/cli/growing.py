"""A habitat while its garden grows as forecast: from the JSON of `nestwright forecast` to its proof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.cli.growing_file import read_courses
from nestwright.cli.progress import progress_bar

if TYPE_CHECKING:
    from nestwright.climate.growing import GrowingProof

__all__ = ["prove_forecast", "read_courses"]


def prove_forecast(habitat: Any, air: Any, path: Path, *, quiet: bool = False) -> GrowingProof:
    """Prove a habitat at the sizes of the forecast in a file. Raises InputError for a file that is none."""
    from nestwright.climate.growing import prove_growing

    species, start, courses = read_courses(path)
    with progress_bar(quiet) as bar:
        task = bar.add_task("proving the days", total=1.0)
        made = prove_growing(
            habitat, air, courses, start=start, progress=lambda share: bar.update(task, completed=float(share))
        )
    if species.split() == habitat.species.split():
        return made
    warning = (
        f"the forecast is of {species}, the habitat is for {habitat.species}. The limits and the garden's breath "
        f"below are those of {habitat.species}: set `species` in the habitat's file for the colony that will live there"
    )
    return replace(made, warnings=(*made.warnings, warning))
