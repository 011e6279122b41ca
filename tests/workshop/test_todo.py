"""What to do today out of a whole record: its order, what a broken record does, and forecasts that are kept."""

import dataclasses
import json
import shutil
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import text
from workshops import EXAMPLES, do, dump, fresh

from nestwright.colony.file import colony_from_dict
from nestwright.data import load_species
from nestwright.errors import InputError
from nestwright.sensing.calibration import calibrate
from nestwright.sensing.reference_points import Point
from nestwright.workshop import alarms, kept_forecasts, todo
from nestwright.workshop.alarm_rules import Finding
from nestwright.workshop.builds import add_build, check_build, find_build
from nestwright.workshop.colonies import add_bell, add_colony, find_colony, move_in
from nestwright.workshop.database import reading, writing
from nestwright.workshop.kept_forecasts import FOLDER, forecast_of
from nestwright.workshop.look import Leaves, Look, look
from nestwright.workshop.placements import place_logger
from nestwright.workshop.readings import HOUR, channels_of, keep_channel, keep_logger, store_readings
from nestwright.workshop.refills import parse_days, told_filled, told_lasts, water_of
from nestwright.workshop.sensors import keep_calibration
from nestwright.workshop.tables import parcel
from nestwright.workshop.visits import Count, EventEntry, Feeding, VisitEntry, add_visit

DAY = 24 * HOUR
AT = 1_930_000_000_000
TODAY = datetime.fromtimestamp(AT / 1000, UTC).date()  # Lisbon is within an hour of it, and it is noon
SPECIES = "Acromyrmex echinatior"


def ago(days):
    return TODAY - timedelta(days=days)


def colony(shop, name="Marigold", days=30, **values):
    told = {"name": name, "species": SPECIES, "start": ago(days).isoformat(), **values}
    do(shop, "colony", lambda done: add_colony(done, told))


def visit(shop, name, days, **values):
    def write(done):
        add_visit(done, find_colony(done.connection, name).id, VisitEntry(ago(days), **values))

    do(shop, "visit", write)


def kinds(found, state="on"):
    return sorted(one.kind for one in found.findings if one.state == state)


def seen(shop, **how):
    return look(shop, AT, forecasts=False, **how)


def one_of(found, kind):
    (one,) = [one for one in found.findings if one.kind == kind]
    return one


# order


def finding(kind, subject="Ivy", severity=1.0, state="on", command="", key=""):
    return Finding(key or f"{kind}/{subject}", kind, state, subject, "a reason", "do it", command or kind, severity)


EVERY = [kind for _, kinds_ in todo.CLASSES for kind in kinds_]


def test_every_kind_has_its_place():
    findings = [finding(kind, command=kind) for kind in reversed(EVERY) if kind != "shrinking"]
    made = todo.today_of(Look(TODAY, AT, findings), {})
    assert [t.finding.kind for t in made.tasks] == [k for k in EVERY if k != "shrinking"]
    # beside a dying colony, a garden that shrinks is no news
    assert "shrinking" not in [
        t.finding.kind for t in todo.today_of(Look(TODAY, AT, [*findings, finding("shrinking")]), {}).tasks
    ]


def test_the_worst_of_a_kind_comes_first():
    found = [finding("visit", "A", 1.0), finding("visit", "B", 9.0), finding("limit", "C", 0.1)]
    assert [t.finding.subject for t in todo.today_of(Look(TODAY, AT, found), {}).tasks] == ["C", "B", "A"]


def test_what_is_snoozed_is_put_off_and_what_swings_stays_while_its_alarm_is_open():
    found = [finding("visit", "A"), finding("visit", "B", state="between"), finding("visit", "C", state="between")]
    known = {
        "visit/A": alarms.Alarm(1, "visit/A", "visit", "", 1.0, 1, 1, snoozed=AT + 1),
        "visit/B": alarms.Alarm(2, "visit/B", "visit", "", 1.0, 1, 1, acknowledged=1),
    }
    made = todo.today_of(Look(TODAY, AT, found), known)
    assert [t.finding.subject for t in made.put_off] == ["A"]
    assert [(t.finding.subject, t.alarm, t.acknowledged) for t in made.tasks] == [("B", 2, True)]


