"""The forward model of a dry run: what the loggers of a build with given factors would read."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_log import ROOM, Record
from nestwright.climate.dry_run_parts import Part, assemble_build, empty_build, parts_of, with_factors
from nestwright.climate.dry_run_values import dry_run_values
from nestwright.climate.proof import NotSettled, refill_table, settled, station_pressure
from nestwright.climate.reading import zone_air
from nestwright.climate.room_air import Room
from nestwright.data import load_species
from nestwright.errors import InputError, nearest_name
from nestwright.habitat.assemble import Assembly
from nestwright.habitat.model import Habitat
from nestwright.network.arrays import T_REF
from nestwright.network.integrate import OK, ORDER3, run

Array = NDArray[np.float64]

__all__ = ["Channel", "Problem", "Release", "find_releases", "room_over", "set_problem"]

FINE_AFTER_START, FINE_AFTER_RELEASE, COARSE = 3 * 3600.0, 5 * 3600.0, 1200.0
"""Readings are taken one by one so long after the start and after a release, else at least so far apart, s."""
FINEST = 240.0
ROOM_STEP = 290.0
WET = 0.995
"""Relative humidity from which a sensor is at its end."""
STEP_ERROR = 0.5


@dataclass(frozen=True)
class Release:
    """Tracer let into a chamber: `time` s, by when it is taken as `mixed` s, mol by the first look."""

    zone: str
    time: float
    peak: float
    mixed: float
    moles: float


@dataclass(frozen=True)
class Channel:
    """One logger's quantity at the problem's instants: `rows` into them, values in SI at these rows."""

    zone: str
    quantity: str
    rows: NDArray[np.int64]
    values: Array


@dataclass(frozen=True)
class Problem:
    """A build, its loggers and its room. `time` s, shape (n,), from the record's start."""

    assembly: Assembly
    parts: tuple[Part, ...]
    releases: tuple[Release, ...]
    channels: tuple[Channel, ...]
    time: Array
    room: Room
    start: str
    """"filled": the block was filled and the chambers closed at the first reading; "settled": long before it."""

    def with_value(self, name: str, value: float) -> Problem:
        """The same build with one of the model's own uncertain values changed, by the name of `uncertain_values`."""
        net = self.assembly.network.net
        bare = dataclasses.replace(self.assembly.habitat, vents=self.assembly.habitat.vents[: -self.leaks])
        made = assemble_build(
            bare, self.assembly.card, pressure=net.pressure, room_co2=self.room.co2, override={name: value}
        )
        return dataclasses.replace(self, assembly=made)

    @property
    def leaks(self) -> int:
        return len(self.assembly.habitat.chambers)

    @property
    def room_knots(self) -> Array:
        """Instants s at which the room is followed: its own, or where it has more, an even grid."""
        own = self.room.time
        span = float(self.time[-1] - self.time[0])
        inside = own[(own > self.time[0]) & (own < self.time[-1])]
        return inside if len(inside) <= span / ROOM_STEP else np.arange(self.time[0], self.time[-1], ROOM_STEP)

    def run(self, factors: dict[str, float], moles: Array) -> Array:
        """States at every instant, shape (n, size). Raises NotSettled when the solver finds no way."""
        build = with_factors(self.assembly, factors)
        network, net = build.network, build.network.net
        t, e = _at(self.room, self.time)
        if self.start == "settled":
            y, _ = settled(build, float(t[0]), float(e[0]))
        else:
            y = network.initial(float(t[0]), float(e[0]))
        on, stats, step = -np.ones(len(net.heater)), np.zeros(6), np.array([10.0])
        out = np.zeros((len(self.time), net.size))
        refill = refill_table(build)
        out[0] = y
        edges = [r.time for r in self.releases]
        now = float(self.time[0])
        for k, until in enumerate([*edges, np.inf]):
            rows = np.flatnonzero((self.time > now) & (self.time <= until))
            last = until if np.isfinite(until) else float(self.time[-1])
            if last > now:
                # the room's own knots between two readings count: walls follow it within minutes
                room = self.room_knots[(self.room_knots > now) & (self.room_knots < last)]
                stops = np.unique(np.concatenate([[now, last], self.time[rows], room]))
                at, vapour = _at(self.room, stops)
                knots = np.column_stack([stops, at - T_REF, vapour / net.pressure])
                part = np.zeros((len(stops), net.size))
                if run(net, ORDER3, y, on, knots, STEP_ERROR, step, 7200.0, refill, part, stats) != OK:
                    raise NotSettled("the run of the build stopped")
                out[rows] = part[np.searchsorted(stops, self.time[rows])]
            if np.isfinite(until):
                _release(build, y, self.releases[k].zone, float(moles[k]))
                step[0], now = 1.0, float(until)
        return out

    def read(self, states: Array) -> list[Array]:
        """What each channel reads in these states, SI, each of the shape of its values."""
        air = {c.zone: zone_air(self.assembly.network, states, c.zone) for c in self.channels}
        return [getattr(air[c.zone], c.quantity)[c.rows] for c in self.channels]


