"""`nestwright sensor`: what readings are worth: calibration over salts, drift, and when the next one is due."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.record import AsJson, InWorkshop, acting, group, lines_of_text, workshop_of
from nestwright.errors import FileError, InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from nestwright.workshop.at_reference import AtReference
    from nestwright.workshop.readings import Channel
    from nestwright.workshop.sensors import Scale

__all__ = ["commands"]

commands = group("Trust sensors: calibrate them over salts, in ice or outdoor air; their drift and when they are due.")

ChannelName = Annotated[
    str, typer.Argument(metavar="CHANNEL", help="LOGGER.CHANNEL, or either where that is clear.", show_default=False)
]


@commands.command()
def calibrate(
    channel: ChannelName,
    point: Annotated[
        list[str],
        typer.Option(
            "--point",
            help="Reference, from, to: 'NaCl 2026-01-03 18:00 to 2026-01-04 09:00'. Repeat it for each one.",
            show_default=False,
        ),
    ],
    temperature: Annotated[
        str | None,
        typer.Option(
            "--temperature",
            help="Of the salts' box: a channel, or '22.5 degC'. Default: the logger's own.",
            show_default=False,
        ),
    ] = None,
    dry: Annotated[bool, typer.Option("--dry", help="Show only, store nothing.")] = False,
    note: Annotated[str, typer.Option("--note", help="Anything worth telling.", show_default=False)] = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Calibrate a sensor by its own raw readings at references: salts for humidity, ice for temperature, outdoor air
    for CO2. Readings stay as they are; they are corrected when they are shown.

    A point counts only once the readings are at rest. `nestwright workshop undo` takes a calibration back.
    """
    from nestwright.cli.output import print_json
    from nestwright.cli.sensor_text import shown_calibration
    from nestwright.sensing.calibration import calibrate as fit
    from nestwright.workshop.at_reference import read_at_reference, standing_of
    from nestwright.workshop.changes import now
    from nestwright.workshop.database import reading
    from nestwright.workshop.readings import find_channel
    from nestwright.workshop.sensor_state import sensor_state
    from nestwright.workshop.sensors import keep_calibration

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        sensor = find_channel(connection, channel)
        scale = _scale(sensor)
        stands = [standing_of(text, scale.quantity, workshop.zone) for text in point]
        _apart(stands)
        beside = _beside(connection, temperature, sensor) if scale.quantity == "relative_humidity" else None
        found = [read_at_reference(connection, sensor, scale, s, beside) for s in stands]
        level = sensor_state(connection, sensor, scale, now(), workshop.zone).level
    open_ones = [f for f in found if f.point is None]
    if open_ones and not dry:
        raise _not_at_rest(open_ones)
    points = [f.point for f in found if f.point is not None]
    last = max(s.end for s in stands)
    made = fit(points, _day(last, workshop), scale.quantity) if points else None
    spans = tuple((s.begin, s.end) for s in stands)
    if made is not None and not dry:
        with acting(workshop, f"calibration of {sensor.logger}.{sensor.name}") as done:
            keep_calibration(done, sensor.id, made, spans, lines_of_text(note))
    if json:
        told = None if made is None else made.to_dict()
        result = {"channel": sensor.to_dict(), "stored": made is not None and not dry, "calibration": told}
        print_json(result | {"points": [f.to_dict() for f in found]})
    else:
        shown_calibration(sensor, scale, found, made, workshop, stored=not dry, level=level)


def _day(at: int, workshop: Any) -> Any:
    from datetime import datetime

    # the last moment of a point that ends at midnight belongs to the day before
    return datetime.fromtimestamp((at - 1) / 1000, workshop.zone).date()


def _scale(channel: Channel) -> Scale:
    from nestwright.workshop.sensors import scale_of

    scale = scale_of(channel)
    if scale is None:
        raise InputError(
            "is not calibrated here",
            field="channel",
            found=f"{channel.logger}.{channel.name}, {channel.quantity} {channel.unit}".rstrip(),
            allowed="humidity, temperature, CO2",
        )
    return scale


def _apart(stands: list[Any]) -> None:
    from itertools import pairwise

    ordered = sorted(stands, key=lambda s: s.begin)
    for one, other in pairwise(ordered):
        if other.begin < one.end:
            raise InputError(
                "two points at one time", field="--point", found=f"{one.text!r} and {other.text!r}",
                allowed="times that do not overlap",
            )  # fmt: skip


def _beside(connection: Connection, told: str | None, channel: Channel) -> Channel | float:
    from nestwright.units import UnitProblem, parse_quantity
    from nestwright.workshop.at_reference import temperature_beside
    from nestwright.workshop.readings import find_channel

    if told is None:
        return temperature_beside(connection, channel)
    try:
        return parse_quantity(told, "temperature")
    except UnitProblem:
        pass
    try:
        return find_channel(connection, told)
    except InputError as error:
        raise InputError(
            "is neither a channel nor a temperature", field="--temperature", found=error.found,
            allowed=f"'22.5 degC', or a channel: {error.allowed}", nearest=error.nearest,
        ) from None  # fmt: skip


