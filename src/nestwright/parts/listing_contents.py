"""Grids between chambers, with meshes and frames, and bells over gardens."""

from __future__ import annotations

import math

from nestwright.habitat.model import Bell, Chamber, Grid
from nestwright.habitat.standing import bell_gap, mesh_seat, share_under
from nestwright.parts.draft import Draft, edge_feature, level_thickness, wall_of
from nestwright.parts.listing_bodies import plate_features
from nestwright.parts.model import Feature, Joint, Part, Ring, Sheet, Way
from nestwright.parts.rings import circle, panel_outline, rectangle
from nestwright.parts.sizes import size
from nestwright.parts.spread import Region, disc, frame, opening_ring, plate, spread_over
from nestwright.parts.wall_forms import Openings
from nestwright.parts.ways import Form

__all__ = ["list_bell", "list_grid"]


def list_grid(draft: Draft, grid: Grid) -> None:
    """The perforated floor: as large as the walls that stand on it, as thick as the space between both chambers."""
    habitat = draft.habitat
    above, below = habitat.chamber(grid.above), habitat.chamber(grid.below)
    bottom = below.place[2] + below.shape.height
    thickness = above.place[2] - bottom
    key = f"grid.{grid.above}"
    if thickness < 1e-4 or abs(thickness - grid.pattern.thickness) > 0.25e-3 + 0.01 * grid.pattern.thickness:
        raise draft.fault(
            f"the grid does not fill the space between {grid.below!r} and {grid.above!r}",
            grid.line,
            f"{key}.thickness",
            f"{grid.pattern.thickness * 1e3:.4g} mm thick in a space of {thickness * 1e3:.4g} mm",
            f"{thickness * 1e3:.4g} mm",
        )
    shape = above.shape
    t_above, t_below = (level_thickness(c.shape, wall_of(c, "side")[1]) for c in (above, below))
    if shape.kind == "box" and below.shape.kind == "box":
        width = max(shape.width + 2 * t_above, below.shape.width + 2 * t_below)
        depth = max(shape.depth + 2 * t_above, below.shape.depth + 2 * t_below)
        outline = rectangle(0.0, 0.0, width, depth)
    else:
        widest = [
            c.shape.width if c.shape.kind != "box" else math.hypot(c.shape.width, c.shape.depth) for c in (above, below)
        ]
        outline = circle(0.0, 0.0, max(widest[0] + 2 * t_above, widest[1] + 2 * t_below))
    pattern = grid.pattern
    x, y, _ = above.place
    name = f"{grid.above} grid"
    way, material, note = draft.way(f"grid {grid.above}", "plate", grid.material)
    if pattern.kind == "mesh":
        _mesh_grid(draft, grid, outline, thickness, (x, y, bottom))
    else:
        land = size("land")
        points = spread_over(pattern, _grid_regions(draft, grid, above, below), land, key, grid.line, habitat.path)
        rings = [opening_ring(pattern, a, b) for a, b in points]
        openings: Openings = [(f"openings {thickness * 1e3:.3g} mm deep", pattern, ring) for ring in rings]
        sheet = Sheet(outline, tuple(rings), (), thickness)
        draft.add(
            Part(
                name,
                "grid",
                key,
                way,
                material,
                1,
                {"thickness": thickness},
                (x, y, bottom, 0.0),
                plate_features(openings, thickness, "ants"),
                pattern=pattern,
                sheet=sheet,
                note=note,
                line=grid.line,
            )
        )
    draft.closed_below[grid.above] = name
    walls = {c.name: [p for p in draft.parts if _is_wall(p, c)] for c in (above, below)}
    for wall in walls[grid.above]:
        draft.join(name, wall.name, "glued", size=above.shape.rim, length=t_above)
    for wall in walls[grid.below][:1]:
        draft.joints.append(
            Joint(
                f"{name} on {wall.name}",
                wall.name,
                name,
                max(below.shape.width, below.shape.depth),
                0.0,
                t_below,
                side="sump",
                kind="stands",
            )
        )


def _is_wall(part: Part, chamber: Chamber) -> bool:
    upright = part.kind == "panel" and bool(part.sizes.get("upright"))
    return part.serves == f"chamber.{chamber.name}" and (part.kind == "body" or upright)


def _bell_of(draft: Draft, chamber: str) -> Bell | None:
    return next((b for b in draft.habitat.bells if b.chamber == chamber), None)


