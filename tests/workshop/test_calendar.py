"""The calendar file: RFC 5545 by a second parser and by the rules of the text itself; what is in it, and when."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import vobject
from hypothesis import example, given, settings
from hypothesis import strategies as st
from sqlalchemy import insert

from nestwright.workshop.alarm_rules import Due, Finding, part_due, refill_due, visit_due
from nestwright.workshop.alarms import Alarm
from nestwright.workshop.calendar import Edition, edition_of, ics_of, uid_of
from nestwright.workshop.coming import Coming, Entry, coming_of
from nestwright.workshop.kept_forecasts import KeptForecast
from nestwright.workshop.look import AtGlance, Look
from nestwright.workshop.tables import change
from nestwright.workshop.todo import today_of

DAY = date(2031, 3, 10)
EDITION = Edition("1924000000000", 4086, datetime(2031, 3, 10, 7, 30, tzinfo=UTC))
LISBON = ZoneInfo("Europe/Lisbon")


def entry(**changed):
    values = {"key": "visit/1", "kind": "visit", "subject": "Marigold", "day": DAY, "do": "visit it", "says": "due"}
    return Entry(**(values | changed))


def written(*entries, edition=EDITION, hour=9):
    return ics_of(Coming(DAY, entries, ()), edition, LISBON, hour)


def lines_of(content):
    """The unfolded lines, RFC 5545, 3.1: CRLF and one blank or tab joins two."""
    return content.decode().replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")


TEXTS = st.text(max_size=120) | st.text(alphabet='\\;,:"\n\r\t \x00\x0b\x85\u2028é木🍄', max_size=120)


@settings(max_examples=150, deadline=None)
@given(TEXTS, TEXTS, TEXTS)
def test_hostile_names_keep_to_the_rules_of_the_text(subject, says, command):
    content = written(entry(subject=subject, says=says, command=command), entry(key="visit/2", subject=subject))
    text = content.decode("utf-8")
    physical = content.split(b"\r\n")
    assert physical[-1] == b""
    # 3.1: no line longer than 75 octets without its break, and no break but CRLF
    assert max(map(len, physical)) <= 75
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", text)
    assert all(b"\r" not in line and b"\n" not in line for line in physical)
    # a name cannot write a line of its own: exactly the two events and their alarms
    assert [one for one in lines_of(content) if one.startswith("BEGIN:")] == [
        "BEGIN:VCALENDAR", *["BEGIN:VEVENT", "BEGIN:VALARM"] * 2,
    ]  # fmt: skip
    # 3.3.11: comma, semicolon and backslash are escaped
    for line in lines_of(content):
        if line.startswith("SUMMARY"):
            assert not re.search(r"[;,]", re.sub(r"\\[\\;,nN]", "", line.split(":", 1)[1]))


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=90))
@example("C:\\Nests\\new")
def test_a_second_parser_reads_the_same_name(name):
    read = vobject.readOne(written(entry(subject=name)).decode())
    assert read.vevent.summary.value == f"{name}: visit it"
    assert read.vevent.valarm.description.value == f"{name}: visit it"


def test_a_second_parser_reads_days_alarm_and_what_must_be_there():
    full = entry(key="forecast/1/bell", kind="forecast", day=DAY + timedelta(days=20), do="bell expected to be full")
    read = vobject.readOne(written(entry(), full).decode())
    # 3.6.1: UID and DTSTAMP are required, 3.7: PRODID and VERSION too
    read.validate()
    assert read.prodid.value
    assert read.version.value == "2.0"
    assert [e.dtstart.value for e in read.vevent_list] == [DAY, DAY + timedelta(days=20)]
    assert [e.dtend.value - e.dtstart.value for e in read.vevent_list] == [timedelta(days=1)] * 2
    assert {type(e.dtstart.value) for e in read.vevent_list} == {date}
    assert [e.valarm.trigger.value for e in read.vevent_list] == [timedelta(hours=9)] * 2
    assert len({e.uid.value for e in read.vevent_list}) == 2
    assert "DTSTAMP:20310310T073000Z" in lines_of(written(entry()))
    assert "X-WR-TIMEZONE:Europe/Lisbon" in lines_of(written(entry()))
    assert b"VALARM" not in written(entry(), hour=None)


def test_the_same_gives_the_same_bytes_and_a_later_edition_the_same_uid():
    assert written(entry()) == written(entry())
    later = replace(EDITION, sequence=EDITION.sequence + 1)
    moved = written(entry(day=DAY + timedelta(days=4)), edition=later)
    first, second = (vobject.readOne(c.decode()).vevent for c in (written(entry()), moved))
    assert first.uid.value == second.uid.value
    assert int(second.sequence.value) > int(first.sequence.value)
    # the same row of another workshop is another event
    assert uid_of(entry(), EDITION) != uid_of(entry(), replace(EDITION, mark="1924000000001"))


def test_sequence_grows_with_acts_and_with_days(shop):
    row = {"act": "x", "of_table": "colony", "row": 1, "before": "", "after": ""}
    with shop.engine.begin() as connection:
        connection.execute(change.delete())
        assert edition_of(connection, DAY) == Edition(
            "0", (DAY - date(2020, 1, 1)).days, datetime(2031, 3, 10, tzinfo=UTC)
        )
        at = round(datetime(2031, 3, 10, 7, 30, tzinfo=UTC).timestamp() * 1000)
        connection.execute(insert(change), [row | {"step": 1, "at": at - 9000}, row | {"step": 2, "at": at + 999}])
        acted, next_day = edition_of(connection, DAY), edition_of(connection, DAY + timedelta(days=1))
    assert acted == Edition(str(at - 9000), (DAY - date(2020, 1, 1)).days + 2, datetime(2031, 3, 10, 7, 30, tzinfo=UTC))
    assert (next_day.sequence, next_day.stamp) == (acted.sequence + 1, datetime(2031, 3, 11, tzinfo=UTC))


def look(*findings, ahead=None):
    made = Look(DAY, 0, findings=list(findings), colonies=1)
    made.glances.append(AtGlance(1, "Marigold", None, None, ahead))
    return made


def test_due_days_are_those_of_the_rules():
    early, middle, late = (DAY + timedelta(days=n) for n in (12, 20, 31))
    full = Due(early, middle, late, 0.9)
    kept = KeptForecast(DAY, 60, {}, full, None, 0.99, ())
    visit = visit_due("visit/1", "Marigold", DAY - timedelta(days=2), DAY, 4.0, False, DAY)
    refill = refill_due("refill/1", "build P-1", DAY - timedelta(days=5), (8.5, 11.0), DAY, serial="P-1")
    part = part_due("part/1/bell", "Marigold", "bell", None, full, 9.0, DAY)
    coming = coming_of(made := look(visit, refill, part, ahead=kept), today_of(made, {}))
    # usual interval 4 days x 1.5; 8.5 days of water rounded up to a day; 9 days of making before the early end
    assert {e.key: (e.day - DAY).days for e in coming.entries} == {
        "visit/1": 4, "refill/1": 4, "part/1/bell": 3, "forecast/1/bell": 20,
    }  # fmt: skip
    forecast = coming.entries[-1]
    assert (forecast.early, forecast.late) == (early, late)
    assert [e.day for e in coming.entries] == sorted(e.day for e in coming.entries)


def test_on_its_due_day_the_rule_calls_and_the_day_before_not():
    for n, state in ((3, "off"), (4, "on")):
        at = DAY + timedelta(days=n)
        assert visit_due("v", "M", DAY - timedelta(days=2), DAY, 4.0, False, at).state == state
        assert refill_due("r", "b", DAY - timedelta(days=5), (8.5, 11.0), at, serial="P").state == state


def test_overdue_stands_on_today_once_and_snoozed_is_left_out():
    visit = visit_due("visit/1", "Marigold", DAY - timedelta(days=30), DAY, 4.0, False, DAY)
    coming = coming_of(made := look(visit), today_of(made, {}))
    assert [(e.key, e.day) for e in coming.entries] == [("visit/1", DAY)]
    alarm = Alarm(**dict.fromkeys(Alarm.__dataclass_fields__) | {"id": 1, "key": "visit/1", "snoozed": 10})
    assert coming_of(made, today_of(made, {"visit/1": alarm})).entries == ()


def test_a_bell_that_is_not_surely_full_has_no_day():
    kept = KeptForecast(DAY, 60, {}, Due(DAY + timedelta(days=50), None, None, 0.2), None, 0.99, ())
    ill = Finding("ill/1", "ill", "off", "Marigold", "brown", "look")
    coming = coming_of(made := look(ill, ahead=kept), today_of(made, {}))
    assert coming.entries == ()
