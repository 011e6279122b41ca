"""The values that a dry run takes as given: `data/dry_run.toml`, SI, with source and mark."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources

from nestwright.data import Value

__all__ = ["dry_run_values"]


@functools.cache
def dry_run_values() -> dict[str, Value]:
    """Tolerances of parts, faults, and errors of loggers by name, SI."""
    raw = tomllib.loads((resources.files("nestwright.data") / "dry_run.toml").read_text("utf-8"))
    return {
        name: Value(float(e["value"]), float(e["low"]), float(e["high"]), e["unit"], e["source"], e["mark"])
        for name, e in raw.items()
    }