def _grid_regions(draft: Draft, grid: Grid, above: Chamber, below: Chamber) -> list[tuple[int, Region]]:
    """How many openings lie where: under the bell its share of the floor, as in the proof, and the rest around."""
    land, count = size("land"), grid.pattern.count
    upper, lower = above.shape, below.shape
    box = upper.kind == "box" and lower.kind == "box"
    if box:
        half = (min(upper.width, lower.width) / 2 - land, min(upper.depth, lower.depth) / 2 - land)
        whole = plate(*half)
    else:
        floor = min(upper.width, upper.depth) if upper.kind == "box" else upper.width
        reach = min(floor, min(lower.width, lower.depth) if lower.kind == "box" else lower.top_width)
        whole = disc(reach / 2 - land)
    bell = _bell_of(draft, grid.above)
    if bell is None:
        return [(count, whole)]
    s = bell.shape
    inside = round(count * share_under(grid, bell, above))
    wall = level_thickness(s, sum(layer.thickness for layer in bell.layers))
    if s.kind == "box":
        under = plate(s.width / 2 - land, s.depth / 2 - land)
        hole = (s.width / 2 + wall + land, s.depth / 2 + wall + land)
        around = frame(whole[0], whole[1], *hole) if box else None
    else:
        under = disc(s.width / 2 - land)
        around = disc(whole[0], s.width / 2 + wall + land) if not box else None
    if around is None:  # a round bell in a box, or the other way round: what lies outside its circle
        reach = math.hypot(*hole) if s.kind == "box" else s.width / 2 + wall + land
        inner = whole[2]

        def outside(x: float, y: float, a: float, b: float) -> bool:
            near = math.hypot(max(abs(x) - a, 0.0), max(abs(y) - b, 0.0))
            return inner(x, y, a, b) and near >= reach

        around = (whole[0], whole[1], outside)
    return [(inside, under), (count - inside, around)]


def _mesh_grid(draft: Draft, grid: Grid, outline: Ring, thickness: float, at: tuple[float, float, float]) -> None:
    """Woven mesh in a frame: with a seat where the frame is thick enough, else flush in its port."""
    p = grid.pattern
    mesh_thick = min(2 * p.wire, thickness)
    seated = mesh_seat(p, thickness) > 0
    mesh_d = p.width + 2 * size("seat_width") if seated else p.width
    port = circle(0.0, 0.0, p.width)
    way, material, note = draft.way(f"grid {grid.above}", "plate", grid.material)
    if seated:
        note = note or f"a seat {mesh_d * 1e3:.4g} mm wide and {mesh_thick * 1e3:.3g} mm deep from above holds the mesh"
    else:
        note = note or "the mesh is soldered or glued flush into the port: the frame is too thin for a seat"
    key = f"grid.{grid.above}"
    name = f"{grid.above} grid"
    sizes = {"thickness": thickness} | ({"seat": mesh_d, "seat_depth": mesh_thick} if seated else {})
    features = plate_features([("port of the mesh", p, port)], thickness, "ants")
    draft.add(
        Part(
            name,
            "mesh frame",
            key,
            way,
            material,
            1,
            sizes,
            (*at, 0.0),
            features,
            sheet=Sheet(outline, (port,), (), thickness),
            note=note,
            line=grid.line,
        )
    )
    share = math.pi * p.wire / (4 * (p.aperture + p.wire))
    disc_ = Sheet(circle(0.0, 0.0, mesh_d), (), (), mesh_thick)
    z = at[2] + thickness - mesh_thick if seated else at[2] + (thickness - mesh_thick) / 2
    draft.add(
        Part(
            f"{grid.above} mesh",
            "mesh",
            key,
            "cut",
            "stainless steel",
            1,
            {"diameter": mesh_d, "thickness": mesh_thick, "solid_share": share},
            (at[0], at[1], z, 0.0),
            pattern=p,
            sheet=disc_,
            note=f"woven mesh {p.aperture * 1e3:.4g} mm, wire {p.wire * 1e3:.4g} mm",
            line=grid.line,
        )
    )
    draft.join(name, f"{grid.above} mesh", "glued", size=mesh_d, length=mesh_thick)


