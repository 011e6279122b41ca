"""Readings that a sensor posts as JSON: one, or a list of them, all good or all refused."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from nestwright.errors import InputError, nearest_name
from nestwright.sensing.live.mapping import Clock
from nestwright.sensing.live.messages import Reading, canonical, clocked, name_fault, plausible, unit_named
from nestwright.sensing.live.payload import Unreadable, json_of, number_of, time_of
from nestwright.sensing.live.values import live_value
from nestwright.sensing.loggers.words import words

__all__ = ["KEYS", "read_posted"]

KEYS = ("logger", "channel", "quantity", "unit", "value", "at")


def read_posted(body: bytes, arrival: int, clock: Clock, zone: ZoneInfo | None = None) -> list[Reading]:
    """Readings of a request's body.

    Each is {"logger", "channel", "value"} with "quantity" (default: the channel's name), "unit" (default: the
    quantity's own) and "at" (ISO text, or seconds since 1970; default: `arrival`, UTC ms).

    Raises
    ------
    InputError
        For the first reading that cannot be taken; nothing of the body may then be kept.
    """
    try:
        told = json_of(body)
    except Unreadable as problem:
        raise InputError(str(problem), field="body", allowed="a reading as JSON, or a list of them") from None
    items = told if isinstance(told, list) else [told]
    most = int(live_value("request_readings"))
    if not 0 < len(items) <= most:
        raise InputError("has no readings, or too many", field="body", found=str(len(items)), allowed=f"1 to {most}")
    return [_reading(item, f"reading {k + 1}", arrival, clock, zone) for k, item in enumerate(items)]


def _reading(item: Any, place: str, arrival: int, clock: Clock, zone: ZoneInfo | None) -> Reading:
    if not isinstance(item, dict):
        raise InputError("is no object", field=place, found=_shown(item), allowed='{"logger": ..., "channel": ...}')
    for key in item:
        if key not in KEYS:
            raise InputError(
                "is no key of a reading",
                field=place,
                found=_shown(key),
                allowed=", ".join(KEYS),
                nearest=nearest_name(key, KEYS),
            )
    logger, channel = _name(item, "logger", place), _name(item, "channel", place)
    known = words().quantities
    quantity = item.get("quantity", channel)
    if not isinstance(quantity, str) or quantity not in (*known, "other"):
        raise InputError(
            "is no quantity",
            field=f"{place}, quantity",
            found=_shown(quantity),
            allowed=", ".join((*known, "other")),
            nearest=nearest_name(quantity, known) if isinstance(quantity, str) else "",
        )
    unit = _unit(item, quantity, place)
    try:
        value, behind = number_of(item.get("value"))
    except Unreadable:
        value, behind = None, ""
    if value is None or behind:
        raise InputError("is no number", field=f"{place}, value", found=_shown(item.get("value")))
    value, unit = canonical(value, unit, quantity)
    wrong = plausible(value, quantity)
    if wrong:
        raise InputError(
            "cannot be, or stands for none", field=f"{place}, value", found=_shown(item["value"]),
            allowed=f"{known[quantity].low:g} to {known[quantity].high:g} {known[quantity].canonical}",
        )  # fmt: skip
    at, off = clocked(_time(item, place, zone), arrival, clock)
    return Reading(logger, channel, quantity, unit, at, value, "at" in item and off is None, off)


def _name(item: dict[str, Any], key: str, place: str) -> str:
    name = item.get(key)
    wrong = "is missing" if name is None else "is no text" if not isinstance(name, str) else name_fault(name)
    if wrong:
        raise InputError(wrong, field=f"{place}, {key}", found="" if name is None else _shown(name))
    return str(name)


def _unit(item: dict[str, Any], quantity: str, place: str) -> str:
    unit = item.get("unit")
    known = words().quantities.get(quantity)
    if unit is None:
        return known.canonical if known else ""
    wrong = not isinstance(unit, str) or (known is None and len(unit) > 20)
    named = "" if wrong else unit if known is None else unit_named(unit, quantity)
    if wrong or (known and not named):
        raise InputError(
            f"is no unit of {quantity}",
            field=f"{place}, unit",
            found=_shown(unit),
            allowed=", ".join(known.units) if known else "a short text",
        )
    return named


def _time(item: dict[str, Any], place: str, zone: ZoneInfo | None) -> int | None:
    at = item.get("at")
    if at is None:
        return None
    try:
        return time_of(at, "iso" if isinstance(at, str) else "s", zone)
    except Unreadable as problem:
        raise InputError(
            str(problem), field=f"{place}, at", found=_shown(at), allowed="2026-03-01T12:00:00Z, or seconds since 1970"
        ) from None


def _shown(value: Any) -> str:
    text = ascii(value)
    return text if len(text) <= 60 else text[:59] + "…"
