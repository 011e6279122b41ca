"""What holds a chamber's water: a wet block with its mould, a tray, a bottle in its seat."""

from __future__ import annotations

import math

from nestwright.habitat.model import Chamber, Water
from nestwright.habitat.standing import block_bulk, bottle_of, tray_of
from nestwright.parts.draft import Draft
from nestwright.parts.model import Feature, Part
from nestwright.parts.sizes import size

__all__ = ["frustum_volume", "list_water"]


def list_water(draft: Draft, water: Water) -> None:
    """A wet block is cast in a mould with draft; a small pool lies in a tray; a reservoir is a bottle in its seat."""
    chamber = draft.habitat.chamber(water.chamber)
    if water.kind == "block":
        _block(draft, water, chamber)
    elif water.kind == "pool":
        _tray(draft, water, chamber)
    else:
        _bottle(draft, water, chamber)


def _block(draft: Draft, water: Water, chamber: Chamber) -> None:
    """Bulk from dry mass and water held; its upper face is the free surface as far as the chamber has room for it."""
    way, material, note = draft.way(water.name, "block", "plaster")
    bulk = block_bulk(draft.habitat, water)
    shape, play, slope = chamber.shape, draft.play(water.name, "block_play"), math.tan(size("mould_draft"))
    key, area = f"water.{water.name}", water.free_surface
    box = shape.kind == "box"
    most = (
        (shape.width - 2 * play, shape.depth - 2 * play) if box else (min(shape.width, shape.top_width) - 2 * play,) * 2
    )
    if min(most) <= 0:
        found, allowed = f"{play * 1e3:.4g} mm on each side", f"a chamber wider than {2 * play * 1e3:.4g} mm"
        raise draft.fault("no room is left for the block beside its clearance", water.line, key, found, allowed)
    if box:
        ratio = most[0] / most[1]
        depth = min(math.sqrt(area / ratio), most[1])
        width = min(area / depth, most[0])
        top, rim = width * depth, 2 * (width + depth)
    else:
        width = depth = min(math.sqrt(4 * area / math.pi), most[0])
        top, rim = math.pi / 4 * width**2, math.pi * width
    free_side = max(0.0, (area - top) / rim) if area > top * (1 + 1e-9) else 0.0
    height = _height_of(bulk, width, depth, slope, box)
    room = shape.height - play
    if height > room or free_side > height:
        raise draft.fault(
            f"the block for this water does not fit into {chamber.name!r}",
            water.line,
            f"{key}.store",
            f"{width * 1e3:.4g} mm wide and {height * 1e3:.4g} mm high for {bulk * 1e6:.4g} mL of bulk",
            f"at most {room * 1e3:.4g} mm high",
        )
    low = (width - 2 * height * slope, depth - 2 * height * slope)
    sizes = {
        "top_width": width,
        "top_depth": depth,
        "low_width": low[0],
        "low_depth": low[1],
        "height": height,
        "free_side": free_side,
        "box": 1.0 if box else 0.0,
    }
    x, y, z = chamber.place
    x += _aside(draft, water, chamber, width)
    sealed = "sides and underside sealed with varnish: only the top gives off water"
    if free_side:
        sealed = f"sides sealed with varnish but for the upper {free_side * 1e3:.3g} mm"
    draft.add(
        Part(
            water.name,
            "block",
            key,
            way,
            material,
            1,
            sizes,
            (x, y, z, 0.0),
            (Feature("draft", "sides", size("mould_draft")), Feature("wall", "height", height)),
            note=note or sealed,
            line=water.line,
        )
    )
    floor = draft.closed_below.get(chamber.name, f"{chamber.name} base")
    draft.join(floor, water.name, "stands", side="inside")
    if way == "cast":
        wall = size("mould_wall")
        draft.add(
            Part(
                f"{water.name} mould",
                "mould",
                key,
                "printed",
                "PLA",
                1,
                {**sizes, "wall": wall},
                (0.0, 0.0, 0.0, 0.0),
                (Feature("wall", "wall", wall), Feature("draft", "inside", size("mould_draft"))),
                note="serves many castings; grease it thinly",
                line=water.line,
            )
        )


def frustum_volume(width: float, depth: float, height: float, slope: float, box: bool) -> float:
    """Volume of a body that narrows downward by `slope` on every side; a disc unless `box`."""
    low = (width - 2 * height * slope, depth - 2 * height * slope)
    middle = (width - height * slope) * (depth - height * slope)
    ends = width * depth + low[0] * low[1]
    return (ends + 4 * middle) * height / 6 * (1.0 if box else math.pi / 4)


