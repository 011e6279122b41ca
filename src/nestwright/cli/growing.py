"""A habitat while its garden grows as forecast: from the JSON of `nestwright forecast` to the terminal."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from nestwright.cli.output import CAUTIONS, console, figure, heading, plain, significant, table
from nestwright.errors import InputError

if TYPE_CHECKING:
    from datetime import date

    from nestwright.climate.growing import GrowingCase, GrowingProof, Growth

__all__ = ["print_growing", "prove_forecast", "read_courses"]

COURSES = {"middle": "middle", "high": "high (1 in 10 grows faster)"}
ALLOWED = "the JSON of `nestwright forecast COLONY --json`"


def prove_forecast(habitat: Any, air: Any, path: Path) -> GrowingProof:
    """Prove a habitat at the sizes of the forecast in a file. Raises InputError for a file that is none."""
    from dataclasses import replace

    from nestwright.climate.growing import prove_growing

    species, start, courses = read_courses(path)
    made = prove_growing(habitat, air, courses, start=start)
    if species == habitat.species:
        return made
    return replace(made, notes=(*made.notes, f"the forecast is of {species}, the habitat for {habitat.species}"))


def read_courses(path: Path) -> tuple[str, date, dict[str, Growth]]:
    """Species, first day and courses of growth (middle and high) of a forecast's JSON."""
    from datetime import date

    from nestwright.climate.growing import Growth

    try:
        document = json.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        raise InputError("there is no such file", file=str(path), field="--forecast") from None
    except (OSError, ValueError) as error:
        raise InputError("is no forecast", file=str(path), found=str(error)[:80], allowed=ALLOWED) from None
    try:
        garden, workers = document["bands"]["garden"], document["bands"]["workers"]
        start = date.fromisoformat(document["fit"]["start"])
        species = str(document["fit"]["species"])
        day = np.asarray(garden["day"], dtype=float)
        courses = {
            name: Growth(day, np.asarray(garden[name], dtype=float) * 1e-6, np.asarray(workers[name], dtype=float))
            for name in COURSES
        }
    except (KeyError, TypeError, ValueError) as error:
        found = f"no {error} in it" if isinstance(error, KeyError) else f"a value that is none: {str(error)[:60]}"
        raise InputError("is no forecast", file=str(path), found=found, allowed=ALLOWED) from None
    for name, one in courses.items():
        fits = one.volume.shape == one.workers.shape == day.shape == (len(day),)
        if not fits or not len(day) or not (np.isfinite(one.volume) & np.isfinite(one.workers)).all():
            raise InputError("is no forecast", file=str(path), field=f"bands.garden.{name}", allowed=ALLOWED)
        if (one.volume < 0).any() or (one.workers < 0).any() or (np.diff(day) <= 0).any():
            raise InputError("is no forecast", file=str(path), field=f"bands.garden.{name}", allowed=ALLOWED)
    return species, start, courses


def print_growing(proof: GrowingProof) -> None:
    """Print on which day which limit breaks first, and each day looked at."""
    out = console()
    out.print(f"[bold]{plain(proof.habitat)}[/bold], revision {plain(proof.revision)}, for {plain(proof.species)}")
    out.print(f"Room {plain(proof.room)}; the garden in {plain(proof.chamber)} grows as forecast")
    out.print(f"Space over the garden: {significant(proof.space * 1e6, 3)} mL")
    out.print()
    for case in proof.cases:
        out.print(f"[bold]{COURSES.get(case.name, case.name)}:[/bold] {plain(_sentence(case, proof))}")
    for case in proof.cases:
        if case.points:
            out.print(heading(f"Growth {COURSES.get(case.name, case.name)}"))
            out.print(table(HEAD, _rows(case, proof), left=(0, 4)))
    out.print(
        "[dim]Worst margin: in tolerances of its limit; below 0 it fails. Not sure: uncertain inputs turn it.[/dim]"
    )
    judged = sorted({n for c in proof.cases if c.broken for n in c.broken.rests_on})
    if judged:
        out.print(heading("Judgement values that the days rest on"))
        for name in judged:
            out.print(name)
    for note in proof.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])


HEAD = ["day", "garden mL", "workers", "worst margin", "limit", "CO2 %", "water g/day", "refill, days"]


def _rows(case: GrowingCase, proof: GrowingProof) -> list[list[str]]:
    rows = []
    for p in case.points:
        shown = p.to_dict(proof.start)
        unsure = "" if p.sure else ", not sure"
        rows.append(
            [
                shown["date"] or figure(p.day, 0),
                significant(shown["garden_mL"], 2),
                significant(p.workers, 2),
                figure(p.margin, 1, sign=True),
                p.first + unsure,
                figure(shown["co2_pct"], 2),
                _loss(shown["water_g_per_day"]),
                "never" if shown["refill_days"] is None else significant(shown["refill_days"], 2),
            ]
        )
    return rows


def _loss(rate: float) -> str:
    """Water that the bodies lose; a garden that gives off more than the openings take lets them gain."""
    return f"gains {significant(-rate)}" if rate < 0 else significant(rate)


def _sentence(case: GrowingCase, proof: GrowingProof) -> str:
    """What becomes of the habitat in one course of growth."""
    told = case.to_dict(proof.start)
    parts = []
    if case.fails_at_first:
        parts.append(f"{', '.join(case.fails_at_first)} fails already on the first day.")
    if case.broken is not None:
        rest = f" at {significant(case.broken.volume * 1e6, 2)} mL of garden"
        parts.append(f"{case.broken.limit} breaks first, on {told['breaks']['date'] or case.broken.day}{rest}.")
    elif not case.fails_at_first and case.points:
        until = told["days"][-1]["date"] or figure(case.points[-1].day, 0)
        parts.append(f"holds through {until}.")
    elif case.points:
        parts.append("No other limit breaks by growth.")
    if case.outgrown is not None:
        day = told["outgrown"]["date"] or case.outgrown
        parts.append(f"From {day} on the garden no longer fits: nothing is proved from then.")
    return " ".join(parts)
