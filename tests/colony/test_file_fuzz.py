"""Texts of the colony file read back as they were written; what is spoilt gives an InputError or a usable record."""

import copy
import math
import tomllib
from datetime import date, timedelta
from typing import Any

import pytest
from colony_files import HEAD
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.colony.file import colony_from_dict
from nestwright.colony.form import TABLES, ColonyForm
from nestwright.colony.texts import MOST, Count, format_count, parse_amount, parse_count, parse_day, parse_garden
from nestwright.colony.visits_csv import COLUMNS
from nestwright.errors import InputError
from nestwright.units import UnitProblem

WHOLE = f"""{HEAD}\
end = 2026-03-03
leaves = "recorded"
climate = "climate.csv"
visits = "date,workers,event,amount\\n2025-12-24,about 90,garden added,5 mL\\n"
note = "n"
[queen]
state = "laying"
[arrival]
garden = "30 mL"
garden_error = "20 %"
workers = "about 60"
brood = "30 to 50"
[housing]
chamber = "1.8 L"
opening = "95 mm"
lid = "140 mm"
headroom = "120 mm"
making_time = "9 day"
chamber_time = "21 day"
[[bell]]
from = 2025-11-03
name = "first"
usable = "60 mL"
diameter = "60 mm"
height = "45 mm"
[[bell]]
from = 2026-02-01
kind = "chamber"
[[visit]]
date = 2025-11-10
garden = "32 mL"
garden_error = "10 %"
fill = "40 %"
workers = 80
seen = ["eggs", "larvae"]
not_seen = ["pupae"]
leaves = "3 g"
plant = "bramble"
leaves_taken = "2 g"
waste = "1.2 g"
note = "n"
[[event]]
date = 2025-12-01
what = "garden lost"
amount = "30 %"
note = "n"
"""
DOC = tomllib.loads(WHOLE)


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = [path] if path else []
    for step, below in inner:
        found += _places(below, (*path, step))
    return found


TEXTS = st.sampled_from(
    [
        *[
            "",
            "about 60",
            "~3",
            "50 to 80",
            "0",
            "about 0",
            "1 to 1",
            "99999999999999999",
            "0 mL",
            "1 L",
            "0 %",
            "100 %",
        ],
        *[
            "3 g",
            "0 g",
            "40 cm2",
            "9 day",
            "1e308 mL",
            "nan mL",
            "eggs",
            "queen lost",
            "bell",
            "leaves given",
            "chamber",
        ],
        *["2025-11-03", "0001-01-01", "9999-12-31", "\0", "a\nb", "date\n2025-11-10\n", "none", "free"],
    ]
)
SPOILT = st.one_of(
    TEXTS,
    st.text(max_size=20),
    st.integers(),
    st.sampled_from([10**400, 10**5000, -1, 0, True]),
    st.floats(),
    st.dates(),
    st.datetimes(),
    st.lists(st.one_of(TEXTS, st.dictionaries(st.text(max_size=5), TEXTS, max_size=2)), max_size=3),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=3),
)


def _sound(doc: dict[str, Any]) -> bool:
    """Whether it is read to a colony, whose every number can then be used; False for an InputError."""
    try:
        found = colony_from_dict(doc)
    except InputError:
        return False
    for seen in found.observations:
        assert 0 <= seen.day <= found.days
        assert math.isfinite(seen.value)
        assert seen.value >= 0
        assert seen.kind in ("eggs", "larvae", "pupae") or 0 < seen.error < 20
        assert seen.since < seen.day or seen.kind not in ("waste", "leaves_taken")
    for event in found.events:
        assert 0 <= event.day <= found.days
        assert math.isfinite(event.value)
    assert [h.day for h in found.housing] == sorted({h.day for h in found.housing})
    return True


def test_the_whole_file_is_sound() -> None:
    assert _sound(DOC)


@settings(max_examples=400, deadline=None)
@given(st.sampled_from(_places(DOC)), SPOILT)
def test_one_spoilt_value_gives_an_input_error_or_a_usable_record(path: tuple[Any, ...], value: Any) -> None:
    doc = copy.deepcopy(DOC)
    spot: Any = doc
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    _sound(doc)


KEYS = sorted({k for form in (ColonyForm, *TABLES.values()) for k in form.model_fields} | {"from"})
TABLE = st.dictionaries(st.one_of(st.sampled_from(KEYS), st.text(max_size=4)), SPOILT, max_size=6)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.sampled_from(KEYS), st.one_of(SPOILT, TABLE, st.lists(TABLE, max_size=3)), max_size=8))
def test_random_tables_give_nothing_but_input_errors(tables: dict[str, Any]) -> None:
    _sound(tables)
    _sound(DOC | tables)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.sampled_from(sorted(COLUMNS)), min_size=1, max_size=6),
    st.lists(st.lists(st.one_of(TEXTS, st.text(max_size=8)), max_size=6), max_size=4),
    st.sampled_from(",;\t"),
)
def test_random_rows_give_nothing_but_input_errors(head: list[str], rows: list[list[str]], separator: str) -> None:
    text = "\n".join(separator.join(cells) for cells in [["date", *head], *rows]) + "\n"
    _sound(DOC | {"visits": text})


COUNTS = st.integers(min_value=1, max_value=MOST)


@given(st.integers(min_value=0, max_value=MOST))
def test_exact_counts_read_back(number: int) -> None:
    assert parse_count(number) == parse_count(str(number)) == Count(float(number), number, number, "exact")
    assert parse_count(format_count(parse_count(number))) == parse_count(number)


@given(COUNTS, st.sampled_from(["about {}", "about{}", "~{}", "~ {}", " about  {} "]))
def test_guesses_read_back(number: int, spelling: str) -> None:
    found = parse_count(spelling.format(number))
    assert found == Count(float(number), number, number, "guess")
    assert parse_count(format_count(found)) == found


@given(COUNTS, COUNTS, st.sampled_from(["{} to {}", "{}-{}", "{} – {}"]))
def test_bands_read_back(a: int, b: int, spelling: str) -> None:
    low, high = sorted((a, b))
    if low == high:
        with pytest.raises(UnitProblem):
            parse_count(spelling.format(low, high))
        return
    found = parse_count(spelling.format(low, high))
    assert (found.low, found.high, found.how) == (low, high, "band")
    assert low * (1 - 1e-12) <= found.value <= high * (1 + 1e-12)
    assert parse_count(format_count(found)) == found


@given(st.dates())
def test_days_read_back(day: date) -> None:
    assert parse_day(day) == parse_day(day.isoformat()) == day


@given(st.integers(min_value=0, max_value=3000))
def test_days_count_from_the_start(days: int) -> None:
    doc = tomllib.loads(HEAD)
    found = colony_from_dict(doc | {"visit": [{"date": doc["start"] + timedelta(days=days), "workers": 3}]})
    assert (found.days, found.observations[0].day) == (days, days)


@given(st.floats(min_value=0.01, max_value=1e5))
def test_volumes_read_back(volume: float) -> None:
    text = f"{volume:.6f} mL"
    assert parse_garden(text) == pytest.approx(float(text.split()[0]), rel=1e-9)
    amount = parse_amount(text)
    assert (amount.unit, amount.value) == ("mL", pytest.approx(parse_garden(text)))
