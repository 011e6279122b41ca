"""Order, error, events and conservation of the time stepping."""

import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.network.arrays import ACCOUNTS
from nestwright.network.builder import ROOM, Builder, Network
from nestwright.network.integrate import (
    OK,
    ORDER3,
    ORDER4,
    REFILLS,
    STEPS,
    SWITCHES,
    run,
    temperature_of,
    top_up,
)
from nestwright.network.steady import settle

sys.path.insert(0, str(Path(__file__).parent))

from nets import account, two_pots

NO_REFILL = np.zeros((0, 5))
WATER_HEAT = 4184.0  # J/(kg K), the thermochemical calorie per gram; value from memory


def knots(hours: int, seed: int = 0, swing: float = 2.0) -> np.ndarray:
    t = np.arange(hours + 1) * 3600.0
    noise = np.random.default_rng(seed).normal(size=(2, hours + 1))
    temperature = 294.15 + swing * np.sin(2 * np.pi * t / 86400) + 0.3 * noise[0]
    vapour = 1200 + 200 * np.sin(2 * np.pi * t / 86400 / 9) + 30 * noise[1]
    return np.column_stack([t, temperature - 298.15, vapour / 101325])


def march(network: Network, k: np.ndarray, method=ORDER4, factor=0.1, refill=NO_REFILL, longest=7200.0, start=None):
    net = network.net
    y = network.initial(k[0, 1] + 298.15, k[0, 2] * 101325) if start is None else start.copy()
    out, stats = np.zeros((len(k), net.size)), np.zeros(6)
    on = np.ones(len(net.heater))
    assert run(net, method, y, on, k, factor, np.array([10.0]), longest, refill.copy(), out, stats) == OK
    return out, stats


@pytest.fixture(scope="module")
def pots() -> Network:
    return two_pots()


@pytest.mark.parametrize(("method", "order"), [(ORDER3, 3), (ORDER4, 4)])
def test_order_of_the_method(method, order):
    """Fixed steps on a smooth network: the error falls with the method's order."""
    b = Builder()
    a, c = b.zone("a", 1e-3), b.zone("b", 2e-3)
    n = b.node("wall", 200.0)
    b.surface(a, n, 0.05, 0.5, 2.0, 2.0)
    b.connect(n, ROOM, 0.3)
    b.opening(a, c, (2e-8, 1e-8, 1e-8, 2e-8), 0.0, 1e4, 1e9)
    b.opening(c, ROOM, (2e-8, 1e-8, 1e-8, 2e-8), 0.0, 1e4, 1e9)
    network = b.finish()
    k = np.array([[0.0, -5.0, 0.012], [4000.0, 5.0, 0.02]])
    start = network.initial(293.15, 1200.0)
    start[network.net.heat[n]] += 6.0
    exact, _ = march(network, k, ORDER4, 1e-7, start=start)
    errors = []
    for longest in (800.0, 400.0, 200.0):
        out, _ = march(network, k, method, 1e9, longest=longest, start=start)
        errors.append(abs(float(out[-1, network.net.heat[n]] - exact[-1, network.net.heat[n]])))
    seen = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert seen[-1] > order - 0.6


def test_balances_close(pots):
    out, _ = march(pots, knots(24 * 20))
    net, first, last = pots.net, out[0], out[-1]
    change = last - first
    heat = sum(net.capacity[j] * change[net.heat[j]] for j in range(net.room))
    gone = account(change, "energy_to_room") + account(change, "energy_drained") - account(change, "energy_made")
    assert abs(heat + gone) < 1e-9 * account(change, "energy_made")
    water = sum(change[net.water[j]] for j in range(net.room) if net.water[j] >= 0)
    gone = account(change, "water_to_room") + account(change, "water_drained") - account(change, "water_made")
    assert abs(water + gone) < 1e-9 * abs(account(change, "water_made"))


def test_looser_steps_stay_near_tighter_ones(pots):
    k = knots(24 * 10)
    fine, _ = march(pots, k, factor=1e-3)
    coarse, stats = march(pots, k, factor=0.1)
    for z in range(pots.net.zones):
        gap = [
            abs(temperature_of(pots.net, a, z) - temperature_of(pots.net, b, z))
            for a, b in zip(fine, coarse, strict=True)
        ]
        assert max(gap) < 0.05
    assert stats[STEPS] < 24 * 10 * 8


