"""What pydantic refuses in a colony file or its table of visits, in this tool's words and with its place."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from nestwright.colony.form import TABLES, ColonyForm
from nestwright.errors import InputError, nearest_name

__all__ = ["Place", "keys_of", "translate"]

Path = tuple[str | int, ...]
Place = Callable[[Path], dict[str, Any]]
"""From the path of a value to the `file`, `line` and `field` of an `InputError`."""

_EXPECTED = {
    "string_type": "a text in quotes",
    "list_type": "a list in [brackets]",
    "dict_type": "a table",
    "model_type": "a table",
}


def keys_of(table: str) -> list[str]:
    """Keys that a table of the file may have; the file's own for an empty name."""
    form = TABLES[table] if table else ColonyForm
    return [info.alias or name for name, info in form.model_fields.items()]


def translate(found: Any, place: Place) -> InputError:
    """One of pydantic's errors as an `InputError`."""
    path: Path = tuple(found["loc"])
    kind, given, context = found["type"], found.get("input"), found.get("ctx") or {}
    shown = _shown(given)
    if kind == "nestwright":
        return InputError(found["msg"], **{k: context[k] for k in ("found", "allowed", "nearest")}, **place(path))
    if kind == "missing":
        return InputError(f"the key {path[-1]!r} is missing", **place(path[:-1] or path))
    if kind == "extra_forbidden":
        known = keys_of(str(path[0]) if len(path) > 1 else "")
        nearest = nearest_name(str(path[-1]), known)
        return InputError("unknown key", allowed=", ".join(known), nearest=nearest, **place(path))
    if kind == "literal_error":
        options = re.findall(r"'([^']*)'", context.get("expected", "")) or [str(context.get("expected", ""))]
        nearest = nearest_name(given, options) if isinstance(given, str) else ""
        return InputError("unknown word", found=shown, allowed=", ".join(options), nearest=nearest, **place(path))
    if kind in _EXPECTED:
        allowed = f"[[{path[0]}]] in double brackets" if len(path) == 1 and kind == "list_type" else _EXPECTED[kind]
        return InputError("is of the wrong sort", found=shown, allowed=allowed, **place(path))
    ends = (("at least", context.get("min_length")), ("at most", context.get("max_length")))
    allowed = " and ".join(f"{word} {end} letters" for word, end in ends if end is not None)
    return InputError("is too short or too long", found=shown, allowed=allowed, **place(path))


def _shown(value: Any) -> str:
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # a number of more digits than Python writes out, or a deep table
        return ""
    return text if len(text) <= 60 else text[:57] + "..."
