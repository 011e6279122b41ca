"""One look over the whole record: what each rule finds of each colony, build, logger and parcel."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.workshop import alarm_rules as rules
from nestwright.workshop.alarm_rules import Finding
from nestwright.workshop.alarm_values import alarm_value
from nestwright.workshop.builds import kept_builds
from nestwright.workshop.colonies import Kept, colony_tables, kept_colonies, model_colony
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop
from nestwright.workshop.kept_forecasts import KeptForecast, NotKeptError, Prepare, forecast_of, remove_stale
from nestwright.workshop.look_sensors import sensor_findings
from nestwright.workshop.refills import water_of
from nestwright.workshop.tables import colony, event, parcel
from nestwright.workshop.visits import VisitEntry, read_visits

if TYPE_CHECKING:
    from nestwright.colony.model import Colony

__all__ = ["AtGlance", "Leaves", "Look", "look"]

ILL = ("brown", "dry", "wet", "mould", "falling")
"""Words for the look of a garden (`visits.HEALTH`) that call for another look."""
FORECAST_KINDS = ("dying", "shrinking", "full", "part", "leaves")
SEEN_KINDS = ("visit", "ill", "brood")
Progress = Callable[[str, float], None]
Range = tuple[float, float, float]


@dataclass(frozen=True)
class Leaves:
    """Fresh leaves that a colony takes today, g, 10, 50 and 90 %."""

    colony: str
    grams: Range


@dataclass(frozen=True)
class AtGlance:
    """A colony in a line: its last visit, the last one that told of its garden, and its forecast if there is one."""

    id: int
    name: str
    last: date | None
    told: VisitEntry | None
    ahead: KeptForecast | None


@dataclass
class Look:
    """What was found.

    `skipped`: keys, or what stands before a stroke in them, that could not be looked at: their alarms stay as they are.
    `unread`: subject and reason where a record could not be read or forecast. `unfitted`: names of colonies whose
    forecast was not kept and was not to be made.
    """

    today: date
    at: int
    findings: list[Finding] = field(default_factory=list)
    skipped: set[str] = field(default_factory=set)
    unread: list[tuple[str, str]] = field(default_factory=list)
    leaves: list[Leaves] = field(default_factory=list)
    unfitted: list[str] = field(default_factory=list)
    glances: list[AtGlance] = field(default_factory=list)
    colonies: int = 0
    builds: int = 0

    def add(self, *found: Finding | None) -> None:
        self.findings += [one for one in found if one is not None]


@dataclass(frozen=True)
class _Read:
    """A colony out of the record; `colony` is the reason where its record cannot be read, `visits` then None too."""

    kept: Kept
    tables: dict[str, Any]
    colony: Colony | InputError
    visits: list[VisitEntry] | None
    given: date | None
    """Day on which it last received donor garden."""


def look(
    workshop: Workshop,
    at: int,
    *,
    forecasts: bool = True,
    fit: bool = True,
    progress: Progress | None = None,
    prepare: Callable[[Kept], Prepare] | None = None,
) -> Look:
    """Look at everything, at the moment `at` (UTC ms).

    Parameters
    ----------
    forecasts : False leaves out what needs one; alarms that rest on one stay as they are.
    fit : False uses the forecasts that are kept, and makes none.
    progress : called with a colony's name and the share of its fit that is done.
    prepare : for a colony of the record, how the garden's climate is brought to it.
    """
    today = datetime.fromtimestamp(at / 1000, UTC).astimezone(workshop.zone).date()
    made = Look(today, at)
    used: set[Path] = set()
    with reading(workshop.engine) as connection:
        colonies = [_read(connection, kept) for kept in kept_colonies(connection, ended=False)]
        ways = {r.kept.id: prepare(r.kept) for r in colonies} if prepare and forecasts else {}
        sensor_findings(connection, workshop.folder, made)
        _builds(connection, made)
        _parcels(connection, made)
    made.colonies = len(colonies)
    complete = forecasts
    for read in colonies:
        if isinstance(read.colony, InputError):
            made.unread.append((read.kept.name, str(read.colony).split("\n")[0]))
        kept = None
        if forecasts and not isinstance(read.colony, InputError):
            try:
                kept, file = forecast_of(
                    workshop.folder,
                    read.colony,
                    read.tables,
                    today,
                    None if progress is None else _named(progress, read.kept.name),
                    ways.get(read.kept.id),
                    fit=fit,
                )
                used.add(file)
            except NotKeptError:
                made.unfitted.append(read.kept.name)
            except InputError as problem:
                made.unread.append((read.kept.name, problem.message))
        complete = complete and kept is not None
        made.glances.append(_glance(read, kept, today))
        if read.visits is None:
            made.skipped |= {f"{kind}/{read.kept.id}" for kind in SEEN_KINDS}
        else:
            _visits(made, read.kept, read.visits, read.given)
        if kept is None:
            made.skipped |= {f"{kind}/{read.kept.id}" for kind in FORECAST_KINDS}
        else:
            _ahead(made, read, kept)
    if complete:
        remove_stale(workshop.folder, used)
    return made


def _glance(read: _Read, kept: KeptForecast | None, today: date) -> AtGlance:
    visits = [v for v in read.visits or [] if v.day <= today]
    told = next((v for v in reversed(visits) if v.garden_ml is not None or v.fill_pct is not None), None)
    return AtGlance(read.kept.id, read.kept.name, visits[-1].day if visits else None, told, kept)


def _named(progress: Progress, name: str) -> Callable[[float], None]:
    return lambda share: progress(name, share)


def _read(connection: Connection, kept: Kept) -> _Read:
    colony: Colony | InputError
    tables: dict[str, Any] = {}
    visits: list[VisitEntry] | None = None
    given = None
    try:
        visits = [entry for _, entry in read_visits(connection, kept.id)]
        tables = colony_tables(connection, kept)
        days = select(event.c.day).where(event.c.colony_id == kept.id, event.c.what == "garden added")
        given = max((date.fromisoformat(d) for d in connection.execute(days).scalars()), default=None)
        colony = model_colony(connection, kept)
    except InputError as problem:
        colony = problem
    except (ValueError, KeyError, TypeError) as fault:
        # one record that is broken in a way nobody foresaw must not hide all others
        colony = InputError(f"its record cannot be read: {type(fault).__name__}", found=str(fault)[:100])
    return _Read(kept, tables, colony, visits, given)


def _visits(made: Look, kept: Kept, visits: list[VisitEntry], given: date | None) -> None:
    """What a colony's visits tell without a forecast."""
    today = made.today
    of: dict[str, Any] = {"colony": kept.id}
    days = [v.day for v in visits if v.day <= today]
    try:
        since = date.fromisoformat(str(kept.values["start"]))
    except ValueError:
        since = today
    soon = given is not None and 0 <= (today - given).days <= alarm_value("donor_days")
    if since <= today:
        last = max(days, default=None)
        usual = rules.usual_interval(days)
        made.add(rules.visit_due(f"visit/{kept.id}", kept.name, last, since, usual, soon, today, **of))
    told = [v for v in visits if v.health and v.day <= today]
    if told:
        words = [w for w in told[-1].health if w in ILL]
        made.add(rules.ill(f"ill/{kept.id}", kept.name, words, told[-1].day, today, **of))
    if kept.values["queen"] != "none":
        looks = [(v.day, _brood(v)) for v in visits if v.day <= today]
        known = [(day, seen) for day, seen in looks if seen is not None]
        made.add(rules.brood_missing(f"brood/{kept.id}", kept.name, known, today, **of))


