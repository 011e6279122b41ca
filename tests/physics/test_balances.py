"""Balances of surfaces that the network does not carry: a volatile liquid, and radiation that is not linearised."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from nestwright.physics import air, convection, surfaces


def test_wet_cloth_jar_of_incropera_6_7():
    """Wetting agent, 200 kg/kmol, 100 kJ/kg, 5000 Pa, D 0.2e-4, in dry air of 40 degC: 5.9 degC (example 6.7)."""
    per_mass = 1 / float(surfaces.mass_transfer(1.0, 300.0, 0.2e-4))
    # rho 1.16, cp 1007 and a = 22.5e-6 at 300 K by hand
    assert per_mass == pytest.approx(1.16 * 1007 * (22.5 / 20) ** (2 / 3), rel=0.02)
    jar = surfaces.evaporating_temperature(313.0, lambda t: 5000.0 / (8.314 * t), 0.2, 1e5, per_mass)
    assert jar - 273.15 == pytest.approx(5.9, abs=0.5)


def test_panel_of_incropera_5_3():
    """Panel in an oven, then in the room: 150 degC after 123 to 124 s, 37 degC after 986 to 989 s (example 5.3).

    Radiation is not linearised here (the network's is): its coefficient follows the temperature, by an ODE of its own.
    """
    rho, c, thick, emissivity = 2770.0, 875.0, 0.003, 0.8

    def law(h, air_, around):
        def rate(_, t):
            radiation = surfaces.radiative_coefficient(emissivity, t, around) * (t - around)
            return -2 * (h * (t - air_) + radiation) / (rho * c * thick)

        return rate

    oven = law(40.0, 448.0, 448.0)
    heated = solve_ivp(oven, (0, 1000), [298.0], rtol=1e-8, dense_output=True)
    times = np.linspace(0, 1000, 200001)
    first = times[np.argmax(heated.sol(times)[0] > 423.0)]
    assert 122.5 < first < 124.5
    end = first + 300.0
    cooled = solve_ivp(law(10.0, 298.0, 298.0), (0, 2000), [heated.sol(end)[0]], rtol=1e-8, dense_output=True)
    cold = np.linspace(0, 2000, 200001)
    total = end + cold[np.argmax(cooled.sol(cold)[0] < 310.0)]
    assert 984 < total < 991


def test_film_and_radiation_of_a_room_wall_make_iso_6946():
    """A wall near room temperature: 2.5 W/(m2 K) of convection and 0.9 x 5.7 of radiation make 0.13 m2 K/W."""
    # ISO 6946:2017, annex C
    radiation = float(surfaces.radiative_coefficient(0.9, 293.15, 293.15))
    assert 1 / (2.5 + radiation) == pytest.approx(0.13, abs=0.002)


def test_small_bodies_convect_more_than_large_ones():
    small, large = (float(surfaces.film_coefficient("vertical", 299.0, 298.0, x)) for x in (0.05, 0.5))
    ra = float(convection.rayleigh(299.0, 298.0, 0.05))
    assert small > 1.5 * large
    assert math.log10(ra) < 5


def test_the_rest_of_dry_air_is_nitrogen_with_its_argon():
    """0.7808 N2 and 0.0093 Ar by volume (28.0134 and 39.948 g/mol); with O2 and CO2 they make the air that is given."""
    gas = air.gas_constants()
    nitrogen_argon = (0.7808 * 28.0134e-3 + 0.0093 * 39.948e-3) / (0.7808 + 0.0093)
    assert gas["M_rest"] == pytest.approx(nitrogen_argon, rel=1e-4)
    assert gas["air_heat"] / gas["M_rest"] == pytest.approx(1006.0 * 28.966e-3 / nitrogen_argon, rel=2e-3)
