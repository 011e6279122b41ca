"""Alarms over time: raised once, told once, put off, worse, ended; and what is owed to whom."""

import sqlite3
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from workshops import fresh

from nestwright.errors import InputError
from nestwright.workshop import alarms
from nestwright.workshop.alarm_rules import Finding
from nestwright.workshop.database import reading, writing
from nestwright.workshop.look import Look

HOUR = 3_600_000
WAYS = ("mail", "webhook")


def finding(key="full/1", state="on", severity=1.0, step=1.0):
    return Finding(key, "full", state, "Marigold", f"fill {severity}", "set the next bell", "", severity, step)


def looked(shop, at, *findings, skipped=(), ways=WAYS):
    with writing(shop.engine) as connection:
        found = Look(None, at, list(findings), set(skipped))
        return alarms.record_look(connection, found, ways)


def kept(shop, **how):
    with reading(shop.engine) as connection:
        return alarms.kept_alarms(connection, **how)


def debts(shop):
    with reading(shop.engine) as connection:
        return alarms.owed(connection)


def took(shop, way, *rows, at=1):
    with writing(shop.engine) as connection:
        alarms.taken(connection, way, rows, at)


def told(shop):
    """Both ways take all that they are owed."""
    for way, rows in debts(shop).items():
        took(shop, way, *rows)


def ack(shop, row, at):
    with writing(shop.engine) as connection:
        return alarms.acknowledge(connection, row, at)


def snooze(shop, row, until, at):
    with writing(shop.engine) as connection:
        return alarms.snooze(connection, row, until, at)


def test_an_alarm_is_raised_once_and_told_once(shop):
    assert looked(shop, 1, finding()).raised == (1,)
    assert debts(shop) == {"mail": [1], "webhook": [1]}
    told(shop)
    for at in range(2, 6):
        changed = looked(shop, at, finding())
        assert changed == alarms.Changed()
    assert debts(shop) == {}
    (one,) = kept(shop)
    assert (one.raised, one.seen, one.sent) == (1, 5, 1)


def test_between_neither_raises_nor_ends(shop):
    looked(shop, 1, finding(state="between"))
    assert kept(shop) == []
    looked(shop, 2, finding())
    looked(shop, 3, finding(state="between"))
    assert len(kept(shop)) == 1
    assert looked(shop, 4, finding(state="off")).ended == (1,)
    assert kept(shop) == []
    # the next time is a new alarm
    assert looked(shop, 5, finding()).raised == (2,)
    assert [one.id for one in kept(shop, ended=True)] == [2, 1]


def test_an_alarm_is_told_again_when_it_got_worse_by_its_step(shop):
    looked(shop, 1, finding(severity=1.0))
    told(shop)
    ack(shop, 1, 2)
    assert looked(shop, 3, finding(severity=1.9)).worse == ()
    assert looked(shop, 4, finding(severity=2.0)).worse == (1,)
    assert debts(shop) == {"mail": [1], "webhook": [1]}
    assert kept(shop)[0].acknowledged is None
    told(shop)
    # the step counts from what was told last, so that a swing up and down is not told each time
    assert looked(shop, 5, finding(severity=1.0)).worse == ()
    assert looked(shop, 6, finding(severity=2.5)).worse == ()
    assert looked(shop, 7, finding(severity=3.0)).worse == (1,)


def test_a_snooze_keeps_quiet_until_it_ends(shop):
    looked(shop, 1, finding())
    told(shop)
    assert snooze(shop, 1, 10 * HOUR, 2).state(3) == "snoozed"
    assert looked(shop, 9 * HOUR, finding()) == alarms.Changed()
    assert looked(shop, 10 * HOUR, finding()).again == (1,)
    assert debts(shop) == {"mail": [1], "webhook": [1]}
    told(shop)
    assert looked(shop, 11 * HOUR, finding()) == alarms.Changed()


def test_after_a_snooze_worse_counts_from_what_was_told_then(shop):
    looked(shop, 1, finding(severity=3.0))
    told(shop)
    snooze(shop, 1, HOUR, 2)
    assert looked(shop, HOUR, finding(severity=1.0)).again == (1,)
    told(shop)
    assert looked(shop, 2 * HOUR, finding(severity=2.0)).worse == (1,)


def test_a_snooze_does_not_hide_what_gets_worse(shop):
    looked(shop, 1, finding(severity=1))
    told(shop)
    snooze(shop, 1, 10 * HOUR, 2)
    assert looked(shop, HOUR, finding(severity=2)).worse == (1,)
    assert kept(shop)[0].state(HOUR) == "open"


def test_what_was_seen_is_owed_to_nobody(shop):
    looked(shop, 1, finding(), finding("full/2"))
    ack(shop, 1, 2)
    snooze(shop, 2, 10 * HOUR, 2)
    assert debts(shop) == {}
    assert looked(shop, 3, finding(), finding("full/2")) == alarms.Changed()
    assert debts(shop) == {}


