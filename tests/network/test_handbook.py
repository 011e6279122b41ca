"""The solver against closed forms and handbook examples: bodies, soil, tracer gas, zones in series, a wet body."""

import numpy as np
import pytest
from scipy.optimize import brentq

from nestwright.network.builder import ROOM, Builder
from nestwright.network.integrate import OK, ORDER4, run
from nestwright.network.steady import settle
from nestwright.physics import air, surfaces

CONDUCTANCE = (2.5e-7, 1.6e-7, 2.0e-7, 2.2e-7)
"""Invented vent: vapour, CO2, O2, heat, m3/s."""
MOLES = 101325 / (8.314462618 * 298.15)


def march(network, times, start, room=298.15):
    """States at `times`, dry room air of constant temperature."""
    net = network.net
    knots = np.column_stack([times, np.full(len(times), room - 298.15), np.zeros(len(times))])
    out, y = np.zeros((len(times), net.size)), start.copy()
    status = run(
        net,
        ORDER4,
        y,
        np.ones(len(net.heater)),
        knots,
        0.01,
        np.array([1e-3]),
        86400.0,
        np.zeros((0, 5)),
        out,
        np.zeros(6),
    )
    assert status == OK
    return out


def crossing(times, values, level):
    """Time at which the values pass a level."""
    return brentq(lambda t: np.interp(t, times, values) - level, times[0], times[-1])


def warm_to(network, node, kelvin):
    return network.net.heat[network.node(node)], kelvin - 298.15


def test_zone_with_a_vent_and_a_constant_source():
    """CO2 rises to R / (G n) as 1 - exp(-G t / V): within 1e-4 of the step."""
    volume, rate = 1e-3, 1e-7
    b = Builder()
    zone = b.zone("pot", volume)
    garden = b.node("garden", 1e5, 1.0, store=True)
    b.opening(zone, ROOM, CONDUCTANCE)
    b.garden(
        garden,
        zone,
        co2_rate=rate,
        q10=1.0,
        reference=298.15,
        half_oxygen=1e-9,
        quotient=1.0,
        heat=0.0,
        full_water=1.0,
        leaf_water=0.0,
        fails_at=400.0,
    )
    network = b.finish()
    start = network.initial(298.15, 0.0)
    times = np.linspace(0.0, 5 * volume / CONDUCTANCE[1], 41)
    out = march(network, times, start)
    found = out[:, network.net.co2[zone]] / (MOLES * volume)
    step = rate / (CONDUCTANCE[1] * MOLES)
    exact = found[0] + step * -np.expm1(-CONDUCTANCE[1] / volume * times)
    assert np.abs(found - exact).max() < 1e-4 * step


@pytest.mark.parametrize(("celsius", "rh"), [(25.0, 0.5), (20.0, 0.3), (30.0, 0.8)])
def test_wet_body_in_a_wind_of_room_air_settles_at_the_wet_surface_temperature(celsius, rh):
    """The balance of Incropera, section 6.7.2, for water, and close to the thermodynamic wet bulb."""
    t = celsius + 273.15
    b = Builder()
    zone = b.zone("wind", 1e-2)
    body = b.node("cloth", 100.0, 0.5, store=True)
    lewis = float(surfaces.mass_transfer(1.0, t, air.diffusivity_vapour(t)))
    b.surface(zone, body, 0.001, 2.0, 0.0, 0.0, lewis=lewis, scale=1e-6)
    b.opening(zone, ROOM, (1.0, 1.0, 1.0, 1.0))
    network = b.finish()
    net = network.net
    y = network.initial(t, float(air.vapour_pressure(t, rh)))
    assert settle(net, y, np.zeros(15), 10.0, 200) > 0
    water = y[net.water[body]]
    capacity = net.capacity[body] + net.water_heat[body] * water
    found = 298.15 + (net.capacity[body] * y[net.heat[body]] - net.latent[body] * water) / capacity
    # the network takes the concentration of vapour at 25 degC wherever it is: here 2 % of 9 K at most
    assert found == pytest.approx(surfaces.wet_surface_temperature(t, rh), abs=0.2)
    assert found == pytest.approx(float(air.wet_bulb(t, rh)), abs=0.3)
