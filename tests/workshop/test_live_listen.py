"""The listener against real brokers: garbage, floods, units, restarts, what a mapping no longer names.

Brokers: amqtt (https://github.com/Yakifo/amqtt), and Mosquitto (https://mosquitto.org) where it is installed.
"""

import json
import time

import pytest
from live_brokers import BROKERS, PASSWORD, Listener, Publisher, RealBroker, filters_of, values_in, wait_for

from forked import done
from nestwright.workshop.database import reading
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.readings import channels_of

TOP = """
format = 1
[broker]
host = "127.0.0.1"
user = "bench"
password_env = "NEST_TEST_PASSWORD"
"""
PLAIN = """
[[topic]]
pattern = "bench/{logger}/{channel}"
[[topic.value]]
channel = "temperature"
quantity = "temperature"
unit = "degC"
[[topic.value]]
channel = "count"
quantity = "other"
"""
TIMED = """
[[topic]]
pattern = "json/{logger}"
payload = "json"
time = "at"
[[topic.value]]
channel = "count"
at = "n"
quantity = "other"
"""


@pytest.fixture
def workshop(tmp_path):
    made = create_workshop(tmp_path / "w", "UTC")
    (tmp_path / "live.toml").write_text(TOP + PLAIN)
    return made


@pytest.fixture(params=BROKERS)
def broker(request, tmp_path):
    made = RealBroker(request.param, tmp_path)
    yield made
    made.kill()


def listener(workshop, broker, *more, **password):
    mapping = workshop.folder.parent / "live.toml"
    return Listener(workshop.folder, mapping, "--broker", f"127.0.0.1:{broker.port}", *more, **password)


@pytest.fixture
def running(workshop, broker):
    """A listener that hears, and a publisher."""
    one = listener(workshop, broker, "--json")
    sender = Publisher(broker.port)
    assert heard(workshop, sender, 7.0)
    yield one, sender
    sender.close()
    one.process.kill()


def heard(workshop, sender, value):
    """Whether a value came into the record, sent again and again: the listener may not be ready for the first."""

    def come():
        sender.send("bench/probe/count", str(value))
        return value in values_in(workshop.folder, "count")

    return wait_for(come)


def last_line(said):
    return json.loads(said.strip().split("\n")[-1])


def test_garbage_is_counted_and_the_good_is_kept(workshop, running):
    one, sender = running
    junk = [b"", b"\xff\xfe\x00", b"warm", b"{}", b"1e999", b"\x1b[31m9", b"9" * 200_000, b"3000"]
    for payload in junk:
        sender.send("bench/shelf/temperature", payload)
    sender.send("bench/shelf/light", b"3")
    sender.send("bench/" + "y" * 300 + "/temperature", b"20")
    sender.send("bench/shelf/temperature", b"23,5")
    sender.wait()
    assert wait_for(lambda: 23.5 in values_in(workshop.folder))
    code, said = one.end()
    told = last_line(said)
    assert code == 0
    assert told["ended"]
    assert "\x1b" not in said
    assert told["refused"] == {"unreadable": 6, "implausible": 1, "unknown": 2}
    assert told["missing"] == 1
    assert "no number" in told["last_refused"][0]["reason"]
    assert values_in(workshop.folder, "temperature") == [23.5]


def test_a_flood_is_kept_and_stays_in_bounds(workshop, running):
    one, sender = running
    for n in range(8000):
        sender.send("bench/flood/count", str(n), qos=0)
    sender.send("bench/flood/count", "8000", qos=1)
    assert wait_for(lambda: 8000 in values_in(workshop.folder, "count"))
    code, said = one.end()
    assert code == 0, said
    # one value a moment: 8001 readings of one channel in a few seconds lie 1 ms apart at least
    assert set(range(8001)) <= set(values_in(workshop.folder, "count"))


def test_broker_that_is_killed_and_comes_back(workshop, broker, running):
    one, sender = running
    sender.close()
    broker.kill()
    time.sleep(0.5)
    broker.start()
    again = Publisher(broker.port)
    assert heard(workshop, again, 8.0)
    again.close()
    code, said = one.end()
    assert code == 0, said
    assert "Traceback" not in said


def test_broker_that_is_not_there_yet(workshop, tmp_path):
    made = RealBroker("amqtt", tmp_path)
    made.kill()
    one = listener(workshop, made)
    # a line a second: the broker comes when the listener has said that it misses it
    for line in one.process.stdout:
        if "not connected" in line:
            break
    else:
        pytest.fail("it ended without a word of the broker")
    made.start()
    sender = Publisher(made.port)
    assert heard(workshop, sender, 5.0)
    sender.close()
    code, _ = one.end()
    made.kill()
    assert code == 0


