"""Properties that hold for every air and every hole: searched by hypothesis."""

import numpy as np
from hypothesis import example, given
from hypothesis import strategies as st

from nestwright.physics import air, convection, flow, openings, surfaces, walls

temperatures = st.floats(274.0, 323.0)
humidities = st.floats(0.02, 1.0)
pressures = st.floats(6e4, 1.06e5)
diameters = st.floats(2e-4, 0.08)
lengths = st.floats(0.0, 0.2)
steps = st.floats(1.001, 3.0)


@given(temperatures, st.floats(0.01, 20.0))
def test_saturation_pressure_rises(t, step):
    assert air.saturation_pressure(t + step) > air.saturation_pressure(t)


@given(temperatures, humidities, pressures)
def test_dew_point_inverts_saturation(t, rh, p):
    dew = float(air.dew_point(t, rh, p))
    assert abs(float(air.saturation_pressure(dew)) / float(air.vapour_pressure(t, rh)) - 1) < 1e-9
    assert dew <= t + 1e-9


@given(temperatures, st.floats(0.02, 0.999), pressures)
def test_wet_bulb_lies_between_dew_point_and_dry_bulb(t, rh, p):
    assert float(air.dew_point(t, rh, p)) - 1e-6 <= float(air.wet_bulb(t, rh, p)) <= t + 1e-6


@given(temperatures, st.floats(0.02, 0.98), pressures)
def test_wet_bulb_and_humidity_ratio_rise_with_humidity(t, rh, p):
    assert air.wet_bulb(t, rh + 0.02, p) > air.wet_bulb(t, rh, p)
    assert air.humidity_ratio(t, rh + 0.02, p) > air.humidity_ratio(t, rh, p)


@given(temperatures, humidities, pressures)
def test_moist_air_is_lighter_and_co2_makes_it_heavier(t, rh, p):
    assert air.density(t, rh, p) < air.density(t, 0.0, p)
    assert air.density(t, rh, p, 0.03) > air.density(t, rh, p)
    assert 0.5 < air.density(t, rh, p) < 1.4


@given(temperatures, pressures, st.floats(0.5, 10.0))
def test_diffusivities_keep_their_order_and_rise_with_warmth(t, p, step):
    vapour, o2, co2 = air.diffusivity_vapour(t, p), air.diffusivity_o2(t, p), air.diffusivity_co2(t, p)
    assert vapour > o2 > co2 > 1e-5
    assert air.diffusivity_vapour(t + step, p) > vapour
    assert air.diffusivity_vapour(t, 1.01 * p) < vapour


@given(diameters, lengths, steps)
def test_conductance_rises_with_diameter_and_falls_with_length(d, length, k):
    one = openings.hole_conductance(2.5e-5, d, length)
    assert openings.hole_conductance(2.5e-5, k * d, length) > one
    assert openings.hole_conductance(2.5e-5, d, k * length + 1e-5) < one
    assert 0 < one <= 2.5e-5 * d * (1 + 1e-12)


@given(diameters, st.floats(1e-4, 0.2), steps)
def test_tube_resists_less_when_wider_and_more_when_longer(d, length, k):
    one = flow.hole_resistance(d, length, 298.15)
    assert flow.hole_resistance(k * d, length, 298.15) < one
    assert flow.hole_resistance(d, k * length, 298.15) > one


@given(st.floats(0.005, 0.06), st.floats(1e-4, 0.05), st.floats(1e-3, 0.2), steps)
def test_exchange_is_smooth_through_zero_and_rises_with_the_difference(d, length, s, k):
    one = openings.counterflow_vertical(s, d, length)
    assert openings.counterflow_vertical(k * s, d, length) > one > 0
    assert openings.counterflow_vertical(0.0, d, length) == 0
    assert openings.counterflow_vertical(1e-9, d, length) < 1e-3 * one
    assert openings.counterflow_horizontal(k * s, d, length) >= openings.counterflow_horizontal(s, d, length) >= 0


@given(st.floats(-50.0, 50.0), st.floats(1e-7, 1e-3))
def test_orifice_flow_is_odd(dp, area):
    assert openings.orifice_flow(dp, area, 1.2) == -openings.orifice_flow(-dp, area, 1.2)


@given(st.floats(1e-4, 5e-3), st.floats(5e-5, 2e-3))
def test_open_share_of_mesh_is_a_share(aperture, wire):
    assert 0 < openings.mesh_open_area(aperture, wire) < 1
    assert openings.mesh_open_area(1.1 * aperture, wire) > openings.mesh_open_area(aperture, wire)


@given(st.floats(0.0, 5e4), st.floats(0.0, 5e4))
@example(0.0, 0.0004)
def test_stefan_factor_is_at_least_one_and_symmetric(a, b):
    one = float(openings.stefan_factor(a, b))
    assert one >= 1 - 1e-12
    assert abs(one / float(openings.stefan_factor(b, a)) - 1) < 1e-12


