"""One parcel, or many, carried along its way: the network run with its packs, judged by the species card."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.data import limit_tolerances, read_values
from nestwright.errors import InputError, nearest_name
from nestwright.parcel.harm import FIVE_TO_NINETY_FIVE, harm_of, margins, outside, relative_humidity
from nestwright.parcel.layout import Layout, lay_out, resting_values
from nestwright.parcel.model import UNCERTAIN, Parcel
from nestwright.parcel.outside import legs_of
from nestwright.parcel.results import ANTS, CAUSES, Course, LimitPassed, Loss, Outcomes, Passage
from nestwright.parcel.runs import COARSE, FINE, HALF, Way, run_parcels, times_of
from nestwright.pieces import Threads, cores, each

__all__ = ["carry", "carry_many", "course_of"]

Array = NDArray[np.float64]
MOST_DELAY = 480.0
NAMED = 0.01
"""Chance of loss from which its cause is named."""
PIECE = 100
"""Parcels that are run at once."""


MOVED = (
    "parcel.outside_film",
    "parcel.contact",
    "parcel.pore_exchange",
    "parcel.rust_share",
    "garden.respiration_co2",
    "garden.water_activity",
    "assembly.still_air_nusselt",
)
"""Values beside `UNCERTAIN` that the margins are told with."""


def carry(parcel: Parcel, *, delay_hours: float = 0.0, values: Mapping[str, float] | None = None,
          progress: Callable[[float], None] | None = None) -> Passage:  # fmt: skip
    """Carry one parcel along its way.

    Parameters
    ----------
    delay_hours : by how much it comes late, 0 to 480; it waits in the leg that the file says.
    values : uncertain values by name, see `model.UNCERTAIN`.
    progress : called with the share that is done.

    Raises InputError for a delay or a value that cannot be.
    """
    chosen = _chosen(values)
    if not 0 <= delay_hours <= MOST_DELAY:
        allowed = f"0 to {MOST_DELAY:g} hours"
        raise InputError("no such delay", field="delay", found=f"{delay_hours:g} h", allowed=allowed)
    going = progress or (lambda share: None)
    layout = lay_out(parcel)
    time, course, drip = _run(parcel, layout, chosen, delay_hours, FINE)
    going(0.2)
    _, finer, _ = _run(parcel, layout, chosen, delay_hours, HALF)
    step_error = float(
        np.abs(course[:, 2] - np.interp(time, times_of(parcel, delay_hours, HALF.step), finer[:, 2])).max()
    )
    going(0.4)
    pressure = layout.network.net.pressure
    shifts = _shifts(parcel, layout, chosen, delay_hours, going)
    limits = tuple(
        _limit(parcel, time, course, key, margin, {k: v[key] for k, v in shifts.items()}, pressure)
        for key, margin in margins(parcel.card, course, pressure).items()
    )
    passed = [limit for limit in limits if limit.first is not None]
    first = min(passed, key=lambda x: x.first or 0.0) if passed else min(limits, key=lambda x: x.margin)
    moved = {k: max((abs(one) for one in v[first.quantity, first.end]), default=0.0) for k, v in shifts.items()}
    rests = tuple(sorted(((k, m) for k, m in moved.items() if m >= 0.1), key=lambda one: -one[1]))
    power = course[:, 9]
    most = float(np.abs(power).max())
    weak = np.flatnonzero(np.abs(power) > 0.1 * most) if most > 0 else np.zeros(0, int)
    over = weak.size and weak[-1] + 1 < len(time)
    gone = np.flatnonzero(course[:, 7] < 0.5 * course[0, 7])
    return Passage(
        parcel.name,
        parcel.card.name,
        float(time[-1] / 3600),
        delay_hours,
        parcel.dispatch.isoformat(),
        _course(time, course, pressure),
        tuple((name, a, b) for name, a, b, _ in legs_of(parcel, delay_hours)),
        limits,
        first,
        _loss(parcel, time, course, drip, pressure),
        float(course[:, 8].max()) + drip,
        float(time[weak[-1] + 1] / 3600) if over else None,
        float(time[gone[0]] / 3600) if gone.size else None,
        rests,
        tuple(dict.fromkeys([*parcel.judgements, *(k for k, _ in rests)])),
        step_error,
    )


def course_of(parcel: Parcel, *, delay_hours: float = 0.0, values: Mapping[str, float] | None = None) -> Course:
    """The course of one parcel alone, as in `carry`; for a fit, which asks for it many times."""
    layout = lay_out(parcel)
    time, course, _ = _run(parcel, layout, _chosen(values), delay_hours, FINE)
    return _course(time, course, layout.network.net.pressure)


def _course(time: Array, course: Array, pressure: float) -> Course:
    room, box, cup, pack, _, co2, o2, box_o2, film, power = course.T
    return Course(time, room, box, cup, pack, relative_humidity(course, pressure), co2, o2, box_o2, film, power)


def carry_many(
    parcel: Parcel,
    values: Mapping[str, ArrayLike],
    delay_hours: ArrayLike = 0.0,
    *,
    threads: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Outcomes:
    """Carry many parcels with values and delays of their own, shape (n,) or one for all.

    Runs with hours between two steps of the pack and a coarse tolerance; docs/how-it-computes/parcel.md tells the
    error against `carry`. Raises InputError for a value that cannot be, ValueError for shapes that do not go together.
    """
    _chosen(dict.fromkeys(values, 1.0))
    rows = np.broadcast_arrays(np.asarray(delay_hours, float), *(np.asarray(v, float) for v in values.values()))
    delay, n = np.atleast_1d(rows[0]).ravel(), max(rows[0].size, 1)
    drawn = {k: np.atleast_1d(v).ravel() for k, v in zip(values, rows[1:], strict=True)}
    if n and not (delay.min() >= 0 and delay.max() <= MOST_DELAY):
        raise InputError("no such delay", field="delay", allowed=f"0 to {MOST_DELAY:g} hours")
    layout = lay_out(parcel)
    parts = [
        same[k : k + PIECE]
        for late in np.unique(delay)
        for same in [np.flatnonzero(delay == late)]
        for k in range(0, same.size, PIECE)
    ]
    pieces = [(parcel, layout, {k: v[part] for k, v in drawn.items()}, float(delay[part[0]])) for part in parts]
    # nearly all of it is compiled, which does not hold the interpreter's lock
    found = each(_some, pieces, progress, otherwise=lambda: Threads(threads or min(2, cores())))
    columns = [np.zeros(n) for _ in range(4)] + [np.full(n, -1) for _ in range(2)]
    for part, rows in zip(parts, found, strict=True):
        for column, row in zip(columns, rows, strict=True):
            column[part] = row
    garden, colony, lowest, highest, cause, ants_cause = columns
    return Outcomes(garden, colony, cause, ants_cause, lowest, highest)


def _some(piece: tuple[Parcel, Layout, dict[str, Array], float]) -> tuple[Array, ...]:
    """The columns of `Outcomes` for parcels of one delay."""
    parcel, layout, values, late = piece
    runs = run_parcels(parcel, layout, values, late, COARSE)
    harm = harm_of(parcel.card, runs.course, runs.time, runs.drip, layout.network.net.pressure)
    cup = runs.course[..., 2]
    cause = np.where(harm.garden > NAMED, harm.by_cause.argmax(axis=1), -1)
    ants = np.where(harm.colony > NAMED, harm.ants.argmax(axis=1), -1)
    return harm.garden, harm.colony, cup.min(axis=1), cup.max(axis=1), cause, ants


def _chosen(values: Mapping[str, float] | None) -> dict[str, float]:
    for name, value in (values or {}).items():
        if name not in UNCERTAIN:
            nearest = nearest_name(name, UNCERTAIN)
            raise InputError("no such value", found=repr(name), allowed=", ".join(UNCERTAIN), nearest=nearest)
        low, high = (-40.0, 40.0) if name == "outside.offset" else (0.0, 1.0) if name == "cup.position" else (0.01, 100)
        if not low <= value <= high:
            raise InputError("cannot be", field=name, found=f"{value:g}", allowed=f"{low:g} to {high:g}")
    return UNCERTAIN | dict(values or {})


def _run(
    parcel: Parcel, layout: Layout, chosen: Mapping[str, float], delay: float, way: Way, rust: float | None = None
) -> tuple[Array, Array, float]:
    """Times (n,), the course (n, KEPT), and kg that dripped on the garden, of one parcel."""
    runs = run_parcels(parcel, layout, {k: np.array([v]) for k, v in chosen.items()}, delay, way, rust)
    return runs.time, runs.course[0], float(runs.drip[0])


def _shifts(
    parcel: Parcel, layout: Layout, chosen: Mapping[str, float], delay: float, going: Callable[[float], None]
) -> dict[str, dict[tuple[str, str], tuple[float, ...]]]:
    """By how many steps the worst margin of each limit moves when a value goes to either end, coarse runs compared."""

    def worst(lay: Layout, at: Mapping[str, float], rust: float | None = None) -> dict[tuple[str, str], float]:
        _, course, _ = _run(parcel, lay, at, delay, COARSE, rust)
        found = margins(parcel.card, course, layout.network.net.pressure)
        return {k: float(v[1:].min()) for k, v in found.items()}

    middle, values, resting = worst(layout, chosen), read_values("parcel.toml"), resting_values(parcel)
    names = [*UNCERTAIN, *MOVED]
    told = {}
    for n, name in enumerate(names):
        ends = []
        value = values[name] if name in UNCERTAIN else resting[name]
        for end in (value.low, value.high):
            if name in UNCERTAIN:
                moved = end - value.value if name in ("outside.offset", "cup.position") else end / value.value
                at = chosen[name] + moved if name in ("outside.offset", "cup.position") else chosen[name] * moved
                ends.append(worst(layout, dict(chosen) | {name: at}))
            elif name == "parcel.rust_share":
                ends.append(worst(layout, chosen, end))
            else:
                ends.append(worst(lay_out(parcel, {name: end}, layout.network), chosen))
        told[name] = {k: tuple(end[k] - middle[k] for end in ends) for k in middle}
        going(0.4 + 0.6 * (n + 1) / len(names))
    return told


def _limit(
    parcel: Parcel, time: Array, course: Array, key: tuple[str, str], margin: Array,
    shifts: Mapping[str, tuple[float, ...]], pressure: float,
) -> LimitPassed:  # fmt: skip
    quantity, end = key
    card = next(one for one in parcel.card.limits if one.role == "garden" and one.quantity == quantity)
    limit = card.low if end == "low" else card.high
    assert limit is not None
    step = limit_tolerances()[quantity]
    at = int(margin.argmin())
    out = np.flatnonzero(margin < 0)
    first = None
    if out.size:
        k = int(out[0])
        first = 0.0
        if k > 0:
            share = margin[k - 1] / (margin[k - 1] - margin[k])
            first = float(time[k - 1] + share * (time[k] - time[k - 1])) / 3600
    seconds, depth = outside(margin, time)
    down = math.sqrt(sum(min(0.0, *moved) ** 2 for moved in shifts.values()))
    up = math.sqrt(sum(max(0.0, *moved) ** 2 for moved in shifts.values()))
    worst = float(margin[at])
    return LimitPassed(
        quantity,
        end,
        limit,
        limit + (worst if end == "low" else -worst) * step,
        worst,
        worst - down,
        worst + up,
        float(seconds) / 3600,
        float(depth) * step / 3600,
        first,
        card.mark,
    )


def _loss(parcel: Parcel, time: Array, course: Array, drip: float, pressure: float) -> Loss:
    harm = harm_of(parcel.card, course[None], time, np.array([drip]), pressure)
    parts, spread = harm.by_cause[0], float(harm.spread[0])
    whole = float(parts.sum())
    ends = [whole * math.exp(s * spread * FIVE_TO_NINETY_FIVE / 2) for s in (-1, 0, 1)]
    low, middle, high = (-math.expm1(-h) for h in ends)
    shares = sorted(((c, float(p) / whole) for c, p in zip(CAUSES, parts, strict=True) if p > 0), key=lambda x: -x[1])
    cause = shares[0][0] if harm.garden[0] > NAMED else ""
    ants = ANTS[int(harm.ants[0].argmax())] if harm.colony[0] > NAMED else ""
    return Loss(middle, low, high, float(harm.garden[0]), float(harm.colony[0]), tuple(shares), cause, ants)