def test_chunks_make_one_run(pots):
    k = knots(48)
    whole, _ = march(pots, k)
    first, _ = march(pots, k[:25])
    second, _ = march(pots, k[24:], start=first[-1])
    for z in range(pots.net.zones):
        assert temperature_of(pots.net, second[-1], z) == pytest.approx(
            temperature_of(pots.net, whole[-1], z), abs=2e-3
        )


def test_thermostat_keeps_its_sensor_in_the_band():
    network = two_pots("thermostat")
    out, stats = march(network, knots(24 * 4))
    sensor = network.node("sensor")
    warm = np.array([temperature_of(network.net, y, sensor) for y in out[24:]])
    assert stats[SWITCHES] > 10
    # the wall that is heated goes on warming and cooling the air for a while after each switching
    assert warm.min() > 297.15 - 0.5 - 0.5
    assert warm.max() < 297.15 + 0.5 + 1.0
    assert np.ptp(warm) > 0.5


def test_a_body_that_runs_low_is_filled_then():
    b = Builder()
    z = b.zone("jar", 1e-3)
    block = b.node("block", 100.0, 0.2005, 1e-3, store=True)
    b.surface(z, block, 0.004, 0.5, 2.0, 2.0, lewis=9.4e-4, scale=1e-3)
    b.connect(block, ROOM, 1.0)
    b.opening(z, ROOM, (3e-7, 2e-7, 2e-7, 3e-7), 0.0, 1e4, 1e9)
    network = b.finish()
    refill = np.array([[block, 2.0, 0.2, 0.0, 0.0]])
    out, stats = march(network, knots(24 * 30), refill=refill)
    store = out[:, network.net.water[block]]
    assert stats[REFILLS] == 1
    assert store.max() == pytest.approx(2.0, abs=0.01)
    assert store.min() >= 0.2 * 0.998
    # what was filled in is booked, so the balance still closes
    change = out[-1] - out[0]
    assert account(change, "water_made") == pytest.approx(1.8, abs=0.001)
    stored = float(change[network.net.water[block]] + change[network.net.water[z]])
    assert stored + account(change, "water_to_room") == pytest.approx(account(change, "water_made"), rel=1e-12)


def test_fixed_interval_refills(pots):
    """Filled on its days; only a filling that adds over a hundredth is counted as one."""
    block = pots.node("block")
    start = pots.initial(294.15, 1200.0)
    start[pots.net.water[block]] = 1.0
    refill = np.array([[block, 2.0, 0.2, 2 * 86400.0, 2 * 86400.0]])
    out, stats = march(pots, knots(24 * 9), refill=refill, start=start)
    store = out[:, pots.net.water[block]]
    assert store[47] < 1.1
    assert stats[REFILLS] == 1
    for hour in (48, 96, 144, 192):
        assert store[hour] == pytest.approx(2.0, abs=0.01)


def test_filling_up_mixes_in_water_of_the_rooms_temperature(pots):
    net, block = pots.net, pots.node("block")
    y = pots.initial(291.15, 1200.0)
    y[net.water[block]] = 0.5
    y[net.heat[net.room]] += 6.0
    cold, room = temperature_of(net, y, block), temperature_of(net, y, net.room)
    before, stats = y.copy(), np.zeros(6)
    refill = np.array([[pots.node("garden"), 0.1, 0.0, 0.0, 0.0], [block, 2.0, 0.2, 0.0, 0.0]])
    top_up(net, y, refill, 1, stats)
    assert y[net.water[block]] == 2.0
    had = net.capacity[block] + net.water_heat[block] * 0.5
    mixed = (had * cold + 1.5 * WATER_HEAT * room) / (had + 1.5 * WATER_HEAT)
    assert temperature_of(net, y, block) == pytest.approx(mixed, abs=0.01)
    change = y - before
    assert account(change, "water_made") == 1.5
    assert account(change, "energy_made") == pytest.approx(net.capacity[block] * change[net.heat[block]], rel=1e-12)
    assert stats[REFILLS] == 1
    full = y.copy()
    top_up(net, y, refill, 1, stats)
    assert np.array_equal(y, full)
    assert stats[REFILLS] == 1


def test_no_state_falls_below_zero(pots):
    out, _ = march(pots, knots(24 * 30, 3, 6.0))
    net = pots.net
    for j in range(net.room):
        if net.water[j] >= 0:
            assert out[:, net.water[j]].min() > -2e-7
    for z in range(net.zones):
        assert out[:, net.co2[z]].min() > 0
        assert out[:, net.o2[z]].min() > 0


