"""Steady state by pseudo-time continuation: implicit Euler steps that grow into Newton's method.

Kelley & Keyes 1998, doi:10.1137/S0036142996304796. Water bodies are held at their fill; thermostats act as a
proportional band, which gives their mean power.

Over a grid of rooms each state is first guessed along the line of its two neighbours and mended with slopes that were
factorised once for many of them (the chord method: Ortega & Rheinboldt, Iterative Solution of Nonlinear Equations in
Several Variables, section 7.1).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestwright.network.arrays import ACCOUNTS, Floats, Ints, Net
from nestwright.network.kernel import evaluate, jit
from nestwright.network.sparse import factorise, solve

ACCOUNT_COUNT = len(ACCOUNTS)
NEWTON = 1e10
"""s of a step that is Newton's."""
DAY = 86400.0
BOLD = 1e3
"""Length of a step (10 K or its like) beyond which a neighbour is no longer near."""
TOO_BOLD = 1e4
"""Length of a step (100 K or its like) that is not taken."""
DAYS_STILL = 8
"""Steps of a day, one after the other, in which the air moves under a third of its tolerance."""


class Scratch(NamedTuple):
    """What a search for rest writes on. a, inverse: slopes and their factors; f, d: rates and step; the kernel's own;
    film, warmth: which states are films and temperatures."""

    a: Floats
    inverse: Floats
    f: Floats
    d: Floats
    work: Floats
    drive: Floats
    on: Floats
    none: Ints
    temp: Floats
    th: Floats
    tm: Floats
    w: Floats
    film: NDArray[np.bool_]
    warmth: NDArray[np.bool_]


@jit
def scratch_of(net: Net) -> Scratch:
    n, nodes = net.size, net.heat.shape[0]
    # films may fill or dry in one bold step: they bound the time step no more than the stores do
    film, warmth = np.zeros(n, np.bool_), np.zeros(n, np.bool_)
    for j in range(net.room):
        warmth[net.heat[j]] = True
    for j in range(net.zones, net.room):
        if net.water[j] >= 0:
            film[net.water[j]] = True
    on = np.ones(net.heater.shape[0])
    for q in range(on.shape[0]):
        if net.heater[q, 2] == 2:
            on[q] = -1.0
    return Scratch(
        np.zeros(net.pattern.column.shape[0]), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(2), on,
        np.zeros(0, np.int32), np.zeros(nodes), np.ones(nodes), np.zeros(nodes), np.zeros((17, net.zones + 1)),
        film, warmth,
    )  # fmt: skip


@jit
def rate(net: Net, y: Floats, s: Scratch, dt: float) -> bool:
    """Rates at `y` into `s.f`, those of held states nought; with dt > 0 the factors of 1/dt - slopes as well. Returns
    whether there are factors."""
    if dt > 0.0:
        evaluate(net, y, s.drive, s.on, s.f, True, s.a, False, s.none, s.none, s.temp, s.th, s.tm, s.w)
    else:
        evaluate(net, y, s.drive, s.on, s.f, False, s.a, False, s.none, s.none, s.temp, s.th, s.tm, s.w)
    a = s.a
    if dt > 0.0:
        for k in range(a.shape[0]):
            a[k] = -a[k]
    for i in range(net.size):
        if net.hold[i]:
            s.f[i] = 0.0
            if dt > 0.0:
                r = net.pattern.position[i]
                for k in range(net.pattern.row_start[r], net.pattern.row_start[r + 1]):
                    a[k] = 0.0
    if not dt > 0.0:
        return True
    for i in range(net.size):
        a[net.pattern.diagonal[i]] += 1.0 / dt
    return factorise(net.pattern, a, s.inverse)


