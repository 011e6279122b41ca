"""What is computed of a parcel at its dispatch and kept, and what its logger teaches afterwards."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import Connection

from nestwright.document import read_document
from nestwright.parcel.boxes import BoxRun, box_run, learn_boxes
from nestwright.parcel.learning import Learned, Logged
from nestwright.parcel.model import Parcel
from nestwright.parcel.receiving import Journey, journey_of
from nestwright.parcel.results import Passage
from nestwright.workshop.parcel_logs import parcel_log, way_span
from nestwright.workshop.parcels import KeptParcel
from nestwright.workshop.readings import HOUR

__all__ = ["box_runs", "computed_journey", "learned_of", "prediction"]


def computed_journey(parcel: Parcel, late: float = 0.0) -> tuple[Journey, Passage]:
    """What a parcel that comes so many hours late goes through, as computed, and the whole passage."""
    from nestwright.parcel.carry import carry

    found = carry(parcel, delay_hours=late)
    course = found.course
    way = journey_of(course.time / 3600, course.cup - 273.15, course.humidity, parcel.card, "computed")
    return way, found


def prediction(parcel: Parcel) -> str:
    """What is computed of a parcel that goes as promised, as the JSON that the record keeps."""
    way, found = computed_journey(parcel)
    first = found.first_limit.to_dict()
    kept = {
        "journey": way.to_dict(),
        "holds": found.holds,
        "first_limit": {k: first[k] for k in ("quantity", "end", "margin_steps")},
        "loss": found.loss.to_dict(),
    }
    return json.dumps(kept, ensure_ascii=False, allow_nan=False)


def box_runs(connection: Connection, kept: list[KeptParcel], folder: Path, zone: ZoneInfo) -> list[BoxRun]:
    """Parcels with a file, both moments and a logger inside, ready to be fitted.

    Raises InputError for a parcel file that is gone or wrong.
    """
    found = []
    for one in kept:
        span, log = way_span(one, zone), parcel_log(connection, one, zone)
        if not one.values["file"] or span is None or log is None or len(log.hours) < 3:
            continue
        sent = datetime.fromtimestamp(span[0] / 1000, zone).replace(tzinfo=None)
        logged = Logged(log.hours, log.temperature, float(log.error.mean()))
        document = read_document(folder / one.values["file"])
        found.append(box_run(one.name, document, sent, (span[1] - span[0]) / HOUR, logged))
    return found


def learned_of(runs: list[BoxRun], progress: Callable[[float], None] | None = None) -> Learned | None:
    """Values of box and packs that these parcels share; None for none."""
    return learn_boxes(runs, progress) if runs else None
