"""From the form of the file to the design in SI: fills in what may be left out, and joins what belongs together."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, NoReturn

from nestwright.data import load_materials, species_names
from nestwright.errors import nearest_name
from nestwright.habitat import form as f
from nestwright.habitat import model as m

__all__ = ["Problem", "build_habitat"]

Path = tuple[str | int, ...]
_FACES: tuple[m.Face, ...] = ("side", "top", "base")


@dataclass(eq=False)
class Problem(Exception):  # noqa: N818 - carried in a list as often as it is raised
    """Something in the file that cannot be used, at a path such as ("vent", 2, "count")."""

    path: Path
    message: str
    found: str = ""
    allowed: str = ""
    nearest: str = ""


class _Builder:
    """Holds the form and the lines while the parts are made; every part is made by one method."""

    def __init__(self, form: f.HabitatForm, lines: dict[str, int]) -> None:
        self.form, self.lines = form, lines
        self.problems: list[Problem] = []
        self.chambers: dict[str, m.Chamber] = {}
        self.layers: dict[tuple[str, m.Face], tuple[m.Layer, ...]] = {}
        self.touches: dict[tuple[str, m.Face], str] = {}

    def line(self, *path: str | int) -> int:
        from nestwright.positions import line_of

        return line_of(self.lines, path)

    def each(self, name: str, make: Any) -> tuple[Any, ...]:
        """Make every part of one kind; a part that cannot be made is noted and left out."""
        made = []
        for i, part in enumerate(getattr(self.form, name)):
            try:
                made.append(make(i, part))
            except Problem as problem:
                self.note(problem)
        return tuple(made)

    def note(self, problem: Problem) -> None:
        if problem.message:  # an empty one is a consequence of another that is already told
            self.problems.append(problem)

    def known(self, path: Path, name: str, names: Iterable[str], what: str) -> str:
        names = list(names)
        if name in names:
            return name
        allowed = ", ".join(names) if names else f"no {what} is in the file"
        raise Problem(path, f"there is no {what} of this name", repr(name), allowed, nearest_name(name, names))

    def chamber(self, path: Path, name: str) -> m.Chamber:
        self.known(path, name, [c.name for c in self.form.chamber], "chamber")
        if name not in self.chambers:  # it has a fault of its own
            raise Problem(path, "")
        return self.chambers[name]

    def check_materials(self) -> None:
        """Every material must be in the data; told here, where the very layer is known."""
        told: list[tuple[Path, str]] = []
        for i, c in enumerate(self.form.chamber):
            for path, layers in (
                (("chamber", i, "layers"), c.layers),
                *((("chamber", i, face, "layers"), getattr(getattr(c, face), "layers", None)) for face in _FACES),
            ):
                told += [((*path, n), material) for n, (_, material) in enumerate(layers or ())]
        for i, b in enumerate(self.form.bell):
            told += [(("bell", i, "layers", n), material) for n, (_, material) in enumerate(b.layers)]
        told += [(("grid", i, "material"), g.material) for i, g in enumerate(self.form.grid)]
        told += [(("insulation", i, "layer"), wrap.layer[1]) for i, wrap in enumerate(self.form.insulation)]
        told += [(("make", i, "material"), one.material) for i, one in enumerate(self.form.make) if one.material]
        known = list(load_materials())
        for where, name in told:
            if _material(name) not in known:
                nearest = nearest_name(_folded(name), known)
                self.note(Problem(where, "unknown material", repr(name), ", ".join(known), nearest))

    # -- chambers and their walls ------------------------------------------------------------------------------

    def find_walls(self) -> None:
        """Layers and contacts of every face: told, else the grid's, else the touching chamber's, else the default."""
        grids = {g.above: g for g in self.form.grid}
        for c in self.form.chamber:
            for face in _FACES:
                told: f.FaceForm | None = getattr(c, face)
                if told is not None and told.layers is not None:
                    self.layers[c.name, face] = _layers(told.layers)
                if told is not None and told.touches is not None:
                    self.touches[c.name, face] = told.touches
            grid = grids.get(c.name)
            if grid is not None and grid.below in {x.name for x in self.form.chamber}:
                self.touches.setdefault((c.name, "base"), grid.below)
                self.touches.setdefault((grid.below, "top"), c.name)
                thickness = grid.thickness or 2 * (grid.wire or 0.0)
                if thickness:
                    self.layers.setdefault((c.name, "base"), (m.Layer(_material(grid.material), thickness),))
        ends = {c.name: _ends(c) for c in self.form.chamber}
        for (name, face), other in list(self.touches.items()):
            if face != "side" and other in ends and name in ends:
                back: m.Face = "base" if face == "top" else "top"
                mine, theirs = ends[name][face == "top"], ends[other][back == "top"]
                if mine == theirs:  # a smaller face covers only a part of a larger one, which then keeps its own
                    self.touches.setdefault((other, back), name)
                if self.touches.get((other, back)) == name and (name, face) in self.layers:
                    self.layers.setdefault((other, back), self.layers[name, face][::-1])
        for c in self.form.chamber:
            for face in _FACES:
                self.touches.setdefault((c.name, face), "bench" if face == "base" else "room")
                if c.layers is not None:
                    self.layers.setdefault((c.name, face), _layers(c.layers))

    def make_chamber(self, i: int, c: f.ChamberForm) -> m.Chamber:
        path: Path = ("chamber", i)
        if c.name in f.ROOM_NAMES:
            raise Problem((*path, "name"), "this word is kept for what lies around the habitat", repr(c.name))
        if c.name in self.chambers:
            raise Problem((*path, "name"), "a second chamber of the same name", repr(c.name), "a name used once")
        shape = self.shape(path, c)
        walls = []
        for face in _FACES:
            touches = self.touches[c.name, face]
            names = [*f.ROOM_NAMES, *(x.name for x in self.form.chamber if x.name != c.name)]
            told = getattr(c, face)
            where: Path = (*path, face, "touches") if told is not None else path
            if touches not in names:
                allowed = ", ".join(names)
                raise Problem(where, "touches something unknown", repr(touches), allowed, nearest_name(touches, names))
            layers = self.layers.get((c.name, face))
            if layers is None:
                allowed = f"layers in [chamber.{face}], or `layers` of the chamber for all faces"
                raise Problem(path, f"the {face} has no wall layers", allowed=allowed)
            walls.append(m.Wall(face, layers, touches, self.line(*path, face)))
        place = (c.place[0], c.place[1], c.place[2])
        made = m.Chamber(c.name, c.role, shape, place, tuple(walls), c.lid_gap, c.lid_depth, self.line(*path))
        self.chambers[c.name] = made
        return made

    def insulate(self) -> None:
        """Put the insulation outside the walls' own layers."""
        for i, wrap in enumerate(self.form.insulation):
            path: Path = ("insulation", i)
            try:
                chamber = self.chamber((*path, "chamber"), wrap.chamber)
                walls = list(chamber.walls)
                for n, wall in enumerate(walls):
                    if wall.face not in wrap.faces:
                        continue
                    if wall.touches not in f.ROOM_NAMES:
                        message = f"the {wall.face} touches another chamber, so nothing can be laid outside it"
                        raise Problem((*path, "faces"), message, repr(wall.touches), "faces that touch no chamber")
                    extra = m.Layer(_material(wrap.layer[1]), wrap.layer[0])
                    walls[n] = m.Wall(wall.face, (*wall.layers, extra), wall.touches, wall.line)
                self.chambers[wrap.chamber] = m.Chamber(
                    chamber.name,
                    chamber.role,
                    chamber.shape,
                    chamber.place,
                    tuple(walls),
                    chamber.lid_gap,
                    chamber.lid_depth,
                    chamber.line,
                )
            except Problem as problem:
                self.note(problem)

    # -- forms and patterns --------------------------------------------------------------------------------------

    def only(self, path: Path, part: Any, kind: str, value: str, keys: dict[str, list[str]]) -> None:
        """The keys of this form or pattern must be there, those of the others must not."""
        for key in keys[value]:
            if getattr(part, key) is None:
                raise Problem(path, f"{kind} {value!r} needs the key {key!r}", allowed=", ".join(keys[value]))
        others = {k for ks in keys.values() for k in ks} - set(keys[value])
        for key in sorted(others):
            if getattr(part, key) is not None and key in part.model_fields_set:
                raise Problem((*path, key), f"{kind} {value!r} has no such key", allowed=", ".join(keys[value]))

    def shape(self, path: Path, part: f.ChamberForm | f.BellForm) -> m.Shape:
        self.only(path, part, "shape", part.shape, f.SHAPE_KEYS)
        if part.shape == "box":
            return m.Shape("box", _sure(part.width), _sure(part.depth), part.height, _sure(part.width))
        if part.shape == "cone":
            bottom, top = _sure(part.bottom_diameter), _sure(part.top_diameter)
            return m.Shape("cone", bottom, bottom, part.height, top)
        size = _sure(part.diameter)
        return m.Shape("cylinder", size, size, part.height, size)

    def pattern(
        self, path: Path, part: f.VentForm | f.GridForm, thickness: float | None, port: float | None
    ) -> m.Pattern:
        """`thickness` and `port` are what holds when the file does not tell them."""
        keys = {**f.PATTERN_KEYS, "mesh": ["aperture", "wire"]}
        if part.pattern == "mesh":
            if part.count not in (None, 1):
                raise Problem((*path, "count"), "a mesh is one port; write one vent for each", str(part.count), "1")
            keys["mesh"] = ["aperture", "wire", "diameter", "count"]
            missing = [k for k in ("aperture", "wire") if getattr(part, k) is None]
            if missing or (part.diameter is None and port is None):
                raise Problem(path, f"pattern 'mesh' needs the key {(missing or ['diameter'])[0]!r}")
            others = [k for k in ("width", "length") if getattr(part, k) is not None]
            if others:
                raise Problem((*path, others[0]), "pattern 'mesh' has no such key", allowed=", ".join(keys["mesh"]))
            aperture, wire = _sure(part.aperture), _sure(part.wire)
            width = part.diameter or _sure(port)
            return m.Pattern("mesh", width, width, 1, aperture, wire, part.thickness or 2 * wire)
        self.only(path, part, "pattern", part.pattern, keys)
        through = part.thickness or thickness
        if through is None:
            raise Problem(path, "the key 'thickness' is missing", allowed="the thickness of the plate, as '2 mm'")
        count = part.count or 1
        if part.pattern == "hole":
            size = _sure(part.diameter)
            return m.Pattern("hole", size, size, count, 0.0, 0.0, through)
        return m.Pattern("slot", _sure(part.width), _sure(part.length), count, 0.0, 0.0, through)

    # -- the other parts ---------------------------------------------------------------------------------------

    def make_bell(self, i: int, b: f.BellForm) -> m.Bell:
        path: Path = ("bell", i)
        self.chamber((*path, "chamber"), b.chamber)
        return m.Bell(b.chamber, self.shape(path, b), _layers(b.layers), b.rim_gap, self.line(*path))

    def make_grid(self, i: int, g: f.GridForm) -> m.Grid:
        path: Path = ("grid", i)
        above, below = self.chamber((*path, "above"), g.above), self.chamber((*path, "below"), g.below)
        area = min(above.shape.base_area, below.shape.top_area)
        pattern = self.pattern(path, g, None, math.sqrt(4 * area / math.pi))
        return m.Grid(g.above, g.below, pattern, _material(g.material), self.line(*path))

    def make_water(self, i: int, w: f.WaterForm) -> m.Water:
        path: Path = ("water", i)
        chamber = self.chamber((*path, "chamber"), w.chamber)
        surface = w.free_surface
        if surface is None:
            if w.kind != "pool":
                raise Problem(path, "the key 'free_surface' is missing", allowed="an area, as '60 cm2'")
            surface = chamber.shape.base_area
        name = w.name or w.kind
        line = self.line(*path)
        return m.Water(w.chamber, w.kind, surface, w.wick_limit, w.store, w.dry_mass, w.refill, name, line)

    def make_garden(self, i: int, g: f.GardenForm) -> m.Garden:
        self.chamber(("garden", i, "chamber"), g.chamber)
        return m.Garden(g.chamber, g.volume, g.workers, self.line("garden", i))

    def make_vent(self, i: int, v: f.VentForm) -> m.Vent:
        path: Path = ("vent", i)
        chamber = self.chamber((*path, "chamber"), v.chamber)
        names = ["room", *(n for n in self.chambers if n != v.chamber)]
        if v.to not in names:
            message = "a vent opens to the room or to another chamber"
            raise Problem((*path, "to"), message, repr(v.to), ", ".join(names), nearest_name(v.to, names))
        if v.height is not None and v.face != "side":
            raise Problem((*path, "height"), f"only a vent in the side has a height; this one is in the {v.face}")
        middle = {"side": chamber.shape.height / 2, "top": chamber.shape.height, "base": 0.0}[v.face]
        height = middle if v.height is None else v.height
        through = sum(layer.thickness for layer in chamber.wall(v.face).layers)
        pattern = self.pattern(path, v, through, None)
        return m.Vent(v.name, v.chamber, v.face, height, pattern, v.to, self.closed(v.name), self.line(*path))

    def make_passage(self, i: int, p: f.PassageForm) -> m.Passage:
        path: Path = ("passage", i)
        self.chamber((*path, "from"), p.from_)
        self.chamber((*path, "to"), p.to)
        if p.from_ == p.to:
            raise Problem((*path, "to"), "a passage joins two different chambers", repr(p.to))
        low = p.bore / 2
        heights = tuple(low if h is None else h for h in (p.from_height, p.to_height))
        return m.Passage(
            p.name,
            (p.from_, p.to),
            p.bore,
            p.length,
            (heights[0], heights[1]),
            p.occupied,
            self.closed(p.name),
            self.line(*path),
        )

    def closed(self, name: str) -> float:
        return next((p.share for p in self.form.plug if p.closes == name), 0.0)

    def check_plugs(self) -> None:
        seen: set[str] = set()
        names = [*(v.name for v in self.form.vent), *(p.name for p in self.form.passage)]
        for i, plug in enumerate(self.form.plug):
            path: Path = ("plug", i, "closes")
            try:
                self.known(path, plug.closes, names, "vent or passage")
                if plug.closes in seen:
                    raise Problem(path, "a second plug for the same opening", repr(plug.closes), "one plug each")
                seen.add(plug.closes)
            except Problem as problem:
                self.note(problem)

    def make_sensor(self, i: int, s: f.SensorForm) -> m.Sensor:
        self.chamber(("sensor", i, "chamber"), s.chamber)
        return m.Sensor(s.name, s.chamber, s.lag, s.under_bell, self.line("sensor", i))

    def make_heater(self, i: int, h: f.HeaterForm) -> m.Heater:
        path: Path = ("heater", i)
        self.chamber((*path, "chamber"), h.chamber)
        steering = {"set": h.set, "band": h.band, "sensor": h.sensor}
        if h.control == "constant":
            for key, value in steering.items():
                if value is not None:
                    message = "a constant heater is not steered"
                    raise Problem(
                        (*path, key), message, allowed="control = 'thermostat' or 'proportional' with this key"
                    )
        else:
            for key, value in steering.items():
                if value is None:
                    raise Problem(path, f"control {h.control!r} needs the key {key!r}", allowed="set, band and sensor")
            self.known((*path, "sensor"), h.sensor or "", [s.name for s in self.form.sensor], "sensor")
        return m.Heater(
            h.name,
            h.power,
            (h.chamber, h.where),
            h.control,
            h.set or 0.0,
            h.band or 0.0,
            h.sensor or "",
            self.line(*path),
        )

    def make_make(self, i: int, one: f.MakeForm) -> m.Make:
        path: Path = ("make", i)
        form = self.form
        names = [x.name for x in form.chamber] + [x.name for x in form.vent] + [x.name for x in form.passage]
        names += [x.name for x in form.sensor] + [w.name or w.kind for w in form.water]
        names += [f"bell {b.chamber}" for b in form.bell] + [f"grid {g.above}" for g in form.grid]
        names += [f"{plate} {c.name}" for plate in ("lid", "base") for c in form.chamber]
        self.known((*path, "part"), one.part, names, "part")
        if any(other.part == one.part for other in form.make[:i]):
            raise Problem((*path, "part"), "is told twice", repr(one.part), "one [[make]] for each part")
        if one.way == "laser" and _material(one.material or "") == "PVC":
            message = "PVC must not be laser cut: it gives off chlorine and hydrogen chloride"
            raise Problem((*path, "way"), message, "'laser'", "milled, cut")
        line = self.line(*path)
        return m.Make(one.part, one.way or "", _material(one.material or ""), one.clearance, one.note, line)

    def make_limits(self) -> tuple[m.OwnLimit, ...]:
        made = []
        for role, limit in self.form.limits.items():
            for quantity in ("temperature", "relative_humidity", "co2", "o2"):
                band = getattr(limit, quantity)
                if band is not None:
                    made.append(m.OwnLimit(quantity, role, band[0], band[1], self.line("limits", role, quantity)))
        return tuple(made)

    def build(self, path: str, texts: dict[str, Any]) -> m.Habitat:
        self.check_materials()
        self.find_walls()
        self.each("chamber", self.make_chamber)
        self.insulate()
        self.check_plugs()
        parts = {
            "bells": self.each("bell", self.make_bell),
            "grids": self.each("grid", self.make_grid),
            "waters": self.each("water", self.make_water),
            "gardens": self.each("garden", self.make_garden),
            "vents": self.each("vent", self.make_vent),
            "passages": self.each("passage", self.make_passage),
            "sensors": self.each("sensor", self.make_sensor),
            "heaters": self.each("heater", self.make_heater),
        }
        form = self.form
        return m.Habitat(
            form.name,
            form.revision,
            {_folded(name): name for name in species_names()}.get(_folded(form.species), form.species),
            form.altitude,
            tuple(self.chambers.values()),
            **parts,
            limits=self.make_limits(),
            makes=self.each("make", self.make_make),
            note=form.note,
            path=path,
            texts=texts,
        )


