"""`nestwright sales`: who has which build, what they say of it, whom to recall, what is in stock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from nestwright.cli.record import (
    AsJson,
    InWorkshop,
    Note,
    OnDay,
    acting,
    day_of,
    group,
    line_of_text,
    lines_of_text,
    tell,
    workshop_of,
)
from nestwright.errors import InputError
from nestwright.workshop.typed import price_of

if TYPE_CHECKING:
    from nestwright.workshop.sales import Sold

__all__ = ["commands"]

commands = group("Keep sales: buyers, what they have and say, returns, recalls, stock; export or erase a buyer.")

Serial = Annotated[str, typer.Argument(help="Serial number of the build.", show_default=False)]
Buyer = Annotated[str, typer.Argument(help="Name of the buyer.", show_default=False)]


@commands.command()
def buyer(
    name: Buyer,
    contact: Annotated[str, typer.Option("--contact", help="One way to reach them.", show_default=False)] = "",
    date: OnDay = None,
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Add a buyer: a name and one way to reach them, no more than a recall needs."""
    from nestwright.workshop.buyers import add_buyer

    workshop = workshop_of(folder)
    day = day_of(date, workshop).isoformat()
    name, contact = line_of_text(name, "name"), line_of_text(contact, "--contact", needed=False)
    # the act's words stay in the history when a buyer is erased: no name in them
    with acting(workshop, "buyer added") as done:
        add_buyer(done, name, contact, day, lines_of_text(note))
    tell(json, {"buyer": name, "contact": contact, "since": day}, f"Buyer {name}, since {day}")