@jit
def stride(net: Net, s: Scratch) -> tuple[float, float, float]:
    """The step from the rates into `s.d`. Returns the longest of its parts in tolerances: without films, of films, of
    the air as it is felt."""
    d = s.d
    for i in range(net.size):
        d[i] = s.f[i]
    solve(net.pattern, s.a, s.inverse, d, s.work)
    size, rest, moved = 0.0, 0.0, 0.0
    for i in range(net.size):
        if s.film[i]:
            rest = max(rest, abs(d[i]) * net.weight[i])
        else:
            size = max(size, abs(d[i]) * net.weight[i])
            if not s.warmth[i]:
                moved = max(moved, abs(d[i]) * net.weight[i])
    for j in range(net.room):
        change = s.th[j] * d[net.heat[j]] + (s.tm[j] * d[net.water[j]] if net.water[j] >= 0 else 0.0)
        moved = max(moved, abs(change) * net.weight[net.heat[j]])
    return size, rest, moved


@jit
def keep_sound(net: Net, y: Floats) -> None:
    """Neither air nor films hold less than nothing."""
    for j in range(net.zones):
        y[net.water[j]] = max(y[net.water[j]], 0.0)
        y[net.co2[j]] = max(y[net.co2[j]], 0.0)
        y[net.o2[j]] = max(y[net.o2[j]], 0.0)
    for j in range(net.zones, net.room):
        if net.water[j] >= 0:
            y[net.water[j]] = max(y[net.water[j]], 0.0)


@jit
def advance(net: Net, y: Floats, s: Scratch) -> None:
    """Take the step in `s.d`."""
    for i in range(net.size):
        y[i] += s.d[i]
    keep_sound(net, y)


@jit
def longer(dt: float, size: float, most: float) -> float:
    """The next step in time, after one whose longest part was so many tolerances."""
    if size < 50.0:
        return min(dt * 12.0, most)
    return min(dt * 4.0, most) if size < 500.0 else dt


@jit
def settle(net: Net, y: Floats, rates: Floats, first_step: float, most: int) -> int:
    """Bring `y` to rest in place; `rates` receives the account rates. Returns iterations, negative if not settled."""
    s = scratch_of(net)
    count = settle_on(net, y, s, first_step, most)
    account(net, y, s, rates)
    return count


@jit
def account(net: Net, y: Floats, s: Scratch, rates: Floats) -> None:
    """Rates of the accounts, which a search holds."""
    evaluate(net, y, s.drive, s.on, s.f, False, s.a, False, s.none, s.none, s.temp, s.th, s.tm, s.w)
    for i in range(ACCOUNT_COUNT):
        rates[i] = s.f[i]


@jit
def settle_on(net: Net, y: Floats, s: Scratch, first_step: float, most: int) -> int:
    dt, cap = first_step, NEWTON
    count, still = 0, 0
    while count < most:
        count += 1
        if not rate(net, y, s, dt):
            dt *= 0.1
            continue
        size, rest, moved = stride(net, s)
        if not size < TOO_BOLD and dt > 1e-3:
            dt *= 0.1
            continue
        advance(net, y, s)
        # after a change of gait films may still creep: settled when the air moves under a third of its tolerance a day
        calm = size < 1e-4 and rest < 1e-3 if cap > 1e6 else moved < 0.3
        still = still + 1 if calm and dt >= 0.1 * cap else 0
        if still >= (1 if cap > 1e6 else 4):
            return count
        dt = longer(dt, size, cap)
        if count == 25 or count == 80:
            # a film between wet and dry can trade places for ever under Newton: let time damp it
            cap = DAY if count == 25 else DAY / 12.0
            dt = min(dt, cap)
    return -count


