"""Line numbers of keys, for every way in which TOML can write them."""

import tomllib

import pytest

from nestwright.positions import line_numbers, line_of

TEXT = '''# a comment with [brackets] and = signs
name = "a # no comment \\" [x]"   # line 2
long = """
[[vent]]
count = 3
""" # ends on line 6
raw = \'\'\'
a = 1 \'\'\'
"quoted key" . inner = 1
[[vent]]
list = [ # line 11
  "one", "two", # ]
  { x = 1, y = "}" },
]
[vent.side]
layers = ["3 mm acrylic", "10 mm cork"]
[[vent]]
name = 'b'
[vent.side]
layers = []
[[vent.inner]]
a = 1
[[vent.inner]]
a = 2
[limits.garden]
co2 = "at most 3 %"
when = 2026-01-02T03:04:05Z
'''

EXPECTED = {
    "name": 2,
    "long": 3,
    "raw": 7,
    "quoted key": 9,
    "quoted key.inner": 9,
    "vent": 10,
    "vent[0]": 10,
    "vent[0].list": 11,
    "vent[0].list[0]": 12,
    "vent[0].list[1]": 12,
    "vent[0].list[2]": 13,
    "vent[0].list[2].x": 13,
    "vent[0].list[2].y": 13,
    "vent[0].side": 15,
    "vent[0].side.layers": 16,
    "vent[0].side.layers[0]": 16,
    "vent[0].side.layers[1]": 16,
    "vent[1]": 17,
    "vent[1].name": 18,
    "vent[1].side": 19,
    "vent[1].side.layers": 20,
    "vent[1].inner": 21,
    "vent[1].inner[0]": 21,
    "vent[1].inner[0].a": 22,
    "vent[1].inner[1]": 23,
    "vent[1].inner[1].a": 24,
    "limits": 25,
    "limits.garden": 25,
    "limits.garden.co2": 26,
    "limits.garden.when": 27,
}


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_every_key_has_its_line(newline: str) -> None:
    text = TEXT.replace("\n", newline)
    tomllib.loads(text)  # the scanner only promises to walk what tomllib accepts
    assert line_numbers(text) == EXPECTED


def test_a_key_that_is_not_there_takes_the_line_around_it() -> None:
    lines = line_numbers(TEXT)
    assert line_of(lines, ("vent", 1, "side", "touches")) == 19
    assert line_of(lines, ("vent", 7, "count")) == 10
    assert line_of(lines, ("nowhere",)) == 0


@pytest.mark.parametrize("text", ["[[", "a = [1,", "= 3", "a", '"""', "]", "{", "a = {b", "[[x]", "[a\n[b"])
def test_it_ends_even_on_what_is_no_toml(text: str) -> None:
    assert isinstance(line_numbers(text), dict)


def test_a_file_with_a_byte_order_mark_is_read(tmp_path):
    """Some editors put one at the head of every file."""
    from nestwright.document import read_document

    path = tmp_path / "marked.toml"
    path.write_bytes(b'\xef\xbb\xbfformat = 1\nname = "a"\n')
    document = read_document(path)
    assert document.tables == {"format": 1, "name": "a"}
    assert document.lines["name"] == 2


def test_a_file_of_a_later_form_says_so_with_its_line():
    from nestwright.document import FORM, load_document
    from nestwright.errors import InputError

    with pytest.raises(InputError, match=f"a.toml:2: format: is of a later form.*found {FORM + 1}.*up to {FORM}"):
        load_document(f'name = "a"\nformat = {FORM + 1}\n', "a.toml")
    assert load_document(f"format = {FORM}\n").tables == {"format": FORM}
