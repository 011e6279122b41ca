"""The long work behind the page of a habitat's parts: its list, rules, costs, the view in the round, its files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from nestwright import __version__
from nestwright.document import load_document
from nestwright.errors import FileError, InputError
from nestwright.web.climate_year import Results
from nestwright.web.habitat_files import HabitatFile
from nestwright.web.jobs import Job, Jobs
from nestwright.web.named import step
from nestwright.workshop.folder import Workshop

if TYPE_CHECKING:
    from nestwright.habitat.findings import Finding
    from nestwright.habitat.model import Habitat
    from nestwright.parts.costs import Costs
    from nestwright.parts.machines import Machines
    from nestwright.parts.making import Made
    from nestwright.parts.model import Assembly, Measured, Part
    from nestwright.parts.process import Broken
    from nestwright.parts.process_rules import Processes

__all__ = ["MADE", "Asked", "Making", "asked", "begin", "drawing", "has_drawing", "price_list"]

Report = Callable[[float], None]
MADE = Results(6)
"""What was made last, by what it is made from. Solids are large: few are kept."""
_DRAWN = Results(200)


@dataclass(frozen=True)
class Making:
    """A habitat in parts, and what there is to say of them.

    `refused` what makes the parts unusable: then there are no files to be written. `measured` by name of part, also of
    what is bought by its name. `costs` None where the workshop has no price list, or one that is at fault: then
    `no_costs` says what is wrong. `view` is the assembly as glTF binary.
    """

    key: str
    made: Made = field(repr=False)
    measured: dict[str, Measured]
    rules: Processes
    refused: FileError | None
    broken: tuple[Broken, ...]
    ants: tuple[Finding, ...]
    cautions: tuple[str, ...]
    costs: Costs | None
    no_costs: InputError | FileError | None
    view: bytes

    @property
    def habitat(self) -> Habitat:
        return self.made.habitat

    @property
    def assembly(self) -> Assembly:
        return self.made.assembly


@dataclass(frozen=True)
class Asked:
    """A habitat file of the workshop, and the lists beside it that its parts are judged by; `key` names their contents.

    `prices` and `machines` are None where the workshop has none.
    """

    file: HabitatFile
    prices: Path | None
    machines: Path | None
    key: str

    @property
    def address(self) -> str:
        return f"/habitats/{step(self.file.stem)}/parts"

    @property
    def task(self) -> str:
        """Key of the job."""
        return f"parts/{self.key}"


def price_list(workshop: Workshop) -> Path | None:
    """The workshop's own price list."""
    return _first(workshop, "prices.toml", "prices.csv")


def _first(workshop: Workshop, *names: str) -> Path | None:
    return next((p for name in names if (p := workshop.folder / "parts" / name).is_file()), None)


def asked(workshop: Workshop, file: HabitatFile) -> Asked:
    """What the parts of a habitat are made and judged by, as it stands in the workshop now."""
    prices, machines = price_list(workshop), _first(workshop, "machines.toml")
    told = [str(workshop.folder.resolve()), __version__, file.stem, file.text]
    told += ["" if one is None else hashlib.sha256(one.read_bytes()).hexdigest() for one in (prices, machines)]
    return Asked(file, prices, machines, hashlib.sha256(json.dumps(told).encode()).hexdigest()[:40])


def begin(jobs: Jobs, told: Asked, *, again: bool = False) -> Job:
    """The job that makes the parts; begun when nobody has made them from these files, or to begin `again` after it
    failed or was stopped."""
    last = jobs.last(told.task)
    if last is not None and not again and (last.state != "done" or MADE.get(told.key) is not None):
        return last
    title = f"Parts of {told.file.stem}"
    return jobs.start(told.task, title, told.address, lambda job: _work(told, job.report), fresh=True)


def _work(told: Asked, report: Report) -> str:
    """Makes the parts and keeps them; gives back their key."""
    from nestwright.data import load_species
    from nestwright.habitat.file import with_values
    from nestwright.parts.ants import ant_findings
    from nestwright.parts.cautions import making_cautions
    from nestwright.parts.folder import view_of
    from nestwright.parts.machines import Machines, read_machines
    from nestwright.parts.making import make_parts
    from nestwright.parts.measure import measured_from_sizes
    from nestwright.parts.process import broken_rules

    habitat = with_values(load_document(told.file.text, str(told.file.path)), {})
    machines = read_machines(told.machines) if told.machines else Machines()
    made = make_parts(habitat, report=lambda share: report(0.9 * share))
    refused = None
    try:
        made.refuse()
    except FileError as error:
        refused = error
    # what is bought by its name alone has no solid; costs are by closed forms, as those of `nestwright cost`
    sizes = {part.name: measured_from_sizes(part) for part in made.assembly.parts}
    costs, no_costs = _costs(told, made.assembly, sizes, machines)
    report(0.95)
    rules = machines.processes
    found = Making(
        told.key, made, {**sizes, **made.measured}, rules, refused, broken_rules(made.assembly, rules, made.measured),
        ant_findings(habitat, made.assembly, load_species(habitat.species), rules), making_cautions(made.assembly),
        costs, no_costs, view_of(made),
    )  # fmt: skip
    MADE.put(told.key, found)
    return told.key


def _costs(
    told: Asked, assembly: Assembly, measured: dict[str, Measured], machines: Machines
) -> tuple[Costs | None, InputError | FileError | None]:
    from nestwright.parts.costs import cost_of_habitat
    from nestwright.parts.prices import read_prices
    from nestwright.parts.rates import shipped_rates

    if told.prices is None:
        return None, None
    try:
        return cost_of_habitat(assembly, measured, machines.rates or shipped_rates(), read_prices(told.prices)), None
    except (InputError, FileError) as error:
        return None, error


def drawing(made: Making, number: int, form: str) -> bytes:
    """The dimensioned drawing of a part, by its place in the list: SVG, or PDF at its true scale.

    Raises IndexError for a place that is none, InputError for a part that has nothing to be drawn by.
    """
    from nestwright.parts.drawing import drawing_pdf, drawing_svg

    part = made.assembly.parts[number]
    kept = _DRAWN.get(f"{made.key}/{number}.{form}")
    if kept is None:
        more = {"assembly": made.assembly, "processes": made.rules, "solid": made.made.solids.get(part.name)}
        size = made.measured.get(part.name)
        kept = drawing_pdf(part, size, **more) if form == "pdf" else drawing_svg(part, size, **more).encode()
        _DRAWN.put(f"{made.key}/{number}.{form}", kept)
    return bytes(kept)


def has_drawing(part: Part) -> bool:
    """Whether a part is drawn: what is bought by its name alone has no form here."""
    return part.kind != "fitting"
