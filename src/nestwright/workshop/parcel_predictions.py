"""What is computed of a parcel at its dispatch and kept, and what its logger teaches afterwards."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from nestwright.data import SpeciesCard, read_values
from nestwright.document import Document, read_document
from nestwright.errors import InputError
from nestwright.parcel.boxes import BoxRun, box_run, learn_boxes, moved_to, sent_at
from nestwright.parcel.delay import DelayBelief, learn_delays
from nestwright.parcel.file import parcel_from
from nestwright.parcel.held import Held, Predicted, held_against
from nestwright.parcel.learning import Learned, Logged
from nestwright.parcel.model import Parcel
from nestwright.parcel.receiving import Journey, found_garden, journey_of
from nestwright.parcel.results import Passage
from nestwright.workshop.parcel_logs import found_in, journey_known, parcel_log, way_span
from nestwright.workshop.parcels import KeptParcel
from nestwright.workshop.readings import HOUR

__all__ = [
    "box_runs",
    "computed_journey",
    "delays_and_boxes",
    "journey_as_it_went",
    "learned_of",
    "losses_held",
    "other_dispatch",
    "prediction",
    "species_of",
    "told_dispatch",
]

MOST_LATE = 480.0
"""Hours beyond which a journey is not computed."""
DRAWN = 1000
"""Parcels of the risk that is kept: its chance is known to a hundredth or two."""
OF_JOURNEY = 0.2
"""Share of the work that the one journey is; the rest is the risk."""


def computed_journey(
    parcel: Parcel, late: float = 0.0, progress: Callable[[float], None] | None = None
) -> tuple[Journey, Passage]:
    """What a parcel that comes so many hours late goes through, as computed, and the whole passage."""
    from nestwright.parcel.carry import carry

    found = carry(parcel, delay_hours=late, progress=progress)
    course = found.course
    way = journey_of(course.time / 3600, course.cup - 273.15, course.humidity, parcel.card, "computed")
    return way, found


def journey_as_it_went(
    connection: Connection, kept: KeptParcel, folder: Path, zone: ZoneInfo, card: SpeciesCard
) -> Journey:
    """What a parcel went through: by its logger; else its file computed for the day and the hours that it was really on
    its way; else as it was computed at dispatch; else its hours alone."""
    known, span = journey_known(connection, kept, zone, card), way_span(kept, zone)
    if known.known_by == "logger" or span is None:
        return known
    hours = (span[1] - span[0]) / HOUR
    try:
        document = read_document(folder / kept.values["file"]) if kept.values["file"] else None
        parcel = None if document is None else sent_at(document, _clock(span[0], zone))
    except InputError:  # the file is gone or was changed: what was computed at dispatch holds
        parcel = None
    if parcel is None or not 0 <= hours - parcel.hours <= MOST_LATE:
        return replace(known, hours=hours)
    return computed_journey(parcel, hours - parcel.hours)[0]


def species_of(connection: Connection, kept: KeptParcel, folder: Path) -> str:
    """The species in a parcel: its colony's, else its parcel file's, else ""."""
    from nestwright.workshop.colonies import find_colony

    if kept.colony:
        return str(find_colony(connection, kept.colony).values["species"])
    try:
        return str(read_document(folder / kept.values["file"]).tables["species"]) if kept.values["file"] else ""
    except (InputError, KeyError):
        return ""


def _clock(at: int, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(at / 1000, zone).replace(tzinfo=None)


def prediction(
    document: Document,
    delays: DelayBelief,
    route: str = "",
    *,
    sent: date | None = None,
    progress: Callable[[float], None] | None = None,
) -> str:
    """What is computed of a parcel file at dispatch, as the JSON that the record keeps: the journey as promised, and
    the risk over `DRAWN` parcels with the delays of a route.

    It is computed for the day or moment of `sent`, a day at the hour of the file; for the file's own dispatch where its
    air does not reach there. `dispatch` says which it was. `progress` is called with the share that is done. Raises
    FileError.
    """
    from nestwright.parcel.sending import risk_now, sending

    going = progress or (lambda share: None)
    parcel = parcel_from(document)
    if sent is not None:
        at = sent if isinstance(sent, datetime) else datetime.combine(sent, parcel.dispatch.time())
        with suppress(InputError):
            moved = moved_to(document, at)
            document, parcel = moved, parcel_from(moved)
    way, found = computed_journey(parcel, progress=lambda share: going(OF_JOURNEY * share))
    drawn = sending(document, delays, route, parcels=DRAWN)
    risk = risk_now(drawn, lambda share: going(OF_JOURNEY + (1 - OF_JOURNEY) * share))
    first = found.first_limit.to_dict()
    kept = {
        "dispatch": parcel.dispatch.isoformat(timespec="minutes"),
        "journey": way.to_dict(),
        "holds": found.holds,
        "first_limit": {k: first[k] for k in ("quantity", "end", "margin_steps")},
        "loss": found.loss.to_dict(),
        "risk": {"garden_lost": risk.garden.to_dict(), "colony_lost": risk.colony.to_dict()},
    }
    return json.dumps(kept, ensure_ascii=False, allow_nan=False)


def told_dispatch(values: Mapping[str, Any], zone: ZoneInfo) -> date | None:
    """The day of a dispatch, or its moment on the clock of the workshop where that is told."""
    if values.get("sent_at") is not None:
        return _clock(values["sent_at"], zone)
    return date.fromisoformat(values["sent"]) if values.get("sent") else None


def other_dispatch(kept: KeptParcel) -> str:
    """The dispatch that a prediction was computed for, where it is of another day than the parcel's; else ""."""
    told = kept.to_dict()["predicted"] or {}
    day, sent = str(told.get("dispatch", "")), kept.values["sent"]
    return day.replace("T", " ") if day and sent and day[:10] != sent else ""


