"""`nestwright today` and `nestwright alarms`: what is printed, what is JSON, and what is refused."""

import contextlib
import http.server
import io
import json
import re
import threading
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import text

from nestwright.cli import main, progress
from nestwright.cli.looking import wrapped
from nestwright.cli.today import today_lines
from nestwright.workshop import kept_forecasts
from nestwright.workshop.alarm_rules import Due, Finding
from nestwright.workshop.changes import act
from nestwright.workshop.database import writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.kept_forecasts import KeptForecast
from nestwright.workshop.look import Leaves
from nestwright.workshop.placements import place_logger, placements
from nestwright.workshop.readings import keep_channel, keep_logger, store_readings
from nestwright.workshop.todo import Task, Today

SPECIES = "Acromyrmex echinatior"
NOW = datetime.now(UTC).date()
GUIDE = Path(__file__).parents[2] / "docs/guide"


def called(*arguments):
    """Exit code, standard output and error output of the program within this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as left:
        main.run([str(one) for one in arguments])
    return left.value.code or 0, out.getvalue(), err.getvalue()


def done(*arguments):
    code, out, err = called(*arguments)
    assert code == 0, err
    return out


def ago(days):
    return (NOW - timedelta(days=days)).isoformat()


@pytest.fixture
def shop(tmp_path, monkeypatch):
    folder = tmp_path / "shop"
    create_workshop(folder, "UTC")
    monkeypatch.chdir(folder)
    n = 91
    bands = {
        "garden": ((40.0,) * n, (47.0,) * n, (52.0,) * n),
        "fill": ((0.70,) * n, (0.78,) * n, (0.86,) * n),
        "workers": ((100.0,) * n, (120.0,) * n, (140.0,) * n),
        "leaf_fresh": ((0.8,) * n, (1.2,) * n, (1.9,) * n),
        "waste": ((0.1,) * n, (0.2,) * n, (0.3,) * n),
    }
    full = Due(NOW + timedelta(days=6), NOW + timedelta(days=9), NOW + timedelta(days=17), 0.97)
    made = KeptForecast(NOW, n - 1, bands, full, None, 0.99, ())

    def fitted(folder, colony, horizon, ahead, progress):
        if progress is not None:
            progress(0.4)
        return made

    monkeypatch.setattr(kept_forecasts, "_made", fitted)
    # lines of progress are written at once
    monkeypatch.setattr(progress, "FIRST_LINE", 0.0)
    monkeypatch.setattr(progress, "LINE_EVERY", 0.0)
    return folder


def colony(name, days=40, garden="40 mL"):
    done("colony", "add", name, "--species", SPECIES, "--start", ago(days), "--garden", garden)


def test_a_new_workshop_says_how_to_begin(shop):
    out = done("today")
    assert "no colony and no build yet" in out
    assert "nestwright colony add NAME --species" in out


def test_nothing_to_do_is_said_plainly(shop):
    colony("Marigold", 0)
    done("visit", "Marigold", "--health", "white")
    out = done("today", "--no-forecast")
    assert "nothing to do today. Looked at 1 colony." in out
    assert "Without forecasts" in out


def test_one_colony_with_a_part_to_begin(shop):
    colony("Marigold")
    done("visit", "Marigold", "--health", "white")
    with writing(create(shop).engine) as connection:
        connection.execute(text("UPDATE colony SET making_days = 9"))
    out = " ".join(done("today").split())
    early, middle, late = (NOW + timedelta(days=d) for d in (6, 9, 17))
    short = [d.strftime("%m-%d") if d.year == middle.year else d.isoformat() for d in (early, late)]
    assert "1. Marigold: begin the next bell" in out
    span = f"{middle} ({short[0]} to {short[1]})"
    assert f"fill 78 % (70 to 86 %); the next bell takes 9 days and this one is full on {span}." in out
    assert "$ nestwright plan Marigold" in out
    assert "Marigold 1.2 (0.80 to 1.9)" in out


def create(folder):
    from nestwright.workshop.folder import Workshop

    return Workshop(folder)


def test_twelve_colonies_and_one_that_is_broken(shop):
    for n in range(12):
        colony(f"Colony {n + 1}", 40 + n)
    with writing(create(shop).engine) as connection:
        connection.execute(text("UPDATE colony SET species = 'Nobody knows' WHERE name = 'Colony 7'"))
    out = done("today")
    assert "Looked at 12 colonies" in out
    assert out.count("$ nestwright visit") == 12
    assert "Could not be told" in out
    assert re.search(r"^- Colony 7: .*species", out, re.MULTILINE)
    leaves = out.split("Fresh leaves today")[1].splitlines()
    # eleven of 1.2 g, their ends added up: 8.8, 13.2 and 20.9 g
    assert leaves[12].split(maxsplit=1) == ["together", "13 (8.8 to 21)"]
    # the oldest without a visit comes first
    assert out.index("Colony 12: visit it") < out.index("Colony 1: visit it")


def test_progress_is_told_to_who_waits_and_not_to_cron(shop, monkeypatch):
    colony("Marigold")
    _, _, err = called("alarms", "check", "--no-send")
    assert err == ""
    for file in (shop / kept_forecasts.FOLDER).glob("*.json"):
        file.unlink()
    _, out, err = called("today")
    assert "forecast of Marigold: 40 %" in err
    assert "1.2 (0.80 to 1.9)" in out
    # kept: nothing more to wait for
    assert called("today")[1:] == (out, "")


def test_readings_at_the_garden_are_its_climate_once_a_day(shop, monkeypatch):
    colony("Marigold", 10)
    given = []
    made = kept_forecasts._made
    monkeypatch.setattr(
        kept_forecasts, "_made", lambda at, colony_, *rest: given.append(colony_.climate) or made(at, colony_, *rest)
    )
    done("today")
    assert given[-1] is None
    # whole hours up to the last midnight, and some since
    midnight = datetime(NOW.year, NOW.month, NOW.day, tzinfo=UTC).timestamp()

    def log(hours):
        with writing(create(shop).engine) as connection:
            act_ = act(connection, "readings")
            row = keep_logger(act_, "pot")
            for name, unit, value in (("temperature", "degC", 25.0), ("humidity", "%", 97.0)):
                at = np.array([int(1000 * (midnight + 3600 * h)) for h in hours])
                store_readings(connection, keep_channel(act_, row, name, name, unit), at, np.full(len(at), value))
            if not placements(connection):
                place_logger(act_, row, None, 1, "garden", int(1000 * (midnight - 11 * 86400)))

    log(range(-48, 0))
    done("today")
    # the record ends with its first day, on which nothing was read; two later days tell of those to come
    assert len(given) == 2
    log(range(0, 2))
    done("today")
    assert len(given) == 2


def test_today_as_json(shop):
    colony("Marigold")
    told = json.loads(done("today", "--json"))
    assert {t["kind"] for t in told["tasks"]} == {"part", "visit"}
    assert told["leaves_sum_g"] == {"low": 0.8, "middle": 1.2, "high": 1.9}
    assert told["day"] == NOW.isoformat()


def task(**changed):
    values = {
        "key": "part/1",
        "kind": "part",
        "state": "on",
        "subject": "Marigold",
        "says": "fill 78 % (70 to 86 %); the next bell takes 9 days and this one is full on 2031-03-04 (02-27 to 03-12)",  # noqa: E501
        "do": "begin the next bell",
        "command": "nestwright plan Marigold",
    }
    return Task("parts", Finding(**(values | changed)))


def today(tasks, **changed):
    values = {
        "day": date(2031, 3, 1),
        "tasks": tuple(tasks),
        "put_off": (),
        "leaves": (),
        "unread": (),
        "colonies": 1,
        "builds": 0,
        "forecasts": True,
    }
    return Today(**(values | changed))


@pytest.mark.parametrize("columns", [32, 40, 80])
def test_no_line_but_a_command_is_wider_than_the_screen(columns):
    leaves = (Leaves("A colony with a rather long name, in the attic", (0.81, 1.2, 1.9)), Leaves("B", (1.0, 2.0, 3.0)))
    made = today([task()] * 11, leaves=leaves, unread=(("Thorn", "its record cannot be read " * 4),), put_off=(task(),))
    lines = [line for text_ in today_lines(made, columns) for line in text_.split("\n")]
    assert all(len(line) <= columns for line in lines if "$ " not in line)
    assert "11. Marigold: begin the" in "\n".join(lines)
    assert "  $ nestwright plan Marigold" in "\n".join(lines)


@pytest.mark.parametrize("columns", range(32, 60))
def test_a_number_stays_with_its_unit(columns):
    broken = wrapped("   ", task().finding.says, columns)
    assert not re.search(r"\d\n\s*(%|days)", broken)
    assert " ".join(broken.split()) == task().finding.says


def test_each_class_stands_once_under_its_title():
    tasks = [task(), task(subject="Thistle")]
    lines = today_lines(today(tasks), 80)
    assert lines.count("Parts to begin") == 1
    assert lines[0].startswith("Saturday 2031-03-01: 2 things to do.")


def test_what_was_seen_and_what_is_put_off_are_marked():
    made = today([Task("parts", task().finding, 3, True)], put_off=(task(subject="Thistle"),))
    out = "\n".join(today_lines(made, 80))
    assert "begin the next bell (seen)" in out
    assert "Put off: Thistle (begin the next bell)." in out


# alarms


def test_alarms_are_raised_listed_seen_and_put_off(shop):
    colony("Marigold")
    out = done("alarms", "check", "--no-forecast")
    assert "New: 1. Marigold: no visit since it came, 40 days ago" in out
    assert "Nobody is told" in out
    assert done("alarms", "check", "--no-forecast") == ""
    assert "1. Marigold" in done("alarms", "list")
    assert "acknowledged" in done("alarms", "ack", "1", "--json")
    assert "Put off until" in done("alarms", "snooze", "1", "3", "day")
    assert "snoozed, until" in done("alarms", "list")
    assert "Put off: Marigold (visit it)." in done("today", "--no-forecast")
    done("visit", "Marigold")
    assert "Ended: 1." in done("alarms", "check", "--no-forecast")
    assert "No alarm is open" in done("alarms", "list")
    (one,) = json.loads(done("alarms", "list", "--ended", "--json"))["alarms"]
    assert (one["state"], one["kind"]) == ("ended", "visit")


@pytest.mark.parametrize(
    "arguments",
    [
        ("ack", "9"),
        ("snooze", "9", "2h"),
        ("snooze", "1", "soon"),
        ("snooze", "1", "-2 h"),
        ("send",),
        ("refill", "7", "9"),
    ],
)
def test_what_cannot_be_done_is_refused_in_one_line(shop, arguments):
    code, out, err = called("alarms", *arguments)
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1


def test_a_faulty_file_is_refused_before_anything_is_looked_at(shop):
    (shop / "alarms.toml").write_text('[webhook]\nurl = "mailto:x"\n')
    code, _, err = called("alarms", "check")
    assert code == 2
    assert "alarms.toml:2: webhook.url" in err


def test_alarms_go_to_a_webhook_and_a_failure_is_told(shop):
    seen, answers = [], [500, 200]

    class Hook(http.server.BaseHTTPRequestHandler):
        def do_POST(self):
            seen.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            self.send_response(answers[min(len(seen) - 1, 1)])
            self.end_headers()

        def log_message(self, *_):
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Hook) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.05,))
        thread.start()
        (shop / "alarms.toml").write_text(f'[webhook]\nurl = "http://127.0.0.1:{server.server_port}/"\ntries = 1\n')
        colony("Marigold")
        code, out, err = called("alarms", "check", "--no-forecast")
        assert (code, "New: 1." in out) == (1, True)
        assert "will be tried again" in err
        assert "not told yet" in done("alarms", "list")
        assert "Sent by webhook: 1 alarm\n" in done("alarms", "check", "--no-forecast")
        assert "; told" in done("alarms", "list")
        assert done("alarms", "send") == "Nothing is owed.\n"
        assert "a test" in done("alarms", "send", "--test")
        server.shutdown()
        thread.join()
    assert [one["test"] for one in seen] == [False, False, True]


def test_water_of_a_build(shop, tmp_path):
    with writing(create(shop).engine) as connection:
        connection.execute(text("INSERT INTO build (serial, habitat) VALUES ('7', 'habitats/pot.toml')"))
    assert "water lasts not told" in done("alarms", "refill", "7")
    assert "8 to 11 days" in done("alarms", "refill", "7", "8", "to", "11")
    proof = tmp_path / "proof.json"
    proof.write_text('{"refill_days": 9.24}')
    told = json.loads(done("alarms", "refill", "7", "--proof", proof, "--done", "--date", ago(10), "--json"))
    assert told == {"build": "7", "lasts_days": [9.24, 9.24], "filled": ago(10)}
    assert "build 7: fill its water" in done("today")
    done("alarms", "refill", "7", "--done", "--amount", "150 mL")
    assert "nothing to do today" in done("today")
    done("workshop", "undo")
    assert "build 7: fill its water" in done("today")
    proof.write_text('{"refill_days": null}')
    assert called("alarms", "refill", "7", "--proof", proof)[0] == 2


# the guide


def keys(document, path=""):
    for key, value in document.items():
        yield path + key
        inner = value[0] if isinstance(value, list) and value and isinstance(value[0], dict) else value
        if isinstance(inner, dict):
            yield from keys(inner, f"{path}{key}.")


def documented(file, heading):
    part = (GUIDE / file).read_text().split(f"\n## {heading}\n")[1].split("\n## ")[0]
    rows = [line.split("|")[1] for line in part.splitlines() if line.startswith("| `")]
    return {key for row in rows for key in re.findall(r"`([^`]+)`", row)}


def test_every_key_of_today_is_in_the_guide():
    made = today([task()], put_off=(task(),), leaves=(Leaves("A", (1.0, 2.0, 3.0)),), unread=(("A", "b"),))
    told = {key for key in keys(made.to_dict()) if not key.startswith("put_off.")}
    assert documented("today.md", "JSON") == told


def test_every_key_of_alarms_is_in_the_guide(shop):
    colony("Marigold")
    told = set(keys(json.loads(done("alarms", "check", "--no-forecast", "--json"))))
    told = {key.replace("raised.", "alarms.") for key in told} | set(keys(json.loads(done("alarms", "list", "--json"))))
    told |= {"told.way", "told.alarms", "told.failure", "unread.subject", "unread.reason"}
    assert documented("alarms.md", "JSON") == told


def test_the_guide_explains_every_threshold_and_kind():
    from nestwright.workshop.alarm_values import alarm_values
    from nestwright.workshop.todo import CLASSES

    page = (GUIDE / "alarms.md").read_text()
    for name, value in alarm_values().items():
        row = next((line for line in page.splitlines() if line.startswith(f"| `{name}`")), "")
        assert f"| {value.value:g} {'' if value.unit == '1' else value.unit}".rstrip() + " |" in row, name
    for _, several in CLASSES:
        for kind in several:
            assert f"`{kind}`" in (GUIDE / "today.md").read_text()
