"""Rules of every way of making: the shipped ones, and a workshop's own in their place."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from nestwright.data import Value, read_values
from nestwright.document import Document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.parts.machine import Machine
from nestwright.parts.tolerances import Offset
from nestwright.positions import line_of
from nestwright.units import shown

__all__ = ["Processes", "own_rules", "shipped_processes"]

_SI = {"mm": 1e-3, "mm/m": 1e-3, "deg": math.pi / 180, "1": 1.0}
_FILE = "processes.toml"


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

    def kerf(self, way: str) -> float:
        """Width of the cut that files and sheets take off, m; 0 for what is sawn or milled: a hand follows the line."""
        rule = self.rule(way, "kerf") if way == "laser" else None
        return rule.value if rule else 0.0

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


def own_rules(document: Document) -> dict[str, Value]:
    """The shipped rules, SI, with those of a file's table [rules] in their place.

    Each is a line such as `"printed.wall" = 0.9` or `[0.6, 0.9, 1.2]` (low, value, high) in the rule's own unit.

    Raises
    ------
    FileError
        For a rule that there is not, with the nearest name; for a value that is no such number.
    """
    shipped, faults = read_values(_FILE), list[InputError]()
    made = {name: _si(one) for name, one in shipped.items()}
    told = document.tables.get("rules", {})
    flat: dict[tuple[str, ...], Any] = {}
    for key, value in told.items() if isinstance(told, dict) else ():
        flat |= {(key, k): v for k, v in value.items()} if isinstance(value, dict) else {(key,): value}
    for keys, given in flat.items():
        name, steps = ".".join(keys), ("rules", *keys)
        place: dict[str, Any] = {
            "file": document.path, "line": line_of(document.lines, steps), "field": ".".join(steps)
        }  # fmt: skip
        if name not in shipped:
            near = nearest_name(name, shipped)
            faults.append(InputError("there is no such rule", allowed=f"the {len(shipped)} rules", nearest=near,
                                     **place))  # fmt: skip
            continue
        unit = shipped[name].unit
        ends = given if isinstance(given, list) else [given] * 3
        if len(ends) != 3 or not all(_number(x) for x in ends) or sorted(ends) != ends:
            allowed = f"a number in {unit}, or [low, value, high] from small to large"
            faults.append(InputError("is no value of a rule", found=shown(given), allowed=allowed, **place))
            continue
        low, value, high = (float(x) for x in ends)
        made[name] = _si(Value(value, low, high, unit, f"own: {document.path}", "own"))
    if faults:
        raise FileError(faults)
    return made


def _si(one: Value) -> Value:
    value, low, high = (float(f"{end * _SI[one.unit]:.12g}") for end in (one.value, one.low, one.high))
    return replace(one, value=value, low=low, high=high)


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < 1e6