def _brood(entry: VisitEntry) -> bool | None:
    """Whether any brood was seen at a visit; None where it was not looked for."""
    counted = [c.high > 0 for c in entry.counts if c.what in ("eggs", "larvae", "pupae")]
    if entry.seen or any(counted):
        return True
    return False if entry.not_seen or counted else None


def _ahead(made: Look, read: _Read, kept: KeptForecast) -> None:
    """What a colony's forecast tells."""
    from nestwright.colony.last_fill import last_fill
    from nestwright.data import load_species

    colony, today, name = read.colony, made.today, read.kept.name
    assert not isinstance(colony, InputError)
    of: dict[str, Any] = {"colony": read.kept.id}
    row = read.kept.id
    made.add(rules.dying(f"dying/{row}", name, kept.survival, kept.horizon, **of))
    days = round(alarm_value("shrink_days"))
    now, then = kept.at("garden", today), kept.at("garden", today + timedelta(days=days))
    if now and then:
        made.add(rules.shrinking(f"shrinking/{row}", name, now, then, days, **of))
    fill = kept.at("fill", today)
    if fill:
        full = load_species(colony.species).growth["fill_high"].value
        seen = last_fill(colony)
        # a garden that shrinks by the model may have left the band since
        stays = seen is not None and fill[1] >= kept.at("fill", kept.last)[1]  # type: ignore[index]
        told = (seen.day, (seen.low, seen.middle, seen.high)) if seen is not None and stays else None
        made.add(rules.fill_over(f"full/{row}", name, fill, full, told, **of))
    if kept.full is not None:
        made.add(rules.part_due(f"part/{row}/bell", name, "bell", fill, kept.full, colony.making_time, today, **of))
    if kept.chamber_full is not None:
        part = f"part/{row}/chamber"
        made.add(rules.part_due(part, name, "chamber", None, kept.chamber_full, colony.chamber_time, today, **of))
    need = kept.at("leaf_fresh", today)
    if need:
        made.leaves.append(Leaves(name, need))
        given = _given(read, today)
        if given is not None:
            made.add(rules.leaves_short(f"leaves/{row}", name, need, given, **of))
    taken = [v.day for v in read.visits or [] if v.waste_g is not None and v.day <= today]
    made.add(rules.waste_due(f"waste/{row}", name, taken, kept.at("waste", today), today, **of))


