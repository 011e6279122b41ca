"""Photographs: as they are kept, small for lists, and a colony's over time."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, HTTPException, Request, UploadFile
from fastapi import File as Upload
from sqlalchemy import select
from starlette.responses import FileResponse, Response

from nestwright.errors import InputError
from nestwright.web.colony_work import address_of
from nestwright.web.named import Named, Row
from nestwright.web.render import page, recorded, workshop_at
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import find_colony
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.photos import add_photo, find_photos
from nestwright.workshop.tables import photo

router = APIRouter()
SMALL = 480
"""px, the longer side of a small copy."""
KINDS = {".jpg": "image/jpeg", ".png": "image/png", ".webp": "image/webp", ".tif": "image/tiff", ".bmp": "image/bmp"}
SMALL_COPIES = Path(".cache") / "photos"


def _row(workshop: Workshop, row: int) -> tuple[Path, str]:
    """File and sum of a photograph. Raises HTTPException where there is none."""
    with reading(workshop.engine) as connection:
        found = connection.execute(select(photo.c.file, photo.c.sha256).where(photo.c.id == row)).first()
    if found is None:
        raise HTTPException(404)
    path = (workshop.folder / found.file).resolve()
    # a record out of another's hands must not show files from elsewhere
    inside = path.is_relative_to((workshop.folder / "photos").resolve())
    if not inside or not path.is_file() or path.suffix.lower() not in KINDS:
        raise HTTPException(404)
    return path, str(found.sha256)


@router.get("/photos/{row}")
def whole(request: Request, row: Row) -> Response:
    """A photograph as it is kept."""
    path, total = _row(workshop_at(request), row)
    return FileResponse(path, media_type=KINDS[path.suffix.lower()], headers={"etag": f'"{total}"'})


@router.get("/photos/{row}/small")
def small(request: Request, row: Row) -> Response:
    """A small copy, made once."""
    workshop = workshop_at(request)
    path, total = _row(workshop, row)
    copy = workshop.folder / SMALL_COPIES / f"{total[:32]}.jpg"
    headers = {"etag": f'"{total}-small"', "cache-control": "private, max-age=31536000, immutable"}
    if copy.is_file():
        return FileResponse(copy, media_type="image/jpeg", headers=headers)
    made = _shrunk(path)
    if made is None:
        raise HTTPException(404)
    try:
        copy.parent.mkdir(parents=True, exist_ok=True)
        scratch = copy.with_name(f".{copy.name}-{os.getpid()}-{row}")
        scratch.write_bytes(made)
        scratch.replace(copy)
    except OSError:  # a folder that can only be read: made anew each time
        pass
    return Response(made, media_type="image/jpeg", headers=headers)


def _shrunk(path: Path) -> bytes | None:
    from PIL import Image, ImageOps

    try:
        with Image.open(path) as opened:
            opened.draft("RGB", (2 * SMALL, 2 * SMALL))
            turned = ImageOps.exif_transpose(opened).convert("RGB")
            turned.thumbnail((SMALL, SMALL))
            out = io.BytesIO()
            turned.save(out, "JPEG", quality=80)
            return out.getvalue()
    except (OSError, ValueError, Image.DecompressionBombError):
        return None


@router.get("/colonies/{name}/photos")
def over_time(request: Request, name: Named) -> Response:
    """A colony's photographs, one beside another, through its time."""
    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        kept = find_colony(connection, name)
        found = find_photos(connection, colony_id=kept.id)
    return page(request, "photos.html", kept=kept, address=address_of(kept.name), photos=found)


@router.post("/colonies/{name}/photos")
def add(request: Request, name: Named, pictures: Annotated[list[UploadFile], Upload()]) -> Response:
    """Keep photographs of a colony; where each was taken is cut off first."""
    workshop = workshop_at(request)
    data = [(one.filename or "picture", one.file.read()) for one in pictures if one.filename]
    if not data:
        raise InputError("no picture was chosen", field="pictures", allowed="JPEG, PNG, WEBP, TIFF or BMP")
    with writing(workshop.engine) as connection:
        kept = find_colony(connection, name)
        done = act(connection, f"photos of {kept.name}")
        for shown, content in data:
            add_photo(done, workshop, content, shown=shown[:100], owner=kept.name, colony_id=kept.id)
    return recorded(f"{address_of(kept.name)}/photos", done.step)
