"""`nestwright check FILE...`: is a habitat file or a colony file right? Every fault with its line; cautions do not
fail."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from nestwright.habitat.findings import Finding


def check(
    files: Annotated[list[Path], typer.Argument(help="Habitat files and colony files.", show_default=False)],
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Check habitat files (units, names, sizes, places, air paths) and colony files (units, names, dates,
    contradictions). Exit code 2 when one has a fault."""
    from nestwright.letters import visible

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
                    typer.echo(visible(str(f)), err=True)
                else:
                    typer.echo(visible(f"{f} (warning)"))
            if all(f.severity != "error" for f in found):
                typer.echo(visible(f"{path}: in order"))
    if failed:
        raise typer.Exit(2)


def check_file(path: Path) -> tuple[Finding, ...]:
    """What is wrong with a file, or worth a word: of a habitat file or a colony file, by the keys that it has."""
    from nestwright.colony.file import parse_colony
    from nestwright.document import read_document
    from nestwright.errors import FileError, InputError
    from nestwright.habitat.file import check_file as check_habitat_file
    from nestwright.habitat.findings import Finding

    try:
        document = read_document(path)
        if _kind(document.tables, str(path)) == "habitat":
            return check_habitat_file(path)
        notes = parse_colony(document).notes
    except InputError as error:
        faults = error.errors if isinstance(error, FileError) else (error,)
        return tuple(
            Finding("error", e.message, e.line, e.field, e.found, e.allowed, e.nearest, e.file) for e in faults
        )
    return tuple(Finding("warning", note, file=str(path)) for note in notes)


def _kind(tables: dict[str, Any], path: str) -> str:
    """ "habitat" or "colony", by the keys that only one of them has, misspelt ones too; InputError for neither."""
    from difflib import get_close_matches

    from nestwright.colony.form import ColonyForm
    from nestwright.errors import InputError
    from nestwright.habitat.form import HabitatForm

    keys = {"habitat": set(HabitatForm.model_fields), "colony": set(ColonyForm.model_fields)}
    both = keys["habitat"] & keys["colony"] | {"altitude"}  # a room's file has an altitude too
    own = {kind: known - both for kind, known in keys.items()}
    for likeness in (1.0, 0.75):  # as they are, else misspelt
        counts = {
            kind: sum(bool(get_close_matches(key, known, 1, likeness)) for key in set(tables) - both)
            for kind, known in own.items()
        }
        if any(counts.values()):
            return max(counts, key=lambda kind: counts[kind])
    heads = "format = 1, name, species"
    raise InputError(
        "is empty" if not tables else "is neither a habitat file nor a colony file",
        file=path,
        found=", ".join(sorted(tables))[:60],
        allowed=f"a habitat file has {heads} and [[chamber]] tables, a colony file {heads} and start = 2025-11-03",
    )
