"""A mapping as a TOML file that a person can read and edit, and whether a file still fits it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nestwright.document import Document, load_document, read_document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.positions import line_of
from nestwright.sensing.loggers.dates import ORDERS
from nestwright.sensing.loggers.mapping import CONFIDENCES, FORMS, Column, Decision, Mapping
from nestwright.sensing.loggers.sample import decoded
from nestwright.sensing.loggers.stream import ENCODINGS, encoding_of, head_of
from nestwright.sensing.loggers.table import SEPARATORS, cells_of
from nestwright.sensing.loggers.words import plain, words
from nestwright.sensing.loggers.zones import check_zone

__all__ = ["Fit", "fits", "load_mapping", "read_mapping", "to_toml"]

_TOP = ("format", "encoding", "separator", "decimal", "thousands", "header_line", "first_line", "header")
_TIME = ("at", "form", "order", "zone")
_COLUMN = ("channel", "at", "header", "quantity", "unit")
_DECISION = ("what", "value", "reason", "confidence")


def to_toml(mapping: Mapping) -> str:
    """The mapping as TOML; `load_mapping` gives it back equal."""
    lines = [
        "# How a logger writes its files. Positions count from 0, lines from 1.",
        "format = 1",
        f"encoding = {_text(mapping.encoding)}",
        f"separator = {_text(mapping.separator)}",
        f"decimal = {_text(mapping.decimal)}",
        f"thousands = {_text(mapping.thousands)}",
        f"header_line = {mapping.header_line}",
        f"first_line = {mapping.first_line}",
        f"header = [{', '.join(_text(h) for h in mapping.header)}]",
        "",
        "[time]",
        f"at = {list(mapping.time_at)}",
        f"form = {_text(mapping.form)}",
        f"order = {_text(mapping.order)}",
        f"zone = {_text(mapping.zone)}",
    ]
    for c in mapping.columns:
        lines += ["", "[[column]]"]
        lines += [f"{key} = {c.at if key == 'at' else _text(getattr(c, key))}" for key in _COLUMN]
    for d in mapping.decisions:
        lines += ["", "[[decision]]", *(f"{key} = {_text(getattr(d, key))}" for key in _DECISION)]
    return "\n".join(lines) + "\n"


def _text(text: str) -> str:
    # JSON's escapes are TOML's, but for those beyond the basic plane, which stand as they are, and for DEL
    clean = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=False).replace("\x7f", "\\u007f")


def read_mapping(path: str | Path) -> Mapping:
    """The mapping of a TOML file. Raises InputError (several as FileError) with line, field and what is allowed."""
    return _mapping(read_document(path))


def load_mapping(text: str, path: str = "") -> Mapping:
    """As `read_mapping`, from a text; `path` is shown in errors."""
    return _mapping(load_document(text, path))


class _Taking:
    """Takes keys out of tables; gathers what is wrong with them."""

    def __init__(self, document: Document) -> None:
        self.document, self.errors = document, list[InputError]()

    def fail(self, path: tuple[str | int, ...], message: str, found: Any = None, allowed: Sequence[str] = ()) -> None:
        self.errors.append(
            InputError(
                message, file=self.document.path, line=line_of(self.document.lines, path), field=str(path[-1]),
                found="" if found is None else repr(found)[:80], allowed=", ".join(repr(a) for a in allowed),
                nearest=nearest_name(found, allowed) if isinstance(found, str) else "",
            )
        )  # fmt: skip

    def keys(self, table: dict[str, Any], known: Sequence[str], path: tuple[str | int, ...] = ()) -> None:
        for key in table:
            if key not in known:
                self.fail((*path, key), "is no key of a mapping", key, known)

    def text(
        self, table: Any, path: tuple[str | int, ...], allowed: Sequence[str] = (), default: str | None = None
    ) -> str:
        value = table.get(path[-1], default)
        if value is None:
            self.fail(path, "is missing", None, allowed)
        elif not isinstance(value, str):
            self.fail(path, "is not a text", value, allowed)
        elif allowed and value not in allowed:
            self.fail(path, "is not known", value, allowed)
        else:
            return value
        return ""

    def whole(self, value: Any, path: tuple[str | int, ...], low: int, high: int) -> int:
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        self.fail(path, "is missing" if value is None else "is no whole number in range", value, (f"{low} to {high}",))
        return low

    def listed(self, table: Any, path: tuple[str | int, ...]) -> list[Any]:
        value = table.get(path[-1], [])
        if isinstance(value, list):
            return value
        self.fail(path, "is not a list", value)
        return []


def _mapping(document: Document) -> Mapping:
    take, raw, known = _Taking(document), document.tables, words()
    take.keys(raw, (*_TOP, "time", "column", "decision"))
    if raw.get("format") != 1:
        take.fail(("format",), "is not a mapping of this program", raw.get("format"), ("1",))
    header = take.listed(raw, ("header",))
    for k, cell in enumerate(header):
        if not isinstance(cell, str):
            take.fail(("header", k), "is not a text", cell)
    time = raw.get("time", {})
    if not isinstance(time, dict):
        take.fail(("time",), "is not a table", time)
        time = {}
    take.keys(time, _TIME, ("time",))
    time_at = take.listed(time, ("time", "at"))
    if not 1 <= len(time_at) <= 3:
        take.fail(("time", "at"), "is not one to three positions", time_at)
    form = take.text(time, ("time", "form"), FORMS)
    zone = take.text(time, ("time", "zone"), default="")
    if zone != "told":
        try:
            check_zone(zone, file=document.path, line=line_of(document.lines, ("time", "zone")))
        except InputError as error:
            take.errors.append(error)
    columns: list[Column] = []
    for k, table in enumerate(take.listed(raw, ("column",))):
        at = ("column", k)
        if not isinstance(table, dict):
            take.fail(at, "is not a table", table)
            continue
        take.keys(table, _COLUMN, at)
        quantity = take.text(table, (*at, "quantity"), (*known.quantities, "other"))
        allowed = known.quantities[quantity].units if quantity in known.quantities else ()
        channel = take.text(table, (*at, "channel"))
        if not channel or channel in [c.channel for c in columns]:
            take.fail((*at, "channel"), "is empty or stands twice", channel)
        columns.append(
            Column(
                take.whole(table.get("at"), (*at, "at"), 0, 9999),
                take.text(table, (*at, "header"), default=""),
                quantity,
                take.text(table, (*at, "unit"), allowed),
                channel,
            )
        )
    if not columns:
        take.fail(("column",), "no column of values is named")
    decisions: list[Decision] = []
    for k, table in enumerate(take.listed(raw, ("decision",))):
        if not isinstance(table, dict):
            take.fail(("decision", k), "is not a table", table)
            continue
        take.keys(table, _DECISION, ("decision", k))
        what, value, reason = (take.text(table, ("decision", k, key)) for key in _DECISION[:3])
        decisions.append(Decision(what, value, reason, take.text(table, ("decision", k, "confidence"), CONFIDENCES)))
    mapping = Mapping(
        encoding=take.text(raw, ("encoding",), ENCODINGS),
        separator=take.text(raw, ("separator",), tuple(SEPARATORS)),
        decimal=take.text(raw, ("decimal",), (".", ",")),
        thousands=take.text(raw, ("thousands",), ("", ".", ",", "'", " "), ""),
        header_line=take.whole(raw.get("header_line", 0), ("header_line",), 0, 10**9),
        first_line=take.whole(raw.get("first_line", 1), ("first_line",), 1, 10**9),
        header=tuple(str(h) for h in header),
        time_at=tuple(take.whole(v, ("time", "at", k), 0, 9999) for k, v in enumerate(time_at)),
        form=form,
        order=take.text(time, ("time", "order"), tuple(ORDERS) if form == "date" else (), ""),
        zone=zone,
        columns=tuple(columns),
        decisions=tuple(decisions),
    )
    if not take.errors and mapping.thousands and mapping.thousands == mapping.decimal:
        take.fail(("thousands",), "is the decimal mark too", mapping.thousands)
    if take.errors:
        raise take.errors[0] if len(take.errors) == 1 else FileError(take.errors)
    return mapping


@dataclass(frozen=True)
class Fit:
    """Whether a file has the columns that a mapping names; True in a test if so.

    `missing` are headers that it lacks; `header_line` (0 for none), `first_line`, `time_at` and `at` where things
    stand in this file, which may have more or fewer lines above its header, or columns in another order.
    """

    ok: bool
    missing: tuple[str, ...]
    found: tuple[str, ...]
    header_line: int
    first_line: int
    time_at: tuple[int, ...]
    at: tuple[int, ...]

    def __bool__(self) -> bool:
        return self.ok


def fits(mapping: Mapping, path: str | Path) -> Fit:
    """Whether a file still has the columns that the mapping names. Raises InputError when it cannot be read."""
    head = head_of(path)
    marked = encoding_of(head)
    lines = decoded(head, marked[0] if marked[2] == "sure" and head[:2] >= b"\xef" else mapping.encoding)
    here = tuple(c.at for c in mapping.columns)
    if not mapping.header_line or not mapping.header:
        return Fit(True, (), (), 0, mapping.first_line, mapping.time_at, here)
    gap = max(1, mapping.first_line - mapping.header_line)
    wanted = [*mapping.time_at, *here]
    names = [mapping.header[k] if k < len(mapping.header) else "" for k in wanted]
    nearest: tuple[int, list[str], tuple[str, ...]] = (-1, names, ())
    for n, line in enumerate(lines[:1000], start=1):
        if mapping.separator in ("space", "spaces"):
            if plain(line) == plain(" ".join(mapping.header)):
                return Fit(True, (), mapping.header, n, n + gap, mapping.time_at, here)
            continue
        cells = cells_of(line, mapping.separator)
        if line.startswith("#"):
            cells[0] = cells[0].lstrip("# ")
        same = [k < len(cells) and _alike(cells[k], name) for k, name in zip(wanted, names, strict=True)]
        places: list[int] = []
        lacking: list[str] = []
        for k, name in zip(wanted, names, strict=True):
            # of several columns of one name each takes the next
            free = [j for j, cell in enumerate(cells) if j not in places and _alike(cell, name)]
            if all(same) or free:
                places.append(k if all(same) else free[0])
            else:
                lacking.append(name)
        if not lacking and any(names):
            times = len(mapping.time_at)
            return Fit(True, (), tuple(cells), n, n + gap, tuple(places[:times]), tuple(places[times:]))
        if len(names) - len(lacking) > max(nearest[0], 0):
            nearest = (len(names) - len(lacking), lacking, tuple(cells))
    return Fit(False, tuple(nearest[1]), nearest[2], 0, mapping.first_line, mapping.time_at, here)


def _alike(cell: str, name: str) -> bool:
    return cell == name or plain(cell) == plain(name) != ""
