"""A German page is German throughout: pages, pictures, and every sentence that the program can put on them."""

from __future__ import annotations

import json
import re
import tomllib
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import quote
from urllib.request import Request, urlopen
from zoneinfo import ZoneInfo

import pytest

from nestwright.web.own_words import recorded_words, typed_words
from nestwright.web.pictured import pictured_in
from nestwright.web.preferences import Preferences
from nestwright.web.sentences import clauses, retold, said
from nestwright.web.shown import Shown
from nestwright.web.told_units import table_in_units
from nestwright.web.words import words_of

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples" / "workshop"
GERMAN = Shown(Preferences(language="de"), ZoneInfo("UTC"), date(2026, 3, 10))
STOP = frozenset(
    re.findall(
        "[a-z]+",
        "the and with of is are were from by not no for which that it at as on than its be has have had each into out "
        "until since after before day days hour hours between left right above below none too one to your you this",
    )
)
"""English words that no German has."""
PLACES = (
    "/", "/alarms", "/builds", "/builds/P-001", "/history", "/search?q=pot", "/settings", "/pair", "/colonies",
    "/parcels", "/colonies/-new", "/colonies/Marigold", "/colonies/Marigold/photos", "/colonies/Hollyhock/family",
    "/visit", "/visit/Marigold", "/habitats", "/compare?a=single-pot&b=three-pot", "/climate/single-pot",
    "/climate/build/P-001", "/sensors", "/sensors/pot", "/sensors/pot/calibrate?channel=humidity",
    "/series?channel=pot.humidity&channel=pot.temperature", "/import", "/sales",
)  # fmt: skip
TYPED = r"English|Mg\(NO3\)2"
"""A language is called by its own name."""


class Text(HTMLParser):
    """The text of a page with what is read aloud, and what is marked as English; no code, no text in fields."""

    CODE = frozenset({"code", "kbd", "pre", "script", "style", "textarea"})
    SAID = frozenset({"alt", "title", "placeholder", "aria-label", "data-head", "data-said"})

    def __init__(self) -> None:
        super().__init__()
        self.within: list[str] = []
        self.german: list[str] = []
        self.english: list[str] = []
        self.marked: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("input", "meta", "link", "br", "img"):
            pass
        elif tag in self.CODE or tag in self.within:
            self.within.append(tag)
        elif ("lang", "en") in attrs or tag in self.marked:
            self.marked.append(tag)
        self.german += [value or "" for name, value in attrs if name in self.SAID]

    def handle_endtag(self, tag: str) -> None:
        for stack in (self.within, self.marked):
            if stack and stack[-1] == tag:
                stack.pop()

    def handle_data(self, data: str) -> None:
        if not self.within and data.strip():
            (self.english if self.marked else self.german).append(" ".join(data.split()))


@pytest.fixture(scope="module")
def own() -> list[str]:
    """What the keeper of the examples wrote: names and notes."""
    found = []
    for file in sorted(EXAMPLES.rglob("*.toml")):
        found += re.findall(r'^\w+ = "([^"]+ [^"]+)"', file.read_text("utf-8"), re.M)
    for file in sorted(EXAMPLES.glob("colonies/*visits.csv")):
        found += [cell.strip('"') for cell in re.split(r",|\n", file.read_text("utf-8")) if " " in cell]
    return sorted({part for one in found for part in (one, *one.split("; "))}, key=len, reverse=True)


def test_no_page_has_an_english_sentence(pages: str, own: list[str]) -> None:
    wrong = []
    for place in PLACES:
        request = Request(pages + quote(place, safe="/?&=.-"), headers={"cookie": "nw-shown=de.degC.metric.auto"})
        with urlopen(request, timeout=30) as answer:
            read = Text()
            read.feed(answer.read().decode())
        for text in (*read.german, *read.english):
            plain = text
            for one in own:
                plain = plain.replace(one, "")
            plain = re.sub(TYPED, "", plain)
            english = sorted(STOP & set(re.findall(r"[a-z]+", plain.lower())))
            if english and (text in read.english or not re.search("[äöüß„]", plain)):
                wrong.append(f"{place}: {text[:200]} ({', '.join(english)})")
    assert not wrong, "\n".join(wrong)