def build_habitat(
    form: f.HabitatForm, lines: dict[str, int], path: str, texts: dict[str, Any]
) -> tuple[m.Habitat, list[Problem]]:
    """The design in SI, without the parts that cannot be made, and the problem of each of those."""
    builder = _Builder(form, lines)
    habitat = builder.build(path, texts)
    return habitat, builder.problems


def _ends(c: f.ChamberForm) -> tuple[tuple[float | None, ...], tuple[float | None, ...]]:
    """Sizes of the floor and of the ceiling, to compare two faces that touch."""
    if c.shape == "cone":
        return (c.bottom_diameter,), (c.top_diameter,)
    one = (c.width, c.depth) if c.shape == "box" else (c.diameter,)
    return one, one


def _layers(told: list[tuple[float, str]]) -> tuple[m.Layer, ...]:
    return tuple(m.Layer(_material(material), thickness) for thickness, material in told)


def _folded(text: str) -> str:
    return " ".join(text.lower().replace("-", " ").replace("_", " ").split())


def _material(text: str) -> str:
    """The material's name as it stands in the data; it may be written in any case, with '_' or '-' for a blank."""
    return _materials_by_folded().get(_folded(text), text)


@cache
def _materials_by_folded() -> dict[str, str]:
    return {_folded(name): name for name in load_materials()}


def _sure(value: float | None) -> float:
    return _missing() if value is None else value


def _missing() -> NoReturn:
    raise AssertionError("a key that was checked to be there is missing")
