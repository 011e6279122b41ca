"""Years, sizes and risks on a cluster are to the last digit those of this computer."""

import json
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nestwright.cli import main
from nestwright.cli.years import print_years
from nestwright.climate.proof import prove_year
from nestwright.climate.room_air import Room
from nestwright.climate.rooms import read_room
from nestwright.climate.sizing import size
from nestwright.climate.years import prove_years, year_row
from nestwright.habitat.file import read_habitat
from nestwright.parcel.carry import carry_many
from nestwright.parcel.file import read_parcel
from nestwright.pieces import working_at
from nestwright.pieces.cluster import Cluster

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop"
SINGLE = Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml"


def days(name, mean):
    t = np.arange(0, 3 * 86400.0, 3600.0)
    return Room(name, t, mean + 2 * np.sin(2 * np.pi * t / 86400), np.full(t.size, 1100.0))


def test_years_of_a_cluster_are_those_of_one_process(cluster):
    habitats = [read_habitat(SINGLE)]
    rooms = [days("cool", 292.15), days("warm", 306.15)]
    with working_at(Cluster(cluster.address)):
        told = prove_years(habitats, rooms)
    alone = [year_row(prove_year(h, r)) for h in habitats for r in rooms]
    assert list(told.rows) == alone
    cool, warm = told.rows
    assert (cool.room, warm.room) == ("cool", "warm")
    assert cool.margin_low <= cool.margin <= cool.margin_high
    assert warm.margin < cool.margin
    assert not warm.holds


class AtOnce:
    """A place where a piece is done as it is handed out, four of them before any result is looked at."""

    workers = 1

    def __enter__(self):
        return self

    def __exit__(self, *error):
        pass

    def submit(self, work, piece):
        told = Future()
        told.set_result(work(piece))
        return told

    def look(self):
        pass

    def drop(self, futures):
        pass


def test_years_that_are_stopped_keep_the_rows_that_are_done():
    def stop(share):
        raise KeyboardInterrupt

    habitat, rooms = read_habitat(SINGLE), [read_room(f"{t} degC, 45 %") for t in range(20, 26)]
    with working_at(AtOnce()):
        whole, told = prove_years([habitat], rooms), prove_years([habitat], rooms, stop)
    assert (len(whole.rows), whole.left_out) == (6, 0)
    assert told.rows == whole.rows[:4]
    assert told.to_dict()["left_out"] == 2


def test_the_command_tells_how_many_years_were_not_done(capsys):
    with working_at(AtOnce()):
        whole = prove_years([read_habitat(SINGLE)], [read_room("21 degC, 45 %")])
    print_years(replace(whole, left_out=3))
    assert "Stopped: 3 of 4 were not done." in capsys.readouterr().out


def test_a_size_searched_on_a_cluster_is_that_of_one_process(cluster):
    free, room = ["vent.crown.count=4..40"], read_room("21 degC, 45 %")
    alone = size(SINGLE, free, [room])
    with working_at(Cluster(cluster.address)):
        told = size(SINGLE, free, [room])
    assert told == alone


def test_parcels_carried_by_a_cluster_are_those_of_one_process(cluster):
    parcel = read_parcel(EXAMPLES / "parcels" / "winter.toml")
    values = {"outside.offset": np.random.default_rng(4).normal(0, 4, 230)}
    late = np.repeat([0.0, 24.0], [200, 30])
    alone = carry_many(parcel, values, late)
    with working_at(Cluster(cluster.address)):
        told = carry_many(parcel, values, late)
    for name in ("garden", "colony", "cause", "ants_cause", "lowest", "highest"):
        assert np.array_equal(getattr(told, name), getattr(alone, name)), name


def test_the_command_of_years(cluster, capsys):
    with pytest.raises(SystemExit) as left:
        main.run(["years", str(SINGLE), "--room", "21 degC, 45 %", "--json", "--cluster", cluster.address])
    assert left.value.code == 0
    (row,) = json.loads(capsys.readouterr().out)["rows"]
    assert row["room"] == "21 °C, 45 % RH"
    assert row["margin_low"] <= row["margin"] <= row["margin_high"]


def test_a_study_of_the_fit_is_the_same_on_a_cluster_and_goes_on_where_it_stopped(cluster, tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(Path(__file__).parents[2] / "studies")
    from made_records import run_all, visit_days

    def make(seed):
        return {"days": visit_days(np.random.default_rng(seed), 60)}

    alone = run_all(tmp_path / "a.jsonl", 12, make)
    run_all(tmp_path / "b.jsonl", 5, make)
    assert run_all(tmp_path / "b.jsonl", 12, make, cluster.address) == alone
    assert sorted(r["seed"] for r in map(json.loads, filter(None, (tmp_path / "b.jsonl").read_text().split("\n")))) == [
        *range(12)
    ]


@pytest.mark.parametrize(
    "command",
    [
        ["years", str(SINGLE), "--room", "21 degC, 45 %"],
        ["size", str(SINGLE), "--free", "vent.crown.count=4..40"],
        ["parcels", "risk", str(EXAMPLES / "parcels" / "winter.toml")],
    ],
)
def test_what_is_no_address_is_one_message(command, capsys):
    with pytest.raises(SystemExit) as left:
        main.run([*command, "--cluster", "tcp://nowhere"])
    assert left.value.code == 2
    assert "--cluster: is no address of a cluster; found 'tcp://nowhere'" in capsys.readouterr().err
