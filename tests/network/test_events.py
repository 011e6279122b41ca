"""What interrupts the time stepping, each on a lump or a jar so small that its course is known beforehand.

Small enough, too, to be run uncompiled: see docs/tests.md.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.network.arrays import ACCOUNTS
from nestwright.network.builder import ROOM, Builder, Network
from nestwright.network.integrate import (
    DRY_SECONDS,
    OK,
    ORDER4,
    REFILLS,
    REJECTED,
    STEPS,
    STUCK,
    SWITCHES,
    fill,
    run,
    temperature_of,
)
from nestwright.network.steady import DAYS_STILL, settle, settle_grid

sys.path.insert(0, str(Path(__file__).parent))

from nets import two_pots

DRY_HEAT = 50.0  # J/K
LEAK = 0.1  # W/K
POWER = 2.0  # W
ROOM_C = 20.0
TAU = DRY_HEAT / LEAK
ABOVE = POWER / LEAK  # what the heater would come to above the room, K


def lump(control: str = "constant", set_point: float = 25.0, band: float = 2.0) -> Network:
    """A closed jar that no heat reaches, and a heated lump in the room."""
    b = Builder()
    b.zone("jar", 1e-3)
    n = b.node("lump", DRY_HEAT)
    b.connect(n, ROOM, LEAK)
    b.heater("mat", n, POWER, control, set_point + 273.15, band, n)
    return b.finish()


def wet_jar(water: float, kept: float = 1e-3) -> Network:
    """A jar with a vent over a block that gives its water off."""
    b = Builder()
    z = b.zone("jar", 1e-3)
    block = b.node("block", 100.0, water, kept, store=True)
    b.surface(z, block, 0.004, 0.5, 2.0, 2.0, lewis=9.4e-4, scale=1e-3)
    b.connect(block, ROOM, 1.0)
    b.opening(z, ROOM, (3e-7, 2e-7, 2e-7, 3e-7), 0.0, 1e4, 1e9)
    return b.finish()


class Marched:
    def __init__(
        self, network, times, *, start=None, refill=None, factor=0.01, longest=7200.0, first=10.0, room=ROOM_C, on=1.0
    ):
        net = self.net = network.net
        times = np.asarray(times, dtype=float)
        knots = np.column_stack([times, np.full(len(times), room - 25.0), np.full(len(times), 0.01)])
        self.y = network.initial(room + 273.15, 0.01 * net.pressure) if start is None else start.copy()
        self.out, self.stats, self.on = np.zeros((len(times), net.size)), np.zeros(6), np.full(len(net.heater), on)
        self.refill = np.zeros((0, 5)) if refill is None else np.array(refill)
        step = np.array([first])
        self.status = run(net, ORDER4, self.y, self.on, knots, factor, step, longest, self.refill, self.out, self.stats)

    def celsius(self, node):
        return np.array([temperature_of(self.net, y, node) - 273.15 for y in self.out])


def test_a_heater_switches_when_its_lump_passes_the_marks():
    """Up to the upper mark, down to the lower, up again: each part an exponential whose length is known."""
    network = lump("thermostat", 25.0, 2.0)
    n = network.node("lump")
    low, high = 24.0 - ROOM_C, 26.0 - ROOM_C
    first = TAU * np.log(ABOVE / (ABOVE - high))
    down, up = TAU * np.log(high / low), TAU * np.log((ABOVE - low) / (ABOVE - high))
    times = np.array([0.0, 0.5 * first, first + 0.5 * down, first + down + 0.5 * up, first + 1.5 * down + up])
    got = Marched(network, times)
    expected = [
        0.0,
        ABOVE * (1 - np.exp(-0.5 * first / TAU)),
        high * np.exp(-0.5 * down / TAU),
        ABOVE - (ABOVE - low) * np.exp(-0.5 * up / TAU),
        high * np.exp(-0.5 * down / TAU),
    ]
    assert got.status == OK
    assert got.celsius(n) - ROOM_C == pytest.approx(expected, abs=0.01)
    assert got.stats[SWITCHES] == 3
    # a mark is met at once and not crept up to
    assert got.stats[STEPS] < 24
    assert got.on.tolist() == [0.0]


def test_a_heater_that_is_off_stays_off_while_the_room_warms_its_lump_and_costs_no_steps():
    network = lump("thermostat", 25.0, 2.0)
    net = network.net
    start = network.initial(30.0 + 273.15, 0.01 * net.pressure)
    n = network.node("lump")
    start[net.heat[n]] -= 2.0
    got = Marched(network, [0.0, 3600.0], start=start, room=30.0, on=0.0)
    assert got.stats[SWITCHES] == 0
    assert got.stats[STEPS] < 60
    assert got.celsius(n)[-1] == pytest.approx(30.0 - 2.0 * np.exp(-3600.0 / TAU), abs=0.01)


def test_a_heater_without_switching_holds_its_band_in_the_mean():
    """`on` below nought: the power that the place in the band asks for, as a steady state takes it."""
    network = lump("thermostat", 25.0, 2.0)
    net, n = network.net, network.node("lump")
    y = network.initial(ROOM_C + 273.15, 0.01 * net.pressure)
    assert settle(net, y, np.zeros(len(ACCOUNTS)), 10.0, 100) > 0
    rest = temperature_of(net, y, n) - 273.15
    # full at 24, none at 26: LEAK (T - 20) = POWER (26 - T) / 2
    assert rest == pytest.approx((POWER / 2 * 26.0 + LEAK * ROOM_C) / (POWER / 2 + LEAK), abs=0.02)
    assert 24.0 < rest < 26.0


def test_a_bold_step_is_taken_back():
    """Begun with an hour on a lump that answers in minutes, steps are refused until the error is what was asked."""
    network = lump()
    n = network.node("lump")
    times = [0.0, 3600.0, 7200.0]
    got = Marched(network, times, first=3600.0, factor=1e-3)
    assert got.status == OK
    assert got.stats[REJECTED] > 0
    assert got.celsius(n) - ROOM_C == pytest.approx(ABOVE * (1 - np.exp(-np.array(times) / TAU)), abs=2e-3)


def test_no_step_is_longer_than_the_longest():
    got = Marched(lump(), [0.0, 3600.0], longest=50.0, factor=1e9)
    assert got.stats[STEPS] >= 3600 / 50


def test_a_state_that_is_no_number_is_told():
    network = lump()
    start = network.initial(ROOM_C + 273.15, 1000.0)
    start[network.net.heat[network.node("lump")]] = np.nan
    got = Marched(network, [0.0, 3600.0], start=start)
    assert got.status == STUCK
    assert got.stats[STEPS] == 0


def test_a_body_is_filled_when_its_mark_is_reached():
    """Filled once, when the mark is reached, and up to the full; until then as the jar that nobody fills."""
    times = np.arange(0.0, 12.1, 1.0) * 3600.0
    dry = Marched(wet_jar(2e-3), times)
    block = dry.net.water[1]
    loss = dry.out[0, block] - dry.out[:, block]
    hourly = loss[12] - loss[11]
    low = 2e-3 - 0.5 * (loss[6] + loss[7])
    got = Marched(wet_jar(2e-3), times, refill=[[1, 3e-3, low, 0.0, 5.0]])
    store = got.out[:, block]
    assert got.stats[REFILLS] == 1
    assert store[6] == pytest.approx(dry.out[6, block], abs=0.01 * hourly)
    # the mark holds within a thousandth of what it is
    assert store[7] == pytest.approx(3e-3 - 0.5 * hourly, abs=1e-3 * low + 0.05 * hourly)
    assert np.diff(store[7:]) == pytest.approx(-np.diff(loss[7:]), abs=0.05 * hourly)
    assert got.stats[DRY_SECONDS] == 0.0


@pytest.mark.parametrize(("water", "dry"), [(0.2 + 1e-9, 0.0), (0.2, 3600.0), (0.0, 3600.0)])
def test_a_body_at_its_mark_counts_as_dry(water, dry):
    network = wet_jar(water)
    stats = np.zeros(6)
    y = network.initial(ROOM_C + 273.15, 1000.0)
    fill(network.net, y, 3600.0, 3600.0, np.array([[1, 0.25, 0.2, -1.0, 0.0]]), stats)
    assert stats[DRY_SECONDS] == dry
    assert y[network.net.water[1]] == water


def test_a_body_that_nobody_fills_stands_dry_for_so_long():
    times = np.arange(0.0, 6.1, 1.0) * 3600.0
    got = Marched(wet_jar(0.2), times, refill=[[1, 0.25, 0.21, -1.0, 0.0]])
    assert got.stats[DRY_SECONDS] == pytest.approx(6 * 3600.0)
    assert got.stats[REFILLS] == 0


def test_a_day_of_filling_comes_again():
    """Every three hours from the second on, to the full; what stood full already counts as no filling."""
    times = np.arange(0.0, 9.1, 1.0) * 3600.0
    got = Marched(wet_jar(0.2), times, refill=[[1, 0.25, 0.1, 10800.0, 7200.0]])
    store = got.out[:, got.net.water[1]]
    assert [hour for hour, kg in enumerate(store) if kg == pytest.approx(0.25, rel=1e-12)] == [2, 5, 8]
    assert got.stats[REFILLS] == 1
    assert got.refill[0, 4] == 11 * 3600.0


def rest_of(network, celsius, x, most=100):
    net = network.net
    y = network.initial(celsius + 273.15, x * net.pressure)
    count = settle(net, y, np.zeros(len(ACCOUNTS)), 10.0, most)
    return y, count


def test_each_point_of_a_grid_is_at_rest_in_its_own_room():
    network = wet_jar(0.2)
    net = network.net
    temperatures, vapours = np.array([-5.0, 0.0]), np.array([[0.008, 0.012], [0.010, 0.015]])
    states, rates, counts = np.zeros((2, 2, net.size)), np.zeros((2, 2, len(ACCOUNTS))), np.zeros((2, 2))
    start = network.initial(293.15, 0.008 * net.pressure)
    settle_grid(net, start, temperatures, vapours, states, rates, counts)
    assert np.all(counts > 0)
    for i, t in enumerate(temperatures):
        for j, x in enumerate(vapours[i]):
            alone, count = rest_of(network, t + 25.0, x)
            assert count > 0
            z = network.node("jar")
            assert states[i, j, net.water[z]] == pytest.approx(alone[net.water[z]], rel=1e-3)
            assert temperature_of(net, states[i, j], z) == pytest.approx(temperature_of(net, alone, z), abs=0.01)
            # from a neighbour it takes fewer rounds
            assert counts[i, j] < count or (i, j) == (0, 0)


def test_a_first_step_that_is_too_bold_is_taken_back_and_leads_to_the_same_rest():
    """From the room's air, with a wet block and a garden that heats: eleven days at once would throw it far off."""
    network = two_pots()
    net = network.net
    ends = []
    for first in (10.0, 1e6):
        y = network.initial(294.15, 0.011 * net.pressure)
        assert settle(net, y, np.zeros(len(ACCOUNTS)), first, 140) > 0
        ends.append([temperature_of(net, y, z) for z in range(net.zones)])
    assert ends[1] == pytest.approx(ends[0], abs=0.1)


