"""The short film coefficient that the network uses, against the full correlations, over the sizes of chambers.

Short: c (dT / L)^(1/4) with c of data/assembly.toml (Holman, Heat Transfer). Full: Churchill & Chu 1975 for upright
plates, McAdams 1954 for level ones (Incropera, equations 9.27, 9.30, 9.32).
"""

import pytest

from nestwright.data import assembly_values
from nestwright.physics import air, convection

PAIRS = [
    ("convection_vertical", convection.nusselt_vertical_laminar),
    ("convection_unstable", convection.nusselt_unstable),
    ("convection_stable", convection.nusselt_stable),
]
SIZES = [(size, step) for size in (0.03, 0.1, 0.3) for step in (0.3, 1.0, 3.0, 10.0)]


def full(law, size, step, pressure=101325.0):
    cold = 297.15
    number = convection.rayleigh(cold + step, cold, size, pressure)
    return float(law(number) * air.conductivity(cold + step / 2) / size)


@pytest.mark.parametrize(("name", "law"), PAIRS)
@pytest.mark.parametrize(("size", "step"), SIZES)
def test_the_full_correlation_lies_in_the_stated_range(name, law, size, step):
    value = assembly_values()[name]
    shape = (step / size) ** 0.25
    assert value.low * shape < full(law, size, step) < value.high * shape


@pytest.mark.parametrize(("name", "law"), PAIRS)
def test_a_chamber_of_ten_centimetres_is_met_within_a_fifth(name, law):
    value = assembly_values()[name]
    assert value.value * (1.0 / 0.1) ** 0.25 == pytest.approx(full(law, 0.1, 1.0), rel=0.2)


def test_lienhard_example_8_1():
    """Upright plate of 0.4 m, 26 K: h 4.06 W/(m2 K), q 106 W/m2 (Lienhard, A Heat Transfer Textbook, example 8.1)."""
    h = assembly_values()["convection_vertical"].value * (26 / 0.4) ** 0.25
    assert h == pytest.approx(4.06, rel=0.02)
    assert 26 * h == pytest.approx(106, rel=0.02)


@pytest.mark.parametrize(("name", "law"), PAIRS)
def test_thin_air_convects_less_and_still_within_the_range(name, law):
    """At 2,500 m (74.7 kPa) the short form, made for sea level, is too high by the square root of the pressure."""
    value = assembly_values()[name]
    thin = full(law, 0.1, 1.0, float(air.pressure_at_altitude(2500.0)))
    assert thin < full(law, 0.1, 1.0)
    assert thin > value.low * (1.0 / 0.1) ** 0.25


def test_the_laminar_plate_comes_to_the_limits_of_the_boundary_layer():
    """4/3 of 0.5027 Ra^(1/4) in thick oils and of 0.6004 (Ra Pr)^(1/4) in molten metals (Churchill & Usagi 1972,
    AIChE J 18:1121; values from memory): the constants of the form are rounded from them."""
    ra = 1e12
    oil = float(convection.nusselt_vertical_laminar(ra, 1e12)) - 0.68
    metal = float(convection.nusselt_vertical_laminar(ra, 1e-7)) - 0.68
    assert oil == pytest.approx(4 / 3 * 0.5027 * ra**0.25, rel=3e-3)
    assert metal == pytest.approx(4 / 3 * 0.6004 * (1e-7 * ra) ** 0.25, rel=3e-3)
