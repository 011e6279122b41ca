"""What a search finds: what was given, whatever its accents and capitals, and where it leads."""

from __future__ import annotations

from datetime import date

import pytest
from starlette.testclient import TestClient

from nestwright.web.app import create_app
from nestwright.web.pages.search import plain
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import add_colony
from nestwright.workshop.database import writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.parcels import add_parcel
from nestwright.workshop.visits import EventEntry, Feeding, VisitEntry, add_visit


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    workshop = create_workshop(tmp_path_factory.mktemp("search") / "w", "UTC")
    row = {"name": "Ümit", "species": "Atta sexdens", "start": "2026-01-01", "queen": "laying", "leaves": "free"}
    with writing(workshop.engine) as connection:
        done = act(connection, "test")
        colony = add_colony(done, row)
        given = (Feeding(3.0, "g", "bramble"), Feeding(2.0, "g", "Weißdorn"))
        add_visit(done, colony, VisitEntry(date(2026, 3, 1), feedings=given, note="50 % of the rim is grey"))
        add_visit(done, colony, VisitEntry(date(2026, 3, 9), events=(EventEntry("waste removed", note="a spoonful"),)))
        add_parcel(done, colony, {"direction": "in", "sent": "2026-02-27", "route": "Bath to York, night post"})
    return TestClient(create_app(workshop))


@pytest.mark.parametrize(
    ("words", "kind", "place"),
    [
        ("umit", "colony", "/colonies/%C3%9Cmit"),
        ("uemit", "colony", "/colonies/%C3%9Cmit"),
        ("ÜMIT sexdens", "colony", "/colonies/%C3%9Cmit"),
        ("bramble", "visit", "#d2026-03-01"),
        ("weissdorn", "visit", "#d2026-03-01"),
        ("50 % grey", "visit", "#d2026-03-01"),
        ("spoonful", "event", "#d2026-03-09"),
        ("york ümit", "parcel", "/parcels/1"),
        ("histor", "page", "/history"),
    ],
)
def test_any_word_of_the_record_finds_its_place(pages: TestClient, words: str, kind: str, place: str) -> None:
    found = pages.get("/search", params={"q": words}).text.partition('id="found"')[2]
    assert f'<span class="tag">{kind}</span>' in found
    assert place in found


@pytest.mark.parametrize("words", ["brambles", "umit bramble spoonful", "50 %%", "_", "\u0301", "rose"])
def test_what_stands_nowhere_is_not_found(pages: TestClient, words: str) -> None:
    found = pages.get("/search", params={"q": words}).text.partition('id="found"')[2]
    assert "#d2026" not in found


def test_a_page_is_found_by_its_name_in_the_readers_language(pages: TestClient) -> None:
    german = {"cookie": "nw-shown=de.degC.metric.auto"}
    assert (
        'href="/habitats"'
        in pages.get("/search", params={"q": "anlag"}, headers=german).text.partition('id="found"')[2]
    )


@pytest.mark.parametrize(
    ("text", "becomes"),
    [("Ümit", "umit"), ("STRASSE", "strasse"), ("Straße", "strasse"), ("\ufb01g", "fig"), ("Çağrı", "cagri"),
     ("Ørsted", "orsted"), ("e\u0301", "e")],
)  # fmt: skip
def test_accents_and_capitals_do_not_count(text: str, becomes: str) -> None:
    assert plain(text) == becomes