DECISIONS = (
    "'rH' is humidity: its header says so; no unit is written; by its values (middle 56.5)",
    "'T' is temperature in degC: its header says so",
    "day.month.year: in this order the dates follow each other without leaps",
    "decimal comma: 48 numbers of the sample are written so",
    "only 1 reading after the last gap, 10 are needed",
    "not at rest: may still be off by 1.4 times what is allowed",
    "never calibrated, and a sensor as sold is less certain",
    "pot/bell: temperature, at least",
    "The first limit to go is pot/bell: temperature, at least, 0.2 tolerances inside.",
    "2026-11-22: the garden told more than once with the same value; counted once",
    "2026-11-22: workers told as 20 and 90, further apart than their errors allow; all are kept, with wider errors",
    "bramblee was never given before: is it bramble?; no plant is told with the leaves",
    "900 g of leaves at once: the most before was 6 g. A slip of the unit or of the point?",
    "210 mL of garden under a dome of 100 mL is a fill of 210 %: it presses against it and is to be moved on, or one "
    "of the two volumes is wrong",
    "garden white, mould",
    "Corrected by 1 calibration; ranges from its uncertainty. Hours at the references of a calibration count as not "
    "known.",
    "Forecast of Thistle",
    "Never the first to fail here: pot/bell: humidity; pot/bell: CO2; pot/bell: O2; pot/bell: garden's water.",
)
"""As a file, a calibration and sizes are told."""


def sentences() -> list[str]:
    """What the program can say with nothing of its own to put in, from where it keeps it."""
    from nestwright.cli.output import CAUTIONS
    from nestwright.cli.species import GROWTH
    from nestwright.colony.causes import SAYS
    from nestwright.colony.form import EVENTS
    from nestwright.wording.diagnosis import FIRST, RESCUE, RESCUE_HERE, SIZES, WEEKLY
    from nestwright.wording.parcel_risk import CAUTION as RISK
    from nestwright.wording.parcel_risk import WORDS
    from nestwright.wording.passage import ANTS, CAUSES
    from nestwright.wording.plan import HANDLING
    from nestwright.wording.receiving import CAUTION, COUNT_HERE, STEPS, VERDICTS
    from nestwright.wording.values import COMMON

    file = tomllib.loads((ROOT / "src/nestwright/data/making_cautions.toml").read_text("utf-8"))
    told = [one["text"] for kind in file.values() for one in kind.values()]
    told += [*CAUTIONS.values(), *VERDICTS.values()]
    told += [CAUTION, COUNT_HERE, HANDLING, FIRST, RESCUE, RESCUE_HERE, WEEKLY, *SAYS.values(), *EVENTS]
    told += [name for name, *_ in (*COMMON.values(), *GROWTH.values())]
    told += [re.sub(r"\{\w+:[^}]*\}", "3", one) for one in STEPS.values()]
    told += [re.sub(r"\{\w+:[^}]*\}", "3", one) for one in WORDS.values()]
    told += [RISK, *CAUSES.values(), *ANTS.values(), *DECISIONS]
    return told + [f"3 {unit}" for unit, _ in SIZES.values()]


def test_every_sentence_that_stands_in_the_program_is_said_in_german() -> None:
    wrong = [one for one in sentences() if 'lang="en"' in said(one, GERMAN)]
    assert not wrong, "\n".join(wrong)


def test_no_clause_is_said_in_english() -> None:
    same = [one for one in clauses() if words_of("de").gettext(one) == one and re.search("[a-z]{3}", one)]
    # spelt alike in both
    assert set(same) <= {"sensor {}", "{n} in {}", "logger {}", "CO2, %", "Sensor {}"}, same


def test_what_is_typed_in_german_is_recorded_in_the_words_of_the_record_and_shown_as_it_was_typed() -> None:
    wanted = {
        "etwa 60": "about 60",
        "50 bis 80": "50 to 80",
        "Puppen 12\ntot etwa 4": "pupae 12\ndead about 4",
        "Garten zugesetzt 20 mL von Thistle": "garden added 20 mL from Thistle",
        "30 % an von Trapp": "30 % to von Trapp",
        "Königin verloren": "queen lost",
        "keine": "none",
    }
    assert {text: recorded_words(text, "de", event=True) for text in wanted} == wanted
    assert {typed_words(own, "de", event=True): own for own in wanted.values()} == wanted
    # the record's own words are taken too, and what only begins like one of them is left
    for own in (*wanted.values(), "3 g von der Hecke", "Totholz", "60"):
        assert recorded_words(own, "de") == own
    assert recorded_words("garden added 20 mL from Thistle", "de", event=True) == "garden added 20 mL from Thistle"


