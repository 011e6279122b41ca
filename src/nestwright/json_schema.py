"""JSON Schema of a file that a person writes, made from its form, for editors and for other programs."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pydantic import BaseModel

__all__ = ["schema_of", "schema_text_of"]


def schema_of(form: type[BaseModel], title: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a file of this form once read from TOML."""
    made = form.model_json_schema(by_alias=True)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title}
    return {**head, **{k: v for k, v in _plain(made).items() if k != "title"}}


def schema_text_of(schema: dict[str, Any]) -> str:
    """A schema as it is published."""
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def _plain(node: Any) -> Any:
    """Without null, which TOML does not have, without defaults in units of the program, and without made-up titles."""
    if isinstance(node, list):
        return [_plain(x) for x in node]
    if not isinstance(node, dict):
        return node
    out: dict[str, Any] = {}
    for key, value in node.items():
        if key == "properties" and isinstance(value, dict):
            out[key] = {name: _plain(inner) for name, inner in value.items()}
        elif key == "anyOf" and {"type": "null"} in value:
            left = [_plain(x) for x in value if x != {"type": "null"}]
            merged: dict[str, Any] = left[0] if len(left) == 1 else {"anyOf": left}
            out.update(merged)
        elif key == "title" or (key == "default" and _of_the_program(value)):
            continue
        else:
            out[key] = _plain(value)
    return out


def _of_the_program(default: Any) -> bool:
    """Whether a default is none of the file's: no value, a number without unit, or a table of such."""
    return default is None or isinstance(default, float) or (isinstance(default, dict) and default != {})
