"""A design in the making: the form of the file, what is made of it so far, and what is asked of every part."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, NoReturn

from nestwright.data import load_materials
from nestwright.errors import nearest_name
from nestwright.habitat import form as f
from nestwright.habitat import model as m
from nestwright.habitat.findings import mm

__all__ = ["FACES", "Designing", "Path", "Problem", "folded", "layers_of", "material_of"]

Path = tuple[str | int, ...]
THICKEST_WIRE = 1 / (math.sqrt(3) - 1)
"""Most of a wire's thickness to the aperture of a square plain weave: its pitch is at least sqrt(3) wires (Peirce 1937,
J Text Inst 28:T45, doi:10.1080/19447023708658809; the jammed weave, from memory)."""
FACES: tuple[m.Face, ...] = ("side", "top", "base")


@dataclass(eq=False)
class Problem(Exception):  # noqa: N818 - carried in a list as often as it is raised
    """Something in the file that cannot be used, at a path such as ("vent", 2, "count")."""

    path: Path
    message: str
    found: str = ""
    allowed: str = ""
    nearest: str = ""


class Designing:
    """Holds the form and the lines while the parts are made, and notes what cannot be made."""

    def __init__(self, form: f.HabitatForm, lines: dict[str, int]) -> None:
        self.form, self.lines = form, lines
        self.problems: list[Problem] = []
        self.chambers: dict[str, m.Chamber] = {}
        self.layers: dict[tuple[str, m.Face], tuple[m.Layer, ...]] = {}
        self.touches: dict[tuple[str, m.Face], str] = {}

    def line(self, *path: str | int) -> int:
        from nestwright.positions import line_of

        return line_of(self.lines, path)

    def each(self, name: str, make: Any) -> tuple[Any, ...]:
        """Make every part of one kind; a part that cannot be made is noted and left out."""
        made = []
        for i, part in enumerate(getattr(self.form, name)):
            try:
                made.append(make(i, part))
            except Problem as problem:
                self.note(problem)
        return tuple(made)

    def note(self, problem: Problem) -> None:
        if problem.message:  # an empty one is a consequence of another that is already told
            self.problems.append(problem)

    def known(self, path: Path, name: str, names: Iterable[str], what: str) -> str:
        names = list(names)
        if name in names:
            return name
        allowed = ", ".join(names) if names else f"no {what} is in the file"
        raise Problem(path, f"there is no {what} of this name", repr(name), allowed, nearest_name(name, names))

    def chamber(self, path: Path, name: str) -> m.Chamber:
        self.known(path, name, [c.name for c in self.form.chamber], "chamber")
        if name not in self.chambers:  # it has a fault of its own
            raise Problem(path, "")
        return self.chambers[name]

    def only(self, path: Path, part: Any, kind: str, value: str, keys: dict[str, list[str]]) -> None:
        """The keys of this form or pattern must be there, those of the others must not."""
        for key in keys[value]:
            if getattr(part, key) is None:
                raise Problem(path, f"{kind} {value!r} needs the key {key!r}", allowed=", ".join(keys[value]))
        others = {k for ks in keys.values() for k in ks} - set(keys[value])
        for key in sorted(others):
            if getattr(part, key) is not None and key in part.model_fields_set:
                raise Problem((*path, key), f"{kind} {value!r} has no such key", allowed=", ".join(keys[value]))

    def shape(self, path: Path, part: f.ChamberForm | f.BellForm) -> m.Shape:
        self.only(path, part, "shape", part.shape, f.SHAPE_KEYS)
        if part.shape == "box":
            return m.Shape("box", _sure(part.width), _sure(part.depth), part.height, _sure(part.width))
        if part.shape == "cone":
            bottom, top = _sure(part.bottom_diameter), _sure(part.top_diameter)
            return m.Shape("cone", bottom, bottom, part.height, top)
        size = _sure(part.diameter)
        return m.Shape("cylinder", size, size, part.height, size)

    def pattern(
        self, path: Path, part: f.VentForm | f.GridForm, thickness: float | None, port: float | None
    ) -> m.Pattern:
        """`thickness` and `port` are what holds when the file does not tell them."""
        keys = {**f.PATTERN_KEYS, "mesh": ["aperture", "wire"]}
        if part.pattern == "mesh":
            if part.count not in (None, 1):
                raise Problem((*path, "count"), "a mesh is one port; write one vent for each", str(part.count), "1")
            keys["mesh"] = ["aperture", "wire", "diameter", "count"]
            missing = [k for k in ("aperture", "wire") if getattr(part, k) is None]
            if missing or (part.diameter is None and port is None):
                raise Problem(path, f"pattern 'mesh' needs the key {(missing or ['diameter'])[0]!r}")
            others = [k for k in ("width", "length") if getattr(part, k) is not None]
            if others:
                raise Problem((*path, others[0]), "pattern 'mesh' has no such key", allowed=", ".join(keys["mesh"]))
            aperture, wire = _sure(part.aperture), _sure(part.wire)
            if wire > aperture * THICKEST_WIRE:
                allowed = f"at most {mm(aperture * THICKEST_WIRE)} at an aperture of {mm(aperture)}"
                raise Problem((*path, "wire"), "no mesh can be woven of wires this thick", mm(wire), allowed)
            width = part.diameter or _sure(port)
            return m.Pattern("mesh", width, width, 1, aperture, wire, part.thickness or 2 * wire)
        self.only(path, part, "pattern", part.pattern, keys)
        through = part.thickness or thickness
        if through is None:
            raise Problem(path, "the key 'thickness' is missing", allowed="the thickness of the plate, as '2 mm'")
        count = part.count or 1
        if part.pattern == "hole":
            size = _sure(part.diameter)
            return m.Pattern("hole", size, size, count, 0.0, 0.0, through)
        return m.Pattern("slot", _sure(part.width), _sure(part.length), count, 0.0, 0.0, through)


def layers_of(told: list[tuple[float, str]]) -> tuple[m.Layer, ...]:
    return tuple(m.Layer(material_of(material), thickness) for thickness, material in told)


def folded(text: str) -> str:
    return " ".join(text.lower().replace("-", " ").replace("_", " ").split())


def material_of(text: str) -> str:
    """The material's name as it stands in the data; it may be written in any case, with '_' or '-' for a blank."""
    return _materials_by_folded().get(folded(text), text)


@cache
def _materials_by_folded() -> dict[str, str]:
    return {folded(name): name for name in load_materials()}


def _sure(value: float | None) -> float:
    return _missing() if value is None else value


def _missing() -> NoReturn:
    raise AssertionError("a key that was checked to be there is missing")
