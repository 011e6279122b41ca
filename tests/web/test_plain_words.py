"""What a reader stumbled over: a chamber of a design that nobody knows, and a bell that is more than full."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.testclient import TestClient

from nestwright.web.app import create_app
from nestwright.web.pages.today import _colony
from nestwright.web.preferences import Preferences
from nestwright.web.shown import Shown
from nestwright.workshop.changes import act
from nestwright.workshop.database import writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.readings import keep_logger

from .conftest import EXAMPLES, run


def test_a_chamber_of_a_design_that_is_not_known_is_told_as_such(tmp_path: Path) -> None:
    shop = create_workshop(tmp_path / "w", "UTC")
    with writing(shop.engine) as connection:
        keep_logger(act(connection, "logger"), "pot")
    run("colony", "add", "--file", str(EXAMPLES / "colonies" / "marigold.toml"), "--workshop", str(shop.folder))
    run("readings", "place", "pot", "--chamber", "attic", "--colony", "Marigold", "--workshop", str(shop.folder))
    bench = TestClient(create_app(shop), base_url="http://127.0.0.1", client=("127.0.0.1", 1))
    assert "whether there is such a chamber cannot be said" in bench.get("/sensors/pot").text
    run("readings", "place", "pot", "--chamber", "room", "--colony", "Marigold", "--workshop", str(shop.folder))
    assert "whether there is such a chamber" not in bench.get("/sensors/pot").text


@pytest.mark.parametrize(("fill", "over"), [((0.5, 0.9, 1.6), True), ((0.5, 0.7, 0.99), False)])
def test_a_fill_whose_range_goes_over_the_whole_is_explained(fill: tuple[float, ...], over: bool) -> None:
    from zoneinfo import ZoneInfo

    show = Shown(Preferences("en"), ZoneInfo("UTC"), date(2026, 3, 1))
    ahead: Any = SimpleNamespace(at=lambda what, day: fill if what == "fill" else None)
    told: Any = SimpleNamespace(name="Marigold", last=None, ahead=ahead, told=None)
    assert _colony(told, show)["over"] is over


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_words_of_a_full_bell_are_set_in_each_language(language: str) -> None:
    from zoneinfo import ZoneInfo

    from nestwright.web.render import _environment

    show = Shown(Preferences(language), ZoneInfo("UTC"), date(2026, 3, 1))
    row = {"name": "Marigold", "last": None, "days": 3, "fill": "90 (50 to 160) %", "garden": "", "told": None}
    made = _environment(language).get_template("today_colonies.html")
    for over in (True, False):
        assert ("100 %" in made.render(colonies=[row | {"over": over}], show=show)) is over
