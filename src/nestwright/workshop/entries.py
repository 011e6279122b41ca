"""From what a person tells of a visit, as texts with units, to an entry of the record; judged as a colony file is."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from nestwright.errors import Gathered, InputError
from nestwright.units import shown
from nestwright.workshop.visits import COUNTED, Count, EventEntry, Feeding, VisitEntry, check_health

__all__ = ["Told", "entry_of", "event_told"]

Place = Callable[[str], dict[str, Any]]
FEEDING = re.compile(r"\s*(?P<amount>[\d.,]+\s*[A-Za-z]+2?)\s*(?:of\s+)?(?P<plant>.*?)\s*")
NUMBER = re.compile(r"(?:(?:about\b|~)\s*)?[+-]?\d[\d.,]*(?:[eE][+-]?\d+)?(?:\s*(?:to\b|-|–)\s*\d+)?")
UNIT = re.compile(r"\s*(%|fl oz|[^\W\d_]+[23²³]?)(?=\s|$)")


@dataclass(frozen=True)
class Told:
    """A visit as it was told: texts with units, the day as 2026-01-31. `counts` by name; `feedings` as
    "3 g bramble"; `events` as "garden added 20 mL from Thistle"."""

    date: Any
    garden: str | None = None
    fill: str | None = None
    garden_error: str | None = None
    counts: Mapping[str, Any] | None = None
    seen: Sequence[str] = ()
    not_seen: Sequence[str] = ()
    feedings: Sequence[str] = ()
    leaves_taken: str | None = None
    waste: str | None = None
    health: Sequence[str] = ()
    events: Sequence[str] = ()
    note: str = ""
    at: int | None = None
    uid: str = ""


def entry_of(told: Told, place: Place) -> VisitEntry:
    """The entry of the record. `place` gives `file`, `line` and `field` of an InputError for a part of it.

    Raises
    ------
    InputError
        (FileError, for several) with what was found, what is allowed and the nearest word.
    """
    faults = Gathered()
    plain = ("garden", "fill", "garden_error", "leaves_taken", "waste", "note")
    tables = {k: getattr(told, k) for k in plain if getattr(told, k)}
    faults.tried(_check_fill, told.fill, place)
    if faults.errors:
        del tables["fill"]  # refused already, in better words
    tables |= {k: list(getattr(told, k)) for k in ("seen", "not_seen") if getattr(told, k)}
    form: Any = faults.tried(_formed, "VisitForm", {"date": told.date, **tables}, place)
    _check_together(told, place, faults)
    counts = [faults.tried(_counted, what, text, place) for what, text in (told.counts or {}).items()]
    feedings = [faults.tried(_feeding, text, place) for text in told.feedings]
    health = faults.tried(check_health, told.health, place)
    day = date.today() if form is None else form.date  # of a visit that is refused in any case
    events = [faults.tried(event_told, text, day, place) for text in told.events]
    faults.tell()
    rest = {"uid": told.uid} if told.uid else {}
    return VisitEntry(
        day=form.date,
        garden_ml=form.garden,
        fill_pct=None if form.fill is None else 100 * form.fill,
        garden_error_pct=None if form.garden_error is None else 100 * form.garden_error,
        counts=tuple(one for one in counts if one),
        seen=tuple(form.seen),
        not_seen=tuple(form.not_seen),
        feedings=tuple(one for one in feedings if one),
        leaves_taken=None if form.leaves_taken is None else form.leaves_taken.value,
        leaves_taken_unit=None if form.leaves_taken is None else form.leaves_taken.unit,
        waste_g=form.waste,
        health=health or (),
        events=tuple(one for one in events if one),
        note=form.note,
        at=told.at,
        **rest,
    )


def _check_together(told: Told, place: Place, faults: Gathered) -> None:
    """What is right alone and not together."""
    if told.garden and told.fill:
        faults.add(
            InputError(
                "the garden is told twice, as volume and as fill",
                found=f"{shown(told.garden)} and {shown(told.fill)}",
                allowed="one of them; the other follows from the bell",
                **place("fill"),
            )
        )
    if told.garden_error and not (told.garden or told.fill):
        one, other = (place(name)["field"] for name in ("garden", "fill"))
        faults.add(
            InputError(
                "says how far off the garden's volume or fill may be, and neither is told",
                found=shown(told.garden_error),
                allowed=f"beside {one} or {other}; a count tells its own as 'about 60' or '50 to 80'",
                **place("garden_error"),
            )
        )
    both = sorted(set(told.seen) & set(told.not_seen))
    if both:
        allowed = "each kind of brood once: seen, or looked for and not seen"
        faults.add(
            InputError(
                "seen and looked for in vain at once", found=", ".join(both), allowed=allowed, **place("not_seen")
            )
        )


def _check_fill(text: str | None, place: Place) -> None:
    """Refuse a fill over 100 % in words of its own: the sums take it for a garden that the bell cannot hold."""
    from nestwright.units import UnitProblem, split_unit

    try:
        number, unit = split_unit(text, "share")
    except UnitProblem:
        return
    if unit == "%" and 100 < number <= 1000:
        other = place("garden")["field"]
        raise InputError(
            "the garden is fuller than its bell or chamber can be",
            found=shown(text),
            allowed=f"up to '100 %': it presses against the bell and is to be moved on; or its volume with {other}",
            **place("fill"),
        )


def _formed(name: str, tables: dict[str, Any], place: Place) -> Any:
    from pydantic import ValidationError

    from nestwright.colony import form as forms
    from nestwright.errors import FileError
    from nestwright.refusals import keys_of, translate

    kind = getattr(forms, name)
    try:
        return kind.model_validate(tables)
    except ValidationError as error:
        found = [
            translate(e, lambda path: place(str(path[0]) if path else ""), lambda _: keys_of(kind))
            for e in error.errors(include_url=False)
        ]
        raise FileError(found) from None


def _counted(what: str, text: Any, place: Place) -> Count:
    from nestwright.colony.texts import parse_count
    from nestwright.errors import nearest_name
    from nestwright.units import UnitProblem

    if what not in COUNTED:
        raise InputError(
            "is not counted here",
            found=shown(what),
            allowed=", ".join(COUNTED),
            nearest=nearest_name(what[:200], COUNTED),
            **place("count"),
        )
    try:
        read = parse_count(text)
    except UnitProblem as problem:
        raise InputError(
            problem.message,
            found=problem.found,
            allowed=problem.allowed,
            nearest=problem.nearest,
            **place("workers" if what == "workers" else "count"),
        ) from None
    return Count(what, read.how, float(read.low), float(read.high))


def _feeding(text: str, place: Place) -> Feeding:
    from nestwright.colony.texts import parse_leaf
    from nestwright.letters import one_line
    from nestwright.units import UnitProblem

    match = FEEDING.fullmatch(text)
    try:
        if match is None:
            raise UnitProblem("is no amount of leaves", shown(text), "as '3 g bramble' or '40 cm2 rose'")
        leaf = parse_leaf(match["amount"])
        plant = one_line(match["plant"])
        if len(plant) > 200:
            raise UnitProblem("is too long a name of a plant", f"{len(plant)} characters", "up to 200")
    except UnitProblem as problem:
        nearest = _with_point(text, lambda meant: parse_leaf(FEEDING.fullmatch(meant)["amount"]))  # type: ignore[index]
        found, allowed = problem.found, problem.allowed
        raise InputError(problem.message, found=found, allowed=allowed, nearest=nearest, **place("leaves")) from None
    return Feeding(leaf.value, leaf.unit, plant)


def _with_point(text: str, read: Callable[[str], object]) -> str:
    """The text with points in the place of decimal commas where it can be read so; else ""."""
    from nestwright.units import UnitProblem

    meant = re.sub(r"(?<=\d),(?=\d)", ".", text.strip())
    if meant == text.strip() or len(meant) > 100:
        return ""
    try:
        read(meant)
    except (UnitProblem, InputError, TypeError):
        return ""
    return meant


def event_told(text: str, day: Any, place: Place) -> EventEntry:
    """An event told in one line: what, how much, from or to whom; "garden added 20 mL from Thistle".

    Raises
    ------
    InputError
        With what was found, what is allowed and the nearest word; `place` gives its `file`, `line` and `field`.
    """
    from nestwright.colony.form import EVENTS, nearest_event
    from nestwright.colony.occurrences import event_of

    what = next((e for e in EVENTS if re.match(rf"\s*{e}(?!\w)", text)), None)
    if what is None:
        start = " ".join(text.split()[:2])
        raise InputError(
            "is nothing that can happen",
            found=shown(text),
            allowed=", ".join(EVENTS),
            nearest=nearest_event(start[:200]),
            **place("event"),
        )
    left = text.strip()[len(what) :].strip()
    amount, left = _amount(left)
    other = ""
    if what in ("garden added", "garden taken", "eggs added", "larvae added", "pupae added") and (
        named := re.fullmatch(r"(?:from|to)\s+(.+)", left)
    ):
        other, left = named[1], ""
    plant = left.removeprefix("of ") if what == "leaves given" else ""
    tables = {"date": day, "what": what, **({"amount": amount} if amount else {}), "plant": plant}
    try:
        form = _formed("EventForm", {**tables, "note": "" if plant else left}, lambda _: place("event"))
    except InputError as error:
        error.nearest = error.nearest or _with_point(text, lambda meant: event_told(meant, day, place))
        for one in getattr(error, "errors", ())[:1]:
            one.nearest = error.nearest
        raise
    # the colony file's own rule says which measure an event takes
    judged = event_of(form, 0.0, lambda _: {"line": 0} | place("event"), lambda leaf: leaf.value)
    if isinstance(judged, InputError):
        raise judged
    return EventEntry(what, amount, form.plant, other, form.note)


def _amount(text: str) -> tuple[str, str]:
    """The amount that a text begins with, "" for none, and what is left of it."""
    from nestwright.units import KINDS, UnitProblem, split_unit

    number = NUMBER.match(text)
    if number is None:
        return "", text
    amount, left = number[0], text[number.end() :]
    if unit := UNIT.match(left):
        for kind in ("volume", "share", "mass", "area"):
            try:
                spelt = split_unit(f"1 {unit[1]}", kind)[1]
            except UnitProblem:
                continue
            if spelt in KINDS[kind].units:
                return f"{amount} {unit[1]}".strip(), left[unit.end() :].strip()
    return amount.strip(), left.strip()
