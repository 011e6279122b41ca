"""The bytes of a picture file, by the ending of its name."""

from __future__ import annotations

from typing import Any

from nestwright.charts.render import to_png, to_svg

__all__ = ["picture_bytes"]


def picture_bytes(drawn: Any, suffix: str) -> bytes:
    """A chart, or SVG text, as the content of a `.png` or `.svg` file."""
    return to_png(drawn) if suffix == ".png" else to_svg(drawn).encode()
