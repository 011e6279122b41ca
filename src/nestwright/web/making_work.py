"""The long work behind the page of a habitat's parts: its list, rules, costs, the view in the round, its files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
    from nestwright.parts.model import Assembly, Measured, Part
    from nestwright.parts.process import Broken

__all__ = ["MADE", "Asked", "Making", "asked", "begin", "drawing", "has_drawing", "price_list", "stays"]

Report = Callable[[float], None]
MADE = Results(6)
"""What was made last, by what it is made from. Solids are large: few are kept."""
_DRAWN = Results(200)


@dataclass(frozen=True)
class Making:
    """A habitat in parts, and what there is to say of them.

    `costs` None where the workshop has no price list, or one that is at fault: then `no_costs` says what is wrong.
    `view` is the assembly as glTF binary; `solids` by name of part, for its drawing.
    """

    key: str
    habitat: Habitat
    assembly: Assembly
    measured: dict[str, Measured]
    broken: tuple[Broken, ...]
    ants: tuple[Finding, ...]
    cautions: tuple[str, ...]
    costs: Costs | None
    no_costs: InputError | FileError | None
    view: bytes
    solids: dict[str, Any] = field(repr=False)


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
    told = [str(workshop.folder.resolve()), version("nestwright"), file.stem, file.text]
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
    from nestwright.parts.listing import parts_of
    from nestwright.parts.measure import measured_from_sizes
    from nestwright.parts.process import broken_rules

    habitat = with_values(load_document(told.file.text, str(told.file.path)), {})
    assembly = parts_of(habitat)
    report(0.05)
    solids, measured, view = _solids(assembly, lambda share: report(0.05 + 0.85 * share))
    # as `nestwright cost` does: by closed forms
    sizes = {part.name: measured_from_sizes(part) for part in assembly.parts if part.way != "bought"}
    costs, no_costs = _costs(told, assembly, sizes)
    report(0.95)
    made = Making(
        told.key, habitat, assembly, measured, broken_rules(assembly, None, measured),
        ant_findings(habitat, assembly, load_species(habitat.species)), making_cautions(assembly), costs, no_costs,
        view, solids,
    )  # fmt: skip
    MADE.put(told.key, made)
    return told.key


def _solids(assembly: Assembly, report: Report) -> tuple[dict[str, Any], dict[str, Measured], bytes]:
    """Solids and what is measured on them, by name of part, and all that stand in the habitat in the round."""
    from nestwright.parts.measure import measured, measured_from_sizes
    from nestwright.parts.solids import placed, solid_of
    from nestwright.parts.triangles import triangles_of
    from nestwright.web.making_view import together

    solids: dict[str, Any] = {}
    sizes: dict[str, Measured] = {}
    forms = {}
    for number, part in enumerate(assembly.parts):
        report(number / len(assembly.parts))
        if not has_drawing(part):
            sizes[part.name] = measured_from_sizes(part)
            continue
        solid = solids[part.name] = solid_of(part)
        sizes[part.name] = measured(part, solid)
        if stays(part):
            forms[part.name] = triangles_of(placed(part, solid), tolerance=0.1)
    return solids, sizes, together(assembly, forms)


def _costs(
    told: Asked, assembly: Assembly, measured: dict[str, Measured]
) -> tuple[Costs | None, InputError | FileError | None]:
    from nestwright.parts.costs import cost_of_habitat
    from nestwright.parts.machines import read_machines
    from nestwright.parts.prices import read_prices
    from nestwright.parts.rates import shipped_rates

    if told.prices is None:
        return None, None
    try:
        own = read_machines(told.machines).rates if told.machines else None
        return cost_of_habitat(assembly, measured, own or shipped_rates(), read_prices(told.prices)), None
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
        more = {"assembly": made.assembly, "solid": made.solids.get(part.name)}
        size = made.measured.get(part.name)
        kept = drawing_pdf(part, size, **more) if form == "pdf" else drawing_svg(part, size, **more).encode()
        _DRAWN.put(f"{made.key}/{number}.{form}", kept)
    return bytes(kept)


def has_drawing(part: Part) -> bool:
    """Whether a part is drawn: what is bought by its name alone has no form here."""
    return part.kind != "fitting"


def stays(part: Part) -> bool:
    """Whether a part is in the habitat when it stands: moulds and test pieces stay behind."""
    return part.kind not in ("mould", "coupon")
