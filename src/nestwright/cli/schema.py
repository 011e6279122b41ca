"""`nestwright schema`: print the JSON Schema of the habitat file."""

from __future__ import annotations

import sys


def schema() -> None:
    """Print the JSON Schema of the habitat file."""
    from nestwright.habitat.schema import schema_text

    sys.stdout.write(schema_text())
