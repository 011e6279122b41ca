"""JSON Schema of the habitat file, for editors and for other programs."""

from __future__ import annotations

from typing import Any

from nestwright.json_schema import schema_of, schema_text_of

__all__ = ["json_schema", "schema_text"]


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a habitat file once read from TOML.

    It knows keys, kinds and units; what needs the whole design (names, sizes that fit) only `nestwright check` knows.
    """
    from nestwright.habitat.form import HabitatForm

    return schema_of(HabitatForm, "Nestwright habitat file")


def schema_text() -> str:
    """The schema as it is published."""
    return schema_text_of(json_schema())
