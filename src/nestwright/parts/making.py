"""A habitat made: its parts with their solids and measures, and what was checked on them."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from nestwright.errors import FileError, InputError, nearest_name
from nestwright.extras import missing
from nestwright.habitat.model import Habitat
from nestwright.parts.listing import parts_of
from nestwright.parts.measure import measured
from nestwright.parts.model import Assembly, Measured, Part

if TYPE_CHECKING:
    from nestwright.parts.agreement import Compared
    from nestwright.parts.together import Overlap, Taken

__all__ = ["Made", "chosen", "make_parts"]

Report = Callable[[float], None]


@dataclass(frozen=True)
class Made:
    """`solids` (build123d, mm) and `measured` by name of part; fittings have neither. What was not checked is empty."""

    habitat: Habitat
    assembly: Assembly
    solids: Mapping[str, Any]
    measured: Mapping[str, Measured]
    compared: tuple[Compared, ...] = ()
    overlaps: tuple[Overlap, ...] = ()
    taken: Taken | None = None

    @property
    def mass(self) -> float:
        """Of everything that stands in the habitat and is not bought as a fitting, kg."""
        return sum(self.measured[p.name].mass * p.quantity for p in self._standing())

    @property
    def volume(self) -> float:
        """Material in it, m3."""
        return sum(self.measured[p.name].volume * p.quantity for p in self._standing())

    def _standing(self) -> list[Part]:
        return [p for p in self.assembly.parts if p.name in self.measured and p.kind not in ("mould", "coupon")]

    def refuse(self) -> None:
        """Raise what makes the parts unusable: sizes off the proof, parts in one place, parts that never come out.

        Raises
        ------
        FileError
            One error for each, with both figures.
        """
        path, faults = self.habitat.path, list[InputError]()
        for row in self.compared:
            if row.severity == "error":
                told = row.to_dict()
                found, allowed = (
                    f"{told['made']:g} {told['unit']} made",
                    f"{told['proved']:g} {told['unit']}, as proved",
                )
                message = f"{row.what}: the made parts are not what was proved"
                faults.append(
                    InputError(message, file=path, line=row.line, field=row.field, found=found, allowed=allowed)
                )
        lines = {p.name: (p.line, p.serves) for p in self.assembly.parts}
        for one in self.overlaps:
            line, field = lines[one.other]
            message = f"{one.one} and {one.other} are in one place"
            found = f"{one.volume * 1e9:.3g} mm3 of both"
            faults.append(InputError(message, file=path, line=line, field=field, found=found, allowed="at most 1 mm3"))
        for group in self.taken.stuck if self.taken else ():
            line, field = lines[group[0]]
            message = f"{group[0]} cannot be taken out straight up or sideways"
            faults.append(InputError(message, file=path, line=line, field=field))
        if faults:
            raise FileError(sorted(faults, key=lambda f: f.line))


def make_parts(habitat: Habitat, only: str = "", *, check: bool = True, report: Report = lambda _: None) -> Made:
    """Make the solids of a habitat's parts, measure them, and check them together.

    Parameters
    ----------
    only : str
        A kind of parts, a name, or both as "KIND/NAME"; then nothing is checked that needs all parts.
    report : callable
        Told how far the work is, 0 to 1.

    Raises
    ------
    InputError
        For geometry that cannot be made, for an unknown name, and where the solid modeller is not installed.
    """
    assembly = chosen(parts_of(habitat), only)
    _modeller()
    from nestwright.parts.solids import solid_of

    solids: dict[str, Any] = {}
    sizes: dict[str, Measured] = {}
    todo = [p for p in assembly.parts if p.kind != "fitting"]
    for k, part in enumerate(todo):
        report(0.4 * k / len(todo))
        solids[part.name] = _placed_fault(habitat, part, solid_of)
        sizes[part.name] = measured(part, solids[part.name])
    if only or not check:
        return Made(habitat, assembly, solids, sizes)
    from nestwright.parts.agreement import compare_with_proof
    from nestwright.parts.together import overlaps, taken_apart

    report(0.4)
    compared = compare_with_proof(habitat, assembly, solids)
    report(0.7)
    shared = overlaps(assembly, solids, lambda share: report(0.7 + 0.1 * share))
    report(0.8)
    taken = taken_apart(assembly, solids)
    report(1.0)
    return Made(habitat, assembly, solids, sizes, compared, shared, taken)


def _placed_fault(habitat: Habitat, part: Part, make: Callable[[Part], Any]) -> Any:
    """The solid; a fault of it gets the place in the habitat file."""
    try:
        return make(part)
    except InputError as fault:
        raise InputError(
            f"{part.name}: {fault.message}", file=habitat.path, line=part.line, field=part.serves, found=fault.found,
            allowed=fault.allowed,
        ) from None  # fmt: skip


def _modeller() -> None:
    import importlib.util

    if importlib.util.find_spec("build123d") is None:
        raise missing("build123d") or AssertionError("no extra brings the solid modeller")


def chosen(assembly: Assembly, only: str) -> Assembly:
    """The assembly with the parts of a kind, of a name, or of "KIND/NAME" alone. Raises InputError for none."""
    if not only:
        return assembly
    kind, _, name = only.partition("/")
    kinds = {p.kind for p in assembly.parts}
    if name:
        parts = tuple(p for p in assembly.parts if p.kind == kind and p.name == name)
    else:
        parts = tuple(p for p in assembly.parts if p.kind == only or p.name == only)
    if not parts:
        known = sorted({*kinds, *(p.name for p in assembly.parts)})
        near = nearest_name(name or only, known)
        allowed = f"a kind ({', '.join(sorted(kinds))}), a name, or both as KIND/NAME"
        raise InputError(
            "no part is of this kind or name", field="--only", found=repr(only), allowed=allowed, nearest=near
        )
    names = {p.name for p in parts}
    joints = tuple(j for j in assembly.joints if j.outer in names and j.inner in names)
    return replace(assembly, parts=parts, joints=joints)


def size_text(size: Measured) -> str:
    """Box of a part in mm, for a table."""
    return " x ".join(f"{round(side * 1e3, 1):g}" if math.isfinite(side) else "?" for side in size.box)
