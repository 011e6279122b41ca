"""The command `parcel`: words, picture, refusals."""

import pytest

from nestwright.cli import main
from nestwright.workshop.example import example_workshop


def told(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main.run([str(one) for one in arguments])
    return left.value.code, capsys.readouterr()


def test_a_journey_is_told_with_its_cautions_and_drawn(tmp_path, capsys, held_to_grammar):
    picture = tmp_path / "way.svg"
    code, said = told(capsys, "parcel", example_workshop() / "parcels/winter.toml", "--delay", "24", "--out", picture)
    assert code == 0
    text = " ".join(said.out.split())
    assert "68 h from 2027-01-13 16:00, 24 h late" in text
    assert "never in a sealed bag" in text
    assert "nothing printed here is a permission" in text
    assert "sorting hall" in picture.read_text()


def test_a_faulty_file_is_refused_with_every_fault_and_nothing_is_written(tmp_path, capsys):
    file, picture = tmp_path / "bad.toml", tmp_path / "way.svg"
    text = (example_workshop() / "parcels/winter.toml").read_text()
    file.write_text(
        text.replace('"250 mL"', '"60 L"').replace('duration = "40 h"', 'duration = "40 h"\nbag = "sealed"')
    )
    code, said = told(capsys, "parcel", file, "--out", picture)
    assert code == 2
    assert f"{file}:21: cup.volume: the cup is larger than the box" in said.err
    assert "pack[0].bag: a heat pack in a sealed bag has no oxygen" in said.err
    assert not picture.exists()


@pytest.mark.parametrize("delay", ["-1", "soon", "1000"])
def test_a_delay_that_cannot_be_is_refused(delay, capsys):
    code, said = told(capsys, "parcel", example_workshop() / "parcels/winter.toml", "--delay", delay)
    assert code == 2
    assert "--delay" in said.err


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("dispatch = 9999-12-31T20:00:00", "a year from 2000 to 2100"),
        ('name = "a\\u001b[2Jb"', "cannot be seen"),
        ('name = "a\\u202eb"', "cannot be seen"),
    ],
)
def test_what_no_parcel_has_is_refused_with_its_line(tmp_path, capsys, line, words):
    """Regression: a year that no date reaches was a fault of the program; a name could steer the terminal."""
    text = (example_workshop() / "parcels/winter.toml").read_text()
    key = line.split(" = ")[0]
    lines = [line if one.startswith(f"{key} = ") else one for one in text.splitlines()]
    file = tmp_path / "p.toml"
    file.write_text("\n".join(lines))
    code, said = told(capsys, "parcel", file)
    assert code == 2
    assert f"p.toml:{lines.index(line) + 1}: {key}" in said.err
    assert words in said.err
