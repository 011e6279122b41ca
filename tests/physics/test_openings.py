"""Openings: measured tubes, limits of holes and slots, exchange through one opening, a respiring container."""

import csv
import math
from importlib import resources

import numpy as np
import pytest
from scipy.special import ellipk

from nestwright.physics import air, flow, openings
from nestwright.physics.container import respiring_container


def exponent(law, low, high):
    return math.log(law(high) / law(low)) / math.log(high / low)


class TestFonseca:
    """One tube between a jar and a room: Fonseca et al. 2000, J Food Eng 43:9, 10.1016/S0260-8774(99)00122-3."""

    @pytest.mark.parametrize("celsius", [5, 10, 20])
    @pytest.mark.parametrize("diameter", [0.006, 0.012, 0.030])
    def test_ratio_of_co2_to_oxygen(self, celsius, diameter):
        t = celsius + 273.15
        co2 = openings.hole_conductance(air.diffusivity_co2(t, 101325.0), diameter, 0.012)
        o2 = openings.hole_conductance(air.diffusivity_o2(t, 101325.0), diameter, 0.012)
        assert float(co2 / o2) == pytest.approx(0.81, abs=0.05)

    @pytest.mark.parametrize("length", [0.009, 0.013, 0.017])
    def test_grows_faster_than_diameter_slower_than_area(self, length):
        # about d^1.4 to d^1.5 in the paper's fit; exponent from memory
        assert 1.3 < exponent(lambda d: openings.hole_conductance(2e-5, d, length), 0.006, 0.030) < 1.7

    @pytest.mark.parametrize("diameter", [0.006, 0.012, 0.030])
    def test_falls_with_length_less_than_its_inverse(self, diameter):
        assert -1.0 < exponent(lambda x: openings.hole_conductance(2e-5, diameter, x), 0.009, 0.017) < -0.2

    def test_temperature_hardly_matters(self):
        five, twenty = (
            openings.hole_conductance(air.diffusivity_co2(t, 101325.0), 0.012, 0.012) for t in (278.15, 293.15)
        )
        assert 1.0 < float(twenty / five) < 1.11


def test_narrow_tube_of_geankoplis():
    """Water evaporates up a narrow tube into dry air: 1.593e-7 kmol/(m2 s) (Geankoplis, example 6.2-2)."""
    vapour, length, diffusivity, t = 17.54 * 133.322, 0.1524, 0.250e-4, 293.0
    moles = 101325.0 / (8.314 * t)
    flux = diffusivity / length * moles * vapour / 101325.0 * openings.stefan_factor(vapour, 0.0)
    assert float(flux) / 1e3 == pytest.approx(1.593e-7, rel=2e-3)


def test_end_correction_fades_in_a_long_tube():
    long = openings.hole_conductance(2.5e-5, 0.006, 3.0)
    assert float(long) == pytest.approx(2.5e-5 * math.pi / 4 * 0.006**2 / 3.0, rel=2e-3)


def test_hole_without_length_is_a_disc():
    assert float(openings.hole_conductance(2.5e-5, 0.006, 0.0)) == pytest.approx(2.5e-5 * 0.006, rel=1e-12)


def test_crowded_holes_pass_less_at_their_ends_than_lone_ones_but_more_than_none():
    lone = openings.hole_conductance(2.5e-5, 0.002, 0.003, 50)
    crowded = openings.hole_conductance(2.5e-5, 0.002, 0.003, 50, pitch=0.004)
    bare = 50 * 2.5e-5 * math.pi / 4 * 0.002**2 / 0.003
    # neighbours share the air before them in the aggregate; the correction of one hole is shorter
    assert float(lone) < float(crowded) < bare


@pytest.mark.parametrize("slender", [5, 20, 100])
def test_a_slot_in_a_wall_without_depth_passes_as_an_ellipse_of_its_area_and_shape(slender):
    """pi a / K(k) for half axes a and b, k^2 = 1 - (b/a)^2 (Rayleigh, Theory of Sound, section 306, from memory)."""
    width = 0.002
    length = slender * width
    half = length / math.sqrt(math.pi)
    ellipse = math.pi * half / ellipk(1 - slender**-2)
    assert float(openings.slot_conductance(1.0, width, length, 0.0)) == pytest.approx(ellipse, rel=0.12)


def test_slot_lies_between_its_wall_alone_and_a_row_of_touching_holes():
    slot = float(openings.slot_conductance(2.5e-5, 0.002, 0.05, 0.003))
    wall = 2.5e-5 * 0.002 * 0.05 / 0.003
    touching = float(openings.hole_conductance(2.5e-5, 0.002, 0.003, 25))
    assert 0.4 * touching < slot < min(wall, touching)


def test_mesh_of_the_finest_wire_leaves_the_port_as_it_is_and_a_coarse_one_adds_its_depth_over_its_open_share():
    port = float(openings.hole_conductance(2.5e-5, 0.02, 0.0))
    assert float(openings.mesh_conductance(2.5e-5, 0.02, 1e-3, 1e-9)) == pytest.approx(port, rel=1e-5)
    added = 1 / float(openings.mesh_conductance(2.5e-5, 0.02, 1e-3, 0.5e-3)) - 1 / port
    # two wires thick, (1 / 1.5)^2 open
    assert added == pytest.approx(1e-3 / (2.5e-5 * math.pi / 4 * 0.02**2 / 2.25), rel=1e-9)


def test_mesh_over_a_port_passes_less_than_the_port():
    port = float(openings.hole_conductance(2.5e-5, 0.02, 0.0))
    coarse = float(openings.mesh_conductance(2.5e-5, 0.02, 2e-3, 0.9e-3))
    fine = float(openings.mesh_conductance(2.5e-5, 0.02, 0.25e-3, 0.16e-3))
    assert 0.6 * port < coarse < port
    # thin wire: a fine mesh hardly resists diffusion; the port's ends do
    assert coarse < fine < port


