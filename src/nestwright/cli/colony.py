"""`nestwright colony`: the colonies of the workshop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.record import (
    AsJson,
    InWorkshop,
    Note,
    OnDay,
    acting,
    checked,
    day_of,
    group,
    line_of_text,
    lines_of_text,
    moment,
    tell,
    workshop_of,
)
from nestwright.errors import InputError
from nestwright.units import shown
from nestwright.workshop.typed import LONGEST_NAME

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from nestwright.workshop.colonies import Kept
    from nestwright.workshop.folder import Workshop

__all__ = ["commands"]

commands = group("Keep colonies: add, list, show, their bells, moves, parcels and end.")

Name = Annotated[str, typer.Argument(help="Name of the colony.", show_default=False)]


def _told(flag: str, says: str) -> typer.models.OptionInfo:
    return typer.Option(flag, help=says, show_default=False)


@commands.command()
def add(
    name: Annotated[str | None, typer.Argument(help="Name; with --file: another one.", show_default=False)] = None,
    file: Annotated[Path | None, _told("--file", "A colony file, taken in with its whole record.")] = None,
    species: Annotated[str | None, _told("--species", "Species card whose numbers hold.")] = None,
    start: Annotated[str | None, _told("--start", "First day of its record; default: today.")] = None,
    origin: Annotated[str, _told("--origin", "Where it comes from.")] = "",
    queen: Annotated[str, typer.Option("--queen", help="laying, unknown or none.")] = "laying",
    garden: Annotated[str | None, _told("--garden", 'Garden that came, "60 mL".')] = None,
    workers: Annotated[str | None, _told("--workers", 'Workers that came, "about 60".')] = None,
    brood: Annotated[str | None, _told("--brood", "Eggs, larvae and pupae that came, together.")] = None,
    chamber: Annotated[str | None, _told("--chamber", 'Usable volume of the garden chamber, "2.4 L".')] = None,
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Add a colony: from a colony file with all its visits, or anew by name and species."""
    from nestwright.cli.output import print_json
    from nestwright.workshop.colonies import add_colony, model_colony, values_of
    from nestwright.workshop.colonies import find_colony as found_by

    workshop = workshop_of(folder)
    if file is None and (name is None or species is None):
        missing = "a name" if name is None else "--species"
        raise InputError(
            "says too little", field="colony add", found=f"no {missing}", allowed="--file, or NAME --species"
        )
    if file is not None:
        from nestwright.letters import visible
        from nestwright.workshop.colony_files import add_colony_file
        from nestwright.workshop.tables import colony

        told = {"--species": species, "--start": start, "--origin": origin, "--garden": garden, "--workers": workers}
        told |= {"--brood": brood, "--chamber": chamber, "--note": note}
        for flag, value in told.items():
            if value:
                raise InputError("stands in the file", field=flag, found=shown(value), allowed="NAME beside --file")
        with acting(workshop, f"colony of {visible(file.name)[:100]}") as done:
            row = add_colony_file(done, file, line_of_text(name, "name", most=LONGEST_NAME) if name else "")
            kept = _by_row(done.connection, row)
            model_colony(done.connection, kept)
            if kept.values["climate"]:
                taken = _take_in(file.parent / kept.values["climate"], workshop.folder / "colonies")
                done.change(colony, row, {"climate": taken.name})
                kept = _by_row(done.connection, row)
    else:
        values = values_of(name or "", species or "", queen, garden, workers, brood, chamber)
        values |= {"origin": line_of_text(origin, "--origin", needed=False), "note": lines_of_text(note)}
        values["start"] = day_of(start, workshop, "--start").isoformat()
        with acting(workshop, f"colony {values['name']}") as done:
            add_colony(done, values)
            kept = found_by(done.connection, values["name"])
            model_colony(done.connection, kept)
    if json:
        print_json({k: v for k, v in kept.values.items() if k != "id"})
        return
    print(f"{kept.name}, {kept.values['species']}, since {kept.values['start']}")


def _take_in(source: Path, folder: Path) -> Path:
    """Copy the logger's file of a colony into the workshop; where it is. Raises InputError when another of its name is
    there."""
    from nestwright.files import write_whole

    try:
        content = source.read_bytes()
    except OSError as error:
        raise InputError("cannot be read", file=str(source), field="climate", found=error.strerror or "") from None
    target = folder / source.name
    if target.exists() and target.read_bytes() != content:
        raise InputError("another file of this name is in the workshop", file=str(target))
    folder.mkdir(exist_ok=True)
    if not target.exists():
        write_whole(target, content)
    return target


