"""A refusal on a German page is German, whichever layer it comes from."""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest
from babel.messages.pofile import read_po
from starlette.testclient import TestClient

from nestwright.web.app import create_app
from nestwright.web.refused import CATALOGUE
from nestwright.web.words import FOLDER
from nestwright.workshop.builds import add_build
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import add_colony
from nestwright.workshop.database import writing
from nestwright.workshop.folder import create_workshop

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples" / "workshop"
ENGLISH = re.compile(
    r"\b(the|and|with|of|is|are|from|by|not|no|for|which|that|it|as|on|than|its|has|have|each|into|until|since|"
    r"after|before|day|days|left|too|one|or|must|cannot|there|missing|found|allowed)\b"
)
"""Words that no German refusal has, outside of what is typed as it stands."""
TYPED = re.compile(r"'[^']*'|\"[^\"]*\"|`[^`]*`|„[^“]*“|\[\[?\w*\]\]?|20 mL from Thistle")
NEW = {"name": "Sorrel", "species": "Acromyrmex octospinosus", "queen": "laying"}
FORMS: list[tuple[str, dict[str, str]]] = [
    ("/colonies/-new", NEW | change)
    for change in (
        {"name": ""}, {"name": "a" * 300}, {"name": "no\u200bne"}, {"name": "Marigold"}, {"name": "x.toml"},
        {"species": "Acromyrmex octospinosa"}, {"queen": "perhaps"}, {"garden": "five"}, {"garden": "-3 mL"},
        {"garden": "6 kg"}, {"workers": "some"}, {"workers": "1e9"}, {"brood": "3 to 1"}, {"chamber": "2.4"},
        {"chamber": "0 mL"}, {"start": "2999-01-01"}, {"start": "yesterday"},
    )
] + [
    ("/visit/Marigold", change)
    for change in (
        {"fill": "250"}, {"fill": "full"}, {"garden": "5 mm"}, {"workers": "about 0"}, {"error": "300"},
        {"taken": "-1"}, {"waste": "much"}, {"day": "2999-01-01"}, {"day": "2020-13-01"}, {"health": "blue"},
        {"event": "flood"}, {"event": "garden added", "amount": "lots"}, {"event": "workers lost", "amount": "2 mL"},
        {"error": "5"}, {"fill": "50"},
    )
] + [
    ("/builds", {"serial": "", "habitat": "habitats/single-pot.toml"}), ("/builds", {"serial": "P-1"}),
    ("/builds", {"serial": "P-1", "habitat": "habitats/single-pot.toml"}),
    ("/builds", {"serial": "P-9", "habitat": "habitats/none.toml"}),
    ("/builds/P-1/measure", {"what": "", "value": "3 mm"}),
    ("/builds/P-1/measure", {"what": "vent.crown.diametr", "value": "3 mm"}),
    ("/builds/P-1/filled", {"amount": "7 mm"}), ("/builds/P-1/lasts", {"days": "long"}),
    ("/builds/P-1/check", {"what": "", "outcome": "passed"}), ("/builds/P-7/lasts", {"days": "9"}),
    ("/colonies/Marigold/bell", {"usable": "-1 mL"}), ("/colonies/Marigold/bell", {"usable": "", "day": "2026-02-30"}),
    ("/colonies/Marigold/bell", {"usable": "300 mL", "diameter": "9 mL"}),
    ("/colonies/Marigold/move", {"build": "P-8"}), ("/colonies/Marigold/event", {"event": "flood"}),
    ("/colonies/Marigold/end", {"day": "2999-01-01"}),
    ("/sales/buyers", {"name": ""}), ("/sales/sold", {"build": "P-1", "buyer": "Nobody"}),
    ("/sales/sold", {"build": "P-1", "buyer": "Nobody", "price": "120 EURO"}),
    ("/sales/returned", {"build": "P-1", "reason": ""}), ("/sales/erase", {"buyer": "Nobody", "name": "x"}),
    ("/sales/feedback", {"build": "P-6", "words": ""}),
    ("/parcels", {"colony": "Marigold", "sent": "2999-01-01T10:00"}), ("/parcels", {"colony": "Marigolt"}),
    ("/parcels", {"colony": "Marigold", "sent": "2026-03-01T10:00", "promised": "soon"}),
    ("/parcels/files", {"name": "../x"}), ("/climate/single-pot", {"room": "cellar"}),
    ("/climate/single-pot", {"room": "21 mm, 45 %"}), ("/climate/single-pot", {"room": "400 degC, 45 %"}),
    ("/habitats/single-pot/size", {"free": "vent.crown.cnt=4..40"}), ("/habitats/single-pot/size", {"window": "warm"}),
    ("/history/999/undo", {}), ("/pair", {"code": "000000", "name": ""}), ("/settings", {"language": "xx"}),
]  # fmt: skip
DESIGN = (EXAMPLES / "habitats" / "single-pot.toml").read_text("utf-8")
DESIGNS = (
    ("name =", "nam ="), ("[[chamber]]", "[chamber]"), (" mm\"", " kg\""), (" mm\"", "\""), ("\"garden\"", "\"gardn\""),
    ("aperture = ", "apertur = "), ("species =", "species = 3 #"), ("[[vent]]", "[[vnt]]"), ("acrylic", "acryl"),
    ("[[chamber]]", "[[chamber]"), (" mm", " mmm"), ("0", "9"), ("name = \"pot\"", "name = \"room\""),
)  # fmt: skip
SCRIPT = {"accept": "application/json"}
ASKED = (
    "/series?channel=none.humidity", "/search?qq=1", "/history?page=2", "/climate/single-pot?room=cellar",
    "/compare?a=single-pot&b=none", "/sensors/none", "/builds/P-77", "/visit/Nobody", "/colonies/Nobody",
    "/habitats/none", "/api/search?q=", "/builds/P-1/papers/none", "/series?channel=x", "/parcels/77",
)  # fmt: skip


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    workshop = create_workshop(tmp_path_factory.mktemp("german") / "w", "UTC")
    shutil.copy(EXAMPLES / "habitats" / "single-pot.toml", workshop.folder / "habitats")
    with writing(workshop.engine) as connection:
        done = act(connection, "first")
        add_build(done, {"serial": "P-1", "habitat": "habitats/single-pot.toml", "revision": "3", "made": "2026-01-02"})
        add_colony(done, {"name": "Marigold", "species": "Acromyrmex octospinosus", "start": "2026-01-01"})
    own = {"origin": "http://127.0.0.1", "accept": "text/html", "accept-language": "de"}
    app: Any = create_app(workshop)
    return TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1), headers=own, follow_redirects=False)


