"""What a design predicted where a channel was measured: which work finds it out, and its line over any span."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from nestwright.web.climate_measured import measured_in
from nestwright.web.climate_year import RESULTS, Asked, asked
from nestwright.web.habitat_files import file_of
from nestwright.workshop.builds import Made, find_build, kept_builds
from nestwright.workshop.folder import Workshop
from nestwright.workshop.moments import local_ms
from nestwright.workshop.placements import Placement, stay_at
from nestwright.workshop.readings import HOUR, Channel
from nestwright.workshop.sensors import scale_of
from nestwright.workshop.traces import MOST_WIDTH

if TYPE_CHECKING:
    from nestwright.climate.results import YearProof

__all__ = ["IN_MEASURED_ROOM", "Predicted", "build_at", "keys_of", "predicted", "wanted"]

Array = NDArray[np.float64]
IN_MEASURED_ROOM = "measured"
"""The room as loggers beside the build read it, in place of a room's name."""
QUANTITIES = ("temperature", "relative_humidity", "co2")


@dataclass(frozen=True)
class Predicted:
    """A run of a design where a channel stands, over a span, in the channel's unit.

    `at` UTC ms (n,), middle of each step; `mean` (n,) over the step, nan where the run tells nothing of it; `low` and
    `high` (n,) what the uncertain inputs leave open.
    """

    at: NDArray[np.int64]
    low: Array
    mean: Array
    high: Array

    def to_dict(self) -> dict[str, Any]:
        columns = {
            name: [None if x != x else float(f"{x:.6g}") for x in one.tolist()]
            for name, one in (("low", self.low), ("mean", self.mean), ("high", self.high))
        }
        return {"at": self.at.tolist(), **columns}


def build_at(connection: Connection, channel: Channel, place: Placement | None, day: str) -> Made | None:
    """The build in a chamber of which a channel's logger stands; None where it stands in none, or reads what no run
    tells."""
    scale = scale_of(channel)
    if place is None or not place.chamber or scale is None or scale.quantity not in QUANTITIES:
        return None
    if place.build:
        return find_build(connection, place.build)
    colonies = connection.exec_driver_sql("SELECT id FROM colony WHERE name = ?", (place.colony,)).scalar()
    home = None if colonies is None else stay_at(connection, int(colonies), day)
    return next((one for one in kept_builds(connection) if one.id == home), None)


def wanted(workshop: Workshop, made: Made, room: str) -> Asked | None:
    """The work that finds out what a build's design predicts in a room; None where its room was not measured, or was
    not asked for. Raises InputError for a habitat or a room that cannot be used."""
    file = file_of(workshop, Path(str(made.values["habitat"])).stem)
    measured = measured_in(workshop, made)
    if room != IN_MEASURED_ROOM:
        return asked(workshop, file, room, made, measured)
    return None if measured is None or measured.room is None else asked(workshop, file, "", made, measured)


def keys_of(told: Asked) -> tuple[str, str]:
    """Keys of finished work: of the run, and of its intervals."""
    return told.keys["year" if told.room else "measured"], told.keys.get("intervals", "")


def predicted(
    workshop: Workshop, channel: Channel, chamber: str, keys: tuple[str, str], low: int, high: int, width: int
) -> Predicted | None:
    """A run's line from `low` on and before `high` (UTC ms) in about `width` steps; None where the run is no longer
    kept, or tells nothing of the channel's place."""
    found = RESULTS.get(keys[0])
    run: YearProof | None = getattr(found, "proof", found)
    scale = scale_of(channel)
    if run is None or scale is None or scale.quantity not in run.series.get(chamber, {}):
        return None
    width = max(2, min(int(width), MOST_WIDTH))
    step = max(1, -(-(high - low) // width))
    # a step longer than an hour is the mean of its hours
    each = ceil(step / HOUR)
    edges = low // step * step + step * np.arange(-(-(high - low) // step) + 1)
    moments = edges[:, None] + ((np.arange(each) + 0.5) * step / each).astype(np.int64)
    value = _values(run, chamber, scale.quantity, local_ms(moments.ravel(), workshop.zone)).reshape(moments.shape)
    mean = value.mean(axis=1)
    down, up = (RESULTS.get(keys[1]) or {}).get((chamber, scale.quantity), (np.nan, np.nan))
    low_end, middle, high_end = (scale.shown(one) for one in (mean + down, mean, mean + up))
    return Predicted(edges + step // 2, low_end, middle, high_end)


def _values(run: YearProof, chamber: str, quantity: str, local: NDArray[np.int64]) -> Array:
    from nestwright.climate.beside import moments_in_run

    at, _ = moments_in_run(run, local)
    value = np.full(len(at), np.nan)
    known = np.isfinite(at)
    value[known] = np.interp(at[known], run.time, run.series[chamber][quantity])
    return value
