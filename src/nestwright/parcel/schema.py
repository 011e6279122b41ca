"""JSON Schema of the parcel file, for editors and for other programs."""

from __future__ import annotations

from typing import Any

from nestwright.json_schema import schema_of, schema_text_of

__all__ = ["parcel_schema", "parcel_schema_text"]


def parcel_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a parcel file once read from TOML, its moments as text.

    It knows keys, kinds and units; what needs the whole parcel (a cup that fits, a pack's own keys, a promise that the
    legs keep) only `nestwright parcel` knows.
    """
    from nestwright.parcel.form import ParcelForm

    return schema_of(ParcelForm, "Nestwright parcel file")


def parcel_schema_text() -> str:
    """The schema as it is published."""
    return schema_text_of(parcel_schema())
