"""Fixed points of humidity against the paper, its rewritings, and the thermodynamics of the solutions."""

import csv
import doctest
import math
from pathlib import Path

import numpy as np
import pytest

from nestwright.errors import InputError
from nestwright.sensing import salts
from nestwright.sensing.sensor_values import sensor_value

ROWS = list(csv.DictReader((Path(__file__).parents[1] / "reference" / "saturated_salts.csv").open(encoding="utf-8")))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['case']}-{r['salt']}-{r['temperature_degC']}")
def test_published_values(row):
    salt, temperature = row["salt"], float(row["temperature_degC"]) + 273.15
    if row["case"] == "relative_humidity":
        found = salts.relative_humidity(salt, temperature)
    else:
        found = salts.uncertainty(salt, temperature) * sensor_value("reference", "salt_coverage").value
    assert 100 * float(found) == pytest.approx(float(row["expected_pct"]), abs=float(row["tolerance_pct"]))


def osmotic(m, b0, b1, c):
    """Osmotic coefficient of a 1:1 salt at 25 degC: Pitzer & Mayorga 1973, J. Phys. Chem. 77:2300 (A = 0.3915)."""
    root = math.sqrt(m)
    return 1 - 0.3915 * root / (1 + 1.2 * root) + m * (b0 + b1 * math.exp(-2 * root)) + m * m * c


@pytest.mark.parametrize(
    ("salt", "molality", "parameters"),
    [("NaCl", 6.146, (0.0765, 0.2664, 0.00127)), ("KCl", 4.80, (0.04835, 0.2122, -0.00084))],
)
def test_water_activity_of_the_saturated_solution(salt, molality, parameters):
    """Solubilities 6.146 and 4.80 mol/kg at 25 degC (values from memory): ln a = -2 m M phi."""
    activity = math.exp(-2 * molality * 0.0180153 * osmotic(molality, *parameters))
    assert float(salts.relative_humidity(salt, 298.15)) == pytest.approx(activity, abs=0.003)


@pytest.mark.parametrize(
    ("name", "formula"),
    [
        ("NaCl", "NaCl"),
        ("sodium chloride", "NaCl"),
        ("Table Salt", "NaCl"),
        ("magnesium  nitrate", "Mg(NO3)2"),
        ("mg(no3)2", "Mg(NO3)2"),
        ("MgCl2.6H2O", "MgCl2"),
        ("potassium sulphate", "K2SO4"),
    ],
)
def test_names(name, formula):
    assert salts.formula(name) == formula
    assert salts.relative_humidity(name, 298.15) == salts.relative_humidity(formula, 298.15)


def test_every_salt_has_a_common_name_and_every_name_leads_back():
    assert list(salts.names()) == ["LiCl", "MgCl2", "Mg(NO3)2", "NaCl", "KCl", "KNO3", "K2SO4"]
    for salt, others in salts.names().items():
        assert others
        assert {salts.formula(name) for name in others} == {salt}


def test_unknown_salt_names_the_nearest():
    with pytest.raises(InputError) as caught:
        salts.relative_humidity("sodium cloride", 298.15)
    assert caught.value.nearest == "sodium chloride"
    assert "NaCl" in caught.value.allowed


@pytest.mark.parametrize("temperature", [277.0, 309.0, math.nan, [298.15, 400.0]])
def test_no_value_outside_the_table(temperature):
    with pytest.raises(InputError, match="does not reach"):
        salts.relative_humidity("NaCl", temperature)


@pytest.mark.parametrize("salt", ["LiCl", "KNO3"])
def test_shape_is_kept_and_ends_of_the_table_are_in(salt):
    temperature = np.array([[278.15, 298.15], [300.0, 308.15]])
    assert salts.relative_humidity(salt, temperature).shape == (2, 2)
    assert salts.uncertainty(salt, temperature).shape == (2, 2)
    assert np.all(salts.uncertainty(salt, temperature) > 0)


def test_examples_run():
    done = doctest.testmod(salts)
    assert done.attempted >= 3
    assert done.failed == 0
