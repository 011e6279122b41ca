"""Every shipped number has a unit, a source, a mark, and a range that holds it."""

import dataclasses

import pytest

from nestwright import data
from nestwright.climate.dry_run_values import dry_run_values
from nestwright.errors import InputError
from nestwright.sensing.photo.values import photo_values
from nestwright.workshop.alarm_values import alarm_values

MARKS = {"published", "secondary", "derived", "judgement"}
TABLES = {
    "constants": data.constants,
    "assembly": data.assembly_values,
    "exchange": data.exchange_values,
    "colony": data.colony_values,
    "dry run": dry_run_values,
    "photographs": photo_values,
    "alarms": alarm_values,
    "delays": lambda: data.read_values("delay.toml"),
    "receiving": lambda: data.read_values("receiving.toml"),
    "learning of parcels": lambda: data.read_values("parcel_learning.toml"),
    "risk of parcels": lambda: data.read_values("parcel_risk.toml"),
    "diagnosis": data.diagnosis_values,
    **{name: (lambda name=name: data.load_species(name).garden) for name in data.species_names()},
    **{f"{name}, growth": (lambda name=name: data.load_species(name).growth) for name in data.species_names()},
}


def values():
    for table, read in TABLES.items():
        for name, value in read().items():
            yield pytest.param(value, id=f"{table} {name}")


@pytest.mark.parametrize("value", list(values()))
def test_a_value_is_complete(value):
    assert value.low <= value.value <= value.high
    assert value.unit
    assert value.mark in MARKS
    assert len(value.source) > 5


@pytest.mark.parametrize("value", list(values()))
def test_a_judgement_has_a_range(value):
    if value.mark == "judgement":
        assert value.low < value.high, "a judgement that claims to be exact"


@pytest.mark.parametrize("name", data.load_materials())
def test_a_material_is_possible(name):
    m = data.load_materials()[name]
    assert 0.02 < m.conductivity < 400
    assert 10 < m.density < 9000
    assert 300 < m.specific_heat < 2500
    assert m.mu >= 1
    assert 0 < m.emissivity <= 1
    assert m.mark in MARKS
    assert len(m.source) > 5


def test_materials_in_the_order_that_everyone_knows():
    m = data.load_materials()
    assert m["polyurethane foam"].conductivity < m["cork"].conductivity < m["pine"].conductivity
    assert m["acrylic"].conductivity < m["glass"].conductivity < m["aluminium"].conductivity
    assert m["plaster"].mu < m["pine"].mu < m["acrylic"].mu < m["glass"].mu


@pytest.mark.parametrize("name", data.species_names())
def test_a_card_states_what_a_garden_needs(name):
    card = data.load_species(name)
    assert card.name == name
    for limit in card.limits:
        assert limit.mark in MARKS
        assert len(limit.source) > 5
        assert limit.low is not None or limit.high is not None
        assert limit.low is None or limit.high is None or limit.low < limit.high
        assert limit.quantity in data.limit_tolerances()
    garden = {limit.quantity: limit for limit in card.limits if limit.role == "garden"}
    assert set(garden) == set(data.limit_tolerances())
    assert 288 < garden["temperature"].low < 295.15, "fungus is put at 22 to 25 degC: doi:10.1007/s00040-002-8295-x"
    assert 298.15 < garden["temperature"].high < 303.15
    assert 0.84 < garden["relative_humidity"].low < 0.98, "98 % chosen over 84 %: doi:10.1007/PL00001728"
    assert 0.01 <= garden["co2"].high <= 0.03, "1 to 3 % chosen: doi:10.1371/journal.pone.0174597"
    assert 0.093 < garden["o2"].low < 0.2, "regulated down to 9.3 %: doi:10.1016/0300-9629(92)90539-3"
    dump = {limit.quantity: limit for limit in card.limits if limit.role == "dump"}
    assert dump["relative_humidity"].high < 0.95, "25 % chosen over 95 %: doi:10.1007/s10905-006-9052-1"


@pytest.mark.parametrize("name", data.species_names())
def test_respiration_is_that_of_living_things(name):
    g = data.load_species(name).garden
    # Burning carbohydrate gives 460 to 470 kJ per mol CO2, fat about 630 (combustion of glucose, of palmitic acid).
    assert 4.4e5 <= g["heat_per_mol_co2"].value <= 5.2e5
    # Rest 0.41 and walking 1.7 mL/(g h) at 25 degC bracket a worker of 1 to 20 mg.
    assert 1e-3 * 0.41e-3 / 3600 / 24.5 < g["worker_co2"].value < 20e-3 * 1.7e-3 / 3600 / 24.5
    assert 1.5 < g["respiration_q10"].value < 3
    assert g["shape_factor"].value > (36 * 3.14159 / 8) ** (1 / 3) * 1.5, "half a ball is the least that stands"


def test_an_unknown_species_is_told_with_the_nearest():
    with pytest.raises(InputError, match="Atta sexdens"):
        data.load_species("Atta sexdans")


def test_cards_are_frozen():
    card = data.load_species("Atta sexdens")
    with pytest.raises(dataclasses.FrozenInstanceError):
        card.name = "another"


def test_meshes_are_those_of_the_fluids_library():
    fluids = pytest.importorskip("fluids")
    table = {round(s.opening * 1e3, 4): s.d_wire * 1e3 for s in fluids.particle_size_distribution.ISO_3310_1_sieve_list}
    assert len(data.load_meshes()) > 40
    for mesh in data.load_meshes():
        assert table[round(mesh.aperture * 1e3, 4)] == pytest.approx(mesh.wire * 1e3, rel=1e-6)
        assert mesh.wire_min < mesh.wire < mesh.wire_max


@pytest.mark.parametrize(("aperture", "wire"), [(0.25, 0.16), (0.50, 0.315), (1.00, 0.56), (2.00, 0.90)])
def test_meshes_of_iso_3310(aperture, wire):
    """ISO 3310-1, table 1: aperture and preferred wire, mm."""
    found = [m.wire for m in data.load_meshes() if m.aperture == pytest.approx(aperture / 1000)]
    assert found == [pytest.approx(wire / 1000)]


# Greenspan 1977, J. Res. Natl. Bur. Stand. 81A:89, table 2, at 25 degC, % RH.
AT_25 = {"LiCl": 11.30, "MgCl2": 32.78, "Mg(NO3)2": 52.89, "NaCl": 75.29, "KCl": 84.34, "KNO3": 93.58, "K2SO4": 97.30}


@pytest.mark.parametrize("salt", AT_25)
def test_salts_of_greenspan(salt):
    found = [s.relative_humidity for s in data.load_salts() if s.salt == salt and s.temperature == 298.15]
    assert found == [pytest.approx(AT_25[salt] / 100, abs=5e-5)]


def test_salts_keep_their_order_at_every_temperature():
    by_temperature = {}
    for s in data.load_salts():
        by_temperature.setdefault(round(s.temperature - 273.15), {})[s.salt] = s.relative_humidity
    assert set(by_temperature) == {5, 10, 15, 20, 25, 30, 35}
    for found in by_temperature.values():
        assert sorted(found, key=found.get) == list(AT_25)
