"""The published JSON Schema is the one made from the form; it takes the examples and refuses broken ones."""

import copy
import json
import tomllib
from pathlib import Path

import jsonschema
import pytest

from nestwright.parcel.schema import parcel_schema, parcel_schema_text

ROOT = Path(__file__).parents[2]
VALIDATOR = jsonschema.Draft202012Validator(parcel_schema())


def doc(name="winter"):
    text = (ROOT / "examples/workshop/parcels" / f"{name}.toml").read_text()
    return json.loads(json.dumps(tomllib.loads(text), default=lambda moment: moment.isoformat()))


def test_the_published_file_is_the_made_one():
    jsonschema.Draft202012Validator.check_schema(parcel_schema())
    assert (ROOT / "docs/schema/parcel.schema.json").read_text() == parcel_schema_text()
    assert "null" not in parcel_schema_text()


@pytest.mark.parametrize("name", ["winter", "summer"])
def test_the_examples_are_valid(name):
    assert [e.message for e in VALIDATOR.iter_errors(doc(name))] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("species",), None),
        (("dispatch",), "soon"),
        (("dispatch",), "2027-01-13T16:00:00Z"),
        (("box", "width"), "20 kg"),
        (("box", "layers"), []),
        (("cup", "garden"), 60),
        (("cup", "position"), 2),
        (("pack", 0, "place"), "below"),
        (("pack", 0, "number"), 0),
        (("leg", 0, "hours"), 0),
        (("leg", 0, "hour"), 4),
    ],
)
def test_a_broken_one_is_not(path, value):
    broken = copy.deepcopy(doc())
    spot = broken
    for step in path[:-1]:
        spot = spot[step]
    if value is None:
        del spot[path[-1]]
    else:
        spot[path[-1]] = value
    assert not VALIDATOR.is_valid(broken)
