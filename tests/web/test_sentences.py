"""Sentences of the record in the reader's language."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from nestwright.web.pages.today import reading_row
from nestwright.web.part_words import part_named, parts_named_in
from nestwright.web.preferences import Preferences
from nestwright.web.refused import refused
from nestwright.web.sentences import clauses, said
from nestwright.web.shown import Shown
from nestwright.workshop.alarm_rules import Due as Full
from nestwright.workshop.alarm_rules import Spell, brood_missing, limit, part_due, refill_due, visit_due
from nestwright.workshop.last_readings import LastReading

TODAY = date(2026, 3, 10)


def shown(language: str, temperature: str = "degC", sizes: str = "metric") -> Shown:
    return Shown(Preferences(language, temperature, sizes), ZoneInfo("UTC"), TODAY)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("by the logger inside: 44 h, 18 to 32 degC, last 21 degC", "44 h, 64 to 90 °F, last 70 °F"),
        ("Given from now on: 8.6 (4.9 to 14.6) g a day", "0.3 (0.17 to 0.51) oz a day"),
        ("garden 280 mL (error 10 %)", "garden 9.47 fl oz (error 10 %)"),
        ("go there by 3 K at a time", "by 5.4 °F at a time"),
        ("falls below about 20 and above about 30 degC", "below about 20 and above about 30 °C"),  # both or neither
        ("140 cm2 and 5 mm, 3 kg", "140 cm² and 5 mm, 3 kg"),
    ],
)
def test_a_sentence_has_its_figures_in_the_units_of_the_reader(text: str, told: str) -> None:
    plain = str(said(text, shown("en", "degF", "imperial"))).replace("\u202f", " ").replace("\u00a0", " ")
    assert told in plain
    assert "°F" not in said(text, shown("en"))
    assert str(said(text, shown("en", "degF", "imperial"), typed=True)) == text


def test_a_logger_of_the_record_and_the_parts_of_a_chamber_are_german() -> None:
    german = shown("de")
    assert said("logger topf of the record, 5 of 12 days of the record", german) == (
        "Logger topf der Aufzeichnung, 5 von 12 Tagen der Aufzeichnung"
    )
    names = ("pot wall", "pot lid", "pot bell", "pot bell top", "tile")
    told = [part_named(one, german) for one in (*names, "pot lid on pot wall", "pot wrapping 2")]
    assert told == [
        "Wand von pot", "Deckel von pot", "Glocke von pot", "Glockendeckel von pot", "tile",
        "Deckel von pot auf Wand von pot", "Umhüllung von pot 2",
    ]  # fmt: skip
    assert parts_named_in("the gap of 'pot lid on pot wall'", names, german) == (
        "the gap of 'Deckel von pot auf Wand von pot'"
    )
    assert part_named("pot lid", shown("en")) == "pot lid"


def test_the_key_of_a_cross_section_names_every_material_in_german() -> None:
    from nestwright.data import load_materials

    assert said("pine", shown("de")) == "Kiefer"
    assert {*load_materials()} <= {*clauses()}


def test_a_refusal_has_the_figures_of_the_program_in_german_and_leaves_what_was_typed() -> None:
    german = shown("de")
    assert refused("up to 0.474 mm", german) == "bis 0,474 mm"
    assert refused("0.001 to 1000000 mL, as '0.5 mL'", german) == "0,001 bis 1000000 mL, wie '0.5 mL'"


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
