"""A structure analysed once serves every design of that structure: no figure may tell whether it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestwright.climate.proof import prove
from nestwright.climate.rooms import read_room
from nestwright.habitat.file import read_document, with_values
from nestwright.network import structure
from nestwright.network.builder import Builder

POT = Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml"


@pytest.mark.parametrize("change", [{"vent.crown.count": "18"}, {"vent.crown.diameter": "0.2 mm"}])
def test_a_kept_analysis_gives_the_figures_of_a_new_one(change: dict[str, str]) -> None:
    document, room = read_document(POT), read_room("9 degC, 80 %")
    structure._lately.clear()
    fresh = prove(with_values(document, change), room, uncertainty=False).to_dict()
    structure._lately.clear()
    prove(with_values(document, {}), read_room("30 degC, 20 %"), uncertainty=False)
    assert len(structure._lately) == 1
    assert prove(with_values(document, change), room, uncertainty=False).to_dict() == fresh
    assert len(structure._lately) == 1, "the same structure with other values"


def test_a_builder_refuses_what_no_network_can_be_of() -> None:
    b = Builder()
    for wrong in (0.0, -1.0, float("nan")):
        with pytest.raises(ValueError, match="zone pot: volume must be positive"):
            b.zone("pot", wrong)
        with pytest.raises(ValueError, match="node wall: heat capacity must be positive"):
            b.node("wall", wrong)
    z = b.zone("pot", 1e-3)
    b.permeate(z, b.node("wall", 10.0), 0.0)
    assert b.permeations == []
    with pytest.raises(ValueError, match="zones come before other nodes"):
        b.zone("late", 1e-3)
