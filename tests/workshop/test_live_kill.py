"""What a broker was acknowledged for is in the record, whatever happens to the listener, the broker or the database.

Two kinds of broker: a witness of our own that watches each acknowledgement on the wire, and, where it is installed,
Mosquitto (https://mosquitto.org). What a broker promises is in MQTT 3.1.1, OASIS Standard 2014, sections 3.1.2.4
(lasting sessions), 4.3.2 (at least once) and 4.4 (sending again). amqtt (https://github.com/Yakifo/amqtt), version
0.12, forgets messages that were on their way when a client was lost, and so serves for the other tests only.
"""

import contextlib
import json
import random
import sqlite3
import time

import pytest
from live_brokers import MOSQUITTO, Publisher, RealBroker, values_in, wait_for
from live_numbers import fresh, listener, numbered
from live_witness import Witness


@pytest.fixture
def place(tmp_path):
    return fresh(tmp_path)


@pytest.fixture
def mosquitto(tmp_path):
    if not MOSQUITTO:
        pytest.skip("Mosquitto is not installed")
    made = RealBroker("mosquitto", tmp_path)
    yield made
    made.kill()


def known_to(place, broker):
    """A first listener makes the session that the broker keeps."""
    one, probe = listener(place, broker.port), Publisher(broker.port)

    def heard():
        probe.send("bench/probe/numbers", numbered(-1))
        return -1 in values_in(place / "w")

    try:
        assert wait_for(heard)
    finally:
        probe.close()
        one.kill()


def test_each_acknowledgement_comes_after_its_reading_is_in_the_record(place):
    payloads = [numbered(n) for n in range(3000)]
    db = sqlite3.connect(place / "w" / "workshop.db", check_same_thread=False)

    def look(n):
        return db.execute(
            "SELECT 1 FROM reading WHERE value = ? AND at = ?", (n, json.loads(payloads[n])["at"])
        ).fetchone()

    witness, draw = Witness("bench/a/numbers", payloads, look), random.Random(5)
    kills = 0
    while kills < 6 and not witness.done:  # a fast machine is through before the sixth
        one = listener(place, witness.port)
        before = len(witness.acknowledged)
        assert wait_for(lambda before=before: len(witness.acknowledged) > before or witness.done)
        time.sleep(draw.random() * 0.15)
        one.kill()
        kills += 1
    last = listener(place, witness.port)
    assert wait_for(lambda: witness.done)
    code, said = last.end()
    witness.close()
    assert code == 0, said
    assert witness.early == []
    assert witness.acknowledged == sorted(witness.acknowledged)  # in the order of the messages, section 4.6
    assert kills > 1
    assert witness.connections in (kills, kills + 1)  # the last finds nothing to do where all was through
    assert witness.sent_again > 0  # else no kill came at a bad moment, and nothing was tried
    assert sorted(values_in(place / "w")) == list(range(3000))  # what came twice merged


def test_database_held_by_another_process(place):
    payloads = [numbered(n) for n in range(10)]
    witness = Witness("bench/a/numbers", payloads, lambda n: n in values_in(place / "w"))
    with contextlib.closing(sqlite3.connect(place / "w" / "workshop.db", isolation_level=None)) as other:
        one = listener(place, witness.port)
        assert wait_for(lambda: 9 in values_in(place / "w"))  # connected and through its own settings
        assert one.end()[0] == 0
        witness.payloads += [numbered(n) for n in range(10, 20)]
        other.execute("BEGIN IMMEDIATE")
        one = listener(place, witness.port)
        assert wait_for(lambda: witness.connections == 2)
        time.sleep(1.0)
        assert len(witness.acknowledged) == 10
        other.execute("ROLLBACK")
    assert wait_for(lambda: len(witness.acknowledged) == 20)
    assert one.end()[0] == 0
    witness.close()
    assert witness.early == []


def test_nothing_on_its_way_is_lost_with_mosquitto(place, mosquitto):
    known_to(place, mosquitto)
    draw, n = random.Random(3), 0
    sender = Publisher(mosquitto.port)
    for _ in range(4):
        one = listener(place, mosquitto.port)
        end = time.monotonic() + 0.3 + draw.random() * 0.6
        while time.monotonic() < end:
            for _ in range(5):
                sender.send("bench/a/numbers", numbered(n))
                sender.send("bench/a/plain", str(n))
                n += 1
            time.sleep(0.01)
        one.kill()
    sender.wait()
    sender.close()
    last, wanted = listener(place, mosquitto.port), set(range(n))

    def missing():
        return [wanted - set(values_in(place / "w", channel)) for channel in ("number", "plain")]

    assert wait_for(lambda: missing() == [set(), set()]), [len(m) for m in missing()]
    assert last.end()[0] == 0
    numbers = [v for v in values_in(place / "w", "number") if v >= 0]
    assert len(numbers) == n  # with times of their own, what came twice merged


def test_held_database_and_kill_with_mosquitto(place, mosquitto):
    known_to(place, mosquitto)
    one, sender = listener(place, mosquitto.port), Publisher(mosquitto.port)
    sender.send("bench/a/numbers", numbered(-2))
    assert wait_for(lambda: -2 in values_in(place / "w"))
    with contextlib.closing(sqlite3.connect(place / "w" / "workshop.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        for n in range(10):
            sender.send("bench/a/numbers", numbered(n))
        sender.wait()
        time.sleep(1.0)  # they are with the listener now, which cannot write them
        one.kill()
        other.execute("ROLLBACK")
    assert not set(range(10)) & set(values_in(place / "w"))
    again = listener(place, mosquitto.port)
    assert wait_for(lambda: set(range(10)) <= set(values_in(place / "w")))
    assert again.end()[0] == 0
    sender.close()


def test_ctrl_c_in_the_midst_of_messages_with_mosquitto(place, mosquitto):
    known_to(place, mosquitto)
    one, sender = listener(place, mosquitto.port, anew=True), Publisher(mosquitto.port)
    sender.send("bench/a/numbers", numbered(-2))
    assert wait_for(lambda: -2 in values_in(place / "w"))
    for n in range(500):
        sender.send("bench/a/numbers", numbered(n))
    code, said = one.end()
    assert code == 0, said
    assert "ended" in said
    assert "Traceback" not in said
    sender.wait()
    again = listener(place, mosquitto.port)
    assert wait_for(lambda: set(range(500)) <= set(values_in(place / "w")))
    assert again.end()[0] == 0
    sender.close()
