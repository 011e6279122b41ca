"""No text of a colony, a habitat or a room file steers the screen: each such character is refused with its place."""

import unicodedata
from pathlib import Path

import pytest
from colony_files import HEAD, colony, fault, tells, written

from nestwright.climate.rooms import read_room
from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.letters import visible

# Explicit directional formatting characters and marks: Unicode Standard Annex 9, section 2.
DIRECTIONS = [*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C]
# C0 and C1 controls: Unicode Standard, section 23.1; zero width characters: section 23.2; line separators: annex 14.
CONTROLS = [*range(0x00, 0x20), 0x7F, *range(0x80, 0xA0)]
HIDDEN = [0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF, 0xAD, 0x2028, 0x2029]


def escaped(number: int) -> str:
    """A character as TOML writes it."""
    return f"\\u{number:04X}"


@pytest.mark.parametrize("number", [*DIRECTIONS, *CONTROLS, *HIDDEN], ids=lambda n: f"U+{n:04X}")
def test_a_name_holds_no_character_that_cannot_be_seen(tmp_path: Path, number: int) -> None:
    path = written(tmp_path, head=HEAD.replace("Window", f"Win{escaped(number)}dow"))
    name = unicodedata.name(chr(number), "").lower()
    told = f"found U+{number:04X}{f' ({name})' if name else ''} as character 4; allowed: characters that can be seen"
    tells(fault(path), path, 2, "name", told)


@pytest.mark.parametrize(
    ("text", "line", "field"),
    [
        ('[[bell]]\nfrom = 2025-11-03\nusable = "9 mL"\nname = "@"\n', 8, "bell[0].name"),
        ('[[visit]]\ndate = 2025-11-10\nleaves = "3 g"\nplant = "@"\n', 8, "visit[0].plant"),
        ('[[visit]]\ndate = 2025-11-10\nnote = "@"\n', 7, "visit[0].note"),
        ('[[event]]\ndate = 2025-11-10\nwhat = "leaves given"\namount = "3 g"\nplant = "@"\n', 9, "event[0].plant"),
        ('[[event]]\ndate = 2025-11-10\nwhat = "queen lost"\nnote = "@"\n', 8, "event[0].note"),
        ('note = "@"\n', 5, "note"),
        ('climate = "@.csv"\n', 5, "climate"),
        ('visits = "@.csv"\n', 5, "visits"),
    ],
)
@pytest.mark.parametrize("number", [0x07, 0x1B, 0x202E, 0x2066])
def test_nor_does_any_other_text(tmp_path: Path, text: str, line: int, field: str, number: int) -> None:
    path = written(tmp_path, text.replace("@", escaped(number)))
    tells(fault(path), path, line, field, f"found U+{number:04X}")


def test_a_note_may_have_lines_and_tabs_but_a_plant_may_not(tmp_path: Path) -> None:
    note = '[[visit]]\ndate = 2025-11-10\nleaves = "3 g"\nnote = "one\\r\\ntwo\\n\\tthree"\n'
    assert colony(note).events[0].note == "one\ntwo\n\tthree"
    path = written(tmp_path, note.replace("note =", "plant ="))
    tells(fault(path), path, 8, "visit[0].plant", "found U+000D")


@pytest.mark.parametrize(
    "name",
    [
        "Fensterbrett süd, „alt“",
        "窓辺",
        "می\u200cخواهم",  # a Persian word with the joiner that its spelling needs (Unicode Standard, section 23.2)
        "\U0001f469\u200d\U0001f33e",  # a farmer: two pictures joined (Unicode Technical Standard 51)
        "blank\u00a0kept",
    ],
)
def test_names_of_any_script_are_taken(name: str) -> None:
    assert colony("", HEAD.replace("Window sill", name)).name == name


def test_what_is_printed_shows_the_character_by_its_number() -> None:
    assert visible("a\x1b[31mb\u202ec\n", keep="\n") == "a<U+001B>[31mb<U+202E>c\n"


def test_names_of_habitats_and_rooms_are_held_to_the_same(tmp_path: Path) -> None:
    path = tmp_path / "bad.toml"
    examples = Path(__file__).parents[2] / "examples" / "workshop"
    good = (examples / "habitats" / "single-pot.toml").read_text()
    line = next(i for i, text in enumerate(good.splitlines(), 1) if text.startswith("name = "))
    path.write_text(good.replace('name = "', 'name = "\\u001b', 1))
    with pytest.raises(InputError) as caught:
        read_habitat(path)
    tells(caught.value, path, line, "name", "found U+001B as character 1")
    path.write_text((examples / "rooms" / "attic.toml").read_text().replace("Attic", "At\\u202etic"))
    with pytest.raises(InputError) as caught:
        read_room(str(path))
    tells(caught.value, path, 4, "name", "found U+202E (right-to-left override) as character 3")
