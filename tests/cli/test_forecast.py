"""`nestwright forecast`: what is printed, what is written, and what is refused."""

import contextlib
import io
import json
import re
import subprocess
import sys
from datetime import date, timedelta

import numpy as np
import polars
import pytest
from invented_colony import START, TODAY, fit, forecast, told

from nestwright.cli import forecast_text, main
from nestwright.cli.fitting import check_leaves
from nestwright.cli.forecast_out import columns, draw_all, write_out
from nestwright.colony.pace import pace_of
from nestwright.colony.results import Point
from nestwright.errors import InputError
from nestwright.wording import forecast as worded

COLONY = """\
format = 1
name = "Sill"
species = "Acromyrmex echinatior"
start = 2031-03-01
end = 2031-03-11
[arrival]
garden = "30 mL"
workers = "about 60"
[housing]
making_time = "9 day"
[[bell]]
from = 2031-03-01
name = "first"
usable = "60 mL"
[[visit]]
date = 2031-03-08
garden = "32 mL"
workers = "about 70"
"""


def called(*arguments):
    """Exit code, standard output and error output of the program within this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
        main.run([str(one) for one in arguments])
    return left.value.code, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A folder in which a short record has been fitted once, with every file that the command can write."""
    folder = tmp_path_factory.mktemp("colony")
    (folder / "sill.toml").write_text(COLONY)
    code, out, err = called(
        "forecast", folder / "sill.toml", "--days", "20", "--leaves", "2 g/day", "--picture", folder / "sill.svg",
        "--out", folder / "sill.json", "--pictures", folder / "pictures",
    )  # fmt: skip
    assert code == 0, err
    return folder, out


def test_a_record_is_forecast(whole):
    folder, out = whole
    assert "Record of 10 days from 2031-03-01 with 2 observations; forecast of 20 days" in out
    assert "On 2031-03-11" in out
    assert "2031-03-31 (+20)" in out
    assert "fill reaches 80 %" in out
    assert "start making the next bell" in out
    document = json.loads((folder / "sill.json").read_text())
    assert document["fit"]["colony"] == "Sill"
    assert document["horizon_days"] == 20
    garden = document["bands"]["garden"]
    assert garden["day"] == list(range(10, 31))
    assert all(0 <= low <= mid <= high for low, mid, high in zip(garden["low"], garden["middle"], garden["high"]))  # noqa: B905
    assert document["bands"]["leaf_given"]["middle"] == [2] * 21
    assert "leaves_short" in document["dates"]
    assert document["water"] is None


def test_every_picture_is_written(whole):
    folder, out = whole
    assert {p.name for p in (folder / "pictures").iterdir()} == {"growth.svg", "brood.svg", "dates.svg", "leaves.svg"}
    for picture in [folder / "sill.svg", *(folder / "pictures").iterdir()]:
        assert picture.read_text().rstrip().endswith("</svg>")
        assert f"Written: {picture}" in out


def test_a_forecast_is_carried_into_the_climate(whole):
    folder, _ = whole
    from nestwright.cli.demo import HABITAT
    from nestwright.workshop.example import example_workshop

    habitat = example_workshop() / HABITAT
    at = ["climate", habitat, "--room", "21 degC, 45 %", "--forecast", folder / "sill.json"]
    code, out, err = called(*at, "--json")
    assert code == 0, err
    made = json.loads(out)
    assert set(made["cases"]) == {"low", "middle", "high"}
    garden = json.loads((folder / "sill.json").read_text())["bands"]["garden"]
    for name, case in made["cases"].items():
        assert case["days"][0]["date"] == "2031-03-11"
        assert case["days"][0]["garden_mL"] == pytest.approx(garden[name][0], rel=1e-4)
        assert case["days"][-1]["garden_mL"] == pytest.approx(garden[name][-1], rel=1e-4)
    code, out, err = called(*at)
    assert code == 0, err
    assert "the garden in" in out
    assert "CO2 %" in out


def printed(capsys, **changed):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "110")
        forecast_text.print_forecast(told(**changed))
    return re.sub(r" +(\n?)", lambda gap: gap[1] or " ", capsys.readouterr().out)


