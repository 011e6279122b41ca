"""Rules of every way of making: the shipped ones, and a workshop's own with its machines in their place (TOML)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, get_args

from nestwright.data import Value, read_values
from nestwright.document import Document, read_document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.parts.model import Way
from nestwright.parts.tolerances import Offset
from nestwright.positions import line_of
from nestwright.units import UnitProblem, parse_quantity, shown

__all__ = ["Machine", "Processes", "read_processes", "shipped_processes"]

_SI = {"mm": 1e-3, "mm/m": 1e-3, "deg": math.pi / 180, "1": 1.0}
_FILE = "processes.toml"
_OFFSET_LIMIT = 0.002
"""No machine that works is further off, m: keeps slips of the pen out."""


@dataclass(frozen=True)
class Machine:
    """A machine that makes parts one way: largest piece m (height None: any) and its measured offset."""

    name: str
    way: str
    bed: tuple[float, float, float | None] | None = None
    offset: Offset | None = None


@dataclass(frozen=True)
class Processes:
    """`rules` by "way.rule", SI; `machines` of the workshop in the order of the file."""

    rules: Mapping[str, Value]
    machines: tuple[Machine, ...] = field(default=())

    def rule(self, way: str, name: str) -> Value | None:
        return self.rules.get(f"{way}.{name}")

    def offset(self, way: str) -> Offset | None:
        """Offset of the first measured machine that makes this way."""
        return next((m.offset for m in self.machines if m.way == way and m.offset is not None), None)

    def spread(self, way: str, length: float) -> float:
        """By how much a length of a part made this way may be off, +- m."""
        one, share = self.rule(way, "tolerance"), self.rule(way, "stretch")
        return (one.value if one else 0.0) + (share.value if share else 0.0) * length

    def bow(self, way: str, length: float, material: str = "") -> float:
        """How far a plate of this length may be from flat, m; by its material where that has a rule of its own."""
        flat = self.rule(material, "flatness") or self.rule(way, "flatness")
        return (flat.value if flat else 0.0) * length


def shipped_processes() -> Processes:
    """The rules of this program; nearly all are judgements: a workshop measures its own."""
    return Processes({name: _si(one) for name, one in read_values(_FILE).items()})


def read_processes(path: str | Path) -> Processes:
    """Shipped rules with those of a workshop's own file in their place, and its machines.

    The file has `format = 1`, a table [rules] with lines such as `"printed.wall" = 0.9` or `[0.6, 0.9, 1.2]` (low,
    value, high) in the rule's own unit, and tables [[machine]] with `name`, `way`, `bed` and, from a test piece,
    `hole_offset`, `spigot_offset`, `offset_error` and `scale`.

    Raises
    ------
    FileError
        Every fault of the file with its line.
    """
    document = read_document(path)
    reading = _Reading(document)
    reading.keys((), document.tables, ("format", "rules", "machine"))
    if document.tables.get("format") != 1:
        reading.fault("is no format of this program", ("format",), shown(document.tables.get("format")), "1")
    rules = reading.rules()
    machines = reading.machines()
    if reading.faults:
        raise FileError(sorted(reading.faults, key=lambda one: one.line))
    return Processes(rules, machines)


def _si(one: Value) -> Value:
    value, low, high = (float(f"{end * _SI[one.unit]:.12g}") for end in (one.value, one.low, one.high))
    return replace(one, value=value, low=low, high=high)


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 1e6


class _Reading:
    """One file on its way in; `faults` gathers what is wrong with it."""

    def __init__(self, document: Document) -> None:
        self.document, self.faults = document, list[InputError]()

    def fault(
        self, message: str, steps: tuple[str | int, ...], found: str = "", allowed: str = "", nearest: str = ""
    ) -> None:
        place = {"file": self.document.path, "field": ".".join(str(s) for s in steps)}
        line = line_of(self.document.lines, steps)
        self.faults.append(InputError(message, line=line, found=found, allowed=allowed, nearest=nearest, **place))

    def keys(self, steps: tuple[str | int, ...], table: Mapping[str, Any], known: tuple[str, ...]) -> None:
        for key in table:
            if key not in known:
                self.fault("unknown key", (*steps, key), "", ", ".join(known), nearest_name(key, known))

    def rules(self) -> dict[str, Value]:
        shipped = read_values(_FILE)
        made = {name: _si(one) for name, one in shipped.items()}
        told = self.document.tables.get("rules", {})
        if not isinstance(told, dict):
            self.fault("is of the wrong sort", ("rules",), shown(told), "a table")
            return made
        flat: dict[tuple[str, ...], Any] = {}
        for key, value in told.items():
            flat |= {(key, k): v for k, v in value.items()} if isinstance(value, dict) else {(key,): value}
        for keys, given in flat.items():
            name, steps = ".".join(keys), ("rules", *keys)
            if name not in shipped:
                self.fault("there is no such rule", steps, "", f"the {len(shipped)} rules", nearest_name(name, shipped))
                continue
            unit = shipped[name].unit
            ends = given if isinstance(given, list) else [given] * 3
            if len(ends) != 3 or not all(_number(x) for x in ends) or sorted(ends) != ends:
                allowed = f"a number in {unit}, or [low, value, high] from small to large"
                self.fault("is no value of a rule", steps, shown(given), allowed)
                continue
            low, value, high = (float(x) for x in ends)
            made[name] = _si(Value(value, low, high, unit, f"own: {self.document.path}", "own"))
        return made

    def machines(self) -> tuple[Machine, ...]:
        tables = self.document.tables.get("machine", [])
        if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
            self.fault("is of the wrong sort", ("machine",), shown(tables), "[[machine]] in double brackets")
            return ()
        found: list[Machine] = []
        for number, table in enumerate(tables):
            steps = ("machine", number)
            known = ("name", "way", "bed", "hole_offset", "spigot_offset", "offset_error", "scale")
            self.keys(steps, table, known)
            name, way = table.get("name"), table.get("way")
            if not isinstance(name, str) or not name or len(name) > 60 or any(m.name == name for m in found):
                self.fault(
                    "is no name of its own", (*steps, "name"), shown(name), "1 to 60 characters, each machine's own"
                )
            if way not in get_args(Way):
                near = nearest_name(way, get_args(Way)) if isinstance(way, str) else ""
                self.fault("unknown word", (*steps, "way"), shown(way), ", ".join(get_args(Way)), near)
            made = Machine(str(name), str(way), self._bed(steps, table.get("bed")), self._offset(steps, table))
            found.append(made)
        return tuple(found)

    def _length(self, steps: tuple[str | int, ...], text: Any, kind: str) -> float:
        try:
            return parse_quantity(text, kind)
        except UnitProblem as problem:
            self.fault(problem.message, steps, problem.found, problem.allowed, problem.nearest)
            return 1.0 if kind == "length" else 0.0

    def _bed(self, steps: tuple[str | int, ...], given: Any) -> tuple[float, float, float | None] | None:
        if given is None:
            return None
        where = (*steps, "bed")
        if not isinstance(given, list) or len(given) not in (2, 3):
            self.fault("is no size of a bed", where, shown(given), '["220 mm", "220 mm", "240 mm"], or two of them')
            return None
        sizes = [self._length(where, one, "length") for one in given]
        return sizes[0], sizes[1], sizes[2] if len(sizes) == 3 else None

    def _offset(self, steps: tuple[str | int, ...], table: Mapping[str, Any]) -> Offset | None:
        names = ("hole_offset", "spigot_offset", "offset_error")
        if not any(key in table for key in (*names, "scale")):
            return None
        ends = []
        for key in names:
            one = self._length((*steps, key), table[key], "position") if key in table else 0.0
            if abs(one) > _OFFSET_LIMIT or (key == "offset_error" and one < 0):
                low = "0" if key == "offset_error" else "-2"
                self.fault("is out of range", (*steps, key), shown(table[key]), f"{low} to 2 mm")
            ends.append(one)
        scale = table.get("scale", 1.0)
        if not _number(scale) or not 0.9 <= scale <= 1.1:
            self.fault("is out of range", (*steps, "scale"), shown(scale), "0.9 to 1.1")
            scale = 1.0
        return Offset(ends[0], ends[1], float(scale), ends[2])
