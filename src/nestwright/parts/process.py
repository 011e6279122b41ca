"""Which sizes of a part its way of making cannot make, with the place, the figure and the rule."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Any, Literal

from nestwright.data import Value
from nestwright.parts.model import Assembly, Feature, Measured, Part
from nestwright.parts.process_rules import Processes, shipped_processes
from nestwright.parts.tolerances import Offset

__all__ = ["Broken", "broken_rules"]

_SMALLEST = {
    "wall": "wall", "hole": "hole", "bore": "hole", "slot": "slot", "gap": "gap", "land": "land", "text": "text",
    "draft": "draft", "spigot": "pin",
}  # fmt: skip
_LARGEST = {"bridge": "bridge", "overhang": "overhang", "depth": "depth"}
_WORDS = {
    "bore": "bore", "pin": "spigot", "text": "height of letters", "land": "material between two openings",
    "depth": "depth over width", "bed": "size",
}  # fmt: skip
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Broken:
    """A size that its way of making cannot hold (error), or holds only with care (warning).

    `size` and the rule's `limit` in m, rad for "draft" and "overhang", a ratio for "depth"; `at` m in the part's own
    frame. `size` is what is drawn, after the machine's measured offset is taken off.
    """

    severity: Literal["error", "warning"]
    part: str
    rule: str
    feature: str
    at: tuple[float, float, float]
    size: float
    limit: float
    way: str
    largest: bool
    source: str
    mark: str
    line: int = 0

    @property
    def message(self) -> str:
        """The fault as one line for a person, in mm or degrees."""
        word = _WORDS.get(self.rule, self.rule)
        able = "cannot be" if self.severity == "error" else "is not surely"
        place = ", ".join(f"{x * 1e3:.1f}" for x in self.at)
        bound = "at most" if self.largest else "at least"
        return (
            f"{self.part}: {self.feature} at ({place}) mm: {word} {_told(self.rule, self.size)} {able} {self.way}; "
            f"{bound} {_told(self.rule, self.limit)} ({self.mark})"
        )

    def to_dict(self) -> dict[str, Any]:
        """Keys as the fields; lengths in mm, angles in degrees."""
        return {
            "severity": self.severity,
            "part": self.part,
            "rule": self.rule,
            "feature": self.feature,
            "at_mm": [round(x * 1e3, 3) for x in self.at],
            "size": _shown(self.rule, self.size),
            "limit": _shown(self.rule, self.limit),
            "unit": _unit(self.rule),
            "way": self.way,
            "message": self.message,
            "source": self.source,
            "mark": self.mark,
            "line": self.line,
        }


def broken_rules(
    assembly: Assembly, processes: Processes | None = None, measured: Mapping[str, Measured] | None = None
) -> tuple[Broken, ...]:
    """Every size of an assembly's parts that breaks a rule of its way of making, in the order of the parts.

    Parameters
    ----------
    assembly : Assembly
        Parts with their features; bought parts are not judged.
    processes : Processes, optional
        Rules and machines with their measured offsets; else the shipped rules.
    measured : mapping, optional
        Measured boxes by name of part: then parts that no machine's bed takes are told, too.

    Notes
    -----
    A rule has a range: beyond its good end no machine makes the size (error), between that end and its middle some do
    (warning). Where a machine's offset was measured, a rule is judged on the size that has to be drawn: a hole that
    comes out small is drawn larger, and the material between two such holes thinner.
    """
    rules = processes or shipped_processes()
    found: list[Broken] = []
    for part in assembly.parts:
        if part.way == "bought":
            continue
        offset = rules.offset(part.way) or Offset()
        for feature in _alike(_features(part)):
            found += _judged(part, feature, rules, offset)
        found += _bed(part, rules, (measured or {}).get(part.name))
    return tuple(found)


def _features(part: Part) -> Iterator[Feature]:
    yield from part.features
    pattern = part.pattern
    if (
        pattern is not None
        and pattern.kind != "mesh"
        and not any(f.kind in ("hole", "slot", "bore") for f in part.features)
    ):
        yield Feature("hole" if pattern.kind == "hole" else "slot", "openings", pattern.width, count=pattern.count)


def _alike(features: Iterable[Feature]) -> Iterator[Feature]:
    """Features that differ by the number in their name and their place are one, with their count; the first's place."""
    groups: dict[tuple[str, str, float], Feature] = {}
    for feature in features:
        stem = re.sub(r"\s+\d+$", "", feature.name)
        key = (feature.kind, stem, round(feature.size, 9))
        old = groups.get(key)
        groups[key] = replace(old, name=stem, count=old.count + feature.count) if old else feature
    yield from groups.values()


