"""What a person tells of a parcel, as texts with units, to columns of the record; for the command line and the page."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from nestwright.errors import InputError
from nestwright.units import UnitProblem, parse_quantity, shown
from nestwright.workshop.changes import now
from nestwright.workshop.moments import moment_of
from nestwright.workshop.visits import check_health

__all__ = ["arrival_values", "dispatch_values", "scan_values"]

Place = Callable[[str], str]
"""The name of a field as the person met it, as "--sent"."""
MOST = 2000


def dispatch_values(told: Mapping[str, str], zone: ZoneInfo, place: Place) -> dict[str, Any]:
    """Columns of a parcel that is sent, from `direction`, `name`, `sent`, `carrier`, `route`, `file`, `box`, `pack`,
    `promised` and `note`; what is not told is left out. Raises InputError."""
    found: dict[str, Any] = {k: _text(told, k, place) for k in ("name", "carrier", "route", "file", "box", "pack")}
    if found["name"].isdigit():
        raise InputError(
            "is a number, as every parcel has one already", field=place("name"), found=shown(found["name"]),
            allowed="a name with a letter",
        )  # fmt: skip
    direction = told.get("direction", "")
    if direction not in ("in", "out"):
        raise InputError(
            "which way does it go?", field=place("direction"), found=shown(direction) if direction else "nothing",
            allowed="in (to the workshop) or out (away from it)",
        )  # fmt: skip
    found |= {"direction": direction, "note": _lines(told, place), **_moment(told, "sent", zone, place)}
    if told.get("promised"):
        hours = _read(lambda t: parse_quantity(t, "interval") / 3600, told["promised"], place("promised"))
        if not 1 <= hours <= 480:
            raise InputError(
                "is no promise of a carrier", field=place("promised"), found=shown(told["promised"]),
                allowed="1 h to 20 day, as '24 h'",
            )  # fmt: skip
        found["promised_hours"] = hours
    return {k: v for k, v in found.items() if v != ""}


def scan_values(told: Mapping[str, str], zone: ZoneInfo, place: Place) -> dict[str, Any]:
    """Columns of a scan, from `at` (default: now), `place` and `note`. Raises InputError, also for none."""
    at = _past(told["at"], zone, place("at")) if told.get("at") else now()
    found = {"at": at, "place": _text(told, "place", place), "note": _lines(told, place)}
    if not (found["place"] or found["note"]):
        raise InputError("says nothing", field=place("place"), found="nothing", allowed="where it was seen, or a note")
    return found


def arrival_values(told: Mapping[str, str], zone: ZoneInfo, place: Place) -> dict[str, Any]:
    """Columns of a parcel that has arrived, from `arrived` (default: now), `garden`, `health`, `workers`, `dead`,
    `state` and `note`; what is not told is left out. Raises InputError."""
    from nestwright.colony.texts import format_count, parse_count, parse_garden

    found = _moment({"arrived": told.get("arrived") or "now"}, "arrived", zone, place)
    if told.get("garden"):
        found["garden_ml"] = _read(parse_garden, told["garden"], place("garden"))
    words = tuple(w for w in told.get("health", "").replace(",", " ").split() if w)
    if words:
        found["garden_health"] = " ".join(check_health(words, lambda name: {"field": place(name)}))
    for field, column in (("workers", "workers_alive"), ("dead", "workers_dead")):
        if told.get(field):
            found[column] = format_count(_read(parse_count, told[field], place(field)))
    found |= {"state": _text(told, "state", place), "note": _lines(told, place)}
    return {k: v for k, v in found.items() if v != ""}


def _moment(told: Mapping[str, str], name: str, zone: ZoneInfo, place: Place) -> dict[str, Any]:
    """The day in `name` and the moment in `name`_at, which is null where the day alone is told."""
    text = told.get(name, "").strip()
    if not text:
        return {}
    if text == "now":
        at = now()
        return {name: _day(at, zone).isoformat(), f"{name}_at": at}
    if text == "today":
        return {name: datetime.now(zone).date().isoformat(), f"{name}_at": None}
    at = _past(text, zone, place(name))
    return {name: _day(at, zone).isoformat(), f"{name}_at": None if len(text) <= 10 else at}


def _past(text: str, zone: ZoneInfo, field: str) -> int:
    if text.strip() == "now":
        return now()
    at = moment_of(text, zone, field)
    if at > now():
        raise InputError("is still to come", field=field, found=shown(text), allowed="until now")
    return at


def _day(at: int, zone: ZoneInfo) -> date:
    return datetime.fromtimestamp(at / 1000, zone).date()


def _read(read: Callable[[str], Any], text: str, field: str) -> Any:
    try:
        return read(text)
    except UnitProblem as problem:
        raise InputError(
            problem.message, field=field, found=problem.found, allowed=problem.allowed, nearest=problem.nearest
        ) from None


def _text(told: Mapping[str, str], name: str, place: Place) -> str:
    from nestwright.letters import one_line

    text = told.get(name, "").strip()
    if len(text) > 200:
        raise InputError("is too long", field=place(name), found=f"{len(text)} characters", allowed="up to 200")
    return str(_read(one_line, text, place(name))) if text else ""


def _lines(told: Mapping[str, str], place: Place) -> str:
    from nestwright.letters import several_lines

    text = told.get("note", "").strip()
    if len(text) > MOST:
        raise InputError("is too long", field=place("note"), found=f"{len(text)} characters", allowed="up to 2000")
    return str(_read(several_lines, text, place("note"))) if text else ""
