"""Messages become readings; what cannot be is told and never raises."""

import json
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.sensing.live import Clock, load_live_mapping, read_message, read_posted
from nestwright.sensing.live.values import live_value

NOON = 1_772_366_400_000  # 2026-03-01T12:00:00Z, by `date -u -d @1772366400`
TEXT = """
format = 1
[clock]
ahead = "2 min"
behind = "2 day"
[[topic]]
pattern = "bench/{logger}/{channel}"
[[topic.value]]
channel = "temperature"
quantity = "temperature"
unit = "degF"
low = 50
high = 95
[[topic.value]]
channel = "humidity"
part = "rh"
quantity = "humidity"
unit = "%"
[[topic]]
pattern = "garden/+/state"
payload = "json"
logger = "garden"
time = "meta.at"
zone = "Europe/Berlin"
[[topic.value]]
channel = "warmth"
at = "air.0.t"
unit_at = "air.0.unit"
quantity = "temperature"
[[topic.value]]
channel = "co2"
at = ["gas", "co2.ppm"]
quantity = "co2"
unit = "ppm"
"""
MAPPING = load_live_mapping(TEXT)


def plain(topic, payload, **more):
    return read_message(MAPPING, topic, payload, NOON, **more)


def garden(**body):
    return plain("garden/3/state", json.dumps(body).encode())


def test_plain_number_in_fahrenheit():
    (one,) = plain("bench/shelf/temperature", b" 77.0 ").readings
    assert (one.logger, one.channel, one.unit, one.at, one.timed) == ("shelf", "temperature", "degC", NOON, False)
    assert one.value == pytest.approx(25.0)  # 77 degF is 25 degC by definition


def test_part_of_another_name():
    (one,) = plain("bench/shelf/rh", b"97,5 %").readings
    assert (one.channel, one.value) == ("humidity", 97.5)


@pytest.mark.parametrize("payload", [b"", b"nan", b"unavailable", b"-999", b"--"])
def test_no_value(payload):
    read = plain("bench/shelf/temperature", payload)
    assert (read.readings, read.faults, read.missing) == ((), (), 1)


@pytest.mark.parametrize(
    ("payload", "kind"),
    [
        (b"\xff\xfe", "unreadable"),
        (b"warm", "unreadable"),
        (b"1e999", "unreadable"),
        (b"1,234.5", "unreadable"),
        (b"12 13", "unreadable"),
        (b"300", "implausible"),
        (b"49", "implausible"),  # the mapping's own limit, 50 degF
        ("25 °C".encode(), "unit"),
        (b"9" * 100_000, "unreadable"),
    ],
)
def test_garbage(payload, kind):
    read = plain("bench/shelf/temperature", payload)
    assert read.readings == ()
    assert [f.kind for f in read.faults] == [kind]


@pytest.mark.parametrize(
    "topic", ["bench/shelf/light", "other", "bench//rh", "bench/a\nb/rh", "bench/" + "x" * 200 + "/rh"]
)
def test_topics_without_a_channel_or_a_name(topic):
    assert [f.kind for f in plain(topic, b"20").faults] == ["unknown"]


def test_json_with_places_units_and_time():
    read = garden(meta={"at": "2026-03-01T12:59:30"}, air=[{"t": 77, "unit": "°F"}], gas={"co2.ppm": 1250})
    # 12:59:30 in Berlin, winter time, is 11:59:30 UTC
    assert [(r.channel, round(r.value, 6), r.at, r.timed) for r in read.readings] == [
        ("warmth", 25.0, NOON - 30_000, True),
        ("co2", 1250.0, NOON - 30_000, True),
    ]


def test_part_of_the_values():
    read = garden(meta={"at": "2026-03-01T12:00:00Z"}, gas={"co2.ppm": None}, air=[{"t": 25, "unit": "C"}])
    assert ([r.channel for r in read.readings], read.missing) == (["warmth"], 1)
    assert [f.kind for f in garden(meta={"at": "2026-03-01T12:00:00Z"}).faults] == ["unreadable"]


@pytest.mark.parametrize("air", [[{"t": 25}], [{"t": 25, "unit": "ppm"}], [{"t": True}], [{"t": [1]}]])
def test_a_value_that_cannot_be_read_leaves_the_others(air):
    read = garden(meta={"at": "2026-03-01T12:00:00Z"}, air=air, gas={"co2.ppm": 900})
    assert [r.channel for r in read.readings] == ["co2"]
    assert len(read.faults) == 1


@pytest.mark.parametrize("at", [None, "yesterday", 12, "2026-02-30T00:00:00Z"])
def test_no_time(at):
    assert [f.kind for f in garden(meta={"at": at}, gas={"co2.ppm": 900}).faults] == ["unreadable"]