def test_two_reasons_for_one_command_are_one_task():
    found = [finding("ill", command="look"), finding("dying", command="look"), finding("ill", "Fern", command="look")]
    made = todo.today_of(Look(TODAY, AT, found), {})
    assert [(t.finding.kind, t.finding.subject, len(t.also)) for t in made.tasks] == [
        ("dying", "Ivy", 1),
        ("ill", "Fern", 0),
    ]


def test_leaves_are_summed_with_their_ends():
    leaves = [Leaves("A", (1.0, 2.0, 4.0)), Leaves("B", (0.5, 1.0, 1.5))]
    assert todo.today_of(Look(TODAY, AT, leaves=leaves), {}).leaves_sum == (1.5, 3.0, 5.5)
    assert todo.today_of(Look(TODAY, AT), {}).leaves_sum is None


# the record


def test_an_empty_record_finds_nothing(shop):
    found = look(shop, AT)
    assert (found.findings, found.unread, found.colonies) == ([], [], 0)


def test_visits_that_are_due_and_gardens_that_look_ill(shop):
    colony(shop)
    for days in (25, 21, 17, 13):
        visit(shop, "Marigold", days, health=("white",))
    found = seen(shop)
    assert kinds(found) == ["visit"]
    assert one_of(found, "visit").says == f"last visit 13 days ago ({ago(13)}); usually every 4 days"
    visit(shop, "Marigold", 0, health=("brown", "wet"))
    assert kinds(seen(shop)) == ["ill"]
    # a later look that tells nothing of the garden does not make it well
    visit(shop, "Marigold", 0, note="only fed")
    assert kinds(seen(shop)) == ["ill"]
    visit(shop, "Marigold", 0, health=("white",))
    assert kinds(seen(shop)) == []


def test_donor_garden_asks_for_a_look_after_two_days(shop):
    colony(shop, leaves="free")
    visit(shop, "Marigold", 2, garden_ml=30.0, events=(EventEntry("garden added", "20 mL"),))
    assert kinds(seen(shop)) == ["visit"]
    assert "donor garden" in one_of(seen(shop), "visit").says


def test_no_brood_in_three_weeks(shop):
    colony(shop, days=60)
    visit(shop, "Marigold", 40, seen=("eggs",))
    visit(shop, "Marigold", 5, not_seen=("eggs", "larvae", "pupae"))
    visit(shop, "Marigold", 1, counts=(Count("pupae", "exact", 0, 0),))
    assert kinds(seen(shop)) == ["brood"]
    colony(shop, "Fern", days=60, queen="none")
    visit(shop, "Fern", 3, not_seen=("eggs",))
    visit(shop, "Fern", 1, not_seen=("eggs",))
    assert [one.subject for one in seen(shop).findings if one.kind == "brood"] == ["Marigold"]


def test_an_ended_colony_is_left_alone(shop):
    colony(shop, days=90, ended=ago(1).isoformat())
    assert look(shop, AT).findings == []


def build(shop, serial="7"):
    do(shop, "build", lambda done: add_build(done, {"serial": serial, "habitat": "habitats/none.toml", "made": None}))


def test_water_is_told_filled_and_due_again(shop):
    build(shop)

    def water(what):
        do(shop, "water", lambda done: what(done, find_build(done.connection, "7")))

    assert kinds(seen(shop)) == []
    water(lambda done, made: told_lasts(done, made, (8.0, 11.0), ago(20)))
    assert "last refill is not recorded" in one_of(seen(shop), "refill").says
    water(lambda done, made: told_filled(done, made, ago(9)))
    assert kinds(seen(shop)) == ["refill"]
    water(lambda done, made: told_filled(done, made, ago(1), "150 mL"))
    assert kinds(seen(shop)) == []
    with reading(shop.engine) as connection:
        assert water_of(find_build(connection, "7")).filled == ago(1)


