"""What loggers tell: limits that are not held, silence, calibrations that are due."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.intervals import EIGHT_IN_TEN
from nestwright.workshop import alarm_rules as rules
from nestwright.workshop.alarm_rules import Spell
from nestwright.workshop.builds import find_build
from nestwright.workshop.readings import HOUR, Channel, channels_of, read_raw, span_of
from nestwright.workshop.tables import colony, logger

if TYPE_CHECKING:
    from nestwright.habitat.model import Habitat
    from nestwright.workshop.look import Look
    from nestwright.workshop.placements import Placement

__all__ = ["WORDS", "bands_at", "sensor_findings", "spell_of"]

BACK = 14 * 24
"""Hours of readings that are looked at for the present spell; a longer one is told as this long."""
WORDS = {"temperature": "temperature", "relative_humidity": "relative humidity", "co2": "CO2"}


def sensor_findings(connection: Connection, folder: Path, made: Look) -> None:
    """Add what every logger that stands somewhere now tells; an unplaced one is in a drawer and tells nothing."""
    from nestwright.workshop.placements import placements

    by_hand = {int(i): bool(m) for i, m in connection.execute(select(logger.c.id, logger.c.mapping))}
    for place in placements(connection):
        if not (place.since <= made.at and (place.until is None or made.at < place.until)):
            continue
        channels = channels_of(connection, place.logger)
        spans = {c.id: span_of(connection, c.id) for c in channels}
        newest = max(channels, key=lambda c: spans[c.id][1], default=None)
        quiet = False
        if newest is not None and spans[newest.id][2]:
            quiet = _silence(connection, made, place, newest, spans[newest.id][1], by_hand[place.logger_id])
        for channel in channels:
            if not spans[channel.id][2]:
                continue
            if quiet:
                # what it last said is no news; its alarms stay as they are
                made.skipped.add(f"limit/{channel.id}")
            else:
                _limits(connection, folder, made, place, channel, spans[channel.id][1])
            _calibration(connection, made, place, channel)


def _silence(connection: Connection, made: Look, place: Placement, channel: Channel, last: int, by_hand: bool) -> bool:
    late = read_raw(connection, channel.id, last - 48 * HOUR).at[-200:]
    usual = float(np.median(np.diff(late))) / HOUR if len(late) > 2 else None
    subject = f"logger {place.logger}"
    command = "nestwright readings import FILE" if by_hand else ""
    key = f"silent/{place.logger_id}"
    hours = max(0.0, (made.at - last) / HOUR)
    found = rules.silent(key, subject, hours, usual, by_hand, logger=place.logger_id, command=command)
    made.add(found)
    if by_hand:
        return hours > 24.0
    return found is not None and found.state == "on"


def _limits(connection: Connection, folder: Path, made: Look, place: Placement, channel: Channel, last: int) -> None:
    from nestwright.workshop.corrected import corrected
    from nestwright.workshop.sensors import scale_of

    scale = scale_of(channel)
    if scale is None or not place.chamber:
        return
    bands = bands_at(connection, folder, place, scale.quantity)
    if not any(end is not None for end in bands):
        return
    try:
        read = corrected(connection, channel, last - BACK * HOUR)
    except InputError as problem:
        made.unread.append((f"{channel.logger}.{channel.name}", str(problem)))
        made.skipped.add(f"limit/{channel.id}")
        return
    margin = float(scale.spread(_margin(scale.quantity)))
    where = place.colony or f"build {place.build}"
    what = WORDS[scale.quantity]
    fixed = _fixed(connection, folder, place)
    for side, end in (("below", bands[0]), ("above", bands[1])):
        if end is None:
            continue
        spell = spell_of(
            read.at, read.value, float(np.hypot(read.common[-1], read.own[-1])), float(scale.shown(end)), side,
            margin, read.calibrations > 0,
        )  # fmt: skip
        command = f"nestwright readings show {channel.logger}.{channel.name}"
        of: dict[str, Any] = {"logger": place.logger_id, "command": command, "fixed": fixed}
        made.add(rules.limit(f"limit/{channel.id}/{side}", where, what, channel.unit, spell, **of))


def spell_of(
    at: Any, value: Any, error: float, limit: float, side: str, margin: float, corrected: bool = False
) -> Spell:
    """How readings, `at` UTC ms and `value` (n,), stand to a limit at their end; `error` is the standard error of the
    last. A spell is broken by a reading on the other side, and by a gap of over three hours."""
    beyond = value > limit if side == "above" else value < limit
    changes = (beyond[1:] != beyond[:-1]) | (np.diff(at) > 3 * HOUR)
    first = int(np.flatnonzero(changes)[-1]) + 1 if changes.any() else 0
    hours = float(at[-1] - at[first]) / HOUR
    out, back = (hours, 0.0) if beyond[-1] else (0.0, hours)
    last, reach = float(value[-1]), EIGHT_IN_TEN * error if np.isfinite(error) else 0.0
    return Spell(last, last - reach, last + reach, limit, side, out, back, margin, corrected)  # type: ignore[arg-type]


def _margin(quantity: str) -> float:
    from nestwright.data import limit_tolerances

    return limit_tolerances()[quantity]


def bands_at(
    connection: Connection, folder: Path, place: Placement, quantity: str
) -> tuple[float | None, float | None]:
    """The band, SI, that holds where a logger stands: the design's own, else that of the species that lives there."""
    from nestwright.data import load_species
    from nestwright.workshop.placements import BELL

    inhabitant = place.colony
    design: Habitat | None = None
    role = "garden"
    if place.build:
        built = find_build(connection, place.build)
        inhabitant = inhabitant or built.colony
        design = _design(folder / str(built.values["habitat"]))
    name = place.chamber.removesuffix(BELL)
    if design is not None:
        chamber = next((c for c in design.chambers if c.name == name), None)
        if chamber is None:
            return None, None
        role = chamber.role
        covered = any(b.chamber == name for b in design.bells)
        if covered and not place.chamber.endswith(BELL) and quantity != "temperature":
            return None, None  # beside a bell the air is not that of the garden
        own = next((o for o in design.limits if (o.role, o.quantity) == (role, quantity)), None)
        if own is not None and inhabitant:
            return own.low, own.high
    if not inhabitant:
        return None, None
    species = connection.execute(select(colony.c.species).where(colony.c.name == inhabitant)).scalar()
    try:
        card = load_species(str(species))
    except InputError:
        return None, None
    found = next((x for x in card.limits if (x.role, x.quantity) == (role, quantity)), None)
    return (None, None) if found is None else (found.low, found.high)


