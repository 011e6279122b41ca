"""The usual cautions for making the parts of a habitat."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources

from nestwright.parts.model import Assembly

__all__ = ["making_cautions"]


@functools.cache
def _table() -> dict[str, dict[str, str]]:
    text = (resources.files("nestwright.data") / "making_cautions.toml").read_text("utf-8")
    return {group: {k: str(v["text"]) for k, v in rows.items()} for group, rows in tomllib.loads(text).items()}


def making_cautions(assembly: Assembly) -> tuple[str, ...]:
    """What to take care of when the parts of a habitat are made and joined, each once, in the order of the table."""
    table = _table()
    ways = {part.way for part in assembly.parts}
    materials = {part.material for part in assembly.parts}
    joints = {joint.kind for joint in assembly.joints}
    found = [text for way, text in table["way"].items() if way in ways]
    found += [text for material, text in table["material"].items() if material in materials]
    return (*found, *(text for kind, text in table["joint"].items() if kind in joints))