@pytest.mark.parametrize(
    ("told", "days"), [("9", (9, 9)), ("8 to 11", (8, 11)), ("8-11 days", (8, 11)), ("1 day", (1, 1))]
)
def test_days_of_water(told, days):
    assert parse_days(told, "days") == days


@pytest.mark.parametrize("told", ["", "0", "11 to 8", "-3", "9 h", "nine", "99999", "1e3", "٣"])
def test_what_is_no_number_of_days(told):
    with pytest.raises(InputError):
        parse_days(told, "days")


def test_a_failed_check_counts_until_it_is_passed(shop):
    build(shop)
    colony(shop)
    visit(shop, "Marigold", 0)

    def check(passed):
        do(
            shop,
            "check",
            lambda done: check_build(done, find_build(done.connection, "7").id, "lid gap", passed, "", None),
        )

    check(False)
    assert kinds(seen(shop)) == []
    do(shop, "move", lambda done: move_in(done, 1, 1, ago(3).isoformat()))
    assert kinds(seen(shop)) == ["failed"]
    check(True)
    assert kinds(seen(shop)) == []


def test_a_parcel_that_is_on_its_way(shop):
    colony(shop, days=0)
    visit(shop, "Marigold", 0)
    values = {"uid": "p", "direction": "in", "sent": ago(1).isoformat(), "carrier": "night post", "colony_id": 1}
    do(shop, "parcel", lambda done: done.add(parcel, values))
    found = one_of(seen(shop), "parcel")
    assert (found.subject, found.says) == ("Marigold, parcel", f"sent 1 day ago ({ago(1)}) by night post")
    assert found.command == "nestwright colony parcel Marigold --in --arrived today"
    do(shop, "parcel", lambda done: done.change(parcel, 1, {"arrived": TODAY.isoformat()}))
    assert kinds(seen(shop)) == []


# loggers


def logged(shop, values, quantity="temperature", unit="degC", step_minutes=10, end=AT, chamber="garden"):
    """A logger at Marigold's garden with one channel, read to `end`."""

    def write(done):
        row = keep_logger(done, "pot")
        channel = keep_channel(done, row, quantity, quantity, unit)
        at = end - 60_000 * step_minutes * np.arange(len(values))[::-1]
        store_readings(done.connection, channel, at, np.asarray(values, dtype=float))
        place_logger(done, row, None, find_colony(done.connection, "Marigold").id, chamber, end - 30 * DAY)

    do(shop, "readings", write)


@pytest.fixture
def visited(shop):
    colony(shop)
    visit(shop, "Marigold", 0)
    return shop


def test_a_limit_of_the_species_is_watched(visited):
    # 40 degC is over any garden's limit, 24 degC within it
    logged(visited, [24.0] * 20 + [40.0] * 20)
    (found,) = [one for one in seen(visited).findings if one.state == "on"]
    assert (found.kind, found.subject) == ("limit", "Marigold")
    assert "for 3.2 h" in found.says  # 19 steps of 10 minutes
    assert "never calibrated" in found.says


def test_a_short_spell_is_no_alarm(visited):
    logged(visited, [24.0] * 20 + [40.0] * 5)
    assert kinds(seen(visited)) == []


def test_a_logger_in_the_room_or_in_a_drawer_tells_of_no_garden(visited):
    logged(visited, [40.0] * 40, chamber="")
    assert kinds(seen(visited)) == []


def test_a_silent_logger_is_told_and_its_limits_stay(visited):
    logged(visited, [24.0] * 20 + [40.0] * 20, end=AT - 2 * HOUR)
    found = seen(visited)
    assert kinds(found) == ["silent"]
    assert one_of(found, "silent").says == "no reading for 2 h, usually one every 10 min"
    assert any(key.startswith("limit/") for key in found.skipped)