def _fixed(connection: Connection, folder: Path, place: Placement) -> bool:
    """Whether the design of the build where a logger stands is known, and no plug closes a vent of its chamber."""
    from nestwright.workshop.placements import BELL

    built = find_build(connection, place.build) if place.build else None
    design = None if built is None else _design(folder / str(built.values["habitat"]))
    name = place.chamber.removesuffix(BELL)
    return design is not None and not any(v.closed for v in design.vents if v.chamber.removesuffix(BELL) == name)


def _design(file: Path) -> Habitat | None:
    from nestwright.habitat.file import read_habitat

    try:
        return read_habitat(file)
    except (InputError, OSError):
        return None


def _calibration(connection: Connection, made: Look, place: Placement, channel: Channel) -> None:
    from nestwright.sensing.drift import due
    from nestwright.workshop.sensors import calibrations_of, scale_of

    scale = scale_of(channel)
    if scale is None:
        return
    name = f"{channel.logger}.{channel.name}"
    try:
        kept = [k.calibration for k in calibrations_of(connection, channel.id)]
    except InputError as problem:
        made.unread.append((name, str(problem)))
        made.skipped.add(f"calibration/{channel.id}")
        return
    if not kept and (scale.quantity != "relative_humidity" or not place.chamber):
        return  # other sensors hold well enough, and the room's humidity decides nothing
    last: date | None = max((k.when for k in kept), default=None)
    day, why = None, ""
    if kept and channel.wanted_error:
        _, end, _ = span_of(connection, channel.id)
        raw = read_raw(connection, channel.id, end - 24 * HOUR).value
        found = due(kept, channel.wanted_error * scale.factor, float(np.median(scale.si(raw))))
        day, why = found.day, found.reason
    made.add(
        rules.calibration_due(
            f"calibration/{channel.id}", f"sensor {name}", last, day, why, made.today,
            logger=place.logger_id, channel=name,
        )
    )  # fmt: skip
