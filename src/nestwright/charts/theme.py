"""One look for all pictures: colours, type, how a name and a number are written."""

from __future__ import annotations

import math
import unicodedata
from typing import Any

__all__ = ["INK", "LINE", "PAPER", "QUIET", "TINTS", "WIDTH", "ZONES", "clean", "configured", "number", "tints"]

WIDTH = 640
"""Width of every picture, px; at 390 px, a telephone's, the smallest type is still 8 px high."""

INK, QUIET, LINE, PAPER = "#22261f", "#5c6156", "#cfcabb", "#ffffff"

TINTS = {
    "temperature": "#f2dba4",
    "humidity": "#b7d0ea",
    "CO2": "#cbcac6",
    "O2": "#a6a8ad",
    "drip on the garden": "#7ea3c7",
    "garden's water": "#d3ab62",
}
"""What a region is tinted by when that limit goes first. Blue against ochre for eyes without red or green; each has
a lightness of its own, so that they stay apart in grey print."""

SPARE = ("#e6e1d3", "#8f9b8a", "#c6b8a4", "#9fb6bb", "#ece9e1", "#b4a98e")

ZONES = ("#1f5a8c", "#b4761a", "#5c6156", "#6c9ac4")
"""Lines of zones, told apart by dash and label too."""


def tints(limits: tuple[str, ...]) -> dict[str, str]:
    """A tint for each limit: that of its quantity, or a spare one when that is taken."""
    given: dict[str, str] = {}
    spare = 0
    for limit in limits:
        tint = TINTS.get(limit.rsplit(": ", 1)[-1], "")
        if not tint or tint in given.values():
            tint = SPARE[spare % len(SPARE)]
            spare += 1
        given[limit] = tint
    return given


def clean(text: object, most: int = 60) -> str:
    """A name as one line of at most `most` characters, without control characters and what cannot stand in XML."""
    kept = "".join(c if unicodedata.category(c)[0] != "C" else " " for c in str(text)[: 8 * most + 64])
    line = " ".join(kept.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def number(value: float | None, digits: int = 2) -> str:
    """A number with so many significant digits, without powers of ten; "none" where there is none."""
    if value is None or not math.isfinite(value):
        return "none"
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, decimals)
    return f"{rounded:.{max(0, digits - 1 - math.floor(math.log10(abs(rounded))))}f}"


LETTERS = "Helvetica, Arial, sans-serif"
LOOK: dict[str, Any] = {
    "font": LETTERS,
    "aria": False,
    "view": {"stroke": LINE},
    "title": {
        "fontSize": 19,
        "fontWeight": 600,
        "color": INK,
        "subtitleFontSize": 14,
        "subtitleColor": QUIET,
        "offset": 12,
        "frame": "bounds",
        "subtitlePadding": 5,
        "subtitleLineHeight": 18,
    },
    "axis": {
        "labelFontSize": 14,
        "titleFontSize": 14,
        "titleFontWeight": "normal",
        "labelColor": INK,
        "titleColor": INK,
        "gridColor": "#e9e6dc",
        "domainColor": QUIET,
        "tickColor": QUIET,
        "titlePadding": 8,
    },
    "legend": {
        "labelFontSize": 14,
        "titleFontSize": 14,
        "titleFontWeight": "normal",
        "labelColor": INK,
        "titleColor": QUIET,
        "labelLimit": 290,
        "symbolStrokeWidth": 1,
    },
    "text": {"font": LETTERS, "fontSize": 14, "color": INK},
}
"""The look of all pictures, as Vega-Lite's configuration."""


def configured(chart: Any, title: str, subtitle: list[str]) -> Any:
    """The chart with title and the look of all pictures."""
    title_of = {"text": clean(title, 62), "subtitle": [clean(line, 92) for line in subtitle], "anchor": "start"}
    made = chart.properties(
        title=title_of, padding={"left": 10, "right": 10, "top": 12, "bottom": 10}, background=PAPER
    )
    return made.configure(**LOOK)
