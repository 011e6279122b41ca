"""What cannot have been: more taken than was there, a garden larger than its bell, growth that no colony has.

Counts are guesses, so nothing here is refused: each finding is a remark. What is told is taken at the end of its error
that speaks for it (two standard errors, 95 % of a normal error: convention). Growth is the card's: workers with the
highest laying and no deaths, a garden by its uptake with nothing lost, which is above the best growth that is known.

Each thing is judged on its own: what cannot have been leaves the balance as it was, unless the next look agrees.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from nestwright.colony.model import Colony, Event, Observation, Start
from nestwright.colony.texts import format_number
from nestwright.data import colony_values, load_species

__all__ = ["Told", "impossible", "not_passed"]

_FAR = 2.0  # standard errors
_SLIP = 10.0
"""How far outside the card's range garden and workers may stand to each other before it looks like a slip of the pen:
judgement."""
_SILENT = 366  # days from the start to the first thing told; more looks like a slip in the year: judgement


@dataclass(frozen=True)
class Told:
    """Where something is told ("line 9") and in which words of the file ("workers lost")."""

    place: str
    what: str = ""


@dataclass
class _Most:
    """The most that can be there on a day, and in words what that rests on; `value` None where nothing is known."""

    value: float | None = None
    day: float = 0.0
    rests: str = ""


class _Course:
    """Goes through the record day by day with the most that can be there."""

    def __init__(self, species: str, start: date, told: Mapping[Observation | Event, Told]) -> None:
        self.start, self.told, self.notes = start, told, list[str]()
        self.growth, self.common = load_species(species).growth, colony_values()
        self.most = {"garden": _Most(), "workers": _Most()}
        self.brood = self.common["larvae_queen"].value
        self.rooms: list[tuple[float, float, str]] = []
        self.doubted: dict[str, _Most] = {}
        """The last look of a kind that could not have been, until a look that could."""
        self.peaks: list[tuple[float, float]] = []
        """Day and the most garden of that day, whenever something was told of it."""

    def note(self, day: float, source: Observation | Event | None, text: str, place: str = "") -> None:
        place = self.told[source].place if source is not None and source in self.told else place
        when = self.start + timedelta(days=int(day))
        self.notes.append(f"{when}{f', {place}' if place else ''}: {text}")

    def room(self, day: float, counted_that_day: bool) -> tuple[float, str] | None:
        """Volume and name of what the garden stands under; of two on one day, the one before or the larger."""
        before = [r for r in self.rooms if r[0] < day][-1:]
        now = [r for r in self.rooms if r[0] == day]
        known = (before or now) if counted_that_day else before + now
        return max(((usable, name) for _, usable, name in known), default=None)

    def at_most(self, kind: str, day: float) -> float | None:
        """The most that can be there on a day when nothing but growth came to what is known."""
        return self._grown(kind, self.most[kind], day)

    def _grown(self, kind: str, most: _Most, day: float) -> float | None:
        if most.value is None:
            return None
        days = day - most.day
        if kind == "workers":
            return self._hatched(most.value, days)
        grown = most.value * math.exp(min(self.growth["uptake"].value * days, 50.0))
        room = self.room(day, counted_that_day=False)
        return grown if room is None else min(grown, max(room[0] * self._far("fill_error"), most.value))

    def _hatched(self, workers: float, days: float) -> float:
        """Workers after some days: all brood lives, and they multiply as a queen of the highest laying lets them."""
        card = self.growth
        growing = card["egg_days"].value + card["larva_days"].value + card["pupa_days"].value
        laying, rate = card["laying_per_worker"].high, 0.0
        for _ in range(20):  # Newton's way to rate = laying exp(-rate growing): each worker was an egg `growing` ago
            laid = laying * math.exp(-rate * growing)
            rate += (laid - rate) / (1 + growing * laid)
        hatched = workers + self.brood * min(days / growing, 1.0)
        return hatched * math.exp(min(rate * days, 50.0)) + card["laying_founding"].high * days

    def _far(self, error: str) -> float:
        return math.exp(_FAR * self.common[error].value)

    def seen(self, seen: Observation, place: str = "") -> None:
        """A garden or a number of workers, told on its day before that day's changes."""
        told, least = _amount(seen.kind, seen.value), seen.value * math.exp(-_FAR * seen.error)
        room = self.room(seen.day, counted_that_day=True)
        most, before = self.at_most(seen.kind, seen.day), self.most[seen.kind]
        doubted = self.doubted.pop(seen.kind, None)
        value = seen.value * math.exp(_FAR * seen.error)
        rests = f"the last {'measure' if seen.kind == 'garden' else 'count'} was about {told}"
        if seen.kind == "garden" and room is not None and least > room[0]:
            self.note(seen.day, seen, f"{told} of garden {_under(room)}", place)
            if most is not None:
                return
        elif most is not None and least > most and seen.day > before.day:
            again = None if doubted is None else self._grown(seen.kind, doubted, seen.day)
            if again is None or least > again:
                self.note(seen.day, seen, f"{told} {_of(seen.kind)}, more than can have come; {before.rests}", place)
                self.doubted[seen.kind] = _Most(value, seen.day, rests)
                return
        if most is not None and seen.day == before.day and before.value is not None:
            value = max(value, before.value)  # told twice on one day
        self._set(seen.kind, _Most(value, seen.day, rests))

    def _set(self, kind: str, most: _Most) -> None:
        self.most[kind] = most
        if kind == "garden" and most.value is not None:
            self.peaks.append((most.day, most.value))

    def happened(self, event: Event) -> None:
        """An event, after all that was told of its day."""
        kind = "garden" if event.kind.startswith("garden") else "workers"
        now, most = self.at_most(kind, event.day), self.most[kind]
        if event.kind in ("eggs_added", "larvae_added", "pupae_added"):
            self.brood += event.value * self._far("guess_error")
        elif event.kind in ("garden_added", "workers_added"):
            room = self.room(event.day, counted_that_day=False)
            told = _amount(kind, event.value)
            if kind == "garden" and room is not None and event.value > room[0] * self._far("garden_error"):
                self.note(event.day, event, f"{told} of garden added {_under(room)}")
            elif now is not None:
                more = event.value * self._far("garden_error" if kind == "garden" else "guess_error")
                self._set(kind, _Most(now + more, event.day, most.rests))
        elif event.kind in ("garden_taken", "workers_taken"):
            if now is not None and event.value > now:
                what = self.told[event].what if event in self.told else f"{kind} taken"
                told = _amount(kind, event.value)
                told = f"{told} {what}" if kind == "workers" else f"{told} of {what}"
                self.note(event.day, event, f"{told}, {most.rests}")
            elif now is not None:
                self._before(kind, now, event.day)
                self.most[kind] = _Most(now - event.value, event.day, most.rests)
        elif event.kind == "garden_share_lost" and now is not None:
            when = self.start + timedelta(days=int(event.day))
            rests = most.rests if event.value < 1 else f"all of it was told as lost on {when}"
            self._before(kind, now, event.day)
            self.most[kind] = _Most(now * (1 - event.value), event.day, rests)

    def _before(self, kind: str, now: float, day: float) -> None:
        """Keep what was there before some of it went: it ate and left waste until then."""
        if kind == "garden":
            self.peaks.append((day, now))

    def passed(self, told: Observation, place: str = "") -> None:
        """Waste, or leaves taken in: no more than the most garden of these days takes, by the card, or is itself."""
        now = self.at_most("garden", told.day)
        if now is None or told.value <= 0:
            return
        garden = max([now, *(value for day, value in self.peaks if day >= told.since)])
        grams = garden * self.growth["dry_density"].high
        days = max(told.day - told.since, 1.0)
        most = grams * (self.growth["uptake"].high * days + (told.kind == "waste"))
        if told.value * math.exp(-_FAR * told.error) > most:
            words = "leaves taken in" if told.kind == "leaves_taken" else "waste"
            over = "1 day" if days == 1 else f"{days:.0f} days"
            amount = f"{format_number(told.value)} g dry of {words} over {over}"
            self.note(told.day, told, f"{amount}, more than the garden can pass; {self.most['garden'].rests}", place)


