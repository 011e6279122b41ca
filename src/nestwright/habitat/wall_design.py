"""Chambers of a design with their walls: layers, contacts, insulation, and materials that there are."""

from __future__ import annotations

from nestwright.data import load_materials
from nestwright.errors import nearest_name
from nestwright.habitat import form as f
from nestwright.habitat import model as m
from nestwright.habitat.making_design import FACES, Designing, Path, Problem, folded, layers_of, material_of

__all__ = ["check_materials", "find_walls", "insulate", "make_chamber"]


def check_materials(d: Designing) -> None:
    """Every material must be in the data; told here, where the very layer is known."""
    told: list[tuple[Path, str]] = []
    for i, c in enumerate(d.form.chamber):
        for path, layers in (
            (("chamber", i, "layers"), c.layers),
            *((("chamber", i, face, "layers"), getattr(getattr(c, face), "layers", None)) for face in FACES),
        ):
            told += [((*path, n), material) for n, (_, material) in enumerate(layers or ())]
    for i, b in enumerate(d.form.bell):
        told += [(("bell", i, "layers", n), material) for n, (_, material) in enumerate(b.layers)]
    told += [(("grid", i, "material"), g.material) for i, g in enumerate(d.form.grid)]
    told += [(("insulation", i, "layer"), wrap.layer[1]) for i, wrap in enumerate(d.form.insulation)]
    told += [(("make", i, "material"), one.material) for i, one in enumerate(d.form.make) if one.material]
    known = list(load_materials())
    for where, name in told:
        if material_of(name) not in known:
            nearest = nearest_name(folded(name), known)
            d.note(Problem(where, "unknown material", repr(name), ", ".join(known), nearest))


def find_walls(d: Designing) -> None:
    """Layers and contacts of every face: told, else the grid's, else the touching chamber's, else the default."""
    grids = {g.above: g for g in d.form.grid}
    for c in d.form.chamber:
        for face in FACES:
            told: f.FaceForm | None = getattr(c, face)
            if told is not None and told.layers is not None:
                d.layers[c.name, face] = layers_of(told.layers)
            if told is not None and told.touches is not None:
                d.touches[c.name, face] = told.touches
        grid = grids.get(c.name)
        if grid is not None and grid.below in {x.name for x in d.form.chamber}:
            d.touches.setdefault((c.name, "base"), grid.below)
            d.touches.setdefault((grid.below, "top"), c.name)
            thickness = grid.thickness or 2 * (grid.wire or 0.0)
            if thickness:
                d.layers.setdefault((c.name, "base"), (m.Layer(material_of(grid.material), thickness),))
    ends = {c.name: _ends(c) for c in d.form.chamber}
    for (name, face), other in list(d.touches.items()):
        if face != "side" and other in ends and name in ends:
            back: m.Face = "base" if face == "top" else "top"
            mine, theirs = ends[name][face == "top"], ends[other][back == "top"]
            if mine == theirs:  # a smaller face covers only a part of a larger one, which then keeps its own
                d.touches.setdefault((other, back), name)
            if d.touches.get((other, back)) == name and (name, face) in d.layers:
                d.layers.setdefault((other, back), d.layers[name, face][::-1])
    for c in d.form.chamber:
        for face in FACES:
            d.touches.setdefault((c.name, face), "bench" if face == "base" else "room")
            if c.layers is not None:
                d.layers.setdefault((c.name, face), layers_of(c.layers))


def make_chamber(d: Designing, i: int, c: f.ChamberForm) -> m.Chamber:
    """One chamber of the form. Raises Problem."""
    path: Path = ("chamber", i)
    if c.name in f.ROOM_NAMES:
        raise Problem((*path, "name"), "this word is kept for what lies around the habitat", repr(c.name))
    if c.name in d.chambers:
        raise Problem((*path, "name"), "a second chamber of the same name", repr(c.name), "a name used once")
    shape = d.shape(path, c)
    walls = []
    for face in FACES:
        touches = d.touches[c.name, face]
        names = [*f.ROOM_NAMES, *(x.name for x in d.form.chamber if x.name != c.name)]
        told = getattr(c, face)
        where: Path = (*path, face, "touches") if told is not None else path
        if touches not in names:
            allowed = ", ".join(names)
            raise Problem(where, "touches something unknown", repr(touches), allowed, nearest_name(touches, names))
        layers = d.layers.get((c.name, face))
        if layers is None:
            allowed = f"layers in [chamber.{face}], or `layers` of the chamber for all faces"
            raise Problem(path, f"the {face} has no wall layers", allowed=allowed)
        walls.append(m.Wall(face, layers, touches, d.line(*path, face)))
    place = (c.place[0], c.place[1], c.place[2])
    made = m.Chamber(c.name, c.role, shape, place, tuple(walls), c.lid_gap, c.lid_depth, d.line(*path))
    d.chambers[c.name] = made
    return made


def insulate(d: Designing) -> None:
    """Put the insulation outside the walls' own layers."""
    for i, wrap in enumerate(d.form.insulation):
        path: Path = ("insulation", i)
        try:
            chamber = d.chamber((*path, "chamber"), wrap.chamber)
            walls = list(chamber.walls)
            for n, wall in enumerate(walls):
                if wall.face not in wrap.faces:
                    continue
                if wall.touches not in f.ROOM_NAMES:
                    message = f"the {wall.face} touches another chamber, so nothing can be laid outside it"
                    raise Problem((*path, "faces"), message, repr(wall.touches), "faces that touch no chamber")
                extra = m.Layer(material_of(wrap.layer[1]), wrap.layer[0])
                walls[n] = m.Wall(wall.face, (*wall.layers, extra), wall.touches, wall.line)
            d.chambers[wrap.chamber] = m.Chamber(
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
            d.note(problem)


def _ends(c: f.ChamberForm) -> tuple[tuple[float | None, ...], tuple[float | None, ...]]:
    """Sizes of the floor and of the ceiling, to compare two faces that touch."""
    if c.shape == "cone":
        return (c.bottom_diameter,), (c.top_diameter,)
    one = (c.width, c.depth) if c.shape == "box" else (c.diameter,)
    return one, one
