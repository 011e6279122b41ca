"""Designs as they were when something was built by them, and what changed from one revision to the next.

A habitat's file goes on changing; each revision that was built is kept once under papers/designs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.files import plain_name, write_whole
from nestwright.habitat.file import read_habitat
from nestwright.workshop.folder import Workshop

if TYPE_CHECKING:
    from nestwright.workshop.builds import Made

__all__ = ["FOLDER", "Change", "Revision", "changes", "design_name", "keep_design", "revisions_of"]

FOLDER = Path("papers") / "designs"
NAMES = ("name", "revision", "note")
"""Keys that every revision changes."""


@dataclass(frozen=True)
class Revision:
    """A revision of a design: its name, its file under the workshop, and its values as the file tells them."""

    name: str
    file: str
    texts: Mapping[str, Any]


@dataclass(frozen=True)
class Change:
    """One key of the habitat file, before and after; None where it was not there."""

    key: str
    before: str | None
    after: str | None

    def to_dict(self) -> dict[str, Any]:
        return {"key": self.key, "before": self.before, "after": self.after}


def keep_design(workshop: Workshop, file: str) -> str | None:
    """Keep a design that something was built by, once for each revision; its file under the workshop.

    None for a design outside the workshop, or where nothing can be written.
    """
    source = workshop.folder / file
    if Path(file).is_absolute():
        return None
    revision = read_habitat(source).revision or "none"
    name = (FOLDER / f"{plain_name(source.stem)}-revision-{plain_name(revision)}.toml").as_posix()
    target = workshop.folder / name
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists():
            write_whole(target, source.read_bytes())
    except (OSError, InputError):
        return None
    return name


def revisions_of(workshop: Workshop, file: str, order: Sequence[str]) -> tuple[Revision, ...]:
    """The revisions of a design whose files are there, in the order of `order`; others behind by name.

    A kept file comes before the design's own of the same revision: it is what was built. Files that cannot be read are
    left out.
    """
    stem = plain_name(Path(file).stem)
    kept = sorted((workshop.folder / FOLDER).glob(f"{stem}-revision-*.toml"))
    found: dict[str, Revision] = {}
    for path in (*kept, workshop.folder / file):
        try:
            habitat = read_habitat(path)
        except InputError:
            continue
        name = habitat.revision
        if name not in found:
            inside = path.relative_to(workshop.folder).as_posix() if not Path(file).is_absolute() else str(path)
            found[name] = Revision(name, inside, habitat.texts)
    places = {name: n for n, name in reversed(list(enumerate(order)))}
    return tuple(sorted(found.values(), key=lambda r: (places.get(r.name, len(places)), r.name)))


def changes(before: Revision, after: Revision) -> tuple[Change, ...]:
    """What differs between two revisions, by key; the name, the revision and the note are left out."""
    keys = sorted({*before.texts, *after.texts} - set(NAMES))
    pairs = [(key, before.texts.get(key), after.texts.get(key)) for key in keys]
    return tuple(Change(k, _text(a), _text(b)) for k, a, b in pairs if a != b)


def _text(value: Any) -> str | None:
    return None if value is None else str(value)


def design_name(workshop: Workshop, build: Made) -> str:
    """The name in the file of a build's design; the file's own where it cannot be read now."""
    file = str(build.values["habitat"])
    try:
        return read_habitat(workshop.folder / file).name
    except InputError:
        return Path(file).stem
