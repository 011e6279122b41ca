"""The command `species` tells every number of a card with its source and says what is only judgement."""

import json

import pytest

from nestwright.cli.main import run
from nestwright.data import load_species, species_names


def told(capsys, *words):
    with pytest.raises(SystemExit) as end:
        run(["species", *words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


def test_without_a_name_every_card_is_listed(capsys):
    code, out, _ = told(capsys)
    assert code == 0
    assert [line.split("  (")[0] for line in out.splitlines()] == list(species_names())


@pytest.mark.parametrize("name", species_names())
def test_every_number_comes_with_source_and_mark(capsys, name):
    code, out, _ = told(capsys, name)
    card = load_species(name)
    assert code == 0
    for item in [*card.limits, *card.garden.values()]:
        assert item.source in out
        assert f"[{item.mark}]" in out
    last = next(line for line in out.splitlines() if line.startswith("Only judgement: "))
    published = [limit for limit in card.limits if limit.mark == "published"]
    assert published
    assert "garden respiration CO2" in last
    assert "garden CO2" not in last


def test_temperatures_are_printed_in_degrees_celsius(capsys):
    _, out, _ = told(capsys, "Acromyrmex echinatior")
    assert "garden temperature: 20 to 27 degC  [judgement]" in out


def test_json_is_si_and_names_what_is_only_judgement(capsys):
    code, out, _ = told(capsys, "Atta cephalotes", "--json")
    data = json.loads(out)
    assert code == 0
    garden = next(x for x in data["limits"] if (x["role"], x["quantity"]) == ("garden", "temperature"))
    assert garden["low"] == 293.15
    assert sum(data["marks"].values()) == len(data["limits"]) + len(data["garden"]) + len(data["worker"])
    assert len(data["only_judgement"]) == data["marks"]["judgement"]


def test_a_misspelt_name_gets_the_nearest(capsys):
    code, out, err = told(capsys, "Ata cephalots")
    assert code == 2
    assert out == ""
    assert "did you mean 'Atta cephalotes'?" in err
    assert "Traceback" not in err
