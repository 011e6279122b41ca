"""Read a habitat file: TOML text in, a design in SI out, or one list of everything that is wrong with it.

`read_habitat` is the way in for every command. `with_values` gives the same design with some values changed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from nestwright.document import Document, load_document, read_document
from nestwright.errors import FileError, InputError
from nestwright.habitat.findings import Finding
from nestwright.habitat.model import Habitat
from nestwright.habitat.values import dotted_label, free_value, get_value, set_value
from nestwright.kinds import check_kind
from nestwright.positions import line_of, path_text
from nestwright.refusals import Steps, keys_of, translate

__all__ = [
    "Document",
    "FileError",
    "check_file",
    "free_value",
    "get_value",
    "habitat_from_dict",
    "load_document",
    "read_document",
    "read_habitat",
    "set_value",
    "with_values",
]

MOST_ERRORS = 60
"""So many are told at once: a text that is no habitat has thousands, and nobody reads them."""


def read_habitat(path: str | Path) -> Habitat:
    """Read and check a habitat file.

    Returns
    -------
    Habitat
        The design in SI.

    Raises
    ------
    FileError
        (an `InputError`) with every error of the file: what was found, where, what is allowed, the nearest name.
    """
    return _habitat(read_document(path))


def habitat_from_dict(doc: dict[str, Any], path: str = "") -> Habitat:
    """As `read_habitat`, from tables already read from TOML; errors then have no line."""
    return _habitat(Document(doc, {}, path))


def with_values(habitat: str | Path | Document | dict[str, Any], values: Mapping[str, str | float]) -> Habitat:
    """The design of a file (or of its tables) with some values changed, checked as if it stood so in the file.

    Parameters
    ----------
    habitat : path, Document or dict
        Where the design stands.
    values : mapping
        Dotted key to text with unit ("6 W") or SI number; see `nestwright.habitat.values`.

    Raises
    ------
    InputError
        For unknown keys, refused values, or a design that is wrong with them.
    """
    if isinstance(habitat, dict):
        document = Document(habitat)
    elif isinstance(habitat, Document):
        document = habitat
    else:
        document = read_document(habitat)
    tables = document.tables
    for key, value in values.items():
        tables = set_value(tables, key, value)
    return _habitat(Document(tables, document.lines, document.path))


def parse_habitat(document: Document) -> Habitat:
    """The design of a document whose form is right; what it means together is not yet checked (`check_habitat`)."""
    from pydantic import ValidationError

    from nestwright.habitat.build import build_habitat
    from nestwright.habitat.form import HabitatForm

    check_kind(document, "habitat")
    try:
        form = HabitatForm.model_validate(document.tables)
    except ValidationError as error:

        def place(path: Steps) -> dict[str, Any]:
            label = dotted_label(document.tables, path)
            return {"file": document.path, "line": line_of(document.lines, path), "field": label}

        found = error.errors(include_url=False)
        told = _sorted([translate(e, place, _keys_at) for e in found[:MOST_ERRORS]])
        raise FileError(told + _untold(len(found), document)) from None
    texts: dict[str, Any] = {}
    _collect(document.tables, document.tables, (), "", texts)
    habitat, problems = build_habitat(form, document.lines, document.path, texts)
    if problems:
        raise FileError(
            _sorted(
                [
                    _error(document, p.path, p.message, found=p.found, allowed=p.allowed, nearest=p.nearest)
                    for p in problems[:MOST_ERRORS]
                ]
            )
            + _untold(len(problems), document)
        )
    return habitat


def _untold(found: int, document: Document) -> list[InputError]:
    """One error that says how many more there are than are told."""
    more = found - MOST_ERRORS
    return [InputError(f"and {more} more faults, told once these are mended", file=document.path)] if more > 0 else []


def check_file(path: str | Path) -> tuple[Finding, ...]:
    """Everything that a habitat file has wrong or should be warned of; never raises for what the file says."""
    try:
        document = read_document(path)
        return _findings(document, parse_habitat(document))
    except FileError as error:
        return tuple(_as_finding(e) for e in error.errors)
    except InputError as error:
        return (_as_finding(error),)


def _as_finding(e: InputError) -> Finding:
    return Finding("error", e.message, e.line, e.field, e.found, e.allowed, e.nearest, e.file)


def _findings(document: Document, habitat: Habitat) -> tuple[Finding, ...]:
    """As `check_habitat`, with the line of the very key where it stands in the file."""
    from nestwright.habitat.check import check_habitat

    found = check_habitat(habitat)
    if not found:
        return ()
    places = _places(document)
    refined = []
    for f in found:
        label = f.field
        while label and label not in places and "." in label:
            label = label.rpartition(".")[0]
        refined.append(replace(f, line=places.get(label) or f.line, file=document.path))
    return tuple(sorted(refined, key=lambda f: f.line))


def _places(document: Document) -> dict[str, int]:
    """Line of every key, by dotted key."""
    steps = re.compile(r"([^.\[\]]+)|\[(\d+)\]")
    parts: dict[tuple[str | int, ...], str] = {}
    places = {}
    for text, line in document.lines.items():
        part = tuple(a or int(b) for a, b in steps.findall(text)[:2])
        if part not in parts:  # all keys of a part share its name
            parts[part] = dotted_label(document.tables, part)
        places[parts[part] + text[len(path_text(part)) :]] = line
    return places


def _habitat(document: Document) -> Habitat:
    habitat = parse_habitat(document)
    errors = [f.as_error() for f in _findings(document, habitat) if f.severity == "error"]
    if errors:
        raise FileError(errors)
    return habitat


def _sorted(errors: list[InputError]) -> list[InputError]:
    return sorted(errors, key=lambda e: e.line)


def _collect(doc: dict[str, Any], value: Any, path: tuple[str | int, ...], label: str, texts: dict[str, Any]) -> None:
    """Every value as it stands in the file, by dotted key; `label` is that of `path`."""
    if isinstance(value, dict):
        for key, inner in value.items():
            _collect(doc, inner, (*path, key), f"{label}.{key}" if label else key, texts)
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            # only a part of a table can have a name of its own: to ask at every value would search all names each time
            named = dotted_label(doc, (*path, i)) if len(path) == 1 else f"{label}[{i}]"
            _collect(doc, inner, (*path, i), named, texts)
    else:
        texts[label] = value


def _error(document: Document, path: tuple[str | int, ...], message: str, **rest: str) -> InputError:
    label = dotted_label(document.tables, path)
    return InputError(message, file=document.path, line=line_of(document.lines, path), field=label, **rest)


def _keys_at(path: Steps) -> list[str]:
    """Keys that the table at a path may have."""
    from nestwright.habitat.form import TABLES, FaceForm, HabitatForm, LimitForm

    model: Any = HabitatForm
    if path and path[0] == "limits":
        model = LimitForm
    elif path and path[0] in TABLES:
        model = FaceForm if path[-1] in ("side", "top", "base") else TABLES[str(path[0])]
    return keys_of(model)
