"""The table of visits: a CSV file, or the same text inside the colony file.

One row is one visit; events have columns too. Cells are turned to the texts that the colony file would have, and read
by the same forms.
"""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from nestwright.colony.form import EventForm, VisitForm
from nestwright.errors import InputError, nearest_name
from nestwright.letters import one_line
from nestwright.refusals import keys_of, translate
from nestwright.units import UnitProblem

__all__ = ["COLUMNS", "VisitRows", "column_of", "read_visits", "read_visits_text"]

COLUMNS = {
    "date": "day of the visit, as 2025-11-03",
    "garden_mL": "garden volume, mL",
    "fill_pct": "instead: share of the bell or chamber that the garden fills, %",
    "garden_error_pct": "relative standard error of either, %",
    "workers": "as in the colony file: 60, about 60, 50 to 80",
    "seen": "brood that was seen: eggs, larvae, pupae, with blanks or `;` between",
    "not_seen": "brood that was looked for and not seen",
    "leaves_g": "leaves given, fresh, g",
    "leaves_cm2": "instead: their area, cm2",
    "plant": "plant of these leaves",
    "leaves_taken_g": "leaves the ants took in, fresh, g",
    "waste_g": "waste taken away, wet, g",
    "note": "anything worth telling",
    "event": "what happened that day, in the words of the colony file",
    "amount": "how much: 20 mL, 30 %, 25",
}
"""Every column that the table may have, and what it holds. Only `date` is needed."""

_LARGEST = 2_000_000  # bytes; a record of years has some ten thousand
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)", re.ASCII)
_MEASURED = {
    "garden_mL": ("garden", "mL"),
    "fill_pct": ("fill", "%"),
    "garden_error_pct": ("garden_error", "%"),
    "leaves_g": ("leaves", "g"),
    "leaves_cm2": ("leaves", "cm2"),
    "leaves_taken_g": ("leaves_taken", "g"),
    "waste_g": ("waste", "g"),
}
_VISIT_ONLY = ("workers", "seen", "not_seen")


@dataclass(frozen=True)
class VisitRows:
    """Visits and events of the table, each with its line."""

    visits: tuple[tuple[VisitForm, int], ...]
    events: tuple[tuple[EventForm, int], ...]
    errors: tuple[InputError, ...] = ()


def column_of(key: str) -> str:
    """Column in which a key of a visit or an event is told."""
    return {"what": "event"}.get(key) or next((c for c, (k, _) in _MEASURED.items() if k == key), key)


def read_visits(path: Path, shown: str) -> VisitRows:
    """Read the CSV file of visits; `shown` is its name for messages. Nothing is raised but told in `errors`."""
    try:
        with open(path, "rb") as file:
            data = file.read(_LARGEST + 1)
        if len(data) > _LARGEST:
            raise InputError("is too large for a table of visits", file=shown, allowed="at most 2 MB")
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        return VisitRows((), (), (InputError("is not text in UTF-8", file=shown, line=line),))
    except InputError as error:
        return VisitRows((), (), (error,))
    except OSError as error:
        reason = (error.strerror or "error").lower()
        return VisitRows((), (), (InputError(f"the table of visits cannot be read: {reason}", file=shown),))
    except ValueError:  # a NUL in the path
        return VisitRows((), (), (InputError("is not the name of a file", file=shown.replace("\0", "?")),))
    return read_visits_text(text, shown)


def read_visits_text(text: str, shown: str, first: int = 1) -> VisitRows:
    """Read the text of a table of visits whose first line is line `first` of the file `shown`.

    The header says what parts the cells: of comma, semicolon and tab, the one that stands there most often.
    """
    text = text.removeprefix("\ufeff")
    head = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(",;\t", key=head.count)  # the comma where none of them stands
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    columns: list[str] = []
    visits: list[tuple[VisitForm, int]] = []
    events: list[tuple[EventForm, int]] = []
    errors: list[InputError] = []
    line = first
    try:
        for cells in rows:
            here, line = line, first + rows.line_num
            cells = [cell.strip() for cell in cells]
            if not any(cells):
                continue
            if not columns:
                columns = cells
                errors += _head_errors(columns, shown, here)
                if errors:
                    break
            elif any(cells[len(columns) :]):
                message = f"the row has {len(cells)} cells, the header {len(columns)}"
                errors.append(InputError(message, file=shown, line=here))
            else:
                row = _Row(dict(zip(columns, cells, strict=False)), separator, shown, here)
                visit, event = row.visit(), row.event()
                visits += [(visit, here)] if visit is not None else []
                events += [(event, here)] if event is not None else []
                errors += row.errors
    except csv.Error as error:
        errors.append(InputError(f"is not a CSV table: {error}", file=shown, line=line))
    if not columns and not errors:
        allowed = "a first line with the columns, as 'date,garden_mL,workers'"
        errors.append(InputError("the table of visits is empty", file=shown, line=first, allowed=allowed))
    return VisitRows(tuple(visits), tuple(events), tuple(errors))


