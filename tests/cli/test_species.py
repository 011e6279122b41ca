"""The command `species` tells every number of a card with its source and says what is only judgement."""

import dataclasses
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
    for item in [*card.limits, *card.garden.values(), *card.growth.values()]:
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
    numbers = [data[part] for part in ("limits", "garden", "worker", "growth")]
    assert sum(data["marks"].values()) == sum(map(len, numbers))
    assert len(data["only_judgement"]) == data["marks"]["judgement"] == len(set(data["only_judgement"]))
    growth = load_species("Atta cephalotes").growth
    assert data["growth"] == {key: dataclasses.asdict(value) for key, value in growth.items()}


@pytest.mark.parametrize(
    "line",
    [
        "  pupa stage: 22 days, 13 to 28  [derived]",
        "  temperature these hold at: 25 degC  [published]",
        "  eggs of a queen at most: 8000 a day, 3000 to 20000  [judgement]",
        "  dry leaf a forager brings: 1.8 mg a day, 0.6 to 5.5  [judgement]",
        "  untended garden lost: 25 % a day, 15 to 50  [derived]",
        "  garden and brood lost to dry air: 0.5 % a day per 1 % RH below the limit, 0.15 to 1.5  [judgement]",
    ],
)
def test_growth_is_told_in_plain_words(capsys, line):
    _, out, _ = told(capsys, "Atta sexdens")
    assert line in out.splitlines()


@pytest.mark.parametrize("name", species_names())
def test_a_line_of_growth_is_short(capsys, name):
    _, out, _ = told(capsys, name)
    part = out.split("Growth of colony and garden\n")[1].split("\n\n")[0].splitlines()
    assert len(part) == 2 * len(load_species(name).growth), "one line for the figure, one for its source"
    assert all(len(line) < 110 and line.endswith("]") and "e-" not in line for line in part[::2])


def test_only_judgement_names_growth_values_without_a_source(capsys):
    _, out, _ = told(capsys, "Atta sexdens")
    last = next(line for line in out.splitlines() if line.startswith("Only judgement: "))
    names = last.removeprefix("Only judgement: ").split(", ")
    assert "food per dry garden at its best age" in names
    assert "pupa stage" not in names


def test_a_misspelt_name_gets_the_nearest(capsys):
    code, out, err = told(capsys, "Ata cephalots")
    assert code == 2
    assert out == ""
    assert "did you mean 'Atta cephalotes'?" in err
    assert "Traceback" not in err