def test_names_are_not_taken_for_sentences() -> None:
    for name in ("garden pot", "waste way tube in waste way collar at dump", "single-pot", "Hollyhock", "forage right"):
        assert retold(name, GERMAN) == name
    told = retold("the gap of 'garden pot lid on garden pot wall' at its widest may let the smallest worker out "
                  "(judgement)", GERMAN)  # fmt: skip
    assert "„garden pot lid on garden pot wall“" in told


def test_figures_and_days_in_a_sentence_are_set_in_german() -> None:
    # CLDR (de) and DIN 5008: decimal comma, 26. November 2026; the dative of Tage after in and binnen
    wanted = {
        "Doubled in 50 days (29 days to more than 90 days)": "Verdoppelt in 50 Tagen (29 Tage bis mehr als 90 Tage)",
        "this one is full on 2026-12-02 (11-26 to 12-17)": "diese ist voll am 2. Dezember 2026 (26.11. bis 17.12.)",
        "+1.0 % a day over the next 14 days (+0.5 to +1.7 %)":
            "+1,0 % am Tag über die nächsten 14 Tage (+0,5 bis +1,7 %)",
        "pot/bell: drip on the garden": "pot/bell: Tropfen auf den Garten",
        "forecast from 3 Mar": "Vorhersage ab 3. März",
        "Least chance of losing the garden: Mon 11 Jan": "Geringste Gefahr für den Garten: Mo. 11. Jan.",
    }  # fmt: skip
    assert {text: retold(text, GERMAN) for text in wanted} == wanted


def test_a_chart_is_declared_in_german_with_its_numbers() -> None:
    class Chart:
        def to_dict(self, *, validate: bool = True) -> dict[str, object]:
            return {
                "title": {"text": "Pot 1: garden and workers", "subtitle": ["Band: 8 of 10 outcomes; line: median,",
                                                                        "dashed ahead."]},
                "encoding": {"x": {"field": "day", "axis": {"title": "days"}},
                             "color": {"scale": {"domain": ["room", "garden pot"]}}},
                "datasets": {"a": [{"zone": "room", "t": "2026-01-01T00:00Z", "v": 1.5}]},
            }  # fmt: skip

    made = pictured_in(Chart(), GERMAN).to_dict()
    assert made["title"]["text"] == ["Pot 1: Garten und Arbeiterinnen"]
    assert " ".join(made["title"]["subtitle"]) == "Band: 8 von 10 Ausgängen; Linie: Median, voraus gestrichelt."
    # a value that a scale names is changed in both places; fields and times stay
    assert made["encoding"]["color"]["scale"]["domain"] == ["Raum", "garden pot"]
    assert made["datasets"]["a"][0] == {"zone": "Raum", "t": "2026-01-01T00:00Z", "v": 1.5}
    assert made["encoding"]["x"] == {"field": "day", "axis": {"title": "Tage"}}
    assert made["config"]["locale"]["number"]["decimal"] == ","
    assert made["config"]["locale"]["time"]["shortMonths"][2] == "März"
    assert json.dumps(made)
    english = Shown(Preferences(), ZoneInfo("UTC"), date(2026, 3, 10))
    chart = Chart()
    assert pictured_in(chart, english) is chart