@given(st.floats(285.0, 310.0), st.floats(0.1, 15.0), st.floats(0.02, 0.5), pressures)
def test_film_coefficient_rises_with_difference_and_the_unstable_side_is_the_quicker(t, d, size, p):
    for way in surfaces.ORIENTATIONS:
        one = surfaces.film_coefficient(way, t + d, t, size, p)
        assert 0 < one < 100
        assert surfaces.film_coefficient(way, t + 1.5 * d, t, size, p) > 0.98 * one
    assert surfaces.film_coefficient("unstable", t + d, t, size) >= surfaces.film_coefficient("stable", t + d, t, size)


@given(st.floats(1.0, 1e9), steps)
def test_nusselt_numbers_rise_with_rayleigh(ra, k):
    for law in (convection.nusselt_vertical, convection.nusselt_unstable, convection.nusselt_stable):
        assert law(k * ra) > law(ra)
    for law in (convection.nusselt_side_heated, convection.nusselt_floor_heated):
        assert law(k * ra) >= law(ra) >= 1


@given(temperatures, st.floats(0.05, 0.99), pressures)
def test_wet_surface_lies_between_dew_point_and_dry_bulb(t, rh, p):
    wet = surfaces.wet_surface_temperature(t, rh, p)
    assert float(air.dew_point(t, rh, p)) - 0.1 < wet < t + 0.1
    # radiation from warmer surroundings warms it
    assert surfaces.wet_surface_temperature(t, rh, p, 1.0) >= wet - 1e-6


@given(st.floats(285.0, 305.0), st.floats(0.1, 0.95), st.floats(0.01, 8.0))
def test_water_evaporates_above_the_dew_point_and_condenses_below(t, rh, step):
    dew = float(air.dew_point(t, rh))
    assert surfaces.evaporation(3.0, dew + step, t, rh) > 0
    assert surfaces.evaporation(3.0, dew - step, t, rh) < 0


@given(st.lists(st.tuples(st.floats(1e-4, 0.05), st.floats(0.02, 200.0)), min_size=1, max_size=5))
def test_layers_add_in_any_order(layers):
    forth, back = walls.layered_resistance(layers, 0.13, 0.04), walls.layered_resistance(layers[::-1], 0.13, 0.04)
    assert abs(forth - back) < 1e-12
    assert forth > 0.17


LAWS = [
    (air.saturation_pressure, 1),
    (air.dew_point, 2),
    (air.wet_bulb, 2),
    (air.humidity_ratio, 2),
    (air.density, 2),
    (air.viscosity, 1),
    (air.conductivity, 1),
    (convection.thermal_diffusivity, 1),
]


@given(st.lists(st.tuples(temperatures, humidities), min_size=1, max_size=4))
def test_arrays_equal_scalars(states):
    columns = np.array(states).T
    for law, takes in LAWS:
        many = law(*columns[:takes])
        assert np.shape(many) == (len(states),)
        assert np.allclose(many, [float(law(*state[:takes])) for state in states], rtol=1e-12)


@given(st.lists(st.tuples(diameters, lengths), min_size=1, max_size=4))
def test_arrays_of_holes_equal_single_holes(holes):
    d, length = np.array(holes).T
    many = openings.hole_conductance(2.5e-5, d, length)
    assert np.allclose(many, [openings.hole_conductance(2.5e-5, *hole) for hole in holes], rtol=1e-12)


@given(temperatures, st.floats(0.05, 0.95))
def test_what_is_not_told_is_air_of_the_standard_atmosphere(t, rh):
    for told, law in (
        ((t, rh), air.humidity_ratio),
        ((t, rh), air.wet_bulb),
        ((t, rh), air.density),
        ((t,), air.diffusivity_vapour),
        ((t,), air.diffusivity_co2),
        ((t,), air.diffusivity_o2),
        ((t,), convection.thermal_diffusivity),
        ((t + 5.0, t, 0.1), convection.rayleigh),
        ((3000.0, 1000.0), openings.stefan_factor),
        (("vertical", t + 5.0, t, 0.1), surfaces.film_coefficient),
        ((4.0, t, 2.5e-5), surfaces.mass_transfer),
        ((4.0, t + 1.0, t, rh), surfaces.evaporation),
    ):
        assert law(*told) == law(*told, 101325.0)
    for law in (convection.nusselt_vertical, convection.nusselt_vertical_laminar):
        assert law(1e4 * t) == law(1e4 * t, 0.71)


@given(temperatures, st.floats(0.05, 0.9))
def test_evaporation_goes_with_the_difference_of_vapour_pressures(t, rh):
    dry, moist = (float(surfaces.evaporation(3.0, t, t, x)) for x in (0.0, rh))
    assert abs(moist / dry - (1 - rh)) < 1e-9


def test_a_long_tube_exchanges_as_turbulent_mixing_does():
    """0.32 (D/L)^(3/2) (Gardner 1977, as Epstein 1988 takes it; value from memory)."""
    for ratio in (6.0, 10.0):
        assert abs(flow.froude_level(ratio) * ratio**1.5 / 0.32 - 1) < 0.05
