"""The ways to rest that a map of rooms takes from a neighbour's state end where the way from cold ends."""

import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.network.arrays import ACCOUNTS
from nestwright.network.builder import ROOM, Builder, Network
from nestwright.network.integrate import temperature_of
from nestwright.network.steady import scratch_of, settle, settle_by_days, settle_growing, settle_near

sys.path.insert(0, str(Path(__file__).parent))

from nets import spread, two_pots


@pytest.fixture(scope="module")
def pots() -> Network:
    return two_pots()


@pytest.fixture(scope="module")
def box() -> Network:
    """A chamber with a warm mat and a damp block, all of whose values have a rest."""
    b = Builder()
    z = b.zone("box", 1e-3)
    side, block = b.node("side", 200.0), b.node("block", 100.0, 1.0, 1e-3, store=True)
    b.surface(z, side, 0.05, 0.5, 2.0, 2.0)
    b.connect(side, ROOM, 0.3)
    b.surface(z, block, 0.004, 0.5, 2.0, 2.0, lewis=9.4e-4, scale=1e-3)
    b.connect(block, ROOM, 0.1)
    b.heater("mat", side, 1.0, "constant", 300.0, 1.0, side)
    b.opening(z, ROOM, spread(0.01), 0.02, 1e4, 1e9)
    return b.finish()


def at_rest(pots: Network, temperature: float, vapour: float) -> np.ndarray:
    y = pots.initial(298.15 + temperature, vapour * 101325)
    assert settle(pots.net, y, np.zeros(len(ACCOUNTS)), 10.0, 300) > 0
    return y


def moved(pots: Network, y: np.ndarray, temperature: float, vapour: float) -> np.ndarray:
    """A state with the room's air changed."""
    net, there = pots.net, y.copy()
    there[net.heat[net.room]], there[net.water[net.room]] = temperature, vapour
    return there


def air(pots: Network, y: np.ndarray) -> list[float]:
    """Temperature of each zone, K, and its vapour, mol/m3."""
    net = pots.net
    warm = [temperature_of(net, y, z) for z in range(net.zones)]
    return warm + [float(y[net.water[z]] / net.volume[z]) for z in range(net.zones)]


WAYS = {
    "near": lambda net, y: settle_near(net, y, scratch_of(net), np.bool_(False))[0],
    "growing": lambda net, y: settle_growing(net, y, scratch_of(net)),
    "days": lambda net, y: settle_by_days(net, y, scratch_of(net), np.int64(80)),
}


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", ["box", "pots"])
def test_a_neighbour_leads_to_the_same_rest(request, name, way):
    network = request.getfixturevalue(name)
    y = moved(network, at_rest(network, -4.0, 0.011), -3.5, 0.0112)
    count = WAYS[way](network.net, y)
    if (name, way) == ("pots", "near"):
        assert count == 0  # films that come and go: Newton's steps alone do not end
        return
    assert 0 < count <= 80
    assert air(network, y) == pytest.approx(air(network, at_rest(network, -3.5, 0.0112)), abs=0.05)


def test_factors_at_hand_serve_a_near_neighbour(box):
    y, s = moved(box, at_rest(box, -4.0, 0.011), -3.99, 0.011), scratch_of(box.net)
    first, known = settle_near(box.net, y, s, np.bool_(False))
    assert first > 0
    assert known
    y = moved(box, y, -3.98, 0.011)
    again, _ = settle_near(box.net, y, s, np.bool_(True))
    assert 0 < again <= 12
    assert air(box, y) == pytest.approx(air(box, at_rest(box, -3.98, 0.011)), abs=1e-3)


@pytest.mark.parametrize("way", ["near", "growing"])
def test_far_from_rest_the_short_ways_give_up(pots, way):
    y = moved(pots, at_rest(pots, -4.0, 0.011), -3.9, 0.01105)
    y[pots.net.co2[0]] *= 1e6
    assert WAYS[way](pots.net, y) == 0


def test_steps_of_days_shrink_where_they_are_too_bold_and_end_when_they_are_used_up(pots):
    y = moved(pots, at_rest(pots, -4.0, 0.011), -3.9, 0.01105)
    y[pots.net.heat[0]] += 25.0
    few = y.copy()
    assert settle_by_days(pots.net, y, scratch_of(pots.net), np.int64(200)) > 0
    assert air(pots, y) == pytest.approx(air(pots, at_rest(pots, -3.9, 0.01105)), abs=0.05)
    assert settle_by_days(pots.net, few, scratch_of(pots.net), np.int64(3)) == 0


def test_films_that_trade_places_for_ever_are_damped_to_rest(pots):
    # a warm and nearly saturated room: without the damping it is not at rest after 300 iterations
    y = pots.initial(298.15 - 2.0, 0.026 * 101325)
    assert settle(pots.net, y, np.zeros(len(ACCOUNTS)), 10.0, 100) > 0
