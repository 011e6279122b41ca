"""`nestwright visit`: one line, said back; told anew; refused whole."""

import json
import subprocess
import sys

import pytest

from nestwright.cli import main


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    """A workshop with two colonies that one stands in."""
    run(capsys, "workshop", "new", tmp_path / "shop", "--zone", "UTC")
    monkeypatch.chdir(tmp_path / "shop")
    for name in ("Fern", "Moss"):
        start = ["--species", "Acromyrmex echinatior", "--start", "2024-03-01", "--chamber", "900 mL"]
        assert run(capsys, "colony", "add", name, *start)[0] == 0
    return tmp_path / "shop"


FULL = [
    *["visit", "fern", "--date", "2024-03-09", "--garden", "44 mL", "--error", "10 %", "--workers", "50 to 80"],
    *["--count", "pupae 12", "--count", "dead 3", "--seen", "eggs,pupae", "--not-seen", "larvae"],
    *["--leaves", "3 g bramble", "--leaves", "40 cm2 rose", "--taken", "2 g", "--waste", "1.5 g"],
    *["--health", "wet,white", "--event", "garden added 20 mL from Moss", "--note", "drops on the glass"],
]


def test_everything_in_one_line(shop, capsys):
    code, out, _ = run(capsys, *FULL)
    assert code == 0
    assert out == (
        "Fern, 2024-03-09: garden 44 mL (error 10 %); 50 to 80 workers; 12 pupae; 3 dead; seen: eggs, pupae; "
        "not seen: larvae; "
        "given 3 g bramble; given 40 cm2 rose; leaves taken 2 g; waste 1.5 g; garden white, wet; "
        "garden added 20 mL (Moss); drops on the glass\n"
    )
    told = json.loads(run(capsys, "colony", "show", "Fern", "--json")[1])
    assert told["visits"][0]["counts"][0] == {"what": "workers", "kind": "band", "low": 50.0, "high": 80.0}
    assert told["visit"][0]["garden"] == "44.0 mL"
    assert told["donations"] == [{"date": "2024-03-09", "what": "garden added", "amount": "20 mL", "other": "Moss"}]
    moss = run(capsys, "colony", "show", "Moss")[1]
    assert "2024-03-09: garden taken 20 mL (Fern)" in moss


def test_nothing_but_the_colony(shop, capsys):
    code, out, _ = run(capsys, "visit", "Fern", "--json")
    assert code == 0
    assert json.loads(out)["garden_ml"] is None
    assert "looked at, nothing told" in run(capsys, "visit", "Moss", "--date", "today")[1]


def test_told_anew_and_taken_back(shop, capsys):
    run(capsys, *FULL)
    before = run(capsys, "colony", "show", "Fern", "--json")[1], run(capsys, "colony", "show", "Moss", "--json")[1]
    code, out, _ = run(capsys, "visit", "Fern", "--date", "2024-03-09", "--again", "--garden", "40 mL")
    assert code == 0
    start = "Fern, 2024-03-09: garden 40 mL\nNote: in the place of: garden 44 mL (error 10 %); 50 to 80 workers"
    assert out.startswith(start)
    assert "garden taken" not in run(capsys, "colony", "show", "Moss")[1]
    assert len(json.loads(run(capsys, "colony", "show", "Fern", "--json")[1])["visits"]) == 1
    assert "correction of the visit of Fern" in run(capsys, "workshop", "undo")[1]
    after = run(capsys, "colony", "show", "Fern", "--json")[1], run(capsys, "colony", "show", "Moss", "--json")[1]
    assert after == before
    code, _, err = run(capsys, "visit", "Fern", "--date", "2024-03-10", "--again", "--garden", "40 mL")
    assert code == 2
    assert "nothing to tell anew; found no visit of Fern on 2024-03-10" in err


def test_twice_on_one_day_is_said(shop, capsys):
    run(capsys, "visit", "Fern", "--date", "2024-03-09", "--garden", "40 mL")
    code, out, _ = run(capsys, "visit", "Fern", "--date", "2024-03-09", "--garden", "80 mL")
    assert code == 0
    assert "Note: visit number 2 of this day" in out
    assert "Note: 2024-03-09: the garden told as 40 and 80 mL, further apart than their errors allow" in out


