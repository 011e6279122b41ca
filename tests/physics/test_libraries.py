"""The physics against reference libraries: CoolProp, PsychroLib, ht and fluids."""

import math

import fluids
import ht
import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI

from nestwright.physics import air, convection, flow, openings, surfaces

psychrolib.SetUnitSystem(psychrolib.SI)

# dew points above freezing: below it the libraries give the frost point, this package that over water
STATES = [(8.0, 0.8), (15.0, 0.9), (21.0, 0.45), (25.0, 0.98), (30.0, 0.6), (35.0, 0.2)]
ALTITUDES = [0.0, 500.0, 1500.0, 2600.0]


@pytest.mark.parametrize("celsius", [0.01, 5, 10, 15, 20, 25, 30, 35, 45, 60])
def test_saturation_pressure(celsius):
    ours = float(air.saturation_pressure(celsius + 273.15))
    # CoolProp: IAPWS-95; PsychroLib: the same Hyland-Wexler
    assert ours == pytest.approx(PropsSI("P", "T", celsius + 273.15, "Q", 0, "Water"), rel=1e-3)
    assert ours == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=1e-6)


@pytest.mark.parametrize("altitude", ALTITUDES)
@pytest.mark.parametrize(("celsius", "rh"), STATES)
def test_moist_air_at_altitude(celsius, rh, altitude):
    t, p = celsius + 273.15, float(air.pressure_at_altitude(altitude))
    assert p == pytest.approx(psychrolib.GetStandardAtmPressure(altitude), rel=1e-4)
    w = float(air.humidity_ratio(t, rh, p))
    assert w == pytest.approx(psychrolib.GetHumRatioFromRelHum(celsius, rh, p), rel=1e-4)
    # CoolProp carries the enhancement factor (about 1.004), which is left out here
    assert w == pytest.approx(HAPropsSI("W", "T", t, "R", rh, "P", p), rel=7e-3)
    assert float(air.density(t, rh, p)) == pytest.approx(1 / HAPropsSI("Vha", "T", t, "R", rh, "P", p), rel=2e-3)
    dew = float(air.dew_point(t, rh, p))
    assert dew - 273.15 == pytest.approx(psychrolib.GetTDewPointFromRelHum(celsius, rh), abs=0.02)
    assert dew == pytest.approx(HAPropsSI("D", "T", t, "R", rh, "P", p), abs=0.05)
    wet = float(air.wet_bulb(t, rh, p))
    if wet > 273.15:
        assert wet - 273.15 == pytest.approx(psychrolib.GetTWetBulbFromRelHum(celsius, rh, p), abs=0.02)
        assert wet == pytest.approx(HAPropsSI("B", "T", t, "R", rh, "P", p), abs=0.1)


@pytest.mark.parametrize("celsius", [0, 10, 20, 30, 40])
def test_transport_of_dry_air(celsius):
    t = celsius + 273.15
    assert float(air.viscosity(t)) == pytest.approx(PropsSI("V", "T", t, "P", 101325, "Air"), rel=0.01)
    assert float(air.conductivity(t)) == pytest.approx(PropsSI("L", "T", t, "P", 101325, "Air"), rel=0.012)
    assert float(air.density(t, 0.0)) == pytest.approx(PropsSI("D", "T", t, "P", 101325, "Air"), rel=1e-3)
    assert float(convection.prandtl(t)) == pytest.approx(PropsSI("PRANDTL", "T", t, "P", 101325, "Air"), rel=0.02)


def fuller(mass, volume, t):
    """Fuller, Schettler & Giddings 1966, m2/s at 1 atm; air 28.96 g/mol, volume 19.7 (values from memory)."""
    reduced = math.sqrt(1 / 28.96 + 1 / mass)
    return 1e-7 * t**1.75 * reduced / (volume ** (1 / 3) + 19.7 ** (1 / 3)) ** 2


@pytest.mark.parametrize("t", [278.15, 298.15, 308.15])
@pytest.mark.parametrize(
    ("law", "mass", "volume"),
    [(air.diffusivity_vapour, 18.02, 13.1), (air.diffusivity_co2, 44.01, 26.9), (air.diffusivity_o2, 32.0, 16.3)],
)
def test_diffusivities_against_fuller(law, mass, volume, t):
    # Fuller's method is good to some 5 % on average
    assert float(law(t, 101325.0)) == pytest.approx(fuller(mass, volume, t), rel=0.06)
    assert float(law(t, 80000.0)) == pytest.approx(float(law(t, 101325.0)) * 101325 / 80000)


