"""`nestwright today`: what to do today, across all colonies and builds, in which order, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, workshop_of

if TYPE_CHECKING:
    from nestwright.workshop.todo import Task, Today

__all__ = ["today", "today_lines"]

TITLES = {
    "now": "Now",
    "limits": "Limits",
    "parts": "Parts to begin",
    "care": "Leaves, water, waste",
    "look": "Visits due",
    "later": "When there is time",
}


def today(
    no_forecast: Annotated[
        bool, typer.Option("--no-forecast", help="Leave out what needs a forecast: answers at once.")
    ] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Say what to do today over all colonies and builds, the most urgent first, each with its reason and number.

    Changes nothing in the record. The first call after a visit fits that colony anew, which takes seconds.
    """
    from nestwright.cli.looking import look_at, width
    from nestwright.cli.output import print_json
    from nestwright.workshop.alarms import open_keys
    from nestwright.workshop.database import reading
    from nestwright.workshop.todo import today_of

    workshop = workshop_of(folder)
    found = look_at(workshop, forecasts=not no_forecast, quiet=json)
    with reading(workshop.engine) as connection:
        alarms = open_keys(connection)
    made = today_of(found, alarms, forecasts=not no_forecast)
    if json:
        print_json(made)
        return
    print("\n".join(today_lines(made, width())))


def today_lines(made: Today, columns: int) -> list[str]:
    """The day's work in lines of at most so many columns (a command may be longer: it is to be copied whole)."""
    from nestwright.cli.looking import wrapped

    lines = [wrapped("", _head(made), columns)]
    urgency = ""
    lead = len(str(len(made.tasks))) + 2
    for number, task in enumerate(made.tasks, 1):
        if task.urgency != urgency:
            urgency = task.urgency
            lines += ["", TITLES[urgency]]
        lines += _task(task, f"{number}.".ljust(lead), columns)
    lines += _leaves(made, columns)
    if made.unread:
        lines += ["", "Could not be told"]
        lines += [wrapped("- ", f"{subject}: {reason}", columns) for subject, reason in made.unread]
    if made.put_off:
        names = ", ".join(dict.fromkeys(f"{t.finding.subject} ({t.finding.do})" for t in made.put_off))
        lines += ["", wrapped("", f"Put off: {names}.", columns)]
    if not made.forecasts and made.colonies:
        lines += ["", wrapped("", "Without forecasts: nothing said of fill, parts to begin and leaves.", columns)]
    return lines


def _head(made: Today) -> str:
    day = made.day.strftime("%A ") + made.day.isoformat()
    if not made.colonies and not made.builds:
        return f"{day}: the record has no colony and no build yet. Add one: nestwright colony add NAME --species ..."
    n = len(made.tasks)
    counts = ((made.colonies, "colony", "colonies"), (made.builds, "build", "builds"))
    of = " and ".join(_counted(*one) for one in counts if one[0])
    if not n:
        return f"{day}: nothing to do today. Looked at {of}."
    return f"{day}: {_counted(n, 'thing', 'things')} to do. Looked at {of}."


def _counted(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"


def _task(task: Task, lead: str, columns: int) -> list[str]:
    from nestwright.cli.looking import wrapped

    one, indent = task.finding, " " * len(lead)
    seen = " (seen)" if task.acknowledged else ""
    lines = [wrapped(lead, f"{one.subject}: {one.do}{seen}", columns)]
    lines += [wrapped(indent, f"{said.says}.", columns) for said in (one, *task.also)]
    if one.command:
        lines.append(f"{indent}$ {one.command}")
    return lines


def _leaves(made: Today, columns: int) -> list[str]:
    from nestwright.cli.looking import wrapped
    from nestwright.wording.ranges import ranged

    total = made.leaves_sum
    if total is None:
        return []
    lines = ["", wrapped("", "Fresh leaves today, g (8 of 10 outcomes lie in the range)", columns)]
    space = max(len(one.colony) for one in made.leaves) + 2
    space = min(space, columns // 2)
    for one in made.leaves:
        if len(one.colony) < space:
            lines.append(wrapped(one.colony.ljust(space), ranged(*one.grams), columns))
        else:
            lines.append(wrapped("", f"{one.colony}: {ranged(*one.grams)}", columns))
    if len(made.leaves) > 1:
        lines.append(wrapped("together".ljust(space), ranged(*total), columns))
    return lines
