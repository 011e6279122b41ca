"""`nestwright check FILE...`: is a file right that a person wrote? Every fault with its line; cautions do not fail."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.faults import as_findings, report

if TYPE_CHECKING:
    from nestwright.colony.model import Colony
    from nestwright.document import Document
    from nestwright.errors import InputError
    from nestwright.habitat.findings import Finding


def check(
    files: Annotated[
        list[Path], typer.Argument(help="Habitat files, colony files, and the others below.", show_default=False)
    ],
    as_json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
) -> None:
    """Check habitat files (units, names, sizes, places, air paths) and colony files (units, names, dates,
    contradictions, the files that they name); parcel and room files, prices, machines and live readings are read as
    their commands read them. Exit code 2 when one has a fault."""
    from nestwright.letters import visible

    results = [(str(path), check_file(path, date.today())) for path in files]
    failed = any(f.severity == "error" for _, found in results for f in found)
    if as_json:
        typer.echo(json.dumps(report(results), indent=2, ensure_ascii=False))
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


def check_file(path: Path, today: date | None = None) -> tuple[Finding, ...]:
    """What is wrong with a file, or worth a word, by the kind that its keys tell.

    A colony's start after `today` is worth a word, where that is given.
    """
    from nestwright.colony.file import parse_colony
    from nestwright.document import read_document
    from nestwright.errors import InputError
    from nestwright.habitat.file import check_file as check_habitat_file
    from nestwright.habitat.findings import Finding

    colony, faults = None, list[InputError]()
    try:
        document = read_document(path)
        kind = _kind(document.tables, str(path))
        if kind == "habitat":
            found = check_habitat_file(path)
            return found if any(f.severity == "error" for f in found) else (*found, *_made(path))
        if kind != "colony":
            _read(kind, path)
            return ()
    except InputError as error:
        return tuple(_faults([error]))
    try:
        colony = parse_colony(document, today)
    except InputError as error:
        faults.append(error)
    faults += _climate(document, colony)
    if faults or colony is None:
        return tuple(_faults(faults))
    return tuple(Finding("warning", note, file=str(path)) for note in colony.notes)


def _made(path: Path) -> list[Finding]:
    """What of a habitat in order is worth a word once it is made: openings that its ants pass, what does not fit."""
    from nestwright.errors import InputError
    from nestwright.habitat.file import read_habitat
    from nestwright.parts.ants import let_through
    from nestwright.parts.listing import parts_of

    habitat = read_habitat(path)
    try:
        found = list(let_through(habitat, parts_of(habitat).parts))
    except InputError as error:
        unmade = [replace(one, message=f"it cannot be made as it stands: {one.message}") for one in _faults([error])]
        found = [*let_through(habitat, ()), *unmade]
    return [replace(one, severity="warning", file=str(path)) for one in found]


def _faults(errors: list[InputError]) -> list[Finding]:
    """Errors as findings, all of a file's, in order of its lines."""
    each = as_findings(errors)
    first = each[0].file
    each.sort(key=lambda e: (e.file != first, e.line) if len(errors) > 1 else (False, 0))
    return each


def _climate(document: Document, colony: Colony | None) -> list[InputError]:
    """What keeps the climate file that a colony file names from being read; of a file with faults, if it is there."""
    from nestwright.errands.garden_climate import read_garden_climate
    from nestwright.errors import InputError
    from nestwright.positions import line_of

    named = document.tables.get("climate")
    if not isinstance(named, str) or not named or not named.isprintable():
        return []
    place: dict[str, Any] = {"file": document.path, "line": line_of(document.lines, ("climate",)), "field": "climate"}
    found = repr(named) if len(named) <= 60 else repr(named[:60]) + " ..."
    file = Path(document.path).parent / named
    try:
        if not file.is_file():
            reason = "the climate file is a folder" if file.is_dir() else "there is no such climate file"
            return [InputError(reason, **place, found=found)]
        if colony is not None:
            read_garden_climate(file, colony, 1)
    except InputError as error:
        said = f"line {error.line}: {error.message}" if error.line else error.message
        said += f" ({error.found})" if error.found else ""
        return [InputError(f"the climate file cannot be used: {said}", **place, found=found, allowed=error.allowed)]
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not text"
        return [InputError(f"the climate file cannot be read: {reason.lower()}", **place, found=found)]
    return []


def _kind(tables: dict[str, Any], path: str) -> str:
    """The kind of a file: "habitat" or "colony" by the keys that only one of them has, misspelt ones too; another by
    the keys that it has; InputError for none."""
    from difflib import get_close_matches

    from nestwright.colony.form import ColonyForm
    from nestwright.errors import InputError
    from nestwright.habitat.form import HabitatForm
    from nestwright.kinds import KINDS, kind_of

    if (other := kind_of(set(tables))) not in ("", "habitat", "colony"):
        return other

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
    raise InputError(
        "is empty" if not tables else "is neither a habitat file nor a colony file",
        file=path,
        found=", ".join(sorted(tables))[:60],
        allowed=f"a habitat file has {KINDS['habitat'].looks}, a colony file {KINDS['colony'].looks}, or a parcel's, a "
        "room's, prices, machines, live readings",
    )


def _read(kind: str, path: Path) -> object:
    """Read a file of another kind as its own command does. Raises InputError."""
    if kind == "parcel":
        from nestwright.parcel.file import read_parcel

        return read_parcel(path)
    if kind == "room":
        from nestwright.climate.room_file import read_room_file

        return read_room_file(path)
    if kind == "price":
        from nestwright.parts.prices import read_prices

        return read_prices(path)
    if kind == "machine":
        from nestwright.parts.machines import read_machines

        return read_machines(path)
    from nestwright.sensing.live.mapping_file import read_live_mapping

    return read_live_mapping(path)
