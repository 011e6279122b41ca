"""`nestwright check FILE...`: is a habitat file or a colony file right? Every fault with its line; cautions do not
fail."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nestwright.habitat.findings import Finding

ONLY_IN_COLONIES = {"start", "arrival", "visit", "visits", "queen", "housing"}
"""Keys by which a colony file is known."""


def check(
    files: Annotated[list[Path], typer.Argument(help="Habitat files and colony files.", show_default=False)],
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Check habitat files (units, names, sizes, places, air paths) and colony files (units, names, dates,
    contradictions). Exit code 2 when one has a fault."""
    results = [(str(path), check_file(path)) for path in files]
    failed = any(f.severity == "error" for _, found in results for f in found)
    if as_json:
        report = [
            {"file": path, "ok": all(f.severity != "error" for f in found), "findings": [f.to_dict() for f in found]}
            for path, found in results
        ]
        typer.echo(json.dumps({"ok": not failed, "files": report}, indent=2, ensure_ascii=False))
    else:
        for path, found in results:
            for f in found:
                if f.severity == "error":
                    typer.echo(str(f), err=True)
                else:
                    typer.echo(f"{f} (warning)")
            if all(f.severity != "error" for f in found):
                typer.echo(f"{path}: in order")
    if failed:
        raise typer.Exit(2)


def check_file(path: Path) -> tuple[Finding, ...]:
    """What is wrong with a file, or worth a word: of a colony file when it has a colony's keys, else of a habitat."""
    from nestwright.document import read_document
    from nestwright.errors import FileError, InputError
    from nestwright.habitat.file import check_file as check_habitat_file
    from nestwright.habitat.findings import Finding

    try:
        of_colony = ONLY_IN_COLONIES & set(read_document(path).tables)
    except InputError:
        of_colony = set()  # the habitat's reader says why it cannot be read
    if not of_colony:
        return check_habitat_file(path)
    from nestwright.colony.file import read_colony

    try:
        notes = read_colony(path).notes
    except InputError as error:
        faults = error.errors if isinstance(error, FileError) else (error,)
        return tuple(
            Finding("error", e.message, e.line, e.field, e.found, e.allowed, e.nearest, e.file) for e in faults
        )
    return tuple(Finding("warning", note, file=str(path)) for note in notes)
