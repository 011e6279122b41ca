"""What of a visit is kept and yet doubted.

An amount of leaves far beyond all before, or of no plant; a plant's name as if misspelt; a garden that is larger than
what stands over it.
"""

from __future__ import annotations

from difflib import get_close_matches

from sqlalchemy import Connection, func, select

from nestwright.workshop.colonies import Kept, model_colony
from nestwright.workshop.tables import bell, feeding, visit
from nestwright.workshop.visits import VisitEntry

__all__ = ["NO_PLANT", "doubts_of", "remarks_on"]

NO_PLANT = "no plant is told with the leaves"

BEYOND = 10.0
"""Times the most that this colony was given before (judgement)."""
FIRST = {"g": 200.0, "cm2": 10_000.0}
"""Most that is not doubted of a colony that was given nothing before (judgement)."""

ALIKE = 0.75
"""Share of letters in common from which a new plant's name is taken for a misspelt one (judgement)."""


def doubts_of(connection: Connection, colony_id: int, entry: VisitEntry) -> tuple[str, ...]:
    """Remarks on a visit's leaves and garden, against what the record holds without it."""
    earlier = select(func.max(feeding.c.amount)).join(visit).where(visit.c.colony_id == colony_id)
    said = []
    for one in entry.feedings:
        before = earlier.where(feeding.c.unit == one.unit, visit.c.uid != entry.uid)
        most = connection.execute(before).scalar()
        limit = FIRST[one.unit] if most is None else BEYOND * float(most)
        if one.amount > limit:
            than = "nothing was given before" if most is None else f"the most before was {most:g} {one.unit}"
            said.append(f"{one.amount:g} {one.unit} of leaves at once: {than}. A slip of the unit or of the point?")
    told = {one.plant for one in entry.feedings if one.plant}
    query = select(feeding.c.plant).join(visit).where(feeding.c.plant != "", visit.c.uid != entry.uid).distinct()
    known = {str(plant) for plant in connection.execute(query).scalars()}
    for plant in sorted(told - known):
        near = get_close_matches(plant[:200], known, n=1, cutoff=ALIKE)
        said += [f"{plant} was never given before: is it {near[0]}?"] if near else []
    if any(not one.plant for one in entry.feedings):
        said.append(NO_PLANT)
    return (*said, *_too_large(connection, colony_id, entry))


def remarks_on(connection: Connection, kept: Kept, entry: VisitEntry) -> tuple[str, ...]:
    """All that is said of a visit in the record: what the growth model takes otherwise, then `doubts_of`.

    Raises InputError (FileError) for a record that contradicts itself.
    """
    notes = model_colony(connection, kept).notes
    return (*(one for one in notes if one.startswith(f"{entry.day}")), *doubts_of(connection, kept.id, entry))


def _too_large(connection: Connection, colony_id: int, entry: VisitEntry) -> tuple[str, ...]:
    """That a garden is told larger than the bell over it can hold."""
    rows = select(bell).where(bell.c.colony_id == colony_id, bell.c.day <= entry.day.isoformat())
    over = connection.execute(rows.order_by(bell.c.day.desc(), bell.c.id.desc())).mappings().first()
    if over is None or not over["usable_ml"] or not entry.garden_ml or entry.garden_ml <= over["usable_ml"]:
        return ()
    fill = 100 * entry.garden_ml / over["usable_ml"]
    return (
        f"{entry.garden_ml:.3g} mL of garden under a {over['kind']} of {over['usable_ml']:.3g} mL is a fill of "
        f"{fill:.0f} %: it presses against it and is to be moved on, or one of the two volumes is wrong",
    )