def losses_held(kept: list[KeptParcel]) -> dict[str, Held]:
    """Losses of garden and of colony as they were predicted, against what was found, over all parcels with both.

    A garden counts as lost as in `receiving`, a colony when no worker was found alive. The chance is that of the risk
    at dispatch; of a parcel predicted before risks were kept, that of its one journey.
    """
    values = {k: one.value for k, one in read_values("receiving.toml").items()}
    rows: dict[str, list[Predicted]] = {"garden": [], "colony": []}
    for one in kept:
        told, found = one.to_dict()["predicted"], found_in(one)
        if not told or not one.values["arrived"]:
            continue
        garden = found_garden(found, "unknown", values)
        lost = {"garden": None if garden == "unknown" else garden == "lost"}
        lost["colony"] = None if found.workers is None else found.workers == 0
        for what, gone in lost.items():
            if gone is not None:
                risk = told.get("risk")
                chance = risk[f"{what}_lost"]["mean"] if risk else told["loss"][f"chance_{what}_lost"]
                rows[what].append(Predicted(one.name, float(chance), gone))
    return {what: held_against(some) for what, some in rows.items()}


def box_runs(connection: Connection, kept: list[KeptParcel], folder: Path, zone: ZoneInfo) -> list[BoxRun]:
    """Parcels with a file, both moments and a logger inside, ready to be fitted.

    Raises InputError for a parcel file that is gone or wrong.
    """
    found = []
    for one in kept:
        span, log = way_span(one, zone), parcel_log(connection, one, zone)
        if not one.values["file"] or span is None or log is None or len(log.hours) < 3:
            continue
        logged = Logged(log.hours, log.temperature, float(log.error.mean()))
        document = read_document(folder / one.values["file"])
        found.append(box_run(one.name, document, _clock(span[0], zone), (span[1] - span[0]) / HOUR, logged))
    return found


def learned_of(runs: list[BoxRun], progress: Callable[[float], None] | None = None) -> Learned | None:
    """Values of box and packs that these parcels share; None for none."""
    return learn_boxes(runs, progress) if runs else None


def delays_and_boxes(folder: Path | None, learned: bool) -> tuple[DelayBelief, Learned | None]:
    """Delays learned of a workshop, and with `learned` packs and boxes; the prior where there is none and none named.

    Raises InputError, also where packs and boxes are asked for and no parcel teaches them.
    """
    from nestwright.workshop.database import reading
    from nestwright.workshop.folder import find_workshop
    from nestwright.workshop.parcels import kept_parcels, sent_parcels

    try:
        workshop = find_workshop(folder)
    except InputError:
        if folder is not None or learned:
            raise
        return learn_delays([]), None
    with reading(workshop.engine) as connection:
        every = kept_parcels(connection, workshop.zone)
        runs = box_runs(connection, every, workshop.folder, workshop.zone) if learned else []
    if learned and not runs:
        allowed = "a parcel of the record with a parcel file, dispatch, arrival, and a logger that was inside"
        raise InputError("nothing was learned yet", field="--learned", allowed=allowed)
    return learn_delays(sent_parcels(every)), learned_of(runs)
