"""`nestwright readings`: files of loggers into the record, and what they say."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.record import AsJson, InWorkshop, acting, group, line_of_text, lines_of_text, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.data import CardLimit
    from nestwright.workshop.readings import Channel

__all__ = ["commands"]

commands = group("Keep readings of loggers: import files, show channels, say where a logger stands, time in a band.")

ChannelName = Annotated[
    str, typer.Argument(metavar="CHANNEL", help="LOGGER.CHANNEL, or either where that is clear.", show_default=False)
]
From = Annotated[
    str | None,
    typer.Option("--from", help="First day or moment, 2026-01-31 or '2026-01-31 18:30'.", show_default=False),
]
To = Annotated[str | None, typer.Option("--to", help="Last day, or a moment.", show_default=False)]
Raw = Annotated[bool, typer.Option("--raw", help="As read, not corrected by calibrations.")]


def _told(flag: str, says: str, **more: Any) -> Any:
    return typer.Option(flag, help=says, show_default=False, **more)


@commands.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="The file that the logger wrote.", show_default=False)],
    name: Annotated[str, _told("--logger", "Name of the logger; made when it is new.")],
    zone: Annotated[str | None, _told("--zone", "Time zone of its clock, as Europe/Lisbon, UTC or UTC+01:00.")] = None,
    order: Annotated[str | None, _told("--order", "Order of its dates: dmy, mdy or ymd.")] = None,
    unit: Annotated[
        list[str] | None, _told("--unit", "Unit of a channel, as temperature=degF. May be repeated.")
    ] = None,
    leave_out: Annotated[list[str] | None, _told("--leave-out", "A channel not to store. May be repeated.")] = None,
    map_file: Annotated[
        Path | None, _told("--map", "A mapping of your own (see `nestwright readings mapping`).")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask: take what was recognised.")] = False,
    dry: Annotated[bool, typer.Option("--dry", help="Show only how it would be read.")] = False,
    bad: Annotated[Path | None, _told("--bad", "Write the bad rows (the first 1000) as CSV.")] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Import a logger's file: shows how it reads it, asks what it cannot know, then stores it whole or not at all.

    What the record has already stays. The answers are kept with the logger and used for its next files.
    """
    from nestwright.cli.output import print_json
    from nestwright.cli.progress import progress_bar
    from nestwright.cli.readings_import import asked_on_terminal, on_terminal, shown_recognised, shown_report, write_bad
    from nestwright.files import check_place
    from nestwright.sensing.loggers import read_mapping, to_toml
    from nestwright.sensing.loggers.answers import answered, refuse_open, zone_wanted
    from nestwright.sensing.loggers.zones import check_zone
    from nestwright.workshop.database import reading
    from nestwright.workshop.imports import accepted, how_to_read, import_in_pieces, kept_mapping

    workshop = workshop_of(folder)
    name = line_of_text(name, "--logger")
    if bad is not None:
        check_place(bad)
    if zone is not None:
        try:
            check_zone(zone)
        except InputError as error:
            raise InputError(error.message, field="--zone", found=error.found, allowed=error.allowed) from None
    with reading(workshop.engine) as connection:
        kept = kept_mapping(connection, name)
    if map_file is not None:
        mapping, again = accepted(read_mapping(map_file)), False
    else:
        mapping, again = how_to_read(file, kept, zone)
    if kept is not None and zone is not None and map_file is None and kept.zone not in ("told", "", zone):
        # two zones of one clock would lay the same reading on two moments
        raise InputError(
            "is another zone than that of this logger's earlier files",
            field="--zone",
            found=repr(zone),
            allowed=f"{kept.zone}, another name for the logger, or a mapping of your own with --map",
        )
    mapping = answered(mapping, zone_wanted(mapping, zone), order, unit or [], leave_out or [])
    ask = on_terminal() and not (yes or json or dry)
    if not json:
        shown_recognised(file, mapping, again, workshop, name)
    if dry:
        if json:
            decisions = [d.__dict__ for d in mapping.decisions]
            print_json({"logger": name, "as_before": again, "decisions": decisions, "mapping": to_toml(mapping)})
        return
    if ask:
        mapping = asked_on_terminal(
            mapping, workshop.zone.key, lambda text, given: str(typer.prompt(text, default=given))
        )
        if not typer.confirm("Store these readings?", default=True):
            print("Nothing was stored.")
            return
    else:
        refuse_open(mapping, file, yes)
    with progress_bar(quiet=json) as bar:
        task = bar.add_task(f"reading {file.name}", total=1.0)
        found = import_in_pieces(
            workshop,
            f"readings of {name} from {file.name}",
            file,
            name,
            accepted(mapping),
            lambda at, size: bar.update(task, completed=at / max(size, 1)),
        )
    if bad is not None:
        write_bad(bad, found)
    if json:
        print_json(found)
        return
    shown_report(found, workshop)