def test_every_part_is_printed(capsys):
    text = printed(capsys)
    for part in (
        "Attic [two], Acromyrmex octospinosus",
        "with 4 observations",
        "The last count, 300 workers on 2031-03-21, lies above the band of that day, 50 to 200 workers",
        "Climate: logger attic.csv, 30 of 41 days of the record",
        "garden 60 (30 to 120) mL",
        "fill 15 (7.5 to 30) %",
        "leaf need 1.0 (0.50 to 2.0) g/day",
        "housed in first bell, 400 mL",
        "+2.0 % a day over the next 14 days (+1.2 to +2.8 %)",
        "2031-04-17 (+7) 69 (35 to 140)",
        "2031-07-09 (+90)",
        "Water of Single pot by its proof: 4.3 g/day, a fill lasts 12 days",
        "fill reaches 80 % 85 % 2031-05-25 2031-06-19 -\n",
        "under 1 % - - -\n",
        "2031-04-05, past 2031-04-30 -\n",
        "in 1, 5 and 9 outcomes in 10. -: not within 90 days.",
        "Workers and garden alive on the last day: 97 %",
        "1 of 2 observations in their 80 % band",
        "Surprise: 2031-03-21, line 21: 300 workers; expected 120 (90 to 160), beyond its error",
        "Surprise: 2031-03-31, line 25: pupae seen, the chance of which was under 1 %",
        "eggs of a queen at most 310 (100 to 900) a day",
        "dry leaf a forager brings 6.1 (2.0 to 9.0) mg a day 3.0 (1.0 to 9.0) mg a day",
        "dry share of fresh leaf (drawn from its range) 30 (20 to 40) %",
        "day leaf need g/day leaf need cm2/day waste g/day",
        "Leaf need: fresh leaves that the colony would take on that day. All else above reckons with so many",
        "Note: leaves of the days to come: as many as the colony takes, also where the record counts those given",
        "Escape and plant pests",
    ):
        assert part in text, part
    assert text.count("Surprise:") == 2


def test_only_what_the_record_moved_is_called_learnt():
    # uptake was narrowed, carry moved; the laying ceiling is as it was
    assert [e.name for e in worded.learnt(fit())] == ["uptake", "carry"]


def test_a_record_without_observations_says_so(capsys):
    made = forecast(fit=fit(points=(), estimates=(), judgements=(), inside=None))
    text = printed(capsys, forecast=made, water=None)
    assert "No observations yet: this is what the species card alone says\n" in text
    assert "Nothing: all values are as before the record." in text
    assert "No measured observation to compare." in text


@pytest.mark.parametrize(("off", "told_of"), [(2.4, False), (-2.4, False), (2.6, True), (-2.6, True)])
def test_a_surprise_is_more_than_two_and_a_half_sd(off, told_of):
    one = Point(1.0, "garden", "guess", 5.0, 4.0, 6.0, 6.0, 7.0, 8.0, off, 3)
    assert bool(worded.surprises(fit(points=(one,)))) is told_of


def test_a_surprise_is_told_as_the_file_tells_it():
    # 4.55 g of dry matter at a dry share of 0.35 (data/colony.toml) is 13 g of waste
    one = Point(1.0, "waste", "measured", 4.55, 4.0, 5.0, 0.7, 1.4, 2.1, 3.0, 3)
    assert "13 g of waste; expected 4.0 (2.0 to 6.0), beyond its error" in worded.surprises(fit(points=(one,)))[0]


def test_what_was_not_seen_can_surprise():
    one = Point(1.0, "larvae", "", 0.0, 0.0, 0.0, 0.995, 0.995, 0.995, None, 3)
    assert "larvae looked for and not seen" in worded.surprises(fit(points=(one,)))[0]


def test_the_pace_is_that_of_exponential_growth():
    """Doubling time is ln 2 / rate: the arithmetic of exponential growth."""
    days = np.arange(91.0)
    pace = pace_of(10 * np.exp(np.full((5, 1), 0.05) * days), 100.0)
    assert pace.per_day == pytest.approx((0.05, 0.05, 0.05))
    assert pace.doubled.middle == 100 + np.ceil(np.log(2) / 0.05)
    assert pace.tripled.middle == 100 + np.ceil(np.log(3) / 0.05)
    lost = pace_of(np.zeros((3, 15)), 0.0)
    assert lost.per_day == (0.0, 0.0, 0.0)
    assert lost.doubled.probability == 0.0
    assert lost.doubled.middle is None