def _known(workshop: Workshop, name: str) -> Kept:
    """A colony by its name. Raises InputError."""
    from nestwright.workshop.colonies import find_colony
    from nestwright.workshop.database import reading

    with reading(workshop.engine) as connection:
        return find_colony(connection, name)


def _by_row(connection: Connection, row: int) -> Kept:
    from nestwright.workshop.colonies import kept_colonies

    return next(k for k in kept_colonies(connection) if k.id == row)


@commands.command("list")
def listed(
    ended: Annotated[bool, typer.Option("--ended", help="Those that have ended too.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Every colony: species, since when, the last visit and what was seen of the garden."""
    from nestwright.cli.output import console, print_json, significant, table
    from nestwright.workshop.colonies import kept_colonies
    from nestwright.workshop.database import reading
    from nestwright.workshop.visits import read_visits

    rows, told = [], []
    with reading(workshop_of(folder).engine) as connection:
        for kept in kept_colonies(connection, ended=ended):
            visits = [entry for _, entry in read_visits(connection, kept.id)]
            volume = next((v for v in reversed(visits) if v.garden_ml is not None or v.fill_pct is not None), None)
            last = visits[-1].day.isoformat() if visits else None
            shown = ""
            if volume is not None:
                told_as = (volume.garden_ml, "mL") if volume.garden_ml is not None else (volume.fill_pct, "% full")
                shown = f"{significant(told_as[0], 3)} {told_as[1]} on {volume.day}"
            v = kept.values
            told.append({k: x for k, x in v.items() if k != "id"} | {"visits": len(visits), "last_visit": last})
            rows.append(
                [kept.name, v["species"], v["start"], v["ended"] or "", last or "never", str(len(visits)), shown]
            )
    if json:
        print_json({"colonies": told})
        return
    if not rows:
        print("No colonies yet: add one with `nestwright colony add`.")
        return
    head = ["name", "species", "since", "ended", "last visit", "visits", "garden"]
    console().print(table(head, rows, left=(0, 1, 2, 3, 4, 6)))


@commands.command()
def show(
    name: Name,
    most: Annotated[int, typer.Option("--last", min=1, help="How many visits.")] = 10,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """One colony: what it came with, where it lives, its bells, parcels, donations, photos and its last visits."""
    from nestwright.cli.housing_text import housing_lines
    from nestwright.cli.output import print_json, significant
    from nestwright.wording.visits import visit_line
    from nestwright.workshop.colonies import colony_tables, find_colony, photos, stays
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcels import parcels
    from nestwright.workshop.visits import donations, read_visits

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        kept = find_colony(connection, name)
        given, boxes = donations(connection, kept.id), parcels(connection, kept.id)
        pictures = photos(connection, kept.id)
        visits = [entry for _, entry in read_visits(connection, kept.id)]
        tables = colony_tables(connection, kept)
        lived = stays(connection, kept.id)
    if json:
        more = {"origin": kept.values["origin"], "end_reason": kept.values["end_reason"]}
        more |= {"stays": [{"from": day, "build": serial} for day, serial in lived], "parcels": boxes}
        more["donations"] = [dict(zip(("date", "what", "amount", "other"), g, strict=True)) for g in given]
        print_json(tables | more | {"photos": pictures, "visits": [v.to_dict() for v in visits]})
        return
    v = kept.values
    print(f"{kept.name}, {v['species']}, since {v['start']}" + (f", ended {v['ended']}" if v["ended"] else ""))
    print(f"Queen: {v['queen']}")
    for word, text in (("Origin", v["origin"]), ("Ended because", v["end_reason"]), ("Note", v["note"])):
        if text:
            print(f"{word}: {text}")
    came = ", ".join(f"{k} {t}" for k, t in tables["arrival"].items())
    if came:
        print(f"Came with: {came}")
    print("\n".join(housing_lines(v)))
    for day, serial in lived:
        print(f"In build {serial} from {day}")
    for b in tables["bell"]:
        usable = "" if "usable" not in b else f", {significant(float(b['usable'].split()[0]), 3)} mL"
        print(f"Under {b['name'] or b['kind']}{usable} from {b['from']}")
    for box in boxes:
        print(parcel_line(box))
    for day, what, amount, other in given:
        print(f"{day}: {what}{f' {amount}' if amount else ''} ({other})")
    for p in pictures:
        print(" ".join(x for x in (f"Photo {p['file']}", moment(p["taken"], workshop), p["note"]) if x))
    if len(visits) > most:
        print(f"The last {most} of {len(visits)} visits:")
    for entry in visits[-most:]:
        print(f"  {entry.day}  {visit_line(entry)}")
    if not visits:
        print("No visits yet: record one with `nestwright visit`.")


@commands.command()
def bell(
    name: Name,
    usable: Annotated[str | None, _told("--usable", 'Volume that the garden can fill, "300 mL".')] = None,
    diameter: Annotated[str | None, _told("--diameter", "Widest outer width.")] = None,
    height: Annotated[str | None, _told("--height", "Outer height.")] = None,
    called: Annotated[str, _told("--called", "A name for it.")] = "",
    chamber: Annotated[bool, typer.Option("--chamber", help="No bell: the whole chamber from now on.")] = False,
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a bell that was set over the garden, or that the whole chamber is open to it."""
    from nestwright.units import parse_quantity
    from nestwright.workshop.colonies import add_bell, model_colony

    workshop = workshop_of(folder)
    sizes = {"diameter": diameter, "height": height}
    values: dict[str, Any] = {
        "day": day_of(date, workshop).isoformat(),
        "kind": "chamber" if chamber else "bell",
        "name": line_of_text(called, "--called", needed=False),
        "usable_ml": checked(lambda t: parse_quantity(t, "volume") * 1e6, usable, "--usable"),
        **{f"{k}_mm": checked(lambda t: parse_quantity(t, "length") * 1e3, v, f"--{k}") for k, v in sizes.items()},
    }
    kept = _known(workshop, name)
    with acting(workshop, f"{values['kind']} of {kept.name} on {values['day']}") as done:
        add_bell(done, kept.id, values)
        model_colony(done.connection, kept)
    tell(json, {"colony": kept.name, **values}, f"{kept.name}: {values['kind']} from {values['day']}")


@commands.command("set")
def change(
    name: Name,
    making_time: Annotated[str | None, _told("--making-time", 'Time to make the next bell, "9 day".')] = None,
    chamber_time: Annotated[str | None, _told("--chamber-time", "Time to make the next chamber.")] = None,
    chamber: Annotated[str | None, _told("--chamber", 'Usable volume of the garden chamber, "2.4 L".')] = None,
    opening: Annotated[str | None, _told("--opening", "Widest round thing that goes in under the lid.")] = None,
    lid: Annotated[str | None, _told("--lid", "The same with the lid off.")] = None,
    headroom: Annotated[str | None, _told("--headroom", "Inner height of the garden chamber.")] = None,
    leaves: Annotated[str | None, _told("--leaves", "free, or recorded: every leaf given is told.")] = None,
    origin: Annotated[str | None, _told("--origin", "Where it comes from.")] = None,
    note: Annotated[str | None, _told("--note", "Anything worth telling.")] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Set what is known of a colony's housing and habits: sizes, the time to make the next part."""
    from nestwright.colony.texts import parse_wait
    from nestwright.units import parse_quantity
    from nestwright.workshop.colonies import find_colony, model_colony
    from nestwright.workshop.tables import colony

    if leaves not in (None, "free", "recorded"):
        raise InputError("unknown word", field="--leaves", found=shown(leaves), allowed="free, recorded")
    waits = {"making_days": (making_time, "--making-time"), "chamber_days": (chamber_time, "--chamber-time")}
    lengths = {"opening_mm": (opening, "--opening"), "lid_mm": (lid, "--lid"), "headroom_mm": (headroom, "--headroom")}
    told: dict[str, Any] = {k: checked(parse_wait, v, flag) for k, (v, flag) in waits.items()}
    told |= {k: checked(lambda t: parse_quantity(t, "length") * 1e3, v, flag) for k, (v, flag) in lengths.items()}
    told["chamber_ml"] = checked(lambda t: parse_quantity(t, "volume") * 1e6, chamber, "--chamber")
    told["leaves"] = leaves
    told["origin"] = None if origin is None else line_of_text(origin, "--origin", needed=False)
    told["note"] = None if note is None else lines_of_text(note)
    values = {k: v for k, v in told.items() if v is not None}
    if not values:
        raise InputError("nothing to set", field="colony set", allowed="one option or more, see --help")
    workshop = workshop_of(folder)
    kept = _known(workshop, name)
    with acting(workshop, f"values of {kept.name}") as done:
        done.change(colony, kept.id, values)
        model_colony(done.connection, find_colony(done.connection, kept.name))
    told_as = ", ".join(f"{k} = {v:g}" if isinstance(v, float) else f"{k} = {v}" for k, v in values.items())
    tell(json, {"colony": kept.name, **values}, f"{kept.name}: {told_as}")


@commands.command()
def move(
    name: Name,
    build: Annotated[str, typer.Argument(help="Serial of the build.", show_default=False)],
    date: OnDay = None,
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record that a colony lives in a build from a day on."""
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.colonies import move_in
    from nestwright.workshop.database import reading
    from nestwright.workshop.other_species import other_species

    workshop = workshop_of(folder)
    day = day_of(date, workshop).isoformat()
    kept = _known(workshop, name)
    with reading(workshop.engine) as connection:
        made = find_build(connection, build)
    with acting(workshop, f"move of {kept.name} to build {made.serial}") as done:
        move_in(done, kept.id, made.id, day, lines_of_text(note))
    remark = other_species(workshop, made, kept.values["species"])
    result = {"colony": kept.name, "build": made.serial, "day": day, "remarks": [remark] if remark else []}
    tell(json, result, f"{kept.name} lives in build {made.serial} from {day}" + (f"\nNote: {remark}" if remark else ""))


@commands.command()
def end(
    name: Name,
    reason: Annotated[str, typer.Option("--reason", help="Died, sold, given away …")] = "",
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record that a colony's record ends: it died, was sold or given away."""
    from nestwright.workshop.colonies import find_colony, model_colony
    from nestwright.workshop.tables import colony

    workshop = workshop_of(folder)
    day = day_of(date, workshop).isoformat()
    kept, reason = _known(workshop, name), line_of_text(reason, "--reason", needed=False)
    with acting(workshop, f"end of {kept.name}") as done:
        done.change(colony, kept.id, {"ended": day, "end_reason": reason})
        model_colony(done.connection, find_colony(done.connection, kept.name))
    result = {"colony": kept.name, "ended": day, "reason": reason}
    tell(json, result, f"{kept.name}: ended {day}{f', {reason}' if reason else ''}")


@commands.command()
def parcel(
    name: Name,
    inward: Annotated[
        bool | None, typer.Option("--in/--out", help="To the workshop, or away from it.", show_default=False)
    ] = None,
    sent: Annotated[str | None, _told("--sent", "Day on which it was sent, as 2026-01-31.")] = None,
    arrived: Annotated[
        str | None, _told("--arrived", "Day on which it arrived; left out while it is under way.")
    ] = None,
    carrier: Annotated[str, _told("--carrier", "Who carried it.")] = "",
    state: Annotated[str, _told("--state", "In which state it arrived.")] = "",
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a parcel with the colony or with garden for it. Told again with --arrived, the one under way is completed.

    Live transport has rules of its own, and some species may not be moved at all: ask the authority of both places.
    """
    from nestwright.workshop import parcels

    workshop = workshop_of(folder)
    if inward is None:
        raise InputError(
            "which way did it go?", field="parcel", found="neither --in nor --out", allowed="--in or --out"
        )
    direction = "in" if inward else "out"
    days = {
        k: None if v is None else day_of(v, workshop, f"--{k}").isoformat()
        for k, v in (("sent", sent), ("arrived", arrived))
    }
    texts = {
        "carrier": line_of_text(carrier, "--carrier", needed=False),
        "state": line_of_text(state, "--state", needed=False),
        "note": lines_of_text(note),
    }
    kept = _known(workshop, name)
    with acting(workshop, f"parcel of {kept.name}") as done:
        row = None
        if arrived is not None and sent is None:
            told = {k: v for k, v in texts.items() if v} | {"arrived": days["arrived"]}
            row = parcels.arrived(done, kept.id, direction, told)
        if row is None:
            row = parcels.add_parcel(done, kept.id, {"direction": direction, **days, **texts})
        made = next(p for p in parcels.parcels(done.connection, kept.id) if p["id"] == row)
    tell(
        json, {"colony": kept.name, **{k: v for k, v in made.items() if k != "id"}}, f"{kept.name}: {parcel_line(made)}"
    )


def parcel_line(one: dict[str, Any]) -> str:
    """A parcel in one line."""
    parts = [f"Parcel {one['direction']}"]
    parts += [f"sent {one['sent']}"] if one["sent"] else []
    parts += [f"arrived {one['arrived']}" if one["arrived"] else "under way"]
    parts += [f"by {one['carrier']}"] if one["carrier"] else []
    return ", ".join([*parts, *(one[k] for k in ("state", "note") if one[k])])
