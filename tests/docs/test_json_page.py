"""docs/guide/json.md names every key of every result, and no key that does not exist."""

import importlib.util
import json
import re
from pathlib import Path

import pytest

from nestwright.cli import demo, main

ROOT = Path(__file__).parents[2]
SPEC = importlib.util.spec_from_file_location("invented", ROOT / "tests/cli/invented.py")
invented = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(invented)
# Keys below these are names that a design chose.
FREE = {"dew_margins_K", "film_g", "ends", "marks", "garden", "worker", "growth", "values"}


def keys(document, path=""):
    for key, value in document.items():
        yield path + key
        inner = value[0] if isinstance(value, list) and value and isinstance(value[0], dict) else value
        if isinstance(inner, dict) and key not in FREE:
            yield from keys(inner, f"{path}{key}.")


def documented(heading):
    text = (ROOT / "docs/guide/json.md").read_text().split(f"\n## `{heading}`\n")[1].split("\n## ")[0]
    return {
        key
        for line in text.splitlines()
        if line.startswith("| `")
        for key in re.findall(r"`([^`]+)`", line.split("|")[1])
    }


def test_keys_of_climate():
    proof, year = set(keys(invented.proof().to_dict())), set(keys(invented.year().to_dict()))
    assert len(proof) > 40
    assert documented("nestwright climate") == proof | year


def test_keys_of_years():
    from nestwright.climate.years import Years, year_row

    assert documented("nestwright years") == set(keys(Years((year_row(invented.year()),)).to_dict()))


def test_keys_of_size():
    # what ants pass is looked at by the command, which knows the parts
    assert documented("nestwright size") == {*keys(invented.sized().to_dict()), "lets_through"}


def test_keys_of_window():
    assert documented("nestwright window") == set(keys(invented.window().to_dict()))


def printed(arguments, capsys):
    with pytest.raises(SystemExit):
        main.run([str(one) for one in arguments])
    return json.loads(capsys.readouterr().out)


def test_keys_of_section(capsys):
    outlines = printed(["section", demo.example_workshop() / demo.HABITAT, "--json"], capsys)
    assert documented("nestwright section") == set(keys(outlines)) | {"proof"}


def test_keys_of_parcel(capsys):
    file = demo.example_workshop() / "parcels/winter.toml"
    made = printed(["parcel", file, "--json"], capsys)
    assert documented("nestwright parcel") == set(keys(made))


def test_keys_of_check(tmp_path, capsys):
    faulty = tmp_path / "faulty.toml"
    faulty.write_text("format = 1\nname = 3\n")
    assert documented("nestwright check") == set(keys(printed(["check", faulty, "--json"], capsys)))


