"""The long work behind a parcel file's page: its journey, its risk, by day of dispatch, and other ways to send it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.document import Document, load_document
from nestwright.errors import InputError
from nestwright.units import shown
from nestwright.web.jobs import Job
from nestwright.workshop.folder import Workshop

if TYPE_CHECKING:
    from nestwright.parcel.changes import Change
    from nestwright.parcel.model import Parcel
    from nestwright.parcel.results import Passage
    from nestwright.parcel.risk import Risk, Weighed
    from nestwright.parcel.sending import Sending

__all__ = ["FOLDER", "Asked", "Found", "read_text", "work"]

FOLDER = "parcels"
SHARES = {"journey": 0.05, "risk": 0.45, "days": 0.2, "ways": 0.3}
"""About how long each part takes beside the others."""


@dataclass(frozen=True)
class Asked:
    """What is asked of a parcel file: its text, days of dispatch to compare (may be none), the route whose delays hold
    ("" for any), whether other ways are to be weighed, and how many parcels are drawn."""

    stem: str
    text: str
    days: tuple[date, ...]
    route: str
    ways: bool
    draws: int

    @property
    def key(self) -> str:
        told = [self.stem, self.text, [day.isoformat() for day in self.days], self.route, self.ways, self.draws]
        return f"parcel-risk/{hashlib.sha256(json.dumps(told).encode()).hexdigest()[:40]}"


@dataclass(frozen=True)
class Found:
    asked: Asked
    passage: Passage
    sending: Sending
    risk: Risk
    alone: tuple[float, float]
    days: tuple[Risk, ...]
    ways: tuple[Weighed, dict[str, Change]] | None


def read_text(workshop: Workshop, stem: str, text: str) -> tuple[Document, Parcel]:
    """A parcel from a text as it would stand in the workshop's folder of parcels.

    Raises InputError, also for a file that it names outside of that folder: a page reads nothing else of the computer.
    """
    from nestwright.parcel.file import parcel_from

    folder = workshop.folder / FOLDER
    document = load_document(text, str(folder / f"{stem}.toml"))
    named = [("leg", "outside"), ("pack", "curve")]
    for table, key in named:
        rows = document.tables.get(table)
        for k, row in enumerate(rows if isinstance(rows, list) else []):
            value = row.get(key) if isinstance(row, dict) else None
            if isinstance(value, str) and "%" not in value and not _inside(folder, value):
                raise InputError(
                    "names a file outside of the folder parcels", field=f"{table}[{k}].{key}", found=shown(value),
                    line=document.lines.get(f"{table}[{k}].{key}", 0), allowed="the name of a file beside this one",
                )  # fmt: skip
    return document, parcel_from(document)


def _inside(folder: Path, name: str) -> bool:
    try:
        return (folder / name).resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError):
        return False


def work(workshop: Workshop, asked: Asked, job: Job) -> Found:
    """Do it, telling the job how far it is. Raises InputError, and Stopped when the user stopped it."""
    from nestwright.parcel.carry import carry
    from nestwright.parcel.sending import as_told, risk_by_day, risk_now, sending, ways
    from nestwright.workshop.parcel_predictions import delays_and_boxes

    begun = 0.0

    def part(name: str) -> Callable[[float], None]:
        nonlocal begun
        begin, begun = begun, begun + SHARES[name]
        return lambda share: job.report(begin + SHARES[name] * share)

    document, parcel = read_text(workshop, asked.stem, asked.text)
    passage = carry(parcel, progress=part("journey"))
    one = sending(document, delays_and_boxes(workshop.folder, False)[0], asked.route, parcels=asked.draws)
    risk, alone = risk_now(one, part("risk")), as_told(one)
    days = risk_by_day(one, asked.days, part("days")) if asked.days else ()
    weighed = ways(one, {}, progress=part("ways")) if asked.ways else None
    return Found(asked, passage, one, risk, alone, days, weighed)
