"""`nestwright build`: habitats that were really made."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from nestwright.cli.options import PaperLanguage, whole
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
from nestwright.wording.builds import checks_state, outcome
from nestwright.workshop.typed import LONGEST_NAME

__all__ = ["commands"]

commands = group("Keep builds: serial numbers, measured values, quality checks.")

Serial = Annotated[str, typer.Argument(help="Serial number of the build.", show_default=False)]


@commands.command()
def add(
    serial: Serial,
    habitat: Annotated[
        str, typer.Option("--habitat", help="Its design: the file, or its name in habitats/.", show_default=False)
    ],
    made: OnDay = None,
    stands: Annotated[str, typer.Option("--stands", help="Where it stands: a room's file or words.")] = "",
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a habitat that was made: its serial and the design with its revision."""
    from nestwright.cli.output import print_json
    from nestwright.habitat.file import read_habitat
    from nestwright.workshop.builds import add_build
    from nestwright.workshop.designs import design_file
    from nestwright.workshop.kept_designs import keep_design

    workshop = workshop_of(folder)
    inside = design_file(habitat, workshop.folder, field="--habitat", outside=True)
    design = read_habitat(inside)
    name = workshop.placed(inside)
    values: dict[str, Any] = {
        "serial": line_of_text(serial, "serial", most=LONGEST_NAME),
        "habitat": name,
        "revision": design.revision,
        "made": day_of(made, workshop).isoformat(),
        "stands": line_of_text(stands, "--stands", needed=False),
        "note": lines_of_text(note),
    }
    with acting(workshop, f"build {values['serial']}") as done:
        add_build(done, values)
        keep_design(workshop, name)
    if json:
        print_json(values)
        return
    print(f"Build {values['serial']}: {design.name}, revision {design.revision}, made {values['made']}")