@pytest.mark.parametrize(
    ("words", "file", "fields"),
    [
        ("climate FAULTY --room a --json", "FAULTY", ["", "", "name"]),
        ("size FAULTY --free a=1..2 --window x --json", "", ["--window"]),
        ("rescue nobody --workers 3 --json", "", ["species"]),
        ("rescue . --json", ".", [""]),
        ("caresheet nothing --json", "nothing", [""]),
        ("colony list --workshop none --json", "", ["--workshop"]),
        ("window --json", "", [""]),
        ("windo --json", "", [""]),
    ],
)
def test_keys_of_input_that_cannot_be_used(words, file, fields, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("FAULTY").write_text("format = 1\nname = 3\n")
    made = printed(words.split(), capsys)
    assert set(keys(made)) == documented("nestwright check")
    assert (made["ok"], [one["file"] for one in made["files"]]) == (False, [file])
    assert [one["field"] for one in made["files"][0]["findings"]] == fields


def test_keys_of_room(capsys):
    room = demo.example_workshop() / demo.ROOM
    assert documented("nestwright room") == set(keys(printed(["room", room, "--json"], capsys)))


def test_keys_of_species(capsys):
    cards = printed(["species", "--json"], capsys)
    assert documented("nestwright species") == set(keys(cards))
    card = printed(["species", cards["species"][0]["name"], "--json"], capsys)
    assert documented("nestwright species NAME") == set(keys(card))
    for value in [*card["garden"].values(), *card["worker"].values(), *card["growth"].values()]:
        assert set(value) == {"value", "low", "high", "unit", "source", "mark"}


# Tables whose keys are names: the page writes NAME for them.
NAMED = {"bands", "dates", "make_by", "history", "estimates", "cases", "causes"}


def nameless(document):
    """The same document with one NAME for the names in its tables of names, with the keys of all of them."""
    made = {}
    for key, value in document.items():
        if isinstance(value, dict) and key in NAMED:
            joined = {}
            for one in value.values():
                for inner, told in nameless(one).items():
                    joined[inner] = told if told is not None else joined.get(inner)
            value = {"NAME": joined}
        elif isinstance(value, dict):
            value = nameless(value)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            value = [nameless(value[0])]
        made[key] = value
    return made


def test_keys_of_forecast():
    spec = importlib.util.spec_from_file_location("invented_colony", ROOT / "tests/cli/invented_colony.py")
    colony = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(colony)
    made = {key for key in keys(nameless(colony.told().to_dict())) if not key.endswith(".NAME")}
    assert len(made) > 60
    assert documented("nestwright forecast") == made


def test_keys_of_growing():
    from nestwright.climate.growing import Break, Deciding, GrowingCase, GrowingPoint, GrowingProof

    decides = Deciding("pot: CO2", 0.3, 0.1, 0.4, True, True)
    point = GrowingPoint(3.0, 1e-4, 200.0, 0.3, "pot: CO2", (), True, 0.01, 0.01, 0.02, 1e-8, None, 0.0, decides)
    case = GrowingCase("high", (point,), Break(9.0, "pot: CO2", 8.0, 2e-4, 300.0, ()), 12.0, 20.0)
    proof = GrowingProof("Pot", "1", "none", "room", None, "pot", 3e-4, True, (case,), (3.0,), {})
    made = {key for key in keys(nameless(proof.to_dict())) if not key.endswith(".NAME")}
    assert documented("nestwright climate --forecast") == made


def test_keys_of_diagnose():
    from datetime import date

    import numpy as np

    from nestwright.colony.results import Cause, Diagnosis

    cause = Cause("queen", "queen lost or not laying", 0.9, -3.0, (1.0, 2.0, 3.0), (0.5, 0.9, 1.0), "share")
    days, weight = np.array([4.0]), {"queen": np.array([0.9])}
    made = Diagnosis("A", "B", date(2031, 1, 1), 9, (cause,), "x", "y", 9.0, 0.4, days, weight, ())
    document = nameless(made.to_dict())
    document["evidence"]["weight"] = []
    assert documented("nestwright diagnose") == {k for k in keys(document) if not k.endswith(".NAME")}


def rows():
    """Commands of the record with their keys, as the last section has them."""
    text = (ROOT / "docs/guide/json.md").read_text().split("\n## Commands of the record\n")[1]
    cells = [line.split(" | ") for line in text.splitlines() if line.startswith("| `nestwright")]
    return {c[0].strip("| `").removeprefix("nestwright "): re.findall(r"`([^`]+)`", c[1]) for c in cells}


def test_every_command_with_json_is_on_the_page():
    page, known = (ROOT / "docs/guide/json.md").read_text(), rows()
    for name in main.COMMANDS:
        command = main.load(name)
        for part, inner in getattr(command, "commands", {"": command}).items():
            whole = f"{name} {part}".strip()
            stands = whole in known or f"\n## `nestwright {whole}`\n" in page
            assert stands == any("--json" in option.opts for option in inner.params), whole


def test_links_of_the_page_lead_to_a_section():
    text = (ROOT / "docs/guide/json.md").read_text()
    links = re.findall(r"\]\(([\w.-]+)#([\w-]+)\)", text)
    assert links
    for file, section in links:
        heads = re.findall(r"^#+ (.*)$", (ROOT / "docs/guide" / file).read_text(), re.M)
        assert section in [re.sub(r"[^\w -]", "", one).lower().replace(" ", "-") for one in heads], (file, section)


LOG = "time,temperature °C,humidity %\n" + "".join(f"2026-03-01 00:{n:02d}:00,20.{n % 10},90\n" for n in range(60))
DONE = """
workshop new .
build add 0001 --habitat habitats/pot.toml
build measure 0001 height 100mm
build check 0001 leak --passed
build list
build show 0001
build label 0001
build certificate 0001
dossier pot --build 0001
colony add Aster --species Atta~sexdens --start 2026-01-01
colony bell Aster --usable 200mL --date 2026-02-01
colony set Aster --opening 60mm
colony move Aster 0001 --date 2026-02-03
colony parcel Aster --in --arrived 2026-01-01
colony list
visit Aster --garden 20mL --date 2026-02-05
colony show Aster
workshop show
workshop history
readings import a.csv --logger pot --zone UTC --yes
readings mapping pot
readings list
readings show pot.humidity
readings place pot --build 0001 --chamber room --from 2026-02-03
readings band pot.humidity --low 80% --high 95%
sensor list
sensor show pot.humidity
sensor want pot.humidity 2%
today --no-forecast
calendar --no-forecast
alarms check --no-forecast
alarms list
alarms ack 1
alarms snooze 1 2h
alarms refill 0001 9
backup ../b.zip
export ../out
readings remove pot --from 2026-03-01 --to 2026-03-02 --yes
parcels add P1 --out --colony Aster --sent 2026-02-05 --promised 24h
parcels scan P1 --place depot
parcels arrived P1 --garden 10mL
parcels list
parcels show P1
parcels learn
parcels receive P1
parcels risk cold.toml --parcels 100
colony end Aster --date 2026-03-01
workshop undo
"""


def test_keys_of_the_commands_of_the_record(tmp_path, monkeypatch, capsys):
    (tmp_path / "shop/habitats").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "shop")
    Path("habitats/pot.toml").write_text((demo.example_workshop() / demo.HABITAT).read_text())
    Path("a.csv").write_text(LOG)
    Path("cold.toml").write_text((demo.example_workshop() / "parcels/winter.toml").read_text())
    known = rows()
    for line in DONE.strip().splitlines():
        words = [word.replace("~", " ") for word in line.split()]
        name = " ".join(words[:2]) if " ".join(words[:2]) in known else words[0]
        assert list(printed([*words, "--json"], capsys)) == known[name], line


def test_keys_of_listening():
    from nestwright.workshop.live_tally import Tally

    assert ["ended", "per_second", *Tally().to_dict()] == rows()["listen"]
