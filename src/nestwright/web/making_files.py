"""The files of a habitat's parts in the workshop: written as long work, whole or not at all, and found again."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.files import plain_name
from nestwright.new_folder import new_folder
from nestwright.web.jobs import Job, Jobs
from nestwright.web.making_work import Asked, Making, drawing, has_drawing
from nestwright.workshop.folder import Workshop

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Written", "begin_files", "file_at", "written"]

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
        current = isinstance(told, dict) and told.get("sha256") == made.assembly.sha256
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
    """Writes all files, or none. Raises InputError where the folder is there and not empty, or cannot be written to."""
    folder = _folder(workshop, made)
    folder.parent.mkdir(exist_ok=True)
    drawn = [n for n, part in enumerate(made.assembly.parts) if has_drawing(part)]
    with new_folder(folder, "a habitat's files", "parts") as fresh:
        (fresh / "drawings").mkdir()
        for done, number in enumerate(drawn):
            report(done / len(drawn))
            name = f"{number + 1:02d}-{plain_name(made.assembly.parts[number].name)}.pdf"
            (fresh / "drawings" / name).write_bytes(drawing(made, number, "pdf"))
        (fresh / "assembly.glb").write_bytes(made.view)
        (fresh / LIST).write_text(json.dumps(_listed(made), indent=2, ensure_ascii=False) + "\n", "utf-8")
    return str(folder)


def _listed(made: Making) -> dict[str, object]:
    """The list of parts, mm and g."""
    whole = made.assembly
    parts = [
        {
            "name": part.name,
            "way": part.way,
            "material": part.material,
            "count": part.quantity,
            "size_mm": [round(1e3 * x, 2) for x in made.measured[part.name].box],
            "mass_g": float(f"{1e3 * made.measured[part.name].mass:.3g}"),
            "note": part.note,
        }
        for part in whole.parts
    ]
    return {"habitat": whole.habitat, "revision": whole.revision, "sha256": whole.sha256, "parts": parts}