def test_an_alarm_is_sent_when_every_way_has_taken_it(shop):
    looked(shop, 1, finding())
    took(shop, "mail", 1, at=2)
    assert kept(shop)[0].sent is None
    looked(shop, 3, finding())
    assert debts(shop) == {"webhook": [1]}  # the mail is not sent again because the webhook failed
    took(shop, "webhook", 1, at=4)
    assert kept(shop)[0].sent == 4


def test_an_alarm_that_ended_before_it_was_told_is_still_owed(shop):
    looked(shop, 1, finding())
    looked(shop, 2, finding(state="off"))
    assert debts(shop) == {"mail": [1], "webhook": [1]}


def test_ways_that_are_set_up_later_are_told_of_what_nobody_was(shop):
    looked(shop, 1, finding(), ways=())
    assert debts(shop) == {}
    looked(shop, 2, finding(), ways=("mail",))
    assert debts(shop) == {"mail": [1]}
    # and one that is gone is owed nothing
    looked(shop, 3, finding(), ways=())
    assert debts(shop) == {}


def test_what_could_not_be_looked_at_stays(shop):
    looked(shop, 1, finding("full/1"), finding("part/1/bell"), finding("full/12"))
    assert looked(shop, 2, skipped={"full/1", "part/1"}).ended == (3,)
    assert [one.key for one in kept(shop)] == ["full/1", "part/1/bell"]
    assert looked(shop, 3).ended == (1, 2)


def test_numbers_that_are_none_are_refused(shop):
    with pytest.raises(InputError, match="no such alarm"):
        ack(shop, 7, 1)
    looked(shop, 1, finding())
    looked(shop, 2, finding(state="off"))
    with pytest.raises(InputError, match="has ended already"):
        snooze(shop, 1, HOUR, 3)


@pytest.mark.parametrize(
    ("text", "hours"), [("2h", 2), ("3 day", 72), ("30 min", 0.5), ("1.5 hours", 1.5), ("1 week", 168), ("90m", 1.5)]
)
def test_a_span(text, hours):
    assert alarms.parse_span(text).total_seconds() == 3600 * hours


@pytest.mark.parametrize(
    "text", ["", "h", "0h", "-2h", "2", "2 years", "1e9 h", "999999999999999999h", "two hours", "400 day"]
)
def test_what_is_no_span_is_refused(text):
    with pytest.raises(InputError):
        alarms.parse_span(text)


def test_a_damaged_list_of_debts_is_no_end(shop):
    looked(shop, 1, finding())
    for text in ("{", "[1]", '{"mail": 3}', '{"mail": ["x"]}', "null"):
        shop.set(alarms.OWED, text)
        assert debts(shop) == {}
        looked(shop, 2, finding())
        assert debts(shop) == {"mail": [1], "webhook": [1]}  # it was never marked as sent


def test_two_checks_at_once_raise_one_alarm(shop):
    start = threading.Barrier(4)

    def check():
        start.wait()
        looked(shop, 1, finding())

    threads = [threading.Thread(target=check) for _ in range(4)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(kept(shop, ended=True)) == 1


def test_the_right_to_send_is_one_process_and_returns(shop):
    with writing(shop.engine) as connection:
        assert alarms.claim(connection, 1000)
        assert not alarms.claim(connection, 1001)
        # of one that was ended while it sent, after a time
        assert alarms.claim(connection, 1000 + alarms.CLAIM_LASTS)
        alarms.release(connection)
        assert alarms.claim(connection, 1002)


STATES = st.sampled_from(["on", "between", "off"])
STEPS = st.lists(
    st.tuples(STATES, st.integers(0, 4), st.sampled_from(["", "ack", "snooze"]), st.booleans()), min_size=1, max_size=12
)


@settings(max_examples=15, deadline=None)
@given(STEPS)
def test_over_any_course_of_days(tmp_path_factory, course):
    """One open alarm a key; told only for a reason; nothing unsent that is not owed, put off or seen."""
    shop = fresh(tmp_path_factory.mktemp("course") / "shop")
    most = None
    for n, (state, severity, act, deliver) in enumerate(course, 1):
        at = n * HOUR
        before = {one.key for one in kept(shop)}
        changed = looked(shop, at, finding(state=state, severity=float(severity)))
        link = sqlite3.connect(shop.database)
        (several,) = link.execute("SELECT count(*) FROM alarm WHERE ended IS NULL AND key = 'full/1'").fetchone()
        link.close()
        assert several <= 1
        assert bool(changed.raised) == (state == "on" and not before)
        assert bool(changed.ended) == (state == "off" and bool(before))
        if changed.worse:
            assert severity >= most + 1
        if changed.raised or changed.worse or changed.again:
            most = severity
        if deliver:
            told(shop)
        for one in kept(shop):
            if one.state(at) == "open" and one.sent is None:
                assert one.id in debts(shop)["mail"]
            if act == "ack":
                ack(shop, one.id, at)
            elif act == "snooze":
                snooze(shop, one.id, at + 2 * HOUR, at)
