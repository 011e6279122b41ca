"""Which value that no design states a limit's verdict hangs on most."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.limits import BoundLimit, bound_limits
from nestwright.climate.proof import NotSettled, mean_air, settled, station_pressure
from nestwright.climate.reading import limit_values
from nestwright.climate.results import DAY, UNITS
from nestwright.climate.room_air import Room
from nestwright.data import Value, load_species
from nestwright.errors import InputError, nearest_name
from nestwright.habitat.assemble import assemble, uncertain_values
from nestwright.habitat.model import Habitat
from nestwright.pieces import Processes, Threads, each

if TYPE_CHECKING:
    from nestwright.sensitivity import Explained

Array = NDArray[np.float64]

__all__ = ["BASE", "explain_proof", "value_at"]

BASE = 128
"""Points of the sequence; the runs are as many times the unknowns and two more."""
SINGLE = 8
"""Unknowns that get an index of their own; what the others do together is one more."""
PIECE = 32
"""Runs handed out at once."""
FEW = 400
"""Runs up to which starting processes costs more than it saves."""
EDGE = 0.01
"""Share of the runs at either end whose margins count as that of the next."""
STILL = 0.3
"""Share of runs with one and the same margin from which that is told."""
REST = "all others together"


@dataclass(frozen=True)
class _Asked:
    """One habitat in fixed air, whose limit is asked for at other values of `names`."""

    habitat: Habitat
    room: Room
    names: tuple[str, ...]
    limit: str


def explain_proof(
    habitat: Habitat,
    room: Room,
    limit: str = "",
    *,
    base: int = BASE,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> Explained:
    """Shares of the variance of one limit's margin, at rest in a room's mean air.

    The unknowns are those that the intervals of `prove` rest on, each drawn by itself over its range: half of the draws
    below its value and half above, evenly in either (judgement). Those eight that move the limit most when moved alone
    to their ends get an index each, all others one together, so that nothing is left out.

    Parameters
    ----------
    limit : name of a limit as `Proof.limits` has it; "": the first to go.
    base : points of the sequence, a power of two.

    Raises InputError for a limit that does not bind here, NotSettled where the habitat itself finds no rest.
    """
    from nestwright.sensitivity import Explained, Share, Unknown, designed_rows, designed_shares

    card = load_species(habitat.species)
    values = {k: v for k, v in uncertain_values(habitat, card).items() if v.low < v.high}
    names = tuple(values)
    bound = _limit_of(habitat, room, limit)
    asked = _Asked(habitat, room, names, bound.name)
    here = np.array([v.value for v in values.values()])
    ends = np.array([_moved(here, i, end) for i, v in enumerate(values.values()) for end in (v.low, v.high)])
    alone = _margins(asked, np.vstack([here, ends]), None)
    moved = np.nan_to_num(np.abs(alone[1:] - alone[0]).reshape(-1, 2).max(axis=1))
    single = [int(i) for i in np.argsort(-moved, kind="stable")[:SINGLE] if moved[i] > 0]
    groups = [name if i in single else REST for i, name in enumerate(names)]
    rows = designed_rows(groups, base, seed)
    drawn = np.column_stack([value_at(v, rows[:, i]) for i, v in enumerate(values.values())])
    margins = _margins(asked, drawn, progress)
    found, lost = designed_shares(groups, _without_ends(margins), seed)
    order = list(dict.fromkeys(groups))
    shares = []
    for k, name in enumerate(order):
        one = values.get(name)
        shares.append(
            Share(
                name=name,
                unknown=None
                if one is None
                else Unknown(name, one.low, one.value, one.high, one.unit, one.mark, one.source),
                members=(name,) if one else tuple(n for n, g in zip(names, groups, strict=True) if g == REST),
                first=float(found.first[k]), first_error=float(found.first_error[k]),
                total=float(found.total[k]), total_error=float(found.total_error[k]),
            )
        )  # fmt: skip
    good = margins[np.isfinite(margins)]
    notes = []
    if len(good) and (same := float(np.isclose(good, np.median(good), rtol=1e-4, atol=1e-12).mean())) > STILL:
        notes.append(
            f"in {100 * same:.0f} % of the runs the margin is the same: few runs move it, and the shares are theirs"
        )
    low, middle, high = np.quantile(good, (0.1, 0.5, 0.9)) * _factor(bound.quantity) if len(good) else (np.nan,) * 3
    return Explained(
        subject=habitat.name,
        result=f"margin of {bound.name}",
        unit="K" if bound.quantity == "temperature" else UNITS[bound.quantity],
        low=float(low), middle=float(middle), high=float(high),
        shares=tuple(sorted(shares, key=lambda s: -s.weight)),
        chance=None,
        runs=len(drawn) + len(alone),
        lost=lost,
        notes=tuple(notes),
    )  # fmt: skip


def value_at(value: Value, u: Array) -> Array:
    """A value over its range: u (n,) 0 to 1, its low end at 0, the value itself at 0.5, its high end at 1."""
    return np.interp(u, (0.0, 0.5, 1.0), (value.low, value.value, value.high))


def _without_ends(margins: Array) -> Array:
    """The margins with the outermost brought in to the end of EDGE: a run far from all others, as of air that turns,
    would have a variance of its own and hide all that moves the rest."""
    good = margins[np.isfinite(margins)]
    return np.clip(margins, *np.quantile(good, (EDGE, 1.0 - EDGE))) if len(good) else margins


def _moved(here: Array, i: int, end: float) -> Array:
    out = here.copy()
    out[i] = end
    return out


def _limit_of(habitat: Habitat, room: Room, name: str) -> BoundLimit:
    """The limit of that name, or that with the least margin in its tolerance."""
    assembly = assemble(
        habitat, load_species(habitat.species), pressure=station_pressure(habitat, room), room_co2=room.co2,
        room_o2=room.o2,
    )  # fmt: skip
    limits = {b.name: b for b in bound_limits(assembly)}
    if name and name in limits:
        return limits[name]
    if name or not limits:
        raise InputError(
            "is no limit of this habitat" if limits else "no limit is set for this habitat", field="--limit",
            found=repr(name[:80]), allowed=", ".join(limits) or "a species card or habitat file with limits",
            nearest=nearest_name(name[:80], limits),
        )  # fmt: skip
    values = limit_values(assembly, settled(assembly, *mean_air(room))[0])
    return min(limits.values(), key=lambda b: float(b.margin(values[(b.zone, b.quantity)])) / b.tolerance)


def _margins(asked: _Asked, rows: Array, progress: Callable[[float], None] | None) -> Array:
    """Margin of the limit, in its own SI unit, at each row of values (n, names); nan where the air finds no rest."""
    pieces = [(asked, rows[k : k + PIECE]) for k in range(0, len(rows), PIECE)]
    place = Threads if len(rows) <= FEW else Processes
    return np.concatenate(each(_some, pieces, progress, otherwise=place))


def _some(piece: tuple[_Asked, Array]) -> Array:
    asked, rows = piece
    habitat, room = asked.habitat, asked.room
    card, air = load_species(habitat.species), mean_air(room)
    first = assemble(
        habitat, card, pressure=station_pressure(habitat, room), room_co2=room.co2, room_o2=room.o2
    )  # fmt: skip
    bound = next(b for b in bound_limits(first) if b.name == asked.limit)
    out = np.full(len(rows), np.nan)
    for i, row in enumerate(rows):
        override: dict[str, float] = dict(zip(asked.names, map(float, row), strict=True))
        other = assemble(
            habitat, card, pressure=first.network.net.pressure, room_co2=room.co2, room_o2=room.o2, override=override,
            like=first.network,
        )  # fmt: skip
        try:
            state = settled(other, *air)[0]
        except NotSettled:
            continue
        out[i] = float(bound.margin(limit_values(other, state)[(bound.zone, bound.quantity)]))
    return out


def _factor(quantity: str) -> float:
    """From SI to the unit in which a margin is told."""
    return {"relative_humidity": 100.0, "co2": 100.0, "o2": 100.0, "drip": 1000.0 * DAY}.get(quantity, 1.0)
