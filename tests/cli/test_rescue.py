"""The command `rescue`: what it prints, what it documents, and what it refuses."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from nestwright.charts.rescue_words import chance, count, count_range, volume, volume_range
from nestwright.cli.main import run
from nestwright.cli.rescue import parse_amounts
from nestwright.cli.rescue_text import answer, columns_of, print_rescue, what_came, workers_for
from nestwright.colony.results import Came, Rescue, RescueCase

ROOT = Path(__file__).parents[2]
COLONY = """\
format = 1
name = "Landing"
species = "Acromyrmex echinatior"
start = 2031-02-03
[arrival]
workers = 45
garden = "25 mL"
[[event]]
date = 2031-02-10
what = "garden lost"
"""
SHORT = ["--garden", "5 mL, 20 mL", "--days", "20"]


def told(capsys, *words):
    with pytest.raises(SystemExit) as end:
        run(["rescue", *map(str, words)])
    out, err = capsys.readouterr()
    return end.value.code, " ".join(out.split()), err


def case(garden, through, held=(1.2, 3.0, 7.1), **changed):
    values = {
        "garden": garden,
        "pulls_through": through,
        "interval": (max(0.0, through - 0.3), 1.0),
        "held_by": held,
        "first_workers": (2.0, 5.0, 9.0),
        "workers_at_end": (10.0, 35.4, 80.0),
        "garden_at_end": (0.0, 22.61, 57.0),
    }
    return RescueCase(**(values | changed))


def invented(*cases, queen=True, enough=None, notes=("a note",), **more):
    more = {"recommended": cases[0].garden} | more
    return Rescue("Atta sexdens", queen, 4.0, (1.0, 2.0, 3.0), 90, cases, enough, ("larva_food",), notes, **more)


def said(result):
    return " ".join(answer(result))


RECORD = Came(
    (333.0, 1189.0, 3263.0),
    (180.0, 204.0, 230.0),
    ((160.0, 270.0, 410.0), (110.0, 190.0, 250.0), (0.0, 0.0, 3.0)),
    ("2031-02-03", None, None),
)


def test_the_answer_names_the_least_amount_that_is_as_good_as_the_best():
    cases = (case(5.0, 0.4, as_good=False), case(10.0, 0.53, as_good=False), case(20.0, 0.61), case(40.0, 0.62))
    text = said(invented(*cases, recommended=20.0))
    assert "20 mL is the least amount that does as well as any" in text
    assert "61 %" in text
    assert "3 (2 to 8) workers" in text
    assert "None of the amounts gives nine chances in ten" in text
    assert "largest amount tried" not in text


def test_the_answer_leads_with_the_least_amount_that_reaches_nine_in_ten():
    cases = (
        case(5.0, 0.4, as_good=False),
        case(10.0, 0.899, as_good=False),
        case(20.0, 0.94, as_good=False),
        case(40.0, 0.954, held=(20.0, 40.0, 80.0)),
        case(80.0, 0.953, held=(40.0, 80.0, 160.0)),
    )
    lines = answer(invented(*cases, enough=10.0, recommended=10.0))
    assert lines[0].startswith("[bold]10 mL is the least amount that reaches nine chances in ten: 90 % (60 to 100).")
    assert lines[1] == "More adds little: 95 % at 40 mL, more than the workers that came can probably tend."
    assert "does as well as any" not in " ".join(lines)
    same = answer(invented(case(10.0, 0.951, as_good=False), case(20.0, 0.953), enough=10.0, recommended=10.0))
    assert same[1] == "More adds nothing that these runs can tell."


def test_the_answer_says_when_the_criterion_makes_the_chance():
    text = answer(invented(case(1.0, 0.4, as_good=False), case(9.0, 0.52, lives_on=0.995), recommended=9.0))[1]
    assert "mostly that of keeping half of the workers that came" in text
    assert "over 99 % live on" in text
    for through, living in ((0.52, 0.6), (0.95, 1.0), (0.52, None)):
        assert "keeping half" not in said(invented(case(9.0, through, lives_on=living)))


def test_without_a_queen_one_table_says_what_is_known(monkeypatch, capsys):
    from rich.console import Console

    monkeypatch.setattr("nestwright.cli.output.console", lambda: Console(width=80, highlight=False))
    never = (None, None, None)
    lasting = {"garden_lasts": (50.0, 80.0, None), "first_workers": never}
    cases = (
        case(5.0, 0.0, as_good=False, workers_last=(40.0, 66.0, None), **lasting),
        case(10.0, 0.0, workers_last=(41.0, 70.0, None), **lasting),
        case(20.0, 0.0, workers_last=(41.0, 70.0, None), **lasting),
        case(40.0, 0.0, workers_last=(41.0, 71.0, None), held=(20.0, 40.0, 80.0), **lasting),
    )
    print_rescue(invented(*cases, queen=False, verdict="no queen", recommended=10.0))
    out = capsys.readouterr().out
    assert out.count("garden given") == 1
    assert "next worker" not in out
    assert "at end" not in out
    assert "10 mL to 40 mL*  70 (41 to over 90)" in out
    born = replace(cases[0], first_workers=(1.0, 1.0, 3.0))
    assert columns_of(invented(born, queen=False, verdict="no queen"))["next worker, day"] == ["1 (1 to 3)"]


def test_without_a_queen_no_note_speaks_of_what_is_not_shown(capsys):
    code, out, _ = told(capsys, "Atta cephalotes", "--workers", 30, "--pupae", 5, *SHORT, "--no-queen")
    assert code == 0
    assert "pulls through" not in out
    assert "as good as the best" not in out
    assert "ranges: 8 in 10" in out


@pytest.mark.parametrize(
    ("through", "interval", "text"),
    [
        (0.953, (0.951, 1.0), "95 % (up to 100)"),
        (0.052, (0.0, 0.053), "5 % (from 0)"),
        (0.9, (0.36, 1.0), "90 % (36 to 100)"),
    ],
)
def test_a_chance_at_the_end_of_its_range_is_said_once(through, interval, text):
    found = columns_of(invented(case(5.0, through, interval=interval)))["pulls through"]
    assert found[0].strip() == text


def test_the_answer_says_when_the_best_is_the_largest_tried():
    text = said(invented(case(5.0, 0.4, as_good=False), case(10.0, 0.61), recommended=10.0))
    assert "None of the amounts gives nine chances in ten" in text
    assert "10 mL is the least amount that does as well as any: 61 %" in text
    assert "more may do better" in text


def test_the_answer_says_when_amounts_do_not_differ():
    text = said(invented(case(1.0, 0.82), case(5000.0, 0.84), verdict="no difference"))
    assert "No difference between the amounts" in text
    assert "82 % to 84 %" in text
    assert "the least, 1 mL, does as well as any" in text
    assert "not the amount of garden" in text
    assert "5000" not in text


def test_the_answer_says_that_none_is_needed_with_the_chance_without_any():
    cases = (case(0.0, 0.97), case(20.0, 0.98))
    text = said(invented(*cases, verdict="none needed", enough=0.0, came=RECORD))
    assert "None needed: it has about 200 mL (180 to 230)" in text
    assert "Without any donor garden its chance is 97 %" in text
    assert "least amount" not in text


def test_the_answer_says_when_all_rests_on_founding_anew():
    text = said(invented(case(1.0, 0.84), notes=("founding anew: no worker came; ...",)))
    assert "queen beginning anew without workers, which is judgement" in text
    assert "beginning anew" not in said(invented(case(1.0, 0.84)))


def test_without_a_queen_the_answer_is_how_long_it_lasts():
    lasting = {"workers_last": (40.0, 70.0, None), "garden_lasts": (50.0, 80.0, None)}
    text = said(invented(case(5.0, 0.0, **lasting), queen=False, verdict="no queen"))
    assert "cannot go on" in text
    assert "70 days (40 to over 90)" in text
    assert "80 days (50 to over 90)" in text
    longer = {"workers_last": (None, None, None), "garden_lasts": (None, None, None)}
    text = said(invented(case(5.0, 0.0, **longer), queen=False, verdict="no queen"))
    assert "lives for over 90 days" in text
    assert "after over" not in text
    assert "Less" not in text
    both = (case(5.0, 0.0, as_good=False, **lasting), case(9.0, 0.0, **lasting))
    assert "Less makes the workers die sooner" in said(
        invented(*both, queen=False, verdict="no queen", recommended=9.0)
    )
    last = said(invented(*both[::-1], queen=False, verdict="no queen", recommended=5.0))
    assert "none of the other amounts do the workers live longer" in last


def test_a_row_has_the_digits_of_its_range():
    result = invented(
        case(5.0, 0.4, as_good=False),
        case(5e5, 0.997, held=(20.0, 33.2, 101.0), workers_at_end=(333.0, 1189.0, 3263.0)),
    )
    columns = columns_of(result)
    assert {name: cells[0].strip() for name, cells in columns.items()} == {
        "garden given": "5 mL",
        "pulls through": "40 % (10 to 100)",
        "to tend it": "3 (2 to 8)",
        "next worker, day": "5 (2 to 9)",
        "workers at end": "35 (10 to 80)",
        "garden at end": "23 mL (0 to 57)",
    }
    cells = [column[1] for column in columns.values()]
    assert cells[:3] == ["500 L*", "over 99 % (from 70) =", "34 (20 to 110)"]
    assert cells[4] == "1200 (330 to 3300)"


@pytest.mark.parametrize(
    ("millilitres", "text"),
    [
        (0, "0 mL"), (0.5, "0.5 mL"), (12.5, "12.5 mL"), (9990, "9990 mL"), (9999, "10 L"), (5e4, "50 L"),
        (999_999, "1 m3"), (1e6, "1 m3"), (5e6, "5 m3"), (float("nan"), "unknown"),
    ],
)  # fmt: skip
def test_volumes_are_told_in_the_unit_of_their_size(millilitres, text):
    assert volume(millilitres) == text


def test_ranges_have_two_digits_and_no_powers_of_ten():
    assert count_range(333, 1189, 3263) == "1200 (330 to 3300)"
    assert count_range(122556, 327038, 568451) == "330,000 (120,000 to 570,000)"
    assert count(1e6, 9) == "1,000,000"
    assert volume_range(79e3, 430e3, 990e3) == "430 L (79 to 990)"
    assert volume_range(160e3, 610e3, 1.5e6) == "610 L (160 L to 1.5 m3)"
    assert volume_range(0, 22.61, 57) == "23 mL (0 to 57)"
    assert volume_range(0, 0, 0) == "0 mL"
    assert volume_range(0, 0.01, 1) == "0 mL (up to 1.0)"
    assert volume_range(1, 1, 1.1) == "1.0 mL (up to 1.1)"
    assert volume_range(0.9, 1, 1.1) == "1.0 mL (0.90 to 1.1)"
    assert volume_range(0.5, 1, 1) == "1.0 mL (from 0.50)"


def test_what_a_record_leaves_is_told_with_its_range():
    lines = what_came(invented(case(5.0, 0.4), came=RECORD))
    text = " ".join(lines)
    assert "1200 (330 to 3300) workers" in text
    assert "200 mL (180 to 230)" in text
    assert "Brood, by the model" in text
    assert "eggs: 270 (160 to 410); last seen on 2031-02-03, not counted" in text
    assert "larvae: 190 (110 to 250); not seen" in text
    assert "pupae: 0 (0 to 3); not seen" in text


def test_what_was_stated_is_told_as_stated():
    text = " ".join(what_came(invented(case(5.0, 0.4))))
    assert "as stated: queen, 4 workers" in text
    assert "1 egg, 2 larvae, 3 pupae" in text
    assert "model" not in text


@pytest.mark.parametrize("width", [80, 110])
def test_no_range_is_broken_over_lines(monkeypatch, capsys, width):
    from rich.console import Console

    monkeypatch.setattr("nestwright.cli.output.console", lambda: Console(width=width, highlight=False))
    wide = {
        "held_by": (72_000.0, 170_000.0, 400_000.0),
        "workers_at_end": (219_797.0, 478_090.0, 717_860.0),
        "garden_at_end": (160_000.0, 610_000.0, 1.5e6),
    }
    result = invented(*(case(g, 0.43, **wide) for g in (5e4, 1e5, 5e5)))
    print_rescue(result)
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= width
    below = lines[next(i for i, line in enumerate(lines) if line.startswith("Donor garden")) :]
    for cell in ("170,000 (72,000 to 400,000)", "480,000 (220,000 to 720,000)", "610 L (160 L to 1.5 m3)"):
        assert sum(cell in line for line in below) == 3
    # each table names the amounts again
    for amount in ("50 L", "100 L", "500 L"):
        tables = sum(line.startswith("garden given") for line in below)
        assert sum(line.startswith(f"{amount} ") or line.startswith(f"{amount}*") for line in below) == tables


def test_one_day_is_no_days(capsys):
    code, out, _ = told(capsys, "Atta sexdens", "--workers", 20, "--garden", "5 mL", "--days", 1)
    assert code == 0
    assert "over 1 day:" in out
    assert "after 1 day " in out
    assert "1 days" not in out


def test_a_garden_that_the_queen_holds_alone():
    assert "queen" in workers_for(case(1.0, 0.5, held=(0.0, 0.0, 0.0)))


def test_no_chance_is_never_or_certain():
    assert chance(0.0) == "under 1 %"
    assert chance(1.0) == "over 99 %"


@pytest.mark.parametrize("more", [[], ["--no-queen"]])
def test_cautions_are_always_shown(capsys, more):
    code, out, _ = told(capsys, "Atta cephalotes", "--workers", 30, "--pupae", 5, *SHORT, *more)
    assert code == 0
    for words in (
        "its workers are not",
        "Escovopsis",
        "plant pests",
        "Local rules",
        "not counted",
        "30 workers",
        "5 pupae",
    ):
        assert words in out


def documented():
    text = (ROOT / "docs/guide/json.md").read_text().split("\n## `nestwright rescue`\n")[1].split("\n## ")[0]
    return {key for line in text.splitlines() for key in re.findall(r"^\| `([^`]+)`", line)}


def test_json_has_the_documented_keys(capsys):
    code, out, _ = told(capsys, "Atta sexdens", "--workers", 20, "--larvae", 4, *SHORT, "--json")
    data = json.loads(out)
    keys = set(data) | {f"brood.{k}" for k in data["brood"]} | {f"cases.{k}" for k in data["cases"][0]}
    assert code == 0
    assert keys == documented()
    assert data["workers_range"] is data["brood_range"] is data["brood_last_seen"] is data["garden_left_mL"] is None
    assert [c["garden_mL"] for c in data["cases"]] == [5, 20]
    assert data["brood"] == {"eggs": 0, "larvae": 4, "pupae": 0}


def test_a_picture_is_written(capsys, tmp_path):
    path = tmp_path / "rescue.svg"
    code, out, _ = told(capsys, "Atta sexdens", "--workers", 20, *SHORT, "--picture", path)
    assert code == 0
    assert path.read_text().lstrip().startswith("<svg")
    assert "Written:" in out


def test_a_colony_file_gives_the_ants(capsys, tmp_path):
    path = tmp_path / "colony.toml"
    path.write_text(COLONY)
    code, out, err = told(capsys, path, *SHORT, "--json")
    data = json.loads(out)
    assert code == 0, err
    assert data["species"] == "Acromyrmex echinatior"
    assert 30 < data["workers"] < 70
    low, middle, high = data["workers_range"]
    assert low < middle == data["workers"] < high
    assert data["brood_range"]["eggs"][0] < data["brood_range"]["eggs"][2]
    assert data["brood_last_seen"] == {"eggs": None, "larvae": None, "pupae": None}
    assert data["queen"] is True
    assert [c["garden_mL"] for c in data["cases"]] == [0, 5, 20]
    # the garden was lost, so that some is needed
    assert data["garden_left_mL"][1] < 1
    assert data["verdict"] == "least"
    assert data["recommended_mL"] in (5, 20)


def test_a_colony_with_a_living_garden_is_told_that_none_is_needed(capsys, tmp_path):
    path = tmp_path / "colony.toml"
    path.write_text(COLONY.split("[[event]]")[0] + '[[visit]]\ndate = 2031-02-10\ngarden = "26 mL"\nseen = ["eggs"]\n')
    code, out, err = told(capsys, path, *SHORT)
    assert code == 0
    assert re.search(r"None needed: it has about \d\d mL \(\d\d to \d\d\)", out)
    assert "Without any donor garden its chance is" in out
    assert re.search(r"eggs: \d+ \(\d+ to \d+\); last seen on 2031-02-10", out)
    assert re.search(r"larvae: \d+ \(\d+ to \d+\); not seen", out)
    assert "\n\n" not in err
    assert not err.startswith("\n")


def test_nothing_is_said_on_the_error_output_of_short_work(capsys):
    code, _, err = told(capsys, "Atta sexdens", "--workers", 20, *SHORT)
    assert code == 0
    assert err == ""


def test_no_garden_is_an_amount_to_try():
    assert parse_amounts("0 mL, 5 mL,1 L") == pytest.approx([0.0, 5.0, 1000.0])


@pytest.mark.parametrize("place", ["missing/a.svg", "a-file/a.svg"])
def test_the_place_of_a_picture_is_checked_before_the_work(capsys, tmp_path, monkeypatch, place):
    def never(*_, **__):
        raise AssertionError("the work has begun")

    monkeypatch.setattr("nestwright.colony.rescue.rescue", never)
    (tmp_path / "a-file").write_text("")
    code, out, err = told(capsys, "Atta sexdens", "--workers", 9, "--picture", tmp_path / place)
    assert code == 2
    assert out == ""
    assert place.split("/")[0] in err


def test_the_text_is_not_lost_with_the_picture(capsys, tmp_path, monkeypatch):
    from nestwright.errors import InputError

    def full(*_):
        raise InputError("cannot write", found="no space left")

    monkeypatch.setattr("nestwright.cli.rescue.draw_rescue", full)
    code, out, err = told(capsys, "Atta sexdens", "--workers", 9, *SHORT, "--picture", tmp_path / "a.svg")
    assert code == 2
    assert "workers at end" in out
    assert "no space left" in err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["Ata sexdens", "--workers", "9"], "did you mean 'Atta sexdens'?"),
        (["Atta sexdens"], "--workers"),
        (["Atta sexdens", "--workers", "-1"], "--workers: is too small; found '-1'; allowed: a whole number from 0 to"),
        (["Atta sexdens", "--workers", "1000001"], "--workers: is too large; found '1000001'"),
        (["Atta sexdens", "--workers", "nan"], "--workers: is not a whole number; found 'nan'"),
        (["Atta sexdens", "--workers", "9", "--pupae", "2.5"], "--pupae: is not a whole number; found '2.5'"),
        (["Atta sexdens", "--workers", "9", "--eggs", "many"], "--eggs: is not a whole number; found 'many'"),
        (["Atta sexdens", "--workers", "0", "--no-queen"], "--workers: nothing is left"),
        (
            ["Atta sexdens", "--workers", "9", "--garden", "-5 mL"],
            "--garden: is negative; found '-5 mL'; allowed: 0 mL",
        ),
        (["Atta sexdens", "--workers", "9", "--garden", "5 mL, 1e99 mL"], "--garden: is too large"),
        (["Atta sexdens", "--workers", "9", "--garden", "nan"], "--garden: cannot be read as a volume; found 'nan'"),
        (["Atta sexdens", "--workers", "9", "--garden", ", ".join(["1 mL"] * 41)], "--garden: are too many amounts"),
        (["Atta sexdens", "--workers", "9", "--temperature", "-400 degC"], "--temperature: is below absolute zero"),
        (["Atta sexdens", "--workers", "9", "--temperature", "warm"], "--temperature: cannot be read"),
        (["Atta sexdens", "--workers", "9", "--garden", "5"], "unit is missing"),
        (["Atta sexdens", "--workers", "9", "--garden", "5 g"], "wrong unit"),
        (["Atta sexdens", "--workers", "9", "--garden", "5 mL,"], "--garden"),
        (["Atta sexdens", "--workers", "9", "--temperature", "24"], "unit is missing"),
        (["Atta sexdens", "--workers", "9", "--temperature", "75 degC"], "5 to 40 degC"),
        (
            ["Atta sexdens", "--workers", "9", "--days", "0"],
            "--days: is too small; found '0'; allowed: a whole number from 1 to 730",
        ),
        (["Atta sexdens", "--workers", "9", "--days", "1e9"], "--days: is not a whole number"),
        (["Atta sexdens", "--workers", "9", "--picture", "a.gif"], ".svg or .png"),
        (["none.toml"], "none.toml"),
        (["none.toml", "--eggs", "3"], "stands beside a colony file"),
    ],
)
def test_what_cannot_be_used_is_told_in_a_line(capsys, words, says):
    code, out, err = told(capsys, *words)
    assert code == 2
    assert out == ""
    assert says in err
    assert "Traceback" not in err
    assert err.count("\n") == 1


def test_a_colony_of_the_record_by_its_name(tmp_path, capsys, monkeypatch):
    """The name goes before a misspelt species only where the workshop has it; a species card goes before all."""
    from nestwright.cli.rescue import in_record
    from nestwright.workshop.changes import act
    from nestwright.workshop.colonies import add_colony
    from nestwright.workshop.database import writing
    from nestwright.workshop.folder import create_workshop

    made = create_workshop(tmp_path / "shop", "UTC")
    with writing(made.engine) as connection:
        for name in ("Teasel", "Atta cephalotes"):
            add_colony(act(connection, "add"), {"name": name, "species": "Atta cephalotes", "start": "2026-01-01"})
    assert not in_record("Teasel", None)  # not inside the workshop
    assert in_record("Teasel", made.folder)
    monkeypatch.chdir(made.folder)
    assert in_record("teasel", None)
    assert not in_record("Tease", None)
    assert not in_record("Atta cephalotes", None)