@commands.command()
def measure(
    serial: Serial,
    what: Annotated[str, typer.Argument(help="A value of the design, or words.", show_default=False)],
    value: Annotated[str, typer.Argument(help='With its unit, "118.4 mm".', show_default=False)],
    date: OnDay = None,
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a value that was measured on a build."""
    from nestwright.workshop.builds import find_build, measure_build
    from nestwright.workshop.measured_key import check_measured

    workshop = workshop_of(folder)
    day = day_of(date, workshop).isoformat()
    with acting(workshop, f"measured value of build {serial}") as done:
        found = find_build(done.connection, serial)
        what, value = line_of_text(what, "what"), line_of_text(value, "value")
        check_measured(what, workshop.folder / found.values["habitat"])
        measure_build(done, found.id, what, value, day, lines_of_text(note))
    tell(json, {"build": serial, "what": what, "value": value, "day": day}, f"Build {serial}: {what} = {value}")


@commands.command()
def check(
    serial: Serial,
    what: Annotated[str, typer.Argument(help="What was checked, in words.", show_default=False)],
    passed: Annotated[bool | None, typer.Option("--passed/--failed", help="The outcome.", show_default=False)] = None,
    value: Annotated[str, typer.Option("--value", help="A figure that belongs to it.")] = "",
    date: OnDay = None,
    note: Note = "",
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Record a point of a build's quality check: passed, failed, or still to do."""
    from nestwright.workshop.builds import check_build, find_build

    workshop = workshop_of(folder)
    day = day_of(date, workshop).isoformat()
    with acting(workshop, f"check of build {serial}") as done:
        found = find_build(done.connection, serial)
        what, value = line_of_text(what, "what"), line_of_text(value, "--value", needed=False)
        check_build(done, found.id, what, passed, value, day, lines_of_text(note))
    result = {"build": serial, "what": what, "passed": passed, "value": value, "day": day}
    tell(json, result, f"Build {serial}: {what}, {outcome(passed)}")


@commands.command("list")
def listed(folder: InWorkshop = None, json: AsJson = False) -> None:
    """Every build: design, revision, where it stands, who lives in it, checks failed."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.workshop.builds import kept_builds
    from nestwright.workshop.database import reading

    with reading(workshop_of(folder).engine) as connection:
        found = kept_builds(connection)
    if json:
        print_json({"builds": [one.to_dict() for one in found]})
        return
    if not found:
        print("No builds yet: add one with `nestwright build add`.")
        return
    rows = [
        [one.serial, *(one.values[k] or "" for k in ("habitat", "revision", "made")), one.colony, checks_state(one)]
        for one in found
    ]
    console().print(table(["serial", "design", "revision", "made", "colony", "checks"], rows, left=range(6)))


@commands.command()
def show(serial: Serial, folder: InWorkshop = None, json: AsJson = False) -> None:
    """One build with what was measured and checked on it."""
    from nestwright.cli.output import console, heading, print_json, table
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading

    with reading(workshop_of(folder).engine) as connection:
        one = find_build(connection, serial)
    if json:
        print_json(one)
        return
    out, v = console(), one.values
    print(f"Build {one.serial}: {v['habitat']}, revision {v['revision']}, made {v['made'] or 'on a day not told'}")
    for word, text in (("Stands", v["stands"]), ("Colony", one.colony), ("Note", v["note"])):
        if text:
            print(f"{word}: {text}")
    if one.measured:
        out.print(heading("Measured"))
        rows = [[m["what"], m["value"], m["day"] or "", m["note"]] for m in one.measured]
        out.print(table(["what", "value", "day", ""], rows, left=(0, 2, 3)))
    if one.checks:
        out.print(heading("Quality"))
        rows = [[q["what"], outcome(q["passed"]), q["value"], q["day"] or "", q["note"]] for q in one.checks]
        out.print(table(["what", "outcome", "value", "day", ""], rows, left=(0, 1, 3, 4)))


@commands.command()
def label(
    serials: Annotated[list[str], typer.Argument(help="Serial numbers of builds.", show_default=False)],
    sheet: Annotated[str, typer.Option("--sheet", help="Label paper: a4-8, a4-24, a4-40 or single-60x30.")] = "a4-24",
    skip: Annotated[
        int, typer.Option("--skip", parser=whole("--skip", 0, 999), metavar="N", help="Places already used up.")
    ] = 0,
    address: Annotated[
        str, typer.Option("--address", help="Put before the serial in the code; else the code is text.")
    ] = "",
    out: Annotated[Path, typer.Option("--out", help="Written, as .pdf.")] = Path("labels.pdf"),
    language: PaperLanguage = "en",
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Write labels of builds with a QR code on a sheet of label paper.

    Print it at 100 %, on plain paper first.
    """
    from nestwright.cli.output import print_json
    from nestwright.files import write_whole
    from nestwright.papers.labels import labels_pdf, lay_labels, sheet_of
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading
    from nestwright.workshop.kept_designs import design_name

    check_pdf(out)
    paper, workshop = sheet_of(sheet), workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = [find_build(connection, serial) for serial in serials]
    facts = [
        (one.serial, design_name(workshop, one), one.values["revision"] or "", one.values["made"] or "")
        for one in found
    ]
    laid = lay_labels(facts, paper, address=line_of_text(address, "--address", needed=False), skip=skip)
    write_whole(out, labels_pdf(laid, day_of(date, workshop), language))
    if json:
        print_json({**laid.to_dict(), "file": str(out)})
        return
    print(f"Labels: {len(laid.labels)}, pages: {laid.pages}")
    print(f"Written: {out}")


@commands.command()
def certificate(
    serial: Serial,
    out: Annotated[Path, typer.Option("--out", help="Written, as .pdf.")] = Path("certificate.pdf"),
    language: PaperLanguage = "en",
    date: OnDay = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Write the certificate of a build: what was measured and checked."""
    from nestwright.cli.output import print_json
    from nestwright.files import write_whole
    from nestwright.papers.certificate import certificate_of, certificate_pdf
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading
    from nestwright.workshop.kept_designs import design_name

    check_pdf(out)
    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
    found = certificate_of(made, design_name(workshop, made))
    write_whole(out, certificate_pdf(found, day_of(date, workshop), language))
    if json:
        print_json({**found.to_dict(), "file": str(out)})
        return
    print(f"Build {found.serial}: checks {checks_state(made)}")
    print(f"Written: {out}")


def check_pdf(out: Path) -> None:
    from nestwright.files import check_place

    check_place(out, ".pdf")