class TestEpstein:
    """Light over heavy through one hole in a level wall: Epstein 1988, 10.1115/1.3250589 (coefficients from memory)."""

    def test_one_peak_between_two_regimes(self):
        ratios = np.geomspace(0.01, 10, 200)
        number = np.array([flow.froude_level(x) for x in ratios])
        peak = int(number.argmax())
        assert 0.3 < ratios[peak] < 1.0
        assert 0.08 < number[peak] < 0.11
        assert (np.diff(number[: peak + 1]) > 0).all()
        assert (np.diff(number[peak:]) < 0).all()

    def test_exchange_follows_the_root_of_density_in_wide_holes(self):
        wide = [openings.counterflow_horizontal(s, 0.3, 0.3) for s in (0.04, 0.16)]
        assert wide[1] / wide[0] == pytest.approx(2.0, rel=0.02)

    def test_nothing_below_the_critical_rayleigh_number_and_nothing_when_stable(self):
        assert openings.counterflow_horizontal(0.01, 0.003, 0.02) == 0.0
        assert openings.counterflow_horizontal(-0.1, 0.03, 0.003) == 0.0
        assert openings.counterflow_horizontal(0.01, 0.03, 0.003) > 0.0


def test_upright_opening_is_a_third_of_the_orifice_flow():
    """Brown & Solvason 1962: Q = Cd A / 3 sqrt(g H drho/rho) once inertia rules."""
    d, s = 0.3, 0.05
    ideal = 0.6 / 3 * math.pi / 4 * d**2 * math.sqrt(9.80665 * d * s / float(air.density(298.15, 0.5)))
    assert openings.counterflow_vertical(s, d, 0.003) == pytest.approx(ideal, rel=0.05)
    assert openings.counterflow_vertical(-s, d, 0.003) == openings.counterflow_vertical(s, d, 0.003)


def test_two_openings_by_hand():
    """Linden 1999: Q = A* sqrt(g' H), with Cd sqrt 2 a / sqrt 2 for two like openings."""
    q = float(openings.two_opening_flow(1e-4, 1e-4, 0.2, 1.17, 1.19, 0.6))
    assert q == pytest.approx(0.6 * 1e-4 * math.sqrt(9.80665 * 0.2 * 0.02 / 1.18), rel=1e-9)
    assert float(openings.two_opening_flow(1e-4, 1e-4, 0.2, 1.19, 1.17, 0.6)) == pytest.approx(-q)


def test_respiring_container_by_hand():
    """Kwon et al. 2013, 10.1155/2013/267629: what is made leaves by diffusion; x = x_room + R / (G n)."""
    g = float(openings.hole_conductance(1.6e-5, 0.006, 0.003, 4))
    moles = 101325 / (8.314462618 * 298.15)
    co2, o2 = respiring_container(2e-7, 0.9, g, 1.25 * g, 4e-4, 0.2095)
    assert (co2 - 4e-4) * g * moles == pytest.approx(2e-7, rel=1e-9)
    assert (0.2095 - o2) * 1.25 * g * moles == pytest.approx(2e-7 / 0.9, rel=1e-9)
    assert respiring_container(1.0, 1.0, g, g, 4e-4, 0.2095)[1] == 0.0


def test_six_millimetre_hole_of_a_day():
    """One 6 mm hole through 3 mm: about 0.1 g of water a day between 25 degC 98 % and 21 degC 50 % (sum by hand)."""
    g = openings.hole_conductance(air.diffusivity_vapour(296.15, 101325.0), 0.006, 0.003)
    inside, outside = air.vapour_pressure(298.15, 0.98), air.vapour_pressure(294.15, 0.5)
    day = g * 0.018015 / (8.3145 * 296.15) * (inside - outside) * 86400
    assert float(day) == pytest.approx(1.1e-4, rel=0.1)


# Greenspan 1977, table 1 (coefficients from memory) and its uncertainty at 25 degC (from memory), % RH
POLYNOMIALS = {
    "NaCl": ((75.5164, 0.0398321, -0.265459e-2, 0.284800e-4), 0.12),
    "KCl": ((88.6190, -0.193340, 0.899706e-3), 0.26),
    "MgCl2": ((33.6686, -0.00797397, -0.108988e-2), 0.16),
    "K2SO4": ((98.7792, -0.0590502), 0.45),
}
AT_25 = {"LiCl": 11.30, "MgCl2": 32.78, "Mg(NO3)2": 52.89, "NaCl": 75.29, "KCl": 84.34, "KNO3": 93.58, "K2SO4": 97.30}


def salts():
    text = (resources.files("nestwright.data") / "salts.csv").read_text("utf-8")
    rows = csv.DictReader(text.splitlines())
    return {(r["salt"], float(r["temperature_degC"])): float(r["relative_humidity_pct"]) for r in rows}


@pytest.mark.parametrize("salt", AT_25)
def test_salts_at_25_degrees(salt):
    """Greenspan 1977, J Res NBS 81A:89; ASTM E104."""
    assert salts()[salt, 25.0] == AT_25[salt]


@pytest.mark.parametrize("salt", POLYNOMIALS)
def test_salts_lie_on_the_polynomials_of_the_paper(salt):
    coefficients, bound = POLYNOMIALS[salt]
    table = salts()
    for t in (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0):
        exact = sum(c * t**i for i, c in enumerate(coefficients))
        assert table[salt, t] == pytest.approx(exact, abs=min(0.03, bound))
