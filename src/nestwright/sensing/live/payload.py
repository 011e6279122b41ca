"""What stands in a message: a number, a place in JSON, a time."""

from __future__ import annotations

import json
import math
import re
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from nestwright.sensing.loggers.words import words

__all__ = ["Unreadable", "json_of", "number_of", "place_in", "time_of"]

_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?)\s*([^\d\s.,+-].{0,20})?", re.ASCII)


class Unreadable(ValueError):  # noqa: N818 - a message's fault, counted and never raised to a person
    """A message, or a value in it, that cannot be read."""

    def __init__(self, reason: str, kind: str = "unreadable") -> None:
        super().__init__(reason)
        self.kind = kind


def json_of(payload: bytes) -> Any:
    """The JSON of a message. Raises Unreadable."""
    try:
        return json.loads(payload.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise Unreadable("is not text in UTF-8") from None
    except RecursionError:
        raise Unreadable("is nested too deeply") from None
    except ValueError:
        raise Unreadable("is no JSON") from None


def place_in(body: Any, path: tuple[str | int, ...]) -> Any:
    """What stands at a path, None where there is nothing; a whole number counts the items of a list from 0."""
    for step in path:
        if isinstance(body, dict):
            body = body.get(str(step))
        elif isinstance(body, list) and str(step).isdecimal() and int(step) < len(body):
            body = body[int(step)]
        else:
            return None
    return body


def number_of(told: Any) -> tuple[float | None, str]:
    """A number, None where the sensor says that it has none, and the text behind it. Raises Unreadable.

    Examples
    --------
    >>> number_of("23,4 °C"), number_of(" nan "), number_of(99.5)
    ((23.4, '°C'), (None, ''), (99.5, ''))
    """
    if told is None:
        return None, ""
    if isinstance(told, bool) or not isinstance(told, int | float | str):
        raise Unreadable("is no number")
    if isinstance(told, str):
        text = told.strip().strip("\0")
        if text.lower() in words().missing or text.lower() in ("unavailable", "unknown", ""):
            return None, ""
        match = _NUMBER.fullmatch(text) if len(text) < 100 else None
        if match is None:
            raise Unreadable("is no number")
        value, behind = float(match[1].replace(",", ".")), (match[2] or "").strip()
    else:
        behind = ""
        try:
            value = float(told)
        except OverflowError:
            raise Unreadable("is no number") from None
        if math.isnan(value):
            return None, ""
    if not math.isfinite(value):
        raise Unreadable("is no number")
    return value, behind


def time_of(told: Any, form: str, zone: ZoneInfo | None = None) -> int:
    """A time, UTC ms. `form`: "iso" for text, "s" or "ms" since 1970. Raises Unreadable.

    Examples
    --------
    >>> time_of("2026-03-01T12:00:00+01:00", "iso"), time_of(1772362800, "s")
    (1772362800000, 1772362800000)
    """
    if form == "iso":
        if not isinstance(told, str):
            raise Unreadable("its time is no text as 2026-03-01T12:00:00Z")
        try:
            moment = datetime.fromisoformat(told.strip())
            if moment.tzinfo is None:
                moment = moment.replace(tzinfo=zone or UTC)
            return round(moment.timestamp() * 1000)
        except (ValueError, OverflowError, OSError):
            raise Unreadable("its time is no date and clock as 2026-03-01T12:00:00Z") from None
    try:
        value, behind = number_of(told)
    except Unreadable:
        value, behind = None, ""
    if value is None or behind or abs(value) > 1e15:
        raise Unreadable(f"its time is no number of {form} since 1970")
    return round(value * (1 if form == "ms" else 1000))
