"""A colony in a build for another species is told of where it moves in, by the design as it was built."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestwright.workshop.builds import Made
from nestwright.workshop.folder import Workshop, create_workshop
from nestwright.workshop.kept_designs import keep_design
from nestwright.workshop.other_species import other_species

POT = Path(__file__).parents[2] / "examples" / "workshop" / "habitats" / "single-pot.toml"
DESIGNED = "Trachymyrmex septentrionalis"


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    made = create_workshop(tmp_path / "w", "UTC")
    (made.folder / "habitats" / "pot.toml").write_bytes(POT.read_bytes())
    return made


def build(revision: str = "3") -> Made:
    return Made(1, {"serial": "P-1", "habitat": "habitats/pot.toml", "revision": revision})


def test_who_it_was_designed_for_moves_in_without_a_word(workshop: Workshop) -> None:
    assert other_species(workshop, build(), DESIGNED) == ""


def test_another_species_is_told_with_whose_limits_hold(workshop: Workshop) -> None:
    said = other_species(workshop, build(), "Atta sexdens")
    assert said.startswith(f"build P-1 was designed for {DESIGNED}, not for Atta sexdens")


def test_the_design_as_built_counts_and_not_its_file_of_today(workshop: Workshop) -> None:
    keep_design(workshop, "habitats/pot.toml")
    file = workshop.folder / "habitats" / "pot.toml"
    file.write_text(file.read_text().replace(DESIGNED, "Atta sexdens").replace('revision = "3"', 'revision = "4"'))
    assert other_species(workshop, build("3"), "Atta sexdens")
    assert other_species(workshop, build("4"), "Atta sexdens") == ""


def test_a_design_that_cannot_be_read_says_nothing(workshop: Workshop) -> None:
    (workshop.folder / "habitats" / "pot.toml").write_text("=")
    assert other_species(workshop, build(), "Atta sexdens") == ""