def english(answer: Any) -> list[str]:
    """What an answer says in English of what it refuses."""
    if answer.headers.get("content-type", "").startswith("application/json"):
        told = [one["text"] for one in answer.json().get("faults", [])]
    else:
        blocks = re.findall(r'<div class="faults".*?</div>', answer.text, re.S)
        told = re.findall(r"<(?:li|p)[ >].*?</(?:li|p)>", " ".join(blocks), re.S)
        told += re.findall(r'<p class="hint" id="h-\w+">.*?</p>', answer.text, re.S) if blocks else []
    found = []
    for one in told:
        text = re.sub(r"<[^>]*>", "", one).replace("&#39;", "'").replace("&#34;", '"')
        if 'lang="en"' in one or ENGLISH.search(TYPED.sub("", text)):
            found.append(" ".join(text.split()))
    return found


def test_every_refusal_of_a_form_is_german(bench: TestClient) -> None:
    wrong, refusals = [], 0
    for address, values in FORMS:
        answer = bench.post(address, data=values)
        refusals += answer.status_code == 422
        wrong += [f"{address} {values}: {one}" for one in english(answer)]
    for address in ASKED:
        wrong += [f"{address}: {one}" for one in english(bench.get(address))]
    assert not wrong, "\n".join(wrong)
    assert refusals > 50


def test_every_refusal_of_a_design_is_german(bench: TestClient) -> None:
    wrong, refusals = [], 0
    for old, new in DESIGNS:
        text = DESIGN.replace(old, new)
        assert text != DESIGN, old
        answer = bench.post("/habitats/single-pot", data={"text": text, "base": "0"})
        live = bench.post(
            "/api/habitats/live", json={"text": text, "values": {}}, headers={"accept": "application/json"}
        )
        refusals += live.status_code == 422
        wrong += [f"{old} -> {new}: {one}" for one in (*english(answer), *english(live))]
    assert not wrong, "\n".join(wrong)
    assert refusals > 8


def test_every_text_that_a_layer_refuses_with_is_in_the_catalogue_of_each_language() -> None:
    sys.path.insert(0, str(ROOT / "docs"))
    try:
        import make_fault_words
    finally:
        sys.path.remove(str(ROOT / "docs"))
    texts = make_fault_words.marked()
    for file in FOLDER.glob(f"*/{CATALOGUE}"):
        with file.open("rb") as stream:
            known = read_po(stream, locale=file.parent.name)
        there = {(one.id, one.context) for one in known if one.id and one.string and not one.fuzzy}
        wanting = {(one.id, one.context) for one in texts if one.id} - there
        assert not wanting, f"run `python docs/make_fault_words.py`, and say in {file.parent.name}: {wanting}"
        places = [one.id for one in known if one.id.count("{}") != len(re.findall(r"\{\d?\}", str(one.string)))]
        assert not places
