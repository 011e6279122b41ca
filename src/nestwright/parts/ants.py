"""Rules for parts that ants live in: what they must not pass, what traps or cuts them, what hands must reach.

A rule tells a `Finding` with the field and line of the habitat file: an error where every smallest worker passes
though its card errs, a warning where some may.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from nestwright.data import SpeciesCard, load_species
from nestwright.habitat.findings import Finding, mm
from nestwright.habitat.model import Chamber, Habitat, Pattern
from nestwright.parts.ant_values import Stop, ant_values, smallest_head, stop_of
from nestwright.parts.mesh_choice import choose_mesh
from nestwright.parts.model import Assembly, Joint, Part
from nestwright.parts.openings import AntOpening, ant_openings
from nestwright.parts.passing import Body, Opening, passes
from nestwright.parts.process_rules import Processes, shipped_processes
from nestwright.parts.tolerances import fit

__all__ = ["ant_findings", "let_through", "opening_of", "widest_gap"]

_KEY = {"hole": "diameter", "slot": "width", "mesh": "aperture"}


def ant_findings(
    habitat: Habitat, assembly: Assembly, card: SpeciesCard, processes: Processes | None = None
) -> tuple[Finding, ...]:
    """Everything about the parts of a habitat that ants or hands would find wrong, in the order of the file.

    Parameters
    ----------
    habitat, assembly
        The design and its parts; openings are judged by the design, gaps and edges by the parts.
    card : SpeciesCard
        For the head width of the smallest worker.
    processes : Processes, optional
        By which openings come out wider and plates bowed; else the shipped rules.
    """
    rules, stop = processes or shipped_processes(), stop_of(card)
    found = [
        *_openings(ant_openings(habitat, card, assembly.parts, rules), card),
        *_joints(assembly, rules, stop),
        *_bells(habitat),
        *_passages(habitat),
        *_features(assembly, stop),
        *_barriers(habitat, card),
        *_reach(habitat),
    ]
    return tuple(sorted(found, key=lambda f: f.line))


def let_through(habitat: Habitat, parts: tuple[Part, ...] | None = None) -> tuple[Finding, ...]:
    """Vents and grids of a design whose openings the smallest worker passes, or may pass; by the shipped rules, and as
    they are drawn where the design cannot be made as it stands. `parts`: its own where they are at hand, or none."""
    card = load_species(habitat.species)
    return tuple(_openings(ant_openings(habitat, card, parts), card))


def widest_gap(joint: Joint, outer: Part | None, inner: Part | None, rules: Processes) -> float:
    """Widest clear way that a joint may open, m: at the ends of its fit or of both ways of making, and with both plates
    bowed.

    A part that slides in another is counted as pushed to one side, so that the whole clearance is there. A plate that
    stands on another opens by its own bow and the other's, at the worst against each other. Glued and pressed joints
    have none.
    """
    if joint.kind in ("glued", "pressed"):
        return 0.0
    parts = [part for part in (outer, inner) if part is not None]
    if joint.kind == "stands":
        return joint.gap + joint.flat + sum(rules.bow(part.way, joint.size, part.material) for part in parts)
    if joint.fit:
        return fit(joint.fit, joint.size).clearance[1] + joint.flat
    # how wide a tube is its maker decides, not who cuts it to length
    ways = ["bought" if part.way == "cut" and "outer" in part.sizes else part.way for part in parts]
    return 2 * joint.gap + joint.flat + sum(rules.spread(way, joint.size) for way in ways)


def opening_of(chamber: Chamber) -> Opening:
    """What is open when a chamber's lid is off."""
    shape = chamber.shape
    if shape.kind == "box":
        return Opening("rectangle", shape.width, shape.depth)
    return Opening("circle", shape.top_width, shape.top_width)


def _judged(
    size: float, stop: Stop, what: str, line: int, field: str, why: str, instead: str = "", sure: bool | None = None
) -> Iterator[Finding]:
    if size <= stop.sure:
        return
    sure = size > stop.passes if sure is None else sure
    message = f"{what} {'lets' if sure else 'may let'} the smallest worker {why} ({stop.mark})"
    allowed = f"at most {mm(stop.sure)}{instead}"
    yield Finding("error" if sure else "warning", message, line, field, f"up to {mm(size)}", allowed)


