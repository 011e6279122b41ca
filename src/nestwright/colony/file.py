"""Read a colony file: TOML, visits inside it or in a CSV beside it; a colony out, or all that is wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.colony.model import Colony
from nestwright.document import Document, read_document
from nestwright.errors import FileError, InputError
from nestwright.json_schema import schema_of, schema_text_of
from nestwright.kinds import check_kind
from nestwright.positions import line_of, path_text

if TYPE_CHECKING:
    from datetime import date

    from nestwright.colony.form import ColonyForm, EventForm, VisitForm
    from nestwright.colony.visits_csv import VisitRows
    from nestwright.refusals import Place

__all__ = ["colony_from_dict", "colony_schema", "colony_schema_text", "parse_colony", "read_colony", "read_forms"]


def read_colony(path: str | Path, today: date | None = None) -> Colony:
    """Read and check a colony file, with its table of visits when it names one.

    A start after `today` is remarked where that is given.

    Returns
    -------
    Colony
        Days from the record's first day, g dry matter, mL, counts. Remarks stand in `notes`.

    Raises
    ------
    FileError
        (an `InputError`) with every error of the file and of its table: what was found, where, what is allowed, the
        nearest name.
    """
    if str(path).lower().endswith(".csv"):
        allowed = "the colony's own file, which names its table: visits = 'visits.csv'"
        raise InputError("is a table, not a colony file", file=str(path), allowed=allowed)
    return parse_colony(read_document(path), today)


def read_forms(path: str | Path) -> tuple[ColonyForm, list[VisitForm], list[EventForm]]:
    """A colony file key by key, with the visits and events of its table beside its own. Raises as `read_colony`."""
    document = read_document(path)
    form, table = _forms(document)[:2]
    visits = [f for f, _ in table.visits] if table else []
    events = [f for f, _ in table.events] if table else []
    return form, [*form.visit, *visits], [*form.event, *events]


def colony_from_dict(doc: dict[str, Any], path: str = "") -> Colony:
    """As `read_colony`, from tables already read from TOML; errors then have no line. `path` finds its CSV."""
    return parse_colony(Document(doc, {}, path))


def parse_colony(document: Document, today: date | None = None) -> Colony:
    """As `read_colony`, from a document."""
    from nestwright.colony.build import Entry, build_colony
    from nestwright.colony.doubts import doubts

    form, table, shown, place = _forms(document)

    def entries(name: str, forms: list[Any]) -> list[Entry]:
        return [Entry(f, lambda key, i=i: place((name, i, key))) for i, f in enumerate(forms)]  # type: ignore[misc]

    visits, events = entries("visit", form.visit), entries("event", form.event)
    if table is not None:
        visits += [Entry(f, _row_place(shown, line)) for f, line in table.visits]
        events += [Entry(f, _row_place(shown, line)) for f, line in table.events]
    made = build_colony(form, lambda key: place((key,)), entries("bell", form.bell), visits, events, document.path)
    return replace(made, notes=(*made.notes, *doubts(made, visits, events, today)))


def _forms(document: Document) -> tuple[ColonyForm, VisitRows | None, str, Place]:
    """The form of a document, its table of visits with its name for messages, and where a key of it stands."""
    from pydantic import ValidationError

    from nestwright.colony.form import ColonyForm, keys_at
    from nestwright.refusals import translate

    def place(path: tuple[str | int, ...]) -> dict[str, Any]:
        return {"file": document.path, "line": line_of(document.lines, path), "field": path_text(path)}

    check_kind(document, "colony")
    errors: list[InputError] = []
    form, table, shown = None, None, ""
    try:
        form = ColonyForm.model_validate(document.tables)
    except ValidationError as error:
        found = [translate(e, place, keys_at) for e in error.errors(include_url=False)]
        errors += sorted(found, key=lambda e: e.line)
    visits = document.tables.get("visits", "") if form is None else form.visits
    if form is not None or not any(e.field == "visits" for e in errors):
        try:
            table, shown = _rows(document, visits) or (None, "")
        except InputError as error:
            errors.append(error)
    errors += table.errors if table is not None else ()
    if errors:
        from nestwright.colony.span import outside

        rows = [] if table is None else [*table.visits, *table.events]
        placed = [(f.date, _row_place(shown, line)("date")) for f, line in rows]
        errors += outside(document, place, placed)
        raise FileError(sorted(errors, key=lambda e: (e.file != document.path, e.line)))
    assert form is not None
    return form, table, shown, place


def _row_place(shown: str, line: int) -> Any:
    from nestwright.colony.visits_csv import column_of

    return lambda key: {"file": shown, "line": line, "field": column_of(key)}


def _rows(document: Document, visits: str) -> Any:
    """The table of visits and its name for messages; None when there is none."""
    from nestwright.colony.visits_csv import read_visits, read_visits_text

    if not visits:
        return None
    line = line_of(document.lines, ("visits",))
    if "\n" in visits:
        # TOML drops the line break after the three quotes, so the table begins on the line below its key.
        return read_visits_text(visits, document.path, line + 1), document.path
    path = Path(document.path).parent / visits
    table = read_visits(path, str(path))
    if table.errors and table.errors[0].line == 0:  # the file itself: told where it is named
        error = table.errors[0]
        raise InputError(error.message, file=document.path, line=line, field="visits", found=repr(visits)[:60])
    return table, str(path)


def colony_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a colony file once read from TOML: keys, kinds and units."""
    from nestwright.colony.form import ColonyForm

    return schema_of(ColonyForm, "Nestwright colony file")


def colony_schema_text() -> str:
    """The schema as it is published."""
    return schema_text_of(colony_schema())
