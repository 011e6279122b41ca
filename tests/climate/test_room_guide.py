"""The room files shown in the guide are rooms, each of the kind that it says."""

import re
import shutil
from pathlib import Path

import pytest

from nestwright.climate.room_file import KEYS
from nestwright.climate.rooms import read_room

ROOT = Path(__file__).parents[2]
ROOMS = ROOT / "examples/workshop/rooms"
TEXTS = re.findall(r"```toml\n(.*?)```", (ROOT / "docs/guide/room.md").read_text(), re.DOTALL)


@pytest.mark.parametrize("text", TEXTS, ids=range(len(TEXTS)))
def test_a_room_file_of_the_guide_is_a_room(tmp_path, text):
    shutil.copy(ROOMS / "bench-logger.csv", tmp_path)
    shutil.copytree(ROOMS / "weather", tmp_path / "weather")
    (tmp_path / "room.toml").write_text(text)
    room = read_room(str(tmp_path / "room.toml"))
    assert room.fixed == ('kind = "fixed"' in text)
    assert 280 < room.temperature.min() <= room.temperature.max() < 310


def test_the_guide_shows_every_kind():
    assert {re.search(r'^kind = "(.*)"', text, re.MULTILINE)[1] for text in TEXTS} == set(KEYS)


def test_the_guide_lists_every_example():
    text = (ROOT / "docs/guide/room.md").read_text()
    for path in ROOMS.glob("*.toml"):
        assert f"`{path.name}`" in text


def test_living_room_is_the_heated_greensboro_year():
    room = read_room(str(ROOMS / "living-room.toml"))
    assert "Greensboro" in room.source
    assert room.time[-1] == 8760 * 3600
    assert room.temperature.min() == pytest.approx(293.15)
