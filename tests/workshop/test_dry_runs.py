"""A dry run out of the record: the same readings as from the files, and its result kept with the build."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from nestwright.cli import main
from nestwright.climate.dry_run_log import read_logs
from nestwright.errors import InputError
from nestwright.workshop.builds import find_build
from nestwright.workshop.changes import act
from nestwright.workshop.database import reading, writing
from nestwright.workshop.dry_runs import dry_run_record, keep_dry_run
from nestwright.workshop.folder import find_workshop

EXAMPLES = Path(__file__).parents[2] / "examples/workshop"
LOGS = [EXAMPLES / f"dry-runs/single-pot-{part}.csv" for part in ("inside", "room")]


def call(*words):
    with pytest.raises(SystemExit) as end:
        main.run([str(word) for word in words])
    assert end.value.code == 0


def columns(log):
    """Each chamber's columns of a log as rows of a logger's own file."""
    rows = list(csv.reader(line for line in log.read_text().splitlines() if not line.startswith("#")))
    for chamber in dict.fromkeys(name.partition(".")[0] for name in rows[0][1:]):
        mine = [i for i, name in enumerate(rows[0]) if name.startswith(f"{chamber}.")]
        head = ["time", *(rows[0][i].partition(".")[2] for i in mine)]
        yield chamber, [head, *([row[0], *(row[i] for i in mine)] for row in rows[1:])]


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    home = tmp_path_factory.mktemp("dry") / "shop"
    at = ["--workshop", home]
    call("workshop", "new", home, "--zone", "Europe/Lisbon")
    (home / "habitats/single-pot.toml").write_text((EXAMPLES / "habitats/single-pot.toml").read_text())
    call("build", "add", "SP-1", "--habitat", "habitats/single-pot.toml", "--date", "2025-02-20", *at)
    for log in LOGS:
        for chamber, rows in columns(log):
            file = home.parent / f"{chamber}.csv"
            with file.open("w", newline="") as out:
                csv.writer(out).writerows(rows)
            call("readings", "import", file, "--logger", chamber, "--zone", "Europe/Lisbon", "--yes", *at)
            call("readings", "place", chamber, "--build", "SP-1", "--chamber", chamber, "--from", "2025-02-25", *at)
    return find_workshop(home)


def test_the_record_gives_what_the_files_give(shop):
    files = read_logs(LOGS)
    with reading(shop.engine) as connection:
        record = dry_run_record(connection, shop, find_build(connection, "SP-1"), 0, 2**62)
    assert record.start == files.start
    assert np.array_equal(record.time, files.time)
    assert set(record.channels) == set(files.channels)
    for key, values in files.channels.items():
        assert np.allclose(record.channels[key], values, atol=1e-9, equal_nan=True), key


def test_a_part_of_the_time_and_none(shop):
    with reading(shop.engine) as connection:
        made = find_build(connection, "SP-1")
        whole = dry_run_record(connection, shop, made, 0, 2**62)
        begin = int(np.datetime64("2025-03-01T12:00", "ms").astype(int))
        part = dry_run_record(connection, shop, made, begin, 2**62)  # Lisbon keeps UTC in winter
        assert str(part.start) == "2025-03-01 12:00:00"
        assert len(part.time) < len(whole.time)
        with pytest.raises(InputError, match="no readings from a logger placed in it"):
            dry_run_record(connection, shop, made, 0, begin - 10**10)


@pytest.mark.parametrize("passed", [True, False, None])
def test_its_result_is_kept_with_the_build(shop, passed):
    told = {"start": "2025-03-01T09:00", "verdict": "as designed", "chance": 0.9}
    with writing(shop.engine) as connection:
        name = keep_dry_run(act(connection, "test"), shop, find_build(connection, "SP-1"), told, passed)
        point = find_build(connection, "SP-1").quality[-1]
    assert json.loads((shop.folder / name).read_text()) == told
    assert (point["what"], point["passed"], point["value"], point["note"]) == ("dry run", passed, "as designed", name)


def test_an_interrupt_before_the_file_stands_leaves_no_row(shop, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    with reading(shop.engine) as connection:
        made = find_build(connection, "SP-1")
    monkeypatch.setattr("nestwright.workshop.dry_runs.write_whole", stop)
    told = {"start": "2025-03-09T09:00", "verdict": "as designed"}
    with pytest.raises(KeyboardInterrupt), writing(shop.engine) as connection:
        keep_dry_run(act(connection, "test"), shop, made, told, True)
    with reading(shop.engine) as connection:
        assert find_build(connection, "SP-1").quality == made.quality
    assert not list((shop.folder / "papers").glob("*2025-03-09*"))


def test_two_serials_of_one_file_name_keep_their_own(shop):
    """ "SP/1" and "SP-1" make the same name of a file: the second must not write over the first."""
    told = {"start": "2025-03-01T09:00", "verdict": "as designed", "chance": 0.9}
    call("build", "add", "SP/1", "--habitat", "habitats/single-pot.toml", "--workshop", shop.folder)
    names = []
    for serial in ("SP-1", "SP/1", "SP-1", "SP/1"):
        with writing(shop.engine) as connection:
            made = find_build(connection, serial)
            names.append(keep_dry_run(act(connection, "test"), shop, made, told | {"serial": serial}, None))
    assert names[:2] == names[2:]
    assert [json.loads((shop.folder / name).read_text())["serial"] for name in names] == ["SP-1", "SP/1"] * 2
