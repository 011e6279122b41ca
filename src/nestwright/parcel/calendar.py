"""Days of delivery: when a parcel was due, by how many of them it came late, and what a delay means in hours."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from nestwright.data import read_values

__all__ = ["days_late", "due_day", "hours_late", "is_delivery_day"]


def is_delivery_day(day: date) -> bool:
    """Whether parcels are delivered on that day of the week (data/delay.toml); holidays are not known here."""
    return day.weekday() < int(read_values("delay.toml")["last_delivery_weekday"].value)


def due_day(sent: datetime | date, promised_hours: float) -> date:
    """The day on which a parcel was promised: that many hours after it was sent, or the next day of delivery.

    A day without an hour is taken at the usual hour of hand-over.
    """
    if not isinstance(sent, datetime):
        hour = int(read_values("delay.toml")["delivery_hour"].value)
        sent = datetime(sent.year, sent.month, sent.day, hour)
    due = (sent + timedelta(hours=promised_hours)).date()
    while not is_delivery_day(due):
        due += timedelta(days=1)
    return due


def days_late(due: date, arrived: date) -> int:
    """Days of delivery from the day after `due` to `arrived`, 0 for one that came in time.

    One that arrives on a day without delivery, as picked up at a depot, counts as of the day of delivery before it.
    """
    return sum(is_delivery_day(due + timedelta(days=k + 1)) for k in range((arrived - due).days))


def hours_late(due: date, late: int) -> float:
    """Hours by which a parcel comes after its promised moment when it is late by so many days of delivery."""
    day = due
    while late > 0:
        day += timedelta(days=1)
        late -= is_delivery_day(day)
    return 24.0 * (day - due).days
