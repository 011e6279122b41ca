"""Nothing left, as a record tells it: no reading with an error, but the day from which garden or workers are gone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from nestwright.colony.model import Event, EventKind, Observation

__all__ = ["taken_as_gone"]

_LOST: dict[str, tuple[EventKind, float, str]] = {
    "garden": ("garden_share_lost", 1.0, "no garden left"),
    "workers": ("workers_taken", 1e9, "no workers left"),
}
_ADDED = {"garden": ("garden_added",), "workers": ("workers_added", "pupae_added")}


def taken_as_gone(
    observations: Sequence[Observation], events: Sequence[Event], start: date
) -> tuple[list[Observation], list[Event], list[str]]:
    """Observations without those of nothing left, the events that stand for these, and a note on each.

    A nought stays an observation where more was seen later without anything added between: then it was the look that
    was wrong.
    """
    kept: list[Observation] = []
    gone: list[Event] = []
    notes: list[str] = []
    for seen in observations:
        if seen.kind not in _LOST or seen.value > 0 or _seen_again(seen, observations, events):
            kept.append(seen)
            continue
        kind, value, words = _LOST[seen.kind]
        gone.append(Event(seen.day, kind, value, note="told as gone", line=seen.line))
        notes.append(f"{start + timedelta(days=int(seen.day))}: {words} by the record; taken as gone from that day")
    return kept, gone, notes


def _seen_again(nought: Observation, observations: Sequence[Observation], events: Sequence[Event]) -> bool:
    """Whether more was seen after a nought before anything was added."""
    added = [e.day for e in events if e.kind in _ADDED[nought.kind] and e.day >= nought.day]
    end = min(added, default=float("inf"))
    return any(o.kind == nought.kind and o.value > 0 and nought.day < o.day <= end for o in observations)
