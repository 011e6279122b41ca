"""Are the made parts what was proved? Air, walls and openings measured on the solids beside what the proof used.

The inner space of a chamber is what is left of a body a little larger than it when its walls, lid, base or grid are
taken out: the larger body reaches to the middle of each wall, so that a wall that stands too far out or in shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from nestwright.data import load_species
from nestwright.habitat.assemble import assemble
from nestwright.habitat.fit import pattern_area
from nestwright.habitat.model import Chamber, Habitat, Pattern
from nestwright.habitat.standing import share_under
from nestwright.parts.draft import level_thickness, wall_of
from nestwright.parts.model import Assembly, Part
from nestwright.parts.open_areas import bore_area, flat_openings, gap_height, rim_gap_area, wall_openings
from nestwright.parts.solids import placed, turned

__all__ = ["LIMIT", "Compared", "compare_with_proof", "space_of"]

LIMIT = 0.01
"""Largest share by which a measured size may differ from the proved one."""

_ENCLOSE = ("body", "panel", "lid", "grid", "mesh", "mesh frame", "sensor holder", "plug")


@dataclass(frozen=True)
class Compared:
    """One size of the proof and of the parts, SI; `severity` "error" beyond the limit."""

    what: str
    quantity: Literal["volume", "area", "length"]
    proved: float
    made: float
    severity: Literal["ok", "error"]
    field: str = ""
    line: int = 0

    @property
    def off(self) -> float:
        """Difference as a share of the proved size."""
        return self.made / self.proved - 1 if self.proved else math.inf

    def to_dict(self) -> dict[str, Any]:
        """Volumes in mL, areas in mm2, lengths in mm."""
        factor, unit = {"volume": (1e6, "mL"), "area": (1e6, "mm2"), "length": (1e3, "mm")}[self.quantity]
        return {
            "what": self.what,
            "unit": unit,
            "proved": float(f"{self.proved * factor:.5g}"),
            "made": float(f"{self.made * factor:.5g}"),
            "off_percent": float(f"{self.off * 100:.3g}"),
            "severity": self.severity,
            "field": self.field,
            "line": self.line,
        }


def compare_with_proof(
    habitat: Habitat, assembly: Assembly, solids: Mapping[str, Any], limit: float = LIMIT
) -> tuple[Compared, ...]:
    """Every size that the air network rests on, as the proof used it and as measured on the solids.

    Parameters
    ----------
    solids : mapping
        Solids by name of part, each in its own frame (`nestwright.parts.solids.solid_of`).
    limit : float
        Largest share of difference that is no error.

    Returns
    -------
    tuple of Compared
        Inner spaces, the air left in them, walls, openings and ways beyond the limit are errors.
    """
    parts = {p.name: p for p in assembly.parts}
    stand = {name: placed(parts[name], solid) for name, solid in solids.items()}
    network = assemble(habitat, load_species(habitat.species)).network
    proved_air = dict(zip(network.zone_names, (float(v) for v in network.net.volume), strict=False))
    return tuple(_Comparison(habitat, assembly, stand, proved_air, limit).all())


def space_of(habitat: Habitat, chamber: Chamber, assembly: Assembly, stand: Mapping[str, Any]) -> Any:
    """The closed space inside a chamber, mm, cut off in the middle of every opening; without what stands in it."""
    from build123d import Align, Box, Pos

    above = next((g for g in habitat.grids if g.below == chamber.name), None)
    below = next((g for g in habitat.grids if g.above == chamber.name), None)
    shape, (x, y, z) = chamber.shape, (v * 1e3 for v in chamber.place)
    side = wall_of(chamber, "side")[1] / 2
    # where the lid leaves a gap the space ends at the walls' upper edge
    under_lid = 0.0 if chamber.lid_gap > 0 else wall_of(chamber, "top")[1] / 2
    top = above.pattern.thickness / 2 if above else under_lid
    base = below.pattern.thickness / 2 if below else wall_of(chamber, "base")[1] / 2
    h, side, top, base = (v * 1e3 for v in (shape.height, side, top, base))
    if shape.kind == "box":
        low = (Align.CENTER, Align.CENTER, Align.MIN)
        whole = Box(shape.width * 1e3 + 2 * side, shape.depth * 1e3 + 2 * side, h + top + base, align=low)
        space = Pos(x, y, z - base) * whole
    else:
        a, b = shape.width * 500, shape.top_width * 500
        side = level_thickness(shape, side)
        lean = (b - a) / h
        points = [(0, -base), (a + side - lean * base, -base), (b + side + lean * top, h + top), (0, h + top)]
        space = Pos(x, y, z) * turned(points)
    around = _around(habitat, chamber)
    box = space.bounding_box()
    tools = []
    for part in assembly.parts:
        solid = stand.get(part.name)
        if solid is None or part.kind not in _ENCLOSE or part.serves not in around:
            continue
        if _meet(box, solid.bounding_box()):
            tools.append(solid)
    if above and above.pattern.kind == "mesh":  # the port ends the space: what is in it counts by itself
        port = above.pattern.width * 500 + 0.01
        tools.append(Pos(x, y, z + h) * turned([(0, 0), (port, 0), (port, top + 1), (0, top + 1)]))
    left = space.cut(*tools) if tools else space
    found = left.solids()
    # shreds between the middle of a wall and its outer side are no space
    return max(found, key=lambda s: s.volume)


def _around(habitat: Habitat, chamber: Chamber) -> set[str]:
    """What the parts serve that may close a chamber: itself, its grids, vents, sensors, and the lid it stands on."""
    name = chamber.name
    found = {f"chamber.{name}", f"chamber.{chamber.wall('base').touches}"}
    if any(c.role == "outer" and c.name == chamber.wall("base").touches for c in habitat.chambers):
        found.discard(f"chamber.{chamber.wall('base').touches}")
    found |= {f"grid.{g.above}" for g in habitat.grids if name in (g.above, g.below)}
    found |= {f"vent.{v.name}" for v in habitat.vents if v.chamber == name}
    found |= {f"sensor.{s.name}" for s in habitat.sensors if s.chamber == name}
    return found | {f"plug.{p.name}" for p in habitat.passages if name in p.between}


def _meet(a: Any, b: Any, by: float = 0.0) -> bool:
    return bool(
        b.max.X - by > a.min.X and a.max.X - by > b.min.X
        and b.max.Y - by > a.min.Y and a.max.Y - by > b.min.Y
        and b.max.Z - by > a.min.Z and a.max.Z - by > b.min.Z
    )  # fmt: skip


class _Comparison:
    def __init__(
        self, habitat: Habitat, assembly: Assembly, stand: Mapping[str, Any], air: Mapping[str, float], limit: float
    ) -> None:
        self.habitat, self.assembly, self.stand, self.air, self.limit = habitat, assembly, stand, air, limit
        self.bells = {b.chamber: b for b in habitat.bells}

    def all(self) -> Iterator[Compared]:
        for chamber in self.habitat.chambers:
            yield from self.chamber(chamber)
        for chamber in self.habitat.chambers:
            yield from self.openings(chamber)
        for grid in self.habitat.grids:
            yield from self.grid(grid)
        for passage in self.habitat.passages:
            yield from self.passage(passage)

    def row(self, what: str, quantity: Any, proved: float, made: float, field: str, line: int) -> Compared:
        beyond = abs(made / proved - 1) > self.limit if proved else made > 0
        return Compared(what, quantity, proved, made, "error" if beyond else "ok", field, line)

    def of_kind(self, serves: str, *kinds: str) -> list[Part]:
        return [p for p in self.assembly.parts if p.serves == serves and p.kind in kinds and p.name in self.stand]

    # -- spaces and walls ------------------------------------------------------------------------------------

    def chamber(self, chamber: Chamber) -> Iterator[Compared]:
        name, key, shape = chamber.name, f"chamber.{chamber.name}", chamber.shape
        space = space_of(self.habitat, chamber, self.assembly, self.stand)
        volume = space.volume * 1e-9
        yield self.row(f"{name}: inner space", "volume", shape.volume, volume, key, chamber.line)
        areas = self.inner_areas(space, chamber)
        for face in ("side", "top", "base"):
            proved = shape.area(face)
            yield self.row(f"{name}: {face}", "area", proved, areas[face], f"{key}.{face}", chamber.line)
        content = self.contents(chamber)
        garden = sum(g.volume for g in self.habitat.gardens if g.chamber == name)
        bell = self.bells.get(name)
        if bell is None:
            content += garden
        else:
            inside = self.bell_space(chamber.name)
            content += inside
            told = f"{name}/bell"
            proved = self.air[told]
            yield self.row(f"{told}: air", "volume", proved, max(inside - garden, 0.05 * inside), key, bell.line)
        volume += self.recess(name)
        left = max(volume - content, 0.05 * volume)
        yield self.row(f"{name}: air beside its contents", "volume", self.air[name], left, key, chamber.line)

    def inner_areas(self, space: Any, chamber: Chamber) -> dict[str, float]:
        """Areas of the large faces of a space by where they look, m2; openings in them are counted as wall."""
        found = {"side": 0.0, "top": 0.0, "base": 0.0}
        shape = chamber.shape
        h = shape.height * 1e3
        across = 0.3 * min(shape.width, shape.depth, shape.top_width) * 1e3
        for face in space.faces():
            box = face.bounding_box().size
            flat = box.Z < 1e-3
            if flat and max(box.X, box.Y) > across:
                middle = face.center().Z - chamber.place[2] * 1e3
                up = face.normal_at().Z > 0
                if abs(middle - (h if up else 0.0)) < 0.05 * h:
                    found["top" if up else "base"] += face.without_holes().area * 1e-6
            elif not flat and 0.5 * h < box.Z:
                found["side"] += face.without_holes().area * 1e-6
        return found

    def contents(self, chamber: Chamber) -> float:
        """Volume of what stands in a chamber, without gardens and what is under a bell, m3."""
        names = {f"water.{w.name}" for w in self.habitat.waters if w.chamber == chamber.name}
        names.add(f"bell.{chamber.name}")
        inside = [p for p in self.assembly.parts if p.serves in names and p.kind != "mould" and p.name in self.stand]
        total = sum(self.stand[p.name].volume for p in inside) * 1e-9
        # a tray holds its water, a pool on the floor has no part
        pools = [w for w in self.habitat.waters if w.chamber == chamber.name and w.kind == "pool"]
        total += sum(w.store / 1000.0 for w in pools)
        if chamber.role == "outer":  # other chambers stand in it
            others = [c for c in self.habitat.chambers if chamber.name in (w.touches for w in c.walls)]
            for other in others:
                around = self.of_kind(f"chamber.{other.name}", "body", "panel", "lid", "jacket")
                around += self.of_kind(f"grid.{other.name}", "grid", "mesh frame", "mesh")
                total += other.shape.volume + sum(self.stand[p.name].volume for p in around) * 1e-9
        return total

    def recess(self, name: str) -> float:
        """Air in the ports of meshes above a chamber, below the mesh, m3."""
        total = 0.0
        for grid in self.habitat.grids:
            for plate in self.of_kind(f"grid.{grid.above}", "mesh frame") if grid.below == name else []:
                if plate.sizes.get("seat"):
                    solid = self.stand[plate.name]
                    high = solid.bounding_box().size.Z * 1e-3 - plate.sizes["seat_depth"]
                    total += bore_area(solid) * high
        return total

    def bell_space(self, name: str) -> float:
        """Space inside a bell down to its rim, m3: its hull less its own solids."""
        from build123d import Align, Box, Pos

        parts = self.of_kind(f"bell.{name}", "bell")
        bell = self.bells[name]
        s, thick = bell.shape, sum(layer.thickness for layer in bell.layers) * 1e3
        box = self.stand[parts[0].name].bounding_box()
        for part in parts[1:]:
            box = box.add(self.stand[part.name].bounding_box())
        rim = min(p.place[2] for p in parts) * 1e3
        x, y = (v * 1e3 for v in self.habitat.chamber(name).place[:2])
        high = box.max.Z - rim - thick / 2
        if s.kind == "box":
            low = (Align.CENTER, Align.CENTER, Align.MIN)
            hull = Pos(x, y, rim) * Box(s.width * 1e3 + thick, s.depth * 1e3 + thick, high, align=low)
        else:
            a, b, t = s.width * 500, s.top_width * 500, thick / 2
            lean = (b - a) / (s.height * 1e3)
            hull = Pos(x, y, rim) * turned([(0, 0), (a + t, 0), (a + t + lean * high, high), (0, high)])
        left = hull.cut(*(self.stand[p.name] for p in parts)).solids()
        return float(max(left, key=lambda one: one.volume).volume) * 1e-9

    # -- openings --------------------------------------------------------------------------------------------

    def openings(self, chamber: Chamber) -> Iterator[Compared]:
        """Openings of each face of a chamber together, and its gaps."""
        h, name = self.habitat, chamber.name
        for face in ("side", "top", "base"):
            vents = [v for v in h.vents if v.chamber == name and v.face == face]
            proved = sum(pattern_area(v.pattern) for v in vents)
            walls = self.of_kind(
                f"chamber.{name}", *(("body",) if face != "base" else ("body", "panel")), "panel", "lid"
            )
            if face == "side":
                ends = [p for p in h.passages if name in p.between]
                proved += sum(math.pi / 4 * p.bore**2 for p in ends)
                walls = [p for p in walls if p.kind == "body" or p.sizes.get("upright")]
            elif face == "top":
                walls = [p for p in walls if p.kind == "lid"]
            else:
                walls = [p for p in walls if p.name == f"{name} base"]
                touching = chamber.wall("base").touches
                if vents and not walls and any(c.name == touching for c in h.chambers):
                    walls = self.of_kind(f"chamber.{touching}", "lid")  # its base is that chamber's lid
            if not vents and not (face == "side" and proved):
                continue
            made = sum(self.open_in(p) for p in walls)
            key = f"vent.{vents[0].name}" if vents else f"chamber.{name}.{face}"
            line = vents[0].line if vents else chamber.line
            if face == "base" and walls and walls[0].kind == "lid":
                below = walls[0].serves.removeprefix("chamber.")
                proved += sum(pattern_area(v.pattern) for v in h.vents if v.chamber == below and v.face == "top")
            elif face == "top":  # openings of a chamber that stands on this lid are in it, too
                on_it = [c for c in h.chambers if c.wall("base").touches == name]
                shared = [v for v in h.vents if v.face == "base" and v.chamber in {c.name for c in on_it}]
                proved += sum(pattern_area(v.pattern) for v in shared)
            yield self.row(f"{name}: openings in the {face}", "area", proved, made, key, line)
            for vent in vents:
                if vent.pattern.kind == "mesh":
                    yield from self.mesh(vent.pattern, vent.name, f"vent.{vent.name}", vent.line)
        if chamber.lid_gap > 0:
            yield self.lid_gap(chamber)
        if name in self.bells and self.bells[name].rim_gap > 0:
            yield self.rim_gap(chamber)

    def open_in(self, part: Part) -> float:
        """Area of all openings of a wall that are not closed by a lead-through, m2."""
        solid = self.stand[part.name]
        if part.sheet is not None and "inner" not in part.sizes:
            return flat_openings(solid, self.holders_in(part))
        return wall_openings(part, solid)

    def holders_in(self, part: Part) -> list[float]:
        chamber = part.serves.removeprefix("chamber.")
        if part.kind != "lid":
            return []
        sensors = {f"sensor.{s.name}" for s in self.habitat.sensors if s.chamber == chamber}
        return [p.sizes["outer"] for p in self.assembly.parts if p.kind == "sensor holder" and p.serves in sensors]

    def mesh(self, pattern: Pattern, name: str, key: str, line: int) -> Iterator[Compared]:
        """Open area of a meshed port: its bore measured, the mesh by its apertures."""
        share = (pattern.aperture / (pattern.aperture + pattern.wire)) ** 2
        frames = self.of_kind(key, "mesh frame")
        proved = math.pi / 4 * pattern.width**2 * share
        for frame in frames:
            made = bore_area(self.stand[frame.name]) * share
            yield self.row(f"{name}: open area of the mesh", "area", proved, made, key, line)

    def lid_gap(self, chamber: Chamber) -> Compared:
        """The made height at the rim: the rim itself is that of the inner space."""
        own = self.of_kind(f"chamber.{chamber.name}", "body", "panel")
        walls = [self.stand[p.name] for p in own if p.kind == "body" or p.sizes.get("upright")]
        height = gap_height(walls, self.stand[self.of_kind(f"chamber.{chamber.name}", "lid")[0].name])
        shape = chamber.shape
        rim = shape.rim if shape.kind == "box" else math.pi * shape.top_width
        what, key = f"{chamber.name}: gap of the lid", f"chamber.{chamber.name}.lid_gap"
        return self.row(what, "area", chamber.lid_gap * rim, height * rim, key, chamber.line)

    def rim_gap(self, chamber: Chamber) -> Compared:
        bell = self.bells[chamber.name]
        parts = [(p, self.stand[p.name]) for p in self.of_kind(f"bell.{chamber.name}", "bell")]
        plates = self.of_kind(f"grid.{chamber.name}", "grid", "mesh frame")
        floor = self.stand[plates[0].name].bounding_box().max.Z if plates else chamber.place[2] * 1e3
        thick = sum(layer.thickness for layer in bell.layers) * 1e3
        made = rim_gap_area(parts, floor, thick)
        what, key = f"{chamber.name}: gap under the bell", f"bell.{chamber.name}.rim_gap"
        return self.row(what, "area", bell.rim_gap * bell.shape.rim, made, key, bell.line)

    def grid(self, grid: Any) -> Iterator[Compared]:
        p, key = grid.pattern, f"grid.{grid.above}"
        plates = self.of_kind(key, "grid", "mesh frame")
        made = sum(flat_openings(self.stand[one.name]) for one in plates)
        yield self.row(f"{grid.above}: openings of the grid", "area", pattern_area(p), made, key, grid.line)
        bell = self.bells.get(grid.above)
        if p.kind == "mesh" or bell is None or not plates or plates[0].sheet is None:
            return
        upper = self.habitat.chamber(grid.above)
        share = share_under(grid, bell, upper)
        under = 0
        for ring in plates[0].sheet.openings:
            x, y = sum(q[0] for q in ring) / len(ring), sum(q[1] for q in ring) / len(ring)
            if bell.shape.kind == "box":
                under += abs(x) < bell.shape.width / 2 and abs(y) < bell.shape.depth / 2
            else:
                under += math.hypot(x, y) < bell.shape.width / 2
        one = pattern_area(p) / p.count
        what = f"{grid.above}: openings under the bell"
        yield self.row(what, "area", share * p.count * one, under * one, key, grid.line)

    def passage(self, passage: Any) -> Iterator[Compared]:
        key = f"passage.{passage.name}"
        for tube in self.of_kind(key, "tube"):
            made = bore_area(self.stand[tube.name])
            proved = math.pi / 4 * passage.bore**2
            yield self.row(f"{passage.name}: bore of the tube", "area", proved, made, f"{key}.bore", passage.line)
            # a made tube is straight from wall to wall: a file that tells another length proves another tube
            way, field = tube.sizes["passage"], f"{key}.length"
            yield self.row(f"{passage.name}: way", "length", passage.length, way, field, passage.line)
