"""What a record itself tells as lost: garden, workers, queen. No weighing of causes, no fit."""

from __future__ import annotations

from nestwright.colony.model import Colony

__all__ = ["garden_gone", "known_losses"]

_ALL = 0.995
"""Share of a garden that is told as lost from which nothing is left: what 100 % may be rounded from."""
_NO_NUMBER = 1e8
"""mL or workers from which an amount taken is no number but all that there is."""
_MORE = {"garden": ("garden_added",), "workers": ("workers_added", "pupae_added")}
_LESS = {"garden": "garden_taken", "workers": "workers_taken"}


def known_losses(colony: Colony) -> tuple[str, ...]:
    """One line for each loss that the record tells of and that nothing later in it takes back.

    A garden counts as gone when all of it is told as lost or taken, or 0 mL was read, and nothing was added or read
    afterwards; workers likewise, where some were there before (a queen who founds has none); a queen when she is told
    as lost or as none, and as laying no more after that. What kills all else comes first.
    """
    garden, workers, queen = (_gone(colony, "garden"), _gone(colony, "workers"), _queen_lost(colony))
    lines = []
    if garden is not None and workers is not None:
        lines.append(
            f"By the record nothing lives any more: no garden since {colony.date(garden)}, "
            f"no workers since {colony.date(workers)}"
        )
    elif garden is not None:
        lines.append(f"By the record the garden is gone since {colony.date(garden)}: see `nestwright rescue FILE`")
    elif workers is not None:
        lines.append(f"By the record there are no workers since {colony.date(workers)}")
    if queen is not None:
        lines.append(
            f"By the record the queen is lost since {colony.date(queen)}"
            if queen >= 0
            else "By the record there is no queen"
        )
    return tuple(lines)


def garden_gone(colony: Colony) -> bool:
    """Whether the record tells that no garden is left."""
    return _gone(colony, "garden") is not None


def _gone(colony: Colony, kind: str) -> float | None:
    """Day from which none is left by the record, None where some is or may be."""
    start = getattr(colony.at_start, kind)
    last, read = (None, -1.0) if start is None else (float(start[0]), 0.0)
    gone = 0.0 if kind == "garden" and last == 0 else None
    # a look comes before what is done on its day
    told = sorted(
        [(o.day, 0, o.value, "seen") for o in colony.observations if o.kind == kind]
        + [(e.day, 1, e.value, e.kind) for e in colony.events],
        key=lambda one: one[:2],
    )
    for day, _, value, what in told:
        if what in _MORE[kind] and value > 0:
            last, gone = None, None
        elif what == "seen" and value > 0:
            last, read, gone = value, day, None
        # a queen who founds has no workers yet: nothing is lost where there was none
        elif (kind == "garden" or last != 0) and _none_left(kind, what, value, last if read == day else None):
            gone = day if gone is None else gone
    return gone


def _none_left(kind: str, what: str, value: float, today: float | None) -> bool:
    """Whether this tells that none is left; `today`: what was read on the same day."""
    if what == "seen":
        return value <= 0
    if what == _LESS[kind]:
        # less was read on another day: it has grown since, nobody knows how far
        return value >= _NO_NUMBER or (today is not None and value >= today)
    return kind == "garden" and what == "garden_share_lost" and value >= _ALL


def _queen_lost(colony: Colony) -> float | None:
    """Day from which there is no queen, -1 where there was none from the start, None where there is or may be one."""
    lost = -1.0 if colony.queen == 0 else None
    for event in sorted((e for e in colony.events if e.kind == "queen"), key=lambda e: e.day):
        if event.value > 0:
            lost = None
        elif lost is None:
            lost = event.day
    return lost
