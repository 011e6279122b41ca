"""Walls and bells as layers of heat and vapour between the air on their two sides."""

from __future__ import annotations

import math

from nestwright.data import Material
from nestwright.habitat.making_network import Making, Surface
from nestwright.habitat.model import Bell, Chamber, Face, Layer, Wall
from nestwright.network.builder import ROOM

__all__ = ["add_bell", "add_wall"]


def add_wall(net: Making, chamber: Chamber, wall: Wall) -> None:
    """One wall with its surfaces: towards the room, bench or floor, or the chamber that it touches."""
    name = chamber.name
    if (wall.face == "base" and name in net.grid_above) or (wall.face == "top" and name in net.grid_below):
        return
    shape = chamber.shape
    area = shape.area(wall.face)
    label = f"{name}.{wall.face}"
    zone = net.zone[name]
    other = wall.touches if wall.touches in net.zone else ""
    if other and (other, name) in net.outer:
        return
    slices = _slices(net, wall.layers)
    spread = 2 / min(shape.width, shape.depth) if wall.face == "side" else 0.0
    nodes, rest = _stack(net, label, slices, area, spread, bool(other))
    length = shape.height if wall.face == "side" else math.sqrt(area)
    net.face(zone, nodes[0], area, wall.face, length, slices[0][0].emissivity, True)
    net.surfaces.append(Surface(wall.face, name, label))
    net.inner_nodes.append((zone, nodes[0], wall.face, area))
    if wall.face == "base":
        net.floor[zone] = nodes[0]
    permeance = area / sum(m.mu * d / net.permeability for m, d in slices)
    if other:
        far = {"side": "side", "top": "base", "base": "top"}[wall.face]
        z = net.zone[other]
        net.face(z, nodes[-1], area, far, length, slices[-1][0].emissivity, True)
        net.surfaces.append(Surface(f"{far} to {name}", other, f"{label}#{len(nodes) - 1}"))
        net.inner_nodes.append((z, nodes[-1], far, area))
        net.outer[(name, other)] = nodes[0]
        net.outer[(name, wall.face)] = nodes[-1]
        net.b.permeate(zone, z, permeance)
        return
    thick = sum(d for _, d in slices)
    outside = area * (1 + spread * thick)
    film = {
        "room": {"side": "outside_film_level", "top": "outside_film_up", "base": "outside_film_down"}[wall.face],
        "bench": "bench_resistance",
        "floor": "floor_resistance",
    }[wall.touches]
    net.b.connect(nodes[-1], ROOM, 1 / (rest + net.v(film) / outside))
    # a heater lies on the wall under its outermost layer (the insulation), when it has more than one
    under = len(_slices(net, wall.layers[:-1])) if len(wall.layers) > 1 else len(nodes) - 1
    net.outer[(name, wall.face)] = nodes[min(under, len(nodes) - 1)]
    if wall.touches == "room":
        net.b.permeate(zone, ROOM, permeance)


def add_bell(net: Making, bell: Bell) -> None:
    """Side and top of a bell, between its air and that of its chamber."""
    inside, outside = net.zone[f"{bell.chamber}/bell"], net.zone[bell.chamber]
    slices = _slices(net, bell.layers)
    faces: tuple[Face, ...] = ("side", "top")
    for face in faces:
        area = bell.shape.area(face)
        label = f"{bell.chamber}/bell.{face}"
        spread = 2 / bell.shape.width if face == "side" else 0.0
        nodes, _ = _stack(net, label, slices, area, spread, True)
        length = bell.shape.height if face == "side" else math.sqrt(area)
        net.face(inside, nodes[0], area, face, length, slices[0][0].emissivity, True)
        far = "side" if face == "side" else "base"
        net.face(outside, nodes[-1], area, far, length, slices[-1][0].emissivity, True)
        net.surfaces.append(Surface(face, f"{bell.chamber}/bell", label))
        net.inner_nodes.append((inside, nodes[0], face, area))
        net.inner_nodes.append((outside, nodes[-1], far, area))
        net.b.permeate(inside, outside, area / sum(m.mu * d / net.permeability for m, d in slices))


def _slices(net: Making, layers: tuple[Layer, ...]) -> list[tuple[Material, float]]:
    """Layers cut so that none takes more than about ten minutes to warm through."""
    out = []
    for layer in layers:
        m = net.materials[layer.material]
        reach = math.sqrt(m.conductivity / (m.density * m.specific_heat) * 600.0)
        parts = min(max(math.ceil(layer.thickness / (2 * reach)), 1), 4)
        out += [(m, layer.thickness / parts)] * parts
    return out


def _stack(
    net: Making, name: str, slices: list[tuple[Material, float]], area: float, spread: float, both: bool
) -> tuple[list[int], float]:
    """Nodes from the inside outwards, and the resistance K/W left beyond the last one.

    `spread` is the growth of area per metre (round walls). With `both` the far side is a surface too.
    """
    capacity = [0.0] * (len(slices) + 1)
    resistance = []
    depth = 0.0
    for n, (m, d) in enumerate(slices):
        a = area * (1 + spread * (depth + d / 2))
        c = m.density * m.specific_heat * d * a
        last = n == len(slices) - 1 and not both
        capacity[n] += c if last else c / 2
        capacity[n + 1] += 0.0 if last else c / 2
        resistance.append(d / (m.conductivity * a))
        depth += d
    count = len(slices) + 1 if both else len(slices)
    nodes = [
        net.b.node(
            name if n == 0 else f"{name}#{n}",
            capacity[n],
            0.0 if n == 0 or (both and n == count - 1) else None,
            error=0.05 * net.v("film_patch") * area,
        )
        for n in range(count)
    ]
    for n in range(count - 1):
        net.b.connect(nodes[n], nodes[n + 1], 1 / resistance[n])
    return nodes, 0.0 if both else resistance[-1]
