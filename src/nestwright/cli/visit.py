"""`nestwright visit COLONY …`: one look at one colony, in one line."""

from __future__ import annotations

from typing import Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, acting, day_of, lines_of_text, option_place, workshop_of
from nestwright.errors import InputError
from nestwright.units import shown
from nestwright.wording.visits import visit_line

__all__ = ["visit"]


HEALTH_HELP = (
    "Look of the garden, one word or several: white (fresh white tufts, growing), grey (grey and quiet), brown (brown "
    "or dark patches), dry (dry, crumbles), wet (drops on it), mould (foreign mould), falling (falls apart)."
)
"""Not read from the record's own list, which would load the database for --help; a test holds them equal."""


def _text(flag: str, says: str) -> typer.models.OptionInfo:
    return typer.Option(flag, help=says, show_default=False)


def visit(
    colony: Annotated[str, typer.Argument(help="Name of the colony.", show_default=False)],
    date: Annotated[str | None, _text("--date", "Day, as 2026-01-31; default: today.")] = None,
    garden: Annotated[list[str] | None, _text("--garden", 'Volume of the garden, "44 mL".')] = None,
    fill: Annotated[list[str] | None, _text("--fill", 'Or how full its bell or chamber is, "45 %".')] = None,
    error: Annotated[str | None, _text("--error", 'How far off either may be (standard error), "10 %".')] = None,
    workers: Annotated[list[str] | None, _text("--workers", 'Workers: "60", "about 60" or "50 to 80".')] = None,
    count: Annotated[
        list[str] | None, _text("--count", 'Other counts, "pupae 12", "dead 3", "queens 1". May be repeated.')
    ] = None,
    seen: Annotated[list[str] | None, _text("--seen", "Brood that was seen: eggs,larvae,pupae.")] = None,
    not_seen: Annotated[list[str] | None, _text("--not-seen", "Brood that was looked for and not seen.")] = None,
    leaves: Annotated[
        list[str] | None, _text("--leaves", 'Fresh leaves given, "3 g bramble" or "40 cm2 rose". May be repeated.')
    ] = None,
    taken: Annotated[list[str] | None, _text("--taken", 'Leaves the ants took in since the last time, "2 g".')] = None,
    waste: Annotated[list[str] | None, _text("--waste", 'Waste taken away, wet, "1.5 g".')] = None,
    health: Annotated[list[str] | None, _text("--health", HEALTH_HELP)] = None,
    event: Annotated[
        list[str] | None,
        _text("--event", 'What was done or befell it, "garden added 20 mL from Thistle". May be repeated.'),
    ] = None,
    note: Annotated[str, _text("--note", "Anything worth telling.")] = "",
    again: Annotated[
        bool, typer.Option("--again", help="Tell the visit of that day anew, in the place of what was told of it.")
    ] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a visit to a colony. Everything may be left out but the colony.

    Counts, volumes and events are told as in the colony file. `nestwright workshop undo` takes it back; --again tells
    the visit of that day anew.
    """
    from nestwright.cli.output import print_json
    from nestwright.workshop.colonies import find_colony, model_colony
    from nestwright.workshop.database import reading
    from nestwright.workshop.doubted import NO_PLANT, remarks_on
    from nestwright.workshop.entries import Told, entry_of
    from nestwright.workshop.visits import add_visit, read_visits, replace_visit

    workshop = workshop_of(folder)
    place = option_place()
    told = Told(
        date=day_of(date, workshop).isoformat(),
        garden=_once(garden, "--garden"),
        fill=_once(fill, "--fill"),
        garden_error=error,
        counts=_counts(_once(workers, "--workers"), count or []),
        seen=_words(seen),
        not_seen=_words(not_seen),
        feedings=tuple(leaves or ()),
        leaves_taken=_once(taken, "--taken"),
        waste=_once(waste, "--waste"),
        health=_words(health),
        events=tuple(event or ()),
        note=lines_of_text(note),
    )
    entry = entry_of(told, lambda name: place({"garden_error": "error", "leaves_taken": "taken"}.get(name, name)))
    with reading(workshop.engine) as connection:
        kept = find_colony(connection, colony)
    words = f"{'correction of the ' if again else ''}visit of {kept.name} on {entry.day}"
    with acting(workshop, words) as done:
        before = [(row, old) for row, old in read_visits(done.connection, kept.id) if old.day == entry.day]
        if again:
            if not before:
                found = f"no visit of {kept.name} on {entry.day}"
                raise InputError("there is nothing to tell anew", field="--again", found=found, allowed="--date DAY")
            row = before[-1][0]
            replace_visit(done, row, entry)
        else:
            row = add_visit(done, kept.id, entry)
        # what the record as a whole cannot mean is refused before it is written, here and with who gave or received
        remarks = tuple(
            f'{one}; `--leaves "3 g bramble"` tells it' if one == NO_PLANT else one
            for one in remarks_on(done.connection, kept, entry)
        )
        touched = (*entry.events, *(before[-1][1].events if again else ()))
        for other in sorted({e.other for e in touched if e.other}):
            model_colony(done.connection, find_colony(done.connection, other))
    if before and again:
        remarks = (f"in the place of: {visit_line(before[-1][1])}", *remarks)
    elif before:
        count_of = f"visit number {len(before) + 1} of this day; --again would have told the last one anew"
        remarks = (count_of, *remarks)
    if json:
        print_json({"visit": row, "colony": kept.name, **entry.to_dict(), "remarks": list(remarks)})
        return
    print(f"{kept.name}, {entry.day}: {visit_line(entry)}")
    for remark in remarks:
        print(f"Note: {remark}")


def _once(told: list[str] | None, flag: str) -> str | None:
    """The one value of an option: of two, none would be lost without a word. Raises InputError."""
    if told and len(told) > 1:
        allowed = "one value; a second look is a second visit"
        raise InputError("is told twice", field=flag, found=" and ".join(map(shown, told)), allowed=allowed)
    return told[0] if told else None


def _words(told: list[str] | None) -> tuple[str, ...]:
    return tuple(w for text in told or () for w in text.replace(",", " ").split() if w)


def _counts(workers: str | None, others: list[str]) -> dict[str, str]:
    made = {} if workers is None else {"workers": workers}
    for one in others:
        what, _, amount = one.strip().partition(" ")
        if what in made:
            found = f"{shown(made[what])} and {shown(amount.strip())}"
            raise InputError(f"{shown(what)} are told twice", field="--count", found=found, allowed="one count of each")
        made[what] = amount.strip()
    return made
