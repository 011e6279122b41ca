"""How one logger writes its files: what was recognised, why, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nestwright.errors import InputError, nearest_name
from nestwright.sensing.loggers.words import words

__all__ = ["CONFIDENCES", "FORMS", "Column", "Decision", "Mapping", "confirm"]

CONFIDENCES = ("sure", "likely", "asked")
FORMS = ("date", "epoch s", "epoch ms", "serial")
"""How times are written: as dates, as seconds or milliseconds since 1970, as days of a spreadsheet."""


@dataclass(frozen=True)
class Decision:
    """One thing that was decided: what, the value taken, why, and "sure", "likely" or "asked" (confirm it)."""

    what: str
    value: str
    reason: str
    confidence: str


@dataclass(frozen=True)
class Column:
    """One column of values: position from 0, header text, quantity ("other" for an unknown one), the unit that the
    file uses, and the name of its channel."""

    at: int
    header: str
    quantity: str
    unit: str
    channel: str

    @property
    def canonical(self) -> str:
        """Unit of the channel's values: degC, %, ppm, hPa, ...; of an unknown quantity the file's own."""
        known = words().units.get(self.unit)
        return known.into if known else self.unit


@dataclass(frozen=True)
class Mapping:
    """The form of a logger's files.

    `separator` is a name of `table.SEPARATORS`; `header` all cells of the header line, () when there is none, and
    `header_line` its number from 1, or 0; `first_line` the first line of readings. `time_at` has one position, two
    for date and clock, or a third for am and pm; `form` is one of FORMS, `order` "ymd", "dmy" or "mdy"; `zone` an IANA
    name, "UTC", "UTC+01:00", "told" where every row tells its offset, or "" when unknown (then read as UTC).
    """

    encoding: str
    separator: str
    decimal: str
    thousands: str
    header_line: int
    first_line: int
    header: tuple[str, ...]
    time_at: tuple[int, ...]
    form: str
    order: str
    zone: str
    columns: tuple[Column, ...]
    decisions: tuple[Decision, ...] = ()

    @property
    def asked(self) -> tuple[Decision, ...]:
        """The decisions that somebody should confirm before readings are kept."""
        return tuple(d for d in self.decisions if d.confidence == "asked")

    @property
    def width(self) -> int:
        """Columns that must be read."""
        return 1 + max([*self.time_at, *(c.at for c in self.columns)])


def confirm(
    mapping: Mapping,
    *,
    zone: str | None = None,
    order: str | None = None,
    units: dict[str, str] | None = None,
    leave_out: tuple[str, ...] = (),
) -> Mapping:
    """The mapping with answers put in; what was answered is then "sure".

    Parameters
    ----------
    zone, order : str, optional
        As in Mapping.
    units : dict of str to str, optional
        Unit by channel, such as {"temperature": "degF"}.
    leave_out : tuple of str
        Channels that shall not be read.

    Raises
    ------
    InputError
        For a zone, order, channel or unit that is not known.
    """
    from nestwright.sensing.loggers.dates import ORDERS
    from nestwright.sensing.loggers.zones import check_zone

    answers: dict[str, str] = {}
    columns = list(mapping.columns)
    if zone is not None:
        answers["zone"] = zone if zone == "told" else check_zone(zone)
        mapping = replace(mapping, zone=zone)
    if order is not None:
        if order not in ORDERS:
            raise InputError("is no order of a date", field="order", found=repr(order), allowed=", ".join(ORDERS))
        answers["order"] = order
        mapping = replace(mapping, order=order)
    names = [c.channel for c in columns]
    for channel in [*(units or {}), *leave_out]:
        if channel not in names:
            raise InputError(
                "the file has no such channel", field="channel", found=repr(channel), allowed=", ".join(names),
                nearest=nearest_name(channel, names),
            )  # fmt: skip
    for channel, unit in (units or {}).items():
        k = names.index(channel)
        known = words().quantities.get(columns[k].quantity)
        if known is not None and unit not in known.units:
            raise InputError(
                f"is no unit of {columns[k].quantity}", field=channel, found=repr(unit), allowed=", ".join(known.units),
                nearest=nearest_name(unit, known.units),
            )  # fmt: skip
        columns[k] = replace(columns[k], unit=unit)
        answers[channel] = unit
    kept = tuple(c for c in columns if c.channel not in leave_out)
    if not kept:
        raise InputError("no channel is left", field="channel", allowed="at least one of " + ", ".join(names))
    decisions = tuple(
        Decision(d.what, answers[d.what], "as you said", "sure") if d.what in answers else d
        for d in mapping.decisions
        if d.what not in leave_out
    )
    return replace(mapping, columns=kept, decisions=decisions)
