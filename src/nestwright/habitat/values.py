"""Single values of a design by dotted key, so that a command can read, free and change them.

A key is the part's table, the part's name, and the key: "vent.crown.count", "heater.mat.power". A part without a name
goes by its chamber ("bell.pot.rim_gap", "insulation.pot.layer"), a grid by the chamber above it, a plug by what it
closes. Items of a list are counted from 0, from the inside: "chamber.pot.side.layers[1]" is the thickness of the
second layer. A part can also be told by its number in the file: "vent[2].count".
"""

from __future__ import annotations

import copy
import math
import re
from dataclasses import dataclass
from typing import Any

from nestwright.errors import InputError, nearest_name
from nestwright.positions import path_text
from nestwright.units import KINDS, UnitProblem, format_quantity, parse_layer, parse_quantity, split_unit

__all__ = ["FreeValue", "dotted_label", "free_value", "get_value", "set_value"]

_OWNERS = {
    "bell": ("chamber",),
    "grid": ("above",),
    "water": ("name", "chamber", "kind"),
    "garden": ("chamber",),
    "insulation": ("chamber",),
    "plug": ("closes",),
    "make": ("part",),
}
_STEP = re.compile(r"([^\[\]]+)(?:\[(\d+)\])?")
_MAX_COUNT = 1_000_000


@dataclass(frozen=True)
class FreeValue:
    """One value of a design: its text in the file ("" when left out), SI value, unit and the range the file accepts."""

    key: str
    path: tuple[str | int, ...]
    kind: str
    """One of `units.KINDS`, "count" for a whole number, "layer" for a wall layer, "text" for anything else."""
    text: str
    value: float | None
    unit: str
    low: float
    high: float

    @property
    def whole(self) -> bool:
        return self.kind == "count"


def _names(doc: dict[str, Any], table: str) -> dict[str, int]:
    """Names by which the parts of one table go, with their place in the list."""
    found: dict[str, int] = {}
    parts = doc.get(table)
    for i, part in enumerate(parts if isinstance(parts, list) else []):
        for key in _OWNERS.get(table, ("name",)) if isinstance(part, dict) else ():
            name = part.get(key)
            if isinstance(name, str):
                found.setdefault(name, i)
    return found


def dotted_label(doc: dict[str, Any], path: tuple[str | int, ...]) -> str:
    """("vent", 2, "count") as "vent.crown.count"; with the number when the part has no name of its own."""
    if len(path) >= 2 and isinstance(path[0], str) and isinstance(path[1], int):
        for name, i in _names(doc, path[0]).items():
            if i == path[1] and re.fullmatch(r"[\w -]+", name):
                return path_text((path[0], name, *path[2:]))
    return path_text(path)


def _unknown(key: str, step: str, known: list[str], what: str) -> InputError:
    allowed = ", ".join(known) if known else f"the file has no {what}"
    return InputError(
        f"there is no {what} of this name",
        field=key,
        found=repr(step),
        allowed=allowed,
        nearest=nearest_name(step, known),
    )


def _fields(model: Any) -> dict[str, Any]:
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _locate(doc: dict[str, Any], key: str) -> tuple[tuple[str | int, ...], str]:
    """Path and kind of a key, judged by the form of the file."""
    from nestwright.habitat.form import TABLES, FaceForm, HabitatForm, LimitForm, Quantity

    steps: list[tuple[str, int | None]] = []
    for text in key.split("."):
        match = _STEP.fullmatch(text.strip())
        if match is None:
            raise InputError("cannot be read as a key", field=key, allowed="table.name.key, as 'vent.crown.count'")
        steps.append((match[1], None if match[2] is None else int(match[2])))
    (first, index), rest = steps[0], steps[1:]
    path: tuple[str | int, ...] = (first,)
    top = {k: v for k, v in _fields(HabitatForm).items() if k not in TABLES}
    if first in TABLES:
        if index is None:
            names = _names(doc, first)
            if not rest or rest[0][0] not in names:
                raise _unknown(key, rest[0][0] if rest else "", list(names), first)
            index, rest = names[rest[0][0]], rest[1:]
        elif index >= len(doc.get(first, [])):
            raise _unknown(key, f"{first}[{index}]", list(_names(doc, first)), first)
        path, fields = (first, index), _fields(TABLES[first])
    elif first == "limits" and len(rest) == 2:
        path, rest, fields = (first, rest[0][0]), rest[1:], _fields(LimitForm)
    else:
        rest, path, fields = steps, (), top
    if not rest:
        raise InputError("the key of a value is missing", field=key, allowed=", ".join(fields))
    name, item = rest[0]
    if name in ("side", "top", "base") and name in fields and len(rest) == 2:
        path, fields = (*path, name), _fields(FaceForm)
        name, item = rest[1]
        rest = rest[1:]
    if name not in fields or len(rest) != 1:
        known = [*fields, *([*TABLES] if fields is top else [])]
        wrong = rest[0][0] if fields is top else ".".join(s for s, _ in rest)
        raise _unknown(key, wrong, known, "key")
    path = (*path, name)
    if item is not None:
        path = (*path, item)
    if name == "layer" or (name == "layers" and item is not None):
        return path, "layer"
    if name == "place" and item is not None and item < 3:
        return path, "position"
    if name in ("count", "workers"):
        return path, "count"
    kinds = [x.kind for x in fields[name].metadata if isinstance(x, Quantity)]
    return path, kinds[0] if kinds and item is None else "text"


