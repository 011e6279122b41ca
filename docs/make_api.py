"""Write docs/api.md from the signatures and docstrings of what an engineer calls first (`make docs`)."""

from __future__ import annotations

import dataclasses
import importlib
import inspect
import re
from pathlib import Path
from typing import Any

PAGE = Path(__file__).parent / "api.md"
TOP = """# Python

Made by `make docs` from the program's own docstrings; do not edit. What a command does is a function first: these are
the ones to begin with, by task. SI inside, frozen dataclasses out, each result with `to_dict()` (the keys of
[the JSON](guide/json.md)); a user's fault comes as `nestwright.errors.InputError`, several of one file as `FileError`.
What is not on this page may change without a word.

"""
TASKS: dict[str, tuple[str, ...]] = {
    "A habitat, and whether it holds": (
        "nestwright.habitat.file.read_habitat", "nestwright.habitat.check.check_habitat",
        "nestwright.climate.rooms.read_room", "nestwright.climate.proof.prove", "nestwright.climate.proof.prove_year",
        "nestwright.climate.room_window.window", "nestwright.climate.sizing.parse_free",
        "nestwright.climate.sizing.size", "nestwright.climate.results.Proof", "nestwright.climate.results.LimitResult",
    ),
    "As it was built": (
        "nestwright.climate.dry_run_log.read_logs", "nestwright.climate.dry_run.dry_run",
        "nestwright.climate.as_built.build_margins", "nestwright.climate.beside.beside",
    ),
    "A colony": (
        "nestwright.colony.file.read_colony", "nestwright.colony.fit.fit", "nestwright.colony.forecast.forecast",
        "nestwright.colony.plan.plan", "nestwright.colony.diagnosis.diagnose", "nestwright.colony.rescue.rescue",
    ),
    "What is made": (
        "nestwright.parts.making.make_parts", "nestwright.parts.folder.write_parts",
        "nestwright.parts.costs.cost_of_habitat", "nestwright.parts.batch.plan_batch",
    ),
    "A parcel": (
        "nestwright.parcel.file.read_parcel", "nestwright.parcel.carry.carry", "nestwright.parcel.sending.risk_now",
        "nestwright.parcel.delay.learn_delays", "nestwright.parcel.receiving.receive",
    ),
    "Sensors and photographs": (
        "nestwright.sensing.loggers.recognise", "nestwright.sensing.loggers.read_in_pieces",
        "nestwright.sensing.photo.picture.read_picture",
    ),
    "A workshop and its record": (
        "nestwright.workshop.folder.create_workshop", "nestwright.workshop.folder.find_workshop",
        "nestwright.workshop.database.reading", "nestwright.workshop.database.writing",
        "nestwright.workshop.visits.add_visit", "nestwright.workshop.readings.store_readings",
    ),
    "Papers and pictures": (
        "nestwright.press.setting.set_paper", "nestwright.papers.care.care_sheet", "nestwright.papers.care.care_pdf",
        "nestwright.charts.save.picture_bytes", "nestwright.trial.report.report",
    ),
    "The numeric heart of the climate": (
        "nestwright.habitat.assemble.assemble", "nestwright.network.steady.settle", "nestwright.network.integrate.run",
    ),
}  # fmt: skip
"""Dotted names by task, in the order in which they are met."""


def told(name: str) -> str:
    """One entry: signature and docstring."""
    module, _, own = name.rpartition(".")
    thing: Any = getattr(importlib.import_module(module), own)
    signature = re.sub(r"'([^']*)'", r"\1", str(inspect.signature(thing)))
    signature = re.sub(r"<function .*? at 0x[0-9a-f]+>", "...", signature)
    words = inspect.cleandoc(thing.__doc__ or "")
    assert words, f"{name} has no docstring"
    # sections of a docstring are bold lines here, what they list are points
    words = re.sub(r"^(Parameters|Returns|Raises|Notes|Examples)\n-+$", r"**\1**\n", words, flags=re.MULTILINE)
    words = re.sub(r"^(\S.*)\n    (?=\S)", r"- `\1`: ", words, flags=re.MULTILINE)
    words = re.sub(
        r"^(?:>>> .*\n?)(?:.+\n?)*", lambda found: f"```python\n{found.group().rstrip()}\n```\n", words, flags=re.M
    )
    kind = "class" if dataclasses.is_dataclass(thing) else "def"
    return f"### {own}\n\n```python\nfrom {module} import {own}\n\n{kind} {own}{signature}\n```\n\n{words}\n"


def page() -> str:
    """The whole page."""
    parts = [TOP]
    for task, names in TASKS.items():
        parts += [f"## {task}\n", *(told(name) for name in names)]
    return "\n".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page())
    print(f"wrote {PAGE.relative_to(PAGE.parents[1])}")
