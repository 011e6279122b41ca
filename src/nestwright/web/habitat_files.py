"""Files of a workshop that a page changes: which there are, their texts, saving without losing another's work."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from nestwright.document import load_document
from nestwright.errors import InputError, nearest_name
from nestwright.files import write_whole
from nestwright.units import shown
from nestwright.web.merged_text import sum_of
from nestwright.workshop.folder import Workshop
from nestwright.workshop.typed import check_name

__all__ = ["HabitatFile", "Overtaken", "air_of", "file_of", "habitat_files", "room_names", "room_of", "save"]

_STEM = re.compile(r"[\w][\w .-]{0,80}")
_AIR = re.compile(r"\s*(-?\d+(?:\.\d*)?|-?\.\d+)\s*(degC|degF|°C|°F)(?:\s*[,;/]\s*|\s+)(\d+(?:\.\d*)?|\.\d+)\s*%\s*")
LEAST_AIR, MOST_AIR = (5, 5), (38, 95)
"""Room air that the designer can be moved through: degC and %."""
MOST = 200_000
"""Letters of a habitat's text."""


@dataclass(frozen=True)
class HabitatFile:
    """A file under habitats/, or another folder: its stem, path and text."""

    stem: str
    path: Path
    text: str

    @property
    def told(self) -> str:
        """How a fault names it: by its folder, not by where the workshop lies on this computer."""
        return f"{self.path.parent.name}/{self.path.name}"


class Overtaken(Exception):  # noqa: N818 - says what happened
    """Another person saved the file in between; `text` is what stands there now."""

    def __init__(self, text: str) -> None:
        super().__init__("saved by another")
        self.text = text


def habitat_files(workshop: Workshop, folder: str = "habitats") -> list[str]:
    """Stems of the habitat files, or of those of another folder, by name."""
    return sorted(path.stem for path in (workshop.folder / folder).glob("*.toml") if _STEM.fullmatch(path.stem))


def file_of(workshop: Workshop, stem: str, folder: str = "habitats") -> HabitatFile:
    """A habitat file, or one of another folder, by its stem. Raises InputError."""
    known = habitat_files(workshop, folder)
    if stem not in known:
        near = nearest_name(stem[:80], known)
        allowed = ", ".join(known)[:400] or "none yet"
        word = folder.removesuffix("s")
        raise InputError(f"there is no such {word}", field=word, found=shown(stem), allowed=allowed, nearest=near)
    path = workshop.folder / folder / f"{stem}.toml"
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise InputError("cannot be read as text in UTF-8", file=str(path)) from None
    return HabitatFile(stem, path, text)


def save(workshop: Workshop, stem: str, text: str, base: str, folder: str = "habitats") -> Path:
    """Write the text of a habitat, or of a file of another folder, whole or not at all.

    Parameters
    ----------
    base : `sum_of` the text that the change was made to; "" for a file that must be new.
        One that is gone meanwhile is made anew.

    Raises Overtaken when the file is another one by now, InputError for a text that is no TOML and for a name that is
    none, or of too many characters.
    """
    name = load_document(text).tables.get("name")
    if not _STEM.fullmatch(stem):
        allowed = "1 to 80 letters, digits, blanks, dots and dashes, a letter or digit first"
        raise InputError("is no name of a file", field="name", found=shown(stem), allowed=allowed)
    if len(text) > MOST:
        raise InputError("is too long", field="text", found=f"{len(text)} letters", allowed=f"up to {MOST}")
    path = workshop.folder / folder / f"{stem}.toml"
    there = path.read_text("utf-8-sig") if path.is_file() else None
    # a file that was deleted meanwhile is made anew: nothing of either person is lost by that
    if there is not None and sum_of(there) != base:
        raise Overtaken(there)
    if isinstance(name, str) and name not in (there or ""):
        check_name(name)
    path.parent.mkdir(exist_ok=True)
    write_whole(path, text.replace("\r\n", "\n"))
    return path


def room_names(workshop: Workshop) -> list[str]:
    """The room files of the workshop."""
    return sorted(path.name for path in (workshop.folder / "rooms").glob("*.toml"))


def air_of(told: str) -> tuple[float, float]:
    """Temperature, degC, and relative humidity, %, of "21 degC, 45 %", as far as the designer's room goes. Raises
    InputError."""
    found = _AIR.fullmatch(told[:60])
    if found is not None:
        celsius = float(found[1]) if "C" in found[2] else (float(found[1]) - 32) / 1.8
        if LEAST_AIR[0] <= celsius <= MOST_AIR[0] and LEAST_AIR[1] <= float(found[3]) <= MOST_AIR[1]:
            return round(celsius, 1), round(float(found[3]), 0)
    allowed = f'as "21 degC, 45 %"; {LEAST_AIR[0]} to {MOST_AIR[0]} degC, {LEAST_AIR[1]} to {MOST_AIR[1]} %'
    raise InputError("is no room of the designer", field="room", found=shown(told[:80]), allowed=allowed)


def room_of(workshop: Workshop, told: str) -> str:
    """What a page may name a room by: a pair as "21 degC, 45 %", or a room file of the workshop. Raises InputError."""
    if told in room_names(workshop):
        return str(workshop.folder / "rooms" / told)
    if _AIR.fullmatch(told[:60]):
        return told
    allowed = 'as "21 degC, 45 %", or one of: ' + ", ".join(room_names(workshop))[:300]
    raise InputError("is no room", field="room", found=shown(told[:80]), allowed=allowed)