def test_rest_is_where_time_leads(pots):
    """The steady solution equals a long run in the same fixed room."""
    k = np.column_stack([np.arange(121) * 43200.0, np.full(121, -4.0), np.full(121, 0.011)])
    y = pots.initial(294.15, 0.011 * 101325)
    assert settle(pots.net, y, np.zeros(len(ACCOUNTS)), 10.0, 300) > 0
    start = y.copy()
    start[pots.net.heat[0]] += 1.0
    out, _ = march(pots, k, start=start)
    for z in range(pots.net.zones):
        assert temperature_of(pots.net, out[-1], z) == pytest.approx(temperature_of(pots.net, y, z), abs=0.1)


def test_a_settled_state_stays(pots):
    y = pots.initial(294.15, 0.011 * 101325)
    count = settle(pots.net, y, np.zeros(len(ACCOUNTS)), 10.0, 300)
    assert 0 < count < 100
    out, _ = march(pots, np.array([[0.0, -4.0, 0.011], [86400.0, -4.0, 0.011]]), start=y)
    for z in range(pots.net.zones):
        assert temperature_of(pots.net, out[-1], z) == pytest.approx(temperature_of(pots.net, y, z), abs=0.05)


def test_order_of_the_chambers_does_not_matter():
    k = knots(48)
    one, other = two_pots(), two_pots(order=(1, 0))
    a, _ = march(one, k, factor=1e-2)
    b, _ = march(other, k, factor=1e-2)
    for name in one.zone_names:
        i, j = one.node(name), other.node(name)
        assert temperature_of(one.net, a[-1], i) == pytest.approx(temperature_of(other.net, b[-1], j), abs=1e-3)


def test_a_chamber_cut_in_two_by_a_wide_hole_stays_one():
    """Splitting a zone by an opening without resistance leaves its air as it was."""

    def pot(parts: int) -> float:
        b = Builder()
        zones = [b.zone(f"part{n}", 1e-3 / parts) for n in range(parts)]
        block = b.node("block", 100.0, 1.0, 1e-3, store=True)
        b.surface(zones[0], block, 0.004, 0.5, 2.0, 2.0, lewis=9.4e-4, scale=1e-3)
        b.connect(block, ROOM, 1.0)
        for n in range(parts - 1):
            b.opening(zones[n], zones[n + 1], (1e-3, 1e-3, 1e-3, 1e-3), 0.0, 1e2, 1e4)
        b.opening(zones[-1], ROOM, (3e-7, 2e-7, 2e-7, 3e-7), 0.0, 1e4, 1e9)
        network = b.finish()
        y = network.initial(294.15, 1100.0)
        assert settle(network.net, y, np.zeros(len(ACCOUNTS)), 10.0, 300) > 0
        z = network.node(f"part{parts - 1}")
        return float(y[network.net.water[z]] / network.net.volume[z])

    assert pot(2) == pytest.approx(pot(1), rel=1e-3)
    assert pot(4) == pytest.approx(pot(1), rel=2e-3)


def test_no_oxygen_is_gained_by_warming():
    """Cold room air that flows through warm chambers leaves them with the share of oxygen that it brought."""
    b = Builder()
    low, high = b.zone("low", 1e-3), b.zone("high", 1e-3)
    mat = b.node("mat", 50.0)
    b.surface(low, mat, 0.02, 1.0, 3.0, 3.0)
    b.heater("mat", mat, 3.0, "constant", 300.0, 1.0, mat)
    b.opening(ROOM, low, (2e-7, 1e-7, 1e-7, 2e-7), 0.0, 1e3, 1e8)
    b.opening(low, high, (2e-7, 1e-7, 1e-7, 2e-7), 0.1, 1e3, 1e8)
    b.opening(high, ROOM, (2e-7, 1e-7, 1e-7, 2e-7), 0.3, 1e3, 1e8)
    network = b.finish()
    net = network.net
    y = network.initial(275.15, 500.0)
    assert settle(net, y, np.zeros(len(ACCOUNTS)), 10.0, 300) > 0
    for z in (low, high):
        t = temperature_of(net, y, z)
        assert t > 285.0
        oxygen = y[net.o2[z]] * net.gas[0] * t / (net.pressure * net.volume[z])
        assert oxygen == pytest.approx(0.2095 * (1 - 500.0 / 101325), rel=1e-6)
