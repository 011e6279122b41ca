"""Importing a logger's file: what was recognised is shown, what it cannot tell is asked, then it is stored."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.sensing.loggers.answers import answered, must_be_told

if TYPE_CHECKING:
    from nestwright.sensing.loggers import Decision, Mapping
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.imports import ImportedFile

__all__ = ["asked_on_terminal", "on_terminal", "shown_recognised", "shown_report", "write_bad"]

ON_SCREEN = 20
"""Bad rows that are shown; all are counted."""
PREVIEW = 3


def on_terminal() -> bool:
    """Whether somebody can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def asked_on_terminal(mapping: Mapping, workshop_zone: str, ask: Callable[[str, str], str]) -> Mapping:
    """Ask for what must be told, each until the answer can be used."""
    for what, (option, allowed) in must_be_told(mapping).items():
        decision = next(d for d in mapping.asked if d.what == what)
        while True:
            default = decision.value or (workshop_zone if what == "zone" else "")
            wanted = allowed if what in ("zone", "order") else "its unit, or: leave out"
            answer = ask(f"{what}: {decision.reason}. Tell {wanted}", default).strip()
            given: dict[str, Any] = {"zone": None, "order": None, "units": [], "leave_out": []}
            if what in ("zone", "order"):
                given[what] = answer
            elif answer == "leave out":
                given["leave_out"] = [what]
            else:
                given["units"] = [f"{what}={answer.removeprefix(f'{what}=')}"]
            try:
                mapping = answered(mapping, **given)
                break
            except InputError as error:
                print(f"{option}: {error}", file=sys.stderr)
    return mapping


def shown_recognised(path: Path, mapping: Mapping, again: bool, workshop: Workshop, logger: str) -> None:
    """Print how the file is read: what was decided and why, its columns with their first values."""
    from nestwright.cli.output import console, plain, table
    from nestwright.cli.record import moment
    from nestwright.workshop.database import reading
    from nestwright.workshop.first_readings import first_readings, same_elsewhere

    out = console()
    if again:
        out.print(plain(f"{path.name}: read as the earlier files of this logger."), soft_wrap=True)
    else:
        rows = [
            [d.what, d.value or ("none" if d.what == "thousands" else "not known"), d.confidence, d.reason]
            for d in mapping.decisions
            if d.what not in {c.channel for c in mapping.columns}
        ]  # fmt: skip
        out.print(table(["", "read as", "", "because"], rows, left=(0, 1, 2, 3)))
    at, values = first_readings(path, mapping)
    sure: dict[str, Decision] = {d.what: d for d in mapping.decisions}
    rows = []
    for column, first in zip(mapping.columns, values, strict=True):
        why = sure.get(column.channel)
        into = "" if column.unit == column.canonical else f" (kept in {column.canonical})"
        kind = [
            column.quantity,
            f"{column.unit}{into}",
            ", ".join([f"{v:g}" for v in first if v is not None][:PREVIEW]),
        ]
        rows.append([column.channel, *kind, "" if why is None or again else f"{why.confidence}: {why.reason}"])
    out.print()
    out.print(table(["channel", "quantity", "unit", "first values", "because"], rows, left=(0, 1, 2, 4)))
    if at:
        shown = ", ".join(f"{moment(t, workshop)}:{t // 1000 % 60:02d}" for t in at[:PREVIEW])
        out.print(plain(f"Its first times, on the clock of {workshop.zone.key}: {shown}"), soft_wrap=True)
    with reading(workshop.engine) as connection:
        elsewhere = same_elsewhere(connection, logger, at, values)
    if elsewhere:
        said = f"Its first readings stand already in the record of the logger {elsewhere}: is it the same one?"
        out.print(plain(said), soft_wrap=True)


def shown_report(done: ImportedFile, workshop: Workshop) -> None:
    """Print what became of a file."""
    from nestwright.cli.output import console, plain, table
    from nestwright.cli.record import moment
    from nestwright.letters import count_of

    out = console()
    span = f"{moment(done.first, workshop)} to {moment(done.last, workshop)}"
    out.print(
        plain(f"{done.logger}: {count_of(done.rows, 'row')}, {done.rows_kept:,} with readings, {span}."), soft_wrap=True
    )
    rows = [[name, f"{s.added:,}", f"{s.same:,}", f"{s.differing:,}"] for name, s in done.stored.items()]
    out.print(table(["channel", "new", "there already", "differing"], rows))
    counts = done.counts
    if done.total.differing:
        out.print("Differing: the record has another value of that moment already, which stays.")
    for key, says in (
        ("conflicts", "another value of an instant that this file had before; the later one was kept"),
        ("missing", "mark for no value"),
        ("shifted", "time in an hour that the zone skips in spring, shifted by it: does its clock know summer time?"),
        ("twice", "time in an hour that comes twice in autumn, told apart by their order"),
        ("jumps", "place where the clock runs back"),
        ("ignored", "line of remarks or a repeated header"),
    ):  # fmt: skip
        if counts.get(key):
            out.print(f"{counts[key]:,} x {says}{'' if says.endswith('?') else '.'}", soft_wrap=True)
    if counts.get("broken"):
        out.print("The packed file breaks off; what could be unpacked was read.")
    bad = counts.get("faults", 0)
    if bad:
        left = "bad row or cell was" if bad == 1 else "bad rows or cells were"
        out.print(f"{bad:,} {left} left out" + (":" if bad <= ON_SCREEN else f"; the first {ON_SCREEN}:"))
        for fault in done.faults[:ON_SCREEN]:
            where = f" ({fault.channel})" if fault.channel else ""
            clean = "".join(c if c.isprintable() else "?" for c in fault.text)
            out.print(plain(f"  line {fault.line}{where}: {fault.reason}: {clean[:60]}"), soft_wrap=True)


def write_bad(path: Path, done: ImportedFile) -> None:
    """Write the bad rows that are listed (the first 1000) as CSV, whole or not at all. Raises InputError."""
    import csv
    import io

    from nestwright.files import write_whole

    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["line", "channel", "reason", "text"])
    writer.writerows([f.line, f.channel, f.reason, f.text] for f in done.faults)
    write_whole(path, text.getvalue())