def test_humidity_at_a_garden_wants_a_calibration(visited):
    logged(visited, [97.0] * 40, "humidity", "%")
    assert kinds(seen(visited)) == ["calibration"]
    with reading(visited.engine) as connection:
        assert [c.quantity for c in channels_of(connection)] == ["humidity"]


def test_a_fahrenheit_free_unit_is_never_misread(visited):
    logged(visited, [297.0] * 40, "temperature", "K")  # 23.9 degC
    assert kinds(seen(visited)) == []


# forecasts


TABLES = {
    "format": 1,
    "name": "Marigold",
    "species": SPECIES,
    "start": ago(10).isoformat(),
    "end": ago(1).isoformat(),
    "arrival": {"garden": "30 mL", "workers": "about 60"},
    "housing": {"making_time": "9 day"},
    "bell": [{"from": ago(10).isoformat(), "usable": "60 mL"}],
}


@pytest.fixture(scope="module")
def forecast(tmp_path_factory):
    """A folder with one forecast that is kept, and the forecast."""
    folder = tmp_path_factory.mktemp("kept")
    shares = []
    kept, file = forecast_of(folder, colony_from_dict(TABLES, "tables"), TABLES, TODAY, shares.append)
    assert shares, "nothing told of the progress"
    return folder, kept, file


def no_fit(*_, **__):
    raise AssertionError("a kept forecast was made anew")


def again(folder, tables=None, today=TODAY):
    tables = TABLES if tables is None else tables
    return forecast_of(folder, colony_from_dict(tables, "tables"), tables, today)


def test_a_forecast_is_kept_until_the_record_changes(forecast, monkeypatch):
    folder, kept, file = forecast
    monkeypatch.setattr(kept_forecasts, "_made", no_fit)
    assert again(folder) == (kept, file)
    assert again(folder, today=TODAY + timedelta(days=3)) == (kept, file)
    with pytest.raises(AssertionError, match="made anew"):
        again(folder, TABLES | {"housing": {"making_time": "10 day"}})
    monkeypatch.setattr(kept_forecasts, "__version__", "another")
    with pytest.raises(AssertionError, match="made anew"):
        again(folder)


def test_a_kept_forecast_tells_of_each_day_in_order(forecast):
    _, kept, _ = forecast
    for day in (TODAY, TODAY + timedelta(days=60)):
        for name in ("garden", "fill", "leaf_fresh", "waste"):
            low, middle, high = kept.at(name, day)
            assert 0 <= low <= middle <= high
    assert kept.at("garden", TODAY + timedelta(days=400)) is None
    assert kept.at("no such band", TODAY) is None
    # the day before the record's last counts as that one
    assert kept.at("garden", ago(9)) == kept.at("garden", ago(1))
    assert kept.full is not None
    assert kept.full.early >= ago(1)


DAMAGE = [
    lambda told: b"",
    lambda told: json.dumps(told).encode()[:200],
    lambda told: b"\xff\x00\xfe",
    lambda told: b"[" * 100_000,
    lambda told: json.dumps(told | {"form": 99}).encode(),
    lambda told: json.dumps(told | {"survival": "x"}).encode(),
    lambda told: json.dumps(told | {"survival": 7}).encode(),
    lambda told: json.dumps(told | {"last": "soon"}).encode(),
    lambda told: json.dumps(told | {"full": [1]}).encode(),
    lambda told: json.dumps(told | {"bands": {"garden": [[1.0], [1.0], [1.0]]}}).encode(),
    lambda told: json.dumps(
        told | {"bands": {k: [[float("nan")] * len(e) for e in v] for k, v in told["bands"].items()}}
    ).encode(),
]


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_file_is_made_anew(forecast, monkeypatch, damage):
    folder, kept, file = forecast
    whole = file.read_bytes()
    monkeypatch.setattr(kept_forecasts, "_made", lambda *_: kept)
    try:
        file.write_bytes(damage(json.loads(whole)))
        assert again(folder)[0] == kept
        assert file.read_bytes() == whole
    finally:
        file.write_bytes(whole)


