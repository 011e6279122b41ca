"""What the record knows of the trial colonies of one design: who lived in which revision, grew, or was lost when."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from sqlalchemy import Connection, func, select

from nestwright.colony.model import Colony
from nestwright.data import SpeciesCard, colony_values, load_species
from nestwright.errors import InputError, nearest_name
from nestwright.trial.growth import Growth, garden_growth
from nestwright.trial.report import QUANTITIES, Trial, TrialColony, report, trial_values
from nestwright.trial.survival import Kept
from nestwright.workshop.builds import Made, kept_builds
from nestwright.workshop.colonies import find_colony, model_colony
from nestwright.workshop.folder import Workshop
from nestwright.workshop.measured_air import MeasuredHours, measured_hours
from nestwright.workshop.placements import BELL, chamber_roles
from nestwright.workshop.tables import colony as colonies
from nestwright.workshop.tables import stay, visit

__all__ = ["trial_of"]

_LOST = ("died", "dead", "lost", "perished", "collapsed")
_GUESS = 0.3
"""Relative error of a reading of the garden that tells none."""


def trial_of(workshop: Workshop, connection: Connection, habitat: str, today: date) -> Trial:
    """The trial of a design, named by its file as builds name it or by the file's stem.

    Raises InputError when no build has it, with the nearest one.
    """
    builds = kept_builds(connection)
    stems = {name.rsplit("/", 1)[-1].removesuffix(".toml"): name for name in (str(b.values["habitat"]) for b in builds)}
    name = habitat.rsplit("/", 1)[-1].removesuffix(".toml")
    if name not in stems:
        raise InputError(
            "no build of this workshop has this design",
            field="habitat",
            found=repr(habitat[:100]),
            allowed=", ".join(stems)[:300] or "none yet: add a build with `nestwright build add`",
            nearest=nearest_name(name[:100], stems),
        )
    own = sorted(
        (b for b in builds if str(b.values["habitat"]) == stems[name]),
        key=lambda b: (str(b.values["made"] or ""), b.serial),
    )
    many: dict[str, int] = {}
    for made in own:
        revision = str(made.values["revision"])
        many[revision] = many.get(revision, 0) + 1
    found = [one for made in own for one in _stays(workshop, connection, made, today)]
    return report(name, many, found)


def _stays(workshop: Workshop, connection: Connection, made: Made, today: date) -> list[TrialColony]:
    query = (
        select(stay.c.day, stay.c.colony_id, colonies.c.name)
        .join(colonies, colonies.c.id == stay.c.colony_id)
        .where(stay.c.build_id == made.id)
        .order_by(stay.c.day)
    )
    return [
        _stay(workshop, connection, made, str(row.name), int(row.colony_id), date.fromisoformat(str(row.day)), today)
        for row in connection.execute(query)
    ]


def _stay(
    workshop: Workshop, connection: Connection, made: Made, name: str, colony_id: int, since: date, today: date
) -> TrialColony:
    kept = find_colony(connection, name)
    model = model_colony(connection, kept)
    moved = connection.execute(
        select(stay.c.day)
        .where(stay.c.colony_id == colony_id, stay.c.day > since.isoformat())
        .order_by(stay.c.day)
        .limit(1)
    ).scalar()
    ended = kept.values["ended"]
    # a colony that nobody has looked at since is not known to have kept its garden until today; what a visit to
    # another told of it (donor garden) is no look
    seen = connection.execute(select(func.max(visit.c.day)).where(visit.c.colony_id == colony_id)).scalar()
    known = max(since, min(today, date.fromisoformat(str(seen)) if seen else since))
    until = min(date.fromisoformat(str(d)) for d in (moved, ended) if d) if moved or ended else known
    lost, remark = _loss(model, since, until), ""
    if lost is None and ended and str(ended) == until.isoformat():
        reason = str(kept.values["end_reason"])
        if reason.casefold().split()[:1] and reason.casefold().split()[0].strip(".,;:") in _LOST:
            lost = until
        else:
            remark = f"ended ({reason or 'no reason told'}): counted as left, not as lost"
    last = lost or until
    card = load_species(str(kept.values["species"]))
    return TrialColony(
        name, made.serial, str(made.values["revision"]), since.isoformat(), last.isoformat(),
        Kept(max(0.5, float((last - since).days)), lost is not None),
        _growth(model, since, last), _inside(workshop, connection, made, card, since, last), remark,
    )  # fmt: skip


def _loss(model: Colony, since: date, until: date) -> date | None:
    """The first day of a stay from which garden or workers are gone by the record."""
    gone = [
        model.date(e.day)
        for e in model.events
        if (e.kind == "garden_share_lost" and e.value >= 1) or (e.kind == "workers_taken" and e.value >= 1e9)
    ]
    return min((d for d in gone if since <= d <= until), default=None)


def _growth(model: Colony, since: date, until: date) -> Growth | None:
    """Growth over the first days of a stay."""
    first = float((since - model.start).days)
    last = min(float((until - model.start).days), first + trial_values()["trial_days"].value)
    seen = sorted((o for o in model.observations if o.kind == "garden" and first <= o.day <= last), key=lambda o: o.day)
    readings = [(o.day, o.value, o.error or _GUESS) for o in seen]
    start = model.at_start.garden
    if first == 0 and start is not None and not any(o.day == 0 for o in seen):
        readings.insert(0, (0.0, start[0], start[1] or _GUESS))
    sign = {"garden_added": 1.0, "garden_taken": -1.0}
    changes = [(e.day, sign[e.kind] * e.value) for e in model.events if e.kind in sign and first <= e.day <= last]
    if not readings:
        return None
    day, volume, error = zip(*readings, strict=True)
    return garden_growth(day, volume, error, colony_values()["noise"].value, changes)


def _inside(
    workshop: Workshop, connection: Connection, made: Made, card: SpeciesCard, since: date, until: date
) -> dict[str, tuple[float, float, float]]:
    """Share of measured hours inside the card's limits for the garden; under the bell where a logger stands there."""
    roles = chamber_roles(connection, workshop.folder, made.id)
    garden = [name for name, role in roles.items() if role == "garden"] or [""]
    low, high = (_moment(d, workshop.zone) for d in (since, until + timedelta(days=1)))
    hours = [
        one
        for one in measured_hours(connection, workshop.zone, made, low, high)
        if one.chamber.removesuffix(BELL) in garden
    ]
    found: dict[str, tuple[float, float, float]] = {}
    for quantity in QUANTITIES:
        own = [one for one in hours if one.quantity == quantity]
        own = [one for one in own if one.chamber.endswith(BELL)] or own
        ends = [(e.low, e.high) for e in card.limits if e.role == "garden" and e.quantity == quantity]
        if own and ends:
            found[quantity] = _share(own, *ends[0])
    return found


def _share(own: Sequence[MeasuredHours], low: float | None, high: float | None) -> tuple[float, float, float]:
    """Share inside, its standard error by what the calibration leaves open in common, and the hours."""

    def inside(shift: float) -> Any:
        values = np.concatenate([one.value + shift * one.common for one in own])
        bottom, top = -np.inf if low is None else low, np.inf if high is None else high
        return float(((values >= bottom) & (values <= top)).mean())

    middle, up, down = inside(0.0), inside(1.0), inside(-1.0)
    return middle, max(abs(up - middle), abs(down - middle)), float(sum(len(one.value) for one in own))


def _moment(day: date, zone: ZoneInfo) -> int:
    return int(datetime.combine(day, time(), zone).timestamp() * 1000)
