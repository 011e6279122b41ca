"""A habitat's text and its fields, both ways: values out of the text, and a value put into it where it stands."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from nestwright.document import Document
from nestwright.errors import InputError
from nestwright.habitat.values import dotted_label, free_value
from nestwright.positions import path_text
from nestwright.units import KINDS, from_si

__all__ = ["Entry", "Group", "Slide", "groups_of", "put", "slides_of"]

_VALUE = re.compile(
    r"""(?P<head>\s*(?:[\w-]+|"[^"]*")\s*=\s*)(?P<value>"(?:[^"\\]|\\.)*"|'[^']*'|[^\s#,\]\}]+)(?P<rest>\s*(?:\#.*)?)"""
)
SLID = ("count", "diameter", "free_surface", "power", "rim_gap", "lid_gap", "volume", "height", "width", "workers")
"""Keys that are worth moving by hand, in this order: air, water, heat, gaps, garden, chambers."""
TABLES = ("vent", "passage", "grid", "water", "heater", "bell", "garden", "chamber")
REACH = 4.0
"""A slide reaches to so many times its value, and down to its part."""


@dataclass(frozen=True)
class Entry:
    """One value of the file: dotted key, the same by its number in the file, its own name, text, and whether text."""

    key: str
    path: str
    name: str
    text: str
    line: int


@dataclass(frozen=True)
class Group:
    """A table of the file with its values: title as "vent crown"."""

    title: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class Slide:
    """A value to be moved by hand: bounds and step in `unit`, in which it stands in the file."""

    key: str
    label: str
    part: str
    """What it is a size of, as "vent crown"; `name` is its own, as "diameter"."""
    name: str
    value: float
    low: float
    high: float
    step: float
    unit: str
    whole: bool


def groups_of(document: Document) -> tuple[Group, ...]:
    """Every single value of a file by its table; lists of values, and texts of several lines, stay in the text."""
    found = [Group("", _entries(document, (), document.tables))]
    for table, value in document.tables.items():
        parts = value if isinstance(value, list) else [value] if isinstance(value, dict) else []
        for i, part in enumerate(parts):
            if not isinstance(part, dict):
                continue
            path: tuple[str | int, ...] = (table, i) if isinstance(value, list) else (table,)
            entries = _entries(document, path, part)
            for face, inner in part.items():
                if isinstance(inner, dict):
                    entries += _entries(document, (*path, face), inner)
            found.append(Group(dotted_label(document.tables, path).replace(".", " "), entries))
    return tuple(g for g in found if g.entries)


def _entries(document: Document, path: tuple[str | int, ...], part: dict[str, Any]) -> tuple[Entry, ...]:
    made = []
    for name, value in part.items():
        if isinstance(value, str | int | float) and "\n" not in str(value):
            whole = (*path, name)
            text = str(value).lower() if isinstance(value, bool) else str(value)
            shown = path_text(whole)
            label = ".".join(str(s) for s in whole[2 if len(path) > 1 else len(path) :])
            made.append(Entry(dotted_label(document.tables, whole), shown, label, text, document.lines.get(shown, 0)))
    return tuple(made)


def slides_of(document: Document) -> tuple[Slide, ...]:
    """The values that are worth moving, with bounds about where they stand."""
    made = []
    for table in TABLES:
        parts = document.tables.get(table, [])
        for i, part in enumerate(parts if isinstance(parts, list) else []):
            for name in SLID if isinstance(part, dict) else ():
                if name in part:
                    made.append(_slide(document, (table, i, name)))
    return tuple(one for one in made if one is not None)


def _slide(document: Document, path: tuple[str | int, ...]) -> Slide | None:
    key = dotted_label(document.tables, path)
    try:
        value = free_value(document.tables, key)
    except InputError:
        return None
    label, name = (text.replace(".", " ").replace("_", " ") for text in (key, str(path[2])))
    part = label.removesuffix(name).strip()
    if value.whole:
        now = float(value.value or 0)
        high = float(round(max(4, now * (3 if now < 1000 else 2))))
        return Slide(key, label, part, name, now, 1.0 if path[2] == "count" else 0.0, high, 1.0, "", True)
    if value.value is None or value.kind not in KINDS or not value.unit:
        return None
    kind = KINDS[value.kind]
    now, least, most = (from_si(kind, x, value.unit) for x in (value.value, value.low, value.high))
    if not now > 0:
        return None
    step = 10.0 ** (len(str(int(now))) - 3) if now >= 1 else 0.01
    low, high = max(least, step, now / REACH), min(most, now * REACH)
    return Slide(
        key, label, part, name, now, round(low / step) * step, round(high / step) * step, step, value.unit, False
    )


def put(text: str, document: Document, path: str, value: str) -> str:
    """The text with one value replaced where it stands; comments and all else stay.

    Raises
    ------
    InputError
        When there is no such value, or it does not stand on a line of its own.
    """
    line = document.lines.get(path, 0)
    rows = text.split("\n")
    if not 0 < line <= len(rows):
        raise InputError("stands nowhere in the text", field=path)
    row = rows[line - 1]
    match = _VALUE.fullmatch(row.rstrip("\r"))
    if match is None or not row.lstrip().startswith((path.rsplit(".", 1)[-1], '"')):
        raise InputError("does not stand on a line of its own: change it in the text", field=path, line=line)
    quoted = match["value"][:1] in "\"'"
    plain = value.strip()
    if quoted:
        told = '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
    else:
        told = plain
    if "\n" in told or "\r" in told:
        raise InputError("is one line", field=path, line=line)
    rows[line - 1] = f"{match['head']}{told}{match['rest']}" + ("\r" if row.endswith("\r") else "")
    return "\n".join(rows)