def list_bell(draft: Draft, bell: Bell) -> None:
    """The cover over the garden. Its feet take some of the gap under its rim: the gap is made higher by as much."""
    chamber = draft.habitat.chamber(bell.chamber)
    s, key = bell.shape, f"bell.{bell.chamber}"
    material, thickness = bell.layers[0].material, sum(layer.thickness for layer in bell.layers)
    if thickness >= min(s.width, s.top_width, s.depth) / 2:
        raise draft.fault(
            "the bell's wall is as thick as the bell is wide from its middle",
            bell.line,
            f"{key}.layers[0]",
            f"{thickness * 1e3:.4g} mm",
            f"less than {min(s.width, s.top_width, s.depth) / 2 * 1e3:.4g} mm",
        )
    foot, feet = size("foot"), 4 if s.kind == "box" else 3
    gap = bell_gap(bell)
    name = f"{bell.chamber} bell"
    form: Form = "panels" if s.kind == "box" else "cup"
    way, material, note = draft.way(f"bell {bell.chamber}", form, material)
    x, y, z = chamber.place
    place = (x, y, z + gap, 0.0)
    told = f"rim stands {gap * 1e3:.3g} mm above the floor on {feet} feet" if gap else ""
    common = (Feature("wall", "wall", thickness), Feature("edge", "rim", size("edge"), side="ants"))
    if s.kind == "box" and way in ("laser", "cut", "milled"):
        names = _bell_panels(draft, bell, way, material, note or told, gap)
        name = names[0]
    elif s.kind == "cylinder" and way in ("turned", "cut") and material in ("acrylic", "polycarbonate", "PVC"):
        outer = s.width + 2 * thickness
        sizes = {
            "inner": s.width,
            "inner_top": s.width,
            "length": s.height,
            "thickness": thickness,
            "floor": 0.0,
            "outer": outer,
            "wall": thickness,
            "foot": foot,
            "gap": gap,
            "feet": float(feet),
        }
        wall_note = f"tube {outer * 1e3:.4g} x {thickness * 1e3:.4g} mm; {told}"
        draft.add(
            Part(name, "bell", key, "cut", material, 1, sizes, place, common, note=note or wall_note, line=bell.line)
        )
        plate_way: Way = "laser" if material != "PVC" else "milled"
        sheet = Sheet(circle(0.0, 0.0, outer), (), (), thickness)
        draft.add(_bell_plate(bell, f"{name} top", key, plate_way, material, sheet, (x, y, z + gap + s.height)))
        draft.join(name, f"{name} top", "glued", size=outer, length=thickness)
    else:
        level = level_thickness(s, thickness)
        if s.kind == "box":
            sizes = {"width": s.width, "depth": s.depth, "length": s.height, "thickness": thickness}
        else:
            sizes = {
                "inner": s.width,
                "inner_top": s.top_width,
                "length": s.height,
                "thickness": level,
                "outer": max(s.width, s.top_width) + 2 * level,
            }
        sizes |= {"roof": thickness, "floor": 0.0, "foot": foot, "gap": gap, "feet": float(feet)}
        sizes["blank_length"] = s.height + thickness + gap
        across = min(s.top_width, s.depth) if s.kind == "box" else s.top_width
        printed = (Feature("bridge", "roof", across),) if way in ("printed",) else ()
        note = note or (told if way != "bought" else f"{material} bell; {told}")
        draft.add(Part(name, "bell", key, way, material, 1, sizes, place, common + printed, note=note, line=bell.line))
    floor = draft.closed_below.get(bell.chamber, f"{bell.chamber} base")
    draft.join(floor, name, "stands", size=max(s.width, s.depth), gap=gap, length=thickness)


def _bell_panels(draft: Draft, bell: Bell, way: Way, material: str, note: str, gap: float) -> list[str]:
    """Five flat pieces glued to a box, open below; the feet are part of front and back."""
    s, key = bell.shape, f"bell.{bell.chamber}"
    t, foot = sum(layer.thickness for layer in bell.layers), size("foot")
    x, y, z = draft.habitat.chamber(bell.chamber).place
    names = []
    for panel, angle in (("front", -math.pi / 2), ("back", math.pi / 2), ("right", 0.0), ("left", math.pi)):
        front = panel in ("front", "back")
        inner, reach = (s.width, s.depth / 2) if front else (s.depth, s.width / 2)
        outline = panel_outline(inner, s.height, t, 0 if front else 1, False, 0.0)
        if front and gap > 0:
            end = inner / 2 + t
            inside = inner / 2 - foot
            outline = (
                (-end, -gap),
                (-inside, -gap),
                (-inside, 0.0),
                (inside, 0.0),
                (inside, -gap),
                (end, -gap),
                (end, s.height),
                (-end, s.height),
            )
        out = (math.cos(angle), math.sin(angle))
        place = (x + (reach + t) * out[0], y + (reach + t) * out[1], z + gap, angle + math.pi / 2)
        names.append(f"{bell.chamber} bell {panel}")
        draft.add(
            Part(
                names[-1],
                "bell",
                key,
                way,
                material,
                1,
                {"upright": 1.0, "thickness": t},
                place,
                (Feature("wall", "thickness", t), edge_feature(side="ants")),
                sheet=Sheet(outline, (), (), t),
                note=note,
                line=bell.line,
            )
        )
    top = rectangle(0.0, 0.0, s.width + 2 * t, s.depth + 2 * t)
    names.append(f"{bell.chamber} bell top")
    draft.add(_bell_plate(bell, names[-1], key, way, material, Sheet(top, (), (), t), (x, y, z + gap + s.height)))
    for one in names[:2]:
        for other in names[2:]:
            draft.join(one, other, "glued", size=s.height, length=t)
    return names


def _bell_plate(
    bell: Bell, name: str, key: str, way: Way, material: str, sheet: Sheet, at: tuple[float, float, float]
) -> Part:
    """The flat plate that closes a bell above."""
    features = (Feature("wall", "thickness", sheet.thickness), edge_feature(side="ants"))
    sizes = {"thickness": sheet.thickness}
    return Part(name, "bell", key, way, material, 1, sizes, (*at, 0.0), features, sheet=sheet, line=bell.line)
