"""From a result to a picture file: the name is checked before the work, the file is written whole."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.errors import InputError
from nestwright.files import write_whole

if TYPE_CHECKING:
    from nestwright.climate.results import Proof, WindowMap, YearProof
    from nestwright.habitat.model import Habitat

__all__ = ["check_picture_name", "draw_section", "draw_window", "draw_year"]

SUFFIXES = (".svg", ".png")


def check_picture_name(path: str | Path) -> Path:
    """The path, if its name ends in .svg or .png; InputError otherwise."""
    if Path(path).suffix.lower() not in SUFFIXES:
        raise InputError("a picture has one of two formats", found=str(path), allowed=" or ".join(SUFFIXES))
    return Path(path)


def draw_window(result: WindowMap, path: str | Path) -> Path:
    """Draw a window to `path`."""
    from nestwright.charts.window import window_chart

    return _write(window_chart(result), path)


def draw_year(result: YearProof, path: str | Path) -> Path:
    """Draw the run of a year to `path`."""
    from nestwright.charts.year import year_chart

    return _write(year_chart(result), path)


def draw_section(habitat: Habitat, proof: Proof, path: str | Path) -> Path:
    """Draw the cross-section of a habitat in the state of a proof to `path`."""
    from nestwright.charts.section import section_svg

    return _write(section_svg(habitat, proof), path)


def _write(drawn: object, path: str | Path) -> Path:
    from nestwright.charts.save import picture_bytes

    target = check_picture_name(path)
    write_whole(target, picture_bytes(drawn, target.suffix.lower()))
    return target