WRONG = [
    (["--garden", "44"], "--garden: the unit is missing; found '44'; allowed: "),
    (["--garden", "-1 mL"], "--garden: is negative"),
    (["--garden", "0 g"], "--garden: wrong unit"),
    (["--error", "10 %"], "--error: says how far off the garden"),
    (["--garden", "44 mL", "--error", "0 %"], "--error: no observation is that exact"),
    (
        ["--garden", "44 mL", "--fill", "3 %"],
        "--fill: the garden is told twice, as volume and as fill; found '44 mL' and '3 %'; allowed: one",
    ),
    (["--workers", "-3"], "--workers: is negative"),
    (["--count", "pupae"], "--count: cannot be read as a count"),
    (["--taken", "2 mL"], "--taken: "),
    (["--waste", "nan g"], "--waste: "),
    (["--seen", "egs"], "did you mean 'eggs'"),
    (["--health", "whit"], "did you mean 'white'"),
    (["--event", "queen dead"], "did you mean 'queen lost'"),
    (["--event", "garden added 3 mL from Mos"], "did you mean 'Moss'"),
    (["--date", "2024-02-01"], "record of Fern: visit of 2024-02-01, date: lies before the start of the record"),
    (["--date", "2199-02-01"], "--date: is still to come"),
    (["--gardn", "3 mL"], "No such option: --gardn"),
]


@pytest.mark.parametrize(("words", "says"), WRONG, ids=[" ".join(w[0]) for w in WRONG])
def test_what_cannot_be_meant_is_refused_whole(shop, capsys, words, says):
    code, out, err = run(capsys, "visit", "Fern", *([] if "--date" in words else ["--date", "2024-03-09"]), *words)
    assert (code, out) == (2, "")
    assert says in err
    assert "allowed" in err or "without" in err or "No such" in err or "either" in err
    assert json.loads(run(capsys, "colony", "show", "Fern", "--json")[1])["visits"] == []
    assert len(json.loads(run(capsys, "workshop", "history", "--json")[1])["steps"]) == 2


def test_it_loads_none_of_the_heavy_libraries():
    """What makes other commands slow to begin is not loaded for a visit, nor anything of the record for its help."""
    code = (
        "import sys; sys.argv = ['nestwright'];\n"
        "from nestwright.cli.main import load\nload('visit'); light = sorted(sys.modules)\n"
        "import nestwright.workshop.colonies, nestwright.workshop.entries, nestwright.colony.file\n"
        "print([m for m in ('sqlalchemy', 'pydantic', 'alembic', 'numpy') if m in light])\n"
        "print([m for m in ('numba', 'scipy', 'polars', 'altair', 'alembic', 'cv2', 'pint') if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n[]\n"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--workers", "13", "--workers", "15"], "--workers: is told twice; found '13' and '15'"),
        (["--workers", "13", "--count", "workers 12"], "--count: 'workers' are told twice; found '13' and '12'"),
        (["--count", "eggs 5", "--count", "eggs 7"], "--count: 'eggs' are told twice; found '5' and '7'"),
    ],
)
def test_nothing_told_twice_is_dropped(shop, capsys, words, says):
    """Regression: the first of two counts was lost without a word."""
    code, _, err = run(capsys, "visit", "Fern", *words)
    assert code == 2
    assert says in err


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (["--garden", "44,5 mL"], "44.5 mL"),
        (["--leaves", "3,5 g bramble"], "3.5 g bramble"),
        (["--event", "garden added 2,5 mL from Moss"], "garden added 2.5 mL from Moss"),
        (["--workers", "1,200"], "1200"),
        (["--date", "3.11.2024"], "2024-11-03"),
        (["--date", "25/11/2024"], "2024-11-25"),
    ],
)
def test_a_decimal_comma_and_a_day_with_points_are_refused_with_what_is_meant(shop, capsys, words, meant):
    code, out, err = run(capsys, "visit", "Fern", *words)
    assert (code, out) == (2, "")
    assert err.endswith(f"; did you mean {meant!r}?\n")


def test_a_day_that_can_be_read_in_two_ways_is_not_guessed(shop, capsys):
    err = run(capsys, "visit", "Fern", "--date", "11/03/2024")[2]
    assert "did you mean" not in err
    assert "2024-MM-DD" in err


def test_several_faults_are_lines_of_one_shape(shop, capsys):
    told = {"waste": "1.5", "garden": "44", "workers": "sixty", "leaves": "bramble", "event": "queen died"}
    err = run(capsys, "visit", "Fern", *(one for what, text in told.items() for one in (f"--{what}", text)))[2]
    assert [line.split(":")[:2] for line in err.splitlines()] == [
        ["nestwright", f" --{x}"] for x in ("garden", "waste", "workers", "leaves", "event")
    ]


def test_a_fill_over_100_per_cent_says_what_it_means(shop, capsys):
    code, _, err = run(capsys, "visit", "Fern", "--fill", "118 %")
    assert code == 2
    assert "presses against the bell" in err
    assert "--garden" in err