def test_a_single_day_has_a_pace():
    pace = pace_of(np.array([[10.0, 11.0]]), 0.0)
    assert pace.days == 1
    assert pace.per_day[1] == pytest.approx(np.log(1.1))


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_the_days_come_back_from_the_table(tmp_path, suffix):
    target = write_out(told(), tmp_path / f"days{suffix}")
    read = polars.read_csv(target) if suffix == ".csv" else polars.read_parquet(target)
    assert read.columns == list(columns(forecast()))
    assert len(read) == 91
    assert read["date"][1] == str(START + timedelta(days=TODAY + 1))
    assert read["garden_mL.middle"][0] == 60
    assert read["garden_mL.high"][0] == 120
    assert read["leaf_area_cm2_per_day.low"][90] == 22.5
    assert [p.name for p in tmp_path.iterdir()] == [target.name]


def test_an_interrupt_between_pictures_leaves_none(tmp_path, monkeypatch):
    from nestwright.charts import leaves

    def stopped(forecast):
        raise KeyboardInterrupt

    monkeypatch.setattr(leaves, "demand_chart", stopped)
    with pytest.raises(KeyboardInterrupt):
        draw_all(forecast(), tmp_path / "pictures")
    assert list(tmp_path.iterdir()) == []


def test_an_interrupt_of_the_fit_leaves_nothing(tmp_path, monkeypatch):
    from nestwright.colony import fit as fitting

    def stopped(colony, **options):
        raise KeyboardInterrupt

    monkeypatch.setattr(fitting, "fit", stopped)
    (tmp_path / "sill.toml").write_text(COLONY)
    code, out, err = called(
        "forecast", tmp_path / "sill.toml", "--out", tmp_path / "a.csv", "--pictures", tmp_path / "p"
    )
    assert code == 130
    assert out == ""
    assert "no file was left half-written" in err
    assert [p.name for p in tmp_path.iterdir()] == ["sill.toml"]


@pytest.mark.parametrize(
    ("text", "grams"),
    # 120 cm2 at 0.0067 g/cm2 dry and a dry share of 0.3: both from data/colony.toml
    [(None, None), ("3 g/day", 3.0), ("2.5 g / d", 2.5), ("120 cm2/day", 120 * 0.0067 / 0.3)],
)
def test_leaves_a_day(text, grams):
    assert check_leaves(text) == pytest.approx(grams)


@pytest.mark.parametrize("text", ["3 g", "3", "g/day", "3 mL/day", "3 g/week", "", "nan g/day", "/day", "9" * 999])
def test_leaves_that_are_no_amount_a_day_are_refused(text):
    with pytest.raises(InputError, match=r"no amount of leaves a day; found .*; allowed: 0 to 100000 g/day"):
        check_leaves(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("-1 g/day", "--leaves: is negative; found '-1 g/day'; allowed: 0 to 100000 g/day"),
        ("-3 cm2/day", "--leaves: is negative; found '-3 cm2/day'; allowed: 0 to 100000 g/day"),
        ("1e9 g/day", "--leaves: is too large; found '1e9 g/day'; allowed: 0 to 100000 g/day"),
    ],
)
def test_leaves_beyond_the_range_are_told_with_the_range(text, says):
    with pytest.raises(InputError, match=re.escape(says)):
        check_leaves(text)


