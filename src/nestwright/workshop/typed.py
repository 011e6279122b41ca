"""What a person types in a command or a field of the page: days, moments, notes and prices, read and shown."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.workshop.folder import Workshop

__all__ = ["LONGEST_NAME", "check_name", "checked", "day_of", "line_of_text", "lines_of_text", "moment", "price_of"]

LONGEST_NAME = 80
"""Characters of a new name; longer ones that stand in files already are read."""
_PRICE = re.compile(r"(\d{1,9}(?:[.,]\d{1,2})?)\s*([A-Za-z]{3})")


def checked(read: Callable[[Any], Any], value: Any, field: str) -> Any:
    """A value of an option read; None for none. Raises InputError with the option's name."""
    from nestwright.units import UnitProblem

    if value is None:
        return None
    try:
        return read(value)
    except UnitProblem as problem:
        raise InputError(
            problem.message, field=field, found=problem.found, allowed=problem.allowed, nearest=problem.nearest
        ) from None


def day_of(text: str | None, workshop: Workshop, field: str = "--date") -> date:
    """A day as 2026-01-31; today in the workshop's zone for none. Raises InputError, also for one that is to come."""
    from nestwright.colony.texts import parse_day

    today = datetime.now(workshop.zone).date()
    if text is None or text == "today":
        return today
    day: date = checked(parse_day, text, field)
    if day > today:
        raise InputError("is still to come", field=field, found=f"{day}", allowed=f"until today, {today}")
    return day


def line_of_text(text: str, field: str, *, needed: bool = True, most: int = 200) -> str:
    """A text of one line without characters that cannot be seen, up to `most`. Raises InputError."""
    from nestwright.letters import one_line
    from nestwright.units import shown

    plain = text.strip()
    if (needed and not plain) or len(plain) > most:
        found, allowed = shown(text) if len(plain) <= most else f"{len(plain)} characters", f"1 to {most} characters"
        raise InputError("is empty" if not plain else "is too long", field=field, found=found, allowed=allowed)
    return str(checked(one_line, plain, field))


def check_name(name: str, field: str = "name") -> None:
    """Refuse a new name that no page, label or picture has room for. Raises InputError."""
    if len(name) > LONGEST_NAME:
        found, allowed = f"{len(name)} characters", f"1 to {LONGEST_NAME} characters"
        raise InputError("is too long", field=field, found=found, allowed=allowed)


def lines_of_text(text: str, field: str = "--note") -> str:
    """A note of up to 2000 characters, line breaks too. Raises InputError."""
    from nestwright.letters import several_lines

    if len(text) > 2000:
        raise InputError("is too long", field=field, found=f"{len(text)} characters", allowed="up to 2000")
    return str(checked(several_lines, text, field))


def moment(at: int | None, workshop: Workshop) -> str:
    """A moment, UTC ms, as it is shown: in the workshop's zone, to the minute."""
    if at is None:
        return ""
    return datetime.fromtimestamp(at / 1000, workshop.zone).strftime("%Y-%m-%d %H:%M")


def price_of(text: str) -> tuple[float | None, str]:
    """Amount and currency of a price; None and "" for none."""
    if not text.strip():
        return None, ""
    from babel.core import get_global

    match = _PRICE.fullmatch(text.strip())
    if match is None or match[2].upper() not in get_global("all_currencies"):
        allowed = 'an amount and a currency by ISO 4217, as "120 EUR" or "89.50 USD"'
        raise InputError("is no price", field="--price", found=repr(text[:40]), allowed=allowed)
    return float(match[1].replace(",", ".")), match[2].upper()