def _drawn(feature: Feature, offset: Offset) -> float:
    if feature.kind in ("hole", "slot", "bore", "gap"):
        return (feature.size - offset.hole) / offset.scale
    if feature.kind in ("wall", "spigot"):
        return (feature.size - offset.spigot) / offset.scale
    if feature.kind == "land":
        return (feature.size + offset.hole) / offset.scale
    return feature.size


def _judged(part: Part, feature: Feature, rules: Processes, offset: Offset) -> Iterator[Broken]:
    largest = feature.kind in _LARGEST
    name = _LARGEST.get(feature.kind) or _SMALLEST.get(feature.kind, "")
    if part.way == "cut" and "outer" in part.sizes and feature.kind == "wall":
        return  # a tube's wall is that of the stock
    rule = rules.rule(part.way, name)
    if rule is None or (feature.kind == "gap" and feature.size <= 0):  # a gap of nothing is two parts that touch
        return
    size = _drawn(feature, offset)
    beyond = size > rule.high + _ROUNDING if largest else size < rule.low - _ROUNDING
    doubtful = size > rule.value + _ROUNDING if largest else size < rule.value - _ROUNDING
    if beyond or doubtful:
        yield _broken(part, feature, name, size, rule, beyond, largest)


def _broken(part: Part, feature: Feature, name: str, size: float, rule: Value, beyond: bool, largest: bool) -> Broken:
    end = rule.high if largest else rule.low
    limit = end if beyond else rule.value
    what = feature.name if feature.count == 1 else f"{feature.name} ({feature.count})"
    severity: Literal["error", "warning"] = "error" if beyond else "warning"
    return Broken(severity, part.name, name, what, feature.at, size, limit, part.way, largest, rule.source, rule.mark,
                  part.line)  # fmt: skip


def _bed(part: Part, rules: Processes, size: Measured | None) -> Iterator[Broken]:
    """A part that no machine of its way takes, however it is laid."""
    beds = [m for m in rules.machines if m.way == part.way and m.bed is not None]
    if part.sheet is not None:
        xs, ys = zip(*part.sheet.outline, strict=True)
        box = (max(xs) - min(xs), max(ys) - min(ys), part.sheet.thickness)
    elif size is not None:
        box = size.box
    else:
        return
    if not beds:
        return
    ways = [box, (box[1], box[0], box[2])] if part.sheet is not None else list(permutations(box))
    for machine in beds:
        bed = machine.bed
        assert bed is not None
        height = machine.height or math.inf
        if any(
            a <= bed.width + _ROUNDING and b <= bed.depth + _ROUNDING and c <= height + _ROUNDING for a, b, c in ways
        ):
            return
    room = max(max(m.bed.width, m.bed.depth) for m in beds if m.bed is not None)
    at = (0.0, 0.0, 0.0)
    source = f"beds of {', '.join(m.name for m in beds)}"
    yield Broken("error", part.name, "bed", "whole part", at, max(box), room, part.way, True, source, "own", part.line)


def _unit(rule: str) -> str:
    return "deg" if rule in ("draft", "overhang") else "1" if rule == "depth" else "mm"


def _shown(rule: str, size: float) -> float:
    factor = {"deg": 180 / math.pi, "1": 1.0, "mm": 1e3}[_unit(rule)]
    return float(f"{size * factor:.4g}")


def _told(rule: str, size: float) -> str:
    unit = _unit(rule)
    return f"{_shown(rule, size):.3g}{'' if unit == '1' else ' ' + unit}"