def _head_errors(columns: list[str], shown: str, line: int) -> list[InputError]:
    errors = []
    for i, name in enumerate(columns):
        try:
            one_line(name)
        except UnitProblem as p:
            errors.append(InputError(p.message, file=shown, line=line, found=p.found, allowed=p.allowed))
            continue
        if name in columns[:i]:
            errors.append(InputError("the column stands twice", file=shown, line=line, field=name[:60]))
        elif name not in COLUMNS:
            known, nearest = ", ".join(COLUMNS), nearest_name(name, COLUMNS)
            errors.append(
                InputError("unknown column", file=shown, line=line, field=name[:60], allowed=known, nearest=nearest)
            )
    if "date" not in columns:
        allowed = "columns parted by commas, semicolons or tabs, one of them 'date'"
        errors.append(InputError("the column 'date' is missing", file=shown, line=line, allowed=allowed))
    return errors


class _Row:
    """One row, its cells by column, and what is wrong with it."""

    def __init__(self, cells: dict[str, str], separator: str, shown: str, line: int) -> None:
        self.cells = {k: v for k, v in cells.items() if v}
        self.comma, self.shown, self.line = separator != ",", shown, line
        self.errors: list[InputError] = []

    def refuse(self, column: str, message: str, allowed: str = "") -> None:
        found = repr(self.cells.get(column, ""))[:60]
        error = InputError(message, file=self.shown, line=self.line, field=column, found=found, allowed=allowed)
        self.errors.append(error)

    def visit(self) -> VisitForm | None:
        """The visit of this row; None when there is none but an event, or when it is wrong."""
        cells = self.cells
        given: dict[str, Any] = {}
        names = {"date": "date", "note": "note", "plant": "plant"}
        for column, (key, unit) in _MEASURED.items():
            if column not in cells:
                continue
            if key in given:
                self.refuse(column, f"the same is told in {names[key]!r}")
                continue
            # A decimal comma can only stand where the comma does not part the cells.
            number = cells[column].replace(",", ".") if self.comma else cells[column]
            if not _NUMBER.fullmatch(number):
                self.refuse(column, "is not a number", f"a number alone, in {unit}")
                continue
            given[key], names[key] = f"{number} {unit}", column
        for column in _VISIT_ONLY:
            if column in cells:
                listed = re.split(r"[;\s]+", cells[column].strip("; "))
                given[column] = cells[column] if column == "workers" else listed
        if not given and "event" in cells:
            return None
        given |= {k: cells[k] for k in ("note", "plant") if k in cells and "event" not in cells}
        if "plant" in cells and "leaves" in given:
            given["plant"] = cells["plant"]
        return self._form(VisitForm, given, names)

    def event(self) -> EventForm | None:
        """The event of this row, None when there is none or it is wrong."""
        cells = self.cells
        if "event" not in cells:
            if "amount" in cells:
                self.refuse("amount", "an amount without an event")
            return None
        given = {"what": cells["event"]} | {k: cells[k] for k in ("amount", "note", "plant") if k in cells}
        return self._form(EventForm, given, {"what": "event"})

    def _form(self, form: type[BaseModel], given: dict[str, Any], names: dict[str, str]) -> Any:
        errors = len(self.errors)
        try:
            made = form.model_validate({"date": self.cells.get("date", ""), **given})
        except ValidationError as error:

            def place(path: tuple[str | int, ...]) -> dict[str, Any]:
                key = str(path[0]) if path else ""
                return {"file": self.shown, "line": self.line, "field": names.get(key, key)}

            new = [translate(e, place, lambda _: keys_of(form)) for e in error.errors(include_url=False)]
            told = {(e.field, e.message) for e in self.errors}
            self.errors += [e for e in new if (e.field, e.message) not in told]
            return None
        return made if len(self.errors) == errors else None
