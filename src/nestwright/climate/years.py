"""Many habitats in many rooms, each over the whole record of the room: pieces that know nothing of each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from nestwright.climate.proof import NotSettled, prove_year
from nestwright.climate.results import LimitResult, YearProof
from nestwright.climate.room_air import Room
from nestwright.data import limit_tolerances
from nestwright.habitat.model import Habitat
from nestwright.pieces import Processes, cores, each

__all__ = ["YearRow", "Years", "prove_years", "year_row"]

DAY = 86400.0


@dataclass(frozen=True)
class YearRow:
    """One habitat over one room's record.

    `first_limit` is the limit with the smallest scaled margin, `margin` that margin at its worst hour in steps of the
    limit's tolerance, `margin_low` and `margin_high` what the uncertain inputs leave of it; `sure`: they leave the
    verdict as it is; `held_share` the share of hours in which that limit is held; water kg/s, refill s (None: never),
    drip kg/s, heater W. Where the air found no rest `trouble` says so and the rest is None.
    """

    habitat: str
    revision: str
    room: str
    hours: float
    holds: bool | None = None
    sure: bool | None = None
    first_limit: str = ""
    margin: float | None = None
    margin_low: float | None = None
    margin_high: float | None = None
    held_share: float | None = None
    water_rate: float | None = None
    refill_time: float | None = None
    drip_rate: float | None = None
    heater_power: float | None = None
    judgements: tuple[str, ...] = ()
    trouble: str = ""

    def to_dict(self) -> dict[str, Any]:
        def scaled(value: float | None, factor: float) -> float | None:
            return None if value is None else value * factor

        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "room": self.room,
            "hours": self.hours,
            "holds": self.holds,
            "sure": self.sure,
            "first_limit": self.first_limit,
            "margin": self.margin,
            "margin_low": self.margin_low,
            "margin_high": self.margin_high,
            "hours_held_pct": scaled(self.held_share, 100),
            "water_g_per_day": scaled(self.water_rate, 1000 * DAY),
            "refill_days": scaled(self.refill_time, 1 / DAY),
            "drip_on_garden_g_per_day": scaled(self.drip_rate, 1000 * DAY),
            "heater_W": self.heater_power,
            "trouble": self.trouble,
        }


@dataclass(frozen=True)
class Years:
    """All habitats in all rooms: rows by habitat, then by room; the judgement values that any verdict rests on.

    `left_out`: habitats in rooms that were still to be run when the user stopped the work.
    """

    rows: tuple[YearRow, ...]
    left_out: int = 0

    @property
    def judgements(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(name for row in self.rows for name in row.judgements))

    def to_dict(self) -> dict[str, Any]:
        rows = [row.to_dict() for row in self.rows]
        return {"rows": rows, "judgements": list(self.judgements), "left_out": self.left_out}


def prove_years(
    habitats: Sequence[Habitat], rooms: Sequence[Room], progress: Callable[[float], None] | None = None
) -> Years:
    """Every habitat over the record of every room, each as by `climate.proof.prove_year`.

    `progress` is called with the share done. Done by processes of this computer, or where `pieces.working_at` says; the
    result is the same to the last digit. An interrupt (Ctrl-C) ends the work with the rows that are done, and goes on
    where there are none. Raises InputError for a habitat that cannot be assembled.
    """
    pairs = [(habitat, room) for habitat in habitats for room in rooms]
    rows: dict[int, YearRow] = {}
    try:
        each(
            _row_of, pairs, progress, otherwise=lambda: Processes(min(len(pairs), cores())), arrived=rows.__setitem__
        )  # fmt: skip
    except KeyboardInterrupt:
        if not rows:
            raise
    return Years(tuple(rows[k] for k in sorted(rows)), len(pairs) - len(rows))


def _row_of(pair: tuple[Habitat, Room]) -> YearRow:
    habitat, room = pair
    try:
        return year_row(prove_year(habitat, room))
    except NotSettled as trouble:
        hours = float(room.time[-1] / 3600)
        return YearRow(habitat.name, habitat.revision, room.name, hours, trouble=str(trouble))


def year_row(proof: YearProof) -> YearRow:
    """The row of one proof over a record."""
    mean, first = proof.mean, proof.mean.first_limit
    row = YearRow(
        mean.habitat, mean.revision, mean.room, float(proof.time[-1] / 3600),
        holds=mean.holds, water_rate=mean.water_rate, refill_time=mean.refill_time, drip_rate=mean.drip_rate,
        heater_power=mean.heater_power, judgements=mean.judgements,
    )  # fmt: skip
    if first is None:
        return row
    step = limit_tolerances()[first.quantity]
    ends = [_inside(value, first) / step for value in (first.low_value, first.value, first.high_value)]
    sure = all(limit.sure for limit in mean.limits) if mean.holds else any(
        limit.sure and not limit.held for limit in mean.limits
    )  # fmt: skip
    return replace(
        row, sure=sure, first_limit=first.name, margin=first.scaled_margin, margin_low=min(ends),
        margin_high=max(ends), held_share=first.hours_held_share,
    )  # fmt: skip


def _inside(value: float, limit: LimitResult) -> float:
    """Margin of a value against a limit's band, in the limit's own unit."""
    ends = [
        value - limit.low if limit.low is not None else None,
        limit.high - value if limit.high is not None else None,
    ]
    return min((one for one in ends if one is not None), default=limit.margin)
