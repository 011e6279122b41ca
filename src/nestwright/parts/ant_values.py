"""What ants and hands need of parts: head widths of the species cards and the table data/ants.toml, SI."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

from nestwright.data import SpeciesCard, Value, read_values

__all__ = ["Stop", "ant_values", "smallest_head", "stop_of"]


@functools.cache
def ant_values() -> dict[str, Value]:
    """Values of data/ants.toml by name; lengths m, multiples of a head width as they are."""
    return {
        name: replace(one, value=one.value / 1e3, low=one.low / 1e3, high=one.high / 1e3, unit="m")
        if one.unit == "mm"
        else one
        for name, one in read_values("ants.toml").items()
    }


def smallest_head(card: SpeciesCard) -> Value:
    """Head width of the smallest workers of a species, m, with its range and mark."""
    one = card.raw["worker"]["head_width"]
    return Value(one["value"], one["low"], one["high"], one["unit"], one["source"], one["mark"])


@dataclass(frozen=True)
class Stop:
    """Openings and the smallest worker, m: up to `sure` none passes; above `passes` every one does, though the card
    errs; up to `trap` an opening that ends blind takes in a head and no body."""

    sure: float
    passes: float
    trap: float
    mark: str


def stop_of(card: SpeciesCard) -> Stop:
    """What stops the smallest worker of a species."""
    head, values = smallest_head(card), ant_values()
    tight = values["tight"].value
    return Stop(head.low * tight, head.high * values["tight"].high, head.high * values["trap"].value, head.mark)
