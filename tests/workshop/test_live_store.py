"""Batches of live readings in the record."""

import dataclasses
import json
import resource
import time

import pytest
from live_brokers import Listener, values_in, wait_for
from live_witness import Witness
from sqlalchemy import text

from nestwright.sensing.live import Reading
from nestwright.sensing.live.values import live_value
from nestwright.workshop.changes import steps
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.live_store import Memory, Parcel, store_parcels
from nestwright.workshop.readings import HOUR, channels_of, find_channel, read_hours, read_raw

NOON = 1_772_366_400_000  # 2026-03-01T12:00:00Z
ONE = Reading("shelf", "temperature", "temperature", "degC", NOON, 23.0, timed=True)


@pytest.fixture
def workshop(tmp_path):
    return create_workshop(tmp_path / "w", "UTC")


def of(value, at=NOON, **more):
    return dataclasses.replace(ONE, value=value, at=at, **more)


def raw(workshop, name="shelf.temperature"):
    with reading(workshop.engine) as connection:
        series = read_raw(connection, find_channel(connection, name).id)
    return list(zip(series.at.tolist(), series.value.tolist(), strict=True))


def test_doubles_merge_and_what_is_there_stays(workshop):
    memory = Memory()
    first = store_parcels(workshop.engine, [Parcel((of(1.0), of(2.0, NOON + 5))), Parcel((of(1.0),))], memory)
    assert (first.stored.added, first.stored.same, first.stored.differing) == (2, 1, 0)
    again = store_parcels(workshop.engine, [Parcel((of(1.0), of(3.0, NOON + 5), of(4.0, NOON + 9)))], memory)
    assert (again.stored.added, again.stored.same, again.stored.differing) == (1, 1, 1)
    assert raw(workshop) == [(NOON, 1.0), (NOON + 5, 2.0), (NOON + 9, 4.0)]


def test_old_and_new_in_one_batch(workshop):
    readings = tuple(of(float(k), NOON - k * 30 * HOUR) for k in range(9))
    assert store_parcels(workshop.engine, [Parcel(readings)], Memory()).stored.added == 9
    with reading(workshop.engine) as connection:
        hours = read_hours(connection, find_channel(connection, "shelf").id)
    assert hours.n.tolist() == [1] * 9
    assert hours.mean.tolist() == [float(k) for k in range(8, -1, -1)]


def test_times_of_arrival_are_told_apart(workshop):
    memory = Memory()
    batch = [Parcel((of(float(k), timed=False),)) for k in range(5)]
    store_parcels(workshop.engine, batch, memory)
    store_parcels(workshop.engine, [Parcel((of(5.0, NOON + 1, timed=False),))], memory)
    assert raw(workshop) == [(NOON + k, float(k)) for k in range(6)]
    # the next run goes on behind the times that the last one wrote
    store_parcels(workshop.engine, [Parcel((of(6.0, NOON + 2, timed=False),))], Memory())
    assert raw(workshop)[-1] == (NOON + 6, 6.0)
    # this computer's clock set back by an hour is followed
    store_parcels(workshop.engine, [Parcel((of(7.0, NOON - HOUR, timed=False),))], memory)
    assert raw(workshop)[0] == (NOON - HOUR, 7.0)


def test_a_whole_parcel_is_kept_or_refused(workshop):
    store_parcels(workshop.engine, [Parcel((ONE,))], Memory())
    bad = of(50.0, NOON + 1, quantity="humidity", unit="%")
    fresh = of(60.0, NOON + 2, channel="other")
    written = store_parcels(
        workshop.engine, [Parcel((bad, fresh), whole=True), Parcel((bad, of(24.0, NOON + 3)))], Memory()
    )
    assert [len(r) for r in written.refused] == [1, 1]
    assert raw(workshop) == [(NOON, 23.0), (NOON + 3, 24.0)]
    with reading(workshop.engine) as connection:
        assert [c.name for c in channels_of(connection)] == ["temperature"]


def test_new_channels_are_in_the_history(workshop):
    store_parcels(workshop.engine, [Parcel((ONE, of(1.0, channel="co2", quantity="co2", unit="ppm")))], Memory())
    store_parcels(workshop.engine, [Parcel((of(1.0, NOON + 1),))], Memory())
    with reading(workshop.engine) as connection:
        assert [s.act for s in steps(connection)] == ["new channels: shelf.temperature, shelf.co2"]


def test_invented_names_do_not_fill_the_record(workshop):
    most = int(live_value("most_loggers"))
    parcels = [Parcel((of(1.0, logger=f"x{k}"),)) for k in range(most + 3)]
    written = store_parcels(workshop.engine, parcels, Memory())
    assert sum(map(len, written.refused)) == 3
    with reading(workshop.engine) as connection:
        assert len(channels_of(connection)) == most
    # those that are known go on
    assert store_parcels(workshop.engine, [Parcel((of(2.0, NOON + 1, logger="x0"),))], Memory()).stored.added == 1


def test_a_channel_that_was_taken_back_meanwhile_is_made_again(workshop):
    memory = Memory()
    store_parcels(workshop.engine, [Parcel((ONE,))], memory)
    with writing(workshop.engine) as connection:
        connection.execute(text("DELETE FROM logger"))
    assert store_parcels(workshop.engine, [Parcel((of(25.0, NOON + 1),))], memory).stored.added == 1
    assert raw(workshop) == [(NOON + 1, 25.0)]


@pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="a limit on another process's files needs Linux")
def test_full_disk_keeps_messages_unacknowledged_until_there_is_room(workshop, tmp_path):
    """A file that may not grow stands for the full disk: the system refuses the write in the same place."""
    (tmp_path / "live.toml").write_text(
        'format = 1\n[[topic]]\npattern = "a/{logger}"\npayload = "json"\ntime = "at"\ntime_form = "ms"\n'
        '[[topic.value]]\nchannel = "n"\nat = "n"\nquantity = "other"\n'
    )
    now = time.time_ns() // 1_000_000
    payloads = [json.dumps({"at": now - 10_000 + n, "n": n}).encode() for n in range(5)]
    witness = Witness("a/b", payloads, lambda n: n in values_in(workshop.folder))
    one = Listener(workshop.folder, tmp_path / "live.toml", "--broker", f"127.0.0.1:{witness.port}")
    assert wait_for(lambda: len(witness.acknowledged) == 5)
    resource.prlimit(one.process.pid, resource.RLIMIT_FSIZE, (0, resource.RLIM_INFINITY))
    witness.payloads += [json.dumps({"at": now + n, "n": n}).encode() for n in range(5, 300)]
    witness.drop()  # it comes back, and the rest is sent
    lines = []
    while not any("not written" in line for line in lines):
        line = one.process.stdout.readline()
        assert line, lines
        lines.append(line)
    assert any(word in lines[-1] for word in ("disk", "full"))
    assert len(witness.acknowledged) == 5
    resource.prlimit(one.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    assert wait_for(lambda: witness.done, 40)
    witness.close()
    assert one.end()[0] == 0
    assert witness.early == []
    assert sorted(values_in(workshop.folder)) == list(range(300))
