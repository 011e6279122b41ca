"""A workshop's machines: which way each makes, how large a piece it takes, how many hours a day it runs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from nestwright.data import Value
from nestwright.document import read_document
from nestwright.errors import FileError, InputError
from nestwright.parts.nesting import Bed
from nestwright.parts.rates import own_rates, shipped_rates
from nestwright.positions import line_of, path_text

__all__ = ["MACHINE_WAYS", "Machine", "Machines", "read_machines"]

MachineWay = Literal["printed", "resin", "laser", "milled", "turned", "cast", "hand"]
MACHINE_WAYS: tuple[str, ...] = get_args(MachineWay)
"""What a machine of the list does; cast: forms of a kind that stand filled at once; hand: a bench with one person."""


@dataclass(frozen=True)
class Machine:
    """`bed` width and depth m with `height` m (0: no limit), None where any size goes; `hours` a day."""

    name: str
    way: str
    hours: float
    bed: Bed | None = None
    height: float = 0.0


@dataclass(frozen=True)
class Machines:
    machines: tuple[Machine, ...] = ()
    rates: dict[str, Value] | None = None
    file: str = ""

    def of(self, way: str) -> tuple[Machine, ...]:
        return tuple(one for one in self.machines if one.way == way)


def read_machines(path: str | Path) -> Machines:
    """Read a list of machines with the workshop's own rates (table [rates]).

    Raises
    ------
    FileError
        Every fault with its line: unknown ways, beds that are no sizes, hours outside 0 to 24, names told twice.
    """
    from pydantic import ValidationError

    from nestwright.parts.machines_form import MachineForm, MachinesForm
    from nestwright.refusals import Steps, keys_of, translate

    document = read_document(path)

    def place(steps: Steps) -> dict[str, Any]:
        return {"file": document.path, "line": line_of(document.lines, steps), "field": path_text(steps)}

    faults: list[InputError] = []
    try:
        rates = own_rates(document)
    except FileError as error:
        rates, faults = shipped_rates(), list(error.errors)
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
        bed = Bed(one.name, one.bed[0], one.bed[1]) if one.bed else None
        made.append(Machine(one.name, one.way, one.hours, bed, one.bed[2] if one.bed and len(one.bed) > 2 else 0.0))
    if faults:
        raise FileError(sorted(faults, key=lambda one: one.line))
    return Machines(tuple(made), rates, document.path)
