"""The network against closed forms and reported behaviour: tests/reference/network.csv, one case a row.

A constant source and a wet body stand in test_handbook.py, balances that no network carries in tests/physics.
"""

import csv
import itertools
import math
from pathlib import Path

import numpy as np
import pytest

from nestwright.data import assembly_values
from nestwright.network.arrays import ACCOUNTS, T_REF
from nestwright.network.builder import ROOM, Builder, Network
from nestwright.network.integrate import OK, ORDER4, run, temperature_of
from nestwright.network.steady import settle
from nestwright.physics import air, flow, openings, surfaces
from nestwright.physics.container import respiring_container

PRESSURE = 101325.0
CASES = {}


def case(name, quantity):
    def keep(function):
        CASES[name, quantity] = function
        return function

    return keep


def rows():
    with (Path(__file__).parents[1] / "reference/network.csv").open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['case']}: {row['quantity']}")
def test_value(row):
    found = CASES[row["case"], row["quantity"]]()
    assert found == pytest.approx(float(row["expected"]), rel=0, abs=float(row["tolerance"])), row["source"]


def test_every_case_has_its_row():
    assert {(row["case"], row["quantity"]) for row in rows()} == set(CASES)


def march(network: Network, times, temperature=T_REF, humidity=0.5, change=None):
    """States at `times` (s) in a room of constant air, from a start that `change` may disturb."""
    vapour = humidity * float(air.saturation_pressure(temperature))
    knots = np.column_stack(
        [times, np.full(len(times), temperature - T_REF), np.full(len(times), vapour / network.net.pressure)]
    )
    y = network.initial(temperature, vapour)
    if change:
        change(y)
    out = np.zeros((len(times), network.net.size))
    on = np.ones(len(network.net.heater))
    # a hundredth of the error that the program itself allows, so that the model and not the step is judged
    assert run(network.net, ORDER4, y, on, knots, 0.01, np.array([1e-3]), 1e9, np.zeros((0, 5)), out, np.zeros(6)) == OK
    return out


def rest(network: Network, temperature, humidity):
    y = network.initial(temperature, humidity * float(air.saturation_pressure(temperature)))
    assert settle(network.net, y, np.zeros(len(ACCOUNTS)), 10.0, 300) > 0
    return y


def path(co2):
    """Conductances of vapour, CO2, O2 and heat; only that of CO2 counts here."""
    return (co2, co2, co2, co2)


@case("tracer decay", "air changes per second over n")
def tracer():
    b = Builder(room_co2=0.0)
    z = b.zone("pot", 1e-3)
    b.opening(z, ROOM, path(2e-7))
    network = b.finish()
    moles = PRESSURE * 1e-3 / (8.314462618 * T_REF)
    times = np.linspace(0, 10000, 11)

    def release(y):
        y[network.net.co2[z]] = 0.01 * moles

    c = march(network, times, change=release)[:, network.net.co2[z]]
    n = -np.polyfit(times, np.log(c), 1)[0]
    return n / (2e-7 / 1e-3)


def series(which):
    """Time constant of one mode of two zones in series over its exact value."""
    v, g, h = (1e-3, 2e-3), 1.5e-7, 3e-7
    matrix = np.array([[-g / v[0], g / v[0]], [g / v[1], -(g + h) / v[1]]])
    values, vectors = np.linalg.eig(matrix)
    mode = np.argsort(-values)[which]
    b = Builder(room_co2=0.01)
    first, second = b.zone("a", v[0]), b.zone("b", v[1])
    b.opening(first, second, path(g))
    b.opening(second, ROOM, path(h))
    network = b.finish()
    moles = PRESSURE / (8.314462618 * T_REF)
    amount = 1e-4 * moles * vectors[:, mode] * np.array(v)
    tau = -1 / values[mode]

    def disturb(y):
        y[network.net.co2[first]] += amount[0]
        y[network.net.co2[second]] += amount[1]

    times = np.array([0.0, tau])
    change = march(network, times, change=disturb) - march(network, times)
    c = change[:, network.net.co2[first]]
    return 1 / math.log(c[0] / c[1])


@case("two zones in series", "slow time constant over its exact value")
def slow():
    return series(0)


@case("two zones in series", "fast time constant over its exact value")
def fast():
    return series(1)


