"""The values that a dry run takes as given: `data/dry_run.toml`, SI, with source and mark."""

from __future__ import annotations

from nestwright.data import Value, read_values

__all__ = ["dry_run_values"]


def dry_run_values() -> dict[str, Value]:
    """Tolerances of parts, faults, and errors of loggers by name, SI."""
    return read_values("dry_run.toml")
