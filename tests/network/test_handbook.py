"""The solver against closed forms and handbook examples: bodies, soil, tracer gas, zones in series, a wet body."""

import itertools

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erfinv

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


def test_thermocouple_of_incropera_5_1():
    """Junction of 0.706 mm in gas of 200 degC, h 400 W/(m2 K), from 25 to 199 degC: 5.2 s (Incropera, example 5.1)."""
    d = 0.706e-3
    b = Builder()
    junction = b.node("junction", 8500.0 * 400.0 * np.pi * d**3 / 6)
    b.connect(junction, ROOM, 400.0 * np.pi * d**2)
    network = b.finish()
    start = network.initial(473.15, 0.0)
    place, value = warm_to(network, "junction", 298.15)
    start[place] = value
    times = np.linspace(0.0, 8.0, 401)
    found = march(network, times, start, 473.15)[:, place] + 298.15 - 273.15
    assert crossing(times, found, 199.0) == pytest.approx(5.2, abs=0.05)


def test_frost_in_the_soil_of_incropera_5_6():
    """Soil at 20 degC, surface at -15 degC for 60 days: frost to 0.68 m (Incropera, example 5.6)."""
    k, rho, c, slice_, count = 0.52, 2050.0, 1840.0, 0.04, 150
    b = Builder()
    nodes = [b.node(f"soil{i}", rho * c * slice_) for i in range(count)]
    b.connect(nodes[0], ROOM, 2 * k / slice_)
    for upper, lower in itertools.pairwise(nodes):
        b.connect(upper, lower, k / slice_)
    network = b.finish()
    start = network.initial(258.15, 0.0)
    places = [network.net.heat[network.node(f"soil{i}")] for i in range(count)]
    start[places] = 293.15 - 298.15
    times = np.linspace(0.0, 60 * 86400.0, 13)
    profile = march(network, times, start, 258.15)[-1, places] + 298.15
    depth = np.interp(273.15, profile, (np.arange(count) + 0.5) * slice_)
    assert depth == pytest.approx(0.68, abs=0.01)
    exact = 2 * np.sqrt(k / (rho * c) * 60 * 86400.0) * erfinv(15 / 35)
    assert depth == pytest.approx(exact, rel=2e-3)


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


def test_tracer_decay_recovers_the_air_change():
    """CO2 as a tracer falls as exp(-n t): the slope of its logarithm gives n within 1 % (ASTM E741)."""
    volume = 2e-3
    b = Builder()
    zone = b.zone("pot", volume)
    b.opening(zone, ROOM, CONDUCTANCE)
    network = b.finish()
    start = network.initial(298.15, 0.0)
    place = network.net.co2[zone]
    room = start[place]
    start[place] += 0.02 * MOLES * volume
    times = np.linspace(0.0, 3 * volume / CONDUCTANCE[1], 31)
    excess = march(network, times, start)[:, place] - room
    slope = np.polyfit(times, np.log(excess), 1)[0]
    assert -slope == pytest.approx(CONDUCTANCE[1] / volume, rel=0.01)


@pytest.mark.parametrize("which", [0, 1])
def test_time_constants_of_two_zones_in_series(which):
    """Room, outer zone, inner zone: each eigenvector decays with its own time constant, within 0.1 %."""
    volumes, inner, outer = (1e-3, 3e-3), 1.2e-7, 2.9e-7
    b = Builder()
    zones = [b.zone("inner", volumes[0]), b.zone("outer", volumes[1])]
    b.opening(zones[0], zones[1], (inner, inner, inner, inner))
    b.opening(zones[1], ROOM, (outer, outer, outer, outer))
    network = b.finish()
    matrix = np.array([[-inner / volumes[0], inner / volumes[0]], [inner / volumes[1], -(inner + outer) / volumes[1]]])
    values, vectors = np.linalg.eig(matrix)
    start = network.initial(298.15, 0.0)
    places = [network.net.co2[z] for z in zones]
    oxygen = [network.net.o2[z] for z in zones]
    room = start[places].copy()
    added = 1e-4 * MOLES * np.array(volumes) * vectors[:, which]
    start[places] += added
    start[oxygen] -= added
    times = np.linspace(0.0, 2 / abs(values[which]), 21)
    excess = (march(network, times, start)[:, places] - room) / (MOLES * np.array(volumes))
    for column in range(2):
        slope = np.polyfit(times, np.log(np.abs(excess[:, column])), 1)[0]
        assert slope == pytest.approx(values[which], rel=1e-3)


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
