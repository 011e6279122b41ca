"""What was forecast, kept as it was told on that day, so that it can be held against what happened.

One file a colony and day of making under papers/forecasts, beside the record; nothing removes them.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.files import plain_name, write_whole

if TYPE_CHECKING:
    from nestwright.colony.model import Colony
    from nestwright.workshop.kept_forecasts import KeptForecast

__all__ = ["FOLDER", "Outcome", "Told", "keep_told", "outcomes", "told_of"]

FOLDER = Path("papers") / "forecasts"
KINDS = ("garden", "workers")
"""Bands that are kept: garden mL, workers."""
DIGITS = 4


@dataclass(frozen=True)
class Told:
    """A forecast of one colony: the day it was made, the record's last day that it knew, its bands day by day from
    `last` on (10, 50, 90 %), and its file under the workshop."""

    colony: str
    made: date
    last: date
    bands: dict[str, tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]]
    file: str

    def at(self, kind: str, day: date) -> tuple[float, float, float] | None:
        """A band on a day; None before it was made and beyond its end."""
        index = (day - self.last).days
        ends = self.bands.get(kind)
        if ends is None or day < self.made or not 0 < index < len(ends[0]):
            return None
        return ends[0][index], ends[1][index], ends[2][index]


@dataclass(frozen=True)
class Outcome:
    """Something seen on `day` and what the newest forecast before it had told, 10, 50, 90 %; `error` of what was seen,
    relative standard error. `inside`: within the band of 8 in 10."""

    kind: str
    day: date
    seen: float
    error: float
    made: date
    low: float
    middle: float
    high: float

    @property
    def inside(self) -> bool:
        return self.low <= self.seen <= self.high

    def to_dict(self) -> dict[str, Any]:
        told = {k: getattr(self, k) for k in ("kind", "seen", "error", "low", "middle", "high", "inside")}
        return {**told, "day": self.day.isoformat(), "made": self.made.isoformat()}


def keep_told(folder: Path, colony: str, made: date, kept: KeptForecast) -> None:
    """Keep a forecast of a workshop's colony; a later one of the same day takes its place. Where nothing can be
    written nothing is kept."""

    def short(x: float) -> float:
        return float(f"{x:.{DIGITS}g}")

    bands = {k: [[short(x) for x in end] for end in v] for k, v in kept.bands.items() if k in KINDS}
    told = {"form": 1, "colony": colony, "made": made.isoformat(), "last": kept.last.isoformat(), "bands": bands}
    file = folder / FOLDER / f"{plain_name(colony)}-{made.isoformat()}.json"
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        write_whole(file, json.dumps(told))
    except (OSError, InputError):
        return


def told_of(folder: Path, colony: str) -> tuple[Told, ...]:
    """What was forecast of a colony, the oldest first; files that are damaged or of another colony are not read."""
    found = (_read(folder, file) for file in (folder / FOLDER).glob(f"{plain_name(colony)}-*.json"))
    return tuple(sorted((t for t in found if t is not None and t.colony == colony), key=lambda t: (t.made, t.file)))


def outcomes(told: Sequence[Told], colony: Colony) -> tuple[Outcome, ...]:
    """Every garden and count of workers of the record that a forecast had told of, beside the newest such forecast."""
    found = []
    for one in colony.observations:
        if one.kind not in KINDS:
            continue
        day = colony.date(one.day)
        bands = [(t.made, t.at(one.kind, day)) for t in told]
        known = [(made, band) for made, band in bands if band is not None]
        if known:
            made, band = known[-1]
            found.append(Outcome(one.kind, day, one.value, one.error, made, *band))
    return tuple(sorted(found, key=lambda o: (o.day, o.kind)))


def _read(folder: Path, file: Path) -> Told | None:
    try:
        told = json.loads(file.read_text("utf-8"))
        bands = {str(k): tuple(tuple(float(x) for x in end) for end in v) for k, v in told["bands"].items()}
        whole = all(
            len(v) == 3 and len({len(end) for end in v}) == 1 and all(math.isfinite(x) for end in v for x in end)
            for v in bands.values()
        )
        if told["form"] != 1 or not whole:
            return None
        made, last = (date.fromisoformat(told[k]) for k in ("made", "last"))
        return Told(str(told["colony"]), made, last, bands, file.relative_to(folder).as_posix())  # type: ignore[arg-type]
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