@pytest.mark.parametrize(
    ("at", "kept", "off"),
    [
        ("2026-03-01T12:01:59Z", NOON + 119_000, None),
        ("2026-03-01T12:02:01Z", NOON, 121.0),
        ("2026-02-27T12:00:01Z", NOON - 2 * 86_400_000 + 1000, None),
        ("2026-02-27T11:59:59Z", NOON, -172_801.0),
        ("0001-01-01T00:00:00+00:00", NOON, -62_135_596_800 - NOON / 1000),
        ("1970-01-01T00:00:00Z", NOON, -NOON / 1000),
        ("2106-02-07T06:28:15Z", NOON, 4_294_967_295 - NOON / 1000),  # 32 bits of seconds, all set
    ],
)
def test_clock_that_jumped(at, kept, off):
    (one,) = garden(meta={"at": at}, gas={"co2.ppm": 900}).readings
    assert (one.at, one.clock_off, one.timed) == (kept, off, off is None)


def test_retained_message_without_time_has_no_age():
    assert [f.kind for f in plain("bench/shelf/rh", b"50", retained=True).faults] == ["retained"]
    body = json.dumps({"meta": {"at": "2026-03-01T12:00:00Z"}, "gas": {"co2.ppm": 900}}).encode()
    assert len(plain("garden/1/state", body, retained=True).readings) == 1


@pytest.mark.parametrize(
    "body", [b"[" * 50_000, b'{"a":' * 10_000, b"1" * 5000, b"{}", b"[]", b"null", b"{\xff", b'"\\ud800"']
)
def test_json_that_is_a_trap(body):
    assert [f.kind for f in plain("garden/1/state", body).faults] == ["unreadable"]


ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["meta", "at", "air", "t", "unit", "gas", "co2.ppm", "value", "logger", "channel"]), inner
        )
    ),
    max_leaves=12,
)


@given(
    st.sampled_from(["bench/a/temperature", "garden/x/state"]) | st.text(),
    st.binary() | ANY_JSON.map(lambda v: json.dumps(v).encode()),
)
def test_nothing_raises(topic, payload):
    read = plain(topic, payload)
    for one in read.readings:
        assert -60 <= one.value <= 250_000
        assert abs(one.at - NOON) <= 2 * 86_400_000


@given(st.floats(-1e6, 1e6), st.integers(-120, 120))
def test_posted_and_sent_alike(value, late):
    """The same reading through both ways is the same, or refused by both."""
    at = f"{datetime.fromtimestamp(NOON / 1000 - late, ZoneInfo('UTC')).isoformat()}"
    sent = garden(meta={"at": at}, gas={"co2.ppm": value}).readings
    body = json.dumps({"logger": "garden", "channel": "co2", "value": value, "unit": "ppm", "at": at}).encode()
    try:
        posted = tuple(read_posted(body, NOON, Clock(120, 2 * 86400)))
    except InputError:
        posted = ()
    assert sent == posted


@given(st.binary() | ANY_JSON.map(lambda v: json.dumps(v).encode()))
def test_posted_junk_is_an_input_error(body):
    said = ""
    try:
        read_posted(body, NOON, Clock.usual())
    except InputError as error:
        said = str(error)
    assert said.isprintable()


GOOD = {"logger": "a", "channel": "temperature", "value": 20}


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ([GOOD, {**GOOD, "valu": 3}], "reading 2: is no key of a reading; found 'valu'.*did you mean 'value'"),
        ({**GOOD, "quantity": "temprature"}, "quantity: is no quantity.*did you mean 'temperature'"),
        ({**GOOD, "unit": "ppm"}, "unit: is no unit of temperature; found 'ppm'; allowed: degC, degF, K"),
        ({**GOOD, "value": "warm"}, "value: is no number"),
        ({**GOOD, "value": None}, "value: is no number"),
        ({**GOOD, "value": 5000}, "value: cannot be"),
        ({**GOOD, "at": "noon"}, "at: its time is no date"),
        ({**GOOD, "logger": ""}, "logger: is empty"),
        ({"channel": "temperature", "value": 1}, "logger: is missing"),
        ([], "no readings"),
        ([GOOD] * 3000, "too many"),
        (3, "is no object"),
    ],
)
def test_posted_faults_say_where(body, says):
    with pytest.raises(InputError, match=says):
        read_posted(json.dumps(body).encode(), NOON, Clock.usual())


def test_posted_defaults():
    (one,) = read_posted(json.dumps(GOOD).encode(), NOON, Clock.usual())
    assert (one.quantity, one.unit, one.at, one.timed) == ("temperature", "degC", NOON, False)
    (one,) = read_posted(
        json.dumps({**GOOD, "at": NOON / 1000 - 5, "unit": "K", "value": 293.15}).encode(), NOON, Clock.usual()
    )
    assert (round(one.value, 9), one.at, one.timed) == (20.0, NOON - 5000, True)


def test_usual_limits_are_those_of_the_data():
    mapping = load_live_mapping(TEXT.replace('[clock]\nahead = "2 min"\nbehind = "2 day"\n', ""))
    assert (mapping.clock.ahead, mapping.clock.behind) == (live_value("ahead"), live_value("behind"))
