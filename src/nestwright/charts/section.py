"""The cross-section of a habitat as SVG: true to scale, with sizes in mm, humidity by colour, and its flows."""

from __future__ import annotations

import math
from html import escape
from typing import Any

from nestwright.charts.breaks import along, find_breaks, mark_svg
from nestwright.charts.marks import line
from nestwright.charts.marks import text as write
from nestwright.charts.placing import Box, Point, Sheet, around
from nestwright.charts.section_key import AIR, FILL, VAPOUR, humidity_colour, key_svg, tint
from nestwright.charts.section_tables import (
    GRAMS_A_DAY,
    LEAST_AIR,
    LEAST_VAPOUR,
    LITRES_AN_HOUR,
    Table,
    device_rows,
    opening_rows,
    table_svg,
    zone_rows,
)
from nestwright.charts.section_tables import letter as letter_of
from nestwright.charts.theme import INK, PAPER, QUIET, WIDTH, clean
from nestwright.climate.results import Proof
from nestwright.habitat.model import Chamber, Habitat
from nestwright.habitat.section import Opening, Piece, Section, section_shapes

__all__ = ["section_svg"]

LEFT, RIGHT, HEAD, AROUND = 86.0, 46.0, 60.0, 40.0
"""Room beside, above and about the drawing, px, for sizes, title and tags."""
TALLEST, FLAT = 380.0, 170.0
STEP = 26.0
"""From one row of sizes to the next, px."""
SPOTS = sorted(
    ((v / 24, u / 24) for v in range(1, 24) for u in range(1, 24)),
    key=lambda s: abs(s[0] - 0.5) + abs(s[1] - 0.5),
)
"""Where in a chamber its letter may stand, the middle first."""
STILL = 1e-9
"""m3/s: less than a few millilitres an hour is drawn as still air."""


def section_svg(habitat: Habitat, proof: Proof | None = None, width: int = WIDTH, *, fahrenheit: bool = False) -> str:
    """The drawing as SVG text; with a proof also humidity, air (L/h) and vapour (g/day).

    Letters stand for chambers and bells, numbers for openings, small letters for what stands inside; tables below
    the drawing say what they are. `width` px: of a phone, too, with letters of the same size.
    `fahrenheit`: air in °F.
    """
    return _Drawing(habitat, proof, width, fahrenheit=fahrenheit).svg()