def _not_at_rest(found: list[AtReference]) -> InputError:
    from nestwright.wording.sensors import advice

    errors = [
        InputError(f"cannot be used yet: {f.reason}", field="--point", found=repr(f.standing.text), allowed=advice(f))
        for f in found
    ]
    return errors[0] if len(errors) == 1 else FileError(errors)


@commands.command("list")
def listed(folder: InWorkshop = None, json: AsJson = False) -> None:
    """Every sensor that can be calibrated: its last calibration, drift, uncertainty now, and when it is due."""
    from nestwright.cli.output import console, plain, print_json
    from nestwright.cli.sensor_text import states_table, wish
    from nestwright.workshop.changes import now
    from nestwright.workshop.database import reading
    from nestwright.workshop.sensor_state import sensor_states

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        states = sensor_states(connection, now(), workshop.zone)
    if json:
        print_json({"sensors": [s.to_dict() for s in states]})
    elif states:
        out = console()
        out.print(states_table(states))
        out.print("Drift with the range of 8 in 10. Give or take: one standard uncertainty of a reading today.")
        for s in states:
            if wish(s):
                out.print(plain(f"{s.channel.logger}.{s.channel.name}: {wish(s)}."), soft_wrap=True)
        if any(s.channel.wanted_error is None for s in states):
            out.print("Say how sure a sensor must be with `nestwright sensor want`: its due day follows from that.")
    else:
        print("No sensors yet: import a file with `nestwright readings import`.")


@commands.command()
def show(channel: ChannelName, folder: InWorkshop = None, json: AsJson = False) -> None:
    """One sensor: its calibrations with their points, its drift, its uncertainty now and when it is due."""
    from nestwright.cli.output import print_json
    from nestwright.cli.sensor_text import shown_sensor
    from nestwright.workshop.changes import now
    from nestwright.workshop.database import reading
    from nestwright.workshop.readings import find_channel
    from nestwright.workshop.sensor_state import sensor_state

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        one = find_channel(connection, channel)
        scale = _scale(one)
        state = sensor_state(connection, one, scale, now(), workshop.zone)
    if json:
        documents = [k.calibration.to_dict() | {"note": k.note} for k in state.calibrations]
        print_json(state.to_dict() | {"documents": documents})
    else:
        shown_sensor(state, scale)


@commands.command()
def refused(folder: InWorkshop = None, json: AsJson = False) -> None:
    """Messages of live sensors that were not taken lately: where from, why, how often, and how the last one began."""
    from nestwright.cli.output import console, print_json
    from nestwright.cli.sensor_text import refused_table
    from nestwright.workshop.database import reading
    from nestwright.workshop.live_refused import kept_refused

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = kept_refused(connection)
    if json:
        print_json({"refused": [one.to_dict() for one in found]})
    elif found:
        console().print(refused_table(found, workshop))
    else:
        print("Nothing was refused lately: every message of `nestwright listen` was taken, or none came.")


@commands.command()
def want(
    channel: ChannelName,
    error: Annotated[
        str,
        typer.Argument(
            metavar="ERROR", help='Standard uncertainty that is enough, "2 %", "0.3 K"; or none.', show_default=False
        ),
    ],
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Say how sure a sensor must be; from that follows when its next calibration is due."""
    from nestwright.cli.record import tell
    from nestwright.workshop.readings import find_channel
    from nestwright.workshop.tables import channel as channels

    workshop = workshop_of(folder)
    with acting(workshop, f"wanted uncertainty of {channel}") as done:
        one = find_channel(done.connection, channel)
        scale = _scale(one)
        wanted = None
        if error.strip() != "none":
            wanted = float(scale.spread(_uncertainty(error, scale.quantity, f"{one.logger}.{one.name}")))
        done.change(channels, one.id, {"wanted_error": wanted})
    said = "whatever it is" if wanted is None else f"{wanted:g} {'K' if one.unit == 'degC' else one.unit}"
    result = {"channel": f"{one.logger}.{one.name}", "wanted_error": wanted}
    tell(json, result, f"{one.logger}.{one.name}: a standard uncertainty of {said} is enough")


def _uncertainty(text: str, quantity: str, name: str) -> float:
    """A wanted standard uncertainty, SI. Raises InputError with what is allowed of this quantity."""
    from nestwright.units import UnitProblem, parse_quantity

    said, example = {
        "relative_humidity": ("a humidity", "above 0 to 100 %, as '2 %'"),
        "temperature": ("a temperature", "above 0 to 50 K, as '0.3 K'"),
        "co2": ("carbon dioxide", "above 0, in ppm or %, as '50 ppm'"),
    }[quantity]
    problem = f"cannot be the uncertainty of {said}"
    try:
        found = parse_quantity(text, "difference" if quantity == "temperature" else "share")
    except UnitProblem as fault:
        # in the words of the sensor, not of the kind of unit
        found, problem = 0.0, fault.message if "unit is missing" in fault.message else problem
    if found <= 0:
        raise InputError(problem, field=name, found=repr(text[:40]), allowed=f"{example}; or none")
    return found
