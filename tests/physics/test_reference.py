"""Functions of the physics against published and library-computed values: tests/reference/*.csv, one case a row."""

import ast
import csv
import importlib
from pathlib import Path

import pytest

REFERENCE = Path(__file__).parents[1] / "reference"


def cases():
    for name in ("air", "surfaces", "openings"):
        with (REFERENCE / f"{name}.csv").open(newline="") as file:
            for number, row in enumerate(csv.DictReader(file), start=2):
                yield pytest.param(row, id=f"{name}.csv:{number} {row['case']}")


def arguments(text):
    """`a=1.0; b=up` as positional values in the order of the row, which is that of the function."""

    def one(word):
        try:
            return ast.literal_eval(word)
        except (ValueError, SyntaxError):
            return word

    return [one(part.split("=", 1)[1].strip()) for part in text.split(";")]


CASES = list(cases())


@pytest.mark.parametrize("row", CASES)
def test_value(row):
    module, name = row["function"].split(".")
    found = getattr(importlib.import_module(f"nestwright.physics.{module}"), name)(*arguments(row["inputs"]))
    assert float(found) == pytest.approx(float(row["expected"]), rel=0, abs=float(row["tolerance"])), row["source"]


def test_every_case_has_a_source_and_there_are_enough():
    rows = [case.values[0] for case in CASES]
    assert len(rows) >= 60
    assert all(len(row["source"]) > 8 and float(row["tolerance"]) > 0 for row in rows)
