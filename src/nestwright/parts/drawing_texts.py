"""What a drawing says in words: the table of features, the fits of the part's joints, notes on tolerances."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from nestwright.parts.model import Assembly, Feature, Part
from nestwright.parts.process_rules import Processes
from nestwright.parts.tolerances import fit, general

__all__ = ["PartFit", "Row", "fits_of", "notes_of", "number", "rows_of"]

_WORDS = {"hole": "⌀", "bore": "⌀", "spigot": "⌀", "edge": "R"}
_MOST = 24
"""Lines that each have one feature; with more they are drawn together."""


@dataclass(frozen=True)
class PartFit:
    """One side of a fit: nominal size m, class such as "H9", deviations m, and the joint."""

    size: float
    name: str
    low: float
    high: float
    joint: str
    inside: bool


@dataclass(frozen=True)
class Row:
    """A line of the table of features; `at` None where the part does not say where it is."""

    label: str
    kind: str
    name: str
    size: str
    tolerance: str
    count: str
    where: str
    at: tuple[float, float, float] | None


def number(mm: float) -> str:
    """A length in mm with two decimals at most."""
    text = f"{mm:.2f}".rstrip("0").rstrip(".")
    return text if text != "-0" else "0"


def fits_of(part: Part, assembly: Assembly | None) -> tuple[PartFit, ...]:
    """Fits of a part's joints: it has the hole where it is the outer part."""
    found = []
    for joint in assembly.joints if assembly is not None else ():
        if not joint.fit or part.name not in (joint.outer, joint.inner):
            continue
        pair = fit(joint.fit, joint.size)
        inside = joint.outer == part.name
        low, high = pair.hole if inside else pair.shaft
        found.append(PartFit(joint.size, pair.name.split("/")[0 if inside else 1], low, high, joint.name, inside))
    return tuple(found)


def rows_of(part: Part, fits: tuple[PartFit, ...]) -> tuple[Row, ...]:
    """A line for every feature in the order of the part; of many, one for all that differ only by their place."""
    groups: dict[tuple[str, str, float], list[Feature]] = {}
    for feature in part.features:
        stem = feature.name
        if len(part.features) > _MOST:
            stem = re.sub(r"[\s#]*\d+$", "", feature.name) or feature.name
        groups.setdefault((feature.kind, stem, round(feature.size, 7)), []).append(feature)
    rows = []
    for place, ((kind, stem, size), members) in enumerate(groups.items()):
        degrees = kind in ("draft", "overhang")
        ratio = kind == "depth"
        shown = number(math.degrees(size)) + "°" if degrees else number(size if ratio else size * 1e3)
        held = next((f for f in fits if abs(f.size - size) < 5e-7 and f.inside == (kind != "spigot")), None)
        if held is not None:
            tolerance = held.name
        elif degrees or ratio or kind in ("gap", "edge"):
            tolerance = ""
        else:
            tolerance = number(general(size) * 1e3)
        first = members[0]
        at = first.at if first.at != (0.0, 0.0, 0.0) else None
        where = ", ".join(number(round(x * 1e3, 1)) for x in at) if at is not None else ""
        name = stem if stem.startswith(kind) else f"{kind}: {stem}"
        count = str(sum(m.count for m in members))
        rows.append(Row(_letter(place), kind, name, _WORDS.get(kind, "") + shown, tolerance, count, where, at))
    return tuple(rows)


def _letter(place: int) -> str:
    letters = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # without I and O, which look like digits
    return (
        letters[place] if place < len(letters) else letters[place // len(letters) - 1] + letters[place % len(letters)]
    )


def notes_of(part: Part, fits: tuple[PartFit, ...], processes: Processes) -> tuple[str, ...]:
    """General tolerance, fits with their limits, and what the way of making holds."""
    notes = ["Sizes in mm. General tolerances ISO 2768-m where nothing else is said."]
    for one in fits:
        sign = "hole" if one.inside else "shaft"
        low, high = (f"{x * 1e3:+.3f}" if x else "0" for x in (one.low, one.high))
        notes.append(f"Fit {one.joint}: {sign} {number(one.size * 1e3)} {one.name} ({high} / {low})")
    if part.way != "bought":
        span = 0.1
        spread = processes.spread(part.way, span)
        rule = processes.rule(part.way, "tolerance")
        mark = rule.mark if rule is not None else "judgement"
        more = " Wider than ISO 2768-m: measure, or finish by hand." if spread > general(span) else ""
        notes.append(f"This way of making holds about ±{number(spread * 1e3)} mm over 100 mm ({mark}).{more}")
    notes.append("Break all edges that ants or hands meet.")
    if part.note:
        notes.append(part.note)
    return tuple(notes)
