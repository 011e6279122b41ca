"""A workshop's own file of making: its machines, its rates, and its rules in place of the shipped ones (TOML)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from nestwright.data import Value
from nestwright.document import read_document
from nestwright.errors import FileError, InputError
from nestwright.kinds import check_kind
from nestwright.parts.machine import Machine
from nestwright.parts.nesting import Bed
from nestwright.parts.process_rules import Processes, own_rules, shipped_processes
from nestwright.parts.rates import own_rates, shipped_rates
from nestwright.parts.tolerances import Offset
from nestwright.positions import line_of, path_text

if TYPE_CHECKING:
    from nestwright.parts.machines_form import MachineForm

__all__ = ["MACHINE_WAYS", "Machines", "read_machines"]

MachineWay = Literal["printed", "resin", "laser", "milled", "turned", "cast", "hand"]
MACHINE_WAYS: tuple[str, ...] = get_args(MachineWay)
"""What a machine of the list does; cast: forms of a kind that stand filled at once; hand: a bench with one person."""

OFFSET = 0.002
"""No machine that works is further off, m: keeps slips of the pen out."""


@dataclass(frozen=True)
class Machines:
    """`rates` None: the shipped ones; `rules` of making, with own ones in their place."""

    machines: tuple[Machine, ...] = ()
    rates: dict[str, Value] | None = None
    file: str = ""
    rules: Mapping[str, Value] = field(default_factory=lambda: shipped_processes().rules)

    @property
    def processes(self) -> Processes:
        """Rules, and what the machines can do."""
        return Processes(self.rules, self.machines)

    def of(self, way: str) -> tuple[Machine, ...]:
        return tuple(one for one in self.machines if one.way == way)


def read_machines(path: str | Path) -> Machines:
    """Read a list of machines with the workshop's own rates and rules (tables [rates] and [rules]).

    Raises
    ------
    FileError
        Every fault with its line: unknown ways, beds that are no sizes, hours outside 0 to 24, names told twice,
        offsets that no machine has, rates and rules that there are not.
    """
    from pydantic import ValidationError

    from nestwright.parts.machines_form import MachineForm, MachinesForm
    from nestwright.refusals import Steps, keys_of, translate

    document = read_document(path)
    check_kind(document, "machine")

    def place(steps: Steps) -> dict[str, Any]:
        return {"file": document.path, "line": line_of(document.lines, steps), "field": path_text(steps)}

    faults: list[InputError] = []
    rates, rules = shipped_rates(), dict[str, Value]()
    try:
        rates = own_rates(document)
    except FileError as error:
        faults += error.errors
    try:
        rules = own_rules(document)
    except FileError as error:
        faults += error.errors
    try:
        form = MachinesForm.model_validate(document.tables)
    except ValidationError as error:
        known = {"machine": keys_of(MachineForm)}
        found = error.errors()
        faults += [
            translate(e, place, lambda s: known.get(str(s[0]) if s else "", keys_of(MachinesForm))) for e in found
        ]
        raise FileError(sorted(faults, key=lambda one: one.line)) from None
    made: list[Machine] = []
    for number, one in enumerate(form.machine):
        if any(m.name == one.name for m in made):
            faults.append(InputError("is told twice", found=repr(one.name), **place(("machine", number, "name"))))
        if one.way in ("printed", "resin") and (one.bed is None or len(one.bed) != 3):
            said = "a printer has a bed of width, depth and height"
            faults.append(InputError(said, allowed='["220 mm", "220 mm", "240 mm"]', **place(("machine", number))))
        if one.way == "laser" and one.bed is None:
            said = "a laser has a bed of width and depth"
            faults.append(InputError(said, allowed='["600 mm", "400 mm"]', **place(("machine", number))))
        for key, low in (("hole_offset", -OFFSET), ("spigot_offset", -OFFSET), ("offset_error", 0.0)):
            length = getattr(one, key)
            if length is not None and not low <= length <= OFFSET:
                told, allowed = f"{1e3 * length:g} mm", f"{1e3 * low:g} mm to {1e3 * OFFSET:g} mm"
                said = "is out of range"
                faults.append(InputError(said, found=told, allowed=allowed, **place(("machine", number, key))))
        bed = Bed(one.name, one.bed[0], one.bed[1]) if one.bed else None
        height = one.bed[2] if one.bed and len(one.bed) > 2 else 0.0
        made.append(Machine(one.name, one.way, one.hours, bed, height, _offset(one)))
    if faults:
        raise FileError(sorted(faults, key=lambda one: one.line))
    return Machines(tuple(made), rates, document.path, rules)


def _offset(one: MachineForm) -> Offset | None:
    """As measured; None where nothing was."""
    told = (one.hole_offset, one.spigot_offset, one.scale, one.offset_error)
    if all(value is None for value in told):
        return None
    hole, spigot, scale, error = told
    return Offset(hole or 0.0, spigot or 0.0, scale or 1.0, error or 0.0)