def _given(read: _Read, today: date) -> float | None:
    """Fresh leaves given a day of late, g; None where the record does not count them all."""
    from nestwright.data import colony_values

    if read.kept.values["leaves"] != "recorded":
        return None
    days = alarm_value("leaves_days")
    visits = read.visits or []
    first = min((v.day for v in visits), default=today)
    span = min(days, float((today - first).days))
    if span < days / 2:  # too short to tell what is usual
        return None
    values = colony_values()
    per_area = values["leaf_dry_area"].value / values["leaf_dry_share"].value
    late = [f for v in visits if 0 <= (today - v.day).days <= days for f in v.feedings]
    return sum(f.amount if f.unit == "g" else f.amount * per_area for f in late) / span


def _builds(connection: Connection, made: Look) -> None:
    for one in kept_builds(connection):
        if one.values["ended"]:
            continue
        made.builds += 1
        of: dict[str, Any] = {"build": one.id, "serial": one.serial}
        subject = f"build {one.serial}"
        last: dict[str, Any] = {q["what"]: q["passed"] for q in one.quality}  # a later look at the same point counts
        failed = [what for what, passed in last.items() if passed is not None and not passed]
        made.add(rules.failed_check(f"failed/{one.id}", subject, failed, one.colony, **of))
        water = water_of(one)
        if water.every is not None:
            made.add(rules.refill_due(f"refill/{one.id}", subject, water.filled, water.every, made.today, **of))


def _parcels(connection: Connection, made: Look) -> None:
    query = select(parcel, colony.c.name.label("colony")).outerjoin(colony, parcel.c.colony_id == colony.c.id)
    query = query.where(parcel.c.direction == "in", parcel.c.sent.is_not(None), parcel.c.arrived.is_(None))
    for row in connection.execute(query).mappings():
        sent = date.fromisoformat(row["sent"])
        name = str(row["colony"] or "")
        subject = f"{name}, parcel" if name else f"parcel {row['name'] or row['id']}"
        found = rules.parcel_under_way(f"parcel/{row['id']}", subject, sent, row["carrier"], name, made.today)
        made.add(found and replace(found, colony=row["colony_id"], build=row["build_id"]))
