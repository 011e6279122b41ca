"""What live sensors send and is not taken is kept: counted by source and reason, bounded, and safe to show."""

import asyncio
import json
import sqlite3
from concurrent.futures import ThreadPoolExecutor

import pytest
from starlette.testclient import TestClient
from workshops import fresh

from forked import done
from nestwright.sensing.live.messages import Fault
from nestwright.sensing.live.values import live_value
from nestwright.web.app import create_app
from nestwright.workshop.changes import now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.live_refused import KEY, keep_refused, kept_refused, note_refused
from nestwright.workshop.live_tally import Tally

STEERING = "\x1b[2J\u202e<script>".encode()


@pytest.fixture
def shop(tmp_path):
    return fresh(tmp_path / "w")


def kept(shop):
    with reading(shop.engine) as connection:
        return kept_refused(connection)


def told(*rows):
    """A tally that refused these, as (at, source, kind, reason, payload)."""
    tally = Tally()
    for at, source, kind, reason, payload in rows:
        tally.refuse(at, source, [Fault(kind, reason)], payload)
    return tally


def test_one_line_for_a_source_and_reason_over_several_runs(shop):
    at = now()
    for n in range(3):
        tally = told(
            (at + 10 * n, "bench/shelf", "unreadable", "is no number", b"abc%d" % n),
            (at + 10 * n + 1, "bench/shelf", "unreadable", "is no number", b"last%d" % n),
            (at + 10 * n, "attic/x", "unknown", "no pattern takes this topic", b""),
        )
        keep_refused(shop, tally.unkept.values())
    shelf, attic = kept(shop)
    assert (shelf.source, shelf.count, shelf.first, shelf.last, shelf.began) == ("bench/shelf", 6, at, at + 21, "last2")
    assert (attic.source, attic.kind, attic.count) == ("attic/x", "unknown", 3)


def test_a_sensor_with_ever_new_reasons_hides_no_other(shop):
    at = now()
    keep_refused(shop, told((at, "quiet", "unit", "another unit", b"")).unkept.values())
    for n in range(3):
        rows = [(at + k, "mad", "implausible", f"{n} {k} is too large", b"") for k in range(2000)]
        keep_refused(shop, told(*rows).unkept.values())
    most = int(live_value("refused_of_source"))
    assert [one.source for one in kept(shop)] == ["mad"] * most + ["quiet"]
    flood = [(at + k, f"from {k}", "token", "without the token", b"") for k in range(400)]
    keep_refused(shop, told(*flood).unkept.values())
    assert len(kept(shop)) == live_value("refused_kept")
    link = sqlite3.connect(shop.database)
    assert len(link.execute("SELECT value FROM workshop WHERE key = ?", (KEY,)).fetchone()[0]) < 60_000
    link.close()


def test_what_is_long_past_and_what_is_no_list_is_not_shown(shop):
    past = now() - int((live_value("refused_days") + 1) * 86_400_000)
    keep_refused(shop, told((past, "gone", "unit", "another unit", b"")).unkept.values())
    assert kept(shop) == ()
    for text in ("{", "[1]", '[{"source": 1}]', "null"):
        shop.set(KEY, text)
        assert kept(shop) == ()
    keep_refused(shop, told((now(), "here", "unit", "another unit", b"")).unkept.values())
    assert [one.source for one in kept(shop)] == ["here"]


def apart(work):
    """A browser of other tests may have its loop in this thread."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, work).result()


def test_a_held_record_loses_no_count(shop, monkeypatch):
    monkeypatch.setattr("nestwright.workshop.database.WAIT", 0.05)
    tally, over = told((now(), "shelf", "unit", "another unit", b"")), asyncio.Event()
    over.set()
    with writing(shop.engine):
        apart(note_refused(shop, tally, over))
    assert kept(shop) == ()
    tally.refuse(now(), "shelf", [Fault("unit", "another unit")])
    apart(note_refused(shop, tally, over))
    assert [one.count for one in kept(shop)] == [2]


def test_page_and_command_show_it_and_neither_is_steered(shop):
    rows = (now(), "shelf\x1b[31m", "unreadable", "is no number", STEERING)
    keep_refused(shop, told(rows).unkept.values())
    bench = TestClient(create_app(shop), base_url="http://127.0.0.1", client=("127.0.0.1", 1))
    shown = bench.get("/sensors").text
    assert "is no number" in shown
    assert "?[2J?&lt;script&gt;" in shown
    made = [
        done("sensor", "refused", "--workshop", str(shop.folder), *more, check=True).stdout
        for more in ((), ("--json",))
    ]
    assert "is no number" in made[0]
    assert "\x1b" not in made[0]
    (one,) = json.loads(made[1])["refused"]
    assert (one["source"], one["began"], one["count"]) == ("shelf?[31m", "?[2J?<script>", 1)
