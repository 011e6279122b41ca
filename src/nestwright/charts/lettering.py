"""Text in a picture: how wide it will be, where a line is broken, and labels over a date axis that stay apart."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import Any

from nestwright.charts.theme import INK, PAPER, clean, configured

__all__ = ["SIZE", "Flag", "count_words", "fitted", "flags", "headed", "note", "of_rows", "once", "wide", "wrapped"]

SIZE = 13
"""Type of labels within a picture, px."""
MANY = 16
"""Labels from which on not all are drawn."""
NARROW, BROAD = frozenset(" .,:;'|!ijlftr()[]-/"), frozenset("mwMW@%—…")


def wide(text: str, size: float = SIZE) -> float:
    """Width of a text, px, a little more than it will need in the picture's type."""
    shares = (
        0.34 if c in NARROW else 0.95 if c in BROAD else 1.0 if unicodedata.east_asian_width(c) in "WF" else
        0.74 if c.isupper() else 0.58 for c in text
    )  # fmt: skip
    return size * sum(shares)


def fitted(text: object, room: float, size: float = SIZE) -> str:
    """A name as one line that fits into `room` px; what is cut off is told by a dot of three."""
    line = clean(text, 80)
    if wide(line, size) <= room:
        return line
    while line and wide(line + "…", size) > room:
        line = line[:-1]
    return line.rstrip() + "…" if line else ""


def wrapped(text: str, room: float, size: float = SIZE) -> list[str]:
    """Lines of at most `room` px; a word too long for one is cut."""
    lines: list[str] = []
    for word in text.split():
        word = fitted(word, room, size)
        if lines and wide(f"{lines[-1]} {word}", size) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def headed(chart: Any, title: str, lines: Iterable[str], width: int) -> Any:
    """The chart with the look of all pictures; title and lines under it broken so that they fit `width` px."""
    broken = [part for line in lines for part in wrapped(clean(line, 240), width - 20, 14)]
    big = 19 if width >= 560 else 17
    text = wrapped(clean(title, 110), width - 20, big * 1.04)[:3]
    look = {"text": text, "subtitle": broken, "anchor": "start", "fontSize": big}
    return configured(chart, title, broken).properties(title=look)


def of_rows(alt: Any, rows: Iterable[dict[str, Any]]) -> Any:
    """A chart of these rows of data."""
    # As a tuple: Altair copies lists row by row whenever charts are joined, which took half of a picture's time.
    from nestwright.charts.declared import Layer

    return Layer(alt.Data(values=tuple(rows)))


def once(alt: Any) -> Any:
    """A chart of one row without values, for a mark that stands at a place in px."""
    # A mark must encode something or Vega-Lite refuses it.
    return of_rows(alt, [{}]).encode(opacity=alt.OpacityValue(1))


def note(
    alt: Any, text: str, x: float, y: float, *, align: str = "left", weight: int = 400, tint: str = INK,
    size: int = SIZE, slant: bool = False,
) -> list[Any]:  # fmt: skip
    """A label at a place in px, clear of what lies under it: its outline in paper first, then the text itself."""
    look: dict[str, Any] = {
        "text": text, "x": round(x, 1), "y": round(y, 1), "align": align, "baseline": "middle", "fontSize": size,
        "fontWeight": weight, "fontStyle": "italic" if slant else "normal",
    }  # fmt: skip
    one = once(alt)
    return [
        one.mark_text(**look, stroke=PAPER, strokeWidth=4, strokeJoin="round", color=PAPER),
        one.mark_text(**look, color=tint),
    ]


@dataclass(frozen=True)
class Flag:
    """A label over a picture: its mark at `x` px, its text from `text_x` on (or up to it) in `lane`, 0 lowest."""

    x: float
    text: str
    text_x: float
    align: str
    lane: int

    @property
    def span(self) -> tuple[float, float]:
        """From where to where the text reaches, px."""
        long = wide(self.text) + 4
        return (self.text_x, self.text_x + long) if self.align == "left" else (self.text_x - long, self.text_x)


def flags(marks: Iterable[tuple[float, object]], width: float, lanes: int = 8) -> tuple[list[Flag], int]:
    """Labels that do not meet one another nor the staffs of others, and how many found no place.

    `marks`: (x px, text). Those at one place share one label. A label may reach from -30 px to `width` + 20 px.
    Several orders of placing are tried, with whole and with shortened texts; the one that leaves least unsaid is kept.
    """
    merged: dict[float, list[str]] = {}
    for x, text in sorted(marks, key=lambda m: m[0]):
        line = clean(text, 60)
        same = next((k for k in merged if abs(k - x) < 2), x)
        if line not in merged.setdefault(same, []):
            merged[same].append(line)
    best: list[Flag] = []
    # Very many are like one another as a rule: whole texts for some of them say more than stumps for all.
    many = len(merged) > MANY
    for most in (260.0,) if many else (260.0, 140.0, 90.0):
        texts = [(x, fitted("; ".join(t), min(most, 0.62 * width))) for x, t in merged.items()]
        for order, cut in product((texts[::-1], texts), (1.0, 0.6)):
            placed = _placed(order, width, 3 if many else lanes, cut)
            if _said(placed) > _said(best):
                best = placed
    return sorted(best, key=lambda f: f.x), len(merged) - len(best)


def _said(placed: list[Flag]) -> tuple[int, int]:
    return len(placed), sum(len(f.text) for f in placed)


def _placed(texts: list[tuple[float, str]], width: float, lanes: int, cut: float) -> list[Flag]:
    """Each label to the right of its staff, cut to no less than the share `cut` of its text, or else to the left."""
    placed: list[Flag] = []
    for x, whole in texts:
        text = fitted(whole, width + 16 - x - 4)
        sides = [(text, "left", x + 4)] if wide(text) >= cut * wide(whole) else []
        sides += [(whole, "right", x - 4)] if x - 8 - wide(whole) >= -30 else []
        tries = [Flag(x, t, at, align, lane) for t, align, at in sides for lane in range(lanes)]
        placed += [t for t in tries if all(_apart(f, t) for f in placed)][:1]
    return placed


def _apart(one: Flag, other: Flag) -> bool:
    """Neither text lies on the other's text or staff."""
    a, b = one.span, other.span
    if one.lane == other.lane:
        # The staff of each reaches up to its own lane.
        return (b[1] < a[0] or a[1] < b[0]) and not (a[0] < other.x < a[1]) and not (b[0] < one.x < b[1])
    lower, higher = (one, other) if one.lane < other.lane else (other, one)
    return not lower.span[0] < higher.x < lower.span[1]


def count_words(probability: float) -> str:
    """A probability as cases of ten, or of a hundred where ten are too coarse; never rounded to none or all."""
    p = min(max(probability, 0.0), 1.0)
    if p >= 1:
        return "in every case"
    if p <= 0:
        return "in no case"
    if p < 0.01 or p > 0.99:
        return "in fewer than 1 of 100 cases" if p < 0.5 else "in more than 99 of 100 cases"
    if p < 0.1 or p > 0.9:
        return f"in {round(100 * p)} of 100 cases"
    return f"in {round(10 * p)} of 10 cases"
