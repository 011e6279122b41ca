"""Sizes of parts that no habitat file tells (data/parts.toml), SI: the proof and the parts take the same."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

from nestwright.data import Value, read_values

__all__ = ["size", "size_values"]

_SI = {"mm": 1e-3, "deg": math.pi / 180}


@functools.cache
def size_values() -> dict[str, Value]:
    """The values of data/parts.toml by name: lengths m, angles rad, densities kg/m3."""
    found = {}
    for name, one in read_values("parts.toml").items():
        factor = _SI.get(one.unit, 1.0)
        ends = (one.value * factor, one.low * factor, one.high * factor)
        found[name] = replace(one, value=ends[0], low=ends[1], high=ends[2])
    return found


def size(name: str) -> float:
    """The middle value of one of them."""
    return size_values()[name].value