def test_a_folder_that_takes_no_files_is_no_end(forecast, monkeypatch, tmp_path):
    _, kept, _ = forecast
    monkeypatch.setattr(kept_forecasts, "_made", lambda *_: kept)
    (tmp_path / ".cache").write_text("a file where the folder should be")
    assert again(tmp_path)[0] == kept


def test_nothing_is_forecast_from_nothing_or_from_long_ago(tmp_path):
    empty = {k: v for k, v in TABLES.items() if k != "arrival"}
    with pytest.raises(InputError, match="nothing is told yet"):
        again(tmp_path, empty)
    with pytest.raises(InputError, match="ends 201 days ago"):
        again(tmp_path, today=TODAY + timedelta(days=200))


@pytest.fixture
def two(tmp_path, forecast, monkeypatch):
    """A workshop with a colony whose forecast is that of the fixture, and one whose record cannot be read."""
    _, kept, _ = forecast
    monkeypatch.setattr(kept_forecasts, "_made", lambda *_: kept)
    shop = fresh(tmp_path / "shop")
    colony(shop, "Marigold", 10, arrival_garden_ml=30.0, making_days=9.0)
    do(shop, "bell", lambda done: add_bell(done, 1, {"day": ago(10).isoformat(), "usable_ml": 60.0}))
    visit(shop, "Marigold", 0)
    colony(shop, "Thorn", 10, arrival_garden_ml=30.0)
    visit(shop, "Thorn", 0)
    with writing(shop.engine) as connection:
        connection.execute(text("UPDATE colony SET species = 'Nobody knows' WHERE name = 'Thorn'"))
    return shop


def test_a_record_that_cannot_be_read_is_one_line(two):
    found = look(two, AT)
    assert [subject for subject, _ in found.unread] == ["Thorn"]
    assert "Nobody knows" in found.unread[0][1]
    assert [one.colony for one in found.leaves] == ["Marigold"]
    assert "part/2" in found.skipped
    assert len(list((two.folder / FOLDER).glob("*.json"))) == 1


def test_files_that_no_colony_has_are_removed_when_all_were_looked_at(two):
    stale = two.folder / FOLDER / "stale.json"
    stale.parent.mkdir(parents=True)
    stale.write_text("{}")
    look(two, AT)
    assert stale.exists()  # one colony was not looked at
    with writing(two.engine) as connection:
        connection.execute(text("UPDATE colony SET ended = start WHERE name = 'Thorn'"))
    look(two, AT, forecasts=False)
    assert stale.exists()
    look(two, AT)
    assert [file.name for file in stale.parent.glob("*.json")] != ["stale.json"]
    assert not stale.exists()


def test_what_a_forecast_tells_becomes_tasks(two, forecast, monkeypatch):
    _, kept, _ = forecast
    n = kept.horizon + 1
    bad = dataclasses.replace(kept, survival=0.3, bands=kept.bands | {"fill": ((0.8,) * n, (0.9,) * n, (0.95,) * n)})
    monkeypatch.setattr(kept_forecasts, "_made", lambda *_: bad)
    found = look(two, AT)
    assert {"dying", "full"} <= set(kinds(found))
    made = todo.today_of(found, {})
    told = [t.finding.kind for t in made.tasks if t.finding.subject == "Marigold"]
    assert told[:2] == ["dying", "full"]
    assert "part" not in told  # it is full already
    # without forecasts nothing is said of them, and their alarms stay
    plain = look(two, AT, forecasts=False)
    assert "dying" not in kinds(plain)
    assert {"dying/1", "full/1", "part/1"} <= plain.skipped


def test_leaves_that_are_given_are_held_against_those_taken(two):
    with writing(two.engine) as connection:
        connection.execute(text("UPDATE colony SET leaves = 'recorded' WHERE name = 'Marigold'"))
    visit(two, "Marigold", 10, feedings=(Feeding(0.1, "g"),))
    found = one_of(look(two, AT), "leaves")
    assert (found.state, "given 0.01 g a day" in found.says) == ("on", True)
    visit(two, "Marigold", 1, feedings=(Feeding(500.0, "g"),))
    assert one_of(look(two, AT), "leaves").state == "off"