@pytest.mark.parametrize(
    ("command", "option", "text", "says"),
    [
        ("forecast", "--days", "1001", "is too large; found '1001'; allowed: a whole number from 1 to 1000"),
        ("forecast", "--days", "abc", "is not a whole number; found 'abc'; allowed: a whole number from 1 to 1000"),
        ("forecast", "--days", "9" * 5000, "is too large; found '999"),
        ("plan", "--days", "6", "is too small; found '6'; allowed: a whole number from 7 to 730"),
        ("plan", "--handling", "nan", "is not a number; found 'nan'; allowed: a number from 0 to 365"),
        ("plan", "--handling", "-1", "is too small; found '-1'; allowed: a number from 0 to 365"),
        ("diagnose", "--history", "61", "is too large; found '61'; allowed: a whole number from 0 to 60"),
        ("diagnose", "--history", "1.5", "is not a whole number; found '1.5'; allowed: a whole number from 0 to 60"),
    ],
)
def test_numbers_of_options_are_told_with_what_is_allowed(tmp_path, command, option, text, says):
    (tmp_path / "sill.toml").write_text(COLONY)
    code, out, err = called(command, tmp_path / "sill.toml", option, text)
    assert (code, out) == (2, "")
    assert err.startswith(f"nestwright: {option}: {says}")
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("forecast", "--out", "nodir/x.csv"), "nodir/x.csv: there is no such folder; found nodir"),
        (("forecast", "--picture", "nodir/x.svg"), "nodir/x.svg: there is no such folder; found nodir"),
        (("forecast", "--pictures", "nodir/x"), "there is no such folder; found nodir"),
        (("forecast", "--pictures", "/proc/x"), "cannot write into the folder; found /proc"),
        (("forecast", "--out", "/proc/x.csv"), "cannot write into the folder; found /proc"),
        (("plan", "--picture", "nodir/x.svg"), "nodir/x.svg: there is no such folder; found nodir"),
        (("diagnose", "--picture", "/proc/x.png"), "cannot write into the folder; found /proc"),
    ],
)
def test_places_are_checked_before_the_fit(tmp_path, monkeypatch, arguments, says):
    """Found after the fit: the work was done, and the text of the result was lost."""
    from nestwright.colony import diagnosis
    from nestwright.colony import fit as fitting

    def never(*_, **__):
        raise AssertionError("fitted before the place was checked")

    monkeypatch.setattr(fitting, "fit", never)
    monkeypatch.setattr(diagnosis, "diagnose", never)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sill.toml").write_text(COLONY)
    code, out, err = called(arguments[0], "sill.toml", *arguments[1:])
    assert (code, out) == (2, "")
    assert says in err
    assert len(err.splitlines()) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["sill.toml"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["none.toml"],
        ["sill.toml", "--leaves", "3 g"],
        ["sill.toml", "--out", "a.xlsx"],
        ["sill.toml", "--picture", "a.bmp"],
        ["sill.toml", "--pictures", "sill.toml"],
        ["sill.toml", "--pictures", "no/where"],
        ["sill.toml", "--days", "0"],
        ["sill.toml", "--climate", "none.csv"],
        ["sill.toml", "--climate", "sill.toml"],
    ],
)
def test_bad_input_is_one_message_and_exit_2(arguments, tmp_path):
    (tmp_path / "sill.toml").write_text(COLONY)
    done = subprocess.run(
        [sys.executable, "-m", "nestwright", "forecast", *arguments], cwd=tmp_path, capture_output=True, text=True
    )
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["sill.toml"]


def test_a_wrong_name_of_the_species_is_told_with_its_line(tmp_path):
    (tmp_path / "sill.toml").write_text(COLONY.replace("echinatior", "echinatiar"))
    code, _, err = called("forecast", tmp_path / "sill.toml")
    assert code == 2
    assert "sill.toml:3" in err
    assert "Acromyrmex echinatior" in err


def test_dates_are_calendar_days():
    rows = worded.date_rows(forecast())
    assert rows[0][2] == str(date(2031, 3, 1) + timedelta(days=85))


def test_what_has_come_already_is_now():
    from nestwright.colony.results import DateSpan

    made = forecast(dates=(DateSpan("bell_full", "fill reaches 80 %", 1.0, float(TODAY), float(TODAY), TODAY + 1.0),))
    assert worded.date_rows(made)[0][1:] == ["over 99 %", "now", "now", str(START + timedelta(days=TODAY + 1))]