class _Drawing:
    def __init__(self, habitat: Habitat, proof: Proof | None, width: int, *, fahrenheit: bool) -> None:
        self.habitat, self.proof, self.width, self.fahrenheit = habitat, proof, width, fahrenheit
        self.section: Section = section_shapes(habitat)
        self.breaks = find_breaks(self.section)
        self.titles = self._titles()
        head = HEAD + 20 * (len(self.titles) - 2)
        x0, z0, x1, z1 = self.section.box
        x0, x1, z0 = along(x0, self.breaks), along(x1, self.breaks), min(z0, 0.0)
        self.scale = min((width - LEFT - RIGHT) / max(x1 - x0, 1e-6), TALLEST / max(z1 - z0, 1e-6))
        # In a flat drawing the chambers are too small to hold their tags, which then stand above and below them.
        self.flat = (z1 - z0) * self.scale < FLAT
        above, self.below = (AROUND + 16, 40.0) if self.flat else (AROUND, 0.0)
        spare = (width - LEFT - RIGHT - (x1 - x0) * self.scale) / 2
        self.left, self.top = LEFT + spare - x0 * self.scale, head + above + z1 * self.scale
        self.bottom = self.top - z0 * self.scale
        self.box: Box = (LEFT + spare, head + above, width - RIGHT - spare, self.bottom)
        self.out: list[str] = []
        self.leaders: list[str] = []
        """Lines from tags to what they name; they go under all tags."""
        self.sheet = Sheet((LEFT + spare - 34, head - 2, width - 6, self.bottom + self.below + 6))
        zones = [p for p in self.section.pieces if p.kind in ("air", "bell air")]
        self.letters = {p.zone: letter_of(k) for k, p in enumerate(zones)}
        self.chambers = [self._pixels(p) for p in zones]
        self.humidity = {} if proof is None else {z.name: z.relative_humidity for z in proof.zones}
        self.materials = list(
            dict.fromkeys(p.material for p in self.section.pieces if p.kind in ("wall", "lid", "bell"))
        )

    def at(self, point: Point) -> Point:
        return self.left + along(point[0], self.breaks) * self.scale, self.top - point[1] * self.scale

    def svg(self) -> str:
        self._pieces()
        below = self._sizes()
        self._bench()
        for opening in self.section.openings:
            x, y = self.at(opening.at)
            self.sheet.taken.append((x - 9, y - 9, x + 9, y + 9))
        under = len(self.out)
        unnamed = self._zones()
        self._openings()
        self._devices()
        for letter, spot in unnamed:
            self._tag(letter, spot, (0.0, -1.0), "solid")
        self.out[under:under] = self.leaders
        there = {p.kind for p in self.section.pieces}
        kinds = [kind for kind in ("garden", "water", "heater") if kind in there]
        y = key_svg(self.materials, kinds, self.proof is not None, below + 10, self.out, self.width)
        for table in self._tables():
            y = table_svg(table, y, self.out, self.width)
        width, (title, *said) = self.width, self.titles
        head = [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {y:.0f}" width="{width}" height="{y:.0f}" '
            f'font-family="Helvetica, Arial, sans-serif" font-size="14" fill="{INK}" role="img">',
            f"<title>{escape(title)}: cross-section</title>",
            f'<defs><marker id="air" viewBox="0 0 8 8" refX="4" refY="4" markerWidth="7" markerHeight="7" '
            f'markerUnits="userSpaceOnUse" orient="auto-start-reverse"><path d="M0,0.5L8,4L0,7.5z" fill="{AIR}"/>'
            "</marker>"
            f'<marker id="vapour" viewBox="0 0 8 8" refX="4" refY="4" markerWidth="7" markerHeight="7" '
            f'markerUnits="userSpaceOnUse" orient="auto-start-reverse"><path d="M0,0.5L8,4L0,7.5z" fill="{VAPOUR}"/>'
            "</marker></defs>",
            f'<rect width="{width}" height="{y:.0f}" fill="{PAPER}"/>',
            write(12, 28, title, size=19 if width >= WIDTH else 16, weight=600),
            *(write(12, 50 + 20 * k, told, colour=QUIET) for k, told in enumerate(said)),
        ]
        return "\n".join([*head, *self.out, "</svg>\n"])

    def _titles(self) -> list[str]:
        """The title and what stands under it, sentence by sentence where the drawing is narrow."""
        narrow = self.width < WIDTH
        title = f"{clean(self.habitat.name, 24 if narrow else 44)}, revision {clean(self.habitat.revision, 10)}"
        scale = "true to scale but for tubes cut short" if self.breaks else "true to scale"
        under = [f"Vertical cut, {scale}; sizes in mm are inner sizes."]
        if self.proof is not None:
            verdict = "every limit held" if self.proof.holds else "not every limit held"
            under = [f"In {clean(self.proof.room, 22 if narrow else 40)}: {verdict}.", "Sizes in mm are inner sizes."]
        return [title, *(under if narrow else [" ".join(under)])]

    def _pieces(self) -> None:
        for piece in self.section.pieces:
            points = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self.at, piece.points))
            fill, more = self._look(piece)
            self.out.append(f'<polygon points="{points}" fill="{fill}"{more}/>')
            for cut in self.breaks if piece.kind == "passage" else ():
                x0, z0, x1, z1 = piece.box
                if x0 < cut.high and cut.low < x1:
                    # Aside from the middle, where the arrows are.
                    part = (cut.low + 0.24 * (cut.high - cut.low) - x0) / (x1 - x0)
                    ends = sorted(piece.points)
                    low, high = (sum(p[1] for p in pair) / 2 for pair in (ends[:2], ends[2:]))
                    x, y = self.at((x0 + part * (x1 - x0), low + part * (high - low)))
                    half = (z1 - z0 - abs(high - low)) / 2 * self.scale
                    self.out += mark_svg(x, y, half)

    def _look(self, piece: Piece) -> tuple[str, str]:
        if piece.kind in ("air", "bell air"):
            known = self.humidity.get(piece.zone)
            return (PAPER if known is None else humidity_colour(known)), ""
        if piece.kind in ("wall", "lid", "bell"):
            return tint(piece.material, self.materials), f' stroke="{QUIET}" stroke-width="0.7"'
        if piece.kind == "grid":
            dash = f' stroke="{INK}" stroke-width="0.6"'
            return "#f7f5ee", dash
        edge = (
            f' stroke="{INK}" stroke-width="0.8"' if piece.kind != "sensor" else f' stroke="{PAPER}" stroke-width="1"'
        )
        return FILL[piece.kind], edge

    def _bench(self) -> None:
        y = self.at((0.0, 0.0))[1]
        x0, x1 = self.box[0] - 18, self.box[2] + 18
        self.out.append(
            f'<line x1="{x0:.1f}" y1="{y:.1f}" x2="{x1:.1f}" y2="{y:.1f}" stroke="{INK}" stroke-width="1.6"/>'
        )
        # The grids' openings, as breaks in their bar.
        for piece in self.section.pieces:
            if piece.kind == "grid":
                a, b, c, d = piece.box
                (xa, ya), (xb, yb) = self.at((a, (b + d) / 2)), self.at((c, (b + d) / 2))
                width = max(1.6, (d - b) * self.scale)
                self.out.append(
                    f'<line x1="{xa + 3:.1f}" y1="{ya:.1f}" x2="{xb - 3:.1f}" y2="{yb:.1f}" stroke="{INK}" '
                    f'stroke-width="{width:.1f}" stroke-dasharray="2 4"/>'
                )

    # Sizes ----------------------------------------------------------------------------------------------------

    def _sizes(self) -> float:
        """Dimension lines; the y below which nothing of the drawing stands."""
        inner = set()
        for chamber in self.habitat.chambers:
            half = max(chamber.shape.width, chamber.shape.top_width if chamber.shape.kind == "cone" else 0.0) / 2
            x = chamber.place[0]
            inner.add((round((x - half) * 1e4), round((x + half) * 1e4)))
        inner |= {(round(cut.low * 1e4), round(cut.high * 1e4)) for cut in self.breaks}
        rows: list[list[tuple[float, float]]] = []
        y = self.bottom + self.below + 24
        for low, high in sorted(inner, key=lambda k: (k[1] - k[0], k[0])):
            a, b = self.at((low / 1e4, 0))[0], self.at((high / 1e4, 0))[0]
            if b - a < 30:
                continue
            free = (k for k, held in enumerate(rows) if all(b + 4 < c or d + 4 < a for c, d in held))
            row = next(free, len(rows))
            if row == len(rows):
                rows.append([])
            rows[row].append((a, b))
            self._measure(a, b, y + STEP * row, _mm((high - low) / 1e4), flat=True)
        x0, _, x1, z1 = self.section.box
        a, b = self.at((x0, 0))[0], self.at((x1, 0))[0]
        self._measure(a, b, y + STEP * len(rows), f"{_mm(x1 - x0)} over all", flat=True)
        side = self.box[0] - 50
        self._measure(self.at((0, z1))[1], self.at((0, 0))[1], side - STEP, _mm(z1), flat=False)
        for chamber in self._left_stack():
            floor = chamber.place[2]
            a, b = self.at((0, floor + chamber.shape.height))[1], self.at((0, floor))[1]
            if b - a >= 30:
                self._measure(a, b, side, _mm(chamber.shape.height), flat=False)
        return y + STEP * len(rows)

    def _left_stack(self) -> list[Chamber]:
        """The chambers seen first from the left, one above the other."""
        chambers = sorted(self.habitat.chambers, key=lambda c: c.place[0] - c.shape.width / 2)
        edge = chambers[0].place[0] if chambers else 0.0
        found: list[Chamber] = []
        for chamber in chambers:
            low, high = chamber.place[2], chamber.place[2] + chamber.shape.height
            free = all(low >= c.place[2] + c.shape.height or high <= c.place[2] for c in found)
            if free and abs(chamber.place[0] - edge) < chamber.shape.width / 2:
                found.append(chamber)
        return found

    def _measure(self, a: float, b: float, at: float, text: str, *, flat: bool) -> None:
        style = f'stroke="{QUIET}" stroke-width="0.9"'
        wide, mid = len(text) * 7.4 + 8, (a + b) / 2
        ends = ((a, mid - wide / 2), (mid + wide / 2, b))
        for low, high in ends:
            if high > low:
                xy = (low, at, high, at) if flat else (at, low, at, high)
                self.out.append(line(xy, style))
        for end in (a, b):
            self.out.append(line((end, at - 5, end, at + 5) if flat else (at - 5, end, at + 5, end), style))
        turn = "" if flat else f' transform="rotate(-90 {at:.1f} {mid:.1f})"'
        where = (mid, at + 4.8) if flat else (mid, at)
        x, y = where if flat else (at, mid + 4.8)
        self.out.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" fill="{QUIET}" font-size="13"{turn}>'
            f"{escape(text)}</text>"
        )

    # Tags -----------------------------------------------------------------------------------------------------

    def _zones(self) -> list[tuple[str, Point]]:
        """Letters and humidity inside the air that they name; gives back those without room, with a spot there."""
        inside = [p for p in self.section.pieces if p.kind not in ("wall", "lid", "grid")]
        unnamed = []
        for k, piece in enumerate(inside):
            if piece.kind not in ("air", "bell air"):
                continue
            x0, y0, x1, y1 = self._pixels(piece)
            nested = [self._pixels(p) for p in inside[k + 1 :] if p.kind != "sensor"]
            rh, letter = self.humidity.get(piece.zone), self.letters[piece.zone]
            spots = [(x0 + (x1 - x0) * u, y0 + (y1 - y0) * v) for v, u in SPOTS]
            for text, high in ((letter if rh is None else f"{letter} {_percent(rh)}", 19.0), (letter, 14.0)):
                size = (len(text) * 8.2 + 6, high)
                air = (x0 + size[0] / 2, y0 + high / 2, x1 - size[0] / 2, y1 - high / 2)
                fits = [s for s in spots if air[0] <= s[0] <= air[2] and air[1] <= s[1] <= air[3]]
                spot = self.sheet.place(size, (s for s in fits if not any(_covers(b, s, size) for b in nested)))
                if spot is not None:
                    self.out.append(write(spot[0], spot[1] + 5, text, anchor="middle", weight=600, size=15))
                    break
            else:
                # Toward a corner, where leaders cross the fewest other things.
                aim = (x0 + 0.12 * (x1 - x0), y0 + 0.3 * (y1 - y0))
                spots.sort(key=lambda s: abs(s[0] - aim[0]) + abs(s[1] - aim[1]))
                bare = (s for s in spots if not any(_covers(b, s, (3.0, 3.0)) for b in nested))
                unnamed.append((letter, next(bare, spots[0])))
        return unnamed

    def _pixels(self, piece: Piece) -> Box:
        a, b, c, d = piece.box
        return (*self.at((a, d)), *self.at((c, b)))

    def _openings(self) -> None:
        flows = self.flows()
        for number, opening in enumerate(self.section.openings, 1):
            x, y = self.at(opening.at)
            out = (opening.out[0], -opening.out[1])
            self._arrows(opening, flows.get(opening.name, {}), (x, y), out)
            # A grid's or a passage's tag stands across its flow, any other's beyond its arrow.
            aside = {"grid": (-1.0, 0.0), "passage": (0.0, -1.0), "rim gap": (0.5, -0.85)}.get(opening.kind, out)
            self._tag(str(number), (x, y), aside, "ring")

    def flows(self) -> dict[str, dict[str, dict[str, Any]]]:
        """Opening's name -> kind -> the proof's entry."""
        found: dict[str, dict[str, dict[str, Any]]] = {}
        for entry in () if self.proof is None else self.proof.exchange:
            found.setdefault(str(entry.get("label", "")), {})[str(entry["kind"])] = entry
        return found

    def _arrows(self, opening: Opening, flows: dict[str, dict[str, Any]], at: Point, out: Point) -> None:
        across = (-out[1], out[0])
        for kind, shift in (("air", -4.0), ("water", 4.0)):
            entry = flows.get(kind)
            if entry is None:
                continue
            outward = str(entry["from"]) == opening.zones[0]
            sign = 1.0 if outward == (float(entry["value"]) >= 0) else -1.0
            both = kind == "air" and float(entry.get("exchange", 0.0)) > abs(float(entry["value"]))
            if kind == "air" and max(abs(float(entry["value"])), float(entry.get("exchange", 0.0))) < STILL:
                continue
            if kind == "water" and entry["value"] == 0:
                continue
            x, y = at[0] + across[0] * shift, at[1] + across[1] * shift
            mark = "air" if kind == "air" else "vapour"
            more = f' marker-start="url(#{mark})"' if both else ""
            colour, wide = AIR if kind == "air" else VAPOUR, _width(kind, entry)
            style = f'stroke="{colour}" stroke-width="{wide:.1f}" marker-end="url(#{mark})"{more}'
            reach = (sign * out[0] * 8, sign * out[1] * 8)
            ends = (x - reach[0], y - reach[1], x + reach[0], y + reach[1])
            self.out.append(line(ends, style))

    def _devices(self) -> None:
        for number, piece in enumerate(self.devices()):
            a, b, c, d = self._pixels(piece)
            middle = ((a + c) / 2, (b + d) / 2)
            roomy = c - a >= 20 and d - b >= 20
            self._tag(letter_of(number).lower(), middle, (0.6, -0.8), "square", first=middle if roomy else None)

    def devices(self) -> list[Piece]:
        """What stands inside, in the order of its tags."""
        return [p for p in self.section.pieces if p.kind in ("garden", "water", "heater", "sensor")]

    def _tag(self, text: str, at: Point, out: Point, form: str, first: Point | None = None) -> None:
        spot = self.sheet.place((21.0, 19.0), [first]) if first else None
        if spot is None and self.flat and form != "ring":
            low = at[1] > self.bottom - 0.35 * (self.bottom - self.box[1])
            spots = around(at, (0.0, 1.0 if low else -1.0), range(20, 200, 9))
            spot = self.sheet.place((21.0, 19.0), spots, self.chambers)
        spot = spot or self.sheet.place((21.0, 19.0), around(at, out)) or at
        x, y = spot
        reach = ((x - at[0]) ** 2 + (y - at[1]) ** 2) ** 0.5
        if reach > 12 and form != "ring":
            self.leaders.append(f'<circle cx="{at[0]:.1f}" cy="{at[1]:.1f}" r="2" fill="{INK}"/>')
        if reach > 12:
            part = 1 - 9.5 / reach
            style = f'stroke="{QUIET}" stroke-width="0.8"'
            self.leaders.append(line((at[0], at[1], at[0] + (x - at[0]) * part, at[1] + (y - at[1]) * part), style))
        if form == "solid":
            self.out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9.5" fill="{INK}"/>')
        elif form == "ring":
            self.out.append(
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="9.5" fill="{PAPER}" stroke="{INK}" stroke-width="1"/>'
            )
        elif form == "square":
            self.out.append(
                f'<rect x="{x - 8.5:.1f}" y="{y - 8.5:.1f}" width="17" height="17" fill="{PAPER}" '
                f'stroke="{QUIET}" stroke-width="0.8"/>'
            )
        size = 13 if len(text) < 3 else 10
        self.out.append(
            write(
                x,
                y + 4.6,
                text,
                anchor="middle",
                size=size,
                weight=600 if form == "solid" else 400,
                colour=PAPER if form == "solid" else "",
            )
        )

    # Below the drawing ----------------------------------------------------------------------------------------

    def _tables(self) -> list[Table]:
        pieces = [p for p in self.section.pieces if p.zone in self.letters and p.kind in ("air", "bell air")]
        return [
            zone_rows(self.habitat, [p.zone for p in pieces], self.letters, self.proof, fahrenheit=self.fahrenheit),
            opening_rows(self.section.openings, self.letters, self.flows() if self.proof else None),
            device_rows(self.habitat, self.devices(), self.letters),
        ]


def _percent(share: float) -> str:
    # Not rounded up to saturation.
    return (
        f"{share * 100:.0f} %"
        if share <= 0.995 or share >= 1
        else "99.9 %"
        if share >= 0.9995
        else f"{share * 100:.1f} %"
    )


def _width(kind: str, entry: dict[str, Any]) -> float:
    """Width of an arrow, px: 1 for the least flow that is printed, 0.5 more for each factor of ten, 3 at most."""
    flow = max(abs(float(entry["value"])), float(entry.get("exchange", 0.0)))
    share = flow * (LITRES_AN_HOUR / LEAST_AIR if kind == "air" else GRAMS_A_DAY / LEAST_VAPOUR)
    return min(3.0, 1.0 + 0.5 * max(0.0, math.log10(share))) if share > 0 else 1.0


def _mm(length: float) -> str:
    return f"{length * 1000:.1f}".removesuffix(".0")


def _covers(box: Box, middle: Point, size: Point) -> bool:
    return (
        box[0] < middle[0] + size[0] / 2
        and middle[0] - size[0] / 2 < box[2]
        and box[1] < middle[1] + size[1] / 2
        and middle[1] - size[1] / 2 < box[3]
    )