def test_looking_writes_nothing_into_the_record(two):
    before = dump(two)
    todo.today_of(look(two, AT), {})
    assert dump(two) == before


# limits where a design tells of them


@pytest.fixture
def bench(shop):
    """A colony in a build whose design has two gardens, one under a bell, and limits of its own."""
    shutil.copy(EXAMPLES / "habitats/heated-bench.toml", shop.folder / "habitats")
    do(shop, "build", lambda done: add_build(done, {"serial": "7", "habitat": "habitats/heated-bench.toml"}))
    colony(shop, species="Acromyrmex versicolor")
    visit(shop, "Marigold", 0)
    return shop


def moved(shop):
    do(shop, "move", lambda done: move_in(done, 1, 1, ago(3).isoformat()))


def stands(shop, chamber, quantity, unit, value):
    """A logger in a chamber of the build that read one value for a day; the limit that is not held, as it is told."""

    def write(done):
        row = keep_logger(done, f"{chamber} {quantity}")
        at = AT - 600_000 * np.arange(144)[::-1]
        channel = keep_channel(done, row, quantity, quantity, unit)
        store_readings(done.connection, channel, at, np.full(144, float(value)))
        place_logger(done, row, 1, None, chamber, AT - 30 * DAY)
        return channel

    channel = do(shop, "readings", write)
    told = [
        f
        for f in seen(shop).findings
        if f.kind == "limit" and f.state == "on" and f.key.startswith(f"limit/{channel}/")
    ]
    return [(f.subject, round(f.value, 6), f.says.split(" for ")[0].rpartition(", ")[2]) for f in told]


def test_the_limits_of_the_design_go_before_those_of_the_species(bench):
    moved(bench)
    # the design's own end at 27 degC and begin at 70 % in the dump; the card's are 28 degC and 80 %
    assert stands(bench, "garden-b", "temperature", "degC", 27.6) == [("build 7", 27.6, "above the limit 27 degC")]
    assert stands(bench, "dump", "humidity", "%", 75) == [("build 7", 75, "above the limit 70 %")]
    assert stands(bench, "garden-b", "co2", "ppm", 31_000) == [("build 7", 31_000, "above the limit 30000 ppm")]


def test_beside_a_bell_the_air_is_not_that_of_the_garden(bench):
    moved(bench)
    assert stands(bench, "garden-a", "humidity", "%", 60) == []
    assert stands(bench, "garden-a", "temperature", "degC", 33) != []
    assert stands(bench, "garden-a/bell", "humidity", "%", 60) == [("build 7", 60, "below the limit 90 %")]


def test_a_build_without_a_colony_has_no_limits(bench):
    assert stands(bench, "garden-b", "temperature", "degC", 40) == []
    moved(bench)
    assert stands(bench, "no such chamber", "temperature", "degC", 40) == []


def test_a_reading_is_corrected_before_it_is_judged(visited):
    """A sensor that reads a degree too much, by two points: 28.5 degC on it is 27.5 degC."""
    limits = load_species(SPECIES).limits
    high = next(x.high for x in limits if (x.role, x.quantity) == ("garden", "temperature"))
    points = [Point(t, 0.01, t + 1.0, 0.01) for t in (288.15, 303.15)]
    made = calibrate(points, ago(1), "temperature")
    logged(visited, [high - 273.15 + 0.5] * 40)
    assert [f.kind for f in seen(visited).findings if f.state == "on"] == ["limit"]
    do(visited, "calibration", lambda done: keep_calibration(done, 1, made, ((AT - 40 * HOUR, AT - 39 * HOUR),)))
    assert kinds(seen(visited)) == []
    above = next(f for f in seen(visited).findings if f.key.endswith("/above"))
    assert above.value == pytest.approx(high - 273.15 - 0.5, abs=0.02)
    assert "never calibrated" not in above.says