def _at(room: Room, time: Array) -> tuple[Array, Array]:
    return np.interp(time, room.time, room.temperature), np.interp(time, room.time, room.vapour_pressure)


def _release(build: Assembly, y: Array, zone: str, moles: float) -> None:
    """Let CO2 into a zone: it drives out as much air, whose oxygen goes with it."""
    net = build.network.net
    z = build.network.zone_names.index(zone)
    temperature = float(zone_air(build.network, y, zone).temperature)
    whole = net.pressure * net.volume[z] / (net.gas[0] * temperature)
    share = min(moles / whole, 0.95)
    y[net.o2[z]] *= 1 - share
    y[net.co2[z]] = y[net.co2[z]] * (1 - share) + share * whole


def room_over(record: Record, room: Room | None) -> Room:
    """The room's air on the record's clock, from its own columns or from a room; its CO2 from a column if there.

    Raises InputError when neither is given, or a dated room does not cover the record.
    """
    t, h = record.channels.get((ROOM, "temperature")), record.channels.get((ROOM, "relative_humidity"))
    co2 = record.channels.get((ROOM, "co2"))
    if t is not None and h is not None:
        from nestwright.physics import air

        good = np.isfinite(t) & np.isfinite(h)
        if good.sum() < 2:
            raise InputError("the room's columns hold too few readings", field="room", allowed="two or more")
        e = np.minimum(h[good], 1.0) * np.asarray(air.saturation_pressure(t[good]))
        time, at, vapour = record.time[good], t[good], e
        base = room
        made = Room("from the readings", time, at, vapour, source="room columns of the loggers")
        if base is not None:
            raise InputError(
                "the room stands in the readings and is named as well", field="--room", allowed="one of the two"
            )
    elif room is None:
        raise InputError(
            "nothing says what air the room had", field="--room",
            allowed='columns room.temperature_degC and room.humidity_pct, or --room with a logger or "21 degC, 45 %"',
        )  # fmt: skip
    else:
        made = _aligned(record, room)
    level = made.co2 if co2 is None or not np.isfinite(co2).any() else float(np.nanmedian(co2))
    return Room(
        made.name, made.time, made.temperature, made.vapour_pressure, made.pressure, level, made.o2,
        record.start.isoformat(), made.source, made.notes,
    )  # fmt: skip


def _aligned(record: Record, room: Room) -> Room:
    from datetime import datetime

    last = float(record.time[-1])
    if room.fixed:
        time = np.array([0.0, max(last, 1.0)])
        return Room(room.name, time, room.temperature, room.vapour_pressure, room.pressure, room.co2, room.o2)
    if not room.start:
        raise InputError("the room has no dates to lay it beside the readings", field="--room", found=room.name)
    shift = (datetime.fromisoformat(room.start).replace(tzinfo=None) - record.start).total_seconds()
    time = room.time + shift
    if time[0] > 1800 or time[-1] < last - 1800:
        raise InputError(
            "the room's record does not cover the dry run", field="--room",
            found=f"{room.start} and {room.time[-1] / 3600:.1f} h on",
            allowed=f"{record.start.isoformat()} and {last / 3600:.1f} h on",
        )  # fmt: skip
    return Room(
        room.name,
        time,
        room.temperature,
        room.vapour_pressure,
        room.pressure,
        room.co2,
        room.o2,
        "",
        room.source,
        room.notes,
    )