def _instead(pattern: Pattern, card: SpeciesCard) -> str:
    """The mesh that stops the smallest worker with as much open area as the pattern has."""
    width = pattern.width
    area = pattern.count * (pattern.length * width if pattern.kind == "slot" else math.pi / 4 * width**2)
    if pattern.kind == "mesh":
        area *= (pattern.aperture / (pattern.aperture + pattern.wire)) ** 2
    choice = choose_mesh(card, area, width)
    mesh, port = choice.mesh, math.ceil(choice.port_needed * 1e3)
    return f", as a mesh of {mm(mesh.aperture)} with wire {mm(mesh.wire)}: one port of {port} mm has the same open area"


def _openings(openings: tuple[AntOpening, ...], card: SpeciesCard) -> Iterator[Finding]:
    for one in openings:
        key = f"{one.field}.{_KEY[one.pattern.kind]}"
        if one.field.startswith("grid."):
            what, why = "an opening of the grid", f"down into {one.into!r}"
        else:
            what, why = f"an opening of vent {one.name!r}", f"out into {repr(one.into) if one.into else 'the room'}"
        yield from _judged(one.widest, one.stop, what, one.line, key, why, _instead(one.pattern, card))


def _joints(assembly: Assembly, rules: Processes, stop: Stop) -> Iterator[Finding]:
    parts = {part.name: part for part in assembly.parts}
    for joint in assembly.joints:
        if joint.side not in ("ants", "sump"):
            continue
        outer, inner = parts.get(joint.outer), parts.get(joint.inner)
        size = widest_gap(joint, outer, inner, rules)
        line = max(part.line for part in (outer, inner) if part) if outer or inner else 0
        field = (inner or outer).serves if inner or outer else ""  # type: ignore[union-attr]
        what = f"the gap of {joint.name!r}"
        if any(part is not None and part.kind in ("bell", "plug") for part in (outer, inner)) and joint.side == "ants":
            yield from _trap(size, stop, what, line, field)  # ants on both sides
        else:
            why = "through to the sump" if joint.side == "sump" else "out"
            worst = ", at worst with both plates bowed," if joint.kind == "stands" else " at its widest"
            # as drawn it must pass for an error: what only comes of tolerances can be fitted or sealed
            sure = joint.gap + joint.flat > stop.passes
            yield from _judged(size, stop, what + worst, line, field, why, ": fit it closer, or seal it", sure)


def _trap(size: float, stop: Stop, what: str, line: int, field: str) -> Iterator[Finding]:
    if stop.sure < size < stop.trap:
        allowed = f"at most {mm(stop.sure)}, or at least {mm(stop.trap)}"
        message = f"{what} takes in the head of the smallest worker, not its body: ants get stuck (judgement)"
        yield Finding("warning", message, line, field, f"up to {mm(size)}", allowed)


def _bells(habitat: Habitat) -> Iterator[Finding]:
    for bell in habitat.bells:
        chamber = habitat.chamber(bell.chamber)
        shape, wall = bell.shape, sum(layer.thickness for layer in bell.layers)
        across = max(shape.width, shape.top_width) + 2 * wall
        along = (shape.depth if shape.kind == "box" else max(shape.width, shape.top_width)) + 2 * wall
        body = Body("box" if shape.kind == "box" else "cylinder", across, along, shape.height + wall)
        opening = opening_of(chamber)
        way = passes(body, opening)
        field = f"bell.{bell.chamber}"
        found = f"{_size(across, along)}, {mm(body.height)} high"
        if not way:
            message = f"the bell does not pass the opening of {chamber.name!r}, upright or on its side"
            allowed = f"through {_size(opening.width, opening.depth)}"
            yield Finding("error", message, bell.line, field, found, allowed)
        elif way == "on its side" and body.width > chamber.shape.height:
            message = f"the bell passes the opening of {chamber.name!r} only on its side, and cannot be turned there"
            yield Finding("error", message, bell.line, field, found, f"a chamber at least {mm(body.width)} high")
        elif way == "on its side":
            message = f"the bell passes the opening of {chamber.name!r} only on its side: the garden must be out first"
            yield Finding("warning", message, bell.line, field, found)


