"""`nestwright parcels`: parcels of the workshop, from dispatch to what was found in them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.parcel_receive import receive
from nestwright.cli.parcel_risk import risk
from nestwright.cli.record import AsJson, InWorkshop, Note, acting, group, moment, tell, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.parcels import KeptParcel

__all__ = ["commands", "way_line"]

commands = group("Keep parcels: sent, seen on their way, arrived; learn from them; what to do with one that came.")

commands.command("receive")(receive)
commands.command("risk")(risk)

Which = Annotated[
    str, typer.Argument(help="Name or number of the parcel, or its colony: the last one.", show_default=False)
]


def _told(flag: str, says: str) -> typer.models.OptionInfo:
    return typer.Option(flag, help=says, show_default=False)


@commands.command()
def add(
    name: Annotated[str, typer.Argument(help="A name for it; else it has a number.", show_default=False)] = "",
    inward: Annotated[bool, typer.Option("--in", help="To the workshop.")] = False,
    outward: Annotated[bool, typer.Option("--out", help="Away from the workshop.")] = False,
    colony: Annotated[str, _told("--colony", "The colony in it.")] = "",
    build: Annotated[str, _told("--build", "Serial of the habitat in it.")] = "",
    sent: Annotated[str, _told("--sent", "Day or moment, as '2026-01-31 16:00', in the workshop's zone.")] = "now",
    promised: Annotated[str, _told("--promised", 'Time to delivery that the carrier promises, "24 h".')] = "",
    route: Annotated[str, _told("--route", "From where to where and how; delays are learned by it.")] = "",
    carrier: Annotated[str, _told("--carrier", "Who carries it.")] = "",
    file: Annotated[Path | None, _told("--file", "The parcel file; what is computed of it is kept.")] = None,
    box: Annotated[str, _told("--box", "The box, in words.")] = "",
    pack: Annotated[str, _told("--pack", "The packs, in words.")] = "",
    logger: Annotated[str, _told("--logger", "The logger that travels inside.")] = "",
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a parcel that is sent, or is on its way to here.

    Live transport has rules of its own, and some species may not be moved at all: ask the authority of both places.
    """
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcel_entries import dispatch_values
    from nestwright.workshop.parcels import add_parcel

    if inward and outward:
        raise InputError("are both told", field="--in, --out", allowed="one of them")
    workshop = workshop_of(folder)
    told = {"direction": "in" if inward else "out" if outward else "", "name": name, "sent": sent}
    told |= {"promised": promised, "route": route, "carrier": carrier, "box": box, "pack": pack, "note": note}
    values = dispatch_values(told, workshop.zone, _option)
    with reading(workshop.engine) as connection:  # a slip of the pen is told before anything is computed
        _colony(connection, colony)
        _linked(connection, build, logger)
    if file is not None:
        values |= predicted_of(file, workshop, route or carrier, values, quiet=json)
    with acting(workshop, f"parcel {name}".strip()) as done:
        values |= _linked(done.connection, build, logger)
        row = add_parcel(done, _colony(done.connection, colony), values)
        made = _by_row(done.connection, workshop, row)
    tell(json, made.to_dict(), way_line(made, workshop))


def _option(name: str) -> str:
    return {"direction": "--in, --out", "name": "name"}.get(name, f"--{name}")


def predicted_of(
    file: Path, workshop: Workshop, route: str, values: dict[str, Any], *, quiet: bool = False
) -> dict[str, Any]:
    """Columns of a parcel from its file: its place, and what is computed of it for its dispatch. Raises InputError."""
    from nestwright.cli.progress import progress_bar
    from nestwright.document import read_document
    from nestwright.workshop.parcel_predictions import delays_and_boxes, prediction, told_dispatch

    delays, sent = delays_and_boxes(workshop.folder, False)[0], told_dispatch(values, workshop.zone)
    found = file if file.is_file() or file.is_absolute() else workshop.folder / file
    document = read_document(found)
    with progress_bar(quiet) as bar:
        task = bar.add_task("computing its journey", total=1.0)
        predicted = prediction(
            document, delays, route, sent=sent, progress=lambda share: bar.update(task, completed=share)
        )
    return {"file": workshop.placed(found), "predicted": predicted}


