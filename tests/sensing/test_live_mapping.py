"""The mapping file: what is wrong with it is told with its line."""

import re
from pathlib import Path

import pytest

from nestwright.errors import FileError, InputError
from nestwright.sensing.live import load_live_mapping, read_live_mapping, read_message, read_posted
from nestwright.sensing.live.mapping_file import BROKER, CLOCK, TOPIC, VALUE
from nestwright.sensing.live.values import live_value

ROOT = Path(__file__).parents[2]
BASE = """format = 1
[broker]
host = "127.0.0.1"
[[topic]]
pattern = "bench/{logger}/{channel}"
[[topic.value]]
channel = "temperature"
quantity = "temperature"
unit = "degC"
"""


def test_example_of_the_workshop():
    mapping = read_live_mapping(ROOT / "examples" / "workshop" / "live.toml")
    assert (mapping.broker.host, mapping.broker.port) == ("127.0.0.1", 1883)
    assert [t.pattern.filter for t in mapping.topics] == ["bench/+/+", "garden/+/state"]
    # without a time of its own a message that was kept would get a false one
    assert [(t.keep, t.qos) for t in mapping.topics] == [(False, 0), (True, 1)]


def test_port_follows_encryption():
    assert load_live_mapping(BASE).broker.port == 1883
    # the ports registered with IANA for mqtt and secure-mqtt
    assert load_live_mapping(BASE.replace('"127.0.0.1"', '"127.0.0.1"\ntls = true')).broker.port == 8883


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("format = 1", "format = 2", 1, "format: is of a later form than this nestwright reads; found 2"),
        ('host = "127.0.0.1"', "hots = 1", 3, "hots: is no key here.*did you mean 'host'"),
        ('host = "127.0.0.1"', 'host = "a b"', 3, "host: is no name or address"),
        ('host = "127.0.0.1"', 'host = "a"\nport = 0', 4, "port: is no port"),
        ('host = "127.0.0.1"', 'host = "a"\nuser = "x"\npassword = "hush"', 5, "password: must not stand in a file"),
        ('host = "127.0.0.1"', 'host = "a"\nuser = "x"\npassword_env = "hush hush"', 5, "password_env: is no name of"),
        ('host = "127.0.0.1"', 'host = "a"\npassword_env = "PW"', 4, "password_env: is of use with a user only"),
        ('host = "127.0.0.1"', 'host = "a"\nca = "x.crt"', 4, "ca: is of use with tls"),
        ('host = "127.0.0.1"', 'host = "a"\ntls = 1', 4, "tls: is neither true nor false"),
        ("{logger}", "{loger}", 5, "pattern: has a part of unknown name"),
        ("{logger}", "x", 4, "logger: is missing"),
        ("{logger}/{channel}", "#/x", 5, "pattern: '#' must be the last level"),
        ("[[topic.value]]", 'time = "at"\n[[topic.value]]', 6, "time: is of use with payload"),
        ("[[topic.value]]", 'payload = "xml"\n[[topic.value]]', 6, "payload: is not known; found 'xml'"),
        ("[[topic.value]]", 'zone = "Mars/Olympus"\n[[topic.value]]', 6, "zone: no time zone"),
        ("[[topic.value]]", 'payload = "json"\n[[topic.value]]', 7, "at: is missing"),
        ('quantity = "temperature"', 'quantity = "temprature"', 8, "quantity: is not known.*did you mean 'temp"),
        ('unit = "degC"', 'unit = "ppm"', 9, "unit: is not known; found 'ppm'; allowed: degC, degF, K"),
        ('unit = "degC"', "", 6, "unit: is missing"),
        ('unit = "degC"', 'unit = "degC"\nlow = 9\nhigh = 3', 11, "high: is not above low"),
        ('unit = "degC"', 'unit = "degC"\nat = "x"', 10, "at: is of use with payload"),
        ("[[topic]]", '[clock]\nahead = "2 kg"\n[[topic]]', 5, "ahead: "),
        ("[[topic]]", '[clock]\nahead = 5\n[[topic]]', 5, "ahead: "),
    ],
)  # fmt: skip
def test_fault_with_its_line(old, new, line, says):
    text = BASE.replace(old, new, 1)
    assert text != BASE
    with pytest.raises(InputError, match=says) as caught:
        load_live_mapping(text, "live.toml")
    errors = caught.value.errors if isinstance(caught.value, FileError) else (caught.value,)
    assert line in [e.line for e in errors], str(caught.value)
    assert "hush" not in str(caught.value)


def test_two_patterns_for_one_topic():
    text = (
        BASE + '[[topic]]\npattern = "bench/+/rh"\nlogger = "a"\n[[topic.value]]\nchannel = "x"\nquantity = "other"\n'
    )
    with pytest.raises(InputError, match=r"could take a topic that .* takes too") as caught:
        load_live_mapping(text)
    assert caught.value.line == 11


def test_a_channel_twice():
    with pytest.raises(InputError, match="stands twice"):
        load_live_mapping(BASE + '[[topic.value]]\nchannel = "temperature"\nquantity = "other"\n')


def test_no_topic():
    with pytest.raises(InputError, match="must be told at least once"):
        load_live_mapping("format = 1\n")


GUIDE = (ROOT / "docs" / "guide" / "listen.md").read_text("utf-8")


def test_example_of_the_guide():
    mapping = load_live_mapping(re.search(r"```toml\n(.*?)```", GUIDE, re.S)[1])
    (one,) = read_message(mapping, "bench/shelf/rh", b"97.5", 0).readings
    assert (one.logger, one.channel, one.value) == ("shelf", "humidity", 97.5)
    body = re.search(r"`(\{\"at\".*?\}\})`", GUIDE)[1].encode()
    (one,) = read_message(mapping, "garden/pot/state", body, 1_772_362_800_000).readings
    assert (one.logger, one.channel, one.value, one.timed) == ("pot", "temperature", pytest.approx(24.0), True)
    body = re.search(r"-d '(.*?)'", GUIDE)[1].encode()
    assert read_posted(body, 0, mapping.clock)[0].value == 23.4


def test_guide_has_every_key_and_the_numbers_of_the_data():
    for key in (*BROKER, *CLOCK, *TOPIC, *VALUE):
        assert f"`{key}`" in GUIDE or key == "value"
    for told, name, times in (
        ("more than 5 minutes ahead", "ahead", 1 / 60),
        ("more than 14 days behind", "behind", 1 / 86_400),
        ("came for 10 ms", "batch_silence", 1000),
        ("at 500 messages", "batch_messages", 1),
        ("beyond 5,000 messages", "waiting_messages", 1),
        ("up to 2,000", "request_readings", 1),
        ("more than 256 KiB", "request_bytes", 1 / 1024),
        ("not written within 10 s", "request_patience", 1),
    ):
        assert told in GUIDE
        assert float(re.search(r"[\d,]+", told)[0].replace(",", "")) == pytest.approx(live_value(name) * times)
