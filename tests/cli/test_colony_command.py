"""`nestwright colony`: from the adding of a colony to its end."""

import json
import shutil
from pathlib import Path

import pytest

from nestwright.cli import main

EXAMPLES = Path(__file__).parents[2] / "examples/workshop"
FERN = ["colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", "2024-03-01"]


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


def shown(capsys, name="Fern"):
    return json.loads(run(capsys, "colony", "show", name, "--json")[1])


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    run(capsys, "workshop", "new", tmp_path / "shop", "--zone", "UTC")
    monkeypatch.chdir(tmp_path / "shop")
    return tmp_path / "shop"


def test_a_file_with_its_visits_and_its_logger(shop, capsys):
    shutil.copytree(EXAMPLES / "colonies", shop.parent / "elsewhere")
    code, out, _ = run(capsys, "colony", "add", "--file", shop.parent / "elsewhere/marigold.toml")
    assert (code, out) == (0, "Marigold, Acromyrmex octospinosus, since 2025-11-02\n")
    copied = shop / "colonies/marigold-logger.csv"
    assert copied.read_bytes() == (EXAMPLES / "colonies/marigold-logger.csv").read_bytes()
    assert len(shown(capsys, "Marigold")["visits"]) == 22
    code, _, err = run(capsys, "colony", "add", "--file", shop.parent / "elsewhere/marigold.toml")
    assert (code, "already" in err) == (2, True)
    copied.write_text("another")
    code, _, err = run(capsys, "colony", "add", "Other", "--file", shop.parent / "elsewhere/marigold.toml")
    assert (code, "another file of this name" in err) == (2, True)
    assert [c["name"] for c in json.loads(run(capsys, "colony", "list", "--json")[1])["colonies"]] == ["Marigold"]
    code, _, err = run(capsys, "colony", "add", "--file", shop.parent / "elsewhere/thistle.toml", "--garden", "3 mL")
    assert (code, "--garden: stands in the file" in err) == (2, True)
    assert run(capsys, "colony", "add", "--file", shop.parent / "gone.toml")[0] == 2


def test_a_logger_in_a_folder_of_its_own_is_found_again(shop, capsys):
    place = shop.parent / "elsewhere"
    (place / "logs").mkdir(parents=True)
    text = (EXAMPLES / "colonies/marigold.toml").read_text().replace("marigold-logger.csv", "logs/air.csv")
    (place / "marigold.toml").write_text(text)
    code, _, err = run(capsys, "colony", "add", "--file", place / "marigold.toml")
    assert (code, "air.csv: climate: cannot be read" in err) == (2, True)
    shutil.copy(EXAMPLES / "colonies/marigold-logger.csv", place / "logs/air.csv")
    assert run(capsys, "colony", "add", "--file", place / "marigold.toml")[0] == 0
    assert shown(capsys, "Marigold")["climate"] == "air.csv"
    assert (shop / "colonies/air.csv").read_bytes() == (place / "logs/air.csv").read_bytes()


def test_anew_with_what_came(shop, capsys):
    came = [
        "--garden",
        "60 mL",
        "--workers",
        "about 60",
        "--brood",
        "10 to 30",
        "--chamber",
        "2.4 L",
        "--queen",
        "unknown",
    ]
    assert run(capsys, *FERN, *came, "--origin", "a friend", "--note", "in a box")[0] == 0
    told = shown(capsys)
    assert told["arrival"] == {"garden": "60.0 mL", "workers": "about 60", "brood": "10 to 30"}
    assert (told["queen"], told["origin"], told["note"]) == ({"state": "unknown"}, "a friend", "in a box")
    text = run(capsys, "colony", "show", "fern")[1]
    for part in ("Queen: unknown", "Origin: a friend", "Note: in a box", "Came with: garden 60.0 mL", "No visits yet"):
        assert part in text
    assert "already" in run(capsys, *FERN)[2]
    assert (
        "did you mean 'Acromyrmex echinatior'"
        in run(capsys, "colony", "add", "X", "--species", "Acromyrmex echinatio")[2]
    )
    for words in (
        ["--garden", "60"],
        ["--workers", "some"],
        ["--chamber", "3 g"],
        ["--queen", "dead"],
        ["--start", "x"],
    ):
        code, _, err = run(capsys, "colony", "add", "Moss", "--species", "Acromyrmex echinatior", *words)
        assert code == 2
        assert words[0] in err
    assert "says too little" in run(capsys, "colony", "add")[2]
    assert "says too little" in run(capsys, "colony", "add", "Moss")[2]


