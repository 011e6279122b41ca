"""The printed marker sheet: where everything is on it, in mm, and the sheet itself as PDF or picture.

The sheet stands upright behind the garden, or beside it, long side down. Its frame has the origin in the middle of the
page, x to the right, y up, z towards the viewer. Layout and pose need one module to agree on, which is this one.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any, Literal

from nestwright.errors import InputError, nearest_name
from nestwright.press.setting import set_paper

__all__ = [
    "DICTIONARY",
    "LINE",
    "MARKER",
    "PANEL",
    "PANEL_COLOUR",
    "PAPERS",
    "PATCH",
    "Paper",
    "marker_corners",
    "paper_of",
    "sheet_pdf",
    "sheet_png",
]

DICTIONARY = "DICT_4X4_50"
"""Markers of 4 by 4 bits with a border of one bit: the fewest bits, so the largest seen from afar."""
MARKER = 32.0
"""Side of a marker, mm."""
LINE = 100.0
"""Length of the control line, mm."""
PLACES = ((-82.0, 52.0), (82.0, 52.0), (-82.0, -13.0), (82.0, -13.0), (-82.0, -78.0), (82.0, -78.0))
"""Middles of the six markers, mm, in the order of their numbers."""
PANEL = (-60.0, -97.0, 60.0, 68.0)
"""Left, bottom, right, top of the plain panel that a garden is seen against, mm."""
PANEL_COLOUR = (86, 120, 214)
"""Blue: no garden has it, so that what is not panel is garden. sRGB."""
PATCH = (-94.0, 7.5, -70.0, 31.5)
"""Left, bottom, right, top of the grey patch, mm."""
GREY = 118
"""sRGB value of the patch: reflectance 0.18, IEC 61966-2-1."""


@dataclass(frozen=True)
class Paper:
    """A size of paper, long side across; mm. `first`: number of its first marker, by which it is known again."""

    name: str
    width: float
    height: float
    first: int


PAPERS = {"a4": Paper("A4", 297.0, 210.0, 0), "letter": Paper("US letter", 279.4, 215.9, 6)}
"""ISO 216 and ANSI/ASME Y14.1."""


def paper_of(name: str) -> Paper:
    """The paper of a name, a4 or letter. Raises InputError."""
    if name.lower() not in PAPERS:
        raise InputError(
            "no such paper",
            field="--paper",
            found=repr(name),
            allowed=", ".join(PAPERS),
            nearest=nearest_name(name, PAPERS),
        )
    return PAPERS[name.lower()]


def marker_corners() -> dict[int, tuple[Paper, tuple[tuple[float, float], ...]]]:
    """Marker number to its paper and its corners, mm, in the order of OpenCV: from the upper left clockwise."""
    h = MARKER / 2
    around = ((-h, h), (h, h), (h, -h), (-h, -h))
    return {
        paper.first + n: (paper, tuple((x + dx, y + dy) for dx, dy in around))
        for paper in PAPERS.values()
        for n, (x, y) in enumerate(PLACES)
    }


def sheet_pdf(paper: Paper) -> bytes:
    """The sheet as PDF, drawn in vectors, at its true size."""
    return _compiled(paper, "pdf", 72.0)


def sheet_png(paper: Paper, dots_per_inch: float = 150.0) -> bytes:
    """The sheet as a PNG picture."""
    return _compiled(paper, "png", dots_per_inch)


@functools.lru_cache(8)
def _compiled(paper: Paper, kind: Literal["pdf", "png"], dots_per_inch: float) -> bytes:
    return set_paper("marker_sheet", _data(paper), None, form=kind, dots_per_inch=dots_per_inch)


def _data(paper: Paper) -> dict[str, Any]:
    """Rectangles and texts of the sheet, mm from its upper left corner."""
    w, h = paper.width, paper.height

    def rect(left: float, bottom: float, right: float, top: float, fill: tuple[int, int, int]) -> dict[str, Any]:
        return {
            "x": round(left + w / 2, 3), "y": round(h / 2 - top, 3),
            "width": round(right - left, 3), "height": round(top - bottom, 3), "fill": fill,
        }  # fmt: skip

    def text(left: float, top: float, wide: float, *lines: str, size: float = 8, **more: bool) -> dict[str, Any]:
        shown = {"middle": False, "bold": False} | more
        return {
            "x": round(left + w / 2, 3), "y": round(h / 2 - top, 3), "width": wide, "size": size, "lines": lines,
            **shown,
        }  # fmt: skip

    black, white = (0, 0, 0), (255, 255, 255)
    half = LINE / 2
    rectangles = [rect(*PANEL, PANEL_COLOUR), rect(*PATCH, (GREY, GREY, GREY))]
    for n, (x, y) in enumerate(PLACES):
        r = MARKER / 2
        rectangles.append(rect(x - r, y - r, x + r, y + r, black))
        bit = MARKER / 6
        for row, bits in enumerate(_bits(paper.first + n)):
            # neighbouring white bits are one rectangle: viewers draw hairlines between two
            for start, end in _runs(bits):
                top = y + r - row * bit
                rectangles.append(rect(x - r + start * bit, top - bit, x - r + end * bit, top, white))
    rectangles += [
        rect(-half, 76.0, half, 76.4, black),
        rect(-half - 0.15, 74.4, -half + 0.15, 78.0, black),
        rect(half - 0.15, 74.4, half + 0.15, 78.0, black),
    ]
    measure = f"Measure me: {LINE:g} mm between the middles of the end strokes"
    name, size = f"{paper.name}, long side down", f"markers {MARKER:g} mm"
    texts = [
        text(-half, 83.0, LINE, measure, size=9, middle=True),
        text(-131, 68, 29, "Marker sheet", name, size, bold=True),
        text(-131, 31.5, 34, "Grey patch, 18 %. For colours that can be compared lay a neutral grey card over it."),
        text(102, 68, 29, "1. Print in colour at 100 %, on matt paper."),
        text(102, 31.5, 29, "2. Measure the line. If it is not 100 mm, say so with --line."),
        text(102, 3, 29, "3. Glue it on card. Stand it upright, close behind the garden or beside it."),
        text(102, -29, 29, "4. Garden before the blue, three markers or more in view, even light, no flash."),
        text(102, -62, 29, "5. Hold the camera level with the garden, 200 to 600 mm away."),
    ]
    title = f"Nestwright marker sheet, {paper.name}"
    sized = {"lang": "en", "title": title, "footer": "", "width": w, "height": h}
    return {**sized, "rectangles": rectangles, "texts": texts}


def _bits(number: int) -> list[list[bool]]:
    """White (True) and black of a marker's 6 by 6 bits."""
    import cv2

    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    picture = cv2.aruco.generateImageMarker(book, number, 6)
    return [[bool(b > 127) for b in row] for row in picture]


def _runs(bits: list[bool]) -> list[tuple[int, int]]:
    """First and one past the last of each run of white bits."""
    edges = [i for i in range(len(bits) + 1) if (i < len(bits) and bits[i]) != (i > 0 and bits[i - 1])]
    return list(zip(edges[::2], edges[1::2], strict=True))