@jit
def settle_near(net: Net, y: Floats, s: Scratch, known: bool) -> tuple[int, bool]:
    """Newton's steps from a near guess, with the factors at hand while they serve (`known`). Returns iterations, 0 if
    that does not lead to rest, and whether the factors may be used again."""
    before = np.inf
    for count in range(1, 13):
        fresh = not known
        if not rate(net, y, s, NEWTON if fresh else 0.0):
            return 0, False
        size, rest, _ = stride(net, s)
        if not size < BOLD:
            return 0, False
        advance(net, y, s)
        if size < 1e-4 and rest < 1e-3:
            return count, True
        now = max(size, 0.1 * rest)
        if fresh and count > 3 and not now < before:
            return 0, False
        known = now < 0.2 * before
        before = now
    return 0, False


@jit
def settle_growing(net: Net, y: Floats, s: Scratch) -> int:
    """As `settle` from a neighbour's state, but given up at the first bold step. Returns iterations, 0 if given up."""
    dt = 1e6
    for count in range(1, 13):
        if not rate(net, y, s, dt):
            return 0
        size, rest, _ = stride(net, s)
        if not size < TOO_BOLD:
            return 0
        advance(net, y, s)
        if size < 1e-4 and rest < 1e-3 and dt >= 0.1 * NEWTON:
            return count
        dt = longer(dt, size, NEWTON)
    return 0


@jit
def settle_by_days(net: Net, y: Floats, s: Scratch, most: int) -> int:
    """Let time damp what Newton's steps cannot: steps of a day from a neighbour's state, until the air is still.
    Returns iterations, 0 if it does not come to rest."""
    dt, still = DAY / 24.0, 0
    for count in range(1, most + 1):
        if not rate(net, y, s, dt):
            dt *= 0.1
            continue
        size, _, moved = stride(net, s)
        if not size < BOLD and dt > 1e-3:
            dt *= 0.1
            continue
        advance(net, y, s)
        still = still + 1 if moved < 0.3 and dt >= 0.1 * DAY else 0
        if still >= DAYS_STILL:
            # films may creep on for months: where Newton's steps now lead to their end, it is taken
            calm = y.copy()
            more = settle_growing(net, y, s)
            if more == 0:
                y[:] = calm
            return count + more
        dt = longer(dt, size, DAY)
    return 0


@jit
def settle_grid(
    net: Net, start: Floats, temperatures: Floats, vapours: Floats, states: Floats, rates: Floats, counts: Floats
) -> None:
    """Steady states over a grid of room temperatures (above T_REF) and vapour fractions, each from its neighbours.

    temperatures (r,), vapours (r, c); states (r, c, size), rates (r, c, accounts), counts (r, c): iterations, negative
    where no rest was found.
    """
    s = scratch_of(net)
    y, row, last = start.copy(), start.copy(), start.copy()
    room_t, room_x = net.heat[net.room], net.water[net.room]
    for i in range(temperatures.shape[0]):
        y[:] = row
        known = np.bool_(False)  # no literal: what it is passed to would be compiled for that once more
        for j in range(vapours.shape[1]):
            y[room_t], y[room_x] = temperatures[i], vapours[i, j]
            last[:] = y
            count = 0
            if i > 0 or j > 0:
                # along the line of the two before it
                if j > 1 and counts[i, j - 1] > 0 and counts[i, j - 2] > 0:
                    for k in range(net.size):
                        if not net.hold[k] and k != room_t and k != room_x:
                            y[k] += states[i, j - 1, k] - states[i, j - 2, k]
                    keep_sound(net, y)
                count, known = settle_near(net, y, s, known)
                if count == 0:
                    y[:] = last
                    count = settle_growing(net, y, s)
                if count == 0 and j > 0:
                    y[:] = last
                    count = settle_by_days(net, y, s, 80)
            if count == 0:
                # the first of all, and of a row that its neighbour does not lead to: from cold, as a proof
                y[:] = start
                y[room_t], y[room_x] = temperatures[i], vapours[i, j]
                count = settle_on(net, y, s, 10.0, np.int64(140))
            account(net, y, s, rates[i, j])
            states[i, j, :] = y
            counts[i, j] = count
            if count < 0:
                y[:] = row
            elif j == 0:
                row[:] = y
