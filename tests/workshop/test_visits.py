"""Visits told, stored and read back; what cannot be meant is refused by its option."""

from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshops import do, record

from nestwright.cli.record import option_place
from nestwright.cli.visit import HEALTH_HELP
from nestwright.colony.form import EVENTS
from nestwright.colony.occurrences import MEASURES
from nestwright.errors import InputError
from nestwright.workshop import colonies, visits
from nestwright.workshop.database import reading
from nestwright.workshop.entries import Told, entry_of
from nestwright.workshop.visits import HEALTH, STAGES, Count, EventEntry, Feeding, VisitEntry, read_visits

SPECIES = {"species": "Acromyrmex echinatior", "start": "2024-03-01", "chamber_ml": 900.0}


@pytest.fixture(scope="module")
def two(tmp_path_factory):
    """A workshop with two colonies."""
    from workshops import fresh

    shop = fresh(tmp_path_factory.mktemp("two") / "shop")
    for name in ("Moss", "Fern"):
        do(shop, name, lambda done, name=name: colonies.add_colony(done, {"name": name, **SPECIES}))
    return shop


amounts = st.floats(0.01, 500.0).map(lambda x: float(f"{x:.6g}"))
texts = st.text(st.characters(exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"]), max_size=20).map(str.strip)
plants = st.text("abcdefghij klmnop-'éß", max_size=20).map(str.strip).filter(lambda t: not t.startswith("of "))
counted = st.one_of(
    st.integers(0, 20_000_000).map(lambda n: (str(n), ("exact", float(n), float(n)))),
    st.integers(1, 20_000_000).map(lambda n: (f"about {n}", ("guess", float(n), float(n)))),
    st.tuples(st.integers(1, 1000), st.integers(1, 1000)).map(
        lambda p: (f"{p[0]} to {p[0] + p[1]}", ("band", float(p[0]), float(p[0] + p[1])))
    ),
)
feedings = st.tuples(amounts, st.sampled_from(["g", "cm2"]), plants).map(
    lambda f: (f"{f[0]!r} {f[1]}{' ' + f[2] if f[2] else ''}", Feeding(*f))
)
EXAMPLE = {"mL": "20.5 mL", "share": "30 %", "count": "25", "g": "3 g", "cm2": "40 cm2", "": ""}


@st.composite
def happenings(draw):
    what = draw(st.sampled_from(EVENTS))
    amount = EXAMPLE[draw(st.sampled_from(sorted(MEASURES[what])))]
    other = draw(st.sampled_from(["", "Moss"])) if what in ("garden added", "garden taken", "eggs added") else ""
    plant = draw(plants) if what == "leaves given" else ""
    rest = f"{'to' if what == 'garden taken' else 'from'} {other}" if other else plant
    told = " ".join(x for x in (what, amount, rest) if x)
    return told, EventEntry(what, amount, plant, other)


@st.composite
def tellings(draw):
    """A visit as it is told, and the entry that it means."""
    day = draw(st.dates(date(2024, 3, 1), date(2025, 3, 1)))
    maybe = lambda s: draw(st.one_of(st.none(), s))  # noqa: E731
    garden, fill = maybe(amounts), None
    if garden is None:
        fill = maybe(st.integers(1, 100))
    error = maybe(st.integers(1, 100)) if garden is not None or fill is not None else None
    taken, waste = maybe(st.tuples(amounts, st.sampled_from(["g", "cm2"]))), maybe(amounts)
    counts = draw(st.dictionaries(st.sampled_from(visits.COUNTED), counted, max_size=6))
    looked = draw(st.lists(st.sampled_from(STAGES), unique=True))
    split = draw(st.integers(0, len(looked)))
    given = draw(st.lists(feedings, max_size=3))
    health = draw(st.lists(st.sampled_from(sorted(HEALTH)), unique=True))
    events = draw(st.lists(happenings(), max_size=3))
    note = draw(texts)
    told = Told(
        date=day.isoformat(),
        garden=None if garden is None else f"{garden!r} mL",
        fill=None if fill is None else f"{fill} %",
        garden_error=None if error is None else f"{error} %",
        counts={k: v[0] for k, v in counts.items()},
        seen=looked[:split],
        not_seen=looked[split:],
        feedings=[f[0] for f in given],
        leaves_taken=None if taken is None else f"{taken[0]!r} {taken[1]}",
        waste=None if waste is None else f"{waste!r} g",
        health=health,
        events=[e[0] for e in events],
        note=note,
        at=maybe(st.integers(0, 2**42)),
    )
    meant = VisitEntry(
        day=day,
        garden_ml=garden,
        fill_pct=fill,
        garden_error_pct=error,
        counts=tuple(Count(k, *v[1]) for k, v in counts.items()),
        seen=tuple(looked[:split]),
        not_seen=tuple(looked[split:]),
        feedings=tuple(f[1] for f in given),
        leaves_taken=None if taken is None else taken[0],
        leaves_taken_unit=None if taken is None else taken[1],
        waste_g=waste,
        health=tuple(w for w in HEALTH if w in health),
        events=tuple(e[1] for e in events),
        note=note,
        at=told.at,
    )
    return told, meant


def close(a, b):
    """Equal, but numbers to the last few digits: units are turned to SI and back on the way."""
    if isinstance(a, float | int) and isinstance(b, float | int) and not isinstance(a, bool):
        return a == pytest.approx(b, rel=1e-12)
    if isinstance(a, tuple | list):
        return len(a) == len(b) and all(close(x, y) for x, y in zip(a, b, strict=True))
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(close(a[k], b[k]) for k in a)
    return a == b


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(tellings())
def test_what_is_told_is_stored_and_read_back(two, telling):
    told, meant = telling
    entry = entry_of(told, option_place())
    a, b = entry.to_dict() | {"uid": ""}, meant.to_dict() | {"uid": ""}
    assert close(a, b), (a, b)
    row = do(two, "visit", lambda done: visits.add_visit(done, 2, entry))
    with reading(two.engine) as connection:
        assert dict(read_visits(connection, 2))[row] == entry
        before = len(read_visits(connection, 2))
    do(two, "again", lambda done: visits.add_visit(done, 2, entry))  # sent twice, it is there once
    with reading(two.engine) as connection:
        assert len(read_visits(connection, 2)) == before


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(tellings(), tellings())
def test_told_anew_it_is_as_if_told_so_at_once(first, second):
    import tempfile
    from pathlib import Path

    from workshops import fresh

    a, b = (entry_of(told, option_place()) for told, _ in (first, second))
    b = VisitEntry(**{**b.__dict__, "uid": a.uid})
    with tempfile.TemporaryDirectory() as place:
        made = []
        for name in ("x", "y"):
            shop = fresh(Path(place) / name)
            for one in ("Moss", "Fern"):
                do(shop, one, lambda done, one=one: colonies.add_colony(done, {"name": one, **SPECIES}))
            made.append(shop)
        row = do(made[0], "first", lambda done: visits.add_visit(done, 2, a))
        do(made[0], "second", lambda done: visits.replace_visit(done, row, b))
        do(made[1], "second", lambda done: visits.add_visit(done, 2, b))

        def plain(shop):
            """Without row numbers and the moment of writing."""
            held = {k: v for k, v in record(shop).items() if k in ("visit", "count", "brood", "feeding", "event")}
            return {
                k: sorted(repr(r[1:4] + r[5:] if k != "visit" else r[1:5] + r[6:]) for r in v) for k, v in held.items()
            }

        assert plain(made[0]) == plain(made[1])


WRONG = [
    ({"garden": "44"}, "--garden"),
    ({"garden": "44 g"}, "--garden"),
    ({"garden": "-1 mL"}, "--garden"),
    ({"garden": "nan mL"}, "--garden"),
    ({"garden": "1e999 mL"}, "--garden"),
    ({"garden": "44 mL", "fill": "30 %"}, "--fill"),
    ({"fill": "130 %"}, "--fill"),
    ({"fill": "-0.1 %"}, "--fill"),
    ({"garden": "44 mL", "garden_error": "0 %"}, "--garden-error"),
    ({"counts": {"workers": "sixty"}}, "--workers"),
    ({"counts": {"workers": "-3"}}, "--workers"),
    ({"counts": {"pupae": ""}}, "--count"),
    ({"counts": {"pupea": "3"}}, "did you mean 'pupae'"),
    ({"counts": {"pupae": "80 to 50"}}, "--count"),
    ({"seen": ["egs"]}, "did you mean 'eggs'"),
    ({"seen": ["eggs"], "not_seen": ["eggs"]}, "--not-seen"),
    ({"feedings": ["bramble"]}, "--leaves"),
    ({"feedings": ["3 mL bramble"]}, "--leaves"),
    ({"feedings": ["-3 g bramble"]}, "--leaves"),
    ({"feedings": ["3 g bram\u202eble"]}, "U+202E"),
    ({"feedings": ["3 g " + "b" * 300]}, "--leaves"),
    ({"leaves_taken": "3 mL"}, "--leaves-taken"),
    ({"waste": "-1 g"}, "--waste"),
    ({"waste": "nan g"}, "--waste"),
    ({"health": ["whit"]}, "did you mean 'white'"),
    ({"events": ["queen died"]}, "did you mean 'queen lost'"),
    ({"events": ["garden added"]}, "--event"),
    ({"events": ["garden added 20 g"]}, "--event"),
    ({"events": ["garden added -20 mL"]}, "--event"),
    ({"events": ["garden added 1e999 mL"]}, "--event"),
    ({"events": ["workers added 3.5"]}, "--event"),
    ({"events": ["bell"]}, "--event"),
    ({"events": ["bellows 3 mL"]}, "--event"),
    ({"events": [""]}, "--event"),
    ({"note": "a\x1b[2Jb"}, "--note"),
    ({"note": "x" * 3000}, "--note"),
    ({"date": "yesterday"}, "--date"),
    ({"date": "2024-02-30"}, "--date"),
]


@pytest.mark.parametrize(("told", "names"), WRONG, ids=[repr(w[0])[:50] for w in WRONG])
def test_what_cannot_be_meant_is_refused_by_its_option(two, told, names):
    with pytest.raises(InputError) as caught:
        entry_of(Told(**{"date": "2024-03-05", **told}), option_place())
    assert names in str(caught.value)
    assert len(str(caught.value)) < 800


def test_what_the_whole_record_cannot_mean_is_named_by_its_day(two):
    entry = VisitEntry(date(2024, 2, 1), garden_ml=3.0, events=(EventEntry("garden lost"),))

    def judged(done):
        visits.add_visit(done, 1, entry)
        colonies.model_colony(done.connection, colonies.find_colony(done.connection, "Moss"))

    before = record(two)
    with pytest.raises(InputError) as caught:
        do(two, "visit", judged)
    assert record(two) == before
    assert "record of Moss: visit of 2024-02-01, date: lies before the start of the record" in str(caught.value)
    assert "record of Moss: event 'garden lost' of 2024-02-01, date: lies before" in str(caught.value)
    assert "[" not in str(caught.value)


def test_the_words_for_a_garden_are_in_the_help():
    for word in HEALTH:
        assert f"{word} (" in HEALTH_HELP


@pytest.mark.parametrize(
    ("told", "entry"),
    [
        ("workers lost about 20 by me", EventEntry("workers lost", "about 20", note="by me")),
        ("workers added 50 to 80", EventEntry("workers added", "50 to 80")),
        ("garden lost", EventEntry("garden lost")),
        ("garden lost 30% from the middle", EventEntry("garden lost", "30 %", note="from the middle")),
        ("garden added 20ml from Moss", EventEntry("garden added", "20 ml", other="Moss")),
        ("garden taken 0.5 L to Moss", EventEntry("garden taken", "0.5 L", other="Moss")),
        ("eggs added 20 from Moss", EventEntry("eggs added", "20", other="Moss")),
        ("leaves given 3 g of bramble", EventEntry("leaves given", "3 g", "bramble")),
        ("queen lost she lay dead", EventEntry("queen lost", note="she lay dead")),
        ("bell 300 mL", EventEntry("bell", "300 mL")),
    ],
)
def test_an_event_in_one_line(told, entry):
    assert entry_of(Told("2024-03-05", events=[told]), option_place()).events == (entry,)


def test_a_donation_stands_in_both_histories(shop):
    for name in ("Moss", "Fern"):
        do(shop, name, lambda done, name=name: colonies.add_colony(done, {"name": name, **SPECIES}))
    gave = (EventEntry("garden taken", "20 mL", other="Moss"), EventEntry("pupae added", "5", other="Moss"))
    do(shop, "visit", lambda done: visits.add_visit(done, 2, VisitEntry(date(2024, 3, 5), events=gave)))
    with reading(shop.engine) as connection:
        assert visits.donations(connection, 2) == [
            ("2024-03-05", "garden taken", "20 mL", "Moss"),
            ("2024-03-05", "pupae added", "5", "Moss"),
        ]
        assert visits.donations(connection, 1) == [
            ("2024-03-05", "garden added", "20 mL", "Fern"),
            ("2024-03-05", "pupae given", "5", "Fern"),
        ]
        moss = colonies.model_colony(connection, colonies.find_colony(connection, "moss"))
    assert [(e.kind, e.value) for e in moss.events if e.kind == "garden_added"] == [
        ("garden_added", pytest.approx(20.0))
    ]
    for other, says in (("Mos", "did you mean 'Moss'"), ("Fern", "to itself")):
        entry = VisitEntry(date(2024, 3, 6), events=(EventEntry("garden taken", "1 mL", other=other),))
        before = record(shop)
        with pytest.raises(InputError, match=says):
            do(shop, "visit", lambda done, entry=entry: visits.add_visit(done, 2, entry))
        assert record(shop) == before
