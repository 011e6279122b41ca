"""Forecasts of the record's colonies, kept beside it until the record changes: a fit takes seconds, a look must not."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright import __version__
from nestwright.errors import InputError
from nestwright.workshop.alarm_rules import Due
from nestwright.workshop.told_forecasts import keep_told

if TYPE_CHECKING:
    from nestwright.colony.model import Climate, Colony

__all__ = ["AHEAD", "FOLDER", "KeptForecast", "NotKeptError", "Prepare", "forecast_of", "remove_stale"]

AHEAD = 60
"""Days from today that a kept forecast reaches at least."""
ROUND = 30
"""Days by which its reach is rounded up, so that a new day alone makes no new forecast."""
OLDEST = 120
"""Days since the record's last entry after which nothing is forecast from it."""
FOLDER = Path(".cache") / "forecasts"
FORM = 1
BANDS = ("garden", "fill", "workers", "leaf_fresh", "waste")
Prepare = Callable[["Colony", int], tuple["Colony", "Climate | None", tuple[str, ...]]]
"""From a colony and the days ahead to the colony with its climate, the climate ahead, and what else it rests on."""
Range = tuple[float, float, float]


@dataclass(frozen=True)
class KeptForecast:
    """What is kept of a forecast. `bands`: name to its 10, 50 and 90 % day by day from `last` on, the last day of the
    record; garden mL, fill 0 to 1, workers, leaf_fresh and waste g a day. `full` and `chamber_full`: when. `survival`
    over the `horizon` days from `last`; `notes` of the forecast."""

    last: date
    horizon: int
    bands: dict[str, tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]]
    full: Due | None
    chamber_full: Due | None
    survival: float
    notes: tuple[str, ...]

    def at(self, name: str, day: date) -> Range | None:
        """A band on a day, 10, 50 and 90 %; None beyond the days looked at, or where there is no such band."""
        index = max(0, (day - self.last).days)
        if name not in self.bands or index > self.horizon:
            return None
        low, middle, high = (end[index] for end in self.bands[name])
        return low, middle, high

    def to_dict(self) -> dict[str, Any]:
        def due(one: Due | None) -> Any:
            return None if one is None else [str(one.early), str(one.middle), str(one.late), one.chance]

        return {
            "form": FORM,
            "last": self.last.isoformat(),
            "horizon": self.horizon,
            "bands": {k: [list(end) for end in v] for k, v in self.bands.items()},
            "full": due(self.full),
            "chamber_full": due(self.chamber_full),
            "survival": self.survival,
            "notes": list(self.notes),
        }


class NotKeptError(InputError):
    """There is no forecast of the record as it stands, and none was to be made."""


def forecast_of(
    folder: Path,
    colony: Colony,
    tables: dict[str, Any],
    today: date,
    progress: Callable[[float], None] | None = None,
    prepare: Prepare | None = None,
    *,
    fit: bool = True,
) -> tuple[KeptForecast, Path]:
    """The forecast of a colony, kept or made now, and the file that it is kept in.

    Parameters
    ----------
    folder : of the workshop.
    colony, tables : of `workshop.colonies`: the same record as model and as tables.
    progress : called with the share of a fit that is done.
    prepare : brings the garden's climate to the colony.
    fit : False makes none: where none is kept NotKeptError is raised.

    Raises InputError where nothing can be forecast: nothing told of garden and workers, or too long ago.
    """
    began = colony.at_start
    if not colony.observations and began.garden is None and began.workers is None:
        raise InputError(
            "nothing is told yet of its garden or workers, so there is no forecast: record a visit", field=colony.name
        )
    # what another colony's visit told of this one (donor garden) is no look at it
    last = colony.date(max((one.day for one in colony.observations), default=colony.days))
    ago = max(0, (today - last).days)
    if ago > OLDEST:
        raise InputError(f"its record ends {ago} days ago, on {last}: no forecast from that", field=colony.name)
    horizon = -(-(ago + AHEAD) // ROUND) * ROUND
    ahead: Climate | None = None
    rests: tuple[str, ...] = ()
    if prepare is not None:
        colony, ahead, rests = prepare(colony, horizon)
    told = [tables, horizon, rests, __version__, FORM]
    digest = hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()
    file = folder / FOLDER / f"{digest[:32]}.json"
    kept = _read(file)
    if kept is None:
        if not fit:
            raise NotKeptError("its forecast is not made yet", field=colony.name)
        kept = _made(folder, colony, horizon, ahead, progress)
        _keep(file, kept)
        keep_told(folder, colony.name, today, kept)
    return kept, file


def remove_stale(folder: Path, used: set[Path]) -> int:
    """Remove kept forecasts that no colony of the record has any more; how many."""
    removed = 0
    for file in (folder / FOLDER).glob("*.json"):
        if file not in used:
            try:
                file.unlink()
                removed += 1
            except OSError:  # a folder that can only be read, or another process was first
                continue
    return removed


def _made(
    folder: Path, colony: Colony, horizon: int, ahead: Climate | None, progress: Callable[[float], None] | None
) -> KeptForecast:
    from nestwright.colony.forecast import Scenario, forecast
    from nestwright.workshop.kept_fits import kept_fit

    result = forecast(kept_fit(folder, colony, progress), horizon, Scenario(climate=ahead))
    dates = {d.name: d for d in result.dates}

    def due(name: str) -> Due | None:
        one = dates.get(name)
        if one is None:
            return None
        early, middle, late = (None if d is None else colony.date(d) for d in (one.early, one.middle, one.late))
        return Due(early, middle, late, one.probability)

    return KeptForecast(
        last=colony.date(colony.days),
        horizon=horizon,
        bands={
            k: (tuple(b.low.tolist()), tuple(b.middle.tolist()), tuple(b.high.tolist()))
            for k, b in result.bands.items()
            if k in BANDS
        },
        full=due("bell_full"),
        chamber_full=due("next_chamber"),
        survival=result.survival,
        notes=result.notes,
    )


def _keep(file: Path, kept: KeptForecast) -> None:
    from nestwright.files import write_whole

    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, json.dumps(kept.to_dict()).encode())
    except (OSError, InputError):
        # where nothing can be written it is made anew each time: slower, not wrong
        return


def _read(file: Path) -> KeptForecast | None:
    """A kept forecast; None where there is none or it is damaged."""
    try:
        told = json.loads(file.read_text("utf-8"))
        if told["form"] != FORM:
            return None
        bands = {str(k): tuple(tuple(float(x) for x in end) for end in v) for k, v in told["bands"].items()}
        horizon, survival = int(told["horizon"]), float(told["survival"])
        whole = all(
            len(v) == 3 and all(len(end) == horizon + 1 and all(map(math.isfinite, end)) for end in v)
            for v in bands.values()
        )
        if not whole or "garden" not in bands or not 0 <= survival <= 1:
            return None
        return KeptForecast(
            date.fromisoformat(told["last"]), horizon, bands, _due(told["full"]), _due(told["chamber_full"]),  # type: ignore[arg-type]
            survival, tuple(map(str, told["notes"])),
        )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError):
        return None


def _due(told: Any) -> Due | None:
    if told is None:
        return None
    early, middle, late = (None if d == "None" else date.fromisoformat(d) for d in told[:3])
    return Due(early, middle, late, float(told[3]))
