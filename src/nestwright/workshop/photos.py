"""Photographs of colonies and builds: the picture's file under photos/ without its place, and its row in the record."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.files import plain_name, write_whole
from nestwright.workshop.changes import Act
from nestwright.workshop.folder import Workshop
from nestwright.workshop.tables import photo

__all__ = ["Photo", "add_photo", "find_photos"]

ENDINGS = {"JPEG": ".jpg", "PNG": ".png", "WEBP": ".webp", "TIFF": ".tif", "BMP": ".bmp"}


@dataclass(frozen=True)
class Photo:
    """A photograph: file under the workshop's folder, taken UTC ms or None, pixels, and its measurement or None."""

    id: int
    file: str
    sha256: str
    taken: int | None
    width: int
    height: int
    measured: dict[str, Any] | None
    note: str

    def to_dict(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "id"}


def add_photo(
    done: Act,
    workshop: Workshop,
    data: bytes,
    *,
    shown: str,
    owner: str,
    colony_id: int | None = None,
    build_id: int | None = None,
    visit_id: int | None = None,
    at: int | None = None,
    measured: dict[str, Any] | None = None,
    note: str = "",
) -> Photo:
    """Keep a photograph. Its place is cut off before it is written; the same picture is kept once.

    Parameters
    ----------
    data : bytes
        The whole file, as it came from the camera; `shown` is its name for messages.
    owner : str
        Name of the colony, or serial of the build; names the folder under photos/.
    at : int or None
        When it was taken, UTC ms, where the picture does not tell.

    Raises
    ------
    InputError
        For a file that is no picture or is damaged, and where it cannot be written.
    """
    import io

    from PIL import Image

    from nestwright.sensing.photo import picture_of, strip_location

    picture = picture_of(data, shown)
    try:
        clean = strip_location(data)
    except InputError as error:
        raise InputError(error.message, file=shown, found=error.found, allowed=error.allowed) from None
    kind = str(Image.open(io.BytesIO(clean)).format)
    total = hashlib.sha256(clean).hexdigest()
    uid = f"{colony_id}-{build_id}-{total}"
    row = done.connection.execute(select(photo).where(photo.c.uid == uid)).mappings().first()
    if row is not None:
        return _photo(row)
    taken = _moment(picture.taken, workshop) or at
    day = picture.taken[:10] or datetime.now(workshop.zone).date().isoformat()
    name = f"photos/{plain_name(owner)}/{day}-{total[:10]}{ENDINGS.get(kind, '.img')}"
    target = workshop.folder / name
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("cannot make the folder", file=str(target.parent), found=error.strerror or "") from None
    # the file first: a row must never point to nothing; a file without a row harms no one
    write_whole(target, clean)
    values = {
        "uid": uid,
        "colony_id": colony_id,
        "build_id": build_id,
        "visit_id": visit_id,
        "file": name,
        "sha256": total,
        "taken": taken,
        "width": picture.width,
        "height": picture.height,
        "measured": "" if measured is None else json.dumps(measured),
        "note": note,
    }
    return _photo({"id": done.add(photo, values), **values})


def find_photos(connection: Connection, *, colony_id: int | None = None, build_id: int | None = None) -> list[Photo]:
    """Photographs of a colony or of a build, the oldest first."""
    of = photo.c.colony_id == colony_id if colony_id is not None else photo.c.build_id == build_id
    rows = connection.execute(select(photo).where(of).order_by(photo.c.taken, photo.c.id)).mappings()
    return [_photo(row) for row in rows]


def _photo(row: Any) -> Photo:
    measured = json.loads(row["measured"]) if row["measured"] else None
    plain = {k: row[k] for k in ("id", "file", "sha256", "taken", "width", "height", "note")}
    return Photo(**plain, measured=measured)


def _moment(taken: str, workshop: Workshop) -> int | None:
    """A camera's clock is taken to show the workshop's own time."""
    if not taken:
        return None
    return int(datetime.fromisoformat(taken).replace(tzinfo=workshop.zone).timestamp() * 1000)
