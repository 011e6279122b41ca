"""The dry run: an empty build's loggers against its design, in one call."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.as_built import Builds, margins_in
from nestwright.climate.dry_run_decay import Decay, decay_rate, decay_span
from nestwright.climate.dry_run_fit import Fits, fit_all
from nestwright.climate.dry_run_log import Record
from nestwright.climate.dry_run_noise import even, first_noise, nuisances
from nestwright.climate.dry_run_problem import Problem, room_over, set_problem
from nestwright.climate.dry_run_results import DryRun, MarginShift, Trace
from nestwright.climate.dry_run_values import dry_run_values
from nestwright.climate.dry_run_verdict import (
    aspects_of,
    causes_of,
    draw,
    explanations_of,
    parts_told,
    sums_of,
    verdict_of,
)
from nestwright.climate.proof import NotSettled
from nestwright.climate.room_air import Room
from nestwright.habitat.model import Habitat

Array = NDArray[np.float64]

__all__ = ["dry_run"]

DRAWS, PROOFS = 4000, 60
FITS = 0.95
"""Share of the work that the fits are; the rest are the proofs."""
POOR = 5.0
"""An error of so many times the first guess means that the model does not follow the readings."""


def dry_run(
    habitat: Habitat,
    record: Record,
    room: Room | None = None,
    *,
    start: str = "auto",
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> DryRun:
    """Fit the openings, leaks, block, walls and heaters of an empty build to its loggers.

    Parameters
    ----------
    habitat : the design; its garden and ants are left out of the run and kept for the proof.
    record : the loggers' readings, see `read_logs`.
    room : the room's air, unless the record has columns of it.
    start : "filled" (block filled, chambers closed at the first reading), "settled" (long before), or "auto".
    seed : of the draws that make intervals.
    progress : told the share that is done, rising from 0 towards 1.

    Returns
    -------
    DryRun

    Raises
    ------
    InputError
        For readings that do not fit the design or the room. NotSettled when the design itself cannot be run.

    Notes
    -----
    docs/how-it-computes/dry-run.md tells the method and what it was checked by.
    """
    air = room_over(record, room)
    problem = set_problem(habitat, record, air, start=start)
    tell = progress or (lambda share: None)
    tell(0.0)
    fits = fit_all(problem, progress=lambda share: tell(FITS * share))
    draws = draw(problem, fits, DRAWS, np.random.default_rng(seed))
    verdict, leaning, chance, sure = verdict_of(draws)
    causes, cause = causes_of(draws)
    builds = Builds(tuple(p.name for p in draws.parts), draws.factor[:PROOFS])
    limits, notes = _margins(habitat, problem, builds, lambda share: tell(FITS + (1 - FITS) * share))
    best = fits.explained[0]
    return DryRun(
        habitat=habitat.name,
        revision=habitat.revision,
        start=record.start.isoformat(),
        hours=float(record.time[-1] - record.time[0]) / 3600,
        begun=problem.start,
        room=air.name,
        readings=sum(len(c.rows) for c in problem.channels),
        releases=tuple((r.zone, r.time, float(m)) for r, m in zip(problem.releases, best.moles, strict=True)),
        decays=_decays(record, problem),
        verdict=verdict,
        leaning=leaning,
        chance=chance,
        sure=sure,
        aspects=aspects_of(draws),
        causes=causes,
        cause=cause,
        parts=parts_told(draws, fits),
        sums=sums_of(draws, fits),
        explanations=explanations_of(fits),
        limits=limits,
        builds=builds,
        traces=_traces(problem, fits),
        judgements=tuple(name for name, value in dry_run_values().items() if value.mark == "judgement"),
        notes=(*record.notes, *_remarks(problem, fits), *notes),
    )


def _decays(record: Record, problem: Problem) -> tuple[Decay, ...]:
    """The decay after each release, in the chamber that it went into, read by itself."""
    found = []
    for k, release in enumerate(problem.releases):
        column = record.channels[(release.zone, "co2")]
        until = problem.releases[k + 1].time if k + 1 < len(problem.releases) else np.inf
        chosen = decay_span(record.time, column, problem.room.co2, release.peak, until)
        error = dry_run_values()["bias_co2"].value
        made = decay_rate(
            record.time[chosen], column[chosen], problem.room.co2, background_error=error, zone=release.zone
        )
        if made is not None:
            found.append(made)
    return tuple(found)


def _margins(
    habitat: Habitat, problem: Problem, builds: Builds, progress: Callable[[float], None]
) -> tuple[tuple[MarginShift, ...], tuple[str, ...]]:
    """The limits of the whole design, garden and all, at the mean of the run's room, before and after."""
    room = problem.room
    span = (room.time >= problem.time[0]) & (room.time <= problem.time[-1])
    t, e = (float(v[span].mean() if span.any() else v.mean()) for v in (room.temperature, room.vapour_pressure))
    try:
        found, _ = margins_in(habitat, room, t, e, builds, progress)
    except NotSettled:
        return (), ("the design, or the build, finds no steady air in this room: its limits are not proved",)
    note = () if habitat.gardens else ("the design has no garden: its limits are those of the empty habitat",)
    return tuple(one.shift() for one in found), note


def _traces(problem: Problem, fits: Fits) -> tuple[Trace, ...]:
    """Channels with the readings of the design and of the likeliest fit, both through the sensors' errors as fitted."""
    values, best = dry_run_values(), fits.explained[0]
    offset = values["bias_co2"].value / values["gain_co2"].value
    designed = problem.read(problem.run({}, best.moles))
    made, at = [], 0
    for k, c in enumerate(problem.channels):
        shapes = nuisances(c.quantity, designed[k])
        lasting = even(c.quantity, designed[k]) + best.settled[at : at + len(shapes)] @ shapes
        at += len(shapes)
        both = [np.exp(z) - offset if c.quantity == "co2" else z for z in (lasting, best.lasting[k])]
        made.append(Trace(c.zone, c.quantity, problem.time[c.rows], c.values, *both))
    return tuple(made)


def _remarks(problem: Problem, fits: Fits) -> tuple[str, ...]:
    notes = []
    for c, noise in zip(problem.channels, fits.noise, strict=True):
        if noise.sd > POOR * first_noise(c.quantity).sd / 3:
            word = {"relative_humidity": "humidity", "co2": "CO2"}.get(c.quantity, c.quantity)
            notes.append(
                f"the model does not follow the {word} of {c.zone}: draughts, sun, a sensor at fault or a wrong start; "
                "its intervals are widened by what is left"
            )
    if not problem.releases:
        notes.append("no release of tracer shows in the readings: openings are told by humidity alone")
    if not any(c.quantity == "relative_humidity" for c in problem.channels):
        notes.append("no humidity was read: the block is not told")
    return tuple(notes)
