"""From the form of the colony file to the colony: days from dates, dry matter from fresh leaves, room from bells.

What a visit tells was seen before that day's changes. A fill reading on the day of a bell change therefore counts
against what stood before.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from nestwright.colony.contradictions import settle
from nestwright.colony.form import BellForm, ColonyForm, EventForm, VisitForm
from nestwright.colony.gone import taken_as_gone
from nestwright.colony.impossible import Told, impossible
from nestwright.colony.model import Colony, Event, Housing, Observation, Start
from nestwright.colony.occurrences import event_of
from nestwright.colony.texts import Count, Leaf, format_number
from nestwright.data import colony_values, species_names
from nestwright.errors import FileError, InputError, nearest_name

__all__ = ["Entry", "build_colony"]

_LONGEST = 30 * 366  # days; a longer record is a slip in a date

_FIRST, _LAST = date(1900, 1, 1), date(2199, 12, 31)  # of starts; keeps slips of the pen out, and days countable

_QUEEN = {"laying": 1.0, "none": 0.0, "unknown": None}

Place = Callable[[str], dict[str, Any]]


@dataclass(frozen=True)
class Entry:
    """One table of the file, or one row of visits: its form, and from a key to `file`, `line`, `field` of an error."""

    form: Any
    place: Place


@dataclass
class _Record:
    """What has been gathered so far."""

    start: date
    last: int
    values: dict[str, float]
    observations: list[Observation] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    housing: list[Housing] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    errors: list[InputError] = field(default_factory=list)
    told: dict[Observation | Event, Told] = field(default_factory=dict)
    path: str = ""

    def where(self, entry: Entry, key: str) -> str:
        """Place of a key for a remark: its line, and its file when that is the table of visits."""
        place = entry.place(key)
        file = "" if place["file"] == self.path else f"{Path(place['file']).name}, "
        return f"{file}line {place['line']}" if place["line"] else ""

    def refuse(self, entry: Entry, key: str, message: str, **rest: str) -> None:
        self.errors.append(InputError(message, **{**entry.place(key), **rest}))

    def day(self, entry: Entry, when: date, key: str = "date") -> float | None:
        """Day of the record, None (and an error) outside it."""
        day = (when - self.start).days
        if day < 0:
            self.refuse(
                entry, key, "lies before the start of the record", found=f"{when}", allowed=f"from {self.start}"
            )
            return None
        if day > self.last:
            end = date.fromordinal(self.start.toordinal() + self.last)
            self.refuse(entry, key, "lies after the end of the record", found=f"{when}", allowed=f"until {end}")
            return None
        return float(day)

    def dry(self, leaf: Leaf) -> float:
        """Dry matter of fresh leaves, g."""
        return leaf.value * self.values["leaf_dry_share" if leaf.unit == "g" else "leaf_dry_area"]

    def spread(self, count: Count) -> float:
        """Relative standard error of a count."""
        if count.how == "band":
            return math.hypot(count.spread, self.values["exact_error"])
        return self.values["exact_error" if count.how == "exact" else "guess_error"]


def build_colony(
    form: ColonyForm,
    place: Place,
    bells: list[Entry],
    visits: list[Entry],
    events: list[Entry],
    path: str,
) -> Colony:
    """The colony of a file whose form is right.

    Raises
    ------
    FileError
        With everything that does not fit together, each with its line.
    """
    top = Entry(form, place)
    record = _Record(form.start, _LONGEST, {k: v.value for k, v in colony_values().items()}, path=path)
    if not _FIRST <= form.start <= _LAST:
        message = "is no start of a record"
        record.refuse(top, "start", message, found=f"{form.start}", allowed=f"a day from {_FIRST} to {_LAST}")
        raise FileError(record.errors)
    if form.species not in species_names():
        known = species_names()
        record.refuse(
            top,
            "species",
            "no card for this species",
            found=repr(form.species)[:60],
            allowed=", ".join(known),
            nearest=nearest_name(form.species, known),
        )
    if form.end is not None:
        length = (form.end - form.start).days
        if not 0 <= length <= _LONGEST:
            message = "lies before the start of the record" if length < 0 else "makes the record longer than 30 years"
            record.refuse(top, "end", message, found=f"{form.end}", allowed=f"from {form.start}")
        else:
            record.last = length

    _house(record, form, bells, [e for e in events if e.form.what == "bell"])
    for entry in visits:
        _visit(record, entry)
    for entry in events:
        day = record.day(entry, entry.form.date)
        if day is not None and entry.form.what != "bell":
            made = event_of(entry.form, day, entry.place, record.dry)
            if isinstance(made, InputError):
                record.errors.append(made)
            else:
                record.events.append(made)
                record.told[made] = Told(record.where(entry, "what"), entry.form.what)
    _since(record, visits, events)
    if record.errors:
        raise FileError(sorted(record.errors, key=lambda e: (e.file != path, e.line)))

    room = [Event(h.day, "room", h.usable, note=h.name) for h in record.housing]
    everything = sorted(room + record.events, key=lambda e: e.day)
    days = [o.day for o in record.observations] + [e.day for e in everything]
    days += [float((v.form.date - form.start).days) for v in visits]
    space, at_start = form.housing, _start(record, form)
    notes = impossible(
        record.observations, everything, at_start, form.species, form.start, record.told, record.where(top, "arrival")
    )
    settled, softened = settle(record.observations, form.start)
    observations, gone, ended = taken_as_gone(settled, everything, form.start)
    # a look comes before what is done on its day
    everything = sorted(gone + everything, key=lambda e: e.day)
    return Colony(
        name=form.name,
        species=form.species,
        start=form.start,
        days=record.last if form.end is not None else int(max(days, default=0.0)),
        observations=tuple(observations),
        events=tuple(everything),
        housing=tuple(record.housing),
        at_start=at_start,
        queen=_QUEEN[form.queen.state],
        leaves=form.leaves,
        chamber=space.chamber,
        opening=space.opening,
        lid=space.lid,
        headroom=space.headroom,
        making_time=space.making_time,
        chamber_time=space.chamber_time,
        climate_file=form.climate,
        notes=tuple(record.notes + softened + ended + notes),
        path=path,
    )


def _start(record: _Record, form: ColonyForm) -> Start:
    came, values = form.arrival, record.values

    def counted(count: Count | None) -> tuple[float, float] | None:
        return None if count is None else (count.value, record.spread(count))

    garden = None if came.garden is None else (came.garden, came.garden_error or values["garden_error"])
    return Start(garden, counted(came.workers), counted(came.brood))


def _house(record: _Record, form: ColonyForm, bells: list[Entry], events: list[Entry]) -> None:
    """Bells and chambers by day; what stood before the first day stands on it."""
    chamber = form.housing.chamber
    made: list[tuple[Housing, Entry]] = []
    for entry in bells:
        bell: BellForm = entry.form
        before = bell.from_ < record.start
        day = 0.0 if before else record.day(entry, bell.from_, "from")
        usable = bell.usable if bell.usable is not None or bell.kind == "bell" else chamber
        if usable is None:
            what = "usable" if bell.kind == "bell" else "kind"
            told = "a usable volume" if bell.kind == "bell" else "a usable volume, here or as [housing] chamber"
            record.refuse(entry, what, f"a {bell.kind} needs {told}", allowed="usable = '60 mL'")
            continue
        if bell.diameter is not None and bell.height is not None:
            most = math.pi / 4 * bell.diameter**2 * bell.height * 1e6
            if usable > most:
                message = "is more than a bell of that diameter and height can hold"
                record.refuse(
                    entry, "usable", message, found=_millilitres(usable), allowed=f"at most {_millilitres(most)}"
                )
                continue
        if day is not None:
            name = bell.name or f"{bell.kind} {_millilitres(usable)}"
            sizes = (bell.diameter or 0.0, bell.height or 0.0)
            made.append((Housing(-1.0 if before else day, name, bell.kind, usable, *sizes), entry))
    for entry in events:
        event: EventForm = entry.form
        day = record.day(entry, event.date)
        if event.amount is None or event.amount.unit != "mL" or event.amount.value <= 0:
            key = "what" if event.amount is None else "amount"
            record.refuse(entry, key, "a bell needs its usable volume", allowed="amount = '60 mL'")
        elif day is not None:
            made.append((Housing(day, f"bell {_millilitres(event.amount.value)}", "bell", event.amount.value), entry))
    made.sort(key=lambda m: m[0].day)
    for (one, _), (other, entry) in itertools.pairwise(made):
        if one.day == other.day >= 0:
            key = "from" if isinstance(entry.form, BellForm) else "date"
            record.refuse(entry, key, "two bells from the same day on", allowed="one bell a day")
    old = [h for h, _ in made if h.day < 0][-1:]
    housing = [h for h, _ in made if h.day >= 0]
    if old and not (housing and housing[0].day == 0):
        housing.insert(0, Housing(0.0, *(getattr(old[0], k) for k in ("name", "kind", "usable", "diameter", "height"))))
    elif chamber is not None and not (housing and housing[0].day == 0):
        housing.insert(0, Housing(0.0, "chamber", "chamber", chamber))
    for h in housing:
        if chamber is not None and h.usable > chamber:
            record.notes.append(
                f"{h.name!r} is told as larger ({_millilitres(h.usable)}) than the chamber ({_millilitres(chamber)})"
            )
    record.housing = housing


def _millilitres(volume: float) -> str:
    return f"{format_number(volume)} mL"


def _visit(record: _Record, entry: Entry) -> None:
    visit: VisitForm = entry.form
    day = record.day(entry, visit.date)
    if day is None:
        return

    def saw(kind: Any, key: str, value: float, error: float = 0.0, how: str = "") -> None:
        seen = Observation(day, kind, value, error, 0.0, how, entry.place(key)["line"])
        record.observations.append(seen)
        record.told[seen] = Told(record.where(entry, key))

    if visit.garden_error is not None and visit.garden is None and visit.fill is None:
        record.refuse(entry, "garden_error", "an error without a garden or a fill")
    if visit.garden is not None:
        saw("garden", "garden", visit.garden, visit.garden_error or record.values["garden_error"], "measured")
    if visit.fill is not None:
        usable = _usable_before(record, entry, day)
        if usable is not None:
            saw("garden", "fill", visit.fill * usable, visit.garden_error or record.values["fill_error"], "fill")
    if visit.workers is not None:
        saw("workers", "workers", visit.workers.value, record.spread(visit.workers), visit.workers.how)
    both = set(visit.seen) & set(visit.not_seen)
    if both:
        record.refuse(entry, "not_seen", "is told as seen too", found=", ".join(sorted(both)))
    for kind in dict.fromkeys(visit.seen):
        saw(kind, "seen", 1.0)
    for kind in dict.fromkeys(visit.not_seen):
        saw(kind, "not_seen", 0.0)
    if visit.plant and visit.leaves is None:
        record.refuse(entry, "plant", "a plant without leaves", allowed="leaves = '3 g' beside it")
    if visit.leaves is not None and visit.leaves.value > 0:
        line = entry.place("leaves")["line"]
        record.events.append(Event(day, "leaves", record.dry(visit.leaves), visit.plant, visit.note, line))


def _usable_before(record: _Record, entry: Entry, day: float) -> float | None:
    """Usable volume that a fill of this day counts against."""
    before = [h for h in record.housing if h.day < day]
    now = [h for h in record.housing if h.day == day]
    if not before and not now:
        message = "a fill needs the bell or chamber that stood that day"
        record.refuse(entry, "fill", message, allowed="a [[bell]] from that day or earlier, or chamber in [housing]")
        return None
    if before and now:
        record.notes.append(
            f"{entry.form.date}: the fill counts against {before[-1].name!r}, which stood before that day's change"
        )
    return (before or now)[-1].usable


def _since(record: _Record, visits: list[Entry], events: list[Entry]) -> None:
    """Waste and leaves taken, each over the days since the same was last told or leaves were last given."""
    told: dict[str, set[int]] = {"waste": set(), "leaves_taken": set()}
    for entry in visits:
        day = (entry.form.date - record.start).days
        if entry.form.waste is not None:
            told["waste"].add(day)
        if entry.form.leaves is not None or entry.form.leaves_taken is not None:
            told["leaves_taken"].add(day)
    given = [e.form.date for e in events if e.form.what == "leaves given"]
    told["leaves_taken"] |= {(when - record.start).days for when in given}
    for entry in visits:
        visit: VisitForm = entry.form
        day = (visit.date - record.start).days
        amounts: list[tuple[Any, float, float]] = []
        if visit.waste is not None:
            amounts.append(("waste", visit.waste * record.values["waste_dry_share"], record.values["waste_error"]))
        if visit.leaves_taken is not None:
            amounts.append(("leaves_taken", record.dry(visit.leaves_taken), record.values["leaf_error"]))
        for kind, value, error in amounts:
            if day == 0:
                words = kind.replace("_", " ")
                record.notes.append(f"{visit.date}: {words} on the first day tells nothing of a rate; not used")
                continue
            since = float(max((d for d in told[kind] if 0 <= d < day), default=0))
            line = entry.place(kind)["line"]
            record.observations.append(Observation(float(day), kind, value, error, since, "measured", line))