def impossible(
    observations: Sequence[Observation],
    events: Sequence[Event],
    at_start: Start,
    species: str,
    start: date,
    told: Mapping[Observation | Event, Told],
    arrival: str = "",
) -> list[str]:
    """A remark on everything of a record that cannot have been, in order of days.

    Parameters
    ----------
    observations, events, at_start, species, start
        As in `Colony`; bells among the events, as "room".
    told : mapping
        Where each observation and event stands in the file.
    arrival : str
        Where the arrival stands.

    Returns
    -------
    list of str
        "2031-01-20, line 9: 5000 workers taken, the last count was about 90".
    """
    things = [o for o in observations if o.kind in ("garden", "workers")]
    course = _followed([*things, *events], at_start, species, start, told, arrival)
    first = min([o.day for o in observations] + [e.day for e in events if e.kind != "room"], default=0.0)
    if first > _SILENT:
        until = start + timedelta(days=int(first))
        course.notes.append(f"{start}: nothing is told from the start until {until}; is the year of the start right?")
    return course.notes


def not_passed(colony: Colony, told: Mapping[Observation | Event, Told]) -> list[str]:
    """A remark on waste and leaves taken in that are more than the garden can have passed.

    Parameters
    ----------
    colony : Colony
    told : mapping
        Where its observations of waste and leaves taken stand in the file.

    Returns
    -------
    list of str
        "2031-01-20, line 9: 1250 g dry of waste over 7 days, more than the garden can pass; the last measure was ...".
    """
    passing = [o for o in colony.observations if o.kind in ("garden", "waste", "leaves_taken")]
    course = _followed(
        [*passing, *colony.events], colony.at_start, colony.species, colony.start, told, "", passing=True
    )
    return course.notes


