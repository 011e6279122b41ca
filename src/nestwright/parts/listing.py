"""From a habitat to the list of its parts: sizes, places, ways of making, and how they meet. No solids yet.

Where a part stands follows the drawn section: walls stand on the inner floor's level, a base lies under them, a lid on
them, a grid between its two chambers. How a part is made, and sizes that no habitat file tells, are judgements:
nestwright.parts.ways, data/parts.toml; a habitat's [[make]] tables come first.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from nestwright.errors import FileError, InputError
from nestwright.habitat.model import Habitat
from nestwright.parts.draft import Draft
from nestwright.parts.listing_bodies import list_body, share_plate_below
from nestwright.parts.listing_contents import list_bell, list_grid
from nestwright.parts.listing_passages import list_passages
from nestwright.parts.listing_vents import list_sensor_holders, list_vents
from nestwright.parts.listing_water import list_water
from nestwright.parts.model import Assembly, Joint, Part

__all__ = ["parts_of"]


def parts_of(habitat: Habitat) -> Assembly:
    """Every part of a habitat, each piece by itself, and the joints between them.

    Parameters
    ----------
    habitat : Habitat
        A design that was read and checked.

    Returns
    -------
    Assembly
        Parts in the order of chambers, then grids, bells, water, heat. Lengths m.

    Raises
    ------
    InputError
        For geometry that cannot be made, with the two sizes that are at odds, file and line.
    """
    draft = Draft(habitat)
    faults: list[InputError] = []

    def each(make, things) -> None:  # type: ignore[no-untyped-def]
        for one in things:
            try:
                make(draft, one)
            except InputError as fault:
                faults.append(fault)

    for lister in (list_passages, list_vents, list_sensor_holders):
        try:
            lister(draft)
        except InputError as fault:
            faults.append(fault)
    openings, draft.parts = draft.parts, []
    for chamber in habitat.chambers:
        share_plate_below(draft, chamber)
    each(list_body, habitat.chambers)
    each(list_grid, habitat.grids)
    each(list_bell, habitat.bells)
    each(list_water, habitat.waters)
    for part in openings:
        draft.add(part)
    if faults:
        raise FileError(sorted(faults, key=lambda f: f.line))
    for heater in habitat.heaters:
        note = f"sealed heater {heater.power:.3g} W for {heater.where[0]}, {heater.where[1]}"
        draft.add(
            Part(
                f"{heater.name} heater",
                "fitting",
                f"heater.{heater.name}",
                "bought",
                "silicone",
                1,
                {},
                note=note,
                line=heater.line,
            )
        )
    _only_sheets_are_cut(habitat, draft)
    _named(draft)
    path = Path(habitat.path) if habitat.path else None
    digest = hashlib.sha256(path.read_bytes()).hexdigest() if path is not None and path.is_file() else ""
    return draft.done(digest)


def _only_sheets_are_cut(habitat: Habitat, draft: Draft) -> None:
    """A laser cuts sheets: every other part needs another way of making. Raises FileError, one for each such part."""
    faults = []
    for part in draft.parts:
        if part.way == "laser" and part.sheet is None:
            told = next((make for make in habitat.makes if make.part in part.name or make.part in part.serves), None)
            field, line = (f"make.{told.part}.way", told.line) if told else (part.serves, part.line)
            fault = InputError(
                "only a flat part out of one sheet can be laser cut", file=habitat.path, line=line, field=field,
                found=f"{part.name!r}, which is none", allowed="printed, resin, milled, turned, cast, cut",
            )  # fmt: skip
            faults.append(fault)
    if faults:
        raise FileError(faults)


def _named(draft: Draft) -> None:
    """Joints name a box's wall as "NAME wall": put the panel in its place that the joint lies on."""
    names = {p.name for p in draft.parts}
    found: list[Joint] = []
    for joint in draft.joints:
        outer, inner = (_wall_name(draft, n, joint.name) if n not in names else n for n in (joint.outer, joint.inner))
        if outer in names and inner in names:
            found.append(replace(joint, outer=outer, inner=inner))
    draft.joints = found


def _wall_name(draft: Draft, name: str, joint: str) -> str:
    if not name.endswith(" wall"):
        return name
    chamber = name.removesuffix(" wall")
    panels = [
        p for p in draft.parts if p.serves == f"chamber.{chamber}" and p.sizes.get("upright") and p.kind == "panel"
    ]
    for opening in draft.sides.get(chamber, []):
        if opening.panel and joint.startswith(opening.name):
            return f"{chamber} {opening.panel}"
    return panels[0].name if panels else name