@commands.command()
def mapping(
    logger: Annotated[str, typer.Argument(metavar="LOGGER", help="Name of the logger.", show_default=False)],
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Print how a logger's files are read, as TOML that can be edited and given to `import --map`."""
    from nestwright.cli.record import tell
    from nestwright.sensing.loggers import to_toml
    from nestwright.workshop.database import reading
    from nestwright.workshop.imports import kept_mapping
    from nestwright.workshop.readings import find_logger

    with reading(workshop_of(folder).engine) as connection:
        find_logger(connection, logger)
        kept = kept_mapping(connection, logger)
    text = "" if kept is None else to_toml(kept)
    tell(json, {"logger": logger, "mapping": text}, text.rstrip() or f"No file of {logger} was imported yet.")


@commands.command("list")
def listed(folder: InWorkshop = None, json: AsJson = False) -> None:
    """Every channel: its logger, where it stands, how many readings from when to when."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.cli.record import moment
    from nestwright.workshop.database import reading
    from nestwright.workshop.placements import placements
    from nestwright.workshop.readings import channels_of, span_of

    workshop = workshop_of(folder)
    rows, told = [], []
    with reading(workshop.engine) as connection:
        stands = {p.logger: p for p in placements(connection) if p.until is None}
        for channel in channels_of(connection):
            first, last, n = span_of(connection, channel.id)
            place = stands.get(channel.logger)
            where = _where(place.build or place.colony, place.chamber) if place else ""
            span = [moment(first, workshop), moment(last, workshop)] if n else ["", ""]
            told.append(channel.to_dict() | {"readings": n, "first": span[0], "last": span[1], "stands": where})
            name = f"{channel.logger}.{channel.name}"
            rows.append([name, f"{channel.quantity}, {channel.unit}", f"{n:,}", *span, where])
    if json:
        print_json({"channels": told})
    elif rows:
        console().print(table(["channel", "", "readings", "from", "to", "stands"], rows, left=(0, 1, 3, 4, 5)))
    else:
        print("No readings yet: import a file with `nestwright readings import`.")


def _where(at: str, chamber: str) -> str:
    return " ".join(x for x in (at, chamber or "room") if x)


@commands.command()
def show(
    channel: ChannelName,
    low: From = None,
    high: To = None,
    raw: Raw = False,
    by: Annotated[str | None, _told("--by", "reading or hour; default: as fits the span.")] = None,
    picture: Annotated[Path | None, _told("--picture", "Draw it, .svg or .png.")] = None,
    csv: Annotated[Path | None, _told("--csv", "Write it as CSV.")] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """A channel's readings, corrected by its calibrations, with its gaps; default: its last seven days."""
    from nestwright.cli.output import print_json
    from nestwright.cli.pictures import check_picture_name
    from nestwright.cli.readings_show import course_json, draw_course, shown_course, span_of, write_course
    from nestwright.files import check_place
    from nestwright.workshop.course import course
    from nestwright.workshop.database import reading
    from nestwright.workshop.readings import find_channel
    from nestwright.workshop.readings import span_of as whole_span

    workshop = workshop_of(folder)
    if by not in (None, "reading", "hour"):
        raise InputError("unknown word", field="--by", found=repr(by), allowed="reading, hour")
    if picture is not None:
        check_picture_name(picture)
    if csv is not None:
        check_place(csv)
    with reading(workshop.engine) as connection:
        one = find_channel(connection, channel)
        begin, end = span_of(workshop, *whole_span(connection, one.id)[:2], low, high)
        found = course(connection, one, begin, end, raw=raw, by=by)
    if picture is not None:
        draw_course(picture, found, workshop)
    if csv is not None:
        write_course(csv, found, workshop)
    if json:
        print_json(course_json(found, workshop))
    else:
        shown_course(found, workshop)


@commands.command()
def place(
    logger: Annotated[str, typer.Argument(metavar="LOGGER", help="Name of the logger.", show_default=False)],
    chamber: Annotated[str, _told("--chamber", "Chamber, CHAMBER/bell for under its bell, or room for beside it.")],
    build: Annotated[str | None, _told("--build", "Serial of the build in which it stands.")] = None,
    colony: Annotated[str | None, _told("--colony", "Or the colony at which it stands, whatever its build.")] = None,
    since: Annotated[str | None, _told("--from", "Day or moment from which on; default: now.")] = None,
    note: Annotated[str, _told("--note", "Anything worth telling.")] = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record where a logger stands from a day on; where it stood before ends there."""
    from nestwright.cli.record import moment, tell
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.changes import now
    from nestwright.workshop.colonies import find_colony
    from nestwright.workshop.moments import moment_of
    from nestwright.workshop.placements import chamber_roles, check_chamber, place_logger, stay_at
    from nestwright.workshop.readings import find_logger

    workshop = workshop_of(folder)
    if (build is None) == (colony is None):
        found = "both" if build else "neither"
        raise InputError("stands at one of both", field="--build, --colony", found=found, allowed="one of the two")
    at = moment_of(since, workshop.zone, "--from") if since else now()
    day = moment(at, workshop)[:10]
    with acting(workshop, f"place of logger {logger}") as done:
        logger_id = find_logger(done.connection, logger)
        made = find_build(done.connection, build) if build is not None else None
        kept = find_colony(done.connection, colony) if colony is not None else None
        home = made.id if made else stay_at(done.connection, kept.id, day) if kept else None
        roles = {} if home is None else chamber_roles(done.connection, workshop.folder, home)
        told = check_chamber(line_of_text(chamber, "--chamber"), roles)
        at_build, at_colony = made.id if made else None, kept.id if kept else None
        placed = place_logger(done, logger_id, at_build, at_colony, told, at, lines_of_text(note))
    until = f" to {moment(placed.until, workshop)}" if placed.until else ""
    where = _where(placed.build or placed.colony, placed.chamber)
    result = placed.to_dict() | {"since": moment(placed.since, workshop), "until": moment(placed.until, workshop)}
    unknown = "; the design is not known there, so whether it has such a chamber is not either"
    said = f"{logger} stands at {where} from {moment(placed.since, workshop)}{until}"
    tell(json, result, said + (unknown if placed.chamber and not roles else ""))


@commands.command()
def remove(
    logger: Annotated[str, typer.Argument(metavar="LOGGER", help="Name of the logger.", show_default=False)],
    begin: Annotated[str, _told("--from", "First day or moment.")],
    end: Annotated[str, _told("--to", "Last day, or a moment.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Remove a logger's readings of a span, as after an import with the wrong clock. Cannot be taken back."""
    from nestwright.cli.readings_import import on_terminal
    from nestwright.cli.readings_show import span_of
    from nestwright.cli.record import moment, tell
    from nestwright.workshop.arriving import settle
    from nestwright.workshop.database import reading, writing
    from nestwright.workshop.readings import channels_of, find_logger
    from nestwright.workshop.removal import count_readings, remove_readings

    workshop = workshop_of(folder)
    settle(workshop)
    low, high = span_of(workshop, 0, 0, begin, end)
    span = f"from {moment(low, workshop)} to {moment(high, workshop)}"
    with reading(workshop.engine) as connection:
        find_logger(connection, logger)
        rows = [c.id for c in channels_of(connection, logger)]
        n = sum(count_readings(connection, row, low, high) for row in rows)
    if not yes:
        if json or not on_terminal():
            allowed = "--yes, after `nestwright backup`: readings that are gone cannot be taken back"
            raise InputError("would remove readings", field="readings remove", found=f"{n:,} {span}", allowed=allowed)
        if not typer.confirm(f"Remove {n:,} readings of {logger} {span}? This cannot be taken back.", default=False):
            print("Nothing was removed.")
            return
    with writing(workshop.engine) as connection:
        gone = sum(remove_readings(connection, row, low, high) for row in rows)
    tell(json, {"logger": logger, "removed": gone}, f"{gone:,} readings of {logger} {span} are gone")


@commands.command()
def band(
    channel: ChannelName,
    low: Annotated[str | None, _told("--low", 'Least that is good, "22 degC", "90 %".')] = None,
    high: Annotated[str | None, _told("--high", 'Most that is good, "27 degC", "15000 ppm".')] = None,
    species: Annotated[str | None, _told("--species", "Take the limits of this card.")] = None,
    role: Annotated[str, typer.Option("--role", help="With --species: limits for chambers of this role.")] = "garden",
    begin: From = None,
    end: To = None,
    bridge: Annotated[str | None, _told("--bridge", 'Longest time between readings that is no gap, "2 h".')] = None,
    raw: Raw = False,
    worst: Annotated[int, typer.Option("--worst", min=0, max=1000, help="How many spells are shown.")] = 5,
    picture: Annotated[Path | None, _told("--picture", "Draw it with the limits, .svg or .png.")] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Hours inside a band and beyond it, with what calibration and gaps leave open; default: all its readings."""
    from nestwright.cli.output import print_json
    from nestwright.cli.pictures import check_picture_name
    from nestwright.cli.readings_show import band_json, draw_course, level_of, shown_band, span_of
    from nestwright.cli.record import checked, moment
    from nestwright.units import parse_quantity
    from nestwright.workshop.band import band_of
    from nestwright.workshop.course import course
    from nestwright.workshop.database import reading
    from nestwright.workshop.readings import find_channel
    from nestwright.workshop.readings import span_of as whole_span

    workshop = workshop_of(folder)
    if picture is not None:
        check_picture_name(picture)
    gap = checked(lambda t: _seconds(parse_quantity, t), bridge, "--bridge")
    with reading(workshop.engine) as connection:
        one = find_channel(connection, channel)
        limits = level_of(low, one, "--low"), level_of(high, one, "--high")
        more: dict[str, Any] = {}
        if species is not None:
            if limits != (None, None):
                raise InputError(
                    "gives the limits itself", field="--species", found=f"--low or --high beside {species}"
                )
            card, told = _card(species, role, one)
            limits = (card.low, card.high)
            more = told
        if limits == (None, None):
            allowed = "--low, --high or both, or --species"
            raise InputError("a band needs a limit", field="--low", found="none", allowed=allowed)
        if None not in limits and limits[0] > limits[1]:  # type: ignore[operator]
            raise InputError("is below --low", field="--high", found=f"{limits[1]:g}", allowed=f"{limits[0]:g} or more")
        first, last = span_of(workshop, *whole_span(connection, one.id)[:2], begin, end, None)
        whole = begin is not None, end is not None
        found = band_of(connection, one, *limits, first, last, whole=whole, bridge=gap, raw=raw, worst=worst)
        drawn = course(connection, one, first, last, raw=raw) if picture is not None else None
    if picture is not None and drawn is not None:
        draw_course(picture, drawn, workshop, limits)
    more |= {"from": moment(first, workshop), "to": moment(last, workshop), "bridge_h": found.bridge / 3600}
    more |= {"calibrations": found.calibrations, "trust": found.trust}
    if found.wet is not None:
        more |= {"wet_at": found.wet_at, "wet_hours": found.wet[0], "wet_range": list(found.wet[1])}
    if json:
        print_json(band_json(found.hours, one, workshop, more))
    else:
        shown_band(found.hours, one, workshop, more)


def _seconds(parse: Any, text: str) -> float:
    from nestwright.units import UnitProblem

    seconds = float(parse(text, "time"))
    if seconds <= 0:
        raise UnitProblem("must be above 0", repr(text), "a time as '30 min' or '2 h'")
    return seconds


def _card(species: str, role: str, channel: Channel) -> tuple[CardLimit, dict[str, Any]]:
    """The card's limit in the channel's unit, and where it comes from. Raises InputError."""
    from dataclasses import replace

    from nestwright.data import load_species
    from nestwright.workshop.sensors import scale_of

    card, scale = load_species(species), scale_of(channel)
    roles = sorted({one.role for one in card.limits})
    if role not in roles:
        raise InputError("the card has no such role", field="--role", found=repr(role), allowed=", ".join(roles))
    here = [one for one in card.limits if one.role == role]
    found = next((one for one in here if scale is not None and one.quantity == scale.quantity), None)
    if found is None or scale is None:
        raise InputError(
            "the card has no limit of this quantity",
            field="--species",
            found=f"{channel.quantity} in chambers of role {role}",
            allowed="--low, --high; the card has " + ", ".join(one.quantity for one in here),
        )
    ends = [None if x is None else round(float(scale.shown(x)), 9) for x in (found.low, found.high)]
    told = {"limits_of": f"{card.name}, {role}", "limits_source": found.source, "limits_mark": found.mark}
    return replace(found, low=ends[0], high=ends[1]), told
