"""The risk of a parcel file: by day of dispatch, and of other ways to pack it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from nestwright.data import read_values
from nestwright.document import Document
from nestwright.errors import InputError
from nestwright.parcel.boxes import sent_at
from nestwright.parcel.calendar import due_day
from nestwright.parcel.changes import Change, changes_of, costs_of, pairs_of
from nestwright.parcel.delay import DelayBelief
from nestwright.parcel.draws import Draws, Spread, draw_parcels
from nestwright.parcel.file import parcel_from
from nestwright.parcel.learning import Learned
from nestwright.parcel.model import Parcel
from nestwright.parcel.results import ANTS, CAUSES
from nestwright.parcel.risk import Carried, Carry, Option, Risk, Weighed, risk_of, weigh

__all__ = [
    "Sending",
    "as_told",
    "at_day",
    "parse_days",
    "risk_by_day",
    "risk_now",
    "sending",
    "spreads_of",
    "ways",
]

Array = NDArray[np.float64]
MOST_DAYS = 60
"""Of dispatch that are compared at once."""
Progress = Callable[[float], None]
IDLE = 0.02
"""Share of the expected cost that a pair must save beside its better part to be told."""
PAIRED = 5
"""The best changes of one thing, of which pairs are tried."""


@dataclass(frozen=True)
class Sending:
    """A parcel file as it may be sent: its document, the belief about delays and the route it leans on, and the parcels
    drawn: `draws` for the file itself, a tenth of them, `few`, for comparisons, which are of the same parcels."""

    document: Document
    delays: DelayBelief
    route: str
    draws: Draws
    few: Draws


def spreads_of(parcel: Parcel, learned: Learned | None = None) -> list[Spread]:
    """How parcels like this may differ from what is computed of one; `learned` of the record takes the place of what
    is the same for all."""
    v = {k: one.value for k, one in read_values("parcel_risk.toml").items()}
    every = [
        Spread("pack.power_factor", "factor", 1.0, v["pack_power_all"], "all"),
        Spread("box.leak_factor", "factor", 1.0, v["leak_all"], "all"),
        Spread("box.conductance_factor", "factor", 1.0, v["conductance_all"], "all"),
        Spread("outside.offset", "shift", 0.0, v["outside_all"], "all"),
    ]
    if learned is not None:
        told = {one.name: one for one in learned.values}
        every = [
            replace(one, middle=told[one.name].value, spread=one.spread * told[one.name].width)
            if one.name in told and one.kind == "factor"
            else one
            for one in every
        ]
    return [
        *every,
        Spread("pack.power_factor", "factor", 1.0, v["pack_power_each"], "each"),
        Spread("pack.start_factor", "factor", 1.0, v["pack_start_each"], "each"),
        Spread("outside.offset", "shift", 0.0, v["outside_each"], "each"),
        Spread("cup.position", "even", parcel.cup.position, v["position_each"], "each"),
    ]


def at_day(document: Document, day: date) -> Parcel:
    """The parcel of a file sent on another day at the same hour, its promise moved along. Raises FileError."""
    return sent_at(document, datetime.combine(day, parcel_from(document).dispatch.time()))


def sending(
    document: Document,
    delays: DelayBelief,
    route: str = "",
    *,
    learned: Learned | None = None,
    parcels: int = 10_000,
    seed: int = 1,
) -> Sending:
    """Draw the parcels that all days and ways share. Raises FileError."""
    spreads = spreads_of(parcel_from(document), learned)

    def drawn(n: int) -> Draws:
        outer = max(2, min(50, n // 20))
        return draw_parcels(spreads, delays, route, outer=outer, inner=max(2, n // outer), seed=seed)

    return Sending(document, delays, route, drawn(parcels), drawn(max(100, parcels // 10)))


def promise_of(parcel: Parcel) -> tuple[date, float]:
    """The day of delivery on which it is due, and the hours that it waits for it beyond the hours of its way."""
    promised = parcel.promised or parcel.dispatch + timedelta(hours=parcel.hours)
    due = due_day(promised, 0.0)
    return due, 24.0 * (due - promised.date()).days


def carried(parcel: Parcel, progress: Progress | None = None) -> Carry:
    """What becomes of many parcels like this one."""
    from nestwright.parcel.carry import carry_many

    waits = promise_of(parcel)[1]

    def carry(values: Mapping[str, Array], late: Array) -> Carried:
        drawn = dict(values) | {"cup.position": np.clip(values["cup.position"], 0.0, 1.0)}
        found = carry_many(parcel, drawn, waits + late, progress=progress)
        return Carried(found.garden, found.colony, found.cause, CAUSES, found.ants_cause, ANTS)

    return carry


def risk_now(one: Sending, progress: Progress | None = None) -> Risk:
    """The risk of the parcel as the file tells it."""
    parcel = parcel_from(one.document)
    return risk_of(carried(parcel, progress), one.draws, parcel.dispatch.date(), promise_of(parcel)[0])


def as_told(one: Sending) -> tuple[float, float]:
    """The chances that garden and colony are lost when nothing is drawn: all values in the middle, and on time."""
    from nestwright.parcel.carry import carry_many

    parcel = parcel_from(one.document)
    found = carry_many(parcel, {}, promise_of(parcel)[1])
    return float(found.garden[0]), float(found.colony[0])


def risk_by_day(one: Sending, days: Iterable[date], progress: Progress | None = None) -> tuple[Risk, ...]:
    """The risk of each day of dispatch; all days meet the same draws. Raises FileError for a day without weather."""
    every, found = list(days), []
    for k, day in enumerate(every):
        parcel = at_day(one.document, day)
        found.append(risk_of(carried(parcel), one.few, day, promise_of(parcel)[0]))
        if progress:
            progress((k + 1) / len(every))
    return tuple(found)


def ways(
    one: Sending,
    told: Mapping[str, float],
    *,
    budget: float | None = None,
    days: int = 7,
    progress: Progress | None = None,
) -> tuple[Weighed, dict[str, Change]]:
    """Other ways to pack it, and the next `days` days, weighed; with what each key means. `told` are costs by name.

    Pairs are tried of the `PAIRED` changes with the least expected cost within the budget, one of them another day at
    most. A day that the route's air does not reach is left out.
    """
    from nestwright.errors import InputError

    costs = costs_of(told)
    parcel = parcel_from(one.document)
    every = changes_of(parcel, costs)
    for k in range(1, days + 1):
        try:
            moved = at_day(one.document, parcel.dispatch.date() + timedelta(days=k))
        except InputError:
            continue
        every.append(Change("day", {"days": k}, costs["day"] * k, moved))
    going, most = progress or (lambda share: None), PAIRED * (PAIRED - 1) // 2
    whole = len(every) + most
    options = [_option(change) for change in every]

    def weighed(begin: float, end: float) -> Weighed:
        return weigh(
            options, one.few, garden_worth=costs["garden"], colony_worth=costs["colony"], budget=budget,
            progress=lambda share: going(begin + (end - begin) * share),
        )  # fmt: skip

    keyed = {c.name: c for c in every}
    ranked = [keyed[c.key] for c in weighed(0.0, len(every) / whole).choices]
    able = [c for c in ranked if c.key != "as_it_is" and (budget is None or c.cost <= budget)]
    later = {c.name for c in [c for c in able if c.key == "day"][1:]}
    singles = [c for c in able if c.name not in later]
    pairs = [c for c in pairs_of(singles[:PAIRED], costs) if budget is None or c.cost <= budget]
    options += [_option(change) for change in pairs]
    keyed |= {c.name: c for c in pairs}
    return _without_idle_pairs(weighed(len(every) / whole, 1.0), keyed), keyed


def _without_idle_pairs(weighed: Weighed, keyed: Mapping[str, Change]) -> Weighed:
    """Without the pairs that are hardly better than the better of their two."""
    expected = {c.key: c.expected for c in weighed.choices}

    def told(key: str) -> bool:
        parts = [expected[part.name] for part in keyed[key].parts]
        return not parts or key == weighed.best or expected[key] < min(parts) - IDLE * abs(min(parts))

    return replace(weighed, choices=tuple(c for c in weighed.choices if told(c.key)))


def _option(change: Change) -> Option:
    """A change to be weighed, carried once however often it is weighed: always with the same draws."""
    run = carried(change.parcel)
    kept: list[Carried] = []

    def carry(values: Mapping[str, Array], late: Array) -> Carried:
        if not kept:
            kept.append(run(values, late))
        return kept[0]

    day, due = change.parcel.dispatch.date(), promise_of(change.parcel)[0]
    return Option(change.name, change.cost, carry, day, due, max(1, len(change.parts)))


def parse_days(text: str | None, field: str = "--by-day") -> list[date]:
    """Days of a span 2027-01-11..2027-01-22, or one. Raises InputError with `field`."""
    if text is None:
        return []
    allowed = f"2027-01-11..2027-01-22, at most {MOST_DAYS} days"
    first, _, last = text.partition("..")
    try:
        begin, end = date.fromisoformat(first.strip()), date.fromisoformat((last or first).strip())
    except ValueError:
        raise InputError("is no span of days", field=field, found=repr(text[:60]), allowed=allowed) from None
    n = (end - begin).days + 1
    if not (2000 <= begin.year <= 2100 and 2000 <= end.year <= 2100):
        raise InputError("is of no year of this time", field=field, found=repr(text[:60]), allowed="2000 to 2100")
    if not 1 <= n <= MOST_DAYS:
        said = "ends before it begins" if n < 1 else "is too long"
        raise InputError(said, field=field, found=repr(text[:60]), allowed=allowed)
    return [begin + timedelta(days=k) for k in range(n)]