def test_bells(shop, capsys):
    run(capsys, *FERN, "--chamber", "900 mL")
    assert (
        run(capsys, "colony", "bell", "Fern", "--usable", "130 mL", "--called", "first", "--date", "2024-03-02")[0] == 0
    )
    assert run(capsys, "colony", "bell", "Fern", "--chamber", "--date", "2024-04-02")[0] == 0
    told = shown(capsys)["bell"]
    assert [(b["from"], b["kind"], b["name"]) for b in told] == [
        ("2024-03-02", "bell", "first"),
        ("2024-04-02", "chamber", ""),
    ]
    assert told[0]["usable"] == "130.0 mL"
    assert run(capsys, "visit", "Fern", "--date", "2024-03-09", "--fill", "50 %")[0] == 0
    for words, says in (
        (["--date", "2024-03-05"], "bell of 2024-03-05, usable: a bell needs a usable volume"),
        (["--usable", "3 mL", "--date", "2024-03-02"], "bell of 2024-03-02, from: two bells from the same day on"),
        (
            ["--usable", "900 mL", "--diameter", "30 mm", "--height", "30 mm", "--date", "2024-03-05"],
            "more than a bell",
        ),
        (["--usable", "-3 mL"], "--usable: is negative"),
    ):
        code, _, err = run(capsys, "colony", "bell", "Fern", *words)
        assert (code, says in err) == (2, True), err
    assert shown(capsys)["bell"] == told


def test_moves(shop, capsys):
    run(capsys, *FERN)
    run(capsys, "colony", "add", "Moss", "--species", "Acromyrmex echinatior", "--start", "2024-03-01")
    for serial in ("B1", "B2"):
        run(capsys, "build", "add", serial, "--habitat", EXAMPLES / "habitats/single-pot.toml", "--date", "2024-02-01")
    said = run(capsys, "colony", "move", "Fern", "B1", "--date", "2024-03-02")[1].splitlines()
    assert said[0] == "Fern lives in build B1 from 2024-03-02"
    assert said[1].startswith("Note: build B1 was designed for Trachymyrmex septentrionalis, not for ")
    for words, says in (
        (["Fern", "B2", "--date", "2024-03-02"], "one move a day"),
        (["Fern", "B3"], "did you mean 'B"),
        (["Moss", "B1", "--date", "2024-03-05"], "another colony lives in this build; found Fern"),
        (["Fern", "B2", "--date", "2024-02-28"], "before the start"),
    ):
        code, _, err = run(capsys, "colony", "move", *words)
        assert (code, says in err) == (2, True), err
    assert run(capsys, "colony", "move", "Fern", "B2", "--date", "2024-03-04")[0] == 0
    assert run(capsys, "colony", "move", "Moss", "B1", "--date", "2024-03-05")[0] == 0
    assert shown(capsys)["stays"] == [{"from": "2024-03-02", "build": "B1"}, {"from": "2024-03-04", "build": "B2"}]
    assert json.loads(run(capsys, "build", "show", "B1", "--json")[1])["colony"] == "Moss"


def test_parcels(shop, capsys):
    run(capsys, *FERN)
    sent = run(capsys, "colony", "parcel", "Fern", "--in", "--sent", "2024-02-27", "--carrier", "night courier")
    assert sent[1] == "Fern: Parcel in, sent 2024-02-27, under way, by night courier\n"
    code, _, err = run(capsys, "colony", "parcel", "Fern", "--in", "--arrived", "2024-02-26")
    assert (code, "before it was sent" in err) == (2, True)
    came = run(capsys, "colony", "parcel", "Fern", "--in", "--arrived", "2024-03-01", "--state", "cool")
    assert came[1] == "Fern: Parcel in, sent 2024-02-27, arrived 2024-03-01, by night courier, cool\n"
    assert run(capsys, "colony", "parcel", "Fern", "--out", "--arrived", "2024-05-02", "--json")[0] == 0
    assert [(p["direction"], p["sent"], p["arrived"]) for p in shown(capsys)["parcels"]] == [
        ("in", "2024-02-27", "2024-03-01"),
        ("out", None, "2024-05-02"),
    ]
    assert "Parcel in, sent 2024-02-27" in run(capsys, "colony", "show", "Fern")[1]
    assert "neither --in nor --out" in run(capsys, "colony", "parcel", "Fern", "--sent", "2024-03-01")[2]
    assert "no day" in run(capsys, "colony", "parcel", "Fern", "--in")[2]
    assert "Taken back: parcel of Fern" in run(capsys, "workshop", "undo")[1]