def _height_of(volume: float, width: float, depth: float, slope: float, box: bool) -> float:
    low, high = 0.0, min(width, depth) / (2 * slope)
    if frustum_volume(width, depth, high, slope, box) < volume:
        return volume / (width * depth * (1.0 if box else math.pi / 4))
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if frustum_volume(width, depth, middle, slope, box) < volume else (low, middle)
    return high


def _aside(draft: Draft, water: Water, chamber: Chamber, width: float) -> float:
    """How far from the middle something stands that shares its chamber with other things, m along x."""
    others = [w for w in draft.habitat.waters if w.chamber == chamber.name]
    busy = any(g.chamber == chamber.name for g in draft.habitat.gardens) or chamber.role == "outer"
    if len(others) <= 1 and not busy and water.kind != "reservoir":
        return 0.0
    free = (min(chamber.shape.width, chamber.shape.top_width) - width) / 2 - 1e-3
    # away from the side that a passage leads out of
    load = sum(
        math.copysign(1, draft.habitat.chamber(n).place[0] - chamber.place[0])
        for p in draft.habitat.passages
        if chamber.name in p.between
        for n in p.between
        if n != chamber.name
    )
    sign = -1.0 if load > 0 else 1.0
    return max(free, 0.0) * sign * (1 if others.index(water) % 2 == 0 else -1)


def _tray(draft: Draft, water: Water, chamber: Chamber) -> None:
    tray = tray_of(water, chamber)
    if tray is None:
        return
    wall, height = tray.wall, tray.height
    if height + wall > chamber.shape.height:
        found, allowed = f"{(height + wall) * 1e3:.4g} mm high", f"at most {chamber.shape.height * 1e3:.4g} mm"
        raise draft.fault(
            f"the tray does not fit into {chamber.name!r}", water.line, f"water.{water.name}.store", found, allowed
        )
    side = tray.side
    way, material, note = draft.way(water.name, "small", "PETG")
    x, y, z = chamber.place
    x += _aside(draft, water, chamber, side + 2 * wall)
    if tray.round_one:
        sizes = {"inner": side, "inner_top": side, "outer": side + 2 * wall}
    else:
        sizes = {"width": side, "depth": side}
    sizes |= {"length": height, "thickness": wall, "floor": wall}
    draft.add(
        Part(
            water.name,
            "tray",
            f"water.{water.name}",
            way,
            material,
            1,
            sizes,
            (x, y, z + wall, 0.0),
            (Feature("wall", "wall", wall),),
            note=note,
            line=water.line,
        )
    )
    draft.join(draft.closed_below.get(chamber.name, f"{chamber.name} base"), water.name, "stands", side="inside")


def _bottle(draft: Draft, water: Water, chamber: Chamber) -> None:
    play = size("tube_play")
    bottle = bottle_of(water, chamber, play)
    if bottle is None or bottle.diameter + 4 * bottle.wall > min(chamber.shape.width, chamber.shape.depth):
        found = f"in a chamber {chamber.shape.height * 1e3:.4g} mm high"
        if bottle:
            found = f"{bottle.diameter * 1e3:.4g} mm wide and {bottle.height * 1e3:.4g} mm high"
        allowed = f"at most {min(chamber.shape.width, chamber.shape.depth) * 1e3:.4g} mm wide"
        raise draft.fault(
            f"the reservoir does not fit into {chamber.name!r}", water.line, f"water.{water.name}.store", found, allowed
        )
    d, height, wall = bottle.diameter, bottle.height, bottle.wall
    outer = bottle.seat + 2 * wall
    x, y, z = chamber.place
    x += _aside(draft, water, chamber, outer)
    key = f"water.{water.name}"
    draft.add(
        Part(
            water.name,
            "reservoir",
            key,
            "bought",
            "glass",
            1,
            {"outer": d, "length": height},
            (x, y, z + wall, 0.0),
            note=f"bottle {water.store * 1e3:.3g} mL with wick",
            line=water.line,
        )
    )
    way, material, note = draft.way(water.name, "small", "PETG")
    sizes = {"inner": bottle.seat, "inner_top": bottle.seat, "outer": outer, "length": bottle.seat_height}
    sizes |= {"thickness": wall, "floor": wall}
    draft.add(
        Part(
            f"{water.name} seat",
            "feeder seat",
            key,
            way,
            material,
            1,
            sizes,
            (x, y, z + wall, 0.0),
            (Feature("wall", "wall", wall), Feature("gap", "around the bottle", play / 2, side="ants")),
            note=note,
            line=water.line,
        )
    )
    draft.join(f"{water.name} seat", water.name, "slides", size=d, gap=play / 2, length=8e-3, side="inside")
    draft.join(
        draft.closed_below.get(chamber.name, f"{chamber.name} base"), f"{water.name} seat", "stands", side="inside"
    )
