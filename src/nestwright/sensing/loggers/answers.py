"""What a logger's file cannot tell and a person answers: its zone, its order of dates, its units."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.errors import FileError, InputError

if TYPE_CHECKING:
    from nestwright.sensing.loggers import Mapping
    from nestwright.sensing.loggers.mapping import Column

__all__ = ["answered", "must_be_told", "refuse_open", "units_of", "zone_wanted"]


def answered(mapping: Mapping, zone: str | None, order: str | None, units: list[str], leave_out: list[str]) -> Mapping:
    """The mapping with the answers of the options in it. Raises InputError with the option."""
    from nestwright.sensing.loggers import confirm

    told: dict[str, str] = {}
    for one in units:
        name, sign, unit = one.partition("=")
        if not sign or not name.strip():
            allowed = "CHANNEL=UNIT, as temperature=degF"
            raise InputError("is no unit of a channel", field="--unit", found=repr(one), allowed=allowed)
        told[name.strip()] = unit.strip()
    try:
        return confirm(mapping, zone=zone, order=order, units=told, leave_out=tuple(leave_out))
    except InputError as error:
        # the library speaks of its own arguments, a person of options
        field = {"zone": "--zone", "order": "--order"}.get(error.field)
        if field is None:
            field = "--unit" if error.field in told or not leave_out else "--leave-out"
        raise InputError(
            error.message, field=field, found=error.found, allowed=error.allowed, nearest=error.nearest
        ) from None


def zone_wanted(mapping: Mapping, zone: str | None) -> str | None:
    """The zone of the option where it has a say: not for times that tell it themselves.

    Raises InputError when the file tells another one for sure.
    """
    if zone is None or mapping.zone == "told" or mapping.form.startswith("epoch"):
        return None
    told = next((d for d in mapping.decisions if d.what == "zone"), None)
    if told is not None and told.confidence == "sure" and "header" in told.reason and mapping.zone != zone:
        allowed = f"{mapping.zone}, or a mapping of your own with --map"
        raise InputError(f"{told.reason}, which is another zone", field="--zone", found=repr(zone), allowed=allowed)
    return zone


def units_of(column: Column) -> tuple[str, ...]:
    """Units that a column of its quantity may have, the recognised one first."""
    from nestwright.sensing.loggers.words import words

    known = words().quantities.get(column.quantity)
    every = (column.unit, *(known.units if known else ()))
    return tuple(dict.fromkeys(u for u in every if u)) or ("UNIT",)


def must_be_told(mapping: Mapping) -> dict[str, tuple[str, str]]:
    """What was asked and can be told by an option: by its name (option, allowed)."""
    told = {
        "zone": ("--zone", "the zone of the logger's clock, as Europe/Lisbon, UTC or UTC+01:00"),
        "order": ("--order", "dmy (day first), mdy (month first) or ymd"),
    }
    for column in mapping.columns:
        allowed = f"{column.channel}={' or '.join(units_of(column))}, or --leave-out {column.channel}"
        told[column.channel] = ("--unit", allowed)
    return {d.what: told[d.what] for d in mapping.asked if d.what in told}


def refuse_open(mapping: Mapping, file: Path, yes: bool) -> None:
    """Raises InputError for what nobody has told: a zone, an order of dates, a unit that cannot be known; and for the
    rest of what should be confirmed, unless `yes`."""
    options = must_be_told(mapping)
    errors = []
    for d in mapping.asked:
        option, allowed = options.get(d.what, ("--yes", "--yes to take it so, or --map with a mapping of your own"))
        if option != "--yes" or not yes:
            found = f"{d.what} {d.value}" if d.value else f"no {d.what}"
            errors.append(
                InputError(f"must be told: {d.reason}", file=str(file), field=option, found=found, allowed=allowed)
            )
    if errors:
        raise errors[0] if len(errors) == 1 else FileError(errors)