def _followed(
    told_things: Sequence[Observation | Event],
    at_start: Start,
    species: str,
    start: date,
    told: Mapping[Observation | Event, Told],
    arrival: str,
    *,
    passing: bool = False,
) -> _Course:
    """The course through the arrival and all that was told; with `passing` only remarks on what passes the garden."""
    course = _Course(species, start, told)
    events = [e for e in told_things if isinstance(e, Event)]
    course.rooms = sorted(((e.day, e.value, e.note) for e in events if e.kind == "room"), key=lambda r: r[0])
    if at_start.brood is not None:
        course.brood = max(course.brood, at_start.brood[0] * math.exp(_FAR * at_start.brood[1]))
    for kind, came in (("garden", at_start.garden), ("workers", at_start.workers)):
        if came is not None:
            course.seen(Observation(0.0, kind, *came), arrival)  # type: ignore[arg-type]
    _proportion(course, at_start, arrival)
    order = {"garden": 0, "workers": 0, "waste": 1, "leaves_taken": 1}
    things: list[tuple[float, int, Observation | Event]] = []
    things += [(o.day, order[o.kind], o) for o in told_things if isinstance(o, Observation)]
    things += [(e.day, 2 if e.kind.endswith("added") else 3, e) for e in events if e.kind not in ("room", "leaves")]
    if passing:
        course.notes.clear()
    for _, _, thing in sorted(things, key=lambda t: (*t[:2], t[2].line * passing)):
        before = len(course.notes)
        if isinstance(thing, Event):
            course.happened(thing)
        elif thing.kind in ("garden", "workers"):
            course.seen(thing)
        else:
            course.passed(thing)
            continue
        if passing:
            del course.notes[before:]  # told by `impossible`
    return course


def _proportion(course: _Course, at_start: Start, arrival: str) -> None:
    """A word on garden and workers that came together and do not belong together."""
    if at_start.garden is None or at_start.workers is None:
        return
    (garden, garden_error), (workers, workers_error) = at_start.garden, at_start.workers
    if garden <= 0 or workers <= 0:
        return
    card, far = course.growth["garden_per_worker"], _SLIP * math.exp(_FAR * math.hypot(garden_error, workers_error))
    if not card.low / far <= garden / workers <= card.high * far:
        came = f"{_amount('workers', workers)} workers came with {_amount('garden', garden)} of garden"
        usual = f"the card has {card.low:g} to {card.high:g} mL a worker"
        course.note(0.0, None, f"{came}; {usual}", arrival)


def _amount(kind: str, value: float) -> str:
    return f"{format_number(value)} mL" if kind == "garden" else f"{value:.0f}"


def _of(kind: str) -> str:
    return "of garden" if kind == "garden" else "workers"


def _under(room: tuple[float, str]) -> str:
    return f"under {room[1]!r}, which holds {_amount('garden', room[0])}"