def test_photos_are_listed(shop, capsys):
    from nestwright.workshop.changes import act
    from nestwright.workshop.database import writing
    from nestwright.workshop.folder import find_workshop
    from nestwright.workshop.tables import photo

    run(capsys, *FERN)
    with writing(find_workshop().engine) as connection:
        values = {
            "uid": "1",
            "colony_id": 1,
            "file": "fern-1.jpg",
            "sha256": "0",
            "taken": 1709380800000,
            "note": "front",
        }
        act(connection, "photo").add(photo, values)
    assert "Photo fern-1.jpg 2024-03-02 12:00 front" in run(capsys, "colony", "show", "Fern")[1]
    assert shown(capsys)["photos"] == [{"file": "fern-1.jpg", "taken": 1709380800000, "note": "front"}]


def test_the_end(shop, capsys):
    run(capsys, *FERN)
    run(capsys, "visit", "Fern", "--date", "2024-03-09", "--garden", "40 mL")
    code, _, err = run(capsys, "colony", "end", "Fern", "--date", "2024-03-05")
    assert (code, "visit of 2024-03-09, date: lies after the end" in err) == (2, True)
    assert (
        run(capsys, "colony", "end", "Fern", "--reason", "sold", "--date", "2024-04-01")[1]
        == "Fern: ended 2024-04-01, sold\n"
    )
    assert "No colonies yet" in run(capsys, "colony", "list")[1] or "Fern" not in run(capsys, "colony", "list")[1]
    assert "2024-04-01" in run(capsys, "colony", "list", "--ended")[1]
    assert "Ended because: sold" in run(capsys, "colony", "show", "Fern")[1]
    code, _, err = run(capsys, "visit", "Fern", "--date", "2024-04-09")
    assert (code, "lies after the end of the record" in err) == (2, True)


def test_only_the_last_visits_are_shown(shop, capsys):
    run(capsys, *FERN)
    for day in range(2, 6):
        run(capsys, "visit", "Fern", "--date", f"2024-03-0{day}", "--garden", f"{day} mL")
    text = run(capsys, "colony", "show", "Fern", "--last", 2)[1]
    assert "The last 2 of 4 visits:" in text
    assert "2024-03-03  " not in text
    assert "2024-03-04  garden 4 mL" in text


def test_what_is_set_later_is_what_the_growth_model_gets(shop, capsys):
    from nestwright.errands.fitting import read_colony_or_record

    run(capsys, *FERN)
    code, out, _ = run(
        capsys, "colony", "set", "Fern", "--making-time", "12 day", "--opening", "120 mm", "--chamber", "2 L"
    )
    assert (code, out) == (0, "Fern: making_days = 12, opening_mm = 120, chamber_ml = 2000\n")
    made, _ = read_colony_or_record(Path("Fern"), 1)
    assert (made.making_time, made.opening, made.chamber) == (12.0, pytest.approx(0.12), pytest.approx(2000))
    run(capsys, "workshop", "undo")
    assert read_colony_or_record(Path("Fern"), 1)[0].making_time is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "nothing to set"),
        (["--lid", "1 day"], "--lid: wrong unit"),
        (["--leaves", "many"], "--leaves: unknown word; found 'many'; allowed: free, recorded"),
        (["--making-time", "nan day"], "--making-time"),
    ],
)
def test_what_cannot_be_set(shop, capsys, words, says):
    run(capsys, *FERN)
    before = shown(capsys)
    code, _, err = run(capsys, "colony", "set", "Fern", *words)
    assert code == 2
    assert says in err
    assert shown(capsys) == before
