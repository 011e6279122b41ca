"""Reading and changing single values of a design by dotted key."""

import copy
import tomllib
from pathlib import Path

import pytest

from nestwright.errors import InputError
from nestwright.habitat.file import free_value, get_value, read_document, set_value, with_values

BENCH = Path(__file__).parent / "designs" / "heated-bench.toml"
DOC = tomllib.loads(BENCH.read_text())


@pytest.mark.parametrize(
    ("key", "text", "new", "stands"),
    [
        ("vent.collar.count", "10", 12, "12"),
        ("vent.collar.count", "10", 11.6, "12"),
        ("vent.collar.diameter", "2.5 mm", 0.003, "3 mm"),
        ("vent.collar.diameter", "2.5 mm", "0.3 cm", "0.3 cm"),
        ("vent[1].diameter", "2.5 mm", 0.003, "3 mm"),
        ("heater.mat.power", "8 W", "6 W", "6 W"),
        ("heater.cord.set", "24 degC", 296.15, "23 degC"),
        ("bell.garden-a.rim_gap", "2 mm", 0.0005, "0.5 mm"),
        ("grid.garden-a.count", "24", "30", "30"),
        ("water.slab.free_surface", "190 cm2", 0.015, "150 cm2"),
        ("water.sump-b.store", "150 mL", 0.1, "100 mL"),
        ("water.drinker.wick_limit", "6 g/day", "3 g/day", "3 g/day"),
        ("garden.garden-b.volume", "300 mL", 2e-4, "200 mL"),
        ("chamber.garden-a.side.layers[1]", "10 mm", 0.005, "5 mm"),
        ("chamber.garden-a.side.layers[1]", "10 mm", "5 mm", "5 mm"),
        ("chamber.forage.layers[0]", "3 mm", "5 mm acrylic", "5 mm"),
        ("chamber.forage.lid_gap", "0.2 mm", 0.0, "0 mm"),
        ("insulation.garden-a.layer", "20 mm", 0.03, "30 mm"),
        ("plug.louvre.share", "50 %", 0.25, "25 %"),
        ("passage.waste way.length", "100 mm", "12 cm", "12 cm"),
        ("altitude", "640 m", 300.0, "300 m"),
        ("limits.garden.co2", "at most 3 %", "at most 2 %", "at most 2 %"),
    ],
)
def test_a_value_is_read_and_changed(key: str, text: str, new: str | float, stands: str) -> None:
    before = copy.deepcopy(DOC)
    assert get_value(DOC, key) == text
    assert get_value(set_value(DOC, key, new), key) == stands
    assert before == DOC, "the given design was changed"


def test_a_value_that_is_left_out_can_be_set() -> None:
    assert get_value(DOC, "chamber.dump.lid_gap") == ""
    habitat = with_values(DOC, {"chamber.dump.lid_gap": "0.1 mm", "vent.louvre.thickness": 0.004})
    assert habitat.chamber("dump").lid_gap == pytest.approx(1e-4)
    assert habitat.vents[0].pattern.thickness == pytest.approx(0.004)


def test_the_design_has_the_new_values() -> None:
    values = {"vent.collar.count": 12, "heater.mat.power": "6 W", "insulation.garden-a.layer": "30 mm"}
    for given in (BENCH, str(BENCH), DOC, read_document(BENCH)):
        habitat = with_values(given, values)
        assert habitat.vents[1].pattern.count == 12
        assert habitat.heaters[0].power == 6.0
        assert habitat.chamber("garden-a").wall("top").layers[-1].thickness == pytest.approx(0.03)
    assert with_values(BENCH, {}).heaters[0].power == 8.0


def test_a_free_value_tells_its_unit_and_range() -> None:
    hole = free_value(DOC, "vent.collar.diameter")
    assert (hole.kind, hole.unit, hole.value, hole.whole) == ("length", "mm", pytest.approx(0.0025), False)
    assert 0 < hole.low < hole.value < hole.high
    count = free_value(DOC, "vent.collar.count")
    assert (count.whole, count.low, count.value) == (True, 1.0, 10.0)
    assert free_value(DOC, "chamber.garden-a.side.layers[1]").kind == "layer"


@pytest.mark.parametrize(
    ("key", "nearest"),
    [
        ("vent.colar.count", "collar"),
        ("vent.collar.cuont", "count"),
        ("vnet.collar.count", "vent"),
        ("heater.matt.power", "mat"),
        ("chamber.garden-a.side.layer[1]", "layers"),
        ("bell.garden-b.rim_gap", "garden-a"),
    ],
)
def test_an_unknown_key_names_the_nearest(key: str, nearest: str) -> None:
    with pytest.raises(InputError) as caught:
        set_value(DOC, key, "1 mm")
    assert caught.value.nearest == nearest


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("vent.collar.diameter", "3 kg"),
        ("vent.collar.diameter", -0.003),
        ("vent.collar.diameter", float("nan")),
        ("vent.collar.count", "many"),
        ("vent.collar.count", float("inf")),
        ("chamber.garden-a.side.layers[7]", "3 mm"),
        ("chamber.garden-a.side.layers[0]", "3 kg"),
        ("vent[99].count", 1),
        ("vent", 1),
        ("vent.collar", 1),
        ("", 1),
        ("vent..count", 1),
        ("side.layers", 1),
    ],
)
def test_what_cannot_be_set_is_an_input_error(key: str, value: str | float) -> None:
    with pytest.raises(InputError) as caught:
        set_value(DOC, key, value)
    assert caught.value.field == key


def test_a_change_that_makes_the_design_wrong_is_told_with_its_line() -> None:
    with pytest.raises(InputError) as caught:
        with_values(BENCH, {"bell.garden-a.height": "95 mm"})
    assert caught.value.field == "bell.garden-a.height"
    assert BENCH.read_text().splitlines()[caught.value.line - 1] == 'height = "75 mm"'
