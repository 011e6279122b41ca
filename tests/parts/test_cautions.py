"""Cautions stand where they belong."""

import importlib.util
import tomllib
from pathlib import Path
from typing import get_args

from nestwright.parts.cautions import making_cautions
from nestwright.parts.model import Way

SPEC = importlib.util.spec_from_file_location("made", Path(__file__).with_name("made.py"))
made = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(made)


def test_every_way_that_can_hurt_is_warned_of_and_no_other():
    said = " ".join(making_cautions(made.assembly()))
    assert all(word in said for word in ("Printer", "Laser", "Plaster", "Glue"))
    assert not any(word in said for word in ("Resin", "Glass", "Turning"))
    file = made.ROOT / "src/nestwright/data/making_cautions.toml"
    assert set(tomllib.loads(file.read_text())["way"]) == set(get_args(Way)) - {"bought"}
