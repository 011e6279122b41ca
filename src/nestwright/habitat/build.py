"""From the form of the file to the design in SI: fills in what may be left out, and joins what belongs together."""

from __future__ import annotations

import math
from typing import Any

from nestwright.data import species_names
from nestwright.errors import nearest_name
from nestwright.habitat import form as f
from nestwright.habitat import model as m
from nestwright.habitat.making_design import Designing, Path, Problem, folded, layers_of, material_of
from nestwright.habitat.wall_design import check_materials, find_walls, insulate, make_chamber

__all__ = ["Problem", "build_habitat"]


class _Builder(Designing):
    """Every part beside the chambers is made by one method."""

    def make_bell(self, i: int, b: f.BellForm) -> m.Bell:
        path: Path = ("bell", i)
        self.chamber((*path, "chamber"), b.chamber)
        return m.Bell(b.chamber, self.shape(path, b), layers_of(b.layers), b.rim_gap, self.line(*path))

    def make_grid(self, i: int, g: f.GridForm) -> m.Grid:
        path: Path = ("grid", i)
        above, below = self.chamber((*path, "above"), g.above), self.chamber((*path, "below"), g.below)
        area = min(above.shape.base_area, below.shape.top_area)
        pattern = self.pattern(path, g, None, math.sqrt(4 * area / math.pi))
        return m.Grid(g.above, g.below, pattern, material_of(g.material), self.line(*path))

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
        if one.way == "laser" and material_of(one.material or "") == "PVC":
            message = "PVC must not be laser cut: it gives off chlorine and hydrogen chloride"
            raise Problem((*path, "way"), message, "'laser'", "milled, cut")
        line = self.line(*path)
        return m.Make(one.part, one.way or "", material_of(one.material or ""), one.clearance, one.note, line)

    def make_limits(self) -> tuple[m.OwnLimit, ...]:
        made = []
        for role, limit in self.form.limits.items():
            for quantity in ("temperature", "relative_humidity", "co2", "o2"):
                band = getattr(limit, quantity)
                if band is not None:
                    made.append(m.OwnLimit(quantity, role, band[0], band[1], self.line("limits", role, quantity)))
        return tuple(made)

    def build(self, path: str, texts: dict[str, Any]) -> m.Habitat:
        check_materials(self)
        find_walls(self)
        self.each("chamber", lambda i, c: make_chamber(self, i, c))
        insulate(self)
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
            {folded(name): name for name in species_names()}.get(folded(form.species), form.species),
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
