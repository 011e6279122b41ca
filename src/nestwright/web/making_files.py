"""The files of a habitat's parts in the workshop: written as long work, whole or not at all, and found again."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.files import plain_name
from nestwright.web.jobs import Job, Jobs
from nestwright.web.making_work import Asked, Making
from nestwright.workshop.folder import Workshop

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Written", "begin_files", "file_at", "packed", "written"]

LIST = "parts.json"


@dataclass(frozen=True)
class Written:
    """The folder of a habitat's files: its path in the workshop, names and bytes of its files (none where it is not
    there), and whether they are of the habitat's text as it stands now."""

    folder: str
    files: tuple[tuple[str, int], ...]
    current: bool


def _folder(workshop: Workshop, made: Making) -> Path:
    """parts/HABITAT-REVISION in the workshop."""
    name = f"{plain_name(made.assembly.habitat)}-{plain_name(made.assembly.revision or 'none')}"
    return workshop.folder / "parts" / name


def written(workshop: Workshop, made: Making) -> Written:
    """What is written of a habitat."""
    folder = _folder(workshop, made)
    found = [p for p in sorted(folder.rglob("*")) if p.is_file() and not p.is_symlink()] if folder.is_dir() else []
    files = tuple((p.relative_to(folder).as_posix(), p.stat().st_size) for p in found)
    try:
        told = json.loads((folder / LIST).read_text("utf-8"))
        current = isinstance(told, dict) and told.get("habitat_sha256") == made.assembly.sha256
    except (OSError, ValueError):
        current = False
    return Written(folder.relative_to(workshop.folder).as_posix(), files, current)


def file_at(workshop: Workshop, made: Making, name: str) -> Path | None:
    """A file of the folder by its name there; None for any other path."""
    there = any(name == one for one, _ in written(workshop, made).files)
    return _folder(workshop, made) / name if there else None


def begin_files(jobs: Jobs, workshop: Workshop, told: Asked, made: Making) -> Job:
    """The job that writes them."""
    title, key = f"Files of {told.file.stem}", f"parts-files/{made.key}"
    going = jobs.going(key)
    # without a mark: to a mark of the page that is shown a browser only scrolls
    return going or jobs.start(key, title, told.address, lambda job: _write(workshop, made, job.report), fresh=True)


def _write(workshop: Workshop, made: Making, report: Callable[[float], None]) -> str:
    """Writes all files, or none, as `nestwright parts` does. Raises InputError where the folder is there and not empty,
    or cannot be written to; FileError where the parts are unusable."""
    from nestwright.parts.folder import write_parts

    if made.refused is not None:
        raise made.refused
    folder = _folder(workshop, made)
    folder.parent.mkdir(exist_ok=True)
    write_parts(made.made, folder, processes=made.rules, report=report)
    return str(folder)


def packed(workshop: Workshop, made: Making) -> bytes:
    """All files of the folder in one ZIP; the same folder gives the same bytes."""
    import io
    import zipfile

    folder, out = _folder(workshop, made), io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made_zip:
        for name, _ in written(workshop, made).files:
            entry = zipfile.ZipInfo(f"{folder.name}/{name}")  # of 1980: no clock
            entry.compress_type = zipfile.ZIP_DEFLATED
            made_zip.writestr(entry, (folder / name).read_bytes())
    return out.getvalue()
