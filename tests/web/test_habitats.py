"""The designer in a real browser: fields and text both ways, the climate at once, another person's work not lost."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest

from forked import done
from nestwright.climate.proof import prove
from nestwright.climate.rooms import read_room
from nestwright.document import load_document
from nestwright.errors import FileError, InputError
from nestwright.habitat.file import MOST_ERRORS, read_habitat, with_values
from nestwright.web.habitat_files import air_of
from nestwright.web.habitat_text import groups_of, put, slides_of
from nestwright.web.live_design import Opener, Overtook, Turns

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop" / "habitats"
POT = "/habitats/single-pot"


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_a_value_is_put_where_it_stands_and_nothing_else_moves(file: Path) -> None:
    text = file.read_text()
    document = load_document(text)
    count = 0
    for group in groups_of(document):
        for entry in group.entries:
            assert put(text, document, entry.path, entry.text).replace("'", '"') == text.replace("'", '"')
            changed = put(text, document, entry.path, "7")
            rows = [(a, b) for a, b in zip(text.split("\n"), changed.split("\n"), strict=True) if a != b]
            assert len(rows) == 1
            assert rows[0][0].partition("#")[2] == rows[0][1].partition("#")[2], "its comment stays"
            count += 1
    assert count > 20
    assert slides_of(document)


@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_a_value_put_in_by_hand_reads_as_the_whole_text_does(file: Path) -> None:
    opener = Opener()
    text = file.read_text()
    for group in groups_of(load_document(text)):
        for entry in group.entries:
            for value in (entry.text, "7", "7 mm", "0x10", "crown"):
                try:
                    made = opener.changed(text, {entry.key: value})
                except InputError:
                    continue
                whole = load_document(made.text)
                assert made.document == whole
                assert made.places == {e.key: e.path for g in groups_of(whole) for e in g.entries}
                # and again from what is kept
                assert opener.changed(made.text, {}).document == whole


def test_a_long_answer_is_given_up_when_a_newer_change_of_its_page_comes() -> None:
    turns = Turns()
    turns.take("a")
    first, other = turns.watch("a"), turns.watch("b")
    first()
    turns.take("a")
    with pytest.raises(Overtook):
        first()
    other()
    turns.watch("a")()
    habitat, room = read_habitat(EXAMPLES / "single-pot.toml"), read_room("21 degC, 45 %")
    with pytest.raises(Overtook):
        prove(habitat, room, going=first)
    prove(habitat, room, uncertainty=False, going=first)


def test_a_slide_moves_the_text_the_section_and_the_climate(
    bench: Any, served: str, workshop: Path, until: Any
) -> None:
    overtaken = []

    def once(route: Any) -> None:
        """The first change with intervals is answered as one that a change sent before it overtook on the way."""
        if '"light":false' in route.request.post_data and not overtaken:
            overtaken.append(route)
            route.fulfill(status=204)
        else:
            route.continue_()

    bench.route("**/api/habitats/live", once)
    bench.goto(f"{served}{POT}?room=23.5%20degC,%2060%20%25")
    bench.wait_for_selector("#live table")
    bench.wait_for_selector("#section svg")
    bench.wait_for_selector("#legend li")  # the window is painted
    assert overtaken
    bench.unroute("**/api/habitats/live")
    # at a bench slides, figures and drawing stand beside each other, none over another
    slides, live, drawn = (bench.locator(one).bounding_box() for one in (".slides", "#live", "#section"))
    assert slides["x"] + slides["width"] <= live["x"]
    assert live["x"] + live["width"] <= drawn["x"]
    assert live["y"] == pytest.approx(drawn["y"], abs=2)
    units = [one.bounding_box() for one in bench.locator(".slides .unit").all()]
    assert all(one["x"] + one["width"] <= live["x"] for one in units)
    before = bench.inner_text("#live")
    bench.fill('[data-number="vent.crown.diameter"]', "9")
    until(lambda: 'diameter = "9 mm"' in bench.input_value("#text"))
    assert 'wire = "0.16 mm"' in bench.input_value("#text")
    until(lambda: bench.inner_text("#live") != before)
    file = workshop / "habitats" / "single-pot.toml"
    bench.click("#design .actions button")
    until(lambda: 'diameter = "9 mm"' in file.read_text())
    # the same figures as the command's
    command = ["climate", "habitats/single-pot.toml", "--room", "23.5 degC, 60 %", "--json"]
    told = done(*command, cwd=workshop, check=True).stdout
    humid = next(zone for zone in json.loads(told)["chambers"] if zone["name"] == "pot/bell")
    bench.wait_for_selector("#live >> text=interval")
    row = bench.locator("#live tr", has_text="pot/bell").first.inner_text()
    assert f"{humid['relative_humidity_pct']:.1f}" in row
    # the room stands in the address, also after saving, and goes with it when it is moved
    assert "room=23.5" in bench.url
    bench.press("#room-t", "ArrowRight")
    until(lambda: "room=23.6" in bench.evaluate("location.href"))
    assert bench.input_value("#room-b") == "23.6 degC, 60 %"
    bench.reload()
    assert "23.6" in bench.inner_text(".room")
    assert bench.input_value("#room-h") == "60"


def test_what_got_no_answer_is_asked_again(bench: Any, pages: str) -> None:
    lost = []

    def once(route: Any) -> None:
        """Of figures, window and drawing the first answer is lost on the way."""
        if route.request.url in lost:
            route.continue_()
        else:
            lost.append(route.request.url)
            route.abort()

    bench.route("**/api/habitats/*", once)
    bench.goto(pages + POT)
    bench.wait_for_selector("text=The bench does not answer")
    bench.wait_for_selector("#section svg")
    bench.wait_for_selector("#legend li")
    bench.wait_for_selector("#live >> text=interval")
    assert len(lost) == 3
    assert not bench.is_visible("#faults")


def test_a_fault_is_told_at_its_line_and_at_its_field(bench: Any, served: str) -> None:
    bench.goto(served + POT)
    bench.wait_for_selector("#live table")
    text = bench.input_value("#text")
    bench.fill("#text", text.replace('diameter = "5 mm"', 'diameter = "5 mn"'))
    bench.wait_for_selector("#faults:not([hidden])")
    line = text.split("\n").index('diameter = "5 mm"') + 1
    assert bench.inner_text("#faults button") == str(line)
    assert "'5 mn'" in bench.inner_text("#faults")
    # the figures of the sound design stand no longer as if they were of this one
    assert "of before" in bench.inner_text("#stale")
    bench.click("#design .actions button")
    bench.wait_for_selector("text=Saved with its fault")
    bench.wait_for_selector("#section img", state="detached")  # which has no drawing
    bench.wait_for_selector("#faults:not([hidden])")  # told anew by the page that was saved
    bench.fill("#text", text)
    bench.wait_for_selector("#faults", state="hidden")
    assert not bench.is_visible("#stale")
    bench.click("#design .actions button")
    bench.wait_for_selector("text=Saved.")


def test_two_people_at_one_habitat_lose_nothing(
    bench: Any, browser: Any, served: str, workshop: Path, until: Any
) -> None:
    file = workshop / "habitats" / "single-pot.toml"
    bench.goto(served + POT)
    other = browser.new_page()
    other.goto(served + POT)
    for page, size in ((bench, "6 mm"), (other, "7 mm")):
        page.wait_for_selector("#live table")
        page.fill("#text", page.input_value("#text").replace('diameter = "5 mm"', f'diameter = "{size}"'))
    bench.click("#design .actions button")
    until(lambda: 'diameter = "6 mm"' in file.read_text())
    other.click("#design .actions button")
    other.wait_for_selector("text=Another person saved this habitat")
    assert 'diameter = "6 mm"' in file.read_text(), "theirs stands until yours is saved on purpose"
    assert 'diameter = "7 mm"' in other.input_value("#text")
    other.click("#design .actions button")
    until(lambda: 'diameter = "7 mm"' in file.read_text())
    # on different lines both changes stand
    bench.goto(served + POT)
    other.goto(served + POT)
    for page, old, new in ((bench, "7 mm", "8 mm"), (other, "210 m", "330 m")):
        page.wait_for_selector("#live table")
        page.fill("#text", page.input_value("#text").replace(f'"{old}"', f'"{new}"'))
        page.click("#design .actions button")
    other.wait_for_selector("text=both stand in the text below")
    assert 'altitude = "210 m"' in file.read_text()
    other.click("#design .actions button")
    until(lambda: 'altitude = "330 m"' in file.read_text())
    assert 'diameter = "8 mm"' in file.read_text()
    other.close()


def test_no_path_leads_out_of_the_habitats(bench: Any, served: str, workshop: Path) -> None:
    headers = {"origin": served}
    for name in ("../evil", "a/b", ".hidden", "x" * 300):
        form = {"text": "name = 'x'", "base": "", "name": name}
        answer = bench.request.post(served + POT, form=form, headers=headers)
        assert answer.status == 422, name
    for room in ("/etc/passwd", "../rooms/attic.toml"):
        answer = bench.request.post(served + "/api/habitats/live", data={"text": "", "room": room}, headers=headers)
        assert answer.status == 422
    assert {path.name for path in workshop.iterdir()} >= {"workshop.db"}
    assert not list(workshop.glob("evil*"))


def test_sizes_are_searched_for_shown_with_their_margins_and_put_into_the_text(
    bench: Any, served: str, workshop: Path, until: Any
) -> None:
    file = workshop / "habitats" / "single-pot.toml"
    # far too many holes, so that the search has something to find
    holed = Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml"
    before = holed.read_text().replace("count = 6\n", "count = 400\n")
    file.write_text(before)
    bench.goto(served + POT)
    bench.wait_for_selector("#live table")
    # what is not saved yet goes with it
    bench.fill("#text", bench.input_value("#text") + "\n# tried by hand\n")
    bench.click("#sizing summary")
    bench.check('#sizing [name=free][value="vent.crown.count"]')
    row = bench.locator("#sizing tr", has=bench.locator('[value="vent.crown.count"]'))
    row.locator("[name=low]").fill("9")
    row.locator("[name=high]").fill("4")
    bench.click("#sizing button")
    bench.wait_for_selector(".faults >> text=lower bound is not below")
    assert bench.is_checked('#sizing [name=free][value="vent.crown.count"]')
    row.locator("[name=low]").fill("4")
    row.locator("[name=high]").fill("40")
    bench.select_option("#where", "here")
    row.locator("[name=high]").press("Enter")
    bench.wait_for_selector("text=Put these values into the text", timeout=180_000)
    # the same as the command finds
    free = ["--free", "vent.crown.count=4..40", "--room", "21.0 degC, 45 %", "--json"]
    told = json.loads(done("size", "habitats/single-pot.toml", *free, cwd=workshop, check=True).stdout)
    best = told["free"][0]["best"]
    assert 4 <= int(best) <= 40
    cells = bench.locator("main table").first.locator("tbody td").all_inner_texts()
    assert cells[:3] == ["vent crown count", "400", best]
    assert f"{told['worst_margin']:+.1f}" in bench.locator("main table").nth(1).inner_text().replace("−", "-")
    bench.click("text=Put these values into the text")
    bench.wait_for_selector("text=not saved yet")
    text = bench.input_value("#text")
    assert f"count = {best}" in text
    assert text.rstrip().endswith("# tried by hand")
    assert file.read_text() == before
    bench.click("#design > .actions button")
    until(lambda: f"count = {best}" in file.read_text())


def test_a_stopped_search_gives_its_best_so_far(bench: Any, served: str) -> None:
    bench.goto(served + "/habitats/three-pot")
    bench.wait_for_selector("#live table")
    bench.click("#sizing summary")
    for box in bench.locator("#sizing [name=free]").all()[:4]:
        box.check()
    # the first answer of how far it is is lost on the way
    bench.route("**/jobs/*", lambda route: route.abort(), times=1)
    bench.click("#sizing button")
    bench.wait_for_selector("text=choices tried")
    bench.click("#job button")
    bench.wait_for_selector("text=stopped before the search was done", timeout=180_000)
    bench.click("text=Back with the text as it was")
    bench.wait_for_selector("#live table")
    assert not bench.locator("text=not saved yet").count()


def test_a_text_of_many_faults_is_told_by_its_first() -> None:
    text = (EXAMPLES / "single-pot.toml").read_text() + "\n" + "\n".join(f'zork{i} = "x"' for i in range(1600))
    with pytest.raises(FileError) as refused:
        with_values(load_document(text), {})
    told = refused.value.errors
    assert len(told) == MOST_ERRORS + 1
    assert "1540 more" in str(told[-1])


def test_a_reader_of_fahrenheit_and_inches_has_them_in_the_designer(bench: Any, pages: str) -> None:
    bench.context.add_cookies([{"name": "nw-shown", "value": "en.degF.imperial.auto", "url": pages}])
    bench.goto(pages + POT)
    bench.wait_for_selector("#live table")
    assert "°C" not in bench.inner_text(".bench form .room") + bench.inner_text("#live")
    assert "69.8\u202f°F" in bench.inner_text(".room")
    # 70 mm of the bell, by the inch of 25.4 mm (NIST Handbook 44, appendix C)
    row = bench.locator('[data-slide="bell.pot.diameter"]')
    assert row.get_attribute("data-other") == "in"
    assert "2.76 in" in bench.inner_text(".slides")


def test_a_wrong_address_is_told_in_the_words_of_the_house(pages: str) -> None:
    for path, status, words in (
        ("/visit/Marigold/abc", 404, "no such page"),
        ("/history?most=x", 422, "a whole number"),
        (f"{POT}?room=60%20degC,%2045%20%25", 422, "5 to 38 degC, 5 to 95 %"),
        (f"{POT}?room=warm", 422, "is no room of the designer"),
    ):
        with pytest.raises(HTTPError) as refused:
            urlopen(Request(pages + path, headers={"accept": "application/json"}), timeout=20)
        said = refused.value.read().decode()
        assert refused.value.code == status
        assert words in said
        assert "Input should" not in said


@pytest.mark.parametrize("told", ["21 degC, 45 %", "21°C 45%", "21 °C,45%", "69.8 degF / 45 %"])
def test_the_rooms_air_is_read_with_or_without_a_comma(told: str) -> None:
    assert air_of(told) == (21.0, 45.0)
    room = read_room(told)
    assert float(room.temperature[0]) == pytest.approx(294.15)


def test_what_is_moved_by_hand_is_called_in_the_readers_language() -> None:
    from datetime import date
    from zoneinfo import ZoneInfo

    from nestwright.web.design_words import slide_words
    from nestwright.web.habitat_text import SLID, TABLES
    from nestwright.web.preferences import Preferences
    from nestwright.web.shown import Shown

    told = slide_words(Shown(Preferences(language="de"), ZoneInfo("UTC"), date(2026, 1, 1)))
    assert {one.replace("_", " ") for one in (*SLID, *TABLES)} <= set(told)
    assert told["diameter"] == "Durchmesser"
    assert told["vent"] == "Öffnung"
