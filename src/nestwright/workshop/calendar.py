"""What comes as an iCalendar file (RFC 5545): all-day events that a calendar replaces when it reads a newer file.

The bytes follow from the record and the day alone. An event's UID is that of its entry and of the workshop, whose mark
is the moment of its record's first act. SEQUENCE grows with every act and every day, so that the newer file wins
(RFC 5545, 3.8.7.4); DTSTAMP is the moment of the newest act, or the beginning of the day in UTC where that is later.
"""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, func, select

from nestwright.workshop.coming import Coming, Entry
from nestwright.workshop.tables import change

if TYPE_CHECKING:
    from icalendar import Event, vText

__all__ = ["Edition", "edition_of", "ics_of", "uid_of"]

COUNTED_FROM = date(2020, 1, 1)
"""Day nought of SEQUENCE."""
NAME = "Nestwright"


@dataclass(frozen=True)
class Edition:
    """Which record, and how new: `mark` of the workshop, `sequence` and `stamp` as in the module's words."""

    mark: str
    sequence: int
    stamp: datetime

    def to_dict(self) -> dict[str, Any]:
        return {"sequence": self.sequence, "stamp": self.stamp.strftime("%Y-%m-%dT%H:%M:%SZ")}


def edition_of(connection: Connection, day: date) -> Edition:
    """The edition of the record as it stands, on a day in the workshop's zone."""
    first, newest, steps = connection.execute(
        select(func.min(change.c.at), func.max(change.c.at), func.max(change.c.step))
    ).one()
    begun = datetime.combine(day, time(), UTC)
    stamp = begun if newest is None else max(begun, datetime.fromtimestamp(newest // 1000, UTC))
    return Edition(str(first or 0), int(steps or 0) + (day - COUNTED_FROM).days, stamp)


def uid_of(entry: Entry, edition: Edition) -> str:
    """The UID of an entry: the same in every edition of the same record."""
    return f"{hashlib.sha256(f'{edition.mark}/{entry.key}'.encode()).hexdigest()[:32]}@nestwright"


def ics_of(coming: Coming, edition: Edition, zone: ZoneInfo, hour: int | None = 9) -> bytes:
    """The calendar, UTF-8, lines ended by CRLF and folded at 75 octets.

    `hour` of the day, 0 to 23, at which each event rings on the clock of whoever reads it; None for no alarm. `zone`,
    the workshop's, is named for the reader: an all-day event is a day of the calendar, and has no zone (3.3.4).
    """
    from icalendar import Calendar

    made = Calendar()
    made.add("prodid", "-//Nestwright//Calendar//EN")
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    made.add("name", NAME)  # RFC 7986, 5.1
    made.add("x-wr-calname", NAME)
    made.add("x-wr-timezone", zone.key)
    for entry in coming.entries:
        made.add_component(_event(entry, edition, hour))
    return bytes(made.to_ical())


def _event(entry: Entry, edition: Edition, hour: int | None) -> Event:
    from icalendar import Alarm, Event

    event = Event()
    summary = _line(f"{entry.subject}: {entry.do}")
    event.add("uid", uid_of(entry, edition))
    event.add("dtstamp", edition.stamp)
    event.add("sequence", edition.sequence)
    event.add("dtstart", entry.day)
    event.add("dtend", entry.day + timedelta(days=1))  # the day after: the end is not in it (3.6.1)
    event.add("summary", _text(summary))
    event.add("description", _text(_description(entry)))
    event.add("categories", [entry.kind])
    event.add("transp", "TRANSPARENT")
    if hour is not None:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", _text(summary))
        alarm.add("trigger", timedelta(hours=hour))
        event.add_component(alarm)
    return event


def _text(text: str) -> vText:
    """A text, escaped as RFC 5545 says (3.3.11). The library takes a backslash before an N for the end of a line."""
    from icalendar import vText

    class Escaped(vText):
        def to_ical(self) -> bytes:
            told = self.replace("\\", r"\\").replace(";", r"\;").replace(",", r"\,").replace("\n", r"\n")
            return told.encode()

    return Escaped(text)


def _description(entry: Entry) -> str:
    told = [f"{entry.says}."]
    if entry.rests_on:
        told.append(f"Rests on judgement: {', '.join(one.replace('_', ' ') for one in entry.rests_on)}.")
    if entry.command:
        told.append(f"$ {entry.command}")
    return "\n".join(map(_line, told))


def _line(text: str) -> str:
    """One line without control characters, which RFC 5545 (3.3.11, TSAFE-CHAR) takes in no text."""
    return "".join(" " if unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") else c for c in text)
