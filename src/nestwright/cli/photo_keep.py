"""A photograph into the record of a colony, with its measurement and, if wanted, as a visit."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.cli.record import acting, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.sensing.photo import GardenPhoto

__all__ = ["keep_photos"]

NINE_TENTHS = 1.6448536269514722
"""Half of the range that holds nine in ten of a normal error, in standard deviations."""


def keep_photos(
    images: list[Path], colony: str, result: GardenPhoto | None, folder: Path | None, *, visit: bool = False
) -> dict[str, Any]:
    """Keep photographs of a colony, the first with its measurement; with `visit` its garden as a visit of its day.

    Returns the files under the workshop's folder, and the visit's day or None. Raises InputError.
    """
    from nestwright.workshop.colonies import find_colony, model_colony
    from nestwright.workshop.photos import add_photo
    from nestwright.workshop.visits import VisitEntry, add_visit

    workshop = workshop_of(folder)
    day = _day(result, workshop.zone) if visit else None
    with acting(workshop, f"photograph of {colony}") as done:
        kept = find_colony(done.connection, colony)
        row = None
        if result is not None and day is not None:
            error = 100 * result.error_relative / NINE_TENTHS
            note = "measured from a photograph"
            entry = VisitEntry(day, garden_ml=result.volume_ml, garden_error_pct=error, note=note)
            row = add_visit(done, kept.id, entry)
            model_colony(done.connection, kept)
        files = []
        for i, path in enumerate(images):
            measured = result.to_dict() if result is not None and i == 0 else None
            try:
                data = path.read_bytes()
            except OSError as error:
                raise InputError("cannot be read", file=str(path), found=error.strerror or "") from None
            kept_as = add_photo(
                done,
                workshop,
                data,
                shown=str(path),
                owner=kept.name,
                colony_id=kept.id,
                visit_id=row,
                measured=measured,
            )
            files.append(kept_as.file)
    return {"colony": kept.name, "files": files, "visit": None if day is None else day.isoformat()}


def _day(result: GardenPhoto | None, zone: Any) -> date:
    if result is None:
        raise InputError("needs a measured garden", field="--visit", allowed="without --keep")
    if result.taken:
        return date.fromisoformat(result.taken[:10])
    return datetime.now(zone).date()
