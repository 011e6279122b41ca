"""The air of a colony's garden out of the record: readings of the loggers that stood there, corrected."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, select

from nestwright.climate.room_values import room_values
from nestwright.workshop.corrected import CorrectedReadings, corrected
from nestwright.workshop.moments import DAY, local_ms
from nestwright.workshop.placements import BELL, Placement, chamber_roles, placements
from nestwright.workshop.readings import HOUR, channels_of, with_arriving
from nestwright.workshop.sensors import scale_of
from nestwright.workshop.tables import build, stay

__all__ = ["GardenAir", "air_state", "garden_air"]

Array = NDArray[np.float64]
Moments = NDArray[np.int64]


@dataclass(frozen=True)
class GardenAir:
    """Readings at a garden, in order of time, shape (n,), SI.

    `at` UTC ms; `when` days on the workshop's clock since the midnight that was asked for; `weight` s that each stands
    for; `temperature` K; `humidity` 0 to 1; `co2` mole fraction, nan where not measured, None where it never was.
    `temperature_error`, `humidity_error`: standard uncertainties shared by all readings of a sensor. `loggers`: those
    whose readings are in it. `notes` for people.
    """

    at: Moments
    when: Array
    weight: Array
    temperature: Array
    humidity: Array
    co2: Array | None
    temperature_error: Array
    humidity_error: Array
    loggers: tuple[str, ...]
    notes: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.at)

    @property
    def co2_inside(self) -> Array | None:
        """CO2 with 0, which is beyond no limit, where it was not measured; None where it never was."""
        return None if self.co2 is None else np.nan_to_num(self.co2, nan=0.0)


@dataclass(frozen=True)
class _Source:
    """Readings of one placement, shape (n,)."""

    rank: int
    logger: str
    at: Moments
    columns: Array
    """temperature, humidity, CO2 and the errors of the first two, shape (5, n)"""


def garden_air(
    connection: Connection, folder: Path, colony_id: int, start: date, zone: ZoneInfo, low: int, high: int
) -> GardenAir | None:
    """The air of a colony's garden from `low` on and before `high` (UTC ms); None where no logger stood there.

    Parameters
    ----------
    folder : of the workshop, in which the designs of builds lie.
    start : day whose midnight `when` counts from.

    Notes
    -----
    A logger counts that was placed at the colony, or in a build while the colony lived in it, in a chamber of a garden
    by the design's roles; where the design is not known, in any chamber but the room. Under the bell goes before
    beside it; of several loggers the other fills only what the better one leaves open. Humidity and CO2 are read off
    at the instants of the temperature, in straight lines over gaps up to `bridge` of `data/room.toml`.
    """
    bridge = room_values()["bridge"].value * 1000
    notes: list[str] = []
    sources: list[_Source] = []
    for place, begin, end, rank in _at_garden(connection, folder, colony_id, zone, low, high):
        found = _source(connection, place, begin, end, rank, bridge, notes)
        if found is not None:
            sources.append(found)
    if not sources:
        return None
    at, columns, used = _joined(sources, bridge)
    co2 = None if np.isnan(columns[2]).all() else columns[2]
    when = (local_ms(at, zone) - (start - date(1970, 1, 1)).days * DAY) / DAY
    return GardenAir(
        at, when, _weights(at, bridge), columns[0], columns[1], co2, columns[3], columns[4], used,
        tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def air_state(
    connection: Connection, folder: Path, colony_id: int, zone: ZoneInfo, low: int, high: int
) -> tuple[object, ...]:
    """What `garden_air` of the same span rests on, without reading it: where loggers stood, how many readings each of
    their channels has there and their sum by whole hours, and its calibrations. Equal states give equal air."""
    from sqlalchemy import func

    from nestwright.workshop.sensors import calibrations_of, spans_at_references
    from nestwright.workshop.tables import rollup

    made: list[object] = []
    for place, begin, end, rank in _at_garden(connection, folder, colony_id, zone, low, high):
        made += [place.chamber, begin, end, rank, *spans_at_references(connection, place.logger)]
        for channel in channels_of(connection, place.logger):
            hours = (rollup.c.hour >= begin // HOUR) & (rollup.c.hour <= (end - 1) // HOUR)
            sums = select(func.sum(rollup.c.n), func.sum(rollup.c.total)).where(
                rollup.c.channel_id.in_(with_arriving(connection, channel.id)), hours
            )
            made += [channel.id, channel.quantity, channel.unit, *connection.execute(sums).one()]
            made += [str(kept.calibration) for kept in calibrations_of(connection, channel.id)]
    return tuple(made)


def _at_garden(
    connection: Connection, folder: Path, colony_id: int, zone: ZoneInfo, low: int, high: int
) -> list[tuple[Placement, int, int, int]]:
    """Placements at the garden, with the part of each that counts and its rank, 0 the best."""
    from nestwright.workshop.moments import moment_of
    from nestwright.workshop.tables import colony

    name = str(connection.execute(select(colony.c.name).where(colony.c.id == colony_id)).scalar())
    lived = connection.execute(
        select(stay.c.day, build.c.serial, build.c.id)
        .join(build, stay.c.build_id == build.c.id)
        .where(stay.c.colony_id == colony_id)
        .order_by(stay.c.day)
    ).all()
    times = [moment_of(str(day), zone, "stay") for day, _, _ in lived]
    ends = [*times[1:], high] if times else []
    homes = [
        (str(serial), int(one), begin, end) for (_, serial, one), begin, end in zip(lived, times, ends, strict=True)
    ]
    roles = {serial: chamber_roles(connection, folder, one) for serial, one, _, _ in homes}
    found = []
    for place in placements(connection):
        if not place.chamber:
            continue
        spans: list[tuple[int, int, dict[str, str]]] = []
        if place.colony == name:
            spans = [(low, high, roles[homes[-1][0]] if homes else {})]
        elif not place.colony and place.build:
            spans = [(begin, end, roles[serial]) for serial, _, begin, end in homes if serial == place.build]
        for begin, end, known in spans:
            chamber = place.chamber.removesuffix(BELL)
            if known.get(chamber, "garden") != "garden":
                continue
            begin, end = max(begin, place.since, low), min(end, high if place.until is None else place.until, high)
            if begin < end:
                found.append((place, begin, end, int(not place.chamber.endswith(BELL))))
    return found


def _source(
    connection: Connection, place: Placement, begin: int, end: int, rank: int, bridge: float, notes: list[str]
) -> _Source | None:
    read: dict[str, CorrectedReadings] = {}
    for channel in channels_of(connection, place.logger):
        scale = scale_of(channel)
        if scale is None or scale.quantity in read:
            continue
        one = corrected(connection, channel, begin, end)
        if len(one.at):
            read[scale.quantity] = CorrectedReadings(
                one.at, scale.si(one.value), one.common * scale.factor, one.own * scale.factor, one.calibrations
            )
    if "temperature" not in read or "relative_humidity" not in read:
        if read:
            notes.append(
                f"logger {place.logger} has no {'humidity' if 'temperature' in read else 'temperature'}: left out"
            )
        return None
    warm, damp, gas = read["temperature"], read["relative_humidity"], read.get("co2")
    if not damp.calibrations:
        notes.append(f"humidity of logger {place.logger} was never calibrated: raw")
    humidity = _at(warm.at, damp.at, damp.value, bridge)
    known = np.isfinite(humidity)
    if not known.any():
        notes.append(f"logger {place.logger} has humidity and temperature at different times: left out")
        return None
    columns = np.stack(
        [
            warm.value,
            humidity,
            np.full(len(warm.at), np.nan) if gas is None else _at(warm.at, gas.at, gas.value, bridge),
            warm.common,
            _at(warm.at, damp.at, damp.common, bridge),
        ]
    )
    return _Source(rank, place.logger, warm.at[known], columns[:, known])


def _at(wanted: Moments, at: Moments, value: Array, bridge: float) -> Array:
    """Values at other moments, in straight lines; nan further than half a bridge from a reading, or within a gap."""
    if np.array_equal(wanted, at):
        return value
    place = np.searchsorted(at, wanted)
    left, right = np.clip(place - 1, 0, len(at) - 1), np.clip(place, 0, len(at) - 1)
    exact = at[right] == wanted
    inside = (place > 0) & (place < len(at)) & (at[right] - at[left] <= bridge)
    return np.where(exact | inside, np.interp(wanted, at, value), np.nan)


def _joined(sources: list[_Source], bridge: float) -> tuple[Moments, Array, tuple[str, ...]]:
    """One series: a source fills what the better ones leave open for longer than the bridge."""
    ordered = sorted(sources, key=lambda s: (s.rank, -len(s.at)))
    at, columns, used = ordered[0].at, ordered[0].columns, [ordered[0].logger]
    for one in ordered[1:]:
        order = np.argsort(at, kind="stable")
        at, columns = at[order], columns[:, order]
        place = np.searchsorted(at, one.at)
        before, after = at[np.maximum(place - 1, 0)], at[np.minimum(place, len(at) - 1)]
        near = np.minimum(np.abs(one.at - before), np.abs(one.at - after)) <= bridge / 2
        inside = (place > 0) & (place < len(at)) & (after - before <= bridge)
        open_here = ~(near | inside)
        if open_here.any():
            at = np.concatenate([at, one.at[open_here]])
            columns = np.concatenate([columns, one.columns[:, open_here]], axis=1)
            used.append(one.logger)
    order = np.argsort(at, kind="stable")
    return at[order], columns[:, order], tuple(dict.fromkeys(used))


def _weights(at: Moments, bridge: float) -> Array:
    """Time that each reading stands for, s: half the way to its neighbours, a gap no more than its bridge."""
    if len(at) < 2:
        return np.ones(len(at))
    half = np.minimum(np.diff(at), bridge) / 2000
    return np.concatenate([[2 * half[0]], half[:-1] + half[1:], [2 * half[-1]]])