@commands.command()
def sell(
    serial: Serial,
    to: Annotated[str, typer.Option("--to", help="Name of the buyer.", show_default=False)],
    price: Annotated[str, typer.Option("--price", help='As "120 EUR".', show_default=False)] = "",
    parcel: Annotated[
        str, typer.Option("--parcel", help="Name or number of the parcel that it went in.", show_default=False)
    ] = "",
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record that a build went to a buyer."""
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.buyers import find_buyer
    from nestwright.workshop.parcels import find_parcel
    from nestwright.workshop.sales import sell as sell_build

    workshop = workshop_of(folder)
    amount, currency = price_of(price)
    values = {"day": day_of(date, workshop).isoformat(), "price": amount, "currency": currency, "parcel_id": None}
    with acting(workshop, f"sale of build {serial}") as done:
        found = find_buyer(done.connection, to)
        if parcel:
            values["parcel_id"] = find_parcel(done.connection, workshop.zone, parcel).id
        sell_build(done, serial, int(found["id"]), values)
        inside = find_build(done.connection, serial).colony
    result = {"build": serial, "buyer": found["name"], **values}
    told = f", {amount:.2f} {currency}" if amount is not None else ""
    goes = f". {inside} lives in it by the record: where it stays, record its move or take this back" if inside else ""
    tell(json, result, f"Build {serial} went to {found['name']} on {values['day']}{told}{goes}")


@commands.command()
def returned(
    serial: Serial,
    reason: Annotated[str, typer.Option("--reason", help="Why.", show_default=False)] = "",
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record that a sold build came back."""
    from nestwright.workshop.sales import take_back

    workshop = workshop_of(folder)
    day, reason = day_of(date, workshop).isoformat(), line_of_text(reason, "--reason", needed=False)
    with acting(workshop, f"return of build {serial}") as done:
        take_back(done, serial, day, reason)
    tell(json, {"build": serial, "returned": day, "reason": reason}, f"Build {serial} came back on {day}")


@commands.command()
def feedback(
    serial: Serial,
    words: Annotated[str, typer.Argument(help="What was said.", show_default=False)],
    kind: Annotated[Literal["praise", "question", "fault"], typer.Option("--kind", help="Which of them.")] = "question",
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record what a buyer says of a build, without their name in it."""
    from nestwright.workshop.sales import add_feedback

    workshop = workshop_of(folder)
    day, words = day_of(date, workshop).isoformat(), lines_of_text(words, "words")
    if not words.strip():
        raise InputError("is empty", field="words", allowed="what was said, up to 2000 characters")
    with acting(workshop, f"feedback on build {serial}") as done:
        add_feedback(done, serial, kind, words, day)
    tell(json, {"build": serial, "kind": kind, "words": words, "day": day}, f"Build {serial}, {kind}: {words}")


@commands.command("list")
def listed(folder: InWorkshop = None, json: AsJson = False) -> None:
    """Every sale, the newest first, and what came back and was said by revision."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.workshop.database import reading
    from nestwright.workshop.sales import by_revision, sales

    with reading(workshop_of(folder).engine) as connection:
        found, revisions = sales(connection), by_revision(connection)
    if json:
        print_json({"sales": [one.to_dict() for one in found], "revisions": revisions})
        return
    if not found:
        print("Nothing sold yet: `nestwright sales buyer`, then `nestwright sales sell`.")
        return
    out = console()
    out.print(_table(found))
    head = ["design", "revision", "builds", "sold", "returned", "praise", "question", "fault"]
    keys = ["habitat", "revision", *head[2:]]
    out.print(table(head, [[str(row[k]) for k in keys] for row in revisions], left=(0, 1)))
    for row in revisions:
        for told in row["told"]:
            print(f"{row['habitat']} {row['revision']}, {told}")


def _table(found: list[Sold]) -> Any:
    from nestwright.cli.output import table

    rows = [
        [
            one.build, _design(one), one.buyer, one.day,
            "not told" if one.price is None else f"{one.price:.2f} {one.currency}",
            "" if one.parcel is None else str(one.parcel), one.returned or "", one.reason,
        ]
        for one in found
    ]  # fmt: skip
    head = ["build", "design", "buyer", "sold", "price", "parcel", "returned", "why"]
    return table(head, rows, left=(0, 1, 2, 3, 6, 7))


def _design(one: Sold) -> str:
    return f"{one.habitat.rsplit('/', 1)[-1].removesuffix('.toml')} {one.revision}".strip()


@commands.command()
def recall(
    habitat: Annotated[str, typer.Argument(help="The design, by its file.", show_default=False)],
    revision: Annotated[str | None, typer.Option("--revision", help="One revision.", show_default=False)] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Who has builds of a design now, and how to reach them: whom to tell of a fault."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.workshop.database import reading
    from nestwright.workshop.sales import recall as whom

    with reading(workshop_of(folder).engine) as connection:
        found = whom(connection, habitat, revision)
    if json:
        keys = ("build", "habitat", "revision", "buyer", "contact", "day")
        print_json({"recall": [{k: one.to_dict()[k] for k in keys} for one in found]})
        return
    if not found:
        print("No build of it is with a buyer.")
        return
    rows = [[one.build, _design(one), one.buyer, one.contact or "no way told", one.day] for one in found]
    console().print(table(["build", "design", "buyer", "contact", "sold"], rows, left=range(5)))
    lost = sum(not one.contact for one in found)
    if lost:
        print(f"{lost} of {len(found)} cannot be reached: no contact is kept, or it was erased on request.")


@commands.command()
def stock(
    part: Annotated[str, typer.Argument(help="A part that comes or goes.", show_default=False)] = "",
    pieces: Annotated[int | None, typer.Option("--pieces", help="That come; below nought: go.")] = None,
    habitat: Annotated[str, typer.Option("--habitat", help="The design it is a part of.")] = "",
    revision: Annotated[str, typer.Option("--revision", help="The design's revision.")] = "",
    date: OnDay = None,
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Builds and parts in stock; with a part and --pieces, record what came or went."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.workshop.database import reading
    from nestwright.workshop.sales import in_stock, move_stock, parts_in_stock

    workshop = workshop_of(folder)
    if bool(part) != (pieces is not None):
        raise InputError(
            "needs the other", field="part" if part else "--pieces", allowed="a part with --pieces, or none"
        )
    if pieces is not None:
        if not 0 < abs(pieces) <= 1_000_000:
            raise InputError(
                "is no count", field="--pieces", found=str(pieces), allowed="1 to 1,000,000, or below nought"
            )
        values = {
            "day": day_of(date, workshop).isoformat(), "part": line_of_text(part, "part"), "change": pieces,
            "habitat": line_of_text(habitat, "--habitat", needed=False),
            "revision": line_of_text(revision, "--revision", needed=False), "note": lines_of_text(note),
        }  # fmt: skip
        with acting(workshop, f"stock of {values['part']}") as done:
            move_stock(done, values)
    with reading(workshop.engine) as connection:
        builds, parts = in_stock(connection), parts_in_stock(connection)
    if json:
        keys = ("serial", "habitat", "revision", "made")
        print_json({"builds": [{k: b.values[k] for k in keys} for b in builds], "parts": parts})
        return
    out = console()
    rows = [
        [b.serial, str(b.values["habitat"]), str(b.values["revision"]), str(b.values["made"] or "")] for b in builds
    ]
    print("Builds in stock: none" if not rows else f"Builds in stock: {len(rows)}")
    if rows:
        out.print(table(["build", "design", "revision", "made"], rows, left=range(4)))
    print("Parts in stock: none" if not parts else "Parts in stock:")
    if parts:
        told = [[p["part"], p["habitat"], p["revision"], str(p["pieces"])] for p in parts]
        out.print(table(["part", "design", "revision", "pieces"], told, left=(0, 1, 2)))


@commands.command()
def about(name: Buyer, folder: InWorkshop = None, json: AsJson = False) -> None:
    """All that is kept of one buyer, which they may ask to see (--json to hand it over)."""
    from nestwright.cli.output import print_json
    from nestwright.workshop.buyers import about_buyer
    from nestwright.workshop.database import reading

    with reading(workshop_of(folder).engine) as connection:
        found = about_buyer(connection, name)
    if json:
        print_json(found)
        return
    print(f"{found['name']}, since {found['since']}, contact: {found['contact'] or 'none'}")
    if found["note"]:
        print(f"Note: {found['note']}")
    for one in found["sales"]:
        print(f"Build {one['build']}, {one['day']}" + (f", returned {one['returned']}" if one["returned"] else ""))
    for one in found["feedback"]:
        print(f"{one['day']}, {one['kind']}: {one['words']}")


@commands.command()
def erase(
    name: Buyer,
    sure: Annotated[bool, typer.Option("--sure", help="It cannot be taken back.")] = False,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Erase a buyer's name, contact and note from record and history; the sales stay without them.

    Backups, exports and papers made before still have them, and so may notes of parcels and feedback: see to those
    yourself.
    """
    from nestwright.workshop.buyers import erase_buyer, find_buyer
    from nestwright.workshop.database import reading

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = find_buyer(connection, name)
    if not sure:
        raise InputError("cannot be taken back", field="buyer", found=str(found["name"]), allowed="with --sure")
    row = erase_buyer(workshop, name)
    words = f"Erased; their sales stand under 'erased {row}'. Backups, exports, papers and notes are not reached."
    tell(json, {"erased": f"erased {row}"}, words)