def test_a_chart_of_temperatures_tells_the_readers_degrees() -> None:
    class Chart:
        def to_dict(self, *, validate: bool = True) -> dict[str, object]:
            axes = {"x": {"field": "h", "axis": {"title": "hours"}}, "y": {"field": "t", "title": "temperature, °C"}}
            ends = {"scale": {"domain": [10, 35]}}
            room = {"x": {"field": "t", "axis": {"title": "room temperature, °C", "grid": False}} | ends}
            return {"layer": [{"encoding": axes}, {"encoding": room}], "datasets": {"a": [{"title": "21 °C"}]}}

    shown = {one: Shown(Preferences(one, "degF"), ZoneInfo("UTC"), date(2026, 3, 10)) for one in ("en", "de")}
    made = {one: pictured_in(Chart(), show).to_dict() for one, show in shown.items()}
    first, second = (one["encoding"] for one in made["en"]["layer"])
    assert first["y"]["title"] == "temperature, °F"
    assert "1.8" in first["y"]["axis"]["labelExpr"] == second["x"]["axis"].pop("labelExpr")
    # 10 to 35 degC is 50 to 95 degF
    assert [round(one * 1.8 + 32, 9) for one in second["x"]["axis"].pop("values")] == [50, 60, 70, 80, 90]
    assert second["x"]["axis"] == {"title": "room temperature, °F", "grid": False}
    assert first["x"] == {"field": "h", "axis": {"title": "hours"}}
    assert made["en"]["datasets"]["a"] == [{"title": "70 °F"}]
    assert made["de"]["layer"][0]["encoding"]["y"]["title"] == "Temperatur, °F"


def test_a_chart_of_volumes_and_masses_tells_the_readers_units() -> None:
    def axis(name: str, low: float, high: float, **more: object) -> dict[str, object]:
        scale = {"domain": [low, high]} | ({"type": "symlog"} if "values" in more else {})
        return {"field": "v", "scale": scale, "axis": {"title": name, "labelExpr": "datum.value"} | more}

    class Chart:
        def to_dict(self, *, validate: bool = True) -> dict[str, object]:
            places = [axis("garden, mL", 0, 300), axis("waste, wet, g/day", 0.5, 600, values=[1, 10, 100])]
            words = {
                "mark": {"type": "text", "text": "first bell, 180 mL"},
                "encoding": {"y": axis("garden, L", 0, 90, tickCount=3)},
            }
            return {"layer": [*({"encoding": {"y": one}} for one in places), words], "title": "24 °C, 600 to 900 mL"}

    shown = {
        one: Shown(Preferences(one, "degC", "imperial"), ZoneInfo("UTC"), date(2026, 3, 10)) for one in ("en", "de")
    }
    made = {one: pictured_in(Chart(), show).to_dict() for one, show in shown.items()}
    garden, waste, large = (one["encoding"]["y"]["axis"] for one in made["en"]["layer"])
    assert [one["title"] for one in (garden, waste, large)] == ["garden, fl oz", "waste, wet, oz/day", "garden, fl oz"]
    # US customary, NIST Handbook 44 appendix C: 29.5735 mL, 28.3495 g
    assert [round(one / 29.5735295625, 9) for one in garden["values"]] == [0, 2, 4, 6, 8, 10]
    assert [round(one / 28.349523125, 9) for one in waste["values"]] == [0.1, 1, 10]
    assert [round(one / 0.0295735295625, 6) for one in large["values"]] == [0, 1000, 2000, 3000]
    assert "29.57" in garden["labelExpr"]
    assert made["en"]["layer"][2]["mark"]["text"] == "first bell, 6.09 fl oz"
    assert made["en"]["title"] == "24 °C, 20.3 to 30.4 fl oz"
    assert made["de"]["layer"][0]["encoding"]["y"]["axis"]["title"] == "Garten, fl oz"
    assert made["de"]["layer"][1]["encoding"]["y"]["axis"]["title"] == "Abfall, nass, oz/Tag"


def test_a_table_has_its_figures_in_the_units_of_its_reader() -> None:
    head, rows = (
        ["day", "garden mL", "fill %"],
        [["2026-03-20 (+7)", "280 (90 to 400)", "40"], ["2026-04-01", "under 0.1", "-"]],
    )
    imperial = Shown(Preferences("en", "degC", "imperial"), ZoneInfo("UTC"), date(2026, 3, 10))
    names, cells = table_in_units(head, rows, imperial)
    assert names == ["day", "garden fl oz", "fill %"]
    assert [row[1] for row in cells] == ["9.47 (3.04 to 13.5)", "under 0.0034"]
    assert [row[0] for row in cells] == [row[0] for row in rows]
    # the unit in the cells, where it changes from one to the next
    assert table_in_units(["garden"], [["280 mL"], ["30 (20 to 45) L"]], imperial)[1] == [
        ["9.47 fl oz"], ["1010 (676 to 1520) fl oz"]]  # fmt: skip
    assert table_in_units(head, rows, GERMAN) == (head, rows)
