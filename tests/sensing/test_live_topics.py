"""Patterns take the topics that a broker would send for their filters."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from nestwright.sensing.live.topics import PatternProblem, overlap, read_pattern

LEVEL = st.sampled_from(["a", "b", "", "$SYS", "é"])
TOPIC = st.lists(LEVEL, min_size=1, max_size=4).map("/".join).filter(bool)
FILTER = st.builds(
    lambda levels, rest: "/".join([*levels, *rest]),
    st.lists(st.sampled_from(["a", "b", "", "+", "$SYS"]), min_size=1, max_size=4),
    st.sampled_from([[], ["#"]]),
).filter(bool)


@given(FILTER, TOPIC)
def test_same_as_the_reference_library(text, topic):
    # the client of the Eclipse Foundation
    assert (read_pattern(text).match(topic) is not None) == topic_matches_sub(text, topic)


# The examples of MQTT 3.1.1 (OASIS Standard, 29 October 2014), sections 4.7.1.2, 4.7.1.3 and 4.7.2
@pytest.mark.parametrize(
    ("text", "topic", "taken"),
    [
        ("sport/tennis/player1/#", "sport/tennis/player1", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
        ("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True),
        ("sport/#", "sport", True),
        ("sport/tennis/+", "sport/tennis/player1", True),
        ("sport/tennis/+", "sport/tennis/player1/ranking", False),
        ("sport/+", "sport", False),
        ("sport/+", "sport/", True),
        ("+/+", "/finance", True),
        ("/+", "/finance", True),
        ("+", "/finance", False),
        ("#", "$SYS/monitor/Clients", False),
        ("+/monitor/Clients", "$SYS/monitor/Clients", False),
        ("$SYS/#", "$SYS/monitor/Clients", True),
        ("$SYS/monitor/+", "$SYS/monitor/Clients", True),
    ],
)
def test_examples_of_the_standard(text, topic, taken):
    assert (read_pattern(text).match(topic) is not None) is taken


@pytest.mark.parametrize("text", ["sport/tennis#", "sport/tennis/#/ranking", "sport+", "", "a\0b"])
def test_filters_that_the_standard_forbids(text):
    with pytest.raises(PatternProblem):
        read_pattern(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("bench/{shelf}/x", "unknown name"),
        ("bench/x{logger}", "whole level"),
        ("{logger}/{logger}", "twice"),
    ],
)
def test_parts_that_cannot_be(text, says):
    with pytest.raises(PatternProblem, match=says):
        read_pattern(text)


def test_named_parts():
    pattern = read_pattern("bench/{logger}/+/{channel}/#")
    assert pattern.filter == "bench/+/+/+/#"
    assert pattern.match("bench/shelf/1/rh") == {"logger": "shelf", "channel": "rh"}
    assert pattern.match("bench/shelf/1") is None


@given(FILTER, FILTER, TOPIC)
def test_a_topic_that_two_patterns_take_is_an_overlap(one, other, topic):
    a, b = read_pattern(one), read_pattern(other)
    assert overlap(a, b) == overlap(b, a)
    if a.match(topic) is not None and b.match(topic) is not None:
        assert overlap(a, b)


@pytest.mark.parametrize(
    ("one", "other"), [("a/+", "b/+"), ("a/b", "a/b/c"), ("+/a", "+/b"), ("#", "$SYS/a"), ("+/a", "$SYS/a")]
)
def test_no_overlap(one, other):
    assert not overlap(read_pattern(one), read_pattern(other))