def _size(width: float, depth: float) -> str:
    return mm(width) if abs(width - depth) < 1e-9 else f"{width * 1e3:.4g} x {mm(depth)}"


def _passages(habitat: Habitat) -> Iterator[Finding]:
    need = ant_values()["passage"]
    for passage in habitat.passages:
        if passage.bore < need.value:
            message = f"ants with a load of leaf get stuck in a narrow passage ({need.mark})"
            severity = "error" if passage.bore < need.low else "warning"
            allowed = f"at least {mm(need.value)}"
            yield Finding(severity, message, passage.line, f"passage.{passage.name}.bore", mm(passage.bore), allowed)  # type: ignore[arg-type]


def _features(assembly: Assembly, stop: Stop) -> Iterator[Finding]:
    values = ant_values()
    for part in assembly.parts:
        for feature in part.features:
            if feature.kind == "edge" and feature.side in ("ants", "room"):
                need = values["edge_ants" if feature.side == "ants" else "edge_hand"]
                if feature.size < need.low - 1e-9:
                    whom = "ants" if feature.side == "ants" else "hands"
                    sharp = "glass cuts: grind it" if part.material == "glass" else "break it"
                    message = f"{part.name}: the edge {feature.name!r} is sharp for {whom}; {sharp} ({need.mark})"
                    allowed = f"a radius of at least {mm(need.value)}"
                    yield Finding("warning", message, part.line, part.serves, mm(feature.size), allowed)
            elif feature.kind == "gap" and feature.side == "ants":
                yield from _trap(feature.size, stop, f"{part.name}: {feature.name}", part.line, part.serves)


def _barriers(habitat: Habitat, card: SpeciesCard) -> Iterator[Finding]:
    """Chambers that are opened every day need a smooth band below the lid, for the time that it is off."""
    rule = ant_values()["barrier"]
    need = rule.value * smallest_head(card).value
    for chamber in habitat.chambers:
        if chamber.role not in ("forage", "dump") or chamber.wall("top").touches != "room":
            continue
        tops = [v.height + v.pattern.width / 2 for v in habitat.vents if v.chamber == chamber.name and v.face == "side"]
        for passage in habitat.passages:
            ends = zip(passage.between, passage.heights, strict=True)
            tops += [height + passage.bore / 2 for name, height in ends if name == chamber.name]
        band = chamber.shape.height - max(tops, default=0.0)
        if band < need:
            message = f"little smooth wall below the lid of {chamber.name!r} for a barrier against escape ({rule.mark})"
            field = f"chamber.{chamber.name}.height"
            yield Finding("warning", message, chamber.line, field, mm(band), f"at least {mm(need)} above every opening")


def _reach(habitat: Habitat) -> Iterator[Finding]:
    """Every chamber with ants or water must be open to a hand, or to a tool."""
    values = ant_values()
    for chamber in habitat.chambers:
        if chamber.role == "outer":
            continue
        opening, depth = opening_of(chamber), chamber.shape.height
        clear = min(opening.width, opening.depth)
        hand = clear >= values["hand_breadth"].value
        by_hand = hand and depth <= 2 * values["hand_reach"].value
        by_tool = clear >= values["tool_width"].value and depth <= values["tool_reach"].value
        if not by_hand and not by_tool:
            message = f"neither a hand nor a tool reaches the floor of {chamber.name!r} to clean it"
            allowed = (
                f"at least {mm(values['hand_breadth'].value)} wide for a hand, or at most "
                f"{mm(values['tool_reach'].value)} deep for a tool"
            )
            field = f"chamber.{chamber.name}"
            yield Finding("warning", message, chamber.line, field, f"{mm(clear)} wide, {mm(depth)} deep", allowed)
