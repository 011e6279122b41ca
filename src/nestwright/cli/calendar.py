"""`nestwright calendar`: tasks, refills, visits and forecast dates as a file that any calendar reads."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.options import whole
from nestwright.cli.record import AsJson, InWorkshop, workshop_of

__all__ = ["calendar"]


def calendar(
    out: Annotated[Path, typer.Option("--out", help="The file to write.")] = Path("tasks.ics"),
    hour: Annotated[
        int,
        typer.Option("--hour", parser=whole("--hour", 0, 23), metavar="HOUR", help="Hour at which each entry rings."),
    ] = 9,
    silent: Annotated[bool, typer.Option("--silent", help="No alarms in the calendar.")] = False,
    no_forecast: Annotated[
        bool, typer.Option("--no-forecast", help="Leave out what needs a forecast: answers at once.")
    ] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Write tasks, refills, visits due and forecast dates as an iCalendar file (RFC 5545) of all-day events.

    A calendar that reads a newer file replaces what it read before. Changes nothing in the record.
    """
    from nestwright.cli.looking import look_at
    from nestwright.cli.output import print_json
    from nestwright.files import check_place, write_whole
    from nestwright.letters import count_of
    from nestwright.workshop.alarms import open_keys
    from nestwright.workshop.calendar import edition_of, ics_of, uid_of
    from nestwright.workshop.coming import coming_of
    from nestwright.workshop.database import reading
    from nestwright.workshop.todo import today_of

    workshop = workshop_of(folder)
    check_place(out, ".ics")
    found = look_at(workshop, forecasts=not no_forecast, quiet=json)
    with reading(workshop.engine) as connection:
        alarms = open_keys(connection)
        edition = edition_of(connection, found.today)
    coming = coming_of(found, today_of(found, alarms, forecasts=not no_forecast))
    write_whole(out, ics_of(coming, edition, workshop.zone, None if silent else hour))
    if json:
        entries = [{"uid": uid_of(one, edition), **one.to_dict()} for one in coming.entries]
        unread = [{"subject": subject, "reason": reason} for subject, reason in coming.unread]
        head = {
            "file": str(out),
            "day": coming.day.isoformat(),
            "zone": workshop.zone.key,
            "forecasts": not no_forecast,
        }
        print_json({**head, **edition.to_dict(), "entries": entries, "unread": unread})
        return
    print(f"Wrote {out}: {count_of(len(coming.entries), 'entry', 'entries')} from {coming.day} on")
    for subject, reason in coming.unread:
        print(f"Not in it: {subject}: {reason}")
