"""The long work on a colony that pages wait for: forecast, plan, diagnosis; each is done once for one record."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.web.jobs import Job, Jobs
from nestwright.web.named import step
from nestwright.workshop.colonies import Kept, colony_tables
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop
from nestwright.workshop.garden_air import air_state

if TYPE_CHECKING:
    from nestwright.colony.model import Climate, Colony
    from nestwright.errands.forecast import Told

__all__ = ["DAYS", "KINDS", "address_of", "begin", "record_key", "result_of"]

DAYS = 90
"""Days ahead."""


def address_of(name: str) -> str:
    """Address of a colony's page."""
    return f"/colonies/{step(name)}"


def record_key(workshop: Workshop, kept: Kept, kind: str) -> str:
    """Key of a piece of work: the same as long as the colony's record, the readings at its garden until the last
    midnight with their calibrations, and that midnight are the same."""
    today = datetime.now(workshop.zone).date()
    start, midnight = (
        int(1000 * datetime.combine(day, time(), workshop.zone).timestamp())
        for day in (date.fromisoformat(kept.values["start"]), today)
    )
    with reading(workshop.engine) as connection:
        tables = colony_tables(connection, kept)
        air = air_state(connection, workshop.folder, kept.id, workshop.zone, start, midnight)
    told = json.dumps([kind, kept.name, today.isoformat(), tables, air], sort_keys=True, default=str)
    return f"{kind}/{hashlib.sha256(told.encode()).hexdigest()}"


def begin(jobs: Jobs, workshop: Workshop, kept: Kept, kind: str, *, again: bool = False) -> Job:
    """Begin a forecast, plan or diagnosis, or find the one that is there; one that was stopped or failed begins anew
    only when asked `again`."""
    title, work = KINDS[kind]
    key = record_key(workshop, kept, kind)
    there = jobs.last(key)
    if there is not None and there.state in ("stopped", "failed") and not again:
        return there
    return jobs.start(
        key, title.format(kept.name), f"{address_of(kept.name)}/{kind}", lambda job: work(workshop, kept, job)
    )


def result_of(jobs: Jobs, workshop: Workshop, kept: Kept, kind: str) -> Any:
    """The result of finished work on the record as it stands; None where there is none."""
    return jobs.done(record_key(workshop, kept, kind))


def _read(workshop: Workshop, kept: Kept, days: int) -> tuple[Colony, Climate | None, tuple[Any, ...]]:
    from nestwright.errands.fitting import colony_and_climate

    return colony_and_climate(Path(kept.name), None, days, workshop=workshop.folder)


def _forecast(workshop: Workshop, kept: Kept, job: Job) -> Told:
    from nestwright.colony.fit import fit, report
    from nestwright.colony.forecast import Scenario, paths_of, read_paths
    from nestwright.colony.pace import pace_of
    from nestwright.errands.forecast import Told

    today = datetime.now(workshop.zone).date()
    colony, ahead, read = _read(workshop, kept, DAYS)
    scenario = Scenario(climate=ahead)
    posterior = fit(colony, progress=lambda share: job.report(0.9 * float(share)))
    made, ends = report(posterior)
    table = paths_of(posterior.problem, ends, DAYS, scenario)
    job.report(0.97)
    result = read_paths(posterior.problem, made, table, DAYS, scenario)
    water = next((one.water for one in reversed(read) if one.water is not None), None)
    pace = pace_of(table["garden"], float(posterior.problem.days))
    return Told(result, pace, tuple(one.source for one in read), water, colony, today)


def _plan(workshop: Workshop, kept: Kept, job: Job) -> Any:
    from dataclasses import replace

    from nestwright.colony.fit import fit
    from nestwright.colony.forecast import Scenario
    from nestwright.colony.losses import known_losses
    from nestwright.colony.plan import check, check_room, plan
    from nestwright.data import plan_values

    colony, ahead, _ = _read(workshop, kept, 120)
    handling = plan_values()["handling_days"].value
    check(colony, 120, handling, None)
    check_room(colony)
    posterior = fit(colony, progress=lambda share: job.report(0.4 * float(share)))
    found = plan(
        posterior,
        120,
        handling_days=handling,
        scenario=Scenario(climate=ahead),
        progress=lambda share: job.report(0.4 + 0.6 * float(share)),
        gone_by=colony.days_since(datetime.now(workshop.zone).date()),
    )
    return replace(found, notes=(*known_losses(colony), *found.notes))


def _diagnosis(workshop: Workshop, kept: Kept, job: Job) -> Any:
    from nestwright.colony.diagnosis import diagnose, nothing_to_weigh
    from nestwright.colony.losses import garden_gone, known_losses

    colony, _, _ = _read(workshop, kept, 1)
    losses, gone = known_losses(colony), garden_gone(colony)
    if nothing_to_weigh(colony):
        return None, losses, gone
    return diagnose(colony, history=8, progress=lambda share: job.report(float(share))), losses, gone


Work = Callable[[Workshop, Kept, Job], Any]
KINDS: dict[str, tuple[str, Work]] = {
    "forecast": ("Forecast of {}", _forecast),
    "plan": ("Plan of {}", _plan),
    "diagnosis": ("Diagnosis of {}", _diagnosis),
}
"""Kinds of work: title and how it is done."""