@pytest.mark.parametrize("ra", [1e4, 1e5, 1e6, 2e7, 1e8])
def test_natural_convection_against_ht(ra):
    pr = 0.71
    assert float(convection.nusselt_vertical(ra, pr)) == pytest.approx(
        ht.Nu_vertical_plate_Churchill(Pr=pr, Gr=ra / pr), rel=0.01
    )
    # McAdams' lines against another fit of level plates; they scatter as much as this
    hot_up = ht.Nu_horizontal_plate_McAdams(Pr=pr, Gr=ra / pr, buoyancy=True)
    cold_up = ht.Nu_horizontal_plate_McAdams(Pr=pr, Gr=ra / pr, buoyancy=False)
    assert float(convection.nusselt_unstable(ra)) == pytest.approx(hot_up, rel=0.02)
    assert float(convection.nusselt_stable(ra)) == pytest.approx(cold_up, rel=0.02)


@pytest.mark.parametrize("ra", [1e3, 2e3, 4e3, 1e4, 1e5, 1e6])
def test_layer_heated_from_below_against_ht(ra):
    theirs = ht.Nu_Nusselt_Rayleigh_Hollands(Pr=0.71, Gr=ra / 0.71, buoyancy=True)
    assert float(convection.nusselt_floor_heated(ra)) == pytest.approx(theirs, rel=0.015)


def test_laminar_duct_against_ht():
    assert float(convection.nusselt_duct(500.0, 0.02, 0.5)) == pytest.approx(
        ht.conv_internal.laminar_entry_thermal_Hausen(Re=500, Pr=0.71, L=0.5, Di=0.02), rel=1e-6
    )


@pytest.mark.parametrize("dp", [0.01, 0.5, 20.0])
def test_orifice_against_fluids(dp):
    # a small orifice in a wide duct, no expansion: fluids gives kg/s
    theirs = fluids.flow_meter_discharge(D=1.0, Do=0.01, P1=101325, P2=101325 - dp, rho=1.2, C=0.61)
    assert float(openings.orifice_flow(dp, math.pi / 4 * 1e-4, 1.2)) * 1.2 == pytest.approx(theirs, rel=1e-3)


def test_tube_resistance_against_fluids():
    d, length, q = 0.004, 0.4, 1e-6
    mu, rho = float(air.viscosity(298.15)), float(air.density(298.15, 0.0))
    speed = q / (math.pi / 4 * d**2)
    reynolds = fluids.Reynolds(V=speed, D=d, rho=rho, mu=mu)
    drop = fluids.dP_from_K(fluids.friction_laminar(reynolds) * length / d, rho=rho, V=speed)
    ends = 3 * mu / (d / 2) ** 3
    assert (flow.hole_resistance(d, length, 298.15) - ends) * q == pytest.approx(drop, rel=1e-6)


def test_meshes_of_the_table_are_those_of_fluids():
    import csv
    from importlib import resources

    text = (resources.files("nestwright.data") / "meshes.csv").read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    listed = {float(r["aperture_mm"]): float(r["wire_mm"]) for r in rows}
    # ISO 3310-1 by hand
    assert {0.25: 0.16, 0.5: 0.315, 1.0: 0.56, 2.0: 0.9}.items() <= listed.items()
    for sieve in fluids.particle_size_distribution.ISO_3310_1_sieves.values():
        aperture = round(sieve.opening * 1e3, 4)
        if aperture in listed:
            assert listed[aperture] == pytest.approx(sieve.d_wire * 1e3), aperture
            share = float(openings.mesh_open_area(sieve.opening, sieve.d_wire))
            assert 0.3 < share < 0.7


def test_duct_of_incropera_9_3():
    """Duct 0.75 m wide and 0.3 m high, 45 degC in air of 15 degC: 246 W per m (Incropera, example 9.3)."""
    hot, cold, width, height = 318.15, 288.15, 0.75, 0.3
    side = surfaces.film_coefficient("vertical", hot, cold, height)
    top = surfaces.film_coefficient("unstable", hot, cold, width / 2)
    bottom = surfaces.film_coefficient("stable", hot, cold, width / 2)
    heat = (2 * side * height + (top + bottom) * width) * (hot - cold)
    assert float(heat) == pytest.approx(246.0, rel=0.02)


def test_lewis_factor_of_water_in_air():
    # Le^(2/3) of water in air lies between 0.87 and 0.92 (usual psychrometry; value from memory)
    lewis = convection.thermal_diffusivity(298.15) / air.diffusivity_vapour(298.15)
    assert 0.87 < float(lewis) ** (2 / 3) < 0.93
    assert np.isfinite(float(surfaces.mass_transfer(5.0, 298.15, 2.5e-5)))
