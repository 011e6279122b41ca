"""A file of another kind than the command wants is told so in one line; `check` reads every kind; units of a room."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestwright.cli.check import check_file
from nestwright.climate.room_file import read_room_file
from nestwright.colony.file import read_colony
from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.kinds import KINDS
from nestwright.parcel.file import read_parcel
from nestwright.parts.machines import read_machines
from nestwright.parts.prices import read_prices
from nestwright.sensing.live.mapping_file import read_live_mapping

WORKSHOP = Path(__file__).parents[2] / "examples/workshop"
FILES = {
    "habitat": ("habitats/single-pot.toml", read_habitat),
    "colony": ("colonies/marigold.toml", read_colony),
    "parcel": ("parcels/winter.toml", read_parcel),
    "room": ("rooms/attic.toml", read_room_file),
    "price": ("parts/prices.toml", read_prices),
    "machine": ("parts/machines.toml", read_machines),
    "live readings": ("live.toml", read_live_mapping),
}


def test_each_kind_has_a_file_here():
    assert set(FILES) == set(KINDS)


@pytest.mark.parametrize("wanted", FILES)
def test_a_file_of_another_kind_is_told_in_one_line_with_the_command_that_takes_it(wanted):
    for kind, (name, _) in FILES.items():
        if kind == wanted:
            continue
        with pytest.raises(InputError) as caught:
            FILES[wanted][1](WORKSHOP / name)
        said = str(caught.value)
        assert f"{name}: this is a {kind} file, not a {wanted} file" in said
        assert f"`nestwright {KINDS[kind].commands[0]}`" in said
        assert "\n" not in said


@pytest.mark.parametrize("kind", FILES)
def test_every_kind_can_be_checked(tmp_path, kind):
    name = FILES[kind][0]
    assert not [one for one in check_file(WORKSHOP / name) if one.severity == "error"]
    path = tmp_path / "wrong.toml"
    path.write_text("queer = 1\n" + (WORKSHOP / name).read_text())
    fault = next(one for one in check_file(path) if one.severity == "error" and one.file in ("", str(path)))
    assert fault.line == 1
    assert "queer" in f"{fault.field} {fault.found}"


def test_a_file_that_is_not_there_names_its_neighbour():
    with pytest.raises(InputError) as caught:
        read_habitat(WORKSHOP / "habitats/singlepot.toml")
    assert caught.value.nearest == str(WORKSHOP / "habitats/single-pot.toml")
    with pytest.raises(InputError) as caught:
        read_habitat(WORKSHOP / "habitats/singlepot")
    assert caught.value.nearest == str(WORKSHOP / "habitats/single-pot.toml")


@pytest.mark.parametrize(
    ("room", "why"),
    [
        ("70 kg", "is no air of a room: a temperature is in degC, degF or K, a humidity in %"),
        ("70 %", "tells a humidity without its temperature"),
        ("21 degC", "tells a temperature without its humidity"),
        ("21°C", "tells a temperature without its humidity"),
        ("cellar", "names no room: it is neither a file that is there nor a temperature with a humidity"),
    ],
)
def test_what_is_no_room_is_told_why(room, why):
    from nestwright.climate.rooms import read_room

    with pytest.raises(InputError) as caught:
        read_room(room)
    assert caught.value.message == why
