"""What is measured and checked on every build of a habitat, and the sheet of paper on which it is filled in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestwright.habitat.model import Habitat
from nestwright.parts.model import Assembly
from nestwright.press.setting import set_paper

__all__ = ["Point", "points_of", "quality_pdf"]

_SIZES = ("diameter", "bottom_diameter", "top_diameter", "width", "depth", "height", "rim_gap", "lid_gap", "bore")
_GROUPS = ("chamber", "bell", "grid", "vent", "passage")


@dataclass(frozen=True)
class Point:
    """`what` as the record names it; a value to measure has a `nominal`, a check to pass has none.

    `why` it matters, in words.
    """

    what: str
    nominal: str = ""
    why: str = ""

    @property
    def measures(self) -> bool:
        return bool(self.nominal)


def points_of(habitat: Habitat, assembly: Assembly) -> tuple[Point, ...]:
    """Values to measure: sizes of the design that its climate or its ants hang on, by their keys in the habitat file.
    Checks: what can only be seen or tried. Both are common practice, no source.
    """
    points: list[Point] = []
    for key, text in habitat.texts.items():
        steps = key.split(".")
        if len(steps) == 3 and steps[0] in _GROUPS and steps[2] in _SIZES and isinstance(text, str):
            points.append(Point(key, text, _WHY.get(steps[2], "")))
    for part in assembly.parts:
        for feature in part.features:
            if feature.side == "ants" and feature.kind in ("bore", "gap"):
                name = f"{part.name}: {feature.name}"
                points.append(Point(name, f"{1000 * feature.size:.4g} mm", "ants pass it, or must not"))
    return (*points, *_checks(habitat, assembly))


_WHY = {
    "rim_gap": "air under the bell",
    "lid_gap": "air, and the way out",
    "bore": "ants pass it",
    "diameter": "air, or what must fit",
}


def _checks(habitat: Habitat, assembly: Assembly) -> list[Point]:
    found = []
    if habitat.waters:
        found.append(Point("sump and joints hold water for an hour", why="fill to the highest level, dry outside"))
    found += [
        Point("no gap on the ants' side wider than drawn", why="feeler gauge along every joint, lid on"),
        Point("no edge that cuts", why="a finger and a cotton bud along every edge"),
    ]
    if habitat.grids or any(v.pattern.kind == "mesh" for v in habitat.vents):
        found.append(Point("grids and meshes lie on all round, none torn", why="against the light"))
    if habitat.bells:
        found.append(Point("bell goes in and out through its opening, upright and tilted"))
    if habitat.passages:
        found.append(Point("plugs and tubes hold a pull by hand"))
    if any(j.kind == "glued" for j in assembly.joints) or any(p.way == "resin" for p in assembly.parts):
        found.append(Point("glue, solvent and resin have gassed out", why="closed overnight, then nothing is smelt"))
    if any(p.material == "glass" for p in assembly.parts):
        found.append(Point("glass edges ground, no chip"))
    if habitat.heaters:
        found.append(Point("heater: fuse, own cut-out and residual current device tried", why="mains near water"))
    found += [Point("washed with water only and dry"), Point("labelled with serial and revision")]
    return found


def quality_pdf(serial: str, habitat: Habitat, assembly: Assembly, cautions: Sequence[str] = ()) -> bytes:
    """The sheet of one build as PDF; the same build gives the same bytes."""
    points = points_of(habitat, assembly)
    measured = [p for p in points if p.measures]
    checks = [p for p in points if not p.measures]
    head = f"Build {serial}: {habitat.name}, revision {habitat.revision}"
    first, drawn = (measured[0].what, measured[0].nominal) if measured else ("a value", "118.4 mm")
    data = {
        "lang": "en",
        "title": head,
        "footer": head,
        "sha256": assembly.sha256,
        "measure": [[p.what, p.nominal, p.why] for p in measured],
        "check": [[p.what, p.why] for p in checks],
        "measured": f'nestwright build measure {serial} "{first}" "{drawn}"',
        "checked": f'nestwright build check {serial} "{checks[0].what}" --passed',
        "cautions": list(cautions),
    }
    return set_paper("quality", data, None)
