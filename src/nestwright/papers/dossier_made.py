"""A dossier from a workshop: the proof, the map and the record that it is made of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from nestwright.papers.care_made import POINTS

if TYPE_CHECKING:
    from nestwright.climate.results import Proof
    from nestwright.papers.dossier_content import DesignRecord
    from nestwright.workshop.folder import Workshop

__all__ = ["Dossier", "make_dossier"]

Limits = Callable[["Proof"], "tuple[Sequence[str], Sequence[Sequence[str]]]"]
"""From a proof to column names and rows of its limits, as they are shown elsewhere."""


@dataclass(frozen=True)
class Dossier:
    """The paper and its day; the proof and the record behind it."""

    pdf: bytes
    day: date
    proof: Proof
    record: DesignRecord


def make_dossier(
    workshop: Workshop,
    file: str,
    room: str,
    limits: Limits,
    *,
    serials: Sequence[str] = (),
    run: Any = None,
    language: str = "en",
    report: Callable[[float, str], None] = lambda share, words: None,
) -> Dossier:
    """The dossier of the design in `file`, as builds name it, of the builds `serials` only where some are named.

    `run`: through a room's whole record (`nestwright.climate.proof.run`), or None for a steady proof in its mean.
    `report` is told the share done and what is being done.

    Raises InputError for a design, room or build that is not there.
    """
    from nestwright.charts.section import section_svg
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat
    from nestwright.papers.dossier import dossier_pdf
    from nestwright.papers.dossier_content import record_of_design
    from nestwright.workshop.database import reading

    design = read_habitat(workshop.folder / file)
    with reading(workshop.engine) as connection:
        record = record_of_design(workshop, connection, file, serials)
    proof = prove(design, read_room(room)) if run is None else run.mean
    report(0.3, "mapping its rooms")
    field = window(design, points=POINTS)
    report(0.9, "setting the paper")
    day = datetime.now(workshop.zone).date()
    hours = None if run is None else round(float(run.time[-1]) / 3600)
    pdf = dossier_pdf(design, section_svg(design), proof, limits(proof), field, record, day, hours, language)
    return Dossier(pdf, day, proof, record)
