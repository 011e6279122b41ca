"""Frame, title block, notes and table of a drawing: ISO 5457 and ISO 7200; mm on the paper."""

from __future__ import annotations

from nestwright.parts.drawing_texts import Row
from nestwright.parts.model import Assembly, Measured, Part
from nestwright.parts.paper import LETTER, THICK, THIN, Box, Paper, fitted, text_width

__all__ = ["FRAME", "TABLE_WIDTH", "TITLE", "draw_notes", "draw_table", "draw_title"]

FRAME = Box(20.0, 10.0, 287.0, 200.0)
"""Of a sheet A4 across: 20 mm to bind at the left, 10 mm else."""
TITLE = Box(117.0, 162.0, 287.0, 200.0)
TABLE_WIDTH = 92.0


def draw_table(paper: Paper, rows: tuple[Row, ...], left: float) -> None:
    """Sizes of the features at the right of the sheet."""
    size, step = 2.5, 4.2
    columns = ((left + 2, "", "start"), (left + 8, "feature", "start"), (left + 46, "mm", "end"),
               (left + 56, "± mm", "end"), (left + 62, "n", "end"), (left + 90, "at x, y, z", "end"))  # fmt: skip
    paper.line([(left, 10), (left, TITLE.top), (FRAME.right, TITLE.top)], THIN)
    y = 15.0
    for x, word, anchor in columns:
        paper.text(word, x, y, size, anchor, bold=True)
    paper.line([(left, y + 1.5), (FRAME.right, y + 1.5)])
    room = int((TITLE.top - y - 4) / step)
    shown = rows if len(rows) <= room else rows[: room - 1]
    for row in shown:
        y += step
        name, narrow = fitted(row.name, 26.0, size, 1.9)
        paper.text(name, left + 8, y, narrow)
        cells = (row.label, "", row.size, row.tolerance, row.count)
        for (x, _, anchor), cell in zip(columns, cells, strict=False):
            paper.text(cell, x, y, size, anchor)
        where, small = fitted(row.where, 27.0, size, 1.9)
        paper.text(where, left + 90, y, small, "end")
    if len(shown) < len(rows):
        paper.text(f"{len(rows) - len(shown)} more: see the list of parts", left + 8, y + step, size)


def draw_notes(paper: Paper, notes: tuple[str, ...]) -> None:
    """General tolerance, fits and what the way of making holds, at the left of the title block."""
    y, size, wide = TITLE.top + 4.2, 2.5, TITLE.left - FRAME.left - 4
    paper.line([(FRAME.left, TITLE.top), (TITLE.left, TITLE.top)])
    room = int(wide / text_width("x", size))
    lines: list[str] = []
    for note in notes:
        run = ""
        for word in note.split():
            if run and len(run) + 1 + len(word) > room:
                lines.append(run)
                run = "  "
            run = f"{run} {word}" if run.strip() else run + word
        lines.append(run)
    most = int((FRAME.bottom - y) / 3.7) + 1
    for line in lines[: most if len(lines) <= most else most - 1]:
        paper.text(fitted(line, wide, size)[0], FRAME.left + 2, y, size)
        y += 3.7
    if len(lines) > most:
        paper.text("… see the list of parts", FRAME.left + 2, y, size)


def draw_title(
    paper: Paper, part: Part, measured: Measured | None, assembly: Assembly | None, scale: float, date: str
) -> None:
    """Title block after ISO 7200, with the symbol of first-angle projection."""
    left, top, right, bottom = TITLE.left, TITLE.top, TITLE.right, TITLE.bottom
    paper.line([(left, top), (right, top), (right, bottom), (left, bottom)], THICK, closed=True)
    ratio = f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"
    mass = f"{measured.mass * 1e3:.3g} g" if measured is not None and measured.mass > 0 else "–"
    habitat, revision, mark = (
        (assembly.habitat, assembly.revision, assembly.sha256[:12]) if assembly else ("–", "–", "–")
    )
    rows: tuple[tuple[float, tuple[tuple[float, str, str], ...]], ...] = (
        (13.0, ((90, "part", part.name), (50, "habitat", habitat), (30, "revision", revision))),
        (12.5, ((60, "material", part.material), (30, "made", part.way), (30, "number each", str(part.quantity)),
                (20, "scale", ratio), (30, "mass", mass))),
        (12.5, ((60, "serves", part.serves or "–"), (30, "date", date or "–"), (30, "file", mark), (20, "mm, A4", ""))),
    )  # fmt: skip
    y = top
    for height, cells in rows:
        x = left
        for wide, word, text in cells:
            paper.line([(x, y), (x + wide, y), (x + wide, y + height), (x, y + height)], THIN, closed=True)
            paper.text(word, x + 1.5, y + 3.6, 2.5)
            said, size = fitted(text, wide - 3, 5.0 if word == "part" else LETTER)
            paper.text(said, x + 1.5, y + height - 3.2, size, bold=word == "part")
            x += wide
        y += height
    _first_angle(paper, right - 15, bottom - 6.2)


def _first_angle(paper: Paper, x: float, y: float) -> None:
    """ISO 5456-2: a cone's stump, its small end to the left, and to its right what is seen from the left."""
    paper.line([(x - 10, y - 1.75), (x - 2, y - 3.5), (x - 2, y + 3.5), (x - 10, y + 1.75)], THIN, closed=True)
    paper.circle(x + 6, y, 3.5)
    paper.circle(x + 6, y, 1.75)
    paper.line([(x - 12, y), (x, y)], THIN, "centre")
    paper.line([(x + 1, y), (x + 11, y)], THIN, "centre")
    paper.line([(x + 6, y - 5), (x + 6, y + 5)], THIN, "centre")