@case("semi-infinite soil", "depth of frost in m")
def soil():
    conductivity, capacity, step, count = 0.52, 2050 * 1840.0, 0.04, 150
    b = Builder()
    b.opening(b.zone("pot", 1e-3), ROOM, path(2e-7))
    nodes = [b.node(f"soil {i}", capacity * step) for i in range(count)]
    b.connect(nodes[0], ROOM, conductivity / (step / 2))
    for one, other in itertools.pairwise(nodes):
        b.connect(one, other, conductivity / step)
    network = b.finish()

    def warm(y):
        for j in nodes:
            y[network.net.heat[j]] += 35.0

    out = march(network, np.array([0.0, 60 * 86400.0]), temperature=258.15, change=warm)
    found = [temperature_of(network.net, out[1], j) for j in nodes]
    return float(np.interp(273.15, found, step * (np.arange(count) + 0.5)))


@case("thermocouple junction", "seconds from 25 to 199 degC in gas of 200 degC")
def junction():
    d = 0.706e-3
    mass, area = 8500 * math.pi * d**3 / 6, math.pi * d**2
    b = Builder()
    b.opening(b.zone("pot", 1e-3), ROOM, path(2e-7))
    body = b.node("junction", mass * 400)
    b.connect(body, ROOM, 400 * area)
    network = b.finish()
    # the same ratio of differences (175 K to 1 K) at the temperatures of a room
    times = np.linspace(0, 10, 201)

    def cool(y):
        y[network.net.heat[body]] -= 17.5

    out = march(network, times, change=cool)
    below = np.array([T_REF - temperature_of(network.net, y, body) for y in out])
    return float(np.interp(-math.log(0.1), -np.log(below), times))


@case("body with a heater", "temperature rise at one time constant over its final value")
def heated():
    b = Builder()
    b.opening(b.zone("pot", 1e-3), ROOM, path(2e-7))
    body = b.node("body", 100.0)
    b.connect(body, ROOM, 0.25)
    b.heater("mat", body, 1.0, "constant", T_REF, 1.0, body)
    network = b.finish()
    out = march(network, np.array([0.0, 400.0, 40000.0]))
    rise = [temperature_of(network.net, y, body) - T_REF for y in out]
    return rise[1] / rise[2]


LEWIS = float(surfaces.mass_transfer(1.0, T_REF, float(air.diffusivity_vapour(T_REF))))


def goods():
    """CO2 and O2 that the network and diffusion alone give: ((CO2, O2), (CO2, O2))."""
    conductance = [float(openings.hole_conductance(law(T_REF), 0.003, 0.003, 2))
                   for law in (air.diffusivity_vapour, air.diffusivity_co2, air.diffusivity_o2)]  # fmt: skip
    b = Builder()
    z = b.zone("jar", 1e-3)
    garden = b.node("goods", 100.0, 1.0, store=True)
    b.connect(garden, ROOM, 1e3)
    b.garden(
        garden, z, co2_rate=2e-8, q10=2.0, reference=T_REF, half_oxygen=1e-9, quotient=1.0, heat=4.7e5,
        full_water=1.0, leaf_water=0.0, fails_at=400.0,
    )  # fmt: skip
    exchange = tuple(2 * x for x in flow.exchange_coefficients(0.003, 0.003, False, T_REF, PRESSURE))
    b.opening(z, ROOM, (*conductance, conductance[0]), exchange=(exchange[0], exchange[1], 0.0))
    network = b.finish()
    y = rest(network, T_REF, 0.5)
    net = network.net
    # of dry air, which makes both ratios 1.6 % higher than of moist air
    total = PRESSURE * 1e-3 / (8.314462618 * temperature_of(net, y, z)) - y[net.water[z]] / 0.018015
    dry = (y[net.co2[z]] / total, y[net.o2[z]] / total)
    return dry, respiring_container(2e-8, 1.0, conductance[1], conductance[2], 4.5e-4, 0.2095)


@case("container of respiring goods", "CO2 in mole fraction over that of diffusion alone")
def goods_co2():
    found, alone = goods()
    return found[0] / alone[0]


@case("container of respiring goods", "O2 lost over that of diffusion alone")
def goods_o2():
    found, alone = goods()
    return (0.2095 - found[1]) / (0.2095 - alone[1])


@case("closed pot over water", "relative humidity after half an hour")
def closed():
    b = Builder()
    z = b.zone("pot", 1e-3)
    water = b.node("water", 1e5, 1.0)
    b.connect(water, ROOM, 1e2)
    values = assembly_values()
    warm, cool = values["convection_unstable"].value, values["convection_stable"].value
    b.surface(z, water, 5e-3, 0.5, warm / 0.08**0.25, cool / 0.08**0.25, lewis=LEWIS)
    network = b.finish()
    y = march(network, np.array([0.0, 1800.0]))[1]
    t = temperature_of(network.net, y, z)
    vapour = y[network.net.water[z]] / 0.01801528 * 8.314462618 * t / 1e-3
    return vapour / float(air.saturation_pressure(t))
