"""The tables under a cross-section: chambers, openings, and what stands inside."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Any

from nestwright.charts.theme import INK, LINE, QUIET, WIDTH, clean, number
from nestwright.climate.results import CELSIUS, DAY, Proof
from nestwright.habitat.model import Habitat, Shape
from nestwright.habitat.section import Opening, Piece

__all__ = [
    "GRAMS_A_DAY",
    "LEAST_AIR",
    "LEAST_VAPOUR",
    "LITRES_AN_HOUR",
    "Table",
    "device_rows",
    "letter",
    "opening_rows",
    "table_svg",
    "zone_rows",
]

ROW = 21
LITRES_AN_HOUR = 3.6e6
GRAMS_A_DAY = 1000 * DAY
LEAST_AIR, LEAST_VAPOUR = 0.01, 0.001
"""L/h and g/day below which a flow is printed as less than this."""


@dataclass(frozen=True)
class Table:
    """Heads and rows of text; `columns` holds (x px, "start" or "end") of each, `under` those of a second line on
    which all but the first two stand where the drawing is narrow."""

    columns: tuple[tuple[float, str], ...]
    under: tuple[tuple[float, str], ...]
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def letter(k: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    return chr(65 + k) if k < 26 else f"{letter(k // 26 - 1)}{chr(65 + k % 26)}"


def zone_rows(
    habitat: Habitat, zones: list[str], letters: dict[str, str], proof: Proof | None, *, fahrenheit: bool = False
) -> Table:
    """A row for each chamber and bell: inner size, and with a proof its air."""
    shapes: dict[str, Shape] = {c.name: c.shape for c in habitat.chambers}
    shapes |= {f"{b.chamber}/bell": b.shape for b in habitat.bells}
    states = {} if proof is None else {z.name: z for z in proof.zones}
    rows = []
    for zone in zones:
        row = [letters[zone], clean(zone, 22), _size(shapes[zone])]
        if proof is not None:
            state = states.get(zone)
            row += (
                ["", "", ""]
                if state is None
                else [
                    f"{(state.temperature - CELSIUS) * 1.8 + 32 if fahrenheit else state.temperature - CELSIUS:.1f}",
                    f"{state.relative_humidity * 100:.1f}",
                    number(state.co2 * 100),
                ]
            )
        rows.append(tuple(row))
    head = ("", "chamber", "inner size, mm")
    columns = ((12.0, "start"), (40.0, "start"), (392.0, "end"))
    first = (40.0, "start")
    if proof is None:
        return Table(columns, (first,), head, tuple(rows))
    air = ((462.0, "end"), (546.0, "end"), (628.0, "end"))
    under = (first, (230.0, "end"), (296.0, "end"), (368.0, "end"))
    return Table((*columns, *air), under, (*head, "°F" if fahrenheit else "°C", "% RH", "CO2 %"), tuple(rows))


def _size(shape: Shape) -> str:
    width, depth, top, height = (f"{v * 1000:.4g}" for v in (shape.width, shape.depth, shape.top_width, shape.height))
    if shape.kind == "box":
        return f"{width} × {depth} × {height}"
    return f"Ø {width} × {height}" if shape.kind == "cylinder" else f"Ø {width} to {top} × {height}"


def opening_rows(
    openings: tuple[Opening, ...], letters: dict[str, str], flows: dict[str, dict[str, dict[str, Any]]] | None
) -> Table:
    """A row for each opening: between what, and with a proof its net air, two-way air and vapour."""

    def short(zone: str) -> str:
        return letters.get(zone, clean(zone, 10))

    rows = []
    for k, opening in enumerate(openings, 1):
        row = [str(k), clean(opening.name, 22)]
        if flows is None:
            row.append(" – ".join(short(z) for z in opening.zones))
        else:
            air, vapour = (flows.get(opening.name, {}).get(kind) for kind in ("air", "water"))
            row += [
                _flow(air, short, LITRES_AN_HOUR, LEAST_AIR),
                "" if air is None else _least(float(air.get("exchange", 0.0)) * LITRES_AN_HOUR, LEAST_AIR),
                _flow(vapour, short, GRAMS_A_DAY, LEAST_VAPOUR),
            ]
        rows.append(tuple(row))
    columns = ((12.0, "start"), (40.0, "start"), (376.0, "end"), (462.0, "end"), (628.0, "end"))
    if flows is None:
        between = ("", "opening", "between")
        return Table((*columns[:2], (392.0, "end")), ((40.0, "start"),), between, tuple(rows))
    under = ((160.0, "end"), (236.0, "end"), (368.0, "end"))
    return Table(columns, under, ("", "opening", "air, L/h", "two-way", "vapour, g/day"), tuple(rows))


def _least(value: float, least: float) -> str:
    return "0" if value == 0 else f"< {least:g}" if value < least else number(value)


def _flow(entry: dict[str, Any] | None, short: Any, factor: float, least: float) -> str:
    if entry is None:
        return ""
    value = float(entry["value"]) * factor
    text = _least(abs(value), least)
    if abs(value) < least:
        return text
    ends = (entry["from"], entry["to"]) if value >= 0 else (entry["to"], entry["from"])
    return f"{short(str(ends[0]))} → {short(str(ends[1]))}\u00a0\u00a0{text}"


def device_rows(habitat: Habitat, devices: list[Piece], letters: dict[str, str]) -> Table:
    """A row for each garden, water body, heater and sensor."""
    gardens = {f"{g.chamber} garden": g for g in habitat.gardens}
    waters = {(w.name, w.chamber): w for w in habitat.waters}
    heaters = {h.name: h for h in habitat.heaters}
    rows = []
    for k, piece in enumerate(devices):
        zone = letters.get(piece.zone, "")
        if piece.kind == "garden":
            text = f"{gardens[piece.name].volume * 1e6:.3g} mL in {zone}"
        elif piece.kind == "water":
            water = waters[piece.name, piece.zone]
            text = f"{water.kind}, {water.store * 1000:.3g} g of water in {zone}"
        elif piece.kind == "heater":
            heater = heaters[piece.name]
            place = heater.where[1]
            where = place if place in ("side", "top", "base") else f"in the {place}"
            text = f"heater, {heater.power:.3g} W, {where} of {zone}"
        else:
            text = f"sensor in {zone}"
        rows.append((letter(k).lower(), clean(piece.name, 28), text))
    columns = ((12.0, "start"), (40.0, "start"), (280.0, "start"))
    return Table(columns, ((40.0, "start"),), ("", "inside", ""), tuple(rows))


def table_svg(table: Table, y: float, out: list[str], width: int = WIDTH) -> float:
    """Append the table, its first line below `y`; the y below its last."""
    if not table.rows:
        return y
    y = _line(table, table.head, y + 8, out, QUIET, width)
    out.append(f'<line x1="12" y1="{y + 6:.1f}" x2="{width - 12}" y2="{y + 6:.1f}" stroke="{LINE}"/>')
    y += 3
    for row in table.rows:
        y = _line(table, row, y, out, INK, width)
    return y + 10


def _line(table: Table, row: tuple[str, ...], y: float, out: list[str], colour: str, width: int) -> float:
    """Append a row below `y`, on two lines where the drawing is narrow; the y of its last."""
    cells = list(zip(table.columns, row, strict=True))
    lines = [cells] if width >= WIDTH else [cells[:2], list(zip(table.under, row[2:], strict=True))]
    for line in lines:
        if any(text for _, text in line):
            y += ROW
        for (x, anchor), text in line:
            if text:
                out.append(f'<text x="{x:g}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}">{escape(text)}</text>')
    return y
