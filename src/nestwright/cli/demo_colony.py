"""The colony's part of the demo: an invented record fitted, carried on, diagnosed and drawn."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestwright.colony.results import Diagnosis
    from nestwright.errands.forecast import Told

__all__ = ["COLONY", "DAYS", "PICTURES", "Grown", "draw", "grow", "print_grown"]

COLONY = "colonies/marigold.toml"
DAYS = 90
HISTORY = 5
PARTICLES, MOVES = 120, 2
"""Fewer than `nestwright diagnose` takes, so that the demo stays quick; its weights are told with their error."""
PICTURES = ("growth", "dates", "leaves", "brood", "evidence")


@dataclass(frozen=True)
class Grown:
    """What the demo says of its colony."""

    told: Told
    diagnosis: Diagnosis

    def to_dict(self) -> dict[str, Any]:
        return {"forecast": self.told.to_dict(), "diagnosis": self.diagnosis.to_dict()}


def grow(workshop: Path, *, quiet: bool) -> Grown:
    """Fit, forecast and diagnose the demo's colony, with a bar on the error output when that is a terminal."""
    from nestwright.cli.fitting import progress_bar
    from nestwright.cli.forecast import told_of
    from nestwright.colony.diagnosis import diagnose
    from nestwright.colony.forecast import Scenario
    from nestwright.errands.fitting import colony_and_climate

    colony, ahead, read = colony_and_climate(workshop / COLONY, None, DAYS)
    sources = tuple(one.source for one in read)
    told = told_of(colony, DAYS, Scenario(climate=ahead), climate=sources, quiet=quiet)
    with progress_bar(quiet) as bar:
        task = bar.add_task("weighing the causes", total=1.0)
        weighed = diagnose(
            colony,
            history=HISTORY,
            particles=PARTICLES,
            moves=MOVES,
            progress=lambda share: bar.update(task, completed=float(share)),
        )
    return Grown(told, weighed)


def draw(grown: Grown, folder: Path) -> None:
    """Draw the pictures into a folder that is there."""
    from nestwright.charts.evidence import evidence_chart
    from nestwright.charts.render import save
    from nestwright.cli.forecast_out import draw_all

    draw_all(grown.told.forecast, folder)
    save(evidence_chart(grown.diagnosis), folder / "evidence.svg")


def print_grown(grown: Grown) -> None:
    """Print the forecast and the diagnosis, as their commands do."""
    from nestwright.cli.diagnose import print_diagnosis
    from nestwright.cli.forecast_text import print_forecast

    print_forecast(grown.told)
    print()
    print_diagnosis(grown.diagnosis)