def test_days_before_today_are_past():
    """Seen by a newcomer: days that were past already stood among the days to come."""
    made = forecast()
    now = START + timedelta(days=TODAY + 20)
    last = START + timedelta(days=TODAY)
    assert worded.date_rows(made, last) == worded.date_rows(made)
    begin = worded.date_rows(made, now)[-1]
    assert begin[2:] == ["2031-04-05, past", "now", "-"]
    assert worded.date_rows(made, now + timedelta(days=40))[0][2:] == ["2031-05-25, past", "2031-06-19", "-"]
    assert worded.later_days(made, now) == 20
    assert worded.table_rows(made, worded.SPACE, 20)[1][0][0] == f"{now + timedelta(days=7)} (+7)"
    assert worded.past_line(made, now) == ""
    beyond = last + timedelta(days=91)
    assert "it ends 90 days after the record's last day, 2031-04-10, and today is" in worded.past_line(made, beyond)
    assert worded.table_rows(made, worded.SPACE, 91)[1][0][0].endswith("(past)")


def test_a_long_forecast_is_told_along_the_way():
    made = forecast(days=1000)
    head, rows = worded.table_rows(made, worded.FLOWS)
    assert head == ["day", "leaf need g/day", "leaf need cm2/day", "waste g/day"]
    ahead = [int(re.search(r"\+(\d+)", row[0])[1]) for row in rows]
    assert ahead == [7, 14, 30, 60, 90, 180, 365, 730, 1000]
    assert len(worded.table_rows(forecast(days=365), worded.SPACE)[1]) == 7


def test_a_large_garden_is_told_in_litres(capsys):
    from invented_colony import band

    made = forecast()
    made.bands["garden"] = band("garden", "mL", TODAY, 90, 30_000.0)
    head, rows = worded.table_rows(made, worded.SPACE)
    assert head[1] == "garden L"
    assert rows[0][1] == "30 (15 to 60)"
    assert "garden 30 (15 to 60) L" in printed(capsys, forecast=made)


def test_workers_are_whole():
    from invented_colony import band

    made = forecast()
    made.bands["workers"] = band("workers", "1", TODAY, 90, 0.08)
    _, rows = worded.table_rows(made, worded.SPACE)
    assert rows[0][3] == "0"


@pytest.mark.parametrize(
    ("name", "usable", "says"),
    [
        ("bell 90 mL", 90.0, "bell 90 mL"),
        ("bell 25000 mL", 25_000.0, "bell 25 L"),
        ("bell 1.2e+05 mL", 120_000.0, "bell 120 L"),
        ("first bell", 400.0, "first bell, 400 mL"),
        ("the 90 mL one", 90.0, "the 90 mL one, 90 mL"),
        ("chamber", 2400.0, "chamber, 2400 mL"),
    ],
)
def test_a_volume_is_told_once(name, usable, says):
    assert worded.housing_text(name, usable) == says


def test_no_garden_is_said_and_not_called_a_growth_of_nought(capsys):
    from invented_colony import band

    made = forecast()
    made.bands["garden"] = band("garden", "mL", TODAY, 90, 0.0)
    text = " ".join(printed(capsys, forecast=made, pace=pace_of(np.zeros((3, 91)), float(TODAY))).split())
    assert "No garden is left: there is nothing that could grow. `nestwright rescue` says how much" in text
    assert "% a day over" not in text


def test_a_large_chamber_is_told_in_litres():
    from nestwright.colony.results import DateSpan

    made = forecast(dates=(DateSpan("next_chamber", "garden reaches 80 % of the chamber's 150000 mL", 0.5, 1, 2, 3),))
    assert worded.date_rows(made)[0][0] == "garden reaches 80 % of the chamber's 150 L"


def test_a_single_day_is_no_days(capsys):
    made = forecast(days=1, fit=fit(days=1))
    text = printed(capsys, forecast=made)
    assert "Record of 1 day from" in text
    assert "forecast of 1 day\n" in text
    one = pace_of(60 * np.exp(np.full((3, 1), 0.02) * np.arange(2.0)), 1.0)
    assert "% a day over the next day (" in printed(capsys, forecast=made, pace=one)
    assert not re.search(r"\b1 days", text)


def test_leaves_given_stand_beside_the_need(capsys):
    from invented_colony import band

    made = forecast()
    made.bands["leaf_given"] = band("leaf_given", "g/day", TODAY, 90, 0.0)
    text = " ".join(printed(capsys, forecast=made).split())
    assert "Given from now on: none, and all else above reckons with that" in text
    made.bands["leaf_given"] = band("leaf_given", "g/day", TODAY, 90, 2.5)
    text = " ".join(printed(capsys, forecast=made).split())
    assert "Given from now on: 2.5 g/day, and" in text
    assert "so many being given" not in text


