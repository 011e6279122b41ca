"""Vents, passages, gaps and grids as paths of air."""

from __future__ import annotations

import math

from nestwright.habitat.air_paths import AirPath, gap_path, grid_path, open_path, passage_path, pattern_path
from nestwright.habitat.making_network import Making, PathRecord
from nestwright.habitat.standing import share_under
from nestwright.habitat.water_network import footprint
from nestwright.network.builder import ROOM

__all__ = ["add_openings"]


def add_openings(net: Making) -> None:
    """Every opening of the habitat, and the plates of its grids."""
    h, p = net.habitat, net.b.pressure
    cd, onset = net.v("discharge"), net.v("exchange_onset")
    for vent in h.vents:
        chamber = h.chamber(vent.chamber)
        z = net.zone[vent.chamber]
        to = ROOM if vent.to == "room" else net.zone[vent.to]
        level = vent.face != "side"
        path = pattern_path(vent.pattern, level, p, cd, 1 - vent.closed)
        height = chamber.place[2] + ({"top": chamber.shape.height, "base": 0.0}[vent.face] if level else vent.height)
        i, j = (to, z) if vent.face == "top" else (z, to)
        _path(net, vent.name, i, j, path, height)
    for q in h.passages:
        a, b = (h.chamber(n) for n in q.between)
        path = passage_path(q.bore, q.length, q.occupied, p, cd, 1 - q.closed)
        middle = (a.place[2] + q.heights[0] + b.place[2] + q.heights[1]) / 2
        _path(net, q.name, net.zone[a.name], net.zone[b.name], path, middle)
    for chamber in h.chambers:
        if chamber.lid_gap > 0:
            rim = chamber.shape.rim if chamber.shape.kind == "box" else math.pi * chamber.shape.top_width
            path = gap_path(chamber.lid_gap, rim, chamber.lid_depth, p, cd)
            top = chamber.place[2] + chamber.shape.height
            _path(net, f"{chamber.name} lid gap", net.zone[chamber.name], ROOM, path, top)
    for bell in h.bells:
        if bell.rim_gap > 0:
            depth = sum(layer.thickness for layer in bell.layers)
            path = gap_path(bell.rim_gap, bell.shape.rim, depth, p, cd)
            z = net.zone[bell.chamber]
            _path(
                net,
                f"{bell.chamber} rim gap",
                net.zone[f"{bell.chamber}/bell"],
                z,
                path,
                h.chamber(bell.chamber).place[2],
            )
    for grid in h.grids:
        upper = h.chamber(grid.above)
        below = net.zone[grid.below]
        total = upper.shape.base_area
        cover = net.bells.get(grid.above)
        under = cover.shape.base_area / total if cover else 1.0
        open_under = share_under(grid, cover, upper) if cover else 1.0
        garden = net.gardens.get(grid.above)
        # openings lie over the whole floor, a mesh in its port in the middle, where the garden lies
        spread = math.pi / 4 * grid.pattern.width**2 if grid.pattern.kind == "mesh" else total
        covered = min(footprint(garden) / spread, open_under) * net.v("grid_cover") if garden else 0.0
        height = upper.place[2]
        inner = net.garden_zone(grid.above)
        _path(
            net, f"{grid.above} grid", inner, below, grid_path(grid.pattern, p, cd, onset, open_under - covered), height
        )
        if cover:
            _path(
                net,
                f"{grid.above} outer grid",
                net.zone[grid.above],
                below,
                grid_path(grid.pattern, p, cd, onset, 1 - open_under),
                height,
            )
        m = net.materials[grid.material]
        plate = net.b.node(f"{grid.above}.grid", m.density * m.specific_heat * grid.pattern.thickness * total * 0.8)
        for zone, share, face in (
            (inner, under, "base"),
            (net.zone[grid.above], 1 - under, "base"),
            (below, 1.0, "top"),
        ):
            if share > 0:
                net.face(zone, plate, share * total, face, math.sqrt(total), m.emissivity, False)


def _path(net: Making, name: str, i: int, j: int, path: AirPath | None, height: float) -> None:
    if path is None:
        return
    names = [z for z, _ in net.b.zones]
    ends = [("room" if e == ROOM else names[e]) for e in (i, j)]
    net.paths.append(PathRecord(name, ends[0], ends[1], len(net.b.opens)))
    open_path(net.b, i, j, path, height)
