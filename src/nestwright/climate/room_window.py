"""The window: in which room temperatures and humidities a habitat holds."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.limits import bound_limits
from nestwright.climate.proof import NotSettled, lived_in, station_pressure
from nestwright.climate.reading import limit_values
from nestwright.climate.results import WindowMap
from nestwright.climate.room_air import Room
from nestwright.data import load_species
from nestwright.habitat.assemble import assemble
from nestwright.habitat.model import Habitat
from nestwright.network.arrays import ACCOUNTS, T_REF
from nestwright.network.steady import settle_grid
from nestwright.physics import air

Array = NDArray[np.float64]
NOT_SETTLED = -99.0
"""Margin put down where the air finds no rest: such a point never counts as held."""


def window(
    habitat: Habitat,
    room: Room | None = None,
    *,
    points: int = 60,
    temperature: tuple[float, float] = (283.15, 308.15),
    relative_humidity: tuple[float, float] = (0.15, 0.90),
) -> WindowMap:
    """Steady margins over a grid of room temperature (K) and relative humidity, `points` x `points`.

    With a room its hours are laid over the map. Raises InputError for an unknown species.
    """
    card = load_species(habitat.species)
    if room is None:
        assembly = assemble(habitat, card)
    else:
        assembly = assemble(habitat, card, pressure=station_pressure(habitat, room), room_co2=room.co2, room_o2=room.o2)
    net = assembly.network.net
    t = np.linspace(*temperature, points)
    h = np.linspace(*relative_humidity, points)
    x = h[None, :] * np.asarray(air.saturation_pressure(t))[:, None] / net.pressure
    states = np.zeros((points, points, net.size))
    rates = np.zeros((points, points, len(ACCOUNTS)))
    counts = np.zeros((points, points))

    def part(rows: slice) -> None:
        first = rows.start
        start = assembly.network.initial(float(t[first]), float(x[first, 0] * net.pressure))
        settle_grid(net, start, t[rows] - T_REF, x[rows], states[rows], rates[rows], counts[rows])

    half = points // 2
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(part, [slice(0, half), slice(half, points)]))
    limits = bound_limits(assembly)
    settled = counts > 0

    def margins_of(y: Array) -> Array:
        with np.errstate(all="ignore"):  # a state that did not settle may be far from any air
            values = limit_values(assembly, y)
        return np.array([b.margin(values[(b.zone, b.quantity)]) / b.tolerance for b in limits])

    def live_in(i: int, j: int) -> None:
        """Where Newton's method found no rest, or another one than all around: sixty days in that room instead."""
        try:
            states[i, j] = lived_in(assembly, float(t[i]), float(x[i, j] * net.pressure))
        except NotSettled:
            settled[i, j] = False
            return
        settled[i, j] = True

    for i, j in np.argwhere(~settled | lonely(margins_of(states).min(axis=0))):
        live_in(int(i), int(j))
    margins = margins_of(states)
    margins[:, ~settled] = NOT_SETTLED
    share, rt, rh = None, np.zeros(0), np.zeros(0)
    worst = margins.min(axis=0)
    if room is not None:
        rt = room.temperature
        rh = room.vapour_pressure / air.saturation_pressure(rt)
        i = np.rint(np.interp(rt, t, np.arange(points))).astype(int)
        j = np.rint(np.interp(rh, h, np.arange(points))).astype(int)
        on_map = (rt >= t[0]) & (rt <= t[-1]) & (rh >= h[0]) & (rh <= h[-1])
        share = float(((worst[i, j] >= 0) & on_map).mean())
    names = tuple(b.name for b in limits)
    return WindowMap(
        habitat=habitat.name,
        revision=habitat.revision,
        temperature=t,
        relative_humidity=h,
        limits=names,
        scaled_margin=margins,
        room=room.name if room else "",
        room_temperature=rt,
        room_relative_humidity=rh,
        share_inside=share,
        ends=_ends(names, margins),
        converged_share=float(settled.mean()),
    )


def lonely(worst: Array, step: float = 0.5) -> NDArray[np.bool_]:
    """Points of a map (n, m) more than `step` away from the median of their neighbours and from all but one of them."""
    padded = np.pad(worst, 1, mode="edge")
    n, m = worst.shape
    around = np.array(
        [padded[1 + a : 1 + a + n, 1 + b : 1 + b + m] for a in (-1, 0, 1) for b in (-1, 0, 1) if (a, b) != (0, 0)]
    )
    away = np.abs(worst - np.median(around, axis=0)) > step
    return away & (np.sort(np.abs(worst - around), axis=0)[1] > step)


def _ends(names: tuple[str, ...], margins: Array) -> dict[str, str]:
    """The limit that ends the window on each side, going out from its best point; "" where it runs off the map."""
    worst, first = margins.min(axis=0), margins.argmin(axis=0)
    if not (worst >= 0).any():
        i, j = np.unravel_index(worst.argmax(), worst.shape)
        return {"everywhere": names[int(first[i, j])]}
    i, j = np.unravel_index(worst.argmax(), worst.shape)
    lines = {
        "cold": (worst[i::-1, j], first[i::-1, j]),
        "warm": (worst[i:, j], first[i:, j]),
        "dry": (worst[i, j::-1], first[i, j::-1]),
        "damp": (worst[i, j:], first[i, j:]),
    }
    out = {}
    for side, (margin, which) in lines.items():
        below = np.flatnonzero(margin < 0)
        out[side] = names[int(which[below[0]])] if len(below) else ""
    return out