def test_a_garden_that_is_small_in_the_middle_is_told_in_millilitres():
    """Seen by a newcomer: 30 mL as 0.030 L, because the garden might be large on a far day."""
    from invented_colony import band

    made = forecast(days=1000)
    made.bands["garden"] = band("garden", "mL", TODAY, 1000, np.geomspace(30.0, 40_000.0, 1001))
    head, rows = worded.table_rows(made, worded.SPACE)
    assert head[1] == "garden"
    assert rows[0][1] == "32 (16 to 63) mL"
    assert rows[-1][1] == "40 (20 to 80) L"


def test_crumbs_are_under_a_tenth_of_a_millilitre():
    """Printed as "0.31 (0.0016 to 12) mL" and "under 0.001 (under 0.001 to", broken over two lines."""
    from nestwright.colony.results import Band

    def cell(*three):
        made = forecast()
        made.bands["garden"] = Band("garden", "mL", TODAY + np.arange(91.0), *(np.full(91, x) for x in three))
        return worded.table_rows(made, worded.SPACE)[1][0][1]

    assert cell(0.0016, 0.31, 12.0) == "0.3 (under 0.1 to 12)"
    assert cell(1e-5, 1e-4, 0.5) == "under 0.1 to 0.5"
    assert cell(1e-5, 1e-4, 1e-3) == "under 0.1"


def test_a_doubling_that_more_likely_does_not_come():
    from nestwright.colony.results import DateSpan

    never = DateSpan("tripled", "three times", 0.0, None, None, None)
    made = told()
    pace = type(made.pace)(14, (0.0, 0.01, 0.02), DateSpan("doubled", "twice", 0.3, TODAY + 4.0, None, None), never)
    lines = worded.growth_lines(type(made)(forecast(), pace))
    assert "Doubled in 4 days at the earliest; within 90 days with a chance of 30 %" in lines


def test_far_off_is_said_in_words():
    """Printed as "5.0 sd off"."""
    one = Point(1.0, "garden", "measured", 90.0, 80.0, 99.0, 20.0, 30.0, 40.0, 5.0, 3)
    assert worded.surprises(fit(points=(one,)))[0].endswith("expected 30 (20 to 40), far beyond its error")


def test_losses_of_the_record_stand_first_and_in_json(capsys):
    from nestwright.colony.model import Colony, Event

    gone = Colony("Attic [two]", "Acromyrmex octospinosus", START, 40, events=(Event(12.0, "garden_share_lost", 1.0),))
    text = printed(capsys, colony=gone)
    line = "By the record the garden is gone since 2031-03-13: see `nestwright rescue FILE`"
    assert text.splitlines()[1] == line
    assert told(colony=gone).to_dict()["notes"][0] == line
    assert "docs/guide/forecast.md" in text


@pytest.mark.parametrize("command", ["forecast", "plan", "diagnose"])
def test_a_colony_of_the_record_is_named_from_outside_its_workshop(tmp_path, monkeypatch, command):
    """A name worked in the workshop's own folder only."""
    from nestwright.colony import fit as fitting

    workshop = tmp_path / "shop"
    for words in (
        ["workshop", "new", workshop],
        ["colony", "add", "Sill", "--workshop", workshop, "--species", "Acromyrmex echinatior"],
    ):
        code, _, err = called(*words)
        assert code == 0, err
    seen = []

    def stopped(colony, **options):
        seen.append(colony.name)
        raise KeyboardInterrupt

    monkeypatch.setattr(fitting, "fit", stopped)
    monkeypatch.chdir(tmp_path)
    code, out, err = called(command, "Sill", "--workshop", workshop)
    if command == "diagnose":
        assert code == 0, err
        assert "No observation in the record: there is nothing to weigh" in out
    elif command == "forecast":
        assert (code, seen) == (130, ["Sill"])
    else:
        # it was found: its room is what is missing
        assert "housing.chamber" in err
