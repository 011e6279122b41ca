"""JSON Schema of the habitat file, for editors and for other programs."""

from __future__ import annotations

import json
from typing import Any

__all__ = ["json_schema", "schema_text"]


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a habitat file once read from TOML.

    It knows keys, kinds and units; what needs the whole design (names, sizes that fit) only `nestwright check` knows.
    """
    from nestwright.habitat.form import HabitatForm

    made = HabitatForm.model_json_schema(by_alias=True)
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Nestwright habitat file"}
    return {**head, **{k: v for k, v in _plain(made).items() if k != "title"}}


def schema_text() -> str:
    """The schema as it is published."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


def _plain(node: Any) -> Any:
    """Without null, which TOML does not have, and without defaults in SI, which no file holds."""
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
        elif (key == "default" and (value is None or isinstance(value, float))) or (
            key == "title" and isinstance(value, str)
        ):
            continue
        else:
            out[key] = _plain(value)
    return out