def test_another_unit_is_refused_and_the_rest_goes_on(workshop, broker, running):
    one, sender = running
    sender.send("bench/shelf/temperature", b"23.5")
    assert wait_for(lambda: 23.5 in values_in(workshop.folder))
    assert one.end()[0] == 0
    other = TOP + PLAIN.replace('quantity = "temperature"\nunit = "degC"', 'quantity = "humidity"\nunit = "%"')
    (workshop.folder.parent / "live.toml").write_text(other)
    again = listener(workshop, broker, "--json")
    assert heard(workshop, sender, 9.0)
    sender.send("bench/shelf/temperature", b"50")
    sender.send("bench/other/temperature", b"60")
    assert wait_for(lambda: 60 in values_in(workshop.folder))
    told = last_line(again.end()[1])
    assert 50 not in values_in(workshop.folder)
    assert told["refused"] == {"unit": 1}
    assert "is temperature degC in the record and came as humidity %" in told["last_refused"][0]["reason"]


def test_what_the_mapping_no_longer_names_is_not_asked_for(workshop, broker, running):
    one, sender = running
    assert json.loads(filters_of(workshop.folder)) == {f"127.0.0.1:{broker.port}": ["bench/+/+"]}
    assert one.end()[0] == 0
    (workshop.folder.parent / "live.toml").write_text(TOP + PLAIN.replace("bench/", "desk/"))
    again = listener(workshop, broker, "--json")

    assert wait_for(lambda: "desk/+/+" in filters_of(workshop.folder) and "bench" not in filters_of(workshop.folder))
    for _ in range(5):
        sender.send("bench/probe/count", "12")

    def come():
        sender.send("desk/probe/count", "11")
        return 11 in values_in(workshop.folder)

    assert wait_for(come)
    assert json.loads(filters_of(workshop.folder)) == {f"127.0.0.1:{broker.port}": ["desk/+/+"]}
    told = last_line(again.end()[1])
    assert told["refused"] == {}  # the broker sent none of the others
    assert 12 not in values_in(workshop.folder)


def test_retained_message_of_unknown_age_is_left(workshop, broker):
    sender = Publisher(broker.port)
    sender.send("bench/old/temperature", b"11.0", retain=True)
    sender.wait()
    one = listener(workshop, broker, "--json")
    assert heard(workshop, sender, 9.0)
    sender.close()
    told = last_line(one.end()[1])
    assert 11.0 not in values_in(workshop.folder)
    assert told["refused"] == {"retained": 1}


def test_false_clock_is_noted_with_the_logger(workshop, broker):
    (workshop.folder.parent / "live.toml").write_text(TOP + PLAIN + TIMED)
    one = listener(workshop, broker, "--json")
    sender = Publisher(broker.port)
    assert heard(workshop, sender, 9.0)
    for n in (1.0, 2.0):
        sender.send("json/late", json.dumps({"at": "2000-01-01T00:00:00Z", "n": n}))
    assert wait_for(lambda: {1.0, 2.0} <= set(values_in(workshop.folder)))
    sender.close()
    told = last_line(one.end()[1])
    assert told["clock_off"] == 2
    from sqlalchemy import select

    from nestwright.workshop.tables import logger
    from nestwright.workshop.tables import reading as rows

    with reading(workshop.engine) as connection:
        note = connection.execute(select(logger.c.note).where(logger.c.name == "late")).scalar()
        oldest = min(connection.execute(select(rows.c.at)).scalars())
        assert {c.logger for c in channels_of(connection)} == {"probe", "late"}
    assert note.startswith("Clock: -")
    assert "times of arrival were kept" in note
    assert abs(oldest - time.time() * 1000) < 120_000


def test_wrong_password_is_told_at_once(workshop, tmp_path):
    made = RealBroker("amqtt", tmp_path)
    one = listener(workshop, made, password="guessed wrong", anew=True)
    said = one.process.communicate(timeout=30)[0]
    made.kill()
    assert one.process.returncode == 2
    assert "the broker refuses us" in said
    assert "guessed wrong" not in said
    assert PASSWORD not in said


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "MAPPING: is missing"),
        (("no-such.toml",), "cannot be read"),
        (("{live}",), "NEST_TEST_PASSWORD: is not set"),
        (("{live}", "--broker", "host:abc"), "--broker: is no broker"),
        (("{live}", "--broker", "host:99999"), "--broker: is no broker"),
        (("--http", "0"), "needs a token first"),
    ],
)
def test_one_clear_message(workshop, arguments, says):
    given = (a.format(live=workshop.folder.parent / "live.toml") for a in arguments)
    told = done("listen", *given, "--workshop", str(workshop.folder))
    assert told.returncode == 2
    assert says in told.stderr
    assert len(told.stderr.strip().split("\n")) == 1
