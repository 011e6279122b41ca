"""The files of a batch: plates and sheets as SVG and DXF, purchases and plan as CSV, a quality sheet for each build."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from nestwright.files import plain_name
from nestwright.habitat.model import Habitat
from nestwright.parts.batch import BatchPlan
from nestwright.parts.files_flat import LAYERS, Cut, cuts_of, draw_cut, laid, order_classes
from nestwright.parts.layouts import Layout
from nestwright.parts.nesting import Placed
from nestwright.parts.quality import quality_pdf
from nestwright.parts.rings import box_of

__all__ = ["layout_svg", "placed_cut", "serials_on", "write_batch", "write_layout_dxf"]


def write_batch(
    plan: BatchPlan,
    habitats: Mapping[str, Habitat],
    folder: Path,
    document: Mapping[str, Any],
    cautions: tuple[str, ...] = (),
    told: Callable[[int, int], object] = lambda done, of: None,
    *,
    named: bool = True,
) -> list[str]:
    """Write everything into a folder that is there and empty; names of the files, in order.

    Parameters
    ----------
    habitats : mapping
        The designs by name.
    document : mapping
        What plan.json holds.
    told : callable
        Is called with how many files are written, of how many.
    named : bool
        Whether what a laser cuts has its name engraved, with the serial of its build.

    Raises
    ------
    OSError
        When the folder cannot be written to; `nestwright.new_folder` turns it into words.
    """
    sheets = [one for one in plan.layouts if one.thickness]
    whole = 3 + len(plan.layouts) + len(sheets) + len(plan.serials)
    names: list[str] = []

    def put(name: str, content: str | bytes) -> None:
        place = folder / name
        place.parent.mkdir(exist_ok=True)
        place.write_bytes(content.encode() if isinstance(content, str) else content)
        names.append(name)
        told(len(names), whole)

    put("plan.json", json.dumps(document, indent=2, ensure_ascii=False) + "\n")
    put("purchases.csv", _table(document["purchases"]))
    put("jobs.csv", _table(document["jobs"]))
    marks = serials_on(plan)
    for number, (one, serials) in enumerate(zip(plan.layouts, marks, strict=True), 1):
        name = f"layouts/{number:02d}-{plain_name(one.name)}"
        put(f"{name}.svg", layout_svg(one, serials, named=named))
        if one.thickness:
            write_layout_dxf(one, folder / f"{name}.dxf", serials, named=named)
            names.append(f"{name}.dxf")
            told(len(names), whole)
    assemblies = {p.assembly.habitat: p.assembly for p in plan.products}
    for serial, habitat in plan.serials:
        sheet = quality_pdf(serial, habitats[habitat], assemblies[habitat], cautions)
        put(f"quality/{plain_name(serial)}.pdf", sheet)
    return names


def serials_on(plan: BatchPlan) -> list[tuple[str, ...]]:
    """For each layout the serial of the build that each of its pieces is for; "" for a spare, and for a mould."""
    builds = [[serial for serial, of in plan.serials if of == one.assembly.habitat] for one in plan.products]
    placed: Counter[tuple[int, str]] = Counter()
    marks = []
    for layout in plan.layouts:
        here = []
        for number, part in (one.piece.key for one in layout.pieces):
            build = placed[number, part.name] // part.quantity
            placed[number, part.name] += 1
            here.append(builds[number][build] if part.kind != "mould" and build < plan.count else "")
        marks.append(tuple(here))
    return marks


def _table(rows: list[dict[str, Any]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]) if rows else ["none"], lineterminator="\n")
    writer.writeheader()
    writer.writerows({k: _plain(v) for k, v in row.items()} for row in rows)
    return out.getvalue()


def _plain(value: Any) -> Any:
    """A cell; one that a spreadsheet would run as a formula begins with a quote."""
    return f"'{value}" if isinstance(value, str) and value[:1] in "=+-@\t\r" else value


def placed_cut(placed: Placed, kerf: float, serial: str = "", *, named: bool = True) -> Cut | None:
    """Lines of a flat piece where it lies, mm, with half the cut of `kerf` m taken off; None of a piece that is not
    cut from a sheet. `serial`: of the build that it is for.

    Raises
    ------
    InputError
        For an opening narrower than the cut.
    """
    part = placed.piece.key[1]
    if part.sheet is None or part.way not in ("laser", "cut"):
        return None
    left, front, _, _ = (1000 * v for v in box_of(part.sheet.outline))
    x0, y0, w = 1000 * placed.x, 1000 * placed.y, 1000 * placed.width

    def to(x: float, y: float) -> tuple[float, float]:
        x, y = x - left, y - front
        # a quarter turn to the left, back into the first quadrant
        return (x0 + w - y, y0 + x) if placed.turned else (x0 + x, y0 + y)

    return laid(cuts_of(part, kerf, named=named, serial=serial), to)


_STROKES = {"engrave": "#0000c0", "cut": "#c00000", "box": "#404040"}


def layout_svg(layout: Layout, serials: Sequence[str] = (), *, named: bool = True) -> str:
    """A plate or sheet, one unit a millimetre: cuts red, engraving blue, names grey and on a layer of their own.
    `serials`: as of `serials_on`, of each piece; none known without."""
    w, d = 1000 * layout.bed.width, 1000 * layout.bed.depth
    groups: dict[str, list[str]] = {layer: [] for layer in _STROKES}
    names = []
    for placed, serial in zip(layout.pieces, serials or [""] * len(layout.pieces), strict=True):
        cut = placed_cut(placed, layout.kerf, serial, named=named)
        if cut is None:
            x, y = 1000 * placed.x, d - 1000 * (placed.y + placed.depth)
            size = f'width="{1000 * placed.width:.3f}" height="{1000 * placed.depth:.3f}"'
            groups["box"].append(f'<rect x="{x:.3f}" y="{y:.3f}" {size}/>')
        else:
            groups["engrave"] += [_path(line, d) for line in cut.engraved]
            circles = (*cut.circles, *([cut.outer_circle] if cut.outer_circle else []))
            groups["cut"] += [f'<circle cx="{x:.3f}" cy="{d - y:.3f}" r="{a / 2:.3f}"/>' for x, y, a in circles]
            groups["cut"] += [_path(line, d) for line in (*cut.inside, *cut.outside)]
        x, y = 1000 * (placed.x + placed.width / 2), d - 1000 * (placed.y + placed.depth / 2)
        name, high = _fitting(placed, serial)
        if name:
            names.append(f'<text x="{x:.2f}" y="{y + high / 3:.2f}" font-size="{high:.2f}">{escape(name)}</text>')
    drawn = [
        f'<g id="{layer}" fill="none" stroke="{_STROKES[layer]}" stroke-width="0.2">{"".join(rows)}</g>'
        for layer, rows in groups.items()
        if rows
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:.3f}mm" height="{d:.3f}mm" viewBox="0 0 {w:.3f} {d:.3f}">'
        f"<title>{escape(layout.name)}</title>"
        f'<rect id="bed" width="{w:.3f}" height="{d:.3f}" fill="none" stroke="#a0a0a0" stroke-width="0.4"/>'
        + "".join(drawn)
        + f'<g id="names" fill="#606060" text-anchor="middle" font-family="sans-serif">{"".join(names)}</g></svg>\n'
    )


def _path(line: Sequence[tuple[float, float]], deep: float) -> str:
    """A line as SVG, mm, y downward."""
    points = " L".join(f"{x:.3f},{deep - y:.3f}" for x, y in line)
    return f'<path d="M{points}{" Z" if line[0] == line[-1] else ""}"/>'


def _fitting(placed: Placed, serial: str) -> tuple[str, float]:
    """The name of a piece and its serial in a size that stays inside its box; one of them where there is no room for
    both, none where it would be too small to read."""
    name = placed.piece.name
    wide, high = 1000 * placed.width, 1000 * placed.depth
    for text in (f"{name} {serial}", serial, name) if serial else (name,):
        size = min(5.0, 0.5 * high, 1.6 * wide / max(1, len(text)))
        if size >= 1.2:
            return text, size
    return "", 0.0


def write_layout_dxf(layout: Layout, path: Path, serials: Sequence[str] = (), *, named: bool = True) -> None:
    """A sheet as DXF R2010 in mm, layers as of a single part and SHEET; its rim is for the eye, not to be cut.
    `serials`: as for `layout_svg`."""
    import ezdxf

    drawing = ezdxf.new("R2010", units=ezdxf.units.MM)
    for layer, colour in (*LAYERS, ("SHEET", 8)):
        drawing.layers.add(layer, color=colour)
    space = drawing.modelspace()
    w, d = 1000 * layout.bed.width, 1000 * layout.bed.depth
    space.add_lwpolyline([(0, 0), (w, 0), (w, d), (0, d)], close=True, dxfattribs={"layer": "SHEET"})
    for placed, serial in zip(layout.pieces, serials or [""] * len(layout.pieces), strict=True):
        cut = placed_cut(placed, layout.kerf, serial, named=named)
        if cut is not None:
            draw_cut(space, cut)
    order_classes(drawing)
    drawing.saveas(path)