def find_releases(record: Record, volumes: dict[str, float], pressure: float) -> tuple[Release, ...]:
    """Releases of tracer that the readings themselves show: a steep rise of CO2 in a chamber.

    Parameters
    ----------
    volumes : air of each zone, m3.
    pressure : Pa.

    Of rises within half an hour the largest names the chamber; the others are what reached them.
    """
    values = dry_run_values()
    least, mixing = values["release_rise"].value, values["mixing_time"].value
    rises: list[tuple[float, float, float, str, float]] = []
    for (zone, quantity), column in record.channels.items():
        if quantity != "co2" or zone == ROOM:
            continue
        good = np.flatnonzero(np.isfinite(column))
        t, c = record.time[good], column[good]
        k = 0
        while k < len(c) - 1:
            ahead = np.flatnonzero((t > t[k]) & (t <= max(t[k] + 900.0, t[k + 1])))
            top = int(ahead[c[ahead].argmax()])
            # the rise begins at the last low reading
            if c[top] - c[k] >= max(least, 0.3 * c[k]) and c[k + 1] - c[k] > 0.2 * (c[top] - c[k]):
                while top + 1 < len(c) and c[top + 1] > c[top] and t[top + 1] - t[k] < 1800.0:
                    top += 1
                rises.append((float(c[top] - c[k]), float(t[k]), float(t[top]), zone, float(t[k + 1])))
                k = top
            k += 1
    kept: list[tuple[float, float, float, str, float]] = []
    for rise in sorted(rises, reverse=True):
        if all(abs(rise[1] - other[1]) > 1800.0 for other in kept):
            kept.append(rise)
    out = []
    for size, before, peak, zone, after in sorted(kept, key=lambda rise: rise[1]):
        moles = size * pressure * volumes[zone] / (8.314462618 * 295.0)
        out.append(Release(zone, (before + after) / 2, peak, peak + mixing, moles))
    return tuple(out)


def set_problem(habitat: Habitat, record: Record, room: Room, *, start: str = "auto") -> Problem:
    """Lay out the model of an empty build beside its readings.

    `start` "filled", "settled" or "auto": whichever the first humidity in the build is nearer to. Raises InputError for
    a chamber that the design does not have.
    """
    bare = empty_build(habitat)
    assembly = assemble_build(
        bare, load_species(habitat.species), pressure=station_pressure(habitat, room), room_co2=room.co2
    )
    zones = assembly.network.zone_names
    for zone, quantity in record.channels:
        if zone not in zones and zone != ROOM:
            raise InputError(
                "the design has no such chamber", file=record.names.get((zone, quantity), ""),
                field=zone[:60], allowed=", ".join(zones) + ", room", nearest=nearest_name(zone, [*zones, ROOM]),
            )  # fmt: skip
    inside = [key for key in record.channels if key[0] != ROOM]
    if not inside:
        raise InputError("no reading comes from inside the build", allowed="columns of " + ", ".join(zones))
    volumes = dict(zip(zones, assembly.network.net.volume[: len(zones)].tolist(), strict=True))
    releases = find_releases(record, volumes, assembly.network.net.pressure)
    rows = _chosen(record, releases)
    time = record.time[rows]
    channels = []
    for zone, quantity in inside:
        values = record.channels[(zone, quantity)][rows]
        good = np.isfinite(values)
        if quantity == "relative_humidity":
            # a sensor at its upper end says no more than "wet"
            good &= values < WET
        if quantity == "co2":
            for r in releases:
                good &= (time <= r.time) | (time >= r.mixed)
        if good.sum() >= 3:
            at = np.flatnonzero(good)
            channels.append(Channel(zone, quantity, at, values[at]))
    if not channels:
        raise InputError("no column from inside the build has three readings or more")
    if start == "auto":
        start = _how_begun(assembly, channels, room, time)
    return Problem(assembly, parts_of(assembly), releases, tuple(channels), time, room, start)


def _chosen(record: Record, releases: tuple[Release, ...]) -> NDArray[np.int64]:
    """Rows of the record that the fit looks at."""
    kept, last = [], -np.inf
    for k, t in enumerate(record.time.tolist()):
        fine = t - record.time[0] < FINE_AFTER_START or any(r.time < t < r.time + FINE_AFTER_RELEASE for r in releases)
        edge = any(abs(t - r.time) < 900.0 for r in releases)
        if edge or t - last >= (FINEST if fine else COARSE) - 1.0:
            kept.append(k)
            last = t
    return np.array(kept, dtype=np.int64)


def _how_begun(assembly: Assembly, channels: list[Channel], room: Room, time: Array) -> str:
    t, e = _at(room, time[:1])
    damp = [c for c in channels if c.quantity == "relative_humidity"]
    if not damp:
        return "filled"
    fresh = assembly.network.initial(float(t[0]), float(e[0]))
    try:
        old, _ = settled(with_factors(assembly, {}), float(t[0]), float(e[0]))
    except NotSettled:
        return "filled"
    off = [0.0, 0.0]
    for c in damp:
        for k, y in enumerate((fresh, old)):
            off[k] += abs(float(zone_air(assembly.network, y, c.zone).relative_humidity) - float(c.values[0]))
    return "filled" if off[0] <= off[1] else "settled"
