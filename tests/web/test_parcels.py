"""Parcels in a real browser, on a phone: sent, seen, arrived, and what to do first; predicted beside found."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from nestwright.cli import main
from nestwright.web.app import create_app
from nestwright.workshop.folder import create_workshop

WINTER = Path(__file__).parents[2] / "examples/workshop/parcels/winter.toml"


def test_a_parcel_from_dispatch_to_what_to_do_first(phone: Any, served: str, unmet: Any) -> None:
    phone.goto(served + "/parcels")
    assert unmet(phone) == []
    phone.fill("#f-name", "P1 <b>x</b>")
    phone.select_option("#f-colony", "Marigold")
    phone.fill("#f-sent", "2026-01-14T16:00")
    phone.fill("#f-promised", "soon")
    phone.fill("#f-route", "north, night post")
    phone.click("text=Record the parcel")
    # what cannot be is refused, and the entries stay
    assert "promised" in phone.inner_text(".faults")
    assert phone.input_value("#f-route") == "north, night post"
    assert phone.input_value("#f-colony") == "Marigold"
    phone.fill("#f-promised", "24 h")
    phone.click("text=Record the parcel")
    assert phone.inner_text("h1") == "Parcel P1 <b>x</b>"
    assert "under way" in phone.inner_text(".facts")
    phone.click("text=It was seen")
    phone.fill("#f-at", "2026-01-15T05:00")
    phone.fill("#f-place", "depot south")
    phone.click("text=Record the scan")
    assert "depot south" in phone.inner_text("main")
    phone.fill("#f-arrived", "2026-01-19T10:00")
    phone.fill("#f-garden", "0 mL")
    phone.fill("#f-workers", "about 40")
    phone.check("input[value=brown]")
    phone.click("text=Record the arrival")
    assert "2 days late" in phone.inner_text(".facts")
    assert "about 40" in phone.inner_text(".facts")
    main = phone.inner_text("main")
    assert "counts as lost" in main
    assert 'nestwright rescue "Acromyrmex octospinosus" --workers 40' in main
    phone.click(".done button")
    phone.goto(served + "/parcels/1")
    assert unmet(phone) == []
    assert "under way" in phone.inner_text(".facts")
    assert "nestwright parcels" not in phone.inner_text("main")
    phone.goto(served + "/colonies/Marigold")
    phone.click("text=in: 2026-01-14")
    assert phone.inner_text("h1") == "Parcel P1 <b>x</b>"
    phone.goto(served + "/parcels/99")
    assert "is no parcel of this workshop" in phone.inner_text("body")


def test_what_was_predicted_at_dispatch_stands_beside_what_was_found(tmp_path: Path) -> None:
    shop = create_workshop(tmp_path / "shop", "UTC")
    shutil.copy(WINTER, shop.folder / "winter.toml")
    add = ("add", "P7", "--out", "--file", "winter.toml", "--sent", "2026-01-14 16:00")
    for words in (add, ("arrived", "P7", "--at", "2026-01-16 12:00", "--garden", "0 mL", "--workers", "40")):
        with pytest.raises(SystemExit) as left:
            main.run(["parcels", *words, "--workshop", str(shop.folder)])
        assert not left.value.code
    page = TestClient(create_app(shop), base_url="http://127.0.0.1", client=("127.0.0.1", 1))
    one, every = page.get("/parcels/1").text, page.get("/parcels").text
    assert "Predicted at dispatch" in one
    assert "Computed for a dispatch on" not in one
    # the sender is not told what the receiver does first, but where they look for it
    assert "<summary>What the receiver does</summary>" in one
    assert "What to do first" not in one
    told = every.partition("Losses, predicted and found")[2]
    for said in ("too few parcels to say", "was lost", "lived", "predicted (8"):
        assert said in told, said
    german = page.get("/parcels", headers={"accept-language": "de"}).text
    assert "zu wenige Pakete" in german
