"""The calendar file of the page: what the command writes, behind the same guard as every page."""

from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
import vobject


def answered(address):
    """The answer, once the page has taken its first look."""
    with urlopen(address, timeout=10) as answer:
        return answer.headers, answer.read()


def there(address):
    try:
        return bool(answered(address))
    except HTTPError:
        return False


def test_today_leads_to_a_file_that_a_calendar_reads(pages, until):
    until(lambda: there(f"{pages}/calendar.ics"))
    headers, content = answered(f"{pages}/calendar.ics")
    assert headers["content-type"] == "text/calendar; charset=utf-8"
    events = vobject.readOne(content.decode()).vevent_list
    assert any(e.summary.value.startswith("Marigold: ") for e in events)
    assert b'href="/calendar.ics"' in answered(f"{pages}/")[1]


def test_a_name_that_is_not_ours_gets_no_calendar(pages):
    with pytest.raises(HTTPError) as refused:
        urlopen(Request(f"{pages}/calendar.ics", headers={"Host": "elsewhere.example"}), timeout=10)
    assert refused.value.code == 421
