"""What a passage is made of: bores in both walls, collars on their outer sides, a standard tube, its plug."""

from __future__ import annotations

import math

from nestwright.habitat.model import Chamber, Passage
from nestwright.parts.draft import Draft, WallOpening, outer_radius, reach_of, wall_of
from nestwright.parts.model import Feature, Part
from nestwright.parts.sizes import Tube, size, tubes

__all__ = ["list_passages"]

_STEEPEST = math.radians(30)


def list_passages(draft: Draft) -> None:
    """Bores in both walls, collars on their outer sides, the tube between them, and its plug."""
    for passage in draft.habitat.passages:
        _passage(draft, passage)


def _tube(draft: Draft, p: Passage) -> Tube:
    """The standard tube of this bore. Raises InputError where there is none within 0.5 %."""
    key = f"passage.{p.name}.bore"
    near = sorted(tubes(), key=lambda t: (abs(t.bore - p.bore), t.wall))
    if abs(near[0].bore / p.bore - 1) > 0.005:
        below = max((t.bore for t in tubes() if t.bore < p.bore), default=0.0)
        above = min((t.bore for t in tubes() if t.bore > p.bore), default=0.0)
        allowed = " or ".join(f"{b * 1e3:.4g} mm" for b in (below, above) if b)
        raise draft.fault("there is no standard tube of this bore", p.line, key, f"{p.bore * 1e3:.4g} mm", allowed)
    return near[0]


def _raised(draft: Draft, p: Passage, end: int, chamber: Chamber) -> float:
    """Middle of a bore above the floor, moved off floor and lid so far that material is left there."""
    land, height = size("land"), chamber.shape.height
    low, high = p.bore / 2 + land, height - p.bore / 2 - land
    if high < low - 1e-9:
        raise draft.fault(
            f"the bore does not fit into the wall of {chamber.name!r} with {land * 1e3:.4g} mm left above and below",
            p.line,
            f"passage.{p.name}.bore",
            f"{p.bore * 1e3:.4g} mm in a wall {height * 1e3:.4g} mm high",
            f"at most {(height - 2 * land) * 1e3:.4g} mm",
        )
    return min(max(p.heights[end], low), high)


def _passage(draft: Draft, p: Passage) -> None:
    habitat = draft.habitat
    a, b = (habitat.chamber(name) for name in p.between)
    tube = _tube(draft, p)
    play = draft.play(p.name, "tube_play")
    collar = tube.outer + play + 2 * size("collar_wall")
    ends = []
    for end, (one, other) in enumerate(((a, b), (b, a))):
        v = _raised(draft, p, end, one)
        ends.append((one, v, *_mouth(draft, p, one, other, v)))
    starts = []
    for one, v, angle, panel, u in ends:
        reach = reach_of(one, v, panel)
        along = (math.cos(angle), math.sin(angle))
        across = (-along[1] * u, along[0] * u) if panel else (0.0, 0.0)
        starts.append(
            (
                one.place[0] + reach * along[0] + across[0],
                one.place[1] + reach * along[1] + across[1],
                one.place[2] + v,
            )
        )
    (ax, ay, az), (bx, by, bz) = starts
    run = math.hypot(bx - ax, by - ay)
    turn, tilt = math.atan2(by - ay, bx - ax), math.atan2(bz - az, run)
    _check_run(draft, p, ends, run, turn, tilt)
    length = min(size("collar_length"), 0.5 * run - 1e-3)
    made_of = draft.way(p.name, "small", "PETG")
    free = (collar + 1e-3, collar + 1e-3)
    low = collar / 2
    for n, ((one, v, angle, panel, u), at) in enumerate(zip(ends, starts, strict=True)):
        if at[2] - low < -1e-9:
            found = f"{at[2] * 1e3:.4g} mm above the bench"
            message = f"the collar at {one.name!r} would reach below the bench"
            raise draft.fault(message, p.line, f"passage.{p.name}", found, f"at least {low * 1e3:.4g} mm")
        _, thickness = wall_of(one, "side")
        # the world's x or y along the panel, whichever way the panel is turned
        opening = WallOpening(p.name, "bore", p.bore, p.bore, v, angle, panel, _world_u(panel, u), free, thickness)
        draft.sides.setdefault(one.name, []).append(opening)
        round_wall = 0.0 if one.shape.kind == "box" else outer_radius(one, v)
        sizes = {
            "bore": tube.outer + play,
            "outer": collar,
            "length": length,
            "wall": (collar - tube.outer - play) / 2,
            "wall_radius": round_wall,
            "lean": _lean(one),
            "tilt": tilt if n == 0 else -tilt,
        }
        name = f"{p.name} collar at {one.name}"
        features = (
            Feature("bore", "bore for the tube", tube.outer + play),
            Feature("wall", "wall", sizes["wall"]),
        )
        draft.add(
            Part(
                name,
                "port",
                f"passage.{p.name}",
                made_of[0],
                made_of[1],
                1,
                sizes,
                (*at, angle),
                features,
                note=made_of[2] or f"glued on {one.name}, around the bore",
                line=p.line,
            )
        )
        draft.join(f"{one.name} wall", name, "glued", size=collar, length=length, name=f"{name} on its wall")
        draft.join(
            name,
            f"{p.name} tube",
            "slides",
            size=tube.outer,
            gap=play / 2,
            length=length,
            name=f"{p.name} tube in {name}",
        )
    # cut a little short, so that its ends stand clear of walls that it or they lean against
    first, last = (1e-4 + tube.outer / 2 * (math.tan(abs(tilt)) + abs(_lean(one))) for one in (a, b))
    whole = math.hypot(run, bz - az)
    sizes = {"outer": tube.outer, "wall": tube.wall, "bore": tube.bore, "length": whole - first - last, "tilt": tilt}
    at = (ax + first * math.cos(turn), ay + first * math.sin(turn), az + first * math.tan(tilt))
    sizes["passage"] = whole + sum(wall_of(one, "side")[1] for one in (a, b))
    draft.add(
        Part(
            f"{p.name} tube",
            "tube",
            f"passage.{p.name}",
            "cut",
            tube.material,
            1,
            sizes,
            (*at, turn),
            (
                Feature("bore", "bore", tube.bore, side="ants"),
                Feature("wall", "wall", tube.wall),
                Feature("edge", "cut ends", size("edge"), side="ants"),
            ),
            note=f"tube {tube.outer * 1e3:.4g} x {tube.wall * 1e3:.4g} mm",
            line=p.line,
        )
    )
    if p.closed > 0:
        _plug(draft, p, starts[0], turn)


