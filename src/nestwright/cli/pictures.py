"""From a result to a picture file: the name is checked before the work, the file is written whole."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.errors import InputError
from nestwright.files import check_place, write_whole

if TYPE_CHECKING:
    from nestwright.climate.results import Proof, WindowMap, YearProof
    from nestwright.habitat.model import Habitat

__all__ = ["check_picture_name", "draw_section", "draw_window", "draw_year", "write_picture"]

SUFFIXES = (".svg", ".png")


def check_picture_name(path: str | Path) -> Path:
    """The path, if its name ends in .svg or .png and a file can be written there; InputError otherwise."""
    _suffix(path)
    return check_place(path)


def write_picture(drawn: object, path: str | Path) -> Path:
    """Write a chart or the text of a drawing to `path`, as its name ends; whole or not at all."""
    from nestwright.charts.save import picture_bytes

    write_whole(path, picture_bytes(drawn, _suffix(path)))
    return Path(path)


def draw_window(result: WindowMap, path: str | Path) -> Path:
    """Draw a window to `path`."""
    from nestwright.charts.window import window_chart

    return write_picture(window_chart(result), path)


def draw_year(result: YearProof, path: str | Path) -> Path:
    """Draw the run of a year to `path`."""
    from nestwright.charts.year import year_chart

    return write_picture(year_chart(result), path)


def draw_section(habitat: Habitat, proof: Proof, path: str | Path) -> Path:
    """Draw the cross-section of a habitat in the state of a proof to `path`."""
    from nestwright.charts.section import section_svg

    return write_picture(section_svg(habitat, proof), path)


def _suffix(path: str | Path) -> str:
    suffix = Path(path).suffix.lower()
    if suffix not in SUFFIXES:
        raise InputError("a picture has one of two formats", found=str(path), allowed=" or ".join(SUFFIXES))
    return suffix
