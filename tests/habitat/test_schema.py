"""The published JSON Schema is the one made from the form; it takes the examples and refuses broken ones."""

import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from nestwright.habitat.schema import json_schema, schema_text

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "examples" / "workshop" / "habitats").glob("*.toml"))
VALIDATOR = jsonschema.Draft202012Validator(json_schema())


def _doc(name: str) -> dict[str, Any]:
    return tomllib.loads((Path(__file__).parent / "designs" / f"{name}.toml").read_text())


def test_the_published_file_is_the_made_one() -> None:
    assert (ROOT / "docs" / "schema" / "habitat.schema.json").read_text() == schema_text()


def test_it_is_a_valid_schema_without_null_or_si_defaults() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())
    text = schema_text()
    assert "null" not in text
    assert json.loads(text)["$defs"]["ChamberForm"]["properties"]["lid_depth"].get("default") is None


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_the_examples_are_valid(path: Path) -> None:
    assert [e.message for e in VALIDATOR.iter_errors(tomllib.loads(path.read_text()))] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 2),
        (("format",), None),
        (("species",), None),
        (("chamber",), []),
        (("chamber", 0, "diameter"), "100 kg"),
        (("chamber", 0, "diameter"), "-100 mm"),
        (("chamber", 0, "diameter"), 100),
        (("chamber", 0, "diameter"), None),
        (("chamber", 0, "diametre"), "100 mm"),
        (("chamber", 0, "role"), "kitchen"),
        (("chamber", 0, "name"), "a.b"),
        (("chamber", 0, "place"), ["0 mm", "0 mm"]),
        (("chamber", 0, "place", 0), "0"),
        (("chamber", 0, "layers"), []),
        (("chamber", 0, "layers", 0), "acrylic"),
        (("chamber", 1, "base", "touchs"), "bench"),
        (("grid", 0, "count"), 0),
        (("grid", 0, "count"), "160"),
        (("grid", 0, "pattern"), "slot"),
        (("water", 0, "refill"), "sometimes"),
        (("water", 0, "store"), "90 mm"),
        (("vent", 0, "face"), "lid"),
        (("sensor", 0, "lag"), "90 days long"),
        (("sensor", 0, "under_bell"), "yes"),
        (("heater",), [{"name": "h", "power": "5 W", "chamber": "pot", "control": "thermostat"}]),
        (("limits",), {"kitchen": {}}),
        (("limits",), {"garden": {"co2": "below 3 %"}}),
    ],
)
def test_a_broken_one_is_not(path: tuple[Any, ...], value: Any) -> None:
    doc = copy.deepcopy(_doc("single-pot"))
    spot: Any = doc
    for step in path[:-1]:
        spot = spot[step]
    if value is None:
        del spot[path[-1]]
    else:
        spot[path[-1]] = value
    assert not VALIDATOR.is_valid(doc)


def test_every_unit_and_every_other_spelling_that_the_reader_takes_is_in_the_schema() -> None:
    import re

    from nestwright.units import _SPELLINGS, KINDS, quantity_pattern, split_unit

    for kind in KINDS.values():
        for unit in [*kind.units, *(s for s, plain in _SPELLINGS.items() if plain in kind.units)]:
            number = (kind.low + kind.high) / 2 / (kind.units.get(_SPELLINGS.get(unit, unit)) or 1.0)
            text = f"{min(number, 50.0):.6f} {unit}"
            assert re.fullmatch(quantity_pattern(kind.name), text), text
            assert split_unit(text, kind.name)[1] in kind.units