def test_a_room_far_from_its_neighbour_is_left_to_time():
    """20 K between two points: no guess along their line leads to rest, days do."""
    network = wet_jar(0.2)
    net = network.net
    temperatures, vapours = (
        np.array([-5.0, 15.0]),
        np.array([[0.008, 0.012, 0.016, 0.001], [0.038, 0.042, 0.046, 0.031]]),
    )
    states, rates, counts = np.zeros((2, 4, net.size)), np.zeros((2, 4, len(ACCOUNTS))), np.zeros((2, 4))
    settle_grid(net, network.initial(293.15, 0.008 * net.pressure), temperatures, vapours, states, rates, counts)
    assert np.all(counts > 0)
    assert counts[1, 0] >= DAYS_STILL > counts[1, 1]
    for i, t in enumerate(temperatures):
        for j, x in enumerate(vapours[i]):
            alone, _ = rest_of(network, t + 25.0, x)
            for node in ("jar", "block"):
                n = network.node(node)
                assert temperature_of(net, states[i, j], n) == pytest.approx(temperature_of(net, alone, n), abs=0.02)
            assert states[i, j, net.water[0]] == pytest.approx(alone[net.water[0]], rel=1e-3)


def test_what_does_not_settle_is_told_by_the_sign_and_leaves_the_next_point_a_sound_start():
    network = wet_jar(0.2)
    net = network.net
    _, count = rest_of(network, 20.0, 0.01, most=2)
    assert count == -2
    states, rates, counts = np.zeros((1, 2, net.size)), np.zeros((1, 2, len(ACCOUNTS))), np.zeros((1, 2))
    start = network.initial(293.15, 0.01 * net.pressure)
    settle_grid(net, start, np.array([-5.0]), np.array([[np.nan, 0.01]]), states, rates, counts)
    assert counts[0, 0] < 0 < counts[0, 1]
    alone, _ = rest_of(network, 20.0, 0.01)
    assert states[0, 1, net.water[0]] == pytest.approx(alone[net.water[0]], rel=1e-3)
