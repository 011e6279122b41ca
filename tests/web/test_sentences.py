"""Sentences of the record in the reader's language."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from nestwright.web.pages.today import reading_row
from nestwright.web.preferences import Preferences
from nestwright.web.sentences import said
from nestwright.web.shown import Shown
from nestwright.workshop.alarm_rules import Due as Full
from nestwright.workshop.alarm_rules import Spell, brood_missing, limit, part_due, refill_due, visit_due
from nestwright.workshop.last_readings import LastReading

TODAY = date(2026, 3, 10)


def shown(language: str) -> Shown:
    return Shown(Preferences(language=language), ZoneInfo("UTC"), TODAY)


@pytest.mark.parametrize(
    "finding",
    [
        visit_due("k", "Thrift", date(2026, 3, 1), TODAY, 3.0, False, TODAY),
        visit_due("k", "Thrift", None, date(2026, 3, 1), None, True, TODAY),
        brood_missing("k", "Thrift", [(date(2026, 1, 1), True), (date(2026, 2, 1), False)], TODAY),
        refill_due("k", "build P-1", date(2026, 3, 1), (8.0, 11.5), TODAY, serial="P-1"),
        limit("k", "Thrift", "CO2", "%", Spell(3.5, 3.4, 3.6, 3.0, "above", 3.0, 0, 0.5, True), fixed=True),
        limit("k", "Thrift", "relative humidity", "%", Spell(99, 98, 100, 95, "above", 3.0, 0, 3, True), fixed=True),
        limit("k", "Thrift", "relative humidity", "%", Spell(88, 89.8, 92, 90, "below", 3.0, 0, 3, True), fixed=True),
        part_due("k", "Thrift", "bell", (0.5, 0.6, 0.72), Full(TODAY, date(2026, 3, 20), None, 0.8), 9.0, TODAY),
        part_due("k", "Thrift", "chamber", None, Full(TODAY, date(2026, 3, 20), None, 0.8), None, TODAY),
    ],
)
def test_what_a_rule_says_is_said_in_german_as_it_is_made_today(finding: object) -> None:
    for text in (finding.says, finding.do):  # type: ignore[attr-defined]
        told = said(text, shown("de"))
        assert 'lang="en"' not in told, text
        assert "days" not in told
        assert "2026-" not in told


def test_a_reading_that_reads_as_its_limit_is_just_beyond_it() -> None:
    made = limit("k", "Thrift", "relative humidity", "%", Spell(89.96, 89.96, 89.96, 90, "below", 3.0, 0, 3, True)).says
    assert made == "relative humidity 90 %, just below the limit 90 % for 3 h"
    assert said(made, shown("de")).startswith("relative Feuchte 90")
    assert "knapp unter der Grenze 90" in said(made, shown("de"))


def test_a_last_reading_beyond_its_band_does_not_read_as_its_end() -> None:
    def row(low: float, value: float, high: float) -> dict[str, object]:
        one = LastReading(
            "P-1", "Thrift", "pot", "probe", "h", "humidity", "%", value, low, high, 0, (90.0, None), True
        )
        return reading_row(one, shown("en"), 0)

    assert row(86.0, 88.0, 89.7)["range"] == "86.0 % – 89.7 %"
    assert row(86.0, 88.0, 89.98)["range"] == "86.00 % – 89.98 %"
    assert row(84.0, 86.0, 88.0)["range"] == "84 % – 88 %"
    assert row(88.0, 90.2, 92.4)["range"] == "88 % – 92 %"


def test_a_sentence_that_is_not_known_stays_english_as_a_whole() -> None:
    text = "visited today; the moon <stood> high"
    assert said(text, shown("de")) == '<span lang="en">visited today; the moon &lt;stood&gt; high</span>'