def _lean(chamber: Chamber) -> float:
    """How far a round wall leans out for every metre up."""
    shape = chamber.shape
    return (shape.top_width - shape.width) / 2 / shape.height if shape.kind == "cone" else 0.0


def _plug(draft: Draft, p: Passage, at: tuple[float, float, float], turn: float) -> None:
    """A plug in the bore of the first wall's tube, with a hole of its own unless it closes all."""
    way, material, note = draft.way("plug " + p.name, "small", "PETG" if p.closed < 1 else "silicone")
    hole = p.bore * math.sqrt(1 - p.closed)
    _, thickness = wall_of(draft.habitat.chamber(p.between[0]), "side")
    length = thickness  # it fills the bore of the wall and stands out nowhere
    what = f"{material} plug {p.bore * 1e3:.4g} mm"
    features = (Feature("bore", "hole", hole, side="ants"),) if hole > 0 else ()
    sizes = {"outer": p.bore, "bore": hole, "length": length, "wall": (p.bore - hole) / 2 if hole else 0.0}
    place = (at[0] - length * math.cos(turn), at[1] - length * math.sin(turn), at[2], turn)
    name = f"{p.name} plug"
    draft.add(
        Part(name, "plug", f"plug.{p.name}", way, material, 1, sizes, place, features, note=note or what, line=p.line)
    )
    draft.join(f"{p.between[0]} wall", name, "pressed", size=p.bore, length=length)


def _mouth(draft: Draft, p: Passage, one: Chamber, other: Chamber, v: float) -> tuple[float, str, float]:
    """Direction of a passage out of a chamber (rad), the panel of a box, and m along it from its middle."""
    dx, dy = other.place[0] - one.place[0], other.place[1] - one.place[1]
    if one.shape.kind != "box":
        if other.shape.kind == "box":  # square to the box's panel
            angle, panel = _panel_towards(other, -dx, -dy)
            along = (math.cos(angle), math.sin(angle))
            return math.atan2(-along[1], -along[0]), "", 0.0
        return math.atan2(dy, dx), "", 0.0
    angle, panel = _panel_towards(one, dx, dy)
    across = (-math.sin(angle), math.cos(angle))
    u = dx * across[0] + dy * across[1]
    half = (one.shape.depth if panel in ("left", "right") else one.shape.width) / 2
    most = half - p.bore / 2 - size("land")
    if other.shape.kind == "box":
        # both mouths on one line: the middle of what both panels have in common
        wide = (other.shape.depth if panel in ("left", "right") else other.shape.width) / 2
        low, high = max(-most, u - wide + p.bore / 2 + size("land")), min(most, u + wide - p.bore / 2 - size("land"))
        if low > high:
            most, u = high, low
        else:
            return angle, panel, min(max(0.0, low), high) if low > 0 or high < 0 else 0.0
    if abs(u) > most:
        found = f"{abs(u) * 1e3:.4g} mm aside"
        message = f"no straight tube leads square out of {one.name!r} to {other.name!r}"
        raise draft.fault(message, p.line, f"passage.{p.name}", found, f"at most {max(most, 0) * 1e3:.4g} mm aside")
    return angle, panel, u


def _panel_towards(one: Chamber, dx: float, dy: float) -> tuple[float, str]:
    """The panel of a box that looks towards a direction: by how far the other stands beyond its faces."""
    beyond_x, beyond_y = abs(dx) - one.shape.width / 2, abs(dy) - one.shape.depth / 2
    if beyond_x >= beyond_y:
        return (0.0, "right") if dx > 0 else (math.pi, "left")
    return (math.pi / 2, "back") if dy > 0 else (-math.pi / 2, "front")


def _world_u(panel: str, u: float) -> float:
    """From m along the panel's left-hand direction (seen from inside) to m along the world's x or y."""
    return -u if panel in ("back", "left") else u


def _check_run(
    draft: Draft, p: Passage, ends: list[tuple[Chamber, float, float, str, float]], run: float, turn: float, tilt: float
) -> None:
    field = f"passage.{p.name}"
    names = " and ".join(repr(n) for n in p.between)
    off = abs((turn - ends[0][2] + math.pi) % (2 * math.pi) - math.pi)
    if run < 6e-3 or off > math.pi / 2:
        found = f"{(run if off < math.pi / 2 else -run) * 1e3:.4g} mm between the walls of {names}"
        raise draft.fault("there is no room for a tube", p.line, field, found, "at least 6 mm")
    if off > 1e-3 or abs(tilt) > _STEEPEST:
        which = "aside" if off > 1e-3 else "upwards"
        lean = math.degrees(off if off > 1e-3 else abs(tilt))
        allowed = "at most 30 deg, square to the walls from above: move a chamber, or change a height"
        raise draft.fault(f"the tube would lean {which}", p.line, field, f"{lean:.3g} deg", allowed)