def _colony(connection: Connection, name: str) -> int | None:
    from nestwright.workshop.colonies import find_colony

    return find_colony(connection, name).id if name else None


def _linked(connection: Connection, build: str, logger: str) -> dict[str, Any]:
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.readings import find_logger

    found: dict[str, Any] = {"build_id": find_build(connection, build).id} if build else {}
    return found | ({"logger_id": find_logger(connection, logger)} if logger else {})


def _by_row(connection: Connection, workshop: Workshop, row: int) -> KeptParcel:
    from nestwright.workshop.parcels import kept_parcels

    return next(p for p in kept_parcels(connection, workshop.zone) if p.id == row)


@commands.command()
def scan(
    parcel: Which,
    place: Annotated[str, _told("--place", "Where it was seen.")] = "",
    at: Annotated[str, _told("--at", "When, as '2026-01-31 18:30', in the workshop's zone.")] = "now",
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record that a parcel was seen on its way, as the carrier's page tells it."""
    from nestwright.workshop.parcel_entries import scan_values
    from nestwright.workshop.parcels import add_scan, find_parcel

    workshop = workshop_of(folder)
    values = scan_values({"at": at, "place": place, "note": note}, workshop.zone, _option)
    with acting(workshop, f"scan of parcel {parcel}") as done:
        kept = find_parcel(done.connection, workshop.zone, parcel)
        add_scan(done, kept, values, "--at")
        made = _by_row(done.connection, workshop, kept.id)
    words = " ".join(x for x in (moment(values["at"], workshop), values["place"], values["note"]) if x)
    tell(json, made.to_dict(), f"Parcel {made.name}: seen {words}")


@commands.command("arrived")
def arrive(
    parcel: Which,
    at: Annotated[str, _told("--at", "Day or moment, as '2026-01-31 10:15', in the workshop's zone.")] = "now",
    garden: Annotated[str, _told("--garden", 'Garden found in it, "40 mL".')] = "",
    health: Annotated[str, _told("--health", "Look of the garden, in the words of a visit.")] = "",
    workers: Annotated[str, _told("--workers", 'Workers alive, "about 60".')] = "",
    dead: Annotated[str, _told("--dead", "Workers dead.")] = "",
    state: Annotated[str, _told("--state", "In which state it came, in words.")] = "",
    logger: Annotated[str, _told("--logger", "The logger that travelled inside.")] = "",
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record that a parcel has arrived, and what was found in it. Told again, it completes what was told."""
    from nestwright.workshop.parcel_entries import arrival_values
    from nestwright.workshop.parcels import complete_parcel, find_parcel

    workshop = workshop_of(folder)
    told = {"garden": garden, "health": health, "workers": workers, "dead": dead, "state": state, "note": note}
    values = arrival_values({"arrived": at, **told}, workshop.zone, lambda n: "--at" if n == "arrived" else _option(n))
    with acting(workshop, f"arrival of parcel {parcel}") as done:
        kept = find_parcel(done.connection, workshop.zone, parcel)
        if kept.values["arrived"] and at == "now":
            values = {k: v for k, v in values.items() if k not in ("arrived", "arrived_at")}
        complete_parcel(done, kept, values | _linked(done.connection, "", logger), "--at")
        made = _by_row(done.connection, workshop, kept.id)
    tell(json, made.to_dict(), way_line(made, workshop))


@commands.command("list")
def listed(
    under_way: Annotated[bool, typer.Option("--under-way", help="Those only that have not arrived.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Every parcel, the newest first: whose, which way, sent, due, arrived, how late."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcels import kept_parcels

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = kept_parcels(connection, workshop.zone, under_way=under_way)
    if json:
        print_json({"parcels": [one.to_dict() for one in found]})
        return
    if not found:
        print("No parcels under way." if under_way else "No parcels yet: add one with `nestwright parcels add`.")
        return
    rows = [
        [
            str(p.id), p.values["name"] or "", p.colony or p.build, p.values["direction"],
            p.values["route"] or p.values["carrier"], p.values["sent"] or "",
            "" if p.due is None else p.due.isoformat(), p.values["arrived"] or "under way", late_text(p.late),
        ]
        for p in found
    ]  # fmt: skip
    head = ["number", "name", "of", "way", "route", "sent", "due", "arrived", "late"]
    console().print(table(head, rows, left=range(1, 9)))


def late_text(late: int | None) -> str:
    return "" if late is None else "on time" if late == 0 else f"{late} day{'s' if late > 1 else ''}"


@commands.command()
def show(parcel: Which, folder: InWorkshop = None, json: AsJson = False) -> None:
    """One parcel: what was told of it, where it was seen, what was predicted and what was found."""
    from nestwright.cli.output import print_json
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcels import find_parcel

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        one = find_parcel(connection, workshop.zone, parcel)
    if json:
        print_json(one)
        return
    print(way_line(one, workshop))
    v = one.values
    found = {"Route": v["route"], "Box": v["box"], "Packs": v["pack"], "File": v["file"], "Logger": one.logger}
    if one.due is not None:
        found["Due"] = f"{one.due} ({three(v['promised_hours'])} h promised)"
    for word, text in (found | {"Note": v["note"]}).items():
        if text:
            print(f"{word}: {text}")
    for seen in one.scans:
        print(" ".join(x for x in ("Seen", moment(seen["at"], workshop), seen["place"], seen["note"]) if x))
    if v["predicted"]:
        from nestwright.wording.parcels import predicted_lines

        print("\n".join(predicted_lines(one)))


def three(value: float) -> str:
    from nestwright.wording.ranges import three as digits

    return str(digits(value))


def way_line(one: KeptParcel, workshop: Workshop) -> str:
    """A parcel in one line: whose, when and how, and what was found in it."""
    v = one.values
    parts = [f"Parcel {one.name} {'to here' if v['direction'] == 'in' else 'away'}"]
    parts += [f"with {one.colony or f'build {one.build}'}"] if one.colony or one.build else []
    parts += [f"sent {moment(v['sent_at'], workshop) or v['sent']}"] if v["sent"] else []
    parts += [f"by {v['carrier']}"] if v["carrier"] else []
    came = moment(v["arrived_at"], workshop) or v["arrived"]
    parts += [f"arrived {came}" if came else "under way"]
    parts += [f"late by {late_text(one.late)}" if one.late else "on time"] if one.late is not None else []
    parts += [f"garden {three(v['garden_ml'])} mL"] if v["garden_ml"] is not None else []
    parts += [v["garden_health"]] if v["garden_health"] else []
    parts += [f"{v['workers_alive']} workers alive"] if v["workers_alive"] else []
    parts += [f"{v['workers_dead']} dead"] if v["workers_dead"] else []
    return ", ".join([*parts, *([v["state"]] if v["state"] else [])])


@commands.command()
def learn(folder: InWorkshop = None, json: AsJson = False) -> None:
    """What the parcels so far teach: how late they come, by route; packs and boxes, from the loggers inside; whether
    losses were as many as predicted.

    Packs and boxes are learned of parcels with a parcel file, a dispatch and an arrival, and a logger that was inside.
    """
    from nestwright.cli.output import print_json
    from nestwright.cli.parcels_text import print_boxes, print_delays, print_held
    from nestwright.cli.progress import progress_bar
    from nestwright.parcel.delay import learn_delays
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcel_predictions import box_runs, learned_of, losses_held
    from nestwright.workshop.parcels import kept_parcels, sent_parcels

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        every = kept_parcels(connection, workshop.zone)
        runs = box_runs(connection, every, workshop.folder, workshop.zone)
    known = sent_parcels(every)
    learned, held = learn_delays(known), losses_held(every)
    with progress_bar(json) as bar:
        task = bar.add_task("fitting packs and boxes", total=1.0)
        boxes = learned_of(runs, lambda share: bar.update(task, completed=share))
    if json:
        more = {"boxes": None if boxes is None else boxes.to_dict()}
        more["losses"] = {what: one.to_dict() for what, one in held.items()}
        print_json({"parcels": len(every), "with_promise_and_days": len(known), **learned.to_dict(), **more})
        return
    print_delays(learned, len(every), len(known))
    print_boxes(boxes, [run.name for run in runs])
    print_held(held)
