"""What pydantic refuses in a file, in this tool's words and with its place."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from nestwright.errors import InputError, nearest_name
from nestwright.units import UnitProblem, shown

__all__ = ["Place", "Steps", "keys_of", "translate"]

Steps = tuple[str | int, ...]
"""Way to a value through the tables of a file."""
Place = Callable[[Steps], dict[str, Any]]
"""From the path of a value to the `file`, `line` and `field` of an `InputError`."""

_EXPECTED = {
    "string_type": "a text in quotes",
    "int_type": "a whole number without quotes",
    "bool_type": "true or false",
    "list_type": "a list in [brackets]",
    "tuple_type": "a list in [brackets]",
    "dict_type": "a table",
    "model_type": "a table",
}


def keys_of(form: Any) -> list[str]:
    """Keys that a table of this form may have, as they stand in the file."""
    return [info.alias or name for name, info in form.model_fields.items()]


def translate(found: Any, place: Place, known: Callable[[Steps], list[str]]) -> InputError:
    """One of pydantic's errors as an `InputError`. `known` gives the keys that the table at a path may have."""
    path: Steps = tuple(step for step in found["loc"] if step != "[key]")
    kind, given, context = found["type"], found.get("input"), found.get("ctx") or {}
    problem = context.get("error")
    if isinstance(problem, UnitProblem):
        found, allowed, nearest = problem.found, problem.allowed, problem.nearest
        return InputError(problem.message, found=found, allowed=allowed, nearest=nearest, **place(path))
    if kind == "missing":
        return InputError(f"the key {path[-1]!r} is missing", **place(path[:-1]))
    if kind == "extra_forbidden":
        keys = known(path[:-1])
        nearest = nearest_name(str(path[-1]), keys)
        return InputError("unknown key", allowed=", ".join(keys), nearest=nearest, **place(path))
    seen = shown(given)
    if kind == "literal_error":
        options = re.findall(r"'([^']*)'", context.get("expected", "")) or [str(context.get("expected", ""))]
        nearest = nearest_name(given, options) if isinstance(given, str) else ""
        return InputError("unknown word", found=seen, allowed=", ".join(options), nearest=nearest, **place(path))
    if kind in _EXPECTED:
        allowed = f"[[{path[0]}]] in double brackets" if len(path) == 1 and kind == "list_type" else _EXPECTED[kind]
        return InputError("is of the wrong sort", found=seen, allowed=allowed, **place(path))
    ends = {name: context[name] for name in ("ge", "le", "min_length", "max_length") if name in context}
    allowed = _range(ends.get("ge", ends.get("min_length")), ends.get("le", ends.get("max_length")))
    beyond = " and ".join(
        f"{word} {_plain(context[name])}"
        for name, word in (("gt", "more than"), ("lt", "less than"))
        if name in context
    )
    allowed = " and ".join(one for one in (beyond, allowed) if one)
    if kind in ("too_short", "too_long"):
        return InputError(f"has {context.get('actual_length')} items", allowed=allowed, **place(path))
    if kind in ("string_too_short", "string_too_long"):
        message = f"is too {kind.removeprefix('string_too_')}: {len(str(given))} characters"
        return InputError(message, found=seen, allowed=f"{allowed} characters", **place(path))
    return InputError("is out of range", found=seen, allowed=allowed, **place(path))


def _plain(end: Any) -> Any:
    return int(end) if isinstance(end, float) and end.is_integer() else end


def _range(low: Any, high: Any) -> str:
    return " and ".join(
        f"{word} {_plain(end)}" for word, end in (("at least", low), ("at most", high)) if end is not None
    )
