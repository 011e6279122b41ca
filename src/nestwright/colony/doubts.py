"""Remarks on a record that contradicts itself: a queen lost twice, brood without one, waste that no garden makes.

Nothing here is refused: a look can be wrong, and workers lay too. What cannot have been of garden and workers is
`impossible`'s.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from nestwright.colony.impossible import Told, not_passed
from nestwright.data import load_species

if TYPE_CHECKING:
    from nestwright.colony.build import Entry
    from nestwright.colony.model import Colony, Event, Observation

__all__ = ["doubts"]

_STAGES = {
    "eggs": ("egg_days",),
    "larvae": ("egg_days", "larva_days"),
    "pupae": ("egg_days", "larva_days", "pupa_days"),
}
"""Stages that an egg has gone through, the card's highest length of each, when none of a kind is left."""

_PAST = {
    "eggs": "her last egg has hatched",
    "larvae": "her last larva is a pupa",
    "pupae": "her last pupa is a worker",
}


def doubts(
    colony: Colony, visits: Sequence[Entry], events: Sequence[Entry], today: date | None = None
) -> tuple[str, ...]:
    """A remark on everything of a record that contradicts itself, in order of days.

    Parameters
    ----------
    colony : Colony
        As `build_colony` made it of the visits and events.
    visits, events : sequence of Entry
        Tables and rows of the file.
    today : date, optional
        A start after this day is remarked; not judged without it.

    Returns
    -------
    tuple of str
        "2031-01-20, line 9: queen lost, she was told as lost on 2031-01-12".
    """
    found = [*_passing(colony, visits), *_queenless(colony, visits, events)]
    if today is not None and colony.start > today:
        found.append(f"{colony.start}: the record begins after today, {today}; is the year of the start right?")
    return tuple(sorted(found, key=lambda note: note[:10]))


def _passing(colony: Colony, visits: Sequence[Entry]) -> list[str]:
    """Waste and leaves beyond what the garden can pass."""
    told: dict[Observation | Event, Told] = {}
    on: dict[date, list[Entry]] = {}
    for entry in visits:
        on.setdefault(entry.form.date, []).append(entry)
    for seen in colony.observations:
        if seen.kind in ("waste", "leaves_taken"):
            for entry in on.get(colony.date(seen.day), []):
                same = getattr(entry.form, seen.kind) is not None
                if same and entry.place(seen.kind)["line"] == seen.line:
                    told[seen] = Told(_where(entry, seen.kind, colony.path))
    return not_passed(colony, told)


def _where(entry: Entry, key: str, path: str) -> str:
    """Line of a key, and its file when that is not the colony's own."""
    place = entry.place(key)
    file = "" if place["file"] == path else f"{str(place['file']).replace(chr(92), '/').rpartition('/')[2]}, "
    return f"{file}line {place['line']}" if place["line"] else ""


def _queenless(colony: Colony, visits: Sequence[Entry], events: Sequence[Entry]) -> list[str]:
    """A queen lost who was lost before, and brood seen when all that she left must have grown up."""
    found: list[str] = []
    card = load_species(colony.species).growth
    lost: date | None = colony.start if colony.queen == 0 else None
    why = "the record begins without a queen"
    added: date = date.min  # the last brood put in
    things: list[tuple[date, int, Entry]] = [(e.form.date, 0, e) for e in visits]
    things += [(e.form.date, 1, e) for e in events]

    def note(entry: Entry, key: str, text: str) -> None:
        where = _where(entry, key, colony.path)
        found.append(f"{entry.form.date}{f', {where}' if where else ''}: {text}")

    for day, _, entry in sorted(things, key=lambda thing: thing[:2]):
        what = getattr(entry.form, "what", "")
        if what == "queen lost":
            if lost is not None:
                note(entry, "what", f"queen lost, {why}")
            else:
                lost, why = day, f"she was told as lost on {day}"
        elif what == "queen laying":
            lost = None
        elif what in ("eggs added", "larvae added", "pupae added"):
            added = day
        elif not what and lost is not None:
            for kind in dict.fromkeys(entry.form.seen):
                days = sum(card[stage].high for stage in _STAGES[kind])
                if (day - max(lost, added)).days > days:
                    why_none = why.replace("she was", "the queen was")
                    left = f"{_PAST[kind]} after {days:.0f} days at most by the card"
                    note(entry, "seen", f"{kind} seen, {why_none}; {left}")
    return found