def _at(doc: Any, path: tuple[str | int, ...]) -> Any:
    for step in path:
        try:
            doc = doc[step]
        except (KeyError, IndexError, TypeError):
            return None
    return doc


def free_value(doc: dict[str, Any], key: str) -> FreeValue:
    """What stands at a dotted key of a design as read from TOML, its unit, and the range that the file accepts.

    Raises
    ------
    InputError
        For a part or key that does not exist, with the nearest name; or a value that cannot be read.
    """
    path, kind = _locate(doc, key)
    raw = _at(doc, path)
    text = "" if raw is None else str(raw)
    try:
        if kind == "layer":
            if raw is None:
                raise InputError("there is no such layer", field=key)
            thickness, _ = parse_layer(raw)
            _, unit = split_unit(text[: text.rindex(parse_layer(raw)[1])], "length")
            spec = KINDS["length"]
            return FreeValue(key, path, kind, text, thickness, unit, spec.low, spec.high)
        if kind == "count":
            return FreeValue(key, path, kind, text, None if raw is None else float(raw), "", 1.0, float(_MAX_COUNT))
        if kind == "text":
            return FreeValue(key, path, kind, text, None, "", -math.inf, math.inf)
        spec = KINDS[kind]
        if raw is None:
            return FreeValue(key, path, kind, "", None, next(iter(spec.units)), spec.low, spec.high)
        return FreeValue(
            key, path, kind, text, parse_quantity(raw, kind), split_unit(raw, kind)[1], spec.low, spec.high
        )
    except UnitProblem as problem:
        raise _input_error(key, problem) from None
    except (TypeError, ValueError, OverflowError):
        raise InputError("cannot be read", field=key, found=repr(raw)[:60]) from None


def _input_error(key: str, problem: UnitProblem) -> InputError:
    return InputError(problem.message, field=key, found=problem.found, allowed=problem.allowed, nearest=problem.nearest)


def get_value(doc: dict[str, Any], key: str) -> str:
    """Text of the value at a dotted key, "" when the file leaves it out; of a layer only the thickness."""
    found = free_value(doc, key)
    if found.kind == "layer" and found.value is not None:
        return format_quantity(found.value, "length", found.unit)
    return found.text


def set_value(doc: dict[str, Any], key: str, value: str | float) -> dict[str, Any]:
    """A copy of the design with one value changed; the given one stays as it is.

    Parameters
    ----------
    doc : dict
        The design as read from TOML.
    key : str
        Dotted key, see the module.
    value : str or float
        A text with its unit ("6 W"; for a layer "20 mm" or "20 mm cork"), or a number in SI, which is written in the
        unit that stands in the file. A count is rounded to a whole number.

    Raises
    ------
    InputError
        For an unknown key, or a value that the file does not accept.
    """
    old = free_value(doc, key)
    new: Any = value
    try:
        if old.kind == "count":
            new = round(float(value))
        elif old.kind == "layer":
            material = parse_layer(old.text)[1]
            if not isinstance(value, str):
                new = f"{format_quantity(value, 'length', old.unit)} {material}"
            elif re.fullmatch(r"\s*\S+\s*[A-Za-zµμ]+\s*", value):
                new = f"{value.strip()} {material}"
            parse_layer(new)
        elif old.kind != "text":
            if not isinstance(value, str):
                new = format_quantity(float(value), old.kind, old.unit)
            parse_quantity(new, old.kind)
    except UnitProblem as problem:
        raise _input_error(key, problem) from None
    except (TypeError, ValueError, OverflowError):
        raise InputError("cannot be read as a number", field=key, found=repr(value)[:60]) from None
    changed = copy.deepcopy(doc)
    spot: Any = changed
    for step, following in zip(old.path[:-1], old.path[1:], strict=True):
        if isinstance(step, str) and step not in spot:
            spot[step] = [] if isinstance(following, int) else {}
        spot = spot[step]
    spot[old.path[-1]] = new
    return changed
